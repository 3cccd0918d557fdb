"""What it costs to be late: the share of a crop's value lost for each day of delay."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from math import isfinite
from typing import TYPE_CHECKING, Final

from fieldgeo.errors import InputError
from fieldgeo.machinery.tables import Source, source_of, table_rows
from fieldgeo.units import HOUR_S

if TYPE_CHECKING:
    from collections.abc import Sequence

FIT_SHARE_SOURCE: Final = "April and May in Illinois: University of Illinois farmdoc, FEFO 10-11, 2010"


@dataclass(frozen=True, slots=True, kw_only=True)
class DailyLoss:
    """Share of a crop's value lost for each day that an operation is late, as a table has it."""

    operation: str
    crop: str
    condition: str  # region or moisture
    low: float  # [1/day]
    high: float  # the same as `low` where the table gives one figure [1/day]
    source: Source

    @property
    def middle(self) -> float:
        """Middle of the range. [1/day]"""
        return (self.low + self.high) / 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Delay:
    """What makes lateness of one operation cost money.

    Parameters
    ----------
    loss : float
        Share of the crop's value lost for each day of delay, >= 0. [1/day]
    value_m2 : float
        Value of the crop on a square metre, in any one currency, >= 0. [1/m2]
    hours_a_day : float
        Field hours in a day that is fit, > 0. [h/day]
    fit_share : float
        Share of days fit for work, 0 < share <= 1. [-]
    both_sides : bool
        Whether the work is spread to both sides of the best date; otherwise it starts or ends there.

    Raises
    ------
    InputError
        If a value is out of range.
    """

    loss: float
    value_m2: float
    hours_a_day: float = 10.0  # common practice, no source
    fit_share: float = 0.5  # FIT_SHARE_SOURCE
    both_sides: bool = True

    def __post_init__(self) -> None:
        for name in ("loss", "value_m2"):
            value = getattr(self, name)
            if not (isfinite(value) and value >= 0):
                raise InputError(f"delay: {name} is {value:g}. It must be a finite number, not below zero.")
        if not 0 < self.hours_a_day <= 24:
            raise InputError(f"delay: hours_a_day is {self.hours_a_day:g}. It must be above 0 and at most 24.")
        if not 0 < self.fit_share <= 1:
            raise InputError(f"delay: fit_share is {self.fit_share:g}. It must be above 0 and at most 1.")


def timeliness_cost(delay: Delay, *, area_m2: float, capacity_m2_s: float) -> float:
    """Return what a year's lateness of one operation costs, in the currency of the crop's value.

    Parameters
    ----------
    delay : Delay
        What makes it cost money.
    area_m2 : float
        Area worked, >= 0. [m2]
    capacity_m2_s : float
        Effective capacity, > 0. [m2/s]

    Raises
    ------
    InputError
        If a value is out of range.

    Notes
    -----
    W = K3 A2 Y V / (Z G C pwd), with Z 4 where the work lies on both sides of the best date and 2 otherwise: ASAE
    EP496, clause on timeliness, recalled. It takes the loss to grow evenly, day by day.
    """
    if not (isfinite(area_m2) and area_m2 >= 0 and isfinite(capacity_m2_s) and capacity_m2_s > 0):
        raise InputError(
            f"timeliness: got an area of {area_m2:g} m2 at {capacity_m2_s:g} m2/s. The area must not be below zero and "
            "the capacity above it."
        )
    days = area_m2 / (capacity_m2_s * HOUR_S * delay.hours_a_day * delay.fit_share)
    return delay.loss * area_m2 * delay.value_m2 * days / (4 if delay.both_sides else 2)


@cache
def daily_losses() -> Sequence[DailyLoss]:
    """Return the table's shares of value lost for each day of delay, by operation, crop and condition."""
    found = []
    for row in table_rows("timeliness.csv"):
        if row["kind"] != "k3":
            continue
        low, _, high = row["value"].partition("-")
        found.append(
            DailyLoss(
                operation=row["operation"], crop=row["crop"], condition=row["region_or_condition"], low=float(low),
                high=float(high or low), source=source_of(row),
            )
        )  # fmt: skip
    return tuple(found)
