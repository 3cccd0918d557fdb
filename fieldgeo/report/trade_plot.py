"""The picture of a trade: field time across, soil lost up, one mark a direction."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from fieldgeo.report import sheet as paper
from fieldgeo.report.lines import area_text

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from fieldgeo.analysis.figures import Figures
    from fieldgeo.export.files import PathLike

_PAGE_INCHES: Final = (5.5, 4.9)
_AXES: Final = (0.125, 0.235, 0.84, 0.575)  # left, bottom, width, height, as shares of the page
_TYPE: Final = 8.0
_LABEL: Final = 7.5
_APART_POINTS: Final = 9.0  # between labels, so that none lies on another


def save_trade(figures: Figures, path: PathLike, *, force: bool = False) -> None:
    """Save the picture of a trade, whole or not at all.

    Parameters
    ----------
    figures : dict
        From `fieldgeo.terrain.trade_figures.trade_figures`.
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
    paper.save_sheet(lambda: plot_trade(figures), path, force=force)


def plot_trade(figures: Figures, *, ax: Axes | None = None) -> Axes:
    """Draw field time against soil lost for every direction laid out. Nothing is shown or saved.

    Parameters
    ----------
    figures : dict
        From `fieldgeo.terrain.trade_figures.trade_figures`.
    ax : Axes, optional
        Where to draw; without it on a figure of its own.

    Returns
    -------
    Axes
        Hours across; soil lost up, where rows straight up and down lose 100.
    """
    with paper.drawing_style():
        axes = _new_axes() if ax is None else ax
        beaten = [each for each in figures["tried"] if each["is_beaten"]]
        kept = [each for each in figures["tried"] if not each["is_beaten"]]
        axes.plot(
            *_places(beaten), linestyle="none", marker="o", markersize=4.5, markerfacecolor="white",
            markeredgecolor=paper.TURN, label="another direction is no slower and loses as little soil", zorder=3,
        )  # fmt: skip
        axes.plot(
            *_places(kept), color=paper.PASS, marker="o", markersize=6.5, linewidth=1.4, zorder=4,
            label="no direction beats it in time and soil",
        )  # fmt: skip
        first = figures["candidates"][0]
        axes.plot(
            first["field_time_h"], first["soil_pct"], linestyle="none", marker="o", markersize=12, zorder=5,
            markerfacecolor="none", markeredgecolor=paper.OUTLINE, label=_chosen_text(figures),
        )  # fmt: skip
        _set_scales(axes, figures)
        _label(axes, figures)
        _furnish(axes, figures)
    return axes


def _new_axes() -> Axes:
    from matplotlib.figure import Figure

    return Figure(figsize=_PAGE_INCHES, facecolor="white").add_axes(_AXES)


def _places(choices: list[Figures]) -> tuple[list[float], list[float]]:
    return [each["field_time_h"] for each in choices], [each["soil_pct"] for each in choices]


def _set_scales(axes: Axes, figures: Figures) -> None:
    """Leave room about the marks for their labels, and never blow a difference of nothing up to the page."""
    hours, soil = _places(figures["tried"])
    axes.set_xlim(*_limits(hours, 0.02 * max(hours)))
    axes.set_ylim(*_limits(soil, 4.0))


def _limits(values: list[float], least_span: float) -> tuple[float, float]:
    span = max(max(values) - min(values), least_span)
    middle = (min(values) + max(values)) / 2
    return middle - 0.66 * span, middle + 0.66 * span


def _label(axes: Axes, figures: Figures) -> None:
    """Write the direction beside each mark that is listed, above one another where they crowd."""
    from matplotlib.patheffects import withStroke

    listed = {each["direction_deg"]: each for each in figures["candidates"]}
    marks = [each for each in figures["tried"] if each["direction_deg"] in listed]
    at = axes.transData.transform([(each["field_time_h"], each["soil_pct"]) for each in marks])
    points_per_dot = 72 / axes.figure.dpi
    taken: list[tuple[float, float]] = []
    for each, (x, y) in sorted(zip(marks, at, strict=True), key=lambda mark: -mark[1][1]):
        place_x, place_y = x * points_per_dot, y * points_per_dot + 8
        while any(abs(place_x - other_x) < 44 and abs(place_y - other_y) < _APART_POINTS for other_x, other_y in taken):
            place_y += _APART_POINTS
        taken.append((place_x, place_y))
        axes.annotate(
            f"{round(each['direction_deg'], 1) % 180:.1f}°", (each["field_time_h"], each["soil_pct"]),
            xytext=(0, place_y - y * points_per_dot), textcoords="offset points", ha="center", va="bottom",
            fontsize=_LABEL, zorder=6, color=paper.TURN if each["is_beaten"] else paper.OUTLINE,
            path_effects=[withStroke(linewidth=2.0, foreground="white")],
        )  # fmt: skip


def _chosen_text(figures: Figures) -> str:
    if figures["most_grade_pct"] is not None:
        word = "fastest that keeps" if figures["keeps_most_grade"] else "nearest to keeping"
        return f"{word} rows to {figures['most_grade_pct']:.3g} %"
    return "least soil lost" if figures["by"] == "erosion" else "least field time"


def _furnish(axes: Axes, figures: Figures) -> None:
    slope = figures["slope"]
    axes.set_xlabel("field time (hours)", fontsize=_TYPE)
    axes.set_ylabel("soil lost (rows up and down = 100)", fontsize=_TYPE)
    axes.tick_params(labelsize=_LABEL)
    axes.grid(color=paper.HOLE, linewidth=0.4)
    axes.set_axisbelow(True)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    axes.legend(
        loc="upper left", bbox_to_anchor=(-0.09, -0.155), frameon=False, fontsize=_LABEL, borderaxespad=0,
        handlelength=2.2, labelspacing=0.4,
    )  # fmt: skip
    recalled = " (recalled)" if slope["is_p_recalled"] else ""
    lines = [
        f"{area_text(figures['area_m2'])}, median slope {slope['slope_pct_median']:.1f} %, {figures['tool']}",
        f"soil by the support practice factor{recalled}; directions from true north",
    ]
    above = len(lines) * 11.5
    for text, size, weight, up in (
        (paper.short_text(figures["field"], 46), 14.0, "bold", above),
        *((paper.short_text(line, 76), 8.5, "normal", above - (row + 1) * 11.5) for row, line in enumerate(lines)),
    ):
        axes.annotate(
            text, (0, 1), xycoords="axes fraction", xytext=(-_AXES[0] * 72 * _PAGE_INCHES[0] + 12, up + 10),
            textcoords="offset points", va="bottom", fontsize=size, fontweight=weight, parse_math=False,
            annotation_clip=False,
        )  # fmt: skip
