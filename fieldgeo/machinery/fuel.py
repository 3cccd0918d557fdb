"""Fuel that an engine burns by its load, and what extension tables print for an acre."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from math import isfinite, sqrt
from typing import TYPE_CHECKING, Final, Literal, TypeAlias, cast

from fieldgeo.errors import InputError
from fieldgeo.machinery.published import published_efficiency
from fieldgeo.machinery.tables import Source, machine_of, source_of, table_rows
from fieldgeo.units import ACRE_M2, GALLON_L, HORSEPOWER_W

if TYPE_CHECKING:
    from collections.abc import Mapping

    from fieldgeo.machinery.tractor import Fuel

Form: TypeAlias = Literal["newer", "older", "average"]
FORMS: Final[tuple[Form, ...]] = ("newer", "older", "average")

# The older form gives no fuel for an engine that idles: below this load it is held there (own choice). [-]
_LEAST_LOAD: Final = 0.1
PER_ACRE_SPREAD: Final = 0.35  # of any figure per acre, either way: Iowa State University, Ag Decision Maker A3-27


@dataclass(frozen=True, slots=True, kw_only=True)
class FuelRules:
    """How fuel is worked out from a load. The shares are common practice without a source, and changeable.

    Parameters
    ----------
    form : {"newer", "older", "average"}
        Equation: the simplified one of D497.6 and .7, that of D497 up to .5, or one figure for each horsepower whatever
        the load. There is no newer one for gasoline, and the older takes its place.
    working_speed_share : float
        Engine speed at work / full engine speed, 0 < share <= 1; less is "gear up, throttle back". [-]
    turning_load : float
        Power used while turning and driving with the tool up, as a share of the greatest, 0 <= load <= 1. [-]
    idle_speed_share : float
        Engine speed while standing / full engine speed, 0 < share <= 1. [-]

    Raises
    ------
    InputError
        If a value is out of range.
    """

    form: Form = "newer"
    working_speed_share: float = 1.0
    turning_load: float = 0.2
    idle_speed_share: float = 0.4

    def __post_init__(self) -> None:
        if self.form not in FORMS:
            raise InputError(f"fuel equation: got {self.form!r}. It must be one of {', '.join(FORMS)}.")
        for name in ("working_speed_share", "idle_speed_share"):
            value = getattr(self, name)
            if not 0 < value <= 1:
                raise InputError(f"{name}: got {value:g}. It must be above 0 and at most 1.")
        if not 0 <= self.turning_load <= 1:
            raise InputError(f"turning_load: got {self.turning_load:g}. It must be from 0 to 1.")


DEFAULT_FUEL_RULES: Final = FuelRules()


@dataclass(frozen=True, slots=True, kw_only=True)
class FuelEquation:
    """One row of the table of fuel equations."""

    fuel: Fuel
    form: Form
    unit: str
    c: tuple[float, ...]
    formula: str
    source: Source


@cache
def fuel_equations() -> Mapping[tuple[Fuel, Form], FuelEquation]:
    """Return the equations by fuel and form; where there are two of a kind, that in SI units."""
    found: dict[tuple[Fuel, Form], FuelEquation] = {}
    for row in table_rows("fuel_equations.csv"):
        key = (cast("Fuel", row["fuel"]), cast("Form", row["form"]))
        numbers = tuple(float(row[name]) for name in ("c1", "c2", "c3", "c4", "c5") if row[name])
        equation = FuelEquation(
            fuel=key[0], form=key[1], unit=row["unit"], c=numbers, formula=row["formula"], source=source_of(row)
        )
        found.setdefault(key, equation)
    return found


def fuel_equation(fuel: Fuel, form: Form) -> FuelEquation:
    """Return the equation that is used for a fuel.

    Parameters
    ----------
    fuel : {"diesel", "gasoline"}
        The fuel.
    form : {"newer", "older", "average"}
        The form asked for; gasoline has no newer one, and the older takes its place.
    """
    equations = fuel_equations()
    return equations.get((fuel, form)) or equations[fuel, "older"]


def fuel_l_h(
    *, used_w: float, most_w: float, fuel: Fuel = "diesel", form: Form = "newer", engine_speed_share: float = 1.0
) -> float:
    """Return the fuel that an engine burns in an hour. [L/h]

    Parameters
    ----------
    used_w : float
        Power used, as the power take-off would give it, >= 0; held to `most_w`. [W]
    most_w : float
        Greatest power at the power take-off, > 0. [W]
    fuel : {"diesel", "gasoline"}
        The fuel.
    form : {"newer", "older", "average"}
        Which equation.
    engine_speed_share : float
        Engine speed / full engine speed, 0 < share <= 1; only the newer form knows it. [-]

    Raises
    ------
    InputError
        If a value is out of range.

    Notes
    -----
    X is used / greatest power, N the share of engine speed, P the power used.

    newer [1]_: (0.22 + 0.096 / X) (1 - (N - 1) (0.45 X - 0.877)) P in L/h and kW; an engine that idles burns the second
    part. older [2]_: (2.64 X + 3.91 - 0.203 sqrt(738 X + 173)) P. average [3]_: 0.044 gal/h for each horsepower.

    References
    ----------
    .. [1] ASABE D497.6 and .7, clause on fuel, recalled.
    .. [2] ASAE D497, up to .5, clause on fuel, recalled.
    .. [3] University of Illinois farmdoc, machinery cost estimates: 310 hp at 13.6 gal/h.

    Examples
    --------
    >>> round(fuel_l_h(used_w=80e3, most_w=100e3), 2)
    27.2
    """
    if not (isfinite(used_w) and used_w >= 0 and isfinite(most_w) and most_w > 0):
        raise InputError(f"power: got {used_w:g} of {most_w:g} W. It must not be below zero, and the most above zero.")
    if not 0 < engine_speed_share <= 1:
        raise InputError(f"engine_speed_share: got {engine_speed_share:g}. It must be above 0 and at most 1.")
    load = min(1.0, used_w / most_w)
    equation = fuel_equation(fuel, form)
    if equation.form == "average":
        return equation.c[0] * GALLON_L * most_w / HORSEPOWER_W
    most_kw = most_w / 1000
    if equation.form == "newer":
        a, b, c, d = equation.c
        return (a * load + b) * (1 - (engine_speed_share - 1) * (c * load - d)) * most_kw
    load = max(load, _LEAST_LOAD)
    c1, c2, c3, c4, c5 = equation.c
    specific = c1 * load + c2 - c3 * sqrt(c4 * load + c5)
    if equation.unit == "gal/hp-h":
        specific *= GALLON_L / (HORSEPOWER_W / 1000)
    return specific * load * most_kw


@dataclass(frozen=True, slots=True, kw_only=True)
class FuelPerAcre:
    """What an extension table prints for one kind of work."""

    work: str  # in the table's words
    litres_m2: float  # [L/m2]
    source: Source

    @property
    def gal_ac(self) -> float:
        """Gallons an acre, as printed. [gal/ac]"""
        return self.litres_m2 * ACRE_M2 / GALLON_L


def published_fuel(kind: str, *, no_till: bool | None = None) -> tuple[FuelPerAcre, ...]:
    """Return what extension tables print for an acre of a kind of machine's work: field work alone, no travel.

    Parameters
    ----------
    kind : str
        Machine of the efficiency table, or a grower's word for one.
    no_till : bool, optional
        Whether the work is no-till: rows that say so, or rows that do not; None takes them all.

    Raises
    ------
    InputError
        If no machine goes by that name.
    """
    published = published_efficiency(kind)
    if published is None:
        return ()
    machine = machine_of(published.machine)
    return tuple(
        FuelPerAcre(work=row["work"], litres_m2=float(row["gal_ac"]) * GALLON_L / ACRE_M2, source=source_of(row))
        for row in table_rows("fuel_per_acre.csv")
        if machine in row["machine"].split(";") and no_till in {None, "no-till" in row["work"]}
    )
