"""Zones of a rate or a yield: polygons with a value each, and a value for the rest of the field."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from fieldgeo.errors import InputError
from fieldgeo.layout.axes import Floats
from fieldgeo.layout.overlay import intersections, union

_OVERLAP_M2: Final = 1.0  # zones may share as much by the roundness of their corners


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Zones:
    """A rate that is the same within each zone.

    Parameters
    ----------
    shapes : ndarray of shape (Z,)
        Polygons in the frame; they do not overlap. [m]
    rates_m2 : ndarray of shape (Z,)
        What a square metre of each takes or gives, >= 0. [unit/m2]
    rest_m2 : float
        The same outside every zone, >= 0. [unit/m2]

    Raises
    ------
    InputError
        If a rate is not a finite number or below zero, all are zero, the numbers do not agree, or zones overlap.
    """

    shapes: NDArray[np.object_]
    rates_m2: Floats
    rest_m2: float

    def __post_init__(self) -> None:
        rates = np.append(self.rates_m2, self.rest_m2)
        if len(self.shapes) != len(rates) - 1:
            raise InputError(f"zones: got {len(self.shapes)} zones and {len(rates) - 1} rates. Give one for each.")
        if not (np.isfinite(rates).all() and (rates >= 0).all() and rates.any()):
            raise InputError("zones: a rate is below zero or no finite number, or all are zero. Give rates above zero.")
        over_m2 = float(shapely.area(self.shapes).sum()) - (union(self.shapes).area if len(self.shapes) else 0.0)
        if over_m2 > _OVERLAP_M2:
            raise InputError(f"zones: they overlap on {over_m2:,.0f} m2. Each place must lie in one zone.")

    def amounts(self, grounds: NDArray[np.object_]) -> Floats:
        """Return what each ground takes or gives, shape (G,). [unit]

        Parameters
        ----------
        grounds : ndarray of shape (G,)
            Polygons in the frame. [m]

        Notes
        -----
        Derived: the rate of the rest on all ground, and what each zone's rate is above or below it on what lies in it.
        """
        grounds = np.asarray(grounds, dtype=object)
        total = self.rest_m2 * shapely.area(grounds)
        if len(self.shapes) and len(grounds):
            zone, ground = shapely.STRtree(grounds).query(self.shapes, predicate="intersects")
            shared_m2 = shapely.area(intersections(grounds[ground], self.shapes[zone]))
            more = (self.rates_m2[zone] - self.rest_m2) * shared_m2
            total += np.bincount(ground, weights=more, minlength=len(grounds))
        return np.asarray(np.maximum(total, 0.0))
