"""Values of a season file: dates, shares, prices, places and names, each checked and every fault put down."""

from __future__ import annotations

import re
from datetime import date, datetime
from math import isfinite
from typing import TYPE_CHECKING, Final

from fieldgeo.analysis.asked import read_lonlat
from fieldgeo.errors import InputError
from fieldgeo.machinery.amounts import converted, parse_holding, parse_rate
from fieldgeo.machinery.entries import TEXT_LIMIT, shown
from fieldgeo.units import parse_quantity

if TYPE_CHECKING:
    from collections.abc import Mapping

    from fieldgeo.machinery.amounts import Holding
    from fieldgeo.machinery.entries import Entry

MOST_YIELD_BU_AC: Final = 1000.0  # own choice: beyond it there is a slip of the unit
_PER_CENT: Final = re.compile(r"(?P<number>[-+]?(\d+\.?\d*|\.\d+))\s*%")
_PRICE: Final = re.compile(r"(?P<number>[-+]?(\d+\.?\d*|\.\d+))\s*(/|per)\s*(?P<unit>[A-Za-z]+)")


def date_value(entry: Entry, key: str) -> date | None:
    """Return a date; one that is missing or cannot be used is put down.

    Parameters
    ----------
    entry : Entry
        The entry.
    key : str
        Its key.
    """
    return checked_date(entry, key, entry.values.get(key))


def checked_date(entry: Entry, key: str, value: object) -> date | None:
    """Return a value that is a date; any other is put down.

    Parameters
    ----------
    entry : Entry
        The entry it stands in.
    key : str
        Its key, for messages.
    value : object
        The value.
    """
    if isinstance(value, date) and not isinstance(value, datetime):
        return value
    what = "missing" if value is None else f"got {shown(value)}"
    entry.fault(key, f"{what}. It must be a date without quotes: year, month and day, such as 2027-04-20.")
    return None


def share_value(entry: Entry, key: str, *, most: float = 1.0) -> float | None:
    """Return a share, given in per cent. [-]

    Parameters
    ----------
    entry : Entry
        The entry.
    key : str
        Its key.
    most : float
        Greatest value. [-]
    """
    return checked_share(entry, key, entry.values.get(key), most=most)


def checked_share(entry: Entry, key: str, value: object, *, most: float = 1.0) -> float | None:
    """Return a value that is a share in per cent; any other is put down. [-]

    Parameters
    ----------
    entry : Entry
        The entry it stands in.
    key : str
        Its key, for messages.
    value : object
        The value.
    most : float
        Greatest share. [-]
    """
    match = _PER_CENT.fullmatch(value.strip()) if isinstance(value, str) and len(value) <= TEXT_LIMIT else None
    share = float(match["number"]) / 100 if match else None
    if share is not None and 0 <= share <= most:
        return share
    entry.fault(key, f'got {shown(value)}. It must be from 0 to {100 * most:g} per cent in quotes, such as "0.6%".')
    return None


def crop_holdings(crop: str) -> list[Holding]:
    """Return what a bushel of a crop weighs, where the crop is known.

    Parameters
    ----------
    crop : str
        Name of the crop.
    """
    try:
        return [parse_holding(crop)]
    except InputError:
        return []


def yield_value(entry: Entry, key: str, crop: str) -> float | None:
    """Return a yield in bushels. [bu/m2]

    Parameters
    ----------
    entry : Entry
        The entry.
    key : str
        Its key.
    crop : str
        Name of the crop; tonnes need the weight of its bushel.
    """
    text = entry.text(key)
    if text is None:
        return None
    try:
        rate = parse_rate(text, what=key, example="180bu/ac")
        value = converted(rate.value, rate.kind, "bu", crop_holdings(crop), what=f"{key} and bushels")
        most = parse_rate(f"{MOST_YIELD_BU_AC:g}bu/ac").value
        if value > most:
            raise InputError(f"{key}: got {text!r}. It must be at most {MOST_YIELD_BU_AC:g}bu/ac.")
    except InputError as error:
        entry.faults.append(f"{entry.where}: {error}")
        return None
    return value


