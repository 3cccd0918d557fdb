"""The route: every pass and run once, everything joined, no bend tighter than the tool can steer."""

from dataclasses import replace
from itertools import pairwise
from math import pi
from pathlib import Path

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapes import outlines

from fieldgeo.analysis.lay import lay
from fieldgeo.layout.strips import Finish
from fieldgeo.machinery.tool import Tool
from fieldgeo.machinery.turning import turn_length_m
from fieldgeo.outline.field import field_from_shape
from fieldgeo.outline.read import read_outline
from fieldgeo.travel.blocks import find_blocks
from fieldgeo.travel.drive import drive_way
from fieldgeo.travel.route import STATES, Route, plan_route
from fieldgeo.travel.works import run_turns

TOOL = Tool(name="t", width_m=10.0, turn_radius_m=6.0)
FINISHES: tuple[Finish, ...] = ("cover", "clean", "half")


def route_on(shape: shapely.Geometry, tool: Tool = TOOL, **choices: object) -> Route:
    wanted = {"direction_deg": 90.0, "headland": 0, "sides": "all", "order": "back-and-forth"} | choices
    return lay(field_from_shape(shape), tool, **wanted).route


def bends(line: np.ndarray) -> np.ndarray:
    """Return the radius of the circle through every three points that follow each other."""
    a, b, c = line[:-2], line[1:-1], line[2:]
    sides = [np.hypot(*(q - p).T) for p, q in ((a, b), (b, c), (a, c))]
    twice = np.abs(np.cross(np.pad(b - a, ((0, 0), (0, 1))), np.pad(c - b, ((0, 0), (0, 1))))[:, 2])
    with np.errstate(divide="ignore"):
        return sides[0] * sides[1] * sides[2] / (2 * twice)


def bends_between_cusps(line: np.ndarray) -> np.ndarray:
    """Return the bends of a line that turns back on itself at cusps, these left out."""
    steps = np.diff(line, axis=0)
    cusps = np.flatnonzero((steps[:-1] * steps[1:]).sum(axis=1) < 0) + 1
    stretches = np.split(line, cusps)
    joined = [np.vstack([stretch, after[:1]]) for stretch, after in pairwise(stretches)]
    return np.concatenate([bends(stretch) for stretch in (*joined, stretches[-1]) if len(stretch) > 2] or [np.empty(0)])


def test_rectangle_back_and_forth_derived() -> None:
    # 120 x 80 m, 10 m tool, straight through: 8 passes and 7 turns of 120 m spacing 10, radius 6: loops.
    route = route_on(shapely.box(0, 0, 120, 80))
    assert [leg.state for leg in route.legs] == ["pass", "turn"] * 7 + ["pass"]
    assert route.length_m("pass") == pytest.approx(8 * 120.0)
    assert route.length_m("turn") == pytest.approx(7 * turn_length_m(10.0, 6.0))
    assert route.turns_by_kind() == {"loop": 7}
    assert sorted(leg.number for leg in route.legs if leg.state == "pass") == list(range(8))


@pytest.mark.parametrize(
    ("width", "radius", "kind"), [(12.0, 6.0, "half-circle"), (16.0, 6.0, "flat"), (10.0, 6.0, "loop")]
)
def test_kind_of_turn_follows_width_and_radius_derived(width: float, radius: float, kind: str) -> None:
    tool = Tool(name="t", width_m=width, turn_radius_m=radius)
    route = route_on(shapely.box(0, 0, 200, 6 * width), tool)
    assert route.turns_by_kind() == {kind: 5}


def test_two_rounds_and_passes_derived() -> None:
    # Two rounds of four sides: three corners a round and a turn onto the next round.
    route = route_on(shapely.box(0, 0, 300, 200), headland=2)
    states = [leg.state for leg in route.legs]
    assert states.count("headland") == 8
    assert states.count("pass") == 16
    assert route.turns_by_kind()["corner"] == 6
    assert len(route.turns()) == 7 + 15


