"""Polygon overlays that can be trusted with swaths lying edge to edge.

The overlay engine's plain floating mode can lose whole swaths, several per cent of the area and without a word, when
hundreds of rectangles share edges to within float noise (measured on random fields: one union in three). On a fixed
grid of a nanometre it loses none; against the exact area of the boxes the error stays under 1e-10. Every union,
intersection and difference in this package goes through here.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

GRID_M: Final = 1e-9


def union(shapes: Sequence[BaseGeometry] | NDArray[np.object_]) -> shapely.MultiPolygon:
    """Return the ground that any of the shapes covers."""
    return polygons_of(shapely.union_all(np.asarray(shapes, dtype=object), grid_size=GRID_M))


def intersection(shape: BaseGeometry, other: BaseGeometry) -> shapely.MultiPolygon:
    """Return the ground that both shapes cover."""
    return polygons_of(shapely.intersection(shape, other, grid_size=GRID_M))


def intersections(shapes: Sequence[BaseGeometry] | NDArray[np.object_], other: BaseGeometry) -> NDArray[np.object_]:
    """Return the ground that each of many shapes shares with another, shape (N,)."""
    return np.asarray(shapely.intersection(np.asarray(shapes, dtype=object), other, grid_size=GRID_M))


def difference(shape: BaseGeometry, other: BaseGeometry) -> shapely.MultiPolygon:
    """Return the ground of a shape that another does not cover."""
    return polygons_of(shapely.difference(shape, other, grid_size=GRID_M))


def polygons_of(shape: BaseGeometry, *, least_m2: float = 0.0) -> shapely.MultiPolygon:
    """Return the polygons of any geometry, those above a least area, as one MultiPolygon."""
    parts = shapely.get_parts(shape)
    keep = (shapely.get_type_id(parts) == shapely.GeometryType.POLYGON) & (shapely.area(parts) > least_m2)
    return shapely.MultiPolygon(list(parts[keep]))
