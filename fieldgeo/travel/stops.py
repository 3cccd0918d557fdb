"""Stops to fill or unload: after which pass, at which end, and how much, so that no tank runs dry or over on the way.

The tool goes on until a pass end from which the tank would not last to the next place where it may stop. Of all
choices the one with the fewest stops is taken, and of those the one that takes the least time (`choose`).
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
import shapely
from shapely.ops import substring

from fieldgeo.errors import InputError
from fieldgeo.layout.axes import Floats
from fieldgeo.machinery.supply import Job, Supply
from fieldgeo.travel.choose import choose_stops
from fieldgeo.travel.ground import Ground, cut_ground, swept_ground
from fieldgeo.travel.places import Place, possible_places
from fieldgeo.travel.route import Leg, Route
from fieldgeo.travel.stations import Gap, find_gaps, way_legs
from fieldgeo.travel.stop_rules import StopRules, WorkName, name_works


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stop:
    """One stop to fill or unload."""

    job: Job
    work: int  # place, in driving order from 0, of the work that it comes after, or on; -1 before the first
    after: WorkName | None  # the same as a driver says it; None before the first
    along_m: float | None  # on a pass: so far from where it begins; None at its end [m]
    stand: int  # number of the stand from 0; -1 where the tender comes to the tool
    xy: tuple[float, float]  # where the tool stands [m]
    amount: float  # what goes in, or out, > 0 [kind of the supply]
    before: float  # what the tank holds when it comes [same]
    left: float  # what it holds when it goes on [same]
    seconds: float  # standing [s]
    detour_s: float  # driving beyond the turn or travel that it takes the place of [s]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StopPlan:
    """A route with its stops."""

    route: Route  # with the stops as legs
    supply: Supply
    rules: StopRules
    stops: tuple[Stop, ...]
    used_by_work: Floats  # (W,) what each work takes or gives, in driving order [kind of the supply]
    at_start: float  # what the tank holds at the start [same]
    at_end: float  # what it holds at the end [same]
    cautions: tuple[str, ...] = field(default=())

    @property
    def total(self) -> float:
        """What all works take or give. [kind of the supply]"""
        return float(self.used_by_work.sum())

    @property
    def added_s(self) -> float:
        """Time that the stops add, standing and driving. [s]"""
        return sum(stop.seconds + stop.detour_s for stop in self.stops)


def with_stops(route: Route, supply: Supply, rules: StopRules) -> Route:
    """Return a route with its stops to fill or unload; see `plan_stops` for parameters and errors."""
    return plan_stops(route, supply, rules).route


def ground_of(route: Route, supply: Supply) -> Ground:
    """Return the ground that counts for a supply: all that is swept for filling, what is cut first for unloading."""
    return swept_ground(route) if supply.job == "fill" else cut_ground(route)


def used_by_works(route: Route, supply: Supply, ground: Ground) -> Floats:
    """Return what each work of a route takes or gives, in driving order, shape (W,). [kind of the supply]

    Parameters
    ----------
    route : Route
        Work in order, without stops.
    supply : Supply
        What the tool carries.
    ground : Ground
        From `ground_of`.
    """
    amounts = supply.amounts(ground.shapes, ground.area_m2)
    works = sum(leg.is_work for leg in route.legs)
    return np.bincount(ground.work, weights=amounts, minlength=works).astype(float)


def plan_stops(route: Route, supply: Supply, rules: StopRules, *, ground: Ground | None = None) -> StopPlan:
    """Return where a tool stops to fill or unload on its way, and how much each time.

    Parameters
    ----------
    route : Route
        Work in order, without stops.
    supply : Supply
        What the tool carries, and what the ground takes or gives.
    rules : StopRules
        Where and how it stops.
    ground : Ground, optional
        From `ground_of`, where it is known already.

    Returns
    -------
    StopPlan
        The stops, and the route with them as legs. A stop at the edge stands between the end of a work and the turn
        after it; driving to a stand and back takes the place of that turn.

    Raises
    ------
    InputError
        If the route has stops already, or the rules do not fit the job.
    LayoutError
        If one tank does not last for a pass, or to the next place where the tool may stop.
    """
    if any(leg.state in {"fill", "unload"} for leg in route.legs):
        raise InputError("stops: the route has stops already. Plan them on a route without.")
    if rules.where == "go" and supply.job != "unload":
        raise InputError("stops: on the go goes with unloading. A tool that is filled must stop: give another place.")
    ground = ground_of(route, supply) if ground is None else ground
    used_by_work = used_by_works(route, supply, ground)
    if rules.where == "go" or used_by_work.sum() <= 0:
        return StopPlan(
            route=route, supply=supply, rules=rules, stops=(), used_by_work=used_by_work, at_start=0.0, at_end=0.0
        )
    gaps, total = find_gaps(route), float(used_by_work.sum())
    places, cautions = possible_places(route, supply, rules, gaps, ground, used_by_work)
    chosen = _chosen(places, supply, rules)
    stops, at_start, at_end = _fill_or_unload(route, supply, rules, gaps, chosen, total)
    return StopPlan(
        route=replace(route, legs=tuple(_legs_with(route, gaps, stops))),
        supply=supply, rules=rules, stops=tuple(stops), used_by_work=used_by_work, at_start=at_start, at_end=at_end,
        cautions=tuple(cautions),
    )  # fmt: skip


def _chosen(places: list[Place], supply: Supply, rules: StopRules) -> list[Place]:
    """Return the places to stop at, those that are bound to be among them."""
    used = np.array([place.used for place in places])
    stop_s = supply.setup_s + np.array([place.extra_s for place in places])
    last_s = None
    if supply.job == "fill" and rules.last_fill == "full" and supply.flow_s:
        last_s = used / supply.flow_s
    chosen = [places[row] for row in choose_stops(used, stop_s, supply.capacity, first=rules.first, last_s=last_s)]
    if supply.job == "unload":
        return [*chosen, places[-1]]  # what is left at the end comes out too
    return [places[0], *chosen] if rules.starts_empty else chosen


def _fill_or_unload(
    route: Route, supply: Supply, rules: StopRules, gaps: list[Gap], chosen: list[Place], total: float
) -> tuple[list[Stop], float, float]:
    """Return the stops at the places chosen, and what the tank holds at the start and at the end."""
    names, works = name_works(route), [leg for leg in route.legs if leg.is_work]
    is_fill, is_needed = supply.job == "fill", rules.last_fill == "needed"
    full = min(supply.capacity, total) if is_needed else supply.capacity
    level = full if is_fill and not rules.starts_empty else 0.0
    at_start, used, stops = level, 0.0, []
    for number, place in enumerate(chosen):
        level += (place.used - used) * (-1 if is_fill else 1)
        used = place.used
        left = 0.0
        if is_fill:
            is_last = number == len(chosen) - 1
            left = min(supply.capacity, total - used) if is_last and is_needed else supply.capacity
        work = place.gap if place.share is not None else place.gap - 1
        amount = left - level if is_fill else level
        stops.append(
            Stop(
                job=supply.job,
                work=work,
                after=names[work] if work >= 0 else None,
                along_m=None if place.share is None else place.share * works[work].length_m,
                stand=place.stand,
                xy=_where(rules, works, gaps, place),
                amount=amount,
                before=level,
                left=left,
                seconds=supply.stop_s(amount),
                detour_s=place.extra_s,
            )
        )
        level = left
    at_end = level + (total - used) * (-1 if is_fill else 1)
    return stops, at_start, 0.0 if abs(at_end) < 1e-9 * supply.capacity else at_end


def _where(rules: StopRules, works: list[Leg], gaps: list[Gap], place: Place) -> tuple[float, float]:
    """Return where the tool stands at a stop. [m]"""
    if place.share is not None:
        xy = _cut(works[place.gap], 0.0, place.share)[-1]
    elif place.stand >= 0:
        assert rules.stands_xy is not None  # there is a stand
        xy = np.asarray(rules.stands_xy, dtype=float).reshape(-1, 2)[place.stand]
    else:
        gap = gaps[place.gap]
        found = gap.end_xy if place.gap == 0 else gap.start_xy
        assert found is not None  # there is a work beside it
        xy = found
    return float(xy[0]), float(xy[1])


def _legs_with(route: Route, gaps: list[Gap], stops: list[Stop]) -> list[Leg]:
    """Return the legs of a route with the stops among them."""
    shape = route.layout.field.shape
    works = [leg for leg in route.legs if leg.is_work]
    between = {stop.work + 1: stop for stop in stops if stop.along_m is None}
    legs: list[Leg] = []
    for number, gap in enumerate(gaps):
        ways, stop = list(route.legs[gap.first : gap.last]), between.get(number)
        if stop is None:
            legs += ways
        elif stop.stand >= 0:
            place = np.array(stop.xy)
            legs += [*way_legs(shape, gap.start_xy, place), _stand_still(stop), *way_legs(shape, place, gap.end_xy)]
        else:
            legs += [*ways, _stand_still(stop)] if number == 0 else [_stand_still(stop), *ways]
        if number < len(works):
            midway = [stop for stop in stops if stop.work == number and stop.along_m is not None]
            legs += _stretches(works[number], midway)
    return legs


def _stretches(work: Leg, midway: list[Stop]) -> list[Leg]:
    """Return a work in stretches with the stops on it between."""
    shares = [0.0, *((stop.along_m or 0.0) / work.length_m for stop in midway), 1.0]
    legs: list[Leg] = []
    for number, stop in enumerate([*midway, None]):
        low, high = shares[number : number + 2]
        stretch = work if not midway else replace(
            work, length_m=(high - low) * work.length_m, line=_cut(work, low, high)
        )  # fmt: skip
        legs += [stretch] if stop is None else [stretch, _stand_still(stop)]
    return legs


def _cut(work: Leg, low: float, high: float) -> Floats:
    """Return the part of a work's line between two shares of its length. [m]"""
    line = shapely.LineString(work.points())
    return shapely.get_coordinates(substring(line, low, high, normalized=True))


def _stand_still(stop: Stop) -> Leg:
    return Leg(state=stop.job, length_m=0.0, line=np.array([stop.xy, stop.xy]), stop_s=stop.seconds)
