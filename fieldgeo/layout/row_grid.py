"""The passes of several tools on the same rows: one tool lays the rows, the others begin at the same edge of them.

The tool that lays the rows has its strips placed across each piece of its body; that is the grid. Every other tool has
strips of its own width from the same edge, row after row, so that a tool that takes a divisor of the planter's rows
never straddles a guess row, and any other straddles where its count of rows makes it (see `fieldgeo.layout.rows`). The
edge is chosen for all of them together. (Derived.)
"""

from __future__ import annotations

from math import ceil, floor
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np
import shapely

from fieldgeo.layout.axes import Floats, ring_edges, turn_matrix, turned_edges
from fieldgeo.layout.overlay import intersection
from fieldgeo.layout.passes import Placing, lay_passes, lay_piece, placing_cost_s, placings, plainness
from fieldgeo.layout.strips import FIT_TOLERANCE_M

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fieldgeo.layout.model import Passes
    from fieldgeo.layout.strips import Finish
    from fieldgeo.machinery.tool import Tool

# A guess row nearer to the edge of a pass than this is at its edge: a quarter of the narrowest rows that are planted.
EDGE_M: Final = 0.05


class RowGrid(NamedTuple):
    """Where rows lie across one piece of the body."""

    low_m: float  # v of the right edge of all rows [m]
    high_m: float  # v of their left edge [m]
    is_leftward: bool  # passes are counted from the right edge, or from the left
    is_pulled: bool  # a strip that would reach beyond the last row is pulled in
    guess_m: Floats  # (G,) v of the guess rows [m]


class OnRows(NamedTuple):
    """Several tools on the same rows."""

    passes: tuple[Passes, ...]  # of each tool
    straddling: tuple[int, ...]  # passes of each tool that take rows on both sides of a guess row


class RowTool(NamedTuple):
    """A tool among those that share rows, and its ground."""

    tool: Tool
    body: shapely.MultiPolygon  # ground inside its headland, in the frame [m]
    turn_s: float  # time of one of its turns [s]
    times: int  # how often it is run in the season


def grid_of(placing: Placing, tool: Tool) -> RowGrid:
    """Return the rows that a tool lays with its strips placed.

    Parameters
    ----------
    placing : Placing
        Where the strips lie across a piece of the body.
    tool : Tool
        The tool that lays the rows.
    """
    lows, ends = placing.lows, placing.lows + tool.width_m
    # Where a strip is pulled in over its neighbour, the guess row is at the neighbour's edge.
    guess = np.append(lows[1], ends[1:-1]) if placing.pulled == 0 else ends[:-1]
    return RowGrid(float(lows[0]), float(ends[-1]), placing.pulled != 0, placing.pulled >= 0, guess)


def place_on_grid(low_m: float, high_m: float, tool: Tool, finish: Finish, grid: RowGrid) -> Placing:
    """Return the strips of a tool over an extent, counted from the edge of rows that are there.

    Parameters
    ----------
    low_m, high_m : float
        Extent of the body across the passes. [m]
    tool : Tool
        Gives width and lap.
    finish : {"cover", "clean", "half"}
        Finish rule: the strips fill the extent, lie within it, or have their centre lines in it.
    grid : RowGrid
        The rows.

    Returns
    -------
    Placing
        At least one strip. A tool at least as wide as all rows together is centred on them.
    """
    width, pitch = tool.width_m, tool.pitch_m
    centred_m = (grid.low_m + grid.high_m - width) / 2
    if width >= max(high_m, grid.high_m) - min(low_m, grid.low_m) - FIT_TOLERANCE_M:
        return Placing(np.array([centred_m]), -1)
    base = grid.low_m if grid.is_leftward else grid.high_m - width
    # How far the first strip may begin beside the low end of the extent, and the last end beside the high.
    beside_m = {"cover": 0.0, "clean": 0.0, "half": width / 2}[finish]
    low, high = (low_m - beside_m - base) / pitch, (high_m + beside_m - width - base) / pitch
    little = FIT_TOLERANCE_M / pitch
    if finish == "cover":
        first, last = floor(low + little), ceil(high - little)
    elif finish == "clean":
        first, last = ceil(low - little), floor(high + little)
    else:
        first, last = ceil(low + little), floor(high - little)
    if last < first:
        first = last = round((low + high) / 2)
    return _pulled_in(base + np.arange(first, last + 1, dtype=float) * pitch, width, grid)


def _pulled_in(lows: Floats, width_m: float, grid: RowGrid) -> Placing:
    """Return the strips with the one that reaches beyond the rows pulled in to end with them."""
    if not grid.is_pulled or len(lows) < 2:
        return Placing(lows, -1)
    if grid.is_leftward and lows[-1] + width_m > grid.high_m + FIT_TOLERANCE_M:
        return Placing(np.append(lows[:-1], grid.high_m - width_m), len(lows) - 1)
    if not grid.is_leftward and lows[0] < grid.low_m - FIT_TOLERANCE_M:
        return Placing(np.append(grid.low_m, lows[1:]), 0)
    return Placing(lows, -1)


