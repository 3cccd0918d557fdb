"""Slope along and across the lines that a tool is driven on, and the steepest stretch of them."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from fieldgeo.layout.axes import Floats, distances_along

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fieldgeo.terrain.ground import Terrain
    from fieldgeo.travel.route import Route

STRETCH_M: Final = 30.48  # 100 ft; own choice: a stretch long enough to matter to a driver
_LEAST_STEP_M: Final = 1.0  # own choice
_MOST_STATIONS: Final = 200_000  # over all lines; own choice

Kind = Literal["pass", "headland"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DrivenLine:
    """A line that the tool works along, in the way it is driven."""

    kind: Kind
    number: int  # of a pass, as driven, from 1; of a headland run the round, from 1
    line: Floats  # (K, 2) in the frame [m]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LineSlopes:
    """Slope along a line at stations in the middles of equal pieces of it."""

    driven: DrivenLine
    step_m: float  # length of a piece [m]
    place_m: Floats  # (N, 2) stations in the frame [m]
    along: Floats  # (N,) rise over run ahead, + climbs; NaN where the slope is not known [-]
    across: Floats  # (N,) rise over run to the left, + rises to the left [-]

    @property
    def steepness(self) -> Floats:
        """Slope of the ground itself, shape (N,). [-]"""
        return np.hypot(self.along, self.across)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """The stretch on which a slope is greatest."""

    driven: DrivenLine
    grade: float  # mean over the stretch, without sign [-]
    length_m: float
    middle_m: tuple[float, float]  # in the frame [m]


def driven_lines(route: Route) -> list[DrivenLine]:
    """Return the passes and headland runs of a route, in the order and the way they are driven.

    Parameters
    ----------
    route : Route
        Work in order.
    """
    lines, passes, last = [], 0, -1
    for leg in route.legs:
        if leg.state == "pass":
            passes += leg.number != last  # a stop within a pass cuts it
            lines.append(DrivenLine(kind="pass", number=passes, line=leg.points()))
            last = leg.number
        elif leg.state == "headland":
            run = route.layout.headland.runs[leg.number]
            lines.append(DrivenLine(kind="headland", number=run.round, line=leg.points()))
            last = -1
    return lines


def line_slopes(ground: Terrain, lines: Sequence[DrivenLine]) -> list[LineSlopes]:
    """Return the slope along and across lines.

    Parameters
    ----------
    ground : Terrain
        Slope of the ground about the field.
    lines : sequence of DrivenLine
        Lines with a length.

    Returns
    -------
    list of LineSlopes
        Derived: along is the gradient times the unit vector of the heading, across times the one to its left. Stations
        are half a cell or half the width that is smoothed to apart, whichever is less, and a metre at the least.
    """
    lengths = [float(distances_along(each.line)[-1]) for each in lines]
    step = max(min(*ground.heights.cell_m, ground.width_m) / 2, _LEAST_STEP_M, sum(lengths) / _MOST_STATIONS)
    stations = [_stations(each.line, max(1, ceil(length / step))) for each, length in zip(lines, lengths, strict=True)]
    if not stations:
        return []
    every = np.concatenate([place for place, _ in stations])
    east, north = ground.gradient(every[:, 0], every[:, 1])
    slopes, at = [], 0
    for driven, length, (place, heading) in zip(lines, lengths, stations, strict=True):
        gx, gy = east[at : at + len(place)], north[at : at + len(place)]
        at += len(place)
        slopes.append(
            LineSlopes(
                driven=driven,
                step_m=length / len(place),
                place_m=place,
                along=gx * heading[:, 0] + gy * heading[:, 1],
                across=gy * heading[:, 0] - gx * heading[:, 1],
            )
        )
    return slopes


def _stations(line: Floats, pieces: int) -> tuple[Floats, Floats]:
    """Return the middles of equal pieces of a line, and the unit vectors along it there."""
    steps = np.diff(line, axis=0)
    lengths = np.hypot(steps[:, 0], steps[:, 1])
    steps, lengths = steps[lengths > 0], lengths[lengths > 0]
    ends = np.cumsum(lengths)
    at = (np.arange(pieces) + 0.5) * ends[-1] / pieces
    segment = np.minimum(np.searchsorted(ends, at), len(ends) - 1)
    heading = steps[segment] / lengths[segment, None]
    starts = line[0] + np.concatenate([np.zeros((1, 2)), np.cumsum(steps, axis=0)[:-1]])
    into = at - (ends[segment] - lengths[segment])
    return starts[segment] + heading * into[:, None], heading


def weighted_quantile(values: Floats, weights: Floats, share: float) -> float | None:
    """Return the value that so large a share of the weight does not exceed; None without a known value.

    Parameters
    ----------
    values : ndarray of shape (N,)
        Values; NaN is left out.
    weights : ndarray of shape (N,)
        Weight of each, >= 0.
    share : float
        0 to 1. [-]

    Examples
    --------
    >>> weighted_quantile(np.array([1.0, 2.0, 9.0]), np.array([1.0, 1.0, 2.0]), 0.5)
    2.0
    """
    is_known = np.isfinite(values)
    order = np.argsort(values[is_known], kind="stable")
    known, weight = values[is_known][order], np.cumsum(weights[is_known][order])
    if known.size == 0 or not weight[-1] > 0:
        return None
    return float(known[min(int(np.searchsorted(weight, share * weight[-1] * (1 - 1e-12))), len(known) - 1)])


def steepest_stretch(slopes: Sequence[LineSlopes], which: Literal["along", "across"]) -> Stretch | None:
    """Return the stretch of some `STRETCH_M` on which the mean slope along or across is greatest.

    Parameters
    ----------
    slopes : sequence of LineSlopes
        Slopes of lines; a line that is shorter is one stretch.
    which : {"along", "across"}
        The slope.

    Returns
    -------
    Stretch or None
        None where no slope is known.
    """
    best: Stretch | None = None
    for each in slopes:
        grades = np.abs(each.along if which == "along" else each.across)
        pieces = min(len(grades), max(1, round(STRETCH_M / each.step_m)))
        sums = np.cumsum(np.concatenate([[0.0], np.nan_to_num(grades)]))
        unknown = np.cumsum(np.concatenate([[0], ~np.isfinite(grades)]))
        means = np.where(unknown[pieces:] == unknown[:-pieces], (sums[pieces:] - sums[:-pieces]) / pieces, -1.0)
        start = int(np.argmax(means))
        if means[start] >= 0 and (best is None or means[start] > best.grade):
            middle = each.place_m[start : start + pieces].mean(axis=0)
            best = Stretch(
                driven=each.driven,
                grade=float(means[start]),
                length_m=pieces * each.step_m,
                middle_m=(float(middle[0]), float(middle[1])),
            )
    return best
