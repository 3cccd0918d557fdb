"""`lay_contour`: passes along key lines that follow the contour, whole widths apart, measured on the ground."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import floor
from typing import TYPE_CHECKING, Final, Literal

import numpy as np
import shapely

from fieldgeo.analysis.curved.follow import follow_line
from fieldgeo.analysis.curved.plan import CurvedPlan, lay_curved
from fieldgeo.analysis.plan import checked_rounds
from fieldgeo.errors import InputError, LayoutError
from fieldgeo.layout.curved.key import least_working_radius_m, smooth_key
from fieldgeo.layout.curved.lay import distances_from
from fieldgeo.layout.curved.model import CurvedLayout
from fieldgeo.layout.headland import lay_rounds
from fieldgeo.layout.key_strips import lay_key_strips, moved, whole_apart
from fieldgeo.layout.overlay import difference, union
from fieldgeo.terrain.contour import ContourMap, KeyContour, no_contour, soil_beside
from fieldgeo.terrain.measure import FieldSlopes, SlopeRules, field_points, measure_slopes, rows_factor
from fieldgeo.terrain.trade import WORTH_SOIL
from fieldgeo.travel.curved_route import plan_curved_route
from fieldgeo.travel.timeline import time_route
from fieldgeo.units import FOOT_M

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from fieldgeo.frame import FloatArray
    from fieldgeo.layout.curved.key import KeyLine
    from fieldgeo.layout.headland import Sides
    from fieldgeo.layout.strips import Finish
    from fieldgeo.machinery.tool import Tool
    from fieldgeo.outline.field import Field
    from fieldgeo.terrain.ground import Terrain

# A second key line on slopes longer than this: NRCS Conservation Practice Standard 330, Contour Farming (read).
MOST_SLOPE_LENGTH_M: Final = 250 * FOOT_M
SMOOTHED: Final = (1.0, 3.0, 8.0)  # heights for key lines, in widths to which slopes are smoothed; own choice
HEIGHT_SHARES: Final = (0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9)  # of the field below the heights tried; own choice
MOST_MISSED: Final = 0.01  # of the field; own choice: layouts that leave more in their bends come last
LEAST_RELIEF_M: Final = 0.1  # own choice: on less from the lowest to the highest ground contours are noise
SEVERAL_WORTH: Final = 0.05  # own choice: several key lines cost turns and point rows, and must save so much more soil
_MOST_KEYS: Final = 30
# A contour that winds back beside itself cannot be followed, or throws spikes that no overlay takes.
_PASSED_OVER: Final = (LayoutError, shapely.errors.GEOSException)


KeyLines = Literal["auto", "one", "several"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ContourWork:
    """How contour passes are laid."""

    key_lines: KeyLines = (
        "auto"  # one, or one for every `MOST_SLOPE_LENGTH_M`; auto: those if they save `SEVERAL_WORTH`
    )
    key_height_m: float | None = None  # of the first key line; None: the height that loses least soil [m]
    headland: int | Literal["auto"] = "auto"
    sides: Sides = "auto"  # with one key line; with several the rounds go all round
    finish: Finish = "cover"
    least_radius_m: float | None = None  # no pass bends tighter; None: what the tool can do at the least [m]
    most_grade: float | None = None  # that rows are held against; None: the contour farming standard [-]
    is_any_cover: bool = False


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ContourLayout:
    """Passes along one or several key lines, measured on the ground."""

    plan: CurvedPlan
    slopes: FieldSlopes
    keys: tuple[KeyContour, ...]  # from the lowest up
    soil: float  # soil lost on passes and end rows over what is lost with all rows straight up and down [-]
    odd_m2: float  # ground between key lines that whole passes do not fill [m2]

    @property
    def missed(self) -> float:
        """Share of the field that is never worked. [-]"""
        return self.plan.coverage.skip_m2 / self.plan.field.area_m2


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ContourSearch:
    """Contour layouts that were tried on a field, the chosen one first."""

    layouts: tuple[ContourLayout, ...]
    contours_tried: int  # heights and smoothings whose soil was estimated
    passed_over: int  # layouts that could not be laid, since a contour bends too sharply
    slope_length_m: float  # across the key line of the best layout with one, from edge to edge of the field [m]

    @property
    def best(self) -> ContourLayout:
        """The chosen one.

        Of those that miss no more than `MOST_MISSED` and lose no more than `WORTH_SOIL` beyond the least soil, the
        fastest; else what misses least. Several key lines must save `SEVERAL_WORTH` more than one, if not asked for.
        """
        return self.layouts[0]


def lay_contour(
    field: Field,
    tool: Tool,
    ground: Terrain,
    work: ContourWork | None = None,
    *,
    entrance_xy: FloatArray | None = None,
) -> ContourSearch:
    """Return layouts of one tool along contours of the ground, the chosen one first.

    Parameters
    ----------
    field : Field
        The field.
    tool : Tool
        The tool.
    ground : Terrain
        Slope of the ground about the field.
    work : ContourWork, optional
        How they are laid.
    entrance_xy : ndarray of shape (2,), optional
        Where the tool enters and leaves the field, in the frame. [m]

    Raises
    ------
    InputError
        If no contour leads across the field, at the height asked for or at any; or the slope of too little of it is
        known.
    LayoutError
        If no contour can be followed on the least radius of the tool.

    Notes
    -----
    A contour is as smooth as the heights are: the wider they are smoothed, the less a key line bends, and the less
    ground is left in its bends, but the further it strays from the contour. So several widths are tried. Soil with rows
    parallel to each contour is estimated; the best of each width is laid out and measured, and where the slope is
    longer than `MOST_SLOPE_LENGTH_M` the best of those once more, with a key line for every such length.
    """
    work = work or ContourWork()
    keys, tried = _keys(field, ground, work)
    single: list[tuple[ContourLayout, ContourMap]] = []
    faults: list[Exception] = []
    for key, contours in keys:
        try:
            single.append((_one_key(field, tool, ground, work, key, entrance_xy), contours))
        except _PASSED_OVER as fault:
            faults.append(fault)
    if not single:
        raise _not_followed(field, faults[0]) from faults[0]
    layouts = [layout for layout, _ in single]
    first = min(layouts, key=_ranked(layouts, work.key_lines))
    length_m = _across_m(field, tool, first.keys[0].line)
    if length_m > MOST_SLOPE_LENGTH_M and work.key_lines != "one":
        try:
            rows = _with_more_keys(field, tool, dict(single)[first], first.keys[0])
            if len(rows) > 1:
                layouts.append(_several_keys(field, tool, ground, work, rows, entrance_xy))
        except _PASSED_OVER as fault:
            faults.append(fault)
    return ContourSearch(
        layouts=tuple(sorted(layouts, key=_ranked(layouts, work.key_lines))),
        contours_tried=tried,
        passed_over=len(faults),
        slope_length_m=length_m,
    )


def _ranked(
    layouts: Sequence[ContourLayout], key_lines: KeyLines
) -> Callable[[ContourLayout], tuple[bool, float, bool, float]]:
    """Return what layouts are ranked by: whether they are asked for, ground missed, soil to what is worth it, time."""

    def soil(each: ContourLayout) -> float:
        return each.soil + (SEVERAL_WORTH if len(each.keys) > 1 and key_lines == "auto" else 0.0)

    least = min((soil(each) for each in layouts if each.missed <= MOST_MISSED), default=0.0)
    return lambda each: (
        key_lines == "several" and len(each.keys) == 1,
        max(each.missed, MOST_MISSED),
        soil(each) > least + WORTH_SOIL,
        each.plan.field_time_s if soil(each) <= least + WORTH_SOIL else soil(each),
    )


def _not_followed(field: Field, fault: Exception) -> LayoutError:
    reason = str(fault) if isinstance(fault, LayoutError) else "It bends back too close beside itself."
    return LayoutError(
        f"follow contour: no contour of field {field.name!r} that was tried can be followed. {reason} Smooth the "
        "heights more (--smooth), or lay straight passes."
    )


def _keys(field: Field, ground: Terrain, work: ContourWork) -> tuple[list[tuple[KeyContour, ContourMap]], int]:
    """Return the contour that loses least soil for each width of smoothing, and how many were looked at."""
    places = field_points(field)
    keys, tried = [], 0
    span = (np.inf, -np.inf)
    for share in SMOOTHED:
        contours = ContourMap(field, ground, share * ground.width_m)
        heights = contours.heights_at(places[:, 0], places[:, 1])
        heights = heights[np.isfinite(heights)]
        if heights.size == 0:
            continue
        span = min(span[0], float(heights.min())), max(span[1], float(heights.max()))
        asked = np.quantile(heights, HEIGHT_SHARES).tolist() if work.key_height_m is None else [work.key_height_m]
        tried += len(asked)
        lines = [(height, contours.line_at(height)) for height in asked]
        its = [
            KeyContour(line=line, height_m=height, smooth_m=contours.smooth_m, soil=soil_beside(ground, field, [line]))
            for height, line in lines
            if line is not None
        ]
        if its:
            keys.append((min(its, key=lambda key: key.soil), contours))
    if not keys or span[1] - span[0] < LEAST_RELIEF_M:
        if span[0] > span[1]:
            raise InputError(f"follow contour: the raster gives no height on field {field.name!r}. Give another.")
        raise no_contour(field, work.key_height_m, span)
    return keys, tried


def _one_key(
    field: Field, tool: Tool, ground: Terrain, work: ContourWork, key: KeyContour, entrance_xy: FloatArray | None
) -> ContourLayout:
    fitted = key if work.key_height_m is not None else replace(key, line=_fitted(field, tool, key.line))
    plan = lay_curved(
        field, tool, follow_line(field, fitted.line), headland=work.headland, sides=work.sides, finish=work.finish,
        entrance_xy=entrance_xy, least_radius_m=work.least_radius_m,
    )  # fmt: skip
    return _measured(plan, ground, work, (fitted,), 0.0)


def _fitted(field: Field, tool: Tool, line: FloatArray) -> FloatArray:
    """Return a key line moved by half a pass at the most, so that the outermost pass lies along the field's edge."""
    key = _smooth(field, tool, line)
    low = float(_edge_distances_m(field, tool, key).min())
    apart = (low + tool.width_m / 2) % tool.pitch_m
    return moved(key, apart if apart <= tool.pitch_m / 2 else apart - tool.pitch_m, field.shape, tool)


