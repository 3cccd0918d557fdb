"""A plan as layers with plain names."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import shapely

from fieldgeo.analysis.curved.plan import CurvedPlan
from fieldgeo.analysis.divided.plan import DividedPlan
from fieldgeo.analysis.plan import Plan
from fieldgeo.export.guidance import GUIDANCE, guidance_rows
from fieldgeo.export.kinds import LayerKind
from fieldgeo.frame import azimuth_deg
from fieldgeo.outline.field import Field
from fieldgeo.units import to_acres, to_feet

if TYPE_CHECKING:
    from fieldgeo.export.kinds import Kinds, Layers, Properties

# In the order in which they are drawn, the first below: ground, what joins, what is driven, what to be guided by.
LAYERS: Final[Kinds] = {
    "outline": LayerKind(
        "MultiPolygon", {"name": "str", "area_m2": "float64", "area_ac": "float64", "perimeter_m": "float64"}
    ),
    "overlap": LayerKind(
        "Polygon",
        {
            "cause": "str", "times": "int64", "area_m2": "float64", "area_ac": "float64",
            "overlap_m2": "float64", "overlap_ac": "float64",
        },
    ),
    "skip": LayerKind("Polygon", {"area_m2": "float64", "area_ac": "float64"}),
    "turns": LayerKind(
        "LineString",
        {"step": "int64", "number": "int64", "kind": "str", "length_m": "float64", "length_ft": "float64"},
    ),
    "headland_rounds": LayerKind(
        "LineString",
        {
            "step": "int64", "round": "int64", "part": "int64", "is_closed": "bool",
            "length_m": "float64", "length_ft": "float64", "width_m": "float64",
        },
    ),
    "passes": LayerKind(
        "LineString",
        {
            "step": "int64", "number": "int64", "piece": "int64", "strip": "int64", "is_pulled": "bool",
            "azimuth_deg": "float64", "length_m": "float64", "length_ft": "float64", "width_m": "float64",
        },
    ),
    "guidance": GUIDANCE,
}  # fmt: skip


def plan_layers(plan: Plan | DividedPlan | CurvedPlan) -> Layers:
    """Return a plan as layers of shapes in the frame with their attributes.

    Parameters
    ----------
    plan : Plan or DividedPlan or CurvedPlan
        One tool on one field.

    Returns
    -------
    dict of str to list of (shapely.Geometry, dict)
        The layers of `LAYERS`, in that order; a layer may be empty. Lines run the way they are driven, and `step` is
        the place of each in the whole route, from 1. `number` counts passes, and turns, in the order driven, from 1.
        `azimuth_deg` is the way the pass is driven, clockwise from north, 0 <= azimuth < 360. Of `guidance` see
        `fieldgeo.export.guidance.guidance_rows`. `times` is how many times more than once the ground is worked, and
        `overlap_m2` the area times that.
    """
    shapes = plan.shapes()
    return {
        "outline": [outline_row(plan.field)],
        "overlap": [
            (
                overlap.polygon,
                {"cause": overlap.cause, "times": overlap.times}
                | _areas("area", overlap.polygon.area)
                | _areas("overlap", overlap.overlap_m2),
            )
            for overlap in shapes.overlap
        ],
        "skip": [(polygon, _areas("area", polygon.area)) for polygon in shapes.skip.geoms],
        "turns": _turns(plan),
        "headland_rounds": _headland_rounds(plan),
        "passes": _passes(plan),
        "guidance": guidance_rows(plan),
    }


def _areas(what: str, area_m2: float) -> Properties:
    return {f"{what}_m2": float(area_m2), f"{what}_ac": to_acres(float(area_m2))}


def _lengths(length_m: float) -> Properties:
    return {"length_m": float(length_m), "length_ft": to_feet(float(length_m))}


def outline_row(field: Field) -> tuple[shapely.Geometry, Properties]:
    """Return the outline of a field with the attributes of its layer."""
    return field.shape, {"name": field.name, **_areas("area", field.area_m2), "perimeter_m": field.perimeter_m}


def _headland_rounds(plan: Plan | DividedPlan | CurvedPlan) -> list[tuple[shapely.Geometry, Properties]]:
    rounds: list[tuple[shapely.Geometry, Properties]] = []
    for step, leg in enumerate(plan.route.legs, start=1):
        if leg.state == "headland":
            run = plan.layout.headland.runs[leg.number]
            about = {"step": step, "round": run.round, "part": run.part, "is_closed": run.is_closed}
            about |= _lengths(leg.length_m) | {"width_m": plan.tool.width_m}
            rounds.append((shapely.LineString(leg.points()), about))
    return rounds


def _passes(plan: Plan | DividedPlan | CurvedPlan) -> list[tuple[shapely.Geometry, Properties]]:
    table = plan.layout.passes
    passes: list[tuple[shapely.Geometry, Properties]] = []
    for step, leg in enumerate(plan.route.legs, start=1):
        if leg.state == "pass":
            line = leg.points()
            about: Properties = {
                "step": step,
                "number": len(passes) + 1,
                "piece": int(table.piece[leg.number]),
                "strip": int(table.strip[leg.number]),
                "is_pulled": bool(table.is_pulled[leg.number]),
                "azimuth_deg": float(azimuth_deg(*(line[-1] - line[0]))),
            }
            passes.append((shapely.LineString(line), about | _lengths(leg.length_m) | {"width_m": plan.tool.width_m}))
    return passes


def _turns(plan: Plan | DividedPlan | CurvedPlan) -> list[tuple[shapely.Geometry, Properties]]:
    turns: list[tuple[shapely.Geometry, Properties]] = []
    for step, leg in enumerate(plan.route.legs, start=1):
        if leg.turn is not None:
            about = {"step": step, "number": len(turns) + 1, "kind": leg.turn.kind}
            turns.append((shapely.LineString(leg.points()), about | _lengths(leg.length_m)))
    return turns
