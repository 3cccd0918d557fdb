"""The command line: ``fieldgeo VERB ...``. The only module that prints.

Answers go to standard output, notes and cautions to standard error. Exit 0 is done, 1 an input that cannot be used, 2
wrong usage. Everything heavy is imported by the verb that needs it, so that help comes at once.
"""

from __future__ import annotations

import os
import sys
from typing import Any, Final

import click

from fieldgeo.cli_book import book
from fieldgeo.cli_direction import compare, direction
from fieldgeo.cli_lay import lay
from fieldgeo.cli_log import log
from fieldgeo.cli_machinery import cost, pull, shed
from fieldgeo.cli_outline import outline
from fieldgeo.cli_rows import match
from fieldgeo.cli_season import season
from fieldgeo.cli_shutoffs import shutoffs
from fieldgeo.cli_terrain import slope
from fieldgeo.errors import FieldgeoError

INTERRUPTED: Final = 130  # as shells number it: 128 + SIGINT
PIPE_CLOSED: Final = 141  # 128 + SIGPIPE


class Verbs(click.Group):
    """The verbs, with one way to end for each way a run can fail."""

    def invoke(self, ctx: click.Context) -> Any:
        """Run a verb; a fault of the input becomes one message, never a traceback."""
        try:
            return super().invoke(ctx)
        except FieldgeoError as error:
            raise click.ClickException(str(error)) from error
        except KeyboardInterrupt:
            click.echo("stopped", err=True)
            ctx.exit(INTERRUPTED)
        except BrokenPipeError:
            # The reader has had enough. What is left in the buffer must not fail again when Python ends.
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
            ctx.exit(PIPE_CLOSED)


def _print_version(ctx: click.Context, _param: click.Parameter, is_asked: bool) -> None:
    if not is_asked:
        return
    from importlib.metadata import PackageNotFoundError, version

    try:
        click.echo(f"fieldgeo {version('fieldgeo')}")
    except PackageNotFoundError:
        click.echo("fieldgeo, run from its source without being installed")
    ctx.exit()


@click.group(cls=Verbs, context_settings={"help_option_names": ["-h", "--help"]})
@click.option(
    "--version",
    is_flag=True,
    is_eager=True,
    expose_value=False,
    callback=_print_version,
    help="Show the version and exit.",
)
def main() -> None:
    """Lay a field out for a tool, and see the acres an hour that are left.

    Lengths and speeds are given with their units: 40ft, 12.2m, 30in, 5mph, 8km/h. Every verb has --json.
    """


for _verb in (outline, lay, direction, compare, shutoffs, log, pull, shed, cost, match, slope, season, book):
    main.add_command(_verb)
