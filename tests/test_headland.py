"""Headland rounds: exact areas in closed form, corners, ends only, notches, islands, necks, and what is too small."""

from math import cos, pi, sin, sqrt, tan
from typing import Any

import numpy as np
import pytest
import shapely
import shapely.affinity
from hypothesis import given
from hypothesis import strategies as st
from shapes import make_shape, outlines

from fieldgeo.analysis.lay import lay
from fieldgeo.analysis.plan import checked_rounds
from fieldgeo.errors import InputError
from fieldgeo.layout.headland import Sides, body_inside
from fieldgeo.layout.model import Headland, Layout
from fieldgeo.layout.overlay import difference, intersection, union
from fieldgeo.layout.strips import Finish
from fieldgeo.machinery.tool import Tool
from fieldgeo.outline.field import field_from_shape

FOOT_M = 0.3048
WIDTH = 9.144
TOOL = Tool(name="30 ft tool", width_m=WIDTH, turn_radius_m=6.0)
# A tool that turns so wide that every corner of 30 degrees and more is sharp.
STIFF = Tool(name="stiff 30 ft tool", width_m=WIDTH, turn_radius_m=16.0)
FINISHES: tuple[Finish, ...] = ("cover", "clean", "half")


def lay_out(
    shape: shapely.Geometry,
    rounds: int,
    *,
    tool: Tool = TOOL,
    finish: Finish = "cover",
    sides: Sides = "all",
    direction: float = 0.0,
) -> Layout:
    field = field_from_shape(shape)
    return lay(field, tool, direction_deg=direction, headland=rounds, sides=sides, finish=finish).layout


def rounds_in(shape: shapely.Geometry, rounds: int, **choices: Any) -> tuple[Headland, shapely.MultiPolygon]:
    layout = lay_out(shape, rounds, **choices)
    return layout.headland, layout.body


def overlap(headland: Headland, shape: shapely.Geometry) -> float:
    return sum(intersection(run.swath, shape).area for run in headland.runs) - headland.ground.area


def spill(headland: Headland, shape: shapely.Geometry) -> float:
    return headland.swept_m2 - sum(intersection(run.swath, shape).area for run in headland.runs)


@pytest.mark.parametrize("finish", FINISHES)
@pytest.mark.parametrize("turn_deg", [0.0, 30.0, 137.3])
def test_two_rounds_in_a_rectangle_derived(finish: Finish, turn_deg: float) -> None:
    a, b, w = 400.0, 250.0, WIDTH
    shape = shapely.affinity.rotate(shapely.box(0, 0, a, b), turn_deg, origin=(0, 0))
    headland, body = rounds_in(shape, 2, finish=finish)
    assert headland.all_round
    assert [run.round for run in headland.runs] == [1] * 4 + [2] * 4
    # The frame of two widths: a b - (a - 4w)(b - 4w). Square corners fit without overlap, skip or spill.
    frame = a * b - (a - 4 * w) * (b - 4 * w)
    assert headland.ground.area == pytest.approx(frame, rel=1e-9)
    assert headland.swept_m2 == pytest.approx(frame, rel=1e-9)
    assert body.area == pytest.approx((a - 4 * w) * (b - 4 * w), rel=1e-9)
    # Round k is driven over 2 (a + b) - 8 w (k - 1/2), every side ending at the next one's inner or outer edge.
    for number in (1, 2):
        length = sum(run.length_m for run in headland.runs if run.round == number)
        assert length == pytest.approx(2 * (a + b) - 8 * w * (number - 0.5), rel=1e-9)


def test_rounds_of_a_square_half_mile_derived_po11() -> None:
    # PO11: 2640 ft square, 30 ft tool: rounds of 10440 and 10200 ft, 14.2149 ac of headland, 84 passes of 2520 ft.
    side = 2640 * FOOT_M
    layout = lay_out(shapely.box(0, 0, side, side), 2)
    lengths = [sum(run.length_m for run in layout.headland.runs if run.round == k) / FOOT_M for k in (1, 2)]
    assert lengths == pytest.approx([10440.0, 10200.0], abs=0.01)
    assert layout.headland.ground.area / 4046.8564224 == pytest.approx(14.2149, abs=1e-4)
    assert len(layout.passes) == 84
    assert layout.passes.length_m / FOOT_M == pytest.approx(2520.0, abs=0.01)
    assert layout.swept_m2 / 4046.8564224 == pytest.approx(160.0, abs=1e-6)


def regular(corners: int, radius: float) -> shapely.Polygon:
    at = np.arange(corners) * 2 * pi / corners
    return shapely.Polygon(np.column_stack([radius * np.cos(at), radius * np.sin(at)]))


