"""What a machine is still worth, and what its repairs come to: remaining value by age and use, repairs by hours."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from math import isfinite, sqrt
from typing import TYPE_CHECKING, Final

from fieldgeo.errors import InputError
from fieldgeo.machinery.tables import Source, machine_of, source_of, table_rows
from fieldgeo.machinery.tractor import Tractor

if TYPE_CHECKING:
    from collections.abc import Mapping

    from fieldgeo.machinery.tool import Tool

# Machines of the efficiency table -> rows of the other tables, where the names differ. The nearest row: common
# practice, no source.
_REPAIR_AS: Final[Mapping[str, str]] = {
    "subsoiler": "chisel plow (incl. coulter-chisel)",
    "anhydrous ammonia applicator": "fertilizer spreader",
    "manure spreader": "fertilizer spreader",
    "air seeder measured on many plots (large-scale research)": "grain drill",
}
_VALUE_AS: Final[Mapping[str, str]] = {
    "moldboard plow": "plow",
    "row-crop planter": "planter",
    "grain drill": "planter",
    "air seeder measured on many plots (large-scale research)": "planter",
    "combine, self-propelled": "combine",
    "combine, pull-type": "combine",
    "corn picker-sheller": "swather and other harvest",
    "forage harvester, pull-type": "swather and other harvest",
    "forage harvester, self-propelled": "swather and other harvest",
    "stalk chopper (listed with beet topper)": "mower",
    "boom-type sprayer": "skid-steer and other vehicles",
    "fertilizer spreader": "skid-steer and other vehicles",
    "manure spreader": "skid-steer and other vehicles",
}
_OTHER_VALUE: Final = "disk and other tillage"
# Upper ends of the classes of tractors of the table. [W]
_TRACTOR_VALUES: Final = ((60e3, "tractor < 60 kW (80 hp)"), (112e3, "tractor 60-112 kW (80-150 hp)"))
_LARGE_TRACTOR: Final = "tractor > 112 kW (150 hp)"


@dataclass(frozen=True, slots=True, kw_only=True)
class RemainingValue:
    """Coefficients of the remaining value of one class of machines."""

    machines: str
    c1: float
    c2: float
    c3: float
    source: Source

    def share(self, *, age_years: float, use_h_yr: float) -> float:
        """Return what a machine is worth as a share of the price of a like machine new, 0 to 1. [-]

        Parameters
        ----------
        age_years : float
            Age, >= 0; new it is worth its price. [yr]
        use_h_yr : float
            Mean use in a year, >= 0. [h/yr]

        Raises
        ------
        InputError
            If a value is out of range.

        Notes
        -----
        (c1 - c2 sqrt(age) - c3 sqrt(use))2, not below zero: ASAE/ASABE D497, table of remaining values, recalled.
        """
        _check("age_years", age_years)
        _check("use_h_yr", use_h_yr)
        if age_years == 0:
            return 1.0
        root = self.c1 - self.c2 * sqrt(age_years) - self.c3 * sqrt(use_h_yr)
        worth = max(0.0, root)
        return min(1.0, worth * worth)


@dataclass(frozen=True, slots=True, kw_only=True)
class Repair:
    """Coefficients of the repairs of one kind of machine."""

    machine: str
    life_h: float  # hours after which it is worn out [h]
    rf1: float
    rf2: float
    source: Source

    def share(self, *, start_h: float = 0.0, end_h: float) -> float:
        """Return what repairs come to from one count of hours to another, as a share of the list price. [-]

        Parameters
        ----------
        start_h : float
            Hours on the machine at the beginning, >= 0. [h]
        end_h : float
            Hours on it at the end, >= `start_h`. [h]

        Raises
        ------
        InputError
            If hours are below zero or run backwards.

        Notes
        -----
        Repairs to h hours are RF1 (h / 1000)^RF2 of the list price: ASAE/ASABE EP496 and D497 Table 3, recalled. An
        interval is the difference of two totals.
        """
        _check("start_h", start_h)
        _check("end_h", end_h)
        if end_h < start_h:
            raise InputError(f"hours: got {start_h:g} to {end_h:g}. They must not run backwards.")
        return float(self.rf1 * ((end_h / 1000) ** self.rf2 - (start_h / 1000) ** self.rf2))


@cache
def repair_table() -> Mapping[str, Repair]:
    """Return the published repair figures by machine."""
    return {
        row["machine"]: Repair(
            machine=row["machine"], life_h=float(row["est_life_h"]), rf1=float(row["rf1"]), rf2=float(row["rf2"]),
            source=source_of(row),
        )
        for row in table_rows("repair.csv")
    }  # fmt: skip


@cache
def remaining_value_table() -> Mapping[str, RemainingValue]:
    """Return the published remaining values by class of machines."""
    return {
        row["machine"]: RemainingValue(
            machines=row["machine"], c1=float(row["c1"]), c2=float(row["c2"]), c3=float(row["c3"] or 0),
            source=source_of(row),
        )
        for row in table_rows("remaining_value.csv")
    }  # fmt: skip


def repair_of(machine: Tool | Tractor) -> Repair:
    """Return the repair figures for a tool or a tractor.

    Parameters
    ----------
    machine : Tool or Tractor
        The machine; its kind decides.

    Raises
    ------
    InputError
        If no row of the table fits its kind.
    """
    table = repair_table()
    if isinstance(machine, Tractor):
        is_large = machine.drive in {"four-wheel drive", "tracks"}
        return table[
            "tractor, four-wheel drive and crawler" if is_large else "tractor, two-wheel drive and stationary engine"
        ]
    kind = machine_of(machine.kind)
    name = _REPAIR_AS.get(kind, kind)
    if name not in table:
        raise InputError(
            f"tool {machine.name!r}: no repair costs are published for its kind, {machine.kind or 'none given'!r}. "
            f"Give kind, one of: {', '.join(table)}."
        )
    return table[name]


def remaining_value_of(machine: Tool | Tractor) -> RemainingValue:
    """Return the class of remaining values that a tool or a tractor belongs to.

    Parameters
    ----------
    machine : Tool or Tractor
        The machine; kind or power decide. Tools of no class of their own go with disks and other tillage.
    """
    table = remaining_value_table()
    if isinstance(machine, Tractor):
        return table[next((name for most_w, name in _TRACTOR_VALUES if machine.power_w < most_w), _LARGE_TRACTOR)]
    return table[_VALUE_AS.get(machine_of(machine.kind), _OTHER_VALUE)]


def _check(what: str, value: float) -> None:
    if not (isfinite(value) and value >= 0):
        raise InputError(f"{what}: got {value:g}. It must be a finite number, not below zero.")
