"""Units of deeds: lengths and areas of old and new surveys, by every name and short form a deed uses.

A vara has no length of its own here: it differs from land to land, and must be given (33 1/3 inches only where the
deed says Texas varas).
"""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Final

from fieldgeo.errors import InputError
from fieldgeo.outline.files.geojson import plain_name
from fieldgeo.units import registry_of

if TYPE_CHECKING:
    pass

# In pint's own language: name = length = short forms. Foot, survey foot (1200/3937 m), chain, rod, link, furlong, mile,
# acre: NIST, revised conversion factors for the foot and acre (85 FR 62698, 2020). Engineer's chain of 100 ft, two-pole
# chain of 33 ft, rood of a quarter acre, Texas vara of 33 1/3 in: general lists of land units.
_DEFINITIONS: Final = """
meter = [length] = m = meters = metre = metres = mtr = mtrs
kilometer = 1000 meter = km = kilometers = kilometre = kilometres
foot = 0.3048 meter = ft = feet
survey_foot = 1200 / 3937 meter = ftus = survey_feet = survey_ft = us_survey_foot = us_survey_feet = us_survey_ft
inch = foot / 12 = in = inches
yard = 3 foot = yd = yards = yds
rod = 16.5 foot = rd = rods = rds = pole = poles = pol = pols = po = pls = perch = perches = pch = pchs
chain = 66 foot = ch = chains = chs = chn = chns = gunter_chain = gunter_chains = gunters_chain = gunters_chains
link = chain / 100 = lk = links = lks = li = lnk = lnks
engineer_chain = 100 foot = engineers_chain = engineer_chains = engineers_chains
two_pole_chain = 33 foot = two_pole_chains
furlong = 660 foot = fur = furlongs
mile = 5280 foot = mi = miles
texas_vara = 33.333333333333333333 inch = texas_varas = tx_varas = tx_vara
acre = 43560 foot ** 2 = ac = acres
rood = acre / 4 = ro = roods
hectare = 10000 meter ** 2 = ha = hectares
"""
VARA_WORDS: Final = ("vara", "varas", "vrs", "vr")
_OWN_AREA_UNITS: Final = ("acre", "rood", "hectare")


def _forms(definition: str) -> list[str]:
    name, _, *short = (part.strip() for part in definition.split("="))
    return [name, *short]


def length_words() -> tuple[str, ...]:
    """Return every word for a unit of length, the longest first; words of one unit are joined by underscores."""
    forms = [_forms(line) for line in _DEFINITIONS.strip().splitlines()]
    words = [word for names in forms if names[0] not in _OWN_AREA_UNITS for word in names]
    return tuple(sorted((*words, *VARA_WORDS), key=lambda word: (-len(word), word)))


def plain_unit(text: str) -> str:
    """Return a unit as it is written in a deed in the form of `length_words`.

    Parameters
    ----------
    text : str
        Such as ``"U.S. Survey Feet"``, ``"chs."`` or ``"engineer's chains"``.

    Examples
    --------
    >>> plain_unit("U.S. Survey  Feet"), plain_unit("chs.")
    ('us_survey_feet', 'chs')
    """
    kept = "".join(letter for letter in text.lower().replace("-", " ") if letter not in ".'\u2019()")
    return "_".join(kept.replace("_", " ").split())


def unit_m(word: str, vara_m: float | None = None) -> float:
    """Return the length of a unit. [m]

    Parameters
    ----------
    word : str
        Unit in the form of `plain_unit`.
    vara_m : float, optional
        Length of the vara. [m]

    Raises
    ------
    InputError
        If the unit is not known, is no length, or is a vara whose length is not given.

    Examples
    --------
    >>> round(unit_m("poles"), 9), round(unit_m("survey_feet"), 12)
    (5.0292, 0.304800609601)
    """
    if word in VARA_WORDS:
        if vara_m is None:
            raise InputError(
                "the vara differs from land to land (about 33 inches): give its length by --vara or by a line "
                "'vara: 33 1/3 in' at the top of the file, or write 'Texas varas' where they are meant"
            )
        return vara_m
    return _in_si(word, "meter", "feet, poles, chains, links or meters")


def area_unit_m2(word: str, vara_m: float | None = None) -> float:
    """Return the size of a unit of area. [m2]

    Parameters
    ----------
    word : str
        Unit in the form of `plain_unit`, such as ``"acres"``, ``"square_poles"`` or ``"sq_ft"``.
    vara_m : float, optional
        Length of the vara. [m]

    Raises
    ------
    InputError
        If the unit is not known or is no area.

    Examples
    --------
    >>> round(area_unit_m2("acres"), 7), round(160 * area_unit_m2("square_poles"), 7)
    (4046.8564224, 4046.8564224)
    """
    for prefix in ("square_", "sq_"):
        if word.startswith(prefix):
            return unit_m(word.removeprefix(prefix), vara_m) ** 2
    return _in_si(word, "meter ** 2", "acres, hectares or square feet")


@cache
def _in_si(word: str, unit: str, examples: str) -> float:
    # Only a word of the list reaches the parser: "9**9**9" is arithmetic, and could run for ever.
    names = next((names for names in map(_forms, _DEFINITIONS.strip().splitlines()) if word in names), None)
    if names is None or (names[0] in _OWN_AREA_UNITS) != (unit != "meter"):
        raise InputError(f"unit {plain_name(word.replace('_', ' '))!r} is not known here: use {examples}")
    return float(f"{float(registry_of(_DEFINITIONS).Quantity(1.0, word).to(unit).magnitude):.15g}")
