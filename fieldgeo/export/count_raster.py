"""Coverage as a raster (GeoTIFF): how many times each cell is worked.

It is written stripe by stripe of rows, so that a large field takes no more memory than a small one.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, floor
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, Literal, NamedTuple

import numpy as np
import pyproj
import shapely

from fieldgeo.errors import InputError
from fieldgeo.export.files import PathLike, check_placed, whole_file
from fieldgeo.layout import overlay
from fieldgeo.terrain.cell_grounds import cell_areas_m2, counts_on, shares_on, sides_of
from fieldgeo.terrain.opening import opened_raster, system_of
from fieldgeo.terrain.place import Placing
from fieldgeo.units import HECTARE_M2, to_acres

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fieldgeo.analysis.figures import Figures
    from fieldgeo.analysis.plan import PlanFigures
    from fieldgeo.frame import FloatArray
    from fieldgeo.outline.field import Field

CountAs = Literal["middle", "mean"]
COUNT_AS: Final[tuple[CountAs, ...]] = ("middle", "mean")
CELLS_M: Final = (0.5, 1.0, 2.0, 5.0, 10.0)  # of a grid of its own: the first that keeps it within `MOST_CELLS`
MOST_CELLS: Final = 400_000_000  # about one field; own choice
NO_COUNT: Final = 255  # outside the outline, where counts are whole
NO_MEAN: Final = -9999.0  # outside the outline, where they are means
_STRIPE_CELLS: Final = 2_000_000  # at a time, some 100 MB with all that is worked out on them
_LEAST_SHARE: Final = 1e-6  # of a cell within the outline; less is float noise
_TILE: Final = 256
_OUTLINE_STEP_M: Final = 100.0  # own choice: straight sides bend a little in another system


@dataclass(frozen=True, slots=True, kw_only=True)
class CellGrid:
    """The cells of a raster about a field."""

    placing: Placing  # where they lie; row 0, column 0 begins at its corner
    rows: int
    columns: int
    is_given: bool  # lined up with an elevation grid

    @property
    def cell_m(self) -> tuple[float, float]:
        """How far a column and a row lead in the middle of the grid. [m]"""
        return self.placing.cell_m(self.rows / 2, self.columns / 2)


@dataclass(frozen=True, slots=True, kw_only=True)
class CountRaster:
    """What a raster of counts holds."""

    grid: CellGrid
    count_as: CountAs
    times_m2: dict[int, float]  # ground worked so many times, to the nearest whole number [m2]
    swept_m2: float  # count x area of the cell, summed [m2]
    overlap_m2: float  # what is above one, summed in the same way [m2]
    skip_m2: float  # what is left to one [m2]


def own_grid(field: Field) -> CellGrid:
    """Return cells of half a metre about a field in its UTM zone (WGS 84), or larger ones on a very large field.

    Parameters
    ----------
    field : Field
        The field.

    Raises
    ------
    InputError
        If it lies beyond the UTM zones, or is too large for the largest cells.
    """
    lon, lat = field.frame.lon_deg, field.frame.lat_deg
    if not -80 <= lat <= 84:
        raise InputError(
            f"count raster: field {field.name!r} lies at {lat:.2f} N, beyond the UTM zones. Give an elevation grid to "
            "line up with (--dem)."
        )
    zone = min(int((lon + 180) % 360 // 6) + 1, 60)
    system = pyproj.CRS.from_epsg((32600 if lat >= 0 else 32700) + zone)
    for cell in CELLS_M:
        grid = _about(field, system, (cell, 0.0, 0.0, 0.0, -cell, 0.0), is_given=False)
        if grid.rows * grid.columns <= MOST_CELLS:
            return grid
    raise _too_many(field, grid)


def grid_like(path: PathLike, field: Field, *, crs: str | None = None) -> CellGrid:
    """Return the cells of an elevation grid about a field, and beyond it where the field is larger.

    Parameters
    ----------
    path : str or path
        Elevation grid.
    field : Field
        The field.
    crs : str, optional
        Its coordinate system, where it names none.

    Raises
    ------
    FileError
        If it cannot be read.
    CrsError
        If it names no coordinate system and none is given.
    InputError
        If it is no raster that can be used, or has too many cells about the field.
    """
    name = f"elevation raster {Path(path).name!r}"
    with opened_raster(Path(path), name) as raster:
        system = system_of(raster, crs, name)
        a, b, c, d, e, f = (float(part) for part in tuple(raster.transform)[:6])
        middle_x = a * raster.width / 2 + b * raster.height / 2 + c
        size = raster.height, raster.width
    grid = _about(field, system, (a, b, c, d, e, f), is_given=True, middle_x=middle_x)
    row, column = _first_cell(grid.placing, (a, b, c, d, e, f))
    if row >= size[0] or column >= size[1] or row + grid.rows <= 0 or column + grid.columns <= 0:
        raise InputError(
            f"{name} misses field {field.name!r}, which lies at {field.frame.lon_deg:.4f} E, "
            f"{field.frame.lat_deg:.4f} N. Give the raster of that place; if its coordinate system is wrong, "
            "--dem-crs sets it right."
        )
    if grid.rows * grid.columns > MOST_CELLS:
        raise _too_many(field, grid)
    return grid


def _first_cell(placing: Placing, transform: tuple[float, float, float, float, float, float]) -> tuple[int, int]:
    """Return the row and column of a raster at which a part of it begins."""
    a, b, c, d, e, f = transform
    x, y = placing.transform[2] - c, placing.transform[5] - f
    determinant = a * e - b * d
    return round((a * y - d * x) / determinant), round((e * x - b * y) / determinant)


def _about(
    field: Field,
    system: pyproj.CRS,
    transform: tuple[float, float, float, float, float, float],
    *,
    is_given: bool,
    middle_x: float = 0.0,
) -> CellGrid:
    whole = Placing(frame=field.frame, crs=system, transform=transform, middle_x=middle_x)
    outline = shapely.get_coordinates(shapely.segmentize(field.shape, _OUTLINE_STEP_M))
    rows, columns = whole.cells(outline[:, 0], outline[:, 1])
    if not (np.isfinite(rows).all() and np.isfinite(columns).all()):
        raise InputError(
            f"count raster: field {field.name!r} lies where the coordinate system {system.name!r} shows nothing. Give "
            "another grid to line up with."
        )
    row, column = floor(rows.min()), floor(columns.min())
    return CellGrid(
        placing=whole.blocked(row=row, column=column, block=1), rows=max(1, ceil(rows.max()) - row),
        columns=max(1, ceil(columns.max()) - column), is_given=is_given,
    )  # fmt: skip


def _too_many(field: Field, grid: CellGrid) -> InputError:
    return InputError(
        f"count raster: {grid.rows:,} x {grid.columns:,} cells lie about field {field.name!r}, at most {MOST_CELLS:,} "
        "are written. Give a grid with larger cells to line up with (--dem)."
    )


def write_count_raster(
    plan: PlanFigures, path: PathLike, grid: CellGrid, *, count_as: CountAs = "middle", force: bool = False
) -> CountRaster:
    """Write how many times each cell within the outline is worked, as a GeoTIFF.

    Parameters
    ----------
    plan : PlanFigures
        One tool on one field.
    path : str or path
        The file, ``.tif`` or ``.tiff``.
    grid : CellGrid
        Its cells, from `own_grid` or `grid_like`.
    count_as : {"middle", "mean"}
        ``"middle"``: swaths of passes and headland runs that lie over the middle of a cell, as whole numbers; none
        where the middle lies outside the outline. ``"mean"``: swath area over area, both of what lies of the cell
        within the outline, as real numbers; none in cells outside. The sums of means are exact.
    force : bool
        Whether an existing file may be replaced.

    Returns
    -------
    CountRaster
        What the raster holds.

    Raises
    ------
    InputError
        If the field has no place on Earth, the suffix is another, or `count_as` is not known.
    FileError
        If the file exists and `force` is not set, or it cannot be written.
    """
    import rasterio
    from rasterio.transform import Affine

    if Path(path).suffix.lower() not in {".tif", ".tiff"}:
        raise InputError(f"{path}: a count raster is a GeoTIFF. Give a name that ends in .tif.")
    if count_as not in COUNT_AS:
        raise InputError(f"count as: got {count_as!r}. It must be one of {', '.join(COUNT_AS)}.")
    check_placed(plan.field, path)
    is_whole = count_as == "middle"
    profile: dict[str, Any] = {
        "driver": "GTiff", "count": 1, "height": grid.rows, "width": grid.columns,
        "crs": grid.placing.crs.to_wkt(), "transform": Affine(*grid.placing.transform),
        "dtype": "uint8" if is_whole else "float32", "nodata": NO_COUNT if is_whole else NO_MEAN,
        "compress": "deflate", "bigtiff": "if_safer",
    }  # fmt: skip
    if min(grid.rows, grid.columns) >= _TILE:
        profile |= {"tiled": True, "blockxsize": _TILE, "blockysize": _TILE}
    times_m2: dict[int, float] = {}
    swept_m2 = overlap_m2 = skip_m2 = 0.0
    with whole_file(path, force=force) as temporary, rasterio.open(temporary, "w", **profile) as file:
        file.set_band_description(1, _DESCRIPTIONS[count_as])
        for row, times, share in _stripes(plan, grid, count_as):
            is_on = share > 0
            kept = np.where(is_on, times, profile["nodata"]).astype(profile["dtype"])
            file.write(kept, 1, window=((row, row + len(kept)), (0, grid.columns)))
            cells_m2 = cell_areas_m2(len(times), grid.columns, grid.placing.blocked(row=row, column=0, block=1))
            area_m2, worked = (cells_m2 * share)[is_on], times[is_on]
            swept_m2 += float((worked * area_m2).sum())
            overlap_m2 += float((np.maximum(worked - 1, 0) * area_m2).sum())
            skip_m2 += float((np.maximum(1 - worked, 0) * area_m2).sum())
            by_times = np.bincount(np.round(worked).astype(np.int64), weights=area_m2)
            for number, more_m2 in enumerate(by_times.tolist()):
                times_m2[number] = times_m2.get(number, 0.0) + more_m2
    return CountRaster(
        grid=grid, count_as=count_as, times_m2={each: area for each, area in times_m2.items() if area > 0},
        swept_m2=swept_m2, overlap_m2=overlap_m2, skip_m2=skip_m2,
    )  # fmt: skip


_DESCRIPTIONS: Final[dict[CountAs, str]] = {
    "middle": "times worked: swaths over the middle of the cell",
    "mean": "times worked: swath area / area, of the cell within the outline",
}


class _Stripe(NamedTuple):
    """Whole rows of cells."""

    row: int  # the first
    times: FloatArray  # (R, C) how often each is worked
    share: FloatArray  # (R, C) of each that counts, 0 outside the outline [-]


def _stripes(plan: PlanFigures, grid: CellGrid, count_as: CountAs) -> Iterator[_Stripe]:
    """Yield the cells stripe by stripe of rows."""
    layout, shape = plan.layout, plan.field.shape
    swaths = np.array([*layout.passes.swaths(), *(run.swath for run in layout.headland.runs)], dtype=object)
    is_mean = count_as == "mean"
    worked = sides_of(overlay.intersections(swaths, shape) if is_mean else swaths, grid.placing)
    outline = sides_of(np.array([shape], dtype=object), grid.placing)
    step = max(_TILE, _STRIPE_CELLS // grid.columns // _TILE * _TILE)
    for row in range(0, grid.rows, step):
        size = min(step, grid.rows - row), grid.columns
        on_it, its_swaths = outline.from_row(row), worked.from_row(row)
        if is_mean:
            share = shares_on(on_it, *size)
            share[share < _LEAST_SHARE] = 0.0
            yield _Stripe(row, shares_on(its_swaths, *size) / np.where(share > 0, share, 1.0), share)
        else:
            times = np.minimum(counts_on(its_swaths, *size), NO_COUNT - 1)
            yield _Stripe(row, times.astype(float), (counts_on(on_it, *size) > 0).astype(float))


def count_figures(raster: CountRaster, plan: PlanFigures) -> Figures:
    """Return what a raster of counts holds, beside the exact areas.

    Parameters
    ----------
    raster : CountRaster
        What was written.
    plan : PlanFigures
        What it was written of.
    """
    exact = plan.coverage
    return {
        "count_as": raster.count_as,
        "crs": raster.grid.placing.crs.name,
        "is_lined_up": raster.grid.is_given,
        "rows": raster.grid.rows,
        "columns": raster.grid.columns,
        "cell_m": list(raster.grid.cell_m),
        "times_ha": {str(times): area / HECTARE_M2 for times, area in sorted(raster.times_m2.items())},
        "times_ac": {str(times): to_acres(area) for times, area in sorted(raster.times_m2.items())},
        "swept_m2": raster.swept_m2,
        "exact_swept_inside_m2": exact.swept_m2 - exact.spill_m2,
        "skip_m2": raster.skip_m2,
        "exact_skip_m2": exact.skip_m2,
        "overlap_m2": raster.overlap_m2,
        "exact_overlap_m2": exact.overlap_m2,
    }