@pytest.mark.parametrize("corners", [3, 4, 5, 6, 7, 8, 10])
def test_round_in_a_regular_polygon_derived(corners: int) -> None:
    # Turn t at each corner. Up to 60 degrees the kite w^2 tan(t/2) is worked twice; above it two triangles of legs w
    # and w |cot t|, one on the field and one outside. At 60 degrees both ways sweep the same.
    t, w = 2 * pi / corners, WIDTH
    shape = regular(corners, 250.0)
    headland, body = rounds_in(shape, 1, tool=STIFF)
    assert len(headland.runs) == corners
    again = tan(t / 2) if t < pi / 3 + 1e-6 else abs(cos(t) / sin(t))
    assert overlap(headland, shape) + spill(headland, shape) == pytest.approx(corners * again * w**2, abs=1e-3)
    if corners not in (4, 6):
        share = 1.0 if t < pi / 3 else 0.5
        assert overlap(headland, shape) == pytest.approx(corners * again * w**2 * share, abs=1e-3)
    # Nothing is left between headland and body.
    assert difference(shape, union([headland.ground, body])).area == pytest.approx(0.0, abs=1e-3)


@pytest.mark.parametrize("corners", [4, 5, 6, 7, 8])
def test_clean_round_in_a_regular_polygon_derived(corners: int) -> None:
    # Up to a right angle clean leaves w^2/2 (sin t cos t + (1 - cos t)(sin t - tan(t/2))) at each corner, and no more.
    t, w = 2 * pi / corners, WIDTH
    shape = regular(corners, 250.0)
    headland, body = rounds_in(shape, 1, tool=STIFF, finish="clean")
    left = sin(t) * cos(t) + (1 - cos(t)) * (sin(t) - tan(t / 2))
    ring = difference(shape, shapely.buffer(shape, -w, join_style="mitre"))
    assert difference(ring, headland.ground).area == pytest.approx(corners * left * w**2 / 2, abs=1e-3)
    assert overlap(headland, shape) == pytest.approx(0.0, abs=1e-3)
    assert spill(headland, shape) == pytest.approx(0.0, abs=1e-3)
    assert body.area <= shapely.buffer(shape, -w, join_style="mitre").area + 1e-3


def test_square_notch_leaves_and_works_twice_nothing_derived() -> None:
    # L of 300 x 300 less 150 x 150. Five corners out, one in; all square. Frame of one width: perimeter 1200,
    # 1200 w - 4 w^2 (out 5, in 1: net four corners).
    shape = shapely.Polygon([(0, 0), (300, 0), (300, 150), (150, 150), (150, 300), (0, 300)])
    headland, body = rounds_in(shape, 1)
    assert headland.ground.area == pytest.approx(1200 * WIDTH - 4 * WIDTH**2, rel=1e-9)
    assert overlap(headland, shape) == pytest.approx(0.0, abs=1e-6)
    assert spill(headland, shape) == pytest.approx(0.0, abs=1e-6)
    # The body goes round the notch in an arc of one width, drawn with eight chords: it holds w^2 (1 - 4 sin(pi / 16))
    # of the square that the first side runs on over.
    run_on = WIDTH**2 * (1 - 4 * sin(pi / 16))
    assert body.area == pytest.approx(shape.area - headland.ground.area + run_on, rel=1e-9)


def test_round_about_a_pole_derived() -> None:
    # A pole of 2 x 2 m: a frame of one width round it is (2 + 2w)^2 - 4, four sides, no overlap.
    pole = shapely.box(149, 99, 151, 101)
    shape = shapely.difference(shapely.box(0, 0, 300, 200), pole)
    headland, body = rounds_in(shape, 1)
    around = [run for run in headland.runs if run.swath.distance(pole) < 1e-6]
    outer = [run for run in headland.runs if run.swath.distance(pole) > 1]
    assert len(outer) == 4
    assert sum(run.swath.area for run in around) == pytest.approx((2 + 2 * WIDTH) ** 2 - 4, rel=0.02)
    assert all(run.swath.intersection(pole).area < 1e-6 for run in around)
    assert difference(shape, union([headland.ground, body])).area == pytest.approx(0.0, abs=1e-6)
    assert len(body.geoms) == 1
    assert len(body.geoms[0].interiors) == 1


def test_acute_notch_is_left_to_the_body_not_forgotten() -> None:
    # A three-cornered pond turns the round by 120 degrees at each corner, more than its run-on covers.
    pond = shapely.Polygon([(140, 90), (160, 90), (150, 90 + 10 * sqrt(3))])
    field = field_from_shape(shapely.difference(shapely.box(0, 0, 300, 200), pond))
    plan = lay(field, STIFF, direction_deg=90, headland=1, sides="all")
    assert plan.coverage.skip_m2 <= 3e-4 * plan.field.area_m2


