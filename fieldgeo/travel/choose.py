"""Which of the places where a tool may stop it should stop at, so that its tank never runs dry, or over."""

from __future__ import annotations

from collections import deque
from typing import Final, Literal, TypeAlias

import numpy as np

from fieldgeo.layout.axes import Floats

First: TypeAlias = Literal["stops", "time"]
# What a tank may be short of by the noise of floats: a share of it.
FULL_TOLERANCE: Final = 1e-9
# Times closer than this are the same; the later place is taken then.
SAME_TIME_S: Final = 1e-6


def too_long_stretches(used: Floats, capacity: float) -> list[int]:
    """Return the places after which the tank does not last to the next, each by its row.

    A way through exists just when there is none. (Derived: one may stop at every place.)

    Parameters
    ----------
    used : ndarray of shape (N,)
        What has gone through the tank when the tool comes to each place where it may stop, ascending, begin and end
        of the work among them. [any unit]
    capacity : float
        What the tank holds, > 0. [same unit]
    """
    return np.flatnonzero(np.diff(used) > capacity * (1 + FULL_TOLERANCE)).tolist()


def choose_stops(
    used: Floats, stop_s: Floats, capacity: float, *, first: First = "stops", last_s: Floats | None = None
) -> list[int]:
    """Return the places to stop at, between the begin and the end of the work: the best choice there is.

    Parameters
    ----------
    used : ndarray of shape (N,)
        What has gone through the tank when the tool comes to each place, ascending; the first place is the begin and
        the last the end of the work. No stretch between neighbours is longer than the tank lasts. [any unit]
    stop_s : ndarray of shape (N,)
        Time that a stop at each place costs, beside what is the same for every choice. [s]
    capacity : float
        What the tank holds, > 0. [same unit as `used`]
    first : {"stops", "time"}
        What comes first: the fewest stops and then the least time, or the least time and then the fewest stops.
    last_s : ndarray of shape (N,), optional
        Time that each place costs beyond that if it is the last stop of all. [s]

    Returns
    -------
    list of int
        Rows of the places, ascending, begin and end left out. Of equal choices the one that stops latest.

    Notes
    -----
    Derived. Let c(i) be the least cost after a stop at i, costs being pairs in order of importance; pairs add and
    compare like numbers, so c(i) is the least of (1 stop, its time) + c(j) over the places j that the tank lasts to,
    or what the last stop costs where it lasts to the end (Bellman's principle). With the fewest stops first and equal
    times that is to drive as far as the tank lasts each time. The window of places slides, so the time is linear in N.
    """
    end = len(used) - 1
    last = np.zeros(len(used)) if last_s is None else last_s
    reach = capacity * (1 + FULL_TOLERANCE)

    def key(stops: int, seconds: float) -> tuple[float, float]:
        rounded = round(seconds / SAME_TIME_S)
        return (stops, rounded) if first == "stops" else (rounded, stops)

    stops_after, time_after, following = [0] * (end + 1), [0.0] * (end + 1), [end] * (end + 1)
    # Places that the tank may last to, with the cost of stopping there; the cheapest in front, of equals the latest.
    window: deque[tuple[tuple[float, float], int]] = deque()
    for place in range(end - 1, -1, -1):
        while window and used[window[0][1]] - used[place] > reach:
            window.popleft()
        choices = []
        if used[end] - used[place] <= reach:
            choices.append((key(0, float(last[place])), 0, float(last[place]), end))
        if window:
            other = window[0][1]
            stops, seconds = 1 + stops_after[other], float(stop_s[other]) + time_after[other]
            choices.append((key(stops, seconds), stops, seconds, other))
        _, stops_after[place], time_after[place], following[place] = min(choices, key=lambda choice: choice[0])
        entry = key(1 + stops_after[place], float(stop_s[place]) + time_after[place])
        while window and window[-1][0] > entry:
            window.pop()
        window.append((entry, place))
    chosen = []
    at = following[0]
    while at != end:
        chosen.append(at)
        at = following[at]
    return chosen
