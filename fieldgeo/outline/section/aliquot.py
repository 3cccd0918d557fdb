"""Aliquot parts of a section: halves and quarters of halves and quarters, by name and by nominal size.

A part is written from small to large and located from right to left: the W1/2 NW1/4 is the west half of the north-west
quarter of the section. On the nominal section, a unit square, every part is a rectangle with sides that are whole
multiples of a power of two; whether parts overlap or lie in each other is decided there, exactly, and never by the
measured lines.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Final, TypeAlias

from fieldgeo.units import ACRE_M2

SECTION_ACRES: Final = 640  # nominal. BLM, Manual of Surveying Instructions, 1973, 3-75
SECTION_M2: Final = SECTION_ACRES * ACRE_M2
MOST_STEPS: Final = 6  # of one part; four quarterings leave 2.5 acres, fewer than any field. Own choice
_MIDDLE: Final = Fraction(1, 2)

Side: TypeAlias = tuple[Fraction, Fraction]  # from low to high, 0 to 1 from west to east or from south to north


@dataclass(frozen=True, slots=True, kw_only=True)
class Rectangle:
    """A part of the nominal section, a unit square with its corner of no east and no north in the south-west."""

    east: Side
    north: Side

    @property
    def share(self) -> Fraction:
        """Share of the section. [-]"""
        return (self.east[1] - self.east[0]) * (self.north[1] - self.north[0])

    def shared(self, other: Rectangle) -> Fraction:
        """Return the share of the section that two parts have in common. [-]"""
        return _common(self.east, other.east) * _common(self.north, other.north)


WHOLE: Final = Rectangle(east=(Fraction(0), Fraction(1)), north=(Fraction(0), Fraction(1)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Aliquot:
    """One part, as its steps are written: small to large.

    Parameters
    ----------
    steps : tuple of str
        Halves and quarters by their winds, ``"N"``, ``"S"``, ``"E"``, ``"W"`` or ``"NE"``, ``"NW"``, ``"SE"``,
        ``"SW"``; none for the whole section.
    """

    steps: tuple[str, ...]

    @property
    def text(self) -> str:
        """The part in its usual short form, such as ``"W1/2 NW1/4"``."""
        if not self.steps:
            return "all of the section"
        return " ".join(f"{step}1/{2 * len(step)}" for step in self.steps)

    @property
    def rectangle(self) -> Rectangle:
        """The part of the nominal section."""
        east, north = WHOLE.east, WHOLE.north
        for step in reversed(self.steps):
            east, north = _half(east, step, "W", "E"), _half(north, step, "S", "N")
        return Rectangle(east=east, north=north)

    @property
    def nominal_m2(self) -> float:
        """Its share of 640 acres. [m2]

        Examples
        --------
        >>> round(Aliquot(steps=("W", "NW")).nominal_m2 / 4046.8564224, 9)
        80.0
        """
        return float(self.rectangle.share) * SECTION_M2

    @property
    def is_quarter_of_half(self) -> bool:
        """Whether a quarter is taken of a half, as in NE1/4 N1/2: nobody divides land that way."""
        return any(
            len(small) == 2 and len(large) == 1 for small, large in zip(self.steps, self.steps[1:], strict=False)
        )

    @property
    def is_half_of_half(self) -> bool:
        """Whether a half is taken of a half along the same way, as in N1/2 N1/2 or E1/2 W1/2."""
        pairs = zip(self.steps, self.steps[1:], strict=False)
        return any({small, large} <= {"N", "S"} or {small, large} <= {"E", "W"} for small, large in pairs)


def _half(side: Side, step: str, low: str, high: str) -> Side:
    middle = (side[0] + side[1]) * _MIDDLE
    if low in step:
        return side[0], middle
    return (middle, side[1]) if high in step else side


def _common(one: Side, other: Side) -> Fraction:
    return max(min(one[1], other[1]) - max(one[0], other[0]), Fraction(0))
