"""Farm units at the edges: text with a unit in, SI out, and SI out to acres, feet and miles an hour.

Inside the package everything is SI and says so in its name (`width_m`, `speed_m_s`); only readers of user input and
writers of answers call this module. Parsing is done by the pint library.
"""

from __future__ import annotations

import math
import re
from functools import cache
from typing import TYPE_CHECKING, Final

from fieldgeo.errors import InputError

if TYPE_CHECKING:
    import pint

# Exact by definition: NIST, revised conversion factors for the foot and acre (85 FR 62698, 5 October 2020).
FOOT_M: Final = 0.3048
INCH_M: Final = 0.0254
MILE_M: Final = 1609.344
ACRE_M2: Final = 4046.8564224
HECTARE_M2: Final = 10_000.0
HOUR_S: Final = 3600.0
MPH_M_S: Final = MILE_M / HOUR_S
# Exact: avoirdupois pound, and standard gravity (NIST Special Publication 811, appendix B, from memory).
POUND_KG: Final = 0.45359237
GRAVITY_M_S2: Final = 9.80665
POUND_FORCE_N: Final = POUND_KG * GRAVITY_M_S2
HORSEPOWER_W: Final = 550 * FOOT_M * POUND_FORCE_N
GALLON_L: Final = 3.785411784

# Only a plain number and a plain unit reach the parser: "9**9**9 m" is arithmetic, and could run for ever.
_NUMBER_AND_UNIT: Final = re.compile(
    r"(?P<number>[-+]?(\d+\.?\d*|\.\d+)([eE][-+]?\d+)?)\s*(?P<unit>[A-Za-z]+(/[A-Za-z]+)?)"
)


# The units of a farm, in pint's own language; its full list takes a quarter of a second longer to read. Exact: NIST,
# revised conversion factors for the foot; hp is 550 ft lbf/s with 1 lbf = 4.4482216152605 N.
_DEFINITIONS: Final = """
centi- = 1e-2 = c-
milli- = 1e-3 = m-
kilo- = 1e3 = k-
meter = [length] = m = metre
second = [time] = s = sec
kilogram = [mass] = kg
inch = 0.0254 meter = in = inches
foot = 0.3048 meter = ft = feet
yard = 0.9144 meter = yd
mile = 1609.344 meter = mi
minute = 60 second = min
hour = 3600 second = h = hr
mile_per_hour = mile / hour = mph
kilometer_per_hour = 1000 meter / hour = kph = kmh
day = 86400 second = d
year = 31557600 second = yr = years
pound = 0.45359237 kilogram = lb = lbs
ton = 907.18474 kilogram = tons
tonne = 1000 kilogram = t = tonnes
newton = kilogram * meter / second ** 2 = N
pound_force = 4.4482216152605 newton = lbf
watt = kilogram * meter ** 2 / second ** 3 = W
horsepower = 745.69987158227022 watt = hp
"""


@cache
def registry_of(definitions: str) -> pint.UnitRegistry[float]:
    """Return units by their definitions and no others, in pint's own language.

    Parameters
    ----------
    definitions : str
        One definition a line.
    """
    # pint takes a while to load; only text with a unit in it needs it.
    import pint

    registry: pint.UnitRegistry[float] = pint.UnitRegistry(None)
    for definition in definitions.strip().splitlines():
        registry.define(definition)
    return registry


def parse_quantity(text: str, unit: str, *, what: str, example: str) -> float:
    """Return a quantity given as text, in the SI unit asked for.

    Parameters
    ----------
    text : str
        Number and unit, such as ``"40ft"``, ``"12.2 m"`` or ``"5mph"``.
    unit : str
        Unit of the result, as pint writes it, such as ``"m"`` or ``"m/s"``.
    what : str
        Name of the value, for messages.
    example : str
        A right value, for messages.

    Returns
    -------
    float
        The value in `unit`, to 12 significant digits (so that 40 ft is 12.192 m and not 12.191999999999998 m).

    Raises
    ------
    InputError
        If the text is not a finite number with a unit of the right kind.
    """
    rule = f"{what} must be a number with its unit, such as {example}"
    match = _NUMBER_AND_UNIT.fullmatch(text.strip())
    if match is None:
        raise InputError(f"{what}: got {text!r}. {rule}.")
    import pint

    try:
        quantity = registry_of(_DEFINITIONS).Quantity(float(match["number"]), match["unit"])
        value = float(f"{float(quantity.to(unit).magnitude):.12g}")
    except (pint.errors.PintError, ValueError, OverflowError) as error:
        raise InputError(f"{what}: got {text!r}. {rule}.") from error
    if not math.isfinite(value):
        raise InputError(f"{what}: got {text!r}, which is not a finite number. {rule}.")
    return value


