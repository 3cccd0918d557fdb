"""The dictionary of one direction for the season: each tool, what it loses, and the directions that were tried."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from fieldgeo.analysis.figures import area_figures, direction_figures, length_figures, plan_figures
from fieldgeo.analysis.match import lays_rows
from fieldgeo.units import HOUR_S, INCH_M

if TYPE_CHECKING:
    from fieldgeo.analysis.figures import Figures
    from fieldgeo.analysis.match import RowMatch
    from fieldgeo.analysis.season_direction import SeasonDirection, ToolInSeason
    from fieldgeo.analysis.shared_rows import RowsLaid

_SUMMED_OVER_TOOLS: Final = (
    "passes", "turns", "swept_m2", "overlap_m2", "overlap_ac", "skip_m2", "skip_ac", "spill_m2", "spill_ac",
    "field_time_h",
)  # fmt: skip
_OF_A_RUN: Final = (
    "passes", "turns", "headland_rounds", "sides", "overlap_m2", "overlap_ac", "skip_m2", "skip_ac", "spill_m2",
    "spill_ac",
)  # fmt: skip


def season_direction_figures(season: SeasonDirection) -> Figures:
    """Return the directions of all tools over a season, and the search of each tool by itself.

    Parameters
    ----------
    season : SeasonDirection
        From `season_direction`.

    Returns
    -------
    dict
        `best_deg` is the direction of the rows, None where no tool is on rows; `candidates` are the directions of the
        rows that were laid out, best first, each with the figures of all tools over the season. `season` has one entry
        a tool: `field_time_h` is that of all its runs, `own_best_time_h` that of as many runs in its own best, `loss`
        what `score` is above `own_best_score`. `score` is in seconds, passes, square metres or money, by `by`. No
        shared direction that was laid out is below `own_best_score`. `is_layer_assumed` says that the tool by which the
        rows are laid is no planter, drill or seeder. `by_tool` holds `direction_figures` of each.
    """
    by_tool = [direction_figures(each.search, by=season.by) for each in season.tools]
    headland, gap = season.headland, season.score - season.own_score
    return {
        "field": by_tool[0]["field"],
        **area_figures("area", by_tool[0]["area_m2"]),
        "by": season.by,
        "tools": [figures["tool"] for figures in by_tool],
        "best_deg": None if season.direction_deg is None else float(season.direction_deg),
        "rows_laid_by": season.layer,
        "is_layer_assumed": any(each.tool.name == season.layer and not lays_rows(each.tool) for each in season.tools),
        "headland": None if headland is None else {
            "rounds": headland.rounds,
            **length_figures("depth", headland.depth_m),
            **length_figures("needed", headland.needed_m),
            "needed_by": headland.needed_by,
        },
        "season": [_tool(each, season) for each in season.tools],
        "field_time_h": sum(each.times * each.plan.field_time_s for each in season.tools) / HOUR_S,
        "own_best_time_h": sum(each.times * each.own.plan.field_time_s for each in season.tools) / HOUR_S,
        "score": float(season.score),
        "own_best_score": float(season.own_score),
        "gap": float(gap),
        "gap_pct": _percent(gap, season.own_score),
        "candidates": [_choice(choice, season) for choice in season.choices],
        "by_tool": by_tool,
    }  # fmt: skip


def _tool(each: ToolInSeason, season: SeasonDirection) -> Figures:
    run = plan_figures(each.plan)
    is_layer = each.tool.name == season.layer
    return {
        "tool": each.tool.name,
        "kind": each.tool.kind or None,
        "times": each.times,
        "is_on_rows": each.is_on_rows,
        "direction_deg": float(each.plan.layout.direction_deg),
        "run": {key: run[key] for key in _OF_A_RUN} | {"field_time_h": run["field_time_h"]},
        "field_time_h": each.times * each.plan.field_time_s / HOUR_S,
        "score": float(each.times * each.score),
        "own_best_deg": float(each.own.direction_deg),
        "own_best_time_h": each.times * each.own.plan.field_time_s / HOUR_S,
        "own_best_score": float(each.times * each.own.score),
        "loss": float(each.loss),
        "loss_pct": _percent(each.loss, each.times * each.own.score),
        "guess_row_passes": each.straddling,
        "fits_rows": True if is_layer else None if each.match is None else each.match.fits,
        "misfit": None if is_layer or season.headland is None else _misfit(each),
    }


def _choice(choice: RowsLaid, season: SeasonDirection) -> Figures:
    """Return the figures of all tools over the season, with the rows in one direction."""
    plans = {plan.tool.name: plan for plan in choice.plans}
    runs = [(each, plan_figures(plans.get(each.tool.name, each.plan))) for each in season.tools]
    of_rows = season.choices[0].score
    return {
        "direction_deg": float(choice.direction_deg),
        **{key: sum(each.times * run[key] for each, run in runs) for key in _SUMMED_OVER_TOOLS},
        "score": float(season.score + choice.score - of_rows),
        "extra_score": float(choice.score - of_rows),
    }


def _misfit(each: ToolInSeason) -> str | None:
    """Return why a tool on rows does not fit them, in a grower's words; None where it fits or is on none."""
    if not each.is_on_rows or (each.match is not None and each.match.fits):
        return None
    if lays_rows(each.tool):
        return "it lays rows of its own"
    return None if each.match is None else _why(each.match)


def _why(match: RowMatch) -> str:
    first, second = match.first, match.second
    if match.meeting == "other spacing":
        return f"its rows are {_inches(second.row_spacing_m)} apart, those planted {_inches(first.row_spacing_m)}"
    if match.pattern is not None and not match.pattern.is_clear:
        return f"{second.rows} rows do not divide {first.rows}, so that passes straddle guess rows"
    if match.wheels is not None:
        return "its wheels come onto rows"
    return "its width is no whole number of rows" if match.meeting == "boom" else "its units run too far off the rows"


def _inches(length_m: float | None) -> str:
    return f"{(length_m or 0.0) / INCH_M:.4g} in"


def _percent(part: float, whole: float) -> float:
    return 100.0 * part / whole if whole > 0 else 0.0
