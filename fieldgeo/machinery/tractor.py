"""`Tractor`: kind and power, and the [[tractor]] entry of the shed file that it comes from."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite
from typing import TYPE_CHECKING, Final

from fieldgeo.errors import InputError
from fieldgeo.machinery.entries import Measure
from fieldgeo.units import parse_power_w

if TYPE_CHECKING:
    from fieldgeo.machinery.entries import Entry

TRACTOR_KINDS: Final = ("two-wheel drive", "front-wheel assist", "four-wheel drive", "tracks")
TRACTOR_KEYS: Final = ("name", "kind", "power")

_POWER: Final = Measure(attribute="power_w", parse=parse_power_w, least="1hp", most="2000hp")


@dataclass(frozen=True, slots=True, kw_only=True)
class Tractor:
    """A tractor, by kind and power.

    Raises
    ------
    InputError
        If the power is not a finite number above zero, or the kind is not one of `TRACTOR_KINDS` or empty.
    """

    name: str
    power_w: float  # at the power take-off [W]
    kind: str = ""  # one of TRACTOR_KINDS, or ""

    def __post_init__(self) -> None:
        if not (isfinite(self.power_w) and self.power_w > 0):
            raise InputError(f"tractor {self.name!r}: power_w is {self.power_w:g}. It must be a number above zero.")
        if self.kind not in ("", *TRACTOR_KINDS):
            kinds = ", ".join(TRACTOR_KINDS)
            raise InputError(f"tractor {self.name!r}: kind is {self.kind!r}. It must be one of {kinds}, or empty.")


def read_tractor(entry: Entry) -> Tractor | None:
    """Return the tractor of an entry; None where there is a fault, which is put down.

    Parameters
    ----------
    entry : Entry
        A [[tractor]] entry.
    """
    faults_before = len(entry.faults)
    name = entry.text("name")
    kind = entry.choice("kind", TRACTOR_KINDS) if "kind" in entry.values else ""
    if "power" in entry.values:
        power_w = entry.measure("power", _POWER)
    else:
        power_w = None
        entry.fault("power", 'missing. Give the power at the power take-off, such as "161hp".')
    if name is None or power_w is None or kind is None or len(entry.faults) > faults_before:
        return None
    return Tractor(name=name, power_w=power_w, kind=kind)
