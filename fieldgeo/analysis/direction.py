"""Direction: the search for the best direction of the passes.

Estimates of every direction tell which are worth laying out (see `finalists`), the exact layouts which is the best.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np

from fieldgeo.analysis.finalists import apart_deg, lay_finalists, rank_directions, ranked_apart
from fieldgeo.analysis.many_directions import Alike, ManyDirections, side_directions, tidy_deg
from fieldgeo.analysis.plan import Plan
from fieldgeo.analysis.score import CRITERIA, By, Prices
from fieldgeo.errors import InputError
from fieldgeo.layout.axes import Floats
from fieldgeo.layout.headland import Sides
from fieldgeo.layout.strips import Finish
from fieldgeo.machinery.tool import Tool
from fieldgeo.outline.field import Field
from fieldgeo.outline.measure import measure
from fieldgeo.travel.patterns import Order

# A side this close to the passes is called along them.
ALONG_DEG = 0.5


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Candidate:
    """One direction with its exact plan."""

    plan: Plan
    score: float  # what the search judges by: seconds, passes, square metres or money; less is better
    reasons: tuple[str, ...] = ()  # why it ranks where it does, in a grower's words

    @property
    def direction_deg(self) -> float:
        """Azimuth of the passes. [deg]"""
        return self.plan.layout.direction_deg


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DirectionSearch:
    """The finalists of a search, best first, and what the habit of following the longest side would give."""

    candidates: tuple[Candidate, ...]
    longest_side: Candidate
    by: By

    @property
    def best(self) -> Candidate:
        """The best direction found."""
        return self.candidates[0]


def best_direction(
    field: Field,
    tool: Tool,
    *,
    headland: int | Literal["auto"] = "auto",
    sides: Sides = "auto",
    finish: Finish = "cover",
    entrance_xy: Floats | None = None,
    by: By | Prices = "time",
    order: Order = "auto",
) -> DirectionSearch:
    """Return the best directions for one tool on one field.

    Parameters
    ----------
    field : Field
        The field.
    tool : Tool
        The tool.
    headland : int or "auto"
        Number of headland rounds, as in `lay`.
    sides : {"auto", "ends", "all"}
        Headland rounds only along the sides where passes end, along all, or whichever scores better.
    finish : {"cover", "clean", "half"}
        Finish rule, as in `lay`.
    entrance_xy : ndarray of shape (2,), optional
        Where the tool enters and leaves the field, in the frame. [m]
    by : {"time", "passes", "overlap"} or Prices
        What is least at the best direction: field time, number of passes, ground worked twice or spilled, or, with
        prices, money.
    order : {"back-and-forth", "skip", "blocks", "round-and-round", "auto", "best"}
        Order of the passes, as in `lay`. For ``"best"`` the search goes by ``"auto"``: a solver at every direction
        would take too long.

    Raises
    ------
    InputError
        If `by`, `sides`, `finish` or `order` is unknown, `headland` is out of range, or `by` is ``"cost"``
        without prices.
    LayoutError
        If the tool is wider than the field is long.
    """
    many = ManyDirections(field, tool, headland=headland, sides=sides, finish=finish, order=order)
    prices = by if isinstance(by, Prices) else None
    by = "cost" if isinstance(by, Prices) else by
    if by not in CRITERIA:
        raise InputError(f"by: got {by!r}. It must be prices, or one of {', '.join(CRITERIA[:-1])}.")
    if by == "cost" and prices is None:
        raise InputError("by: got 'cost'. Give prices: the cost of an hour, and of seed or chemical for an area.")
    longest = float(tidy_deg(np.array([measure(field).longest_side_direction_deg]))[0])
    along = side_directions(field, tool)
    one = _OneTool(many=many, entrance_xy=entrance_xy, by=by, prices=prices)
    laid = lay_finalists(one.lay, rank_directions(one, along), [longest])
    ranked = ranked_apart(laid.values(), {*along.tolist(), longest})
    return DirectionSearch(candidates=_with_reasons(ranked, longest), longest_side=laid[longest], by=by)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _OneTool:
    """One tool on a field, judged by one thing."""

    many: ManyDirections
    entrance_xy: Floats | None
    by: By
    prices: Prices | None

    def estimate(self, directions: Floats, shares: tuple[float, ...]) -> list[Alike]:
        return self.many.estimate(directions, shares, self.by, self.prices)

    def headland_score(self, key: bytes) -> float:
        return self.many.headland_score(key, self.by, self.prices)

    def lay_headland(self, key: bytes) -> None:
        self.many.lay_headland(key)

    def passes(self, direction_deg: float) -> float:
        return self.many.passes(direction_deg)

    def lay(self, direction_deg: float) -> Candidate:
        return Candidate(**self.many.lay_exactly(direction_deg, self.entrance_xy, self.by, self.prices)._asdict())


def _with_reasons(ranked: list[Candidate], longest_deg: float) -> tuple[Candidate, ...]:
    """Return the candidates with the reasons a person would give for each."""
    least = {name: min(figure(candidate.plan) for candidate in ranked) for name, figure in _REASONS.items()}
    found = []
    for candidate in ranked:
        reasons = [name for name, figure in _REASONS.items() if figure(candidate.plan) <= least[name]]
        if apart_deg(candidate.direction_deg, longest_deg) <= ALONG_DEG:
            reasons.append("along the longest side")
        found.append(Candidate(plan=candidate.plan, score=candidate.score, reasons=tuple(reasons)))
    return tuple(found)


def _mean_pass_m(plan: Plan) -> float:
    return float(plan.layout.passes.length_m.mean()) if len(plan.layout.passes) else 0.0


# What a person would say for a direction, and the figure that is least where it holds.
_REASONS: dict[str, Callable[[Plan], float]] = {
    "longest runs": lambda plan: -_mean_pass_m(plan),
    "fewest passes": lambda plan: len(plan.layout.passes),
    "fewest turns": lambda plan: len(plan.route.turns()),
    "least doubled on point rows": lambda plan: plan.coverage.overlap_by_cause_m2["point_rows"],
    "least worked twice": lambda plan: plan.coverage.overlap_m2,
    "least driving with the tool up": lambda plan: plan.route.length_m("turn", "travel"),
}
