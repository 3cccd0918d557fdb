"""The route of a one-way plow: land after land round and round, and then the headland, round by round outward."""

from __future__ import annotations

from itertools import pairwise
from typing import Final, NamedTuple

import numpy as np
import shapely

from fieldgeo.layout.axes import Floats
from fieldgeo.layout.furrows import needed_before
from fieldgeo.layout.lands import Land
from fieldgeo.layout.model import Layout
from fieldgeo.travel.order import BlockOrder
from fieldgeo.travel.route import Route, drive_works, parts_of_blocks
from fieldgeo.travel.works import RunTurns, Work, block_works, round_stints, round_works, turning_ground

# More sequences of the lands of a block than these are never tried: begun at either side, cast as soon as both
# neighbours are gathered, or all cast on the way back.
SEQUENCES: Final = 4


class LandWay(NamedTuple):
    """One land as it is plowed, or a stretch of it."""

    land: Land
    passes: tuple[int, ...]  # rows of the layout's passes, in driving order
    forward: tuple[bool, ...]  # which of them are driven along the direction


def plan_land_route(
    layout: Layout, lands: list[Land], *, entrance_xy: Floats | None = None, known: RunTurns | None = None
) -> Route:
    """Return the route over a layout for a one-way plow.

    Parameters
    ----------
    layout : Layout
        Headland rounds and passes.
    lands : list of Land
        Its lands, which hold every pass once (see `fieldgeo.layout.lands.lay_lands`).
    entrance_xy : ndarray of shape (2,), optional
        Where the plow enters and leaves the field. [m]
    known : mapping, optional
        Turns between the runs of this headland, from `fieldgeo.travel.works.run_turns`.

    Returns
    -------
    Route
        Part by part: the lands, and then the headland. Its rounds are driven with the field on the right, so that the
        soil is thrown inward and fills the furrows that the lands leave open there, the innermost round first.
    """
    goal = None if entrance_xy is None else np.asarray(entrance_xy, dtype=float)
    blocks = _by_block(lands)
    part_of = parts_of_blocks(layout, [its[0].members for its in blocks])
    works: list[Work] = []
    ways: list[LandWay] = []
    at = goal
    for part in range(len(layout.field.shape.geoms)):
        here = [block for block, its_part in zip(blocks, part_of, strict=True) if its_part == part]
        plowed = order_lands(layout, here, at)
        ways += plowed
        works += _land_works(layout, plowed)
        for stint in reversed(round_stints(layout.headland, layout.tool, part)):
            works += round_works(layout.headland, stint, next(way for way in stint.ways if way.is_backward))
        at = works[-1].line[-1] if works else at
    orders = [
        BlockOrder(pattern=way.land.kind, step=1, passes=way.passes, is_first_forward=way.forward[0]) for way in ways
    ]
    return Route(layout=layout, legs=drive_works(works, layout, goal, known), orders=tuple(orders))


def order_lands(layout: Layout, blocks: list[list[Land]], start_xy: Floats | None) -> list[LandWay]:
    """Return lands in the order they are plowed, each with the way it is.

    Parameters
    ----------
    layout : Layout
        Headland rounds and passes.
    blocks : list of list of Land
        Lands of each block, from the right to the left.
    start_xy : ndarray of shape (2,) or None
        Where the plow stands before; None where that is free. [m]

    Returns
    -------
    list of LandWay
        Block after block, each time the one that begins nearest of those that may be plowed; within a block the
        sequence and the ways with the least driven in between, distances taken straight. A land is cast after both its
        neighbours are gathered. Blocks that wait for each other are plowed together (see `ring_ways`). (Derived; a rule
        of thumb, not the best order there is.)
    """
    left = list(range(len(blocks)))
    needs = needed_before(layout.passes, [land for its in blocks for land in its])
    waits = _waiting_blocks(blocks, needs)
    ends_xy = layout.passes.ends_xy()
    done: list[LandWay] = []
    at = start_xy
    while left:
        allowed = [block for block in left if not waits[block] & set(left)]
        chosen: set[int] = set()
        best, best_m = None, np.inf
        for block in allowed:
            its, spent_m, first_m = block_ways(ends_xy, blocks[block], at)
            if (cost := first_m if len(allowed) > 1 else spent_m) < best_m:
                best, best_m, chosen = its, cost, {block}
        if best is None:
            chosen = min((_waited_for(block, waits, set(left)) for block in left), key=len)
            best = ring_ways(ends_xy, [land for block in sorted(chosen) for land in blocks[block]], needs, at)
        done += best
        left = [block for block in left if block not in chosen]
        at = _places(ends_xy, best[-1])[1]
    return done


