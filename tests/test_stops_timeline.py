"""The time line with stops and adjusting, and as a table: every second its state and place, no second lost."""

import csv
import io
from pathlib import Path

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapes import outlines

from fieldgeo.analysis.lay import lay
from fieldgeo.analysis.plan import Plan
from fieldgeo.errors import FileError, InputError
from fieldgeo.export.timeline import COLUMNS, write_timeline
from fieldgeo.machinery.supply import Supply
from fieldgeo.machinery.tool import Tool
from fieldgeo.outline.field import field_from_shape
from fieldgeo.travel.stop_rules import StopRules
from fieldgeo.travel.stops import plan_stops
from fieldgeo.travel.table import timeline_table
from fieldgeo.travel.timeline import NO_ADJUSTING, TIME_STATES, Adjusting, Timeline, time_route

BOX = shapely.box(0, 0, 120, 80)


def plan_on(shape: shapely.Geometry, *, headland: int = 0, **tool: float) -> Plan:
    made = Tool(**{"name": "t", "width_m": 10.0, "turn_radius_m": 6.0, "speed_m_s": 2.0, "turn_speed_m_s": 1.0} | tool)
    return lay(field_from_shape(shape), made, direction_deg=90.0, headland=headland, sides="all")


def unloaded(plan: Plan, loads: float = 4.0, *, stand: bool = False, adjusting: Adjusting = NO_ADJUSTING) -> Timeline:
    supply = Supply(job="unload", kind="bu", capacity=plan.field.area_m2 / loads, rate_m2=1.0, setup_s=30.0)
    low_x, low_y, _, _ = plan.field.shape.bounds
    rules = StopRules(where="stands", stands_xy=np.array([[low_x, low_y - 30.0]])) if stand else StopRules()
    return time_route(plan_stops(plan.route, supply, rules).route, adjusting=adjusting)


def test_adjusting_by_the_hour_of_work_derived() -> None:
    # 8 passes of 60 s at 3 min an hour: 24 s.
    plan = plan_on(BOX)
    line = time_route(plan.route, adjusting=Adjusting(per_work=0.05))
    assert line.by_state_s()["adjusting"] == pytest.approx(24.0)
    assert line.field_time_s == pytest.approx(plan.field_time_s + 24.0)


def test_adjusting_by_the_area_swept_derived() -> None:
    # 9600 m2 at 0.01 s/m2, rounds and passes alike.
    plan = plan_on(BOX, headland=1)
    line = time_route(plan.route, adjusting=Adjusting(per_area_s_m2=0.01))
    assert line.by_state_s()["adjusting"] == pytest.approx(0.01 * plan.layout.swept_m2)


def test_adjusting_of_a_pass_in_stretches_is_that_of_the_whole() -> None:
    plan = plan_on(BOX)
    adjusting = Adjusting(per_work=0.1, per_area_s_m2=0.02)
    line = unloaded(plan, loads=13.0, adjusting=adjusting)
    assert sum(state == "passes" for state in line.state) > len(plan.layout.passes)
    assert line.by_state_s()["adjusting"] == pytest.approx(0.1 * 8 * 60 + 0.02 * 9600)


@pytest.mark.parametrize("values", [{"per_work": -0.1}, {"per_area_s_m2": float("inf")}])
def test_allowances_that_cannot_be_are_refused(values: dict[str, float]) -> None:
    with pytest.raises(InputError, match="adjusting: per_"):
        Adjusting(**values)


def test_tool_is_raised_before_a_stop_and_lowered_after_it_derived() -> None:
    # Eight passes, each in two stretches or one: raised and lowered at every stop on a pass too.
    plan = plan_on(BOX, raise_s=2.0, lower_s=3.0)
    line = unloaded(plan, loads=13.0)
    stretches = sum(state == "passes" for state in line.state)
    assert line.by_state_s()["lifting"] == pytest.approx(5.0 * stretches)


