"""The answer of `match` as lines: under each tool that lays rows, the tools that follow them."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING

from fieldgeo.report.lines import wrap
from fieldgeo.units import INCH_M

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fieldgeo.analysis.figures import Figures


def match_lines(figures: Figures) -> Iterator[str]:
    """Yield the answer of `match` from `match_figures`."""
    if figures["farm"]:
        yield figures["farm"]
    for first, group in groupby(figures["pairs"], key=lambda pair: pair["first"]):
        pairs = list(group)
        spacing_in = pairs[0]["first_row_spacing_m"] / INCH_M
        rows = f"{pairs[0]['first_rows']} at {spacing_in:.4g} in, {pairs[0]['first_pass_ft']:.4g} ft a pass"
        yield f"rows of {first}: {rows}"
        for pair in pairs:
            period_ft = pair["period_ft"]
            repeats = "" if period_ft is None else f", repeats every {period_ft:,.5g} ft ({pair['period_m']:,.5g} m)"
            yield f"  {'fits' if pair['fits'] else 'no fit':<8}{pair['second']}{repeats}"
            for reason in pair["reasons"]:
                yield from wrap(f"{'':10}{reason}", indent=12)


def match_notes(figures: Figures) -> Iterator[str]:
    """Yield what a grower should know beside the answer of `match`, from `match_figures`."""
    for note in figures["notes"]:
        yield f"note: {note}."
    yield (
        f"note: a unit may run {figures['tolerance_in']:.3g} in off its row"
        + (" (common practice, no source)" if figures["is_tolerance_assumed"] else "")
        + "."
    )
