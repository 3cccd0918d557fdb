"""Parts of a body: cuts, seams, exact areas, routes and the search for a division that saves time."""

from math import isclose

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldgeo.analysis.divided.divisions import LEAST_PASSES, Divider
from fieldgeo.analysis.divided.estimates import Estimates
from fieldgeo.analysis.divided.plan import DividedPlan, plan_parts
from fieldgeo.analysis.divided.search import lay_parts
from fieldgeo.analysis.lay import lay
from fieldgeo.analysis.plan import typical_turn_s
from fieldgeo.errors import InputError
from fieldgeo.layout.headland import lay_rounds
from fieldgeo.layout.overlay import difference, intersection
from fieldgeo.layout.parts.cuts import Cut, cuts_through, divide, inward_corners, joined, least_width_m
from fieldgeo.layout.parts.model import DividedLayout, Part
from fieldgeo.layout.parts.seams import find_seams, turning_parts
from fieldgeo.layout.passes import lay_passes
from fieldgeo.machinery.tool import Tool
from fieldgeo.outline.field import Field, field_from_shape

TOOL = Tool(name="12 m harrow", width_m=12.0, speed_m_s=3.0, turn_radius_m=6.0, raise_s=3.0, lower_s=3.0)
# The thin L of a published kind of check (derived there and here): 600 m by 600 m, legs 60 m wide.
THIN_L = shapely.Polygon([(0, 0), (600, 0), (600, 60), (60, 60), (60, 600), (0, 600)])


def field_of(*corners: tuple[float, float], hole: tuple[tuple[float, float], ...] = ()) -> Field:
    ground = shapely.Polygon(corners, [hole] if hole else [])
    return field_from_shape(shapely.MultiPolygon([ground]), name="field")


def divided(field: Field, grounds: list[shapely.Polygon], directions: list[float], *, rounds: int) -> DividedLayout:
    """Return a layout divided by hand: headland on all sides, and each ground within the body a part."""
    laid = lay_rounds(field.shape, TOOL, "cover", rounds=rounds, chains=None)
    parts = []
    for ground, direction in zip(grounds, directions, strict=True):
        body = intersection(laid.body, ground)
        passes = lay_passes(body, direction, TOOL, "cover", turn_s=typical_turn_s(TOOL))
        parts.append(Part(body=body, passes=passes))
    seams = find_seams([part.body for part in parts], TOOL)
    turns_on = turning_parts(seams, directions, TOOL)
    assert turns_on is not None
    return DividedLayout(
        field=field, tool=TOOL, finish="cover", headland=laid.headland, body=laid.body,
        parts=tuple(parts), seams=seams, turns_on=turns_on,
    )  # fmt: skip


def test_thin_ell_takes_50_passes_in_one_direction_and_10_in_two_parts() -> None:
    # Derived: one direction crosses one leg end on, 600 / 12 = 50; two parts lie along their legs, 60 / 12 = 5 each.
    field = field_from_shape(shapely.MultiPolygon([THIN_L]), name="thin L")
    undivided = lay(field, TOOL, direction_deg=0.0, headland=0)
    assert len(undivided.layout.passes) == 50
    search = lay_parts(field, TOOL, headland=0)
    assert isinstance(search.best, DividedPlan)
    assert [len(part.passes) for part in search.best.layout.parts] == [5, 5]
    assert sorted(round(part.direction_deg) for part in search.best.layout.parts) == [0, 90]
    # Derived: the ground is worked once either way, and 40 passes less need not be lifted for, 6 s each.
    assert undivided.field_time_s - search.best.field_time_s > 40 * 6.0


def test_the_longest_side_of_a_flat_hexagon_needs_no_parts() -> None:
    # Derived: a convex field has no corner that points inward, so nothing is tried.
    field = field_of((0, 0), (300, -10), (600, 0), (600, 350), (300, 360), (0, 350))
    assert inward_corners(field.shape, TOOL) == []
    search = lay_parts(field, TOOL)
    assert search.best is search.undivided
    assert search.tried == 0


