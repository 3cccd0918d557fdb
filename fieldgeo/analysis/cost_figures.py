"""What an operation costs, and where another tool, or hiring, becomes cheaper: as figures."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from fieldgeo.analysis.work_fuel import fuel_assumed
from fieldgeo.machinery.cost import DEFAULT_COST_RULES, BreakEven, CostRules, break_even, operation_cost
from fieldgeo.machinery.needs import PRACTICE, Assumed
from fieldgeo.machinery.owning import DEFAULT_KEEP_YEARS
from fieldgeo.machinery.timeliness import FIT_SHARE_SOURCE, Delay
from fieldgeo.machinery.worth import remaining_value_of, repair_of
from fieldgeo.units import ACRE_M2, GALLON_L, HECTARE_M2, HOUR_S, to_acres, to_hectares

if TYPE_CHECKING:
    from collections.abc import Callable, Collection

    from fieldgeo.analysis.operation import AskedOperation
    from fieldgeo.machinery.cost import Operation
    from fieldgeo.machinery.owning import Ownership, YearlyCost
    from fieldgeo.machinery.tool import Tool
    from fieldgeo.machinery.tractor import Tractor

Figures = dict[str, Any]

# Range of areas in a year that break-even is looked for in: own choice.
LEAST_AREA_M2: Final = 10 * ACRE_M2
MOST_AREA_M2: Final = 20_000 * ACRE_M2

PRICES: Final = "a placeholder, no source: give your own"
EP496: Final = "ASAE EP496, recalled"


def cost_figures(
    asked: AskedOperation,
    *,
    area_m2: float,
    rules: CostRules = DEFAULT_COST_RULES,
    given: Collection[str] = (),
    against: AskedOperation | None = None,
    hire_m2: float | None = None,
) -> Figures:
    """Return what an operation costs in a year, an hour and an acre, and where another way becomes cheaper.

    Parameters
    ----------
    asked : AskedOperation
        The operation.
    area_m2 : float
        Area worked in a year, > 0. [m2]
    rules : CostRules
        Prices and shares.
    given : collection of str
        Names of rules that were given; all others are listed as assumed.
    against : AskedOperation, optional
        The same work with another tool.
    hire_m2 : float, optional
        What it costs hired, for a square metre, > 0. [1/m2]

    Raises
    ------
    InputError
        If the area is not above zero.
    """
    figures = _one(asked, area_m2, rules) | {"assumed": [each.figures() for each in _assumed(asked, rules, given)]}
    first = _yearly(asked.operation, rules)
    if against is not None:
        beside = _one(against, area_m2, rules)
        figures["against"] = beside | {"saving_year": beside["total"]["year"] - figures["total"]["year"]}
        figures["break_even"] = _break_even(first, _yearly(against.operation, rules), asked, against)
    if hire_m2 is not None:
        hired = break_even(first, lambda area: hire_m2 * area, least_m2=LEAST_AREA_M2, most_m2=MOST_AREA_M2)
        figures["hired"] = {
            "per_ac": hire_m2 * ACRE_M2,
            "per_ha": hire_m2 * HECTARE_M2,
            "year": hire_m2 * area_m2,
            "own_saves_year": hire_m2 * area_m2 - figures["total"]["year"],
            **_crossings(hired, "own", "hired"),
        }
    return figures


def _yearly(operation: Operation, rules: CostRules) -> Callable[[float], float]:
    return lambda area_m2: operation_cost(operation, area_m2=area_m2, rules=rules).total


def _break_even(
    first: Callable[[float], float], second: Callable[[float], float], asked: AskedOperation, against: AskedOperation
) -> Figures:
    found = break_even(first, second, least_m2=LEAST_AREA_M2, most_m2=MOST_AREA_M2)
    return _crossings(found, asked.operation.tool.name, against.operation.tool.name)


def _crossings(found: BreakEven, first: str, second: str) -> Figures:
    """Return the areas at which the cheaper way changes, and which is cheaper between them."""
    return {
        "areas_ac": [to_acres(area) for area in found.areas_m2],
        "areas_ha": [to_hectares(area) for area in found.areas_m2],
        "cheaper": [first if is_first else second for is_first in found.first_is_cheaper],
        "from_ac": to_acres(found.least_m2),
        "from_ha": to_hectares(found.least_m2),
        "to_ac": to_acres(found.most_m2),
        "to_ha": to_hectares(found.most_m2),
    }


def _one(asked: AskedOperation, area_m2: float, rules: CostRules) -> Figures:
    operation = asked.operation
    cost = operation_cost(operation, area_m2=area_m2, rules=rules)
    acres = to_acres(area_m2)

    def ways(year: float) -> Figures:
        return {"year": year, "hour": year / cost.field_h, "acre": year / acres, "hectare": year / to_hectares(area_m2)}

    return {
        "tool": operation.tool.name,
        "tractor": asked.pull.name_of_power,
        "area_m2": area_m2,
        "area_ac": acres,
        "field_h": cost.field_h,
        "effective_ha_h": to_hectares(operation.capacity_m2_s * HOUR_S),
        "effective_ac_h": to_acres(operation.capacity_m2_s * HOUR_S),
        "field_efficiency": asked.efficiency,
        "field_efficiency_from": asked.efficiency_from,
        "fits": asked.pull.fits,
        "fuel_L_h": operation.fuel_l_h,
        "fuel_gal_h": operation.fuel_l_h / GALLON_L,
        "fuel_L_ha": operation.fuel_l_h * cost.field_h / to_hectares(area_m2),
        "fuel_gal_ac": operation.fuel_l_h / GALLON_L * cost.field_h / acres,
        "entries": {name: ways(value) for name, value in cost.entries().items()},
        "total": ways(cost.total),
        "machines": _machines(operation, cost.tool, cost.tractor),
        "notes": list(asked.notes),
    }


def _machines(operation: Operation, tool: YearlyCost, tractor: YearlyCost | None) -> list[Figures]:
    machines = [_machine(operation.tool, operation.tool_owned, tool)]
    if operation.tractor is not None and operation.tractor_owned is not None and tractor is not None:
        machines.append(_machine(operation.tractor, operation.tractor_owned, tractor))
    return machines


def _machine(machine: Tool | Tractor, own: Ownership, year: YearlyCost) -> Figures:
    worth, repair = remaining_value_of(machine), repair_of(machine)
    return {
        "name": machine.name,
        "price": own.price,
        "age_years": own.age_years,
        "keep_years": own.keep_years,
        "use_h_yr": year.use_h_yr,
        "end_h": year.end_h,
        "life_h": repair.life_h,
        "value_now": year.value_now,
        "value_at_end": year.value_at_end,
        "depreciation_year": year.depreciation,
        "interest_year": year.interest,
        "taxes_insurance_housing_year": year.taxes_insurance_housing,
        "repairs_year": year.repairs,
        "per_hour": year.per_hour,
        "remaining_value_figures": {
            "as": worth.machines, "source": worth.source.text, "status": worth.source.status, "note": worth.source.note,
        },
        "repair_figures": {
            "as": repair.machine, "source": repair.source.text, "status": repair.source.status,
            "note": repair.source.note,
        },
    }  # fmt: skip


def _assumed(asked: AskedOperation, rules: CostRules, given: Collection[str]) -> list[Assumed]:
    labor = "labor_factor" if asked.operation.tractor is not None else "labor_factor_own"
    each = {
        "interest": ("interest", f"{100 * rules.interest:g} % real", PRICES),
        "fuel_price_l": ("fuel", f"{rules.fuel_price_l * GALLON_L:.2f} a gallon", PRICES),
        "wage_h": ("labor", f"{rules.wage_h:g} an hour", PRICES),
        "taxes_insurance_housing": (
            "taxes, insurance and housing", f"{100 * rules.taxes_insurance_housing:g} % of the mean value a year", EP496
        ),
        "lubrication_share": ("lubrication", f"{100 * rules.lubrication_share:g} % of fuel", EP496),
        labor: ("labor", f"{getattr(rules, labor):g} h for an hour of field time", EP496),
    }  # fmt: skip
    assumed = [
        Assumed(what=what, value=value, source=source)
        for name, (what, value, source) in each.items()
        if name not in given
    ]
    if asked.operation.tool_owned.keep_years == DEFAULT_KEEP_YEARS:
        assumed.append(Assumed(what="kept", value=f"{DEFAULT_KEEP_YEARS:g} years", source=PRACTICE))
    delay, usual = asked.operation.delay, Delay(loss=0.0, value_m2=0.0)
    if delay is not None and delay.hours_a_day == usual.hours_a_day:
        assumed.append(Assumed(what="field hours", value=f"{delay.hours_a_day:g} a day", source=PRACTICE))
    if delay is not None and delay.fit_share == usual.fit_share:
        assumed.append(Assumed(what="fit days", value=f"{100 * delay.fit_share:g} %", source=FIT_SHARE_SOURCE))
    assumed += fuel_assumed(asked.fuel)
    return assumed
