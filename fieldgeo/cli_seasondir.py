"""The options of `direction` for the tools of a season, and its answer."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import click

from fieldgeo.cli_answer import answer, say
from fieldgeo.cli_options import option_set, reads
from fieldgeo.cli_terrain import asked_ground
from fieldgeo.cli_tools import usage

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from fieldgeo.analysis.figures import Figures
    from fieldgeo.analysis.score import Prices
    from fieldgeo.analysis.season_direction import SeasonTool
    from fieldgeo.machinery.tool import Tool
    from fieldgeo.outline.field import Field

_NEEDS_TOOLS: Final = {"times": "--times", "free": "--free", "on_rows": "--on-rows"}
_read_times = reads("analysis.asked_season:read_times")


def _each_once(times: list[tuple[str, int]]) -> dict[str, int]:
    """Return how often each tool is run; that of one tool must not be said twice."""
    by_name = dict(times)
    if len(by_name) < len(times):
        twice = next(name for name in by_name if [each for each, _ in times].count(name) > 1)
        raise click.UsageError(f"--times says twice how often {twice!r} is run. Say it once.")
    return by_name


season_options = option_set(
    click.option("--times", metavar="NAME=N", multiple=True,
                 callback=lambda ctx, param, texts: _each_once([_read_times(ctx, param, text) for text in texts]),
                 help="With several tools: how often one is run over the field in the season; once if not said."),
    click.option("--free", metavar="NAME", multiple=True,
                 help="With several tools: one that takes its own direction although it has rows."),
    click.option("--on-rows", metavar="NAME", multiple=True,
                 help="With several tools: one that shares the rows although it has none."),
)  # fmt: skip


def check_season(options: Mapping[str, Any], tools: Sequence[Tool]) -> None:
    """Check that the options of a season come with several tools.

    Parameters
    ----------
    options : mapping
        Options of the verb.
    tools : sequence of Tool
        The tools asked for.

    Raises
    ------
    click.UsageError
        If there is one tool only.
    """
    given = [flag for name, flag in _NEEDS_TOOLS.items() if options[name]]
    if given and len(tools) < 2:
        raise click.UsageError(f"{given[0]} goes with several tools. Give two or more: --width again, or --tool again.")


def season_answer(
    field: Field,
    tools: Sequence[Tool],
    work: Mapping[str, Any],
    options: Mapping[str, Any],
    *,
    prices: Prices | None,
) -> None:
    """Answer for several tools: one direction for those on rows, its own best for every other.

    Parameters
    ----------
    field : Field
        The field.
    tools : sequence of Tool
        Two or more tools.
    work : mapping
        How the work is done, from `fieldgeo.cli_tools.work_on`.
    options : mapping
        Options of the verb.
    prices : Prices or None
        For ``--by cost``.
    """
    from fieldgeo.analysis.season_direction import season_direction, season_tools
    from fieldgeo.analysis.season_figures import season_direction_figures
    from fieldgeo.report.season_text import season_lines, season_notes

    asked = usage(season_tools, tools, **{name: options[name] for name in _NEEDS_TOOLS})
    by = prices or options["by"]
    if options["dem"] is None:
        figures = season_direction_figures(season_direction(field, asked, by=by, **work))
    else:
        figures = _figures_on_slope(field, asked, work, options)
    figures["candidates"] = figures["candidates"][: options["count"]]
    answer(figures, season_lines(figures), as_json=options["as_json"])
    say(*season_notes(figures))


def _figures_on_slope(
    field: Field, asked: Sequence[SeasonTool], work: Mapping[str, Any], options: Mapping[str, Any]
) -> Figures:
    """Return the figures of a season on the ground of an elevation raster."""
    from fieldgeo.analysis.many_directions import ManyDirections
    from fieldgeo.analysis.season_direction import layer_of, season_direction
    from fieldgeo.terrain.figures import raster_notes
    from fieldgeo.terrain.season_slope import pointed_directions, season_on_slope
    from fieldgeo.terrain.season_slope_figures import season_slope_figures

    layer = layer_of(asked)
    if layer is None:
        raise click.UsageError("--dem: no tool is on rows. Name one with --on-rows, or give one tool alone.")
    ground = asked_ground(options["dem"], field, layer, options)
    rules = {"most_grade": options["most_grade"], "is_any_cover": options["is_any_cover"]}
    many = ManyDirections(field, layer, **{name: work[name] for name in ("headland", "sides", "finish")})
    pointed = pointed_directions(many, ground, entrance_xy=work["entrance_xy"], **rules)
    season = season_direction(field, asked, by=options["by"], also_deg=pointed, **work)
    figures = season_slope_figures(season_on_slope(season, ground, **rules))
    say(*raster_notes(ground.heights, field.area_m2))
    return figures
