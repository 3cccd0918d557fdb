"""The dictionary of a field in parts: each part, what it saves against the undivided field, how far it was searched."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from fieldgeo.analysis.divided.plan import DividedPlan
from fieldgeo.analysis.figures import area_figures, length_figures, plan_figures
from fieldgeo.units import HOUR_S

if TYPE_CHECKING:
    from fieldgeo.analysis.divided.search import PartSearch
    from fieldgeo.analysis.figures import Figures
    from fieldgeo.layout.parts.model import DividedLayout

_OF_UNDIVIDED = (
    "direction_deg", "sides", "passes", "turns", "turns_by_kind", "work_m", "travel_m", "travel_mi", "overlap_m2",
    "overlap_ac", "skip_m2", "skip_ac", "field_time_h", "effective_ha_h", "effective_ac_h", "field_efficiency",
)  # fmt: skip


def parts_figures(search: PartSearch) -> Figures:
    """Return every figure of the best plan of a search, its parts, and the undivided plan beside it.

    Parameters
    ----------
    search : PartSearch
        Search for a division of one field for one tool.

    Returns
    -------
    dict
        All of `plan_figures`, of the best plan; where that is divided, `direction_deg` is that of its largest part.
        `parts` has one entry for each part: area, direction, passes, `undivided_passes` (passes of the undivided plan
        that cross it), `turns_on` (numbers of the parts on whose ground its passes turn) and `waits_for` (numbers of
        the parts that are worked before it for that); it is empty where the field is better left undivided.
        `undivided` holds figures of the undivided plan with its best direction, and `saved_...` what dividing saves
        against it. `divisions_tried` were estimated, `divisions_laid` of them laid out exactly. `time_bound_h` is the
        time of the whole area at theoretical capacity: no plan that works all of it takes less.
    """
    best, undivided = search.best, search.undivided
    figures, beside = plan_figures(best), plan_figures(undivided)
    saved_s = undivided.field_time_s - best.field_time_s
    return {
        **figures,
        "parts": _parts(best.layout, search) if isinstance(best, DividedPlan) else [],
        "undivided": {name: beside[name] for name in _OF_UNDIVIDED},
        "saved_h": saved_s / HOUR_S,
        "saved_pct": 100.0 * saved_s / undivided.field_time_s if undivided.field_time_s > 0 else 0.0,
        "saved_turns": beside["turns"] - figures["turns"],
        **length_figures("saved_travel", beside["travel_m"] - figures["travel_m"]),
        "divisions_tried": search.tried,
        "divisions_laid": search.laid,
        "time_bound_h": best.field.area_m2 / best.theoretical_m2_s / HOUR_S,
    }


def _parts(layout: DividedLayout, search: PartSearch) -> list[dict[str, Any]]:
    lines = np.array(search.undivided.layout.passes.lines(), dtype=object)
    waits_for: dict[int, list[int]] = {}
    for one, two in layout.waits:
        waits_for.setdefault(two, []).append(one + 1)
    turns_on: dict[int, list[int]] = {}
    for one, two in layout.turns_on:
        turns_on.setdefault(one, []).append(two + 1)
    return [
        {
            "number": number + 1,
            **area_figures("area", part.body.area),
            "direction_deg": float(part.direction_deg),
            "passes": len(part.passes),
            "mean_pass_m": float(part.passes.length_m.mean()) if len(part.passes) else 0.0,
            "is_end_rows": part.is_end_rows,
            "undivided_passes": int(
                (shapely.length(shapely.intersection(lines, part.body)) > layout.tool.width_m / 2).sum()
            ),
            "turns_on": sorted(turns_on.get(number, [])),
            "waits_for": sorted(waits_for.get(number, [])),
        }
        for number, part in enumerate(layout.parts)
    ]
