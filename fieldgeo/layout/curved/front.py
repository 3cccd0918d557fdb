"""Lines parallel to a line, at any distance, with sharp bends rounded to a radius.

A `Front` is a line that moves to its left, every segment at the same speed, square to itself. Where it bends to the
left its segments grow shorter; one that has shrunk to nothing is taken out, and its neighbours meet in a corner. So two
fronts at different distances are exactly parallel, segment by segment, and their swaths lie edge to edge.

Moved on by a radius, then back with each corner taken as an arc, a front has its left bends rounded to that radius,
and is unchanged wherever it bends less. (Derived: a front moved left is a dilation, moved back an erosion; the two
together are a closing by a disc, the track of a disc that rolls along the line.)
"""

from __future__ import annotations

from math import radians
from typing import Final, NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from fieldgeo.errors import LayoutError
from fieldgeo.layout.axes import Floats
from fieldgeo.layout.strips import Ints

# Greatest bend at one point of an arc. At 400 m from the key line the points of an arc then lie 14 m apart, and the arc
# is true to 6 cm. (Derived: d / cos(1 deg) - d.)
STEP_RAD: Final = radians(2.0)
# A bend is split only where it is more than this: a bend of a step and a bit is none to steer round.
SPLIT_RAD: Final = radians(3.0)
# Tangents are held below this, so that two segments that run back along each other have a corner too.
MOST_TANGENT: Final = 1e6
# Segments shorter than this are none: float noise of coordinates a few kilometres from the origin, with room to spare.
NO_LENGTH_M: Final = 1e-7


class Front(NamedTuple):
    """A line as points and the directions of its segments; a segment may be of no length, and still has a direction."""

    points: Floats  # (K, 2) [m]
    ahead: Floats  # (K - 1, 2) unit vectors


def front_of(line: Floats) -> Front:
    """Return a line as a front.

    Parameters
    ----------
    line : ndarray of shape (K, 2)
        Points of the line, no two one after the other at one place. [m]
    """
    steps = np.diff(line, axis=0)
    return Front(line, steps / np.hypot(*steps.T)[:, None])


def flipped(front: Front) -> Front:
    """Return a front driven the other way, so that its left is what was its right."""
    return Front(front.points[::-1], -front.ahead[::-1])


def bends_rad(ahead: Floats) -> Floats:
    """Return the bend at each inner point, to the left above zero, shape (K - 2,). [rad]"""
    one, two = ahead[:-1], ahead[1:]
    return np.asarray(np.arctan2(one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0], (one * two).sum(axis=1)))


def nearest_segments(points: Floats, line: Floats) -> tuple[Floats, Ints]:
    """Return how far points lie from a line, and which of its segments is nearest to each.

    Parameters
    ----------
    points : ndarray of shape (N, 2)
        Points. [m]
    line : ndarray of shape (K, 2)
        Points of the line. [m]

    Returns
    -------
    distance_m : ndarray of shape (N,)
        Distances. [m]
    segment : ndarray of int of shape (N,)
        Number of the segment, from 0.
    """
    segments = np.asarray(shapely.linestrings(np.stack([line[:-1], line[1:]], axis=1)), dtype=object)
    tree = shapely.STRtree(segments)
    rows, distances = tree.query_nearest(shapely.points(points), all_matches=False, return_distance=True)
    return np.asarray(distances), np.asarray(rows[1])


def _tangents(ahead: Floats) -> Floats:
    """Return the tangent of half the bend at every point, zero at the ends, shape (K,). [-]"""
    half = bends_rad(ahead) / 2
    inner = np.clip(np.tan(half), -MOST_TANGENT, MOST_TANGENT)
    return np.concatenate([[0.0], inner, [0.0]])


def sideways(front: Front) -> Floats:
    """Return how each point moves when the front moves a metre to its left, shape (K, 2). [-]

    At a bend it moves along the line that halves it, a little further than a metre: segments stay parallel.
    """
    before = np.vstack([front.ahead[:1], front.ahead])
    left = np.column_stack([-before[:, 1], before[:, 0]])
    return np.asarray(left - _tangents(front.ahead)[:, None] * before)


