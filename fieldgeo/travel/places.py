"""The places of a route where a tool may stop to fill or unload, and whether its tank lasts from each to the next."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from fieldgeo.errors import LayoutError
from fieldgeo.layout.axes import Floats
from fieldgeo.machinery.amounts import amount_text
from fieldgeo.machinery.supply import Supply
from fieldgeo.machinery.tool import travel_speed_m_s
from fieldgeo.travel.choose import FULL_TOLERANCE, too_long_stretches
from fieldgeo.travel.ground import Ground
from fieldgeo.travel.midway import full_places, share_along
from fieldgeo.travel.route import Route
from fieldgeo.travel.stations import (
    Gap,
    checked_stands,
    detours_s,
    edge_places,
    is_at_edge,
    is_at_line,
    is_nearer_end,
)
from fieldgeo.travel.stop_rules import StopRules, WorkName, name_works, work_text
from fieldgeo.units import to_feet

# Where the tank does not last from one place to the next, all ends between are opened, and it is told.
_OPENED: Final = {
    "edge": "the tank does not last from edge to edge everywhere, so some stops lie inside the field, by a hole",
    "stands": "the tank does not last out and back everywhere, so the tool also drives to a stand from far ends",
}


class Place(NamedTuple):
    """A place where the tool may stop."""

    used: float  # what has gone through the tank by then
    gap: int  # works finished by then
    share: float | None  # of the work that is being driven; None between works
    stand: int
    extra_s: float


def possible_places(
    route: Route, supply: Supply, rules: StopRules, gaps: list[Gap], ground: Ground, used_by_work: Floats
) -> tuple[list[Place], list[str]]:
    """Return the places where the tool may stop, begin and end of the work among them, and what to tell about them.

    Parameters
    ----------
    route : Route
        Work in order, without stops.
    supply : Supply
        What the tool carries.
    rules : StopRules
        Where it may stop; not on the go.
    gaps : list of Gap
        From `fieldgeo.travel.stations.find_gaps`.
    ground : Ground
        The ground of all works.
    used_by_work : ndarray of shape (W,)
        What each work takes or gives. [kind of the supply]

    Returns
    -------
    tuple of list
        Places in the order of the work, and cautions.

    Raises
    ------
    LayoutError
        If one tank does not last for a pass that is filled for, or to the next place where the tool may stop.
    """
    names = name_works(route)
    used = np.concatenate([[0.0], np.cumsum(used_by_work)])
    _check_each_work(route, supply, names, used_by_work)
    cautions: list[str] = []
    allowed, extra_s, stand = _ends_allowed(route, rules, gaps)
    places = _with_midway(route, supply, ground, used, _end_places(used, allowed, extra_s, stand))
    if rules.where in _OPENED:
        opened = _between(places, too_long_stretches(np.array([place.used for place in places]), supply.capacity))
        if opened:
            allowed[opened] = True
            places = _with_midway(route, supply, ground, used, _end_places(used, allowed, extra_s, stand))
            cautions.append(_OPENED[rules.where])
    _check_stretches(supply, rules, names, places)
    if supply.job == "unload" and not allowed[-1]:
        cautions.append("the last load is unloaded where the work ends, which is not at a place that was allowed")
    if any(place.share is not None for place in places):
        cautions.append("one tank does not hold a whole pass or end row: it is unloaded on the way, where it runs full")
    return places, cautions


def _check_each_work(route: Route, supply: Supply, names: list[WorkName], used_by_work: Floats) -> None:
    """Refuse passes that cannot be filled for: nobody fills in the middle of a pass."""
    worst = int(used_by_work.argmax())
    if supply.job == "unload" or used_by_work[worst] <= supply.capacity * (1 + FULL_TOLERANCE):
        return
    work = [leg for leg in route.legs if leg.is_work][worst]
    run_m = work.length_m * supply.capacity / used_by_work[worst]
    raise LayoutError(
        f"tank: {amount_text(supply.capacity, supply.kind)} runs dry on {work_text(names[worst])}, which is "
        f"{to_feet(work.length_m):,.0f} ft long and takes {amount_text(used_by_work[worst], supply.kind)}. A "
        f"pass of {to_feet(run_m):,.0f} ft ({run_m:,.0f} m) fits: carry more, apply less, or turn the passes so that "
        "they are shorter."
    )


def _check_stretches(supply: Supply, rules: StopRules, names: list[WorkName], places: list[Place]) -> None:
    long = too_long_stretches(np.array([place.used for place in places]), supply.capacity)
    if not long:
        return
    one, other = places[long[0]], places[long[0] + 1]
    begin = f"after {work_text(names[one.gap - 1])}" if one.gap else "at the start"
    raise LayoutError(
        f"tank: {amount_text(supply.capacity, supply.kind)} does not last from the stop {begin} to the next that is "
        f"allowed, after {work_text(names[other.gap - 1])}: {amount_text(other.used - one.used, supply.kind)}. "
        + (
            "Too few passes end on this side: allow every edge, or give stands by their place."
            if rules.where == "side"
            else "Carry more, or give more stands."
        )
    )


def _between(places: list[Place], stretches: list[int]) -> list[int]:
    """Return the gaps within the stretches that begin at so many places."""
    return [gap for row in stretches for gap in range(places[row].gap + 1, places[row + 1].gap)]


def _ends_allowed(
    route: Route, rules: StopRules, gaps: list[Gap]
) -> tuple[NDArray[np.bool_], Floats, NDArray[np.int64]]:
    """Return for each gap whether the tool may stop in it, what driving that adds, and the stand it drives to."""
    shape = route.layout.field.shape
    if rules.where == "stands":
        assert rules.stands_xy is not None  # the rules see to it
        stands = checked_stands(rules.stands_xy, shape)
        extra_s = detours_s(gaps, stands, travel_m_s=travel_speed_m_s(route.layout.tool), shape=shape)
        is_near = np.vstack([np.ones((1, len(stands)), dtype=bool), is_nearer_end(route, stands)])
        near = np.asarray(is_near.any(axis=1))
        # From its own side to the nearest stand there; where none is on its side, to the nearest of all.
        reach_s = np.where(is_near | ~near[:, None], extra_s, np.inf)
        best = reach_s.argmin(axis=1)
        return near, extra_s[np.arange(len(gaps)), best], best
    places = edge_places(route)
    allowed = is_at_edge(places, shape) if rules.side is None else is_at_line(places, rules.side)
    return np.concatenate([[True], allowed]), np.zeros(len(gaps)), np.full(len(gaps), -1, dtype=np.int64)


def _end_places(used: Floats, allowed: NDArray[np.bool_], extra_s: Floats, stand: NDArray[np.int64]) -> list[Place]:
    last = len(used) - 1
    return [
        Place(float(used[gap]), gap, None, int(stand[gap]), float(extra_s[gap]))
        for gap in range(last + 1)
        if allowed[gap] or gap in {0, last}
    ]


def _with_midway(route: Route, supply: Supply, ground: Ground, used: Floats, ends: list[Place]) -> list[Place]:
    """Return the places with those on passes that one tank cannot hold, where it runs full."""
    full = full_places(used, np.array([place.used for place in ends]), supply.capacity)
    if supply.job == "fill" or len(full) == 0:
        return ends
    tool = route.layout.tool
    on_work = np.searchsorted(used, full, side="right") - 1
    midway = []
    for work in np.unique(on_work).tolist():
        here = full[on_work == work]
        shares = share_along(route, supply, ground, work, here - used[work])
        midway += [
            Place(float(at), work, float(share), -1, tool.raise_s + tool.lower_s)
            for at, share in zip(here, shares, strict=True)
        ]
    return sorted([*ends, *midway], key=lambda place: (place.used, place.gap))
