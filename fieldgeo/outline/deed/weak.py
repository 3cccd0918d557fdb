"""What is weak about a deed as a source of an outline, the worst first, and only where it applies."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from fieldgeo.outline.deed.closure import GOOD_PRECISION, POOR_PRECISION
from fieldgeo.outline.deed.courses import turned_deg
from fieldgeo.outline.deed.figure import Figure, is_poor
from fieldgeo.units import to_acres

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from fieldgeo.outline.deed.courses import LaidCall
    from fieldgeo.outline.deed.place import Placed

_OLD_UNITS: Final = ("chain", "ch", "pole", "po", "rod", "rd", "perch", "pch", "link", "lk", "li", "lnk", "vara", "vr")
_COARSE_DEG: Final = 0.25  # bearings of a compass, to quarter degrees; common practice, no source
_ONE_TURN_DEG: Final = 1.0


def weak_points(
    laid: Sequence[LaidCall], figure: Figure, placed: Placed, *, north: str | None, has_rotation: bool
) -> tuple[str, ...]:
    """Return what is weak about a deed, the worst first.

    Parameters
    ----------
    laid : sequence of LaidCall
        Calls.
    figure : Figure
        The figure they make.
    placed : Placed
        How it was set down.
    north : str or None
        What the file says its bearings count from.
    has_rotation : bool
        Whether the rotation to true north is given.
    """
    return (
        *_closure_points(figure),
        *_shape_points(laid, figure),
        *_place_points(placed, north, has_rotation=has_rotation),
    )


def _closure_points(figure: Figure) -> Iterator[str]:
    report, closed = figure.report, figure.closed
    if report.suspects:
        numbers = ", ".join(dict.fromkeys(str(one.number) for one in report.suspects))
        yield f"a blunder is suspected (call {numbers}): the figure is the calls as they are written, not adjusted"
    if figure.is_closing_computed:
        yield "the last call gives no length, so the calls cannot be checked against each other"
    elif is_poor(figure):
        limit = POOR_PRECISION if is_poor(figure, POOR_PRECISION) else GOOD_PRECISION
        yield f"the calls close 1:{closed.precision:,.0f} only, worse than 1:{limit:,.0f}"


def _shape_points(laid: Sequence[LaidCall], figure: Figure) -> Iterator[str]:
    stated = figure.stated
    if stated is not None and figure.area_uncertainty_m2 is not None:
        slack_m2 = figure.area_uncertainty_m2 + stated.last_digit_m2 / 2.0
        if abs(figure.area_m2 - stated.area_m2) > slack_m2:
            yield (
                f"the deed says {to_acres(stated.area_m2):,.2f} ac, its calls make {to_acres(figure.area_m2):,.2f} ac: "
                "more apart than the uncertainty of the calls"
            )
    turned = turned_deg(laid)
    if abs(abs(turned) - 360.0) > _ONE_TURN_DEG:
        yield f"going round it once the calls turn through {turned:.0f} degrees, not 360: is a bearing the wrong way?"
    units = {part[1] for one in laid if one.call.distance is not None for part in one.call.distance.parts}
    if any(unit.rstrip("s").startswith(_OLD_UNITS) for unit in units):
        yield "measured by chain or pole: one that was too long or short shows in the area, and not in the closure"
    angles = [one.call.bearing.angle for one in laid if one.call.bearing is not None]
    if any(angle is not None and angle.last_digit_deg >= _COARSE_DEG for angle in angles):
        yield "bearings are written to a quarter of a degree at best"


def _place_points(placed: Placed, north: str | None, *, has_rotation: bool) -> Iterator[str]:
    if not placed.is_placed:
        yield "no corner is known, so its place on Earth is made up: give one with --corner"
    elif not has_rotation and placed.is_by_one_corner:
        kind = f"the deed counts from {north} north" if north else "what north the deed counts from is not known"
        if north != "true":
            yield f"{kind}, and no rotation to true north is given: it may lie turned round its corner"
