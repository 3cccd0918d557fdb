"""Small maps beside each other: the same ground laid by several tools, or in several directions, at one scale."""

from __future__ import annotations

from math import ceil
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import shapely

from fieldgeo.errors import InputError
from fieldgeo.report import sheet as paper
from fieldgeo.report.lines import area_text, count_text, percent_text
from fieldgeo.report.outline_map import draw_outline, outline_handles
from fieldgeo.report.parts_map import directions_text
from fieldgeo.report.plan_layers import (
    common_handles,
    draw_coverage,
    draw_entrance,
    draw_lines,
    draw_numbers,
    draw_start,
    entrance_handles,
    first_work,
)
from fieldgeo.report.sheet import Sheet
from fieldgeo.units import ACRE_M2, HECTARE_M2, HOUR_S

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes

    from fieldgeo.analysis.plan import Plan
    from fieldgeo.export.files import PathLike

MOST_MAPS: Final = 12  # on one page

# Sizes in points.
_PAGE_WIDTH: Final = 396.0
_MARGIN: Final = 12.0
_GAP: Final = 12.0  # between maps, either way
_ROOM: Final = 6.0  # round what is drawn
_MOST_HEIGHT: Final = 300.0  # of one map, where there are two beside each other
_TITLE_HEIGHT: Final = 38.0
_CAPTION_LINE: Final = 9.8
_CAPTION_LINES: Final = 6
_CAPTION_DOWN: Final = 7.0  # so that the word at the start has room above it
_FOOT: Final = 48.0  # scale bar and north arrow
_LEGEND_LINE: Final = 13.0
_NAME: Final = 8.0
_FIGURE: Final = 7.2
_COLUMNS: Final = 2  # of the legend
_LETTER_SHARE: Final = 0.6  # mean width of a bold letter / size of its type


class _Page(NamedTuple):
    """Where everything lies on the page."""

    rows: list[list[int]]  # places of the plans, row by row
    columns: int
    cell_width: float  # [points]
    metres_per_point: float
    row_heights: list[float]  # of the maps alone [points]


def save_multiples(
    plans: Sequence[Plan], path: PathLike, *, names: Sequence[str] | None = None, force: bool = False
) -> None:
    """Save small maps of plans beside each other, whole or not at all.

    Parameters
    ----------
    plans, names : sequence of Plan, sequence of str
        As in `plot_multiples`.
    path : str or path
        ``.svg``, ``.png`` or ``.pdf``.
    force : bool
        Whether an existing file may be replaced.

    Raises
    ------
    InputError
        If there is no plan, there are too many, or the suffix is of another format.
    FileError
        If the file exists and `force` is not set, or it cannot be written.
    """
    paper.save_sheet(lambda: plot_multiples(plans, names=names)[0], path, force=force)


def plot_multiples(
    plans: Sequence[Plan], *, names: Sequence[str] | None = None, axes: Sequence[Axes] | None = None
) -> list[Axes]:
    """Draw small maps of plans at one scale, with the figures of each under it. Nothing is shown or saved.

    Parameters
    ----------
    plans : sequence of Plan
        One to twelve, those of a field together.
    names : sequence of str, optional
        What stands over the figures of each; without it the names of the tools, or the directions where the tool is one
        and the same.
    axes : sequence of Axes, optional
        Where to draw, one for each plan; without it on a figure of their own, with one legend and one scale bar.

    Returns
    -------
    list of Axes
        One for each plan, in metres of the field's frame, all at one scale.

    Raises
    ------
    InputError
        If there is no plan, there are too many, or `names` or `axes` are not as many.
    """
    _check(plans, names, axes)
    with paper.drawing_style():
        if axes is None:
            page = _page(plans)
            handles = _handles(plans)
            panels, foot = _new_axes(page, ceil(len(handles) / _COLUMNS))
            scale = page.metres_per_point
            _write_title(panels[0], plans)
            paper.draw_scale_bar(foot)
            paper.draw_north_arrow(foot)
            paper.draw_legend(foot, handles, _COLUMNS)
        else:
            panels = list(axes)
            scale = max(_scale_of(panel, plan) for panel, plan in zip(panels, plans, strict=True))
        for panel, plan, name in zip(panels, plans, names or _own_names(plans), strict=True):
            sheet = _sheet(panel, plan, scale)
            _draw(sheet, plan)
            _write_figures(sheet, plan, name)
        if axes is not None:
            paper.draw_scale_bar(_sheet(panels[0], plans[0], scale))
    return panels


