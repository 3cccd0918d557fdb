"""Traction: what of a tractor's power reaches the drawbar, by drive and surface, and what rolling and climbing take."""

from __future__ import annotations

from dataclasses import dataclass
from math import atan, isfinite, sin, sqrt
from typing import TYPE_CHECKING, Final, Literal, TypeAlias

from fieldgeo.errors import InputError
from fieldgeo.machinery.draft import Soil, check_soil
from fieldgeo.machinery.tables import Source, source_of, table_rows
from fieldgeo.units import GRAVITY_M_S2

if TYPE_CHECKING:
    from collections.abc import Mapping

Surface: TypeAlias = Literal["concrete", "firm", "tilled", "soft"]
SURFACES: Final[tuple[Surface, ...]] = ("concrete", "firm", "tilled", "soft")

_DRIVES: Final[Mapping[str, str]] = {
    "two-wheel drive": "two-wheel drive",
    "front-wheel assist": "front-wheel assist (MFWD)",
    "four-wheel drive": "four-wheel drive",
    "tracks": "tracks",
}
_STEEPEST: Final = 0.5  # rise / run; own choice: nothing is farmed on more


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """What a tool and a tractor work on.

    Parameters
    ----------
    soil : {"fine", "medium", "coarse"}
        Texture: fine is clay and the like, medium loam, coarse sand.
    surface : {"concrete", "firm", "tilled", "soft"}
        What the wheels run on: firm is stubble and sod, tilled is worked ground, soft is sand or fresh plowing.
    slope : float
        Rise over run in the direction of travel, uphill, 0 <= slope <= 0.5. [-]

    Raises
    ------
    InputError
        If a word is not known or the slope is out of range.
    """

    soil: Soil = "medium"
    surface: Surface = "tilled"
    slope: float = 0.0

    def __post_init__(self) -> None:
        check_soil(self.soil)
        if self.surface not in SURFACES:
            raise InputError(f"surface: got {self.surface!r}. It must be one of {', '.join(SURFACES)}.")
        if not (isfinite(self.slope) and 0 <= self.slope <= _STEEPEST):
            raise InputError(
                f"slope: got {self.slope:g}. It must be from 0 to {_STEEPEST:g} (a rise of 4 in 100: 0.04)."
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Sourced:
    """A number with its source."""

    value: float
    source: Source


def drawbar_per_pto(drive: str, surface: Surface) -> Sourced:
    """Return drawbar power as a share of the power at the power take-off. [-]

    Parameters
    ----------
    drive : str
        One of `fieldgeo.machinery.tractor.TRACTOR_KINDS`.
    surface : {"concrete", "firm", "tilled", "soft"}
        What the wheels run on.

    Raises
    ------
    InputError
        If the drive or the surface is not known.

    Notes
    -----
    Where the table has two rows, the later one is taken: for tracks on firm soil the row read prints less than on
    tilled soil, which is likely a misprint, and the recalled figure stands in its place.
    """
    if drive not in _DRIVES:
        raise InputError(f"drive: got {drive!r}. It must be one of {', '.join(_DRIVES)}.")
    return _last("drawbar_power / pto_power", _DRIVES[drive], surface)


def pto_per_engine() -> Sourced:
    """Return the power at the power take-off as a share of the engine's net flywheel power. [-]"""
    return _last("pto_power / net_flywheel_power", "any", None)


def transmission_share() -> Sourced:
    """Return the power at the axles as a share of that at the power take-off, by a gear transmission. [-]"""
    return _last("transmission+final-drive mechanical efficiency Em", "gear transmission", None)


def slip_range(surface: Surface) -> tuple[float, float]:
    """Return the range of slip in which tires pull best. [-]

    Parameters
    ----------
    surface : {"concrete", "firm", "tilled", "soft"}
        What the wheels run on.
    """
    low, high = (
        _last(f"slip_pct_{end}_for_max_tractive_efficiency", "any tire", surface).value / 100 for end in ("low", "high")
    )
    return low, high


def usual_slip(surface: Surface) -> float:
    """Return the middle of the range of slip in which tires pull best. [-]

    Parameters
    ----------
    surface : {"concrete", "firm", "tilled", "soft"}
        What the wheels run on.
    """
    return sum(slip_range(surface)) / 2


def motion_resistance_ratio(surface: Surface) -> Sourced:
    """Return the force that rolling takes, as a share of the weight on the wheels. [-]

    Parameters
    ----------
    surface : {"concrete", "firm", "tilled", "soft"}
        What the wheels run on.

    Notes
    -----
    1 / Bn + 0.04 + 0.5 s / sqrt(Bn) with the wheel numeric Bn of the surface and the slip s: ASAE/ASABE D497, clause
    on tractive performance, recalled.
    """
    numeric = _last("wheel numeric Bn", "any tire", surface)
    ratio = 1 / numeric.value + 0.04 + 0.5 * usual_slip(surface) / sqrt(numeric.value)
    return Sourced(value=ratio, source=numeric.source)


def grade_force_n(mass_kg: float, slope: float) -> float:
    """Return the force that a mass pulls back with on a slope: weight x sine of the angle (derived). [N]

    About one per cent of the weight for each per cent of slope (EP496, recalled).

    Parameters
    ----------
    mass_kg : float
        Everything that is moved. [kg]
    slope : float
        Rise over run. [-]

    Examples
    --------
    >>> round(grade_force_n(10_000, 0.05))
    4897
    """
    return mass_kg * GRAVITY_M_S2 * sin(atan(slope))


def _last(quantity: str, drive: str, surface: Surface | None) -> Sourced:
    found = [
        row
        for row in table_rows("tractive.csv")
        if row["quantity"] == quantity
        and row["tractor_type"] == drive
        and (row["surface"].split()[0] == surface if surface else not row["surface"])
    ]
    if not found:
        raise InputError(f"surface: got {surface!r}. It must be one of {', '.join(SURFACES)}.")
    return Sourced(value=float(found[-1]["value"]), source=source_of(found[-1]))
