"""NMEA 0183 in: GGA and RMC sentences of a receiver's log to positions, strictly by the rules of the fields.

Line: ``$``, two letters of the talker (GP, GN, GL, GA, GB ...), three of the sentence, fields after commas, ``*`` and
the exclusive-or of every character between ``$`` and ``*`` as two hexadecimal digits. GGA gives the quality of the fix,
RMC the date and whether the fix is void: they are paired by their time. Angles are ddmm.mmmm, degrees and decimal
minutes (NMEA 0183, field rules as several receiver manuals print them).

A reader of our own, because the rules fit on a page, because a log of ten million lines wants a few microseconds a
line, and because it must never raise on a garbled line but count it.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date
from math import isnan
from typing import TYPE_CHECKING, BinaryIO, Final

from fieldgeo.outline.files.geojson import plain_name
from fieldgeo.outline.walk.fixes import NAN, Batch
from fieldgeo.outline.walk.quality import UNKNOWN, VOID

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from fieldgeo.outline.walk.fixes import Fixes, Tally

BYTES_AT_ONCE: Final = 1 << 20
LONGEST_LINE: Final = 4096  # bytes; more is no line of a log
_LONGEST_SENTENCE: Final = 256  # bytes; the standard allows 82
_MOST_WAITING: Final = 8  # moments of which another sentence may still come
DAY_S: Final = 86_400.0

_TIME: Final = rb"(?:(\d\d)(\d\d)(\d\d(?:\.\d*)?))?"
_LATITUDE: Final = rb"(?:(\d\d)(\d\d(?:\.\d*)?))?,([NS]?)"
_LONGITUDE: Final = rb"(?:(\d\d\d)(\d\d(?:\.\d*)?))?,([EW]?)"
_GGA: Final = re.compile(
    rb"..GGA," + _TIME + b"," + _LATITUDE + b"," + _LONGITUDE + rb",(\d?),[^,]*,(\d+\.?\d*|\.\d+)?(?:,.*)?"
)
_RMC: Final = re.compile(
    rb"..RMC," + _TIME + b",([AV]?)," + _LATITUDE + b"," + _LONGITUDE
    + rb",[^,]*,[^,]*,(?:(\d\d)(\d\d)(\d\d))?(?:,[^,]*,[^,]*(?:,([A-Z]?)(?:,.*)?)?)?"
)  # fmt: skip
# Mode letters of RMC in newer versions of the standard, as GGA qualities.
_MODES: Final = {b"A": 1, b"D": 2, b"P": 3, b"R": 4, b"F": 5, b"E": 6, b"M": 7, b"S": 8, b"N": 0}


@dataclass(slots=True, kw_only=True)
class _Moment:
    """What has been said of one moment so far."""

    tod_s: float  # time of day; NaN when the sentence had none
    day: int | None = None  # date, as days from year 1
    lon_deg: float | None = None
    lat_deg: float | None = None
    quality: int | None = None
    hdop: float = NAN
    is_void: bool = False  # RMC says so
    gga_talker: bytes = b""
    rmc_talker: bytes = b""


def nmea_batches(file: BinaryIO, tally: Tally, progress: Callable[[], None]) -> Iterator[Fixes]:
    """Give the positions of an NMEA 0183 log, some at a time.

    Lines that are no GGA or RMC are passed over, and so is anything before the ``$``. Lines whose checksum fails or is
    missing, and sentences that break the rules of their fields, are counted. Sentences without a position are handed on
    as void.

    Parameters
    ----------
    file : binary file
        The log, open for reading.
    tally : Tally
        Counts what is passed over.
    progress : callable
        Called every now and then.

    Yields
    ------
    Fixes
        One track, one segment.
    """
    tally.has_checksums = True
    tally.track_names.append("")
    clock = _Clock()
    batch = Batch()
    waiting: dict[float, _Moment] = {}
    datums: set[bytes] = set()
    for line in _lines(file, progress):
        body = _body(line, tally)
        if body is None:
            continue
        if body[2:5] == b"DTM":
            datums.add(body.split(b",")[1] if b"," in body else b"")
        found = _moment(body, tally)
        if found is None:
            continue
        for done in _pair(found, waiting, tally):
            clock.put(done, batch)
        if batch.is_full:
            yield batch.take()
    for moment in waiting.values():
        clock.put(moment, batch)
    if len(batch):
        yield batch.take()
    strange = sorted(plain_name(datum.decode("ascii", "replace")) for datum in datums - {b"W84", b""})[:3]
    if strange:
        tally.notes.append(
            f"its DTM sentences name another datum than WGS 84 ({', '.join(strange)}): places may be off by some metres"
        )


def checksum(body: bytes) -> int:
    """Return the exclusive-or of the bytes between ``$`` and ``*``.

    Parameters
    ----------
    body : bytes
        At most 256 of them.

    Examples
    --------
    >>> f"{checksum(b'GPGGA,,,,,,0,00,99.9,,,,,,'):02X}"
    '71'
    """
    folded = int.from_bytes(body, "big")
    for shift in (1024, 512, 256, 128, 64, 32, 16, 8):  # halves upon each other, down to one byte
        folded ^= folded >> shift
    return folded & 0xFF


def _lines(file: BinaryIO, progress: Callable[[], None]) -> Iterator[bytes]:
    """Give lines without their ends, whatever the ends are; what is longer than a line of a log is cut to pieces."""
    rest = b""
    while chunk := file.read(BYTES_AT_ONCE):
        lines = (rest + chunk).replace(b"\r", b"\n").split(b"\n")
        rest = lines.pop()[-LONGEST_LINE:]
        yield from lines
        progress()
    yield rest


def _body(line: bytes, tally: Tally) -> bytes | None:
    """Return what stands between the last ``$`` and ``*``; None for no sentence or a false checksum."""
    start = line.rfind(b"$")
    if start < 0:
        return None
    body, star, check = line[start + 1 : start + 1 + _LONGEST_SENTENCE].partition(b"*")
    check = check.strip()
    try:
        is_right = bool(star) and len(check) == 2 and check.isalnum() and int(check, 16) == checksum(body)
    except ValueError:
        is_right = False
    if not is_right:
        tally.bad_checksums += 1
        return None
    return body


def _moment(body: bytes, tally: Tally) -> _Moment | None:
    """Return what a GGA or RMC sentence says; None for another, and for one that breaks the rules: that is counted."""
    read = {b"GGA": _gga, b"RMC": _rmc}.get(body[2:5])
    if read is None:
        return None
    found = read(body)
    if found is None:
        tally.count_unreadable(plain_name(body.decode("ascii", "replace"))[:80])
    return found


def _gga(body: bytes) -> _Moment | None:
    match = _GGA.fullmatch(body)
    if match is None:
        return None
    hours, minutes, seconds, lat, lat_min, north, lon, lon_min, east, quality, hdop = match.groups()
    moment = _Moment(tod_s=_tod_s(hours, minutes, seconds), gga_talker=body[:2])
    moment.quality = int(quality) if quality else VOID
    moment.hdop = float(hdop) if hdop else NAN
    return moment if _put_position(moment, lat, lat_min, north, lon, lon_min, east) else None


def _rmc(body: bytes) -> _Moment | None:
    match = _RMC.fullmatch(body)
    if match is None:
        return None
    hours, minutes, seconds, status, lat, lat_min, north, lon, lon_min, east, day, month, year, mode = match.groups()
    moment = _Moment(tod_s=_tod_s(hours, minutes, seconds), rmc_talker=body[:2])
    moment.is_void = status != b"A"
    moment.quality = _MODES.get(mode, UNKNOWN) if mode else UNKNOWN
    if day is not None:
        try:  # two digits of the year: the standard is of 1983
            moment.day = date(int(year) + (1900 if int(year) >= 80 else 2000), int(month), int(day)).toordinal()
        except ValueError:
            return None
    return moment if _put_position(moment, lat, lat_min, north, lon, lon_min, east) else None


def _put_position(
    moment: _Moment,
    lat: bytes | None,
    lat_min: bytes | None,
    north: bytes,
    lon: bytes | None,
    lon_min: bytes | None,
    east: bytes,
) -> bool:
    """Put the position into a moment, if there is one; return whether the fields keep the rules."""
    if lat is None and lon is None:
        return True
    if lat is None or lat_min is None or lon is None or lon_min is None or not north or not east:
        return False
    minutes_n, minutes_e = float(lat_min), float(lon_min)
    lat_deg, lon_deg = int(lat) + minutes_n / 60, int(lon) + minutes_e / 60
    if minutes_n >= 60 or minutes_e >= 60 or lat_deg > 90 or lon_deg > 180:
        return False
    moment.lat_deg = -lat_deg if north == b"S" else lat_deg
    moment.lon_deg = -lon_deg if east == b"W" else lon_deg
    return True


def _tod_s(hours: bytes | None, minutes: bytes, seconds: bytes) -> float:
    if hours is None:
        return NAN
    return int(hours) * 3600.0 + int(minutes) * 60.0 + float(seconds)


def _pair(found: _Moment, waiting: dict[float, _Moment], tally: Tally) -> Iterator[_Moment]:
    """Put a sentence to the moment it belongs to; give the moments for which nothing more is to come."""
    if isnan(found.tod_s):  # no time to find it by
        yield from waiting.values()
        waiting.clear()
        yield found
        return
    other = waiting.get(found.tod_s)
    if other is None:
        waiting[found.tod_s] = found
    elif found.gga_talker and other.gga_talker:
        if found.gga_talker == other.gga_talker:  # the clock prints fewer digits than the receiver has fixes
            yield from _until(found.tod_s, waiting)
            waiting[found.tod_s] = found
        else:
            tally.repeated += 1
    elif found.rmc_talker and other.rmc_talker:
        if other.gga_talker:
            pass  # a second RMC adds nothing
        elif found.rmc_talker == other.rmc_talker:
            yield from _until(found.tod_s, waiting)
            waiting[found.tod_s] = found
        else:
            tally.repeated += 1
    else:
        gga, rmc = (found, other) if found.gga_talker else (other, found)
        gga.day, gga.is_void, gga.rmc_talker = rmc.day, rmc.is_void, rmc.rmc_talker
        waiting[found.tod_s] = gga
    while len(waiting) > _MOST_WAITING:
        yield waiting.pop(next(iter(waiting)))


def _until(tod_s: float, waiting: dict[float, _Moment]) -> Iterator[_Moment]:
    """Give the moments that wait, in their order, the one of a time the last."""
    is_found = False
    while not is_found:
        first = next(iter(waiting))
        is_found = first == tod_s
        yield waiting.pop(first)


class _Clock:
    """Turns times of day into times that run on past midnight."""

    def __init__(self) -> None:
        self._day = 0
        self._last_s = NAN

    def put(self, moment: _Moment, batch: Batch) -> None:
        """Add the position of a moment to a batch."""
        if moment.day is not None:
            self._day = moment.day
        elif moment.tod_s - self._last_s < -DAY_S / 2:
            self._day += 1
        if not isnan(moment.tod_s):
            self._last_s = moment.tod_s
        time_s = self._day * DAY_S + moment.tod_s
        if moment.lon_deg is None or moment.lat_deg is None:
            batch.add(NAN, NAN, time_s=time_s, quality=VOID)
            return
        quality = VOID if moment.is_void else moment.quality
        batch.add(
            moment.lon_deg,
            moment.lat_deg,
            time_s=time_s,
            quality=UNKNOWN if quality is None else quality,
            hdop=moment.hdop,
        )
