"""Figures as text for a terminal of 80 columns: areas, lengths, directions, labelled lines, tables."""

from __future__ import annotations

import textwrap
from math import floor
from typing import TYPE_CHECKING, Final

from fieldgeo.units import ACRE_M2, FOOT_M, HECTARE_M2, MILE_M

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

# Ways a person says a direction: passes run both ways along it.
_WINDS: Final = ("N-S", "NNE-SSW", "NE-SW", "ENE-WSW", "E-W", "ESE-WNW", "SE-NW", "SSE-NNW")
# States of a time line, and what a grower calls them.
STATE_WORDS: Final = {
    "passes": "passes",
    "headland_rounds": "end rows",
    "turning": "turns",
    "lifting": "lifting",
    "travel": "travel",
    "filling": "filling",
    "unloading": "unloading",
    "adjusting": "adjusting",
    "stops": "stops",
}
COLUMNS: Final = 80
_LABEL_COLUMNS: Final = 18  # columns of a label
_FIGURE_COLUMNS: Final = 9  # columns of the first figure of a line


def area_text(area_m2: float, *, digits: int = 2) -> str:
    """Return an area in acres with hectares beside it.

    Examples
    --------
    >>> area_text(161874.256896)
    '40.00 ac (16.19 ha)'
    """
    return f"{area_m2 / ACRE_M2:,.{digits}f} ac ({area_m2 / HECTARE_M2:,.{digits}f} ha)"


def length_text(length_m: float) -> str:
    """Return a length in feet, or in miles from two miles up, with metres or kilometres beside it.

    Examples
    --------
    >>> length_text(804.672), length_text(8046.72)
    ('2,640 ft (805 m)', '5.0 mi (8.0 km)')
    """
    if length_m >= 2 * MILE_M:
        return f"{length_m / MILE_M:,.1f} mi ({length_m / 1000:,.1f} km)"
    return f"{length_m / FOOT_M:,.0f} ft ({length_m:,.0f} m)"


def direction_text(direction_deg: float) -> str:
    """Return an azimuth of passes in degrees, with the winds it lies between.

    Examples
    --------
    >>> direction_text(0.0), direction_text(91.25)
    ('0.0 deg (N-S)', '91.2 deg (E-W)')
    """
    shown = round(direction_deg, 1) % 180
    return f"{shown:.1f} deg ({_WINDS[floor(shown / 22.5 + 0.5) % 8]})"


def wrap(text: str, *, indent: int, columns: int = COLUMNS) -> list[str]:
    """Return a text in lines of `COLUMNS` at most, or fewer; all but the first are indented."""
    return textwrap.wrap(text, columns, subsequent_indent=" " * indent, break_long_words=False, break_on_hyphens=False)


def table(head: Sequence[str], rows: Sequence[Sequence[str]], *, left: int, indent: int = 2) -> Iterator[str]:
    """Yield the lines of a table, columns as wide as they need to be.

    Parameters
    ----------
    head : sequence of str
        Names of the columns.
    rows : sequence of sequence of str
        Cells.
    left : int
        So many columns stand to the left, the others to the right.
    indent : int
        Spaces before each line.
    """
    widths = [max(map(len, column)) for column in zip(head, *rows, strict=True)]
    for cells in (head, *rows):
        aligned = [f"{cell:{'<' if at < left else '>'}{widths[at]}}" for at, cell in enumerate(cells)]
        yield " " * indent + "  ".join(aligned).rstrip()


def labelled(label: str, text: str) -> str:
    """Return a line of an answer: a label in its column, and a text."""
    return f"  {label:<{_LABEL_COLUMNS}}{text}"


def labelled_figure(label: str, figure: str, beside: str = "") -> str:
    """Return a line with a figure to the right of its column, and what stands beside it."""
    return f"  {label:<{_LABEL_COLUMNS}}{figure:>{_FIGURE_COLUMNS}}  {beside}".rstrip()


def labelled_figure_wrapped(label: str, figure: str, beside: str) -> list[str]:
    """Return a line with a figure, and what stands beside it in lines of its own column where it is long."""
    first = f"  {label:<{_LABEL_COLUMNS}}{figure:>{_FIGURE_COLUMNS}}  "
    return textwrap.wrap(
        beside, COLUMNS, initial_indent=first, subsequent_indent=" " * len(first), break_long_words=False,
        break_on_hyphens=False,
    ) or [first.rstrip()]  # fmt: skip


def labelled_wrapped(label: str, text: str) -> list[str]:
    """Return a label and a text of several lines, all of them in the column of the text."""
    first = f"  {label:<{_LABEL_COLUMNS}}"
    return textwrap.wrap(
        text, COLUMNS, initial_indent=first, subsequent_indent=" " * len(first), break_long_words=False,
        break_on_hyphens=False,
    ) or [first.rstrip()]  # fmt: skip


def count_text(number: int, what: str) -> str:
    """Return how many of what: "1 pass", "3 passes", "no passes"."""
    plural = f"{what}es" if what.endswith("ss") else f"{what}s"
    return f"{number:,} {what if number == 1 else plural}" if number else f"no {plural}"


def percent_text(share: float | None) -> str:
    """Return a share as per cent, a dash for none."""
    return "-" if share is None else f"{100 * share:.1f} %"


def or_dash(value: float | None, form: str) -> str:
    """Return a value in a form, a dash for none."""
    return "-" if value is None else format(value, form)
