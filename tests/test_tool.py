"""The tool: its widths and what it refuses."""

from math import inf
from typing import Any

import pytest

from fieldgeo.errors import InputError
from fieldgeo.machinery import Tool, row_width_m, theoretical_capacity_m2_s
from fieldgeo.units import FOOT_M, INCH_M


def planter(**changes: Any) -> Tool:
    values: dict[str, Any] = {"name": "planter", "width_m": 12.192, "rows": 16, "row_spacing_m": 0.762}
    return Tool(**(values | changes))


@pytest.mark.parametrize(("rows", "spacing_in", "width_ft"), [(16, 30, 40), (8, 30, 20), (6, 30, 15), (23, 15, 28.75)])
def test_common_practice_no_source_width_of_row_tools(rows: int, spacing_in: float, width_ft: float) -> None:
    assert row_width_m(rows, spacing_in * INCH_M) == pytest.approx(width_ft * FOOT_M, rel=1e-12)


@pytest.mark.parametrize(("rows", "spacing"), [(0, 0.762), (-1, 0.762), (8, 0.0), (8, -0.1), (8, float("nan"))])
def test_rows_that_cannot_be_are_refused(rows: int, spacing: float) -> None:
    with pytest.raises(InputError, match="Rows must be 1 or more"):
        row_width_m(rows, spacing)


def test_derived_pitch_and_capacity() -> None:
    tool = planter(lap_m=0.192, speed_m_s=2.5)
    assert tool.pitch_m == pytest.approx(12.0, rel=1e-12)  # 12.192 - 0.192
    assert tool.theoretical_m2_s == pytest.approx(30.48, rel=1e-12)  # 12.192 x 2.5
    assert tool.theoretical_m2_s == theoretical_capacity_m2_s(width_m=tool.width_m, speed_m_s=tool.speed_m_s)


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"width_m": 0.0}, "width_m is 0. It must be above zero"),
        ({"width_m": -3.0}, "width_m is -3"),
        ({"width_m": float("nan")}, "must be a finite number"),
        ({"speed_m_s": 0.0}, "speed_m_s is 0"),
        ({"turn_speed_m_s": -1.0}, "turn_speed_m_s is -1"),
        ({"turn_radius_m": 0.0}, "turn_radius_m is 0"),
        ({"turn_radius_m": float("inf")}, "must be a finite number"),
        ({"pull_out_m": -0.1}, "pull_out_m is -0.1. It must not be below zero"),
        ({"raise_s": -1.0}, "raise_s is -1"),
        ({"lower_s": -1.0}, "lower_s is -1"),
        ({"turn_radius_left_m": 0.0}, "turn_radius_left_m is 0. It must be above zero"),
        ({"turn_radius_right_m": -1.0}, "turn_radius_right_m is -1"),
        ({"turn_radius_left_m": float("nan")}, "must be a finite number"),
        ({"reverse_m": -1.0}, "reverse_m is -1. It must not be below zero"),
        ({"reverse_m": float("inf")}, "must be a finite number"),
        ({"reverse_speed_m_s": 0.0}, "reverse_speed_m_s is 0. It must be above zero"),
        ({"shift_s": -1.0}, "shift_s is -1"),
        ({"tail_m": -1.0}, "tail_m is -1"),
        ({"wheel_track_m": 0.0}, "wheel_track_m is 0"),
        ({"tire_m": 0.4}, "less than the wheel track, given beside it"),
        ({"tire_m": 3.1, "wheel_track_m": 3.0}, "tire_m is 3.1"),
        ({"lap_m": 6.096}, "less than half the width"),
        ({"lap_m": -0.1}, "lap_m is -0.1"),
        ({"sections": 0}, "sections is 0. It must be 1 or more"),
        ({"hitch": "towed"}, "must be one of mounted, pulled, self-propelled"),
        ({"rows": None}, "rows and row_spacing_m go together"),
        ({"row_spacing_m": None}, "Give both or neither"),
        ({"rows": 0}, "Rows must be 1 or more"),
        ({"rows": 15}, "15 rows at 0.762 m work 11.43 m"),
    ],
)
def test_values_out_of_range_are_refused(changes: dict[str, Any], message: str) -> None:
    with pytest.raises(InputError, match=message):
        planter(**changes)


def test_a_tool_of_plain_width_needs_no_rows() -> None:
    tool = Tool(name="harrow", width_m=9.144)
    assert (tool.rows, tool.row_spacing_m, tool.sections, tool.pitch_m) == (None, None, 1, 9.144)


def test_radius_of_a_side_is_the_one_for_both_unless_given() -> None:
    assert (planter().left_radius_m, planter().right_radius_m) == (6.0, 6.0)
    one_sided = planter(turn_radius_m=7.0, turn_radius_left_m=8.33)
    assert (one_sided.left_radius_m, one_sided.right_radius_m) == (8.33, 7.0)


@pytest.mark.parametrize(
    ("hitch", "given", "limit"),
    [
        ("mounted", None, inf), ("self-propelled", None, inf), ("pulled", None, 0.0),
        ("pulled", 6.0, 6.0), ("mounted", 0.0, 0.0),
    ],
)  # fmt: skip
def test_common_practice_no_source_a_pulled_tool_is_not_backed_unless_told(
    hitch: str, given: float | None, limit: float
) -> None:
    tool = planter(hitch=hitch, reverse_m=given)
    assert tool.reverse_limit_m == limit
    assert tool.can_reverse == (limit > 0)
