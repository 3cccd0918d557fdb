"""Amounts of what a tool carries: text with a unit in, one of five kinds of unit out.

A bushel of grain, a seed and a bag are units of their own: none is a mass or a volume until somebody says how much of
it goes into which. Volumes and masses are SI inside, the others in their own unit: an amount is a number and its kind.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from math import isfinite
from typing import TYPE_CHECKING, Final, Literal, NamedTuple, TypeAlias

from fieldgeo.errors import InputError
from fieldgeo.units import ACRE_M2, HECTARE_M2, HOUR_S

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

Kind: TypeAlias = Literal["bu", "m3", "kg", "seeds", "bags"]

# Exact by definition: gallon of 231 cubic inches, avoirdupois pound, ton of 2,000 pounds (NIST Handbook 44, appendix C,
# from memory).
GALLON_M3: Final = 0.003785411784
POUND_KG: Final = 0.45359237
TON_KG: Final = 2000 * POUND_KG
# Weight of a bushel as it is traded: read in extension publications, see the equations' sheet on seed and grain.
BUSHEL_LB: Final[Mapping[str, float]] = {"corn": 56.0, "soybeans": 60.0}

# Words for a unit, in the singular; each with its kind and its size in that kind.
_UNITS: Final[Mapping[str, tuple[Kind, float]]] = {
    "bu": ("bu", 1.0), "bushel": ("bu", 1.0),
    "gal": ("m3", GALLON_M3), "gallon": ("m3", GALLON_M3), "l": ("m3", 0.001), "liter": ("m3", 0.001),
    "litre": ("m3", 0.001), "m3": ("m3", 1.0),
    "lb": ("kg", POUND_KG), "pound": ("kg", POUND_KG), "ton": ("kg", TON_KG), "kg": ("kg", 1.0), "t": ("kg", 1000.0),
    "tonne": ("kg", 1000.0),
    "seed": ("seeds", 1.0), "bag": ("bags", 1.0),
}  # fmt: skip
_AREAS: Final[Mapping[str, float]] = {
    "ac": ACRE_M2, "acre": ACRE_M2, "ha": HECTARE_M2, "hectare": HECTARE_M2, "m2": 1.0,
}  # fmt: skip
_TIMES: Final[Mapping[str, float]] = {
    "s": 1.0, "sec": 1.0, "second": 1.0, "min": 60.0, "minute": 60.0, "h": HOUR_S, "hr": HOUR_S, "hour": HOUR_S,
}  # fmt: skip
_NAMES: Final[Mapping[Kind, str]] = {
    "bu": "bushels", "m3": "a volume", "kg": "a mass", "seeds": "seeds", "bags": "bags",
}  # fmt: skip
_NUMBER: Final = r"(?P<number>[-+]?(\d{1,3}(,\d{3})+(\.\d+)?|\d+\.?\d*|\.\d+)([eE][-+]?\d{1,3})?)"
_AMOUNT: Final = re.compile(rf"((?P<times>\d{{1,3}})\s*[xX]\s*)?{_NUMBER}\s*(?P<unit>[A-Za-z]+3?)")
_PER: Final = re.compile(rf"{_NUMBER}\s*(?P<unit>[A-Za-z]+3?)\s*(/|per)\s*(?P<per>[A-Za-z]+[23]?)")
_LENGTH_LIMIT: Final = 60  # characters shown of a text that cannot be read


class Amount(NamedTuple):
    """How much of what kind of unit; of hoppers that hold the same, all together."""

    value: float  # in bushels, m3, kg, seeds or bags
    kind: Kind
    parts: int = 1  # hoppers that it was the sum of


@dataclass(frozen=True, slots=True, kw_only=True)
class Holding:
    """How much of one kind goes into one unit of another, such as 80,000 seeds in a bag.

    Raises
    ------
    InputError
        If the kinds are the same, or the size is not a finite number above zero.
    """

    size: float  # [of `small` in one of `large`]
    small: Kind
    large: Kind

    def __post_init__(self) -> None:
        if self.small == self.large or not (isfinite(self.size) and self.size > 0):
            raise InputError(
                f"holds: got {self.size:g} {self.small} in one of {self.large}. It must be a number above zero of "
                "another kind, such as 80000seeds/bag or 56lb/bu."
            )


def parse_amount(text: str, *, what: str = "tank", example: str = "30bu, 1000gal or 3x15bu") -> Amount:
    """Return an amount from text such as ``"30bu"``, ``"1000gal"`` or, for hoppers alike, ``"3x15bu"``.

    Parameters
    ----------
    text : str
        Number and unit.
    what : str
        Name of the value, for messages.
    example : str
        A right value, for messages.

    Raises
    ------
    InputError
        If it is not a finite number above zero with a unit of `bu, gal, L, m3, lb, ton, kg, t, seeds, bags`.

    Examples
    --------
    >>> parse_amount("3x15bu")
    Amount(value=45.0, kind='bu', parts=3)
    """
    match = _AMOUNT.fullmatch(text.strip())
    size = None if match is None else _unit_of(match["unit"])
    if match is None or size is None:
        raise InputError(f"{what}: got {_shown(text)}. {_rule(what, example)}")
    parts = int(match["times"] or 1)
    value = parts * _number(match["number"]) * size[1]
    _check_above_zero(value, text, what, example)
    return Amount(value, size[0], parts)


def parse_rate(text: str, *, what: str = "rate", example: str = "0.43bu/ac or 20gal/ac") -> Amount:
    """Return an amount for each square metre from text such as ``"0.43bu/ac"`` or ``"150kg/ha"``.

    Parameters
    ----------
    text : str
        Number, unit, and unit of area.
    what : str
        Name of the value, for messages.
    example : str
        A right value, for messages.

    Raises
    ------
    InputError
        If it is not a finite number above zero with a unit of amount by a unit of area (ac, ha, m2).
    """
    value, kind, per = _parse_per(text, _AREAS, what, example)
    return Amount(value / per, kind)


def rate_unit(text: str) -> str | None:
    """Return the unit of a rate from text such as ``"180bu/ac"``; None where it is no rate.

    Parameters
    ----------
    text : str
        Number, unit, and unit of area; the number may be left out.

    Examples
    --------
    >>> rate_unit("180 bu/acre"), rate_unit("kg/ha"), rate_unit("180bu")
    ('bu/acre', 'kg/ha', None)
    """
    given = text.strip()
    match = _PER.fullmatch(given) or _PER.fullmatch(f"1{given}")
    if match is None or _unit_of(match["unit"]) is None:
        return None
    per = match["per"].lower()
    return f"{match['unit']}/{match['per']}" if per in _AREAS or per.removesuffix("s") in _AREAS else None


def parse_flow(text: str, *, what: str = "flow", example: str = "10bu/min or 120gal/min") -> Amount:
    """Return an amount for each second from text such as ``"10bu/min"``.

    Parameters
    ----------
    text : str
        Number, unit, and unit of time.
    what : str
        Name of the value, for messages.
    example : str
        A right value, for messages.

    Raises
    ------
    InputError
        If it is not a finite number above zero with a unit of amount by a unit of time (s, min, h).
    """
    value, kind, per = _parse_per(text, _TIMES, what, example)
    return Amount(value / per, kind)


def parse_holding(text: str, *, what: str = "holds") -> Holding:
    """Return how much goes into a unit of another kind, from text such as ``"80000seeds/bag"`` or ``"corn"``.

    Parameters
    ----------
    text : str
        Number, unit, and unit of the other kind; or a crop of `BUSHEL_LB`, which stands for the weight of its bushel.
    what : str
        Name of the value, for messages.

    Raises
    ------
    InputError
        If it is neither, or the two units are of one kind.

    Examples
    --------
    >>> parse_holding("80000seeds/bag")
    Holding(size=80000.0, small='seeds', large='bags')
    """
    crop = text.strip().lower()
    for name, weight_lb in BUSHEL_LB.items():
        if crop.removesuffix("s") == name.removesuffix("s"):
            return Holding(size=weight_lb * POUND_KG, small="kg", large="bu")
    example = f"80000seeds/bag, 56lb/bu, or one of {', '.join(BUSHEL_LB)}"
    match = _PER.fullmatch(text.strip())
    large = None if match is None else _unit_of(match["per"])
    if match is None or large is None:
        raise InputError(f"{what}: got {_shown(text)}. It must say how much goes into what, such as {example}.")
    value, kind, per = _parse_per(text, {match["per"].lower(): large[1]}, what, example)
    if kind == large[0]:
        raise InputError(f"{what}: got {_shown(text)}; both are {_NAMES[kind]}. Give two kinds, such as {example}.")
    return Holding(size=value / per, small=kind, large=large[0])


def converted(value: float, start: Kind, end: Kind, holdings: Sequence[Holding], *, what: str) -> float:
    """Return an amount in another kind of unit.

    Parameters
    ----------
    value : float
        The amount. [of kind `start`]
    start, end : str
        Kinds.
    holdings : sequence of Holding
        What goes into what; several may follow each other, such as seeds in a pound and pounds in a bushel.
    what : str
        Names of the values that do not go together, for messages.

    Raises
    ------
    InputError
        If the kinds differ and no way leads from one to the other.
    """
    found = {start: value}
    fresh: list[Kind] = [start]
    while fresh and end not in found:
        kind = fresh.pop()
        for holding in holdings:
            for one, other, factor in (
                (holding.large, holding.small, holding.size),
                (holding.small, holding.large, 1 / holding.size),
            ):
                if one == kind and other not in found:
                    found[other] = found[kind] * factor
                    fresh.append(other)
    if end not in found:
        raise InputError(
            f"{what} do not go together: {_NAMES[start]} beside {_NAMES[end]}. Give both in one kind of unit, or say "
            "how much goes into what, such as 80000seeds/bag or 56lb/bu."
        )
    return found[end]


def amount_text(value: float, kind: Kind) -> str:
    """Return an amount in farm units: bushels, gallons, pounds, seeds or bags.

    Examples
    --------
    >>> amount_text(29.0909, "bu"), amount_text(3.785411784, "m3"), amount_text(1.5e6, "seeds")
    ('29.1 bu', '1,000 gal', '1,500,000 seeds')
    """
    size, unit = {
        "bu": (1.0, "bu"), "m3": (GALLON_M3, "gal"), "kg": (POUND_KG, "lb"), "seeds": (1.0, "seeds"),
        "bags": (1.0, "bags"),
    }[kind]  # fmt: skip
    shown = value / size
    return f"{shown:,.0f} {unit}" if shown >= 100 or kind == "seeds" else f"{shown:,.3g} {unit}"


def amount_by_unit(value: float, kind: Kind, *, bushel_kg: float | None = None) -> dict[str, float]:
    """Return an amount by unit, the farm's first, such as ``{"gal": 20.0, "L": 75.7}``.

    Parameters
    ----------
    value : float
        The amount. [kind]
    kind : str
        Its kind.
    bushel_kg : float, optional
        Mass of a bushel, where it is known. [kg]
    """
    if kind == "m3":
        return {"gal": value / GALLON_M3, "L": 1000 * value}
    if kind == "kg":
        return {"lb": value / POUND_KG, "kg": value}
    return {kind: float(value), **({"kg": value * bushel_kg} if kind == "bu" and bushel_kg else {})}


def _parse_per(text: str, pers: Mapping[str, float], what: str, example: str) -> tuple[float, Kind, float]:
    match = _PER.fullmatch(text.strip())
    size = None if match is None else _unit_of(match["unit"])
    per = None if match is None else pers.get(match["per"].lower()) or pers.get(match["per"].lower().removesuffix("s"))
    if match is None or size is None or per is None:
        raise InputError(f"{what}: got {_shown(text)}. {_rule(what, example)}")
    value = _number(match["number"]) * size[1]
    _check_above_zero(value, text, what, example)
    return value, size[0], per


def _unit_of(word: str) -> tuple[Kind, float] | None:
    if word == "T":
        return None  # a ton to some and a tonne to others
    lower = word.lower()
    return _UNITS.get(lower) or _UNITS.get(lower.removesuffix("s"))


def _number(text: str) -> float:
    return float(text.replace(",", ""))


def _check_above_zero(value: float, text: str, what: str, example: str) -> None:
    if not (isfinite(value) and value > 0):
        raise InputError(f"{what}: got {_shown(text)}. It must be a finite number above zero, such as {example}.")


def _rule(what: str, example: str) -> str:
    return f"{what[0].upper()}{what[1:]} must be a number with its unit, such as {example}."


def _shown(text: str) -> str:
    return repr(text if len(text) <= _LENGTH_LIMIT else f"{text[:_LENGTH_LIMIT]}...")
