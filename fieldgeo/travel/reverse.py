"""The shortest path of bounded curvature between two poses that may be driven forward and in reverse.

It is one of 48 words of two to five parts with at most two changes between forward and reverse, called cusps (Pacific
Journal of Mathematics 145(2), 1990: abstract read, formulas from memory). Nine base words are worked out with their
mirror image (left for right), their flip (forward for reverse), both, and read backwards; every path is driven, and
one that does not end at its goal is dropped, so that what is returned is right whatever the memory is worth. Arcs of
one radius: with a radius that differs left and right the greater serves for both.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fieldgeo.layout.axes import Floats
from fieldgeo.travel.paths import NO_PART_M, Paths, Radii, count_cusps, curvatures, drive_all, path_lengths_m

Parts = tuple[Floats, ...]
Goal = tuple[Floats, Floats, Floats]  # x, y and heading from the start pose, in radii
_QUARTER = np.pi / 2
# A path may miss its goal by this share of the radius.
_MISS: Final = 1e-6
MOST_CUSPS: Final = 2


def _arc(angle: Floats) -> Floats:
    """Return an angle within -pi < a <= pi."""
    return np.pi - np.mod(np.pi - angle, 2 * np.pi)


def _polar(x: Floats, y: Floats) -> tuple[Floats, Floats]:
    return np.hypot(x, y), np.arctan2(y, x)


def _same(goal: Goal) -> tuple[Floats, Floats]:
    """Return where the left circle of the goal lies from that of the start."""
    x, y, heading = goal
    return x - np.sin(heading), y - 1 + np.cos(heading)


def _other(goal: Goal) -> tuple[Floats, Floats]:
    """Return where the right circle of the goal lies from the left circle of the start."""
    x, y, heading = goal
    return x + np.sin(heading), y - 1 - np.cos(heading)


def _lsl(goal: Goal) -> Parts:
    run, first = _polar(*_same(goal))
    return first, run, _arc(goal[2] - first)


def _lsr(goal: Goal) -> Parts:
    apart, bearing = _polar(*_other(goal))
    run = np.sqrt(apart**2 - 4)
    first = _arc(bearing + np.arctan2(2.0, run))
    return first, run, _arc(first - goal[2])


def _lrl(goal: Goal) -> Parts:
    apart, bearing = _polar(*_same(goal))
    middle = -2 * np.arcsin(apart / 4)
    first = _arc(bearing + middle / 2 + np.pi)
    return first, middle, _arc(goal[2] - first + middle)


def _outer_arcs(goal: Goal, second: Floats, third: Floats) -> tuple[Floats, Floats]:
    """Return the first and the last of four arcs whose middle two are known."""
    x, y = _other(goal)
    change = _arc(second - third)
    a, b = np.sin(second) - np.sin(change), np.cos(second) - np.cos(change) - 1
    bearing = np.arctan2(y * a - x * b, x * a + y * b)
    is_behind = 2 * (np.cos(change) - np.cos(third) - np.cos(second)) + 3 < 0
    first = _arc(np.where(is_behind, bearing + np.pi, bearing))
    return first, _arc(first - second + third - goal[2])


def _lrlr_one_cusp(goal: Goal) -> Parts:
    middle = np.arccos((2 + np.hypot(*_other(goal))) / 4)
    first, last = _outer_arcs(goal, middle, -middle)
    return first, middle, -middle, last


def _lrlr_two_cusps(goal: Goal) -> Parts:
    x, y = _other(goal)
    middle = -np.arccos((20 - x * x - y * y) / 16)
    first, last = _outer_arcs(goal, middle, middle)
    return first, middle, middle, last


def _lrsl(goal: Goal) -> Parts:
    apart, bearing = _polar(*_same(goal))
    run = np.sqrt(apart**2 - 4)
    first = _arc(bearing + np.arctan2(run, -2.0))
    return first, np.full_like(run, -_QUARTER), 2 - run, _arc(goal[2] - _QUARTER - first)


def _lrsr(goal: Goal) -> Parts:
    x, y = _other(goal)
    apart, first = _polar(-y, x)
    return first, np.full_like(apart, -_QUARTER), 2 - apart, _arc(first + _QUARTER - goal[2])


def _lrslr(goal: Goal) -> Parts:
    x, y = _other(goal)
    run = 4 - np.sqrt(x * x + y * y - 4)
    first = _arc(np.arctan2((4 - run) * x - 2 * y, -2 * x + (run - 4) * y))
    quarter = np.full_like(run, -_QUARTER)
    return first, quarter, run, quarter, _arc(first - goal[2])


# Word, its formula, whether it read backwards is another, and whether it can leave and arrive forward with reverse in
# between.
_BASES: Final[tuple[tuple[str, Callable[[Goal], Parts], bool, bool], ...]] = (
    ("LSL", _lsl, False, False),
    ("LSR", _lsr, False, False),
    ("LRL", _lrl, True, True),
    ("LRLR", _lrlr_one_cusp, False, False),
    ("LRLR", _lrlr_two_cusps, False, True),
    ("LRSL", _lrsl, True, False),
    ("LRSR", _lrsr, True, False),
    ("LRSLR", _lrslr, False, True),
)
_WAYS: Final = np.array([[1], [1], [-1], [-1]])
_HANDS: Final = np.array([[1], [-1], [1], [-1]])
_MIRRORED: Final = {"L": "R", "R": "L", "S": "S"}


def reverse_paths(
    start_xy: Floats,
    start_heading_rad: Floats,
    end_xy: Floats,
    end_heading_rad: Floats,
    radii: Radii,
    *,
    is_turn: bool = False,
) -> Paths:
    """Return every word of the set between poses, shape (N, W, 5), NaN where a word cannot join them.

    The arcs are those of the greater radius, on either side.

    Parameters
    ----------
    start_xy, end_xy : ndarray of shape (N, 2)
        Places. [m]
    start_heading_rad, end_heading_rad : ndarray of shape (N,)
        Headings, counter-clockwise from the x axis. [rad]
    radii : Radii
        Least radii; the greater serves for both sides. [m]
    is_turn : bool
        Only the words that can leave and arrive driving forward and are backed in between: those of a turn between two
        passes.
    """
    radius = max(radii)
    start, heading = np.asarray(start_xy, dtype=float), np.asarray(start_heading_rad, dtype=float)
    end, goal_heading = np.asarray(end_xy, dtype=float), np.asarray(end_heading_rad, dtype=float)
    words, parts = _all_words(_from_start(start, heading, end, goal_heading, radius), is_turn=is_turn)
    bend = np.broadcast_to(curvatures(words, Radii(radius, radius)), parts.shape)
    x, y, turned = drive_all(start, heading, Paths(bend, parts * radius))
    is_there = np.hypot(x - end[:, None, 0], y - end[:, None, 1]) < _MISS * radius
    is_there &= np.cos(turned - goal_heading[:, None]) > 1 - _MISS**2
    is_there &= count_cusps(parts) <= MOST_CUSPS
    if is_turn:
        is_there &= leave_and_arrive_forward(parts)
    return Paths(bend, np.where(is_there[..., None], parts * radius, np.nan))


def shortest_reverse_lengths_m(
    start_xy: Floats, start_heading_rad: Floats, end_xy: Floats, end_heading_rad: Floats, radii: Radii
) -> Floats:
    """Return the length of the shortest path with reverse for each pair of poses, shape (N,). [m]

    No turn of a tool that can be backed is shorter. Parameters are those of `reverse_paths`.
    """
    paths = reverse_paths(start_xy, start_heading_rad, end_xy, end_heading_rad, radii)
    return np.asarray(np.nanmin(path_lengths_m(paths.parts_m), axis=1))


def leave_and_arrive_forward(parts_m: Floats) -> NDArray[np.bool_]:
    """Return which paths leave and arrive driving forward and are backed in between, bool of shape (...,).

    Parameters
    ----------
    parts_m : ndarray of shape (..., P)
        Driven lengths of the parts, below zero in reverse. [m]
    """
    is_part = np.abs(parts_m) > NO_PART_M
    first = np.take_along_axis(parts_m, is_part.argmax(axis=-1)[..., None], axis=-1)[..., 0]
    backwards = parts_m[..., ::-1]
    last = np.take_along_axis(backwards, is_part[..., ::-1].argmax(axis=-1)[..., None], axis=-1)[..., 0]
    return (first > 0) & (last > 0) & (parts_m < -NO_PART_M).any(axis=-1)


def _from_start(start: Floats, heading: Floats, end: Floats, goal_heading: Floats, radius: float) -> Goal:
    across = (end - start) / radius
    cosine, sine = np.cos(heading), np.sin(heading)
    return (
        across[:, 0] * cosine + across[:, 1] * sine,
        across[:, 1] * cosine - across[:, 0] * sine,
        goal_heading - heading,
    )


def _all_words(goal: Goal, *, is_turn: bool) -> tuple[tuple[str, ...], Floats]:
    """Return W words of five letters and parts of shape (N, W, 5), in radii."""
    x, y, heading = goal
    back = x * np.cos(heading) + y * np.sin(heading), x * np.sin(heading) - y * np.cos(heading), heading
    # Forward for reverse, and left for right: one row each.
    way, hand = (np.array([[1], [1]]), np.array([[1], [-1]])) if is_turn else (_WAYS, _HANDS)
    words: list[str] = []
    parts = []
    for word, formula, has_backwards, can_turn in _BASES:
        if is_turn and not can_turn:
            continue
        for is_backwards in (False, True) if has_backwards and not is_turn else (False,):
            x, y, heading = back if is_backwards else goal
            order = slice(None, None, -1) if is_backwards else slice(None)
            with np.errstate(invalid="ignore"):
                found = formula((way * x, hand * y, way * hand * heading))[order]
            rows = np.zeros((5, len(way), len(x)))
            rows[: len(found)] = np.stack(found) * way
            parts.append(rows)
            mirrored = "".join(_MIRRORED[letter] for letter in word)
            words += [(word if side == 1 else mirrored)[order].ljust(5, "S") for side in hand[:, 0].tolist()]
    return tuple(words), np.moveaxis(np.concatenate(parts, axis=1), (0, 2), (2, 0))
