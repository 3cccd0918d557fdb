"""From the kept points of a walk to an outline with its report."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import chain
from typing import TYPE_CHECKING, Final

import numpy as np
import shapely

from fieldgeo.errors import OutlineError
from fieldgeo.frame import LATITUDE_LIMIT_DEG, LONLAT, Frame, frame_for, unwrap_lon_deg
from fieldgeo.outline.clean import LARGEST_EXTENT_KM
from fieldgeo.outline.evidence import Evidence, Step, WalkReport
from fieldgeo.outline.field import Change
from fieldgeo.outline.raw import RawPart, Reading
from fieldgeo.outline.walk.edge import Edge, Track, edge_of, is_stray, track_of
from fieldgeo.outline.walk.ground import Part, Ring, mitred, moved_out, nested, waypoint_rings
from fieldgeo.outline.walk.trust import Walked, accuracy_of, area_half_range, weak_points, without_wiggles

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fieldgeo.outline.rules import WalkRules
    from fieldgeo.outline.walk.fixes import Fixes, Tally
    from fieldgeo.outline.walk.sift import Dropped

_M_PER_DEG: Final = 111_200.0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Ground:
    """What the tracks go round, before and after the offset."""

    edges: list[Edge]
    parts: list[Part]
    marked: list[Ring]
    before: shapely.MultiPolygon
    after: shapely.MultiPolygon
    notes: list[str]  # of waypoints


@dataclass(frozen=True, slots=True, kw_only=True)
class _Log:
    """The file, and what was dropped while it was read: every refusal tells it."""

    source: str
    dropped: Dropped
    tally: Tally

    def refusal(self, faults: Sequence[str]) -> OutlineError:
        """Return the error that refuses the walk."""
        return OutlineError(
            f"{self.source} cannot be used as a walk. Mend the track, or walk the edge again.",
            [*faults, *self.dropped_lines()],
        )

    def dropped_lines(self) -> list[str]:
        """Return what was dropped, rule by rule."""
        count, tally = self.dropped, self.tally
        lines = []
        if tally.bad_checksums:
            lines.append(f"{tally.bad_checksums} lines dropped: checksum fails or is missing")
        if tally.unreadable:
            lines.append(f"{tally.unreadable} records dropped that cannot be read, the first: {tally.first_unreadable}")
        counts = {
            "void": count.void, "beyond 90 degrees of latitude or 180 of longitude": count.off_earth,
            "no measurement": count.not_measured, "of poorer quality than asked for": count.poor,
            "of too high an HDOP": count.hdop, "spikes": count.spikes, "nearer than the step": count.stationary,
        }  # fmt: skip
        lines += [f"{number} of {count.read} dropped: {what}" for what, number in counts.items() if number]
        return lines


def build_walk(fixes: Fixes, dropped: Dropped, tally: Tally, rules: WalkRules, *, source: str) -> Reading:
    """Return the outline that a walk goes round, with its report.

    Parameters
    ----------
    fixes : Fixes
        The points that were kept.
    dropped : Dropped
        What was dropped before.
    tally : Tally
        What the reader saw beside them.
    rules : WalkRules
        How the walk is cleaned.
    source : str
        Name of the file, for messages.

    Returns
    -------
    Reading
        Rings in longitude and latitude.

    Raises
    ------
    OutlineError
        If no ring can be made of the points; every fault is listed.
    """
    log = _Log(source=source, dropped=dropped, tally=tally)
    _check_points(fixes, log)
    accuracy_m, accuracy_from = accuracy_of(fixes, rules)
    frame = _frame(fixes, log)
    tracks, strays, joined = _tracks(fixes, tally, frame, accuracy_m)
    if not tracks:
        faults = [f"{stray.label or 'it '}{_points_left(len(stray.points_m))}" for stray in strays]
        raise log.refusal(faults)
    ground = _ground(tracks, frame, rules, accuracy_m, log)
    report = _report(ground, fixes, dropped, tally, rules, accuracy_m, accuracy_from)
    signs = _signs(ground)
    growth_m2 = sum(
        sign * (edge.knots_growth_m2 + edge.knots.dead_ends_m2 + edge.thin_growth_m2) for edge, sign in signs
    )
    half_m2, how = area_half_range(signs, ground.marked, growth_m2, accuracy_m=accuracy_m)
    if rules.offset_m:
        half_m2 += abs(_offset_surplus_m2(ground, rules, accuracy_m))
        how += "; noise that the offset moved with the edge is added"
    walked = Walked(
        ground=ground.after, edges=ground.edges, fixes=fixes, dropped=dropped, tally=tally, rules=rules,
        accuracy_m=accuracy_m, report=report,
    )  # fmt: skip
    names = [name for name in (tally.name, *tally.track_names) if name]
    return Reading(
        name=names[0] if names else "",
        parts=tuple(_raw_parts(ground.after, frame)),
        source_crs=LONLAT,
        evidence=Evidence(
            kind="walk",
            weak_points=weak_points(walked, half_m2),
            area_uncertainty_m2=half_m2,
            uncertainty_from=how,
            report=report,
        ),
        changes=tuple(_changes(ground, strays, rules)),
        problems=(*joined, *ground.notes, *_problems(dropped, tally)),
    )


def _points_left(count: int) -> str:
    if count < 3:
        return f"has {count} point{'s' * (count != 1)} after cleaning; an edge needs three or more"
    return "does not leave the place where it began"


def _check_points(fixes: Fixes, log: _Log) -> None:
    if len(fixes):
        return
    dropped = log.dropped
    if not dropped.read:
        seen = f"{log.source} cannot be used as a walk: there is no position in it. Give the log of a walk."
        raise OutlineError(seen, log.dropped_lines())
    if dropped.off_earth == dropped.read:
        raise log.refusal(["its positions cannot be degrees, or latitude and longitude are swapped: swap them"])
    raise log.refusal([f"none of its {dropped.read} positions can be used"])


def _frame(fixes: Fixes, log: _Log) -> Frame:
    lon, lat = unwrap_lon_deg(fixes.lon_deg), fixes.lat_deg
    highest = float(lat[np.abs(lat).argmax()])
    seen = f"longitude {lon.min():.5f} to {lon.max():.5f}, latitude {lat.min():.5f} to {lat.max():.5f}"
    if abs(highest) > LATITUDE_LIMIT_DEG:
        rule = (
            f"latitude must be within {LATITUDE_LIMIT_DEG:g} degrees: check that latitude and longitude are not swapped"
        )
        raise log.refusal([f"its points lie at {seen}; {rule}"])
    extent_km = np.hypot(np.ptp(lon) * np.cos(np.radians(highest)), np.ptp(lat)) * _M_PER_DEG / 1000
    if extent_km > LARGEST_EXTENT_KM:
        rule = f"one field may be {LARGEST_EXTENT_KM:g} km at most; take the way to the field out of the track"
        raise log.refusal([f"it is {extent_km:.0f} km across ({seen}): {rule}"])
    return frame_for(shapely.box(lon.min(), lat.min(), lon.max(), lat.max()))


def _tracks(fixes: Fixes, tally: Tally, frame: Frame, accuracy_m: float) -> tuple[list[Track], list[Track], list[str]]:
    """Return the tracks that go somewhere, those that do not, and what was joined."""
    numbers = np.unique(fixes.track).tolist()
    tracks = [track_of(fixes.of_track(number), _label(number, numbers, tally), frame) for number in numbers]
    strays = [track for track in tracks if is_stray(track, noise_m=accuracy_m)]
    tracks = [track for track in tracks if not is_stray(track, noise_m=accuracy_m)]
    if len(tracks) < 2 or not all(track.is_open for track in tracks):
        return tracks, strays, []
    whole = Track(
        label="",
        points_m=np.concatenate([track.points_m for track in tracks]),
        time_s=np.concatenate([track.time_s for track in tracks]),
        segment=np.concatenate([track.segment for track in tracks]),
    )
    return (
        [whole],
        strays,
        [f"none of its {len(tracks)} tracks is closed: they are read as pieces of one edge, in order"],
    )


def _label(number: int, numbers: Sequence[int], tally: Tally) -> str:
    if len(numbers) == 1:
        return ""
    name = tally.track_names[number] if number < len(tally.track_names) else ""
    return f"track {number + 1} {name!r} " if name else f"track {number + 1} "


def _ground(tracks: Sequence[Track], frame: Frame, rules: WalkRules, accuracy_m: float, log: _Log) -> _Ground:
    found = [edge_of(track, frame, rules, noise_m=accuracy_m) for track in tracks]
    faults = [edge for edge in found if isinstance(edge, str)]
    edges = [edge for edge in found if isinstance(edge, Edge)]
    rings = [
        Ring(label=edge.label.strip() or "the track", polygon=edge.polygon, source=number)
        for number, edge in enumerate(edges)
    ]
    marked, notes = waypoint_rings(log.tally.waypoints, shapely.union_all([ring.polygon for ring in rings]), frame)
    parts, crossings = nested([*rings, *marked], frame)
    faults += crossings
    if faults:
        raise log.refusal(faults)
    polygons = [part.polygon for part in parts]
    before = shapely.MultiPolygon(polygons)
    if rules.offset_m:
        polygons, faults = moved_out(parts, rules.offset_m, frame)
        if faults:
            raise log.refusal(faults)
    after = shapely.orient_polygons(shapely.MultiPolygon(polygons))  # which way it was walked is no fault
    return _Ground(edges=edges, parts=parts, marked=marked, before=before, after=after, notes=notes)


def _signs(ground: _Ground) -> list[tuple[Edge, float]]:
    """Return the edges in the order in which they were walked, +1 for outer rings and -1 for holes."""
    holes = {hole.source for part in ground.parts for hole in part.holes}
    return [(edge, -1.0 if number in holes else 1.0) for number, edge in enumerate(ground.edges)]


def _offset_surplus_m2(ground: _Ground, rules: WalkRules, accuracy_m: float) -> float:
    """Return by how much the offset changed the area more than it changes that of an edge without noise. [m2]"""
    smooth = without_wiggles(ground.before, accuracy_m)
    expected_m2 = shapely.area(mitred(smooth, rules.offset_m)) - shapely.area(smooth)
    return float(ground.after.area - ground.before.area - expected_m2)


def _report(
    ground: _Ground,
    fixes: Fixes,
    dropped: Dropped,
    tally: Tally,
    rules: WalkRules,
    accuracy_m: float,
    accuracy_from: str,
) -> WalkReport:
    edges = ground.edges
    signs = _signs(ground)
    perimeter_m = float(shapely.length(without_wiggles(ground.after, accuracy_m)))
    worst = max(edges, key=lambda edge: edge.closure_m)
    return WalkReport(
        points_read=dropped.read,
        points_kept=len(fixes),
        steps=_steps(edges, dropped, tally, rules),
        gaps=tuple(chain.from_iterable(edge.gaps for edge in edges)),
        closure_m=worst.closure_m,
        closure_share=worst.closure_m / float(shapely.length(without_wiggles(worst.polygon, accuracy_m))),
        duration_s=sum(edge.duration_s for edge in edges) if all(edge.is_timed for edge in edges) else None,
        accuracy_m=accuracy_m,
        accuracy_from=accuracy_from,
        bound_m2=perimeter_m * accuracy_m,
        offset_m=rules.offset_m,
        offset_area_change_m2=float(ground.after.area - ground.before.area),
        thin_m=rules.thin_m,
        thinned=sum(edge.thinned for edge in edges),
        thin_area_change_m2=sum(sign * edge.thin_growth_m2 for edge, sign in signs),
        laps=max(edge.lap.laps for edge in edges),
        overlap_m=sum(edge.lap.overlap_m for edge in edges),
        loops=sum(edge.knots.knots for edge in edges),
        loops_area_change_m2=sum(sign * edge.knots_growth_m2 for edge, sign in signs),
    )


def _steps(edges: Sequence[Edge], dropped: Dropped, tally: Tally, rules: WalkRules) -> tuple[Step, ...]:
    checksums = "lines whose checksum fails or is missing" if tally.has_checksums else "(this format has no checksums)"
    counts = (
        (checksums, tally.bad_checksums),
        (
            "records that cannot be read" + f", such as {tally.first_unreadable}" * bool(tally.unreadable),
            tally.unreadable,
        ),
        ("positions of another talker for the same moment", tally.repeated),
        ("void positions (quality 0, status V, or no position)", dropped.void),
        ("positions beyond 90 degrees of latitude or 180 of longitude", dropped.off_earth),
        ("positions that are no measurements (dead reckoning, manual, simulated)", dropped.not_measured),
        (f"positions of poorer quality than {rules.least_quality}", dropped.poor),
        (f"positions with an HDOP over {rules.most_hdop:g}", dropped.hdop),
        (f"spikes: over {rules.most_speed_m_s:g} m/s to reach and to leave", dropped.spikes),
        (f"points nearer than {rules.step_m:g} m to the one before", dropped.stationary),
        ("points beyond the join, or on the way to the edge", dropped.kept - _lap_points(edges)),
        ("small loops of the size of the noise", sum(edge.knots.knots for edge in edges)),
        (f"points within {rules.thin_m:g} m of the line between those kept", sum(edge.thinned for edge in edges)),
    )
    return tuple(Step(what=what, dropped=count) for what, count in counts)


def _lap_points(edges: Sequence[Edge]) -> int:
    return sum(edge.lap_points for edge in edges)


def _changes(ground: _Ground, strays: Sequence[Track], rules: WalkRules) -> list[Change]:
    changes = [
        Change(what=f"{stray.label}{_points_left(len(stray.points_m))}; left out", area_change_m2=0.0)
        for stray in strays
    ]
    for edge, sign in _signs(ground):
        changes += [Change(what=change.what, area_change_m2=sign * change.area_change_m2) for change in edge.changes]
    for ring in ground.marked:
        changes.append(Change(what=f"{ring.label} taken out", area_change_m2=-ring.polygon.area))
    if rules.offset_m:
        way = "out" if rules.offset_m > 0 else "in"
        growth_m2 = float(ground.after.area - ground.before.area)
        changes.append(Change(what=f"edge moved {way} by {abs(rules.offset_m):g} m", area_change_m2=growth_m2))
    return changes


def _problems(dropped: Dropped, tally: Tally) -> list[str]:
    problems = []
    if tally.bad_times:
        problems.append(f"{tally.bad_times} times could not be read; their points are kept without")
    if tally.waypoints_left_out:
        problems.append(f"{tally.waypoints_left_out} waypoints without a place, or too many, left out")
    if dropped.off_earth:
        problems.append(f"{dropped.off_earth} positions lie beyond 90 degrees of latitude or 180 of longitude")
    return problems


def _raw_parts(ground: shapely.MultiPolygon, frame: Frame) -> list[RawPart]:
    parts = []
    for number, polygon in enumerate(ground.geoms, start=1):
        rings = []
        for ring in (polygon.exterior, *polygon.interiors):
            x_m, y_m = shapely.get_coordinates(ring).T
            rings.append(np.column_stack(frame.to_lonlat(x_m, y_m)))
        where = f"part {number} " if len(ground.geoms) > 1 else ""
        parts.append(RawPart(where=where, rings=tuple(rings)))
    return parts
