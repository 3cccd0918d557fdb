"""GeoJSON out: shapes of a frame as a feature collection in longitude and latitude.

Format: RFC 7946, "The GeoJSON Format", IETF, August 2016: WGS 84 longitude and latitude, no `crs` member (section 4),
outer rings counter-clockwise and holes clockwise (3.1.6), geometries cut at 180 degrees (3.1.9).

Nine decimals are written. The RFC names six as enough for most uses (about 10 cm, section 11.2); here a file that is
read again must give the same figures, and nine decimals keep a coordinate to 0.06 mm.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping, Sequence
from math import isfinite
from typing import TYPE_CHECKING, Any, Final, cast

import numpy as np
import shapely
from shapely.geometry import mapping

from fieldgeo.errors import InputError
from fieldgeo.export.files import PathLike, write_whole
from fieldgeo.frame import FloatArray, Frame, shape_to_lonlat

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

DECIMALS: Final = 9
_SEAM_STEP_DEG: Final = 0.001  # about 111 m of meridian between points of the line to cut at
_FAR_M: Final = 1e6  # beyond any field
_FIRST_MULTI_TYPE: Final = 4  # shapely's numbers of the kinds of geometry: 4 and above are of several parts

Feature = tuple[shapely.Geometry, Mapping[str, object]]


def write_geojson(path: PathLike, features: Iterable[Feature], *, frame: Frame, force: bool = False) -> None:
    """Write shapes of a frame to a GeoJSON file, whole or not at all.

    Parameters
    ----------
    path : str or path
        The file.
    features : iterable of (shapely.Geometry, mapping)
        Shapes in the frame [m] and their properties.
    frame : Frame
        The plane of the shapes.
    force : bool
        Whether an existing file may be replaced.

    Raises
    ------
    FileError
        If the file exists and `force` is not set, or it cannot be written.
    InputError
        If a shape has coordinates that are not finite, or a property cannot be written as JSON.
    """
    collection = feature_collection(features, frame=frame)
    lines = ",\n".join(json.dumps(feature, allow_nan=False, ensure_ascii=False) for feature in collection["features"])
    write_whole(path, f'{{"type": "FeatureCollection", "features": [\n{lines}\n]}}\n', force=force)


def feature_collection(features: Iterable[Feature], *, frame: Frame) -> dict[str, Any]:
    """Return shapes of a frame as a GeoJSON object of plain lists and dictionaries.

    Parameters
    ----------
    features : iterable of (shapely.Geometry, mapping)
        Shapes in the frame [m] and their properties. A number that is not finite is written as null.
    frame : Frame
        The plane of the shapes.

    Returns
    -------
    dict
        A FeatureCollection of RFC 7946. Shapes that vanish at 9 decimals have a null geometry.

    Raises
    ------
    InputError
        If a shape has coordinates that are not finite, or a property cannot be written as JSON.
    """
    return {
        "type": "FeatureCollection",
        "features": [
            {
                "type": "Feature",
                "properties": {str(key): _plain(value, str(key)) for key, value in properties.items()},
                "geometry": _geometry(shape, frame),
            }
            for shape, properties in features
        ],
    }


def _geometry(shape: shapely.Geometry, frame: Frame) -> Mapping[str, object] | None:
    place = shape_to_places(shape, frame)
    return None if place is None else mapping(cast("BaseGeometry", place))


def shape_to_places(shape: shapely.Geometry, frame: Frame) -> shapely.Geometry | None:
    """Return a shape in longitude and latitude at 9 decimals, cut at 180 degrees, valid, outer rings counter-clockwise.

    Parameters
    ----------
    shape : shapely.Geometry
        In the frame. [m]
    frame : Frame
        The plane of the shape.

    Returns
    -------
    shapely.Geometry or None
        All longitudes lie from -180 to 180; None if the shape vanishes at 9 decimals.

    Raises
    ------
    InputError
        If the shape has coordinates that are not finite.
    """
    if not np.isfinite(shapely.get_coordinates(shape)).all():
        raise InputError("a shape has coordinates that are not finite numbers. Nothing was written.")
    lonlat = shape_to_lonlat(shape, frame)
    lon_deg = shapely.get_coordinates(lonlat)[:, 0]
    if lon_deg.size and lon_deg.min() >= 180:
        lonlat = shapely.transform(lonlat, _moved(-360.0))
    elif lon_deg.size and lon_deg.max() <= -180:
        lonlat = shapely.transform(lonlat, _moved(360.0))
    elif lon_deg.size and np.abs(lon_deg).max() > 180:
        lonlat = _cut_at_seam(shape, frame)
    rounded = _rounded(lonlat)
    return None if shapely.is_empty(rounded) else rounded


def _rounded(lonlat: shapely.Geometry) -> shapely.Geometry:
    """Return a shape at 9 decimals, valid, rings wound as the RFC says, without what vanishes at 9 decimals."""
    parts = [part for part in map(_rounded_part, shapely.get_parts(lonlat)) if part is not None]
    if not parts:
        return shapely.GeometryCollection()
    rounded = _collected(parts) if shapely.get_type_id(lonlat) >= _FIRST_MULTI_TYPE else parts[0]
    if not shapely.is_valid(rounded):
        # Rounding can push a side across another where they are nearer than 0.1 mm.
        rounded = _on_grid(lonlat)
    return shapely.orient_polygons(rounded)


def _on_grid(lonlat: shapely.Geometry) -> shapely.Geometry:
    """Return a shape at 9 decimals, rounded with an eye on the whole: slower, valid whatever comes together."""
    origin = np.round(shapely.get_coordinates(lonlat)[0])
    # In whole steps from a degree near by, where the rounding works on small whole numbers.
    steps = shapely.transform(lonlat, lambda degrees: (degrees - origin) * 10**DECIMALS)
    whole = shapely.set_precision(shapely.make_valid(steps, method="structure", keep_collapsed=False), 1.0)
    return shapely.transform(whole, lambda count: np.round(origin + count / 10**DECIMALS, DECIMALS))


def _rounded_part(part: shapely.Geometry) -> shapely.Geometry | None:
    if isinstance(part, shapely.Polygon):
        outer, *holes = (_rounded_points(ring) for ring in (part.exterior, *part.interiors))
        return shapely.Polygon(outer, [hole for hole in holes if len(hole) > 3]) if len(outer) > 3 else None
    points = _rounded_points(part)
    if isinstance(part, shapely.LineString):
        return shapely.LineString(points) if len(points) > 1 else None
    return shapely.Point(points[0]) if len(points) else None


def _rounded_points(line: shapely.Geometry) -> FloatArray:
    """Return the points of a line, ring or point at 9 decimals, one for each place it comes to."""
    points = np.round(shapely.get_coordinates(line), DECIMALS)
    return points[np.append(True, np.any(np.diff(points, axis=0) != 0, axis=1))] if len(points) else points


def _cut_at_seam(shape: shapely.Geometry, frame: Frame) -> shapely.Geometry:
    """Return a shape that crosses 180 degrees in longitude and latitude, cut there, all longitudes within 180."""
    seam_deg = 180.0 if frame.lon_deg >= 0 else -180.0
    lat_deg = shapely.get_coordinates(shape_to_lonlat(shape, frame))[:, 1]
    along = np.arange(lat_deg.min() - _SEAM_STEP_DEG, lat_deg.max() + 2 * _SEAM_STEP_DEG, _SEAM_STEP_DEG)
    seam_m = np.column_stack(frame.to_frame(np.full_like(along, seam_deg), along))
    pieces: list[shapely.Geometry] = []
    for side, far_m in (("west", -_FAR_M), ("east", _FAR_M)):
        half = shapely.Polygon(np.vstack([seam_m, [[far_m, seam_m[-1, 1]], [far_m, seam_m[0, 1]]]]))
        piece = shape_to_lonlat(shapely.intersection(shape, half), frame)
        turn_deg = 0.0 if (side == "west") == (seam_deg > 0) else -2 * seam_deg
        pieces.extend(shapely.get_parts(shapely.transform(piece, _moved(turn_deg))))
    # A side of the shape on the very seam leaves a line where there should be ground.
    dimension = shapely.get_dimensions(shape)
    kept = [piece for piece in pieces if shapely.get_dimensions(piece) == dimension and not shapely.is_empty(piece)]
    return _collected(kept)


def _moved(turn_deg: float) -> Callable[[FloatArray], FloatArray]:
    return lambda degrees: np.column_stack([np.clip(degrees[:, 0] + turn_deg, -180, 180), degrees[:, 1]])


def _collected(parts: Sequence[shapely.Geometry]) -> shapely.Geometry:
    polygons = [part for part in parts if isinstance(part, shapely.Polygon)]
    lines = [part for part in parts if isinstance(part, shapely.LineString)]
    points = [part for part in parts if isinstance(part, shapely.Point)]
    if len(polygons) == len(parts):
        return shapely.MultiPolygon(polygons)
    if len(lines) == len(parts):
        return shapely.MultiLineString(lines)
    if len(points) == len(parts):
        return shapely.MultiPoint(points)
    return shapely.GeometryCollection(list(parts))


def _plain(value: object, key: str) -> object:
    """Return a property as JSON knows it."""
    if isinstance(value, np.generic):
        value = value.item()
    if isinstance(value, str):
        return value.encode("utf-8", "replace").decode(
            "utf-8"
        )  # half a character, as broken files have, cannot be written
    if value is None or isinstance(value, bool | int):
        return value
    if isinstance(value, float):
        return value if isfinite(value) else None
    if isinstance(value, Mapping):
        return {str(name): _plain(item, key) for name, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item, key) for item in value]
    raise InputError(
        f"GeoJSON: property {key!r} is a {type(value).__name__}. It must be text, number, true, false or null."
    )
