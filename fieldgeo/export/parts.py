"""A field divided into parts as layers: those of its plan, its parts and the seams between them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import shapely

from fieldgeo.export.kinds import LayerKind
from fieldgeo.export.layers import LAYERS, plan_layers
from fieldgeo.units import to_acres, to_feet

if TYPE_CHECKING:
    from fieldgeo.analysis.divided.plan import DividedPlan
    from fieldgeo.export.kinds import Kinds, Layers

PART_LAYERS: Final[Kinds] = {
    **LAYERS,
    "passes": LayerKind(LAYERS["passes"].geometry, {**LAYERS["passes"].columns, "body_part": "int64"}),
    "parts": LayerKind(
        "MultiPolygon",
        {
            "body_part": "int64", "direction_deg": "float64", "passes": "int64", "is_end_rows": "bool",
            "area_m2": "float64", "area_ac": "float64",
        },
    ),
    "seams": LayerKind(
        "LineString", {"first": "int64", "second": "int64", "length_m": "float64", "length_ft": "float64"}
    ),
}  # fmt: skip


def part_layers(plan: DividedPlan) -> Layers:
    """Return a divided plan as layers of shapes in the frame with their attributes.

    Parameters
    ----------
    plan : DividedPlan
        One tool on one field in parts.

    Returns
    -------
    dict of str to list of (shapely.Geometry, dict)
        The layers of `PART_LAYERS`. `body_part` is the number of a part of the body, from 1; `first` and `second` are
        those of the parts that meet on a seam.
    """
    layers = plan_layers(plan)
    numbers = [leg.number for leg in plan.route.legs if leg.state == "pass"]
    parts = plan.layout.passes.part
    layers["passes"] = [
        (line, about | {"body_part": int(parts[number]) + 1})
        for (line, about), number in zip(layers["passes"], numbers, strict=True)
    ]
    layers["parts"] = [
        (
            part.body,
            {
                "body_part": number,
                "direction_deg": float(part.direction_deg),
                "passes": len(part.passes),
                "is_end_rows": part.is_end_rows,
                "area_m2": float(part.body.area),
                "area_ac": to_acres(float(part.body.area)),
            },
        )
        for number, part in enumerate(plan.layout.parts, start=1)
    ]
    layers["seams"] = [
        (
            line,
            {
                "first": seam.first + 1,
                "second": seam.second + 1,
                "length_m": float(line.length),
                "length_ft": to_feet(float(line.length)),
            },
        )
        for seam in plan.layout.seams
        for line in shapely.get_parts(seam.line).tolist()
    ]
    return layers
