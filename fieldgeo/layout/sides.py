"""Sides of an outline, and which of them run along the passes.

A side is a stretch of the outline that a straight line follows to within a quarter of the tool's width. It runs along
the passes when it wanders across them so little that no pass but the last can end on it; there is no need to turn
there.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from fieldgeo.layout.axes import Floats, turn_matrix
from fieldgeo.layout.corners import turn_angles
from fieldgeo.layout.runs import THIN_SHARE
from fieldgeo.layout.strips import Ints
from fieldgeo.machinery.tool import Tool

Flags = NDArray[np.bool_]

# A side is straight to within this share of the width. All three: common practice, no source.
STRAIGHT_SHARE = 0.25
# A side runs along the passes when its ends lie apart across them by no more than this share of the width ...
WANDER_SHARE = 0.5
# ... and when it is at least this many widths long.
ALONG_WIDTHS = 3.0


# Where the sides along the passes are less than this share of the outline, leaving them without end rows gains nothing.
WORTH_SHARE = 0.1


class RingSides(NamedTuple):
    """The sides of one ring."""

    part: int  # part of the field's outline the ring belongs to
    line: Floats  # (K, 2) points of the ring, not closed, the field on the left [m]
    first: Ints  # (S,) point at which each side begins, ascending from 0


class EndChain(NamedTuple):
    """Edges of the outline, one after the other, on which passes end."""

    line: Floats  # (K, 2) points, the field on the left [m]
    is_closed: bool  # the whole ring, because no side of it runs along the passes
    fits: tuple[bool, bool] = (False, False)  # at each end: does the outline turn away, so that a run goes out to it


def outline_sides(shape: shapely.MultiPolygon, tool: Tool) -> tuple[RingSides, ...]:
    """Return the sides of every ring of an outline.

    Parameters
    ----------
    shape : shapely.MultiPolygon
        Outline in the frame. [m]
    tool : Tool
        Gives the width.
    """
    return tuple(
        _ring_sides(ring, part, tool)
        for part, polygon in enumerate(shapely.orient_polygons(shape).geoms)
        for ring in [polygon.exterior, *polygon.interiors]
    )


def _ring_sides(ring: shapely.LinearRing, part: int, tool: Tool) -> RingSides:
    line = shapely.get_coordinates(shapely.simplify(ring, THIN_SHARE * tool.width_m))[:-1]
    # Begin at the sharpest corner, so that no side is cut in two where the ring happens to begin.
    line = np.roll(line, -int(np.argmax(np.abs(turn_angles(line)))), axis=0)
    closed = shapely.LinearRing(line)
    thin = shapely.get_coordinates(shapely.simplify(closed, STRAIGHT_SHARE * tool.width_m, preserve_topology=False))
    if len(thin) < 4:
        return RingSides(part, line, np.arange(len(line)))
    place = {tuple(point): index for index, point in enumerate(line.tolist())}
    return RingSides(part, line, np.array(sorted(place[tuple(point)] for point in thin[:-1].tolist()), dtype=np.int64))


def along_flags(rings: tuple[RingSides, ...], direction_deg: Floats, tool: Tool) -> Flags:
    """Return for many directions which sides run along the passes.

    Parameters
    ----------
    rings : tuple of RingSides
        From `outline_sides`.
    direction_deg : ndarray of shape (H,)
        Azimuths of the passes. [deg]
    tool : Tool
        Gives the width.

    Returns
    -------
    ndarray of bool of shape (H, S)
        S counts the sides of all rings in order.
    """
    turned = np.abs(np.einsum("sx,hxy->hsy", _chords(rings), turn_matrix(direction_deg)))
    return np.asarray((turned[..., 1] <= WANDER_SHARE * tool.width_m) & (turned[..., 0] >= ALONG_WIDTHS * tool.width_m))


def worth_leaving(rings: tuple[RingSides, ...], is_along: Flags) -> Flags:
    """Return for many directions whether the sides along the passes are long enough to leave without end rows.

    Parameters
    ----------
    rings : tuple of RingSides
        From `outline_sides`.
    is_along : ndarray of bool of shape (H, S)
        From `along_flags`.

    Returns
    -------
    ndarray of bool of shape (H,)
        True where they make up a tenth of the outline or more. Common practice, no source.
    """
    length = np.hypot(*_chords(rings).T)
    return np.asarray(is_along @ length >= WORTH_SHARE * length.sum())


def _chords(rings: tuple[RingSides, ...]) -> Floats:
    """Return the straight line along every side, shape (S, 2). [m]"""
    corners = [ring.line[ring.first] for ring in rings]
    return np.concatenate([np.roll(points, -1, axis=0) - points for points in corners])


def end_chains(rings: tuple[RingSides, ...], is_along: Flags) -> list[tuple[int, EndChain]] | None:
    """Return the chains of edges on which passes end, each with its part of the field.

    Parameters
    ----------
    rings : tuple of RingSides
        From `outline_sides`.
    is_along : ndarray of bool of shape (S,)
        Which sides run along the passes, for one direction.

    Returns
    -------
    list of (int, EndChain) or None
        None where no side runs along the passes, so that rounds go all round.
    """
    if not is_along.any():
        return None
    chains: list[tuple[int, EndChain]] = []
    begin = 0
    for ring in rings:
        flags = is_along[begin : begin + len(ring.first)]
        begin += len(ring.first)
        chains.extend((ring.part, chain) for chain in _ring_chains(ring, flags))
    return chains


def _ring_chains(ring: RingSides, is_along: Flags) -> list[EndChain]:
    if not is_along.any():
        return [EndChain(ring.line, is_closed=True)]
    count, points = len(ring.first), len(ring.line)
    turns_left = turn_angles(ring.line) > 0
    chains = []
    # A chain begins where a side that runs along is followed by one that does not.
    for begin in np.flatnonzero(~is_along & np.roll(is_along, 1)).tolist():
        length = int(np.argmax(np.roll(is_along, -begin)))
        first = int(ring.first[begin])
        last = int(ring.first[(begin + length) % count])
        index = np.arange(first, last + 1 if last > first else last + points + 1) % points
        chains.append(
            EndChain(ring.line[index], is_closed=False, fits=(bool(turns_left[first]), bool(turns_left[last])))
        )
    return chains
