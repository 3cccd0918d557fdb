"""Corners of a headland round: which the tool steers round, and where it lifts and sets down at the others.

A tool is a straight bar. Where a round turns by an angle t, the side before the corner (the first) and the side after
it (the next) leave ground between their ends or work some twice; the finish rule says which. All lengths are derived
from the two bars' positions at the corner; w is the width, and the path runs w/2 from the outer edge.
"""

from __future__ import annotations

from math import atan, cos, pi, sin, tan
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from fieldgeo.layout.axes import Floats, distances_along
from fieldgeo.layout.strips import Finish

# A corner is steered round when cutting it leaves less than this share of the width. Common practice, no source.
STEERED_SHARE = 0.05
# Angles too small to be a corner, whatever the sides beside them. Common practice, no source.
SLIGHT_RAD = 0.2
# Bends are judged over this many widths to either side. Common practice, no source.
SCALE_WIDTHS = 1.5
# Up to this turn the next side starts in the corner; above it the first side runs on instead. Derived: at 60 degrees
# both ways sweep the same extra ground, w^2 tan(t/2) = w^2 cot(t).
RUN_ON_RAD = pi / 3
# A round turned back on itself is covered by at most this many widths of run-on.
RUN_ON_WIDTHS = 2.0
# The corner of a path turned back on itself lies at infinity; it is taken to turn no more than this, which puts it five
# widths out. Common practice, no source.
MOST_TURN_RAD = 2 * atan(10.0)


class CornerReach(NamedTuple):
    """How the sides at a corner are lengthened (above zero) or cut short (below), from the path's own corner."""

    first_end_m: float  # added to the end of the first side [m]
    next_start_m: float  # added to the start of the next side [m]


def turn_angles(ring: Floats) -> Floats:
    """Return the turn at every vertex of an open ring of shape (K, 2): left above zero, shape (K,). [rad]"""
    step = np.roll(ring, -1, axis=0) - ring
    heading = np.arctan2(step[:, 1], step[:, 0])
    turn = heading - np.roll(heading, 1)
    return np.asarray((turn + pi) % (2 * pi) - pi)


def turns_at_scale(ring: Floats, reach_m: float) -> Floats:
    """Return the turn at every vertex of an open ring between its chords to the places a reach before and after it.

    Parameters
    ----------
    ring : ndarray of shape (K, 2)
        First point not repeated. [m]
    reach_m : float
        Distance along the ring; held to a quarter of its length. [m]

    Returns
    -------
    ndarray of shape (K,)
        Left above zero. A wiggle much shorter than the reach does not show. (Derived.) [rad]
    """
    closed = np.vstack([ring, ring[:1]])
    along = distances_along(closed)
    reach = min(reach_m, along[-1] / 4)

    def place(at: Floats) -> Floats:
        at = np.mod(at, along[-1])
        return np.column_stack([np.interp(at, along, closed[:, 0]), np.interp(at, along, closed[:, 1])])

    before, after = ring - place(along[:-1] - reach), place(along[:-1] + reach) - ring
    turn = np.arctan2(after[:, 1], after[:, 0]) - np.arctan2(before[:, 1], before[:, 0])
    return np.asarray((turn + pi) % (2 * pi) - pi)


