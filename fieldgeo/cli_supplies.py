"""The options of `season` on seed and supplies, and what they add to its answer."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from fieldgeo.cli_options import option_set, reads

if TYPE_CHECKING:
    from fieldgeo.analysis.plan import Plan
    from fieldgeo.season.model import SeasonOperation
    from fieldgeo.season.plan import SeasonPlan

supplies_options = option_set(
    click.option("--supplies", is_flag=True, help="Tell seed and supplies to buy, and the grain to expect."),
    click.option("--truckload", "load_bu", metavar="AMOUNT", callback=reads("season.supplies:read_load_bu"),
                 help="What a truck or wagon holds, such as 900bu."),
)  # fmt: skip


def supplies_for(plan: SeasonPlan, load_bu: float | None) -> dict[str, Any]:
    """Return the figures of seed, supplies and grain of a season that is planned.

    Parameters
    ----------
    plan : SeasonPlan
        The season with its schedule; what it leaves undone is supplied too.
    load_bu : float, optional
        What a truck or wagon holds. [bu]

    Raises
    ------
    InputError
        If a product cannot be used.
    """
    from fieldgeo.season.problem import carried
    from fieldgeo.season.season_supplies import grounds_of, season_supplies
    from fieldgeo.season.supplies import USUAL_LOAD_BU
    from fieldgeo.season.supplies_figures import supplies_figures

    tasks = plan.problem.tasks
    tools = {(tasks[each.task].operation, tasks[each.task].field): each.mode.tool for each in plan.schedule.placed}

    def plan_of(operation: SeasonOperation, field: str, tool: str) -> Plan | None:
        return plan.plans.plans.get((field, carried(plan.season, operation, plan.season.field_of(field), tool)[0]))

    grounds = grounds_of(plan.season, plan_of, tools)
    return supplies_figures(season_supplies(plan.season, grounds, load_bu=load_bu or USUAL_LOAD_BU))
