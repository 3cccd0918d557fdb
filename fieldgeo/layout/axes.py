"""Axes of the work: u along the passes, v across them to the left, both in metres, turned about the frame's origin."""

from __future__ import annotations

from math import cos, radians, sin

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]


def turn_matrix(direction_deg: ArrayLike) -> Floats:
    """Return the matrices that turn frame coordinates (x east, y north) into work coordinates (u, v).

    Parameters
    ----------
    direction_deg : float or array of shape (H,)
        Direction of the passes, clockwise from north. [deg]

    Returns
    -------
    ndarray of shape (..., 2, 2)
        ``uv = xy @ matrix``. Its transpose turns back. Derived: u = x sin d + y cos d, v = y sin d - x cos d.
    """
    angle = np.radians(np.asarray(direction_deg, dtype=float))
    sine, cosine = np.sin(angle), np.cos(angle)
    return np.stack([np.stack([sine, -cosine], axis=-1), np.stack([cosine, sine], axis=-1)], axis=-2)


def to_work(xy: ArrayLike, direction_deg: float) -> Floats:
    """Return frame coordinates of shape (N, 2) as work coordinates (u, v) of the same shape. [m]"""
    return np.asarray(xy, dtype=float) @ turn_matrix(direction_deg)


def to_field(uv: ArrayLike, direction_deg: float) -> Floats:
    """Return work coordinates (u, v) of shape (N, 2) as frame coordinates of the same shape. [m]"""
    return np.asarray(uv, dtype=float) @ turn_matrix(direction_deg).T


def unit_vector(direction_deg: float) -> Floats:
    """Return the unit vector (x, y) of a direction clockwise from north, shape (2,). [-]"""
    return np.array([sin(radians(direction_deg)), cos(radians(direction_deg))])


def turned_edges(edges: Floats, matrix: Floats) -> Floats:
    """Return edges of shape (E, 4) in the axes of a turn matrix, in the same order. [m]"""
    return np.asarray((edges.reshape(-1, 2) @ matrix).reshape(-1, 4))


def distances_along(line: Floats) -> Floats:
    """Return the distance of each point of a line of shape (K, 2) from its first, along it, shape (K,). [m]"""
    return np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])


def ring_edges(shape: shapely.Polygon | shapely.MultiPolygon) -> Floats:
    """Return the edges of every ring of a shape, the ground on their left.

    Parameters
    ----------
    shape : shapely.Polygon or shapely.MultiPolygon
        Valid shape. [m]

    Returns
    -------
    ndarray of shape (E, 4)
        ``x1, y1, x2, y2`` of each edge; outer rings counter-clockwise, holes clockwise. [m]
    """
    rings = shapely.get_rings(shapely.get_parts(shapely.orient_polygons(shape)))
    coordinates, ring_of = shapely.get_coordinates(rings, return_index=True)
    edges = np.hstack([coordinates[:-1], coordinates[1:]])
    return np.asarray(edges[ring_of[:-1] == ring_of[1:]])
