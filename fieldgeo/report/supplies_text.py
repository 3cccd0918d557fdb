"""Seed and supplies of a season as lines: what to buy, by field, and the grain that comes off."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from fieldgeo.outline.files.geojson import plain_name
from fieldgeo.report.lines import count_text, table, wrap
from fieldgeo.report.stops_text import amount_text

if TYPE_CHECKING:
    from collections.abc import Iterator

Figures = dict[str, Any]


def supplies_lines(figures: Figures) -> Iterator[str]:
    """Yield what to buy and what grain to expect, as lines.

    Parameters
    ----------
    figures : dict
        From `fieldgeo.season.supplies_figures.supplies_figures`.
    """
    if figures["products"]:
        yield "Seed and supplies"
        for product in figures["products"]:
            yield from _product(product)
    if figures["grain"]:
        yield f"Grain to expect, in loads of {figures['load_bu']:,.0f} bu"
        rows = [_grain_row(one["field"], one) for one in figures["grain"]]
        for total in figures["grain_total"]:
            if total["fields"] > 1:
                rows.append(_grain_row(count_text(total["fields"], "field"), total))
        yield from table(("field", "crop", "cut", "grain", "loads"), rows, left=2)


def supplies_notes(figures: Figures) -> Iterator[str]:
    """Yield what is assumed in the amounts.

    Parameters
    ----------
    figures : dict
        From `fieldgeo.season.supplies_figures.supplies_figures`.
    """
    yield from (f"note: supplies: {note}." for note in figures["notes"])
    if figures["grain"] and figures["load_source"] != "given":
        yield f"note: supplies: a load of {figures['load_bu']:,.0f} bu is assumed, {figures['load_source']}."


def _grain_row(name: str, figures: Figures) -> tuple[str, ...]:
    return (
        plain_name(name), plain_name(figures["crop"]), f"{figures['worked_ac']:,.1f} ac", f"{figures['bu']:,.0f} bu",
        f"{figures['loads']:,}",
    )  # fmt: skip


def _product(figures: Figures) -> Iterator[str]:
    share = figures["overlap_share"]
    more = f", {100 * share:.1f} % more than with nothing worked twice" if share and share >= 0.0005 else ""
    said = [f"the ground takes {amount_text(figures['amount'])}{more}"]
    if figures["allowance_share"]:
        said.append(f"{100 * figures['allowance_share']:g} % allowed beyond")
    if any(figures["on_hand"].values()):
        said.append(f"{amount_text(figures['on_hand'])} on hand")
    left = any(round(value, 6) for value in figures["left_over"].values())
    said.append(f"{amount_text(figures['left_over'])} left over" if left else "nothing left over")
    name = plain_name(figures["product"])
    yield from (f"  {line}" for line in wrap(f"{name}: buy {figures['buy']}", indent=2, columns=78))
    yield from (f"    {line}" for line in wrap("; ".join(said), indent=0, columns=76))
    if len(figures["fields"]) > 1:
        several = len({each["operation"] for each in figures["fields"]}) > 1
        package = figures["package"]
        rows = [
            [
                f"{plain_name(each['field'])}, {plain_name(each['operation'])}"
                if several
                else plain_name(each["field"]),
                f"{each['worked_ac']:,.1f} ac",
                amount_text(each["amount"]),
                *([] if package is None else [f"{each['packages']:,.1f} {package['word']}"]),
            ]
            for each in figures["fields"]
        ]
        head = ["field", "worked", "takes", *([] if package is None else [""])]
        yield from table(head, rows, left=1, indent=4)
