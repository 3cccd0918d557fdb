"""A schedule made better by moves, before any solver: where a search starts from matters.

Tasks are taken to another place in the order, to another machine or another operator, for as long as that loses less,
or loses the same and is finished earlier. Then a few of them are shaken up and it goes on from there, the best kept.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from dataclasses import replace
from math import inf
from random import Random
from typing import TYPE_CHECKING, Final, NamedTuple, TypeAlias

import numpy as np

from fieldgeo.season.dispatch import dispatch
from fieldgeo.season.greedy import drivers
from fieldgeo.season.model import Placed

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from fieldgeo.season.model import Mode, SeasonProblem

USUAL_TRIES: Final = 40_000  # orders tried at most; a second or so for a season of twenty tasks
_MOST_SHAKEN: Final = 4  # tasks that are moved at once
_FALLS: Final = 40  # tries that a shake may take, for each task, before the next
_PATIENCE: Final = 3  # of all tries, the part without any gain after which no more is looked for
_LITTLE: Final = 1e-6
_LITTLE_H: Final = 1e-9  # hours that rounding may add
_LAST_PRIORITY: Final = 9
Price: TypeAlias = tuple[float, float]  # what an order loses, and how late it is finished
_Last: TypeAlias = tuple[int, str, str, float]  # place, tool and carrier of the last task, and its end [h]
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
    order = list(placed)
    core = _core(problem, order)
    if 0 < len(core) < len(order):
        order = _core_first(problem, done, order, core, tries // 2, seed)
    best = _searched(_Search(problem, done, placed, tries, seed), order)
    times = dispatch(problem, [*done, *best])
    return [
        replace(each, start_h=float(times.start_h[0, each.task]), end_h=float(times.end_h[0, each.task]))
        for each in best
    ]


def _searched(search: _Search, order: list[Placed]) -> list[Placed]:
    """Return the best order found from one, until the tries are used up or a part of them has gained nothing."""
    patience = search.tries // _PATIENCE
    best, best_price = order, search.price(order, _UNKEPT)
    price, order = search.descended(order, best_price)
    ends = search.tries - patience
    while True:
        if price < best_price:
            best_price, best, ends = price, order, search.tries - patience
        if search.tries <= max(ends, 0) or len(order) < 2:
            return best
        order = search.shaken(best)
        price = search.price(order, _UNKEPT)
        if price < _UNKEPT:
            price, order = search.descended(order, price, at_most=_FALLS * len(order))


def _core(problem: SeasonProblem, order: Sequence[Placed]) -> list[Placed]:
    """Return the tasks that lose by lateness, and all that must come before them."""
    needed: set[int] = set()
    for each in reversed(order):
        if each.task in needed or problem.tasks[each.task].loss.any():
            needed |= {each.task, *(other for other, _ in problem.tasks[each.task].after)}
    return [each for each in order if each.task in needed]


def _core_first(
    problem: SeasonProblem, done: Sequence[Placed], order: list[Placed], core: list[Placed], tries: int, seed: int
) -> list[Placed]:
    """Return an order made for what loses, the rest put in where it does the least harm; the old one if that is better.

    Alone, what loses is moved freely: what only has to be done some time stands in no one's way.
    """
    found = _searched(_Search(problem, done, core, tries, seed), core)
    search = _Search(problem, done, order, 0, seed)
    among = {each.task for each in core}
    for each in order:
        if each.task in among:
            continue
        first, last = search.room(found, each.task)
        ways = ([*found[:place], each, *found[place:]] for place in range(last, first - 1, -1))
        found = min(ways, key=lambda way: search.price(way, _UNKEPT))
    return found if search.price(found, _UNKEPT) < search.price(order, _UNKEPT) else order


class _Work(NamedTuple):
    """What a price needs to know of a task."""

    ready_h: float
    due_h: float
    after: tuple[tuple[int, int], ...]
    place: int
    loss: list[float] | None  # by day; None where nothing is lost
    lost: list[float]  # summed over the hours before each day
    operation: str
    field: str
    weight: int  # of its finish


class _Search:
    """Orders of some tasks, their prices by plain arithmetic, and the moves between them."""

    def __init__(
        self, problem: SeasonProblem, done: Sequence[Placed], placed: Sequence[Placed], tries: int, seed: int
    ) -> None:
        self.tries = tries
        self._random = Random(seed)
        self._start_h: list[float] = problem.start_h.tolist()
        self._travel_h: list[list[float]] = problem.travel_h.tolist()
        self._hitch_h = problem.hitch_h
        self._ways = {each.task: list(_ways(problem, each.task)) for each in placed}
        self._needs = {each.task: {other for other, _ in problem.tasks[each.task].after} for each in placed}
        self._work = {each.task: _work(problem, each.task, self._start_h) for each in placed}
        self._ends: dict[int, float] = {}
        self._last_of: dict[tuple[str, str], _Last] = {}
        if done:
            times = dispatch(problem, done)
            for each in done:
                end_h = self._ends[each.task] = float(times.end_h[0, each.task])
                last = problem.tasks[each.task].place, each.mode.tool, each.mode.carrier, end_h
                self._last_of |= dict.fromkeys(_resources(each), last)

    def price(self, order: Sequence[Placed], most: Price) -> Price:
        """Return what an order loses and how late it is, as `dispatch` has it; infinite when it is above the most."""
        self.tries -= 1
        most_loss, loss, late = most[0] + _LITTLE, 0.0, 0.0
        last_end: dict[str, float] = {}
        ends, last_of = dict(self._ends), dict(self._last_of)
        for each in order:
            at, mode, work = each.task, each.mode, self._work[each.task]
            tool, carrier, place = mode.tool, mode.carrier, work.place
            ready, resources = self._ready(work, ends), _resources(each)
            for resource in resources:
                if (earlier := last_of.get(resource)) is not None:
                    ready = max(ready, self._free(resource[0], earlier, (place, tool, carrier)))
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

    def _ready(self, work: _Work, ends: dict[int, float]) -> float:
        """Return when a task may begin by its window and by what comes before it; infinite beyond the season. [h]"""
        ready = work.ready_h
        for other, wait in work.after:
            ready = max(ready, ends[other])
            if wait:
                opens = max(bisect_left(self._start_h, ends[other] - _LITTLE_H) - 1, 0) + wait
                ready = max(ready, self._start_h[opens] if opens < len(self._start_h) - 1 else inf)
        return ready

    def _free(self, kind: str, earlier: _Last, there: tuple[int, str, str]) -> float:
        """Return when a tool, a carrier or an operator can be at a field after its last task. [h]"""
        travel_h, here, place = self._travel_h, earlier[0], there[0]
        if kind == "operator" or earlier[1:3] == there[1:]:
            return earlier[3] + travel_h[here][place]
        return earlier[3] + travel_h[here][0] + self._hitch_h + travel_h[0][place]

    def _lost(self, work: _Work, hour: float) -> float:
        day = min(bisect_right(self._start_h, hour) - 1, len(self._start_h) - 2)
        within = min(hour, self._start_h[-1]) - self._start_h[day]
        return work.lost[day] + (work.loss[day] * within if work.loss is not None else 0.0)

    def descended(self, order: list[Placed], price: Price, *, at_most: float = inf) -> tuple[Price, list[Placed]]:
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
        first, last = self.room(rest, at)
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
        """Return an order with two fields in each other's place, or a few tasks moved in any of their ways."""
        if self._random.random() < 1 / 2:
            return self._swapped(order)
        for _ in range(self._random.randint(2, _MOST_SHAKEN)):
            at = self._random.choice(order).task
            rest, each, _ = self._without(order, at)
            place = self._random.randint(*self.room(rest, at))
            mode, operator = self._random.choice(self._ways[at])
            way = each if self._random.random() < 1 / 2 else replace(each, mode=mode, operator=operator)
            order = [*rest[:place], way, *rest[place:]]
        return order

    def _swapped(self, order: list[Placed]) -> list[Placed]:
        """Return an order with two fields in each other's place, in all that is done on both."""
        one = self._work[self._random.choice(order).task]
        like = sorted({work.field for work in self._work.values() if work.operation == one.operation} - {one.field})
        if not like:
            return order
        other = self._random.choice(like)
        numbers = {(self._work[each.task].operation, self._work[each.task].field): each.task for each in order}
        changed = {one.field: other, other: one.field}
        found = []
        for each in order:
            work = self._work[each.task]
            at = numbers.get((work.operation, changed.get(work.field, "")))
            if at is None:
                found.append(each)
                continue
            way = each.mode.tool, each.mode.carrier
            mode = next((mode for mode, _ in self._ways[at] if (mode.tool, mode.carrier) == way), None)
            if mode is None:
                return order
            found.append(replace(each, task=at, mode=mode))
        return found if self._keeps_order(found) else order

    def _keeps_order(self, order: Sequence[Placed]) -> bool:
        seen = set(self._ends)
        for each in order:
            if not self._needs[each.task] <= seen:
                return False
            seen.add(each.task)
        return True

    @staticmethod
    def _without(order: list[Placed], at: int) -> tuple[list[Placed], Placed, int]:
        here = next(place for place, each in enumerate(order) if each.task == at)
        return order[:here] + order[here + 1 :], order[here], here

    def room(self, rest: Sequence[Placed], at: int) -> tuple[int, int]:
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
        operation=task.operation, field=task.field, weight=_LAST_PRIORITY + 1 - task.priority,
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
