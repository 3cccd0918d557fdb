"""The largest patch of ground on which two outlines differ: how large and wide it is, and where it lies."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt
from typing import TYPE_CHECKING, Final

import shapely

from fieldgeo.layout.overlay import difference, polygons_of, union

if TYPE_CHECKING:
    from fieldgeo.frame import Frame

SMALLEST_M2: Final = 0.01  # less is float noise of edges that are the same
# Where a patch lies, in words; all shares are own choice.
_ROUND_SHARE: Final = 0.1  # of the size of the field; a patch whose hull reaches so far past its middle goes round it
_SLANT_SHARE: Final = 0.7  # of the longer of the ways across and up; where the shorter is more, a wind is between two
_CORNER_SHARE: Final = 0.6  # of the way from the middle to both sides of the box round the field
_INSIDE_SHARE: Final = 0.99  # of a patch that lies within both outer edges


@dataclass(frozen=True, slots=True, kw_only=True)
class Patch:
    """One connected piece of ground that only one of two outlines has."""

    shape: shapely.Polygon  # in the frame [m]
    is_in_first: bool  # else in the second
    width_m: float  # greatest: across the largest circle in it
    side: str  # such as "north edge", "north-east corner", "inside" or "several sides"
    x_m: float  # its middle, a place on it
    y_m: float
    lon_deg: float  # the same place
    lat_deg: float

    @property
    def area_m2(self) -> float:
        """Area. [m2]"""
        return float(self.shape.area)


def largest_patch(
    first: shapely.MultiPolygon,
    second: shapely.MultiPolygon,
    only: tuple[shapely.MultiPolygon, shapely.MultiPolygon],
    frame: Frame,
) -> Patch | None:
    """Return the largest connected piece of ground that only one of two outlines has; None where they are the same.

    Parameters
    ----------
    first, second : shapely.MultiPolygon
        The outlines. [m]
    only : tuple of shapely.MultiPolygon
        Ground of the first only, and of the second only. [m]
    frame : Frame
        The plane of all of them.

    Returns
    -------
    Patch or None
        Its middle is its centroid, or the nearest place to that on the patch; of one that goes round the field, the
        place where it is widest.

    Notes
    -----
    Derived. A patch lies inside where both outlines, their holes filled, have its ground: a hole of one only. It lies
    on several sides where it goes round the middle of the field. Else its side is the way from the middle of the field
    to its centroid, as shares of the box round the field, so that a long field has corners as a square one has.
    """
    patches = [(part, number == 0) for number, ground in enumerate(only) for part in shapely.get_parts(ground).tolist()]
    patch, is_in_first = max(patches, key=lambda found: found[0].area, default=(None, False))
    if patch is None or patch.area < SMALLEST_M2:
        return None
    circle = shapely.maximum_inscribed_circle(patch, tolerance=max(0.01, 0.002 * sqrt(patch.area)))
    side = _side(patch, first, second)
    middle = shapely.Point(circle.coords[0]) if side == _SEVERAL else patch.centroid
    if not patch.covers(middle):
        middle = shapely.Point(shapely.shortest_line(patch, middle).coords[0])
    lon_deg, lat_deg = frame.to_lonlat([middle.x], [middle.y])
    return Patch(
        shape=patch,
        is_in_first=is_in_first,
        width_m=2 * float(circle.length),
        side=side,
        x_m=float(middle.x),
        y_m=float(middle.y),
        lon_deg=float(lon_deg[0]),
        lat_deg=float(lat_deg[0]),
    )


_SEVERAL: Final = "several sides"


def _side(patch: shapely.Polygon, first: shapely.MultiPolygon, second: shapely.MultiPolygon) -> str:
    filled = [_filled(first), _filled(second)]
    outside_m2 = sum(difference(patch, ground).area for ground in filled)
    if outside_m2 <= (1 - _INSIDE_SHARE) * patch.area:
        return "inside"
    field = union(filled)
    west, south, east, north = field.bounds
    half = max(east - west, 1e-9) / 2, max(north - south, 1e-9) / 2
    middle = field.centroid
    if patch.convex_hull.covers(middle.buffer(_ROUND_SHARE * sqrt(field.area))):
        return _SEVERAL
    at = patch.centroid
    across, up = (at.x - middle.x) / half[0], (at.y - middle.y) / half[1]
    is_slanted = min(abs(across), abs(up)) > _SLANT_SHARE * max(abs(across), abs(up))
    names = ("north" if up > 0 else "south", "east" if across > 0 else "west")
    wind = "-".join(names) if is_slanted else names[abs(across) > abs(up)]
    in_box = abs(at.x - (west + east) / 2) / half[0], abs(at.y - (south + north) / 2) / half[1]
    place = "corner" if is_slanted and min(in_box) > _CORNER_SHARE else "edge"
    return f"{wind} {place}"


def _filled(shape: shapely.MultiPolygon) -> shapely.MultiPolygon:
    """Return an outline with its holes filled."""
    return polygons_of(union([shapely.Polygon(part.exterior) for part in shape.geoms]))
