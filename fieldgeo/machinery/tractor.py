"""`Tractor`: kind and power, and the [[tractor]] entry of the shed file that it comes from."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite
from typing import TYPE_CHECKING, Any, Final, Literal, TypeAlias, cast

from fieldgeo.errors import InputError
from fieldgeo.machinery.entries import Measure
from fieldgeo.machinery.traction import pto_per_engine
from fieldgeo.units import parse_mass_kg, parse_power_w

if TYPE_CHECKING:
    from collections.abc import Mapping

    from fieldgeo.machinery.entries import Entry

TRACTOR_KINDS: Final = ("two-wheel drive", "front-wheel assist", "four-wheel drive", "tracks")
Fuel: TypeAlias = Literal["diesel", "gasoline"]
FUELS: Final[tuple[Fuel, ...]] = ("diesel", "gasoline")
TRACTOR_KEYS: Final = ("name", "kind", "power", "engine_power", "mass", "fuel")

# Mass with ballast for each kilowatt at the power take-off, where the shed gives none: 130, 120 and 110 lb for each
# horsepower; common practice, no source. [kg/W]
USUAL_MASS_KG_W: Final[Mapping[str, float]] = {
    "two-wheel drive": 0.0791, "front-wheel assist": 0.0730, "four-wheel drive": 0.0669, "tracks": 0.0669,
}  # fmt: skip

_POWER: Final = Measure(attribute="power_w", parse=parse_power_w, least="1hp", most="2000hp")
_MASS: Final = Measure(attribute="mass_kg", parse=parse_mass_kg, least="500lb", most="200000lb")


@dataclass(frozen=True, slots=True, kw_only=True)
class Tractor:
    """A tractor, by kind and power.

    Raises
    ------
    InputError
        If power or mass is not a finite number above zero, the kind is not one of `TRACTOR_KINDS` or empty, or the fuel
        is not known.
    """

    name: str
    power_w: float  # at the power take-off [W]
    kind: str = ""  # one of TRACTOR_KINDS, or ""
    mass_kg: float | None = None  # with ballast [kg]
    fuel: Fuel = "diesel"

    def __post_init__(self) -> None:
        if not (isfinite(self.power_w) and self.power_w > 0):
            raise InputError(f"tractor {self.name!r}: power_w is {self.power_w:g}. It must be a number above zero.")
        if self.mass_kg is not None and not (isfinite(self.mass_kg) and self.mass_kg > 0):
            raise InputError(f"tractor {self.name!r}: mass_kg is {self.mass_kg:g}. It must be a number above zero.")
        if self.kind not in ("", *TRACTOR_KINDS):
            kinds = ", ".join(TRACTOR_KINDS)
            raise InputError(f"tractor {self.name!r}: kind is {self.kind!r}. It must be one of {kinds}, or empty.")
        if self.fuel not in FUELS:
            raise InputError(f"tractor {self.name!r}: fuel is {self.fuel!r}. It must be one of {', '.join(FUELS)}.")

    @property
    def drive(self) -> str:
        """Kind, or two-wheel drive where it is not given: of all kinds it brings the least to the drawbar."""
        return self.kind or TRACTOR_KINDS[0]

    @property
    def moved_kg(self) -> float:
        """Mass, or what is usual of its kind and power. [kg]"""
        return self.power_w * USUAL_MASS_KG_W[self.drive] if self.mass_kg is None else self.mass_kg


def read_tractor(entry: Entry) -> Tractor | None:
    """Return the tractor of an entry; None where there is a fault, which is put down.

    Parameters
    ----------
    entry : Entry
        A [[tractor]] entry.
    """
    faults_before = len(entry.faults)
    given: dict[str, Any] = {"name": entry.text("name")}
    for key, choices in (("kind", TRACTOR_KINDS), ("fuel", FUELS)):
        if key in entry.values:
            given[key] = cast("Any", entry.choice(key, choices))
    if "mass" in entry.values:
        given["mass_kg"] = entry.measure("mass", _MASS)
    if "power" in entry.values and "engine_power" in entry.values:
        entry.fault("engine_power", "given beside power. Give one of the two: at the power take-off, or of the engine.")
    elif "power" in entry.values:
        given["power_w"] = entry.measure("power", _POWER)
    elif "engine_power" in entry.values:
        engine_w = entry.measure("engine_power", _POWER)
        given["power_w"] = None if engine_w is None else engine_w * pto_per_engine().value
    else:
        entry.fault("power", 'missing. Give the power at the power take-off, such as "161hp", or engine_power.')
    return None if len(entry.faults) > faults_before else Tractor(**given)
