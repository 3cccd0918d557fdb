"""Curved passes as lines: what is followed, how far it was smoothed, and the straight layout beside it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fieldgeo.analysis.curved.follow import numbers_text
from fieldgeo.report.lines import (
    area_text,
    count_text,
    direction_text,
    labelled,
    labelled_figure,
    labelled_wrapped,
    length_text,
    percent_text,
    table,
)
from fieldgeo.report.text import plan_lines
from fieldgeo.units import FOOT_M

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from typing import Any

# Less than this is said to be nothing: half a foot, which nobody drives to. Own choice.
_NOTHING_M = 0.15
# Share of a field, missed beyond what the straight passes miss, with which their times are not of the same work. [%]
_LESS_WORK_PCT = 1.0
# So many widths off the line that was given, passes do not follow it. Own choice.
_FAR_WIDTHS = 2.0
# What shows as a hundredth of an acre.
_LEFT_WORTH_SAYING_M2 = 20.0


def curved_lines(figures: Mapping[str, Any]) -> Iterator[str]:
    """Yield the answer of `lay` for curved passes.

    Parameters
    ----------
    figures : mapping
        From `fieldgeo.analysis.curved.figures.curved_figures`.
    """
    follow = figures["follow"]
    for line in plan_lines(dict(figures) | {"direction_deg": figures["direction_deg"] or 0.0}):
        # What is followed stands where a straight plan has its direction.
        yield from labelled_wrapped("follows", follow_text(follow)) if line.startswith("  direction ") else [line]
    yield from labelled_wrapped("least radius", _radius_text(figures))
    if follow["left_in_bends_m2"] >= _LEFT_WORTH_SAYING_M2:
        what = "left in middle" if follow["kind"] == "circle" else "left inside bends"
        yield labelled_figure(what, f"{follow['left_in_bends_ac']:.2f} ac", f"({follow['left_in_bends_ha']:.2f} ha)")
    yield from _beside_lines(figures)


def follow_text(follow: Mapping[str, Any]) -> str:
    """Return what is followed, in words.

    Parameters
    ----------
    follow : mapping
        The entry `follow`.
    """
    if follow["kind"] == "circle":
        centre = follow["centre"]
        place = "" if centre["lon"] is None else f" {centre['lon']:.6f},{centre['lat']:.6f}"
        return f"circles about{place or ' the middle'}, {count_text(follow['rings'], 'whole ring')}"
    length = length_text(follow["length_m"])
    if follow["kind"] == "line":
        return f"the line given, {length}"
    edges = follow["edges"]
    return f"edge {edges[0]} of the field, {length}" if len(edges) == 1 else f"edges {numbers_text(edges)}, {length}"


def _radius_text(figures: Mapping[str, Any]) -> str:
    follow = figures["follow"]
    radius = _short_text(follow["least_radius_m"])
    if follow["kind"] == "circle":
        innermost = follow["innermost_radius_m"]
        return radius if innermost is None else f"{radius}; innermost pass on {_short_text(innermost)}"
    moved = follow["deviation_m"]
    told = "the line as it is" if moved < _NOTHING_M else f"the line moved by up to {_short_text(moved)} to keep it"
    count = follow["smoothed_passes"]
    if count == 0 or follow["smoothed_deviation_m"] < _NOTHING_M:
        return f"{radius}; {told}"
    most = _short_text(follow["smoothed_deviation_m"])
    return f"{radius}; {told}, {count_text(count, 'pass')[: -2 if count == 1 else None]} inside bends by up to {most}"


def _short_text(length_m: float) -> str:
    return f"{length_m / FOOT_M:,.1f} ft ({length_m:,.1f} m)"


def _beside_lines(figures: Mapping[str, Any]) -> Iterator[str]:
    straight, extra_h = figures["follow"]["straight"], figures["follow"]["extra_time_h"]
    share = f" ({extra_h / straight['field_time_h']:+.1%})" if straight["field_time_h"] > 0 else ""
    yield labelled(
        "beside straight", f"{extra_h:+.2f} h{share}; straight passes run {direction_text(straight['direction_deg'])}"
    )
    rows = [
        [
            name,
            f"{each['passes']:,}",
            f"{each['turns']:,}",
            f"{each['overlap_ac']:.2f} ac",
            f"{each['skip_ac']:.2f} ac",
            f"{each['field_time_h']:.2f} h",
            percent_text(each["field_efficiency"]),
        ]
        for name, each in (("curved", figures), ("straight", straight))
    ]
    yield from table(["", "passes", "turns", "twice", "missed", "field time", "eff."], rows, left=1, indent=4)


def curved_notes(figures: Mapping[str, Any]) -> Iterator[str]:
    """Yield what a grower should know beside it.

    Parameters
    ----------
    figures : mapping
        From `fieldgeo.analysis.curved.figures.curved_figures`.
    """
    follow = figures["follow"]
    yield "note: bends are driven at the working speed; passes are taken back and forth, rings one after the other."
    less_pct = figures["skip_pct"] - follow["straight"]["skip_pct"]
    if less_pct >= _LESS_WORK_PCT:
        done = figures["worked_m2"] / figures["area_m2"]
        yield (
            f"caution: {less_pct:.1f} % more of the field is missed than by straight passes: the two times are not of "
            "the same work. Capacity and efficiency count the field whole; counting ground worked alone they are "
            f"{done * figures['effective_ac_h']:.1f} ac/h and {percent_text(done * figures['field_efficiency'])}."
        )
    if follow["deviation_m"] > _FAR_WIDTHS * figures["width_m"]:
        yield (
            f"caution: on a least radius of {_short_text(follow['least_radius_m'])} the passes hardly follow the line. "
            "A smaller --least-radius keeps nearer to it."
        )
    if follow["smoothed_passes"]:
        yield (
            "note: inside a bend passes are rounded to the least radius and lie further apart there: "
            f"{area_text(follow['left_in_bends_m2'])} between them is missed whatever the finish."
        )
    if follow["kind"] == "circle" and follow["left_in_bends_m2"] >= _LEFT_WORTH_SAYING_M2:
        yield (
            f"note: {area_text(follow['left_in_bends_m2'])} inside the last ring is left: work it straight, or not at "
            "all."
        )
