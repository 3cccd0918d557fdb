"""GeoJSON in: from a file to rings of numbers, every fault of form noted, nothing guessed.

Format: RFC 7946, "The GeoJSON Format", IETF, August 2016. What older files do is met with a note: a `crs` member is
honoured (section 4 has done away with it), ring winding may be either way (section 3.1.6), heights are left out.
"""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from itertools import chain
from math import isfinite
from typing import TYPE_CHECKING, Any, Final, TypeAlias

import numpy as np

from fieldgeo.errors import FileError, OutlineError
from fieldgeo.outline.field import Change
from fieldgeo.outline.raw import RawOutline, RawPart

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from pathlib import Path

_FAULTS_PER_RING: Final = 3
_NAME_KEYS: Final = ("name", "field", "id")
_LONGEST_NAME: Final = 200
_AUTHORITY_CODE: Final = re.compile(r"(?:.*[:/])?(?P<authority>[A-Za-z]+)(?:[:/][\w.]*)?[:/](?P<code>[A-Za-z0-9]+)")

JsonObject: TypeAlias = dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Document:
    """A GeoJSON document taken apart: one outline for each feature, with its properties beside it."""

    outlines: tuple[RawOutline, ...]
    properties: tuple[JsonObject, ...]
    crs: str | None  # what an old `crs` member says
    faults: tuple[str, ...] = ()


def read_geojson(path: Path) -> Document:
    """Return the polygons of a GeoJSON file, feature by feature.

    Parameters
    ----------
    path : Path
        The file.

    Returns
    -------
    Document
        With every fault of form in `faults`, of the file and of each outline.

    Raises
    ------
    FileError
        If the file cannot be read.
    OutlineError
        If it is not JSON or not GeoJSON.
    """
    document = _load(path)
    kind = document.get("type") if isinstance(document, dict) else None
    if not isinstance(document, dict) or not isinstance(kind, str) or kind not in _KINDS:
        seen = f"its type is {kind!r}" if kind is not None else "it has no type"
        raise OutlineError(
            f"{path} cannot be used: it is JSON but not GeoJSON. Give a GeoJSON file (RFC 7946).",
            [f"{seen}; the type must be one of {', '.join(_KINDS)}"],
        )
    faults: list[str] = []
    crs = crs_of(document, faults)
    features = _features(document, faults)
    outlines = tuple(
        _outline(feature, label=f"feature {number} " if len(features) > 1 else "", top=feature is document)
        for number, feature in enumerate(features, start=1)
    )
    return Document(outlines=outlines, properties=tuple(map(_properties, features)), crs=crs, faults=tuple(faults))


def plain_name(text: str) -> str:
    """Return a name fit to print: one line, no control characters, at most 200 characters.

    Parameters
    ----------
    text : str
        A name from a file.

    Returns
    -------
    str
        The name; what cannot be printed is replaced by U+FFFD.
    """
    return "".join(letter if letter.isprintable() else "\ufffd" for letter in text.strip()[:_LONGEST_NAME])


def name_of(attributes: Mapping[str, Any]) -> str:
    """Return what a feature is called: its `name`, `field` or `id`, in any case; "" without one.

    Parameters
    ----------
    attributes : mapping
        Attributes of the feature.
    """
    by_key = {key.lower(): value for key, value in attributes.items()}
    for key in _NAME_KEYS:
        value = by_key.get(key)
        is_plain = isinstance(value, str | int | float) and not isinstance(value, bool) and value == value  # noqa: PLR0124
        if is_plain and str(value).strip():
            return plain_name(str(value))
    return ""


_GEOMETRIES: Final = (
    "Point",
    "MultiPoint",
    "LineString",
    "MultiLineString",
    "Polygon",
    "MultiPolygon",
    "GeometryCollection",
)
_KINDS: Final = ("FeatureCollection", "Feature", *_GEOMETRIES)


def _load(path: Path) -> Any:
    try:
        content = path.read_bytes()
    except OSError as error:
        raise FileError(f"{path} cannot be read: {error}. Check that it may be opened.") from error
    try:
        return json.loads(content.decode("utf-8-sig"))
    except UnicodeDecodeError as error:
        fault = f"byte {error.start} is not UTF-8 text"
    except json.JSONDecodeError as error:
        fault = f"line {error.lineno}, column {error.colno}: {error.msg}"
    except RecursionError:
        fault = "its brackets are nested too deeply"
    except (ValueError, MemoryError) as error:
        fault = f"it cannot be parsed: {error or 'too little memory'}"
    raise OutlineError(f"{path} cannot be used: it is not JSON. Give a GeoJSON file (RFC 7946).", [fault])


def crs_of(document: JsonObject, faults: list[str]) -> str | None:
    """Return what an old `crs` member of a document says, as a code; what it says amiss is added to the faults.

    Parameters
    ----------
    document : dict
        The document.
    faults : list of str
        Where faults are added.
    """
    member = document.get("crs")
    if member is None:
        return None
    properties = member.get("properties") if isinstance(member, dict) else None
    name = properties.get("name") if isinstance(properties, dict) else None
    # Only authority codes are followed: a file must not be able to make the projection library open other files.
    match = _AUTHORITY_CODE.fullmatch(name) if isinstance(name, str) and len(name) < _LONGEST_NAME else None
    if match is None:
        faults.append(f"its crs member names no system: {_short(member)}; remove it or give a code such as EPSG:26915")
        return None
    return f"{match['authority'].upper()}:{match['code'].upper()}"


