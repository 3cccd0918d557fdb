"""`plan_season`: the whole way from a season file to its schedule, and what comes of it machine by machine."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, TypeAlias

from fieldgeo.season.model import day_of
from fieldgeo.season.problem import FieldPlans, season_problem, season_weather
from fieldgeo.season.solve import DEFAULT_EFFORT, Effort, solve_season

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from datetime import date

    from fieldgeo.season.model import Placed, Schedule, Season, SeasonProblem
    from fieldgeo.season.weather import Weather

ResourceKind: TypeAlias = Literal["tool", "carrier", "operator"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SeasonPlan:
    """A season with its schedule, and all that it came from."""

    season: Season
    plans: FieldPlans
    weather: Weather
    problem: SeasonProblem
    schedule: Schedule


@dataclass(frozen=True, slots=True, kw_only=True)
class OperationDone:
    """One operation in a schedule."""

    operation: str
    first_day: date | None  # day on which it begins; None where nothing of it is done
    last_day: date | None  # day on which the last of it is done
    window_last: date
    hours: float  # field time of what is done [h]
    needed_h: float  # field time of all of it, in the quickest ways [h]
    left_h: float  # field time of what is left undone [h]
    left: tuple[str, ...]  # fields that are left
    area_m2: float  # that is done [m2]
    fuel_l: float
    loss: float  # [money]
    loss_bu: float  # [bu]
    window_h: float  # fit hours planned with in its window [h]


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineUse:
    """What a tool, tractor, machine or operator does in a schedule."""

    kind: ResourceKind
    name: str
    tasks: int
    field_h: float  # [h]
    road_h: float  # on the road and changing tools; of a tool and an operator on the road [h]


def plan_season(
    season: Season,
    *,
    effort: Effort = DEFAULT_EFFORT,
    plans: FieldPlans | None = None,
    progress: Callable[[], None] = lambda: None,
) -> SeasonPlan:
    """Return a season's schedule: tools laid on fields, tasks placed on the days that are fit.

    Parameters
    ----------
    season : Season
        From `fieldgeo.season.read.read_season`.
    effort : Effort
        Work and seed of the solver.
    plans : FieldPlans, optional
        Plans that have been laid already; what is missing is added.
    progress : callable
        Called once for each field, and twice while the schedule is searched for (`plan_steps` in all, at most).

    Raises
    ------
    SeasonError
        If a tool cannot be laid on a field.
    InputError
        If no share of fit days is known for a day of the season.
    """
    weather = season_weather(season)  # what can be refused soon is refused before the fields are laid out
    laid = FieldPlans() if plans is None else plans
    laid.lay(season, progress=progress)
    problem = season_problem(season, laid, weather)
    schedule = solve_season(problem, effort=effort, progress=progress)
    return SeasonPlan(season=season, plans=laid, weather=weather, problem=problem, schedule=schedule)


def plan_steps(season: Season) -> int:
    """Return how often `plan_season` reports on its way, about.

    Parameters
    ----------
    season : Season
        The season.
    """
    return len(season.fields) + 2


def operations_done(problem: SeasonProblem, schedule: Schedule) -> list[OperationDone]:
    """Return what a schedule comes to, operation by operation, in the order of the problem.

    Parameters
    ----------
    problem : SeasonProblem
        Tasks and calendar.
    schedule : Schedule
        Its schedule.
    """
    start_h = problem.start_h
    placed = {each.task: each for each in schedule.placed}
    found = []
    for name in dict.fromkeys(task.operation for task in problem.tasks):
        numbers = [at for at, task in enumerate(problem.tasks) if task.operation == name]
        done = [placed[at] for at in numbers if at in placed]
        left = [problem.tasks[at] for at in numbers if at not in placed]
        first, last = (problem.tasks[numbers[0]].first, problem.tasks[numbers[0]].last)
        left_h = sum(min(mode.hours for mode in task.modes) for task in left)
        found.append(
            OperationDone(
                operation=name,
                first_day=_day(problem, min((each.start_h for each in done), default=None), is_end=False),
                last_day=_day(problem, max((each.end_h for each in done), default=None), is_end=True),
                window_last=problem.days[last], hours=sum(each.mode.hours for each in done),
                needed_h=sum(min(mode.hours for mode in problem.tasks[at].modes) for at in numbers),
                left_h=left_h, left=tuple(task.field for task in left),
                area_m2=sum(problem.tasks[each.task].area_m2 for each in done),
                fuel_l=sum(each.mode.fuel_l for each in done),
                loss=sum(problem.lost(problem.tasks[each.task].loss, each.start_h, each.end_h) for each in done),
                loss_bu=sum(problem.lost(problem.tasks[each.task].loss_bu, each.start_h, each.end_h) for each in done),
                window_h=float(start_h[last + 1] - start_h[first]),
            )
        )  # fmt: skip
    return found


def _day(problem: SeasonProblem, hour: float | None, *, is_end: bool) -> date | None:
    return None if hour is None else problem.days[day_of(problem.start_h, hour, is_end=is_end)]


def machines_used(problem: SeasonProblem, placed: Sequence[Placed]) -> list[MachineUse]:
    """Return the hours of every tool, carrier and operator of a schedule: carriers first, the busiest of each first.

    Parameters
    ----------
    problem : SeasonProblem
        Tasks and travel times.
    placed : sequence of Placed
        Tasks by their start.
    """
    by_resource: dict[tuple[ResourceKind, str], list[Placed]] = {}
    road: dict[int, float] = {}
    last_of: dict[str, Placed] = {}
    for each in placed:
        earlier = last_of.get(each.mode.carrier)
        if earlier is None:
            road[each.task] = float(problem.travel_h[0, problem.tasks[each.task].place])
        else:
            road[each.task] = problem.gap_h((earlier.task, earlier.mode), (each.task, each.mode))
        last_of[each.mode.carrier] = each
        for resource in resources_of(each):
            by_resource.setdefault(resource, []).append(each)
    uses = [
        MachineUse(
            kind=kind, name=name, tasks=len(own), field_h=sum(each.mode.hours for each in own),
            road_h=sum(road[each.task] for each in own),
        )
        for (kind, name), own in by_resource.items()
    ]  # fmt: skip
    kinds = ("carrier", "tool", "operator")
    return sorted(uses, key=lambda use: (kinds.index(use.kind), -use.field_h, use.name))


def resources_of(placed: Placed) -> tuple[tuple[ResourceKind, str], ...]:
    """Return what a task takes: its tool, its carrier where that is another, its operator.

    Parameters
    ----------
    placed : Placed
        A task in a schedule.
    """
    tool: tuple[ResourceKind, str] = ("tool", placed.mode.tool)
    operator: tuple[ResourceKind, str] = ("operator", placed.operator)
    if placed.mode.carrier == placed.mode.tool:
        return tool, operator
    return tool, ("carrier", placed.mode.carrier), operator
