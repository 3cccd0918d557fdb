"""The schedule of a season as a table: a row for each operation on each field, with the outline of the field."""

from __future__ import annotations

import csv
import io
from math import nan
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from fieldgeo.errors import InputError
from fieldgeo.export.files import PathLike, check_placed, check_target, write_whole
from fieldgeo.export.formats import into_frame, write_layers
from fieldgeo.export.kinds import LayerKind, storable
from fieldgeo.frame import shape_to_lonlat
from fieldgeo.season.figures import season_figures

if TYPE_CHECKING:
    import geopandas

    from fieldgeo.outline.field import Field
    from fieldgeo.season.plan import SeasonPlan

SEASON_SUFFIXES: Final = (".csv", ".gpkg", ".geojson", ".json", ".kml", ".zip")
OPERATIONS: Final = LayerKind(
    "MultiPolygon",
    {
        "operation": "str", "field": "str", "crop": "str", "status": "str", "begins_on": "str", "finished_on": "str",
        "window_to": "str", "tool": "str", "carrier": "str", "operator": "str", "field_h": "float64",
        "area_ha": "float64", "area_ac": "float64", "fuel_L": "float64", "fuel_gal": "float64", "loss": "float64",
        "loss_bu": "float64",
    },
)  # fmt: skip


def season_geodataframe(plan: SeasonPlan) -> geopandas.GeoDataFrame:
    """Return the operations of a season in order, then those left undone, with outlines on WGS 84.

    Parameters
    ----------
    plan : SeasonPlan
        A season with its schedule.

    Returns
    -------
    geopandas.GeoDataFrame
        A row for each operation on each field; `status` is "done" or "left". Dates are text, year first.
    """
    import geopandas

    rows = _rows(plan)
    shapes = [shape_to_lonlat(field.shape, field.frame) for field, _ in rows]
    table = [about for _, about in rows]
    return geopandas.GeoDataFrame(table, columns=list(OPERATIONS.columns), geometry=shapes, crs="EPSG:4326")


def write_season(plan: SeasonPlan, path: PathLike, *, force: bool = False) -> tuple[str, ...]:
    """Write the operations of a season to a file, whole or not at all, and say what its format does not hold.

    Parameters
    ----------
    plan : SeasonPlan
        A season with its schedule.
    path : str or path
        The file, its form by its suffix: ``.csv`` a table without outlines; ``.gpkg``, ``.geojson``, ``.json``,
        ``.kml`` and ``.zip`` (shapefiles) with them, as `fieldgeo.export.formats.write_layers`.
    force : bool
        Whether an existing file may be replaced.

    Returns
    -------
    tuple of str
        What the format does not hold.

    Raises
    ------
    InputError
        If the suffix is of another format, or outlines are asked for and the place of a field is not known.
    FileError
        If the file exists and `force` is not set, or it cannot be written.
    """
    check_target(path, force=force)
    suffix = Path(path).suffix.lower()
    if suffix not in SEASON_SUFFIXES:
        raise InputError(
            f"{path}: the suffix {Path(path).suffix!r} tells no format that a season can be written in. "
            f"Give a name that ends in {', '.join(SEASON_SUFFIXES)}."
        )
    rows = _rows(plan)
    if suffix == ".csv":
        text = io.StringIO()
        writer = csv.DictWriter(text, fieldnames=list(OPERATIONS.columns))
        writer.writeheader()
        writer.writerows({name: storable(value) for name, value in about.items()} for _, about in rows)
        write_whole(path, text.getvalue(), force=force)
        return ("the table has no outlines; .gpkg, .geojson, .kml and .zip have them",)
    for field, _ in rows:
        check_placed(field, path)
    frame = rows[0][0].frame if rows else plan.season.fields[0].field.frame
    members = [
        (into_frame(field.shape, field.frame, frame), {name: _filled(about[name], kind) for name, kind in _KINDS})
        for field, about in rows
    ]
    return write_layers({"operations": members}, {"operations": OPERATIONS}, frame, path, force=force)


_KINDS: Final = tuple(OPERATIONS.columns.items())


def _filled(value: Any, kind: str) -> object:
    """Return what there is not as a layer holds it."""
    return ("" if kind == "str" else nan) if value is None else value


def _rows(plan: SeasonPlan) -> list[tuple[Field, dict[str, Any]]]:
    """Return the operations in order, then those left undone, with their fields."""
    figures = season_figures(plan)
    rows: list[dict[str, Any]] = [each | {"status": "done"} for each in figures["operations"]]
    rows += [each | {"status": "left"} for each in figures["left"]]
    found = []
    for row in rows:
        where = plan.season.field_of(row["field"])
        row.setdefault("crop", where.crop)
        found.append((where.field, {name: row.get(name) for name in OPERATIONS.columns}))
    return found
