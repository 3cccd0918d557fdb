"""A plan as layers with plain names, written to open formats: GeoJSON or GeoPackage, chosen by suffix."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, Literal, NamedTuple

import numpy as np
import shapely

from fieldgeo.analysis.plan import Plan
from fieldgeo.analysis.shapes import coverage_shapes
from fieldgeo.errors import FileError, InputError
from fieldgeo.export.files import PathLike, check_placed, whole_file
from fieldgeo.export.geojson import write_geojson
from fieldgeo.frame import Frame, azimuth_deg, shape_to_lonlat
from fieldgeo.outline.field import Field
from fieldgeo.units import to_acres, to_feet

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import geopandas

Properties = dict[str, Any]
Layers = dict[str, list[tuple[shapely.Geometry, Properties]]]
Column = Literal["int64", "float64", "bool", "str"]


class LayerKind(NamedTuple):
    """What a layer holds."""

    geometry: Literal["MultiPolygon", "Polygon", "LineString", "Point"]
    columns: Mapping[str, Column]  # name of each attribute and its type


LAYERS: Final[Mapping[str, LayerKind]] = {
    "outline": LayerKind(
        "MultiPolygon", {"name": "str", "area_m2": "float64", "area_ac": "float64", "perimeter_m": "float64"}
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


def plan_layers(plan: Plan) -> Layers:
    """Return a plan as layers of shapes in the frame with their attributes.

    Parameters
    ----------
    plan : Plan
        One tool on one field.

    Returns
    -------
    dict of str to list of (shapely.Geometry, dict)
        The layers of `LAYERS`, in that order; a layer may be empty. Lines run the way they are driven, and `step` is
        the place of each in the whole route, from 1. `number` counts passes, and turns, in the order driven, from 1.
        `azimuth_deg` is the way the pass is driven, clockwise from north, 0 <= azimuth < 360. `times` is how many times
        more than once the ground is worked, and `overlap_m2` the area times that.
    """
    shapes = coverage_shapes(plan.layout)
    return {
        "outline": [outline_row(plan.field)],
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


def write_plan(plan: Plan, path: PathLike, *, force: bool = False) -> None:
    """Write a plan to a file, whole or not at all.

    Parameters
    ----------
    plan : Plan
        One tool on one field.
    path : str or path
        ``.geojson`` or ``.json``: one feature collection as RFC 7946 asks, each feature with the name of its layer in
        the property `layer`. ``.gpkg``: a GeoPackage with a table for each layer, in longitude and latitude.
    force : bool
        Whether an existing file may be replaced.

    Raises
    ------
    InputError
        If the suffix is of another format, or the place of the field is not known.
    FileError
        If the file exists and `force` is not set, or it cannot be written.
    """
    check_placed(plan.field, path)
    write_layers(plan_layers(plan), LAYERS, plan.field.frame, path, force=force)


def write_layers(
    layers: Layers, kinds: Mapping[str, LayerKind], frame: Frame, path: PathLike, *, force: bool = False
) -> None:
    """Write layers to a file, whole or not at all.

    Parameters
    ----------
    layers : dict of str to list of (shapely.Geometry, dict)
        Shapes in the frame [m] with their attributes.
    kinds : mapping of str to LayerKind
        What each layer holds.
    frame : Frame
        The plane of the shapes.
    path : str or path
        ``.geojson`` or ``.json``, or ``.gpkg``, as in `write_plan`.
    force : bool
        Whether an existing file may be replaced.

    Raises
    ------
    InputError
        If the suffix is of another format.
    FileError
        If the file exists and `force` is not set, or it cannot be written.
    """
    if _format(path) == "gpkg":
        _write_geopackage(layers, kinds, frame, path, force=force)
        return
    features = [
        (shape, {"layer": layer} | properties) for layer, members in layers.items() for shape, properties in members
    ]
    write_geojson(path, features, frame=frame, force=force)


def write_field(field: Field, path: PathLike, *, force: bool = False) -> None:
    """Write the outline of a field to a file, whole or not at all.

    Parameters
    ----------
    field : Field
        The field.
    path : str or path
        ``.geojson`` or ``.json``, or ``.gpkg``.
    force : bool
        Whether an existing file may be replaced.

    Raises
    ------
    InputError
        If the suffix is of another format, or the place of the field is not known.
    FileError
        If the file exists and `force` is not set, or it cannot be written.
    """
    check_placed(field, path)
    if _format(path) == "gpkg":
        _write_geopackage({"outline": [outline_row(field)]}, LAYERS, field.frame, path, force=force)
    else:
        write_geojson(path, [outline_row(field)], frame=field.frame, force=force)


_FORMATS: Final[Mapping[str, Literal["geojson", "gpkg"]]] = {".geojson": "geojson", ".json": "geojson", ".gpkg": "gpkg"}


def _format(path: PathLike) -> Literal["geojson", "gpkg"]:
    suffix = Path(path).suffix
    if suffix.lower() not in _FORMATS:
        raise InputError(
            f"{path}: the suffix {suffix!r} tells no format that can be written. "
            f"Give a name that ends in {', '.join(_FORMATS)}."
        )
    return _FORMATS[suffix.lower()]


def _areas(what: str, area_m2: float) -> Properties:
    return {f"{what}_m2": float(area_m2), f"{what}_ac": to_acres(float(area_m2))}


def _lengths(length_m: float) -> Properties:
    return {"length_m": float(length_m), "length_ft": to_feet(float(length_m))}


def outline_row(field: Field) -> tuple[shapely.Geometry, Properties]:
    """Return the outline of a field with the attributes of its layer."""
    return field.shape, {"name": field.name, **_areas("area", field.area_m2), "perimeter_m": field.perimeter_m}


def _headland_rounds(plan: Plan) -> list[tuple[shapely.Geometry, Properties]]:
    rounds: list[tuple[shapely.Geometry, Properties]] = []
    for step, leg in enumerate(plan.route.legs, start=1):
        if leg.state == "headland":
            run = plan.layout.headland.runs[leg.number]
            about = {"step": step, "round": run.round, "part": run.part, "is_closed": run.is_closed}
            about |= _lengths(leg.length_m) | {"width_m": plan.tool.width_m}
            rounds.append((shapely.LineString(leg.points()), about))
    return rounds


def _passes(plan: Plan) -> list[tuple[shapely.Geometry, Properties]]:
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


def _turns(plan: Plan) -> list[tuple[shapely.Geometry, Properties]]:
    turns: list[tuple[shapely.Geometry, Properties]] = []
    for step, leg in enumerate(plan.route.legs, start=1):
        if leg.turn is not None:
            about = {"step": step, "number": len(turns) + 1, "kind": leg.turn.kind}
            turns.append((shapely.LineString(leg.points()), about | _lengths(leg.length_m)))
    return turns


def _write_geopackage(
    layers: Layers, kinds: Mapping[str, LayerKind], frame: Frame, path: PathLike, *, force: bool
) -> None:
    import pyogrio
    from pyogrio.errors import DataLayerError, DataSourceError

    with whole_file(path, force=force) as temporary:
        try:
            for name, members in layers.items():
                pyogrio.write_dataframe(
                    _table(members, kinds[name], frame), temporary, layer=name, driver="GPKG",
                    geometry_type=kinds[name].geometry,
                )  # fmt: skip
        except (DataSourceError, DataLayerError) as error:
            raise FileError(f"{path} cannot be written: {error}. Check the folder and its space.") from error


def _table(
    members: Sequence[tuple[shapely.Geometry, Properties]], kind: LayerKind, frame: Frame
) -> geopandas.GeoDataFrame:
    import geopandas
    import pandas as pd

    # Longitudes of a field across 180 degrees run on beyond it: its shapes stay whole, which a map program likes better
    # than halves at both ends of the world. GeoJSON asks for the halves, and gets them.
    shapes = [shape_to_lonlat(shape, frame) for shape, _ in members]
    columns = {
        name: pd.Series([_as_column(properties[name]) for _, properties in members], dtype=dtype)
        for name, dtype in kind.columns.items()
    }
    return geopandas.GeoDataFrame(columns, geometry=np.array(shapes, dtype=object), crs="EPSG:4326")


def _as_column(value: object) -> object:
    # Half a character, as broken files have, and the zero byte cannot be stored as text.
    return value.encode("utf-8", "replace").decode("utf-8").replace("\0", "") if isinstance(value, str) else value
