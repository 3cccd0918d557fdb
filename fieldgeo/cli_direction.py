"""The verbs `direction` and `compare`."""

from __future__ import annotations

from typing import Any

import click

from fieldgeo.cli_answer import answer, field_notes, progress, say
from fieldgeo.cli_options import (
    direction_option,
    entrance_option,
    examples,
    json_option,
    reads,
    tool_options,
    work_options,
)
from fieldgeo.cli_pictures import (
    check_pictures,
    compare_pictures,
    draw_candidates,
    draw_capacity,
    draw_rose,
    draw_small_maps,
    draw_strip,
    small_maps_option,
)
from fieldgeo.cli_seasondir import check_season, season_answer, season_options
from fieldgeo.cli_sources import asked_choice, choice_options, read_sources
from fieldgeo.cli_tools import read_tools, usage, work_on
from fieldgeo.cli_trade import check_trade, trade_answer, trade_options


@click.command(
    epilog=examples(
        "fieldgeo direction creek.geojson --width 40ft",
        "fieldgeo direction creek.geojson --shed shed.toml --tool planter --tool plow",
        "fieldgeo direction creek.geojson --width 40ft --dem heights.tif",
    )
)
@click.argument("outline", metavar="OUTLINE")
@tool_options
@click.option(
    "--by",
    type=click.Choice(["time", "passes", "overlap", "cost", "erosion"]),
    default="time",
    show_default=True,
    help="What to judge a direction by; erosion with --dem.",
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
@season_options
@work_options
@entrance_option
@small_maps_option
@trade_options
@choice_options
@json_option
def direction(outline: str, **options: Any) -> None:
    """Rank directions of the passes on the field of OUTLINE.

    Several tools are those of a season: tools with rows, and sprayers, share direction and rows; every other takes its
    own best.
    """  # fmt: skip
    from fieldgeo.analysis.asked import asked_prices
    from fieldgeo.analysis.direction import best_direction
    from fieldgeo.analysis.figures import direction_figures
    from fieldgeo.report.text import direction_lines, field_cautions, time_note

    prices = (
        None
        if options["by"] == "erosion"
        else usage(asked_prices, options["by"], options["hour_cost"], options["input_cost"])
    )
    tools, notes = read_tools(options)
    check_season(options, tools)
    check_trade(options, tools)
    field = read_sources([outline], options)[0]
    work = work_on(field, options)
    if options["dem"] is not None and len(tools) == 1:
        trade_answer(field, tools[0], work, options)
        say(*notes, *field_notes(field), time_note(), *field_cautions(parts=len(field.shape.geoms)))
        return
    if len(tools) > 1:
        season_answer(field, tools, work, options, prices=prices)
    else:
        search = best_direction(field, tools[0], by=prices or options["by"], **work)
        draw_rose(search, work, options)
        draw_candidates(search, options)
        figures = direction_figures(search, by=options["by"])
        figures["candidates"] = figures["candidates"][: options["count"]]
        answer(figures, direction_lines(figures), as_json=options["as_json"])
    say(*notes, *field_notes(field), time_note(), *field_cautions(parts=len(field.shape.geoms)))


@click.command(
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
@compare_pictures
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
    check_pictures(options)
    fields = read_farm(outlines, crs=options["crs"], rules=asked_choice(options))
    work = {key: options[key] for key in ("headland", "sides", "finish")} | {"direction_deg": options["direction"]}
    with progress("laying", len(fields) * len(tools)) as step:
        compared = comparing.compare(fields, tools, progress=step, **work)
    figures = compare_figures(compared)
    plotted = figures
    is_between = bool(options["plot_file"]) and len(tools) == 2 and tools[0].width_m != tools[1].width_m
    if options["paying_width"] or is_between:
        narrow, wide = sorted(tools, key=lambda tool: tool.width_m)
        with progress("widths between", comparing.PAYING_STEPS + 1) as step:
            paying = comparing.paying_width(fields, narrow, wide, progress=step, **work)
        between = paying_figures(paying, extra_cost_share=options["extra_cost"] / 100)
        plotted = figures | {"paying_width": between}
        figures = plotted if options["paying_width"] else figures
    draw_small_maps(compared, options)
    draw_strip([row.plan for row in compared.rows], options)
    draw_capacity(plotted, options)
    answer(figures, compare_lines(figures), as_json=options["as_json"])
    parts = max(len(field.shape.geoms) for field in fields)
    say(*notes, *field_notes(*fields), time_note(), *field_cautions(parts=parts))
