"""Well-known text: shapes as text, one a line, or as a column of a table of comma-separated values.

Format: OGC 06-103r4, "Simple feature access, part 1: Common architecture", 2011, clause 7. The form SRID=26915;POLYGON
(...) is of common use and of no standard.
"""

from __future__ import annotations

import csv
import re
from typing import TYPE_CHECKING, Any, Final

import shapely
from shapely.errors import GEOSException

from fieldgeo.errors import FileError, OutlineError
from fieldgeo.outline.files.collection import of_layer
from fieldgeo.outline.files.condition import rows_that_meet
from fieldgeo.outline.files.geojson import name_of, plain_name
from fieldgeo.outline.files.kinds import KIND_NAMES, MOST_FEATURES
from fieldgeo.outline.files.layer import Feature, Given, Layer, outline_of
from fieldgeo.outline.raw import RawOutline

if TYPE_CHECKING:
    from fieldgeo.outline.rules import FileRules

_WORDS: Final = (
    "POINT|LINESTRING|POLYGON|MULTI|GEOMETRYCOLLECTION|CIRCULARSTRING|COMPOUNDCURVE|CURVEPOLYGON|TRIANGLE|TIN"
)
_SHAPE: Final = re.compile(rf"\s*(?:SRID\s*=\s*(?P<srid>\d{{1,6}})\s*;)?\s*(?P<wkt>(?:{_WORDS}).*)", re.I | re.S)
_COLUMN: Final = re.compile(r"wkt|geom|geometry|the_geom|wkt_geom|shape", re.IGNORECASE)
_CRS_COLUMN: Final = re.compile(r"crs|srid|epsg", re.IGNORECASE)
_NEXT: Final = re.compile(rf"(?<=\))[;\s]*\n\s*(?=(?:SRID\s*=\s*\d+\s*;\s*)?(?:{_WORDS}))", re.IGNORECASE)
_LONGEST_CELL: Final = 20_000_000


def read_wkt(given: Given, rules: FileRules) -> Layer:
    """Return the features of a text file of shapes, or of a table with a column of shapes.

    Parameters
    ----------
    given : Given
        The file.
    rules : FileRules
        The layer, by the column `layer`, and the condition that choose rows.

    Returns
    -------
    Layer
        Where every row names its layer and one of these is ``outline``, the rows of that. Its coordinate system is what
        a column `crs`, `srid` or `epsg`, or `SRID=`, says; else it must be asked for.

    Raises
    ------
    FileError
        If the file cannot be read.
    OutlineError
        If it is no text in UTF-8, has no shapes, no such layer, the condition cannot be used, or there are too many
        rows.
    """
    text = _text(given)
    is_table = _SHAPE.match(text) is None
    rows = _table_rows(given, text) if is_table else [{"wkt": shape} for shape in _NEXT.split(text.strip())]
    if len(rows) > MOST_FEATURES:
        raise OutlineError(f"{given.name} has {len(rows):,} shapes; {MOST_FEATURES:,} are the most. Cut out some.")
    column = next((name for name in (rows[0] if rows else {}) if _COLUMN.fullmatch(name.strip())), "wkt")
    attributes = [{key: value for key, value in row.items() if key != column} for row in rows]
    if rules.layer is not None and not any("layer" in row for row in attributes):
        raise OutlineError(f"{given.name}: a {KIND_NAMES['wkt']} file has no layers. Leave out --layer.")
    numbers, layers, notes = of_layer([row.get("layer") or None for row in attributes], given, rules.layer)
    if rules.where is not None:
        its = rows_that_meet([_typed(attributes[number]) for number in numbers], rules.where, given.name)
        numbers = [numbers[row] for row in its]
    systems: set[str] = set()
    features = []
    for number in numbers:
        about = attributes[number]
        outline, crs = _outline(rows[number][column], f"feature {number + 1} " if len(rows) > 1 else "", about)
        systems.add(crs or next((_code(value) for key, value in about.items() if _CRS_COLUMN.fullmatch(key)), ""))
        features.append(Feature(number=number + 1, attributes=about, outline=outline))
    systems.discard("")
    faults = (f"it has shapes in several coordinate systems: {', '.join(sorted(systems))}",) if len(systems) > 1 else ()
    return Layer(
        form="wkt",
        features=tuple(features),
        columns=tuple(attributes[0]) if attributes else (),
        crs=next(iter(systems)) if len(systems) == 1 else None,
        needs_crs=not systems,
        layers=layers,
        faults=faults,
        notes=notes,
    )


def _code(value: object) -> str:
    text = plain_name(str(value or ""))
    return f"EPSG:{text}" if text.isdigit() else text


def _text(given: Given) -> str:
    try:
        return given.path.read_bytes().decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise OutlineError(
            f"{given.name} cannot be used: it is no text in UTF-8. Save it as UTF-8.",
            [f"byte {error.start} is not UTF-8"],
        ) from error
    except OSError as error:
        raise FileError(f"{given.name} cannot be read: {error}. Check that it may be opened.") from error


def _table_rows(given: Given, text: str) -> list[dict[str, Any]]:
    header = text.lstrip().partition("\n")[0]
    delimiter = max(",;\t|", key=header.count)
    limit = csv.field_size_limit(_LONGEST_CELL)
    try:
        reader = csv.DictReader(text.splitlines(keepends=True), delimiter=delimiter, strict=True)
        rows = [{str(key).strip(): value for key, value in row.items() if key is not None} for row in reader]
        columns = [str(name).strip() for name in reader.fieldnames or ()]
    except csv.Error as error:
        raise OutlineError(
            f"{given.name} cannot be used: it is no table of separated values. Write it anew.", [f"{error}"]
        ) from error
    finally:
        csv.field_size_limit(limit)
    if not any(_COLUMN.fullmatch(name) for name in columns):
        raise OutlineError(
            f"{given.name} cannot be used: no column holds shapes. Call the one with well-known text wkt or geometry.",
            [f"columns: {', '.join(map(plain_name, columns))}"],
        )
    if not rows:
        raise OutlineError(f"{given.name} cannot be used: it has a heading and no rows.")
    return rows


def _typed(row: dict[str, Any]) -> dict[str, Any]:
    """Return a row with numbers as numbers, but for those that begin with 0: they are codes."""
    typed: dict[str, Any] = {}
    for key, value in row.items():
        text = (value or "").strip() if isinstance(value, str | None) else str(value)
        typed[key] = value if text else None
        if re.fullmatch(r"-?(0|[1-9]\d{0,17})(\.\d+)?", text):
            typed[key] = float(text) if "." in text else int(text)
    return typed


def _outline(value: object, label: str, attributes: dict[str, Any]) -> tuple[RawOutline, str]:
    name = name_of(attributes)
    text = str(value or "").strip().rstrip(";,").strip()
    match = _SHAPE.fullmatch(text)
    if not text:
        return outline_of(None, label=label, name=name), ""
    if match is None:
        return _faulty(label, name, f"is no well-known text: {plain_name(text[:60])!r}"), ""
    crs = f"EPSG:{match['srid']}" if match["srid"] else ""
    try:
        return outline_of(shapely.from_wkt(match["wkt"]), label=label, name=name), crs
    except NotImplementedError:
        return _faulty(label, name, "has curves; draw them as straight sides"), crs
    except GEOSException as error:
        return _faulty(label, name, f"cannot be read: {plain_name(str(error).partition(': ')[2])}"), crs


def _faulty(label: str, name: str, fault: str) -> RawOutline:
    return RawOutline(name=name, parts=(), faults=(f"{label}geometry {fault}",))
