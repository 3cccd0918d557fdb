"""The work as a person asks for it: direction, headland, entrance and costs read from text."""

from __future__ import annotations

import re
from math import isfinite
from typing import TYPE_CHECKING, Final, Literal

import numpy as np
import shapely

from fieldgeo.analysis.plan import MOST_ROUNDS, checked_direction_deg
from fieldgeo.analysis.score import By, Prices
from fieldgeo.errors import InputError
from fieldgeo.units import ACRE_M2

if TYPE_CHECKING:
    from fieldgeo.layout.axes import Floats
    from fieldgeo.outline.field import Field

FARTHEST_ENTRANCE_M: Final = 5000.0  # own choice: an entrance farther from its field is a slip


def read_direction(text: str) -> float | Literal["best"]:
    """Return an azimuth from text, or "best". [deg]

    Raises
    ------
    InputError
        If it is neither, or the azimuth is not from 0 to 360.

    Examples
    --------
    >>> read_direction("90"), read_direction("best")
    (90.0, 'best')
    """
    if text.strip().lower() == "best":
        return "best"
    value = _number(text, "It must be best, or an azimuth in degrees clockwise from true north, such as 90")
    checked_direction_deg(value)
    return value


def read_headland(text: str) -> int | Literal["auto"]:
    """Return a number of headland rounds from text, or "auto".

    Raises
    ------
    InputError
        If it is neither, or there are more than `fieldgeo.analysis.plan.MOST_ROUNDS`.

    Examples
    --------
    >>> read_headland("2"), read_headland("auto")
    (2, 'auto')
    """
    if text.strip().lower() == "auto":
        return "auto"
    if not re.fullmatch(r"[0-9]{1,9}", text.strip()) or int(text) > MOST_ROUNDS:
        raise InputError(f"got {text!r}. It must be auto, or a whole number of rounds from 0 to {MOST_ROUNDS}.")
    return int(text)


def read_parts(text: str) -> int | Literal["auto"]:
    """Return the most parts to divide a field into from text, or "auto".

    Raises
    ------
    InputError
        If it is neither, or there are more than `fieldgeo.analysis.divided.search.MOST_PARTS`.

    Examples
    --------
    >>> read_parts("2"), read_parts("auto")
    (2, 'auto')
    """
    from fieldgeo.analysis.divided.search import MOST_PARTS

    if text.strip().lower() == "auto":
        return "auto"
    if not re.fullmatch(r"[0-9]{1,9}", text.strip()) or not 1 <= int(text) <= MOST_PARTS:
        raise InputError(f"got {text!r}. It must be auto, or a whole number from 1 (undivided) to {MOST_PARTS}.")
    return int(text)


def read_lonlat(text: str) -> tuple[float, float]:
    """Return longitude and latitude from text. [deg]

    Raises
    ------
    InputError
        If it is not two numbers with a comma between, or no place on Earth.

    Examples
    --------
    >>> read_lonlat("-94.365,42.457")
    (-94.365, 42.457)
    """
    rule = "It must be longitude and latitude with a comma between, such as -94.365,42.457"
    parts = text.split(",")
    if len(parts) != 2:
        raise InputError(f"got {text!r}. {rule}.")
    lon_deg, lat_deg = (_number(part, rule) for part in parts)
    if abs(lon_deg) > 180 or abs(lat_deg) > 90:
        raise InputError(f"got {text!r}. Longitude comes first and lies within 180 degrees, latitude within 90.")
    return lon_deg, lat_deg


def read_cost(text: str) -> float:
    """Return a sum of money from text, in any currency.

    Raises
    ------
    InputError
        If it is not a number, or below zero.

    Examples
    --------
    >>> read_cost("120.5")
    120.5
    """
    value = _number(text, "A cost must be a number without a unit, such as 120")
    if value < 0:
        raise InputError(f"got {text!r}. A cost must not be below zero.")
    return value


def asked_prices(by: By, hour: float | None, input_acre: float | None) -> Prices | None:
    """Return the prices that a search judges by; None where it judges by something else.

    Parameters
    ----------
    by : {"time", "passes", "overlap", "cost"}
        What the search judges by.
    hour : float, optional
        Tractor, tool and driver for an hour of field time. [1/h]
    input_acre : float, optional
        Seed, fertilizer or chemical on an acre. [1/ac]

    Raises
    ------
    InputError
        If prices are given and the search is not by cost, or it is and there are none above zero.
    """
    if by != "cost":
        if hour is not None or input_acre is not None:
            raise InputError(f"hour cost and input cost go with a search by cost; this one is by {by}.")
        return None
    if not hour and not input_acre:
        raise InputError("a search by cost needs an hour cost or an input cost above zero.")
    return Prices(hour=hour or 0.0, input_m2=(input_acre or 0.0) / ACRE_M2)


def entrance_xy(field: Field, lonlat: tuple[float, float]) -> Floats:
    """Return the entrance of a field in its frame, shape (2,). [m]

    Parameters
    ----------
    field : Field
        The field.
    lonlat : tuple of float
        Longitude and latitude, WGS 84. [deg]

    Raises
    ------
    InputError
        If the place lies farther from the field than `FARTHEST_ENTRANCE_M`.
    """
    place = np.array(field.frame.to_frame(*lonlat), dtype=float)
    away_m = float(field.shape.distance(shapely.Point(place))) if np.isfinite(place).all() else float("inf")
    if away_m > FARTHEST_ENTRANCE_M:
        raise InputError(
            f"entrance: got {lonlat[0]:g},{lonlat[1]:g}, which lies {away_m / 1000:,.0f} km from field {field.name!r}. "
            f"It must be within {FARTHEST_ENTRANCE_M / 1000:g} km of it; check that longitude comes first."
        )
    return place


def _number(text: str, rule: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = float("nan")
    if not isfinite(value):
        raise InputError(f"got {text!r}. {rule}.")
    return value
