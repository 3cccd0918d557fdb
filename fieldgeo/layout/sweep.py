"""Sweep: close estimates of a layout's driving at many directions in one go.

The strips of all directions are stacked on one axis, each direction in a band of its own, so that the strip engine
sees one long field: one sort serves hundreds of directions. The estimate holds every pass at its exact length for one
sideways placing, turns at the length their ends ask for, and travel between blocks in a straight line; only the order
of the blocks, ways round obstacles, and the best placing are left to the exact layout. (Derived.)
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
import shapely

from fieldgeo.layout.axes import Floats, ring_edges, turn_matrix
from fieldgeo.layout.passes import strip_count
from fieldgeo.layout.strips import RUNS_BY_FINISH, Finish, Ints, Runs, count_from, next_alongside
from fieldgeo.machinery.tool import Tool

# Corners closer than this to a straight edge make no difference to an estimate.
THIN_M = 0.2


class Driving(NamedTuple):
    """Driving over a body at each of H directions."""

    passes: Floats  # (H,) number of passes
    work_m: Floats  # (H,) length driven with the tool down [m]
    turn_m: Floats  # (H,) length of the turns between passes side by side [m]
    travel_m: Floats  # (H,) straight way between blocks [m]


def sweep_directions(
    body: shapely.MultiPolygon,
    direction_deg: Floats,
    tool: Tool,
    finish: Finish,
    *,
    share: float,
    turn_length: Callable[[Floats], Floats],
) -> Driving:
    """Return the driving over a body at many directions.

    Parameters
    ----------
    body : shapely.MultiPolygon
        Ground to work, in the frame. [m]
    direction_deg : ndarray of shape (H,)
        Azimuths of the passes. [deg]
    tool : Tool
        Gives width and lap.
    finish : {"cover", "clean", "half"}
        Finish rule.
    share : float
        Sideways placing: share of what sticks out that lies on the low side, 0 to 1. [-]
    turn_length : callable
        Gives the length of a turn onto the pass alongside for an array of offsets between the two pass ends. [m]
    """
    count = len(direction_deg)
    total = Driving(np.zeros(count), np.zeros(count), np.zeros(count), np.zeros(count))
    matrices = turn_matrix(direction_deg)
    for polygon in body.geoms:
        thin = shapely.simplify(polygon, THIN_M)
        edges = ring_edges(thin if isinstance(thin, shapely.Polygon) and not thin.is_empty else polygon)
        stack = _stack(edges, matrices, tool, finish, share)
        runs = RUNS_BY_FINISH[finish](stack.edges, stack.lows, stack.lows + tool.width_m)
        total = _sum(total, _drive(runs, stack, count, turn_length))
    return total


class _Stack(NamedTuple):
    edges: Floats  # (H * E, 4)
    lows: Floats  # (B,)
    direction: Ints  # (B,) direction each band belongs to


def _stack(edges: Floats, matrices: Floats, tool: Tool, finish: Finish, share: float) -> _Stack:
    turned = np.einsum("ekx,hxy->heky", edges.reshape(-1, 2, 2), matrices)
    across = turned[..., 1]
    low, high = across.min(axis=(1, 2)), across.max(axis=(1, 2))
    counts = np.array([strip_count(extent, tool, finish) for extent in (high - low).tolist()])
    over = (counts - 1) * tool.pitch_m + tool.width_m - (high - low)
    room = float((high - low).max()) + 3 * tool.width_m
    base = np.arange(len(matrices)) * room
    turned[..., 1] += (base - low)[:, None, None]
    direction, step = count_from(np.zeros_like(counts), counts)
    return _Stack(turned.reshape(-1, 4), (base - over * share)[direction] + step * tool.pitch_m, direction)


def _drive(runs: Runs, stack: _Stack, count: int, turn_length: Callable[[Floats], Floats]) -> Driving:
    direction = stack.direction[runs.band]
    # A number of its own for each band, two apart where the direction changes.
    follows = next_alongside(runs.band + direction, runs.start_m, runs.end_m)
    linked = np.flatnonzero(follows >= 0)
    other = follows[linked]
    offsets = np.concatenate(
        [np.abs(runs.start_m[linked] - runs.start_m[other]), np.abs(runs.end_m[linked] - runs.end_m[other])]
    )
    # Which end a turn falls on depends on the order; the mean of both is right over a block.
    turn = turn_length(offsets).reshape(2, -1).mean(axis=0)
    return Driving(
        np.bincount(direction, minlength=count).astype(float),
        _summed(direction, runs.end_m - runs.start_m, count),
        _summed(direction[linked], turn, count),
        _between_blocks(runs, stack, direction, follows, count),
    )


def _between_blocks(runs: Runs, stack: _Stack, direction: Ints, follows: Ints, count: int) -> Floats:
    """Return the straight ways from the last run of each block to the first of the next, summed for each direction."""
    is_first = np.ones(len(follows), dtype=bool)
    is_first[follows[follows >= 0]] = False
    first, last = np.flatnonzero(is_first), np.flatnonzero(follows < 0)
    # Blocks are taken in the order of their first runs; each begins where the one before ended, whichever end is near.
    last = last[np.argsort(_first_of_block(follows)[last], kind="stable")]
    same = direction[first[1:]] == direction[last[:-1]]
    ends, begins = last[:-1][same], first[1:][same]
    across = stack.lows[runs.band[begins]] - stack.lows[runs.band[ends]]
    along = [
        np.abs(at_end[ends] - at_begin[begins])
        for at_end in (runs.start_m, runs.end_m)
        for at_begin in (runs.start_m, runs.end_m)
    ]
    way = np.hypot(np.min(along, axis=0), across)
    return _summed(direction[begins], way, count)


def _summed(place: Ints, weights: Floats, count: int) -> Floats:
    return np.bincount(place, weights=weights, minlength=count).astype(float)


def _first_of_block(follows: Ints) -> Ints:
    """Return for each run the first run of its block, by doubling steps back."""
    back = np.arange(len(follows))
    linked = np.flatnonzero(follows >= 0)
    back[follows[linked]] = linked
    while True:
        further = back[back]
        if (further == back).all():
            return back
        back = further


def _sum(one: Driving, other: Driving) -> Driving:
    return Driving(*(np.asarray(mine + its) for mine, its in zip(one, other, strict=True)))