def _features(document: JsonObject, faults: list[str]) -> list[JsonObject]:
    if document["type"] != "FeatureCollection":
        return [document]
    features = document.get("features")
    if not isinstance(features, list):
        faults.append("its member 'features' is not a list")
        return []
    if not features:
        faults.append("the collection is empty: there is no feature in it")
    for number, feature in enumerate(features, start=1):
        if not isinstance(feature, dict) or feature.get("type") != "Feature":
            faults.append(f"feature {number} is not a Feature: {_short(feature)}")
    return [feature for feature in features if isinstance(feature, dict) and feature.get("type") == "Feature"]


def _outline(feature: JsonObject, *, label: str, top: bool) -> RawOutline:
    faults: list[str] = []
    parts: list[RawPart] = []
    left_out: list[str] = []
    heights = 0
    geometry = feature.get("geometry") if feature["type"] == "Feature" else feature
    if not top and feature.get("crs") is not None:
        faults.append(f"{label}has a coordinate system of its own; one file must have one system")
    polygons = list(_polygons(geometry, label, left_out, faults))
    for number, polygon in enumerate(polygons, start=1):
        where = f"{label}part {number} " if len(polygons) > 1 else label
        part, count = _part(polygon, where, faults)
        heights += count
        if part is not None:
            parts.append(part)
    if not polygons and not left_out and not faults:
        left_out.append(f"{label}geometry has no polygon in it")
    what = f"{label}heights of {heights} points left out"
    return RawOutline(
        name=name_of(_properties(feature)),
        parts=tuple(parts),
        left_out=tuple(left_out),
        changes=(Change(what=what, area_change_m2=0.0),) if heights else (),
        faults=tuple(faults),
    )


def _polygons(geometry: object, label: str, left_out: list[str], faults: list[str]) -> Iterator[object]:
    waiting = [geometry]
    while waiting:
        shape = waiting.pop()
        if shape is None:
            left_out.append(f"{label}has no geometry (null); a polygon is needed")
            continue
        kind = shape.get("type") if isinstance(shape, dict) else None
        if not isinstance(shape, dict) or kind not in _GEOMETRIES:
            faults.append(f"{label}geometry is not a GeoJSON geometry: {_short(shape)}")
            continue
        members = shape.get("geometries" if kind == "GeometryCollection" else "coordinates")
        if not isinstance(members, list):
            faults.append(f"{label}geometry of type {kind} has no list of coordinates")
        elif kind == "GeometryCollection":
            waiting.extend(reversed(members))
        elif kind not in {"Polygon", "MultiPolygon"}:
            left_out.append(f"{label}geometry is a {kind}; a Polygon or MultiPolygon is needed")
        elif not members:
            left_out.append(f"{label}geometry is an empty {kind}; a polygon is needed")
        else:
            yield from members if kind == "MultiPolygon" else [members]


def _part(polygon: object, where: str, faults: list[str]) -> tuple[RawPart | None, int]:
    """Return the part, or None when a ring has a fault, and the number of points with a height."""
    if not isinstance(polygon, list) or not polygon:
        faults.append(f"{where}polygon is not a list of rings: {_short(polygon)}")
        return None, 0
    rings = []
    heights = 0
    for number, ring in enumerate(polygon):
        ring_faults = list(_ring_faults(ring))
        label = f"{where}{ring_label(number)}"
        faults.extend(f"{label}: {fault}" for fault in ring_faults[:_FAULTS_PER_RING])
        if len(ring_faults) > _FAULTS_PER_RING:
            faults.append(f"{label}: and {len(ring_faults) - _FAULTS_PER_RING} more points like that")
        if not ring_faults:
            rings.append(np.array([point[:2] for point in ring], dtype=np.float64))
            heights += sum(len(point) > 2 for point in ring)
    return (RawPart(where=where, rings=tuple(rings)) if len(rings) == len(polygon) else None), heights


def ring_label(number: int) -> str:
    """Return what messages call a ring of a polygon: 0 is the outer ring, then the holes count from 1."""
    return f"hole {number}" if number else "outer ring"


def _ring_faults(ring: object) -> Iterator[str]:
    if not isinstance(ring, list):
        yield f"is not a list of points: {_short(ring)}"
        return
    if not ring:
        yield "has no points"
        return
    if all(type(point) is list and len(point) >= 2 for point in ring) and all(
        map(_is_number, chain.from_iterable(ring))
    ):
        return
    for number, point in enumerate(ring, start=1):
        if not isinstance(point, list) or len(point) < 2:
            yield f"point {number} is not a pair of numbers: {_short(point)}"
        elif not all(map(_is_number, point)):
            yield f"point {number} must be finite numbers: {_short(point)}"


def _is_number(value: object) -> bool:
    # Whole numbers too large for a float would raise later; true and false are whole numbers to Python.
    if type(value) is float:
        return isfinite(value)
    return type(value) is int and abs(value) < 1e300


def _properties(feature: JsonObject) -> JsonObject:
    properties = feature.get("properties")
    return properties if isinstance(properties, dict) else {}


def _short(value: object) -> str:
    """Return what messages show of a value: itself when it is small, else what it is."""
    if isinstance(value, dict):
        return f"an object with {len(value)} members" if value else "an empty object"
    if isinstance(value, list) and (len(value) > 4 or any(isinstance(item, list | dict) for item in value)):
        return f"a list of {len(value)}"
    text = plain_name(repr(value))
    return text if len(text) <= 60 else f"{text[:57]}..."
