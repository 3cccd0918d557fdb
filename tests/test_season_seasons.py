"""Many wet and dry seasons, against closed forms and rules that always hold."""

import json
from datetime import date, timedelta
from math import comb, sqrt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fieldgeo.errors import InputError
from fieldgeo.report.season_weather_text import simulation_lines, simulation_notes, weather_lines, weather_notes
from fieldgeo.season.dispatch import dispatch
from fieldgeo.season.model import Mode, Operator, Placed, Schedule, SeasonProblem, Task
from fieldgeo.season.simulate import Simulation, simulate, simulation_steps, whole_order
from fieldgeo.season.weather import climate_of, weather_on
from fieldgeo.season.weather_figures import simulation_figures, weather_figures

FIRST = date(2026, 4, 6)  # a Monday
SEASONS = 8000


def task(
    operation: str, hours: float, *, first: int = 0, last: int, days: int, daily: float = 0.0,
    machine: str = "planter", after: tuple[tuple[int, int], ...] = (),
) -> Task:  # fmt: skip
    loss = daily * np.arange(days, dtype=float)
    return Task(
        operation=operation, field="Home", place=1, area_m2=1.0, first=first, last=last, after=after, loss=loss,
        loss_bu=loss / 4, modes=(Mode(tool=machine, carrier=f"tractor of {machine}", hours=hours),),
    )  # fmt: skip


def problem(*tasks: Task, days: int, share: float = 0.5, operators: int = 1) -> SeasonProblem:
    return SeasonProblem(
        days=tuple(FIRST + timedelta(days=number) for number in range(days)), fit_h=np.full(days, 10 * share),
        hours_a_day=10.0, tasks=tasks, places=("farmstead", "Home"), travel_h=np.zeros((2, 2)), hitch_h=0.0,
        operators=tuple(Operator(name=f"driver {number}") for number in range(operators)),
    )  # fmt: skip


def one_by_one(made: SeasonProblem, *, left: tuple[int, ...] = ()) -> Schedule:
    at, placed = 0.0, []
    for number, each in enumerate(made.tasks):
        if number not in left:
            mode = each.modes[0]
            name = made.operators[number % len(made.operators)].name
            placed.append(Placed(task=number, mode=mode, operator=name, start_h=at, end_h=at + mode.hours))
            at += mode.hours
    return Schedule(placed=tuple(placed), left=left, loss=0.0, bound=0.0, is_proven=False)


def seasons(
    made: SeasonProblem, share: float, persistence: float = 0.0, count: int = SEASONS, seed: int = 1
) -> Simulation:
    weather = weather_on(climate_of(share=share, persistence=persistence), made.days)
    return simulate(made, one_by_one(made), weather, seasons=count, seed=seed)


def test_chance_of_one_machine_on_independent_days_is_the_binomial_tail() -> None:
    """Derived: 80 h in days of 10 h need 8 of 14 days at 0.6: 0.692452."""
    made = problem(task("plant", 80, last=13, days=14), days=14)
    (row,) = seasons(made, 0.6).operations
    tail = sum(comb(14, k) * 0.6**k * 0.4 ** (14 - k) for k in range(8, 15))
    assert tail == pytest.approx(0.692452, abs=1e-6)
    assert row.chance == pytest.approx(tail, abs=4 * row.chance_error)
    assert row.chance_error == pytest.approx(sqrt(tail * (1 - tail) / SEASONS), rel=0.02)


def test_loss_of_one_machine_on_independent_days_is_the_closed_form() -> None:
    # derived: the j-th fit day falls on day j / p in the mean, counted from 1; the loss is 1 for each day after the
    # first, over the k fit days of the work: (k + 1) / (2 p) - 1 = 11 - 1 with k = 10 and p = 0.5
    made = problem(task("plant", 100, last=30, days=200, daily=1.0), days=200)
    found = seasons(made, 0.5)
    assert found.unfinished == 0
    assert found.loss.value == pytest.approx(10.0, abs=4 * found.loss.error)
    assert found.loss_bu.value == pytest.approx(found.loss.value / 4)
    # derived: binomial tails of 10 or more of n days at 0.5: 0.090 and 0.151 with n = 14 and 15, 0.5 with 19, 0.885 and
    # 0.916 with 25 and 26; a median that falls between two days may be either
    (row,) = found.operations
    assert row.early == FIRST + timedelta(days=14)
    assert row.median in {FIRST + timedelta(days=18), FIRST + timedelta(days=19)}
    assert row.late == FIRST + timedelta(days=25)


