"""Trips: stretches joined where the tool was only lifted for a moment, and what lies between them.

A link is what was driven between two stretches: on along the same line, a turn back, a corner, or travel. Stretches
that a link goes on from make one trip, as a driver counts.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Final, Literal

import numpy as np

from fieldgeo.analysis.log.motion import REVERSAL_DEG, Motion
from fieldgeo.analysis.log.record import Log
from fieldgeo.analysis.log.stretches import Stretch, Stretches
from fieldgeo.frame import FloatArray

LinkKind = Literal["on", "turn", "corner", "travel"]

# Headings that differ by less go on the same way (own choice).
_SAME_WAY_DEG: Final = 35.0
# The tool is lifted over no more ground than this in the middle of a trip, or three widths (own choice).
_LEAST_LIFT_M: Final = 30.0
# A machine that backs up to take something again goes on with the same trip, within so many widths (own choice).
_BACKED_WIDTHS: Final = 2.0
# Pass ends farther apart than six widths and this are joined by travel, not by a turn (own choice).
_TURN_WIDTHS, _TURN_MORE_M = 6.0, 40.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Link:
    """What was driven between a stretch and the next."""

    kind: LinkKind
    start_s: float  # [s]
    end_s: float  # [s]
    turned_deg: float  # from the heading before to the heading after, counter-clockwise, -180 to 180 [deg]
    apart_m: float  # between the two ends, straight [m]
    aside_m: float  # of the next start from the line before, + to the left [m]
    line: FloatArray  # (K, 2) as far as it was recorded, with both ends [m]
    is_recorded: bool  # the way is in the log; else only its two ends are
    first: int  # last record before it
    last: int  # first record after it

    @property
    def duration_s(self) -> float:
        """Time between the two stretches. [s]"""
        return self.end_s - self.start_s

    @property
    def length_m(self) -> float:
        """Length of the line. [m]"""
        return float(np.hypot(*np.diff(self.line, axis=0).T).sum())


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Trip:
    """Stretches along one line, one after the other, with what was lifted over between them."""

    stretches: tuple[Stretch, ...]
    number: int  # of its first stretch in the log

    @property
    def start_s(self) -> float:
        """When it began. [s]"""
        return self.stretches[0].start_s

    @property
    def end_s(self) -> float:
        """When it ended. [s]"""
        return self.stretches[-1].end_s

    @property
    def length_m(self) -> float:
        """Length worked. [m]"""
        return sum(stretch.length_m for stretch in self.stretches)

    @property
    def work_s(self) -> float:
        """Time with the tool down. [s]"""
        return sum(stretch.duration_s for stretch in self.stretches)

    @property
    def width_m(self) -> float:
        """Width in use, over the length. [m]"""
        return sum(stretch.width_m * stretch.length_m for stretch in self.stretches) / max(self.length_m, 1e-9)

    def line(self) -> FloatArray:
        """Return the whole line, lifted parts too, shape (K, 2). [m]"""
        return np.concatenate([stretch.line for stretch in self.stretches])


def find_links(log: Log, motion: Motion, stretches: Stretches) -> list[Link]:
    """Return the link after each stretch but the last.

    Parameters
    ----------
    log : Log
        Records of one field.
    motion : Motion
        Their motion.
    stretches : Stretches
        The work.
    """
    members = stretches.members
    return [_link(log, motion, one, two) for one, two in pairwise(members)]


def join_trips(stretches: Stretches, links: list[Link]) -> tuple[list[Trip], list[Link]]:
    """Return the trips, and the links between them: one fewer.

    Parameters
    ----------
    stretches : Stretches
        The work.
    links : list of Link
        The link after each stretch but the last.
    """
    trips: list[Trip] = []
    between: list[Link] = []
    group: list[Stretch] = []
    for number, stretch in enumerate(stretches.members):
        group.append(stretch)
        link = links[number] if number < len(links) else None
        if link is None or link.kind != "on":
            trips.append(Trip(stretches=tuple(group), number=number + 1 - len(group)))
            group = []
            if link is not None:
                between.append(link)
    return trips, between


def _link(log: Log, motion: Motion, one: Stretch, two: Stretch) -> Link:
    before, after = one.heading_rad[1], two.heading_rad[0]
    turned = float((np.degrees(after - before) + 180) % 360 - 180)
    step = two.line[0] - one.line[-1]
    ahead = float(step @ [np.cos(before), np.sin(before)])
    aside = float(step @ [-np.sin(before), np.cos(before)])
    is_recorded = bool(motion.run[one.last] == motion.run[two.first])
    inner = motion.xy[one.last + 1 : two.first]
    return Link(
        kind=_kind(turned, ahead, aside, log.width_m), start_s=one.end_s, end_s=max(two.start_s, one.end_s),
        turned_deg=turned, apart_m=float(np.hypot(*step)), aside_m=aside,
        line=np.concatenate([one.line[-1:], inner, two.line[:1]]),
        is_recorded=is_recorded, first=one.last, last=two.first,
    )  # fmt: skip


def _kind(turned_deg: float, ahead_m: float, aside_m: float, width_m: float) -> LinkKind:
    way = abs(turned_deg)
    if way < _SAME_WAY_DEG and abs(aside_m) < 0.5 * width_m and -_BACKED_WIDTHS * width_m < ahead_m <= max(
        3 * width_m, _LEAST_LIFT_M
    ):  # fmt: skip
        return "on"
    if np.hypot(ahead_m, aside_m) > _TURN_WIDTHS * width_m + _TURN_MORE_M or way < _SAME_WAY_DEG:
        return "travel"
    return "turn" if way > REVERSAL_DEG else "corner"
