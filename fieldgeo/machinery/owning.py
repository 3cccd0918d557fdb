"""`Ownership`: what a machine cost, how old it is and how much it is used; what owning it comes to in a year."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite
from typing import TYPE_CHECKING, Any, Final

from fieldgeo.errors import InputError
from fieldgeo.machinery.entries import Entry, Measure, shown
from fieldgeo.machinery.worth import remaining_value_of, repair_of
from fieldgeo.units import parse_hours, parse_use_h_yr, parse_years

if TYPE_CHECKING:
    from fieldgeo.machinery.tool import Tool
    from fieldgeo.machinery.tractor import Tractor

OWN_MEASURES: Final = {
    "age": Measure(attribute="age_years", parse=parse_years, least="0yr", most="80yr"),
    "keep": Measure(attribute="keep_years", parse=parse_years, least="1yr", most="50yr"),
    "use": Measure(attribute="use_h_yr", parse=parse_use_h_yr, least="1h/yr", most="5000h/yr"),
    "hours": Measure(attribute="hours", parse=parse_hours, least="0h", most="60000h"),
}
_MONEY: Final = ("price", "paid")
OWN_KEYS: Final = (*_MONEY, *OWN_MEASURES)
MOST_MONEY: Final = 1e9  # own choice: a larger sum is a slip
DEFAULT_KEEP_YEARS: Final = 10.0  # common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class Ownership:
    """What a machine cost and how it is used.

    Parameters
    ----------
    price : float
        What a like machine costs new today, in any one currency, > 0.
    paid : float, optional
        What was paid for it, if it is new; otherwise its worth follows from price, age and use, > 0.
    age_years : float
        Age now, >= 0. [yr]
    keep_years : float
        Years it will be kept from now on, > 0. [yr]
    use_h_yr : float, optional
        Hours of use in a year, > 0; for a tool it may follow from the area it works. [h/yr]
    hours : float, optional
        Hours on it now, >= 0; left out, age x use. [h]

    Raises
    ------
    InputError
        If a value is out of range.
    """

    price: float
    paid: float | None = None
    age_years: float = 0.0
    keep_years: float = DEFAULT_KEEP_YEARS
    use_h_yr: float | None = None
    hours: float | None = None

    def __post_init__(self) -> None:
        for name in ("price", "paid", "keep_years", "use_h_yr"):
            value = getattr(self, name)
            if value is not None and not (isfinite(value) and value > 0):
                raise InputError(f"ownership: {name} is {value:g}. It must be a finite number above zero.")
        for name in ("age_years", "hours"):
            value = getattr(self, name)
            if value is not None and not (isfinite(value) and value >= 0):
                raise InputError(f"ownership: {name} is {value:g}. It must be a finite number, not below zero.")


@dataclass(frozen=True, slots=True, kw_only=True)
class YearlyCost:
    """What owning and repairing a machine comes to in a year, in the currency of its price."""

    value_now: float
    value_at_end: float
    depreciation: float
    interest: float
    taxes_insurance_housing: float
    repairs: float
    use_h_yr: float  # [h/yr]
    end_h: float  # hours on it when it goes [h]

    @property
    def fixed(self) -> float:
        """Depreciation, interest, taxes, insurance and housing."""
        return self.depreciation + self.interest + self.taxes_insurance_housing

    @property
    def total(self) -> float:
        """Everything together."""
        return self.fixed + self.repairs

    @property
    def per_hour(self) -> float:
        """Everything together for an hour of use. [1/h]"""
        return self.total / self.use_h_yr


def capital_recovery_factor(interest: float, years: float) -> float:
    """Return the yearly payment that pays one back over some years with interest. [1/yr]

    i / (1 - (1 + i)^-n), and 1 / n without interest (derived).

    Parameters
    ----------
    interest : float
        Interest a year, >= 0 (5 % is 0.05). [-]
    years : float
        Years, > 0. [yr]

    Raises
    ------
    InputError
        If a value is out of range.

    Examples
    --------
    >>> round(capital_recovery_factor(0.08, 10), 5)
    0.14903
    """
    if not (isfinite(interest) and 0 <= interest < 1 and isfinite(years) and years > 0):
        raise InputError(f"interest: got {interest:g} over {years:g} years. It must be from 0 to 1 (5 % is 0.05).")
    return 1 / years if interest == 0 else interest / (1 - (1 + interest) ** -years)


def yearly_cost(
    machine: Tool | Tractor, own: Ownership, *, use_h_yr: float, interest: float, taxes_insurance_housing: float
) -> YearlyCost:
    """Return what owning and repairing a machine comes to in a year.

    Parameters
    ----------
    machine : Tool or Tractor
        Its kind decides on remaining value and repairs.
    own : Ownership
        Price, age and years to be kept.
    use_h_yr : float
        Hours of use in each of those years, > 0. [h/yr]
    interest : float
        Real interest: nominal less inflation, >= 0. [1/yr]
    taxes_insurance_housing : float
        Taxes, insurance and housing in a year as a share of the mean value, >= 0. [1/yr]

    Raises
    ------
    InputError
        If a value is out of range, or no repairs are published for the kind.

    Notes
    -----
    Value now = price x remaining value at its age (of a new machine what was paid, else its price); value at the end
    alike. Depreciation and interest together are the capital recovery (now - end) x CRF + end x i, depreciation alone
    (now - end) / years: the method of Iowa State University Extension, Ag Decision Maker A3-29, "Estimating Farm
    Machinery Costs". Repairs are the difference of two totals, spread evenly over the years.
    """
    for what, value in (
        ("use", use_h_yr),
        ("interest", interest),
        ("taxes_insurance_housing", taxes_insurance_housing),
    ):
        if not (isfinite(value) and value >= 0) or (what == "use" and value == 0):
            raise InputError(
                f"{what}: got {value:g}. It must be a finite number {'above' if what == 'use' else 'from'} zero."
            )
    worth = remaining_value_of(machine)
    past_use = own.hours / own.age_years if own.hours is not None and own.age_years > 0 else use_h_yr
    start_h = own.hours if own.hours is not None else own.age_years * past_use
    if own.age_years == 0:
        now = own.price if own.paid is None else own.paid
    else:
        now = own.price * worth.share(age_years=own.age_years, use_h_yr=past_use)
    end_age, end_h = own.age_years + own.keep_years, start_h + use_h_yr * own.keep_years
    end = min(now, own.price * worth.share(age_years=end_age, use_h_yr=end_h / end_age))
    depreciation = (now - end) / own.keep_years
    recovery = (now - end) * capital_recovery_factor(interest, own.keep_years) + end * interest
    repairs = own.price * repair_of(machine).share(start_h=start_h, end_h=end_h) / own.keep_years
    return YearlyCost(
        value_now=now, value_at_end=end, depreciation=depreciation, interest=recovery - depreciation,
        taxes_insurance_housing=taxes_insurance_housing * (now + end) / 2, repairs=repairs, use_h_yr=use_h_yr,
        end_h=end_h,
    )  # fmt: skip


def read_ownership(entry: Entry) -> Ownership | None:
    """Return what an entry of a shed says of price, age and use; None without a price or where there is a fault.

    Parameters
    ----------
    entry : Entry
        A [[tool]] or [[tractor]] entry.
    """
    before = len(entry.faults)
    given: dict[str, Any] = {
        measure.attribute: entry.measure(key, measure) for key, measure in OWN_MEASURES.items() if key in entry.values
    }
    for key in _MONEY:
        if key in entry.values:
            given[key] = _money(entry, key)
    if "paid" in given and "price" not in given:
        entry.fault("price", "missing. paid needs it beside: what a like machine costs new today.")
    if len(entry.faults) > before or "price" not in given:
        return None
    return Ownership(**given)


def _money(entry: Entry, key: str) -> float | None:
    value = entry.values[key]
    if isinstance(value, int | float) and not isinstance(value, bool) and 0 < value <= MOST_MONEY:
        return float(value)
    entry.fault(
        key, f"got {shown(value)}. It must be a number above zero without quotes, in the farm's own money, at most 1e9."
    )
    return None
