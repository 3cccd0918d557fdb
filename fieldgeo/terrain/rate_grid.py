"""A rate or yield in the cells of a raster, summed exactly over any ground without cutting a single polygon."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import shapely

from fieldgeo.frame import FloatArray
from fieldgeo.terrain.cell_grounds import cell_areas_m2, pieces_of, sides_of
from fieldgeo.terrain.place import Placing

if TYPE_CHECKING:
    from numpy.typing import NDArray


class _Summed(NamedTuple):
    """What cells add to the rest of the ground."""

    own: FloatArray  # (R, C) of each cell [unit]
    before: FloatArray  # (R, C + 1) of all cells before it in the row [unit]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RateGrid:
    """A rate that is the same within each cell of a raster, and one for the rest of the ground.

    Parameters
    ----------
    rates_m2 : ndarray of shape (R, C)
        What a square metre of each cell takes or gives; NaN: that of the rest. [unit/m2]
    placing : Placing
        Where the cells lie.
    rest_m2 : float
        What a square metre elsewhere takes or gives. [unit/m2]
    """

    rates_m2: FloatArray
    placing: Placing
    rest_m2: float
    _summed: _Summed = field(init=False, repr=False)

    def __post_init__(self) -> None:
        rows, columns = self.rates_m2.shape
        more_m2 = np.where(np.isfinite(self.rates_m2), self.rates_m2 - self.rest_m2, 0.0)
        own = more_m2 * cell_areas_m2(rows, columns, self.placing)
        before = np.zeros((rows, columns + 1))
        np.cumsum(own, axis=1, out=before[:, 1:])
        object.__setattr__(self, "_summed", _Summed(own, before))

    def amounts(self, grounds: NDArray[np.object_]) -> FloatArray:
        """Return what each ground takes or gives, shape (G,). [unit]

        Parameters
        ----------
        grounds : ndarray of shape (G,)
            Polygons in the frame. [m]

        Notes
        -----
        Derived. Green's theorem in rows and columns: the integral of f over a polygon is that of F along its rings,
        where F is f summed along the row up to there. Between two lines of cells F is linear along a side, so that the
        middle of each piece of a side gives it exactly. A cell counts with its own size in the frame.
        """
        grounds = np.asarray(grounds, dtype=object)
        pieces = pieces_of(sides_of(grounds, self.placing), *self.rates_m2.shape)
        own, before = self._summed
        upto = before[pieces.row, pieces.column] + pieces.share * own[pieces.row, pieces.column]
        more = np.bincount(pieces.ground, weights=upto * pieces.rise, minlength=len(grounds))
        return np.asarray(np.maximum(self.rest_m2 * shapely.area(grounds) + more, 0.0))
