"""The answer of `slope` as lines."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fieldgeo.report.lines import area_text, direction_text, labelled, labelled_figure, or_dash
from fieldgeo.report.text import tool_text

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fieldgeo.analysis.figures import Figures


def slope_lines(figures: Figures) -> Iterator[str]:
    """Yield the answer of `slope` from `slope_figures`."""
    yield f"{figures['field']}: {area_text(figures['area_m2'])}"
    yield tool_text(figures)
    yield labelled("direction", f"{direction_text(figures['direction_deg'])}, {figures['passes']:,} passes")
    yield labelled_figure(
        "slope, median",
        f"{figures['slope_pct_median']:.1f} %",
        f"a tenth of the field is above {figures['slope_pct_p90']:.1f} %",
    )
    for name in ("along", "across"):
        median, most = (or_dash(figures[f"{name}_pct_{which}"], ".1f") for which in ("median", "p90"))
        steepest = figures[f"steepest_{name}"]
        where = "" if steepest is None else f"; worst {steepest['pct']:.1f} %, {steepest['where']}"
        yield labelled_figure(f"{name} the passes", f"{median} %", f"over {most} % on a tenth{where}")
    yield labelled_figure(
        "rows over grade",
        f"{or_dash(figures['over_row_grade_pct'], '.0f')} %",
        f"of their length runs at more than {figures['row_grade_limit_pct']:.2g} % grade",
    )
    yield labelled_figure("erosion factor", or_dash(figures["p_factor"], ".2f"), _factors_text(figures))
    if figures["over_side_limit"] is not None:
        yield labelled_figure("over side limit", *_side_text(figures))


def _factors_text(figures: Figures) -> str:
    recalled = " (recalled)" if figures["p_source"]["is_recalled"] else ""
    return f"contour {figures['p_contour']:.2f}, contour strips {figures['p_contour_strips']:.2f}{recalled}"


def _side_text(figures: Figures) -> tuple[str, str]:
    over = figures["over_side_limit"]
    share = or_dash(over["share_pct"], ".1f")
    named = [f"pass {number}" for number in over["passes"]]
    named += [f"headland {number}" for number in over["headland_rounds"]]
    places = "" if not named else f": {named[0]}" + (f" and {len(named) - 1} more" if len(named) > 1 else "")
    return f"{share} %", f"of the way is over {figures['side_limit_pct']:.3g} %{places}"


def side_slope_cautions(figures: Figures) -> Iterator[str]:
    """Yield the cautions that belong to side slopes; no limit is given that the operator's manual does not."""
    if figures["side_limit_pct"] is None:
        yield (
            "caution: no slope here is called safe. How steep a side hill a machine may work on stands in its "
            "operator's manual; --side-limit holds it against the passes."
        )
    else:
        yield (
            "caution: the limit is the one you gave; no slope here is called safe. Holes, speed and load tip a machine "
            "on less."
        )
    yield "caution: keep the rollover bar up and the seat belt on; slow down on turns, slopes and near ditches."
