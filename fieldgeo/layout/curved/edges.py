"""Edges of a field by number: stretches of outline from corner to corner, however bent in between."""

from __future__ import annotations

from math import atan2, degrees, radians
from typing import Final, NamedTuple

import numpy as np
import shapely

from fieldgeo.layout.axes import Floats, distances_along
from fieldgeo.layout.corners import turns_at_scale

# A corner is where the outline turns by this much over so many metres to either side, near and far: at once, and not
# only for a bump. A creek that winds turns as much, but not at once. The tool does not enter, so that the numbers stay.
# All three: common practice, no source.
CORNER_RAD: Final = radians(40.0)
NEAR_M: Final = 5.0
REACH_M: Final = 30.0


class FieldEdge(NamedTuple):
    """One edge of a field."""

    number: int  # from 1
    part: int  # part of the outline
    line: Floats  # (K, 2) the field on its left [m]
    is_hole: bool  # the edge of a hole
    is_closed: bool  # all round, without a corner

    @property
    def length_m(self) -> float:
        """Length along the outline. [m]"""
        return float(distances_along(self.line)[-1])

    @property
    def azimuth_deg(self) -> float:
        """Azimuth from one end to the other, 0 <= a < 180; 0 for one without ends. [deg]"""
        x, y = (self.line[-1] - self.line[0]).tolist()
        return 0.0 if self.is_closed else degrees(atan2(x, y)) % 180.0


def field_edges(shape: shapely.MultiPolygon) -> tuple[FieldEdge, ...]:
    """Return the edges of an outline, numbered.

    Parameters
    ----------
    shape : shapely.MultiPolygon
        Outline in the frame. [m]

    Returns
    -------
    tuple of FieldEdge
        Part by part, the outer edges first: clockwise from the corner nearest to the north-west, holes after them.
    """
    found: list[FieldEdge] = []
    for part, polygon in enumerate(shapely.orient_polygons(shape).geoms):
        for hole, ring in enumerate([polygon.exterior, *polygon.interiors]):
            for line, is_closed in _ring_edges(shapely.get_coordinates(ring)[:-1]):
                found.append(FieldEdge(len(found) + 1, part, line, hole > 0, is_closed))
    return tuple(found)


def _ring_edges(ring: Floats) -> list[tuple[Floats, bool]]:
    """Return the edges of one open ring, the ground on the left, in clockwise order."""
    corners = _corners(ring)
    if len(corners) == 0:
        first = _north_west(ring, np.arange(len(ring)))
        turned = np.roll(ring, -first, axis=0)
        return [(np.vstack([turned, turned[:1]]), True)]
    first = int(np.flatnonzero(corners == _north_west(ring, corners))[0])
    corners = np.roll(corners, -first)
    edges = []
    for start, stop in zip(corners.tolist(), np.roll(corners, -1).tolist(), strict=True):
        last = stop if stop > start else stop + len(ring)
        edges.append((ring[np.arange(start, last + 1) % len(ring)], False))
    # The ring runs counter-clockwise; backward it is clockwise from the same corner.
    return edges[::-1]


def _north_west(ring: Floats, among: np.ndarray[tuple[int], np.dtype[np.int64]]) -> int:
    return int(among[np.argmin(np.round(ring[among, 0] - ring[among, 1], 3))])


def _corners(ring: Floats) -> np.ndarray[tuple[int], np.dtype[np.int64]]:
    """Return the corners of an open ring, the sharpest of those that lie within a reach of each other."""
    turns = np.minimum(np.abs(turns_at_scale(ring, NEAR_M)), np.abs(turns_at_scale(ring, REACH_M)))
    along = distances_along(np.vstack([ring, ring[:1]]))
    corners: list[int] = []
    for index in np.argsort(-np.round(turns, 6), kind="stable").tolist():
        if turns[index] < CORNER_RAD:
            break
        apart = np.abs(along[corners] - along[index])
        if len(corners) == 0 or np.minimum(apart, along[-1] - apart).min() > REACH_M:
            corners.append(index)
    return np.array(sorted(corners), dtype=np.int64)


def without_hooks(line: Floats) -> Floats:
    """Return a line without the short hook that it may have at either end, as round the end of a waterway.

    Passes go on straight from the ends of what they follow; from a hook they would go off to the side.

    Parameters
    ----------
    line : ndarray of shape (K, 2)
        Points of the line. [m]
    """
    along = distances_along(line)
    turns = np.zeros(len(line))
    for index in range(1, len(line) - 1):
        before, after = line[index] - _at(line, along, along[index] - NEAR_M), _at(line, along, along[index] + NEAR_M)
        after = after - line[index]
        turns[index] = abs(atan2(before[0] * after[1] - before[1] * after[0], float(before @ after)))
    reach = min(REACH_M, along[-1] / 4)
    at_start = np.flatnonzero((turns > CORNER_RAD) & (along < reach))
    at_end = np.flatnonzero((turns > CORNER_RAD) & (along > along[-1] - reach))
    return line[at_start.max(initial=0) : at_end.min(initial=len(line) - 1) + 1]


def _at(line: Floats, along: Floats, at_m: float) -> Floats:
    return np.array([np.interp(at_m, along, line[:, axis]) for axis in (0, 1)])


def joined_edges(edges: tuple[FieldEdge, ...], numbers: tuple[int, ...]) -> Floats | None:
    """Return edges as one line, the field on its left; None where they do not meet end to end.

    Parameters
    ----------
    edges : tuple of FieldEdge
        From `field_edges`.
    numbers : tuple of int
        Numbers of the edges, in any order.
    """
    left = [edges[number - 1].line for number in numbers]
    line = left.pop(0)
    while left:
        for place, other in enumerate(left):
            if np.array_equal(line[-1], other[0]):
                line = np.vstack([line, other[1:]])
            elif np.array_equal(other[-1], line[0]):
                line = np.vstack([other, line[1:]])
            else:
                continue
            left.pop(place)
            break
        else:
            return None
    return None if len(numbers) > 1 and np.array_equal(line[0], line[-1]) else line
