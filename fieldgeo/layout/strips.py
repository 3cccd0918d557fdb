"""The strip engine: where along each strip the ground lies, and how much of it, for many strips and headings at once.

Everything here works on the edges of a shape in work coordinates (u along the passes, v across) and on bands of equal
height ``low <= v <= high``. An edge cut to a band is a *piece*; a band with its pieces sorted along u tells all that
the finish rules ask:

- between pieces the band is either wholly on the ground or wholly off it, and the sum of the signed heights of the
  pieces passed so far tells which (it is the full height, or nothing);
- under a run of pieces that touch each other it is partly on.

So `cover` runs over every stretch that is wholly or partly on, and `clean` only over those wholly on. `half` asks for
the centre line alone. No polygon is clipped; the cost is one sort of the pieces. (Derived.)
"""

from __future__ import annotations

from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from fieldgeo.layout.axes import Floats

Ints = NDArray[np.int64]
Finish = Literal["cover", "clean", "half"]
FINISHES: tuple[Finish, ...] = ("cover", "clean", "half")

# What no driver can hold and no outline is known to. Common practice, no source.
FIT_TOLERANCE_M = 0.01
# Float noise of coordinates a few kilometres from the origin, with room to spare. Derived.
NOISE_M = 1e-8


class Runs(NamedTuple):
    """Stretches of bands, sorted by band and then along u."""

    band: Ints  # (R,) index of the band
    start_m: Floats  # (R,) u where the stretch begins [m]
    end_m: Floats  # (R,) u where it ends, >= start [m]


class Pieces(NamedTuple):
    """Edges cut to bands, sorted by band and then by their first u."""

    band: Ints  # (P,) index of the band
    low_m: Floats  # (P,) least u [m]
    high_m: Floats  # (P,) greatest u [m]
    rise_m: Floats  # (P,) signed height, v at the end less v at the start [m]


def count_from(first: Ints, counts: Ints) -> tuple[Ints, Ints]:
    """Return for each of N owners as many numbers as it asks for, counted up from its first.

    Parameters
    ----------
    first, counts : ndarray of shape (N,)
        First number of each owner, and how many, >= 0.

    Returns
    -------
    tuple of ndarray of shape (sum of counts,)
        Owner and number of each.

    Examples
    --------
    >>> owner, number = count_from(np.array([5, 9]), np.array([2, 1]))
    >>> owner.tolist(), number.tolist()
    ([0, 0, 1], [5, 6, 9])
    """
    owner = np.repeat(np.arange(len(counts)), counts)
    return owner, np.arange(len(owner)) + (first - (np.cumsum(counts) - counts))[owner]


def _edge_band_pairs(edges: Floats, lows: Floats, highs: Floats) -> tuple[Ints, Ints]:
    """Return (edge, band) index pairs of every edge that has a part strictly inside a band."""
    bottom = np.minimum(edges[:, 1], edges[:, 3])
    top = np.maximum(edges[:, 1], edges[:, 3])
    first = np.searchsorted(highs, bottom, side="right")
    counts = np.maximum(np.searchsorted(lows, top, side="left") - first, 0)
    return count_from(first, counts)


def _cut_to_bands(edges: Floats, lows: Floats, highs: Floats) -> tuple[Ints, Floats, Floats, Floats, Floats]:
    """Return band, u and v at the start, u and v at the end of every edge cut to every band it enters."""
    edge, band = _edge_band_pairs(edges, lows, highs)
    u1, v1, u2, v2 = edges[edge].T
    low, high = lows[band], highs[band]
    start_v = np.clip(v1, low, high)
    end_v = np.clip(v2, low, high)
    # An edge that rises by less than this is level: dividing by so little would overflow.
    rise = np.where(np.abs(v2 - v1) < 1e-300, np.inf, v2 - v1)
    slope = (u2 - u1) / rise
    start_u = np.where(start_v == v1, u1, u1 + (start_v - v1) * slope)
    end_u = np.where(end_v == v2, u2, u1 + (end_v - v1) * slope)
    return band, start_u, start_v, end_u, end_v


