"""The options that ask for pictures beside the map, and their drawing."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import click

from fieldgeo.cli_answer import say
from fieldgeo.cli_options import ends_in

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from fieldgeo.analysis.plan import PlanFigures

PICTURES: Final = (".svg", ".png", ".pdf")

strip_option = click.option(
    "--strip", "strip_file", metavar="FILE", callback=ends_in(*PICTURES),
    help="Draw the field time as a bar, every spell in its place (.svg, .png, .pdf).",
)  # fmt: skip


def draw_strip(plans: Sequence[PlanFigures], options: Mapping[str, Any]) -> None:
    """Draw the time of plans as bars, where that is asked for.

    Parameters
    ----------
    plans : sequence of PlanFigures
        The plans, with their stops.
    options : mapping
        Options of the verb.
    """
    if not options.get("strip_file"):
        return
    from fieldgeo.report.strip import save_strip

    save_strip(plans, options["strip_file"], force=options["force"])
    say(f"written: {options['strip_file']}")
