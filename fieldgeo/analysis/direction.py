"""Direction: the search for the best direction of the passes.

Every direction to half a degree and along every side is estimated in one sweep, the best of them again to a tenth of a
degree, and the finalists are laid out exactly; the ranking is that of the exact layouts.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal, NamedTuple

import numpy as np

from fieldgeo.analysis.many_directions import PLACINGS, Alike, ManyDirections, side_directions, tidy_deg
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

COARSE_DEG = 0.5
FINE_DEG = 0.1
# What a direction along a side is let off when directions are ranked: nobody plants a fifth of a degree off the fence
# to save seconds. Common practice, no source.
SIDE_BONUS = 0.001
# Directions of the coarse sweep that are looked at again to a tenth of a degree.
REFINED = 16
# Directions laid out exactly: the fewer the passes, the more the order of the work and the luck of the last pass
# decide, which no estimate knows, and the cheaper is a layout. Set so that an exhaustive search over the sample fields
# and real parcels finds nothing better by half a per cent (tests/test_direction.py); derived from nothing else.
LAID_OUT_PASSES = 1200
LEAST_LAID_OUT, MOST_LAID_OUT = 20, 80
# This many are laid out whatever the estimates say, and among them a few choices at least so far apart.
SURE_LAID_OUT = 10
CHOICES, CHOICE_APART_DEG = 4, 10.0
# Directions laid out by their estimate keep so far apart, in a first round and a second: closer together they share the
# pattern of the work and the turns that are kept on the ground, of which an estimate knows nothing.
SPREAD_DEG = (2.0, 1.0)
# What lies about the best plan is laid out then, a step to either side, each step from where the last one led; and what
# lies about the next best, where it takes no more than this share longer.
STEPS_DEG = (1.0, 0.5, 0.2, 0.1)
NEAR_SHARE = 0.005
# Headlands whose best direction is laid out: one for so many of the most directions.
LAID_OUT_A_HEADLAND = 10
# Finalists closer together than this are one choice to a grower; the best of them stands in the list.
APART_DEG = 2.0
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
    longest = tidy_deg(np.array([measure(field).longest_side_direction_deg]))[0]
    along = side_directions(field, tool)
    ranking = _ranking(many, along, by, prices)
    habit = Candidate(**many.lay_exactly(longest, entrance_xy, by, prices)._asdict())
    laid = _lay_finalists(many, ranking, habit, entrance_xy, by, prices)
    along_set = {*along.tolist(), longest}
    ranked = _apart(sorted(laid, key=lambda candidate: _rank(candidate, along_set)))
    return DirectionSearch(candidates=_with_reasons(ranked, longest), longest_side=habit, by=by)


class _Ranking(NamedTuple):
    """Directions by their estimated score, the least first."""

    direction_deg: list[float]
    estimate: list[float]
    of_headlands: list[float]  # the best direction for each headland, the least estimate first
    most: int  # how many of them to lay out at the most


def _ranking(many: ManyDirections, along: Floats, by: By, prices: Prices | None) -> _Ranking:
    """Return the directions of the coarse sweep and those round the best of them, ranked by estimate."""
    grid = np.arange(0, 180, COARSE_DEG)
    coarse = np.concatenate([grid, along])
    on_grid, on_sides = many.estimate(grid, (0.5,), by, prices), many.estimate(along, PLACINGS, by, prices)
    many.lay_likely_headlands(on_grid + on_sides, by, prices)
    scores = np.concatenate(
        [many.scores(on_grid, len(grid), by, prices), many.scores(on_sides, len(along), by, prices)]
    )
    best = coarse[np.argsort(scores, kind="stable")[:REFINED]]
    steps = np.arange(1, round(COARSE_DEG / FINE_DEG)) * FINE_DEG
    fine = tidy_deg(np.concatenate([best, *(best + step for step in steps), *(best - step for step in steps)]))
    on_fine = many.estimate(fine, PLACINGS, by, prices)
    fine_scores = many.scores(on_fine, len(fine), by, prices)
    every, estimates = np.concatenate([fine, coarse]), np.concatenate([fine_scores, scores])
    order = np.argsort(estimates, kind="stable")
    passes = max(1.0, float(many.estimate(every[order[:1]], (0.5,), "passes", None)[0].scores[0]))
    most = round(min(max(LAID_OUT_PASSES / passes, LEAST_LAID_OUT), MOST_LAID_OUT))
    of_headlands = _of_headlands(many, [(grid, on_grid), (along, on_sides), (fine, on_fine)], by, prices)
    return _Ranking(every[order].tolist(), estimates[order].tolist(), of_headlands, most)


def _of_headlands(
    many: ManyDirections, estimates: list[tuple[Floats, list[Alike]]], by: By, prices: Prices | None
) -> list[float]:
    """Return the best direction for each headland that is considered, the least estimate first."""
    best: dict[bytes, tuple[float, float]] = {}
    for directions, its in estimates:
        for alike in its:
            scores = many.scores([alike], len(directions), by, prices)
            row = int(scores.argmin())
            found = float(scores[row]), float(directions[row])
            best[alike.key] = min(found, best.get(alike.key, found))
    return [direction for _, direction in sorted(best.values())]


def _lay_finalists(
    many: ManyDirections, ranking: _Ranking, habit: Candidate, entrance_xy: Floats | None, by: By, prices: Prices | None
) -> list[Candidate]:
    """Return exact plans of the directions that may be the best: as many as the estimates cannot rule out.

    A direction is ruled out when its estimate, mended by the most that estimates seem to be too high, is no better than
    the best plan. A few that lie apart, and some for headlands that differ, are laid in any case. In the end the
    neighbours of the best are laid out, down to a tenth of a degree.
    """
    laid = {habit.direction_deg: habit}

    def lay(direction: float) -> float:
        if direction not in laid:
            laid[direction] = Candidate(**many.lay_exactly(direction, entrance_xy, by, prices)._asdict())
        return laid[direction].score

    for direction in _representatives(ranking):
        lay(direction)
    estimate_of = dict(zip(ranking.direction_deg, ranking.estimate, strict=True))
    gains = [laid[d].score - estimate_of[d] for d in laid if d in estimate_of]
    for spread in SPREAD_DEG:
        for direction, estimate in zip(ranking.direction_deg, ranking.estimate, strict=True):
            best = min(candidate.score for candidate in laid.values())
            if len(laid) >= ranking.most or (len(laid) > SURE_LAID_OUT and estimate + _least_gain(gains) > best):
                break
            if all(_apart_deg(direction, other) >= spread for other in laid):
                gains.append(lay(direction) - estimate)
    for step in STEPS_DEG:
        first, *others = _apart(sorted(laid.values(), key=lambda candidate: candidate.score))
        near = [each for each in others[:1] if each.score <= first.score * (1 + NEAR_SHARE)]
        at = np.array([each.direction_deg for each in (first, *near)])
        for direction in tidy_deg(np.concatenate([at - step, at + step])).tolist():
            lay(direction)
    return list(laid.values())


def _least_gain(gains: list[float]) -> float:
    """Return about the least of all gains: of N that are known and evenly spread, the end lies a gap further on."""
    return min(gains) - (max(gains) - min(gains)) / max(len(gains) - 1, 1)


def _representatives(ranking: _Ranking) -> list[float]:
    """Return the best few directions of a ranking that lie well apart, and the best for some of the headlands."""
    chosen: list[float] = []
    for direction in ranking.direction_deg:
        if all(_apart_deg(direction, other) >= CHOICE_APART_DEG for other in chosen):
            chosen.append(direction)
        if len(chosen) == CHOICES:
            break
    of_headlands = ranking.of_headlands[: ranking.most // LAID_OUT_A_HEADLAND]
    return list(dict.fromkeys([*chosen, *of_headlands]))


def _rank(candidate: Candidate, along: set[float]) -> float:
    """Return the score to rank by: a direction along a side wins over one that saves less than a thousandth."""
    return candidate.score * (1 - SIDE_BONUS) if candidate.direction_deg in along else candidate.score


def _apart_deg(one: float, other: float) -> float:
    return abs((one - other + 90) % 180 - 90)


def _apart(ranked: list[Candidate]) -> list[Candidate]:
    """Return a ranking without the candidates that stand close to a better one."""
    kept: list[Candidate] = []
    for candidate in ranked:
        if all(_apart_deg(candidate.direction_deg, other.direction_deg) >= APART_DEG for other in kept):
            kept.append(candidate)
    return kept


def _with_reasons(ranked: list[Candidate], longest_deg: float) -> tuple[Candidate, ...]:
    """Return the candidates with the reasons a person would give for each."""
    least = {name: min(figure(candidate.plan) for candidate in ranked) for name, figure in _REASONS.items()}
    found = []
    for candidate in ranked:
        reasons = [name for name, figure in _REASONS.items() if figure(candidate.plan) <= least[name]]
        if _apart_deg(candidate.direction_deg, longest_deg) <= ALONG_DEG:
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
