"""Stretches of work: where the tool was down, from a switch, its height, the record itself, or the pattern driven.

How it is known is told with the answer. With a switch or a height, a stretch is what lies between lowering and
raising. A log that was only written while the tool worked has its turns in its gaps; then every record is work. Else a
stretch is what was driven between two turns: it begins and ends where the machine turned or stood.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from fieldgeo.analysis.log.motion import REVERSAL_DEG, Bend, Bools, Motion, find_bends, smoothed_line
from fieldgeo.analysis.log.record import Log
from fieldgeo.frame import FloatArray

# How it is known where the tool was down.
Evidence = Literal["switch", "height", "records", "motion"]

# A height tells up from down when the two lie so far apart: variance between the two over the whole (own choice).
_LEAST_PARTED: Final = 0.75
# A log is written only while working when so many of its gaps turn the machine round, and few turns lie within runs.
_LEAST_GAP_TURNS: Final = 3
# Slower than this share of the working speed is standing (own choice).
STANDING_SHARE: Final = 0.2
# Shorter stretches than so many widths, without a switch, are part of a turn (own choice).
_LEAST_WIDTHS: Final = 1.5
# Ends of a stretch are looked at over so many widths; slower than this share of the usual speed is a halt, and a step
# of speed by this share that holds for so many records is the end of work (own choice). With more noise none is seen.
_TRIM_WIDTHS: Final = 5.0
_HALT_SHARE: Final = 0.45
_CHANGED_SHARE: Final = 0.1
_LEAST_CHANGED: Final = 3
_LEAST_TO_TRIM: Final = 12
_MOST_NOISE_M: Final = 0.8
# Headings at the ends of a stretch are taken over this length at most (own choice).
_HEADING_M: Final = 12.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stretch:
    """Work without a break: the tool down, from one place to another."""

    first: int  # first record
    last: int  # last record
    start_s: float  # [s]
    end_s: float  # [s]
    line: FloatArray  # (K, 2) where the middle of the tool went, at least two points [m]
    width_m: float  # width in use, the median of its records [m]
    heading_rad: tuple[float, float]  # at its start and its end, counter-clockwise from east [rad]

    @property
    def length_m(self) -> float:
        """Length of its line. [m]"""
        return float(np.hypot(*np.diff(self.line, axis=0).T).sum())

    @property
    def duration_s(self) -> float:
        """Time from its start to its end. [s]"""
        return self.end_s - self.start_s


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stretches:
    """All stretches of a log, in the order of time."""

    evidence: Evidence
    members: tuple[Stretch, ...]
    is_down: Bools  # (N,) whether each record lies in a stretch


def find_stretches(log: Log, motion: Motion) -> Stretches:
    """Return the stretches of work of a log.

    Parameters
    ----------
    log : Log
        Records of one field.
    motion : Motion
        Their motion.
    """
    bends = find_bends(log, motion)
    known, evidence = _known_down(log)
    if known is None and _is_record_of_work(motion, bends):
        known, evidence = np.ones(len(log), dtype=bool), "records"
    if known is None:
        spans = _cut_at_bends(_spans(np.ones(len(log), dtype=bool), motion), bends, least_deg=0.0)
        spans = [_worked_part(log, motion, span) for span in _without_standing(spans, motion)]
        least_m = _LEAST_WIDTHS * log.width_m
        spans = [span for span in spans if _length_m(motion.xy, span) >= least_m]
    else:
        spans = _cut_at_bends(_spans(known, motion), bends, least_deg=REVERSAL_DEG)
    members = [_stretch(log, motion, span, evidence) for span in spans]
    is_down = np.zeros(len(log), dtype=bool)
    for span in spans:
        is_down[span[0] : span[1] + 1] = True
    return Stretches(evidence=evidence, members=tuple(members), is_down=is_down)


def _known_down(log: Log) -> tuple[Bools | None, Evidence]:
    """Return which records have the tool down, where a switch or a height says so."""
    switch = log.columns.get("switch")
    if switch is not None:
        down = np.nan_to_num(switch) > 0
        # All alike says nothing: the log was written only while working, or the switch was never joined up.
        if 0 < down.sum() < len(down):
            return down, "switch"
    height = log.columns.get("height")
    if height is not None and np.isfinite(height).sum() > 0.9 * len(height):
        limit, parted = _parting(height[np.isfinite(height)])
        if parted >= _LEAST_PARTED:
            return np.nan_to_num(height, nan=np.inf) <= limit, "height"
    width = log.columns.get("width")
    if width is not None and 0 < (known := np.nan_to_num(width) > 0).sum() < len(known):
        return known, "switch"
    return None, "motion"


def _parting(values: FloatArray) -> tuple[float, float]:
    """Return the value that parts a low group from a high one, and how well: variance between them over the whole.

    N. Otsu, "A threshold selection method from gray-level histograms", IEEE Transactions on Systems, Man, and
    Cybernetics 9(1), 1979 (from memory).
    """
    counts, edges = np.histogram(values, bins=128)
    middle = (edges[:-1] + edges[1:]) / 2
    low, total = np.cumsum(counts)[:-1], counts.sum()
    low_sum = np.cumsum(counts * middle)[:-1]
    high, all_sum = total - low, (counts * middle).sum()
    with np.errstate(invalid="ignore", divide="ignore"):
        between = low / total * high / total * (low_sum / low - (all_sum - low_sum) / high) ** 2
    between = np.nan_to_num(between)
    best, variance = int(np.argmax(between)), float(np.var(values))
    # In a wide gap every parting is as good: take the middle of it.
    alike = np.flatnonzero(between >= between[best] * (1 - 1e-9))
    return float(edges[int(alike.mean()) + 1]), float(between[best] / variance) if variance > 0 else 0.0


def _is_record_of_work(motion: Motion, bends: list[Bend]) -> bool:
    """Tell whether the log was only written while the tool worked: its turns lie in its gaps."""
    xy = motion.xy
    gaps = np.flatnonzero(np.diff(motion.run)) + 1
    gaps = gaps[(gaps >= 3) & (gaps + 2 < len(xy))]
    if len(gaps) < _LEAST_GAP_TURNS:
        return False
    before, after = xy[gaps - 1] - xy[gaps - 3], xy[gaps + 2] - xy[gaps]
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    turned = np.abs(np.degrees(np.arctan2(cross, (before * after).sum(axis=1))))
    gap_turns = int((turned > REVERSAL_DEG).sum())
    run_turns = sum(abs(bend.turned_deg) > REVERSAL_DEG for bend in bends)
    return gap_turns >= _LEAST_GAP_TURNS and gap_turns > 2 * run_turns


Span = tuple[int, int]  # first and last record


def _spans(is_down: Bools, motion: Motion) -> list[Span]:
    """Return the spans of records one after the other, down and in one run."""
    number = np.where(is_down, motion.run, -1)
    cuts = np.flatnonzero(np.diff(number)) + 1
    starts, ends = np.concatenate([[0], cuts]), np.concatenate([cuts, [len(number)]]) - 1
    return [(int(start), int(end)) for start, end in zip(starts, ends, strict=True) if number[start] >= 0]


def _cut_at_bends(spans: list[Span], bends: list[Bend], *, least_deg: float) -> list[Span]:
    """Return spans without the bends that turn at least so far."""
    cut: list[Span] = []
    turns = [bend for bend in bends if abs(bend.turned_deg) >= least_deg]
    at = 0
    for first, last in spans:
        start = first
        while at < len(turns) and turns[at].end < first:
            at += 1
        number = at
        while number < len(turns) and turns[number].start <= last:
            if turns[number].start >= start:
                cut.append((start, turns[number].start))
            start = max(start, turns[number].end)
            number += 1
        if start <= last:
            cut.append((start, last))
    return cut


def _without_standing(spans: list[Span], motion: Motion) -> list[Span]:
    """Return spans without the records at either end where the machine stood."""
    moving = [motion.speed_m_s[first : last + 1] for first, last in spans]
    usual = float(np.median(np.concatenate(moving))) if moving else 0.0
    trimmed = []
    for first, last in spans:
        going = np.flatnonzero(motion.speed_m_s[first : last + 1] > STANDING_SHARE * usual)
        if len(going) >= 2:
            trimmed.append((first + int(going[0]), first + int(going[-1])))
    return trimmed


def _worked_part(log: Log, motion: Motion, span: Span) -> Span:
    """Return a span without what was driven at its ends after a halt, or at another speed: that was no work.

    The tool is raised and lowered standing, or the speed changes where work ends; then the run to the turn and from it
    shows. Where neither is seen, or places are too rough for it, the whole span counts.
    """
    first, last = span
    count = last - first + 1
    if count < _LEAST_TO_TRIM or motion.noise_m > _MOST_NOISE_M:
        return span
    speed = motion.speed_m_s[first : last + 1]
    usual = float(np.median(speed[count // 4 : -(count // 4)]))
    reach_m = _TRIM_WIDTHS * log.width_m
    at_m = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(motion.xy[first : last + 1], axis=0).T))])
    head = min(int(np.searchsorted(at_m, reach_m)), count // 4)
    tail = min(int(np.searchsorted(at_m[-1] - at_m[::-1], reach_m)), count // 4)
    # The running mean shows a change before it comes, by half its reach on the mean (measured on simulated logs).
    before = max(0, _trimmed(speed[:head][::-1], usual) - motion.reach // 2)
    after = max(0, _trimmed(speed[count - tail :], usual) - motion.reach // 2)
    return first + before, last - after


def _trimmed(speed: FloatArray, usual_m_s: float) -> int:
    """Return how many records at the outer end are no work; speeds run outward from the middle of a stretch."""
    halts = np.flatnonzero(speed < _HALT_SHARE * usual_m_s)
    if len(halts):
        return len(speed) - int(halts[0])
    off = speed - usual_m_s
    count = len(off)
    if count < 2 * _LEAST_CHANGED:
        return 0
    # Where the mean outside differs most surely from the usual speed: least squares with one step (derived).
    outside = np.cumsum(off[::-1])[::-1]
    size = np.arange(count, 0, -1)
    gain = outside**2 / size
    at = int(np.argmax(gain[: count - _LEAST_CHANGED + 1]))
    changed = outside[at] / size[at]
    rest = float(np.std(off[:at])) if at > 1 else float(np.std(off))
    is_sure = abs(changed) > max(
        _CHANGED_SHARE * usual_m_s, 3 * rest / np.sqrt(size[at]), 1.5 * float(np.std(off[at:]))
    )
    return count - at if is_sure else 0


def _length_m(xy: FloatArray, span: Span) -> float:
    return float(np.hypot(*np.diff(xy[span[0] : span[1] + 1], axis=0).T).sum())


def _stretch(log: Log, motion: Motion, span: Span, evidence: Evidence) -> Stretch:
    first, last = span
    line = smoothed_line(log.xy[first : last + 1], motion.reach)
    lead_s, trail_s = _margins_s(log, motion, span, evidence)
    distance = log.columns.get("distance")
    speed = motion.speed_m_s[first : last + 1]
    lead_m = lead_s * float(speed[0])
    if distance is not None and np.isfinite(distance[first]) and evidence == "records":
        lead_m = float(distance[first])
    line = _extended(line, lead_m, trail_s * float(speed[-1]), _fallback_heading(motion, first))
    width = log.columns.get("width")
    used = np.empty(0) if width is None else width[first : last + 1]
    used = used[np.isfinite(used) & (used > 0)]
    return Stretch(
        first=first, last=last, start_s=float(log.time_s[first]) - lead_s, end_s=float(log.time_s[last]) + trail_s,
        line=line, width_m=float(np.median(used)) if len(used) else log.width_m,
        heading_rad=(_heading(line), _heading(line[::-1]) + np.pi),
    )  # fmt: skip


def _margins_s(log: Log, motion: Motion, span: Span, evidence: Evidence) -> tuple[float, float]:
    """Return the time before the first record and after the last in which the tool was down too."""
    first, last = span
    time_s, usual_s = log.time_s, motion.interval_s
    if evidence == "motion":
        return 0.0, 0.0
    if evidence == "records":
        # A record stands for the time before it: its distance is that from the place before (seen in the real log).
        cycle = log.columns.get("cycle")
        known = cycle is not None and np.isfinite(cycle[first])
        return (float(cycle[first]) if cycle is not None and known else usual_s), 0.0
    # The switch went over somewhere between two records.
    lead_s = (time_s[first] - time_s[first - 1]) / 2 if first > 0 and motion.run[first] == motion.run[first - 1] else 0
    is_followed = last + 1 < len(time_s) and motion.run[last] == motion.run[last + 1]
    return float(lead_s), float((time_s[last + 1] - time_s[last]) / 2) if is_followed else 0.0


def _fallback_heading(motion: Motion, row: int) -> float:
    """Return the heading from the record before, for a stretch of one record."""
    other = row - 1 if row > 0 else min(row + 1, len(motion.xy) - 1)
    step = (motion.xy[row] - motion.xy[other]) * (1 if row > 0 else -1)
    return float(np.arctan2(step[1], step[0]))


def _extended(line: FloatArray, lead_m: float, trail_m: float, heading_rad: float) -> FloatArray:
    """Return a line made longer at its ends, straight on."""
    start, end = (heading_rad, heading_rad) if len(line) == 1 else (_heading(line), _heading(line[::-1]) + np.pi)
    before = line[0] - lead_m * np.array([np.cos(start), np.sin(start)])
    after = line[-1] + trail_m * np.array([np.cos(end), np.sin(end)])
    parts = ([before[None]] if lead_m > 0 else []) + [line] + ([after[None]] if trail_m > 0 else [])
    whole = np.concatenate(parts)
    if len(whole) == 1:
        whole = np.concatenate([whole, whole + 0.01 * np.array([[np.cos(start), np.sin(start)]])])
    return np.asarray(whole)


def _heading(line: FloatArray) -> float:
    """Return the heading of the first metres of a line. [rad]"""
    if len(line) < 2:
        return 0.0
    gone = np.hypot(*(line - line[0]).T)
    far = np.flatnonzero(gone >= _HEADING_M)
    end = int(far[0]) if len(far) else int(np.argmax(gone))
    step = line[end] - line[0]
    return float(np.arctan2(step[1], step[0]))
