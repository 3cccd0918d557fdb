"""Fuel of one operation: working at its load, turning, standing with the engine idling."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite
from typing import TYPE_CHECKING

from fieldgeo.errors import InputError
from fieldgeo.machinery.capacity import effective_capacity_m2_s
from fieldgeo.machinery.fuel import DEFAULT_FUEL_RULES, FuelRules, fuel_l_h
from fieldgeo.units import HOUR_S

if TYPE_CHECKING:
    from fieldgeo.machinery.pull import Pull


@dataclass(frozen=True, slots=True, kw_only=True)
class FuelRates:
    """What an engine burns in an hour of each kind of time. [L/h]"""

    working: float
    turning: float  # and driving with the tool up
    standing: float


@dataclass(frozen=True, slots=True, kw_only=True)
class OperationFuel:
    """Fuel of an operation, by what it was burned for. [L]"""

    rates: FuelRates  # [L/h]
    working: float
    turning: float
    standing: float
    time_s: float  # all of it [s]

    @property
    def total(self) -> float:
        """All of it. [L]"""
        return self.working + self.turning + self.standing

    @property
    def mean_l_h(self) -> float:
        """Fuel for an hour of field time. [L/h]"""
        return self.total / self.time_s * HOUR_S if self.time_s > 0 else 0.0


def fuel_rates(pull: Pull, *, rules: FuelRules = DEFAULT_FUEL_RULES) -> FuelRates:
    """Return what the engine burns in an hour of working, turning and standing. [L/h]

    Working takes the typical draft on the level, where up and down together come out; more power than there is is held
    to what there is.

    Parameters
    ----------
    pull : Pull
        Tool and tractor at their speed.
    rules : FuelRules
        Equation and shares.
    """
    fuel = "diesel" if pull.tractor is None else pull.tractor.fuel
    most_w = pull.available_w

    def at(used_w: float, engine_speed_share: float) -> float:
        return fuel_l_h(used_w=used_w, most_w=most_w, fuel=fuel, form=rules.form, engine_speed_share=engine_speed_share)

    return FuelRates(
        working=at(min(pull.level.pto_w, most_w), rules.working_speed_share),
        turning=at(rules.turning_load * most_w, rules.working_speed_share),
        standing=at(0.0, rules.idle_speed_share),
    )


def operation_fuel(
    pull: Pull, *, working_s: float, turning_s: float, standing_s: float, rules: FuelRules = DEFAULT_FUEL_RULES
) -> OperationFuel:
    """Return the fuel of an operation from the times it takes (derived: rate x time, summed).

    Parameters
    ----------
    pull : Pull
        Tool and tractor at their speed.
    working_s : float
        Time with the tool at work, >= 0. [s]
    turning_s : float
        Time turning and driving with the tool up, >= 0. [s]
    standing_s : float
        Time standing: lifting, filling, unloading, adjusting, >= 0. [s]
    rules : FuelRules
        Equation and shares.

    Raises
    ------
    InputError
        If a time is not a finite number from zero.
    """
    for what, time_s in (("working_s", working_s), ("turning_s", turning_s), ("standing_s", standing_s)):
        if not (isfinite(time_s) and time_s >= 0):
            raise InputError(f"{what}: got {time_s:g}. It must be a finite number, not below zero.")
    rates = fuel_rates(pull, rules=rules)
    return OperationFuel(
        rates=rates,
        working=rates.working * working_s / HOUR_S,
        turning=rates.turning * turning_s / HOUR_S,
        standing=rates.standing * standing_s / HOUR_S,
        time_s=working_s + turning_s + standing_s,
    )


def fuel_without_field(
    pull: Pull, *, area_m2: float, efficiency: float, rules: FuelRules = DEFAULT_FUEL_RULES
) -> OperationFuel:
    """Return the fuel for an area whose field is not known, from a field efficiency.

    The share of time that the efficiency leaves is work, all the rest is taken as turning (own choice). With an
    outline, `fieldgeo.analysis.work_fuel` takes the times as they come.

    Parameters
    ----------
    pull : Pull
        Tool and tractor at their speed.
    area_m2 : float
        Area worked, >= 0. [m2]
    efficiency : float
        Field efficiency, 0 < value <= 1. [-]
    rules : FuelRules
        Equation and shares.

    Raises
    ------
    InputError
        If area or efficiency is out of range.
    """
    if not (isfinite(area_m2) and area_m2 >= 0):
        raise InputError(f"area_m2: got {area_m2:g}. It must be a finite number, not below zero.")
    capacity = effective_capacity_m2_s(width_m=pull.tool.width_m, speed_m_s=pull.speed_m_s, efficiency=efficiency)
    time_s = area_m2 / capacity
    return operation_fuel(
        pull, working_s=efficiency * time_s, turning_s=(1 - efficiency) * time_s, standing_s=0.0, rules=rules
    )
