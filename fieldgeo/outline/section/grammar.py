"""The words of a section description: "the W1/2 of the NW1/4 of Section 12, T83N, R24W" taken apart.

Parts run from small to large with nothing or "of the" between them; a comma, a semicolon, "and" or "&" begins a part of
its own. What follows "except" or "less" is left out of all the parts before it. Halves and quarters may be written
N1/2, N 1/2, N½, N/2, N2, north half; NE1/4, NE¼, NE/4, NE4, NE, northeast quarter; what stands in brackets after words
must say the same. Trade forms: common practice, no source.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from functools import cache
from itertools import combinations
from typing import TYPE_CHECKING, Any, Final

from fieldgeo.outline.files.geojson import plain_name
from fieldgeo.outline.section.aliquot import MOST_STEPS, Aliquot
from fieldgeo.outline.section.township import SECTIONS

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    import lark

LONGEST_TEXT: Final = 500  # letters of a description; sixteen quarter-quarters in figures need fewer
MOST_PARTS: Final = 64
_EXAMPLES: Final = "W1/2 NW1/4, or S1/2 SW1/4 and NW1/4 SE1/4, or all"

_SECTION: Final = r"(?<![a-z])(section|sec)(?![a-z])[.\s]*(no\b[.\s]*)?\d{1,3}(?!\d)-?"
_TOWNSHIP: Final = r"(?<![a-z])(township|twp|t)[.\s-]*\d{1,3}[\s-]*(north|south|n|s)(?![a-qs-z])[.-]?"
_RANGE: Final = r"(?<![a-mo-z])(range|rge|r)[.\s-]*\d{1,3}[\s-]*(east|west|e|w)(?![a-z])\.?"
_GRAMMAR: Final = rf"""
start: list (_EXCEPT list)?
list: item? (_SEPARATOR item?)*
item: OF? word (OF? word)*
?word: HALF | QUARTER | ALL | PLACE | MERIDIAN | bracket
bracket: "(" item ")"

