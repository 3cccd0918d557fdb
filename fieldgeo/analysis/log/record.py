"""`Log`: the records of one field, in its own frame, with a clock that runs forward; and the way from a file to it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np
import numpy.typing as npt

from fieldgeo.analysis.log.clock import check_faces, set_clock
from fieldgeo.analysis.log.places import FieldFound, are_on_earth, find_fields, local_metres, without_jumps
from fieldgeo.analysis.log.table import Rows, read_rows
from fieldgeo.errors import LogError
from fieldgeo.frame import FloatArray, Frame
from fieldgeo.outline.files.geojson import plain_name
from fieldgeo.outline.walk.quality import UNKNOWN, is_measured
from fieldgeo.units import FOOT_M, HOUR_S

if TYPE_CHECKING:
    import os

LEAST_RECORDS: Final = 10
_LEAST_WIDTH_M, _MOST_WIDTH_M = 0.3048, 91.44  # 1 to 300 ft, as in the shed file
_MOST_FIELDS_TOLD: Final = 6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Log:
    """Records of one field in the order of time. Every array has shape (N,), or (N, 2) for places."""

    name: str
    frame: Frame
    time_s: FloatArray  # from the first record, never falling [s]
    xy: FloatArray  # places in the frame [m]
    width_m: float  # full width of the tool: given, or the widest that is common in the log [m]
    is_width_given: bool = False
    is_cut: npt.NDArray[np.bool_]  # the clock jumped before this record
    columns: Mapping[str, FloatArray] = field(default_factory=dict)  # whatever else the log holds, by quantity, SI
    fields: tuple[FieldFound, ...] = ()  # all fields of the file
    notes: tuple[str, ...] = ()  # what was done, and what was left
    records_read: int = 0

    def __len__(self) -> int:
        return len(self.time_s)

    @property
    def interval_s(self) -> float:
        """Usual time between records. [s]"""
        return float(np.median(np.diff(self.time_s)))


def read_log(
    path: str | os.PathLike[str],
    *,
    columns: Mapping[str, str] | None = None,
    width_m: float | None = None,
    field_number: int | None = None,
) -> Log:
    """Return the records of one field from a log file.

    Parameters
    ----------
    path : str or path
        A table with named columns, GPX or NMEA 0183.
    columns : mapping of str to str, optional
        Quantity to the name of its column, with a unit after a colon: ``{"width": "Swth:ft"}``. See
        `fieldgeo.analysis.log.columns`.
    width_m : float, optional
        Full working width of the tool; without it, it must be in the log. [m]
    field_number : int, optional
        Which field of a file with several, from 1; without it the one with most time.

    Raises
    ------
    FileError
        If the file is missing or cannot be read.
    LogError
        If it holds too few records, no time, or no width, or there is no such field.
    """
    file = Path(path)
    rows = read_rows(file, columns)
    notes = [*rows.notes, *check_faces(rows.faces, source=str(file))]
    read = len(rows)
    if read == 0:
        raise LogError(f"{file} holds no records. Give the log of a day's work.")
    time_s = _times(rows, str(file), notes)
    kept = _placed(rows, notes)
    clock = set_clock(time_s[kept])
    notes += clock.notes
    order = kept[clock.order]
    time_s, is_cut = clock.time_s, clock.is_cut
    _check_count(len(order), read, str(file))
    lon, lat = rows.columns["lon"][order], rows.columns["lat"][order]
    keep = without_jumps(local_metres(lon, lat), time_s)
    if not keep.all():
        notes.append(f"{int((~keep).sum()):,} bad fixes, which jump away and back, were left out")
        order, time_s, lon, lat = order[keep], time_s[keep], lon[keep], lat[keep]
        is_cut = np.diff(np.cumsum(is_cut)[keep], prepend=0) > 0
    _check_count(len(order), read, str(file))
    fields = find_fields(lon, lat, time_s)
    mine = fields[_field_number(field_number, fields, str(file)) - 1].rows
    notes += _told_fields(fields, field_number)
    _check_count(len(mine), read, str(file))
    frame = Frame(lon_deg=round(_middle(lon[mine]), 6), lat_deg=round(_middle(lat[mine]), 6))
    x_m, y_m = frame.to_frame(lon[mine], lat[mine])
    more = {
        name: values[order][mine]
        for name, values in rows.columns.items()
        if name not in {"lat", "lon", "time", "quality"} and np.isfinite(values).any()
    }
    return Log(
        name=plain_name(file.stem), frame=frame, time_s=time_s[mine] - time_s[mine][0],
        xy=np.column_stack([x_m, y_m]), width_m=_width_m(width_m, more.get("width"), str(file)),
        is_width_given=width_m is not None, is_cut=is_cut[mine], columns=more, fields=tuple(fields),
        notes=tuple(notes), records_read=read,
    )  # fmt: skip


def _middle(values: FloatArray) -> float:
    return float((values.min() + values.max()) / 2)


def _times(rows: Rows, source: str, notes: list[str]) -> FloatArray:
    """Return the time of each row: as it stands, or summed from the seconds that each covers."""
    time_s = rows.columns.get("time")
    if time_s is not None and np.isfinite(time_s).any():
        return time_s
    cycle_s = rows.columns.get("cycle")
    if cycle_s is not None and np.isfinite(cycle_s).any():
        notes.append("no times: they were summed from the seconds of each record, so breaks between them are not known")
        return np.cumsum(np.nan_to_num(cycle_s))
    raise LogError(
        f"{source} has no times, so how long anything took cannot be told. Give a log with a time on each record; if "
        "its column has an odd name, write --columns time=NAME.",
        [f"times could not be read, such as {plain_name(rows.faces.first_bad)!r}"] if rows.faces.bad else [],
    )


def _placed(rows: Rows, notes: list[str]) -> npt.NDArray[np.int64]:
    """Return the rows that have a place on Earth which was measured."""
    is_there = are_on_earth(rows.columns["lon"], rows.columns["lat"])
    quality = rows.columns.get("quality")
    if quality is not None:
        graded = np.where(np.isfinite(quality), quality, UNKNOWN).astype(np.int8)
        is_void = is_there & ~is_measured(graded)
        if is_void.any():
            notes.append(f"{int(is_void.sum()):,} records without a measured fix were left out")
        is_there &= ~is_void
    missing = int((~are_on_earth(rows.columns["lon"], rows.columns["lat"])).sum())
    if missing:
        notes.append(f"{missing:,} records without a place on Earth were left out")
    return np.flatnonzero(is_there)


def _check_count(count: int, read: int, source: str) -> None:
    if count < LEAST_RECORDS:
        left = f" ({read:,} were read)" if read != count else ""
        raise LogError(
            f"{source} holds {count} {'record' if count == 1 else 'records'} with time and place{left}; at least "
            f"{LEAST_RECORDS} are needed to see any work. Give the log of a day's work."
        )


def _field_number(asked: int | None, fields: list[FieldFound], source: str) -> int:
    if asked is None:
        return 1
    if not 1 <= asked <= len(fields):
        raise LogError(
            f"{source}: field {asked} was asked for. It must be from 1 to {len(fields)}, the fields found in the log."
        )
    return asked


def _told_fields(fields: list[FieldFound], asked: int | None) -> list[str]:
    if len(fields) == 1:
        return []
    told = "; ".join(
        f"{number}: {each.time_s / HOUR_S:.2f} h at {each.lonlat[0]:.5f},{each.lonlat[1]:.5f}"
        for number, each in enumerate(fields[:_MOST_FIELDS_TOLD], start=1)
    )
    more = f"; and {len(fields) - _MOST_FIELDS_TOLD} more" if len(fields) > _MOST_FIELDS_TOLD else ""
    return [f"{len(fields)} fields in the file ({told}{more}); field {asked or 1} is read, --field picks another"]


def _width_m(given: float | None, column: FloatArray | None, source: str) -> float:
    """Return the full width: given, or the widest that a tenth of the records have."""
    if given is not None:
        width = given
    elif column is not None and (known := column[np.isfinite(column) & (column > 0)]).size:
        values, counts = np.unique(np.round(known, 3), return_counts=True)
        width = float(values[counts >= 0.1 * counts.sum()].max(initial=float(np.median(known))))
    else:
        raise LogError(
            f"{source} does not say how wide the tool is. Give its working width, such as --width 30ft, or name the "
            "column that holds it, such as --columns width=NAME:ft."
        )
    if not _LEAST_WIDTH_M <= width <= _MOST_WIDTH_M:
        raise LogError(
            f"{source}: the working width is {width:g} m. It must be from 1 ft to 300 ft "
            f"({_LEAST_WIDTH_M:g} to {_MOST_WIDTH_M:g} m); check its unit ({width / FOOT_M:g} ft)."
        )
    return float(width)
