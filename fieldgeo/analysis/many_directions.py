"""A field at many directions: estimated scores of all of them, exact plans of those that are asked for.

What directions share is worked out once: the outline's sides, the headland rounds, and the body inside them.
"""

from __future__ import annotations

from collections.abc import Callable
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
from fieldgeo.analysis.score import By, Prices, score_plan
from fieldgeo.layout.axes import Floats
from fieldgeo.layout.headland import Rounds, Sides, body_inside, lay_rounds, lay_runs
from fieldgeo.layout.model import NOTHING, Headland
from fieldgeo.layout.sides import EndChain, along_flags, end_chains, outline_sides, worth_leaving
from fieldgeo.layout.strips import Finish, Ints
from fieldgeo.layout.sweep import Driving, sweep_directions
from fieldgeo.machinery.tool import Tool, travel_speed_m_s
from fieldgeo.outline.field import Field
from fieldgeo.travel.patterns import Order, check_order, least_skip
from fieldgeo.travel.turns import turn_times_s
from fieldgeo.travel.works import RunTurns, run_turns

# Sideways placings tried where it matters: shares of what sticks out that lie on the low side.
PLACINGS = (0.0, 0.5, 1.0)
# Headlands whose best estimate is within this share of the best are laid before directions are ranked, up to so many.
LIKELY_SHARE, LIKELY_HEADLANDS = 0.1, 8


class Laid(NamedTuple):
    """One direction laid out exactly."""

    plan: Plan
    score: float  # what the search judges by; less is better


class Alike(NamedTuple):
    """Estimates at the directions at which one headland is considered."""

    key: bytes  # the headland
    places: Ints  # (K,) places of the directions
    scores: Floats  # (K,) estimated scores without the headland


