"""The verb `match` and its options."""

from __future__ import annotations

from typing import Any

import click

from fieldgeo.cli_answer import answer, say
from fieldgeo.cli_files import check_targets
from fieldgeo.cli_options import ends_in, examples, json_option, option_set, reads
from fieldgeo.errors import InputError

_length = reads("units:parse_length_m")
match_options = option_set(
    click.option("--planter", "planters", metavar="NAME", multiple=True,
                 help="A tool that lays the rows; without it every planter and drill of the shed that has rows."),
    click.option("--guess-error", "guess_error_m", metavar="LENGTH", callback=_length,
                 help="How far a guess row is off, such as 2in; without it no guess row may be straddled."),
    click.option("--tolerance", "tolerance_m", metavar="LENGTH", callback=_length,
                 help="How far a unit may run off its row; without it 2in."),
    click.option("--field-rows", type=click.IntRange(1), metavar="N",
                 help="Rows across the field: at which side to begin where the last planter pass lays fewer."),
    click.option("--map", "map_file", metavar="FILE", callback=ends_in(".svg", ".png", ".pdf"),
                 help="Draw the rows and the passes (.svg, .png, .pdf)."),
    click.option("--force", is_flag=True, help="Replace files that exist."),
)  # fmt: skip


@click.command(
    epilog=examples(
        "fieldgeo match shed.toml",
        'fieldgeo match shed.toml --planter "16-row planter" --guess-error 2in',
    )
)
@click.argument("shed", metavar="SHED")
@match_options
@json_option
def match(shed: str, **options: Any) -> None:
    """Say which tools of SHED fit the rows of its planters, and which straddle guess rows.

    A guess row is the gap between two planter passes. Sprayers are looked at for their wheels.
    """  # fmt: skip
    from fieldgeo.analysis.match import TOLERANCE_M, MatchRules, match_shed
    from fieldgeo.analysis.match_figures import match_figures
    from fieldgeo.machinery.shed import read_shed
    from fieldgeo.report.match_text import match_lines, match_notes

    check_targets(options)
    tolerance_m = TOLERANCE_M if options["tolerance_m"] is None else options["tolerance_m"]
    guess_error_m, field_rows = options["guess_error_m"], options["field_rows"]
    try:
        rules = MatchRules(tolerance_m=tolerance_m, guess_error_m=guess_error_m, field_rows=field_rows)
    except InputError as error:
        raise click.UsageError(str(error)) from error
    matched = match_shed(read_shed(shed), rules, planters=options["planters"])
    figures = match_figures(matched)
    if options["map_file"]:
        from fieldgeo.report.match_map import save_match

        save_match(matched, options["map_file"], force=options["force"])
        say(f"written: {options['map_file']}")
    answer(figures, match_lines(figures), as_json=options["as_json"])
    say(*match_notes(figures))
