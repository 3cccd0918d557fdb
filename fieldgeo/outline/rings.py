"""One ring of an outline in the plane: closed, freed of repeated points and spikes, and its crossings found."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, TypeAlias

import numpy as np
import numpy.typing as npt
import shapely

from fieldgeo.frame import FloatArray, Frame

if TYPE_CHECKING:
    from collections.abc import Iterator

SAME_POINT_M: Final = 0.001  # nearer points are one: a file's digits cannot tell them apart; common practice, no source
SPIKE_WIDTH_M: Final = 0.01  # a tip thinner than this is drawn by mistake; common practice, no source
SPIKE_ANGLE_DEG: Final = 1.0  # sharper corners are worth a word; common practice, no source
_PLACES_TOLD: Final = 3
_SAME_PLACE_M: Final = 0.1  # crossings nearer than this are told once
_PAIRS_AT_ONCE: Final = 5_000_000  # 80 MB of indices, where every shape touches every other

IndexArray: TypeAlias = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class CleanRing:
    """A ring with what was mended."""

    points_m: FloatArray  # shape (N + 1, 2), closed, in the frame
    changes: tuple[tuple[str, float], ...]  # what was done, and by how much the area of the ring grew [m2]
    fault: str | None = None  # why it is no ring, without its name
    is_flat: bool = False  # whether the fault is only that it goes round no ground: `changes` then leave it out
    notes: tuple[str, ...] = ()


def clean_ring(points_m: FloatArray, frame: Frame) -> CleanRing:
    """Return a ring closed, without repeated points and without spikes.

    Parameters
    ----------
    points_m : ndarray of shape (N, 2)
        Points in their order, closed or not, finite. [m]
    frame : Frame
        The plane of the points, to tell places in longitude and latitude.

    Returns
    -------
    CleanRing
        With a `fault` when fewer than three different points, or no area, are left.
    """
    changes: list[tuple[str, float]] = []
    points = _open_ring(points_m, changes)
    before = _area_m2(points)
    points, repeated = _without_repeats(points)
    if repeated:
        changes.append((f"{_count(repeated, 'repeated point')} removed", _area_m2(points) - before))
    if len(points) < 3:
        fault = f"has {_count(len(points), 'different point')}; a polygon needs three or more"
        return CleanRing(points_m=points, changes=(), fault=fault)
    # A ring that is all spike would be taken down point by point: it is told at once instead.
    if 2 * abs(_area_m2(points)) < SPIKE_WIDTH_M * _length_m(points) and _is_on_a_line(points):
        return _flat_ring(points, "has no area: its points lie on one line", changes)
    points, spikes = _without_spikes(points)
    for tip_m, growth_m2 in spikes[:_PLACES_TOLD]:
        changes.append((f"spike at {place(tip_m, frame)} removed", growth_m2))
    if len(spikes) > _PLACES_TOLD:
        rest = spikes[_PLACES_TOLD:]
        changes.append((f"{_count(len(rest), 'more spike')} removed", sum(growth_m2 for _, growth_m2 in rest)))
    if len(points) < 3:
        return _flat_ring(points, "has no area: it is a spike and nothing else", changes)
    notes = tuple(
        f"has a corner sharper than {SPIKE_ANGLE_DEG:g} degree at {place(points[index], frame)}"
        for index in np.flatnonzero(_tips(points)[1] < SPIKE_ANGLE_DEG)[:_PLACES_TOLD]
    )
    return CleanRing(points_m=np.vstack([points, points[:1]]), changes=tuple(changes), notes=notes)


def place(point_m: FloatArray, frame: Frame) -> str:
    """Return a place of the frame as messages give it: longitude and latitude to 7 decimals, about a centimetre."""
    lon_deg, lat_deg = frame.to_lonlat(point_m[0], point_m[1])
    return f"lon {float(lon_deg):.7f}, lat {float(lat_deg):.7f}"


def places(points_m: FloatArray, frame: Frame) -> str:
    """Return the first three of several places of the frame, and how many more there are.

    Parameters
    ----------
    points_m : ndarray of shape (N, 2)
        Places. [m]
    frame : Frame
        Their plane.
    """
    told = "; ".join(place(point, frame) for point in points_m[:_PLACES_TOLD])
    more = len(points_m) - _PLACES_TOLD
    return f"{told} and {_count(more, 'more place')}" if more > 0 else told


def crossings_m(ring_m: FloatArray, most: int) -> FloatArray:
    """Return places where a closed ring crosses or touches itself, in the order of its sides.

    Parameters
    ----------
    ring_m : ndarray of shape (N + 1, 2)
        Closed ring without repeated points. [m]
    most : int
        Where to stop looking: a scribble of N sides can have N^2 / 2 crossings.

    Returns
    -------
    ndarray of shape (M, 2)
        Places; where sides run upon each other, one end of the shared piece. More than `most` when it stopped. [m]
    """
    sides = np.array(shapely.linestrings(np.stack([ring_m[:-1], ring_m[1:]], axis=1)), dtype=object)
    found: list[FloatArray] = []
    for first, second in touching_pairs(sides):
        is_apart = (second - first > 1) & (second - first < len(sides) - 1)  # neighbours meet in their corner
        pairs = np.flatnonzero(is_apart)[: most + 1]
        shared = shapely.intersection(sides[first[pairs]], sides[second[pairs]])
        coordinates, piece = shapely.get_coordinates(shared, return_index=True)
        found.append(coordinates[np.unique(piece, return_index=True)[1]])
        if sum(map(len, found)) > most:
            break
    all_found = np.concatenate(found)
    if len(all_found) > most:
        return all_found
    # Four sides that meet in one point are up to four pairs: each place is told once.
    _, index = np.unique(np.round(all_found / _SAME_PLACE_M), axis=0, return_index=True)
    return all_found[np.sort(index)]


def touching_pairs(
    shapes: npt.NDArray[np.object_], *, within_m: float = 0.0
) -> Iterator[tuple[IndexArray, IndexArray]]:
    """Give the pairs of shapes that touch or overlap, first before second, some at a time so that memory stays small.

    Parameters
    ----------
    shapes : ndarray of shape (N,) of shapely.Geometry
        Shapes. [m]
    within_m : float
        Distance that still counts as touching, >= 0. [m]

    Yields
    ------
    tuple of ndarray of shape (M,)
        Index of the first and of the second shape, in order of the first and then the second.
    """
    tree = shapely.STRtree(shapes)
    step = max(1, _PAIRS_AT_ONCE // max(1, len(shapes)))
    for start in range(0, len(shapes), step):
        some = shapes[start : start + step]
        if within_m > 0:
            first, second = tree.query(some, predicate="dwithin", distance=within_m)
        else:
            first, second = tree.query(some, predicate="intersects")
        first = first + start
        ordered = first < second  # each pair is seen twice, and each shape with itself
        first, second = first[ordered], second[ordered]
        order = np.lexsort((second, first))
        yield first[order], second[order]


def _flat_ring(points_m: FloatArray, fault: str, changes: list[tuple[str, float]]) -> CleanRing:
    told = (*changes, (f"{fault}; left out", -_area_m2(points_m)))
    return CleanRing(points_m=points_m, changes=told, fault=fault, is_flat=True)


def _open_ring(points_m: FloatArray, changes: list[tuple[str, float]]) -> FloatArray:
    gap_m = float(np.hypot(*(points_m[-1] - points_m[0])))
    if gap_m == 0 and len(points_m) > 1:
        return points_m[:-1]
    if gap_m < SAME_POINT_M and len(points_m) > 1:
        growth_m2 = _area_m2(points_m[:-1]) - _area_m2(points_m)
        changes.append((f"last point {gap_m * 1000:.2f} mm off the first; put on it", growth_m2))
        return points_m[:-1]
    changes.append((f"not closed; closed by a side of {gap_m:.2f} m", 0.0))
    return points_m


def _without_repeats(points_m: FloatArray) -> tuple[FloatArray, int]:
    steps = points_m - np.roll(points_m, 1, axis=0)
    if np.all(np.hypot(steps[:, 0], steps[:, 1]) >= SAME_POINT_M):
        return points_m, 0
    kept = [points_m[0]]
    for point in points_m[1:]:
        if np.hypot(*(point - kept[-1])) >= SAME_POINT_M:
            kept.append(point)
    while len(kept) > 1 and np.hypot(*(kept[-1] - kept[0])) < SAME_POINT_M:
        kept.pop()
    return np.array(kept), len(points_m) - len(kept)


def _tips(points_m: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return for each corner the width of the tip it makes [m], and its angle [deg]."""
    back = np.roll(points_m, 1, axis=0) - points_m
    ahead = np.roll(points_m, -1, axis=0) - points_m
    cross = np.abs(back[:, 0] * ahead[:, 1] - back[:, 1] * ahead[:, 0])
    angle_deg = np.degrees(np.arctan2(cross, np.sum(back * ahead, axis=1)))
    longer = np.maximum(np.hypot(*back.T), np.hypot(*ahead.T))
    return cross / longer, angle_deg