def _several_keys(
    field: Field,
    tool: Tool,
    ground: Terrain,
    work: ContourWork,
    keys: list[KeyContour],
    entrance_xy: FloatArray | None,
) -> ContourLayout:
    rounds = lay_rounds(field.shape, tool, work.finish, rounds=checked_rounds(work.headland, tool), chains=None)
    strips = lay_key_strips(
        rounds.body, [key.line for key in keys], tool, work.finish, least_radius_m=work.least_radius_m
    )
    layout = CurvedLayout(
        field=field, tool=tool, finish=work.finish, headland=rounds.headland, body=rounds.body, passes=strips.passes
    )
    route = plan_curved_route(layout, entrance_xy=entrance_xy)
    left = difference(rounds.body, union(strips.passes.swaths()))
    plan = CurvedPlan(
        layout=layout, route=route, timeline=time_route(route), follow=follow_line(field, keys[0].line),
        left_in_bends_m2=float(left.area),
    )  # fmt: skip
    return _measured(plan, ground, work, tuple(keys), strips.odd_m2)


def _measured(
    plan: CurvedPlan, ground: Terrain, work: ContourWork, keys: tuple[KeyContour, ...], odd_m2: float
) -> ContourLayout:
    rules = SlopeRules(row_grade=work.most_grade, is_any_cover=work.is_any_cover)
    slopes = measure_slopes(plan, ground, rules)
    soil = rows_factor(slopes.lines)
    return ContourLayout(plan=plan, slopes=slopes, keys=keys, soil=1.0 if soil is None else soil, odd_m2=odd_m2)


