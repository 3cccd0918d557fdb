"""From the words of a deed to its phrases: bearings, distances, angles, and the words that tell what they belong to.

A word that is no part of a phrase (a neighbour, a monument, a lot number) is passed over here. What looks like a
bearing or a distance and cannot be read becomes a phrase with a fault, and is never passed over.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, TypeAlias

from fieldgeo.errors import InputError
from fieldgeo.outline.deed.grammar import Rule, parse, words
from fieldgeo.outline.deed.stated import StatedArea, read_area
from fieldgeo.outline.deed.values import (
    Angle,
    Bearing,
    Distance,
    LengthRules,
    is_compound,
    read_angle,
    read_bearing,
    read_distance,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from lark import Token

Value: TypeAlias = Bearing | Distance | Angle | StatedArea | float | None

_NUMBERS: Final = frozenset({"NUMBER", "FRACTION", "MIXED"})
_MARKS: Final = frozenset({"_DEGREE", "PRIME", "DOUBLE_PRIME", "_MINUTE", "_SECOND"})
_ANGLE: Final = _NUMBERS | _MARKS | {"DASH"}
_FILLERS: Final = frozenset({"FILLER", "COMMA", "LINE_END", "DASH"})
_UNITS: Final = frozenset({"UNIT", "PRIME", "DOUBLE_PRIME"})
_STARTERS: Final = frozenset({"THENCE", "RUNNING", "_DUE"})
_SIGNS: Final = frozenset(
    {
        "THENCE", "RUNNING", "HOME", "COMMENCING", "EXCEPT", "CURVE", "RADIUS", "DELTA", "ARC", "CHORD", "TANGENT",
        "NON_TANGENT", "CURVE_DEGREE", "CHORD_DEFINITION", "TURN", "RADIAL", "CENTER", "MAJOR", "STOP", "LINE_END",
    }
)  # fmt: skip
_LENGTH_KEYS: Final = frozenset({"RADIUS", "ARC", "CHORD", "TANGENT"})
_ANGLE_KEYS: Final = frozenset({"DELTA", "CURVE_DEGREE"})
_BEARING_KEYS: Final = frozenset({"CHORD", "RADIAL", "CENTER", "TANGENT"})
_LONGEST_ANGLE: Final = 14  # words
_LOOK_AHEAD: Final = 6  # words, from a sign to the value it names
# Words that may stand straight after a distance without a unit; any other is taken for a unit that is not known.
_AFTER_BARE: Final = frozenset({"to", "along", "from", "more", "or", "on", "in", "through", "across", "then"})
_COMPASS_DEG: Final = {"n": 0.0, "ne": 45.0, "e": 90.0, "se": 135.0, "s": 180.0, "sw": 225.0, "w": 270.0, "nw": 315.0}


@dataclass(frozen=True, slots=True, kw_only=True)
class Phrase:
    """A few words of a deed that mean one thing."""

    kind: str  # "BEARING", "DISTANCE", "ANGLE", "CONCAVE", "AREA", or the kind of a single word of `grammar`
    value: Value  # of a CONCAVE: the azimuth of the side [deg]
    line: int  # from 1
    start: int  # place in the text
    end: int
    fault: str | None = None  # why it cannot be read


def find_phrases(text: str, rules: LengthRules) -> list[Phrase]:
    """Return the phrases of a deed in their order.

    Parameters
    ----------
    text : str
        The deed; lines end with a line feed.
    rules : LengthRules
        Unit of distances that have none, and length of the vara.
    """
    finder = _Finder(text, rules)
    while finder.at < len(finder.tokens):
        finder.step()
    return finder.phrases


class _Finder:
    """Walks over the words, and remembers which sign or bearing stands just before."""

    def __init__(self, text: str, rules: LengthRules) -> None:
        self.text = text
        self.rules = rules
        self.tokens = words(text)
        self.kinds = [token.type for token in self.tokens]
        self.is_list = "THENCE" not in self.kinds
        self.at = 0
        self.before = ""  # kind of the phrase that the words here may belong to
        self.phrases: list[Phrase] = []

    def step(self) -> None:
        kind = self.kinds[self.at]
        if kind in ("NS", "EW"):
            self._compass()
        elif kind == "_AZIMUTH":
            self._azimuth()
        elif kind in _NUMBERS:
            self._number()
        elif kind == "CONCAVE":
            self._concave()
        elif kind == "CONTAINING":
            self._area()
        elif kind in _SIGNS:
            self._add(kind, None, self.at + 1, is_remembered=kind != "LINE_END")
        else:
            if kind not in _FILLERS:
                self.before = ""
            self.at += 1

    def _add(self, kind: str, value: Value, end: int, fault: str | None = None, *, is_remembered: bool = True) -> None:
        first, last = self.tokens[self.at], self.tokens[end - 1]
        start, stop = first.start_pos or 0, last.end_pos or 0
        self.phrases.append(Phrase(kind=kind, value=value, line=first.line or 1, start=start, end=stop, fault=fault))
        if is_remembered:
            self.before = kind
        self.at = end

    def _after(self, at: int, skipped: frozenset[str]) -> int:
        """Return the place of the first word from `at` on that is not of the kinds to skip, or the end."""
        while at < len(self.kinds) and self.kinds[at] in skipped:
            at += 1
        return at

    def _kind(self, at: int) -> str:
        return self.kinds[at] if 0 <= at < len(self.kinds) else ""

    def _angle_end(self, start: int, extra: frozenset[str] = frozenset()) -> int:
        end = start
        while end < len(self.kinds) and end - start < _LONGEST_ANGLE and self.kinds[end] in _ANGLE | extra:
            end += 1
        return end

    def _take(self, rule: Rule, kind: str, start: int, end: int) -> None:
        """Read the words from `start` to `end` as one phrase, which begins here."""
        kept = [token for token in self.tokens[start:end] if token.type not in _FILLERS]
        tree = parse(rule, [token for token in kept if rule == "distance" or token.type != "_AND"])
        if tree is None:
            self._add(kind, None, end, f"cannot be read as {'an' if rule == 'angle' else 'a'} {rule}")
            return
        try:
            value: Value
            if rule == "bearing":
                value = read_bearing(tree)
            elif rule == "distance":
                value = read_distance(tree, self.rules)
            else:
                value = read_angle(tree, most_deg=360.0)
            self._add(kind, value, end)
        except InputError as error:
            self._add(kind, None, end, str(error))

    def _compass(self) -> None:
        kind, start = self.kinds[self.at], self.at
        end = self._angle_end(start + 1, frozenset({"COMMA", "LINE_END", "_AND"}))
        inside = self.tokens[start + 1 : end]
        has_number = any(token.type in _NUMBERS for token in inside)
        closes = "EW" if kind == "NS" else "NS"
        if self._kind(end) == closes and not has_number and end - start <= 2:
            self.before, self.at = "", end + 1  # a corner or a side: N.E., North-East
            return
        if self._kind(end) == closes and has_number and self._is_one_angle(inside):
            if kind == "NS":
                self._take("bearing", "BEARING", start, end + 1)
            else:
                self._add("BEARING", None, end + 1, "begins with east or west: write it from north or south")
            return
        if self._is_half_a_bearing(start):
            self._add("BEARING", None, self._angle_end(start + 1), "an angle that no E or W closes")
            return
        if self._is_cardinal(start):
            self._take("bearing", "BEARING", start, start + 1)
            return
        self.before, self.at = "", start + 1

    def _is_one_angle(self, inside: Sequence[Token]) -> bool:
        """Whether the words between two compass letters are one angle, and not the length of one call and the next."""
        kinds = [token.type for token in inside]
        return all(
            place > 0 and kinds[place - 1] in _MARKS | {"COMMA", "LINE_END"}
            for place, kind in enumerate(kinds)
            if kind in ("COMMA", "LINE_END", "_AND")
        )

    def _is_half_a_bearing(self, start: int) -> bool:
        """Whether north or south has an angle after it, which is more than the length of a call due north."""
        inside = self.kinds[start + 1 : self._angle_end(start + 1)]
        numbers = sum(kind in _NUMBERS for kind in inside)
        return inside[:1] != [] and (numbers > 1 or not {"_DEGREE", "_MINUTE", "_SECOND"}.isdisjoint(inside))

    def _is_cardinal(self, at: int) -> bool:
        if self._kind(at - 1) in _NUMBERS:  # Township 5 North
            return False
        is_begun = self._kind(at - 1) in _STARTERS or (self.is_list and self._is_line_start(at))
        ahead = self._after(at + 1, _FILLERS)
        is_near = self._kind(ahead) in _NUMBERS and ahead - at <= _LOOK_AHEAD
        return is_begun or is_near or self.before in _BEARING_KEYS

    def _is_line_start(self, at: int) -> bool:
        """Whether nothing but a number of the call stands before a word on its line."""
        before = at - 1
        while before >= max(0, at - _LOOK_AHEAD) and self.kinds[before] in {"NUMBER", "STOP", "COMMA", "DASH"}:
            before -= 1
        return before < 0 or self.kinds[before] == "LINE_END"

    def _azimuth(self) -> None:
        start = self._after(self.at + 1, _FILLERS)
        end = self._angle_end(start)
        if self._kind(start) not in _NUMBERS:
            self.before, self.at = "", self.at + 1
            return
        self._take("bearing", "BEARING", self.at, self._without_distance(start, end))

    def _without_distance(self, start: int, end: int) -> int:
        """Return where an angle ends that no compass letter closes: a distance may follow without a word between."""
        if self._kind(end) == "UNIT":
            end -= 1
        degrees = [at for at in range(start, end) if self.kinds[at] == "_DEGREE"]
        if len(degrees) > 1:  # the next angle begins
            end = degrees[1] - 1
        while end > start + 1:
            inside = [token for token in self.tokens[start:end] if token.type != "DASH"]
            has_bare_end = inside[-1].type in _NUMBERS and any(token.type in _MARKS for token in inside)
            if parse("angle", inside) is not None and not has_bare_end:
                break
            end -= 1
        return end

    def _number(self) -> None:
        at = self.at
        follows = self._after(at + 1, frozenset({"DASH"}))
        if self.before in _ANGLE_KEYS or self._kind(follows) == "_DEGREE":
            self._loose_angle()
        elif self._kind(follows) in _UNITS:
            self._distance(follows + 1)
        elif self.before == "BEARING" or self.before in _LENGTH_KEYS:
            self._bare(at)
        else:
            self.before, self.at = self.before if self.is_list and self._is_line_start(at) else "", at + 1

    def _loose_angle(self) -> None:
        end = self._without_distance(self.at, self._angle_end(self.at))
        ahead = self._after(end, frozenset({"DASH", "FILLER"}))
        if self._kind(ahead) == "CURVE" and self.before not in _ANGLE_KEYS:  # a 4 degree curve
            self.before = "CURVE_DEGREE"
            first = self.tokens[self.at]
            start = first.start_pos or 0
            self.phrases.append(Phrase(kind="CURVE_DEGREE", value=None, line=first.line or 1, start=start, end=start))
        self._take("angle", "ANGLE", self.at, end)

    def _distance(self, end: int) -> None:
        start = self.at
        while (longer := self._with_next_part(start, end)) is not None:
            end = longer
        ahead = self._after(end, frozenset({"DASH", "FILLER"}))
        if self._kind(ahead) == "RADIUS" and self.before != "RADIUS":  # a 160 foot radius
            first = self.tokens[start]
            begin = first.start_pos or 0
            self.phrases.append(Phrase(kind="RADIUS", value=None, line=first.line or 1, start=begin, end=begin))
            self._take("distance", "DISTANCE", start, end)
            self.before, self.at = "", ahead + 1
            return
        self._take("distance", "DISTANCE", start, end)

    def _with_next_part(self, start: int, end: int) -> int | None:
        """Return the end of a distance with one more part, such as the links after the chains; None without one."""
        unit = self.tokens[end - 1]
        between = frozenset() if unit.type != "UNIT" else frozenset({"COMMA", "_AND", "LINE_END"})
        following = self._after(end, between)
        mark = self._after(following + 1, frozenset({"DASH"}))
        if self._kind(following) not in _NUMBERS or self._kind(mark) not in _UNITS:
            return None
        larger = [token for token in self.tokens[start:end] if token.type not in _FILLERS][-2:]
        smaller = self.tokens[following], self.tokens[mark]
        if larger[0].type != "NUMBER" or "." in larger[0]:
            return None
        trees = [parse("distance", pair) for pair in (larger, smaller)]
        vara = LengthRules(vara_m=self.rules.vara_m or 0.84)
        try:
            one, two = (read_distance(tree, vara).parts[0] for tree in trees if tree is not None)
            return mark + 1 if is_compound(one, two) else None
        except (InputError, ValueError):
            return None

    def _bare(self, at: int) -> None:
        follows = self.tokens[at + 1] if at + 1 < len(self.tokens) else None
        if follows is not None and follows.type == "WORD" and follows.lower() not in _AFTER_BARE:
            self._add("DISTANCE", None, at + 2, f"the unit {str(follows)[:30]!r} is not known here")
            return
        self._take("distance", "DISTANCE", at, at + 1)

    def _concave(self) -> None:
        for at in range(self.at + 1, min(self.at + _LOOK_AHEAD, len(self.tokens))):
            if self.kinds[at] in ("COMPASS", "NS", "EW"):
                self._add("CONCAVE", _side_deg(str(self.tokens[at])), at + 1)
                return
        self._add("CONCAVE", None, self.at + 1, "says concave, but not to which side, such as concave northerly")

    def _area(self) -> None:
        area, end, fault = read_area(self.tokens, self.at + 1, self.rules.vara_m)
        self._add("AREA", area, max(end, self.at + 1), fault)


def _side_deg(word: str) -> float:
    plain = word.lower().strip(".").replace("\u2019", "'").removesuffix("'ly")
    if plain not in _COMPASS_DEG:
        north = "n" if "north" in plain else "s" if "south" in plain else ""
        east = "e" if "east" in plain else "w" if "west" in plain else ""
        plain = north + east
    return _COMPASS_DEG[plain]
