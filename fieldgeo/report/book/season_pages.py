"""The chapters of the season: who does what when, what to buy and what grain to expect, what an acre costs."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from fieldgeo.outline.files.geojson import plain_name
from fieldgeo.report.book.model import Chapter, Facts, Picture, Points, Table, Text
from fieldgeo.report.cost_plot import plot_costs
from fieldgeo.report.lines import area_text, percent_text
from fieldgeo.report.schedule_text import bottleneck_text, day_text, loss_text, schedule_notes
from fieldgeo.report.season_plot import plot_season
from fieldgeo.report.season_weather_text import hour_more_text, simulation_notes, weather_notes
from fieldgeo.report.stops_text import amount_text
from fieldgeo.report.supplies_text import supplies_notes

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fieldgeo.analysis.figures import Figures
    from fieldgeo.report.book.model import Block
    from fieldgeo.season.plan import SeasonPlan


def season_chapters(plan: SeasonPlan, figures: Figures) -> tuple[Chapter, ...]:
    """Return the chapters of a season.

    Parameters
    ----------
    plan : SeasonPlan
        The season with its schedule.
    figures : dict
        From `fieldgeo.season.figures.season_figures`, with `drawn_seasons` (None where none were drawn), `supplies` and
        `costs`.
    """
    chapters = [_season(plan, figures)]
    if figures["supplies"]["products"] or figures["supplies"]["grain"]:
        chapters.append(_supplies(figures["supplies"]))
    if figures["costs"]["operations"]:
        chapters.append(_costs(figures["costs"]))
    return tuple(chapters)


def season_assumed(figures: Figures) -> dict[str, tuple[str, ...]]:
    """Return what the chapters of a season assume, by what it is about.

    Parameters
    ----------
    figures : dict
        As for `season_chapters`.
    """
    notes = [*schedule_notes(figures), *weather_notes(figures["weather"]), *supplies_notes(figures["supplies"])]
    said = tuple(note.partition(": ")[2].rstrip(".") for note in notes if note.startswith("note: "))
    return {"the season": said}


def _season(plan: SeasonPlan, figures: Figures) -> Chapter:
    if figures["is_complete"]:
        answer = f"everything is done by {day_text(figures['finished_on'])}"
    else:
        answer = f"not everything can be done: {figures['left_h']:,.1f} h of field time are left"
    rows = [
        ("answer", answer),
        ("work", f"{figures['tasks']:,} pieces, {figures['field_h']:,.0f} h of field time"),
        ("fuel", f"{figures['fuel_gal']:,.0f} gal ({figures['fuel_L']:,.0f} L)"),
        ("late", loss_text(figures)),
        ("bottleneck", bottleneck_text(figures)),
    ]
    drawn = figures["drawn_seasons"]
    if drawn is not None:
        rows.append(("wet and dry seasons", f"{drawn['seasons']:,} drawn: everything in time in "
                     f"{percent_text(drawn['chance_all'])}"))  # fmt: skip
        rows.append(("an hour more", hour_more_text(drawn)))
    blocks: list[Block] = [Facts(rows=tuple(rows))]
    if plan.schedule.placed:
        says = "Bars of the season: " + "; ".join(_says(figures)) + "."
        blocks.append(Picture(draw=partial(plot_season, plan), says=says))
    blocks += [_operations(figures), _machines(figures)]
    cautions = [note for note in schedule_notes(figures) if note.startswith("caution: ")]
    cautions += list(simulation_notes(drawn)) if drawn is not None else []
    if cautions:
        blocks.append(Points(items=tuple(each.removeprefix("caution: ") for each in cautions), are_cautions=True))
    window = f"{day_text(figures['first_day'])} to {day_text(figures['last_day'])}"
    return Chapter(title="The season", below=f"{window}, {area_text(figures['area_m2'])}", blocks=tuple(blocks))


def _says(figures: Figures) -> Iterator[str]:
    for name, one in figures["finish"].items():
        if one["begins_on"] is not None:
            yield f"{plain_name(name)} {day_text(one['begins_on'])} to {day_text(one['done_until'])}"


def _operations(figures: Figures) -> Table:
    drawn = figures["drawn_seasons"]
    chance = {} if drawn is None else {each["operation"]: each["chance"] for each in drawn["operations"]}
    rows = tuple(
        (
            plain_name(name), day_text(one["begins_on"]), day_text(one["finished_on"]), day_text(one["window_to"]),
            f"{one['field_h']:,.1f}", f"{one['left_h']:,.1f}" if one["left_h"] else "", f"{one['loss']:,.0f}",
            percent_text(chance.get(name)),
        )
        for name, one in figures["finish"].items()
    )  # fmt: skip
    head = ("operation", "begins", "finished", "window to", "hours", "left, h", "lost", "in time")
    return Table(caption="Operations; the last column is the chance of finishing in the window", head=head, rows=rows)


def _machines(figures: Figures) -> Table:
    rows = tuple(
        (plain_name(use["name"]), use["kind"], f"{use['tasks']:,}", f"{use['field_h']:,.1f}",
         f"{use['road_and_hitching_h']:,.1f}")
        for use in figures["machines"]
    )  # fmt: skip
    head = ("who", "kind", "pieces of work", "hours in fields", "road, hitching")
    return Table(caption="Hours", head=head, rows=rows, left=2)


def _supplies(supplies: Figures) -> Chapter:
    blocks: list[Block] = []
    for product in supplies["products"]:
        package = product["package"]
        rows = tuple(
            (plain_name(each["field"]), f"{each['worked_ac']:,.1f}", amount_text(each["amount"]),
             *(() if package is None else (f"{each['packages']:,.1f}",)))
            for each in product["fields"]
        )  # fmt: skip
        head = ("field", "ac worked", "takes", *(() if package is None else (f"{package['word']}s",)))
        name = plain_name(product["product"])
        blocks.append(Table(caption=f"{name}: buy {product['buy']}", head=head, rows=rows))
        share = product["overlap_share"]
        if share:
            blocks.append(Text(text=f"{percent_text(share)} of it goes on ground worked twice."))
    if supplies["grain"]:
        rows = tuple(
            (plain_name(one["field"]), plain_name(one["crop"]), f"{one['worked_ac']:,.1f}", f"{one['bu']:,.0f}",
             f"{one['loads']:,}")
            for one in supplies["grain"]
        )  # fmt: skip
        caption = f"Grain to expect, in loads of {supplies['load_bu']:,.0f} bu"
        blocks.append(Table(caption=caption, head=("field", "crop", "ac cut", "bu", "loads"), rows=rows, left=2))
    return Chapter(title="Seed, supplies and grain", blocks=tuple(blocks))


def _costs(costs: Figures) -> Chapter:
    rows = tuple(
        (
            plain_name(each["operation"]), f"{each['area_ac']:,.0f}", f"{each['field_h']:,.1f}",
            f"{each['per_h']:,.2f}", f"{each['per_ac']:,.2f}", f"{each['total']:,.0f}",
        )
        for each in costs["operations"]
    )  # fmt: skip
    prices = costs["prices"]
    told = (
        f"Reckoned with fuel at {prices['fuel_per_gal']:.2f} a gallon, labor at {prices['wage_h']:.2f} an hour, "
        f"interest {prices['interest_pct']:g} %, taxes, insurance and housing "
        f"{prices['taxes_insurance_housing_pct']:g} %, lubrication {prices['lubrication_pct_of_fuel']:g} % of fuel; "
        "placeholders, no source: each farm has its own."
    )
    says = "Bars of what an acre costs: " + ", ".join(
        f"{plain_name(each['operation'])} {each['per_ac']:,.2f}" for each in costs["operations"]
    )
    blocks: list[Block] = [
        Picture(draw=partial(plot_costs, costs), says=says + "."),
        Table(caption="Cost of each operation, in the farm's own money",
              head=("operation", "ac", "hours", "an hour", "an acre", "all"), rows=rows,
              total=("all, over the fields", f"{costs['area_ac']:,.0f}", "", "", f"{costs['per_ac']:,.2f}",
                     f"{costs['total']:,.0f}")),
        Text(text=told),
    ]  # fmt: skip
    if costs["left_out"]:
        blocks.append(Points(items=tuple(costs["left_out"])))
    return Chapter(title="What an acre costs", blocks=tuple(blocks))
