"""The shortest forward path of bounded curvature between two poses, for many pairs at once.

A pose is a place and a heading. The shortest forward path with a least radius is made of three parts, each an arc of
that radius to the left (L) or right (R) or a straight run (S): one of LSL, RSR, LSR, RSL, RLR, LRL (American Journal
of Mathematics 79, 1957; classification in Robotics and Autonomous Systems 34, 2001; both from memory). With a radius
that differs left and right the same words serve, and a middle arc of less than half a circle may. The formulas are
derived from the circles beside the poses, and held by tests that drive every path and look where it ends.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np

from fieldgeo.layout.axes import Floats
from fieldgeo.layout.strips import Ints
from fieldgeo.travel.paths import Paths, Radii, along_tangent, arc_rad, centres, curvatures, path_lengths_m

WORDS: Final = ("LSL", "RSR", "LSR", "RSL", "RLR", "LRL")
# The three-arc words twice: with the longer middle arc, and with the shorter.
_EIGHT: Final = (*WORDS, "RLR", "LRL")


class ShortestPaths(NamedTuple):
    """The shortest forward path for each of N pairs of poses."""

    length_m: Floats  # (N,) [m]
    word: Ints  # (N,) index into WORDS
    parts_m: Floats  # (N, 3) length of each part [m]


def shortest_paths(
    start_xy: Floats,
    start_heading_rad: Floats,
    end_xy: Floats,
    end_heading_rad: Floats,
    radius_m: float,
    radius_right_m: float | None = None,
) -> ShortestPaths:
    """Return the shortest forward path of bounded curvature between poses.

    Parameters
    ----------
    start_xy, end_xy : ndarray of shape (N, 2)
        Places. [m]
    start_heading_rad, end_heading_rad : ndarray of shape (N,)
        Headings, counter-clockwise from the x axis. [rad]
    radius_m : float
        Least radius, > 0; to the left, where another is given to the right. [m]
    radius_right_m : float, optional
        Least radius to the right, > 0. [m]
    """
    radii = Radii(radius_m, radius_m if radius_right_m is None else radius_right_m)
    parts = forward_paths(start_xy, start_heading_rad, end_xy, end_heading_rad, radii).parts_m
    total = path_lengths_m(parts)
    total[np.isnan(total)] = np.inf
    word = total.argmin(axis=1)
    rows = np.arange(len(word))
    return ShortestPaths(total[rows, word], np.where(word > 5, word - 2, word), parts[rows, word])


def forward_paths(
    start_xy: Floats, start_heading_rad: Floats, end_xy: Floats, end_heading_rad: Floats, radii: Radii
) -> Paths:
    """Return every forward path of three parts between poses, shape (N, 8, 3), NaN where a word cannot join them.

    Parameters
    ----------
    start_xy, end_xy : ndarray of shape (N, 2)
        Places. [m]
    start_heading_rad, end_heading_rad : ndarray of shape (N,)
        Headings, counter-clockwise from the x axis. [rad]
    radii : Radii
        Least radii. [m]
    """
    start = np.asarray(start_xy, dtype=float), np.asarray(start_heading_rad, dtype=float)
    end = np.asarray(end_xy, dtype=float), np.asarray(end_heading_rad, dtype=float)
    left, right = radii.left_m, -radii.right_m
    first, last = np.array([left, right, left, right]), np.array([left, right, right, left])
    with np.errstate(invalid="ignore"):
        parts = np.full((len(start[1]), len(_EIGHT), 3), np.nan)
        parts[:, :4] = along_tangent(start, end, first, last, way=1)
        # Three arcs reach no further than this, and most pairs of a field's passes lie further apart.
        reach_m = 2 * (left - right) + 2 * max(left, -right)
        near = np.flatnonzero(np.hypot(*(end[0] - start[0]).T) <= reach_m)
        parts[near, 4:] = _three_arcs(
            (start[0][near], start[1][near]), (end[0][near], end[1][near]),
            np.array([right, left]), np.array([left, right]),
        )  # fmt: skip
    return Paths(np.broadcast_to(curvatures(_EIGHT, radii), parts.shape), parts)


def _three_arcs(start: tuple[Floats, Floats], end: tuple[Floats, Floats], outer_m: Floats, middle_m: Floats) -> Floats:
    """Return paths of three arcs, W with the longer middle one and then W with the shorter, shape (N, 2 W, 3). [m]

    Derived: the middle circle touches both outer ones, so its centre lies at the sum of the radii from either, on
    either side of the line that joins them. `outer_m` and `middle_m`, of shape (W,), are below zero to the right.
    """
    half = (centres(*end, outer_m) - centres(*start, outer_m)) / 2
    share = np.hypot(half[..., 0], half[..., 1]) / (np.abs(outer_m) + np.abs(middle_m))
    rise = np.arccos(np.where((share > 1) & (share < 1 + 1e-9), 1.0, share))
    bearing = np.arctan2(half[..., 1], half[..., 0])
    side = np.sign(outer_m)
    lengths = np.stack([np.abs(outer_m), np.abs(middle_m), np.abs(outer_m)], axis=-1)
    found = []
    for lean in (1, -1):
        # Bearings of the middle centre from the outer ones; a tool heads square to the line between two centres.
        first = bearing + lean * rise + side * np.pi / 2
        last = bearing + np.pi - lean * rise + side * np.pi / 2
        turned = np.stack(
            [side * (first - start[1][:, None]), -side * (last - first), side * (end[1][:, None] - last)], axis=-1
        )
        found.append(arc_rad(turned) * lengths)
    is_long = (found[0][..., 1] >= found[1][..., 1])[..., None]
    return np.concatenate([np.where(is_long, *found), np.where(is_long, *found[::-1])], axis=1)
