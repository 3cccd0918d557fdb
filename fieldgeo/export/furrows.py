"""Back furrows, dead furrows and lands as layers, beside the layers of their plan."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import shapely

from fieldgeo.export.kinds import LayerKind
from fieldgeo.units import to_feet

if TYPE_CHECKING:
    from collections.abc import Mapping

    from fieldgeo.analysis.plow import LandPlan
    from fieldgeo.export.kinds import Layers
    from fieldgeo.layout.furrows import Furrow

FURROW_LAYERS: Final[Mapping[str, LayerKind]] = {
    name: LayerKind("LineString", {"number": "int64", "length_m": "float64", "length_ft": "float64"})
    for name in ("back_furrows", "dead_furrows")
}


def furrow_layers(plowed: LandPlan) -> Layers:
    """Return the back furrows and the dead furrows of lands as layers of lines in the frame.

    Parameters
    ----------
    plowed : LandPlan
        A field plowed in lands.

    Returns
    -------
    dict of str to list of (shapely.Geometry, dict)
        The layers of `FURROW_LAYERS`; `number` counts from 1, from the right looking along the direction.
    """
    found: dict[str, list[Furrow]] = {
        name: sorted((its for its in plowed.chosen.furrows if its.kind == kind), key=lambda its: its.across_m)
        for name, kind in (("back_furrows", "back"), ("dead_furrows", "dead"))
    }
    direction_deg = plowed.plan.layout.direction_deg
    return {
        name: [
            (shapely.LineString(each.ends_xy(direction_deg)), _about(number, each))
            for number, each in enumerate(its, start=1)
        ]
        for name, its in found.items()
    }


def _about(number: int, furrow: Furrow) -> dict[str, Any]:
    return {"number": number, "length_m": furrow.length_m, "length_ft": to_feet(furrow.length_m)}
