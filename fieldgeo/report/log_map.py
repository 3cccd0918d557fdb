"""The picture of a log: what was driven, where it stood still, what was worked twice and missed."""

from __future__ import annotations

from math import ceil
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import shapely

from fieldgeo.analysis.log.measure import DayWork
from fieldgeo.export.files import PathLike
from fieldgeo.layout import overlay
from fieldgeo.report import sheet as paper
from fieldgeo.report.lines import area_text, count_text, direction_text
from fieldgeo.report.sheet import Sheet
from fieldgeo.units import HOUR_S, to_feet

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from fieldgeo.frame import FloatArray

_COLUMNS: Final = 2
_THIN_M: Final = 0.2  # detail of the track that no picture shows
_LABELLED_STOPS: Final = 6  # the longest ones have their minutes beside them
_SPREAD: Final = (26.0, 10.0)  # room that a label needs for itself [points]
_OUTLINE: Final[dict[str, Any]] = {"facecolor": paper.GROUND, "edgecolor": paper.OUTLINE, "linewidth": 1.0}
_PASS: Final[dict[str, Any]] = {"color": paper.PASS, "linewidth": 0.8}
_HEADLAND: Final[dict[str, Any]] = {"color": paper.HEADLAND, "linewidth": 1.1, "dashes": (5, 1.5)}
_TURN: Final[dict[str, Any]] = {"color": paper.TURN, "linewidth": 0.6}
_TRAVEL: Final[dict[str, Any]] = {"color": paper.TURN, "linewidth": 0.8, "dashes": (1, 1.5)}
_OVERLAP: Final[dict[str, Any]] = {"hatch": "//////", "colour": paper.OVERLAP}
_SKIP: Final[dict[str, Any]] = {"hatch": "xxxxxx", "colour": paper.SKIP}


