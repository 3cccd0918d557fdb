"""One layer of a polygon file, whatever its format: features with attributes, and shapes turned to rings of numbers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import shapely

from fieldgeo.frame import FloatArray, crs_to_lonlat
from fieldgeo.outline.field import Change
from fieldgeo.outline.files.geojson import plain_name
from fieldgeo.outline.raw import RawOutline, RawPart

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping
    from pathlib import Path

    import pyproj

    from fieldgeo.outline.files.kinds import FileKind

_LONGEST_VALUE: Final = 40


@dataclass(frozen=True, slots=True, kw_only=True)
class Given:
    """A file as it is to be opened, and as it is to be called in messages."""

    path: Path
    name: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Feature:
    """One feature: its attributes, and its polygons as rings of numbers."""

    number: int  # its place in the layer, from 1, or its key where the format has one
    attributes: Mapping[str, Any]
    outline: RawOutline


@dataclass(frozen=True, slots=True, kw_only=True)
class Layer:
    """The features of one layer, after those that a condition chose."""

    form: FileKind
    features: tuple[Feature, ...]
    columns: tuple[str, ...]
    crs: str | None = None
    needs_crs: bool = False
    layers: tuple[str, ...] = ()  # all that the file has
    faults: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    facts: Mapping[str, Any] | None = None  # what the file says of all its features together
    near: str = ""  # where the nearest feature lies, when none holds the point that was asked for


def outline_of(geometry: shapely.Geometry | None, *, label: str, name: str) -> RawOutline:
    """Return the polygons of a shape as rings of numbers, with what was left out.

    Parameters
    ----------
    geometry : shapely.Geometry, optional
        The shape of a feature, valid or not; None where it has none.
    label : str
        The feature, for messages, such as ``"feature 3 "`` or ``""``.
    name : str
        What the feature is called.

    Returns
    -------
    RawOutline
        Heights and measures are left out and counted; what is no polygon is named.
    """
    faults: list[str] = []
    left_out: list[str] = []
    parts: list[RawPart] = []
    # Only GeoJSON says which way rings must run, and the shapefile the other way: turning them is no mend here.
    polygons = list(_polygons(None if geometry is None else shapely.orient_polygons(geometry), label, left_out))
    for number, polygon in enumerate(polygons, start=1):
        where = f"{label}part {number} " if len(polygons) > 1 else label
        rings = tuple(shapely.get_coordinates(ring) for ring in (polygon.exterior, *polygon.interiors))
        if not all(np.isfinite(ring).all() for ring in rings):
            bad = sum(int((~np.isfinite(ring)).any(axis=1).sum()) for ring in rings)
            faults.append(f"{where}has {bad} points that are not finite numbers")
        else:
            parts.append(RawPart(where=where, rings=rings))
    return RawOutline(
        name=name, parts=tuple(parts), left_out=tuple(left_out), changes=_heights(geometry, label), faults=tuple(faults)
    )


def is_said(value: object) -> bool:
    """Return whether an attribute has a value: not null, not blank, and no nan.

    Parameters
    ----------
    value : object
        The attribute.
    """
    return value is not None and bool(str(value).strip()) and value == value and str(value) != "NaT"  # noqa: PLR0124


def shown(value: object) -> str:
    """Return a value as messages show it: one line, cut after some letters.

    Parameters
    ----------
    value : object
        An attribute.
    """
    text = plain_name(str(value))
    return text if len(text) <= _LONGEST_VALUE else f"{text[: _LONGEST_VALUE - 3]}..."


def ground_size(outline: RawOutline, system: pyproj.CRS | None) -> tuple[float, float]:
    """Return area and perimeter on the ellipsoid of rings as they came. [m2, m]

    Parameters
    ----------
    outline : RawOutline
        Rings, valid or not.
    system : pyproj.CRS, optional
        Their coordinate system; None for longitude and latitude.

    Returns
    -------
    tuple of float
        Area of outer rings less holes, and length of all rings; nan where places lie outside the system.
    """
    import pyproj

    ellipsoid = pyproj.Geod(ellps="WGS84")
    area_m2 = perimeter_m = 0.0
    for part in outline.parts:
        for number, ring in enumerate(part.rings):
            lon, lat = ring.T if system is None else crs_to_lonlat(ring[:, 0], ring[:, 1], system)
            ring_m2, ring_m = ellipsoid.polygon_area_perimeter(lon, lat)
            area_m2 += -abs(ring_m2) if number else abs(ring_m2)
            perimeter_m += ring_m
    return area_m2, perimeter_m


def shape_of(outline: RawOutline) -> shapely.MultiPolygon:
    """Return the polygons of an outline as a shape that may be invalid, in the numbers of the file.

    Parameters
    ----------
    outline : RawOutline
        Rings, valid or not.
    """
    polygons = []
    for part in outline.parts:
        rings = [_closed(ring) for ring in part.rings]
        if len(rings[0]) >= 4:
            polygons.append(shapely.Polygon(rings[0], [ring for ring in rings[1:] if len(ring) >= 4]))
    return shapely.MultiPolygon(polygons)


def all_points(features: Iterable[Feature]) -> FloatArray:
    """Return every point of features, shape (N, 2).

    Parameters
    ----------
    features : iterable of Feature
        The features.
    """
    rings = [ring for feature in features for part in feature.outline.parts for ring in part.rings]
    return np.concatenate(rings) if rings else np.empty((0, 2))


def _closed(ring: FloatArray) -> FloatArray:
    return ring if len(ring) == 0 or (ring[0] == ring[-1]).all() else np.vstack([ring, ring[:1]])


def _polygons(geometry: shapely.Geometry | None, label: str, left_out: list[str]) -> Iterator[shapely.Polygon]:
    if geometry is None:
        left_out.append(f"{label}has no geometry (null); a polygon is needed")
    elif shapely.is_empty(geometry):
        left_out.append(f"{label}geometry is an empty {type(geometry).__name__}; a polygon is needed")
    elif isinstance(geometry, shapely.Polygon):
        yield geometry
    elif isinstance(geometry, shapely.MultiPolygon | shapely.GeometryCollection):
        for part in geometry.geoms:
            yield from _polygons(part, label, left_out)
    else:
        left_out.append(f"{label}geometry is a {type(geometry).__name__}; a Polygon or MultiPolygon is needed")


def _heights(geometry: shapely.Geometry | None, label: str) -> tuple[Change, ...]:
    changes = []
    for what, has in (("heights", shapely.has_z), ("measures", getattr(shapely, "has_m", shapely.is_missing))):
        if geometry is not None and has(geometry):
            count = shapely.get_num_coordinates(geometry)
            changes.append(Change(what=f"{label}{what} of {count} points left out", area_change_m2=0.0))
    return tuple(changes)
