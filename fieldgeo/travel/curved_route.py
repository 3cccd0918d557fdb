"""The route over curved passes: headland rounds, and block after block of passes, one beside the other.

Passes lie side by side where their ends lie beside each other along the key line; such a block is driven back and
forth. Whole rings are driven all one way round, each led into from the last.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from math import pi
from typing import Final

import numpy as np
import shapely

from fieldgeo.layout.axes import Floats, distances_along
from fieldgeo.layout.curved.model import CurvedLayout, CurvedPasses
from fieldgeo.layout.model import Layout
from fieldgeo.layout.parts.model import no_passes
from fieldgeo.layout.strips import Ints
from fieldgeo.machinery.tool import Tool, travel_speed_m_s
from fieldgeo.travel.order import BlockOrder, Stint, Way, order_stints
from fieldgeo.travel.patterns import Pattern
from fieldgeo.travel.route import Leg, Route, drive_works
from fieldgeo.travel.turns import turn_times_s
from fieldgeo.travel.works import Work, block_order, round_stints, round_works

# Own choice: a swath's width and the turn onto the next.
ROOM_WIDTHS: Final = 2.0


def plan_curved_route(layout: CurvedLayout, *, entrance_xy: Floats | None = None) -> Route:
    """Return the route over curved passes.

    Parameters
    ----------
    layout : CurvedLayout
        Headland rounds and passes.
    entrance_xy : ndarray of shape (2,), optional
        Where the tool enters and leaves the field; without it the route begins where the work begins. [m]

    Returns
    -------
    Route
        Its layout holds field, tool and headland alone; legs and orders number the curved passes.

    Notes
    -----
    Part by part. Of the orders of rounds and blocks the one is taken that `fieldgeo.travel.order.order_stints` finds.
    """
    passes, tool = layout.passes, layout.tool
    goal = None if entrance_xy is None else np.asarray(entrance_xy, dtype=float)
    blocks = curved_blocks(passes, layout.field.shape, room_m=ROOM_WIDTHS * tool.width_m)
    part_of = _parts_of(layout, blocks)
    works: list[Work] = []
    orders: list[BlockOrder] = []
    at = goal
    for part in range(len(layout.field.shape.geoms)):
        here = [_block_stint(passes, block, tool) for block, its in zip(blocks, part_of, strict=True) if its == part]
        rounds = round_stints(layout.headland, tool, part)
        for stint, way in order_stints(rounds, here, at, goal, travel_m_s=travel_speed_m_s(tool)):
            if stint.is_headland:
                works += round_works(layout.headland, stint, way)
            else:
                orders.append(block_order(stint, way))
                works += _pass_works(passes, orders[-1])
        at = works[-1].line[-1] if works else at
    rounds_only = Layout(
        field=layout.field, tool=tool, direction_deg=layout.direction_deg, finish=layout.finish,
        headland=layout.headland, body=layout.body, passes=no_passes(layout.direction_deg),
    )  # fmt: skip
    legs = tuple(map(_named, drive_works(works, rounds_only, goal)))
    return Route(layout=rounds_only, legs=legs, orders=tuple(orders))


def _named(leg: Leg) -> Leg:
    """Return a leg with its turn called a sidestep where it goes on the way it came, as from ring to ring."""
    turn = leg.turn
    if turn is None or turn.kind != "loop":
        return leg
    bends = [bend * part for bend, part in zip(turn.curvature_1_m, turn.parts_m, strict=True)]
    is_sidestep = abs(sum(bends)) < pi / 2 and sum(map(abs, bends)) < pi
    return replace(leg, turn=replace(turn, kind="sidestep")) if is_sidestep else leg


def curved_blocks(passes: CurvedPasses, shape: shapely.MultiPolygon, *, room_m: float) -> list[Ints]:
    """Return the blocks of curved passes that lie side by side, each in order across.

    Parameters
    ----------
    passes : CurvedPasses
        Passes sorted by piece and strip.
    shape : shapely.MultiPolygon
        Outline of the field, in the frame. [m]
    room_m : float
        Straight ways between the ends of neighbours may lie outside by so much: passes are driven out over the edge,
        and end outside it. [m]

    Notes
    -----
    A block goes on from strip to strip while one pass meets just one pass of the next strip, as for straight passes
    (`fieldgeo.travel.blocks.find_blocks`), and no water or fence lies between their ends; a ring goes on to the next
    ring. (Derived.)
    """
    by_strip: dict[tuple[int, int], list[int]] = {}
    for number, place in enumerate(zip(passes.piece.tolist(), passes.strip.tolist(), strict=True)):
        by_strip.setdefault(place, []).append(number)
    follows: dict[int, int] = {}
    for (piece, strip), its in by_strip.items():
        following = by_strip.get((piece, strip + 1), [])
        pairs = [(one, other) for one in its for other in following if passes.meets(one, other)]
        for one, other in pairs:
            is_single = sum(one in pair for pair in pairs) == 1 == sum(other in pair for pair in pairs)
            if (
                is_single
                and passes.is_ring[one] == passes.is_ring[other]
                and _is_open(passes, one, other, shape, room_m)
            ):
                follows[one] = other
    blocks: list[Ints] = []
    for start in sorted(set(range(len(passes))) - set(follows.values())):
        block = [start]
        while block[-1] in follows:
            block.append(follows[block[-1]])
        blocks.append(np.array(block, dtype=np.int64))
    return blocks


def _is_open(passes: CurvedPasses, one: int, other: int, shape: shapely.MultiPolygon, room_m: float) -> bool:
    """Return whether the straight ways between the starts and the ends of two passes stay on the field, or by it."""
    lines = shapely.linestrings([[passes.lines[one][end], passes.lines[other][end]] for end in (0, -1)])
    return bool((shapely.length(shapely.difference(lines, shape)) <= room_m).all())


def _block_stint(passes: CurvedPasses, block: Ints, tool: Tool) -> Stint:
    """Return a block with the ways to work it: begun at either side, driven either way."""
    is_ring = bool(passes.is_ring[block[0]])
    count = len(block)
    ways = []
    for positions in (np.arange(count), np.arange(count)[::-1])[: 1 if count == 1 else 2]:
        pattern = Pattern(name="back-and-forth", step=1, positions=positions)
        for is_first_forward in (True, False):
            # Each ring begins where the one outside it leads in, so that inward is forward and outward is backward.
            if is_ring and count > 1 and is_first_forward != bool(positions[0] == 0):
                continue
            order = BlockOrder(
                pattern="back-and-forth", step=1, passes=tuple(block[positions].tolist()),
                is_first_forward=is_first_forward,
            )  # fmt: skip
            works = _pass_works(passes, order)
            ways.append(
                Way(
                    start_xy=works[0].line[0],
                    end_xy=works[-1].line[-1],
                    pattern=pattern,
                    is_first_forward=is_first_forward,
                    inside_s=_turning_s(works, tool),
                )
            )
    return Stint(members=block, is_headland=False, ways=tuple(ways))


def _turning_s(works: list[Work], tool: Tool) -> float:
    """Return the time of the turns between works one after the other, as if there were room for them. [s]"""
    pairs = list(pairwise(works))
    if not pairs:
        return 0.0
    return float(
        turn_times_s(
            np.array([one.line[-1] for one, _ in pairs]),
            np.array([one.heading_rad[1] for one, _ in pairs]),
            np.array([two.line[0] for _, two in pairs]),
            np.array([two.heading_rad[0] for _, two in pairs]),
            tool=tool,
        ).sum()
    )


def _pass_works(passes: CurvedPasses, order: BlockOrder) -> list[Work]:
    """Return the passes of a block as they are driven: along one, along the next the other way; rings all one way."""
    works = []
    for row, number in enumerate(order.passes):
        is_forward = order.is_first_forward == (row % 2 == 0 or bool(passes.is_ring[number]))
        line, (start, end) = passes.lines[number], passes.heading_rad[number].tolist()
        works.append(
            Work(
                state="pass",
                number=number,
                line=line if is_forward else line[::-1],
                length_m=float(distances_along(line)[-1]),
                heading_rad=(start, end) if is_forward else (end + pi, start + pi),
                is_joined=row > 0,
                is_corner=False,
            )
        )
    return works


def _parts_of(layout: CurvedLayout, blocks: list[Ints]) -> list[int]:
    """Return the part of the field that each block lies in."""
    parts = layout.field.shape.geoms
    middles = [
        shapely.Point(layout.passes.lines[block[0]][len(layout.passes.lines[block[0]]) // 2]) for block in blocks
    ]
    return [min(range(len(parts)), key=lambda part: parts[part].distance(middle)) for middle in middles]
