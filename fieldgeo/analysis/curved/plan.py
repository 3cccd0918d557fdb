"""`CurvedPlan`: one tool along bent lines, from the layout to the acres an hour that are left."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Final, Literal

import numpy as np
import shapely

from fieldgeo.analysis.curved.coverage import curved_shapes, measure_curved
from fieldgeo.analysis.plan import PlanFigures, check_fits, check_rules, checked_rounds
from fieldgeo.analysis.score import score_plan
from fieldgeo.errors import LayoutError
from fieldgeo.layout.curved.circles import lay_circles
from fieldgeo.layout.curved.key import checked_radius_m, smooth_key
from fieldgeo.layout.curved.lay import distances_from, lay_along_key
from fieldgeo.layout.curved.model import CurvedLayout, CurvedPasses
from fieldgeo.layout.headland import Rounds, Sides, lay_rounds
from fieldgeo.layout.overlay import difference, union
from fieldgeo.layout.sides import (
    ALONG_WIDTHS,
    WANDER_SHARE,
    EndChain,
    RingSides,
    end_chains,
    outline_sides,
    worth_leaving,
)
from fieldgeo.travel.curved_route import plan_curved_route
from fieldgeo.travel.timeline import Timeline, time_route
from fieldgeo.units import to_feet

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fieldgeo.analysis.coverage import Coverage
    from fieldgeo.analysis.curved.follow import Follow
    from fieldgeo.analysis.shapes import CoverageShapes
    from fieldgeo.layout.axes import Floats
    from fieldgeo.layout.curved.key import KeyLine
    from fieldgeo.layout.strips import Finish
    from fieldgeo.machinery.tool import Tool
    from fieldgeo.outline.field import Field
    from fieldgeo.travel.route import Route

# A body's edge that lies this share of the width outside the smoothed edge, and its deviation, is still that edge.
EDGE_SHARE: Final = 0.25


@dataclass(frozen=True, kw_only=True, eq=False)
class CurvedPlan(PlanFigures):
    """A layout of curved passes with its route, time line and coverage."""

    layout: CurvedLayout
    route: Route
    timeline: Timeline
    follow: Follow
    left_in_bends_m2: float  # ground of the body between passes that lie apart inside bends, or inside the last ring

    @cached_property
    def coverage(self) -> Coverage:
        """What the layout works, works twice, misses and spills; measured when it is first asked for."""
        return measure_curved(self.layout)

    def shapes(self) -> CoverageShapes:
        """Return where the layout works ground again, by cause, and where it misses ground."""
        return curved_shapes(self.layout)


def lay_curved(
    field: Field,
    tool: Tool,
    follow: Follow,
    *,
    headland: int | Literal["auto"] = "auto",
    sides: Sides = "auto",
    finish: Finish = "cover",
    entrance_xy: Floats | None = None,
    least_radius_m: float | None = None,
) -> CurvedPlan:
    """Return the layout of one tool along edges, a line or circles, with route, time line and coverage.

    Parameters
    ----------
    field : Field
        The field.
    tool : Tool
        The tool.
    follow : Follow
        What the passes follow, from `fieldgeo.analysis.curved.follow`.
    headland : int or "auto"
        Number of headland rounds; ``"auto"`` takes as many as the tool needs to turn; 0 is straight through.
    sides : {"auto", "ends", "all"}
        Headland rounds only along the sides where passes end, along all, or whichever takes less field time.
    finish : {"cover", "clean", "half"}
        When the tool is lifted at the end of a pass, as in `fieldgeo.analysis.lay.lay`.
    entrance_xy : ndarray of shape (2,), optional
        Where the tool enters and leaves the field, in the frame. [m]
    least_radius_m : float, optional
        No pass bends tighter; by default the larger of turn radius and half the width, and never less. [m]

    Raises
    ------
    InputError
        If a value is outside its range.
    LayoutError
        If the tool is wider than the field is long, the line cannot be followed, or no circle fits.

    Notes
    -----
    Passes are driven back and forth, rings one after the other inward or outward, at the working speed: no bend is
    tighter than the least radius, and a speed for bends is not known. Field time counts it so.
    """
    check_fits(field, tool)
    check_rules(sides, finish)
    rounds = checked_rounds(headland, tool)
    radius = checked_radius_m(least_radius_m, tool)
    key = None if follow.kind == "circle" else _key_line(field, tool, follow, radius)
    choices = _headland_choices(field, tool, follow, key, sides) if rounds else [None]
    plans = [
        _planned(field, tool, follow, key, lay_rounds(field.shape, tool, finish, rounds=rounds, chains=chains),
                 finish, radius, entrance_xy)
        for chains in choices
    ]  # fmt: skip
    return min(plans, key=lambda plan: score_plan(plan, "time"))


def _key_line(field: Field, tool: Tool, follow: Follow, radius_m: float) -> KeyLine:
    spread = np.vstack([follow.line, np.reshape(field.shape.bounds, (2, 2))])
    return smooth_key(follow.line, tool, radius_m=radius_m, reach_m=float(np.hypot(*np.ptp(spread, axis=0))))


def _planned(
    field: Field, tool: Tool, follow: Follow, key: KeyLine | None, rounds: Rounds, finish: Finish, radius_m: float,
    entrance_xy: Floats | None,
) -> CurvedPlan:  # fmt: skip
    def laid(rule: Finish) -> CurvedPasses:
        if key is None:
            return lay_circles(rounds.body, follow.line[0], tool, rule, least_radius_m=radius_m)
        at_m = _beside_edge_m(rounds.body, key, tool) if follow.kind == "edge" else 0.0
        return lay_along_key(rounds.body, key, tool, rule, at_m=at_m)

    passes = laid(finish)
    covering = passes if finish == "cover" else laid("cover")
    if follow.kind == "circle" and not len(covering) and rounds.body.area > tool.width_m**2:
        raise LayoutError(_no_circle_text(field, passes.least_radius_m))
    layout = CurvedLayout(
        field=field, tool=tool, finish=finish, headland=rounds.headland, body=rounds.body, passes=passes
    )
    route = plan_curved_route(layout, entrance_xy=entrance_xy)
    left = difference(rounds.body, union(covering.swaths())) if len(covering) else rounds.body
    return CurvedPlan(
        layout=layout, route=route, timeline=time_route(route), follow=follow, left_in_bends_m2=float(left.area)
    )


def _no_circle_text(field: Field, radius_m: float) -> str:
    return (
        f"follow: no circle about that centre fits field {field.name!r} on a least radius of {radius_m:.0f} m "
        f"({to_feet(radius_m):,.0f} ft). Give a smaller least radius, or follow something else."
    )


def _beside_edge_m(body: shapely.MultiPolygon, key: KeyLine, tool: Tool) -> float:
    """Return where the first centre line lies beside a followed edge, so that no ground is left outside it. [m]"""
    lines = [shapely.segmentize(ring, EDGE_SHARE * tool.width_m) for ring in shapely.get_rings(shapely.get_parts(body))]
    points = shapely.get_coordinates(lines)
    distances = distances_from(points, key)
    edge = shapely.LineString(key.line)
    along = shapely.line_locate_point(edge, shapely.points(points))
    is_beside = (along > 0) & (along < edge.length)
    near = distances[is_beside & (distances > -key.deviation_m - EDGE_SHARE * tool.width_m)]
    return float(near.min()) + tool.width_m / 2 if len(near) else tool.width_m / 2


Chains = list[tuple[int, EndChain]] | None


def _headland_choices(field: Field, tool: Tool, follow: Follow, key: KeyLine | None, sides: Sides) -> list[Chains]:
    """Return the edges along which headland rounds may be laid, as for straight passes."""
    if sides == "all":
        return [None]
    rings = outline_sides(field.shape, tool)
    flags = np.concatenate([_along_flags(ring, tool, follow, key) for ring in rings])
    ends = end_chains(rings, flags)
    if ends == [] or sides == "ends":
        return [ends]
    return [ends, None] if worth_leaving(rings, flags[None])[0] else [None]


def _along_flags(ring: RingSides, tool: Tool, follow: Follow, key: KeyLine | None) -> NDArray[np.bool_]:
    """Return which sides of a ring run along the passes: all of a side lies as far from what is followed.

    Sides that bend make up for their shortness one after the other, as the edge of a circle does.
    """
    count = len(ring.first)
    ends = np.append(ring.first, ring.first[0] + len(ring.line))
    flags, lengths = np.zeros(count, dtype=bool), np.zeros(count)
    apart = np.zeros(count)
    for side in range(count):
        points = ring.line[np.arange(ends[side], ends[side + 1] + 1) % len(ring.line)]
        away = _distances(points, follow, key)
        flags[side] = np.ptp(away) <= WANDER_SHARE * tool.width_m
        lengths[side] = np.hypot(*np.diff(points, axis=0).T).sum()
        apart[side] = away.mean()
    for run in _runs_of(flags):
        if lengths[run].sum() < ALONG_WIDTHS * tool.width_m or np.ptp(apart[run]) > tool.width_m:
            flags[run] = lengths[run] >= ALONG_WIDTHS * tool.width_m
    return flags


def _distances(points: Floats, follow: Follow, key: KeyLine | None) -> Floats:
    line = shapely.segmentize(shapely.LineString(points), 5.0)
    dense = shapely.get_coordinates(line)
    if key is None:
        return np.asarray(np.hypot(*(dense - follow.line[0]).T))
    return distances_from(dense, key)


def _runs_of(flags: NDArray[np.bool_]) -> list[NDArray[np.int64]]:
    """Return the runs of flags that are set, round the ring."""
    if flags.all():
        return [np.arange(len(flags))]
    first = int(np.flatnonzero(~flags)[0])
    turned = np.roll(np.arange(len(flags)), -first)
    cuts = np.flatnonzero(np.diff(flags[turned].astype(int)) != 0) + 1
    return [run for run in np.split(turned, cuts) if flags[run[0]]]
