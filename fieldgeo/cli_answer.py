"""How a verb answers: figures or lines to standard output, notes and cautions to standard error."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from collections.abc import Iterable


def answer(figures: dict[str, Any], lines: Iterable[str], *, as_json: bool) -> None:
    """Print an answer to standard output.

    Parameters
    ----------
    figures : dict
        Figures, for JSON.
    lines : iterable of str
        The same for a person.
    as_json : bool
        Which of the two.
    """
    if as_json:
        click.echo(json.dumps(figures, indent=2, allow_nan=False))
    else:
        for line in lines:
            click.echo(line)


def say(*notes: str) -> None:
    """Print notes and cautions to standard error."""
    from fieldgeo.report.lines import wrap

    for note in notes:
        for line in wrap(note, indent=2):
            click.echo(line, err=True)
