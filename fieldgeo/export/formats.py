"""Layers written to an open format, chosen by the suffix of the file."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np
import shapely

from fieldgeo.errors import InputError
from fieldgeo.export.geojson import write_geojson

if TYPE_CHECKING:
    from fieldgeo.export.files import PathLike
    from fieldgeo.export.kinds import Kinds, Layers
    from fieldgeo.frame import Frame

SUFFIXES: Final = (".geojson", ".json", ".gpkg", ".kml", ".gpx", ".zip", ".csv")


_DRAWN: Final = ("MultiPolygon", "Polygon", "LineString", "Point")  # kinds of shapes in the order they are drawn


def into_frame(shape: shapely.Geometry, own: Frame, other: Frame) -> shapely.Geometry:
    """Return a shape of one frame in another, corner by corner: shapes of several fields go into one file by way of it.

    Parameters
    ----------
    shape : shapely.Geometry
        In its own frame. [m]
    own, other : Frame
        Its own frame, and the other.
    """
    if own == other:
        return shape
    return shapely.transform(shape, lambda xy: np.column_stack(other.to_frame(*own.to_lonlat(*xy.T))))


def _drawn_order(layers: Layers, kinds: Kinds) -> Layers:
    """Return layers with the outline first, then ground, lines, points.

    Programs that draw a file draw what stands first in it first, below the rest, as papers and web maps do. A GIS
    program that puts the first table on top hides nothing by it: no ground is painted but with hatching.
    """
    order = sorted(layers, key=lambda name: (name != "outline", _DRAWN.index(kinds[name].geometry)))
    return {name: layers[name] for name in order}


def write_layers(layers: Layers, kinds: Kinds, frame: Frame, path: PathLike, *, force: bool = False) -> tuple[str, ...]:
    """Write layers to a file, whole or not at all, and say what its format does not hold.

    Parameters
    ----------
    layers : dict of str to list of (shapely.Geometry, dict)
        Shapes in the frame [m] with their attributes.
    kinds : mapping of str to LayerKind
        What each layer holds. In the file the outline comes first, then layers of ground, of lines, of points.
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
    layers = _drawn_order(layers, kinds)
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
