"""The plain picture of a field or a plan: outline, holes, headland rounds, passes, turns, overlap and skip."""

from __future__ import annotations

from math import ceil
from typing import TYPE_CHECKING, Final

import shapely

from fieldgeo.analysis.curved.plan import CurvedPlan
from fieldgeo.analysis.divided.plan import DividedPlan
from fieldgeo.analysis.loaded import LoadedPlan
from fieldgeo.analysis.plan import Plan
from fieldgeo.analysis.plow import LandPlan
from fieldgeo.export.files import PathLike
from fieldgeo.outline.field import Field
from fieldgeo.report import sheet as paper
from fieldgeo.report.curved_map import draw_followed, followed_handles
from fieldgeo.report.lands_map import draw_furrows, furrow_handles
from fieldgeo.report.lines import area_text
from fieldgeo.report.outline_map import draw_outline, outline_handles, plot_field
from fieldgeo.report.parts_map import directions_text, draw_parts, part_handles
from fieldgeo.report.plan_layers import (
    counted,
    draw_coverage,
    draw_entrance,
    draw_lines,
    draw_numbers,
    draw_start,
    draw_stops,
    entrance_handles,
    entrance_of,
    first_work,
    plan_handles,
    stop_handles,
)
from fieldgeo.units import to_feet

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from fieldgeo.travel.stops import StopPlan

_COLUMNS: Final = 2  # of the legend


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
        f"{area_text(field.area_m2)}   {directions_text(plan)}   {counted(len(plan.layout.passes), 'pass', 'passes')}",
        f"{to_feet(tool.width_m):.4g} ft ({tool.width_m:.4g} m) wide: {paper.short_text(tool.name, 46)}",
    ]
    with paper.drawing_style():
        handles = [
            *outline_handles(field),
            *plan_handles(plan),
            *entrance_handles(plan),
            *stop_handles(stops),
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
        draw_coverage(sheet, plan)
        draw_lines(sheet, plan)
        draw_furrows(sheet, lands)
        draw_parts(sheet, plan)
        draw_followed(sheet, plan)
        draw_numbers(sheet, plan)
        draw_entrance(sheet, plan)
        first = first_work(plan)
        if first is not None:
            draw_start(sheet, first.points(), entrance_xy=entrance_of(plan))
        if stops is not None:
            draw_stops(sheet, stops)
        paper.draw_furniture(sheet, field.name, lines, handles, _COLUMNS)
    return sheet.axes
