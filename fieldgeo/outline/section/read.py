"""`read_section`: from a section file to the outline of a part of the section, measured beside its nominal size."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np
import shapely

from fieldgeo.errors import OutlineError
from fieldgeo.frame import crs_to_lonlat, frame_for, shape_to_lonlat, unwrap_lon_deg
from fieldgeo.outline.files.geojson import plain_name
from fieldgeo.outline.raw import RawPart, Reading
from fieldgeo.outline.section.corners import ENDS, corner_faults, corner_notes, position_faults
from fieldgeo.outline.section.grammar import Description, named_place, parse_description
from fieldgeo.outline.section.source import load_section
from fieldgeo.outline.section.subdivide import pieces_of, with_quarter_corners
from fieldgeo.outline.section.trust import Wanted, section_evidence
from fieldgeo.outline.system import FileSystem, place_notes, system_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from pathlib import Path

    from fieldgeo.frame import FloatArray, Frame
    from fieldgeo.outline.rules import SectionRules
    from fieldgeo.outline.section.source import SectionFile

# Sides that parts have in common are the same to float noise; on this grid they are the same to the last digit.
_GRID_M: Final = 1e-6
_NO_PART: Final = (
    "no part is named: write part: into the file, such as part: W1/2 NW1/4 or part: all, or give it beside"
)


def read_section(path: Path, rules: SectionRules) -> Reading:
    """Return the outline of a part of a section.

    Parameters
    ----------
    path : Path
        Section file, as `outline.section.source` describes it.
    rules : SectionRules
        Which part, and how well the corners are known; both go before what the file says.

    Returns
    -------
    Reading
        Rings in longitude and latitude, with a `SectionReport` in its evidence.

    Raises
    ------
    FileError
        If the file is missing or cannot be read.
    OutlineError
        If the file has faults, the description is no aliquot part, or the corners cannot be those of a section; all
        faults are told at once.
    CrsError
        If the coordinate system is unknown or unfit.
    """
    source = load_section(path)
    texts = source.texts
    text = rules.part or texts.get("part", "")
    place = named_place(texts.get("section", ""))
    named = parse_description(text) if text else Description(faults=(_NO_PART,))
    said = f"part {plain_name(text)!r}: " if text else ""
    faults = [*source.faults, *place.faults, *(said + fault for fault in named.faults), *_disagreements(place, named)]
    lonlat, system = _lonlat(path, source, faults)
    if faults or system is None:
        raise _error(path, faults)
    frame, corners = _in_frame(lonlat)
    faults = corner_faults(corners)
    if faults:
        raise _error(path, faults)
    numbers = named.sections or place.sections
    wanted = Wanted(
        text=text,
        parts=named.parts,
        less=named.less,
        section=texts.get("section", "") or (f"Section {numbers[0]}" if numbers else ""),
        number=numbers[0] if numbers else None,
        corners=corners,
        corners_from=texts.get("corners from", ""),
        accuracy_m=source.accuracy_m if rules.accuracy_m is None else rules.accuracy_m,
        accuracy_from="as the file says" if rules.accuracy_m is None else "as given",
    )
    return Reading(
        name=plain_name(texts.get("name", "") or path.stem),
        parts=_outline(wanted, frame),
        source_crs=system.name,
        evidence=section_evidence(wanted),
        problems=(
            *_notes(source, rules, place),
            *named.notes,
            *place_notes(system, frame),
            *corner_notes(corners),
        ),
    )


def _disagreements(place: Description, named: Description) -> Iterator[str]:
    """Yield where the file and the description, or the description with itself, name different places."""
    for what, seen, again in (
        ("section", place.sections, named.sections),
        ("township", place.townships, named.townships),
        ("range", place.ranges, named.ranges),
    ):
        all_named = list(dict.fromkeys([*seen, *again]))
        if len(all_named) > 1:
            listed = " and ".join(str(each) for each in all_named)
            yield f"{what} {listed} are both named; a file has the corners of one section: give each its own file"


def _lonlat(
    path: Path, source: SectionFile, faults: list[str]
) -> tuple[dict[str, tuple[float, float]], FileSystem | None]:
    """Return longitude and latitude of the corners, and their system; what is wrong with them is put down as faults."""
    missing = [name for name in ENDS if name not in source.corners]
    if missing:
        faults.append(f"corners missing: {', '.join(missing)}; {', '.join(ENDS)} must all be given")
    if missing or source.faults:
        return {}, None
    places = np.array(list(source.corners.values()))
    found = system_of(source.texts.get("crs"), places, is_needed=False, name=str(path))
    east, north = places.T
    if found.system is not None:
        east, north = crs_to_lonlat(east, north, found.system)
    lonlat = dict(zip(source.corners, zip(east.tolist(), north.tolist(), strict=True), strict=True))
    faults.extend(position_faults(lonlat, "longitude and latitude" if found.system is None else plain_name(found.name)))
    return lonlat, found


def _in_frame(lonlat: Mapping[str, tuple[float, float]]) -> tuple[Frame, dict[str, FloatArray]]:
    lon, lat = np.array(list(lonlat.values())).T
    lon = unwrap_lon_deg(lon)
    frame = frame_for(shapely.MultiPoint(np.column_stack([lon, lat])))
    places = np.column_stack(frame.to_frame(lon, lat))
    return frame, dict(zip(lonlat, places, strict=True))


def _outline(wanted: Wanted, frame: Frame) -> tuple[RawPart, ...]:
    """Return the ground of all parts, those that touch joined, less what is left out. [deg]"""
    ring = with_quarter_corners(wanted.corners)
    ground, less = (
        shapely.union_all(
            [shapely.Polygon(piece) for part in parts for piece in pieces_of(ring, part.rectangle)], grid_size=_GRID_M
        )
        for parts in (wanted.parts, wanted.less)
    )
    left = shapely.difference(ground, less, grid_size=_GRID_M)
    # Middles of straight sides, which the quarters have between their corners, are no corners of the outline.
    lonlat = shape_to_lonlat(shapely.orient_polygons(shapely.simplify(left, _GRID_M)), frame)
    polygons = shapely.get_parts(lonlat).tolist()
    return tuple(
        RawPart(
            where=f"part {number} " if len(polygons) > 1 else "",
            rings=tuple(shapely.get_coordinates(ring) for ring in (polygon.exterior, *polygon.interiors)),
        )
        for number, polygon in enumerate(polygons, start=1)
    )


def _notes(source: SectionFile, rules: SectionRules, place: Description) -> Iterator[str]:
    in_file = source.texts.get("part", "")
    if rules.part and in_file and rules.part != in_file:
        yield f"read as {plain_name(rules.part)!r}, as asked; the file says {plain_name(in_file)!r}"
    if source.texts.get("section") and not place.sections:
        yield f"no section number is found in {plain_name(source.texts['section'])!r}"


def _error(path: Path, faults: Sequence[str]) -> OutlineError:
    count = "1 fault" if len(faults) == 1 else f"{len(faults)} faults"
    return OutlineError(f"{path} cannot be used: {count}. Mend the section file and read it again.", faults)
