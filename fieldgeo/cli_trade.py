"""The options of `direction` on sloping ground, and its answer: time against soil."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import click

from fieldgeo.cli_answer import answer, say
from fieldgeo.cli_options import ends_in, option_set
from fieldgeo.cli_pictures import check_pictures
from fieldgeo.cli_terrain import asked_ground, dem_options, grade

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from fieldgeo.machinery.tool import Tool
    from fieldgeo.outline.field import Field

_NEEDS_DEM: Final = {
    "most_grade": "--most-grade", "dem_crs": "--dem-crs", "unit_m": "--heights",
    "smooth_m": "--smooth", "is_any_cover": "--any-cover",
}  # fmt: skip

trade_options = option_set(
    click.option("--dem", metavar="DEM", help="Elevation raster: show what each direction takes in time and loses in "
                 "soil."),
    dem_options,
    click.option("--most-grade", metavar="GRADE", callback=grade,
                 help="With --dem: the fastest direction that keeps this row grade, such as 2%."),
    click.option("--plot", "plot_file", metavar="FILE", callback=ends_in(".svg", ".png", ".pdf"),
                 help="Draw field time against direction, or with --dem against soil lost (.svg, .png, .pdf)."),
    click.option("--force", is_flag=True, help="Replace files that exist."),
)  # fmt: skip


def check_trade(options: Mapping[str, Any], tools: Sequence[Tool]) -> None:
    """Check that the options of sloping ground go together, before any work is done.

    Parameters
    ----------
    options : mapping
        Options of the verb.
    tools : sequence of Tool
        The tools asked for.

    Raises
    ------
    click.UsageError
        If they do not.
    FileError
        If the picture cannot be written.
    """
    check_pictures(options)
    if options["map_file"] and (len(tools) > 1 or options["dem"] is not None):
        raise click.UsageError("--map goes with one tool, and without --dem.")
    if options["dem"] is None:
        if len(tools) > 1 and options["plot_file"]:
            raise click.UsageError(f"--plot goes with one tool; {len(tools)} are given.")
        given = [flag for name, flag in _NEEDS_DEM.items() if options[name]]
        given += ["--by erosion"] if options["by"] == "erosion" else []
        if given:
            raise click.UsageError(f"{given[0]} needs --dem FILE, an elevation raster.")
        return
    alone = "--plot" if options["plot_file"] else "--by erosion" if options["by"] == "erosion" else None
    if len(tools) > 1 and alone is not None:
        raise click.UsageError(f"{alone} goes with one tool; {len(tools)} are given.")
    if options["by"] not in {"time", "erosion"}:
        raise click.UsageError(f"--dem goes with --by time or erosion, not with --by {options['by']}.")
    if options["most_grade"] is not None and options["by"] == "erosion":
        raise click.UsageError("--most-grade asks for the least time; it does not go with --by erosion.")


def trade_answer(field: Field, tool: Tool, work: Mapping[str, Any], options: Mapping[str, Any]) -> None:
    """Answer for one tool on the ground of an elevation raster.

    Parameters
    ----------
    field : Field
        The field.
    tool : Tool
        The tool.
    work : mapping
        How the work is done, from `fieldgeo.cli_tools.work_on`.
    options : mapping
        Options of the verb.
    """
    from fieldgeo.analysis.many_directions import ManyDirections
    from fieldgeo.report.trade_text import trade_lines
    from fieldgeo.terrain.figures import raster_notes
    from fieldgeo.terrain.trade import trade_slope
    from fieldgeo.terrain.trade_figures import trade_figures, trade_notes

    ground = asked_ground(options["dem"], field, tool, options)
    rules = {name: work[name] for name in ("headland", "sides", "finish")}
    trade = trade_slope(
        ManyDirections(field, tool, **rules), ground, most_grade=options["most_grade"],
        entrance_xy=work["entrance_xy"], is_any_cover=options["is_any_cover"],
    )  # fmt: skip
    figures = trade_figures(trade, by=options["by"], most_grade=options["most_grade"])
    if options["plot_file"]:
        from fieldgeo.report.trade_plot import save_trade

        save_trade(figures, options["plot_file"], force=options["force"])
        say(f"written: {options['plot_file']}")
    figures["candidates"] = figures["candidates"][: options["count"]]
    answer(figures, trade_lines(figures), as_json=options["as_json"])
    say(*raster_notes(ground.heights, field.area_m2), *trade_notes(figures))
