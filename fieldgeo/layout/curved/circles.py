"""Circles: concentric passes round a centre, from the outside in, each begun a little further on than the last."""

from __future__ import annotations

from math import floor, pi
from typing import Final

import numpy as np
import shapely

from fieldgeo.layout.axes import Floats
from fieldgeo.layout.curved.key import checked_radius_m
from fieldgeo.layout.curved.lay import lay_ribbons
from fieldgeo.layout.curved.model import CurvedPasses
from fieldgeo.layout.curved.ribbon import Ribbon, end_headings_rad, stretches_on
from fieldgeo.layout.strips import FIT_TOLERANCE_M, Finish
from fieldgeo.machinery.tool import Tool

# Points of a ring, half a degree apart: at 400 m its chords are true to 4 mm. (Derived.)
RING_POINTS: Final = 720
# Room from ring to ring, in lengths of two arcs of the turn radius that lead there. Own choice.
ROOM: Final = 1.2


def lay_circles(
    body: shapely.MultiPolygon,
    centre_xy: Floats,
    tool: Tool,
    finish: Finish,
    *,
    least_radius_m: float | None = None,
) -> CurvedPasses:
    """Return concentric passes over a body, from the outermost ground inward.

    Parameters
    ----------
    body : shapely.MultiPolygon
        Ground to work, in the frame. [m]
    centre_xy : ndarray of shape (2,)
        The centre, in the frame. [m]
    tool : Tool
        Gives width, lap, sections and turn radius.
    finish : {"cover", "clean", "half"}
        Finish rule at the ends of rings that are cut.
    least_radius_m : float, optional
        No ring is smaller; by default the larger of turn radius and half the width, and never less. [m]

    Returns
    -------
    CurvedPasses
        The outermost strip is the first; rings are driven counter-clockwise. The last ring is pulled in to the least
        radius where one that is a whole spacing further in would be smaller; what lies inside it is left.

    Raises
    ------
    LayoutError
        If the radius is less than the tool can do.

    Notes
    -----
    Derived. A ring is a chain of chords that touch it, all rings with points on the same rays, so that the swaths of
    neighbours share their edges.
    """
    radius = checked_radius_m(least_radius_m, tool)
    centre = np.asarray(centre_xy, dtype=float)
    outermost = max((_reach_m(piece, centre) for piece in body.geoms), default=0.0)
    radii, is_pulled = ring_radii(outermost, _inner_m(body, centre), tool, radius, finish)
    parts = []
    for number, piece in enumerate(body.geoms):
        shapely.prepare(piece)
        start_rad = 0.0
        for strip, ring_m in enumerate(radii):
            ribbon, is_whole = _begun(piece, centre, ring_m, start_rad, tool, finish)
            laid = lay_ribbons(piece, [ribbon], tool, finish)
            parts.append((number, strip, ring_m, is_pulled[strip], is_whole, laid))
            start_rad += _onward_rad(tool, ring_m)
    key = _ring(centre, max(outermost, radius), 0.0)
    lines = tuple(each.points for *_, laid in parts for each in laid.passes)
    return CurvedPasses(
        key_line=key.points,
        least_radius_m=radius,
        key_deviation_m=0.0,
        lines=lines,
        along_key_m=_along_key_m(lines, centre, float(key.along_m[-1])),
        heading_rad=np.array(
            [end_headings_rad(each) for *_, laid in parts for each in laid.passes], dtype=float
        ).reshape(-1, 2),
        piece=np.array([piece for piece, *_, laid in parts for _ in laid.passes], dtype=np.int64),
        strip=np.array([strip for _, strip, *_, laid in parts for _ in laid.passes], dtype=np.int64),
        offset_m=np.array([outermost - ring for _, _, ring, *_, laid in parts for _ in laid.passes], dtype=float),
        is_pulled=np.array([pulled for *_, pulled, _, laid in parts for _ in laid.passes], dtype=bool),
        is_smoothed=np.zeros(sum(len(laid.passes) for *_, laid in parts), dtype=bool),
        deviation_m=np.zeros(sum(len(laid.passes) for *_, laid in parts)),
        swath_shapes=tuple(swath for *_, laid in parts for swath in laid.swaths),
        swath_pass=_numbered([(len(laid.passes), laid.swath_pass) for *_, laid in parts]),
        is_ring=np.array(
            [whole and len(laid.passes) == 1 for *_, whole, laid in parts for _ in laid.passes], dtype=bool
        ),
        is_circular=True,
    )


