"""The answer of `cost` as lines."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from fieldgeo.machinery.tables import HOW_KNOWN
from fieldgeo.outline.files.geojson import plain_name
from fieldgeo.report.lines import labelled, labelled_wrapped, table
from fieldgeo.report.pull_text import assumed_text

if TYPE_CHECKING:
    from collections.abc import Iterator

Figures = dict[str, Any]

_ENTRY_NAMES: Final = {"taxes_insurance_housing": "taxes, insurance, housing"}


def cost_lines(figures: Figures) -> Iterator[str]:
    """Yield the answer of `cost`: the sums, what they are made of, and where another way becomes cheaper.

    Parameters
    ----------
    figures : dict
        From `fieldgeo.analysis.cost_figures.cost_figures`.
    """
    total = figures["total"]
    yield f"{_machines(figures)}: {total['acre']:,.2f} an acre, {total['hour']:,.2f} an hour"
    yield labelled("work", f"{figures['area_ac']:,.4g} ac ({figures['area_m2'] / 1e4:,.4g} ha) a year, "
                   f"{figures['field_h']:,.1f} h of field time")  # fmt: skip
    yield from _capacity(figures)
    yield labelled("fuel", f"{figures['fuel_gal_ac']:.2f} gal/ac, {figures['fuel_gal_h']:.1f} gal/h "
                   f"({figures['fuel_L_h']:.1f} L/h)")  # fmt: skip
    rows = [
        [_ENTRY_NAMES.get(name, name), f"{ways['year']:,.0f}", f"{ways['hour']:,.2f}", f"{ways['acre']:,.2f}"]
        for name, ways in figures["entries"].items()
        if ways["year"]
    ]
    rows.append(["total", f"{total['year']:,.0f}", f"{total['hour']:,.2f}", f"{total['acre']:,.2f}"])
    yield from table(["", "a year", "an hour", "an acre"], rows, left=1)
    for machine in figures["machines"]:
        yield from labelled_wrapped(
            _short(plain_name(machine["name"])),
            f"worth {machine['value_now']:,.0f} now, {machine['value_at_end']:,.0f} in {machine['keep_years']:g} "
            f"years; {machine['per_hour']:,.2f} an hour at {machine['use_h_yr']:,.0f} h a year",
        )
    if "against" in figures:
        yield from _against(figures)
    if "hired" in figures:
        yield from _hired(figures["hired"])


def _machines(figures: Figures) -> str:
    tool = plain_name(figures["tool"])
    own = figures["tractor"] == "its own engine"
    return tool if own else f"{tool} behind {plain_name(figures['tractor'])}"


def _capacity(figures: Figures) -> list[str]:
    return labelled_wrapped(
        "capacity",
        f"{figures['effective_ac_h']:.1f} ac/h ({figures['effective_ha_h']:.1f} ha/h), field efficiency "
        f"{100 * figures['field_efficiency']:.1f} % ({figures['field_efficiency_from']})",
    )


def _short(name: str) -> str:
    return name if len(name) < 18 else f"{name[:14]}..."


def _against(figures: Figures) -> Iterator[str]:
    beside = figures["against"]
    total = beside["total"]
    yield f"{_machines(beside)}: {total['acre']:,.2f} an acre, {total['hour']:,.2f} an hour"
    yield from _capacity(beside)
    saving = beside["saving_year"]
    cheaper, more = (figures, saving) if saving >= 0 else (beside, -saving)
    yield labelled("cheaper here", f"{plain_name(cheaper['tool'])}, by {more:,.0f} a year")
    yield from labelled_wrapped("break-even", _crossings_text(figures["break_even"]))


def _hired(hired: Figures) -> Iterator[str]:
    saves = hired["own_saves_year"]
    which = "own" if saves >= 0 else "hired"
    yield labelled("hired", f"{hired['per_ac']:,.2f} an acre: {which} is cheaper here, by {abs(saves):,.0f} a year")
    yield from labelled_wrapped("break-even", _crossings_text(hired))


def _crossings_text(found: Figures) -> str:
    """Return which way is cheaper over which areas."""
    areas, cheaper = found["areas_ac"], [plain_name(name) for name in found["cheaper"]]
    if not areas:
        return f"none: {cheaper[0]} is cheaper from {found['from_ac']:,.0f} to {found['to_ac']:,.0f} ac a year"
    parts = [f"{cheaper[0]} below {areas[0]:,.0f} ac a year"]
    parts += [
        f"{name} from {low:,.0f} to {high:,.0f} ac"
        for name, low, high in zip(cheaper[1:-1], areas, areas[1:], strict=False)
    ]
    parts.append(f"{cheaper[-1]} above {areas[-1]:,.0f} ac")
    return "; ".join(parts)


def cost_notes(figures: Figures) -> Iterator[str]:
    """Yield what a cost rests on: every figure that nobody gave, and how well published ones are known.

    Parameters
    ----------
    figures : dict
        From `fieldgeo.analysis.cost_figures.cost_figures`.
    """
    beside = [figures["against"]] if "against" in figures else []
    for each in (figures, *beside):
        yield from (f"note: {note}." for note in each["notes"])
    if figures["assumed"]:
        yield f"note: assumed, not given: {assumed_text(figures['assumed'])}."
    known: dict[str, str] = {}
    machines = {machine["name"]: machine for each in (figures, *beside) for machine in each["machines"]}
    for machine in machines.values():
        if machine["end_h"] > machine["life_h"]:
            yield (
                f"caution: {plain_name(machine['name'])} has {machine['end_h']:,.0f} h after {machine['keep_years']:g} "
                f"years, more than its published life of {machine['life_h']:,.0f} h; what repairs cost by then is "
                "beyond the table."
            )
    for machine in machines.values():
        for what in ("remaining_value_figures", "repair_figures"):
            found = machine[what]
            if not found["status"].startswith("read"):
                known.setdefault(f"{what.replace('_', ' ')} as of {found['as']}", HOW_KNOWN[found["status"]])
    yield from (f"caution: {what}: {how}." for what, how in known.items())
    if not figures["entries"]["timeliness"]["year"]:
        yield "note: lateness is not counted; --crop-value and --daily-loss count it."
    elif "hired" in figures:
        yield "note: lateness is counted for your own machines; hired work is taken to be done on time."


def season_cost_lines(figures: Figures) -> Iterator[str]:
    """Yield what an acre of each operation of a season costs.

    Parameters
    ----------
    figures : dict
        From `fieldgeo.season.costs_figures.costs_figures`.
    """
    if not figures["operations"]:
        return
    rows = [
        (plain_name(each["operation"]), f"{each['area_ac']:,.0f}", f"{each['per_h']:,.0f}", f"{each['per_ac']:,.2f}",
         f"{each['total']:,.0f}")
        for each in figures["operations"]
    ]  # fmt: skip
    rows.append(("all, over the fields", f"{figures['area_ac']:,.0f}", "", f"{figures['per_ac']:,.2f}",
                 f"{figures['total']:,.0f}"))  # fmt: skip
    yield from table(("what it costs", "ac", "an hour", "an acre", "all"), rows, left=1)


def season_cost_notes(figures: Figures) -> Iterator[str]:
    """Yield what the cost of a season rests on, from `fieldgeo.season.costs_figures.costs_figures`."""
    prices = figures["prices"]
    yield (
        f"note: cost with fuel at {prices['fuel_per_gal']:.2f} a gallon, labor at {prices['wage_h']:.2f} an hour, "
        f"interest {prices['interest_pct']:g} %: placeholders, no source. The verb cost takes your own, and lists "
        "every figure that is assumed."
    )
    yield from (f"note: no cost of {plain_name(each)}" for each in figures["left_out"])
