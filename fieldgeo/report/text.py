"""Answers as text for a terminal of 80 columns: answer first, a unit on every figure, from the dictionaries of figures.

Nothing is printed here; every function returns lines.
"""

from __future__ import annotations

import textwrap
from math import floor
from typing import TYPE_CHECKING, Final

from fieldgeo.units import ACRE_M2, FOOT_M, HECTARE_M2, MILE_M

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from fieldgeo.analysis.figures import Figures

# Ways a person says a direction: passes run both ways along it.
_WINDS: Final = ("N-S", "NNE-SSW", "NE-SW", "ENE-WSW", "E-W", "ESE-WNW", "SE-NW", "SSE-NNW")
_STATES: Final = {
    "passes": "passes",
    "headland_rounds": "end rows",
    "turning": "turns",
    "lifting": "lifting",
    "travel": "travel",
}
_CRITERIA: Final = {"time": "field time", "passes": "passes", "overlap": "ground worked twice", "cost": "cost"}
# One of a kind, and several.
_TURNS: Final = {
    "corner": ("at a headland corner", "at headland corners"),
    "half-circle": ("half-circle", "half-circles"),
    "loop": ("loop", "loops"),
}
COLUMNS: Final = 80
_LABEL_COLUMNS: Final = 18  # columns of a label
_FIGURE_COLUMNS: Final = 9  # columns of the first figure of a line

SPILL_WORTH_SAYING_M2: Final = 1.0  # own choice: less is noise of the outline


def area_text(area_m2: float, *, digits: int = 2) -> str:
    """Return an area in acres with hectares beside it.

    Examples
    --------
    >>> area_text(161874.256896)
    '40.00 ac (16.19 ha)'
    """
    return f"{area_m2 / ACRE_M2:,.{digits}f} ac ({area_m2 / HECTARE_M2:,.{digits}f} ha)"


def length_text(length_m: float) -> str:
    """Return a length in feet, or in miles from two miles up, with metres or kilometres beside it.

    Examples
    --------
    >>> length_text(804.672), length_text(8046.72)
    ('2,640 ft (805 m)', '5.0 mi (8.0 km)')
    """
    if length_m >= 2 * MILE_M:
        return f"{length_m / MILE_M:,.1f} mi ({length_m / 1000:,.1f} km)"
    return f"{length_m / FOOT_M:,.0f} ft ({length_m:,.0f} m)"


def direction_text(direction_deg: float) -> str:
    """Return an azimuth of passes in degrees, with the winds it lies between.

    Examples
    --------
    >>> direction_text(0.0), direction_text(91.25)
    ('0.0 deg (N-S)', '91.2 deg (E-W)')
    """
    shown = round(direction_deg, 1) % 180
    return f"{shown:.1f} deg ({_WINDS[floor(shown / 22.5 + 0.5) % 8]})"


def tool_text(figures: Figures) -> str:
    """Return a tool in one line: name, width, rows and speed."""
    rows = f", {figures['rows']} rows at {figures['row_spacing_m'] / FOOT_M * 12:.4g} in" if figures["rows"] else ""
    lap = f", lap {figures['lap_ft'] * 12:.3g} in" if figures["lap_m"] else ""
    width = f"{figures['width_ft']:.4g} ft ({figures['width_m']:.4g} m)"
    return f"{figures['tool']}: {width}{rows}{lap}, {figures['speed_mph']:.3g} mph ({figures['speed_km_h']:.3g} km/h)"


def outline_lines(figures: Figures) -> Iterator[str]:
    """Yield the answer of `outline` from `field_figures`."""
    parts = _count(figures["parts"], "part")
    holes = _count(figures["holes"], "hole")
    changes = figures["changes"]
    mended = sum(change["area_change_m2"] for change in changes)
    yield f"{figures['name']}: {area_text(figures['area_m2'])}"
    yield _line("perimeter", length_text(figures["perimeter_m"]))
    yield _line("corners", f"{figures['corners']:,} in {parts}, {holes}")
    side = f"{length_text(figures['longest_side_m'])} at {direction_text(figures['longest_side_direction_deg'])}"
    yield _line("longest side", side)
    yield _line("least width", f"{length_text(figures['min_width_m'])} across {_narrow_way(figures)}")
    yield _line("mean pass length", f"{length_text(figures['mean_pass_length_m'])} that way")
    yield _line("shape", f"{figures['convexity']:.0%} of its hull, {figures['rectangularity']:.0%} of its rectangle")
    yield _line("read as", figures["source_crs"])
    yield _line("mended", f"{_count(len(changes), 'change')}, {mended:+,.1f} m2" if changes else "nothing")


