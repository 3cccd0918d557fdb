"""The options that ask for pictures beside the map, and their drawing."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import click

from fieldgeo.cli_answer import say
from fieldgeo.cli_options import ends_in, option_set

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from fieldgeo.analysis.compare import Comparison
    from fieldgeo.analysis.direction import DirectionSearch
    from fieldgeo.analysis.plan import PlanFigures
    from fieldgeo.machinery.tool import Tool

PICTURES: Final = (".svg", ".png", ".pdf")

strip_option = click.option(
    "--strip", "strip_file", metavar="FILE", callback=ends_in(*PICTURES),
    help="Draw the field time as a bar, every spell in its place (.svg, .png, .pdf).",
)  # fmt: skip

close_up_option = click.option(
    "--close-up", "close_up", metavar="FILE", callback=ends_in(*PICTURES),
    help="Draw rows and guess rows at the end of the longest pass; for a tool with rows (.svg, .png, .pdf).",
)  # fmt: skip
small_maps_option = click.option(
    "--map", "map_file", metavar="FILE", callback=ends_in(*PICTURES),
    help="Draw a small map for each direction listed, at one scale (.svg, .png, .pdf).",
)  # fmt: skip
compare_pictures = option_set(
    click.option("--map", "map_file", metavar="FILE", callback=ends_in(*PICTURES),
                 help="Draw a small map for each tool, at one scale (.svg, .png, .pdf)."),
    click.option("--plot", "plot_file", metavar="FILE", callback=ends_in(*PICTURES),
                 help="Draw capacity against width (.svg, .png, .pdf); between two tools, the widths between "
                 "as well, which takes a while."),
    strip_option,
    click.option("--force", is_flag=True, help="Replace files that exist."),
)  # fmt: skip


def check_pictures(options: Mapping[str, Any]) -> None:
    """Check that the pictures asked for can be written, before any work is done.

    Parameters
    ----------
    options : mapping
        Options of the verb.

    Raises
    ------
    FileError
        If one cannot.
    """
    from fieldgeo.export.files import check_target

    for name in ("map_file", "plot_file", "strip_file"):
        if options.get(name):
            check_target(options[name], force=options["force"])


def draw_strip(plans: Sequence[PlanFigures], options: Mapping[str, Any]) -> None:
    """Draw the time of plans as bars, where that is asked for.

    Parameters
    ----------
    plans : sequence of PlanFigures
        The plans, with their stops.
    options : mapping
        Options of the verb.
    """
    if not options.get("strip_file"):
        return
    from fieldgeo.report.strip import save_strip

    save_strip(plans, options["strip_file"], force=options["force"])
    say(f"written: {options['strip_file']}")


def draw_rose(search: DirectionSearch, work: Mapping[str, Any], options: Mapping[str, Any]) -> None:
    """Draw field time against direction, where that is asked for.

    Parameters
    ----------
    search : DirectionSearch
        Search for one tool on one field.
    work : mapping
        How the work is done, from `fieldgeo.cli_tools.work_on`.
    options : mapping
        Options of the verb.
    """
    if not options["plot_file"]:
        return
    from fieldgeo.analysis.direction_curve import direction_curve
    from fieldgeo.report.rose import save_rose

    plan = search.best.plan
    curve = direction_curve(plan.field, plan.tool, **{name: work[name] for name in ("headland", "sides", "finish")})
    save_rose(search, curve, options["plot_file"], count=options["count"], force=options["force"])
    say(f"written: {options['plot_file']}")


def draw_capacity(figures: Mapping[str, Any], options: Mapping[str, Any]) -> None:
    """Draw capacity against width, where that is asked for.

    Parameters
    ----------
    figures : mapping
        Figures of a comparison, with the widths between its tools under "paying_width".
    options : mapping
        Options of the verb.
    """
    if not options["plot_file"]:
        return
    from fieldgeo.report.capacity_plot import save_capacity

    save_capacity(dict(figures), options["plot_file"], force=options["force"])
    say(f"written: {options['plot_file']}")


def draw_small_maps(compared: Comparison, options: Mapping[str, Any]) -> None:
    """Draw a small map for each tool on each field, where that is asked for; on the first fields, if there are many.

    Parameters
    ----------
    compared : Comparison
        Tools on fields.
    options : mapping
        Options of the verb.
    """
    if not options["map_file"]:
        return
    from fieldgeo.report.multiples import MOST_MAPS, save_multiples

    plans = [row.plan for row in compared.rows]
    fields, tools = len({row.field_name for row in compared.rows}), len(compared.totals)
    shown = min(fields, max(1, MOST_MAPS // tools))
    save_multiples(plans[: min(shown * tools, MOST_MAPS)], options["map_file"], force=options["force"])
    say(f"written: {options['map_file']}")
    if tools > MOST_MAPS:
        say(f"note: the small maps show the first {MOST_MAPS} of {tools} tools, on the first field.")
    elif shown < fields:
        say(f"note: the small maps show the first {shown} of {fields} fields; give others by themselves to see them.")


def draw_candidates(search: DirectionSearch, options: Mapping[str, Any]) -> None:
    """Draw a small map for each direction listed, where that is asked for.

    Parameters
    ----------
    search : DirectionSearch
        Search for one tool on one field.
    options : mapping
        Options of the verb.
    """
    if not options["map_file"]:
        return
    from fieldgeo.report.lines import direction_text
    from fieldgeo.report.multiples import MOST_MAPS, save_multiples

    listed = search.candidates[: options["count"]]
    shown = listed[:MOST_MAPS]
    names = [f"{number}  {direction_text(each.direction_deg)}" for number, each in enumerate(shown, start=1)]
    save_multiples([each.plan for each in shown], options["map_file"], names=names, force=options["force"])
    say(f"written: {options['map_file']}")
    if len(shown) < len(listed):
        say(f"note: the small maps show the first {len(shown)} of {len(listed)} directions listed.")


def check_close_up(tool: Tool, options: Mapping[str, Any]) -> None:
    """Check that a tool whose rows are to be drawn has rows, before any work is done.

    Parameters
    ----------
    tool : Tool
        The tool.
    options : mapping
        Options of the verb.

    Raises
    ------
    click.UsageError
        If it has none.
    """
    if options["close_up"] and not tool.rows:
        raise click.UsageError(f"--close-up draws rows, and {tool.name!r} has none. Give --rows and --row-spacing.")


def draw_close_up(plan: PlanFigures, options: Mapping[str, Any]) -> None:
    """Draw the rows of a plan close up, where that is asked for.

    Parameters
    ----------
    plan : PlanFigures
        The plan.
    options : mapping
        Options of the verb.
    """
    if not options.get("close_up"):
        return
    from fieldgeo.report.row_map import save_rows

    save_rows(plan, options["close_up"], force=options["force"])
    say(f"written: {options['close_up']}")
