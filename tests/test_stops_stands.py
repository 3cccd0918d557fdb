"""Where stands are: sides of a field, ends of passes on them, ways to a stand, and the best places for one or two."""

from typing import Any

import numpy as np
import pytest
import shapely

from fieldgeo.analysis.lay import lay
from fieldgeo.analysis.plan import Plan
from fieldgeo.errors import InputError, LayoutError
from fieldgeo.machinery.supply import supply_of
from fieldgeo.machinery.tool import Tool
from fieldgeo.outline.field import field_from_shape
from fieldgeo.travel.stand_search import best_stands
from fieldgeo.travel.stations import (
    WINDS,
    detours_s,
    edge_places,
    find_gaps,
    is_at_edge,
    is_at_line,
    side_along,
    side_facing,
    wind,
)
from fieldgeo.travel.stop_rules import StopRules
from fieldgeo.travel.stops import plan_stops

SQUARE = shapely.MultiPolygon([shapely.box(0, 0, 400, 400)])


def plan_on(shape: shapely.Geometry, *, direction_deg: float = 0.0, headland: int = 0, **tool: Any) -> Plan:
    made = Tool(**{"name": "t", "width_m": 10.0} | tool)
    field = field_from_shape(shape)
    return lay(field, made, direction_deg=direction_deg, headland=headland, sides="all", order="back-and-forth")


@pytest.mark.parametrize(("azimuth", "word"), [(0, "north"), (22.4, "north"), (22.6, "northeast"), (180, "south"),
                                               (-90, "west"), (359, "north"), (450, "east")])  # fmt: skip
def test_winds(azimuth: float, word: str) -> None:
    assert wind(azimuth) == word


@pytest.mark.parametrize(
    ("word", "length_m"), [("south", 400.0), ("west", 400.0), ("southwest", 800.0), ("northeast", 800.0)]
)
def test_sides_that_face_a_wind_derived(word: str, length_m: float) -> None:
    assert side_facing(SQUARE, word).length == pytest.approx(length_m)


def test_sides_that_face_all_winds_are_the_whole_edge() -> None:
    shape = shapely.MultiPolygon([shapely.Polygon([(0, 0), (300, -40), (420, 200), (100, 350)])])
    sides = shapely.union_all([side_facing(shape, word) for word in ("north", "east", "south", "west")])
    assert sides.length == pytest.approx(shape.exterior.length if hasattr(shape, "exterior") else shape.length)


def test_a_side_of_no_field_is_refused() -> None:
    with pytest.raises(InputError, match="side: got 'up'"):
        side_facing(SQUARE, "up")


def test_edge_by_a_road_derived() -> None:
    road = shapely.LineString([(-100, -10), (500, -10)])
    # 30 m from the road: the south side, and 20 m of each side that meets it.
    assert side_along(SQUARE, road).length == pytest.approx(400 + 2 * 20, abs=0.1)
    with pytest.raises(InputError, match="no nearer to the field than 500 m"):
        side_along(SQUARE, shapely.LineString([(-100, -500), (500, -500)]))


@pytest.mark.parametrize("headland", [0, 2])
def test_every_second_pass_ends_at_the_south(headland: int) -> None:
    plan = plan_on(SQUARE, headland=headland)
    works = [leg for leg in plan.route.legs if leg.is_work]
    places = edge_places(plan.route)
    assert is_at_edge(places, plan.field.shape).all()
    at_south = is_at_line(places, side_facing(plan.field.shape, "south"))
    for leg, is_south in zip(works, at_south.tolist(), strict=True):
        if leg.state == "pass":
            line = leg.points()
            assert is_south == (line[-1, 1] < line[0, 1])


def test_a_pass_that_ends_at_a_pond_does_not_end_at_the_edge() -> None:
    shape = shapely.difference(SQUARE.geoms[0], shapely.box(150, 150, 250, 250))
    plan = plan_on(shape)
    works = [leg for leg in plan.route.legs if leg.is_work]
    for leg, is_edge in zip(works, is_at_edge(edge_places(plan.route), plan.field.shape).tolist(), strict=True):
        x, y = leg.points()[-1].tolist()
        at_pond = 150 < x < 250 and 140 < y < 260
        assert is_edge != at_pond


def test_gaps_begin_and_end_with_what_is_free() -> None:
    plan = plan_on(SQUARE)
    gaps = find_gaps(plan.route)
    assert len(gaps) == len(plan.layout.passes) + 1
    assert gaps[0].start_xy is None
    assert gaps[-1].end_xy is None
    assert sum(gap.seconds for gap in gaps) == pytest.approx(plan.timeline.by_state_s()["turning"])


def test_ways_along_the_ground_are_no_shorter_than_straight_ones() -> None:
    # An L: from the ends in one arm to a stand in the other, straight lines leave the field.
    shape = shapely.Polygon([(0, 0), (400, 0), (400, 100), (100, 100), (100, 400), (0, 400)])
    plan = plan_on(shape)
    gaps = find_gaps(plan.route)
    stands = np.array([[50.0, 400.0], [400.0, 50.0]])
    straight = detours_s(gaps, stands, travel_m_s=2.0)
    along = detours_s(gaps, stands, travel_m_s=2.0, shape=plan.field.shape)
    assert (along >= straight - 1e-9).all()
    assert along.max() > straight.max() + 1


