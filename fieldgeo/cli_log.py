"""The verb `log`: what was done, and the plan beside it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from fieldgeo.cli_answer import answer, say
from fieldgeo.cli_files import check_targets
from fieldgeo.cli_options import crs_option, examples, file_options, json_option, option_set, reads

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from fieldgeo.analysis.figures import Figures
    from fieldgeo.analysis.log.measure import DayWork
    from fieldgeo.machinery.tool import Tool


def _columns(_ctx: click.Context, _param: click.Parameter, texts: tuple[str, ...]) -> dict[str, str]:
    """Read ``width=Swth:ft,flow=Flow:lb/s`` into quantities and columns."""
    columns: dict[str, str] = {}
    for each in (part for text in texts for part in text.split(",")):
        quantity, equals, name = each.partition("=")
        if not equals or not quantity.strip() or not name.strip():
            raise click.BadParameter(f"got {each!r}. Give QUANTITY=NAME or QUANTITY=NAME:UNIT, such as width=Swth:ft.")
        columns[quantity.strip().lower()] = name.strip()
    return columns


log_options = option_set(
    click.option("--width", metavar="LENGTH", callback=reads("units:parse_length_m"),
                 help="Full working width of the tool, if the log does not hold it or for one that is right."),
    click.option("--columns", metavar="QUANTITY=NAME[:UNIT],...", multiple=True, callback=_columns,
                 help="Columns of a table whose names do not tell, such as width=Swth:ft,flow=Flow:lb/s. Quantities: "
                 "lat, lon, time, date, cycle, speed, distance, width, switch, height, flow, moisture, elevation."),
    click.option("--field", "field_number", type=click.IntRange(1), metavar="N",
                 help="Which field of a log with several; 1 is the one with most time."),
    click.option("--outline", metavar="OUTLINE", help="Outline of the field; without it one is drawn round the work."),
    crs_option,
    click.option("--break", "break_s", metavar="TIME", default="30min", show_default=True,
                 callback=reads("units:parse_time_s"), help="A stop of this or more is a break and no field time."),
    click.option("--tool", metavar="NAME", help="A tool of the shed: lay the plan beside the log."),
    click.option("--shed", metavar="FILE", help="Shed file (TOML) that lists the tool."),
    click.option("--calibrate", metavar="FILE.toml",
                 help="Write a shed file in which the tool has the figures measured from the log; all else that --shed "
                 "holds is kept."),
)  # fmt: skip


def measured_log(path: str, options: Mapping[str, Any]) -> tuple[DayWork, Tool | None]:
    """Return a log measured, and the tool of the shed that is named.

    Parameters
    ----------
    path : str
        The log.
    options : mapping
        Options of the verb.

    Raises
    ------
    click.UsageError
        If --tool and --shed do not come together.
    """
    from fieldgeo.analysis.log.measure import read_back
    from fieldgeo.analysis.log.record import read_log
    from fieldgeo.machinery.shed import read_shed
    from fieldgeo.outline.read import read_outline

    if bool(options["tool"]) != bool(options["shed"]):
        raise click.UsageError("--tool and --shed go together: a tool, and the shed file that lists it.")
    tool = read_shed(options["shed"]).tool(options["tool"]) if options["tool"] else None
    outline = read_outline(options["outline"], crs=options["crs"]) if options["outline"] else None
    width_m = options["width"] if options["width"] is not None else tool.width_m if tool is not None else None
    log = read_log(path, columns=options["columns"], width_m=width_m, field_number=options["field_number"])
    return read_back(log, outline=outline, break_s=options["break_s"]), tool


def plan_beside(work: DayWork, tool: Tool) -> Figures:
    """Return the plan of a tool beside a log, and how one half of the log foresees the other.

    Parameters
    ----------
    work : DayWork
        A log measured.
    tool : Tool
        The tool, with the figures that it has in the shed.
    """
    from dataclasses import replace

    from fieldgeo.analysis.log.against import halves_against, lay_against
    from fieldgeo.analysis.log.figures import against_figures

    return {
        "as_in_the_shed": against_figures(lay_against(work, tool)),
        "at_log_speed": against_figures(lay_against(work, replace(tool, speed_m_s=work.work_speed_m_s))),
        "by_halves": [against_figures(each) for each in halves_against(work, tool)],
    }


def calibrate_to(path: str, work: DayWork, tool: Tool | None, shed: str | None, *, force: bool) -> Figures:
    """Write a shed file with a tool calibrated from a log, and return what was measured.

    Parameters
    ----------
    path : str
        The file.
    work : DayWork
        A log measured.
    tool : Tool or None
        The tool; without one the log's width under the log's name.
    shed : str or None
        The shed file that lists it; all else in it is kept.
    force : bool
        Whether an existing file may be replaced.
    """
    from fieldgeo.analysis.log.calibrate import calibrate, calibrated_tool, shed_text
    from fieldgeo.analysis.log.figures import calibration_figures
    from fieldgeo.export.files import write_whole
    from fieldgeo.machinery.tool import Tool

    calibration = calibrate(work)
    made = tool if tool is not None else Tool(name=work.log.name, width_m=work.log.width_m)
    kept = Path(shed).read_text(encoding="utf-8-sig") if shed is not None else None
    text = shed_text(calibrated_tool(made, calibration), calibration, source=work.log.name, shed=kept)
    write_whole(path, text, force=force)
    return calibration_figures(calibration)


def beside_lines(figures: Figures, tool: Tool) -> Sequence[str]:
    """Return the lines of a plan beside a log.

    Parameters
    ----------
    figures : dict
        From `plan_beside`.
    tool : Tool
        Its tool.
    """
    from fieldgeo.report.log_text import against_lines, at_log_speed_line, halves_lines

    lines = list(against_lines(figures["as_in_the_shed"], head=f"plan of {tool.name!r} as the shed has it:"))
    return [*lines, at_log_speed_line(figures["at_log_speed"]), *halves_lines(figures["by_halves"])]


@click.command(
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

        notes = write_log(work, options["out"], force=options["force"])
        say(f"written: {options['out']}", *(f"note: {note}." for note in notes))
    if options["map_file"]:
        from fieldgeo.report.log_map import save_log_map

        save_log_map(work, options["map_file"], force=options["force"])
        say(f"written: {options['map_file']}")
    answer(figures, lines, as_json=options["as_json"])
    say(*log_notes(figures))
