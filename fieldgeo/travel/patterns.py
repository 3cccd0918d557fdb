"""Patterns: the plain orders in which a grower takes the passes of a block.

A pattern works on positions 0, 1, 2, ... across a block. What it costs is not known here: `fieldgeo.travel.order` asks
for the turn times of every variant and keeps the quickest.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import permutations
from math import ceil
from typing import Final, Literal

import numpy as np

from fieldgeo.errors import InputError
from fieldgeo.layout.strips import Ints

PatternName = Literal["back-and-forth", "skip", "blocks", "round-and-round", "best"]
Order = Literal["back-and-forth", "skip", "blocks", "round-and-round", "auto", "best"]
# The plainest first: of patterns that take the same time the first is kept.
PLAIN: Final[tuple[PatternName, ...]] = ("back-and-forth", "skip", "blocks", "round-and-round")
ORDERS: Final[tuple[Order, ...]] = ("back-and-forth", "skip", "blocks", "round-and-round", "auto", "best")
# Up to this step every order of the series is tried; beyond it only one after the other.
_MOST_SHUFFLED: Final = 4


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pattern:
    """A pattern of one block, with its positions in the order they are worked."""

    name: PatternName
    step: int  # skip: every so many-th pass; blocks: passes in a group; else 1
    positions: Ints  # (K,) each of 0 ... K - 1 once


def check_order(order: str) -> None:
    """Check that the name of an order is known.

    Raises
    ------
    InputError
        If it is not.
    """
    if order not in ORDERS:
        raise InputError(f"order: got {order!r}. It must be one of {', '.join(ORDERS)}.")


def least_skip(*, pitch_m: float, turn_radius_m: float) -> int:
    """Return the least step from pass to pass that can be turned without a loop at a square edge: ceil(2 r / w). [-]

    Parameters
    ----------
    pitch_m : float
        Distance between neighbouring centre lines, > 0. [m]
    turn_radius_m : float
        Least turning radius, > 0. [m]

    Notes
    -----
    Derived: a half-circle is 2 r across. Logged turns of four drivers agree that a turn onto the third pass takes
    less time in the mean than one onto the next, though its times are not the least spread (University of Hohenheim,
    Computers and Electronics in Agriculture, 2018).

    Examples
    --------
    >>> least_skip(pitch_m=4.572, turn_radius_m=6.0)
    3
    """
    return max(1, ceil(2 * turn_radius_m / pitch_m - 1e-9))


def pattern_variants(name: PatternName, count: int, step: int) -> list[Pattern]:
    """Return the variants of a pattern on a block, begun at either side and driven either way round.

    Parameters
    ----------
    name : str
        One of `PLAIN`.
    count : int
        Passes in the block, >= 1.
    step : int
        Least step that needs no loop, from `least_skip`.

    Returns
    -------
    list of Pattern
        Each order once. Patterns with a step try the least one and the next. An empty list where the block has too few
        passes for the pattern to differ from back and forth.
    """
    step = max(2, step)
    if name == "back-and-forth":
        made = [Pattern(name=name, step=1, positions=np.arange(count))]
    elif name == "skip":
        made = [one for every in (step, step + 1) if count > every for one in _skips(count, every)]
    elif name == "blocks":
        made = [one for every in (step, step + 1) if count > 2 * every for one in _groups(count, every)]
    elif name == "round-and-round":
        made = _circuits(count) if count > 3 else []
    else:
        raise InputError(f"pattern: got {name!r}. It must be one of {', '.join(PLAIN)}.")
    seen: set[bytes] = set()
    variants = []
    for pattern in made:
        row = pattern.positions
        for positions in (row, count - 1 - row, row[::-1], (count - 1 - row)[::-1]):
            if positions.tobytes() not in seen:
                seen.add(positions.tobytes())
                variants.append(Pattern(name=pattern.name, step=pattern.step, positions=positions))
    return variants


def _skips(count: int, step: int) -> list[Pattern]:
    """Return orders that take every so many-th pass, and then those in between, up and down in turn."""
    series = [np.arange(first, count, step) for first in range(step)]
    shuffled = permutations(range(step)) if step <= _MOST_SHUFFLED else [tuple(range(step))]
    return [
        Pattern(
            name="skip",
            step=step,
            positions=np.concatenate([series[one][:: 1 if row % 2 == 0 else -1] for row, one in enumerate(each)]),
        )
        for each in shuffled
    ]


def _groups(count: int, step: int) -> list[Pattern]:
    """Return the order in groups of 2 step + 1 passes, each without a turn onto a pass nearer than the step.

    Within a group the passes are taken by the step, round the group: 1, 3, 5, 2, 4 for a step of 2. What is left over
    joins the last group, which is taken in halves: 1, 4, 2, 5, 3, 6. (Derived: steps are step and step + 1 in a whole
    group, the step onto the next group, and half the group and one less in the odd one.)
    """
    size = 2 * step + 1
    whole, left = divmod(count, size)
    within = np.arange(size) * step % size
    if left == 0:
        return [Pattern(name="blocks", step=size, positions=np.concatenate([n * size + within for n in range(whole)]))]
    odd = size + left
    half = (odd + 1) // 2
    halves = np.array([row // 2 + (row % 2) * half for row in range(odd)])
    groups = [n * size + within for n in range(whole - 1)]
    return [Pattern(name="blocks", step=size, positions=np.concatenate([*groups, (whole - 1) * size + halves]))]


def _circuits(count: int) -> list[Pattern]:
    """Return first, last, second, last but one ... to the middle; and a circuit that moves across the block."""
    half = (count + 1) // 2
    inward = [row // 2 if row % 2 == 0 else count - 1 - row // 2 for row in range(count)]
    moving = [row // 2 + (row % 2) * half for row in range(count)]
    return [Pattern(name="round-and-round", step=1, positions=np.array(row)) for row in (inward, moving)]
