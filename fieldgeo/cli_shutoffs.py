"""The verb `shutoffs` and its options."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import click

from fieldgeo.cli_answer import answer, field_notes, progress, say
from fieldgeo.cli_options import (
    direction_option,
    examples,
    json_option,
    option_set,
    reads,
    tool_options,
    work_options,
)
from fieldgeo.cli_sources import asked_choice, choice_options
from fieldgeo.cli_tools import carried, read_one_tool, usage

if TYPE_CHECKING:
    from fieldgeo.analysis.shutoffs import Applied
    from fieldgeo.machinery.tool import Tool

_read_tried = reads("machinery.asked:read_sections")
_read_shutoff_price = reads("analysis.asked_shutoffs:read_shutoff_price")
shutoff_options = option_set(
    click.option("--try", "tried", metavar="N|rows", multiple=True,
                 callback=lambda ctx, param, texts: [_read_tried(ctx, param, text) for text in texts],
                 help="Sections to look at; if not said 2, 4, the tool's own, and every row."),
    click.option("--rate", metavar="RATE", help="What is put down, such as 34000seeds/ac or 20gal/ac; else that of the "
                 "shed."),
    click.option("--holds", metavar="AMOUNT/UNIT", multiple=True, help="How much goes into what: 80000seeds/bag."),
    click.option("--price", metavar="MONEY/UNIT", callback=reads("analysis.asked_shutoffs:read_price"),
                 help="What it costs, such as 300/bag or 18/gal."),
    click.option("--shutoff-price", "prices", metavar="N=MONEY", multiple=True,
                 callback=lambda ctx, param, texts: [_read_shutoff_price(ctx, param, text) for text in texts],
                 help="What so many shut-offs cost, such as 4=2500 or rows=9600: in how many years they pay."),
)  # fmt: skip


@click.command(
    epilog=examples(
        "fieldgeo shutoffs creek.geojson --shed shed.toml --tool planter",
        "fieldgeo shutoffs fields/ --rows 16 --row-spacing 30in --rate 34000seeds/ac",
    )
)
@click.argument("outlines", metavar="OUTLINE...", nargs=-1, required=True)
@tool_options
@shutoff_options
@direction_option
@work_options
@choice_options
@json_option
def shutoffs(outlines: tuple[str, ...], **options: Any) -> None:
    """Say what row or section shut-offs would save on the fields of OUTLINE, files or folders.

    The same plan is worked with whole-tool lift and with each number of sections. Every feature of a file is a field.
    """  # fmt: skip
    from fieldgeo.analysis.shutoff_figures import shutoff_figures
    from fieldgeo.analysis.shutoffs import farm_shutoffs, sections_to_try
    from fieldgeo.outline.farm import read_farm
    from fieldgeo.report.shutoff_text import shutoff_lines, shutoff_notes
    from fieldgeo.report.text import field_cautions

    tool, notes = read_one_tool(options)
    applied = _applied(options, tool)
    price_of = {_number(sections, tool): money for sections, money in options["prices"]}
    tried = usage(sections_to_try, tool, options["tried"])
    sections = tuple(sorted({*tried, *usage(sections_to_try, tool, list(price_of) or [1])}))
    fields = read_farm(outlines, crs=options["crs"], rules=asked_choice(options))
    work = {key: options[key] for key in ("headland", "sides", "finish")} | {"direction_deg": options["direction"]}
    with progress("laying", len(fields)) as step:
        farm = farm_shutoffs(fields, tool, sections, progress=step, **work)
    figures = shutoff_figures(replace(farm, applied=applied, price_of=price_of))
    answer(figures, shutoff_lines(figures), as_json=options["as_json"])
    parts = max(len(field.shape.geoms) for field in fields)
    say(*notes, *field_notes(*fields), *shutoff_notes(figures), *field_cautions(parts=parts))


def _applied(options: dict[str, Any], tool: Tool) -> Applied | None:
    """Return what the tool puts down: as typed, or as the shed says."""
    from fieldgeo.analysis.asked_shutoffs import applied_of

    own = carried(options, tool) or {}
    rate, holds = options["rate"] or own.get("rate"), options["holds"] or own.get("holds") or ()
    if rate is None:
        if options["price"] is not None or options["holds"]:
            raise click.UsageError("--price and --holds need --rate, what is put down, such as 34000seeds/ac.")
        return None
    applied: Applied = usage(applied_of, rate, [holds] if isinstance(holds, str) else holds, options["price"])
    return applied


def _number(sections: int | str, tool: Tool) -> int:
    """Return a number of sections, that of the rows for "rows"."""
    if isinstance(sections, int):
        return sections
    if tool.rows is None:
        raise click.UsageError(f"--shutoff-price rows: tool {tool.name!r} has no rows. Give a number of sections.")
    return tool.rows
