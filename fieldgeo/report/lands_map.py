"""Back furrows and dead furrows on the picture of a plan."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from fieldgeo.report import sheet as paper

if TYPE_CHECKING:
    from fieldgeo.analysis.plow import LandPlan
    from fieldgeo.report.sheet import Sheet

# A back furrow is a ridge, drawn as one broad line; a dead furrow is open, drawn as a broken black one.
_BACK_STYLE: Final[dict[str, Any]] = {"color": paper.RIDGE, "linewidth": 3.0, "solid_capstyle": "butt"}
_DEAD_STYLE: Final[dict[str, Any]] = {
    "color": paper.OUTLINE, "linewidth": 2.2, "linestyle": (0, (2.2, 1.1)), "dash_capstyle": "butt",
}  # fmt: skip
_ROOM: Final = 3.5  # points between neighbouring passes from which lines are drawn in full
_STYLES: Final = {"back": _BACK_STYLE, "dead": _DEAD_STYLE}


def draw_furrows(sheet: Sheet, lands: LandPlan | None) -> None:
    """Draw the back furrows and the dead furrows of lands.

    Parameters
    ----------
    sheet : Sheet
        Where to draw.
    lands : LandPlan or None
        The lands; None draws nothing.
    """
    from matplotlib.patheffects import withStroke

    if lands is None:
        return
    # Where passes lie close the lines are thinner, so that they leave ground to see.
    thin = min(1.0, max(0.5, lands.plan.tool.pitch_m / sheet.metres_per_point / _ROOM))
    for furrow in lands.chosen.furrows:
        if furrow.kind in _STYLES:
            style = _STYLES[furrow.kind] | {"linewidth": _STYLES[furrow.kind]["linewidth"] * thin}
            halo = [withStroke(linewidth=style["linewidth"] + 1.6 * thin, foreground="white")]
            line = furrow.ends_xy(lands.plan.layout.direction_deg)
            sheet.axes.plot(*line.T, **style, zorder=6, path_effects=halo)


def furrow_handles(lands: LandPlan | None) -> list[Any]:
    """Return the entries of the legend.

    Parameters
    ----------
    lands : LandPlan or None
        The lands; without them there are no entries.
    """
    from matplotlib.lines import Line2D

    if lands is None:
        return []
    handles = []
    for kind, style in _STYLES.items():
        count = lands.chosen.furrow_count(kind)
        handles.append(Line2D([], [], **style, label=f"{count} {kind} furrow{'' if count == 1 else 's'}"))
    return handles
