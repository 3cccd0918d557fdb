"""Choice of a turn: of the turns that a tool can do, the one of least time, on the ground where there is such a one."""

from __future__ import annotations

from math import pi
from typing import Final, NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from fieldgeo.layout.axes import Floats
from fieldgeo.machinery.tool import Tool
from fieldgeo.travel.fishtail import fishtails
from fieldgeo.travel.forward import forward_paths
from fieldgeo.travel.paths import (
    NO_PART_M,
    Paths,
    Radii,
    count_cusps,
    cut_shares,
    part_starts,
    path_lengths_m,
    reverse_lengths_m,
    sample_paths,
    step,
)
from fieldgeo.travel.reverse import reverse_paths

# A path this close to the outline does not leave it: no one steers closer. Common practice, no source.
GRAZE_M: Final = 0.25
# Where no turn stays inside, those that go beyond by up to this share more than the least are as good as it, and judged
# by their time. Common practice, no source.
_AS_GOOD: Final = 0.25
# A path that comes into a pass by less than this only touches it.
TOUCH_M: Final = 1e-3
# Points on each part where a path is looked at for what lies outside.
_LOOKS: Final = 8
# Pairs of poses that differ by no more than this lie alike. [m, rad]
_ALIKE: Final = 1e-8
# Shares of what one pass lies behind the other by which it is drawn out before a turn with reverse.
_DRAWN_OUT: Final = (0.0, 0.5, 1.0)
# Ways to turn that are tried, from the quickest, where the quickest leaves the outline.
_TRIED: Final = 12


class Poses(NamedTuple):
    """Pairs of poses: where the tool comes up, and where it goes down again."""

    start_xy: Floats  # (N, 2) [m]
    start_rad: Floats  # (N,)
    end_xy: Floats  # (N, 2) [m]
    end_rad: Floats  # (N,)
    by_fence: NDArray[np.bool_]  # (N,) between two runs of the headland, hard by the fence

    def rows(self, rows: NDArray[np.int64] | slice) -> Poses:
        """Return some of the pairs."""
        return Poses(
            self.start_xy[rows], self.start_rad[rows], self.end_xy[rows], self.end_rad[rows], self.by_fence[rows]
        )

    def drawn_out(self, before_m: Floats, after_m: Floats) -> tuple[Floats, Floats, Floats, Floats]:
        """Return places and headings after straight runs ahead, and before such runs to the start, shape (N,). [m]"""
        ahead, behind = unit_vectors(self.start_rad), unit_vectors(self.end_rad)
        start_xy, end_xy = self.start_xy + before_m[:, None] * ahead, self.end_xy - after_m[:, None] * behind
        return start_xy, self.start_rad, end_xy, self.end_rad


def unit_vectors(heading_rad: Floats) -> Floats:
    """Return the unit vectors of headings, shape (..., 2). [-]"""
    return np.stack([np.cos(heading_rad), np.sin(heading_rad)], axis=-1)


def path_times_s(parts_m: Floats, tool: Tool) -> Floats:
    """Return the time that paths take, shape (...,): forward, in reverse, and shifting between the two. [s]

    Parameters
    ----------
    parts_m : ndarray of shape (..., P)
        Driven lengths of the parts, below zero in reverse. [m]
    tool : Tool
        Gives turning speed, reverse speed and the time of a shift.
    """
    reverse = reverse_lengths_m(parts_m)
    forward = path_lengths_m(parts_m) - reverse
    times = forward / tool.turn_speed_m_s + reverse / tool.reverse_speed_m_s + count_cusps(parts_m) * tool.shift_s
    return np.asarray(times)


def _radii(tool: Tool) -> Radii:
    return Radii(tool.left_radius_m, tool.right_radius_m)


def _with_pull_out(paths: Paths, before_m: Floats, after_m: Floats) -> Paths:
    """Return paths of shape (N, C, P) as seven parts: up to five between a pull-out and a run-in of lengths (N,)."""
    lead = paths.parts_m.shape[:-1]
    missing = np.zeros((*lead, 5 - paths.parts_m.shape[-1]))
    straight = np.zeros((*lead, 1))
    before, after = (np.broadcast_to(each[:, None, None], straight.shape) for each in (before_m, after_m))
    return Paths(
        np.concatenate([straight, paths.curvature_1_m, missing, straight], axis=-1),
        np.concatenate([before, paths.parts_m, missing, after], axis=-1),
    )


