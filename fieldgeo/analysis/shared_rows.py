"""Several tools on the same rows at many directions: estimated scores of all together, exact plans of a direction.

One tool lays the rows; the others drive among them, from the same edge, inside a headland of the same depth. The depth
is that of the tool which needs most room to turn, in whole rounds of the tool that lays the rows: end rows are planted
too. A tool of another width drives as many rounds as it needs to work that ground, and its own passes begin behind
them. (Derived.)
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil
from typing import TYPE_CHECKING, Final, Literal, NamedTuple

import numpy as np

from fieldgeo.analysis.direction import (
    APART_DEG,
    CHOICE_APART_DEG,
    CHOICES,
    COARSE_DEG,
    FINE_DEG,
    REFINED,
    SIDE_BONUS,
)
from fieldgeo.analysis.many_directions import PLACINGS, ManyDirections, side_directions, tidy_deg
from fieldgeo.analysis.plan import checked_rounds, plan_layout, typical_turn_s
from fieldgeo.analysis.score import score_plan
from fieldgeo.layout.model import Layout
from fieldgeo.layout.row_grid import RowTool, lay_on_rows
from fieldgeo.machinery.turning import headland_depth_m

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from fieldgeo.analysis.plan import Plan
    from fieldgeo.analysis.score import By, Prices
    from fieldgeo.layout.axes import Floats
    from fieldgeo.layout.headland import Sides
    from fieldgeo.layout.strips import Finish
    from fieldgeo.machinery.tool import Tool
    from fieldgeo.outline.field import Field
    from fieldgeo.travel.patterns import Order

# Directions laid out exactly: at least so many, then as long as an estimate may still come out best. Set so that no
# direction on whole degrees is better by half a per cent (tests/test_season_direction.py); derived from nothing else.
LEAST_LAID_OUT: Final = 12
MOST_LAID_OUT: Final = 40
_ROUNDING: Final = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """What a tool's plan is judged by, and how often the tool is run in the season."""

    tool: Tool
    times: int = 1
    by: By = "time"
    prices: Prices | None = None

    def score(self, plan: Plan) -> float:
        """Return the score of one run."""
        return score_plan(plan, self.by, self.prices)


@dataclass(frozen=True, slots=True, kw_only=True)
class SharedHeadland:
    """The headland that tools on the same rows share."""

    rounds: int  # of the tool that lays the rows
    depth_m: float  # of those rounds [m]
    needed_m: float  # by the tool that needs most room to turn [m]
    needed_by: str  # its name


class RowsLaid(NamedTuple):
    """All tools on the same rows, laid out exactly at one direction."""

    direction_deg: float
    plans: tuple[Plan, ...]  # of each tool
    scores: tuple[float, ...]  # of one run of each tool
    straddling: tuple[int, ...]  # passes of each tool over a guess row
    score: float  # of the season: each tool as often as it is run; less is better


