"""Points of a walk are sifted as they are read: void, poor and imprecise fixes, spikes, and the cloud of a stop.

Each rule counts what it drops, and only what is kept stays in memory. All thresholds are common practice, no source.
Steps and speeds are taken in a plane that touches the Earth at the first point (x = longitude x cos(latitude)): a step
is off by less than 1 % within 30 km, far nearer than any of the thresholds is meant.
"""

from __future__ import annotations

from array import array
from dataclasses import dataclass
from math import cos, hypot, radians
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from fieldgeo.errors import OutlineError
from fieldgeo.outline.walk.fixes import Fixes
from fieldgeo.outline.walk.quality import VOID, is_measured, is_trusted

if TYPE_CHECKING:
    from fieldgeo.outline.rules import WalkRules

MOST_KEPT: Final = 500_000  # points; an edge of 500 km at a point a metre
UNTIMED_STEP_S: Final = 1.0  # points without times are taken as one a second; common practice, no source
_METRES_PER_DEG: Final = 111_320.0


@dataclass(slots=True, kw_only=True)
class Dropped:
    """How many points each rule dropped, in the order of the rules."""

    read: int = 0
    off_earth: int = 0  # latitude beyond 90 degrees or longitude beyond 180
    void: int = 0  # quality 0, or no position
    not_measured: int = 0  # dead reckoning, manual, simulated
    poor: int = 0  # below the least quality asked for
    hdop: int = 0
    spikes: int = 0
    stationary: int = 0
    jumps: int = 0  # kept all the same: too fast to reach, but the track goes on from there
    kept: int = 0


class _Point(NamedTuple):
    x_m: float
    y_m: float
    time_s: float
    row: tuple[float, float, float, int, float, int, int]