def plan_lines(figures: Figures) -> Iterator[str]:
    """Yield the answer of `lay` from `plan_figures`."""
    rounds, turns = figures["headland_rounds"], figures["turns_by_kind"]
    where = "on all sides" if figures["headland"]["all_round"] else "at the ends"
    headland = f"{_count(rounds, 'headland round')} {where}" if rounds else "straight through, no headland"
    yield f"{figures['field']}: {area_text(figures['area_m2'])}"
    yield tool_text(figures)
    yield _line("direction", direction_text(figures["direction_deg"]))
    yield _figure("passes", f"{figures['passes']:,}", headland)
    yield _figure(
        "turns",
        f"{figures['turns']:,}",
        ", ".join(f"{count:,} {_TURNS.get(kind, (kind, kind))[count != 1]}" for kind, count in turns.items()),
    )
    yield _figure("worked twice", *_share_of_field(figures, "overlap"))
    yield _figure("missed", *_share_of_field(figures, "skip"))
    yield _figure("field time", f"{figures['field_time_h']:.2f} h")
    time = ", ".join(
        f"{_STATES.get(state, state)} {hours:.2f}" for state, hours in figures["time_h"].items() if hours >= 0.005
    )
    if time:
        yield f"    {time} h"
    yield _figure("capacity", f"{_or_dash(figures['effective_ac_h'], '.1f')} ac/h", _capacity_text(figures))
    yield _figure(
        "field efficiency", _percent(figures["field_efficiency"]), _published_text(figures["published_efficiency"])
    )


def plan_notes(figures: Figures) -> Iterator[str]:
    """Yield what a grower should know beside the answer of `lay`, from `plan_figures`."""
    published = figures["published_efficiency"]
    if published["source"]:
        yield f"note: published field efficiency, {published['machine']}: {published['source']}."
    yield time_note()
    if figures["spill_m2"] >= SPILL_WORTH_SAYING_M2:
        spill = f"{figures['spill_ac']:.2f} ac ({figures['spill_m2']:,.0f} m2)"
        yield f"caution: {spill} of swath lies over the outline or in a hole: look for fence, pole and ditch."


def time_note() -> str:
    """Return what the field time of a plan does not count."""
    return "note: field time leaves out filling, unloading and adjusting; published figures count them."


def outline_cautions() -> Iterator[str]:
    """Yield the caution that belongs to every outline."""
    yield "caution: a planning aid, not a legal survey; a licensed surveyor decides where a line runs."


def field_cautions(*, parts: int) -> Iterator[str]:
    """Yield the cautions that belong to a plan on a field of so many parts."""
    yield "caution: a planning aid, not a legal survey. Keep clear of overhead lines."
    if parts > 1:
        yield "caution: on a road between the parts, wide machines follow local law."


def direction_lines(figures: Figures) -> Iterator[str]:
    """Yield the answer of `direction` for one tool, from `direction_figures`."""
    by_cost = figures["by"] == "cost"
    last = "cost" if by_cost else "eff."
    candidates = figures["candidates"]
    yield f"{figures['field']}: {area_text(figures['area_m2'])}"
    yield tool_text(figures)
    yield f"best direction {direction_text(figures['best_deg'])}, by {_CRITERIA[figures['by']]}"
    rows = [
        [*_rank_row(rank, each), f"{each['score']:,.2f}" if by_cost else _percent(each["field_efficiency"])]
        for rank, each in enumerate(candidates, start=1)
    ]
    yield from table([*_RANK_HEAD, last], rows, left=1)
    for rank, each in enumerate(candidates, start=1):
        if each["reasons"]:
            yield from wrap(f"  {rank}: {', '.join(each['reasons'])}", indent=5)
    yield from wrap(_longest_side_text(figures), indent=2)


