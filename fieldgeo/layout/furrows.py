"""Back furrows, dead furrows, and sound orders: what comes of the way each pass of a one-way plow is driven.

Where two neighbours throw together lies a back furrow, where both leave their furrows a dead furrow, and between two
that are driven alike none: there one throws into the furrow of the other, and so must come after it.
"""

from __future__ import annotations

from typing import Final, Literal, NamedTuple

import numpy as np

from fieldgeo.layout.axes import Floats, to_field
from fieldgeo.layout.lands import Land, forward_flags, rows_by_strip, shared_stretch
from fieldgeo.layout.model import Passes

# Furrows shorter than this are corners of passes that end on a slant. Own choice.
SHORT_FURROW_M: Final = 0.5


class Furrow(NamedTuple):
    """A back furrow, a dead furrow, or a furrow left open at an edge, along the passes."""

    kind: Literal["back", "dead", "edge"]
    across_m: float  # v [m]
    start_m: float  # u [m]
    end_m: float  # [m]

    @property
    def length_m(self) -> float:
        """Length. [m]"""
        return self.end_m - self.start_m

    def ends_xy(self, direction_deg: float) -> Floats:
        """Return its two ends in the frame, shape (2, 2). [m]

        Parameters
        ----------
        direction_deg : float
            Azimuth of the passes. [deg]
        """
        return to_field(np.array([[self.start_m, self.across_m], [self.end_m, self.across_m]]), direction_deg)


def find_furrows(passes: Passes, lands: list[Land]) -> list[Furrow]:
    """Return the furrows that lands leave, from the way each pass is driven and nothing else.

    Parameters
    ----------
    passes : Passes
        Passes of a layout.
    lands : list of Land
        Its lands, which hold every pass once.

    Returns
    -------
    list of Furrow
        Back and dead furrows between passes of neighbouring strips, those in line joined; and what of the furrow side
        of a pass has no neighbour at all, over a width or more, which is left open towards the headland. By kind and
        place.
    """
    forward = forward_flags(passes, lands)
    beside = rows_by_strip(passes)
    found: list[Furrow] = []
    width_m = float((passes.high_m - passes.low_m).max(initial=0.0))
    for (piece, strip), rows in beside.items():
        for right in rows:
            for left in beside.get((piece, strip + 1), []):
                span = shared_stretch(passes, right, left)
                if span is not None and forward[right] != forward[left]:
                    across = float(passes.high_m[right] + passes.low_m[left]) / 2
                    found.append(Furrow("dead" if forward[right] else "back", across, *span))
            side, across = (1, passes.high_m[right]) if forward[right] else (-1, passes.low_m[right])
            taken = [shared_stretch(passes, right, other) for other in beside.get((piece, strip + side), [])]
            open_spans = _left_open(passes, right, [span for span in taken if span is not None])
            # Shorter ones are the steps between passes that end on a slant.
            found += [Furrow("edge", float(across), *span) for span in open_spans if span[1] - span[0] > width_m]
    return _joined(found)


def _left_open(passes: Passes, row: int, taken: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """Return the stretches of a pass that no neighbour lies beside."""
    spans = []
    at = float(passes.start_m[row])
    for start, end in [*sorted(taken), (float(passes.end_m[row]), np.inf)]:
        if start - at > SHORT_FURROW_M:
            spans.append((at, start))
        at = max(at, end)
    return spans


def _joined(furrows: list[Furrow]) -> list[Furrow]:
    """Return furrows with those of a kind in one line that touch made one, and crumbs left out."""
    joined: list[Furrow] = []
    for each in sorted(furrows, key=lambda its: (its.kind, round(its.across_m, 6), its.start_m)):
        last = joined[-1] if joined else None
        if (
            last is not None
            and last.kind == each.kind
            and abs(last.across_m - each.across_m) < 1e-6
            and each.start_m - last.end_m < SHORT_FURROW_M
        ):
            joined[-1] = last._replace(end_m=max(last.end_m, each.end_m))
        else:
            joined.append(each)
    return [each for each in joined if each.length_m > SHORT_FURROW_M]


def plowed_wrong(passes: Passes, lands: list[Land], order: list[int]) -> list[int]:
    """Return the passes that would be plowed on the wrong side of a furrow; none in a sound order.

    Parameters
    ----------
    passes : Passes
        Passes of a layout.
    lands : list of Land
        Its lands, which hold every pass once.
    order : list of int
        All passes in driving order.
    """
    when = np.empty(len(passes), dtype=np.int64)
    when[order] = np.arange(len(order))
    needs = needed_before(passes, lands)
    return sorted(row for row, its in needs.items() if any(when[before] > when[row] for before in its))


def needed_before(passes: Passes, lands: list[Land]) -> dict[int, set[int]]:
    """Return for each pass of some lands the passes of these that must be plowed before it.

    Where two neighbours are driven alike, the one throws its soil onto the other, which must have been plowed before
    it: else the other would leave its furrow beside plowed ground. Driven apart, they throw together or leave a dead
    furrow, whichever is plowed first. A pass driven forward so waits for passes on its right alone, all driven forward,
    and one driven back for passes on its left: no passes wait for each other in a ring, and a sound order always is
    there. Lands may, and blocks of them. (Derived.)

    Parameters
    ----------
    passes : Passes
        Passes of a layout.
    lands : list of Land
        Its lands, or those of a part of the field.
    """
    forward = forward_flags(passes, lands)
    beside = rows_by_strip(passes)
    needs: dict[int, set[int]] = {row: set() for land in lands for row in land.members.tolist()}
    for (piece, strip), rows in beside.items():
        for right in rows:
            for left in beside.get((piece, strip + 1), []):
                if not (right in needs and left in needs) or forward[right] != forward[left]:
                    continue
                if shared_stretch(passes, right, left) is not None:
                    before, after = (right, left) if forward[right] else (left, right)
                    needs[after].add(before)
    return needs
