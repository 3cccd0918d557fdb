"""Elevation rasters made for tests: planes, cones, and ways to write them."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pyproj
import rasterio
import shapely
from numpy.typing import NDArray
from rasterio.transform import Affine

from fieldgeo.frame import Frame
from fieldgeo.outline.field import Field, field_from_shape

Floats = NDArray[np.float64]
UTM = "EPSG:26915"
FRAME = Frame(lon_deg=-93.0, lat_deg=42.0)  # on the central meridian of zone 15, so that its north is the frame's
FOOT_M = 0.3048


def square(side_m: float = 400.0, frame: Frame = FRAME) -> Field:
    half = side_m / 2
    return field_from_shape(shapely.box(-half, -half, half, half), name="Square", frame=frame)


def write_raster(path: Path, height: Any, *, transform: Any, crs: str | None = UTM, **more: Any) -> str:
    """Write a GeoTIFF of one band; `more` are options of the format, and `unit`."""
    unit = more.pop("unit", None)
    values = np.asarray(height)
    profile = {"driver": "GTiff", "count": 1, "dtype": values.dtype, "height": values.shape[0]} | more
    with rasterio.open(path, "w", width=values.shape[1], crs=crs, transform=transform, **profile) as file:
        file.write(values, 1)
        if unit:
            file.set_band_unit(1, unit)
    return str(path)


def raster_of(
    path: Path,
    surface: Callable[[Floats, Floats], Floats],
    *,
    crs: str = UTM,
    cell: float = 10.0,
    reach: float = 300.0,
    frame: Frame = FRAME,
    **more: Any,
) -> str:
    """Write a surface, given as heights over places in the frame, as a raster about the frame's origin.

    `cell` and `reach` are in the unit of `crs`.
    """
    to_lonlat = pyproj.Transformer.from_crs(crs, "OGC:CRS84", always_xy=True)
    x0, y0 = to_lonlat.transform(frame.lon_deg, frame.lat_deg, direction="INVERSE")
    count = 2 * round(reach / cell)
    transform = Affine(cell, 0, x0 - reach, 0, -cell, y0 + reach)
    at = (np.arange(count) + 0.5) * cell - reach
    x, y = np.meshgrid(x0 + at, y0 - at)
    lon, lat = to_lonlat.transform(x, y)
    east, north = frame.to_frame(lon.ravel(), lat.ravel())
    height = surface(east, north).reshape(x.shape)
    scale = more.pop("scale", 1.0)
    return write_raster(
        path, (height / scale).astype(more.pop("dtype", "float64")), transform=transform, crs=crs, **more
    )


def plane(grade: float, downhill_deg: float, *, base_m: float = 300.0) -> Callable[[Floats, Floats], Floats]:
    """Return a plane that falls by a grade towards an azimuth."""
    sine, cosine = np.sin(np.radians(downhill_deg)), np.cos(np.radians(downhill_deg))

    def height(east: Floats, north: Floats) -> Floats:
        return np.asarray(base_m - grade * (sine * east + cosine * north))

    return height


def cone(grade: float) -> Callable[[Floats, Floats], Floats]:
    """Return a cone with its top above the origin."""
    return lambda east, north: 300.0 - grade * np.hypot(east, north)
