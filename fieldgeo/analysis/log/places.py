"""Places of a log: fixes that cannot be, and the fields that the records lie in."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from math import cos, radians
from typing import Final

import numpy as np
import numpy.typing as npt

from fieldgeo.frame import FloatArray

Bools = npt.NDArray[np.bool_]
Ints = npt.NDArray[np.int64]

_METRES_PER_DEG: Final = 111_320.0
# A fix is a jump when it asks for more than so many times the speed that nine records in ten keep, and at least this
# speed; a run of so many such records is dropped when the track goes on without it (all own choice).
_JUMP_TIMES: Final = 3.0
_LEAST_JUMP_M_S: Final = 6.0
_LONGEST_RUN: Final = 60
# Fields are looked for on a grid of this size; a cell belongs to one when as much time was spent in it as this share of
# what is spent in a typical cell (own choice: a road is passed in a hundredth of the time a field takes).
_CELL_M: Final = 60.0
_LEAST_SHARE: Final = 0.15
_LONGEST_STEP_S: Final = 60.0
_SPOT_M: Final = 4.0  # standing within this is a stop; a whole number of them makes a cell
# Cells less than so many apart are one field: a strip of grass or a lane parts no field, 180 m do.
_REACH: Final = 2


def are_on_earth(lon_deg: FloatArray, lat_deg: FloatArray) -> Bools:
    """Return which positions are places on Earth, shape (N,); longitude and latitude both zero are none.

    Parameters
    ----------
    lon_deg, lat_deg : ndarray of shape (N,)
        Positions; NaN where there is none. [deg]
    """
    with np.errstate(invalid="ignore"):
        is_there = (np.abs(lon_deg) <= 180) & (np.abs(lat_deg) <= 85)
    return np.asarray(is_there & ~((lon_deg == 0) & (lat_deg == 0)))


def local_metres(lon_deg: FloatArray, lat_deg: FloatArray) -> FloatArray:
    """Return positions in a rough plane of the whole file, shape (N, 2). [m]

    Parameters
    ----------
    lon_deg, lat_deg : ndarray of shape (N,)
        Positions. [deg]

    Notes
    -----
    Derived: x = longitude x cos(latitude of the middle); steps are off by less than 1 % within 30 km.
    """
    lon, lat = np.median(lon_deg), np.median(lat_deg)
    east_deg = (lon_deg - lon + 180) % 360 - 180
    return np.column_stack([east_deg * cos(radians(float(lat))), lat_deg - lat]) * _METRES_PER_DEG


def without_jumps(xy: FloatArray, time_s: FloatArray) -> Bools:
    """Return which records to keep, shape (N,): not those that jump away and back again.

    Parameters
    ----------
    xy : ndarray of shape (N, 2)
        Places. [m]
    time_s : ndarray of shape (N,)
        Times, never falling. [s]
    """
    keep = np.ones(len(xy), dtype=bool)
    if len(xy) < 3:
        return keep
    step_m = np.hypot(*np.diff(xy, axis=0).T)
    step_s = np.maximum(np.diff(time_s), 1e-3)
    speed = step_m / step_s
    limit = max(_LEAST_JUMP_M_S, _JUMP_TIMES * float(np.percentile(speed, 90)))
    jumps = np.flatnonzero((speed > limit) & (step_m > 2 * limit / _JUMP_TIMES)) + 1
    if not len(jumps):
        return keep
    bounds = np.concatenate([[0], jumps, [len(xy)]]).tolist()
    runs = list(pairwise(bounds))
    last = 0  # last row that is kept
    for number, (start, end) in enumerate(runs):
        if number == 0:
            # A short run at the very start is the odd one out when the next is long.
            if end - start <= _LONGEST_RUN and len(runs) > 1 and runs[1][1] - runs[1][0] > 10 * (end - start):
                keep[start:end] = False
                last = -1
            else:
                last = end - 1
            continue
        if end - start > _LONGEST_RUN or last < 0:
            last = end - 1
            continue
        if _is_within_reach(xy, time_s, last, start, limit):
            last = end - 1
        elif number + 1 == len(runs) or any(
            _is_within_reach(xy, time_s, last, later, limit) for later, _ in runs[number + 1 : number + 4]
        ):
            keep[start:end] = False
        else:
            last = end - 1
    return keep


def _is_within_reach(xy: FloatArray, time_s: FloatArray, start: int, end: int, limit_m_s: float) -> bool:
    gone_m = float(np.hypot(*(xy[end] - xy[start])))
    return gone_m <= limit_m_s * max(float(time_s[end] - time_s[start]), 1e-3)


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldFound:
    """One field among the records of a file."""

    rows: Ints  # its records
    time_s: float  # spent in it [s]
    lonlat: tuple[float, float]  # middle [deg]


def find_fields(lon_deg: FloatArray, lat_deg: FloatArray, time_s: FloatArray) -> list[FieldFound]:
    """Return the fields that the records of a file lie in, the one with most time first.

    Where little time is spent for the ground passed over is no field but the way to it.

    Parameters
    ----------
    lon_deg, lat_deg : ndarray of shape (N,)
        Positions. [deg]
    time_s : ndarray of shape (N,)
        Times, never falling. [s]
    """
    xy = local_metres(lon_deg, lat_deg)
    spent_s = np.minimum(np.diff(time_s, append=time_s[-1]), _LONGEST_STEP_S)
    cells, cell_of = np.unique(np.floor(xy / _CELL_M).astype(np.int64), axis=0, return_inverse=True)
    cell_of = cell_of.reshape(-1)
    in_cell_s = _spent_moving_s(xy, spent_s, cell_of, len(cells))
    order = np.argsort(in_cell_s)
    half = np.searchsorted(np.cumsum(in_cell_s[order]), in_cell_s.sum() / 2)
    typical_s = in_cell_s[order[min(int(half), len(order) - 1)]]
    is_busy = in_cell_s >= _LEAST_SHARE * typical_s
    group_of = _groups(cells, is_busy)
    found = []
    for group in range(group_of.max() + 1):
        rows = np.flatnonzero(group_of[cell_of] == group)
        middle = (float(np.median(lon_deg[rows])), float(np.median(lat_deg[rows])))
        found.append(FieldFound(rows=rows, time_s=float(spent_s[rows].sum()), lonlat=middle))
    found.sort(key=lambda each: -each.time_s)
    # Less than a hundredth of the time is no field but a stop on the way.
    return [each for each in found if each.time_s >= 0.01 * found[0].time_s] or found[:1]


def _spent_moving_s(xy: FloatArray, spent_s: FloatArray, cell_of: Ints, count: int) -> FloatArray:
    """Return the time spent in each cell, a stop counted for no more than `_LONGEST_STEP_S`."""
    spots, spot_of = np.unique(np.floor(xy / _SPOT_M).astype(np.int64), axis=0, return_inverse=True)
    spot_of = spot_of.reshape(-1)
    in_spot_s = np.minimum(np.bincount(spot_of, weights=spent_s, minlength=len(spots)), _LONGEST_STEP_S)
    cell_of_spot = np.zeros(len(spots), dtype=np.int64)
    cell_of_spot[spot_of] = cell_of
    return np.asarray(np.bincount(cell_of_spot, weights=in_spot_s, minlength=count), dtype=np.float64)


def _groups(cells: Ints, is_busy: Bools) -> Ints:
    """Return the group of each cell, -1 for those of none: busy cells near each other, with the cells beside them."""
    number = {(x, y): row for row, (x, y) in enumerate(cells.tolist())}
    group_of = np.full(len(cells), -1, dtype=np.int64)
    steps = [(x, y) for x in range(-_REACH, _REACH + 1) for y in range(-_REACH, _REACH + 1) if (x, y) != (0, 0)]
    beside = [(x, y) for x, y in steps if abs(x) <= 1 and abs(y) <= 1]
    group = -1
    for first in np.flatnonzero(is_busy).tolist():
        if group_of[first] >= 0:
            continue
        group += 1
        group_of[first] = group
        waiting = [first]
        while waiting:
            x, y = cells[waiting.pop()].tolist()
            for east, north in steps:
                row = number.get((x + east, y + north))
                if row is not None and is_busy[row] and group_of[row] < 0:
                    group_of[row] = group
                    waiting.append(row)
    for row in np.flatnonzero(group_of >= 0).tolist():
        if not is_busy[row]:
            continue
        x, y = cells[row].tolist()
        for east, north in beside:
            other = number.get((x + east, y + north))
            if other is not None and group_of[other] < 0:
                group_of[other] = group_of[row]
    return group_of
