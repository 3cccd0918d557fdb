"""The words of a deed, declared: what counts as a bearing, a distance, an angle, and the words that say what they are.

One grammar serves twice. Its terminals cut the whole text into words (`words`); its rules read the few words that make
one bearing, distance or angle (`parse`). Which words belong to which call is told in `phrases` and `calls`.
"""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Final, Literal, TypeAlias

from fieldgeo.outline.deed.units import length_words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from lark import Lark, Token, Tree

Rule: TypeAlias = Literal["bearing", "distance", "angle"]

# Terminals with the higher number are tried first. A word that only looks like one of ours (the east line, a right of
# way, "in the county", R3W) is kept out by what may not stand before or after it.
_GRAMMAR: Final = r"""
bearing: quadrant | cardinal | azimuth
quadrant: NS angle EW
cardinal: _DUE? (NS | EW)
azimuth: _AZIMUTH angle

angle: degrees | degrees_minutes | degrees_minutes_seconds | degrees_seconds
degrees: number _DEGREE?
degrees_minutes: number _DEGREE? number _minute?
degrees_minutes_seconds: number _DEGREE? number _minute? number _second?
degrees_seconds: number _DEGREE number _second
_minute: PRIME | _MINUTE
_second: DOUBLE_PRIME | _SECOND

distance: part (_AND? part)* | bare
part: number (UNIT | PRIME | DOUBLE_PRIME)
bare: number
number: NUMBER | FRACTION | MIXED

text: (number | NS | EW | UNIT | PRIME | DOUBLE_PRIME | _DEGREE | _MINUTE | _SECOND | _AND | _DUE | _AZIMUTH
    | THENCE | RUNNING | HOME | COMMENCING | CONTAINING | EXCEPT | CURVE | RADIUS | DELTA | ARC | CHORD | TANGENT
    | NON_TANGENT | CURVE_DEGREE | CHORD_DEFINITION | TURN | CONCAVE | COMPASS | RADIAL | CENTER | MAJOR
    | FILLER | WORD | DASH | COMMA | STOP | LINE_END)*

MIXED.9: /\d{1,9}(?:[ \t]+|[ \t]?[-\u2010-\u2015][ \t]?)\d{1,4}[\/\u2044]\d{1,4}(?![\d\/])/
FRACTION.8: /\d{1,9}[\/\u2044]\d{1,9}/
NUMBER.7: /\d{1,3}(?:,\d{3})+(?:\.\d+)?(?![\d])|\d+(?:\.\d+)?|\.\d+/

HOME.9: /(?:(?:point|place|corner|station|stake|stone|post)\s+(?:or\s+\w+\s+)?of\s+(?:the\s+)?(?:true\s+)?
    (?:beginning|commencement|commencing)|to\s+(?:the|said)\s+(?:true\s+)?(?:beginning|first\s+(?:station|corner))
    |p\.?o\.?b)(?![a-z])(?!\s+of\b)\.?/ix
COMMENCING.8: /commenc(?:ing|e|es)(?![a-z])|starting\s+at(?![a-z])/i
CONTAINING.8: /contain(?:ing|s)?(?![a-z])/i
EXCEPT.8: /except(?:ing|s)?(?![a-z])/i
THENCE.8: /(?:thence|thense|then)(?![a-z])/i
RUNNING.8: /(?:running|runs)(?![a-z])/i

NON_TANGENT.9: /(?:non|not)[\s-]*(?:a[\s-]+)?tangent(?:ial)?(?![a-z])/i
CURVE_DEGREE.9: /degree\s+of\s+curv(?:e|ature)(?![a-z])|d(?=\s*=)/i
CHORD_DEFINITION.9: /chord\s+def(?:inition|\.)?(?![a-z])/i
CURVE.8: /curv(?:e|ed|ing|ature)(?![a-z])/i
RADIUS.8: /(?:radius|radii)(?!\s+point)(?![a-z])
    |(?<![a-z0-9])r(?!\s*\d+\s*[ew](?![a-z]))(?=\s*[=:]|\s+\d|\d[\d.,]*\s*(?:['\u2019\u2032]|f))/ix
CENTER.8: /radius\s+point(?![a-z])|cent(?:er|re)(?![a-z])/i
RADIAL.8: /radial(?:ly)?(?![a-z])/i
DELTA.8: /delta(?![a-z])|central\s+angle(?![a-z])|\u0394|\u2206/i
ARC.8: /arc(?![a-z])|(?<![a-z0-9])[la](?=\s*=)/i
CHORD.8: /(?:long\s+)?chord(?![a-z])|chd\.?(?![a-z])|(?<![a-z0-9])(?:lc|ch|cb|c)(?=\s*=)/i
TANGENT.8: /tangent(?:ial)?(?![a-z])|(?<![a-z0-9])t(?=\s*=)/i
TURN.8: /(?:right(?![\s-]*of[\s-]*way)(?!\s+angle)|left)(?![a-z])/i
CONCAVE.8: /concave(?![a-z])/i
MAJOR.8: /(?:major|longer)\s+arc(?![a-z])|(?:over|more\s+than|greater\s+than)\s+180/i
COMPASS.8: /(?:north|south)(?:east|west)(?:er)?(?:ly)?(?![a-z])|(?:north|south|east|west)er(?:ly)?(?![a-z])
    |(?<![a-z0-9])(?:ne|nw|se|sw)(?:['\u2019]?ly)?(?![a-z0-9])/ix

_DUE.7: /due(?![a-z])/i
_AZIMUTH.7: /azimuth(?![a-z])|az(?![a-z])\.?/i
_DEGREE.7: /[\u00b0\u00ba\u02da\u2218]|degrees?(?![a-z])|degs?(?![a-z])\.?/i
_MINUTE.7: /minutes?(?![a-z])|mins?(?![a-z])\.?/i
_SECOND.7: /seconds?(?![a-z])|secs?(?![a-z])\.?/i
DOUBLE_PRIME.7: /["\u201c-\u201f\u2033]|(?:['\u2018-\u201b\u2032\u00b4]){2}/
PRIME.6: /['\u2018-\u201b\u2032\u00b4`]/
_AND.7: /and(?![a-z])|[+&]/i
NS.6: /(?<![a-z0-9'\u2019])(?:north|south|n|s)(?!['\u2019]?[a-z])\.?/i
EW.6: /(?<![a-z])(?:east|west|e|w)(?!['\u2019]?[a-z])\.?/i
UNIT.5: /(?<![a-z])(?:UNIT_WORDS|in(?=[^\S\n]*(?:[.,;)\n]|$|to\b|or\b|thence\b)))(?![a-z])\.?/i
FILLER.5: /(?:a|an|the|its|is|be|being|having|with|has|of|for|at|distance|length|by|which|whose|line
    |bears?|bearing|said|measured|dist|direction)(?![a-z])/ix
WORD.4: /[^\W\d_]+(?:['\u2019][a-z]+)?/
DASH.4: /[-\u2010-\u2015\u2212]/
COMMA.4: /[,()=:]/
STOP.4: /[;.]/
LINE_END.4: /\n/
%ignore /[^\S\n]+/
OTHER.-9: /./
%ignore OTHER
"""


