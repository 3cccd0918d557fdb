"""The dictionary of contour passes: the layouts tried, beside straight passes."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from fieldgeo.terrain.contour_passes import MOST_MISSED, MOST_SLOPE_LENGTH_M, SEVERAL_WORTH
from fieldgeo.terrain.measure import rows_factor
from fieldgeo.terrain.trade import KEPT_SHARE
from fieldgeo.terrain.trade_figures import ground_figures, rough_notes, smoothed_figures
from fieldgeo.units import HOUR_S, to_acres, to_feet

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fieldgeo.analysis.figures import Figures
    from fieldgeo.terrain.contour_passes import ContourLayout, ContourSearch
    from fieldgeo.terrain.measure import FieldSlopes
    from fieldgeo.terrain.trade import SlopeTrade


def contour_figures(search: ContourSearch, trade: SlopeTrade) -> Figures:
    """Return what contour passes take and lose, beside straight passes.

    Parameters
    ----------
    search : ContourSearch
        Contour layouts of one tool on one field.
    trade : SlopeTrade
        Straight passes of the same tool on the same ground.

    Returns
    -------
    dict
        `beside` has the fastest straight layout, the straight one that loses least soil, and the contour layouts, the
        chosen one marked; `lost_time_h` and `soil_change_pct` are against the first. `passes` has the row grade of each
        pass of the chosen one.
    """
    fastest = layout_figures(trade.fastest.slopes, "straight, fastest")
    kindest = trade.kindest
    rows = [fastest]
    if kindest is not trade.fastest:
        rows.append(layout_figures(kindest.slopes, "straight, least soil"))
    rows += [_contour_row(each, is_chosen=each is search.best) for each in search.layouts]
    for row in rows:
        row["turning_change_pct"] = _change_pct(row["turning_h"], fastest["turning_h"])
        row["lost_time_h"] = row["field_time_h"] - fastest["field_time_h"]
        row["soil_change_pct"] = _change_pct(row["soil_pct"], fastest["soil_pct"])
    best = search.best
    return {
        "key_lines": [
            {
                "height_m": key.height_m,
                "height_ft": to_feet(key.height_m),
                "smoothed_m": key.smooth_m,
                "smoothed_ft": to_feet(key.smooth_m),
            }
            for key in best.keys
        ],
        "least_radius_m": best.plan.layout.passes.least_radius_m,
        "least_radius_ft": to_feet(best.plan.layout.passes.least_radius_m),
        "key_deviation_m": best.plan.layout.passes.key_deviation_m,
        "odd_m2": best.odd_m2,
        "odd_ac": to_acres(best.odd_m2),
        "left_in_bends_m2": best.plan.left_in_bends_m2,
        "slope_length_m": search.slope_length_m,
        "slope_length_ft": to_feet(search.slope_length_m),
        "most_slope_length_ft": to_feet(MOST_SLOPE_LENGTH_M),
        "contours_tried": search.contours_tried,
        "layouts_tried": len(search.layouts),
        "passed_over": search.passed_over,
        "most_missed_pct": 100 * MOST_MISSED,
        "slope": ground_figures(trade.fastest),
        "least_soil_when_smoothed": smoothed_figures(trade),
        "beside": rows,
        "passes": _pass_rows(best.slopes),
    }


def _contour_row(layout: ContourLayout, *, is_chosen: bool) -> Figures:
    count = len(layout.keys)
    name = f"contour, {count} key lines" if count > 1 else f"contour at {to_feet(layout.keys[0].height_m):,.0f} ft"
    return layout_figures(layout.slopes, name) | {
        "is_chosen": is_chosen,
        "key_lines": count,
        "odd_m2": layout.odd_m2,
        "smoothed_m": layout.keys[0].smooth_m,
    }


def layout_figures(slopes: FieldSlopes, name: str) -> Figures:
    """Return what a layout takes in time and loses in soil.

    Parameters
    ----------
    slopes : FieldSlopes
        A plan measured on the ground.
    name : str
        What it is called.
    """
    plan, coverage = slopes.plan, slopes.plan.coverage
    soil = rows_factor(slopes.lines)
    return {
        "name": name,
        "is_contour": name.startswith("contour"),
        "is_chosen": False,
        "direction_deg": float(plan.layout.direction_deg),
        "passes": len(plan.layout.passes),
        "turns": len(plan.route.turns()),
        "field_time_h": plan.field_time_s / HOUR_S,
        "turning_h": plan.timeline.by_state_s()["turning"] / HOUR_S,
        "overlap_m2": coverage.overlap_m2,
        "overlap_ac": to_acres(coverage.overlap_m2),
        "skip_m2": coverage.skip_m2,
        "skip_ac": to_acres(coverage.skip_m2),
        "over_row_grade_pct": _per_cent(slopes.share_over("along", slopes.row_grade)),
        "row_grade_pct_median": _per_cent(slopes.grade_quantile("along", 0.5)),
        "row_grade_pct_p90": _per_cent(slopes.grade_quantile("along", KEPT_SHARE)),
        "p_factor": slopes.p_factor,
        "soil_pct": 100.0 if soil is None else 100 * soil,
    }


def _pass_rows(slopes: FieldSlopes) -> list[Figures]:
    from fieldgeo.terrain.figures import line_figures

    return [line_figures(slopes, each) for each in slopes.passes]


def contour_notes(figures: Figures) -> Iterator[str]:
    """Yield what should be known of contour passes, from `contour_figures`.

    Parameters
    ----------
    figures : dict
        From `contour_figures`.
    """
    key, slope = figures["key_lines"][0], figures["slope"]
    yield (
        f"note: key line from heights smoothed to {key['smoothed_ft']:,.0f} ft, no pass tighter than "
        f"{figures['least_radius_ft']:.0f} ft; best of {figures['contours_tried']} contours by an estimate and of "
        f"{figures['layouts_tried']} layouts measured: least soil, the fastest within a point of it, with no more than "
        f"{figures['most_missed_pct']:.0f} % missed where there is one; several key lines if they save "
        f"{100 * SEVERAL_WORTH:.0f} points more, or where --key-lines asks for them."
    )
    if figures["passed_over"]:
        yield f"note: {figures['passed_over']} layouts were passed over: their contours wind back too sharply."
    if figures["slope_length_m"] > MOST_SLOPE_LENGTH_M:
        most = max(row.get("key_lines", 0) for row in figures["beside"])
        yield (
            f"note: across the key line the field is {figures['slope_length_ft']:,.0f} ft; NRCS Conservation Practice "
            f"Standard 330 wants another key line where a slope is longer than {figures['most_slope_length_ft']:.0f} "
            f"ft: {f'a layout with {most} of them is in the table' if most > 1 else _NOT_LAID}."
        )
    if figures["odd_m2"] > 0:
        yield (
            f"note: {figures['odd_ac']:.2f} ac ({figures['odd_m2']:,.0f} m2) between key lines is odd ground that "
            "whole passes do not fill; it is worked in point rows."
        )
    yield from rough_notes(figures["least_soil_when_smoothed"])
    chosen = next(row for row in figures["beside"] if row["is_chosen"])
    yield (
        f"note: against the fastest straight passes: turning {_signed(chosen['turning_change_pct'])}, soil "
        f"{_signed(chosen['soil_change_pct'])}. Published for slope-aware passes against a flat plan, on other fields: "
        f"{PUBLISHED}."
    )
    yield (
        "note: soil is what is lost on passes and end rows, the same rows straight up and down lose 100: support "
        f"practice factor ({slope['p_source']}{', recalled, not read' if slope['is_p_recalled'] else ''})."
    )


def _change_pct(value: float, first: float) -> float | None:
    return 100 * (value / first - 1) if first > 0 else None


def _signed(change_pct: float | None) -> str:
    return "-" if change_pct is None else f"{change_pct:+.0f} %"


# Means over the test fields: Iowa State University, "Optimal coverage path planning on 3D terrain", 2010-2011 (read).
PUBLISHED: Final = (
    "turning -10.3 %, erosion -24.7 %, skipped ground -81.2 %, weighted sum -22.0 % (Iowa State University, Optimal "
    "coverage path planning on 3D terrain, 2010-2011)"
)
_NOT_LAID: Final = "no other contour leads across that keeps clear of the first"


def _per_cent(share: float | None) -> float | None:
    return None if share is None else 100 * share
