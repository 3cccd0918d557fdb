"""Passes parallel to a key line, over a body, to both sides."""

from __future__ import annotations

from itertools import pairwise
from math import ceil, floor
from typing import NamedTuple

import numpy as np
import shapely

from fieldgeo.layout.axes import Floats
from fieldgeo.layout.curved.family import Track, parallel_tracks
from fieldgeo.layout.curved.front import nearest_segments
from fieldgeo.layout.curved.key import KeyLine, checked_radius_m, smooth_key
from fieldgeo.layout.curved.model import CurvedPasses
from fieldgeo.layout.curved.ribbon import (
    Ribbon,
    Stretches,
    cut_ribbon,
    end_headings_rad,
    stretches_on,
    swaths_of,
    union_of,
)
from fieldgeo.layout.strips import FIT_TOLERANCE_M, Finish, Ints
from fieldgeo.machinery.tool import Tool

# The edge of a body is looked at in steps of this share of the width to tell how far it lies from a key line.
LOOK_SHARE = 0.25


def lay_along(
    body: shapely.MultiPolygon,
    key_line: Floats,
    tool: Tool,
    finish: Finish,
    *,
    least_radius_m: float | None = None,
    at_m: float | None = 0.0,
    pull_in: bool = True,
) -> CurvedPasses:
    """Return the passes parallel to a key line over a body, whole spacings apart to both sides of it.

    Parameters
    ----------
    body : shapely.MultiPolygon
        Ground to work, in the frame. [m]
    key_line : ndarray of shape (K, 2)
        The line to follow, in the frame, in the order it is driven. It may lie anywhere and end anywhere: at both ends
        it goes on straight. [m]
    tool : Tool
        Gives width, lap, sections and turn radius.
    finish : {"cover", "clean", "half"}
        When the tool is lifted at the end of a pass: when its whole width is out of the body, when its first edge is
        out, or when its centre line is. With sections each by itself.
    least_radius_m : float, optional
        No pass bends tighter; by default the larger of turn radius and half the width, and never less. [m]
    at_m : float or None
        Where one centre line lies from the key line, to its left above zero: 0 is a pass along it. None lays the
        outermost strip on the right with its edge on the outermost ground there, as along the edge of a field. [m]
    pull_in : bool
        Whether a last strip that does not fit is pulled in over its neighbour, so that it lies within the body; only
        for `cover`.

    Raises
    ------
    LayoutError
        If the key line has no length, crosses itself or runs back on itself, or cannot be held to the least radius; or
        if the radius is less than the tool can do.

    Notes
    -----
    Derived. Neighbouring passes are exactly one pitch apart along the whole of their length, bends too, except inside a
    bend that would become tighter than the least radius: there each pass is rounded, the next lies further off, and the
    ground between is left. No two passes of one piece lie on each other, but for lap and pulled-in strips.
    """
    radius = checked_radius_m(least_radius_m, tool)
    x_low, y_low, x_high, y_high = body.bounds if not body.is_empty else (0.0, 0.0, 0.0, 0.0)
    given = np.asarray(key_line, dtype=float).reshape(-1, 2)
    spread = np.vstack([given, [[x_low, y_low], [x_high, y_high]]])
    key = smooth_key(given, tool, radius_m=radius, reach_m=float(np.hypot(*np.ptp(spread, axis=0))) + tool.width_m)
    return lay_along_key(body, key, tool, finish, at_m=at_m, pull_in=pull_in)


def lay_along_key(
    body: shapely.MultiPolygon,
    key: KeyLine,
    tool: Tool,
    finish: Finish,
    *,
    at_m: float | None = 0.0,
    pull_in: bool = True,
) -> CurvedPasses:
    """Return the passes parallel to a key line that is smoothed already; parameters are those of `lay_along`.

    Raises
    ------
    LayoutError
        If the key line turns back on itself.
    """
    placings = [_placing(piece, key, tool, finish, at_m, pull_in=pull_in) for piece in body.geoms]
    offsets = {offset for placing in placings for offset in placing.offsets_m}
    near = body.envelope.buffer(tool.width_m) if not body.is_empty else body
    tracks = parallel_tracks(key, offsets, near, half_width_m=tool.width_m / 2) if offsets else {}
    parts = [
        _lay_piece(piece, placing, tracks, tool, finish) for piece, placing in zip(body.geoms, placings, strict=True)
    ]
    return put_together(parts, key)


