"""Passes and headland rounds of a log: which trips are which, the direction they run in, and how far apart they lie."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
import shapely

from fieldgeo.analysis.log.stretches import Evidence
from fieldgeo.analysis.log.trips import Link, Trip
from fieldgeo.frame import FloatArray, azimuth_deg
from fieldgeo.layout.axes import to_work

Role = Literal["pass", "piece", "headland", "travel"]

# A trip runs along the direction when so much of it lies within this of it (own choice).
_ALONG_DEG: Final = 25.0
_ALONG_SHARE: Final = 0.6
# Work across the passes is headland unless it is so much of all (own choice): then the field was worked two ways.
_HEADLAND_SHARE: Final = 0.3
# A trip on a strip that another works too, shorter than this share of the usual pass, is a piece: what is cleaned up
# round a pond, or left over at an end (own choice).
_PIECE_SHARE: Final = 0.2
# A round that is steered through its corners bends by more than this in all (own choice).
_ROUND_DEG: Final = 150.0
# Work across the passes shorter than so many widths is a piece and no headland (own choice).
_LEAST_HEADLAND_WIDTHS: Final = 2.5
_SAMPLE_M: Final = 10.0
_PLACES: Final = 38  # along the direction, where spacing is measured
# A trip so near to an earlier one, as a share of the width, drives over it (own choice).
_OVER_SHARE: Final = 0.15
# Neighbours lie between these shares of the width apart (own choice).
_LEAST_APART, _MOST_APART = 0.4, 1.7


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pattern:
    """What each trip is, and how the passes lie."""

    roles: tuple[Role, ...]  # of each trip
    direction_deg: float  # azimuth of the passes in the frame, 0 <= d < 180 [deg]
    spread_deg: float  # standard deviation of the passes' own directions [deg]
    strips: int  # places across the field that passes lie on
    spacing_m: FloatArray  # (Q,) mean distance between each two neighbouring passes [m]
    headland_rounds: int


def find_pattern(trips: list[Trip], links: list[Link], width_m: float, evidence: Evidence) -> Pattern:
    """Return which trips are passes, pieces, headland or travel, and how the passes lie.

    Parameters
    ----------
    trips : list of Trip
        In the order of time, at least one.
    links : list of Link
        Between them.
    width_m : float
        Full width of the tool. [m]
    evidence : {"switch", "height", "records", "motion"}
        How it is known where the tool was down; only with "motion" may a trip be mere travel.
    """
    sampled = [_sampled(trip.line()) for trip in trips]
    turns = [False, *(link.kind == "turn" for link in links), False]
    reversed_ = np.array([turns[at] or turns[at + 1] for at in range(len(trips))])
    direction = _direction_deg(sampled, reversed_)
    along = np.array([_share_along(line, direction) > _ALONG_SHARE for line in sampled])
    bent = np.array([max(_bent_deg(_sampled(part.line)) for part in trip.stretches) > _ROUND_DEG for trip in trips])
    lengths = np.array([trip.length_m for trip in trips])
    across_m = float(lengths[~along & reversed_].sum())
    is_two_way = across_m > _HEADLAND_SHARE * lengths.sum()
    is_headland = (~along & ~(reversed_ & is_two_way) | bent) & (lengths > _LEAST_HEADLAND_WIDTHS * width_m)
    is_headland |= _sides_of_rounds(along & ~bent, is_headland, links)
    is_pass = along | (reversed_ & is_two_way)
    roles: list[Role] = [
        "headland" if headland else "pass" if passed else "piece"
        for headland, passed in zip(is_headland, is_pass, strict=True)
    ]
    work = [to_work(line, direction) for line in sampled]
    if evidence == "motion":
        _mark_travel(roles, work, width_m)
    _mark_pieces(roles, work, lengths, width_m)
    passes = [line for line, role in zip(work, roles, strict=True) if role == "pass"]
    headland = [line for line, role in zip(work, roles, strict=True) if role == "headland"]
    own = [_own_direction_deg(line) for line in passes]
    return Pattern(
        roles=tuple(roles), direction_deg=direction, spread_deg=float(np.std(own)) if own else 0.0,
        strips=len(_strips(passes, width_m)), spacing_m=_spacings(passes, width_m),
        headland_rounds=_rounds(headland, passes, width_m),
    )  # fmt: skip


def _sampled(line: FloatArray) -> FloatArray:
    """Return points every ten metres or so along a line, both ends among them."""
    at_m = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])
    rising, where = np.unique(at_m, return_index=True)
    places = np.linspace(0.0, at_m[-1], max(2, round(at_m[-1] / _SAMPLE_M) + 1))
    return np.column_stack([np.interp(places, rising, line[where, axis]) for axis in (0, 1)])


def _direction_deg(lines: list[FloatArray], is_reversed: np.ndarray) -> float:
    """Return the direction that most of the length is driven in, of trips that turns lead to if there are any."""
    chosen = [line for line, turned in zip(lines, is_reversed, strict=True) if turned] or lines
    steps = np.concatenate([np.diff(line, axis=0) for line in chosen])
    length = np.hypot(*steps.T)
    azimuth = azimuth_deg(steps[:, 0], steps[:, 1]) % 180
    counts = np.bincount(azimuth.astype(int) % 180, weights=length, minlength=180)
    smooth = sum(np.roll(counts, shift) for shift in range(-3, 4))
    peak = float(np.argmax(smooth)) + 0.5
    off = (azimuth - peak + 90) % 180 - 90
    near = np.abs(off) < 8
    return float((peak + np.average(off[near], weights=length[near])) % 180) if length[near].sum() > 0 else peak


def _share_along(line: FloatArray, direction_deg: float) -> float:
    steps = np.diff(line, axis=0)
    length = np.hypot(*steps.T)
    off = (azimuth_deg(steps[:, 0], steps[:, 1]) - direction_deg + 90) % 180 - 90
    return float(length[np.abs(off) < _ALONG_DEG].sum() / max(length.sum(), 1e-9))


def _bent_deg(line: FloatArray) -> float:
    """Return by how much a line turns from its beginning to its end, at the most."""
    steps = np.diff(line, axis=0)
    heading = np.unwrap(np.arctan2(steps[:, 1], steps[:, 0]))
    return float(np.degrees(heading.max() - heading.min()))


def _own_direction_deg(work: FloatArray) -> float:
    step = work[-1] - work[0]
    return float((np.degrees(np.arctan2(step[1], step[0])) + 90) % 180 - 90)


def _sides_of_rounds(along: np.ndarray, is_headland: np.ndarray, links: list[Link]) -> np.ndarray:
    """Return which trips along the direction are sides of a round: corners lead to headland from them, no turn does."""
    sides = np.zeros(len(along), dtype=bool)
    corner = [link.kind == "corner" for link in links]
    turn = [link.kind == "turn" for link in links]
    for at in np.flatnonzero(along).tolist():
        before = at > 0 and corner[at - 1] and is_headland[at - 1]
        after = at < len(links) and corner[at] and is_headland[at + 1]
        is_turned = (at > 0 and turn[at - 1]) or (at < len(links) and turn[at])
        sides[at] = (before and after) or ((before or after) and not is_turned)
    return sides


def _mark_travel(roles: list[Role], work: list[FloatArray], width_m: float) -> None:
    """Mark trips that worked nothing: over ground worked before, far from any other pass, or across the passes."""
    passes = [at for at, role in enumerate(roles) if role == "pass"]
    if len(passes) < 3:
        return
    low = np.array([work[at][:, 0].min() for at in passes])
    high = np.array([work[at][:, 0].max() for at in passes])
    right, left = np.array([work[at][:, 1].min() for at in passes]), np.array([work[at][:, 1].max() for at in passes])
    for number, at in enumerate(passes):
        shared = np.minimum(high, high[number]) - np.maximum(low, low[number])
        length = max(float(high[number] - low[number]), 1e-9)
        is_near = (left > right[number] - 2.2 * width_m) & (right < left[number] + 2.2 * width_m)
        beside = np.flatnonzero((shared > 0.3 * length) & is_near)
        apart = {int(other): _apart_m(work[at], work[passes[other]]) for other in beside if other != number}
        over = any(
            gap < _OVER_SHARE * width_m and shared[other] > 0.8 * length
            for other, gap in apart.items()
            if other < number
        )
        if over or not any(_OVER_SHARE * width_m < gap < 2.2 * width_m for gap in apart.values()):
            roles[at] = "travel"
    inner = shapely.MultiLineString(
        [line[2:-2].tolist() for at, line in enumerate(work) if roles[at] == "pass" and len(line) > 6]
    )
    for at, role in enumerate(roles):
        if role == "headland":
            crossed = len(shapely.get_parts(shapely.intersection(shapely.LineString(work[at]), inner)))
            roles[at] = "travel" if crossed >= 3 else "headland"


def _apart_m(one: FloatArray, two: FloatArray) -> float:
    """Return how far apart two lines lie across the direction, over the stretch of u that both have."""
    low, high = max(one[:, 0].min(), two[:, 0].min()), min(one[:, 0].max(), two[:, 0].max())
    u = np.linspace(low, high, 7)
    return float(np.median(np.abs(_across(one, u) - _across(two, u))))


def _across(line: FloatArray, u: FloatArray) -> FloatArray:
    order = np.argsort(line[:, 0], kind="stable")
    return np.asarray(np.interp(u, line[order, 0], line[order, 1]))


def _mark_pieces(roles: list[Role], work: list[FloatArray], lengths: FloatArray, width_m: float) -> None:
    """Mark short trips on strips that longer ones work as well."""
    passes = [at for at, role in enumerate(roles) if role == "pass"]
    if not passes:
        return
    usual_m = float(np.median(lengths[passes]))
    long_ones = [at for at in passes if lengths[at] >= _PIECE_SHARE * usual_m]
    for at in passes:
        if lengths[at] >= _PIECE_SHARE * usual_m:
            continue
        if any(_is_on_strip(work[at], work[other], width_m) for other in long_ones):
            roles[at] = "piece"


def _is_on_strip(short: FloatArray, long: FloatArray, width_m: float) -> bool:
    """Tell whether a short line lies on the strip of a long one: beside its middle, or beside it where it is."""
    middle = float(np.median(short[:, 1]))
    if abs(float(np.median(long[:, 1])) - middle) < 0.6 * width_m:
        return True
    u = np.linspace(max(short[:, 0].min(), long[:, 0].min()), min(short[:, 0].max(), long[:, 0].max()), 5)
    return bool(u[0] < u[-1] and np.median(np.abs(_across(long, u) - middle)) < 0.6 * width_m)


def _strips(passes: list[FloatArray], width_m: float) -> list[float]:
    """Return the places across the field that passes lie on: those nearer than half a width are one."""
    middles = sorted(float(np.median(line[:, 1])) for line in passes)
    strips: list[list[float]] = []
    for middle in middles:
        if strips and middle - float(np.mean(strips[-1])) < 0.5 * width_m:
            strips[-1].append(middle)
        else:
            strips.append([middle])
    return [float(np.mean(strip)) for strip in strips]


def _spacings(passes: list[FloatArray], width_m: float) -> FloatArray:
    """Return how far apart each two neighbours lie, the mean over places along the direction where both are."""
    if len(passes) < 2:
        return np.empty(0)
    low, high = np.array([line[:, 0].min() for line in passes]), np.array([line[:, 0].max() for line in passes])
    found: dict[tuple[int, int], list[float]] = {}
    for u in np.linspace(low.min(), high.max(), _PLACES + 2)[1:-1].tolist():
        here = np.flatnonzero((low <= u) & (u <= high))
        across = np.array([float(_across(passes[at], np.array([u]))[0]) for at in here.tolist()])
        order = np.argsort(across)
        gaps = np.diff(across[order])
        for place in np.flatnonzero((gaps > _LEAST_APART * width_m) & (gaps < _MOST_APART * width_m)).tolist():
            pair = (int(here[order[place]]), int(here[order[place + 1]]))
            found.setdefault((min(pair), max(pair)), []).append(float(gaps[place]))
    # Neighbours that meet at a place or two, where one bends round something, are none.
    least = max(2, _PLACES // 10)
    pairs = [gaps for gaps in found.values() if len(gaps) >= least] or list(found.values())
    return np.array([float(np.mean(gaps)) for gaps in pairs])


def _rounds(headland: list[FloatArray], passes: list[FloatArray], width_m: float) -> int:
    """Return how many headland rounds lie beyond the ends of the passes, the more of the two ends."""
    if not headland or not passes:
        return 0
    middles = np.array([float(np.median(line[:, 1])) for line in passes])
    low, high = np.array([line[:, 0].min() for line in passes]), np.array([line[:, 0].max() for line in passes])
    counts = []
    for share in (0.2, 0.35, 0.5, 0.65, 0.8):
        at = middles.min() + share * (middles.max() - middles.min())
        near = np.abs(middles - at) <= max(1.5 * width_m, float(np.abs(middles - at).min()))
        ends = [0, 0]
        for line in headland:
            beyond = line[:, 1] > at
            for crossing in np.flatnonzero(beyond[1:] != beyond[:-1]).tolist():
                u = float(line[crossing : crossing + 2, 0].mean())
                ends[0] += u < low[near].min()
                ends[1] += u > high[near].max()
        counts.append(max(ends))
    return int(np.median(counts))
