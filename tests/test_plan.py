"""A plan: its figures follow from layout and time line; values that cannot be are refused with one clear message."""

from math import asin, pi

import numpy as np
import pytest
import shapely

from fieldgeo.analysis.lay import lay
from fieldgeo.analysis.plan import Plan, checked_direction_deg, typical_turn_s
from fieldgeo.errors import InputError, LayoutError
from fieldgeo.machinery.tool import Tool, row_width_m
from fieldgeo.machinery.turning import turn_length_m
from fieldgeo.outline.field import field_from_shape

FOOT_M = 0.3048
SHAPE = shapely.box(0, 0, 400, 250)


def plan_on(shape: shapely.Geometry, width: float = 10.0, **choices: object) -> Plan:
    wanted = {"direction_deg": 90.0, "headland": 0, "sides": "all", "order": "back-and-forth"} | choices
    return lay(field_from_shape(shape), Tool(name="t", width_m=width), **wanted)


def test_efficiency_is_effective_over_theoretical_derived() -> None:
    # 25 passes of 400 m at 2.2352 m/s and 24 loops of a 10 m spacing at 1.75 m/s; no overlap.
    plan = plan_on(SHAPE)
    seconds = 25 * 400 / 2.2352 + 24 * turn_length_m(10.0, 6.0) / 1.75
    assert plan.field_time_s == pytest.approx(seconds)
    assert plan.theoretical_m2_s == pytest.approx(22.352)
    assert plan.effective_m2_s == pytest.approx(100_000 / seconds)
    assert plan.field_efficiency == pytest.approx(100_000 / seconds / 22.352)


def test_losses_of_a_rectangle_derived() -> None:
    # 246 m: 25 passes, the last over 4 m of its neighbour; 4 x 400 m2 again at 22.352 m2/s. 23 turns are of a 10 m
    # spacing, and the last of 6 m: quicker backed in a curve, half round with 2 r asin((2 r - d) / 4 r) in reverse at
    # 1 m/s and two shifts of 4 s.
    losses = plan_on(shapely.box(0, 0, 400, 246)).losses_s()
    assert losses["overlap_last_pass"] == pytest.approx(1600 / 22.352)
    reverse_m = 12 * asin(0.25)
    backed_s = (6 * pi - reverse_m) / 1.75 + reverse_m + 8
    assert losses["turning"] == pytest.approx(23 * turn_length_m(10.0, 6.0) / 1.75 + backed_s)
    others = {name: seconds for name, seconds in losses.items() if name not in {"overlap_last_pass", "turning"}}
    assert others == pytest.approx(dict.fromkeys(others, 0.0), abs=1e-6)


def test_field_time_of_a_rectangle_splits_into_work_and_losses_derived() -> None:
    plan = plan_on(shapely.box(0, 0, 400, 246), headland=2)
    assert sum(plan.losses_s().values()) == pytest.approx(plan.field_time_s - 98_400 / 22.352, rel=1e-9)


@pytest.mark.parametrize("direction", [-1.0, 360.1, float("nan"), float("inf"), 400.0])
def test_direction_off_the_circle_is_refused(direction: float) -> None:
    with pytest.raises(InputError, match=r"direction: got .* degrees"):
        plan_on(SHAPE, direction_deg=direction)


@pytest.mark.parametrize(("given", "kept"), [(0, 0), (179.9, 179.9), (180, 0), (270, 90), (360, 0)])
def test_opposite_directions_are_the_same_passes(given: float, kept: float) -> None:
    assert checked_direction_deg(given) == pytest.approx(kept)


def test_opposite_directions_lay_the_same() -> None:
    one, other = plan_on(SHAPE, direction_deg=30.0), plan_on(SHAPE, direction_deg=210.0)
    assert one.field_time_s == other.field_time_s
    assert one.coverage == other.coverage


@pytest.mark.parametrize(
    ("choice", "match"),
    [
        ({"finish": "tidy"}, "finish: got 'tidy'. It must be one of cover, clean, half"),
        ({"sides": "none"}, "sides: got 'none'"),
        ({"headland": -2}, "headland: got -2"),
        ({"headland": 2.5}, "headland: got 2.5"),
    ],
)
def test_choices_that_cannot_be_are_refused(choice: dict[str, object], match: str) -> None:
    with pytest.raises(InputError, match=match):
        plan_on(SHAPE, **choice)