def _with_more_keys(field: Field, tool: Tool, contours: ContourMap, first: KeyContour) -> list[KeyContour]:
    """Return key lines no further apart than the standard allows, from the lowest up, one of them the first."""
    below = list(_onward(field, tool, contours, first, is_up=False))
    return [*below[::-1], first, *_onward(field, tool, contours, first, is_up=True)]


def _onward(field: Field, tool: Tool, contours: ContourMap, first: KeyContour, *, is_up: bool) -> Iterator[KeyContour]:
    """Yield key lines one after the other uphill, or downhill, as long as the ground beyond is longer than allowed."""
    step_m = max(1, floor(MOST_SLOPE_LENGTH_M / tool.pitch_m)) * tool.pitch_m
    way = slice(None) if is_up else slice(None, None, -1)  # a line turned round has the other side to its left
    line = first.line[way]
    for _ in range(_MOST_KEYS):
        key = _smooth(field, tool, line)
        if _edge_distances_m(field, tool, key).max() <= MOST_SLOPE_LENGTH_M:
            return
        beside = shapely.LineString(moved(key, step_m, field.shape, tool))
        places = shapely.get_coordinates(shapely.segmentize(beside, tool.width_m))
        places = places[shapely.contains_xy(field.shape, places[:, 0], places[:, 1])]
        heights = contours.heights_at(places[:, 0], places[:, 1])
        if not np.isfinite(heights).any():
            return
        height = float(np.nanmean(heights))
        contour = contours.line_at(height)
        if contour is None:
            return
        after = whole_apart(line, contour[way], tool, field.shape)
        inside = shapely.intersection(shapely.LineString(after), field.shape)
        apart = distances_from(shapely.get_coordinates(shapely.segmentize(inside, tool.width_m)), key)
        if apart.size == 0 or apart.min() < tool.pitch_m - 0.01:
            return  # it runs into the one before it
        line = after
        soil = soil_beside(contours.ground, field, [line])
        yield KeyContour(line=line[way], height_m=height, smooth_m=contours.smooth_m, soil=soil)


def _smooth(field: Field, tool: Tool, line: FloatArray) -> KeyLine:
    spread = np.vstack([line, np.reshape(field.shape.bounds, (2, 2))])
    reach = float(np.hypot(*np.ptp(spread, axis=0)))
    return smooth_key(line, tool, radius_m=least_working_radius_m(tool), reach_m=reach)


def _edge_distances_m(field: Field, tool: Tool, key: KeyLine) -> FloatArray:
    edge = shapely.segmentize(shapely.get_rings(shapely.get_parts(field.shape)), tool.width_m)
    return distances_from(shapely.get_coordinates(edge), key)


def _across_m(field: Field, tool: Tool, line: FloatArray) -> float:
    return float(np.ptp(_edge_distances_m(field, tool, _smooth(field, tool, line))))
