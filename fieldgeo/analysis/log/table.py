"""Rows of a log file as columns of numbers: a table with named columns, GPX or NMEA 0183, read as a stream.

Tables are taken apart by the Arrow CSV reader, block by block, and only the columns that mean something are kept, as
numbers; so a million rows take seconds and the memory of their numbers. GPX and NMEA go through the readers of walks.
"""

from __future__ import annotations

import csv
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from fieldgeo.analysis.log.clock import NAN, ClockFaces, moment_s, number_s
from fieldgeo.analysis.log.columns import Column, find_columns
from fieldgeo.errors import FileError, LogError
from fieldgeo.frame import FloatArray
from fieldgeo.outline.files.geojson import plain_name
from fieldgeo.outline.walk.fixes import Fixes, Tally

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

HEAD_BYTES: Final = 65_536
_BLOCK_BYTES: Final = 1 << 22
_YES: Final = {"1", "on", "yes", "true", "t", "y", "down", "working", "work", "lowered", "engaged", "active"}
_NO: Final = {"0", "off", "no", "false", "f", "n", "up", "not working", "idle", "raised", "disengaged", "inactive",
              "transport", "turning"}  # fmt: skip


@dataclass(slots=True, kw_only=True)
class Rows:
    """Rows of a log in the order of the file, by quantity, in SI; NaN where a cell is empty or no number."""

    columns: dict[str, FloatArray]  # quantity to shape (N,)
    notes: list[str] = field(default_factory=list)
    faces: ClockFaces = field(default_factory=ClockFaces)
    names: dict[str, str] = field(default_factory=dict)  # quantity to the name of its column

    def __len__(self) -> int:
        return len(self.columns["lat"])


def read_rows(path: Path, columns: Mapping[str, str] | None) -> Rows:
    """Return the rows of a log file.

    Parameters
    ----------
    path : Path
        A table with named columns, GPX or NMEA 0183; its content tells which.
    columns : mapping of str to str, or None
        Quantity to column of a table, as `find_columns` takes them.

    Raises
    ------
    FileError
        If the file is missing or cannot be read.
    LogError
        If it is empty, no table with a header, or its columns cannot be told.
    """
    head = _head(path)
    text = head.decode("utf-8-sig", errors="replace").lstrip()
    if not text.strip("\0 \r\n\t"):
        raise LogError(f"{path} is empty. Give the log of a day's work: a table, GPX or NMEA 0183.")
    is_gpx, is_nmea = text.startswith("<"), "$" in text[:4096] and ("GGA," in text or "RMC," in text)
    if columns and (is_gpx or is_nmea):
        raise LogError(f"{path} is no table: columns cannot be named. Read it without.")
    if is_gpx or is_nmea:
        return _from_fixes(path, is_gpx=is_gpx)
    return _from_table(path, text, columns)


def _head(path: Path) -> bytes:
    try:
        if not path.is_file():
            what = "this is not a plain file" if path.exists() else "there is no such file"
            raise FileError(f"{str(path)!r}: {what}. Give the log of a day's work: a table, GPX or NMEA 0183.")
        with path.open("rb") as file:
            return file.read(HEAD_BYTES)
    except FileError:
        raise
    except (OSError, ValueError) as error:  # ValueError: a NUL byte in the path
        raise FileError(f"{str(path)!r} cannot be read: {error}. Check its name and rights.") from error


def _from_fixes(path: Path, *, is_gpx: bool) -> Rows:
    from fieldgeo.errors import OutlineError
    from fieldgeo.outline.walk.gpx import gpx_batches
    from fieldgeo.outline.walk.nmea import nmea_batches

    tally = Tally()
    try:
        with path.open("rb") as file:
            batches: Iterable[Fixes] = (
                gpx_batches(file, tally, _nothing, source=str(path)) if is_gpx else nmea_batches(file, tally, _nothing)
            )
            parts = [(fix.lat_deg, fix.lon_deg, fix.time_s, fix.quality.astype(np.float64)) for fix in batches]
    except OutlineError as error:
        raise LogError(error.summary, error.problems) from error
    lat, lon, time, quality = (
        np.concatenate([part[at] for part in parts]) if parts else np.empty(0) for at in range(4)
    )
    notes = [*tally.notes]
    if tally.unreadable or tally.bad_checksums:
        notes.append(f"{tally.unreadable + tally.bad_checksums:,} records could not be read and were left out")
    return Rows(columns={"lat": lat, "lon": lon, "time": time, "quality": quality}, notes=notes)


