"""Which tool, tractor or operator holds a season up: what an hour a day more of it is worth."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from fieldgeo.season.dispatch import dispatch
from fieldgeo.season.plan import operations_done, resources_of
from fieldgeo.season.solve import DEFAULT_EFFORT, Effort, solve_season

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from fieldgeo.season.model import Placed, Schedule, SeasonProblem
    from fieldgeo.season.plan import ResourceKind

MORE_H: Final = 1.0  # that is tried, a day [h]
SEARCHED: Final = 2  # machines for which the schedule is searched for again, those of most worth


@dataclass(frozen=True, slots=True, kw_only=True)
class HourWorth:
    """What an hour a day more of one machine or operator is worth in the planned days.

    Parameters
    ----------
    kind, name : str
        Which.
    loss_less : float
        Less lost by lateness, > 0 is a gain. [money]
    left_h_less : float
        Less field time left undone. [h]
    days_sooner : int
        Days by which the operation that gains most is done sooner. [d]
    operation : str
        That operation; empty where none is done sooner.
    is_searched : bool
        Whether a schedule was searched for again; otherwise the order of the work is kept, and more may be gained.
    """

    kind: ResourceKind
    name: str
    loss_less: float
    left_h_less: float
    days_sooner: int
    operation: str
    is_searched: bool

    @property
    def rank(self) -> tuple[float, float, int]:
        """What is compared: hours left, money, days."""
        return self.left_h_less, round(self.loss_less, 2), self.days_sooner


def hours_worth(
    problem: SeasonProblem,
    schedule: Schedule,
    *,
    effort: Effort = DEFAULT_EFFORT,
    progress: Callable[[], None] = lambda: None,
) -> list[HourWorth]:
    """Return what an hour a day more of each machine and operator is worth, the most first.

    Parameters
    ----------
    problem : SeasonProblem
        Tasks and calendar.
    schedule : Schedule
        Its schedule.
    effort : Effort
        Work and seed of the solver.
    progress : callable
        Called `SEARCHED` times.

    Notes
    -----
    A machine with an hour more in a day of H does its tasks in H / (H + 1) of the time. All are tried with the order of
    the work kept; for the tools and tractors of most worth, and those that hold up what is left undone, the schedule
    is searched for again.
    """
    share = problem.hours_a_day / (problem.hours_a_day + MORE_H)
    rows: dict[tuple[ResourceKind, str], HourWorth] = {}
    for resource in dict.fromkeys(each for placed in schedule.placed for each in resources_of(placed)):
        rows[resource] = _order_kept(problem, schedule, resource, share)
    machines = [resource for resource in _of_left(problem, schedule) if resource[0] != "operator"]
    machines += sorted((each for each in rows if each[0] != "operator"), key=lambda each: rows[each].rank, reverse=True)
    for resource in list(dict.fromkeys(machines))[:SEARCHED]:
        again = _searched(problem, schedule, resource, share, effort)
        kept = rows.get(resource)
        if kept is None or again.rank > kept.rank:
            rows[resource] = again
        progress()
    return sorted(rows.values(), key=lambda row: row.rank, reverse=True)


def quickened(problem: SeasonProblem, resource: tuple[ResourceKind, str], share: float) -> SeasonProblem:
    """Return a problem in which a tool or carrier does its tasks in a share of the time.

    Parameters
    ----------
    problem : SeasonProblem
        Tasks.
    resource : tuple of str
        Kind and name.
    share : float
        Of the hours that its tasks take, > 0. [-]
    """
    kind, name = resource
    tasks = tuple(
        replace(
            task,
            modes=tuple(
                replace(mode, hours=mode.hours * share) if getattr(mode, kind) == name else mode for mode in task.modes
            ),
        )
        for task in problem.tasks
    )
    return replace(problem, tasks=tasks)


def _order_kept(
    problem: SeasonProblem, schedule: Schedule, resource: tuple[ResourceKind, str], share: float
) -> HourWorth:
    order = [
        replace(each, mode=replace(each.mode, hours=each.mode.hours * share))
        if resource in resources_of(each)
        else each
        for each in schedule.placed
    ]
    times = dispatch(problem, order)
    ends = {each.task: int(times.last_day[0, each.task]) for each in order}
    was = dispatch(problem, schedule.placed)
    loss = sum(
        problem.lost(problem.tasks[each.task].loss, times.start_h[0, each.task], times.end_h[0, each.task])
        for each in order
        if np.isfinite(times.end_h[0, each.task])
    )
    before = {each.task: int(was.last_day[0, each.task]) for each in order}
    days, operation = _sooner(problem, before, ends)
    return HourWorth(
        kind=resource[0], name=resource[1], loss_less=max(schedule.loss - loss, 0.0), left_h_less=0.0, days_sooner=days,
        operation=operation, is_searched=False,
    )  # fmt: skip


def _searched(
    problem: SeasonProblem, schedule: Schedule, resource: tuple[ResourceKind, str], share: float, effort: Effort
) -> HourWorth:
    faster = quickened(problem, resource, share)
    found = solve_season(faster, effort=effort, hint=_moved(schedule.placed, resource, share), is_bounded=False)
    left_less = _left_h(problem, schedule) - _left_h(problem, found)
    days, operation = _sooner(problem, _last_days(problem, schedule), _last_days(faster, found))
    return HourWorth(
        kind=resource[0], name=resource[1], loss_less=schedule.loss - found.loss, left_h_less=left_less,
        days_sooner=days, operation=operation, is_searched=True,
    )  # fmt: skip


def _moved(placed: Sequence[Placed], resource: tuple[ResourceKind, str], share: float) -> list[Placed]:
    return [
        replace(each, mode=replace(each.mode, hours=each.mode.hours * share))
        if resource in resources_of(each)
        else each
        for each in placed
    ]


def _last_days(problem: SeasonProblem, schedule: Schedule) -> dict[int, int]:
    times = dispatch(problem, schedule.placed)
    return {each.task: int(times.last_day[0, each.task]) for each in schedule.placed}


def _left_h(problem: SeasonProblem, schedule: Schedule) -> float:
    return sum(each.left_h for each in operations_done(problem, schedule))


def _sooner(problem: SeasonProblem, before: dict[int, int], after: dict[int, int]) -> tuple[int, str]:
    """Return by how many days the operation that gains most is done sooner, of those done in both."""
    best = (0, "")
    for name in dict.fromkeys(task.operation for task in problem.tasks):
        numbers = [at for at, task in enumerate(problem.tasks) if task.operation == name]
        if all(at in before and at in after for at in numbers):
            days = max(before[at] for at in numbers) - max(after[at] for at in numbers)
            best = (days, name) if days > best[0] else best
    return best


def _of_left(problem: SeasonProblem, schedule: Schedule) -> list[tuple[ResourceKind, str]]:
    """Return tools and carriers of what is left undone, those of most hours first."""
    hours: dict[tuple[ResourceKind, str], float] = {}
    for at in schedule.left:
        quickest = min(problem.tasks[at].modes, key=lambda mode: mode.hours)
        kinds: tuple[tuple[ResourceKind, str], ...] = ("tool", quickest.tool), ("carrier", quickest.carrier)
        for resource in kinds:
            hours[resource] = hours.get(resource, 0.0) + quickest.hours
    return sorted(hours, key=lambda resource: -hours[resource])
