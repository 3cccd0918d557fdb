"""The dictionary of curved passes: the keys of a straight plan, what is followed, and the straight plan beside it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fieldgeo.analysis.figures import area_figures, length_figures, place_figures, plan_figures
from fieldgeo.layout.axes import distances_along
from fieldgeo.units import HOUR_S

if TYPE_CHECKING:
    from fieldgeo.analysis.curved.plan import CurvedPlan
    from fieldgeo.analysis.figures import Figures
    from fieldgeo.analysis.plan import Plan

_OF_STRAIGHT = (
    "direction_deg", "sides", "passes", "headland_rounds", "turns", "turns_by_kind", "work_m", "travel_m", "overlap_m2",
    "overlap_ac", "overlap_pct", "skip_m2", "skip_ac", "skip_pct", "spill_m2", "spill_ac", "field_time_h",
    "effective_ha_h", "effective_ac_h", "field_efficiency",
)  # fmt: skip


def curved_figures(plan: CurvedPlan, straight: Plan) -> Figures:
    """Return every figure of a plan of curved passes, and those of the straight one beside it.

    Parameters
    ----------
    plan : CurvedPlan
        Curved passes.
    straight : Plan
        The straight layout of the same tool on the same field.

    Returns
    -------
    dict
        All of `fieldgeo.analysis.figures.plan_figures`; `direction_deg` is the azimuth from end to end of what is
        followed, None for circles. `follow` says what that is: `kind`, `edges`, its length, `least_radius`, how far it
        was moved to keep it (`deviation`), how many passes were moved inside bends and how far (`smoothed_passes`,
        `smoothed_deviation`), the ground `left_in_bends` (or inside the last ring) under the rule `cover`, and for
        circles the centre and the innermost radius. `follow.straight` holds the key figures of the straight plan,
        `follow.extra_time_h` what the curved one takes beyond it.
    """
    passes, figures, beside = plan.layout.passes, plan_figures(plan), plan_figures(straight)
    is_circle = plan.follow.kind == "circle"
    smoothed = int(passes.is_smoothed.sum())
    follow: Figures = {
        "kind": plan.follow.kind,
        "edges": list(plan.follow.edges),
        **length_figures("length", None if is_circle else float(distances_along(plan.follow.line)[-1])),
        **length_figures("least_radius", passes.least_radius_m),
        **length_figures("deviation", passes.key_deviation_m),
        "smoothed_passes": smoothed,
        **length_figures("smoothed_deviation", float(passes.deviation_m.max(initial=0.0))),
        **area_figures("left_in_bends", plan.left_in_bends_m2),
        "rings": int(passes.is_ring.sum()),
        **_circle(plan),
        "straight": {name: beside[name] for name in _OF_STRAIGHT},
        "extra_time_h": (plan.field_time_s - straight.field_time_s) / HOUR_S,
    }
    return figures | {"direction_deg": None if is_circle else figures["direction_deg"], "follow": follow}


def _circle(plan: CurvedPlan) -> Figures:
    if plan.follow.kind != "circle":
        return {"centre": None, **length_figures("innermost_radius", None)}
    centre = plan.follow.line[0]
    radii = [float(np.hypot(*(line[0] - centre))) for line in plan.layout.passes.lines]
    return {
        "centre": place_figures(plan.field, (float(centre[0]), float(centre[1]))),
        **length_figures("innermost_radius", min(radii, default=None)),
    }
