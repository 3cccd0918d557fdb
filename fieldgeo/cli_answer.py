"""How a verb answers: figures or lines to standard output, notes and cautions to standard error."""

from __future__ import annotations

import json
import sys
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, Final

import click

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

    from fieldgeo.outline.field import Field

_MOST_NOTES: Final = 10  # on one field; --json has them all


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


def field_notes(*fields: Field) -> list[str]:
    """Return what was mended on fields and what was seen there, the first few of each."""
    notes = []
    for field in fields:
        said = [f"{change.what} ({change.area_change_m2:+,.1f} m2)" for change in field.changes]
        said += field.problems
        if len(said) > _MOST_NOTES:
            said[_MOST_NOTES:] = [f"and {len(said) - _MOST_NOTES} more; outline --json lists them all"]
        notes += [f"note: {field.name}: {text}." for text in said]
    return notes


@contextmanager
def progress(label: str, steps: int) -> Iterator[Callable[[], None] | None]:
    """Give a callback for each step that draws a progress bar on a terminal, and None where nobody watches."""
    if not sys.stderr.isatty():
        yield None
        return
    with click.progressbar(length=steps, label=label, file=sys.stderr) as bar:
        yield lambda: bar.update(1)
