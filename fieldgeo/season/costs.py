"""What each operation of a season costs: its machines by the hours they have in the year, fuel, labor, lateness."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from fieldgeo.errors import InputError
from fieldgeo.machinery.cost import DEFAULT_COST_RULES, CostRules, Operation, operation_cost
from fieldgeo.units import HOUR_S

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from fieldgeo.machinery.cost import OperationCost
    from fieldgeo.machinery.owning import Ownership
    from fieldgeo.season.model import Placed
    from fieldgeo.season.plan import SeasonPlan


@dataclass(frozen=True, slots=True, kw_only=True)
class SeasonCost:
    """What one operation of a season costs, over all the fields that it is done on."""

    operation: str
    area_m2: float
    field_h: float  # [h]
    entries: Mapping[str, float]  # money by the names of `OperationCost.entries`; timeliness is that of the schedule

    @property
    def total(self) -> float:
        """All of it. [money]"""
        return sum(self.entries.values())

    @property
    def per_m2(self) -> float:
        """All of it for a square metre. [1/m2]"""
        return self.total / self.area_m2


@dataclass(frozen=True, slots=True, kw_only=True)
class SeasonCosts:
    """What the operations of a season cost, and those of which nothing can be said."""

    costs: tuple[SeasonCost, ...]  # in the order of the operations
    left_out: tuple[str, ...]  # operation, and why
    rules: CostRules

    @property
    def total(self) -> float:
        """All of it. [money]"""
        return sum(cost.total for cost in self.costs)


def season_costs(plan: SeasonPlan, *, rules: CostRules = DEFAULT_COST_RULES) -> SeasonCosts:
    """Return what each operation of a season costs as it is scheduled.

    Parameters
    ----------
    plan : SeasonPlan
        The season with its schedule.
    rules : CostRules
        Prices and shares.

    Notes
    -----
    By `fieldgeo.machinery.cost.operation_cost`, for each tool with what draws it. A machine's year is shared by hours:
    those of the season, or more where its owner says so. Lateness is what the schedule loses, not the formula's.
    """
    hours = _hours(plan)
    costs, left_out = [], []
    for name in dict.fromkeys(task.operation for task in plan.problem.tasks):
        placed = [each for each in plan.schedule.placed if plan.problem.tasks[each.task].operation == name]
        if not placed:
            left_out.append(f"{name}: nothing of it is done")
            continue
        try:
            costs.append(_cost(plan, name, placed, hours, rules))
        except InputError as error:
            left_out.append(f"{name}: {error}")
    return SeasonCosts(costs=tuple(costs), left_out=tuple(left_out), rules=rules)


def _cost(
    plan: SeasonPlan, name: str, placed: Sequence[Placed], hours: Mapping[str, float], rules: CostRules
) -> SeasonCost:
    problem = plan.problem
    entries: dict[str, float] = {}
    for tool, carrier in dict.fromkeys((each.mode.tool, each.mode.carrier) for each in placed):
        mine = [each for each in placed if (each.mode.tool, each.mode.carrier) == (tool, carrier)]
        for entry, money in _of_machines(plan, tool, carrier, mine, hours, rules).entries().items():
            entries[entry] = entries.get(entry, 0.0) + money
    entries["timeliness"] = sum(
        problem.lost(problem.tasks[each.task].loss, each.start_h, each.end_h) for each in placed
    )
    return SeasonCost(
        operation=name, area_m2=sum(problem.tasks[each.task].area_m2 for each in placed),
        field_h=sum(each.mode.hours for each in placed), entries=entries,
    )  # fmt: skip


def _of_machines(
    plan: SeasonPlan, tool: str, carrier: str, placed: Sequence[Placed], hours: Mapping[str, float], rules: CostRules
) -> OperationCost:
    shed = plan.season.shed
    area_m2 = sum(plan.problem.tasks[each.task].area_m2 for each in placed)
    field_h = sum(each.mode.hours for each in placed)
    tractor = next((each for each in shed.tractors if each.name == carrier), None)
    operation = Operation(
        tool=shed.tool(tool), tool_owned=_owned(plan, tool, hours), tractor=tractor,
        tractor_owned=None if tractor is None else _owned(plan, carrier, hours),
        capacity_m2_s=area_m2 / field_h / HOUR_S, fuel_l_h=sum(each.mode.fuel_l for each in placed) / field_h,
    )  # fmt: skip
    return operation_cost(operation, area_m2=area_m2, rules=rules)


def _owned(plan: SeasonPlan, name: str, hours: Mapping[str, float]) -> Ownership:
    own = plan.season.shed.owned.get(name)
    if own is None:
        raise InputError(f"{name!r} has no price in the shed. Give what a like machine costs new.")
    return replace(own, use_h_yr=max(own.use_h_yr or 0.0, hours[name]))


def _hours(plan: SeasonPlan) -> dict[str, float]:
    """Return the hours in the fields of each tool and carrier over the season. [h]"""
    hours: dict[str, float] = {}
    for each in plan.schedule.placed:
        for name in {each.mode.tool, each.mode.carrier}:
            hours[name] = hours.get(name, 0.0) + each.mode.hours
    return hours
