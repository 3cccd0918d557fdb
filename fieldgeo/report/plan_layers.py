"""What is drawn of a plan: rounds, passes with numbers and arrows, turns, overlap and skip, start, entrance, stops."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np
import shapely

from fieldgeo.layout.axes import distances_along
from fieldgeo.report import sheet as paper
from fieldgeo.report.lines import area_text

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fieldgeo.analysis.curved.plan import CurvedPlan
    from fieldgeo.analysis.divided.plan import DividedPlan
    from fieldgeo.analysis.plan import Plan
    from fieldgeo.layout.axes import Floats
    from fieldgeo.report.sheet import Sheet
    from fieldgeo.travel.route import Leg
    from fieldgeo.travel.stops import StopPlan

_NUMBER_SIZE: Final = 6.5  # type of the numbers of passes [points]
_NUMBER_ROOM: Final = (15.0, 9.0)  # across and up, that a number needs for itself [points]
_NUMBER_STEPS: Final = (1, 2, 5, 10, 20, 50, 100)  # every pass is numbered, or every second, fifth ...
_STOP_SIZE: Final = 6.5  # type of the numbers of stops [points]
_MOST_STOPS: Final = 4  # numbers at one place
_ARROW: Final = (3.4, 6.5)  # length of an arrow on a pass, at the least and at the most [points]
_ARROW_OFF: Final = 20.0  # from the end of a pass back to its arrow [points]
_LABEL_HALF: Final = 14.0  # half the length of the word at the start of the work [points]

_HEADLAND_STYLE: Final[dict[str, Any]] = {"color": paper.HEADLAND, "linewidth": 1.1, "dashes": (5, 1.5)}
_PASS_STYLE: Final[dict[str, Any]] = {"color": paper.PASS, "linewidth": 0.8}
_TURN_STYLE: Final[dict[str, Any]] = {"color": paper.TURN, "linewidth": 0.45}
_TRAVEL_STYLE: Final[dict[str, Any]] = {"color": paper.TURN, "linewidth": 0.9, "dashes": (2.2, 1.6)}
_OVERLAP_STYLE: Final[dict[str, Any]] = {"hatch": "//////", "colour": paper.OVERLAP}
_SKIP_STYLE: Final[dict[str, Any]] = {"hatch": "xxxxxx", "colour": paper.SKIP}


def draw_coverage(sheet: Sheet, plan: Plan | DividedPlan | CurvedPlan) -> None:
    """Draw overlap and skip, hatched, and the ground of the headland rounds.

    Parameters
    ----------
    sheet : Sheet
        Where to draw.
    plan : Plan or DividedPlan or CurvedPlan
        The plan.
    """
    from matplotlib.patches import PathPatch

    shapes = plan.shapes()
    overlap = shapely.MultiPolygon([overlap.polygon for overlap in shapes.overlap])
    for ground, style in ((overlap, _OVERLAP_STYLE), (shapes.skip, _SKIP_STYLE)):
        if not ground.is_empty:
            sheet.axes.add_patch(PathPatch(paper.shape_path(ground), **paper.hatched(**style), zorder=3))
    ground = plan.layout.headland.ground
    if not ground.is_empty:
        tint = {"facecolor": paper.HEADLAND, "alpha": 0.16, "linewidth": 0}
        sheet.axes.add_patch(PathPatch(paper.shape_path(ground), **tint, zorder=2))


def draw_lines(sheet: Sheet, plan: Plan | DividedPlan | CurvedPlan) -> None:
    """Draw everything that is driven: rounds, passes, turns and travel.

    Parameters
    ----------
    sheet : Sheet
        Where to draw.
    plan : Plan or DividedPlan or CurvedPlan
        The plan.
    """
    from matplotlib.collections import LineCollection

    thin = min(1.0, 0.25 * plan.tool.pitch_m / sheet.metres_per_point)  # so that close passes leave ground to see
    for state, style, zorder in (
        ("travel", _TRAVEL_STYLE, 3.5),
        ("turn", _TURN_STYLE, 4.0),
        ("headland", _HEADLAND_STYLE, 4.5),
        ("pass", _PASS_STYLE, 5.0),
    ):
        lines = [leg.points() for leg in plan.route.legs if leg.state == state]
        dashes = (0, style["dashes"]) if "dashes" in style else "solid"
        # A round is one line alone, and pale in print: it stays broader than the passes.
        width = style["linewidth"] * {"pass": thin, "headland": max(thin, 0.75)}.get(state, 1.0)
        sheet.axes.add_collection(
            LineCollection(lines, colors=style["color"], linewidths=width, linestyles=[dashes], zorder=zorder),
            autolim=False,
        )


def draw_numbers(sheet: Sheet, plan: Plan | DividedPlan | CurvedPlan) -> None:
    """Write numbers on the passes, in the order driven, and arrows the way they are driven, as there is room.

    Where passes lie too close, the numbered ones alone have arrows.

    Parameters
    ----------
    sheet : Sheet
        Where to draw.
    plan : Plan or DividedPlan or CurvedPlan
        The plan.
    """
    from matplotlib.patheffects import withStroke

    legs = [leg for leg in plan.route.legs if leg.state == "pass"]
    across = plan.tool.pitch_m / sheet.metres_per_point
    step = next((step for step in _NUMBER_STEPS if step * across >= _NUMBER_ROOM[0]), _NUMBER_STEPS[-1])
    taken: list[Floats] = []
    numbered: list[Leg] = []
    room = np.array(_NUMBER_ROOM) * sheet.metres_per_point
    wanted = sorted(range(1, len(legs) + 1), key=lambda number: (number not in {1, len(legs)}, number))
    for number in wanted:
        leg = legs[number - 1]
        middle = _middle(leg.points())
        is_wanted = number in {1, len(legs)} or number % step == 0
        if not is_wanted or leg.length_m < 2 * room[0] or any((np.abs(middle - at) < room).all() for at in taken):
            continue
        taken.append(middle)
        numbered.append(leg)
        sheet.axes.text(
            float(middle[0]), float(middle[1]), str(number), fontsize=_NUMBER_SIZE, color=paper.PASS,
            ha="center", va="center", zorder=7,
            path_effects=[withStroke(linewidth=2.2, foreground="white")],
        )  # fmt: skip
    length = min(max(0.75 * across, _ARROW[0]), _ARROW[1])
    draw_arrows(sheet, legs if across >= _ARROW[0] else numbered, length)


def draw_arrows(sheet: Sheet, legs: Sequence[Leg], length: float) -> None:
    """Draw an arrow on each pass that has room for it, the way it is driven, before its end.

    Parameters
    ----------
    sheet : Sheet
        Where to draw.
    legs : sequence of Leg
        Passes in the order driven.
    length : float
        Length of an arrow. [points]
    """
    from matplotlib.collections import PolyCollection

    long_m, off_m = length * sheet.metres_per_point, _ARROW_OFF * sheet.metres_per_point
    heads = []
    for leg in legs:
        line = leg.points()
        along = distances_along(line)
        if along[-1] < 3 * long_m:
            continue
        tip_at = along[-1] - min(off_m, along[-1] / 4)
        tip, base = (
            np.array([np.interp(at, along, line[:, axis]) for axis in (0, 1)]) for at in (tip_at, tip_at - long_m)
        )
        side = 0.42 * np.array([base[1] - tip[1], tip[0] - base[0]])
        heads.append([tip, base + side, base - side])
    sheet.axes.add_collection(
        PolyCollection(heads, facecolor=paper.PASS, edgecolor="white", linewidth=0.3, zorder=5.5, label="arrows"),
        autolim=False,
    )


def _middle(line: Floats) -> Floats:
    """Return the place half way along a line."""
    along = distances_along(line)
    return np.array([np.interp(along[-1] / 2, along, line[:, axis]) for axis in (0, 1)])


def draw_start(sheet: Sheet, line: Floats, *, entrance_xy: Floats | None = None) -> None:
    """Mark where the work begins, and which way.

    Parameters
    ----------
    sheet : Sheet
        Where to draw.
    line : ndarray of shape (K, 2)
        What is driven first, in driving order. [m]
    entrance_xy : ndarray of shape (2,), optional
        Where the entrance is marked, which the word does not cover. [m]
    """
    from matplotlib.patheffects import withStroke

    step = sheet.metres_per_point
    along = distances_along(line)
    reach = min(22 * step, along[-1])
    start = (float(line[0, 0]), float(line[0, 1]))
    tip = (float(np.interp(reach, along, line[:, 0])), float(np.interp(reach, along, line[:, 1])))
    halo = [withStroke(linewidth=2.4, foreground="white")]
    sheet.axes.annotate(
        "", tip, start, zorder=8, annotation_clip=False,
        arrowprops={
            "arrowstyle": "-|>,head_length=0.5,head_width=0.25", "color": paper.OUTLINE, "linewidth": 1.4,
            "shrinkA": 0, "shrinkB": 0, "path_effects": halo,
        },
    )  # fmt: skip
    sheet.axes.plot(*start, marker="o", markersize=4, color=paper.OUTLINE, zorder=8, path_effects=halo)
    heading = (line[1] - line[0]) / max(float(np.hypot(*(line[1] - line[0]))), 1e-9)
    aside, below = -17.0 * heading[0], -9.0 * heading[1]
    low, high = sheet.axes.get_xlim()
    held = float(np.clip(start[0] + aside * step, low + _LABEL_HALF * step, high - _LABEL_HALF * step))
    if abs(held - start[0] - aside * step) > step:  # it would run off the page: it goes above or below the dot
        aside, below = (held - start[0]) / step, -11.0 if heading[1] > 0 else 11.0
    if start[1] + (below + 5) * step > sheet.high_xy[1]:  # it would run into the title: it goes beside the dot
        middle = (low + high) / 2
        aside, below = (1 if start[0] < middle else -1) * (_LABEL_HALF + 7.0), 0.0
    if entrance_xy is not None:
        off = (entrance_xy - line[0]) / step - (aside, below)
        if abs(off[0]) < _LABEL_HALF + 4 and abs(off[1]) < 9:
            below += 12.0 if off[1] <= 0 else -12.0
    sheet.axes.annotate(
        "start", start, xytext=(aside, below), textcoords="offset points", fontsize=7.5,
        fontweight="bold", ha="center", va="center", zorder=8, path_effects=halo, annotation_clip=False,
    )  # fmt: skip


def draw_stops(sheet: Sheet, stops: StopPlan) -> None:
    """Mark every place where the tool stops, with the numbers of its stops.

    Parameters
    ----------
    sheet : Sheet
        Where to draw.
    stops : StopPlan
        The stops.
    """
    numbers: dict[tuple[float, float], list[str]] = {}
    for number, stop in enumerate(stops.stops, start=1):
        here = (round(stop.xy[0], 1), round(stop.xy[1], 1))
        numbers.setdefault(here, []).append(str(number))
    for (x, y), its in numbers.items():
        text = " ".join(its if len(its) <= _MOST_STOPS else [*its[: _MOST_STOPS - 1], "..."])
        sheet.axes.annotate(
            text, (x, y), fontsize=_STOP_SIZE, fontweight="bold", ha="center", va="center", zorder=9,
            annotation_clip=False, bbox={"boxstyle": "square,pad=0.25", "facecolor": paper.STOP, "edgecolor": "black",
                                         "linewidth": 0.8},
        )  # fmt: skip


_ENTRANCE_STYLE: Final[dict[str, Any]] = {
    "marker": "D", "markersize": 6.0, "markerfacecolor": "white", "markeredgecolor": paper.OUTLINE,
    "markeredgewidth": 1.3, "linestyle": "none",
}  # fmt: skip


def first_work(plan: Plan | DividedPlan | CurvedPlan) -> Leg | None:
    """Return what is worked first; None where nothing is.

    Parameters
    ----------
    plan : Plan or DividedPlan or CurvedPlan
        The plan.
    """
    return next((leg for leg in plan.route.legs if leg.is_work), None)


def entrance_of(plan: Plan | DividedPlan | CurvedPlan) -> Floats | None:
    """Return the entrance of a field, where the route comes from one or goes back to one; else None. [m]

    Parameters
    ----------
    plan : Plan or DividedPlan or CurvedPlan
        The plan. Its route begins and ends with work unless an entrance was given.
    """
    legs = plan.route.legs
    if legs and legs[0].state == "travel":
        return np.asarray(legs[0].points()[0])
    if legs and legs[-1].state == "travel":
        return np.asarray(legs[-1].points()[-1])
    return None


def draw_entrance(sheet: Sheet, plan: Plan | DividedPlan | CurvedPlan) -> None:
    """Mark the entrance of a field, if there is one.

    Parameters
    ----------
    sheet : Sheet
        Where to draw.
    plan : Plan or DividedPlan or CurvedPlan
        The plan.
    """
    place = entrance_of(plan)
    if place is not None:
        sheet.axes.plot([float(place[0])], [float(place[1])], **_ENTRANCE_STYLE, zorder=7.8, clip_on=False)


def entrance_handles(plan: Plan | DividedPlan | CurvedPlan) -> list[Any]:
    """Return what the legend says of the entrance; nothing for a plan without.

    Parameters
    ----------
    plan : Plan or DividedPlan or CurvedPlan
        The plan.
    """
    from matplotlib.lines import Line2D

    return [] if entrance_of(plan) is None else [Line2D([], [], **_ENTRANCE_STYLE, label="entrance")]


def stop_handles(stops: StopPlan | None) -> list[Any]:
    """Return what the legend says of stops; nothing without any.

    Parameters
    ----------
    stops : StopPlan or None
        The stops.
    """
    from matplotlib.patches import Patch

    if stops is None or not stops.stops:
        return []
    label = counted(len(stops.stops), f"stop to {stops.supply.job}", f"stops to {stops.supply.job}")
    return [Patch(facecolor=paper.STOP, edgecolor="black", linewidth=0.8, label=f"{label}, numbered")]


def plan_handles(plan: Plan | DividedPlan | CurvedPlan) -> list[Any]:
    """Return the legend of what is driven, with how many there are, and of overlap and skip with their areas.

    Parameters
    ----------
    plan : Plan or DividedPlan or CurvedPlan
        The plan.
    """
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    route, headland, coverage = plan.route, plan.layout.headland, plan.coverage
    states = {leg.state for leg in route.legs}
    handles: list[Any] = []
    for state, style, label in (
        ("headland", _HEADLAND_STYLE, counted(headland.rounds, "headland round", "headland rounds")),
        ("pass", _PASS_STYLE, counted(len(plan.layout.passes), "pass", "passes") + ", numbered as driven"),
        ("turn", _TURN_STYLE, counted(len(route.turns()), "turn", "turns")),
        ("travel", _TRAVEL_STYLE, "travel"),
    ):
        if state in states:
            handles.append(Line2D([], [], **style, label=label))
    for ground_style, what, area_m2 in (
        (_OVERLAP_STYLE, "overlap", coverage.overlap_m2),
        (_SKIP_STYLE, "skip", coverage.skip_m2),
    ):
        label = f"{what} {area_text(area_m2)}, {100 * area_m2 / coverage.area_m2:.1f} %"
        handles.append(Patch(**paper.hatched(**ground_style), label=label))
    return handles


def common_handles(plans: Sequence[Plan | DividedPlan | CurvedPlan]) -> list[Any]:
    """Return one legend for several plans: what is drawn on any of them, without counts.

    Parameters
    ----------
    plans : sequence of Plan or DividedPlan or CurvedPlan
        The plans.
    """
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    states = {leg.state for plan in plans for leg in plan.route.legs}
    handles: list[Any] = [
        Line2D([], [], **style, label=label)
        for state, style, label in (
            ("headland", _HEADLAND_STYLE, "headland round"),
            ("pass", _PASS_STYLE, "pass, numbered as driven"),
            ("turn", _TURN_STYLE, "turn"),
            ("travel", _TRAVEL_STYLE, "travel"),
        )
        if state in states
    ]
    for ground_style, what in ((_OVERLAP_STYLE, "overlap"), (_SKIP_STYLE, "skip")):
        handles.append(Patch(**paper.hatched(**ground_style), label=what))
    return handles


def counted(number: int, one: str, many: str) -> str:
    """Return how many of what, in the one form or the other.

    Parameters
    ----------
    number : int
        How many.
    one, many : str
        Words for one, and for any other number.
    """
    return f"{number} {one if number == 1 else many}"
