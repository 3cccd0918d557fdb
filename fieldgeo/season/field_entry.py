"""[[crop]] and [[field]] entries of a season file."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

from fieldgeo.analysis.asked import FARTHEST_ENTRANCE_M, entrance_xy
from fieldgeo.errors import FieldgeoError, InputError
from fieldgeo.machinery.draft import SOILS
from fieldgeo.machinery.entries import Entry, shown
from fieldgeo.outline.read import read_outlines
from fieldgeo.season.model import FARMSTEAD, Crop, SeasonField
from fieldgeo.season.values import check_known, name_list, place_value, price_value, yield_value

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from fieldgeo.machinery.draft import Soil
    from fieldgeo.outline.field import Field

CROP_KEYS: Final = ("name", "yield", "price")
FIELD_KEYS: Final = ("name", "outline", "crs", "crop", "soil", "gate", "direction")


def read_crops(entries: Sequence[Entry]) -> dict[str, Crop]:
    """Return the crops by name; what cannot be used is put down.

    Parameters
    ----------
    entries : sequence of Entry
        The [[crop]] entries.
    """
    crops: dict[str, Crop] = {}
    for entry in entries:
        name = entry.text("name")
        if name is None:
            continue
        if name in crops:
            entry.fault("name", f"{shown(name)} is given twice. Each crop must be given once.")
        crops[name] = Crop(
            name=name,
            yield_bu_m2=yield_value(entry, "yield", name) if "yield" in entry.values else None,
            price_bu=price_value(entry, "price", name) if "price" in entry.values else None,
        )
    return crops


def read_soil(entry: Entry) -> Soil | None:
    """Return the texture of the soil; an unknown one is put down.

    Parameters
    ----------
    entry : Entry
        An entry with the key.
    """
    text = entry.text("soil")
    for soil in SOILS:
        if soil == text:
            return soil
    if text is not None:
        entry.fault("soil", f"got {shown(text)}. It must be one of {', '.join(SOILS)} (clay, loam, sand).")
    return None


def read_season_fields(
    entries: Sequence[Entry], crops: Mapping[str, Crop], *, folder: Path, soil: Soil
) -> dict[str, SeasonField]:
    """Return the fields by name; what cannot be used is put down.

    Parameters
    ----------
    entries : sequence of Entry
        The [[field]] entries.
    crops : mapping
        Crops by name.
    folder : Path
        Folder that the paths of outlines start from.
    soil : str
        Texture of the soil where an entry gives none.
    """
    fields: dict[str, SeasonField] = {}
    for entry in entries:
        found = _outlines(entry, folder)
        shared = _shared(entry, crops, soil)
        if "name" in entry.values:
            name = entry.text("name")
            if len(found) > 1:
                entry.fault("name", f"given for {len(found)} fields. Leave it out where several outlines are named.")
            elif name is not None:
                found = [replace(field, name=name) for field in found]
        if len(found) > 1 and "gate" in entry.values:
            entry.fault("gate", f"given for {len(found)} fields. Give a [[field]] entry to each.")
        for field in found:
            if field.name in fields or field.name == FARMSTEAD:
                entry.fault("name", f"{shown(field.name)} is taken. Give each field a name of its own.")
            if not field.is_placed:
                entry.fault(
                    "outline",
                    f"the place of {field.name!r} on Earth is not known, so there is no way to it. Place it first "
                    "(fieldgeo outline with --corner and --out) and name what that writes.",
                )
            _check_gate(entry, field, shared["gate"])
            fields.setdefault(field.name, SeasonField(field=field, **shared))
    return fields


def _shared(entry: Entry, crops: Mapping[str, Crop], soil: Soil) -> dict[str, Any]:
    """Return what an entry says of all its fields."""
    crop = entry.text("crop")
    if crop is not None:
        check_known(entry, "crop", (crop,), crops, "a crop of this season")
    return {
        "crop": crop or "",
        "soil": (read_soil(entry) or soil) if "soil" in entry.values else soil,
        "gate": place_value(entry, "gate") if "gate" in entry.values else None,
        "direction_deg": _direction(entry) if "direction" in entry.values else None,
    }


def _outlines(entry: Entry, folder: Path) -> list[Field]:
    paths = name_list(entry, "outline")
    if paths == ():
        entry.fault("outline", "missing. Name the file of its outline, from the folder of the season file.")
    crs = entry.text("crs") if "crs" in entry.values else None
    found: list[Field] = []
    for path in paths or ():
        try:
            found += read_outlines(folder / path, crs=crs)
        except FieldgeoError as error:
            entry.fault("outline", str(error))
        except ValueError:  # a NUL byte in the path
            entry.fault("outline", f"got {shown(path)}. It must be the path of a file.")
    return found


def _direction(entry: Entry) -> float | None:
    value = entry.values["direction"]
    text = value.strip().removesuffix("deg").strip() if isinstance(value, str) else ""
    try:
        direction_deg = float(text)
    except ValueError:
        direction_deg = -1.0
    if 0 <= direction_deg <= 360:
        return direction_deg
    entry.fault(
        "direction", f'got {shown(value)}. It must be degrees clockwise from true north in quotes, such as "90deg".'
    )
    return None


def _check_gate(entry: Entry, field: Field, gate: tuple[float, float] | None) -> None:
    if gate is None or not field.is_placed:
        return
    try:
        entrance_xy(field, gate)
    except InputError:
        entry.fault(
            "gate",
            f"got {gate[0]:g},{gate[1]:g}, which is farther from field {field.name!r} than "
            f"{FARTHEST_ENTRANCE_M / 1000:g} km. Longitude comes first.",
        )
