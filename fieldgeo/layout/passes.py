"""Passes: strips placed across the body, and the stretches of each that the finish rule asks for."""

from __future__ import annotations

from math import ceil, floor
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from fieldgeo.layout.axes import Floats, ring_edges, turn_matrix, turned_edges
from fieldgeo.layout.model import Passes
from fieldgeo.layout.strips import FIT_TOLERANCE_M, RUNS_BY_FINISH, Finish, Ints, Runs
from fieldgeo.machinery.tool import Tool

if TYPE_CHECKING:
    from collections.abc import Sequence


class Placing(NamedTuple):
    """Where the strips lie across one piece of the body."""

    lows: Floats  # (S,) v of the right edge of each strip, ascending [m]
    pulled: int  # -1 none; else the strip that was pulled in to lie within the body (the first or the last)


def strip_count(extent_m: float, tool: Tool, finish: Finish) -> int:
    """Return how many strips lie side by side across an extent, at least 1. [-]

    Parameters
    ----------
    extent_m : float
        Extent of the body across the passes, > 0. [m]
    tool : Tool
        Gives width and lap.
    finish : {"cover", "clean", "half"}
        `cover` fills the extent, `clean` stays inside it, `half` takes every strip whose centre line is inside.

    Notes
    -----
    Derived. A strip is not added for less than `FIT_TOLERANCE_M`.
    """
    width, pitch = tool.width_m, tool.pitch_m
    if finish == "cover":
        count = ceil((extent_m - width - FIT_TOLERANCE_M) / pitch) + 1
    elif finish == "clean":
        count = floor((extent_m - width + FIT_TOLERANCE_M) / pitch) + 1
    else:
        count = ceil((extent_m - width / 2 - FIT_TOLERANCE_M) / pitch)
    return max(count, 1)


def placings(low_m: float, high_m: float, tool: Tool, finish: Finish) -> list[Placing]:
    """Return the ways to lay strips over an extent that are worth a look, the plainest first.

    From the right with the last strip pulled in, the same from the left, and spread over the slack without pulling in.
    `clean` strips lie inside the extent, so none is pulled in.

    Parameters
    ----------
    low_m, high_m : float
        Extent of the body across the passes. [m]
    tool : Tool
        Gives width and lap.
    finish : {"cover", "clean", "half"}
        Finish rule.
    """
    count = strip_count(high_m - low_m, tool, finish)
    steps: Floats = np.arange(count, dtype=float) * tool.pitch_m
    over = steps[-1] + tool.width_m - (high_m - low_m)  # what sticks out, below zero where ground is left over
    if count == 1:
        return [Placing(np.array([low_m - over / 2]), -1)]
    if abs(over) <= FIT_TOLERANCE_M:
        return [Placing(low_m - over / 2 + steps, -1)]
    found = []
    if over > 0:
        from_right = low_m + steps
        from_right[-1] = high_m - tool.width_m
        from_left = high_m - tool.width_m - steps[::-1]
        from_left[0] = low_m
        found = [Placing(from_right, count - 1), Placing(from_left, 0)]
    return found + [Placing(low_m - over * share + steps, -1) for share in (0.0, 1.0, 0.5, 0.25, 0.75)]


def _section_bands(placing: Placing, tool: Tool, finish: Finish) -> tuple[Floats, Floats, Ints]:
    """Return low, high and strip of every section of every strip, sorted by low.

    Sections of a pulled-in strip that would work its neighbour's ground again are shut off, each by the finish rule.
    """
    part = tool.width_m / tool.sections
    lows = (placing.lows[:, None] + np.arange(tool.sections) * part).ravel()
    highs = lows + part
    strip = np.repeat(np.arange(len(placing.lows)), tool.sections)
    if tool.sections > 1 and placing.pulled >= 0:
        depth = {"cover": part, "clean": 0.0, "half": part / 2}[finish] - FIT_TOLERANCE_M
        if placing.pulled == 0:
            is_done = (strip == 0) & (highs > placing.lows[1] + max(depth, FIT_TOLERANCE_M))
        else:
            is_done = (strip == placing.pulled) & (lows < placing.lows[-2] + tool.width_m - max(depth, FIT_TOLERANCE_M))
        lows, highs, strip = lows[~is_done], highs[~is_done], strip[~is_done]
    order = np.argsort(lows, kind="stable")
    return lows[order], highs[order], strip[order]


