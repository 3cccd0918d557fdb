"""Answers as text for a terminal of 80 columns: answer first, a unit on every figure, from the dictionaries of figures.

Nothing is printed here; every function returns lines.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from fieldgeo.report.lines import (
    STATE_WORDS,
    area_text,
    count_text,
    direction_text,
    labelled,
    labelled_figure,
    labelled_figure_wrapped,
    or_dash,
    percent_text,
    table,
    wrap,
)
from fieldgeo.units import FOOT_M

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from fieldgeo.analysis.figures import Figures

CRITERIA_WORDS: Final = {"time": "field time", "passes": "passes", "overlap": "ground worked twice", "cost": "cost"}
# One of a kind, and several.
_TURNS: Final = {
    "corner": ("at a headland corner", "at headland corners"),
    "half-circle": ("half-circle", "half-circles"),
    "loop": ("loop", "loops"),
    "fishtail": ("fishtail", "fishtails"),
    "sidestep": ("sidestep", "sidesteps"),
}
SPILL_WORTH_SAYING_M2: Final = 1.0  # own choice: less is noise of the outline


def tool_text(figures: Figures) -> str:
    """Return a tool in one line: name, width, rows and speed."""
    rows = f", {figures['rows']} rows at {figures['row_spacing_m'] / FOOT_M * 12:.4g} in" if figures["rows"] else ""
    lap = f", lap {figures['lap_ft'] * 12:.3g} in" if figures["lap_m"] else ""
    width = f"{figures['width_ft']:.4g} ft ({figures['width_m']:.4g} m)"
    return f"{figures['tool']}: {width}{rows}{lap}, {figures['speed_mph']:.3g} mph ({figures['speed_km_h']:.3g} km/h)"


def plan_lines(figures: Figures) -> Iterator[str]:
    """Yield the answer of `lay` from `plan_figures`."""
    rounds, turns = figures["headland_rounds"], figures["turns_by_kind"]
    where = "on all sides" if figures["headland"]["all_round"] else "at the ends"
    headland = f"{count_text(rounds, 'headland round')} {where}" if rounds else "straight through, no headland"
    yield f"{figures['field']}: {area_text(figures['area_m2'])}"
    yield tool_text(figures)
    if figures.get("parts"):
        yield labelled("direction", f"one in each of {len(figures['parts'])} parts, see below")
    else:
        yield labelled("direction", direction_text(figures["direction_deg"]))
    yield labelled_figure("passes", f"{figures['passes']:,}", headland)
    kinds = (f"{count:,} {_TURNS.get(kind, (kind, kind))[count != 1]}" for kind, count in turns.items())
    yield from labelled_figure_wrapped("turns", f"{figures['turns']:,}", ", ".join(kinds))
    yield labelled_figure("worked twice", *_share_of_field(figures, "overlap"))
    yield labelled_figure("missed", *_share_of_field(figures, "skip"))
    yield labelled_figure("field time", f"{figures['field_time_h']:.2f} h")
    time = ", ".join(
        f"{STATE_WORDS.get(state, state)} {hours:.2f}" for state, hours in figures["time_h"].items() if hours >= 0.005
    )
    if time:
        yield f"    {time} h"
    yield labelled_figure("capacity", f"{or_dash(figures['effective_ac_h'], '.1f')} ac/h", _capacity_text(figures))
    yield labelled_figure(
        "field efficiency", percent_text(figures["field_efficiency"]), _published_text(figures["published_efficiency"])
    )


def plan_notes(figures: Figures) -> Iterator[str]:
    """Yield what a grower should know beside the answer of `lay`, from `plan_figures`."""
    published = figures["published_efficiency"]
    if published["source"]:
        yield f"note: published field efficiency, {published['machine']}: {published['source']}."
    if "load" not in figures:
        yield time_note()
    if figures["turns_outside"]:
        beyond = f"{figures['outside_ft']:,.0f} ft ({figures['outside_m']:,.0f} m)"
        yield f"caution: {count_text(figures['turns_outside'], 'turn')} go beyond the outline, {beyond} in all."
    if figures["spill_m2"] >= SPILL_WORTH_SAYING_M2:
        spill = f"{figures['spill_ac']:.2f} ac ({figures['spill_m2']:,.0f} m2)"
        yield f"caution: {spill} of swath lies over the outline or in a hole: look for fence, pole and ditch."


def time_note() -> str:
    """Return what the field time of a plan does not count."""
    return "note: field time leaves out filling, unloading and adjusting; published figures count them."


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
    yield f"best direction {direction_text(figures['best_deg'])}, by {CRITERIA_WORDS[figures['by']]}"
    rows = [
        [*rank_row(rank, each), f"{each['score']:,.2f}" if by_cost else percent_text(each["field_efficiency"])]
        for rank, each in enumerate(candidates, start=1)
    ]
    yield from table([*RANK_HEAD, last], rows, left=1)
    for rank, each in enumerate(candidates, start=1):
        if each["reasons"]:
            yield from wrap(f"  {rank}: {', '.join(each['reasons'])}", indent=5)
    yield from wrap(_longest_side_text(figures), indent=2)


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
            yield f"  faster on {len(faster)} of {count_text(len(saved), 'field')}" + _most(saved, faster)
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


RANK_HEAD: Final = ["   direction", "passes", "turns", "twice", "missed", "field time"]


def rank_row(rank: int, candidate: Figures) -> list[str]:
    """Return a direction as a row under `RANK_HEAD`.

    Parameters
    ----------
    rank : int
        Its place, from 1.
    candidate : dict
        An entry of `candidates`.
    """
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
        f"{or_dash(row['effective_ac_h'], '.1f')} ac/h",
        percent_text(row["field_efficiency"]),
    ]


def _longest_side_text(figures: Figures) -> str:
    longest = figures["longest_side"]
    passes = count_text(longest["passes"], "pass")
    where = f"along the longest side, {direction_text(longest['direction_deg'])}: {passes}"
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
    return f"({or_dash(figures['effective_ha_h'], '.1f')} ha/h)  {theoretical}"


def _published_text(published: Figures) -> str:
    figures = []
    if published["low"] is not None and published["high"] is not None:
        figures.append(f"{100 * published['low']:g} to {100 * published['high']:g} %")
    if published["typical"] is not None:
        figures.append(f"typically {100 * published['typical']:g} %")
    recalled = " (recalled)" if published["is_recalled"] else ""
    return f"published {', '.join(figures)}{recalled}" if figures else ""


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
