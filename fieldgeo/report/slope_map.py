"""The picture of a field's slope: steepness in tints, contours of height, passes, and where rows run too steep."""

from __future__ import annotations

from itertools import pairwise
from math import ceil
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import shapely

from fieldgeo.layout.axes import Floats
from fieldgeo.layout.curved.model import CurvedLayout
from fieldgeo.report import sheet as paper
from fieldgeo.report.lines import area_text, direction_text
from fieldgeo.report.outline_map import draw_outline, outline_handles
from fieldgeo.report.sheet import Sheet
from fieldgeo.terrain.ground import box_mean
from fieldgeo.units import FOOT_M, to_feet

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from fieldgeo.export.files import PathLike
    from fieldgeo.terrain.lines import Stretch
    from fieldgeo.terrain.measure import FieldSlopes

# Light to dark, so that they are told apart without colour; ours. Classes are those of the practice factor's table, the
# upper ones taken together.
CLASSES_PCT: Final = (0.0, 3.0, 6.0, 9.0, 13.0)
CLASS_COLOURS: Final = ("#f4ecd8", "#dcc596", "#bd9a58", "#8f6b2e", "#5a3d12")
_CONTOURS: Final = 10  # about so many
_CONTOUR_SIZE: Final = 5.0  # type of the heights on contours [points]
_COLUMNS: Final = 2
_PASS_LINE: Final = 0.5
_STEEP_LINE: Final = 1.9  # of a pass where its grade is too steep: the same colour, since it is a pass


