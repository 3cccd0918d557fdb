"""Shut-offs as a person asks for them: numbers of sections, what is put down, and prices."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Final, Literal

from fieldgeo.analysis.asked import read_cost
from fieldgeo.analysis.shutoffs import Applied
from fieldgeo.errors import InputError
from fieldgeo.machinery.amounts import converted, parse_amount, parse_holding, parse_rate
from fieldgeo.machinery.asked import read_sections

if TYPE_CHECKING:
    from collections.abc import Sequence

_PRICE: Final = re.compile(r"(?P<money>[0-9][0-9,]*\.?[0-9]*|\.[0-9]+)\s*(/|per)\s*(?P<unit>[A-Za-z]+3?)")


def read_shutoff_price(text: str) -> tuple[int | Literal["rows"], float]:
    """Return a number of sections and what their shut-offs cost, from text such as ``"4=2500"`` or ``"rows=9600"``.

    Parameters
    ----------
    text : str
        Number of sections, or "rows"; an equals sign; money.

    Raises
    ------
    InputError
        If it is not of that form.

    Examples
    --------
    >>> read_shutoff_price("rows=9600")
    ('rows', 9600.0)
    """
    sections, equals, money = text.partition("=")
    if not equals:
        raise InputError(f"got {text!r}. It must be N=MONEY or rows=MONEY, such as 4=2500.")
    return read_sections(sections), read_cost(money)


def read_price(text: str) -> tuple[float, str]:
    """Return money and the unit that it buys, from text such as ``"300/bag"`` or ``"18/gal"``.

    Parameters
    ----------
    text : str
        Money, a stroke, and a unit of amount.

    Raises
    ------
    InputError
        If it is not of that form.

    Examples
    --------
    >>> read_price("300/bag")
    (300.0, 'bag')
    """
    match = _PRICE.fullmatch(text.strip())
    if match is None:
        raise InputError(f"got {text!r}. A price must be money for a unit, such as 300/bag or 18/gal.")
    parse_amount(f"1{match['unit']}", what="price", example="300/bag or 18/gal")
    return float(match["money"].replace(",", "")), match["unit"]


def applied_of(rate: str, holds: Sequence[str] = (), price: tuple[float, str] | None = None) -> Applied:
    """Return what a tool puts down, from text.

    Parameters
    ----------
    rate : str
        Such as ``"34000seeds/ac"`` or ``"20gal/ac"``.
    holds : sequence of str
        How much goes into what, such as ``"80000seeds/bag"``.
    price : tuple of float and str, optional
        Money and the unit that it buys, from `read_price`.

    Raises
    ------
    InputError
        If a text cannot be read, or rate and price are of units of which nobody says how they go together.
    """
    put = parse_rate(rate)
    holdings = [parse_holding(text) for text in holds]
    if price is not None:
        size = parse_amount(f"1{price[1]}", what="price")
        bought, money = size.kind, price[0] / size.value
    else:
        bought = next((each.large for each in holdings if each.small == put.kind), put.kind)
        money = None
    return Applied(
        rate_m2=put.value,
        kind=put.kind,
        bought_m2=converted(put.value, put.kind, bought, holdings, what="rate and price"),
        bought=bought,
        price=money,
    )