def save_log_map(work: DayWork, path: PathLike, *, force: bool = False) -> None:
    """Save the picture of a log, whole or not at all.

    Parameters
    ----------
    work : DayWork
        A log measured.
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
    paper.save_sheet(lambda: plot_log(work), path, force=force)


def plot_log(work: DayWork, *, ax: Axes | None = None) -> Axes:
    """Draw a log, north up. Nothing is shown or saved.

    Parameters
    ----------
    work : DayWork
        A log measured.
    ax : Axes, optional
        Where to draw; without it on a figure of its own.

    Returns
    -------
    Axes
        In metres of the log's frame, with equal scales.
    """
    field = work.swept.outline
    lines = [
        f"{area_text(field.area_m2)}   direction {direction_text(work.pattern.direction_deg)}   "
        f"{count_text(len(work.pass_lengths_m), 'pass')}",
        f"{to_feet(work.log.width_m):.4g} ft ({work.log.width_m:.4g} m) wide   field time "
        f"{work.field_time_s / HOUR_S:.2f} h   field efficiency {100 * work.field_efficiency:.1f} %",
    ]
    with paper.drawing_style():
        handles = _handles(work)
        driven = [trip.line() for trip in work.trips] + [turn.line for turn in work.timing.turns]
        bounds = shapely.total_bounds([field.shape, *(shapely.LineString(line) for line in driven)])
        sheet = paper.new_sheet(
            tuple(bounds.tolist()), axes=ax, title_lines=len(lines), legend_rows=ceil(len(handles) / _COLUMNS)
        )
        _draw_ground(sheet, work)
        _draw_lines(sheet, work)
        _draw_stops(sheet, work)
        paper.draw_furniture(sheet, work.log.name, lines, handles, _COLUMNS)
    return sheet.axes


def worked_twice(work: DayWork) -> shapely.MultiPolygon:
    """Return the ground that more than one stretch swept. [m]

    Parameters
    ----------
    work : DayWork
        A log measured.
    """
    swaths = np.array(work.swept.swaths, dtype=object)
    tree = shapely.STRtree(swaths)
    shared = []
    for number, swath in enumerate(swaths.tolist()):
        before = [other for other in tree.query(swath, predicate="intersects").tolist() if other < number]
        if before:
            shared += list(overlay.intersection(swath, overlay.union(swaths[before])).geoms)
    return overlay.union(shared) if shared else shapely.MultiPolygon()


def _draw_ground(sheet: Sheet, work: DayWork) -> None:
    from matplotlib.patches import PathPatch

    field = work.swept.outline
    sheet.axes.add_patch(PathPatch(paper.shape_path(field.shape), **_OUTLINE, zorder=1))
    missed = overlay.difference(field.shape, work.swept.ground)
    for ground, style in ((worked_twice(work), _OVERLAP), (missed, _SKIP)):
        # Slivers thinner than the line they are drawn with only darken the picture.
        parts = [part for part in ground.geoms if part.area > 0.02 * work.log.width_m**2]
        if parts:
            patch = PathPatch(paper.shape_path(shapely.MultiPolygon(parts)), **paper.hatched(**style), zorder=3)
            sheet.axes.add_patch(patch)


def _draw_lines(sheet: Sheet, work: DayWork) -> None:
    from matplotlib.collections import LineCollection

    thin = min(1.0, 0.25 * work.log.width_m / sheet.metres_per_point)
    stretches = {
        role: [_thinned(part.line) for trip in work.of_role(role) for part in trip.stretches]
        for role in ("pass", "piece", "headland", "travel")
    }
    turns = work.timing.turns
    for lines, style, width, zorder in (
        (stretches["travel"], _TRAVEL, 1.0, 3.5),
        ([_thinned(turn.line) for turn in turns if turn.length_m is not None], _TURN, 1.0, 4.0),
        ([turn.line for turn in turns if turn.length_m is None], _TURN | {"dashes": (2, 2)}, 1.0, 4.0),
        (stretches["headland"], _HEADLAND, thin, 4.5),
        (stretches["pass"] + stretches["piece"], _PASS, thin, 5.0),
    ):
        dashes = (0, style["dashes"]) if "dashes" in style else "solid"
        sheet.axes.add_collection(
            LineCollection(
                lines, colors=style["color"], linewidths=style["linewidth"] * width, linestyles=[dashes], zorder=zorder
            ),
            autolim=False,
        )


def _thinned(line: FloatArray) -> FloatArray:
    return shapely.get_coordinates(shapely.simplify(shapely.LineString(line), _THIN_M))


def _draw_stops(sheet: Sheet, work: DayWork) -> None:
    """Mark where the machine stood, and for how long the longest ones were."""
    from matplotlib.patheffects import withStroke

    stops = sorted(work.timing.stops, key=lambda stop: -stop.duration_s)
    halo = [withStroke(linewidth=2.2, foreground="white")]
    room = np.array(_SPREAD) * sheet.metres_per_point
    taken: list[FloatArray] = []
    for number, stop in enumerate(stops):
        at = np.array(stop.xy)
        sheet.axes.plot(*stop.xy, **_STOP_STYLE, zorder=7)
        if number < _LABELLED_STOPS and not any((np.abs(at - other) < room).all() for other in taken):
            taken.append(at)
            minutes = f"{stop.duration_s / 60:.0f} min" if stop.duration_s >= 90 else f"{stop.duration_s:.0f} s"
            is_right = stop.xy[0] > (sheet.low_xy[0] + sheet.high_xy[0]) / 2
            sheet.axes.annotate(
                minutes, stop.xy, xytext=(-5 if is_right else 5, 0), textcoords="offset points", fontsize=6.5,
                ha="right" if is_right else "left", va="center", zorder=8, path_effects=halo,
            )  # fmt: skip


_STOP_STYLE: Final[dict[str, Any]] = {
    "marker": "D", "markersize": 4.0, "markerfacecolor": "white", "markeredgecolor": paper.OUTLINE,
    "markeredgewidth": 1.0, "linestyle": "none",
}  # fmt: skip


def _handles(work: DayWork) -> list[Any]:
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    swept = work.swept
    outline = "outline" if swept.is_outline_given else "outline, drawn round the work"
    handles: list[Any] = [Patch(**_OUTLINE, label=outline)]
    counts = {role: len(work.of_role(role)) for role in ("pass", "piece", "headland", "travel")}
    pieces = f", {count_text(counts['piece'], 'short piece')}" if counts["piece"] else ""
    handles.append(Line2D([], [], **_PASS, label=count_text(counts["pass"], "pass") + pieces))
    if counts["headland"]:
        handles.append(Line2D([], [], **_HEADLAND, label=count_text(counts["headland"], "headland run")))
    if work.timing.turns:
        is_seen = any(turn.length_m is not None for turn in work.timing.turns)
        style = _TURN if is_seen else _TURN | {"dashes": (2, 2)}
        label = count_text(len(work.timing.turns), "turn") + ("" if is_seen else ", way not recorded")
        handles.append(Line2D([], [], **style, label=label))
    if counts["travel"]:
        handles.append(Line2D([], [], **_TRAVEL, label="travel"))
    if work.timing.stops:
        handles.append(Line2D([], [], **_STOP_STYLE, label=count_text(len(work.timing.stops), "stop")))
    for style, what, area_m2 in ((_OVERLAP, "overlap", swept.overlap_m2), (_SKIP, "skip", swept.skip_m2)):
        label = f"{what} {area_text(area_m2)}, {100 * area_m2 / swept.outline.area_m2:.1f} %"
        handles.append(Patch(**paper.hatched(**style), label=label))
    return handles