def band_pieces(edges: Floats, lows: Floats, highs: Floats) -> Pieces:
    """Return the edges cut to bands.

    Parameters
    ----------
    edges : ndarray of shape (E, 4)
        ``u1, v1, u2, v2``, the ground on the left. [m]
    lows, highs : ndarray of shape (B,)
        Bands, both ascending. [m]
    """
    band, start_u, start_v, end_u, end_v = _cut_to_bands(edges, lows, highs)
    low, high = np.minimum(start_u, end_u), np.maximum(start_u, end_u)
    order = np.lexsort((low, band))
    return Pieces(band[order], low[order], high[order], (end_v - start_v)[order])


def _gaps(pieces: Pieces, lows: Floats, highs: Floats) -> tuple[NDArray[np.bool_], NDArray[np.bool_], Floats]:
    """Return for each piece: does a gap come before it, is that gap wholly on the ground, and how far pieces reached.

    The reach at index i is the greatest u of the pieces of the same band before i.
    """
    first = np.ones(len(pieces.band), dtype=bool)
    first[1:] = pieces.band[1:] != pieces.band[:-1]
    # A shift by band keeps the running maximum and sum of one band clear of the next.
    span = float(pieces.high_m.max() - pieces.low_m.min()) + 1.0
    shift = pieces.band * span
    reach = np.maximum.accumulate(pieces.high_m + shift) - shift
    risen = np.cumsum(pieces.rise_m)
    start = np.flatnonzero(first)
    before = np.repeat(risen[start] - pieces.rise_m[start], np.diff(np.append(start, len(first))))
    reach = np.concatenate([[0.0], reach[:-1]])
    height_before = np.abs(np.concatenate([[0.0], risen[:-1]]) - before)
    is_gap = first | (pieces.low_m > reach + NOISE_M)
    is_inside = is_gap & ~first & (height_before > (highs - lows)[pieces.band] / 2)
    return is_gap, is_inside, reach


def cover_runs(edges: Floats, lows: Floats, highs: Floats) -> Runs:
    """Return where any part of a band's height is on the ground: finish rule ``cover``.

    Parameters
    ----------
    edges : ndarray of shape (E, 4)
        ``u1, v1, u2, v2``, the ground on the left. [m]
    lows, highs : ndarray of shape (B,)
        Bands of equal height, both ascending. [m]

    Returns
    -------
    Runs
        Stretches of every band, sorted.
    """
    pieces = band_pieces(edges, lows + NOISE_M, highs - NOISE_M)
    if len(pieces.band) == 0:
        return _no_runs()
    is_gap, is_inside, _ = _gaps(pieces, lows, highs)
    starts = np.flatnonzero(is_gap & ~is_inside)
    return Runs(pieces.band[starts], pieces.low_m[starts], np.maximum.reduceat(pieces.high_m, starts))


def clean_runs(edges: Floats, lows: Floats, highs: Floats) -> Runs:
    """Return where the whole height of a band is on the ground: finish rule ``clean``.

    An edge that reaches less than half of `FIT_TOLERANCE_M` into a band does not count. Parameters and result are
    those of `cover_runs`.
    """
    margin = np.minimum(FIT_TOLERANCE_M / 2, (highs - lows) / 4)
    pieces = band_pieces(edges, lows + margin, highs - margin)
    if len(pieces.band) == 0:
        return _no_runs()
    _, is_inside, reach = _gaps(pieces, lows, highs)
    starts = np.flatnonzero(is_inside)
    return Runs(pieces.band[starts], reach[starts], pieces.low_m[starts])


def centre_runs(edges: Floats, lows: Floats, highs: Floats) -> Runs:
    """Return where the centre line of a band is on the ground: finish rule ``half``.

    Parameters and result are those of `cover_runs`.
    """
    centres = (lows + highs) / 2
    u1, v1, u2, v2 = edges.T
    bottom, top = np.minimum(v1, v2), np.maximum(v1, v2)
    first = np.searchsorted(centres, bottom, side="left")
    counts = np.searchsorted(centres, top, side="left") - first
    edge, band = count_from(first, counts)
    share = (centres[band] - v1[edge]) / (v2[edge] - v1[edge])
    crossing = u1[edge] + share * (u2[edge] - u1[edge])
    order = np.lexsort((crossing, band))
    band, crossing = band[order], crossing[order]
    return _merge_touching(Runs(band[::2], crossing[::2], crossing[1::2]))


