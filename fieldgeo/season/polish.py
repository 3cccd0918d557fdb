"""A schedule made better by moves, before any solver: where a search starts from matters.

Tasks are taken to another place in the order, to another machine or another operator, for as long as that loses less,
or loses the same and is finished earlier. Then a few of them are shaken up and it goes on from there, the best kept.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from dataclasses import replace
from math import inf
from random import Random
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from fieldgeo.season.dispatch import dispatch
from fieldgeo.season.greedy import drivers
from fieldgeo.season.model import Placed

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from fieldgeo.season.model import Mode, SeasonProblem

USUAL_TRIES: Final = 6000  # orders tried; a few tenths of a second to a second
_MOST_SHAKEN: Final = 4  # tasks that are moved at once
_FALLS: Final = 40  # tries that a shake may take, for each task, before the next
_LITTLE: Final = 1e-6
_LITTLE_H: Final = 1e-9  # hours that rounding may add
_LAST_PRIORITY: Final = 9
Price = tuple[float, float]  # what an order loses, and how late it is finished
_UNKEPT: Final = (inf, inf)  # a window is not kept


def polished(
    problem: SeasonProblem,
    done: Sequence[Placed],
    placed: Sequence[Placed],
    *,
    tries: int = USUAL_TRIES,
    seed: int = 4,
) -> list[Placed]:
    """Return tasks in an order that loses no more, or the same and is finished earlier.

    Parameters
    ----------
    problem : SeasonProblem
        Tasks, machines, calendar.
    done : sequence of Placed
        Tasks that come before all of these.
    placed : sequence of Placed
        Tasks in an order that keeps their windows.
    tries : int
        Orders that are tried at most.
    seed : int
        Of what is shaken up; the same seed gives the same order.
    """
    if not placed:
        return []
    search = _Search(problem, done, placed, tries, seed)
    best = order = list(placed)
    best_price = search.price(best, _UNKEPT)
    price, order = search.descended(order, best_price)
    while True:
        if price < best_price:
            best_price, best = price, order
        if search.tries <= 0 or len(placed) < 2:  # noqa: PLR2004 - one task has no order
            break
        shaken = search.shaken(best)
        price = search.price(shaken, _UNKEPT)
        if price < _UNKEPT:
            price, order = search.descended(shaken, price, at_most=_FALLS * len(placed))
    times = dispatch(problem, [*done, *best])
    return [
        replace(each, start_h=float(times.start_h[0, each.task]), end_h=float(times.end_h[0, each.task]))
        for each in best
    ]


class _Work(NamedTuple):
    """What a price needs to know of a task."""

    ready_h: float
    due_h: float
    after: tuple[tuple[int, int], ...]
    place: int
    loss: list[float] | None  # by day; None where nothing is lost
    lost: list[float]  # summed over the hours before each day
    operation: str
    weight: int  # of its finish


class _Search:
    """Orders of some tasks, their prices by plain arithmetic, and the moves between them."""

    def __init__(
        self, problem: SeasonProblem, done: Sequence[Placed], placed: Sequence[Placed], tries: int, seed: int
    ) -> None:
        self.tries = tries
        self._random = Random(seed)  # noqa: S311 - no secret
        self._start_h: list[float] = problem.start_h.tolist()
        self._travel_h: list[list[float]] = problem.travel_h.tolist()
        self._hitch_h = problem.hitch_h
        self._ways = {each.task: list(_ways(problem, each.task)) for each in placed}
        self._needs = {each.task: {other for other, _ in problem.tasks[each.task].after} for each in placed}
        self._work = {each.task: _work(problem, each.task, self._start_h) for each in placed}
        self._ends: dict[int, float] = {}
        self._last_of: dict[tuple[str, str], tuple[int, str, str, float]] = {}
        if done:
            times = dispatch(problem, done)
            for each in done:
                end_h = self._ends[each.task] = float(times.end_h[0, each.task])
                last = problem.tasks[each.task].place, each.mode.tool, each.mode.carrier, end_h
                self._last_of |= dict.fromkeys(_resources(each), last)

    def price(self, order: Sequence[Placed], most: Price) -> Price:
        """Return what an order loses and how late it is, as `dispatch` has it; infinite when it is above the most."""
        self.tries -= 1
        start_h, travel_h, most_loss = self._start_h, self._travel_h, most[0] + _LITTLE
        days, loss, late = len(start_h) - 1, 0.0, 0.0
        ends, last_of, last_end = dict(self._ends), dict(self._last_of), {}
        for each in order:
            at, mode, work = each.task, each.mode, self._work[each.task]
            tool, carrier, place = mode.tool, mode.carrier, work.place
            ready = work.ready_h
            for other, wait in work.after:
                end = ends[other]
                ready = max(ready, end)
                if wait:
                    opens = max(bisect_left(start_h, end - _LITTLE_H) - 1, 0) + wait
                    if opens >= days:
                        return _UNKEPT
                    ready = max(ready, start_h[opens])
            resources = _resources(each)
            for resource in resources:
                earlier = last_of.get(resource)
                if earlier is not None:
                    here, its_tool, its_carrier, end = earlier
                    if resource[0] == "operator" or (its_tool == tool and its_carrier == carrier):
                        ready = max(ready, end + travel_h[here][place])
                    else:
                        ready = max(ready, end + travel_h[here][0] + self._hitch_h + travel_h[0][place])
            end = ready + mode.hours
            if end > work.due_h:
                return _UNKEPT
            if work.loss is not None:
                loss += (self._lost(work, end) - self._lost(work, ready)) / (end - ready)
                if loss > most_loss:
                    return _UNKEPT
            ends[at] = end
            late += work.weight * end / 100
            last_end[work.operation] = max(last_end.get(work.operation, 0.0), work.weight * end)
            last_of[resources[0]] = last_of[resources[1]] = last_of[resources[2]] = place, tool, carrier, end
        return round(loss, 4), round(late + sum(last_end.values()), 4)

    def _lost(self, work: _Work, hour: float) -> float:
        day = min(bisect_right(self._start_h, hour) - 1, len(self._start_h) - 2)
        within = min(hour, self._start_h[-1]) - self._start_h[day]
        return work.lost[day] + (work.loss[day] * within if work.loss is not None else 0.0)

    def descended(
        self, order: list[Placed], price: Price, *, at_most: float = inf
    ) -> tuple[Price, list[Placed]]:
        """Return the order that moves of one task lead to, each taken where it makes the order better."""
        last = max(self.tries - at_most, 0)
        while self.tries > last:
            before = price
            numbers = [each.task for each in order]
            self._random.shuffle(numbers)
            for at in numbers:
                price, order = self._moved(order, at, price)
                if self.tries <= last:
                    break
            if not price < before:
                break
        return price, order

    def _moved(self, order: list[Placed], at: int, price: Price) -> tuple[Price, list[Placed]]:
        """Return the best order with one task elsewhere, or in another way."""
        rest, each, here = self._without(order, at)
        first, last = self._room(rest, at)
        places = [(place, each) for place in range(first, last + 1) if place != here]
        ways = [
            (here, replace(each, mode=mode, operator=operator))
            for mode, operator in self._ways[at]
            if (mode, operator) != (each.mode, each.operator)
        ]
        for place, way in (*places, *ways):
            tried = [*rest[:place], way, *rest[place:]]
            found = self.price(tried, price)
            if found < price:
                price, order = found, tried
        return price, order

    def shaken(self, order: list[Placed]) -> list[Placed]:
        """Return an order with a few tasks moved at random, in any of their ways."""
        for _ in range(self._random.randint(2, _MOST_SHAKEN)):
            at = self._random.choice(order).task
            rest, each, _ = self._without(order, at)
            place = self._random.randint(*self._room(rest, at))
            mode, operator = self._random.choice(self._ways[at])
            way = each if self._random.random() < 0.5 else replace(each, mode=mode, operator=operator)  # noqa: PLR2004
            order = [*rest[:place], way, *rest[place:]]
        return order

    @staticmethod
    def _without(order: list[Placed], at: int) -> tuple[list[Placed], Placed, int]:
        here = next(place for place, each in enumerate(order) if each.task == at)
        return order[:here] + order[here + 1 :], order[here], here

    def _room(self, rest: Sequence[Placed], at: int) -> tuple[int, int]:
        """Return the first and the last place that a task may have among the rest."""
        needed = self._needs[at]
        first = max((place + 1 for place, each in enumerate(rest) if each.task in needed), default=0)
        last = min((place for place, each in enumerate(rest) if at in self._needs[each.task]), default=len(rest))
        return first, last


def _ways(problem: SeasonProblem, at: int) -> Iterator[tuple[Mode, str]]:
    for mode in problem.tasks[at].modes:
        for operator in drivers(problem, mode):
            yield mode, operator.name


def _work(problem: SeasonProblem, at: int, start_h: list[float]) -> _Work:
    task = problem.tasks[at]
    has_loss = bool(task.loss.any())
    return _Work(
        ready_h=max(start_h[task.first], float(problem.travel_h[0, task.place])),
        due_h=start_h[task.last + 1] + _LITTLE_H, after=task.after, place=task.place,
        loss=task.loss.tolist() if has_loss else None,
        lost=np.concatenate([[0.0], np.cumsum(task.loss * problem.fit_h)]).tolist() if has_loss else [],
        operation=task.operation, weight=_LAST_PRIORITY + 1 - task.priority,
    )  # fmt: skip


def _resources(placed: Placed) -> tuple[tuple[str, str], ...]:
    return ("tool", placed.mode.tool), ("carrier", placed.mode.carrier), ("operator", placed.operator)


def order_price(problem: SeasonProblem, done: Sequence[Placed], order: Sequence[Placed]) -> Price:
    """Return what an order loses, and how late it is finished; infinite where a window is not kept. [money, h]

    Lateness of finish: the last end of each operation, and of each task a hundredth, weighted by priority.

    Parameters
    ----------
    problem : SeasonProblem
        Tasks, machines, calendar.
    done : sequence of Placed
        Tasks that come before all of these.
    order : sequence of Placed
        Tasks in an order that can be worked through.
    """
    return _Search(problem, done, order, 1, 0).price(order, _UNKEPT)
