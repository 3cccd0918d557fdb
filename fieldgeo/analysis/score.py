"""What a plan is judged by when directions or headlands are compared: less is better."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from fieldgeo.analysis.plan import PlanFigures

By = Literal["time", "passes", "overlap", "cost"]
CRITERIA: tuple[By, ...] = ("time", "passes", "overlap", "cost")


@dataclass(frozen=True, slots=True, kw_only=True)
class Prices:
    """What an hour and a worked area cost, for judging by cost; any one currency."""

    hour: float  # tractor, tool and driver for an hour of field time [1/h]
    input_m2: float = 0.0  # seed, fertilizer or chemical for a square metre of swept ground [1/m2]


def score_plan(plan: PlanFigures, by: By, prices: Prices | None = None) -> float:
    """Return what a plan is judged by: seconds, passes, square metres or money.

    Ground left unworked counts as twice its time, or twice its area: it has to be worked some other way. (Derived.)

    Parameters
    ----------
    plan : PlanFigures
        The plan.
    by : {"time", "passes", "overlap", "cost"}
        Field time, number of passes, ground worked twice or spilled, or money.
    prices : Prices, optional
        Needed for ``"cost"``.
    """
    if by == "passes":
        return float(len(plan.layout.passes))
    if by == "overlap":
        return plan.coverage.overlap_m2 + plan.coverage.spill_m2 + 2 * plan.coverage.skip_m2
    # The rule `cover` leaves next to nothing, and coverage takes as long as all the rest.
    again_s = 0.0 if plan.layout.finish == "cover" else 2 * plan.coverage.skip_m2 / plan.theoretical_m2_s
    if by == "cost" and prices is not None:
        return (plan.field_time_s + again_s) / 3600 * prices.hour + plan.coverage.swept_m2 * prices.input_m2
    return plan.field_time_s + again_s
