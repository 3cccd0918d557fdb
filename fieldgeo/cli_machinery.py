"""The verbs on machines: what is in a shed, what its tractors can pull, what an operation costs."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from fieldgeo.cli_answer import answer, say
from fieldgeo.cli_options import FiniteRange, examples, json_option, option_set, reads

if TYPE_CHECKING:
    from fieldgeo.analysis.operation import WorkAsked
    from fieldgeo.analysis.plan import Plan
    from fieldgeo.analysis.pull_figures import ShedPull
    from fieldgeo.machinery.cost import CostRules
    from fieldgeo.machinery.fuel import FuelRules
    from fieldgeo.machinery.shed import Shed
    from fieldgeo.machinery.traction import Ground

ground_options = option_set(
    click.option("--soil", type=click.Choice(["fine", "medium", "coarse"]), default="medium", show_default=True,
                 help="Texture: clay, loam or sand."),
    click.option("--surface", type=click.Choice(["firm", "tilled", "soft", "concrete"]), default="tilled",
                 show_default=True, help="What the wheels run on: stubble, worked ground, sand or fresh plowing."),
    click.option("--slope", metavar="PCT", type=FiniteRange(0, 50), default=0.0, show_default=True,
                 help="Slope that is worked uphill, in per cent."),
)  # fmt: skip
fuel_options = option_set(
    click.option("--fuel-equation", type=click.Choice(["newer", "older", "average"]), default="newer",
                 show_default=True, help="Fuel by load, or one figure for each horsepower."),
    click.option("--throttle", metavar="PCT", type=FiniteRange(30, 100), default=100.0, show_default=True,
                 help="Engine speed at work, of full engine speed."),
    click.option("--turning-load", metavar="PCT", type=FiniteRange(0, 100),
                 help="Power used while turning, of the greatest; 20 if left out."),
    click.option("--idle-speed", metavar="PCT", type=FiniteRange(10, 100),
                 help="Engine speed while standing, of full engine speed; 40 if left out."),
)  # fmt: skip


def asked_ground(options: dict[str, Any]) -> Ground:
    """Return the ground that the options of a verb ask for.

    Parameters
    ----------
    options : dict
        Options of the verb.
    """
    from fieldgeo.machinery.traction import Ground

    return Ground(soil=options["soil"], surface=options["surface"], slope=options["slope"] / 100)


def asked_fuel(options: dict[str, Any]) -> FuelRules:
    """Return how fuel is worked out, as the options of a verb ask.

    Parameters
    ----------
    options : dict
        Options of the verb.
    """
    from fieldgeo.machinery.fuel import FuelRules

    shares = {"turning_load": options["turning_load"], "idle_speed_share": options["idle_speed"]}
    given = {name: value / 100 for name, value in shares.items() if value is not None}
    return FuelRules(form=options["fuel_equation"], working_speed_share=options["throttle"] / 100, **given)


@click.command(
    epilog=examples(
        "fieldgeo pull shed.toml",
        'fieldgeo pull shed.toml --tool "8-bottom plow" --soil fine --depth 10in',
    )
)
@click.argument("shed", metavar="SHED")
@click.option("--tool", "tools", metavar="NAME", multiple=True, help="A tool of the shed; all of them if left out.")
@click.option("--tractor", "tractors", metavar="NAME", multiple=True, help="A tractor of the shed; all if left out.")
@click.option(
    "--speed", metavar="SPEED", callback=reads("machinery.asked:speed_asked"), help="In place of each tool's own."
)
@click.option(
    "--depth", metavar="LENGTH", callback=reads("machinery.asked:depth_asked"), help="In place of each tool's own."
)
@ground_options
@click.option("--load-limit", metavar="PCT", type=FiniteRange(1, 100), default=80.0, show_default=True,
              help="Share of its power that a tractor may be loaded to.")  # fmt: skip
@click.option("--altitude-power", metavar="PCT", type=FiniteRange(10, 100), default=100.0, show_default=True,
              help="Share of its power that an engine has left at this altitude.")  # fmt: skip
@click.option("--field", "fields", metavar="OUTLINE", multiple=True,
              help="Fields to lay out: fuel by the time line of each. Goes with one --tool.")  # fmt: skip
@click.option("--dem", metavar="DEM",
              help="Elevation raster that the slope of each field's passes comes from; goes with --field.")  # fmt: skip
@fuel_options
@json_option
def pull(shed: str, tools: tuple[str, ...], tractors: tuple[str, ...], **options: Any) -> None:
    """Say which tractor of SHED can pull which tool: draft, power, speed, fuel.

    With --field the fuel of one tool on each field: working, turning, standing.
    """  # fmt: skip
    from fieldgeo.analysis.pull_figures import pull_figures, pull_shed
    from fieldgeo.machinery.pull import PullRules
    from fieldgeo.machinery.shed import read_shed
    from fieldgeo.report.pull_text import pull_lines, pull_notes

    _check_pull_usage(options, tools, tractors)
    read = read_shed(shed)
    rules = PullRules(load_limit=options["load_limit"] / 100, altitude_share=options["altitude_power"] / 100)
    pulled = pull_shed(
        read, tools=tools, tractors=tractors, ground=asked_ground(options), speed_m_s=options["speed"],
        depth_m=options["depth"], rules=rules,
    )  # fmt: skip
    if options["fields"]:
        pulled, rows, notes = _on_fields(read, pulled, named=bool(tractors), options=options)
        figures = pull_figures(pulled, farm=read.farm, rules=asked_fuel(options)) | {"fields": rows}
    else:
        figures, notes = pull_figures(pulled, farm=read.farm, rules=asked_fuel(options)), []
    answer(figures, pull_lines(figures), as_json=options["as_json"])
    say(*notes, *pull_notes(figures))


def _check_pull_usage(options: dict[str, Any], tools: tuple[str, ...], tractors: tuple[str, ...]) -> None:
    if options["fields"] and (len(tools) != 1 or len(tractors) > 1):
        raise click.UsageError("--field goes with one --tool, and one --tractor at most.")
    if options["dem"] and not options["fields"]:
        raise click.UsageError("--dem goes with --field; without one, --slope says how steep it is.")
    if options["dem"] and options["slope"]:
        raise click.UsageError("--slope does not go with --dem, which gives it for each field.")


def _on_fields(
    shed: Shed, pulled: ShedPull, *, named: bool, options: dict[str, Any]
) -> tuple[ShedPull, list[dict[str, Any]], list[str]]:
    """Return the pairing that works the fields, its figures on each of them, and what to say."""
    from dataclasses import replace

    from fieldgeo.analysis.field_pull import field_pull_figures, work_plan
    from fieldgeo.errors import InputError
    from fieldgeo.outline.farm import read_farm

    fitting = sorted((each for each in pulled.pulls if each.fits), key=lambda each: each.available_w)
    if not fitting and not named:
        raise InputError(f"tool {pulled.pulls[0].tool.name!r}: no tractor of the shed holds its speed. Name one.")
    chosen = pulled.pulls[0] if named else fitting[0]
    tool = replace(chosen.tool, speed_m_s=chosen.speed_m_s)
    chosen = replace(chosen, tool=tool)
    rows, notes = [], []
    for field in read_farm(options["fields"]):
        work = work_plan(field, tool, own_load=shed.loads.get(tool.name))
        notes += [f"note: {work.note}."] if work.note else []
        ground = chosen.ground
        if options["dem"]:
            ground = replace(ground, slope=_slope_along(options["dem"], work.plan))
        rows.append(field_pull_figures(work, chosen, ground, rules=asked_fuel(options)))
    if options["dem"]:
        notes.append("note: slope is what 90 % of the length of a field's passes does not exceed, driven uphill.")
    return replace(pulled, pulls=(chosen,)), rows, notes


def _slope_along(dem: str, plan: Plan) -> float:
    """Return the slope along the passes that 90 per cent of their length does not exceed. [-]"""
    from fieldgeo.errors import InputError
    from fieldgeo.terrain.ground import read_terrain
    from fieldgeo.terrain.measure import measure_slopes

    slopes = measure_slopes(plan, read_terrain(dem, plan.field, width_m=plan.tool.width_m))
    slope = slopes.grade_quantile("along", 0.9)
    if slope is None:
        raise InputError(f"field {plan.field.name!r}: DEM tells no slope along its passes. Give --slope in its place.")
    return slope


@click.command(epilog=examples("fieldgeo shed shed.toml"))
@click.argument("file", metavar="FILE")
@json_option
def shed(file: str, **options: Any) -> None:
    """List the tools and tractors of a shed file, and what has been assumed of each."""
    from fieldgeo.analysis.shed_figures import shed_figures
    from fieldgeo.machinery.shed import read_shed
    from fieldgeo.report.pull_text import shed_lines, shed_notes

    figures = shed_figures(read_shed(file))
    answer(figures, shed_lines(figures), as_json=options["as_json"])
    say(*shed_notes(figures))


cost_options = option_set(
    click.option("--interest", metavar="PCT", type=FiniteRange(0, 50), help="Real interest; 5 if left out."),
    click.option("--fuel-price", metavar="MONEY", type=FiniteRange(0), help="Of a gallon; 3.50 if left out."),
    click.option("--wage", metavar="MONEY", type=FiniteRange(0), help="Of an hour of labor; 20 if left out."),
    click.option("--labor-hours", metavar="N", type=FiniteRange(1, 10),
                 help="Hours of labor for an hour of field time; 1.1, or 1.2 without a tractor, if left out."),
    click.option("--taxes", metavar="PCT", type=FiniteRange(0, 50),
                 help="Taxes, insurance and housing in a year, of the mean value; 1.5 if left out."),
    click.option("--lubrication", metavar="PCT", type=FiniteRange(0, 100),
                 help="Of the cost of fuel; 15 if left out."),
    click.option("--crop-value", metavar="MONEY", type=FiniteRange(0),
                 help="Of the crop on an acre, to count lateness; goes with --daily-loss."),
    click.option("--daily-loss", metavar="PCT", type=FiniteRange(0, 100),
                 help="Of the crop's value for each day of delay; goes with --crop-value."),
    click.option("--hours-a-day", metavar="N", type=FiniteRange(0, 24, min_open=True), default=10.0,
                 show_default=True, help="Field hours in a day that is fit, for lateness."),
    click.option("--fit-days", metavar="PCT", type=FiniteRange(0, 100, min_open=True), default=50.0,
                 show_default=True, help="Share of days fit for work, for lateness."),
)  # fmt: skip


@click.command(
    epilog=examples(
        'fieldgeo cost shed.toml --tool "16-row planter" --acres 800',
        'fieldgeo cost shed.toml --tool "30 ft disk" --against "40 ft disk" --acres 9',
        "fieldgeo cost shed.toml --tool combine --field creek.geojson --hire 40",
    )
)
@click.argument("shed", metavar="SHED")
@click.option("--tool", metavar="NAME", required=True, help="A tool of the shed.")
@click.option("--tractor", metavar="NAME", help="A tractor of the shed; left out, the smallest that holds the speed.")
@click.option("--against", metavar="NAME", help="Another tool of the shed for the same work.")
@click.option("--against-tractor", metavar="NAME", help="What draws the other tool; left out, the same.")
@click.option("--acres", metavar="N", type=FiniteRange(0, 1e6, min_open=True),
              help="Worked in a year; left out, the fields of --field once.")  # fmt: skip
@click.option("--field", "fields", metavar="OUTLINE", multiple=True,
              help="Fields to lay out for capacity and fuel; left out, the typical field efficiency.")  # fmt: skip
@click.option("--efficiency", metavar="PCT", type=FiniteRange(0, 100, min_open=True),
              help="Field efficiency in place of the typical one.")  # fmt: skip
@click.option("--hire", metavar="MONEY", type=FiniteRange(0, min_open=True), help="Of an acre, done by hire.")
@ground_options
@cost_options
@fuel_options
@json_option
def cost(shed: str, **options: Any) -> None:
    """Say what an operation with machines of SHED costs, an hour and an acre.

    Beside it another tool, or hiring, and the acres a year from which that is cheaper.
    """  # fmt: skip
    from fieldgeo.analysis.cost_figures import cost_figures
    from fieldgeo.analysis.operation import asked_operation
    from fieldgeo.machinery.shed import read_shed
    from fieldgeo.report.cost_text import cost_lines, cost_notes
    from fieldgeo.units import ACRE_M2

    _check_cost_usage(options)
    read = read_shed(shed)
    asked = _work_asked(options)
    operation = asked_operation(read, options["tool"], options["tractor"], asked)
    against = None
    if options["against"]:
        against = asked_operation(read, options["against"], options["against_tractor"] or options["tractor"], asked)
    rules, given = _cost_rules(options)
    figures = cost_figures(
        operation, area_m2=operation.fields_m2 if options["acres"] is None else options["acres"] * ACRE_M2,
        rules=rules, given=given, against=against,
        hire_m2=None if options["hire"] is None else options["hire"] / ACRE_M2,
    )  # fmt: skip
    answer(figures, cost_lines(figures), as_json=options["as_json"])
    say(*cost_notes(figures))


def _check_cost_usage(options: dict[str, Any]) -> None:
    if options["acres"] is None and not options["fields"]:
        raise click.UsageError("no area. Give --acres, or --field with the outlines of the fields.")
    if options["fields"] and options["efficiency"] is not None:
        raise click.UsageError("--efficiency does not go with --field, which gives it as an answer.")
    if options["against_tractor"] and not options["against"]:
        raise click.UsageError("--against-tractor needs --against NAME, the tool that it draws.")
    if (options["crop_value"] is None) != (options["daily_loss"] is None):
        raise click.UsageError("--crop-value and --daily-loss go together.")


def _work_asked(options: dict[str, Any]) -> WorkAsked:
    from fieldgeo.analysis.operation import WorkAsked
    from fieldgeo.machinery.timeliness import Delay
    from fieldgeo.outline.farm import read_farm
    from fieldgeo.units import ACRE_M2

    delay = None
    if options["crop_value"] is not None:
        delay = Delay(
            loss=options["daily_loss"] / 100, value_m2=options["crop_value"] / ACRE_M2,
            hours_a_day=options["hours_a_day"], fit_share=options["fit_days"] / 100,
        )  # fmt: skip
    efficiency = options["efficiency"]
    return WorkAsked(
        ground=asked_ground(options), fields=tuple(read_farm(options["fields"])) if options["fields"] else (),
        efficiency=None if efficiency is None else efficiency / 100, delay=delay, fuel=asked_fuel(options),
    )  # fmt: skip


def _cost_rules(options: dict[str, Any]) -> tuple[CostRules, set[str]]:
    """Return prices and shares, and the names of those that were given."""
    from fieldgeo.machinery.cost import CostRules
    from fieldgeo.units import GALLON_L

    units = {
        "interest": ("interest", 0.01), "fuel_price": ("fuel_price_l", 1 / GALLON_L), "wage": ("wage_h", 1.0),
        "taxes": ("taxes_insurance_housing", 0.01), "lubrication": ("lubrication_share", 0.01),
    }  # fmt: skip
    given = {name: options[key] * size for key, (name, size) in units.items() if options[key] is not None}
    if options["labor_hours"] is not None:
        given |= dict.fromkeys(("labor_factor", "labor_factor_own"), options["labor_hours"])
    return CostRules(**given), set(given)
