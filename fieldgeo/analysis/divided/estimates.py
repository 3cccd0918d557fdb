"""Estimated field time of pieces of ground at many directions, each piece worked out once."""

from __future__ import annotations

from typing import Final

import numpy as np
import shapely

from fieldgeo.analysis.many_directions import driving_time_s, tidy_deg, turn_table
from fieldgeo.layout.axes import Floats
from fieldgeo.layout.strips import Finish
from fieldgeo.layout.sweep import sweep_directions
from fieldgeo.machinery.tool import Tool
from fieldgeo.travel.patterns import Order

# Sides of a piece whose directions are looked at, the longest first. Own choice.
MOST_SIDES: Final = 6
# Sideways placing that is estimated: what sticks out lies on the far side, as a pass pulled in makes it.
SHARE: Final = 0.0


class Estimates:
    """Estimated times of passes over ground, kept for ground that comes up again."""

    def __init__(
        self, shape: shapely.MultiPolygon, tool: Tool, finish: Finish, order: Order, *, also_deg: tuple[float, ...] = ()
    ) -> None:
        """Look at a field.

        Parameters
        ----------
        shape : shapely.MultiPolygon
            Outline in the frame. [m]
        tool : Tool
            The tool.
        finish : {"cover", "clean", "half"}
            Finish rule.
        order : str
            Order of the passes.
        also_deg : tuple of float
            Directions that are good for the whole field, looked at on every piece of it. [deg]
        """
        self.tool, self.finish, self.also_deg = tool, finish, also_deg
        self._table = turn_table(tool, shape, order)
        self._known: dict[tuple[bytes, float], float] = {}
        self._sides: dict[bytes, Floats] = {}

    def times_s(self, ground: shapely.MultiPolygon, directions_deg: Floats) -> Floats:
        """Return the estimated time of passes over ground at directions, shape (H,). [s]

        Parameters
        ----------
        ground : shapely.MultiPolygon
            Ground in the frame. [m]
        directions_deg : ndarray of shape (H,)
            Azimuths of the passes. [deg]
        """
        key = ground.wkb
        missing = np.array([each for each in directions_deg.tolist() if (key, each) not in self._known])
        if len(missing):
            driving = sweep_directions(
                ground, missing, self.tool, self.finish, share=SHARE,
                turn_length=lambda offset: np.interp(offset, *self._table),
            )  # fmt: skip
            times = driving_time_s(driving, ground.area, self.tool)
            self._known.update({(key, one): time for one, time in zip(missing.tolist(), times.tolist(), strict=True)})
        return np.array([self._known[key, each] for each in directions_deg.tolist()])

    def sides_deg(self, ground: shapely.MultiPolygon) -> Floats:
        """Return the directions worth a look on ground, shape (H,): its longest sides', and the whole field's. [deg]

        Parameters
        ----------
        ground : shapely.MultiPolygon
            Ground in the frame. [m]
        """
        key = ground.wkb
        if key not in self._sides:
            self._sides[key] = tidy_deg(np.append(_longest_sides_deg(ground, self.tool), self.also_deg))
        return self._sides[key]


def _longest_sides_deg(ground: shapely.MultiPolygon, tool: Tool) -> Floats:
    thin = shapely.simplify(ground, tool.width_m / 2)
    rings = [ring for part in shapely.get_parts(thin) for ring in shapely.get_rings(part)]
    hull = shapely.convex_hull(ground)
    steps = np.concatenate([np.diff(shapely.get_coordinates(ring), axis=0) for ring in [*rings, hull]])
    length = np.hypot(*steps.T)
    azimuth = np.degrees(np.arctan2(steps[:, 0], steps[:, 1])) % 180
    _, first, place = np.unique(np.round(azimuth, 1) % 180, return_index=True, return_inverse=True)
    total = np.bincount(place.ravel(), weights=length)
    # Of sides that run alike the longest gives the direction, to the last digit: passes are to lie along it.
    longest = [int(np.argmax(np.where(place.ravel() == group, length, 0.0))) for group in range(len(first))]
    return tidy_deg(azimuth[longest][np.argsort(-total, kind="stable")[:MOST_SIDES]])
