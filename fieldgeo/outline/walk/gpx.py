"""GPX 1.0 and 1.1 in: track points, waypoints, and route points where there is no track, as a stream.

GPX 1.1: ``trk`` holds ``trkseg`` (a new one begins wherever reception was lost), which holds ``trkpt`` with the
attributes lat and lon, WGS 84 degrees; children used are ``time`` (UTC, ISO 8601), ``fix`` and ``hdop`` (GPX 1.1
schema). Only elements in the namespace of the root are read: what extensions hold is theirs. The parser is that of
defusedxml, which refuses entities; no tree is built, so memory does not grow with the file.
"""

from __future__ import annotations

from datetime import UTC, datetime
from math import isnan
from typing import TYPE_CHECKING, BinaryIO, Final
from xml.etree.ElementTree import ParseError

from defusedxml.common import DefusedXmlException
from defusedxml.ElementTree import DefusedXMLParser

from fieldgeo.errors import OutlineError
from fieldgeo.outline.files.geojson import plain_name
from fieldgeo.outline.walk.fixes import MOST_TRACKS, MOST_WAYPOINTS, NAN, Batch, Waypoint
from fieldgeo.outline.walk.quality import UNKNOWN, quality_of_word

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from fieldgeo.outline.walk.fixes import Fixes, Tally

BYTES_AT_ONCE: Final = 1 << 18
_LONGEST_TEXT: Final = 1000  # characters of one element that are read
_DEEPEST: Final = 100
_LONGEST_SILENCE: Final = 4_000_000  # bytes without an element or text: a comment or attribute the parser must hold
_POINTS: Final = {"trkpt", "rtept", "wpt"}
_TEXTS: Final = {"time", "fix", "hdop", "name", "type"}


def gpx_batches(file: BinaryIO, tally: Tally, progress: Callable[[], None], *, source: str) -> Iterator[Fixes]:
    """Give the points of all tracks of a GPX file, some at a time; those of its routes when it has no track.

    Parameters
    ----------
    file : binary file
        The file, open for reading; it is read a second time when it has routes and no track.
    tally : Tally
        Counts what is passed over; gets the names, and the waypoints.
    progress : callable
        Called every now and then.
    source : str
        Name of the file, for messages.

    Yields
    ------
    Fixes
        Each track has its number, each segment too.

    Raises
    ------
    OutlineError
        If the file is not GPX, ends early, or has entities or more than 1,000 tracks.
    """
    target = _Target(tally, source, point="trkpt", line="trk", piece="trkseg")
    yield from _parsed(file, target, progress, source)
    if target.points or not target.other_points:
        return
    tally.notes.append("it has no track: its route was read, points that somebody set and nobody walked")
    tally.waypoints.clear()
    tally.unreadable = 0
    file.seek(0)
    yield from _parsed(file, _Target(tally, source, point="rtept", line="rte", piece="rte"), progress, source)


def time_of_text(text: str) -> float:
    """Return a time as ISO 8601 writes it, in seconds from 1970; without a zone it is UTC. NaN when it is no time. [s]

    Parameters
    ----------
    text : str
        Such as ``"2026-05-01T12:00:00Z"``.

    Examples
    --------
    >>> time_of_text("1970-01-02T00:00:00.5Z")
    86400.5
    """
    try:
        moment = datetime.fromisoformat(text.strip())
        return (moment if moment.tzinfo else moment.replace(tzinfo=UTC)).timestamp()
    except (ValueError, OverflowError):
        return NAN


def _parsed(file: BinaryIO, target: _Target, progress: Callable[[], None], source: str) -> Iterator[Fixes]:
    parser = DefusedXMLParser(target=target, forbid_dtd=False, forbid_entities=True, forbid_external=True)
    try:
        silent = 0
        while chunk := file.read(BYTES_AT_ONCE):
            events_before = target.events
            parser.feed(chunk)
            silent = silent + len(chunk) if target.events == events_before else 0
            if silent > _LONGEST_SILENCE:
                raise OutlineError(
                    f"{source} cannot be used: one piece of it is longer than {_LONGEST_SILENCE / 1e6:.0f} MB. "
                    "Save the track again from the receiver."
                )
            if target.batch.is_full:
                yield target.batch.take()
            progress()
        parser.close()
    except ParseError as error:
        line, column = error.position
        reason = plain_name(str(error).partition(":")[0])
        raise OutlineError(
            f"{source} cannot be used: it is no whole XML file. Save the track again from the receiver.",
            [f"line {line}, column {column}: {reason}; {target.points} track points were read before it"],
        ) from error
    except DefusedXmlException as error:
        raise OutlineError(
            f"{source} cannot be used: it declares XML entities, which no track needs and which can do harm. "
            "Save the track again from the receiver."
        ) from error
    except (ValueError, LookupError) as error:  # an encoding that nobody knows, for one
        raise OutlineError(f"{source} cannot be used: it is no XML file: {plain_name(str(error))}.") from error
    if len(target.batch):
        yield target.batch.take()


