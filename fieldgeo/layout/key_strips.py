"""Several key lines on one body: the ground is shared out among them, each with passes parallel to its own line.

Between two key lines lie whole passes of both; where the lines draw apart, what is left between those is odd ground,
and is filled with passes of the lower line that end on a slant, at the last pass of the upper one.
"""

from __future__ import annotations

from itertools import pairwise
from math import floor
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import shapely

from fieldgeo.layout.curved.family import parallel_tracks
from fieldgeo.layout.curved.key import checked_radius_m, smooth_key
from fieldgeo.layout.curved.lay import distances_from, lay_along
from fieldgeo.layout.curved.model import CurvedPasses
from fieldgeo.layout.overlay import union
from fieldgeo.layout.strips import FIT_TOLERANCE_M

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fieldgeo.layout.axes import Floats
    from fieldgeo.layout.curved.key import KeyLine
    from fieldgeo.layout.strips import Finish
    from fieldgeo.machinery.tool import Tool


class KeyStrips(NamedTuple):
    """Passes along several key lines."""

    passes: CurvedPasses
    key_of: tuple[int, ...]  # (N) the key line that each pass follows
    odd_m2: float  # ground between key lines that whole passes do not fill [m2]


def lay_key_strips(
    body: shapely.MultiPolygon,
    key_lines: Sequence[Floats],
    tool: Tool,
    finish: Finish,
    *,
    least_radius_m: float | None = None,
) -> KeyStrips:
    """Return the passes over a body along several key lines that do not cross.

    Parameters
    ----------
    body : shapely.MultiPolygon
        Ground to work, in the frame. [m]
    key_lines : sequence of ndarray of shape (K, 2)
        One or more, each to the left of the one before it, all in the same way. [m]
    tool : Tool
        Gives width, lap, sections and turn radius.
    finish : {"cover", "clean", "half"}
        Finish rule.
    least_radius_m : float, optional
        No pass bends tighter, as in `fieldgeo.layout.curved.lay.lay_along`. [m]

    Raises
    ------
    LayoutError
        As `fieldgeo.layout.curved.lay.lay_along`.

    Notes
    -----
    Derived. Of the whole passes that fit between two lines where they lie nearest, half belong to either. The edge of
    the upper ones is where its ground ends. On parallel lines a whole number of passes apart nothing is odd.
    """
    radius = checked_radius_m(least_radius_m, tool)
    reach = _reach_m(body, key_lines)
    keys = [smooth_key(line, tool, radius_m=radius, reach_m=reach) for line in key_lines]
    left, odd_m2 = body, 0.0
    grounds: list[shapely.MultiPolygon] = []
    for lower, upper in pairwise(keys):
        above_lower, below_upper = _shared(distances_from(_within(upper, body), lower), tool)
        below, left = _cut(left, upper, -(below_upper + 0.5) * tool.pitch_m, tool)
        grounds.append(below)
        odd_m2 += _cut(below, lower, (above_lower + 0.5) * tool.pitch_m, tool)[1].area
    grounds.append(left)
    laid = [
        (number, lay_along(ground, line, tool, finish, least_radius_m=radius))
        for number, (ground, line) in enumerate(zip(grounds, key_lines, strict=True))
        if not ground.is_empty
    ]
    key_of = tuple(number for number, passes in laid for _ in range(len(passes)))
    return KeyStrips(_joined([passes for _, passes in laid]), key_of, odd_m2)


def whole_apart(lower: Floats, upper: Floats, tool: Tool, body: shapely.MultiPolygon) -> Floats:
    """Return a key line moved sideways, so that it lies a whole number of passes from another where it is nearest.

    Parameters
    ----------
    lower, upper : ndarray of shape (K, 2)
        Key lines, the upper to the left of the lower. [m]
    tool : Tool
        Gives width and lap.
    body : shapely.MultiPolygon
        Ground within which they are held against each other. [m]
    """
    reach, radius = _reach_m(body, [lower, upper]), checked_radius_m(None, tool)
    one, two = (smooth_key(line, tool, radius_m=radius, reach_m=reach) for line in (lower, upper))
    nearest = float(distances_from(_within(two, body), one).min())
    passes = max(1, round(nearest / tool.pitch_m))
    return moved(two, passes * tool.pitch_m - nearest, body, tool)


