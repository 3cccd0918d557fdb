"""Passes along contours: the options of `lay` for them, and the answer."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from fieldgeo.cli_answer import answer, field_notes, say
from fieldgeo.cli_beside import given_beside
from fieldgeo.cli_files import check_field, write
from fieldgeo.cli_options import option_set, reads
from fieldgeo.cli_sources import read_sources
from fieldgeo.cli_terrain import asked_ground, grade
from fieldgeo.cli_tools import work_on

if TYPE_CHECKING:
    from collections.abc import Mapping

    from fieldgeo.analysis.figures import Figures
    from fieldgeo.machinery.tool import Tool
    from fieldgeo.terrain.contour_passes import ContourSearch

contour_options = option_set(
    click.option("--key-height", metavar="HEIGHT|auto", callback=reads("terrain.asked:read_key_height"),
                 help="With --follow contour: height of the key line, such as 960ft; auto: that which loses least "
                 "soil."),
    click.option("--key-lines", type=click.Choice(["auto", "one", "several"]), default=None,
                 help="With --follow contour: one key line, or one for every 250 ft of slope; auto: several where they "
                 "save much soil."),
    click.option("--most-grade", metavar="GRADE", callback=grade,
                 help="With --follow contour: grade that rows are held against, such as 2%; without it that of the "
                 "contour farming standard."),
)  # fmt: skip


def follows_contour(options: Mapping[str, Any]) -> bool:
    """Return whether the passes are to follow contours.

    Parameters
    ----------
    options : mapping
        Options of the verb.
    """
    return options["follow"] is not None and options["follow"].kind == "contour"


def check_contour(options: Mapping[str, Any], *, is_loaded: bool) -> None:
    """Check that the options of contour passes go together.

    Parameters
    ----------
    options : mapping
        Options of the verb.
    is_loaded : bool
        Whether the options, or the shed, say what the tool carries.

    Raises
    ------
    click.UsageError
        If they do not.
    """
    if not follows_contour(options):
        for name in ("key_height", "key_lines", "most_grade"):
            if options[name] is not None:
                raise click.UsageError(f"--{name.replace('_', '-')} goes with --follow contour.")
        return
    if options["dem"] is None:
        raise click.UsageError("--follow contour needs --dem FILE, an elevation raster.")
    if is_loaded:
        raise click.UsageError(
            "filling and unloading are not worked out for contour passes: leave tank, rate and yield out, or --follow. "
            "A tool of the shed that carries something goes by its width: --width, --speed, --turn-radius."
        )
    for is_given, flag, why in (
        (options["lands"] is not None, "--lands", "lands are plowed along straight passes"),
        (options["parts"] != 1, "--parts", "key lines share out the field themselves"),
        (options["direction"] != "best", "--direction", "the contour leads the passes"),
        (options["order"] not in {"auto", "back-and-forth"}, "--order", "bent passes are driven back and forth"),
        (options["follow_crs"] is not None, "--follow-crs", "the contour comes from --dem"),
    ):
        if is_given:
            raise click.UsageError(f"{flag} does not go with --follow contour: {why}. Leave one of the two out.")


def answer_contour(outline: str, tool: Tool, notes: list[str], options: dict[str, Any]) -> None:
    """Lay a tool out along contours of a field, print the answer and write the files.

    Parameters
    ----------
    outline : str
        File of the outline.
    tool : Tool
        The tool.
    notes : list of str
        What is noted about it.
    options : dict
        Options of the verb.
    """
    from fieldgeo.analysis.figures import plan_figures
    from fieldgeo.report.contour_text import contour_lines, follows_text
    from fieldgeo.report.text import field_cautions, plan_lines, plan_notes
    from fieldgeo.terrain.contour_figures import contour_notes

    field = read_sources([outline], options)[0]
    check_field(field, options)
    search, beside, raster = _laid(field, tool, options)
    plan = search.best.plan
    figures = plan_figures(plan) | {"contour": beside}
    lines = [follows_text(beside) if line.startswith("  direction ") else line for line in plan_lines(figures)]
    lines += contour_lines(beside)
    notes = [*notes, *raster, *contour_notes(beside)]
    map_file = options["map_file"]
    write(plan, options | {"map_file": None})
    if map_file:
        from fieldgeo.report.slope_map import save_slopes

        save_slopes(search.best.slopes, map_file, force=options["force"])
        say(f"written: {map_file}")
    listed, said = given_beside(plan, figures, options)
    lines += listed
    notes = [*notes, *said]
    answer(figures, lines, as_json=options["as_json"])
    say(*notes, *field_notes(field), *plan_notes(figures), *field_cautions(parts=len(field.shape.geoms)))


def _laid(field: Any, tool: Tool, options: dict[str, Any]) -> tuple[ContourSearch, Figures, list[str]]:
    from fieldgeo.analysis.many_directions import ManyDirections
    from fieldgeo.terrain.contour_figures import contour_figures
    from fieldgeo.terrain.contour_passes import ContourWork, lay_contour
    from fieldgeo.terrain.figures import raster_notes
    from fieldgeo.terrain.trade import trade_slope

    ground = asked_ground(options["dem"], field, tool, options)
    work = work_on(field, options)
    entrance = work.pop("entrance_xy")
    asked = {"least_radius_m": options["least_radius"], "key_lines": options["key_lines"] or "auto"}
    held = {"most_grade": options["most_grade"], "is_any_cover": options["is_any_cover"]}
    key_height_m = None if options["key_height"] in {None, "auto"} else options["key_height"]
    search = lay_contour(
        field, tool, ground, ContourWork(key_height_m=key_height_m, **work, **held, **asked), entrance_xy=entrance
    )
    trade = trade_slope(ManyDirections(field, tool, **work), ground, entrance_xy=entrance, **held)
    return search, contour_figures(search, trade), list(raster_notes(ground.heights, field.area_m2))
