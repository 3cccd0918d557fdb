"""Headland runs: the stretches of a round that the tool drives without lifting, and the ground each works."""

from __future__ import annotations

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


def round_runs(ring: BaseGeometry, number: int, tool: Tool, finish: Finish) -> list[HeadlandRun]:
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
    """
    line = shapely.get_coordinates(shapely.simplify(ring, THIN_SHARE * tool.width_m))[:-1]
    corners = sharp_corners(line, tool.turn_radius_m, tool.width_m) if len(line) > 2 else np.empty(0, dtype=int)
    if len(corners) == 0:
        return [_closed_run(ring, number, tool)]
    turns = turn_angles(line)[corners]
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
    if at_start_m < 0 or at_end_m < 0:
        length = float(np.hypot(*np.diff(line, axis=0).T).sum())
        begin, finish = max(0.0, -at_start_m), length - max(0.0, -at_end_m)
        if finish - begin < 1e-6:
            return None
        line = cut_line(line, begin, finish)
    line = line.copy()
    for end, beside, length in ((0, 1, at_start_m), (-1, -2, at_end_m)):
        if length > 0:
            along = line[end] - line[beside]
            line[end] = line[end] + along * (length / np.hypot(*along))
    return line


def cut_line(line: Floats, begin_m: float, end_m: float) -> Floats:
    """Return the part of a line of shape (K, 2) between two distances along it. [m]"""
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])
    ends = np.array([[np.interp(at, along, line[:, axis]) for axis in (0, 1)] for at in (begin_m, end_m)])
    inside = line[(along > begin_m + 1e-9) & (along < end_m - 1e-9)]
    return np.vstack([ends[:1], inside, ends[1:]])


def straight_run(line: Floats, number: int, tool: Tool) -> HeadlandRun:
    """Return the run along an open line, with the ground a bar of the tool's width works."""
    line = shapely.get_coordinates(shapely.simplify(shapely.LineString(line), DRIVEN_SHARE * tool.width_m))
    if len(line) == 2:
        along = (line[1] - line[0]) / np.hypot(*(line[1] - line[0]))
        half = np.array([-along[1], along[0]]) * tool.width_m / 2
        swath = shapely.Polygon([line[0] - half, line[1] - half, line[1] + half, line[0] + half])
    else:
        swath = shapely.buffer(
            shapely.LineString(line), tool.width_m / 2, cap_style="flat", join_style="mitre", mitre_limit=2.0
        )
    return HeadlandRun(round=number, line=line, swath=swath)


def _closed_run(ring: BaseGeometry, number: int, tool: Tool) -> HeadlandRun:
    swath = shapely.buffer(ring, tool.width_m / 2, join_style="mitre", mitre_limit=2.0)
    return HeadlandRun(round=number, line=shapely.get_coordinates(ring), swath=swath, is_closed=True)
