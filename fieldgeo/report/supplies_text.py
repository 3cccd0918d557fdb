"""Seed and supplies of a season as lines: what to buy, by field, and the grain that comes off."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fieldgeo.machinery.amounts import amount_text
from fieldgeo.report.lines import count_text, table, wrap
from fieldgeo.season.supplies import LOAD_SOURCE, USUAL_LOAD_BU, package_text
from fieldgeo.units import to_acres

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fieldgeo.season.supplies import ProductNeed, SeasonSupplies


def supplies_lines(supplies: SeasonSupplies) -> Iterator[str]:
    """Yield what to buy and what grain to expect, as lines.

    Parameters
    ----------
    supplies : SeasonSupplies
        Products and grain.
    """
    if supplies.products:
        yield "Seed and supplies"
        for need in supplies.products:
            yield from _product(need)
    if supplies.grain:
        yield "Grain to expect"
        rows = [
            (one.field, one.crop, f"{to_acres(one.worked_m2):,.1f} ac", f"{one.amount_bu:,.0f} bu",
             f"{one.loads:,}")
            for one in supplies.grain
        ]  # fmt: skip
        for crop in dict.fromkeys(one.crop for one in supplies.grain):
            same = [one for one in supplies.grain if one.crop == crop]
            if len(same) > 1:
                rows.append(
                    ("all", crop, f"{to_acres(sum(one.worked_m2 for one in same)):,.1f} ac",
                     f"{sum(one.amount_bu for one in same):,.0f} bu", f"{sum(one.loads for one in same):,}")
                )  # fmt: skip
        yield from table(("field", "crop", "cut", "grain", "loads"), rows, left=2)


def supplies_notes(supplies: SeasonSupplies) -> list[str]:
    """Return what is assumed in the amounts.

    Parameters
    ----------
    supplies : SeasonSupplies
        Products and grain.
    """
    said = [f"supplies: {note}" for note in supplies.notes]
    if supplies.grain and supplies.load_bu == USUAL_LOAD_BU:
        said.append(f"supplies: a load of {USUAL_LOAD_BU:g} bu is assumed, {LOAD_SOURCE}")
    return said


def _product(need: ProductNeed) -> Iterator[str]:
    kind = need.product.kind
    share = need.amount / need.once - 1 if need.once > 0 else 0.0
    stock = need.product.on_hand_amount()
    more = f", {100 * share:.1f} % more than with nothing worked twice" if share >= 0.0005 else ""
    said = [f"the ground takes {amount_text(need.amount, kind)}{more}"]
    if need.product.allowance:
        said.append(f"{100 * need.product.allowance:g} % allowed beyond")
    if stock:
        said.append(f"{amount_text(stock, kind)} on hand")
    said.append(f"{amount_text(need.left, kind)} left over" if need.left > 0 else "nothing left over")
    yield from (f"  {line}" for line in wrap(f"{need.product.name}: buy {package_text(need)}", indent=2, columns=78))
    yield from (f"    {line}" for line in wrap("; ".join(said), indent=0, columns=76))
    if len(need.needs) > 1:
        several = len({each.operation for each in need.needs}) > 1
        rows = [
            (f"{each.ground.field}, {each.operation}" if several else each.ground.field,
             f"{to_acres(each.ground.worked_m2):,.1f} ac", amount_text(each.amount, kind))
            for each in need.needs
        ]  # fmt: skip
        yield from table((count_text(len(rows), "field"), "worked", "takes"), rows, left=1, indent=4)