# The best stands -----------------------------------------------------------------------------------------------------


def grain(plan: Plan, loads: float) -> Any:
    bushels = plan.coverage.worked_m2 * 0.04
    return supply_of({"tank": f"{bushels / loads:.1f}bu", "yield": f"{0.04 * 4046.8564224:.4f}bu/ac",
                      "stop_setup": "30s", "stop_flow": "3bu/s"})  # fmt: skip


def test_one_truck_stands_in_the_middle_of_its_side_derived() -> None:
    # Trips from places spread evenly along a side are shortest to its middle.
    plan = plan_on(SQUARE)
    search = best_stands(plan.route, grain(plan, 19), along=side_facing(plan.field.shape, "south"))
    assert search.stands_xy[0, 1] == pytest.approx(0.0, abs=1e-6)
    assert search.stands_xy[0, 0] == pytest.approx(200.0, abs=25.0)
    assert search.saving_s is not None
    assert search.saving_s > 0


@pytest.mark.parametrize("count", [1, 2])
def test_no_place_along_the_side_is_better(count: int) -> None:
    plan = plan_on(shapely.Polygon([(0, 0), (420, 30), (380, 350), (60, 300)]), headland=1)
    supply, side = grain(plan, 15), side_facing(plan.field.shape, "south")
    search = best_stands(plan.route, supply, count=count, along=side)
    rng = np.random.default_rng(3)
    for _ in range(15):
        stands = shapely.get_coordinates(shapely.line_interpolate_point(side.geoms[0], rng.uniform(0, 1, count),
                                                                        normalized=True))  # fmt: skip
        try:
            other = plan_stops(plan.route, supply, StopRules(where="stands", stands_xy=stands))
        except LayoutError:
            continue
        # Within what a few metres of place, some fifteen times, can be.
        assert search.plan.added_s <= other.added_s + 20


def test_two_trucks_waste_less_than_one() -> None:
    plan = plan_on(SQUARE)
    one, two = (
        best_stands(plan.route, grain(plan, 19), count=count, along=side_facing(plan.field.shape, "south"))
        for count in (1, 2)
    )
    assert two.plan.added_s < one.plan.added_s
    # Each about the middle of its half.
    assert sorted(two.stands_xy[:, 0].tolist()) == pytest.approx([100.0, 300.0], abs=40.0)


def test_habit_is_the_entrance_or_the_corner_where_the_work_begins() -> None:
    plan = plan_on(SQUARE)
    begin = plan.route.legs[0].points()[0]
    corner = best_stands(plan.route, grain(plan, 19)).habit_xy
    assert np.hypot(*(corner - begin)) < 10
    gate = np.array([200.0, 0.0])
    search = best_stands(plan.route, grain(plan, 19), entrance_xy=gate)
    assert search.habit_xy == pytest.approx(gate)
    assert search.habit_plan is not None
    assert search.habit_plan.stops[0].xy == pytest.approx((200.0, 0.0))


def test_stands_for_passes_longer_than_a_tank_lasts_can_be_searched_for() -> None:
    plan = plan_on(SQUARE)
    search = best_stands(plan.route, grain(plan, 60))
    assert search.plan.cautions
    assert len(search.plan.stops) >= 60


@pytest.mark.parametrize("count", [0, 3])
def test_other_numbers_of_stands_are_refused(count: int) -> None:
    plan = plan_on(SQUARE)
    with pytest.raises(InputError, match="stands: got"):
        best_stands(plan.route, grain(plan, 10), count=count)


def test_winds_are_eight() -> None:
    assert len(set(WINDS)) == 8


def test_rounds_about_a_pond_may_be_unloaded_beside_it_and_it_is_told() -> None:
    # Two rounds about the pond end at the pond only; a tank of one and a half of them must stop there.
    shape = shapely.difference(SQUARE.geoms[0], shapely.Point(200, 200).buffer(60))
    plan = plan_on(shape, headland=2)
    supply = supply_of({"tank": "15bu", "yield": "10bu/ac"})
    stops = plan_stops(plan.route, supply, StopRules())
    assert any("by a hole" in caution for caution in stops.cautions)
    inside = [
        stop for stop in stops.stops if np.hypot(stop.xy[0] - 200, stop.xy[1] - 200) < 90 and stop.along_m is None
    ]
    assert inside
    # Where the tank lasts to the edge, none is, but for the last load: the work ends there.
    large = plan_stops(plan.route, supply_of({"tank": "60bu", "yield": "10bu/ac"}), StopRules())
    assert len(large.cautions) == 1
    assert "the last load" in large.cautions[0]


def test_only_what_must_be_is_opened_to_far_ends() -> None:
    # Passes of a triangle: the long ones take more than half a tank, the short ones do not.
    plan = plan_on(shapely.Polygon([(0, 0), (400, 0), (0, 600)]))
    supply = supply_of({"tank": "1.6bu", "rate": "1bu/ac"})
    stops = plan_stops(plan.route, supply, StopRules(where="stands", stands_xy=np.array([[200.0, -10.0]])))
    ends = {(stop.after.end, stops.used_by_work[stop.work] > 0.8) for stop in stops.stops if stop.after}
    assert ("north", True) in ends
    assert ("north", False) not in ends
