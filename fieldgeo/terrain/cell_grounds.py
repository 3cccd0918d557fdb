"""Grounds and the cells of a raster: their shares of cells, how many lie over the middle of each, sizes of cells.

All of it follows the rings of the grounds, row by row of cells: no polygon is cut, and no cell is looked at one by one.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np
import shapely

from fieldgeo.frame import FloatArray

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fieldgeo.terrain.place import Placing

_LONGEST_SIDE_M: Final = 20.0  # a straight side of that length bends by some micrometres in a raster's system
_NOISE: Final = 1e-9  # of a cell
_LATTICE: Final = 33  # places each way at which the size of a cell is measured; between them it changes evenly


class Sides(NamedTuple):
    """The sides of grounds in columns and rows of a raster."""

    column: FloatArray  # (S, 2) of both ends
    row: FloatArray  # (S, 2)
    ground: NDArray[np.int64]  # (S,) the ground that each belongs to
    turn: float  # 1 where rows and columns turn as the frame does, -1 where they are its mirror image

    def from_row(self, row: int) -> Sides:
        """Return the sides with rows counted from another one.

        Parameters
        ----------
        row : int
            The row that becomes 0.
        """
        return self._replace(row=self.row - row)


class Pieces(NamedTuple):
    """The sides of grounds, cut where they cross lines of cells."""

    row: NDArray[np.int64]  # (P,) cell of the middle of each piece
    column: NDArray[np.int64]  # (P,)
    share: FloatArray  # (P,) how far into the cell the middle lies, along the row [-]
    rise: FloatArray  # (P,) in rows, > 0 where the ground lies before it in the row
    ground: NDArray[np.int64]  # (P,)


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
    """
    return shares_on(sides_of(np.array([shape], dtype=object), placing), rows, columns)


def shares_on(sides: Sides, rows: int, columns: int) -> FloatArray:
    """Return the shares of each cell that lie on grounds, summed over the grounds, shape (R, C). [-]

    Parameters
    ----------
    sides : Sides
        Sides of the grounds.
    rows, columns : int
        Numbers of cells.

    Notes
    -----
    Derived, as `fieldgeo.terrain.rate_grid.RateGrid.amounts`: a piece of a side counts for its own cell as far as it
    stands in it, and for all cells before it in the row as a whole.
    """
    pieces = pieces_of(sides, rows, columns)
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


def counts_on(sides: Sides, rows: int, columns: int) -> NDArray[np.int64]:
    """Return how many grounds lie over the middle of each cell, shape (R, C).

    Parameters
    ----------
    sides : Sides
        Sides of the grounds.
    rows, columns : int
        Numbers of cells.

    Notes
    -----
    Derived: along the middle of a row of cells, each side that is crossed counts one for all cells before it, up or
    down. A side holds its lower end and not its upper one, so that no corner counts twice.
    """
    low, high = np.sort(sides.row, axis=1).T
    first = np.maximum(np.ceil(low - 0.5), 0).astype(np.int64)
    count = np.maximum(np.minimum(np.ceil(high - 0.5), rows).astype(np.int64) - first, 0)
    side = np.repeat(np.arange(len(count)), count)
    row = first[side] + np.arange(len(side)) - np.repeat(np.cumsum(count) - count, count)
    (x0, x1), (y0, y1) = sides.column[side].T, sides.row[side].T
    crossed = x0 + (row + 0.5 - y0) * (x1 - x0) / (y1 - y0)
    before = np.clip(np.ceil(crossed - 0.5), 0, columns).astype(np.int64)  # cells whose middle lies before it
    steps = np.bincount(
        row * (columns + 1) + before, weights=np.sign(y1 - y0) * sides.turn, minlength=rows * (columns + 1)
    ).reshape(rows, columns + 1)
    return np.asarray(np.cumsum(steps[:, :0:-1], axis=1)[:, ::-1].round().astype(np.int64))


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


def pieces_of(sides: Sides, rows: int, columns: int) -> Pieces:
    """Return sides cut where they cross lines of cells, those in so many rows.

    Parameters
    ----------
    sides : Sides
        Sides of grounds.
    rows, columns : int
        Numbers of cells.
    """
    is_near = (sides.row.max(axis=1) > 0) & (sides.row.min(axis=1) < rows)
    middle_x, middle_y, rise, side = _cut(sides.column[is_near], sides.row[is_near])
    is_in = (middle_y > 0) & (middle_y < rows)
    along = np.clip(middle_x[is_in], 0, columns)
    column = np.minimum(along.astype(np.int64), columns - 1)
    return Pieces(
        row=np.floor(middle_y[is_in]).astype(np.int64),
        column=column,
        share=along - column,
        rise=rise[is_in] * sides.turn,
        ground=sides.ground[is_near][side[is_in]],
    )


def sides_of(grounds: NDArray[np.object_], placing: Placing) -> Sides:
    """Return the sides of grounds in columns and rows.

    Parameters
    ----------
    grounds : ndarray of shape (G,)
        Polygons in the frame. [m]
    placing : Placing
        Where the cells lie.
    """
    a, b, _, d, e, _ = placing.transform
    turn = float(np.sign(a * e - b * d))
    parts, part_ground = shapely.get_parts(
        shapely.orient_polygons(shapely.segmentize(grounds, _LONGEST_SIDE_M)), return_index=True
    )
    is_polygon = shapely.get_type_id(parts) == shapely.GeometryType.POLYGON
    rings, ring_part = shapely.get_rings(parts[is_polygon], return_index=True)
    xy, ring = shapely.get_coordinates(rings, return_index=True)
    if len(xy) == 0:
        return Sides(np.empty((0, 2)), np.empty((0, 2)), np.empty(0, dtype=np.int64), turn)
    row, column = placing.cells(xy[:, 0], xy[:, 1])
    first = np.flatnonzero(ring[1:] == ring[:-1])
    ground = part_ground[is_polygon][ring_part[ring[first]]]
    ends = np.column_stack([first, first + 1])
    return Sides(column[ends], row[ends], ground.astype(np.int64), turn)


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
