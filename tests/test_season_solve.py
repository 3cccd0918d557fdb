"""The schedule of a season: cases solved by hand, and random ones held against every order tried."""

from dataclasses import replace
from itertools import permutations, product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldgeo.season.dispatch import dispatch
from fieldgeo.season.model import Operator, Placed, SeasonProblem
from fieldgeo.season.polish import order_price, polished
from fieldgeo.season.solve import Effort, solve_season
from tests.seasons import mode, problem, task, times
from tests.threads import more_threads_during


def test_the_dearer_field_first_derived() -> None:
    # Two fields, 10 h each, one planter, 10 h a day. A day of delay costs 1 on the first field and 3 on the second.
    # Second field first: it loses 0, the first one 1 x 1 = 1. The other way round: 3 x 1 = 3. So 1 is the least.
    cheap = task("a", mode(10), loss=[0, 1, 2, 3, 4])
    dear = task("b", mode(10), loss=[0, 3, 6, 9, 12])
    found = solve_season(problem(cheap, dear))
    assert times(found) == {0: (10.0, 20.0), 1: (0.0, 10.0)}
    assert (found.loss, found.bound, found.is_proven, found.left) == (pytest.approx(1), pytest.approx(1), True, ())


def test_work_over_two_days_loses_the_mean_of_its_hours_derived() -> None:
    # 15 h from the first hour: 10 h on day 0 (loss 0), 5 h on day 1 (loss 30): (10 x 0 + 5 x 30) / 15 = 10.
    found = solve_season(problem(task("a", mode(15), loss=[0, 30, 60])))
    assert found.loss == pytest.approx(10)


def test_the_way_and_the_change_of_tools_take_time_derived() -> None:
    # Places: farmstead, A at 1 h, B at 1 h, A to B 0.5 h; a change of tools 2 h. Disk A, then plant A with the same
    # tractor, and disk B. Disk A from 1 to 4, disk B from 4.5 to 7.5, home 8.5, change 10.5, A 11.5: planted by 13.5.
    # Planting before disking B: planting A takes from 8 (4 + 1 + 2 + 1) to 10, B is disked from 14 to 17. So the first.
    travel = ((0.0, 1.0, 1.0), (1.0, 0.0, 0.5), (1.0, 0.5, 0.0))
    disk_a = task("A", mode(3, "disk"), place=1, operation="disk")
    disk_b = task("B", mode(3, "disk"), place=2, operation="disk")
    plant_a = task("A", mode(2, "planter"), place=1, after=((0, 0),))
    found = solve_season(problem(disk_a, disk_b, plant_a, travel_h=travel, hitch_h=2.0))
    assert times(found) == {0: (1.0, 4.0), 1: (4.5, 7.5), 2: (11.5, 13.5)}


def test_one_operator_does_one_thing_at_a_time_derived() -> None:
    # Two machines, 5 h of work each: side by side with two operators, one after the other with one.
    work = task("a", mode(5, "disk", "big")), task("b", mode(5, "planter", "small"))
    assert max(end for _, end in times(solve_season(problem(*work))).values()) == 5
    one = solve_season(problem(*work, operators=[Operator(name="one")]))
    assert sorted(times(one).values()) == [(0.0, 5.0), (5.0, 10.0)]


def test_an_operator_drives_what_he_can_derived() -> None:
    # Both could work at once, but only "two" drives the planter and only he may drive the disk.
    work = task("a", mode(5, "disk", "big")), task("b", mode(5, "planter", "small"))
    operators = [Operator(name="one", drives=("combine",)), Operator(name="two", drives=("disk", "planter"))]
    found = solve_season(problem(*work, operators=operators))
    assert {each.operator for each in found.placed} == {"two"}
    assert sorted(times(found).values()) == [(0.0, 5.0), (5.0, 10.0)]


def test_days_between_operations_derived() -> None:
    # Planted on day 0, sprayed 3 days later at the soonest: day 3 begins at hour 30.
    first, then = task("a", mode(5)), task("a", mode(2, "sprayer", "sprayer"), operation="spray", after=((0, 3),))
    assert times(solve_season(problem(first, then)))[1] == (30.0, 32.0)


