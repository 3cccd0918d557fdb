"""Headland rounds along the ends only: none beside a side that runs along the passes."""

from __future__ import annotations

from dataclasses import replace
from math import radians, sin
from typing import NamedTuple

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from fieldgeo.layout.axes import Floats, ring_edges, to_work, turn_matrix
from fieldgeo.layout.corners import corner_reach, sharp_corners, turn_angles
from fieldgeo.layout.model import HeadlandRun
from fieldgeo.layout.overlay import difference, intersection, polygons_of, union
from fieldgeo.layout.runs import MITRE_LIMIT, THIN_SHARE, round_runs, straight_run, stretch
from fieldgeo.layout.strips import RUNS_BY_FINISH, Finish
from fieldgeo.machinery.tool import Tool

# A side runs along the passes when every part of it is within this angle of them ...
ALONG_DEG = 10.0
# ... when it wanders across them by no more than this share of the width, so that no pass but the last ends on it ...
WANDER_SHARE = 0.5
# ... and when it is at least this many widths long. All three: common practice, no source.
ALONG_WIDTHS = 3.0


def lay_ends(
    shape: shapely.MultiPolygon, tool: Tool, finish: Finish, *, rounds: int, direction_deg: float
) -> tuple[list[HeadlandRun], shapely.MultiPolygon] | None:
    """Return headland runs along the ends of the passes and the body they leave; None if no side runs along the passes.

    Parameters
    ----------
    shape : shapely.MultiPolygon
        Outline in the frame. [m]
    tool : Tool
        Gives width, lap and turning radius.
    finish : {"cover", "clean", "half"}
        Finish rule, at the corners.
    rounds : int
        Number of rounds, >= 1.
    direction_deg : float
        Azimuth of the passes. [deg]
    """
    chains_of = [_part_chains(part, direction_deg, tool) for part in shape.geoms]
    if all(chain.is_closed for chains in chains_of for chain in chains):
        return None
    runs: list[HeadlandRun] = []
    body: list[BaseGeometry] = []
    for place, (part, chains) in enumerate(zip(shape.geoms, chains_of, strict=True)):
        first = len(runs)
        edges = ring_edges(part)
        bands = [_band(chain, part, rounds * tool.pitch_m, tool) for chain in chains]
        body.append(difference(part, union(bands)) if bands else part)
        for chain in chains:
            for number in range(1, rounds + 1):
                distance = (number - 1) * tool.pitch_m + tool.width_m / 2
                if chain.is_closed:
                    runs.extend(_closed_runs(chain, distance, number, tool, finish))
                    continue
                # Back and forth along the end, as it is driven.
                there = _open_runs(chain, distance, number, edges, tool, finish)
                runs.extend(there if number % 2 else [_reversed(run) for run in reversed(there)])
        runs[first:] = [replace(run, part=place) for run in runs[first:]]
    return runs, polygons_of(union(body), least_m2=1e-6)


class EndChain(NamedTuple):
    """Edges of the outline, one after the other, on which passes end."""

    line: Floats  # (K, 2) points, the field on the left [m]
    is_closed: bool  # the whole ring, because no side of it runs along the passes
    fits: tuple[bool, bool] = (False, False)  # at each end: does the outline turn away, so that a run goes out to it


def _part_chains(part: shapely.Polygon, direction_deg: float, tool: Tool) -> list[EndChain]:
    rings = shapely.get_rings(shapely.orient_polygons(part))
    lines = (shapely.get_coordinates(ring)[:-1] for ring in shapely.simplify(rings, THIN_SHARE * tool.width_m))
    return [chain for line in lines for chain in ring_chains(line, direction_deg, tool)]


