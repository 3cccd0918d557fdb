"""Direction: the search for the best direction of the passes.

Every direction to half a degree and along every side is estimated in one sweep, the best of them again to a tenth of a
degree, and the finalists are laid out exactly; the ranking is that of the exact layouts.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal, NamedTuple

import numpy as np
import shapely

from fieldgeo.analysis.plan import (
    Plan,
    check_fits,
    check_rules,
    checked_rounds,
    lay_inside,
    plan_layout,
    typical_turn_s,
)
from fieldgeo.analysis.score import CRITERIA, By, Prices, score_plan
from fieldgeo.errors import InputError
from fieldgeo.layout.axes import Floats
from fieldgeo.layout.headland import Rounds, Sides, body_inside, lay_rounds, lay_runs
from fieldgeo.layout.model import NOTHING, Headland
from fieldgeo.layout.sides import EndChain, along_flags, end_chains, outline_sides, worth_leaving
from fieldgeo.layout.strips import Finish, Ints
from fieldgeo.layout.sweep import sweep_directions
from fieldgeo.machinery.tool import Tool, travel_speed_m_s
from fieldgeo.outline.field import Field
from fieldgeo.outline.measure import measure
from fieldgeo.travel.patterns import Order, check_order, least_skip
from fieldgeo.travel.turns import turn_times_s

COARSE_DEG = 0.5
FINE_DEG = 0.1
# What a direction along a side is let off when directions are ranked: nobody plants a fifth of a degree off the fence
# to save seconds. Common practice, no source.
SIDE_BONUS = 0.001
# Directions of the coarse sweep that are looked at again to a tenth of a degree.
REFINED = 16
# Sideways placings tried in the finer sweep: shares of what sticks out that lie on the low side.
PLACINGS = (0.0, 0.5, 1.0)
# Headlands whose best estimate is within this share of the best are laid before directions are ranked, up to so many.
LIKELY_SHARE, LIKELY_HEADLANDS = 0.1, 8
# Directions laid out exactly: the fewer the passes, the more the order of the work and the luck of the last pass
# decide, which no estimate knows, and the cheaper is a layout. Set so that an exhaustive search over the sample fields
# and real parcels finds nothing better by half a per cent (tests/test_direction.py); derived from nothing else.
LAID_OUT_PASSES = 1200
LEAST_LAID_OUT, MOST_LAID_OUT = 20, 80
# This many are laid out whatever the estimates say, and among them a few choices at least so far apart.
SURE_LAID_OUT = 10
CHOICES, CHOICE_APART_DEG = 4, 10.0
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
    check_fits(field, tool)
    check_rules(sides, finish)
    prices = by if isinstance(by, Prices) else None
    by = "cost" if isinstance(by, Prices) else by
    if by not in CRITERIA:
        raise InputError(f"by: got {by!r}. It must be prices, or one of {', '.join(CRITERIA[:-1])}.")
    if by == "cost" and prices is None:
        raise InputError("by: got 'cost'. Give prices: the cost of an hour, and of seed or chemical for an area.")
    check_order(order)
    search = _Search(field, tool, checked_rounds(headland, tool), sides, finish, "auto" if order == "best" else order)
    longest = _tidy_deg(np.array([measure(field).longest_side_direction_deg]))[0]
    along = _side_directions(search)
    ranking = _ranking(search, along, by, prices)
    habit = search.lay_exactly(longest, entrance_xy, by, prices)
    laid = _lay_finalists(search, ranking, habit, entrance_xy, by, prices)
    along_set = {*along.tolist(), longest}
    ranked = _apart(sorted(laid, key=lambda candidate: _rank(candidate, along_set)))
    return DirectionSearch(candidates=_with_reasons(ranked, longest), longest_side=habit, by=by)


class _Alike(NamedTuple):
    """Estimates at the directions at which one headland is considered."""

    key: bytes  # the headland
    places: Ints  # (K,) places of the directions
    scores: Floats  # (K,) estimated scores without the headland


class _Search:
    """The field at many directions: headland rounds that are the same for several of them are laid once."""

    def __init__(self, field: Field, tool: Tool, rounds: int, sides: Sides, finish: Finish, order: Order) -> None:
        self.field, self.tool, self.rounds, self.sides, self.finish = field, tool, rounds, sides, finish
        self.order = order
        self._rings = outline_sides(field.shape, tool) if rounds > 0 else ()
        self._bodies: dict[bytes, shapely.MultiPolygon] = {}
        self._rounds: dict[bytes, Rounds] = {}
        self._headlands: dict[bytes, tuple[float, float]] = {}  # time and swept ground of the rounds alone
        self._turn_table = _turn_table(tool, field, order)

    def _keys(self, directions: Floats) -> list[tuple[bytes, ...]]:
        """Return for each direction the headlands to consider: b"" is all round, else the flags of the sides along."""
        if not self._rings or self.sides == "all":
            return [(b"",)] * len(directions)
        flags = along_flags(self._rings, directions, self.tool)
        if self.sides == "ends":
            return [(row.tobytes() if row.any() else b"",) for row in flags]
        is_worth = worth_leaving(self._rings, flags)
        return [(row.tobytes(), b"") if worth else (b"",) for row, worth in zip(flags, is_worth, strict=True)]

    def _chains(self, key: bytes) -> list[tuple[int, EndChain]] | None:
        return end_chains(self._rings, np.frombuffer(key, dtype=bool)) if key else None

    def _body(self, key: bytes) -> shapely.MultiPolygon:
        if key not in self._bodies:
            chains = self._chains(key)
            self._bodies[key] = body_inside(self.field.shape, self.tool, rounds=self.rounds, chains=chains)
        return self._bodies[key]

    def estimate(self, directions: Floats, shares: tuple[float, ...], by: By, prices: Prices | None) -> list[_Alike]:
        """Return estimated scores without the headland, for each headland and the directions it is considered at.

        The best of the sideways placings in `shares` counts.
        """
        keys = self._keys(directions)
        found = []
        for key in sorted({key for its_keys in keys for key in its_keys}):
            index = np.array([place for place, its_keys in enumerate(keys) if key in its_keys])
            scores = [self._estimate_body(key, directions[index], share, by, prices) for share in shares]
            found.append(_Alike(key, index, np.min(scores, axis=0)))
        return found

    def scores(self, estimates: list[_Alike], count: int, by: By, prices: Prices | None) -> Floats:
        """Return the estimated score at each of a number of directions, headland and all, shape (H,)."""
        scores = np.full(count, np.inf)
        for alike in estimates:
            with_headland = alike.scores + self._headland_score(alike.key, by, prices)
            scores[alike.places] = np.minimum(scores[alike.places], with_headland)
        return scores

    def lay_likely_headlands(self, estimates: list[_Alike], by: By, prices: Prices | None) -> None:
        """Lay the headlands whose best direction comes near the best of all, so that their time is known exactly."""
        least = {alike.key: alike.scores.min() + self._headland_score(alike.key, by, prices) for alike in estimates}
        for key in sorted(least, key=lambda key: least[key])[:LIKELY_HEADLANDS]:
            if least[key] <= min(least.values()) * (1 + LIKELY_SHARE):
                self._time_headland(key)

    def _time_headland(self, key: bytes) -> None:
        """Note the time of a headland's rounds alone, and the ground they sweep."""
        chains = self._chains(key)
        runs = lay_runs(self.field.shape, self.tool, self.finish, rounds=self.rounds, chains=chains)
        headland = Headland(rounds=self.rounds, all_round=chains is None, runs=tuple(runs))
        alone = lay_inside(self.field, self.tool, 0.0, Rounds(headland, NOTHING), self.finish)
        self._headlands[key] = plan_layout(alone).field_time_s, headland.swept_m2

    def _estimate_body(self, key: bytes, directions: Floats, share: float, by: By, prices: Prices | None) -> Floats:
        tool, body = self.tool, self._body(key)
        driving = sweep_directions(
            body, directions, tool, self.finish, share=share,
            turn_length=lambda offset: np.interp(offset, *self._turn_table),
        )  # fmt: skip
        if by == "passes":
            return driving.passes
        missed_m2 = np.maximum(body.area - driving.work_m * tool.width_m, 0.0)
        if by == "overlap":
            return np.asarray(driving.work_m * tool.width_m - body.area + 2 * missed_m2)
        time_s = (
            driving.work_m / tool.speed_m_s
            + driving.turn_m / tool.turn_speed_m_s
            + driving.travel_m / travel_speed_m_s(tool)
            + driving.passes * (tool.raise_s + tool.lower_s + 2 * tool.pull_out_m / tool.turn_speed_m_s)
            + 2 * missed_m2 / tool.theoretical_m2_s
        )
        if by == "cost" and prices is not None:
            return np.asarray(time_s / 3600 * prices.hour + driving.work_m * tool.width_m * prices.input_m2)
        return np.asarray(time_s)

    def _headland_score(self, key: bytes, by: By, prices: Prices | None) -> float:
        """Return what the headland adds to a score: exactly where its rounds are laid, else about."""
        if by in {"passes", "overlap"}:
            return 0.0
        if key in self._headlands:
            time_s, swept_m2 = self._headlands[key]
        else:
            # About one turn a side worked, each round.
            worked = sum(len(ring.first) for ring in self._rings) - int(np.frombuffer(key, dtype=bool).sum())
            swept_m2 = (self.field.area_m2 - self._body(key).area) * self.tool.width_m / self.tool.pitch_m
            time_s = swept_m2 / self.tool.theoretical_m2_s + self.rounds * worked * typical_turn_s(self.tool)
        if by == "cost" and prices is not None:
            return time_s / 3600 * prices.hour + swept_m2 * prices.input_m2
        return time_s

    def lay_exactly(self, direction_deg: float, entrance_xy: Floats | None, by: By, prices: Prices | None) -> Candidate:
        """Return the exact plan at a direction, with the better of the headlands to consider."""
        laid = [self._lay(direction_deg, key, entrance_xy) for key in self._keys(np.array([direction_deg]))[0]]
        scored = [Candidate(plan=plan, score=score_plan(plan, by, prices)) for plan in laid]
        return min(scored, key=lambda candidate: candidate.score)

    def _lay(self, direction_deg: float, key: bytes, entrance_xy: Floats | None) -> Plan:
        layout = lay_inside(self.field, self.tool, direction_deg, self._rounds_of(key), self.finish)
        return plan_layout(layout, entrance_xy=entrance_xy, order=self.order)

    def _rounds_of(self, key: bytes) -> Rounds:
        if key not in self._rounds:
            chains = self._chains(key)
            self._rounds[key] = lay_rounds(self.field.shape, self.tool, self.finish, rounds=self.rounds, chains=chains)
        return self._rounds[key]