class Placing(NamedTuple):
    """Where the strips of a piece of the body lie from the key line."""

    offsets_m: tuple[float, ...]  # ascending [m]
    pulled: tuple[bool, ...]


def _placing(
    piece: shapely.Polygon, key: KeyLine, tool: Tool, finish: Finish, at_m: float | None, *, pull_in: bool
) -> Placing:
    distances = _distances_m(piece, key, tool)
    return placing_between(float(distances.min()), float(distances.max()), tool, finish, at_m, pull_in=pull_in)


def placing_between(
    low_m: float, high_m: float, tool: Tool, finish: Finish, at_m: float | None, *, pull_in: bool
) -> Placing:
    """Return where strips lie that fill what lies between two distances from a key line.

    Parameters
    ----------
    low_m, high_m : float
        Least and greatest distance of the ground from the key line, to its left above zero. [m]
    tool : Tool
        Gives width and lap.
    finish : {"cover", "clean", "half"}
        Finish rule.
    at_m : float or None
        Distance of one centre line; None takes the one whose edge is at `low_m`. [m]
    pull_in : bool
        Whether strips that stick out are pulled in, for `cover`.
    """
    half, pitch = tool.width_m / 2, tool.pitch_m
    first = low_m + half if at_m is None else at_m
    # A strip is worth laying when this much of its half width reaches the ground.
    reach = (half if finish == "cover" else 0.0) - FIT_TOLERANCE_M
    least, most = ceil((low_m - reach - first) / pitch), floor((high_m + reach - first) / pitch)
    offsets = [first + step * pitch for step in range(least, most + 1)]
    if not offsets:
        return Placing(((low_m + high_m) / 2,), (False,))
    pulled = [False] * len(offsets)
    if pull_in and finish == "cover" and len(offsets) > 1:
        if offsets[-1] + half > high_m + FIT_TOLERANCE_M:
            offsets[-1], pulled[-1] = high_m - half, True
        if offsets[0] - half < low_m - FIT_TOLERANCE_M:
            offsets[0], pulled[0] = low_m + half, True
    return Placing(tuple(offsets), tuple(pulled))


def _distances_m(piece: shapely.Polygon, key: KeyLine, tool: Tool) -> Floats:
    """Return how far the edge of a piece lies from the key line, to its left above zero, point by point. [m]"""
    return distances_from(shapely.get_coordinates(shapely.segmentize(piece.exterior, LOOK_SHARE * tool.width_m)), key)


def distances_from(points: Floats, key: KeyLine) -> Floats:
    """Return how far points lie from a key line, drawn out at both ends, to its left above zero, shape (N,). [m]

    Parameters
    ----------
    points : ndarray of shape (N, 2)
        Points in the frame. [m]
    key : KeyLine
        The key line.
    """
    distances, segment = nearest_segments(points, key.front.points)
    ahead, away = key.front.ahead[segment], points - key.front.points[segment]
    return np.asarray(np.copysign(distances, ahead[:, 0] * away[:, 1] - ahead[:, 1] * away[:, 0]))


class PiecePasses(NamedTuple):
    """Passes over one piece of the body, before they are put together."""

    ribbons: list[Ribbon]  # of each pass
    strip: list[int]
    offset_m: list[float]
    is_pulled: list[bool]
    deviation_m: list[float]
    swaths: list[shapely.Polygon]
    swath_pass: list[int]


def _lay_piece(
    piece: shapely.Polygon, placing: Placing, tracks: dict[float, Track], tool: Tool, finish: Finish
) -> PiecePasses:
    owners = [(strip, part) for strip, each in enumerate(placing.offsets_m) for part in tracks[each].ribbons]
    ribbons = [part for _, part in owners]
    laid = lay_ribbons(piece, ribbons, tool, finish)
    strips = [owners[row][0] for row in laid.owner]
    return PiecePasses(
        ribbons=laid.passes,
        strip=strips,
        offset_m=[placing.offsets_m[strip] for strip in strips],
        is_pulled=[placing.pulled[strip] for strip in strips],
        deviation_m=[tracks[placing.offsets_m[strip]].deviation_m for strip in strips],
        swaths=laid.swaths,
        swath_pass=laid.swath_pass,
    )


