"""How far a tool reaches beyond the path on which it is steered: the swing of its corners, and its run back into line.

A mounted tool turns with its tractor. A pulled one follows its hitch on a tractrix: it points where it is pulled from,
so it cuts corners, swings out where the steering changes sides, and is out of line for a while after a turn.
"""

from __future__ import annotations

from math import asin, exp, log, radians, sin, tan

import numpy as np
import shapely

from fieldgeo.errors import InputError
from fieldgeo.layout.axes import Floats
from fieldgeo.machinery.tool import Tool
from fieldgeo.machinery.turning import corner_swing_m
from fieldgeo.travel.paths import drive_path
from fieldgeo.travel.turns import Turn, join_poses

# A pulled tool is in line again when its wheels run this close to the line of the pass. Common practice, no source.
IN_LINE_M = 0.1
_STEP_M = 0.1


def swing_m(turn: Turn, tool: Tool) -> float:
    """Return how far the tool's corners come from the path of the point that is steered, at the greatest. [m]

    Parameters
    ----------
    turn : Turn
        One turn.
    tool : Tool
        Gives width, tail, hitch, and the length of a pulled tool, which is its pull-out.
    """
    line, heading = _driven(turn)
    corners = _corners(line, heading, tool)
    # The path goes on straight before and after, where the tool still is, or already.
    far = tool.pull_out_m + tool.tail_m + tool.width_m
    before, after = (far * np.array([np.cos(angle), np.sin(angle)]) for angle in (heading[0], heading[-1]))
    path = shapely.LineString(np.vstack([line[:1] - before, line, line[-1:] + after]))
    return float(shapely.distance(path, shapely.points(corners)).max())


def reach_beyond_m(turn: Turn, tool: Tool) -> float:
    """Return how far the tool itself reaches beyond the line that joins the ends of the two passes. [m]

    Parameters
    ----------
    turn : Turn
        One turn.
    tool : Tool
        Gives width, tail, hitch, and the length of a pulled tool, which is its pull-out.
    """
    line, heading = _driven(turn)
    corners = _corners(line, heading, tool)
    return max(0.0, float(((corners - line[0]) @ turn.outward()).max()))


def run_into_line_m(turn: Turn, tool: Tool, *, within_m: float = IN_LINE_M) -> float:
    """Return the straight run after the last arc until a pulled tool is in line, and can be lowered; 0 if it is. [m]

    Parameters
    ----------
    turn : Turn
        One turn.
    tool : Tool
        Gives the hitch, and the length of a pulled tool, which is its pull-out.
    within_m : float
        How close its wheels must run to the line of the pass, > 0. [m]

    Raises
    ------
    InputError
        If the distance is not above zero.

    Notes
    -----
    Derived. On a straight pull the angle a between tool and pull dies away as tan(a/2) = tan(a0/2) exp(-s / l), and the
    wheels run l sin a beside the line.
    """
    if not within_m > 0:
        raise InputError(f"within: got {within_m:g} m. It must be above zero.")
    length_m = _pulled_length_m(tool)
    if length_m <= within_m:
        return 0.0
    line, heading = drive_path(
        turn.start_xy, turn.heading_rad, turn.curvature_1_m[:-1], turn.parts_m[:-1], step_m=_STEP_M
    )
    lag = abs(float(np.sin(heading[-1] - _tool_headings(line, heading, length_m)[-1])))
    if lag * length_m <= within_m:
        return 0.0
    return length_m * log(tan(asin(min(lag, 1.0)) / 2) / tan(asin(within_m / length_m) / 2))


