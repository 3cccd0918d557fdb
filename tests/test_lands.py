"""Plow lands: the formula, how passes are divided, which way each is driven, and the furrows that come of it."""

from itertools import pairwise
from math import acos, pi, sqrt

import numpy as np
import pytest
import shapely
from hypothesis import example, given, settings
from hypothesis import strategies as st
from shapes import make_shape, outlines
from test_identities import hold_identities

from fieldgeo.analysis.plan import Plan, lay_inside
from fieldgeo.errors import InputError
from fieldgeo.layout.furrows import find_furrows, needed_before, plowed_wrong
from fieldgeo.layout.headland import lay_rounds
from fieldgeo.layout.lands import (
    STEP_WIDTHS,
    Land,
    LandPattern,
    divide_strips,
    find_chains,
    forward_flags,
    furrow_counts,
    idle_per_width,
    land_kinds,
    land_width_m,
    lay_lands,
)
from fieldgeo.layout.model import Layout, Passes
from fieldgeo.machinery.tool import Tool
from fieldgeo.machinery.turning import plow_headland_m
from fieldgeo.outline.field import field_from_shape
from fieldgeo.travel.land_route import plan_land_route
from fieldgeo.travel.route import Route
from fieldgeo.travel.timeline import time_route

PATTERNS: tuple[LandPattern, ...] = ("alternate", "gather")


def plow(width_m: float = 10.0, **values: float) -> Tool:
    return Tool(name="plow", width_m=width_m, throws="right", hitch="pulled", **{"turn_radius_m": 5.0, **values})  # type: ignore[arg-type]


def layout_of(
    shape: shapely.MultiPolygon | shapely.Polygon, tool: Tool, *, direction_deg: float, rounds: int
) -> Layout:
    field = field_from_shape(shapely.MultiPolygon([shape]) if isinstance(shape, shapely.Polygon) else shape)
    laid = lay_rounds(field.shape, tool, "cover", rounds=rounds, chains=None)
    return lay_inside(field, tool, direction_deg, laid, "cover")


def rectangle(wide_m: float, long_m: float, tool: Tool) -> Layout:
    """Return passes that run north, straight through, over a rectangle."""
    return layout_of(shapely.box(0, 0, wide_m, long_m), tool, direction_deg=0.0, rounds=0)


def chains_of(layout: Layout) -> list[np.ndarray]:
    return list(find_chains(layout.passes, step_m=STEP_WIDTHS * layout.tool.width_m))


def driven(route: Route) -> list[tuple[int, bool]]:
    """Return passes as they are driven, and whether along the direction."""
    starts, _ = route.layout.passes.ends_xy()
    return [
        (leg.number, bool(np.allclose(leg.points()[0], starts[leg.number])))
        for leg in route.legs
        if leg.state == "pass"
    ]


def thrown_wrong(passes: Passes, order: list[tuple[int, bool]]) -> list[int]:
    """Return the passes that throw onto, or leave their furrow beside, the wrong ground: by the state of the ground.

    An oracle that knows nothing of lands: it plows the passes one after the other and looks to either side of each.
    """
    done: dict[int, bool] = {}
    headings = dict(order)
    wrong = []
    for row, forward in order:
        for side in (1, -1):
            beside = np.flatnonzero((passes.piece == passes.piece[row]) & (passes.strip == passes.strip[row] + side))
            for other in beside.tolist():
                if min(passes.end_m[row], passes.end_m[other]) <= max(passes.start_m[row], passes.start_m[other]):
                    continue
                # Looking along the direction the left side is +1; the plow throws to the right of the way it goes.
                is_thrown_there = (side == -1) == forward
                throws_back = headings[other] != forward
                # Thrown onto ground not plowed yet: a land is opened, and the neighbour must throw back later. The
                # furrow beside plowed ground: both furrows lie there, a dead one.
                sound = (other in done or throws_back) if is_thrown_there else (other not in done or throws_back)
                if not sound:
                    wrong.append(row)
        done[row] = forward
    return wrong


# The formula


