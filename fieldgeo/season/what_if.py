"""What if: another tool in place of one, one more machine or operator, longer days, more acres; side by side.

"40 ft field cultivator for 30 ft field cultivator"   a tool of the shed in place of another
"another row-crop tractor"                            one more tool, tractor, machine or operator like one there is
"+2h"                                                 hours more of a fit day
"+200ac"                                              acres more: every field larger by the same share
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from fieldgeo.errors import InputError
from fieldgeo.machinery.entries import shown
from fieldgeo.machinery.traction import Ground
from fieldgeo.season.model import Mode, Operator, SeasonProblem
from fieldgeo.season.plan import SeasonPlan
from fieldgeo.season.power import pullers
from fieldgeo.season.problem import FieldPlans, season_problem
from fieldgeo.season.solve import DEFAULT_EFFORT, Effort, solve_season
from fieldgeo.units import ACRE_M2, HECTARE_M2

if TYPE_CHECKING:
    from collections.abc import Callable, Collection

    from fieldgeo.season.model import Schedule, Season, Task

_MORE: Final = re.compile(r"\+\s*(?P<number>\d+\.?\d*|\.\d+)\s*(?P<unit>h|hr|hours?|ac|acres?|ha|hectares?)")
_MOST_HOURS: Final = 24.0
_RULE: Final = (
    'It must be "NEW for OLD" with two tools of the shed, "another NAME" with a tool, tractor, machine or operator of '
    'the season, "+2h" or "+200ac".'
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """A change to a season, as it was asked for.

    Parameters
    ----------
    text : str
        As typed.
    how : str
        What it is taken to mean, for a person.
    new, old : str
        Tools, where one takes the place of another.
    another : str
        What there is one more of.
    hours : float
        More in a fit day. [h]
    area_m2 : float
        More, over all fields. [m2]
    """

    text: str
    how: str
    new: str = ""
    old: str = ""
    another: str = ""
    hours: float = 0.0
    area_m2: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Variant:
    """A season with a change, and its schedule."""

    change: Change
    problem: SeasonProblem
    schedule: Schedule


def read_change(text: str, season: Season) -> Change:
    """Return what a change means for a season.

    Parameters
    ----------
    text : str
        As in this module's examples.
    season : Season
        The season.

    Raises
    ------
    InputError
        If it is none of them, or a name is not known.
    """
    asked = " ".join(text.split())
    more = _MORE.fullmatch(asked)
    if more is not None:
        return _read_more(asked, float(more["number"]), more["unit"], season)
    tools = {tool.name for tool in season.shed.tools}
    for at in [match.start() for match in re.finditer(" for ", asked)]:
        new, old = asked[:at], asked[at + 5 :]
        if new in tools and old in tools:
            return _read_swap(asked, new, old, season)
    if asked.startswith("another "):
        name = asked.removeprefix("another ")
        kind = _kinds(season).get(name)
        if kind is not None:
            return Change(text=asked, how=f"one more {kind} like {name!r}, at no cost", another=name)
        known = ", ".join(repr(each) for each in _kinds(season))
        raise InputError(f"what if: got {shown(asked)}. Another of what? It must be one of {known}.")
    there = ", ".join(repr(each) for each in sorted(tools))
    raise InputError(f"what if: got {shown(asked)}. {_RULE} Tools of the shed: {there}.")


def _read_more(asked: str, number: float, unit: str, season: Season) -> Change:
    if not number > 0:
        raise InputError(f"what if: got {shown(asked)}. It must be above zero.")
    if unit.startswith("h") and not unit.startswith("hec") and unit != "ha":
        if season.hours_a_day + number > _MOST_HOURS:
            raise InputError(
                f"what if: got {shown(asked)}. With the {season.hours_a_day:g} h there are it is more than a day has."
            )
        how = f"{season.hours_a_day + number:g} h of a fit day instead of {season.hours_a_day:g} h, for everything"
        return Change(text=asked, how=how, hours=number)
    area_m2 = number * (ACRE_M2 if unit.startswith("ac") else HECTARE_M2)
    total_m2 = sum(each.field.area_m2 for each in season.fields)
    share = 1 + area_m2 / total_m2
    how = f"every field {100 * (share - 1):.1f} % larger, its hours, fuel and losses with it; roads as they are"
    return Change(text=asked, how=how, area_m2=area_m2)


def _read_swap(asked: str, new: str, old: str, season: Season) -> Change:
    problems = []
    if not any(old in operation.tools for operation in season.operations):
        raise InputError(f"what if: got {shown(asked)}. No operation of this season uses {old!r}.")
    for operation in season.operations:
        if old not in operation.tools:
            continue
        for soil in dict.fromkeys(season.field_of(name).soil for name in operation.fields):
            ground = Ground(soil=soil, surface=operation.surface)
            found = pullers(season.shed, season.shed.tool(new), operation.tractors, ground)
            if not found.fitting:
                problems.append(
                    f"{operation.name}: nothing that may draw {new!r} holds its speed: {found.short_text()}"
                )
    if problems:
        raise InputError(f"what if: got {shown(asked)}. {'; '.join(problems)}.")
    return Change(text=asked, how=f"{new!r} wherever {old!r} is used, laid on the same fields", new=new, old=old)


def _kinds(season: Season) -> dict[str, str]:
    """Return what there can be one more of: its name and its kind."""
    used = {name for operation in season.operations for name in operation.tools}
    kinds = dict.fromkeys(sorted(used), "tool")
    kinds |= {tractor.name: "tractor" for tractor in season.shed.tractors}
    kinds |= {season.machines[name]: "machine" for name in sorted(used) if name in season.machines}
    return kinds | {operator.name: "operator" for operator in season.operators}


def try_change(
    plan: SeasonPlan,
    change: Change,
    *,
    effort: Effort = DEFAULT_EFFORT,
    progress: Callable[[], None] = lambda: None,
) -> Variant:
    """Return a season with a change, scheduled anew.

    Parameters
    ----------
    plan : SeasonPlan
        The season as it is.
    change : Change
        From `read_change`.
    effort : Effort
        Work and seed of the solver.
    progress : callable
        Called when it is done.

    Raises
    ------
    SeasonError
        If the new tool cannot be laid on a field.
    """
    problem = plan.problem
    if change.new:
        problem = _swapped(plan, change)
    elif change.another:
        heads = {tool for tool, machine in plan.season.machines.items() if machine == change.another}
        problem = with_another(problem, change.another, heads)
    elif change.hours:
        more = (problem.hours_a_day + change.hours) / problem.hours_a_day
        problem = replace(problem, fit_h=problem.fit_h * more, hours_a_day=problem.hours_a_day + change.hours)
    elif change.area_m2:
        total_m2 = sum(each.field.area_m2 for each in plan.season.fields)
        problem = enlarged(problem, 1 + change.area_m2 / total_m2)
    hint = plan.schedule.placed if not change.hours else ()
    schedule = solve_season(problem, effort=effort, hint=hint)
    progress()
    return Variant(change=change, problem=problem, schedule=schedule)


def _swapped(plan: SeasonPlan, change: Change) -> SeasonProblem:
    season = plan.season

    def tools_of(tools: tuple[str, ...]) -> tuple[str, ...]:
        return tuple(dict.fromkeys(change.new if name == change.old else name for name in tools))

    operations = tuple(replace(each, tools=tools_of(each.tools)) for each in season.operations)
    machines = dict(season.machines)
    if change.new in machines and change.old in machines and machines[change.new] == change.new:
        machines[change.new] = machines[change.old]  # a new head goes on the machine of the old one
    operators = tuple(
        replace(each, drives=(*each.drives, change.new)) if change.old in each.drives else each
        for each in season.operators
    )
    changed = replace(season, operations=operations, machines=machines, operators=operators)
    laid = FieldPlans(plans=dict(plan.plans.plans), direction_deg=dict(plan.plans.direction_deg))
    laid.lay(changed)
    return season_problem(changed, laid, plan.weather)


def with_another(problem: SeasonProblem, name: str, heads: Collection[str] = ()) -> SeasonProblem:
    """Return a problem with one more tool, carrier or operator like one there is.

    Parameters
    ----------
    problem : SeasonProblem
        Tasks and operators.
    name : str
        Which.
    heads : collection of str
        Tools that are heads of it, which come with it.
    """
    twin = f"{name} (2)"
    operators = []
    for each in problem.operators:
        drives = (*each.drives, twin) if name in each.drives else each.drives
        operators.append(replace(each, drives=drives))
        if each.name == name:
            operators.append(Operator(name=twin, drives=each.drives))

    def more(task: Task) -> tuple[Mode, ...]:
        modes = list(task.modes)
        for mode in task.modes:
            if name not in (mode.tool, mode.carrier):
                continue
            tool = twin if mode.tool == name else mode.tool
            carrier = twin if mode.carrier == name else mode.carrier
            if mode.carrier == name and mode.tool != name and mode.tool in heads:
                tool = f"{mode.tool} (2)"
            modes.append(replace(mode, tool=tool, carrier=carrier))
        return tuple(modes)

    tasks = tuple(replace(task, modes=more(task)) for task in problem.tasks)
    return replace(problem, tasks=tasks, operators=tuple(operators))


def enlarged(problem: SeasonProblem, share: float) -> SeasonProblem:
    """Return a problem with every field larger: hours, fuel and losses with it, roads as they are.

    Parameters
    ----------
    problem : SeasonProblem
        Tasks.
    share : float
        New area over old, > 0. [-]
    """
    tasks = tuple(
        replace(
            task, area_m2=task.area_m2 * share, loss=task.loss * share, loss_bu=task.loss_bu * share,
            modes=tuple(replace(mode, hours=mode.hours * share, fuel_l=mode.fuel_l * share) for mode in task.modes),
        )
        for task in problem.tasks
    )  # fmt: skip
    return replace(problem, tasks=tasks)
