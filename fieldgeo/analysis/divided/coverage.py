"""Coverage of a divided layout: the exact areas of each part in turn, on top of what was worked before it.

The passes of one part are boxes in axes of their own, so each part is measured as an undivided layout is, with all
ground that headland and earlier parts work as its headland. What it works anew adds up to the ground worked, and what
it works again to the overlap. (Derived.)
"""

from __future__ import annotations

from collections.abc import Iterator

import shapely

from fieldgeo.analysis.coverage import CAUSES, Coverage, measure_coverage, stack_boxes
from fieldgeo.analysis.shapes import CoverageShapes, Overlap, coverage_shapes
from fieldgeo.layout.model import NOTHING, Headland, Layout, boxes_to_field
from fieldgeo.layout.overlay import difference, intersection, polygons_of, union
from fieldgeo.layout.parts.model import DividedLayout, no_passes


def measure_divided(layout: DividedLayout) -> Coverage:
    """Return the areas that a divided layout works, works twice, misses and spills.

    Parameters
    ----------
    layout : DividedLayout
        Headland rounds and parts on a field.

    Notes
    -----
    Where a pass of one part runs on into another, that is `point_rows`, as it is where it runs into the headland.
    """
    headland = layout.headland
    alone = Layout(
        field=layout.field, tool=layout.tool, direction_deg=layout.direction_deg, finish=layout.finish,
        headland=headland, body=layout.body, passes=no_passes(layout.direction_deg),
    )  # fmt: skip
    rounds = measure_coverage(alone)
    causes = dict(rounds.overlap_by_cause_m2)
    worked, spill = rounds.worked_m2, rounds.spill_m2
    for one in _in_turn(layout):
        measured = measure_coverage(one)
        worked += measured.worked_m2 - one.headland.ground.area
        spill += measured.spill_m2
        for cause in CAUSES:
            causes[cause] += measured.overlap_by_cause_m2[cause]
    return Coverage(
        area_m2=layout.field.area_m2,
        swept_m2=layout.swept_m2,
        worked_m2=worked,
        overlap_by_cause_m2=causes,
        spill_m2=spill,
    )


def divided_shapes(layout: DividedLayout) -> CoverageShapes:
    """Return where a divided layout works ground again, by cause, and where it misses ground.

    Parameters
    ----------
    layout : DividedLayout
        Headland rounds and parts on a field.
    """
    alone = Layout(
        field=layout.field, tool=layout.tool, direction_deg=layout.direction_deg, finish=layout.finish,
        headland=layout.headland, body=layout.body, passes=no_passes(layout.direction_deg),
    )  # fmt: skip
    found: list[Overlap] = list(coverage_shapes(alone).overlap)
    skip = NOTHING
    for one in _in_turn(layout):
        shapes = coverage_shapes(one)
        found += shapes.overlap
        skip = shapes.skip  # of the last: what all of them together miss
    if not layout.parts:
        skip = difference(layout.field.shape, layout.headland.ground)
    ranked = tuple(sorted(found, key=lambda overlap: CAUSES.index(overlap.cause)))
    return CoverageShapes(skip=skip, overlap=ranked)


def _in_turn(layout: DividedLayout) -> Iterator[Layout]:
    """Yield each part as a layout whose headland is all that was worked before it."""
    headland = layout.headland
    done, run_on = headland.ground, headland.run_on
    for number, part in enumerate(layout.parts):
        before = Headland(
            rounds=headland.rounds,
            all_round=headland.all_round,
            ground=done,
            run_on=intersection(run_on, part.body) if not run_on.is_empty else NOTHING,
            by_round_m2=done.area,
            inside_m2=done.area,
        )
        yield layout.layout_of(part, before)
        if number + 1 < len(layout.parts):
            done = _also_worked(done, layout.layout_of(part, before))


def _also_worked(done: shapely.MultiPolygon, layout: Layout) -> shapely.MultiPolygon:
    """Return ground with what the passes of a layout work within the outline."""
    swaths = boxes_to_field(stack_boxes(layout.passes.boxes).boxes, layout.direction_deg)
    worked = intersection(union(swaths), layout.field.shape) if swaths else NOTHING
    return union([done, worked]) if not done.is_empty else polygons_of(worked)
