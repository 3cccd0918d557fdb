"""Numbers, angles, bearings and distances of a deed: their value, and the digits they were written with.

The digits are kept because two things hang on them: how sure a figure can be at best, and which slips of the pen (two
digits the wrong way round) would close the figure.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite
from typing import TYPE_CHECKING, Final, TypeAlias

from fieldgeo.errors import InputError
from fieldgeo.outline.deed.units import VARA_WORDS, plain_unit, unit_m
from fieldgeo.outline.files.geojson import plain_name

if TYPE_CHECKING:
    from collections.abc import Sequence

    from lark import Token, Tree

LONGEST_M: Final = 30_000.0  # of one call: more than the widest field that is read
_STEP_DEG: Final = (1.0, 1.0 / 60.0, 1.0 / 3600.0)  # a degree, a minute, a second
_QUADRANTS: Final = {"NE": (0.0, 1.0), "SE": (180.0, -1.0), "SW": (180.0, 1.0), "NW": (360.0, -1.0)}
_CARDINALS: Final = {"N": 0.0, "E": 90.0, "S": 180.0, "W": 270.0}
_CLEAR_M: Final = 1e-9

DistancePart: TypeAlias = tuple[str, str]  # a number as written, and its unit in the form of `plain_unit`


@dataclass(frozen=True, slots=True, kw_only=True)
class Angle:
    """An angle as written."""

    deg: float
    digits: tuple[str, ...]  # degrees, minutes, seconds as written; those not written are left out
    last_digit_deg: float  # one of the last digit


@dataclass(frozen=True, slots=True, kw_only=True)
class Bearing:
    """The direction of a call."""

    azimuth_deg: float  # clockwise from the deed's north, 0 <= azimuth < 360
    quadrant: str  # "NE", "SE", "SW", "NW"; "N", "E", "S", "W" for one without an angle; "" for an azimuth
    angle: Angle | None  # None for one without an angle


@dataclass(frozen=True, slots=True, kw_only=True)
class Distance:
    """The length of a call."""

    length_m: float
    parts: tuple[DistancePart, ...]
    last_digit_m: float  # one of the last digit


@dataclass(frozen=True, slots=True, kw_only=True)
class LengthRules:
    """What a distance means where the words leave it open.

    Parameters
    ----------
    unit : str, optional
        Unit of distances that have none, in the form of `plain_unit`.
    vara_m : float, optional
        Length of the vara. [m]
    """

    unit: str | None = None
    vara_m: float | None = None


def number_value(text: str) -> tuple[float, float]:
    """Return the value of a number as written, and what one of its last digit is worth.

    Parameters
    ----------
    text : str
        Such as ``"1,320.50"``, ``"5 1/2"``, ``"5-1/2"`` or ``"3/4"``.

    Raises
    ------
    InputError
        If it is a fraction over zero, or too large to be a number.

    Examples
    --------
    >>> number_value("1,320.50"), number_value("5 1/2"), number_value("41")
    ((1320.5, 0.01), (5.5, 0.5), (41.0, 1.0))
    """
    whole, fraction = text.replace(",", "").replace("\u2044", "/"), ""
    if "/" in whole:
        *before, fraction = _split_mixed(whole)
        whole = before[0] if before else "0"
    value, step = float(whole), 10.0 ** -len(whole.partition(".")[2])
    if fraction:
        over, under = (float(part) for part in fraction.split("/"))
        if under == 0:
            raise InputError(f"the fraction {fraction!r} has a zero below the line")
        value, step = value + over / under, 1.0 / under
    if not isfinite(value):
        raise InputError(f"the number {plain_name(text[:20])!r}... is too large")
    return value, step


def angle_of(digits: Sequence[str], *, most_deg: float) -> Angle:
    """Return the angle that degrees, minutes and seconds as written make.

    Parameters
    ----------
    digits : sequence of str
        One to three numbers as written: degrees, minutes, seconds.
    most_deg : float
        The largest it may be. [deg]

    Raises
    ------
    InputError
        If minutes or seconds reach 60, only the last may have decimals and another has, or the angle is too large.
    """
    values = [number_value(text) for text in digits]
    for name, (value, _) in zip(("minutes", "seconds"), values[1:], strict=False):
        if value >= 60:
            raise InputError(f"{name} are {value:g}; they must be under 60")
    if any(value != int(value) for value, _ in values[:-1]):
        raise InputError("only the last of degrees, minutes and seconds may have decimals or a fraction")
    deg = sum(value * step for (value, _), step in zip(values, _STEP_DEG, strict=False))
    if deg > most_deg:
        raise InputError(f"the angle is {deg:.8g} degrees; it must be {most_deg:g} at most")
    return Angle(deg=deg, digits=tuple(digits), last_digit_deg=values[-1][1] * _STEP_DEG[len(values) - 1])


def quadrant_azimuth_deg(quadrant: str, angle_deg: float) -> float:
    """Return the azimuth of a quadrant bearing, 0 <= azimuth < 360. [deg]

    Parameters
    ----------
    quadrant : {"NE", "SE", "SW", "NW"}
        From where to where the angle opens.
    angle_deg : float
        From north or south, 0 to 90. [deg]

    Examples
    --------
    >>> [quadrant_azimuth_deg(quadrant, 30.0) for quadrant in ("NE", "SE", "SW", "NW")]
    [30.0, 150.0, 210.0, 330.0]
    """
    base_deg, sign = _QUADRANTS[quadrant]
    return (base_deg + sign * angle_deg) % 360.0


def bearing_of(quadrant: str, angle: Angle | None) -> Bearing:
    """Return a bearing from its quadrant and angle.

    Parameters
    ----------
    quadrant : str
        As `Bearing.quadrant`.
    angle : Angle or None
        As `Bearing.angle`.
    """
    if angle is None:
        return Bearing(azimuth_deg=_CARDINALS[quadrant], quadrant=quadrant, angle=None)
    azimuth_deg = quadrant_azimuth_deg(quadrant, angle.deg) if quadrant else angle.deg % 360.0
    return Bearing(azimuth_deg=azimuth_deg, quadrant=quadrant, angle=angle)


def distance_of(parts: Sequence[DistancePart], vara_m: float | None) -> Distance:
    """Return the distance that numbers with units make.

    Parameters
    ----------
    parts : sequence of (str, str)
        Number as written and unit in the form of `plain_unit`, the larger unit first.
    vara_m : float or None
        Length of the vara. [m]

    Raises
    ------
    InputError
        If a unit is not known, or the distance is zero or longer than any field.
    """
    length_m = last_digit_m = 0.0
    for number, unit in parts:
        value, step = number_value(number)
        length_m += value * unit_m(unit, vara_m)
        last_digit_m = step * unit_m(unit, vara_m)
    if not 0 < length_m <= LONGEST_M:
        rule = f"a call must be longer than nothing and {LONGEST_M / 1000:g} km at most"
        raise InputError(f"the distance is {length_m:.6g} m: {rule}")
    return Distance(length_m=length_m, parts=tuple(parts), last_digit_m=last_digit_m)


def read_angle(tree: Tree[Token], *, most_deg: float) -> Angle:
    """Return the angle of a tree that `grammar.parse` made.

    Parameters
    ----------
    tree : lark.Tree
        Tree of the rule ``angle``.
    most_deg : float
        The largest it may be. [deg]

    Raises
    ------
    InputError
        As `angle_of`.
    """
    form = _trees(tree)[0]
    digits = [str(number.children[0]) for number in _trees(form)]
    is_without_minutes = form.data == "degrees_seconds"
    return angle_of([digits[0], "0", digits[1]] if is_without_minutes else digits, most_deg=most_deg)


def read_bearing(tree: Tree[Token]) -> Bearing:
    """Return the bearing of a tree that `grammar.parse` made.

    Parameters
    ----------
    tree : lark.Tree
        Tree of the rule ``bearing``.

    Raises
    ------
    InputError
        If the angle of a quadrant is over 90 degrees or an azimuth over 360, or as `angle_of`.
    """
    form = _trees(tree)[0]
    letters = "".join(str(child)[0].upper() for child in form.children if isinstance(child, str))
    if form.data == "cardinal":
        return bearing_of(letters, None)
    return bearing_of(letters, read_angle(_trees(form)[0], most_deg=90.0 if letters else 360.0))


def read_distance(tree: Tree[Token], rules: LengthRules) -> Distance:
    """Return the distance of a tree that `grammar.parse` made.

    Parameters
    ----------
    tree : lark.Tree
        Tree of the rule ``distance``.
    rules : LengthRules
        Unit of a bare number, and length of the vara.

    Raises
    ------
    InputError
        If it has no unit and the rules give none, or as `distance_of`.
    """
    parts: list[DistancePart] = []
    for part in _trees(tree):
        unit = part.children[1:]
        written = str(_trees(part)[0].children[0])
        if not unit and rules.unit is None:
            raise InputError(
                f"the distance {written} has no unit: write it, or give it for all by --unit or by a line "
                "'unit: poles' at the top of the file"
            )
        parts.append((written, _unit_word(unit[0]) if unit else str(rules.unit)))
    return distance_of(parts, rules.vara_m)


def is_compound(larger: DistancePart, smaller: DistancePart) -> bool:
    """Return whether two numbers with units are one distance, such as 14 chains 52 links: the second less than a unit.

    Parameters
    ----------
    larger, smaller : (str, str)
        Number as written and unit in the form of `plain_unit`.
    """
    vara_m = 0.84  # near enough to tell which unit is the smaller
    rest_m = number_value(smaller[0])[0] * unit_m(smaller[1], vara_m)
    return rest_m <= unit_m(larger[1], vara_m) * (1 - _CLEAR_M) and smaller[1] not in VARA_WORDS


def _trees(tree: Tree[Token]) -> list[Tree[Token]]:
    return [child for child in tree.children if not isinstance(child, str)]


def _unit_word(token: object) -> str:
    kind = getattr(token, "type", "")
    return {"PRIME": "feet", "DOUBLE_PRIME": "inches"}.get(kind) or plain_unit(str(token))


def _split_mixed(text: str) -> list[str]:
    """Return whole part and fraction of ``"5 1/2"`` or ``"5-1/2"``, or the fraction alone."""
    over, under = text.split("/")
    pieces = over.replace("-", " ").split()
    if len(pieces) == 1:
        pieces = "".join(letter if letter.isdigit() else " " for letter in over).split()
    return [*pieces[:-1], f"{pieces[-1]}/{under}"]
