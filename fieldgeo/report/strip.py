"""The strip: field time as a bar, every spell in its place in the order driven, states told apart."""

from __future__ import annotations

from math import ceil
from typing import TYPE_CHECKING, Any, Final, NamedTuple

from fieldgeo.errors import InputError
from fieldgeo.report import sheet as paper
from fieldgeo.report.lines import STATE_WORDS, area_text, count_text
from fieldgeo.travel.timeline import TIME_STATES
from fieldgeo.units import ACRE_M2, HECTARE_M2, HOUR_S

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes

    from fieldgeo.analysis.plan import PlanFigures
    from fieldgeo.export.files import PathLike


class _Style(NamedTuple):
    """How one state is drawn: full height with the tool down, half with it up, above the bar where it stands."""

    colour: str
    edge: str
    hatch: str | None
    height: float  # as a share of the bar


_PALE: Final = "#ececec"  # ground of hatches
_STYLES: Final[dict[str, _Style]] = {
    "passes": _Style(paper.PASS, paper.PASS, None, 1.0),
    "headland_rounds": _Style(paper.HEADLAND, paper.OUTLINE, "....", 1.0),
    "turning": _Style(paper.TURN, "white", "\\\\\\\\", 0.55),
    "lifting": _Style(paper.HOLE, paper.HOLE, None, 0.55),
    "travel": _Style(_PALE, paper.TURN, "----", 0.55),
    "filling": _Style(paper.STOP, paper.OUTLINE, "////", 1.12),
    "unloading": _Style(paper.STOP, paper.OUTLINE, "\\\\\\\\", 1.12),
    "adjusting": _Style(_PALE, paper.TURN, "xxxx", 0.55),
}
# Heights in points, from the top of a bar's place down.
_NAME: Final = 14.0
_BAR: Final = 24.0
_GAP: Final = 3.0
_GATHERED: Final = 11.0
_BETWEEN: Final = 14.0
_PLACE: Final = _NAME + _BAR + _GAP + _GATHERED + _BETWEEN

_RIGHT: Final = 62.0  # room beyond the longest bar, for its figures [points]
_TYPE: Final = 8.0
_PAGE_WIDTH: Final = 396.0
_MARGIN: Final = 12.0
_TITLE_HEIGHT: Final = 47.0
_AXIS_HEIGHT: Final = 34.0
_LEGEND_LINE: Final = 13.0
_MOST_BESIDE: Final = 3  # bars whose hours stand beside each other in the legend
_MOST_NAME: Final = 60


class Bar(NamedTuple):
    """One tool's time, on one field or on several, one after the other."""

    name: str
    plans: tuple[PlanFigures, ...]

    @property
    def field_time_s(self) -> float:
        """Field time of all of them. [s]"""
        return sum(plan.field_time_s for plan in self.plans)

    @property
    def area_m2(self) -> float:
        """Area of all of them. [m2]"""
        return sum(plan.field.area_m2 for plan in self.plans)

    def by_state_s(self) -> dict[str, float]:
        """Return the time in each state. [s]"""
        each = [plan.timeline.by_state_s() for plan in self.plans]
        return {state: sum(one[state] for one in each) for state in TIME_STATES}


def save_strip(plans: Sequence[PlanFigures], path: PathLike, *, force: bool = False) -> None:
    """Save the strip of plans, whole or not at all.

    Parameters
    ----------
    plans : sequence of PlanFigures
        As in `plot_strip`.
    path : str or path
        ``.svg``, ``.png`` or ``.pdf``.
    force : bool
        Whether an existing file may be replaced.

    Raises
    ------
    InputError
        If there is no plan, or the suffix is of another format.
    FileError
        If the file exists and `force` is not set, or it cannot be written.
    """
    paper.save_sheet(lambda: plot_strip(plans), path, force=force)


