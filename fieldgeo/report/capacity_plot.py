"""Capacity against width: acres an hour by width x speed, and those that are left on these fields."""

from __future__ import annotations

from math import ceil, floor
from typing import TYPE_CHECKING, Any, Final

from fieldgeo.report import sheet as paper
from fieldgeo.report.lines import area_text, count_text, percent_text
from fieldgeo.units import ACRE_M2, FOOT_M, HECTARE_M2

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from matplotlib.axes import Axes

    from fieldgeo.analysis.figures import Figures
    from fieldgeo.export.files import PathLike

_PAGE_WIDTH: Final = 396.0  # [points]
_MARGIN: Final = 12.0
_LEFT, _RIGHT = 40.0, 44.0  # room for the figures beside the axes [points]
_CAPACITY_HEIGHT: Final = 210.0
_EFFICIENCY_HEIGHT: Final = 74.0
_TITLE_HEIGHT: Final = 68.0  # title and the scale of metres
_BETWEEN: Final = 14.0
_AXIS_HEIGHT: Final = 36.0
_LEGEND_LINE: Final = 12.2
_TYPE: Final = 8.0
_LABEL: Final = 7.5
_MOST_FIELDS: Final = 8  # fields that have lines of their own
_THEORETICAL: Final[dict[str, Any]] = {"color": paper.TURN, "linewidth": 1.1, "dashes": (4, 2)}
_EFFECTIVE: Final[dict[str, Any]] = {"color": paper.PASS, "linewidth": 1.6}
_EACH_FIELD: Final[dict[str, Any]] = {
    "linestyle": "none", "marker": "_", "markersize": 9.0, "markeredgewidth": 0.9, "color": paper.TURN,
}  # fmt: skip
_THEORETICAL_POINT: Final[dict[str, Any]] = {
    "linestyle": "none", "marker": "s", "markersize": 5.5, "markerfacecolor": "white", "markeredgecolor": paper.TURN,
}  # fmt: skip
_EFFECTIVE_POINT: Final[dict[str, Any]] = {
    "linestyle": "none", "marker": "o", "markersize": 6.0, "color": paper.PASS,
}  # fmt: skip


