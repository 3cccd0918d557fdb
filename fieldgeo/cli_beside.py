"""What `lay` gives beside its answer, whatever kind of plan it is: the list of passes, tables, coverage as a raster."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from fieldgeo.cli_files import write_tables
from fieldgeo.cli_ground import count_written

if TYPE_CHECKING:
    from fieldgeo.analysis.curved.plan import CurvedPlan
    from fieldgeo.analysis.divided.plan import DividedPlan
    from fieldgeo.analysis.plan import Plan


def given_beside(
    plan: Plan | DividedPlan | CurvedPlan,
    figures: dict[str, Any],
    options: dict[str, Any],
    *,
    timed: Plan | None = None,
) -> tuple[list[str], list[str]]:
    """Write and list what the options ask for beside the answer; return lines and notes, and add to the figures.

    Parameters
    ----------
    plan : Plan or DividedPlan or CurvedPlan
        One tool on one field.
    figures : dict
        The answer, which the list of passes and the raster are added to.
    options : dict
        Options of the verb.
    timed : Plan, optional
        The same with its stops, for the table of times.
    """
    lines: list[str] = []
    notes: list[str] = []
    if options["is_listed"]:
        from fieldgeo.analysis.pass_order import pass_list
        from fieldgeo.report.route_text import pass_list_lines

        figures["pass_list"] = pass_list(plan.route)
        lines += pass_list_lines(figures["pass_list"])
    write_tables(plan, plan if timed is None else timed, options)
    if options["count_file"]:
        figures["count_raster"], notes = count_written(plan, options)
    return lines, notes
