"""Where the time went: every second between the first work and the last in one state, turns and stops by themselves.

Field time follows the usual practice (turning, stops for filling, unloading and adjusting, and waiting in the field
count; travel to and from the field does not): it runs from the first work to the last, without breaks. A log knows a
stop, and no reason for it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from fieldgeo.analysis.log.motion import Motion
from fieldgeo.analysis.log.passes import Pattern
from fieldgeo.analysis.log.record import Log
from fieldgeo.analysis.log.stretches import STANDING_SHARE, Stretch
from fieldgeo.analysis.log.trips import Link, Trip
from fieldgeo.frame import FloatArray

State = Literal["passes", "headland_rounds", "turning", "lifting", "travel", "stops"]
STATES: Final[tuple[State, ...]] = ("passes", "headland_rounds", "turning", "lifting", "travel", "stops")
TurnKind = Literal["half-circle", "flat", "loop", "corner", "unrecorded"]

BREAK_S: Final = 1800.0  # a longer stop is a break and no field time: common practice, no source
# Standing for so long is a stop; less, between two stretches, is lifting and setting down (own choice).
STOP_S: Final = 12.0
_LEAST_LIFTING_S: Final = 1.5
# Where a turn was not recorded, what it takes beyond twice the usual and so many seconds is a stop (own choice).
_LONG_TURN_TIMES: Final = 2.0
_LONG_TURN_MORE_S: Final = 10.0
# A turn goes through half a circle of headings; one that goes through so many more has swung out (own choice).
_LOOP_DEG: Final = 205.0
_FLAT_SHARE: Final = 0.25


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TurnSeen:
    """A turn from one trip to the next."""

    kind: TurnKind
    start_s: float  # [s]
    duration_s: float  # from the tool up to the tool down, without stops [s]
    lifting_s: float | None  # stood at its ends in that; None where its way was not recorded [s]
    length_m: float | None  # None where its way was not recorded [m]
    apart_m: float  # between the two ends [m]
    passes_over: int  # how many passes on the next one lies; 0 for a corner
    line: FloatArray  # (K, 2) [m]


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """A time without moving on. Why, a log cannot know."""

    start_s: float  # [s]
    duration_s: float  # [s]
    xy: tuple[float, float]  # [m]
    during: Literal["pass", "turn", "travel"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Timing:
    """Time from the first work to the last."""

    by_state_s: dict[str, float]  # sums to the field time [s]
    turns: tuple[TurnSeen, ...]
    stops: tuple[Stop, ...]
    breaks: tuple[Stop, ...]  # longer than the limit, left out of the field time
    lifted: int  # how often the tool was lifted in the middle of a trip
    lifted_s: float  # time of that, without stops [s]
    lifted_m: float  # driven over in it [m]

    @property
    def field_time_s(self) -> float:
        """Field time: the sum of its states. [s]"""
        return sum(self.by_state_s.values())


@dataclass(slots=True, kw_only=True)
class _Sum:
    """Adds up what is found."""

    by_state_s: dict[str, float]
    break_s: float
    stops: list[Stop]
    breaks: list[Stop]

    def add(self, state: State, seconds: float) -> None:
        self.by_state_s[state] += max(seconds, 0.0)

    def stop(self, stop: Stop) -> None:
        if stop.duration_s >= self.break_s:
            self.breaks.append(stop)
        else:
            self.stops.append(stop)
            self.by_state_s["stops"] += stop.duration_s


def time_log(
    log: Log, motion: Motion, trips: list[Trip], links: list[Link], pattern: Pattern, inner: list[Link],
    *, break_s: float = BREAK_S,
) -> Timing:  # fmt: skip
    """Return where the time went.

    Parameters
    ----------
    log : Log
        Records of one field.
    motion : Motion
        Their motion.
    trips, links : list
        Trips in the order of time, and the links between them.
    pattern : Pattern
        What each trip is.
    inner : list of Link
        The links within trips, where the tool was lifted.
    break_s : float
        A stop of at least this is a break and no field time, > 0. [s]
    """
    total = _Sum(by_state_s=dict.fromkeys(STATES, 0.0), break_s=break_s, stops=[], breaks=[])
    work_m, work_s = sum(trip.length_m for trip in trips), sum(trip.work_s for trip in trips)
    speed = work_m / work_s if work_s > 0 else 1.0
    works = [at for at, role in enumerate(pattern.roles) if role != "travel"]
    first, last = (works[0], works[-1]) if works else (0, -1)
    for at in range(first, last + 1):
        state: State = {"headland": "headland_rounds", "travel": "travel"}.get(pattern.roles[at], "passes")  # type: ignore[assignment]
        for stretch in trips[at].stretches:
            _add_stretch(total, log, motion, stretch, state, speed)
    usual_s = _usual_turn_s(links[first:last])
    turns = []
    spacing_m = float(np.median(pattern.spacing_m)) if len(pattern.spacing_m) else log.width_m
    for at in range(first, last):
        link = links[at]
        is_work = pattern.roles[at] != "travel" and pattern.roles[at + 1] != "travel"
        is_turn = link.kind in {"turn", "corner"} and is_work
        seconds, lifting_s = _add_link(total, log, motion, link, speed, usual_s if is_turn else None)
        if is_turn:
            turns.append(_turn_seen(link, seconds, lifting_s, spacing_m))
    lifted = [link for link in inner if trips[first].start_s <= link.start_s <= trips[last].end_s] if works else []
    lifted_s = sum(_add_link(total, log, motion, link, speed, None)[0] for link in lifted)
    return Timing(
        by_state_s=total.by_state_s, turns=tuple(turns),
        stops=tuple(sorted(total.stops, key=lambda stop: stop.start_s)), breaks=tuple(total.breaks),
        lifted=len(lifted), lifted_s=lifted_s, lifted_m=sum(link.apart_m for link in lifted),
    )  # fmt: skip


def _stands(log: Log, motion: Motion, first: int, last: int, speed_m_s: float) -> list[tuple[int, int]]:
    """Return first and last record of each time of standing between two records."""
    if last <= first:
        return []
    step_m = np.hypot(*np.diff(motion.xy[first : last + 1], axis=0).T)
    step_s = np.maximum(np.diff(log.time_s[first : last + 1]), 1e-9)
    still = np.concatenate([[False], step_m / step_s < STANDING_SHARE * speed_m_s, [False]])
    edges = np.flatnonzero(np.diff(still.astype(np.int8))).reshape(-1, 2)
    return [(first + int(start), first + int(end)) for start, end in edges]


def _add_stretch(total: _Sum, log: Log, motion: Motion, stretch: Stretch, state: State, speed: float) -> None:
    seconds = stretch.duration_s
    for start, end in _stands(log, motion, stretch.first, stretch.last, speed):
        stood_s = float(log.time_s[end] - log.time_s[start])
        if stood_s >= STOP_S:
            total.stop(_stop(log, motion, start, stood_s, "pass"))
            seconds -= stood_s
    total.add(state, seconds)


def _stop(log: Log, motion: Motion, row: int, seconds: float, during: Literal["pass", "turn", "travel"]) -> Stop:
    x, y = motion.xy[row].tolist()
    return Stop(start_s=float(log.time_s[row]), duration_s=seconds, xy=(x, y), during=during)


def _usual_turn_s(links: list[Link]) -> float:
    """Return the usual time of a turn back. [s]"""
    seconds = [link.duration_s for link in links if link.kind == "turn"]
    return float(np.median(seconds)) if seconds else 0.0


def _add_link(
    total: _Sum, log: Log, motion: Motion, link: Link, speed: float, usual_turn_s: float | None
) -> tuple[float, float]:
    """Add the time of a link to its states; return it without stops, and what of it was lifting. [s]"""
    is_turn = usual_turn_s is not None
    during: Literal["pass", "turn", "travel"] = "turn" if is_turn else "pass" if link.kind == "on" else "travel"
    seconds, lifting_s = link.duration_s, 0.0
    if link.is_recorded:
        for start, end in _stands(log, motion, link.first, link.last, speed):
            stood_s = min(float(log.time_s[end] - log.time_s[start]), seconds)
            if stood_s >= STOP_S:
                total.stop(_stop(log, motion, start, stood_s, during))
                seconds -= stood_s
            elif is_turn and stood_s >= _LEAST_LIFTING_S:
                lifting_s += stood_s
    else:
        expected = usual_turn_s if usual_turn_s is not None else link.apart_m / speed
        if seconds > _LONG_TURN_TIMES * expected + _LONG_TURN_MORE_S:
            total.stop(_stop(log, motion, link.first, seconds - expected, during))
            seconds = expected
    total.add("turning" if is_turn else "travel", seconds - lifting_s)
    total.add("lifting", lifting_s)
    return seconds, lifting_s


def _turn_seen(link: Link, seconds: float, lifting_s: float, spacing_m: float) -> TurnSeen:
    return TurnSeen(
        kind=_turn_kind(link), start_s=link.start_s, duration_s=seconds,
        lifting_s=lifting_s if link.is_recorded else None,
        length_m=link.length_m if link.is_recorded else None, apart_m=link.apart_m,
        passes_over=max(1, round(abs(link.aside_m) / spacing_m)) if link.kind == "turn" else 0, line=link.line,
    )  # fmt: skip


def _turn_kind(link: Link) -> TurnKind:
    if link.kind == "corner":
        return "corner"
    if not link.is_recorded or len(link.line) < 4:
        return "unrecorded"
    steps = np.diff(link.line, axis=0)
    length = np.hypot(*steps.T)
    is_driven = length > 0.4 * np.percentile(length, 75)  # else standing, where headings are noise
    steps, length = steps[is_driven], length[is_driven]
    if len(steps) < 3:
        return "unrecorded"
    heading = np.degrees(np.unwrap(np.arctan2(steps[:, 1], steps[:, 0])))
    if np.ptp(heading) > _LOOP_DEG:
        return "loop"
    bend = np.abs(np.diff(heading))
    is_straight = bend < 0.15 * bend.max()
    return "flat" if length[1:][is_straight].sum() > _FLAT_SHARE * length.sum() else "half-circle"
