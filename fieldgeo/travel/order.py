"""Order of the passes: blocks that can be worked back and forth, taken one after the other."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fieldgeo.layout.axes import Floats, to_field
from fieldgeo.layout.model import Passes
from fieldgeo.layout.strips import Ints


@dataclass(frozen=True, slots=True, kw_only=True)
class Driven:
    """One pass in the order of the work."""

    index: int  # row in the layout's passes
    is_forward: bool  # driven along the direction, not against it
    is_first_of_block: bool  # reached by travel from elsewhere, not by a turn from the pass alongside


def find_blocks(passes: Passes) -> list[Ints]:
    """Return the blocks of passes that lie side by side, each in order across.

    A block goes on from strip to strip while one pass meets just one pass of the next strip; where a pond or a notch
    parts the strips, or brings them together again, new blocks begin. (Derived.)

    Parameters
    ----------
    passes : Passes
        Passes of a layout, sorted by piece and strip.
    """
    follows = _next_alongside(passes)
    is_start = np.ones(len(passes), dtype=bool)
    is_start[follows[follows >= 0]] = False
    blocks = []
    for start in np.flatnonzero(is_start).tolist():
        block = [start]
        while follows[block[-1]] >= 0:
            block.append(int(follows[block[-1]]))
        blocks.append(np.array(block, dtype=np.int64))
    return blocks


def _next_alongside(passes: Passes) -> Ints:
    """Return for each pass the one pass of the next strip that it alone meets, else -1."""
    follows = np.full(len(passes), -1, dtype=np.int64)
    key = passes.piece * (int(passes.strip.max(initial=0)) + 2) + passes.strip
    first = np.searchsorted(key, key + 1, side="left")
    counts = np.searchsorted(key, key + 1, side="right") - first
    one = np.repeat(np.arange(len(key)), counts)
    other = first[one] + np.arange(len(one)) - np.repeat(np.cumsum(counts) - counts, counts)
    meets = np.minimum(passes.end_m[one], passes.end_m[other]) > np.maximum(passes.start_m[one], passes.start_m[other])
    one, other = one[meets], other[meets]
    is_single = (np.bincount(one, minlength=len(key))[one] == 1) & (np.bincount(other, minlength=len(key))[other] == 1)
    follows[one[is_single]] = other[is_single]
    return follows


def back_and_forth(passes: Passes, blocks: list[Ints], start_xy: Floats | None) -> list[Driven]:
    """Return passes in order: each block back and forth, then the block whose nearest corner lies closest.

    Parameters
    ----------
    passes : Passes
        Passes of a layout.
    blocks : list of ndarray
        The blocks to work, as `find_blocks` gives them.
    start_xy : ndarray of shape (2,) or None
        Where the tool stands before the first pass; None starts at the first pass. [m]
    """
    corners = [_block_corners(passes, block) for block in blocks]
    at, order = start_xy, []
    while corners:
        choice, corner = _nearest(corners, at)
        block = corners.pop(choice)
        members = block.members if corner.from_first else block.members[::-1]
        for step, index in enumerate(members.tolist()):
            forward = corner.is_forward == (step % 2 == 0)
            order.append(Driven(index=index, is_forward=forward, is_first_of_block=step == 0))
        last = order[-1]
        u = passes.end_m[last.index] if last.is_forward else passes.start_m[last.index]
        at = to_field(np.array([[u, passes.centre_m[last.index]]]), passes.direction_deg)[0]
    return order


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Corner:
    xy: Floats
    from_first: bool
    is_forward: bool


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Block:
    members: Ints
    corners: tuple[_Corner, ...]


def _block_corners(passes: Passes, block: Ints) -> _Block:
    """Return a block with the four places at which it can be entered; the plainest first."""
    found = []
    for from_first in (True, False):
        index = int(block[0] if from_first else block[-1])
        for is_forward in (True, False):
            u = passes.start_m[index] if is_forward else passes.end_m[index]
            xy = to_field(np.array([[u, (passes.low_m[index] + passes.high_m[index]) / 2]]), passes.direction_deg)[0]
            found.append(_Corner(xy=xy, from_first=from_first, is_forward=is_forward))
    return _Block(members=block, corners=tuple(found))


def _nearest(blocks: list[_Block], at: Floats | None) -> tuple[int, _Corner]:
    if at is None:
        return 0, blocks[0].corners[0]
    distance = [[np.hypot(*(corner.xy - at)) for corner in block.corners] for block in blocks]
    choice, corner = np.unravel_index(int(np.argmin(distance)), (len(blocks), 4))
    return int(choice), blocks[choice].corners[corner]