def test_ends_only_leaves_the_sides_along_the_passes_derived() -> None:
    # 400 east-west x 250 north-south, passes east-west: rounds at the west and east ends only, 250 long each.
    shape = shapely.box(0, 0, 400, 250)
    headland, body = rounds_in(shape, 2, sides="ends", direction=90.0)
    assert not headland.all_round
    assert len(headland.runs) == 4
    assert headland.swept_m2 == pytest.approx(4 * 250 * WIDTH, rel=1e-9)
    assert body.bounds == pytest.approx((2 * WIDTH, 0, 400 - 2 * WIDTH, 250))
    # Passes north-south: the other two sides.
    headland, body = rounds_in(shape, 2, sides="ends", direction=0.0)
    assert headland.swept_m2 == pytest.approx(4 * 400 * WIDTH, rel=1e-9)
    assert body.bounds == pytest.approx((0, 2 * WIDTH, 400, 250 - 2 * WIDTH))


@pytest.mark.parametrize("direction", [30.0, 45.0, 60.0])
def test_slant_on_every_side_needs_rounds_all_round(direction: float) -> None:
    assert rounds_in(shapely.box(0, 0, 400, 250), 1, sides="ends", direction=direction)[0].all_round


@pytest.mark.parametrize("turn_deg", [0.0, 11.0, 90.0, 213.0])
def test_ends_only_turns_with_the_field(turn_deg: float) -> None:
    shape = shapely.affinity.rotate(shapely.box(0, 0, 400, 250), turn_deg, origin=(0, 0))  # counter-clockwise
    headland, _ = rounds_in(shape, 1, sides="ends", direction=(90.0 - turn_deg) % 180)
    assert not headland.all_round
    assert headland.swept_m2 == pytest.approx(2 * 250 * WIDTH, rel=1e-9)


def test_slanted_end_runs_out_to_both_sides_derived() -> None:
    # Ends at 45 degrees between sides along the passes: cover runs on until the whole width is out, so that each run is
    # longer than the end by the width: one triangle w^2/2 at either end lies outside or on the body.
    shape = shapely.Polygon([(0, 0), (400, 0), (500, 100), (100, 100)])
    headland, body = rounds_in(shape, 1, sides="ends", direction=90.0)
    assert not headland.all_round
    assert len(headland.runs) == 2
    assert headland.swept_m2 == pytest.approx(2 * WIDTH * (100 * sqrt(2) + WIDTH), rel=1e-6)
    assert headland.ground.area == pytest.approx(2 * WIDTH * 100 * sqrt(2), rel=1e-6)
    assert body.area == pytest.approx(shape.area - headland.ground.area, rel=1e-6)


@pytest.mark.parametrize("sides", ["ends", "all"])
@pytest.mark.parametrize("finish", FINISHES)
def test_dumbbell_neck_splits_the_body_and_work_goes_on(sides: Sides, finish: Finish) -> None:
    # A neck of 25 m holds two rounds of 9.144 m on either side no longer: the body parts in two, both are worked.
    shape = shapely.union_all(
        [shapely.box(0, 0, 150, 120), shapely.box(149, 47, 251, 72), shapely.box(250, 0, 400, 120)]
    )
    field = field_from_shape(shape)
    plan = lay(field, TOOL, direction_deg=0.0, headland=2, sides=sides, finish=finish)
    layout = plan.layout
    assert len(layout.body.geoms) >= 2
    for box in (shapely.box(40, 40, 110, 80), shapely.box(290, 40, 360, 80)):
        assert difference(box, union(layout.passes.swaths())).area < 3 * WIDTH**2
    if finish == "cover":
        assert plan.coverage.skip_m2 <= 3e-4 * field.area_m2


@pytest.mark.parametrize("width_m", [12.0, 18.0, 19.0, 27.0, 37.0])
@pytest.mark.parametrize("sides", ["ends", "all"])
def test_strip_narrower_than_its_headland(width_m: float, sides: Sides) -> None:
    # Two rounds need 36.6 m: the body is swallowed, whole or all but a sliver; cover still leaves nothing worth a pass.
    field = field_from_shape(shapely.box(0, 0, width_m, 300))
    plan = lay(field, TOOL, direction_deg=90.0, headland=2, sides=sides)
    assert plan.coverage.skip_m2 <= 0.1 * WIDTH * 300 + 1e-6
    assert plan.field_time_s > 0


def test_ground_narrower_than_the_tool_is_left_to_the_body() -> None:
    # 5 m wide: no round fits; the passes work it under cover.
    plan = lay(field_from_shape(shapely.box(0, 0, 5, 200)), TOOL, direction_deg=0.0, headland=1, sides="all")
    assert plan.layout.headland.runs == ()
    assert plan.coverage.skip_m2 == pytest.approx(0.0, abs=1e-6)
    assert len(plan.layout.passes) == 1


