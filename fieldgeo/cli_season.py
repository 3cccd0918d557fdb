"""The verb season: every operation on every field in the days that are fit."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from fieldgeo.cli_answer import answer, field_notes, progress, say
from fieldgeo.cli_options import ends_in, examples, json_option
from fieldgeo.cli_supplies import supplies_for, supplies_options

if TYPE_CHECKING:
    from fieldgeo.season.bottleneck import HourWorth
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
@click.option("--out", metavar="FILE", callback=ends_in(".csv", ".gpkg", ".geojson", ".json"),
              help="Write the operations with dates and machines (.csv), and outlines (.gpkg, .geojson).")  # fmt: skip
@click.option("--force", is_flag=True, help="Replace files that exist.")
@json_option
def season(file: str, changes: tuple[str, ...], **options: Any) -> None:
    """Schedule the season in FILE: is everything done in time, and what holds it up.

    FILE (TOML) names fields, crops, operations with their windows, tools and tractors of a shed, and the weather.
    """  # fmt: skip
    from fieldgeo.export.files import check_target
    from fieldgeo.report.schedule_text import schedule_lines, schedule_notes
    from fieldgeo.report.season_weather_text import (
        simulation_lines,
        simulation_notes,
        weather_lines,
        weather_notes,
    )
    from fieldgeo.report.supplies_text import supplies_lines, supplies_notes
    from fieldgeo.season.figures import season_figures
    from fieldgeo.season.read import read_season
    from fieldgeo.season.solve import Effort
    from fieldgeo.season.what_if import read_change

    if options["out"]:
        check_target(options["out"], force=options["force"])
    read = read_season(file)
    asked = [read_change(text, read) for text in changes]
    effort = Effort(work=options["effort"], seed=options["seed"])
    plan, worth, variants = _planned(read, asked, effort)
    figures = season_figures(plan, worth=worth, variants=variants)
    figures["chance_of_finishing"] = _chances(plan, options["seasons"], options["seed"])
    figures["supplies"] = supplies_for(plan, options["load_bu"])
    if options["out"]:
        from fieldgeo.export.season_table import write_season

        write_season(plan, options["out"], force=options["force"])
        say(f"written: {options['out']}")
    drawn = figures["chance_of_finishing"]
    lines = [*schedule_lines(figures), *weather_lines(figures["weather"]), *(simulation_lines(drawn) if drawn else ())]
    lines += supplies_lines(figures["supplies"]) if options["supplies"] else ()
    answer(figures, lines, as_json=options["as_json"])
    say(*field_notes(*(each.field for each in read.fields)), *schedule_notes(figures))
    say(*(f"note: {each.losses_source}." for each in read.operations if each.losses_source))
    say(*weather_notes(figures["weather"]), *(simulation_notes(drawn) if drawn else ()))
    say(*(supplies_notes(figures["supplies"]) if options["supplies"] else ()))


def _planned(read: Any, asked: list[Change], effort: Effort) -> tuple[SeasonPlan, list[HourWorth], list[Variant]]:
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
