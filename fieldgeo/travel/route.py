"""`Route`: the work in order, every pass and round and all the driving between them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from fieldgeo.layout.axes import Floats, distances_along
from fieldgeo.layout.model import Layout
from fieldgeo.layout.strips import Ints
from fieldgeo.machinery.tool import travel_speed_m_s
from fieldgeo.travel.blocks import find_blocks
from fieldgeo.travel.drive import drive_way
from fieldgeo.travel.order import BlockOrder, Stint, Way, block_stints, opening_stints, order_stints, solve_blocks
from fieldgeo.travel.patterns import PLAIN, Order, check_order
from fieldgeo.travel.solve import DEFAULT_EFFORT_S
from fieldgeo.travel.turns import Turn, lengths_outside_m
from fieldgeo.travel.works import (
    RunTurns,
    Work,
    block_order,
    block_works,
    round_stints,
    round_works,
    run_turns,
    turning_ground,
    turns_before,
)

State = Literal["pass", "headland", "turn", "travel", "fill", "unload"]
STATES: tuple[State, ...] = ("pass", "headland", "turn", "travel", "fill", "unload")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Leg:
    """One stretch of the route, driven in one state, or one stop to fill or unload."""

    state: State
    length_m: float  # [m]
    number: int = -1  # pass (row in the layout's passes) or headland run; -1 for turns and travel
    line: Floats | None = None  # (K, 2) in driving order; None for a turn, which knows its own points [m]
    turn: Turn | None = None
    stop_s: float = 0.0  # time spent standing; above zero only to fill or unload [s]

    @property
    def is_work(self) -> bool:
        """Whether the tool works on it: a pass or a headland run, or a stretch of one."""
        return self.state in {"pass", "headland"}

    def points(self) -> Floats:
        """Return the leg as points in driving order, shape (K, 2). [m]"""
        if self.turn is not None:
            return self.turn.points()
        assert self.line is not None  # every leg is a line or a turn
        return self.line


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Route:
    """Everything driven on the field, in order."""

    layout: Layout
    legs: tuple[Leg, ...]
    orders: tuple[BlockOrder, ...] = ()  # of the blocks of passes, as they are worked one after the other

    def turns(self) -> list[Turn]:
        """Return the turns in order."""
        return [leg.turn for leg in self.legs if leg.turn is not None]

    def turns_by_kind(self) -> dict[str, int]:
        """Return how many turns there are of each kind."""
        counts: dict[str, int] = {}
        for turn in self.turns():
            counts[turn.kind] = counts.get(turn.kind, 0) + 1
        return counts

    def turns_outside_m(self) -> Floats:
        """Return how much of the path of each turn lies outside the outline, in the order of `turns`. [m]

        The path is that of the point which is steered; the tool about it reaches further.
        """
        return lengths_outside_m(self.turns(), self.layout.field.shape)

    def outside_m(self) -> float:
        """Return the length that is turned outside the outline, all turns together. [m]"""
        return float(self.turns_outside_m().sum())

    def length_m(self, *states: State) -> float:
        """Return the length driven in the given states. [m]"""
        return float(sum(leg.length_m for leg in self.legs if leg.state in states))


def plan_route(
    layout: Layout,
    *,
    entrance_xy: Floats | None = None,
    order: Order = "back-and-forth",
    effort_s: float = DEFAULT_EFFORT_S,
    known: RunTurns | None = None,
) -> Route:
    """Return the route over a layout: headland rounds, and the passes in the order asked for, part by part.

    Parameters
    ----------
    layout : Layout
        Headland rounds and passes.
    entrance_xy : ndarray of shape (2,), optional
        Where the tool enters and leaves the field; without it the route begins where the work begins. [m]
    order : {"back-and-forth", "skip", "blocks", "round-and-round", "auto", "best"}
        Order of the passes in each block: a pattern; ``"auto"``, the pattern that is worth it, block by block, and
        never slower than back and forth; or ``"best"``, the best order that a solver finds, never slower than any
        pattern.
    effort_s : float
        For ``"best"``: work of the solver on the whole field (see `fieldgeo.travel.solve.best_chain`). [s]
    known : mapping, optional
        Turns between the runs of this headland, from `fieldgeo.travel.works.run_turns`.

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
    ordered = [_ordered(layout, goal, each) for each in tries]
    if order == "auto" and _same_ways(*ordered):
        ordered = ordered[:1]
    if known is None and len(ordered) > 1:
        known = run_turns(layout.headland, layout.tool, layout.field.shape)
    routes = [_route(layout, goal, each, known) for each in ordered]
    best = min(range(len(routes)), key=lambda row: between_works_s(routes[row]))
    if order != "best":
        return routes[best]
    solved = _route(layout, goal, _solved(layout, goal, ordered[best], effort_s), known)
    return min(solved, routes[best], key=between_works_s)


Ordered = list[tuple[Stint, Way]]