def _check(plans: Sequence[Plan], names: Sequence[str] | None, axes: Sequence[Axes] | None) -> None:
    if not 1 <= len(plans) <= MOST_MAPS:
        raise InputError(f"small maps: got {len(plans)} plans. Give one to {MOST_MAPS}.")
    for what, given in (("names", names), ("axes", axes)):
        if given is not None and len(given) != len(plans):
            raise InputError(f"small maps: got {len(plans)} plans and {len(given)} {what}. Give as many of both.")


def _own_names(plans: Sequence[Plan]) -> list[str]:
    tools = {plan.tool.name for plan in plans}
    fields = {plan.field.name for plan in plans}
    names = [plan.tool.name if len(tools) > 1 else directions_text(plan) for plan in plans]
    if len(fields) == 1:
        return names
    return [f"{plan.field.name}: {name}" for plan, name in zip(plans, names, strict=True)]


def _bounds(plan: Plan) -> tuple[float, float, float, float]:
    """Return the bounds of all that is drawn of a plan. [m]"""
    driven = [shapely.LineString(leg.points()) for leg in plan.route.legs]
    low_x, low_y, high_x, high_y = shapely.total_bounds([plan.field.shape, *driven]).tolist()
    return low_x, low_y, max(high_x, low_x + 1e-3), max(high_y, low_y + 1e-3)


def _size_m(plan: Plan) -> tuple[float, float]:
    low_x, low_y, high_x, high_y = _bounds(plan)
    return high_x - low_x, high_y - low_y


def _page(plans: Sequence[Plan]) -> _Page:
    """Return where the maps lie: a row a field where its maps fit beside each other, two or three in a row."""
    of_fields: dict[int, list[int]] = {}
    for place, plan in enumerate(plans):
        of_fields.setdefault(id(plan.field), []).append(place)
    most = max(len(its) for its in of_fields.values())
    columns = 1 if most == 1 and len(plans) == 1 else 3 if most == 3 or most > 6 else 2
    groups = [list(range(len(plans)))] if most == 1 else list(of_fields.values())
    rows = [group[at : at + columns] for group in groups for at in range(0, len(group), columns)]
    cell = (_PAGE_WIDTH - 2 * _MARGIN - _GAP * (columns - 1)) / columns
    sizes = [_size_m(plan) for plan in plans]
    scale = max(
        max(wide / (cell - 2 * _ROOM), high / (_MOST_HEIGHT * 2 / max(columns, 2) - 2 * _ROOM)) for wide, high in sizes
    )
    heights = [max(sizes[place][1] for place in row) / scale + 2 * _ROOM for row in rows]
    return _Page(rows, columns, cell, scale, heights)


def _new_axes(page: _Page, legend_rows: int) -> tuple[list[Axes], Sheet]:
    """Return axes for each plan on a figure, and a sheet across its foot at the same scale."""
    from matplotlib.figure import Figure

    caption = _CAPTION_DOWN + _CAPTION_LINE * _CAPTION_LINES
    below = _MARGIN + _LEGEND_LINE * legend_rows
    high = _MARGIN + _TITLE_HEIGHT + sum(page.row_heights) + (caption + _GAP) * len(page.rows) + _FOOT + below
    figure = Figure(figsize=(_PAGE_WIDTH / 72, high / 72), facecolor="white")

    def add(left: float, low: float, width: float, height: float) -> Axes:
        axes = figure.add_axes((left / _PAGE_WIDTH, low / high, width / _PAGE_WIDTH, height / high))
        axes.set_axis_off()
        return axes

    panels: list[Axes] = []
    top = high - _MARGIN - _TITLE_HEIGHT
    for row, height in zip(page.rows, page.row_heights, strict=True):
        for column in range(len(row)):
            panels.append(add(_MARGIN + column * (page.cell_width + _GAP), top - height, page.cell_width, height))
        top -= height + caption + _GAP
    width = _PAGE_WIDTH - 2 * _MARGIN
    foot = add(_MARGIN, below, width, _FOOT)
    size_m = width * page.metres_per_point, _FOOT * page.metres_per_point
    foot.set(xlim=(0, size_m[0]), ylim=(0, size_m[1]))
    return panels, Sheet(foot, page.metres_per_point, (0.0, 0.0), size_m)


def _points(axes: Axes) -> tuple[float, float]:
    size, dots = axes.get_window_extent(), axes.figure.dpi / 72
    return size.width / dots, size.height / dots


def _scale_of(axes: Axes, plan: Plan) -> float:
    width, height = _points(axes)
    wide_m, high_m = _size_m(plan)
    return max(wide_m / max(width - 2 * _ROOM, 10.0), high_m / max(height - 2 * _ROOM, 10.0))


