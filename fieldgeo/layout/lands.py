"""Plow lands: the passes of a one-way plow divided into lands, and the back furrows and dead furrows that come of it.

A one-way plow throws the soil to the right, onto plowed ground or into the furrow of the pass before, and leaves its
own furrow open on the left. So it goes round: a land is gathered when it is plowed from a back furrow in its middle
outward, by turns to the right, and cast when it is plowed from its edges inward, by turns to the left, until a dead
furrow is left in its middle. Which way each strip is driven says everything: where two neighbours throw together lies
a back furrow, where both leave their furrows a dead furrow, and between two that are driven alike none.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import zip_longest
from math import sqrt
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from fieldgeo.errors import InputError
from fieldgeo.layout.model import Passes
from fieldgeo.layout.strips import Ints

LandKind = Literal["gather", "cast"]
LandPattern = Literal["alternate", "gather"]
# Neighbouring passes whose ends lie further apart than so many widths belong to different blocks: an edge that is met
# at so flat an angle runs along the passes. Own choice.
STEP_WIDTHS: Final = 8.0


def land_width_m(*, run_m: float, plow_m: float, radius_m: float) -> float:
    """Return the width of land with the least idle driving, C = sqrt(2 B L + 16 R^2). [m]

    Parameters
    ----------
    run_m : float
        Length of the run L, > 0. [m]
    plow_m : float
        Width of the plow B, > 0. [m]
    radius_m : float
        Turning radius R, >= 0. [m]

    Raises
    ------
    InputError
        If a length is out of its range.

    Notes
    -----
    A textbook form, from memory. Derived: it is the least of C / 2B + (L + 8 R^2 / B) / C, idle driving for a metre of
    the field's width, where a turn is half the land wide in the mean, and each land costs an idle run and its loops.

    Examples
    --------
    >>> round(land_width_m(run_m=800.0, plow_m=1.75, radius_m=6.0), 3)
    58.103
    """
    if not (run_m > 0 and plow_m > 0 and radius_m >= 0):
        raise InputError(
            f"land width: got a run of {run_m:g} m, a plow of {plow_m:g} m and a radius of {radius_m:g} m. Run "
            "and plow must be above zero, the radius not below."
        )
    return sqrt(2 * plow_m * run_m + 16 * radius_m**2)


def idle_per_width(*, land_m: float, run_m: float, plow_m: float, radius_m: float) -> float:
    """Return the idle driving for a metre of a field's width by the model behind `land_width_m`. [m/m]

    Parameters
    ----------
    land_m : float
        Width of the lands C, > 0. [m]
    run_m, plow_m, radius_m : float
        As for `land_width_m`. [m]
    """
    return land_m / (2 * plow_m) + (run_m + 8 * radius_m**2 / plow_m) / land_m


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Land:
    """One land: passes side by side, plowed round and round."""

    number: int  # from 1, block by block, from the right
    block: int  # block of passes it lies in, from 0
    kind: LandKind
    members: Ints  # (K,) passes of the layout, from the right to the left
    right: int  # so many of them lie to the right of its middle

    @property
    def rounds(self) -> int:
        """Whole rounds: a pass up and a pass down."""
        return min(self.right, len(self.members) - self.right)

    def is_forward(self) -> NDArray[np.bool_]:
        """Return which members are driven along the direction: they throw to the right, shape (K,)."""
        is_left = np.arange(len(self.members)) >= self.right
        return is_left if self.kind == "gather" else ~is_left

    def rows(self) -> list[tuple[list[int], list[bool]]]:
        """Return the ways to plow it: passes in driving order, and which of them are driven along the direction.

        Gathered from the middle outward, cast from the edges inward, the sides by turns. One way begins on the left of
        the middle, one on the right; where a side has a pass more only the one without an idle run back.
        """
        right, left = self.members[: self.right][::-1].tolist(), self.members[self.right :].tolist()
        ways = []
        for one, two, left_first in ((left, right, True), (right, left, False)):
            if len(one) < len(two):
                continue
            order = [
                (each, row == 0) for pair in zip_longest(one, two) for row, each in enumerate(pair) if each is not None
            ]
            # Going outward, passes on the left of a back furrow are driven forward; going inward it is the other way.
            is_out = self.kind == "gather"
            order = order if is_out else order[::-1]
            ways.append(([each for each, _ in order], [(is_first == left_first) == is_out for _, is_first in order]))
        return ways

    def sides(self) -> list[tuple[list[int], list[bool]]]:
        """Return the ways to plow one side of its middle alone, as `rows` does; each goes back idle every time."""
        right, left = self.members[: self.right][::-1].tolist(), self.members[self.right :].tolist()
        is_out = self.kind == "gather"
        return [
            (side if is_out else side[::-1], [is_left == is_out] * len(side))
            for side, is_left in ((left, True), (right, False))
        ]


def divide_strips(count: int, lands: int, *, odd_first: bool = False) -> list[int]:
    """Return how many strips each land has: whole rounds of two, as even as can be, and an odd one at an edge.

    Parameters
    ----------
    count : int
        Strips side by side, >= 1.
    lands : int
        Lands, 1 <= lands <= whole rounds (one, where there is only one strip).
    odd_first : bool
        Whether the odd strip goes to the first land and not to the last.

    Raises
    ------
    InputError
        If there are more lands than rounds.

    Examples
    --------
    >>> divide_strips(33, 3)
    [12, 10, 11]
    """
    rounds = max(1, count // 2)
    if not 1 <= lands <= rounds:
        raise InputError(f"lands: got {lands}. {count} passes side by side make 1 to {rounds} lands.")
    if count == 1:
        return [1]
    base, more = divmod(rounds, lands)
    sizes = [2 * (base + (row < more)) for row in range(lands)]
    sizes[0 if odd_first else -1] += count % 2
    return sizes


def land_kinds(lands: int, pattern: LandPattern) -> list[LandKind]:
    """Return how each of some lands side by side is plowed; the outer ones are always gathered.

    Parameters
    ----------
    lands : int
        Lands, >= 1.
    pattern : {"alternate", "gather"}
        Gathered and cast by turns, where an even number ends with two that are gathered; or all gathered.

    Examples
    --------
    >>> land_kinds(4, "alternate")
    ['gather', 'cast', 'gather', 'gather']
    """
    return ["cast" if pattern == "alternate" and row % 2 == 1 and row < lands - 1 else "gather" for row in range(lands)]


def furrow_counts(lands: int, pattern: LandPattern) -> tuple[int, int]:
    """Return the back furrows, and the dead furrows inside, of lands side by side.

    Parameters
    ----------
    lands : int
        Lands, >= 1.
    pattern : {"alternate", "gather"}
        As for `land_kinds`.

    Notes
    -----
    Derived: furrows of the two kinds follow each other in turn, and the outer ones are back furrows. All gathered, N
    lands give N back furrows and N - 1 dead ones (terms as in Laying Out Fields for Tractor Plowing, USDA Farmers'
    Bulletin 1045, 1919, revised 1954).

    Examples
    --------
    >>> furrow_counts(6, "gather"), furrow_counts(5, "alternate")
    ((6, 5), (3, 2))
    """
    dead = lands - 1 if pattern == "gather" else lands // 2
    return dead + 1, dead


def find_chains(passes: Passes, *, step_m: float) -> list[Ints]:
    """Return passes side by side, for lands to lie over, each chain in order across.

    A chain goes on to the pass of the next strip with which it shares most of its length, where that is so both ways
    and neither end lies far from that of the next: a land goes on past a bay, and does not reach round a corner.

    Parameters
    ----------
    passes : Passes
        Passes of a layout.
    step_m : float
        Ends further apart than this part a chain. [m]
    """
    beside = rows_by_strip(passes)
    most_left, most_right = (dict.fromkeys(range(len(passes)), -1) for _ in range(2))
    for (piece, strip), rows in beside.items():
        others = beside.get((piece, strip + 1), [])
        for one, two, found in ((rows, others, most_left), (others, rows, most_right)):
            for row in one:
                shares = [(span[1] - span[0], -other) for other in two if (span := shared_stretch(passes, row, other))]
                found[row] = -max(shares)[1] if shares else -1
    follows = {}
    for row, left in most_left.items():
        if left < 0 or most_right[left] != row:
            continue
        jumps = (passes.start_m[left] - passes.start_m[row], passes.end_m[left] - passes.end_m[row])
        if max(map(abs, jumps)) <= step_m:
            follows[row] = left
    chains = []
    for first in sorted(set(range(len(passes))) - set(follows.values())):
        chain = [first]
        while chain[-1] in follows:
            chain.append(follows[chain[-1]])
        chains.append(np.array(chain, dtype=np.int64))
    return chains


def lay_lands(passes: Passes, blocks: list[Ints], counts: list[int], pattern: LandPattern) -> list[Land]:
    """Return the lands of each block.

    Parameters
    ----------
    passes : Passes
        Passes of a layout.
    blocks : list of ndarray
        Passes side by side, in order across, each pass in one block.
    counts : list of int
        Lands in each block.
    pattern : {"alternate", "gather"}
        As for `land_kinds`.

    Raises
    ------
    InputError
        If a block has too few passes for its lands.
    """
    lands: list[Land] = []
    for number, (block, count) in enumerate(zip(blocks, counts, strict=True)):
        # A strip that was pulled in lies over its neighbour: it is on the outside, and plowed last or nearly so.
        odd_first = bool(passes.is_pulled[block[0]])
        sizes = divide_strips(len(block), count, odd_first=odd_first)
        ends = np.cumsum(sizes)
        for kind, end, size in zip(land_kinds(count, pattern), ends.tolist(), sizes, strict=True):
            # The odd pass lies on the outside of the block.
            right = (size + 1) // 2 if odd_first and end == size else size // 2
            lands.append(
                Land(number=len(lands) + 1, block=number, kind=kind, members=block[end - size : end], right=right)
            )
    return lands


def forward_flags(passes: Passes, lands: list[Land]) -> NDArray[np.bool_]:
    """Return which passes are driven along the direction, shape (N,).

    Parameters
    ----------
    passes : Passes
        Passes of a layout.
    lands : list of Land
        Its lands, which hold every pass once.
    """
    forward = np.zeros(len(passes), dtype=bool)
    for land in lands:
        forward[land.members] = land.is_forward()
    return forward


def shared_stretch(passes: Passes, one: int, other: int) -> tuple[float, float] | None:
    """Return where two passes lie side by side, along them, or None. [m]

    Parameters
    ----------
    passes : Passes
        Passes of a layout.
    one, other : int
        Rows of it, of neighbouring strips.
    """
    start = max(float(passes.start_m[one]), float(passes.start_m[other]))
    end = min(float(passes.end_m[one]), float(passes.end_m[other]))
    return (start, end) if end > start else None


def rows_by_strip(passes: Passes) -> dict[tuple[int, int], list[int]]:
    """Return the rows of the passes of each piece and strip.

    Parameters
    ----------
    passes : Passes
        Passes of a layout.
    """
    beside: dict[tuple[int, int], list[int]] = {}
    for row, key in enumerate(zip(passes.piece.tolist(), passes.strip.tolist(), strict=True)):
        beside.setdefault(key, []).append(row)
    return beside
