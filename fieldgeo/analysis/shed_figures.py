"""What is in a shed and what has been assumed of it, as figures."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from fieldgeo.machinery.needs import PRACTICE, Assumed
from fieldgeo.units import FOOT_M, POUND_KG, to_feet, to_horsepower, to_inches, to_mph, to_pounds_force, to_tons

if TYPE_CHECKING:
    from fieldgeo.machinery.needs import Needs
    from fieldgeo.machinery.owning import Ownership
    from fieldgeo.machinery.shed import Shed
    from fieldgeo.machinery.tool import Tool
    from fieldgeo.machinery.tractor import Tractor

Figures = dict[str, Any]


def shed_figures(shed: Shed) -> Figures:
    """Return every tool and tractor of a shed, with what was assumed of each.

    Parameters
    ----------
    shed : Shed
        The shed.

    Returns
    -------
    dict
        `tools` and `tractors` in the order of the file. Of each, `measured` names the figures that come from a log of
        work, which hold over what is usual; `assumed` lists figures nobody gave; `notes` is what does not agree.
    """
    return {
        "farm": shed.farm or None,
        "tools": [_tool(shed, tool) for tool in shed.tools],
        "tractors": [_tractor(shed, tractor) for tractor in shed.tractors],
    }


def _tool(shed: Shed, tool: Tool) -> Figures:
    needs = shed.needs.get(tool.name)
    return {
        "name": tool.name,
        "kind": tool.kind or None,
        "hitch": tool.hitch,
        "width_m": tool.width_m,
        "width_ft": to_feet(tool.width_m),
        "rows": tool.rows,
        "row_spacing_m": tool.row_spacing_m,
        "row_spacing_in": None if tool.row_spacing_m is None else to_inches(tool.row_spacing_m),
        "speed_m_s": tool.speed_m_s,
        "speed_mph": to_mph(tool.speed_m_s),
        **({} if needs is None else _needs(needs)),
        "carries": dict(shed.loads.get(tool.name, {})),
        "owned": _owned(shed.owned.get(tool.name)),
        "measured": list(shed.measured.get(tool.name, ())),
        "assumed": [] if needs is None else [each.figures() for each in needs.assumed],
        "notes": list(shed.notes_on(tool.name)),
    }


def _needs(needs: Needs) -> Figures:
    return {
        "draft_as": None if needs.draft is None else needs.draft.tool,
        "draft_status": None if needs.draft is None else needs.draft.source.status,
        "draft_N_m": needs.own_draft_n_m,
        "draft_lbf_ft": None if needs.own_draft_n_m is None else to_pounds_force(needs.own_draft_n_m * FOOT_M),
        "soil_units": needs.count if needs.draft is not None and needs.draft.per != "m" else None,
        "depth_m": needs.depth_m,
        "depth_in": None if needs.depth_m is None else to_inches(needs.depth_m),
        "mass_kg": needs.mass_kg,
        "mass_lb": None if needs.mass_kg is None else needs.mass_kg / POUND_KG,
        "rotary_as": None if needs.rotary is None else needs.rotary.machine,
        "pto_power_kW": needs.pto_power_w / 1000,
        "pto_power_hp": to_horsepower(needs.pto_power_w),
        "engine_kW": None if needs.engine_w is None else needs.engine_w / 1000,
        "engine_hp": None if needs.engine_w is None else to_horsepower(needs.engine_w),
        "least_speed_m_s": needs.speed_low_m_s,
        "least_speed_mph": None if needs.speed_low_m_s is None else to_mph(needs.speed_low_m_s),
        "most_speed_m_s": needs.speed_high_m_s,
        "most_speed_mph": None if needs.speed_high_m_s is None else to_mph(needs.speed_high_m_s),
    }


def _tractor(shed: Shed, tractor: Tractor) -> Figures:
    assumed = []
    if not tractor.kind:
        assumed.append(Assumed(what="drive", value=tractor.drive, source="the kind that pulls least"))
    if tractor.mass_kg is None:
        assumed.append(Assumed(what="mass", value=f"{to_tons(tractor.moved_kg):.3g} ton", source=PRACTICE))
    return {
        "name": tractor.name,
        "kind": tractor.kind or None,
        "power_kW": tractor.power_w / 1000,
        "power_hp": to_horsepower(tractor.power_w),
        "mass_kg": tractor.moved_kg,
        "mass_lb": tractor.moved_kg / POUND_KG,
        "fuel": tractor.fuel,
        "owned": _owned(shed.owned.get(tractor.name)),
        "assumed": [each.figures() for each in assumed],
        "notes": list(shed.notes_on(tractor.name)),
    }


def _owned(own: Ownership | None) -> Figures | None:
    if own is None:
        return None
    return {
        "price": own.price, "paid": own.paid, "age_years": own.age_years, "keep_years": own.keep_years,
        "use_h_yr": own.use_h_yr, "hours": own.hours,
    }  # fmt: skip
