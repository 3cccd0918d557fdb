"""Stops to fill and unload: where they fall, how much goes in and out, and that nothing is lost or made on the way."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapes import outlines

from fieldgeo.analysis.lay import lay
from fieldgeo.analysis.plan import Plan
from fieldgeo.errors import InputError, LayoutError
from fieldgeo.machinery.supply import Supply, supply_of
from fieldgeo.machinery.tool import Tool
from fieldgeo.outline.field import field_from_shape
from fieldgeo.travel.ground import cut_ground, swept_by_leg_m2, swept_ground
from fieldgeo.travel.route import Route
from fieldgeo.travel.stations import side_facing
from fieldgeo.travel.stop_rules import StopRules
from fieldgeo.travel.stops import StopPlan, plan_stops, with_stops
from fieldgeo.travel.timeline import time_route
from fieldgeo.travel.zones import Zones

FOOT_M, ACRE_M2 = 0.3048, 4046.8564224
HALF_MILE_M = 2640 * FOOT_M


def plan_on(
    shape: shapely.Geometry, *, width_m: float = 40 * FOOT_M, direction_deg: float = 0.0, headland: int = 0,
    **tool: Any,
) -> Plan:  # fmt: skip
    made = Tool(**{"name": "t", "width_m": width_m} | tool)
    return lay(field_from_shape(shape), made, direction_deg=direction_deg, headland=headland, sides="all")


def strips(passes: int, width_ft: float = 40.0) -> Plan:
    """Return passes of half a mile to north and south, side by side, straight through."""
    return plan_on(shapely.box(0, 0, passes * width_ft * FOOT_M, HALF_MILE_M), width_m=width_ft * FOOT_M)


def acres(tank_acres: float, **more: str) -> Supply:
    """Return a supply of which one unit does one acre."""
    return supply_of({"tank": f"{tank_acres}bu", "rate": "1bu/ac", **more})


def after(plan: StopPlan) -> list[tuple[int, str]]:
    return [(stop.after.number, stop.after.end) for stop in plan.stops if stop.after is not None]


def south(plan: Plan) -> StopRules:
    return StopRules(where="side", side=side_facing(plan.field.shape, "south"))


# Passes per load ---------------------------------------------------------------------------------------------------


def test_twelve_passes_to_a_fill_derived_lg01() -> None:
    # LG01: half a mile of 40 ft is 2.42424 ac; 30 ac a fill are 12 passes, 29.0909 ac. 45 passes: after 12, 24 and 36.
    plan = strips(45)
    stops = plan_stops(plan.route, acres(30), StopRules())
    assert stops.used_by_work == pytest.approx(np.full(45, 2.42424), abs=1e-5)
    assert [stop.after.number for stop in stops.stops if stop.after] == [12, 24, 36]
    assert stops.stops[0].amount == pytest.approx(29.0909, abs=1e-4)
    # The last one is what nine more passes need, less what is left: 9 x 2.42424 - 0.90909.
    assert stops.stops[2].amount == pytest.approx(9 * 2.424242 - 0.909091, abs=1e-5)
    assert (stops.at_start, stops.at_end) == (30.0, 0.0)


def test_eleven_passes_at_both_ends_ten_at_one_derived_lg02() -> None:
    # LG02: 28 ac are 11 passes; where the tender can come to one end only, 10.
    plan = strips(45)
    both = plan_stops(plan.route, acres(28), StopRules())
    assert [number for number, _ in after(both)] == [11, 22, 33, 44]
    assert {end for _, end in after(both)} == {"north", "south"}
    assert after(plan_stops(plan.route, acres(28), south(plan))) == [(10, "south"), (20, "south"), (30, "south"),
                                                                     (40, "south")]  # fmt: skip
    north = replace(south(plan), side=side_facing(plan.field.shape, "north"))
    assert {number % 2 for number, _ in after(plan_stops(plan.route, acres(28), north))} == {1}


def test_grain_tank_full_before_the_end_of_a_half_mile_derived_lg03() -> None:
    # LG03: 350 bu at 200 bu/ac and 30 ft are full after 2541 ft, 99 ft before the end; then 99 ft sooner each pass.
    plan = strips(20, width_ft=30)
    stops = plan_stops(plan.route, supply_of({"tank": "350bu", "yield": "200bu/ac"}), StopRules())
    along_ft = [stop.along_m / FOOT_M for stop in stops.stops if stop.along_m is not None]
    assert along_ft[:4] == pytest.approx([2541.0, 2442.0, 2343.0, 2244.0])
    assert [stop.after.number for stop in stops.stops[:3] if stop.after] == [1, 2, 3]
    assert all(stop.amount == pytest.approx(350.0) for stop in stops.stops[:-1])
    assert any("does not hold a whole pass" in caution for caution in stops.cautions)


def test_fewest_loads_where_one_stops_when_full_derived_lg07() -> None:
    # LG07: 160 ac at 200 bu/ac are 32,000 bu, 92 tanks of 350 bu at least. 30 ft passes of half a mile, 88 of them.
    plan = strips(88, width_ft=30)
    stops = plan_stops(plan.route, supply_of({"tank": "350bu", "yield": "200bu/ac"}), StopRules())
    assert stops.total == pytest.approx(32_000)
    assert len(stops.stops) == 92
    assert sum(stop.amount for stop in stops.stops) == pytest.approx(32_000)


def test_a_way_back_and_forth_of_the_grain_tank_derived() -> None:
    # 180 bu at 180 bu/ac and 15 ft: 2904 ft. Passes of 1452 ft: a full round of two fits to the last bushel.
    plan = plan_on(shapely.box(0, 0, 6 * 15 * FOOT_M, 1452 * FOOT_M), width_m=15 * FOOT_M)
    stops = plan_stops(plan.route, supply_of({"tank": "180bu", "yield": "180bu/ac"}), StopRules())
    assert [number for number, _ in after(stops)] == [2, 4, 6]
    assert [stop.amount for stop in stops.stops] == pytest.approx([180.0] * 3)


def test_stops_are_where_the_pass_ends_and_say_how_it_is_counted() -> None:
    stops = plan_stops(strips(45).route, acres(30), StopRules())
    first = stops.stops[0]
    assert first.after is not None
    # Driven from the east, so the twelfth from there; u runs north, and its right is east.
    end_x = (45 - 11.5) * 40 * FOOT_M if first.after.across == 12 else 11.5 * 40 * FOOT_M
    assert first.xy == pytest.approx((end_x, 0.0 if first.after.end == "south" else HALF_MILE_M), abs=1e-6)
    assert first.after.across in {12, 34}


@pytest.mark.parametrize("direction", [0.0, 90.0])
def test_end_of_a_pass_is_named_by_where_it_lies(direction: float) -> None:
    plan = plan_on(shapely.box(0, 0, 400, 400), direction_deg=direction)
    stops = plan_stops(plan.route, acres(5), StopRules())
    middle = np.array([200.0, 200.0])
    for stop in stops.stops:
        assert stop.after is not None
        away = np.array(stop.xy) - middle
        axis = 1 if direction == 0 else 0
        names = ("south", "north") if direction == 0 else ("west", "east")
        assert stop.after.end == names[int(away[axis] > 0)]


# The last fill, the first, and the time ------------------------------------------------------------------------------


def test_last_fill_whole_leaves_the_rest_derived() -> None:
    # 45 passes of 2.42424 ac from 30 ac tanks: three whole fills of 29.0909 after 12 passes each; nine passes are left.
    stops = plan_stops(strips(45).route, acres(30), StopRules(last_fill="full"))
    assert [stop.amount for stop in stops.stops] == pytest.approx([29.090909] * 3)
    assert stops.at_end == pytest.approx(30 - 9 * 2.424242, abs=1e-5)


def test_a_field_smaller_than_a_tank_needs_no_stop_and_no_more_than_it_takes() -> None:
    stops = plan_stops(strips(10).route, acres(30), StopRules())
    assert stops.stops == ()
    assert (stops.at_start, stops.at_end) == (pytest.approx(24.2424, abs=1e-4), 0.0)
    assert stops.route.legs == strips(10).route.legs or len(stops.route.legs) == len(strips(10).route.legs)


def test_first_filling_in_the_field_is_a_stop_before_the_first_pass() -> None:
    plan = strips(20)
    stops = plan_stops(plan.route, acres(30), StopRules(starts_empty=True))
    assert stops.at_start == 0.0
    assert [stop.work for stop in stops.stops] == [-1, 11]
    assert stops.stops[0].after is None
    assert stops.route.legs[0].state == "fill"
    assert sum(stop.amount for stop in stops.stops) == pytest.approx(20 * 2.424242, abs=1e-4)


def test_time_of_stops_counts_on_the_time_line_derived() -> None:
    # Three stops of 5 min and 29.0909 + 29.0909 + 20.9091 bu at 15 bu/min.
    plan = strips(45)
    stops = plan_stops(plan.route, acres(30, stop_setup="5min", stop_flow="15bu/min"), StopRules())
    line = time_route(stops.route)
    assert line.by_state_s()["filling"] == pytest.approx(3 * 300 + (2 * 29.090909 + 20.909091) * 4, abs=1e-3)
    assert line.field_time_s == pytest.approx(plan.field_time_s + stops.added_s)
    assert line.by_state_s()["turning"] == pytest.approx(plan.timeline.by_state_s()["turning"])


# Stands --------------------------------------------------------------------------------------------------------------


def test_way_to_a_stand_and_back_takes_the_place_of_the_turn_derived() -> None:
    # Two passes of 800 m at x = 5 and 15 (or 15 and 5); after the first the tool is at one end. Stand 30 m beyond it.
    plan = plan_on(shapely.box(0, 0, 20, 800), width_m=10.0, speed_m_s=2.0, turn_speed_m_s=1.0)
    first = plan.route.legs[0].points()
    beyond = 830.0 if first[-1, 1] > first[0, 1] else -30.0
    stand = np.array([[10.0, beyond]])
    supply = supply_of({"tank": "2.2bu", "rate": "1bu/ac"})  # a pass is 1.977 ac
    stops = plan_stops(plan.route, supply, StopRules(where="stands", stands_xy=stand))
    way_m = 2 * np.hypot(5.0, 30.0)
    turn_s = plan.timeline.by_state_s()["turning"]
    assert stops.stops[0].detour_s == pytest.approx(way_m / 2.0 - turn_s)
    assert [leg.state for leg in stops.route.legs] == ["pass", "travel", "fill", "travel", "pass"]
    assert stops.stops[0].xy == pytest.approx((10.0, beyond))
    assert time_route(stops.route).field_time_s == pytest.approx(plan.field_time_s + stops.added_s)


def test_a_stand_is_driven_to_from_its_own_side() -> None:
    # A stand at the south edge: as with one end only, ten passes and not eleven.
    plan = strips(45)
    middle = 45 * 20 * FOOT_M
    stops = plan_stops(plan.route, acres(28), StopRules(where="stands", stands_xy=np.array([[middle, -5.0]])))
    assert len(stops.stops) == 4
    assert {end for _, end in after(stops)} == {"south"}


def test_where_the_tank_does_not_last_out_and_back_far_ends_are_used_and_it_is_told() -> None:
    plan = strips(10)
    stops = plan_stops(plan.route, acres(3), StopRules(where="stands", stands_xy=np.array([[60.0, -5.0]])))
    assert len(stops.stops) == 9
    assert any("far ends" in caution for caution in stops.cautions)


def test_of_several_stands_the_nearest_is_taken() -> None:
    plan = strips(45)
    stands = np.array([[60.0, -5.0], [500.0, -5.0]])
    stops = plan_stops(plan.route, acres(28), StopRules(where="stands", stands_xy=stands))
    for stop in stops.stops:
        assert stop.stand == int(abs(stop.xy[0] - 500.0) < 1)
    assert {stop.stand for stop in stops.stops} == {0, 1}


def test_least_time_is_never_more_than_with_the_fewest_stops() -> None:
    plan = strips(45)
    rules = StopRules(where="stands", stands_xy=np.array([[60.0, -5.0]]))
    supply = acres(28, stop_setup="20s")
    few, quick = (plan_stops(plan.route, supply, replace(rules, first=first)) for first in ("stops", "time"))
    assert quick.added_s <= few.added_s
    assert len(quick.stops) >= len(few.stops)


def test_last_load_is_driven_to_the_stand_and_the_tool_leaves_from_there() -> None:
    gate = np.array([0.0, -20.0])
    field = field_from_shape(shapely.box(0, 0, 60, 400))
    plan = lay(field, Tool(name="t", width_m=10.0), direction_deg=0.0, headland=1, sides="all", entrance_xy=gate)
    rules = StopRules(where="stands", stands_xy=np.array([[30.0, 0.0]]))
    stops = plan_stops(plan.route, supply_of({"tank": "300bu", "yield": "180bu/ac"}), rules)
    assert [leg.state for leg in stops.route.legs[-3:]] == ["travel", "unload", "travel"]
    assert stops.route.legs[-1].points()[-1] == pytest.approx(gate)


# Refused -------------------------------------------------------------------------------------------------------------


def test_a_pass_longer_than_the_tank_lasts_says_what_fits_derived() -> None:
    # A pass of 2640 ft takes 2.424 ac; 2 ac reach 2178 ft.
    with pytest.raises(
        LayoutError, match=r"2 bu runs dry on pass 1, which is 2,640 ft .* A pass of 2,178 ft \(664 m\)"
    ):
        plan_stops(strips(5).route, acres(2), StopRules())


def test_a_side_at_which_no_pass_ends_is_told() -> None:
    plan = plan_on(shapely.box(0, 0, 800, 400), direction_deg=90.0)
    with pytest.raises(
        LayoutError, match=r"does not last from the stop at the start .*Too few passes end on this side"
    ):
        plan_stops(plan.route, acres(5), south(plan))


def test_a_round_of_two_that_does_not_fit_at_one_end_is_told() -> None:
    plan = strips(10)
    message = r"tank: 3 bu does not last from the stop at the start to the next .* after pass 2: 4\.85 bu"
    with pytest.raises(LayoutError, match=message):
        plan_stops(plan.route, acres(3), south(plan))


def test_stand_too_far_away_is_refused() -> None:
    rules = StopRules(where="stands", stands_xy=np.array([[0.0, 0.0], [0.0, -6000.0]]))
    with pytest.raises(InputError, match=r"stand 2 lies 6\.0 km from the field"):
        plan_stops(strips(5).route, acres(5), rules)


@pytest.mark.parametrize(
    ("rules", "match"),
    [
        ({"where": "side"}, "a side is asked for but not given"),
        ({"where": "stands"}, "stands are asked for but not given"),
        ({"where": "moon"}, "where is 'moon'"),
        ({"last_fill": "half"}, "last_fill is 'half'"),
        ({"cart_capacity": -1.0}, "cart: its capacity is -1"),
    ],
)
def test_rules_that_cannot_be_are_refused(rules: dict[str, Any], match: str) -> None:
    with pytest.raises(InputError, match=match):
        StopRules(**rules)


def test_filling_on_the_go_and_stops_upon_stops_are_refused() -> None:
    route = strips(20).route
    with pytest.raises(InputError, match="on the go goes with unloading"):
        plan_stops(route, acres(30), StopRules(where="go"))
    with pytest.raises(InputError, match="has stops already"):
        plan_stops(with_stops(route, acres(30), StopRules()), acres(30), StopRules())


# What always holds ---------------------------------------------------------------------------------------------------


def held(route: Route, supply: Supply, stops: StopPlan) -> None:
    """Drive a route with its stops leg by leg and see that the tank is never below nothing or above full."""
    noise = 1e-6 * supply.capacity
    sign = -1 if supply.job == "fill" else 1
    works = [leg for leg in route.legs if leg.is_work]
    waiting = list(stops.stops)
    level, work, driven, taken = stops.at_start, 0, 0.0, 0.0
    for leg in stops.route.legs:
        if leg.is_work:
            driven += leg.length_m / works[work].length_m
            if driven > 1 - 1e-9:  # done: what the stops on it have not seen yet
                level += sign * (stops.used_by_work[work] - taken)
                work, driven, taken = work + 1, 0.0, 0.0
        elif leg.state == supply.job:
            stop = waiting.pop(0)
            assert leg.points()[0] == pytest.approx(stop.xy)
            assert leg.stop_s == pytest.approx(supply.stop_s(stop.amount))
            assert stop.amount > 0
            if stop.along_m is None:
                assert stop.before == pytest.approx(level, abs=noise)
            else:
                assert stop.along_m == pytest.approx(driven * works[work].length_m)
                assert stop.before >= level - noise
                taken += stop.before - level
            level = stop.left
        assert -noise <= level <= supply.capacity + noise
    assert not waiting
    assert work == len(works)
    assert level == pytest.approx(stops.at_end, abs=noise)


@given(shape=outlines(), headland=st.integers(0, 2), tanks=st.floats(1.5, 8), lift=st.sampled_from([0.0, 2.0]))
@settings(max_examples=12)
def test_seed_used_is_swept_ground_times_rate(
    shape: shapely.MultiPolygon, headland: int, tanks: float, lift: float
) -> None:
    plan = plan_on(shape, width_m=10.0, direction_deg=90.0, headland=headland, raise_s=lift, lower_s=lift)
    most = max(swept_by_leg_m2(plan.route), default=0.0)
    if most == 0:
        return
    supply = Supply(job="fill", kind="bu", capacity=tanks * most * 2e-4, rate_m2=2e-4, setup_s=60.0, flow_s=0.1)
    stops = plan_stops(plan.route, supply, StopRules(last_fill="full" if lift else "needed"))
    assert stops.total == pytest.approx(2e-4 * plan.layout.swept_m2, rel=1e-9)
    assert stops.at_start + sum(stop.amount for stop in stops.stops) - stops.at_end == pytest.approx(
        stops.total, rel=1e-9
    )
    held(plan.route, supply, stops)
    line = time_route(stops.route)
    assert line.field_time_s == pytest.approx(plan.field_time_s + stops.added_s, rel=1e-9)
    assert line.by_state_s()["filling"] == pytest.approx(sum(stop.seconds for stop in stops.stops))


@given(shape=outlines(), headland=st.integers(0, 2), tanks=st.floats(0.4, 4), where=st.sampled_from(["edge", "stands"]))
@settings(max_examples=12)
def test_grain_unloaded_is_worked_ground_times_yield(
    shape: shapely.MultiPolygon, headland: int, tanks: float, where: str
) -> None:
    plan = plan_on(shape, width_m=10.0, direction_deg=90.0, headland=headland, raise_s=2.0, lower_s=3.0)
    if not any(leg.is_work for leg in plan.route.legs):
        return
    ground = cut_ground(plan.route)
    by_work = np.bincount(ground.work, weights=ground.area_m2)
    supply = Supply(job="unload", kind="bu", capacity=tanks * by_work.max() * 0.04, rate_m2=0.04, setup_s=60.0)
    corner = np.array([shape.bounds[:2]])
    rules = StopRules(where=where, stands_xy=corner if where == "stands" else None)  # type: ignore[arg-type]
    try:
        stops = plan_stops(plan.route, supply, rules)
    except LayoutError:
        # Where a pond parts passes, the tank may not last to the next end at the outer edge.
        assert tanks < 3
        return
    worked_m2 = plan.coverage.worked_m2
    assert sum(stop.amount for stop in stops.stops) == pytest.approx(0.04 * worked_m2, rel=1e-7)
    assert stops.at_end == 0.0
    held(plan.route, supply, stops)
    line = time_route(stops.route)
    assert line.field_time_s == pytest.approx(plan.field_time_s + stops.added_s, rel=1e-9)
    # Every pass and run is driven once, in one stretch or several.
    for state in ("pass", "headland"):
        assert stops.route.length_m(state) == pytest.approx(plan.route.length_m(state))  # type: ignore[arg-type]


@given(shape=outlines(), headland=st.integers(0, 2))
@settings(max_examples=15)
def test_ground_of_the_works_is_that_of_the_layout(shape: shapely.MultiPolygon, headland: int) -> None:
    plan = plan_on(shape, width_m=10.0, direction_deg=30.0, headland=headland, sections=4)
    assert swept_ground(plan.route).area_m2.sum() == pytest.approx(plan.layout.swept_m2, rel=1e-12)
    assert swept_by_leg_m2(plan.route).sum() == pytest.approx(plan.layout.swept_m2, rel=1e-12)
    assert cut_ground(plan.route).area_m2.sum() == pytest.approx(plan.coverage.worked_m2, rel=1e-7, abs=1e-3)


def test_without_a_supply_nothing_changes() -> None:
    plan = strips(5)
    assert {leg.state for leg in plan.route.legs} == {"pass", "turn"}
    assert plan.timeline.by_state_s()["filling"] == plan.timeline.by_state_s()["unloading"] == 0.0


# Zones ---------------------------------------------------------------------------------------------------------------


def test_zones_of_yield_derived() -> None:
    # 45 passes of half a mile; the west half yields 100, the rest 200 bu/ac: 54.545 ac x 100 + 54.545 x 200.
    plan = strips(45)
    half_m = 45 * 20 * FOOT_M
    zones = Zones(
        shapes=np.array([shapely.box(-10, -10, half_m, HALF_MILE_M + 10)], dtype=object),
        rates_m2=np.array([100 / ACRE_M2]),
        rest_m2=200 / ACRE_M2,
    )
    stops = plan_stops(plan.route, Supply(job="unload", kind="bu", capacity=1000.0, rate_m2=zones), StopRules())
    assert stops.total == pytest.approx(300 * 45 * 2.4242424 / 2)
    assert sum(stop.amount for stop in stops.stops) == pytest.approx(stops.total)
    # A tank holds two passes of 484.8 bu in the one half, and four of 242.4 in the other.
    steps = np.diff([number for number, _ in after(stops)])
    assert {2, 4} <= set(steps.tolist())


def test_tank_runs_full_sooner_where_the_yield_is_higher_derived() -> None:
    # One pass north, 800 x 10 m, 0.01 bu/m2 in the south half and 0.03 in the north: 40 and 120 bu. A tank of 100 is
    # full after the 400 m and 60 bu more, 200 m: at 600 m driving north; driving south at 100 / 0.3 = 333.3 m.
    plan = plan_on(shapely.box(0, 0, 10, 800), width_m=10.0)
    zones = Zones(
        shapes=np.array([shapely.box(0, 400, 10, 800)], dtype=object), rates_m2=np.array([0.03]), rest_m2=0.01
    )
    stops = plan_stops(plan.route, Supply(job="unload", kind="bu", capacity=100.0, rate_m2=zones), StopRules())
    is_north = stops.stops[-1].xy[1] > 400
    assert stops.stops[0].along_m == pytest.approx(600.0 if is_north else 100 / 0.3, abs=1e-6)


@pytest.mark.parametrize(
    ("shapes", "rates", "rest", "match"),
    [
        ([shapely.box(0, 0, 10, 10), shapely.box(5, 0, 20, 10)], [1.0, 2.0], 1.0, "overlap on 50 m2"),
        ([shapely.box(0, 0, 10, 10)], [-1.0], 1.0, "below zero"),
        ([shapely.box(0, 0, 10, 10)], [0.0], 0.0, "all are zero"),
        ([shapely.box(0, 0, 10, 10)], [1.0, 2.0], 1.0, "got 1 zones and 2 rates"),
    ],
)
def test_zones_that_cannot_be_are_refused(shapes: list[Any], rates: list[float], rest: float, match: str) -> None:
    with pytest.raises(InputError, match=match):
        Zones(shapes=np.array(shapes, dtype=object), rates_m2=np.array(rates), rest_m2=rest)
