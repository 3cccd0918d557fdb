"""From rings in longitude and latitude to one valid shape in a frame: faults listed all at once, mends told.

What is mended is what leaves no doubt: rings that are not closed, repeated points, spikes thinner than 1 cm, winding,
slivers, and crossings or overlaps of less than 1 m2 (rounding crumbs). Everything larger is a fault, because only the
person who knows the field can say which ground was meant.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, TypeAlias

import numpy as np
import shapely

from fieldgeo.frame import LATITUDE_LIMIT_DEG, FloatArray, Frame, bend_long_edges, frame_for, unwrap_lon_deg
from fieldgeo.outline.field import Change
from fieldgeo.outline.files.geojson import ring_label
from fieldgeo.outline.raw import RawPart
from fieldgeo.outline.rings import SAME_POINT_M, clean_ring, crossings_m, place, places, touching_pairs

if TYPE_CHECKING:
    from collections.abc import Sequence

Ground: TypeAlias = shapely.Polygon | shapely.MultiPolygon

CRUMB_M2: Final = 1.0  # most that a mend of crossing or overlapping ground may change; common practice, no source
MOST_CROSSINGS: Final = 1000  # of one ring that are worth mending
MOST_OVERLAPS: Final = 20  # that are told
SLIVER_WIDTH_M: Final = 0.1  # thinner parts and holes are drawn by mistake; common practice, no source
NARROW_GAP_M: Final = 1.0  # between parts, worth a word; common practice, no source
SMALLEST_HOLE_M2: Final = 0.01  # less than any pole; common practice, no source
SMALLEST_FIELD_M2: Final = 100.0  # a garden bed; common practice, no source
LARGEST_EXTENT_KM: Final = 30.0  # the largest farm fields are a few km across; common practice, no source
_KM_PER_DEG: Final = 111.2  # of latitude, near enough to tell a field from a country
# Corn Belt positions with latitude first: longitude 36 to 50, latitude -80 to -104, where nobody farms.
_SWAPPED_LON_DEG: Final = (36.0, 50.0)
_SWAPPED_LAT_DEG: Final = (-104.0, -80.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class CleanOutline:
    """What cleaning made of an outline: a shape in a frame, or faults."""

    shape: shapely.MultiPolygon | None = None
    frame: Frame | None = None
    changes: tuple[Change, ...] = ()
    notes: tuple[str, ...] = ()
    faults: tuple[str, ...] = ()


class _Log:
    """Collects what is seen on the way, so that every fault is found and not only the first."""

    def __init__(self) -> None:
        self.changes: list[Change] = []
        self.notes: list[str] = []
        self.faults: list[str] = []

    def change(self, what: str, area_change_m2: float) -> None:
        self.changes.append(Change(what=what, area_change_m2=area_change_m2))


def clean_outline(parts: Sequence[RawPart]) -> CleanOutline:
    """Return the valid shape of an outline in its own frame, or every fault that stands in the way.

    Parameters
    ----------
    parts : sequence of RawPart
        Polygons in longitude and latitude, WGS 84. [deg]

    Returns
    -------
    CleanOutline
        With shape and frame, or with faults.
    """
    faults = _position_faults(np.concatenate([ring for part in parts for ring in part.rings]))
    if faults:
        return CleanOutline(faults=tuple(faults))
    parts = _unwrapped(parts)
    lonlat = np.concatenate([part.rings[0] for part in parts])
    frame = frame_for(shapely.box(*lonlat.min(axis=0), *lonlat.max(axis=0)))
    log = _Log()
    pieces = [piece for part in parts for piece in _clean_part(part, frame, log)]
    pieces = _without_slivers(pieces, log)
    shape = _joined(pieces, frame, log)
    if shape is not None and shape.area < SMALLEST_FIELD_M2:
        log.faults.append(f"the outline is {shape.area:.2f} m2; a field has {SMALLEST_FIELD_M2:g} m2 or more")
    if shape is not None:
        shape = shapely.orient_polygons(bend_long_edges(shape, frame))
        if not log.faults and not shape.is_valid:  # nothing known leads here; it would be told all the same
            log.faults.append(f"the outline is not valid: {shapely.is_valid_reason(shape)} (metres from its middle)")
    if shape is None or log.faults:
        return CleanOutline(faults=tuple(log.faults))
    return CleanOutline(shape=shape, frame=frame, changes=tuple(log.changes), notes=tuple(log.notes))


def _position_faults(lonlat: FloatArray) -> list[str]:
    """Return what is wrong with the positions as places on Earth."""
    lon, lat = lonlat.T
    if not np.isfinite(lonlat).all():
        return [f"{np.sum(~np.isfinite(lonlat).all(axis=1))} points lie outside what their coordinate system can show"]
    seen = f"east {lon.min():.7g} to {lon.max():.7g}, north {lat.min():.7g} to {lat.max():.7g}"
    if _is_within(lon, _SWAPPED_LON_DEG) and _is_within(lat, _SWAPPED_LAT_DEG):
        return [f"latitude seems to come first ({seen}); GeoJSON has longitude first: swap the two"]
    if np.abs(lon).max() > 180 or np.abs(lat).max() > 90:
        rule = "longitude must be within 180 and latitude within 90 degrees"
        return [
            f"positions cannot be degrees ({seen}): {rule}; swap them if latitude comes first, or name their system"
        ]
    if np.abs(lat).max() > LATITUDE_LIMIT_DEG:
        return [f"latitude reaches {lat[np.abs(lat).argmax()]:.4f}; it must be within {LATITUDE_LIMIT_DEG:g} degrees"]
    width_deg = np.ptp(unwrap_lon_deg(lon)) * np.cos(np.radians(np.abs(lat).min()))
    extent_km = float(np.hypot(width_deg, np.ptp(lat)) * _KM_PER_DEG)
    if extent_km > LARGEST_EXTENT_KM:
        rule = f"one field may be {LARGEST_EXTENT_KM:g} km at most; several fields are read one by one"
        return [f"the outline is {extent_km:.0f} km across ({seen}): {rule}"]
    return []


def _is_within(values: FloatArray, bounds: tuple[float, float]) -> bool:
    return bool(values.min() >= bounds[0] and values.max() <= bounds[1])


def _unwrapped(parts: Sequence[RawPart]) -> list[RawPart]:
    """Return the parts with longitudes that run on across 180 degrees, so that both sides of a cut are one line."""
    lon = np.concatenate([ring[:, 0] for part in parts for ring in part.rings])
    if np.ptp(lon) <= 180:
        return list(parts)
    return [
        RawPart(
            where=part.where,
            rings=tuple(
                np.column_stack([np.where(ring[:, 0] < 0, ring[:, 0] + 360, ring[:, 0]), ring[:, 1]])
                for ring in part.rings
            ),
        )
        for part in parts
    ]


def _clean_part(part: RawPart, frame: Frame, log: _Log) -> list[tuple[str, shapely.Polygon]]:
    """Return the polygons of a part (more than one where a ring touched itself), each with its name; none if faulty."""
    faults_before = len(log.faults)
    grounds = [
        _ring_ground(ring, f"{part.where}{ring_label(number)}", frame, log, is_hole=number > 0)
        for number, ring in enumerate(part.rings)
    ]
    outer = grounds[0]
    holes = [
        (f"{part.where}{ring_label(number)}", hole)
        for number, hole in enumerate(grounds[1:], start=1)
        if hole is not None and not _is_sliver_hole(f"{part.where}{ring_label(number)}", hole, log)
    ]
    if outer is not None:
        _check_inside(outer, holes, frame, log)
    _check_apart(holes, frame, log)
    if outer is None or len(log.faults) > faults_before:
        return []
    ground = _cut_out(outer, [hole for _, hole in holes], part.where, log)
    if ground.is_empty:
        log.faults.append(f"{part.where}holes cover the whole of it: no ground is left")
    return [(part.where, polygon) for polygon in ground.geoms]


def _ring_ground(ring: FloatArray, label: str, frame: Frame, log: _Log, *, is_hole: bool) -> Ground | None:
    """Return the ground that a ring goes round: a polygon, or several where it touches itself; None if it is faulty."""
    sign = -1.0 if is_hole else 1.0
    cleaned = clean_ring(np.column_stack(frame.to_frame(ring[:, 0], ring[:, 1])), frame)
    if cleaned.fault is not None and not (cleaned.is_flat and is_hole):
        log.faults.append(f"{label} {cleaned.fault}")
        return None
    for what, growth_m2 in cleaned.changes:
        log.change(f"{label}: {what}", sign * growth_m2)
    if cleaned.fault is not None:
        return None
    log.notes.extend(f"{label} {note}" for note in cleaned.notes)
    polygon = shapely.Polygon(cleaned.points_m)
    if polygon.is_valid:
        if polygon.exterior.is_ccw == is_hole:
            log.change(f"{label}: turned to run {'clockwise' if is_hole else 'counter-clockwise'}", 0.0)
        return polygon
    return _uncrossed(polygon, label, sign, frame, log)


def _uncrossed(polygon: shapely.Polygon, label: str, sign: float, frame: Frame, log: _Log) -> Ground | None:
    # Where a ring only touches itself the lobes add up to its signed area. Where it crosses itself one lobe is counted
    # against the other or twice: the difference says how much ground is in doubt.
    crossings = crossings_m(shapely.get_coordinates(polygon.exterior), MOST_CROSSINGS)
    if len(crossings) > MOST_CROSSINGS:
        log.faults.append(f"{label} crosses itself in more than {MOST_CROSSINGS} places: it is a scribble")
        return None
    where = places(crossings, frame)
    mended = _ground(shapely.make_valid(polygon, method="structure", keep_collapsed=False))
    growth_m2 = mended.area - polygon.area
    if mended.is_empty or abs(growth_m2) > CRUMB_M2:
        log.faults.append(f"{label} crosses itself at {where}; {abs(growth_m2):.0f} m2 are in doubt")
        return None
    log.change(f"{label}: touches or crosses itself at {where}; parted there", sign * growth_m2)
    return mended


def _is_sliver_hole(label: str, hole: Ground, log: _Log) -> bool:
    if _mean_width_m(hole) >= SLIVER_WIDTH_M and hole.area >= SMALLEST_HOLE_M2:
        return False
    log.change(f"{label}: sliver of {hole.area:.3f} m2 filled", hole.area)
    return True


def _check_inside(outer: Ground, holes: Sequence[tuple[str, Ground]], frame: Frame, log: _Log) -> None:
    shapely.prepare(outer)
    for label, hole in holes:
        if outer.covers(hole):
            continue
        beyond = _ground(shapely.difference(hole, outer))
        if beyond.area <= CRUMB_M2:
            continue
        where = place(shapely.get_coordinates(beyond.representative_point())[0], frame)
        if beyond.area >= hole.area - CRUMB_M2:
            log.faults.append(f"{label} lies outside the outer ring, at {where}")
        else:
            log.faults.append(f"{label} crosses the outer ring: {beyond.area:.0f} m2 of it lie outside, at {where}")


def _check_apart(grounds: Sequence[tuple[str, Ground]], frame: Frame, log: _Log) -> None:
    told = 0
    for first, second in touching_pairs(np.array([ground for _, ground in grounds], dtype=object)):
        for one, other in zip(first.tolist(), second.tolist(), strict=True):
            shared = _ground(shapely.intersection(grounds[one][1], grounds[other][1]))
            if shared.area <= CRUMB_M2:
                continue
            if told == MOST_OVERLAPS:
                log.faults.append("there are more overlaps than these")
                return
            where = place(shapely.get_coordinates(shared.representative_point())[0], frame)
            names = f"{grounds[one][0].strip()} and {grounds[other][0].strip()}"
            log.faults.append(f"{names} overlap: {shared.area:.0f} m2 are in both, at {where}")
            told += 1


def _cut_out(outer: Ground, holes: Sequence[Ground], where: str, log: _Log) -> shapely.MultiPolygon:
    """Return the outer ground without the holes. Where all is well every corner keeps its very numbers."""
    plain = None
    if isinstance(outer, shapely.Polygon) and not outer.interiors and all(map(_is_plain, holes)):
        plain = shapely.MultiPolygon([(outer.exterior, [shapely.get_coordinates(hole) for hole in holes])])
        plain = plain if plain.is_valid else None
    grounds = [outer, *holes]
    pairs = _near_pairs([shapely.boundary(ground) for ground in grounds])
    if plain is not None and not pairs:
        return plain
    outer, *holes = _snapped(grounds, pairs)
    ground = _ground(shapely.difference(outer, shapely.union_all(list(holes))))
    if plain is not None and len(ground.geoms) == 1 and len(ground.geoms[0].interiors) == len(holes):
        return plain  # they touch in points only
    if holes:
        growth_m2 = ground.area - (grounds[0].area - sum(hole.area for hole in grounds[1:]))
        log.change(f"{where}holes touch each other or the outer ring; cut out together", growth_m2)
    return ground


def _near_pairs(shapes: Sequence[shapely.Geometry]) -> list[tuple[int, int]]:
    """Return the pairs of shapes that are nearer than a millimetre: one in a file's digits, whatever a float says."""
    if len(shapes) < 2:
        return []
    chunks = touching_pairs(np.array(shapes, dtype=object), within_m=SAME_POINT_M)
    return [pair for first, second in chunks for pair in zip(first.tolist(), second.tolist(), strict=True)]


