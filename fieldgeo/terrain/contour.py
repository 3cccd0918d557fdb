"""Key lines along contours of height, and what rows parallel to them would do on the ground."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import shapely

from fieldgeo.errors import InputError
from fieldgeo.terrain.erosion import off_contour_factor, practice_factor, slope_factor
from fieldgeo.terrain.ground import box_mean, cell_middles
from fieldgeo.terrain.measure import field_points
from fieldgeo.units import to_feet

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from fieldgeo.frame import FloatArray
    from fieldgeo.outline.field import Field
    from fieldgeo.terrain.ground import Terrain

LEAST_LINE: Final = 0.25  # of the field's shorter way across; a shorter contour leads no passes; own choice


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class KeyContour:
    """A contour of height across a field, uphill on its left."""

    line: FloatArray  # (K, 2) in the frame [m]
    height_m: float
    smooth_m: float  # width to which the heights were smoothed [m]
    soil: float  # soil lost with rows parallel to it, as places spread over the field have it [-]


class ContourMap:
    """Heights about a field smoothed to a width, and contours of them."""

    def __init__(self, field: Field, ground: Terrain, smooth_m: float) -> None:
        """Smooth the heights.

        Parameters
        ----------
        field : Field
            The field.
        ground : Terrain
            Slope of the ground about it.
        smooth_m : float
            Width to smooth to, > 0. [m]
        """
        import contourpy

        heights = ground.heights
        self.field, self.ground, self.smooth_m = field, ground, smooth_m
        self.height_m = box_mean(heights, smooth_m)
        self._generator: Any = contourpy.contour_generator(*cell_middles(heights), np.ma.masked_invalid(self.height_m))
        # Contours bend back outside the field as well; there they lead no passes.
        self._near = field.shape.convex_hull.buffer(min(heights.cell_m))
        across = shapely.get_coordinates(shapely.minimum_rotated_rectangle(field.shape))
        self.least_m = LEAST_LINE * float(np.hypot(*np.diff(across[:3], axis=0).T).min())

    def heights_at(self, x_m: FloatArray, y_m: FloatArray) -> FloatArray:
        """Return the smoothed heights of the cells that places lie in, NaN where there is none, shape (N,). [m]

        Parameters
        ----------
        x_m, y_m : ndarray of shape (N,)
            Places in the frame. [m]
        """
        rows, columns = self.ground.heights.placing.cells(x_m, y_m)
        row, column = np.floor(rows).astype(int), np.floor(columns).astype(int)
        high, wide = self.height_m.shape
        is_within = (row >= 0) & (row < high) & (column >= 0) & (column < wide)
        found = np.asarray(self.height_m)[np.clip(row, 0, high - 1), np.clip(column, 0, wide - 1)]
        return np.where(is_within, found, np.nan)

    def line_at(self, height_m: float) -> FloatArray | None:
        """Return the longest open contour across the field at a height, uphill on its left; None where there is none.

        Parameters
        ----------
        height_m : float
            The height. [m]
        """
        best, longest = None, self.least_m
        for points in self._generator.lines(height_m):
            if len(points) < 2 or np.allclose(points[0], points[-1]):
                continue  # it closes round a knoll or a hollow, and leads nowhere
            near = shapely.intersection(shapely.LineString(points), self._near)
            for part in shapely.get_parts(near):
                inside = float(shapely.length(shapely.intersection(part, self.field.shape)))
                if inside > longest:
                    best, longest = shapely.get_coordinates(part), inside
        return None if best is None else self._uphill_left(best)

    def _uphill_left(self, line: FloatArray) -> FloatArray:
        ahead = np.diff(line, axis=0)
        middles = (line[1:] + line[:-1]) / 2
        east, north = self.ground.gradient(middles[:, 0], middles[:, 1])
        to_left = np.nansum(north * ahead[:, 0] - east * ahead[:, 1])
        return line if to_left >= 0 else line[::-1]


def soil_beside(ground: Terrain, field: Field, lines: Sequence[FloatArray]) -> float:
    """Return the soil lost with rows parallel to the nearest of some lines, up-and-down rows = 1. [-]

    Parameters
    ----------
    ground : Terrain
        Slope of the ground about the field.
    field : Field
        The field.
    lines : sequence of ndarray of shape (K, 2)
        Lines in the frame. [m]

    Notes
    -----
    Derived: a row parallel to a line runs at any place as the line does at its nearest point. Weighed as in
    `fieldgeo.terrain.measure.measure_slopes`.
    """
    places = field_points(field)
    east, north = ground.gradient(places[:, 0], places[:, 1])
    is_known = np.isfinite(east)
    if not is_known.any():
        return 1.0
    ahead = _ahead(places[is_known], lines)
    east, north = east[is_known], north[is_known]
    steepness, along = np.hypot(east, north), np.abs(east * ahead[:, 0] + north * ahead[:, 1])
    factor = off_contour_factor(practice_factor("contour", steepness), along, steepness)
    return float(np.average(factor, weights=slope_factor(steepness)))


def _ahead(places: FloatArray, lines: Iterable[FloatArray]) -> FloatArray:
    """Return the way of the nearest line at its point nearest to each place, unit vectors of shape (N, 2)."""
    points = shapely.points(places)
    nearest, found = np.full(len(places), np.inf), np.zeros((len(places), 2))
    for line in lines:
        drawn = shapely.LineString(line)
        steps = np.diff(line, axis=0)
        lengths = np.hypot(steps[:, 0], steps[:, 1])
        at = shapely.line_locate_point(drawn, points)
        segment = np.clip(np.searchsorted(np.cumsum(lengths), at), 0, len(steps) - 1)
        away = np.asarray(shapely.distance(points, drawn))
        is_nearer = away < nearest
        nearest[is_nearer] = away[is_nearer]
        found[is_nearer] = steps[segment[is_nearer]] / lengths[segment[is_nearer], None]
    return found


def no_contour(field: Field, height_m: float | None, heights_m: tuple[float, float]) -> InputError:
    """Return the error of a field without a contour to follow.

    Parameters
    ----------
    field : Field
        The field.
    height_m : float or None
        Height asked for; None where every height was tried. [m]
    heights_m : tuple of float
        Least and greatest height on the field. [m]
    """
    low, high = heights_m
    span = f"heights on it run from {low:,.1f} m ({to_feet(low):,.0f} ft) to {high:,.1f} m ({to_feet(high):,.0f} ft)"
    if height_m is None:
        return InputError(
            f"follow contour: no contour leads across field {field.name!r}; {span}, and contours close within it, only "
            "touch it, or are noise. Lay straight passes, or smooth the heights more (--smooth)."
        )
    return InputError(
        f"key height: no contour at {height_m:,.2f} m ({to_feet(height_m):,.1f} ft) leads across field {field.name!r}; "
        f"{span}. Give a height between those, or auto."
    )
