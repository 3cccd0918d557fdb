"""A curve of a deed laid down: its arc from what is told, its direction, and every statement checked against the rest.

Which way a curve sets off, the first that is told: its chord bearing, the bearing of its radius, the bearing of its
tangent, and else the direction of the call before, for a curve that does not say "non-tangent" is tangent. Where the
chord or radial bearing and the call before disagree, the deed's own bearing is followed and the gap is told.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, radians
from typing import TYPE_CHECKING, Final

from fieldgeo.errors import InputError
from fieldgeo.outline.deed.curves import Arc, radius_of_degree_m, solve_arc

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fieldgeo.outline.deed.model import CurveWords
    from fieldgeo.outline.deed.values import Bearing

_LEAST_GAP_DEG: Final = 1.0 / 60.0  # of two directions that are told to be the same; common practice, no source
_SIDE_DEG: Final = 80.0  # most that the middle of a curve's hollow side may be off the compass word for it


@dataclass(frozen=True, slots=True, kw_only=True)
class LaidCurve:
    """A curve with its direction."""

    arc: Arc
    is_right: bool
    tangent_in_deg: float  # azimuth where it begins
    notes: tuple[str, ...]
    is_by_tangent: bool  # whether its direction hangs on the call before

    @property
    def sign(self) -> float:
        """1 for a turn to the right, -1 to the left."""
        return 1.0 if self.is_right else -1.0

    @property
    def chord_azimuth_deg(self) -> float:
        """Azimuth from its beginning to its end. [deg]"""
        return (self.tangent_in_deg + self.sign * self.arc.delta_deg / 2.0) % 360.0

    @property
    def tangent_out_deg(self) -> float:
        """Azimuth where it ends. [deg]"""
        return (self.tangent_in_deg + self.sign * self.arc.delta_deg) % 360.0


def lay_curve(words: CurveWords, before_deg: float | None) -> LaidCurve:
    """Return a curve with its direction.

    Parameters
    ----------
    words : CurveWords
        What the deed says of it.
    before_deg : float or None
        Azimuth at the end of the call before; None for the first call. [deg]

    Raises
    ------
    InputError
        If its elements are too few or contradict each other, or its turn or direction cannot be told.
    """
    arc = _arc(words)
    notes = list(_element_notes(words, arc))
    to_center_deg = _to_center_deg(words)
    is_right = _is_right(words, arc, to_center_deg, before_deg)
    sign = 1.0 if is_right else -1.0
    tangents: list[tuple[str, float]] = []
    if words.chord_bearing is not None:
        tangents.append(("chord bearing", words.chord_bearing.azimuth_deg - sign * arc.delta_deg / 2.0))
    if to_center_deg is not None:
        tangents.append(("radial bearing", to_center_deg - sign * 90.0))
    if words.tangent_bearing is not None:
        tangents.append(("tangent bearing", words.tangent_bearing.azimuth_deg))
    is_by_tangent = not tangents
    if is_by_tangent and words.is_non_tangent:
        raise InputError("a non-tangent curve needs a chord bearing, a radial bearing or a tangent bearing")
    if before_deg is not None and not words.is_non_tangent:
        tangents.append(("call before", before_deg))
    if not tangents:
        raise InputError("the first call is a curve: it needs a chord bearing, a radial bearing or a tangent bearing")
    notes.extend(_tangent_notes(tangents, words, arc))
    laid = LaidCurve(
        arc=arc,
        is_right=is_right,
        tangent_in_deg=tangents[0][1] % 360.0,
        notes=tuple(notes),
        is_by_tangent=is_by_tangent,
    )
    _check_side(words, laid)
    return laid


def turn_deg(from_deg: float, to_deg: float) -> float:
    """Return the turn from one azimuth to another, clockwise positive, -180 <= turn < 180. [deg]

    Parameters
    ----------
    from_deg, to_deg : float
        Azimuths. [deg]
    """
    return (to_deg - from_deg + 180.0) % 360.0 - 180.0


def _radius_m(words: CurveWords) -> float | None:
    if words.radius is not None:
        return words.radius.length_m
    if words.degree is not None:
        return radius_of_degree_m(words.degree.deg, is_chord_definition=words.is_chord_definition)
    return None


def _arc(words: CurveWords) -> Arc:
    return solve_arc(
        radius_m=_radius_m(words),
        delta_deg=words.delta.deg if words.delta else None,
        arc_m=words.arc.length_m if words.arc else None,
        chord_m=words.chord.length_m if words.chord else None,
        tangent_m=words.tangent.length_m if words.tangent else None,
        is_over_180=words.is_over_180,
    )


def _element_notes(words: CurveWords, arc: Arc) -> Iterator[str]:
    """Tell every element that does not agree with the two the curve is made of, within the digits written."""
    share = _slack(words)
    for name, written, found_m in (
        ("arc", words.arc, arc.arc_m),
        ("chord", words.chord, arc.chord_m),
        ("tangent", words.tangent, arc.tangent_m),
    ):
        if written is None:
            continue
        slack_m = written.last_digit_m + abs(found_m) * share
        if abs(written.length_m - found_m) > slack_m:
            yield (
                f"its {name} is written {written.length_m:.3f} m, but the curve it is made of has {found_m:.3f} m; "
                "one of its elements is wrong"
            )
    if words.radius is not None and words.degree is not None:
        by_degree_m = radius_of_degree_m(words.degree.deg, is_chord_definition=words.is_chord_definition)
        if abs(by_degree_m - arc.radius_m) > words.radius.last_digit_m + share * by_degree_m:
            yield f"its degree of curve makes a radius of {by_degree_m:.3f} m; its own, {arc.radius_m:.3f} m, is kept"
    if words.delta is None and words.arc is None and words.chord is not None and not words.is_over_180:
        yield "radius and chord fit two arcs: the shorter is taken; write 'over 180 degrees' where the longer is meant"


def _slack(words: CurveWords) -> float:
    """Return how far off, as a share of itself, an element may be by the digits of those the curve is made of."""
    lengths = [one for one in (words.radius, words.arc, words.chord, words.tangent) if one is not None]
    angles = [one for one in (words.delta, words.degree) if one is not None and one.deg > 0]
    shares = [one.last_digit_m / one.length_m for one in lengths] + [one.last_digit_deg / one.deg for one in angles]
    return sum(sorted(shares)[-2:])


def _to_center_deg(words: CurveWords) -> float | None:
    """Return the azimuth from the beginning of the curve to its centre, from the radial bearing."""
    if words.radial is None:
        return None
    radial_deg, to_center = words.radial.azimuth_deg, words.is_radial_to_center
    if to_center is None:
        if words.concave_deg is None:
            raise InputError(
                "its radial bearing may run to the centre or from it: write 'the centre bears ...', or 'radial to the "
                "point bears ...', or to which side the curve is concave"
            )
        to_center = cos(radians(turn_deg(radial_deg, words.concave_deg))) > 0
    return radial_deg if to_center else (radial_deg + 180.0) % 360.0


def _is_right(words: CurveWords, arc: Arc, to_center_deg: float | None, before_deg: float | None) -> bool:
    if words.turn is not None:
        return words.turn == "right"
    chord_deg = words.chord_bearing.azimuth_deg if words.chord_bearing else None
    center_deg = to_center_deg if to_center_deg is not None else words.concave_deg
    heading_deg = _heading_deg(words.tangent_bearing, chord_deg, None if words.is_non_tangent else before_deg)
    if center_deg is None or heading_deg is None or (chord_deg is not None and arc.delta_deg > 180):
        raise InputError("it does not say whether the curve turns to the right or to the left")
    off_deg = turn_deg(heading_deg, center_deg)
    if not 90.0 - _SIDE_DEG < abs(off_deg) < 90.0 + _SIDE_DEG:
        raise InputError("whether it turns to the right or to the left cannot be told from the side it is concave to")
    return off_deg > 0


def _heading_deg(tangent: Bearing | None, chord_deg: float | None, before_deg: float | None) -> float | None:
    if tangent is not None:
        return tangent.azimuth_deg
    return chord_deg if chord_deg is not None else before_deg


def _tangent_notes(tangents: list[tuple[str, float]], words: CurveWords, arc: Arc) -> Iterator[str]:
    """Tell every direction that does not agree with the one that is followed."""
    followed, tangent_deg = tangents[0]
    digits_deg = [b.angle.last_digit_deg for b in (words.chord_bearing, words.radial) if b is not None and b.angle]
    slack_deg = max([_LEAST_GAP_DEG, *digits_deg]) + arc.delta_deg * _slack(words)
    for name, other_deg in tangents[1:]:
        gap_deg = abs(turn_deg(tangent_deg, other_deg))
        if gap_deg <= slack_deg:
            continue
        reversed_too = " (it points the other way round)" if 180.0 - gap_deg <= slack_deg else ""
        if name == "call before":
            yield (
                f"the curve is not said to be non-tangent, but by its {followed} it sets off {gap_deg:.4g} degrees "
                f"from the direction of the call before{reversed_too}; its {followed} is followed"
            )
        else:
            yield f"its {followed} and its {name} are {gap_deg:.4g} degrees apart{reversed_too}; the first is followed"


def _check_side(words: CurveWords, laid: LaidCurve) -> None:
    if words.concave_deg is None:
        return
    hollow_deg = (laid.chord_azimuth_deg + laid.sign * 90.0) % 360.0
    if abs(turn_deg(hollow_deg, words.concave_deg)) > 180.0 - _SIDE_DEG:
        turn = "right" if laid.is_right else "left"
        raise InputError(
            f"a curve to the {turn} along this chord is hollow to azimuth {hollow_deg:.0f} degrees, which is not the "
            "side it is said to be concave to"
        )
