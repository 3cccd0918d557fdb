"""Where a walk meets its own beginning again: the overlap at the join, and a second time round."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import shapely

from fieldgeo.frame import FloatArray

REACH_NOISES: Final = 5.0  # how far two passes of one place may lie apart, in standard errors of a position
LEAST_REACH_M: Final = (
    3.0  # whatever the receiver: a walker does not tread in his own steps; common practice, no source
)
_LEAST_OVERLAP_M: Final = 1.0  # shorter ones, and those within the noise, are left to the closing side
_OVERLAP_NOISES: Final = 2.5
_RETRACED: Final = 0.9  # share of the points beyond the join that must lie along the first ones
_SAMPLES: Final = 2_000
_LEAD_SHARE: Final = 0.25  # of the walk, that may lead to the edge or from it; common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class Lap:
    """The first time round."""

    start: int  # index of its first point
    end: int  # and of its last
    laps: int  # times round, the last may not be whole
    overlap_m: float  # walked beyond the join, and left out
    lead_m: float = 0.0  # walked to the edge before it, or from it after it, and left out


def first_lap(points_m: FloatArray, *, noise_m: float) -> Lap:
    """Return where a walk is back at its beginning, if it goes on along its first steps.

    A walker who goes past the start, or round twice, walks along an edge that is there already. The join is the point
    nearest to the start of the first visit after which the walk follows its own beginning, in the same direction; a
    walk that passes its start and goes elsewhere is left whole. A walk that ends near a point of its first quarter, and
    not near its start, began away from the edge: the way to the edge is left out, and so is one that ends away from it.

    Parameters
    ----------
    points_m : ndarray of shape (N, 2)
        The walk in its order, three points or more. [m]
    noise_m : float
        Standard error of a position along each axis. [m]
    """
    reach_m = max(REACH_NOISES * noise_m, LEAST_REACH_M)
    away_m = np.hypot(*(points_m - points_m[0]).T)
    steps = np.hypot(*np.diff(points_m, axis=0).T)
    length_m = np.concatenate([[0.0], np.cumsum(steps)])
    whole = Lap(start=0, end=len(points_m) - 1, laps=1, overlap_m=0.0)
    for start, end in _visits(away_m, reach_m):
        join = start + int(np.argmin(away_m[start : end + 1]))
        beyond_m = float(length_m[-1] - length_m[join])
        reached_m = float(np.hypot(*(points_m[join:] - points_m[join]).T).max())
        if reached_m < max(_LEAST_OVERLAP_M, _OVERLAP_NOISES * noise_m):
            break
        if _is_retraced(points_m, length_m, join, reach_m):
            laps = 1 + int(beyond_m / length_m[join] + 0.2)  # four fifths round count as one time more
            return Lap(start=0, end=join, laps=laps, overlap_m=beyond_m)
    return _without_lead(points_m, length_m, reach_m) if away_m[-1] > reach_m else whole


def _without_lead(points_m: FloatArray, length_m: FloatArray, reach_m: float) -> Lap:
    """Return a walk that does not close without the way to the edge before it, or from the edge after it."""
    last = len(points_m) - 1
    whole = Lap(start=0, end=last, laps=1, overlap_m=0.0)
    ways = []
    head = int(np.searchsorted(length_m, _LEAD_SHARE * length_m[-1]))
    to_end_m = np.hypot(*(points_m[:head] - points_m[-1]).T)
    if len(to_end_m) and to_end_m.min() <= reach_m:
        start = int(np.argmin(to_end_m))
        ways.append(replace(whole, start=start, lead_m=float(length_m[start])))
    tail = int(np.searchsorted(length_m, (1 - _LEAD_SHARE) * length_m[-1]))
    to_start_m = np.hypot(*(points_m[tail:] - points_m[0]).T)
    if len(to_start_m) and to_start_m.min() <= reach_m:
        end = tail + int(np.argmin(to_start_m))
        ways.append(replace(whole, end=end, lead_m=float(length_m[-1] - length_m[end])))
    return min(ways, key=lambda lap: lap.lead_m, default=whole)


def _visits(away_m: FloatArray, reach_m: float) -> list[tuple[int, int]]:
    """Return the stretches of the walk that are near its start again, first and last point of each."""
    far = np.flatnonzero(away_m > 2 * reach_m)
    if not len(far):
        return []
    # Between two points that are far away lies one visit, if any point there is near.
    bounds = np.concatenate([far, [len(away_m)]])
    visits = []
    for before in np.flatnonzero(np.diff(bounds) > 1):
        inside = np.flatnonzero(away_m[bounds[before] + 1 : bounds[before + 1]] <= reach_m)
        if len(inside):
            visits.append((int(bounds[before] + 1 + inside[0]), int(bounds[before] + 1 + inside[-1])))
    return visits


def _is_retraced(points_m: FloatArray, length_m: FloatArray, join: int, reach_m: float) -> bool:
    """Whether the walk beyond the join runs along its beginning."""
    lap_m = length_m[join]
    last = min(len(points_m) - 1, int(np.searchsorted(length_m, 2 * lap_m)))
    beyond = np.unique(np.linspace(join, last, _SAMPLES).astype(np.int64))
    # The beginning as long as what lies beyond, and somewhat more: both are lengthened by noise, not always alike.
    beyond_m = length_m[last] - lap_m
    head_end = min(join, int(np.searchsorted(length_m, 1.5 * beyond_m + 2 * reach_m)))
    head = shapely.LineString(points_m[: max(head_end, 1) + 1])
    places = shapely.points(points_m[beyond])
    shapely.prepare(head)
    if np.mean(shapely.dwithin(places, head, reach_m)) < _RETRACED:
        return False
    if beyond_m <= 4 * reach_m:  # too short to tell which way it goes
        return True
    middle = points_m[int(np.searchsorted(length_m, lap_m + beyond_m / 2))]
    return bool(shapely.line_locate_point(head, shapely.Point(middle)) > 0.2 * beyond_m)
