"""A raster opened without harm, and what it says of itself: system, unit of heights, form."""

from __future__ import annotations

import warnings
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import pyproj

from fieldgeo.errors import CrsError, FileError, InputError
from fieldgeo.frame import parse_crs
from fieldgeo.outline.files.geojson import plain_name
from fieldgeo.terrain.asked import height_unit_m

if TYPE_CHECKING:
    from collections.abc import Iterator

# Formats of elevation that hold all they need and look up nothing elsewhere, by what a file begins with or, where that
# tells nothing, by its suffix. No other is tried, so that no file can lead to another, or to an address.
_BEGINNINGS: Final = {
    b"II*\0": "GTiff", b"MM\0*": "GTiff", b"II+\0": "GTiff", b"MM\0+": "GTiff",
    b"EHFA_HEADER_TAG": "HFA", b"UHL1": "DTED", b"ncols": "AAIGrid", b"NCOLS": "AAIGrid",
}  # fmt: skip
_SUFFIXES: Final = {".asc": "AAIGrid", ".bil": "EHdr", ".flt": "EHdr", ".hgt": "SRTMHGT", ".dem": "USGSDEM"}
_KINDS: Final = "a GeoTIFF, an ASCII grid (.asc), or an .img, .bil, .flt, .hgt, .dem or DTED file"
_MOST_STORED_CELLS: Final = 64_000_000  # in one piece, which must be read at once; own choice
_CACHE_BYTES: Final = 64_000_000


@contextmanager
def opened_raster(path: Path, name: str, *, holds: str = "elevation") -> Iterator[Any]:
    """Give a raster of elevation, or of something else, opened to read.

    Parameters
    ----------
    path : Path
        The file.
    name : str
        What it is called in messages.
    holds : str
        What it should hold, for messages.

    Yields
    ------
    rasterio.DatasetReader
        With one band of real numbers and a place on the map.

    Raises
    ------
    FileError
        If there is no such file, or it cannot be read.
    InputError
        If it is of another format, does not hold one plain number for each cell, or has no place on the map.
    """
    import rasterio
    from rasterio.errors import NotGeoreferencedWarning, RasterioError, RasterioIOError

    driver = _driver(path, name, holds)
    try:
        with rasterio.Env(GDAL_CACHEMAX=_CACHE_BYTES), warnings.catch_warnings():
            warnings.simplefilter("ignore", NotGeoreferencedWarning)  # it is refused below, in our own words
            with rasterio.open(path.absolute(), driver=driver) as raster:
                _check_form(raster, name, holds)
                yield raster
    except RasterioIOError as error:
        raise FileError(
            f"{name} cannot be read: {_reason(error)}. It must be whole, with the files beside it that belong to it."
        ) from error
    except RasterioError as error:
        raise InputError(f"{name} cannot be used: {_reason(error)}. Give another raster.") from error


def is_raster(path: Path) -> bool:
    """Return whether a file is of a raster format, by what it begins with or by its suffix.

    Parameters
    ----------
    path : Path
        The file; one that cannot be read is told by its suffix.
    """
    try:
        with path.open("rb") as file:
            beginning = file.read(64)
    except (OSError, ValueError):  # ValueError: a NUL byte in the path
        beginning = b""
    return _known_driver(path, beginning.lstrip()) is not None


def _known_driver(path: Path, beginning: bytes) -> str | None:
    for mark, driver in _BEGINNINGS.items():
        if beginning.startswith(mark):
            return driver
    return _SUFFIXES.get(path.suffix.lower())


def _driver(path: Path, name: str, holds: str) -> str:
    """Return what the library calls the format of a file."""
    try:
        if not path.is_file():
            what = "this is not a plain file" if path.exists() else "there is no such file"
            raise FileError(f"{name}: {what}. Give the path of a raster of {holds}: {_KINDS}.")
        with path.open("rb") as file:
            beginning = file.read(64).lstrip()
    except FileError:
        raise
    except (OSError, ValueError) as error:  # ValueError: a NUL byte in the path
        raise FileError(f"{name} cannot be read: {error}. Check its name and rights.") from error
    driver = _known_driver(path, beginning)
    if driver is None:
        raise InputError(f"{name}: it is no {holds} raster that can be read. Give {_KINDS}.")
    return driver


