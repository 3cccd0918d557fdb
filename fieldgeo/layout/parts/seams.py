"""Seams: where parts of a field meet, and which of two parts gives the other room to turn.

Passes that end on a seam need ground to turn on. Where the passes of the part beyond it run along the seam, that part
is the turning ground: it is worked afterwards, and its passes cover what was turned on, as end rows do. (A crop is
cut the other way about: the turning ground is opened first.) So no ground is lost to a seam; but the one part has to
wait for the other.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely

from fieldgeo.layout.axes import Floats, turn_matrix
from fieldgeo.layout.sides import WANDER_SHARE
from fieldgeo.machinery.tool import Tool

# Bodies this close to each other meet: float noise of the overlays, with room to spare.
TOUCH_M: Final = 1e-3
# What meets over less than this share of the width meets at a corner; no pass ends there. Common practice, no source.
CORNER_SHARE: Final = 0.5


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Seam:
    """The line on which two parts meet."""

    first: int  # number of the one part
    second: int  # number of the other, above `first`
    line: shapely.MultiLineString  # in the frame [m]
    chords: Floats  # (S, 2) steps along its straight stretches [m]

    @property
    def length_m(self) -> float:
        """Length of the line. [m]"""
        return float(np.hypot(*self.chords.T).sum())

    def runs_along(self, direction_deg: float, tool: Tool) -> bool:
        """Return whether the line runs along passes of a direction, so that none of them ends on it.

        Parameters
        ----------
        direction_deg : float
            Azimuth of the passes. [deg]
        tool : Tool
            Gives the width; a stretch may wander across the passes as little as a side of the outline may.
        """
        across = np.abs(self.chords @ turn_matrix(direction_deg)[:, 1])
        return bool((across <= WANDER_SHARE * tool.width_m).all())


def find_seams(bodies: Sequence[shapely.MultiPolygon], tool: Tool) -> tuple[Seam, ...]:
    """Return the seams between bodies that lie beside each other.

    Parameters
    ----------
    bodies : sequence of shapely.MultiPolygon
        Ground of each part, in the frame; none lies on another. [m]
    tool : Tool
        Gives the width; bodies that meet over less than half of it meet at a corner.
    """
    edges = [shapely.boundary(body) for body in bodies]
    seams = []
    for first, second in shapely.STRtree(bodies).query(bodies, predicate="dwithin", distance=TOUCH_M).T.tolist():
        if first >= second:
            continue
        shared = shapely.intersection(edges[first], shapely.buffer(bodies[second], TOUCH_M))
        line = _straightened(shared)
        chords = _chords(line)
        if float(np.hypot(*chords.T).sum()) > CORNER_SHARE * tool.width_m:
            seams.append(Seam(first=first, second=second, line=line, chords=chords))
    return tuple(sorted(seams, key=lambda seam: (seam.first, seam.second)))


def _straightened(shared: shapely.Geometry) -> shapely.MultiLineString:
    """Return the lines of a geometry, joined and thinned to their corners. [m]"""
    parts = [part for part in shapely.get_parts(shared) if isinstance(part, shapely.LineString)]
    merged = shapely.simplify(shapely.line_merge(shapely.MultiLineString(parts)), 10 * TOUCH_M)
    return shapely.MultiLineString([part for part in shapely.get_parts(merged) if part.length > 3 * TOUCH_M])


def _chords(line: shapely.MultiLineString) -> Floats:
    """Return the steps along the straight stretches of lines, shape (S, 2). [m]"""
    steps = [np.diff(shapely.get_coordinates(part), axis=0) for part in line.geoms]
    return np.concatenate(steps) if steps else np.empty((0, 2))


def turning_parts(
    seams: Sequence[Seam], directions_deg: Sequence[float], tool: Tool
) -> tuple[tuple[int, int], ...] | None:
    """Return which part turns on which, so that passes which end on a seam find ground to turn on beyond it.

    Parameters
    ----------
    seams : sequence of Seam
        Where the parts meet.
    directions_deg : sequence of float
        Direction of the passes of each part. [deg]
    tool : Tool
        Gives the width.

    Returns
    -------
    tuple of (int, int) or None
        Pairs of parts: passes of the first turn on the second. None where that cannot be: passes of both parts end on
        one seam, or parts would have to wait for each other in a ring.
    """
    pairs = []
    for seam in seams:
        along = [seam.runs_along(directions_deg[number], tool) for number in (seam.first, seam.second)]
        if not any(along):
            return None
        if not all(along):
            pairs.append((seam.second, seam.first) if along[0] else (seam.first, seam.second))
    return tuple(pairs) if _can_be_ordered(pairs, len(directions_deg)) else None


def _can_be_ordered(pairs: Sequence[tuple[int, int]], count: int) -> bool:
    left = set(range(count))
    while left:
        free = {number for number in left if not any(two == number and one in left for one, two in pairs)}
        if not free:
            return False
        left -= free
    return True