@cache
def _reader() -> Lark:
    # lark takes a while to load; only a deed needs it.
    from lark import Lark

    units = "|".join(word.replace("_", r"[\s.-]+") for word in length_words() if word != "in")
    survey = r"(?:u\.?\s?s\.?\s+)?survey\s+f(?:ee|oo)?t|engineer['\u2019]?s?['\u2019]?\s+chains?|two[\s-]pole\s+chains?"
    grammar = _GRAMMAR.replace("UNIT_WORDS", f"{survey}|gunter['\u2019]?s\\s+chains?|{units}")
    return Lark(grammar, parser="lalr", lexer="basic", start=["bearing", "distance", "angle", "text"])


def words(text: str) -> list[Token]:
    """Return the words of a deed, each with its kind (`type`), its line and its place in the text.

    Parameters
    ----------
    text : str
        The deed; lines end with a line feed.
    """
    return list(_reader().lex(text))


def parse(rule: Rule, tokens: Sequence[Token]) -> Tree[Token] | None:
    """Return the tree of one bearing, distance or angle; None when the words are none.

    Parameters
    ----------
    rule : {"bearing", "distance", "angle"}
        What they must be.
    tokens : sequence of Token
        Its words, as `words` gives them.
    """
    from lark import Tree as LarkTree
    from lark import UnexpectedInput

    parser = _reader().parse_interactive(start=rule)
    try:
        for token in tokens:
            parser.feed_token(token)
        tree = parser.feed_eof(tokens[-1] if tokens else None)  # type: ignore[no-untyped-call]
    except UnexpectedInput:
        return None
    assert isinstance(tree, LarkTree)  # the whole of a rule is read
    return tree
