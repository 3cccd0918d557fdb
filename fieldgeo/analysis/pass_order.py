"""The order of the passes as figures: the pattern of each block, how good it is, and the list of passes to drive by."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from fieldgeo.frame import azimuth_deg
from fieldgeo.machinery.tool import travel_speed_m_s
from fieldgeo.travel.order import block_problem
from fieldgeo.travel.solve import EXACT_PASSES, TICKS_A_SECOND, chain_s, exact_chain, nearest_bound_s
from fieldgeo.travel.stations import wind
from fieldgeo.travel.timeline import leg_s
from fieldgeo.units import to_feet

if TYPE_CHECKING:
    from fieldgeo.analysis.figures import Figures
    from fieldgeo.layout.axes import Floats
    from fieldgeo.layout.parts.model import PartPasses
    from fieldgeo.travel.order import BlockOrder
    from fieldgeo.travel.route import Leg, Route

# Columns of the list of passes, in order.
PASS_COLUMNS = (
    "number", "pass", "block", "azimuth_deg", "heading", "length_m", "length_ft", "to_next", "to_next_m", "to_next_s",
)  # fmt: skip


class Bound(NamedTuple):
    """How good the order of one block is."""

    spent_s: float  # turns, and the way to its first pass and from its last, straight [s]
    bound_s: float  # no order takes less [s]
    is_proven: bool  # no order takes less than this one

    @property
    def gap(self) -> float:
        """What the order takes beyond the bound, as a share of the bound. [-]"""
        return self.spent_s / self.bound_s - 1 if self.bound_s > 0 else 0.0


def bound_orders(route: Route, *, passes: PartPasses | None = None) -> list[Bound]:
    """Return for the order of each block how near it is to one that nothing beats.

    Parameters
    ----------
    route : Route
        Work in order.
    passes : PartPasses, optional
        The passes of a divided field, whose layout the route does not hold.

    Returns
    -------
    list of Bound
        One for each of `Route.orders`. A block is judged between the places it is driven to from and left for, so
        what several blocks spend on the ways between them stands in two of them. The bound is the solver's where it
        has worked, exact up to `fieldgeo.travel.solve.EXACT_PASSES` passes, and else half of the cheapest turn at
        every end. A turn kept within the outline may take longer than the quickest there is, which the bound allows.
    """
    legs_of = _legs_of_blocks(route)
    bounds = []
    for order, (first, last) in zip(route.orders, legs_of, strict=True):
        before_xy, after_xy = _place_before(route.legs[:first]), _place_after(route.legs[last + 1 :])
        spent = sum(leg_s(leg, route.layout.tool) for leg in route.legs[first : last + 1] if leg.turn is not None)
        for place, leg, end in ((before_xy, route.legs[first], 0), (after_xy, route.legs[last], -1)):
            if place is not None:
                spent += float(np.hypot(*(leg.points()[end] - place))) / travel_speed_m_s(route.layout.tool)
        bound = _bound_s(route, order, passes, before_xy, after_xy)
        # Rounding to the solver's ticks, one a turn, is no gap.
        is_met = spent <= bound + (len(order.passes) + 1) / TICKS_A_SECOND
        bounds.append(Bound(spent, min(bound, spent), is_met))
    return bounds


def _bound_s(
    route: Route, order: BlockOrder, passes: PartPasses | None, before_xy: Floats | None, after_xy: Floats | None
) -> float:
    if order.bound_s is not None:
        return order.bound_s
    block = np.array(sorted(order.passes), dtype=np.int64)
    table = route.layout.passes
    if passes is not None:
        part, _ = passes.row_of(int(block[0]))
        table, block = passes.of_parts[part], block - passes.first_number[part]
    problem = block_problem(table, block, route.layout.tool, before_xy, after_xy)
    if len(block) <= EXACT_PASSES:
        return chain_s(problem, exact_chain(problem))
    return nearest_bound_s(problem)


def _legs_of_blocks(route: Route) -> list[tuple[int, int]]:
    """Return the first and the last leg of each block of a route."""
    first_of: dict[int, int] = {}
    last_of: dict[int, int] = {}
    for row, leg in enumerate(route.legs):
        if leg.state == "pass":
            first_of.setdefault(leg.number, row)
            last_of[leg.number] = row
    return [(first_of[order.passes[0]], last_of[order.passes[-1]]) for order in route.orders]


def _place_before(legs: tuple[Leg, ...]) -> Floats | None:
    """Return where the tool comes from: the end of the work before, else the entrance, else nowhere."""
    worked = [leg for leg in legs if leg.is_work]
    if worked:
        return np.asarray(worked[-1].points()[-1])
    return np.asarray(legs[0].points()[0]) if legs else None


def _place_after(legs: tuple[Leg, ...]) -> Floats | None:
    worked = [leg for leg in legs if leg.is_work]
    if worked:
        return np.asarray(worked[0].points()[0])
    return np.asarray(legs[-1].points()[-1]) if legs else None


def order_figures(route: Route, *, passes: PartPasses | None = None) -> Figures:
    """Return how the passes are taken, block by block, and how good that is.

    Parameters
    ----------
    route : Route
        Work in order.
    passes : PartPasses, optional
        The passes of a divided field; they are counted from the right in each part, part after part.

    Returns
    -------
    dict
        `order_s` is what the orders of all blocks spend in turns and on the ways to and from them, `order_bound_s`
        what no order of these blocks beats, `order_gap` what the first is beyond the second, as a share;
        `order_proven` is true when no block has a better order. `orders` has the pattern of each block, its passes in
        driving order, numbered from the side that `counted_from` names, and the same figures.
    """
    bounds = bound_orders(route, passes=passes)
    spent, bound = sum(each.spent_s for each in bounds), sum(each.bound_s for each in bounds)
    return {
        "counted_from": _side_counted_from(route) if passes is None else "right of each part",
        "order_s": spent,
        "order_bound_s": bound,
        "order_gap": spent / bound - 1 if bound > 0 else 0.0,
        "order_proven": all(each.is_proven for each in bounds),
        "orders": [
            {
                "block": number,
                "pattern": order.pattern,
                "step": order.step,
                "passes": [row + 1 for row in order.passes],
                "order_s": each.spent_s,
                "order_bound_s": each.bound_s,
                "order_gap": each.gap,
                "order_proven": each.is_proven,
            }
            for number, (order, each) in enumerate(zip(route.orders, bounds, strict=True), start=1)
        ],
    }


def _side_counted_from(route: Route) -> str:
    """Return the side from which passes are counted: the right, looking along the direction."""
    return wind((route.layout.direction_deg + 90.0) % 360.0)


def pass_list(route: Route) -> list[Figures]:
    """Return the passes in the order they are driven, one row each: what a driver follows.

    Parameters
    ----------
    route : Route
        Work in order.

    Returns
    -------
    list of dict
        `number` counts in driving order from 1; `pass` across the field from one side, part by part (see
        `counted_from` in `order_figures`); `block` in driving order. `azimuth_deg` is the way the pass is driven,
        clockwise from north, `heading` the wind nearest to it. `to_next` is the kind of the turn onto the next pass,
        or ``"travel"``, or ``"headland"`` where rounds come first, None after the last; `to_next_m` and `to_next_s`
        are what is driven with the tool up until the next work, stops on the way counted.
    """
    block_of = {row: number for number, order in enumerate(route.orders, start=1) for row in order.passes}
    rows: list[dict[str, Any]] = []
    at_work = -1  # the pass whose row is being filled; -1 between passes
    for leg in route.legs:
        if leg.state == "pass" and leg.number == at_work:
            rows[-1]["length_m"] += leg.length_m
            rows[-1] |= {"to_next": None, "to_next_m": 0.0, "to_next_s": 0.0}  # a stop within the pass
        elif leg.state == "pass":
            line = leg.points()
            is_ring = np.hypot(*(line[-1] - line[0])) < 1e-3
            # A ring ends where it begins: what counts is the way it sets out.
            azimuth = float(azimuth_deg(*(line[1] - line[0] if is_ring else line[-1] - line[0])))
            rows.append(
                {
                    "number": len(rows) + 1,
                    "pass": leg.number + 1,
                    "block": block_of.get(leg.number),
                    "azimuth_deg": azimuth,
                    "heading": wind(azimuth),
                    "length_m": leg.length_m,
                    "to_next": None,
                    "to_next_m": 0.0,
                    "to_next_s": 0.0,
                }
            )
            at_work = leg.number
        elif leg.state == "headland":
            if at_work >= 0:
                rows[-1]["to_next"] = "headland"
            at_work = -1
        elif at_work >= 0:
            rows[-1]["to_next"] = leg.turn.kind if leg.turn is not None else rows[-1]["to_next"] or "travel"
            rows[-1]["to_next_m"] += leg.length_m
            rows[-1]["to_next_s"] += leg_s(leg, route.layout.tool)
    if rows and at_work >= 0:
        rows[-1]["to_next"] = None
    return [{name: row.get(name) for name in PASS_COLUMNS} | {"length_ft": to_feet(row["length_m"])} for row in rows]