class _Target:
    """Takes the events of the parser: what ElementTree calls a target."""

    def __init__(self, tally: Tally, source: str, *, point: str, line: str, piece: str) -> None:
        self.batch = Batch()
        self.events = 0
        self.points = 0
        self.other_points = 0  # of routes, while tracks are read
        self._tally, self._source = tally, source
        self._point, self._line, self._piece = point, line, piece
        self._prefix = ""  # namespace of the root, as ElementTree writes it before a tag
        self._path: list[str] = []
        self._texts: dict[str, str] = {}
        self._position: dict[str, str] = {}
        self._text: list[str] | None = None
        self._lines = 0
        self._pieces = 0

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        """Take the start of an element."""
        self.events += 1
        if not self._path:
            self._prefix, _, name = tag.rpartition("}")
            self._prefix += "}" if self._prefix else ""
            if name != "gpx":
                raise OutlineError(
                    f"{self._source} cannot be used: its first element is {plain_name(name)!r}, and that of "
                    "a GPX file is 'gpx'. Give a GPX 1.0 or 1.1 file."
                )
        if len(self._path) >= _DEEPEST:
            raise OutlineError(
                f"{self._source} cannot be used: its elements lie more than {_DEEPEST} deep. Give a GPX file."
            )
        is_ours = tag.startswith(self._prefix)
        name = tag[len(self._prefix) :] if is_ours else ""
        self._path.append(name)
        if name in _POINTS:
            self._position = attributes
            self._texts = {}
        elif name in _TEXTS:
            self._text = []
        elif name == self._line:
            self._begin_line()
        if name == self._piece:
            self.batch.segment = self._pieces
            self._pieces += 1

    def data(self, text: str) -> None:
        """Take some text of an element."""
        self.events += 1
        if self._text is not None and len(self._text) < _LONGEST_TEXT:
            self._text.append(text[:_LONGEST_TEXT])

    def end(self, _tag: str) -> None:
        """Take the end of an element."""
        name = self._path.pop()
        above = self._path[-1] if self._path else ""
        if self._text is not None and name in _TEXTS:
            text = "".join(self._text)[:_LONGEST_TEXT]
            self._text = None
            if above in _POINTS:
                self._texts[name] = text
            elif name == "name":
                self._name(above, plain_name(text))
        elif name == self._point:
            self._put_point()
        elif name == "wpt":
            self._put_waypoint()
        elif name == "rtept":
            self.other_points += 1

    def close(self) -> None:
        """Take the end of the file."""

    def _begin_line(self) -> None:
        if self._lines >= MOST_TRACKS:
            raise OutlineError(f"{self._source} has more than {MOST_TRACKS} tracks. Give a file of one field.")
        self.batch.track = self._lines
        self._lines += 1
        while len(self._tally.track_names) < self._lines:
            self._tally.track_names.append("")

    def _name(self, above: str, text: str) -> None:
        if above == self._line and self._lines:
            self._tally.track_names[self._lines - 1] = text
        elif above in {"gpx", "metadata"}:
            self._tally.name = text

    def _place(self) -> tuple[float, float] | None:
        try:
            return float(self._position["lon"]), float(self._position["lat"])
        except (KeyError, ValueError):
            return None

    def _put_point(self) -> None:
        self.points += 1
        texts = self._texts
        place = self._place()
        quality = quality_of_word(texts["fix"]) if "fix" in texts else UNKNOWN
        try:
            hdop = float(texts["hdop"]) if "hdop" in texts else NAN
        except ValueError:
            hdop = NAN
        if place is None or quality is None:
            seen = f"lat {self._position.get('lat')}, lon {self._position.get('lon')}, fix {texts.get('fix', '-')}"
            self._tally.count_unreadable(plain_name(f"point {self.points}: {seen}")[:80])
            return
        time_s = time_of_text(texts["time"]) if "time" in texts else NAN
        self._tally.bad_times += "time" in texts and isnan(time_s)
        self.batch.add(place[0], place[1], time_s=time_s, quality=quality, hdop=hdop)

    def _put_waypoint(self) -> None:
        place = self._place()
        if place is None or len(self._tally.waypoints) >= MOST_WAYPOINTS:
            self._tally.waypoints_left_out += 1
            return
        name, kind = plain_name(self._texts.get("name", "")), plain_name(self._texts.get("type", ""))
        self._tally.waypoints.append(Waypoint(name=name, kind=kind, lon_deg=place[0], lat_deg=place[1]))
