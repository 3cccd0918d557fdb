"""Coverage of a curved layout: swaths are polygons, so that overlays give the areas (`fieldgeo.layout.overlay`).

The rounds are measured as those of a straight layout. What the swaths of the passes add up to within the outline,
beyond the ground they cover, is worked again, and so is what of that ground the rounds work too.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from fieldgeo.analysis.coverage import CAUSES, Coverage, measure_coverage
from fieldgeo.analysis.shapes import CoverageShapes, Overlap, coverage_shapes, ground_levels, ground_parts
from fieldgeo.layout.curved.model import CurvedLayout
from fieldgeo.layout.model import Layout
from fieldgeo.layout.overlay import difference, intersection, intersections, polygons_of, union
from fieldgeo.layout.parts.model import no_passes


class PassGround(NamedTuple):
    """The swaths of the passes within the outline."""

    inside: NDArray[np.object_]  # (M,) each swath within the outline [m]
    plain: shapely.MultiPolygon  # what those not pulled in cover
    all: shapely.MultiPolygon  # what all cover


def pass_ground(layout: CurvedLayout) -> PassGround:
    """Return the swaths of the passes of a layout within its outline, and the ground they cover.

    Parameters
    ----------
    layout : CurvedLayout
        Headland rounds and passes on a field.
    """
    passes, shape = layout.passes, layout.field.shape
    inside = np.array(passes.swaths(), dtype=object)
    shapely.prepare(shape)
    partly = np.flatnonzero(~shapely.contains_properly(shape, inside))
    for row, cut in zip(partly.tolist(), intersections(inside[partly], shape), strict=True):
        inside[row] = polygons_of(cut)
    is_pulled = passes.is_pulled[passes.swath_pass]
    plain = union(inside[~is_pulled])
    return PassGround(inside, plain, union([plain, *inside[is_pulled]]) if is_pulled.any() else plain)


def measure_curved(layout: CurvedLayout) -> Coverage:
    """Return the areas that a curved layout works, works twice, misses and spills.

    Parameters
    ----------
    layout : CurvedLayout
        Headland rounds and passes on a field.

    Notes
    -----
    Causes are those of a straight layout: `last_pass` is what strips pulled in work again, `point_rows` where passes
    run into the headland or, at the end of a bend, into each other.
    """
    rounds, ground = measure_coverage(rounds_alone(layout)), pass_ground(layout)
    causes = dict(rounds.overlap_by_cause_m2)
    on_purpose = layout.tool.lap_m > 0
    areas = shapely.area(ground.inside)
    is_pulled = layout.passes.is_pulled[layout.passes.swath_pass]
    inside_m2 = float(areas.sum())
    again_m2 = max(0.0, inside_m2 - ground.all.area)
    plain_m2 = min(max(0.0, float(areas[~is_pulled].sum()) - ground.plain.area), again_m2)
    causes["lap" if on_purpose else "point_rows"] += plain_m2
    causes["last_pass"] += again_m2 - plain_m2
    with_rounds_m2 = _area_of_both(ground.all, layout.headland.ground)
    run_on_m2 = min(_area_of_both(ground.all, layout.headland.run_on), with_rounds_m2)
    causes["lap" if on_purpose else "headland_corners"] += run_on_m2
    causes["point_rows"] += with_rounds_m2 - run_on_m2
    return Coverage(
        area_m2=layout.field.area_m2,
        swept_m2=layout.swept_m2,
        worked_m2=rounds.worked_m2 + inside_m2 - again_m2 - with_rounds_m2,
        overlap_by_cause_m2=causes,
        spill_m2=rounds.spill_m2 + max(0.0, layout.passes.swept_m2 - inside_m2),
    )


def rounds_alone(layout: CurvedLayout) -> Layout:
    """Return the headland rounds of a curved layout, as a layout without passes."""
    return Layout(
        field=layout.field, tool=layout.tool, direction_deg=layout.direction_deg, finish=layout.finish,
        headland=layout.headland, body=layout.body, passes=no_passes(layout.direction_deg),
    )  # fmt: skip


def _area_of_both(one: shapely.MultiPolygon, other: shapely.MultiPolygon) -> float:
    return 0.0 if one.is_empty or other.is_empty else intersection(one, other).area


def curved_shapes(layout: CurvedLayout) -> CoverageShapes:
    """Return where a curved layout works ground again, by cause, and where it misses ground.

    Parameters
    ----------
    layout : CurvedLayout
        Headland rounds and passes on a field.
    """
    ground, headland = pass_ground(layout), layout.headland.ground
    found = list(coverage_shapes(rounds_alone(layout)).overlap)
    on_purpose = layout.tool.lap_m > 0
    is_pulled = layout.passes.is_pulled[layout.passes.swath_pass]
    levels = ground_levels(list(ground.inside[~is_pulled]))
    pulled = [intersection(each, ground.plain) for each in ground.inside[is_pulled]]
    both = intersection(ground.all, headland) if not headland.is_empty else headland
    run_on = intersection(both, layout.headland.run_on) if not layout.headland.run_on.is_empty else headland
    found += [
        Overlap(cause=cause, times=1, polygon=polygon)
        for cause, shapes in (
            ("lap" if on_purpose else "point_rows", levels),
            ("last_pass", pulled),
            ("lap" if on_purpose else "headland_corners", [run_on] if not layout.headland.run_on.is_empty else []),
            ("point_rows", [difference(both, layout.headland.run_on)]),
        )
        for shape in shapes
        for polygon in ground_parts(shape)
    ]
    skip = difference(layout.field.shape, union([*ground.all.geoms, *headland.geoms]))
    return CoverageShapes(
        skip=shapely.MultiPolygon(ground_parts(skip)),
        overlap=tuple(sorted(found, key=lambda overlap: CAUSES.index(overlap.cause))),
    )
