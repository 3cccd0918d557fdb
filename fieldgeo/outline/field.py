"""`Field`: a measured outline in its own metric frame, the object every later step starts from."""

from __future__ import annotations

from dataclasses import dataclass

import shapely

from fieldgeo.errors import InputError
from fieldgeo.frame import Frame
from fieldgeo.outline.evidence import Evidence


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One mend made while reading an outline, and what it did to the area."""

    what: str  # what was done and where, for a person
    area_change_m2: float  # area after minus area before [m2]


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """A field: its outline with holes, in the local metric plane of its own frame.

    Parameters
    ----------
    name : str
        What the grower calls it.
    shape : shapely.MultiPolygon
        Outline in the frame, x east and y north. Outer rings run counter-clockwise, holes clockwise. [m]
    frame : Frame
        The plane of `shape`.
    source_crs : str
        Coordinate system the outline came in, such as ``"OGC:CRS84"``.
    changes : tuple of Change
        Everything that was mended while reading. Empty when the outline is as it came.
    problems : tuple of str
        Faults that were seen and left as they are.
    evidence : Evidence, optional
        Where the outline comes from and how far it can be trusted.

    Raises
    ------
    InputError
        If the shape is empty, invalid or of another kind.
    """

    name: str
    shape: shapely.MultiPolygon
    frame: Frame
    source_crs: str = "OGC:CRS84"
    changes: tuple[Change, ...] = ()
    problems: tuple[str, ...] = ()
    evidence: Evidence | None = None

    def __post_init__(self) -> None:
        if not isinstance(self.shape, shapely.MultiPolygon):
            raise InputError(f"field {self.name!r}: shape is a {type(self.shape).__name__}. It must be a MultiPolygon.")
        if self.shape.is_empty or not self.shape.is_valid:
            reason = "it is empty" if self.shape.is_empty else shapely.is_valid_reason(self.shape)
            raise InputError(f"field {self.name!r}: shape cannot be used: {reason}. Read it with read_outline.")

    @property
    def is_placed(self) -> bool:
        """Whether its place on Earth is known, and not its shape alone."""
        return self.evidence is None or self.evidence.is_placed

    @property
    def area_m2(self) -> float:
        """Area of the outline less its holes, equal to the area on the ellipsoid. [m2]"""
        return float(self.shape.area)

    @property
    def perimeter_m(self) -> float:
        """Length of all rings, holes included. [m]"""
        return float(self.shape.length)


def field_from_shape(
    shape: shapely.Polygon | shapely.MultiPolygon, *, name: str = "field", frame: Frame | None = None
) -> Field:
    """Return a field from a shape that is already in metres.

    Parameters
    ----------
    shape : shapely.Polygon or shapely.MultiPolygon
        Valid outline, x east and y north. [m]
    name : str
        What the grower calls it.
    frame : Frame, optional
        The plane of `shape`; a frame at 42 N, 93 W when it does not matter where the field lies.

    Raises
    ------
    InputError
        If the shape is empty, invalid or of another kind.
    """
    if isinstance(shape, shapely.Polygon):
        shape = shapely.MultiPolygon([shape])
    oriented = shapely.orient_polygons(shape) if isinstance(shape, shapely.MultiPolygon) else shape
    return Field(name=name, shape=oriented, frame=frame or Frame(lon_deg=-93.0, lat_deg=42.0))
