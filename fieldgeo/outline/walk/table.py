"""A table of positions in: comma, semicolon or tab between the columns, which are found by their names.

The csv module of Python takes the lines apart: it streams, knows quotes, and a row that is wrong is counted and not the
end of the file.
"""

from __future__ import annotations

import csv
import io
import re
from dataclasses import dataclass
from math import isnan
from typing import TYPE_CHECKING, BinaryIO, Final

from fieldgeo.errors import OutlineError
from fieldgeo.outline.files.geojson import plain_name
from fieldgeo.outline.walk.fixes import MOST_TRACKS, NAN, Batch
from fieldgeo.outline.walk.gpx import time_of_text
from fieldgeo.outline.walk.quality import quality_of_word

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from fieldgeo.outline.walk.fixes import Fixes, Tally

LONGEST_LINE: Final = 100_000  # characters
_ROWS_PER_PROGRESS: Final = 50_000
_DAY_S: Final = 86_400.0
_LEAST_MILLISECONDS: Final = 1e11  # as seconds this would be the year 5138

# What a column may be called, in groups: a column of a later group counts only where the earlier ones find none.
_NAMES: Final[dict[str, tuple[tuple[str, ...], ...]]] = {
    "latitude": (("lat", "latitude", "lat deg", "latitude deg"), ("y", "north", "northing")),
    "longitude": (("lon", "lng", "long", "longitude", "lon deg", "lng deg", "longitude deg"), ("x", "east", "easting")),
    "time": (("time", "timestamp", "datetime", "date time", "utc", "utc time", "gps time", "time utc", "time s", "t s",
              "seconds", "t"),),
    "date": (("date", "utc date", "gps date"),),
    "hdop": (("hdop",),),
    "quality": (("quality", "fix", "fix quality", "gps quality", "fix type"),),
    "segment": (("segment", "seg", "track seg id", "segment id"),),
    "track": (("track", "ring", "track id", "track fid"),),
}  # fmt: skip
_UNIT: Final = re.compile(r"[(\[].*?[)\]]")
_DAY_TIME: Final = re.compile(r"(\d{1,2}):(\d\d)(?::(\d\d(?:\.\d*)?))?")


@dataclass(frozen=True, slots=True, kw_only=True)
class _Layout:
    """How a table is laid out."""

    delimiter: str
    columns: dict[str, int]  # what each column holds, and its place
    has_decimal_comma: bool


def table_batches(file: BinaryIO, tally: Tally, progress: Callable[[], None], *, source: str) -> Iterator[Fixes]:
    """Give the positions of a table, some at a time.

    The first line names the columns. Latitude and longitude must be there, decimal degrees on WGS 84; time (ISO 8601,
    or seconds), date, hdop, quality or fix, segment and track may be. Decimal commas are read where the columns are
    parted by semicolons or tabs.

    Parameters
    ----------
    file : binary file
        The table, open for reading: UTF-8, or another text in which digits look the same.
    tally : Tally
        Counts what is passed over.
    progress : callable
        Called every now and then.
    source : str
        Name of the file, for messages.

    Yields
    ------
    Fixes
        A new segment begins where the segment column changes, a new track where the track column does.

    Raises
    ------
    OutlineError
        If the columns of latitude and longitude are missing, or there is more than one of them.
    """
    text = io.TextIOWrapper(file, encoding="utf-8-sig", errors="replace", newline="")
    try:
        header = text.readline(LONGEST_LINE)
        layout = _layout(header, source)
        rows = csv.reader(_short_lines(text), delimiter=layout.delimiter)
        reader = _Rows(layout, tally, source)
        while True:
            try:
                for row in rows:
                    reader.put(row, rows.line_num + 1)
                    if reader.batch.is_full:
                        yield reader.batch.take()
                        progress()
                break
            except csv.Error as error:
                tally.count_unreadable(plain_name(f"line {rows.line_num + 1}: {error}"))
        if len(reader.batch):
            yield reader.batch.take()
    finally:
        text.detach()


def _short_lines(text: io.TextIOWrapper) -> Iterator[str]:
    while line := text.readline(LONGEST_LINE):
        yield line


