"""The time line: its sum, its states, and a place for every second."""

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapes import outlines

from fieldgeo.analysis.lay import lay
from fieldgeo.analysis.plan import Plan
from fieldgeo.machinery.tool import Tool
from fieldgeo.machinery.turning import turn_length_m
from fieldgeo.outline.field import field_from_shape
from fieldgeo.travel.timeline import TIME_STATES


def plan_on(
    shape: shapely.Geometry, *, headland: int = 0, entrance_xy: np.ndarray | None = None, **tool: float
) -> Plan:
    values = {"name": "t", "width_m": 10.0, "turn_radius_m": 6.0, "speed_m_s": 2.0, "turn_speed_m_s": 1.0}
    made = Tool(**values | {"hitch": "pulled"} | tool)
    field = field_from_shape(shape)
    return lay(
        field, made, direction_deg=90.0, headland=headland, sides="all", entrance_xy=entrance_xy, order="back-and-forth"
    )


def test_rectangle_derived_d_rect1() -> None:
    # D-RECT1: 800 x 402.336 m, 12.192 m tool, radius 6.096 m, 2.2352 and 1.5 m/s, straight through (no headland):
    # 33 passes, 26,400 m, 32 turns of 19.151149 m, 12,219.5815 s.
    plan = plan_on(
        shapely.box(0, 0, 800, 402.336), width_m=12.192, turn_radius_m=6.096, speed_m_s=2.2352, turn_speed_m_s=1.5
    )
    assert len(plan.layout.passes) == 33
    assert plan.route.length_m("pass") == pytest.approx(26400.0, abs=1e-3)
    assert [turn.length_m for turn in plan.route.turns()] == pytest.approx([19.151149] * 32, abs=1e-5)
    assert plan.route.turns_by_kind() == {"half-circle": 32}
    assert plan.field_time_s == pytest.approx(12219.5815, abs=1e-3)


def test_states_of_a_rectangle_derived() -> None:
    # 8 passes of 120 m at 2 m/s, 7 loops at 1 m/s, each pass lowered in 3 s and raised in 2 s.
    plan = plan_on(shapely.box(0, 0, 120, 80), raise_s=2.0, lower_s=3.0)
    states = plan.timeline.by_state_s()
    assert tuple(states) == TIME_STATES
    assert states["passes"] == pytest.approx(8 * 60.0)
    assert states["turning"] == pytest.approx(7 * turn_length_m(10.0, 6.0))
    assert states["lifting"] == pytest.approx(8 * 3.0 + 8 * 2.0)
    assert states["travel"] == states["headland_rounds"] == 0.0


def test_pull_out_is_driven_twice_a_turn_derived() -> None:
    plain, pulled = plan_on(shapely.box(0, 0, 120, 80)), plan_on(shapely.box(0, 0, 120, 80), pull_out_m=5.0)
    assert pulled.field_time_s - plain.field_time_s == pytest.approx(7 * 2 * 5.0)


def test_travel_is_driven_at_the_greater_speed_derived() -> None:
    # From a gate 40 m west of the corner of the first pass and back: eight passes end where they began, in the west.
    gate = np.array([-40.0, 5.0])
    plan = plan_on(shapely.box(0, 0, 120, 80), entrance_xy=gate)
    there = 40.0 / 2.0
    back = np.hypot(40.0, 70.0) / 2.0
    assert plan.timeline.by_state_s()["travel"] == pytest.approx(there + back)


def test_half_mile_turning_only_efficiency_derived_sh07_sh08() -> None:
    # SH07 and SH08: E = L / (L + v t) for rows of 2640 and 1320 ft at 5 mph with 20 s a turn: 94.737 and 90.0 %. Ours
    # turns once less than it passes, so at n passes E = n L / (n L + (n - 1) v t); with n = 400 within 1 in 4,000.
    foot, speed = 0.3048, 2.2352
    for length_ft, expected in ((2640, 0.94737), (1320, 0.90)):
        turn_speed = turn_length_m(10.0, 6.0) / 20.0
        plan = plan_on(shapely.box(0, 0, length_ft * foot, 4000.0), speed_m_s=speed, turn_speed_m_s=turn_speed)
        assert len(plan.layout.passes) == 400
        assert plan.field_efficiency == pytest.approx(expected, abs=3e-4)


