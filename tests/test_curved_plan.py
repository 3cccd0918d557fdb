"""Curved passes on a field: identities, a raster oracle, circles, edges by number, routes, what is refused."""

from math import pi

import numpy as np
import pytest
import shapely
import shapely.affinity
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from shapes import make_shape, outlines
from test_coverage import Grid
from test_curved import bent_line, multi, tool
from test_identities import hold_identities

from fieldgeo.analysis.curved.coverage import curved_shapes
from fieldgeo.analysis.curved.figures import curved_figures
from fieldgeo.analysis.curved.follow import Follow, edge_lines, follow_circle, follow_edges, follow_line
from fieldgeo.analysis.curved.plan import CurvedPlan, lay_curved
from fieldgeo.analysis.lay import lay
from fieldgeo.analysis.plan import Plan
from fieldgeo.errors import InputError
from fieldgeo.layout.curved.circles import lay_circles, ring_radii
from fieldgeo.layout.curved.edges import field_edges, without_hooks
from fieldgeo.layout.strips import Finish
from fieldgeo.machinery.tool import Tool
from fieldgeo.outline.field import Field, field_from_shape
from fieldgeo.travel.curved_route import curved_blocks

FINISHES: tuple[Finish, ...] = ("cover", "clean", "half")
Floats = NDArray[np.float64]


def field_of(shape: shapely.Geometry) -> Field:
    return field_from_shape(multi(shape))


def along(line: Floats) -> Follow:
    return Follow(kind="line", line=line)


@settings(max_examples=15)
@given(
    shape=outlines(), seed=st.integers(0, 10**6), bend=st.floats(0, 100), turn=st.floats(0, 360),
    finish=st.sampled_from(FINISHES), lap=st.sampled_from([0.0, 0.0, 0.5]), sections=st.sampled_from([1, 1, 4]),
    headland=st.sampled_from([0, 1, 2]),
)  # fmt: skip
def test_identities_along_bent_lines(
    shape: shapely.MultiPolygon, seed: int, bend: float, turn: float, finish: Finish, lap: float, sections: int,
    headland: int,
) -> None:  # fmt: skip
    field = field_from_shape(shape)
    line = shapely.affinity.rotate(shapely.LineString(bent_line(seed, bend_m=bend)), turn, origin=(0, 0))
    plan = lay_curved(
        field, tool(lap=lap, sections=sections), along(shapely.get_coordinates(line)), headland=headland,
        finish=finish,
    )  # fmt: skip
    hold_identities(as_plan(plan))
    if plan.route.legs:  # a sliver may take neither a round nor a pass, and then the tool is nowhere
        assert np.isfinite(plan.timeline.place_at(plan.field_time_s / 3)[:2]).all()
    worked = [leg.number for leg in plan.route.legs if leg.state == "pass"]
    assert sorted(worked) == list(range(len(plan.layout.passes)))


def as_plan(plan: CurvedPlan) -> Plan:
    """Return a curved plan where a straight one is asked for: the identities are the same."""
    return plan  # type: ignore[return-value]


@pytest.mark.parametrize(
    ("kind", "finish", "lap", "sections", "headland"),
    [
        ("star", "cover", 0.0, 1, 1),
        ("holes", "half", 0.5, 1, 1),
        ("ell", "clean", 0.0, 4, 2),
        ("parts", "cover", 0.0, 1, 0),
    ],
)
def test_areas_equal_counts_on_a_grid(kind: str, finish: Finish, lap: float, sections: int, headland: int) -> None:
    field = field_from_shape(make_shape(kind, 11, 8, 23.0))
    made = tool(width=9.144, lap=lap, sections=sections)
    plan = lay_curved(field, made, along(bent_line(5)), headland=headland, finish=finish, least_radius_m=20.0)
    grid = Grid(as_plan(plan))
    counted = grid.areas()
    for name in ("worked", "overlap", "skip", "spill"):
        assert getattr(plan.coverage, f"{name}_m2") == pytest.approx(counted[name], abs=grid.tolerance_m2), name


@pytest.mark.parametrize("lap", [0.0, 0.5])
def test_shapes_of_coverage_have_the_areas_of_coverage(lap: float) -> None:
    field = field_from_shape(make_shape("holes", 11, 8, 23.0))
    plan = lay_curved(field, tool(width=9.144, lap=lap), along(bent_line(5)), headland=1)
    shapes, cover = curved_shapes(plan.layout), plan.coverage
    assert shapes.skip.area == pytest.approx(cover.skip_m2, abs=0.01)
    by_cause = dict.fromkeys(cover.overlap_by_cause_m2, 0.0)
    for overlap in shapes.overlap:
        by_cause[overlap.cause] += overlap.overlap_m2
    assert by_cause == pytest.approx(cover.overlap_by_cause_m2, abs=0.01 * cover.area_m2)
    assert sum(by_cause.values()) == pytest.approx(cover.overlap_m2, rel=0.01)


