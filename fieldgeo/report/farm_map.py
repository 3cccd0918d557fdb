"""The picture of a farm: the outlines of its fields where they lie, with their numbers."""

from __future__ import annotations

from math import ceil
from typing import TYPE_CHECKING, Any, Final

import shapely

from fieldgeo.errors import InputError
from fieldgeo.frame import frame_for, shape_to_frame, shape_to_lonlat
from fieldgeo.report import sheet as paper
from fieldgeo.report.lines import area_text, count_text
from fieldgeo.units import MILE_M

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes

    from fieldgeo.outline.field import Field

# One sheet shows fields no further apart than this; the frame of a farm is true to a millionth over it.
MOST_ACROSS_M: Final = 40 * MILE_M
_COLUMNS: Final = 2
_MOST_LISTED: Final = 40  # fields that a legend names
_NUMBER_SIZE: Final = 8.0  # [points]
_GROUND: Final[dict[str, Any]] = {"facecolor": paper.GROUND, "edgecolor": paper.OUTLINE, "linewidth": 0.9}


def can_draw_farm(fields: Sequence[Field]) -> bool:
    """Return whether several fields can stand on one sheet: all placed, and near enough.

    Parameters
    ----------
    fields : sequence of Field
        The fields.
    """
    if len(fields) < 2 or not all(field.is_placed for field in fields):
        return False
    low_x, low_y, high_x, high_y = shapely.total_bounds(_in_one_frame(fields)).tolist()
    return bool(max(high_x - low_x, high_y - low_y) <= MOST_ACROSS_M)


def plot_farm(fields: Sequence[Field], *, name: str = "Farm", ax: Axes | None = None) -> Axes:
    """Draw the fields of a farm where they lie, north up, numbered in order. Nothing is shown or saved.

    Parameters
    ----------
    fields : sequence of Field
        The fields.
    name : str
        Title.
    ax : Axes, optional
        Where to draw; without it on a figure of its own.

    Returns
    -------
    Axes
        In metres of a frame made for all of them, with equal scales.

    Raises
    ------
    InputError
        If there is no field.
    """
    from matplotlib.patches import Patch, PathPatch
    from matplotlib.patheffects import withStroke

    if not fields:
        raise InputError("map of a farm: there is no field to draw. Give one at least.")
    shapes = _in_one_frame(fields)
    with paper.drawing_style():
        handles: list[Any] = [
            Patch(facecolor="none", edgecolor="none", label=paper.short_text(f"{number}  {field.name}", 34))
            for number, field in enumerate(fields[:_MOST_LISTED], start=1)
        ]
        total = f"{count_text(len(fields), 'field')}, {area_text(sum(field.area_m2 for field in fields))}"
        bounds = tuple(shapely.total_bounds(shapes).tolist())
        sheet = paper.new_sheet(bounds, axes=ax, title_lines=1, legend_rows=ceil(len(handles) / _COLUMNS))
        for number, shape in enumerate(shapes, start=1):
            sheet.axes.add_patch(PathPatch(paper.shape_path(shape), **_GROUND, zorder=1))
            place = shapely.point_on_surface(max(shapely.get_parts(shape), key=shapely.area))
            sheet.axes.text(
                place.x, place.y, str(number), fontsize=_NUMBER_SIZE, fontweight="bold", ha="center", va="center",
                zorder=3, path_effects=[withStroke(linewidth=2.2, foreground="white")],
            )  # fmt: skip
        paper.draw_furniture(sheet, name, [total], handles, _COLUMNS)
    return sheet.axes


def _in_one_frame(fields: Sequence[Field]) -> list[shapely.MultiPolygon]:
    """Return the outlines in one plane: that of all fields together, or their own where a place is not known."""
    if len(fields) == 1 or not all(field.is_placed for field in fields):
        return [field.shape for field in fields]
    places = [shape_to_lonlat(field.shape, field.frame) for field in fields]
    frame = frame_for(shapely.MultiPolygon([part for place in places for part in place.geoms]))
    return [shape_to_frame(place, frame) for place in places]
