"""Turns: the shortest forward path of bounded curvature between two poses, for many pairs at once.

A pose is a place and a heading. The shortest forward path with a least radius is made of three parts, each an arc of
that radius to the left (L) or right (R) or a straight run (S): one of LSL, RSR, LSR, RSL, RLR, LRL (American Journal
of Mathematics 79, 1957; classification in Robotics and Autonomous Systems 34, 2001; both from memory). The formulas
are held by tests that drive every path and look where it ends.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import pi
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from fieldgeo.layout.axes import Floats
from fieldgeo.layout.strips import Ints
from fieldgeo.machinery.tool import Tool

WORDS: Final = ("LSL", "RSR", "LSR", "RSL", "RLR", "LRL")
# A straight run or a swing shorter than this does not show beside a half-circle.
SHORT_STRAIGHT_M: Final = 0.05
_FULL: Final = 2 * pi


class ShortestPaths(NamedTuple):
    """The shortest forward path for each of N pairs of poses."""

    length_m: Floats  # (N,) [m]
    word: Ints  # (N,) index into WORDS
    parts: Floats  # (N, 3) length of each part divided by the radius: radians on an arc


def _wrap(angle: Floats) -> Floats:
    # A full circle less float noise is no turn at all.
    wrapped = np.mod(angle, _FULL)
    return np.where(wrapped > _FULL - 1e-9, 0.0, wrapped)


def shortest_paths(
    start_xy: Floats, start_heading_rad: Floats, end_xy: Floats, end_heading_rad: Floats, radius_m: float
) -> ShortestPaths:
    """Return the shortest forward path of bounded curvature between poses.

    Parameters
    ----------
    start_xy, end_xy : ndarray of shape (N, 2)
        Places. [m]
    start_heading_rad, end_heading_rad : ndarray of shape (N,)
        Headings, counter-clockwise from the x axis. [rad]
    radius_m : float
        Least radius, > 0. [m]
    """
    across = np.asarray(end_xy, dtype=float) - np.asarray(start_xy, dtype=float)
    distance = np.hypot(across[:, 0], across[:, 1]) / radius_m
    bearing = np.arctan2(across[:, 1], across[:, 0])
    a, b = start_heading_rad - bearing, end_heading_rad - bearing
    parts = np.stack(_six_words(distance, a, b), axis=1)  # (N, 6, 3)
    total = parts.sum(axis=2)
    total[np.isnan(total)] = np.inf
    word = total.argmin(axis=1)
    rows = np.arange(len(word))
    return ShortestPaths(total[rows, word] * radius_m, word, parts[rows, word])


def _six_words(d: Floats, a: Floats, b: Floats) -> list[Floats]:
    """Return the three parts of each word, NaN where a word cannot join the poses. d is in radii."""
    sin_a, sin_b, cos_a, cos_b = np.sin(a), np.sin(b), np.cos(a), np.cos(b)
    cos_ab = np.cos(a - b)
    with np.errstate(invalid="ignore"):
        # Rounding can push the square of a run of no length just below zero.
        lsl = np.sqrt(_not_quite_negative(2 + d * d - 2 * cos_ab + 2 * d * (sin_a - sin_b)))
        rsr = np.sqrt(_not_quite_negative(2 + d * d - 2 * cos_ab + 2 * d * (sin_b - sin_a)))
        lsr = np.sqrt(_not_quite_negative(-2 + d * d + 2 * cos_ab + 2 * d * (sin_a + sin_b)))
        rsl = np.sqrt(_not_quite_negative(-2 + d * d + 2 * cos_ab - 2 * d * (sin_a + sin_b)))
        rlr = _FULL - np.arccos(_not_quite_beyond((6 - d * d + 2 * cos_ab + 2 * d * (sin_a - sin_b)) / 8))
        lrl = _FULL - np.arccos(_not_quite_beyond((6 - d * d + 2 * cos_ab + 2 * d * (sin_b - sin_a)) / 8))
    to_left = np.arctan2(cos_b - cos_a, d + sin_a - sin_b)
    to_right = np.arctan2(cos_a - cos_b, d - sin_a + sin_b)
    to_lsr = np.arctan2(-cos_a - cos_b, d + sin_a + sin_b) - np.arctan2(-2.0, lsr)
    to_rsl = np.arctan2(cos_a + cos_b, d - sin_a - sin_b) - np.arctan2(2.0, rsl)
    first_rlr = a - to_right + rlr / 2
    first_lrl = -a + np.arctan2(cos_b - cos_a, d + sin_a - sin_b) + lrl / 2
    return [
        np.stack([_wrap(to_left - a), lsl, _wrap(b - to_left)], axis=1),
        np.stack([_wrap(a - to_right), rsr, _wrap(to_right - b)], axis=1),
        np.stack([_wrap(to_lsr - a), lsr, _wrap(to_lsr - b)], axis=1),
        np.stack([_wrap(a - to_rsl), rsl, _wrap(b - to_rsl)], axis=1),
        np.stack([_wrap(first_rlr), rlr, _wrap(a - b - first_rlr + rlr)], axis=1),
        np.stack([_wrap(first_lrl), lrl, _wrap(b - a - first_lrl + lrl)], axis=1),
    ]


def _not_quite_negative(value: Floats) -> Floats:
    return np.where((value < 0) & (value > -1e-9), 0.0, value)


def _not_quite_beyond(value: Floats) -> Floats:
    return np.where((np.abs(value) > 1) & (np.abs(value) < 1 + 1e-9), np.sign(value), value)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Turn:
    """One turn: a straight pull-out, the shortest forward path, and a straight run in."""

    kind: str  # "half-circle", "flat", "loop", or "corner" on a headland round
    length_m: float  # pull-out and run-in counted [m]
    start_xy: tuple[float, float]  # where the pull-out ends [m]
    heading_rad: float  # counter-clockwise from east [rad]
    word: str  # one of WORDS
    parts: tuple[float, float, float]  # length of each part divided by the radius [-]
    radius_m: float  # [m]
    pull_out_m: float  # straight run before the path, and again after it [m]

    def points(self, step_m: float = 0.5) -> Floats:
        """Return the turn as points of shape (K, 2), pull-out and run-in too. [m]

        Parameters
        ----------
        step_m : float
            Greatest distance between points on an arc. [m]
        """
        return drive_path(
            self.start_xy, self.heading_rad, self.word, self.parts, self.radius_m,
            pull_out_m=self.pull_out_m, step_m=step_m,
        )  # fmt: skip


def drive_path(
    start_xy: tuple[float, float],
    heading_rad: float,
    word: str,
    parts: tuple[float, float, float],
    radius_m: float,
    *,
    pull_out_m: float = 0.0,
    step_m: float = 0.5,
) -> Floats:
    """Return points along a path made of arcs and straight runs, shape (K, 2). [m]

    Parameters
    ----------
    start_xy : tuple of float
        Where the path begins. [m]
    heading_rad : float
        Heading there, counter-clockwise from east. [rad]
    word : str
        One letter a part: L, R or S.
    parts : tuple of float
        Length of each part divided by the radius. [-]
    radius_m : float
        Radius of the arcs. [m]
    pull_out_m : float
        Straight run added before and after. [m]
    step_m : float
        Greatest distance between points on an arc. [m]
    """
    x, y, heading = start_xy[0], start_xy[1], heading_rad
    points = [np.array([[x - pull_out_m * np.cos(heading), y - pull_out_m * np.sin(heading)], [x, y]])]
    for letter, part in zip(word, parts, strict=True):
        if letter == "S":
            x, y = x + part * radius_m * np.cos(heading), y + part * radius_m * np.sin(heading)
            points.append(np.array([[x, y]]))
            continue
        side = 1.0 if letter == "L" else -1.0
        count = max(2, int(np.ceil(part * radius_m / step_m)) + 1)
        headings = heading + side * np.linspace(0.0, part, count)
        centre_x, centre_y = x - side * radius_m * np.sin(heading), y + side * radius_m * np.cos(heading)
        arc = np.column_stack(
            [centre_x + side * radius_m * np.sin(headings), centre_y - side * radius_m * np.cos(headings)]
        )
        points.append(arc[1:])
        x, y, heading = float(arc[-1, 0]), float(arc[-1, 1]), float(headings[-1])
    points.append(np.array([[x + pull_out_m * np.cos(heading), y + pull_out_m * np.sin(heading)]]))
    line = np.vstack(points)
    keep = np.concatenate([[True], np.hypot(*np.diff(line, axis=0).T) > 1e-9])
    return np.asarray(line[keep])


def join_poses(
    start_xy: Floats, start_heading_rad: Floats, end_xy: Floats, end_heading_rad: Floats, *,
    radius_m: float, pull_out_m: float, corner: NDArray[np.bool_] | None = None,
) -> list[Turn]:  # fmt: skip
    """Return the turn for each pair of a pose where the tool comes up and one where it goes down.

    Parameters
    ----------
    start_xy, end_xy : ndarray of shape (N, 2)
        Where the tool comes up, and where it goes down again. [m]
    start_heading_rad, end_heading_rad : ndarray of shape (N,)
        Headings, counter-clockwise from east. [rad]
    radius_m : float
        Least turning radius. [m]
    pull_out_m : float
        Straight run past the end of a pass before the turn, and before the start of the next. [m]
    corner : ndarray of bool of shape (N,), optional
        True where the turn joins two sides of a headland round, which is its kind then.
    """
    if len(start_xy) == 0:
        return []
    ahead = pull_out_m * np.column_stack([np.cos(start_heading_rad), np.sin(start_heading_rad)])
    behind = pull_out_m * np.column_stack([np.cos(end_heading_rad), np.sin(end_heading_rad)])
    begin = start_xy + ahead
    paths = shortest_paths(begin, start_heading_rad, end_xy - behind, end_heading_rad, radius_m)
    lengths = (paths.length_m + 2 * pull_out_m).tolist()
    corners = np.zeros(len(begin), dtype=bool) if corner is None else corner
    return [
        Turn(
            kind="corner" if is_corner else turn_kind(WORDS[word], parts, radius_m),
            length_m=length,
            start_xy=(x, y),
            heading_rad=heading,
            word=WORDS[word],
            parts=tuple(parts),
            radius_m=radius_m,
            pull_out_m=pull_out_m,
        )
        for length, (x, y), heading, word, parts, is_corner in zip(
            lengths, begin.tolist(), start_heading_rad.tolist(), paths.word.tolist(), paths.parts.tolist(),
            corners.tolist(), strict=True,
        )
    ]  # fmt: skip


def turn_times_s(
    start_xy: Floats, start_heading_rad: Floats, end_xy: Floats, end_heading_rad: Floats, *, tool: Tool
) -> Floats:
    """Return the time of the turn that a tool takes for each pair of poses, shape (N,). [s]

    Parameters
    ----------
    start_xy, end_xy : ndarray of shape (N, 2)
        Where the tool comes up, and where it goes down again. [m]
    start_heading_rad, end_heading_rad : ndarray of shape (N,)
        Headings, counter-clockwise from the x axis. [rad]
    tool : Tool
        Gives turning radius, pull-out and turning speed. Pull-out and run-in are counted, lifting and setting down
        are not.
    """
    ahead = tool.pull_out_m * np.column_stack([np.cos(start_heading_rad), np.sin(start_heading_rad)])
    behind = tool.pull_out_m * np.column_stack([np.cos(end_heading_rad), np.sin(end_heading_rad)])
    paths = shortest_paths(
        np.asarray(start_xy) + ahead, start_heading_rad, np.asarray(end_xy) - behind, end_heading_rad,
        tool.turn_radius_m,
    )  # fmt: skip
    return (paths.length_m + 2 * tool.pull_out_m) / tool.turn_speed_m_s


def turn_kind(word: str, parts: list[float], radius_m: float) -> str:
    """Return what a grower calls a turn: half-circle, flat (square), or loop.

    A turn to one side only, with no more than half a circle, is a half-circle, or flat when a straight run lies between
    its arcs. Everything that swings the other way first, or over more than half a circle, is a loop. (Trade words,
    common practice, no source.)
    """
    short = SHORT_STRAIGHT_M / radius_m
    arcs = [(letter, part) for letter, part in zip(word, parts, strict=True) if letter != "S" and part >= short]
    if len({letter for letter, _ in arcs}) <= 1 and sum(part for _, part in arcs) < pi + 2 * short:
        return "half-circle" if word[1] != "S" or parts[1] < short else "flat"
    return "loop"
