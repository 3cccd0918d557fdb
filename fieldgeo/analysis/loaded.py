"""A plan with its stops to fill or unload: where they fall, and what they leave of the acres an hour."""

from __future__ import annotations

from dataclasses import dataclass

import shapely

from fieldgeo.analysis.plan import Plan
from fieldgeo.layout.axes import Floats
from fieldgeo.machinery.supply import Supply
from fieldgeo.travel.stand_search import StandSearch, best_stands
from fieldgeo.travel.stop_rules import StopRules
from fieldgeo.travel.stops import StopPlan, plan_stops
from fieldgeo.travel.timeline import NO_ADJUSTING, Adjusting, time_route


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LoadedPlan:
    """A plan as it passes with stops, beside the same without."""

    plan: Plan  # with stops and adjusting in route and time line
    without: Plan
    stops: StopPlan
    search: StandSearch | None = None  # where the stands were searched for


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Load:
    """What a tool is to carry, and how it stops."""

    supply: Supply
    rules: StopRules
    search_stands: int = 0  # number of stands to search for; 0 stops as the rules say
    along: shapely.MultiLineString | None = None  # edges that stands are searched on; None: all outer edges [m]
    adjusting: Adjusting = NO_ADJUSTING
    notes: tuple[str, ...] = ()  # what was assumed


def load_plan(plan: Plan, load: Load, *, entrance_xy: Floats | None = None) -> LoadedPlan:
    """Return a plan with its stops to fill or unload.

    Parameters
    ----------
    plan : Plan
        One tool on one field, without stops.
    load : Load
        What the tool carries and how it stops.
    entrance_xy : ndarray of shape (2,), optional
        Entrance of the field, where stands would be by habit. [m]

    Raises
    ------
    LayoutError
        If one tank does not last for a pass, or to the next place where the tool may stop.
    """
    search = None
    if load.search_stands:
        search = best_stands(
            plan.route, load.supply, count=load.search_stands, along=load.along, entrance_xy=entrance_xy,
            rules=load.rules,
        )  # fmt: skip
    stops = search.plan if search else plan_stops(plan.route, load.supply, load.rules)
    loaded = Plan(layout=plan.layout, route=stops.route, timeline=time_route(stops.route, adjusting=load.adjusting))
    return LoadedPlan(plan=loaded, without=plan, stops=stops, search=search)