def move_left(front: Front, distance_m: float) -> Front:
    """Return a front moved to its left.

    Parameters
    ----------
    front : Front
        The front. Its end segments must be long: they shrink too.
    distance_m : float
        How far, >= 0. [m]

    Raises
    ------
    LayoutError
        If an end segment shrinks to nothing: the line turns back on itself.
    """
    left_m = distance_m
    while True:
        tangents = _tangents(front.ahead)
        steps = np.diff(front.points, axis=0)
        lengths = (steps * front.ahead).sum(axis=1)
        shrinks = tangents[:-1] + tangents[1:]
        with np.errstate(divide="ignore", invalid="ignore"):
            until = np.where(shrinks > 1e-15, np.maximum(lengths, 0.0) / shrinks, np.inf)
        first_m = float(until.min())
        moved = Front(front.points + min(first_m, left_m) * sideways(front), front.ahead)
        if first_m > left_m:
            return moved
        left_m -= first_m
        front = _without(moved, until <= first_m + NO_LENGTH_M)


def _without(front: Front, is_gone: NDArray[np.bool_]) -> Front:
    """Return a front without the segments that have shrunk to nothing."""
    if is_gone[0] or is_gone[-1]:
        raise LayoutError(
            "key line: it turns back on itself, and its ends run into each other. Draw a line that turns by less than "
            "half a circle, or lay circles."
        )
    return Front(front.points[np.concatenate([[True], ~is_gone])], front.ahead[~is_gone])


def split_bends(front: Front) -> Front:
    """Return a front with each left bend that is more than a step taken as several, all at one point."""
    bends = np.concatenate([[0.0], bends_rad(front.ahead)])
    counts = np.where(bends > SPLIT_RAD, np.ceil(bends / STEP_RAD), 1.0).astype(np.int64)
    if (counts == 1).all():
        return front
    points, ahead = [front.points[:1]], []
    for point, count, bend, before, after in zip(
        front.points[1:], counts, bends, np.vstack([front.ahead[:1], front.ahead[:-1]]), front.ahead, strict=True
    ):
        if count > 1:
            angles = bend / count * np.arange(1, count)
            cosine, sine = np.cos(angles), np.sin(angles)
            ahead.append(
                np.column_stack([cosine * before[0] - sine * before[1], sine * before[0] + cosine * before[1]])
            )
            points.append(np.repeat(points[-1][-1:], count - 1, axis=0))
        ahead.append(after[None])
        points.append(point[None])
    return Front(np.vstack(points), np.vstack(ahead))


def back_with_arcs(front: Front, radius_m: float) -> Front:
    """Return a front moved to its right, each left bend on the way taken as an arc of that radius.

    Parameters
    ----------
    front : Front
        A front that was moved to its left by as much, or more.
    radius_m : float
        How far, and the radius of the arcs, >= 0. [m]
    """
    # Beside an arc a segment may vanish on the way, as an arc is a chain of chords: it is taken out, as in any move.
    return flipped(move_left(flipped(split_bends(front)), radius_m))


def unfolded(front: Front, half_width_m: float) -> Front:
    """Return a front without the segments that a bar across it would fold over, their neighbours drawn out to meet.

    Parameters
    ----------
    front : Front
        A front that is rounded to more than half the width on both sides: what folds still are chords of a millimetre
        where an arc to the left meets one to the right.
    half_width_m : float
        Half the length of the bar. [m]
    """
    for _ in range(2):
        front = flipped(move_left(flipped(move_left(front, half_width_m)), half_width_m))
        front = flipped(front)
    return front


def rounded_left(front: Front, radius_m: float) -> Front:
    """Return a front with its left bends rounded to a radius, the rest as it is.

    Parameters
    ----------
    front : Front
        The front.
    radius_m : float
        Least radius to the left, >= 0. [m]

    Raises
    ------
    LayoutError
        If the line turns back on itself.
    """
    return back_with_arcs(move_left(front, radius_m), radius_m)
