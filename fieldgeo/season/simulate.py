"""Many wet and dry seasons: the chance of finishing each operation in time, what lateness costs, the bottleneck.

Seasons are drawn day by day from the weather, the work is dispatched through each of them in the order of the schedule,
and what is asked of the machines, an hour more a day, is tried on the very same seasons.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, replace
from heapq import heapify, heappop, heappush
from typing import TYPE_CHECKING, Final, Literal, TypeAlias

import numpy as np

from fieldgeo.errors import InputError
from fieldgeo.season.dispatch import Dispatched, dispatch
from fieldgeo.season.model import Placed
from fieldgeo.season.wet_spells import draw_seasons

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence
    from datetime import date

    from numpy.typing import NDArray

    from fieldgeo.frame import FloatArray
    from fieldgeo.season.model import Schedule, SeasonProblem
    from fieldgeo.season.weather import Weather

ResourceKind: TypeAlias = Literal["tool", "carrier", "operator"]
USUAL_SEASONS: Final = 1000
MOST_SEASONS: Final = 100_000  # own choice: beyond it the weather's own doubt is far greater than that of the draw
_CHUNK: Final = 250  # seasons dispatched at a time
MORE_H: Final = 1.0  # what is tried on each machine, a day [h]


@dataclass(frozen=True, slots=True, kw_only=True)
class OperationChance:
    """How one operation fares over the seasons; dates are None where it is not finished within the season."""

    operation: str
    last: date  # last day of its window
    in_time: int  # seasons in which all of it is finished by then
    seasons: int
    early: date | None  # in a tenth of the seasons it is finished by then
    median: date | None
    late: date | None  # in nine tenths of them

    @property
    def chance(self) -> float:
        """Share of seasons in which it is finished within its window. [-]"""
        return self.in_time / self.seasons

    @property
    def chance_error(self) -> float:
        """Standard error of the share, by the number of seasons alone. [-]"""
        return float(np.sqrt(self.chance * (1 - self.chance) / self.seasons))


@dataclass(frozen=True, slots=True, kw_only=True)
class Mean:
    """A mean over seasons, with its standard error."""

    value: float
    error: float


@dataclass(frozen=True, slots=True, kw_only=True)
class HourMore:
    """What an hour more a day of one machine or operator is worth, tried on the same seasons."""

    kind: ResourceKind
    name: str
    beside: str  # the carrier of a tool that has these tasks too, and no others; or nothing
    tasks: int  # that it has
    worth: Mean  # less lost in a season [money]
    worth_bu: Mean  # the same in bushels [bu]
    days_sooner: Mean  # days that its tasks are less beyond their windows, summed over tasks [days]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Simulation:
    """What many seasons show."""

    seasons: int
    seed: int
    weather: Weather
    operations: tuple[OperationChance, ...]
    all_in_time: int  # seasons in which everything is finished within its window
    unfinished: int  # seasons at whose end something is not done
    loss: Mean  # by lateness [money]
    loss_bu: Mean  # [bu]
    fit_days: Mean
    hours_more: tuple[HourMore, ...]  # the most worth first

    @property
    def bottleneck(self) -> HourMore | None:
        """The tool, tractor or machine of which an hour more is worth most; None where nothing is gained by any."""
        machines = [each for each in self.hours_more if each.kind != "operator"]
        gains = [each for each in machines if each.worth.value > 0 or each.days_sooner.value > 0]
        return gains[0] if gains else None


def simulation_steps(seasons: int) -> int:
    """Return how often `simulate` reports on its way.

    Parameters
    ----------
    seasons : int
        Number of seasons.
    """
    return -(-seasons // _CHUNK)


def simulate(
    problem: SeasonProblem,
    schedule: Schedule,
    weather: Weather,
    *,
    seasons: int = USUAL_SEASONS,
    seed: int = 1,
    days_off: Sequence[int] = (),
    progress: Callable[[], None] | None = None,
) -> Simulation:
    """Return how a schedule fares in many drawn seasons.

    Parameters
    ----------
    problem : SeasonProblem
        Days, tasks, places, travel times.
    schedule : Schedule
        Machines and order of the work; tasks that it leaves undone are tried too, see `whole_order`.
    weather : Weather
        Of the days of the problem.
    seasons : int
        How many, 1 to `MOST_SEASONS`.
    seed : int
        The same seed gives the same seasons.
    days_off : sequence of int
        Days of the week without work, Monday is 0.
    progress : callable, optional
        Called `simulation_steps` times.

    Raises
    ------
    InputError
        If the weather is that of other days, or seasons or seed cannot be used.

    Notes
    -----
    A fit day gives the hours of a whole fit day, any other none. Work that is not done at the end of the season is
    counted as done on its last day: what is lost is then told too low, and `unfinished` says in how many seasons. An
    hour more a day of a machine is its tasks done in H / (H + 1) of the time.
    """
    if weather.days != problem.days:
        raise InputError("seasons: the weather is that of other days than the season's.")
    if not 1 <= seasons <= MOST_SEASONS:
        raise InputError(f"seasons: got {seasons}. It must be from 1 to {MOST_SEASONS:,}.")
    fit = draw_seasons(weather.chain, seasons, seed=seed)
    works = np.array([day.weekday() not in days_off for day in problem.days])
    order = whole_order(problem, schedule)
    resources = _resources_of(order)
    plain: deque[_Outcome] = deque()
    more: dict[tuple[ResourceKind, str], deque[_Outcome]] = {each: deque() for each in resources}
    for start in range(0, seasons, _CHUNK):
        calendar = _Calendar(problem, np.where(fit[start : start + _CHUNK] & works, problem.hours_a_day, 0.0))
        plain.append(calendar.outcome(order))
        for each, outcomes in more.items():
            outcomes.append(calendar.outcome(_quickened(order, each, problem.hours_a_day)))
        if progress is not None:
            progress()
    base = _joined(plain)
    rows = [_hour_more(each, resources[each], base, _joined(outcomes)) for each, outcomes in more.items()]
    in_time = base.last_day <= np.array([task.last for task in problem.tasks])
    return Simulation(
        seasons=seasons, seed=seed, weather=weather, operations=tuple(_operations(problem, base, in_time)),
        all_in_time=int(in_time.all(axis=1).sum()),
        unfinished=int((base.last_day >= len(problem.days)).any(axis=1).sum()), loss=_mean(base.loss),
        loss_bu=_mean(base.loss_bu), fit_days=_mean((fit & works).sum(axis=1).astype(float)),
        hours_more=tuple(sorted(rows, key=lambda row: (-row.worth.value, -row.days_sooner.value))),
    )  # fmt: skip


def whole_order(problem: SeasonProblem, schedule: Schedule) -> tuple[Placed, ...]:
    """Return the order of a schedule with the tasks in it that it leaves undone.

    Parameters
    ----------
    problem : SeasonProblem
        Tasks and operators.
    schedule : Schedule
        Its order is kept.

    Notes
    -----
    What does not fit into the hours that were planned with may well be done in a drier season. A task that is left
    stands where its window ends, in its quickest way, with the first operator who can drive it.
    """
    placed = {each.task: each for each in schedule.order}
    for at in schedule.left:
        task = problem.tasks[at]
        ways = [
            (mode, operator.name)
            for mode in sorted(task.modes, key=lambda mode: mode.hours)
            for operator in problem.operators
            if not operator.drives or {mode.tool, mode.carrier} & set(operator.drives)
        ]
        if ways:
            end_h = float(problem.start_h[task.last + 1])
            mode, name = ways[0]
            placed[at] = Placed(task=at, mode=mode, operator=name, start_h=end_h, end_h=end_h + mode.hours)
    place = {each.task: number for number, each in enumerate(schedule.order)}
    waits = {at: {other for other, _ in problem.tasks[at].after} for at in placed}
    ready = [(placed[at].start_h, place.get(at, len(place)), at) for at, others in waits.items() if not others]
    heapify(ready)
    found: list[Placed] = []
    done: set[int] = set()
    while ready:
        at = heappop(ready)[2]
        found.append(placed[at])
        done.add(at)
        for other, others in waits.items():
            if at in others and others <= done:
                heappush(ready, (placed[other].start_h, place.get(other, len(place)), other))
    return tuple(found)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Outcome:
    last_day: NDArray[np.int64]  # shape (S, T)
    late_days: FloatArray  # beyond the windows, summed over tasks, shape (S,)
    loss: FloatArray  # shape (S,)
    loss_bu: FloatArray  # shape (S,)


class _Calendar:
    """Drawn seasons, with what work on each day of them has lost so far: it is the same whatever machines are tried."""

    def __init__(self, problem: SeasonProblem, hours: FloatArray) -> None:
        self._problem, self._hours = problem, hours
        self._before_h = _summed(hours)
        self._lost: dict[bytes, FloatArray] = {}  # by the form of a loss over the days, up to 1

    def outcome(self, order: Sequence[Placed]) -> _Outcome:
        """Return what comes of an order in each season."""
        done = dispatch(self._problem, order, self._hours)
        late = np.maximum(done.last_day - np.array([task.last for task in self._problem.tasks]), 0)
        loss, loss_bu = np.zeros(len(self._hours)), np.zeros(len(self._hours))
        for at, task in enumerate(self._problem.tasks):
            known: dict[bytes, FloatArray] = {}
            for by_day, total in ((task.loss, loss), (task.loss_bu, loss_bu)):
                most = float(by_day.max())
                if most > 0:
                    form = np.round(by_day / most, 12)
                    key = form.tobytes()
                    if key not in known:
                        known[key] = self._mean_lost(done, at, form, key)
                    np.add(total, most * known[key], out=total)
        return _Outcome(last_day=done.last_day, late_days=late.sum(axis=1).astype(float), loss=loss, loss_bu=loss_bu)

    def _mean_lost(self, done: Dispatched, at: int, form: FloatArray, key: bytes) -> FloatArray:
        """Return what a task loses in each season: the mean over its hours, as `SeasonProblem.lost` has it."""
        if key not in self._lost:
            self._lost[key] = _summed(form * self._hours)
        summed, lost = self._lost[key], np.full(len(self._hours), form[-1])
        rows = np.flatnonzero(np.isfinite(done.end_h[:, at]))
        edges = []
        for day, hour in ((done.first_day, done.start_h), (done.last_day, done.end_h)):
            days = day[rows, at]
            edges.append(summed[rows, days] + form[days] * (hour[rows, at] - self._before_h[rows, days]))
        lost[rows] = (edges[1] - edges[0]) / (done.end_h[rows, at] - done.start_h[rows, at])
        return lost


def _summed(values: FloatArray) -> FloatArray:
    return np.concatenate([np.zeros((len(values), 1)), np.cumsum(values, axis=1)], axis=1)


def _joined(outcomes: Sequence[_Outcome]) -> _Outcome:
    return _Outcome(
        last_day=np.concatenate([each.last_day for each in outcomes]),
        late_days=np.concatenate([each.late_days for each in outcomes]),
        loss=np.concatenate([each.loss for each in outcomes]),
        loss_bu=np.concatenate([each.loss_bu for each in outcomes]),
    )


def _resources_of(order: Sequence[Placed]) -> dict[tuple[ResourceKind, str], tuple[int, str]]:
    """Return every tool, carrier and operator with the number of its tasks, and what stands beside it.

    A carrier that draws one tool only, and alone draws it, stands beside that tool.
    """
    tasks: dict[tuple[ResourceKind, str], set[int]] = {}
    for each in order:
        for resource in _taken(each):
            tasks.setdefault(resource, set()).add(each.task)
    beside: dict[tuple[ResourceKind, str], str] = {
        (kind, name): other
        for (kind, name), own in tasks.items()
        for (other_kind, other), others in tasks.items()
        if kind == "tool" and other_kind == "carrier" and own == others
    }
    return {
        resource: (len(own), beside.get(resource, ""))
        for resource, own in tasks.items()
        if not (resource[0] == "carrier" and resource[1] in beside.values())
    }


def _taken(placed: Placed) -> Iterator[tuple[ResourceKind, str]]:
    yield "tool", placed.mode.tool
    if placed.mode.carrier != placed.mode.tool:
        yield "carrier", placed.mode.carrier
    yield "operator", placed.operator


def _quickened(order: Sequence[Placed], resource: tuple[ResourceKind, str], hours_a_day: float) -> list[Placed]:
    share = hours_a_day / (hours_a_day + MORE_H)
    return [
        replace(each, mode=replace(each.mode, hours=each.mode.hours * share)) if resource in _taken(each) else each
        for each in order
    ]


def _hour_more(resource: tuple[ResourceKind, str], has: tuple[int, str], base: _Outcome, quick: _Outcome) -> HourMore:
    return HourMore(
        kind=resource[0], name=resource[1], beside=has[1], tasks=has[0], worth=_mean(base.loss - quick.loss),
        worth_bu=_mean(base.loss_bu - quick.loss_bu), days_sooner=_mean(base.late_days - quick.late_days),
    )  # fmt: skip


def _operations(problem: SeasonProblem, base: _Outcome, in_time: NDArray[np.bool_]) -> Iterator[OperationChance]:
    for name in dict.fromkeys(task.operation for task in problem.tasks):
        own = [at for at, task in enumerate(problem.tasks) if task.operation == name]
        last = base.last_day[:, own].max(axis=1)
        early, median, late = np.quantile(last, [0.1, 0.5, 0.9], method="inverted_cdf").astype(int)
        yield OperationChance(
            operation=name, last=problem.days[max(problem.tasks[at].last for at in own)],
            in_time=int(in_time[:, own].all(axis=1).sum()), seasons=len(last), early=_date(problem, early),
            median=_date(problem, median), late=_date(problem, late),
        )  # fmt: skip


def _date(problem: SeasonProblem, day: int) -> date | None:
    return problem.days[day] if day < len(problem.days) else None


def _mean(values: FloatArray) -> Mean:
    error = float(values.std(ddof=1) / np.sqrt(values.size)) if values.size > 1 else 0.0
    return Mean(value=float(values.mean()), error=error)
