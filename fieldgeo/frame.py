"""The frame: the local metric plane of one field, and the way from any other coordinate system into it.

A frame is an Albers equal-area conic projection of the WGS 84 ellipsoid that touches it along the parallel through the
middle of the field. Areas in it are areas on the ellipsoid; lengths and angles are true at the centre and very nearly
so over a field (a length 5 km north of the centre is off by 3e-7 of itself).

The side of an outline between two corners is a geodesic, the straight line of a fence. Seen in the plane it bends, and
the choice of the projection is a matter of how little. In an azimuthal equal-area plane of the ellipsoid a line that
runs east and west bends by 0.04 mm on half a mile wherever it lies, and the areas of polygons drawn straight are off by
3e-8 of themselves at 500 m across and by 1e-7 at 2 km (latitude 42). The conic plane has no such bend: 6e-10 and 9e-9,
growing as the square of the size to 4e-8 at 4 km and 2e-7 at 10 km. So `shape_to_frame` puts extra points on sides
longer than 2 km, and then the area agrees to 1.2e-8 at every size and latitude (measured on random polygons of 3 to 5
corners against geodesic areas, latitudes 0.5 to 84).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from math import ceil, copysign, hypot, isfinite
from typing import Final, TypeAlias, TypeVar, cast

import numpy as np
import numpy.typing as npt
import pyproj
import shapely
from pyproj.enums import TransformDirection
from pyproj.exceptions import CRSError, ProjError

from fieldgeo.errors import CrsError
from fieldgeo.zones import described, zone_systems

FloatArray: TypeAlias = npt.NDArray[np.float64]
Shape = TypeVar("Shape", bound=shapely.Geometry)

LONLAT: Final = "OGC:CRS84"  # WGS 84 longitude, latitude, in this order (RFC 7946 section 4)
LATITUDE_LIMIT_DEG: Final = 85.0  # nearer the pole directions from true north turn too fast; no crop grows there
LONGEST_EDGE_M: Final = 2000.0  # longer sides get points between, see above
# Nearer the equator the apex of the cone is too far away for the digits of a float (10 micrometres are left here).
_LEAST_PARALLEL_DEG: Final = 0.015
_NORTH_STEP_DEG: Final = 5e-4  # half the baseline, about 55 m, over which north is taken


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """Equal-area plane centred on one field, x east and y north at the centre.

    Parameters
    ----------
    lon_deg : float
        Longitude of the centre, WGS 84, -180 to 180. [deg]
    lat_deg : float
        Latitude of the centre, WGS 84, -85 to 85. [deg]

    Raises
    ------
    CrsError
        If the centre is not a place on Earth, or lies nearer to a pole than 85 degrees of latitude.
    """

    lon_deg: float
    lat_deg: float

    def __post_init__(self) -> None:
        if not (isfinite(self.lon_deg) and -180 <= self.lon_deg <= 180):
            raise CrsError(f"frame: longitude is {self.lon_deg}. It must be between -180 and 180 degrees.")
        if not (isfinite(self.lat_deg) and abs(self.lat_deg) <= LATITUDE_LIMIT_DEG):
            raise CrsError(
                f"frame: latitude is {self.lat_deg}. It must be between -{LATITUDE_LIMIT_DEG:g} and "
                f"{LATITUDE_LIMIT_DEG:g} degrees: check that longitude comes first."
            )

    def to_frame(self, lon_deg: npt.ArrayLike, lat_deg: npt.ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Return places in the frame. Longitudes may be beyond 180 degrees. [m]

        Parameters
        ----------
        lon_deg, lat_deg : array_like of shape (N,) or float
            Longitude and latitude, WGS 84. [deg]

        Returns
        -------
        tuple of ndarray of shape (N,)
            x east and y north. [m]
        """
        x_m, y_m = _plane(self.lon_deg, self.lat_deg).transform(_floats(lon_deg), _floats(lat_deg))
        return _floats(x_m), _floats(y_m)

    def to_lonlat(self, x_m: npt.ArrayLike, y_m: npt.ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Return longitude and latitude of places in the frame, longitude within -180 to 180. [deg]

        Parameters
        ----------
        x_m, y_m : array_like of shape (N,) or float
            Place in the frame. [m]

        Returns
        -------
        tuple of ndarray of shape (N,)
            Longitude and latitude, WGS 84. [deg]
        """
        plane = _plane(self.lon_deg, self.lat_deg)
        lon_deg, lat_deg = plane.transform(_floats(x_m), _floats(y_m), direction=TransformDirection.INVERSE)
        return _floats(lon_deg), _floats(lat_deg)

    def crs(self) -> pyproj.CRS:
        """Return the coordinate system of the frame, for libraries that ask for one."""
        return pyproj.CRS.from_user_input(f"{_projection(self.lon_deg, self.lat_deg)} +datum=WGS84 +units=m +type=crs")

    def convergence_deg(self, x_m: npt.ArrayLike, y_m: npt.ArrayLike) -> FloatArray:
        """Return the azimuth of true north as the frame shows it, at places of the frame. [deg]

        It is zero along the meridian of the centre and grows to about 0.04 degree 5 km east of it at latitude 42. A
        true azimuth is the azimuth in the frame less the convergence.

        Parameters
        ----------
        x_m, y_m : array_like of shape (N,) or float
            Place in the frame. [m]

        Returns
        -------
        ndarray of shape (N,)
            Convergence, positive where true north is clockwise from the y axis. [deg]

        Notes
        -----
        Derived: the direction of a step of 0.001 degree along the meridian through the place.
        """
        lon_deg, lat_deg = self.to_lonlat(x_m, y_m)
        south_x_m, south_y_m = self.to_frame(lon_deg, lat_deg - _NORTH_STEP_DEG)
        north_x_m, north_y_m = self.to_frame(lon_deg, lat_deg + _NORTH_STEP_DEG)
        return np.degrees(np.arctan2(north_x_m - south_x_m, north_y_m - south_y_m))


def azimuth_deg(dx_m: npt.ArrayLike, dy_m: npt.ArrayLike) -> FloatArray:
    """Return azimuths in the frame, clockwise from its y axis, 0 <= azimuth < 360. [deg]

    At the centre of the frame this is the azimuth from true north; elsewhere take off `Frame.convergence_deg`.

    Parameters
    ----------
    dx_m, dy_m : array_like of shape (N,) or float
        Step east and north, not both zero. [m]

    Returns
    -------
    ndarray of shape (N,)
        Azimuth. [deg]

    Examples
    --------
    >>> azimuth_deg([0, 1, 0, -1], [1, 0, -1, 0]).tolist()
    [0.0, 90.0, 180.0, 270.0]
    """
    turned = np.degrees(np.arctan2(_floats(dx_m), _floats(dy_m))) % 360.0
    return np.where(turned >= 360.0, 0.0, turned)  # -1e-20 % 360 is 360


def unwrap_lon_deg(lon_deg: npt.ArrayLike) -> FloatArray:
    """Return longitudes without the jump at 180 degrees: those west of it come back as 180 and more. [deg]

    Parameters
    ----------
    lon_deg : array_like of shape (N,)
        Longitudes of one field. [deg]

    Returns
    -------
    ndarray of shape (N,)
        The same places; unaltered when they do not span more than 180 degrees.
    """
    lon = _floats(lon_deg)
    if lon.size == 0 or np.ptp(lon) <= 180:
        return lon
    return np.where(lon < 0, lon + 360, lon)


def frame_for(shape_lonlat: shapely.Geometry) -> Frame:
    """Return the frame centred on a shape: the middle of its longitudes and latitudes, to a millionth of a degree.

    Rounding lets a field that was written to a file and read again have the very same frame.

    Parameters
    ----------
    shape_lonlat : shapely.Geometry
        Shape in longitude and latitude, WGS 84, not empty. [deg]

    Returns
    -------
    Frame

    Raises
    ------
    CrsError
        If the shape is empty, or its middle is no place on Earth or is beyond 85 degrees of latitude.
    """
    lon, lat = shapely.get_coordinates(shape_lonlat).T
    if lon.size == 0:
        raise CrsError("frame: the shape is empty. Give a shape with coordinates.")
    lon = unwrap_lon_deg(lon)
    middle_lon = (lon.min() + lon.max()) / 2
    if 180 < abs(middle_lon) <= 360:  # a shape that runs on beyond 180 degrees
        middle_lon -= copysign(360, middle_lon)
    return Frame(lon_deg=round(float(middle_lon), 6), lat_deg=round(float(lat.min() + lat.max()) / 2, 6))


def shape_to_frame(shape_lonlat: Shape, frame: Frame) -> Shape:
    """Return a shape in the frame, with extra points on sides longer than 2 km (see the head of this module). [m]

    Parameters
    ----------
    shape_lonlat : shapely.Geometry
        Shape in longitude and latitude, WGS 84; heights are dropped. [deg]
    frame : Frame
        The plane.

    Returns
    -------
    shapely.Geometry
        Shape of the same kind. [m]
    """
    plane = shapely.transform(shape_lonlat, lambda lonlat: np.column_stack(frame.to_frame(lonlat[:, 0], lonlat[:, 1])))
    return bend_long_edges(plane, frame)


def shape_to_lonlat(shape: Shape, frame: Frame) -> Shape:
    """Return a shape of the frame in longitude and latitude. [deg]

    Longitudes are without a jump: in a field across 180 degrees they run on beyond it, or beyond -180.

    Parameters
    ----------
    shape : shapely.Geometry
        Shape in the frame. [m]
    frame : Frame
        The plane.

    Returns
    -------
    shapely.Geometry
        Shape of the same kind.
    """

    def unproject(xy_m: FloatArray) -> FloatArray:
        lon, lat = frame.to_lonlat(xy_m[:, 0], xy_m[:, 1])
        # Whole turns only, so that the digits of a longitude on this side of 180 degrees stay as they are.
        return np.column_stack([lon - 360.0 * np.round((lon - frame.lon_deg) / 360.0), lat])

    return shapely.transform(shape, unproject)


def bend_long_edges(shape: Shape, frame: Frame) -> Shape:
    """Return a shape of the frame with points of the geodesic on every side longer than 2 km. [m]

    Parameters
    ----------
    shape : shapely.Geometry
        Shape in the frame; its corners keep their places. [m]
    frame : Frame
        The plane.

    Returns
    -------
    shapely.Geometry
        Shape of the same kind; the same object when no side is that long.
    """
    if isinstance(shape, shapely.MultiPolygon) and _is_long(shape):
        return cast("Shape", shapely.MultiPolygon([_bent_polygon(part, frame) for part in shape.geoms]))
    if isinstance(shape, shapely.Polygon) and _is_long(shape):
        return cast("Shape", _bent_polygon(shape, frame))
    return shape


def parse_crs(text: str) -> pyproj.CRS:
    """Return the coordinate system that a text names.

    Parameters
    ----------
    text : str
        Anything pyproj reads, such as ``"EPSG:26915"``, ``"OGC:CRS84"`` or the text of a .prj file; or a state plane
        zone, such as ``"Iowa North ftUS"`` or ``"NAD83(2011) Illinois East m"`` (see `zones`).

    Returns
    -------
    pyproj.CRS
        A system on the surface of the Earth, geographic or projected. Heights of a compound system are left out.

    Raises
    ------
    CrsError
        If the text names no system, a zone without its unit where there are several, or a system that does not lie on
        the Earth's surface.
    """
    zones = zone_systems(text)
    if len(zones) > 1:
        raise CrsError(
            f"coordinate system: got {text!r}, which is to be had in more than one unit. Give one of "
            f"{', '.join(map(described, zones))}."
        )
    try:
        if zones:
            return zones[0]
        crs = pyproj.CRS.from_user_input(text)
        flat = crs.to_2d()
    except (CRSError, ProjError) as error:
        raise CrsError(
            f"coordinate system: got {text!r}, which names no known system. "
            "Give a code such as EPSG:26915, OGC:CRS84 for longitude and latitude, or a state plane zone with its "
            "unit, such as 'Illinois East ftUS'."
        ) from error
    if flat.is_compound:
        flat = flat.sub_crs_list[0]
    if not (flat.is_geographic or flat.is_projected):
        raise CrsError(
            f"coordinate system: got {text!r}, a {flat.type_name}. It must be a geographic or a projected system."
        )
    return flat


def crs_to_lonlat(x: npt.ArrayLike, y: npt.ArrayLike, crs: pyproj.CRS) -> tuple[FloatArray, FloatArray]:
    """Return longitude and latitude (WGS 84) of places in another coordinate system. [deg]

    The first coordinate is always the east one, whatever order the system itself states, and each coordinate is in the
    system's own unit: US survey foot and international foot are told apart by the system, never by its name.

    Parameters
    ----------
    x, y : array_like of shape (N,)
        East and north coordinate, or longitude and latitude, in the unit of `crs`.
    crs : pyproj.CRS
        The system.

    Returns
    -------
    tuple of ndarray of shape (N,)
        Longitude and latitude; infinite where a place lies outside what the system can show.

    Raises
    ------
    CrsError
        If there is no way from the system to WGS 84.
    """
    try:
        lon_deg, lat_deg = _to_lonlat(crs).transform(_floats(x), _floats(y))
    except ProjError as error:
        raise CrsError(
            f"coordinate system: no way from {crs.name!r} to longitude and latitude. Give another."
        ) from error
    return _floats(lon_deg), _floats(lat_deg)


def _projection(lon_deg: float, lat_deg: float) -> str:
    parallel_deg = copysign(max(abs(lat_deg), _LEAST_PARALLEL_DEG), lat_deg)
    return (
        f"+proj=aea +lat_1={parallel_deg!r} +lat_2={parallel_deg!r} +lat_0={float(lat_deg)!r} +lon_0={float(lon_deg)!r}"
    )


@lru_cache(maxsize=64)
def _plane(lon_deg: float, lat_deg: float) -> pyproj.Transformer:
    # A bare pipeline rather than two systems: it needs no database, and takes microseconds instead of 20 ms.
    return pyproj.Transformer.from_pipeline(
        "+proj=pipeline +step +proj=unitconvert +xy_in=deg +xy_out=rad "
        f"+step {_projection(lon_deg, lat_deg)} +ellps=WGS84"
    )


@lru_cache(maxsize=16)
def _to_lonlat(crs: pyproj.CRS) -> pyproj.Transformer:
    return pyproj.Transformer.from_crs(crs, LONLAT, always_xy=True)


@lru_cache(maxsize=1)
def _ellipsoid() -> pyproj.Geod:
    return pyproj.Geod(ellps="WGS84")


def _floats(values: npt.ArrayLike) -> FloatArray:
    return np.asarray(values, dtype=np.float64)


def _is_long(shape: shapely.Geometry) -> bool:
    # Steps between rings are counted too: that can only cost a second look.
    steps = np.diff(shapely.get_coordinates(shape), axis=0)
    return bool(np.any(np.hypot(steps[:, 0], steps[:, 1]) > LONGEST_EDGE_M))


def _bent_polygon(polygon: shapely.Polygon, frame: Frame) -> shapely.Polygon:
    rings = [_bent(shapely.get_coordinates(ring), frame) for ring in (polygon.exterior, *polygon.interiors)]
    return shapely.Polygon(rings[0], rings[1:])


def _bent(ring_m: FloatArray, frame: Frame) -> FloatArray:
    points = [ring_m[:1]]
    for start, end in pairwise(ring_m):
        pieces = ceil(hypot(*(end - start)) / LONGEST_EDGE_M)
        if pieces > 1:
            lon, lat = frame.to_lonlat([start[0], end[0]], [start[1], end[1]])
            between = _floats(_ellipsoid().npts(lon[0], lat[0], lon[1], lat[1], pieces - 1))
            points.append(np.column_stack(frame.to_frame(between[:, 0], between[:, 1])))
        points.append(end[np.newaxis])
    return np.concatenate(points)
