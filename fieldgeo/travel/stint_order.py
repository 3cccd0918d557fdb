"""The order of stints where some must wait for others: begun in many ways, then mended by moving one stint at a time.

Distances are taken straight. An order is a chain of ways, one of each stint; for a fixed order of the stints the best
ways are found exactly, by going through them once. (Derived; a rule of thumb, not the best order there is.)
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from fieldgeo.layout.axes import Floats
from fieldgeo.layout.strips import Ints
from fieldgeo.travel.order import Stint, Way

# Beginnings kept at every step. Own choice: four times as many found orders that drive 1 % less in between.
BEGINNINGS: Final = 12
# Times that all stints are tried at all other places. Own choice.
ROUNDS_OF_MENDING: Final = 4


class _Ways(NamedTuple):
    """All ways of all stints, with what they cost."""

    owner: Ints  # (W,) stint that each way belongs to
    before: Floats  # (W,) time to where it begins, if it is the first, and in it beyond the best way [s]
    between: Floats  # (W, W) time from the end of one to the start of another, and in that one beyond its best [s]
    after: Floats  # (W,) time from where it ends to where the tool must be [s]
    waits: Sequence[tuple[int, int]]
    must: NDArray[np.bool_]  # (S, S) stint of the row comes before stint of the column
    members: list[Ints]  # of each stint, its ways
    pairs: list[list[Floats]]  # `between` of the ways of one stint and those of another


def order_waiting_stints(
    stints: Sequence[Stint],
    waits: Sequence[tuple[int, int]],
    start_xy: Floats | None,
    end_xy: Floats | None,
    *,
    travel_m_s: float,
    is_mended: bool = True,
) -> list[tuple[int, Way]]:
    """Return stints in an order that drives little in between, each with the way it is worked.

    Parameters
    ----------
    stints : sequence of Stint
        Rounds and blocks of passes.
    waits : sequence of (int, int)
        Pairs of stints: the first comes before the second. They must allow an order.
    start_xy, end_xy : ndarray of shape (2,) or None
        Where the tool stands before, and where it must be after; None where that is free. [m]
    travel_m_s : float
        Speed between stints. [m/s]
    is_mended : bool
        Whether the order is mended, which takes most of the time.

    Returns
    -------
    list of (int, Way)
        Place of the stint among those given, and its way.
    """
    if not stints:
        return []
    ways = [way for stint in stints for way in stint.ways]
    table = _table(stints, ways, waits, start_xy, end_xy, travel_m_s)
    order = _begun(table)
    if is_mended:
        order = _mended(table, order)
    return [(int(table.owner[way]), ways[way]) for way in _best_ways(table, order)]


def _table(
    stints: Sequence[Stint],
    ways: Sequence[Way],
    waits: Sequence[tuple[int, int]],
    start_xy: Floats | None,
    end_xy: Floats | None,
    travel_m_s: float,
) -> _Ways:
    owner = np.repeat(np.arange(len(stints)), [len(stint.ways) for stint in stints])
    starts, ends = np.array([way.start_xy for way in ways]), np.array([way.end_xy for way in ways])
    least = np.array([min(way.inside_s for way in stint.ways) for stint in stints])
    inside = np.array([way.inside_s for way in ways]) - least[owner]
    between = np.hypot(*np.moveaxis(starts[None, :, :] - ends[:, None, :], -1, 0)) / travel_m_s
    before = np.zeros(len(ways)) if start_xy is None else np.hypot(*(starts - start_xy).T) / travel_m_s
    after = np.zeros(len(ways)) if end_xy is None else np.hypot(*(ends - end_xy).T) / travel_m_s
    must = np.zeros((len(stints), len(stints)), dtype=bool)
    for one, two in waits:
        must[one, two] = True
    between = between + inside
    members = [np.flatnonzero(owner == stint) for stint in range(len(stints))]
    # Ways of a stint stand in a row, so each pair of stints is a window on the table.
    windows = [slice(int(its[0]), int(its[-1]) + 1) for its in members]
    pairs = [[between[one, two] for two in windows] for one in windows]
    return _Ways(owner, before + inside, between, after, waits, must, members, pairs)


def _begun(table: _Ways) -> list[int]:
    """Return an order of stints: of all beginnings those that drove least are gone on from."""
    count = len(table.must)
    kept: list[tuple[float, tuple[int, ...], frozenset[int]]] = [(0.0, (), frozenset())]
    for _ in range(count):
        onward: dict[tuple[frozenset[int], int], tuple[float, tuple[int, ...], frozenset[int]]] = {}
        for spent, chain, done in kept:
            is_open = np.ones(count, dtype=bool)
            is_open[list(done)] = False
            waiting = table.must[is_open].any(axis=0)
            step = table.before if not chain else table.between[chain[-1]]
            ways = np.flatnonzero((is_open & ~waiting)[table.owner])
            totals = spent + step[ways] + (table.after[ways] if len(chain) + 1 == count else 0.0)
            for place in np.argsort(totals, kind="stable")[: 2 * BEGINNINGS].tolist():
                way = int(ways[place])
                now = done | {int(table.owner[way])}
                if (now, way) not in onward or totals[place] < onward[now, way][0]:
                    onward[now, way] = (float(totals[place]), (*chain, way), now)
        kept = sorted(onward.values(), key=lambda each: each[:2])[:BEGINNINGS]
    return [int(table.owner[way]) for way in kept[0][1]]


def _best_ways(table: _Ways, order: Sequence[int]) -> list[int]:
    """Return the ways of stints in a given order that take least together."""
    least, came = table.before[table.members[order[0]]], []
    for one, two in pairwise(order):
        through = least[:, None] + table.pairs[one][two]
        came.append(through.argmin(axis=0))
        least = through.min(axis=0)
    place = int((least + table.after[table.members[order[-1]]]).argmin())
    chain = [int(table.members[order[-1]][place])]
    for row in range(len(came) - 1, -1, -1):
        place = int(came[row][place])
        chain.append(int(table.members[order[row]][place]))
    return chain[::-1]


def _spent_s(table: _Ways, order: Sequence[int]) -> float:
    """Return what an order takes with the best ways. [s]"""
    least = table.before[table.members[order[0]]]
    for one, two in pairwise(order):
        least = np.minimum.reduce(least[:, None] + table.pairs[one][two], axis=0)
    return float((least + table.after[table.members[order[-1]]]).min())


def _mended(table: _Ways, order: list[int]) -> list[int]:
    """Return an order mended by taking out one stint, or two in a row, and putting them in elsewhere."""
    best, best_s = order, _spent_s(table, order)
    for _ in range(ROUNDS_OF_MENDING):
        before_s = best_s
        for length in (1, 2):
            for place in range(len(best) - length + 1):
                for tried in _moves(best, place, length):
                    if not _is_allowed(table, tried):
                        continue
                    if (spent := _spent_s(table, tried)) < best_s - 1e-6:
                        best, best_s = tried, spent
        if best_s >= before_s - 1e-6:
            break
    return best


def _moves(order: list[int], place: int, length: int) -> Iterator[list[int]]:
    """Yield the orders in which so many stints in a row stand elsewhere, two of them either way round."""
    moved, rest = order[place : place + length], order[:place] + order[place + length :]
    for at in range(len(rest) + 1):
        for each in (moved, moved[::-1]) if length == 2 else (moved,):
            if (at, each) != (place, moved):
                yield rest[:at] + each + rest[at:]


def _is_allowed(table: _Ways, order: Sequence[int]) -> bool:
    return not table.waits or all(order.index(one) < order.index(two) for one, two in table.waits)
