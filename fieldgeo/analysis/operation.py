"""An operation with the machines of a shed: its capacity and fuel, from fields or from a field efficiency."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from fieldgeo.analysis.field_pull import work_plan
from fieldgeo.analysis.work_fuel import plan_fuel
from fieldgeo.errors import FaultyInputError, InputError
from fieldgeo.machinery.capacity import effective_capacity_m2_s
from fieldgeo.machinery.cost import Operation
from fieldgeo.machinery.fuel import DEFAULT_FUEL_RULES, FuelRules
from fieldgeo.machinery.needs import needs_of
from fieldgeo.machinery.operation_fuel import fuel_without_field
from fieldgeo.machinery.published import published_efficiency
from fieldgeo.machinery.pull import DEFAULT_PULL_RULES, LEVEL, Pull, PullRules, pull_of
from fieldgeo.machinery.worth import repair_of
from fieldgeo.units import ACRE_M2

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from fieldgeo.machinery.shed import Shed
    from fieldgeo.machinery.timeliness import Delay
    from fieldgeo.machinery.tool import Tool
    from fieldgeo.machinery.traction import Ground
    from fieldgeo.machinery.tractor import Tractor
    from fieldgeo.outline.field import Field


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkAsked:
    """What a cost is asked for, beside the machines."""

    ground: Ground = LEVEL
    fields: tuple[Field, ...] = ()  # fields that capacity and fuel come from; none: from a field efficiency
    efficiency: float | None = None  # None: typical of the kind in the published table [-]
    delay: Delay | None = None
    fuel: FuelRules = DEFAULT_FUEL_RULES
    pull: PullRules = DEFAULT_PULL_RULES


@dataclass(frozen=True, slots=True, kw_only=True)
class AskedOperation:
    """An operation, and what it was worked out from."""

    operation: Operation
    pull: Pull
    efficiency: float  # field efficiency that the capacity has [-]
    efficiency_from: str  # where it comes from
    fields_m2: float  # area of the fields it was laid on; 0 without fields [m2]
    notes: tuple[str, ...]
    fuel: FuelRules = DEFAULT_FUEL_RULES  # that its fuel was worked out by


def asked_operation(
    shed: Shed,
    tool_name: str,
    tractor_name: str | None,
    asked: WorkAsked,
    *,
    progress: Callable[[], None] | None = None,
) -> AskedOperation:
    """Return an operation with machines of a shed, its capacity and its fuel.

    Parameters
    ----------
    shed : Shed
        The shed.
    tool_name : str
        A tool of it.
    tractor_name : str, optional
        A tractor of it; left out, the smallest that holds the tool's speed.
    asked : WorkAsked
        Ground, fields or efficiency, rules.
    progress : callable, optional
        Called after each field.

    Raises
    ------
    FaultyInputError
        If something is missing; everything that is missing is in `.problems`.
    InputError
        If a name is not in the shed.
    """
    tool = shed.tool(tool_name)
    pull, notes = pull_for(shed, tool, tractor_name, ground=asked.ground, rules=asked.pull)
    tractor = pull.tractor
    _check_known(shed, tool, tractor, asked)
    if asked.fields:
        area_m2, time_s, litres = 0.0, 0.0, 0.0
        counted = True
        for field in asked.fields:
            work = work_plan(field, tool, own_load=shed.loads.get(tool.name))
            counted = counted and work.counts_stops
            notes += [work.note] if work.note else []
            fuel = plan_fuel(work.plan, pull, rules=asked.fuel)
            area_m2, time_s, litres = area_m2 + field.area_m2, time_s + work.plan.field_time_s, litres + fuel.total
            if progress is not None:
                progress()
        if time_s <= 0:
            raise InputError(f"tool {tool.name!r} works nothing on these fields. Give others.")
        capacity, fuel_l_h = area_m2 / time_s, litres / time_s * 3600
        stops = "with its stops" if counted else "without stops"
        efficiency, efficiency_from = capacity / tool.theoretical_m2_s, f"of the fields, laid out, {stops}"
    else:
        efficiency, efficiency_from = _efficiency(tool, asked.efficiency)
        area_m2 = 0.0
        capacity = effective_capacity_m2_s(width_m=tool.width_m, speed_m_s=tool.speed_m_s, efficiency=efficiency)
        fuel_l_h = fuel_without_field(pull, area_m2=ACRE_M2, efficiency=efficiency, rules=asked.fuel).mean_l_h
    operation = Operation(
        tool=tool, tool_owned=shed.owned[tool.name], capacity_m2_s=capacity, fuel_l_h=fuel_l_h, tractor=tractor,
        tractor_owned=None if tractor is None else shed.owned[tractor.name], delay=asked.delay,
    )  # fmt: skip
    return AskedOperation(
        operation=operation, pull=pull, efficiency=efficiency, efficiency_from=efficiency_from, fields_m2=area_m2,
        notes=tuple(notes), fuel=asked.fuel,
    )  # fmt: skip


def pull_for(
    shed: Shed, tool: Tool, tractor_name: str | None, *, ground: Ground, rules: PullRules = DEFAULT_PULL_RULES
) -> tuple[Pull, list[str]]:
    """Return a tool behind the tractor asked for, or behind the smallest that holds its speed, and what to say of it.

    Parameters
    ----------
    shed : Shed
        The shed.
    tool : Tool
        A tool of it, at the speed asked for.
    tractor_name : str, optional
        A tractor of it.
    ground : Ground
        Soil, surface and slope.
    rules : PullRules
        What is held against the power needed.

    Raises
    ------
    InputError
        If the tractor is not in the shed, none holds the speed, or nothing is known of the tool's draft or engine.
    """
    needs = shed.needs.get(tool.name) or needs_of(tool)
    if tool.hitch == "self-propelled":
        if tractor_name is not None:
            raise InputError(f"tool {tool.name!r} drives itself; leave the tractor out.")
        return pull_of(tool, needs, ground=ground, rules=rules), []
    chosen = [shed.tractor(tractor_name)] if tractor_name is not None else list(shed.tractors)
    if not chosen:
        raise InputError(f"tool {tool.name!r}: the shed has no tractor to draw it.")
    pulls = [pull_of(tool, needs, each, ground=ground, rules=rules) for each in chosen]
    fitting = sorted((each for each in pulls if each.fits), key=lambda each: each.available_w)
    if tractor_name is not None:
        short = "" if fitting else f"{tool.name}: {tractor_name} is short at its speed; the cost is as if it were not"
        return pulls[0], [short] if short else []
    if not fitting:
        names = ", ".join(repr(each.name) for each in chosen)
        raise InputError(
            f"tool {tool.name!r}: no tractor of the shed holds its speed ({names}). Name one, or give the tool a lower "
            "speed."
        )
    return fitting[0], [f"{tool.name}: drawn by {fitting[0].name_of_power}, the smallest that holds its speed"]


def _check_known(shed: Shed, tool: Tool, tractor: Tractor | None, asked: WorkAsked) -> None:
    """Check that everything is there that a cost rests on, all at once."""
    problems = []
    machines: Sequence[Tool | Tractor] = [tool] if tractor is None else [tool, tractor]
    for machine in machines:
        what = "tool" if machine is tool else "tractor"
        if machine.name not in shed.owned:
            problems.append(f"{what} {machine.name!r}: price: missing. Give what a like machine costs new.")
        try:
            repair_of(machine)
        except InputError as error:
            problems.append(str(error))
    if tractor is not None and tractor.name in shed.owned and shed.owned[tractor.name].use_h_yr is None:
        problems.append(f'tractor {tractor.name!r}: use: missing. Give its hours in a year, such as "350h/yr".')
    if not asked.fields and asked.efficiency is None:
        try:
            _efficiency(tool, None)
        except InputError as error:
            problems.append(str(error))
    if problems:
        raise FaultyInputError("the cost cannot be worked out. Add these to the shed file:", problems)


def _efficiency(tool: Tool, given: float | None) -> tuple[float, str]:
    if given is not None:
        return given, "given"
    published = published_efficiency(tool.kind)
    if published is None or published.typical is None:
        raise InputError(f"tool {tool.name!r}: no field efficiency is published for its kind. Give kind, or fields.")
    return published.typical, f"typical in the published table, {'recalled' if published.is_recalled else 'read'}"
