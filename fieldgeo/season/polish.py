"""A schedule made better by moving one task at a time, before any solver: where a search starts from matters."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

import numpy as np

from fieldgeo.season.dispatch import dispatch
from fieldgeo.season.greedy import drivers
from fieldgeo.season.model import Placed

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fieldgeo.season.model import SeasonProblem

_MOST_SWEEPS: Final = 5
_MOST_TASKS: Final = 40  # a sweep over so many takes some seconds; beyond, the search starts unpolished
_LITTLE: Final = 1e-6


def polished(problem: SeasonProblem, done: Sequence[Placed], placed: Sequence[Placed]) -> list[Placed]:
    """Return tasks in an order that loses less: each moved to the place where that is best, or to another machine.

    Parameters
    ----------
    problem : SeasonProblem
        Tasks, machines, calendar.
    done : sequence of Placed
        Tasks that come before all of these.
    placed : sequence of Placed
        Tasks in an order that keeps their windows.
    """
    order = list(placed)
    best = order_loss(problem, done, order)
    if len(order) > _MOST_TASKS:
        return order
    for _ in range(_MOST_SWEEPS):
        before = best
        for each in list(order):
            best, order = _moved(problem, done, order, each, best)
        if best >= before - _LITTLE:
            break
    times = dispatch(problem, [*done, *order])
    return [
        Placed(
            task=each.task, mode=each.mode, operator=each.operator, start_h=float(times.start_h[0, each.task]),
            end_h=float(times.end_h[0, each.task]),
        )
        for each in order
    ]  # fmt: skip


def _moved(
    problem: SeasonProblem, done: Sequence[Placed], order: list[Placed], each: Placed, best: float
) -> tuple[float, list[Placed]]:
    """Return the least loss, and the order with one task where it has it."""
    found = order
    at = next(place for place, other in enumerate(order) if other.task == each.task)
    rest = order[:at] + order[at + 1 :]
    needed = {other for other, _ in problem.tasks[each.task].after}
    soonest = max((place + 1 for place, other in enumerate(rest) if other.task in needed), default=0)
    needs_it = [
        place
        for place, other in enumerate(rest)
        if each.task in {before for before, _ in problem.tasks[other.task].after}
    ]
    latest = min(needs_it, default=len(rest))
    for place in range(soonest, latest + 1):
        for mode in problem.tasks[each.task].modes if place == at else (each.mode,):
            if place == at and mode == each.mode:
                continue
            if each.operator not in {operator.name for operator in drivers(problem, mode)}:
                continue
            tried = [*rest[:place], replace(each, mode=mode), *rest[place:]]
            loss = order_loss(problem, done, tried)
            if loss < best - _LITTLE:
                best, found = loss, tried
    return best, found


def order_loss(problem: SeasonProblem, done: Sequence[Placed], order: Sequence[Placed]) -> float:
    """Return what an order loses; infinite where a window is not kept. [money]

    Parameters
    ----------
    problem : SeasonProblem
        Tasks, machines, calendar.
    done : sequence of Placed
        Tasks that come before all of these.
    order : sequence of Placed
        Tasks in an order that can be worked through.
    """
    times = dispatch(problem, [*done, *order])
    tasks = problem.tasks
    if any(times.last_day[0, each.task] > tasks[each.task].last for each in order):
        return float(np.inf)
    return sum(
        problem.lost(tasks[each.task].loss, float(times.start_h[0, each.task]), float(times.end_h[0, each.task]))
        for each in order
        if tasks[each.task].loss.any()
    )
