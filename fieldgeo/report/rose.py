"""The rose: field time against direction, north up and clockwise, both ways of every direction."""

from __future__ import annotations

from math import ceil, floor
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from fieldgeo.errors import InputError
from fieldgeo.report import sheet as paper
from fieldgeo.report.lines import area_text, direction_text
from fieldgeo.units import HOUR_S, to_feet

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes

    from fieldgeo.analysis.direction import DirectionSearch
    from fieldgeo.analysis.direction_curve import DirectionCurve
    from fieldgeo.export.files import PathLike

_PAGE: Final = (396.0, 482.0)  # [points]
_MARGIN: Final = 12.0
_DIAL: Final = 320.0  # across [points]
_DIAL_BASE: Final = 88.0  # from the foot of the page to the dial's [points]
_TYPE: Final = 8.0
_RINGS: Final = 4  # about so many
# A spread of this share of the longest time is drawn from zero; a smaller one would be a circle. Own choice.
_FROM_ZERO_SHARE: Final = 0.5
_CENTRE_SHARE: Final = 0.45  # of the radius, that the least time lies out from a centre that is not zero
_RING_LABEL_DEG: Final = 22.5  # where the rings have their hours
_MOST_NUMBERED: Final = 9
_NUMBER_SIZE: Final = 7.0
_ESTIMATE_STYLE: Final[dict[str, Any]] = {"color": paper.PASS, "linewidth": 1.2}
_EXACT_STYLE: Final[dict[str, Any]] = {
    "linestyle": "none", "marker": "o", "markersize": 9.0, "markerfacecolor": "white",
    "markeredgecolor": paper.OUTLINE, "markeredgewidth": 0.9,
}  # fmt: skip
_BEST_STYLE: Final[dict[str, Any]] = {"color": paper.OUTLINE, "linewidth": 2.4}
_LONGEST_STYLE: Final[dict[str, Any]] = {"color": paper.OVERLAP, "linewidth": 1.4, "dashes": (4, 2)}


def save_rose(
    search: DirectionSearch, curve: DirectionCurve, path: PathLike, *, count: int = 5, force: bool = False
) -> None:
    """Save the picture of field time against direction, whole or not at all.

    Parameters
    ----------
    search, curve : DirectionSearch, DirectionCurve
        As in `plot_rose`.
    path : str or path
        ``.svg``, ``.png`` or ``.pdf``.
    count : int
        As in `plot_rose`.
    force : bool
        Whether an existing file may be replaced.

    Raises
    ------
    InputError
        If the suffix is of another format.
    FileError
        If the file exists and `force` is not set, or it cannot be written.
    """
    paper.save_sheet(lambda: plot_rose(search, curve, count=count), path, force=force)


def plot_rose(search: DirectionSearch, curve: DirectionCurve, *, count: int = 5, ax: Axes | None = None) -> Axes:
    """Draw field time against direction as a dial, north up. Nothing is shown or saved.

    The estimate at every direction is a line, the candidates laid out exactly are numbered points. The nearer to the
    centre, the quicker. What time the centre stands for is written on the page: it is zero only where times differ
    widely.

    Parameters
    ----------
    search : DirectionSearch
        Gives the candidates, laid out exactly, and the longest side.
    curve : DirectionCurve
        Estimates all round, for the same field, tool and rules.
    count : int
        Candidates to mark, nine at most.
    ax : PolarAxes, optional
        Where to draw; without it on a figure of its own.

    Returns
    -------
    PolarAxes
        Azimuth in radians, clockwise from north; hours out from the centre.

    Raises
    ------
    InputError
        If the axes are not polar.
    """
    if ax is not None and ax.name != "polar":
        raise InputError(f"rose: the axes are {ax.name!r}. Give polar ones: projection='polar'.")
    marked = search.candidates[: min(count, _MOST_NUMBERED)]
    with paper.drawing_style():
        axes: Any = _new_axes() if ax is None else ax
        axes.set_theta_zero_location("N")
        axes.set_theta_direction(-1)
        exact_h = [each.plan.field_time_s / HOUR_S for each in (*marked, search.longest_side)]
        centre_h, rings = dial_hours([*exact_h, *(curve.field_time_s / HOUR_S).tolist()])
        axes.set_ylim(centre_h, rings[-1])
        axes.set_rorigin(centre_h)
        theta = np.radians(np.concatenate([curve.direction_deg, curve.direction_deg + 180, curve.direction_deg[:1]]))
        hours = np.concatenate([curve.field_time_s, curve.field_time_s, curve.field_time_s[:1]]) / HOUR_S
        axes.plot(theta, hours, **_ESTIMATE_STYLE, zorder=3, label="estimate")
        _draw_spoke(axes, search.best.direction_deg, rings[-1], _BEST_STYLE, "best")
        _draw_spoke(axes, search.longest_side.direction_deg, rings[-1], _LONGEST_STYLE, "longest side")
        _draw_points(axes, [(each.direction_deg, hour) for each, hour in zip(marked, exact_h, strict=False)])
        _furnish(axes, rings, centre_h)
        misses = [
            _estimate_h(curve, each.direction_deg) / hours - 1 for each, hours in zip(marked, exact_h, strict=False)
        ]
        _write(axes, search, centre_h, misses)
    return axes  # type: ignore[no-any-return]


