"""The chapters of the machines: what stands in the shed, what can pull what, whose rows fit whose; then the sources."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fieldgeo.outline.files.geojson import plain_name
from fieldgeo.report.book.model import Chapter, Heading, Points, Table, Text
from fieldgeo.report.lines import or_dash

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from fieldgeo.analysis.figures import Figures
    from fieldgeo.report.book.model import Block


def machines_chapter(shed: Figures, pull: Figures, match: Figures) -> Chapter:
    """Return the chapter of the machines.

    Parameters
    ----------
    shed : dict
        From `fieldgeo.analysis.shed_figures.shed_figures`.
    pull : dict
        From `fieldgeo.analysis.pull_figures.pull_figures`.
    match : dict
        From `fieldgeo.analysis.match_figures.match_figures`.
    """
    blocks: list[Block] = [_tools(shed)]
    if shed["tractors"]:
        blocks.append(_tractors(shed))
    if pull["rows"]:
        blocks.append(_pull(pull))
    if match["pairs"]:
        blocks.append(_match(match))
    return Chapter(title="The machines", blocks=tuple(blocks))


def _tools(shed: Figures) -> Table:
    rows = tuple(
        (
            plain_name(tool["name"]), plain_name(tool["kind"] or "-"), f"{tool['width_ft']:.4g}",
            "-" if tool["rows"] is None else f"{tool['rows']} x {tool['row_spacing_in']:.3g} in",
            f"{tool['speed_mph']:.3g}", or_dash(tool.get("depth_in"), ".3g"),
        )
        for tool in shed["tools"]
    )  # fmt: skip
    return Table(caption="Tools", head=("tool", "kind", "ft", "rows", "mph", "in deep"), rows=rows, left=2)


def _tractors(shed: Figures) -> Table:
    rows = tuple(
        (plain_name(each["name"]), plain_name(each["kind"] or "-"), each["fuel"], f"{each['power_hp']:,.0f}",
         f"{each['mass_kg'] / 907.18474:,.1f}")
        for each in shed["tractors"]
    )  # fmt: skip
    return Table(caption="Tractors", head=("tractor", "kind", "fuel", "PTO hp", "short tons"), rows=rows, left=3)


def _pull(pull: Figures) -> Table:
    rows = []
    for name in dict.fromkeys(row["tool"] for row in pull["rows"]):
        mine = [row for row in pull["rows"] if row["tool"] == name]
        fits = [row for row in mine if row["fits"]]
        least = min(fits, key=lambda row: row["pto_hp_available"]) if fits else None
        lead = min(mine, key=lambda row: row["pto_hp_needed"])
        who = "none at this speed"
        if least is not None:
            who = plain_name(least["tractor"]) if least["traction"] else "its own engine"
        draft = f"{lead['draft_lbf']:,.0f}" if lead["traction"] else "-"
        rows.append((
            plain_name(name), who, f"{lead['speed_mph']:.3g}", draft,
            f"{lead['pto_hp_needed']:.0f}", or_dash(None if least is None else least["fuel_gal_ac"], ".2f"),
        ))  # fmt: skip
    head = ("tool", "the least that pulls it", "mph", "draft lb", "PTO hp", "gal/ac")
    ground = f"{pull['soil']} soil, {pull['surface']} ground, level"
    return Table(caption=f"Pull and fuel on {ground}", head=head, rows=tuple(rows), left=2)


def _match(match: Figures) -> Table:
    rows = tuple(
        (plain_name(pair["first"]), plain_name(pair["second"]), "fits" if pair["fits"] else "does not fit", pair["why"])
        for pair in match["pairs"]
    )
    return Table(caption="Whose rows fit whose", head=("rows of", "tool", "fit", "why"), rows=rows, left=4)


def sources_chapter(assumed: Mapping[str, Sequence[str]], sources: Iterable[str], notes: Iterable[str]) -> Chapter:
    """Return the chapter of what was assumed, and where published figures come from.

    Parameters
    ----------
    assumed : mapping of str to sequence of str
        What nobody gave, by the machine or thing it is about.
    sources : iterable of str
        Sources, each once.
    notes : iterable of str
        How the figures were worked out.
    """
    blocks: list[Block] = [Heading(text="How the figures were worked out"), Points(items=tuple(notes))]
    if any(assumed.values()):
        blocks += [Heading(text="Assumed, since nobody gave it"), Points(items=tuple(_assumed(assumed)))]
    listed = tuple(dict.fromkeys(sources))
    blocks.append(Heading(text="Sources of published figures"))
    blocks.append(Points(items=listed) if listed else Text(text="None was used."))
    return Chapter(title="Assumptions and sources", blocks=tuple(blocks))


def _assumed(assumed: Mapping[str, Sequence[str]]) -> Iterator[str]:
    for about, what in assumed.items():
        if what:
            yield f"{plain_name(about)}: {'; '.join(what)}"
