"""The answer of `season` as lines."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Any, Final

from fieldgeo.outline.files.geojson import plain_name
from fieldgeo.report.lines import area_text, labelled_wrapped, table, wrap
from fieldgeo.season.fit_days import MONTHS

if TYPE_CHECKING:
    from collections.abc import Iterator

Figures = dict[str, Any]

_NAME_COLUMNS: Final = 26
_NO_GAIN: Final = "gains nothing"
_SHOWN_OTHERS: Final = 2  # machines told beside the bottleneck


def schedule_lines(figures: Figures) -> Iterator[str]:
    """Yield the answer of `season`: finish of each operation, hours by machine, the bottleneck, losses, what if.

    Parameters
    ----------
    figures : dict
        From `fieldgeo.season.figures.season_figures`.
    """
    farm = plain_name(figures["farm"]) or "season"
    if figures["is_complete"]:
        yield f"{farm}: everything is done by {day_text(figures['finished_on'])}"
    else:
        left = figures["tasks"] - figures["tasks_done"]
        yield from wrap(
            f"{farm}: it cannot all be done; {left} of {figures['tasks']} tasks, {figures['left_h']:.1f} h of field "
            "time, are left",
            indent=2,
        )
    yield from labelled_wrapped(
        "fields",
        f"{figures['fields']}, {area_text(figures['area_m2'])}; {figures['field_h']:,.0f} h of field time, "
        f"{figures['fuel_gal']:,.0f} gal ({figures['fuel_L']:,.0f} L) of fuel",
    )
    yield from labelled_wrapped("late", loss_text(figures))
    yield from labelled_wrapped("bottleneck", bottleneck_text(figures))
    rows = [
        [
            _short(name), day_text(one["begins_on"]), day_text(one["finished_on"]), day_text(one["window_to"]),
            f"{one['field_h']:.1f}", f"{one['left_h']:.1f}" if one["left_h"] else "", f"{one['loss']:,.0f}",
        ]
        for name, one in figures["finish"].items()
    ]  # fmt: skip
    yield from table(["operation", "begins", "finished", "window to", "hours", "left h", "lost"], rows, left=1)
    rows = [
        [
            _short(use["name"]), use["kind"], str(use["tasks"]), f"{use['field_h']:.1f}",
            f"{use['road_and_hitching_h']:.1f}",
        ]
        for use in figures["machines"]
    ]  # fmt: skip
    if rows:
        yield from table(["hours by machine", "", "tasks", "in fields", "road, hitching"], rows, left=2)
    yield from _left_lines(figures)
    if figures["what_if"]:
        yield from _what_if(figures)


def loss_text(figures: Figures) -> str:
    """Return what is lost by lateness, and how sure it is that nothing loses less.

    Parameters
    ----------
    figures : dict
        From `fieldgeo.season.figures.season_figures`.
    """
    """Return what lateness costs in a schedule, from `season_figures`."""
    loss, least = figures["loss"], figures["loss_at_least"]
    if loss < 0.5:
        return "nothing is lost by lateness"
    lost = f"{loss:,.0f} lost by lateness ({figures['loss_bu']:,.0f} bu)"
    if figures["is_proven_least"]:
        return f"{lost}; proven least, with times in steps of 6 minutes"
    return f"{lost}; the least found, {least:,.0f} is lost in any case"


def bottleneck_text(figures: Figures) -> str:
    """Return what holds the season up, what an hour a day more of it is worth, and the next of them.

    Parameters
    ----------
    figures : dict
        From `fieldgeo.season.figures.season_figures`.
    """
    """Return who holds the work up and what an hour more is worth, from `season_figures`."""
    found = figures["bottleneck"]
    if found is None:
        return "none: an hour a day more of any tool, tractor or operator gains nothing in these days"
    first = f"{plain_name(found['name'])} ({found['kind']}): an hour a day more {_gain_text(found)}"
    others = [each for each in figures["hour_more"] if each["name"] != found["name"] and _gain_text(each) != _NO_GAIN]
    return "; ".join([first, *(f"{plain_name(each['name'])} {_gain_text(each)}" for each in others[:_SHOWN_OTHERS])])


def _gain_text(found: Figures) -> str:
    parts = []
    if found["left_h_less"] > 0.05:
        parts.append(f"does {found['left_h_less']:.1f} h of what is left")
    if found["loss_less"] >= 0.5:
        parts.append(f"saves {found['loss_less']:,.0f}")
    if found["days_sooner"] > 0:
        days = "1 day" if found["days_sooner"] == 1 else f"{found['days_sooner']} days"
        parts.append(f"finishes {plain_name(found['operation'])} {days} sooner")
    if not parts:
        return _NO_GAIN
    return f"{', '.join(parts)}{'' if found['searched_again'] else ' (order kept)'}"


def _left_lines(figures: Figures) -> Iterator[str]:
    """Yield what is short by how many hours, and which fields are left."""
    for name, one in figures["finish"].items():
        if not one["left_h"]:
            continue
        fields = ", ".join(plain_name(field) for field in one["left"])
        yield from labelled_wrapped(
            "left undone",
            f"{plain_name(name)}: short by {one['left_h']:.1f} h of {one['needed_h']:.1f} h (its window has "
            f"{one['window_fit_h']:.1f} fit hours, shared with other work): {fields}",
        )


def _what_if(figures: Figures) -> Iterator[str]:
    rows = [["as it is", *_row(figures, None)]]
    rows += [[_short(plain_name(each["what_if"]), 40), *_row(each, figures)] for each in figures["what_if"]]
    yield from table(["what if", "finished", "left h", "lost", "less lost"], rows, left=1)


def _row(figures: Figures, beside: Figures | None) -> list[str]:
    less = "" if beside is None else f"{beside['loss'] - figures['loss']:,.0f}"
    return [day_text(figures["finished_on"]), f"{figures['left_h']:.1f}", f"{figures['loss']:,.0f}", less]


def _short(name: str, columns: int = _NAME_COLUMNS) -> str:
    plain = plain_name(name)
    return plain if len(plain) <= columns else f"{plain[: columns - 3]}..."


def day_text(text: str | None) -> str:
    """Return a day such as "Apr 10", a dash for none.

    Parameters
    ----------
    text : str, optional
        The day, year first.
    """
    if text is None:
        return "-"
    day = date.fromisoformat(text)
    return f"{MONTHS[day.month - 1]} {day.day}"


def schedule_notes(figures: Figures) -> Iterator[str]:
    """Yield what a season rests on: days that were planned with, figures that nobody gave, how a change is meant.

    Parameters
    ----------
    figures : dict
        From `fieldgeo.season.figures.season_figures`.
    """
    chance = figures["chance"]
    how = "in the mean" if chance is None else f"so many or more in {100 * chance:g} % of years"
    yield (
        f"note: planned with {figures['fit_hours']:,.0f} fit hours from {day_text(figures['first_day'])} to "
        f"{day_text(figures['last_day'])}: {figures['hours_a_day']:g} h of a fit day, {how}. A field that is begun is "
        "finished before its machine goes on. Money is the farm's own."
    )
    if figures["assumed"]:
        yield f"note: assumed, not given: {'; '.join(figures['assumed'])}."
    for each in figures["what_if"]:
        yield f"note: {plain_name(each['what_if'])}: {plain_name(each['how'])}."
    yield from (f"note: {plain_name(note)}." for note in figures["notes"])
    if any("(order kept)" in _gain_text(each) for each in figures["hour_more"]):
        yield "note: order kept: gained without a new search, with the work in the same order; more may be gained."
    if figures["what_if"] and not figures["is_proven_least"]:
        yield "note: each what if is the least found by a search of its own; a small difference may be the search's."
    if not figures["is_complete"]:
        yield (
            "caution: what comes after a task that is left undone is left too, and nothing of it is counted as lost; "
            "after = [...] of an operation says what it cannot do without."
        )
