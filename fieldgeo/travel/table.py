"""The time line as a table: where the tool is at even steps of time, ready to be drawn or moved along."""

from __future__ import annotations

from math import isfinite
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from fieldgeo.errors import InputError
from fieldgeo.layout.axes import Floats, distances_along
from fieldgeo.layout.strips import Ints
from fieldgeo.travel.timeline import Timeline
from fieldgeo.travel.turns import Turn

MOST_ROWS: Final = 5_000_000  # two months at a step of one second


class TimelineTable(NamedTuple):
    """Where the tool is and what it does, one row for each step of time."""

    time_s: Floats  # (N,) since the work began [s]
    x_m: Floats  # (N,) east in the frame [m]
    y_m: Floats  # (N,) north [m]
    lon: Floats  # (N,) WGS 84 [deg]
    lat: Floats  # (N,) [deg]
    state: NDArray[np.str_]  # (N,) state of the time line
    pass_number: Ints  # (N,) of the pass being driven, in the order driven from 1; 0 elsewhere
    driven_m: Floats  # (N,) distance driven since the work began [m]


def timeline_table(timeline: Timeline, step_s: float = 1.0) -> TimelineTable:
    """Return a time line as a table of even steps, with a last row at its very end.

    Parameters
    ----------
    timeline : Timeline
        The time line.
    step_s : float
        Time between rows, > 0. [s]

    Raises
    ------
    InputError
        If the step is not a finite number above zero, or so short that there are more than `MOST_ROWS` rows.
    """
    total_s = timeline.field_time_s
    if not (isfinite(step_s) and step_s > 0):
        raise InputError(f"step: got {step_s:g} s. It must be a finite number above zero.")
    if total_s / step_s > MOST_ROWS:
        raise InputError(f"step: got {step_s:g} s, which is {total_s / step_s:,.0f} rows. Give a longer step.")
    if not timeline.state:
        none = np.empty(0)
        return TimelineTable(none, none, none, none, none, np.empty(0, dtype=str), np.empty(0, dtype=np.int64), none)
    time = np.append(np.arange(0.0, total_s, step_s), total_s)
    row = np.clip(np.searchsorted(timeline.start_s, time, side="right") - 1, 0, len(timeline.state) - 1)
    share = np.clip((time - timeline.start_s[row]) / timeline.duration_s[row], 0.0, 1.0)
    at, xy, driven = _joined(timeline)
    # One axis for all entries: the number of the entry, and the share of its time.
    moment = row + share
    x, y, driven_m = (np.interp(moment, at, values) for values in (xy[:, 0], xy[:, 1], driven))
    lon, lat = timeline.route.layout.field.frame.to_lonlat(x, y)
    numbers = _pass_numbers(timeline)
    return TimelineTable(time, x, y, lon, lat, np.array(timeline.state)[row], numbers[row], driven_m)


def _joined(timeline: Timeline) -> tuple[Floats, Floats, Floats]:
    """Return the points of all entries: where each stands on the axis of entries, its place, and the way driven."""
    points = [leg.points() for leg in timeline.route.legs]
    after = timeline.is_after_leg()
    at, xy, driven = [], [], []
    so_far = 0.0
    for row, (state, leg) in enumerate(zip(timeline.state, timeline.leg, strict=True)):
        line = points[leg]
        if state in {"lifting", "adjusting", "filling", "unloading"}:
            place = line[-1] if after[row] else line[0]
            at.append(np.array([row, row + 1.0]))
            xy.append(np.array([place, place]))
            driven.append(np.full(2, so_far))
            continue
        turn = timeline.route.legs[leg].turn
        share, line = _even(line) if turn is None else _turned(line, turn)
        along = distances_along(line)
        at.append(row + share)
        xy.append(line)
        driven.append(so_far + along)
        so_far += float(along[-1])
    return np.concatenate(at), np.vstack(xy), np.concatenate(driven)


def _even(line: Floats) -> tuple[Floats, Floats]:
    """Return the share of time of each point of a line that is driven evenly, and the line."""
    along = distances_along(line)
    return along / along[-1], line


def _turned(line: Floats, turn: Turn) -> tuple[Floats, Floats]:
    """Return the share of time of each point of a turn, with the points where it changes pace or stands."""
    times_s, driven_m = (np.array(values) for values in turn.pace())
    along = distances_along(line)
    along *= driven_m[-1] / along[-1]  # arcs are drawn with chords
    knots = np.column_stack([np.interp(driven_m, along, line[:, axis]) for axis in (0, 1)])
    time_s = np.concatenate([np.interp(along, driven_m, times_s), times_s])
    order = np.lexsort((np.concatenate([along, driven_m]), time_s))
    return time_s[order] / times_s[-1], np.vstack([line, knots])[order]


def _pass_numbers(timeline: Timeline) -> Ints:
    """Return for each entry the number of the pass that it drives, or 0; stretches of one pass share it."""
    order: dict[int, int] = {}
    for leg in timeline.route.legs:
        if leg.state == "pass":
            order.setdefault(leg.number, len(order) + 1)
    return np.array(
        [
            order[timeline.route.legs[leg].number] if state == "passes" else 0
            for state, leg in zip(timeline.state, timeline.leg, strict=True)
        ],
        dtype=np.int64,
    )
