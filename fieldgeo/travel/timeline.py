"""`Timeline`: the time on the field, state by state, every second with its place."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fieldgeo.layout.axes import Floats, distances_along
from fieldgeo.machinery.tool import travel_speed_m_s
from fieldgeo.travel.route import Leg, Route

# States of the time line, in the order they are printed.
TIME_STATES = ("passes", "headland_rounds", "turning", "lifting", "travel")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Timeline:
    """Time of every leg of a route.

    Lifting and setting down are spent standing at the ends of the work, so that each has its place too.
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
        if self.state[row] == "lifting":
            # Before the leg; the last of all is after it.
            end = 0 if row == 0 or self.leg[row - 1] != self.leg[row] or row + 1 < len(self.state) else -1
            return float(line[end, 0]), float(line[end, 1]), "lifting"
        share = np.clip((time_s - self.start_s[row]) / max(float(self.duration_s[row]), 1e-12), 0.0, 1.0)
        along = distances_along(line)
        x, y = (float(np.interp(share * along[-1], along, line[:, axis])) for axis in (0, 1))
        return x, y, self.state[row]


def time_route(route: Route) -> Timeline:
    """Return the time line of a route, at the tool's own speeds.

    Passes and rounds are driven at working speed, turns at turning speed, and travel at the greater of the two (common
    practice, no source); the tool is raised after every pass, run and round, and lowered before it.

    Parameters
    ----------
    route : Route
        Work in order.
    """
    tool = route.layout.tool
    state: list[str] = []
    duration: list[float] = []
    leg_of: list[int] = []

    def add(name: str, seconds: float, leg: int) -> None:
        if seconds > 0:
            state.append(name)
            duration.append(seconds)
            leg_of.append(leg)

    names = {"pass": "passes", "headland": "headland_rounds", "turn": "turning", "travel": "travel"}
    speed_m_s = {
        "pass": tool.speed_m_s,
        "headland": tool.speed_m_s,
        "turn": tool.turn_speed_m_s,
        "travel": travel_speed_m_s(tool),
    }
    for number, leg in enumerate(route.legs):
        is_work = _is_work(leg)
        if number > 0 and _is_work(route.legs[number - 1]):
            add("lifting", tool.raise_s, number)
        if is_work:
            add("lifting", tool.lower_s, number)
        add(names[leg.state], leg.length_m / speed_m_s[leg.state], number)
    if route.legs and _is_work(route.legs[-1]):
        add("lifting", tool.raise_s, len(route.legs) - 1)
    durations = np.array(duration)
    starts = np.concatenate([[0.0], np.cumsum(durations)[:-1]]) if duration else np.empty(0)
    return Timeline(route=route, state=tuple(state), start_s=starts, duration_s=durations, leg=tuple(leg_of))


def _is_work(leg: Leg) -> bool:
    return leg.state in {"pass", "headland"}
