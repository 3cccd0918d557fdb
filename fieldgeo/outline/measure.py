"""Measures of an outline: corners, shape indices, longest side, minimum width, mean pass length.

Directions are azimuths in the frame, degrees clockwise from north, 0 <= direction < 180: a pass runs both ways.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import pi
from typing import Final, TypeAlias

import numpy as np
import shapely

from fieldgeo.frame import FloatArray, azimuth_deg
from fieldgeo.outline.field import Field

Outline: TypeAlias = shapely.Polygon | shapely.MultiPolygon

# A point nearer than this to the straight line between its neighbours is no corner. Two centimetres let a fence line
# keep one direction when its points are rounded to 7 decimals of a degree (1 cm), or follow the parallel circle as
# lines in longitude and latitude do (1.1 cm on half a mile at latitude 42).
STRAIGHT_M: Final = 0.02
_SAME_WIDTH: Final = 1e-9  # relative; flush sides that give the same width are told apart by their length


@dataclass(frozen=True, slots=True, kw_only=True)
class Measures:
    """Size and shape of an outline."""

    area_m2: float  # less the holes [m2]
    perimeter_m: float  # of all rings, holes included [m]
    corners: int  # of all rings, see `corners`
    parts: int
    holes: int
    convexity: float  # area / area of the convex hull, 0 to 1
    isoperimetric: float  # 4 pi area / perimeter^2, 1 for a circle
    rectangularity: float  # area / area of the smallest rectangle around it, 0 to 1
    longest_side_m: float  # longest straight side of an outer ring [m]
    longest_side_direction_deg: float  # [deg]
    min_width_m: float  # least extent across any direction [m]
    min_width_direction_deg: float  # direction of passes across that extent: fewest passes [deg]
    mean_pass_length_m: float  # of passes in that direction [m]


def measure(field: Field | Outline) -> Measures:
    """Return all measures of a field.

    Parameters
    ----------
    field : Field or shapely.Polygon or shapely.MultiPolygon
        Field, or its shape in a frame. [m]

    Returns
    -------
    Measures
    """
    shape = field.shape if isinstance(field, Field) else field
    longest_side_m, longest_side_direction_deg = longest_side(shape)
    width_m, direction_deg = min_width(shape)
    return Measures(
        area_m2=shape.area,
        perimeter_m=shape.length,
        corners=corners(shape),
        parts=len(_parts(shape)),
        holes=holes(shape),
        convexity=convexity(shape),
        isoperimetric=isoperimetric(shape),
        rectangularity=rectangularity(shape),
        longest_side_m=longest_side_m,
        longest_side_direction_deg=longest_side_direction_deg,
        min_width_m=width_m,
        min_width_direction_deg=direction_deg,
        mean_pass_length_m=shape.area / width_m,
    )


def corners(shape: Outline) -> int:
    """Return the number of real corners of all rings.

    Points that lie within 2 cm of the straight line between the corners kept are not counted, so
    points along a straight fence, rounding, and the extra points of sides longer than 2 km make no corners. A curve
    drawn with many points counts as many corners as it takes to follow it to 2 cm.

    Parameters
    ----------
    shape : shapely.Polygon or shapely.MultiPolygon
        Outline in a frame. [m]

    Returns
    -------
    int
    """
    rings = [ring for part in _parts(shape) for ring in (part.exterior, *part.interiors)]
    return sum(len(_straightened(ring)) - 1 for ring in rings)


def holes(shape: Outline) -> int:
    """Return the number of holes in all parts.

    Parameters
    ----------
    shape : shapely.Polygon or shapely.MultiPolygon
        Outline in a frame. [m]

    Returns
    -------
    int
    """
    return sum(len(part.interiors) for part in _parts(shape))


def convexity(shape: Outline) -> float:
    """Return area / area of the convex hull: 1 for a convex outline without holes. [-]

    Standard shape index, common practice, no source.

    Parameters
    ----------
    shape : shapely.Polygon or shapely.MultiPolygon
        Outline in a frame. [m]

    Returns
    -------
    float
        0 < convexity <= 1.
    """
    return min(1.0, float(shape.area / shape.convex_hull.area))  # float noise may reach beyond 1


def isoperimetric(shape: Outline) -> float:
    """Return 4 pi area / perimeter^2: 1 for a circle, pi/4 for a square, less the more perimeter there is. [-]

    Standard shape index, common practice, no source. The perimeter is that of all rings, holes included.

    Parameters
    ----------
    shape : shapely.Polygon or shapely.MultiPolygon
        Outline in a frame. [m]

    Returns
    -------
    float
        0 < index <= 1.
    """
    return float(4 * pi * shape.area / shape.length**2)


def rectangularity(shape: Outline) -> float:
    """Return area / area of the smallest rectangle around it, turned as need be: 1 for a rectangle. [-]

    Standard shape index, common practice, no source. The smallest rectangle has a side flush with a side of the convex
    hull (Freeman and Shapira, Determining the minimum-area encasing rectangle, 1975; from memory).

    Parameters
    ----------
    shape : shapely.Polygon or shapely.MultiPolygon
        Outline in a frame. [m]

    Returns
    -------
    float
        0 < index <= 1.
    """
    boxes = _flush_boxes(shape)
    return min(1.0, float(shape.area / np.min(boxes.across_m * boxes.along_m)))


def longest_side(shape: Outline) -> tuple[float, float]:
    """Return length and direction of the longest straight side of the outer rings. [m, deg]

    Neighbouring edges on one straight line, to 2 cm, count as one side.

    Parameters
    ----------
    shape : shapely.Polygon or shapely.MultiPolygon
        Outline in a frame. [m]

    Returns
    -------
    tuple of float
        Length, and direction with 0 <= direction < 180.
    """
    sides = np.concatenate([np.diff(_straightened(part.exterior), axis=0) for part in _parts(shape)])
    lengths_m = np.hypot(*sides.T)
    longest = int(np.argmax(lengths_m))
    return float(lengths_m[longest]), float(_direction_deg(sides[longest])[0])


def min_width(shape: Outline) -> tuple[float, float]:
    """Return the minimum width of an outline and the direction of passes across it: the fewest passes. [m, deg]

    The least distance between two parallel lines with the outline between them. One of the two lies flush with a side
    of the convex hull (textbook result of computational geometry), and the passes run along that side. Of several sides
    with the same width the longest is taken, then the one with the least azimuth.

    Parameters
    ----------
    shape : shapely.Polygon or shapely.MultiPolygon
        Outline in a frame; parts are spanned together. [m]

    Returns
    -------
    tuple of float
        Width, and direction with 0 <= direction < 180.
    """
    boxes = _flush_boxes(shape)
    width_m = float(boxes.across_m.min())
    ties = np.flatnonzero(boxes.across_m <= width_m * (1 + _SAME_WIDTH))
    best = ties[np.lexsort((boxes.direction_deg[ties], -np.round(boxes.side_m[ties], 6)))[0]]
    return width_m, float(boxes.direction_deg[best])


def extent_across_m(shape: Outline, direction_deg: float) -> float:
    """Return the extent of an outline across passes of a direction. [m]

    Parameters
    ----------
    shape : shapely.Polygon or shapely.MultiPolygon
        Outline in a frame. [m]
    direction_deg : float
        Azimuth of the passes. [deg]

    Returns
    -------
    float
    """
    azimuth = np.radians(direction_deg)
    across_m = shapely.get_coordinates(shape) @ np.array([np.cos(azimuth), -np.sin(azimuth)])
    return float(np.ptp(across_m))


def mean_pass_length_m(shape: Outline, direction_deg: float) -> float:
    """Return the mean length of passes of a direction: area / extent across the passes. [m]

    This is the mean over very narrow passes, headlands and the last part pass left out, and so does not depend on the
    tool. The length of a line that a hole or a bay breaks counts without the break.

    Parameters
    ----------
    shape : shapely.Polygon or shapely.MultiPolygon
        Outline in a frame. [m]
    direction_deg : float
        Azimuth of the passes. [deg]

    Returns
    -------
    float
    """
    return float(shape.area / extent_across_m(shape, direction_deg))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Boxes:
    """The rectangles round a hull, one flush with each of its N sides; every array of shape (N,)."""

    direction_deg: FloatArray  # of the side
    side_m: FloatArray  # its length
    across_m: FloatArray  # extent of the hull across the side
    along_m: FloatArray  # and along it


def _flush_boxes(shape: Outline) -> _Boxes:
    hull = shapely.get_coordinates(shapely.orient_polygons(shape.convex_hull))  # counter-clockwise
    sides = np.diff(hull, axis=0)
    side_m = np.hypot(*sides.T)
    along = sides / side_m[:, np.newaxis]
    # On a convex ring the headings of the sides only ever turn left, so the corner that lies farthest out in any
    # direction is found by looking the direction up among them: n log n in all, where every corner against every side
    # would be n^2.
    heading = np.unwrap(np.arctan2(sides[:, 1], sides[:, 0]))
    heading -= heading[0]

    def farthest_m(turn: float, axis: FloatArray) -> FloatArray:
        # The corner before the first side that heads beyond the one asked for.
        corner = np.searchsorted(heading, (heading + turn) % (2 * pi)) % len(sides)
        return np.asarray(np.sum((hull[corner] - hull[:-1]) * axis, axis=1))

    inward = np.column_stack([-along[:, 1], along[:, 0]])
    return _Boxes(
        direction_deg=_direction_deg(sides),
        side_m=side_m,
        across_m=farthest_m(pi, inward),
        along_m=farthest_m(pi / 2, along) + farthest_m(3 * pi / 2, -along),
    )


def _direction_deg(sides_m: FloatArray) -> FloatArray:
    direction = np.atleast_1d(azimuth_deg(sides_m[..., 0], sides_m[..., 1])) % 180
    return np.where(direction > 180 - 1e-9, 0.0, direction)  # a side due north, float noise aside, is 0 and not 180


def _parts(shape: Outline) -> list[shapely.Polygon]:
    return [shape] if isinstance(shape, shapely.Polygon) else list(shape.geoms)


def _straightened(ring: shapely.LinearRing) -> FloatArray:
    """Return the points of a ring, closed, without those that are no corners."""
    points = shapely.get_coordinates(ring)[:-1]
    # Begun at a corner that is surely kept: the point farthest from the middle.
    start = int(np.argmax(np.hypot(*(points - points.mean(axis=0)).T)))
    rolled = np.roll(points, -start, axis=0)
    line = shapely.LineString(np.vstack([rolled, rolled[:1]]))
    return shapely.get_coordinates(shapely.simplify(line, STRAIGHT_M, preserve_topology=False))