def test_inward_corners_are_those_of_notches_and_holes() -> None:
    # Derived: the L has one, a square hole four; the deeper ones come first.
    ell = shapely.MultiPolygon([THIN_L])
    (corner,) = inward_corners(ell, TOOL)
    assert corner.xy.tolist() == [60.0, 60.0]
    assert sorted(round(edge) % 180 for edge in corner.edges_deg) == [0, 90]
    assert corner.bend_deg == pytest.approx(90.0)
    hole = shapely.box(200, 200, 260, 260)
    ring = difference(shapely.box(0, 0, 500, 500), hole)
    assert len(inward_corners(ring, TOOL)) == 4


def test_a_cut_through_the_corner_of_an_ell_leaves_two_rectangles() -> None:
    ell = shapely.MultiPolygon([THIN_L])
    right, left = divide(ell, Cut(np.array([60.0, 60.0]), 90.0))
    # Derived: looking east the ground south of the line lies to the right: 600 x 60, and 60 x 540 to the left.
    assert [piece.area for piece in right] == pytest.approx([36000.0])
    assert [piece.area for piece in left] == pytest.approx([32400.0])
    assert least_width_m(shapely.MultiPolygon(right)) == pytest.approx(60.0)


def test_a_part_whose_passes_end_on_a_seam_turns_on_the_one_along_it() -> None:
    south, north = shapely.box(0, 0, 600, 60), shapely.box(0, 60, 60, 600)
    bodies = [shapely.MultiPolygon([south]), shapely.MultiPolygon([north])]
    seams = find_seams(bodies, TOOL)
    assert [(seam.first, seam.second) for seam in seams] == [(0, 1)]
    assert seams[0].length_m == pytest.approx(60.0, abs=0.01)
    # Derived: the seam runs east and west, along passes of 90 degrees.
    assert turning_parts(seams, [90.0, 0.0], TOOL) == ((1, 0),)
    assert turning_parts(seams, [0.0, 90.0], TOOL) == ((0, 1),)
    assert turning_parts(seams, [90.0, 90.0], TOOL) == ()
    assert turning_parts(seams, [0.0, 0.0], TOOL) is None
    # It may wander half a width across the passes: 60 m at 5 degrees is 5.2 m, at 7 degrees 7.3 m.
    assert turning_parts(seams, [95.0, 0.0], TOOL) == ((1, 0),)
    assert turning_parts(seams, [97.0, 0.0], TOOL) is None


def test_parts_that_would_wait_for_each_other_in_a_ring_are_refused() -> None:
    # Derived: four rectangles like a pinwheel round a square, each ending on the next.
    bodies = [
        shapely.MultiPolygon([shapely.box(*limits)])
        for limits in ((0, 0, 200, 100), (200, 0, 300, 200), (100, 200, 300, 300), (0, 100, 100, 300))
    ]
    seams = find_seams(bodies, TOOL)
    assert turning_parts(seams, [90.0, 0.0, 90.0, 0.0], TOOL) is None


def test_all_passes_are_driven_once_and_what_turns_on_a_part_comes_before_it() -> None:
    field = field_from_shape(shapely.MultiPolygon([THIN_L.buffer(30, join_style="mitre")]), name="L")
    south = shapely.box(-100, -100, 700, 66)
    layout = divided(field, [south, shapely.box(-100, 66, 100, 700)], [90.0, 0.0], rounds=2)
    plan = plan_parts(layout, order="auto")
    driven = [leg.number for leg in plan.route.legs if leg.state == "pass"]
    assert sorted(driven) == list(range(len(layout.passes)))
    assert layout.waits == ((1, 0),)
    part = layout.passes.part[driven].tolist()
    assert part == sorted(part, reverse=True)
    runs = [leg.number for leg in plan.route.legs if leg.state == "headland"]
    assert sorted(runs) == list(range(len(layout.headland.runs)))
    # Passes that end on the seam are joined by turns on the ground beyond it, none is left without.
    assert plan.route.turns_outside_m().sum() < 0.05 * plan.route.length_m("turn")


