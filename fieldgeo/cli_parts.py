"""The option that divides a field into parts, and what is laid and said for it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import click

from fieldgeo.cli_answer import answer, field_notes, say
from fieldgeo.cli_beside import given_beside
from fieldgeo.cli_files import check_field, write
from fieldgeo.cli_loads import LOAD_NAMES
from fieldgeo.cli_options import reads
from fieldgeo.cli_sources import read_sources
from fieldgeo.cli_tools import carried, work_on

if TYPE_CHECKING:
    from fieldgeo.machinery.tool import Tool

parts_option = click.option(
    "--parts", metavar="auto|N", default="1", show_default=True, callback=reads("analysis.asked:read_parts"),
    help="Divide the field into parts with a direction each where that saves time; N: into so many at the most.",
)  # fmt: skip

# Options that say where all passes lie, or are worked out from passes of one direction.
_NOT_WITH: Final = {
    "follow": ("--follow", "passes that follow a line lie over the whole field"),
    "lands": ("--lands", "lands are a division of their own"),
}


def answer_parts(outline: str, tool: Tool, notes: list[str], options: dict[str, Any]) -> None:
    """Divide the field of an outline into parts, lay a tool out on them, print the answer and write the files.

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
    """
    from fieldgeo.analysis.divided.figures import parts_figures
    from fieldgeo.analysis.divided.plan import DividedPlan
    from fieldgeo.analysis.divided.search import lay_parts
    from fieldgeo.analysis.pass_order import order_figures
    from fieldgeo.report.parts_text import parts_lines, parts_notes
    from fieldgeo.report.route_text import order_lines
    from fieldgeo.report.text import field_cautions, plan_lines, plan_notes

    _check_usage(options)
    if carried(options, tool):
        notes = [*notes, f"note: {tool.name} carries something; its stops are not worked out for a divided field."]
    field = read_sources([outline], options)[0]
    check_field(field, options)
    search = lay_parts(field, tool, parts=options["parts"], order=options["order"], **work_on(field, options))
    plan = search.best
    passes = plan.layout.passes if isinstance(plan, DividedPlan) else None
    figures = parts_figures(search) | order_figures(plan.route, passes=passes)
    lines = [*plan_lines(figures), *order_lines(figures), *parts_lines(figures)]
    write(plan, options)
    listed, said = given_beside(plan, figures, options)
    lines += listed
    notes = [*notes, *said]
    answer(figures, lines, as_json=options["as_json"])
    say(*notes, *field_notes(field), *plan_notes(figures), *parts_notes(figures))
    say(*field_cautions(parts=len(field.shape.geoms)))


def _check_usage(options: dict[str, Any]) -> None:
    for name, (flag, why) in _NOT_WITH.items():
        if options.get(name):
            raise click.UsageError(f"{flag} does not go with --parts: {why}. Leave one of the two out.")
    if options["direction"] != "best":
        raise click.UsageError(
            "--direction does not go with --parts: each part gets a direction of its own. Leave one of the two out."
        )
    given = [name for name in LOAD_NAMES if options.get(name)]
    if given:
        raise click.UsageError(
            f"--{given[0].replace('_', '-')} does not go with --parts: filling and unloading are not worked out for a "
            "divided field yet. Leave one of the two out."
        )