def _turn_table(tool: Tool, field: Field, order: Order) -> tuple[Floats, Floats]:
    """Return offsets between the ends of two passes side by side, and what the turn for each takes. [m]

    That is the length driven at turning speed in the same time, pull-out and run-in left out; the mean of a turn to the
    left and one to the right. Where the order may pass others by, the turn onto the pass that needs no loop counts when
    it is quicker: nearly every turn of such an order is one.
    """
    low, high = np.array(field.shape.bounds).reshape(2, 2)
    offsets = np.concatenate([np.linspace(0, 6 * tool.turn_radius_m, 120), [float(np.hypot(*(high - low))) + 1]])
    steps = {1, 1 if order == "back-and-forth" else least_skip(pitch_m=tool.pitch_m, turn_radius_m=tool.turn_radius_m)}
    return offsets, np.min([_turn_m(tool, step, offsets) for step in sorted(steps)], axis=0)


def _turn_m(tool: Tool, step: int, offsets: Floats) -> Floats:
    """Return what turns take onto the pass so many places on, for offsets between passes side by side. [m]"""
    zero, back = np.zeros(len(offsets)), np.full(len(offsets), np.pi)
    times = [
        turn_times_s(
            np.zeros((len(offsets), 2)), zero,
            step * np.column_stack([offsets, zero + side * tool.pitch_m]), back, tool=tool,
        )
        for side in (1, -1)
    ]  # fmt: skip
    return (times[0] + times[1]) / 2 * tool.turn_speed_m_s - 2 * tool.pull_out_m