def shared_lines(figures: Figures) -> Iterator[str]:
    """Yield the shared best of several tools: the directions ranked by their field time together."""
    yield f"{figures['field']}: {area_text(figures['area_m2'])}"
    tools = f"{len(figures['tools'])} tools together"
    yield f"best direction for {tools} {direction_text(figures['best_deg'])}, by field time"
    rows = [_rank_row(rank, each) for rank, each in enumerate(figures["candidates"], start=1)]
    yield from table(_RANK_HEAD, rows, left=1)
    for tool in figures["by_tool"]:
        best = tool["candidates"][0]
        yield f"  {tool['tool']} alone: {direction_text(best['direction_deg'])}, {best['field_time_h']:.2f} h"


def compare_lines(figures: Figures) -> Iterator[str]:
    """Yield the answer of `compare` from `compare_figures`: each field and tool, the totals, and who gains where."""
    letters = {tool: _letter(number) for number, tool in enumerate(figures["tools"])}
    for row in figures["rows"][: len(letters)]:
        yield f"{letters[row['tool']]} = {tool_text(row)}"
    rows = [[row["field"], letters[row["tool"]], *_compare_row(row)] for row in figures["rows"]]
    if len(figures["fields"]) > 1:
        rows += [["all fields", letters[total["tool"]], *_compare_row(total)] for total in figures["totals"]]
    head = ["field", "", "passes", "turns", "twice", "missed", "time", "rate", "eff."]
    yield from table(head, _without_repeats(rows), left=2, indent=0)
    yield from gain_lines(figures, letters)
    if "paying_width" in figures:
        yield paying_line(figures["paying_width"])


def gain_lines(figures: Figures, letters: dict[str, str]) -> Iterator[str]:
    """Yield where each tool saves field time against the first, and where it loses.

    Parameters
    ----------
    figures : dict
        From `compare_figures`.
    letters : dict
        What each tool is called here.
    """
    first, *others = figures["tools"]
    hours = {(row["field"], row["tool"]): row["field_time_h"] for row in figures["rows"]}
    totals = {total["tool"]: total["field_time_h"] for total in figures["totals"]}
    for tool in others:
        saved = {name: hours[name, first] - hours[name, tool] for name in figures["fields"]}
        faster = [name for name, gain in saved.items() if gain > 0]
        slower = sorted((name for name, gain in saved.items() if gain < 0), key=saved.__getitem__)
        total = totals[first] - totals[tool]
        share = f" ({abs(total) / totals[first]:.0%})" if totals[first] > 0 else ""
        does = "saves" if total >= 0 else "loses"
        yield f"{letters[tool]} {does} {abs(total):.2f} h{share} of field time against {letters[first]}"
        if len(saved) > 1:
            yield f"  faster on {len(faster)} of {_count(len(saved), 'field')}" + _most(saved, faster)
            if slower:
                yield from wrap(
                    "  slower on " + ", ".join(f"{name} ({-saved[name]:.2f} h)" for name in slower), indent=4
                )


def paying_line(figures: Figures) -> str:
    """Return from what added width on the wider of two tools pays, from `paying_figures`."""
    narrow, wide = f"{figures['narrow_width_ft']:.4g} ft", f"{figures['wide_width_ft']:.4g} ft"
    extra = f", an hour of it costing {figures['extra_cost_pct']:.3g} % more" if figures["extra_cost_pct"] else ""
    least_ft = figures["least_difference_ft"]
    if least_ft is None:
        return f"no width between {narrow} and {wide} pays on this ground{extra}"
    least = f"{least_ft:.1f} ft ({figures['least_difference_m']:.2f} m)"
    return f"beside {narrow}, a wider tool pays from {least} of added width on{extra}"


def wrap(text: str, *, indent: int) -> list[str]:
    """Return a text in lines of `COLUMNS` at most; all but the first are indented."""
    return textwrap.wrap(text, COLUMNS, subsequent_indent=" " * indent, break_long_words=False, break_on_hyphens=False)


def table(head: Sequence[str], rows: Sequence[Sequence[str]], *, left: int, indent: int = 2) -> Iterator[str]:
    """Yield the lines of a table, columns as wide as they need to be.

    Parameters
    ----------
    head : sequence of str
        Names of the columns.
    rows : sequence of sequence of str
        Cells.
    left : int
        So many columns stand to the left, the others to the right.
    indent : int
        Spaces before each line.
    """
    widths = [max(map(len, column)) for column in zip(head, *rows, strict=True)]
    for cells in (head, *rows):
        aligned = [f"{cell:{'<' if at < left else '>'}{widths[at]}}" for at, cell in enumerate(cells)]
        yield " " * indent + "  ".join(aligned).rstrip()