@given(
    shape=outlines(),
    headland=st.integers(0, 2),
    lift=st.sampled_from([0.0, 2.0]),
    hitch=st.sampled_from(["mounted", "pulled"]),
)
def test_time_line_of_any_outline(shape: shapely.MultiPolygon, headland: int, lift: float, hitch: str) -> None:
    plan = plan_on(shape, headland=headland, raise_s=lift, lower_s=lift, hitch=hitch, reverse_speed_m_s=0.5)
    line, tool = plan.timeline, plan.tool
    assert line.field_time_s == pytest.approx(sum(line.by_state_s().values()), rel=1e-12)
    assert set(line.state) <= set(TIME_STATES)
    assert (line.duration_s > 0).all()
    # No second is lost or told twice: each entry begins where the one before it ends.
    assert line.start_s[1:] == pytest.approx((line.start_s + line.duration_s)[:-1], rel=1e-12)
    lengths = {state: plan.route.length_m(state) for state in ("pass", "headland", "turn", "travel")}
    states = line.by_state_s()
    assert states["passes"] == pytest.approx(lengths["pass"] / tool.speed_m_s)
    assert states["headland_rounds"] == pytest.approx(lengths["headland"] / tool.speed_m_s)
    reverse_m, cusps = (sum(getattr(turn, key) for turn in plan.route.turns()) for key in ("reverse_m", "cusps"))
    forward_s = (lengths["turn"] - reverse_m) / tool.turn_speed_m_s
    assert states["turning"] == pytest.approx(forward_s + reverse_m / 0.5 + cusps * tool.shift_s)
    assert states["travel"] == pytest.approx(lengths["travel"] / max(tool.speed_m_s, tool.turn_speed_m_s))


@given(shape=outlines(), share=st.floats(-0.1, 1.1), hitch=st.sampled_from(["mounted", "pulled"]))
def test_every_second_has_its_place(shape: shapely.MultiPolygon, share: float, hitch: str) -> None:
    plan = plan_on(shape, headland=1, raise_s=2.0, lower_s=2.0, hitch=hitch)
    x, y, state = plan.timeline.place_at(share * plan.field_time_s)
    assert state in TIME_STATES
    low_x, low_y, high_x, high_y = plan.field.shape.bounds
    assert low_x - 50 <= x <= high_x + 50
    assert low_y - 50 <= y <= high_y + 50
    # A tenth of a second on, at no more than 2 m/s, it is no further than 0.2 m on.
    later = plan.timeline.place_at(share * plan.field_time_s + 0.1)
    assert np.hypot(later[0] - x, later[1] - y) <= 0.2 + 1e-3


def test_place_of_a_moment_derived() -> None:
    # First pass from (0, 5), 3 s to lower, then east at 2 m/s: after 3 + 10 s at x = 20.
    plan = plan_on(shapely.box(0, 0, 120, 80), lower_s=3.0)
    start = plan.timeline.place_at(1.0)
    assert start[2] == "lifting"
    x, y, state = plan.timeline.place_at(13.0)
    assert state == "passes"
    assert abs(x - start[0]) == pytest.approx(20.0)
    assert y == pytest.approx(start[1])


def test_tool_is_raised_where_the_last_pass_ends_derived() -> None:
    plan = plan_on(shapely.box(0, 0, 120, 80), raise_s=2.0)
    x, y, state = plan.timeline.place_at(plan.field_time_s - 1.0)
    assert state == "lifting"
    assert (x, y) == pytest.approx(tuple(plan.route.legs[-1].points()[-1]))


def test_tool_stands_while_it_is_shifted_derived() -> None:
    # The first turn is backed: after its first arc, of (6 pi - reverse) / 2 at 1 m/s, the tool stands for 4 s.
    plan = plan_on(shapely.box(0, 0, 120, 60), hitch="mounted", width_m=6.0)
    turn = plan.route.turns()[0]
    assert turn.kind == "fishtail"
    at = 120.0 / 2.0 + (turn.length_m - turn.reverse_m) / 2
    first, last, later = (plan.timeline.place_at(at + seconds) for seconds in (0.01, 3.99, 4.5))
    assert first[2] == "turning"
    assert first[:2] == pytest.approx(last[:2])
    assert np.hypot(later[0] - last[0], later[1] - last[1]) == pytest.approx(0.5, abs=0.01)  # reverse at 1 m/s