def save_capacity(figures: Figures, path: PathLike, *, force: bool = False) -> None:
    """Save the picture of capacity and field efficiency against width, whole or not at all.

    Parameters
    ----------
    figures : dict
        As in `plot_capacity`.
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
    paper.save_sheet(lambda: _plot_both(figures), path, force=force)


def _plot_both(figures: Figures) -> Axes:
    from matplotlib.figure import Figure

    handles = _handles(figures)
    below = _MARGIN + _AXIS_HEIGHT + _LEGEND_LINE * len(handles)
    page = _TITLE_HEIGHT + _CAPACITY_HEIGHT + _BETWEEN + _EFFICIENCY_HEIGHT + below + _MARGIN
    figure = Figure(figsize=(_PAGE_WIDTH / 72, page / 72), facecolor="white")
    left, wide = (_MARGIN + _LEFT) / _PAGE_WIDTH, (_PAGE_WIDTH - 2 * _MARGIN - _LEFT - _RIGHT) / _PAGE_WIDTH
    high = (below + _EFFICIENCY_HEIGHT + _BETWEEN) / page
    capacity = figure.add_axes((left, high, wide, _CAPACITY_HEIGHT / page))
    efficiency = figure.add_axes((left, below / page, wide, _EFFICIENCY_HEIGHT / page))
    with paper.drawing_style():
        plot_capacity(figures, ax=capacity)
        plot_efficiency(figures, ax=efficiency)
        capacity.set_xticklabels([])
        capacity.set_xlabel("")
        efficiency.set_xlim(*capacity.get_xlim())
        _write_title(capacity, figures)
        efficiency.legend(
            handles=handles, loc="upper left", bbox_to_anchor=(_MARGIN / _PAGE_WIDTH, (below - _AXIS_HEIGHT) / page),
            bbox_transform=figure.transFigure, borderaxespad=0, borderpad=0, frameon=False, fontsize=_TYPE,
            handlelength=2.6, labelspacing=0.4,
        )  # fmt: skip
    return capacity


def plot_capacity(figures: Figures, *, ax: Axes | None = None) -> Axes:
    """Draw theoretical and effective capacity of tools against their width. Nothing is shown or saved.

    Parameters
    ----------
    figures : dict
        From `fieldgeo.analysis.figures.compare_figures`; with `paying_figures` under "paying_width" the widths between
        two tools are drawn as lines.
    ax : Axes, optional
        Where to draw; without it on a figure of its own.

    Returns
    -------
    Axes
        Feet across, acres an hour up from zero; metres and hectares an hour on the opposite sides.
    """
    with paper.drawing_style():
        axes = _new_axes() if ax is None else ax
        curve = _curve(figures)
        for name, style in (("theoretical", _THEORETICAL), ("effective", _EFFECTIVE)):
            if curve:
                axes.plot(*_places(curve, f"{name}_ac_h"), **style, zorder=3, label=f"{name}, widths between")
        widths = _widths_ft(figures)
        if len(figures["fields"]) > 1:
            for field in figures["fields"][:_MOST_FIELDS]:
                rows = [row for row in figures["rows"] if row["field"] == field and row["effective_ac_h"] is not None]
                axes.plot(*_places(rows, "effective_ac_h"), **_EACH_FIELD, zorder=3.5, label="_one field")
        totals = [total | {"width_ft": widths[total["tool"]]} for total in figures["totals"]]
        axes.plot(*_places(totals, "theoretical_ac_h"), **_THEORETICAL_POINT, zorder=4, label="theoretical")
        worked = [total for total in totals if total["effective_ac_h"] is not None]
        axes.plot(*_places(worked, "effective_ac_h"), **_EFFECTIVE_POINT, zorder=5, label="effective")
        _set_scales(axes, figures, max(total["theoretical_ac_h"] for total in totals))
        _number(axes, figures, worked)
    return axes


def plot_efficiency(figures: Figures, *, ax: Axes | None = None) -> Axes:
    """Draw field efficiency of tools against their width. Nothing is shown or saved.

    Parameters
    ----------
    figures : dict
        As in `plot_capacity`.
    ax : Axes, optional
        Where to draw; without it on a figure of its own.

    Returns
    -------
    Axes
        Feet across, per cent up. The scale need not begin at zero.
    """
    with paper.drawing_style():
        axes = _new_axes() if ax is None else ax
        curve = [_in_per_cent(each) for each in _curve(figures) if each["field_efficiency"] is not None]
        if curve:
            axes.plot(*_places(curve, "efficiency_pct"), **_EFFECTIVE, zorder=3, label="widths between")
        widths = _widths_ft(figures)
        points = [
            _in_per_cent(total) | {"width_ft": widths[total["tool"]]}
            for total in figures["totals"] if total["field_efficiency"] is not None
        ]  # fmt: skip
        axes.plot(*_places(points, "efficiency_pct"), **_EFFECTIVE_POINT, zorder=5, label="field efficiency")
        shares = [each["efficiency_pct"] for each in (*curve, *points)] or [0.0, 100.0]
        # At least ten per cent are shown, so that a difference of nothing is not blown up to the page.
        middle, span = (min(shares) + max(shares)) / 2, max(max(shares) - min(shares), 8.0)
        low, high = floor(middle - 0.7 * span), ceil(middle + 0.7 * span)
        axes.set_ylim(low, high)
        axes.set_xlim(*_width_limits(figures))
        axes.set_ylabel("field efficiency, %", fontsize=_LABEL)
        _furnish(axes)
    return axes


def _new_axes() -> Axes:
    from matplotlib.figure import Figure

    return Figure(figsize=(_PAGE_WIDTH / 72, 300 / 72), facecolor="white").add_axes((0.14, 0.16, 0.72, 0.68))


def _widths_ft(figures: Figures) -> dict[str, float]:
    return {row["tool"]: row["width_ft"] for row in figures["rows"]}


def _curve(figures: Figures) -> list[Figures]:
    """Return the widths tried between two tools, the narrow one first; none where they were not tried."""
    paying = figures.get("paying_width")
    return [] if paying is None else [paying["narrow"], *paying["tried"]]


def _in_per_cent(each: Figures) -> Figures:
    return each | {"efficiency_pct": 100 * each["field_efficiency"]}


def _places(points: Iterable[Figures], name: str) -> tuple[list[float], list[float]]:
    shown = [point for point in points if point[name] is not None]
    return [point["width_ft"] for point in shown], [point[name] for point in shown]


def _width_limits(figures: Figures) -> tuple[float, float]:
    widths = list(_widths_ft(figures).values())
    room = 0.08 * max(max(widths) - min(widths), 0.5 * max(widths))
    return max(min(widths) - room, 0.0), max(widths) + room


def _set_scales(axes: Axes, figures: Figures, most_ac_h: float) -> None:
    axes.set_xlim(*_width_limits(figures))
    axes.set_ylim(0, 1.14 * most_ac_h)
    axes.set_xlabel("width, ft", fontsize=_LABEL)
    axes.set_ylabel("capacity, ac/h", fontsize=_LABEL)
    _furnish(axes)
    beside: Any = axes.secondary_yaxis("right", functions=_scaled(ACRE_M2 / HECTARE_M2))
    above: Any = axes.secondary_xaxis("top", functions=_scaled(FOOT_M))
    beside.set_ylabel("ha/h", fontsize=_LABEL)
    above.set_xlabel("width, m", fontsize=_LABEL, labelpad=2)
    for axis in (beside, above):
        axis.tick_params(labelsize=_LABEL)


def _scaled(factor: float) -> tuple[Any, Any]:
    """Return the way from one unit to another, and the way back."""
    return lambda value: value * factor, lambda value: value / factor


def _furnish(axes: Axes) -> None:
    axes.set_xlabel("width, ft", fontsize=_LABEL)
    axes.tick_params(labelsize=_LABEL)
    axes.grid(color=paper.HOLE, linewidth=0.4)
    axes.set_axisbelow(True)


def _number(axes: Axes, figures: Figures, points: Sequence[Figures]) -> None:
    """Write the numbers of the tools beside their effective capacity, as in the legend."""
    from matplotlib.patheffects import withStroke

    for number, tool in enumerate(figures["tools"], start=1):
        for point in points:
            if point["tool"] == tool:
                axes.annotate(
                    str(number), (point["width_ft"], point["effective_ac_h"]), xytext=(10, -5),
                    textcoords="offset points", fontsize=_TYPE, fontweight="bold", ha="center", va="center", zorder=6,
                    path_effects=[withStroke(linewidth=2.2, foreground="white")],
                )  # fmt: skip


def _handles(figures: Figures) -> list[Any]:
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    is_line = bool(_curve(figures))
    points = {name: {k: v for k, v in style.items() if k != "linestyle"} for name, style in (
        ("theoretical", _THEORETICAL_POINT), ("effective", _EFFECTIVE_POINT))}  # fmt: skip
    lines: dict[str, dict[str, Any]] = {"theoretical": _THEORETICAL, "effective": _EFFECTIVE}
    handles: list[Any] = [
        Line2D([], [], **(lines[name] if is_line else {"linestyle": "none"}) | points[name], label=label)
        for name, label in (
            ("theoretical", "theoretical capacity: width x speed"),
            ("effective", "effective capacity: area / field time" + ("" if not is_line else "; between the tools all "
                          "else goes over in proportion")),
        )
    ]  # fmt: skip
    fields = len(figures["fields"])
    if fields > 1:
        which = "each field" if fields <= _MOST_FIELDS else f"the first {_MOST_FIELDS} fields"
        handles.append(Line2D([], [], **_EACH_FIELD, label=f"effective capacity on {which} alone"))
    for number, total in enumerate(figures["totals"], start=1):
        rate = "nothing worked"
        if total["effective_ac_h"] is not None:
            rate = (
                f"{total['effective_ac_h']:.1f} ac/h ({total['effective_ha_h']:.1f} ha/h), "
                f"efficiency {percent_text(total['field_efficiency'])}"
            )
        label = f"{number}  {paper.short_text(total['tool'], 32)}: {rate}"
        handles.append(Patch(facecolor="none", edgecolor="none", label=label))
    return handles


def _write_title(axes: Any, figures: Figures) -> None:
    fields = figures["fields"]
    name = fields[0] if len(fields) == 1 else count_text(len(fields), "field")
    total = figures["totals"][0]
    for text, size, weight, down in (
        (paper.short_text(name, 46), 14.0, "bold", 0.0),
        (f"{area_text(total['area_m2'])}   capacity and field efficiency by width", 8.5, "normal", 19.0),
    ):
        axes.annotate(
            text, (_MARGIN / _PAGE_WIDTH, 1), xycoords="figure fraction", xytext=(0, -_MARGIN - down),
            textcoords="offset points", va="top", fontsize=size, fontweight=weight, parse_math=False,
            annotation_clip=False,
        )  # fmt: skip
