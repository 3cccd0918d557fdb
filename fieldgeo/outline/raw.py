"""What readers of outlines hand on: rings of numbers as they came, with what was seen while taking them out."""

from __future__ import annotations

from dataclasses import dataclass

from fieldgeo.frame import FloatArray
from fieldgeo.outline.evidence import Evidence
from fieldgeo.outline.field import Change
from fieldgeo.outline.files.kinds import FileKind


@dataclass(frozen=True, slots=True, kw_only=True)
class RawPart:
    """One polygon as it came: numbers, nothing checked but that they are finite numbers."""

    where: str  # which one, for messages, such as "part 2 " or ""
    rings: tuple[FloatArray, ...]  # outer ring, then holes, each of shape (N, 2): east and north in the source system


@dataclass(frozen=True, slots=True, kw_only=True)
class RawOutline:
    """The polygons of one feature, or of a whole file, with what was seen while taking them out."""

    name: str  # "" when the file gives none
    parts: tuple[RawPart, ...]
    left_out: tuple[str, ...] = ()  # what is no polygon
    changes: tuple[Change, ...] = ()
    problems: tuple[str, ...] = ()  # what was seen and left
    faults: tuple[str, ...] = ()
    about: tuple[str, ...] = ()  # what the file says of how it was found, such as "boundary: manual, 2023-05-01"


@dataclass(frozen=True, slots=True, kw_only=True)
class RawFile:
    """A file of polygons taken apart."""

    outlines: tuple[RawOutline, ...]  # one for each feature that was chosen
    crs: str | None  # what the file says of its system, such as "EPSG:26915", or as WKT; None: longitude and latitude
    faults: tuple[str, ...] = ()
    form: FileKind = "geojson"
    needs_crs: bool = False  # the file does not say its system, and its format has none of its own
    notes: tuple[str, ...] = ()  # what was seen, or chosen, in the file as a whole
    separate: tuple[str, ...] = ()  # why its features are no parts of one field, what is in it, and how to choose


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """What a walk, a deed or a section description makes of an outline, before it is cleaned."""

    name: str
    parts: tuple[RawPart, ...]  # longitude and latitude, WGS 84 [deg]
    source_crs: str
    evidence: Evidence
    changes: tuple[Change, ...] = ()  # what was done on the way, with the change of area
    problems: tuple[str, ...] = ()  # what was seen and left