def _snapped(grounds: Sequence[Ground], pairs: Sequence[tuple[int, int]]) -> list[Ground]:
    """Return the shapes with corners of near pairs put upon each other, so that what touches has a side in common."""
    snapped = list(grounds)
    for pair in pairs:
        for one, other in (pair, pair[::-1]):
            moved = shapely.snap(snapped[one], snapped[other], SAME_POINT_M)
            if moved.is_valid:
                snapped[one] = moved
    return snapped


def _is_plain(hole: Ground) -> bool:
    return isinstance(hole, shapely.Polygon) and not hole.interiors


def _without_slivers(pieces: Sequence[tuple[str, shapely.Polygon]], log: _Log) -> list[tuple[str, shapely.Polygon]]:
    kept = [piece for piece in pieces if _mean_width_m(piece[1]) >= SLIVER_WIDTH_M]
    if pieces and not kept:
        widest_m = max(_mean_width_m(polygon) for _, polygon in pieces)
        log.faults.append(f"the outline is a sliver, {widest_m:.3f} m wide; {SLIVER_WIDTH_M:g} m is the least")
        return []
    for where, polygon in pieces:
        if _mean_width_m(polygon) < SLIVER_WIDTH_M:
            log.change(f"{where}sliver of {polygon.area:.3f} m2 dropped", -polygon.area)
        elif polygon.area < SMALLEST_FIELD_M2 and len(kept) > 1:
            log.notes.append(f"{where}is a part of only {polygon.area:.1f} m2")
    return kept


