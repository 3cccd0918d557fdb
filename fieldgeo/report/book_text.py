"""The answer of `book` as lines."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fieldgeo.outline.files.geojson import plain_name
from fieldgeo.report.lines import area_text, count_text, or_dash, percent_text, table

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fieldgeo.analysis.figures import Figures


def book_lines(figures: Figures) -> Iterator[str]:
    """Yield what a book holds, from the figures of `fieldgeo.report.book.make.make_book`."""
    farm = plain_name(figures["farm"]) or "The farm"
    yield f"{farm}: {count_text(len(figures['fields']), 'field')}, {area_text(figures['area_m2'])}"
    rows = [
        [
            plain_name(tool["tool"]), f"{tool['fields']}", f"{tool['area_ac']:,.0f}", f"{tool['field_time_h']:,.1f}",
            or_dash(tool["effective_ac_h"], ".1f"), percent_text(tool["field_efficiency"]),
        ]
        for tool in figures["tools"]
    ]  # fmt: skip
    yield from table(["tool", "fields", "ac", "h", "ac/h", "eff."], rows, left=1)
    refused = [
        f"  {plain_name(field['field'])}: {plain_name(row['refusal'])}"
        for field in figures["fields"]
        for row in field["tools"]
        if row["refusal"]
    ]
    yield from refused
