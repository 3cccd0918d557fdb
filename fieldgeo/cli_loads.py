"""The options that say what a tool carries and where it fills or unloads, and what they ask for."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import click

from fieldgeo.cli_options import Callback, option_set, reads

if TYPE_CHECKING:
    from collections.abc import Mapping

    from fieldgeo.analysis.asked_loads import AskedLoad
    from fieldgeo.analysis.loaded import Load
    from fieldgeo.outline.field import Field


def _reads_each(reader: str) -> Callback:
    read = reads(reader)
    return lambda ctx, param, texts: tuple(read(ctx, param, text) for text in texts or ())


load_options = option_set(
    click.option("--tank", metavar="AMOUNT", help="What tank or hoppers hold, such as 30bu, 3x15bu or 1000gal."),
    click.option("--rate", metavar="RATE", help="Seed, fertilizer or spray, such as 0.43bu/ac or 20gal/ac."),
    click.option("--yield", metavar="RATE", help="Grain, such as 180bu/ac."),
    click.option("--rate-zones", metavar="FILE", help="A rate that differs by place: polygons or a raster; where there "
                 "is no value, --rate holds."),
    click.option("--yield-zones", metavar="FILE", help="The same for a yield; where there is no value, --yield holds."),
    click.option("--zone-column", metavar="NAME", help="Column of the polygons that holds the values, such as "
                 "yield_bu_ac."),
    click.option("--zone-unit", metavar="UNIT", help="Unit of the values, such as bu/ac; without it as the column's "
                 "name ends, or that of --rate or --yield."),
    click.option("--zone-crs", metavar="CRS", help="Coordinate system of the zones, if their file names none."),
    click.option("--holds", metavar="AMOUNT/UNIT", multiple=True,
                 help="How much goes into what: 80000seeds/bag, 56lb/bu; corn or soybeans for their bushel."),
    click.option("--fill-at", metavar="PLACE", multiple=True, callback=_reads_each("analysis.asked_loads:read_place"),
                 help="Places: edge, road, a side such as south, LON,LAT of stands, or best (best2: two stands)."),
    click.option("--unload-at", metavar="PLACE", multiple=True,
                 callback=_reads_each("analysis.asked_loads:read_place"), help="The same, or go: a cart on the go."),
    click.option("--road", metavar="SIDE|'LON,LAT LON,LAT'", callback=reads("analysis.asked_loads:read_road"),
                 help="Where the road is: a side of the field, or places along it."),
    click.option("--cart", metavar="AMOUNT", callback=reads("analysis.asked_loads:read_cart"),
                 help="What the cart holds that takes the grain on the go."),
    click.option("--stop-setup", metavar="TIME", help="Time of each stop beside the flow, such as 4min."),
    click.option("--stop-flow", metavar="AMOUNT/TIME", help="Flow in or out, such as 10bu/min."),
    click.option("--stops-first", type=click.Choice(["stops", "time"]),
                 help="Fewest stops and then the least time, or the least time; stops if not said."),
    click.option("--last-fill", type=click.Choice(["needed", "full"]),
                 help="The last fill is what is still needed, or a whole one; needed if not said."),
    click.option("--starts-empty", is_flag=True, help="The first filling is a stop in the field too."),
    click.option("--adjust", metavar="TIME/h|TIME/ac", callback=reads("analysis.asked_loads:read_adjusting"),
                 help="Allowance for adjusting, such as 3min/h of work or 10s/ac."),
)  # fmt: skip
LOAD_NAMES: Final = (
    "tank", "rate", "yield", "holds", "fill_at", "unload_at", "road", "cart", "stop_setup", "stop_flow",
    "stops_first", "last_fill", "starts_empty", "adjust", "rate_zones", "yield_zones", "zone_column", "zone_unit",
    "zone_crs",
)  # fmt: skip


def asked_for(options: Mapping[str, Any], *, own: Mapping[str, Any] | None = None) -> AskedLoad | None:
    """Return what a verb's options ask of filling and unloading; None where they ask for neither.

    Parameters
    ----------
    options : mapping
        Options of the verb.
    own : mapping, optional
        What the shed says that the tool carries.

    Raises
    ------
    InputError
        If something is missing, or options do not go together.
    """
    from fieldgeo.analysis.asked_loads import asked_load

    return asked_load({name: options.get(name) for name in LOAD_NAMES}, own=own)


def load_for(field: Field, asked: AskedLoad) -> Load:
    """Return what was asked for on one field, with the zones of a rate or yield read for it.

    Parameters
    ----------
    field : Field
        The field.
    asked : AskedLoad
        From `asked_for`.

    Raises
    ------
    FileError
        If the file of the zones cannot be read.
    InputError
        If zones or places cannot be used on the field.
    """
    from fieldgeo.analysis.asked_loads import load_on

    if asked.zones is None:
        return load_on(field, asked)
    from fieldgeo.terrain.rate_raster import read_rates

    return load_on(field, asked, rates=read_rates(asked.zones, field))
