"""The verb `outline`: one source, or several side by side."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from fieldgeo.cli_answer import answer, field_notes, say
from fieldgeo.cli_files import check_field, check_targets, write
from fieldgeo.cli_options import examples, file_options, json_option
from fieldgeo.cli_sources import read_sources, source_options

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fieldgeo.outline.field import Field


@click.command(
    epilog=examples(
        "fieldgeo outline creek.geojson --out creek.gpkg",
        "fieldgeo outline parcels.zip --where \"PIN = '12-034'\" --map creek.svg",
        "fieldgeo outline walk.gpx --accuracy 3m --out creek.geojson",
        "fieldgeo outline deed.txt --corner 1=-93.512,42.031 --courses",
        'fieldgeo outline section.txt --part "W1/2 NW1/4"',
        "fieldgeo outline parcel.geojson walk.gpx deed.txt --map both.svg",
    )
)
@click.argument("sources", metavar="SRC...", nargs=-1, required=True)
@source_options
@click.option("--courses", is_flag=True, help="Deed: list the calls worked out.")
@file_options
@json_option
def outline(sources: tuple[str, ...], **options: Any) -> None:
    """Read the outline of a field in SRC, clean it, measure it.

    SRC is a file of polygons, a walked track, the calls of a deed or the corners of a section. Several sources of one
    field are laid side by side.
    """  # fmt: skip
    from fieldgeo.report.outline_text import outline_cautions

    check_targets(options)
    if len(sources) > 1:
        _side_by_side(sources, options)
        return
    from fieldgeo.analysis.outline_figures import field_figures
    from fieldgeo.report.outline_text import course_lines, outline_lines, uncertainty_notes

    field = read_sources(sources, options)[0]
    check_field(field, options)
    figures = field_figures(field)
    if options["courses"] and "deed" not in figures:
        raise click.UsageError(f"--courses goes with a deed; {sources[0]} is a {figures['source']}.")
    write(field, options)
    lines = [*outline_lines(figures), *(course_lines(figures) if options["courses"] else ())]
    answer(figures, lines, as_json=options["as_json"])
    say(*field_notes(field), *uncertainty_notes(figures), *outline_cautions())


def _told_apart(fields: Sequence[Field], paths: Sequence[str]) -> list[Field]:
    """Return fields with the name of the file after a name that comes more than once."""
    names = [field.name for field in fields]
    return [
        replace(field, name=f"{field.name} ({Path(path).name})") if names.count(field.name) > 1 else field
        for field, path in zip(fields, paths, strict=True)
    ]


def _side_by_side(paths: Sequence[str], options: dict[str, Any]) -> None:
    """Answer for several sources of one field."""
    from fieldgeo.analysis.agree import agree, agreement_figures
    from fieldgeo.report.agreement import agreement_lines, agreement_notes
    from fieldgeo.report.outline_text import outline_cautions

    for given, flag in ((options["out"], "--out"), (options["courses"], "--courses")):
        if given:
            raise click.UsageError(f"{flag} goes with one source; {len(paths)} are given.")
    fields = _told_apart(read_sources(paths, options), paths)
    agreement = agree(fields)
    figures = agreement_figures(agreement)
    if options["map_file"]:
        from fieldgeo.report.overlay_map import save_overlay

        save_overlay(agreement, options["map_file"], force=options["force"])
        say(f"written: {options['map_file']}")
    answer(figures, agreement_lines(figures), as_json=options["as_json"])
    say(*agreement_notes(figures), *field_notes(*fields), *outline_cautions())
