"""The verb `book`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from fieldgeo.cli_answer import answer, field_notes, progress, say
from fieldgeo.cli_options import examples, json_option, option_set, reads
from fieldgeo.cli_sources import asked_choice, choice_options

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fieldgeo.report.book.make import BookOrder

DEFAULT_FILES: Final = ("field_book.html", "field_book.pdf")

book_options = option_set(
    click.option("--shed", metavar="FILE", help="Shed file (TOML) with the tools; a season file names its own."),
    click.option("--tool", "names", metavar="NAME", multiple=True,
                 help="A tool of the shed, and no others; the first that lays rows gives the direction."),
    click.option("--farm", metavar="NAME", help="Name of the farm; without it that of the shed."),
    click.option("--direction", "direction_deg", metavar="DEG", callback=reads("analysis.asked:read_direction"),
                 help="Direction of all passes on all fields; without it the best of each field."),
    click.option("--out", "outs", metavar="FILE", multiple=True, default=DEFAULT_FILES, show_default=True,
                 help="What to write: .html for a screen, .pdf for the printer; both may be given."),
    click.option("--force", is_flag=True, help="Replace files that exist."),
)  # fmt: skip


@click.command(
    epilog=examples(
        "fieldgeo book season.toml",
        "fieldgeo book fields/ --shed shed.toml",
        "fieldgeo book creek.geojson --shed shed.toml --tool planter --out creek.pdf",
    )
)
@click.argument("files", metavar="FILE...", nargs=-1, required=True)
@book_options
@choice_options
@json_option
def book(files: tuple[str, ...], **options: Any) -> None:
    """Make a field book of FILE: maps and figures to carry, for screen and printer.

    FILE is a season file, or an outline, several, or a folder of them with a shed. The pages need no network.
    """  # fmt: skip
    from fieldgeo.report.book.make import SUFFIXES, make_book, save_book
    from fieldgeo.report.book_text import book_lines

    for path in options["outs"]:
        if Path(path).suffix.lower() not in SUFFIXES:
            raise click.UsageError(f"--out: got {path!r}. The name must end in {' or '.join(SUFFIXES)}.")
    options["outs"] = tuple({Path(path).absolute(): path for path in options["outs"]}.values())  # each file once
    _check_outs(options)
    is_season = any(Path(file).suffix.lower() == ".toml" for file in files)
    order = _of_season(files, options) if is_season else _of_outlines(files, options)
    made, figures = make_book(order)
    with progress("drawing", len(made.pictures)) as step:
        save_book(made, options["outs"], force=options["force"], progress=step)
    say(*(f"written: {path}" for path in options["outs"]))
    answer(figures, book_lines(figures), as_json=options["as_json"])
    say(*field_notes(*(work.field for work in order.works)), "caution: a planning aid, not a legal survey.")


def _check_outs(options: dict[str, Any]) -> None:
    from fieldgeo.export.files import check_target

    for path in options["outs"]:
        check_target(path, force=options["force"])


def _of_outlines(files: Sequence[str], options: dict[str, Any]) -> BookOrder:
    from fieldgeo.analysis.farm_work import FieldJob, work_fields
    from fieldgeo.machinery.shed import read_shed
    from fieldgeo.outline.farm import read_farm
    from fieldgeo.report.book.make import BookOrder

    if not options["shed"]:
        raise click.UsageError("no shed. Give --shed FILE, the shed file that lists the tools, or a season file.")
    shed = read_shed(options["shed"])
    tools = tuple(shed.tool(name) for name in dict.fromkeys(options["names"])) or shed.tools
    carries = tuple(shed.loads.get(tool.name, {}) for tool in tools)
    fields = read_farm(files, crs=options["crs"], rules=asked_choice(options))
    direction = None if options["direction_deg"] == "best" else options["direction_deg"]
    jobs = [FieldJob(field=field, tools=tools, carries=carries, direction_deg=direction) for field in fields]
    with progress("laying", len(jobs)) as step:
        works = work_fields(jobs, progress=step)
    return BookOrder(farm=options["farm"] or shed.farm, shed=shed, works=works)


def _of_season(files: Sequence[str], options: dict[str, Any]) -> BookOrder:
    """Return the book of a season: its fields in the order of its file, its schedule, its supplies, its costs."""
    from fieldgeo.cli_season import season_answer
    from fieldgeo.report.book.make import BookOrder
    from fieldgeo.report.book.season_pages import season_assumed, season_chapters

    if len(files) > 1:
        raise click.UsageError("a season file stands alone: it names its fields. Give it, or outlines with a shed.")
    for name, flag in _WITH_OUTLINES.items():
        if options.get(name):
            raise click.UsageError(f"{flag} goes with outlines; a season file says it itself.")
    plan, figures = season_answer(files[0])
    season = plan.season
    return BookOrder(
        farm=options["farm"] or season.farm, shed=season.shed, works=tuple(plan.plans.works),
        crops={each.name: each.crop for each in season.fields}, chapters=season_chapters(plan, figures),
        assumed=season_assumed(figures),
    )  # fmt: skip


_WITH_OUTLINES: Final = {
    "shed": "--shed", "names": "--tool", "direction_deg": "--direction", "crs": "--crs", "layer": "--layer",
    "where": "--where", "at_lonlat": "--at",
}  # fmt: skip
