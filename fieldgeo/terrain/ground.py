"""The slope of the ground about a field: gradients from heights, smoothed to the width of a tool.

The gradient of a cell is the 3 x 3 weighted difference of its neighbours' heights. It is taken along the raster's own
rows and columns and turned into the frame by the places of the cells, so that a raster in degrees, in feet, or one that
is turned needs no resampling. Smoothing gradients is the same as smoothing heights first (both are weighted sums), but
it leaves a plane a plane at the rim of the data, too.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import floor
from typing import TYPE_CHECKING, Final

import numpy as np

from fieldgeo.terrain.raster import read_heights

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import ArrayLike, NDArray

    from fieldgeo.frame import FloatArray
    from fieldgeo.outline.field import Field
    from fieldgeo.terrain.raster import Heights

_NEIGHBOURS: Final = [(row, column) for row in (-1, 0, 1) for column in (-1, 0, 1) if (row, column) != (0, 0)]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Terrain:
    """The slope of the ground about a field, cell by cell."""

    heights: Heights
    width_m: float  # to which it is smoothed [m]
    east: FloatArray  # (R, C) rise over run eastward in the frame, NaN where it is not known [-]
    north: FloatArray  # (R, C) northward [-]
    is_rim: NDArray[np.bool_]  # (R, C) taken from the cells beside it, since the data end there

    def gradient(self, x_m: ArrayLike, y_m: ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Return the gradient of the cells that places lie in; NaN where it is not known. [-]

        Parameters
        ----------
        x_m, y_m : array_like of shape (N,)
            Places in the frame. [m]

        Returns
        -------
        tuple of ndarray of shape (N,)
            Rise over run, eastward and northward.
        """
        row, column, is_within = self._cells(x_m, y_m)
        return (
            np.where(is_within, self.east[row, column], np.nan),
            np.where(is_within, self.north[row, column], np.nan),
        )

    def is_at_rim(self, x_m: ArrayLike, y_m: ArrayLike) -> NDArray[np.bool_]:
        """Return whether the slope at places is that of the cells beside.

        Parameters
        ----------
        x_m, y_m : array_like of shape (N,)
            Places in the frame. [m]
        """
        row, column, is_within = self._cells(x_m, y_m)
        return np.asarray(is_within & self.is_rim[row, column])

    def _cells(self, x_m: ArrayLike, y_m: ArrayLike) -> tuple[NDArray[np.intp], NDArray[np.intp], NDArray[np.bool_]]:
        rows, columns = self.heights.placing.cells(x_m, y_m)
        row, column = np.floor(rows).astype(np.intp), np.floor(columns).astype(np.intp)
        high, wide = self.east.shape
        is_within = (row >= 0) & (row < high) & (column >= 0) & (column < wide)
        return np.clip(row, 0, high - 1), np.clip(column, 0, wide - 1), is_within


def read_terrain(
    path: str | Path, field: Field, *, width_m: float, crs: str | None = None, unit_m: float | None = None
) -> Terrain:
    """Return the slope of the ground about a field from an elevation raster.

    Parameters
    ----------
    path : str or Path
        Elevation raster.
    field : Field
        The field.
    width_m : float
        Width to smooth to, such as that of the tool, > 0. [m]
    crs : str, optional
        Coordinate system of the raster, for one that names none.
    unit_m : float, optional
        Unit of its heights, for one that does not state it. [m]

    Raises
    ------
    FileError, CrsError, InputError
        As `fieldgeo.terrain.raster.read_heights`.
    """
    return slope_terrain(read_heights(path, field, width_m=width_m, crs=crs, unit_m=unit_m), width_m=width_m)


def slope_terrain(heights: Heights, *, width_m: float) -> Terrain:
    """Return the slope of the ground from its heights.

    Parameters
    ----------
    heights : Heights
        Heights about a field.
    width_m : float
        Width to smooth to, > 0; cells that are larger are left as they are. [m]
    """
    east, north = gradients(heights.height_m, *cell_middles(heights))
    across, down = box_weights(width_m / heights.cell_m[0]), box_weights(width_m / heights.cell_m[1])
    is_known = np.isfinite(heights.height_m)
    smooth = [_weighted_mean(each, across, down, is_known) for each in (east, north)]
    is_missing = is_known & ~np.isfinite(smooth[0])
    filled = [_from_neighbours(each, is_missing) for each in smooth]
    is_rim = is_known & ~np.isfinite(east)
    return Terrain(heights=heights, width_m=width_m, east=filled[0], north=filled[1], is_rim=is_rim)


def box_mean(heights: Heights, width_m: float) -> FloatArray:
    """Return heights smoothed to a width, for contours that can be read; NaN where there is none. [m]

    Parameters
    ----------
    heights : Heights
        Heights about a field.
    width_m : float
        Width to smooth to, > 0. [m]

    Notes
    -----
    Derived. At the rim of the data a mean lies off to one side; it is brought back by the mean slope times that
    distance, so that a plane stays a plane there too.
    """
    across, down = box_weights(width_m / heights.cell_m[0]), box_weights(width_m / heights.cell_m[1])
    height_m = heights.height_m
    is_known = np.isfinite(height_m)
    if len(across) == len(down) == 1:
        return height_m
    x_m, y_m = cell_middles(heights)
    smooth, x_mean, y_mean, east, north = (
        _weighted_mean(np.where(is_known, each, np.nan), across, down, is_known)
        for each in (height_m, x_m, y_m, *gradients(height_m, x_m, y_m))
    )
    return smooth + np.nan_to_num(east) * (x_m - x_mean) + np.nan_to_num(north) * (y_m - y_mean)


