"""The answers of `pull` and `shed` as lines."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from fieldgeo.machinery.fuel import PER_ACRE_SPREAD
from fieldgeo.machinery.tables import HOW_KNOWN
from fieldgeo.outline.files.geojson import plain_name
from fieldgeo.report.lines import COLUMNS, count_text, labelled, or_dash, table, wrap

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

Figures = dict[str, Any]

_NAME_COLUMNS: Final = 22  # of a tool in the table; a longer name is cut
_DRAFT_COLUMNS: Final = 32
_MOST_TRACTORS: Final = 4  # columns of the table


def pull_lines(figures: Figures) -> Iterator[str]:
    """Yield the answer of `pull`: one pairing in full, or a table of tools by tractors.

    Parameters
    ----------
    figures : dict
        From `fieldgeo.analysis.pull_figures.pull_figures`.
    """
    rows = figures["rows"]
    slope = f", {figures['slope_pct']:g} % uphill" if figures["slope_pct"] else ", level"
    ground = f"{figures['soil']} soil, {figures['surface']} ground{slope}"
    if len(rows) == 1:
        yield from _one(rows[0], ground)
        yield from _fields(figures.get("fields", []))
        return
    yield f"{plain_name(figures['farm'] or 'the shed')}: {ground}"
    if not rows:
        yield "  nothing is known of what its tools ask for"
        return
    tractors = list(dict.fromkeys(row["tractor"] for row in rows if row["traction"]))
    for first in range(0, max(1, len(tractors)), _MOST_TRACTORS):
        yield from _matrix(rows, tractors, first)
    for number, name in enumerate(tractors, start=1):
        power = next(row["pto_hp_available"] for row in rows if row["tractor"] == name)
        yield f"  [{number}] {plain_name(name)}, {power:.0f} hp at the power take-off"
    yield "  lb: draft, own: its own engine; hp: power needed; %: fits, of the power;"
    yield "  *: low, half of it would do; to: short, and the fastest it holds in mph"


def _matrix(rows: Sequence[Figures], tractors: Sequence[str], first: int) -> Iterator[str]:
    shown = tractors[first : first + _MOST_TRACTORS]
    columns = [f"[{first + at + 1}]" for at in range(len(shown))] or ["own"]
    cells = []
    for name in dict.fromkeys(row["tool"] for row in rows):
        mine = [row for row in rows if row["tool"] == name]
        own = mine[0]["traction"] is None
        if own and first:
            continue  # stands in the first table
        by_tractor = {row["tractor"]: row for row in mine}
        least = min([row for row in mine if row["fits"]] or mine, key=lambda row: row["pto_hp_available"])
        lead = min(mine, key=lambda row: row["pto_hp_needed"])
        verdicts = [_verdict(mine[0])] if own else [_verdict(by_tractor[each]) for each in shown]
        cells.append([
            _cut(plain_name(name)), f"{lead['speed_mph']:.3g}", "own" if own else f"{lead['draft_lbf']:,.0f}",
            f"{lead['pto_hp_needed']:.0f}", *verdicts, *[""] * (len(columns) - len(verdicts)),
            or_dash(least["fuel_gal_ac"], ".2f"),
        ])  # fmt: skip
    yield from table(["tool", "mph", "lb", "hp", *columns, "gal/ac"], cells, left=1)


def _cut(name: str, columns: int = _NAME_COLUMNS) -> str:
    return name if len(name) <= columns else f"{name[: columns - 3]}..."


def _verdict(row: Figures) -> str:
    if row["fits"]:
        return f"{100 * row['load_share']:.0f}%{'*' if row['overpowered'] else ''}"
    return "no" if row["fastest_mph"] is None else f"to {row['fastest_mph']:.1f}"


def _one(row: Figures, ground: str) -> Iterator[str]:
    yield (
        f"{plain_name(row['tool'])} behind {plain_name(row['tractor'])}: {_answer(row)}"
        if row["traction"]
        else (f"{plain_name(row['tool'])}, its own engine: {_answer(row)}")
    )
    yield labelled("ground", ground)
    depth = "" if row["depth_in"] is None else f", {row['depth_in']:.3g} in deep"
    yield labelled("work", f"{row['width_ft']:.4g} ft ({row['width_m']:.2f} m) wide{depth}, {row['speed_mph']:.3g} mph")
    if row["traction"]:
        yield labelled("draft", f"{row['draft_lbf']:,.0f} lb ({row['draft_N'] / 1000:.1f} kN), {_range(row)}")
        if row["slope_lbf"]:
            yield labelled("climbing", f"{row['slope_lbf']:,.0f} lb ({row['slope_N'] / 1000:.1f} kN)")
        yield labelled("drawbar power", _power(row, "drawbar"))
    else:
        yield labelled("rolling", f"{row['rolling_lbf']:,.0f} lb ({row['rolling_N'] / 1000:.1f} kN)")
    yield labelled("axle power", _power(row, "axle"))
    if row["rotary_kW"]:
        yield labelled("shafts", _power(row, "rotary"))
    yield labelled(
        "power needed",
        f"{row['pto_hp_needed']:.0f} hp ({row['pto_kW_needed']:.0f} kW) of {row['pto_hp_available']:.0f} hp "
        "at the power take-off",
    )
    yield labelled("", f"{100 * row['load_share']:.0f} %, limit {100 * row['load_limit']:.0f} %; engine "
                   f"{row['engine_hp_needed']:.0f} hp net")  # fmt: skip
    yield labelled("fastest", _fastest(row))
    yield labelled("fuel", f"{row['fuel_gal_h']:.1f} gal/h ({row['fuel_L_h']:.1f} L/h) at work")
    if row["fuel_gal_ac"] is not None:
        yield labelled("", _per_acre(row))
    for beside in row["published_fuel"]:
        yield labelled("", f"table: {beside['gal_ac']:.2f} gal/ac, {beside['work']}")
    if row["within_spread"] is False:
        yield labelled("", f"beyond the tables' own spread of {100 * PER_ACRE_SPREAD:.0f} %")


def _fields(fields: Sequence[Figures]) -> Iterator[str]:
    if not fields:
        return
    head = ["field", "ac", "h", "gal", "work", "turn", "stand", "gal/ac", "slope", "hp"]
    cells = []
    for each in fields:
        parts = each["by_state_L"]
        shares = [f"{100 * parts[name] / each['fuel_L']:.0f}%" for name in ("working", "turning", "standing")]
        power = f"{each['pto_hp_needed']:.0f}" if each["fits"] else f"to {or_dash(each['fastest_mph'], '.1f')}"
        cells.append([
            _cut(plain_name(each["field"])), f"{each['area_ac']:.1f}", f"{each['time_h']:.2f}",
            f"{each['fuel_gal']:.1f}", *shares, f"{each['fuel_gal_ac']:.2f}", f"{each['slope_pct']:.1f}%", power,
        ])  # fmt: skip
    yield from table(head, cells, left=1)
    gallons, acres = (sum(each[name] for each in fields) for name in ("fuel_gal", "area_ac"))
    stops = "stops counted" if all(each["counts_stops"] for each in fields) else "stops to fill or unload not counted"
    yield labelled("all fields", f"{gallons:,.1f} gal on {acres:,.1f} ac, {gallons / acres:.2f} gal/ac")
    yield labelled("", stops)


def _range(row: Figures) -> str:
    if row["draft_figures"] is None:
        return "by your own figure"
    return f"published range {row['draft_low_lbf']:,.0f} to {row['draft_high_lbf']:,.0f} lb"


def _answer(row: Figures) -> str:
    if not row["fits"]:
        slower = row["fastest_mph"]
        return "cannot be pulled" if slower is None else f"short at {row['speed_mph']:.3g} mph, holds {slower:.1f} mph"
    if row["overpowered"]:
        return "fits; half the power would do"
    return "fits" if row["fits_in_hard_ground"] else "fits, but not at the hard end of the range"


def _power(row: Figures, name: str) -> str:
    return f"{row[f'{name}_hp']:.0f} hp ({row[f'{name}_kW']:.1f} kW)"


def _fastest(row: Figures) -> str:
    if row["fastest_mph"] is None:
        return "none: even standing still nearly asks for more than there is"
    normal = ""
    if row["normal_low_mph"] is not None and row["normal_high_mph"] is not None:
        normal = f"; good work from {row['normal_low_mph']:.3g} to {row['normal_high_mph']:.3g} mph"
    return f"{row['fastest_mph']:.1f} mph ({3.6 * row['fastest_m_s']:.1f} km/h){normal}"


def _per_acre(row: Figures) -> str:
    efficiency = 100 * row["fuel_efficiency_assumed"]
    return f"{row['fuel_gal_ac']:.2f} gal/ac ({row['fuel_L_ha']:.1f} L/ha) at {efficiency:.0f} % field efficiency"


def pull_notes(figures: Figures) -> Iterator[str]:
    """Yield what the figures of `pull` rest on, and the cautions.

    Parameters
    ----------
    figures : dict
        From `fieldgeo.analysis.pull_figures.pull_figures`.
    """
    tools = list(dict.fromkeys(row["tool"] for row in figures["rows"]))
    if len(tools) > 1 and any(row["assumed"] for row in figures["rows"]):
        yield (
            "note: what the shed leaves out of depth, soil units and draft is taken as is usual of the kind (common "
            "practice, no source): fieldgeo shed FILE lists it, and so does --tool."
        )
    for row in figures["rows"] if len(tools) == 1 else ():
        if row["assumed"]:
            yield f"note: {plain_name(row['tractor'])}: assumed, not given: {assumed_text(row['assumed'])}."
    if figures["assumed"]:
        yield f"note: assumed, not given: {assumed_text(figures['assumed'])}."
    yield from (f"note: {text}" for text in figures["left_out"])
    known: dict[str, str] = {}
    for row in figures["rows"]:
        for what in ("draft_figures", "rotary_figures", "fuel_equation", "traction"):
            found = row[what]
            if found and not found["status"].startswith("read"):
                source = found["source"].partition(";")[0].replace(", recalled", "")
                known[f"{what.replace('_', ' ')}: {source}"] = HOW_KNOWN[found["status"]]
    yield from (f"caution: {what}; {how}." for what, how in known.items())
    doubts = {
        found["note"]: found["as"] for row in figures["rows"] if (found := row["draft_figures"]) and found["note"]
    }
    yield from (f"caution: draft figures as of {name}: {note.rstrip('.')}." for note, name in doubts.items())
    yield from {
        f"caution: tractive ratio of {found['drive']}: {found['note'].rstrip('.')}.": None
        for row in figures["rows"]
        if (found := row["traction"]) and found["note"]
    }
    yield (
        "caution: draft differs by half and more between soils and seasons; a tractor pulls no more than its ballast "
        "and tires hold. Slope figures do not certify a machine safe on a side hill: see its manual."
    )


def shed_lines(figures: Figures) -> Iterator[str]:
    """Yield the answer of `shed`: every tool and tractor, what was measured and what is assumed.

    Parameters
    ----------
    figures : dict
        From `fieldgeo.analysis.shed_figures.shed_figures`.
    """
    tools, tractors = figures["tools"], figures["tractors"]
    counts = f"{count_text(len(tools), 'tool')}, {count_text(len(tractors), 'tractor')}"
    yield f"{plain_name(figures['farm'] or 'shed')}: {counts}"
    yield from table(["tool", "draft of", "ft", "mph", "in deep"], [_tool_cells(tool) for tool in tools], left=2)
    if tractors:
        yield from table(["tractor", "kind", "fuel", "hp"], [_tractor_cells(each) for each in tractors], left=3)
    for machine in (*tools, *tractors):
        yield from _said(machine)


def _tool_cells(tool: Figures) -> list[str]:
    draft = tool.get("draft_as") or tool.get("rotary_as") or ""
    if tool.get("draft_N_m") is not None:
        draft = "its own figure"
    return [
        _cut(plain_name(tool["name"])), _cut(draft, _DRAFT_COLUMNS) or "-", f"{tool['width_ft']:.4g}",
        f"{tool['speed_mph']:.3g}", or_dash(tool.get("depth_in"), ".3g"),
    ]  # fmt: skip


def _tractor_cells(tractor: Figures) -> list[str]:
    return [_cut(plain_name(tractor["name"])), tractor["kind"] or "-", tractor["fuel"], f"{tractor['power_hp']:.0f}"]


def _said(machine: Figures) -> Iterator[str]:
    """Yield what is to be said of one tool or tractor; nothing where there is nothing."""
    own = machine["owned"]
    said = []
    if own is not None:
        age = f"{own['age_years']:g} years old" if own["age_years"] else "new"
        use = "" if own["use_h_yr"] is None else f", {own['use_h_yr']:g} h a year"
        said.append(f"price {own['price']:,.0f}, {age}, kept {own['keep_years']:g} years{use}")
    if machine.get("measured"):
        said.append(f"measured, from a log: {', '.join(machine['measured'])}")
    assumed = [each for each in machine["assumed"] if each["what"] != "draft as of"]
    if assumed:
        said.append(f"assumed: {assumed_text(assumed)}")
    said += machine["notes"]
    for text in said:
        yield from (
            f"  {line}" for line in wrap(f"{plain_name(machine['name'])}: {text}", indent=2, columns=COLUMNS - 2)
        )


def shed_notes(figures: Figures) -> Iterator[str]:
    """Yield how well the published figures are known that the shed's tools rest on.

    Parameters
    ----------
    figures : dict
        From `fieldgeo.analysis.shed_figures.shed_figures`.
    """
    usual = [tool for tool in figures["tools"] if any(each["what"] == "draft as of" for each in tool["assumed"])]
    if usual:
        yield f"note: the draft of {count_text(len(usual), 'tool')} is as usual of the kind; draft_as sets another."
    known = dict.fromkeys(tool["draft_status"] for tool in figures["tools"] if tool.get("draft_status"))
    for status in known:
        names = [plain_name(tool["name"]) for tool in figures["tools"] if tool.get("draft_status") == status]
        if not status.startswith("read"):
            yield f"caution: draft of {', '.join(names)}: {HOW_KNOWN[status]}."


def assumed_text(assumed: Sequence[Figures]) -> str:
    """Return assumptions in one line, those of the same source together.

    Parameters
    ----------
    assumed : sequence of dict
        What, value and source of each.
    """
    by_source: dict[str, list[str]] = {}
    for each in assumed:
        by_source.setdefault(each["source"], []).append(f"{each['what']} {each['value']}")
    return "; ".join(f"{', '.join(values)} ({source})" for source, values in by_source.items())
