"""The plain picture of a field or a plan: outline, holes, headland rounds, passes, turns, overlap and skip."""

from __future__ import annotations

from math import ceil
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import shapely

from fieldgeo.analysis.curved.plan import CurvedPlan
from fieldgeo.analysis.divided.plan import DividedPlan
from fieldgeo.analysis.loaded import LoadedPlan
from fieldgeo.analysis.plan import Plan
from fieldgeo.analysis.plow import LandPlan
from fieldgeo.export.files import PathLike
from fieldgeo.layout.axes import distances_along
from fieldgeo.outline.field import Field
from fieldgeo.report import sheet as paper
from fieldgeo.report.curved_map import draw_followed, followed_handles
from fieldgeo.report.lands_map import draw_furrows, furrow_handles
from fieldgeo.report.lines import area_text
from fieldgeo.report.outline_map import draw_outline, outline_handles, plot_field
from fieldgeo.report.parts_map import directions_text, draw_parts, part_handles
from fieldgeo.report.sheet import Sheet
from fieldgeo.units import to_feet

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from fieldgeo.layout.axes import Floats
    from fieldgeo.travel.stops import StopPlan

_COLUMNS: Final = 2  # of the legend
_NUMBER_SIZE: Final = 6.5  # type of the numbers of passes [points]
_NUMBER_ROOM: Final = (15.0, 9.0)  # across and up, that a number needs for itself [points]
_NUMBER_STEPS: Final = (1, 2, 5, 10, 20, 50, 100)  # every pass is numbered, or every second, fifth ...
_STOP_SIZE: Final = 6.5  # type of the numbers of stops [points]
_MOST_STOPS: Final = 4  # numbers at one place
_LABEL_HALF: Final = 14.0  # half the length of the word at the start of the work [points]


def save_map(
    drawn: Plan | DividedPlan | CurvedPlan | LoadedPlan | LandPlan | Field, path: PathLike, *, force: bool = False
) -> None:
    """Save the picture of a plan or a field, whole or not at all.

    Parameters
    ----------
    drawn : Plan or DividedPlan or CurvedPlan or LoadedPlan or LandPlan or Field
        What to draw; a divided plan with its seams, a loaded one with its stops, one of lands with its furrows.
    path : str or path
        ``.svg``, ``.png`` or ``.pdf``.
    force : bool
        Whether an existing file may be replaced.

    Raises
    ------
    InputError
        If the suffix is of another format.
    FileError
        If the file exists and `force` is not set, or it cannot be written.
    """
    paper.save_sheet(lambda: _plot(drawn), path, force=force)


def _plot(drawn: Plan | DividedPlan | CurvedPlan | LoadedPlan | LandPlan | Field) -> Axes:
    if isinstance(drawn, LandPlan):
        return plot_plan(drawn.plan, lands=drawn)
    if isinstance(drawn, LoadedPlan):
        return plot_plan(drawn.without, stops=drawn.stops)
    return plot_plan(drawn) if isinstance(drawn, Plan | DividedPlan | CurvedPlan) else plot_field(drawn)


def plot_plan(
    plan: Plan | DividedPlan | CurvedPlan,
    *,
    stops: StopPlan | None = None,
    lands: LandPlan | None = None,
    ax: Axes | None = None,
) -> Axes:
    """Draw a plan on its field, north up. Nothing is shown or saved.

    Parameters
    ----------
    plan : Plan or DividedPlan or CurvedPlan
        One tool on one field.
    stops : StopPlan, optional
        Its stops to fill or unload, drawn where the tool stands.
    lands : LandPlan, optional
        The lands it is plowed in, drawn as their back furrows and dead furrows.
    ax : Axes, optional
        Where to draw; without it on a figure of its own.

    Returns
    -------
    Axes
        In metres of the field's frame, with equal scales.
    """
    field, tool = plan.field, plan.tool
    # The name comes last: one in a script that runs from right to left would carry figures after it away.
    lines = [
        f"{area_text(field.area_m2)}   {directions_text(plan)}   {_count(len(plan.layout.passes), 'pass', 'passes')}",
        f"{to_feet(tool.width_m):.4g} ft ({tool.width_m:.4g} m) wide: {paper.short_text(tool.name, 46)}",
    ]
    with paper.drawing_style():
        handles = [
            *outline_handles(field),
            *_plan_handles(plan),
            *_stop_handles(stops),
            *furrow_handles(lands),
            *part_handles(plan),
            *followed_handles(plan),
        ]
        driven = [leg.points() for leg in plan.route.legs]
        bounds = shapely.total_bounds([field.shape, *(shapely.LineString(points) for points in driven)])
        sheet = paper.new_sheet(
            tuple(bounds.tolist()), axes=ax, title_lines=len(lines), legend_rows=ceil(len(handles) / _COLUMNS)
        )
        draw_outline(sheet, field)
        _draw_coverage(sheet, plan)
        _draw_lines(sheet, plan)
        draw_furrows(sheet, lands)
        draw_parts(sheet, plan)
        draw_followed(sheet, plan)
        _draw_numbers(sheet, plan)
        if driven:
            _draw_start(sheet, driven[0])
        if stops is not None:
            _draw_stops(sheet, stops)
        paper.draw_furniture(sheet, field.name, lines, handles, _COLUMNS)
    return sheet.axes