def test_an_hour_more_is_worth_what_the_closed_form_says() -> None:
    # derived: 110 h are 11 days of 10 h and 10 of 11 h; the loss falls by ((11 + 1) - (10 + 1)) / (2 p) = 1 with
    # p = 0.5, and the last day by 1 / p = 2 days
    made = problem(task("plant", 110, last=0, days=200, daily=1.0), days=200)
    found = seasons(made, 0.5)
    assert found.bottleneck is not None
    assert (found.bottleneck.kind, found.bottleneck.name) == ("tool", "planter")
    assert found.bottleneck.worth.value == pytest.approx(1.0, abs=4 * found.bottleneck.worth.error)
    assert found.bottleneck.days_sooner.value == pytest.approx(2.0, abs=4 * found.bottleneck.days_sooner.error)
    # the same seasons for both: the error of the difference is far below that of the loss itself
    assert found.bottleneck.worth.error < found.loss.error / 3


def test_clinging_days_widen_the_spread_and_leave_the_mean_of_fit_days() -> None:
    made = problem(task("plant", 200, last=40, days=60, daily=1.0), days=60)
    loose, clinging = seasons(made, 0.5, 0.0), seasons(made, 0.5, 0.6)
    assert clinging.fit_days.value == pytest.approx(loose.fit_days.value, abs=0.3)
    assert clinging.fit_days.error > 1.7 * loose.fit_days.error  # derived: sqrt((1 + r) / (1 - r)) = 2, less the ends
    (one,), (other,) = loose.operations, clinging.operations
    assert one.chance == pytest.approx(0.59, abs=0.05)
    assert abs(other.chance - 0.5) < abs(one.chance - 0.5)


def test_the_machine_with_the_work_is_the_bottleneck() -> None:
    made = problem(
        task("disk", 20, last=10, days=80, machine="disk"),
        task("plant", 100, last=12, days=80, daily=1.0, after=((0, 0),)), days=80, operators=2,
    )  # fmt: skip
    found = seasons(made, 0.6, 0.5, count=2000)
    assert [(row.kind, row.name) for row in found.hours_more][:1] == [("tool", "planter")]
    assert {(row.kind, row.name, row.beside) for row in found.hours_more} == {
        ("tool", "planter", "tractor of planter"), ("tool", "disk", "tractor of disk"), ("operator", "driver 0", ""),
        ("operator", "driver 1", ""),
    }  # fmt: skip
    assert found.all_in_time <= min(row.in_time for row in found.operations)


def test_work_that_is_left_is_told_and_has_no_date() -> None:
    made = problem(task("plant", 90, last=9, days=10, daily=1.0), days=10)
    found = seasons(made, 0.3, count=500)
    (row,) = found.operations
    assert found.unfinished >= 495
    assert row.chance < 0.01
    assert row.median is None


def test_dry_season_does_what_the_schedule_leaves() -> None:
    made = problem(
        task("disk", 40, last=9, days=30, machine="disk"), task("plant", 60, last=11, days=30, after=((0, 0),)),
        task("row", 10, first=15, last=29, days=30, machine="row cultivator", after=((1, 0),)), days=30,
    )  # fmt: skip
    schedule = one_by_one(made, left=(1,))
    assert [each.task for each in whole_order(made, schedule)] == [0, 1, 2]
    weather = weather_on(climate_of(share=1.0, persistence=0.0), made.days)
    found = simulate(made, schedule, weather, seasons=3)
    assert found.all_in_time == 3
    assert [row.median for row in found.operations] == [made.days[3], made.days[9], made.days[15]]
    assert found.bottleneck is None


