"""Headland rounds: the paths the tool drives round the field, the ground they work, and the body left inside.

Rounds go all round, or only along the sides where passes end: a side that runs along the passes needs no turning
ground, and nobody plants end rows beside a parallel fence.
"""

from __future__ import annotations

from dataclasses import replace
from math import cos, pi
from typing import Literal, NamedTuple

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from fieldgeo.layout.corners import STEERED_SHARE
from fieldgeo.layout.ends import LEAST_BODY_M2, body_inside_ends, lay_ends
from fieldgeo.layout.model import NOTHING, Headland, HeadlandRun
from fieldgeo.layout.overlay import difference, intersection, intersections, mitred_inset, polygons_of, union
from fieldgeo.layout.runs import MITRE_LIMIT, round_runs
from fieldgeo.layout.sides import EndChain, along_flags, end_chains, outline_sides, worth_leaving
from fieldgeo.layout.strips import Finish
from fieldgeo.machinery.tool import Tool

Sides = Literal["auto", "ends", "all"]
SIDES: tuple[Sides, ...] = ("auto", "ends", "all")

# Ground that the rounds cannot reach (a neck, the side between two close corners) is worked with the body when it is
# wider than this share of the width; the finish rule says what is worth a pass. Common practice, no source.
LEFT_SHARE: dict[Finish, float] = {"cover": 0.1, "half": 0.5, "clean": 1.0}

# Nothing that is worked is as narrow as this.
SPIKE_M = 1e-3


class Rounds(NamedTuple):
    """Headland rounds and the body inside them."""

    headland: Headland
    body: shapely.MultiPolygon


def headland_choices(
    shape: shapely.MultiPolygon, tool: Tool, *, sides: Sides, direction_deg: float
) -> list[list[tuple[int, EndChain]] | None]:
    """Return the edges along which headland rounds may be laid, for `lay_rounds`: one choice, or two for ``"auto"``.

    Parameters
    ----------
    shape : shapely.MultiPolygon
        Outline in the frame. [m]
    tool : Tool
        Gives the width.
    sides : {"auto", "ends", "all"}
        Only the edges on which passes end, all (None), or both to choose from where enough of the outline runs along.
    direction_deg : float
        Azimuth of the passes. [deg]
    """
    if sides == "all":
        return [None]
    rings = outline_sides(shape, tool)
    flags = along_flags(rings, np.array([direction_deg]), tool)
    ends = end_chains(rings, flags[0])
    if sides == "ends":
        return [ends]
    return [ends, None] if worth_leaving(rings, flags)[0] else [None]


def lay_rounds(
    shape: shapely.MultiPolygon, tool: Tool, finish: Finish, *, rounds: int, chains: list[tuple[int, EndChain]] | None
) -> Rounds:
    """Return the headland rounds along given chains of edges, or all round where there are none given.

    Parameters
    ----------
    shape : shapely.MultiPolygon
        Outline in the frame. [m]
    tool : Tool
        Gives width, lap and turning radius.
    finish : {"cover", "clean", "half"}
        Finish rule, at the corners of the rounds.
    rounds : int
        Number of rounds, >= 0; 0 leaves the whole outline as body.
    chains : list of (int, EndChain) or None
        Edges on which passes end, from `fieldgeo.layout.sides.end_chains`.
    """
    if rounds == 0:
        return Rounds(Headland(rounds=0, all_round=False), shape)
    runs = lay_runs(shape, tool, finish, rounds=rounds, chains=chains)
    swaths = [run.swath for run in runs]
    ground = intersection(union(swaths), shape) if swaths else NOTHING
    body = body_inside(shape, tool, rounds=rounds, chains=chains)
    run_on = intersection(ground, body)
    least_width_m = tool.width_m * LEFT_SHARE[finish]
    # What is left is the outline less ground and body, which share the run-on.
    if shape.area - ground.area - body.area + run_on.area > least_width_m**2:
        body = _with_left_ground(body, shape, ground, least_width_m)
        run_on = intersection(ground, body)
    headland = Headland(
        # On a narrow field the inner rounds have no room; what they leave is worked with the body.
        rounds=max((run.round for run in runs), default=0),
        all_round=chains is None,
        runs=tuple(runs),
        ground=ground,
        run_on=run_on,
        # Rounds lap on each other only where the driver keeps a lap on purpose.
        by_round_m2=max(_area_by_round(runs, shape), ground.area) if tool.lap_m > 0 and rounds > 1 else ground.area,
        # Never less than the ground: an overlay may lose a sliver of a swath that grazes the outline.
        inside_m2=max(_area_inside(swaths, shape), ground.area),
    )
    return Rounds(headland, body)