class ManyDirections:
    """The field at many directions: headland rounds that are the same for several of them are laid once."""

    def __init__(
        self,
        field: Field,
        tool: Tool,
        *,
        headland: int | Literal["auto"] = "auto",
        sides: Sides = "auto",
        finish: Finish = "cover",
        order: Order = "auto",
        sides_of: Tool | None = None,
    ) -> None:
        """Look at a field.

        Parameters
        ----------
        field : Field
            The field.
        tool : Tool
            The tool.
        headland : int or "auto"
            Number of headland rounds.
        sides : {"auto", "ends", "all"}
            Where they lie.
        finish : {"cover", "clean", "half"}
            Finish rule.
        order : str
            Order of the passes; for ``"best"`` that of ``"auto"`` is taken, since a solver at every direction would
            take too long.
        sides_of : Tool, optional
            By whose width the sides along the passes are told, so that tools can share a headland; without it the tool
            itself.

        Raises
        ------
        InputError
            If a rule or the order is unknown, or the number of rounds is out of range.
        LayoutError
            If the tool is wider than the field is long.
        """
        check_fits(field, tool)
        check_rules(sides, finish)
        check_order(order)
        self.field, self.tool, self.sides, self.finish = field, tool, sides, finish
        self.rounds = checked_rounds(headland, tool)
        order = "auto" if order == "best" else order
        self.order = order
        self._sides_of = tool if sides_of is None else sides_of
        self._rings = outline_sides(field.shape, self._sides_of) if self.rounds > 0 else ()
        self._bodies: dict[bytes, shapely.MultiPolygon] = {}
        self._rounds: dict[bytes, Rounds] = {}
        self._run_turns: dict[bytes, RunTurns] = {}
        self._headlands: dict[bytes, tuple[float, float]] = {}  # time and swept ground of the rounds alone
        self._turn_table = turn_table(tool, field.shape, order)

    def keys(self, directions: Floats) -> list[tuple[bytes, ...]]:
        """Return for each direction the headlands to consider: b"" is all round, else the flags of the sides along.

        Parameters
        ----------
        directions : ndarray of shape (H,)
            Azimuths of the passes. [deg]
        """
        if not self._rings or self.sides == "all":
            return [(b"",)] * len(directions)
        flags = along_flags(self._rings, directions, self._sides_of)
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

    def estimate(
        self, directions: Floats, shares: tuple[float, ...], by: By, prices: Prices | None = None
    ) -> list[Alike]:
        """Return estimated scores without the headland, for each headland and the directions it is considered at.

        Parameters
        ----------
        directions : ndarray of shape (H,)
            Azimuths of the passes. [deg]
        shares : tuple of float
            Sideways placings, of which the best counts: shares of what sticks out that lie on the low side.
        by : {"time", "passes", "overlap", "cost"}
            What is judged.
        prices : Prices, optional
            For ``"cost"``.
        """
        keys = self.keys(directions)
        found = []
        for key in sorted({key for its_keys in keys for key in its_keys}):
            index = np.array([place for place, its_keys in enumerate(keys) if key in its_keys])
            scores = [self._estimate_body(key, directions[index], share, by, prices) for share in shares]
            found.append(Alike(key, index, np.min(scores, axis=0)))
        return found

    def scores(self, estimates: list[Alike], count: int, by: By, prices: Prices | None = None) -> Floats:
        """Return the estimated score at each of a number of directions, headland and all, shape (H,).

        Parameters
        ----------
        estimates : list of Alike
            From `estimate`.
        count : int
            Number of directions.
        by, prices : str, Prices or None
            As in `estimate`.
        """
        return with_headlands(estimates, count, lambda key: self.headland_score(key, by, prices))

    def lay_likely_headlands(self, estimates: list[Alike], by: By, prices: Prices | None = None) -> None:
        """Lay the headlands whose best direction comes near the best of all, so that their time is known exactly.

        Parameters
        ----------
        estimates : list of Alike
            From `estimate`.
        by, prices : str, Prices or None
            As in `estimate`.
        """
        for key in likely_headlands(estimates, lambda key: self.headland_score(key, by, prices)):
            self.lay_headland(key)

    def lay_headland(self, key: bytes) -> None:
        """Lay a headland's rounds alone, so that their time is known exactly.

        Parameters
        ----------
        key : bytes
            The headland, from `keys`.
        """
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
        if by == "overlap":
            missed_m2 = np.maximum(body.area - driving.work_m * tool.width_m, 0.0)
            return np.asarray(driving.work_m * tool.width_m - body.area + 2 * missed_m2)
        time_s = driving_time_s(driving, body.area, tool)
        if by == "cost" and prices is not None:
            return np.asarray(time_s / 3600 * prices.hour + driving.work_m * tool.width_m * prices.input_m2)
        return time_s

    def headland_score(self, key: bytes, by: By, prices: Prices | None = None) -> float:
        """Return what the headland adds to a score: exactly where its rounds are laid, else about.

        Parameters
        ----------
        key : bytes
            The headland, from `keys`.
        by, prices : str, Prices or None
            As in `estimate`.
        """
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

    def passes(self, direction_deg: float) -> float:
        """Return about how many passes are laid out at a direction.

        Parameters
        ----------
        direction_deg : float
            Azimuth of the passes, 0 <= d < 180. [deg]
        """
        return float(self.estimate(np.array([direction_deg]), (0.5,), "passes")[0].scores[0])

    def lay_exactly(
        self, direction_deg: float, entrance_xy: Floats | None, by: By, prices: Prices | None = None
    ) -> Laid:
        """Return the exact plan at a direction, with the better of the headlands to consider.

        Parameters
        ----------
        direction_deg : float
            Azimuth of the passes, 0 <= d < 180. [deg]
        entrance_xy : ndarray of shape (2,) or None
            Where the tool enters and leaves the field. [m]
        by, prices : str, Prices or None
            As in `estimate`.
        """
        laid = [self._lay(direction_deg, key, entrance_xy) for key in self.keys(np.array([direction_deg]))[0]]
        return min((Laid(plan, score_plan(plan, by, prices)) for plan in laid), key=lambda each: each.score)

    def _lay(self, direction_deg: float, key: bytes, entrance_xy: Floats | None) -> Plan:
        layout = lay_inside(self.field, self.tool, direction_deg, self.rounds_of(key), self.finish)
        return plan_layout(layout, entrance_xy=entrance_xy, order=self.order, known=self.run_turns_of(key))

    def rounds_of(self, key: bytes) -> Rounds:
        """Return the rounds of a headland, and the body inside them.

        Parameters
        ----------
        key : bytes
            The headland, from `keys`.
        """
        if key not in self._rounds:
            chains = self._chains(key)
            self._rounds[key] = lay_rounds(self.field.shape, self.tool, self.finish, rounds=self.rounds, chains=chains)
        return self._rounds[key]

    def run_turns_of(self, key: bytes) -> RunTurns:
        """Return the turns between the runs of a headland.

        Parameters
        ----------
        key : bytes
            The headland, from `keys`.
        """
        if key not in self._run_turns:
            self._run_turns[key] = run_turns(self.rounds_of(key).headland, self.tool, self.field.shape)
        return self._run_turns[key]


