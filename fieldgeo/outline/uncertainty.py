"""How sure an area is, from how sure the positions round it are."""

from __future__ import annotations

from math import sqrt
from typing import Final

import numpy as np
import shapely

from fieldgeo.errors import InputError

SURE_95: Final = 1.959964  # standard errors on either side that hold 95 of 100, normal distribution


def independent_area_sd_m2(shape: shapely.Polygon | shapely.MultiPolygon, *, accuracy_m: float) -> float:
    r"""Return the standard error of an area whose corners are off, each by itself. [m2]

    Parameters
    ----------
    shape : shapely.Polygon or shapely.MultiPolygon
        Outline in a metric plane. [m]
    accuracy_m : float
        Standard error of a corner along each axis, 0 or more. [m]

    Returns
    -------
    float
        Standard error. [m2]

    Raises
    ------
    InputError
        If the accuracy is negative or not finite.

    Notes
    -----
    .. math:: var = \frac{s^2}{4} \sum |P_{i+1} - P_{i-1}|^2 + \frac{n s^4}{2}

    Error propagation through the shoelace sum; the first term as in the Journal of the Japanese Forest Society
    100:193-200, 2018, the second derived. An error that all corners share moves the field and changes no area.
    """
    if not accuracy_m >= 0 or accuracy_m == float("inf"):
        raise InputError(f"accuracy_m: got {accuracy_m!r}. It must be 0 m or more.")
    variance = 0.0
    for polygon in shapely.get_parts(shape):
        for ring in (polygon.exterior, *polygon.interiors):
            points = shapely.get_coordinates(ring)[:-1]
            chords = np.roll(points, -1, axis=0) - np.roll(points, 1, axis=0)
            variance += accuracy_m**2 / 4 * float((chords**2).sum()) + len(points) * accuracy_m**4 / 2
    return sqrt(variance)
