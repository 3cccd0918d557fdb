"""The calls of a deed as they are written: what each says, nothing worked out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias

from fieldgeo.outline.deed.stated import StatedArea
from fieldgeo.outline.deed.values import Angle, Bearing, Distance

Turn: TypeAlias = Literal["right", "left"]


@dataclass(slots=True, kw_only=True)
class CurveWords:
    """What a deed says of one curve; filled while its words are read."""

    turn: Turn | None = None
    radius: Distance | None = None
    arc: Distance | None = None
    chord: Distance | None = None
    tangent: Distance | None = None
    delta: Angle | None = None
    degree: Angle | None = None
    is_chord_definition: bool = False  # of the degree of curve
    chord_bearing: Bearing | None = None
    tangent_bearing: Bearing | None = None  # where the curve begins
    radial: Bearing | None = None
    is_radial_to_center: bool | None = None  # None: not told
    concave_deg: float | None = None  # azimuth of the side
    is_non_tangent: bool = False
    is_over_180: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Call:
    """One call of a deed as it is written."""

    line: int
    text: str
    bearing: Bearing | None = None  # None: of a curve, or of a last call that only says it returns
    distance: Distance | None = None  # None: of a curve, or of a last call that returns without saying how far
    curve: CurveWords | None = None
    is_home: bool = False  # whether it says that it returns to the beginning


@dataclass(frozen=True, slots=True, kw_only=True)
class DeedCalls:
    """The calls of a deed, with what was seen while reading them."""

    calls: tuple[Call, ...]
    stated: StatedArea | None
    notes: tuple[str, ...]
    faults: tuple[str, ...]