def ring_chains(ring: Floats, direction_deg: float, tool: Tool) -> list[EndChain]:
    """Return the chains of a ring's edges on which passes end.

    Parameters
    ----------
    ring : ndarray of shape (K, 2)
        Open ring, the field on its left. [m]
    direction_deg : float
        Azimuth of the passes. [deg]
    tool : Tool
        Gives the width.

    Returns
    -------
    list of EndChain
        In order round the ring; the whole ring where no side of it runs along the passes.
    """
    work = to_work(ring, direction_deg)
    step = np.roll(work, -1, axis=0) - work
    is_along = np.abs(step[:, 1]) <= sin(radians(ALONG_DEG)) * np.hypot(*step.T)
    if not is_along.any():
        return [EndChain(ring, is_closed=True)]
    if is_along.all():
        return []
    # Begin at the first edge after an end edge, so that no side is cut in two where the ring begins.
    begin = int(np.flatnonzero(is_along & ~np.roll(is_along, 1))[0])
    ring, work, is_along = (np.roll(array, -begin, axis=0) for array in (ring, work, is_along))
    for first, last in _stretches(is_along):
        points = work[np.arange(first, last + 1) % len(work)]
        extent = points.max(axis=0) - points.min(axis=0)
        if extent[1] > WANDER_SHARE * tool.width_m or extent[0] < ALONG_WIDTHS * tool.width_m:
            is_along[first:last] = False
    if not is_along.any():
        return [EndChain(ring, is_closed=True)]
    begin = int(np.flatnonzero(is_along)[0])
    ring, is_along = np.roll(ring, -begin, axis=0), np.roll(is_along, -begin)
    turns_left = turn_angles(ring) > 0
    return [
        EndChain(
            ring[np.arange(first, last + 1) % len(ring)],
            is_closed=False,
            fits=(bool(turns_left[first]), bool(turns_left[last % len(ring)])),
        )
        for first, last in _stretches(~is_along)
    ]