def _nothing() -> None:
    return None


def _from_table(path: Path, head: str, asked: Mapping[str, str] | None) -> Rows:
    header = head.splitlines()[0]
    delimiter = max(",;\t|", key=header.count)
    names = next(csv.reader([header], delimiter=delimiter), [])
    columns, notes = find_columns(names, asked, source=str(path))
    rows = Rows(columns={}, notes=notes, names={quantity: column.name for quantity, column in columns.items()})
    reader = _Reader(rows, columns, has_decimal_comma=delimiter != ",")
    skipped = 0

    def skip(_row: Any) -> str:
        nonlocal skipped
        skipped += 1
        return "skip"

    try:
        for batch in _batches(path, len(names), columns, delimiter, skip):
            reader.put(batch)
    except UnicodeDecodeError:
        raise LogError(f"{path} is no text. Give the log as a table in UTF-8, GPX or NMEA 0183.") from None
    reader.end()
    if skipped:
        notes.append(f"{skipped:,} rows with more or fewer cells than the header were left out")
    return rows


def _batches(
    path: Path, count: int, columns: Mapping[str, Column], delimiter: str, skip: Callable[[Any], str]
) -> Iterator[dict[str, Any]]:
    """Give the columns of a table as text, block by block."""
    import pyarrow as pa
    from pyarrow import csv as arrow_csv

    places = sorted({column.place for column in columns.values()})
    for encoding in ("utf8", "latin1"):
        try:
            reader = arrow_csv.open_csv(
                path,
                read_options=arrow_csv.ReadOptions(
                    column_names=[str(place) for place in range(count)], skip_rows=1, block_size=_BLOCK_BYTES,
                    encoding=encoding, use_threads=True,
                ),
                parse_options=arrow_csv.ParseOptions(delimiter=delimiter, invalid_row_handler=skip),
                convert_options=arrow_csv.ConvertOptions(
                    include_columns=[str(place) for place in places],
                    column_types={str(place): pa.string() for place in places}, strings_can_be_null=False,
                ),
            )  # fmt: skip
            for batch in reader:
                yield {quantity: batch.column(str(column.place)) for quantity, column in columns.items()}
            return
        except pa.ArrowInvalid as error:
            message = str(error)
            if "Empty CSV" in message:
                return
            if encoding == "latin1" or "UTF8" not in message.replace("-", "").upper():
                raise LogError(
                    f"{path} cannot be read as a table: {plain_name(message.splitlines()[0])}. Save it again as a "
                    "table with one line of names and one line a record."
                ) from error


