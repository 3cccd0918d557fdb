"""The options of `lay` that go with elevation grids, and coverage as a raster."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import click

from fieldgeo.cli_answer import say
from fieldgeo.cli_options import ends_in, option_set
from fieldgeo.cli_terrain import dem_options

if TYPE_CHECKING:
    from collections.abc import Mapping

    from fieldgeo.analysis.figures import Figures
    from fieldgeo.analysis.plan import PlanFigures
    from fieldgeo.export.count_raster import CountAs
    from fieldgeo.outline.field import Field

_NEEDS_DEM: Final = {
    "dem_crs": "--dem-crs", "unit_m": "--heights", "smooth_m": "--smooth", "is_any_cover": "--any-cover",
}  # fmt: skip

ground_options = option_set(
    click.option("--dem", metavar="DEM", help="Elevation raster: for passes along contours, and for the cells of "
                 "--count-raster to line up with."),
    dem_options,
    click.option("--count-raster", "count_file", metavar="FILE", callback=ends_in(".tif", ".tiff"),
                 help="Write how many times each cell is worked (.tif); without --dem in cells of half a metre."),
    click.option("--count-as", type=click.Choice(["middle", "mean"]), default=None,
                 help="Count swaths over the middle of a cell, or their mean over the cell; middle if not said."),
)  # fmt: skip


def check_ground(options: Mapping[str, Any]) -> None:
    """Check that the options of elevation grids go together, before any work is done.

    Parameters
    ----------
    options : mapping
        Options of the verb.

    Raises
    ------
    click.UsageError
        If they do not.
    FileError
        If the raster cannot be written.
    """
    if options["dem"] is None:
        for name, flag in _NEEDS_DEM.items():
            if options[name]:
                raise click.UsageError(f"{flag} needs --dem FILE, an elevation raster.")
    follow = options["follow"]
    if options["dem"] is not None and (follow is None or follow.kind != "contour"):
        if not options["count_file"]:
            raise click.UsageError("--dem goes with --follow contour or with --count-raster FILE. Say which, or both.")
        # The cells of a raster need its place alone.
        for name, flag in _NEEDS_DEM.items():
            if options[name] and name != "dem_crs":
                raise click.UsageError(f"{flag} goes with --follow contour: a count raster takes no heights from DEM.")
    if options["count_as"] and not options["count_file"]:
        raise click.UsageError("--count-as goes with --count-raster FILE.")
    if options["count_file"]:
        from fieldgeo.export.files import check_target

        check_target(options["count_file"], force=options["force"])


def count_written(plan: PlanFigures, options: Mapping[str, Any]) -> tuple[Figures, list[str]]:
    """Write coverage as a raster, and return its figures with what to say about it.

    Parameters
    ----------
    plan : PlanFigures
        One tool on one field.
    options : mapping
        Options of the verb, with a file for the raster.
    """
    from fieldgeo.export.count_raster import count_figures, write_count_raster
    from fieldgeo.report.count_text import count_notes

    count_as: CountAs = options["count_as"] or "middle"
    raster = write_count_raster(
        plan, options["count_file"], _grid(plan.field, options), count_as=count_as, force=options["force"]
    )
    say(f"written: {options['count_file']}")
    figures = count_figures(raster, plan)
    return figures, list(count_notes(figures, width_m=plan.tool.width_m))


def _grid(field: Field, options: Mapping[str, Any]) -> Any:
    from fieldgeo.export.count_raster import grid_like, own_grid

    return own_grid(field) if options["dem"] is None else grid_like(options["dem"], field, crs=options["dem_crs"])
