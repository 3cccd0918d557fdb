"""Times of a log: text to seconds, and a clock that never runs back."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Final

import numpy as np
import numpy.typing as npt

from fieldgeo.errors import LogError
from fieldgeo.frame import FloatArray

DAY_S: Final = 86_400.0
NAN: Final = float("nan")
_LEAST_MILLISECONDS: Final = 1e11  # as seconds this would be the year 5138
_DAY_TIME: Final = re.compile(r"(\d{1,2}):(\d\d)(?::(\d\d(?:[.,]\d*)?))?")
# A quarter of an hour is the least step between time zones.
_ZONE_STEP_S: Final = 900.0
# Where so many rows repeat the time of the row before, the clock is coarser than the records (own choice).
_COARSE_SHARE: Final = 0.2
# Where so many rows step back, the file is not in the order of time (own choice).
_UNSORTED_SHARE: Final = 0.02
_MOST_JUMPS: Final = 5  # as many may be clocks that were set


@dataclass(slots=True, kw_only=True)
class ClockFaces:
    """In which forms times stood in a file, counted while it is read."""

    zoned: int = 0
    plain: int = 0  # day and time without a zone
    bad: int = 0
    first_bad: str = ""
    zones: set[str] | None = None

    def see_zone(self, zone: str) -> None:
        """Put down a zone as it was written.

        Parameters
        ----------
        zone : str
            Such as ``"Z"`` or ``"-06:00"``.
        """
        self.zones = (self.zones or set()) | {"+00:00" if zone.upper() == "Z" else zone}


def moment_s(text: str, faces: ClockFaces) -> float:
    """Return a time given as text, in seconds; NaN when it is no time. [s]

    Parameters
    ----------
    text : str
        Seconds or milliseconds from any beginning, day and time as ISO 8601 writes them, or a time of day.
    faces : ClockFaces
        Gets the form the time stood in.

    Examples
    --------
    >>> moment_s("1970-01-02T01:00:00+01:00", ClockFaces()), moment_s("12:30:05", ClockFaces())
    (86400.0, 45005.0)
    """
    text = text.strip()
    if not text:
        return NAN
    try:
        number = float(text)
        return number_s(number)
    except ValueError:
        pass
    match = _DAY_TIME.fullmatch(text)
    if match is not None:
        hours, minutes, seconds = match.groups(default="0")
        faces.plain += 1
        return int(hours) * 3600 + int(minutes) * 60 + float(seconds.replace(",", "."))
    try:
        moment = datetime.fromisoformat(text.replace("/", "-"))
        if moment.tzinfo is None:
            faces.plain += 1
            return moment.replace(tzinfo=UTC).timestamp()
        faces.zoned += 1
        offset = moment.strftime("%z")
        faces.see_zone(f"{offset[:3]}:{offset[3:5]}")
        return moment.timestamp()
    except (ValueError, OverflowError):
        faces.bad += 1
        faces.first_bad = faces.first_bad or text[:40]
        return NAN


def number_s(number: float) -> float:
    """Return a time given as a number: seconds, or milliseconds where that is meant. [s]

    Parameters
    ----------
    number : float
        Seconds or milliseconds from any beginning.
    """
    return number / 1000 if abs(number) > _LEAST_MILLISECONDS else number


def check_faces(faces: ClockFaces, *, source: str) -> list[str]:
    """Return notes on the forms in which times stood in a file.

    Parameters
    ----------
    faces : ClockFaces
        What was seen.
    source : str
        Name of the file, for messages.

    Raises
    ------
    LogError
        If some times name their zone and others do not.
    """
    zones = sorted(faces.zones or ())
    if faces.zoned and faces.plain:
        raise LogError(
            f"{source} cannot be read as a log: its times are in two forms, and which came first cannot be told. Write "
            "all times with their zone, or all without.",
            [f"{faces.zoned:,} times name a zone ({', '.join(zones)}), {faces.plain:,} name none"],
        )
    notes = []
    if len(zones) > 1:
        notes.append(f"times in {len(zones)} time zones ({', '.join(zones[:4])}); all were taken to UTC")
    if faces.bad:
        notes.append(f"{faces.bad:,} times could not be read, such as {faces.first_bad!r}; those rows were left out")
    return notes


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SetClock:
    """A clock that runs forward, and what was done for it."""

    order: npt.NDArray[np.int64]  # rows that are kept, in their order
    time_s: FloatArray  # of those rows, never falling [s]
    is_cut: npt.NDArray[np.bool_]  # True where the clock jumped before the row
    notes: tuple[str, ...]


def set_clock(time_s: FloatArray) -> SetClock:
    """Return rows in the order of time, the clock running forward.

    Rows without a time, and those that repeat the time of the row before, are left out. Where the clock goes back, what
    follows is moved so that it goes on after the usual interval.

    Parameters
    ----------
    time_s : ndarray of shape (N,)
        Times in the order of the file; NaN where there is none. [s]
    """
    notes: list[str] = []
    order = np.flatnonzero(np.isfinite(time_s))
    if len(order) < len(time_s):
        notes.append(f"{len(time_s) - len(order):,} records without a time were left out")
    time = time_s[order]
    if len(time) < 2:
        return SetClock(order=order, time_s=time, is_cut=np.zeros(len(time), dtype=bool), notes=tuple(notes))
    steps = np.diff(time)
    if np.sum(steps < 0) > max(_UNSORTED_SHARE * len(steps), _MOST_JUMPS):
        notes.append(f"{int((steps < 0).sum()):,} records were out of order in time; all were sorted by it")
        order = order[np.argsort(time, kind="stable")]
        time = time_s[order]
        steps = np.diff(time)
    forward = steps[steps > 0]
    usual_s = float(np.median(forward)) if len(forward) else 1.0
    if np.mean(steps == 0) > _COARSE_SHARE:
        time = _spread(time, usual_s)
        notes.append("several records share a time: they were spread over the seconds until the next")
    else:
        kept = np.concatenate([[True], steps != 0])
        if not kept.all():
            notes.append(f"{int((~kept).sum()):,} records with the time of the one before were left out")
            order, time = order[kept], time[kept]
    return _run_forward(order, time, usual_s, notes)


def _spread(time: FloatArray, usual_s: float) -> FloatArray:
    """Spread records that share a time evenly over the interval to the next time."""
    starts = np.concatenate([[0], np.flatnonzero(np.diff(time) != 0) + 1])
    counts = np.diff(np.append(starts, len(time)))
    first = time[starts]
    after = np.diff(first, append=first[-1] + usual_s)
    step_s = np.clip(after, 0.0, usual_s) / counts
    within = np.arange(len(time)) - np.repeat(starts, counts)
    return np.asarray(np.repeat(first, counts) + within * np.repeat(step_s, counts))


def _run_forward(order: npt.NDArray[np.int64], time: FloatArray, usual_s: float, notes: list[str]) -> SetClock:
    """Move what follows each step back so that it goes on after the usual interval."""
    steps = np.diff(time)
    back = np.flatnonzero(steps < 0) + 1
    is_cut = np.zeros(len(time), dtype=bool)
    if len(back):
        is_cut[back] = True
        shift = np.zeros(len(time))
        shift[back] = usual_s - steps[back - 1]
        largest = float(-steps.min())
        quarters = steps[back - 1] / _ZONE_STEP_S
        is_zone = bool(np.all(np.round(quarters) < 0) and np.all(np.abs(quarters - np.round(quarters)) < 0.02))
        zone = " (whole quarters of an hour: a change of time zone)" if is_zone else ""
        notes.append(
            f"the clock went back {len(back):,} {'time' if len(back) == 1 else 'times'}, by up to {largest:,.0f} s"
            f"{zone}: what follows was moved to go on {usual_s:g} s later"
        )
        time = time + np.cumsum(shift)
    return SetClock(order=order, time_s=time, is_cut=is_cut, notes=tuple(notes))