def _joined(pieces: Sequence[tuple[str, shapely.Polygon]], frame: Frame, log: _Log) -> shapely.MultiPolygon | None:
    if not pieces:
        return None
    polygons = [polygon for _, polygon in pieces]
    shape = shapely.MultiPolygon(polygons)
    # Overlaps are looked for first: where every part lies on every other there are too many pairs to list.
    faults_before = len(log.faults)
    if not shape.is_valid:
        _check_apart(pieces, frame, log)
    if len(log.faults) > faults_before:
        return None
    pairs = _near_pairs(polygons)
    if not pairs:
        _note_gaps(pieces, log)
        return shape
    union = _ground(shapely.union_all(_snapped(polygons, pairs)))
    if len(union.geoms) == len(polygons) and shape.is_valid:
        return shape  # they meet in corners only
    log.change("parts that share a side joined", union.area - shape.area)
    return union


def _note_gaps(pieces: Sequence[tuple[str, shapely.Polygon]], log: _Log) -> None:
    polygons = np.array([polygon for _, polygon in pieces], dtype=object)
    for first, second in touching_pairs(polygons, within_m=NARROW_GAP_M):
        for one, other in zip(first.tolist(), second.tolist(), strict=True):
            gap_m = shapely.distance(polygons[one], polygons[other])
            names = f"{pieces[one][0].strip()} and {pieces[other][0].strip()}"
            log.notes.append(f"{names} are only {gap_m:.2f} m apart; they are laid as separate parts")


def _mean_width_m(ground: Ground) -> float:
    """Return the width of the long rectangle of the same area and perimeter, nearly. [m]"""
    return float(2 * ground.area / ground.length)


def _ground(geometry: shapely.Geometry) -> shapely.MultiPolygon:
    """Return the polygons of a geometry, without the points and lines that set operations leave behind."""
    parts = shapely.get_parts(geometry)
    return shapely.MultiPolygon([part for part in parts if isinstance(part, shapely.Polygon) and not part.is_empty])
