"""One line from a vector file, in longitude and latitude."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, TypeAlias

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from fieldgeo.errors import FileError, OutlineError
from fieldgeo.frame import crs_to_lonlat
from fieldgeo.outline.files.geojson import crs_of, plain_name
from fieldgeo.outline.files.kinds import largest_bytes
from fieldgeo.outline.files.layer import Given
from fieldgeo.outline.files.opening import opened, quiet
from fieldgeo.outline.files.vector import QUERY, layers_in, said_system
from fieldgeo.outline.sniff import FORM_NAMES, sniff
from fieldgeo.outline.system import system_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fieldgeo.frame import FloatArray
    from fieldgeo.outline.files.kinds import FileKind

# Corners of a line, own choice: ten times what a day of driving at a fix a second leaves.
MOST_POINTS: Final = 500_000
_VECTOR: Final[tuple[FileKind, ...]] = ("geopackage", "shapefile", "flatgeobuf", "kml")
_LINES: Final = (shapely.GeometryType.LINESTRING, shapely.GeometryType.MULTILINESTRING)
_SAYS: Final = "Give a file with one line in it: GeoJSON, a GeoPackage, a shapefile, FlatGeobuf, KML or well-known text"


def read_line(path: str | Path, *, crs: str | None = None, option: str = "--follow-crs") -> FloatArray:
    """Return the one line that a file holds, in longitude and latitude on WGS 84, shape (K, 2). [deg]

    Parameters
    ----------
    path : str or path
        GeoJSON, GeoPackage, shapefile, FlatGeobuf, KML or well-known text. Other shapes in it are left out.
    crs : str, optional
        Its coordinate system, if the file names none or a wrong one.
    option : str
        What a user says that with, for messages.

    Raises
    ------
    FileError
        If the file is missing or cannot be read.
    OutlineError
        If it is of another kind, is damaged, or has no line or several.
    CrsError
        If its coordinate system is missing, unknown or unfit.
    """
    source = sniff(path)
    given = Given(path=source.path, name=str(source.path))
    if source.form == "geojson":
        shapes, said, is_needed = _of_geojson(given)
    elif source.form == "wkt":
        shapes, said, is_needed = _of_text(given)
    elif source.form in _VECTOR:
        shapes, said, is_needed = _of_vector(given, source.form)
    else:
        raise OutlineError(f"{given.name} cannot be used: it is {FORM_NAMES[source.form]}. {_SAYS}.")
    line = _one_line(shapes, given)
    found = system_of(crs or said, line, is_needed=is_needed and crs is None, name=given.name, option=option)
    if found.system is None:
        return line
    return np.column_stack(crs_to_lonlat(line[:, 0], line[:, 1], found.system))


_Found: TypeAlias = tuple[list[BaseGeometry], str | None, bool]


def _checked_text(given: Given, kind: FileKind) -> str:
    try:
        if given.path.stat().st_size > largest_bytes(kind):
            raise OutlineError(f"{given.name} is larger than {largest_bytes(kind) / 1e6:,.0f} MB. {_SAYS}.")
        return given.path.read_bytes().decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise OutlineError(f"{given.name} cannot be used: it is no text in UTF-8. {_SAYS}.") from error
    except OSError as error:
        raise FileError(f"{given.name} cannot be read: {error}. Check that it may be opened.") from error


def _of_geojson(given: Given) -> _Found:
    text = _checked_text(given, "geojson")
    try:
        document = json.loads(text)
        shapes = [shapely.from_geojson(json.dumps(each)) for each in _geometries(document)]
    except (ValueError, RecursionError, MemoryError, shapely.errors.GEOSException) as error:
        raise OutlineError(
            f"{given.name} cannot be used: it is no GeoJSON that can be read. {_SAYS}.", [plain_name(str(error))]
        ) from error
    faults: list[str] = []
    said = crs_of(document, faults) if isinstance(document, dict) else None
    if faults:
        raise OutlineError(f"{given.name} cannot be used. {_SAYS}.", faults)
    return shapes, said, False


def _geometries(document: Any) -> Iterator[dict[str, Any]]:
    """Yield the lines among the shapes of a document, whatever they stand in."""
    if not isinstance(document, dict):
        return
    for key in ("features", "geometries"):
        members = document.get(key)
        if isinstance(members, list):
            for member in members:
                yield from _geometries(member)
    yield from _geometries(document.get("geometry"))
    if document.get("type") in ("LineString", "MultiLineString"):
        yield document


def _of_text(given: Given) -> _Found:
    text = _checked_text(given, "wkt").strip().strip('"')
    head, _, rest = text.partition(";")
    said = f"EPSG:{head[5:].strip()}" if head.upper().startswith("SRID=") else None
    try:
        return [shapely.from_wkt(rest if said else text)], said, said is None
    except shapely.errors.GEOSException as error:
        raise OutlineError(
            f"{given.name} cannot be used: it is no well-known text of one shape. {_SAYS}.", [plain_name(str(error))]
        ) from error


def _of_vector(given: Given, kind: FileKind) -> _Found:
    from pyogrio.raw import read

    shapes: list[BaseGeometry] = []
    said: str | None = None
    is_needed = False
    with opened(given, kind) as link, quiet(given, link):
        for layer, shape_kind in layers_in(link, kind):
            if shape_kind in (None, QUERY):
                continue
            meta, _, lines, _ = read(str(link), layer=layer, columns=[], force_2d=True, max_features=1000)
            found = [shapely.from_wkb(line) for line in lines if line is not None]
            if any(shapely.get_type_id(shape) in _LINES for shape in found):
                shapes += found
                said, is_needed = said_system(meta["crs"], kind, given.path)
    return shapes, said, is_needed


def _one_line(shapes: list[BaseGeometry], given: Given) -> FloatArray:
    parts = [
        part
        for shape in shapes
        if shape is not None and shapely.get_type_id(shape) in _LINES
        for part in shapely.get_parts(shape)
        if not part.is_empty
    ]
    if len(parts) != 1:
        seen = f"it has {len(parts):,} lines" if parts else "there is no line in it"
        raise OutlineError(f"{given.name} cannot be used: {seen}. {_SAYS}.")
    line = np.asarray(shapely.get_coordinates(parts[0]))
    if len(line) > MOST_POINTS or not np.isfinite(line).all():
        raise OutlineError(
            f"{given.name} cannot be used: its line has {len(line):,} points. It must have {MOST_POINTS:,} at most, "
            "all of them numbers."
        )
    return line
