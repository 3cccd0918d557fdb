"""The blunder search: which one slip in one call would make a badly closing figure close.

Tried for every call: its bearing turned round; east and west, or north and south, changed over; two neighbouring
digits of its bearing or distance changed over; the call written twice. A curve that hangs on the call before turns with
it, and its turn to the right or left is tried as well. A call that was left out closes any figure, so it is never a
suspect: it is told in words, and only where nothing else explains the gap.

What is found is told and never made: the figure stays as it is written.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Final

import numpy as np

from fieldgeo.errors import InputError
from fieldgeo.frame import FloatArray, azimuth_deg
from fieldgeo.outline.deed.closure import GOOD_PRECISION, POOR_PRECISION, Closure
from fieldgeo.outline.deed.courses import LaidCall, steps_m
from fieldgeo.outline.deed.curve_calls import turn_deg
from fieldgeo.outline.deed.values import Bearing, Distance, angle_of, bearing_of, distance_of
from fieldgeo.outline.evidence import Suspect
from fieldgeo.units import FOOT_M

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

# A change must close the figure better than 1:1,000 and ten times better than now; of an old compass deed, which closes
# no better than that at its best, forty times better than now will do. Tuned on random deeds of 4 to 12 calls.
LEAST_GAIN: Final = 10.0
ROUGH_GAIN: Final = 40.0
ROUGH_PRECISION: Final = 300.0
MOST_SUSPECTS: Final = 5
_SAME_M: Final = 1e-6
_PARALLEL_DEG: Final = 3.0  # of a missing call and one that is there; common practice, no source
_OVER: Final = {"NE": ("NW", "SE"), "NW": ("NE", "SW"), "SE": ("SW", "NE"), "SW": ("SE", "NW")}
_EAST_WEST: Final = {"E": "W", "W": "E"}
_NORTH_SOUTH: Final = {"N": "S", "S": "N"}


@dataclass(frozen=True, slots=True, kw_only=True)
class _Change:
    """One change of one call: the step it would make, and how far it turns the curves that hang on it."""

    index: int
    what: str
    step_m: FloatArray
    turn_deg: float = 0.0


def find_suspects(laid: Sequence[LaidCall], closed: Closure, vara_m: float | None = None) -> tuple[Suspect, ...]:
    """Return the single changes that would close a figure, the best first.

    Parameters
    ----------
    laid : sequence of LaidCall
        Calls.
    closed : Closure
        How they close.
    vara_m : float, optional
        Length of the vara. [m]

    Returns
    -------
    tuple of Suspect
        Empty where the figure closes better than 1:5,000, or where no change closes it well; at most five.
    """
    if closed.precision is None or closed.precision >= GOOD_PRECISION:
        return ()
    rough_m = min(closed.perimeter_m / ROUGH_PRECISION, closed.misclosure_m / ROUGH_GAIN)
    limit_m = min(max(closed.perimeter_m / POOR_PRECISION, rough_m), closed.misclosure_m / LEAST_GAIN)
    steps = steps_m(laid)
    found: list[tuple[float, _Change]] = []
    for change in _changes(laid, vara_m):
        left_m = float(np.hypot(*(closed.gap_m + _gain_m(laid, steps, change))))
        if left_m <= limit_m:
            found.append((left_m, change))
    found.sort(key=lambda pair: pair[0])
    return tuple(
        Suspect(number=change.index + 1, change=change.what, misclosure_m=left_m)
        for left_m, change in found[:MOST_SUSPECTS]
    )


def missing_call(laid: Sequence[LaidCall], closed: Closure) -> str:
    """Return in words the one call that would close a figure if it were left out of the deed.

    Parameters
    ----------
    laid : sequence of LaidCall
        Calls.
    closed : Closure
        How they close, not exactly.
    """
    azimuth = closed.azimuth_deg or 0.0
    length = f"{closed.misclosure_m:.2f} m ({closed.misclosure_m / FOOT_M:.1f} ft)"
    words = f"if a call was left out, it runs {bearing_text(azimuth)}, {length}"
    for one in laid:
        off_deg = abs(turn_deg(one.course.azimuth_deg, azimuth)) % 180.0
        if one.curve is None and min(off_deg, 180.0 - off_deg) <= _PARALLEL_DEG:
            return f"{words}; call {one.course.number} runs along the same line"
    return words


def bearing_text(azimuth: float) -> str:
    """Return an azimuth as a quadrant bearing to the minute.

    Parameters
    ----------
    azimuth : float
        Clockwise from north. [deg]

    Examples
    --------
    >>> bearing_text(269.25), bearing_text(0.0)
    ("S 89°15' W", "N 0°00' E")
    """
    minutes = round(azimuth % 360.0 * 60.0) % 21600
    north = "N" if minutes <= 5400 or minutes > 16200 else "S"
    east = "E" if minutes <= 10800 else "W"
    from_axis = {"NE": minutes, "SE": 10800 - minutes, "SW": minutes - 10800, "NW": 21600 - minutes}[north + east]
    return f"{north} {from_axis // 60}°{from_axis % 60:02d}' {east}"


def swapped(number: str) -> Iterator[str]:
    """Yield a written number with each pair of neighbouring digits changed over.

    Parameters
    ----------
    number : str
        As written; digits on the two sides of a point or a stroke are no neighbours.

    Examples
    --------
    >>> list(swapped("45.30"))
    ['54.30', '45.03']
    """
    for place, (one, other) in enumerate(pairwise(number)):
        if one.isdigit() and other.isdigit() and one != other:
            yield number[:place] + other + one + number[place + 2 :]


def _gain_m(laid: Sequence[LaidCall], steps: FloatArray, change: _Change) -> FloatArray:
    """Return by how much a change moves the end of the last call."""
    gain = change.step_m - steps[change.index]
    if change.turn_deg != 0.0:
        gain = gain + _turned(steps, _hanging(laid, change.index), change.turn_deg)
    return np.asarray(gain)


def _hanging(laid: Sequence[LaidCall], index: int) -> range:
    """Return the curves after a call that begin in its direction, one upon the other."""
    end = index + 1
    while end < len(laid) and (curve := laid[end].curve) is not None and curve.is_by_tangent:
        end += 1
    return range(index + 1, end)


def _turned(steps: FloatArray, hanging: range, turn: float) -> FloatArray:
    """Return what turning some steps clockwise adds to their sum."""
    total = steps[hanging.start : hanging.stop].sum(axis=0)
    angle = np.radians(turn)
    east = total[0] * np.cos(angle) + total[1] * np.sin(angle)
    north = total[1] * np.cos(angle) - total[0] * np.sin(angle)
    return np.asarray(np.array([east, north]) - total)


def _changes(laid: Sequence[LaidCall], vara_m: float | None) -> Iterator[_Change]:
    for index, one in enumerate(laid):
        if one.is_computed:
            continue
        before = laid[index - 1] if index else None
        if before is not None and before.curve is None and one.curve is None and _is_same(before, one):
            yield _Change(index=index, what="leave it out: it is the call before, written twice", step_m=np.zeros(2))
        bearing = one.call.bearing if one.call.curve is None else one.call.curve.chord_bearing
        if bearing is not None:
            for text, other in _other_bearings(bearing):
                yield _bearing_change(index, one, text, bearing, other)
        if one.call.distance is not None:
            for other_distance in _other_distances(one.call.distance, vara_m):
                scale = other_distance.length_m / one.course.length_m
                text = f"read {_distance_text(other_distance)} for {_distance_text(one.call.distance)}"
                yield _Change(index=index, what=text, step_m=one.step_m * scale)
        if one.curve is not None and one.curve.is_by_tangent:
            yield _turn_change(index, one)


def _is_same(one: LaidCall, other: LaidCall) -> bool:
    return float(np.hypot(*(one.step_m - other.step_m))) < _SAME_M


def _bearing_change(index: int, one: LaidCall, text: str, bearing: Bearing, other: Bearing) -> _Change:
    turn = turn_deg(bearing.azimuth_deg, other.azimuth_deg)
    size_m = float(np.hypot(*one.step_m))
    azimuth = np.radians(one.course.azimuth_deg + turn)
    step_m = size_m * np.array([np.sin(azimuth), np.cos(azimuth)])
    return _Change(index=index, what=text, step_m=step_m, turn_deg=turn)


def _turn_change(index: int, one: LaidCall) -> _Change:
    assert one.curve is not None  # asked before
    arc, sign = one.curve.arc, one.curve.sign
    azimuth = np.radians(one.curve.tangent_in_deg - sign * arc.delta_deg / 2.0)
    words = "read left for right" if one.curve.is_right else "read right for left"
    return _Change(
        index=index,
        what=words,
        step_m=arc.chord_m * np.array([np.sin(azimuth), np.cos(azimuth)]),
        turn_deg=-2.0 * sign * arc.delta_deg,
    )


def _other_bearings(bearing: Bearing) -> Iterator[tuple[str, Bearing]]:
    written = _bearing_text(bearing)
    for quadrant in _other_quadrants(bearing.quadrant):
        other = bearing_of(quadrant, bearing.angle)
        yield f"read {_bearing_text(other)} for {written}", other
    if bearing.angle is None:
        return
    if not bearing.quadrant:
        back = angle_of([f"{(bearing.angle.deg + 180.0) % 360.0:.8f}"], most_deg=360.0)
        yield f"turn it round: read azimuth {back.deg:g} for {written}", bearing_of("", back)
    most_deg = 90.0 if bearing.quadrant else 360.0
    digits = bearing.angle.digits
    for place, number in enumerate(digits):
        for changed in swapped(number):
            try:
                angle = angle_of([*digits[:place], changed, *digits[place + 1 :]], most_deg=most_deg)
            except InputError:
                continue  # no such angle
            other = bearing_of(bearing.quadrant, angle)
            yield f"read {_bearing_text(other)} for {written}", other


def _other_quadrants(quadrant: str) -> tuple[str, ...]:
    if quadrant in _OVER:
        over, under = _OVER[quadrant]
        return over, under, _OVER[over][1]
    if quadrant:
        return ({**_EAST_WEST, **_NORTH_SOUTH}[quadrant],)
    return ()


def _other_distances(distance: Distance, vara_m: float | None) -> Iterator[Distance]:
    for place, (number, unit) in enumerate(distance.parts):
        for changed in swapped(number):
            parts = (*distance.parts[:place], (changed, unit), *distance.parts[place + 1 :])
            try:
                yield distance_of(parts, vara_m)
            except InputError:
                continue  # no such distance


def _bearing_text(bearing: Bearing) -> str:
    if bearing.angle is None:
        return bearing.quadrant
    marks = zip(bearing.angle.digits, ("°", "'", '"'), strict=False)
    angle = "".join(number + mark for number, mark in marks)
    return f"{bearing.quadrant[0]} {angle} {bearing.quadrant[1]}" if bearing.quadrant else f"azimuth {angle}"


def _distance_text(distance: Distance) -> str:
    return " ".join(f"{number} {unit.replace('_', ' ')}" for number, unit in distance.parts)


def calls_along_gap(laid: Sequence[LaidCall], closed: Closure) -> list[int]:
    """Return the numbers of the straight calls that run along the misclosure, the likeliest to have a wrong length.

    Parameters
    ----------
    laid : sequence of LaidCall
        Calls.
    closed : Closure
        How they close.
    """
    if closed.is_exact:
        return []
    gap_deg = float(azimuth_deg(*closed.gap_m))
    off_deg = {
        one.course.number: abs(turn_deg(one.course.azimuth_deg, gap_deg)) % 180.0 for one in laid if one.curve is None
    }
    return [number for number, off in off_deg.items() if min(off, 180.0 - off) <= _PARALLEL_DEG]