class _Reader:
    """Takes blocks of text into columns of numbers."""

    def __init__(self, rows: Rows, columns: Mapping[str, Column], *, has_decimal_comma: bool) -> None:
        self._rows = rows
        self._columns = columns
        self._has_decimal_comma = has_decimal_comma
        self._parts: dict[str, list[FloatArray]] = {quantity: [] for quantity in columns if quantity != "date"}
        self._bad: dict[str, int] = {}

    def put(self, batch: Mapping[str, Any]) -> None:
        for quantity, parts in self._parts.items():
            if quantity == "time":
                parts.append(self._times(batch["time"], batch.get("date")))
            elif quantity == "switch":
                parts.append(self._switch(batch[quantity]))
            else:
                parts.append(self._numbers(batch[quantity], quantity) * self._columns[quantity].scale)

    def end(self) -> None:
        for quantity, parts in self._parts.items():
            self._rows.columns[quantity] = np.concatenate(parts) if parts else np.empty(0)
        for quantity, count in self._bad.items():
            self._rows.notes.append(
                f"column {self._columns[quantity].name!r}: {count:,} cells hold no number and were taken as empty"
            )

    def _numbers(self, cells: Any, quantity: str) -> FloatArray:
        fast = _as_floats(cells, has_decimal_comma=self._has_decimal_comma)
        if fast is not None:
            return fast
        values = np.full(len(cells), NAN)
        for row, text in enumerate(cells.to_pylist()):
            cell = (text or "").strip()
            if self._has_decimal_comma and "." not in cell:
                cell = cell.replace(",", ".")
            if not cell:
                continue
            try:
                values[row] = float(cell) if cell.isascii() and "_" not in cell else NAN
            except ValueError:
                values[row] = NAN
            if np.isnan(values[row]):
                self._bad[quantity] = self._bad.get(quantity, 0) + 1
        return values

    def _times(self, cells: Any, dates: Any) -> FloatArray:
        faces = self._rows.faces
        if dates is None:
            fast = _as_floats(cells, has_decimal_comma=self._has_decimal_comma)
            if fast is not None:
                return np.where(np.abs(fast) > 1e11, fast / 1000, fast) * self._columns["time"].scale
            quick = _as_moments(cells, faces)
            if quick is not None:
                return quick
            scale = self._columns["time"].scale
            return np.array([_scaled_moment(text or "", faces, scale) for text in cells.to_pylist()], dtype=np.float64)
        pairs = zip(dates.to_pylist(), cells.to_pylist(), strict=True)
        return np.array([moment_s(f"{day}T{time}" if day else time or "", faces) for day, time in pairs])

    def _switch(self, cells: Any) -> FloatArray:
        import pyarrow.compute as pc

        coded = pc.dictionary_encode(cells)
        words = [(word or "").strip().lower() for word in coded.dictionary.to_pylist()]
        values = np.array([_switch_value(word) for word in words] or [NAN])
        unknown = [word for word, value in zip(words, values.tolist(), strict=False) if word and np.isnan(value)]
        if unknown and not any("switch" in note for note in self._rows.notes):
            self._rows.notes.append(
                f"switch: {plain_name(unknown[0])!r} is not known as down or up and was taken as up"
            )
            values = np.where(np.isnan(values) & np.array([bool(word) for word in words]), 0.0, values)
        return np.asarray(values[coded.indices.to_numpy(zero_copy_only=False)])


def _switch_value(word: str) -> float:
    if word in _YES:
        return 1.0
    if word in _NO:
        return 0.0
    try:
        return float(float(word) > 0)
    except ValueError:
        return NAN


def _scaled_moment(text: str, faces: ClockFaces, scale: float) -> float:
    try:
        return number_s(float(text)) * scale
    except ValueError:
        return moment_s(text, faces)


def _as_floats(cells: Any, *, has_decimal_comma: bool) -> FloatArray | None:
    """Return text as numbers, an empty cell as NaN; None where a cell is no number."""
    import pyarrow as pa
    import pyarrow.compute as pc

    trimmed = pc.utf8_trim_whitespace(cells)
    if has_decimal_comma:
        trimmed = pc.replace_substring(trimmed, ",", ".")
    filled = pc.if_else(pc.equal(trimmed, ""), pa.scalar(None, pa.string()), trimmed)
    try:
        return np.asarray(pc.cast(filled, pa.float64()).to_numpy(zero_copy_only=False), dtype=np.float64)
    except pa.ArrowInvalid:
        return None


def _as_moments(cells: Any, faces: ClockFaces) -> FloatArray | None:
    """Return ISO 8601 text as seconds, all with a zone or all without; None where a cell is otherwise."""
    import pyarrow as pa
    import pyarrow.compute as pc

    for zone in (None, "UTC"):
        try:
            moments = pc.cast(cells, pa.timestamp("us", tz=zone))
        except pa.ArrowInvalid:
            continue
        if zone is None:
            faces.plain += len(cells)
        else:
            faces.zoned += len(cells)
            marks = pc.struct_field(pc.extract_regex(cells, r"(?P<zone>Z|[+-]\d\d:?\d\d)$"), [0])
            for mark in pc.unique(marks).to_pylist():
                written = mark or "Z"
                faces.see_zone(written if ":" in written or written == "Z" else f"{written[:3]}:{written[3:]}")
        return np.asarray(pc.cast(moments, pa.int64()).to_numpy(zero_copy_only=False), dtype=np.float64) / 1e6
    return None
