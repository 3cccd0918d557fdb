"""A rate or yield in the cells of a raster, summed exactly over any ground without cutting a single polygon."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np
import shapely

from fieldgeo.frame import FloatArray
from fieldgeo.terrain.place import Placing

if TYPE_CHECKING:
    from numpy.typing import NDArray

_LONGEST_SIDE_M: Final = 20.0  # a straight side of that length bends by some micrometres in a raster's system
_NOISE: Final = 1e-9  # of a cell
_LATTICE: Final = 33  # places each way at which the size of a cell is measured; between them it changes evenly


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
        pieces = _pieces_of(grounds, self.placing, *self.rates_m2.shape)
        own, before = self._summed
        upto = before[pieces.row, pieces.column] + pieces.share * own[pieces.row, pieces.column]
        more = np.bincount(pieces.ground, weights=upto * pieces.rise, minlength=len(grounds))
        return np.asarray(np.maximum(self.rest_m2 * shapely.area(grounds) + more, 0.0))


def cells_on(shape: shapely.Geometry, rows: int, columns: int, placing: Placing) -> FloatArray:
    """Return the share of each cell that lies on a shape, shape (R, C). [-]

    Parameters
    ----------
    shape : shapely.Polygon or shapely.MultiPolygon
        Ground in the frame. [m]
    rows, columns : int
        Numbers of cells.
    placing : Placing
        Where they lie.

    Notes
    -----
    Derived, as `RateGrid.amounts`: a piece of a side counts for its own cell as far as it stands in it, and for all
    cells before it in the row as a whole.
    """
    pieces = _pieces_of(np.array([shape], dtype=object), placing, rows, columns)
    flat = pieces.row * columns + pieces.column
    own, rise = (
        np.bincount(flat, weights=each, minlength=rows * columns).reshape(rows, columns)
        for each in (pieces.share * pieces.rise, pieces.rise)
    )
    after = np.zeros((rows, columns))
    after[:, :-1] = np.cumsum(rise[:, :0:-1], axis=1)[:, ::-1]
    shares = own + after
    shares[shares < _NOISE] = 0.0
    return np.asarray(shares)


def cell_areas_m2(rows: int, columns: int, placing: Placing) -> FloatArray:
    """Return the size of cells in the frame, shape (R, C). [m2]

    Parameters
    ----------
    rows, columns : int
        How many there are.
    placing : Placing
        Where they lie.

    Notes
    -----
    Derived: cross product of a cell's two ways at places of a lattice, and evenly between those. Across a field the
    size of a cell in degrees changes by a ten-thousandth, and nearly evenly.
    """
    at_row = np.unique(np.linspace(0, rows - 1, min(rows, _LATTICE)).round())
    at_column = np.unique(np.linspace(0, columns - 1, min(columns, _LATTICE)).round())
    row, column = (each.ravel() + 0.5 for each in np.meshgrid(at_row, at_column, indexing="ij"))
    east, north = (
        np.reshape(each, (4, -1))
        for each in placing.places(
            np.concatenate([row, row, row - 0.5, row + 0.5]),
            np.concatenate([column - 0.5, column + 0.5, column, column]),
        )
    )
    lattice = np.abs((east[1] - east[0]) * (north[3] - north[2]) - (north[1] - north[0]) * (east[3] - east[2]))
    sized = lattice.reshape(len(at_row), len(at_column))
    across = np.array([np.interp(np.arange(columns), at_column, each) for each in sized])
    return np.asarray(_shares(rows, at_row) @ across)


def _shares(count: int, at: FloatArray) -> FloatArray:
    """Return how much each place of a lattice counts at each number from 0, shape (count, K)."""
    return np.column_stack([np.interp(np.arange(count), at, each) for each in np.eye(len(at))])


class _Pieces(NamedTuple):
    """The rings of grounds, cut where they cross lines of cells."""

    row: NDArray[np.int64]  # (P,) cell of the middle of each piece
    column: NDArray[np.int64]  # (P,)
    share: FloatArray  # (P,) how far into the cell the middle lies, along the row [-]
    rise: FloatArray  # (P,) in rows, > 0 where the ground lies before it in the row
    ground: NDArray[np.int64]  # (P,)


def _pieces_of(grounds: NDArray[np.object_], placing: Placing, rows: int, columns: int) -> _Pieces:
    x, y, ground = _sides(grounds, placing)
    middle_x, middle_y, rise, side = _cut(x, y)
    is_in = (middle_y > 0) & (middle_y < rows)
    along = np.clip(middle_x[is_in], 0, columns)
    column = np.minimum(along.astype(np.int64), columns - 1)
    a, b, _, d, e, _ = placing.transform
    return _Pieces(
        row=np.floor(middle_y[is_in]).astype(np.int64),
        column=column,
        share=along - column,
        rise=rise[is_in] * np.sign(a * e - b * d),
        ground=ground[side[is_in]],
    )


def _sides(grounds: NDArray[np.object_], placing: Placing) -> tuple[FloatArray, FloatArray, NDArray[np.int64]]:
    """Return the sides of grounds in columns and rows, each (S, 2), and the ground of each, shape (S,)."""
    parts, part_ground = shapely.get_parts(
        shapely.orient_polygons(shapely.segmentize(grounds, _LONGEST_SIDE_M)), return_index=True
    )
    is_polygon = shapely.get_type_id(parts) == shapely.GeometryType.POLYGON
    rings, ring_part = shapely.get_rings(parts[is_polygon], return_index=True)
    xy, ring = shapely.get_coordinates(rings, return_index=True)
    if len(xy) == 0:
        return np.empty((0, 2)), np.empty((0, 2)), np.empty(0, dtype=np.int64)
    row, column = placing.cells(xy[:, 0], xy[:, 1])
    first = np.flatnonzero(ring[1:] == ring[:-1])
    ground = part_ground[is_polygon][ring_part[ring[first]]]
    ends = np.column_stack([first, first + 1])
    return column[ends], row[ends], ground.astype(np.int64)


def _cut(x: FloatArray, y: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray, NDArray[np.int64]]:
    """Return the middles of the pieces into which the lines of cells cut sides, their rise, and their side."""
    shares, sides = [np.zeros(len(x)), np.ones(len(x))], [np.arange(len(x))] * 2
    for ends in (x, y):
        low, high = np.sort(ends, axis=1).T
        first = np.floor(low) + 1
        count = np.maximum(np.ceil(high) - first, 0).astype(np.int64)
        side = np.repeat(np.arange(len(ends)), count)
        line = first[side] + np.arange(len(side)) - np.repeat(np.cumsum(count) - count, count)
        sides.append(side)
        shares.append((line - ends[side, 0]) / (ends[side, 1] - ends[side, 0]))
    share, side = np.concatenate(shares), np.concatenate(sides)
    order = np.lexsort((share, side))
    share, side = share[order], side[order]
    is_piece = side[1:] == side[:-1]
    start, end, side = share[:-1][is_piece], share[1:][is_piece], side[:-1][is_piece]
    middle = (start + end) / 2
    run, rise = np.diff(x, axis=1)[side, 0], np.diff(y, axis=1)[side, 0]
    return x[side, 0] + middle * run, y[side, 0] + middle * rise, (end - start) * rise, side