def _ordered(layout: Layout, goal: Floats | None, order: Order) -> list[Ordered]:
    """Return the stints of each part in order, each with the way it is worked."""
    blocks = find_blocks(layout.passes)
    part_of_block = parts_of_blocks(layout, blocks)
    stints = []
    for part in range(len(layout.field.shape.geoms)):
        here = [block for block, its_part in zip(blocks, part_of_block, strict=True) if its_part == part]
        rounds = round_stints(layout.headland, layout.tool, part)
        stints.append((rounds, block_stints(layout.passes, here, layout.tool, order)))
    at = goal
    parts: list[Ordered] = []
    for part, (rounds, in_blocks) in enumerate(stints):
        later = next((its for its in stints[part + 1 :] if its[0] or its[1]), None)
        # From all ends of the same cost the one is taken that lies nearest to where the next part may begin.
        starts = [way.start_xy for stint in opening_stints(*later) for way in stint.ways] if later else []
        onward = np.array(starts) if later else goal
        ordered = order_stints(rounds, in_blocks, at, onward, travel_m_s=travel_speed_m_s(layout.tool))
        parts.append(ordered)
        if ordered:
            at = ordered[-1][1].end_xy
    return parts


def _same_ways(one: list[Ordered], other: list[Ordered]) -> bool:
    """Return whether stints are worked in the same order, each begun and ended at the same places."""
    ways, others = ([way for its in parts for _, way in its] for parts in (one, other))
    return all(
        np.array_equal(way.start_xy, its.start_xy)
        and np.array_equal(way.end_xy, its.end_xy)
        and (way.pattern is None or (its.pattern is not None and way.pattern.name == its.pattern.name))
        for way, its in zip(ways, others, strict=True)
    )


def _solved(layout: Layout, goal: Floats | None, parts: list[Ordered], effort_s: float) -> list[Ordered]:
    """Return the same stints, the passes of each block in the best order found."""
    count = max(1, len(layout.passes))
    at = goal
    solved: list[Ordered] = []
    for part, ordered in enumerate(parts):
        share_s = effort_s * sum(len(stint.members) for stint, _ in ordered if not stint.is_headland) / count
        later = [way.start_xy for its in parts[part + 1 :] for _, way in its]
        solved.append(
            solve_blocks(
                layout.passes, ordered, at, later[0] if later else goal,
                tool=layout.tool, outline=turning_ground(layout.field.shape, layout.headland), effort_s=share_s,
            )
        )  # fmt: skip
        if ordered:
            at = solved[-1][-1][1].end_xy
    return solved


def _route(layout: Layout, goal: Floats | None, parts: list[Ordered], known: RunTurns | None) -> Route:
    """Return the route over stints in order."""
    works: list[Work] = []
    orders: list[BlockOrder] = []
    for stint, way in (each for ordered in parts for each in ordered):
        if stint.is_headland:
            works += round_works(layout.headland, stint, way)
        else:
            orders.append(block_order(stint, way))
            works += block_works(layout.passes, orders[-1])
    return Route(layout=layout, legs=drive_works(works, layout, goal, known), orders=tuple(orders))


def drive_works(
    works: list[Work], layout: Layout, entrance_xy: Floats | None, known: RunTurns | None = None
) -> tuple[Leg, ...]:
    """Return the legs over works in order: the works, the turns that join them, and the travel between the others.

    Parameters
    ----------
    works : list of Work
        Passes and headland runs as they are driven.
    layout : Layout
        Gives field, tool and headland.
    entrance_xy : ndarray of shape (2,) or None
        Where the tool enters and leaves the field. [m]
    known : mapping, optional
        Turns between the runs of this headland, from `fieldgeo.travel.works.run_turns`.
    """
    legs: list[Leg] = []
    at = entrance_xy
    ground = turning_ground(layout.field.shape, layout.headland)
    for work, turn in zip(works, turns_before(works, layout.tool, ground, known), strict=True):
        if turn is not None:
            legs.append(Leg(state="turn", length_m=turn.length_m, turn=turn))
        elif at is not None:
            _add_travel(layout, at, work.line[0], legs)
        legs.append(Leg(state=work.state, length_m=work.length_m, number=work.number, line=work.line))
        at = work.line[-1]
    if entrance_xy is not None and at is not None:
        _add_travel(layout, at, entrance_xy, legs)
    return tuple(legs)


def between_works_s(route: Route) -> float:
    """Return the time driven with the tool up; all else is the same in every order of the same work. [s]

    Parameters
    ----------
    route : Route
        Work in order.
    """
    travel_s = route.length_m("travel") / travel_speed_m_s(route.layout.tool)
    return travel_s + sum(turn.time_s for turn in route.turns())


def parts_of_blocks(layout: Layout, blocks: list[Ints]) -> list[int]:
    """Return the part of the field that each block of passes lies in.

    Parameters
    ----------
    layout : Layout
        Headland rounds and passes.
    blocks : list of ndarray
        From `fieldgeo.travel.blocks.find_blocks`.
    """
    parts = layout.field.shape.geoms
    if len(parts) == 1:
        return [0] * len(blocks)
    inside = [piece.representative_point() for piece in layout.body.geoms]
    part_of_piece = [min(range(len(parts)), key=lambda part: parts[part].distance(point)) for point in inside]
    return [part_of_piece[int(layout.passes.piece[block[0]])] for block in blocks]


def _add_travel(layout: Layout, start_xy: Floats, end_xy: Floats, legs: list[Leg]) -> None:
    if np.hypot(*(end_xy - start_xy)) < 1e-6:
        return
    way = drive_way(layout.field.shape, start_xy, end_xy)
    legs.append(Leg(state="travel", length_m=float(distances_along(way)[-1]), line=way))
