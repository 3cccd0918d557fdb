"""What is bought for the season and in what packages, as a person writes it: seed in bags, fertilizer in tons."""

from __future__ import annotations

import re
from dataclasses import dataclass
from math import isfinite
from typing import TYPE_CHECKING, Any, Final, TypeVar

from fieldgeo.errors import InputError
from fieldgeo.machinery.amounts import Amount, Kind, converted, parse_amount, parse_holding, parse_rate
from fieldgeo.machinery.entries import TEXT_LIMIT, shown
from fieldgeo.machinery.tool import Tool
from fieldgeo.units import ACRE_M2, parse_length_m

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from fieldgeo.machinery.amounts import Holding

_Given = TypeVar("_Given")
_Read = TypeVar("_Read")
# Keys of what is bought, as a person writes them beside rate and holds.
PRODUCT_KEYS: Final = ("product", "package", "seed_spacing", "allowance", "on_hand")
_ONE_OF: Final = re.compile(r"(?P<amount>.+?)\s*(/|per| a )\s*(?P<word>[A-Za-z]{1,20})")
# Units that are bought by the one, without a package.
_LOOSE: Final = {"bu": "bu", "gal": "gal", "lb": "lb", "ton": "ton", "kg": "kg", "tonne": "tonne", "l": "L"}
_PER_CENT: Final = re.compile(r"(?P<number>\d+\.?\d*|\.\d+)\s*%")
MOST_ALLOWANCE: Final = 0.5  # own choice: more is a slip
LEAST_SEED_SPACING_M: Final = 0.002
MOST_SEED_SPACING_M: Final = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Package:
    """What is bought by the one: a bag, a tote, a ton."""

    size: float  # [kind]
    kind: Kind
    word: str  # what the grower calls it, in the singular
    text: str  # as it was written

    def __post_init__(self) -> None:
        if not (isfinite(self.size) and self.size > 0):
            raise InputError(f"package: got {self.size:g} {self.kind}. It must be a finite number above zero.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Product:
    """What one operation puts on the ground, and how it is bought.

    Parameters
    ----------
    name : str
        What the grower calls it; the same name on several operations is bought together.
    rate : Amount
        What a square metre takes, > 0. [kind/m2]
    package : Package, optional
        How it is bought; without one in the unit of the rate.
    holdings : tuple of Holding
        What goes into what.
    allowance : float
        Share bought beyond what the ground takes, for replanting and rests; 0 to `MOST_ALLOWANCE`. [-]
    on_hand : Amount, optional
        What is there already.

    Raises
    ------
    InputError
        If a value is out of range, or rate, package and what is on hand do not go together.
    """

    name: str
    rate: Amount
    package: Package | None = None
    holdings: tuple[Holding, ...] = ()
    allowance: float = 0.0
    on_hand: Amount | None = None

    def __post_init__(self) -> None:
        if not (isfinite(self.rate.value) and self.rate.value > 0):
            raise InputError(f"{self.name}: the rate is {self.rate.value:g}. It must be a finite number above zero.")
        if not 0 <= self.allowance <= MOST_ALLOWANCE:
            raise InputError(
                f"{self.name}: the allowance is {100 * self.allowance:g} %. It must be from 0 to "
                f"{100 * MOST_ALLOWANCE:g} %."
            )
        self.rate_m2()
        self.on_hand_amount()

    @property
    def kind(self) -> Kind:
        """Unit that amounts are told in: that of the package, or else of the rate."""
        return self.rate.kind if self.package is None else self.package.kind

    def rate_m2(self) -> float:
        """Return what a square metre takes, in the unit of `kind`. [kind/m2]"""
        return converted(self.rate.value, self.rate.kind, self.kind, self.holdings, what=f"{self.name}: rate, package")

    def on_hand_amount(self) -> float:
        """Return what is there already, in the unit of `kind`."""
        if self.on_hand is None:
            return 0.0
        one = self.package
        if self.on_hand.kind == "bags" and one is not None and one.kind != "bags":
            return self.on_hand.value * one.size  # so many packages
        return converted(
            self.on_hand.value, self.on_hand.kind, self.kind, self.holdings, what=f"{self.name}: on hand, package"
        )


def thousandth_acre_m(row_spacing_m: float) -> float:
    """Return the length of row that is a thousandth of an acre. [m]

    Parameters
    ----------
    row_spacing_m : float
        Distance between rows, > 0. [m]

    Notes
    -----
    A thousandth of an acre over the spacing: 17 ft 5 in of 30 in rows, the count that extension sheets ask for.

    Examples
    --------
    >>> round(thousandth_acre_m(30 * 0.0254) / 0.0254)  # 17 ft 5 in
    209
    """
    return ACRE_M2 / 1000 / row_spacing_m


def population_m2(*, row_spacing_m: float, seed_spacing_m: float) -> float:
    """Return the seeds on a square metre, from rows and the spacing in them: 1 / (row x seed spacing). [1/m2]

    Parameters
    ----------
    row_spacing_m : float
        Distance between rows, > 0. [m]
    seed_spacing_m : float
        Distance between seeds in a row, > 0. [m]

    Raises
    ------
    InputError
        If a spacing is not a finite number above zero.

    Notes
    -----
    Seeds an acre = 6,272,640 / (inches between rows x inches between seeds): square inches of an acre (derived).

    Examples
    --------
    >>> from fieldgeo.units import ACRE_M2, INCH_M
    >>> round(ACRE_M2 * population_m2(row_spacing_m=30 * INCH_M, seed_spacing_m=6.5 * INCH_M))
    32167
    """
    for name, value in (("rows", row_spacing_m), ("seeds", seed_spacing_m)):
        if not (isfinite(value) and value > 0):
            raise InputError(f"spacing of {name}: got {value:g} m. It must be a finite number above zero.")
    return 1 / (row_spacing_m * seed_spacing_m)


def seed_spacing_m(*, row_spacing_m: float, seeds_m2: float) -> float:
    """Return the distance between seeds in a row, the other way round than `population_m2`. [m]

    Parameters
    ----------
    row_spacing_m : float
        Distance between rows, > 0. [m]
    seeds_m2 : float
        Seeds on a square metre, > 0. [1/m2]
    """
    return population_m2(row_spacing_m=row_spacing_m, seed_spacing_m=seeds_m2)


def parse_package(text: str) -> Package:
    """Return a package from text such as ``"80000seeds/bag"``, ``"50lb/bag"``, ``"265gal/tote"`` or ``"ton"``.

    Parameters
    ----------
    text : str
        What is in it, and what it is called; or a unit that is bought loose.

    Raises
    ------
    InputError
        If it cannot be read.

    Examples
    --------
    >>> parse_package("80000seeds/bag").word
    'bag'
    """
    given = " ".join(text.split())
    if given.lower() in _LOOSE:
        word = _LOOSE[given.lower()]
        one = parse_amount(f"1{word}", what="package")
        return Package(size=one.value, kind=one.kind, word=word, text=given)
    match = _ONE_OF.fullmatch(given)
    example = "80000seeds/bag, 50lb/bag, 265gal/tote, or one of bu, gal, lb, ton"
    if match is None:
        raise InputError(f"package: got {shown(text)}. It must be what is in one of what, such as {example}.")
    size = parse_amount(match["amount"], what="package", example=example)
    word = match["word"].lower()
    return Package(size=size.value, kind=size.kind, word=word.removesuffix("s"), text=given)


def product_values(
    carried: Mapping[str, Any], supplies: Mapping[str, Any], product: Mapping[str, Any]
) -> dict[str, Any]:
    """Return the values of a product: what the operation says before what the shed says of the tool.

    Parameters
    ----------
    carried : mapping
        What the shed says that the tool carries.
    supplies : mapping
        What the operation says in place of it.
    product : mapping
        How the operation says that it is bought. Its `seed_spacing` stands before a rate of the shed.
    """
    own = {key: value for key, value in carried.items() if not (key == "rate" and "seed_spacing" in product)}
    return {**own, **supplies, **product}


def product_of(values: Mapping[str, Any], *, default_name: str, tool: Tool | None = None) -> Product | None:
    """Return the product of an operation from text as a person writes it; None where nothing is put on the ground.

    Parameters
    ----------
    values : mapping
        Keys of `PRODUCT_KEYS`, and rate and holds. A rate may be left out where `seed_spacing` gives it with the rows
        of the tool.
    default_name : str
        Name where none is given.
    tool : Tool, optional
        Gives the rows.

    Raises
    ------
    InputError
        If a value cannot be used; all faults are in the message.
    """
    faults: list[str] = []
    for key in (*PRODUCT_KEYS, "rate"):
        if key in values and not (isinstance(values[key], str) and 0 < len(values[key].strip()) <= TEXT_LIMIT):
            faults.append(f"{key}: got {shown(values[key])}. It must be text of 1 to {TEXT_LIMIT} characters.")
    if faults:
        raise InputError(" ".join(faults))
    given = values.get("holds", ())
    holdings = [_read(text, parse_holding, faults) for text in ([given] if isinstance(given, str) else given)]
    package = _read(values.get("package"), parse_package, faults)
    allowance = _read(values.get("allowance"), _allowance, faults)
    on_hand = _read(values.get("on_hand"), _on_hand, faults)
    rate = _read(values.get("rate"), parse_rate, faults)
    if "seed_spacing" in values:
        rate = _read(values, lambda each: _rate_of_spacing(each, tool), faults)
    if rate is None and not faults and {"product", "package", "allowance", "on_hand"} & set(values):
        faults.append("rate: missing. A product needs a rate, such as 32000seeds/ac, or a seed_spacing.")
    if faults:
        raise InputError(" ".join(faults))
    if rate is None:
        return None
    return Product(
        name=str(values.get("product", default_name)).strip(), rate=rate, package=package,
        holdings=_with_package([one for one in holdings if one is not None], package),
        allowance=allowance or 0.0, on_hand=on_hand,
    )  # fmt: skip


def _with_package(holdings: Sequence[Holding], package: Package | None) -> tuple[Holding, ...]:
    """Return what goes into what, a bag of the package too, so that a rate in bags can be had from it."""
    if package is None or package.word != "bag" or package.kind == "bags":
        return tuple(holdings)
    return (*holdings, parse_holding(package.text)) if "/" in package.text else tuple(holdings)


def _rate_of_spacing(values: Mapping[str, Any], tool: Tool | None) -> Amount:
    if "rate" in values:
        raise InputError("seed_spacing: given beside rate. Give one of the two.")
    if tool is None or tool.row_spacing_m is None:
        raise InputError("seed_spacing: the tool has no rows. Give a rate instead, such as 32000seeds/ac.")
    spacing_m = parse_length_m(values["seed_spacing"], what="seed_spacing")
    if not LEAST_SEED_SPACING_M <= spacing_m <= MOST_SEED_SPACING_M:
        raise InputError(f"seed_spacing: got {shown(values['seed_spacing'])}. It must be from 2mm to 2m.")
    return Amount(population_m2(row_spacing_m=tool.row_spacing_m, seed_spacing_m=spacing_m), "seeds")


def _allowance(text: str) -> float:
    match = _PER_CENT.fullmatch(text.strip())
    if match is None or not 0 <= float(match["number"]) / 100 <= MOST_ALLOWANCE:
        raise InputError(f"allowance: got {shown(text)}. It must be from 0% to {100 * MOST_ALLOWANCE:g}%.")
    return float(match["number"]) / 100


def _on_hand(text: str) -> Amount:
    return parse_amount(text, what="on_hand", example="3bags, 20bu or 100gal")


def _read(value: _Given | None, reader: Callable[[_Given], _Read], faults: list[str]) -> _Read | None:
    """Return a value as it is read; None where there is none, or where a fault is put down."""
    try:
        return None if value is None else reader(value)
    except InputError as error:
        faults.append(str(error))
        return None