def lay_on_rows(tools: Sequence[RowTool], direction_deg: float, finish: Finish) -> OnRows:
    """Return the passes of several tools on the rows that the first of them lays.

    Parameters
    ----------
    tools : sequence of RowTool
        The tool that lays the rows, and those that follow them.
    direction_deg : float
        Azimuth of the passes, 0 <= d < 180. [deg]
    finish : {"cover", "clean", "half"}
        Finish rule.

    Notes
    -----
    Of the ways to place the first tool's strips that `placings` gives, each piece of its body has the one that takes
    the least time of all tools over the season, as `fieldgeo.layout.passes.lay_passes` reckons it for one. A piece of a
    follower's body belongs to the piece of the first tool's that it shares most ground with; one that shares none has
    strips of its own.
    """
    pieces = [[_Piece.of(polygon, direction_deg) for polygon in each.body.geoms] for each in tools]
    owners = [[_owner(piece, pieces[0]) for piece in its] for its in pieces]
    first = tools[0].tool
    chosen: list[Placing] = []
    for number, piece in enumerate(pieces[0]):
        beside = [
            (each, other)
            for each, its, owned in zip(tools[1:], pieces[1:], owners[1:], strict=True)
            for other, owner in zip(its, owned, strict=True)
            if owner == number
        ]
        ways = placings(piece.low_m, piece.high_m, first, finish)
        costs = [
            _cost_s(tools[0], piece, way, finish) + _cost_beside_s(beside, grid_of(way, first), finish) for way in ways
        ]
        costs = [cost * plainness(rank) for rank, cost in enumerate(costs)]
        # As with one tool: of ways that cost the same the plainest.
        chosen.append(ways[int(np.argmax(np.array(costs) <= min(costs) * (1 + 1e-9)))])
    grids = [grid_of(placing, first) for placing in chosen]
    laid, straddling = [], []
    for rank, (each, its, owned) in enumerate(zip(tools, pieces, owners, strict=True)):
        if rank == 0:
            among: list[list[Placing]] = [[placing] for placing in chosen]
        else:
            among = [
                _ways_on(piece, each.tool, finish, None if at < 0 else grids[at])
                for piece, at in zip(its, owned, strict=True)
            ]
        passes = lay_passes(each.body, direction_deg, each.tool, finish, turn_s=each.turn_s, among=among)
        laid.append(passes)
        straddling.append(0 if rank == 0 else _straddling(passes, [None if at < 0 else grids[at] for at in owned]))
    return OnRows(tuple(laid), tuple(straddling))


class _Piece(NamedTuple):
    """A piece of a body in work coordinates."""

    polygon: shapely.Polygon  # in the frame [m]
    edges: Floats  # (E, 4) [m]
    low_m: float
    high_m: float

    @classmethod
    def of(cls, polygon: shapely.Polygon, direction_deg: float) -> _Piece:
        edges = turned_edges(ring_edges(polygon), turn_matrix(direction_deg))
        return cls(polygon, edges, float(edges[:, 1].min()), float(edges[:, 1].max()))


def _owner(piece: _Piece, firsts: Sequence[_Piece]) -> int:
    """Return the piece of the first tool's body that shares most ground with a piece; -1 where none does."""
    if len(firsts) == 1 and shapely.intersects(piece.polygon, firsts[0].polygon):
        return 0
    shared = [intersection(piece.polygon, other.polygon).area for other in firsts]
    return int(np.argmax(shared)) if shared and max(shared) > 0 else -1


def _ways_on(piece: _Piece, tool: Tool, finish: Finish, grid: RowGrid | None) -> list[Placing]:
    if grid is None:
        return placings(piece.low_m, piece.high_m, tool, finish)
    return [place_on_grid(piece.low_m, piece.high_m, tool, finish, grid)]


def _cost_s(each: RowTool, piece: _Piece, placing: Placing, finish: Finish) -> float:
    laid = lay_piece(piece.edges, placing, each.tool, finish)
    return each.times * placing_cost_s(laid, piece.polygon.area, each.tool, each.turn_s)


def _cost_beside_s(beside: Sequence[tuple[RowTool, _Piece]], grid: RowGrid, finish: Finish) -> float:
    """Return what a grid costs the tools that follow. [s]"""
    return sum(
        _cost_s(each, piece, place_on_grid(piece.low_m, piece.high_m, each.tool, finish, grid), finish)
        for each, piece in beside
    )


def _straddling(passes: Passes, grids: Sequence[RowGrid | None]) -> int:
    """Return how many passes take rows on both sides of a guess row."""
    count = 0
    for number, grid in enumerate(grids):
        if grid is None:
            continue
        is_here = passes.piece == number
        low, high = passes.low_m[is_here, None] + EDGE_M, passes.high_m[is_here, None] - EDGE_M
        count += int(((grid.guess_m > low) & (grid.guess_m < high)).any(axis=1).sum())
    return count