def depth_on_slant_m(tool: Tool, slant_deg: float) -> float:
    """Return the depth of headland, square to the edge, in which the tool can turn where passes meet it on a slant. [m]

    Parameters
    ----------
    tool : Tool
        The tool.
    slant_deg : float
        Angle between the passes and the edge, 0 < slant <= 90. [deg]

    Raises
    ------
    InputError
        If the angle is out of range.

    Notes
    -----
    Derived from the turn itself, the greatest of those to either side and to the pass that ends further on or less far;
    at 90 degrees it is `fieldgeo.machinery.turning.headland_depth_m`.
    """
    if not 0 < slant_deg <= 90:
        raise InputError(f"slant: got {slant_deg:g} degrees. It must be above 0 and not above 90.")
    on_m = tool.pitch_m / tan(radians(slant_deg)) if slant_deg < 90 else 0.0
    ends = np.array([[side * tool.pitch_m, way * on_m] for side in (1, -1) for way in (1, -1)])
    north = np.full(len(ends), np.pi / 2)
    turns = join_poses(np.zeros_like(ends), north, ends, -north, tool=tool)
    depths = []
    for turn, (end_x, _) in zip(turns, ends.tolist(), strict=True):
        radius = tool.right_radius_m if end_x > 0 else tool.left_radius_m
        # A tail swings as far out on the last arc of a fishtail as on a whole half-circle.
        path_m = max(turn.depth_m, radius + tool.pull_out_m if tool.tail_m > 0 else 0.0)
        depths.append(path_m + corner_swing_m(tool, radius))
    return max(depths)


def _driven(turn: Turn) -> tuple[Floats, Floats]:
    """Return points close together along a turn, and the heading at each."""
    line, heading = drive_path(turn.start_xy, turn.heading_rad, turn.curvature_1_m, turn.parts_m, step_m=_STEP_M)
    return _straights_cut(line, heading)


def _pulled_length_m(tool: Tool) -> float:
    return tool.pull_out_m if tool.hitch == "pulled" else 0.0


def _corners(line: Floats, heading: Floats, tool: Tool) -> Floats:
    """Return the corners of the tool all along a path, shape (4 K, 2). [m]"""
    length_m = _pulled_length_m(tool)
    pointing = _tool_headings(line, heading, length_m)
    ahead = np.column_stack([np.cos(pointing), np.sin(pointing)])
    left = np.column_stack([-ahead[:, 1], ahead[:, 0]])
    pivot = line - length_m * ahead
    half = tool.width_m / 2
    return np.vstack([pivot - back * ahead + side * left for back in (0.0, tool.tail_m) for side in (half, -half)])


def _straights_cut(line: Floats, heading: Floats) -> tuple[Floats, Floats]:
    """Return a path with points on its straight runs too, close enough to follow a tool along them."""
    lengths = np.hypot(*np.diff(line, axis=0).T)
    counts = np.maximum(1, np.ceil(lengths / _STEP_M - 1e-9)).astype(int)
    row = np.repeat(np.arange(len(lengths)), counts)
    share = (np.arange(len(row)) - np.repeat(np.cumsum(counts) - counts, counts) + 1) / counts[row]
    points = line[row] + share[:, None] * (line[row + 1] - line[row])
    turned = heading[row] + share * (heading[row + 1] - heading[row])
    return np.vstack([line[:1], points]), np.concatenate([heading[:1], turned])


def _tool_headings(line: Floats, heading: Floats, length_m: float) -> Floats:
    """Return where a pulled tool points as its hitch is drawn along a path, shape (K,). [rad]

    Each step is a straight pull in the mean heading, for which the tractrix is exact. In reverse the driver is taken to
    hold the angle: backing lets no tool find its line by itself.
    """
    if length_m <= 0:
        return heading
    steps = np.diff(line, axis=0)
    pulls = (heading[1:] + heading[:-1]) / 2
    forward = steps[:, 0] * np.cos(pulls) + steps[:, 1] * np.sin(pulls)
    pointing = [float(heading[0])]
    for pull, driven in zip(pulls.tolist(), forward.tolist(), strict=True):
        angle = pull - pointing[-1]
        if driven > 0 and abs(sin(angle / 2)) > 1e-12:
            angle = 2 * np.arctan(tan(angle / 2) * exp(-driven / length_m))
        pointing.append(pull - float(angle))
    return np.array(pointing)
