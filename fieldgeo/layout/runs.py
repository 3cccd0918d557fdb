"""Headland runs: the stretches of a round that the tool drives without lifting, and the ground each works."""

from __future__ import annotations

from itertools import pairwise
from math import hypot

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from fieldgeo.layout.axes import Floats
from fieldgeo.layout.corners import corner_reach, sharp_corners, turn_angles
from fieldgeo.layout.model import HeadlandRun
from fieldgeo.layout.strips import Finish
from fieldgeo.machinery.tool import Tool

# Paths are thinned by this share of the width: no driver follows less. Common practice, no source.
THIN_SHARE = 0.005
# Between corners the tool is driven along a line thinned by this share. Common practice, no source.
DRIVEN_SHARE = 0.01
# Mitres longer than this many distances are cut off, as the tool would.
MITRE_LIMIT = 5.0


def round_runs(
    ring: BaseGeometry, number: int, tool: Tool, finish: Finish, *, previous: HeadlandRun | None = None
) -> list[HeadlandRun]:
    """Return the runs that make up one ring of a round, from sharp corner to sharp corner.

    Parameters
    ----------
    ring : shapely.LinearRing
        Path of the round, the field on its left. [m]
    number : int
        Number of the round, 1 the outermost.
    tool : Tool
        Gives width and turning radius.
    finish : {"cover", "clean", "half"}
        Finish rule, at the corners.
    previous : HeadlandRun, optional
        The run driven before; the round begins at the corner nearest to its end.
    """
    line = shapely.get_coordinates(shapely.simplify(ring, THIN_SHARE * tool.width_m))[:-1]
    corners = sharp_corners(line, tool.turn_radius_m, tool.width_m)
    if len(corners) == 0:
        return [_closed_run(_begun_at(line, previous), number, tool)]
    turns = turn_angles(line)[corners]
    # The first round begins at the sharpest corner, which saves its turn, and not where the ring happens to begin.
    sharpest = int(np.argmax(np.round(np.abs(turns), 6)))
    first = sharpest if previous is None else _nearest(line[corners], previous)
    corners, turns = np.roll(corners, -first), np.roll(turns, -first)
    reaches = [corner_reach(float(turn), tool.width_m, finish) for turn in turns]
    runs = []
    for index, corner in enumerate(corners):
        after = (index + 1) % len(corners)
        stop = corners[after] + (len(line) if corners[after] <= corner else 0)
        side = line[np.arange(corner, stop + 1) % len(line)]
        side = stretch(side, -reaches[index].next_start_m, reaches[after].first_end_m)
        if side is not None:
            runs.append(straight_run(side, number, tool))
    return runs


def _begun_at(line: Floats, previous: HeadlandRun | None) -> Floats:
    """Return an open ring as a closed line that begins near the run before, or farthest from its own middle."""
    if previous is None:
        first = int(np.argmax(np.round(np.hypot(*(line - line.mean(axis=0)).T), 6)))
    else:
        first = _nearest(line, previous)
    turned = np.roll(line, -first, axis=0)
    return np.vstack([turned, turned[:1]])


def _nearest(points: Floats, previous: HeadlandRun) -> int:
    return int(np.argmin(np.round(np.hypot(*(points - previous.line[-1]).T), 6)))


def stretch(line: Floats, at_start_m: float, at_end_m: float) -> Floats | None:
    """Return a line lengthened at its ends along its own end segments, or cut short where a length is below zero.

    Parameters
    ----------
    line : ndarray of shape (K, 2)
        Points of the line. [m]
    at_start_m, at_end_m : float
        Length to add at either end. [m]

    Returns
    -------
    ndarray of shape (K', 2) or None
        The new line; None where nothing is left of it.
    """
    points = _move_start(line.tolist(), at_start_m)
    points = _move_start(points[::-1], at_end_m) if points else []
    return np.array(points[::-1]) if points else None


def _move_start(points: list[list[float]], out_m: float) -> list[list[float]]:
    """Return points with the first moved out along the first segment, or in along the line; none if nothing is left."""
    for first, (one, two) in enumerate(pairwise(points)):
        length = hypot(two[0] - one[0], two[1] - one[1])
        if out_m > -length + 1e-6:
            share = -out_m / length
            moved = [one[0] + (two[0] - one[0]) * share, one[1] + (two[1] - one[1]) * share]
            return [moved, *points[first + 1 :]]
        out_m += length
    return []


def straight_run(line: Floats, number: int, tool: Tool) -> HeadlandRun:
    """Return the run along an open line, with the ground a bar of the tool's width works."""
    if len(line) > 2:
        line = shapely.get_coordinates(shapely.simplify(shapely.LineString(line), DRIVEN_SHARE * tool.width_m))
    half_width = tool.width_m / 2
    if len(line) == 2:
        (x0, y0), (x1, y1) = line.tolist()
        half = half_width / hypot(x1 - x0, y1 - y0)
        dx, dy = (y0 - y1) * half, (x1 - x0) * half
        swath = shapely.Polygon([(x0 - dx, y0 - dy), (x1 - dx, y1 - dy), (x1 + dx, y1 + dy), (x0 + dx, y0 + dy)])
    else:
        swath = shapely.buffer(
            shapely.LineString(line), half_width, cap_style="flat", join_style="mitre", mitre_limit=2.0
        )
    return HeadlandRun(round=number, line=line, swath=swath)


def _closed_run(line: Floats, number: int, tool: Tool) -> HeadlandRun:
    swath = shapely.buffer(shapely.LinearRing(line), tool.width_m / 2, join_style="mitre", mitre_limit=2.0)
    return HeadlandRun(round=number, line=line, swath=swath, is_closed=True)
