"""Blocks of passes that lie side by side, and the time of the turns between any two passes of one block."""

from __future__ import annotations

from dataclasses import dataclass
from math import pi, radians
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from fieldgeo.layout.axes import Floats, to_field
from fieldgeo.layout.model import Passes
from fieldgeo.layout.strips import Ints, next_alongside
from fieldgeo.machinery.tool import Tool
from fieldgeo.travel.turns import turn_times_s

# Turns onto passes further off are not kept within an outline when orders are weighed up: few are ever driven, and all
# pairs would take long.
NEAR_PASSES: Final = 8


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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BlockEnds:
    """Ends of the passes of one block or several, block after block, each in order across: one row a pass."""

    start_m: Floats  # (N,) lower end, u [m]
    end_m: Floats  # (N,) upper end, u [m]
    centre_m: Floats  # (N,) v [m]
    direction_deg: float  # azimuth of +u [deg]

    def between_s(self, one: Ints, two: Ints, *, tool: Tool, outline: shapely.MultiPolygon | None = None) -> Floats:
        """Return the time of the turn between passes of one block, at lower and upper ends, shape (M, 2). [s]

        Parameters
        ----------
        one, two : ndarray of int of shape (M,)
            Rows of the pass that is left and of the pass that is begun; both of one block.
        tool : Tool
            The tool.
        outline : shapely.MultiPolygon, optional
            Ground that turns onto near passes, up to `NEAR_PASSES`, are to stay on, in the frame. [m]

        Returns
        -------
        ndarray of shape (M, 2)
            Infinity where a pass between the two sticks out further than the turn swings: there it would lead across
            ground of the body.
        """
        if tool.left_radius_m == tool.right_radius_m:
            # A turn is as long driven the other way round, so each pair is worked out once.
            pairs, pair_of = np.unique(np.sort(np.column_stack([one, two]), axis=1), axis=0, return_inverse=True)
            return self._turns_s(pairs[:, 0], pairs[:, 1], tool, outline)[pair_of.ravel()]
        return self._turns_s(one, two, tool, outline)

    def _turns_s(self, one: Ints, two: Ints, tool: Tool, outline: shapely.MultiPolygon | None) -> Floats:
        times = np.empty((len(one), 2))
        ahead = radians(90.0 - self.direction_deg)
        is_near = np.abs(two - one) <= NEAR_PASSES
        for column, (at, sign) in enumerate(((self.start_m, -1.0), (self.end_m, 1.0))):
            ends = to_field(np.column_stack([at, self.centre_m]), self.direction_deg)
            heading = ahead if sign > 0 else ahead + pi
            for rows, ground in ((is_near, outline), (~is_near, None)):
                count = int(rows.sum())
                times[rows, column] = turn_times_s(
                    ends[one[rows]], np.full(count, heading), ends[two[rows]], np.full(count, heading + pi),
                    tool=tool, outline=ground,
                )  # fmt: skip
            times[self._is_barred(sign * at, one, two, tool), column] = np.inf
        return times

    def _is_barred(self, reach_m: Floats, one: Ints, two: Ints, tool: Tool) -> NDArray[np.bool_]:
        """Return where a pass between two sticks out beyond the line between their ends by more than a turn does.

        Between its arcs a turn keeps one radius beyond the pull-outs of both ends at the least, so that much is let
        stick out. (Derived for turns that bend the same way at both ends; one that loops swings further out.)
        """
        barred = np.zeros(len(one), dtype=bool)
        reach_beyond_m = tool.pull_out_m + min(tool.left_radius_m, tool.right_radius_m)
        low, gap = np.minimum(one, two), np.abs(two - one)
        across = self.centre_m
        for each in np.unique(gap[gap > 1]).tolist():
            rows = np.flatnonzero(gap == each)
            first = low[rows]
            between = first[:, None] + np.arange(1, each)
            slope = (reach_m[first + each] - reach_m[first]) / (across[first + each] - across[first])
            line = reach_m[first, None] + slope[:, None] * (across[between] - across[first, None])
            barred[rows] = (reach_m[between] - line).max(axis=1) > reach_beyond_m
        return barred


def block_ends(passes: Passes, blocks: list[Ints]) -> BlockEnds:
    """Return the ends of the passes of blocks, in the blocks' order.

    Parameters
    ----------
    passes : Passes
        Passes of a layout.
    blocks : list of ndarray
        From `find_blocks`.
    """
    rows = np.concatenate([*blocks, np.empty(0, dtype=np.int64)])
    return BlockEnds(
        start_m=passes.start_m[rows],
        end_m=passes.end_m[rows],
        centre_m=passes.centre_m[rows],
        direction_deg=passes.direction_deg,
    )


def turn_table_s(passes: Passes, block: Ints, tool: Tool, outline: shapely.MultiPolygon | None = None) -> Floats:
    """Return the time of the turn between all pairs of passes of a block, shape (2, K, K). [s]

    Parameters
    ----------
    passes : Passes
        Passes of a layout.
    block : ndarray of int of shape (K,)
        Passes of the block, in order across.
    tool : Tool
        The tool.
    outline : shapely.MultiPolygon, optional
        Ground to stay on, as in `BlockEnds.between_s`. [m]

    Returns
    -------
    ndarray of shape (2, K, K)
        At lower ends, then at upper ends; from the pass of the row to the pass of the column. Infinity on the diagonal
        and where there is no way (see `BlockEnds.between_s`).
    """
    count = len(block)
    one, two = np.nonzero(~np.eye(count, dtype=bool))
    table = np.full((2, count, count), np.inf)
    table[:, one, two] = block_ends(passes, [block]).between_s(one, two, tool=tool, outline=outline).T
    return table
