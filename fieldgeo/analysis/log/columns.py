"""Columns of a log: what each holds, told by its name, and the unit it is in.

A name is a quantity and, after it, a unit: ``swath_in``, ``Width (ft)``, ``flow_lb_s``. Case, underscores, brackets and
other signs make no difference. What the names leave open is given as a mapping from the quantity to the column.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from fieldgeo.errors import LogError
from fieldgeo.outline.files.geojson import plain_name
from fieldgeo.units import FOOT_M, INCH_M, MPH_M_S

POUND_KG: Final = 0.45359237  # exact: NIST Handbook 44, appendix C (from memory)

_LENGTHS: Final = {
    "m": 1.0, "metre": 1.0, "metres": 1.0, "meter": 1.0, "meters": 1.0, "cm": 0.01, "mm": 0.001, "ft": FOOT_M,
    "feet": FOOT_M, "foot": FOOT_M, "in": INCH_M, "inch": INCH_M, "inches": INCH_M,
}  # fmt: skip
_SPEEDS: Final = {
    "m s": 1.0, "mps": 1.0, "mph": MPH_M_S, "mi h": MPH_M_S, "km h": 1 / 3.6, "kmh": 1 / 3.6, "kph": 1 / 3.6,
    "ft s": FOOT_M, "knots": 1852 / 3600, "kn": 1852 / 3600,
}  # fmt: skip
_TIMES: Final = {"s": 1.0, "sec": 1.0, "secs": 1.0, "second": 1.0, "seconds": 1.0, "ms": 0.001, "min": 60.0}
_FLOWS: Final = {
    "kg s": 1.0, "lb s": POUND_KG, "lbs s": POUND_KG, "t h": 1000 / 3600, "kg h": 1 / 3600, "lb h": POUND_KG / 3600,
}  # fmt: skip
_SHARES: Final = {"pct": 1.0, "percent": 1.0, "%": 1.0, "per cent": 1.0}
_DEGREES: Final = {"deg": 1.0, "degrees": 1.0, "dd": 1.0, "wgs84": 1.0}


@dataclass(frozen=True, slots=True, kw_only=True)
class _Quantity:
    """What a column may hold."""

    names: tuple[str, ...]  # how it may be called, without unit
    units: Mapping[str, float]  # what one of each unit is in SI
    unit: str | None  # the unit of a column that names none; None where it must be named


_QUANTITIES: Final[dict[str, _Quantity]] = {
    "lat": _Quantity(names=("lat", "latitude"), units=_DEGREES, unit="deg"),
    "lon": _Quantity(names=("lon", "lng", "long", "longitude"), units=_DEGREES, unit="deg"),
    "time": _Quantity(
        names=("time", "t", "timestamp", "date time", "datetime", "gps time", "utc", "utc time", "time utc",
               "local time"),
        units=_TIMES, unit="s",
    ),
    "date": _Quantity(names=("date", "day", "utc date", "gps date", "local date"), units={}, unit=""),
    "cycle": _Quantity(names=("cycle", "interval", "duration", "cycle time"), units=_TIMES, unit="s"),
    "speed": _Quantity(names=("speed", "velocity", "ground speed", "travel speed"), units=_SPEEDS, unit=None),
    "distance": _Quantity(names=("dist", "distance", "distance travelled", "travel"), units=_LENGTHS, unit=None),
    "width": _Quantity(
        names=("width", "swath", "swath width", "working width", "cutting width", "cut width"), units=_LENGTHS,
        unit=None,
    ),
    "switch": _Quantity(
        names=("switch", "work switch", "working", "is working", "work", "work state", "tool state", "head state",
               "tool down", "is down", "down"),
        units={}, unit="",
    ),
    "height": _Quantity(
        names=("height", "head height", "header height", "tool height", "lift height", "lift", "implement height"),
        units=_LENGTHS | _SHARES | {"v": 1.0, "volt": 1.0}, unit="m",
    ),
    "flow": _Quantity(names=("flow", "mass flow", "grain flow", "crop flow"), units=_FLOWS, unit=None),
    "moisture": _Quantity(names=("moisture", "grain moisture", "crop moisture"), units=_SHARES, unit="pct"),
    "elevation": _Quantity(
        names=("elev", "elevation", "alt", "altitude", "ele"), units=_LENGTHS, unit="m"
    ),
    "quality": _Quantity(names=("quality", "fix", "fix quality", "gps quality", "fix type"), units={}, unit=""),
}  # fmt: skip
QUANTITIES: Final = tuple(_QUANTITIES)
_SIGNS: Final = re.compile(r"[^a-z0-9%]+")


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """Where a quantity stands, and what one of its unit is in SI."""

    place: int  # column of the table, from 0
    name: str  # as the file has it, fit to print
    scale: float  # SI per unit; 1 for text


def find_columns(
    names: Sequence[str], asked: Mapping[str, str] | None, *, source: str
) -> tuple[dict[str, Column], list[str]]:
    """Return the columns of a log by quantity, and notes on those that were left.

    Parameters
    ----------
    names : sequence of str
        Names of all columns, in their order.
    asked : mapping of str to str, or None
        Quantity (one of `QUANTITIES`) to the name of its column, with a unit after a colon where the name has none:
        ``{"width": "Swth:ft"}``. It goes before what the names say.
    source : str
        Name of the file, for messages.

    Raises
    ------
    LogError
        If a column is asked for that is not there, could be several, or has no unit that is known; or if the columns of
        latitude and longitude are missing. All faults at once.
    """
    faults: list[str] = []
    notes: list[str] = []
    columns: dict[str, Column] = {}
    for quantity, text in (asked or {}).items():
        _ask(quantity, text, names, columns, faults)
    taken = {column.place for column in columns.values()}
    for quantity in _QUANTITIES:
        if quantity not in columns:
            _recognise(quantity, names, taken, columns, faults, notes)
    missing = [quantity for quantity in ("lat", "lon") if quantity not in columns]
    if missing and not faults:
        faults.append(f"no column of {' and '.join(missing)} was found")
    if faults:
        seen = ", ".join(repr(plain_name(name)) for name in names[:40]) or "none"
        raise LogError(
            f"{source} cannot be read as a log. Name its columns, such as --columns lat=NAME,lon=NAME,width=NAME:ft:",
            [*faults, f"columns found: {seen}"],
        )
    return columns, notes


def _plain(name: str) -> str:
    return " ".join(_SIGNS.sub(" ", name.lower()).split())


def _ask(quantity: str, text: str, names: Sequence[str], columns: dict[str, Column], faults: list[str]) -> None:
    """Put down a column that was asked for, or what is wrong with it."""
    if quantity not in _QUANTITIES:
        faults.append(f"columns: got {quantity!r}. It must be one of {', '.join(QUANTITIES)}")
        return
    name, unit = (text, None) if text in names else _parted(text)
    places = [place for place, each in enumerate(names) if each.strip() == name.strip()]
    if len(places) != 1:
        what = "there is no such column" if not places else f"{len(places)} columns have this name"
        faults.append(f"{quantity}: got {plain_name(text)!r}; {what}")
        return
    scale = _scale(quantity, _plain(name), unit)
    if scale is None:
        known = ", ".join(_QUANTITIES[quantity].units) or "none"
        faults.append(f"{quantity}: the unit of {plain_name(text)!r} is not known. Write it after a colon: {known}")
        return
    columns[quantity] = Column(place=places[0], name=plain_name(name), scale=scale)


def _parted(text: str) -> tuple[str, str | None]:
    name, colon, unit = text.rpartition(":")
    return (name, unit) if colon else (text, None)


def _scale(quantity: str, name: str, unit: str | None) -> float | None:
    """Return what one of a column's unit is in SI: of the unit given, of that in its name, or of the usual one."""
    kind = _QUANTITIES[quantity]
    if unit is not None:
        return kind.units.get(_plain(unit))
    words = name.split()
    for count in (2, 1):
        ending = " ".join(words[-count:])
        if len(words) > count and ending in kind.units:
            return kind.units[ending]
    if kind.unit is None:
        return None
    return kind.units.get(kind.unit, 1.0)


def _recognise(
    quantity: str, names: Sequence[str], taken: set[int], columns: dict[str, Column], faults: list[str],
    notes: list[str],
) -> None:  # fmt: skip
    """Put down the column whose name says that it holds a quantity; note one whose unit is not known."""
    kind = _QUANTITIES[quantity]
    endings = ["", *(f" {unit}" for unit in kind.units)]
    wanted = {name + ending for name in kind.names for ending in endings}
    places = [place for place, name in enumerate(names) if place not in taken and _plain(name) in wanted]
    if quantity == "time":
        # A column of its own for the time beats one for the day and time of something else.
        places = places[:1] if len({_plain(names[place]) for place in places}) == len(places) else places
    if len(places) > 1:
        shown = " or ".join(repr(plain_name(names[place])) for place in places)
        faults.append(f"{quantity} could be {shown}; name the one that is meant")
        return
    if not places:
        return
    name = names[places[0]]
    scale = _scale(quantity, _plain(name), None)
    if scale is None:
        notes.append(
            f"column {plain_name(name)!r} has no unit in its name and was left: to use it, write "
            f"{quantity}={plain_name(name)}:UNIT among the columns"
        )
        return
    columns[quantity] = Column(place=places[0], name=plain_name(name), scale=scale)
