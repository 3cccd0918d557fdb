"""The model that constraint programming solves: starts and modes of tasks, their order, what lateness costs."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from itertools import combinations, pairwise
from math import ceil, floor
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np

from fieldgeo.season.greedy import drivers
from fieldgeo.season.model import Placed

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from fieldgeo.season.model import SeasonProblem

STEPS_AN_HOUR: Final = 10
CENTS: Final = 100  # steps of money in one of its units
_LITTLE: Final = 1e-6
# What a task left undone weighs for each step down in priority: one of priority 1 three times one of priority 2.
_PRIORITY_WEIGHT: Final = 3
_LAST_PRIORITY: Final = 9
_FINE: Final = 1000  # parts of a cent that slopes are rounded to
_LINE_CENTS: Final = 0.1  # by which a straight line may differ from what is lost
_MOST_LOWER: Final = 8


def steps_of(hours: float) -> int:
    """Return hours as whole steps, rounded up.

    Parameters
    ----------
    hours : float
        Hours. [h]
    """
    return ceil(hours * STEPS_AN_HOUR - _LITTLE)


def stepped(problem: SeasonProblem) -> SeasonProblem:
    """Return a problem whose work, ways and hitching take whole steps, rounded up.

    Parameters
    ----------
    problem : SeasonProblem
        Tasks, machines, calendar.
    """
    tasks = tuple(
        replace(task, modes=tuple(replace(mode, hours=steps_of(mode.hours) / STEPS_AN_HOUR) for mode in task.modes))
        for task in problem.tasks
    )
    return replace(
        problem, tasks=tasks, travel_h=np.ceil(problem.travel_h * STEPS_AN_HOUR - _LITTLE) / STEPS_AN_HOUR,
        hitch_h=steps_of(problem.hitch_h) / STEPS_AN_HOUR,
    )  # fmt: skip


def left_weight(problem: SeasonProblem, at: int) -> int:
    """Return what it weighs to leave a task undone: its hours, more for a task that comes first.

    Parameters
    ----------
    problem : SeasonProblem
        Tasks.
    at : int
        Number of the task.
    """
    task = problem.tasks[at]
    steps = max(1, min(steps_of(mode.hours) for mode in task.modes))
    return int(steps * _PRIORITY_WEIGHT ** (_LAST_PRIORITY - task.priority))


class _Span(NamedTuple):
    """Steps between which a task may start, and its latest end."""

    first: int
    last: int
    end: int


class LossLine(NamedTuple):
    """What a task loses that starts between two steps: a straight line."""

    first: int
    last: int
    cents: float  # at the first step
    slope: float  # more for each step


@dataclass(slots=True, kw_only=True)
class SeasonModel:
    """A model of some tasks of a season, and the variables that questions are asked about."""

    problem: SeasonProblem
    tasks: Sequence[int]
    may_leave: bool
    model: Any
    start: dict[int, Any]
    end: dict[int, Any]
    chosen: dict[tuple[int, int], Any]  # by task and number of its mode
    driven: dict[tuple[int, str], Any]  # by task and operator; empty where every carrier has an operator of its own
    before: dict[tuple[int, int], Any]  # of two tasks that may share something, whether the first is done first
    left: Any = 0  # weight of what is left undone
    loss: Any = 0  # in cents
    within: dict[tuple[int, int], tuple[list[LossLine], list[Any]]] = field(default_factory=dict)
    loss_of: dict[int, Any] = field(default_factory=dict)  # by task
    reaches: list[tuple[int, int, Any]] = field(default_factory=list)  # task, step, whether it ends after it
    whether: list[tuple[list[Any], Any]] = field(default_factory=list)  # literals, whether one of them holds

    def tell(self, placed: Sequence[Placed]) -> None:
        """Give the solver a schedule to start from.

        Parameters
        ----------
        placed : sequence of Placed
            Tasks of this model, or of a like one.
        """
        told = {each.task: each for each in placed}
        values: dict[int, tuple[Any, int]] = {}  # by index of the variable
        for variable, value in self._told(told):
            values[variable.index] = variable, int(value)
        for literals, whether in self.whether:
            values[whether.index] = whether, any(values[each.index][1] for each in literals)
        for variable, value in values.values():
            self.model.add_hint(variable, value)

    def _told(self, told: dict[int, Placed]) -> Iterator[tuple[Any, int]]:
        """Yield variables with their values in a schedule."""
        for (at, number), chosen in self.chosen.items():
            mode, each = self.problem.tasks[at].modes[number], told.get(at)
            same = each is not None and (each.mode.tool, each.mode.carrier) == (mode.tool, mode.carrier)
            yield chosen, same
            if each is not None and same:
                start = ceil(each.start_h * STEPS_AN_HOUR - _LITTLE)
                yield self.start[at], start
                yield self.end[at], start + steps_of(mode.hours)
                yield from self._told_loss(at, number, start)
        for (at, name), driven in self.driven.items():
            yield driven, at in told and told[at].operator == name
        for (one, other), is_first in self.before.items():
            if one in told and other in told:
                yield is_first, told[one].start_h <= told[other].start_h
        for at, step, reaches in self.reaches:
            if at in told:
                yield reaches, ceil(told[at].end_h * STEPS_AN_HOUR - _LITTLE) > step

    def _told_loss(self, at: int, number: int, start: int) -> Iterator[tuple[Any, int]]:
        if (at, number) not in self.within:
            return
        lines, within = self.within[at, number]
        for line, is_here in zip(lines, within, strict=True):
            holds = line.first <= start <= line.last
            if holds:
                yield self.loss_of[at], ceil(line.cents + line.slope * (start - line.first))
            if len(lines) > 1:
                yield is_here, holds

    def placed(self, solver: Any) -> list[Placed]:
        """Return the tasks that a solution does, by their start.

        Parameters
        ----------
        solver : ortools.sat.python.cp_model.CpSolver
            A solver that has found one.
        """
        found = []
        carriers = self._carriers()
        for (at, number), chosen in self.chosen.items():
            if not solver.value(chosen):
                continue
            mode = self.problem.tasks[at].modes[number]
            if self.driven:
                name = next(each for (task, each), does in self.driven.items() if task == at and solver.value(does))
            else:
                name = self.problem.operators[carriers.index(mode.carrier)].name
            start_h = solver.value(self.start[at]) / STEPS_AN_HOUR
            end_h = solver.value(self.end[at]) / STEPS_AN_HOUR
            found.append(Placed(task=at, mode=mode, operator=name, start_h=start_h, end_h=end_h))
        return sorted(found, key=lambda each: (each.start_h, each.task))

    def _carriers(self) -> list[str]:
        return list(dict.fromkeys(mode.carrier for at in self.tasks for mode in self.problem.tasks[at].modes))

    def every_carrier_has_an_operator(self) -> bool:
        """Return whether there are as many operators as carriers, all of whom drive everything."""
        operators = self.problem.operators
        return len(operators) >= len(self._carriers()) and not any(each.drives for each in operators)


def build_model(problem: SeasonProblem, tasks: Sequence[int], *, may_leave: bool) -> SeasonModel:
    """Return the model of some tasks of a season.

    Parameters
    ----------
    problem : SeasonProblem
        Tasks, machines, calendar.
    tasks : sequence of int
        Tasks; of what must be done before them, all that is not among them is taken as done.
    may_leave : bool
        Whether tasks may be left undone, and with them those that come after.
    """
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    built = SeasonModel(
        problem=problem, tasks=tasks, may_leave=may_leave, model=model, start={}, end={}, chosen={}, driven={},
        before={},
    )  # fmt: skip
    spans = {at: _span(problem, at) for at in tasks}
    for at in tasks:
        _add_task(built, at, spans[at])
    if not built.every_carrier_has_an_operator():
        _add_operators(built)
    _add_order(built, spans)
    _add_machines(built, spans)
    _add_losses(built, spans)
    built.left = sum(left_weight(problem, at) * (1 - _is_done(built, at)) for at in tasks) if may_leave else 0
    return built


def _span(problem: SeasonProblem, at: int) -> _Span:
    task, start_h = problem.tasks[at], problem.start_h
    first = steps_of(max(float(start_h[task.first]), float(problem.travel_h[0, task.place])))
    end = floor(float(start_h[task.last + 1]) * STEPS_AN_HOUR + _LITTLE)
    shortest = min(steps_of(mode.hours) for mode in task.modes)
    return _Span(first, max(first, end - shortest), end)


def _is_done(built: SeasonModel, at: int) -> Any:
    return sum(built.chosen[at, number] for number in range(len(built.problem.tasks[at].modes)))


def _add_task(built: SeasonModel, at: int, span: _Span) -> None:
    """Add start, end and mode of a task; a mode too long for its window is not taken."""
    model, modes = built.model, built.problem.tasks[at].modes
    steps = [steps_of(mode.hours) for mode in modes]
    start = built.start[at] = model.new_int_var(span.first, span.last, "")
    end = built.end[at] = model.new_int_var(0, span.last + max(steps), "")
    chosen = [model.new_bool_var("") for _ in modes]
    built.chosen |= {(at, number): variable for number, variable in enumerate(chosen)}
    (model.add_at_most_one if built.may_leave else model.add_exactly_one)(chosen)
    model.add(end == start + sum(variable * length for variable, length in zip(chosen, steps, strict=True)))
    for variable in chosen:
        model.add(end <= span.end).only_enforce_if(variable)


def _add_operators(built: SeasonModel) -> None:
    """Give each task that is done one operator, who drives what it is done with."""
    model, problem = built.model, built.problem
    for at in built.tasks:
        modes = problem.tasks[at].modes
        able = {operator.name for mode in modes for operator in drivers(problem, mode)}
        only = len(able) == 1 and not built.may_leave
        for operator in problem.operators:
            if operator.name in able:
                built.driven[at, operator.name] = model.new_int_var(int(only), 1, "")
        model.add(sum(built.driven[at, name] for name in able) == _is_done(built, at))
        for number, mode in enumerate(modes):
            for name in able - {operator.name for operator in drivers(problem, mode)}:
                model.add_implication(built.chosen[at, number], ~built.driven[at, name])


def _add_order(built: SeasonModel, spans: dict[int, _Span]) -> None:
    """Keep what must come before, and the days between."""
    model, problem = built.model, built.problem
    among = set(built.tasks)
    for at in built.tasks:
        for other, wait in problem.tasks[at].after:
            if other not in among:
                continue
            model.add(built.end[other] <= built.start[at])
            model.add(_is_done(built, at) <= _is_done(built, other))
            if wait:
                _add_wait(built, at, other, wait, spans)


def _add_wait(built: SeasonModel, at: int, other: int, wait: int, spans: dict[int, _Span]) -> None:
    """Keep whole days between two tasks: for each day, the first ends before it or the other waits for so many more."""
    model, start_h = built.model, built.problem.start_h
    done = [built.chosen[at, number] for number in range(len(built.problem.tasks[at].modes))]
    for day in range(len(start_h) - 1):
        begins = floor(float(start_h[day]) * STEPS_AN_HOUR + _LITTLE)
        follows = day + wait
        opens = steps_of(float(start_h[follows])) if follows < len(start_h) - 1 else steps_of(float(start_h[-1])) + 1
        if begins >= spans[other].end or opens <= spans[at].first or start_h[day] == start_h[day + 1]:
            continue
        reaches = model.new_bool_var("")
        built.reaches.append((other, begins, reaches))
        model.add(built.end[other] <= begins).only_enforce_if(~reaches)
        for chosen in done:
            model.add(built.start[at] >= opens).only_enforce_if([reaches, chosen])


def _pairs(built: SeasonModel) -> Iterator[tuple[int, int]]:
    """Yield the pairs of tasks that may share a tool, a carrier or an operator."""
    tasks = built.problem.tasks
    for one, other in combinations(built.tasks, 2):
        names = [{each for mode in tasks[at].modes for each in (mode.tool, mode.carrier)} for at in (one, other)]
        if built.driven or names[0] & names[1]:
            yield one, other


def _add_machines(built: SeasonModel, spans: dict[int, _Span]) -> None:
    """Keep every tool, carrier and operator in one place at a time, with the way from field to field."""
    model = built.model
    follows = _followers(built)
    for one, other in _pairs(built):
        is_first = built.before[one, other] = model.new_bool_var("")
        if other in follows[one] or spans[one].last < spans[other].first:
            model.add(is_first == 1)
        elif one in follows[other] or spans[other].last < spans[one].first:
            model.add(is_first == 0)
        for shared, gap_h in _shared(built, one, other):
            gap = steps_of(gap_h)
            model.add(built.end[one] + gap <= built.start[other]).only_enforce_if([*shared, is_first])
            model.add(built.end[other] + gap <= built.start[one]).only_enforce_if([*shared, ~is_first])
    for users in _users(built).values():
        if len(users) > 1:
            model.add_no_overlap(users)


def _users(built: SeasonModel) -> dict[tuple[str, str], list[Any]]:
    """Return the stretches in which every tool, carrier and operator is taken."""
    users: dict[tuple[str, str], list[Any]] = {}
    for at in built.tasks:
        modes = built.problem.tasks[at].modes
        uses: dict[tuple[str, str], list[int]] = {}
        for number, mode in enumerate(modes):
            for resource in (("tool", mode.tool), ("carrier", mode.carrier)):
                uses.setdefault(resource, []).append(number)
        for resource, numbers in uses.items():
            taken = [built.chosen[at, number] for number in numbers]
            lengths = {steps_of(modes[number].hours) for number in numbers}
            if len(lengths) == 1:  # one stretch, whichever of them it is: bounds are sharper so
                whether = _one_of(built, taken, certain=len(taken) == len(modes) and not built.may_leave)
                users.setdefault(resource, []).append(_stretch(built, at, lengths.pop(), whether))
                continue
            for number in numbers:
                stretch = _stretch(built, at, steps_of(modes[number].hours), built.chosen[at, number])
                users.setdefault(resource, []).append(stretch)
        shortest = min(steps_of(mode.hours) for mode in modes)
        for operator in built.problem.operators:
            if (at, operator.name) in built.driven:
                stretch = _stretch(built, at, shortest, built.driven[at, operator.name])
                users.setdefault(("operator", operator.name), []).append(stretch)
    return users


def _one_of(built: SeasonModel, literals: list[Any], *, certain: bool) -> Any:
    """Return whether any of some literals holds, of which no two can."""
    if certain:
        return True
    if len(literals) == 1:
        return literals[0]
    whether = built.model.new_bool_var("")
    built.model.add(sum(literals) == whether)
    built.whether.append((literals, whether))
    return whether


def _stretch(built: SeasonModel, at: int, length: int, whether: Any) -> Any:
    start = built.start[at]
    if whether is True:
        return built.model.new_interval_var(start, length, start + length, "")
    return built.model.new_optional_interval_var(start, length, start + length, whether, "")


def _followers(built: SeasonModel) -> dict[int, set[int]]:
    """Return the tasks that must come after each."""
    among = set(built.tasks)
    follows: dict[int, set[int]] = {at: set() for at in built.tasks}
    for at in reversed(built.tasks):  # what must be done before stands before
        for other, _ in built.problem.tasks[at].after:
            if other in among:
                follows[other] |= {at} | follows[at]
    return follows


def _shared(built: SeasonModel, one: int, other: int) -> Iterator[tuple[list[Any], float]]:
    """Yield the ways in which two tasks share something, and the hours between them then."""
    problem = built.problem
    tasks = problem.tasks
    for number, mode in enumerate(tasks[one].modes):
        for other_number, other_mode in enumerate(tasks[other].modes):
            if mode.tool == other_mode.tool or mode.carrier == other_mode.carrier:
                both = [built.chosen[one, number], built.chosen[other, other_number]]
                yield both, problem.gap_h((one, mode), (other, other_mode))
    if built.driven:
        way_h = float(problem.travel_h[tasks[one].place, tasks[other].place])
        for operator in problem.operators:
            if (one, operator.name) in built.driven and (other, operator.name) in built.driven:
                yield [built.driven[one, operator.name], built.driven[other, operator.name]], way_h


def _add_losses(built: SeasonModel, spans: dict[int, _Span]) -> None:
    """Add what lateness costs: of each task by the step it starts at, to a tenth of a cent."""
    model = built.model
    total: Any = 0
    for at in built.tasks:
        task = built.problem.tasks[at]
        if not task.loss.any():
            continue
        loss = built.loss_of[at] = model.new_int_var(0, ceil(CENTS * float(task.loss.max())) + 1, "")
        for number, mode in enumerate(task.modes):
            chosen = built.chosen[at, number]
            lines = loss_lines(built.problem, at, steps_of(mode.hours), spans[at].first, spans[at].last)
            within = [model.new_bool_var("") for _ in lines] if len(lines) > 1 else [chosen]
            built.within[at, number] = lines, within
            if len(lines) > 1:
                model.add(sum(within) == chosen)
            for line, is_here in zip(lines, within, strict=True):
                model.add_linear_constraint(built.start[at], line.first, line.last).only_enforce_if(is_here)
                _add_above(model, loss, built.start[at], line, is_here)
            for line in _lower_lines(lines):
                _add_above(model, loss, built.start[at], line, chosen)
        total += loss
    built.loss = total


def loss_lines(problem: SeasonProblem, at: int, length: int, first: int, last: int) -> list[LossLine]:
    """Return what a task loses by the step it starts at, in straight lines that follow each other.

    Parameters
    ----------
    problem : SeasonProblem
        Tasks and calendar.
    at : int
        Number of the task.
    length : int
        Steps that it takes.
    first, last : int
        Steps between which it may start.
    """
    summed = np.concatenate([[0.0], np.cumsum(problem.tasks[at].loss * problem.fit_h)])
    steps = np.arange(first, last + 1)
    low, high = (np.interp(each / STEPS_AN_HOUR, problem.start_h, summed) for each in (steps, steps + length))
    cents = CENTS * (high - low) / (length / STEPS_AN_HOUR)
    lines: list[LossLine] = []
    begin = 0
    while begin < len(cents):
        end, slope = begin, 0.0
        if begin + 1 < len(cents):
            slope = cents[begin + 1] - cents[begin]
            bends = np.abs(cents[begin:] - cents[begin] - slope * np.arange(len(cents) - begin)) > _LINE_CENTS
            end = begin + (int(np.argmax(bends)) - 1 if bends.any() else len(bends) - 1)
        lines.append(LossLine(first + begin, first + end, float(cents[begin]), float(slope)))
        begin = end + 1
    return lines


def _lower_lines(lines: Sequence[LossLine]) -> list[LossLine]:
    """Return a few lines that lie below all of these: sides of their convex hull, the longest."""
    points = [(line.first, line.cents) for line in lines]
    points += [(line.last, line.cents + line.slope * (line.last - line.first)) for line in lines]
    hull: list[tuple[int, float]] = []
    for point in sorted(set(points)):
        while len(hull) > 1 and _turn(hull[-2], hull[-1], point) <= 0:
            hull.pop()
        hull.append(point)
    sides = [
        LossLine(one[0], other[0], one[1], (other[1] - one[1]) / (other[0] - one[0]))
        for one, other in pairwise(hull)
        if other[0] > one[0]
    ]
    return sorted(sides, key=lambda side: side.first - side.last)[:_MOST_LOWER]


def _turn(one: tuple[int, float], two: tuple[int, float], three: tuple[int, float]) -> float:
    return (two[0] - one[0]) * (three[1] - one[1]) - (two[1] - one[1]) * (three[0] - one[0])


def _add_above(model: Any, loss: Any, start: Any, line: LossLine, chosen: Any) -> None:
    """Keep the loss above a line, in thousandths of a cent and no more than it is."""
    slope = floor(_FINE * line.slope + _LITTLE)
    model.add(_FINE * loss >= floor(_FINE * line.cents) + slope * (start - line.first)).only_enforce_if(chosen)
