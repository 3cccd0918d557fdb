"""Seed and supplies of a season: what each field takes, what to buy in whole packages, what grain comes off.

Amounts go by the ground that the tool sweeps, overlap and spill with it, less what shut-offs save; grain goes by the
ground that is worked, for a stalk is cut once.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, isfinite
from typing import TYPE_CHECKING, Final

from fieldgeo.errors import InputError
from fieldgeo.machinery.amounts import GALLON_M3, POUND_KG, amount_text, parse_amount

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from fieldgeo.analysis.coverage import Coverage
    from fieldgeo.machinery.amounts import Kind
    from fieldgeo.season.products import Product

# A tractor and hopper trailer of 80,000 lb carry about 50,000 lb, 893 bu of corn: common practice, no source.
USUAL_LOAD_BU: Final = 900.0
LOAD_SOURCE: Final = "a road truck of 80,000 lb: common practice, no source"
_COUNT_TOLERANCE: Final = 1e-9  # of a package or load, against rounding


@dataclass(frozen=True, slots=True, kw_only=True)
class GroundWorked:
    """Ground of one field under one operation. All in square metres.

    Raises
    ------
    InputError
        If an area is below zero or not a number, or more is saved than is swept.
    """

    field: str
    area_m2: float  # of the field
    swept_m2: float  # sum of the swaths
    worked_m2: float  # worked at least once
    saved_m2: float = 0.0  # swept, but shut off [m2]

    def __post_init__(self) -> None:
        areas = (self.area_m2, self.swept_m2, self.worked_m2, self.saved_m2)
        if not all(isfinite(area) and area >= 0 for area in areas) or self.saved_m2 > self.swept_m2:
            raise InputError(
                f"{self.field}: areas must be finite and not below zero, and no more is saved than is swept."
            )

    @property
    def fed_m2(self) -> float:
        """Ground that takes seed or spray, counted each time it does. [m2]"""
        return self.swept_m2 - self.saved_m2


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldNeed:
    """What one operation takes on one field."""

    operation: str
    ground: GroundWorked
    amount: float  # [kind of the product]
    once: float  # what it would take with nothing worked twice or outside [kind of the product]


@dataclass(frozen=True, slots=True, kw_only=True)
class ProductNeed:
    """What the season takes of one product, and what to buy."""

    product: Product
    needs: tuple[FieldNeed, ...]
    packages: int  # to buy
    left: float  # over after the season, allowance and what is on hand with it [kind of the product]

    @property
    def amount(self) -> float:
        """What the ground takes. [kind of the product]"""
        return sum(need.amount for need in self.needs)

    @property
    def once(self) -> float:
        """What it would take with nothing worked twice or outside. [kind of the product]"""
        return sum(need.once for need in self.needs)

    @property
    def bought(self) -> float:
        """What is in the packages to buy. [kind of the product]"""
        return self.packages * package_size(self.product)


@dataclass(frozen=True, slots=True, kw_only=True)
class GrainExpected:
    """Grain that comes off one field."""

    operation: str
    field: str
    crop: str
    worked_m2: float
    amount_bu: float
    loads: int  # of trucks or wagons, each field by itself


@dataclass(frozen=True, slots=True, kw_only=True)
class SeasonSupplies:
    """What a season takes and gives."""

    products: tuple[ProductNeed, ...]
    grain: tuple[GrainExpected, ...]
    load_bu: float
    notes: tuple[str, ...] = ()


def ground_of(field: str, coverage: Coverage, *, saved_m2: float = 0.0) -> GroundWorked:
    """Return the ground of a field under a plan.

    Parameters
    ----------
    field : str
        Name of the field.
    coverage : Coverage
        Of the plan.
    saved_m2 : float
        Swept, but shut off. [m2]

    Raises
    ------
    InputError
        If more is saved than is swept.
    """
    return GroundWorked(
        field=field, area_m2=coverage.area_m2, swept_m2=coverage.swept_m2, worked_m2=coverage.worked_m2,
        saved_m2=saved_m2,
    )  # fmt: skip


def package_size(product: Product) -> float:
    """Return what is bought by the one: a package, or one of the unit in which it is shown. [kind of the product]

    Parameters
    ----------
    product : Product
        The product.
    """
    return _loose_size(product.kind) if product.package is None else product.package.size


def product_needs(asked: Iterable[tuple[str, Product, Sequence[GroundWorked]]]) -> tuple[ProductNeed, ...]:
    """Return what to buy of each product, products of one name together.

    Parameters
    ----------
    asked : iterable of (str, Product, sequence of GroundWorked)
        Operation, what it puts on the ground, and the ground of each field.

    Raises
    ------
    InputError
        If products of one name are bought in different ways; all of them are told at once.

    Notes
    -----
    Packages = what the ground takes x (1 + allowance) less what is on hand, over the package, rounded up (derived).
    """
    together: dict[str, list[tuple[str, Product, Sequence[GroundWorked]]]] = {}
    for operation, product, grounds in asked:
        together.setdefault(product.name, []).append((operation, product, grounds))
    faults = [
        f"{name}: bought in different ways by {', '.join(operation for operation, _, _ in each)}. Give it one package, "
        "allowance and stock, or names of its own."
        for name, each in together.items()
        if len({_way(product) for _, product, _ in each}) > 1
    ]
    if faults:
        raise InputError(" ".join(faults))
    return tuple(_need(each) for each in together.values())


def grain_expected(
    operation: str, crop: str, yield_bu_m2: float, grounds: Iterable[GroundWorked], *, load_bu: float = USUAL_LOAD_BU
) -> tuple[GrainExpected, ...]:
    """Return the grain that comes off each field: worked ground x yield, and its loads, rounded up.

    Parameters
    ----------
    operation, crop : str
        What cuts it, and what it is.
    yield_bu_m2 : float
        Yield, > 0. [bu/m2]
    grounds : iterable of GroundWorked
        The fields.
    load_bu : float
        What a truck or wagon holds, > 0. [bu]

    Raises
    ------
    InputError
        If yield or load are not finite numbers above zero.

    Notes
    -----
    Derived. Ground that is cut twice gives once.
    """
    if not (isfinite(yield_bu_m2) and yield_bu_m2 > 0 and isfinite(load_bu) and load_bu > 0):
        raise InputError(
            f"grain: got a yield of {yield_bu_m2:g} bu/m2 and loads of {load_bu:g} bu. Both must be finite "
            "numbers above zero."
        )
    found = []
    for ground in grounds:
        amount_bu = ground.worked_m2 * yield_bu_m2
        found.append(
            GrainExpected(
                operation=operation, field=ground.field, crop=crop, worked_m2=ground.worked_m2, amount_bu=amount_bu,
                loads=_whole(amount_bu / load_bu),
            )
        )  # fmt: skip
    return tuple(found)


def read_load_bu(text: str) -> float:
    """Return what a truck or wagon holds from text such as ``"900bu"``. [bu]

    Parameters
    ----------
    text : str
        Number and unit.

    Raises
    ------
    InputError
        If it is not a number of bushels.
    """
    amount = parse_amount(text, what="truckload", example="900bu")
    if amount.kind != "bu":
        raise InputError(f"truckload: got {text[:60]!r}. It must be in bushels, such as 900bu.")
    return amount.value


def package_text(need: ProductNeed) -> str:
    """Return what to buy, such as "31 bags of 80,000 seeds" or "1,204 gal".

    Parameters
    ----------
    need : ProductNeed
        What the season takes.
    """
    package = need.product.package
    if package is None:
        return amount_text(need.bought, need.product.kind)
    if "/" not in package.text and " " not in package.text:  # bought loose
        return f"{need.packages:,} {package.word}"
    plural = "" if need.packages == 1 else "es" if package.word.endswith(("x", "s")) else "s"
    return f"{need.packages:,} {package.word}{plural} of {amount_text(package.size, package.kind)}"


def _need(asked: Sequence[tuple[str, Product, Sequence[GroundWorked]]]) -> ProductNeed:
    product = asked[0][1]
    needs = []
    for operation, each, grounds in asked:
        rate_m2 = each.rate_m2()
        needs += [
            FieldNeed(
                operation=operation, ground=ground, amount=ground.fed_m2 * rate_m2, once=ground.worked_m2 * rate_m2
            )
            for ground in grounds
        ]
    amount, there = sum(need.amount for need in needs), product.on_hand_amount()
    packages = _whole(max(0.0, amount * (1 + product.allowance) - there) / package_size(product))
    left = there + packages * package_size(product) - amount
    return ProductNeed(product=product, needs=tuple(needs), packages=packages, left=max(left, 0.0))


def _way(product: Product) -> tuple[object, ...]:
    package = product.package
    size = None if package is None else (package.size, package.kind, package.word)
    return (product.kind, size, product.allowance, product.on_hand)


def _whole(number: float) -> int:
    return ceil(number - _COUNT_TOLERANCE * max(number, 1.0))


def _loose_size(kind: Kind) -> float:
    return {"m3": GALLON_M3, "kg": POUND_KG}.get(kind, 1.0)
