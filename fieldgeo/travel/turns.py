"""Turns: how a tool gets from the end of one pass to the start of the next, chosen as a good operator would.

A tool that only goes forward takes the shortest forward path: a half-circle, a flat turn, or a loop. One that can be
backed may take a fishtail, driven straight in reverse or, mounted or self-propelled, in a curve; then what counts is
the time, with the seconds that stopping and shifting cost. Where there is turning ground, a turn that stays within the
outline is preferred to one that does not.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import pi
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from fieldgeo.layout.axes import Floats
from fieldgeo.machinery.tool import Tool
from fieldgeo.travel.choice import Poses, kept_inside, path_times_s, quickest, unit_vectors
from fieldgeo.travel.paths import NO_PART_M, count_cusps, drive_path, path_lengths_m, reverse_lengths_m

# A straight run or a swing shorter than this does not show beside a half-circle.
SHORT_STRAIGHT_M: Final = 0.05
# Pairs of poses that are worked on at once; bounds the memory that a table of all pairs takes.
_AT_ONCE: Final = 5_000


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Turn:
    """One turn: a straight pull-out, arcs and straight runs, some perhaps in reverse, and a straight run in."""

    kind: str  # "half-circle", "flat", "loop", "fishtail", "sidestep", or "corner" on a headland round
    length_m: float  # forward and reverse, pull-out and run-in counted [m]
    time_s: float  # driving and shifting; raising and lowering are not in it [s]
    reverse_m: float  # of the length, driven in reverse [m]
    cusps: int  # changes between forward and reverse
    start_xy: tuple[float, float]  # where the tool comes up [m]
    heading_rad: float  # there, counter-clockwise from east [rad]
    curvature_1_m: tuple[float, ...]  # of each part, left above zero, pull-out and run-in too [1/m]
    parts_m: tuple[float, ...]  # driven length of each part, below zero in reverse [m]
    parts_s: tuple[float, ...]  # time of driving each part; what is left of the time is spent shifting [s]

    def points(self, step_m: float = 0.5) -> Floats:
        """Return the turn as points of shape (K, 2), pull-out and run-in too. [m]

        Parameters
        ----------
        step_m : float
            Greatest distance between points on an arc. [m]
        """
        return drive_path(self.start_xy, self.heading_rad, self.curvature_1_m, self.parts_m, step_m=step_m)[0]

    def driven_share(self, share: float) -> float:
        """Return the share of its length that is driven after a share of its time. [-]

        Parameters
        ----------
        share : float
            Share of the time, 0 to 1. [-]
        """
        times_s, driven_m = self.pace()
        return float(np.interp(share * self.time_s, times_s, driven_m)) / max(self.length_m, NO_PART_M)

    def pace(self) -> tuple[list[float], list[float]]:
        """Return moments of the turn and the lengths driven by then; even between. [s], [m]"""
        shift_s = (self.time_s - sum(self.parts_s)) / max(self.cusps, 1)
        times_s, driven_m, last = [0.0], [0.0], 0.0
        for part, seconds in zip(self.parts_m, self.parts_s, strict=True):
            if abs(part) <= NO_PART_M:
                continue
            if part * last < 0:
                times_s.append(times_s[-1] + shift_s)
                driven_m.append(driven_m[-1])
            times_s.append(times_s[-1] + seconds)
            driven_m.append(driven_m[-1] + abs(part))
            last = part
        return times_s, driven_m

    @property
    def depth_m(self) -> float:
        """How far the path reaches beyond the line that joins the ends of the two passes. [m]

        Where they end at one place, beyond that place the way the tool came.
        """
        return max(0.0, float(((self.points(0.05) - self.start_xy) @ self.outward()).max()))

    def outward(self) -> Floats:
        """Return the unit vector away from the two passes, square to the line that joins their ends, shape (2,). [-]"""
        ahead, across = unit_vectors(np.array(self.heading_rad)), self.points()[-1] - self.start_xy
        apart = float(np.hypot(*across))
        if apart > NO_PART_M:
            beyond = ahead - across * float(ahead @ across) / apart**2
            # A turn onto a pass straight ahead has no side.
            ahead = beyond / np.hypot(*beyond) if np.hypot(*beyond) > 1e-6 else ahead
        return np.asarray(ahead)


def join_poses(
    start_xy: Floats, start_heading_rad: Floats, end_xy: Floats, end_heading_rad: Floats, *,
    tool: Tool, outline: shapely.MultiPolygon | None = None, corner: NDArray[np.bool_] | None = None,
    beside_fence: NDArray[np.bool_] | None = None,
) -> list[Turn]:  # fmt: skip
    """Return the turn for each pair of a pose where the tool comes up and one where it goes down.

    Parameters
    ----------
    start_xy, end_xy : ndarray of shape (N, 2)
        Where the tool comes up, and where it goes down again. [m]
    start_heading_rad, end_heading_rad : ndarray of shape (N,)
        Headings, counter-clockwise from the x axis. [rad]
    tool : Tool
        Gives radii, pull-out, speeds, and how far it can be backed.
    outline : shapely.MultiPolygon, optional
        Ground to stay on. Without it every turn is the one of least time; with it the one of least time that stays on
        the ground, or where none does of those that go least beyond. [m]
    corner : ndarray of bool of shape (N,), optional
        True where the turn joins two sides of a headland round, which is its kind then.
    beside_fence : ndarray of bool of shape (N,), optional
        True where the turn joins two runs of the headland, hard by the fence: there a tool that can be backed is backed
        over what it just worked, without a pull-out.
    """
    if len(start_xy) == 0:
        return []
    corners = np.zeros(len(start_xy), dtype=bool) if corner is None else corner
    by_fence = np.zeros(len(start_xy), dtype=bool) if beside_fence is None else beside_fence
    poses = Poses(start_xy, start_heading_rad, end_xy, end_heading_rad, by_fence)
    paths = quickest(poses, tool)[1]
    if outline is not None:
        paths = kept_inside(poses, paths, tool, outline)
    return [
        Turn(
            kind="corner" if is_corner else turn_kind(bend[1:-1], parts[1:-1]),
            length_m=length, time_s=seconds, reverse_m=reverse, cusps=cusps,
            start_xy=(x, y), heading_rad=heading, curvature_1_m=tuple(bend), parts_m=tuple(parts),
            parts_s=tuple(parts_s),
        )
        for (x, y), heading, bend, parts, parts_s, length, seconds, reverse, cusps, is_corner in zip(
            start_xy.tolist(), start_heading_rad.tolist(), paths.curvature_1_m.tolist(), paths.parts_m.tolist(),
            path_times_s(paths.parts_m[..., None], tool).tolist(),
            path_lengths_m(paths.parts_m).tolist(), path_times_s(paths.parts_m, tool).tolist(),
            reverse_lengths_m(paths.parts_m).tolist(), count_cusps(paths.parts_m).tolist(), corners.tolist(),
            strict=True,
        )
    ]  # fmt: skip


def turn_times_s(
    start_xy: Floats, start_heading_rad: Floats, end_xy: Floats, end_heading_rad: Floats, *,
    tool: Tool, outline: shapely.MultiPolygon | None = None,
) -> Floats:  # fmt: skip
    """Return the time of the turn that a tool takes for each pair of poses, shape (N,). [s]

    Parameters
    ----------
    start_xy, end_xy : ndarray of shape (N, 2)
        Where the tool comes up, and where it goes down again. [m]
    start_heading_rad, end_heading_rad : ndarray of shape (N,)
        Headings, counter-clockwise from the x axis. [rad]
    tool : Tool
        Gives radii, pull-out, speeds, and how far it can be backed. Pull-out and run-in are counted, lifting and
        setting down are not.
    outline : shapely.MultiPolygon, optional
        Ground to stay on, as in `join_poses`; without it where the outline lies is not asked. [m]
    """
    start_xy, start_rad, end_xy, end_rad = (
        np.asarray(each, dtype=float) for each in (start_xy, start_heading_rad, end_xy, end_heading_rad)
    )
    poses = Poses(start_xy, start_rad, end_xy, end_rad, np.zeros(len(start_xy), dtype=bool))
    times = [np.empty(0)]
    for low in range(0, len(start_rad), _AT_ONCE):
        some = poses.rows(slice(low, low + _AT_ONCE))
        seconds, paths = quickest(some, tool)
        if outline is not None:
            seconds = path_times_s(kept_inside(some, paths, tool, outline).parts_m, tool)
        times.append(seconds)
    return np.concatenate(times)


def lengths_outside_m(turns: list[Turn], outline: shapely.MultiPolygon) -> Floats:
    """Return how much of the path of each turn lies outside the outline, shape (N,). [m]

    Parameters
    ----------
    turns : list of Turn
        Turns, in the frame.
    outline : shapely.MultiPolygon
        Outline in the frame. [m]
    """
    lines = np.array([shapely.LineString(_drawable(turn.points())) for turn in turns], dtype=object)
    outside = np.zeros(len(turns))
    shapely.prepare(outline)
    rows = np.flatnonzero(~shapely.covers(outline, lines))
    outside[rows] = shapely.length(shapely.difference(lines[rows], outline))
    # What the overlay leaves of a path that runs along the outline is noise.
    return np.where(outside < NO_PART_M, 0.0, outside)


def turn_kind(curvature_1_m: list[float], parts_m: list[float]) -> str:
    """Return what a grower calls a turn: half-circle, flat (square), loop, or fishtail.

    A turn with reverse in it is a fishtail. A turn to one side only, with no more than half a circle, is a half-circle,
    or flat when a straight run lies between its arcs. Everything else that swings the other way first, or over more
    than half a circle, is a loop. (Trade words, common practice, no source.)

    Parameters
    ----------
    curvature_1_m : list of float
        Curvature of each part, left above zero. [1/m]
    parts_m : list of float
        Driven length of each part, below zero in reverse. [m]
    """
    if any(part < -NO_PART_M for part in parts_m):
        return "fishtail"
    arcs = [
        (bend, part) for bend, part in zip(curvature_1_m, parts_m, strict=True) if part >= SHORT_STRAIGHT_M and bend
    ]
    straight = sum(part for bend, part in zip(curvature_1_m, parts_m, strict=True) if bend == 0)
    turned = sum(abs(bend) * part for bend, part in arcs)
    slack = 2 * SHORT_STRAIGHT_M * max((abs(bend) for bend, _ in arcs), default=0.0)
    if len({bend > 0 for bend, _ in arcs}) <= 1 and turned < pi + slack:
        return "half-circle" if straight < SHORT_STRAIGHT_M else "flat"
    return "loop"


def _drawable(points: Floats) -> Floats:
    return points if len(points) > 1 else np.vstack([points, points])