def _sheet(axes: Axes, plan: Plan, scale: float) -> Sheet:
    """Return the sheet of one map: at the scale of all, the field against its lower left corner."""
    width, height = _points(axes)
    low_x, low_y, _, _ = _bounds(plan)
    low = (low_x - _ROOM * scale, low_y - _ROOM * scale)
    top = (low[0] + width * scale, low[1] + height * scale)
    axes.set_xlim(low[0], top[0])
    axes.set_ylim(low[1], top[1])
    axes.set_aspect("equal")
    axes.set_axis_off()
    return Sheet(axes, scale, low, top)


def _draw(sheet: Sheet, plan: Plan) -> None:
    draw_outline(sheet, plan.field)
    draw_coverage(sheet, plan)
    draw_lines(sheet, plan)
    draw_numbers(sheet, plan)
    draw_entrance(sheet, plan)
    first = first_work(plan)
    if first is not None:
        draw_start(sheet, first.points())


def _write_figures(sheet: Sheet, plan: Plan, name: str) -> None:
    """Write the name of a map and its figures under it."""
    width, _ = _points(sheet.axes)
    coverage = plan.coverage
    turns = len(plan.route.turns())
    hours = plan.field_time_s / HOUR_S
    rate = ""
    if plan.effective_m2_s is not None:
        rate = (
            f", {plan.effective_m2_s * HOUR_S / ACRE_M2:.1f} ac/h "
            f"({plan.effective_m2_s * HOUR_S / HECTARE_M2:.1f} ha/h)"
        )
    efficiency = f"efficiency {percent_text(plan.field_efficiency)}"
    if "deg" not in name:
        way = directions_text(plan).removeprefix("direction ")
        efficiency = f"{way}, eff. {percent_text(plan.field_efficiency)}"
    lines = [
        (paper.short_text(name, int(width / (_LETTER_SHARE * _NAME))), "bold", _NAME),
        (f"{hours:.2f} h{rate}", "normal", _FIGURE),
        (efficiency, "normal", _FIGURE),
        (f"{count_text(len(plan.layout.passes), 'pass')}, {count_text(turns, 'turn')}", "normal", _FIGURE),
        (f"overlap {area_text(coverage.overlap_m2)}", "normal", _FIGURE),
        (f"skip {area_text(coverage.skip_m2)}", "normal", _FIGURE),
    ]
    for row, (text, weight, size) in enumerate(lines):
        sheet.axes.annotate(
            text, (0, 0), xycoords="axes fraction", xytext=(_ROOM - 1, -_CAPTION_LINE * row - _CAPTION_DOWN),
            textcoords="offset points", va="top", fontsize=size, fontweight=weight, parse_math=False,
            annotation_clip=False,
        )  # fmt: skip


def _handles(plans: Sequence[Plan]) -> list[Any]:
    """Return one legend for all: outline and holes in common words where there are several fields."""
    outlines = outline_handles(plans[0].field)
    if len({id(plan.field) for plan in plans}) > 1:
        outlines = [handle for plan in plans for handle in outline_handles(plan.field)]
        holes = [handle for handle in outlines if "hole" in handle.get_label()]
        outlines = [outlines[0], *holes[:1]]
        for handle, label in zip(outlines, ("outline", "hole, not worked"), strict=False):
            handle.set_label(label)
    entrances = [handle for plan in plans for handle in entrance_handles(plan)]
    return [*outlines, *common_handles(plans), *entrances[:1]]


def _write_title(axes: Any, plans: Sequence[Plan]) -> None:
    fields = {id(plan.field): plan.field for plan in plans}
    tools = {plan.tool.name for plan in plans}
    first = plans[0]
    name = first.field.name if len(fields) == 1 else count_text(len(fields), "field")
    about = count_text(len(tools), "tool") if len(tools) > 1 else paper.short_text(first.tool.name, 40)
    line = f"{area_text(sum(field.area_m2 for field in fields.values()))}   all at one scale: {about}"
    for text, size, weight, down in (
        (paper.short_text(name, 46), 14.0, "bold", 0.0),
        (line, 8.5, "normal", 19.0),
    ):
        axes.annotate(
            text, (_MARGIN / _PAGE_WIDTH, 1), xycoords="figure fraction", xytext=(0, -_MARGIN - down),
            textcoords="offset points", va="top", fontsize=size, fontweight=weight, parse_math=False,
            annotation_clip=False,
        )  # fmt: skip
