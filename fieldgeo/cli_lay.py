"""The verb `lay`."""

from __future__ import annotations

from typing import Any

import click

from fieldgeo.cli_answer import answer, field_notes, say
from fieldgeo.cli_beside import given_beside
from fieldgeo.cli_contour import answer_contour, check_contour, contour_options, follows_contour
from fieldgeo.cli_files import check_field, check_targets, write
from fieldgeo.cli_follow import answer_follow, check_follow, follow_options
from fieldgeo.cli_ground import check_ground, ground_options
from fieldgeo.cli_lands import answer_lands, lands_option
from fieldgeo.cli_loads import asked_for, load_for, load_options
from fieldgeo.cli_options import (
    direction_option,
    entrance_option,
    examples,
    file_options,
    json_option,
    order_options,
    tool_options,
    work_options,
)
from fieldgeo.cli_parts import answer_parts, parts_option
from fieldgeo.cli_pictures import check_close_up, close_up_option, strip_option
from fieldgeo.cli_sources import choice_options, read_sources
from fieldgeo.cli_tools import carried, read_one_tool, usage, work_on


@click.command(
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
@follow_options
@lands_option
@parts_option
@load_options
@ground_options
@contour_options
@choice_options
@strip_option
@close_up_option
@file_options
@json_option
def lay(outline: str, **options: Any) -> None:
    """Lay headlands and passes for one tool on the field of OUTLINE."""
    from fieldgeo.analysis import lay as laying
    from fieldgeo.analysis.figures import plan_figures
    from fieldgeo.analysis.loaded import load_plan
    from fieldgeo.analysis.pass_order import order_figures
    from fieldgeo.analysis.stops_figures import load_figures
    from fieldgeo.report.plow_text import furrow_cautions
    from fieldgeo.report.route_text import order_lines
    from fieldgeo.report.stops_text import load_lines, load_notes
    from fieldgeo.report.text import field_cautions, plan_lines, plan_notes

    check_targets(options)
    check_ground(options)
    check_follow(options)
    tool, notes = read_one_tool(options)
    check_close_up(tool, options)
    asked = usage(asked_for, options, own=carried(options, tool))
    check_contour(options, is_loaded=asked is not None)
    if options["parts"] != 1:
        answer_parts(outline, tool, notes, options)
        return
    if follows_contour(options):
        answer_contour(outline, tool, notes, options)
        return
    if options["follow"] is not None:
        answer_follow(outline, tool, notes, options, is_loaded=asked is not None)
        return
    if options["lands"] is not None:
        answer_lands(outline, tool, notes, options, is_loaded=asked is not None)
        return
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
    write(plan, options, loaded=loaded)
    listed, said = given_beside(plan, figures, options, timed=None if loaded is None else loaded.plan)
    lines += listed
    notes = [*notes, *said]
    answer(figures, lines, as_json=options["as_json"])
    notes += furrow_cautions(figures, throws=tool.throws)
    say(*notes, *field_notes(field), *plan_notes(figures), *field_cautions(parts=len(field.shape.geoms)))
