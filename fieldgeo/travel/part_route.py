"""The route over parts of a field: rounds and blocks of all parts, so that little is driven in between.

Where passes of one part end on a seam and turn on the part beyond it, they are worked before the passes that they turn
on (see `fieldgeo.layout.parts.seams`). All else is free.
"""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

import numpy as np
import shapely

from fieldgeo.layout.axes import Floats
from fieldgeo.layout.model import Layout, Passes
from fieldgeo.layout.parts.model import DividedLayout, no_passes
from fieldgeo.layout.strips import Ints
from fieldgeo.machinery.tool import travel_speed_m_s
from fieldgeo.machinery.turning import headland_depth_m
from fieldgeo.travel.blocks import find_blocks
from fieldgeo.travel.order import BlockOrder, Stint, Way, block_stints, solve_blocks
from fieldgeo.travel.patterns import PLAIN, Order, check_order
from fieldgeo.travel.route import Route, between_works_s, drive_works
from fieldgeo.travel.solve import DEFAULT_EFFORT_S
from fieldgeo.travel.stint_order import order_waiting_stints
from fieldgeo.travel.works import Work, block_order, block_works, round_stints, round_works, turning_ground


class _Job(NamedTuple):
    """A stint and where it belongs."""

    part: int  # part of the body; -1 for rounds
    stint: Stint
    way: Way


def plan_part_route(
    layout: DividedLayout,
    *,
    entrance_xy: Floats | None = None,
    order: Order = "auto",
    effort_s: float = DEFAULT_EFFORT_S,
    is_mended: bool = True,
) -> Route:
    """Return the route over a divided layout.

    Parameters
    ----------
    layout : DividedLayout
        Headland rounds, and parts with passes.
    entrance_xy : ndarray of shape (2,), optional
        Where the tool enters and leaves the field; without it the route begins where the work begins. [m]
    order : str
        Order of the passes in each block, as in `fieldgeo.travel.route.plan_route`.
    effort_s : float
        For ``"best"``: work of the solver on the whole field. [s]
    is_mended : bool
        Whether the order of the stints is mended (see `fieldgeo.travel.stint_order.order_waiting_stints`).

    Returns
    -------
    Route
        Its layout holds field, tool and headland alone. Legs and orders number the passes through all parts, as
        `fieldgeo.layout.parts.model.PartPasses` does.

    Raises
    ------
    InputError
        If the order is not known.
    """
    check_order(order)
    goal = None if entrance_xy is None else np.asarray(entrance_xy, dtype=float)
    tries: tuple[Order, ...] = (order,)
    if order in {"auto", "best"}:
        tries = ("back-and-forth", order) if order == "auto" else (*PLAIN, order)
    jobs = [_ordered(layout, goal, each, is_mended=False) for each in tries]
    routes = [_route(layout, goal, each) for each in jobs]
    if is_mended:
        # Mending takes most of the time, so only what is best without it is mended.
        best = min(range(len(routes)), key=lambda row: between_works_s(routes[row]))
        jobs.append(_ordered(layout, goal, tries[best], is_mended=True))
        routes.append(_route(layout, goal, jobs[-1]))
    best = min(range(len(routes)), key=lambda row: between_works_s(routes[row]))
    if order != "best":
        return routes[best]
    solved = _route(layout, goal, _solved(layout, goal, jobs[best], effort_s))
    return min(solved, routes[best], key=between_works_s)


def _ordered(layout: DividedLayout, goal: Floats | None, order: Order, *, is_mended: bool) -> list[_Job]:
    """Return the stints in order, each with the way it is worked."""
    outline_parts = range(len(layout.field.shape.geoms))
    owned = [(-1, stint) for part in outline_parts for stint in round_stints(layout.headland, layout.tool, part)]
    grounds: list[shapely.Geometry | None] = [None] * len(owned)
    for number, part in enumerate(layout.parts):
        blocks = find_blocks(part.passes) if len(part.passes) else []
        owned += [(number, stint) for stint in block_stints(part.passes, blocks, layout.tool, order)]
        grounds += [_ground(part.passes, block) for block in blocks]
    ordered = order_waiting_stints(
        [stint for _, stint in owned], _waits(layout, [part for part, _ in owned], grounds), goal, goal,
        travel_m_s=travel_speed_m_s(layout.tool), is_mended=is_mended,
    )  # fmt: skip
    return [_Job(*owned[place], way) for place, way in ordered]


def _ground(passes: Passes, block: Ints) -> shapely.Geometry:
    """Return about what the passes of a block lie on: the hull of their centre lines. [m]"""
    starts, ends = passes.ends_xy()
    return shapely.convex_hull(shapely.MultiPoint(np.vstack([starts[block], ends[block]])))


def _waits(layout: DividedLayout, part_of: list[int], grounds: list[shapely.Geometry | None]) -> list[tuple[int, int]]:
    """Return which stint comes before which: blocks of parts that wait for each other, where they lie side by side."""
    reach_m = headland_depth_m(layout.tool) + layout.tool.width_m
    pairs = set(layout.waits)
    return [
        (one, two)
        for one, its_part in enumerate(part_of)
        for two, other_part in enumerate(part_of)
        if (its_part, other_part) in pairs and shapely.distance(grounds[one], grounds[two]) < reach_m
    ]


def _solved(layout: DividedLayout, goal: Floats | None, jobs: list[_Job], effort_s: float) -> list[_Job]:
    """Return the same stints in the same order, the passes of each block in the best order found."""
    count = max(1, len(layout.passes))
    solved: list[_Job] = []
    at = goal
    for place, (part, stint, way) in enumerate(jobs):
        after = jobs[place + 1].way.start_xy if place + 1 < len(jobs) else goal
        passes = layout.parts[part].passes if part >= 0 else no_passes(0.0)
        [(_, best)] = solve_blocks(
            passes, [(stint, way)], at, after, tool=layout.tool,
            outline=turning_ground(layout.field.shape, layout.headland),
            effort_s=effort_s * len(stint.members) / count,
        )  # fmt: skip
        solved.append(_Job(part, stint, best))
        at = best.end_xy
    return solved


def _route(layout: DividedLayout, goal: Floats | None, jobs: list[_Job]) -> Route:
    """Return the route over stints in order."""
    works: list[Work] = []
    orders: list[BlockOrder] = []
    for part, stint, way in jobs:
        if stint.is_headland:
            works += round_works(layout.headland, stint, way)
            continue
        order, first = block_order(stint, way), layout.passes.first_number[part]
        works += block_works(layout.parts[part].passes, order, first_number=first)
        orders.append(replace(order, passes=tuple(first + number for number in order.passes)))
    rounds = Layout(
        field=layout.field, tool=layout.tool, direction_deg=layout.direction_deg, finish=layout.finish,
        headland=layout.headland, body=layout.body, passes=no_passes(layout.direction_deg),
    )  # fmt: skip
    return Route(layout=rounds, legs=drive_works(works, rounds, goal), orders=tuple(orders))
