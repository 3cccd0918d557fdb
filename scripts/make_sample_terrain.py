"""Draw the sample elevation raster: the lie of the land about Creek. All of it is invented.

Run it as ``python scripts/make_sample_terrain.py``; it writes sample_fields/creek_heights.tif with the same heights: a
hillside that falls to the creek in the east, with a swale in it, on cells of 10 m in UTM zone 15 north.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pyproj
import rasterio
import shapely

from fieldgeo import read_outline

SAMPLES = Path(__file__).resolve().parent.parent / "sample_fields"
CRS = "EPSG:26915"
CELL_M = 10.0
RIM_M = 60.0


def height_m(x_m: np.ndarray, y_m: np.ndarray) -> np.ndarray:
    """Return the height of places in the frame of Creek, to a centimetre."""
    foot = 30.0 * np.sin(y_m / 90.0) - 30.0  # where the hillside is steepest, winding as the creek does
    hill = 12.0 / (1.0 + np.exp((x_m - foot) / 45.0))
    swale = 2.0 * np.exp(-(((y_m + 60.0 - 0.2 * x_m) / 40.0) ** 2)) / (1.0 + np.exp(-(x_m + 120.0) / 30.0))
    return np.asarray(np.round(291.0 + hill - swale + 0.004 * y_m, 2))


def main() -> None:
    field = read_outline(SAMPLES / "creek.geojson")
    to_lonlat = pyproj.Transformer.from_crs(CRS, "OGC:CRS84", always_xy=True)
    lon, lat = field.frame.to_lonlat(*shapely.get_coordinates(field.shape).T)
    east, north = to_lonlat.transform(lon, lat, direction="INVERSE")
    west, south = (np.floor((low - RIM_M) / CELL_M) * CELL_M for low in (east.min(), north.min()))
    columns = int(np.ceil((east.max() + RIM_M - west) / CELL_M))
    rows = int(np.ceil((north.max() + RIM_M - south) / CELL_M))
    top = south + rows * CELL_M
    x, y = np.meshgrid(west + (np.arange(columns) + 0.5) * CELL_M, top - (np.arange(rows) + 0.5) * CELL_M)
    places = field.frame.to_frame(*to_lonlat.transform(x.ravel(), y.ravel()))
    heights = height_m(*places).reshape(x.shape).astype("float32")
    with rasterio.open(
        SAMPLES / "creek_heights.tif", "w", driver="GTiff", count=1, dtype="float32", width=columns, height=rows,
        crs=CRS, transform=rasterio.Affine(CELL_M, 0, west, 0, -CELL_M, top), compress="deflate", predictor=3,
        nodata=-9999.0,
    ) as file:  # fmt: skip
        file.write(heights, 1)
        file.set_band_unit(1, "metre")


if __name__ == "__main__":
    main()