def plot_strip(plans: Sequence[PlanFigures], *, ax: Axes | None = None) -> Axes:
    """Draw the time of plans as bars on one scale of hours, every spell in the order driven. Nothing is shown or saved.

    Below each bar the same hours stand again, gathered by state.

    Parameters
    ----------
    plans : sequence of PlanFigures
        One or more; with stops, if they are to be seen. Plans of one tool on several fields make one bar, field after
        field.
    ax : Axes, optional
        Where to draw; without it on a figure of its own.

    Returns
    -------
    Axes
        Hours across; up in points.

    Raises
    ------
    InputError
        If there is no plan.
    """
    if not plans:
        raise InputError("strip: there is no plan to draw. Give one at least.")
    bars = _bars(plans)
    with paper.drawing_style():
        handles = _handles(bars)
        columns = 3 if len(bars) == 1 or len(bars) > _MOST_BESIDE else 2
        axes = _new_axes(len(bars), ceil(len(handles) / columns)) if ax is None else ax
        wide = max(axes.get_window_extent().width / (axes.figure.dpi / 72), 2 * _RIGHT)
        longest_h = max(bar.field_time_s for bar in bars) / HOUR_S or 1.0
        hours_per_point = longest_h / (wide - _RIGHT)
        axes.set_xlim(0, wide * hours_per_point)
        axes.set_ylim(-_PLACE * len(bars), 0)
        for number, bar in enumerate(bars):
            _draw_bar(axes, bar, -_PLACE * number, hours_per_point)
        _furnish(axes, plans, longest_h)
        axes.legend(
            handles=handles, loc="upper left", bbox_to_anchor=(0, 0), bbox_transform=_below(axes), borderaxespad=0,
            borderpad=0, ncols=columns, frameon=False, fontsize=_TYPE, handlelength=2.6, handleheight=1.1,
            columnspacing=1.4, labelspacing=0.35,
        )  # fmt: skip
    return axes


def _bars(plans: Sequence[PlanFigures]) -> list[Bar]:
    """Return a bar for each tool, in the order given; two plans of one tool on one field are a bar each."""
    bars: list[Bar] = []
    for plan in plans:
        row = next(
            (
                row for row, bar in enumerate(bars)
                if bar.name == plan.tool.name and plan.field.name not in {each.field.name for each in bar.plans}
            ),
            None,
        )  # fmt: skip
        if row is None:
            bars.append(Bar(plan.tool.name, (plan,)))
        else:
            bars[row] = bars[row]._replace(plans=(*bars[row].plans, plan))
    return bars


def _new_axes(bars: int, legend_rows: int) -> Axes:
    from matplotlib.figure import Figure

    above, below = _MARGIN + _TITLE_HEIGHT, _MARGIN + _AXIS_HEIGHT + _LEGEND_LINE * legend_rows
    high = _PLACE * bars
    page = above + high + below
    figure = Figure(figsize=(_PAGE_WIDTH / 72, page / 72), facecolor="white")
    return figure.add_axes(
        (_MARGIN / _PAGE_WIDTH, below / page, (_PAGE_WIDTH - 2 * _MARGIN) / _PAGE_WIDTH, high / page)
    )


def _draw_bar(axes: Axes, bar: Bar, top: float, hours_per_point: float) -> None:
    """Draw the spells of a bar as driven, then gathered, its name above and its figures at the end."""
    base = top - _NAME - _BAR
    axes.text(0, top - _NAME + 3, paper.short_text(bar.name, _MOST_NAME), fontsize=_TYPE, va="bottom", parse_math=False)
    begin = 0.0
    spells: dict[str, list[tuple[float, float]]] = {}
    for number, plan in enumerate(bar.plans):
        line = plan.timeline
        for state, start, duration in zip(line.state, line.start_s.tolist(), line.duration_s.tolist(), strict=True):
            spells.setdefault(state, []).append((begin + start, duration))
        if number > 0:  # where the next field begins
            at = begin / HOUR_S
            axes.plot([at, at], [base - 2, base + _BAR + 2], color=paper.OUTLINE, linewidth=1.0, zorder=5)
        begin += line.field_time_s
    for state, its in spells.items():
        _draw_spells(axes, state, its, base, _BAR * _STYLES[state].height)
    low, at = base - _GAP - _GATHERED, 0.0
    for state, seconds in bar.by_state_s().items():
        if seconds > 0:
            _draw_spells(axes, state, [(at, seconds)], low, _GATHERED)
            _label_spell(axes, state, (at, seconds), low, hours_per_point)
            at += seconds
    axes.plot([0, at / HOUR_S], [base, base], color=paper.OUTLINE, linewidth=0.6, zorder=4)
    _draw_figures(axes, bar, (at / HOUR_S + 4 * hours_per_point, base + _BAR))


