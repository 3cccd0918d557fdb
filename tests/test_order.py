"""Order of the passes: patterns without loops, the proven best, and on a field never worse than a pattern."""

from itertools import pairwise, permutations
from math import factorial, pi

import numpy as np
import pytest
import shapely
import shapely.affinity
from hypothesis import given, settings
from hypothesis import strategies as st
from shapes import outlines
from threads import more_threads_during

from fieldgeo.analysis.lay import lay
from fieldgeo.analysis.plan import Plan, plan_layout
from fieldgeo.errors import InputError
from fieldgeo.layout.strips import Finish
from fieldgeo.machinery.tool import Tool
from fieldgeo.machinery.turning import turn_length_m
from fieldgeo.outline.field import field_from_shape
from fieldgeo.travel.order import WORTH_SHARE
from fieldgeo.travel.patterns import ORDERS, PLAIN, least_skip, pattern_variants
from fieldgeo.travel.solve import EXACT_PASSES, BlockProblem, Chain, best_chain, chain_s, exact_chain, nearest_bound_s

# At 1 m/s a time in seconds is a length in metres. Pulled tools only turn forward.
TOOL = Tool(name="t", width_m=6.0, turn_radius_m=6.0, turn_speed_m_s=1.0, hitch="pulled")


def problem_of(turn_s: np.ndarray, entry_s: object = 0.0, exit_s: object = 0.0) -> BlockProblem:
    count = turn_s.shape[1]
    times = turn_s.astype(float)
    times[:, np.arange(count), np.arange(count)] = np.inf
    ways = [np.zeros((2, count)) + each for each in (entry_s, exit_s)]
    return BlockProblem(turn_s=times, entry_s=ways[0], exit_s=ways[1])


def square_edge(passes: int, width_m: float, radius_m: float) -> BlockProblem:
    apart = np.abs(np.subtract.outer(np.arange(passes), np.arange(passes)))
    lengths = np.vectorize(lambda many: turn_length_m(many * width_m, radius_m))(apart)
    return problem_of(np.stack([lengths, lengths]))


def pattern_chains(count: int, step: int) -> list[Chain]:
    return [
        Chain(each.positions, forward)
        for name in PLAIN
        for each in pattern_variants(name, count, step)
        for forward in (True, False)
    ]


# Derived: exact dynamic programme over all pass orders, free start and finish, square headland, forward-only turns;
# bound = (n - 1) x cheapest single turn. PO01, PO02, PO04, PO06.
@pytest.mark.parametrize(
    ("passes", "width", "radius", "adjacent", "optimal", "bound"),
    [
        (8, 6.0, 6.0, 253.366, 149.293, 131.947),
        (10, 6.0, 6.0, 325.757, 181.646, 169.646),
        (9, 4.572, 6.0, 306.051, 182.812, 164.524),
        (12, 9.144, 9.0, 594.817, 339.698, 314.186),
    ],
)
def test_best_order_at_a_square_edge_derived_po01_po02_po04_po06(
    passes: int, width: float, radius: float, adjacent: float, optimal: float, bound: float
) -> None:
    problem = square_edge(passes, width, radius)
    habit = Chain(np.arange(passes), True)
    assert chain_s(problem, habit) == pytest.approx(adjacent, abs=0.01)
    solved = best_chain(problem, [habit])
    assert solved.is_proven
    assert solved.total_s == solved.bound_s == pytest.approx(optimal, abs=0.01)
    assert nearest_bound_s(problem) == pytest.approx(bound, abs=0.01)


def test_number_of_orders_published_po07() -> None:
    # Published: An Arable Field for Benchmarking of Metaheuristic Algorithms for Capacitated Coverage Path Planning
    # Problems, Agronomy 10:1454, 2020: eight tracks, more than 1.3 billion solutions. Derived: 8! orders x a direction
    # for each track x refilling or not between tracks. Here directions alternate and nothing is filled: 8! x 2.
    assert factorial(8) * 2**8 * 2**7 == 1_321_205_760
    chains = [(order, forward) for order in permutations(range(4)) for forward in (True, False)]
    assert len(set(chains)) == factorial(4) * 2