def sharp_corners(ring: Floats, radius_m: float, width_m: float) -> NDArray[np.int64]:
    """Return the vertices of an open ring at which the tool has to lift and turn.

    Parameters
    ----------
    ring : ndarray of shape (K, 2)
        Path of a round, first point not repeated. [m]
    radius_m : float
        Least turning radius. [m]
    width_m : float
        Width of the tool. [m]

    Returns
    -------
    ndarray of shape (S,)
        Indices, ascending. A vertex is steered round instead when an arc of the least radius cuts the corner by less
        than a twentieth of the width, r (1 / cos(t/2) - 1), and fits into the sides beside it; or when the turn over
        one and a half widths to either side is that slight: no driver lifts for every bend of a creek. Of several sharp
        vertices within a width the sharpest counts. (Derived; the limits are common practice, no source.)
    """
    turn = np.abs(turn_angles(ring))
    length = np.hypot(*(np.roll(ring, -1, axis=0) - ring).T)
    beside = np.minimum(length, np.roll(length, 1))
    tangent = radius_m * np.tan(np.minimum(turn, pi - 1e-6) / 2)
    at_scale = np.abs(turns_at_scale(ring, SCALE_WIDTHS * width_m))
    is_steered = (_cut_m(turn, radius_m) < STEERED_SHARE * width_m) & (tangent <= beside / 2)
    is_bend = _cut_m(at_scale, radius_m) < STEERED_SHARE * width_m
    sharp = np.flatnonzero((turn >= SLIGHT_RAD) & ~is_steered & ~is_bend)
    return _sharpest(sharp, turn, length, width_m)


def _cut_m(turn: Floats, radius_m: float) -> Floats:
    return np.asarray(radius_m * (1 / np.maximum(np.cos(turn / 2), 1e-9) - 1))


def _sharpest(corners: NDArray[np.int64], turn: Floats, length: Floats, width_m: float) -> NDArray[np.int64]:
    """Return the corners less those within a width of a sharper one, along the ring."""
    along = np.concatenate([[0.0], np.cumsum(length)])
    kept: list[int] = []
    # Equally sharp corners must not be told apart by float noise.
    for corner in corners[np.argsort(-np.round(turn[corners], 6), kind="stable")].tolist():
        apart = [abs(along[corner] - along[other]) for other in kept]
        if all(min(gap, along[-1] - gap) >= width_m for gap in apart):
            kept.append(corner)
    return np.array(sorted(kept), dtype=np.int64)


def corner_reach(turn_rad: float, width_m: float, finish: Finish) -> CornerReach:
    """Return where the first side ends and the next begins at a corner.

    Parameters
    ----------
    turn_rad : float
        Turn of the path, left (toward the field) above zero, -pi < t < pi. [rad]
    width_m : float
        Width of the tool. [m]
    finish : {"cover", "clean", "half"}
        `cover` leaves no ground, `clean` works none twice, `half` stands half way between.
    """
    if finish == "half":
        cover, clean = corner_reach(turn_rad, width_m, "cover"), corner_reach(turn_rad, width_m, "clean")
        return CornerReach((cover.first_end_m + clean.first_end_m) / 2, (cover.next_start_m + clean.next_start_m) / 2)
    reach = _inner_corner if turn_rad < 0 else _outer_corner
    return reach(min(abs(turn_rad), MOST_TURN_RAD), width_m, finish == "cover")


def _outer_corner(turn: float, width: float, is_cover: bool) -> CornerReach:
    """Corner that points out of the field. Positions are along each side from the corner of the outer edge."""
    to_outer = width / 2 * tan(turn / 2)
    bar_end = width * tan(turn / 2)  # where both inner edges meet
    if turn <= RUN_ON_RAD:
        end, start = 0.0, (0.0 if is_cover else width * sin(turn))
    elif turn < pi / 2:
        run_on = width * cos(turn) / sin(turn)
        end, start = (run_on, bar_end) if is_cover else (0.0, width * sin(turn))
    else:
        lean = -width * cos(turn) / sin(turn)
        end, start = (0.0, width / sin(turn)) if is_cover else (-lean, bar_end)
    return CornerReach(to_outer + end, start - to_outer)


def _inner_corner(turn: float, width: float, is_cover: bool) -> CornerReach:
    """Corner that points into the field (a notch, or round a pond). Positions are from the corner of the outer edge."""
    to_outer = width / 2 * tan(turn / 2)
    run_on = min(width * max(tan(turn / 2), sin(turn)), RUN_ON_WIDTHS * width) if is_cover else 0.0
    return CornerReach(run_on - to_outer, to_outer)
