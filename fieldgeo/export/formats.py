"""Layers written to an open format, chosen by the suffix of the file."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Final

from fieldgeo.errors import InputError
from fieldgeo.export.geojson import write_geojson

if TYPE_CHECKING:
    from fieldgeo.export.files import PathLike
    from fieldgeo.export.kinds import Kinds, Layers
    from fieldgeo.frame import Frame

SUFFIXES: Final = (".geojson", ".json", ".gpkg", ".kml", ".gpx", ".zip", ".csv")


def write_layers(layers: Layers, kinds: Kinds, frame: Frame, path: PathLike, *, force: bool = False) -> tuple[str, ...]:
    """Write layers to a file, whole or not at all, and say what its format does not hold.

    Parameters
    ----------
    layers : dict of str to list of (shapely.Geometry, dict)
        Shapes in the frame [m] with their attributes.
    kinds : mapping of str to LayerKind
        What each layer holds.
    frame : Frame
        The plane of the shapes.
    path : str or path
        ``.geojson`` or ``.json``: one feature collection, each feature with the name of its layer in the property
        `layer`. ``.gpkg``: a GeoPackage with a table for each layer and its style. ``.kml``: a folder for each layer.
        ``.gpx``: routes, tracks and waypoints. ``.zip``: a shapefile for each layer. ``.csv``: a table with the shapes
        as well-known text. All in longitude and latitude, WGS 84.
    force : bool
        Whether an existing file may be replaced.

    Returns
    -------
    tuple of str
        What the format cannot hold and how it was dealt with.

    Raises
    ------
    InputError
        If the suffix is of another format.
    FileError
        If the file exists and `force` is not set, or it cannot be written.
    """
    suffix = Path(path).suffix.lower()
    if suffix == ".gpkg":
        from fieldgeo.export.geopackage import write_geopackage

        write_geopackage(layers, kinds, frame, path, force=force)
    elif suffix == ".kml":
        from fieldgeo.export.kml import write_kml

        write_kml(layers, frame, path, force=force)
    elif suffix == ".gpx":
        from fieldgeo.export.gpx import write_gpx

        return write_gpx(layers, frame, path, force=force)
    elif suffix == ".zip":
        from fieldgeo.export.shapefile import write_shapefiles

        return write_shapefiles(layers, kinds, frame, path, force=force)
    elif suffix == ".csv":
        from fieldgeo.export.layer_csv import write_layer_csv

        write_layer_csv(layers, frame, path, force=force)
    elif suffix in {".geojson", ".json"}:
        features = [
            (shape, {"layer": layer} | properties) for layer, members in layers.items() for shape, properties in members
        ]
        write_geojson(path, features, frame=frame, force=force)
    else:
        raise InputError(
            f"{path}: the suffix {Path(path).suffix!r} tells no format that can be written. "
            f"Give a name that ends in {', '.join(SUFFIXES)}."
        )
    return ()