def dial_hours(hours: Sequence[float]) -> tuple[float, list[float]]:
    """Return what time the centre of a dial stands for, and the times of its rings, the last of them its rim. [h]

    Parameters
    ----------
    hours : sequence of float
        All that is to be shown, > 0. [h]

    Examples
    --------
    >>> dial_hours([2.0, 5.0])
    (0.0, [1.0, 2.0, 3.0, 4.0, 5.0])
    """
    least, most = min(hours), max(hours)
    if most - least >= _FROM_ZERO_SHARE * most:
        step = paper.round_length(most / (_RINGS - 1))
        return 0.0, [step * ring for ring in range(1, ceil(most / step - 1e-9) + 1)]
    step = paper.round_length(max(most - least, 0.02 * most) / (_RINGS - 2))
    outer = ceil(most / step - 1e-9)
    inner = floor(least / step + 1e-9)
    # So far in that the ring of least time has a length of its own.
    deep = max(1, round((outer - inner) * _CENTRE_SHARE / (1 - _CENTRE_SHARE)))
    centre = max(inner - deep, 0)
    return centre * step, [step * ring for ring in range(max(inner, centre + 1), outer + 1)]


def _new_axes() -> Any:
    from matplotlib.figure import Figure

    wide, high = _PAGE
    figure = Figure(figsize=(wide / 72, high / 72), facecolor="white")
    return figure.add_axes(
        ((wide - _DIAL) / 2 / wide, _DIAL_BASE / high, _DIAL / wide, _DIAL / high), projection="polar"
    )


def _draw_spoke(axes: Any, direction_deg: float, rim: float, style: dict[str, Any], label: str) -> None:
    """Draw a direction right across the dial, both ways."""
    low = axes.get_ylim()[0]
    for way in (0, 180):
        at = np.radians(direction_deg + way)
        axes.plot([at, at], [low, rim], **style, zorder=2.5, label=label if way == 0 else "_again")


def _draw_points(axes: Any, points: Sequence[tuple[float, float]]) -> None:
    """Mark the candidates at both ways of their direction, the first on top."""
    for number, (direction_deg, hours) in reversed(list(enumerate(points, start=1))):
        for way in (0, 180):
            at = np.radians(direction_deg + way)
            axes.plot([at], [hours], **_EXACT_STYLE, zorder=6 - 0.1 * number, label=f"_exact {number}")
            axes.annotate(
                str(number), (at, hours), fontsize=_NUMBER_SIZE, fontweight="bold", ha="center",
                va="center_baseline", zorder=6.05 - 0.1 * number, annotation_clip=False,
            )  # fmt: skip


