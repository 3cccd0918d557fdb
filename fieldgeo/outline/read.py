"""`read_outline` and `read_outlines`: from a file to fields that are checked, mended in the open and measured."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Final, TypeAlias

import numpy as np

from fieldgeo.errors import OutlineError
from fieldgeo.frame import LONLAT, Frame, crs_to_lonlat, parse_crs
from fieldgeo.outline.clean import CleanOutline, clean_outline
from fieldgeo.outline.field import Change, Field
from fieldgeo.outline.files.geojson import plain_name, read_geojson
from fieldgeo.outline.raw import RawFile, RawOutline, RawPart

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    import pyproj

PathLike: TypeAlias = str | os.PathLike[str]

_MOST_FAULTS: Final = 100  # that a message lists
_LONLAT_NAMES: Final = {LONLAT, "EPSG:4326", "CRS84", "WGS84"}


def read_outline(path: PathLike, *, crs: str | None = None) -> Field:
    """Return the one field of a file: all polygons in it are parts of the same field.

    Parameters
    ----------
    path : str or path
        GeoJSON file (RFC 7946): a feature collection, a feature or a bare geometry.
    crs : str, optional
        Coordinate system of the file, such as ``"EPSG:26915"``, if it is not longitude and latitude on WGS 84. Goes
        before a `crs` member in the file.

    Returns
    -------
    Field
        With every mend in `changes` and everything seen and left in `problems`.

    Raises
    ------
    FileError
        If the file is missing or cannot be read.
    OutlineError
        If the outline has faults that cannot be mended without doubt; all of them are in its `problems`.
    CrsError
        If the coordinate system is unknown or unfit.
    """
    file = Path(path)
    raw = read_geojson(file)
    names = {outline.name for outline in raw.outlines}
    name = names.pop() if len(names) == 1 else ""
    whole = RawOutline(
        name=name or plain_name(file.stem),
        parts=tuple(part for outline in raw.outlines for part in outline.parts),
        left_out=tuple(what for outline in raw.outlines for what in outline.left_out),
        changes=tuple(change for outline in raw.outlines for change in outline.changes),
        faults=tuple(fault for outline in raw.outlines for fault in outline.faults),
    )
    notes = (f"{len(raw.outlines)} features read as parts of one field",) if len(raw.outlines) > 1 else ()
    return _fields(file, replace(raw, outlines=(whole,)), crs, notes)[0]


def read_outlines(path: PathLike, *, crs: str | None = None) -> list[Field]:
    """Return every field of a file: one for each feature.

    A field is called after the feature's property `name`, `field` or `id`; without one, after the file and its number.

    Parameters
    ----------
    path : str or path
        GeoJSON file (RFC 7946): a feature collection, a feature or a bare geometry.
    crs : str, optional
        Coordinate system of the file, as for `read_outline`.

    Returns
    -------
    list of Field
        In the order of the file.

    Raises
    ------
    FileError
        If the file is missing or cannot be read.
    OutlineError
        If any of the outlines has faults that cannot be mended without doubt; all faults of all of them are listed.
    CrsError
        If the coordinate system is unknown or unfit.
    """
    file = Path(path)
    raw = read_geojson(file)
    stem = plain_name(file.stem)
    named = tuple(
        replace(outline, name=outline.name or (f"{stem} {number}" if len(raw.outlines) > 1 else stem))
        for number, outline in enumerate(raw.outlines, start=1)
    )
    return _fields(file, replace(raw, outlines=named), crs, ())


def _fields(file: Path, raw: RawFile, crs: str | None, notes: Sequence[str]) -> list[Field]:
    source_crs = crs or raw.crs or LONLAT
    system = None if source_crs.upper() in _LONLAT_NAMES else parse_crs(source_crs)
    faults = list(raw.faults)
    fields = []
    for outline in raw.outlines:
        cleaned = clean_outline(_to_lonlat(outline.parts, system)) if outline.parts else CleanOutline()
        found = [*outline.faults, *cleaned.faults]
        if cleaned.shape is None or cleaned.frame is None or found:
            faults.extend([*found, *outline.left_out])
            continue
        left_out = [Change(what=f"{what}; left out", area_change_m2=0.0) for what in outline.left_out]
        field = Field(
            name=outline.name,
            shape=cleaned.shape,
            frame=cleaned.frame,
            source_crs=source_crs,
            changes=(*left_out, *outline.changes, *cleaned.changes),
            problems=(*notes, *_system_notes(raw, crs, system, cleaned.frame), *cleaned.notes),
        )
        fields.append(field)
    if faults:
        raise _outline_error(file, faults)
    return fields


def _outline_error(file: Path, faults: Sequence[str]) -> OutlineError:
    count = "1 fault" if len(faults) == 1 else f"{len(faults)} faults"
    more = len(faults) - _MOST_FAULTS
    told = [*faults[:_MOST_FAULTS], f"and {more} more faults"] if more > 0 else faults
    return OutlineError(f"{file} cannot be used: {count}. Mend the outline where it was drawn and read it again.", told)


def _to_lonlat(parts: Sequence[RawPart], system: pyproj.CRS | None) -> Sequence[RawPart]:
    if system is None:
        return parts
    rings = [ring for part in parts for ring in part.rings]
    east, north = np.concatenate(rings).T
    lonlat = np.column_stack(crs_to_lonlat(east, north, system))
    turned = iter(np.split(lonlat, np.cumsum([len(ring) for ring in rings])[:-1]))
    return tuple(RawPart(where=part.where, rings=tuple(next(turned) for _ in part.rings)) for part in parts)


def _system_notes(raw: RawFile, crs: str | None, system: pyproj.CRS | None, frame: Frame) -> Iterator[str]:
    if crs and raw.crs and crs.upper() != raw.crs:
        yield f"read as {crs}, as asked, although its crs member says {raw.crs}"
    elif raw.crs and system is not None:
        yield f"its crs member was followed: {raw.crs} ({system.name}); RFC 7946 knows longitude and latitude only"
    if system is None:
        return
    datum = system.geodetic_crs.datum if system.geodetic_crs else None
    if datum is not None and not datum.name.startswith("World Geodetic System 1984"):
        yield f"its datum is {datum.name}, not WGS 84: places may be off by some metres, sizes are not"
    area = system.area_of_use
    if area is not None and not _is_in(area.bounds, frame):
        yield f"it lies outside the area that {system.name} is made for: check the coordinate system"


def _is_in(bounds: tuple[float, float, float, float], frame: Frame) -> bool:
    west, south, east, north = bounds
    in_lon = west <= frame.lon_deg <= east if west <= east else frame.lon_deg >= west or frame.lon_deg <= east
    return in_lon and south <= frame.lat_deg <= north
