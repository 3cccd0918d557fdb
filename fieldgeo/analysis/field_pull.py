"""A tool on one field: whether it can be pulled on its slopes, and the fuel by its time line, stops counted."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from fieldgeo.analysis.asked_loads import edge_load
from fieldgeo.analysis.lay import lay
from fieldgeo.analysis.loaded import load_plan
from fieldgeo.analysis.work_fuel import fuel_figures, is_no_till, plan_fuel
from fieldgeo.errors import LayoutError
from fieldgeo.machinery.fuel import DEFAULT_FUEL_RULES, FuelRules
from fieldgeo.machinery.pull import pull_of
from fieldgeo.units import to_acres, to_horsepower, to_mph

if TYPE_CHECKING:
    from collections.abc import Mapping

    from fieldgeo.analysis.plan import Plan
    from fieldgeo.machinery.pull import Pull
    from fieldgeo.machinery.tool import Tool
    from fieldgeo.machinery.traction import Ground
    from fieldgeo.outline.field import Field

Figures = dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkPlan:
    """A plan with stops to fill or unload, where it is known what the tool carries."""

    plan: Plan
    counts_stops: bool
    note: str = ""  # why stops are not counted, where they should be


def work_plan(field: Field, tool: Tool, *, own_load: Mapping[str, Any] | None = None) -> WorkPlan:
    """Return the plan of a tool on a field in its best direction, with the stops that its own load takes.

    Parameters
    ----------
    field : Field
        The field.
    tool : Tool
        The tool.
    own_load : mapping, optional
        What the shed says that the tool carries; stops are counted where it gives a tank, and a rate or a yield. They
        are made at the edge of the field.

    Raises
    ------
    InputError
        If what it carries cannot be used.
    LayoutError
        If the tool is wider than the field is long.
    """
    plan = lay(field, tool)
    own = own_load or {}
    if "tank" not in own or not ("rate" in own or "yield" in own):
        return WorkPlan(plan=plan, counts_stops=False)
    load = edge_load(field, own, job="fill" if "rate" in own else "unload")
    try:
        return WorkPlan(plan=load_plan(plan, load).plan, counts_stops=True)
    except LayoutError as error:
        return WorkPlan(plan=plan, counts_stops=False, note=f"{field.name}: stops are not counted: {error}")


def field_pull_figures(work: WorkPlan, pull: Pull, ground: Ground, *, rules: FuelRules = DEFAULT_FUEL_RULES) -> Figures:
    """Return how a tool does on one field: power on its slopes, fuel by its time line.

    Parameters
    ----------
    work : WorkPlan
        The plan on the field.
    pull : Pull
        The same tool and its tractor.
    ground : Ground
        Ground of this field, with its own slope.
    rules : FuelRules
        How fuel is worked out.
    """
    field = work.plan.field
    here = pull_of(pull.tool, pull.needs, pull.tractor, ground=ground, speed_m_s=pull.speed_m_s, rules=pull.rules)
    fuel = plan_fuel(work.plan, here, rules=rules)
    return {
        "field": field.name,
        "area_m2": field.area_m2,
        "area_ac": to_acres(field.area_m2),
        "slope_pct": 100 * ground.slope,
        "pto_kW_needed": here.powers.pto_w / 1000,
        "pto_hp_needed": to_horsepower(here.powers.pto_w),
        "load_share": here.load_share,
        "fits": here.fits,
        "fastest_m_s": here.fastest_m_s,
        "fastest_mph": None if here.fastest_m_s is None else to_mph(here.fastest_m_s),
        "counts_stops": work.counts_stops,
        **fuel_figures(fuel, area_m2=field.area_m2, kind=pull.tool.kind, no_till=is_no_till(pull)),
    }
