"""`lay`: the main job, one tool laid out on one field."""

from __future__ import annotations

from typing import Literal

from fieldgeo.analysis.direction import best_direction
from fieldgeo.analysis.plan import (
    Plan,
    check_fits,
    check_rules,
    checked_direction_deg,
    checked_rounds,
    lay_inside,
    plan_layout,
)
from fieldgeo.analysis.score import score_plan
from fieldgeo.layout.axes import Floats
from fieldgeo.layout.headland import Sides, headland_choices, lay_rounds
from fieldgeo.layout.strips import Finish
from fieldgeo.machinery.tool import Tool
from fieldgeo.outline.field import Field
from fieldgeo.travel.patterns import Order, check_order


def lay(
    field: Field,
    tool: Tool,
    *,
    direction_deg: float | Literal["best"] = "best",
    headland: int | Literal["auto"] = "auto",
    sides: Sides = "auto",
    finish: Finish = "cover",
    entrance_xy: Floats | None = None,
    order: Order = "auto",
) -> Plan:
    """Return the layout of one tool on one field, with route, time line and coverage.

    Parameters
    ----------
    field : Field
        The field.
    tool : Tool
        The tool.
    direction_deg : float or "best"
        Azimuth of the passes, 0 <= d <= 360; opposite azimuths are the same passes. ``"best"`` searches. [deg]
    headland : int or "auto"
        Number of headland rounds; ``"auto"`` takes as many as the tool needs to turn; 0 is straight through.
    sides : {"auto", "ends", "all"}
        Headland rounds only along the sides where passes end, along all, or whichever takes less field time.
    finish : {"cover", "clean", "half"}
        When the tool is lifted at the end of a pass: when its whole width is out, when its first edge is out, or when
        its centre line is.
    entrance_xy : ndarray of shape (2,), optional
        Where the tool enters and leaves the field, in the frame. [m]
    order : {"back-and-forth", "skip", "blocks", "round-and-round", "auto", "best"}
        Order of the passes: a pattern, the one worth it for each block, or the best that a solver finds (see
        `fieldgeo.travel.route.plan_route`). For ``"best"`` directions are searched, and headlands chosen, by
        ``"auto"``. A two-way plow must find its own furrow: for it ``"auto"`` is back and forth.

    Raises
    ------
    InputError
        If a value is outside its range.
    LayoutError
        If the tool is wider than the field is long.
    """
    check_order(order)
    order = "back-and-forth" if order == "auto" and tool.throws == "both" else order
    check_fits(field, tool)
    if direction_deg == "best":
        search = best_direction(
            field, tool, headland=headland, sides=sides, finish=finish, entrance_xy=entrance_xy, order=order
        )
        return _solved(search.best.plan, entrance_xy, order)
    check_rules(sides, finish)
    direction, rounds = checked_direction_deg(direction_deg), checked_rounds(headland, tool)
    choices = headland_choices(field.shape, tool, sides=sides, direction_deg=direction) if rounds else [None]
    plans = []
    for chains in choices:
        laid = lay_rounds(field.shape, tool, finish, rounds=rounds, chains=chains)
        layout = lay_inside(field, tool, direction, laid, finish)
        plans.append(plan_layout(layout, entrance_xy=entrance_xy, order="auto" if order == "best" else order))
    return _solved(min(plans, key=lambda plan: score_plan(plan, "time")), entrance_xy, order)


def _solved(plan: Plan, entrance_xy: Floats | None, order: Order) -> Plan:
    return plan_layout(plan.layout, entrance_xy=entrance_xy, order=order) if order == "best" else plan
