"""From a season file to the problem that is solved: field times from real layouts, fuel, travel, calendar, losses."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import timedelta
from typing import TYPE_CHECKING, Any

import numpy as np

from fieldgeo.analysis.farm_work import FieldJob, work_fields
from fieldgeo.analysis.work_fuel import plan_fuel
from fieldgeo.errors import SeasonError
from fieldgeo.machinery.fuel import DEFAULT_FUEL_RULES, FuelRules
from fieldgeo.machinery.traction import Ground
from fieldgeo.season.model import FARMSTEAD, Mode, SeasonProblem, Task, loss_share
from fieldgeo.season.places import distances_m, place_of
from fieldgeo.season.power import pullers
from fieldgeo.season.weather import climate_for, fit_hours, weather_on
from fieldgeo.units import ACRE_M2, HOUR_S

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence
    from datetime import date

    from fieldgeo.analysis.farm_work import FieldWork
    from fieldgeo.analysis.plan import Plan
    from fieldgeo.frame import FloatArray
    from fieldgeo.machinery.tool import Tool
    from fieldgeo.season.model import Season, SeasonField, SeasonOperation
    from fieldgeo.season.weather import Weather

Key = tuple[str, str]  # name of a field, and of a tool with what it carries


@dataclass(slots=True)
class FieldPlans:
    """Plans of tools on fields, each laid once however often it is asked for.

    All tools of a field go in one direction: as the field says, or the best of the first that lays rows.
    """

    plans: dict[Key, Plan] = field(default_factory=dict)
    direction_deg: dict[str, float] = field(default_factory=dict)  # by field
    works: list[FieldWork] = field(default_factory=list)  # the same as it was laid; a field that got more tools, again
    notes: list[str] = field(default_factory=list)

    def lay(self, season: Season, *, progress: Callable[[], None] = lambda: None) -> None:
        """Lay every tool of a season on every field that it may work, where that has not been done.

        Parameters
        ----------
        season : Season
            Fields, operations, shed.
        progress : callable
            Called once for each field.

        Raises
        ------
        SeasonError
            If a tool cannot be laid on a field; every such pair is in `.problems`.
        """
        jobs: list[FieldJob] = []
        keys: list[tuple[str, ...]] = []
        for each in season.fields:
            missing = self._missing(season, each)
            if not missing:
                progress()
                continue
            direction = each.direction_deg if each.direction_deg is not None else self.direction_deg.get(each.name)
            keys.append(tuple(missing))
            jobs.append(
                FieldJob(
                    field=each.field, tools=tuple(tool for tool, _ in missing.values()),
                    carries=tuple(own for _, own in missing.values()), direction_deg=direction, gate=each.gate,
                )
            )  # fmt: skip
        problems = []
        for work, names in zip(work_fields(jobs, progress=progress), keys, strict=True):
            self.works.append(work)
            for one, name in zip(work.works, names, strict=True):
                if one.plan is None:
                    problems.append(f"tool {one.tool.name!r} on field {work.field.name!r}: {one.refusal}")
                    continue
                self.direction_deg.setdefault(work.field.name, one.plan.layout.direction_deg)
                self.plans[work.field.name, name] = one.plan if one.loaded is None else one.loaded.plan
                if one.refusal:
                    self.notes.append(f"{work.field.name}, {one.tool.name}: stops are not counted: {one.refusal}")
        if problems:
            raise SeasonError("the season cannot be laid out. Take these tools or fields out:", problems)

    def _missing(self, season: Season, where: SeasonField) -> dict[str, tuple[Tool, Mapping[str, Any]]]:
        """Return the tools that have no plan on a field yet with what they carry, by tool and load."""
        tools: dict[str, tuple[Tool, Mapping[str, Any]]] = {}
        for operation in season.operations:
            for name in operation.tools if where.name in operation.fields else ():
                key, own = carried(season, operation, where, name)
                if (where.name, key) not in self.plans:
                    tools[key] = season.shed.tool(name), own
        return tools


def carried(season: Season, operation: SeasonOperation, where: SeasonField, tool: str) -> tuple[str, Mapping[str, Any]]:
    """Return the name that a tool with what it carries goes by, and what it carries.

    Parameters
    ----------
    season : Season
        Shed and crops.
    operation : SeasonOperation
        What is done.
    where : SeasonField
        The field.
    tool : str
        Name of the tool.
    """
    own = dict(season.shed.loads.get(tool, {}))
    changed = dict(operation.supplies)
    crop = season.crops[where.crop]
    harvests = season.shed.tool(tool).kind.startswith("combine")
    if harvests and crop.yield_bu_m2 is not None and "tank" in own | changed and "yield" not in changed:
        changed["yield"] = f"{crop.yield_bu_m2 * ACRE_M2:.6g}bu/ac"
    if not changed:
        return tool, own
    return f"{tool} ({', '.join(f'{key} {value}' for key, value in changed.items())})", own | changed


def season_days(season: Season) -> tuple[date, ...]:
    """Return the days from the first day of any window to the last.

    Parameters
    ----------
    season : Season
        Operations with windows.
    """
    first = min(each.first for each in season.operations)
    last = max(each.last for each in season.operations)
    return tuple(first + timedelta(days=number) for number in range((last - first).days + 1))


def season_weather(season: Season) -> Weather:
    """Return the weather to reckon with in a season.

    Parameters
    ----------
    season : Season
        Its regime and its days.

    Raises
    ------
    InputError
        If the regime knows no share of fit days for one of its days.
    """
    return weather_on(climate_for(season.regime), season_days(season))


def planned_hours(season: Season, weather: Weather) -> FloatArray:
    """Return the fit hours that are planned with on each day, none on days off; shape (D,). [h]

    Parameters
    ----------
    season : Season
        Hours a day, days off, how sure the hours are to be.
    weather : Weather
        Of its days.
    """
    hours = np.array([0.0 if day.weekday() in season.days_off else season.hours_a_day for day in weather.days])
    begins, reached = [], None
    for each in sorted(season.operations, key=lambda each: each.first):
        if reached is None or each.first > reached:
            begins.append(each.first)
        reached = each.last if reached is None else max(reached, each.last)
    return fit_hours(weather, hours, level=season.regime.chance, begins=begins)


def season_problem(
    season: Season,
    plans: FieldPlans,
    weather: Weather,
    *,
    fuel: FuelRules = DEFAULT_FUEL_RULES,
) -> SeasonProblem:
    """Return the problem of a season whose tools are laid on its fields.

    Parameters
    ----------
    season : Season
        What the season file says.
    plans : FieldPlans
        Every tool of it on every field that it may work, from `FieldPlans.lay`.
    weather : Weather
        Of its days, from `season_weather`.
    fuel : FuelRules
        How fuel is worked out.
    """
    days = weather.days
    names = (FARMSTEAD, *(each.name for each in season.fields))
    spots = [season.farmstead, *(place_of(each.field, each.gate) for each in season.fields)]
    way_m, _ = distances_m(names, spots, season.roads_m, season.road_factor)
    number_of: dict[tuple[str, str], int] = {}
    tasks: list[Task] = []
    for operation in _in_order(season.operations):
        share = loss_share(operation.losses, days)
        for name in operation.fields:
            where = season.field_of(name)
            crop = season.crops[where.crop]
            lost_bu = share * (crop.yield_bu_m2 or 0.0) * where.field.area_m2
            number_of[operation.name, name] = len(tasks)
            before = [(number_of[other, name], wait) for other, wait in operation.after if (other, name) in number_of]
            tasks.append(
                Task(
                    operation=operation.name, field=name, place=names.index(name), area_m2=where.field.area_m2,
                    modes=tuple(_modes(season, operation, where, plans, fuel)),
                    first=(operation.first - days[0]).days, last=(operation.last - days[0]).days,
                    after=_nearest(before, tasks), priority=operation.priority,
                    loss=lost_bu * (crop.price_bu or 0.0), loss_bu=lost_bu,
                )
            )  # fmt: skip
    return SeasonProblem(
        days=days, fit_h=planned_hours(season, weather), hours_a_day=season.hours_a_day, tasks=tuple(tasks),
        places=names, travel_h=way_m / season.road_speed_m_s / HOUR_S, hitch_h=season.hitch_s / HOUR_S,
        operators=season.operators,
    )  # fmt: skip


def _in_order(operations: Sequence[SeasonOperation]) -> list[SeasonOperation]:
    """Return operations with what comes before each of them before it, else as in the file."""
    waiting, found = list(operations), []
    while waiting:
        names = {each.name for each in waiting}
        ready = next(each for each in waiting if not names & {name for name, _ in each.after})  # there is no ring
        found.append(ready)
        waiting.remove(ready)
    return found


def _nearest(before: Sequence[tuple[int, int]], tasks: Sequence[Task]) -> tuple[tuple[int, int], ...]:
    """Return what comes before without that which comes before it anyway."""
    implied: set[int] = set()
    for at, _ in before:
        behind = [other for other, _ in tasks[at].after]
        while behind:
            other = behind.pop()
            implied.add(other)
            behind += [each for each, _ in tasks[other].after]
    return tuple((at, wait) for at, wait in before if at not in implied)


def _modes(
    season: Season, operation: SeasonOperation, where: SeasonField, plans: FieldPlans, fuel: FuelRules
) -> list[Mode]:
    ground = Ground(soil=where.soil, surface=operation.surface)
    modes = []
    for name in operation.tools:
        plan = plans.plans[where.name, carried(season, operation, where, name)[0]]
        for pull in pullers(season.shed, season.shed.tool(name), operation.tractors, ground).fitting:
            carrier = season.machines[name] if pull.tractor is None else pull.tractor.name
            litres = plan_fuel(plan, pull, rules=fuel).total
            modes.append(Mode(tool=name, carrier=carrier, hours=plan.field_time_s / HOUR_S, fuel_l=litres))
    return modes