_SEPARATOR: /[,;:&]|\band\b/i
OF: /\b(of|in)\b/i
_EXCEPT.5: /\b((less|save)\s+and\s+)?(except(ing)?|less)\b(\s+(therefrom|from)\b)?/i
ALL.4: /\b(all|whole|entire)\b/i
PLACE.4: /{_SECTION}|{_TOWNSHIP}|{_RANGE}/i
MERIDIAN.3: /(\d(st|nd|rd|th)|first|second|third|fourth|fifth|sixth)\s*(p\.?\s*m\b\.?|principal\s+meridian\b)/i
HALF.2: /(north|south|east|west|[nsew])\.?(\s*((one[\s-]*)?half\b|1\s*\/\s*2(?!\d)|\/\s*2(?!\d))|2(?!\d))/i
QUARTER.1: /((north|south)[\s-]*(east|west)|[ns]\.?\s?[ew])(?![a-df-mo-rt-vx-z])\.?(\s*((one[\s-]*)?(quarter|fourth)\b|1\s*\/\s*4(?!\d)|\/\s*4(?!\d))|4(?!\d))?/i
%ignore /\s+|\bthe\b|\bsaid\b/i
"""  # noqa: E501

# What is no aliquot part, each with the reason; looked for before the grammar, which can only say "not understood".
_REFUSED: Final[tuple[tuple[str, str], ...]] = (
    (
        r"\b((government|gov'?t\.?)\s*)?lots?\b",
        "a government lot has lines and acres of its own: they stand on the plat and cannot be worked out from the "
        "corners of the section; give its outline as a file, or its sides as a deed",
    ),
    (
        r"\b(fractional|fract?l?|frl)\b",
        "a fractional part ends at a lot, a lake or a river: its lines stand on the plat; give its outline as a file",
    ),
    (
        r"\b(\d[\d,.]*\s*)?(acres?|feet|foot|rods?|chains?|poles?|perch(es)?|links?|yards?|met(er|re)s?)\b|"
        r"\b\d[\d,.]*\s*(ac|ft|rds?|ch|yds?|m)\b",
        "a part by acres or feet is no half or quarter: where its line runs depends on the deed; give its sides as a "
        "deed, and leave acres out that only stand beside a half or quarter",
    ),
    (
        r"\b(part|portion|pt)\b",
        "a part of a half or quarter that is not itself one has sides of its own; give them as a deed",
    ),
    (
        r"\b(undivided|interest)\b",
        "a share of ownership is no piece of ground; leave it out",
    ),
    (
        r"\bthirds?\b(?!\s*(p\.?\s*m|principal))|\bthree[\s-]*(quarters?|fourths?)\b|\beighths?\b|"
        r"(?<![\d/])(?!1\s*/\s*[24](?!\d))\d+\s*/\s*\d+|(?<!\d)/\s*(?![24](?!\d))\d+",
        "a section is divided into halves (1/2) and quarters (1/4) only; other fractions need a survey",
    ),
)
_SIGNS: Final = {"½": "1/2", "¼": "1/4", "¾": "3/4", "⅓": "1/3", "⅔": "2/3", "⅛": "1/8", "\u2044": "/", "\u2019": "'"}
_WORDS: Final = {"north": "N", "south": "S", "east": "E", "west": "W"}
# Section, township and range in figures, such as 12-83-24.
_SHORTHAND: Final = re.compile(r"(?<![\w/-])(?:sec(?:tion)?[.\s]*)?(\d{1,2})-\d{1,3}-\d{1,3}(?![\w/-])", re.IGNORECASE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Description:
    """A section description taken apart, or what is wrong with it."""

    parts: tuple[Aliquot, ...] = ()
    less: tuple[Aliquot, ...] = ()  # what is left out of them
    sections: tuple[int, ...] = ()  # every section number it names
    townships: tuple[str, ...] = ()  # such as "83N"
    ranges: tuple[str, ...] = ()  # such as "24W"
    notes: tuple[str, ...] = ()  # what a person may have meant otherwise
    faults: tuple[str, ...] = ()


def parse_description(text: str) -> Description:
    """Return the parts that a description names, and the section it names them in.

    Parameters
    ----------
    text : str
        Such as ``"W1/2 NW1/4 Sec. 12"`` or ``"the West Half of the Northwest Quarter of Section 12"``.

    Returns
    -------
    Description
        With parts, or with faults.

    Examples
    --------
    >>> found = parse_description("S½ SW¼, NW/4SE/4 of Section 12")
    >>> [part.text for part in found.parts], found.sections
    (['S1/2 SW1/4', 'NW1/4 SE1/4'], (12,))
    """
    if len(text) > LONGEST_TEXT:
        return Description(faults=(f"the description has {len(text)} letters; {LONGEST_TEXT} are the most",))
    plain = _plain(text)
    faults = tuple(f"{found!r}: {reason}" for found, reason in _refused(plain))
    if faults:
        return Description(faults=faults)
    import lark

    try:
        tree = _parser().parse(plain)
    except lark.exceptions.UnexpectedInput as error:
        return Description(faults=(_misunderstood(plain, error),))
    place = named_place(plain)
    faulty = list(place.faults)
    parts, less = _parts(tree, faulty)
    if not parts and not faulty:
        faulty.append(f"no part is named. Write it small to large, such as {_EXAMPLES}")
    faulty.extend(_faults_of_parts(parts, less))
    return replace(
        place, parts=tuple(parts), less=tuple(less), notes=tuple(_notes(parts)), faults=tuple(dict.fromkeys(faulty))
    )


def named_place(text: str) -> Description:
    """Return section, township and range that a text names, whatever else it says.

    Parameters
    ----------
    text : str
        Such as ``"Sec. 12, T83N R24W"``, or a bare number.

    Returns
    -------
    Description
        Without parts.
    """
    plain = _plain(text[:LONGEST_TEXT])
    if re.fullmatch(r"\s*\d{1,3}\s*", plain):
        plain = f"section {plain.strip()}"
    sections = [int(found) for found in _numbers(_SECTION, plain)]
    return Description(
        sections=tuple(dict.fromkeys(sections)),
        townships=tuple(dict.fromkeys(_numbers(_TOWNSHIP, plain))),
        ranges=tuple(dict.fromkeys(_numbers(_RANGE, plain))),
        faults=tuple(
            f"section {number}: a township has sections 1 to {SECTIONS}"
            for number in sections
            if not 1 <= number <= SECTIONS
        ),
    )


def _plain(text: str) -> str:
    for sign, plain in _SIGNS.items():
        text = text.replace(sign, plain)
    return _SHORTHAND.sub(r"section \1", text).rstrip(" .")


def _numbers(pattern: str, text: str) -> Iterator[str]:
    """Yield the number of each place, with the first letter of the wind after it."""
    for match in re.finditer(pattern, text, re.IGNORECASE):
        number, wind = re.findall(r"(\d+)[\s-]*([NSEW]?)", match[0].upper())[-1]
        yield f"{int(number)}{wind}"


def _refused(text: str) -> Iterator[tuple[str, str]]:
    for pattern, reason in _REFUSED:
        match = re.search(pattern, text, re.IGNORECASE)
        if match is not None:
            yield plain_name(match[0]), reason


@cache
def _parser() -> lark.Lark:
    import lark

    return lark.Lark(_GRAMMAR, parser="lalr")


def _misunderstood(text: str, error: Any) -> str:
    """Return where the grammar was left, as a fault."""
    at = getattr(error, "pos_in_stream", None)
    at = len(text) if at is None or at < 0 else at
    seen = plain_name(text[at : at + 12])
    after = plain_name(text[max(at - 20, 0) : at])
    what = f"{seen!r} is not understood" if seen else "it ends too early"
    where = f" after {after!r}" if after else ""
    return f"{what}{where}. Write halves and quarters, small to large, such as {_EXAMPLES}"


def _parts(tree: lark.Tree[lark.Token], faults: list[str]) -> tuple[list[Aliquot], list[Aliquot]]:
    """Return the parts named, and those left out; what does not fit together is put down as faults."""
    groups = _trees(tree)
    named = [[_part(item.children, faults) for item in _trees(group)] for group in groups]
    parts, *rest = ([part for part in found if part is not None] for found in named)
    if not parts and any(map(_is_whole, groups[0].scan_values(lambda token: isinstance(token, str)))):
        parts = [Aliquot(steps=())]
    less = rest[0] if rest else []
    if rest and not less:
        faults.append("after 'except' no part is named")
    return parts, less


def _trees(tree: lark.Tree[lark.Token]) -> list[lark.Tree[lark.Token]]:
    return [child for child in tree.children if not isinstance(child, str)]


def _is_whole(token: lark.Token) -> bool:
    return token.type == "ALL" or re.match(_SECTION, token, re.IGNORECASE) is not None


def _part(words: Sequence[lark.Token | lark.Tree[lark.Token]], faults: list[str]) -> Aliquot | None:
    """Return the part of an item between separators; None where it only names a place."""
    steps: list[str] = []
    is_ended = False
    for at, word in enumerate(words):
        if not isinstance(word, str):  # brackets
            again = [_step(token) for token in word.scan_values(_is_step)]
            if again and steps[-len(again) :] != again:
                faults.append(f"{_short(again)} in brackets is not what stands before it: {_short(steps) or 'nothing'}")
        elif _is_step(word):
            if at == 1 and _type(words[0]) == "OF":
                faults.append(
                    f"'of {plain_name(word)}' begins a part of its own after a comma or 'and': leave one of them out"
                )
            if is_ended:
                faults.append(f"{plain_name(word)!r} follows the section, with no comma between two parts")
            steps.append(_step(word))
        elif _type(word) == "PLACE":
            is_ended = bool(steps)
    return Aliquot(steps=tuple(steps)) if steps else None


def _is_step(word: object) -> bool:
    return _type(word) in {"HALF", "QUARTER"}


def _type(word: object) -> str:
    return str(getattr(word, "type", ""))


def _step(token: str) -> str:
    """Return the winds of a half or quarter: "N" or "NE"."""
    letters = re.sub(r"half|quarter|fourth|one|[^a-z]", "", token.lower())
    for word, wind in _WORDS.items():
        letters = letters.replace(word, wind)
    return letters.upper()


def _short(steps: Sequence[str]) -> str:
    return Aliquot(steps=tuple(steps)).text if steps else ""


def _faults_of_parts(parts: Sequence[Aliquot], less: Sequence[Aliquot]) -> Iterator[str]:
    for part in (*parts, *less):
        if len(part.steps) > MOST_STEPS:
            yield f"a part of {len(part.steps)} halves and quarters; {MOST_STEPS} are the most"
            return
        if part.is_quarter_of_half:
            yield f"{part.text}: a quarter of a half is no usual part; write halves of quarters, or a comma between two"
    if len(parts) + len(less) > MOST_PARTS:
        yield f"{len(parts) + len(less)} parts; {MOST_PARTS} are the most"
        return
    for group in (parts, less):
        for one, other in combinations(group, 2):
            if one.rectangle.shared(other.rectangle):
                yield f"{one.text} and {other.text}: the same ground is named twice"
    outside = [
        part for part in less if sum(part.rectangle.shared(whole.rectangle) for whole in parts) < part.rectangle.share
    ]
    for part in outside:
        yield f"except {part.text}: it does not lie within the parts before it; name it whole, up to the quarter"
    if (
        parts
        and not outside
        and sum(part.rectangle.share for part in less) >= sum(part.rectangle.share for part in parts)
    ):
        yield "nothing is left: all of it is excepted"


def _notes(parts: Sequence[Aliquot]) -> Iterator[str]:
    for at, part in enumerate(parts):
        if len(part.steps) == 1 and any(len(later.steps) > 1 for later in parts[at + 1 :]):
            yield f"{part.text} stands by itself and is read as {part.text} of the section, not of what follows it"