def test_a_crop_is_cut_where_it_is_turned_on_first() -> None:
    field = field_from_shape(shapely.MultiPolygon([THIN_L]), name="L")
    combine = Tool(
        name="combine", width_m=6.0, kind="combine", speed_m_s=1.5, turn_radius_m=6.0, raise_s=3.0, lower_s=3.0
    )
    best = lay_parts(field, combine, headland=0).best
    assert isinstance(best, DividedPlan)
    ((one, two),) = best.layout.turns_on
    driven = best.layout.passes.part[[leg.number for leg in best.route.legs if leg.state == "pass"]].tolist()
    assert driven.index(two) < driven.index(one)


def counted(layout: DividedLayout, step_m: float) -> np.ndarray:
    """Return how many swaths lie on the middle of each cell within the outline: an oracle without overlays."""
    low_x, low_y, high_x, high_y = layout.field.shape.bounds
    xs, ys = np.arange(low_x + step_m / 2, high_x, step_m), np.arange(low_y + step_m / 2, high_y, step_m)
    x, y = (each.ravel() for each in np.meshgrid(xs, ys))
    inside = shapely.contains_xy(layout.field.shape, x, y)
    x, y = x[inside], y[inside]
    times = np.zeros(len(x), dtype=int)
    for swath in [*layout.passes.swaths(), *(run.swath for run in layout.headland.runs)]:
        times += shapely.contains_xy(swath, x, y)
    return times


def test_coverage_is_what_a_raster_counts() -> None:
    field = field_of((0, 0), (300, 20), (310, 130), (120, 110), (90, 320), (10, 300))
    layout = divided(
        field, [shapely.box(-50, -50, 400, 120), shapely.box(-50, 120, 400, 400)], [88.0, 3.0], rounds=0
    )  # fmt: skip
    coverage = plan_parts(layout).coverage
    step_m = 0.5
    times = counted(layout, step_m)
    cell = step_m**2
    # A raster of half a metre on edges of some 4 km in all: a tenth of a per cent of the field.
    tolerance = 2e-3 * coverage.area_m2
    assert coverage.worked_m2 == pytest.approx((times > 0).sum() * cell, abs=tolerance)
    assert coverage.overlap_m2 == pytest.approx((times - 1).clip(0).sum() * cell, abs=2 * tolerance)
    assert coverage.skip_m2 == pytest.approx((times == 0).sum() * cell, abs=tolerance)
    # A pass of one part on another's ground is overlap, not spill: all that spills lies outside the outline.
    outside = sum(shapely.difference(swath, field.shape).area for swath in layout.passes.swaths())
    assert coverage.spill_m2 == pytest.approx(outside, abs=1e-6)


def test_shapes_have_the_areas_of_the_coverage() -> None:
    field = field_of((0, 0), (300, 20), (310, 130), (120, 110), (90, 320), (10, 300))
    layout = divided(
        field, [shapely.box(-50, -50, 400, 120), shapely.box(-50, 120, 400, 400)], [88.0, 3.0], rounds=1
    )  # fmt: skip
    plan = plan_parts(layout)
    shapes = plan.shapes()
    assert sum(each.overlap_m2 for each in shapes.overlap) == pytest.approx(plan.coverage.overlap_m2, abs=0.01)
    assert shapes.skip.area == pytest.approx(plan.coverage.skip_m2, abs=0.01)


