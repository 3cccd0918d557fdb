"""Lines of guidance: for each piece of the body one line, and where all passes of the piece lie beside it.

Straight passes: one of the passes, whose two ends are all that is needed. Curved ones: the line parallel to the key
line on which a pass lies, drawn out across the field; of circles a whole ring, with its centre and radius.
"""

from __future__ import annotations

from math import nan
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.ops import substring

from fieldgeo.analysis.curved.plan import CurvedPlan
from fieldgeo.analysis.divided.plan import DividedPlan
from fieldgeo.errors import LayoutError
from fieldgeo.export.kinds import LayerKind
from fieldgeo.frame import azimuth_deg
from fieldgeo.layout.axes import to_work
from fieldgeo.layout.curved.family import parallel_tracks
from fieldgeo.layout.curved.front import Front, front_of
from fieldgeo.layout.curved.key import BEYOND, KeyLine
from fieldgeo.units import to_feet

if TYPE_CHECKING:
    from fieldgeo.analysis.plan import Plan
    from fieldgeo.export.kinds import Properties
    from fieldgeo.layout.axes import Floats
    from fieldgeo.layout.curved.model import CurvedPasses
    from fieldgeo.layout.strips import Ints

GUIDANCE: Final = LayerKind(
    "LineString",
    {
        "number": "int64", "piece": "int64", "body_part": "int64", "form": "str", "passes": "int64",
        "left": "int64", "right": "int64", "spacing_m": "float64", "spacing_ft": "float64", "pulled_left_m": "float64",
        "pulled_right_m": "float64", "azimuth_deg": "float64", "start_lon_deg": "float64", "start_lat_deg": "float64",
        "end_lon_deg": "float64", "end_lat_deg": "float64",
    },
)  # fmt: skip
BENT_GUIDANCE: Final = LayerKind(
    "LineString",
    {**GUIDANCE.columns, "centre_lon_deg": "float64", "centre_lat_deg": "float64", "radius_m": "float64"},
)
_LONG_SHARE: Final = 0.5  # a pass to be guided by is at least this share of the longest of its piece; own choice
_SAME_M: Final = 0.01  # a pass lies on a line of guidance if it is nowhere further from it; own choice


class _Guide(NamedTuple):
    """A line of guidance, and where the strips of its piece lie beside it."""

    line: Floats  # (K, 2) [m]
    form: str
    apart_m: Floats  # (S,) distance of each strip from the line, to its left above zero [m]
    is_pulled: NDArray[np.bool_]  # (S,)
    centre_xy: tuple[float, float] = (nan, nan)  # of circles [m]
    radius_m: float = nan


def guidance_rows(plan: Plan | DividedPlan | CurvedPlan) -> list[tuple[shapely.Geometry, Properties]]:
    """Return the lines of guidance of a plan with their attributes.

    Parameters
    ----------
    plan : Plan or DividedPlan or CurvedPlan
        One tool on one field.

    Returns
    -------
    list of (shapely.LineString, dict)
        The columns of `GUIDANCE`, of curved passes of `BENT_GUIDANCE`; a row for each piece of the body, in the order
        in which the pieces are begun. Passes of the piece lie on the line, at 1 to `left` times `spacing_m` to its left
        and at 1 to `right` times to its right; and at `pulled_left_m` or `pulled_right_m`, where a last pass was pulled
        in (0 where none was). `form` is ``"straight"``, ``"curve"`` or ``"circle"``. The azimuth of a circle, and the
        centre and radius of other curves, are not numbers.
    """
    table, frame, is_bent = plan.layout.passes, plan.field.frame, isinstance(plan, CurvedPlan)
    columns = (BENT_GUIDANCE if is_bent else GUIDANCE).columns
    order = np.array([leg.number for leg in plan.route.legs if leg.state == "pass"], dtype=np.int64)
    rows: list[tuple[shapely.Geometry, Properties]] = []
    for piece in dict.fromkeys(table.piece[order].tolist()):
        its = order[table.piece[order] == piece]
        guide = _bent(plan, its) if isinstance(plan, CurvedPlan) else _straight(plan, its)
        part = int(plan.layout.passes.part[its[0]]) + 1 if isinstance(plan, DividedPlan) else 1
        (start_lon, end_lon), (start_lat, end_lat) = frame.to_lonlat(*guide.line[[0, -1]].T)
        centre_lon, centre_lat = frame.to_lonlat(*guide.centre_xy) if guide.form == "circle" else (nan, nan)
        azimuth = nan if guide.form == "circle" else float(azimuth_deg(*(guide.line[-1] - guide.line[0])))
        about: Properties = {"number": len(rows) + 1, "piece": int(piece), "body_part": part, "form": guide.form}
        about |= {"passes": len(its)} | _beside(guide, plan.tool.pitch_m) | {"azimuth_deg": azimuth}
        about |= {"start_lon_deg": float(start_lon), "start_lat_deg": float(start_lat)}
        about |= {"end_lon_deg": float(end_lon), "end_lat_deg": float(end_lat)}
        about |= {"centre_lon_deg": float(centre_lon), "centre_lat_deg": float(centre_lat), "radius_m": guide.radius_m}
        rows.append((shapely.LineString(guide.line), {name: about[name] for name in columns}))
    return rows


