"""Whether the corners of a section can be right: in their places, about a mile apart, square enough to be divided.

A section is a mile square by intent. Real ones are off by some feet to some hundred; those that are off by half a mile
have a corner under the wrong name, a digit too many, or the wrong coordinate system. All limits here are common
practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Final

import numpy as np

from fieldgeo.frame import FloatArray, azimuth_deg
from fieldgeo.outline.section.subdivide import CORNERS, quarters, ring_area, with_quarter_corners
from fieldgeo.units import FOOT_M, MILE_M

ENDS: Final = ("NW", "NE", "SE", "SW")  # of the section lines
_WINDS: Final = dict(zip(CORNERS, (315.0, 0.0, 45.0, 90.0, 135.0, 180.0, 225.0, 270.0), strict=True))
FAR_M: Final = 3 * MILE_M  # from the middle one of all corners
SIDE_M: Final = (MILE_M / 2, MILE_M * 2)  # shorter or longer is refused
USUAL_SIDE_M: Final = (MILE_M * 0.97, MILE_M * 1.03)  # shorter or longer is told
MOST_TURN_DEG: Final = 30.0  # of a corner from its place on the compass
ANGLE_DEG: Final = (75.0, 105.0)  # of a section corner
USUAL_ANGLE_DEG: Final = (88.0, 92.0)
MOST_OFF_M: Final = MILE_M / 8  # of a quarter corner from the middle of its line
USUAL_OFF_M: Final = 50 * FOOT_M
# Of Corn Belt positions with latitude first: longitude 24 to 72, latitude -67 to -180; no land is surveyed there.
_SWAPPED_LON_DEG: Final = (24.0, 72.0)
_SWAPPED_LAT_DEG: Final = (-180.0, -67.0)


def position_faults(lonlat: Mapping[str, tuple[float, float]], given: str) -> Iterator[str]:
    """Yield what is wrong with corners as places on Earth.

    Parameters
    ----------
    lonlat : mapping of str to tuple of float
        Longitude and latitude of each corner, WGS 84. [deg]
    given : str
        What their coordinate system is called, for messages.
    """
    lon, lat = np.array(list(lonlat.values()), dtype=np.float64).T
    if not (np.isfinite(lon).all() and np.isfinite(lat).all()):
        yield f"corners lie outside what {given} can show: check their digits and the coordinate system"
    elif _is_within(lon, _SWAPPED_LON_DEG) and _is_within(lat, _SWAPPED_LAT_DEG):
        yield f"latitude seems to come first ({lon[0]:g}, {lat[0]:g}): write longitude, then latitude"
    elif np.abs(lon).max() > 180 or np.abs(lat).max() > 85:
        yield (
            f"corners cannot be longitude and latitude ({lon[0]:g}, {lat[0]:g}): name their system with crs:, such as "
            "crs: EPSG:3435"
        )


def corner_faults(places: Mapping[str, FloatArray]) -> list[str]:
    """Return every reason why corners cannot be those of a section.

    Parameters
    ----------
    places : mapping of str to ndarray of shape (2,)
        Corners by name, the four at the ends of the section lines among them, in the section's frame. [m]

    Returns
    -------
    list of str
    """
    middle = np.median(np.stack(list(places.values())), axis=0)
    far = {name: float(np.hypot(*(place - middle))) for name, place in places.items()}
    if max(far.values()) > FAR_M:
        return [
            f"{name} lies {away_m / 1000:,.1f} km from the middle of the others: check its digits"
            for name, away_m in far.items()
            if away_m > FAR_M
        ]
    ring = np.stack([places[name] for name in ENDS])
    if ring_area(ring) <= 0:
        return [
            "the corners run the wrong way round: NW, NE, SE, SW must go clockwise. Check their names, and that east "
            "comes before north"
        ]
    faults = [*_turned(places, ring.mean(axis=0)), *_of_sides(ring), *_of_angles(ring), *_of_quarter_corners(places)]
    eight = with_quarter_corners(places)
    return faults or [f"the {name}1/4 is no four-sided piece: check the corners round it" for name in _bent(eight)]


def corner_notes(places: Mapping[str, FloatArray]) -> Iterator[str]:
    """Yield what is unusual about corners that can be used.

    Parameters
    ----------
    places : mapping of str to ndarray of shape (2,)
        Corners by name in the section's frame. [m]
    """
    ring = np.stack([places[name] for name in ENDS])
    for side, length_m in zip("NESW", _sides_m(ring), strict=True):
        if not USUAL_SIDE_M[0] <= length_m <= USUAL_SIDE_M[1]:
            yield f"the {side} side is {length_m / FOOT_M:,.0f} ft; a mile is 5,280 ft: check its corners"
    for name, angle_deg in zip(ENDS, _angles_deg(ring), strict=True):
        if not USUAL_ANGLE_DEG[0] <= angle_deg <= USUAL_ANGLE_DEG[1]:
            yield f"the angle at {name} is {angle_deg:.1f} degrees, far from a right one: check the corner"
    for name, off_m in _off_m(places).items():
        if off_m > USUAL_OFF_M:
            yield f"{name} stands {off_m / FOOT_M:,.0f} ft from the middle of its line: check it"


def _is_within(values: FloatArray, bounds: tuple[float, float]) -> bool:
    return bool(values.min() >= bounds[0] and values.max() <= bounds[1])


def _turned(places: Mapping[str, FloatArray], middle: FloatArray) -> Iterator[str]:
    for name, place in places.items():
        seen_deg = float(azimuth_deg(*(place - middle)))
        if abs((seen_deg - _WINDS[name] + 180) % 360 - 180) > MOST_TURN_DEG:
            there = CORNERS[int(((seen_deg + 22.5) // 45 + 1) % 8)]
            yield f"{name} lies at {seen_deg:.0f} degrees from the middle, where {there} belongs: check its name"


def _of_sides(ring: FloatArray) -> Iterator[str]:
    for side, length_m in zip("NESW", _sides_m(ring), strict=True):
        if not SIDE_M[0] <= length_m <= SIDE_M[1]:
            yield (
                f"the {side} side is {length_m / FOOT_M:,.0f} ft; a section is about a mile, 5,280 ft: check its "
                "corners, the coordinate system and its unit"
            )


def _of_angles(ring: FloatArray) -> Iterator[str]:
    for name, angle_deg in zip(ENDS, _angles_deg(ring), strict=True):
        if not ANGLE_DEG[0] <= angle_deg <= ANGLE_DEG[1]:
            yield f"the angle at {name} is {angle_deg:.0f} degrees; a section has right ones, or nearly"


def _of_quarter_corners(places: Mapping[str, FloatArray]) -> Iterator[str]:
    for name, off_m in _off_m(places).items():
        if off_m > MOST_OFF_M:
            yield (
                f"{name} stands {off_m / FOOT_M:,.0f} ft from the middle of its line; a quarter corner stands near it: "
                "check its digits"
            )


def _off_m(places: Mapping[str, FloatArray]) -> dict[str, float]:
    """Return how far each given quarter corner stands from the middle of its section line."""
    middles = with_quarter_corners({name: places[name] for name in ENDS})
    return {
        name: float(np.hypot(*(places[name] - middles[at])))
        for at, name in enumerate(CORNERS)
        if name in places and name not in ENDS
    }


def _sides_m(ring: FloatArray) -> list[float]:
    return [float(length) for length in np.hypot(*(np.roll(ring, -1, axis=0) - ring).T)]


def _angles_deg(ring: FloatArray) -> list[float]:
    before, after = np.roll(ring, 1, axis=0) - ring, np.roll(ring, -1, axis=0) - ring
    turned = azimuth_deg(*before.T) - azimuth_deg(*after.T)
    return [float(angle) for angle in turned % 360.0]


def _bent(eight: FloatArray) -> Iterator[str]:
    """Yield the quarters whose four corners do not make a convex piece."""
    for name, quarter in quarters(eight).items():
        steps = np.diff(quarter[[0, 2, 4, 6, 0, 2]], axis=0)
        turns = steps[:-1, 0] * steps[1:, 1] - steps[:-1, 1] * steps[1:, 0]
        if not (turns < 0).all():
            yield name