def with_headlands(estimates: list[Alike], count: int, headland_score: Callable[[bytes], float]) -> Floats:
    """Return the estimated score at each of a number of directions, with the better of its headlands, shape (H,).

    Parameters
    ----------
    estimates : list of Alike
        Scores without the headland.
    count : int
        Number of directions.
    headland_score : callable
        What a headland adds.
    """
    scores = np.full(count, np.inf)
    for alike in estimates:
        scores[alike.places] = np.minimum(scores[alike.places], alike.scores + headland_score(alike.key))
    return scores


def likely_headlands(estimates: list[Alike], headland_score: Callable[[bytes], float]) -> list[bytes]:
    """Return the headlands whose best direction comes near the best of all, the least first.

    Parameters
    ----------
    estimates : list of Alike
        Scores without the headland.
    headland_score : callable
        What a headland adds.
    """
    least: dict[bytes, float] = {}
    for alike in estimates:
        score = float(alike.scores.min()) + headland_score(alike.key)
        least[alike.key] = min(score, least.get(alike.key, score))
    nearest = sorted(least, key=lambda key: least[key])[:LIKELY_HEADLANDS]
    return [key for key in nearest if least[key] <= least[nearest[0]] * (1 + LIKELY_SHARE)]


def driving_time_s(driving: Driving, area_m2: float, tool: Tool) -> Floats:
    """Return the time of estimated driving over a body, shape (H,); ground that is left counts twice. [s]

    Parameters
    ----------
    driving : Driving
        From `fieldgeo.layout.sweep.sweep_directions`.
    area_m2 : float
        Area of the body. [m2]
    tool : Tool
        Gives speeds and the time of lifting.
    """
    missed_m2 = np.maximum(area_m2 - driving.work_m * tool.width_m, 0.0)
    return np.asarray(
        driving.work_m / tool.speed_m_s
        + driving.turn_m / tool.turn_speed_m_s
        + driving.travel_m / travel_speed_m_s(tool)
        + driving.passes * (tool.raise_s + tool.lower_s + 2 * tool.pull_out_m / tool.turn_speed_m_s)
        + 2 * missed_m2 / tool.theoretical_m2_s
    )


def turn_table(tool: Tool, shape: shapely.MultiPolygon, order: Order) -> tuple[Floats, Floats]:
    """Return offsets between the ends of two passes side by side, and what the turn for each takes. [m]

    That is the length driven at turning speed in the same time, pull-out and run-in left out; the mean of a turn to the
    left and one to the right. Where the order may pass others by, the turn onto the pass that needs no loop counts when
    it is quicker: nearly every turn of such an order is one.

    Parameters
    ----------
    tool : Tool
        The tool.
    shape : shapely.MultiPolygon
        Outline in the frame, which tells how large an offset can be. [m]
    order : str
        Order of the passes.
    """
    low, high = np.array(shape.bounds).reshape(2, 2)
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


def side_directions(field: Field, tool: Tool) -> Floats:
    """Return the directions of the hull's edges and the sides longer than the width, shape (H,). [deg]

    Parameters
    ----------
    field : Field
        The field.
    tool : Tool
        The tool.
    """
    points = [shapely.get_coordinates(field.shape.convex_hull)]
    thin = shapely.simplify(field.shape, tool.width_m / 4)
    points += [shapely.get_coordinates(ring) for part in shapely.get_parts(thin) for ring in shapely.get_rings(part)]
    steps = np.concatenate([np.diff(ring, axis=0) for ring in points])
    steps = steps[np.hypot(*steps.T) > tool.width_m]
    return tidy_deg(np.degrees(np.arctan2(steps[:, 0], steps[:, 1])))


def tidy_deg(directions: Floats) -> Floats:
    """Return directions within 0 <= d < 180, to a millionth of a degree, each once.

    Parameters
    ----------
    directions : ndarray of shape (H,)
        Azimuths. [deg]
    """
    return np.unique(np.round(directions % 180, 6) % 180)
