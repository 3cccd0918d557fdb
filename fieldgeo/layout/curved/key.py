"""Key lines: cleaned, held to a least radius, and drawn out straight beyond the field."""

from __future__ import annotations

from math import degrees, isfinite, radians
from typing import Final, NamedTuple

import numpy as np
import shapely
from shapely.ops import substring

from fieldgeo.errors import LayoutError
from fieldgeo.layout.axes import Floats
from fieldgeo.layout.curved.front import Front, bends_rad, flipped, front_of, nearest_segments, rounded_left
from fieldgeo.layout.runs import THIN_SHARE
from fieldgeo.machinery.tool import Tool
from fieldgeo.units import to_feet

# Rounding to one side may make a bend to the other sharper where both lie close together: it is done again until
# nothing moves by more than this, so many times at the most.
SETTLED_M: Final = 0.005
MOST_ROUNDINGS: Final = 8
# The ends go on straight for so many lengths of all there is; they shrink where the line bends sharply near its end.
BEYOND: Final = 12.0
# A corner sharper than this is no bend of a line of work: the line runs back along itself.
SHARPEST_RAD: Final = radians(165.0)
NO_STEP_M: Final = 1e-3
# The inner end of the tool goes round on no less than this, so that its way has a length. Own choice.
INNER_M: Final = 0.01


class KeyLine(NamedTuple):
    """A line that passes can be laid along."""

    front: Front  # smoothed, and drawn out straight at both ends [m]
    line: Floats  # (K, 2) smoothed, without what was drawn out [m]
    deviation_m: float  # how far the line as it was given lies from the smoothed one, at the most [m]
    least_radius_m: float  # what it is smoothed to [m]


def least_working_radius_m(tool: Tool) -> float:
    """Return the least radius that a tool can work on: the larger of its turn radius and half its width. [m]

    On less than half the width the inner end of the tool would run backward; it is kept a centimetre above that.
    (Derived.) Of two turn radii the larger is taken, as the lines are driven both ways.

    Parameters
    ----------
    tool : Tool
        Gives the radii and the width.
    """
    return max(tool.left_radius_m, tool.right_radius_m, tool.width_m / 2 + INNER_M)


def checked_radius_m(least_radius_m: float | None, tool: Tool) -> float:
    """Return the least radius of curved passes.

    Parameters
    ----------
    least_radius_m : float or None
        As asked for; None takes what the tool can do at the least. [m]
    tool : Tool
        Gives the radii and the width.

    Raises
    ------
    LayoutError
        If it is no number, or less than the tool can do.
    """
    can_m = least_working_radius_m(tool)
    if least_radius_m is None:
        return can_m
    if not isfinite(least_radius_m) or least_radius_m < can_m - INNER_M - 1e-9:
        raise LayoutError(
            f"least radius: got {least_radius_m:g} m ({to_feet(least_radius_m):.1f} ft). Tool {tool.name!r} works on "
            f"no less than {can_m:.2f} m ({to_feet(can_m):.1f} ft), the larger of its turn radius and half its width. "
            "Give that or more, or leave it out."
        )
    return max(float(least_radius_m), can_m)


def smooth_key(line: Floats, tool: Tool, *, radius_m: float, reach_m: float) -> KeyLine:
    """Return a line as a key line: no bend of it is tighter than a radius, to either side.

    Parameters
    ----------
    line : ndarray of shape (K, 2)
        Points of the line in the frame, in the order it is driven. [m]
    tool : Tool
        Gives the width, by which the line is thinned.
    radius_m : float
        Least radius, > 0. [m]
    reach_m : float
        How far off work may lie, such as the length of the field and the key line together. [m]

    Raises
    ------
    LayoutError
        If it has fewer than two points, runs back on itself or crosses itself, or no such line lies near it.

    Notes
    -----
    Derived: closed by a disc from either side in turn (see `fieldgeo.layout.curved.front`), so that a corner of angle t
    is cut by ``r (1 / cos(t / 2) - 1)``: for a right angle 0.414 r.
    """
    given = _cleaned(line, tool)
    bends = np.abs(bends_rad(front_of(given).ahead))
    if len(bends) and bends.max() > SHARPEST_RAD:
        raise LayoutError(
            f"key line: it turns by {degrees(float(bends.max())):.0f} degrees at one point and runs back beside "
            "itself. Passes follow a line that goes on; leave out the part that comes back."
        )
    front = _drawn_out(given, BEYOND * reach_m)
    for _ in range(MOST_ROUNDINGS):
        before = front
        front = flipped(rounded_left(flipped(rounded_left(front, radius_m)), radius_m))
        if _apart_m(before.points, front.points) < SETTLED_M:
            break
    else:
        raise LayoutError(
            f"key line: its bends lie too close together for a radius of {radius_m:.2f} m "
            f"({to_feet(radius_m):.1f} ft). Draw it smoother."
        )
    return KeyLine(
        front=front,
        line=_between(front, given),
        deviation_m=float(nearest_segments(given, front.points)[0].max()),
        least_radius_m=radius_m,
    )


def _cleaned(line: Floats, tool: Tool) -> Floats:
    points = np.asarray(line, dtype=float)
    if points.ndim != 2 or points.shape[1] != 2 or not np.isfinite(points).all():
        raise LayoutError("key line: it must be points of x and y in the frame, all of them numbers.")
    apart = np.hypot(*np.diff(points, axis=0).T) > NO_STEP_M
    points = points[np.concatenate([[True], apart])] if len(points) else points
    if len(points) < 2:
        raise LayoutError("key line: it has no length. It must have two points or more that lie apart.")
    thin = shapely.simplify(shapely.LineString(points), THIN_SHARE * tool.width_m)
    if not thin.is_simple:
        raise LayoutError("key line: it crosses itself. Passes follow a line that does not; leave out the loop.")
    return np.asarray(shapely.get_coordinates(thin))


def _drawn_out(line: Floats, length_m: float) -> Front:
    ahead = front_of(line).ahead
    points = line.copy()
    points[0] -= length_m * ahead[0]
    points[-1] += length_m * ahead[-1]
    return Front(points, ahead)


def _apart_m(one: Floats, other: Floats) -> float:
    return max(float(nearest_segments(points, line)[0].max()) for points, line in ((one, other), (other, one)))


def _between(front: Front, given: Floats) -> Floats:
    """Return the part of a drawn-out line from beside the first to beside the last point of the line as given."""
    whole = shapely.LineString(front.points)
    low, high = (float(shapely.line_locate_point(whole, shapely.Point(point))) for point in given[[0, -1]])
    return np.asarray(shapely.get_coordinates(substring(whole, low, high)))
