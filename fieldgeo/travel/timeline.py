"""`Timeline`: the time on the field, state by state, every second with its place."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import isfinite
from typing import Final

import numpy as np

from fieldgeo.errors import InputError
from fieldgeo.layout.axes import Floats, distances_along
from fieldgeo.machinery.tool import Tool, travel_speed_m_s
from fieldgeo.travel.ground import swept_by_leg_m2
from fieldgeo.travel.route import Leg, Route, State

# States of the time line, in the order they are printed. All count as field time; travel to and from the field does
# not (what field efficiency counts: an extension handbook sheet "Capacity"; Iowa State A3-24, in a mirrored copy).
TIME_STATES: Final = (
    "passes", "headland_rounds", "turning", "lifting", "travel", "filling", "unloading", "adjusting",
)  # fmt: skip
# What each leg of a route is called on the time line.
STATE_OF_LEG: Final[Mapping[State, str]] = {
    "pass": "passes",
    "headland": "headland_rounds",
    "turn": "turning",
    "travel": "travel",
    "fill": "filling",
    "unload": "unloading",
}
_BESIDE_A_LEG: Final = frozenset({"lifting", "adjusting"})  # stood through before or after a leg


@dataclass(frozen=True, slots=True, kw_only=True)
class Adjusting:
    """An allowance for adjusting and small fixes in the field, stood through at the ends of the work.

    Parameters
    ----------
    per_work : float
        Adjusting for each second of work, passes and rounds, >= 0. [s/s]
    per_area_s_m2 : float
        Adjusting for each square metre swept, >= 0. [s/m2]

    Raises
    ------
    InputError
        If a value is not a finite number, or below zero.
    """

    per_work: float = 0.0
    per_area_s_m2: float = 0.0

    def __post_init__(self) -> None:
        for name in ("per_work", "per_area_s_m2"):
            value = getattr(self, name)
            if not (isfinite(value) and value >= 0):
                raise InputError(f"adjusting: {name} is {value:g}. It must be a finite number, not below zero.")


NO_ADJUSTING: Final = Adjusting()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Timeline:
    """Time of every leg of a route.

    Lifting, setting down and adjusting are spent standing at the ends of the work, so that each has its place too.
    """

    route: Route
    state: tuple[str, ...]  # (K,) one of TIME_STATES
    start_s: Floats  # (K,) [s]
    duration_s: Floats  # (K,) [s]
    leg: tuple[int, ...]  # (K,) the leg of the route: driven, or stood before (at the very end: after)

    @property
    def field_time_s(self) -> float:
        """Time on the field: the sum of the time line. [s]"""
        return float(self.duration_s.sum())

    def by_state_s(self) -> dict[str, float]:
        """Return the time spent in each state. [s]"""
        totals = dict.fromkeys(TIME_STATES, 0.0)
        for state, duration in zip(self.state, self.duration_s.tolist(), strict=True):
            totals[state] += duration
        return totals

    def place_at(self, time_s: float) -> tuple[float, float, str]:
        """Return where the tool is at a moment, and what it does: x, y and the state.

        Parameters
        ----------
        time_s : float
            Time since the work began; held to the length of the time line. [s]
        """
        row = int(np.clip(np.searchsorted(self.start_s, time_s, side="right") - 1, 0, len(self.state) - 1))
        line = self.route.legs[self.leg[row]].points()
        if self.state[row] in _BESIDE_A_LEG:
            end = -1 if self.is_after_leg()[row] else 0
            return float(line[end, 0]), float(line[end, 1]), self.state[row]
        share = np.clip((time_s - self.start_s[row]) / max(float(self.duration_s[row]), 1e-12), 0.0, 1.0)
        turn = self.route.legs[self.leg[row]].turn
        if turn is not None:
            share = turn.driven_share(float(share))
        along = distances_along(line)
        x, y = (float(np.interp(share * along[-1], along, line[:, axis])) for axis in (0, 1))
        return x, y, self.state[row]

    def is_after_leg(self) -> list[bool]:
        """Return for each entry whether it is stood through after its leg; all others are that leg, or before it."""
        after = []
        driven = -1
        for state, leg in zip(self.state, self.leg, strict=True):
            is_beside = state in _BESIDE_A_LEG
            after.append(is_beside and leg == driven)
            driven = driven if is_beside else leg
        return after


def leg_s(leg: Leg, tool: Tool) -> float:
    """Return the time of one leg, lifting and setting down left out. [s]

    Parameters
    ----------
    leg : Leg
        One leg of a route.
    tool : Tool
        Gives the speeds.
    """
    if leg.is_work:
        return leg.length_m / tool.speed_m_s
    if leg.turn is not None:
        return leg.turn.time_s
    return leg.length_m / travel_speed_m_s(tool) + leg.stop_s


def time_route(route: Route, *, adjusting: Adjusting = NO_ADJUSTING) -> Timeline:
    """Return the time line of a route, at the tool's own speeds.

    Passes and rounds are driven at working speed, turns at turning speed or in reverse, with the time of each shift
    between the two, and travel at the greater of the two (common
    practice, no source); the tool is raised after every pass, run and round, and lowered before it.

    Parameters
    ----------
    route : Route
        Work in order, and stops if there are any.
    adjusting : Adjusting
        Allowance for adjusting; none if left out.
    """
    tool = route.layout.tool
    swept_m2 = swept_by_leg_m2(route) if adjusting.per_area_s_m2 else np.zeros(len(route.legs))
    state: list[str] = []
    duration: list[float] = []
    leg_of: list[int] = []

    def add(name: str, seconds: float, leg: int) -> None:
        if seconds > 0:
            state.append(name)
            duration.append(seconds)
            leg_of.append(leg)

    def add_after_work(work: int, leg: int) -> None:
        add("lifting", tool.raise_s, leg)
        share_s = adjusting.per_work * leg_s(route.legs[work], tool)
        add("adjusting", share_s + adjusting.per_area_s_m2 * float(swept_m2[work]), leg)

    for number, leg in enumerate(route.legs):
        if number > 0 and route.legs[number - 1].is_work:
            add_after_work(number - 1, number)
        if leg.is_work:
            add("lifting", tool.lower_s, number)
        add(STATE_OF_LEG[leg.state], leg_s(leg, tool), number)
    if route.legs and route.legs[-1].is_work:
        add_after_work(len(route.legs) - 1, len(route.legs) - 1)
    durations = np.array(duration)
    starts = np.concatenate([[0.0], np.cumsum(durations)[:-1]]) if duration else np.empty(0)
    return Timeline(route=route, state=tuple(state), start_s=starts, duration_s=durations, leg=tuple(leg_of))