def _without_spikes(points_m: FloatArray) -> tuple[FloatArray, list[tuple[FloatArray, float]]]:
    """Return the points without spikes, and for each spike its tip and the growth of the ring's area [m2]."""
    points = points_m
    spikes: list[tuple[FloatArray, float]] = []
    last = -2
    while len(points) >= 3:
        width_m, angle_deg = _tips(points)
        is_spike = (width_m < SPIKE_WIDTH_M) & (angle_deg < SPIKE_ANGLE_DEG)
        if not is_spike.any():
            break
        tip = int(np.argmax(is_spike))
        fewer, _ = _without_repeats(np.delete(points, tip, axis=0))
        growth_m2 = _area_m2(fewer) - _area_m2(points)
        if abs(tip - last) <= 1:  # the next piece of the same spike, from its tip down
            spikes[-1] = (spikes[-1][0], spikes[-1][1] + growth_m2)
        else:
            spikes.append((points[tip], growth_m2))
        points, last = fewer, tip
    return points, spikes


def _is_on_a_line(points_m: FloatArray) -> bool:
    from_start = points_m - points_m[0]
    along = from_start[np.argmax(np.hypot(*from_start.T))]
    off_m = np.abs(from_start[:, 0] * along[1] - from_start[:, 1] * along[0]) / np.hypot(*along)
    return bool(off_m.max() < SPIKE_WIDTH_M)


def _area_m2(points_m: FloatArray) -> float:
    """Return the area of an open ring, whichever way it runs [m2]; lobes of a crossing ring cancel."""
    x, y = (points_m - points_m[0]).T
    return float(abs(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)) / 2)


def _length_m(points_m: FloatArray) -> float:
    steps = points_m - np.roll(points_m, 1, axis=0)
    return float(np.hypot(*steps.T).sum())


def _count(number: int, what: str) -> str:
    return f"{number} {what}" if number == 1 else f"{number} {what}s"