def _stretches(flags: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> list[tuple[int, int]]:
    """Return (first edge, edge after the last) of every stretch of true flags; edge i runs from point i to i + 1."""
    padded = np.concatenate([[False], flags, [False]]).astype(np.int8)
    change = np.diff(padded)
    return list(zip(np.flatnonzero(change == 1).tolist(), np.flatnonzero(change == -1).tolist(), strict=True))


def _band(chain: EndChain, part: shapely.Polygon, depth_m: float, tool: Tool) -> BaseGeometry:
    """Return the ground within a depth of a chain of edges."""
    if chain.is_closed:
        strip = shapely.buffer(shapely.LinearRing(chain.line), depth_m, join_style="mitre", mitre_limit=MITRE_LIMIT)
    else:
        # Lengthened, so that the strip fills a corner that opens outward; what falls outside is cut off again.
        beyond = depth_m + tool.width_m
        line = stretch(chain.line, beyond * chain.fits[0], beyond * chain.fits[1])
        strip = shapely.buffer(
            shapely.LineString(line), depth_m, cap_style="flat", join_style="mitre", mitre_limit=MITRE_LIMIT
        )
    return intersection(strip, part)


def _closed_runs(chain: EndChain, distance_m: float, number: int, tool: Tool, finish: Finish) -> list[HeadlandRun]:
    ground = shapely.Polygon(chain.line)
    is_outer = shapely.is_ccw(shapely.LinearRing(chain.line))
    path = shapely.buffer(ground, -distance_m if is_outer else distance_m, join_style="mitre", mitre_limit=MITRE_LIMIT)
    rings = shapely.get_rings(shapely.orient_polygons(polygons_of(path), exterior_cw=not is_outer).geoms)
    return [run for ring in rings for run in round_runs(ring, number, tool, finish)]


def _open_runs(
    chain: EndChain, distance_m: float, number: int, edges: Floats, tool: Tool, finish: Finish
) -> list[HeadlandRun]:
    path = shapely.offset_curve(shapely.LineString(chain.line), distance_m, join_style="mitre", mitre_limit=MITRE_LIMIT)
    runs = []
    for part in shapely.get_parts(path):
        line = shapely.get_coordinates(shapely.simplify(part, THIN_SHARE * tool.width_m))
        if len(line) >= 2:
            runs.extend(_chain_runs(line, number, edges, tool, finish, chain.fits))
    return runs


def _reversed(run: HeadlandRun) -> HeadlandRun:
    return replace(run, line=run.line[::-1])


def _chain_runs(
    line: Floats, number: int, edges: Floats, tool: Tool, finish: Finish, fits: tuple[bool, bool]
) -> list[HeadlandRun]:
    """Return the runs along an open path, lifted at sharp corners; ends are fitted to the outline where `fits` is true.

    An end at a corner that points into the field is not fitted: going on there would run through the body.
    """
    if len(line) == 2:
        return [straight_run(part, number, tool) for part in _fit_straight(line, edges, tool, finish, fits)]
    corners = [0, *_inner_corners(line, tool), len(line) - 1]
    turns = turn_angles(line)
    runs = []
    for first, last in zip(corners[:-1], corners[1:], strict=True):
        at_start = 0.0 if first == 0 else -corner_reach(float(turns[first]), tool.width_m, finish).next_start_m
        at_end = 0.0 if last == len(line) - 1 else corner_reach(float(turns[last]), tool.width_m, finish).first_end_m
        side = stretch(line[first : last + 1], at_start, at_end)
        if side is None:
            continue
        if first == 0 and fits[0]:
            side = _fit_end(side[::-1], edges, tool, finish)[::-1]
        if last == len(line) - 1 and fits[1]:
            side = _fit_end(side, edges, tool, finish)
        runs.append(straight_run(side, number, tool))
    return runs


def _inner_corners(line: Floats, tool: Tool) -> list[int]:
    corners = sharp_corners(line, tool.turn_radius_m, tool.width_m)
    return [int(corner) for corner in corners if 0 < corner < len(line) - 1]


def _bar_runs(start: Floats, end: Floats, edges: Floats, tool: Tool, finish: Finish) -> tuple[Floats, Floats, Floats]:
    """Return where a bar driven along a straight line is on the ground: the turn matrix, and (R, 2) limits of u, and v."""
    azimuth = float(np.degrees(np.arctan2(*(end - start))))
    matrix = turn_matrix(azimuth)
    across = float((start @ matrix)[1])
    work = (edges.reshape(-1, 2) @ matrix).reshape(-1, 4)
    half = tool.width_m / 2
    runs = RUNS_BY_FINISH[finish](work, np.array([across - half]), np.array([across + half]))
    return matrix, np.column_stack([runs.start_m, runs.end_m]), np.array(across)


def _fit_straight(
    line: Floats, edges: Floats, tool: Tool, finish: Finish, fits: tuple[bool, bool]
) -> list[Floats]:
    """Return the stretches on which a straight path is on the ground, one line of shape (2, 2) each."""
    matrix, limits, across = _bar_runs(line[0], line[1], edges, tool, finish)
    begin, end = (line @ matrix)[:, 0]
    kept = [limit for limit in limits if min(limit[1], end) - max(limit[0], begin) > 0]
    held = (-np.inf if fits[0] else begin, np.inf if fits[1] else end)
    kept = [np.clip(limit, *held) for limit in kept]
    return [np.array([[limit[0], across], [limit[1], across]]) @ matrix.T for limit in kept]


def _fit_end(line: Floats, edges: Floats, tool: Tool, finish: Finish) -> Floats:
    """Return a path whose last segment runs on, or stops short, to where the finish rule lifts the tool."""
    matrix, limits, across = _bar_runs(line[-2], line[-1], edges, tool, finish)
    begin, end = (line[-2:] @ matrix)[:, 0]
    around = limits[(limits[:, 0] < end) & (limits[:, 1] > begin)]
    if len(around) == 0:
        return line
    last = np.array([[max(around[0, 1], begin + 1e-3), float(across)]]) @ matrix.T
    return np.vstack([line[:-1], last])
