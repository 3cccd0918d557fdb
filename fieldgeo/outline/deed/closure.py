"""How the calls of a deed close: misclosure, precision, the compass rule, and the area of what they go round."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from fieldgeo.frame import FloatArray, azimuth_deg

# Common practice, no source: better than 1:5,000 passes, worse than 1:1,000 is not gone on with unasked.
GOOD_PRECISION: Final = 5000.0
POOR_PRECISION: Final = 1000.0
_EXACT: Final = 1e-10  # of the perimeter: no more than the last digits of sines and cosines


@dataclass(frozen=True, slots=True, kw_only=True)
class Closure:
    """How a figure closes."""

    perimeter_m: float
    gap_m: FloatArray  # shape (2,): sums of departures and latitudes; from the beginning to the end of the last call
    misclosure_m: float  # 0 where it closes exactly

    @property
    def is_exact(self) -> bool:
        """Whether it closes to the last digit."""
        return self.misclosure_m == 0.0

    @property
    def precision(self) -> float | None:
        """Perimeter over misclosure, the N of 1:N; None where it closes exactly. [-]"""
        return None if self.is_exact else self.perimeter_m / self.misclosure_m

    @property
    def azimuth_deg(self) -> float | None:
        """Azimuth from the end of the last call to the beginning; None where it closes exactly. [deg]"""
        return None if self.is_exact else float(azimuth_deg(-self.gap_m[0], -self.gap_m[1]))


def closure(steps_m: FloatArray, lengths_m: FloatArray) -> Closure:
    """Return how courses close.

    Parameters
    ----------
    steps_m : ndarray of shape (N, 2)
        Departure and latitude of each course. [m]
    lengths_m : ndarray of shape (N,)
        Length of each course, along its curve. [m]

    Notes
    -----
    Misclosure = root of (sum of latitudes squared + sum of departures squared); precision = 1 : perimeter / misclosure
    (course notes on traverse computations, several schools).
    """
    gap_m = steps_m.sum(axis=0)
    perimeter_m = float(lengths_m.sum())
    misclosure_m = float(np.hypot(*gap_m))
    return Closure(
        perimeter_m=perimeter_m,
        gap_m=gap_m,
        misclosure_m=0.0 if misclosure_m <= _EXACT * perimeter_m else misclosure_m,
    )


def compass_rule_m(steps_m: FloatArray, lengths_m: FloatArray) -> FloatArray:
    """Return courses that close: the misclosure spread over them by their lengths. [m]

    Parameters
    ----------
    steps_m : ndarray of shape (N, 2)
        Departure and latitude of each course. [m]
    lengths_m : ndarray of shape (N,)
        Length of each course. [m]

    Returns
    -------
    ndarray of shape (N, 2)
        Adjusted departures and latitudes.

    Notes
    -----
    Correction of a latitude (departure) = -(sum of latitudes (departures)) x length of the course / perimeter, the
    compass rule (course notes on traverse computations, several schools).
    """
    return np.asarray(steps_m - np.outer(lengths_m / lengths_m.sum(), steps_m.sum(axis=0)))


def corners_m(steps_m: FloatArray) -> FloatArray:
    """Return where each course begins, the first at (0, 0). [m]

    Parameters
    ----------
    steps_m : ndarray of shape (N, 2)
        Departure and latitude of each course. [m]

    Returns
    -------
    ndarray of shape (N, 2)
        East and north.
    """
    return np.vstack([np.zeros((1, 2)), np.cumsum(steps_m, axis=0)[:-1]])


def raw_steps_m(steps_m: FloatArray) -> FloatArray:
    """Return the courses as written, the last drawn by a straight line to the beginning: nothing is adjusted. [m]

    Parameters
    ----------
    steps_m : ndarray of shape (N, 2)
        Departure and latitude of each course. [m]

    Returns
    -------
    ndarray of shape (N, 2)
        Courses that close; every corner but the beginning is where the calls put it.
    """
    steps = steps_m.copy()
    steps[-1] -= steps_m.sum(axis=0)
    return steps


def signed_area_m2(steps_m: FloatArray) -> float:
    """Return the area that closed courses go round, by double meridian distances; counter-clockwise positive. [m2]

    Parameters
    ----------
    steps_m : ndarray of shape (N, 2)
        Departure and latitude of each course; their sums are zero. [m]

    Notes
    -----
    Double meridian distance of a course = that of the course before + its departure + the departure before; twice the
    area is the sum of double meridian distance x latitude (course notes on traverse computations, several schools).

    Examples
    --------
    >>> signed_area_m2(np.array([[3.0, 0.0], [0.0, 2.0], [-3.0, 0.0], [0.0, -2.0]]))
    6.0
    """
    departures, latitudes = steps_m.T
    double_meridian_m = 2.0 * np.cumsum(departures) - departures
    return float(np.sum(double_meridian_m * latitudes) / 2.0)