def parse_length_m(text: str, *, what: str = "length") -> float:
    """Return a length in metres from text such as ``"40ft"``, ``"12.2m"`` or ``"30in"``. [m]

    Raises
    ------
    InputError
        If the text is not a number with a unit of length.

    Examples
    --------
    >>> parse_length_m("40ft")
    12.192
    """
    return parse_quantity(text, "m", what=what, example="40ft, 12.2m or 30in")


def parse_speed_m_s(text: str, *, what: str = "speed") -> float:
    """Return a speed in metres per second from text such as ``"5mph"`` or ``"8km/h"``. [m/s]

    Raises
    ------
    InputError
        If the text is not a number with a unit of speed.

    Examples
    --------
    >>> parse_speed_m_s("5mph")
    2.2352
    """
    return parse_quantity(text, "m/s", what=what, example="5mph or 8km/h")


def parse_time_s(text: str, *, what: str = "time") -> float:
    """Return a time in seconds from text such as ``"4s"`` or ``"2min"``. [s]

    Raises
    ------
    InputError
        If the text is not a number with a unit of time.
    """
    return parse_quantity(text, "s", what=what, example="4s or 2min")


def parse_power_w(text: str, *, what: str = "power") -> float:
    """Return a power in watts from text such as ``"161hp"`` or ``"120kW"``; hp is 550 ft lbf/s. [W]

    Raises
    ------
    InputError
        If the text is not a number with a unit of power.

    Examples
    --------
    >>> parse_power_w("120kW")
    120000.0
    """
    return parse_quantity(text, "W", what=what, example="161hp or 120kW")


def parse_mass_kg(text: str, *, what: str = "mass") -> float:
    """Return a mass in kilograms from text such as ``"24000lb"``, ``"12ton"`` (2,000 lb) or ``"10.9t"``. [kg]

    Raises
    ------
    InputError
        If the text is not a number with a unit of mass.

    Examples
    --------
    >>> parse_mass_kg("1000lb")
    453.59237
    """
    return parse_quantity(text, "kg", what=what, example="24000lb, 12ton or 10900kg")


def parse_draft_n_m(text: str, *, what: str = "draft") -> float:
    """Return a draft for each metre of width from text such as ``"200lbf/ft"`` or ``"2.9kN/m"``. [N/m]

    Raises
    ------
    InputError
        If the text is not a number with a unit of force for a length.

    Examples
    --------
    >>> round(parse_draft_n_m("200lbf/ft"))
    2919
    """
    return parse_quantity(text, "N/m", what=what, example="200lbf/ft or 2.9kN/m")


def parse_years(text: str, *, what: str = "age") -> float:
    """Return a time in years from text such as ``"8yr"``. [yr]

    Raises
    ------
    InputError
        If the text is not a number with a unit of time.

    Examples
    --------
    >>> parse_years("8yr")
    8.0
    """
    return parse_quantity(text, "year", what=what, example="8yr")


def parse_hours(text: str, *, what: str = "hours") -> float:
    """Return a time in hours from text such as ``"3200h"``. [h]

    Raises
    ------
    InputError
        If the text is not a number with a unit of time.
    """
    return parse_quantity(text, "hour", what=what, example="3200h")


def parse_use_h_yr(text: str, *, what: str = "use") -> float:
    """Return hours of use in a year from text such as ``"300h/yr"``. [h/yr]

    Raises
    ------
    InputError
        If the text is not a number with a unit of time in a unit of time.

    Examples
    --------
    >>> parse_use_h_yr("300h/yr")
    300.0
    """
    return parse_quantity(text, "hour/year", what=what, example="300h/yr")


def to_feet(length_m: float) -> float:
    """Return a length in international feet from metres. [ft]"""
    return length_m / FOOT_M


def to_acres(area_m2: float) -> float:
    """Return an area in international acres from square metres. [ac]"""
    return area_m2 / ACRE_M2


def to_hectares(area_m2: float) -> float:
    """Return an area in hectares from square metres. [ha]"""
    return area_m2 / HECTARE_M2


def to_mph(speed_m_s: float) -> float:
    """Return a speed in miles per hour from metres per second. [mph]"""
    return speed_m_s / MPH_M_S


def to_inches(length_m: float) -> float:
    """Return a length in inches from metres. [in]"""
    return length_m / INCH_M


def to_horsepower(power_w: float) -> float:
    """Return a power in horsepower of 550 ft lbf/s from watts. [hp]"""
    return power_w / HORSEPOWER_W


def to_pounds_force(force_n: float) -> float:
    """Return a force in pounds-force from newtons. [lbf]"""
    return force_n / POUND_FORCE_N


def to_gallons(volume_l: float) -> float:
    """Return a volume in US gallons from litres. [gal]"""
    return volume_l / GALLON_L


def to_tons(mass_kg: float) -> float:
    """Return a mass in tons of 2,000 pounds from kilograms. [ton]"""
    return mass_kg / (2000 * POUND_KG)
