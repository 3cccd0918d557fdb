"""The area that a deed itself states, such as "containing 140 acres 36 poles, more or less"."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from fieldgeo.errors import InputError
from fieldgeo.outline.deed.units import area_unit_m2, plain_unit
from fieldgeo.outline.deed.values import number_value

if TYPE_CHECKING:
    from collections.abc import Sequence

    from lark import Token

_NUMBERS: Final = frozenset({"NUMBER", "FRACTION", "MIXED"})
_LOOK_AHEAD: Final = 12  # words, from "containing" to the figure
_END: Final = frozenset({"THENCE", "STOP", "BEARING"})
# Of a stated area a pole is a square pole.
_IMPLIED: Final = frozenset({"rod", "rods", "rd", "rds", "pole", "poles", "pol", "po", "perch", "perches"})


@dataclass(frozen=True, slots=True, kw_only=True)
class StatedArea:
    """An area as a deed states it."""

    area_m2: float
    last_digit_m2: float  # one of the last digit


def read_area(tokens: Sequence[Token], start: int, vara_m: float | None) -> tuple[StatedArea | None, int, str | None]:
    """Return the area that stands after "containing", where it ends, and why it cannot be read.

    Parameters
    ----------
    tokens : sequence of Token
        Words of the deed.
    start : int
        Place of the first word after "containing".
    vara_m : float or None
        Length of the vara. [m]

    Returns
    -------
    tuple of (StatedArea or None, int, str or None)
        The area; place after its last word; the fault. Area and fault are both None where the word does not speak of
        an area.
    """
    at = start
    speaks_of_acres = False
    while at < min(start + _LOOK_AHEAD, len(tokens)) and tokens[at].type not in _NUMBERS | _END:
        speaks_of_acres |= tokens[at].lower().startswith("acre")
        at += 1
    area_m2, step_m2, end = 0.0, 0.0, start
    while at < len(tokens) and tokens[at].type in _NUMBERS:
        unit, after = _unit(tokens, at + 1)
        if unit is None:
            break
        try:
            value, step = number_value(str(tokens[at]))
            area_m2, step_m2 = area_m2 + value * area_unit_m2(unit, vara_m), step * area_unit_m2(unit, vara_m)
        except InputError as error:
            return None, after, str(error)
        at = end = after
        while at < len(tokens) and tokens[at].type in ("COMMA", "_AND", "LINE_END") and str(tokens[at]) != "(":
            at += 1
        # Only roods and poles go on with the acres; square feet beside acres are the same area told twice.
        following = _unit(tokens, at + 1)[0] if at < len(tokens) else None
        if following is None or not (following.startswith("rood") or following.removeprefix("square_") in _IMPLIED):
            break
    if end == start:
        return None, start, "the area it states is not in figures" if speaks_of_acres else None
    if not 0 < area_m2 < 1e12:
        return None, end, f"the area it states is {area_m2:.6g} m2"
    return StatedArea(area_m2=area_m2, last_digit_m2=step_m2), end, None


def _unit(tokens: Sequence[Token], at: int) -> tuple[str | None, int]:
    """Return the unit of area that begins here and the place after it; None where there is none."""
    word = plain_unit(str(tokens[at])) if at < len(tokens) else ""
    if word in ("square", "sq"):
        at += 1
        while at < len(tokens) and tokens[at].type in ("STOP", "LINE_END"):
            at += 1
        if at < len(tokens) and tokens[at].type in ("UNIT", "WORD"):
            return f"square_{plain_unit(str(tokens[at]))}", at + 1
        return None, at
    if word in _IMPLIED:
        return f"square_{word}", at + 1
    if word in ("acre", "acres", "ac", "a", "rood", "roods", "hectare", "hectares", "ha"):
        return "acre" if word == "a" else word, at + 1
    return None, at