_HEADLAND_STYLE: Final[dict[str, Any]] = {"color": paper.HEADLAND, "linewidth": 1.1, "dashes": (5, 1.5)}
_PASS_STYLE: Final[dict[str, Any]] = {"color": paper.PASS, "linewidth": 0.8}
_TURN_STYLE: Final[dict[str, Any]] = {"color": paper.TURN, "linewidth": 0.45}
_TRAVEL_STYLE: Final[dict[str, Any]] = {"color": paper.TURN, "linewidth": 0.8, "dashes": (1, 1.5)}
_OVERLAP_STYLE: Final[dict[str, Any]] = {"hatch": "//////", "colour": paper.OVERLAP}
_SKIP_STYLE: Final[dict[str, Any]] = {"hatch": "xxxxxx", "colour": paper.SKIP}


def _draw_coverage(sheet: Sheet, plan: Plan | DividedPlan | CurvedPlan) -> None:
    from matplotlib.patches import PathPatch

    shapes = plan.shapes()
    overlap = shapely.MultiPolygon([overlap.polygon for overlap in shapes.overlap])
    for ground, style in ((overlap, _OVERLAP_STYLE), (shapes.skip, _SKIP_STYLE)):
        if not ground.is_empty:
            sheet.axes.add_patch(PathPatch(paper.shape_path(ground), **paper.hatched(**style), zorder=3))
    ground = plan.layout.headland.ground
    if not ground.is_empty:
        tint = {"facecolor": paper.HEADLAND, "alpha": 0.16, "linewidth": 0}
        sheet.axes.add_patch(PathPatch(paper.shape_path(ground), **tint, zorder=2))


def _draw_lines(sheet: Sheet, plan: Plan | DividedPlan | CurvedPlan) -> None:
    from matplotlib.collections import LineCollection

    thin = min(1.0, 0.25 * plan.tool.pitch_m / sheet.metres_per_point)  # so that close passes leave ground to see
    for state, style, zorder in (
        ("travel", _TRAVEL_STYLE, 3.5),
        ("turn", _TURN_STYLE, 4.0),
        ("headland", _HEADLAND_STYLE, 4.5),
        ("pass", _PASS_STYLE, 5.0),
    ):
        lines = [leg.points() for leg in plan.route.legs if leg.state == state]
        dashes = (0, style["dashes"]) if "dashes" in style else "solid"
        width = style["linewidth"] * (thin if state in {"pass", "headland"} else 1.0)
        sheet.axes.add_collection(
            LineCollection(lines, colors=style["color"], linewidths=width, linestyles=[dashes], zorder=zorder),
            autolim=False,
        )


def _draw_numbers(sheet: Sheet, plan: Plan | DividedPlan | CurvedPlan) -> None:
    """Write numbers on the passes, in the order driven, as many as there is room for."""
    from matplotlib.patheffects import withStroke

    legs = [leg for leg in plan.route.legs if leg.state == "pass"]
    across = plan.tool.pitch_m / sheet.metres_per_point
    step = next((step for step in _NUMBER_STEPS if step * across >= _NUMBER_ROOM[0]), _NUMBER_STEPS[-1])
    taken: list[Floats] = []
    room = np.array(_NUMBER_ROOM) * sheet.metres_per_point
    wanted = sorted(range(1, len(legs) + 1), key=lambda number: (number not in {1, len(legs)}, number))
    for number in wanted:
        leg = legs[number - 1]
        middle = _middle(leg.points())
        is_wanted = number in {1, len(legs)} or number % step == 0
        if not is_wanted or leg.length_m < 2 * room[0] or any((np.abs(middle - at) < room).all() for at in taken):
            continue
        taken.append(middle)
        sheet.axes.text(
            float(middle[0]), float(middle[1]), str(number), fontsize=_NUMBER_SIZE, color=paper.PASS,
            ha="center", va="center", zorder=7,
            path_effects=[withStroke(linewidth=2.2, foreground="white")],
        )  # fmt: skip


