"""How the machine moved: the record in runs without a gap, its places smoothed, its speed, and where it turned.

A turn is where the smoothed track bends more sharply than rows are driven and comes out on another heading. Nothing
here knows whether the tool was down.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
import numpy.typing as npt

from fieldgeo.analysis.log.record import Log
from fieldgeo.frame import FloatArray

Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]

# A gap is a step longer than so many usual intervals and at least so many seconds more than one (own choice).
_GAP_TIMES: Final = 2.2
_GAP_MORE_S: Final = 2.0
# Noise of places is taken down to this by a running mean, over at most so many seconds (own choice).
_SMOOTH_M: Final = 0.12
_MOST_SMOOTH_S: Final = 16.0
# Rows are not driven on a sharper bend than this radius, or the tool's width if that is more (own choice; turns of farm
# machines are of 5 to 12 m, common practice, no source).
_LEAST_ROW_RADIUS_M: Final = 18.0
# A bend that comes out within this of the heading it began with is a way round something, not a turn (own choice).
BEND_DEG: Final = 40.0
REVERSAL_DEG: Final = 125.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Motion:
    """The smoothed track. Arrays have shape (N,), or (N, 2) for places."""

    run: Ints  # number of the run without a gap that each record is in
    xy: FloatArray  # smoothed places [m]
    speed_m_s: FloatArray  # [m/s]
    noise_m: float  # of a recorded place against its neighbours, along each axis [m]
    interval_s: float  # usual time between records [s]
    reach: int  # records to each side that the running mean takes
    scatter_m: float  # what of it smoothing leaves [m]
    gap_s: float  # a longer step is a gap [s]


def move(log: Log) -> Motion:
    """Return how the machine moved.

    Parameters
    ----------
    log : Log
        Records of one field.
    """
    step_s = np.diff(log.time_s)
    usual_s = log.interval_s
    gap_s = max(_GAP_TIMES * usual_s, usual_s + _GAP_MORE_S)
    breaks = (step_s > gap_s) | log.is_cut[1:]
    run = np.concatenate([[0], np.cumsum(breaks)])
    noise_m = _noise_m(log.xy, run)
    reach = _window(noise_m, usual_s)
    xy = _smoothed(log.xy, run, reach)
    return Motion(
        run=run, xy=xy, speed_m_s=_speeds(xy, log.time_s, run), noise_m=noise_m, interval_s=usual_s, reach=reach,
        scatter_m=float(noise_m / np.sqrt(2 * reach + 1)), gap_s=gap_s,
    )  # fmt: skip


def _noise_m(xy: FloatArray, run: Ints) -> float:
    """Return the noise of places, from their second differences: sqrt(6) times that of one place. (Derived.)"""
    if len(xy) < 5:
        return 0.0
    second = xy[2:] - 2 * xy[1:-1] + xy[:-2]
    second = second[run[2:] == run[:-2]]
    return float(np.median(np.abs(second)) / 0.6745 / np.sqrt(6)) if len(second) else 0.0


def _window(noise_m: float, interval_s: float) -> int:
    """Return how many records to each side the running mean takes."""
    count = (noise_m / _SMOOTH_M) ** 2
    return int(min((count - 1) / 2, _MOST_SMOOTH_S / 2 / interval_s)) if count > 1 else 0


def _smoothed(xy: FloatArray, run: Ints, reach: int) -> FloatArray:
    """Return the running mean over so many records to each side, fewer near the ends of a run."""
    if reach == 0:
        return xy
    starts = np.searchsorted(run, run, side="left")
    ends = np.searchsorted(run, run, side="right")
    row = np.arange(len(xy))
    reaches = np.minimum(reach, np.minimum(row - starts, ends - 1 - row))
    sums = np.concatenate([np.zeros((1, 2)), np.cumsum(xy, axis=0)])
    return np.asarray((sums[row + reaches + 1] - sums[row - reaches]) / (2 * reaches + 1)[:, None])


def smoothed_line(xy: FloatArray, reach: int) -> FloatArray:
    """Return the running mean of a stretch of places by itself, so that its ends are not drawn to what lies beyond.

    Parameters
    ----------
    xy : ndarray of shape (N, 2)
        Places. [m]
    reach : int
        Records to each side, fewer near the ends.
    """
    return _smoothed(xy, np.zeros(len(xy), dtype=np.int64), reach)


def _speeds(xy: FloatArray, time_s: FloatArray, run: Ints) -> FloatArray:
    """Return the speed at each record, over the steps before and after it within its run."""
    step_m = np.hypot(*np.diff(xy, axis=0).T)
    step_s = np.diff(time_s)
    inside = run[1:] == run[:-1]
    gone_m, gone_s = np.where(inside, step_m, 0.0), np.where(inside, step_s, 0.0)
    around_m = np.append(gone_m, 0.0) + np.insert(gone_m, 0, 0.0)
    around_s = np.append(gone_s, 0.0) + np.insert(gone_s, 0, 0.0)
    return np.asarray(np.divide(around_m, around_s, out=np.zeros(len(xy)), where=around_s > 0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Bend:
    """A stretch of a run in which the machine turned."""

    start: int  # last record before it
    end: int  # first record after it
    turned_deg: float  # counter-clockwise, from the heading before to the heading after [deg]


def find_bends(log: Log, motion: Motion) -> list[Bend]:
    """Return where the machine turned onto another heading, in the order of time.

    Parameters
    ----------
    log : Log
        Records of one field.
    motion : Motion
        Their motion.
    """
    bounds = np.concatenate([[0], np.flatnonzero(np.diff(motion.run)) + 1, [len(log)]]).tolist()
    bends: list[Bend] = []
    for start, end in pairwise(bounds):
        if end - start >= 3:
            bends += _bends_of_run(motion.xy[start:end], start, log.width_m, motion.noise_m)
    return bends


def _bends_of_run(xy: FloatArray, first: int, width_m: float, noise_m: float) -> list[Bend]:
    chord_m = max(4.0, min(0.5 * width_m, 8.0), 10 * min(noise_m, 1.0))
    at_m = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(xy, axis=0).T))])
    if at_m[-1] < 2 * chord_m:
        return []
    # Evenly along the track, so that standing still takes no room.
    step_m = chord_m / 8
    along = np.arange(0.0, at_m[-1], step_m)
    rising, where = np.unique(at_m, return_index=True)
    even = np.column_stack([np.interp(along, rising, xy[where, axis]) for axis in (0, 1)])
    half = 4
    if len(even) < 4 * half + 1:
        return []
    chord = even[2 * half :] - even[: -2 * half]
    heading = np.unwrap(np.arctan2(chord[:, 1], chord[:, 0]))  # at samples half, half + 1, ...
    bend = (heading[2 * half :] - heading[: -2 * half]) / chord_m  # at samples 2 half, ...
    is_sharp = np.abs(bend) > 1 / max(_LEAST_ROW_RADIUS_M, width_m)
    found = []
    for low, high in _joined(is_sharp, most=int(1.2 * max(width_m, 10.0) / step_m)):
        # Heading before and after, clear of the bend by a chord's half.
        before, after = heading[max(low - half, 0)], heading[min(high + 3 * half, len(heading) - 1)]
        turned = float(np.degrees(after - before))
        if abs(turned) < BEND_DEG and not _is_reversed(heading, low, high):
            continue
        start_m, end_m = along[min(low + 2 * half, len(along) - 1)], along[min(high + 2 * half, len(along) - 1)]
        rows = (np.searchsorted(at_m, start_m, side="right") - 1, np.searchsorted(at_m, end_m, side="left"))
        found.append(Bend(start=first + int(rows[0]), end=first + min(int(rows[1]), len(xy) - 1), turned_deg=turned))
    return found


def _joined(mask: Bools, *, most: int) -> list[tuple[int, int]]:
    """Return first and last of each stretch of a mask, those no more than so many apart taken together."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], mask, [False]]).astype(np.int8)))
    pairs = edges.reshape(-1, 2).tolist()
    joined: list[tuple[int, int]] = []
    for low, high in pairs:
        if joined and low - joined[-1][1] <= most:
            joined[-1] = (joined[-1][0], high - 1)
        else:
            joined.append((low, high - 1))
    return joined


def _is_reversed(heading: FloatArray, low: int, high: int) -> bool:
    """Tell whether a bend goes through a heading opposite to the one it began with: a full circle, or a reverse."""
    inside = heading[low : high + 9]
    return bool(len(inside) and np.abs(np.degrees(inside - heading[max(low - 4, 0)])).max() > REVERSAL_DEG)