def _waiting_blocks(blocks: list[list[Land]], needs: dict[int, set[int]]) -> list[set[int]]:
    """Return for each block the others of which a pass must be plowed before one of its own."""
    block_of = {row: number for number, its in enumerate(blocks) for land in its for row in land.members.tolist()}
    waits: list[set[int]] = [set() for _ in blocks]
    for row, its in needs.items():
        waits[block_of[row]] |= {block_of[before] for before in its}
    return [its - {number} for number, its in enumerate(waits)]


def _waited_for(block: int, waits: list[set[int]], left: set[int]) -> set[int]:
    """Return a block with all of those left that it waits for, through others too; the fewest of these are a ring."""
    found, new = {block}, {block}
    while new:
        new = {other for each in new for other in waits[each] & left} - found
        found |= new
    return found


def ring_ways(
    ends_xy: tuple[Floats, Floats], lands: list[Land], needs: dict[int, set[int]], at: Floats | None
) -> list[LandWay]:
    """Return the lands of blocks that wait for each other, in a sound order.

    Parameters
    ----------
    ends_xy : tuple of ndarray of shape (N, 2)
        Lower and upper ends of the layout's passes, from `fieldgeo.layout.model.Passes.ends_xy`. [m]
    lands : list of Land
        Lands of these blocks; what they wait for in other blocks has been plowed.
    needs : dict of int to set of int
        For each pass those that must be plowed before it, from `fieldgeo.layout.furrows.needed_before`.
    at : ndarray of shape (2,) or None
        Where the plow stands before; None where that is free. [m]

    Returns
    -------
    list of LandWay
        Each time the land that begins nearest of those that can be plowed whole, whatever its block. Where there is
        none, the longest stretch of a land that can be is plowed, and the land is taken up again later. (Derived: no
        passes wait for each other in a ring, so that one can always be plowed next.)
    """
    rows = {land.number: [*land.rows(), *land.sides()] for land in lands}
    waiting = {row for land in lands for row in land.members.tolist()}
    done: list[LandWay] = []
    while waiting:
        lands = [land for land in lands if waiting.intersection(land.members.tolist())]
        best, best_cost = None, (np.inf, np.inf)
        for land in lands:
            most = len(waiting.intersection(land.members.tolist()))
            for passes, forward in rows[land.number]:
                way = _sound_stretch(land, passes, forward, needs, waiting)
                if way is None:
                    continue
                begun_m = 0.0 if at is None else float(np.hypot(*(_places(ends_xy, way)[0] - at)))
                cost = (0.0 if len(way.passes) == most else 1.0 / len(way.passes), begun_m)
                if cost < best_cost:
                    best, best_cost = way, cost
        assert best is not None
        done.append(best)
        waiting -= set(best.passes)
        at = _places(ends_xy, best)[1]
    return done


def _sound_stretch(
    land: Land, passes: list[int], forward: list[bool], needs: dict[int, set[int]], waiting: set[int]
) -> LandWay | None:
    """Return what of a way to plow a land can be plowed now, from its first pass still waiting; None if that cannot."""
    left = set(waiting)
    found = []
    for row, is_forward in zip(passes, forward, strict=True):
        if row not in waiting:
            continue
        if needs[row] & left:
            break
        found.append((row, is_forward))
        left.remove(row)
    return LandWay(land, tuple(row for row, _ in found), tuple(flag for _, flag in found)) if found else None


def _by_block(lands: list[Land]) -> list[list[Land]]:
    blocks: dict[int, list[Land]] = {}
    for land in lands:
        blocks.setdefault(land.block, []).append(land)
    return list(blocks.values())


