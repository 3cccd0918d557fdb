"""The answer of `shutoffs` as lines."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from fieldgeo.report.lines import area_text, count_text, direction_text, table, wrap
from fieldgeo.report.text import tool_text

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fieldgeo.analysis.figures import Figures

_MOST_COLUMNS: Final = 6  # numbers of sections beside each other; --json has them all
_NAME_COLUMNS: Final = 28  # that the name of a field has
_MOST_PAYBACK_YR: Final = 99.5  # beyond that "over 99 years" says enough

# Read: University of Tennessee and Iowa State University; the mean is a trade-press quote of the Tennessee staff.
_PUBLISHED: Final = (
    "note: published for other fields: 0.1 to 15.5 % planted twice on 52 fields (University of Tennessee, The "
    "Economics of Automatic Section Control for Planters, 2013), about 5 % on the mean (recalled); 3.3 % by 16 and 24 "
    "rows over 2,500 ac (Iowa State University, Precision Ag Technology Savings, 2012)."
)


def shutoff_lines(figures: Figures) -> Iterator[str]:
    """Yield the answer of `shutoffs` from `shutoff_figures`."""
    fields, farm = figures["fields"], figures["farm"]
    if len(fields) == 1:
        only = fields[0]
        yield f"{only['field']}: {area_text(only['area_m2'])}, passes {direction_text(only['direction_deg'])}"
    else:
        yield f"{count_text(len(fields), 'field')}: {area_text(farm['area_m2'])}"
    yield tool_text(figures)
    if len(fields) > 1:
        yield from _by_field(figures)
    yield from _choices(farm["choices"])
    for choice in farm["choices"][1:]:
        if choice["price"] is not None:
            yield from wrap(f"  {_payback_text(choice)}", indent=4)


def shutoff_notes(figures: Figures) -> Iterator[str]:
    """Yield what a grower should know beside that answer, from `shutoff_figures`."""
    yield (
        "note: direction and lines of the passes are the same for all, the best for the whole tool if not given; "
        "sections are equally wide; on the end rows nothing is shut off here, where their sides cross at corners and "
        "where rounds meet on a narrow field."
    )
    if any(choice["price"] is not None for choice in figures["farm"]["choices"]):
        yield (
            "note: simple payback, every field worked once a year: no interest, no repairs, and nothing for yield "
            "lost where plants stand twice as thick."
        )
    yield _PUBLISHED


def _by_field(figures: Figures) -> Iterator[str]:
    """Yield what each field has doubled, as a share of it, by number of sections."""
    shown = figures["fields"][0]["choices"][:_MOST_COLUMNS]
    rows = [
        [
            field["field"][:_NAME_COLUMNS],
            f"{field['area_ac']:,.1f} ac",
            *(f"{one['doubled_pct']:.1f} %" for one in field["choices"][:_MOST_COLUMNS]),
        ]
        for field in figures["fields"]
    ]
    yield "  doubled ground as a share of each field, by what shuts off:"
    yield from table(["field", "area", *map(_short, shown)], rows, left=1)


def _choices(choices: list[Figures]) -> Iterator[str]:
    has_seed = choices[0]["saved_amount"] is not None
    has_bought = has_seed and choices[0]["saved_bought"].keys() != choices[0]["saved_amount"].keys()
    has_money = choices[0]["saved_money"] is not None
    has_missed = any(choice["missed_ac"] >= 0.005 for choice in choices)
    head = ["shut off", "doubled", "", *["missed"] * has_missed, "saved", *[""] * (has_seed + has_bought)]
    head += ["a year"] * has_money
    rows = []
    for choice in choices:
        row = [_sections_text(choice), f"{choice['doubled_ac']:,.2f} ac", f"{choice['doubled_pct']:.1f} %"]
        row += [f"{choice['missed_ac']:,.2f} ac"] * has_missed
        is_whole = choice["sections"] == 1
        row.append("" if is_whole else f"{choice['saved_ac']:,.2f} ac")
        if has_seed:
            row.append("" if is_whole else _amount(choice["saved_amount"]))
        if has_bought:
            row.append("" if is_whole else _amount(choice["saved_bought"]))
        if has_money:
            row.append("" if is_whole else f"{choice['saved_money']:,.0f}")
        rows.append(row)
    yield from table(head, rows, left=1)


def _payback_text(choice: Figures) -> str:
    what = f"{_sections_text(choice)} at {choice['price']:,.0f}"
    years = choice["payback_yr"]
    if choice["saved_money"] is None:
        return f"{what}: give --rate and --price to see in how many years they pay"
    if years is None:
        return f"{what}: save nothing here"
    if years > _MOST_PAYBACK_YR:
        return f"{what}: pay for themselves in over 99 years of what is saved"
    return f"{what}: pay for themselves in {years:.1f} years of what is saved"


def _short(choice: Figures) -> str:
    return "whole" if choice["sections"] == 1 else "rows" if choice["is_every_row"] else f"in {choice['sections']}"


def _sections_text(choice: Figures) -> str:
    if choice["sections"] == 1:
        return "whole tool"
    return "every row" if choice["is_every_row"] else f"{choice['sections']} sections"


def _amount(by_unit: dict[str, float]) -> str:
    unit, value = next(iter(by_unit.items()))
    return f"{value:,.0f} {unit}" if abs(value) >= 100 else f"{value:,.3g} {unit}"
