"""What a tool needs to turn round at a square field edge: path length, time, depth, headland rounds.

Closed forms for the turns between two passes side by side, all derived; they are the square-edge case of
`fieldgeo.travel.turns`, which joins any two pass ends.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import acos, asin, ceil, cos, hypot, pi, sin

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


@dataclass(frozen=True, slots=True, kw_only=True)
class SquareTurn:
    """A turn onto the pass alongside at a square edge."""

    kind: str  # "half-circle", "flat", "loop" or "fishtail"
    length_m: float  # forward and reverse, without pull-out [m]
    reverse_m: float  # of it, driven in reverse [m]
    cusps: int  # changes between forward and reverse
    depth_m: float  # how far the path reaches beyond the end of the pull-out [m]
    time_s: float  # pull-out and run-in counted, raising and lowering not [s]


def square_turn(tool: Tool, *, is_left: bool = True) -> SquareTurn:
    """Return the turn of least time that a tool can do onto the pass alongside, at a square edge.

    Parameters
    ----------
    tool : Tool
        Gives pitch, radii, pull-out, speeds, and how far it can be backed.
    is_left : bool
        Whether the next pass lies to the left; it matters where the radius differs left and right.

    Notes
    -----
    Derived, d the pitch, r the radius on the side of the next pass and q the other. d >= 2r: pi r + d - 2r, r deep.
    d < 2r, forward: a loop, 2 q a + r (pi + 2a) with a = acos((2q + d) / (2q + 2r)), r + (q + r) sin a deep. Backed
    straight: the fishtail, (pi + 2) r - d with 2r - d of it in reverse, r deep; a pulled tool goes on by its pull-out
    before it is backed, to stand in line, and back by as much. Backed in a curve, which a pulled tool cannot: pi r, of
    which b r is in reverse with b = 2 asin((2r - d) / 4r), r cos(b/2) deep, r the greater of both radii.
    """
    spacing = tool.pitch_m
    radius, other = (tool.left_radius_m, tool.right_radius_m)[:: 1 if is_left else -1]
    if spacing >= 2 * radius:
        kind = "half-circle" if spacing == 2 * radius else "flat"
        return _timed(tool, kind, pi * radius + spacing - 2 * radius, 0.0, radius)
    angle = acos((2 * other + spacing) / (2 * (other + radius)))
    loop_m = 2 * other * angle + radius * (pi + 2 * angle)
    turns = [_timed(tool, "loop", loop_m, 0.0, radius + (other + radius) * sin(angle))]
    on_m = tool.pull_out_m if tool.hitch == "pulled" else 0.0
    straight_m = 2 * radius - spacing + on_m
    if straight_m <= tool.reverse_limit_m:
        turns.append(_timed(tool, "fishtail", (pi + 2) * radius - spacing + 2 * on_m, straight_m, radius))
    wide = max(radius, other)
    half = asin((2 * wide - spacing) / (4 * wide))
    if tool.hitch != "pulled" and 2 * half * wide <= tool.reverse_limit_m:
        turns.append(_timed(tool, "fishtail", pi * wide, 2 * half * wide, wide * cos(half)))
    return min(turns, key=lambda turn: turn.time_s)


def _timed(tool: Tool, kind: str, length_m: float, reverse_m: float, depth_m: float) -> SquareTurn:
    cusps = 2 if reverse_m > 0 else 0
    forward_m = length_m - reverse_m + 2 * tool.pull_out_m
    time_s = forward_m / tool.turn_speed_m_s + reverse_m / tool.reverse_speed_m_s + cusps * tool.shift_s
    return SquareTurn(
        kind=kind, length_m=length_m, reverse_m=reverse_m, cusps=cusps, depth_m=depth_m, time_s=time_s
    )  # fmt: skip


def square_turn_s(tool: Tool) -> float:
    """Return the time of the turn onto the pass alongside at a square edge, to the left and to the right by turns. [s]

    Pull-out and run-in are counted, raising and lowering are not.
    """
    return (square_turn(tool, is_left=True).time_s + square_turn(tool, is_left=False).time_s) / 2


def corner_swing_m(tool: Tool, radius_m: float) -> float:
    """Return how far the corners of the tool reach beyond the circle on which it is steered. [m]

    Parameters
    ----------
    tool : Tool
        Gives width and tail.
    radius_m : float
        Radius of the circle, > 0. [m]

    Notes
    -----
    Derived: the outer corner lies half the width beside and the tail behind the point the tool pivots about, and so on
    a circle of sqrt((r + w/2)^2 + tail^2). A pulled tool comes to run inside that.
    """
    return hypot(radius_m + tool.width_m / 2, tool.tail_m) - radius_m


def headland_depth_m(tool: Tool) -> float:
    """Return the depth of headland in which the tool can turn onto the pass alongside, at a square edge. [m]

    Depth of the path of the turn that it takes, what swings beyond it, and the straight run before the turn can begin,
    on the side that needs more. Derived; the same three terms as a machinery-use course's worked example (forestry
    machine systems, Ukraine), which rounds the first: 2.8 R + 0.5 B + e with a loop, 1.1 R + 0.5 B + e without.
    """
    depths = []
    for is_left, radius in ((True, tool.left_radius_m), (False, tool.right_radius_m)):
        path_m = square_turn(tool, is_left=is_left).depth_m
        # A tail swings as far out on the last arc of a fishtail as on a whole half-circle.
        depths.append(max(path_m, radius if tool.tail_m > 0 else 0.0) + corner_swing_m(tool, radius))
    return max(depths) + tool.pull_out_m


def plow_headland_m(bottoms: int) -> float:
    """Return the depth of headland that a plow is given by rule of thumb: 6 m, and 1 m for each bottom over three. [m]

    Parameters
    ----------
    bottoms : int
        Bottoms of the plow, >= 1.

    Notes
    -----
    Read in an agricultural-training lesson and an Indian agricultural e-course, for mounted plows of 2 to 6 furrows.

    Examples
    --------
    >>> plow_headland_m(5)
    8.0
    """
    return 6.0 + max(0, bottoms - 3)


def headland_rounds(tool: Tool) -> int:
    """Return how many rounds of the tool make a headland in which it can turn, at least 1. [-]

    Whole rounds: the depth needed divided by the width gained each round, rounded up. (Derived.)
    """
    return max(1, ceil(headland_depth_m(tool) / tool.pitch_m - 1e-9))
