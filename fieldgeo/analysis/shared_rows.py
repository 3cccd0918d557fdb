"""Several tools on the same rows at many directions: estimated scores of all together, exact plans of a direction.

One tool lays the rows; the others drive among them, from the same edge, inside a headland of the same depth. The depth
is that of the tool which needs most room to turn, in whole rounds of the tool that lays the rows: end rows are planted
too. A tool of another width drives as many rounds as it needs to work that ground, and its own passes begin behind
them. (Derived.)
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from math import ceil
from typing import TYPE_CHECKING, Final, Literal, NamedTuple

import numpy as np

from fieldgeo.analysis.finalists import lay_finalists, rank_directions, ranked_apart
from fieldgeo.analysis.many_directions import Alike, ManyDirections, side_directions, tidy_deg
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

    def estimate(self, directions: Floats, shares: tuple[float, ...]) -> list[Alike]:
        """Return estimated scores of the season without the headland, for each headland and its directions.

        Parameters
        ----------
        directions : ndarray of shape (H,)
            Azimuths of the passes. [deg]
        shares : tuple of float
            Sideways placings, as in `ManyDirections.estimate`; each tool counts with its best.
        """
        found = [
            many.estimate(directions, shares, each.by, each.prices)
            for many, each in zip(self._many, self.judged, strict=True)
        ]
        times = np.array([[each.times] for each in self.judged])
        return [
            Alike(its[0].key, its[0].places, np.sum(times * [each.scores for each in its], axis=0))
            for its in zip(*found, strict=True)  # the same headlands for every tool
        ]

    def headland_score(self, key: bytes) -> float:
        """Return what a headland adds to the score of the season.

        Parameters
        ----------
        key : bytes
            The headland.
        """
        return sum(
            each.times * many.headland_score(key, each.by, each.prices)
            for many, each in zip(self._many, self.judged, strict=True)
        )

    def lay_headland(self, key: bytes) -> None:
        """Lay a headland of every tool, so that what it adds is known exactly.

        Parameters
        ----------
        key : bytes
            The headland.
        """
        for many in self._many:
            many.lay_headland(key)

    def passes(self, direction_deg: float) -> float:
        """Return about how many passes of all tools are laid out at a direction.

        Parameters
        ----------
        direction_deg : float
            Azimuth of the passes, 0 <= d < 180. [deg]
        """
        return sum(many.passes(direction_deg) for many in self._many)

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
            plans.append(plan_layout(layout, entrance_xy=entrance_xy, order=many.order, known=many.run_turns_of(key)))
        scores = tuple(each.score(plan) for each, plan in zip(self.judged, plans, strict=True))
        total = sum(each.times * score for each, score in zip(self.judged, scores, strict=True))
        return RowsLaid(direction_deg, tuple(plans), scores, on_rows.straddling, total)

    def search(self, sure: Iterable[float] = (), entrance_xy: Floats | None = None) -> list[RowsLaid]:
        """Return the directions that were laid out exactly, the best first, none nearer than `APART_DEG` to a better.

        Which are laid out is told by the estimates of all tools together, as for one tool (see `finalists`).

        Parameters
        ----------
        sure : iterable of float
            Directions that are laid out in any case, such as the best of each tool by itself. [deg]
        entrance_xy : ndarray of shape (2,), optional
            Where the tools enter and leave the field. [m]
        """
        along = side_directions(self.field, self.judged[0].tool)
        certain = tidy_deg(np.array([*sure], dtype=float)).tolist()
        laid = lay_finalists(partial(self.lay, entrance_xy=entrance_xy), rank_directions(self, along), certain)
        return ranked_apart(laid.values(), set(along.tolist()))


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
