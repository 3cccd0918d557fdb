"""The close-up of a plan: rows and guess rows where a pass meets the headland."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np
import shapely

from fieldgeo.errors import InputError
from fieldgeo.report import sheet as paper
from fieldgeo.report.plan_layers import draw_arrows
from fieldgeo.units import INCH_M, to_feet

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes

    from fieldgeo.analysis.plan import PlanFigures
    from fieldgeo.export.files import PathLike
    from fieldgeo.layout.axes import Floats
    from fieldgeo.report.sheet import Sheet
    from fieldgeo.travel.route import Leg

_REACH_PITCHES: Final = 2.2  # from the middle of the picture to its sides, in passes
_COLUMNS: Final = 2
_NUMBER_SIZE: Final = 9.0
_ROW: Final[dict[str, Any]] = {"linewidth": 0.6}
_GUESS: Final[dict[str, Any]] = {"color": paper.OUTLINE, "linewidth": 1.0, "dashes": (4, 2)}
_CENTRE: Final[dict[str, Any]] = {"linewidth": 1.8}
_OUTLINE: Final[dict[str, Any]] = {"color": paper.OUTLINE, "linewidth": 2.2}
_OVERLAP: Final[dict[str, Any]] = {"hatch": "//////", "colour": paper.OVERLAP}
_SKIP: Final[dict[str, Any]] = {"hatch": "xxxxxx", "colour": paper.SKIP}
_COLOURS: Final = {"pass": paper.PASS, "headland": paper.HEADLAND}


def save_rows(plan: PlanFigures, path: PathLike, *, force: bool = False) -> None:
    """Save the close-up of the rows, whole or not at all.

    Parameters
    ----------
    plan : PlanFigures
        As in `plot_rows`.
    path : str or path
        ``.svg``, ``.png`` or ``.pdf``.
    force : bool
        Whether an existing file may be replaced.

    Raises
    ------
    InputError
        If the tool lays no rows, there is no pass, or the suffix is of another format.
    FileError
        If the file exists and `force` is not set, or it cannot be written.
    """
    paper.save_sheet(lambda: plot_rows(plan), path, force=force)


def plot_rows(plan: PlanFigures, *, at_xy: Floats | None = None, ax: Axes | None = None) -> Axes:
    """Draw rows and guess rows about a place, north up. Nothing is shown or saved.

    Parameters
    ----------
    plan : PlanFigures
        One tool with rows on one field.
    at_xy : ndarray of shape (2,), optional
        Middle of the picture; without it the end of the longest pass. [m]
    ax : Axes, optional
        Where to draw; without it on a figure of its own.

    Returns
    -------
    Axes
        In metres of the field's frame, with equal scales.

    Raises
    ------
    InputError
        If the tool lays no rows, or there is no pass.
    """
    tool = plan.tool
    if not tool.rows or not tool.row_spacing_m:
        raise InputError(f"close-up: {tool.name!r} lays no rows. Give a tool with rows and row spacing.")
    passes = [leg for leg in plan.route.legs if leg.state == "pass"]
    if not passes:
        raise InputError(f"close-up: there is no pass of {tool.name!r} on {plan.field.name!r} to look at.")
    longest = max(range(len(passes)), key=lambda row: passes[row].length_m)
    middle = np.asarray(passes[longest].points()[-1] if at_xy is None else at_xy, dtype=float)
    reach = _REACH_PITCHES * tool.pitch_m
    window = shapely.box(*(middle - reach), *(middle + reach))
    worked = [
        leg for leg in plan.route.legs if leg.is_work and shapely.LineString(leg.points()).distance(window) < reach
    ]
    where = f"   at the end of pass {longest + 1}, the longest" if at_xy is None else ""
    lines = [
        f"{tool.rows} rows at {tool.row_spacing_m / INCH_M:.4g} in ({tool.row_spacing_m:.4g} m){where}",
        f"{to_feet(tool.width_m):.4g} ft ({tool.width_m:.4g} m) wide: {paper.short_text(tool.name, 46)}",
    ]
    with paper.drawing_style():
        handles = _handles(worked)
        sheet = paper.new_sheet(
            window.bounds, axes=ax, title_lines=len(lines), legend_rows=-(-len(handles) // _COLUMNS)
        )
        _draw_ground(sheet, plan, window)
        for leg in worked:
            _draw_leg(sheet, leg, window, rows=tool.rows, spacing_m=tool.row_spacing_m, pitch_m=tool.pitch_m)
        _draw_numbers(sheet, passes, window)
        paper.draw_furniture(sheet, plan.field.name, lines, handles, _COLUMNS)
    return sheet.axes


def row_offsets_m(rows: int, spacing_m: float) -> Floats:
    """Return where the rows of a tool lie beside its middle, shape (R,), to the right first. [m]

    Parameters
    ----------
    rows : int
        Number of rows.
    spacing_m : float
        Distance between rows. [m]

    Examples
    --------
    >>> row_offsets_m(4, 1.0).tolist()
    [-1.5, -0.5, 0.5, 1.5]
    """
    return np.asarray((np.arange(rows) - (rows - 1) / 2) * spacing_m, dtype=np.float64)


def _draw_ground(sheet: Sheet, plan: PlanFigures, window: shapely.Polygon) -> None:
    from matplotlib.patches import PathPatch

    shape = plan.field.shape
    shapes = plan.shapes()
    looks: tuple[tuple[list[Any], dict[str, Any], float], ...] = (
        ([shape], {"facecolor": paper.GROUND, "linewidth": 0}, 1),
        ([each.polygon for each in shapes.overlap], paper.hatched(**_OVERLAP), 2),
        ([shapes.skip], paper.hatched(**_SKIP), 2),
    )
    for grounds, look, zorder in looks:
        # Each by itself, since pieces of overlap lie on each other; to a tenth of a millimetre.
        cut = [shapely.intersection(ground, window, grid_size=1e-4) for ground in grounds]
        inside = [part for ground in cut for part in shapely.get_parts(ground) if part.geom_type == "Polygon"]
        if inside:
            sheet.axes.add_patch(PathPatch(paper.shape_path(shapely.MultiPolygon(inside)), **look, zorder=zorder))
    _draw_lines(sheet, [shapely.intersection(shape.boundary, window)], _OUTLINE, 6)


def _draw_leg(sheet: Sheet, leg: Leg, window: shapely.Polygon, *, rows: int, spacing_m: float, pitch_m: float) -> None:
    """Draw the rows of a pass or a round, its middle and, of a pass, the guess rows beside it."""
    line = shapely.LineString(leg.points())
    colour = {"color": _COLOURS[leg.state]}
    beside = [shapely.offset_curve(line, offset) for offset in row_offsets_m(rows, spacing_m).tolist()]
    _draw_lines(sheet, [shapely.intersection(row, window) for row in beside], _ROW | colour, 3, label="rows")
    _draw_lines(sheet, [shapely.intersection(line, window)], _CENTRE | colour, 4)
    if leg.state == "pass":
        guess = [shapely.offset_curve(line, side * pitch_m / 2) for side in (-1, 1)]
        _draw_lines(sheet, [shapely.intersection(each, window) for each in guess], _GUESS, 3.5)


def _draw_lines(
    sheet: Sheet, lines: Sequence[Any], style: dict[str, Any], zorder: float, *, label: str = "_lines"
) -> None:
    from matplotlib.collections import LineCollection

    parts = [
        part
        for line in lines
        for part in shapely.get_parts(line)
        if part.geom_type == "LineString" and not part.is_empty
    ]
    sheet.axes.add_collection(
        LineCollection(
            [shapely.get_coordinates(part) for part in parts], colors=style["color"], linewidths=style["linewidth"],
            linestyles=[(0, style["dashes"]) if "dashes" in style else "solid"], zorder=zorder, label=label,
        ),
        autolim=False,
    )  # fmt: skip


def _draw_numbers(sheet: Sheet, passes: Sequence[Leg], window: shapely.Polygon) -> None:
    """Write the number of each pass on it, and draw an arrow the way it is driven."""
    from matplotlib.patheffects import withStroke

    for number, leg in enumerate(passes, start=1):
        inside = shapely.intersection(shapely.LineString(leg.points()), window)
        shown = [part for part in shapely.get_parts(inside) if part.length > 30 * sheet.metres_per_point]
        for part in shown:
            place = shapely.get_coordinates(part.interpolate(0.5, normalized=True))[0]
            sheet.axes.text(
                float(place[0]), float(place[1]), str(number), fontsize=_NUMBER_SIZE, fontweight="bold",
                color=paper.PASS, ha="center", va="center", zorder=8,
                path_effects=[withStroke(linewidth=3.0, foreground="white")],
            )  # fmt: skip
            draw_arrows(sheet, [_along(leg, part)], 9.0)


def _along(leg: Leg, part: shapely.LineString) -> Leg:
    """Return a stretch of a pass as a leg of its own; an intersection keeps the way a line runs."""
    from dataclasses import replace

    return replace(leg, line=shapely.get_coordinates(part), length_m=part.length)


def _handles(worked: Sequence[Leg]) -> list[Any]:
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    states = {leg.state for leg in worked}
    handles: list[Any] = [Line2D([], [], **_OUTLINE, label="outline")]
    for state, word in (("pass", "pass"), ("headland", "headland round")):
        if state in states:
            handles.append(Line2D([], [], **_ROW, color=_COLOURS[state], label=f"row of a {word}"))
            handles.append(Line2D([], [], **_CENTRE, color=_COLOURS[state], label=f"middle of a {word}"))
    handles.append(Line2D([], [], **_GUESS, label="guess row, at the side of a pass"))
    handles += [Patch(**paper.hatched(**look), label=what) for look, what in ((_OVERLAP, "overlap"), (_SKIP, "skip"))]
    return handles
