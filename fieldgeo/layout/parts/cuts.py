"""Cuts: straight lines along which ground is worth dividing, and the pieces they leave.

Ground is divided because it bends: where a corner points into it, or a hole stands in it, passes of one direction are
cut short or turn away. So cuts go through such corners, along the edges that meet there, along the directions that are
good for the ground, or to the next such corner. (What cuts are tried is a rule of thumb; what is gained is measured.)
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
import shapely

from fieldgeo.layout.axes import Floats, turn_matrix, unit_vector
from fieldgeo.layout.corners import turn_angles
from fieldgeo.layout.overlay import intersection, polygons_of, union
from fieldgeo.machinery.tool import Tool

# A corner counts from this bend on, and only those that point furthest in are tried. Own choice: less bend moves a
# pass by less than its width over ten widths, and more corners found nothing better on the sample fields.
LEAST_BEND_DEG: Final = 6.0
MOST_CORNERS: Final = 8
# The edge of ground is thinned by this share of the width before its corners are looked at. Own choice.
THIN_SHARE: Final = 0.5
# Cuts nearer to each other than this, in direction and place, are one.
ALIKE_DEG: Final = 1.0
ALIKE_SHARE: Final = 0.25
# Pieces smaller than this are float noise of the overlay.
LEAST_PIECE_M2: Final = 1e-6


class Cut(NamedTuple):
    """A straight line through a corner."""

    xy: Floats  # (2,) the corner [m]
    direction_deg: float  # azimuth of the line, 0 <= d < 180 [deg]

    def across_m(self) -> float:
        """Return where the line lies across its own direction, about the origin of the frame. [m]"""
        return float(self.xy @ turn_matrix(self.direction_deg)[:, 1])


class InwardCorner(NamedTuple):
    """A corner of ground that points into it."""

    xy: Floats  # (2,) [m]
    edges_deg: tuple[float, float]  # azimuths of the edges that meet there, 0 <= d < 180 [deg]
    bend_deg: float  # how far the edge turns, > 0 [deg]
    depth_m: float  # how far it lies inside the ground's hull [m]


def inward_corners(ground: shapely.MultiPolygon, tool: Tool) -> list[InwardCorner]:
    """Return the corners that point into ground, those furthest inside its hull first.

    Parameters
    ----------
    ground : shapely.MultiPolygon
        Ground in the frame; the corners of its holes point into it too. [m]
    tool : Tool
        Gives the width, against which edges are thinned.
    """
    found: list[InwardCorner] = []
    hull = shapely.convex_hull(ground).boundary
    for ring in shapely.get_rings(shapely.get_parts(shapely.orient_polygons(ground))):
        line = shapely.get_coordinates(shapely.simplify(ring, THIN_SHARE * tool.width_m))[:-1]
        if len(line) < 3:
            continue
        bends = -np.degrees(turn_angles(line))
        for place in np.flatnonzero(bends >= LEAST_BEND_DEG).tolist():
            before, after = line[place] - line[place - 1], line[(place + 1) % len(line)] - line[place]
            edges = (_azimuth_deg(before), _azimuth_deg(after))
            depth = float(hull.distance(shapely.Point(line[place])))
            found.append(InwardCorner(line[place], edges, float(bends[place]), depth))
    return sorted(found, key=lambda corner: -round(corner.depth_m * min(1.0, corner.bend_deg / 45.0), 6))


def cuts_through(ground: shapely.MultiPolygon, tool: Tool, directions_deg: Floats) -> list[Cut]:
    """Return the cuts that are worth a try, each once.

    Parameters
    ----------
    ground : shapely.MultiPolygon
        Ground in the frame. [m]
    tool : Tool
        Gives the width.
    directions_deg : ndarray of shape (D,)
        Directions that are good for passes over the ground; each corner is cut along them too. [deg]
    """
    corners = inward_corners(ground, tool)[:MOST_CORNERS]
    kept: list[Cut] = []
    for corner in corners:
        between = [_azimuth_deg(other.xy - corner.xy) for other in corners[:3] if other is not corner]
        for direction in (*corner.edges_deg, *directions_deg.tolist(), *between):
            cut = Cut(corner.xy, direction)
            if not any(_is_alike(cut, other, tool) for other in kept):
                kept.append(cut)
    return kept


def _is_alike(one: Cut, other: Cut, tool: Tool) -> bool:
    turned = abs((one.direction_deg - other.direction_deg + 90.0) % 180.0 - 90.0)
    if turned > ALIKE_DEG:
        return False
    aside = (one.xy - other.xy) @ turn_matrix(other.direction_deg)[:, 1]
    return bool(abs(aside) < ALIKE_SHARE * tool.width_m)


def divide(ground: shapely.MultiPolygon, cut: Cut, *, aside_m: float = 0.0) -> tuple[list[shapely.Polygon], ...]:
    """Return the pieces of ground to the right and to the left of a cut.

    Parameters
    ----------
    ground : shapely.MultiPolygon
        Ground in the frame. [m]
    cut : Cut
        The line, looked along its direction.
    aside_m : float
        How far to the left of it the ground is cut. [m]

    Returns
    -------
    tuple of two lists of shapely.Polygon
        The pieces on either side; together they are the ground.
    """
    low, high = np.array(ground.bounds).reshape(2, 2)
    reach = 2.0 * float(np.hypot(*(high - low))) + float(np.hypot(*(cut.xy - low))) + abs(aside_m) + 1.0
    along = unit_vector(cut.direction_deg)
    left = np.array([-along[1], along[0]])
    middle = cut.xy + aside_m * left
    one, two = middle - reach * along, middle + reach * along
    sides = []
    for out in (-reach * left, reach * left):
        half = shapely.Polygon([one, two, two + out, one + out])
        sides.append([piece for piece in intersection(ground, half).geoms if piece.area > LEAST_PIECE_M2])
    return tuple(sides)


def joined(pieces: list[shapely.Polygon]) -> shapely.MultiPolygon:
    """Return pieces of ground as one, without the seams between them."""
    return union(pieces) if len(pieces) > 1 else polygons_of(shapely.MultiPolygon(pieces))


def least_width_m(ground: shapely.MultiPolygon) -> float:
    """Return the least extent of ground across any direction. [m]"""
    hull = shapely.convex_hull(ground)
    if not isinstance(hull, shapely.Polygon):
        return 0.0
    points = shapely.get_coordinates(hull)
    steps = np.diff(points, axis=0)
    steps = steps[np.hypot(*steps.T) > 0]
    normals = np.column_stack([-steps[:, 1], steps[:, 0]]) / np.hypot(*steps.T)[:, None]
    across = points @ normals.T
    return float((across.max(axis=0) - across.min(axis=0)).min())


def _azimuth_deg(step: Floats) -> float:
    return float(np.degrees(np.arctan2(step[0], step[1])) % 180.0)
