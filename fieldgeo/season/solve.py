"""The schedule: no tool, tractor or operator in two places, least work left undone, then least lost by lateness.

The scale of fit hours is cut into steps, and constraint programming (OR-tools CP-SAT) places the tasks on it: one after
another in each field and on each machine, with the way between fields, within their windows. Seasons that do not touch,
such as spring and fall, are solved one by one. Three questions follow each other, each keeping the answer of those
before: what must be left undone, how little can be lost, how early it can be finished. Moves from one order to another
find good schedules sooner than the solver does (`fieldgeo.season.polish`); the solver says what must be left and below
what the loss cannot be, and sometimes does better.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from graphlib import TopologicalSorter
from math import ceil
from typing import TYPE_CHECKING, Final, Literal, NamedTuple, TypeAlias

import numpy as np

from fieldgeo.errors import InputError
from fieldgeo.season.build_model import CENTS, STEPS_AN_HOUR, build_model, left_weight, stepped
from fieldgeo.season.dispatch import dispatch
from fieldgeo.season.greedy import greedy_schedule
from fieldgeo.season.model import Placed, Schedule
from fieldgeo.season.polish import USUAL_TRIES, order_price, polished

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from fieldgeo.season.model import SeasonProblem

# Work of the solver on each question at an effort of 1, in seconds of its own measure.
_COUNTED: Final = {"left": 4.0, "loss": 2.0}
# A clock stops the search where it takes so many times longer than its measure of work says. Only then may the answer
# differ from run to run.
_CLOCK_ALLOWANCE: Final = 25.0
# Its strategies take turns on one thread, so that the same input gives the same schedule; and on several threads at
# once its release 9.15 may end the whole process where one of them shows there is nothing to find.
_WORKERS: Final = 1
_UNBOUNDED: Final = 0.5  # share of the moves for a season much like one that has its schedule
_LITTLE: Final = 1e-6
Question: TypeAlias = Literal["left", "loss"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Effort:
    """How long a schedule may be searched for: 1 is some seconds for a season of which nothing can be shown.

    It is counted in steps and not by the clock, so that the same problem and seed give the same schedule.

    Raises
    ------
    InputError
        If the work is not above zero, or the seed is below it.
    """

    work: float = 1.0
    seed: int = 4

    def __post_init__(self) -> None:
        if not self.work > 0 or self.seed < 0:
            raise InputError(f"effort: got {self.work:g} and seed {self.seed}. Work is above zero, a seed not below.")


DEFAULT_EFFORT: Final = Effort()


class _Answer(NamedTuple):
    """What one question came to."""

    placed: list[Placed]
    value: int
    bound: int
    is_proven: bool


def solve_season(
    problem: SeasonProblem,
    *,
    effort: Effort = DEFAULT_EFFORT,
    hint: Sequence[Placed] = (),
    is_bounded: bool = True,
    progress: Callable[[], None] | None = None,
) -> Schedule:
    """Return the best schedule found: by weighted hours left undone, then by what lateness costs, then by its finish.

    Parameters
    ----------
    problem : SeasonProblem
        Tasks, machines, calendar.
    effort : Effort
        Work and seed of the solver.
    hint : sequence of Placed
        A schedule to start from, such as that of a like problem.
    is_bounded : bool
        Whether the solver is asked for less loss and for what it cannot be below; otherwise it is left to moves, which
        takes less time, and the bound is 0.
    progress : callable, optional
        Called after each part of the season.

    Notes
    -----
    Times are taken up to whole steps of a tenth of an hour for the search; then each task of its order begins as early
    as it can, to the minute. What it shows is to those steps.
    """
    placed: list[Placed] = []
    left: set[int] = set()
    bound, is_proven = 0.0, True
    for part in season_parts(problem):
        tasks: list[int] = []
        for at in part:  # in an order that has what must be done before first
            missing = any(other in left for other, _ in problem.tasks[at].after)
            (left.add if missing else tasks.append)(at)
        answer = _solve_part(problem, tasks, placed, effort=effort, hint=hint, is_bounded=is_bounded)
        left |= set(tasks) - {each.task for each in answer.placed}
        placed += answer.placed
        bound += answer.bound / CENTS
        is_proven = is_proven and answer.is_proven
        if progress is not None:
            progress()
    exact = replayed(problem, placed)
    loss = sum(problem.lost(problem.tasks[each.task].loss, each.start_h, each.end_h) for each in exact)
    return Schedule(
        placed=tuple(exact), left=tuple(sorted(left)), loss=loss, bound=min(bound, loss), is_proven=is_proven
    )


def replayed(problem: SeasonProblem, placed: Sequence[Placed]) -> list[Placed]:
    """Return tasks in the same order on the same machines, each begun as early as it can be.

    Parameters
    ----------
    problem : SeasonProblem
        Tasks, machines, calendar.
    placed : sequence of Placed
        Tasks in an order that can be worked through.
    """
    times = dispatch(problem, placed)
    moved = [
        replace(each, start_h=float(times.start_h[0, each.task]), end_h=float(times.end_h[0, each.task]))
        for each in placed
    ]
    return sorted(moved, key=lambda each: (each.start_h, each.task))


def season_parts(problem: SeasonProblem) -> list[list[int]]:
    """Return the tasks in parts that can be scheduled one by one: each ends before the next can begin.

    Parameters
    ----------
    problem : SeasonProblem
        Tasks, machines, calendar.
    """
    start_h = problem.start_h
    farthest_h = 2 * float(problem.travel_h.max()) + problem.hitch_h + 2 / STEPS_AN_HOUR
    order = _by_precedence(problem)
    by_start = sorted(order, key=lambda at: problem.tasks[at].first)
    parts: list[list[int]] = []
    open_h, open_day = -np.inf, -1
    for at in by_start:
        task = problem.tasks[at]
        longest = max((wait for _, wait in task.after), default=0)
        if not parts or (start_h[task.first] >= open_h + farthest_h and task.first >= open_day + longest):
            parts.append([])
        parts[-1].append(at)
        open_h, open_day = max(open_h, start_h[task.last + 1]), max(open_day, task.last)
    rank = {at: number for number, at in enumerate(order)}
    return [sorted(part, key=lambda at: rank[at]) for part in parts]


def _by_precedence(problem: SeasonProblem) -> list[int]:
    graph = {at: [other for other, _ in task.after] for at, task in enumerate(problem.tasks)}
    return list(TopologicalSorter(graph).static_order())


def _solve_part(
    problem: SeasonProblem,
    tasks: Sequence[int],
    done: Sequence[Placed],
    *,
    effort: Effort,
    hint: Sequence[Placed],
    is_bounded: bool,
) -> _Answer:
    """Return the tasks of one part placed; `bound` and `value` are of the loss, in cents."""
    if not tasks:
        return _Answer([], 0, 0, True)
    rough = stepped(problem)
    best = _first(rough, tasks, done, hint, effort if is_bounded else replace(effort, work=effort.work * _UNBOUNDED))
    is_proven, kept_left = True, 0
    if len(best) < len(tasks):
        answer = _asked(problem, tasks, best, question="left", effort=effort)
        kept_left, is_proven = answer.value, answer.is_proven
        best = _polished(rough, done, answer.placed, effort)
    if not best:
        return _Answer([], 0, 0, is_proven)
    value = _cents(rough, done, best)
    if value == 0 or not is_bounded:
        return _Answer(_as_it_is(problem, best), value, 0, is_proven and value == 0)
    answer = _asked(problem, tasks, best, question="loss", effort=effort, most_left=kept_left)
    if _cents(rough, done, answer.placed) < value:
        best = _polished(rough, done, answer.placed, effort)
        value = _cents(rough, done, best)
    return _Answer(_as_it_is(problem, best), value, min(answer.bound, value), is_proven and answer.is_proven)


def _as_it_is(problem: SeasonProblem, placed: Sequence[Placed]) -> list[Placed]:
    """Return tasks in the ways of a problem, with the hours that they take and not whole steps of them."""
    ways = [{(mode.tool, mode.carrier): mode for mode in task.modes} for task in problem.tasks]
    return [replace(each, mode=ways[each.task][each.mode.tool, each.mode.carrier]) for each in placed]


def _first(
    rough: SeasonProblem, tasks: Sequence[int], done: Sequence[Placed], hint: Sequence[Placed], effort: Effort
) -> list[Placed]:
    """Return the schedule to start from: of a like problem where that is better than one made without search."""
    first = greedy_schedule(rough, tasks, done)
    told = []
    for each in hint:
        modes = rough.tasks[each.task].modes
        same = [mode for mode in modes if (mode.tool, mode.carrier) == (each.mode.tool, each.mode.carrier)]
        if each.task in tasks and same:
            told.append(replace(each, mode=same[0]))
    if len(told) == len(tasks):
        price = order_price(rough, done, told)
        if np.isfinite(price[0]) and (len(first) < len(tasks) or price < order_price(rough, done, first)):
            first = told
    return _polished(rough, done, first, effort)


def _polished(rough: SeasonProblem, done: Sequence[Placed], placed: Sequence[Placed], effort: Effort) -> list[Placed]:
    return polished(rough, done, placed, tries=ceil(USUAL_TRIES * effort.work), seed=effort.seed)


def _cents(problem: SeasonProblem, done: Sequence[Placed], placed: Sequence[Placed]) -> int:
    loss = order_price(problem, done, placed)[0]
    return ceil(CENTS * loss - _LITTLE) if np.isfinite(loss) else 2**60


def _asked(
    problem: SeasonProblem,
    tasks: Sequence[int],
    first: Sequence[Placed],
    *,
    question: Question,
    effort: Effort,
    most_left: int | None = None,
) -> _Answer:
    """Return the best answer to one question that the solver finds, starting from a schedule."""
    from ortools.sat.python import cp_model

    built = build_model(problem, tasks, may_leave=most_left != 0)
    model = built.model
    if most_left is not None:
        model.add(built.left <= most_left)
    model.minimize({"left": built.left, "loss": built.loss}[question])
    built.tell(first)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = _WORKERS
    solver.parameters.interleave_search = True
    solver.parameters.cp_model_probing_level = 0  # it takes most of the work there is
    solver.parameters.symmetry_level = 0
    solver.parameters.random_seed = effort.seed
    solver.parameters.max_deterministic_time = effort.work * _COUNTED[question]
    solver.parameters.max_time_in_seconds = effort.work * _COUNTED[question] * _CLOCK_ALLOWANCE
    status = solver.solve(model)
    if status not in {cp_model.OPTIMAL, cp_model.FEASIBLE}:
        return _Answer(list(first), _value_of(problem, tasks, first, question), 0, False)
    placed = built.placed(solver)
    value, bound = round(solver.objective_value), ceil(solver.best_objective_bound - _LITTLE)
    return _Answer(placed, value, bound, status == cp_model.OPTIMAL)


def _value_of(problem: SeasonProblem, tasks: Sequence[int], placed: Sequence[Placed], question: Question) -> int:
    """Return what a schedule comes to where the solver found none, in the measure of the question."""
    if question == "left":
        return sum(left_weight(problem, at) for at in set(tasks) - {each.task for each in placed})
    return ceil(CENTS * sum(problem.lost(problem.tasks[each.task].loss, each.start_h, each.end_h) for each in placed))
