"""Order of the work: headland rounds and blocks of passes, taken so that little is driven in between.

A stint is work done without a break: the rounds along one edge, or a block of passes worked in some order. Stints are
joined by travel.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final

import numpy as np
import shapely

from fieldgeo.layout.axes import Floats
from fieldgeo.layout.lands import LandKind
from fieldgeo.layout.model import Passes
from fieldgeo.layout.strips import Ints
from fieldgeo.machinery.tool import Tool, travel_speed_m_s
from fieldgeo.travel.blocks import block_ends, turn_table_s
from fieldgeo.travel.patterns import PLAIN, Order, Pattern, PatternName, least_skip, pattern_variants
from fieldgeo.travel.solve import DEFAULT_EFFORT_S, EXACT_PASSES, BlockProblem, Chain, best_chain, chain_s

# Another pattern must save this share of a block's turning before it is worth leaving a plainer one. Common practice,
# no source: nobody learns a new way round for seconds.
WORTH_SHARE: Final = 0.01
# Ways of a pattern that are kept for a block: those that take least inside it.
MOST_WAYS: Final = 12
# Up to so many stints every order of them is considered.
EXACT_STINTS: Final = 6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Way:
    """One way to work a stint: where it begins and ends."""

    start_xy: Floats  # (2,) [m]
    end_xy: Floats  # (2,) [m]
    is_backward: bool = False  # rounds: driven the other way round
    pattern: Pattern | None = None  # block: the order of its passes
    is_first_forward: bool = True  # block: its first pass is driven along the direction
    inside_s: float = 0.0  # block: time of the turns between its passes [s]
    bound_s: float | None = None  # block: see `BlockOrder` [s]
    is_proven: bool = False


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stint:
    """Work done without a break, and the ways to do it, the plainest first."""

    members: Ints  # (K,) headland runs in driving order, or passes of a block in order across
    is_headland: bool
    ways: tuple[Way, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class BlockOrder:
    """The order in which the passes of one block are worked."""

    pattern: PatternName | LandKind  # of a land, how it is plowed
    step: int  # skip: every so many-th pass; blocks: passes in a group; else 1
    passes: tuple[int, ...]  # rows of the layout's passes, in driving order
    is_first_forward: bool  # the first is driven along the direction
    bound_s: float | None = None  # no order takes less in turns and on the way there and from there; None if unsolved
    is_proven: bool = False  # no order of these passes takes less than this one


def block_stints(passes: Passes, blocks: list[Ints], tool: Tool, order: Order = "back-and-forth") -> list[Stint]:
    """Return each block as a stint, with the ways in which it can be worked.

    Turns are timed as if there were room for them; what keeps them on the ground takes several times as long to find,
    and is found for the routes that come of it.

    Parameters
    ----------
    passes : Passes
        Passes of a layout.
    blocks : list of ndarray
        From `fieldgeo.travel.blocks.find_blocks`.
    tool : Tool
        Gives the turns and what they take.
    order : str
        One of `fieldgeo.travel.patterns.ORDERS`. A block too small for a pattern, or with ends that bar its turns, is
        worked back and forth. ``"auto"`` takes for each block the plainest pattern that takes less time in turns than
        those before it, by `WORTH_SHARE` at the least, and back and forth beside it; ``"best"`` takes them all.
    """
    if not blocks:
        return []
    names: tuple[PatternName, ...] = PLAIN
    if order not in {"auto", "best"}:
        names = tuple(name for name in PLAIN if name in {"back-and-forth", order})
    step = least_skip(pitch_m=tool.pitch_m, turn_radius_m=max(tool.left_radius_m, tool.right_radius_m))
    variants = [[each for name in names for each in pattern_variants(name, len(block), step)] for block in blocks]
    lower, upper = passes.ends_xy()
    return [
        Stint(members=block, is_headland=False, ways=_block_ways(block, its, turn_s, lower, upper, order))
        for block, its, turn_s in zip(blocks, variants, _turning_s(passes, blocks, variants, tool), strict=True)
    ]


def _turning_s(
    passes: Passes,
    blocks: list[Ints],
    variants: Sequence[Sequence[Pattern]],
    tool: Tool,
) -> list[Floats]:
    """Return for each block the time in turns of its variants, first pass driven backward and forward, (V, 2). [s]"""
    first = np.cumsum([0, *(len(block) for block in blocks)])
    rows = [start + each.positions for start, its in zip(first, variants, strict=False) for each in its]
    lengths = np.array([len(row) - 1 for row in rows])
    row_of = np.repeat(np.arange(len(rows)), lengths)
    one, two = np.concatenate([row[:-1] for row in rows]), np.concatenate([row[1:] for row in rows])
    pairs, pair_of = np.unique(one * first[-1] + two, return_inverse=True)
    one_of, two_of = np.divmod(pairs, first[-1])
    turn_s = block_ends(passes, blocks).between_s(one_of, two_of, tool=tool)[pair_of]
    # The first turn falls on the upper end when the first pass is driven forward, and then on either in turn.
    place = np.arange(len(one)) - np.repeat(np.cumsum(lengths) - lengths, lengths)
    at = np.arange(len(one))
    sums = [np.bincount(row_of, turn_s[at, (place + forward) % 2], minlength=len(rows)) for forward in (0, 1)]
    return np.split(np.column_stack(sums), np.cumsum([len(its) for its in variants])[:-1])


def _block_ways(
    block: Ints, variants: Sequence[Pattern], turn_s: Floats, lower: Floats, upper: Floats, order: Order
) -> tuple[Way, ...]:
    """Return the ways of the pattern that is asked for, or of the one that is worth it."""
    of_name: dict[str, list[tuple[int, bool]]] = {}
    for number, each in enumerate(variants):
        of_name.setdefault(each.name, []).extend((number, forward) for forward in (True, False))
    least = {name: min(float(turn_s[number, int(forward)]) for number, forward in its) for name, its in of_name.items()}
    if order == "best":
        keep = list(of_name)
    elif order == "auto":
        chosen = "back-and-forth"
        for name, spent_s in least.items():
            if spent_s < (1 - WORTH_SHARE) * least[chosen]:
                chosen = name
        keep = list(dict.fromkeys((chosen, "back-and-forth")))
    else:
        keep = [order if np.isfinite(least.get(order, np.inf)) else "back-and-forth"]
    ways = []
    for name in keep:
        seen: set[tuple[int, int, bool]] = set()
        # Back and forth keeps its order, the plainest way first; of a pattern with many ways the quickest are kept.
        is_plain = name == "back-and-forth"
        for number, forward in sorted(of_name[name], key=lambda its: 0.0 if is_plain else turn_s[its[0], int(its[1])]):
            positions = variants[number].positions
            ends = int(positions[0]), int(positions[-1]), forward
            if ends in seen or len(seen) == MOST_WAYS or not np.isfinite(turn_s[number, int(forward)]):
                continue
            seen.add(ends)
            chain = Chain(positions, forward)
            ways.append(_way(block, chain, variants[number], float(turn_s[number, int(forward)]), lower, upper))
    return tuple(ways)


def _way(block: Ints, chain: Chain, pattern: Pattern, inside_s: float, lower: Floats, upper: Floats) -> Way:
    first, last = block[chain.positions[0]], block[chain.positions[-1]]
    last_forward = chain.is_first_forward == (len(block) % 2 == 1)
    return Way(
        start_xy=(lower if chain.is_first_forward else upper)[first],
        end_xy=(upper if last_forward else lower)[last],
        pattern=pattern,
        is_first_forward=chain.is_first_forward,
        inside_s=inside_s,
    )


def order_stints(
    rounds: list[Stint], blocks: list[Stint], start_xy: Floats | None, end_xy: Floats | None, *, travel_m_s: float
) -> list[tuple[Stint, Way]]:
    """Return the stints in order: rounds first, or rounds and blocks as they lie, whichever takes less time in between.

    Parameters
    ----------
    rounds, blocks : list of Stint
        Headland rounds in order, and blocks of passes.
    start_xy : ndarray of shape (2,) or None
        Where the tool stands before; None where that is free. [m]
    end_xy : ndarray of shape (2,) or (M, 2) or None
        Where the tool must be after, or places to the nearest of which it goes on; None where that is free. [m]
    travel_m_s : float
        Speed between stints. [m/s]

    Returns
    -------
    list of (Stint, Way)
        The order, and the way each stint is worked. Up to `EXACT_STINTS` the best of all orders and ways, distances
        taken straight. Beyond that the next stint is always the one that begins nearest, and every way to begin is
        tried. (Derived; a rule of thumb, not the best order there is.)
    """
    stints = rounds + blocks
    if not stints:
        return []
    ways = [(stint, way) for stint in stints for way in stint.ways]
    owner = np.array([number for number, stint in enumerate(stints) for _ in stint.ways])
    starts, ends = np.array([way.start_xy for _, way in ways]), np.array([way.end_xy for _, way in ways])
    # What a way takes beyond the best way of the same stint.
    inside = np.array([way.inside_s - min(other.inside_s for other in stint.ways) for stint, way in ways])
    between = np.hypot(*np.moveaxis(starts[None, :, :] - ends[:, None, :], -1, 0)) / travel_m_s
    before = np.zeros(len(ways)) if start_xy is None else np.hypot(*(starts - start_xy).T) / travel_m_s
    after = np.zeros(len(ways)) if end_xy is None else _nearest_m(ends, end_xy.reshape(-1, 2)) / travel_m_s

    def total_s(order: list[int]) -> float:
        driven = before[order[0]] + sum(between[one, two] for one, two in pairwise(order)) + after[order[-1]]
        return float(driven + inside[order].sum())

    first = opening_stints(rounds, blocks)
    opening = np.flatnonzero([any(stint is one for one in first) for stint, _ in ways])
    tries = [
        _nearest_first(one, between + inside, owner, held_back)
        for one in opening[np.argsort(before[opening], kind="stable")].tolist()
        for held_back in ({0, len(rounds)} if rounds else {0})
    ]
    if 1 < len(stints) <= EXACT_STINTS:
        tries.append(_least_of_all(before + inside, between + inside, after, owner))
    best, best_s = tries[0], total_s(tries[0])
    for order in tries[1:]:
        if (spent_s := total_s(order)) < best_s - 1e-6:
            best, best_s = order, spent_s
    return [ways[place] for place in best]


def opening_stints(rounds: list[Stint], blocks: list[Stint]) -> list[Stint]:
    """Return the stints that work may begin with: the first rounds, or else a block on either side.

    Parameters
    ----------
    rounds, blocks : list of Stint
        As for `order_stints`.
    """
    return rounds[:1] or [*blocks[:1], *blocks[1:][-1:]]


def _nearest_m(places_xy: Floats, others_xy: Floats) -> Floats:
    """Return how far the nearest of the others is from each place, shape (N,). [m]"""
    return np.asarray(np.hypot(*np.moveaxis(places_xy[:, None, :] - others_xy[None, :, :], -1, 0)).min(axis=1))


def _nearest_first(first: int, between: Floats, owner: Ints, rounds_first: int) -> list[int]:
    """Return ways, one of each stint, each time the one that begins nearest; so many stints before the rest."""
    order = [first]
    is_done = owner == owner[first]
    is_early = owner < rounds_first
    while not is_done.all():
        open_now = ~is_done & is_early
        if not open_now.any():
            open_now = ~is_done
        row = np.where(open_now, between[order[-1]], np.inf)
        order.append(int(row.argmin()))
        is_done |= owner == owner[order[-1]]
    return order


def _least_of_all(before: Floats, between: Floats, after: Floats, owner: Ints) -> list[int]:
    """Return ways, one of each stint, in the order that takes least: a dynamic programme over sets of stints."""
    stints = int(owner.max()) + 1
    bit = 1 << owner
    least = np.full((1 << stints, len(owner)), np.inf)
    came = np.full((1 << stints, len(owner)), -1)
    least[bit, np.arange(len(owner))] = before
    for mask in range(1, 1 << stints):
        within, beyond = np.flatnonzero(mask & bit), np.flatnonzero((mask & bit) == 0)
        if not len(beyond):
            continue
        through = least[mask, within, None] + between[np.ix_(within, beyond)]
        choice = through.argmin(axis=0)
        spent = through[choice, np.arange(len(beyond))]
        # A set is reached from several smaller ones; each of its ways ends in another stint, so from one only.
        least[mask | bit[beyond], beyond], came[mask | bit[beyond], beyond] = spent, within[choice]
    mask = (1 << stints) - 1
    order = [int((least[mask] + after).argmin())]
    while (one := int(came[mask, order[-1]])) >= 0:
        mask ^= int(bit[order[-1]])
        order.append(one)
    return order[::-1]


def solve_blocks(
    passes: Passes,
    ordered: list[tuple[Stint, Way]],
    start_xy: Floats | None,
    end_xy: Floats | None,
    *,
    tool: Tool,
    outline: shapely.MultiPolygon | None = None,
    effort_s: float = DEFAULT_EFFORT_S,
) -> list[tuple[Stint, Way]]:
    """Return stints in the same order, the passes of each block in the best order found between what lies around it.

    Parameters
    ----------
    passes : Passes
        Passes of a layout.
    ordered : list of (Stint, Way)
        From `order_stints`.
    start_xy, end_xy : ndarray of shape (2,) or None
        Where the tool stands before, and where it must be after; None where that is free. [m]
    tool : Tool
        The tool.
    outline : shapely.MultiPolygon, optional
        Ground that turns are to stay on, in the frame. [m]
    effort_s : float
        Work for all blocks together, shared by their passes (see `fieldgeo.travel.solve.best_chain`). [s]
    """
    large = sum(len(stint.members) for stint, _ in ordered if _is_searched(stint))
    solved: list[tuple[Stint, Way]] = []
    at = start_xy
    for row, (stint, way) in enumerate(ordered):
        goal = ordered[row + 1][1].start_xy if row + 1 < len(ordered) else end_xy
        best = way
        if not stint.is_headland:
            share_s = effort_s * len(stint.members) / large if _is_searched(stint) else 0.0
            problem = block_problem(passes, stint.members, tool, at, goal, outline=outline)
            best = _solved_way(passes, stint, way, problem, share_s)
        solved.append((stint, best))
        at = best.end_xy
    return solved


def _is_searched(stint: Stint) -> bool:
    return not stint.is_headland and len(stint.members) > EXACT_PASSES


def block_problem(
    passes: Passes,
    block: Ints,
    tool: Tool,
    start_xy: Floats | None,
    end_xy: Floats | None,
    *,
    outline: shapely.MultiPolygon | None = None,
) -> BlockProblem:
    """Return what the orders of a block cost, driven to from one place and left for another, distances straight.

    Parameters
    ----------
    passes : Passes
        Passes of a layout.
    block : ndarray of int of shape (K,)
        Passes of the block, in order across.
    tool : Tool
        The tool.
    start_xy, end_xy : ndarray of shape (2,) or None
        Where the tool comes from, and where it goes; None where that is free. [m]
    outline : shapely.MultiPolygon, optional
        Ground that turns are to stay on, in the frame. [m]
    """
    lower, upper = (ends[block] for ends in passes.ends_xy())
    entry_s, exit_s = np.zeros((2, len(block))), np.zeros((2, len(block)))
    speed_m_s = travel_speed_m_s(tool)
    if start_xy is not None:
        entry_s = np.hypot(*np.moveaxis(np.stack([upper, lower]) - start_xy, -1, 0)) / speed_m_s
    if end_xy is not None:
        exit_s = np.hypot(*np.moveaxis(np.stack([lower, upper]) - end_xy, -1, 0)) / speed_m_s
    return BlockProblem(turn_s=turn_table_s(passes, block, tool, outline), entry_s=entry_s, exit_s=exit_s)


def _solved_way(passes: Passes, stint: Stint, way: Way, problem: BlockProblem, effort_s: float) -> Way:
    """Return the best way of a block that is found, or the one it has where no other takes less."""
    now = _chain(way)
    of_pattern: dict[str, list[Chain]] = {}
    for other in stint.ways:
        of_pattern.setdefault("" if other.pattern is None else other.pattern.name, []).append(_chain(other))
    starts = [min(chains, key=lambda chain: chain_s(problem, chain)) for chains in of_pattern.values()]
    solved = best_chain(problem, [now, *starts], effort_s=effort_s)
    if solved.total_s >= chain_s(problem, now) - 1e-6:
        # The pattern is as good, and easier to follow.
        return replace(way, bound_s=solved.bound_s, is_proven=solved.is_proven)
    found = solved.chain
    pattern = Pattern(name="best", step=1, positions=found.positions)
    free = replace(problem, entry_s=np.zeros_like(problem.entry_s), exit_s=np.zeros_like(problem.exit_s))
    made = _way(stint.members, found, pattern, chain_s(free, found), *passes.ends_xy())
    return replace(made, bound_s=solved.bound_s, is_proven=solved.is_proven)


def _chain(way: Way) -> Chain:
    assert way.pattern is not None  # a block's way has one
    return Chain(way.pattern.positions, way.is_first_forward)
