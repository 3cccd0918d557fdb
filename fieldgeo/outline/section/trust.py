"""How far the outline of a part of a section can be trusted: measured beside nominal acres, and its weak points."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from fieldgeo.outline.evidence import Evidence, Piece, SectionReport
from fieldgeo.outline.files.geojson import plain_name
from fieldgeo.outline.section.aliquot import WHOLE, Aliquot
from fieldgeo.outline.section.subdivide import area_sd_m2, part_area, ring_area, with_quarter_corners
from fieldgeo.outline.section.township import lots_of_the_north_m2, lots_of_the_west_m2, place_in_township
from fieldgeo.outline.uncertainty import SURE_95
from fieldgeo.units import to_acres

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from fieldgeo.frame import FloatArray

QUARTER_CORNERS: Final = ("N", "E", "S", "W")


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """A part of a section with the corners it is divided from."""

    text: str  # the description as it was given
    parts: tuple[Aliquot, ...]
    less: tuple[Aliquot, ...]
    section: str  # what the section is called, "" when it is not
    number: int | None  # of the section in its township
    corners: Mapping[str, FloatArray]  # given ones by name, in the section's frame [m]
    corners_from: str  # "" when the source does not say
    accuracy_m: float | None  # standard error of a corner along each axis
    accuracy_from: str


def section_evidence(wanted: Wanted) -> Evidence:
    """Return what a section description says of itself.

    Parameters
    ----------
    wanted : Wanted
        The part, and the corners of its section.

    Returns
    -------
    Evidence
        With a `SectionReport`. What is left out by "except" stands among its pieces, with its areas below zero, so that
        the pieces add up to the outline.
    """
    ring = with_quarter_corners(wanted.corners)
    pieces = (*(_piece(ring, part, 1) for part in wanted.parts), *(_piece(ring, part, -1) for part in wanted.less))
    report = SectionReport(
        text=plain_name(wanted.text),
        section=plain_name(wanted.section),
        pieces=pieces,
        nominal_m2=sum(piece.nominal_m2 for piece in pieces),
        section_m2=float(ring_area(ring)),
        corners_given=len(wanted.corners),
    )
    return Evidence(
        kind="section",
        weak_points=tuple(_weak_points(wanted, ring, report)),
        area_uncertainty_m2=None
        if wanted.accuracy_m is None
        else SURE_95 * area_sd_m2(wanted.corners, wanted.parts, wanted.less, accuracy_m=wanted.accuracy_m),
        uncertainty_from=_uncertainty_from(wanted),
        report=report,
    )


def _piece(ring: FloatArray, part: Aliquot, sign: int) -> Piece:
    return Piece(
        text=part.text if sign > 0 else f"except {part.text}",
        nominal_m2=sign * part.nominal_m2,
        measured_m2=sign * float(part_area(ring, part)),
    )


def _uncertainty_from(wanted: Wanted) -> str:
    if wanted.accuracy_m is None:
        return "it is not said how well the corners of the section are known"
    said = (
        f"every given corner of the section off by itself, standard error {wanted.accuracy_m:g} m along each axis, "
        f"{wanted.accuracy_from}, carried through the subdivision"
    )
    missing = _missing(wanted)
    return f"{said}; how far {_listed(missing)} stand from the middle of their lines is not in it" if missing else said


def _weak_points(wanted: Wanted, ring: FloatArray, report: SectionReport) -> Iterator[str]:
    missing = _missing(wanted)
    if missing:
        corners = "quarter corner" if len(missing) == 1 else "quarter corners"
        yield (
            f"{corners} {_listed(missing)} not given: taken at the middle of the line; where they stand in the "
            "ground they govern"
        )
    yield from _lots(wanted, ring)
    yield (
        f"corners from: {plain_name(wanted.corners_from)}"
        if wanted.corners_from
        else "it is not said where the corners come from; read off a map they can be some metres off"
    )
    measured_m2 = sum(piece.measured_m2 for piece in report.pieces)
    yield (
        f"aliquot acres are nominal: {to_acres(report.nominal_m2):,.2f} by name, {to_acres(measured_m2):,.2f} measured "
        f"between these corners; the section measures {to_acres(report.section_m2):,.2f} for 640"
    )
    halved = [part.text for part in (*wanted.parts, *wanted.less) if part.is_half_of_half]
    if halved:
        yield (
            f"{_listed(halved)}: the acres of a half of a half are clear, its line on the ground is disputed; here it "
            "runs through the middles of the sides of the quarters"
        )


def _lots(wanted: Wanted, ring: FloatArray) -> Iterator[str]:
    """Yield that parts along the north or west side of a township may be lots, with what those would measure."""
    reached = {side: lots for side, lots in _LOTS.items() if _reaches(wanted, side)}
    if wanted.number is None:
        if reached:
            yield (
                "the section has no number: on the north or west side of a township, government lots may lie along its "
                f"{' and '.join(reached)} side"
            )
        return
    column, row = place_in_township(wanted.number)
    for side, (steps, lots) in reached.items():
        if (row if side == "north" else column) == 1:
            by_lots = [to_acres(lot_m2) for lot_m2 in lots(ring)]
            by_halves = [to_acres(float(part_area(ring, Aliquot(steps=step)))) for step in steps]
            yield (
                f"section {wanted.number} lies on the {side} side of its township, where what is over or short goes "
                f"into government lots: along that side about {_range(by_lots)} ac each by the rule of the last 20 "
                f"chains, where halving gives {_range(by_halves)} ac; the plat governs"
            )


# The quarter-quarters along a side, and what lots in their place measure.
_LOTS: Final = {
    "north": ((("NW", "NW"), ("NE", "NW"), ("NW", "NE"), ("NE", "NE")), lots_of_the_north_m2),
    "west": ((("NW", "NW"), ("SW", "NW"), ("NW", "SW"), ("SW", "SW")), lots_of_the_west_m2),
}


def _reaches(wanted: Wanted, side: str) -> bool:
    if side == "north":
        return any(part.rectangle.north[1] == WHOLE.north[1] for part in wanted.parts)
    return any(part.rectangle.east[0] == WHOLE.east[0] for part in wanted.parts)


def _missing(wanted: Wanted) -> list[str]:
    return [name for name in QUARTER_CORNERS if name not in wanted.corners]


def _listed(names: Sequence[str]) -> str:
    return " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)


def _range(values: Sequence[float]) -> str:
    low, high = f"{min(values):,.1f}", f"{max(values):,.1f}"
    return low if low == high else f"{low} to {high}"