def _sequences(lands: list[Land]) -> list[list[Land]]:
    """Return sequences in which each land is cast after its neighbours are gathered."""
    found = []
    for row in (lands, lands[::-1]):
        gathered = [land for land in row if land.kind == "gather"]
        at_once: list[Land] = []
        waiting: list[Land] = []
        for land in row:
            if land.kind == "cast":
                waiting.append(land)
            else:
                at_once += [land, *waiting]
                waiting = []
        found += [at_once + waiting, gathered + [land for land in row[::-1] if land.kind == "cast"]]
    return found[:SEQUENCES] if any(land.kind == "cast" for land in lands) else [lands, lands[::-1]]


def block_ways(
    ends_xy: tuple[Floats, Floats], lands: list[Land], at: Floats | None
) -> tuple[list[LandWay], float, float]:
    """Return the lands of a block with the least driven between them, what that is, and the way to the first.

    Parameters
    ----------
    ends_xy : tuple of ndarray of shape (N, 2)
        Lower and upper ends of the layout's passes, from `fieldgeo.layout.model.Passes.ends_xy`. [m]
    lands : list of Land
        Lands of the block, from the right to the left.
    at : ndarray of shape (2,) or None
        Where the plow stands before; None where that is free. [m]

    Returns
    -------
    ways : list of LandWay
        In the order they are plowed.
    spent_m, first_m : float
        Straight distances to the first land and from land to land, and the first of these alone. [m]
    """
    best: list[LandWay] = []
    best_m, best_first_m = np.inf, 0.0
    ways_of = {land.number: [LandWay(land, tuple(one), tuple(two)) for one, two in land.rows()] for land in lands}
    places = {(way.land.number, way.passes[0]): _places(ends_xy, way) for its in ways_of.values() for way in its}
    for sequence in _sequences(lands):
        # For each way of the land that was plowed last: what was driven so far, and the ways that led there.
        reached: list[tuple[float, float, list[LandWay]]] = []
        for row, land in enumerate(sequence):
            onward = []
            for way in ways_of[land.number]:
                start = places[land.number, way.passes[0]][0]
                if row == 0:
                    first_m = 0.0 if at is None else float(np.hypot(*(start - at)))
                    onward.append((first_m, first_m, [way]))
                    continue
                onward.append(
                    min(
                        (
                            (spent + float(np.hypot(*(start - places[its[-1].land.number, its[-1].passes[0]][1]))),
                             first_m, [*its, way])
                            for spent, first_m, its in reached
                        ),
                        key=lambda each: each[0],
                    )
                )  # fmt: skip
            reached = onward
        spent, first_m, its = min(reached, key=lambda each: each[0])
        if spent < best_m - 1e-6:
            best, best_m, best_first_m = its, spent, first_m
    return best, best_m, best_first_m


def _places(ends_xy: tuple[Floats, Floats], way: LandWay) -> tuple[Floats, Floats]:
    """Return where a land is begun and where it is left, two places in the frame. [m]"""
    lower, upper = ends_xy
    first, last = way.passes[0], way.passes[-1]
    return (lower if way.forward[0] else upper)[first], (upper if way.forward[-1] else lower)[last]


def _land_works(layout: Layout, ways: list[LandWay]) -> list[Work]:
    """Return the passes of lands as they are driven, joined by turns where the next pass begins at the same end."""
    rows = [row for way in ways for row in way.passes]
    forward = [flag for way in ways for flag in way.forward]
    block = [way.land.block for way in ways for _ in way.passes]
    works: list[Work] = []
    for row, is_forward in zip(rows, forward, strict=True):
        works += block_works(
            layout.passes, BlockOrder(pattern="gather", step=1, passes=(row,), is_first_forward=is_forward)
        )
    ground = turning_ground(layout.field.shape, layout.headland)
    joined = _turned_between(works, forward, block, ground)
    return [work._replace(is_joined=is_joined) for work, is_joined in zip(works, joined, strict=True)]


def _turned_between(
    works: list[Work], forward: list[bool], block: list[int], ground: shapely.MultiPolygon | None
) -> list[bool]:
    """Return which passes are reached by a turn: in the same block, driven the other way, no ground outside between."""
    if not works:
        return []
    other_way = np.array([one != two for one, two in pairwise(forward)], dtype=bool)
    other_way &= np.diff(block) == 0
    if ground is not None and len(other_way):
        lines = shapely.linestrings([[one.line[-1], two.line[0]] for one, two in pairwise(works)])
        shapely.prepare(ground)
        other_way &= shapely.covers(ground, lines)
    return [False, *other_way.tolist()]
