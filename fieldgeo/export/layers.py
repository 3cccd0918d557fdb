"""A plan as layers with plain names, written to an open format that the suffix of the file tells."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import shapely

from fieldgeo.analysis.curved.plan import CurvedPlan
from fieldgeo.analysis.divided.plan import DividedPlan
from fieldgeo.analysis.plan import Plan
from fieldgeo.export.files import PathLike, check_placed
from fieldgeo.export.formats import write_layers
from fieldgeo.export.kinds import LayerKind
from fieldgeo.frame import azimuth_deg
from fieldgeo.outline.field import Field
from fieldgeo.units import to_acres, to_feet

if TYPE_CHECKING:
    from fieldgeo.export.kinds import Kinds, Layers, Properties

LAYERS: Final[Kinds] = {
    "outline": LayerKind(
        "MultiPolygon", {"name": "str", "area_m2": "float64", "area_ac": "float64", "perimeter_m": "float64"}
    ),
    "guidance": LayerKind(
        "LineString",
        {
            "number": "int64", "piece": "int64", "form": "str", "passes": "int64", "azimuth_deg": "float64",
            "spacing_m": "float64", "spacing_ft": "float64", "start_lon_deg": "float64", "start_lat_deg": "float64",
            "end_lon_deg": "float64", "end_lat_deg": "float64",
        },
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
    "turns": LayerKind(
        "LineString",
        {"step": "int64", "number": "int64", "kind": "str", "length_m": "float64", "length_ft": "float64"},
    ),
    "overlap": LayerKind(
        "Polygon",
        {
            "cause": "str", "times": "int64", "area_m2": "float64", "area_ac": "float64",
            "overlap_m2": "float64", "overlap_ac": "float64",
        },
    ),
    "skip": LayerKind("Polygon", {"area_m2": "float64", "area_ac": "float64"}),
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
        `azimuth_deg` is the way the pass is driven, clockwise from north, 0 <= azimuth < 360. A line of `guidance` is
        the pass driven first in each piece of the body; the others lie beside it at whole multiples of `spacing_m`, but
        for one that is pulled in. `times` is how many times more than once the ground is worked, and `overlap_m2` the
        area times that.
    """
    shapes = plan.shapes()
    return {
        "outline": [outline_row(plan.field)],
        "guidance": _guidance(plan),
        "headland_rounds": _headland_rounds(plan),
        "passes": _passes(plan),
        "turns": _turns(plan),
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
    }


def write_plan(plan: Plan, path: PathLike, *, force: bool = False) -> tuple[str, ...]:
    """Write a plan to a file, whole or not at all, and say what its format does not hold.

    Parameters
    ----------
    plan : Plan
        One tool on one field.
    path : str or path
        ``.geojson``, ``.json``, ``.gpkg``, ``.kml``, ``.gpx``, ``.zip`` (shapefiles) or ``.csv``, as
        `fieldgeo.export.formats.write_layers`.
    force : bool
        Whether an existing file may be replaced.

    Returns
    -------
    tuple of str
        What the format cannot hold and how it was dealt with.

    Raises
    ------
    InputError
        If the suffix is of another format, or the place of the field is not known.
    FileError
        If the file exists and `force` is not set, or it cannot be written.
    """
    check_placed(plan.field, path)
    return write_layers(plan_layers(plan), LAYERS, plan.field.frame, path, force=force)


def write_field(field: Field, path: PathLike, *, force: bool = False) -> tuple[str, ...]:
    """Write the outline of a field to a file, whole or not at all, and say what its format does not hold.

    Parameters
    ----------
    field : Field
        The field.
    path : str or path
        As for `write_plan`.
    force : bool
        Whether an existing file may be replaced.

    Returns
    -------
    tuple of str
        What the format cannot hold and how it was dealt with.

    Raises
    ------
    InputError
        If the suffix is of another format, or the place of the field is not known.
    FileError
        If the file exists and `force` is not set, or it cannot be written.
    """
    check_placed(field, path)
    return write_layers({"outline": [outline_row(field)]}, LAYERS, field.frame, path, force=force)


def _areas(what: str, area_m2: float) -> Properties:
    return {f"{what}_m2": float(area_m2), f"{what}_ac": to_acres(float(area_m2))}


def _lengths(length_m: float) -> Properties:
    return {"length_m": float(length_m), "length_ft": to_feet(float(length_m))}


def outline_row(field: Field) -> tuple[shapely.Geometry, Properties]:
    """Return the outline of a field with the attributes of its layer."""
    return field.shape, {"name": field.name, **_areas("area", field.area_m2), "perimeter_m": field.perimeter_m}


def _guidance(plan: Plan | DividedPlan | CurvedPlan) -> list[tuple[shapely.Geometry, Properties]]:
    table, frame = plan.layout.passes, plan.field.frame
    lines: list[tuple[shapely.Geometry, Properties]] = []
    seen: set[int] = set()
    for leg in plan.route.legs:
        # A strip that was pulled in lies off the grid of the others.
        if leg.state != "pass" or table.is_pulled[leg.number] or int(table.piece[leg.number]) in seen:
            continue
        piece = int(table.piece[leg.number])
        seen.add(piece)
        line = leg.points()
        (start_lon, end_lon), (start_lat, end_lat) = frame.to_lonlat(*line[[0, -1]].T)
        form = "curved" if isinstance(plan, CurvedPlan) else "straight"
        about: Properties = {"number": len(lines) + 1, "piece": piece, "form": form}
        about |= {"passes": int((table.piece == piece).sum()), "azimuth_deg": float(azimuth_deg(*(line[-1] - line[0])))}
        about |= {"spacing_m": plan.tool.pitch_m, "spacing_ft": to_feet(plan.tool.pitch_m)}
        about |= {"start_lon_deg": float(start_lon), "start_lat_deg": float(start_lat)}
        about |= {"end_lon_deg": float(end_lon), "end_lat_deg": float(end_lat)}
        lines.append((shapely.LineString(line), about))
    return lines


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
