"""Coverage: what a layout works, works twice, misses, and spills, in exact areas (`shapes` draws where they lie).

The areas keep two identities on every outline: ``worked + skip = area`` and ``swept = worked + overlap + spill``.
The passes are boxes in work coordinates, so their areas come from `areas_in_boxes` without clipping a polygon.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import shapely

from fieldgeo.layout.axes import Floats, ring_edges, turn_matrix, turned_edges
from fieldgeo.layout.model import Layout
from fieldgeo.layout.strips import NOISE_M, Ints, areas_in_boxes, count_from

# Where ground is worked twice, and why.
CAUSES = ("lap", "point_rows", "headland_corners", "last_pass")


@dataclass(frozen=True, slots=True, kw_only=True)
class Coverage:
    """Areas of one layout. All in square metres."""

    area_m2: float  # the field, holes left out
    swept_m2: float  # sum of the areas of all swaths
    worked_m2: float  # ground within the outline worked at least once
    overlap_by_cause_m2: dict[str, float]  # ground worked again, counted once per extra time, for each of `CAUSES`
    spill_m2: float  # swaths outside the outline or in a hole

    @property
    def overlap_m2(self) -> float:
        """Ground worked more than once, counted once per extra time. [m2]"""
        return sum(self.overlap_by_cause_m2.values())

    @property
    def skip_m2(self) -> float:
        """Ground within the outline never worked. [m2]"""
        return max(0.0, self.area_m2 - self.worked_m2)


class Stacked(NamedTuple):
    """Boxes taken apart so that no two lie on each other."""

    boxes: Floats  # (K, 4) disjoint boxes [m]
    times: Ints  # (K,) how many of the given boxes lie on each, >= 1


def stack_boxes(boxes: Floats) -> Stacked:
    """Return disjoint boxes that cover the same ground as boxes that may lie on each other, with how often.

    Parameters
    ----------
    boxes : ndarray of shape (M, 4)
        ``u_low, v_low, u_high, v_high``. [m]

    Notes
    -----
    Derived: cut all boxes at every v at which one begins or ends, then sweep along u in each band.
    """
    if len(boxes) == 0:
        return Stacked(np.empty((0, 4)), np.empty(0, dtype=np.int64))
    cuts = np.unique(boxes[:, [1, 3]])
    cuts = cuts[np.concatenate([[True], np.diff(cuts) > NOISE_M])]
    first = np.searchsorted(cuts, boxes[:, 1] - NOISE_M)
    counts = np.searchsorted(cuts, boxes[:, 3] - NOISE_M) - first
    box, band = count_from(first, counts)
    at = np.concatenate([boxes[box, 0], boxes[box, 2]])
    step = np.concatenate([np.ones(len(box), dtype=np.int64), -np.ones(len(box), dtype=np.int64)])
    band = np.concatenate([band, band])
    order = np.lexsort((-step, at, band))
    at, step, band = at[order], step[order], band[order]
    times = np.cumsum(step)  # every band closes what it opens, so the sum starts each band at zero
    keep = np.flatnonzero((times[:-1] > 0) & (at[1:] > at[:-1]))
    disjoint = np.column_stack([at[keep], cuts[band[keep]], at[keep + 1], cuts[band[keep] + 1]])
    return Stacked(disjoint, times[keep])


def _turned_edges(shape: shapely.MultiPolygon, direction_deg: float) -> Floats:
    return turned_edges(ring_edges(shape), turn_matrix(direction_deg))


def boxes_beyond(layout: Layout) -> Floats:
    """Return the parts of the passes' boxes that lie beside their piece of the body: the last pass that does not fit.

    Parameters
    ----------
    layout : Layout
        Headland rounds and passes on a field.

    Returns
    -------
    ndarray of shape (K, 4)
        ``u_low, v_low, u_high, v_high``; they may lie on each other. [m]
    """
    passes = layout.passes
    matrix = turn_matrix(passes.direction_deg)
    limits = np.array(
        [[v.min(), v.max()] for v in (shapely.get_coordinates(part) @ matrix[:, 1] for part in layout.body.geoms)]
    ).reshape(-1, 2)[passes.piece[passes.box_pass]]
    above, below = passes.boxes.copy(), passes.boxes.copy()
    above[:, 1] = np.maximum(above[:, 1], limits[:, 1])
    below[:, 3] = np.minimum(below[:, 3], limits[:, 0])
    beyond = np.concatenate([above, below])
    return np.asarray(beyond[beyond[:, 3] - beyond[:, 1] > NOISE_M])


def measure_coverage(layout: Layout) -> Coverage:
    """Return the areas that a layout works, works twice, misses and spills.

    Parameters
    ----------
    layout : Layout
        Headland rounds and passes on a field.

    Notes
    -----
    Derived. Overlap is split by cause: `lap` is what the driver keeps on purpose between neighbours; `point_rows` is
    where passes run into the headland or into each other's ends; `headland_corners` is where sides of a round cross, or
    run on into the body; `last_pass` is what the last pass of a piece works again because it does not fit.
    """
    shape, direction, passes = layout.field.shape, layout.direction_deg, layout.passes
    outline = _turned_edges(shape, direction)
    flat = stack_boxes(passes.boxes)
    flat_in_outline = areas_in_boxes(outline, flat.boxes)
    in_outline, once_in_outline = float((flat.times * flat_in_outline).sum()), float(flat_in_outline.sum())
    beyond = stack_boxes(boxes_beyond(layout)).boxes
    again, again_beyond = _areas_in_both(layout.headland.ground, direction, flat.boxes, beyond)
    run_on, run_on_beyond = _areas_in_both(layout.headland.run_on, direction, flat.boxes, beyond)
    headland = _headland_overlap(layout)
    between = _overlap_between_passes(layout, outline, in_outline - once_in_outline)
    ends = _overlap_with_headland(layout, again, run_on, again_beyond - run_on_beyond)
    causes = {cause: float(between[cause] + ends[cause] + headland[cause]) for cause in CAUSES}
    return Coverage(
        area_m2=layout.field.area_m2,
        swept_m2=layout.swept_m2,
        worked_m2=layout.headland.ground.area + once_in_outline - again,
        overlap_by_cause_m2=causes,
        spill_m2=float(
            max(0.0, passes.swept_m2 - in_outline) + max(0.0, layout.headland.swept_m2 - layout.headland.inside_m2)
        ),
    )


def _none() -> dict[str, float]:
    return dict.fromkeys(CAUSES, 0.0)


def _headland_overlap(layout: Layout) -> dict[str, float]:
    """Split the overlap of rounds with rounds: on purpose between neighbours, the rest where sides cross."""
    causes = _none()
    headland = layout.headland
    overlap = headland.inside_m2 - headland.ground.area
    if layout.tool.lap_m > 0:
        causes["lap"] = min(headland.by_round_m2 - headland.ground.area, overlap)
    causes["headland_corners"] = overlap - causes["lap"]
    return causes


def _overlap_between_passes(layout: Layout, outline: Floats, total_m2: float) -> dict[str, float]:
    """Split the overlap of passes with passes: on purpose, from a pass pulled in, and the rest where pieces meet."""
    causes = _none()
    passes = layout.passes
    if total_m2 <= 0 or not passes.is_pulled.any():
        causes["lap" if layout.tool.lap_m > 0 else "point_rows"] = max(0.0, total_m2)
        return causes
    boxes = passes.boxes[~passes.is_pulled[passes.box_pass]]
    not_pulled = areas_in_boxes(outline, boxes).sum() - areas_in_boxes(outline, stack_boxes(boxes).boxes).sum()
    not_pulled = min(max(0.0, float(not_pulled)), total_m2)
    causes["lap" if layout.tool.lap_m > 0 else "point_rows"] = not_pulled
    causes["last_pass"] = total_m2 - not_pulled
    return causes


def _overlap_with_headland(layout: Layout, total_m2: float, run_on_m2: float, beside_m2: float) -> dict[str, float]:
    """Split the overlap of passes with the headland: on purpose or run on in the body, beside it, and at the ends."""
    causes = _none()
    within = min(run_on_m2, total_m2)
    causes["lap" if layout.tool.lap_m > 0 else "headland_corners"] = within
    causes["last_pass"] = min(max(0.0, beside_m2), total_m2 - within)
    causes["point_rows"] = total_m2 - within - causes["last_pass"]
    return causes


def _areas_in_both(
    shape: shapely.MultiPolygon, direction_deg: float, boxes: Floats, more: Floats
) -> tuple[float, float]:
    """Return the area of a shape in each of two sets of disjoint boxes, summed."""
    if shape.is_empty:
        return 0.0, 0.0
    areas = areas_in_boxes(_turned_edges(shape, direction_deg), np.concatenate([boxes, more]))
    return float(areas[: len(boxes)].sum()), float(areas[len(boxes) :].sum())
