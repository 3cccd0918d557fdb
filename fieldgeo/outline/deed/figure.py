"""The figure of a deed: laid down, closed, adjusted, measured, and searched for blunders; not yet on the Earth."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
import shapely

from fieldgeo.frame import FloatArray, azimuth_deg
from fieldgeo.outline.clean import CRUMB_M2
from fieldgeo.outline.deed.blunders import find_suspects
from fieldgeo.outline.deed.certainty import closure_sd_m2, digits_sd_m2, half_width_m2
from fieldgeo.outline.deed.closure import (
    GOOD_PRECISION,
    Closure,
    closure,
    compass_rule_m,
    corners_m,
    raw_steps_m,
    signed_area_m2,
)
from fieldgeo.outline.deed.courses import LaidCall, draw_ring_m, lengths_m, segments_m2, steps_m
from fieldgeo.outline.evidence import DeedReport, Suspect
from fieldgeo.outline.rings import IndexArray, touching_pairs

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fieldgeo.outline.deed.stated import StatedArea

_MOST_CROSSINGS: Final = 5  # that are told


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """The figure of a deed in its own plane, east and north of the beginning."""

    ring_m: FloatArray  # shape (M + 1, 2), closed, with points along the curves
    owners: IndexArray  # shape (M,), index of the call that each side belongs to
    corners_m: FloatArray  # shape (N, 2), where each call begins
    closed: Closure
    report: DeedReport
    area_m2: float  # of the ring
    area_uncertainty_m2: float | None
    uncertainty_from: str
    stated: StatedArea | None
    is_closing_computed: bool  # whether the last call gives no length: nothing then tells how well the deed closes


def draw_figure(
    laid: Sequence[LaidCall], *, is_adjusted: bool, stated: StatedArea | None, vara_m: float | None
) -> Figure:
    """Return the figure that calls make.

    Parameters
    ----------
    laid : sequence of LaidCall
        Calls, three or more, or two with a curve.
    is_adjusted : bool
        Whether the compass rule is wanted. Where a blunder is suspected, and where nothing is to be adjusted, the
        figure is the raw one all the same.
    stated : StatedArea or None
        Area that the deed states.
    vara_m : float or None
        Length of the vara. [m]
    """
    steps, lengths = steps_m(laid), lengths_m(laid)
    closed = closure(steps, lengths)
    is_computed = laid[-1].is_computed
    suspects = () if is_computed else find_suspects(laid, closed, vara_m)
    adjusted, raw = compass_rule_m(steps, lengths), raw_steps_m(steps)
    area_adjusted_m2, area_raw_m2 = (_area_m2(laid, one) for one in (adjusted, raw))
    takes_adjusted = is_adjusted and not suspects and not closed.is_exact
    corners = corners_m(adjusted if takes_adjusted else raw)
    ring, owners = draw_ring_m(laid, corners)
    area_m2 = area_adjusted_m2 if takes_adjusted else area_raw_m2
    digits_m2 = digits_sd_m2(laid, adjusted, lengths)
    half_m2 = half_width_m2(closure_sd_m2(adjusted, lengths, closed.misclosure_m), digits_m2)
    uncertainty_m2, told = _uncertainty(half_m2, abs(area_m2 - area_adjusted_m2), suspects, is_computed=is_computed)
    report = DeedReport(
        courses=tuple(one.course for one in laid),
        perimeter_m=closed.perimeter_m,
        misclosure_m=None if is_computed else closed.misclosure_m,
        misclosure_azimuth_deg=closed.azimuth_deg,
        precision=closed.precision,
        closing_m=float(np.hypot(*raw[-1])),
        closing_azimuth_deg=float(azimuth_deg(raw[-1, 0], raw[-1, 1])),
        is_adjusted=takes_adjusted,
        area_raw_m2=area_raw_m2,
        area_adjusted_m2=area_adjusted_m2,
        suspects=suspects,
        stated_area_m2=stated.area_m2 if stated else None,
    )
    return Figure(
        ring_m=ring,
        owners=owners,
        corners_m=corners,
        closed=closed,
        report=report,
        area_m2=area_m2,
        area_uncertainty_m2=uncertainty_m2,
        uncertainty_from=told,
        stated=stated,
        is_closing_computed=is_computed,
    )


def crossing_calls(figure: Figure) -> list[tuple[int, int]]:
    """Return the numbers of calls that cross or run upon each other; none where it is no more than a rounding crumb.

    Parameters
    ----------
    figure : Figure
        The figure.
    """
    ring = figure.ring_m
    polygon = shapely.Polygon(ring)
    if polygon.is_valid:
        return []
    parts = sorted((part.area for part in shapely.get_parts(shapely.make_valid(polygon))), reverse=True)
    if sum(parts[1:]) <= CRUMB_M2 and parts[0] > CRUMB_M2:
        return []
    sides = np.array(shapely.linestrings(np.stack([ring[:-1], ring[1:]], axis=1)), dtype=object)
    found: list[tuple[int, int]] = []
    for first, second in touching_pairs(sides):
        is_apart = (second - first > 1) & (second - first < len(sides) - 1)
        pairs = zip(figure.owners[first[is_apart]], figure.owners[second[is_apart]], strict=True)
        for pair in dict.fromkeys((int(one) + 1, int(other) + 1) for one, other in pairs):
            if pair not in found:
                found.append(pair)
        if len(found) >= _MOST_CROSSINGS:
            break
    return found[:_MOST_CROSSINGS]


def _area_m2(laid: Sequence[LaidCall], steps: FloatArray) -> float:
    return abs(signed_area_m2(steps) + segments_m2(laid, corners_m(steps)))


def _uncertainty(
    half_m2: float, shift_m2: float, suspects: tuple[Suspect, ...], *, is_computed: bool
) -> tuple[float | None, str]:
    if is_computed:
        return None, "the last call gives no length, so nothing tells how well the deed closes"
    if suspects:
        return None, "a blunder is suspected, and no range holds for that"
    told = (
        "chance errors by its misclosure (Student's t, 2 degrees of freedom) and the digits it is written with; a "
        "chain or compass that was always off is not in it"
    )
    if shift_m2 > 0:
        return half_m2 + shift_m2, f"{told}; widened by what the compass rule would change"
    return half_m2, told


def is_poor(figure: Figure, least: float = GOOD_PRECISION) -> bool:
    """Return whether the calls close worse than 1 in so much.

    Parameters
    ----------
    figure : Figure
        The figure.
    least : float
        The N of 1:N. [-]
    """
    precision = figure.closed.precision
    return precision is not None and precision < least