def moved(key: KeyLine, distance_m: float, body: shapely.MultiPolygon, tool: Tool) -> Floats:
    """Return a key line at a distance from itself, over a body, shape (K, 2). [m]

    Parameters
    ----------
    key : KeyLine
        The line.
    distance_m : float
        To the left above zero. [m]
    body : shapely.MultiPolygon
        Ground near which it is wanted. [m]
    tool : Tool
        Gives the width.
    """
    if abs(distance_m) < FIT_TOLERANCE_M / 10:
        return key.line
    track = parallel_tracks(key, [distance_m], body.envelope, half_width_m=tool.width_m / 2)[distance_m]
    whole = max((each.points for each in track.ribbons), key=lambda points: _length_m(points, body))
    near = shapely.intersection(shapely.LineString(whole), shapely.box(*key_bounds(key, distance_m)))
    parts = [each for each in shapely.get_parts(near) if shapely.length(each) > 0]
    return np.asarray(shapely.get_coordinates(shapely.simplify(max(parts, key=shapely.length), FIT_TOLERANCE_M)))


def key_bounds(key: KeyLine, distance_m: float) -> tuple[float, float, float, float]:
    """Return the box about a key line and the lines as far from it as a distance. [m]

    Parameters
    ----------
    key : KeyLine
        The line.
    distance_m : float
        The distance. [m]
    """
    low, high = key.line.min(axis=0) - abs(distance_m), key.line.max(axis=0) + abs(distance_m)
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])


def _length_m(points: Floats, body: shapely.MultiPolygon) -> float:
    return float(shapely.length(shapely.intersection(shapely.LineString(points), body.envelope)))


def _reach_m(body: shapely.MultiPolygon, lines: Sequence[Floats]) -> float:
    spread = np.vstack([*lines, np.reshape(body.bounds, (2, 2))]) if not body.is_empty else np.vstack(lines)
    return float(np.hypot(*np.ptp(spread, axis=0)))


def _within(key: KeyLine, body: shapely.MultiPolygon) -> Floats:
    """Return points of a key line, drawn out, over the span of a body; of the line alone where it misses it."""
    line = shapely.segmentize(shapely.LineString(key.line), 5.0)
    points = shapely.get_coordinates(shapely.intersection(line, body))
    return points if len(points) else shapely.get_coordinates(line)


def _shared(apart_m: Floats, tool: Tool) -> tuple[int, int]:
    """Return how many whole passes between two key lines belong to the lower, and how many to the upper."""
    between = max(0, floor((float(apart_m.min()) + FIT_TOLERANCE_M) / tool.pitch_m) - 1)
    return between - between // 2, between // 2


def _cut(
    ground: shapely.MultiPolygon, key: KeyLine, distance_m: float, tool: Tool
) -> tuple[shapely.MultiPolygon, shapely.MultiPolygon]:
    """Return the ground to the right and to the left of a line at a distance from a key line."""
    from shapely.ops import split

    if ground.is_empty:
        return ground, ground
    pieces = list(ground.geoms)
    for ribbon in parallel_tracks(key, [distance_m], ground.envelope, half_width_m=tool.width_m / 2)[
        distance_m
    ].ribbons:
        line = shapely.LineString(ribbon.points)
        pieces = [part for piece in pieces for part in shapely.get_parts(split(piece, line))]
    inner = shapely.get_coordinates([shapely.point_on_surface(piece) for piece in pieces])
    is_left = distances_from(inner, key) > distance_m
    right, left = (
        union([piece for piece, is_its in zip(pieces, is_left, strict=True) if is_its == side])
        for side in (False, True)
    )
    return right, left


def _joined(parts: Sequence[CurvedPasses]) -> CurvedPasses:
    """Return passes along several key lines as one object; the pieces of each are numbered on."""
    first_piece = np.cumsum([0, *(int(part.piece.max(initial=-1)) + 1 for part in parts)])
    first_pass = np.cumsum([0, *(len(part) for part in parts)])
    return CurvedPasses(
        key_line=parts[0].key_line,
        least_radius_m=parts[0].least_radius_m,
        key_deviation_m=max(part.key_deviation_m for part in parts),
        lines=tuple(line for part in parts for line in part.lines),
        along_key_m=np.concatenate([part.along_key_m for part in parts]),
        heading_rad=np.concatenate([part.heading_rad for part in parts]),
        piece=np.concatenate([part.piece + start for part, start in zip(parts, first_piece, strict=False)]),
        strip=np.concatenate([part.strip for part in parts]),
        offset_m=np.concatenate([part.offset_m for part in parts]),
        is_pulled=np.concatenate([part.is_pulled for part in parts]),
        is_smoothed=np.concatenate([part.is_smoothed for part in parts]),
        deviation_m=np.concatenate([part.deviation_m for part in parts]),
        swath_shapes=tuple(swath for part in parts for swath in part.swath_shapes),
        swath_pass=np.concatenate([part.swath_pass + start for part, start in zip(parts, first_pass, strict=False)]),
        is_ring=np.concatenate([part.is_ring for part in parts]),
    )
