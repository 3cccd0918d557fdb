"""`Route`: the work in order, every pass and round and all the driving between them."""

from __future__ import annotations

from dataclasses import dataclass
from math import atan2, pi
from typing import Literal, NamedTuple

import numpy as np
import shapely

from fieldgeo.layout.axes import Floats, distances_along, to_field, unit_vector
from fieldgeo.layout.model import Layout
from fieldgeo.layout.strips import Ints
from fieldgeo.machinery.tool import travel_speed_m_s
from fieldgeo.travel.blocks import find_blocks
from fieldgeo.travel.drive import drive_way
from fieldgeo.travel.order import BlockOrder, Stint, Way, block_stints, opening_stints, order_stints, solve_blocks
from fieldgeo.travel.patterns import PLAIN, Order, check_order
from fieldgeo.travel.solve import DEFAULT_EFFORT_S
from fieldgeo.travel.turns import Turn, join_poses, lengths_outside_m

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
    routes = [_route(layout, goal, each) for each in ordered]
    best = min(range(len(routes)), key=lambda row: _between_works_s(routes[row]))
    if order != "best":
        return routes[best]
    solved = _route(layout, goal, _solved(layout, goal, ordered[best], effort_s))
    return min(solved, routes[best], key=_between_works_s)


class _Work(NamedTuple):
    """One pass or headland run as it is driven."""

    state: Literal["pass", "headland"]
    number: int
    line: Floats  # (K, 2) [m]
    length_m: float
    heading_rad: tuple[float, float]  # at the start and at the end, counter-clockwise from east
    is_joined: bool  # reached by a turn from the work before
    is_corner: bool  # ... which is a corner of the same round


Ordered = list[tuple[Stint, Way]]


def _ordered(layout: Layout, goal: Floats | None, order: Order) -> list[Ordered]:
    """Return the stints of each part in order, each with the way it is worked."""
    blocks = find_blocks(layout.passes)
    part_of_block = _parts_of_blocks(layout, blocks)
    stints = []
    for part in range(len(layout.field.shape.geoms)):
        here = [block for block, its_part in zip(blocks, part_of_block, strict=True) if its_part == part]
        rounds = _round_stints(layout, part)
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
                tool=layout.tool, outline=_turning_ground(layout), effort_s=share_s,
            )
        )  # fmt: skip
        if ordered:
            at = solved[-1][-1][1].end_xy
    return solved


def _route(layout: Layout, goal: Floats | None, parts: list[Ordered]) -> Route:
    """Return the route over stints in order."""
    works: list[_Work] = []
    orders: list[BlockOrder] = []
    for stint, way in (each for ordered in parts for each in ordered):
        if stint.is_headland:
            works += _round_works(layout, stint, way)
        else:
            orders.append(_block_order(stint, way))
            works += _block_works(layout, orders[-1])
    legs: list[Leg] = []
    at = goal
    for work, turn in zip(works, _turns_before(layout, works), strict=True):
        if turn is not None:
            legs.append(Leg(state="turn", length_m=turn.length_m, turn=turn))
        elif at is not None:
            _add_travel(layout, at, work.line[0], legs)
        legs.append(Leg(state=work.state, length_m=work.length_m, number=work.number, line=work.line))
        at = work.line[-1]
    if goal is not None and at is not None:
        _add_travel(layout, at, goal, legs)
    return Route(layout=layout, legs=tuple(legs), orders=tuple(orders))


def _block_order(stint: Stint, way: Way) -> BlockOrder:
    assert way.pattern is not None  # a block's way has one
    return BlockOrder(
        pattern=way.pattern.name,
        step=way.pattern.step,
        passes=tuple(stint.members[way.pattern.positions].tolist()),
        is_first_forward=way.is_first_forward,
        bound_s=way.bound_s,
        is_proven=way.is_proven,
    )


def _between_works_s(route: Route) -> float:
    """Return the time driven with the tool up; all else is the same in every order of the same work. [s]"""
    travel_s = route.length_m("travel") / travel_speed_m_s(route.layout.tool)
    return travel_s + sum(turn.time_s for turn in route.turns())


def _turning_ground(layout: Layout) -> shapely.MultiPolygon | None:
    """Return the ground to turn on. Straight through, edge to edge, is for those who have room beyond the edge."""
    return layout.field.shape if layout.headland.rounds else None