class SharedRows:
    """A field at many directions for tools that share rows; the first lays them."""

    def __init__(
        self,
        field: Field,
        judged: Sequence[Judged],
        *,
        headland: int | Literal["auto"] = "auto",
        sides: Sides = "auto",
        finish: Finish = "cover",
        order: Order = "auto",
    ) -> None:
        """Look at a field.

        Parameters
        ----------
        field : Field
            The field.
        judged : sequence of Judged
            The tools, the one that lays the rows first.
        headland : int or "auto"
            Number of headland rounds of the tool that lays the rows.
        sides : {"auto", "ends", "all"}
            Where they lie, for all tools alike.
        finish : {"cover", "clean", "half"}
            Finish rule.
        order : str
            Order of the passes.

        Raises
        ------
        InputError
            If a rule or the order is unknown, or a number of rounds is out of range.
        LayoutError
            If a tool is wider than the field is long.
        """
        self.field, self.judged, self.finish = field, tuple(judged), finish
        first = judged[0].tool
        self.headland = shared_headland([each.tool for each in judged], headland)
        depth_m = self.headland.depth_m
        self._many = [
            ManyDirections(
                field, each.tool, headland=ceil(depth_m / each.tool.pitch_m - _ROUNDING), sides=sides, finish=finish,
                order=order, sides_of=first,
            )
            for each in judged
        ]  # fmt: skip

    def scores(self, directions: Floats, shares: tuple[float, ...]) -> Floats:
        """Return the estimated score of the season at many directions, shape (H,).

        Parameters
        ----------
        directions : ndarray of shape (H,)
            Azimuths of the passes. [deg]
        shares : tuple of float
            Sideways placings, as in `ManyDirections.estimate`; each tool counts with its best.
        """
        least = np.full(len(directions), np.inf)
        found = [
            many.estimate(directions, shares, each.by, each.prices)
            for many, each in zip(self._many, self.judged, strict=True)
        ]
        for many, each, estimates in zip(self._many, self.judged, found, strict=True):
            many.lay_likely_headlands(estimates, each.by, each.prices)
        for alike in zip(*found, strict=True):  # the same headland for every tool
            total = np.zeros(len(directions))
            for many, each, its in zip(self._many, self.judged, alike, strict=True):
                total += each.times * many.scores([its], len(directions), each.by, each.prices)
            least = np.minimum(least, total)
        return least

    def lay(self, direction_deg: float, entrance_xy: Floats | None = None) -> RowsLaid:
        """Return the exact plans of all tools at a direction, with the better of the headlands to consider.

        Parameters
        ----------
        direction_deg : float
            Azimuth of the passes, 0 <= d < 180. [deg]
        entrance_xy : ndarray of shape (2,), optional
            Where the tools enter and leave the field. [m]
        """
        keys = self._many[0].keys(np.array([direction_deg]))[0]
        return min((self._lay(direction_deg, key, entrance_xy) for key in keys), key=lambda laid: laid.score)

    def _lay(self, direction_deg: float, key: bytes, entrance_xy: Floats | None) -> RowsLaid:
        rounds = [many.rounds_of(key) for many in self._many]
        on_rows = lay_on_rows(
            [
                RowTool(each.tool, its.body, typical_turn_s(each.tool), each.times)
                for each, its in zip(self.judged, rounds, strict=True)
            ],
            direction_deg,
            self.finish,
        )
        plans = []
        for many, its, passes in zip(self._many, rounds, on_rows.passes, strict=True):
            layout = Layout(
                field=self.field, tool=many.tool, direction_deg=direction_deg, finish=self.finish,
                headland=its.headland, body=its.body, passes=passes,
            )  # fmt: skip
            plans.append(plan_layout(layout, entrance_xy=entrance_xy, order=many.order))
        scores = tuple(each.score(plan) for each, plan in zip(self.judged, plans, strict=True))
        total = sum(each.times * score for each, score in zip(self.judged, scores, strict=True))
        return RowsLaid(direction_deg, tuple(plans), scores, on_rows.straddling, total)

    def search(self, sure: Iterable[float] = (), entrance_xy: Floats | None = None) -> list[RowsLaid]:
        """Return the directions that were laid out exactly, the best first, none nearer than `APART_DEG` to a better.

        Every direction to `COARSE_DEG` and along every side is estimated, the best of them again to `FINE_DEG`. A
        direction is laid out as long as its estimate, mended by the most that any estimate so far was too high, is
        better than the best plan.

        Parameters
        ----------
        sure : iterable of float
            Directions that are laid out in any case, such as the best of each tool by itself. [deg]
        entrance_xy : ndarray of shape (2,), optional
            Where the tools enter and leave the field. [m]
        """
        along = side_directions(self.field, self.judged[0].tool)
        ranking = self._ranking(along)
        laid: dict[float, RowsLaid] = {}
        too_high = 0.0
        for direction in [*tidy_deg(np.array([*sure], dtype=float)).tolist(), *_well_apart(list(ranking))]:
            if direction not in laid:
                laid[direction] = self.lay(direction, entrance_xy)
                too_high = max(too_high, ranking.get(direction, 0.0) - laid[direction].score)
        for direction, estimate in ranking.items():
            least = min(each.score for each in laid.values())
            if len(laid) >= MOST_LAID_OUT or (len(laid) >= LEAST_LAID_OUT and estimate - too_high > least):
                break
            close = sum(apart_deg(direction, other) < APART_DEG for other in laid)
            if direction in laid or close >= MOST_LAID_OUT // 3:
                continue
            laid[direction] = self.lay(direction, entrance_xy)
            too_high = max(too_high, estimate - laid[direction].score)
        along_set = set(along.tolist())
        return _ranked(laid.values(), along_set)

    def _ranking(self, along: Floats) -> dict[float, float]:
        """Return estimated scores by direction, the least first."""
        coarse = np.arange(0, 180, COARSE_DEG)
        scores = np.concatenate([self.scores(coarse, (0.5,)), self.scores(along, PLACINGS)])
        coarse = np.concatenate([coarse, along])
        best = coarse[np.argsort(scores, kind="stable")[:REFINED]]
        steps = np.arange(1, round(COARSE_DEG / FINE_DEG)) * FINE_DEG
        fine = tidy_deg(np.concatenate([best, *(best + step for step in steps), *(best - step for step in steps)]))
        every = dict(zip(coarse.tolist(), scores.tolist(), strict=True))
        every |= dict(zip(fine.tolist(), self.scores(fine, PLACINGS).tolist(), strict=True))
        return dict(sorted(every.items(), key=lambda each: each[1]))


def shared_headland(tools: Sequence[Tool], headland: int | Literal["auto"]) -> SharedHeadland:
    """Return the headland that tools on the same rows share: the widest need decides, in whole rounds of the first.

    Parameters
    ----------
    tools : sequence of Tool
        The tools, the one that lays the rows first.
    headland : int or "auto"
        Number of its rounds, or as many as the tool needs that turns widest.

    Raises
    ------
    InputError
        If the number of rounds is out of range.
    """
    widest = max(tools, key=headland_depth_m)
    needed_m, pitch_m = headland_depth_m(widest), tools[0].pitch_m
    rounds = checked_rounds(headland, tools[0])
    if headland == "auto":
        rounds = max(1, ceil(needed_m / pitch_m - _ROUNDING))
    return SharedHeadland(rounds=rounds, depth_m=rounds * pitch_m, needed_m=needed_m, needed_by=widest.name)


def apart_deg(one: float, other: float) -> float:
    """Return the angle between two directions of passes, 0 to 90. [deg]"""
    return abs((one - other + 90) % 180 - 90)


def _well_apart(ranking: list[float]) -> list[float]:
    """Return the best few directions of a ranking that lie well apart."""
    chosen: list[float] = []
    for direction in ranking:
        if len(chosen) < CHOICES and all(apart_deg(direction, other) >= CHOICE_APART_DEG for other in chosen):
            chosen.append(direction)
    return chosen


def _ranked(laid: Iterable[RowsLaid], along: set[float]) -> list[RowsLaid]:
    """Return what was laid out, the best first; a direction along a side wins over one that saves next to nothing."""
    kept: list[RowsLaid] = []
    for each in sorted(laid, key=lambda one: one.score * (1 - SIDE_BONUS * (one.direction_deg in along))):
        if all(apart_deg(each.direction_deg, other.direction_deg) >= APART_DEG for other in kept):
            kept.append(each)
    return kept