def test_tool_wider_than_the_field_is_long_is_refused() -> None:
    with pytest.raises(LayoutError, match=r"only 30\.00 m long"):
        plan_on(shapely.box(0, 0, 30, 20), width=30.5)
    # As wide as the field is long is not too wide.
    assert len(plan_on(shapely.box(0, 0, 30, 20), width=30.0).layout.passes) == 1


def test_clean_on_ground_narrower_than_the_tool_works_nothing_and_says_so() -> None:
    plan = plan_on(shapely.box(0, 0, 200, 6), finish="clean")
    assert plan.field_time_s == 0.0
    assert plan.effective_m2_s is None
    assert plan.field_efficiency is None
    assert plan.coverage.skip_m2 == pytest.approx(1200.0)


def test_auto_sides_take_no_more_time_than_either() -> None:
    shape = shapely.Polygon([(0, 0), (400, 0), (430, 250), (20, 250)])
    times = {sides: plan_on(shape, headland=2, sides=sides).field_time_s for sides in ("auto", "ends", "all")}
    assert times["auto"] == pytest.approx(min(times["ends"], times["all"]), rel=1e-9)


def test_auto_headland_is_what_the_tool_needs() -> None:
    # 10 m at 6 m radius: depth 6 + 12 sin(acos 22/24) + 5 = 15.8 m: two rounds. (Derived.)
    plan = plan_on(SHAPE, headland="auto")
    assert plan.layout.headland.rounds == 2


def test_typical_turn_derived() -> None:
    tool = Tool(name="t", width_m=10.0, lap_m=1.0, pull_out_m=3.0, raise_s=2.0, lower_s=1.0)
    assert typical_turn_s(tool) == pytest.approx((turn_length_m(9.0, 6.0) + 6.0) / 1.75 + 3.0)


@pytest.mark.parametrize("radius", [{"turn_radius_m": 431.0}, {"turn_radius_left_m": 431.0}])
def test_radius_larger_than_the_field_is_refused(radius: dict[str, float]) -> None:
    field = field_from_shape(shapely.box(0, 0, 430, 250))
    with pytest.raises(LayoutError, match=r"turns on a radius of 431.00 m .* only 430.00 m long, and no turn fits"):
        lay(field, Tool(name="t", width_m=10.0, **radius), direction_deg=90.0)


# D-ROW1 and D-ROW2, common practice, no source: rows, spacing in inches, width in feet.
@pytest.mark.parametrize(("rows", "inches", "feet"), [(16, 30, 40.0), (23, 15, 28.75), (8, 30, 20.0), (6, 30, 15.0)])
def test_rows_times_spacing(rows: int, inches: float, feet: float) -> None:
    assert row_width_m(rows, inches * 0.0254) / FOOT_M == pytest.approx(feet, abs=1e-9)


@pytest.mark.parametrize("entrance", [np.array([0.0, 0.0]), np.array([200.0, -30.0])])
def test_way_from_and_to_the_entrance_counts(entrance: np.ndarray) -> None:
    without, with_it = plan_on(SHAPE, headland=1), plan_on(SHAPE, headland=1, entrance_xy=entrance)
    assert with_it.coverage == without.coverage
    assert with_it.timeline.by_state_s()["passes"] == pytest.approx(without.timeline.by_state_s()["passes"])
    assert with_it.route.legs[-1].points()[-1] == pytest.approx(entrance)


@pytest.mark.parametrize("speed", [1.0, 2.0, 4.0])
def test_faster_work_does_not_change_the_ground(speed: float) -> None:
    field = field_from_shape(SHAPE)
    plans = [
        lay(
            field,
            Tool(name="t", width_m=10.0, speed_m_s=s, turn_speed_m_s=s, hitch="pulled"),
            direction_deg=90.0,
            headland=2,
            sides="all",
        )
        for s in (1.0, speed)
    ]
    assert plans[1].coverage == plans[0].coverage
    assert plans[1].field_time_s == pytest.approx(plans[0].field_time_s / speed)
