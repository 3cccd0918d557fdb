"""The verbs that need no field: what is in a shed, and what its tractors can pull."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from fieldgeo.cli_answer import answer, say
from fieldgeo.cli_options import examples, json_option, option_set, reads

if TYPE_CHECKING:
    from fieldgeo.machinery.fuel import FuelRules
    from fieldgeo.machinery.traction import Ground

ground_options = option_set(
    click.option("--soil", type=click.Choice(["fine", "medium", "coarse"]), default="medium", show_default=True,
                 help="Texture: clay, loam or sand."),
    click.option("--surface", type=click.Choice(["firm", "tilled", "soft", "concrete"]), default="tilled",
                 show_default=True, help="What the wheels run on: stubble, worked ground, sand or fresh plowing."),
    click.option("--slope", metavar="PCT", type=click.FloatRange(0, 50), default=0.0, show_default=True,
                 help="Slope that is worked uphill, in per cent."),
)  # fmt: skip
fuel_options = option_set(
    click.option("--fuel-equation", type=click.Choice(["newer", "older", "average"]), default="newer",
                 show_default=True, help="Fuel by load, or one figure for each horsepower."),
    click.option("--throttle", metavar="PCT", type=click.FloatRange(30, 100), default=100.0, show_default=True,
                 help="Engine speed at work, of full engine speed."),
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

    return FuelRules(form=options["fuel_equation"], working_speed_share=options["throttle"] / 100)


@click.command(
    epilog=examples(
        "fieldgeo pull shed.toml",
        'fieldgeo pull shed.toml --tool "8-bottom plow" --soil fine --depth 10in',
    )
)
@click.argument("shed", metavar="SHED")
@click.option("--tool", "tools", metavar="NAME", multiple=True, help="A tool of the shed; all of them if left out.")
@click.option("--tractor", "tractors", metavar="NAME", multiple=True, help="A tractor of the shed; all if left out.")
@click.option("--speed", metavar="SPEED", callback=reads("units:parse_speed_m_s"), help="In place of each tool's own.")
@click.option("--depth", metavar="LENGTH", callback=reads("units:parse_length_m"), help="In place of each tool's own.")
@ground_options
@click.option("--load-limit", metavar="PCT", type=click.FloatRange(1, 100), default=80.0, show_default=True,
              help="Share of its power that a tractor may be loaded to.")  # fmt: skip
@fuel_options
@json_option
def pull(shed: str, tools: tuple[str, ...], tractors: tuple[str, ...], **options: Any) -> None:
    """Say which tractor of SHED can pull which tool: draft, power, speed, fuel."""
    from fieldgeo.analysis.pull_figures import pull_figures, pull_shed
    from fieldgeo.machinery.pull import PullRules
    from fieldgeo.machinery.shed import read_shed
    from fieldgeo.report.pull_text import pull_lines, pull_notes

    read = read_shed(shed)
    pulled = pull_shed(
        read, tools=tools, tractors=tractors, ground=asked_ground(options), speed_m_s=options["speed"],
        depth_m=options["depth"], rules=PullRules(load_limit=options["load_limit"] / 100),
    )  # fmt: skip
    figures = pull_figures(pulled, farm=read.farm, rules=asked_fuel(options))
    answer(figures, pull_lines(figures), as_json=options["as_json"])
    say(*pull_notes(figures))


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
