"""The picture of rows that must match: planter passes with their rows above, the passes of the other tool below."""

from __future__ import annotations

from math import ceil
from typing import TYPE_CHECKING, Any, Final

from fieldgeo.report import sheet as paper
from fieldgeo.units import to_feet

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from fieldgeo.analysis.match import RowMatch, ShedMatch
    from fieldgeo.export.files import PathLike

STRADDLE: Final = "#F0E442"  # of the same palette as the maps (see `sheet`): a guess row within a pass
_HEIGHT: Final = 62.0  # of one pair [points]
_WIDTH: Final = 396.0
_MARGIN: Final = 12.0
_HEAD: Final = 34.0
_LEGEND: Final = 34.0
_MOST_PAIRS: Final = 30
_MOST_SHOWN_M: Final = 122.0  # some 400 ft across the rows; beyond that rows would run together
_NAME: Final = 40


def save_match(match: ShedMatch, path: PathLike, *, force: bool = False) -> None:
    """Save the picture of rows and passes, whole or not at all.

    Parameters
    ----------
    match : ShedMatch
        Every pair of a shed.
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
    paper.save_sheet(lambda: plot_match(match), path, force=force)


def plot_match(match: ShedMatch) -> Axes:
    """Draw each pair over one period: rows and guess rows above, passes below. Nothing is shown or saved.

    Parameters
    ----------
    match : ShedMatch
        Every pair of a shed; the first `_MOST_PAIRS` are drawn.

    Returns
    -------
    Axes
        The lowest of the pictures, on a figure of their own.
    """
    from matplotlib.figure import Figure

    pairs = match.pairs[:_MOST_PAIRS]
    with paper.drawing_style():
        height = _HEAD + _LEGEND + _HEIGHT * max(len(pairs), 1)
        figure = Figure(figsize=(_WIDTH / 72, height / 72), facecolor="white")
        inside = 1 - 2 * _MARGIN / _WIDTH
        title = match.shed.farm or "Rows that match"
        figure.text(
            _MARGIN / _WIDTH, 1 - 20 / height, paper.short_text(title, _NAME), fontsize=13, fontweight="bold",
            parse_math=False,
        )  # fmt: skip
        axes = figure.add_axes((_MARGIN / _WIDTH, 0, inside, 1), frameon=False)
        axes.set_axis_off()
        for at, pair in enumerate(pairs):
            top = 1 - (_HEAD + _HEIGHT * (at + 1)) / height
            axes = figure.add_axes((_MARGIN / _WIDTH, top + 6 / height, inside, (_HEIGHT - 26) / height))
            _draw_pair(axes, pair)
        figure.legend(
            handles=_handles(), loc="lower left", bbox_to_anchor=(_MARGIN / _WIDTH, 4 / height), borderaxespad=0,
            ncols=3, frameon=False, fontsize=7.5, columnspacing=1.4, borderpad=0,
        )  # fmt: skip
    return axes


def _draw_pair(axes: Axes, pair: RowMatch) -> None:
    from matplotlib.patches import Rectangle

    first_m, second_m = pair.first.pitch_m, pair.second.pitch_m
    most_m = 2 * first_m if pair.meeting == "other spacing" else _MOST_SHOWN_M  # no need to see more of it
    shown_m = min(pair.period_m or most_m, most_m)
    shown_m = max(shown_m, first_m, second_m)
    axes.set_xlim(0, shown_m)
    axes.set_ylim(0, 2.2)
    axes.set_axis_off()
    spacing_m = pair.first.row_spacing_m or first_m
    for number in range(ceil(shown_m / first_m - 1e-6)):
        axes.add_patch(Rectangle((number * first_m, 1.2), first_m, 0.95, facecolor=paper.GROUND, edgecolor="none"))
        places = [number * first_m + (row + 0.5) * spacing_m for row in range(pair.first.rows or 0)]
        axes.vlines([x for x in places if x <= shown_m], 1.3, 2.05, colors=paper.PASS, linewidths=0.7)
        axes.vlines([number * first_m], 0, 2.2, colors=paper.OUTLINE, linewidths=0.8, linestyles=(0, (3, 2)))
    for number in range(ceil(shown_m / second_m - 1e-6)):
        _draw_pass(axes, pair, number, shown_m)
    period = "" if pair.period_m is None else f", repeats every {to_feet(pair.period_m):,.5g} ft"
    first, second = (paper.short_text(tool.name, _NAME) for tool in (pair.first, pair.second))
    axes.set_title(
        f"{'fits' if pair.fits else 'no fit'}: {second} in rows of {first}{period}", loc="left", fontsize=7.5, pad=2,
        parse_math=False, fontweight="bold" if not pair.fits else "normal",
    )  # fmt: skip


def _draw_pass(axes: Axes, pair: RowMatch, number: int, shown_m: float) -> None:
    from matplotlib.patches import Rectangle

    pitch_m = pair.second.pitch_m
    low = number * pitch_m
    is_straddling = pair.pattern is not None and number % pair.pattern.passes + 1 in pair.pattern.straddling
    look: dict[str, Any] = {"facecolor": "white", "edgecolor": paper.OUTLINE, "linewidth": 0.7}
    if is_straddling:
        look |= {"facecolor": STRADDLE, "hatch": "//"}
    axes.add_patch(Rectangle((low, 0.1), pitch_m, 0.85, **look))
    if pair.second.rows and pair.second.row_spacing_m:
        units = [low + (row + 0.5) * pair.second.row_spacing_m for row in range(pair.second.rows)]
        axes.vlines([x for x in units if x <= shown_m], 0.3, 0.75, colors=paper.OUTLINE, linewidths=0.9)
    if pair.wheels is not None:
        shift_m = pair.wheels.shift_m if pair.meeting == "boom" else 0.0
        tire_m = max(pair.wheels.tire_m, 0.15)
        for side in (-0.5, 0.5):
            middle = low + pitch_m / 2 + shift_m + side * pair.wheels.track_m
            if middle <= shown_m:
                axes.add_patch(
                    Rectangle((middle - tire_m / 2, 0.2), tire_m, 1.0, facecolor=paper.TURN, edgecolor="none", zorder=4)
                )


def _handles() -> list[Any]:
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    return [
        Line2D([], [], color=paper.PASS, linewidth=0.9, label="row as planted"),
        Line2D([], [], color=paper.OUTLINE, linewidth=0.8, dashes=(3, 2), label="guess row"),
        Line2D([], [], color=paper.OUTLINE, linewidth=1.2, label="row unit of the tool"),
        Patch(facecolor="white", edgecolor=paper.OUTLINE, label="pass of the tool"),
        Patch(facecolor=STRADDLE, edgecolor=paper.OUTLINE, hatch="//", label="straddles a guess row"),
        Patch(facecolor=paper.TURN, label="wheel"),
    ]
