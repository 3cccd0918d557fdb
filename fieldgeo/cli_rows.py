"""The options of `match`."""

from __future__ import annotations

import click

from fieldgeo.cli_options import ends_in, option_set, reads

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
    click.option("--map", "map_file", metavar="FILE", callback=ends_in(".svg", ".png"),
                 help="Draw the rows and the passes (.svg, .png)."),
    click.option("--force", is_flag=True, help="Replace files that exist."),
)  # fmt: skip
