"""The ground of each work in driving order: what it sweeps, and what it cuts as the first to come there.

Seed is sown on all ground that is swept, on some of it twice. A crop can be cut only once: where swaths lie on each
other, it is cut by the one that is driven first.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from fieldgeo.layout.axes import Floats
from fieldgeo.layout.overlay import difference, intersection, union
from fieldgeo.layout.strips import Ints
from fieldgeo.travel.route import Route

# Two swaths that share less than this lie edge to edge: float noise of a mile of edge is a tenth of it.
_EDGE_NOISE_M2 = 1e-6


class Ground(NamedTuple):
    """Pieces of ground, each with the work that it belongs to, in driving order."""

    shapes: NDArray[np.object_]  # (G,) polygons in the frame [m]
    area_m2: Floats  # (G,) [m2]
    work: Ints  # (G,) place of the work in driving order, from 0


def swept_by_leg_m2(route: Route) -> Floats:
    """Return the ground that each leg of a route sweeps, shape (L,); zero for legs that do not work. [m2]

    Parameters
    ----------
    route : Route
        Work in order; a pass may be driven in several stretches.

    Notes
    -----
    Areas as `fieldgeo.layout.model.Layout.swept_m2` sums them, so that they sum to it. Stretches of one pass share its
    ground by their length. (Derived.)
    """
    layout = route.layout
    boxes = layout.passes.boxes
    box_m2 = (boxes[:, 2] - boxes[:, 0]) * (boxes[:, 3] - boxes[:, 1])
    pass_m2 = np.bincount(layout.passes.box_pass, weights=box_m2, minlength=len(layout.passes))
    swept = np.zeros(len(route.legs))
    for number, leg in enumerate(route.legs):
        if leg.state == "pass":
            swept[number] = pass_m2[leg.number] * leg.length_m / layout.passes.length_m[leg.number]
        elif leg.state == "headland":
            run = layout.headland.runs[leg.number]
            swept[number] = run.swath.area * leg.length_m / run.length_m
    return swept


def swept_ground(route: Route) -> Ground:
    """Return the swaths of each work of a route without stops: the boxes of its passes, and those of its rounds.

    Parameters
    ----------
    route : Route
        Work in order, every pass and run in one stretch.
    """
    layout = route.layout
    boxes = layout.passes.boxes
    swaths = np.array(layout.passes.swaths(), dtype=object)
    box_m2 = (boxes[:, 2] - boxes[:, 0]) * (boxes[:, 3] - boxes[:, 1])
    order = np.argsort(layout.passes.box_pass, kind="stable")
    first = np.searchsorted(layout.passes.box_pass[order], np.arange(len(layout.passes) + 1))
    shapes: list[shapely.Geometry] = []
    areas: list[float] = []
    works: list[int] = []
    for work, leg in enumerate(leg for leg in route.legs if leg.is_work):
        if leg.state == "pass":
            mine = order[first[leg.number] : first[leg.number + 1]]
            shapes += swaths[mine].tolist()
            areas += box_m2[mine].tolist()
            works += [work] * len(mine)
        else:
            swath = layout.headland.runs[leg.number].swath
            shapes.append(swath)
            areas.append(swath.area)
            works.append(work)
    return Ground(np.array(shapes, dtype=object), np.array(areas, dtype=float), np.array(works, dtype=np.int64))


def cut_ground(route: Route) -> Ground:
    """Return the ground that each work of a route is the first to cut, within the outline.

    Parameters
    ----------
    route : Route
        Work in order, every pass and run in one stretch.

    Notes
    -----
    Derived: each swath less the outside and less the swaths before it. The areas sum to the ground worked.
    """
    swept = _one_a_work(swept_ground(route))
    if len(swept.shapes) == 0:
        return swept
    shapes, areas = swept.shapes.copy(), swept.area_m2.copy()
    outline = route.layout.field.shape
    shapely.prepare(outline)
    within = shapely.covers(outline, shapes)
    for index in np.flatnonzero(~within).tolist():
        shapes[index] = intersection(shapes[index], outline)
        areas[index] = shapes[index].area
    one, other = shapely.STRtree(swept.shapes).query(swept.shapes)
    is_before = other < one
    one, other = one[is_before], other[is_before]
    shared = shapely.area(shapely.intersection(swept.shapes[one], swept.shapes[other]))
    keep = shared > _EDGE_NOISE_M2
    before: dict[int, list[int]] = {}
    for index, earlier in zip(one[keep].tolist(), other[keep].tolist(), strict=True):
        before.setdefault(index, []).append(earlier)
    for index, earlier_ones in before.items():
        shapes[index] = difference(shapes[index], union(swept.shapes[earlier_ones]))
        areas[index] = shapes[index].area
    return Ground(shapes, areas, swept.work)


def _one_a_work(ground: Ground) -> Ground:
    """Return the ground with all pieces of a work, which lie edge to edge, as one: a dozen times fewer overlays."""
    first = np.flatnonzero(np.diff(ground.work, prepend=-1))
    counts = np.diff(np.append(first, len(ground.work)))
    shapes = ground.shapes[first]
    for place in np.flatnonzero(counts > 1).tolist():
        shapes[place] = union(ground.shapes[first[place] : first[place] + counts[place]])
    areas = np.add.reduceat(ground.area_m2, first) if len(first) else ground.area_m2
    return Ground(shapes, areas, ground.work[first])
