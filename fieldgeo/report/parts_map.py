"""The parts of a divided plan on its map: seams, and the number of each part."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import shapely

from fieldgeo.analysis.curved.plan import CurvedPlan
from fieldgeo.analysis.divided.plan import DividedPlan
from fieldgeo.report import sheet as paper
from fieldgeo.report.curved_map import followed_text
from fieldgeo.report.lines import direction_text

if TYPE_CHECKING:
    from fieldgeo.analysis.plan import Plan
    from fieldgeo.report.sheet import Sheet

_SEAM_STYLE: Final[dict[str, Any]] = {"color": paper.OUTLINE, "linewidth": 1.6, "dashes": (3, 1.2, 0.8, 1.2)}
_NUMBER_SIZE: Final = 11  # type of the numbers of parts [points]


def directions_text(plan: Plan | DividedPlan | CurvedPlan) -> str:
    """Return the direction of a plan, how many parts it has with a direction each, or what its passes follow.

    Parameters
    ----------
    plan : Plan or DividedPlan or CurvedPlan
        The plan.
    """
    if isinstance(plan, DividedPlan):
        return f"{len(plan.layout.parts)} parts, a direction each"
    if isinstance(plan, CurvedPlan):
        return followed_text(plan)
    return f"direction {direction_text(plan.layout.direction_deg)}"


def draw_parts(sheet: Sheet, plan: Plan | DividedPlan | CurvedPlan) -> None:
    """Draw seams and numbers of parts, where a plan has any.

    Parameters
    ----------
    sheet : Sheet
        Where to draw.
    plan : Plan or DividedPlan or CurvedPlan
        The plan.
    """
    if not isinstance(plan, DividedPlan):
        return
    for seam in plan.layout.seams:
        for line in shapely.get_parts(seam.line):
            sheet.axes.plot(
                *shapely.get_coordinates(line).T, color=_SEAM_STYLE["color"], linewidth=_SEAM_STYLE["linewidth"],
                dashes=_SEAM_STYLE["dashes"], zorder=6,
            )  # fmt: skip
    for number, part in enumerate(plan.layout.parts, start=1):
        middle = max(part.body.geoms, key=lambda piece: piece.area).representative_point()
        sheet.axes.text(
            middle.x, middle.y, str(number), fontsize=_NUMBER_SIZE, fontweight="bold", color=paper.OUTLINE,
            ha="center", va="center", zorder=7.5,
            bbox={"boxstyle": "circle,pad=0.2", "facecolor": "white", "edgecolor": paper.OUTLINE, "linewidth": 1.0},
        )  # fmt: skip


def part_handles(plan: Plan | DividedPlan | CurvedPlan) -> list[Any]:
    """Return what the legend says of parts; nothing for a plan without.

    Parameters
    ----------
    plan : Plan or DividedPlan or CurvedPlan
        The plan.
    """
    if not isinstance(plan, DividedPlan) or not plan.layout.seams:
        return []
    from matplotlib.lines import Line2D

    return [Line2D([], [], **_SEAM_STYLE, label="seam between parts; part in a ring")]