@pytest.mark.parametrize("move", ["turned", "mirrored"])
def test_a_turned_or_mirrored_field_gives_the_same_figures(move: str) -> None:
    matrix = {"turned": np.array([[0.6, 0.8], [-0.8, 0.6]]), "mirrored": np.diag([-1.0, 1.0])}[move]
    shape = shapely.Polygon([(-320, -200), (300, -240), (340, 210), (-100, 260)])
    one = field_of(shape)
    other = field_of(shapely.transform(shape, lambda points: points @ matrix))
    line = bent_line(3, bend_m=40)
    plan = lay_curved(one, tool(), along(line), headland=0)
    moved = lay_curved(other, tool(), along(line @ matrix), headland=0)
    assert len(moved.layout.passes) == len(plan.layout.passes)
    for name in ("swept", "worked", "overlap", "skip", "spill"):
        its = getattr(plan.coverage, f"{name}_m2")
        assert getattr(moved.coverage, f"{name}_m2") == pytest.approx(its, abs=1e-4 * shape.area), name
    assert moved.field_time_s == pytest.approx(plan.field_time_s, rel=1e-3)


def test_derived_concentric_rings_leave_nothing_and_work_nothing_twice() -> None:
    # Derived: eight rings of 12 m round a hole of 20 m fill what lies between 20 and 116 m; a ring of mean radius R
    # and width w has 2 pi R w. The chords are true to 2 parts in 10^5.
    made = tool(radius=8.0)
    annulus = shapely.difference(
        shapely.Point(0, 0).buffer(116, quad_segs=180), shapely.Point(0, 0).buffer(20, quad_segs=180)
    )
    passes = lay_circles(multi(annulus), np.zeros(2), made, "cover")
    assert passes.is_ring.all()
    assert passes.offset_m == pytest.approx(np.arange(8) * 12.0 + 6.0)
    assert passes.length_m == pytest.approx(2 * pi * (110 - 12 * np.arange(8.0)), rel=3e-5)
    swaths = passes.swaths()
    assert sum(swath.area for swath in swaths) == pytest.approx(pi * (116**2 - 20**2), rel=3e-5)
    assert sum(swath.area for swath in swaths) == pytest.approx(
        shapely.union_all(swaths, grid_size=1e-9).area, rel=1e-9
    )


def test_derived_the_innermost_ring_keeps_the_least_radius() -> None:
    # Derived: 100 m in rings of 12 m: centre lines at 94, 82 ... 22 m; the next would be at 10, below 15, so one is
    # pulled in to 15 m and leaves a disc of 9 m.
    radii, is_pulled = ring_radii(100.0, 0.0, tool(), 15.0, "cover")
    assert radii == [94.0, 82.0, 70.0, 58.0, 46.0, 34.0, 22.0, 15.0]
    assert is_pulled == [False] * 7 + [True]
    assert ring_radii(100.0, 0.0, tool(), 15.0, "clean")[0] == radii[:-1]
    field = field_of(shapely.Point(0, 0).buffer(100, quad_segs=180))
    plan = lay_curved(field, tool(), follow_circle(field), least_radius_m=15.0)
    assert plan.left_in_bends_m2 == pytest.approx(pi * 9**2, rel=0.01)
    assert plan.coverage.skip_m2 == pytest.approx(pi * 9**2, rel=0.01)
    hold_identities(as_plan(plan))


def test_rings_are_driven_one_into_the_other() -> None:
    field = field_of(shapely.Point(0, 0).buffer(200, quad_segs=180))
    plan = lay_curved(field, tool(), follow_circle(field))
    assert plan.layout.headland.rounds == 0
    assert len(plan.route.orders) == 1
    assert plan.route.turns_by_kind()["sidestep"] > 10
    assert plan.route.length_m("travel") == 0.0
    assert plan.route.outside_m() == 0.0


def test_circles_cut_by_a_straight_side_are_arcs_with_end_rows() -> None:
    field = field_of(
        shapely.intersection(shapely.Point(0, 0).buffer(250, quad_segs=90), shapely.box(-250, -120, 250, 250))
    )
    plan = lay_curved(field, tool(), follow_circle(field, np.zeros(2)))
    passes = plan.layout.passes
    assert passes.is_ring.any()
    assert not passes.is_ring.all()
    assert plan.layout.headland.rounds > 0
    assert not plan.layout.headland.all_round
    for block in curved_blocks(passes, field.shape, room_m=24.0):
        assert len({bool(passes.is_ring[number]) for number in block.tolist()}) == 1
    hold_identities(as_plan(plan))


