"""Which features of a layer are the field, and what to say when that is not clear.

A plain rule tells parcels from parts of one field, where nothing was chosen. Features are separate fields when there
are more than 25 of them, when they reach over more than 30 km, or when a column that names fields or parcels has more
than one value. A GeoJSON file, which people draw themselves, may name the parts of one field: there names do not count.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from fieldgeo.errors import CrsError, OutlineError
from fieldgeo.frame import crs_to_lonlat
from fieldgeo.outline.clean import LARGEST_EXTENT_KM
from fieldgeo.outline.files.boundary import boundary_facts, follows_specification
from fieldgeo.outline.files.geojson import plain_name
from fieldgeo.outline.files.layer import Given, Layer, all_points, ground_size, is_said, shown
from fieldgeo.outline.files.point import holding, nearest
from fieldgeo.outline.raw import RawFile, RawOutline
from fieldgeo.outline.system import FileSystem, system_of
from fieldgeo.units import to_acres

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fieldgeo.outline.files.layer import Feature
    from fieldgeo.outline.rules import FileRules

MOST_PARTS: Final = 25  # features that may be parts of one field; common practice, no source
_IDENTITIES: Final = frozenset(
    {
        "name", "field", "fieldname", "fieldid", "id", "pin", "parcel", "parcelid", "parcelno", "parcelnumber",
        "parcelnum", "apn", "parno", "taxid", "pinno",
    }
)  # fmt: skip
_LISTED: Final = 10
_LISTED_COLUMNS: Final = 4
_KM_PER_DEG: Final = 111.2


def chosen(layer: Layer, given: Given, rules: FileRules, crs: str | None) -> RawFile:
    """Return what was asked for of a layer, with what is to be said when no choice was made.

    Parameters
    ----------
    layer : Layer
        The features that meet the condition, if there is one.
    given : Given
        The file.
    rules : FileRules
        Condition and point.
    crs : str, optional
        Coordinate system asked for.

    Returns
    -------
    RawFile
        With `separate` filled where the features cannot be taken for one field.

    Raises
    ------
    OutlineError
        If no feature meets the condition or holds the point.
    CrsError
        If a point is given and the coordinate system is missing or unknown.
    """
    features, near = list(layer.features), layer.near
    if rules.at_lonlat is not None and layer.form in ("geojson", "wkt") and features:
        plane = _system(layer, given, crs).system
        held = [feature for feature in features if holding(feature, rules.at_lonlat, plane)]
        near = "" if held else nearest(features, rules.at_lonlat, plane)
        features = held
    if not features and not layer.faults:
        raise _nothing(layer, given, rules, near)
    system: FileSystem | None
    try:
        system = _system(layer, given, crs)
    except CrsError:  # told when the outlines are read
        system = None
    return RawFile(
        outlines=tuple(_with_facts(feature, layer, system) for feature in features),
        crs=layer.crs,
        faults=layer.faults,
        form=layer.form,
        needs_crs=layer.needs_crs,
        notes=layer.notes,
        separate=() if rules.where or rules.at_lonlat else tuple(_separate(layer, features, system)),
    )


def _system(layer: Layer, given: Given, crs: str | None) -> FileSystem:
    is_needed = layer.needs_crs and crs is None
    return system_of(crs or layer.crs, all_points(layer.features), is_needed=is_needed, name=given.name)


def _nothing(layer: Layer, given: Given, rules: FileRules, near: str) -> OutlineError:
    columns = f"columns: {', '.join(map(plain_name, layer.columns)) or 'none'}"
    if near and rules.at_lonlat is not None:
        lon, lat = rules.at_lonlat
        return OutlineError(f"{given.name}: no feature holds the point {lon:g}, {lat:g}. Give a point inside.", [near])
    if rules.where is not None:
        return OutlineError(f"{given.name}: no feature meets the condition {rules.where!r}. Give another.", [columns])
    return OutlineError(f"{given.name} cannot be used: there is no feature in it.")


def _with_facts(feature: Feature, layer: Layer, system: FileSystem | None) -> RawOutline:
    if system is None or not follows_specification(layer.columns, layer.facts):
        return feature.outline
    area_m2, perimeter_m = ground_size(feature.outline, system.system)
    about, problems = boundary_facts(feature.attributes, layer.facts, area_m2=area_m2, perimeter_m=perimeter_m)
    return replace(feature.outline, about=about, problems=(*feature.outline.problems, *problems))


def _separate(layer: Layer, features: Sequence[Feature], system: FileSystem | None) -> list[str]:
    """Return why the features are no parts of one field, and what to choose from; nothing where they may be."""
    with_ground = [feature for feature in features if feature.outline.parts]
    if len(with_ground) < 2 or not (reason := _reason(layer, with_ground, system)):
        return []
    lines = [reason]
    if len(layer.layers) > 1:
        lines.append(f"layers: {', '.join(map(plain_name, layer.layers))}")
    lines.append(f"columns: {', '.join(map(plain_name, layer.columns)) or 'none'}")
    lines.extend(_line(feature, system) for feature in with_ground[:_LISTED])
    if len(with_ground) > _LISTED:
        lines.append(f"and {len(with_ground) - _LISTED:,} more")
    lines.append(f"choose with {_example(with_ground[0])}--at LON,LAT; --where '1 = 1' takes all for one field")
    return lines


def _reason(layer: Layer, features: Sequence[Feature], system: FileSystem | None) -> str:
    if len(features) > MOST_PARTS:
        return f"it has {len(features):,} features; {MOST_PARTS} are the most that are taken for parts of one field"
    if system is not None and (extent_km := _extent_km(features, system)) > LARGEST_EXTENT_KM:
        return f"its features are {extent_km:.0f} km across; one field may be {LARGEST_EXTENT_KM:g} km at most"
    if layer.form == "geojson":
        return ""
    for column in layer.columns:
        values = {str(value) for feature in features if is_said(value := feature.attributes.get(column))}
        if _is_identity(column) and len(values) > 1:
            return f"its features differ in {plain_name(column)!r}: they are fields or parcels of their own"
    return ""


def _is_identity(column: str) -> bool:
    return column.lower().replace("_", "").replace(" ", "") in _IDENTITIES


def _extent_km(features: Sequence[Feature], system: FileSystem) -> float:
    points = all_points(features)
    if system.system is not None:
        points = np.column_stack(crs_to_lonlat(points[:, 0], points[:, 1], system.system))
    if not np.isfinite(points).all():
        return 0.0
    width_deg = np.ptp(points[:, 0]) * np.cos(np.radians(np.abs(points[:, 1]).min()))
    return 0.0 if width_deg > 180 else float(np.hypot(width_deg, np.ptp(points[:, 1])) * _KM_PER_DEG)


def _ordered(feature: Feature) -> list[tuple[str, Any]]:
    """Return the attributes that have a value, those that name a field or parcel first."""
    said = [(key, value) for key, value in feature.attributes.items() if is_said(value)]
    return sorted(said, key=lambda pair: not _is_identity(pair[0]))


def _line(feature: Feature, system: FileSystem | None) -> str:
    about = ", ".join(f"{plain_name(key)} = {shown(value)}" for key, value in _ordered(feature)[:_LISTED_COLUMNS])
    size = "size unknown without --crs"
    if system is not None:
        size = f"{to_acres(ground_size(feature.outline, system.system)[0]):.2f} ac"
    return f"feature {feature.number}: {size}{'; ' + about if about else ''}"


def _example(feature: Feature) -> str:
    for key, value in _ordered(feature):
        if isinstance(value, str | int):
            column = key if key.isidentifier() else f'"{key}"'
            text = str(value) if isinstance(value, int) else "'" + value.replace("'", "''") + "'"
            return f'--where "{plain_name(column)} = {plain_name(text)}", ' if len(text) < 60 else ""
    return ""
