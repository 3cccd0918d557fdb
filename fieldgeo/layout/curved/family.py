"""The family of lines parallel to a key line, each held to the least radius."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final, NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from fieldgeo.layout.axes import Floats
from fieldgeo.layout.curved.front import Front, back_with_arcs, flipped, move_left, nearest_segments, unfolded
from fieldgeo.layout.curved.key import KeyLine
from fieldgeo.layout.curved.ribbon import Ribbon, cut_ribbon, ribbon_of

# A line that was moved by less than this was not smoothed: no driver holds it. Own choice.
MOVED_M: Final = 0.05
# Where lines at one distance cross, the part that lies nearer to the key line than that by more than this is none.
NEARER_M: Final = 0.01


class Track(NamedTuple):
    """One line of a family, in the pieces that are left of it where it would cross itself."""

    ribbons: tuple[Ribbon, ...]
    deviation_m: float  # how far it was moved to keep the least radius, near the body, at the most [m]


def parallel_tracks(
    key: KeyLine, offsets_m: Iterable[float], near: BaseGeometry, *, half_width_m: float
) -> dict[float, Track]:
    """Return the lines at given distances from a key line.

    Parameters
    ----------
    key : KeyLine
        The key line.
    offsets_m : iterable of float
        Distances, to the left above zero. [m]
    near : shapely.Geometry
        Ground near which they are asked for: elsewhere crossings and deviations do not count. [m]
    half_width_m : float
        Half the width of the tool, which must not fold over. [m]

    Raises
    ------
    LayoutError
        If the key line turns back on itself.

    Notes
    -----
    Derived. At a distance d to the left the line is the edge of all ground within d of the ground to the right of the
    key line, closed by a disc of the least radius. So two neighbours lie a whole spacing apart, or further where the
    inside of a bend is rounded, and never nearer.
    """
    bounds = np.array(near.bounds)
    tracks: dict[float, Track] = {}
    for sign in (1.0, -1.0):
        front, at_m = (key.front if sign > 0 else flipped(key.front)), 0.0
        for offset in sorted({each for each in offsets_m if each * sign > 0 or (each == 0 and sign > 0)}, key=abs):
            front = move_left(front, abs(offset) - at_m)
            at_m = abs(offset)
            held = front
            if offset:
                held = back_with_arcs(move_left(front, key.least_radius_m), key.least_radius_m)
            deviation = _deviation_m(front, held, bounds)
            held = unfolded(held, half_width_m)
            kept = ribbon_of(held if sign > 0 else flipped(held))
            tracks[offset] = Track(_without_loops(kept, key, at_m, bounds), deviation)
    return tracks


def _deviation_m(front: Front, held: Front, bounds: Floats) -> float:
    inside = ((front.points >= bounds[:2]) & (front.points <= bounds[2:])).all(axis=1)
    # Where nothing was rounded the points are the same but for noise, and need not be looked at.
    inside &= ~np.isin(_places(front.points), _places(held.points))
    if not inside.any():
        return 0.0
    most = float(nearest_segments(front.points[inside], held.points)[0].max())
    return most if most > MOVED_M else 0.0


def _places(points: Floats) -> NDArray[np.complex128]:
    return np.round(points[:, 0], 4) + 1j * np.round(points[:, 1], 4)


def _without_loops(ribbon: Ribbon, key: KeyLine, distance_m: float, bounds: Floats) -> tuple[Ribbon, ...]:
    """Return the parts of a line that are left when those nearer to the key line than its distance are cut out."""
    crossings = _self_crossings_m(ribbon, bounds)
    if len(crossings) == 0:
        return (ribbon,)
    cuts = np.unique(np.concatenate([ribbon.along_m[[0, -1]], crossings]))
    kept = []
    for low, high in zip(cuts[:-1].tolist(), cuts[1:].tolist(), strict=True):
        if high - low < NEARER_M:
            continue
        part = cut_ribbon(ribbon, low, high)
        middles = (part.points[1:] + part.points[:-1]) / 2
        probes = np.vstack([part.points[1:-1], middles])
        if nearest_segments(probes, key.front.points)[0].min() > distance_m - NEARER_M:
            kept.append(part)
    return tuple(kept)


def _self_crossings_m(ribbon: Ribbon, bounds: Floats) -> Floats:
    """Return the places along a line at which it crosses itself near the body. [m]"""
    ends = np.stack([ribbon.points[:-1], ribbon.points[1:]], axis=1)
    near = np.flatnonzero(((ends.min(axis=1) <= bounds[2:]) & (ends.max(axis=1) >= bounds[:2])).all(axis=1))
    if len(near) < 3:
        return np.empty(0)
    segments = np.asarray(shapely.linestrings(ends[near]), dtype=object)
    one, two = shapely.STRtree(segments).query(segments, predicate="intersects")
    pairs = two > one + 1
    one, two = one[pairs], two[pairs]
    places = []
    for first, second in zip(one.tolist(), two.tolist(), strict=True):
        point = shapely.intersection(segments[first], segments[second])
        for row in (first, second):
            its = near[row]
            x, y = shapely.get_coordinates(point)[0] - ribbon.points[its]
            places.append(float(ribbon.along_m[its] + np.hypot(x, y)))
    return np.array(places)
