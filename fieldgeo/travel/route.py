"""`Route`: the work in order, every pass and round and all the driving between them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from fieldgeo.layout.axes import Floats, to_field, unit_vector
from fieldgeo.layout.model import Layout
from fieldgeo.layout.strips import Ints
from fieldgeo.travel.drive import drive_way
from fieldgeo.travel.order import Driven, back_and_forth, find_blocks
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
    """Return the route over a layout: headland rounds first, then the passes back and forth.

    Parameters
    ----------
    layout : Layout
        Headland rounds and passes.
    entrance_xy : ndarray of shape (2,), optional
        Where the tool enters and leaves the field; without it the route begins where the work begins. [m]
    """
    legs: list[Leg] = []
    at = None if entrance_xy is None else np.asarray(entrance_xy, dtype=float)
    blocks = find_blocks(layout.passes)
    part_of_block = _parts_of_blocks(layout, blocks)
    for part in range(len(layout.field.shape.geoms)):
        at = _drive_headland(layout, part, at, legs)
        here = [block for block, its_part in zip(blocks, part_of_block, strict=True) if its_part == part]
        at = _drive_passes(layout, here, at, legs)
    if entrance_xy is not None and at is not None:
        _add_travel(layout, at, np.asarray(entrance_xy, dtype=float), legs)
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


def _drive_headland(layout: Layout, part: int, at: Floats | None, legs: list[Leg]) -> Floats | None:
    """Add the headland rounds of a part; a run that begins near the end of the one before is joined by a turn."""
    numbers = [number for number, run in enumerate(layout.headland.runs) if run.part == part]
    runs = [layout.headland.runs[number] for number in numbers]
    if not runs:
        return at
    ends = np.array([run.line[-1] for run in runs])
    starts = np.array([run.line[0] for run in runs])
    # A turn joins runs whose ends lie within the tool's reach: sides that meet at a corner, or rounds side by side.
    near = np.hypot(*(starts[1:] - ends[:-1]).T) < 2 * (layout.tool.width_m + layout.tool.turn_radius_m)
    same_round = np.array([a.round == b.round for a, b in zip(runs[:-1], runs[1:], strict=True)], dtype=bool)
    last_step = np.array([run.line[-1] - run.line[-2] for run in runs])
    first_step = np.array([run.line[1] - run.line[0] for run in runs])
    index = np.flatnonzero(near)
    turns = join_poses(
        ends[index], np.arctan2(last_step[index, 1], last_step[index, 0]),
        starts[index + 1], np.arctan2(first_step[index + 1, 1], first_step[index + 1, 0]),
        radius_m=layout.tool.turn_radius_m, pull_out_m=layout.tool.pull_out_m, corner=same_round[index],
    )  # fmt: skip
    turn_after = dict(zip(index.tolist(), turns, strict=True))
    for row, (number, run) in enumerate(zip(numbers, runs, strict=True)):
        if row - 1 in turn_after:
            turn = turn_after[row - 1]
            legs.append(Leg(state="turn", length_m=turn.length_m, turn=turn))
        elif at is not None:
            _add_travel(layout, at, run.line[0], legs)
        legs.append(Leg(state="headland", length_m=run.length_m, number=number, line=run.line))
        at = run.line[-1]
    return at


def _drive_passes(layout: Layout, blocks: list[Ints], at: Floats | None, legs: list[Leg]) -> Floats | None:
    passes = layout.passes
    if not blocks:
        return at
    order = back_and_forth(passes, blocks, at)
    index = np.array([driven.index for driven in order])
    forward = np.array([driven.is_forward for driven in order])
    u_start = np.where(forward, passes.start_m[index], passes.end_m[index])
    u_end = np.where(forward, passes.end_m[index], passes.start_m[index])
    centre = passes.centre_m[index]
    starts = to_field(np.column_stack([u_start, centre]), passes.direction_deg)
    ends = to_field(np.column_stack([u_end, centre]), passes.direction_deg)
    turn_before = _turns_between(layout, order, starts, ends, forward)
    lengths = passes.length_m[index].tolist()
    for row, driven in enumerate(order):
        if row in turn_before:
            turn = turn_before[row]
            legs.append(Leg(state="turn", length_m=turn.length_m, turn=turn))
        elif at is not None:
            _add_travel(layout, at, starts[row], legs)
        line = np.array([starts[row], ends[row]])
        legs.append(Leg(state="pass", length_m=lengths[row], number=driven.index, line=line))
        at = ends[row]
    return at


def _turns_between(
    layout: Layout, order: list[Driven], starts: Floats, ends: Floats, forward: Floats
) -> dict[int, Turn]:
    """Return the turn before each pass that follows its neighbour, by place in the order."""
    rows = np.array([row for row, driven in enumerate(order) if not driven.is_first_of_block], dtype=np.int64)
    along = unit_vector(layout.passes.direction_deg)
    ahead = float(np.arctan2(along[1], along[0]))
    heading = np.where(forward, ahead, ahead + np.pi)
    turns = join_poses(
        ends[rows - 1], heading[rows - 1], starts[rows], heading[rows],
        radius_m=layout.tool.turn_radius_m, pull_out_m=layout.tool.pull_out_m,
    )  # fmt: skip
    return dict(zip(rows.tolist(), turns, strict=True))
