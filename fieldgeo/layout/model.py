"""The objects of a layout: passes, headland rounds, and the two together on one field."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from fieldgeo.layout.axes import Floats, distances_along, to_field
from fieldgeo.layout.strips import Finish, Ints
from fieldgeo.machinery.tool import Tool
from fieldgeo.outline.field import Field

# No ground at all.
NOTHING: Final = shapely.MultiPolygon()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Passes:
    """The passes over the body, as arrays: one row a pass, sorted by piece of the body, strip, and place along it.

    A strip is one position of the tool across the body; where the body is cut (a pond, a notch) a strip holds several
    passes. u runs along the passes, v across them to the left (see `fieldgeo.layout.axes`).
    """

    direction_deg: float  # azimuth of +u, clockwise from north, 0 <= d < 180 [deg]
    piece: Ints  # (N,) piece of the body
    strip: Ints  # (N,) number of the strip within the piece, from 0
    start_m: Floats  # (N,) u where the tool goes down when driven along +u [m]
    end_m: Floats  # (N,) u where it comes up [m]
    low_m: Floats  # (N,) v of the right edge of the strip [m]
    high_m: Floats  # (N,) v of the left edge [m]
    is_pulled: NDArray[np.bool_]  # (N,) the strip was pulled in to lie within the body, over its neighbour
    boxes: Floats  # (M, 4) u_low, v_low, u_high, v_high of the swaths; several a pass with shut-off sections [m]
    box_pass: Ints  # (M,) the pass each box belongs to

    def __len__(self) -> int:
        """Return the number of passes."""
        return len(self.start_m)

    @property
    def length_m(self) -> Floats:
        """Length of each pass, shape (N,). [m]"""
        return self.end_m - self.start_m

    @property
    def centre_m(self) -> Floats:
        """Position of each centre line across the passes, shape (N,). [m]"""
        return (self.low_m + self.high_m) / 2

    def ends_xy(self) -> tuple[Floats, Floats]:
        """Return start and end of each centre line in the frame, two arrays of shape (N, 2). [m]"""
        centre = self.centre_m
        return (
            to_field(np.column_stack([self.start_m, centre]), self.direction_deg),
            to_field(np.column_stack([self.end_m, centre]), self.direction_deg),
        )

    def lines(self) -> list[shapely.LineString]:
        """Return the centre lines in the frame. [m]"""
        starts, ends = self.ends_xy()
        return [shapely.LineString(pair) for pair in np.stack([starts, ends], axis=1)]

    def swaths(self) -> list[shapely.Polygon]:
        """Return the ground that each box works, as polygons in the frame. [m]"""
        return boxes_to_field(self.boxes, self.direction_deg)

    @property
    def swept_m2(self) -> float:
        """Sum of the areas of all swaths. [m2]"""
        return float(((self.boxes[:, 2] - self.boxes[:, 0]) * (self.boxes[:, 3] - self.boxes[:, 1])).sum())


def boxes_to_field(boxes: Floats, direction_deg: float) -> list[shapely.Polygon]:
    """Return boxes in work coordinates, shape (M, 4), as polygons in the frame. [m]"""
    if len(boxes) == 0:
        return []
    low_u, low_v, high_u, high_v = boxes.T
    corners = np.stack([low_u, low_v, high_u, low_v, high_u, high_v, low_u, high_v, low_u, low_v], axis=1)
    return [shapely.Polygon(ring) for ring in to_field(corners.reshape(-1, 2), direction_deg).reshape(-1, 5, 2)]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HeadlandRun:
    """One stretch of a headland round driven without lifting: a side, or a whole round."""

    round: int  # 1 is the outermost
    line: Floats  # (K, 2) centre line in the frame, in driving order [m]
    swath: shapely.Polygon  # ground it works, in the frame [m]
    part: int = 0  # part of the field's outline it lies in
    is_closed: bool = False  # True for a whole round without a corner to lift at

    @property
    def length_m(self) -> float:
        """Length of the centre line. [m]"""
        return float(distances_along(self.line)[-1])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Headland:
    """The headland rounds of a layout."""

    rounds: int  # number of rounds laid; 0 is straight through, edge to edge
    all_round: bool  # True: on every side; False: only on the sides where passes end
    runs: tuple[HeadlandRun, ...] = ()
    ground: shapely.MultiPolygon = NOTHING  # worked by the runs, within the outline
    run_on: shapely.MultiPolygon = NOTHING  # the part of it that lies in the body
    by_round_m2: float = 0.0  # ground worked by each round, summed over the rounds [m2]
    inside_m2: float = 0.0  # sum of the areas of the runs' swaths within the outline [m2]

    @property
    def swept_m2(self) -> float:
        """Sum of the areas of all swaths. [m2]"""
        return float(sum(run.swath.area for run in self.runs))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Layout:
    """Headland rounds and passes of one tool on one field."""

    field: Field
    tool: Tool
    direction_deg: float  # azimuth of the passes, clockwise from north, 0 <= d < 180 [deg]
    finish: Finish
    headland: Headland
    body: shapely.MultiPolygon  # what is left of the field inside the headlands, in the frame [m]
    passes: Passes

    @property
    def swept_m2(self) -> float:
        """Sum over all swaths of their area. [m2]"""
        return self.headland.swept_m2 + self.passes.swept_m2
