"""How many lands to plow a field in: by the formula, and by our own travel over every whole number of rounds."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from math import floor
from typing import Final

import numpy as np

from fieldgeo.errors import InputError
from fieldgeo.layout.axes import Floats
from fieldgeo.layout.lands import LandPattern, land_width_m, lay_lands
from fieldgeo.layout.model import Passes
from fieldgeo.layout.strips import Ints
from fieldgeo.machinery.tool import Tool, travel_speed_m_s
from fieldgeo.machinery.turning import square_turn_s
from fieldgeo.travel.blocks import block_ends
from fieldgeo.travel.land_route import block_ways

# Land widths between this share of the formula's and its inverse are estimated. Own choice; the cost is flat there.
SEARCHED_SHARE: Final = 0.2


@dataclass(frozen=True, slots=True, kw_only=True)
class FormulaWidth:
    """What the formula says of one chain of passes."""

    run_m: float  # mean length of its passes, L [m]
    plow_m: float  # B [m]
    radius_m: float  # R [m]
    width_m: float  # C [m]
    lands: int  # the whole number nearest to that width


def most_lands(passes: int) -> int:
    """Return how many lands so many passes side by side make at the most: one for each round.

    Parameters
    ----------
    passes : int
        Passes side by side, >= 1.
    """
    return max(1, passes // 2)


def nearest_lands(passes: int, *, pitch_m: float, land_m: float) -> int:
    """Return the number of lands that come nearest to a width.

    Parameters
    ----------
    passes : int
        Passes side by side, >= 1.
    pitch_m : float
        Distance between their centre lines, > 0. [m]
    land_m : float
        Width of land wanted, > 0. [m]

    Examples
    --------
    >>> nearest_lands(96, pitch_m=3.6576, land_m=60.0)
    6
    """
    return int(min(max(1, floor(passes * pitch_m / land_m + 0.5)), most_lands(passes)))


def formula_width(passes: Passes, chain: Ints, tool: Tool) -> FormulaWidth:
    """Return the width of land that the formula gives for a chain of passes.

    Parameters
    ----------
    passes : Passes
        Passes of a layout.
    chain : ndarray of int
        Passes side by side.
    tool : Tool
        Gives width and turning radius, the greater of left and right.
    """
    run_m = float(passes.length_m[chain].mean())
    radius_m = max(tool.left_radius_m, tool.right_radius_m)
    width_m = land_width_m(run_m=run_m, plow_m=tool.pitch_m, radius_m=radius_m)
    return FormulaWidth(
        run_m=run_m, plow_m=tool.pitch_m, radius_m=radius_m, width_m=width_m,
        lands=nearest_lands(len(chain), pitch_m=tool.pitch_m, land_m=width_m),
    )  # fmt: skip


def share_lands(lands: int, chains: list[Ints]) -> list[int]:
    """Return how many of some lands lie in each chain: as wide as can be alike, one in each at the least.

    Parameters
    ----------
    lands : int
        Lands on the whole field.
    chains : list of ndarray
        Passes side by side, from `fieldgeo.layout.lands.find_chains`.

    Raises
    ------
    InputError
        If there are fewer lands than chains, or more than rounds.
    """
    most = [most_lands(len(chain)) for chain in chains]
    if not len(chains) <= lands <= sum(most):
        parted = f", which bays, corners and ponds part into {len(chains)}" if len(chains) > 1 else ""
        raise InputError(
            f"lands: got {lands}. The passes of this field{parted}, make {len(chains)} to {sum(most)} lands of a round "
            "or more. Give a number in between, a width, or auto."
        )
    counts = [1] * len(chains)
    for _ in range(lands - len(chains)):
        widest = max(
            (number for number, count in enumerate(counts) if count < most[number]),
            key=lambda number: len(chains[number]) / counts[number],
        )
        counts[widest] += 1
    return counts


def ranked_lands(
    passes: Passes, chain: Ints, tool: Tool, pattern: LandPattern = "alternate"
) -> list[tuple[float, int]]:
    """Return numbers of lands of one chain with the time in turns and between lands, least first.

    Parameters
    ----------
    passes : Passes
        Passes of a layout.
    chain : ndarray of int of shape (K,)
        Passes side by side.
    tool : Tool
        The plow.
    pattern : {"alternate", "gather"}
        As for `fieldgeo.layout.lands.land_kinds`.

    Returns
    -------
    list of (float, int)
        Seconds and lands. Turns are timed as if there were room for them, and ways between lands are straight. All
        whole numbers of lands are there whose width is not under `SEARCHED_SHARE` of the formula's or as far over it.
    """
    formula = formula_width(passes, chain, tool)
    width_m = len(chain) * tool.pitch_m
    least = max(1, floor(SEARCHED_SHARE * width_m / formula.width_m))
    most = min(most_lands(len(chain)), max(least, floor(width_m / formula.width_m / SEARCHED_SHARE) + 1))
    counts = list(range(least, most + 1))
    ends_xy = passes.ends_xy()
    place = {row: number for number, row in enumerate(chain.tolist())}
    steps = [_steps(ends_xy, passes, chain, count, pattern) for count in counts]
    pairs = sorted(
        {(place[one], place[two]) for its in steps for one, two, forward, onward in its if forward != onward}
    )
    table: dict[tuple[int, int], Floats] = {}
    if pairs:
        one, two = np.array(pairs, dtype=np.int64).T
        times = block_ends(passes, [chain]).between_s(one, two, tool=tool)
        table = dict(zip(pairs, times, strict=True))
    ranked = []
    for count, its in zip(counts, steps, strict=True):
        spent = 0.0
        for first, second, forward, onward in its:
            turn_s = table[place[first], place[second]][int(forward)] if forward != onward else np.inf
            if not np.isfinite(turn_s):
                leave, begin = ends_xy[int(forward)][first], ends_xy[int(not onward)][second]
                turn_s = float(np.hypot(*(begin - leave))) / travel_speed_m_s(tool)
                turn_s += square_turn_s(tool) if forward != onward else 0.0
            spent += float(turn_s)
        ranked.append((spent, count))
    return sorted(ranked)


def _steps(
    ends_xy: tuple[Floats, Floats], passes: Passes, chain: Ints, count: int, pattern: LandPattern
) -> list[tuple[int, int, bool, bool]]:
    """Return each pass and the next as they are plowed, and whether each is driven along the direction."""
    ways, _, _ = block_ways(ends_xy, lay_lands(passes, [chain], [count], pattern), None)
    driven = [each for way in ways for each in zip(way.passes, way.forward, strict=True)]
    return [(one, two, forward, onward) for (one, forward), (two, onward) in pairwise(driven)]
