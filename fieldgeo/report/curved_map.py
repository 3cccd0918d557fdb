"""Curved passes on their map: what is followed, and the numbers of the field's edges."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np
import shapely

from fieldgeo.analysis.curved.follow import numbers_text
from fieldgeo.analysis.curved.plan import CurvedPlan
from fieldgeo.layout.curved.edges import field_edges
from fieldgeo.report import sheet as paper

if TYPE_CHECKING:
    from fieldgeo.report.sheet import Sheet

_KEY_STYLE: Final[dict[str, Any]] = {"color": paper.OUTLINE, "linewidth": 1.6, "dashes": (3, 1.2, 0.8, 1.2)}
_NUMBER_SIZE: Final = 8.5  # type of the numbers of edges [points]
_BESIDE: Final = 9.0  # how far outside the edge its number stands [points]
_BEYOND: Final = 0.02  # so far beyond the field the line is shown, as a share of its perimeter
_LEAST_EDGE: Final = 12.0  # shorter edges get no number [points]


def followed_text(plan: CurvedPlan) -> str:
    """Return what the passes of a plan follow, in a few words.

    Parameters
    ----------
    plan : CurvedPlan
        The plan.
    """
    edges = plan.follow.edges
    if plan.follow.kind == "circle":
        return "circles"
    if plan.follow.kind == "line":
        return "along the line given"
    return f"along edge {edges[0]}" if len(edges) == 1 else f"along edges {numbers_text(edges)}"


def draw_followed(sheet: Sheet, plan: object) -> None:
    """Draw what the passes of a plan follow, and number the edges of its field, where it has curved passes.

    Parameters
    ----------
    sheet : Sheet
        Where to draw.
    plan : object
        Any plan; nothing is drawn for one without curved passes.
    """
    if not isinstance(plan, CurvedPlan):
        return
    from matplotlib.patheffects import withStroke

    halo = [withStroke(linewidth=2.8, foreground="white")]
    if plan.follow.kind == "circle":
        sheet.axes.plot(
            *plan.follow.line[0], marker="+", markersize=9, color=paper.OUTLINE, zorder=6, path_effects=halo
        )
    else:
        near = plan.field.shape.envelope.buffer(_BEYOND * plan.field.shape.length)
        for part in shapely.get_parts(shapely.intersection(shapely.LineString(plan.layout.passes.key_line), near)):
            sheet.axes.plot(
                *shapely.get_coordinates(part).T, color=_KEY_STYLE["color"], linewidth=_KEY_STYLE["linewidth"],
                dashes=_KEY_STYLE["dashes"], zorder=6,
            )  # fmt: skip
    for edge in field_edges(plan.field.shape):
        if edge.is_closed or edge.length_m < _LEAST_EDGE * sheet.metres_per_point:
            continue
        line = shapely.LineString(edge.line)
        at = shapely.get_coordinates(line.interpolate(0.5, normalized=True))[0]
        ahead = shapely.get_coordinates(line.interpolate(0.5 * line.length + 1.0))[0] - at
        # The field lies on the left of its edges. Across a ditch, where the other bank is near, the number stands on
        # the field.
        away = _BESIDE * sheet.metres_per_point
        outward = away * np.array([ahead[1], -ahead[0]]) / max(float(np.hypot(*ahead)), 1e-9)
        is_near = plan.field.shape.distance(shapely.Point(at + outward)) < away / 2
        place = at - outward if is_near else at + outward
        sheet.axes.text(
            float(place[0]), float(place[1]), str(edge.number), fontsize=_NUMBER_SIZE, fontweight="bold",
            color=paper.OUTLINE, ha="center", va="center", zorder=7.5, path_effects=halo,
        )  # fmt: skip


def followed_handles(plan: object) -> list[Any]:
    """Return what the legend says of what is followed; nothing for a plan without curved passes.

    Parameters
    ----------
    plan : object
        Any plan.
    """
    if not isinstance(plan, CurvedPlan):
        return []
    from matplotlib.lines import Line2D

    if plan.follow.kind == "circle":
        return [Line2D([], [], color=paper.OUTLINE, marker="+", markersize=9, linestyle="none", label="centre")]
    return [Line2D([], [], **_KEY_STYLE, label="line that is followed; edges have numbers")]
