"""A first schedule without any search: whatever can begin first is begun."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fieldgeo.season.model import Placed, day_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fieldgeo.season.model import Mode, Operator, SeasonProblem

_LITTLE_H = 1e-6


def drivers(problem: SeasonProblem, mode: Mode) -> tuple[Operator, ...]:
    """Return the operators that can do a task in a mode.

    Parameters
    ----------
    problem : SeasonProblem
        Tasks and operators.
    mode : Mode
        Tool and carrier.
    """
    return tuple(
        each for each in problem.operators if not each.drives or mode.tool in each.drives or mode.carrier in each.drives
    )


def greedy_schedule(problem: SeasonProblem, tasks: Sequence[int], done: Sequence[Placed] = ()) -> list[Placed]:
    """Return tasks in an order in which each can be finished within its window; those that cannot are left out.

    Parameters
    ----------
    problem : SeasonProblem
        Tasks, places, travel times.
    tasks : sequence of int
        Tasks to place.
    done : sequence of Placed
        Tasks that are placed already, before all of these.

    Notes
    -----
    Of the tasks that may come next, the one that can begin first is taken; of several the one of the first priority,
    then that whose window closes first. It is where a search starts from, and no schedule to be proud of.
    """
    start_h = problem.start_h
    placed = {each.task: each for each in done}
    last_of: dict[tuple[str, str], Placed] = {}
    for each in done:
        last_of |= dict.fromkeys(_resources(each.mode, each.operator), each)
    waiting, found = set(tasks), []
    while waiting:
        choices = [
            (round(each.start_h, 6), problem.tasks[each.task].priority, problem.tasks[each.task].last, each.task, each)
            for at in sorted(waiting)
            if all(other in placed for other, _ in problem.tasks[at].after)
            for each in _ways(problem, at, placed, last_of)
            if each.end_h <= start_h[problem.tasks[at].last + 1] + _LITTLE_H
        ]
        if not choices:
            break
        chosen = min(choices, key=lambda choice: choice[:4])[4]
        found.append(chosen)
        placed[chosen.task] = chosen
        last_of |= dict.fromkeys(_resources(chosen.mode, chosen.operator), chosen)
        waiting.remove(chosen.task)
    return found


def _ways(
    problem: SeasonProblem, at: int, placed: dict[int, Placed], last_of: dict[tuple[str, str], Placed]
) -> list[Placed]:
    """Return a task placed as early as it can be, in each of its modes."""
    ways = []
    for mode in problem.tasks[at].modes:
        operator, start_h = _first_start(problem, at, mode, placed, last_of)
        ways.append(Placed(task=at, mode=mode, operator=operator, start_h=start_h, end_h=start_h + mode.hours))
    return ways


def _resources(mode: Mode, operator: str) -> tuple[tuple[str, str], ...]:
    return ("tool", mode.tool), ("carrier", mode.carrier), ("operator", operator)


def _first_start(
    problem: SeasonProblem, at: int, mode: Mode, placed: dict[int, Placed], last_of: dict[tuple[str, str], Placed]
) -> tuple[str, float]:
    """Return the operator who can begin a task first, and when. [h]"""
    task, before_h = problem.tasks[at], problem.start_h
    ready = max(before_h[task.first], problem.travel_h[0, task.place])
    for other, wait in task.after:
        ready = max(ready, placed[other].end_h)
        if wait:
            opens = day_of(before_h, placed[other].end_h, is_end=True) + wait
            ready = max(ready, before_h[opens] if opens < len(before_h) - 1 else np.inf)
    for resource in _resources(mode, "")[:2]:
        if (earlier := last_of.get(resource)) is not None:
            ready = max(ready, earlier.end_h + problem.gap_h((earlier.task, earlier.mode), (at, mode)))
    starts = []
    for operator in drivers(problem, mode):
        earlier = last_of.get(("operator", operator.name))
        free = 0.0
        if earlier is not None:
            free = earlier.end_h + problem.travel_h[problem.tasks[earlier.task].place, task.place]
        starts.append((max(ready, float(free)), operator.name))
    start, name = min(starts, default=(np.inf, ""))
    return name, float(start)
