"""Polygon files of every format: one way in."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from fieldgeo.errors import FileError, OutlineError
from fieldgeo.outline.files.archive import unpacked
from fieldgeo.outline.files.choose import chosen
from fieldgeo.outline.files.collection import read_collection
from fieldgeo.outline.files.kinds import KIND_NAMES, FileKind, largest_bytes
from fieldgeo.outline.files.layer import Given, Layer
from fieldgeo.outline.files.parquet import read_parquet
from fieldgeo.outline.files.vector import read_vector
from fieldgeo.outline.files.wkt import read_wkt
from fieldgeo.outline.rules import FileRules

if TYPE_CHECKING:
    from pathlib import Path

    from fieldgeo.outline.raw import RawFile


def read_file(path: Path, kind: FileKind, rules: FileRules, *, crs: str | None = None) -> RawFile:
    """Return the features of a polygon file that are asked for, as rings of numbers.

    Parameters
    ----------
    path : Path
        The file.
    kind : str
        Its format, told by its content.
    rules : FileRules
        Layer, condition and point that choose features.
    crs : str, optional
        Coordinate system asked for; a point is looked up in it.

    Returns
    -------
    RawFile
        With every fault of form in `faults`, of the file and of each outline; and with `separate` filled where nothing
        was chosen and the features cannot be taken for one field.

    Raises
    ------
    FileError
        If the file is missing, not a plain file, or cannot be read.
    OutlineError
        If it is damaged, too large or not safe; if a layer, a condition or a point finds nothing; if it is not clear
        which layer is meant.
    CrsError
        If a point is given and the coordinate system is missing or unknown.
    """
    layer, given, inside = _found(Given(path=path, name=str(path)), kind, rules, crs)
    return chosen(layer, given, inside, crs)


def read_features(path: Path, kind: FileKind, *, crs: str | None = None) -> Layer:
    """Return all features of a polygon file with their attributes, whatever they are.

    Parameters
    ----------
    path : Path
        The file; one with several layers of polygons is refused.
    kind : str
        Its format, told by its content.
    crs : str, optional
        Coordinate system asked for.

    Raises
    ------
    FileError
        If the file is missing, not a plain file, or cannot be read.
    OutlineError
        If it is damaged, too large or not safe, or it is not clear which layer is meant.
    """
    return _found(Given(path=path, name=str(path)), kind, FileRules(), crs)[0]


def _found(given: Given, kind: FileKind, rules: FileRules, crs: str | None) -> tuple[Layer, Given, FileRules]:
    """Return the layer asked for, the file that it was found in, and what is still to be chosen there."""
    _check_size(given, kind)
    if kind == "zip":
        with unpacked(given, rules.layer) as (path, inner, name, notes):
            # A name in the zip file has chosen already; only a GeoPackage or KML has layers besides.
            is_spent = inner not in ("geopackage", "kml", "geojson") or rules.layer == path.stem
            inside = replace(rules, layer=None) if is_spent else rules
            layer, its, left = _found(Given(path=path, name=f"{given.name}, {name}"), inner, inside, crs)
            return replace(layer, notes=(*notes, *layer.notes)), its, left
    return _layer(given, kind, rules, crs), given, rules


def _layer(given: Given, kind: FileKind, rules: FileRules, crs: str | None) -> Layer:
    if kind == "geojson":
        return read_collection(given, rules)
    if kind in ("geopackage", "shapefile", "flatgeobuf", "kml"):
        return read_vector(given, kind, rules, crs)
    if kind == "wkt":
        return read_wkt(given, rules)
    if rules.layer is not None:
        raise OutlineError(f"{given.name}: a {KIND_NAMES[kind]} file has no layers. Leave out --layer.")
    return read_parquet(given, rules, crs)


def _check_size(given: Given, kind: FileKind) -> None:
    try:
        if not given.path.exists():
            raise FileError(f"{given.name}: there is no such file. Check the name and the folder.")
        if not given.path.is_file():
            raise FileError(f"{given.name} is not a plain file. Give one file of polygons.")
        size = given.path.stat().st_size
    except (OSError, ValueError) as error:
        if isinstance(error, FileError):
            raise
        raise FileError(f"{given.name!r} cannot be read: {error}. Check that it may be opened.") from error
    most = largest_bytes(kind)
    if size > most:
        raise OutlineError(
            f"{given.name} is {size / 1e6:,.0f} MB. A {KIND_NAMES[kind]} file may have {most / 1e6:,.0f} MB at most: "
            "cut out the fields that are wanted."
        )
