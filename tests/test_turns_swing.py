"""Swing of a tool beyond its path, its run back into line, and the headland depth that follows from the turn."""

from math import asin, exp, hypot, pi, sin, sqrt, tan

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from fieldgeo.errors import InputError
from fieldgeo.machinery.tool import Tool
from fieldgeo.machinery.turning import corner_swing_m, headland_depth_m
from fieldgeo.travel.swing import depth_on_slant_m, reach_beyond_m, run_into_line_m, swing_m
from fieldgeo.travel.turns import Turn, join_poses


def turn_of(tool: Tool, x: float, y: float = 0.0) -> Turn:
    ends = np.zeros((1, 2)), np.array([pi / 2]), np.array([[x, y]]), np.array([-pi / 2])
    return join_poses(*ends, tool=tool)[0]


def test_mounted_tool_without_tail_swings_half_its_width_derived() -> None:
    tool = Tool(name="t", width_m=14.0, turn_radius_m=6.0)
    assert swing_m(turn_of(tool, 14.0), tool) == pytest.approx(7.0, abs=1e-3)
    assert run_into_line_m(turn_of(tool, 14.0), tool) == 0.0


def test_tail_of_a_mounted_tool_swings_out_derived() -> None:
    # The rear corner runs on a circle of sqrt((r + w/2)^2 + tail^2) = sqrt(13^2 + 3^2).
    tool = Tool(name="t", width_m=14.0, turn_radius_m=6.0, tail_m=3.0)
    assert swing_m(turn_of(tool, 14.0), tool) == pytest.approx(hypot(13, 3) - 6, abs=1e-3)
    assert corner_swing_m(tool, 6.0) == pytest.approx(hypot(13, 3) - 6)


def test_run_into_line_is_that_of_the_tractrix_derived() -> None:
    # After half a circle from a standing start in line, the angle between tool and pull from the equation of the
    # tractrix solved by numbers: da/ds = 1/r - sin(a)/l. Then tan(a/2) dies away as exp(-s/l).
    radius, length = 8.0, 4.0
    tool = Tool(name="t", width_m=16.0, turn_radius_m=radius, hitch="pulled", pull_out_m=length)
    angle = solve_ivp(
        lambda _, a: [1 / radius - sin(a[0]) / length], (0.0, pi * radius), [0.0], rtol=1e-10, atol=1e-12
    ).y[0, -1]
    run = run_into_line_m(turn_of(tool, 16.0), tool, within_m=0.1)
    left = 2 * np.arctan(tan(angle / 2) * exp(-run / length))
    assert length * sin(left) == pytest.approx(0.1, rel=1e-3)
    assert run_into_line_m(turn_of(tool, 16.0), tool, within_m=5.0) == 0.0


def test_pulled_tool_swings_out_where_the_steering_changes_sides() -> None:
    # In the loop the tool still hangs to one side when the tractor bends to the other.
    tool = Tool(name="t", width_m=9.0, turn_radius_m=7.0, hitch="pulled", pull_out_m=5.0)
    assert swing_m(turn_of(tool, 9.0), tool) > 4.5 + 1.0
    straight = Tool(name="t", width_m=14.0, turn_radius_m=7.0, hitch="pulled", pull_out_m=5.0)
    assert swing_m(turn_of(straight, 14.0), straight) == pytest.approx(7.0, abs=0.05)


@given(
    width=st.floats(3, 18), radius=st.floats(4, 9), pull_out=st.floats(0, 6), tail=st.floats(0, 4),
    hitch=st.sampled_from(["mounted", "pulled"]),
)  # fmt: skip
def test_headland_depth_holds_the_whole_tool(
    width: float, radius: float, pull_out: float, tail: float, hitch: str
) -> None:
    tool = Tool(
        name="t", width_m=width, turn_radius_m=radius, pull_out_m=pull_out, tail_m=tail, hitch=hitch
    )  # fmt: skip
    for side in (1, -1):
        assert reach_beyond_m(turn_of(tool, side * width), tool) <= headland_depth_m(tool) + 0.05
    assert depth_on_slant_m(tool, 90.0) == pytest.approx(headland_depth_m(tool), abs=0.02)


@pytest.mark.parametrize("slant_deg", [30.0, 45.0, 60.0, 80.0])
def test_depth_on_a_slant_of_a_flat_turn_derived(slant_deg: float) -> None:
    # Circles beside the ends lie r cos(g) before and behind the edge line; the outer one is driven past its summit:
    # r (1 + cos g) deep, and half the width beyond.
    tool = Tool(name="t", width_m=18.0, turn_radius_m=6.0)
    expected = 6 * (1 + np.cos(np.radians(slant_deg))) + 9.0
    assert depth_on_slant_m(tool, slant_deg) == pytest.approx(expected, abs=1e-3)


def test_strip_that_turns_need_published_forestry_machine_course_ukraine() -> None:
    # HW08: E = 1.1 R + 0.5 B + e = 12.61 m without a loop, 2.8 R + 0.5 B + e = 16.86 m with one; R 2.5, B 2.33, e 8.69.
    # 1.1 R and 2.8 R round R and (1 + sqrt 3) R up, so that ours lie below, by no more than the rounding.
    near = Tool(name="t", width_m=2.33, turn_radius_m=2.5, hitch="pulled", pull_out_m=8.69)
    flat = turn_of(near, 5.0).depth_m + corner_swing_m(near, 2.5)
    loop = turn_of(near, 0.0).depth_m + corner_swing_m(near, 2.5)
    assert flat == pytest.approx(12.61 - 0.1 * 2.5, abs=0.01)
    assert loop == pytest.approx(16.86 - (2.8 - 1 - sqrt(3)) * 2.5, abs=0.01)


@pytest.mark.parametrize("slant", [0.0, -10.0, 90.1, float("nan")])
def test_slant_out_of_range_is_refused(slant: float) -> None:
    with pytest.raises(InputError, match=r"slant: got .* degrees"):
        depth_on_slant_m(Tool(name="t", width_m=9.0), slant)


def test_line_without_a_width_is_refused() -> None:
    tool = Tool(name="t", width_m=9.0, hitch="pulled", pull_out_m=4.0)
    with pytest.raises(InputError, match="within: got 0 m"):
        run_into_line_m(turn_of(tool, 9.0), tool, within_m=0.0)


def test_backed_angle_in_line_derived() -> None:
    # A mounted tool points where the tractor points: nothing to wait for, backed or not.
    tool = Tool(name="t", width_m=6.0, turn_radius_m=6.0)
    turn = turn_of(tool, 6.0)
    assert turn.kind == "fishtail"
    assert run_into_line_m(turn, tool) == 0.0
    assert reach_beyond_m(turn, tool) <= 6 * np.cos(asin(0.25)) + 3.0 + 1e-3
