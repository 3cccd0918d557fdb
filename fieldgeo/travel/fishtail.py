"""The fishtail: an arc, a straight run in reverse, and an arc, so that no loop is needed beyond the ends of the passes.

At a square edge two quarter circles with (2 r - d) of reverse between: (pi + 2) r - d in all, r deep. Where one pass
ends e further on than the other, the arcs are no longer quarters, the reverse is the square root of (2 r - d)^2 + e^2,
and the whole is pi r more than that. (Derived: it is the tangent of the two circles driven backwards.)
"""

from __future__ import annotations

from typing import Final

import numpy as np

from fieldgeo.layout.axes import Floats
from fieldgeo.travel.paths import Paths, Radii, along_tangent, curvatures

_WORDS: Final = ("LSSL", "RSSR", "LSSR", "RSSL")


def fishtails(
    start_xy: Floats,
    start_heading_rad: Floats,
    end_xy: Floats,
    end_heading_rad: Floats,
    radii: Radii,
    *,
    straighten_m: float = 0.0,
) -> Paths:
    """Return the fishtails between poses with every choice of sides, shape (N, 4, 4), NaN where one cannot join them.

    Parameters
    ----------
    start_xy, end_xy : ndarray of shape (N, 2)
        Places. [m]
    start_heading_rad, end_heading_rad : ndarray of shape (N,)
        Headings, counter-clockwise from the x axis. [rad]
    radii : Radii
        Least radii. [m]
    straighten_m : float
        Straight run ahead before the tool is backed, which is backed again: a pulled tool must stand in line. [m]
    """
    start = np.asarray(start_xy, dtype=float), np.asarray(start_heading_rad, dtype=float)
    end = np.asarray(end_xy, dtype=float), np.asarray(end_heading_rad, dtype=float)
    left, right = radii.left_m, -radii.right_m
    firsts, lasts = np.array([left, right, left, right]), np.array([left, right, right, left])
    with np.errstate(invalid="ignore"):
        threes = along_tangent(start, end, firsts, lasts, way=-1)
    first, run, last = np.moveaxis(threes, -1, 0)
    ahead = np.where(np.isnan(run), np.nan, straighten_m)
    parts = np.stack([first, ahead, run - straighten_m, last], axis=-1)
    return Paths(np.broadcast_to(curvatures(_WORDS, radii), parts.shape), parts)
