"""What an operation costs in a year, an hour and an acre; where one way of doing it becomes cheaper than another.

The method is that of ASAE EP496 (recalled) and Iowa State University Extension, Ag Decision Maker A3-29, "Estimating
Farm Machinery Costs": depreciation by remaining value, interest, taxes, insurance and housing, repairs by hours, fuel,
lubrication, labor, timeliness. Money is in any one currency.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from math import isfinite, log10
from typing import TYPE_CHECKING, Final

from fieldgeo.errors import InputError
from fieldgeo.machinery.owning import YearlyCost, yearly_cost
from fieldgeo.machinery.timeliness import Delay, timeliness_cost
from fieldgeo.units import GALLON_L, HOUR_S

if TYPE_CHECKING:
    from collections.abc import Callable

    from fieldgeo.machinery.owning import Ownership
    from fieldgeo.machinery.tool import Tool
    from fieldgeo.machinery.tractor import Tractor

_STEPS: Final = 400  # areas tried before halving; two crossings closer than 2 % of each other are not told apart


@dataclass(frozen=True, slots=True, kw_only=True)
class CostRules:
    """Prices and shares that a cost rests on. Prices are placeholders without a source: give your own.

    Parameters
    ----------
    interest : float
        Real interest, nominal less inflation, >= 0. [1/yr]
    taxes_insurance_housing : float
        Share of the mean value in a year, >= 0: 1 to 2 % (EP496, recalled). [1/yr]
    fuel_price_l : float
        Price of fuel, >= 0. [1/L]
    lubrication_share : float
        Lubrication as a share of the fuel cost, >= 0 (EP496, recalled). [-]
    wage_h : float
        Labor, >= 0. [1/h]
    labor_factor : float
        Hours of labor for an hour of field time, >= 1; 1.1 with a tractor (EP496, recalled). [-]
    labor_factor_own : float
        The same with a machine that drives itself; 1.2 (EP496, recalled). [-]

    Raises
    ------
    InputError
        If a value is out of range.
    """

    interest: float = 0.05
    taxes_insurance_housing: float = 0.015
    fuel_price_l: float = 3.5 / GALLON_L
    lubrication_share: float = 0.15
    wage_h: float = 20.0
    labor_factor: float = 1.1
    labor_factor_own: float = 1.2

    def __post_init__(self) -> None:
        for name in ("interest", "taxes_insurance_housing", "fuel_price_l", "lubrication_share", "wage_h"):
            value = getattr(self, name)
            if not (isfinite(value) and value >= 0):
                raise InputError(f"{name}: got {value:g}. It must be a finite number, not below zero.")
        for name in ("labor_factor", "labor_factor_own"):
            value = getattr(self, name)
            if not (isfinite(value) and value >= 1):
                raise InputError(f"{name}: got {value:g}. It must be a finite number from 1.")


DEFAULT_COST_RULES: Final = CostRules()


@dataclass(frozen=True, slots=True, kw_only=True)
class Operation:
    """One kind of work as it is done with one's own machines.

    Parameters
    ----------
    tool : Tool
        The tool, or the machine that drives itself.
    tool_owned : Ownership
        Its price, age and years to be kept. Its hours in a year follow from the area, unless it says more: it has other
        work beside, as a combine with two heads has.
    tractor : Tractor, optional
        What draws it.
    tractor_owned : Ownership, optional
        Price, age and use of the tractor, which has other work beside.
    capacity_m2_s : float
        Effective capacity, > 0. [m2/s]
    fuel_l_h : float
        Fuel for an hour of field time, >= 0. [L/h]
    delay : Delay, optional
        What makes lateness cost money; without it nothing is counted for that.

    Raises
    ------
    InputError
        If a value is out of range, or tractor and its price do not come together.
    """

    tool: Tool
    tool_owned: Ownership
    capacity_m2_s: float
    fuel_l_h: float
    tractor: Tractor | None = None
    tractor_owned: Ownership | None = None
    delay: Delay | None = None

    def __post_init__(self) -> None:
        if not (isfinite(self.capacity_m2_s) and self.capacity_m2_s > 0):
            raise InputError(f"operation: capacity_m2_s is {self.capacity_m2_s:g}. It must be above zero.")
        if not (isfinite(self.fuel_l_h) and self.fuel_l_h >= 0):
            raise InputError(f"operation: fuel_l_h is {self.fuel_l_h:g}. It must not be below zero.")
        if (self.tractor is None) != (self.tractor_owned is None):
            raise InputError(f"operation with {self.tool.name!r}: a tractor and what it cost go together.")


@dataclass(frozen=True, slots=True, kw_only=True)
class OperationCost:
    """What an operation costs in a year, entry by entry, in the currency of the prices."""

    area_m2: float  # worked in a year [m2]
    field_h: float  # hours of field time in a year [h]
    tool: YearlyCost  # all of its year
    tractor: YearlyCost | None  # all of its year
    depreciation: float  # of tool and tractor, their shares by hours
    interest: float
    taxes_insurance_housing: float
    repairs: float
    fuel: float
    lubrication: float
    labor: float
    timeliness: float

    def entries(self) -> dict[str, float]:
        """Return the entries by name; they sum to `total`."""
        names = (
            "depreciation", "interest", "taxes_insurance_housing", "repairs", "fuel", "lubrication", "labor",
            "timeliness",
        )  # fmt: skip
        return {name: getattr(self, name) for name in names}

    @property
    def total(self) -> float:
        """All of it in a year."""
        return sum(self.entries().values())

    @property
    def per_hour(self) -> float:
        """All of it for an hour of field time. [1/h]"""
        return self.total / self.field_h

    @property
    def per_m2(self) -> float:
        """All of it for a square metre. [1/m2]"""
        return self.total / self.area_m2


def operation_cost(operation: Operation, *, area_m2: float, rules: CostRules = DEFAULT_COST_RULES) -> OperationCost:
    """Return what an operation costs in a year on an area.

    Parameters
    ----------
    operation : Operation
        Machines, capacity, fuel.
    area_m2 : float
        Area worked in a year, > 0. [m2]
    rules : CostRules
        Prices and shares.

    Raises
    ------
    InputError
        If the area is not above zero, or no repairs are published for the kind of a machine.

    Notes
    -----
    The cost of a machine that has other work beside is shared by hours: its hours here over its hours in the year (as
    its owner gives them, at least those here).
    """
    if not (isfinite(area_m2) and area_m2 > 0):
        raise InputError(f"area_m2: got {area_m2:g}. It must be a finite number above zero.")
    field_h = area_m2 / operation.capacity_m2_s / HOUR_S
    shares = {"interest": rules.interest, "taxes_insurance_housing": rules.taxes_insurance_housing}
    tool_use_h_yr = max(field_h, operation.tool_owned.use_h_yr or 0.0)
    tool = yearly_cost(operation.tool, operation.tool_owned, use_h_yr=tool_use_h_yr, **shares)
    tool_share = field_h / tool_use_h_yr
    tractor, tractor_share = None, 0.0
    if operation.tractor is not None and operation.tractor_owned is not None:
        use_h_yr = max(field_h, operation.tractor_owned.use_h_yr or 0.0)
        tractor = yearly_cost(operation.tractor, operation.tractor_owned, use_h_yr=use_h_yr, **shares)
        tractor_share = field_h / use_h_yr

    def both(name: str) -> float:
        drawn = tractor_share * getattr(tractor, name) if tractor is not None else 0.0
        return float(tool_share * getattr(tool, name) + drawn)

    fuel = operation.fuel_l_h * field_h * rules.fuel_price_l
    labor_factor = rules.labor_factor_own if operation.tractor is None else rules.labor_factor
    delay = operation.delay
    late = 0.0
    if delay is not None:
        late = timeliness_cost(delay, area_m2=area_m2, capacity_m2_s=operation.capacity_m2_s)
    return OperationCost(
        area_m2=area_m2, field_h=field_h, tool=tool, tractor=tractor, depreciation=both("depreciation"),
        interest=both("interest"), taxes_insurance_housing=both("taxes_insurance_housing"), repairs=both("repairs"),
        fuel=fuel, lubrication=rules.lubrication_share * fuel, labor=rules.wage_h * labor_factor * field_h,
        timeliness=late,
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class BreakEven:
    """Where the cheaper of two ways changes."""

    areas_m2: tuple[float, ...]  # areas at which both cost the same, ascending [m2]
    first_is_cheaper: tuple[bool, ...]  # below the first area, between each two, above the last: one more than areas
    least_m2: float  # the range looked at [m2]
    most_m2: float


def break_even(
    first: Callable[[float], float], second: Callable[[float], float], *, least_m2: float, most_m2: float
) -> BreakEven:
    """Return the areas in a year at which two ways of doing an operation cost the same.

    Parameters
    ----------
    first, second : callable
        Cost in a year on an area: of `operation_cost`, or area x rate for work that is hired. [m2 -> money]
    least_m2, most_m2 : float
        Range to look at, 0 < least < most. [m2]

    Raises
    ------
    InputError
        If the range is empty.

    Notes
    -----
    The range is looked through in steps of a constant ratio, and each change of sign closed in by halving (derived).

    Examples
    --------
    >>> at = break_even(lambda area: 1000 + 2 * area, lambda area: 4 * area, least_m2=1, most_m2=1e4)
    >>> [round(area) for area in at.areas_m2], at.first_is_cheaper
    ([500], (False, True))
    """
    if not (0 < least_m2 < most_m2 and isfinite(most_m2)):
        raise InputError(f"range of areas: got {least_m2:g} to {most_m2:g} m2. It must rise, from above zero.")
    ratio = (log10(most_m2) - log10(least_m2)) / _STEPS
    areas = [least_m2 * 10 ** (ratio * step) for step in range(_STEPS + 1)]

    def is_first(area_m2: float) -> bool:
        return first(area_m2) < second(area_m2)

    crossings: list[float] = []
    cheaper = [is_first(areas[0])]
    for low, high in pairwise(areas):
        if is_first(high) == cheaper[-1]:
            continue
        start, end = low, high
        while end - start > 1e-9 * end:
            middle = (start + end) / 2
            start, end = (middle, end) if is_first(middle) == cheaper[-1] else (start, middle)
        crossings.append((start + end) / 2)
        cheaper.append(not cheaper[-1])
    return BreakEven(areas_m2=tuple(crossings), first_is_cheaper=tuple(cheaper), least_m2=least_m2, most_m2=most_m2)
