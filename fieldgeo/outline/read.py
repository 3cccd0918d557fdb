"""`read_outline` and `read_outlines`: from a source to fields that are checked, mended in the open and measured."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, TypeAlias, cast

import numpy as np

from fieldgeo.errors import CrsError, OutlineError
from fieldgeo.frame import crs_to_lonlat
from fieldgeo.outline.clean import CleanOutline, clean_outline
from fieldgeo.outline.evidence import Evidence, SourceKind
from fieldgeo.outline.field import Change, Field
from fieldgeo.outline.files.geojson import plain_name
from fieldgeo.outline.files.read import read_file
from fieldgeo.outline.raw import RawFile, RawOutline, RawPart, Reading
from fieldgeo.outline.rules import DeedRules, FileRules, Rules, SectionRules, WalkRules
from fieldgeo.outline.sniff import Source, sniff
from fieldgeo.outline.system import file_system, system_notes
from fieldgeo.outline.uncertainty import SURE_95, independent_area_sd_m2

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    import pyproj
    import shapely

    from fieldgeo.outline.files.kinds import FileKind

PathLike: TypeAlias = str | os.PathLike[str]
Progress: TypeAlias = "Callable[[float], None]"

KIND_OF_RULES: Final[dict[type[Any], SourceKind]] = {
    FileRules: "file",
    WalkRules: "walk",
    DeedRules: "deed",
    SectionRules: "section",
}
_MOST_NAMES: Final = 5  # that a note lists
_MOST_FAULTS: Final = 100  # that a message lists


def read_outline(
    path: PathLike, *, crs: str | None = None, rules: Rules | None = None, progress: Progress | None = None
) -> Field:
    """Return the one field of a source: a file of polygons, a walk, a deed or a section description.

    What it is is told by its content. All polygons that are read from a file are parts of the same field.

    Parameters
    ----------
    path : str or path
        The source: GeoJSON, GeoPackage, shapefile (also zipped), FlatGeobuf, KML, GeoParquet or well-known text; a GPX
        track, an NMEA 0183 log or a table of positions; the calls of a deed; the corners of a section.
    crs : str, optional
        Coordinate system of a file of polygons, such as ``"EPSG:26915"`` or ``"Illinois East"``, if it is not
        longitude and latitude on WGS 84. Goes before what the file says.
    rules : FileRules, WalkRules, DeedRules or SectionRules, optional
        How it is read; the source is then taken for one of that kind.
    progress : callable, optional
        Called with the share of a walk that has been read, from 0 to 1.

    Returns
    -------
    Field
        With every mend in `changes`, everything seen and left in `problems`, and in `evidence` how far it can be
        trusted.

    Raises
    ------
    FileError
        If the file is missing or cannot be read.
    OutlineError
        If the source is of no known kind or of another than `rules`, or the outline has faults that cannot be mended
        without doubt; all of them are in its `problems`.
    CrsError
        If the coordinate system is missing, unknown or unfit, or is given for a source that has its own.
    """
    source = sniff(path, kind=None if rules is None else KIND_OF_RULES[type(rules)])
    if source.kind != "file":
        return _read_other(source, crs, rules, progress)
    chosen = rules if isinstance(rules, FileRules) else FileRules()
    raw = read_file(source.path, cast("FileKind", source.form), chosen, crs=crs)
    if raw.separate:
        raise OutlineError(f"{source.path}: it is not clear which of its features is the field. Choose.", raw.separate)
    names = {outline.name for outline in raw.outlines}
    name = names.pop() if len(names) == 1 else ""
    whole = RawOutline(
        name=name or plain_name(source.path.stem),
        parts=tuple(part for outline in raw.outlines for part in outline.parts),
        left_out=tuple(what for outline in raw.outlines for what in outline.left_out),
        changes=tuple(change for outline in raw.outlines for change in outline.changes),
        problems=tuple(problem for outline in raw.outlines for problem in outline.problems),
        faults=tuple(fault for outline in raw.outlines for fault in outline.faults),
        about=tuple(dict.fromkeys(fact for outline in raw.outlines for fact in outline.about)),
    )
    notes = _joined_notes(raw)
    return _fields(source.path, replace(raw, outlines=(whole,)), crs, chosen, notes)[0]


def _joined_notes(raw: RawFile) -> tuple[str, ...]:
    names = list(dict.fromkeys(outline.name for outline in raw.outlines if outline.name))
    if len(raw.outlines) < 2:
        return ()
    differ = f", although their names differ: {', '.join(names[:_MOST_NAMES])}" if len(names) > 1 else ""
    return (f"{len(raw.outlines)} features read as parts of one field{differ}",)


def read_outlines(path: PathLike, *, crs: str | None = None, rules: Rules | None = None) -> list[Field]:
    """Return every field of a source: one for each feature of a file of polygons, else one.

    A field is called after the feature's property `name`, `field` or `id`; without one, after the file and its number.

    Parameters
    ----------
    path : str or path
        The source, as for `read_outline`.
    crs : str, optional
        Coordinate system of the file, as for `read_outline`.
    rules : FileRules, WalkRules, DeedRules or SectionRules, optional
        How it is read, as for `read_outline`.

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
        If the coordinate system is missing, unknown or unfit, or is given for a source that has its own.
    """
    source = sniff(path, kind=None if rules is None else KIND_OF_RULES[type(rules)])
    if source.kind != "file":
        return [_read_other(source, crs, rules, None)]
    chosen = rules if isinstance(rules, FileRules) else FileRules()
    raw = read_file(source.path, cast("FileKind", source.form), chosen, crs=crs)
    stem = plain_name(source.path.stem)
    named = tuple(
        replace(outline, name=outline.name or (f"{stem} {number}" if len(raw.outlines) > 1 else stem))
        for number, outline in enumerate(raw.outlines, start=1)
    )
    return _fields(source.path, replace(raw, outlines=named), crs, chosen, ())


def _read_other(source: Source, crs: str | None, rules: Rules | None, progress: Progress | None) -> Field:
    """Return the field of a walk, a deed or a section description."""
    if crs is not None:
        raise CrsError(
            f"{source.path}: got the coordinate system {crs!r} for a {source.kind}. It goes with a file of polygons; "
            "a walk is in longitude and latitude, a deed and a section name their own."
        )
    reading = _reading(source, rules, progress)
    cleaned = clean_outline([_wound(part) for part in reading.parts])
    if cleaned.shape is None or cleaned.frame is None or cleaned.faults:
        raise _outline_error(source.path, cleaned.faults)
    return Field(
        name=reading.name or plain_name(source.path.stem),
        shape=cleaned.shape,
        frame=cleaned.frame,
        source_crs=reading.source_crs,
        changes=(*reading.changes, *cleaned.changes),
        problems=(*reading.problems, *cleaned.notes),
        evidence=reading.evidence,
    )


def _wound(part: RawPart) -> RawPart:
    """Return a part with outer ring counter-clockwise and holes clockwise: a walk or a deed may go either way."""
    rings = []
    for number, ring in enumerate(part.rings):
        x, y = (ring - ring[0]).T
        is_ccw = float((x[:-1] * y[1:] - x[1:] * y[:-1]).sum()) > 0
        rings.append(ring if is_ccw == (number == 0) else ring[::-1])
    return replace(part, rings=tuple(rings))


def _reading(source: Source, rules: Rules | None, progress: Progress | None) -> Reading:
    # Readers load libraries of their own; a file of polygons must not wait for them.
    if source.form in ("gpx", "nmea", "csv"):
        from fieldgeo.outline.walk.read import read_walk

        walk_rules = rules if isinstance(rules, WalkRules) else WalkRules()
        return read_walk(source.path, source.form, walk_rules, progress=progress)
    if source.form == "calls":
        from fieldgeo.outline.deed.read import read_deed

        return read_deed(source.path, rules if isinstance(rules, DeedRules) else DeedRules())
    from fieldgeo.outline.section.read import read_section

    return read_section(source.path, rules if isinstance(rules, SectionRules) else SectionRules())


def _fields(file: Path, raw: RawFile, crs: str | None, rules: FileRules, notes: Sequence[str]) -> list[Field]:
    found = file_system(raw, crs, str(file))
    faults = list(raw.faults)
    fields = []
    for outline in raw.outlines:
        cleaned = clean_outline(_to_lonlat(outline.parts, found.system)) if outline.parts else CleanOutline()
        wrong = [*outline.faults, *cleaned.faults]
        if cleaned.shape is None or cleaned.frame is None or wrong:
            faults.extend([*wrong, *outline.left_out])
            continue
        told = system_notes(raw, crs, found, cleaned.frame)
        left_out = [Change(what=f"{what}; left out", area_change_m2=0.0) for what in outline.left_out]
        field = Field(
            name=outline.name,
            shape=cleaned.shape,
            frame=cleaned.frame,
            source_crs=found.name,
            changes=(*left_out, *outline.changes, *cleaned.changes),
            problems=(*raw.notes, *notes, *outline.problems, *told, *cleaned.notes),
            evidence=replace(_file_evidence(cleaned.shape, rules), weak_points=outline.about),
        )
        fields.append(field)
    if faults:
        raise _outline_error(file, faults)
    return fields


def _file_evidence(shape: shapely.MultiPolygon, rules: FileRules) -> Evidence:
    if rules.accuracy_m is None:
        return Evidence(kind="file", uncertainty_from="the file does not say it of its corners; give an accuracy")
    return Evidence(
        kind="file",
        area_uncertainty_m2=SURE_95 * independent_area_sd_m2(shape, accuracy_m=rules.accuracy_m),
        uncertainty_from=f"every corner off by itself, standard error {rules.accuracy_m:g} m along each axis, as given",
    )


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
