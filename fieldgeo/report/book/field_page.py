"""The page of one field: a map to work from, how to begin, every tool on it, where to stop, what to look out for."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Final

from fieldgeo.outline.files.geojson import plain_name
from fieldgeo.report.book.model import Chapter, Facts, Heading, Picture, Points, Table
from fieldgeo.report.lines import area_text, count_text, direction_text, length_text, or_dash, percent_text
from fieldgeo.report.map import plot_plan
from fieldgeo.report.outline_map import plot_field
from fieldgeo.report.route_text import pattern_text, rule_text
from fieldgeo.report.sheet import sheet_size
from fieldgeo.report.stops_text import amount_text, load_notes, place_text, work_text
from fieldgeo.report.text import SPILL_WORTH_SAYING_M2, field_cautions
from fieldgeo.units import FOOT_M

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from matplotlib.axes import Axes

    from fieldgeo.analysis.farm_work import FieldWork
    from fieldgeo.analysis.figures import Figures
    from fieldgeo.report.book.model import Block

_MOST_STOPS: Final = 5  # of one tool that are listed: where it stops more often, it does so as the tank fills
_MAP: Final = {"width": 340.0, "most_map_height": 250.0}  # beside how to begin, on half a page [points]
_LONG_ENOUGH: Final = 0.5  # share of the longest pass from which the first one is a line to steer by: own choice
_CAUTION: Final = "caution: "


def field_chapter(work: FieldWork, figures: Figures, *, crop: str = "") -> Chapter:
    """Return the page of a field.

    Parameters
    ----------
    work : FieldWork
        Tools laid on the field.
    figures : dict
        Its figures, from `fieldgeo.analysis.farm_figures.field_work_figures`.
    crop : str
        What grows on it; empty for not known.
    """
    name = plain_name(figures["field"])
    blocks: list[Block] = [_map(work, figures)]
    if figures["lead"] is not None:
        blocks += [Heading(text=f"To begin, with the {plain_name(figures['lead_tool'])}"), _start(figures)]
    if any("passes" in row for row in figures["tools"]):
        blocks.append(_tools(figures))
    blocks += _refusals(figures)
    blocks.append(Points(items=tuple(_cautions(figures)), are_cautions=True))
    blocks += _stops(figures)  # last, so that it is they that go on overleaf where they are many
    of_crop = f", {plain_name(crop)}" if crop else ""
    return Chapter(title=name, below=f"{area_text(figures['area_m2'])}{of_crop}", blocks=tuple(blocks))


def _map(work: FieldWork, figures: Figures) -> Picture:
    name, lead = plain_name(figures["field"]), work.lead_work
    if lead is None or lead.plan is None:
        return Picture(draw=partial(_draw, plot_field, work.field), says=f"Map of {name}: its outline.", is_map=True)
    start = figures["lead"]
    says = (
        f"Map of {name}, north up: {count_text(start['passes'], 'pass')} of the {plain_name(lead.tool.name)}, "
        f"direction {direction_text(figures['direction_deg'])}, numbered as driven, "
        f"{count_text(start['headland_rounds'], 'headland round')}"
    )
    if start["begins"] is not None:
        says += f"; the work begins at the {start['begins']['corner']}"
    stops = None if lead.loaded is None else lead.loaded.stops
    return Picture(draw=partial(_draw, plot_plan, lead.plan, stops=stops), says=says + ".", is_map=True)


def _draw(plot: Callable[..., Axes], *drawn: object, **more: object) -> Axes:
    with sheet_size(**_MAP):
        return plot(*drawn, **more)


def _start(figures: Figures) -> Facts:
    start = figures["lead"]
    why = "as given" if figures["is_given"] else "least field time of this tool; the others follow its rows"
    rows = [("direction", f"{direction_text(figures['direction_deg'])}: {why}")]
    if start["begins"] is not None:
        rows.append(("begin", f"at the {start['begins']['corner']}{_at(start['begins'])}"))
    first, longest = start["first_pass"], start["longest_pass"]
    if first is not None:
        rows.append(("first pass", _pass_text(first)))
        if first["length_m"] < _LONG_ENOUGH * longest["length_m"]:
            rows.append(("long pass", _pass_text(longest)))
    spacing = f"{start['spacing_ft']:.4g} ft ({start['spacing_m']:.4g} m) apart"
    rows.append(("passes", f"{start['passes']:,}, {spacing}"))
    rows.append(("end rows", _end_rows_text(start)))
    if start["orders"]:
        longest_block = max(start["orders"], key=lambda order: len(order["passes"]))
        blocks = count_text(len(start["orders"]), "block")
        told = rule_text(longest_block) if len(start["orders"]) == 1 else f"{blocks}, {pattern_text(longest_block)}"
        rows.append(("order", f"{told}; passes counted from the {start['counted_from']}"))
    return Facts(rows=tuple(rows))


def _pass_text(line: Figures) -> str:
    to = f" to{_place(line['end'])}" if line["end"]["lon"] is not None else ""
    from_ = f"from{_place(line['start'])}{to}: " if to else ""
    return f"{from_}bearing {line['azimuth_deg']:.1f} deg ({line['heading']}), {length_text(line['length_m'])}"


def _at(place: Figures) -> str:
    return f", {_place(place).strip()}" if place["lon"] is not None else ""


def _place(place: Figures) -> str:
    """Return a place with six decimals of a degree, 0.1 m."""
    north, east = "N" if place["lat"] >= 0 else "S", "E" if place["lon"] >= 0 else "W"
    return f" {abs(place['lat']):.6f} {north} {abs(place['lon']):.6f} {east}"


def _end_rows_text(start: Figures) -> str:
    if not start["headland_rounds"]:
        return "none: straight through, edge to edge"
    where = "on all sides" if start["headland_on_all_sides"] else "at the ends"
    when = {"first": "first", "last": "last", "between": "part by part, each before its passes", None: ""}
    return f"{count_text(start['headland_rounds'], 'round')} {where}, {when[start['end_rows']]}".rstrip(", ")


def _tools(figures: Figures) -> Table:
    laid = [row for row in figures["tools"] if "passes" in row]
    head = ["tool", "ft wide", "passes", "turns", "twice ac", "missed ac", "hours", "ac/h", "eff."]
    carries = any(row["load"] is not None for row in laid)
    if carries:
        head += ["tank lasts", "stops", "in all"]
    rows = []
    for row in laid:
        cells = [
            plain_name(row["tool"]), f"{row['width_ft']:.4g}", f"{row['passes']:,}", f"{row['turns']:,}",
            f"{row['overlap_ac']:.2f}", f"{row['skip_ac']:.2f}", f"{row['field_time_h']:.2f}",
            or_dash(row["effective_ac_h"], ".1f"), percent_text(row["field_efficiency"]),
        ]  # fmt: skip
        rows.append(tuple(cells + (_load_cells(row["load"]) if carries else [])))
    caption = "Tools on this field" + ("; their hours count the stops" if carries else "")
    return Table(caption=caption, head=tuple(head), rows=tuple(rows))


def _load_cells(load: Figures | None) -> list[str]:
    if load is None:
        return ["", "", ""]
    lasts = "-" if load["load_ac"] is None else f"{load['load_ac']:.3g} ac"
    return [lasts, f"{load['stops']:,}", amount_text(load["bring"] or load["total"])]


def _stops(figures: Figures) -> Iterator[Block]:
    """Yield where the tools stop that do so a few times."""
    rows = []
    for row in figures["tools"]:
        load = row["load"]
        if load is None or not 0 < len(load["stop_list"]) <= _MOST_STOPS:
            continue
        flow = "in" if load["job"] == "fill" else "out"
        for stop in load["stop_list"]:
            rows.append((
                plain_name(row["tool"]), f"{stop['number']}", work_text(stop), place_text(stop), _stop_place(stop),
                f"{amount_text(stop['amount'])} {flow}", amount_text(stop["left"]),
            ))  # fmt: skip
    if rows:
        head = ("tool", "stop", "after", "at", "latitude, longitude", "fill or unload", "left in the tank")
        yield Table(caption="Stops to fill or unload", head=head, rows=tuple(rows), left=5)


def _stop_place(stop: Figures) -> str:
    return "-" if stop["lon"] is None else _place(stop).strip()


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:] + "."


def _refusals(figures: Figures) -> list[Block]:
    refused = [f"{plain_name(row['tool'])}: {row['refusal']}" for row in figures["tools"] if row["refusal"]]
    return [Heading(text="What cannot be done here"), Points(items=tuple(refused))] if refused else []


def _cautions(figures: Figures) -> Iterator[str]:
    """Yield each caution once, with what it comes to for each tool."""
    laid = [row for row in figures["tools"] if "passes" in row]
    outside = [
        f"{plain_name(row['tool'])} {row['turns_outside']:,} ({row['outside_ft']:,.0f} ft)"
        for row in laid
        if row["turns_outside"]
    ]
    if outside:
        yield f"Turns that go beyond the outline: {', '.join(outside)}."
    spilled = [
        f"{plain_name(row['tool'])} {row['spill_m2'] / FOOT_M**2:,.0f} sq ft"
        for row in laid
        if row["spill_m2"] >= SPILL_WORTH_SAYING_M2
    ]
    if spilled:
        yield f"Swath over the outline or in a hole, look for fence, pole and ditch: {', '.join(spilled)}."
    for row in laid:
        if row["throws"] == "right":
            yield (
                f"{plain_name(row['tool'])} throws one way and cannot go back beside its own furrow: its figures are "
                "those of a two-way plow. Lay it out in lands (fieldgeo lay --lands)."
            )
    loads = [note for row in laid if row["load"] is not None for note in load_notes(row["load"])]
    told = dict.fromkeys([*loads, *field_cautions(parts=figures["parts"])])
    fixed = [_sentence(note.removeprefix(_CAUTION).rstrip(".")) for note in told if note.startswith(_CAUTION)]
    yield " ".join(fixed)  # in one item: they are short, and the page is to stay one page
