"""A deed's figure set down on the Earth: by one corner and a rotation, by two corners, or by more, best fitting.

The figure is turned and moved, never stretched. Bearings of a deed count from one north for the whole figure; the frame
shows true north along its y axis at its centre only, so the frame is centred on the one known corner, or on the middle
of several.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import atan2, cos, degrees, radians, sin
from typing import TYPE_CHECKING, Final

import numpy as np

from fieldgeo.errors import CrsError, OutlineError
from fieldgeo.frame import LATITUDE_LIMIT_DEG, FloatArray, Frame, unwrap_lon_deg

if TYPE_CHECKING:
    from collections.abc import Sequence

NOWHERE: Final = Frame(lon_deg=-93.0, lat_deg=42.0)  # for a figure whose place is not known
MOST_MISFIT: Final = 0.01  # of lengths between known corners; common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """A figure set down."""

    lonlat_deg: FloatArray  # shape (M, 2)
    is_placed: bool
    rotation_deg: float  # clockwise, that was applied, from the deed's north to true north at the beginning
    notes: tuple[str, ...]
    is_by_one_corner: bool = False


def place_figure(
    points_m: FloatArray,
    corners_m: FloatArray,
    known: Sequence[tuple[int, float, float]],
    rotation_deg: float | None,
) -> Placed:
    """Return a figure in longitude and latitude.

    Parameters
    ----------
    points_m : ndarray of shape (M, 2)
        What is to be set down; east and north in the deed's own plane. [m]
    corners_m : ndarray of shape (N, 2)
        Corners of the deed in the same plane. [m]
    known : sequence of (int, float, float)
        Known corners: number from 1, longitude and latitude, WGS 84. [deg]
    rotation_deg : float or None
        Clockwise, from the deed's north to true north. [deg]

    Returns
    -------
    Placed

    Raises
    ------
    OutlineError
        If a known corner is none of the figure's, is given twice, is no place on Earth, or if the lengths between known
        corners differ from the deed's by more than 1 %.

    Notes
    -----
    Rigid fit in the plane, derived: of all turns, the sum over the corners of ground x deed (as complex numbers, from
    their middles) has the one with the least squares.
    """
    _check_known(known, len(corners_m))
    if len(known) < 2:
        return _by_rotation(points_m, corners_m, known, rotation_deg)
    lon, lat = np.array([corner[1:] for corner in known]).T
    lon = unwrap_lon_deg(lon)
    middle = (float(lon.mean()) + 180.0) % 360.0 - 180.0
    frame = _frame(middle, float(lat.mean()))
    ground_m = np.column_stack(frame.to_frame(lon, lat))
    deed_m = corners_m[[number - 1 for number, _, _ in known]]
    ground_mid, deed_mid = ground_m.mean(axis=0), deed_m.mean(axis=0)
    to_ground, to_deed = ground_m - ground_mid, deed_m - deed_mid
    notes = _check_lengths(known, to_ground, to_deed)
    dot = float(np.sum(to_deed * to_ground))
    cross = float(np.sum(to_deed[:, 0] * to_ground[:, 1] - to_deed[:, 1] * to_ground[:, 0]))
    clockwise_deg = -degrees(atan2(cross, dot))
    laid = _turned(points_m - deed_mid, clockwise_deg) + ground_mid
    beginning = _turned(corners_m[:1] - deed_mid, clockwise_deg)[0] + ground_mid
    rotation = clockwise_deg - float(frame.convergence_deg(beginning[0], beginning[1]))
    rotation = (rotation + 180.0) % 360.0 - 180.0
    notes.append(f"by {len(known)} known corners, its bearings are turned {rotation:+.4f} degrees to true north")
    if rotation_deg is not None and abs((rotation - rotation_deg + 180.0) % 360.0 - 180.0) > 0.01:
        notes.append(f"the rotation of {rotation_deg:g} degrees that is given is not used: the corners tell another")
    left_m = np.hypot(*(_turned(to_deed, clockwise_deg) - to_ground).T)
    if len(known) > 2:
        told = ", ".join(f"corner {corner[0]} {off:.2f} m" for corner, off in zip(known, left_m, strict=True))
        notes.append(f"fitted to {len(known)} corners, which it misses by: {told}")
    return Placed(lonlat_deg=_lonlat(frame, laid), is_placed=True, rotation_deg=rotation, notes=tuple(notes))


def _by_rotation(
    points_m: FloatArray,
    corners_m: FloatArray,
    known: Sequence[tuple[int, float, float]],
    rotation_deg: float | None,
) -> Placed:
    number, lon_deg, lat_deg = known[0] if known else (1, NOWHERE.lon_deg, NOWHERE.lat_deg)
    frame = _frame(lon_deg, lat_deg)
    rotation = rotation_deg or 0.0
    notes = []
    if known and rotation_deg is None:
        notes.append("no rotation is given: its bearings are taken as counted from true north")
    laid = _turned(points_m - corners_m[number - 1], rotation)
    return Placed(
        lonlat_deg=_lonlat(frame, laid),
        is_placed=bool(known),
        rotation_deg=rotation,
        notes=tuple(notes),
        is_by_one_corner=bool(known),
    )


def _check_known(known: Sequence[tuple[int, float, float]], count: int) -> None:
    faults = []
    for place, (number, lon_deg, lat_deg) in enumerate(known):
        if not 1 <= number <= count:
            faults.append(f"corner {number}: the deed has corners 1 to {count}; 1 is the beginning")
        if not (abs(lon_deg) <= 180 and abs(lat_deg) <= LATITUDE_LIMIT_DEG):
            faults.append(
                f"corner {number}: {lon_deg:g}, {lat_deg:g} is no place where crops grow: longitude comes first, "
                f"within 180 degrees, and latitude is within {LATITUDE_LIMIT_DEG:g}"
            )
        if any(number == other for other, _, _ in known[:place]):
            faults.append(f"corner {number} is given twice")
    if faults:
        raise OutlineError("the known corners cannot be used. Give each as number, longitude and latitude.", faults)


def _check_lengths(known: Sequence[tuple[int, float, float]], to_ground: FloatArray, to_deed: FloatArray) -> list[str]:
    """Return in words how lengths between the known corners differ; raises where they differ by too much."""
    numbers = " and ".join(str(number) for number, _, _ in known)
    size_ground, size_deed = (float(np.sqrt(np.sum(side**2))) for side in (to_ground, to_deed))
    if size_deed == 0.0 or size_ground == 0.0:
        raise OutlineError(f"corners {numbers} lie in one place. Give corners that are apart.")
    off = size_ground / size_deed - 1.0
    if len(known) == 2:
        deed_m, ground_m = (float(np.hypot(*(side[1] - side[0]))) for side in (to_deed, to_ground))
        words = f"between corners {numbers} the deed has {deed_m:.2f} m, the places given {ground_m:.2f} m ({off:+.3%})"
    else:
        words = f"the places given for corners {numbers} make a figure {off:+.3%} the size of the deed's"
    if abs(off) > MOST_MISFIT:
        raise OutlineError(
            f"{words}; that is more than {MOST_MISFIT:.0%}. Check the numbers and places of the corners, and the unit "
            "of the distances."
        )
    return [f"{words}; the figure is not stretched"]


def _turned(points_m: FloatArray, clockwise_deg: float) -> FloatArray:
    turn = radians(clockwise_deg)
    x, y = points_m.T
    return np.column_stack([x * cos(turn) + y * sin(turn), y * cos(turn) - x * sin(turn)])


def _lonlat(frame: Frame, points_m: FloatArray) -> FloatArray:
    return np.column_stack(frame.to_lonlat(points_m[:, 0], points_m[:, 1]))


def _frame(lon_deg: float, lat_deg: float) -> Frame:
    try:
        return Frame(lon_deg=lon_deg, lat_deg=lat_deg)
    except CrsError as error:  # nothing known leads here: places are checked before
        raise OutlineError(str(error)) from error
