"""From the phrases of a deed to its calls: what belongs to which call, and what is missing.

A call begins at "thence", or at the next bearing once it has all it needs. In a text without the word "thence" it also
begins at the start of a line. What stands before the first "thence" tells where the deed begins, and is no call unless
it reads like one ("beginning at a stone and running N 45 E 20 poles").
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final, Literal

from fieldgeo.outline.deed.model import Call, CurveWords, DeedCalls, Turn
from fieldgeo.outline.deed.phrases import Phrase, find_phrases
from fieldgeo.outline.deed.stated import StatedArea
from fieldgeo.outline.deed.values import Bearing, Distance, LengthRules
from fieldgeo.outline.files.geojson import plain_name

if TYPE_CHECKING:
    from collections.abc import Iterable

MOST_CALLS: Final = 2000  # of one deed; a deed has a dozen, the meanders of a river some hundred
_LONGEST_TEXT: Final = 90  # letters of a call that are shown
_MOST_NOTES: Final = 20
_NEAR: Final = 25  # letters between a bearing and its distance that leave no doubt
_OPENERS: Final = frozenset({"CURVE", "ARC", "RADIUS", "CHORD", "DELTA", "CURVE_DEGREE", "CONCAVE", "NON_TANGENT"})
_KEYS: Final = frozenset({"RADIUS", "ARC", "CHORD", "TANGENT", "DELTA", "CURVE_DEGREE", "RADIAL", "CENTER"})
_MARKS: Final = {"NON_TANGENT": "is_non_tangent", "MAJOR": "is_over_180", "CHORD_DEFINITION": "is_chord_definition"}
_LENGTHS: Final = {"RADIUS": "radius", "ARC": "arc", "CHORD": "chord", "TANGENT": "tangent"}
_BEARINGS: Final = {"CHORD": "chord_bearing", "RADIAL": "radial", "CENTER": "radial", "TANGENT": "tangent_bearing"}
# A course to the beginning, from some corner known to all, and no side of the land.
_TIE_REACH: Final = 300  # letters round it that are looked through
_TIE: Final = re.compile(r"\b(which|whence|bears?|bearing|from|distant|located|lying|lies|situated?|being)\b", re.I)
_TIE_AFTER: Final = re.compile(r"^[\s,]*(from|of)\b", re.I)
_AT: Final = re.compile(r"\bat\s+$", re.I)
_TOTAL_BEFORE: Final = re.compile(r"\b(total\s+(distance\s+)?(of\s+)?|in\s+all,?\s+)$", re.I)
_TOTAL_AFTER: Final = re.compile(r",?\s+(in\s+all|total)\b", re.I)
_FROM_CENTER: Final = re.compile(
    r"from\s+(the\s+|its\s+|said\s+)?(cent(er|re)|radius\s+point)|(cent(er|re)|radius\s+point)[\s-]+to[\s-]+point"
    r"|radial(\s+line|\s+bearing)?\s+(to|through)\s+(said|the|a|that|this)\s+(point|beginning|end|corner)"
    r"|to\s+which\s+(said\s+|beginning\s+)*(point\s+)?a\s+radial",
    re.I,
)
_TO_CENTER: Final = re.compile(
    r"to\s+(the\s+|its\s+|said\s+)?(cent(er|re)|radius\s+point)|point[\s-]+to[\s-]+(cent(er|re)|radius)", re.I
)


@dataclass(slots=True, kw_only=True)
class _Piece:
    """A call while it is put together."""

    line: int = 1
    start: int = -1
    end: int = -1
    opened: Literal["", "THENCE", "RUNNING"] = ""
    bearing: Bearing | None = None
    distance: Distance | None = None
    has_bearing: bool = False  # also one that cannot be read
    has_distance: bool = False
    curve: CurveWords | None = None  # of this call
    coming: CurveWords | None = None  # told of at the end of a straight call, for the next
    key: str = ""  # what the next value belongs to
    is_home: bool = False
    is_parted: bool = False  # a semicolon, or in a list the end of the line, has come
    is_faulty: bool = False
    unlabelled: list[str] = field(default_factory=list)

    def is_complete(self) -> bool:
        return self.has_bearing and self.has_distance and self.curve is None

    def is_empty(self) -> bool:
        return not (self.has_bearing or self.has_distance or self.curve)


def read_calls(text: str, rules: LengthRules, first_line: int = 1) -> DeedCalls:
    """Return the calls of a deed.

    Parameters
    ----------
    text : str
        The deed without its header; lines end with a line feed.
    rules : LengthRules
        Unit of distances that have none, and length of the vara.
    first_line : int
        Number of its first line in the file, for messages.
    """
    phrases = find_phrases(text, rules)
    reader = _Reader(text, phrases, first_line)
    for phrase in phrases:
        reader.take(phrase)
    reader.close()
    return reader.result()


class _Reader:
    """Takes phrases one by one; `piece` is the call that is being put together."""

    def __init__(self, text: str, phrases: Iterable[Phrase], first_line: int) -> None:
        self.text = text
        self.shift = first_line - 1
        self.is_list = all(phrase.kind != "THENCE" for phrase in phrases)
        self.piece = _Piece()
        self.calls: list[Call] = []
        self.notes: list[str] = []
        self.faults: list[str] = []
        self.stated: StatedArea | None = None
        self.carried: CurveWords | None = None
        self.is_begun = self.is_list  # whether the first "thence" has come
        self.is_commencing = False
        self.last: Phrase | None = None

    def take(self, phrase: Phrase) -> None:
        """Take the next phrase of the text."""
        handlers = {
            "THENCE": self._thence,
            "RUNNING": self._running,
            "STOP": self._part,
            "LINE_END": self._part,
            "BEARING": self._bearing,
            "DISTANCE": self._distance,
            "ANGLE": self._angle,
            "HOME": self._home,
            "COMMENCING": self._commencing,
            "AREA": self._area,
            "EXCEPT": self._except,
        }
        handlers.get(phrase.kind, self._curve_word)(phrase)
        if phrase.kind != "LINE_END":
            self.last = phrase

    def result(self) -> DeedCalls:
        calls = self._without_ties()
        if not calls and not self.faults:
            self.faults.append("no call was found: a call is a bearing and a distance, such as N 45°30' E 330 feet")
        if len(calls) > MOST_CALLS:
            self.faults.append(f"there are {len(calls)} calls; {MOST_CALLS} is the most that is read")
        more = len(self.notes) - _MOST_NOTES
        notes = [*self.notes[:_MOST_NOTES], *([f"and {more} more notes"] if more > 0 else [])]
        return DeedCalls(calls=tuple(calls), stated=self.stated, notes=tuple(notes), faults=tuple(self.faults))

    def _line(self, phrase: Phrase) -> int:
        return phrase.line + self.shift

    def _quote(self, start: int, end: int) -> str:
        words = " ".join(self.text[start:end].split())
        return plain_name(words if len(words) <= _LONGEST_TEXT else words[: _LONGEST_TEXT - 3] + "...")

    def _fault(self, phrase: Phrase, why: str) -> None:
        self.piece.is_faulty = True
        self.faults.append(f"line {self._line(phrase)}: {self._quote(phrase.start, phrase.end)!r}: {why}")

    def _note(self, phrase: Phrase, what: str) -> None:
        self.notes.append(f"line {self._line(phrase)}: {self._quote(phrase.start, phrase.end)!r} {what}")

    def _grow(self, phrase: Phrase) -> None:
        if self.piece.start < 0:
            self.piece.start, self.piece.line = phrase.start, self._line(phrase)
        self.piece.end = max(self.piece.end, phrase.end)

    def _thence(self, phrase: Phrase) -> None:
        self._open("THENCE", phrase)

    def _running(self, phrase: Phrase) -> None:
        if not self.is_begun:
            self._open("RUNNING", phrase)

    def _home(self, phrase: Phrase) -> None:
        self.piece.is_home = True
        self._grow(phrase)

    def _commencing(self, _phrase: Phrase) -> None:
        self.is_commencing = True

    def _except(self, phrase: Phrase) -> None:
        self._note(phrase, "speaks of ground that is excepted: it is not cut out, give it as a hole")

    def _open(self, opened: Literal["", "THENCE", "RUNNING"], phrase: Phrase) -> None:
        self.close()
        self.piece = _Piece(opened=opened, line=self._line(phrase))
        self.is_begun = self.is_begun or bool(opened)

    def _part(self, phrase: Phrase) -> None:
        if self.text[phrase.start] == ";" or (phrase.kind == "LINE_END" and self.is_list):
            self.piece.is_parted = True
            self.piece.key = ""

    def _bearing(self, phrase: Phrase) -> None:
        words = self.piece.curve or self.piece.coming
        if words is not None and self.piece.key in _BEARINGS:
            self._curve_bearing(words, phrase)
            return
        if self.piece.curve is not None and not self.piece.is_parted:
            self._fault(
                phrase, "a bearing in a curve must say of what it is: chord bearing, radial bearing or tangent bearing"
            )
            return
        if self.piece.curve is not None or self.piece.has_bearing or (self.piece.has_distance and self.piece.is_parted):
            self._open("", phrase)
        if phrase.fault is not None:
            self._fault(phrase, phrase.fault)
        self.piece.has_bearing = True
        self.piece.bearing = phrase.value if isinstance(phrase.value, Bearing) else None
        self._grow(phrase)

    def _curve_bearing(self, words: CurveWords, phrase: Phrase) -> None:
        name = _BEARINGS[self.piece.key]
        if phrase.fault is not None:
            self._fault(phrase, phrase.fault)
        elif getattr(words, name) is not None:
            self._fault(phrase, f"a second {name.replace('_', ' ')} of the same curve")
        else:
            setattr(words, name, phrase.value)
        if name == "radial":
            near = self.text[max(self.piece.start, phrase.start - 80) : phrase.end + 40]
            is_from, is_to = _FROM_CENTER.search(near), _TO_CENTER.search(near)
            if is_from or is_to or self.piece.key == "CENTER":
                words.is_radial_to_center = not is_from
        self._grow(phrase)

    def _distance(self, phrase: Phrase) -> None:
        piece = self.piece
        words = piece.curve or piece.coming
        if words is not None:
            self._curve_length(words, phrase)
            return
        is_near = self.last is not None and self.last.kind == "BEARING" and phrase.start - self.last.end <= _NEAR
        if isinstance(phrase.value, Distance) and _is_inches(phrase.value) and not is_near:
            return  # the size of a pipe or an oak
        if self._is_on_the_way(phrase):
            self._note(phrase, "is passed on the way and is not the length of the call")
            return
        if not self.is_begun and not piece.has_bearing:
            self._note(phrase, "stands before the first 'thence': taken as where the deed begins")
            return
        is_total = self._is_total(phrase)
        if (piece.has_distance and not is_total) or (not piece.opened and not piece.has_bearing and not self.is_list):
            self._further_distance(phrase)
            return
        if phrase.fault is not None:
            self._fault(phrase, phrase.fault)
        piece.has_distance = True
        piece.distance = phrase.value if isinstance(phrase.value, Distance) else None
        self._grow(phrase)

    def _is_on_the_way(self, phrase: Phrase) -> bool:
        """Whether something stands there: "crossing a creek at 20 poles", "at 100 feet a pin"."""
        return _AT.search(self.text[max(0, phrase.start - 8) : phrase.start]) is not None

    def _is_total(self, phrase: Phrase) -> bool:
        before, after = self.text[max(0, phrase.start - 24) : phrase.start], self.text[phrase.end : phrase.end + 12]
        return _TOTAL_BEFORE.search(before) is not None or _TOTAL_AFTER.match(after) is not None

    def _further_distance(self, phrase: Phrase) -> None:
        """Take a distance that comes when the call has one already."""
        piece, before = self.piece, self.last
        begins = before is not None and before.kind == "STOP" and not self.text[before.end : phrase.start].strip()
        if piece.is_parted and (begins or (self.is_list and self._is_first_on_line(phrase))):
            self._open("", phrase)
            self.piece.has_distance = True
            self._grow(phrase)
            return
        if isinstance(phrase.value, Distance) and piece.distance is not None:
            apart_m = abs(phrase.value.length_m - piece.distance.length_m)
            if apart_m <= phrase.value.last_digit_m + piece.distance.last_digit_m:
                return  # the same told in another unit
        self._note(phrase, "belongs to no call and is passed over")

    def _is_first_on_line(self, phrase: Phrase) -> bool:
        return not self.text[self.text.rfind("\n", 0, phrase.start) + 1 : phrase.start].strip()

    def _curve_length(self, words: CurveWords, phrase: Phrase) -> None:
        name = _LENGTHS.get(self.piece.key, "arc")
        is_told = self.piece.key in _LENGTHS
        if phrase.fault is not None:
            self._fault(phrase, phrase.fault)
        elif getattr(words, name) is not None and is_told:
            self._fault(phrase, f"a second {name} of the same curve")
        elif getattr(words, name) is not None or (not is_told and self.piece.curve is None):
            self._note(phrase, "belongs to no call and is passed over")
        else:
            setattr(words, name, phrase.value)
            if not is_told:
                self._note(phrase, "is taken as the length along the curve")
        self._grow(phrase)
        self.piece.key = "" if self.piece.key != "CHORD" else "CHORD"

    def _angle(self, phrase: Phrase) -> None:
        words = self.piece.curve or self.piece.coming
        if words is None:
            if (self.piece.opened or self.is_list or self.piece.has_bearing) and not self.piece.is_complete():
                self.piece.has_bearing = True
                self._fault(phrase, "an angle without compass letters: write N ... E, or azimuth ... from north")
                self._grow(phrase)
            return
        name = "degree" if self.piece.key == "CURVE_DEGREE" else "delta"
        if phrase.fault is not None:
            self._fault(phrase, phrase.fault)
        elif getattr(words, name) is not None:
            self._fault(phrase, f"a second {'degree of curve' if name == 'degree' else 'central angle'}")
        else:
            setattr(words, name, phrase.value)
        self._grow(phrase)
        self.piece.key = ""

    def _area(self, phrase: Phrase) -> None:
        if phrase.fault is not None:
            self._note(phrase, f"is passed over: {phrase.fault}")
        elif isinstance(phrase.value, StatedArea):
            self.stated = self.stated or phrase.value
            self._open("", phrase)

    def _curve_word(self, phrase: Phrase) -> None:
        piece, kind = self.piece, phrase.kind
        if not self.is_begun:
            return
        if kind in _OPENERS and self.is_list and piece.is_parted and not piece.is_empty() and piece.curve is None:
            self._open("", phrase)
            piece = self.piece
        words = self._curve_here(phrase)
        if words is None:
            return
        if piece.curve is not None:
            self._grow(phrase)
        piece.key = kind if kind in _KEYS else "" if kind == "CURVE" else piece.key
        if kind == "TURN":
            self._turn(words, phrase)
        elif kind == "CONCAVE" and phrase.fault is not None:
            self._fault(phrase, phrase.fault)
        elif kind == "CONCAVE":
            words.concave_deg = phrase.value if isinstance(phrase.value, float) else None
        elif kind in _MARKS:
            setattr(words, _MARKS[kind], True)

    def _curve_here(self, phrase: Phrase) -> CurveWords | None:
        """Return the curve that a word belongs to, opened by it where it opens one."""
        piece = self.piece
        if piece.is_complete():
            if piece.coming is None and phrase.kind == "CURVE":
                piece.coming = CurveWords()
        elif piece.curve is None and phrase.kind in _OPENERS:
            self._become_curve(phrase)
        return piece.curve or piece.coming

    def _become_curve(self, phrase: Phrase) -> None:
        piece = self.piece
        piece.curve = self.carried or CurveWords()
        self.carried = None
        if piece.has_bearing:
            self._fault(phrase, "a curve with a bearing that does not say of what: chord, radial or tangent bearing")
        if piece.distance is not None and piece.curve.arc is None:
            piece.curve.arc, piece.distance = piece.distance, None

    def _turn(self, words: CurveWords, phrase: Phrase) -> None:
        turn: Turn = "right" if self.text[phrase.start : phrase.end].lower() == "right" else "left"
        if words.turn is not None and words.turn != turn:
            self._fault(phrase, "the same curve is said to turn right and left")
        words.turn = turn

    def close(self) -> None:
        """End the call that is being put together, and put it down or tell what it lacks."""
        piece, carried = self.piece, self.carried
        if piece.coming is not None:
            self.carried = piece.coming
        call = self._finished(piece)
        if call is None:
            return
        if carried is not None and piece.curve is None and carried != CurveWords():
            self.faults.append(f"line {piece.line}: a curve is told of before, but no call along it follows")
            if self.carried is carried:
                self.carried = None
        self.calls.append(call)

    def _finished(self, piece: _Piece) -> Call | None:
        text = self._quote(piece.start, piece.end) if piece.start >= 0 else ""
        call = Call(
            line=piece.line,
            text=text,
            bearing=piece.bearing,
            distance=piece.distance,
            curve=piece.curve,
            is_home=piece.is_home,
        )
        if piece.is_faulty:
            return None
        if piece.is_empty():
            if piece.opened == "THENCE" and not piece.is_home:
                self.faults.append(
                    f"line {piece.line}: a call without bearing and distance; what runs with a creek or a road must "
                    "be given by bearings and distances, or walked"
                )
            return call if piece.opened == "THENCE" and piece.is_home else None
        if piece.curve is not None:
            return call
        if not self.is_begun and self._is_tie(piece):
            self.notes.append(f"line {piece.line}: {text!r} tells where the deed begins; it is no call")
            return None
        lacks = "bearing" if not piece.has_bearing else "distance" if not piece.has_distance else ""
        if lacks and not (lacks == "distance" and piece.is_home):
            self.faults.append(f"line {piece.line}: {text!r}: a call without a {lacks}")
            return None
        return call

    def _is_tie(self, piece: _Piece) -> bool:
        is_before = _TIE.search(self.text[max(0, piece.start - _TIE_REACH) : piece.start]) is not None
        return is_before or _TIE_AFTER.search(self.text[piece.end : piece.end + _TIE_REACH]) is not None

    def _without_ties(self) -> list[Call]:
        """Return the calls without those that lead from where the deed commences to where the land begins."""
        homes = [number for number, call in enumerate(self.calls[:-1]) if call.is_home]
        if not homes:
            return self.calls
        if self.is_commencing and len(homes) == 1:
            ties = homes[0] + 1
            count = "1 call leads" if ties == 1 else f"{ties} calls lead"
            self.notes.append(f"{count} from where the deed commences to the point of beginning; no side of the land")
            return self.calls[ties:]
        call = self.calls[homes[0]]
        self.faults.append(
            f"line {call.line}: {call.text!r} returns to the beginning, but more calls follow: one file holds one "
            "outline; give the other its own"
        )
        return self.calls


def _is_inches(distance: Distance) -> bool:
    return len(distance.parts) == 1 and distance.parts[0][1] in ("in", "inch", "inches")