def price_value(entry: Entry, key: str, crop: str) -> float | None:
    """Return a price in money for a bushel. [1/bu]

    Parameters
    ----------
    entry : Entry
        The entry.
    key : str
        Its key.
    crop : str
        Name of the crop; a price for a tonne needs the weight of its bushel.
    """
    value = entry.values.get(key)
    match = _PRICE.fullmatch(value.strip()) if isinstance(value, str) and len(value) <= TEXT_LIMIT else None
    if match is None:
        entry.fault(key, f'got {shown(value)}. It must be money for a unit of grain in quotes, such as "4.30/bu".')
        return None
    number = float(match["number"])
    if not (isfinite(number) and number >= 0):
        entry.fault(key, f"got {shown(value)}. A price must not be below zero.")
        return None
    try:
        # One bushel an acre, read in the unit of the price: how many of those units a bushel is.
        unit = parse_rate(f"1{match['unit']}/ac", what=key, example="4.30/bu")
        bushels = converted(unit.value, unit.kind, "bu", crop_holdings(crop), what=f"{key} and bushels")
    except InputError as error:
        entry.faults.append(f"{entry.where}: {error}")
        return None
    return number * parse_rate("1bu/ac").value / bushels


def place_value(entry: Entry, key: str) -> tuple[float, float] | None:
    """Return longitude and latitude. [deg]

    Parameters
    ----------
    entry : Entry
        The entry.
    key : str
        Its key.
    """
    text = entry.text(key)
    if text is None:
        return None
    try:
        return read_lonlat(text)
    except InputError as error:
        entry.fault(key, str(error))
        return None


def days_value(entry: Entry, key: str, *, most: int) -> int | None:
    """Return a number of whole days, from text such as "3d". [d]

    Parameters
    ----------
    entry : Entry
        The entry.
    key : str
        Its key.
    most : int
        Greatest value. [d]
    """
    value = entry.values[key]
    text = value if isinstance(value, str) and len(value) <= TEXT_LIMIT else shown(value)
    try:
        days = parse_quantity(text, "day", what=key, example="3d")
    except InputError as error:
        entry.faults.append(f"{entry.where}: {error}")
        return None
    if days != round(days) or not 0 <= days <= most:
        entry.fault(key, f"got {text!r}. It must be whole days from 0 to {most}.")
        return None
    return round(days)


def name_list(entry: Entry, key: str) -> tuple[str, ...] | None:
    """Return one name or several: text, or texts in brackets; none where the key is not there.

    Parameters
    ----------
    entry : Entry
        The entry.
    key : str
        Its key.
    """
    if key not in entry.values:
        return ()
    value = entry.values[key]
    names = [value] if isinstance(value, str) else value
    is_list = isinstance(names, list) and bool(names)
    if not is_list or not all(isinstance(name, str) and 0 < len(name.strip()) <= TEXT_LIMIT for name in names):
        entry.fault(key, f'got {shown(value)}. It must be a name in quotes, or several in brackets: ["one", "two"].')
        return None
    stripped = tuple(name.strip() for name in names)
    if len(set(stripped)) < len(stripped):
        entry.fault(key, f"got {shown(value)}. Each name must be given once.")
        return None
    return stripped


def check_known(entry: Entry, key: str, names: tuple[str, ...], known: Mapping[str, object], what: str) -> bool:
    """Put down names that are not known; say whether all of them are.

    Parameters
    ----------
    entry : Entry
        The entry.
    key : str
        The key they stand under.
    names : tuple of str
        Names.
    known : mapping
        Those there are.
    what : str
        What is named, for messages: "a tool of the shed".
    """
    strange = [name for name in names if name not in known]
    for name in strange:
        there = ", ".join(repr(each) for each in known) or "none"
        entry.fault(key, f"got {shown(name)}. It must be {what}: {there}.")
    return not strange