def save_slopes(slopes: FieldSlopes, path: PathLike, *, force: bool = False) -> None:
    """Save the picture of a field's slope, whole or not at all.

    Parameters
    ----------
    slopes : FieldSlopes
        Slope of a field and of a plan on it.
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
    paper.save_sheet(lambda: plot_slopes(slopes), path, force=force)


def plot_slopes(slopes: FieldSlopes, *, ax: Axes | None = None) -> Axes:
    """Draw a field's slope with the passes of a plan, north up. Nothing is shown or saved.

    Parameters
    ----------
    slopes : FieldSlopes
        Slope of a field and of a plan on it.
    ax : Axes, optional
        Where to draw; without it on a figure of its own.

    Returns
    -------
    Axes
        In metres of the field's frame, with equal scales.
    """
    field = slopes.plan.field
    over = slopes.share_over("along", slopes.row_grade)
    lines = [
        f"{area_text(field.area_m2)}   {_way_text(slopes)}   median slope {100 * slopes.median:.1f} %",
        f"smoothed to {to_feet(slopes.ground.width_m):.4g} ft ({slopes.ground.width_m:.4g} m)"
        + ("" if slopes.p_factor is None else f"   erosion factor {slopes.p_factor:.2f} (recalled)"),
    ]
    with paper.drawing_style():
        step_m = _contour_step_m(slopes)
        handles = [*outline_handles(field), *_handles(slopes, over)]
        sheet = paper.new_sheet(
            field.shape.bounds, axes=ax, title_lines=len(lines), legend_rows=ceil(len(handles) / _COLUMNS)
        )
        draw_outline(sheet, field)
        _draw_ground(sheet, slopes, step_m)
        _draw_passes(sheet, slopes)
        for which, letter in (("along", "A"), ("across", "B")):
            stretch = slopes.steepest(which)
            if stretch is not None:
                _draw_stretch(sheet, stretch, letter)
        paper.draw_furniture(sheet, field.name, lines, handles, _COLUMNS)
    return sheet.axes


def _way_text(slopes: FieldSlopes) -> str:
    layout = slopes.plan.layout
    if isinstance(layout, CurvedLayout):
        return f"{len(layout.passes)} bent passes"
    return f"direction {direction_text(layout.direction_deg)}"


def _places(slopes: FieldSlopes) -> tuple[Floats, Floats, Floats, Floats]:
    """Return the corners and the middles of the cells in the frame."""
    heights = slopes.ground.heights
    high, wide = heights.height_m.shape
    found = []
    for rows, columns in (
        np.indices((high + 1, wide + 1)).astype(float),
        np.indices((high, wide)) + 0.5,
    ):
        x_m, y_m = heights.placing.places(rows.ravel(), columns.ravel())
        found += [x_m.reshape(rows.shape), y_m.reshape(rows.shape)]
    return found[0], found[1], found[2], found[3]


def _draw_ground(sheet: Sheet, slopes: FieldSlopes, step_m: float) -> None:
    from matplotlib.colors import BoundaryNorm, ListedColormap
    from matplotlib.patches import PathPatch

    ground = slopes.ground
    corner_x, corner_y, middle_x, middle_y = _places(slopes)
    per_cent = np.ma.masked_invalid(100 * np.hypot(ground.east, ground.north))
    clip = PathPatch(
        paper.shape_path(slopes.plan.field.shape), facecolor="none", edgecolor=paper.OUTLINE, linewidth=1.4, zorder=3.5
    )
    sheet.axes.add_patch(clip)
    limits = sheet.axes.get_xlim(), sheet.axes.get_ylim()
    tints = sheet.axes.pcolormesh(
        corner_x, corner_y, per_cent, cmap=ListedColormap(CLASS_COLOURS), zorder=2, rasterized=True,
        norm=BoundaryNorm([*CLASSES_PCT, 1e9], len(CLASS_COLOURS)),
    )  # fmt: skip
    tints.set_clip_path(clip)
    height = np.ma.masked_invalid(box_mean(ground.heights, ground.width_m))
    if min(height.shape) > 1 and height.count() and float(np.ptp(height.compressed())) > step_m:
        low, high = float(height.min()), float(height.max())
        levels = np.arange(np.ceil(low / step_m), np.floor(high / step_m) + 1) * step_m
        contours = sheet.axes.contour(
            middle_x, middle_y, height, levels=levels, colors=paper.OUTLINE, linewidths=0.35, zorder=3
        )
        contours.set_clip_path(clip)
        _label_contours(sheet, contours, slopes)
    sheet.axes.set_xlim(*limits[0])
    sheet.axes.set_ylim(*limits[1])


def _label_contours(sheet: Sheet, contours: Any, slopes: FieldSlopes) -> None:
    """Write the height in feet on each contour, where that is on the field."""
    from matplotlib.patheffects import withStroke

    labels = sheet.axes.clabel(
        contours, fmt=lambda level: f"{level / FOOT_M:.0f}", fontsize=_CONTOUR_SIZE, inline=False
    )  # fmt: skip
    for label in list(labels):
        if shapely.contains_xy(slopes.plan.field.shape, *label.get_position()):
            label.set(zorder=6, path_effects=[withStroke(linewidth=1.6, foreground="white")])
        else:
            label.remove()


def _draw_passes(sheet: Sheet, slopes: FieldSlopes) -> None:
    from matplotlib.collections import LineCollection

    lines = [each.driven.line for each in slopes.passes]
    sheet.axes.add_collection(LineCollection(lines, colors=paper.PASS, linewidths=_PASS_LINE, zorder=4), autolim=False)
    steep = []
    for each in slopes.passes:
        is_steep = np.abs(each.along) > slopes.row_grade + 1e-9
        edges = np.flatnonzero(np.diff(np.concatenate([[0], is_steep.astype(int), [0]])))
        for start, end in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
            steep.append(each.place_m[start:end] if end - start > 1 else each.place_m[[start, start]])
    sheet.axes.add_collection(
        LineCollection(steep, colors=paper.PASS, linewidths=_STEEP_LINE, zorder=5, capstyle="projecting"), autolim=False
    )


def _draw_stretch(sheet: Sheet, stretch: Stretch, letter: str) -> None:
    from matplotlib.patheffects import withStroke

    sheet.axes.plot(
        *stretch.middle_m, marker="o", markersize=9, markerfacecolor="white", markeredgecolor=paper.OUTLINE, zorder=8
    )
    sheet.axes.text(
        *stretch.middle_m, letter, fontsize=6.5, fontweight="bold", ha="center", va="center_baseline", zorder=9,
        path_effects=[withStroke(linewidth=1.0, foreground="white")],
    )  # fmt: skip


def _contour_step_m(slopes: FieldSlopes) -> float:
    height = slopes.ground.heights.height_m
    span_ft = float(np.nanmax(height) - np.nanmin(height)) / FOOT_M
    return paper.round_length(max(span_ft / _CONTOURS * 1.5, 0.5)) * FOOT_M


def _handles(slopes: FieldSlopes, over: float | None) -> list[Any]:
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    names = [f"{low:g} to {high:g} %" for low, high in pairwise(CLASSES_PCT)]
    names.append(f"{CLASSES_PCT[-1]:g} % and more")
    handles: list[Any] = [
        Patch(facecolor=colour, edgecolor=paper.TURN, linewidth=0.3, label=f"slope {name}")
        for colour, name in zip(CLASS_COLOURS, names, strict=True)
    ]
    handles.append(Line2D([], [], color=paper.OUTLINE, linewidth=0.35, label="contours, heights in feet"))
    handles.append(Line2D([], [], color=paper.PASS, linewidth=_PASS_LINE, label="pass"))
    if over is not None:
        label = f"pass over {100 * slopes.row_grade:.2g} % grade: {100 * over:.0f} % of them"
        handles.append(Line2D([], [], color=paper.PASS, linewidth=_STEEP_LINE, label=label))
    for which, letter in (("along", "A"), ("across", "B")):
        stretch = slopes.steepest(which)
        if stretch is not None:
            label = f"{letter}: steepest {which} the rows, {100 * stretch.grade:.1f} %"
            handles.append(
                Line2D([], [], linestyle="none", marker="o", markersize=6, markerfacecolor="white",
                       markeredgecolor=paper.OUTLINE, label=label)
            )  # fmt: skip
    return handles