def test_the_quicker_tool_for_the_larger_field_derived() -> None:
    # One field of 10 h with the narrow tool, 6 h with the wide; another of 5 h or 3 h; a tractor for each tool.
    # Wide on the large field and narrow on the small one: done at 6 and at 5.
    both = [mode(10, "narrow", "small"), mode(6, "wide", "big")], [mode(5, "narrow", "small"), mode(3, "wide", "big")]
    found = solve_season(problem(task("large", *both[0]), task("little", *both[1])))
    assert times(found) == {0: (0.0, 6.0), 1: (0.0, 5.0)}


def test_a_season_that_cannot_be_done_leaves_the_least_derived() -> None:
    # 20 fit hours, fields of 12, 9 and 8 h: 12 and 8 fit, 9 h are left. With priority 1 the field of 9 h is done, and
    # the largest that still fits beside it is that of 8 h.
    fields = [task("a", mode(12), days=(0, 1)), task("b", mode(9), days=(0, 1)), task("c", mode(8), days=(0, 1))]
    found = solve_season(problem(*fields, fit_h=(10, 10)))
    assert found.left == (1,)
    assert found.is_proven
    fields[1] = task("b", mode(9), days=(0, 1), priority=1)
    assert solve_season(problem(*fields, fit_h=(10, 10))).left == (0,)


def test_what_follows_a_task_that_is_left_is_left_too_derived() -> None:
    first = task("a", mode(30), days=(0, 1), operation="disk")
    found = solve_season(problem(first, task("a", mode(1), after=((0, 0),)), task("b", mode(1), days=(8, 9))))
    assert found.left == (0, 1)


def test_spring_and_fall_are_solved_one_by_one_and_add_up() -> None:
    spring = [task(name, mode(10), days=(0, 3), loss=[0, 1, 2, 3, 4]) for name in "ab"]
    fall = [task(name, mode(10, "combine", "combine"), days=(6, 9), loss=[0] * 7 + [2, 4, 6]) for name in "ab"]
    found = solve_season(problem(*spring, *fall))
    assert found.loss == pytest.approx(1 + 2)
    assert found.is_proven


def test_the_same_seed_gives_the_same_schedule() -> None:
    tasks = [task(str(at), mode(3 + at % 4), loss=[at * day for day in range(10)]) for at in range(8)]
    one, other = (solve_season(problem(*tasks), effort=Effort(work=0.05)) for _ in range(2))
    assert one == other


def test_the_search_keeps_to_one_thread() -> None:
    late = [at * day for at, day in enumerate(range(10))]
    of = problem(*(task(str(at), mode(3 + at % 4), loss=late) for at in range(8)))
    more = more_threads_during(lambda: solve_season(of, effort=Effort(work=0.2)))
    assert more <= 2  # the solver's own, with its clock


def spring_of_fields(count: int) -> SeasonProblem:
    # A spring of two operations on each field, one driver, two tractors, ways between; planting loses by the day.
    rng = np.random.default_rng(7)
    spots = rng.uniform(0, 1, (count + 1, 2))
    travel = np.hypot(*(spots[:, None] - spots[None]).transpose(2, 0, 1)) / 2
    tasks = []
    for at in range(count):
        hours = float(rng.uniform(2, 9))
        ways = [mode(hours, "disk", name) for name in ("big", "small")]
        tasks.append(task(f"f{at}", *ways, operation="disk", place=at + 1, days=(0, 19)))
        ways = [mode(hours * 1.1, "planter", name) for name in ("big", "small")]
        loss = np.maximum(np.arange(20) - 2, 0) * rng.uniform(10, 60)
        tasks.append(task(f"f{at}", *ways, operation="plant", place=at + 1, loss=loss.tolist(), days=(0, 19)))
        spray = mode(1, "sprayer", "sprayer")
        tasks.append(task(f"f{at}", spray, operation="spray", place=at + 1, days=(0, 29)))
    tasks = [each for name in ("disk", "plant", "spray") for each in tasks if each.operation == name]
    numbers = {(each.operation, each.field): at for at, each in enumerate(tasks)}
    before = {"plant": ("disk", 0), "spray": ("plant", 2)}
    tasks = [
        replace(each, after=((numbers[before[each.operation][0], each.field], before[each.operation][1]),))
        if each.operation in before
        else each
        for each in tasks
    ]
    return problem(*tasks, fit_h=(8.0,) * 30, travel_h=travel, hitch_h=0.5, operators=[Operator(name="one")])