class Sieve:
    """Sifts points in the order of the file.

    Parameters
    ----------
    rules : WalkRules
        The thresholds.
    """

    def __init__(self, rules: WalkRules) -> None:
        self.dropped = Dropped()
        self._rules = rules
        self._origin: tuple[float, float, float] | None = None
        self._last: _Point | None = None  # kept
        self._is_first = False  # whether it is the first of its segment
        self._next: _Point | None = None  # waits for the point after it
        self._floats = [array("d") for _ in range(4)]  # longitude, latitude, time, HDOP
        self._ints = [array("l") for _ in range(3)]  # quality, track, segment

    def add(self, fixes: Fixes) -> None:
        """Sift some more points.

        Parameters
        ----------
        fixes : Fixes
            They follow those before.

        Raises
        ------
        OutlineError
            If more than 500,000 points are kept.
        """
        passed = self._passed(fixes)
        if not passed.any():
            return
        lon, lat = fixes.lon_deg[passed], fixes.lat_deg[passed]
        if self._origin is None:
            self._origin = (lon[0], lat[0], _METRES_PER_DEG * cos(radians(lat[0])))
        east_deg = (lon - self._origin[0] + 180.0) % 360.0 - 180.0
        x_m, y_m = east_deg * self._origin[2], (lat - self._origin[1]) * _METRES_PER_DEG
        times = fixes.time_s[passed].tolist()
        rows = zip(
            lon.tolist(), lat.tolist(), times, fixes.quality[passed].tolist(), fixes.hdop[passed].tolist(),
            fixes.track[passed].tolist(), fixes.segment[passed].tolist(), strict=True,
        )  # fmt: skip
        for point in map(_Point, x_m.tolist(), y_m.tolist(), times, rows):
            if self._next is not None:
                is_same = self._next.row[6] == point.row[6]
                self._settle(self._next, point if is_same else None)
                if not is_same:
                    self._last = None
            self._next = point

    def end(self) -> Fixes:
        """Return the points that are kept."""
        if self._next is not None:
            self._settle(self._next, None)
            self._next = None
        lon, lat, time, hdop = (np.array(column, dtype=np.float64) for column in self._floats)
        quality, track, segment = (np.array(column, dtype=np.int64) for column in self._ints)
        self.dropped.kept = len(lon)
        return Fixes(
            lon_deg=lon, lat_deg=lat, time_s=time, hdop=hdop, quality=quality.astype(np.int8), track=track,
            segment=segment,
        )  # fmt: skip

    def _passed(self, fixes: Fixes) -> np.typing.NDArray[np.bool_]:
        """Return which points pass the rules that look at one point alone."""
        count = self.dropped
        count.read += len(fixes)
        is_void = (fixes.quality == VOID) | np.isnan(fixes.lon_deg) | np.isnan(fixes.lat_deg)
        is_off = ~is_void & ~((np.abs(fixes.lat_deg) <= 90) & (np.abs(fixes.lon_deg) <= 180))
        is_strange = ~is_void & ~is_off & ~is_measured(fixes.quality)
        left = ~(is_void | is_off | is_strange)
        is_poor = left & ~is_trusted(fixes.quality, self._rules.least_quality)
        is_loose = left & ~is_poor & (fixes.hdop > self._rules.most_hdop)
        count.void += int(is_void.sum())
        count.off_earth += int(is_off.sum())
        count.not_measured += int(is_strange.sum())
        count.poor += int(is_poor.sum())
        count.hdop += int(is_loose.sum())
        return np.asarray(left & ~is_poor & ~is_loose)

    def _settle(self, point: _Point, after: _Point | None) -> None:
        """Keep a point or drop it, now that the one after it is known (None: the segment ends)."""
        last = self._last
        if last is None:
            self._is_first = True
            self._keep(point)
            return
        step_m = hypot(point.x_m - last.x_m, point.y_m - last.y_m)
        if self._is_fast(step_m, last, point):
            is_timed = point.time_s > last.time_s  # without times a long step may be a side with no points on it
            if self._is_spike(last, point, after, is_timed=is_timed):
                self.dropped.spikes += 1
                return
            if is_timed and self._is_first and after is not None and self._is_far(last, after):
                self.dropped.spikes += 1  # the first point itself
                self._unkeep()
            elif is_timed:
                self.dropped.jumps += 1
        elif step_m < self._rules.step_m:
            self.dropped.stationary += 1
            return
        self._is_first = False
        self._keep(point)

    def _is_fast(self, step_m: float, start: _Point, end: _Point) -> bool:
        elapsed_s = end.time_s - start.time_s
        if not elapsed_s > 0:  # no times, or a clock that stands still
            elapsed_s = UNTIMED_STEP_S
        return step_m > self._rules.most_speed_m_s * elapsed_s

    def _is_far(self, start: _Point, end: _Point) -> bool:
        return self._is_fast(hypot(end.x_m - start.x_m, end.y_m - start.y_m), start, end)

    def _is_spike(self, last: _Point, point: _Point, after: _Point | None, *, is_timed: bool) -> bool:
        """Whether a point that is too fast to reach is too fast to leave as well, or nothing follows it.

        Where there are no times, a corner of an edge with few points looks like that too; a spike comes back to where
        it left.
        """
        if after is None:
            return is_timed
        if not self._is_far(point, after):
            return False
        return (is_timed and after.time_s > point.time_s) or not self._is_far(last, after)

    def _keep(self, point: _Point) -> None:
        if len(self._floats[0]) >= MOST_KEPT:
            raise OutlineError(
                f"more than {MOST_KEPT:,} points are left after cleaning ({self.dropped.read:,} read so far). Give one "
                f"field at a time, or keep fewer points with a longer step than {self._rules.step_m:g} m."
            )
        lon, lat, time, quality, hdop, track, segment = point.row
        for column, value in zip(self._floats, (lon, lat, time, hdop), strict=True):
            column.append(value)
        for numbers, number in zip(self._ints, (quality, track, segment), strict=True):
            numbers.append(number)
        self._last = point

    def _unkeep(self) -> None:
        for column in self._floats:
            column.pop()
        for numbers in self._ints:
            numbers.pop()
