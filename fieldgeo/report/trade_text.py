"""The answer of `direction` on sloping ground as lines: what each direction takes in time and loses in soil."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fieldgeo.report.lines import area_text, direction_text, or_dash, table, wrap
from fieldgeo.report.text import tool_text

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fieldgeo.analysis.figures import Figures


def trade_lines(figures: Figures) -> Iterator[str]:
    """Yield the answer from `fieldgeo.terrain.trade_figures.trade_figures`."""
    yield f"{figures['field']}: {area_text(figures['area_m2'])}"
    yield tool_text(figures)
    slope = figures["slope"]
    yield (
        f"slope {slope['slope_pct_median']:.1f} % median, a tenth of the field above {slope['slope_pct_p90']:.1f} %; "
        f"rows held to {slope['row_grade_limit_pct']:.2g} %"
    )
    yield from wrap(_choice_text(figures), indent=2)
    candidates = figures["candidates"]
    over = f"> {slope['row_grade_limit_pct']:.2g} %"
    head = ["   direction", "time", "lost", over, "median", "9 in 10", "soil"]
    yield from table(head, [_row(rank, each) for rank, each in enumerate(candidates, start=1)], left=1, indent=0)
    for rank, each in enumerate(candidates, start=1):
        said = list(each["reasons"])
        if each["is_beaten"]:
            said.append("another is no slower and loses as little soil")
        if said:
            yield from wrap(f"  {rank}: {', '.join(said)}", indent=5)


def _choice_text(figures: Figures) -> str:
    best = figures["candidates"][0]
    where = direction_text(best["direction_deg"])
    if figures["most_grade_pct"] is not None:
        grade = f"{figures['most_grade_pct']:.3g} %"
        if figures["keeps_most_grade"]:
            return f"fastest that keeps rows to {grade} on nine tenths of their length: {where}"
        return (
            f"no direction of the {figures['laid_out']} laid out keeps rows to {grade} on nine tenths of their length; "
            f"nearest: {where}"
        )
    if figures["by"] == "erosion":
        return f"least soil lost {where}"
    kindest = figures["least_soil"]
    if best["direction_deg"] == figures["least_soil_deg"]:
        return f"best direction {where}, by field time and by soil"
    return (
        f"best direction {where}, by field time; {direction_text(figures['least_soil_deg'])} loses "
        f"{_drop(kindest['soil_change_pct'])} soil for {kindest['lost_time_h']:+.2f} h"
    )


def _drop(change_pct: float | None) -> str:
    return "less" if change_pct is None else f"{-change_pct:.0f} % less"


def _row(rank: int, each: Figures) -> list[str]:
    lost = "-" if each["lost_time_h"] < 5e-3 else f"+{each['lost_time_h']:.2f} h"
    share = "" if lost == "-" or each["lost_time_pct"] is None else f" {each['lost_time_pct']:.1f} %"
    return [
        f"{rank:2} {direction_text(each['direction_deg'])}",
        f"{each['field_time_h']:.2f} h",
        f"{lost}{share}",
        f"{or_dash(each['over_row_grade_pct'], '.0f')} %",
        f"{or_dash(each['row_grade_pct_median'], '.1f')} %",
        f"{or_dash(each['row_grade_pct_p90'], '.1f')} %",
        f"{each['soil_pct']:.0f}",
    ]
