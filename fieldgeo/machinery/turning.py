"""What a tool needs to turn round at a square field edge: path length, depth, headland rounds.

Closed forms for the shortest forward turn between two passes side by side, all derived; they are the square-edge case
of `fieldgeo.travel.turns`, which joins any two pass ends.
"""

from __future__ import annotations

from math import acos, ceil, pi, sin

from fieldgeo.errors import InputError
from fieldgeo.machinery.tool import Tool


def _check(spacing_m: float, radius_m: float) -> None:
    if not radius_m > 0:
        raise InputError(f"turn radius: got {radius_m:g} m. It must be above zero.")
    if spacing_m < 0:
        raise InputError(f"spacing of the passes: got {spacing_m:g} m. It must not be below zero.")


def turn_length_m(spacing_m: float, radius_m: float) -> float:
    """Return the length of the shortest forward turn onto a pass alongside, at a square edge. [m]

    Parameters
    ----------
    spacing_m : float
        Distance d between the two passes, >= 0. [m]
    radius_m : float
        Least turning radius r, > 0. [m]

    Raises
    ------
    InputError
        If the radius is not above zero or the spacing is below zero.

    Notes
    -----
    Derived. d >= 2r: two quarter circles with a straight run between, pi r + d - 2r. d < 2r: a loop of three arcs,
    r (pi + 4a) with a = acos((2r + d) / 4r).

    Examples
    --------
    >>> round(turn_length_m(9.144, 6.0), 4)
    30.6773
    """
    _check(spacing_m, radius_m)
    if spacing_m >= 2 * radius_m:
        return pi * radius_m + spacing_m - 2 * radius_m
    return radius_m * (pi + 4 * acos((2 * radius_m + spacing_m) / (4 * radius_m)))


def turn_depth_m(spacing_m: float, radius_m: float) -> float:
    """Return how far the path of that turn reaches beyond the ends of the passes. [m]

    Parameters
    ----------
    spacing_m : float
        Distance d between the two passes, >= 0. [m]
    radius_m : float
        Least turning radius r, > 0. [m]

    Raises
    ------
    InputError
        If the radius is not above zero or the spacing is below zero.

    Notes
    -----
    Derived. d >= 2r: r. d < 2r: r + 2 r sin a with a = acos((2r + d) / 4r).

    Examples
    --------
    >>> round(turn_depth_m(9.144, 6.0), 4)
    11.6774
    """
    _check(spacing_m, radius_m)
    if spacing_m >= 2 * radius_m:
        return radius_m
    return radius_m + 2 * radius_m * sin(acos((2 * radius_m + spacing_m) / (4 * radius_m)))


def headland_depth_m(tool: Tool) -> float:
    """Return the depth of headland in which the tool can turn onto the pass alongside. [m]

    Depth of the turn's path, half the width that swings beyond it, and the straight run before the turn can begin.
    Derived; the same three terms as a machinery-use course's worked example (forestry machine systems, Ukraine), which
    rounds the first: 2.8 R + 0.5 B + e.
    """
    return turn_depth_m(tool.pitch_m, tool.turn_radius_m) + tool.width_m / 2 + tool.pull_out_m


def headland_rounds(tool: Tool) -> int:
    """Return how many rounds of the tool make a headland in which it can turn, at least 1. [-]

    Whole rounds: the depth needed divided by the width gained each round, rounded up. (Derived.)
    """
    return max(1, ceil(headland_depth_m(tool) / tool.pitch_m - 1e-9))
