"""`read_back`: a log measured: passes, turns, stops, ground, time, capacity."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from fieldgeo.analysis.log.grain import Grain, weigh
from fieldgeo.analysis.log.motion import Motion, move
from fieldgeo.analysis.log.passes import Pattern, find_pattern
from fieldgeo.analysis.log.record import Log
from fieldgeo.analysis.log.stretches import Stretches, find_stretches
from fieldgeo.analysis.log.swept import Swept, sweep_log
from fieldgeo.analysis.log.timing import BREAK_S, Timing, time_log
from fieldgeo.analysis.log.trips import Link, Trip, find_links, join_trips
from fieldgeo.errors import InputError, LogError
from fieldgeo.frame import FloatArray
from fieldgeo.outline.field import Field
from fieldgeo.units import HOUR_S

# How it is known where the tool was down, for a person.
EVIDENCE_TEXT: Final = {
    "switch": "a switch in the log",
    "height": "the height of the tool",
    "records": "the record itself: it was written only while working, and turns are its gaps",
    "motion": "the pattern driven: straight stretches side by side, between turns",
}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DayWork:
    """A log measured."""

    log: Log
    motion: Motion
    stretches: Stretches
    trips: tuple[Trip, ...]
    links: tuple[Link, ...]  # between the trips
    pattern: Pattern
    timing: Timing
    swept: Swept
    grain: Grain | None
    notes: tuple[str, ...]  # all of the log, and what was seen in measuring
    break_s: float  # from which a stop is a break [s]

    def of_role(self, role: str) -> list[Trip]:
        """Return the trips that are passes, pieces, headland or travel.

        Parameters
        ----------
        role : {"pass", "piece", "headland", "travel"}
            What they are.
        """
        return [trip for trip, its in zip(self.trips, self.pattern.roles, strict=True) if its == role]

    @property
    def works(self) -> list[Trip]:
        """All trips that worked ground."""
        return [trip for trip, its in zip(self.trips, self.pattern.roles, strict=True) if its != "travel"]

    @property
    def pass_lengths_m(self) -> FloatArray:
        """Length worked of each pass, shape (P,). [m]"""
        return np.array([trip.length_m for trip in self.of_role("pass")])

    @property
    def work_m(self) -> float:
        """Length driven with the tool down. [m]"""
        return sum(trip.length_m for trip in self.works)

    @property
    def work_speed_m_s(self) -> float:
        """Mean speed with the tool down, stops left out. [m/s]"""
        states = self.timing.by_state_s
        seconds = states["passes"] + states["headland_rounds"]
        return self.work_m / seconds if seconds > 0 else 0.0

    @property
    def theoretical_m2_s(self) -> float:
        """Theoretical capacity: full width x mean working speed. [m2/s]"""
        return self.log.width_m * self.work_speed_m_s

    @property
    def field_time_s(self) -> float:
        """Time from the first work to the last without breaks. [s]"""
        return self.timing.field_time_s

    @property
    def effective_m2_s(self) -> float:
        """Effective capacity: ground worked at least once / field time. [m2/s]"""
        return self.swept.worked_m2 / self.field_time_s

    @property
    def field_efficiency(self) -> float:
        """Effective / theoretical capacity. [-]"""
        return self.effective_m2_s / self.theoretical_m2_s


def read_back(log: Log, *, outline: Field | None = None, break_s: float = BREAK_S) -> DayWork:
    """Return what was really done, from the log of one field.

    Parameters
    ----------
    log : Log
        Its records.
    outline : Field, optional
        The field; without it an outline is drawn round the ground swept.
    break_s : float
        A stop of at least this is a break and no field time, > 0. [s]

    Raises
    ------
    InputError
        If the limit of a break is not above zero.
    LogError
        If no work can be seen in the log, or it lies outside the outline.

    Notes
    -----
    Definitions of field time, effective capacity and field efficiency: ASAE EP496 as quoted by extension publications.
    Work is measured by the mean speed with the tool down, so efficiency is the share of the time worked times the share
    of the width used.
    """
    if not break_s > 0:
        raise InputError(f"break: got {break_s:g} s. It must be above zero.")
    motion = move(log)
    stretches = find_stretches(log, motion)
    if not stretches.members:
        raise LogError(
            f"no work can be seen in {log.name!r}: in {len(log):,} records nothing is driven straight for one and a "
            f"half widths of the tool ({log.width_m:.4g} m). Check its width and its columns."
        )
    links = find_links(log, motion, stretches)
    trips, between = join_trips(stretches, links)
    pattern = find_pattern(trips, between, log.width_m, stretches.evidence)
    if all(role == "travel" for role in pattern.roles):
        raise LogError(
            f"no work can be seen in {log.name!r}: no two stretches lie side by side about a width "
            f"({log.width_m:.4g} m) apart. Check the width, or give a log with a working switch."
        )
    timing = time_log(
        log, motion, trips, between, pattern, [link for link in links if link.kind == "on"], break_s=break_s
    )
    swept = sweep_log(trips, pattern, log, outline, scatter_m=motion.scatter_m)
    work = DayWork(
        log=log, motion=motion, stretches=stretches, trips=tuple(trips), links=tuple(between), pattern=pattern,
        timing=timing, swept=swept, grain=weigh(log, stretches), notes=(),
        break_s=break_s,
    )  # fmt: skip
    return _with_notes(work)


def _with_notes(work: DayWork) -> DayWork:
    log, timing = work.log, work.timing
    notes = [*log.notes, f"worked or not is told by {EVIDENCE_TEXT[work.stretches.evidence]}"]
    if timing.breaks:
        hours = sum(stop.duration_s for stop in timing.breaks) / HOUR_S
        count = f"{len(timing.breaks)} {'stop' if len(timing.breaks) == 1 else 'stops'}"
        notes.append(
            f"{count} of {work.break_s / 60:g} min or more ({hours:.2f} h) are breaks and not in the field time"
        )
    spacing = work.pattern.spacing_m
    if len(spacing) and not 0.75 < (ratio := float(np.median(spacing)) / log.width_m) < 1.25:
        notes.append(f"passes lie {ratio:.2f} widths apart: is the width of {log.width_m:.4g} m right?")
    if work.motion.noise_m > 0.05:
        notes.append(
            f"places scatter by {work.motion.noise_m:.2f} m from record to record; overlap and missed ground of strips "
            "narrower than that are not to be trusted"
        )
    travel = len(work.of_role("travel"))
    if travel:
        notes.append(
            f"{travel} straight {'stretch' if travel == 1 else 'stretches'} beside no other were taken as travel"
        )
    notes.append("why the machine stopped (filling, unloading, a plug) a log without a flag cannot tell")
    return replace(work, notes=tuple(notes))
