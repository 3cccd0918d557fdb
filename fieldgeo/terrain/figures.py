"""The dictionary of `slope`: the ground, along and across the passes, the steepest stretches, erosion."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from fieldgeo.analysis.figures import tool_figures
from fieldgeo.layout.axes import distances_along
from fieldgeo.terrain.erosion import MOST_ROW_CROP_SLOPE, PUBLISHED_FROM_PCT, PUBLISHED_TO_PCT, SOURCES, table_row
from fieldgeo.terrain.ground import slope_terrain
from fieldgeo.terrain.lines import weighted_quantile
from fieldgeo.terrain.measure import field_points, share_over
from fieldgeo.units import to_acres, to_feet

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fieldgeo.analysis.figures import Figures
    from fieldgeo.terrain.lines import LineSlopes, Stretch
    from fieldgeo.terrain.measure import FieldSlopes
    from fieldgeo.terrain.raster import Heights

ROUGH_SHARE: Final = 0.2  # own choice: so much less slope under wider smoothing is told
ROUGH_WIDTHS: Final = 3  # how much wider
_RIM_WORTH_SAYING: Final = 0.01
FEW_CELLS: Final = 50  # own choice: fewer on a field are too coarse for its slopes


def slope_figures(slopes: FieldSlopes) -> Figures:
    """Return every figure of the slope of a field and of what is driven on it.

    Parameters
    ----------
    slopes : FieldSlopes
        Slope of a field and of a plan on it.
    """
    field, heights = slopes.plan.field, slopes.ground.heights
    return {
        "field": field.name,
        "area_m2": field.area_m2,
        "area_ac": to_acres(field.area_m2),
        **tool_figures(slopes.plan.tool),
        "direction_deg": slopes.plan.layout.direction_deg,
        "passes": len(slopes.plan.layout.passes),
        "slope_pct_median": 100 * slopes.median,
        "slope_pct_p90": 100 * slopes.p90,
        "slope_pct_max": 100 * slopes.greatest,
        "over_row_crop_slope_pct": 100 * slopes.too_steep,
        "slope_deg_median": _degrees(slopes.median),
        "along_pct_median": _per_cent(slopes.grade_quantile("along", 0.5)),
        "along_pct_p90": _per_cent(slopes.grade_quantile("along", 0.9)),
        "across_pct_median": _per_cent(slopes.grade_quantile("across", 0.5)),
        "across_pct_p90": _per_cent(slopes.grade_quantile("across", 0.9)),
        "headland_along_pct_p90": _per_cent(slopes.grade_quantile("along", 0.9, kind="headland")),
        "headland_across_pct_p90": _per_cent(slopes.grade_quantile("across", 0.9, kind="headland")),
        "steepest_along": _stretch_figures(slopes, slopes.steepest("along")),
        "steepest_across": _stretch_figures(slopes, slopes.steepest("across")),
        "row_grade_limit_pct": 100 * slopes.row_grade,
        "is_row_grade_given": slopes.rules.row_grade is not None,
        "over_row_grade_pct": _per_cent(slopes.share_over("along", slopes.row_grade)),
        "side_limit_pct": _per_cent(slopes.rules.side_limit),
        "over_side_limit": None if slopes.rules.side_limit is None else _over_side(slopes, slopes.rules.side_limit),
        "p_factor": slopes.p_factor,
        "p_up_and_down": slopes.practice["up and down"],
        "p_contour": slopes.practice["contour"],
        "p_contour_strips": slopes.practice["contour strips"],
        "p_source": _source(slopes),
        "covered_pct": 100 * slopes.covered,
        "rim_pct": 100 * slopes.rim,
        "raster": {
            "crs": heights.crs_name,
            "cell_m": list(heights.raster_cell_m),
            "used_cell_m": list(heights.cell_m),
            "height_unit_m": heights.unit_m,
            "is_unit_assumed": heights.is_unit_assumed,
            "out_of_range": heights.out_of_range,
            "holds_whole_units": heights.holds_whole_units,
            "overruled": list(heights.overruled),
        },
        "smoothed_m": slopes.ground.width_m,
        "smoothed_ft": to_feet(slopes.ground.width_m),
        "slope_pct_median_wider": _wider_median_pct(slopes),
        "lines": [line_figures(slopes, each) for each in slopes.lines],
    }


def line_figures(slopes: FieldSlopes, line: LineSlopes) -> Figures:
    """Return length and grades of one pass or headland run.

    Parameters
    ----------
    slopes : FieldSlopes
        Slope of a field and of a plan on it.
    line : LineSlopes
        One of its lines.
    """
    weights = np.full(len(line.along), line.step_m)
    grades = {"along": np.abs(line.along), "across": np.abs(line.across)}
    length_m = float(distances_along(line.driven.line)[-1])
    return {
        "kind": line.driven.kind,
        "number": line.driven.number,
        "length_m": length_m,
        "length_ft": to_feet(length_m),
        **{f"{name}_pct_median": _per_cent(weighted_quantile(each, weights, 0.5)) for name, each in grades.items()},
        **{f"{name}_pct_p90": _per_cent(weighted_quantile(each, weights, 0.9)) for name, each in grades.items()},
        **{f"{name}_pct_max": _per_cent(weighted_quantile(each, weights, 1.0)) for name, each in grades.items()},
        "over_row_grade_pct": _per_cent(share_over([line], "along", slopes.row_grade)),
    }


def _stretch_figures(slopes: FieldSlopes, stretch: Stretch | None) -> Figures | None:
    if stretch is None:
        return None
    lon_deg, lat_deg = slopes.plan.field.frame.to_lonlat(*stretch.middle_m)
    return {
        "pct": 100 * stretch.grade,
        "deg": _degrees(stretch.grade),
        "kind": stretch.driven.kind,
        "number": stretch.driven.number,
        "where": f"{stretch.driven.kind} {stretch.driven.number}",
        "length_m": stretch.length_m,
        "length_ft": to_feet(stretch.length_m),
        "lon_deg": float(lon_deg),
        "lat_deg": float(lat_deg),
    }


def _over_side(slopes: FieldSlopes, limit: float) -> Figures:
    share = share_over(slopes.lines, "across", limit)
    over = [each.driven for each in slopes.lines if share_over([each], "across", limit)]
    return {
        "share_pct": _per_cent(share),
        "passes": [each.number for each in over if each.kind == "pass"],
        "headland_rounds": sorted({each.number for each in over if each.kind == "headland"}),
    }


def _source(slopes: FieldSlopes) -> Figures:
    row = table_row("contour", slopes.median)
    return {
        "source": SOURCES,
        "is_recalled": row.is_recalled if row is not None else True,
        "most_length_ft": None if row is None else row.most_length_ft,
        "slopes_pct": [PUBLISHED_FROM_PCT, PUBLISHED_TO_PCT],
    }


def _wider_median_pct(slopes: FieldSlopes) -> float | None:
    """Return the median slope of the field when it is smoothed to a wider strip."""
    ground = slope_terrain(slopes.ground.heights, width_m=ROUGH_WIDTHS * slopes.ground.width_m)
    places = field_points(slopes.plan.field)
    slope = np.hypot(*ground.gradient(places[:, 0], places[:, 1]))
    known = slope[np.isfinite(slope)]
    return 100 * float(np.median(known)) if known.size else None


def raster_notes(heights: Heights, area_m2: float) -> Iterator[str]:
    """Yield what a grower should know of the raster, whatever is worked out from it.

    Parameters
    ----------
    heights : Heights
        Heights about the field.
    area_m2 : float
        Area of the field, > 0. [m2]
    """
    for told in heights.overruled:
        yield f"note: {told}."
    if heights.is_unit_assumed:
        yield (
            "caution: the raster does not say in what its heights are: metres are assumed; --heights ft says "
            "otherwise. If they are feet, every slope here is 3.3 times too steep."
        )
    cells = area_m2 / (heights.raster_cell_m[0] * heights.raster_cell_m[1])
    if cells < FEW_CELLS:
        yield (
            f"caution: a cell of the raster is {heights.raster_cell_m[0]:,.0f} x {heights.raster_cell_m[1]:,.0f} m, "
            f"the field is {cells:,.1f} of them: slopes within it cannot be told. Give a raster with smaller cells."
        )
    if heights.out_of_range:
        yield f"note: {heights.out_of_range:,} cells have heights that no ground has, and are left out."
    if heights.holds_whole_units:
        yield "note: the raster holds whole numbers: slopes come in steps, and gentle ones cannot be told."


def slope_notes(figures: Figures) -> Iterator[str]:
    """Yield what a grower should know of the slopes and the factors, from `slope_figures`.

    Parameters
    ----------
    figures : dict
        From `slope_figures`.
    """
    source = figures["p_source"]
    if figures["covered_pct"] < 99.5:
        unknown = 100 - figures["covered_pct"]
        yield f"the slope of {unknown:.1f} % of the field is not known, and left out of every figure"
    if figures["rim_pct"] >= 100 * _RIM_WORTH_SAYING:
        yield f"the raster ends at the field: on {figures['rim_pct']:.0f} % of it the slope is that of the cells beside"
    wider = figures["slope_pct_median_wider"]
    if wider is not None and wider < (1 - ROUGH_SHARE) * figures["slope_pct_median"]:
        yield (
            f"the heights are rough: smoothed to {ROUGH_WIDTHS * figures['smoothed_ft']:.0f} ft instead of "
            f"{figures['smoothed_ft']:.0f} ft the median slope is {wider:.1f} %; --smooth sets the width"
        )
    if figures["over_row_crop_slope_pct"] > 0:
        yield (
            f"{figures['over_row_crop_slope_pct']:.1f} % of the field is steeper than "
            f"{100 * MOST_ROW_CROP_SLOPE:.0f} %, where row crops lose more soil than is tolerable whatever the "
            "tillage (Iowa State University extension)"
        )
    held = "" if source["most_length_ft"] is None else (
        f"; contour rows hold on slopes up to {source['most_length_ft']:.0f} ft long here, which was not looked at"
    )  # fmt: skip
    yield (
        f"erosion factors: {source['source']}, for slopes of {source['slopes_pct'][0]} to {source['slopes_pct'][1]} %"
        f"{', recalled from memory, not read' if source['is_recalled'] else ''}{held}"
    )
    if figures["steepest_along"] is not None:
        yield f"worst is the mean over a stretch of some {figures['steepest_along']['length_ft']:.0f} ft"
    if not figures["is_row_grade_given"]:
        yield (
            "row grade is held against NRCS Conservation Practice Standard 330: 2 %, or half the median slope; near an "
            "outlet it allows 3 %"
        )


def _per_cent(share: float | None) -> float | None:
    return None if share is None else 100 * share


def _degrees(grade: float) -> float:
    return float(np.degrees(np.arctan(grade)))
