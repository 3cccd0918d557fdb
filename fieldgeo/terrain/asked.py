"""Grades and units of height as typed or as a file states them."""

from __future__ import annotations

import re
from math import isfinite, radians, tan
from typing import Final, Literal

from fieldgeo.errors import InputError
from fieldgeo.units import FOOT_M

# The US survey foot is 1200/3937 m: NIST, revised conversion factors for the foot (85 FR 62698, 5 October 2020).
SURVEY_FOOT_M: Final = 1200 / 3937
_UNITS_M: Final = {
    "m": 1.0, "meter": 1.0, "meters": 1.0, "metre": 1.0, "metres": 1.0,
    "ft": FOOT_M, "foot": FOOT_M, "feet": FOOT_M, "internationalfoot": FOOT_M, "footinternational": FOOT_M,
    "ftus": SURVEY_FOOT_M, "usft": SURVEY_FOOT_M, "footus": SURVEY_FOOT_M, "ussurveyfoot": SURVEY_FOOT_M,
    "ussurveyfeet": SURVEY_FOOT_M, "surveyfoot": SURVEY_FOOT_M, "surveyfeet": SURVEY_FOOT_M,
    "ussurveyft": SURVEY_FOOT_M,
    "cm": 0.01, "centimeter": 0.01, "centimetre": 0.01, "dm": 0.1, "decimeter": 0.1, "decimetre": 0.1,
}  # fmt: skip
_GRADE: Final = re.compile(r"(\d+\.?\d*|\.\d+)\s*(%|pct|percent|per cent|deg|degrees?)", re.IGNORECASE)
_HEIGHT: Final = re.compile(r"([+-]?(?:\d+\.?\d*|\.\d+))\s*([A-Za-z ]+)")
_MOST_GRADE: Final = 2.0  # 200 %; own choice, no ground that is worked is steeper


def height_unit_m(text: str) -> float:
    """Return a unit of height in metres. [m]

    Parameters
    ----------
    text : str
        Its name, as a person or a raster gives it, such as ``"m"``, ``"ft"``, ``"US survey foot"``.

    Raises
    ------
    InputError
        If no such unit is known.

    Examples
    --------
    >>> height_unit_m("ft"), height_unit_m("metre")
    (0.3048, 1.0)
    """
    unit_m = _UNITS_M.get(re.sub(r"[^a-z]", "", text.lower()))
    if unit_m is None:
        raise InputError(f"heights: got the unit {text[:40]!r}. It must be m, ft, ftUS, cm or dm.")
    return unit_m


def read_grade(text: str) -> float:
    """Return a grade from text, as rise over run. [-]

    Parameters
    ----------
    text : str
        Number and unit: ``"15%"`` or ``"8.5deg"``.

    Raises
    ------
    InputError
        If it is not a number with its unit, or not above 0 and up to 200 %.

    Examples
    --------
    >>> read_grade("15%"), round(read_grade("45deg"), 9)
    (0.15, 1.0)
    """
    match = _GRADE.fullmatch(text.strip())
    if match is None:
        raise InputError(f"got {text!r}. A grade must be a number with its unit, such as 15% or 8.5deg.")
    value, is_percent = float(match[1]), match[2].lower()[0] in "%p"
    grade = value / 100 if is_percent else tan(radians(value)) if value < 90 else float("inf")
    if not (isfinite(grade) and 0 < grade <= _MOST_GRADE):
        raise InputError(f"got {text!r}. A grade must be above 0 and not above {_MOST_GRADE:.0%}.")
    return grade


def read_key_height(text: str) -> float | Literal["auto"]:
    """Return the height of a key line from text. [m]

    Parameters
    ----------
    text : str
        A height with its unit, ``"960ft"`` or ``"292.5m"``, below zero too; or ``"auto"``.

    Raises
    ------
    InputError
        If it is none.

    Examples
    --------
    >>> read_key_height("1000ft"), read_key_height("-3.5m"), read_key_height("auto")
    (304.8, -3.5, 'auto')
    """
    if text.strip().lower() == "auto":
        return "auto"
    match = _HEIGHT.fullmatch(text.strip())
    if match is None:
        raise InputError(
            f"got {text[:40]!r}. A height must be a number with its unit, such as 960ft or 292.5m, or auto."
        )
    return float(match[1]) * height_unit_m(match[2])
