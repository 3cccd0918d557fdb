"""An elevation raster as it is read: only the window that a field needs, in whatever system and unit it comes.

A raster may be larger than memory. Only the cells about the field are read, piece by piece, and where they are much
finer than the tool is wide, square blocks of them are taken as their mean.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, floor
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np
import shapely

from fieldgeo.errors import InputError
from fieldgeo.frame import FloatArray, crs_to_lonlat, parse_crs
from fieldgeo.outline.files.geojson import plain_name
from fieldgeo.terrain.opening import holds_whole_units, opened_raster, stated_unit_m, system_of
from fieldgeo.terrain.place import Placing

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fieldgeo.outline.field import Field

LOWEST_M: Final = -500.0  # lower is a no-data value that is not marked: common practice, no source
HIGHEST_M: Final = 9000.0  # own choice: above the highest mountain
CELLS_TO_A_WIDTH: Final = 4  # own choice: finer cells are taken together; they are smoothed to the width anyway
MOST_CELLS: Final = 1_000_000  # kept; own choice, 100 ha in cells of a metre
MOST_READ: Final = 2_000_000_000  # own choice: more cells about one field are not read through
_PIECE_CELLS: Final = 4_000_000  # read at a time, 32 MB
_RIM_CELLS: Final = 2  # about the field: one for the 3 x 3 window, one to spare
_OUTLINE_STEP_M: Final = 100.0  # own choice: straight sides bend a little in another system


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Heights:
    """Heights about a field, on the raster's own cells or on square blocks of them."""

    height_m: FloatArray  # (R, C), NaN where there is none [m]
    placing: Placing  # where the cells lie
    cell_m: tuple[float, float]  # how far a column and a row lead [m]
    raster_cell_m: tuple[float, float]  # the same of the raster's own cells [m]
    crs_name: str
    unit_m: float  # of the heights in the file [m]
    is_unit_assumed: bool
    out_of_range: int  # cells left out because no ground is that low or that high
    holds_whole_units: bool  # heights are whole metres or feet
    overruled: tuple[str, ...] = ()  # what the file says and the user says otherwise


class _Window(NamedTuple):
    row: int
    column: int
    rows: int
    columns: int


def read_heights(
    path: str | Path, field: Field, *, width_m: float, crs: str | None = None, unit_m: float | None = None
) -> Heights:
    """Return the heights about a field.

    Parameters
    ----------
    path : str or Path
        Elevation raster with one band, in a format that `fieldgeo.terrain.opening` knows.
    field : Field
        The field.
    width_m : float
        Width to which slopes will be smoothed, > 0. [m]
    crs : str, optional
        Coordinate system, for a file that names none; it goes before what the file says.
    unit_m : float, optional
        Unit of the heights; it goes before what the file says. Where neither says, metres are assumed, but not where
        the map itself is in feet. [m]

    Raises
    ------
    FileError
        If the file cannot be read.
    CrsError
        If it names no coordinate system and none is given, or one that does not lie on the Earth's surface.
    InputError
        If it is no elevation raster, lies elsewhere, has no height about the field, or its unit cannot be told.
    """
    name = f"elevation raster {Path(path).name!r}"
    with opened_raster(Path(path), name) as raster:
        system = system_of(raster, crs, name)
        stated_m = unit_m if unit_m is not None else stated_unit_m(raster, name)
        axis = system.axis_info[0]
        if stated_m is None and system.is_projected and abs(axis.unit_conversion_factor - 1) > 1e-9:
            raise InputError(
                f"{name}: its map is in {axis.unit_name}, and it does not say in what its heights are. Say it with "
                "--heights m, ft or ftUS."
            )
        a, b, c, d, e, f = (float(part) for part in tuple(raster.transform)[:6])
        middle_x = a * raster.width / 2 + b * raster.height / 2 + c
        placing = Placing(frame=field.frame, crs=system, transform=(a, b, c, d, e, f), middle_x=middle_x)
        window, block, raster_cell_m = _window(raster, field, placing, width_m, name)
        unit = 1.0 if stated_m is None else stated_m
        height, out_of_range = _read_blocks(raster, window, block, unit)
        if not np.isfinite(height).any():
            left_out = f" ({out_of_range:,} are too low or too high for any ground)" if out_of_range else ""
            raise InputError(
                f"{name}: none of its cells about field {field.name!r} has a height{left_out}. Give a raster that has "
                "data there."
            )
        return Heights(
            height_m=height,
            placing=placing.blocked(row=window.row, column=window.column, block=block),
            cell_m=(raster_cell_m[0] * block, raster_cell_m[1] * block),
            raster_cell_m=raster_cell_m,
            crs_name=system.name,
            unit_m=unit,
            is_unit_assumed=stated_m is None,
            out_of_range=out_of_range,
            holds_whole_units=holds_whole_units(raster),
            overruled=tuple(_overruled(raster, crs, unit_m)),
        )


