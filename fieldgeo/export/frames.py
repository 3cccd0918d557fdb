"""Fields, layouts, routes and time lines as GeoDataFrames, and back without any loss.

The tables are in metres of the field's own frame, and carry its coordinate system. Numbers that an object is rebuilt
from stand in columns; a part that has no column of its own is JSON text. In a layout, where most columns have gaps, yes
and no are 1 and 0: file formats know no gap in a column of truth values, and would store words.
"""

from __future__ import annotations

import json
from dataclasses import asdict, fields
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from fieldgeo.errors import InputError
from fieldgeo.export.plain import from_plain
from fieldgeo.frame import Frame
from fieldgeo.layout.model import Headland, HeadlandRun, Layout, Passes
from fieldgeo.machinery.tool import Tool
from fieldgeo.outline.evidence import Evidence
from fieldgeo.outline.field import Change, Field
from fieldgeo.travel.order import BlockOrder
from fieldgeo.travel.route import Leg, Route
from fieldgeo.travel.timeline import Timeline
from fieldgeo.travel.turns import Turn

if TYPE_CHECKING:
    import geopandas

Row = dict[str, Any]
_HEADLAND_AREAS = tuple(field.name for field in fields(Headland) if field.name.endswith("_m2"))
_OF_A_FIELD = ("name", "source_crs", "frame_lon_deg", "frame_lat_deg", "changes", "problems", "evidence")
_BOX = ("low_u_m", "low_v_m", "high_u_m", "high_v_m")


def to_geodataframe(thing: Field | Layout | Route | Timeline) -> geopandas.GeoDataFrame:
    """Return a field, layout, route or time line as a table.

    Parameters
    ----------
    thing : Field or Layout or Route or Timeline
        What to write as a table.

    Returns
    -------
    geopandas.GeoDataFrame
        Field: one row. Layout: a row for each thing that lies in it, told apart by `role`: the field, the body, ground
        and runs of the headland, passes (centre lines) and the swaths of passes. Route: a row for each leg, in order;
        the first tells in `orders` how the passes of each block are taken.
        Time line: a row for each spell, lifting at a point and driving along a line.
    """
    import geopandas

    if isinstance(thing, Field):
        field, rows = thing, [_field_row(thing)]
    elif isinstance(thing, Layout):
        field, rows = thing.field, _layout_rows(thing)
    elif isinstance(thing, Route):
        field, rows = thing.layout.field, _route_rows(thing)
    else:
        field, rows = thing.route.layout.field, _timeline_rows(thing)
    if not rows:
        return geopandas.GeoDataFrame({"geometry": []}, geometry="geometry", crs=field.frame.crs())
    return geopandas.GeoDataFrame(rows, geometry="geometry", crs=field.frame.crs())


def field_from_geodataframe(table: geopandas.GeoDataFrame) -> Field:
    """Return the field of a table made by `to_geodataframe`.

    Parameters
    ----------
    table : geopandas.GeoDataFrame
        Table of a field.

    Raises
    ------
    InputError
        If columns are missing.
    """
    _check_columns(table, _OF_A_FIELD, "field")
    return _field(_rows(table)[0])


