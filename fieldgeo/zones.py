"""State plane zones by name: "Illinois East", "Kentucky Single Zone ftUS", "NAD83(2011) / Iowa North".

Codes and units come from the EPSG dataset that pyproj carries, never from a table of ours. In what is written, three
things are told apart:

- the zone, as the dataset names it; the words "zone", "state plane" and the like, and case, do not count;
- the datum, where one is named: NAD27, NAD83(HARN), NAD83(NSRS2007), NAD83(2011). Without one it is NAD83, whose places
  differ from those of its later forms by a metre or two and whose sizes do not;
- the unit, where one is named: metres, or feet. Which foot that is the zone itself says: its state has made one of the
  two lawful. Where the dataset has a zone in both feet, "ft" is the international and "ftUS" the survey foot.

Without a unit a zone in metres and the same in feet are both meant by the name: only the numbers can say which.
"""

from __future__ import annotations

import re
from functools import cache
from math import radians
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    import pyproj

_LONGEST_NAME: Final = 80
_NO_NAME: Final = re.compile(r"[:\[\]{}+=\n]")  # of a code, a definition or a path
_DATUM: Final = re.compile(r"nad[ _]?(?:19)?83[ _]?\(?(2011|harn|nsrs2007)\)?|nad[ _]?(?:19)?(27|83)|\((2011|harn)\)")
_UNIT: Final = re.compile(
    r"\(?\b(?:(ftus|us[ -]?ft|usft|us survey (?:foot|feet)|survey (?:foot|feet)|us (?:foot|feet))"
    r"|(international (?:ft|foot|feet)|intl? ?ft)|(ft|foot|feet)|(m|metre|metres|meter|meters))\)?$"
)
_IDLE_WORDS: Final = re.compile(r"\b(state ?plane|spcs|coordinate|system|zone)\b|/")
_LAND: Final = "United States (USA)"
_UNITS: Final = ("metres", "international feet", "US survey feet")
_FACTORS: Final = (1.0, 0.3048, 1200 / 3937)  # [m] NIST, revised conversion factors for the foot, 2020


def zone_systems(text: str) -> tuple[pyproj.CRS, ...]:
    """Return the state plane systems that a name can mean.

    Parameters
    ----------
    text : str
        Name of a zone, with or without datum and unit.

    Returns
    -------
    tuple of pyproj.CRS
        None when it is no name of a zone; several when it leaves the unit open, those in metres first.

    Examples
    --------
    >>> [system.to_string() for system in zone_systems("Illinois East")]
    ['EPSG:26971', 'EPSG:3435']
    >>> [system.to_string() for system in zone_systems("Michigan South ft")]
    ['EPSG:2253']
    """
    if len(text) > _LONGEST_NAME or _NO_NAME.search(text):
        return ()
    name, datum, unit = _taken_apart(text)
    codes = _known_zones().get((name, datum), ())
    if not codes:
        return ()
    import pyproj

    systems = sorted((pyproj.CRS.from_epsg(code) for code in codes), key=lambda system: _UNITS.index(unit_of(system)))
    if unit == "foot":
        international = [system for system in systems if unit_of(system) == "international feet"]
        return tuple(international or [system for system in systems if unit_of(system) == "US survey feet"])
    return tuple(system for system in systems if unit in ("", unit_of(system)))


def described(system: pyproj.CRS) -> str:
    """Return code, name and unit of a system, for messages.

    Parameters
    ----------
    system : pyproj.CRS
        The system.

    Examples
    --------
    >>> import pyproj
    >>> described(pyproj.CRS.from_epsg(2253))
    'EPSG:2253 (NAD83 / Michigan South (ft), in international feet)'
    """
    return f"{system.to_string()} ({system.name}, in {unit_of(system)})"


def unit_of(system: pyproj.CRS) -> str:
    """Return the unit of a system's coordinates, by its factor and not by its name.

    Parameters
    ----------
    system : pyproj.CRS
        A geographic or projected system.
    """
    axis = system.axis_info[0] if system.axis_info else None
    if axis is None:
        return "an unknown unit"
    if system.is_geographic:
        return "degrees" if abs(axis.unit_conversion_factor / radians(1) - 1) < 1e-8 else f"{axis.unit_name}"
    for name, factor in zip(_UNITS, _FACTORS, strict=True):
        # The two feet differ by 2e-6 of themselves.
        if abs(axis.unit_conversion_factor / factor - 1) < 1e-8:
            return name
    return f"units of {axis.unit_conversion_factor:g} m"


def _taken_apart(text: str) -> tuple[str, str, str]:
    """Return zone, datum and unit: "" when it is not said, "foot" when it is not said which."""
    rest = " ".join(text.lower().replace("_", " ").split())
    unit = ""
    if match := _UNIT.search(rest):
        unit = "US survey feet" if match[1] else "international feet" if match[2] else "foot" if match[3] else "metres"
        rest = rest[: match.start()]
    datum = "NAD83"
    if match := _DATUM.search(rest):
        realisation = match[1] or match[3]
        datum = f"NAD83({realisation.upper()})" if realisation else f"NAD{match[2]}"
        rest = rest.replace(match[0], " ")
    return " ".join(_IDLE_WORDS.sub(" ", rest).replace(",", " ").split()), datum, unit


@cache
def _known_zones() -> dict[tuple[str, str], tuple[int, ...]]:
    """Return the codes of every zone of the dataset, by name and datum; takes a fifth of a second."""
    from pyproj.database import query_crs_info
    from pyproj.enums import PJType

    zones: dict[tuple[str, str], tuple[int, ...]] = {}
    for info in query_crs_info(auth_name="EPSG", pj_types=PJType.PROJECTED_CRS):
        datum, slash, name = info.name.partition(" / ")
        area = info.area_of_use.name if info.area_of_use else ""
        if slash and datum.startswith("NAD") and str(area).startswith(_LAND) and not name.startswith("UTM"):
            key = (_taken_apart(name)[0], datum)
            zones[key] = (*zones.get(key, ()), int(info.code))
    return zones
