"""Features found by a point: which hold it, and how far the nearest is when none does."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Final

import numpy as np
import pyproj
import shapely

from fieldgeo.errors import CrsError
from fieldgeo.frame import LONLAT, Frame, crs_to_lonlat, shape_to_frame
from fieldgeo.outline.files.layer import shape_of, shown

if TYPE_CHECKING:
    from collections.abc import Iterable

    from fieldgeo.outline.files.layer import Feature

NEAR_M: Final = 20_000.0  # how far round a point the nearest feature is looked for; common practice, no source
_M_PER_DEG: Final = 111_200.0  # of latitude, near enough for a box


def holding(feature: Feature, at_lonlat: tuple[float, float], system: pyproj.CRS | None) -> bool:
    """Return whether a polygon of a feature holds a point; its edge counts, a hole does not.

    Parameters
    ----------
    feature : Feature
        The feature, in the numbers of the file.
    at_lonlat : tuple of float
        Longitude and latitude, WGS 84. [deg]
    system : pyproj.CRS, optional
        Coordinate system of the file; None for longitude and latitude.

    Raises
    ------
    CrsError
        If the point is no place on Earth, or lies outside what the system can show.
    """
    x, y = _in_system([at_lonlat[0]], [at_lonlat[1]], system)
    return bool(shapely.intersects_xy(shape_of(feature.outline), x[0], y[0]))


def box_round(
    at_lonlat: tuple[float, float], reach_m: float, system: pyproj.CRS | None
) -> tuple[float, float, float, float]:
    """Return west, south, east and north of a box round a point, in the numbers of the file.

    Parameters
    ----------
    at_lonlat : tuple of float
        Longitude and latitude, WGS 84. [deg]
    reach_m : float
        From the point to the sides of the box. [m]
    system : pyproj.CRS, optional
        Coordinate system of the file; None for longitude and latitude.

    Raises
    ------
    CrsError
        If the point is no place on Earth, or lies outside what the system can show.
    """
    lon, lat = at_lonlat
    north_deg = reach_m / _M_PER_DEG
    east_deg = north_deg / max(np.cos(np.radians(lat)), 0.01)
    x, y = _in_system(
        [lon, lon - east_deg, lon + east_deg, lon - east_deg, lon + east_deg],
        [lat, lat - north_deg, lat - north_deg, lat + north_deg, lat + north_deg],
        system,
    )
    return float(x.min()), float(y.min()), float(x.max()), float(y.max())


def nearest(features: Iterable[Feature], at_lonlat: tuple[float, float], system: pyproj.CRS | None) -> str:
    """Return in words which feature lies nearest to a point, and how far.

    Parameters
    ----------
    features : iterable of Feature
        The features, in the numbers of the file.
    at_lonlat : tuple of float
        Longitude and latitude, WGS 84. [deg]
    system : pyproj.CRS, optional
        Coordinate system of the file; None for longitude and latitude.
    """
    frame = Frame(lon_deg=at_lonlat[0], lat_deg=at_lonlat[1])
    best: tuple[float, Feature] | None = None
    for feature in features:
        shape = shape_of(feature.outline)
        if system is not None:
            shape = shapely.transform(shape, lambda xy: np.column_stack(crs_to_lonlat(xy[:, 0], xy[:, 1], system)))
        if shape.is_empty or not np.isfinite(shape.bounds).all() or np.abs(shape.bounds).max() > 400:
            continue
        distance_m = float(shapely.distance(shapely.Point(0, 0), shapely.boundary(shape_to_frame(shape, frame))))
        if np.isfinite(distance_m) and (best is None or distance_m < best[0]):
            best = (distance_m, feature)
    if best is None:
        return f"no feature lies within {NEAR_M / 1000:.0f} km of it: check that longitude comes first"
    distance_m, feature = best
    about = next((f", {key} = {shown(value)}" for key, value in feature.attributes.items() if value), "")
    far = f"{distance_m:.0f} m" if distance_m < 2000 else f"{distance_m / 1000:.1f} km"
    return f"the nearest is feature {feature.number}{about}: its edge is {far} away"


@lru_cache(maxsize=16)
def _from_lonlat(system: pyproj.CRS) -> pyproj.Transformer:
    return pyproj.Transformer.from_crs(LONLAT, system, always_xy=True)


def _in_system(
    lon_deg: list[float], lat_deg: list[float], system: pyproj.CRS | None
) -> tuple[np.ndarray[tuple[int], np.dtype[np.float64]], np.ndarray[tuple[int], np.dtype[np.float64]]]:
    Frame(lon_deg=lon_deg[0], lat_deg=lat_deg[0])  # a place on Earth?
    if system is None:
        return np.asarray(lon_deg, dtype=float), np.asarray(lat_deg, dtype=float)
    x, y = _from_lonlat(system).transform(lon_deg, lat_deg)
    if not np.isfinite([x, y]).all():
        raise CrsError(f"the point {lon_deg[0]}, {lat_deg[0]} lies outside what {system.name} can show.")
    return np.asarray(x, dtype=float), np.asarray(y, dtype=float)