class _Ranking(NamedTuple):
    """Directions by their estimated score, the least first."""

    direction_deg: list[float]
    estimate: list[float]
    most: int  # how many of them to lay out at the most


def _ranking(search: _Search, along: Floats, by: By, prices: Prices | None) -> _Ranking:
    """Return the directions of the coarse sweep and those round the best of them, ranked by estimate."""
    grid = np.arange(0, 180, COARSE_DEG)
    coarse = np.concatenate([grid, along])
    on_grid, on_sides = search.estimate(grid, (0.5,), by, prices), search.estimate(along, PLACINGS, by, prices)
    search.lay_likely_headlands(on_grid + on_sides, by, prices)
    scores = np.concatenate(
        [search.scores(on_grid, len(grid), by, prices), search.scores(on_sides, len(along), by, prices)]
    )
    best = coarse[np.argsort(scores, kind="stable")[:REFINED]]
    steps = np.arange(1, round(COARSE_DEG / FINE_DEG)) * FINE_DEG
    fine = _tidy_deg(np.concatenate([best, *(best + step for step in steps), *(best - step for step in steps)]))
    fine_scores = search.scores(search.estimate(fine, PLACINGS, by, prices), len(fine), by, prices)
    every, estimates = np.concatenate([fine, coarse]), np.concatenate([fine_scores, scores])
    order = np.argsort(estimates, kind="stable")
    passes = max(1.0, float(search.estimate(every[order[:1]], (0.5,), "passes", None)[0].scores[0]))
    most = round(min(max(LAID_OUT_PASSES / passes, LEAST_LAID_OUT), MOST_LAID_OUT))
    return _Ranking(every[order].tolist(), estimates[order].tolist(), most)


