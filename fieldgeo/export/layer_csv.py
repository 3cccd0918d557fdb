"""Layers as one table of comma-separated values, with the shapes as well-known text.

Formats: RFC 4180 for the table, OGC 06-103r4, "Simple feature access - Part 1: Common architecture", 2011, for the text
of the shapes: longitude then latitude, WGS 84, which the column `crs` says by its code.
"""

from __future__ import annotations

import csv
import io
from typing import TYPE_CHECKING

import shapely

from fieldgeo.export.files import PathLike, write_whole
from fieldgeo.export.geojson import DECIMALS, shape_to_places
from fieldgeo.export.kinds import storable
from fieldgeo.frame import LONLAT

if TYPE_CHECKING:
    from fieldgeo.export.kinds import Layers
    from fieldgeo.frame import Frame


def write_layer_csv(layers: Layers, frame: Frame, path: PathLike, *, force: bool) -> None:
    """Write layers to a table, whole or not at all: a row for each shape, a column for each attribute of any layer.

    Parameters
    ----------
    layers : dict of str to list of (shapely.Geometry, dict)
        Shapes in the frame [m] with their attributes.
    frame : Frame
        The plane of the shapes.
    path : str or path
        The file.
    force : bool
        Whether an existing file may be replaced.

    Raises
    ------
    FileError
        If the file exists and `force` is not set, or it cannot be written.
    """
    names = dict.fromkeys(name for members in layers.values() for _, properties in members for name in properties)
    text = io.StringIO()
    writer = csv.DictWriter(text, fieldnames=["layer", *names, "crs", "wkt"], restval="")
    writer.writeheader()
    for layer, members in layers.items():
        for shape, properties in members:
            place = shape_to_places(shape, frame)
            wkt = "" if place is None else shapely.to_wkt(place, rounding_precision=DECIMALS)
            about = {name: storable(value) for name, value in properties.items()}
            writer.writerow({"layer": layer, **about, "crs": LONLAT, "wkt": wkt})
    write_whole(path, text.getvalue(), force=force)