def test_no_order_saves_more_than_four_sevenths_derived_po08() -> None:
    # As the passes lie ever closer, a loop takes r (pi + 4 acos(1/2)) = 7/3 pi r and a half-circle pi r: 1 - 3/7.
    loop, half_circle = turn_length_m(1e-9, 1.0), turn_length_m(2.0, 1.0)
    assert 100 * (1 - half_circle / loop) == pytest.approx(57.143, abs=0.001)
    problem = square_edge(100, 0.25, 1.0)
    best = min(chain_s(problem, chain) for chain in pattern_chains(100, 8))
    assert 1 - best / chain_s(problem, Chain(np.arange(100), True)) < 4 / 7


@pytest.mark.parametrize(("radius", "width", "skip"), [(6, 6, 2), (6, 4.572, 3), (7.5, 12.192, 2), (9, 9.144, 2)])
def test_least_skip_derived_po09(radius: float, width: float, skip: int) -> None:
    assert least_skip(pitch_m=width, turn_radius_m=radius) == skip
    assert turn_length_m(skip * width, radius) == pytest.approx(pi * radius + skip * width - 2 * radius)


@given(count=st.integers(1, 60), step=st.integers(1, 6), name=st.sampled_from(PLAIN))
def test_patterns_take_every_pass_once(count: int, step: int, name: str) -> None:
    variants = pattern_variants(name, count, step)
    seen = {each.positions.tobytes() for each in variants}
    assert len(seen) == len(variants)
    for each in variants:
        assert sorted(each.positions.tolist()) == list(range(count))
    assert len(variants) > 0 or name != "back-and-forth"


@pytest.mark.parametrize("step", [2, 3, 4, 5])
def test_blocks_never_turn_onto_a_pass_nearer_than_the_step(step: int) -> None:
    for count in range(2 * step + 1, 60):
        variants = [each for each in pattern_variants("blocks", count, step) if each.step == 2 * step + 1]
        assert min(np.abs(np.diff(each.positions)).min() for each in variants) >= step


def test_skip_by_three_derived() -> None:
    orders = [each.positions.tolist() for each in pattern_variants("skip", 10, 3) if each.step == 3]
    assert [0, 3, 6, 9, 7, 4, 1, 2, 5, 8] in orders
    # Two turns between the series may loop, no other.
    for order in orders:
        assert sum(abs(one - two) < 3 for one, two in pairwise(order)) <= 2


def brute_force_s(problem: BlockProblem) -> float:
    return min(
        chain_s(problem, Chain(np.array(order), forward))
        for order in permutations(range(len(problem)))
        for forward in (True, False)
    )


@settings(max_examples=30, deadline=None)
@given(count=st.integers(1, 6), seed=st.integers(0, 10_000), is_barred=st.booleans())
def test_exact_order_is_that_of_trying_all(count: int, seed: int, is_barred: bool) -> None:
    # Any times at all: different either way, with places to come from and to go to, some turns barred.
    rng = np.random.default_rng(seed)
    turns = rng.uniform(1, 50, (2, count, count))
    if is_barred:
        far = np.abs(np.subtract.outer(np.arange(count), np.arange(count))) > 2
        turns[:, far] = np.inf
    problem = problem_of(turns, rng.uniform(0, 80, (2, count)), rng.uniform(0, 80, (2, count)))
    found = exact_chain(problem)
    assert sorted(found.positions.tolist()) == list(range(count))
    assert chain_s(problem, found) == pytest.approx(brute_force_s(problem))
    assert nearest_bound_s(problem) <= chain_s(problem, found) + 1e-9


def test_exact_order_of_seven_on_slanted_ends_is_that_of_trying_all() -> None:
    layout = lay(
        field_from_shape(shapely.Polygon([(0, 0), (45, 15), (42, 200), (0, 160)])), TOOL, direction_deg=0.0, headland=0
    ).layout
    assert len(layout.passes) > 6
    plan = plan_layout(layout, order="best")
    (order,) = plan.route.orders
    assert order.is_proven
    assert plan.timeline.by_state_s()["turning"] == pytest.approx(order.bound_s)


