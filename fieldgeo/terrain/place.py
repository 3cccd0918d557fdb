"""Where the cells of a raster lie: between rows and columns, the raster's own system, and the frame of a field."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
import pyproj

from fieldgeo.frame import LONLAT, FloatArray, Frame, crs_to_lonlat

if TYPE_CHECKING:
    from numpy.typing import ArrayLike


@dataclass(frozen=True, slots=True, kw_only=True)
class Placing:
    """Places of cells. Row 0, column 0 begins at the raster's first corner; its middle is row 0.5, column 0.5."""

    frame: Frame
    crs: pyproj.CRS
    transform: tuple[float, float, float, float, float, float]  # a, b, c, d, e, f: x = a col + b row + c, y = d, e, f
    middle_x: float = 0.0  # of the raster, in its own system; tells longitudes beyond 180 degrees

    def cells(self, x_m: ArrayLike, y_m: ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Return rows and columns, with fractions, of places in the frame; infinite where the system shows none.

        Parameters
        ----------
        x_m, y_m : array_like of shape (N,)
            Places in the frame. [m]
        """
        lon_deg, lat_deg = self.frame.to_lonlat(x_m, y_m)
        x, y = _from_lonlat(self.crs).transform(lon_deg, lat_deg)
        x, y = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
        if self._is_in_degrees:
            x = x + 360.0 * np.round((self.middle_x - x) / 360.0)
        a, b, c, d, e, f = self.transform
        determinant = a * e - b * d
        columns = (e * (x - c) - b * (y - f)) / determinant
        rows = (a * (y - f) - d * (x - c)) / determinant
        return rows, columns

    def places(self, rows: ArrayLike, columns: ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Return places in the frame of rows and columns. [m]

        Parameters
        ----------
        rows, columns : array_like of shape (N,)
            With fractions.
        """
        a, b, c, d, e, f = self.transform
        row, column = np.asarray(rows, dtype=float), np.asarray(columns, dtype=float)
        lon_deg, lat_deg = crs_to_lonlat(a * column + b * row + c, d * column + e * row + f, self.crs)
        return self.frame.to_frame(lon_deg, lat_deg)

    def blocked(self, *, row: int, column: int, block: int) -> Placing:
        """Return the places of square blocks of cells.

        Parameters
        ----------
        row, column : int
            First row and column of the first block.
        block : int
            Cells to a side of a block, >= 1.
        """
        a, b, c, d, e, f = self.transform
        corner = (a * column + b * row + c, d * column + e * row + f)
        return replace(self, transform=(a * block, b * block, corner[0], d * block, e * block, corner[1]))

    def cell_m(self, row: float, column: float) -> tuple[float, float]:
        """Return how far one column and one row lead at a place. [m]

        Parameters
        ----------
        row, column : float
            The place.
        """
        x_m, y_m = self.places([row, row, row + 1], [column, column + 1, column])
        return float(np.hypot(x_m[1] - x_m[0], y_m[1] - y_m[0])), float(np.hypot(x_m[2] - x_m[0], y_m[2] - y_m[0]))

    @property
    def _is_in_degrees(self) -> bool:
        return self.crs.is_geographic and self.crs.axis_info[0].unit_name == "degree"


@lru_cache(maxsize=16)
def _from_lonlat(crs: pyproj.CRS) -> pyproj.Transformer:
    return pyproj.Transformer.from_crs(LONLAT, crs, always_xy=True)
