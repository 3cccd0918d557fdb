"""The season as bars: which machine is busy when, and with what."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from math import ceil
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from fieldgeo.errors import InputError
from fieldgeo.outline.files.geojson import plain_name
from fieldgeo.report import sheet as paper
from fieldgeo.season.model import day_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes

    from fieldgeo.export.files import PathLike
    from fieldgeo.season.model import Placed, SeasonProblem
    from fieldgeo.season.plan import SeasonPlan

# Days without any work beyond this many are left out of the scale, which shows a break there.
MOST_IDLE_DAYS: Final = 21
_BREAK_DAYS: Final = 5.0  # room of a break on the scale
_ROOM_DAYS: Final = 2  # before the first and after the last day of a stretch of work
_BAR: Final = 0.62  # height of a bar, rows are 1 apart
_ROW: Final = 21.0  # height of a row [points]
_WIDTH: Final = 396.0  # of the picture [points]
_NAME: Final = 108.0  # room for names of machines [points]
_HATCHES: Final = ("", "////", "....", "\\\\\\\\", "xxxx", "----", "||||", "++++", "oooo", "////....", "**")
_TINTS: Final = ("#3f3f3f", "#ffffff", "#d9d9d9")  # black and white alone: hatching tells the operations
_COLUMNS: Final = 2
_MOST_NAME: Final = 22


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """Days of the scale between two breaks."""

    first: date
    last: date  # counted
    at: float  # place of its first day on the scale [days]


def save_season_plot(plan: SeasonPlan, path: PathLike, *, force: bool = False) -> None:
    """Save the season as bars, whole or not at all.

    Parameters
    ----------
    plan : SeasonPlan
        The season with its schedule.
    path : str or path
        ``.svg``, ``.png`` or ``.pdf``.
    force : bool
        Whether an existing file may be replaced.

    Raises
    ------
    InputError
        If the suffix is of another format, or nothing is scheduled.
    FileError
        If the file exists and `force` is not set, or it cannot be written.
    """
    paper.save_sheet(lambda: plot_season(plan), path, force=force)


def plot_season(plan: SeasonPlan, *, ax: Axes | None = None) -> Axes:
    """Draw which tractor or machine is busy when, a bar for each field. Nothing is shown or saved.

    Parameters
    ----------
    plan : SeasonPlan
        The season with its schedule.
    ax : Axes, optional
        Where to draw; without it on a figure of its own.

    Returns
    -------
    Axes
        Across are days, with longer spells without work left out; rows are machines, the busiest at the top.

    Raises
    ------
    InputError
        If nothing is scheduled.
    """
    from matplotlib.patches import Patch

    problem, placed = plan.problem, plan.schedule.placed
    if not placed:
        raise InputError("season: nothing is scheduled, and there is nothing to draw.")
    operations = list(dict.fromkeys(task.operation for task in problem.tasks))
    machines = _busiest_first(placed)
    stretches = work_stretches([_days(problem, each) for each in placed])
    with paper.drawing_style():
        handles = [
            Patch(**_look(number), label=paper.short_text(plain_name(name), 34))
            for number, name in enumerate(operations)
        ]
        axes = _new_axes(len(machines), ceil(len(handles) / _COLUMNS)) if ax is None else ax
        for each in placed:
            start, end = (place_on_scale(problem, stretches, hour) for hour in (each.start_h, each.end_h))
            number = operations.index(problem.tasks[each.task].operation)
            row = machines.index(each.mode.carrier)
            axes.barh(row, end - start, left=start, height=_BAR, **_look(number), zorder=3)
        _scale(axes, stretches)
        axes.set_yticks(range(len(machines)), [paper.short_text(plain_name(name), _MOST_NAME) for name in machines])
        axes.set_ylim(len(machines) - 0.45, -0.55)
        axes.tick_params(axis="y", length=0, labelsize=7.5)
        for side in ("top", "right", "left"):
            axes.spines[side].set_visible(False)
        for row in range(len(machines)):
            axes.axhline(row + 0.5, color=paper.HOLE, linewidth=0.5, zorder=1)
        axes.set_title(
            paper.short_text(plan.season.farm or "The season", 46), loc="left", fontsize=12, fontweight="bold", pad=18
        )
        axes.annotate(
            f"who is busy when: {len(placed):,} pieces of work, {problem.hours_a_day:g} h of a fit day",
            (0, 1), xycoords="axes fraction", xytext=(0, 6), textcoords="offset points", fontsize=8, parse_math=False,
        )  # fmt: skip
        axes.legend(
            handles=handles, loc="upper left", bbox_to_anchor=(0, 0), bbox_transform=axes.transAxes, borderaxespad=2.6,
            ncols=_COLUMNS, frameon=False, fontsize=7.5, handlelength=2.6, handleheight=1.1, labelspacing=0.35,
        )  # fmt: skip
    return axes


def work_stretches(spans: Sequence[tuple[date, date]]) -> list[Stretch]:
    """Return the days of the scale in stretches: spells without work beyond `MOST_IDLE_DAYS` stand between them.

    Parameters
    ----------
    spans : sequence of (date, date)
        First and last day of each piece of work, both counted; one at least.

    Examples
    --------
    >>> days = [(date(2027, 4, 20), date(2027, 5, 4)), (date(2027, 9, 22), date(2027, 9, 23))]
    >>> [(each.first.isoformat(), each.last.isoformat(), each.at) for each in work_stretches(days)]
    [('2027-04-18', '2027-05-06', 0.0), ('2027-09-20', '2027-09-25', 24.0)]
    """
    room = timedelta(days=_ROOM_DAYS)
    found: list[tuple[date, date]] = []
    for first, last in sorted(spans):
        if found and (first - found[-1][1]).days <= MOST_IDLE_DAYS:
            found[-1] = (found[-1][0], max(found[-1][1], last))
        else:
            found.append((first, last))
    stretches: list[Stretch] = []
    at = 0.0
    for first, last in found:
        stretches.append(Stretch(first=first - room, last=last + room, at=at))
        at += (last - first).days + 1 + 2 * _ROOM_DAYS + _BREAK_DAYS
    return stretches


def place_on_scale(problem: SeasonProblem, stretches: Sequence[Stretch], hour: float) -> float:
    """Return where an hour of the scale of fit hours lies on the scale of days.

    Parameters
    ----------
    problem : SeasonProblem
        Its days and fit hours.
    stretches : sequence of Stretch
        Stretches of the scale, from `work_stretches`.
    hour : float
        Fit hours since the season began. [h]
    """
    day = day_of(problem.start_h, hour, is_end=bool(np.isclose(problem.start_h, hour).any()))
    into = (hour - problem.start_h[day]) / max(float(problem.fit_h[day]), 1e-9)
    when = problem.days[day]
    stretch = next(each for each in stretches if each.first <= when <= each.last)
    return float(stretch.at + (when - stretch.first).days + min(max(into, 0.0), 1.0))


def _days(problem: SeasonProblem, each: Placed) -> tuple[date, date]:
    first = problem.days[day_of(problem.start_h, each.start_h, is_end=False)]
    return first, problem.days[day_of(problem.start_h, each.end_h, is_end=True)]


def _busiest_first(placed: Sequence[Placed]) -> list[str]:
    hours: dict[str, float] = {}
    for each in placed:
        hours[each.mode.carrier] = hours.get(each.mode.carrier, 0.0) + each.end_h - each.start_h
    return sorted(hours, key=lambda name: -hours[name])


def _look(number: int) -> dict[str, Any]:
    return {
        "facecolor": _TINTS[number % len(_TINTS)], "edgecolor": "#ffffff" if number % len(_TINTS) == 0 else "#000000",
        "hatch": _HATCHES[number % len(_HATCHES)], "linewidth": 0.5,
    }  # fmt: skip


def _new_axes(rows: int, legend_rows: int) -> Axes:
    from matplotlib.figure import Figure

    above, below = 40.0, 34.0 + 11.5 * legend_rows
    height = above + _ROW * rows + below
    figure = Figure(figsize=(_WIDTH / 72, height / 72), facecolor="white")
    return figure.add_axes((_NAME / _WIDTH, below / height, 1 - (_NAME + 12) / _WIDTH, _ROW * rows / height))


def _scale(axes: Axes, stretches: Sequence[Stretch]) -> None:
    """Write the dates, and mark the breaks."""
    ticks: list[tuple[float, str]] = []
    for stretch in stretches:
        day = stretch.first
        while day <= stretch.last:
            if day.day in {1, 15}:
                ticks.append((stretch.at + (day - stretch.first).days, f"{day:%b} {day.day}"))
            day += timedelta(days=1)
    last = stretches[-1]
    end = last.at + (last.last - last.first).days + 1
    axes.set_xlim(0, end)
    axes.set_xticks([at for at, _ in ticks], [text for _, text in ticks], fontsize=7.5)
    for stretch in stretches[1:]:
        axes.axvspan(stretch.at - _BREAK_DAYS, stretch.at, facecolor="white", edgecolor="none", zorder=2)
        for at in (stretch.at - _BREAK_DAYS, stretch.at):
            axes.axvline(at, color=paper.TURN, linewidth=0.6, linestyle=(0, (2, 2)), zorder=2)