def test_the_price_of_an_order_is_that_of_the_dispatcher() -> None:
    of = spring_of_fields(4)
    order = [Placed(task=at, mode=of.tasks[at].modes[at % len(of.tasks[at].modes)], operator="one", start_h=0, end_h=0)
             for at in range(len(of.tasks))]  # fmt: skip
    run = dispatch(of, order)
    loss = sum(of.lost(of.tasks[at].loss, run.start_h[0, at], run.end_h[0, at]) for at in range(len(order)))
    assert order_price(of, [], order)[0] == pytest.approx(loss, abs=1e-3)
    rest = order[5:]
    after = [
        sum(of.lost(of.tasks[each.task].loss, run.start_h[0, each.task], run.end_h[0, each.task]) for each in rest)
    ]
    assert order_price(of, order[:5], rest)[0] == pytest.approx(after[0], abs=1e-3)
    late = problem(*(replace(each, last=1) for each in of.tasks), fit_h=(8.0,) * 30, travel_h=of.travel_h)
    assert np.isinf(order_price(late, [], order)[0])


def test_moves_find_the_least_of_every_order() -> None:
    # Four fields, disk and plant: every order of the fields, disk and plant one after the other on each, is not all
    # orders, but moves must do as well at least.
    of = spring_of_fields(4)
    start = [Placed(task=at, mode=of.tasks[at].modes[0], operator="one", start_h=0, end_h=0) for at in range(12)]
    found = polished(of, [], start)
    assert {each.task for each in found} == set(range(12))
    best = order_price(of, [], found)[0]
    for fields in permutations(range(4)):
        order = [at for field in fields for at in (field, 4 + field)] + [8 + field for field in fields]
        for ways in product((0, 1), repeat=2):
            placed = [
                Placed(task=at, mode=of.tasks[at].modes[ways[at // 4] if at < 8 else 0], operator="one", start_h=0,
                       end_h=0)
                for at in order
            ]  # fmt: skip
            assert best <= order_price(of, [], placed)[0] + 1e-6
    assert best < order_price(of, [], start)[0]
    assert polished(of, [], start) == found


def test_nothing_to_lose_is_done_as_early_as_it_can_be_derived() -> None:
    # One planter, 10 h and 5 h, nothing is lost: both are done by hour 15, and the last of the operation is at 15.
    found = solve_season(problem(task("a", mode(10)), task("b", mode(5))))
    assert sorted(end for _, end in times(found).values())[-1] == 15
    assert found.is_proven


def test_without_a_bound_hours_are_as_they_are() -> None:
    # 3.33 h is no whole tenth of an hour; the search goes by steps, the schedule must not.
    found = solve_season(problem(task("a", mode(3.33), loss=[0, 1, 2])), is_bounded=False)
    assert times(found) == {0: (0.0, 3.33)}


def test_dispatch_by_hand_derived() -> None:
    # Two fields of 6 h on days of 5, 0, 5, 5 fit hours: the first ends on the scale at 6, on the third day (0 h on the
    # second); the other at 12, on the fourth. In a season with 10, 0, 0, 0: the first on day 0, the other never.
    small = problem(task("a", mode(6), days=(0, 3)), task("b", mode(6), days=(0, 3)), fit_h=(5, 0, 5, 5))
    order = [Placed(task=at, mode=small.tasks[at].modes[0], operator="one", start_h=0, end_h=0) for at in (0, 1)]
    found = dispatch(small, order, [[5, 0, 5, 5], [10, 0, 0, 0]])
    assert found.last_day.tolist() == [[2, 3], [0, 4]]
    assert found.first_day.tolist() == [[0, 2], [0, 0]]
    assert found.end_h[0].tolist() == [6, 12]
    assert np.isinf(found.end_h[1, 1])


small_tasks = st.lists(
    st.tuples(st.integers(1, 8), st.integers(0, 3), st.integers(0, 9), st.booleans()), min_size=2, max_size=4
)


def brute_force(of: SeasonProblem) -> float:
    """Return the least loss of any order and any modes, each task as early as it can be within its window."""
    best = np.inf
    for order in permutations(range(len(of.tasks))):
        for modes in product(*[of.tasks[at].modes for at in order]):
            placed = [
                Placed(task=at, mode=each, operator=each.carrier, start_h=0, end_h=0)
                for at, each in zip(order, modes, strict=True)
            ]
            if any({other for other, _ in of.tasks[at].after} - set(order[:place]) for place, at in enumerate(order)):
                continue
            run = dispatch(of, placed)
            if any(run.last_day[0, at] > of.tasks[at].last for at in order):
                continue
            best = min(best, sum(of.lost(of.tasks[at].loss, run.start_h[0, at], run.end_h[0, at]) for at in order))
    return best


@settings(max_examples=6, deadline=None)
@given(small_tasks, st.integers(0, 2), st.booleans())
def test_random_small_seasons_against_every_order(
    drawn: list[tuple[int, int, int, bool]], way: int, follows: bool
) -> None:
    travel = np.ones((len(drawn) + 1,) * 2) * way / 2
    np.fill_diagonal(travel, 0)
    tasks = [
        task(
            str(at), mode(hours, "one", "first"), *([mode(hours + 1, "two", "second")] if has_two else []),
            days=(first, 9), loss=[rate * day for day in range(10)], place=at + 1,
            after=((at - 1, 0),) if follows and at == 1 else (),
        )
        for at, (hours, first, rate, has_two) in enumerate(drawn)
    ]  # fmt: skip
    of = problem(*tasks, fit_h=[4, 6, 0, 5, 5, 5, 5, 5, 5, 5], travel_h=travel, hitch_h=way / 2)
    found = solve_season(of)
    assert found.is_proven
    assert not found.left
    assert found.loss == pytest.approx(brute_force(of), abs=0.05)
    assert found.bound <= found.loss
    check_identities(of, found.placed)


def check_identities(of: SeasonProblem, placed: tuple[Placed, ...]) -> None:
    """No tool, carrier or operator in two places; order within each field; windows; hours add up."""
    ends = {each.task: each.end_h for each in placed}
    for at, each in enumerate(placed):
        work = of.tasks[each.task]
        assert each.end_h == pytest.approx(each.start_h + each.mode.hours)
        assert each.mode in work.modes
        assert of.start_h[work.first] - 1e-6 <= each.start_h
        assert each.end_h <= of.start_h[work.last + 1] + 1e-6
        assert all(ends[other] <= each.start_h + 1e-6 for other, _ in work.after)
        for other in placed[at + 1 :]:
            shared = {each.mode.tool, each.mode.carrier} & {other.mode.tool, other.mode.carrier}
            if shared:
                gap = of.gap_h((each.task, each.mode), (other.task, other.mode))
                assert each.end_h + gap <= other.start_h + 1e-6
            if each.operator == other.operator:
                assert each.end_h <= other.start_h + 1e-6


@settings(max_examples=40, deadline=None)
@given(st.lists(st.integers(1, 8), min_size=1, max_size=6), st.integers(0, 2**32 - 1))
def test_a_longer_day_never_makes_a_task_later(hours: list[int], seed: int) -> None:
    rng = np.random.default_rng(seed)
    fit = rng.integers(0, 9, 10).astype(float)
    more = fit + rng.integers(0, 3, 10) * (fit > 0)
    tasks = [
        task(str(at), mode(hour, str(at % 2), str(at % 3)), after=((at - 1, at % 3),) if at % 2 else ())
        for at, hour in enumerate(hours)
    ]
    of = problem(*tasks)
    order = [Placed(task=at, mode=each.modes[0], operator="x", start_h=0, end_h=0) for at, each in enumerate(of.tasks)]
    one, other = dispatch(of, order, fit), dispatch(of, order, more)
    assert (other.last_day <= one.last_day).all()