@given(
    turn=st.floats(0, 180), cut_deg=st.floats(0, 179.9), x=st.floats(-50, 400), y=st.floats(-50, 400),
    arm=st.floats(40, 200),
)  # fmt: skip
@settings(max_examples=60, deadline=None)
def test_dividing_never_loses_area(turn: float, cut_deg: float, x: float, y: float, arm: float) -> None:
    ground = shapely.affinity.rotate(
        shapely.Polygon(
            [(0, 0), (400, 0), (400, arm), (arm, arm), (arm, 400), (0, 400)], [[(20, 20), (30, 20), (30, 35)]]
        ),
        turn,
        origin=(0, 0),
    )
    body = shapely.MultiPolygon([ground])
    right, left = divide(body, Cut(np.array([x, y]), cut_deg))
    pieces = [*right, *left]
    assert isclose(sum(piece.area for piece in pieces), body.area, rel_tol=1e-9)
    for number, one in enumerate(pieces):
        for other in pieces[number + 1 :]:
            assert shapely.intersection(one, other).area < 1e-9 * body.area
    assert isclose(joined(pieces).area, body.area, rel_tol=1e-9)


@given(arm=st.floats(45, 250), other=st.floats(45, 250), turn=st.floats(0, 180), lean=st.floats(-60, 60))
@settings(max_examples=4, deadline=None)
def test_divided_is_never_slower_and_keeps_the_identities(arm: float, other: float, turn: float, lean: float) -> None:
    ground = shapely.affinity.rotate(
        shapely.Polygon([(0, 0), (450, 0), (450, arm), (other, arm), (other + lean, 400), (lean, 400)]), turn
    )
    if not ground.is_valid:
        return
    field = field_from_shape(shapely.MultiPolygon([ground]), name="field")
    search = lay_parts(field, TOOL, headland=1, parts=2)
    undivided = lay(field, TOOL, headland=1)
    assert search.best.field_time_s <= undivided.field_time_s * (1 + 1e-9)
    coverage = search.best.coverage
    assert isclose(coverage.worked_m2 + coverage.skip_m2, coverage.area_m2, rel_tol=1e-9)
    swept = coverage.worked_m2 + coverage.overlap_m2 + coverage.spill_m2
    assert isclose(swept, coverage.swept_m2, rel_tol=1e-9)
    assert sum(search.best.timeline.by_state_s().values()) == pytest.approx(search.best.field_time_s)
    if isinstance(search.best, DividedPlan):
        layout = search.best.layout
        assert isclose(sum(part.body.area for part in layout.parts), layout.body.area, rel_tol=1e-9)
        losses = search.best.losses_s()
        beyond = search.best.field_time_s - coverage.area_m2 / search.best.theoretical_m2_s
        assert sum(losses.values()) == pytest.approx(beyond, abs=1e-6)


def test_no_part_is_narrower_than_three_passes() -> None:
    ground = shapely.MultiPolygon([THIN_L])
    divider = Divider(ground, TOOL, Estimates(ground, TOOL, "cover", "auto"), rounds=0)
    whole = divider.whole()
    assert whole is not None
    for division in divider.divided_once_more(whole):
        assert all(least_width_m(cell.ground) >= LEAST_PASSES * TOOL.width_m for cell in division.cells)


def test_cuts_are_each_tried_once() -> None:
    cuts = cuts_through(shapely.MultiPolygon([THIN_L]), TOOL, np.array([0.0, 0.4, 90.0]))
    # Derived: one corner, the two edges that meet there; 0.4 degrees is as good as 0.
    assert sorted(round(cut.direction_deg) for cut in cuts) == [0, 90]


@pytest.mark.parametrize("parts", [0, 5, -1, 2.5, True, "two"])
def test_parts_are_a_number_from_one_to_four(parts: object) -> None:
    field = field_from_shape(shapely.MultiPolygon([THIN_L]), name="L")
    with pytest.raises(InputError, match="from 1 to 4"):
        lay_parts(field, TOOL, parts=parts)  # type: ignore[arg-type]


def test_one_part_is_the_undivided_plan() -> None:
    field = field_from_shape(shapely.MultiPolygon([THIN_L]), name="L")
    search = lay_parts(field, TOOL, parts=1, headland=0)
    assert search.best is search.undivided
    assert search.best.field_time_s == lay(field, TOOL, headland=0).field_time_s
