"""Order of the work: headland rounds and blocks of passes, taken so that little is driven in between.

A stint is work done without a break: the rounds along one edge, or a block of passes worked back and forth. Stints are
joined by travel.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fieldgeo.layout.axes import Floats, to_field
from fieldgeo.layout.model import Passes
from fieldgeo.layout.strips import Ints, next_alongside


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Way:
    """One way to work a stint: where it begins and ends."""

    start_xy: Floats  # (2,) [m]
    end_xy: Floats  # (2,) [m]
    is_backward: bool = False  # a block begun at its last pass
    is_first_forward: bool = True  # the first pass of a block is driven along the direction


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


def block_stints(passes: Passes, blocks: list[Ints]) -> list[Stint]:
    """Return each block as a stint, with the four corners at which it can be begun.

    Parameters
    ----------
    passes : Passes
        Passes of a layout.
    blocks : list of ndarray
        From `find_blocks`.
    """
    if not blocks:
        return []
    centre = passes.centre_m
    lower = to_field(np.column_stack([passes.start_m, centre]), passes.direction_deg)
    upper = to_field(np.column_stack([passes.end_m, centre]), passes.direction_deg)
    stints = []
    for block in blocks:
        ways = []
        for is_backward in (False, True):
            first, last = (block[-1], block[0]) if is_backward else (block[0], block[-1])
            for is_forward in (True, False):
                last_forward = is_forward == (len(block) % 2 == 1)
                ways.append(
                    Way(
                        start_xy=(lower if is_forward else upper)[first],
                        end_xy=(upper if last_forward else lower)[last],
                        is_backward=is_backward,
                        is_first_forward=is_forward,
                    )
                )
        stints.append(Stint(members=block, is_headland=False, ways=tuple(ways)))
    return stints


def order_stints(
    rounds: list[Stint], blocks: list[Stint], start_xy: Floats | None, end_xy: Floats | None
) -> list[tuple[Stint, Way]]:
    """Return the stints in order: rounds first, or rounds and blocks as they lie, whichever drives less in between.

    Parameters
    ----------
    rounds, blocks : list of Stint
        Headland rounds in order, and blocks of passes.
    start_xy, end_xy : ndarray of shape (2,) or None
        Where the tool stands before, and where it must be after; None where that is free. [m]

    Returns
    -------
    list of (Stint, Way)
        The order, and the way each stint is worked. The next stint is always the one that begins nearest. (Derived; a
        rule of thumb, not the best order there is.)
    """
    one = _nearest_first(rounds, [], start_xy)
    rounds_first = one + _nearest_first([], blocks, one[-1][1].end_xy if one else start_xy)
    if not rounds or not blocks:
        return rounds_first
    mixed = _nearest_first(rounds[:1], rounds[1:] + blocks, start_xy)
    return min((rounds_first, mixed), key=lambda order: _between_m(order, start_xy, end_xy))


def _nearest_first(given: list[Stint], free: list[Stint], at: Floats | None) -> list[tuple[Stint, Way]]:
    """Return stints in the order given, then the free ones, the nearest each time."""
    order: list[tuple[Stint, Way]] = []
    for stint in given:
        order.append((stint, stint.ways[0]))
        at = stint.ways[0].end_xy
    left = list(free)
    while left:
        ways = [(index, way) for index, stint in enumerate(left) for way in stint.ways]
        if at is None:
            index, way = ways[0]
        else:
            starts = np.array([way.start_xy for _, way in ways])
            index, way = ways[int(np.argmin(np.hypot(*(starts - at).T)))]
        order.append((left.pop(index), way))
        at = way.end_xy
    return order


def _between_m(order: list[tuple[Stint, Way]], start_xy: Floats | None, end_xy: Floats | None) -> float:
    """Return the straight driving between the stints of an order. [m]"""
    ends = ([] if start_xy is None else [start_xy]) + [way.end_xy for _, way in order]
    starts = [way.start_xy for _, way in order][0 if start_xy is not None else 1 :]
    starts += [] if end_xy is None else [end_xy]
    return float(sum(np.hypot(*(start - end)) for start, end in zip(starts, ends, strict=False)))
