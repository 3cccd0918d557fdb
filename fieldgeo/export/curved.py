"""Curved passes as layers: those of a plan, with what is followed and the ground of each pass."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import shapely

from fieldgeo.export.guidance import BENT_GUIDANCE
from fieldgeo.export.kinds import LayerKind
from fieldgeo.export.layers import LAYERS, plan_layers
from fieldgeo.units import to_acres, to_feet

if TYPE_CHECKING:
    from fieldgeo.analysis.curved.plan import CurvedPlan
    from fieldgeo.export.kinds import Column, Kinds, Layers

_PASS_COLUMNS: Final[dict[str, Column]] = {"offset_m": "float64", "is_smoothed": "bool", "deviation_m": "float64"}
CURVED_LAYERS: Final[Kinds] = {
    name: LayerKind(kind.geometry, {**kind.columns, **_PASS_COLUMNS}) if name == "passes" else kind
    for name, kind in LAYERS.items()
} | {
    "guidance": BENT_GUIDANCE,
    "key_line": LayerKind(
        "LineString", {"kind": "str", "least_radius_m": "float64", "deviation_m": "float64", "length_ft": "float64"}
    ),
    "swaths": LayerKind("Polygon", {"number": "int64", "area_m2": "float64", "area_ac": "float64"}),
}  # fmt: skip


def curved_layers(plan: CurvedPlan) -> Layers:
    """Return a plan of curved passes as layers of shapes in the frame with their attributes.

    Parameters
    ----------
    plan : CurvedPlan
        One tool along bent lines on one field.

    Returns
    -------
    dict of str to list of (shapely.Geometry, dict)
        The layers of `CURVED_LAYERS`. `offset_m` is how far a pass lies from the key line, to its left above zero, and
        `deviation_m` how far its line was moved at the most to keep the least radius; of the key line itself, how far
        what was followed was moved. `number` of a swath is that of its pass, as driven.
    """
    layers, passes = plan_layers(plan), plan.layout.passes
    driven = [leg.number for leg in plan.route.legs if leg.state == "pass"]
    layers["passes"] = [
        (
            line,
            about
            | {
                "offset_m": float(passes.offset_m[number]),
                "is_smoothed": bool(passes.is_smoothed[number]),
                "deviation_m": float(passes.deviation_m[number]),
            },
        )
        for (line, about), number in zip(layers["passes"], driven, strict=True)
    ]
    key = shapely.LineString(passes.key_line)
    layers["key_line"] = [
        (
            key,
            {
                "kind": plan.follow.kind,
                "least_radius_m": float(passes.least_radius_m),
                "deviation_m": float(passes.key_deviation_m),
                "length_ft": to_feet(float(key.length)),
            },
        )
    ]
    place = {number: at for at, number in enumerate(driven, start=1)}
    layers["swaths"] = [
        (swath, {"number": place[number], "area_m2": float(swath.area), "area_ac": to_acres(float(swath.area))})
        for swath, number in zip(passes.swath_shapes, passes.swath_pass.tolist(), strict=True)
    ]
    return layers
