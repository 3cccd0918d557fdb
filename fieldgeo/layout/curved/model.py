"""`CurvedPasses`: passes along bent lines, with the ground each works."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from fieldgeo.layout.axes import Floats, distances_along
from fieldgeo.layout.strips import Ints


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CurvedPasses:
    """The passes parallel to a key line over a body, one row a pass, sorted by piece, strip, and place along it.

    A strip is one line of work at a distance from the key line, + to its left; where the body is cut, or where lines at
    that distance meet in a bend, a strip holds several passes. Every line runs the way of the key line.
    """

    key_line: Floats  # (K, 2) the key line as it is followed, smoothed [m]
    least_radius_m: float  # no line bends tighter [m]
    key_deviation_m: float  # how far the key line as it was given lies from the smoothed one, at the most [m]
    lines: tuple[Floats, ...]  # (N) centre lines, each of shape (K, 2), in the frame [m]
    heading_rad: Floats  # (N, 2) at start and end, square to the bar, counter-clockwise from east [rad]
    piece: Ints  # (N,) piece of the body
    strip: Ints  # (N,) number of the strip within the piece, from 0, + to the left
    offset_m: Floats  # (N,) distance of the strip from the key line, + to its left [m]
    is_pulled: NDArray[np.bool_]  # (N,) the strip was pulled in to lie within the body, over its neighbour
    is_smoothed: NDArray[np.bool_]  # (N,) somewhere on the field its strip would bend tighter than the least radius
    deviation_m: Floats  # (N,) how far its strip was moved there, at the most [m]
    swath_shapes: tuple[shapely.Polygon, ...]  # (M) ground that a bar sweeps; several a pass with sections [m]
    swath_pass: Ints  # (M,) the pass each swath belongs to
    is_closed: bool = False  # circles: every line is a ring, or part of one

    def __len__(self) -> int:
        """Return the number of passes."""
        return len(self.lines)

    @property
    def length_m(self) -> Floats:
        """Length of each centre line, shape (N,). [m]"""
        return np.array([distances_along(line)[-1] for line in self.lines], dtype=float)

    def ends_xy(self) -> tuple[Floats, Floats]:
        """Return start and end of each centre line in the frame, two arrays of shape (N, 2). [m]"""
        starts = np.array([line[0] for line in self.lines], dtype=float).reshape(-1, 2)
        return starts, np.array([line[-1] for line in self.lines], dtype=float).reshape(-1, 2)

    def swaths(self) -> list[shapely.Polygon]:
        """Return the ground that each pass, or each section of one, works, as polygons in the frame. [m]"""
        return list(self.swath_shapes)

    def swept_by_pass_m2(self) -> Floats:
        """Return the sum of the areas of the swaths of each pass, shape (N,). [m2]"""
        areas = shapely.area(np.array(self.swath_shapes, dtype=object))
        return np.asarray(np.bincount(self.swath_pass, weights=areas, minlength=len(self)), dtype=float)

    @property
    def swept_m2(self) -> float:
        """Sum of the areas of all swaths. [m2]"""
        return float(sum(swath.area for swath in self.swath_shapes))
