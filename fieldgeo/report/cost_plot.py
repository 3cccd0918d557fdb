"""What an acre costs, operation by operation, as bars made up of what goes into it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np

from fieldgeo.errors import InputError
from fieldgeo.outline.files.geojson import plain_name
from fieldgeo.report import sheet as paper

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from fieldgeo.analysis.figures import Figures
    from fieldgeo.export.files import PathLike

# What goes into a cost, and how it is told apart in black and white.
_LOOKS: Final[dict[str, tuple[str, str, str]]] = {
    "depreciation": ("depreciation", "#3f3f3f", ""),
    "interest": ("interest", "#8c8c8c", ""),
    "taxes_insurance_housing": ("taxes, insurance, housing", "#d9d9d9", ""),
    "repairs": ("repairs", "#ffffff", "xxxx"),
    "fuel": ("fuel", "#ffffff", "////"),
    "lubrication": ("lubrication", "#ffffff", "...."),
    "labor": ("labor", "#ffffff", "----"),
    "timeliness": ("lateness", "#ffffff", ""),
}
_BAR: Final = 0.62
_ROW: Final = 20.0  # height of a row [points]
_WIDTH: Final = 396.0  # of the picture [points]
_NAME: Final = 112.0  # room for names [points]
_COLUMNS: Final = 2
_LEGEND_ROW: Final = 11.5


def save_cost_plot(figures: Figures, path: PathLike, *, force: bool = False) -> None:
    """Save the costs of an acre as bars, whole or not at all.

    Parameters
    ----------
    figures : dict
        As for `plot_costs`.
    path : str or path
        ``.svg``, ``.png`` or ``.pdf``.
    force : bool
        Whether an existing file may be replaced.

    Raises
    ------
    InputError
        If the suffix is of another format, or there is no cost.
    FileError
        If the file exists and `force` is not set, or it cannot be written.
    """
    paper.save_sheet(lambda: plot_costs(figures), path, force=force)


def plot_costs(figures: Figures, *, ax: Axes | None = None) -> Axes:
    """Draw what an acre of each operation costs. Nothing is shown or saved.

    Parameters
    ----------
    figures : dict
        From `fieldgeo.season.costs_figures.costs_figures`.
    ax : Axes, optional
        Where to draw; without it on a figure of its own.

    Returns
    -------
    Axes
        Money for an acre across; operations from the top in their order.

    Raises
    ------
    InputError
        If there is no cost.
    """
    from matplotlib.patches import Patch

    rows = figures["operations"]
    if not rows:
        raise InputError("costs: of no operation anything can be said, and there is nothing to draw.")
    with paper.drawing_style():
        entries = [name for name in _LOOKS if any(row["entries_per_ac"][name] > 0 for row in rows)]
        axes = _new_axes(len(rows), -(-len(entries) // _COLUMNS)) if ax is None else ax
        start = np.zeros(len(rows))
        for name in entries:
            money = np.array([row["entries_per_ac"][name] for row in rows])
            axes.barh(range(len(rows)), money, left=start, height=_BAR, **_look(name), zorder=3)
            start += money
        for at, row in enumerate(rows):
            axes.annotate(
                f"{row['per_ac']:,.2f}", (start[at], at), xytext=(4, 0), textcoords="offset points", fontsize=7.5,
                va="center",
            )  # fmt: skip
        axes.set_yticks(range(len(rows)), [paper.short_text(plain_name(row["operation"]), 22) for row in rows])
        axes.set_ylim(len(rows) - 0.45, -0.55)
        axes.set_xlim(0, 1.14 * float(start.max()))
        axes.tick_params(axis="both", labelsize=7.5)
        axes.tick_params(axis="y", length=0)
        for side in ("top", "right", "left"):
            axes.spines[side].set_visible(False)
        axes.set_xlabel("money for an acre", fontsize=7.5)
        axes.set_title(
            paper.short_text(figures["farm"] or "Costs", 46), loc="left", fontsize=12, fontweight="bold", pad=18
        )
        axes.annotate(
            f"what an acre costs: {figures['per_ac']:,.2f} for all that is done on {figures['area_ac']:,.0f} ac",
            (0, 1), xycoords="axes fraction", xytext=(0, 6), textcoords="offset points", fontsize=8,
        )  # fmt: skip
        handles = [Patch(**_look(name), label=_LOOKS[name][0]) for name in entries]
        axes.legend(
            handles=handles, loc="upper left", bbox_to_anchor=(0, 0), borderaxespad=4.0, ncols=_COLUMNS, frameon=False,
            fontsize=7.5, handlelength=2.6, handleheight=1.1, labelspacing=0.35,
        )  # fmt: skip
    return axes


def _look(name: str) -> dict[str, Any]:
    _, colour, hatch = _LOOKS[name]
    return {"facecolor": colour, "hatch": hatch, "edgecolor": "#000000", "linewidth": 0.5}


def _new_axes(rows: int, legend_rows: int) -> Axes:
    from matplotlib.figure import Figure

    above, below = 40.0, 42.0 + _LEGEND_ROW * legend_rows
    height = above + _ROW * rows + below
    figure = Figure(figsize=(_WIDTH / 72, height / 72), facecolor="white")
    return figure.add_axes((_NAME / _WIDTH, below / height, 1 - (_NAME + 12) / _WIDTH, _ROW * rows / height))