@given(shape=outlines(), headland=st.integers(0, 2), loads=st.floats(2, 30), stand=st.booleans())
@settings(max_examples=12)
def test_every_second_has_a_place_and_a_state(
    shape: shapely.MultiPolygon, headland: int, loads: float, stand: bool
) -> None:
    plan = plan_on(shape, headland=headland, raise_s=2.0, lower_s=3.0)
    if plan.field_time_s == 0:
        return
    try:
        line = unloaded(plan, loads, stand=stand, adjusting=Adjusting(per_work=0.02))
    except InputError:
        return  # passes parted by a pond, of which the tank does not hold all
    assert line.field_time_s == pytest.approx(sum(line.by_state_s().values()), rel=1e-12)
    assert (line.duration_s > 0).all()
    table = timeline_table(line, 1.0)
    assert table.time_s[-1] == pytest.approx(line.field_time_s)
    assert set(table.state.tolist()) <= set(TIME_STATES)
    # No jump: from one second to the next no more than is driven at 2 m/s, and standing still where one stands.
    steps = np.hypot(np.diff(table.x_m), np.diff(table.y_m))
    assert steps.max() <= 2.0 + 1e-2
    assert (np.diff(table.driven_m) >= steps - 1e-2).all()
    still = np.isin(table.state, ["filling", "unloading", "lifting", "adjusting"])
    both = still[:-1] & still[1:] & (np.diff(table.time_s) == 1.0) & (table.state[:-1] == table.state[1:])
    assert steps[both & (np.diff(table.driven_m) == 0)].max(initial=0.0) < 1e-9
    for row in range(0, len(table.time_s) - 1, max(1, len(table.time_s) // 40)):
        x, y, state = line.place_at(float(table.time_s[row]))
        assert (table.x_m[row], table.y_m[row]) == pytest.approx((x, y), abs=1e-6)
        assert table.state[row] == state


def test_table_of_a_rectangle_derived() -> None:
    # 8 passes of 60 s at 2 m/s; the first from x = 0 or 120. After 10 s 20 m on, in pass 1.
    table = timeline_table(plan_on(BOX).timeline, 10.0)
    assert table.driven_m[1] == pytest.approx(20.0)
    assert abs(table.x_m[1] - table.x_m[0]) == pytest.approx(20.0)
    assert table.pass_number[0] == table.pass_number[5] == 1
    assert table.pass_number[-2] == 8
    assert {int(number) for number in table.pass_number[table.state == "turning"]} == {0}
    field = field_from_shape(BOX)
    lon, lat = field.frame.to_lonlat(table.x_m[1], table.y_m[1])
    assert (table.lon[1], table.lat[1]) == pytest.approx((float(lon), float(lat)))


def test_table_follows_a_turn_with_reverse() -> None:
    # A mounted tool in a narrow headland backs up; there it stands for the shift, and is slower backward.
    plan = plan_on(shapely.box(0, 0, 120, 80), headland=1, width_m=6.0, shift_s=4.0, reverse_speed_m_s=0.5)
    assert "fishtail" in plan.route.turns_by_kind()
    table = timeline_table(plan.timeline, 0.7)
    for row in range(0, len(table.time_s), 9):
        x, y, state = plan.timeline.place_at(float(table.time_s[row]))
        assert (table.x_m[row], table.y_m[row]) == pytest.approx((x, y), abs=1e-6)
        assert table.state[row] == state


def test_distance_driven_is_that_of_the_route() -> None:
    plan = plan_on(BOX, headland=1, raise_s=1.0)
    table = timeline_table(plan.timeline, 5.0)
    # Turns are drawn with chords, which are a little shorter.
    assert table.driven_m[-1] == pytest.approx(plan.route.length_m("pass", "headland", "turn", "travel"), rel=1e-3)


def test_a_long_day_at_a_second_is_a_row_a_second() -> None:
    line = plan_on(shapely.box(0, 0, 800, 350)).timeline
    table = timeline_table(line)
    assert len(table.time_s) == int(line.field_time_s) + 2
    assert np.diff(table.time_s)[:-1] == pytest.approx(1.0)


@pytest.mark.parametrize("step", [0.0, -1.0, float("nan"), float("inf"), 1e-9])
def test_steps_that_cannot_be_are_refused(step: float) -> None:
    with pytest.raises(InputError, match="step: got"):
        timeline_table(plan_on(BOX).timeline, step)


def test_empty_time_line_is_an_empty_table() -> None:
    plan = plan_on(BOX)
    none = np.empty(0)
    empty = Timeline(route=plan.route, state=(), start_s=none, duration_s=none, leg=())
    assert len(timeline_table(empty).time_s) == 0


def test_table_is_written_whole_and_reads_back(tmp_path: Path) -> None:
    plan, path = plan_on(BOX), tmp_path / "line.csv"
    count = write_timeline(plan.timeline, path, step_s=2.0)
    rows = list(csv.DictReader(io.StringIO(path.read_text(encoding="utf-8"))))
    assert tuple(rows[0]) == tuple(COLUMNS)
    table = timeline_table(plan.timeline, 2.0)
    assert len(rows) == count == len(table.time_s)
    assert [float(row["x_m"]) for row in rows] == pytest.approx(table.x_m.tolist(), abs=0.006)
    assert [row["state"] for row in rows] == table.state.tolist()
    assert [int(row["pass"]) for row in rows] == table.pass_number.tolist()
    with pytest.raises(FileError):
        write_timeline(plan.timeline, path)
    assert write_timeline(plan.timeline, path, step_s=20.0, force=True) < count