def cell_middles(heights: Heights) -> tuple[FloatArray, FloatArray]:
    """Return the places of the middles of cells, east and north in the frame, each of shape (R, C). [m]

    Parameters
    ----------
    heights : Heights
        Heights about a field.
    """
    shape = heights.height_m.shape
    rows, columns = np.indices(shape) + 0.5
    x_m, y_m = heights.placing.places(rows.ravel(), columns.ravel())
    return x_m.reshape(shape), y_m.reshape(shape)


def gradients(height_m: FloatArray, x_m: FloatArray, y_m: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the gradient of each cell by the 3 x 3 weighted difference, eastward and northward. [-]

    Parameters
    ----------
    height_m : ndarray of shape (R, C)
        Heights, NaN where there is none. [m]
    x_m, y_m : ndarray of shape (R, C)
        Places of the middles of the cells, east and north. [m]

    Returns
    -------
    tuple of ndarray of shape (R, C)
        Rise over run; NaN at the rim, where one of the nine heights is missing, and where the cell has none itself.

    Notes
    -----
    With a b c / d e f / g h i the heights about e: along the columns ((c + 2f + i) - (a + 2d + g)) / 8 to a cell, along
    the rows ((g + 2h + i) - (a + 2b + c)) / 8 [1]_. The places of the neighbours tell how far, and which way, a column
    and a row lead; the gradient in the plane follows by the chain rule (derived).

    References
    ----------
    .. [1] "Hill shading and the reflectance map", Proceedings of the IEEE 69, 1981, as given in the documentation of
       the GDAL library.
    """
    east, north = np.full(height_m.shape, np.nan), np.full(height_m.shape, np.nan)
    if min(height_m.shape) < 3:
        return east, north
    by_column, by_row = _differences(height_m)
    (x_column, x_row), (y_column, y_row) = _differences(x_m), _differences(y_m)
    determinant = x_column * y_row - y_column * x_row
    is_known = np.where(np.isfinite(height_m[1:-1, 1:-1]), 1.0, np.nan)
    east[1:-1, 1:-1] = (by_column * y_row - by_row * y_column) / determinant * is_known
    north[1:-1, 1:-1] = (by_row * x_column - by_column * x_row) / determinant * is_known
    return east, north


def _differences(grid: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the 3 x 3 weighted differences of a grid to a column and to a row, without the rim."""
    across = grid[:, 2:] - grid[:, :-2]
    down = grid[2:, :] - grid[:-2, :]
    return (
        (across[:-2] + 2 * across[1:-1] + across[2:]) / 8,
        (down[:, :-2] + 2 * down[:, 1:-1] + down[:, 2:]) / 8,
    )


def box_weights(cells: float) -> FloatArray:
    """Return the weights of a mean over so many cells along one axis, those at the ends counted in part.

    Parameters
    ----------
    cells : float
        Width in cells, > 0; one cell or less is the cell alone. [-]

    Examples
    --------
    >>> box_weights(2.0).tolist(), box_weights(0.3).tolist()
    ([0.5, 1.0, 0.5], [1.0])
    """
    reach = max(cells - 1, 0.0) / 2
    whole, part = floor(reach), reach - floor(reach)
    ends = [part] if part > 1e-9 else []
    return np.array([*ends, *[1.0] * (2 * whole + 1), *ends])


def _weighted_mean(grid: FloatArray, across: FloatArray, down: FloatArray, is_wanted: NDArray[np.bool_]) -> FloatArray:
    """Return the mean of what is known about each cell, under weights along both axes."""
    if len(across) == len(down) == 1:
        return grid
    is_known = np.isfinite(grid)
    total = _summed(_summed(np.where(is_known, grid, 0.0), across, 1), down, 0)
    weight = _summed(_summed(is_known.astype(float), across, 1), down, 0)
    return np.where(is_wanted & (weight > 0), total / np.where(weight > 0, weight, 1.0), np.nan)


def _summed(grid: FloatArray, weights: FloatArray, axis: int) -> FloatArray:
    reach = len(weights) // 2
    padded = np.pad(grid, [(reach, reach) if at == axis else (0, 0) for at in (0, 1)])
    length = grid.shape[axis]
    total = np.zeros(grid.shape)
    for at, weight in enumerate(weights.tolist()):
        total += weight * (padded[:, at : at + length] if axis else padded[at : at + length])
    return total


def _from_neighbours(grid: FloatArray, is_missing: NDArray[np.bool_]) -> FloatArray:
    """Return a grid in which missing cells have the mean of the neighbours that are known."""
    if not is_missing.any():
        return grid
    padded = np.pad(grid, 1, constant_values=np.nan)
    high, wide = grid.shape
    beside = np.stack([padded[1 + r : 1 + r + high, 1 + c : 1 + c + wide] for r, c in _NEIGHBOURS])
    is_known = np.isfinite(beside)
    count = is_known.sum(axis=0)
    mean = np.where(is_known, beside, 0.0).sum(axis=0) / np.maximum(count, 1)
    return np.where(is_missing & (count > 0), mean, grid)