def _beside(guide: _Guide, pitch_m: float) -> Properties:
    """Return where the strips of a piece lie beside its line of guidance."""
    steps = np.round(guide.apart_m[~guide.is_pulled] / pitch_m).astype(int)
    pulled = guide.apart_m[guide.is_pulled]
    left, right = pulled[pulled > 0], -pulled[pulled < 0]
    return {
        "left": max(0, int(steps.max(initial=0))),
        "right": max(0, -int(steps.min(initial=0))),
        "spacing_m": pitch_m,
        "spacing_ft": to_feet(pitch_m),
        "pulled_left_m": float(left.max(initial=0.0)),
        "pulled_right_m": float(right.max(initial=0.0)),
    }


def _straight(plan: Plan | DividedPlan, its: Ints) -> _Guide:
    """Return the pass driven first of those that are long; one that was pulled in lies off the grid of the others."""
    table = plan.layout.passes
    firm = its[~table.is_pulled[its]] if not table.is_pulled[its].all() else its
    long_m = _LONG_SHARE * float(table.length_m[firm].max())
    chosen = int(firm[np.argmax(table.length_m[firm] >= long_m)])
    line = next(leg.points() for leg in plan.route.legs if leg.state == "pass" and leg.number == chosen)
    azimuth = float(azimuth_deg(*(line[-1] - line[0])))
    lines = table.lines()
    middles = [lines[number].interpolate(0.5, normalized=True) for number in its.tolist()]
    across = to_work(shapely.get_coordinates(middles), azimuth)[:, 1]
    return _Guide(line, "straight", across - to_work(line, azimuth)[:, 1].mean(), table.is_pulled[its])


def _bent(plan: CurvedPlan, its: Ints) -> _Guide:
    return _circle(plan.layout.passes, its) if plan.layout.passes.is_circular else _curve(plan, its)


def _circle(passes: CurvedPasses, its: Ints) -> _Guide:
    """Return the outermost ring that was not pulled in, counter-clockwise: further in is to its left."""
    centre = passes.key_line[:-1].mean(axis=0)
    first, second = passes.key_line[:2]
    outermost_m = float(np.hypot(*((first + second) / 2 - centre)))  # rings are chords that touch the circle
    firm = its[~passes.is_pulled[its]] if not passes.is_pulled[its].all() else its
    at_m = float(passes.offset_m[firm].min())
    radius_m = outermost_m - at_m
    line = centre + (passes.key_line - centre) * (radius_m / outermost_m)
    centre_xy = (float(centre[0]), float(centre[1]))
    return _Guide(line, "circle", passes.offset_m[its] - at_m, passes.is_pulled[its], centre_xy, radius_m)


def _curve(plan: CurvedPlan, its: Ints) -> _Guide:
    """Return the line nearest to the key line, drawn out beside all passes; else the pass that is nearest to it.

    The nearer a pass lies to the key line, the less its bends were rounded, and the truer are lines parallel to it.
    """
    passes = plan.layout.passes
    length_m = passes.length_m

    def rank(number: int) -> tuple[bool, float, float, float]:
        return (
            bool(passes.is_pulled[number]),
            passes.deviation_m[number],
            abs(passes.offset_m[number]),
            -length_m[number],
        )

    chosen = min(its.tolist(), key=rank)
    at_m = float(passes.offset_m[chosen])
    line = _drawn_out(plan, at_m, passes.lines[chosen], its)
    return _Guide(line, "curve", passes.offset_m[its] - at_m, passes.is_pulled[its])


def _drawn_out(plan: CurvedPlan, at_m: float, drawn: Floats, its: Ints) -> Floats:
    """Return the line at a distance from the key line, beside some passes, if a pass lies on it; else the pass."""
    passes, tool = plan.layout.passes, plan.tool
    spread = np.vstack([passes.key_line, np.reshape(plan.field.shape.bounds, (2, 2))])
    beyond_m = BEYOND * float(np.hypot(*np.ptp(spread, axis=0)))
    front = front_of(passes.key_line)
    points = front.points.copy()
    points[0] -= beyond_m * front.ahead[0]
    points[-1] += beyond_m * front.ahead[-1]
    key = KeyLine(Front(points, front.ahead), passes.key_line, passes.key_deviation_m, passes.least_radius_m)
    near = shapely.buffer(plan.field.shape.envelope, tool.width_m, join_style="mitre")
    try:
        track = parallel_tracks(key, [at_m], near, half_width_m=tool.width_m / 2)[at_m]
    except LayoutError:
        return drawn
    places = np.asarray(shapely.points(drawn), dtype=object)
    lines = [shapely.LineString(ribbon.points) for ribbon in track.ribbons]
    apart_m = [float(shapely.distance(places, line).max()) for line in lines]
    best = int(np.argmin(apart_m))
    if apart_m[best] > _SAME_M:
        return drawn
    beside = np.asarray(shapely.points(np.vstack([passes.lines[number] for number in its.tolist()])), dtype=object)
    along_m = shapely.line_locate_point(lines[best], beside)
    part = substring(lines[best], float(along_m.min()) - tool.width_m, float(along_m.max()) + tool.width_m)
    return np.asarray(shapely.get_coordinates(shapely.simplify(part, _SAME_M / 10)))