def layout_from_geodataframe(table: geopandas.GeoDataFrame) -> Layout:
    """Return the layout of a table made by `to_geodataframe`.

    Parameters
    ----------
    table : geopandas.GeoDataFrame
        Table of a layout.

    Raises
    ------
    InputError
        If columns are missing.
    """
    _check_columns(table, ("role", "name", "tool", "direction_deg", "finish", "rounds"), "layout")
    by_role: dict[str, list[Row]] = {}
    for row in _rows(table):
        by_role.setdefault(row["role"], []).append(row)
    (whole,), (body,) = by_role["field"], by_role["body"]
    (ground,), (run_on,) = by_role["headland_ground"], by_role["headland_run_on"]
    runs = zip(by_role.get("headland_line", []), by_role.get("headland_swath", []), strict=True)
    headland = Headland(
        rounds=int(whole["rounds"]),
        all_round=bool(whole["all_round"]),
        **{name: float(whole[name]) for name in _HEADLAND_AREAS},
        runs=tuple(_run(line, swath["geometry"]) for line, swath in runs),
        ground=ground["geometry"],
        run_on=run_on["geometry"],
    )
    return Layout(
        field=_field(whole),
        tool=Tool(**json.loads(whole["tool"])),
        direction_deg=float(whole["direction_deg"]),
        finish=whole["finish"],
        headland=headland,
        body=body["geometry"],
        passes=_passes(float(whole["direction_deg"]), by_role.get("pass", []), by_role.get("swath", [])),
    )


def route_from_geodataframe(table: geopandas.GeoDataFrame, layout: Layout) -> Route:
    """Return the route of a table made by `to_geodataframe`, over the layout it was planned for.

    Parameters
    ----------
    table : geopandas.GeoDataFrame
        Table of a route.
    layout : Layout
        Its layout.

    Raises
    ------
    InputError
        If columns are missing.
    """
    _check_columns(table, ("state", "length_m", "number", "turn", "orders"), "route")
    rows = _rows(table)
    orders = json.loads(rows[0]["orders"]) if rows else []
    return Route(
        layout=layout,
        legs=tuple(_leg(row) for row in rows),
        orders=tuple(from_plain(order, BlockOrder) for order in orders),
    )


def timeline_from_geodataframe(table: geopandas.GeoDataFrame, route: Route) -> Timeline:
    """Return the time line of a table made by `to_geodataframe`, along its route.

    Parameters
    ----------
    table : geopandas.GeoDataFrame
        Table of a time line.
    route : Route
        Its route.

    Raises
    ------
    InputError
        If columns are missing.
    """
    _check_columns(table, ("state", "start_s", "duration_s", "leg"), "time line")
    rows = _rows(table)
    return Timeline(
        route=route,
        state=tuple(row["state"] for row in rows),
        start_s=np.array([row["start_s"] for row in rows], dtype=float),
        duration_s=np.array([row["duration_s"] for row in rows], dtype=float),
        leg=tuple(int(row["leg"]) for row in rows),
    )


def _check_columns(table: geopandas.GeoDataFrame, names: tuple[str, ...], what: str) -> None:
    missing = [name for name in names if name not in table.columns]
    if missing and len(table):
        raise InputError(f"table of a {what}: no column {', '.join(missing)}. Give a table made by to_geodataframe.")


def _rows(table: geopandas.GeoDataFrame) -> list[Row]:
    rows: list[Row] = table.to_dict("records")
    return rows


def _field_row(field: Field) -> Row:
    return {
        "name": field.name,
        "source_crs": field.source_crs,
        "frame_lon_deg": field.frame.lon_deg,
        "frame_lat_deg": field.frame.lat_deg,
        "changes": json.dumps([asdict(change) for change in field.changes]),
        "problems": json.dumps(field.problems),
        "evidence": json.dumps(None if field.evidence is None else asdict(field.evidence)),
        "geometry": field.shape,
    }


def _field(row: Row) -> Field:
    evidence = json.loads(row["evidence"])
    return Field(
        name=row["name"],
        shape=row["geometry"],
        frame=Frame(lon_deg=row["frame_lon_deg"], lat_deg=row["frame_lat_deg"]),
        source_crs=row["source_crs"],
        changes=tuple(Change(**change) for change in json.loads(row["changes"])),
        problems=tuple(json.loads(row["problems"])),
        evidence=None if evidence is None else from_plain(evidence, Evidence),
    )


