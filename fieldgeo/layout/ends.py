"""Headland rounds along the ends only: none beside a side that runs along the passes."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import Final

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from fieldgeo.layout.axes import Floats, ring_edges, turn_matrix, turned_edges
from fieldgeo.layout.corners import corner_reach, sharp_corners, turn_angles
from fieldgeo.layout.model import HeadlandRun
from fieldgeo.layout.overlay import difference, intersection, mitred_inset, polygons_of, union
from fieldgeo.layout.runs import MITRE_LIMIT, THIN_SHARE, round_runs, straight_run, stretch
from fieldgeo.layout.sides import EndChain
from fieldgeo.layout.strips import RUNS_BY_FINISH, Finish
from fieldgeo.machinery.tool import Tool

# Float noise left by an inset, not ground.
LEAST_BODY_M2: Final = 1e-6


def lay_ends(
    shape: shapely.MultiPolygon, chains: list[tuple[int, EndChain]], tool: Tool, finish: Finish, rounds: int
) -> list[HeadlandRun]:
    """Return headland runs along the ends of the passes.

    Parameters
    ----------
    shape : shapely.MultiPolygon
        Outline in the frame. [m]
    chains : list of (int, EndChain)
        Edges on which passes end, with their part of the outline, from `fieldgeo.layout.sides.end_chains`.
    tool : Tool
        Gives width, lap and turning radius.
    finish : {"cover", "clean", "half"}
        Finish rule, at the corners and at the outline.
    rounds : int
        Number of rounds, >= 1.
    """
    runs: list[HeadlandRun] = []
    edges_of = [ring_edges(part) for part in shape.geoms]
    for part, chain in sorted(chains, key=lambda item: item[0]):
        for number in range(1, rounds + 1):
            distance = (number - 1) * tool.pitch_m + tool.width_m / 2
            if chain.is_closed:
                there = _closed_runs(chain, distance, number, tool, finish)
            else:
                there = _open_runs(chain, distance, number, edges_of[part], tool, finish)
                # Back and forth along the end, as it is driven.
                there = there if number % 2 else [_reversed(run) for run in reversed(there)]
            runs.extend(replace(run, part=part) for run in there)
    return runs


def body_inside_ends(
    shape: shapely.MultiPolygon, chains: list[tuple[int, EndChain]], tool: Tool, rounds: int
) -> shapely.MultiPolygon:
    """Return what is left of an outline inside the headlands along its ends; parameters are those of `lay_ends`."""
    body: list[shapely.Polygon] = []
    for place, part in enumerate(shape.geoms):
        bands = [_band(chain, part, rounds * tool.pitch_m, tool) for at, chain in chains if at == place]
        body.extend(difference(part, union(bands)).geoms if bands else [part])
    return shapely.MultiPolygon([part for part in body if part.area > LEAST_BODY_M2])


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
    if is_outer:
        path = mitred_inset(ground, distance_m, MITRE_LIMIT)
    else:
        path = shapely.buffer(ground, distance_m, join_style="mitre", mitre_limit=MITRE_LIMIT)
    parts = shapely.orient_polygons(polygons_of(path), exterior_cw=not is_outer).geoms
    rings = [ring for part in parts for ring in (part.exterior, *part.interiors)]
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
    for first, last in pairwise(corners):
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
    """Return where a bar driven along a straight line is on the ground: turn matrix, (R, 2) limits of u, and v."""
    azimuth = float(np.degrees(np.arctan2(*(end - start))))
    matrix = turn_matrix(azimuth)
    across = float((start @ matrix)[1])
    work = turned_edges(edges, matrix)
    half = tool.width_m / 2
    runs = RUNS_BY_FINISH[finish](work, np.array([across - half]), np.array([across + half]))
    return matrix, np.column_stack([runs.start_m, runs.end_m]), np.array(across)


def _fit_straight(line: Floats, edges: Floats, tool: Tool, finish: Finish, fits: tuple[bool, bool]) -> list[Floats]:
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
