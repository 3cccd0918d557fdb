"""A rate or yield by place from a file of polygons that carry a value each."""

from __future__ import annotations

from math import isfinite, nan
from typing import TYPE_CHECKING, Final, cast

import numpy as np
import shapely

from fieldgeo.analysis.asked_zones import AskedZones, PlacedRates, most_value, settled_rest
from fieldgeo.errors import InputError, OutlineError
from fieldgeo.frame import bend_long_edges, crs_to_lonlat
from fieldgeo.layout.overlay import intersection, intersections, polygons_of, union
from fieldgeo.outline.files.geojson import plain_name
from fieldgeo.outline.files.layer import Feature, all_points, is_said, shape_of, shown
from fieldgeo.outline.files.read import read_features
from fieldgeo.outline.sniff import sniff
from fieldgeo.outline.system import system_of
from fieldgeo.travel.zones import Zones

if TYPE_CHECKING:
    from collections.abc import Sequence

    import pyproj
    from numpy.typing import NDArray

    from fieldgeo.layout.axes import Floats
    from fieldgeo.outline.field import Field
    from fieldgeo.outline.files.kinds import FileKind
    from fieldgeo.outline.files.layer import Layer

_RIM_M: Final = 50.0  # beyond the field, where swaths may reach; own choice
_MOST_LISTED: Final = 10


def polygon_rates(asked: AskedZones, field: Field) -> PlacedRates:
    """Return a rate or yield by place from polygons, for one field.

    Zones of the same value are taken as one. Polygons that cannot be measured as they are, such as a ring that crosses
    itself, are mended and told.

    Parameters
    ----------
    asked : AskedZones
        File and column, and what is taken where there is no value.
    field : Field
        The field.

    Raises
    ------
    FileError
        If the file cannot be read.
    OutlineError
        If it is no file of polygons, is damaged, or values of the column are no numbers, below zero or too high; all of
        them are listed.
    CrsError
        If its coordinate system is missing, unknown or unfit.
    InputError
        If there is no such column, zones overlap, or ground has no value and no number is given for it.
    """
    layer = _layer(asked)
    column = _column(asked, layer)
    near, notes = _near(asked, field, layer)
    said = [(feature, shape) for feature, shape in near if is_said(feature.attributes.get(column))]
    of_feature = _values(asked, column, [feature for feature, _ in said])
    values, which = np.unique(of_feature, return_inverse=True)
    shapes = np.array(
        [_joined([said[row][1] for row in np.flatnonzero(which == zone)]) for zone in range(len(values))], dtype=object
    )
    on_field_m2 = shapely.area(shapes)
    is_cut = ~shapely.covers(field.shape, shapes)
    on_field_m2[is_cut] = shapely.area(intersections(shapes[is_cut], field.shape))
    rest_m2, told = settled_rest(asked, field, values, on_field_m2)
    return PlacedRates(Zones(shapes=shapes, rates_m2=values * asked.unit_m2, rest_m2=rest_m2), (*told, *notes))


def _layer(asked: AskedZones) -> Layer:
    """Return the features of the file."""
    source = sniff(asked.path, kind="file")
    try:
        layer = read_features(source.path, cast("FileKind", source.form), crs=asked.crs)
    except OutlineError as error:
        raise OutlineError(
            f"{asked.name} cannot be used: {error.summary} (Zones are read from a file with one layer of polygons.)",
            error.problems,
        ) from error
    faults = [*layer.faults, *(fault for feature in layer.features for fault in feature.outline.faults)]
    if faults:
        raise OutlineError(f"{asked.name} cannot be used. Mend the file and read it again.", _first(faults))
    if not any(feature.outline.parts for feature in layer.features):
        raise OutlineError(f"{asked.name} cannot be used: there is no polygon in it.")
    return layer


