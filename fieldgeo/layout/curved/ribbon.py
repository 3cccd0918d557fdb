"""The ground a bar sweeps along a bent line: where of it lies on a body, and the passes cut from it by the finish rule.

Between two points of its line the bar sweeps a trapezoid: at each point it lies along the line that halves the bend.
So the ground of a stretch is exactly the width times the length of its centre line, as long as no bend is tighter than
half the width (Pappus; derived), and neighbours at whole spacings share their edges.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from fieldgeo.layout.axes import Floats
from fieldgeo.layout.curved.front import NO_LENGTH_M, Front, sideways
from fieldgeo.layout.overlay import GRID_M, intersections, polygons_of
from fieldgeo.layout.strips import FIT_TOLERANCE_M, Finish, Ints


class Ribbon(NamedTuple):
    """A line with the bar that lies across it at every point."""

    points: Floats  # (K, 2) [m]
    left: Floats  # (K, 2) from the centre to a point a metre to the left, along the bar
    along_m: Floats  # (K,) distance along the line [m]


class Stretches(NamedTuple):
    """Stretches of ribbons, sorted by ribbon and place along it."""

    ribbon: Ints  # (R,)
    start_m: Floats  # (R,) distance along the ribbon's line [m]
    end_m: Floats  # (R,) > start [m]


def ribbon_of(front: Front) -> Ribbon:
    """Return a front as a ribbon."""
    lengths = np.hypot(*np.diff(front.points, axis=0).T)
    return Ribbon(front.points, sideways(front), np.concatenate([[0.0], np.cumsum(lengths)]))


def stretches_on(
    body: shapely.Polygon, ribbons: list[Ribbon], finish: Finish, *, low_m: float, high_m: float
) -> Stretches:
    """Return the stretches of ribbons that the finish rule asks for on one piece of a body.

    Parameters
    ----------
    body : shapely.Polygon
        Ground to work, in the frame. [m]
    ribbons : list of Ribbon
        Lines of work.
    finish : {"cover", "clean", "half"}
        All where any of the bar is on the body, where all of it is, or where its middle is.
    low_m, high_m : float
        Ends of the bar from the centre line, to the left above zero: half the width either way, or a section. [m]

    Notes
    -----
    Derived: the trapezoids that lie partly on the body are cut, and the corners of what is cut tell from where to where
    the bar touches it. A stretch of no more than `FIT_TOLERANCE_M` is not worked, and none is left out between two.
    """
    quads, ribbon, segment = _near(body, ribbons, low_m, high_m)
    if len(quads) == 0:
        return Stretches(np.empty(0, dtype=np.int64), np.empty(0), np.empty(0))
    shapes = np.asarray(shapely.polygons(quads), dtype=object)
    # Where two arms of a line run into each other a trapezoid may be folded over: all of it counts.
    folded = np.flatnonzero(~shapely.is_valid(shapes))
    shapes[folded] = shapely.convex_hull(shapes[folded])
    shapely.prepare(body)
    is_whole = shapely.contains_properly(body, shapes)
    partly = np.flatnonzero(~is_whole & shapely.intersects(body, shapes))
    whole = np.flatnonzero(is_whole)
    spans = _spans_on(body, quads[partly], shapes[partly], finish)
    rows = np.concatenate([whole, partly[spans.row]])
    low = np.concatenate([np.zeros(len(whole)), spans.low])
    high = np.concatenate([np.ones(len(whole)), spans.high])
    along = np.concatenate([each.along_m for each in ribbons])
    first = np.cumsum([0, *(len(each.points) for each in ribbons)])[:-1]
    place = first[ribbon[rows]] + segment[rows]
    length = along[place + 1] - along[place]
    return _joined(
        ribbon[rows],
        along[place] + low * length,
        along[place] + high * length,
    )


def _near(body: shapely.Polygon, ribbons: list[Ribbon], low_m: float, high_m: float) -> tuple[Floats, Ints, Ints]:
    """Return the trapezoids near a body as rings of shape (Q, 5, 2), with ribbon and segment of each.

    A ring begins at the low end of the bar at the start of the segment and goes on to the low end at its end.
    """
    x_low, y_low, x_high, y_high = body.bounds
    rings, ribbon_of_ring, segments = [np.empty((0, 5, 2))], [], []
    for number, each in enumerate(ribbons):
        low, high = each.points + low_m * each.left, each.points + high_m * each.left
        ring = np.stack([low[:-1], low[1:], high[1:], high[:-1], low[:-1]], axis=1)
        least, most = ring.min(axis=1), ring.max(axis=1)
        near = np.flatnonzero(
            (least[:, 0] < x_high) & (most[:, 0] > x_low) & (least[:, 1] < y_high) & (most[:, 1] > y_low)
        )
        rings.append(ring[near])
        ribbon_of_ring.append(np.full(len(near), number))
        segments.append(near)
    none = np.empty(0, dtype=np.int64)
    return np.concatenate(rings), np.concatenate([none, *ribbon_of_ring]), np.concatenate([none, *segments])


class _Spans(NamedTuple):
    """Shares of the lengths of trapezoids, from 0 to 1; those of one may overlap."""

    row: Ints  # (S,) the trapezoid
    low: Floats  # (S,)
    high: Floats  # (S,)


def _spans_on(body: shapely.Polygon, quads: Floats, shapes: NDArray[np.object_], finish: Finish) -> _Spans:
    """Return the shares of the lengths of trapezoids that the finish rule asks for."""
    if finish == "half":
        middles = shapely.linestrings(np.stack([quads[:, 0] + quads[:, 3], quads[:, 1] + quads[:, 2]], axis=1) / 2)
        return _spans(
            quads, np.asarray(shapely.intersection(middles, body), dtype=object), shapely.GeometryType.LINESTRING
        )
    on = intersections(shapes, body)
    if finish == "cover":
        return _spans(quads, on, shapely.GeometryType.POLYGON)
    ground = np.array([polygons_of(shape) for shape in on], dtype=object)
    off = np.asarray(shapely.difference(shapes, ground, grid_size=GRID_M), dtype=object)
    return _complement(_spans(quads, off, shapely.GeometryType.POLYGON), len(quads))


def _spans(quads: Floats, shapes: NDArray[np.object_], kind: shapely.GeometryType) -> _Spans:
    """Return from where to where along each trapezoid the parts of a shape in it lie."""
    parts, owner = shapely.get_parts(shapes, return_index=True)
    is_kind = (shapely.get_type_id(parts) == kind) & ~shapely.is_empty(parts)
    parts, owner = parts[is_kind], owner[is_kind]
    points, part = shapely.get_coordinates(parts, return_index=True)
    if len(points) == 0:
        none = np.empty(0)
        return _Spans(np.empty(0, dtype=np.int64), none, none)
    along, across_m = shares_along(quads[owner[part]], points)
    first = np.flatnonzero(np.diff(part, prepend=-1))
    low, high = np.minimum.reduceat(along, first), np.maximum.reduceat(along, first)
    # What is no wider across than a centimetre is an edge that both share.
    wide = np.maximum.reduceat(across_m, first) - np.minimum.reduceat(across_m, first) > FIT_TOLERANCE_M
    keep = wide | (kind == shapely.GeometryType.LINESTRING)
    return _Spans(owner[keep], low[keep], high[keep])


def _complement(spans: _Spans, count: int) -> _Spans:
    """Return the shares of the lengths of trapezoids that spans leave."""
    order = np.lexsort((spans.low, spans.row))
    low = np.concatenate([spans.row[order] + spans.low[order], [count]])
    reach = np.maximum.accumulate(np.concatenate([[0.0], spans.row[order] + spans.high[order]]))
    # Between spans lie gaps, each cut where one trapezoid ends and the next begins.
    rows, lows, highs = [], [], []
    for start, stop in zip(reach.tolist(), low.tolist(), strict=True):
        for row in range(int(start), min(int(np.ceil(stop)), count)):
            if min(stop, row + 1) > max(start, row):
                rows.append(row)
                lows.append(max(start, row) - row)
                highs.append(min(stop, row + 1) - row)
    return _Spans(np.array(rows, dtype=np.int64), np.array(lows), np.array(highs))


def shares_along(quads: Floats, points: Floats) -> tuple[Floats, Floats]:
    """Return how far along trapezoids points lie, as the bar passes over them, and how far across.

    Parameters
    ----------
    quads : ndarray of shape (N, 5, 2)
        The trapezoid of each point: low end of the bar at the start, at the end, then its high end at the end and at
        the start. [m]
    points : ndarray of shape (N, 2)
        Points of the trapezoids. [m]

    Returns
    -------
    along : ndarray of shape (N,)
        Shares of the length, 0 to 1.
    across_m : ndarray of shape (N,)
        Distances from the low side. [m]

    Notes
    -----
    Derived: its long sides are parallel, so the bar at a share t runs from ``low0 + t (low1 - low0)`` to
    ``high0 + t (high1 - high0)``; a point lies on it where its distances from the bars at both ends, along the long
    sides, are as t to 1 - t.
    """
    low0, low1, high1, high0 = (quads[:, corner] for corner in range(4))
    ahead = low1 + high1 - low0 - high0
    ahead = ahead / np.hypot(*ahead.T)[:, None]
    left = np.column_stack([-ahead[:, 1], ahead[:, 0]])

    def dot(one: Floats, other: Floats) -> Floats:
        return np.asarray((one * other).sum(axis=1))

    across_m = dot(points - low0, left)
    share = across_m / dot(high0 - low0, left)
    start = share * dot(high0 - low0, ahead)
    end = dot(low1 - low0, ahead) + share * dot(high1 - low1, ahead)
    along = np.clip((dot(points - low0, ahead) - start) / np.maximum(end - start, 1e-12), 0.0, 1.0)
    return np.asarray(along), across_m


def _joined(ribbon: Ints, start_m: Floats, end_m: Floats) -> Stretches:
    """Return stretches sorted, those that touch joined, those too short to work left out."""
    order = np.lexsort((start_m, ribbon))
    ribbon, start_m, end_m = ribbon[order], start_m[order], end_m[order]
    if len(ribbon) == 0:
        return Stretches(ribbon, start_m, end_m)
    shift = ribbon * (float(end_m.max() - start_m.min()) + 1.0)
    reach = np.maximum.accumulate(end_m + shift) - shift
    is_new = np.ones(len(ribbon), dtype=bool)
    is_new[1:] = (ribbon[1:] != ribbon[:-1]) | (start_m[1:] > reach[:-1] + FIT_TOLERANCE_M)
    starts = np.flatnonzero(is_new)
    joined = Stretches(ribbon[starts], start_m[starts], np.maximum.reduceat(end_m, starts))
    keep = joined.end_m - joined.start_m > FIT_TOLERANCE_M
    return Stretches(joined.ribbon[keep], joined.start_m[keep], joined.end_m[keep])


def union_of(stretches: list[Stretches]) -> Stretches:
    """Return the stretches of whole bars that the stretches of their sections make up."""
    return _joined(*(np.concatenate([each[column] for each in stretches]) for column in range(3)))


def cut_ribbon(ribbon: Ribbon, start_m: float, end_m: float) -> Ribbon:
    """Return a stretch of a ribbon, the bar at its ends between those at the points before and after.

    Parameters
    ----------
    ribbon : Ribbon
        Line and bar.
    start_m, end_m : float
        From where to where along it. [m]
    """
    inside = np.flatnonzero((ribbon.along_m > start_m + 1e-9) & (ribbon.along_m < end_m - 1e-9))
    along = np.concatenate([[start_m], ribbon.along_m[inside], [end_m]])
    ends = np.searchsorted(ribbon.along_m, [start_m, end_m], side="right") - 1
    ends = np.clip(ends, 0, len(ribbon.points) - 2)
    share = ((along[[0, -1]] - ribbon.along_m[ends]) / (ribbon.along_m[ends + 1] - ribbon.along_m[ends]))[:, None]
    points, left = (
        np.vstack([at_ends[:1], each[inside], at_ends[1:]])
        for each in (ribbon.points, ribbon.left)
        for at_ends in [each[ends] + share * (each[ends + 1] - each[ends])]
    )
    return Ribbon(points, left, along)


def swath_of(ribbon: Ribbon, low_m: float, high_m: float) -> shapely.Polygon:
    """Return the ground that a bar sweeps along a ribbon.

    Parameters
    ----------
    ribbon : Ribbon
        Line and bar.
    low_m, high_m : float
        Ends of the bar from the centre line, to the left above zero. [m]
    """
    low, high = ribbon.points + low_m * ribbon.left, ribbon.points + high_m * ribbon.left
    if np.hypot(*(ribbon.points[-1] - ribbon.points[0])) < NO_LENGTH_M:  # a ring: one of its edges is a hole
        inner, outer = sorted((low, high), key=lambda ring: shapely.Polygon(ring).area)
        return shapely.Polygon(outer[:-1], [inner[:-1]])
    return shapely.Polygon(np.vstack([low, high[::-1]]))


def swaths_of(ribbon: Ribbon, low_m: float, high_m: float) -> list[shapely.Polygon]:
    """Return the ground that a bar sweeps along a ribbon, in pieces where it comes upon ground of its own again.

    Parameters
    ----------
    ribbon : Ribbon
        Line and bar.
    low_m, high_m : float
        Ends of the bar from the centre line, to the left above zero. [m]

    Returns
    -------
    list of shapely.Polygon
        Valid polygons; their areas add up to what is swept, ground that is swept twice counted twice.
    """
    swath = swath_of(ribbon, low_m, high_m)
    if swath.is_valid:
        return [swath]
    if len(ribbon.points) == 2:
        return list(polygons_of(shapely.make_valid(swath)).geoms)
    middle = len(ribbon.points) // 2
    halves = (Ribbon(*(each[: middle + 1] for each in ribbon)), Ribbon(*(each[middle:] for each in ribbon)))
    return [swath for half in halves for swath in swaths_of(half, low_m, high_m)]


def end_headings_rad(ribbon: Ribbon) -> tuple[float, float]:
    """Return the headings at start and end of a ribbon, square to the bar, counter-clockwise from east. [rad]"""
    (x0, y0), (x1, y1) = ribbon.left[[0, -1]].tolist()
    return float(np.arctan2(-x0, y0)), float(np.arctan2(-x1, y1))
