"""The files that options ask for: looked at before any work is done, and written."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from fieldgeo.cli_answer import say
from fieldgeo.cli_pictures import draw_close_up, draw_strip

if TYPE_CHECKING:
    from fieldgeo.analysis.curved.plan import CurvedPlan
    from fieldgeo.analysis.divided.plan import DividedPlan
    from fieldgeo.analysis.loaded import LoadedPlan
    from fieldgeo.analysis.plan import Plan
    from fieldgeo.analysis.plow import LandPlan
    from fieldgeo.outline.field import Field


def check_targets(options: dict[str, Any]) -> None:
    """Check every file to be written before any work is done, so that none is written if one cannot be."""
    from fieldgeo.export.files import check_target

    targets = [
        options[key]
        for key in (
            "out",
            "map_file",
            "pass_file",
            "time_file",
            "strip_file",
            "close_up",
            "plot_file",
            "cost_file",
            "calibrate",
        )
        if options.get(key)
    ]
    for target in targets:
        check_target(target, force=options["force"])


def check_field(field: Field, options: dict[str, Any]) -> None:
    """Check that what holds longitudes and latitudes can be written of a field, before anything is."""
    from fieldgeo.export.files import check_placed

    for key in ("out", "time_file"):
        if options.get(key):
            check_placed(field, options[key])


def write(
    thing: Plan | DividedPlan | CurvedPlan | LandPlan | Field,
    options: dict[str, Any],
    *,
    loaded: LoadedPlan | None = None,
) -> None:
    """Write the files that the options ask for."""
    force = options["force"]
    if options["out"]:
        from fieldgeo.export.write import write_field, write_plan
        from fieldgeo.outline.field import Field

        if isinstance(thing, Field):
            notes = write_field(thing, options["out"], force=force)
        else:
            notes = write_plan(thing if loaded is None else loaded, options["out"], force=force)
        say(f"written: {options['out']}", *(f"note: {note}." for note in notes))
    if options["map_file"]:
        from fieldgeo.report.map import save_map

        save_map(thing if loaded is None else loaded, options["map_file"], force=force)
        say(f"written: {options['map_file']}")


def write_tables(
    plan: Plan | DividedPlan | CurvedPlan, timed: Plan | DividedPlan | CurvedPlan, options: dict[str, Any]
) -> None:
    """Write the list of passes of a plan, the table of its time line, stops and all, and the picture of it."""
    if options["pass_file"]:
        from fieldgeo.export.pass_list import write_pass_list

        write_pass_list(plan.route, options["pass_file"], force=options["force"])
        say(f"written: {options['pass_file']}")
    if options["time_file"]:
        from fieldgeo.export.timeline import write_timeline

        write_timeline(timed.timeline, options["time_file"], force=options["force"])
        say(f"written: {options['time_file']}")
    draw_strip([timed], options)
    draw_close_up(plan, options)
