"""How a source is to be read, as typed: the options of a command line made into rules."""

from __future__ import annotations

import re
from dataclasses import fields
from typing import TYPE_CHECKING, Any, Final

from fieldgeo.errors import InputError
from fieldgeo.outline.rules import DeedRules, FileRules, Rules, SectionRules, WalkRules
from fieldgeo.units import parse_length_m

if TYPE_CHECKING:
    from collections.abc import Mapping

    from fieldgeo.outline.evidence import SourceKind

RULES_OF: Final[dict[SourceKind, type[Rules]]] = {
    "file": FileRules,
    "walk": WalkRules,
    "deed": DeedRules,
    "section": SectionRules,
}
_CORNER: Final = re.compile(r"\s*(?P<number>\d{1,6})\s*=(?P<place>.*)", re.DOTALL)
_OFFSET: Final = re.compile(r"(?P<length>.*?)\s*(?P<way>out|in)", re.IGNORECASE | re.DOTALL)


def read_corner(text: str) -> tuple[int, float, float]:
    """Return a known corner of a deed: its number, longitude and latitude. [deg]

    Raises
    ------
    InputError
        If it is not a number, an equals sign and a place on Earth.

    Examples
    --------
    >>> read_corner("1=-93.512,42.031")
    (1, -93.512, 42.031)
    """
    match = _CORNER.fullmatch(text)
    rule = "It must be N=LON,LAT: the number of the corner (1 is the beginning), longitude, latitude"
    parts = match["place"].split(",") if match else []
    try:
        lon_deg, lat_deg = map(float, parts)
    except ValueError as error:
        raise InputError(f"got {text!r}. {rule}.") from error
    if match is None or int(match["number"]) < 1 or not (abs(lon_deg) <= 180 and abs(lat_deg) <= 90):
        raise InputError(f"got {text!r}. {rule}.")
    return int(match["number"]), lon_deg, lat_deg


def read_offset_m(text: str) -> float:
    """Return how far out from the track the edge lies; inward is negative. [m]

    Raises
    ------
    InputError
        If it is not a length with its unit, followed by out or in.

    Examples
    --------
    >>> read_offset_m("10ft out"), read_offset_m("2m in")
    (3.048, -2.0)
    """
    match = _OFFSET.fullmatch(text.strip())
    if match is None:
        raise InputError(f"got {text!r}. It must be a length and which way, such as '10ft out' or '10ft in'.")
    length_m = parse_length_m(match["length"], what="offset")
    if length_m < 0:
        raise InputError(f"got {text!r}. The length must not be below zero: say out or in instead.")
    return length_m if match["way"].lower() == "out" else -length_m


def rules_for(kind: SourceKind, asked: Mapping[str, Any]) -> tuple[Rules, set[str]]:
    """Return the rules for a kind of source from what was asked, and what of it concerns that kind.

    Parameters
    ----------
    kind : {"file", "walk", "deed", "section"}
        Kind of the source.
    asked : mapping
        Values by the names of the rules; what was not asked is not in it.

    Returns
    -------
    tuple of Rules and set of str
        The rules, and the names that they took.
    """
    rules = RULES_OF[kind]
    taken = {field.name for field in fields(rules)} & set(asked)
    return rules(**{name: asked[name] for name in taken}), taken
