"""How sure an area is: the errors of the corners carried through the shoelace formula.

Model (derived): a measured point is the true point plus an error, Gaussian, of standard error s along each axis, the
same in all directions. Let P(i) be the points of a ring in order, g(i) the vector (P(i+1) - P(i-1)) / 2 turned by a
right angle, and e(i) the errors. The shoelace formula is bilinear, so the error of the area is exactly

    dA = sum g(i) . e(i)  +  1/2 sum e(i) x e(i+1)

with g of the true points. For independent errors the variance of the first sum is s^2 sum |g(i)|^2, that of the second
n s^4 / 2, and the two are uncorrelated (odd moments of a Gaussian are zero). The first is the known result
sd = (s/2) sqrt(sum |P(i+1) - P(i-1)|^2) (the class of formula in Journal of the Japanese Forest Society 100:193-200,
2018).

A walked track has many points, and the errors of neighbours are alike: the receiver's error drifts. With covariance
s^2 exp(-|t(i) - t(j)| / T) the variance of the first sum is s^2 sum(i, j) g(i) . g(j) exp(-|t(i) - t(j)| / T), and that
of the second s^4 / 2 sum (1 - exp(-2 |t(i+1) - t(i)| / T)), because e(i) x e(i+1) has only the fresh part of e(i+1) in
it. T cannot be seen in one walk. With T = 0 errors average out along the track; with T without end every point is off
by the same and the area is right, because the g(i) add up to zero; between the two lies a worst T, roughly that of a
walk along one side. The largest variance over all T is taken. A mixture of independent and drifting error of the same
total s has a variance between the two, so the bound holds for it as well.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt
from typing import Final

import numpy as np
import shapely

from fieldgeo.errors import InputError
from fieldgeo.frame import FloatArray

SURE_95: Final = 1.959964  # half width of the range that holds 95 % of a normal distribution, in standard errors
_MOST_GROUPS: Final = 2_000  # of neighbouring points, that are taken as one in the sum over pairs
_MEMORIES: Final = 48  # values of T that are tried, a constant ratio apart


@dataclass(frozen=True, slots=True, kw_only=True)
class WalkedRing:
    """A ring in the order in which it was walked."""

    points_m: FloatArray  # shape (N, 2), open [m]
    station: FloatArray  # shape (N,): time or way since the beginning of the walk, never falling [s or m]
    sign: float  # by which its signed area goes into that of the field: turns outer rings plus and holes minus


@dataclass(frozen=True, slots=True, kw_only=True)
class WalkSpread:
    """Standard errors of a walked area."""

    independent_sd_m2: float  # if the error of every point were a new one
    worst_sd_m2: float  # at the correlation that makes it largest
    worst_memory: float  # that correlation: the T of the covariance, in the unit of the stations; 0: independent


def independent_area_sd_m2(shape: shapely.Polygon | shapely.MultiPolygon, *, accuracy_m: float) -> float:
    """Return the standard error of an area whose corners have independent errors. [m2]

    sqrt(s^2 / 4 sum |P(i+1) - P(i-1)|^2 + n s^4 / 2) over all rings: see the head of this module for the derivation.

    Parameters
    ----------
    shape : shapely.Polygon or shapely.MultiPolygon
        Outline in a frame; every point of it counts as a corner measured by itself. [m]
    accuracy_m : float
        Standard error of a corner along each axis, >= 0. [m]

    Raises
    ------
    InputError
        If the accuracy is negative or not finite.
    """
    if not 0 <= accuracy_m < float("inf"):
        raise InputError(f"accuracy: got {accuracy_m} m. It must be 0 or more, in metres.")
    variance = 0.0
    for part in shapely.get_parts(shape):
        for ring in (part.exterior, *part.interiors):
            points = shapely.get_coordinates(ring)[:-1]
            variance += _independent_variance(points, accuracy_m)
    return sqrt(variance)


def walk_area_spread(rings: Sequence[WalkedRing], *, accuracy_m: float) -> WalkSpread:
    """Return the standard error of a walked area, at the correlation of the errors that makes it largest.

    The points are those measured, whose error is also in the g(i): where the error is larger than the step between
    points this makes the result somewhat too large, never too small on the average.

    Parameters
    ----------
    rings : sequence of WalkedRing
        All rings of the field, in the order in which they were walked.
    accuracy_m : float
        Standard error of a position along each axis, >= 0. [m]
    """
    independent = sum(_independent_variance(ring.points_m, accuracy_m) for ring in rings)
    stations, vectors = _groups(rings)
    steps = np.diff(stations)
    span = float(stations[-1] - stations[0])
    if span <= 0 or accuracy_m == 0:
        sd_m2 = sqrt(independent)
        return WalkSpread(independent_sd_m2=sd_m2, worst_sd_m2=sd_m2, worst_memory=0.0)
    memories = np.geomspace(span / 1e4, span * 10, _MEMORIES)
    # The exponential covariance has no memory beyond the last point: the sum over pairs runs along the track once.
    fading = np.exp(-steps[:, np.newaxis] / memories)
    past = np.zeros((2, _MEMORIES))
    pairs = np.full(_MEMORIES, float(np.sum(vectors**2)))
    for index, fade in enumerate(fading):
        past = (past + vectors[index][:, np.newaxis]) * fade
        pairs += 2 * (vectors[index + 1] @ past)
    drifting = accuracy_m**2 * pairs + accuracy_m**4 / 2 * _fresh(rings, memories)
    worst = int(np.argmax(drifting))
    is_drift_worse = drifting[worst] > independent
    return WalkSpread(
        independent_sd_m2=sqrt(independent),
        worst_sd_m2=sqrt(max(independent, float(drifting[worst]))),
        worst_memory=float(memories[worst]) if is_drift_worse else 0.0,
    )


def _independent_variance(points_m: FloatArray, accuracy_m: float) -> float:
    across = np.roll(points_m, -1, axis=0) - np.roll(points_m, 1, axis=0)
    return accuracy_m**2 / 4 * float(np.sum(across**2)) + len(points_m) * accuracy_m**4 / 2


def _groups(rings: Sequence[WalkedRing]) -> tuple[FloatArray, FloatArray]:
    """Return stations of shape (M,) and the summed g of the points there, of shape (M, 2), through all rings.

    Neighbours in a group are taken to have the same error: no less than they have.
    """
    stations = np.concatenate([ring.station for ring in rings])
    across = [
        ring.sign * (np.roll(ring.points_m, -1, axis=0) - np.roll(ring.points_m, 1, axis=0)) / 2 for ring in rings
    ]
    vectors = np.concatenate(across)[:, ::-1] * (1.0, -1.0)
    if len(stations) <= _MOST_GROUPS:
        return stations, vectors
    starts = np.linspace(0, len(stations), _MOST_GROUPS, endpoint=False).astype(np.int64)
    sizes = np.diff([*starts, len(stations)])
    return np.add.reduceat(stations, starts) / sizes, np.add.reduceat(vectors, starts)


def _fresh(rings: Sequence[WalkedRing], memories: FloatArray) -> FloatArray:
    """Return the sum over all sides of 1 - exp(-2 dt / T), for each T."""
    steps = [np.abs(np.diff(ring.station, append=ring.station[:1])) for ring in rings]
    every = np.concatenate(steps)
    return np.array([float(np.sum(-np.expm1(-2 * every / memory))) for memory in memories])