def test_edges_are_numbered_clockwise_from_the_north_west() -> None:
    edges = field_edges(multi(shapely.box(0, 0, 400, 200)))
    assert [edge.length_m for edge in edges] == [400.0, 200.0, 400.0, 200.0]
    assert [edge.azimuth_deg for edge in edges] == [90.0, 0.0, 90.0, 0.0]
    assert edges[0].line[:, 1] == pytest.approx(200.0)
    assert edges[1].line[:, 0] == pytest.approx(400.0)
    assert edge_lines(field_of(shapely.box(0, 0, 400, 200)))[0] == "edge 1: north, 1,312 ft (400 m), azimuth 90 deg"


def test_a_bend_is_no_corner_and_a_circle_has_none() -> None:
    creek = [(400 + 30 * np.sin(y / 30), y) for y in np.linspace(0, 400, 81)]
    edges = field_edges(multi(shapely.Polygon([(0, 0), *creek, (0, 400)])))
    assert len(edges) == 4
    (round_edge,) = field_edges(multi(shapely.Point(0, 0).buffer(200, quad_segs=36)))
    assert round_edge.is_closed


def test_a_hook_at_the_end_of_an_edge_is_left_out() -> None:
    line = np.array([[0.0, 0.0], [12.0, 0.0], [12.0, 300.0], [40.0, 600.0]])
    assert without_hooks(line) == pytest.approx(line[1:])
    assert without_hooks(line[1:]) == pytest.approx(line[1:])


def test_passes_along_an_edge_begin_at_the_edge() -> None:
    field = field_of(shapely.Polygon([(0, 0), (600, 0), (600, 300), (300, 360), (0, 300)]))
    plan = lay_curved(field, tool(), follow_edges(field, (1,)), headland=0)
    first = plan.layout.passes.offset_m.min()
    assert first == pytest.approx(6.0, abs=plan.layout.passes.key_deviation_m + 0.1)
    assert plan.coverage.skip_m2 == pytest.approx(0.0, abs=plan.left_in_bends_m2 + 1.0)


def test_several_edges_make_one_line() -> None:
    field = field_of(shapely.box(0, 0, 400, 200))
    both = follow_edges(field, (2, 1))
    assert both.edges == (1, 2)
    assert shapely.LineString(both.line).length == pytest.approx(600.0)


def test_what_cannot_be_followed_is_refused() -> None:
    field = field_of(shapely.box(0, 0, 400, 200))
    with pytest.raises(InputError, match=r"no edge 5\. It must be from 1 to 4.*\n  edge 1: north"):
        follow_edges(field, (5,))
    with pytest.raises(InputError, match="do not make one line"):
        follow_edges(field, (1, 3))
    with pytest.raises(InputError, match="do not make one line"):
        follow_edges(field, (1, 2, 3, 4))
    with pytest.raises(InputError, match=r"lies outside field .*, 100 m \(328 ft\) away"):
        follow_line(field, np.array([[500.0, 0.0], [900.0, 50.0]]) - field_centre_shift(field))
    round_field = field_of(shapely.Point(0, 0).buffer(200, quad_segs=36))
    with pytest.raises(InputError, match="all round without a corner"):
        follow_edges(round_field, (1,))
    with pytest.raises(InputError, match="the centre lies"):
        follow_circle(field, np.array([9000.0, 0.0]))


def field_centre_shift(field: Field) -> Floats:
    """Return how far the frame of a field is from where its shape was drawn. [m]"""
    return -np.array(field.shape.bounds[:2])


def test_figures_hold_both_layouts() -> None:
    field = field_of(shapely.box(0, 0, 400, 200))
    made = Tool(name="t", width_m=12.0, turn_radius_m=6.0)
    straight = lay(field, made)
    figures = curved_figures(lay_curved(field, made, follow_edges(field, (1,))), straight)
    follow = figures["follow"]
    # A straight edge is followed by straight passes.
    assert figures["direction_deg"] == pytest.approx(90.0)
    assert follow["deviation_m"] == 0.0
    assert follow["smoothed_passes"] == 0
    assert follow["straight"]["passes"] == len(straight.layout.passes)
    assert follow["extra_time_h"] == pytest.approx(figures["field_time_h"] - follow["straight"]["field_time_h"])
    round_field = field_of(shapely.Point(0, 0).buffer(200, quad_segs=36))
    circles = curved_figures(lay_curved(round_field, made, follow_circle(round_field)), lay(round_field, made))
    assert circles["direction_deg"] is None
    assert circles["follow"]["innermost_radius_m"] == pytest.approx(6.01, abs=0.01)