def _layout(header: str, source: str) -> _Layout:
    best: list[str] = []
    for delimiter in ";\t,":
        names = next(csv.reader([header], delimiter=delimiter), [])
        if len(names) > len(best):
            best = names
        columns, doubts = _columns(names)
        if doubts or ("latitude" in columns and "longitude" in columns):
            if doubts:
                raise OutlineError(
                    f"{source} cannot be used: more than one column could be meant. Rename the columns.", doubts
                )
            return _Layout(delimiter=delimiter, columns=columns, has_decimal_comma=delimiter != ",")
    seen = ", ".join(repr(plain_name(name)) for name in best[:30]) or "none"
    raise OutlineError(
        f"{source} cannot be used: the columns of latitude and longitude were not found. "
        "The first line must name them, such as 'lat' and 'lon'.",
        [f"columns found: {seen}"],
    )


def _columns(names: Sequence[str]) -> tuple[dict[str, int], list[str]]:
    """Return the place of each column, and the faults: what could be more than one column."""
    plain = [" ".join(_UNIT.sub("", name).lower().replace("_", " ").replace(":", " ").split()) for name in names]
    columns: dict[str, int] = {}
    doubts = []
    for what, groups in _NAMES.items():
        for group in groups:
            found = [place for place, name in enumerate(plain) if name in group]
            if len(found) > 1:
                doubts.append(f"{what} could be " + " or ".join(repr(plain_name(names[place])) for place in found))
            if found:
                columns[what] = found[0]
                break
    return columns, doubts


class _Rows:
    """Takes rows of a table into a batch."""

    def __init__(self, layout: _Layout, tally: Tally, source: str) -> None:
        self.batch = Batch()
        self._layout = layout
        self._tally, self._source = tally, source
        self._marks: tuple[str, str] | None = None  # of the track and segment of the last row
        self._last_tod_s = NAN
        self._day = 0

    def put(self, row: Sequence[str], line: int) -> None:
        """Take one row."""
        if not any(row):
            return
        lat, lon = self._number(row, "latitude"), self._number(row, "longitude")
        word = self._cell(row, "quality")
        quality = quality_of_word(word)
        if lat is None or lon is None or quality is None:
            self._tally.count_unreadable(plain_name(f"line {line}: {self._layout.delimiter.join(row)}")[:80])
            return
        self._mark(row)
        hdop = self._number(row, "hdop")
        if isnan(lat) or isnan(lon):
            quality = 0  # a row without a position
        self.batch.add(lon, lat, time_s=self._time_s(row), quality=quality, hdop=NAN if hdop is None else hdop)

    def _mark(self, row: Sequence[str]) -> None:
        marks = (self._cell(row, "track"), self._cell(row, "segment"))
        names = self._tally.track_names
        if self._marks is None:
            names.append(plain_name(marks[0]))
        elif marks != self._marks:
            self.batch.segment += 1
            if marks[0] != self._marks[0]:
                if self.batch.track + 1 >= MOST_TRACKS:
                    raise OutlineError(f"{self._source} has more than {MOST_TRACKS} tracks. Give a file of one field.")
                self.batch.track += 1
                names.append(plain_name(marks[0]))
        self._marks = marks

    def _cell(self, row: Sequence[str], what: str) -> str:
        place = self._layout.columns.get(what)
        return row[place].strip() if place is not None and place < len(row) else ""

    def _number(self, row: Sequence[str], what: str) -> float | None:
        """Return a number, NaN when the cell is empty, None when it is no number."""
        cell = self._cell(row, what)
        if not cell:
            return NAN
        if self._layout.has_decimal_comma and "." not in cell:
            cell = cell.replace(",", ".")
        try:
            return float(cell) if cell.isascii() and "_" not in cell else None
        except ValueError:
            return None

    def _time_s(self, row: Sequence[str]) -> float:
        cell, day = self._cell(row, "time"), self._cell(row, "date")
        if not cell:
            return NAN
        if day:
            time_s = time_of_text(f"{day}T{cell}")
        else:  # plain numbers first: 20260501 would be a date as well
            time_s = self._plain_time_s(row, cell)
            time_s = time_of_text(cell) if isnan(time_s) else time_s
        self._tally.bad_times += isnan(time_s)
        return time_s

    def _plain_time_s(self, row: Sequence[str], cell: str) -> float:
        """Return a time given as seconds, milliseconds, or as a time of day that may pass midnight."""
        match = _DAY_TIME.fullmatch(cell)
        if match is None:
            number = self._number(row, "time")
            if number is None or isnan(number):
                return NAN
            return number / 1000 if number > _LEAST_MILLISECONDS else number
        hours, minutes, seconds = match.groups(default="0")
        tod_s = int(hours) * 3600 + int(minutes) * 60 + float(seconds)
        self._day += tod_s - self._last_tod_s < -_DAY_S / 2
        self._last_tod_s = tod_s
        return self._day * _DAY_S + tod_s
