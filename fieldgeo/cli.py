"""The command line: ``fieldgeo VERB ...``. The only module that prints.

Answers go to standard output, notes and cautions to standard error. Exit 0 is done, 1 an input that cannot be used, 2
wrong usage. Everything heavy is imported by the verb that needs it, so that help comes at once.
"""

from __future__ import annotations

import os
import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from fieldgeo.cli_answer import answer, field_notes, progress, say
from fieldgeo.cli_files import check_field, check_targets, write, write_tables
from fieldgeo.cli_loads import asked_for, load_for, load_options
from fieldgeo.cli_log import log_options
from fieldgeo.cli_machinery import cost, pull, shed
from fieldgeo.cli_options import (
    direction_option,
    entrance_option,
    examples,
    file_options,
    json_option,
    order_options,
    reads,
    tool_options,
    work_options,
)
from fieldgeo.cli_rows import match
from fieldgeo.cli_sources import asked_choice, choice_options, read_sources, source_options
from fieldgeo.cli_terrain import slope_options
from fieldgeo.cli_tools import carried, read_one_tool, read_tools, usage, work_on
from fieldgeo.errors import FieldgeoError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fieldgeo.outline.field import Field

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


@main.command(
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


@main.command(
    epilog=examples(
        "fieldgeo lay creek.geojson --width 40ft --speed 5mph --map creek.svg",
        'fieldgeo lay creek.geojson --shed shed.toml --tool "16-row planter"',
    )
)
@click.argument("outline", metavar="OUTLINE")
@tool_options
@direction_option
@work_options
@entrance_option
@order_options
@load_options
@choice_options
@file_options
@json_option
def lay(outline: str, **options: Any) -> None:
    """Lay headlands and passes for one tool on the field of OUTLINE."""
    from fieldgeo.analysis import lay as laying
    from fieldgeo.analysis.figures import plan_figures
    from fieldgeo.analysis.loaded import load_plan
    from fieldgeo.analysis.pass_order import order_figures, pass_list
    from fieldgeo.analysis.stops_figures import load_figures
    from fieldgeo.report.route_text import order_lines, pass_list_lines
    from fieldgeo.report.stops_text import load_lines, load_notes
    from fieldgeo.report.text import field_cautions, plan_lines, plan_notes

    check_targets(options)
    tool, notes = read_one_tool(options)
    asked = usage(asked_for, options, own=carried(options, tool))
    field = read_sources([outline], options)[0]
    check_field(field, options)
    work = work_on(field, options)
    plan = laying.lay(field, tool, direction_deg=options["direction"], order=options["order"], **work)
    load = None if asked is None else load_for(field, asked)
    loaded = None if load is None else load_plan(plan, load, entrance_xy=work["entrance_xy"])
    figures = plan_figures(plan if loaded is None else loaded.plan) | order_figures(plan.route)
    lines = [*plan_lines(figures), *order_lines(figures)]
    if loaded is not None and load is not None:
        figures["load"] = load_figures(loaded)
        lines += load_lines(figures["load"])
        notes += [*(f"note: {note}." for note in load.notes), *load_notes(figures["load"])]
    if options["is_listed"]:
        figures["pass_list"] = pass_list(plan.route)
        lines += pass_list_lines(figures["pass_list"])
    write(plan, options, loaded=loaded)
    write_tables(plan, plan if loaded is None else loaded.plan, options)
    answer(figures, lines, as_json=options["as_json"])
    say(*notes, *field_notes(field), *plan_notes(figures), *field_cautions(parts=len(field.shape.geoms)))


@main.command(
    epilog=examples(
        "fieldgeo direction creek.geojson --width 40ft",
        "fieldgeo direction creek.geojson --shed shed.toml --tool planter --tool plow",
    )
)
@click.argument("outline", metavar="OUTLINE")
@tool_options
@click.option(
    "--by",
    type=click.Choice(["time", "passes", "overlap", "cost"]),
    default="time",
    show_default=True,
    help="What to judge a direction by.",
)
@click.option(
    "--hour-cost",
    metavar="MONEY",
    callback=reads("analysis.asked:read_cost"),
    help="Cost of tractor, tool and driver for an hour of field time; for --by cost.",
)
@click.option(
    "--input-cost",
    metavar="MONEY",
    callback=reads("analysis.asked:read_cost"),
    help="Cost of seed, fertilizer or chemical on an acre; for --by cost.",
)
@click.option(
    "--count", type=click.IntRange(1, 50), metavar="N", default=5, show_default=True, help="Directions to list."
)
@work_options
@entrance_option
@choice_options
@json_option
def direction(outline: str, **options: Any) -> None:
    """Rank row directions for the tools that follow the rows on the field of OUTLINE."""  # fmt: skip
    from fieldgeo.analysis.asked import asked_prices
    from fieldgeo.analysis.direction import best_direction
    from fieldgeo.analysis.figures import direction_figures, shared_figures
    from fieldgeo.analysis.shared import shared_directions
    from fieldgeo.report.text import direction_lines, field_cautions, shared_lines, time_note

    prices = usage(asked_prices, options["by"], options["hour_cost"], options["input_cost"])
    tools, notes = read_tools(options)
    field = read_sources([outline], options)[0]
    work = work_on(field, options)
    by = options["by"]
    searches = [best_direction(field, tool, by=prices or by, **work) for tool in tools]
    if len(tools) == 1:
        figures = direction_figures(searches[0], by=by)
    else:
        figures = shared_figures(searches, shared_directions(searches, **work), by=by)
    figures["candidates"] = figures["candidates"][: options["count"]]
    lines = direction_lines(figures) if len(tools) == 1 else shared_lines(figures)
    answer(figures, lines, as_json=options["as_json"])
    say(*notes, *field_notes(field), time_note(), *field_cautions(parts=len(field.shape.geoms)))


@main.command(
    epilog=examples(
        "fieldgeo compare creek.geojson --width 30ft --width 40ft --speed 5mph",
        "fieldgeo compare fields/ --width 30ft --width 40ft --paying-width",
    )
)
@click.argument("outlines", metavar="OUTLINE...", nargs=-1, required=True)
@tool_options
@click.option(
    "--paying-width", is_flag=True, help="Find the least added width that saves time (two tools; takes a while)."
)
@click.option(
    "--extra-cost",
    type=click.FloatRange(0, 1000),
    metavar="PCT",
    default=0.0,
    show_default=True,
    help="How much more an hour of the wider tool costs, in per cent; for --paying-width.",
)
@direction_option
@work_options
@choice_options
@json_option
def compare(outlines: tuple[str, ...], **options: Any) -> None:
    """Compare tools side by side on the fields of OUTLINE, files or folders.

    --width and --tool may be given several times. Every feature of a file is a field.
    """  # fmt: skip
    from fieldgeo.analysis import compare as comparing
    from fieldgeo.analysis.figures import compare_figures, paying_figures
    from fieldgeo.outline.farm import read_farm
    from fieldgeo.report.text import compare_lines, field_cautions, time_note

    tools, notes = read_tools(options)
    if len(tools) < 2:
        raise click.UsageError("one tool only. Give two or more: --width again, or --tool again.")
    if options["paying_width"] and len(tools) > 2:
        raise click.UsageError(f"--paying-width is worked out between two tools; {len(tools)} are given.")
    fields = read_farm(outlines, crs=options["crs"], rules=asked_choice(options))
    work = {key: options[key] for key in ("headland", "sides", "finish")} | {"direction_deg": options["direction"]}
    with progress("laying", len(fields) * len(tools)) as step:
        figures = compare_figures(comparing.compare(fields, tools, progress=step, **work))
    if options["paying_width"]:
        narrow, wide = sorted(tools, key=lambda tool: tool.width_m)
        with progress("widths between", comparing.PAYING_STEPS + 1) as step:
            paying = comparing.paying_width(fields, narrow, wide, progress=step, **work)
        figures["paying_width"] = paying_figures(paying, extra_cost_share=options["extra_cost"] / 100)
    answer(figures, compare_lines(figures), as_json=options["as_json"])
    parts = max(len(field.shape.geoms) for field in fields)
    say(*notes, *field_notes(*fields), time_note(), *field_cautions(parts=parts))


@main.command(
    epilog=examples(
        "fieldgeo log combine.csv",
        "fieldgeo log planter.gpx --width 40ft --outline creek.geojson --map day.svg",
        "fieldgeo log day.csv --shed shed.toml --tool planter --calibrate own.toml",
    )
)
@click.argument("file", metavar="FILE")
@log_options
@file_options
@json_option
def log(file: str, **options: Any) -> None:
    """Read back the GPS log of a day's work: what was really done.

    FILE is a table with named columns, GPX or NMEA 0183. With --tool the plan is laid beside it.
    """  # fmt: skip
    from fieldgeo.analysis.log.figures import log_figures
    from fieldgeo.cli_log import beside_lines, calibrate_to, measured_log, plan_beside
    from fieldgeo.report.log_text import log_lines, log_notes

    check_targets(options)
    work, tool = measured_log(file, options)
    figures = log_figures(work)
    lines = list(log_lines(figures))
    if tool is not None:
        figures["plan"] = plan_beside(work, tool)
        lines += beside_lines(figures["plan"], tool)
    if options["calibrate"]:
        figures["calibration"] = calibrate_to(options["calibrate"], work, tool, options["shed"], force=options["force"])
        say(f"written: {options['calibrate']}")
    if options["out"]:
        from fieldgeo.export.log_layers import write_log

        write_log(work, options["out"], force=options["force"])
        say(f"written: {options['out']}")
    if options["map_file"]:
        from fieldgeo.report.log_map import save_log_map

        save_log_map(work, options["map_file"], force=options["force"])
        say(f"written: {options['map_file']}")
    answer(figures, lines, as_json=options["as_json"])
    say(*log_notes(figures))


main.add_command(pull)
main.add_command(shed)
main.add_command(cost)
main.add_command(match)


@main.command(
    epilog=examples(
        "fieldgeo slope creek.geojson county_10m.tif --width 40ft --direction 90",
        "fieldgeo slope creek.geojson lidar.tif --shed shed.toml --tool planter",
    )
)
@click.argument("outline", metavar="OUTLINE")
@click.argument("dem", metavar="DEM")
@tool_options
@direction_option
@work_options
@choice_options
@slope_options
@json_option
def slope(outline: str, dem: str, **options: Any) -> None:
    """Measure the slope along and across the passes on OUTLINE, from the elevation raster DEM.

    A raster may be in any coordinate system and unit; only the part about the field is read.
    """  # fmt: skip
    from fieldgeo.analysis import lay as laying
    from fieldgeo.cli_terrain import measured_slopes, with_tool
    from fieldgeo.report.slope_text import side_slope_cautions, slope_lines
    from fieldgeo.terrain.figures import slope_figures, slope_notes

    check_targets(options)
    options, assumed = with_tool(options)
    tool, notes = read_one_tool(options)
    field = read_sources([outline], options)[0]
    work = {key: options[key] for key in ("headland", "sides", "finish")}
    slopes = measured_slopes(dem, laying.lay(field, tool, direction_deg=options["direction"], **work), options)
    figures = slope_figures(slopes)
    if options["map_file"]:
        from fieldgeo.report.slope_map import save_slopes

        save_slopes(slopes, options["map_file"], force=options["force"])
        say(f"written: {options['map_file']}")
    answer(figures, slope_lines(figures), as_json=options["as_json"])
    say(*assumed, *notes, *field_notes(field), *(f"note: {note}." for note in slope_notes(figures)))
    say(*side_slope_cautions(figures))
