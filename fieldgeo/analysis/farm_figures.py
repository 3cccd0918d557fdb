"""A farm's work as figures: for each field where to begin, what each tool does there and where it stops; and totals."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np

from fieldgeo.analysis.figures import area_figures, length_figures, plan_figures
from fieldgeo.analysis.pass_order import order_figures
from fieldgeo.analysis.stops_figures import load_figures
from fieldgeo.frame import azimuth_deg
from fieldgeo.travel.stations import wind
from fieldgeo.units import HOUR_S, to_acres, to_feet

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fieldgeo.analysis.farm_work import FieldWork, ToolWork
    from fieldgeo.analysis.figures import Figures
    from fieldgeo.analysis.plan import Plan
    from fieldgeo.layout.axes import Floats

_SUMMED: Final = ("field_time_h", "swept_m2", "overlap_m2", "skip_m2", "passes", "turns")


def farm_figures(works: Sequence[FieldWork]) -> Figures:
    """Return the work of a farm: every field, every tool, and what they come to.

    Parameters
    ----------
    works : sequence of FieldWork
        Tools laid on each field.

    Returns
    -------
    dict
        `fields` in order, as `field_work_figures` has them; `tools` with each tool's totals over the fields it is laid
        on, effective capacity and field efficiency from the totals; `area_m2`, `field_time_h` of the whole farm.
    """
    fields = [field_work_figures(work) for work in works]
    names = list(dict.fromkeys(row["tool"] for field in fields for row in field["tools"]))
    area_m2 = sum(field["area_m2"] for field in fields)
    return {
        **area_figures("area", area_m2),
        "field_time_h": sum(field["field_time_h"] for field in fields),
        "fields": fields,
        "tools": [_tool_total(name, fields) for name in names],
    }


def _tool_total(name: str, fields: Sequence[Figures]) -> Figures:
    rows = [row for field in fields for row in field["tools"] if row["tool"] == name and row["refusal"] is None]
    total: Figures = {"tool": name, "fields": len(rows), **{key: sum(row[key] for row in rows) for key in _SUMMED}}
    area_m2 = sum(row["area_m2"] for row in rows)
    hours = total["field_time_h"]
    theoretical_h = sum(row["area_m2"] / (row["theoretical_ha_h"] * 1e4) for row in rows)
    return {
        **total,
        **area_figures("area", area_m2),
        "effective_ac_h": to_acres(area_m2) / hours if hours else None,
        "field_efficiency": theoretical_h / hours if hours else None,
    }


def field_work_figures(work: FieldWork) -> Figures:
    """Return the work on one field.

    Parameters
    ----------
    work : FieldWork
        Tools laid on the field.

    Returns
    -------
    dict
        `lead` is how the work of the lead tool begins (see `start_figures`), None where nothing can be laid; `tools`
        has for each tool the keys of `plan_figures`, stops counted where the shed says what it carries, with `load`
        (as `load_figures`) and `refusal`, the words why there is no plan or no stops.
    """
    lead = work.lead_work
    plan = None if lead is None else lead.plan
    return {
        "field": work.field.name,
        **area_figures("area", work.field.area_m2),
        "parts": len(work.field.shape.geoms),
        "direction_deg": None if plan is None else float(plan.layout.direction_deg),
        "is_given": work.is_given,
        "lead_tool": None if lead is None else lead.tool.name,
        "lead": None if plan is None else start_figures(plan),
        "field_time_h": sum(plan.field_time_s for plan in work.plans) / HOUR_S,
        "tools": [_tool_row(each) for each in work.works],
    }


def _tool_row(work: ToolWork) -> Figures:
    row: Figures = {
        "tool": work.tool.name, "throws": work.tool.throws or None, "load": None, "refusal": work.refusal or None,
    }  # fmt: skip
    if work.plan is None:
        return row
    plan = work.plan if work.loaded is None else work.loaded.plan
    return {**plan_figures(plan), **row, "load": None if work.loaded is None else load_figures(work.loaded)}


def start_figures(plan: Plan) -> Figures:
    """Return how the work of a plan begins: where, on which pass, which way, and when the end rows come.

    Parameters
    ----------
    plan : Plan
        One tool on one field.

    Returns
    -------
    dict
        `begins` is the place where the tool goes down first; `first_pass` the first pass with both its ends, azimuth
        and length, and `longest_pass` a longer line to steer by, None where there is no pass; places have `lon`, `lat`
        [deg], None on a field without a place on Earth, and `corner`, the wind of the field that they lie at.
        `end_rows` is ``"first"``, ``"last"``, ``"between"`` or None where there are none. The keys of `order_figures`
        are there too.
    """
    legs = [leg for leg in plan.route.legs if leg.is_work]
    states = [leg.state for leg in legs]
    first = next((leg for leg in legs if leg.state == "pass"), None)
    longest = max((leg for leg in legs if leg.state == "pass"), key=lambda leg: leg.length_m, default=None)
    end_rows = None
    if "headland" in states:
        end_rows = "first" if states[0] == "headland" else "last" if states[-1] == "headland" else "between"
    return {
        "begins": _place(plan, legs[0].points()[0]) if legs else None,
        "first_pass": None if first is None else _pass(plan, first.points()),
        "longest_pass": None if longest is None else _pass(plan, longest.points()),
        "passes": len(plan.layout.passes),
        **length_figures("spacing", plan.tool.pitch_m),
        "end_rows": end_rows,
        "headland_rounds": plan.layout.headland.rounds,
        "headland_on_all_sides": plan.layout.headland.all_round,
        **order_figures(plan.route),
    }


def _pass(plan: Plan, line: Floats) -> Figures:
    azimuth = float(azimuth_deg(*(line[-1] - line[0])))
    length_m = float(np.hypot(*np.diff(line, axis=0).T).sum())
    return {
        "start": _place(plan, line[0]),
        "end": _place(plan, line[-1]),
        "azimuth_deg": azimuth,
        "heading": wind(azimuth),
        "length_m": length_m,
        "length_ft": to_feet(length_m),
    }


def _place(plan: Plan, xy: Floats) -> dict[str, Any]:
    low_x, low_y, high_x, high_y = plan.field.shape.bounds
    away = xy - np.array([(low_x + high_x) / 2, (low_y + high_y) / 2])
    scaled = away / np.maximum(np.array([high_x - low_x, high_y - low_y]), 1e-9)
    lon = lat = None
    if plan.field.is_placed:
        lon, lat = (float(value) for value in plan.field.frame.to_lonlat(float(xy[0]), float(xy[1])))
    return {
        "x_m": float(xy[0]),
        "y_m": float(xy[1]),
        "lon": lon,
        "lat": lat,
        "corner": wind(float(azimuth_deg(*scaled))),
    }
