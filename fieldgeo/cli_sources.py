"""The options that say how a source of an outline is read, and the reading of it."""

from __future__ import annotations

import sys
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, Final

import click

from fieldgeo.cli_options import crs_option, option_set, reads

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence

    from fieldgeo.outline.field import Field
    from fieldgeo.outline.rules import FileRules

# Each option by the rule that it sets, and the kind of source it goes with.
_OPTIONS: Final = {
    "layer": ("--layer", "file"),
    "where": ("--where", "file"),
    "at_lonlat": ("--at", "file"),
    "accuracy_m": ("--accuracy", "file, walk or section"),
    "least_quality": ("--least-fix", "walk"),
    "most_hdop": ("--most-hdop", "walk"),
    "most_speed_m_s": ("--most-speed", "walk"),
    "step_m": ("--step", "walk"),
    "offset_m": ("--offset", "walk"),
    "thin_m": ("--thin", "walk"),
    "corners": ("--corner", "deed"),
    "rotation_deg": ("--rotate", "deed"),
    "unit": ("--unit", "deed"),
    "vara_m": ("--vara", "deed"),
    "is_adjusted": ("--raw", "deed"),
    "is_any_closure": ("--any-closure", "deed"),
    "part": ("--part", "section"),
}

_length = reads("units:parse_length_m")
choice_options = option_set(
    crs_option,
    click.option("--layer", metavar="NAME", help="Layer of a file that has several."),
    click.option("--where", metavar="SQL", help="Features of a file by attribute, such as \"PIN = '12-034'\"."),
    click.option("--at", "at_lonlat", metavar="LON,LAT", callback=reads("analysis.asked:read_lonlat"),
                 help="Features of a file that hold this point."),
)  # fmt: skip
source_options = option_set(
    click.option("--as", "source_kind", type=click.Choice(["file", "walk", "deed", "section"]),
                 help="Read the source as this kind; without it its content tells."),
    choice_options,
    click.option("--accuracy", "accuracy_m", metavar="LENGTH", callback=_length,
                 help="Standard error of a position along each axis, such as 3m; not for a deed."),
    click.option("--least-fix", "least_quality", type=click.Choice(["gps", "differential", "float", "fixed"]),
                 help="Walk: poorest fix that is kept."),
    click.option("--most-hdop", type=click.FloatRange(0, min_open=True), metavar="N",
                 help="Walk: largest dilution of precision that is kept."),
    click.option("--most-speed", "most_speed_m_s", metavar="SPEED", callback=reads("units:parse_speed_m_s"),
                 help="Walk: what needs more speed than this is a spike."),
    click.option("--step", "step_m", metavar="LENGTH", callback=_length, help="Walk: least distance between points."),
    click.option("--offset", "offset_m", metavar="'LENGTH out|in'", callback=reads("outline.asked:read_offset_m"),
                 help="Walk: from the track to the edge of the field."),
    click.option("--thin", "thin_m", metavar="LENGTH", callback=_length,
                 help="Walk: tolerance of thinning; 0ft keeps every point."),
    click.option("--corner", "corners", metavar="N=LON,LAT", multiple=True,
                 callback=lambda ctx, param, texts: tuple(
                     reads("outline.asked:read_corner")(ctx, param, text) for text in texts),
                 help="Deed: a corner whose place is known; 1 is the beginning. One, or two and more."),
    click.option("--rotate", "rotation_deg", type=click.FloatRange(-360, 360), metavar="DEG",
                 help="Deed: turn its bearings clockwise to true north, with one corner."),
    click.option("--unit", metavar="UNIT", help="Deed: unit of distances that have none, such as poles."),
    click.option("--vara", "vara_m", metavar="LENGTH", callback=_length, help="Deed: length of the vara."),
    click.option("--raw", "is_raw", is_flag=True, help="Deed: close by a straight line, adjust nothing."),
    click.option("--any-closure", "is_any_closure", is_flag=True,
                 help="Deed: go on where the calls close badly or one looks wrong."),
    click.option("--part", metavar="TEXT", help="Section: the part, such as \"W1/2 NW1/4\"."),
)  # fmt: skip


def asked_rules(options: Mapping[str, Any]) -> dict[str, Any]:
    """Return the rules that were asked for, by name, out of all options of a verb."""
    asked = {name: options[name] for name in _OPTIONS if options.get(name) not in (None, (), False)}
    return asked | ({"is_adjusted": False} if options.get("is_raw") else {})


def asked_choice(options: Mapping[str, Any]) -> FileRules | None:
    """Return which features of files were asked for; None where none was."""
    from fieldgeo.outline.rules import FileRules

    asked = asked_rules(options)
    return FileRules(**asked) if asked else None


def read_sources(paths: Sequence[str], options: Mapping[str, Any]) -> list[Field]:
    """Return the field of each source, read by what the options say of its kind.

    Parameters
    ----------
    paths : sequence of str
        The sources.
    options : mapping
        Options of the verb.

    Raises
    ------
    click.UsageError
        If an option goes with no kind of source that was given.
    """
    from fieldgeo.outline.asked import rules_for
    from fieldgeo.outline.read import read_outline
    from fieldgeo.outline.sniff import sniff

    sources = [sniff(path, kind=options.get("source_kind")) for path in paths]
    asked = asked_rules(options)
    ruled = [rules_for(source.kind, asked) for source in sources]
    unused = set(asked).difference(*(taken for _, taken in ruled))
    for name in _OPTIONS:
        if name in unused:
            flag, kind = _OPTIONS[name]
            given = ", ".join(f"{source.path.name} is a {source.kind}" for source in sources)
            raise click.UsageError(f"{flag} goes with a {kind}; {given}.")
    fields = []
    for source, (rules, _) in zip(sources, ruled, strict=True):
        crs = options["crs"] if source.kind == "file" or len(sources) == 1 else None
        with _reading_bar(source.path.name) as progress:
            fields.append(read_outline(source.path, crs=crs, rules=rules, progress=progress))
    return fields


@contextmanager
def _reading_bar(name: str) -> Iterator[Callable[[float], None] | None]:
    """Give a callback for the share that is read, which draws a bar on a terminal; None where nobody watches."""
    if not sys.stderr.isatty():
        yield None
        return
    with click.progressbar(length=100, label=f"reading {name}", file=sys.stderr) as bar:
        yield lambda share: bar.update(int(100 * share) - bar.pos)