def ring_radii(
    outermost_m: float, innermost_m: float, tool: Tool, least_radius_m: float, finish: Finish
) -> tuple[list[float], list[bool]]:
    """Return the radii of the rings that fill a disc or an annulus, from the outside in, and which is pulled in.

    Parameters
    ----------
    outermost_m, innermost_m : float
        Greatest and least distance of the ground from the centre; the least is 0 where the centre is ground. [m]
    tool : Tool
        Gives width and lap.
    least_radius_m : float
        No ring is smaller. [m]
    finish : {"cover", "clean", "half"}
        Finish rule: only `cover` pulls a ring in.
    """
    half = tool.width_m / 2
    reach = (half if finish == "cover" else 0.0) - FIT_TOLERANCE_M
    least = max(least_radius_m, innermost_m - reach)
    count = max(0, floor((outermost_m - half - least) / tool.pitch_m + 1e-9) + 1)
    radii = [outermost_m - half - step * tool.pitch_m for step in range(count)]
    is_pulled = [False] * len(radii)
    last = max(least_radius_m, innermost_m + half)
    is_short = bool(radii) and radii[-1] > max(last, innermost_m + half) + FIT_TOLERANCE_M
    if finish == "cover" and is_short:
        radii.append(last)
        is_pulled.append(True)
    return radii, is_pulled


def _numbered(parts: list[tuple[int, list[int]]]) -> np.ndarray[tuple[int], np.dtype[np.int64]]:
    numbers: list[int] = []
    first = 0
    for count, its in parts:
        numbers += [first + each for each in its]
        first += count
    return np.array(numbers, dtype=np.int64)


def _along_key_m(lines: tuple[Floats, ...], centre: Floats, round_m: float) -> Floats:
    """Return the places on a ring of a length that lie beside the ends of rings and arcs within it, (N, 2). [m]"""
    starts = np.array([line[0] for line in lines], dtype=float).reshape(-1, 2) - centre
    begin = np.arctan2(starts[:, 1], starts[:, 0]) % (2 * pi)
    radii = np.hypot(*starts.T)
    lengths = np.array([np.hypot(*np.diff(line, axis=0).T).sum() for line in lines])
    return np.column_stack([begin, begin + lengths / radii]) * round_m / (2 * pi)


def _reach_m(piece: shapely.Polygon, centre: Floats) -> float:
    return float(np.hypot(*(shapely.get_coordinates(piece.exterior) - centre).T).max())


def _inner_m(body: shapely.MultiPolygon, centre: Floats) -> float:
    return float(shapely.distance(body, shapely.Point(centre))) if not body.is_empty else 0.0


def _ring(centre: Floats, radius_m: float, start_rad: float) -> Ribbon:
    """Return a ring as a ribbon, counter-clockwise, begun at the ray nearest to an angle."""
    step = 2 * pi / RING_POINTS
    angles = step * (round(start_rad / step) + np.arange(RING_POINTS + 1))
    rays = np.column_stack([np.cos(angles), np.sin(angles)]) / np.cos(step / 2)
    chord = 2 * radius_m * np.tan(step / 2)
    return Ribbon(centre + radius_m * rays, -rays, chord * np.arange(RING_POINTS + 1))


def _begun(
    piece: shapely.Polygon, centre: Floats, radius_m: float, start_rad: float, tool: Tool, finish: Finish
) -> tuple[Ribbon, bool]:
    """Return a ring begun where it is not cut in two by its beginning, and whether it is not cut at all."""
    ribbon = _ring(centre, radius_m, start_rad)
    half = tool.width_m / 2
    found = stretches_on(piece, [ribbon], finish, low_m=-half, high_m=half)
    length = float(ribbon.along_m[-1])
    if len(found.start_m) == 0 or found.start_m[0] > FIT_TOLERANCE_M or found.end_m[-1] < length - FIT_TOLERANCE_M:
        return ribbon, False
    if len(found.start_m) == 1:
        return ribbon, True
    # It begins anew in the middle of the first ground that is left out.
    gap = (found.end_m[0] + found.start_m[1]) / 2
    return _ring(centre, radius_m, start_rad + gap / radius_m), False


def _onward_rad(tool: Tool, ring_m: float) -> float:
    """Return how much further on the next ring begins: room for two arcs, one each way, over a spacing. [rad]"""
    radius, pitch = max(tool.left_radius_m, tool.right_radius_m), tool.pitch_m
    ahead = np.sqrt(pitch * (4 * radius - pitch)) if pitch < 2 * radius else 2 * radius
    return float((ROOM * ahead + 2 * tool.pull_out_m) / ring_m)