def _merge_touching(runs: Runs) -> Runs:
    """Join stretches of one band that touch, and drop those of no length."""
    keep = runs.end_m - runs.start_m > NOISE_M
    band, start, end = runs.band[keep], runs.start_m[keep], runs.end_m[keep]
    if len(band) == 0:
        return _no_runs()
    is_new = np.ones(len(band), dtype=bool)
    is_new[1:] = (band[1:] != band[:-1]) | (start[1:] > end[:-1] + NOISE_M)
    starts = np.flatnonzero(is_new)
    return Runs(band[starts], start[starts], np.maximum.reduceat(end, starts))


def _no_runs() -> Runs:
    return Runs(np.empty(0, dtype=np.int64), np.empty(0), np.empty(0))


def next_alongside(strip: Ints, start_m: Floats, end_m: Floats) -> Ints:
    """Return for each run the one run of the next strip that it alone meets, else -1.

    Parameters
    ----------
    strip : ndarray of shape (R,)
        Number of the strip each run lies in, ascending; strips that are not neighbours must not have numbers that are.
    start_m, end_m : ndarray of shape (R,)
        Where each run begins and ends along the strip. [m]

    Returns
    -------
    ndarray of shape (R,)
        Index of the run alongside, where each of the two meets no other run of the other's strip.
    """
    follows = np.full(len(strip), -1, dtype=np.int64)
    first = np.searchsorted(strip, strip + 1, side="left")
    counts = np.searchsorted(strip, strip + 1, side="right") - first
    one, other = count_from(first, counts)
    meets = np.minimum(end_m[one], end_m[other]) > np.maximum(start_m[one], start_m[other])
    one, other = one[meets], other[meets]
    is_single = (np.bincount(one, minlength=len(strip))[one] == 1) & (
        np.bincount(other, minlength=len(strip))[other] == 1
    )
    follows[one[is_single]] = other[is_single]
    return follows


RUNS_BY_FINISH = {"cover": cover_runs, "clean": clean_runs, "half": centre_runs}


def areas_in_boxes(edges: Floats, boxes: Floats) -> Floats:
    """Return the area of a shape inside each of many boxes.

    Parameters
    ----------
    edges : ndarray of shape (E, 4)
        ``u1, v1, u2, v2`` of the shape's rings, the ground on the left. [m]
    boxes : ndarray of shape (N, 4)
        ``u_low, v_low, u_high, v_high``. Boxes may share bands of v and may lie on each other. [m]

    Returns
    -------
    ndarray of shape (N,)
        Area of the shape in each box. [m2]

    Notes
    -----
    Derived from Green's theorem: the area of a shape inside a box is the integral along the shape's edges, cut to the
    box's band, of u held to the box's range, times dv.
    """
    areas = np.zeros(len(boxes))
    if len(boxes) == 0 or len(edges) == 0:
        return areas
    order = np.lexsort((boxes[:, 3], boxes[:, 1]))
    for chosen in _ascending_sets(order, boxes[:, 3]):
        place, start_u, start_v, end_u, end_v = _cut_to_bands(edges, boxes[chosen, 1], boxes[chosen, 3])
        box = chosen[place]
        held = _mean_held(start_u, end_u, boxes[box, 0], boxes[box, 2])
        areas += np.bincount(box, weights=held * (end_v - start_v), minlength=len(boxes))
    return np.maximum(areas, 0.0)


def _ascending_sets(order: Ints, highs: Floats) -> list[Ints]:
    """Split boxes sorted by their lower limit into sets within which the upper limits ascend too."""
    if (np.diff(highs[order]) >= 0).all():
        return [order]
    sets: list[list[int]] = []
    for index in order.tolist():
        for group in sets:
            if highs[index] >= highs[group[-1]]:
                group.append(index)
                break
        else:
            sets.append([index])
    return [np.array(group, dtype=np.int64) for group in sets]


def _mean_held(start: Floats, end: Floats, low: Floats, high: Floats) -> Floats:
    """Return the mean of a straight run from start to end when each value is held to low..high. (Derived.)"""
    near, far = np.minimum(start, end), np.maximum(start, end)
    length = far - near
    below = np.clip(low - near, 0.0, length)
    above = np.clip(far - high, 0.0, length)
    inside = length - below - above
    middle = (np.maximum(near, low) + np.minimum(far, high)) / 2
    with np.errstate(divide="ignore", invalid="ignore"):
        mean = (below * low + above * high + inside * middle) / length
    return np.where(length > 0, mean, np.clip(near, low, high))
