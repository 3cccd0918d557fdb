"""Places of a season and the roads between them: given, or the straight distance times a factor."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from fieldgeo.machinery.entries import Measure, shown
from fieldgeo.season.model import FARMSTEAD
from fieldgeo.units import FOOT_M, parse_length_m

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from fieldgeo.frame import FloatArray
    from fieldgeo.machinery.entries import Entry
    from fieldgeo.outline.field import Field
    from fieldgeo.season.model import SeasonField

ROAD_KEYS: Final = ("from", "to", "distance")
# Roads along section lines make two sides of a square where the straight line is its diagonal: at most 1.41, 1.27 over
# all directions (derived: 4 / pi).
USUAL_ROAD_FACTOR: Final = 1.27

_DISTANCE: Final = Measure(attribute="distance_m", parse=parse_length_m, least="0ft", most="500mi")
_FARTHEST_M: Final = 800_000.0  # own choice, about as far as the longest road; beyond it a sign or the order is wrong


def read_roads(entries: Sequence[Entry], fields: Mapping[str, object]) -> dict[tuple[str, str], float]:
    """Return the lengths of roads between two places, both ways; what cannot be used is put down. [m]

    Parameters
    ----------
    entries : sequence of Entry
        The [[road]] entries.
    fields : mapping
        Fields by name.
    """
    roads: dict[tuple[str, str], float] = {}
    for entry in entries:
        ends = [entry.text(key) for key in ("from", "to")]
        for key, end in zip(("from", "to"), ends, strict=True):
            if end is not None and end != FARMSTEAD and end not in fields:
                known = ", ".join(map(repr, fields))
                entry.fault(key, f"got {shown(end)}. It must be {FARMSTEAD!r} or a field of this season: {known}.")
        if ends[0] is not None and ends[0] == ends[1]:
            entry.fault("to", f"got {shown(ends[1])} at both ends. A road joins two places.")
        if "distance" not in entry.values:
            entry.fault("distance", "missing. It must be given.")
            continue
        length_m = entry.measure("distance", _DISTANCE)
        one, other = ends
        if length_m is None or one is None or other is None:
            continue
        if (one, other) in roads:
            entry.fault("to", f"the road between {one!r} and {other!r} is given twice.")
        roads[one, other] = roads[other, one] = length_m
    return roads


def check_farmstead(entry: Entry, farmstead: tuple[float, float] | None, fields: Mapping[str, SeasonField]) -> None:
    """Put down a farmstead that lies too far from the fields to be theirs.

    Parameters
    ----------
    entry : Entry
        The entry with the key farmstead.
    farmstead : tuple of float, optional
        Its longitude and latitude. [deg]
    fields : mapping
        Fields by name.
    """
    from pyproj import Geod

    placed = [each.field for each in fields.values() if each.field.is_placed]
    if farmstead is None or not placed:
        return
    geod = Geod(ellps="WGS84")
    away_m, name = max((float(geod.inv(*farmstead, *place_of(each, None))[2]), each.name) for each in placed)
    if away_m > _FARTHEST_M:
        entry.fault(
            "farmstead",
            f"got {farmstead[0]:g},{farmstead[1]:g}, which is {away_m / 1000:,.0f} km from field {name!r}; at most "
            f"{_FARTHEST_M / 1000:g} km. Longitude comes first, west and south below zero.",
        )


def place_of(field: Field, gate: tuple[float, float] | None) -> tuple[float, float]:
    """Return where a machine enters a field: its gate, or the point of its edge nearest to its middle. [deg]

    Parameters
    ----------
    field : Field
        The field.
    gate : tuple of float, optional
        Longitude and latitude of its entrance. [deg]
    """
    if gate is not None:
        return gate
    edge = field.shape.boundary
    nearest = edge.interpolate(edge.project(field.shape.centroid))
    lon_deg, lat_deg = field.frame.to_lonlat(nearest.x, nearest.y)
    return float(lon_deg), float(lat_deg)


def distances_m(
    names: Sequence[str], places: Sequence[tuple[float, float]], roads_m: Mapping[tuple[str, str], float], factor: float
) -> tuple[FloatArray, int]:
    """Return the way by road between any two places, shape (P, P), and how many of them were given as a road. [m]

    Parameters
    ----------
    names : sequence of str
        Names of the places.
    places : sequence of (float, float)
        Longitudes and latitudes. [deg]
    roads_m : mapping
        Roads that were given, both ways. [m]
    factor : float
        Road over straight distance where none is given, >= 1. [-]

    Notes
    -----
    A way that is shorter over a third place is taken, so that no way round is quicker (Floyd and Warshall).
    """
    from pyproj import Geod

    geod = Geod(ellps="WGS84")
    count, given = len(names), 0
    way = np.zeros((count, count))
    for one in range(count):
        for two in range(one + 1, count):
            road = roads_m.get((names[one], names[two]))
            given += road is not None
            if road is None:
                road = factor * float(geod.inv(*places[one], *places[two])[2])
            way[one, two] = way[two, one] = road
    for over in range(count):
        way = np.minimum(way, way[:, over, None] + way[None, over, :])
    return np.where(way < FOOT_M / 10, 0.0, way), given