@pytest.mark.parametrize(
    ("run_m", "plow_m", "radius_m", "width_m"),
    [
        # PL01, textbook form from memory. Derived: 2 x 1.75 x 800 = 2800, 16 x 36 = 576, sqrt(3376) = 58.103.
        (800.0, 1.75, 6.0, 58.103),
        # PL02. Derived: 2 x 2.032 x 402.336 = 1635.094, 16 x 25 = 400, sqrt(2035.094) = 45.112.
        (402.336, 2.032, 5.0, 45.112),
    ],
)
def test_land_width_from_memory_and_derived(run_m: float, plow_m: float, radius_m: float, width_m: float) -> None:
    assert land_width_m(run_m=run_m, plow_m=plow_m, radius_m=radius_m) == pytest.approx(width_m, abs=0.01)


@given(run_m=st.floats(50, 2000), plow_m=st.floats(0.5, 8), radius_m=st.floats(0, 15), off=st.floats(0.2, 5))
def test_the_formula_is_the_least_of_its_model(run_m: float, plow_m: float, radius_m: float, off: float) -> None:
    best = land_width_m(run_m=run_m, plow_m=plow_m, radius_m=radius_m)
    least = idle_per_width(land_m=best, run_m=run_m, plow_m=plow_m, radius_m=radius_m)
    assert least <= idle_per_width(land_m=best * off, run_m=run_m, plow_m=plow_m, radius_m=radius_m) * (1 + 1e-12)
    # Derived: at the least both terms are alike, C / 2B each.
    assert least == pytest.approx(best / plow_m)


@pytest.mark.parametrize("bad", [{"run_m": 0.0}, {"plow_m": 0.0}, {"plow_m": -1.0}, {"radius_m": -1.0}])
def test_lengths_out_of_range_are_refused(bad: dict[str, float]) -> None:
    with pytest.raises(InputError, match="above zero"):
        land_width_m(**{"run_m": 800.0, "plow_m": 1.75, "radius_m": 6.0, **bad})


def test_headland_by_the_rule_published() -> None:
    # PL04: an agricultural-training lesson and an Indian agricultural e-course, read: 6 m for 2 or 3 furrows, 1 m more
    # for each further one.
    assert [plow_headland_m(bottoms) for bottoms in (2, 3, 4, 5, 6)] == [6, 6, 7, 8, 9]


# Lands and their furrows


def test_furrows_of_lands_all_gathered_derived() -> None:
    # PL06: 360 m in lands of 60 m, all gathered: 6 lands, 6 back furrows, 5 dead furrows inside; on passes as laid.
    layout = rectangle(360.0, 400.0, plow(5.0))
    (chain,) = chains_of(layout)
    lands = lay_lands(layout.passes, [chain], [6], "gather")
    kinds = [furrow.kind for furrow in find_furrows(layout.passes, lands)]
    assert [len(land.members) * 5.0 for land in lands] == [60.0] * 6
    assert (kinds.count("back"), kinds.count("dead"), kinds.count("edge")) == (6, 5, 2)
    assert furrow_counts(6, "gather") == (6, 5)


def test_gathered_and_cast_by_turns_leave_half_the_dead_furrows_derived() -> None:
    # 5 lands of 60 m, the 1st, 3rd and 5th gathered: back furrows at 30, 150 and 270 m, dead ones in the middles of the
    # cast lands, at 90 and 210 m. The passes run north, so that v is 300 m less the distance from the east.
    layout = rectangle(300.0, 400.0, plow(5.0))
    lands = lay_lands(layout.passes, chains_of(layout), [5], "alternate")
    low = float(layout.passes.low_m.min())
    found = [(furrow.kind, round(furrow.across_m - low, 6)) for furrow in find_furrows(layout.passes, lands)]
    assert [each for each in found if each[0] != "edge"] == [
        ("back", 30.0), ("back", 150.0), ("back", 270.0), ("dead", 90.0), ("dead", 210.0),
    ]  # fmt: skip
    assert sum(furrow.length_m for furrow in find_furrows(layout.passes, lands) if furrow.kind == "dead") == (
        pytest.approx(800.0)
    )


