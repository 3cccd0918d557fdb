"""Where tender, wagon or truck should stand to waste the least: places along the edge of the field, tried out."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Final

import numpy as np
import shapely

from fieldgeo.errors import InputError, LayoutError
from fieldgeo.layout.axes import Floats
from fieldgeo.machinery.supply import Supply
from fieldgeo.machinery.tool import travel_speed_m_s
from fieldgeo.travel.choose import First, choose_stops, too_long_stretches
from fieldgeo.travel.ground import Ground
from fieldgeo.travel.route import Route
from fieldgeo.travel.stations import detours_s, find_gaps, is_nearer_end
from fieldgeo.travel.stop_rules import StopRules
from fieldgeo.travel.stops import StopPlan, ground_of, plan_stops, used_by_works

MOST_STANDS: Final = 2
_ON_EDGE_M: Final = 0.01
_LEAST_STEP_M: Final = 5.0  # a truck is longer than that
_MOST_SINGLE: Final = 200  # candidates for one stand
_MOST_OF_A_PAIR: Final = 40  # candidates for each of two, before they are shifted by fine steps
_FINALISTS: Final = 4  # choices whose ways are measured along the ground, and not in straight lines


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StandSearch:
    """The best stands that were found, beside the habit of standing at the entrance or the nearest corner."""

    stands_xy: Floats  # (S, 2) [m]
    plan: StopPlan  # with these stands
    habit_xy: Floats  # (2,) [m]
    habit_plan: StopPlan | None  # with one stand there; None where the tank does not last from there

    @property
    def saving_s(self) -> float | None:
        """Time that the best stands save against the habit; None where the habit cannot be. [s]"""
        return None if self.habit_plan is None else self.habit_plan.added_s - self.plan.added_s


def best_stands(
    route: Route,
    supply: Supply,
    *,
    count: int = 1,
    along: shapely.MultiLineString | None = None,
    entrance_xy: Floats | None = None,
    rules: StopRules | None = None,
) -> StandSearch:
    """Return the places for one or two stands that make the stops of a route take the least time.

    Parameters
    ----------
    route : Route
        Work in order, without stops.
    supply : Supply
        What the tool carries.
    count : {1, 2}
        Number of stands.
    along : shapely.MultiLineString, optional
        Edges of the field that they may stand on; all outer edges if left out. [m]
    entrance_xy : ndarray of shape (2,), optional
        Entrance of the field, where one would stand by habit; without it the corner nearest to where the work
        begins. [m]
    rules : StopRules, optional
        All other rules; what they say of the place is not used.

    Raises
    ------
    InputError
        If the number of stands is neither 1 nor 2.
    LayoutError
        If the tank does not last, wherever they stand.

    Notes
    -----
    Derived. Places every few metres along the edge are judged by the time of all stops, chosen as the rules say, ways
    taken as straight; two stands are chosen together on a coarse row of places, and each is then shifted by fine
    steps. The best few are planned with ways along the ground.
    """
    if count not in range(1, MOST_STANDS + 1):
        raise InputError(f"stands: got {count}. It must be 1 or {MOST_STANDS}.")
    asked = rules or StopRules()
    shape = route.layout.field.shape
    edge = along or shapely.MultiLineString([part.exterior for part in shape.geoms])
    habit_xy = _habit(route, entrance_xy)
    fine = _places_along(edge, _MOST_SINGLE)
    if edge.distance(shapely.Point(habit_xy)) < _ON_EDGE_M:
        fine = np.vstack([fine, habit_xy])
    ground = ground_of(route, supply)
    judge = _judge(route, supply, ground, fine, asked.first)
    ranked: list[tuple[float, tuple[int, ...]]]
    if count == 1:
        ranked = sorted(((judge((place,)), (place,)) for place in range(len(fine))), key=lambda each: each[0])
    else:
        ranked = _ranked_pairs(judge, len(fine))

    def planned(stands_xy: Floats) -> StopPlan | None:
        try:
            return plan_stops(route, supply, replace(asked, where="stands", stands_xy=stands_xy), ground=ground)
        except LayoutError:
            return None

    plans = [(stands, planned(fine[list(stands)])) for _, stands in ranked[:_FINALISTS]]
    found = [(plan, stands) for stands, plan in plans if plan is not None]
    if not found:
        plan_stops(route, supply, replace(asked, where="stands", stands_xy=fine[list(ranked[0][1])]), ground=ground)
    plan, stands = min(found, key=lambda each: each[0].added_s)
    return StandSearch(
        stands_xy=fine[list(stands)], plan=plan, habit_xy=habit_xy, habit_plan=planned(habit_xy.reshape(1, 2))
    )


def _places_along(line: shapely.MultiLineString, most: int) -> Floats:
    """Return places along a line, no nearer to each other than a truck is long, shape (P, 2). [m]"""
    step_m = max(_LEAST_STEP_M, line.length / most)
    places = []
    for part in shapely.get_parts(shapely.line_merge(line)):
        count = max(2, int(part.length / step_m) + 1)
        places.append(shapely.get_coordinates(shapely.line_interpolate_point(part, np.linspace(0, part.length, count))))
    return np.vstack(places)


def _judge(
    route: Route, supply: Supply, ground: Ground, places_xy: Floats, first: First
) -> Callable[[Sequence[int]], float]:
    """Return a function that tells the time that the stops take with stands at some of the places. [s]"""
    gaps = find_gaps(route)
    used = np.concatenate([[0.0], np.cumsum(used_by_works(route, supply, ground))])
    everywhere = detours_s(gaps, places_xy, travel_m_s=travel_speed_m_s(route.layout.tool))
    near = everywhere.copy()
    near[1:-1][~is_nearer_end(route, places_xy)[:-1]] = np.inf

    def judge(stands: Sequence[int]) -> float:
        for extra_s in (near, everywhere):
            least = extra_s[:, list(stands)].min(axis=1)
            may = np.isfinite(least)
            may[[0, -1]] = True
            if too_long_stretches(used[may], supply.capacity):
                continue
            stop_s = supply.setup_s + least[may]
            chosen = choose_stops(used[may], stop_s, supply.capacity, first=first)
            chosen += [len(stop_s) - 1] if supply.job == "unload" else []
            return float(stop_s[chosen].sum())
        # A pass longer than the tank lasts: what counts is how far all ends of passes are.
        return float(everywhere[:, list(stands)].min(axis=1).sum())

    return judge


def _ranked_pairs(judge: Callable[[Sequence[int]], float], count: int) -> list[tuple[float, tuple[int, ...]]]:
    """Return pairs of places, the best first: chosen among some of the places, then shifted by fine steps."""
    coarse = np.unique(np.linspace(0, count - 1, min(count, _MOST_OF_A_PAIR)).round().astype(int)).tolist()
    step = max(1, count // max(1, len(coarse)))
    ranked = sorted(((judge(pair), pair) for pair in combinations(coarse, 2)), key=lambda each: each[0])
    shifted = []
    for start_cost, start in ranked[:_FINALISTS]:
        cost, pair = start_cost, start
        for held, moved in ((0, 1), (1, 0)):
            around = [(pair[moved] + shift) % count for shift in range(-step, step + 1)]
            tries = [(judge((pair[held], place)), (pair[held], place)) for place in around]
            best = min(tries, key=lambda each: each[0])
            if best[0] < cost:
                cost, pair = best[0], best[1] if held == 0 else best[1][::-1]
        shifted.append((cost, pair))
    return sorted(shifted, key=lambda each: each[0])


def _habit(route: Route, entrance_xy: Floats | None) -> Floats:
    """Return where one stands by habit: at the entrance, or the corner nearest to where the work begins. [m]"""
    if entrance_xy is not None:
        return np.asarray(entrance_xy, dtype=float)
    corners = shapely.get_coordinates(
        shapely.MultiLineString([part.exterior for part in route.layout.field.shape.geoms])
    )
    begin = route.legs[0].points()[0]
    return np.asarray(corners[np.hypot(*(corners - begin).T).argmin()])
