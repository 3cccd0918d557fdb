"""A plain dispatcher: tasks in a fixed order of priority, each as soon as its machines, its field and its window allow.

It keeps the machines and the order of a schedule and runs it on other calendars of fit hours, many seasons at once. No
schedule is searched for, so it is fast, and a day that is fit for longer never makes anything later.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fieldgeo.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray

    from fieldgeo.frame import FloatArray
    from fieldgeo.season.model import Placed, SeasonProblem

_LITTLE_H = 1e-9  # hours that rounding may add


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Dispatched:
    """When each task of a problem is done in each of S seasons of D days."""

    start_h: FloatArray  # on the scale of fit hours of that season; inf where it is not reached, shape (S, T) [h]
    end_h: FloatArray  # the same, shape (S, T) [h]
    first_day: NDArray[np.int64]  # day on which it begins; D where it does not, shape (S, T)
    last_day: NDArray[np.int64]  # day on which it is finished; D where it is not, shape (S, T)


def dispatch(problem: SeasonProblem, order: Sequence[Placed], fit_h: ArrayLike | None = None) -> Dispatched:
    """Return when each task is done, with the machines and the order of a schedule, on a calendar of fit hours.

    Parameters
    ----------
    problem : SeasonProblem
        Tasks, places, travel times.
    order : sequence of Placed
        Tasks in order of priority, from `Schedule.order`; of each only task, mode and operator count. A tool, a carrier
        and an operator take theirs in this order. Tasks that are not in it are not done. What must be done before a
        task comes before it.
    fit_h : array_like of shape (D,) or (S, D), optional
        Fit hours of each day, of one season or several; left out, those that the problem plans with. [h]

    Raises
    ------
    InputError
        If there are not as many days as in the problem, a task comes twice, or one comes before what it must follow.

    Notes
    -----
    A task that is not finished by the last day of its window goes on; the caller tells lateness by `last_day`. A task
    begins where all before it allow: derived, the longest way through what must follow what.
    """
    hours = np.atleast_2d(np.asarray(problem.fit_h if fit_h is None else fit_h, dtype=float))
    seasons, days, count = len(hours), len(problem.days), len(problem.tasks)
    if hours.shape[1] != days:
        raise InputError(f"dispatch: got fit hours of {hours.shape[1]} days. The season has {days}.")
    before_h = np.concatenate([np.zeros((seasons, 1)), np.cumsum(hours, axis=1)], axis=1)
    start_h, end_h = np.full((seasons, count), np.inf), np.full((seasons, count), np.inf)
    last_day = np.full((seasons, count), days, dtype=np.int64)
    last_of: dict[tuple[str, str], Placed] = {}
    done: set[int] = set()
    for placed in order:
        task, at = problem.tasks[placed.task], placed.task
        if at in done or not {other for other, _ in task.after} <= done:
            what = "comes twice" if at in done else "comes before what it must follow, or that is left out"
            raise InputError(f"dispatch: {task.name} {what}. Give an order that can be worked through.")
        ready = np.maximum(before_h[:, task.first], problem.travel_h[0, task.place])
        for other, wait in task.after:
            ready = np.maximum(ready, end_h[:, other])
            if wait:
                ready = np.maximum(ready, _opening(before_h, last_day[:, other] + wait))
        for resource in _resources(placed):
            earlier = last_of.get(resource)
            if earlier is not None:
                ready = np.maximum(ready, end_h[:, earlier.task] + _gap_h(problem, resource, earlier, placed))
            last_of[resource] = placed
        start_h[:, at], end_h[:, at] = ready, ready + placed.mode.hours
        last_day[:, at] = _day_of_end(before_h, end_h[:, at])
        done.add(at)
    is_reached = start_h < before_h[:, -1:] - _LITTLE_H
    starts = np.where(is_reached, start_h, np.inf)
    return Dispatched(
        start_h=starts, end_h=np.where(last_day < days, end_h, np.inf), first_day=_days_of_start(before_h, starts),
        last_day=last_day,
    )  # fmt: skip


def _resources(placed: Placed) -> tuple[tuple[str, str], ...]:
    """Return what a task takes: its tool, its carrier, its operator."""
    return ("tool", placed.mode.tool), ("carrier", placed.mode.carrier), ("operator", placed.operator)


def _gap_h(problem: SeasonProblem, resource: tuple[str, str], one: Placed, other: Placed) -> float:
    if resource[0] == "operator":
        here, there = problem.tasks[one.task].place, problem.tasks[other.task].place
        return float(problem.travel_h[here, there])
    return problem.gap_h((one.task, one.mode), (other.task, other.mode))


def _opening(before_h: FloatArray, day: NDArray[np.int64]) -> FloatArray:
    """Return the first hour of a day in each season; inf beyond the last day. [h]"""
    days = before_h.shape[1] - 1
    opening = np.take_along_axis(before_h, np.minimum(day, days)[:, None], axis=1)[:, 0]
    return np.where(day < days, opening, np.inf)


def _day_of_end(before_h: FloatArray, end_h: FloatArray) -> NDArray[np.int64]:
    """Return the day on which each season reaches an hour; the number of days where it does not."""
    passed = (before_h < end_h[:, None] - _LITTLE_H).sum(axis=1)
    return np.asarray(np.maximum(passed - 1, 0), dtype=np.int64)


def _days_of_start(before_h: FloatArray, start_h: FloatArray) -> NDArray[np.int64]:
    """Return the fit day on which each start falls: the last day that has begun by then."""
    days = before_h.shape[1] - 1
    found = [
        np.searchsorted(before, start + _LITTLE_H, side="right") - 1
        for before, start in zip(before_h, start_h, strict=True)
    ]
    return np.asarray(np.minimum(found, days), dtype=np.int64)
