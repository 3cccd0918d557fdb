"""The dictionary of a season on sloping ground."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fieldgeo.analysis.season_figures import season_direction_figures
from fieldgeo.terrain.trade import KEPT_SHARE

if TYPE_CHECKING:
    from fieldgeo.analysis.figures import Figures
    from fieldgeo.terrain.season_slope import SeasonOnSlope


def season_slope_figures(on_slope: SeasonOnSlope) -> Figures:
    """Return the figures of a season, and of its rows on the slope.

    Parameters
    ----------
    on_slope : SeasonOnSlope
        From `season_on_slope`.

    Returns
    -------
    dict
        As `season_direction_figures`; each candidate has row grades besides, `p_factor`, and `soil_pct`: soil lost on
        the rows and end rows of the tool that lays them, all rows straight up and down = 100. `lost_time_h` is field
        time of the season beyond the fastest of the candidates.
    """
    figures = season_direction_figures(on_slope.season)
    fastest_h = min((each["field_time_h"] for each in figures["candidates"]), default=0.0)
    for number, (candidate, slopes) in enumerate(zip(figures["candidates"], on_slope.slopes, strict=True)):
        candidate |= {
            "row_grade_pct_median": _per_cent(slopes.grade_quantile("along", 0.5)),
            "row_grade_pct_p90": _per_cent(slopes.grade_quantile("along", KEPT_SHARE)),
            "over_row_grade_pct": _per_cent(slopes.share_over("along", slopes.row_grade)),
            "p_factor": slopes.p_factor,
            "soil_pct": 100 * on_slope.soil(number),
            "lost_time_h": candidate["field_time_h"] - fastest_h,
        }
    first = on_slope.slopes[0] if on_slope.slopes else None
    return figures | {
        "most_grade_pct": None if on_slope.most_grade is None else 100 * on_slope.most_grade,
        "keeps_most_grade": on_slope.is_kept,
        "slope": None if first is None else {
            "slope_pct_median": 100 * first.median,
            "slope_pct_p90": 100 * first.p90,
            "row_grade_limit_pct": 100 * first.row_grade,
            "is_row_grade_given": first.rules.row_grade is not None,
        },
    }  # fmt: skip


def _per_cent(share: float | None) -> float | None:
    return None if share is None else 100 * share