@given(count=st.integers(1, 200), lands=st.integers(1, 60), odd_first=st.booleans())
def test_strips_are_divided_into_whole_rounds(count: int, lands: int, odd_first: bool) -> None:
    if lands > max(1, count // 2):
        with pytest.raises(InputError, match="lands"):
            divide_strips(count, lands, odd_first=odd_first)
        return
    sizes = divide_strips(count, lands, odd_first=odd_first)
    assert sum(sizes) == count
    assert len(sizes) == lands
    odd = [row for row, size in enumerate(sizes) if size % 2]
    assert odd == ([0 if odd_first else lands - 1] if count % 2 else [])
    assert max(sizes) - min(sizes) <= 3


@given(lands=st.integers(1, 40), pattern=st.sampled_from(PATTERNS))
def test_outer_lands_are_gathered_and_furrows_counted(lands: int, pattern: LandPattern) -> None:
    kinds = land_kinds(lands, pattern)
    assert kinds[0] == kinds[-1] == "gather"
    assert all("gather" in pair for pair in pairwise(kinds))
    # A cast land has its dead furrow inside; between two that are gathered lies one.
    between = sum(one == two == "gather" for one, two in pairwise(kinds))
    assert furrow_counts(lands, pattern) == (kinds.count("gather"), kinds.count("cast") + between)


def test_gathering_turns_right_and_casting_left_common_practice() -> None:
    # Soil thrown to the right: clockwise round a back furrow, the other way round in a cast land.
    layout = rectangle(60.0, 200.0, plow())
    for kind, sign in (("gather", -1), ("cast", 1)):
        land = Land(number=1, block=0, kind=kind, members=np.arange(6), right=3)  # type: ignore[arg-type]
        for turn in plan_land_route(layout, [land]).turns():
            heading = np.array([np.cos(turn.heading_rad), np.sin(turn.heading_rad)])
            across = turn.points()[-1] - turn.start_xy
            assert np.sign(heading[0] * across[1] - heading[1] * across[0]) == sign


# Exact travel


def test_turns_of_one_land_derived() -> None:
    # 6 passes of 10 m gathered: turns onto passes 10, 20, 30, 40 and 50 m away, radius 5 m. A square turn over d is
    # 5 pi + d - 10: 5 x 15.70796 + 0 + 10 + 20 + 30 + 40 = 178.540 m.
    layout = rectangle(60.0, 200.0, plow())
    route = plan_land_route(layout, lay_lands(layout.passes, chains_of(layout), [1], "gather"))
    assert sorted(round(turn.length_m - 5 * pi + 10, 6) for turn in route.turns()) == [10, 20, 30, 40, 50]
    assert route.length_m("turn") == pytest.approx(5 * 5 * pi + 100, abs=1e-6)
    assert route.length_m("travel") == 0


def test_turns_of_two_lands_derived() -> None:
    # 2 lands of 4 passes of 10 m, back furrows at 20 and 60 m: in each turns over 10, 20 and 30 m. The first is left
    # on its pass at 35 m, at the upper end; the second begins there on its pass at 55 m: a turn over 20 m. With
    # 5 pi + d - 10 each: 7 x 15.70796 + 2 x (0 + 10 + 20) + 10 = 179.956 m.
    layout = rectangle(80.0, 200.0, plow())
    route = plan_land_route(layout, lay_lands(layout.passes, chains_of(layout), [2], "gather"))
    assert route.length_m("turn") == pytest.approx(7 * 5 * pi + 70, abs=1e-6)
    assert route.length_m("travel") == 0


def test_loops_and_pull_out_of_a_land_derived() -> None:
    # 4 passes of 3 m, radius 6 m, pull-out 5 m: turns over 3, 6 and 9 m are all loops, r (pi + 4 acos((2r + d) / 4r)),
    # and each has 2 x 5 m of pull-out and run-in.
    layout = rectangle(12.0, 200.0, plow(3.0, turn_radius_m=6.0, pull_out_m=5.0))
    route = plan_land_route(layout, lay_lands(layout.passes, chains_of(layout), [1], "gather"))
    by_hand = sum(6 * (pi + 4 * acos((12 + d) / 24)) + 10 for d in (3, 6, 9))
    assert route.length_m("turn") == pytest.approx(by_hand, rel=1e-6)
    assert route.turns_by_kind() == {"loop": 3}


# The last strip


def test_a_narrow_last_strip_is_plowed_last_and_its_overlap_counted_derived() -> None:
    # 65 m for a plow of 10 m: 7 passes, the 7th 5 m wide on unplowed ground, 5 m x 200 m plowed twice.
    layout = rectangle(65.0, 200.0, plow(10.0, pull_out_m=0.0))
    passes = layout.passes
    assert int(passes.is_pulled.sum()) == 1
    lands = lay_lands(passes, chains_of(layout), [1], "gather")
    plan = plan_of(layout, lands)
    assert driven(plan.route)[-1][0] == int(np.flatnonzero(passes.is_pulled)[0])
    assert plan.coverage.overlap_by_cause_m2["last_pass"] == pytest.approx(5.0 * 200.0)
    assert plan.coverage.skip_m2 == pytest.approx(0.0, abs=1e-6)


def test_a_wedge_has_point_rows_in_its_lands() -> None:
    layout = layout_of(shapely.Polygon([(0, 0), (300, 0), (300, 60), (0, 260)]), plow(), direction_deg=0.0, rounds=0)
    lands = lay_lands(layout.passes, chains_of(layout), [4], "alternate")
    order = driven(plan_land_route(layout, lands))
    assert sorted(row for row, _ in order) == list(range(len(layout.passes)))
    assert thrown_wrong(layout.passes, order) == []
    lengths = layout.passes.length_m
    assert lengths.max() > 2 * lengths.min()


def test_lands_that_wait_for_each_other_are_plowed_in_stretches_derived() -> None:
    # A ditch on a slant, 30 m long along the passes and stepping 20 m for each pass of 10 m: 8 passes below it
    # and 8 above, each of these reaching 10 m past the next of the others. Both gathered, the forward half of the one
    # throws onto the other's, and the other way about in the halves driven back: neither can be plowed whole first.
    ditch = [(20, 100), (100, 260), (100, 290), (20, 130)]
    shape = shapely.Polygon([(0, 0), (120, 0), (120, 400), (0, 400)], [ditch])
    layout = layout_of(shape, plow(), direction_deg=0.0, rounds=0)
    chains = chains_of(layout)
    lands = lay_lands(layout.passes, chains, [1] * len(chains), "gather")
    route = plan_land_route(layout, lands)
    order = driven(route)
    assert [len(chain) for chain in chains] == [2, 8, 8, 2]
    assert sorted(row for row, _ in order) == list(range(20))
    assert [flag for _, flag in sorted(order)] == forward_flags(layout.passes, lands).tolist()
    assert thrown_wrong(layout.passes, order) == []
    # One half of one of them, the other whole, and the half that is left.
    assert sorted(len(each.passes) for each in route.orders) == [2, 2, 4, 4, 8]


def test_no_passes_wait_for_each_other_in_a_ring_derived() -> None:
    # Forward passes wait for passes to their right alone, those driven back for passes to their left.
    layout = layout_of(make_shape("slot", 5, 4, 0.0), plow(2.0), direction_deg=37.0, rounds=0)
    chains = chains_of(layout)
    lands = lay_lands(layout.passes, chains, [len(chain) // 2 for chain in chains], "alternate")
    forward = forward_flags(layout.passes, lands)
    strip = layout.passes.strip
    needs = needed_before(layout.passes, lands)
    assert sorted(needs) == list(range(len(layout.passes)))
    for row, its in needs.items():
        assert all(strip[before] - strip[row] == (-1 if forward[row] else 1) for before in its)
        assert all(forward[before] == forward[row] for before in its)


def plan_of(layout: Layout, lands: list[Land]) -> Plan:
    route = plan_land_route(layout, lands)
    return Plan(layout=layout, route=route, timeline=time_route(route))


def test_the_headland_is_plowed_last_inward_from_the_inside_out() -> None:
    layout = layout_of(shapely.box(0, 0, 200, 300), plow(), direction_deg=0.0, rounds=2)
    route = plan_land_route(layout, lay_lands(layout.passes, chains_of(layout), [3], "alternate"))
    works = [leg for leg in route.legs if leg.is_work]
    states = [leg.state for leg in works]
    assert states == sorted(states, key=lambda state: state == "headland")
    rounds = [layout.headland.runs[leg.number].round for leg in works if leg.state == "headland"]
    assert rounds == sorted(rounds, reverse=True)
    # The field lies on the right: the soil goes inward, into the furrows the lands leave open at the ends.
    outermost = [leg for leg in works if leg.state == "headland" and layout.headland.runs[leg.number].round == 1]
    middle = shapely.get_coordinates(layout.field.shape.centroid)[0]
    for leg in outermost:
        ahead = leg.points()[-1] - leg.points()[0]
        inward = middle - leg.points().mean(axis=0)
        assert ahead[0] * inward[1] - ahead[1] * inward[0] < 0


# What always holds


@settings(max_examples=60, deadline=None)
@given(
    shape=outlines(),
    direction_deg=st.one_of(st.sampled_from([0.0, 37.0, 90.0]), st.floats(0, 180)),
    width_m=st.sampled_from([2.0, 3.6576, 9.0]),
    rounds=st.integers(0, 2),
    share=st.floats(0, 1),
    pattern=st.sampled_from(PATTERNS),
)
# Two blocks side by side of which each waits for passes of the other.
@example(
    shape=make_shape(kind="slot", seed=5, corners=4, turn_deg=0.0), direction_deg=37.0, width_m=2.0, rounds=0,
    share=1.0, pattern="alternate",
)  # fmt: skip
def test_every_pass_is_plowed_once_and_on_the_right_side(
    shape: shapely.MultiPolygon, direction_deg: float, width_m: float, rounds: int, share: float, pattern: LandPattern
) -> None:
    layout = layout_of(shape, plow(width_m, pull_out_m=3.0), direction_deg=direction_deg % 180.0, rounds=rounds)
    passes = layout.passes
    chains = chains_of(layout)
    assert sorted(np.concatenate([*chains, np.empty(0, dtype=np.int64)]).tolist()) == list(range(len(passes)))
    counts = [1 + round(share * (max(1, len(chain) // 2) - 1)) for chain in chains]
    lands = lay_lands(passes, chains, counts, pattern)
    plan = plan_of(layout, lands)
    order = driven(plan.route)
    assert sorted(row for row, _ in order) == list(range(len(passes)))
    assert [flag for _, flag in sorted(order)] == forward_flags(passes, lands).tolist()
    assert plowed_wrong(passes, lands, [row for row, _ in order]) == []
    assert thrown_wrong(passes, order) == []
    hold_identities(plan)
    # Within a chain that nothing lies beside, there are as many furrows as the number of lands says.
    if len(chains) == 1 and len(chains[0]) > 1:
        kinds = [furrow.kind for furrow in find_furrows(passes, lands)]
        back, dead = furrow_counts(counts[0], pattern)
        assert kinds.count("back") <= back
        assert kinds.count("dead") <= dead


@settings(max_examples=20, deadline=None)
@given(wide_m=st.floats(60, 400), long_m=st.floats(50, 500), share=st.floats(0, 1), pattern=st.sampled_from(PATTERNS))
def test_a_rectangle_has_the_furrows_that_its_lands_say(
    wide_m: float, long_m: float, share: float, pattern: LandPattern
) -> None:
    layout = rectangle(wide_m, long_m, plow(4.0))
    (chain,) = chains_of(layout)
    count = 1 + round(share * (len(chain) // 2 - 1))
    lands = lay_lands(layout.passes, [chain], [count], pattern)
    found = find_furrows(layout.passes, lands)
    kinds = [furrow.kind for furrow in found]
    assert (kinds.count("back"), kinds.count("dead"), kinds.count("edge")) == (*furrow_counts(count, pattern), 2)
    assert [furrow.length_m for furrow in found] == pytest.approx([long_m] * len(found), abs=0.03)


def test_the_textbook_square_root_is_what_is_computed() -> None:
    assert land_width_m(run_m=2.0, plow_m=1.0, radius_m=0.0) == sqrt(4.0)