def quickest(poses: Poses, tool: Tool) -> tuple[Floats, Paths]:
    """Return the time and the path of the quickest turn for each pair, wherever the outline lies; parts (N, 7).

    Parameters
    ----------
    poses : Poses
        N pairs.
    tool : Tool
        Gives radii, pull-out, speeds, and how far it can be backed.
    """
    first, same = _alike(poses)
    times, paths = _quickest_of_each(poses.rows(first), tool)
    return times[same], Paths(paths.curvature_1_m[same], paths.parts_m[same])


def _alike(poses: Poses) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return the first of the pairs that lie alike, and for each pair its place among these.

    The passes of a straight edge all end alike, so that a few turns stand for most of a field.
    """
    between, ahead = poses.end_xy - poses.start_xy, unit_vectors(poses.start_rad)
    on = between[:, 0] * ahead[:, 0] + between[:, 1] * ahead[:, 1]
    left = between[:, 1] * ahead[:, 0] - between[:, 0] * ahead[:, 1]
    turned = np.mod(poses.end_rad - poses.start_rad, 2 * pi)
    key = np.round(np.column_stack([on, left, turned]) / _ALIKE)
    order = np.lexsort((*key.T, poses.by_fence))
    ranked = np.column_stack([key, poses.by_fence])[order]
    is_new = np.ones(len(order), dtype=bool)
    is_new[1:] = (ranked[1:] != ranked[:-1]).any(axis=1)
    same = np.empty(len(order), dtype=np.int64)
    same[order] = np.cumsum(is_new) - 1
    return order[is_new], same


def _quickest_of_each(poses: Poses, tool: Tool) -> tuple[Floats, Paths]:
    out_m = np.full(len(poses.start_xy), tool.pull_out_m)
    every = forward_paths(*poses.drawn_out(out_m, out_m), _radii(tool))
    word = np.nan_to_num(path_lengths_m(every.parts_m), nan=np.inf).argmin(axis=1)[:, None, None]
    best = Paths(*(np.take_along_axis(values, word, axis=1) for values in every))
    bend, parts = (values[:, 0] for values in _with_pull_out(best, out_m, out_m))
    times = path_times_s(parts, tool)
    if not tool.can_reverse:
        return times, Paths(bend, parts)
    # No turn with reverse is quicker than this: as far as the places lie apart, or half round where it must turn, and
    # two shifts; one where it may begin or end in reverse.
    apart = np.hypot(*(poses.end_xy - poses.start_xy).T)
    turned = np.abs(np.mod(poses.end_rad - poses.start_rad + pi, 2 * pi) - pi) * min(_radii(tool))
    shifts = np.where(poses.by_fence, 1, 2)
    least = np.maximum(apart, turned) / max(tool.turn_speed_m_s, tool.reverse_speed_m_s) + shifts * tool.shift_s
    for by_fence in (False, True):
        worth = np.flatnonzero((least < times) & (poses.by_fence == by_fence))
        if len(worth) == 0:
            continue
        backed, backed_s = _backed(poses.rows(worth), tool, times[worth], by_fence=by_fence)
        choice = backed_s.argmin(axis=1)
        better = np.flatnonzero(backed_s[np.arange(len(worth)), choice] < times[worth])
        rows, choice = worth[better], choice[better]
        times[rows] = backed_s[better, choice]
        bend[rows], parts[rows] = backed.curvature_1_m[better, choice], backed.parts_m[better, choice]
    return times, Paths(bend, parts)


def _forward(poses: Poses, tool: Tool) -> Paths:
    """Return every forward path of each pair, shape (N, 8, 7)."""
    out_m = np.full(len(poses.start_xy), tool.pull_out_m)
    return _with_pull_out(forward_paths(*poses.drawn_out(out_m, out_m), _radii(tool)), out_m, out_m)


def _backed(poses: Poses, tool: Tool, below_s: Floats, *, by_fence: bool) -> tuple[Paths, Floats]:
    """Return the turns with reverse that a tool can do, shape (N, C, 7), and their times (N, C).

    The time is infinite for those that take as long as `below_s`, back further than the tool can be backed, or run
    back into one of the two passes. A pulled tool is backed straight only, once it stands in line. Where one pass ends
    further on than the other, the one less far may be drawn out towards it before the turn. Hard by the fence the tool
    is backed over what it just worked, without a pull-out.
    """
    paths = _fence_ways(poses, tool) if by_fence else _pass_ways(poses, tool)
    times = np.nan_to_num(path_times_s(paths.parts_m, tool), nan=np.inf)
    reverse = reverse_lengths_m(paths.parts_m)
    # What has no reverse in it is among the forward paths.
    times[~((reverse > NO_PART_M) & (reverse <= tool.reverse_limit_m + NO_PART_M))] = np.inf
    times[times >= below_s[:, None]] = np.inf
    if not by_fence:
        row, column = np.nonzero(np.isfinite(times))
        one = Paths(paths.curvature_1_m[row, column], paths.parts_m[row, column])
        is_clear = _clear_of_passes(poses.rows(row), one, tool.width_m)
        times[row[~is_clear], column[~is_clear]] = np.inf
    return paths, times


def _pass_ways(poses: Poses, tool: Tool) -> Paths:
    """Return the turns with reverse between passes, shape (N, C, 7)."""
    between = poses.end_xy - poses.start_xy
    lag_m, lead_m = (
        np.maximum(0.0, np.einsum("nc,nc->n", between, unit_vectors(heading)))
        for heading in (poses.start_rad, poses.end_rad)
    )
    shares = _DRAWN_OUT if max(lag_m.max(), lead_m.max()) > NO_PART_M else (0.0,)
    count, times = len(between), len(shares)
    share = np.tile(shares, count)
    ways = _backed_ways(
        poses.rows(np.repeat(np.arange(count), times)), tool, tool.pull_out_m + share * lag_m.repeat(times),
        tool.pull_out_m + share * lead_m.repeat(times), is_turn=True,
    )  # fmt: skip
    return Paths(*(values.reshape(count, -1, values.shape[-1]) for values in ways))


def _fence_ways(poses: Poses, tool: Tool) -> Paths:
    """Return the turns with reverse between two runs of the headland, shape (N, C, 7)."""
    none_m = np.zeros(len(poses.start_xy))
    return _backed_ways(poses, tool, none_m, none_m, is_turn=False)


def _backed_ways(poses: Poses, tool: Tool, before_m: Floats, after_m: Floats, *, is_turn: bool) -> Paths:
    free = poses.drawn_out(before_m, after_m)
    straighten_m = tool.pull_out_m if tool.hitch == "pulled" else 0.0
    ways = _with_pull_out(fishtails(*free, _radii(tool), straighten_m=straighten_m), before_m, after_m)
    if tool.hitch == "pulled":
        return ways
    curved = _with_pull_out(reverse_paths(*free, _radii(tool), is_turn=is_turn), before_m, after_m)
    return Paths(*(np.concatenate(pair, axis=1) for pair in zip(ways, curved, strict=True)))


def _clear_of_passes(poses: Poses, paths: Paths, width_m: float) -> NDArray[np.bool_]:
    """Return whether paths of shape (N, 7) keep out of the pass just finished, and of the next before its start.

    Each part is cut where it crosses the end of such a pass or a side of it: what lies between two cuts is in or out as
    a whole, so that a look at its middle tells.
    """
    row, column = np.nonzero(np.abs(paths.parts_m) > NO_PART_M)
    bend, driven = paths.curvature_1_m[row, column], paths.parts_m[row, column]
    x, y, turned = (each[row, column] for each in part_starts(poses.start_xy, poses.start_rad, paths))
    half_m = width_m / 2 - TOUCH_M
    is_clear = np.ones(len(paths.parts_m), dtype=bool)
    # Both passes lie ahead of these: the one just finished the way the tool came, the next the way it goes.
    for at, way in ((poses.start_xy, poses.start_rad + pi), (poses.end_xy, poses.end_rad)):
        ahead, away_x, away_y = unit_vectors(way)[row], x - at[row, 0], y - at[row, 1]
        along = away_x * ahead[:, 0] + away_y * ahead[:, 1]
        across = away_y * ahead[:, 0] - away_x * ahead[:, 1]
        heading = turned - way[row]
        cuts = [cut_shares(across - side, heading, bend, driven) for side in (half_m, -half_m)]
        # The end lies square to the sides: along it is across from there.
        cuts.append(cut_shares(TOUCH_M - along, heading - pi / 2, bend, driven))
        ends = np.zeros((len(row), 1)), np.ones((len(row), 1))
        share = np.sort(np.concatenate([*ends, *cuts], axis=1), axis=1)
        middle = driven[:, None] * (share[:, 1:] + share[:, :-1]) / 2
        on, beside, _ = step(along[:, None], across[:, None], heading[:, None], bend[:, None], middle)
        is_clear[row[((on > TOUCH_M) & (np.abs(beside) < half_m)).any(axis=1)]] = False
    return is_clear


def kept_inside(poses: Poses, paths: Paths, tool: Tool, outline: shapely.MultiPolygon) -> Paths:
    """Return the paths, each that leaves the outline replaced by a turn that stays inside, or goes least beyond.

    Parameters
    ----------
    poses : Poses
        N pairs.
    paths : Paths
        The quickest turn of each, parts of shape (N, 7).
    tool : Tool
        Gives radii, pull-out, speeds, and how far it can be backed.
    outline : shapely.MultiPolygon
        Ground to stay on. [m]
    """
    shapely.prepare(outline)
    is_outside = _looked_outside_m(poses, paths, outline) > 0
    bend, parts = paths.curvature_1_m.copy(), paths.parts_m.copy()
    for by_fence in (False, True):
        rows = np.flatnonzero(is_outside & (poses.by_fence == by_fence))
        if len(rows):
            instead = _least_outside(poses.rows(rows), tool, outline, by_fence=by_fence)
            bend[rows], parts[rows] = instead
    return Paths(bend, parts)


def _least_outside(poses: Poses, tool: Tool, outline: shapely.MultiPolygon, *, by_fence: bool) -> Paths:
    """Return for each pair the quickest turn of those that stay inside, or else of those that go least beyond."""
    first, same = _alike(poses)
    every, times = _ways(poses.rows(first), tool, by_fence=by_fence)
    order = times.argsort(axis=1, kind="stable")[:, :_TRIED]
    pick = np.arange(len(times))[:, None], order
    tried, tried_s = Paths(*(values[pick][same] for values in every)), times[pick][same]
    row, column = np.nonzero(np.isfinite(tried_s))
    one = Paths(*(values[row, column] for values in tried))
    outside = np.full(tried_s.shape, np.inf)
    outside[row, column] = _looked_outside_m(poses.rows(row), one, outline)
    # There is always one that is possible: the quickest forward.
    is_good = outside <= (1 + _AS_GOOD) * outside.min(axis=1, keepdims=True)
    best = np.where(is_good, tried_s, np.inf).argmin(axis=1)
    return Paths(*(values[np.arange(len(best)), best] for values in tried))


def _ways(poses: Poses, tool: Tool, *, by_fence: bool) -> tuple[Paths, Floats]:
    """Return every turn that a tool can do for each pair, shape (N, C, 7), and their times, infinite where none."""
    forward = _forward(poses, tool)
    times = np.nan_to_num(path_times_s(forward.parts_m, tool), nan=np.inf)
    if not by_fence:
        quickest_of = times.argmin(axis=1)
        row, column = np.nonzero(np.isfinite(times) & (np.arange(times.shape[1]) != quickest_of[:, None]))
        one = Paths(forward.curvature_1_m[row, column], forward.parts_m[row, column])
        is_clear = _clear_of_passes(poses.rows(row), one, tool.width_m)
        times[row[~is_clear], column[~is_clear]] = np.inf
    if not tool.can_reverse:
        return forward, times
    backed, backed_s = _backed(poses, tool, np.full(len(times), np.inf), by_fence=by_fence)
    every = Paths(*(np.concatenate(pair, axis=1) for pair in zip(forward, backed, strict=True)))
    return every, np.concatenate([times, backed_s], axis=1)


def _looked_outside_m(poses: Poses, paths: Paths, outline: shapely.MultiPolygon) -> Floats:
    """Return about how much of each path lies outside, from points along it, shape (N,). [m]"""
    # Middles of steps, the same whichever way the path is driven, and never its ends, which lie on the outline.
    shares = (np.arange(_LOOKS) + 0.5) / _LOOKS
    each = np.repeat(np.abs(paths.parts_m) / _LOOKS, _LOOKS, axis=1)
    row, column = np.nonzero(each > 0)
    points = sample_paths(poses.start_xy, poses.start_rad, paths, shares=shares)[row, column]
    out = np.flatnonzero(~shapely.contains_xy(outline, points))
    out = out[~shapely.dwithin(outline, shapely.points(points[out]), GRAZE_M)]
    sums = np.bincount(row[out], weights=each[row[out], column[out]], minlength=len(each))
    return np.asarray(sums, dtype=float)
