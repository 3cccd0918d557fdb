"""The answer of `direction` for several tools as lines."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from fieldgeo.report.lines import area_text, count_text, direction_text, or_dash, table, wrap
from fieldgeo.report.text import CRITERIA_WORDS, RANK_HEAD, rank_row
from fieldgeo.units import to_acres

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fieldgeo.analysis.figures import Figures

_NAME_COLUMNS: Final = 25  # that the name of a tool has
_HEAD: Final = ["tool", "deg", "runs", "field time", "own best", "loss", ""]
_OTHER_HEADS: Final = {"passes": "passes", "overlap": "twice", "cost": "cost"}


def season_lines(figures: Figures) -> Iterator[str]:
    """Yield the answer for several tools from `season_direction_figures`."""
    by = figures["by"]
    on_rows = [each for each in figures["season"] if each["is_on_rows"]]
    yield f"{figures['field']}: {area_text(figures['area_m2'])}"
    if figures["best_deg"] is None:
        yield f"no tool is on rows: each in its own best direction, by {CRITERIA_WORDS[by]}"
    else:
        whose = f"the rows of {count_text(len(on_rows), 'tool')}" if len(on_rows) > 1 else "the rows"
        yield f"{_kind_of_best(figures)} for {whose}: {direction_text(figures['best_deg'])}, by {CRITERIA_WORDS[by]}"
    slope = figures.get("slope")
    if slope is not None:
        yield (
            f"  slope {slope['slope_pct_median']:.1f} % median, a tenth of the field above "
            f"{slope['slope_pct_p90']:.1f} %; rows held to {slope['row_grade_limit_pct']:.2g} %"
        )
        yield from wrap(f"  {_slope_text(figures)}", indent=4)
    if figures["headland"]:
        yield from wrap(_headland_text(figures), indent=4)
    yield from table(_head(by), [_row(each, by) for each in figures["season"]], left=1)
    yield from wrap(_gap_text(figures), indent=4)
    for each in on_rows:
        if each["misfit"]:
            yield from wrap(f"  {each['tool']} does not fit the rows: {_misfit_text(each)}", indent=4)
    if len(figures["candidates"]) > 1:
        yield f"  directions of the rows, {count_text(_runs(figures), 'run')} of all tools together:"
        row = rank_row if slope is None else _slope_row
        rows = [row(rank, each) for rank, each in enumerate(figures["candidates"], start=1)]
        yield from table(RANK_HEAD if slope is None else _slope_head(slope), rows, left=1)


def season_notes(figures: Figures) -> Iterator[str]:
    """Yield what a grower should know beside that answer, from `season_direction_figures`."""
    free = [each["tool"] for each in figures["season"] if not each["is_on_rows"]]
    if figures["best_deg"] is None:
        yield "note: no tool has rows, and none is a sprayer; --on-rows NAME ties tools to one direction and its rows."
    if figures["headland"] and figures["is_layer_assumed"]:
        yield f"note: no planter or drill among the tools: rows are taken to be laid as {figures['rows_laid_by']} goes."
    if figures["headland"] and free:
        yield f"note: free of the rows: {', '.join(free)}; --on-rows NAME ties a tool to them, --free NAME frees one."
    if figures["headland"]:
        yield (
            "note: rows begin at the same edge for all tools on rows; the headland of a tool of another width takes "
            "as many of its own rounds as cover those end rows."
        )
    if figures.get("slope") is not None:
        yield (
            "note: soil is what is lost on the rows, all rows straight up and down the slope = 100; slopes are those "
            f"along the rows of {figures['rows_laid_by']}."
        )
    if figures["by"] == "cost":
        yield "note: --input-cost is counted for planters, drills, sprayers and spreaders only, and for typed tools."


def _headland_text(figures: Figures) -> str:
    headland = figures["headland"]
    depth = f"{headland['depth_ft']:.0f} ft ({headland['depth_m']:.1f} m)"
    need = f"{headland['needed_ft']:.0f} ft ({headland['needed_m']:.1f} m)"
    if not headland["rounds"]:
        return f"  straight through, no end rows; {headland['needed_by']} needs {need} to turn"
    rounds = count_text(headland["rounds"], "round")
    return (
        f"  end rows: {rounds} of {figures['rows_laid_by']}, {depth} deep; {headland['needed_by']} needs {need} to turn"
    )


def _kind_of_best(figures: Figures) -> str:
    return "best direction within the row grade" if figures.get("keeps_most_grade") else "best direction"


def _slope_text(figures: Figures) -> str:
    """Return what the slope has to say to the direction chosen."""
    chosen, *others = figures["candidates"]
    if figures["keeps_most_grade"] is False:
        grade = f"{figures['most_grade_pct']:.3g} %"
        return f"no direction laid out keeps rows to {grade} on nine tenths of their length; this comes nearest"
    if figures["keeps_most_grade"]:
        return f"it keeps rows to {figures['most_grade_pct']:.3g} % on nine tenths of their length"
    kinder = [each for each in others if each["soil_pct"] < chosen["soil_pct"] - 1]
    if not kinder:
        return "no direction listed loses less soil"
    kindest = min(kinder, key=lambda each: float(each["soil_pct"]))
    less = 100 * (1 - kindest["soil_pct"] / chosen["soil_pct"])
    lost_h = kindest["field_time_h"] - chosen["field_time_h"]
    return f"{direction_text(kindest['direction_deg'])} loses {less:.0f} % less soil for {lost_h:+.2f} h"


def _slope_head(slope: Figures) -> list[str]:
    over = f"over {slope['row_grade_limit_pct']:.2g} %"
    return ["   direction", "passes", "field time", "lost", over, "9 in 10", "soil"]


def _slope_row(rank: int, each: Figures) -> list[str]:
    over, p90 = each["over_row_grade_pct"], each["row_grade_pct_p90"]
    return [
        f"{rank:2} {direction_text(each['direction_deg'])}",
        f"{each['passes']:,}",
        f"{each['field_time_h']:.2f} h",
        f"{each['lost_time_h']:+.2f} h" if each["lost_time_h"] >= 5e-3 else "-",
        f"{or_dash(over, '.0f')} %",
        f"{or_dash(p90, '.1f')} %",
        f"{each['soil_pct']:.0f}",
    ]


def _head(by: str) -> list[str]:
    return _HEAD if by == "time" else [*_HEAD[:4], _OTHER_HEADS[by], *_HEAD[4:]]


def _row(each: Figures, by: str) -> list[str]:
    name = each["tool"]
    scores = [] if by == "time" else [_amount(each["score"], by)]
    return [
        name if len(name) <= _NAME_COLUMNS else name[: _NAME_COLUMNS - 3] + "...",
        f"{round(each['direction_deg'], 1) % 180:.1f}",
        f"{each['times']}",
        f"{each['field_time_h']:.2f} h",
        *scores,
        _amount(each["own_best_score"], by),
        f"{each['loss'] / 60:.1f} min" if by == "time" else _amount(each["loss"], by),
        f"{each['loss_pct']:.1f} %",
    ]


def _gap_text(figures: Figures) -> str:
    by, gap = figures["by"], f"{figures['gap_pct']:.1f} %"
    total, own = _amount(figures["score"], by), _amount(figures["own_best_score"], by)
    if figures["headland"] is None:
        return f"  all runs together {total}; nothing is shared, so nothing is lost"
    return (
        f"  all runs together {total}; every tool in its own best, as found, {own}: a lower bound, and a gap of {gap}"
    )


def _misfit_text(each: Figures) -> str:
    here = each["guess_row_passes"]
    over = f"; {here:,} of {each['run']['passes']:,} passes here straddle a guess row" if here else ""
    return f"{each['misfit']}{over}; counted all the same"


def _amount(score: float, by: str) -> str:
    if by == "time":
        return f"{score / 3600:.2f} h"
    return f"{to_acres(score):.2f} ac" if by == "overlap" else f"{score:,.0f}" if by == "passes" else f"{score:,.2f}"


def _runs(figures: Figures) -> int:
    return sum(each["times"] for each in figures["season"])
