"""The options that several verbs of the command line share, and how their text is read."""

from __future__ import annotations

from collections.abc import Callable
from importlib import import_module
from math import isfinite
from pathlib import Path
from typing import Any, TypeAlias

import click

from fieldgeo.errors import InputError

Command: TypeAlias = Callable[..., Any]
Callback: TypeAlias = Callable[[click.Context, click.Parameter, str | None], Any]


def examples(*commands: str) -> str:
    """Return the end of a verb's help."""
    return "\n".join(
        ["\b", "Examples:" if len(commands) > 1 else "Example:", *(f"  {command}" for command in commands)]
    )


def reads(reader: str) -> Callback:
    """Return a callback that reads an option's text, and says wrong usage where the text cannot be used.

    Parameters
    ----------
    reader : str
        Module of the package and function in it, imported only when there is text to read.
    """

    def callback(_ctx: click.Context, _param: click.Parameter, text: str | None) -> Any:
        if text is None:
            return None
        module, function = reader.split(":")
        read = getattr(import_module(f"fieldgeo.{module}"), function)
        try:
            return read(text)
        except InputError as error:
            raise click.BadParameter(str(error)) from error

    return callback


class FiniteRange(click.FloatRange):
    """A number of a range that is finite: a comparison lets nan pass."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Return the number, or say that it is none."""
        number = super().convert(value, param, ctx)
        if not isfinite(number):
            self.fail(f"got {value}. It must be a finite number.", param, ctx)
        return number


def ends_in(*suffixes: str) -> Callback:
    """Return a callback that wants a file name with one of these suffixes."""

    def callback(_ctx: click.Context, _param: click.Parameter, name: str | None) -> str | None:
        if name is not None and Path(name).suffix.lower() not in suffixes:
            raise click.BadParameter(f"got {name!r}. The name must end in {', '.join(suffixes)}.")
        return name

    return callback


def option_set(*added: Command) -> Command:
    """Return a decorator that adds options to a verb, in this order."""

    def add(command: Command) -> Command:
        for option in reversed(added):
            command = option(command)
        return command

    return add


json_option = click.option("--json", "as_json", is_flag=True, help="Print one JSON object, SI and farm units both.")
crs_option = click.option(
    "--crs",
    metavar="CRS",
    help="Coordinate system of a file, such as EPSG:26915 or 'Illinois East ftUS'.",
)
file_options = option_set(
    click.option("--out", metavar="FILE",
                 callback=ends_in(".geojson", ".json", ".gpkg", ".kml", ".gpx", ".zip", ".csv"),
                 help="Write the layers, in the format of the suffix: .geojson, .gpkg, .kml, .gpx, .csv, .zip "
                 "(shapefiles)."),
    click.option("--map", "map_file", metavar="FILE", callback=ends_in(".svg", ".png", ".pdf"),
                 help="Draw a map (.svg, .png, .pdf)."),
    click.option("--force", is_flag=True, help="Replace files that exist."),
)  # fmt: skip
tool_options = option_set(
    click.option("--width", "widths", metavar="LENGTH", multiple=True, help="Working width of the tool, such as 40ft."),
    click.option("--rows", type=int, metavar="N", help="Rows of the tool; rows x row spacing is its width."),
    click.option("--row-spacing", metavar="LENGTH", help="Distance between rows, such as 30in."),
    click.option("--kind", metavar="KIND", help="Kind of machine, such as planter, for published figures beside."),
    click.option("--tool", "names", metavar="NAME", multiple=True, help="A tool of the shed."),
    click.option("--shed", metavar="FILE", help="Shed file (TOML) that lists the tools."),
    click.option("--speed", metavar="SPEED", help="Speed while working, such as 5mph."),
    click.option("--turn-speed", metavar="SPEED", help="Speed while turning."),
    click.option("--turn-radius", metavar="LENGTH", help="Least turning radius, such as 24ft."),
    click.option("--lap", metavar="LENGTH", help="Lap kept on purpose between passes, such as 6in."),
    click.option("--sections", metavar="N|rows", callback=reads("machinery.asked:read_sections"),
                 help="Parts of the width that shut off by themselves; rows: every row."),
)  # fmt: skip
work_options = option_set(
    click.option("--headland", metavar="N|auto", default="auto", show_default=True,
                 callback=reads("analysis.asked:read_headland"),
                 help="Headland rounds; auto: as many as the tool needs to turn; 0: straight through, edge to edge."),
    click.option("--sides", type=click.Choice(["auto", "ends", "all"]), default="auto", show_default=True,
                 help="Headland at the ends of the passes only, or along all sides; auto: the quicker of the two."),
    click.option("--finish", type=click.Choice(["cover", "clean", "half"]), default="cover", show_default=True,
                 help="Lift when the whole width is out, when its first edge is out, or half way."),
)  # fmt: skip
direction_option = click.option(
    "--direction", metavar="DEG|best", default="best", show_default=True,
    callback=reads("analysis.asked:read_direction"),
    help="Direction of the passes, degrees clockwise from true north, or the best there is.",
)  # fmt: skip
order_options = option_set(
    click.option("--order",
                 type=click.Choice(["auto", "back-and-forth", "skip", "blocks", "round-and-round", "best"]),
                 default="auto", show_default=True,
                 help="Order of the passes; auto: back and forth, or the pattern that is worth it; best: by a solver."),
    click.option("--list", "is_listed", is_flag=True, help="List the passes as they are driven."),
    click.option("--passes", "pass_file", metavar="FILE", callback=ends_in(".csv"),
                 help="Write the same list to a file (.csv)."),
    click.option("--times", "time_file", metavar="FILE", callback=ends_in(".csv"),
                 help="Write where the tool is and what it does, second by second (.csv)."),
)  # fmt: skip
entrance_option = click.option(
    "--entrance",
    metavar="LON,LAT",
    callback=reads("analysis.asked:read_lonlat"),
    help="Where the tool enters and leaves the field.",
)
