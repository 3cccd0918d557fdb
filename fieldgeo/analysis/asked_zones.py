"""A rate or yield by place as a person asks for it: a file, the unit of its values, and a number for the rest.

The file is read later, on a field: polygons by `fieldgeo.analysis.zone_polygons`, rasters by `fieldgeo.terrain`.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np

from fieldgeo.errors import InputError
from fieldgeo.machinery.amounts import parse_rate, rate_unit
from fieldgeo.machinery.supply import supply_of
from fieldgeo.outline.files.geojson import plain_name
from fieldgeo.units import ACRE_M2, HECTARE_M2, to_acres

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from fieldgeo.layout.axes import Floats
    from fieldgeo.machinery.amounts import Kind
    from fieldgeo.machinery.supply import Job, RateMap
    from fieldgeo.outline.field import Field

# The most that is taken for a rate or a yield; own choice, well above any crop, seed, lime or manure.
MOST_RATE_M2: Final[Mapping[Kind, float]] = {
    "bu": 1000 / ACRE_M2, "m3": 1000 / HECTARE_M2, "kg": 200_000 / HECTARE_M2, "seeds": 5000.0, "bags": 100 / ACRE_M2,
}  # fmt: skip
# Ground without a value that is not worth a word: edges drawn in two systems do not meet to the millimetre. Own choice.
_EDGE_SHARE: Final = 1e-4
_COLUMN_UNIT: Final = re.compile(r"(?:^|.*?[_ ])([A-Za-z0-9]+)[_ ](?:per[_ ])?([A-Za-z]+2?)")


class AskedZones(NamedTuple):
    """A rate or yield by place, as asked for; nothing that needs the file yet."""

    path: str
    job: Job
    kind: Kind  # of the supply
    unit: str  # of the file's values, such as "bu/ac"
    unit_m2: float  # what a value of 1 is [kind/m2]
    rest: str | None = None  # what ground without a value takes or gives, as typed
    rest_m2: float | None = None  # the same [kind/m2]
    column: str | None = None  # of polygons
    crs: str | None = None
    notes: tuple[str, ...] = ()

    @property
    def word(self) -> str:
        """What the values are: yield, or rate."""
        return "yield" if self.job == "unload" else "rate"

    @property
    def name(self) -> str:
        """What the file is called in messages."""
        return f"{self.word} by place {plain_name(Path(self.path).name)!r}"


class PlacedRates(NamedTuple):
    """A rate or yield by place, read for one field."""

    rates: RateMap
    notes: tuple[str, ...]  # what was read, and what was taken where there is no value


def column_unit(column: str) -> str | None:
    """Return the unit of a rate that the end of a column's name says; None where it says none.

    Parameters
    ----------
    column : str
        Name of the column.

    Examples
    --------
    >>> column_unit("yield_bu_ac"), column_unit("N_kg_per_ha"), column_unit("yield")
    ('bu/ac', 'kg/ha', None)
    """
    match = _COLUMN_UNIT.fullmatch(column.strip())
    return None if match is None else rate_unit(f"{match[1]}/{match[2]}")


def asked_zones(given: Mapping[str, Any], values: Mapping[str, Any], job: Job) -> AskedZones | None:
    """Return the rate or yield by place that options ask for; None where they ask for none.

    Parameters
    ----------
    given : mapping
        `rate_zones` or `yield_zones`, and `zone_column`, `zone_unit`, `zone_crs` as texts; all may be left out.
    values : mapping
        What the tool carries, as `fieldgeo.machinery.supply.supply_of` takes it; the rate or yield may be left out.
    job : {"fill", "unload"}
        What the zones are for.

    Raises
    ------
    InputError
        If options do not go together, or the unit of the values is not known or does not go with the tank.
    """
    word = "yield" if job == "unload" else "rate"
    path = given.get(f"{word}_zones")
    if path is None:
        for key in ("zone_column", "zone_unit", "zone_crs"):
            if key in given:
                name = key.replace("_", " ")
                raise InputError(f"{name}: goes with rate zones or yield zones. Give the file of the zones too.")
        return None
    column, rest = given.get("zone_column"), values.get(word)
    said, named = given.get("zone_unit"), None if column is None else column_unit(column)
    unit = said or named or (None if rest is None else rate_unit(rest))
    if unit is None:
        raise InputError(
            f"zone unit: missing. Say in what the values of {plain_name(path)!r} are, such as bu/ac or kg/ha; or give "
            "a zone column whose name ends in it, such as yield_bu_ac."
        )
    known = rate_unit(unit)
    if known is None:
        raise InputError(
            f"zone unit: got {plain_name(unit)!r}. It must be a unit of amount by a unit of area, such as bu/ac or "
            "kg/ha."
        )
    notes = []
    if said and named and parse_rate(f"1{known}") != parse_rate(f"1{named}"):
        notes.append(f"the column's name ends in {named}; its values are taken as {known}, as you say")
    if not said and not named:
        notes.append(f"values of {plain_name(Path(path).name)} are taken as {known}, the unit of the {word} you give")
    one = supply_of({**values, word: f"1{known}"})
    rest_m2 = None if rest is None else supply_of(values).rate_m2
    assert isinstance(one.rate_m2, float)  # it is read from one number
    assert rest_m2 is None or isinstance(rest_m2, float)
    return AskedZones(
        path=path, job=job, kind=one.kind, unit=known, unit_m2=one.rate_m2, rest=rest, rest_m2=rest_m2, column=column,
        crs=given.get("zone_crs"), notes=tuple(notes),
    )  # fmt: skip


def most_value(asked: AskedZones) -> float:
    """Return the most that a value of the file may be. [unit of the file]

    Parameters
    ----------
    asked : AskedZones
        What was asked for.
    """
    return MOST_RATE_M2[asked.kind] / asked.unit_m2


def settled_rest(asked: AskedZones, field: Field, values: Floats, area_m2: Floats) -> tuple[float, tuple[str, ...]]:
    """Return what ground without a value takes or gives, and what is to be told of a rate by place. [kind/m2]

    Parameters
    ----------
    asked : AskedZones
        What was asked for.
    field : Field
        The field.
    values : ndarray of shape (Z,)
        Values of zones or cells. [unit of the file]
    area_m2 : ndarray of shape (Z,)
        Ground of the field in each. [m2]

    Raises
    ------
    InputError
        If there is no value on the field, or ground without one and no number is given for it.
    """
    covered_m2 = float(area_m2.sum())
    if covered_m2 <= 0:
        raise InputError(
            f"{asked.name}: no value lies on field {plain_name(field.name)!r}. Give a file of that field that has "
            f"values there, or a plain {asked.word} alone."
        )
    mean = float(values @ area_m2) / covered_m2
    left_m2 = field.area_m2 - covered_m2
    has_gap = left_m2 > _EDGE_SHARE * field.area_m2
    if has_gap and asked.rest is None:
        raise InputError(
            f"{asked.name}: {to_acres(left_m2):,.2f} of {to_acres(field.area_m2):,.2f} ac of field "
            f"{plain_name(field.name)!r} have no value there. Give a plain {asked.word} too, such as "
            f"{mean:.3g}{asked.unit}: that ground takes it."
        )
    notes = tuple(_told(asked, values[area_m2 > 0], mean, left_m2 if has_gap else 0.0))
    return mean * asked.unit_m2 if asked.rest_m2 is None else asked.rest_m2, (*asked.notes, *notes)


def _told(asked: AskedZones, values: Floats, mean: float, left_m2: float) -> Iterator[str]:
    low, high = float(np.min(values)), float(np.max(values))
    yield f"{asked.name}: {low:,.4g} to {high:,.4g} {asked.unit}, {mean:,.4g} on average of the field"
    if left_m2 > 0:
        yield f"{to_acres(left_m2):,.2f} ac of the field have no value there and take {asked.rest}"
    if asked.job == "fill":
        outside = asked.rest or f"the average, {mean:,.4g} {asked.unit}"
        yield f"what is swept beyond the outline where there is no value takes {outside}"
