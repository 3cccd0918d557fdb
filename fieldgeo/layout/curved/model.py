"""`CurvedPasses`: passes along bent lines, with the ground each works; `CurvedLayout`: those on one field."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from fieldgeo.layout.axes import Floats, distances_along
from fieldgeo.layout.model import Headland
from fieldgeo.layout.strips import Finish, Ints
from fieldgeo.machinery.tool import Tool
from fieldgeo.outline.field import Field


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
    along_key_m: Floats  # (N, 2) the places on the key line, drawn out, beside start and end; from its start [m]
    piece: Ints  # (N,) piece of the body
    strip: Ints  # (N,) number of the strip within the piece, from 0, + to the left
    offset_m: Floats  # (N,) distance of the strip from the key line, + to its left [m]
    is_pulled: NDArray[np.bool_]  # (N,) the strip was pulled in to lie within the body, over its neighbour
    is_smoothed: NDArray[np.bool_]  # (N,) somewhere on the field its strip would bend tighter than the least radius
    deviation_m: Floats  # (N,) how far its strip was moved there, at the most [m]
    swath_shapes: tuple[shapely.Polygon, ...]  # (M) ground that a bar sweeps; several a pass with sections [m]
    swath_pass: Ints  # (M,) the pass each swath belongs to
    is_ring: NDArray[np.bool_]  # (N,) a whole ring, which ends where it begins
    is_circular: bool = False  # every line is a ring about one centre, or an arc of one

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

    def meets(self, one: int, other: int) -> bool:
        """Return whether two passes lie beside each other along the key line, on circles about the centre.

        Parameters
        ----------
        one, other : int
            Two passes.
        """
        (low, high), (low_other, high_other) = self.along_key_m[[one, other]].tolist()
        if not self.is_circular:
            return bool(min(high, high_other) > max(low, low_other))
        round_m = float(distances_along(self.key_line)[-1])
        ahead, behind = (low_other - low) % round_m, (low - low_other) % round_m
        return bool(ahead < high - low or behind < high_other - low_other)

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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CurvedLayout:
    """Headland rounds and curved passes of one tool on one field."""

    field: Field
    tool: Tool
    finish: Finish
    headland: Headland
    body: shapely.MultiPolygon  # what is left of the field inside the headlands, in the frame [m]
    passes: CurvedPasses

    @property
    def direction_deg(self) -> float:
        """Azimuth from the first to the last point of the key line, 0 <= d < 180; 0 for circles. [deg]"""
        x, y = (self.passes.key_line[-1] - self.passes.key_line[0]).tolist()
        return 0.0 if self.passes.is_circular else float(np.degrees(np.arctan2(x, y)) % 180.0)

    @property
    def swept_m2(self) -> float:
        """Sum over all swaths of their area. [m2]"""
        return self.headland.swept_m2 + self.passes.swept_m2
