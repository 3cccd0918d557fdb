"""The verb `slope`."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import click

from fieldgeo.cli_answer import answer, field_notes, say
from fieldgeo.cli_files import check_targets
from fieldgeo.cli_options import (
    direction_option,
    ends_in,
    examples,
    json_option,
    option_set,
    reads,
    tool_options,
    work_options,
)
from fieldgeo.cli_sources import choice_options, read_sources
from fieldgeo.cli_tools import read_one_tool

if TYPE_CHECKING:
    from collections.abc import Mapping

    from fieldgeo.analysis.plan import Plan
    from fieldgeo.machinery.tool import Tool
    from fieldgeo.outline.field import Field
    from fieldgeo.terrain.ground import Terrain
    from fieldgeo.terrain.measure import FieldSlopes

ASSUMED_WIDTH: Final = "40ft"  # own choice, where no tool is given; it is told
MOST_SMOOTH_M: Final = 304.8  # 1000 ft; own choice: beyond it there are no slopes of a field left
grade = reads("terrain.asked:read_grade")

dem_options = option_set(
    click.option("--dem-crs", metavar="CRS", help="Coordinate system of DEM, if it names none, such as EPSG:26915."),
    click.option("--heights", "unit_m", metavar="UNIT", callback=reads("terrain.asked:height_unit_m"),
                 help="Unit of the heights of DEM, if it does not say: m, ft, ftUS."),
    click.option("--smooth", "smooth_m", metavar="LENGTH", callback=reads("units:parse_length_m"),
                 help="Width to which slopes are smoothed; without it the width of the tool."),
    click.option("--any-cover", "is_any_cover", is_flag=True, help="Go on where DEM covers only part of the field."),
)  # fmt: skip
slope_options = option_set(
    dem_options,
    click.option("--row-grade", metavar="GRADE", callback=grade,
                 help="Greatest grade of rows, such as 2%; without it that of the contour farming standard."),
    click.option("--side-limit", metavar="GRADE", callback=grade,
                 help="Greatest side slope by the operator's manual, such as 15% or 8.5deg; nothing is assumed."),
    click.option("--map", "map_file", metavar="FILE", callback=ends_in(".svg", ".png", ".pdf"),
                 help="Draw slopes, contours and passes (.svg, .png, .pdf)."),
    click.option("--force", is_flag=True, help="Replace files that exist."),
)  # fmt: skip


def with_tool(options: Mapping[str, Any]) -> tuple[dict[str, Any], list[str]]:
    """Return the options with a tool assumed where none is given, and what to say about it.

    Parameters
    ----------
    options : mapping
        Options of the verb.
    """
    given = ("widths", "names", "rows", "row_spacing", "shed", "kind")
    if any(options[key] for key in given):
        return dict(options), []
    return {**options, "widths": (ASSUMED_WIDTH,)}, [f"note: no tool is given: one of {ASSUMED_WIDTH} is assumed."]


def measured_slopes(path: str, plan: Plan, options: Mapping[str, Any]) -> FieldSlopes:
    """Return the slope of a field and of a plan on it.

    Parameters
    ----------
    path : str
        Elevation raster.
    plan : Plan
        One tool on the field.
    options : mapping
        Options of the verb.

    Raises
    ------
    click.UsageError
        If the width to smooth to is not above zero, or beyond `MOST_SMOOTH_M`.
    """
    from fieldgeo.terrain.measure import SlopeRules, measure_slopes

    rules = SlopeRules(
        row_grade=options["row_grade"], side_limit=options["side_limit"], is_any_cover=options["is_any_cover"]
    )
    return measure_slopes(plan, asked_ground(path, plan.field, plan.tool, options), rules)


def asked_ground(path: str, field: Field, tool: Tool, options: Mapping[str, Any]) -> Terrain:
    """Return the slope of the ground about a field, smoothed to the width of a tool or to the one asked for.

    Parameters
    ----------
    path : str
        Elevation raster.
    field : Field
        The field.
    tool : Tool
        The tool.
    options : mapping
        Options of the verb.

    Raises
    ------
    click.UsageError
        If the width to smooth to is not above zero, or beyond `MOST_SMOOTH_M`.
    """
    from fieldgeo.terrain.ground import read_terrain

    width_m = tool.width_m if options["smooth_m"] is None else options["smooth_m"]
    if not 0 < width_m <= MOST_SMOOTH_M:
        raise click.UsageError(f"--smooth: got {width_m:g} m. It must be above zero, and {MOST_SMOOTH_M:g} m at most.")
    return read_terrain(path, field, width_m=width_m, crs=options["dem_crs"], unit_m=options["unit_m"])


@click.command(
    epilog=examples(
        "fieldgeo slope creek.geojson county_10m.tif --width 40ft --direction 90",
        "fieldgeo slope creek.geojson lidar.tif --shed shed.toml --tool planter",
    )
)
@click.argument("outline", metavar="OUTLINE")
@click.argument("dem", metavar="DEM")
@tool_options
@direction_option
@work_options
@choice_options
@slope_options
@json_option
def slope(outline: str, dem: str, **options: Any) -> None:
    """Measure the slope along and across the passes on OUTLINE, from the elevation raster DEM.

    A raster may be in any coordinate system and unit; only the part about the field is read.
    """  # fmt: skip
    from fieldgeo.analysis import lay as laying
    from fieldgeo.report.slope_text import side_slope_cautions, slope_lines
    from fieldgeo.terrain.figures import raster_notes, slope_figures, slope_notes

    check_targets(options)
    options, assumed = with_tool(options)
    tool, notes = read_one_tool(options)
    field = read_sources([outline], options)[0]
    work = {key: options[key] for key in ("headland", "sides", "finish")}
    slopes = measured_slopes(dem, laying.lay(field, tool, direction_deg=options["direction"], **work), options)
    figures = slope_figures(slopes)
    if options["map_file"]:
        from fieldgeo.report.slope_map import save_slopes

        save_slopes(slopes, options["map_file"], force=options["force"])
        say(f"written: {options['map_file']}")
    answer(figures, slope_lines(figures), as_json=options["as_json"])
    notes += [*field_notes(field), *raster_notes(slopes.ground.heights, field.area_m2)]
    say(*assumed, *notes, *(f"note: {note}." for note in slope_notes(figures)))
    say(*side_slope_cautions(figures))
