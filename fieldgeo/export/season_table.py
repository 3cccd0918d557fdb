"""The schedule of a season as a table: a row for each operation on each field, with the outline of the field."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from fieldgeo.export.files import PathLike, check_placed, check_target, whole_file
from fieldgeo.frame import shape_to_lonlat
from fieldgeo.season.figures import season_figures

if TYPE_CHECKING:
    import geopandas

    from fieldgeo.season.plan import SeasonPlan

SEASON_SUFFIXES: Final = (".csv", ".gpkg", ".geojson", ".json")
_DRIVERS: Final = {".gpkg": "GPKG", ".geojson": "GeoJSON", ".json": "GeoJSON"}
_COLUMNS: Final = (
    "operation", "field", "crop", "status", "begins_on", "finished_on", "window_to", "tool", "carrier", "operator",
    "field_h", "area_ha", "area_ac", "fuel_L", "fuel_gal", "loss", "loss_bu",
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

    figures = season_figures(plan)
    rows: list[dict[str, Any]] = [each | {"status": "done"} for each in figures["operations"]]
    rows += [each | {"status": "left"} for each in figures["left"]]
    shapes = []
    for row in rows:
        where = plan.season.field_of(row["field"])
        row.setdefault("crop", where.crop)
        shapes.append(shape_to_lonlat(where.field.shape, where.field.frame))
    plain = [{name: row.get(name) for name in _COLUMNS} for row in rows]
    return geopandas.GeoDataFrame(plain, columns=list(_COLUMNS), geometry=shapes, crs="EPSG:4326")


def write_season(plan: SeasonPlan, path: PathLike, *, force: bool = False) -> None:
    """Write the operations of a season: .csv without outlines, .gpkg and .geojson with them.

    Parameters
    ----------
    plan : SeasonPlan
        A season with its schedule.
    path : str or path
        The file, its form by its suffix.
    force : bool
        Whether an existing file may be replaced.

    Raises
    ------
    FileError
        If the file exists and `force` is not set, or it cannot be written.
    """
    check_target(path, force=force)
    table = season_geodataframe(plan)
    suffix = Path(path).suffix.lower()
    with whole_file(path, force=force) as temporary:
        if suffix == ".csv":
            table.drop(columns="geometry").to_csv(temporary, index=False)
        else:
            for each in plan.season.fields:
                check_placed(each.field, path)
            table.to_file(temporary, driver=_DRIVERS[suffix], layer="operations", engine="pyogrio")