def _lay_finalists(
    search: _Search, ranking: _Ranking, habit: Candidate, entrance_xy: Floats | None, by: By, prices: Prices | None
) -> list[Candidate]:
    """Return exact plans of the directions that may be the best: as many as the estimates cannot rule out.

    A direction is ruled out when its estimate, mended by the most that any estimate so far was too high, is no better
    than the best plan. A few that lie apart are laid in any case, so that there is something to choose from.
    """
    laid = {habit.direction_deg: habit}
    for direction in _representatives(ranking):
        if direction not in laid:
            laid[direction] = search.lay_exactly(direction, entrance_xy, by, prices)
    estimate_of = dict(zip(ranking.direction_deg, ranking.estimate, strict=True))
    gains = [laid[d].score - estimate_of[d] for d in laid if d in estimate_of]
    for direction, estimate in zip(ranking.direction_deg, ranking.estimate, strict=True):
        best = min(candidate.score for candidate in laid.values())
        if len(laid) >= ranking.most or (len(laid) > SURE_LAID_OUT and estimate + min(gains) > best):
            break
        close = sum(_apart_deg(direction, other) < APART_DEG for other in laid)
        if direction in laid or close >= ranking.most // 3:
            continue
        laid[direction] = search.lay_exactly(direction, entrance_xy, by, prices)
        gains.append(laid[direction].score - estimate)
    return list(laid.values())


def _representatives(ranking: _Ranking) -> list[float]:
    """Return the best few directions of a ranking that lie well apart."""
    chosen: list[float] = []
    for direction in ranking.direction_deg:
        if all(_apart_deg(direction, other) >= CHOICE_APART_DEG for other in chosen):
            chosen.append(direction)
        if len(chosen) == CHOICES:
            break
    return chosen


def _side_directions(search: _Search) -> Floats:
    """Return the directions of the hull's edges and the longer sides. [deg]"""
    shape = search.field.shape
    points = [shapely.get_coordinates(shape.convex_hull)]
    thin = shapely.simplify(shape, search.tool.width_m / 4)
    points += [shapely.get_coordinates(ring) for part in shapely.get_parts(thin) for ring in shapely.get_rings(part)]
    steps = np.concatenate([np.diff(ring, axis=0) for ring in points])
    steps = steps[np.hypot(*steps.T) > search.tool.width_m]
    return _tidy_deg(np.degrees(np.arctan2(steps[:, 0], steps[:, 1])))


def _tidy_deg(directions: Floats) -> Floats:
    """Return directions within 0 <= d < 180, to a millionth of a degree, each once."""
    return np.unique(np.round(directions % 180, 6) % 180)


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