def _furnish(axes: Any, rings: Sequence[float], centre_h: float) -> None:
    from matplotlib.patheffects import withStroke

    axes.set_rgrids(rings, labels=[""] * len(rings))
    axes.set_thetagrids(range(0, 360, 30), labels=["N", "30°", "60°", "E", "120°", "150°", "S", "210°", "240°", "W",
                                                   "300°", "330°"], fontsize=_TYPE)  # fmt: skip
    axes.tick_params(pad=1)
    axes.grid(color=paper.HOLE, linewidth=0.5)
    axes.set_axisbelow(True)
    halo = [withStroke(linewidth=2.2, foreground="white")]
    for ring in rings[:-1]:
        axes.text(
            np.radians(_RING_LABEL_DEG), ring, f"{ring:.4g} h", fontsize=7.0, ha="center", va="center",
            color=paper.TURN, zorder=5.2, path_effects=halo,
        )  # fmt: skip
    axes.text(
        np.radians(_RING_LABEL_DEG), rings[-1], f"{rings[-1]:.4g} h", fontsize=7.0, ha="center", va="center",
        color=paper.TURN, zorder=5.2, path_effects=halo,
    )  # fmt: skip
    axes.plot([0], [centre_h], marker="+", color=paper.TURN, markersize=6, zorder=4, label="_centre")
    axes.text(
        np.radians(90), centre_h, f"   {centre_h:.4g} h", fontsize=7.0, ha="left", va="center", color=paper.TURN,
        zorder=5.2, path_effects=halo,
    )  # fmt: skip


def _estimate_h(curve: DirectionCurve, direction_deg: float) -> float:
    """Return the estimate at a direction, in between where it is none of the curve's. [h]"""
    return float(np.interp(direction_deg, curve.direction_deg, curve.field_time_s, period=180)) / HOUR_S


def _miss_text(misses: Sequence[float]) -> str:
    """Return how far estimates lie from the exact times, from the lowest to the highest."""
    low, high = (round(100 * miss) for miss in (min(misses), max(misses)))
    texts = [f"{miss:+d}" if miss else "0" for miss in (low, high)]
    return f"{texts[0]} %" if low == high else f"{' to '.join(texts)} %"


def _write(axes: Any, search: DirectionSearch, centre_h: float, misses: Sequence[float]) -> None:
    """Write the title and the legend; say what the centre stands for."""
    from matplotlib.lines import Line2D

    plan, longest = search.best.plan, search.longest_side
    centre = "zero hours" if centre_h == 0 else f"{centre_h:.4g} hours, not zero"
    lines = [
        f"{area_text(plan.field.area_m2)}   {to_feet(plan.tool.width_m):.4g} ft ({plan.tool.width_m:.4g} m) wide: "
        + paper.short_text(plan.tool.name, 30),
        f"field time by direction; nearer to the centre is quicker; centre: {centre}",
    ]
    high = _PAGE[1]
    for text, size, weight, down in (
        (paper.short_text(plan.field.name, 46), 14.0, "bold", 0.0),
        (lines[0], 8.5, "normal", 19.0),
        (lines[1], _TYPE, "normal", 31.0),
    ):
        axes.annotate(
            text, (0, 1), xycoords="axes fraction", textcoords="offset points", va="top", fontsize=size,
            fontweight=weight, parse_math=False, annotation_clip=False,
            xytext=(_MARGIN - (_PAGE[0] - _DIAL) / 2, high - _MARGIN - _DIAL_BASE - _DIAL - down),
        )  # fmt: skip
    by = "least field time" if search.by == "time" else f"best by {search.by}"
    handles = [
        Line2D(
            [],
            [],
            **_ESTIMATE_STYLE,
            label=f"estimate at every direction; off the exact time at the points by {_miss_text(misses)}",
        ),
        Line2D([], [], **_EXACT_STYLE, label=f"laid out exactly: the first {len(misses)}, as ranked"),
        Line2D([], [], **_BEST_STYLE, label=f"1, {by} found: {_figures(search.best)}"),
        Line2D([], [], **_LONGEST_STYLE, label=f"along the longest side: {_figures(longest)}"),
    ]
    axes.legend(
        handles=handles, loc="upper left", bbox_to_anchor=(_MARGIN - (_PAGE[0] - _DIAL) / 2, -24),
        bbox_transform=_points_from_corner(axes), borderaxespad=0, borderpad=0, frameon=False, fontsize=_TYPE,
        handlelength=2.6, labelspacing=0.35,
    )  # fmt: skip


def _figures(candidate: Any) -> str:
    return f"{direction_text(candidate.direction_deg)}, {candidate.plan.field_time_s / HOUR_S:.2f} h"


def _points_from_corner(axes: Any) -> Any:
    """Return coordinates in points from the lower left corner of axes."""
    from matplotlib.transforms import Affine2D, ScaledTranslation

    inches = axes.figure.dpi_scale_trans
    across, up = (axes.get_position().p0 * axes.figure.get_size_inches()).tolist()
    return Affine2D().scale(1 / 72) + inches + ScaledTranslation(across, up, inches)