def _layout_rows(layout: Layout) -> list[Row]:
    headland, passes = layout.headland, layout.passes
    about = {"tool": json.dumps(asdict(layout.tool)), "direction_deg": layout.direction_deg, "finish": layout.finish}
    about |= {"rounds": headland.rounds, "all_round": int(headland.all_round)}
    about |= {name: getattr(headland, name) for name in _HEADLAND_AREAS}
    rows: list[Row] = [
        {"role": "field"} | _field_row(layout.field) | about,
        {"role": "body", "geometry": layout.body},
        {"role": "headland_ground", "geometry": headland.ground},
        {"role": "headland_run_on", "geometry": headland.run_on},
    ]
    for run in headland.runs:
        its = {"round": run.round, "part": run.part, "is_closed": int(run.is_closed)}
        rows.append({"role": "headland_line", "geometry": shapely.LineString(run.line)} | its)
        rows.append({"role": "headland_swath", "geometry": run.swath} | its)
    columns = ("piece", "strip", "start_m", "end_m", "low_m", "high_m")
    for number, line in enumerate(passes.lines()):
        its = {name: getattr(passes, name)[number].item() for name in columns}
        its |= {"is_pulled": int(passes.is_pulled[number])}
        rows.append({"role": "pass", "number": number, "geometry": line} | its)
    for number, box, swath in zip(passes.box_pass.tolist(), passes.boxes.tolist(), passes.swaths(), strict=True):
        rows.append({"role": "swath", "number": number, "geometry": swath} | dict(zip(_BOX, box, strict=True)))
    return rows


def _run(row: Row, swath: shapely.Polygon) -> HeadlandRun:
    return HeadlandRun(
        round=int(row["round"]),
        line=shapely.get_coordinates(row["geometry"]),
        swath=swath,
        part=int(row["part"]),
        is_closed=bool(row["is_closed"]),
    )


def _passes(direction_deg: float, passes: list[Row], swaths: list[Row]) -> Passes:
    def column(name: str, dtype: type) -> Any:
        return np.array([row[name] for row in passes], dtype=dtype)

    return Passes(
        direction_deg=direction_deg,
        piece=column("piece", np.int64),
        strip=column("strip", np.int64),
        start_m=column("start_m", float),
        end_m=column("end_m", float),
        low_m=column("low_m", float),
        high_m=column("high_m", float),
        is_pulled=column("is_pulled", bool),
        boxes=np.array([[row[name] for name in _BOX] for row in swaths], dtype=float).reshape(-1, 4),
        box_pass=np.array([row["number"] for row in swaths], dtype=np.int64),
    )


def _route_rows(route: Route) -> list[Row]:
    orders = json.dumps([asdict(order) for order in route.orders])
    return [_leg_row(leg) | {"orders": "" if row else orders} for row, leg in enumerate(route.legs)]


def _leg_row(leg: Leg) -> Row:
    turn = "" if leg.turn is None else json.dumps(asdict(leg.turn))
    row: Row = {"state": leg.state, "length_m": leg.length_m, "number": leg.number, "turn": turn}
    return row | {"geometry": shapely.LineString(leg.points())}


def _leg(row: Row) -> Leg:
    turn = line = None
    if row["turn"]:
        told: dict[str, Any] = json.loads(row["turn"])
        turn = Turn(**told | {name: tuple(value) for name, value in told.items() if isinstance(value, list)})
    else:
        line = shapely.get_coordinates(row["geometry"])
    return Leg(state=row["state"], length_m=row["length_m"], number=row["number"], line=line, turn=turn)


def _timeline_rows(timeline: Timeline) -> list[Row]:
    lines = [leg.points() for leg in timeline.route.legs]
    spells = zip(timeline.state, timeline.start_s.tolist(), timeline.duration_s.tolist(), timeline.leg, strict=True)
    return [
        {
            "state": state,
            "start_s": start,
            "duration_s": duration,
            "leg": leg,
            "geometry": shapely.Point(lines[leg][0]) if state == "lifting" else shapely.LineString(lines[leg]),
        }
        for state, start, duration, leg in spells
    ]
