"""The verb season: every operation on every field in the days that are fit."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from fieldgeo.cli_answer import answer, field_notes, progress, say
from fieldgeo.cli_options import ends_in, examples, json_option
from fieldgeo.cli_supplies import supplies_for, supplies_options

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fieldgeo.season.bottleneck import HourWorth
    from fieldgeo.season.model import Season
    from fieldgeo.season.plan import SeasonPlan
    from fieldgeo.season.solve import Effort
    from fieldgeo.season.what_if import Change, Variant


@click.command(
    epilog=examples(
        "fieldgeo season season.toml",
        'fieldgeo season season.toml --what-if "40 ft disk for 30 ft disk"',
        'fieldgeo season season.toml --what-if +2h --what-if "another combine"',
        "fieldgeo season season.toml --supplies --truckload 900bu",
        "fieldgeo season season.toml --out season.gpkg --json",
    )
)
@click.argument("file", metavar="FILE")
@click.option("--what-if", "changes", metavar="CHANGE", multiple=True,
              help='Beside it: "NEW for OLD" (tools), "another NAME", +2h a day, +200ac.')  # fmt: skip
@click.option("--seasons", metavar="N", type=click.IntRange(0, 100_000), default=1000, show_default=True,
              help="Wet and dry seasons drawn for the chance of finishing; 0: none.")  # fmt: skip
@click.option("--seed", metavar="N", type=click.IntRange(0, 2**31 - 1), default=4, show_default=True,
              help="Of the search and of the seasons drawn; the same seed gives the same answer.")  # fmt: skip
@click.option("--effort", metavar="X", type=click.FloatRange(0, 100, min_open=True), default=1.0, show_default=True,
              help="How long to search for a schedule; 2: twice as long.")  # fmt: skip
@supplies_options
@click.option("--out", metavar="FILE", callback=ends_in(".csv", ".gpkg", ".geojson", ".json", ".kml", ".zip"),
              help="Write operations with dates (.csv), and outlines (.gpkg, .geojson, .kml, .zip).")  # fmt: skip
@click.option("--plot", "plot_file", metavar="FILE", callback=ends_in(".svg", ".png", ".pdf"),
              help="Draw who is busy when (.svg, .png, .pdf).")  # fmt: skip
@click.option("--cost-plot", "cost_file", metavar="FILE", callback=ends_in(".svg", ".png", ".pdf"),
              help="Draw what an acre of each operation costs (.svg, .png, .pdf).")  # fmt: skip
@click.option("--force", is_flag=True, help="Replace files that exist.")
@json_option
def season(file: str, changes: tuple[str, ...], **options: Any) -> None:
    """Schedule the season in FILE: is everything done in time, and what holds it up.

    FILE (TOML) names fields, crops, operations with their windows, tools and tractors of a shed, and the weather.
    """  # fmt: skip
    from fieldgeo.cli_files import check_targets
    from fieldgeo.report.cost_text import season_cost_lines, season_cost_notes
    from fieldgeo.report.schedule_text import schedule_lines, schedule_notes
    from fieldgeo.report.season_weather_text import (
        simulation_lines,
        simulation_notes,
        weather_lines,
        weather_notes,
    )
    from fieldgeo.report.supplies_text import supplies_lines, supplies_notes

    check_targets(options)
    plan, figures = season_answer(
        file, changes, effort=options["effort"], seed=options["seed"], seasons=options["seasons"],
        load_bu=options["load_bu"],
    )  # fmt: skip
    _write(plan, figures, options)
    drawn = figures["drawn_seasons"]
    lines = [*schedule_lines(figures), *weather_lines(figures["weather"]), *(simulation_lines(drawn) if drawn else ())]
    lines += season_cost_lines(figures["costs"])
    lines += supplies_lines(figures["supplies"]) if options["supplies"] else ()
    answer(figures, lines, as_json=options["as_json"])
    read = plan.season
    say(*field_notes(*(each.field for each in read.fields)), *schedule_notes(figures))
    say(*(f"note: {each.losses_source}." for each in read.operations if each.losses_source))
    say(*weather_notes(figures["weather"]), *(simulation_notes(drawn) if drawn else ()))
    say(*season_cost_notes(figures["costs"]))
    say(*(supplies_notes(figures["supplies"]) if options["supplies"] else ()))


def season_answer(
    file: str, changes: Sequence[str] = (), *, effort: float = 1.0, seed: int = 4, seasons: int = 1000,
    load_bu: float | None = None,
) -> tuple[SeasonPlan, dict[str, Any]]:  # fmt: skip
    """Return a season planned, and all its figures.

    Parameters
    ----------
    file : str
        The season file.
    changes : sequence of str
        What if.
    effort, seed : float, int
        Work and seed of the solver; the seed is that of the seasons drawn too.
    seasons : int
        Wet and dry seasons to draw; 0 for none.
    load_bu : float, optional
        What a truck holds. [bu]
    """
    from fieldgeo.season.costs import season_costs
    from fieldgeo.season.costs_figures import costs_figures
    from fieldgeo.season.figures import season_figures
    from fieldgeo.season.read import read_season
    from fieldgeo.season.solve import Effort
    from fieldgeo.season.what_if import read_change

    read = read_season(file)
    asked = [read_change(text, read) for text in changes]
    plan, worth, variants = _planned(read, asked, Effort(work=effort, seed=seed))
    figures = season_figures(plan, worth=worth, variants=variants)
    drawn = figures["drawn_seasons"] = _chances(plan, seasons, seed)
    figures["chance_of_finishing"] = (
        {each["operation"]: each["chance"] for each in drawn["operations"]} if drawn else {}
    )
    figures["supplies"] = supplies_for(plan, load_bu)
    figures["costs"] = costs_figures(season_costs(plan), plan)
    return plan, figures


def _write(plan: SeasonPlan, figures: dict[str, Any], options: dict[str, Any]) -> None:
    force = options["force"]
    if options["out"]:
        from fieldgeo.export.season_table import write_season

        notes = write_season(plan, options["out"], force=force)
        say(f"written: {options['out']}", *(f"note: {note}." for note in notes))
    if options["plot_file"]:
        from fieldgeo.report.season_plot import save_season_plot

        save_season_plot(plan, options["plot_file"], force=force)
        say(f"written: {options['plot_file']}")
    if options["cost_file"]:
        from fieldgeo.report.cost_plot import save_cost_plot

        save_cost_plot(figures["costs"], options["cost_file"], force=force)
        say(f"written: {options['cost_file']}")


def _planned(read: Season, asked: list[Change], effort: Effort) -> tuple[SeasonPlan, list[HourWorth], list[Variant]]:
    """Return the season planned, what an hour more of each machine is worth, and the season with changes."""
    from fieldgeo.season.bottleneck import SEARCHED, hours_worth
    from fieldgeo.season.plan import plan_season, plan_steps
    from fieldgeo.season.what_if import try_change

    with progress("season", plan_steps(read) + SEARCHED + len(asked)) as step:
        tick = step or (lambda: None)
        plan = plan_season(read, effort=effort, progress=tick)
        worth = hours_worth(plan.problem, plan.schedule, effort=effort, progress=tick)
        variants = [try_change(plan, change, effort=effort, progress=tick) for change in asked]
    return plan, worth, variants


def _chances(plan: SeasonPlan, seasons: int, seed: int) -> dict[str, Any] | None:
    """Return how the schedule fares in drawn seasons; None where none are asked for, or nothing is done."""
    from fieldgeo.season.simulate import simulate, simulation_steps
    from fieldgeo.season.weather_figures import simulation_figures

    if not seasons or not plan.schedule.placed:
        return None
    with progress("wet and dry seasons", simulation_steps(seasons)) as step:
        drawn = simulate(
            plan.problem, plan.schedule, plan.weather, seasons=seasons, seed=seed, days_off=plan.season.days_off,
            progress=step,
        )  # fmt: skip
    return simulation_figures(drawn)
