"""Layers as a GeoPackage: a table for each, with a style that a general GIS program takes on opening it.

Format: OGC 12-128, "GeoPackage Encoding Standard", written by GDAL. The table `layer_styles` is no part of the
standard; programs that do not know it leave it alone.
"""

from __future__ import annotations

import sqlite3
from contextlib import closing, contextmanager
from typing import TYPE_CHECKING, Final

import numpy as np

from fieldgeo.errors import FileError
from fieldgeo.export.files import PathLike, whole_file
from fieldgeo.export.kinds import storable
from fieldgeo.export.styles import qgis_style, sld_style
from fieldgeo.frame import shape_to_lonlat

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    import geopandas

    from fieldgeo.export.kinds import Kinds, LayerKind, Layers, Members
    from fieldgeo.frame import Frame

_VERSION: Final = "1.2"  # nothing of 1.4, which the library writes unasked, is used, and older programs warn of it
_WAITS: Final = "OGR_SQLITE_SYNCHRONOUS"
_STYLE_TABLE: Final = """
CREATE TABLE layer_styles (
    id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, f_table_catalog TEXT, f_table_schema TEXT, f_table_name TEXT,
    f_geometry_column TEXT, styleName TEXT, styleQML TEXT, styleSLD TEXT, useAsDefault BOOLEAN, description TEXT,
    owner TEXT, ui TEXT, update_time DATETIME DEFAULT '1970-01-01T00:00:00.000Z'
)"""
_STYLE_ROW: Final = """
INSERT INTO layer_styles (f_table_catalog, f_table_schema, f_table_name, f_geometry_column, styleName, styleQML,
    styleSLD, useAsDefault, description, owner) VALUES ('', '', ?, 'geom', ?, ?, ?, 1, '', '')"""

_LISTED: Final = "INSERT INTO gpkg_contents (table_name, data_type, identifier) VALUES (?, 'attributes', ?)"


def write_geopackage(layers: Layers, kinds: Kinds, frame: Frame, path: PathLike, *, force: bool) -> None:
    """Write layers to a GeoPackage in longitude and latitude, whole or not at all.

    Parameters
    ----------
    layers : dict of str to list of (shapely.Geometry, dict)
        Shapes in the frame [m] with their attributes.
    kinds : mapping of str to LayerKind
        What each layer holds.
    frame : Frame
        The plane of the shapes.
    path : str or path
        The file.
    force : bool
        Whether an existing file may be replaced.

    Raises
    ------
    FileError
        If the file exists and `force` is not set, or it cannot be written.
    """
    import pyogrio
    from pyogrio.errors import DataLayerError, DataSourceError

    with whole_file(path, force=force) as temporary, _unhurried():
        try:
            for name, members in layers.items():
                pyogrio.write_dataframe(
                    lonlat_table(members, kinds[name], frame), temporary, layer=name, driver="GPKG",
                    geometry_type=kinds[name].geometry, dataset_options={"VERSION": _VERSION},
                )  # fmt: skip
            _add_styles(temporary, {name: kinds[name].geometry for name in layers})
        except (DataSourceError, DataLayerError, sqlite3.Error) as error:
            raise FileError(f"{path} cannot be written: {error}. Check the folder and its space.") from error


@contextmanager
def _unhurried() -> Iterator[None]:
    """Let a database be written without waiting for the disk at every table: `whole_file` waits once, at the end."""
    import pyogrio

    before = pyogrio.get_gdal_config_option(_WAITS)
    pyogrio.set_gdal_config_options({_WAITS: "OFF"})
    try:
        yield
    finally:
        pyogrio.set_gdal_config_options({_WAITS: before})


def lonlat_table(members: Members, kind: LayerKind, frame: Frame) -> geopandas.GeoDataFrame:
    """Return one layer as a table in longitude and latitude, WGS 84.

    Parameters
    ----------
    members : sequence of (shapely.Geometry, dict)
        Shapes in the frame [m] with their attributes.
    kind : LayerKind
        What the layer holds.
    frame : Frame
        The plane of the shapes.
    """
    import geopandas
    import pandas as pd

    # Longitudes of a field across 180 degrees run on beyond it: its shapes stay whole, which a map program likes better
    # than halves at both ends of the world. GeoJSON asks for the halves, and gets them.
    shapes = [shape_to_lonlat(shape, frame) for shape, _ in members]
    columns = {
        name: pd.Series([storable(properties[name]) for _, properties in members], dtype=dtype)
        for name, dtype in kind.columns.items()
    }
    return geopandas.GeoDataFrame(columns, geometry=np.array(shapes, dtype=object), crs="EPSG:4326")


def _add_styles(path: Path, geometries: dict[str, str]) -> None:
    with closing(sqlite3.connect(path)) as database:
        database.execute("PRAGMA synchronous = OFF")
        with database:
            _put_styles(database, geometries)


def _put_styles(database: sqlite3.Connection, geometries: dict[str, str]) -> None:
    database.execute(_STYLE_TABLE)
    database.execute(_LISTED, ("layer_styles", "layer_styles"))  # every table of a GeoPackage is listed
    for name, geometry in geometries.items():
        row = (name, name, qgis_style(name, geometry), sld_style(name, geometry))
        database.execute(_STYLE_ROW, row)
