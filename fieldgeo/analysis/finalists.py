"""Finalists: which directions a search lays out exactly, and which of those it tells apart.

The same for one tool and for several on the same rows. Every direction to half a degree and along every side is
estimated, the best of them again to a tenth of a degree; finalists are laid out until no estimate may still come out
best, and then what lies about the best of them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import NamedTuple, Protocol, TypeVar

import numpy as np

from fieldgeo.analysis.many_directions import PLACINGS, Alike, likely_headlands, tidy_deg, with_headlands
from fieldgeo.layout.axes import Floats

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


class Estimator(Protocol):
    """What a search goes by before anything is laid out."""

    def estimate(self, directions: Floats, shares: tuple[float, ...]) -> list[Alike]:
        """Return estimated scores without the headland, for each headland and the directions it is considered at."""

    def headland_score(self, key: bytes) -> float:
        """Return what a headland adds to a score."""

    def lay_headland(self, key: bytes) -> None:
        """Lay a headland, so that what it adds is known exactly."""

    def passes(self, direction_deg: float) -> float:
        """Return about how many passes are laid out at a direction."""


class LaidOut(Protocol):
    """A direction laid out exactly."""

    @property
    def direction_deg(self) -> float:
        """Azimuth of the passes. [deg]"""

    @property
    def score(self) -> float:
        """What is judged; less is better."""


LaidT = TypeVar("LaidT", bound=LaidOut)


class Ranking(NamedTuple):
    """Directions by their estimated score, the least first."""

    direction_deg: list[float]
    estimate: list[float]
    along: list[float]  # the directions of the sides
    of_headlands: list[float]  # the best direction for each headland, the least estimate first
    most: int  # how many of them to lay out at the most


def rank_directions(estimator: Estimator, along: Floats) -> Ranking:
    """Return the directions of the coarse sweep and those round the best of them, ranked by estimate.

    Parameters
    ----------
    estimator : Estimator
        One tool on a field, or several on the same rows.
    along : ndarray of shape (H,)
        Directions of the sides. [deg]
    """
    grid = np.arange(0, 180, COARSE_DEG)
    coarse = np.concatenate([grid, along])
    on_grid, on_sides = estimator.estimate(grid, (0.5,)), estimator.estimate(along, PLACINGS)
    for key in likely_headlands(on_grid + on_sides, estimator.headland_score):
        estimator.lay_headland(key)
    scores = np.concatenate(
        [
            with_headlands(on_grid, len(grid), estimator.headland_score),
            with_headlands(on_sides, len(along), estimator.headland_score),
        ]
    )
    best = coarse[np.argsort(scores, kind="stable")[:REFINED]]
    steps = np.arange(1, round(COARSE_DEG / FINE_DEG)) * FINE_DEG
    fine = tidy_deg(np.concatenate([best, *(best + step for step in steps), *(best - step for step in steps)]))
    on_fine = estimator.estimate(fine, PLACINGS)
    every = np.concatenate([fine, coarse])
    estimates = np.concatenate([with_headlands(on_fine, len(fine), estimator.headland_score), scores])
    order = np.argsort(estimates, kind="stable")
    passes = max(1.0, estimator.passes(float(every[order[0]])))
    most = round(min(max(LAID_OUT_PASSES / passes, LEAST_LAID_OUT), MOST_LAID_OUT))
    of_headlands = _of_headlands(estimator, [(grid, on_grid), (along, on_sides), (fine, on_fine)])
    return Ranking(every[order].tolist(), estimates[order].tolist(), along.tolist(), of_headlands, most)


def _of_headlands(estimator: Estimator, estimates: list[tuple[Floats, list[Alike]]]) -> list[float]:
    """Return the best direction for each headland that is considered, the least estimate first."""
    best: dict[bytes, tuple[float, float]] = {}
    for directions, its in estimates:
        for alike in its:
            at = int(alike.scores.argmin())
            score = float(alike.scores[at]) + estimator.headland_score(alike.key)
            found = score, float(directions[alike.places[at]])
            best[alike.key] = min(found, best.get(alike.key, found))
    return [direction for _, direction in sorted(best.values())]


def lay_finalists(lay: Callable[[float], LaidT], ranking: Ranking, sure: Iterable[float]) -> dict[float, LaidT]:
    """Return exact plans of the directions that may be the best, by direction: as many as estimates cannot rule out.

    A direction is ruled out when its estimate, mended by the most that estimates seem to be too high, is no better than
    the best plan. A few that lie apart, and some for headlands that differ, are laid in any case. In the end the
    neighbours of the best are laid out, down to a tenth of a degree; and the sides that are parallel to it but for a
    hair, by which it may change which of them are end rows, and how passes are cut.

    Parameters
    ----------
    lay : callable
        Lays a direction out exactly.
    ranking : Ranking
        From `rank_directions`.
    sure : iterable of float
        Directions that are laid out in any case, 0 <= d < 180. [deg]
    """
    laid: dict[float, LaidT] = {}

    def score_of(direction: float) -> float:
        if direction not in laid:
            laid[direction] = lay(direction)
        return laid[direction].score

    for direction in [*sure, *_representatives(ranking)]:
        score_of(direction)
    _lay_by_estimate(score_of, laid, ranking)
    _lay_neighbours(score_of, laid, ranking.along)
    return laid


def _lay_by_estimate(score_of: Callable[[float], float], laid: Mapping[float, LaidOut], ranking: Ranking) -> None:
    """Lay directions out in the order of their estimates, until no estimate may come out best or there are enough."""
    estimate_of = dict(zip(ranking.direction_deg, ranking.estimate, strict=True))
    gains = [laid[d].score - estimate_of[d] for d in laid if d in estimate_of]
    for spread in SPREAD_DEG:
        for direction, estimate in zip(ranking.direction_deg, ranking.estimate, strict=True):
            best = min(each.score for each in laid.values())
            if len(laid) >= ranking.most or (len(laid) > SURE_LAID_OUT and estimate + _least_gain(gains) > best):
                break
            if all(apart_deg(direction, other) >= spread for other in laid):
                gains.append(score_of(direction) - estimate)


def _lay_neighbours(score_of: Callable[[float], float], laid: Mapping[float, LaidOut], along: Sequence[float]) -> None:
    """Lay out what lies about the best, step by step, and the sides that are as good as parallel to it."""
    for step in STEPS_DEG:
        at = np.array(_leaders(laid.values()))
        for direction in tidy_deg(np.concatenate([at - step, at + step])).tolist():
            score_of(direction)
    for best in _leaders(laid.values()):
        for direction in along:
            if apart_deg(direction, best) < FINE_DEG:
                score_of(direction)


def _leaders(laid: Iterable[LaidOut]) -> list[float]:
    """Return the direction of the best plan, and of the next best where it takes next to no longer."""
    first, *others = well_apart(sorted(laid, key=lambda each: each.score))
    near = [each for each in others[:1] if each.score <= first.score * (1 + NEAR_SHARE)]
    return [each.direction_deg for each in (first, *near)]


def _least_gain(gains: list[float]) -> float:
    """Return about the least of all gains: of N that are known and evenly spread, the end lies a gap further on."""
    return min(gains) - (max(gains) - min(gains)) / max(len(gains) - 1, 1)


def _representatives(ranking: Ranking) -> list[float]:
    """Return the best few directions of a ranking that lie well apart, and the best for some of the headlands."""
    chosen: list[float] = []
    for direction in ranking.direction_deg:
        if all(apart_deg(direction, other) >= CHOICE_APART_DEG for other in chosen):
            chosen.append(direction)
        if len(chosen) == CHOICES:
            break
    of_headlands = ranking.of_headlands[: ranking.most // LAID_OUT_A_HEADLAND]
    return list(dict.fromkeys([*chosen, *of_headlands]))


def ranked_apart(laid: Iterable[LaidT], along: set[float]) -> list[LaidT]:
    """Return what was laid out, the best first, none close to a better one.

    A direction along a side wins over one that saves less than a thousandth.

    Parameters
    ----------
    laid : iterable of LaidOut
        Directions laid out exactly.
    along : set of float
        Directions of the sides. [deg]
    """
    return well_apart(sorted(laid, key=lambda each: each.score * (1 - SIDE_BONUS * (each.direction_deg in along))))


def well_apart(ranked: Iterable[LaidT]) -> list[LaidT]:
    """Return a ranking without those that stand close to a better one.

    Parameters
    ----------
    ranked : iterable of LaidOut
        Directions laid out exactly, the best first.
    """
    kept: list[LaidT] = []
    for each in ranked:
        if all(apart_deg(each.direction_deg, other.direction_deg) >= APART_DEG for other in kept):
            kept.append(each)
    return kept


def apart_deg(one: float, other: float) -> float:
    """Return the angle between two directions of passes, 0 to 90. [deg]

    Parameters
    ----------
    one, other : float
        Azimuths of the passes. [deg]
    """
    return abs((one - other + 90) % 180 - 90)
