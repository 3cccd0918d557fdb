"""Where a tool may stop: at which ends of its work, on which side of the field, and what driving to a stand costs."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from fieldgeo.errors import InputError
from fieldgeo.layout.axes import Floats, distances_along, ring_edges, unit_vector
from fieldgeo.travel.drive import drive_way
from fieldgeo.travel.route import Leg, Route
from fieldgeo.travel.timeline import leg_s

WINDS: Final = ("north", "northeast", "east", "southeast", "south", "southwest", "west", "northwest")
FARTHEST_STAND_M: Final = 5000.0  # own choice, as for an entrance: a stand farther from its field is a slip
BESIDE_ROAD_M: Final = 30.0  # an edge of the field within this of a road lies by it: own choice, a ditch and a verge
_ON_LINE_M: Final = 0.01  # places on an edge are taken to be on it when they are this close


class Gap(NamedTuple):
    """What lies between two works: where one ends and the next begins, and how the route goes from there to there."""

    first: int  # its legs are route.legs[first:last]
    last: int
    start_xy: Floats | None  # None: free, before the first work of a route without an entrance
    end_xy: Floats | None  # None: free, after the last
    seconds: float  # of its legs [s]


def wind(azimuth_deg: float) -> str:
    """Return the wind that an azimuth, clockwise from north, is nearest to. [deg]

    Examples
    --------
    >>> wind(170.0), wind(-40.0)
    ('south', 'northwest')
    """
    return WINDS[int(np.floor(azimuth_deg / 45 + 0.5)) % 8]


def find_gaps(route: Route) -> list[Gap]:
    """Return the gaps of a route: before its first work, between its works, and after its last.

    Parameters
    ----------
    route : Route
        Work in order, without stops.

    Returns
    -------
    list of Gap
        One more than there are works.
    """
    works = [number for number, leg in enumerate(route.legs) if leg.is_work]
    gaps = []
    for first, last in zip([0, *(number + 1 for number in works)], [*works, len(route.legs)], strict=True):
        between = route.legs[first:last]
        start = route.legs[first - 1].points()[-1] if first > 0 else None
        end = route.legs[last].points()[0] if last < len(route.legs) else None
        if first == 0 and between:
            start = between[0].points()[0]
        if last == len(route.legs) and between:
            end = between[-1].points()[-1]
        gaps.append(Gap(first, last, start, end, sum(leg_s(leg, route.layout.tool) for leg in between)))
    return gaps


def edge_places(route: Route) -> NDArray[np.object_]:
    """Return the place of the outline that each work of a route runs out at, as points of shape (W,). [m]

    Parameters
    ----------
    route : Route
        Work in order.

    Notes
    -----
    Derived. Of a pass it is where its line, driven on, crosses the outline nearest to its end; of a headland run the
    nearest place to its end.
    """
    shape = route.layout.field.shape
    edge = shapely.boundary(shape)
    low_x, low_y, high_x, high_y = shape.bounds
    beyond_m = float(np.hypot(high_x - low_x, high_y - low_y))
    places = []
    for leg in route.legs:
        if not leg.is_work:
            continue
        line = leg.points()
        end = shapely.Point(line[-1])
        aim: shapely.Geometry = edge
        if leg.state == "pass":
            ahead = (line[-1] - line[0]) / np.hypot(*(line[-1] - line[0]))
            ray = shapely.LineString([(line[0] + line[-1]) / 2, line[-1] + beyond_m * ahead])
            crossings = shapely.intersection(ray, edge)
            # A pass of no more than the ends of a strip can lie beyond the outline, and look away from it.
            aim = edge if crossings.is_empty else crossings
        place = shapely.Point(shapely.get_coordinates(shapely.shortest_line(end, aim))[-1])
        places.append(place)
    return np.array(places, dtype=object)


def is_at_edge(places: NDArray[np.object_], shape: shapely.MultiPolygon) -> NDArray[np.bool_]:
    """Return for each place whether it lies on the outer edge of the field, not on that of a hole.

    Parameters
    ----------
    places : ndarray of shape (W,)
        Points. [m]
    shape : shapely.MultiPolygon
        Outline. [m]
    """
    return is_at_line(places, shapely.MultiLineString([part.exterior for part in shape.geoms]))


def is_at_line(places: NDArray[np.object_], line: shapely.Geometry) -> NDArray[np.bool_]:
    """Return for each place whether it lies on a line, to a centimetre.

    Parameters
    ----------
    places : ndarray of shape (W,)
        Points. [m]
    line : shapely.LineString or shapely.MultiLineString
        The line. [m]
    """
    return np.asarray(shapely.distance(places, line) <= _ON_LINE_M)


def side_facing(shape: shapely.MultiPolygon, towards: str) -> shapely.MultiLineString:
    """Return the sides of a field that face a wind: the outer edges that look within 45 degrees of it.

    Parameters
    ----------
    shape : shapely.MultiPolygon
        Outline. [m]
    towards : str
        One of `WINDS`.

    Raises
    ------
    InputError
        If it is no wind, or no edge faces it.
    """
    if towards not in WINDS:
        raise InputError(f"side: got {towards!r}. It must be one of {', '.join(WINDS)}.")
    outer = shapely.MultiPolygon([shapely.Polygon(part.exterior) for part in shape.geoms])
    edges = ring_edges(outer)
    along = edges[:, 2:] - edges[:, :2]
    # The ground lies on the left of an edge, so it looks to the right.
    looks = np.column_stack([along[:, 1], -along[:, 0]]) / np.hypot(along[:, 0], along[:, 1])[:, None]
    faces = looks @ unit_vector(45.0 * WINDS.index(towards)) >= np.cos(np.pi / 4) - 1e-9
    if not faces.any():
        raise InputError(f"side: no edge of the field faces {towards}. Give another wind, or stands by their place.")
    return shapely.MultiLineString(list(edges[faces].reshape(-1, 2, 2)))


def side_along(shape: shapely.MultiPolygon, road: shapely.LineString) -> shapely.MultiLineString:
    """Return the outer edges of a field that lie by a road.

    Parameters
    ----------
    shape : shapely.MultiPolygon
        Outline. [m]
    road : shapely.LineString
        Line of the road. [m]

    Raises
    ------
    InputError
        If no edge lies within `BESIDE_ROAD_M` of it.
    """
    outer = shapely.MultiLineString([part.exterior for part in shape.geoms])
    parts = shapely.get_parts(shapely.intersection(outer, shapely.buffer(road, BESIDE_ROAD_M)))
    lines = [part for part in parts if isinstance(part, shapely.LineString) and part.length > 0]
    if not lines:
        raise InputError(
            f"road: it runs no nearer to the field than {outer.distance(road):,.0f} m. It must run along the field "
            f"within {BESIDE_ROAD_M:g} m; check that longitude comes first."
        )
    return shapely.MultiLineString(lines)


def checked_stands(stands_xy: Floats, shape: shapely.MultiPolygon) -> Floats:
    """Return stands as an array of shape (S, 2). [m]

    Parameters
    ----------
    stands_xy : array of shape (S, 2)
        Where tender, wagon or truck stand. [m]
    shape : shapely.MultiPolygon
        Outline. [m]

    Raises
    ------
    InputError
        If there is none, or one lies farther from the field than `FARTHEST_STAND_M`.
    """
    stands = np.asarray(stands_xy, dtype=float).reshape(-1, 2)
    if len(stands) == 0:
        raise InputError("stands: got none. Give one or more places, or stop at the edge.")
    away = np.where(np.isfinite(stands).all(axis=1), shapely.distance(shape, shapely.points(stands)), np.inf)
    if away.max() > FARTHEST_STAND_M:
        number = int(away.argmax())
        raise InputError(
            f"stand {number + 1} lies {away[number] / 1000:,.1f} km from the field. It must be within "
            f"{FARTHEST_STAND_M / 1000:g} km of it; check that longitude comes first."
        )
    return stands


def is_nearer_end(route: Route, stands_xy: Floats) -> NDArray[np.bool_]:
    """Return for each work and stand whether the work ends on the stand's side, shape (W, S).

    Parameters
    ----------
    route : Route
        Work in order.
    stands_xy : ndarray of shape (S, 2)
        Where tender, wagon or truck stand. [m]

    Notes
    -----
    A pass that ends no farther from the stand than it began ends on its side; from the other end the tool would drive
    the length of the pass with nothing to do. Rounds of the headland pass everywhere. (Own choice.)
    """
    works = [leg for leg in route.legs if leg.is_work]
    starts = np.array([leg.points()[0] for leg in works]).reshape(-1, 2)
    ends = np.array([leg.points()[-1] for leg in works]).reshape(-1, 2)
    near = _apart(ends, stands_xy) <= _apart(starts, stands_xy) + _ON_LINE_M
    return np.asarray(near | np.array([leg.state == "headland" for leg in works])[:, None])


def detours_s(
    gaps: list[Gap], stands_xy: Floats, *, travel_m_s: float, shape: shapely.MultiPolygon | None = None
) -> Floats:
    """Return what driving to each stand in each gap adds, shape (G, S). [s]

    Parameters
    ----------
    gaps : list of Gap
        From `find_gaps`.
    stands_xy : ndarray of shape (S, 2)
        Where tender, wagon or truck stand. [m]
    travel_m_s : float
        Speed with the tool up. [m/s]
    shape : shapely.MultiPolygon, optional
        Outline to stay within, as `fieldgeo.travel.drive.drive_way` does; without it all ways are straight. [m]

    Notes
    -----
    Derived: time there and back, less that of the turn or travel which it takes the place of.
    """
    total_m = np.zeros((len(gaps), len(stands_xy)))
    for places in ([gap.start_xy for gap in gaps], [gap.end_xy for gap in gaps]):
        known = [row for row, place in enumerate(places) if place is not None]
        xy = np.array([places[row] for row in known]).reshape(-1, 2)
        total_m[known] += _apart(xy, stands_xy) if shape is None else _ways_m(shape, xy, stands_xy)
    return np.asarray(total_m / travel_m_s - np.array([gap.seconds for gap in gaps])[:, None])


def _ways_m(shape: shapely.MultiPolygon, places_xy: Floats, stands_xy: Floats) -> Floats:
    """Return the length of the way between each place and stand, shape (P, S). [m]"""
    ways = _apart(places_xy, stands_xy)
    pairs = np.stack(np.broadcast_arrays(places_xy[:, None, :], stands_xy[None, :, :]), axis=2)
    # A stand on the edge lies beyond it by float noise as often as not.
    ground = shapely.buffer(shape, _ON_LINE_M, join_style="mitre")
    shapely.prepare(ground)
    for row, stand in np.argwhere(~shapely.covers(ground, shapely.linestrings(pairs))).tolist():
        ways[row, stand] = distances_along(drive_way(shape, places_xy[row], stands_xy[stand]))[-1]
    return ways


def way_legs(shape: shapely.MultiPolygon, start_xy: Floats | None, end_xy: Floats | None) -> list[Leg]:
    """Return the travel from one place to another; no leg where an end is free or they are the same.

    Parameters
    ----------
    shape : shapely.MultiPolygon
        Outline. [m]
    start_xy, end_xy : ndarray of shape (2,) or None
        Places. [m]
    """
    if start_xy is None or end_xy is None or np.hypot(*(end_xy - start_xy)) < 1e-6:
        return []
    way = drive_way(shape, start_xy, end_xy)
    return [Leg(state="travel", length_m=float(distances_along(way)[-1]), line=way)]


def _apart(one: Floats, other: Floats) -> Floats:
    return np.asarray(np.hypot(*np.moveaxis(one[:, None, :] - other[None, :, :], -1, 0)))