def _draw_spells(axes: Axes, state: str, spells: list[tuple[float, float]], low: float, height: float) -> None:
    from matplotlib.collections import PolyCollection

    style = _STYLES[state]
    high = low + height
    boxes = [
        [(start / HOUR_S, low), (start / HOUR_S, high), (end / HOUR_S, high), (end / HOUR_S, low)]
        for start, end in ((start, start + seconds) for start, seconds in spells)
    ]
    axes.add_collection(
        PolyCollection(
            boxes,
            facecolor=style.colour,
            edgecolor=style.edge,
            hatch=style.hatch,
            label=state,
            zorder=3,
            linewidth=0.6 if style.colour == paper.STOP else 0,  # white needs an edge
        ),
        autolim=False,
    )


def _label_spell(axes: Axes, state: str, spell: tuple[float, float], low: float, hours_per_point: float) -> None:
    """Write the hours of gathered time on it where there is room."""
    from matplotlib.patheffects import withStroke

    start, seconds = spell
    text = f"{seconds / HOUR_S:.2f}"
    if seconds / HOUR_S < (len(text) * 4.2 + 5) * hours_per_point:
        return
    is_dark = state in {"passes", "turning"}
    axes.text(
        (start + seconds / 2) / HOUR_S, low + _GATHERED / 2 - 0.3, text, fontsize=6.5, ha="center",
        va="center_baseline", color="white" if is_dark else "black", zorder=6,
        path_effects=[withStroke(linewidth=2.2, foreground=_STYLES[state].colour if is_dark else "white")],
    )  # fmt: skip


def _draw_figures(axes: Axes, bar: Bar, place: tuple[float, float]) -> None:
    """Write field time and capacity at the end of a bar."""
    hours = bar.field_time_s / HOUR_S
    lines = [(f"{hours:.2f} h", "bold", 9.0)]
    if hours > 0:
        lines.append((f"{bar.area_m2 / ACRE_M2 / hours:.1f} ac/h", "normal", _TYPE))
        lines.append((f"({bar.area_m2 / HECTARE_M2 / hours:.1f} ha/h)", "normal", _TYPE))
    for row, (text, weight, size) in enumerate(lines):
        axes.text(
            place[0], place[1] - 11.0 * row, text, fontsize=size, fontweight=weight, va="top", clip_on=False, zorder=6
        )


def _handles(bars: list[Bar]) -> list[Any]:
    """Return the legend: each state that is found, with its hours in the order of the bars where they are few."""
    from matplotlib.patches import Patch

    each = [bar.by_state_s() for bar in bars]
    handles = []
    for state in TIME_STATES:
        if not any(one[state] > 0 for one in each):
            continue
        style = _STYLES[state]
        hours = ", ".join(_hours_text(one[state]) for one in each)
        label = STATE_WORDS[state] + (f" {hours} h" if len(bars) <= _MOST_BESIDE else "")
        handles.append(
            Patch(facecolor=style.colour, edgecolor=style.edge, hatch=style.hatch, linewidth=0.5, label=label)
        )
    return handles


def _hours_text(seconds: float) -> str:
    hours = seconds / HOUR_S
    return "<0.01" if 0 < hours < 0.005 else f"{hours:.2f}"


def _furnish(axes: Axes, plans: Sequence[PlanFigures], longest_h: float) -> None:
    fields = {plan.field.name: plan.field for plan in plans}
    first = next(iter(fields.values()))
    name = first.name if len(fields) == 1 else count_text(len(fields), "field")
    area = area_text(sum(field.area_m2 for field in fields.values()))
    lines = [
        f"{area}   field time, in the order driven",
        "tool down: full height; tool up: half; standing: above. Below: the same hours by state.",
    ]
    paper.write_title(axes, name, lines)
    step = paper.round_length(longest_h / 4)
    ticks = [step * count for count in range(int(longest_h / step + 1e-9) + 1)]
    axes.set_xticks(ticks, [f"{tick:g}" for tick in ticks], fontsize=_TYPE)
    axes.set_yticks([])
    axes.spines[["top", "right", "left"]].set_visible(False)
    axes.spines["bottom"].set_bounds(0, longest_h)
    axes.set_xlabel("hours on the field", fontsize=_TYPE, loc="left", labelpad=2)


def _below(axes: Axes) -> Any:
    """Return axes coordinates that begin below the scale of hours."""
    from matplotlib.transforms import ScaledTranslation

    return axes.transAxes + ScaledTranslation(0, -_AXIS_HEIGHT / 72, axes.figure.dpi_scale_trans)
