"""One track of a walk becomes the edge it went round: one lap, closed, without knots, thinned."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import hypot
from typing import TYPE_CHECKING, Final

import numpy as np
import shapely

from fieldgeo.frame import FloatArray, Frame
from fieldgeo.outline.clean import CRUMB_M2
from fieldgeo.outline.evidence import Gap
from fieldgeo.outline.field import Change
from fieldgeo.outline.rings import crossings_m, place, places
from fieldgeo.outline.walk.fixes import IndexArray
from fieldgeo.outline.walk.knots import signed_area_m2, unknotted
from fieldgeo.outline.walk.lap import first_lap

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fieldgeo.outline.rules import WalkRules
    from fieldgeo.outline.walk.fixes import Fixes
    from fieldgeo.outline.walk.knots import Unknotted
    from fieldgeo.outline.walk.lap import Lap

OPEN_SHARE: Final = 0.2  # of the perimeter: a wider opening is a side that was not walked; common practice, no source
_CLOSING_STEPS: Final = 1.5  # an edge given by its corners alone ends a side before its beginning
GAP_M: Final = 20.0  # a longer step may be a gap within a segment; common practice, no source
GAP_STEPS: Final = 10.0  # if it is this many times the usual step; common practice, no source
_STRAY_NOISES: Final = 2.0
_STRAY_M: Final = 2.0
_MOST_CROSSINGS: Final = 1_000
_MOST_GAPS: Final = 1_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Track:
    """The kept points of one track in the frame."""

    label: str  # for messages, such as "track 2 ", or ""
    points_m: FloatArray  # shape (N, 2)
    time_s: FloatArray  # shape (N,)
    segment: IndexArray  # shape (N,)

    @property
    def is_open(self) -> bool:
        """Whether its ends lie so far apart that a side is missing."""
        return _is_open(self.points_m)


@dataclass(frozen=True, slots=True, kw_only=True)
class Edge:
    """What a track goes round."""

    label: str
    polygon: shapely.Polygon  # thinned [m]
    lap: Lap
    lap_points: int  # of the first lap, as they were measured
    lap_m2: float  # what they enclose by the shoelace formula, signed
    duration_s: float  # of the first lap; NaN when it has no times
    gaps: tuple[Gap, ...]
    is_timed: bool  # whether the station of `knots` is the time [s], and not the way [m]
    closure_m: float
    usual_step_m: float  # median
    knots: Unknotted
    knots_growth_m2: float  # of the area, by cutting knots and dead ends
    thinned: int
    thin_growth_m2: float
    changes: tuple[Change, ...]


def track_of(fixes: Fixes, label: str, frame: Frame) -> Track:
    """Return the points of a track in a frame.

    Parameters
    ----------
    fixes : Fixes
        Its points.
    label : str
        What messages call it, with a space behind, or "".
    frame : Frame
        The plane.
    """
    points_m = np.column_stack(frame.to_frame(fixes.lon_deg, fixes.lat_deg))
    return Track(label=label, points_m=points_m, time_s=fixes.time_s, segment=fixes.segment)


def is_timed(time_s: FloatArray) -> bool:
    """Return whether times are there for all points, and run on.

    Parameters
    ----------
    time_s : ndarray of shape (N,)
        Times, NaN where there is none. [s]
    """
    return bool(np.isfinite(time_s).all() and (np.diff(time_s) >= 0).all() and time_s[-1] > time_s[0])


def is_stray(track: Track, *, noise_m: float) -> bool:
    """Return whether a track is nothing but a point or two, or noise about a place.

    Parameters
    ----------
    track : Track
        The track.
    noise_m : float
        Standard error of a position along each axis. [m]
    """
    if len(track.points_m) < 3:
        return True
    return bool(np.ptp(track.points_m, axis=0).max() <= max(_STRAY_NOISES * noise_m, _STRAY_M))


def edge_of(track: Track, frame: Frame, rules: WalkRules, *, noise_m: float) -> Edge | str:
    """Return what a track goes round, or what is wrong with it.

    Parameters
    ----------
    track : Track
        The track, three points or more.
    frame : Frame
        Its plane, for places in messages.
    rules : WalkRules
        `thin_m` is used.
    noise_m : float
        Standard error of a position along each axis. [m]
    """
    label = track.label or "it "
    lap = first_lap(track.points_m, noise_m=noise_m)
    points = track.points_m[lap.start : lap.end + 1]
    closure_m = hypot(*(points[-1] - points[0]))
    steps = np.hypot(*np.diff(points, axis=0).T)
    if _is_open(points):
        ends = f"{place(points[0], frame)} and {place(points[-1], frame)}"
        return (
            f"{label}is not closed: its ends lie {closure_m:.0f} m apart, at {ends}, and it is {steps.sum():.0f} m "
            f"long; {OPEN_SHARE:.0%} of the perimeter is the most that is closed by a straight side: walk the rest"
        )
    lap_m2 = signed_area_m2(points)
    time_s = track.time_s[lap.start : lap.end + 1]
    free = unknotted(points, _station(points, time_s), noise_m=noise_m)
    if free.is_scribble:
        return f"{label}crosses itself everywhere: it is a scribble and no edge"
    if len(free.points_m) < 3:
        return f"{label}encloses nothing: it goes out and back along one line"
    ring, crumbs_growth_m2, fault = _simple_ring(free.points_m, frame)
    if ring is None:
        return f"{label}{fault}"
    knots_growth_m2 = abs(signed_area_m2(free.points_m)) - abs(lap_m2)
    thin = shapely.simplify(ring, rules.thin_m, preserve_topology=True) if rules.thin_m > 0 else ring
    edge = Edge(
        label=track.label,
        polygon=thin,
        lap=lap,
        lap_points=len(points),
        lap_m2=lap_m2,
        duration_s=float(time_s[-1] - time_s[0]),
        is_timed=is_timed(time_s),
        gaps=tuple(_gaps(track, lap, frame)),
        closure_m=closure_m,
        usual_step_m=float(np.median(steps)),
        knots=free,
        knots_growth_m2=knots_growth_m2 + crumbs_growth_m2,
        thinned=len(ring.exterior.coords) - len(thin.exterior.coords),
        thin_growth_m2=thin.area - ring.area,
        changes=(),
    )
    return replace(edge, changes=tuple(_changes(track, edge, frame, rules)))


def _changes(track: Track, edge: Edge, frame: Frame, rules: WalkRules) -> Iterator[Change]:
    label = f"{track.label.strip()}: " if track.label else ""
    lap, free = edge.lap, edge.knots
    if lap.laps > 1:  # the area of more than one time round is that of all of them: no change of the field's
        what = f"{label}goes round {lap.laps} times: the first time is used, {lap.overlap_m:.0f} m after it left out"
        yield Change(what=what, area_change_m2=0.0)
    elif lap.overlap_m > 0:
        what = f"{label}{lap.overlap_m:.1f} m walked beyond the join, at {place(track.points_m[0], frame)}, left out"
        yield Change(what=what, area_change_m2=abs(edge.lap_m2) - abs(signed_area_m2(track.points_m)))
    if lap.lead_m > 0:
        what = f"{label}{lap.lead_m:.1f} m walked to the edge, or from it, left out"
        yield Change(what=what, area_change_m2=abs(edge.lap_m2) - abs(signed_area_m2(track.points_m)))
    if free.knots:
        what = f"{label}{free.knots} small loop{'s' * (free.knots > 1)} cut out"
        if free.largest_at_m is not None:
            what += f", the largest of {free.largest_m2:.1f} m2 at {place(free.largest_at_m, frame)}"
        yield Change(what=what, area_change_m2=edge.knots_growth_m2 + free.dead_ends_m2)
    if free.dead_ends:
        what = f"{label}{free.dead_ends_m:.0f} m walked into a dead end and out again, cut off"
        yield Change(what=what, area_change_m2=-free.dead_ends_m2)
    if edge.thinned:
        what = f"{label}thinned to {rules.thin_m:g} m: {edge.thinned} points left out"
        yield Change(what=what, area_change_m2=edge.thin_growth_m2)


def _simple_ring(points_m: FloatArray, frame: Frame) -> tuple[shapely.Polygon | None, float, str]:
    """Return the ring as a valid polygon, what crumbs parted from it did to the area [m2], or how it crosses itself."""
    ring = shapely.Polygon(points_m)
    if ring.is_valid and ring.area > 0:
        return ring, 0.0, ""
    mended = shapely.make_valid(ring, method="structure", keep_collapsed=False)
    pieces = sorted(shapely.get_parts(mended), key=shapely.area, reverse=True)
    if not pieces or pieces[0].area <= CRUMB_M2:
        return None, 0.0, "encloses nothing: it goes out and back along one line"
    largest = shapely.Polygon(pieces[0].exterior)
    growth_m2 = largest.area - abs(signed_area_m2(points_m))
    if abs(growth_m2) <= CRUMB_M2:
        return largest, growth_m2, ""
    where = places(crossings_m(shapely.get_coordinates(ring.exterior), _MOST_CROSSINGS), frame)
    lobes = shapely.get_parts(shapely.polygonize([shapely.node(ring.exterior)]))
    sizes = sorted(shapely.area(lobes).tolist(), reverse=True)
    if len(sizes) < 2:
        return None, 0.0, f"crosses itself at {where}: only a person can say which ground is meant"
    fault = (
        f"crosses itself at {where}, and goes round {len(sizes)} pieces of ground, the largest of {sizes[0]:.0f} m2 "
        f"and {sizes[1]:.0f} m2: a figure eight; record each piece as a track of its own, or cut the loop out"
    )
    return None, 0.0, fault


def _is_open(points_m: FloatArray) -> bool:
    """Whether the closing side would be much of the perimeter, and longer than any that was walked."""
    gap_m = hypot(*(points_m[-1] - points_m[0]))
    steps = np.hypot(*np.diff(points_m, axis=0).T)
    return bool(gap_m > OPEN_SHARE * (steps.sum() + gap_m) and gap_m > _CLOSING_STEPS * steps.max())


def _station(points_m: FloatArray, time_s: FloatArray) -> FloatArray:
    """Return the time since the beginning of points, or the way where the times do not run on."""
    if is_timed(time_s):
        return time_s
    return np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points_m, axis=0).T))])


def _gaps(track: Track, lap: Lap, frame: Frame) -> list[Gap]:
    """Return the straight sides that nobody walked: between segments, and where a segment has no points for long."""
    points = track.points_m[lap.start : lap.end + 1]
    steps = np.hypot(*np.diff(points, axis=0).T)
    is_gap = np.diff(track.segment[lap.start : lap.end + 1]) != 0
    if (~is_gap).any():
        is_gap |= steps > max(GAP_M, GAP_STEPS * float(np.median(steps[~is_gap])))
    gaps = []
    for index in np.flatnonzero(is_gap)[:_MOST_GAPS]:
        lon_deg, lat_deg = frame.to_lonlat(*(points[index] + points[index + 1]) / 2)
        gaps.append(Gap(length_m=float(steps[index]), lon_deg=float(lon_deg), lat_deg=float(lat_deg)))
    return gaps
