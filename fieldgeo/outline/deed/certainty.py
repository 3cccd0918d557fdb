"""How sure the area of a deed is, from how its calls close and from the digits they are written with.

Two causes are added as variances:

- Chance errors of measuring. Each course is off by an error of its own, of any direction, its variance growing with the
  length of the course: the model under which the compass rule is the best adjustment. The misclosure is the sum of all
  of them and the one thing that shows their size: two numbers, so two degrees of freedom, and the range that holds the
  true area 95 times in 100 is 4.303 standard deviations to each side (Student's t). What the adjusted area is off by
  does not depend on the misclosure, so the range holds at its stated rate (derived below, tried by simulation).
- Written digits: each distance and bearing may be off by half of its last digit either way, all values alike. They are
  in the misclosure as well; counting them again keeps the range from shrinking to nothing where a deed closes by chance
  or was made to close.

A chain that was too long, a compass that was off in all its readings, or a blunder that closes is in neither.
"""

from __future__ import annotations

from math import radians, sqrt
from typing import TYPE_CHECKING, Final

import numpy as np

from fieldgeo.frame import FloatArray
from fieldgeo.outline.deed.closure import corners_m

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fieldgeo.outline.deed.courses import LaidCall
    from fieldgeo.outline.deed.values import Angle, Distance

# Student's t, two-sided 95 %, two degrees of freedom; and the normal distribution: any table of them.
T_2_95: Final = 4.302653
NORMAL_95: Final = 1.959964
_WHOLE_DEGREE: Final = 1.0  # digits of "North" in a deed that has no angles


def closure_sd_m2(adjusted_m: FloatArray, lengths_m: FloatArray, misclosure_m: float) -> float:
    """Return the standard deviation of the adjusted area that the misclosure speaks of; of two degrees of freedom. [m2]

    Parameters
    ----------
    adjusted_m : ndarray of shape (N, 2)
        Adjusted departures and latitudes. [m]
    lengths_m : ndarray of shape (N,)
        Length of each course. [m]
    misclosure_m : float
        Misclosure before adjustment. [m]

    Notes
    -----
    Derived. Errors e of the courses have variance k k L along each axis, L the length; the misclosure w is their sum
    and k k is estimated by w w / (2 P), P the perimeter. To first order the area changes by the sum of M x e, M the
    middle of each course (and x the cross product). Adjustment takes w L / P from each e, which leaves the sum of
    (M - C) x e, C the mean of the middles by length; its variance is k k times the sum of L |M - C|^2,
    and it is independent of w.
    """
    return misclosure_m * sqrt(_spread_m3(adjusted_m, lengths_m) / (2.0 * float(lengths_m.sum())))


def digits_sd_m2(laid: Sequence[LaidCall], adjusted_m: FloatArray, lengths_m: FloatArray) -> float:
    """Return the standard deviation of the adjusted area that the written digits leave open. [m2]

    Parameters
    ----------
    laid : sequence of LaidCall
        N calls.
    adjusted_m : ndarray of shape (N, 2)
        Adjusted departures and latitudes. [m]
    lengths_m : ndarray of shape (N,)
        Length of each course. [m]

    Notes
    -----
    Derived, as `closure_sd_m2`, with the error of a course h / root 3 along it, h half of the last digit of its
    distance, and L b / root 3 across, b half of the last digit of its bearing. "North" alone has the digits of the
    finest bearing of the deed, or of whole degrees where there is none. The area between a curve and its chord is taken
    as sure.
    """
    finest_deg = min((a.last_digit_deg for a in map(_angle, laid) if a is not None), default=_WHOLE_DEGREE)
    variance_m4 = 0.0
    arms = _arms_m(adjusted_m, lengths_m)
    for one, arm, step in zip(laid, arms, adjusted_m, strict=True):
        size_m = float(np.hypot(*step))
        if one.is_computed or size_m == 0.0:
            continue
        along = step / size_m
        angle, distance = _angle(one), _distance(one)
        half_m = distance.last_digit_m / 2.0 if distance is not None else 0.0
        half_rad = radians(angle.last_digit_deg if angle is not None else finest_deg) / 2.0
        cross = float(arm[0] * along[1] - arm[1] * along[0])
        dot = float(arm @ along)
        variance_m4 += (cross * half_m) ** 2 / 3.0 + (dot * size_m * half_rad) ** 2 / 3.0
    return sqrt(variance_m4)


def half_width_m2(closure_m2: float, digits_m2: float) -> float:
    """Return half of the range that holds the true area 95 times in 100. [m2]

    Parameters
    ----------
    closure_m2, digits_m2 : float
        Standard deviations from the misclosure and from the digits. [m2]
    """
    return float(np.hypot(T_2_95 * closure_m2, NORMAL_95 * digits_m2))


def _arms_m(steps_m: FloatArray, lengths_m: FloatArray) -> FloatArray:
    """Return the middle of each course from the mean of all middles by length, shape (N, 2). [m]"""
    middles = corners_m(steps_m) + steps_m / 2.0
    return np.asarray(middles - np.average(middles, axis=0, weights=lengths_m))


def _spread_m3(steps_m: FloatArray, lengths_m: FloatArray) -> float:
    arms = _arms_m(steps_m, lengths_m)
    return float(np.sum(lengths_m * np.sum(arms**2, axis=1)))


def _angle(one: LaidCall) -> Angle | None:
    words = one.call.curve
    bearing = one.call.bearing if words is None else words.chord_bearing or words.radial or words.tangent_bearing
    return bearing.angle if bearing is not None else None


def _distance(one: LaidCall) -> Distance | None:
    words = one.call.curve
    return one.call.distance if words is None else words.chord or words.arc or words.radius
