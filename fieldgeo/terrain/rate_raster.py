"""A rate or yield by place from a raster, or from whatever file a person gives."""

from __future__ import annotations

from math import ceil, floor
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import shapely

from fieldgeo.analysis.asked_zones import AskedZones, PlacedRates, most_value, settled_rest
from fieldgeo.analysis.zone_polygons import polygon_rates
from fieldgeo.errors import InputError
from fieldgeo.frame import FloatArray, parse_crs
from fieldgeo.outline.files.geojson import plain_name
from fieldgeo.terrain.cell_grounds import cell_areas_m2, cells_on
from fieldgeo.terrain.opening import is_raster, opened_raster, system_of
from fieldgeo.terrain.place import Placing
from fieldgeo.terrain.rate_grid import RateGrid

if TYPE_CHECKING:
    from fieldgeo.outline.field import Field

MOST_CELLS: Final = 16_000_000  # about one field; own choice, 128 MB
_OUTLINE_STEP_M: Final = 100.0  # own choice: straight sides bend a little in another system
_CRS_OPTION: Final = "--zone-crs"


def read_rates(asked: AskedZones, field: Field) -> PlacedRates:
    """Return a rate or yield by place from a raster or a file of polygons, for one field.

    Parameters
    ----------
    asked : AskedZones
        The file, and what is taken where there is no value.
    field : Field
        The field.

    Raises
    ------
    FileError
        If the file cannot be read.
    CrsError
        If its coordinate system is missing, unknown or unfit.
    InputError
        If it is of no known format, a value cannot be used, or ground has no value and no number is given for it.
    """
    return raster_rates(asked, field) if is_raster(Path(asked.path)) else polygon_rates(asked, field)


def raster_rates(asked: AskedZones, field: Field) -> PlacedRates:
    """Return a rate or yield by place from a raster with one band, for one field.

    Parameters
    ----------
    asked : AskedZones
        The file, and what is taken where there is no value.
    field : Field
        The field.

    Raises
    ------
    FileError
        If the file cannot be read.
    CrsError
        If it names no coordinate system and none is given.
    InputError
        If it is no such raster, a column is named, it has too many cells or none with a value on the field, values are
        below zero or too high, or ground has no value and no number is given for it.
    """
    if asked.column is not None:
        raise InputError(f"{asked.name}: a raster has no columns. Leave out zone column.")
    with opened_raster(Path(asked.path), asked.name, holds=asked.word) as raster:
        system = system_of(raster, asked.crs, asked.name, option=_CRS_OPTION)
        a, b, c, d, e, f = (float(part) for part in tuple(raster.transform)[:6])
        whole = Placing(
            frame=field.frame, crs=system, transform=(a, b, c, d, e, f),
            middle_x=a * raster.width / 2 + b * raster.height / 2 + c,
        )  # fmt: skip
        row, column, rows, columns = _window(raster, whole, field, asked)
        values = _read(raster, row, column, rows, columns)
        notes = tuple(_overruled(raster, asked))
    placing = whole.blocked(row=row, column=column, block=1)
    area_m2 = cells_on(field.shape, rows, columns, placing) * cell_areas_m2(rows, columns, placing)
    is_on = (area_m2 > 0) & np.isfinite(values)
    _check(asked, values[is_on])
    rest_m2, told = settled_rest(asked, field, values[is_on], area_m2[is_on])
    kept = np.where(is_on, values * asked.unit_m2, np.nan)
    if rest_m2 <= 0 and not (kept[is_on] > 0).any():
        raise InputError(f"{asked.name}: all its values on the field are zero. Give a file with values above zero.")
    return PlacedRates(RateGrid(rates_m2=kept, placing=placing, rest_m2=rest_m2), (*told, *notes))


def _window(raster: Any, whole: Placing, field: Field, asked: AskedZones) -> tuple[int, int, int, int]:
    """Return first row, first column, rows and columns of the cells about a field."""
    outline = shapely.get_coordinates(shapely.segmentize(field.shape, _OUTLINE_STEP_M))
    at_row, at_column = whole.cells(outline[:, 0], outline[:, 1])
    spans = []
    for at, size in ((at_row, raster.height), (at_column, raster.width)):
        if not np.isfinite(at).all() or at.max() <= 0 or at.min() >= size:
            raise InputError(
                f"{asked.name}: it misses field {plain_name(field.name)!r}, which lies at {field.frame.lon_deg:.4f} E, "
                f"{field.frame.lat_deg:.4f} N. Give the raster of that field; if its coordinate system is wrong, "
                f"{_CRS_OPTION} sets it right."
            )
        first = max(0, floor(at.min()) - 1)
        spans.append((first, min(size, ceil(at.max()) + 1) - first))
    (row, rows), (column, columns) = spans
    if rows * columns > MOST_CELLS:
        raise InputError(
            f"{asked.name}: {rows * columns:,} of its cells lie about field {plain_name(field.name)!r}, at most "
            f"{MOST_CELLS:,} are read. Give a raster with larger cells."
        )
    return row, column, rows, columns


def _read(raster: Any, row: int, column: int, rows: int, columns: int) -> FloatArray:
    """Return the values of cells, NaN where there is none. [unit of the file]"""
    from rasterio.windows import Window

    stored = raster.read(1, window=Window(column, row, columns, rows), masked=True)
    values: FloatArray = np.asarray(stored.filled(0), dtype=float) * raster.scales[0] + raster.offsets[0]
    values[np.ma.getmaskarray(stored) | ~np.isfinite(values)] = np.nan
    return values


def _check(asked: AskedZones, values: FloatArray) -> None:
    most = most_value(asked)
    is_wrong = (values < 0) | (values > most)
    if is_wrong.any():
        raise InputError(
            f"{asked.name}: {int(is_wrong.sum()):,} of its {values.size:,} cells on the field are outside 0 to "
            f"{most:,.4g} {asked.unit}; they go from {values.min():,.6g} to {values.max():,.6g}. If such a value means "
            "no data, the raster must say so; else name another unit."
        )


def _overruled(raster: Any, asked: AskedZones) -> list[str]:
    """Return what the file says of its coordinate system where the user says otherwise."""
    if asked.crs is None or not raster.crs:
        return []
    stated = system_of(raster, None, asked.name, option=_CRS_OPTION)
    if stated.equals(parse_crs(asked.crs), ignore_axis_order=True):
        return []
    return [
        f"{asked.name}: it names the coordinate system {plain_name(stated.name)}, and {plain_name(asked.crs)} is used"
    ]