def _join_sections(runs: Runs, strip_of_band: Ints) -> tuple[Runs, Ints]:
    """Return the stretches of whole strips that the stretches of their sections make up, and which each belongs to."""
    strip = strip_of_band[runs.band]
    order = np.lexsort((runs.start_m, strip))
    strip, start, end = strip[order], runs.start_m[order], runs.end_m[order]
    shift = strip * (float(end.max() - start.min()) + 1.0)
    reach = np.maximum.accumulate(end + shift) - shift
    is_new = np.ones(len(strip), dtype=bool)
    is_new[1:] = (strip[1:] != strip[:-1]) | (start[1:] > reach[:-1] + FIT_TOLERANCE_M)
    starts = np.flatnonzero(is_new)
    joined = Runs(strip[starts], start[starts], np.maximum.reduceat(end, starts))
    owner = np.empty(len(order), dtype=np.int64)
    owner[order] = np.cumsum(is_new) - 1
    return joined, owner


class PiecePasses(NamedTuple):
    """Passes over one piece of the body, before they are put together."""

    runs: Runs
    placing: Placing
    boxes: Floats  # (M, 4)
    owner: Ints  # (M,) index into runs


def lay_piece(edges: Floats, placing: Placing, tool: Tool, finish: Finish) -> PiecePasses:
    """Return the passes over one piece of the body, its strips placed.

    Parameters
    ----------
    edges : ndarray of shape (E, 4)
        Edges of the piece in work coordinates, from `fieldgeo.layout.axes.turned_edges`. [m]
    placing : Placing
        Where the strips lie.
    tool : Tool
        Gives width and sections.
    finish : {"cover", "clean", "half"}
        Finish rule.
    """
    lows, highs, strip = _section_bands(placing, tool, finish)
    runs = RUNS_BY_FINISH[finish](edges, lows, highs)
    boxes = np.column_stack([runs.start_m, lows[runs.band], runs.end_m, highs[runs.band]])
    if tool.sections == 1:
        return PiecePasses(runs, placing, boxes, np.arange(len(runs.band)))
    if len(runs.band) == 0:
        return PiecePasses(runs, placing, boxes, np.empty(0, dtype=np.int64))
    joined, owner = _join_sections(runs, strip)
    return PiecePasses(joined, placing, boxes, owner)


def placing_cost_s(laid: PiecePasses, area_m2: float, tool: Tool, turn_s: float) -> float:
    """Return what a placing costs: working time, a turn a pass, and twice the time of the ground it leaves. [s]

    Ground left unworked has to be worked some other way, which takes at least as long again. (Derived.)

    Parameters
    ----------
    laid : PiecePasses
        Passes over one piece of the body.
    area_m2 : float
        Area of the piece. [m2]
    tool : Tool
        Gives width and speed.
    turn_s : float
        Time of one turn. [s]
    """
    boxes, runs = laid.boxes, laid.runs
    worked = float(((boxes[:, 2] - boxes[:, 0]) * (boxes[:, 3] - boxes[:, 1])).sum())
    driving = float((runs.end_m - runs.start_m).sum()) / tool.speed_m_s + turn_s * len(runs.band)
    return driving + 2 * max(0.0, area_m2 - worked) / tool.theoretical_m2_s


def plainness(rank: int) -> float:
    """Return the factor on the cost of a placing by its place in `placings`: what it must save over the plainest.

    The first two are mirror images: neither is preferred, so that a turned field is laid the same.

    Parameters
    ----------
    rank : int
        Place among the placings, from 0.
    """
    return 1.0 if rank < 2 else 1.001


