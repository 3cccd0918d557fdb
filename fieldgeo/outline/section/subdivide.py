"""A section divided on the plane: straight lines between opposite quarter corners, and midpoints inside the quarters.

The rule: the centre of the section is where the two straight lines between opposite quarter corners cross; it is not
the mean of the corners. In a quarter the sixteenth corners stand at the middle of each side, and lines between opposite
ones cross at its centre; smaller parts go on the same way. BLM, Manual of Surveying Instructions, 1973, 3-74 to 3-76;
2009, 3-114; GLO circular, paragraphs 203 to 205. A half of a half (N1/2 N1/2) has no line of its own in the rule: here
it is made of the halves of both quarters, so that it meets the quarter-quarters beside it.

"Straight" is straight in the equal-area plane of the section's own frame, where a straight line is a geodesic to less
than a millimetre in a mile. The Manual of 2009 means a line of constant bearing. Over a mile that runs east and west
the two part by L^2 tan(latitude) / (8 R) in the middle: 4.6 cm at latitude 42, 5.8 cm at latitude 49 (derived; a test
measures it), and not at all on a line that runs north and south.

Rings here are arrays of shape (..., N, 2), in any unit of length; the eight corners of a section stand in the order of
`CORNERS`, clockwise from the north-west. Leading axes hold many sections at once.
"""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING, Final

import numpy as np

from fieldgeo.outline.section.aliquot import WHOLE, Rectangle

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from fieldgeo.frame import FloatArray
    from fieldgeo.outline.section.aliquot import Aliquot

CORNERS: Final = ("NW", "N", "NE", "E", "SE", "S", "SW", "W")
_HALF: Final = Fraction(1, 2)


def with_quarter_corners(corners: Mapping[str, FloatArray]) -> FloatArray:
    """Return the eight corners of a section; a quarter corner that is missing stands in the middle of its line.

    Parameters
    ----------
    corners : mapping of str to ndarray of shape (..., 2)
        Place of each corner by its name in `CORNERS`; the four at the ends of the section lines must be there.

    Returns
    -------
    ndarray of shape (..., 8, 2)
        In the order of `CORNERS`.
    """
    ring = [
        corners[name] if name in corners else (corners[CORNERS[at - 1]] + corners[CORNERS[(at + 1) % 8]]) / 2
        for at, name in enumerate(CORNERS)
    ]
    return np.stack(ring, axis=-2)


def centre(ring: FloatArray) -> FloatArray:
    """Return where the lines between opposite quarter corners cross.

    Parameters
    ----------
    ring : ndarray of shape (..., 8, 2)
        Corners in the order of `CORNERS`.

    Returns
    -------
    ndarray of shape (..., 2)
    """
    _, north, _, east, _, south, _, west = np.moveaxis(ring, -2, 0)
    along, across = south - north, east - west
    share = _cross(west - north, across) / _cross(along, across)
    return np.asarray(north + share[..., np.newaxis] * along)


def quarters(ring: FloatArray) -> dict[str, FloatArray]:
    """Return the four quarters of a section or a part of one, each with the midpoints of its sides.

    Parameters
    ----------
    ring : ndarray of shape (..., 8, 2)
        Corners in the order of `CORNERS`.

    Returns
    -------
    dict of str to ndarray of shape (..., 8, 2)
        By ``"NW"``, ``"NE"``, ``"SE"`` and ``"SW"``; corners in the order of `CORNERS`.
    """
    north_west, north, north_east, east, south_east, south, south_west, west = np.moveaxis(ring, -2, 0)
    middle = centre(ring)
    return {
        "NW": _quarter(north_west, north, middle, west),
        "NE": _quarter(north, north_east, east, middle),
        "SE": _quarter(middle, east, south_east, south),
        "SW": _quarter(west, middle, south, south_west),
    }


def pieces_of(ring: FloatArray, wanted: Rectangle) -> list[FloatArray]:
    """Return the ground of an aliquot part, as the quarters, and quarters of quarters, that it is made of.

    Parameters
    ----------
    ring : ndarray of shape (..., 8, 2)
        Corners of the section in the order of `CORNERS`.
    wanted : Rectangle
        The part of the nominal section.

    Returns
    -------
    list of ndarray of shape (..., 8, 2)
        They meet along whole sides or half sides and do not overlap.
    """
    return _pieces(ring, WHOLE, wanted)