class LaidRibbons(NamedTuple):
    """Passes cut from ribbons by the finish rule."""

    passes: list[Ribbon]
    owner: list[int]  # the ribbon that each pass is cut from
    swaths: list[shapely.Polygon]
    swath_pass: list[int]


def lay_ribbons(piece: shapely.Polygon, ribbons: list[Ribbon], tool: Tool, finish: Finish) -> LaidRibbons:
    """Return the passes that the finish rule cuts from ribbons over a piece of a body, with their ground.

    Parameters
    ----------
    piece : shapely.Polygon
        Ground to work, in the frame. [m]
    ribbons : list of Ribbon
        Lines of work.
    tool : Tool
        Gives width and sections.
    finish : {"cover", "clean", "half"}
        Finish rule, for each section by itself.
    """
    ends = np.linspace(-tool.width_m / 2, tool.width_m / 2, tool.sections + 1).tolist()
    by_section = [stretches_on(piece, ribbons, finish, low_m=low, high_m=high) for low, high in pairwise(ends)]
    whole = by_section[0] if tool.sections == 1 else union_of(by_section)
    passes = [
        cut_ribbon(ribbons[row], low, high)
        for row, low, high in zip(whole.ribbon.tolist(), whole.start_m.tolist(), whole.end_m.tolist(), strict=True)
    ]
    swaths: list[shapely.Polygon] = []
    swath_pass: list[int] = []
    for section, its in enumerate(by_section):
        for row, low, high, owner in zip(*(each.tolist() for each in its), _owners(its, whole), strict=True):
            its_swaths = swaths_of(cut_ribbon(ribbons[row], low, high), ends[section], ends[section + 1])
            swaths += its_swaths
            swath_pass += [owner] * len(its_swaths)
    return LaidRibbons(passes, whole.ribbon.tolist(), swaths, swath_pass)


def _owners(its: Stretches, whole: Stretches) -> list[int]:
    """Return the whole stretch that each stretch of a section lies in."""
    span = float(max(np.abs(whole.start_m).max(initial=0.0), np.abs(whole.end_m).max(initial=0.0))) + 1.0
    starts = whole.ribbon * 3 * span + whole.start_m
    middles = its.ribbon * 3 * span + (its.start_m + its.end_m) / 2
    return [int(place) - 1 for place in np.searchsorted(starts, middles, side="right")]


def put_together(parts: list[PiecePasses], key: KeyLine) -> CurvedPasses:
    """Return the passes over all pieces of a body as one object."""
    counts = [len(part.ribbons) for part in parts]
    first = np.cumsum([0, *counts])
    ribbons = [each for part in parts for each in part.ribbons]
    deviation = np.array([each for part in parts for each in part.deviation_m], dtype=float)
    ends = np.array([each.points[[0, -1]] for each in ribbons], dtype=float).reshape(-1, 2)
    along = shapely.line_locate_point(shapely.LineString(key.front.points), shapely.points(ends))

    def whole(values: list[int]) -> Ints:
        return np.array(values, dtype=np.int64)

    return CurvedPasses(
        key_line=key.line,
        least_radius_m=key.least_radius_m,
        key_deviation_m=key.deviation_m,
        lines=tuple(each.points for each in ribbons),
        heading_rad=np.array([end_headings_rad(each) for each in ribbons], dtype=float).reshape(-1, 2),
        along_key_m=np.asarray(along, dtype=float).reshape(-1, 2),
        piece=whole([number for number, count in enumerate(counts) for _ in range(count)]),
        strip=whole([each for part in parts for each in part.strip]),
        offset_m=np.array([each for part in parts for each in part.offset_m], dtype=float),
        is_pulled=np.array([each for part in parts for each in part.is_pulled], dtype=bool),
        is_smoothed=deviation > 0,
        is_ring=np.zeros(len(ribbons), dtype=bool),
        deviation_m=deviation,
        swath_shapes=tuple(each for part in parts for each in part.swaths),
        swath_pass=whole([start + each for part, start in zip(parts, first, strict=False) for each in part.swath_pass]),
    )
