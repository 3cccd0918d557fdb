"""A condition on attributes, in the grammar of SQL, for formats that GDAL does not read for us."""

from __future__ import annotations

import json
import warnings
from io import BytesIO
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from fieldgeo.errors import OutlineError
from fieldgeo.outline.files.geojson import plain_name

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import numpy.typing as npt


_NO_COLUMN: Final = "nothing"  # a table must have one


def bad_condition(name: str, where: str, reason: str, columns: Sequence[str]) -> OutlineError:
    """Return the error for a condition that cannot be used.

    Parameters
    ----------
    name : str
        The file.
    where : str
        The condition.
    reason : str
        What the library said of it.
    columns : sequence of str
        Columns that there are.
    """
    cause = plain_name(reason.partition(f"{where}: ")[2])  # as SQLite says it; others give no reason
    return OutlineError(
        f"{name}: the condition {where!r} cannot be used. Give one in the grammar of SQL, such as \"PIN = '12-34'\".",
        [
            cause or "its grammar is wrong, or there is no column of that name",
            f"columns: {', '.join(map(plain_name, columns)) or 'none'}",
        ],
    )


def rows_that_meet(rows: Sequence[Mapping[str, Any]], where: str, name: str) -> list[int]:
    """Return which rows meet a condition, counted from 0.

    Parameters
    ----------
    rows : sequence of mapping
        Attributes of each feature; a column may be missing in some.
    where : str
        The condition.
    name : str
        The file, for messages.

    Raises
    ------
    OutlineError
        If the condition cannot be used.

    Notes
    -----
    The rows are written to a GeoPackage in memory, a table without shapes, and asked for from there, so that the
    grammar is the same as for a GeoPackage.
    """
    from pyogrio.errors import DataSourceError, FeatureError, FieldError
    from pyogrio.raw import read, write

    columns = _columns(rows)
    table = BytesIO()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # that the file in memory has no suffix, and texts of other kinds
        try:
            write(
                table, geometry=None, field_data=list(columns.values()), fields=np.array(list(columns), dtype=object),
                driver="GPKG", layer="rows", layer_options={"FID": _unused("row", columns)},
            )  # fmt: skip
            found = read(table.getvalue(), where=where, read_geometry=False, columns=[], return_fids=True)[1]
        except (FeatureError, FieldError, DataSourceError, ValueError) as error:
            named = [column for column in columns if column != _NO_COLUMN]
            raise bad_condition(name, where, str(error), named) from error
    return [int(key) - 1 for key in found]


def _unused(name: str, columns: Mapping[str, object]) -> str:
    taken = {column.lower() for column in columns}
    while name in taken:
        name += "_"
    return name


def _columns(rows: Sequence[Mapping[str, Any]]) -> dict[str, npt.NDArray[Any]]:
    """Return the columns of rows: numbers where all are numbers, else text. Names that differ in case alone are one."""
    columns: dict[str, npt.NDArray[Any]] = {}
    seen = set()
    for name in dict.fromkeys(key for row in rows for key in row):
        if name.lower() in seen or not name:
            continue
        seen.add(name.lower())
        values = [row.get(name) for row in rows]
        said = [value for value in values if value is not None]
        if said and all(isinstance(value, bool) for value in said) and len(said) == len(values):
            columns[name] = np.array(values, dtype=bool)
        elif said and all(_is_number(value) for value in said):
            is_whole = len(said) == len(values) and all(isinstance(value, int) for value in said)
            columns[name] = np.array(
                [np.nan if value is None else value for value in values], dtype=np.int64 if is_whole else np.float64
            )
        else:
            columns[name] = np.array([_text(value) for value in values], dtype=object)
    return columns or {_NO_COLUMN: np.array([None] * len(rows), dtype=object)}


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < 2**63


def _text(value: object) -> str | None:
    if value is None:
        return None
    text = json.dumps(value, default=str) if isinstance(value, dict | list) else str(value)
    return text.encode("utf-8", "replace").decode("utf-8").replace("\0", "")
