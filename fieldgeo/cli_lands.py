"""The option that lays a one-way plow out in lands, and what is laid and said for it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from fieldgeo.cli_answer import answer, field_notes, say
from fieldgeo.cli_beside import given_beside
from fieldgeo.cli_files import check_field, write
from fieldgeo.cli_options import reads
from fieldgeo.cli_sources import read_sources
from fieldgeo.cli_tools import usage, work_on

if TYPE_CHECKING:
    from fieldgeo.machinery.tool import Tool

lands_option = click.option(
    "--lands", metavar="auto|N|LENGTH", callback=reads("analysis.plow:read_lands"),
    help="Lands for a one-way plow: the best number tried, a number, or a width such as 150ft.",
)  # fmt: skip


def answer_lands(outline: str, tool: Tool, notes: list[str], options: dict[str, Any], *, is_loaded: bool) -> None:
    """Lay a one-way plow out in lands on the field of an outline, print the answer and write the files.

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
    from fieldgeo.analysis.figures import plan_figures
    from fieldgeo.analysis.plow import lay_plow
    from fieldgeo.analysis.plow_figures import land_figures
    from fieldgeo.report.plow_text import land_lines, land_notes
    from fieldgeo.report.text import field_cautions, plan_lines, plan_notes

    _check_usage(options, tool, is_loaded=is_loaded)
    field = read_sources([outline], options)[0]
    check_field(field, options)
    work = work_on(field, options)
    del work["sides"]  # a headland that is plowed round and round lies on all sides
    plowed = lay_plow(field, tool, lands=options["lands"], direction_deg=options["direction"], **work)
    figures = plan_figures(plowed.plan) | {"lands": land_figures(plowed)}
    lines = [*plan_lines(figures), *land_lines(figures["lands"])]
    write(plowed, options)
    listed, said = given_beside(plowed.plan, figures, options)
    lines += listed
    notes = [*notes, *said]
    answer(figures, lines, as_json=options["as_json"])
    notes += [*field_notes(field), *plan_notes(figures), *land_notes(figures["lands"])]
    say(*notes, *field_cautions(parts=len(field.shape.geoms)))


def _check_usage(options: dict[str, Any], tool: Tool, *, is_loaded: bool) -> None:
    from fieldgeo.analysis.plow import check_plow

    usage(check_plow, tool, options["lands"])
    if options["order"] != "auto":
        raise click.UsageError("--order does not go with --lands: lands say in which order the passes are plowed.")
    if options["sides"] == "ends":
        raise click.UsageError(
            "--sides ends does not go with --lands: a one-way plow goes round and round its headland. Leave it out."
        )
    if is_loaded:
        raise click.UsageError("--lands goes with a plow that carries nothing. Leave tank, rate and yield out.")
