"""Where on a pass that is longer than a tank lasts the tank runs full."""

from __future__ import annotations

from typing import Final

import numpy as np
import shapely

from fieldgeo.layout.axes import Floats, to_work
from fieldgeo.layout.model import boxes_to_field
from fieldgeo.layout.overlay import intersections, union
from fieldgeo.machinery.supply import Supply
from fieldgeo.travel.choose import FULL_TOLERANCE
from fieldgeo.travel.ground import Ground
from fieldgeo.travel.route import Route

_SLICES: Final = 16  # of a pass, to see how what it takes mounts up along it; straight between
_MOST_PLACES: Final = 100_000  # no field has so many; beyond, the units of tank and yield must be wrong


def full_places(used: Floats, stops: Floats, capacity: float) -> Floats:
    """Return where, on works that one tank cannot hold, the tank runs full after a stop, ascending. [same unit]

    Parameters
    ----------
    used : ndarray of shape (W + 1,)
        What has gone through the tank before each work, and after the last, ascending. [any unit]
    stops : ndarray of shape (P,)
        The same at the places where the tool may stop. [same unit]
    capacity : float
        What the tank holds, > 0. [same unit]

    Notes
    -----
    Derived. After a stop the tank is full one capacity on. Where that lies on such a work, the tool can stop there,
    and the tank is full once more one capacity further on. To stop sooner on the work is never of use.
    """
    is_long = np.diff(used) > capacity * (1 + FULL_TOLERANCE)
    noise = capacity * 1e-6
    places: dict[int, float] = {}
    fresh = stops.tolist()
    while fresh and len(places) < _MOST_PLACES:
        at = fresh.pop() + capacity
        work = int(np.searchsorted(used, at, side="right")) - 1
        if not 0 <= work < len(is_long) or not is_long[work]:
            continue
        number = round(at / noise)
        if number in places or min(at - used[work], used[work + 1] - at) < noise:
            continue
        places[number] = at
        fresh.append(at)
    return np.array(sorted(places.values()))


def share_along(route: Route, supply: Supply, ground: Ground, work: int, amounts: Floats) -> Floats:
    """Return the share of a work's length at which so much of what it takes is done, shape (K,). [-]

    Parameters
    ----------
    route : Route
        Work in order, without stops.
    supply : Supply
        What the ground takes or gives.
    ground : Ground
        The ground of all works.
    work : int
        Place of the work in driving order.
    amounts : ndarray of shape (K,)
        So much of it, from 0 to all that the work takes. [kind of the supply]

    Notes
    -----
    Derived: the ground of a pass is cut into slices across it; between their edges, and along a headland run, what it
    takes mounts up evenly.
    """
    mine = np.flatnonzero(ground.work == work)
    leg = [leg for leg in route.legs if leg.is_work][work]
    total = float(supply.amounts(ground.shapes[mine], ground.area_m2[mine]).sum())
    if leg.state == "headland":
        return np.asarray(amounts) / total
    direction = route.layout.direction_deg
    shape = union(ground.shapes[mine])
    u = to_work(leg.points(), direction)[:, 0]
    low_u, low_v = to_work(shapely.get_coordinates(shape), direction).min(axis=0) - 1.0
    high_u, high_v = to_work(shapely.get_coordinates(shape), direction).max(axis=0) + 1.0
    cuts = np.linspace(u[0], u[-1], _SLICES + 1)
    # All ground before the first cut is done at the first, and all beyond the last at the last.
    behind = low_u if u[-1] > u[0] else high_u
    reached = np.where(np.arange(_SLICES + 1) == _SLICES, high_u if u[-1] > u[0] else low_u, cuts)
    boxes = np.column_stack(
        [
            np.minimum(behind, reached),
            np.full(len(cuts), low_v),
            np.maximum(behind, reached),
            np.full(len(cuts), high_v),
        ]
    )
    pieces = intersections(boxes_to_field(boxes, direction), shape)
    done = supply.amounts(pieces, np.asarray(shapely.area(pieces)))
    done[0] = 0.0
    return np.interp(
        np.asarray(amounts) / total, np.maximum.accumulate(done) / done[-1], np.linspace(0, 1, _SLICES + 1)
    )
