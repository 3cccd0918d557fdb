"""`Route`: the work in order, every pass and round and all the driving between them."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np

from fieldgeo.layout.axes import Floats, to_field, unit_vector
from fieldgeo.layout.model import Layout
from fieldgeo.layout.strips import Ints
from fieldgeo.travel.drive import drive_way
from fieldgeo.travel.order import Stint, Way, block_stints, find_blocks, order_stints
from fieldgeo.travel.turns import Turn, join_poses

State = Literal["pass", "headland", "turn", "travel"]
STATES: tuple[State, ...] = ("pass", "headland", "turn", "travel")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Leg:
    """One stretch of the route, driven in one state."""

    state: State
    length_m: float  # [m]
    number: int = -1  # pass (row in the layout's passes) or headland run; -1 for turns and travel
    line: Floats | None = None  # (K, 2) in driving order; None for a turn, which knows its own points [m]
    turn: Turn | None = None

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

    def turns(self) -> list[Turn]:
        """Return the turns in order."""
        return [leg.turn for leg in self.legs if leg.turn is not None]

    def turns_by_kind(self) -> dict[str, int]:
        """Return how many turns there are of each kind."""
        counts: dict[str, int] = {}
        for turn in self.turns():
            counts[turn.kind] = counts.get(turn.kind, 0) + 1
        return counts

    def length_m(self, *states: State) -> float:
        """Return the length driven in the given states. [m]"""
        return float(sum(leg.length_m for leg in self.legs if leg.state in states))


def plan_route(layout: Layout, *, entrance_xy: Floats | None = None) -> Route:
    """Return the route over a layout: headland rounds, and the passes back and forth, part by part.

    Parameters
    ----------
    layout : Layout
        Headland rounds and passes.
    entrance_xy : ndarray of shape (2,), optional
        Where the tool enters and leaves the field; without it the route begins where the work begins. [m]
    """
    legs: list[Leg] = []
    at = None if entrance_xy is None else np.asarray(entrance_xy, dtype=float)
    goal = at
    blocks = find_blocks(layout.passes)
    part_of_block = _parts_of_blocks(layout, blocks)
    last_part = len(layout.field.shape.geoms) - 1
    for part in range(last_part + 1):
        here = [block for block, its_part in zip(blocks, part_of_block, strict=True) if its_part == part]
        stints = order_stints(
            _round_stints(layout, part), block_stints(layout.passes, here), at, goal if part == last_part else None
        )
        for stint, way in stints:
            if at is not None:
                _add_travel(layout, at, way.start_xy, legs)
            if stint.is_headland:
                _drive_rounds(layout, stint, legs)
            else:
                _drive_block(layout, stint, way, legs)
            at = way.end_xy
    if goal is not None and at is not None:
        _add_travel(layout, at, goal, legs)
    return Route(layout=layout, legs=tuple(legs))


def _parts_of_blocks(layout: Layout, blocks: list[Ints]) -> list[int]:
    """Return the part of the field that each block of passes lies in."""
    parts = layout.field.shape.geoms
    if len(parts) == 1:
        return [0] * len(blocks)
    inside = [piece.representative_point() for piece in layout.body.geoms]
    part_of_piece = [min(range(len(parts)), key=lambda part: parts[part].distance(point)) for point in inside]
    return [part_of_piece[int(layout.passes.piece[block[0]])] for block in blocks]


def _line_length(line: Floats) -> float:
    return float(np.hypot(*np.diff(line, axis=0).T).sum())


def _add_travel(layout: Layout, start_xy: Floats, end_xy: Floats, legs: list[Leg]) -> None:
    if np.hypot(*(end_xy - start_xy)) < 1e-6:
        return
    way = drive_way(layout.field.shape, start_xy, end_xy)
    legs.append(Leg(state="travel", length_m=_line_length(way), line=way))


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
            ways=(Way(start_xy=runs[group[0]].line[0], end_xy=runs[group[-1]].line[-1]),),
        )
        for group in groups
    ]


def _drive_rounds(layout: Layout, stint: Stint, legs: list[Leg]) -> None:
    """Add headland runs, each joined to the next by a turn."""
    numbers = stint.members.tolist()
    runs = [layout.headland.runs[number] for number in numbers]
    last_step = np.array([run.line[-1] - run.line[-2] for run in runs[:-1]]).reshape(-1, 2)
    first_step = np.array([run.line[1] - run.line[0] for run in runs[1:]]).reshape(-1, 2)
    turns = join_poses(
        np.array([run.line[-1] for run in runs[:-1]]).reshape(-1, 2), np.arctan2(last_step[:, 1], last_step[:, 0]),
        np.array([run.line[0] for run in runs[1:]]).reshape(-1, 2), np.arctan2(first_step[:, 1], first_step[:, 0]),
        radius_m=layout.tool.turn_radius_m, pull_out_m=layout.tool.pull_out_m,
        corner=np.array([one.round == other.round for one, other in pairwise(runs)], dtype=bool),
    )  # fmt: skip
    for row, (number, run) in enumerate(zip(numbers, runs, strict=True)):
        if row > 0:
            legs.append(Leg(state="turn", length_m=turns[row - 1].length_m, turn=turns[row - 1]))
        legs.append(Leg(state="headland", length_m=run.length_m, number=number, line=run.line))


def _drive_block(layout: Layout, stint: Stint, way: Way, legs: list[Leg]) -> None:
    """Add the passes of a block back and forth, each joined to the next by a turn."""
    passes = layout.passes
    index = stint.members[::-1] if way.is_backward else stint.members
    forward = (np.arange(len(index)) % 2 == 0) == way.is_first_forward
    centre = passes.centre_m[index]
    low, high = passes.start_m[index], passes.end_m[index]
    starts = to_field(np.column_stack([np.where(forward, low, high), centre]), passes.direction_deg)
    ends = to_field(np.column_stack([np.where(forward, high, low), centre]), passes.direction_deg)
    along = unit_vector(passes.direction_deg)
    ahead = float(np.arctan2(along[1], along[0]))
    heading = np.where(forward, ahead, ahead + np.pi)
    turns = join_poses(
        ends[:-1], heading[:-1], starts[1:], heading[1:],
        radius_m=layout.tool.turn_radius_m, pull_out_m=layout.tool.pull_out_m,
    )  # fmt: skip
    lines = np.stack([starts, ends], axis=1)
    for row, (number, length) in enumerate(zip(index.tolist(), (high - low).tolist(), strict=True)):
        if row > 0:
            legs.append(Leg(state="turn", length_m=turns[row - 1].length_m, turn=turns[row - 1]))
        legs.append(Leg(state="pass", length_m=length, number=number, line=lines[row]))
