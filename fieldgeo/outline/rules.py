"""How a source is to be read: one set of rules for each kind. All have defaults that suit most sources."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias


@dataclass(frozen=True, slots=True, kw_only=True)
class FileRules:
    """Which polygons of a file are the field.

    Parameters
    ----------
    layer : str, optional
        Layer of the file, where it has several.
    where : str, optional
        Condition on the attributes, in the `WHERE` grammar of the OGR SQL dialect, such as ``"PIN = '12-34'"``.
    at_lonlat : tuple of float, optional
        A point inside the field: longitude and latitude, WGS 84. [deg]
    accuracy_m : float, optional
        Standard error of a corner along each axis, where it is known. [m]
    """

    layer: str | None = None
    where: str | None = None
    at_lonlat: tuple[float, float] | None = None
    accuracy_m: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class WalkRules:
    """How a walked or driven track is cleaned. Every threshold is common practice, no source.

    Parameters
    ----------
    accuracy_m : float, optional
        Standard error of a position along each axis; without it, one that fits the receiver's quality. [m]
    least_quality : str
        Poorest fix that is kept, by the names of `walk.quality`: "gps", "differential", "float" or "fixed".
    most_hdop : float
        Largest horizontal dilution of precision that is kept. [-]
    most_speed_m_s : float
        A point that needs more speed both to reach and to leave is a spike. [m/s]
    step_m : float
        Points nearer than this to the last kept one are dropped. [m]
    offset_m : float
        From the track out to the edge of the field; negative: inward. [m]
    thin_m : float
        Tolerance of thinning; 0 keeps every point. [m]
    """

    accuracy_m: float | None = None
    least_quality: str = "gps"
    most_hdop: float = 4.0
    most_speed_m_s: float = 15.0
    step_m: float = 0.5
    offset_m: float = 0.0
    thin_m: float = 0.2


@dataclass(frozen=True, slots=True, kw_only=True)
class DeedRules:
    """How the calls of a deed are read and laid down. What stands in the deed file itself gives way to these.

    Parameters
    ----------
    corners : tuple of (int, float, float)
        Known corners: number (1 is the beginning, 2 the end of the first call), longitude and latitude. [deg]
    rotation_deg : float, optional
        Clockwise, from the deed's north to true north: what its bearings must be turned by. [deg]
    unit : str, optional
        Unit of distances that have none, such as ``"poles"``.
    vara_m : float, optional
        Length of the vara; it differs from land to land. [m]
    is_adjusted : bool
        Whether the outline is adjusted by the compass rule; else closed by a straight line.
    is_any_closure : bool
        Whether to go on where the calls close worse than 1:1,000, or a blunder is suspected.
    """

    corners: tuple[tuple[int, float, float], ...] = ()
    rotation_deg: float | None = None
    unit: str | None = None
    vara_m: float | None = None
    is_adjusted: bool = True
    is_any_closure: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionRules:
    """Which part of a section is the field.

    Parameters
    ----------
    part : str, optional
        Description, such as ``"W1/2 NW1/4"``; goes before the one in the file.
    accuracy_m : float, optional
        Standard error of a section corner along each axis, where it is known. [m]
    """

    part: str | None = None
    accuracy_m: float | None = None


Rules: TypeAlias = FileRules | WalkRules | DeedRules | SectionRules