@pytest.mark.parametrize("seed", [1, 2])
def test_search_finds_what_the_dynamic_programme_finds(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    # Twelve passes on ragged ends, which the search for larger blocks is made to solve too.
    rng = np.random.default_rng(seed)
    apart = np.abs(np.subtract.outer(np.arange(12), np.arange(12)))
    lengths = np.vectorize(lambda many: turn_length_m(many * 6.0, 6.0))(apart)
    rough = rng.uniform(0, 15, (2, 12, 12))
    problem = problem_of(lengths + rough + rough.transpose(0, 2, 1), rng.uniform(0, 90, (2, 12)))
    exact = chain_s(problem, exact_chain(problem))
    monkeypatch.setattr("fieldgeo.travel.solve.EXACT_PASSES", 0)
    solved = best_chain(problem, [Chain(np.arange(12), True)], effort_s=3.0)
    assert solved.bound_s <= exact + 1e-9
    assert solved.total_s >= exact - 1e-9
    assert solved.total_s == pytest.approx(exact, rel=1e-4)


@pytest.mark.parametrize("seed", [26, 28, 38, 51])
def test_search_again_proves_nothing_that_is_not_so(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    # Regression: searched again, turns were left out by the bound that the first search had proven. That showed orders
    # to be the best that are not, or left no order at all, at which the solver ended the process.
    rng = np.random.default_rng(seed)
    apart = np.abs(np.subtract.outer(np.arange(10), np.arange(10)))
    rough = rng.uniform(0, 8, (2, 10, 10))
    turns = np.abs(6.0 * apart - 12.0) + 19 + rough + rough.transpose(0, 2, 1)
    problem = problem_of(turns, rng.uniform(0, 50, (2, 10)))
    exact = chain_s(problem, exact_chain(problem))
    monkeypatch.setattr("fieldgeo.travel.solve.EXACT_PASSES", 0)
    for effort_s in (0.01, 0.05):
        solved = best_chain(problem, [Chain(np.arange(10), True)], effort_s=effort_s)
        assert solved.bound_s <= exact + 1e-9
        assert solved.total_s <= exact + 1e-3 or not solved.is_proven


def test_search_keeps_to_one_thread() -> None:
    rng = np.random.default_rng(3)
    rough = rng.uniform(0, 8, (2, 20, 20))
    problem = problem_of(square_edge(20, 6.0, 6.0).turn_s + rough + rough.transpose(0, 2, 1))
    more = more_threads_during(lambda: best_chain(problem, [Chain(np.arange(20), True)], effort_s=0.3))
    assert more <= 2  # the solver's own, with its clock


def test_hundred_passes_end_within_one_per_cent_of_the_bound() -> None:
    for width, step in ((6.0, 2), (4.572, 3)):
        problem = square_edge(100, width, 6.0)
        solved = best_chain(problem, pattern_chains(100, step), effort_s=0.3)
        cheapest = turn_length_m(step * width, 6.0)
        assert nearest_bound_s(problem) == pytest.approx(99 * cheapest)
        assert solved.total_s <= 1.01 * 99 * cheapest
        assert 99 * cheapest - 1e-6 <= solved.bound_s <= solved.total_s


def test_search_gives_the_same_order_again_and_keeps_a_start_it_cannot_better() -> None:
    rng = np.random.default_rng(5)
    rough = rng.uniform(0, 15, (2, 30, 30))
    problem = problem_of(square_edge(30, 6.0, 6.0).turn_s + rough + rough.transpose(0, 2, 1))
    start = Chain(np.arange(30), True)
    one, other = (best_chain(problem, [start], effort_s=0.3) for _ in range(2))
    assert one.chain.positions.tolist() == other.chain.positions.tolist()
    assert one.total_s < chain_s(problem, start)
    assert best_chain(problem, [start], effort_s=0.0).chain is start


def plan_on(shape: shapely.Geometry, tool: Tool = TOOL, **choices: object) -> Plan:
    wanted = {"direction_deg": 0.0, "headland": 0, "sides": "all"} | choices
    return lay(field_from_shape(shape), tool, **wanted)


@pytest.mark.parametrize("order", ["skip", "blocks"])
def test_loop_free_patterns_on_a_rectangle_derived(order: str) -> None:
    # 20 passes of 6 m, radius 6: a step of two or more needs no loop. The skip turns back once onto a neighbour.
    plan = plan_on(shapely.box(0, 0, 120, 400), order=order)
    kinds = plan.route.turns_by_kind()
    plain = plan_on(shapely.box(0, 0, 120, 400), order="back-and-forth")
    assert plain.route.turns_by_kind() == {"loop": 19}
    assert kinds.get("loop", 0) == (1 if order == "skip" else 0)
    assert {each.pattern for each in plan.route.orders} == {order}


def test_auto_keeps_to_back_and_forth_where_nothing_is_saved() -> None:
    wide = Tool(name="t", width_m=12.0, turn_radius_m=6.0)
    plan = plan_on(shapely.box(0, 0, 240, 400), wide, order="auto")
    assert [each.pattern for each in plan.route.orders] == ["back-and-forth"]


def test_passes_that_stick_out_are_not_driven_across() -> None:
    # A wedge between the first and the last pass: a turn from one to the other would cut off its point.
    spire = shapely.Polygon([(0, 0), (60, 0), (60, 100), (36, 100), (30, 300), (24, 100), (0, 100)])
    plan = plan_on(spire, order="round-and-round")
    for leg in plan.route.legs:
        if leg.turn is not None and leg.points()[:, 1].min() > 50:
            crossed = shapely.LineString(leg.points()).intersection(plan.field.shape.buffer(-TOOL.width_m))
            assert crossed.length < 2 * TOOL.width_m


@settings(max_examples=6, deadline=None)
@given(shape=outlines(), direction_deg=st.floats(0, 180), headland=st.integers(0, 2), has_gate=st.booleans())
def test_orders_on_any_outline(
    shape: shapely.MultiPolygon, direction_deg: float, headland: int, has_gate: bool
) -> None:
    gate = np.array(shape.exterior.coords[0] if shape.geom_type == "Polygon" else shape.bounds[:2])
    tool = Tool(name="t", width_m=10.0, turn_radius_m=8.0, pull_out_m=2.0, hitch="pulled")
    layout = plan_on(shape, tool, direction_deg=direction_deg, headland=headland).layout
    plans = {order: plan_layout(layout, entrance_xy=gate if has_gate else None, order=order) for order in ORDERS}
    for plan in plans.values():
        driven = [leg.number for leg in plan.route.legs if leg.state == "pass"]
        assert sorted(driven) == list(range(len(layout.passes)))
        assert driven == [number for order in plan.route.orders for number in order.passes]
        assert plan.field_time_s == pytest.approx(sum(plan.timeline.by_state_s().values()))
        assert plan.coverage == plans["back-and-forth"].coverage
        if has_gate and plan.route.legs:
            assert plan.route.legs[0].points()[0] == pytest.approx(gate)
            assert plan.route.legs[-1].points()[-1] == pytest.approx(gate)
    times = {order: plan.field_time_s for order, plan in plans.items()}
    assert times["auto"] <= times["back-and-forth"] + 1e-6
    assert times["best"] <= min(times.values()) + 1e-6


@pytest.mark.parametrize("order", ORDERS)
@pytest.mark.parametrize("change", ["mirrored", "turned"])
def test_mirrored_or_turned_field_takes_the_same_time(order: str, change: str) -> None:
    # Eleven passes, of which the best order is found for certain; a search may end elsewhere on a mirrored field.
    shape = shapely.Polygon([(0, 0), (61, 12), (65, 300), (5, 340)])
    one = plan_on(shape, order=order)
    if change == "mirrored":
        other = plan_on(shapely.affinity.scale(shape, -1, 1, origin=(0, 0)), order=order)
    else:
        turned = shapely.affinity.rotate(shape, -40, origin=(0, 0))
        other = plan_on(turned, direction_deg=40.0, order=order)
    assert other.field_time_s == pytest.approx(one.field_time_s, rel=1e-6)


def test_finish_rules_and_orders_leave_the_ground_alone() -> None:
    finishes: tuple[Finish, ...] = ("cover", "clean", "half")
    for finish in finishes:
        plain, skip = (plan_on(shapely.box(0, 0, 100, 200), finish=finish, order=each) for each in ("auto", "skip"))
        assert plain.coverage == skip.coverage


def test_unknown_order_is_refused() -> None:
    with pytest.raises(InputError, match=r"order: got 'zigzag'. It must be one of back-and-forth, skip"):
        plan_on(shapely.box(0, 0, 100, 200), order="zigzag")


def test_constants_are_sane() -> None:
    assert 0 < WORTH_SHARE < 0.05
    assert EXACT_PASSES >= 12