def test_pond_parts_the_passes_into_blocks_derived() -> None:
    # A pond 40 x 20 across two of eight strips: below it, left of it, right of it, above it.
    pond = shapely.box(40, 30, 80, 50)
    route = route_on(shapely.difference(shapely.box(0, 0, 120, 80), pond))
    passes = route.layout.passes
    assert len(passes) == 10
    assert sorted(len(block) for block in find_blocks(passes)) == [2, 2, 3, 3]
    # Between blocks the tool is driven with the tool up, round the pond.
    for leg in route.legs:
        if leg.state == "travel":
            assert shapely.LineString(leg.points()).intersection(pond.buffer(-1e-6)).length == pytest.approx(
                0, abs=1e-6
            )


def test_entrance_is_where_it_begins_and_ends() -> None:
    gate = np.array([0.0, -5.0])
    route = route_on(shapely.box(0, 0, 120, 80), entrance_xy=gate)
    assert route.legs[0].points()[0] == pytest.approx(gate)
    assert route.legs[-1].points()[-1] == pytest.approx(gate)
    assert route.legs[0].state == route.legs[-1].state == "travel"


def test_way_across_open_ground_is_straight_derived() -> None:
    shape = shapely.MultiPolygon([shapely.box(0, 0, 100, 100)])
    way = drive_way(shape, np.array([10.0, 10.0]), np.array([70.0, 90.0]))
    assert way.tolist() == [[10, 10], [70, 90]]


def test_way_round_a_pond_takes_the_shorter_side_derived() -> None:
    # Pond 20 x 20 in the middle; straight across at y = 45, 5 m above its lower edge: down 5, along 20, up 5.
    shape = shapely.difference(shapely.box(0, 0, 100, 100), shapely.box(40, 40, 60, 60))
    way = drive_way(shapely.MultiPolygon([shape]), np.array([0.0, 45.0]), np.array([100.0, 45.0]))
    assert np.hypot(*np.diff(way, axis=0).T).sum() == pytest.approx(40 + 5 + 20 + 5 + 40)
    back = drive_way(shapely.MultiPolygon([shape]), np.array([100.0, 45.0]), np.array([0.0, 45.0]))
    assert back.tolist() == way[::-1].tolist()


def test_way_between_parts_goes_straight_derived() -> None:
    shape = shapely.MultiPolygon([shapely.box(0, 0, 10, 10), shapely.box(20, 0, 30, 10)])
    way = drive_way(shape, np.array([5.0, 5.0]), np.array([25.0, 5.0]))
    assert np.hypot(*np.diff(way, axis=0).T).sum() == pytest.approx(20.0)


def test_nowhere_to_go() -> None:
    shape = shapely.MultiPolygon([shapely.box(0, 0, 10, 10)])
    assert np.hypot(*np.diff(drive_way(shape, np.array([5.0, 5.0]), np.array([5.0, 5.0])), axis=0).T).sum() == 0.0


