"""Coverage as shapes: they must have the areas that `measure_coverage` finds without drawing any."""

from pathlib import Path

import numpy as np
import pytest
import shapely

from fieldgeo.analysis.coverage import CAUSES, measure_coverage
from fieldgeo.analysis.lay import lay
from fieldgeo.analysis.shapes import LEAST_AREA_M2, coverage_shapes
from fieldgeo.layout.model import Headland, Layout, Passes
from fieldgeo.machinery.tool import Tool
from fieldgeo.outline import read_outline
from fieldgeo.outline.field import field_from_shape

SAMPLES = Path(__file__).parents[1] / "sample_fields"
TOOL = Tool(name="10 m tool", width_m=10.0)
LAPPING = Tool(name="lapping", width_m=9.0, lap_m=0.5)


def by_cause(shapes):
    return {cause: sum(part.overlap_m2 for part in shapes.overlap if part.cause == cause) for cause in CAUSES}


def laid(name, tool, **options):
    return lay(read_outline(SAMPLES / f"{name}.geojson"), tool, **options)


@pytest.mark.parametrize(
    ("name", "tool", "options"),
    [
        ("railroad", TOOL, {"direction_deg": 10.0}),
        ("waterway", TOOL, {"direction_deg": 0.0, "finish": "half"}),
        ("across_the_road", TOOL, {"direction_deg": 93.0, "finish": "clean", "sides": "all"}),
        ("narrow_strip", TOOL, {"direction_deg": 12.0}),
        ("ell", Tool(name="8 sections", width_m=12.0, sections=8), {"direction_deg": 31.0}),
        ("creek", Tool(name="wide", width_m=18.0), {"direction_deg": 90.0, "headland": 1}),
        ("farmstead", TOOL, {"direction_deg": 0.0, "headland": 0}),
        ("ell", LAPPING, {"direction_deg": 0.0, "headland": 2, "sides": "all"}),
        ("pivot", LAPPING, {"direction_deg": 0.0, "headland": 3}),
    ],
)
def test_shapes_have_the_areas_that_coverage_measures(name, tool, options):
    plan = laid(name, tool, **options)
    shapes = coverage_shapes(plan.layout)
    close = 1e-6 * plan.field.area_m2
    assert by_cause(shapes) == pytest.approx(plan.coverage.overlap_by_cause_m2, abs=close)
    assert shapes.skip.area == pytest.approx(plan.coverage.skip_m2, abs=close)
    assert shapes.skip.is_valid
    assert all(part.polygon.is_valid and part.times >= 1 for part in shapes.overlap)
    assert all(part.polygon.area > LEAST_AREA_M2 for part in shapes.overlap)
    outside = shapely.difference(
        shapely.MultiPolygon([shapes.skip.convex_hull]), plan.field.shape.envelope.buffer(1e-6)
    )
    assert outside.is_empty


def test_last_pass_that_does_not_fit_lies_beside_its_neighbour_derived():
    # 95 m take ten strips of 10 m; the last is pulled in by 5 m over its neighbour: 5 m x 100 m.
    field = field_from_shape(shapely.box(0, 0, 95, 100))
    (part,) = coverage_shapes(lay(field, TOOL, direction_deg=0.0, headland=0).layout).overlap
    assert (part.cause, part.times) == ("last_pass", 1)
    assert part.overlap_m2 == pytest.approx(500.0, abs=1e-6)
    assert part.polygon.bounds == pytest.approx((5, 0, 10, 100), abs=1e-6)


def test_ground_left_by_clean_finish_derived():
    # 9 strips of 10 m lie inside 95 m; 5 m x 100 m are left.
    field = field_from_shape(shapely.box(0, 0, 95, 100))
    shapes = coverage_shapes(lay(field, TOOL, direction_deg=0.0, headland=0, finish="clean").layout)
    assert shapes.skip.area == pytest.approx(500.0, abs=1e-6)
    assert shapes.overlap == ()


def stacked_layout(boxes, pulled):
    field = field_from_shape(shapely.box(0, 0, 100, 100))
    boxes = np.array(boxes, dtype=float)
    count = len(boxes)
    passes = Passes(
        direction_deg=90.0, piece=np.zeros(count, dtype=np.int64), strip=np.arange(count), start_m=boxes[:, 0],
        end_m=boxes[:, 2], low_m=boxes[:, 1], high_m=boxes[:, 3], is_pulled=np.array(pulled), boxes=boxes,
        box_pass=np.arange(count),
    )  # fmt: skip
    return Layout(
        field=field, tool=TOOL, direction_deg=90.0, finish="cover",
        headland=Headland(rounds=0, all_round=False), body=field.shape, passes=passes,
    )  # fmt: skip


def test_ground_worked_three_times_counts_twice_derived():
    # Passes to the east (u = x, v = y). Two plain passes lie on each other over x 50 to 100, and a pulled-in one over
    # x 80 to 100 of both: 500 m2 once more, and 200 m2 once more again for the last pass.
    layout = stacked_layout([[0, 0, 100, 10], [50, 0, 100, 10], [80, 0, 100, 10]], [False, False, True])
    shapes = coverage_shapes(layout)
    assert by_cause(shapes) == pytest.approx(
        {"lap": 0, "point_rows": 500, "headland_corners": 0, "last_pass": 200}, abs=1e-6
    )
    assert by_cause(shapes) == pytest.approx(measure_coverage(layout).overlap_by_cause_m2, abs=1e-6)
    assert {part.cause: part.polygon.bounds for part in shapes.overlap}["last_pass"] == pytest.approx((80, 0, 100, 10))


def test_ground_of_like_passes_is_one_piece_with_its_times_derived():
    layout = stacked_layout([[0, 0, 100, 10]] * 4, [False] * 4)
    (part,) = coverage_shapes(layout).overlap
    assert (part.cause, part.times) == ("point_rows", 3)
    assert part.overlap_m2 == pytest.approx(3000.0, abs=1e-6)


def test_field_without_a_pass_is_all_skip_derived():
    layout = stacked_layout(np.empty((0, 4)), [])
    shapes = coverage_shapes(layout)
    assert shapes.skip.area == pytest.approx(10_000.0, abs=1e-6)
    assert shapes.overlap == ()
