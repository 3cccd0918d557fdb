"""How an outline came to be known, and how far it can be trusted: what each kind of source says of itself."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias

SourceKind: TypeAlias = Literal["file", "walk", "deed", "section"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One step of cleaning a walked track."""

    what: str  # what was dropped and by which limit, for a person
    dropped: int  # points or lines


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """A straight side that nobody walked, between two segments of a track."""

    length_m: float
    lon_deg: float  # of its middle
    lat_deg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class WalkReport:
    """A walked track: what was dropped, how it closed, and how sure its area is."""

    points_read: int
    points_kept: int  # after cleaning, before thinning
    steps: tuple[Step, ...]  # in the order in which they were taken
    gaps: tuple[Gap, ...]
    closure_m: float  # from the last point to the first, before the ring was closed
    closure_share: float  # of the perimeter
    duration_s: float | None  # None when the track has no times
    accuracy_m: float  # standard error of a position along each axis
    accuracy_from: str  # where that comes from, for a person
    bound_m2: float  # perimeter x accuracy: every position off to the same side
    offset_m: float  # outward, from the track to the edge; negative: inward
    offset_area_change_m2: float
    thin_m: float  # tolerance of thinning
    thinned: int  # points dropped by it
    thin_area_change_m2: float
    laps: int = 1  # times round; only the first is used
    overlap_m: float = 0.0  # walked beyond the join, and left out
    loops: int = 0  # small loops that were cut out
    loops_area_change_m2: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """One call of a deed, worked out."""

    number: int  # from 1, as it stands in the deed
    text: str  # as it is written
    kind: Literal["line", "curve"]
    azimuth_deg: float  # from its start to its end, along the chord of a curve; in the deed's own north
    length_m: float  # along the call: the arc of a curve
    latitude_m: float  # northing, raw
    departure_m: float  # easting, raw
    radius_m: float | None = None  # of a curve, positive to the right and negative to the left
    delta_deg: float | None = None  # central angle of a curve


@dataclass(frozen=True, slots=True, kw_only=True)
class Suspect:
    """One change to one call that would close the figure: told, never made."""

    number: int  # of the call
    change: str  # such as "read S 45° E for S 45° W"
    misclosure_m: float  # that would be left


@dataclass(frozen=True, slots=True, kw_only=True)
class DeedReport:
    """The calls of a deed, how they close, and the area before and after adjustment."""

    courses: tuple[Course, ...]
    perimeter_m: float
    misclosure_m: float | None  # None: not known, the last call gives no length
    misclosure_azimuth_deg: float | None  # from the end of the last call to the beginning; None: exact, or not known
    precision: float | None  # perimeter / misclosure, the N of 1:N; None: closes exactly, or not known
    closing_m: float  # from where the last call begins straight to the beginning: what its length should be
    closing_azimuth_deg: float  # and its azimuth; in the deed's own north
    is_adjusted: bool  # whether the outline is the adjusted one
    area_raw_m2: float  # the last call drawn straight to the beginning, nothing adjusted
    area_adjusted_m2: float  # by the compass rule
    suspects: tuple[Suspect, ...]  # the best first
    stated_area_m2: float | None  # what the deed itself says
    corners_lonlat: tuple[tuple[float, float], ...] = ()  # where each call begins, as laid down [deg]


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """One aliquot part of a section."""

    text: str  # such as "W1/2 NW1/4"
    nominal_m2: float  # its share of 640 acres; less than zero where it is left out
    measured_m2: float  # less than zero where it is left out


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionReport:
    """A part of a section, measured beside its nominal size."""

    text: str  # the description as it was given
    section: str  # "" when it is not named
    pieces: tuple[Piece, ...]
    nominal_m2: float  # all pieces together
    section_m2: float  # the whole section, measured
    corners_given: int  # 4 to 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """Where an outline comes from and how far it can be trusted."""

    kind: SourceKind
    weak_points: tuple[str, ...] = ()  # of this source, the worst first, for a person
    area_uncertainty_m2: float | None = None  # half of the range that holds the true area 95 times in 100
    uncertainty_from: str = ""  # how it was found; when it is None, why
    report: WalkReport | DeedReport | SectionReport | None = None
    is_placed: bool = True  # False: the place on Earth is made up, only shape and size are known