@settings(max_examples=40)
@given(
    shape=outlines(),
    direction_deg=st.floats(0, 180),
    headland=st.integers(0, 2),
    sides=st.sampled_from(["ends", "all"]),
    finish=st.sampled_from(FINISHES),
    pull_out_m=st.sampled_from([0.0, 4.0]),
)
def test_route_of_any_outline(
    shape: shapely.MultiPolygon, direction_deg: float, headland: int, sides: str, finish: Finish, pull_out_m: float
) -> None:
    tool = Tool(name="t", width_m=10.0, turn_radius_m=6.0, pull_out_m=pull_out_m)
    route = route_on(shape, tool, direction_deg=direction_deg, headland=headland, sides=sides, finish=finish)
    layout = route.layout
    # Every pass and every run once.
    for state, count in (("pass", len(layout.passes)), ("headland", len(layout.headland.runs))):
        assert sorted(leg.number for leg in route.legs if leg.state == state) == list(range(count))
    at, heading, before = None, None, None
    for leg in route.legs:
        assert leg.state in STATES
        line = leg.points()
        driven = float(np.hypot(*np.diff(line, axis=0).T).sum())
        # Turns are drawn with chords of at most 0.5 m; of an arc of 6 m they are short by 1 in 3,000.
        assert driven == pytest.approx(leg.length_m, rel=4e-4, abs=1e-6)
        if at is not None:
            assert line[0] == pytest.approx(at, abs=1e-4)
        if leg.state == "turn":
            # A turn leaves as the pass before it ends, and no bend in it is tighter than the tool can steer.
            assert heading is not None
            first = line[1] - line[0]
            along = np.cos(np.arctan2(first[1], first[0]) - heading)
            # Between two runs of the headland it may be backed.
            assert (along if before == "pass" else abs(along)) > np.cos(0.1)
            fine = leg.turn.points(0.25)
            assert bends_between_cusps(fine).min(initial=np.inf) > 5.9
        last = line[-1] - line[-2] if len(line) > 1 else np.array([1.0, 0.0])
        at, heading, before = line[-1], float(np.arctan2(last[1], last[0])), leg.state


@given(shape=outlines(), direction_deg=st.floats(0, 180), headland=st.integers(0, 1))
def test_blocks_hold_every_pass_once_side_by_side(
    shape: shapely.MultiPolygon, direction_deg: float, headland: int
) -> None:
    passes = route_on(shape, direction_deg=direction_deg, headland=headland).layout.passes
    blocks = find_blocks(passes)
    assert sorted(index for block in blocks for index in block.tolist()) == list(range(len(passes)))
    for block in blocks:
        assert (np.diff(passes.strip[block]) == 1).all()
        assert len(set(passes.piece[block].tolist())) == 1
        one, other = block[:-1], block[1:]
        assert (
            np.minimum(passes.end_m[one], passes.end_m[other]) > np.maximum(passes.start_m[one], passes.start_m[other])
        ).all()


def test_length_outside_the_outline_derived() -> None:
    # Straight through, every turn lies beyond the edge; inside two rounds every one stays on the field, also at the
    # corners, where the tool backs away from the fence. In one round of 10 m a loop of 6 m radius does not fit, and a
    # tool that can be backed backs up.
    field = shapely.box(0, 0, 300, 200)
    through = route_on(field)
    assert through.outside_m() == pytest.approx(through.length_m("turn"), rel=1e-3)
    assert route_on(field, headland=2).outside_m() == 0.0
    mounted, pulled = route_on(field, headland=1), route_on(field, replace(TOOL, hitch="pulled"), headland=1)
    assert set(mounted.turns_by_kind()) == {"corner", "fishtail"}
    assert mounted.outside_m() == 0.0
    assert pulled.turns_by_kind()["loop"] == 17
    assert (pulled.turns_outside_m() > 0).sum() >= 17
    assert pulled.outside_m() == pytest.approx(pulled.turns_outside_m().sum())


def test_bends_are_measured_right() -> None:
    at = np.linspace(0, pi, 30)
    assert bends(np.column_stack([7 * np.cos(at), 7 * np.sin(at)])) == pytest.approx(7.0)


def test_turns_between_headland_runs_told_beforehand_change_nothing() -> None:
    # derived: the same poses, whatever lies inside
    field = read_outline(Path(__file__).parent.parent / "sample_fields" / "waterway.geojson")
    for direction_deg in (20.0, 91.0):
        layout = lay(field, Tool(name="t", width_m=12.0, turn_radius_m=7.0), direction_deg=direction_deg).layout
        known = run_turns(layout.headland, layout.tool, field.shape)
        anew, told = (plan_route(layout, known=its).legs for its in (None, known))
        assert len(known) >= len(layout.headland.runs)
        assert [leg.length_m for leg in anew] == pytest.approx([leg.length_m for leg in told], abs=1e-9)
