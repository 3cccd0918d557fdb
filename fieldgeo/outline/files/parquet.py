"""GeoParquet: read in batches by pyarrow, so that a file larger than the memory can be searched.

Format: OGC GeoParquet 1.0 and 1.1. Coordinates are always east first; a column without `crs` is in longitude and
latitude (OGC:CRS84), one whose `crs` is null in a system that nobody knows. Shapes in the WKB encoding are read; the
encodings by nested lists are handed to geopandas, whole.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any, Final, TypeAlias

import numpy as np
import shapely

from fieldgeo.errors import FileError, OutlineError
from fieldgeo.frame import LONLAT, FloatArray
from fieldgeo.outline.files.condition import rows_that_meet
from fieldgeo.outline.files.damage import damage
from fieldgeo.outline.files.geojson import name_of, plain_name
from fieldgeo.outline.files.kinds import MOST_FEATURES, MOST_GEOMETRY_BYTES
from fieldgeo.outline.files.layer import Feature, Given, Layer, outline_of
from fieldgeo.outline.files.point import holding, nearest
from fieldgeo.outline.raw import RawOutline
from fieldgeo.outline.system import code_of, system_of

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence

    import pyproj

    from fieldgeo.outline.rules import FileRules

Rows: TypeAlias = list[tuple[dict[str, Any], Any]]  # attributes, and the shape as WKB or as a geometry
Batches: TypeAlias = "Iterator[Rows]"

_AT_ONCE: Final = 5_000  # rows of a batch
_LONGEST_METADATA: Final = 10_000_000


def read_parquet(given: Given, rules: FileRules, crs: str | None) -> Layer:
    """Return the features of a GeoParquet file that are asked for.

    Parameters
    ----------
    given : Given
        The file.
    rules : FileRules
        Condition and point that choose features.
    crs : str, optional
        Coordinate system asked for, in which a point is looked up.

    Returns
    -------
    Layer
        The features; only those that hold the point, where one is given.

    Raises
    ------
    FileError
        If the file cannot be opened.
    OutlineError
        If it is damaged or no GeoParquet, the condition cannot be used, or there are too many features.
    CrsError
        If a point is given and the coordinate system is missing or unknown.
    """
    import pyarrow
    import pyarrow.parquet

    if fault := damage(given.path, "geoparquet"):
        raise OutlineError(f"{given.name} cannot be used: this GeoParquet is damaged. Get it anew.", [fault])
    try:
        with pyarrow.parquet.ParquetFile(str(given.path)) as file:
            metadata = file.schema_arrow.metadata or {}
            column, about = _geo(metadata, file.schema_arrow.names, given)
            known, needs_crs = _system(about)
            system = None
            if rules.at_lonlat is not None:
                is_needed = needs_crs and crs is None
                system = system_of(crs or known, _bounds(about), is_needed=is_needed, name=given.name).system
            features, near = _chosen(lambda: _rows(file, column, about, given), given, rules, system)
            return Layer(
                form="geoparquet",
                features=tuple(features),
                columns=tuple(name for name in file.schema_arrow.names if name != column),
                crs=known,
                needs_crs=needs_crs,
                facts=_facts(metadata),
                near=near,
            )
    except (pyarrow.ArrowException, pyarrow.ArrowInvalid) as error:
        raise OutlineError(
            f"{given.name} cannot be used: this GeoParquet cannot be read. Get it anew.", [plain_name(str(error))]
        ) from error
    except OSError as error:
        if isinstance(error, FileError):
            raise
        raise OutlineError(
            f"{given.name} cannot be used: this GeoParquet cannot be read. Get it anew.", [plain_name(str(error))]
        ) from error


def _json(text: bytes) -> Any:
    try:
        return json.loads(text) if len(text) < _LONGEST_METADATA else None
    except (ValueError, RecursionError):
        return None


def _geo(metadata: dict[bytes, bytes], names: Sequence[str], given: Given) -> tuple[str, dict[str, Any]]:
    """Return the column of shapes and what is said of it."""
    document = _json(metadata.get(b"geo", b"null"))
    column = document.get("primary_column") if isinstance(document, dict) else None
    columns = document.get("columns") if isinstance(document, dict) else None
    about = columns.get(column) if isinstance(columns, dict) and isinstance(column, str) else None
    if not isinstance(column, str) or not isinstance(about, dict) or column not in names:
        raise OutlineError(
            f"{given.name} cannot be used: it is a Parquet table without shapes. Give a GeoParquet file.",
            ["its metadata has no key 'geo' that names a column of shapes"],
        )
    return column, about


def _system(about: dict[str, Any]) -> tuple[str | None, bool]:
    if "crs" not in about:
        return None, False
    crs = about["crs"]
    if crs is None:
        return None, True
    code = code_of(crs if isinstance(crs, str) else json.dumps(crs))
    return (None if code == LONLAT else code), False


def _bounds(about: dict[str, Any]) -> FloatArray:
    """Return the corners of all shapes together and their middle, where the metadata says them."""
    box = about.get("bbox")
    if not isinstance(box, list) or len(box) not in (4, 6) or not all(isinstance(value, int | float) for value in box):
        return np.empty((0, 2))
    corners = np.array(box, dtype=np.float64).reshape(2, -1)[:, :2]
    return np.vstack([corners, corners.mean(axis=0)])


def _facts(metadata: dict[bytes, bytes]) -> dict[str, Any] | None:
    """Return what is said once for all features: the key `fiboa` of version 0.2, or `collection` of the later core."""
    for key in (b"fiboa", b"collection"):
        facts = _json(metadata.get(key, b"null"))
        if isinstance(facts, dict):
            return facts
    return None


def _rows(file: Any, column: str, about: dict[str, Any], given: Given) -> Batches:
    """Yield rows in batches: attributes, and the shape as WKB or as a geometry."""
    if str(about.get("encoding", "WKB")).upper() != "WKB":
        yield _native_rows(file, column, given)
        return
    for batch in file.iter_batches(batch_size=_AT_ONCE):
        shapes = batch.column(column).to_pylist()
        attributes = batch.drop_columns([column]).to_pylist()
        yield list(zip(attributes, shapes, strict=True))


def _native_rows(file: Any, column: str, given: Given) -> Rows:
    import geopandas

    if file.metadata.num_rows > MOST_FEATURES:
        raise _too_many(given)
    table = geopandas.read_parquet(given.path)
    attributes = table.drop(columns=[column]).to_dict("records")
    return list(zip(attributes, list(table[column]), strict=True))


def _chosen(
    batches: Callable[[], Batches], given: Given, rules: FileRules, system: pyproj.CRS | None
) -> tuple[list[Feature], str]:
    """Return the features asked for; and where none holds the point, where the nearest lies."""
    at = rules.at_lonlat
    if at is None:
        return _within_limits(_features(batches(), rules.where, given), given), ""
    held = [feature for feature in _features(batches(), rules.where, given) if holding(feature, at, system)]
    near = "" if held else nearest(_features(batches(), rules.where, given), at, system)
    return _within_limits(held, given), near


def _features(batches: Batches, where: str | None, given: Given) -> Iterator[Feature]:
    first = 1
    for rows in batches:
        numbers = range(len(rows)) if where is None else rows_that_meet([row for row, _ in rows], where, given.name)
        for number in numbers:
            yield _feature(first + number, *rows[number])
        first += len(rows)


def _within_limits(features: Iterable[Feature], given: Given) -> list[Feature]:
    kept: list[Feature] = []
    size = 0
    for feature in features:
        kept.append(feature)
        size += sum(ring.nbytes for part in feature.outline.parts for ring in part.rings)
        if len(kept) > MOST_FEATURES or size > MOST_GEOMETRY_BYTES:
            raise _too_many(given)
    return kept


def _too_many(given: Given) -> OutlineError:
    return OutlineError(
        f"{given.name} has too many features or corners to be read at once. Choose some with --where or --at; "
        f"{MOST_FEATURES:,} features and {MOST_GEOMETRY_BYTES / 1e6:.0f} MB of corners are the most."
    )


def _feature(number: int, attributes: dict[str, Any], shape: Any) -> Feature:
    name, label = name_of(attributes), f"feature {number} "
    if isinstance(shape, bytes):
        geometry = shapely.from_wkb(shape, on_invalid="ignore")
        if geometry is None:
            broken = RawOutline(name=name, parts=(), faults=(f"{label}geometry is broken: it is no well-known binary",))
            return Feature(number=number, attributes=attributes, outline=broken)
        shape = geometry
    outline = outline_of(shape, label=label, name=name)
    return Feature(number=number, attributes=attributes, outline=outline)
