"""`DividedPlan`: one tool on one field in parts, from the layout to the acres an hour that are left."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

from fieldgeo.analysis.divided.coverage import divided_shapes, measure_divided
from fieldgeo.analysis.plan import PlanFigures
from fieldgeo.layout.parts.model import DividedLayout
from fieldgeo.travel.part_route import plan_part_route
from fieldgeo.travel.timeline import Timeline, time_route

if TYPE_CHECKING:
    from fieldgeo.analysis.coverage import Coverage
    from fieldgeo.analysis.shapes import CoverageShapes
    from fieldgeo.layout.axes import Floats
    from fieldgeo.travel.patterns import Order
    from fieldgeo.travel.route import Route


@dataclass(frozen=True, kw_only=True, eq=False)
class DividedPlan(PlanFigures):
    """A divided layout with its route, time line and coverage."""

    layout: DividedLayout
    route: Route
    timeline: Timeline

    @cached_property
    def coverage(self) -> Coverage:
        """What the layout works, works twice, misses and spills; measured when it is first asked for."""
        return measure_divided(self.layout)

    def shapes(self) -> CoverageShapes:
        """Return where the layout works ground again, by cause, and where it misses ground."""
        return divided_shapes(self.layout)


def plan_parts(
    layout: DividedLayout,
    *,
    entrance_xy: Floats | None = None,
    order: Order = "back-and-forth",
    is_mended: bool = True,
) -> DividedPlan:
    """Return the plan of a divided layout: its route, time line and coverage.

    Parameters
    ----------
    layout : DividedLayout
        Headland rounds and parts.
    entrance_xy : ndarray of shape (2,), optional
        Where the tool enters and leaves the field, in the frame. [m]
    order : str
        Order of the passes, as in `fieldgeo.travel.route.plan_route`.
    is_mended : bool
        Whether the order of rounds and blocks is mended, as in `fieldgeo.travel.part_route.plan_part_route`.

    Raises
    ------
    InputError
        If the order is not known.
    """
    route = plan_part_route(layout, entrance_xy=entrance_xy, order=order, is_mended=is_mended)
    return DividedPlan(layout=layout, route=route, timeline=time_route(route))
