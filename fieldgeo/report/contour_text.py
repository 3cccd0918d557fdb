"""Contour passes as lines: beside straight ones, and the grade of each."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fieldgeo.report.lines import direction_text, labelled, or_dash, table

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from fieldgeo.analysis.figures import Figures


def contour_lines(figures: Figures) -> Iterator[str]:
    """Yield contour passes beside straight ones, from `fieldgeo.terrain.contour_figures.contour_figures`.

    Parameters
    ----------
    figures : dict
        From `contour_figures`.
    """
    over = f"over {figures['slope']['row_grade_limit_pct']:.2g} %"
    head = ["", "time", "turns", "twice", "missed", over, "P", "soil"]
    yield from table(head, [_row(each) for each in _shown(figures["beside"])], left=1, indent=0)
    yield "  * laid out here"


def follows_text(figures: Figures) -> str:
    """Return the line that stands for the direction, from `contour_figures`.

    Parameters
    ----------
    figures : dict
        From `contour_figures`.
    """
    keys = figures["key_lines"]
    heights = f"{keys[0]['height_ft']:,.1f} ft ({keys[0]['height_m']:,.1f} m)"
    if len(keys) > 1:
        heights = f"{heights} to {keys[-1]['height_ft']:,.1f} ft ({keys[-1]['height_m']:,.1f} m)"
    return labelled("along contour" if len(keys) == 1 else f"along {len(keys)} contours", heights)


def _shown(rows: Sequence[Figures]) -> list[Figures]:
    """Return straight rows, the chosen contour layout, and the best of those with another number of key lines."""
    chosen = next(each for each in rows if each["is_chosen"])
    others = [each for each in rows if each["is_contour"] and (each["key_lines"] > 1) != (chosen["key_lines"] > 1)]
    return [*(each for each in rows if not each["is_contour"]), chosen, *others[:1]]


def _row(each: Figures) -> list[str]:
    name = f"contour, {each['key_lines']} key line{'s' if each['key_lines'] > 1 else ''}" if each["is_contour"] else (
        direction_text(each["direction_deg"])
    )  # fmt: skip
    return [
        f"{'*' if each['is_chosen'] else ' '} {name}",
        f"{each['field_time_h']:.2f} h",
        f"{each['turns']:,}",
        f"{each['overlap_ac']:.2f} ac",
        f"{each['skip_ac']:.2f} ac",
        f"{or_dash(each['over_row_grade_pct'], '.0f')} %",
        or_dash(each["p_factor"], ".2f"),
        f"{each['soil_pct']:.0f}",
    ]