_RANK_HEAD: Final = ["   direction", "passes", "turns", "twice", "missed", "field time"]


def _rank_row(rank: int, candidate: Figures) -> list[str]:
    return [
        f"{rank:2} {direction_text(candidate['direction_deg'])}",
        f"{candidate['passes']:,}",
        f"{candidate['turns']:,}",
        f"{candidate['overlap_ac']:.2f} ac",
        f"{candidate['skip_ac']:.2f} ac",
        f"{candidate['field_time_h']:.2f} h",
    ]


def _compare_row(row: Figures) -> list[str]:
    return [
        f"{row['passes']:,}",
        f"{row['turns']:,}",
        f"{row['overlap_ac']:.2f} ac",
        f"{row['skip_ac']:.2f} ac",
        f"{row['field_time_h']:.2f} h",
        f"{_or_dash(row['effective_ac_h'], '.1f')} ac/h",
        _percent(row["field_efficiency"]),
    ]


def _longest_side_text(figures: Figures) -> str:
    longest = figures["longest_side"]
    where = f"along the longest side, {direction_text(longest['direction_deg'])}: {_count(longest['passes'], 'pass')}"
    extra = longest["extra_time_h"]
    if abs(extra) < 0.005 and longest["extra_passes"] == 0:
        return f"{where}, no worse than the best"
    best_h = figures["candidates"][0]["field_time_h"]
    share = f" ({extra / best_h:+.1%})" if best_h > 0 else ""
    cost = f", cost {longest['extra_score']:+,.2f}" if figures["by"] == "cost" else ""
    return f"{where} ({longest['extra_passes']:+,}), {extra:+.2f} h{share}{cost}"


def _share_of_field(figures: Figures, what: str) -> tuple[str, str]:
    return (
        f"{figures[f'{what}_ac']:.2f} ac",
        f"({figures[f'{what}_ha']:.2f} ha)  {figures[f'{what}_pct']:.1f} % of the field",
    )


def _capacity_text(figures: Figures) -> str:
    theoretical = f"theoretical {figures['theoretical_ac_h']:.1f} ac/h ({figures['theoretical_ha_h']:.1f} ha/h)"
    return f"({_or_dash(figures['effective_ha_h'], '.1f')} ha/h)  {theoretical}"


def _published_text(published: Figures) -> str:
    figures = []
    if published["low"] is not None and published["high"] is not None:
        figures.append(f"{100 * published['low']:g} to {100 * published['high']:g} %")
    if published["typical"] is not None:
        figures.append(f"typically {100 * published['typical']:g} %")
    recalled = " (recalled)" if published["is_recalled"] else ""
    return f"published {', '.join(figures)}{recalled}" if figures else ""


def _narrow_way(figures: Figures) -> str:
    return f"passes at {direction_text(figures['min_width_direction_deg'])}"


def _letter(number: int) -> str:
    return chr(ord("A") + number % 26) + (str(number // 26) if number >= 26 else "")


def _most(saved: dict[str, float], faster: Sequence[str]) -> str:
    if not faster:
        return ""
    most = max(faster, key=saved.__getitem__)
    return f", most on {most} ({saved[most]:.2f} h)"


def _without_repeats(rows: Sequence[Sequence[str]]) -> list[list[str]]:
    """Return rows with the first cell left empty where it repeats the one above."""
    above: Iterable[str] = [""] + [row[0] for row in rows]
    return [["" if row[0] == last else row[0], *row[1:]] for row, last in zip(rows, above, strict=False)]


def _line(label: str, text: str) -> str:
    return f"  {label:<{_LABEL_COLUMNS}}{text}"


def _figure(label: str, figure: str, beside: str = "") -> str:
    """Return a line with a figure to the right of its column, and what stands beside it."""
    return f"  {label:<{_LABEL_COLUMNS}}{figure:>{_FIGURE_COLUMNS}}  {beside}".rstrip()


def _count(number: int, what: str) -> str:
    plural = f"{what}es" if what.endswith("ss") else f"{what}s"
    return f"{number:,} {what if number == 1 else plural}" if number else f"no {plural}"


def _percent(share: float | None) -> str:
    return "-" if share is None else f"{100 * share:.1f} %"


def _or_dash(value: float | None, form: str) -> str:
    return "-" if value is None else format(value, form)