def _column(asked: AskedZones, layer: Layer) -> str:
    """Return the column of the values, which must be one of the file's."""
    columns = ", ".join(map(plain_name, layer.columns)) or "none"
    if asked.column is None:
        raise InputError(
            f"{asked.name}: it is a file of polygons. Say with zone column which of its columns holds the values: "
            f"{columns}."
        )
    if asked.column not in layer.columns:
        raise InputError(f"{asked.name}: it has no column {plain_name(asked.column)!r}. Its columns are: {columns}.")
    return asked.column


def _near(
    asked: AskedZones, field: Field, layer: Layer
) -> tuple[list[tuple[Feature, shapely.MultiPolygon]], list[str]]:
    """Return the features that lie on a field with their shapes about it in its frame, and what was mended. [m]"""
    is_needed = layer.needs_crs and asked.crs is None
    found = system_of(
        asked.crs or layer.crs, all_points(layer.features), is_needed=is_needed, name=asked.name, option="--zone-crs"
    )
    about = field.shape.envelope.buffer(_RIM_M, join_style="mitre")
    shapes = _in_frame([shape_of(feature.outline) for feature in layer.features], found.system, field)
    notes = [f"{asked.name}: {note}" for note in found.notes]
    for row in np.flatnonzero(~shapely.is_valid(shapes)).tolist():
        mended = polygons_of(shapely.make_valid(shapes[row]))
        if mended.intersects(field.shape):
            notes.append(
                f"{asked.name}: feature {layer.features[row].number} was mended "
                f"({shapely.is_valid_reason(shapes[row])}); that changed its area by "
                f"{mended.area - shapes[row].area:+,.1f} m2"
            )
        shapes[row] = mended
    shapely.prepare(field.shape)
    near = np.flatnonzero(shapely.intersects(field.shape, shapes))
    for row in near[~shapely.within(shapes[near], about)].tolist():
        shapes[row] = intersection(shapes[row], about)
    return [(layer.features[row], shapes[row]) for row in near.tolist()], notes


def _in_frame(shapes: Sequence[shapely.MultiPolygon], system: pyproj.CRS | None, field: Field) -> NDArray[np.object_]:
    """Return shapes of the file in the frame of a field. [m]"""

    def placed(xy: Floats) -> Floats:
        lon_deg, lat_deg = xy.T if system is None else crs_to_lonlat(xy[:, 0], xy[:, 1], system)
        return np.column_stack(field.frame.to_frame(lon_deg, lat_deg))

    plane = shapely.transform(np.array(shapes, dtype=object), placed)
    return np.array([bend_long_edges(shape, field.frame) for shape in plane], dtype=object)


def _values(asked: AskedZones, column: str, features: Sequence[Feature]) -> Floats:
    """Return the value of each feature, shape (F,), which must be a number from zero to the most. [unit of the file]"""
    most = most_value(asked)
    values = np.array([_number(feature.attributes[column]) for feature in features], dtype=float)
    is_wrong = ~((values >= 0) & (values <= most))
    if is_wrong.any():
        raise OutlineError(
            f"{asked.name} cannot be used: values of column {plain_name(column)!r} must be numbers from 0 to "
            f"{most:,.4g} {asked.unit}. Mend them, or name another column or unit.",
            _first(
                [
                    f"feature {features[row].number}: {shown(features[row].attributes[column])!r}"
                    for row in np.flatnonzero(is_wrong).tolist()
                ]
            ),
        )
    return values


def _number(value: object) -> float:
    """Return an attribute as a number, nan where it is none; some formats have nothing but text."""
    if isinstance(value, bool):
        return nan
    try:
        number = float(value) if isinstance(value, int | float | str) else nan
    except (ValueError, OverflowError):
        return nan
    return number if isfinite(number) else nan


def _joined(shapes: Sequence[shapely.MultiPolygon]) -> shapely.MultiPolygon:
    return shapes[0] if len(shapes) == 1 else union(shapes)


def _first(lines: Sequence[str]) -> list[str]:
    more = len(lines) - _MOST_LISTED
    return [*lines[:_MOST_LISTED], f"and {more:,} more"] if more > 0 else list(lines)
