"""Circular curves: radius and central angle from any two elements, and points along the arc.

Elements: radius R, central angle D, arc A, long chord C, tangent T (from the beginning to where the tangents meet), and
degree of curve. Formulas of the course notes on horizontal curves, and derived:

    A = R D     C = 2 R sin(D/2)     T = R tan(D/2)     M = R (1 - cos(D/2))     E = R (1/cos(D/2) - 1)

A degree of curve is the angle that 100 ft of arc make at the centre, R = 100 ft / degree (in radians); by the chord
definition, the angle that a chord of 100 ft makes, R = 50 ft / sin(degree / 2).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import acos, asin, atan, ceil, cos, degrees, isfinite, pi, radians, sin, sqrt, tan
from typing import TYPE_CHECKING, Final

import numpy as np

from fieldgeo.errors import InputError
from fieldgeo.frame import FloatArray
from fieldgeo.outline.deed.values import LONGEST_M
from fieldgeo.units import FOOT_M

if TYPE_CHECKING:
    from collections.abc import Callable

DEGREE_ARC_M: Final = 100.0 * FOOT_M
SAGITTA_M: Final = 0.001  # most that the arc stands off the straight pieces it is drawn with
_MOST_PIECES: Final = 10_000
_HALVINGS: Final = 200  # of a bisection: to the last digit of a float


@dataclass(frozen=True, slots=True, kw_only=True)
class Arc:
    """A circular arc: its size, not its place."""

    radius_m: float
    delta_deg: float  # central angle, over 0 and under 360

    @property
    def arc_m(self) -> float:
        """Length along the arc. [m]"""
        return self.radius_m * radians(self.delta_deg)

    @property
    def chord_m(self) -> float:
        """Straight from beginning to end. [m]"""
        return 2.0 * self.radius_m * sin(radians(self.delta_deg) / 2.0)

    @property
    def tangent_m(self) -> float:
        """From the beginning to where the tangents meet; negative over 180 degrees. [m]"""
        return self.radius_m * tan(radians(self.delta_deg) / 2.0)

    @property
    def middle_ordinate_m(self) -> float:
        """From the middle of the chord to the arc. [m]"""
        return self.radius_m * (1.0 - cos(radians(self.delta_deg) / 2.0))

    @property
    def external_m(self) -> float:
        """From where the tangents meet to the arc. [m]"""
        return self.radius_m * (1.0 / cos(radians(self.delta_deg) / 2.0) - 1.0)

    @property
    def segment_m2(self) -> float:
        """Area between chord and arc. [m2]"""
        delta = radians(self.delta_deg)
        return self.radius_m**2 * (delta - sin(delta)) / 2.0

    @property
    def degree_deg(self) -> float:
        """Degree of curve, by the arc definition. [deg]"""
        return degrees(DEGREE_ARC_M / self.radius_m)


def radius_of_degree_m(degree_deg: float, *, is_chord_definition: bool = False) -> float:
    """Return the radius that a degree of curve stands for. [m]

    Parameters
    ----------
    degree_deg : float
        Degree of curve, over 0 and under 180. [deg]
    is_chord_definition : bool
        Whether a chord of 100 ft is meant, and not an arc.

    Raises
    ------
    InputError
        If the degree is outside its range.

    Examples
    --------
    >>> round(radius_of_degree_m(4.0) / 0.3048, 4)
    1432.3945
    """
    if not 0 < degree_deg < 180:
        raise InputError(f"the degree of curve is {degree_deg:g}; it must be over 0 and under 180")
    if is_chord_definition:
        return DEGREE_ARC_M / 2.0 / sin(radians(degree_deg) / 2.0)
    return DEGREE_ARC_M / radians(degree_deg)


def solve_arc(
    *,
    radius_m: float | None = None,
    delta_deg: float | None = None,
    arc_m: float | None = None,
    chord_m: float | None = None,
    tangent_m: float | None = None,
    is_over_180: bool = False,
) -> Arc:
    """Return the arc that two elements make: the first two that are given, in the order of the parameters.

    Parameters
    ----------
    radius_m : float, optional
        Radius. [m]
    delta_deg : float, optional
        Central angle. [deg]
    arc_m : float, optional
        Length along the arc. [m]
    chord_m : float, optional
        Long chord. [m]
    tangent_m : float, optional
        Tangent. [m]
    is_over_180 : bool
        Whether, of the two arcs that have this radius and chord, the longer is meant.

    Returns
    -------
    Arc

    Raises
    ------
    InputError
        If fewer than two elements are given, or the two cannot belong to one curve.
    """
    elements: dict[str, float | None] = {
        "radius": radius_m, "central angle": delta_deg, "arc": arc_m, "chord": chord_m, "tangent": tangent_m
    }  # fmt: skip
    given = [(name, value) for name, value in elements.items() if value is not None]
    if len(given) < 2:
        told = f"only its {given[0][0]} is" if given else "none is"
        raise InputError(
            f"a curve needs two of radius, central angle, arc, chord, tangent, degree of curve; {told} told"
        )
    (first, one), (second, two) = given[:2]
    if one <= 0 or two <= 0:
        raise InputError(f"the {first if one <= 0 else second} of a curve must be more than nothing")
    radius, delta = _PAIRS[first, second](one, two)
    if is_over_180 and (first, second) == ("radius", "chord"):
        delta = 2.0 * pi - delta
    if not (isfinite(radius) and 0 < radius <= 1000 * LONGEST_M and 0 < delta < 2.0 * pi):
        raise InputError(f"{first} and {second} make a curve of {degrees(delta):.6g} degrees; it must be under 360")
    if radius * delta > LONGEST_M:
        raise InputError(f"the curve is {radius * delta:.6g} m long; a call may be {LONGEST_M / 1000:g} km at most")
    return Arc(radius_m=radius, delta_deg=degrees(delta))


def arc_points_m(arc: Arc, *, is_right: bool) -> FloatArray:
    """Return points along an arc that begins at (0, 0) and ends at (1, 0) times its chord, ends left out. [m]

    The points lie a little outside the arc, so that the ground between them and the chord is the segment to the last
    digit, and none of the straight pieces is more than 1 mm off the arc.

    Parameters
    ----------
    arc : Arc
        The arc.
    is_right : bool
        Whether it turns to the right: it then lies to the left of its chord, at positive y.

    Returns
    -------
    ndarray of shape (N, 2)
        Points. [m]

    Notes
    -----
    Derived. With n pieces of angle t, end points at R and the others at r, the triangles from the centre have
    2 (R r sin t) / 2 + (n - 2) (r r sin t) / 2 = R R D / 2.
    """
    delta, radius = radians(arc.delta_deg), arc.radius_m
    # With two pieces the point between stands out by 4/3 of their sagitta, with more by less (R t^2 / 6 to R t^2 / 8).
    sagitta_m = 0.75 * SAGITTA_M
    step = 2.0 * acos(max(0.0, 1.0 - sagitta_m / radius)) if radius > sagitta_m else pi / 2
    pieces = min(max(2, ceil(delta / step), ceil(delta / (pi / 4))), _MOST_PIECES)
    turn = delta / pieces
    a, b, c = (pieces - 2) * sin(turn), 2.0 * radius * sin(turn), -(radius**2) * delta
    outer = -c / b if a == 0 else 2.0 * -c / (b + sqrt(b * b - 4.0 * a * c))
    along = (np.arange(1, pieces) / pieces - 0.5) * delta
    x_m = outer * np.sin(along) + radius * sin(delta / 2.0)
    y_m = outer * np.cos(along) - radius * cos(delta / 2.0)
    return np.column_stack([x_m, y_m if is_right else -y_m])


def _radius_arc(radius: float, arc: float) -> tuple[float, float]:
    return radius, arc / radius


def _radius_chord(radius: float, chord: float) -> tuple[float, float]:
    if chord > 2.0 * radius * (1 + 1e-12):
        raise InputError(f"a chord of {chord:.6g} m does not fit a radius of {radius:.6g} m: it may be twice that")
    return radius, 2.0 * asin(min(1.0, chord / (2.0 * radius)))


def _arc_chord(arc: float, chord: float) -> tuple[float, float]:
    if chord >= arc:
        raise InputError(f"the chord ({chord:.6g} m) must be shorter than the arc ({arc:.6g} m)")
    half = _root(lambda x: sin(x) / x - chord / arc, 1e-9, pi)
    return arc / (2.0 * half), 2.0 * half


def _arc_tangent(arc: float, tangent: float) -> tuple[float, float]:
    if 2.0 * tangent <= arc:
        raise InputError(f"twice the tangent ({tangent:.6g} m) must be longer than the arc ({arc:.6g} m)")
    half = _root(lambda x: 2.0 * tangent / arc - tan(x) / x, 1e-9, pi / 2 - 1e-12)
    return arc / (2.0 * half), 2.0 * half


def _chord_tangent(chord: float, tangent: float) -> tuple[float, float]:
    if 2.0 * tangent <= chord:
        raise InputError(f"twice the tangent ({tangent:.6g} m) must be longer than the chord ({chord:.6g} m)")
    half = acos(chord / (2.0 * tangent))
    return chord / (2.0 * sin(half)), 2.0 * half


def _of_delta(length: Callable[[float], float]) -> Callable[[float, float], tuple[float, float]]:
    """Return the radius from the central angle [deg] and a length that is `length(delta)` for a radius of one."""

    def solved(delta_deg: float, length_m: float) -> tuple[float, float]:
        if not 0 < delta_deg < 360:
            raise InputError(f"the central angle is {delta_deg:g} degrees; it must be over 0 and under 360")
        per_radius = length(radians(delta_deg))
        if not per_radius > 1e-12:
            raise InputError(f"a central angle of {delta_deg:g} degrees has no such tangent or chord")
        return length_m / per_radius, radians(delta_deg)

    return solved


_PAIRS: Final[dict[tuple[str, str], Callable[[float, float], tuple[float, float]]]] = {
    ("radius", "central angle"): lambda radius, delta_deg: (radius, radians(delta_deg)),
    ("radius", "arc"): _radius_arc,
    ("radius", "chord"): _radius_chord,
    ("radius", "tangent"): lambda radius, tangent: (radius, 2.0 * atan(tangent / radius)),
    ("central angle", "arc"): _of_delta(lambda delta: delta),
    ("central angle", "chord"): _of_delta(lambda delta: 2.0 * sin(delta / 2.0)),
    ("central angle", "tangent"): _of_delta(lambda delta: tan(delta / 2.0)),
    ("arc", "chord"): _arc_chord,
    ("arc", "tangent"): _arc_tangent,
    ("chord", "tangent"): _chord_tangent,
}


def _root(falling: Callable[[float], float], low: float, high: float) -> float:
    """Return where a falling function is zero, by bisection."""
    for _ in range(_HALVINGS):
        middle = (low + high) / 2.0
        low, high = (middle, high) if falling(middle) > 0 else (low, middle)
    return (low + high) / 2.0
