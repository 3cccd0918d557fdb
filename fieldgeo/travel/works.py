"""`Work`: passes and headland runs as they are driven, and the turns that join them."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise
from math import atan2, pi
from typing import Literal, NamedTuple, TypeAlias

import numpy as np
import shapely

from fieldgeo.layout.axes import Floats, to_field, unit_vector
from fieldgeo.layout.model import Headland, Passes
from fieldgeo.machinery.tool import Tool
from fieldgeo.travel.order import BlockOrder, Stint, Way
from fieldgeo.travel.turns import Turn, join_poses

# Turns between two runs of the headland, by the numbers of both in driving order.
RunTurns: TypeAlias = Mapping[tuple[int, int], Turn]


class Work(NamedTuple):
    """One pass or headland run as it is driven."""

    state: Literal["pass", "headland"]
    number: int
    line: Floats  # (K, 2) [m]
    length_m: float
    heading_rad: tuple[float, float]  # at the start and at the end, counter-clockwise from east
    is_joined: bool  # reached by a turn from the work before
    is_corner: bool  # ... which is a corner of the same round


def turning_ground(shape: shapely.MultiPolygon, headland: Headland) -> shapely.MultiPolygon | None:
    """Return the ground to turn on. Straight through, edge to edge, is for those who have room beyond the edge.

    Parameters
    ----------
    shape : shapely.MultiPolygon
        Outline in the frame. [m]
    headland : Headland
        The rounds along it.
    """
    return shape if headland.rounds else None


def turns_before(
    works: list[Work], tool: Tool, ground: shapely.MultiPolygon | None, known: RunTurns | None = None
) -> list[Turn | None]:
    """Return the turn before each work that is joined to the one before it, else None.

    Parameters
    ----------
    works : list of Work
        In driving order.
    tool : Tool
        The tool.
    ground : shapely.MultiPolygon or None
        Ground to turn on, from `turning_ground`. [m]
    known : mapping, optional
        Turns between runs of the headland, from `run_turns`; those are not worked out again.
    """
    turns: list[Turn | None] = [None] * len(works)
    if known:
        for row, (before, work) in enumerate(pairwise(works), start=1):
            if work.is_joined and work.state == "headland":
                turns[row] = known[before.number, work.number]
    rows = [row for row, work in enumerate(works) if work.is_joined and turns[row] is None]
    joined = join_poses(
        np.array([works[row - 1].line[-1] for row in rows]).reshape(-1, 2),
        np.array([works[row - 1].heading_rad[1] for row in rows]),
        np.array([works[row].line[0] for row in rows]).reshape(-1, 2),
        np.array([works[row].heading_rad[0] for row in rows]),
        tool=tool,
        outline=ground,
        corner=np.array([works[row].is_corner for row in rows], dtype=bool),
        beside_fence=np.array([works[row].state == "headland" for row in rows], dtype=bool),
    )
    for row, turn in zip(rows, joined, strict=True):
        turns[row] = turn
    return turns


def run_turns(headland: Headland, tool: Tool, shape: shapely.MultiPolygon) -> RunTurns:
    """Return the turns between the runs of a headland, driven either way round.

    They are the same whatever lies inside, and take a third of the work of a search over directions.

    Parameters
    ----------
    headland : Headland
        The runs of all parts.
    tool : Tool
        The tool.
    shape : shapely.MultiPolygon
        Outline in the frame. [m]
    """
    works = [
        work
        for part in range(len(shape.geoms))
        for stint in round_stints(headland, tool, part)
        for way in stint.ways
        for work in round_works(headland, stint, way)
    ]
    turns = turns_before(works, tool, turning_ground(shape, headland))
    pairs = zip(pairwise(works), turns[1:], strict=True)
    return {(before.number, work.number): turn for (before, work), turn in pairs if turn is not None}


def round_stints(headland: Headland, tool: Tool, part: int) -> list[Stint]:
    """Return the headland runs of a part, cut where the next run begins out of the tool's reach of the last.

    Parameters
    ----------
    headland : Headland
        The runs of all parts.
    tool : Tool
        Gives width and turning radius.
    part : int
        Part of the field's outline.
    """
    runs = headland.runs
    reach_m = 2 * (tool.width_m + tool.turn_radius_m)
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


def round_works(headland: Headland, stint: Stint, way: Way) -> list[Work]:
    """Return the runs of a headland stint, all driven one way round or all the other.

    Parameters
    ----------
    headland : Headland
        The runs.
    stint : Stint
        Those driven without a break.
    way : Way
        Which way round.
    """
    works: list[Work] = []
    runs = headland.runs
    members = stint.members[::-1].tolist() if way.is_backward else stint.members.tolist()
    for row, number in enumerate(members):
        run = runs[number]
        line = run.line[::-1] if way.is_backward else run.line
        (x0, y0), (x1, y1) = line[:2].tolist()
        (x2, y2), (x3, y3) = line[-2:].tolist()
        works.append(
            Work(
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


def block_works(passes: Passes, order: BlockOrder, *, first_number: int = 0) -> list[Work]:
    """Return the passes of a block as they are driven: along one, along the next the other way.

    Parameters
    ----------
    passes : Passes
        Passes of a layout.
    order : BlockOrder
        Order of those of the block.
    first_number : int
        Number of the first of `passes`, where those of several layouts are counted through.
    """
    index = np.array(order.passes, dtype=np.int64)
    forward = (np.arange(len(index)) % 2 == 0) == order.is_first_forward
    low, high = passes.start_m[index], passes.end_m[index]
    along = np.stack([np.where(forward, low, high), np.where(forward, high, low)], axis=1)
    across = np.broadcast_to(passes.centre_m[index, None], along.shape)
    lines = to_field(np.stack([along, across], axis=-1).reshape(-1, 2), passes.direction_deg).reshape(-1, 2, 2)
    x, y = unit_vector(passes.direction_deg).tolist()
    ahead = atan2(y, x)
    return [
        Work(
            state="pass",
            number=first_number + number,
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


def block_order(stint: Stint, way: Way) -> BlockOrder:
    """Return the order in which a way takes the passes of a block.

    Parameters
    ----------
    stint : Stint
        The block.
    way : Way
        One of its ways.
    """
    assert way.pattern is not None  # a block's way has one
    return BlockOrder(
        pattern=way.pattern.name,
        step=way.pattern.step,
        passes=tuple(stint.members[way.pattern.positions].tolist()),
        is_first_forward=way.is_first_forward,
        bound_s=way.bound_s,
        is_proven=way.is_proven,
    )
