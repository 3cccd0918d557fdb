"""Order of the work: headland rounds and blocks of passes, taken so that little is driven in between.

A stint is work done without a break: the rounds along one edge, or a block of passes worked back and forth. Stints are
joined by travel.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from math import pi

import numpy as np

from fieldgeo.layout.axes import Floats
from fieldgeo.layout.model import Passes
from fieldgeo.layout.strips import Ints, next_alongside
from fieldgeo.machinery.tool import Tool
from fieldgeo.travel.turns import shortest_paths


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Way:
    """One way to work a stint: where it begins and ends."""

    start_xy: Floats  # (2,) [m]
    end_xy: Floats  # (2,) [m]
    is_backward: bool = False  # begun at the last of its members
    is_first_forward: bool = True  # the first pass of a block is driven along the direction
    inside_s: float = 0.0  # time of the turns within a block, which end they fall on being what differs [s]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stint:
    """Work done without a break, and the ways to do it, the plainest first."""

    members: Ints  # (K,) headland runs in driving order, or passes of a block in order across
    is_headland: bool
    ways: tuple[Way, ...]


def find_blocks(passes: Passes) -> list[Ints]:
    """Return the blocks of passes that lie side by side, each in order across.

    A block goes on from strip to strip while one pass meets just one pass of the next strip; where a pond or a notch
    parts the strips, or brings them together again, new blocks begin. (Derived.)

    Parameters
    ----------
    passes : Passes
        Passes of a layout, sorted by piece and strip.
    """
    key = passes.piece * (int(passes.strip.max(initial=0)) + 2) + passes.strip
    follows = next_alongside(key, passes.start_m, passes.end_m).tolist()
    is_start = np.ones(len(passes), dtype=bool)
    is_start[[other for other in follows if other >= 0]] = False
    blocks = []
    for start in np.flatnonzero(is_start).tolist():
        block = [start]
        while follows[block[-1]] >= 0:
            block.append(follows[block[-1]])
        blocks.append(np.array(block, dtype=np.int64))
    return blocks


def block_stints(passes: Passes, blocks: list[Ints], tool: Tool) -> list[Stint]:
    """Return each block as a stint, with the four corners at which it can be begun.

    Parameters
    ----------
    passes : Passes
        Passes of a layout.
    blocks : list of ndarray
        From `find_blocks`.
    tool : Tool
        Gives turning radius, pull-out and turning speed.
    """
    if not blocks:
        return []
    lower, upper = passes.ends_xy()
    return [
        _block_stint(block, lower, upper, turns)
        for block, turns in zip(blocks, _turn_times(passes, blocks, tool), strict=True)
    ]


def _block_stint(block: Ints, lower: Floats, upper: Floats, turns: Floats) -> Stint:
    gaps = np.arange(len(block) - 1)
    ways = []
    for is_backward in (False, True):
        first, last = (block[-1], block[0]) if is_backward else (block[0], block[-1])
        step = gaps[::-1] if is_backward else gaps
        for is_forward in (True, False):
            last_forward = is_forward == (len(block) % 2 == 1)
            # The first turn falls on the upper end when the first pass is driven forward, and then on either in turn.
            is_upper = (step % 2 == 0) == is_forward
            ways.append(
                Way(
                    start_xy=(lower if is_forward else upper)[first],
                    end_xy=(upper if last_forward else lower)[last],
                    is_backward=is_backward,
                    is_first_forward=is_forward,
                    inside_s=float(turns[gaps, is_upper.astype(int)].sum()),
                )
            )
    return Stint(members=block, is_headland=False, ways=tuple(ways))


def _turn_times(passes: Passes, blocks: list[Ints], tool: Tool) -> list[Floats]:
    """Return for each block the time of the turn at every gap, at lower and upper ends, shape (K - 1, 2). [s]"""
    one = np.concatenate([block[:-1] for block in blocks])
    two = np.concatenate([block[1:] for block in blocks])
    centre = passes.centre_m
    times = np.empty((len(one), 2))
    for column, (at, sign) in enumerate(((passes.start_m, -1.0), (passes.end_m, 1.0))):
        # In work coordinates, the passes along the x axis; a turn is as long driven either way.
        ends = np.column_stack([at + sign * tool.pull_out_m, centre])
        heading = np.full(len(one), 0.0 if sign > 0 else pi)
        paths = shortest_paths(ends[one], heading, ends[two], pi - heading, tool.turn_radius_m)
        times[:, column] = paths.length_m / tool.turn_speed_m_s
    return np.split(times, np.cumsum([len(block) - 1 for block in blocks])[:-1])


def order_stints(
    rounds: list[Stint], blocks: list[Stint], start_xy: Floats | None, end_xy: Floats | None, *, travel_m_s: float
) -> list[tuple[Stint, Way]]:
    """Return the stints in order: rounds first, or rounds and blocks as they lie, whichever takes less time in between.

    Parameters
    ----------
    rounds, blocks : list of Stint
        Headland rounds in order, and blocks of passes.
    start_xy, end_xy : ndarray of shape (2,) or None
        Where the tool stands before, and where it must be after; None where that is free. [m]
    travel_m_s : float
        Speed between stints. [m/s]

    Returns
    -------
    list of (Stint, Way)
        The order, and the way each stint is worked. The next stint is always the one that begins nearest; every way to
        begin is tried. (Derived; a rule of thumb, not the best order there is.)
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
    after = np.zeros(len(ways)) if end_xy is None else np.hypot(*(ends - end_xy).T) / travel_m_s
    # Work begins with the first rounds, or else on either side of the field.
    opening = np.flatnonzero(np.isin(owner, [0] if rounds else [0, len(stints) - 1]))
    best: list[int] = []
    best_s = np.inf
    for first in opening[np.argsort(before[opening], kind="stable")].tolist():
        for held_back in {0, len(rounds)} if rounds else {0}:
            order = _nearest_first(first, between + inside, owner, held_back)
            total = before[first] + sum(between[one, two] for one, two in pairwise(order)) + after[order[-1]]
            total += inside[order].sum()
            if total < best_s - 1e-6:
                best, best_s = order, total
    return [ways[place] for place in best]


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
