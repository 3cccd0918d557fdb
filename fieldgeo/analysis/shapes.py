"""Coverage as shapes: where ground is worked again, and why, and where it is missed.

The areas come from `coverage`, which clips no polygon; this module draws the same definitions, and so is slower. It
overlays in work coordinates, where the edges of neighbouring strips are the same numbers, and turns the result back.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby
from typing import NamedTuple

import numpy as np
import shapely

from fieldgeo.analysis.coverage import CAUSES, boxes_beyond, stack_boxes
from fieldgeo.layout.axes import Floats, turn_matrix
from fieldgeo.layout.model import Layout
from fieldgeo.layout.overlay import difference, intersection, intersections, polygons_of, union
from fieldgeo.layout.strips import Ints

# Smaller or thinner than this is float noise and no ground. Derived: a nanometre of grid on a kilometre of edge.
LEAST_AREA_M2 = 1e-6
LEAST_WIDTH_M = 1e-6


class Overlap(NamedTuple):
    """One piece of ground worked again."""

    cause: str  # one of CAUSES
    times: int  # how many times more than once, for this cause
    polygon: shapely.Polygon  # in the frame [m]

    @property
    def overlap_m2(self) -> float:
        """Area, counted once per extra time. [m2]"""
        return float(self.polygon.area) * self.times


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CoverageShapes:
    """Where a layout works ground again and where it misses ground, in the frame."""

    skip: shapely.MultiPolygon  # ground within the outline never worked [m]
    overlap: tuple[Overlap, ...]  # in the order of CAUSES; ground worked again for two causes is in both


class _Again(NamedTuple):
    """Ground worked again, in work coordinates."""

    cause: str
    times: int
    ground: shapely.MultiPolygon


def coverage_shapes(layout: Layout) -> CoverageShapes:
    """Return where a layout works ground again, by cause, and where it misses ground.

    Parameters
    ----------
    layout : Layout
        Headland rounds and passes on a field.

    Notes
    -----
    Derived, from the definitions of `fieldgeo.analysis.coverage.measure_coverage`; the areas are the same.
    """
    to_work = turn_matrix(layout.direction_deg)
    field, ground, run_on = (
        _turned(shape, to_work) for shape in (layout.field.shape, layout.headland.ground, layout.headland.run_on)
    )
    flat = _boxes(stack_boxes(layout.passes.boxes).boxes)
    found = [
        *_headland_again(layout, field, to_work),
        *_passes_again(layout, field),
        *_ends_again(layout, flat, ground, run_on),
    ]
    skip = difference(field, union([*flat, *ground.geoms]))
    back = to_work.T
    return CoverageShapes(
        skip=shapely.MultiPolygon(ground_parts(_turned(skip, back))),
        overlap=tuple(
            Overlap(cause=cause, times=again.times, polygon=polygon)
            for cause in CAUSES
            for again in found
            if again.cause == cause
            for polygon in ground_parts(_turned(again.ground, back))
        ),
    )


def _turned(shape: shapely.MultiPolygon, matrix: Floats) -> shapely.MultiPolygon:
    return shapely.transform(shape, lambda points: points @ matrix)


def _boxes(boxes: Floats) -> list[shapely.Polygon]:
    return list(np.asarray(shapely.box(*boxes.T), dtype=object)) if len(boxes) else []


def ground_parts(shape: shapely.MultiPolygon) -> list[shapely.Polygon]:
    """Return the polygons of a shape that are ground and no float noise.

    Parameters
    ----------
    shape : shapely.MultiPolygon
        What an overlay gave. [m]
    """
    return [part for part in shape.geoms if part.area > max(LEAST_AREA_M2, LEAST_WIDTH_M * part.length / 2)]


def ground_levels(shapes: list[shapely.MultiPolygon]) -> list[shapely.MultiPolygon]:
    """Return the ground that at least two, at least three ... of many shapes cover.

    Parameters
    ----------
    shapes : list of shapely.MultiPolygon
        Shapes that may lie on each other. [m]

    Notes
    -----
    Derived: each shape's part on the shapes before it is worked once more, and those parts in turn lie on each other.
    """
    levels: list[shapely.MultiPolygon] = []
    while True:
        tree = shapely.STRtree(shapes)
        again: list[shapely.MultiPolygon] = []
        for number, shape in enumerate(shapes):
            # Boxes of rings lie in each other where the rings are far apart: the shapes themselves are asked.
            near = [shapes[other] for other in tree.query(shape, predicate="intersects") if other < number]
            part = intersection(shape, union(near)) if near else shapely.MultiPolygon()
            if part.area > LEAST_AREA_M2:
                again.append(part)
        if not again:
            return levels
        levels.append(union(again))
        shapes = again


def _times_each(levels: list[shapely.MultiPolygon], cause: str) -> list[_Again]:
    """Return the ground worked exactly once more, exactly twice more ..."""
    beyond = [*levels, shapely.MultiPolygon()][1:]
    return [
        _Again(cause, times, difference(level, more))
        for times, (level, more) in enumerate(zip(levels, beyond, strict=True), start=1)
    ]


def _headland_again(layout: Layout, field: shapely.MultiPolygon, to_work: Floats) -> list[_Again]:
    """Return where rounds lie on rounds: on purpose between neighbouring rounds, the rest where sides cross."""
    runs = layout.headland.runs
    if not runs:
        return []
    turned = shapely.transform(np.array([run.swath for run in runs], dtype=object), lambda points: points @ to_work)
    swaths = [(run.round, polygons_of(swath)) for run, swath in zip(runs, intersections(turned, field), strict=True)]
    if layout.tool.lap_m == 0:
        return _times_each(ground_levels([swath for _, swath in swaths]), "headland_corners")
    swaths.sort(key=lambda item: item[0])
    by_round = [[swath for _, swath in group] for _, group in groupby(swaths, key=lambda item: item[0])]
    corners = [again for group in by_round for again in _times_each(ground_levels(group), "headland_corners")]
    return [*_times_each(ground_levels([union(group) for group in by_round]), "lap"), *corners]


def _passes_again(layout: Layout, field: shapely.MultiPolygon) -> list[_Again]:
    """Return where passes lie on passes: those not pulled in on each other, and what a pulled-in pass adds."""
    passes = layout.passes
    stacked = stack_boxes(passes.boxes)
    is_again = stacked.times > 1
    boxes, extra = stacked.boxes[is_again], stacked.times[is_again] - 1
    if len(boxes) == 0:
        return []
    # No box begins or ends inside one of these, so the boxes over its middle are those over all of it.
    plain = passes.boxes[~passes.is_pulled[passes.box_pass]]
    plain_extra = np.maximum(_boxes_over(boxes, plain) - 1, 0)
    by_cause = (
        ("lap" if layout.tool.lap_m > 0 else "point_rows", plain_extra),
        ("last_pass", extra - plain_extra),
    )
    return [
        _Again(cause, times, intersection(union(_boxes(boxes[counts == times])), field))
        for cause, counts in by_cause
        for times in np.unique(counts[counts > 0]).tolist()
    ]


def _boxes_over(boxes: Floats, others: Floats) -> Ints:
    """Return how many of other boxes lie over the middle of each box, shape (N,)."""
    if len(others) == 0:
        return np.zeros(len(boxes), dtype=np.int64)
    middles = shapely.points((boxes[:, :2] + boxes[:, 2:]) / 2)
    found, _ = shapely.STRtree(_boxes(others)).query(middles, predicate="intersects")
    return np.bincount(found, minlength=len(boxes))


def _ends_again(
    layout: Layout, flat: list[shapely.Polygon], ground: shapely.MultiPolygon, run_on: shapely.MultiPolygon
) -> list[_Again]:
    """Return where passes lie on the headland: on rounds that reach into the body, beside the body, and at the ends."""
    if ground.is_empty or not flat:
        return []
    passes = union(flat)
    within = intersection(run_on, passes)
    outside = difference(intersection(ground, passes), run_on)
    beyond = _boxes(stack_boxes(boxes_beyond(layout)).boxes)
    beside = intersection(outside, union(beyond)) if beyond else shapely.MultiPolygon()
    return [
        _Again("lap" if layout.tool.lap_m > 0 else "headland_corners", 1, within),
        _Again("last_pass", 1, beside),
        _Again("point_rows", 1, difference(outside, beside)),
    ]