def _reason(error: BaseException) -> str:
    """Return the first reason the library gives, without the path that may stand in it."""
    while error.__cause__ is not None:
        error = error.__cause__
    return plain_name(str(error).rpartition("/")[2]).rstrip(".")


def _check_form(raster: Any, name: str, holds: str) -> None:
    if raster.count != 1:
        raise InputError(f"{name}: it has {raster.count} bands, as a picture has. A raster of {holds} has one.")
    if not (np.issubdtype(np.dtype(raster.dtypes[0]), np.floating) or _is_whole(raster)):
        raise InputError(f"{name}: its cells are of the kind {raster.dtypes[0]}. They must be plain numbers.")
    a, b, _, d, e, _ = tuple(raster.transform)[:6]
    if raster.transform.is_identity or not abs(a * e - b * d) > 0:
        raise InputError(
            f"{name}: it does not say where on the map its cells lie. Give a GeoTIFF with its place, or keep the side "
            "file (.tfw, .prj) beside it."
        )
    rows, columns = raster.block_shapes[0]
    if rows * columns > _MOST_STORED_CELLS:
        raise InputError(
            f"{name}: it is stored in pieces of {rows:,} x {columns:,} cells, which are too large to read one by one. "
            "Write it as a tiled GeoTIFF."
        )


def _is_whole(raster: Any) -> bool:
    return bool(np.issubdtype(np.dtype(raster.dtypes[0]), np.integer))


def holds_whole_units(raster: Any) -> bool:
    """Return whether the heights are whole numbers of their unit, so that a slope comes in steps.

    Parameters
    ----------
    raster : rasterio.DatasetReader
        The raster.
    """
    return _is_whole(raster) and raster.scales[0] == 1.0


def system_of(raster: Any, crs: str | None, name: str, *, option: str = "--dem-crs") -> pyproj.CRS:
    """Return the coordinate system of a raster.

    Parameters
    ----------
    raster : rasterio.DatasetReader
        The raster.
    crs : str or None
        What the user says; it goes before what the file says.
    name : str
        What the file is called in messages.
    option : str
        What the user says it with, for messages.

    Raises
    ------
    CrsError
        If neither names a system on the surface of the Earth.
    """
    if crs is not None:
        return parse_crs(crs)
    if not raster.crs:
        raise CrsError(
            f"{name}: it names no coordinate system. Give it with {option}, such as EPSG:26915 or EPSG:4269."
        )
    try:
        return parse_crs(raster.crs.to_wkt())
    except CrsError as error:
        raise CrsError(
            f"{name}: its coordinate system is none on the surface of the Earth. Give it with {option}, such as "
            "EPSG:26915."
        ) from error


def stated_unit_m(raster: Any, name: str) -> float | None:
    """Return the unit of heights that a raster states; None where it states none. [m]

    Parameters
    ----------
    raster : rasterio.DatasetReader
        The raster.
    name : str
        What the file is called in messages.

    Raises
    ------
    InputError
        If it states a unit that is not known.
    """
    if raster.units[0]:
        try:
            return height_unit_m(raster.units[0])
        except InputError as error:
            raise InputError(
                f"{name}: its heights are in {plain_name(raster.units[0])!r}, which is no known unit. Say which it is "
                "with --heights m, ft or ftUS."
            ) from error
    if not raster.crs:
        return None
    whole = pyproj.CRS.from_user_input(raster.crs.to_wkt())
    for part in whole.sub_crs_list:
        if part.is_vertical:
            return float(part.axis_info[0].unit_conversion_factor)
    return None