def _middle(line: Floats) -> Floats:
    """Return the place half way along a line."""
    along = distances_along(line)
    return np.array([np.interp(along[-1] / 2, along, line[:, axis]) for axis in (0, 1)])


def _draw_start(sheet: Sheet, line: Floats) -> None:
    """Mark where the work begins, and which way."""
    from matplotlib.patheffects import withStroke

    step = sheet.metres_per_point
    along = distances_along(line)
    reach = min(22 * step, along[-1])
    start = (float(line[0, 0]), float(line[0, 1]))
    tip = (float(np.interp(reach, along, line[:, 0])), float(np.interp(reach, along, line[:, 1])))
    halo = [withStroke(linewidth=2.4, foreground="white")]
    sheet.axes.annotate(
        "", tip, start, zorder=8, annotation_clip=False,
        arrowprops={
            "arrowstyle": "-|>,head_length=0.5,head_width=0.25", "color": paper.OUTLINE, "linewidth": 1.4,
            "shrinkA": 0, "shrinkB": 0, "path_effects": halo,
        },
    )  # fmt: skip
    sheet.axes.plot(*start, marker="o", markersize=4, color=paper.OUTLINE, zorder=8, path_effects=halo)
    heading = (line[1] - line[0]) / max(float(np.hypot(*(line[1] - line[0]))), 1e-9)
    aside, below = -17.0 * heading[0], -9.0 * heading[1]
    low, high = sheet.axes.get_xlim()
    held = float(np.clip(start[0] + aside * step, low + _LABEL_HALF * step, high - _LABEL_HALF * step))
    if abs(held - start[0] - aside * step) > step:  # it would run off the page: it goes above or below the dot
        aside, below = (held - start[0]) / step, -11.0 if heading[1] > 0 else 11.0
    sheet.axes.annotate(
        "start", start, xytext=(aside, below), textcoords="offset points", fontsize=7.5,
        fontweight="bold", ha="center", va="center", zorder=8, path_effects=halo, annotation_clip=False,
    )  # fmt: skip


def _draw_stops(sheet: Sheet, stops: StopPlan) -> None:
    """Mark every place where the tool stops, with the numbers of its stops."""
    numbers: dict[tuple[float, float], list[str]] = {}
    for number, stop in enumerate(stops.stops, start=1):
        here = (round(stop.xy[0], 1), round(stop.xy[1], 1))
        numbers.setdefault(here, []).append(str(number))
    for (x, y), its in numbers.items():
        text = " ".join(its if len(its) <= _MOST_STOPS else [*its[: _MOST_STOPS - 1], "..."])
        sheet.axes.annotate(
            text, (x, y), fontsize=_STOP_SIZE, fontweight="bold", ha="center", va="center", zorder=9,
            annotation_clip=False, bbox={"boxstyle": "square,pad=0.25", "facecolor": "white", "edgecolor": "black",
                                         "linewidth": 0.8},
        )  # fmt: skip


def _stop_handles(stops: StopPlan | None) -> list[Any]:
    from matplotlib.patches import Patch

    if stops is None or not stops.stops:
        return []
    label = _count(len(stops.stops), f"stop to {stops.supply.job}", f"stops to {stops.supply.job}")
    return [Patch(facecolor="white", edgecolor="black", linewidth=0.8, label=f"{label}, numbered")]


def _plan_handles(plan: Plan | DividedPlan | CurvedPlan) -> list[Any]:
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    route, headland, coverage = plan.route, plan.layout.headland, plan.coverage
    states = {leg.state for leg in route.legs}
    handles: list[Any] = []
    for state, style, label in (
        ("headland", _HEADLAND_STYLE, _count(headland.rounds, "headland round", "headland rounds")),
        ("pass", _PASS_STYLE, _count(len(plan.layout.passes), "pass", "passes") + ", numbered as driven"),
        ("turn", _TURN_STYLE, _count(len(route.turns()), "turn", "turns")),
        ("travel", _TRAVEL_STYLE, "travel"),
    ):
        if state in states:
            handles.append(Line2D([], [], **style, label=label))
    for ground_style, what, area_m2 in (
        (_OVERLAP_STYLE, "overlap", coverage.overlap_m2),
        (_SKIP_STYLE, "skip", coverage.skip_m2),
    ):
        label = f"{what} {area_text(area_m2)}, {100 * area_m2 / coverage.area_m2:.1f} %"
        handles.append(Patch(**paper.hatched(**ground_style), label=label))
    return handles


def _count(number: int, one: str, many: str) -> str:
    return f"{number} {one if number == 1 else many}"