def ring_area(ring: FloatArray) -> FloatArray:
    """Return the area of rings that run clockwise, by the shoelace sum.

    Parameters
    ----------
    ring : ndarray of shape (..., N, 2)
        Corners, clockwise.

    Returns
    -------
    ndarray of shape (...)
        In the square of the unit of `ring`; negative where a ring runs the other way.
    """
    from_first = ring - ring[..., :1, :]  # far from the origin the products would lose digits
    x, y = from_first[..., 0], from_first[..., 1]
    return np.asarray(np.sum(np.roll(x, -1, axis=-1) * y - x * np.roll(y, -1, axis=-1), axis=-1) / 2)


def part_area(ring: FloatArray, part: Aliquot) -> FloatArray:
    """Return the area of an aliquot part of a section.

    Parameters
    ----------
    ring : ndarray of shape (..., 8, 2)
        Corners of the section in the order of `CORNERS`.
    part : Aliquot
        The part.

    Returns
    -------
    ndarray of shape (...)
        In the square of the unit of `ring`.
    """
    return np.asarray(sum(ring_area(piece) for piece in pieces_of(ring, part.rectangle)))


def area_sd_m2(
    corners: Mapping[str, FloatArray], parts: Sequence[Aliquot], less: Sequence[Aliquot], *, accuracy_m: float
) -> float:
    r"""Return the standard error of the area of parts of a section whose corners are off, each by itself. [m2]

    Parameters
    ----------
    corners : mapping of str to ndarray of shape (2,)
        Place of each given corner by its name in `CORNERS`. [m]
    parts : sequence of Aliquot
        Parts that do not overlap.
    less : sequence of Aliquot
        What is left out of them.
    accuracy_m : float
        Standard error of a corner along each axis. [m]

    Returns
    -------
    float
        Standard error. [m2]

    Notes
    -----
    .. math:: s_A^2 = s^2 \sum_i (\partial A / \partial c_i)^2

    Derived: linear propagation through the subdivision, over all coordinates of the corners that are given; the slopes
    are differences over 1 m to either side. A missing quarter corner moves with the ends of its line; how far the one
    in the ground stands from the middle is not in it.
    """
    names = list(corners)
    places = np.stack([corners[name] for name in names])
    steps = np.eye(places.size).reshape(places.size, *places.shape)

    def areas(moved: FloatArray) -> FloatArray:
        ring = with_quarter_corners({name: moved[:, at] for at, name in enumerate(names)})
        wanted = sum(part_area(ring, part) for part in parts)
        return np.asarray(wanted - sum((part_area(ring, part) for part in less), start=np.zeros(len(moved))))

    slopes = (areas(places + steps) - areas(places - steps)) / 2.0
    return float(accuracy_m * np.linalg.norm(slopes))


def _quarter(
    north_west: FloatArray, north_east: FloatArray, south_east: FloatArray, south_west: FloatArray
) -> FloatArray:
    return with_quarter_corners({"NW": north_west, "NE": north_east, "SE": south_east, "SW": south_west})


def _pieces(ring: FloatArray, place: Rectangle, wanted: Rectangle) -> list[FloatArray]:
    shared = wanted.shared(place)
    if shared == place.share:
        return [ring]
    if not shared:
        return []
    east, north = sum(place.east) * _HALF, sum(place.north) * _HALF
    halves = {"W": (place.east[0], east), "E": (east, place.east[1])}
    tiers = {"S": (place.north[0], north), "N": (north, place.north[1])}
    return [
        piece
        for wind, quarter in quarters(ring).items()
        for piece in _pieces(quarter, Rectangle(east=halves[wind[1]], north=tiers[wind[0]]), wanted)
    ]


def _cross(one: FloatArray, other: FloatArray) -> FloatArray:
    return np.asarray(one[..., 0] * other[..., 1] - one[..., 1] * other[..., 0])
