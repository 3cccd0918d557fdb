"""`Plan`: one tool on one field, from the layout to the acres an hour that are left."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from math import isfinite
from typing import Literal

import numpy as np
import shapely

from fieldgeo.analysis.coverage import Coverage, measure_coverage
from fieldgeo.analysis.shapes import CoverageShapes, coverage_shapes
from fieldgeo.errors import InputError, LayoutError
from fieldgeo.layout.axes import Floats
from fieldgeo.layout.curved.model import CurvedLayout
from fieldgeo.layout.headland import SIDES, Rounds, Sides
from fieldgeo.layout.model import Layout
from fieldgeo.layout.parts.model import DividedLayout
from fieldgeo.layout.passes import lay_passes
from fieldgeo.layout.strips import FINISHES, Finish
from fieldgeo.machinery.tool import Tool
from fieldgeo.machinery.turning import headland_rounds, square_turn_s
from fieldgeo.outline.field import Field
from fieldgeo.travel.patterns import Order
from fieldgeo.travel.route import Route, plan_route
from fieldgeo.travel.timeline import TIME_STATES, Timeline, time_route
from fieldgeo.travel.works import RunTurns
from fieldgeo.units import to_feet

# No headland is this deep; more rounds than this are a slip of the pen. Common practice, no source.
MOST_ROUNDS = 50


class PlanFigures:
    """The figures that come out of a layout with its route, time line and coverage, divided into parts or not."""

    layout: Layout | DividedLayout | CurvedLayout
    route: Route
    timeline: Timeline

    @property
    def coverage(self) -> Coverage:
        """What the layout works, works twice, misses and spills."""
        raise NotImplementedError

    def shapes(self) -> CoverageShapes:
        """Return where the layout works ground again, by cause, and where it misses ground."""
        raise NotImplementedError

    @property
    def field(self) -> Field:
        """The field."""
        return self.layout.field

    @property
    def tool(self) -> Tool:
        """The tool."""
        return self.layout.tool

    @property
    def field_time_s(self) -> float:
        """Field time: the sum of the time line. [s]"""
        return self.timeline.field_time_s

    @property
    def theoretical_m2_s(self) -> float:
        """Theoretical capacity, width x speed. [m2/s]"""
        return self.tool.theoretical_m2_s

    @property
    def effective_m2_s(self) -> float | None:
        """Effective capacity, field area / field time; None where nothing can be worked. [m2/s]"""
        return self.field.area_m2 / self.field_time_s if self.field_time_s > 0 else None

    @property
    def field_efficiency(self) -> float | None:
        """Effective / theoretical capacity; None where nothing can be worked. [-]"""
        effective = self.effective_m2_s
        return None if effective is None else effective / self.theoretical_m2_s

    def losses_s(self) -> dict[str, float]:
        """Return what field time holds beyond the area at theoretical capacity, by cause. [s]

        The entries sum to field time less area / theoretical capacity (derived: the tool works swept ground at that
        capacity, and swept = area + overlap + spill - skip). Skip counts below zero: it is time not spent.
        """
        capacity = self.theoretical_m2_s
        states = self.timeline.by_state_s()
        losses = {f"overlap_{cause}": area / capacity for cause, area in self.coverage.overlap_by_cause_m2.items()}
        losses["spill"] = self.coverage.spill_m2 / capacity
        losses["skip"] = -self.coverage.skip_m2 / capacity
        losses |= {state: states[state] for state in TIME_STATES if state not in {"passes", "headland_rounds"}}
        driven = sum(leg.length_m for leg in self.route.legs if leg.state in {"pass", "headland"})
        # A bar steered round a bend sweeps a little more or less than length x width; with sections it works less than
        # it drives.
        losses["driven_beyond_swept"] = driven / self.tool.speed_m_s - self.layout.swept_m2 / capacity
        return losses


@dataclass(frozen=True, kw_only=True, eq=False)
class Plan(PlanFigures):
    """A layout with its route, time line and coverage."""

    layout: Layout
    route: Route
    timeline: Timeline

    @cached_property
    def coverage(self) -> Coverage:
        """What the layout works, works twice, misses and spills; measured when it is first asked for."""
        return measure_coverage(self.layout)

    def shapes(self) -> CoverageShapes:
        """Return where the layout works ground again, by cause, and where it misses ground."""
        return coverage_shapes(self.layout)


def plan_layout(
    layout: Layout,
    *,
    entrance_xy: Floats | None = None,
    order: Order = "back-and-forth",
    known: RunTurns | None = None,
) -> Plan:
    """Return the plan of a layout: its route, time line and coverage.

    Parameters
    ----------
    layout : Layout
        Headland rounds and passes.
    entrance_xy : ndarray of shape (2,), optional
        Where the tool enters and leaves the field, in the frame. [m]
    order : str
        Order of the passes, as in `fieldgeo.travel.route.plan_route`.
    known : mapping, optional
        Turns between the runs of this headland, where several layouts share it.

    Raises
    ------
    InputError
        If the order is not known.
    """
    route = plan_route(layout, entrance_xy=entrance_xy, order=order, known=known)
    return Plan(layout=layout, route=route, timeline=time_route(route))


def lay_inside(field: Field, tool: Tool, direction_deg: float, rounds: Rounds, finish: Finish) -> Layout:
    """Return the layout of passes inside headland rounds that are already laid.

    Parameters
    ----------
    field : Field
        The field.
    tool : Tool
        The tool.
    direction_deg : float
        Azimuth of the passes, 0 <= d < 180. [deg]
    rounds : Rounds
        Headland rounds and body, from `fieldgeo.layout.headland.lay_rounds`.
    finish : {"cover", "clean", "half"}
        Finish rule.
    """
    passes = lay_passes(rounds.body, direction_deg, tool, finish, turn_s=typical_turn_s(tool))
    return Layout(
        field=field, tool=tool, direction_deg=direction_deg, finish=finish,
        headland=rounds.headland, body=rounds.body, passes=passes,
    )  # fmt: skip


def typical_turn_s(tool: Tool) -> float:
    """Return the time of a turn onto the next pass at a square edge, lifting and setting down counted. [s]"""
    return square_turn_s(tool) + tool.raise_s + tool.lower_s


def check_rules(sides: Sides, finish: Finish) -> None:
    """Check that the names of the rules for headland and passes are known.

    Raises
    ------
    InputError
        If one is not.
    """
    if finish not in FINISHES:
        raise InputError(f"finish: got {finish!r}. It must be one of {', '.join(FINISHES)}.")
    if sides not in SIDES:
        raise InputError(f"sides: got {sides!r}. It must be one of {', '.join(SIDES)}.")


def checked_direction_deg(direction_deg: float) -> float:
    """Return a direction within 0 <= d < 180.

    Raises
    ------
    InputError
        If it is not a number from 0 to 360.
    """
    if not isfinite(direction_deg) or not 0 <= direction_deg <= 360:
        raise InputError(
            f"direction: got {direction_deg:g} degrees. It is an azimuth clockwise from true north and must lie from 0 "
            "to 360; north-south passes are 0, east-west passes 90."
        )
    return float(direction_deg) % 180.0


def checked_rounds(headland: int | Literal["auto"], tool: Tool) -> int:
    """Return the number of headland rounds.

    Raises
    ------
    InputError
        If it is not "auto" or a whole number from 0 to `MOST_ROUNDS`.
    """
    if headland == "auto":
        return headland_rounds(tool)
    if isinstance(headland, bool) or not isinstance(headland, int) or not 0 <= headland <= MOST_ROUNDS:
        raise InputError(f"headland: got {headland!r}. It must be auto, or a whole number from 0 to {MOST_ROUNDS}.")
    return headland


def check_fits(field: Field, tool: Tool) -> None:
    """Check that the tool is not wider than the field is long, and can turn on less than its length.

    Raises
    ------
    LayoutError
        If the width, or the turning radius on either side, is more than the longer side of the narrowest rectangle
        round the field.
    """
    corners = shapely.get_coordinates(shapely.minimum_rotated_rectangle(field.shape))
    longest = float(np.hypot(*np.diff(corners, axis=0).T).max())
    if tool.width_m > longest:
        raise LayoutError(
            f"tool {tool.name!r} works {tool.width_m:.2f} m ({to_feet(tool.width_m):.1f} ft), but field {field.name!r} "
            f"is only {longest:.2f} m long. The tool must be narrower than the field; check the unit of the width and "
            "the coordinate system of the outline."
        )
    radius_m = max(tool.left_radius_m, tool.right_radius_m)
    if radius_m > longest:
        raise LayoutError(
            f"tool {tool.name!r} turns on a radius of {radius_m:.2f} m ({to_feet(radius_m):.1f} ft), but field "
            f"{field.name!r} is only {longest:.2f} m long, and no turn fits. The radius must be less than the length "
            "of the field; check the unit of the turn radius and the coordinate system of the outline."
        )
