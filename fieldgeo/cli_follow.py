"""The options that lay passes along an edge, a line or circles, and what is laid and said for them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import click

from fieldgeo.cli_answer import answer, field_notes, say
from fieldgeo.cli_beside import given_beside
from fieldgeo.cli_files import check_field, write
from fieldgeo.cli_options import option_set, reads
from fieldgeo.cli_sources import read_sources
from fieldgeo.cli_tools import work_on

if TYPE_CHECKING:
    from fieldgeo.machinery.tool import Tool

follow_options = option_set(
    click.option("--follow", metavar="edge:N|circle|contour|FILE", callback=reads("analysis.curved.asked:read_follow"),
                 help="Curved passes: along an edge of the field (edge:0 lists them; edge:2-4 joins some), round a "
                 "centre (circle, circle:LON,LAT), along a contour of --dem, or along the line in a file."),
    click.option("--least-radius", metavar="LENGTH", callback=reads("units:parse_length_m"),
                 help="Least radius of curved passes, such as 60ft; without it the larger of turn radius and half the "
                 "width."),
    click.option("--follow-crs", metavar="CRS", help="Coordinate system of the line's file, if it names none."),
)  # fmt: skip

# Options that are worked out from straight passes of one direction.
_NOT_WITH: Final = {
    "lands": "--lands: lands are plowed along straight passes",
}


def answer_follow(outline: str, tool: Tool, notes: list[str], options: dict[str, Any], *, is_loaded: bool) -> None:
    """Lay a tool out along what is followed on the field of an outline, print the answer and write the files.

    Parameters
    ----------
    outline : str
        File of the outline.
    tool : Tool
        The tool.
    notes : list of str
        What is noted about it.
    options : dict
        Options of the verb.
    is_loaded : bool
        Whether the options, or the shed, say what the tool carries.
    """
    from fieldgeo.analysis import lay as laying
    from fieldgeo.analysis.curved.asked import follow_on
    from fieldgeo.analysis.curved.figures import curved_figures
    from fieldgeo.analysis.curved.plan import lay_curved
    from fieldgeo.report.curved_text import curved_lines, curved_notes
    from fieldgeo.report.text import field_cautions, plan_notes

    _check_usage(options, is_loaded=is_loaded)
    field = read_sources([outline], options)[0]
    check_field(field, options)
    work = work_on(field, options)
    follow = follow_on(field, options["follow"], crs=options["follow_crs"])
    plan = lay_curved(field, tool, follow, least_radius_m=options["least_radius"], **work)
    figures = curved_figures(plan, laying.lay(field, tool, **work))
    lines = list(curved_lines(figures))
    write(plan, options)
    listed, said = given_beside(plan, figures, options)
    lines += listed
    notes = [*notes, *said]
    answer(figures, lines, as_json=options["as_json"])
    say(*notes, *field_notes(field), *plan_notes(figures), *curved_notes(figures))
    say(*field_cautions(parts=len(field.shape.geoms)))


def check_follow(options: dict[str, Any]) -> None:
    """Check that what goes with curved passes alone is not asked for without them."""
    if options["follow"] is None:
        for name in ("least_radius", "follow_crs"):
            if options[name] is not None:
                raise click.UsageError(f"--{name.replace('_', '-')} goes with --follow. Say what the passes follow.")


def _check_usage(options: dict[str, Any], *, is_loaded: bool) -> None:
    for name, what in _NOT_WITH.items():
        if options.get(name):
            raise click.UsageError(f"--follow does not go with {what}. Leave one of the two out.")
    if options.get("parts", 1) != 1:
        raise click.UsageError(
            "--follow does not go with --parts: parts have straight passes. Leave one of the two out."
        )
    if options["direction"] != "best":
        raise click.UsageError(
            "--direction does not go with --follow: what is followed says which way. Leave one of the two out."
        )
    if options["order"] not in {"auto", "back-and-forth"}:
        raise click.UsageError(
            f"--order {options['order']} does not go with --follow: curved passes are driven back and forth. Leave it "
            "out."
        )
    if is_loaded:
        raise click.UsageError(
            "filling and unloading are not worked out for curved passes yet: leave tank, rate and yield out, or "
            "--follow. A tool of the shed that carries something goes by its width: --width, --speed, --turn-radius."
        )
