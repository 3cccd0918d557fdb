"""Which coordinate system a file of polygons is read in: what it says, what was asked for, and whether that can be."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from fieldgeo.errors import CrsError
from fieldgeo.frame import LONLAT, FloatArray, crs_to_lonlat, parse_crs
from fieldgeo.outline.files.geojson import plain_name
from fieldgeo.zones import described, unit_of, zone_systems

if TYPE_CHECKING:
    from collections.abc import Iterator

    import pyproj

    from fieldgeo.frame import Frame
    from fieldgeo.outline.raw import RawFile

_LONLAT_NAMES: Final = {LONLAT, "EPSG:4326", "CRS84", "WGS84"}
_NEAR_DEG: Final = 0.3  # beyond the bounds of a zone; a field across its edge is still drawn in it


@dataclass(frozen=True, slots=True, kw_only=True)
class FileSystem:
    """The coordinate system that a file is read in."""

    system: pyproj.CRS | None  # None: longitude and latitude, WGS 84
    name: str  # its code, or what it calls itself
    notes: tuple[str, ...] = ()  # how it was found


def file_system(raw: RawFile, crs: str | None, name: str) -> FileSystem:
    """Return the system that the rings of a file are in.

    Parameters
    ----------
    raw : RawFile
        The file taken apart.
    crs : str, optional
        What was asked for; goes before what the file says.
    name : str
        The file, for messages.

    Raises
    ------
    CrsError
        If none is known, if it names no system, or if its unit cannot be that of the coordinates.
    """
    rings = [ring for outline in raw.outlines for part in outline.parts for ring in part.rings]
    points = np.concatenate(rings) if rings else np.empty((0, 2))
    return system_of(crs or raw.crs, points, is_needed=raw.needs_crs and crs is None, name=name)


def system_of(text: str | None, xy: FloatArray, *, is_needed: bool, name: str, option: str = "--crs") -> FileSystem:
    """Return the system of a name, code or definition, checked against the coordinates that are to be read in it.

    Parameters
    ----------
    text : str, optional
        The system; None for longitude and latitude on WGS 84. A state plane zone may be named without its unit where
        the coordinates lie in it in one unit only.
    xy : ndarray of shape (N, 2)
        The coordinates; may be empty.
    is_needed : bool
        Whether nobody has said what the system is.
    name : str
        The file, for messages.
    option : str
        What a user says it with, for messages.

    Raises
    ------
    CrsError
        If nobody has said it, if it names no system, or if its unit cannot be that of the coordinates.
    """
    if is_needed:
        raise CrsError(
            f"{name}: its coordinate system is not known: the file does not say it. {_looks(xy)}Name it with {option}, "
            "such as EPSG:26915, 'Illinois East ftUS', or OGC:CRS84 for longitude and latitude."
        )
    if text is None or text.upper() in _LONLAT_NAMES:
        return FileSystem(system=None, name=text or LONLAT)
    zones = zone_systems(text)
    fitting = [zone for zone in zones if _lies_in(zone, xy)] if len(zones) > 1 else []
    if len(fitting) == 1:
        others = " and ".join(sorted({unit_of(zone) for zone in zones} - {unit_of(fitting[0])}))
        note = f"{text!r} was read as {described(fitting[0])}: in {others} its places would lie outside the zone"
        return FileSystem(system=fitting[0], name=fitting[0].to_string(), notes=(note,))
    system = parse_crs(text)
    if system.is_projected and len(xy) and _are_degrees(xy):
        raise CrsError(
            f"{name}: its coordinates ({_range(xy)}) look like degrees, but {_called(text, system)} counts in "
            f"{unit_of(system)}. Read the file without {option}, or name a system in degrees such as EPSG:4269."
        )
    return FileSystem(system=system, name=_called(text, system), notes=tuple(_foot_notes(system)))


def code_of(text: str) -> str:
    """Return the code of a definition, where the dataset has the very same; else the definition.

    Parameters
    ----------
    text : str
        Definition as text, such as that of a .prj file: its name alone would not tell its unit.
    """
    try:
        system = parse_crs(text)
        code = system.to_authority(min_confidence=70)
        is_same = code is not None and parse_crs(":".join(code)).equals(system, ignore_axis_order=True)
    except CrsError:
        return text  # told when it is used, unless another is asked for
    return ":".join(code) if code is not None and is_same else text


def system_notes(raw: RawFile, crs: str | None, found: FileSystem, frame: Frame) -> Iterator[str]:
    """Yield what a person should know of the system a field was read in.

    Parameters
    ----------
    raw : RawFile
        The file taken apart.
    crs : str, optional
        What was asked for.
    found : FileSystem
        The system it was read in.
    frame : Frame
        Where the field lies.
    """
    own = "its crs member says" if raw.form == "geojson" else "the file says"
    if crs and raw.crs and (said := _other_than(found.system, raw.crs)):
        yield f"read as {crs}, as asked, although {own} {said}"
    elif not crs and raw.form == "geojson" and found.system is not None:
        yield (
            f"its crs member was followed: {raw.crs} ({found.system.name}); RFC 7946 knows longitude and latitude only"
        )
    yield from place_notes(found, frame)


def place_notes(found: FileSystem, frame: Frame) -> Iterator[str]:
    """Yield how a system was found, and what it means for the place of a field.

    Parameters
    ----------
    found : FileSystem
        The system it was read in.
    frame : Frame
        Where the field lies.
    """
    yield from found.notes
    if found.system is None:
        return
    datum = found.system.geodetic_crs.datum if found.system.geodetic_crs else None
    if datum is not None and not datum.name.startswith("World Geodetic System 1984"):
        yield f"its datum is {datum.name}, not WGS 84: places may be off by some metres, sizes are not"
    area = found.system.area_of_use
    if area is not None and not _is_in(area.bounds, frame.lon_deg, frame.lat_deg):
        yield f"it lies outside the area that {found.system.name} is made for: check the coordinate system"


def _other_than(system: pyproj.CRS | None, said: str) -> str:
    """Return what a file says of its system, or "" if it is the one it was read in."""
    if said.upper() in _LONLAT_NAMES:
        return said if system is not None else ""
    try:
        own = parse_crs(said)
    except CrsError:
        return plain_name(said)
    return "" if own == system else _called(said, own)


def _called(text: str, system: pyproj.CRS) -> str:
    return text if len(text) < 40 and "[" not in text else system.name


def _range(xy: FloatArray) -> str:
    (west, south), (east, north) = xy.min(axis=0), xy.max(axis=0)
    return f"east {west:.7g} to {east:.7g}, north {south:.7g} to {north:.7g}"


def _are_degrees(xy: FloatArray) -> bool:
    # A projected system with its origin in the field itself is the only other way to such numbers, and no file of
    # parcels has one; a field of 180 m by 90 m in such a plane is told so and can be shifted.
    with np.errstate(invalid="ignore"):
        return bool((np.abs(xy) <= (180.0, 90.0)).all())


def _looks(xy: FloatArray) -> str:
    if not len(xy) or not np.isfinite(xy).all():
        return ""
    what = "degrees" if _are_degrees(xy) else "metres or feet of a projected system"
    return f"Its coordinates ({_range(xy)}) look like {what}. "


def _lies_in(system: pyproj.CRS, xy: FloatArray) -> bool:
    if not len(xy) or system.area_of_use is None:
        return False
    lon, lat = crs_to_lonlat([np.median(xy[:, 0])], [np.median(xy[:, 1])], system)
    west, south, east, north = system.area_of_use.bounds
    wide = (west - _NEAR_DEG, south - _NEAR_DEG, east + _NEAR_DEG, north + _NEAR_DEG)
    return bool(np.isfinite([lon[0], lat[0]]).all()) and _is_in(wide, float(lon[0]), float(lat[0]))


def _is_in(bounds: tuple[float, float, float, float], lon_deg: float, lat_deg: float) -> bool:
    west, south, east, north = bounds
    in_lon = west <= lon_deg <= east if west <= east else lon_deg >= west or lon_deg <= east
    return in_lon and south <= lat_deg <= north


def _foot_notes(system: pyproj.CRS) -> Iterator[str]:
    named = system.axis_info[0].unit_name.lower() if system.axis_info else ""
    unit = unit_of(system)
    if ("survey" in named or "us" in named.replace("_", " ").split()) != (unit == "US survey feet") and "f" in named:
        yield f"its unit is called {named!r}, but its length is that of {unit}, which was followed"
