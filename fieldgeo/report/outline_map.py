"""The picture of an outline: its ground and holes, the calls of its deed, and what nobody walked."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np
import shapely

from fieldgeo.outline.deed.blunders import bearing_text
from fieldgeo.outline.evidence import Course, DeedReport, WalkReport
from fieldgeo.outline.field import Field
from fieldgeo.report import sheet as paper
from fieldgeo.report.lines import area_text, length_text
from fieldgeo.report.sheet import Sheet
from fieldgeo.units import ACRE_M2, to_feet

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from fieldgeo.layout.axes import Floats

_COLUMNS: Final = 2  # of the legend
_OUTLINE_STYLE: Final[dict[str, Any]] = {"facecolor": paper.GROUND, "edgecolor": paper.OUTLINE, "linewidth": 1.4}
_HOLE_STYLE: Final[dict[str, Any]] = {"facecolor": paper.HOLE, "edgecolor": paper.OUTLINE, "linewidth": 0.8}
_CALL_SIZE: Final = 6.0  # type of a call [points]
_CALL_OFF: Final = 7.0  # from a side to the middle of its call [points]
_LETTER_SHARE: Final = 0.56  # mean width of a letter / size of its type
_CORNER_SIZE: Final = 7.0
_CORNER_OFF: Final = 9.0  # from a corner to its number [points]
_ROOM: Final = 14.0  # round the outline, for calls and numbers [points]
_PAGE_WIDTH: Final = 370.0  # about what the map is wide [points]
_GAP_STYLE: Final[dict[str, Any]] = {
    "marker": "o", "markersize": 6.0, "markerfacecolor": "white", "markeredgecolor": paper.OUTLINE,
    "markeredgewidth": 1.2, "linestyle": "none",
}  # fmt: skip


def plot_field(field: Field, *, ax: Axes | None = None) -> Axes:
    """Draw the outline of a field, north up. Nothing is shown or saved.

    The calls of a deed stand along its sides where there is room for them, and its corners are numbered from the
    beginning. What nobody walked of a walked edge is marked.

    Parameters
    ----------
    field : Field
        The field.
    ax : Axes, optional
        Where to draw; without it on a figure of its own.

    Returns
    -------
    Axes
        In metres of the field's frame, with equal scales.
    """
    evidence = field.evidence
    half_m2 = None if evidence is None else evidence.area_uncertainty_m2
    sure = "" if half_m2 is None else f"   within {max(half_m2 / ACRE_M2, 0.01):,.2f} ac, 95 in 100"
    lines = [f"{area_text(field.area_m2)}{sure}", f"perimeter {length_text(field.perimeter_m)}"]
    report = None if evidence is None else evidence.report
    if isinstance(report, DeedReport):
        own = "bearings are the deed's own"
        lines.append(own if field.is_placed else f"{own}, and so is north: no corner's place is known")
    with paper.drawing_style():
        handles = [*outline_handles(field), *_report_handles(report)]
        bounds = field.shape.bounds
        if isinstance(report, DeedReport):
            bounds = _with_room(bounds)
        sheet = paper.new_sheet(bounds, axes=ax, title_lines=len(lines), legend_rows=-(-len(handles) // _COLUMNS))
        draw_outline(sheet, field)
        if isinstance(report, DeedReport):
            _draw_calls(sheet, field, report)
        if isinstance(report, WalkReport):
            _draw_gaps(sheet, field, report)
        paper.draw_furniture(sheet, field.name, lines, handles, _COLUMNS)
    return sheet.axes


def draw_outline(sheet: Sheet, field: Field) -> None:
    """Draw the ground of a field and its holes.

    Parameters
    ----------
    sheet : Sheet
        Where to draw.
    field : Field
        The field.
    """
    from matplotlib.patches import PathPatch

    sheet.axes.add_patch(PathPatch(paper.shape_path(field.shape), **_OUTLINE_STYLE, zorder=1))
    holes = [shapely.Polygon(ring) for part in field.shape.geoms for ring in part.interiors]
    if holes:
        sheet.axes.add_patch(PathPatch(paper.shape_path(shapely.MultiPolygon(holes)), **_HOLE_STYLE, zorder=6))


def outline_handles(field: Field) -> list[Any]:
    """Return the entries of a legend for the ground of a field and its holes.

    Parameters
    ----------
    field : Field
        The field.
    """
    from matplotlib.patches import Patch

    parts = len(field.shape.geoms)
    holes = sum(len(part.interiors) for part in field.shape.geoms)
    handles = [Patch(**_OUTLINE_STYLE, label="outline" if parts == 1 else f"outline, {parts} parts")]
    if holes:
        handles.append(Patch(**_HOLE_STYLE, label=f"{holes} {'hole' if holes == 1 else 'holes'}, not worked"))
    return handles


def _report_handles(report: object) -> list[Any]:
    from matplotlib.lines import Line2D

    if not isinstance(report, WalkReport) or not report.gaps:
        return []
    total_m = sum(gap.length_m for gap in report.gaps)
    return [Line2D([], [], **_GAP_STYLE, label=f"not walked: {len(report.gaps)}, {length_text(total_m)} in all")]


def _with_room(bounds: tuple[float, float, float, float]) -> tuple[float, float, float, float]:
    low_x, low_y, high_x, high_y = bounds
    room_m = _ROOM * max(high_x - low_x, (high_y - low_y) / 1.1) / _PAGE_WIDTH
    return low_x - room_m, low_y - room_m, high_x + room_m, high_y + room_m


def _draw_gaps(sheet: Sheet, field: Field, report: WalkReport) -> None:
    for gap in report.gaps:
        x, y = field.frame.to_frame(gap.lon_deg, gap.lat_deg)
        sheet.axes.plot([float(x)], [float(y)], **_GAP_STYLE, zorder=7)


def _draw_calls(sheet: Sheet, field: Field, report: DeedReport) -> None:
    corners = np.column_stack(field.frame.to_frame(*np.array(report.corners_lonlat).T))
    ends = np.roll(corners, -1, axis=0)
    for course, corner, end in zip(report.courses, corners, ends, strict=True):
        _draw_number(sheet, field.shape, course.number, corner)
        _draw_call(sheet, field.shape, course, corner, end)


def _draw_call(sheet: Sheet, shape: shapely.MultiPolygon, course: Course, corner: Floats, end: Floats) -> None:
    """Write a call along its side, outside the ground, where the side is long enough for it."""
    text = f"{bearing_text(course.azimuth_deg)}  {to_feet(course.length_m):,.1f} ft"
    if course.kind == "curve" and course.radius_m is not None:
        text = f"R {to_feet(abs(course.radius_m)):,.1f} ft, arc {to_feet(course.length_m):,.1f} ft"
    along = end - corner
    side_m = float(np.hypot(*along))
    if side_m / sheet.metres_per_point < len(text) * _LETTER_SHARE * _CALL_SIZE:
        return
    middle = _middle_of_side(shape, corner, end)
    across = np.array([along[1], -along[0]]) / side_m
    if shape.contains(shapely.Point(middle + across * sheet.metres_per_point)):
        across = -across
    rotation = (float(np.degrees(np.arctan2(along[1], along[0]))) + 90) % 180 - 90
    sheet.axes.annotate(
        text, (float(middle[0]), float(middle[1])), xytext=tuple(_CALL_OFF * across), textcoords="offset points",
        fontsize=_CALL_SIZE,
        rotation=rotation, rotation_mode="anchor", ha="center", va="center", zorder=8, annotation_clip=False,
    )  # fmt: skip


def _middle_of_side(shape: shapely.MultiPolygon, corner: Floats, end: Floats) -> Floats:
    """Return where the outline passes nearest to the middle between two corners: on the arc, for a curve."""
    middle = shapely.Point((corner + end) / 2)
    along = end - corner
    reach = np.array([along[1], -along[0]])
    cut = shapely.intersection(shape.boundary, shapely.LineString([middle.coords[0] - reach, middle.coords[0] + reach]))
    places = shapely.get_coordinates(cut)
    if len(places) == 0:
        return np.asarray(middle.coords[0])
    return np.asarray(places[np.hypot(*(places - middle.coords[0]).T).argmin()])


def _draw_number(sheet: Sheet, shape: shapely.MultiPolygon, number: int, corner: Floats) -> None:
    """Write the number of a corner beside it, inside the ground."""
    turns = np.linspace(0, 2 * np.pi, 24, endpoint=False)
    around = np.column_stack([np.cos(turns), np.sin(turns)])
    places = shapely.points(corner + around * _CORNER_OFF * sheet.metres_per_point)
    depth = np.where(shapely.contains(shape, places), shapely.distance(shape.boundary, places), -1.0)
    towards = around[int(depth.argmax())]
    sheet.axes.annotate(
        str(number), (float(corner[0]), float(corner[1])), xytext=tuple(_CORNER_OFF * towards),
        textcoords="offset points", fontsize=_CORNER_SIZE,
        fontweight="bold", ha="center", va="center", zorder=8, annotation_clip=False,
    )  # fmt: skip
    sheet.axes.plot(*corner[:, None], marker="o", markersize=2.5, color=paper.OUTLINE, zorder=7)