def lay_passes(
    body: shapely.MultiPolygon,
    direction_deg: float,
    tool: Tool,
    finish: Finish,
    *,
    turn_s: float,
    among: Sequence[Sequence[Placing]] | None = None,
) -> Passes:
    """Return the passes over a body at a direction, each piece with its best sideways placing.

    Parameters
    ----------
    body : shapely.MultiPolygon
        Ground to work, in the frame; each polygon gets a grid of strips of its own. [m]
    direction_deg : float
        Azimuth of the passes, 0 <= d < 180. [deg]
    tool : Tool
        Gives width, lap and sections.
    finish : {"cover", "clean", "half"}
        Finish rule.
    turn_s : float
        Time of one turn, to weigh passes against length when a placing is chosen. A placing must save more than a
        thousandth to be chosen over a plainer one. [s]
    among : sequence of sequence of Placing, optional
        For each polygon of the body the placings to choose from, the plainest first, instead of those of `placings`:
        strips that lie where another tool has laid rows.
    """
    return _put_together(_best_pieces(body, direction_deg, tool, finish, turn_s, among), direction_deg, tool)


def best_placings(
    body: shapely.MultiPolygon, direction_deg: float, tool: Tool, finish: Finish, *, turn_s: float
) -> list[Placing]:
    """Return the placing that `lay_passes` chooses for each polygon of a body.

    Parameters
    ----------
    body, direction_deg, tool, finish, turn_s
        As for `lay_passes`.
    """
    return [piece.placing for piece in _best_pieces(body, direction_deg, tool, finish, turn_s, None)]


def _best_pieces(
    body: shapely.MultiPolygon,
    direction_deg: float,
    tool: Tool,
    finish: Finish,
    turn_s: float,
    among: Sequence[Sequence[Placing]] | None,
) -> list[PiecePasses]:
    matrix = turn_matrix(direction_deg)
    parts: list[PiecePasses] = []
    for number, polygon in enumerate(body.geoms):
        edges = turned_edges(ring_edges(polygon), matrix)
        low, high = float(edges[:, 1].min()), float(edges[:, 1].max())
        best, best_cost = None, 0.0
        for rank, placing in enumerate(placings(low, high, tool, finish) if among is None else among[number]):
            laid = lay_piece(edges, placing, tool, finish)
            its_cost = placing_cost_s(laid, polygon.area, tool, turn_s)
            its_cost *= plainness(rank)
            if best is None or its_cost < best_cost * (1 - 1e-9):
                best, best_cost = laid, its_cost
        if best is not None:
            parts.append(best)
    return parts


def _put_together(parts: list[PiecePasses], direction_deg: float, tool: Tool) -> Passes:
    counts = [len(part.runs.band) for part in parts]
    offsets = np.concatenate([[0], np.cumsum(counts)]).astype(np.int64)

    def joined(arrays: list[NDArray[Any]]) -> NDArray[Any]:
        return np.concatenate(arrays) if arrays else np.empty(0)

    strip = joined([part.runs.band for part in parts]).astype(np.int64)
    low = joined([part.placing.lows[part.runs.band] for part in parts])
    return Passes(
        direction_deg=direction_deg,
        piece=np.repeat(np.arange(len(parts)), counts),
        strip=strip,
        start_m=joined([part.runs.start_m for part in parts]),
        end_m=joined([part.runs.end_m for part in parts]),
        low_m=low,
        high_m=low + tool.width_m,
        is_pulled=joined([part.runs.band == part.placing.pulled for part in parts]).astype(bool),
        boxes=np.concatenate([part.boxes for part in parts]) if parts else np.empty((0, 4)),
        box_pass=joined([part.owner + offset for part, offset in zip(parts, offsets[:-1], strict=True)]).astype(
            np.int64
        ),
    )