def test_no_rounds_leave_the_outline_as_body() -> None:
    shape = regular(7, 200.0)
    headland, body = rounds_in(shape, 0)
    assert (headland.rounds, headland.runs, headland.swept_m2) == (0, (), 0.0)
    assert body.equals(shapely.MultiPolygon([shape]))


def test_lap_brings_rounds_nearer_derived() -> None:
    tool = Tool(name="lapping tool", width_m=10.0, lap_m=1.0, turn_radius_m=6.0)
    headland, body = rounds_in(shapely.box(0, 0, 400, 250), 2, tool=tool)
    # The second round's outer edge lies 9 m in, the body 18 m in.
    second = union([run.swath for run in headland.runs if run.round == 2])
    assert second.bounds == pytest.approx((9, 9, 391, 241))
    assert body.bounds == pytest.approx((18, 18, 382, 232))


def test_round_with_wide_bends_is_driven_without_lifting() -> None:
    # A circle of 60 corners: each turns by 6 degrees, steered round.
    headland, _ = rounds_in(regular(60, 300.0), 2)
    assert [(run.round, run.is_closed) for run in headland.runs] == [(1, True), (2, True)]


def test_inset_past_a_neck_keeps_both_halves_derived() -> None:
    # Two blocks joined by a neck of 8 x 10 m, too narrow for any round: at 9.144 m in, both blocks have a body of their
    # own, 131.7 x 101.7 and 121.7 x 91.7 m, whichever way the field lies. (Seen at 83 degrees: one of them was gone.)
    shape = shapely.union_all(
        [shapely.box(0, 0, 150, 120), shapely.box(149, 56, 161, 64), shapely.box(160, 0, 300, 110)]
    )
    for turn_deg in (0.0, 83.0):
        turned = shapely.affinity.rotate(shape, turn_deg, origin=(0, 0))
        inset = body_inside(shapely.MultiPolygon([turned]), TOOL, rounds=1, chains=None)
        expected = (150 - 2 * WIDTH) * (120 - 2 * WIDTH) + (140 - 2 * WIDTH) * (110 - 2 * WIDTH)
        # Corners of the neck may be rounded, which leaves some square metres more.
        assert inset.area == pytest.approx(expected, rel=1e-3)


def test_body_has_no_spike_of_no_width() -> None:
    # A pond with a sharp corner; along the spike a pass ran 38.8 m over ground that was worked already.
    shape = make_shape("hole", 678, 4, 0.0)
    layout = lay_out(shape, 1, direction=1.0)
    opened = layout.body.buffer(-1e-4, join_style="mitre").buffer(1e-4, join_style="mitre")
    assert layout.body.length == pytest.approx(opened.length, abs=0.1)


def test_parts_of_a_field_have_rounds_of_their_own() -> None:
    shape = shapely.MultiPolygon([shapely.box(0, 0, 200, 200), shapely.box(260, 0, 460, 200)])
    headland, body = rounds_in(shape, 1)
    assert [run.part for run in headland.runs] == [0] * 4 + [1] * 4
    assert len(body.geoms) == 2


@given(
    shape=outlines(), rounds=st.integers(1, 3), finish=st.sampled_from(FINISHES), sides=st.sampled_from(["ends", "all"])
)
def test_headland_and_body_of_any_outline(
    shape: shapely.MultiPolygon, rounds: int, finish: Finish, sides: Sides
) -> None:
    headland, body = rounds_in(shape, rounds, finish=finish, sides=sides)
    assert difference(body, shape).area == pytest.approx(0.0, abs=1e-6)
    assert difference(headland.ground, shape).area == pytest.approx(0.0, abs=1e-6)
    assert headland.ground.area <= headland.swept_m2 + 1e-6
    for run in headland.runs:
        assert 1 <= run.round <= rounds
        assert run.swath.is_valid
        # The path keeps within the swath, and the swath is as wide as the tool.
        assert run.swath.buffer(1e-6).covers(shapely.LineString(run.line))
        assert run.swath.area <= (run.length_m + 2 * TOOL.width_m) * TOOL.width_m * 1.2


def test_auto_rounds_derived_hw01_hw02_hw03() -> None:
    for width, radius, rounds in ((9.144, 6.0, 2), (12.192, 6.0, 1), (12.192, 7.5, 2)):
        assert checked_rounds("auto", Tool(name="t", width_m=width, turn_radius_m=radius)) == rounds


@pytest.mark.parametrize("headland", [-1, 51, 1.5, True, "many", None])
def test_rounds_that_cannot_be_are_refused(headland: object) -> None:
    with pytest.raises(InputError, match="headland: got"):
        checked_rounds(headland, TOOL)