def lay_runs(
    shape: shapely.MultiPolygon, tool: Tool, finish: Finish, *, rounds: int, chains: list[tuple[int, EndChain]] | None
) -> list[HeadlandRun]:
    """Return the headland runs alone, in driving order; parameters are those of `lay_rounds`."""
    if chains is None:
        return _all_round(shape, tool, finish, rounds)
    return lay_ends(shape, chains, tool, finish, rounds)


def _area_by_round(runs: list[HeadlandRun], shape: shapely.MultiPolygon) -> float:
    """Return the ground within the outline that each round works, summed over the rounds. [m2]"""
    numbers = {run.round for run in runs}
    return sum(intersection(union([run.swath for run in runs if run.round == n]), shape).area for n in numbers)


def body_inside(
    shape: shapely.MultiPolygon, tool: Tool, *, rounds: int, chains: list[tuple[int, EndChain]] | None
) -> shapely.MultiPolygon:
    """Return what is left of an outline inside its headlands, without the ground that rounds cannot reach.

    Parameters are those of `lay_rounds`.
    """
    if rounds == 0:
        return shape
    if chains is None:
        return polygons_of(_inset(shape, rounds * tool.pitch_m, tool), least_m2=LEAST_BODY_M2)
    return body_inside_ends(shape, chains, tool, rounds)


def _area_inside(swaths: list[shapely.Polygon], shape: shapely.MultiPolygon) -> float:
    """Return the sum of the areas of swaths within the outline; only those that touch its edge are cut."""
    array = np.array(swaths, dtype=object)
    is_whole = shapely.contains_properly(shape, array)
    inside = float(shapely.area(array[is_whole]).sum())
    return inside + float(shapely.area(intersections(array[~is_whole], shape)).sum())


def _inset(shape: shapely.Polygon | shapely.MultiPolygon, distance_m: float, tool: Tool) -> BaseGeometry:
    """Return the shape less a strip along its edge, with the corners the tool can steer round made round."""
    # Round an inner corner the path is an arc of the inset's own radius; when that is near what the tool can steer it
    # need not lift there.
    shortfall = max(0.0, tool.turn_radius_m - distance_m) * (1 / cos(pi / 4) - 1)
    if shortfall < STEERED_SHARE * tool.width_m:
        return shapely.buffer(shape, -distance_m, join_style="round", quad_segs=8)
    return mitred_inset(shape, distance_m, MITRE_LIMIT)


def _all_round(shape: shapely.MultiPolygon, tool: Tool, finish: Finish, rounds: int) -> list[HeadlandRun]:
    runs: list[HeadlandRun] = []
    for number, part in enumerate(shape.geoms):
        runs.extend(replace(run, part=number) for run in _part_runs(part, tool, finish, rounds))
    return runs


def _part_runs(part: shapely.Polygon, tool: Tool, finish: Finish, rounds: int) -> list[HeadlandRun]:
    """Return the runs of one part: the rounds along its outer edge, then those round each hole."""
    holes = [shapely.Polygon(hole) for hole in part.interiors]
    families: list[list[HeadlandRun]] = [[] for _ in range(len(holes) + 1)]
    for number in range(1, rounds + 1):
        inset = _inset(part, (number - 1) * tool.pitch_m + tool.width_m / 2, tool)
        path = shapely.orient_polygons(polygons_of(inset))
        for polygon in path.geoms:
            _add_round(families[0], polygon.exterior, number, tool, finish)
            for ring in polygon.interiors:
                inside = shapely.Polygon(ring)
                around = next((index for index, hole in enumerate(holes, start=1) if inside.intersects(hole)), 0)
                _add_round(families[around], ring, number, tool, finish)
    return [run for family in families for run in family]


def _add_round(family: list[HeadlandRun], ring: shapely.LinearRing, number: int, tool: Tool, finish: Finish) -> None:
    family.extend(round_runs(ring, number, tool, finish, previous=family[-1] if family else None))


def _with_left_ground(
    body: shapely.MultiPolygon, shape: shapely.MultiPolygon, ground: shapely.MultiPolygon, least_width_m: float
) -> shapely.MultiPolygon:
    """Return the body with the ground outside it that the rounds left, where that is wide enough."""
    left = difference(difference(shape, ground), body)
    wide = [
        part
        for part in left.geoms
        if part.area > least_width_m**2 and not shapely.buffer(part, -least_width_m / 2).is_empty
    ]
    return union([body, *(_without_spikes(part) for part in wide)]) if wide else body


def _without_spikes(part: shapely.Polygon) -> BaseGeometry:
    """Return a part without the spikes of no width that an overlay can leave, along which a pass would run."""
    shrunk = shapely.buffer(part, -SPIKE_M, join_style="mitre", mitre_limit=MITRE_LIMIT)
    return shapely.buffer(shrunk, SPIKE_M, join_style="mitre", mitre_limit=MITRE_LIMIT)