def _overruled(raster: Any, crs: str | None, unit_m: float | None) -> Iterator[str]:
    """Yield what the file says and the user says otherwise."""
    if crs is not None and raster.crs:
        stated = system_of(raster, None, "")
        if not stated.equals(parse_crs(crs), ignore_axis_order=True):
            yield f"the raster names the coordinate system {plain_name(stated.name)}, and {plain_name(crs)} is used"
    if unit_m is not None and raster.units[0]:
        yield f"the raster says that its heights are in {plain_name(raster.units[0])}; the unit you gave is used"


def _window(
    raster: Any, field: Field, placing: Placing, width_m: float, name: str
) -> tuple[_Window, int, tuple[float, float]]:
    """Return the window of the raster that the field needs, cells to a side of a block, and the size of a cell."""
    outline = shapely.get_coordinates(shapely.segmentize(field.shape, _OUTLINE_STEP_M))
    rows, columns = placing.cells(outline[:, 0], outline[:, 1])
    if not (np.isfinite(rows).all() and np.isfinite(columns).all()):
        raise _misses(raster, field, placing, name)
    if rows.max() < 0 or rows.min() > raster.height or columns.max() < 0 or columns.min() > raster.width:
        raise _misses(raster, field, placing, name)
    cell_m = placing.cell_m(float(rows.mean()), float(columns.mean()))
    finest_m = min(cell_m)
    block = max(1, floor(width_m / CELLS_TO_A_WIDTH / finest_m))
    rim = ceil(width_m / 2 / finest_m) + _RIM_CELLS * block
    first_row, first_column = max(0, floor(rows.min()) - rim), max(0, floor(columns.min()) - rim)
    window = _Window(
        row=first_row,
        column=first_column,
        rows=min(raster.height, ceil(rows.max()) + rim) - first_row,
        columns=min(raster.width, ceil(columns.max()) + rim) - first_column,
    )
    cells = window.rows * window.columns
    if cells > MOST_READ:
        raise InputError(
            f"{name}: {cells:,} of its cells lie about field {field.name!r}, at most {MOST_READ:,} are read. Give a "
            "raster with larger cells."
        )
    return window, max(block, ceil((cells / MOST_CELLS) ** 0.5)), cell_m


def _read_blocks(raster: Any, window: _Window, block: int, unit_m: float) -> tuple[FloatArray, int]:
    """Return the mean height of each whole block, NaN for one with a gap, and how many cells were out of range."""
    rows, columns = window.rows // block, window.columns // block
    if block == 1 and rows * columns <= _PIECE_CELLS:
        return _read_piece(raster, window, unit_m)
    height = np.full((rows, columns), np.nan)
    out_of_range = 0
    across = max(1, min(columns, _PIECE_CELLS // block**2))
    down = max(1, _PIECE_CELLS // (block**2 * across))
    for row in range(0, rows, down):
        for column in range(0, columns, across):
            r, c = min(down, rows - row), min(across, columns - column)
            piece = _Window(window.row + row * block, window.column + column * block, r * block, c * block)
            cells, out = _read_piece(raster, piece, unit_m)
            out_of_range += out
            height[row : row + r, column : column + c] = cells.reshape(r, block, c, block).mean(axis=(1, 3))
    return height, out_of_range


def _read_piece(raster: Any, piece: _Window, unit_m: float) -> tuple[FloatArray, int]:
    from rasterio.windows import Window

    stored = raster.read(1, window=Window(piece.column, piece.row, piece.columns, piece.rows), masked=True)
    height = np.asarray(stored.filled(0), dtype=float) * raster.scales[0] + raster.offsets[0]
    height *= unit_m
    is_known = ~np.ma.getmaskarray(stored) & np.isfinite(height)
    is_out = is_known & ~((height >= LOWEST_M) & (height <= HIGHEST_M))
    height[~is_known | is_out] = np.nan
    return height, int(is_out.sum())


def _misses(raster: Any, field: Field, placing: Placing, name: str) -> InputError:
    """Return the error of a raster that lies elsewhere."""
    corners = np.array([(0, 0), (0, raster.width), (raster.height, 0), (raster.height, raster.width)], dtype=float)
    a, b, c, d, e, f = placing.transform
    lon, lat = crs_to_lonlat(
        a * corners[:, 1] + b * corners[:, 0] + c, d * corners[:, 1] + e * corners[:, 0] + f, placing.crs
    )
    covers = "it covers no place on Earth"
    if np.isfinite(lon).all() and np.isfinite(lat).all():
        covers = f"it covers {lon.min():.4f} to {lon.max():.4f} E, {lat.min():.4f} to {lat.max():.4f} N"
    return InputError(
        f"{name} misses field {field.name!r}, which lies at {field.frame.lon_deg:.4f} E, {field.frame.lat_deg:.4f} N; "
        f"{covers}. Give the raster of that place; if its coordinate system is wrong, --dem-crs sets it right."
    )
