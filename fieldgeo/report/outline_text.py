"""The answer of `outline` as text: acres first, how sure they are, and the weak points of the source."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from fieldgeo.report.lines import (
    area_text,
    count_text,
    direction_text,
    labelled,
    labelled_wrapped,
    length_text,
    table,
)
from fieldgeo.units import ACRE_M2, to_feet

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fieldgeo.analysis.figures import Figures

_MOST_WEAK_POINTS: Final = 4  # --json has them all
_SOURCES: Final = {"file": "file", "walk": "GPS walk", "deed": "calls of a deed", "section": "part of a section"}


def outline_lines(figures: Figures) -> Iterator[str]:
    """Yield the answer of `outline` from `field_figures`."""
    parts = count_text(figures["parts"], "part")
    holes = count_text(figures["holes"], "hole")
    changes = figures["changes"]
    mended = sum(change["area_change_m2"] for change in changes)
    yield f"{figures['name']}: {area_text(figures['area_m2'])}{_uncertainty_text(figures)}"
    yield from _source_lines(figures)
    round_it = f"{length_text(figures['perimeter_m'])} round"
    yield labelled("corners", f"{figures['corners']:,} in {parts}, {holes}; {round_it}")
    side = f"{length_text(figures['longest_side_m'])} at {direction_text(figures['longest_side_direction_deg'])}"
    yield labelled("longest side", side)
    across = f"across passes at {direction_text(figures['min_width_direction_deg'])}"
    yield labelled("least width", f"{length_text(figures['min_width_m'])} {across}")
    yield labelled("mean pass length", f"{length_text(figures['mean_pass_length_m'])} that way")
    shape = f"{figures['convexity']:.0%} of its hull, {figures['rectangularity']:.0%} of its rectangle"
    yield labelled("shape", shape)
    mends = f"{count_text(len(changes), 'change')}, {mended:+,.1f} m2" if changes else "nothing"
    system = figures["source_crs"] if figures["is_placed"] else "no place on Earth"
    yield labelled("read as", f"{system}; mended: {mends}")
    yield from _weak_lines(figures)


def course_lines(figures: Figures) -> Iterator[str]:
    """Yield the calls of a deed worked out, from `field_figures`: a table, one call a line."""
    rows = []
    for course in figures["deed"]["courses"]:
        curve = ""
        if course["kind"] == "curve":
            side = "right" if course["radius_m"] > 0 else "left"
            curve = f"{side}, radius {to_feet(abs(course['radius_m'])):,.2f} ft, {course['delta_deg']:.4f} deg"
        rows.append(
            [
                str(course["number"]),
                f"{course['azimuth_deg']:.4f}",
                *(f"{to_feet(course[key]):,.2f}" for key in ("length_m", "latitude_m", "departure_m")),
                curve,
            ]
        )
    head = ["call", "azimuth", "feet", "north", "east", "curve"]
    yield from table(head, rows, left=1)


def uncertainty_notes(figures: Figures) -> Iterator[str]:
    """Yield what stands behind the uncertainty of an area, from `field_figures`."""
    if figures["area_uncertainty_m2"] is not None:
        yield f"note: the true area is within the range 95 times in 100; counted are {figures['uncertainty_from']}."


def outline_cautions() -> Iterator[str]:
    """Yield the caution that belongs to every outline."""
    yield "caution: a planning aid, not a legal survey; a licensed surveyor decides where a line runs."


def _uncertainty_text(figures: Figures) -> str:
    half_m2 = figures["area_uncertainty_m2"]
    if half_m2 is None:
        return ""
    half_ac = half_m2 / ACRE_M2
    if half_ac < 0.01:
        return ", sure to 0.01 ac"
    return f" +/- {half_ac:,.2f} ac ({figures['area_uncertainty_pct']:.1f} %)"


def _source_lines(figures: Figures) -> Iterator[str]:
    kind = figures["source"]
    if kind == "walk":
        yield from _walk_lines(figures)
    elif kind == "deed":
        yield from _deed_lines(figures)
    elif kind == "section":
        yield from _section_lines(figures)
    if figures["area_uncertainty_m2"] is None and figures["uncertainty_from"]:
        yield from labelled_wrapped("how sure", f"not known: {figures['uncertainty_from']}")


def _walk_lines(figures: Figures) -> Iterator[str]:
    walk = figures["walk"]
    dropped = [f"{step['what']} ({step['dropped']:,})" for step in walk["steps"] if step["dropped"]]
    others = len(walk["steps"]) - len(dropped)
    nothing = f"nothing in {others} other checks" if dropped else f"nothing in {others} checks"
    yield labelled("source", f"{_SOURCES['walk']}, {walk['points_kept']:,} of {walk['points_read']:,} points kept")
    yield from labelled_wrapped("dropped", ", ".join([*dropped, nothing]))
    closed = f"{figures['closure_ft']:,.1f} ft ({figures['closure_m']:.1f} m)"
    yield labelled("closed to", f"{closed}, {figures['closure_pct']:.2f} % of the perimeter")
    if walk["gaps"]:
        total_m = sum(gap["length_m"] for gap in walk["gaps"])
        yield labelled("not walked", f"{count_text(len(walk['gaps']), 'gap')}, {length_text(total_m)} in all")
    if walk["offset_m"]:
        change = walk["offset_area_change_m2"] / ACRE_M2
        yield labelled(
            "moved out", f"{to_feet(walk['offset_m']):,.1f} ft ({walk['offset_m']:.2f} m), {change:+,.2f} ac"
        )
    if walk["thinned"]:
        change_m2 = walk["thin_area_change_m2"]
        yield labelled(
            "thinned", f"{count_text(walk['thinned'], 'point')} within {walk['thin_m']:g} m, {change_m2:+,.1f} m2"
        )


def _deed_lines(figures: Figures) -> Iterator[str]:
    deed = figures["deed"]
    precision = figures["precision"]
    if figures["misclosure_m"] is None:
        closes = "not checked: its last call is the way back and has no distance"
    else:
        closes = "exactly" if precision is None else f"1:{precision:,.0f}"
        if precision is not None:
            closes += f", off by {figures['misclosure_ft']:,.2f} ft ({figures['misclosure_m']:.2f} m)"
    yield labelled("source", f"{_SOURCES['deed']}, {count_text(len(deed['courses']), 'call')}")
    yield from labelled_wrapped("closes", closes)
    for label, key, is_outline in (
        ("raw area", "area_raw_m2", not deed["is_adjusted"]),
        ("by compass rule", "area_adjusted_m2", deed["is_adjusted"]),
    ):
        yield labelled(label, area_text(figures[key], digits=3) + (", the outline" if is_outline else ""))
    if deed["stated_area_m2"] is not None:
        yield labelled("the deed says", area_text(deed["stated_area_m2"]))


def _section_lines(figures: Figures) -> Iterator[str]:
    section = figures["section"]
    named = f", {section['section']}" if section["section"] else ""
    yield from labelled_wrapped("source", f"{section['text']}{named}, from {section['corners_given']} corners")
    yield labelled("nominal", f"{area_text(figures['nominal_m2'])}; measured {area_text(figures['area_m2'])}")
    if len(section["pieces"]) > 1:
        for piece in section["pieces"]:
            measured, nominal = piece["measured_m2"] / ACRE_M2, piece["nominal_m2"] / ACRE_M2
            yield labelled("", f"{piece['text']}: {measured:,.2f} ac measured, {nominal:,.2f} ac nominal")


def _weak_lines(figures: Figures) -> Iterator[str]:
    weak = figures["weak_points"]
    for number, point in enumerate(weak[:_MOST_WEAK_POINTS]):
        yield from labelled_wrapped("" if number else "weak points", point)
    if len(weak) > _MOST_WEAK_POINTS:
        yield labelled("", f"and {len(weak) - _MOST_WEAK_POINTS} more; --json lists them all")
