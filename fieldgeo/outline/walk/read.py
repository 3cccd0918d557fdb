"""`read_walk`: from the log of a receiver to a walked outline, as a stream and in bounded memory."""

from __future__ import annotations

from math import isfinite
from typing import TYPE_CHECKING, BinaryIO, Final, Literal, TypeAlias

from fieldgeo.errors import FileError, InputError
from fieldgeo.outline.walk.build import build_walk
from fieldgeo.outline.walk.fixes import Tally
from fieldgeo.outline.walk.gpx import gpx_batches
from fieldgeo.outline.walk.nmea import nmea_batches
from fieldgeo.outline.walk.quality import LEAST_QUALITIES
from fieldgeo.outline.walk.sift import Sieve
from fieldgeo.outline.walk.table import table_batches

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from fieldgeo.outline.raw import Reading
    from fieldgeo.outline.rules import WalkRules
    from fieldgeo.outline.walk.fixes import Fixes

WalkKind: TypeAlias = Literal["gpx", "nmea", "csv"]

LARGEST_OFFSET_M: Final = 100.0  # no machine carries its antenna farther from the edge; common practice, no source


def read_walk(
    path: Path, kind: WalkKind, rules: WalkRules, *, progress: Callable[[float], None] | None = None
) -> Reading:
    """Return the outline that a walked or driven track goes round.

    The file is read as a stream; only points that are kept stay in memory, 500,000 at most.

    Parameters
    ----------
    path : Path
        GPX 1.0 or 1.1 file, NMEA 0183 log, or table with named columns.
    kind : {"gpx", "nmea", "csv"}
        Which of them it is.
    rules : WalkRules
        How the track is cleaned.
    progress : callable, optional
        Called now and then with the share of the file that has been read, 0 to 1.

    Returns
    -------
    Reading
        With a `WalkReport` in its evidence.

    Raises
    ------
    FileError
        If the file is missing, not a plain file, or cannot be read.
    InputError
        If a rule is out of its range.
    OutlineError
        If the file is not of its kind, or no ring can be made of the track.
    """
    check_rules(rules)
    tally = Tally()
    sieve = Sieve(rules)
    try:
        with _opened(path) as file:
            share = _Share(file, path.stat().st_size, progress)
            for batch in _batches(file, kind, tally, share, str(path)):
                sieve.add(batch)
    except FileError:
        raise
    except OSError as error:
        raise FileError(f"{str(path)!r} cannot be read: {error}. Check that it may be opened.") from error
    if progress is not None:
        progress(1.0)
    return build_walk(sieve.end(), sieve.dropped, tally, rules, source=str(path))


def check_rules(rules: WalkRules) -> None:
    """Refuse rules that are out of their range.

    Parameters
    ----------
    rules : WalkRules
        The rules.

    Raises
    ------
    InputError
        If one of them is.
    """
    if rules.least_quality not in LEAST_QUALITIES:
        raise InputError(f"least quality: got {rules.least_quality!r}. It must be one of {', '.join(LEAST_QUALITIES)}.")
    for name, value, least in (
        ("accuracy", rules.accuracy_m, 0.0),
        ("most HDOP", rules.most_hdop, 0.0),
        ("most speed", rules.most_speed_m_s, 0.0),
        ("step", rules.step_m, 0.0),
        ("tolerance of thinning", rules.thin_m, 0.0),
        ("offset", abs(rules.offset_m), 0.0),
    ):
        if value is not None and not (isfinite(value) and value >= least):
            raise InputError(f"{name}: got {value:g}. It must be a finite number, {least:g} or more.")
    if rules.most_speed_m_s == 0:
        raise InputError("most speed: got 0 m/s. It must be more than 0, such as 15 m/s.")
    if abs(rules.offset_m) > LARGEST_OFFSET_M:
        raise InputError(f"offset: got {rules.offset_m:g} m. It must be within {LARGEST_OFFSET_M:g} m.")


def _opened(path: Path) -> BinaryIO:
    if not path.exists():
        raise FileError(f"{path}: there is no such file. Check the name and the folder.")
    if not path.is_file():
        raise FileError(f"{path} is not a plain file. Give the log of a walk.")
    return path.open("rb")


def _batches(
    file: BinaryIO, kind: WalkKind, tally: Tally, progress: Callable[[], None], source: str
) -> Iterator[Fixes]:
    if kind == "gpx":
        return gpx_batches(file, tally, progress, source=source)
    if kind == "nmea":
        return nmea_batches(file, tally, progress)
    return table_batches(file, tally, progress, source=source)


class _Share:
    """Tells how much of a file has been read."""

    def __init__(self, file: BinaryIO, size: int, progress: Callable[[float], None] | None) -> None:
        self._file, self._size, self._progress = file, size, progress
        self._last = 0.0

    def __call__(self) -> None:
        if self._progress is not None and self._size:
            self._last = max(self._last, min(1.0, self._file.tell() / self._size))  # a route is read the second time
            self._progress(self._last)