def test_answer_of_many_seasons_in_words_and_figures() -> None:
    made = problem(
        task("disk", 60, last=20, days=80, machine="disk"),
        task("plant corn", 100, last=32, days=80, daily=100.0, after=((0, 0),)), days=80, operators=2,
    )  # fmt: skip
    weather = weather_on(climate_of(region="central Illinois"), made.days)
    figures = simulation_figures(simulate(made, one_by_one(made), weather, seasons=200))
    json.dumps(figures, allow_nan=False)
    lines = [*weather_lines(weather_figures(weather)), *simulation_lines(figures), *simulation_notes(figures)]
    assert max(map(len, lines)) <= 80
    text = " ".join(" ".join(lines).split())
    assert "200 seasons drawn (seed 1): everything in time in" in text
    assert "fit days 44 of 80 in the mean, Apr 6 to Jun 24" in text
    assert "with tractor of" in text
    assert figures["bottleneck"]["beside"].startswith("tractor of")
    assert any("recalled from memory with real doubt" in note for note in weather_notes(weather_figures(weather)))
    dry = simulate(made, one_by_one(made), weather_on(climate_of(share=1.0), made.days), seasons=2)
    assert dry.bottleneck is not None  # work before its loss begins is none; planting loses by the day
    late = simulate(made, one_by_one(made), weather_on(climate_of(share=0.01), made.days), seasons=5)
    said = [*simulation_lines(simulation_figures(late)), *simulation_notes(simulation_figures(late))]
    assert any("not done" in line for line in said)
    assert any("caution: in 100 % of the seasons" in line for line in said)


def test_days_off_have_no_hours() -> None:
    made = problem(task("plant", 70, last=29, days=30), days=30)
    weather = weather_on(climate_of(share=1.0), made.days)
    found = simulate(made, one_by_one(made), weather, seasons=2, days_off=(6,))
    assert found.operations[0].median == FIRST + timedelta(days=7)  # Monday to Saturday, and Monday
    assert found.fit_days.value == 26


def test_the_same_seed_gives_the_same_answer_and_another_another() -> None:
    made = problem(task("plant", 100, last=30, days=60, daily=1.0), days=60)
    first, again, other = (seasons(made, 0.5, 0.5, count=300, seed=seed) for seed in (4, 4, 5))
    assert first.loss == again.loss
    assert first.operations == again.operations
    assert first.loss != other.loss


def test_progress_is_told_as_often_as_said() -> None:
    made = problem(task("plant", 10, last=30, days=60), days=60)
    weather = weather_on(climate_of(share=0.5), made.days)
    told: list[int] = []
    simulate(made, one_by_one(made), weather, seasons=601, progress=lambda: told.append(1))
    assert len(told) == simulation_steps(601) == 3


def test_what_cannot_be_is_refused() -> None:
    made = problem(task("plant", 10, last=30, days=60), days=60)
    weather = weather_on(climate_of(share=0.5), made.days)
    with pytest.raises(InputError, match="It must be from 1 to 100,000"):
        simulate(made, one_by_one(made), weather, seasons=0)
    with pytest.raises(InputError, match="other days"):
        simulate(made, one_by_one(made), weather_on(climate_of(share=0.5), made.days[1:]))
    with pytest.raises(InputError, match="a seed from 0"):
        simulate(made, one_by_one(made), weather, seed=-1)


@given(
    st.lists(st.floats(1, 60), min_size=1, max_size=6), st.integers(0, 2**32 - 1), st.floats(0.1, 0.9),
    st.integers(1, 2), st.integers(0, 3),
)  # fmt: skip
def test_more_fit_days_never_finish_later(
    hours: list[float], seed: int, share: float, operators: int, wait: int
) -> None:
    rng = np.random.default_rng(seed)
    days = 40
    tasks = [
        task(f"work {at}", each, first=int(rng.integers(0, 20)), last=39, days=days, daily=1.0,
             machine=f"tool {rng.integers(0, 3)}", after=((at - 1, wait),) if at and rng.random() < 0.5 else ())
        for at, each in enumerate(hours)
    ]  # fmt: skip
    made = problem(*tasks, days=days, operators=operators)
    fit = rng.random((20, days)) < share
    drier = fit | (rng.random((20, days)) < 0.3)
    order = one_by_one(made).order
    wet, dry = (dispatch(made, order, 10.0 * each) for each in (fit, drier))
    assert (dry.last_day <= wet.last_day).all()


@given(st.floats(0.2, 0.8), st.floats(0, 0.8))
def test_an_hour_more_never_does_harm(share: float, persistence: float) -> None:
    made = problem(
        task("disk", 30, last=10, days=50, machine="disk", daily=0.5),
        task("plant", 80, last=20, days=50, daily=1.0, after=((0, 1),)), days=50, operators=2,
    )  # fmt: skip
    for row in seasons(made, share, persistence, count=60).hours_more:
        assert row.worth.value >= -1e-9
        assert row.days_sooner.value >= 0
