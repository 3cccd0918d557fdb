"""Layers as shapefiles, a set of files each, together in one zip archive.

Format: "ESRI Shapefile Technical Description", white paper, July 1998, and the dBASE tables it rests on, written by
GDAL with the .prj of WGS 84 and UTF-8 named in a .cpg. Names of columns have 10 letters at most, text 254 bytes.
"""

from __future__ import annotations

import zipfile
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Final

from fieldgeo.errors import FileError
from fieldgeo.export.files import PathLike, whole_file
from fieldgeo.export.geopackage import lonlat_table

if TYPE_CHECKING:
    from collections.abc import Iterable

    import geopandas

    from fieldgeo.export.kinds import Kinds, Layers
    from fieldgeo.frame import Frame

MOST_NAME: Final = 10
MOST_TEXT_BYTES: Final = 254
_UNITS: Final = ("m", "ft", "m2", "ac", "deg", "s")
_EPOCH: Final = (1980, 1, 1, 0, 0, 0)  # of the files in the archive: the same plan gives the same archive


def write_shapefiles(layers: Layers, kinds: Kinds, frame: Frame, path: PathLike, *, force: bool) -> tuple[str, ...]:
    """Write layers to a zip archive of shapefiles, whole or not at all, and say what they do not hold.

    Parameters
    ----------
    layers : dict of str to list of (shapely.Geometry, dict)
        Shapes in the frame [m] with their attributes.
    kinds : mapping of str to LayerKind
        What each layer holds.
    frame : Frame
        The plane of the shapes.
    path : str or path
        The archive.
    force : bool
        Whether an existing file may be replaced.

    Returns
    -------
    tuple of str
        Columns that have a shorter name, and text that was cut.

    Raises
    ------
    FileError
        If the file exists and `force` is not set, or it cannot be written.
    """
    import pyogrio
    from pyogrio.errors import DataLayerError, DataSourceError

    renamed: dict[str, str] = {}
    cut = 0
    with whole_file(path, force=force) as temporary, TemporaryDirectory() as folder:
        try:
            for name, members in layers.items():
                table, count = _fitted(lonlat_table(members, kinds[name], frame))
                cut += count
                short = short_names(kinds[name].columns)
                renamed |= {long: brief for long, brief in short.items() if long != brief}
                pyogrio.write_dataframe(
                    table.rename(columns=short), Path(folder, f"{name}.shp"), driver="ESRI Shapefile",
                    geometry_type=kinds[name].geometry, layer_options={"ENCODING": "UTF-8"},
                )  # fmt: skip
            with zipfile.ZipFile(temporary, "w", zipfile.ZIP_DEFLATED) as archive:
                for file in sorted(Path(folder).iterdir()):
                    info = zipfile.ZipInfo(file.name, date_time=_EPOCH)
                    archive.writestr(info, file.read_bytes(), compress_type=zipfile.ZIP_DEFLATED)
        except (DataSourceError, DataLayerError) as error:
            raise FileError(f"{path} cannot be written: {error}. Check the folder and its space.") from error
    notes = []
    if renamed:
        pairs = ", ".join(f"{long} is {brief}" for long, brief in sorted(renamed.items()))
        notes.append(f"shapefiles have names of {MOST_NAME} letters: {pairs}")
    if cut:
        notes.append(f"shapefiles hold text of {MOST_TEXT_BYTES} bytes: {cut} longer ones are cut")
    return tuple(notes)


def short_names(names: Iterable[str]) -> dict[str, str]:
    """Return names of at most 10 letters, all different: without the unit where that is enough, else cut.

    Parameters
    ----------
    names : iterable of str
        Names of columns.

    Examples
    --------
    >>> short_names(["length_m", "perimeter_m", "after_headland_run"])
    {'length_m': 'length_m', 'perimeter_m': 'perimeter', 'after_headland_run': 'after_head'}
    """
    wanted = list(names)
    short = {name: name for name in wanted if len(name) <= MOST_NAME}
    for name in wanted:
        if name in short:
            continue
        rest, _, unit = name.rpartition("_")
        brief, number = (rest if unit in _UNITS else name)[:MOST_NAME], 1
        while brief in short.values():
            brief = f"{brief[: MOST_NAME - len(str(number))]}{number}"
            number += 1
        short[name] = brief
    return {name: short[name] for name in wanted}


def _fitted(table: geopandas.GeoDataFrame) -> tuple[geopandas.GeoDataFrame, int]:
    """Return a table as dBASE can hold it, and how many texts were cut."""
    cut = 0
    for name in [column for column in table.columns if column != "geometry"]:
        if table[name].dtype == bool:
            table[name] = table[name].astype("int64")
        elif table[name].dtype.kind not in "if":
            brief = [_cut_text(text) for text in table[name]]
            cut += sum(one != other for one, other in zip(brief, table[name], strict=True))
            table[name] = brief
    return table, cut


def _cut_text(text: object) -> str:
    return str(text).encode("utf-8")[:MOST_TEXT_BYTES].decode("utf-8", "ignore")