def _turns_before(layout: Layout, works: list[_Work]) -> list[Turn | None]:
    """Return the turn before each work that is joined to the one before it, else None."""
    turns: list[Turn | None] = [None] * len(works)
    rows = [row for row, work in enumerate(works) if work.is_joined]
    joined = join_poses(
        np.array([works[row - 1].line[-1] for row in rows]).reshape(-1, 2),
        np.array([works[row - 1].heading_rad[1] for row in rows]),
        np.array([works[row].line[0] for row in rows]).reshape(-1, 2),
        np.array([works[row].heading_rad[0] for row in rows]),
        tool=layout.tool,
        outline=_turning_ground(layout),
        corner=np.array([works[row].is_corner for row in rows], dtype=bool),
        beside_fence=np.array([works[row].state == "headland" for row in rows], dtype=bool),
    )
    for row, turn in zip(rows, joined, strict=True):
        turns[row] = turn
    return turns


def _parts_of_blocks(layout: Layout, blocks: list[Ints]) -> list[int]:
    """Return the part of the field that each block of passes lies in."""
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


def _round_stints(layout: Layout, part: int) -> list[Stint]:
    """Return the headland runs of a part, cut where the next run begins out of the tool's reach of the last."""
    runs = layout.headland.runs
    reach_m = 2 * (layout.tool.width_m + layout.tool.turn_radius_m)
    groups: list[list[int]] = []
    for number, run in enumerate(runs):
        if run.part != part:
            continue
        if groups and np.hypot(*(run.line[0] - runs[groups[-1][-1]].line[-1])) < reach_m:
            groups[-1].append(number)
        else:
            groups.append([number])
    return [
        Stint(
            members=np.array(group),
            is_headland=True,
            ways=(
                Way(start_xy=runs[group[0]].line[0], end_xy=runs[group[-1]].line[-1]),
                Way(start_xy=runs[group[-1]].line[-1], end_xy=runs[group[0]].line[0], is_backward=True),
            ),
        )
        for group in groups
    ]


def _round_works(layout: Layout, stint: Stint, way: Way) -> list[_Work]:
    """Return the runs of a headland stint, all driven one way round or all the other."""
    works: list[_Work] = []
    runs = layout.headland.runs
    members = stint.members[::-1].tolist() if way.is_backward else stint.members.tolist()
    for row, number in enumerate(members):
        run = runs[number]
        line = run.line[::-1] if way.is_backward else run.line
        (x0, y0), (x1, y1) = line[:2].tolist()
        (x2, y2), (x3, y3) = line[-2:].tolist()
        works.append(
            _Work(
                state="headland",
                number=number,
                line=line,
                length_m=run.length_m,
                heading_rad=(atan2(y1 - y0, x1 - x0), atan2(y3 - y2, x3 - x2)),
                is_joined=row > 0,
                is_corner=row > 0 and run.round == runs[members[row - 1]].round,
            )
        )
    return works


def _block_works(layout: Layout, order: BlockOrder) -> list[_Work]:
    """Return the passes of a block as they are driven: along one, along the next the other way."""
    passes = layout.passes
    index = np.array(order.passes, dtype=np.int64)
    forward = (np.arange(len(index)) % 2 == 0) == order.is_first_forward
    low, high = passes.start_m[index], passes.end_m[index]
    along = np.stack([np.where(forward, low, high), np.where(forward, high, low)], axis=1)
    across = np.broadcast_to(passes.centre_m[index, None], along.shape)
    lines = to_field(np.stack([along, across], axis=-1).reshape(-1, 2), passes.direction_deg).reshape(-1, 2, 2)
    x, y = unit_vector(passes.direction_deg).tolist()
    ahead = atan2(y, x)
    return [
        _Work(
            state="pass",
            number=number,
            line=line,
            length_m=length,
            heading_rad=(ahead, ahead) if is_forward else (ahead + pi, ahead + pi),
            is_joined=row > 0,
            is_corner=False,
        )
        for row, (number, line, length, is_forward) in enumerate(
            zip(index.tolist(), lines, (high - low).tolist(), forward.tolist(), strict=True)
        )
    ]
