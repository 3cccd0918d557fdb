"""Driving with the tool up from one place on a field to another, round what lies in between."""

from __future__ import annotations

import numpy as np
import shapely
from shapely.ops import substring

from fieldgeo.layout.axes import Floats

# Ends of a stretch outside are taken to lie on a ring when they are this close to it.
ON_RING_M = 1e-6


def drive_way(shape: shapely.MultiPolygon, start_xy: Floats, end_xy: Floats) -> Floats:
    """Return a way from one place to another: straight, but along the edge where the line leaves the field.

    Parameters
    ----------
    shape : shapely.MultiPolygon
        Outline in the frame. [m]
    start_xy, end_xy : ndarray of shape (2,)
        Places. [m]

    Returns
    -------
    ndarray of shape (K, 2)
        Points of the way. Between parts of a field it goes straight across what parts them. (Derived; the shorter way
        along the ring is taken, which is not always the shortest way there is.) [m]
    """
    line = shapely.LineString([start_xy, end_xy])
    if line.length == 0 or shape.covers(line):
        return np.array([start_xy, end_xy])
    outside = [part for part in shapely.get_parts(shapely.difference(line, shape)) if part.length > ON_RING_M]
    outside.sort(key=lambda part: line.project(shapely.Point(part.coords[0])))
    rings = [ring for part in shape.geoms for ring in (part.exterior, *part.interiors)]
    points = [np.array([start_xy])]
    for part in outside:
        points.append(_along_ring(rings, part))
    points.append(np.array([end_xy]))
    return np.vstack(points)


def _along_ring(rings: list[shapely.LinearRing], outside: shapely.LineString) -> Floats:
    first, last = shapely.Point(outside.coords[0]), shapely.Point(outside.coords[-1])
    for ring in rings:
        if ring.distance(first) < ON_RING_M and ring.distance(last) < ON_RING_M:
            return _shorter_arc(shapely.LineString(ring.coords), ring.project(first), ring.project(last))
    return shapely.get_coordinates(outside)


def _shorter_arc(ring: shapely.LineString, begin_m: float, end_m: float) -> Floats:
    low, high = sorted((begin_m, end_m))
    inner = shapely.get_coordinates(substring(ring, low, high))
    outer = np.vstack(
        [
            shapely.get_coordinates(substring(ring, high, ring.length)),
            shapely.get_coordinates(substring(ring, 0.0, low)),
        ]
    )
    if high - low <= ring.length - (high - low):
        return inner if begin_m <= end_m else inner[::-1]
    return outer if begin_m > end_m else outer[::-1]
