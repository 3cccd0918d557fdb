"""The lines that may stand at the top of a deed file, before its words: ``key: value``, one to a line.

    name: North forty            what the field is called
    unit: poles                  of distances that have no unit
    vara: 33 1/3 in              length of the vara, with its unit
    rotation: 2.5                degrees clockwise from the deed's north to true north (a declination of 2.5 E is 2.5)
    north: magnetic              what its bearings count from: magnetic, true, grid or assumed
    adjust: no                   whether the compass rule is used: yes or no
    corner 1: -93.512, 42.031    longitude and latitude of a corner; 1 is the beginning, 2 the end of the first call

Lines that begin with ``#`` are remarks, wherever they stand. Keys may be written in capitals; each may stand once.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Final

from fieldgeo.errors import InputError
from fieldgeo.outline.deed.grammar import parse, words
from fieldgeo.outline.deed.units import plain_unit, unit_m
from fieldgeo.outline.deed.values import LengthRules, read_distance
from fieldgeo.outline.files.geojson import plain_name

KEYS: Final = ("name", "unit", "vara", "rotation", "north", "adjust", "corner")
NORTHS: Final = ("magnetic", "true", "grid", "assumed")
_LINE: Final = re.compile(r"\s*([a-z]{2,12})(?:\s+(\d{1,5}))?\s*[:=]\s*(.*?)\s*", re.IGNORECASE)
_NUMBER: Final = r"[-+]?\d{1,4}(?:\.\d{0,15})?"
_LONLAT: Final = re.compile(rf"({_NUMBER})\s*[,;\s]\s*({_NUMBER})")
_BRACKETED: Final = re.compile(r"\((\d[\d,]*(?:\.\d+)?)\)")
_FRACTIONS: Final = {
    "½": " 1/2", "¼": " 1/4", "¾": " 3/4", "⅓": " 1/3", "⅔": " 2/3", "⅛": " 1/8", "⅜": " 3/8", "⅝": " 5/8", "⅞": " 7/8",
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Header:
    """What the top of a deed file says; None and empty where it does not."""

    name: str = ""
    unit: str | None = None
    vara_m: float | None = None
    rotation_deg: float | None = None
    north: str | None = None
    is_adjusted: bool | None = None
    corners: tuple[tuple[int, float, float], ...] = ()  # number, longitude, latitude [deg]
    faults: tuple[str, ...] = ()


def split_header(text: str) -> tuple[Header, str]:
    """Return what the header says, and the text without header and remarks; its lines keep their numbers.

    Parameters
    ----------
    text : str
        The whole file.
    """
    for letter, plain in {**_FRACTIONS, "\r\n": "\n", "\r": "\n", "\u00a0": " ", "\f": "\n", "\v": "\n"}.items():
        text = text.replace(letter, plain)
    text = _BRACKETED.sub(r" \1 ", text)  # three hundred thirty (330) feet
    lines = text.split("\n")
    values: dict[str, object] = {}
    corners: list[tuple[int, float, float]] = []
    faults: list[str] = []
    is_header = True
    for index, line in enumerate(lines):
        if line.lstrip().startswith("#"):
            lines[index] = ""
            continue
        match = _LINE.fullmatch(line) if is_header else None
        key = match[1].lower() if match else ""
        if match is None or key not in KEYS:
            is_header = is_header and not line.strip()
            if key and (near := get_close_matches(key, KEYS, n=1, cutoff=0.75)):
                faults.append(f"line {index + 1}: {key!r} is no key; {near[0]!r} was meant? Keys: {', '.join(KEYS)}")
                lines[index], is_header = "", True
            continue
        lines[index] = ""
        try:
            if key == "corner":
                corners.append(_corner(match[2], match[3]))
            elif key in values:
                raise InputError("stands twice")
            else:
                values[_FIELDS.get(key, key)] = _value(key, match[3])
        except InputError as error:
            faults.append(f"line {index + 1}: {key}: {error}")
    header = Header(**values, corners=tuple(corners), faults=tuple(faults))  # type: ignore[arg-type]
    return header, "\n".join(lines)


_FIELDS: Final = {"vara": "vara_m", "rotation": "rotation_deg", "adjust": "is_adjusted"}


def _value(key: str, text: str) -> object:
    if key == "name":
        return plain_name(text)
    if key == "unit":
        unit = plain_unit(text)
        unit_m(unit, vara_m=1.0)  # refuses what it does not know
        return unit
    if key == "vara":
        return _vara_m(text)
    if key == "rotation":
        return _rotation_deg(text)
    if key == "north":
        return _one_of(text, NORTHS)
    return _one_of(text, ("yes", "no")) == "yes"


def _vara_m(text: str) -> float:
    tree = parse("distance", words(text))
    if tree is None:
        raise InputError(f"got {plain_name(text)!r}; give a length with its unit, such as 33 1/3 in or 0.8467 m")
    length_m = read_distance(tree, LengthRules()).length_m
    if not 0.5 < length_m < 1.2:
        raise InputError(f"got {length_m:g} m; a vara is about 33 inches")
    return length_m


def _rotation_deg(text: str) -> float:
    if not re.fullmatch(_NUMBER, text) or abs(float(text)) > 360:
        raise InputError(
            f"got {plain_name(text)!r}; give degrees clockwise from the deed's north to true north, such as 2.5"
        )
    return float(text)


def _corner(number: str | None, text: str) -> tuple[int, float, float]:
    match = _LONLAT.fullmatch(text)
    if number is None or match is None:
        raise InputError(f"got {plain_name(text)!r}; write it as 'corner 1: -93.512, 42.031', longitude first")
    return int(number), float(match[1]), float(match[2])


def _one_of(text: str, choices: tuple[str, ...]) -> str:
    if text.lower() not in choices:
        raise InputError(f"got {plain_name(text)!r}; it must be one of {', '.join(choices)}")
    return text.lower()
