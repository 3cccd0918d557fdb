"""Knots of a walked ring: small loops that noise, standing still and dead ends leave, cut out in the order of the walk.

The ring is followed from its beginning. Where it crosses what is kept of it so far, the loop between the two passes of
that place is a knot when it is no larger than the noise can make it, or a dead end walked in and out again; it is then
cut out, and the walk goes on from the crossing. A loop that is larger is left: what is then still crossed is for a
person to decide.

Does this shift the area? Where the edge is straight, noise and its mirror image on the other side of the edge are
equally likely, and the rule treats both alike: loops that turn left and right are cut equally often and the changes
cancel on the average. Corners are few. What one mend did is told, and goes into the uncertainty of the area.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely

from fieldgeo.frame import FloatArray
from fieldgeo.outline.walk.fixes import IndexArray

KNOT_NOISES: Final = 6.0  # largest extent of a knot, in standard errors of a position; judged by simulated walks
SMALLEST_KNOT_M: Final = 2.0  # knots of this extent are cut out whatever the receiver; common practice, no source
DEAD_END_SHARE: Final = 0.01  # largest share of the ring's area that a dead end may enclose; common practice, no source
KNOT_SHARE: Final = 0.25  # largest share of the ring's area in one knot; common practice, no source
MOST_CROSSINGS: Final = 5_000_000  # 80 MB of indices
_LONGEST_LOOK: Final = 60.0  # path of a knot, in extents, that is looked at
_SEGMENTS_AT_ONCE: Final = 20_000
_FEWEST_AT_ONCE: Final = 20
_PAIRS_AT_ONCE: Final = 1_000_000
_PASSES: Final = 4
_SAME_M: Final = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Unknotted:
    """A ring without its knots."""

    points_m: FloatArray  # shape (N, 2), open
    station: FloatArray  # shape (N,)
    knots: int = 0
    largest_m2: float = 0.0  # area of the largest knot
    largest_at_m: FloatArray | None = None  # its place
    dead_ends: int = 0  # walked in and out again, beside the knots
    dead_ends_m: float = 0.0  # their length, both ways together
    dead_ends_m2: float = 0.0  # what the area of the ring lost with them, signed as the ring's
    is_scribble: bool = False  # too many crossings to look at: nothing was done


def unknotted(points_m: FloatArray, station: FloatArray, *, noise_m: float) -> Unknotted:
    """Return a ring without loops of the size of the noise and without dead ends.

    Parameters
    ----------
    points_m : ndarray of shape (N, 2)
        Open ring in the order of the walk. [m]
    station : ndarray of shape (N,)
        Anything that runs along with the points, such as their time; a crossing gets that of its second passing.
    noise_m : float
        Standard error of a position along each axis. [m]
    """
    ring = np.column_stack([points_m, station])
    cut = _Cut()
    without = 0
    # A loop through the beginning of the ring is seen from another beginning only.
    for turn in range(_PASSES):
        ring = np.roll(ring, -(len(ring) // 2), axis=0) if turn else ring
        found = _crossings(ring[:, :2])
        if found is None:
            return Unknotted(points_m=points_m, station=station, is_scribble=True)
        walk = _Walk(ring, noise_m, cut)
        cuts_before = cut.knots + cut.dead_ends
        for first, second in zip(found[0].tolist(), found[1].tolist(), strict=True):
            walk.cross(first, second)
        ring = walk.kept()
        without = 0 if cut.knots + cut.dead_ends > cuts_before else without + 1
        if not len(found[0]) or without == 2 or len(ring) < 4:
            break
    ring = np.roll(ring, -int(np.argmin(ring[:, 2])), axis=0)
    return Unknotted(
        points_m=ring[:, :2],
        station=ring[:, 2],
        knots=cut.knots,
        largest_m2=cut.largest_m2,
        largest_at_m=cut.largest_at_m,
        dead_ends=cut.dead_ends,
        dead_ends_m=cut.dead_ends_m,
        dead_ends_m2=cut.dead_ends_m2,
    )


def signed_area_m2(points_m: FloatArray) -> float:
    """Return the area of an open ring by the shoelace formula, positive counter-clockwise; lobes of crossings cancel.

    Parameters
    ----------
    points_m : ndarray of shape (N, 2)
        Ring. [m]
    """
    if len(points_m) < 3:
        return 0.0
    x, y = (points_m - points_m[0]).T
    return float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y) / 2)


def _crossings(points: FloatArray) -> tuple[FloatArray, FloatArray] | None:
    """Return where the ring meets itself: places along it (segment + share), the earlier and the later of each pair.

    Sorted by the later one; None when there are too many.
    """
    ends = np.roll(points, -1, axis=0)
    segments = np.array(shapely.linestrings(np.stack([points, ends], axis=1)), dtype=object)
    tree = shapely.STRtree(segments)
    count = len(points)
    firsts, seconds = [], []
    total = 0
    start, step = 0, _FEWEST_AT_ONCE
    while start < count:
        one, other = tree.query(segments[start : start + step], predicate="intersects")
        found = len(one)
        one = one + start
        is_pair = (other - one > 1) & (other - one < count - 1)  # neighbours meet in their point
        firsts.append(one[is_pair])
        seconds.append(other[is_pair])
        total += len(firsts[-1])
        if total > MOST_CROSSINGS:
            return None
        start += step
        # In a scribble every segment meets a hundred thousand others: as many at once as stay within memory.
        per_segment = max(1.0, found / step)
        step = int(min(_SEGMENTS_AT_ONCE, max(_FEWEST_AT_ONCE, _PAIRS_AT_ONCE / per_segment)))
    first, second = np.concatenate(firsts), np.concatenate(seconds)
    on_first, on_second = _shares(points, ends, first, second)
    order = np.argsort(second + on_second, kind="stable")
    return (first + on_first)[order], (second + on_second)[order]


def _shares(
    points: FloatArray, ends: FloatArray, first: IndexArray, second: IndexArray
) -> tuple[FloatArray, FloatArray]:
    """Return where on each of two segments that meet the meeting point lies, 0 to 1."""
    start, other = points[first], points[second]
    along, other_along = ends[first] - start, ends[second] - other
    between = other - start
    cross = along[:, 0] * other_along[:, 1] - along[:, 1] * other_along[:, 0]
    is_parallel = np.abs(cross) <= 1e-12 * np.hypot(*along.T) * np.hypot(*other_along.T)
    divisor = np.where(is_parallel, 1.0, cross)
    on_first = (between[:, 0] * other_along[:, 1] - between[:, 1] * other_along[:, 0]) / divisor
    on_second = (between[:, 0] * along[:, 1] - between[:, 1] * along[:, 0]) / divisor
    for index in np.flatnonzero(is_parallel):  # they lie upon each other: one point of the shared piece will do
        shared = shapely.intersection(
            shapely.LineString([start[index], start[index] + along[index]]),
            shapely.LineString([other[index], other[index] + other_along[index]]),
        )
        place = shapely.get_coordinates(shared)[:1] if not shared.is_empty else other[index][np.newaxis]
        on_first[index] = _share(place[0], start[index], along[index])
        on_second[index] = _share(place[0], other[index], other_along[index])
    return np.clip(on_first, 0, 1), np.clip(on_second, 0, 1)


def _share(place: FloatArray, start: FloatArray, along: FloatArray) -> float:
    length2 = float(along @ along)
    return float((place - start) @ along) / length2 if length2 > 0 else 0.0


@dataclass(slots=True, kw_only=True)
class _Cut:
    """What has been cut out so far."""

    knots: int = 0
    largest_m2: float = 0.0
    largest_at_m: FloatArray | None = None
    dead_ends: int = 0
    dead_ends_m: float = 0.0
    dead_ends_m2: float = 0.0


class _Walk:
    """What is kept of a ring while it is followed: pieces between places, each place a segment and a share of it."""

    def __init__(self, ring: FloatArray, noise_m: float, cut: _Cut) -> None:
        points = ring[:, :2]
        ends = np.roll(points, -1, axis=0)
        steps = np.hypot(*(ends - points).T)
        centred, centred_ends = points - points[0], ends - points[0]
        crosses = centred[:, 0] * centred_ends[:, 1] - centred[:, 1] * centred_ends[:, 0]
        ring_m2 = float(crosses.sum()) / 2
        self._cut = cut
        self._ring, self._points = ring, points
        self._extent_m = max(KNOT_NOISES * noise_m, SMALLEST_KNOT_M)
        self._noise_m = noise_m
        self._turn = -1.0 if ring_m2 < 0 else 1.0
        self._dead_end_m2 = DEAD_END_SHARE * abs(ring_m2)
        self._largest_knot_m2 = KNOT_SHARE * abs(ring_m2)  # of a small hole the whole ring would be a knot
        self._steps, self._crosses = steps.tolist(), crosses.tolist()
        self._length_to = np.concatenate([[0.0], np.cumsum(steps)]).tolist()
        self._cross_to = np.concatenate([[0.0], np.cumsum(crosses)]).tolist()
        # Pieces that are kept: start, end, and length and cross product from the beginning of the ring to the start.
        # The end of the last is not known yet.
        self._starts = [0.0]
        self._ends = [float("inf")]
        self._lengths = [0.0]
        self._cross_sums = [0.0]

    def cross(self, first: float, second: float) -> None:
        """Follow the ring to the place where it meets an earlier place, and cut the loop between if it is to go."""
        piece = bisect_right(self._starts, first) - 1
        if first > self._ends[piece]:
            return  # cut out before
        length_to, cross_to = self._until(piece, first)
        length_here, cross_here = self._until(len(self._starts) - 1, second)
        length_m, area_m2 = length_here - length_to, (cross_here - cross_to) / 2
        if self._is_knot(piece, first, second, length_m, abs(area_m2)):
            self._count_knot(first, length_m, abs(area_m2))
        elif 2 * abs(area_m2) <= self._noise_m * length_m and abs(area_m2) <= self._dead_end_m2:
            self._cut.dead_ends += 1
            self._cut.dead_ends_m += length_m
            self._cut.dead_ends_m2 += area_m2 * self._turn
        else:
            return
        for pieces in (self._starts, self._ends, self._lengths, self._cross_sums):
            del pieces[piece + 1 :]
        self._ends[piece] = first
        self._starts.append(second)
        self._ends.append(float("inf"))
        self._lengths.append(length_to)
        self._cross_sums.append(cross_to)

    def _count_knot(self, first: float, length_m: float, area_m2: float) -> None:
        self._cut.knots += length_m > 0
        if area_m2 > self._cut.largest_m2:
            self._cut.largest_m2, self._cut.largest_at_m = area_m2, self._place(first)[:2]

    def kept(self) -> FloatArray:
        """Return the ring that is left."""
        count = len(self._ring)
        self._ends[-1] = float(count)
        pieces = []
        for start, end in zip(self._starts, self._ends, strict=True):
            pieces.append(self._place(start)[np.newaxis])
            pieces.append(self._ring[int(np.ceil(start)) : min(int(np.floor(end)) + 1, count)])
        ring = np.concatenate(pieces)
        steps = ring[:, :2] - np.roll(ring[:, :2], 1, axis=0)
        different = np.hypot(*steps.T) > _SAME_M
        return ring[different] if different.any() else ring[:1]

    def _until(self, piece: int, place: float) -> tuple[float, float]:
        """Return length and cross product along what is kept, from the beginning to a place on a piece."""
        length_m, cross_m2 = self._along(place)
        start_length_m, start_cross_m2 = self._along(self._starts[piece])
        return (
            self._lengths[piece] + length_m - start_length_m,
            self._cross_sums[piece] + cross_m2 - start_cross_m2,
        )

    def _along(self, place: float) -> tuple[float, float]:
        segment = min(int(place), len(self._steps) - 1)
        share = place - segment
        return (
            self._length_to[segment] + share * self._steps[segment],
            self._cross_to[segment] + share * self._crosses[segment],
        )

    def _place(self, place: float) -> FloatArray:
        """Return east, north and station of a place."""
        segment = min(int(place), len(self._ring) - 1)
        start = self._ring[segment]
        if place == segment or segment == len(self._ring) - 1:  # the closing side runs back in time
            last = np.append(self._points[0], start[2])
            return np.asarray(start + (place - segment) * (last - start), dtype=np.float64)
        return np.asarray(start + (place - segment) * (self._ring[segment + 1] - start), dtype=np.float64)

    def _is_knot(self, piece: int, first: float, second: float, length_m: float, area_m2: float) -> bool:
        if area_m2 > self._largest_knot_m2:
            return False
        if length_m <= 2 * self._extent_m:  # a loop reaches no farther than half its length
            return True
        if length_m > _LONGEST_LOOK * self._extent_m:
            return False
        pieces = [self._place(first)[np.newaxis, :2]]
        for start, end in zip(self._starts[piece:], self._ends[piece:], strict=True):
            pieces.append(self._points[int(np.ceil(max(start, first))) : int(np.floor(min(end, second))) + 1])
        return bool(np.ptp(np.concatenate(pieces), axis=0).max() <= self._extent_m)
