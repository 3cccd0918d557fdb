"""Calls worked out: azimuth, latitude and departure of each, and the figure they make.

Latitude = length x cos(azimuth), departure = length x sin(azimuth); of a curve, those of its chord. Deed distances are
taken as horizontal distances on the ground: no scale factor and no reduction to the ellipsoid is applied. At 300 m
above the sea the area on the ground is 0.009 % larger than on the ellipsoid; nothing is mended for it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import cos, hypot, radians, sin
from typing import TYPE_CHECKING, Final

import numpy as np

from fieldgeo.errors import InputError
from fieldgeo.frame import FloatArray, azimuth_deg
from fieldgeo.outline.deed.curve_calls import LaidCurve, lay_curve
from fieldgeo.outline.deed.curves import arc_points_m
from fieldgeo.outline.evidence import Course
from fieldgeo.outline.rings import IndexArray

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fieldgeo.outline.deed.model import Call

_SAME_M: Final = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class LaidCall:
    """A call worked out."""

    call: Call
    course: Course
    curve: LaidCurve | None = None
    is_computed: bool = False  # a last call whose length the deed does not tell: it closes the figure

    @property
    def step_m(self) -> FloatArray:
        """Departure and latitude, shape (2,). [m]"""
        return np.array([self.course.departure_m, self.course.latitude_m])


@dataclass(frozen=True, slots=True, kw_only=True)
class Laid:
    """All calls of a deed worked out, with what was seen on the way."""

    calls: tuple[LaidCall, ...]
    notes: tuple[str, ...]
    faults: tuple[str, ...]


def lay_calls(calls: Sequence[Call]) -> Laid:
    """Return the calls worked out.

    Parameters
    ----------
    calls : sequence of Call
        In the order of the deed.
    """
    laid: list[LaidCall] = []
    notes: list[str] = []
    faults: list[str] = []
    before_deg: float | None = None
    for number, call in enumerate(calls, start=1):
        try:
            if call.curve is not None:
                curve = lay_curve(call.curve, before_deg)
                notes.extend(f"call {number}: {note}" for note in curve.notes)
                laid.append(_laid_curve(number, call, curve))
                before_deg = curve.tangent_out_deg
            elif call.bearing is not None and call.distance is not None:
                before_deg = call.bearing.azimuth_deg
                laid.append(_laid_line(number, call, before_deg, call.distance.length_m))
            elif faults:
                continue  # what closes the figure cannot be found without the calls before
            else:
                laid.append(_closing(number, call, laid, notes))
        except InputError as error:
            faults.append(f"line {call.line}: call {number}, {call.text!r}: {error}")
    return Laid(calls=tuple(laid), notes=tuple(notes), faults=tuple(faults))


def steps_m(laid: Sequence[LaidCall]) -> FloatArray:
    """Return departures and latitudes of all calls. [m]

    Parameters
    ----------
    laid : sequence of LaidCall
        N calls.

    Returns
    -------
    ndarray of shape (N, 2)
        East and north.
    """
    return np.array([[one.course.departure_m, one.course.latitude_m] for one in laid]).reshape(-1, 2)


def lengths_m(laid: Sequence[LaidCall]) -> FloatArray:
    """Return lengths along all calls, of a curve its arc, shape (N,). [m]

    Parameters
    ----------
    laid : sequence of LaidCall
        N calls.
    """
    return np.array([one.course.length_m for one in laid])


def draw_ring_m(laid: Sequence[LaidCall], corners_m: FloatArray) -> tuple[FloatArray, IndexArray]:
    """Return the outline through given corners, with points along the curves, and the call of each of its sides.

    Parameters
    ----------
    laid : sequence of LaidCall
        N calls.
    corners_m : ndarray of shape (N, 2)
        Where each call begins; the last ends at the first corner. A curve keeps its central angle. [m]

    Returns
    -------
    tuple of ndarray
        Closed ring of shape (M + 1, 2), and shape (M,) the index of the call that each side belongs to. [m]
    """
    points: list[FloatArray] = []
    owners: list[int] = []
    for number, one in enumerate(laid):
        start, end = corners_m[number], corners_m[(number + 1) % len(laid)]
        points.append(start[np.newaxis])
        owners.append(number)
        if one.curve is not None:
            between = _arc_between(one.curve, start, end)
            points.append(between)
            owners.extend([number] * len(between))
    points.append(corners_m[:1])
    return np.concatenate(points), np.array(owners, dtype=np.int64)


def segments_m2(laid: Sequence[LaidCall], corners_m: FloatArray) -> float:
    """Return the area that the curves add to the polygon of the corners, counter-clockwise positive. [m2]

    Parameters
    ----------
    laid : sequence of LaidCall
        N calls.
    corners_m : ndarray of shape (N, 2)
        Where each call begins. [m]

    Notes
    -----
    Derived: an arc to the right lies to the left of its chord, and takes its segment from a counter-clockwise figure.
    """
    total_m2 = 0.0
    for number, one in enumerate(laid):
        if one.curve is not None:
            step = corners_m[(number + 1) % len(laid)] - corners_m[number]
            scale = hypot(*step) / one.curve.arc.chord_m if one.curve.arc.chord_m > _SAME_M else 1.0
            total_m2 -= one.curve.sign * one.curve.arc.segment_m2 * scale**2
    return total_m2


def _arc_between(curve: LaidCurve, start_m: FloatArray, end_m: FloatArray) -> FloatArray:
    """Return the points of a curve between two corners: turned and stretched from its chord to theirs."""
    points = arc_points_m(curve.arc, is_right=curve.is_right)
    chord_m = curve.arc.chord_m
    if chord_m < _SAME_M:
        heading = radians(90.0 - curve.chord_azimuth_deg)
        along = np.array([cos(heading), sin(heading)])
    else:
        along = (end_m - start_m) / chord_m
    left = np.array([-along[1], along[0]])
    return np.asarray(start_m + points[:, :1] * along + points[:, 1:] * left)


def _laid_line(number: int, call: Call, azimuth: float, length_m: float) -> LaidCall:
    turned = radians(azimuth)
    course = Course(
        number=number,
        text=call.text,
        kind="line",
        azimuth_deg=azimuth,
        length_m=length_m,
        latitude_m=_exact(length_m * cos(turned), length_m),
        departure_m=_exact(length_m * sin(turned), length_m),
    )
    return LaidCall(call=call, course=course)


def _laid_curve(number: int, call: Call, curve: LaidCurve) -> LaidCall:
    chord = _laid_line(number, call, curve.chord_azimuth_deg, curve.arc.chord_m).course
    course = replace(
        chord,
        kind="curve",
        length_m=curve.arc.arc_m,
        radius_m=curve.sign * curve.arc.radius_m,
        delta_deg=curve.arc.delta_deg,
    )
    return LaidCall(call=call, course=course, curve=curve)


def _closing(number: int, call: Call, laid: Sequence[LaidCall], notes: list[str]) -> LaidCall:
    """Return the last call where the deed does not say how far it runs: straight back to the beginning."""
    back = -steps_m(laid).sum(axis=0)
    length_m = float(hypot(*back))
    if len(laid) < 2 or length_m < _SAME_M:
        raise InputError("it returns to the beginning without a distance, but there is no way left to return")
    azimuth = float(azimuth_deg(back[0], back[1]))
    bearing = ""
    if call.bearing is not None:
        off_deg = abs((azimuth - call.bearing.azimuth_deg + 180.0) % 360.0 - 180.0)
        bearing = f"; the bearing it gives is {off_deg:.4g} degrees off that"
    notes.append(
        f"call {number} gives no length: it is drawn straight back to the beginning, azimuth {azimuth:.4f} degrees, "
        f"{length_m:.2f} m{bearing}"
    )
    one = _laid_line(number, call, azimuth, length_m)
    course = replace(one.course, departure_m=float(back[0]), latitude_m=float(back[1]))
    return LaidCall(call=call, course=course, is_computed=True)


def _exact(part_m: float, length_m: float) -> float:
    """Return a latitude or departure, zero where it is only the last digit of a sine that should be zero."""
    return 0.0 if abs(part_m) < 4e-16 * length_m else part_m


def interior_angles_deg(azimuths_deg: Sequence[float]) -> list[float]:
    """Return the interior angle at the beginning of each course of a figure of straight sides. [deg]

    Parameters
    ----------
    azimuths_deg : sequence of float
        Azimuths of the courses, in order. [deg]

    Returns
    -------
    list of float
        On the right hand of the courses when they run clockwise and on the left when they run counter-clockwise, by
        their turns; of a figure that does not cross itself they add up to (N - 2) x 180.
    """
    turns = [
        (here - before + 180.0) % 360.0 - 180.0
        for before, here in zip([azimuths_deg[-1], *azimuths_deg[:-1]], azimuths_deg, strict=True)
    ]
    side = 1.0 if sum(turns) >= 0 else -1.0
    return [180.0 - side * turn for turn in turns]


def turned_deg(laid: Sequence[LaidCall]) -> float:
    """Return how far the figure turns as one goes round it once, curves too: 360 of a figure that closes. [deg]

    Parameters
    ----------
    laid : sequence of LaidCall
        Calls.

    Notes
    -----
    The check of the interior angles, which add up to (N - 2) x 180 degrees, in the form that curves allow as well.
    """
    ends = [(one.curve.tangent_in_deg, one.curve.tangent_out_deg) if one.curve else (one.course.azimuth_deg,) * 2
            for one in laid]  # fmt: skip
    total = sum(one.curve.sign * one.curve.arc.delta_deg for one in laid if one.curve is not None)
    for (_, out_deg), (in_deg, _) in zip(ends, [*ends[1:], ends[0]], strict=True):
        total += (in_deg - out_deg + 180.0) % 360.0 - 180.0
    return total
