"""Positions as a reader hands them on, some at a time, and what else it saw on the way."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

import numpy as np
import numpy.typing as npt

from fieldgeo.frame import FloatArray
from fieldgeo.outline.walk.quality import UNKNOWN

POSITIONS_AT_ONCE: Final = 20_000
MOST_WAYPOINTS: Final = 10_000
MOST_TRACKS: Final = 1_000

SmallArray = npt.NDArray[np.int8]
IndexArray = npt.NDArray[np.int64]
NAN: Final = float("nan")


@dataclass(frozen=True, slots=True, kw_only=True)
class Fixes:
    """Positions in the order of the file, in columns of shape (N,)."""

    lon_deg: FloatArray
    lat_deg: FloatArray
    time_s: FloatArray  # from any beginning; NaN where there is none
    quality: SmallArray  # of GGA; -1 where the file says nothing
    hdop: FloatArray  # NaN where there is none
    track: IndexArray  # number of the track, from 0
    segment: IndexArray  # counted through all tracks; a new one begins wherever reception was lost

    def __len__(self) -> int:
        return len(self.lon_deg)

    def of_track(self, track: int) -> Fixes:
        """Return the positions of one track.

        Parameters
        ----------
        track : int
            Its number.
        """
        mine = self.track == track
        return Fixes(
            lon_deg=self.lon_deg[mine],
            lat_deg=self.lat_deg[mine],
            time_s=self.time_s[mine],
            quality=self.quality[mine],
            hdop=self.hdop[mine],
            track=self.track[mine],
            segment=self.segment[mine],
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Waypoint:
    """A single marked point."""

    name: str
    kind: str  # its `type`, "" when it has none
    lon_deg: float
    lat_deg: float


@dataclass(slots=True, kw_only=True)
class Tally:
    """What a reader saw beside good positions; it counts as it goes."""

    bad_checksums: int = 0
    unreadable: int = 0  # position records that break the rules of their format
    first_unreadable: str = ""  # one of them, for a person
    repeated: int = 0  # positions that another talker gave for the same moment
    bad_times: int = 0
    name: str = ""
    track_names: list[str] = field(default_factory=list)
    waypoints: list[Waypoint] = field(default_factory=list)
    waypoints_left_out: int = 0
    notes: list[str] = field(default_factory=list)  # seen and left
    has_checksums: bool = False

    def count_unreadable(self, what: str) -> None:
        """Count a record that cannot be read, and keep the first one to show.

        Parameters
        ----------
        what : str
            Where and what it is, fit to print.
        """
        self.unreadable += 1
        self.first_unreadable = self.first_unreadable or what


class Batch:
    """Collects positions until there are enough to hand on."""

    def __init__(self) -> None:
        self._rows: list[tuple[float, float, float, int, float, int, int]] = []
        self.track = 0
        self.segment = 0

    def __len__(self) -> int:
        return len(self._rows)

    def add(
        self, lon_deg: float, lat_deg: float, *, time_s: float = NAN, quality: int = UNKNOWN, hdop: float = NAN
    ) -> None:
        """Add a position to the present track and segment.

        Parameters
        ----------
        lon_deg, lat_deg : float
            Position. [deg]
        time_s : float
            Time from any beginning. [s]
        quality : int
            GGA quality, or `UNKNOWN`.
        hdop : float
            Horizontal dilution of precision. [-]
        """
        self._rows.append((lon_deg, lat_deg, time_s, quality, hdop, self.track, self.segment))

    @property
    def is_full(self) -> bool:
        """Whether there are enough to hand on."""
        return len(self._rows) >= POSITIONS_AT_ONCE

    def take(self) -> Fixes:
        """Return the positions collected, and begin again."""
        columns = np.array(self._rows, dtype=np.float64).reshape(-1, 7).T
        self._rows = []
        return Fixes(
            lon_deg=columns[0],
            lat_deg=columns[1],
            time_s=columns[2],
            quality=columns[3].astype(np.int8),
            hdop=columns[4],
            track=columns[5].astype(np.int64),
            segment=columns[6].astype(np.int64),
        )
