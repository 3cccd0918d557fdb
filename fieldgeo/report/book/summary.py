"""The first chapter of a book: the farm on one page, its fields and its tools."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from fieldgeo.outline.files.geojson import plain_name
from fieldgeo.report.book.model import Chapter, Facts, Picture, Points, Table
from fieldgeo.report.farm_map import can_draw_farm, plot_farm
from fieldgeo.report.lines import area_text, count_text, direction_text, or_dash, percent_text

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from fieldgeo.analysis.figures import Figures
    from fieldgeo.outline.field import Field
    from fieldgeo.report.book.model import Block

ON_PAPER = (
    "A planning aid, not a legal survey: a licensed surveyor decides where a line runs.",
    "Keep clear of overhead lines. On a road, wide machines follow local law.",
    "Slope figures do not certify a machine safe on a side hill: see its manual; rollover protection and seat belt.",
    "For anything applied, the label and local codes rule. Never enter a bin or tank with grain flowing.",
)


def summary_chapter(fields: Sequence[Field], figures: Figures, *, farm: str, crops: Mapping[str, str]) -> Chapter:
    """Return the chapter of the whole farm.

    Parameters
    ----------
    fields : sequence of Field
        Its fields, in order.
    figures : dict
        From `fieldgeo.analysis.farm_figures.farm_figures`.
    farm : str
        Its name.
    crops : mapping of str to str
        Crop of each field, by name; fields may be missing.
    """
    blocks: list[Block] = [
        Facts(
            rows=(
                ("fields", f"{len(fields):,}, {area_text(figures['area_m2'])}"),
                ("field time", f"{figures['field_time_h']:,.0f} h, all the work below, once over"),
            )
        )
    ]
    if can_draw_farm(fields):
        says = f"Map of the farm, north up: {', '.join(f'{n} {plain_name(f.name)}' for n, f in enumerate(fields, 1))}."
        blocks.append(Picture(draw=partial(plot_farm, tuple(fields), name=farm), says=says, is_map=True))
    blocks += [_fields(figures, crops), _tools(figures), Points(items=ON_PAPER, are_cautions=True)]
    return Chapter(title="The farm", below=f"{farm}: {count_text(len(fields), 'field')}", blocks=tuple(blocks))


def _fields(figures: Figures, crops: Mapping[str, str]) -> Table:
    rows = []
    for number, field in enumerate(figures["fields"], start=1):
        lead, name = field["lead"], field["field"]
        rows.append((
            f"{number}  {plain_name(name)}", *((plain_name(crops.get(name, "")),) if crops else ()),
            f"{field['area_ac']:,.2f}", f"{field['area_ha']:,.2f}", _rows_text(field["direction_deg"]),
            "-" if lead is None else f"{lead['passes']:,}", f"{field['field_time_h']:,.1f}",
        ))  # fmt: skip
    crop, none = (("crop",), ("",)) if crops else ((), ())
    areas = (f"{figures['area_ac']:,.2f}", f"{figures['area_ha']:,.2f}")
    return Table(
        caption="Fields: passes are those of the tool that lays the rows, hours those of all tools",
        head=("field", *crop, "ac", "ha", "direction", "passes", "hours"), rows=tuple(rows), left=1 + len(crop),
        total=("all", *none, *areas, "", "", f"{figures['field_time_h']:,.1f}"),
    )  # fmt: skip


def _rows_text(direction_deg: float | None) -> str:
    return "-" if direction_deg is None else direction_text(direction_deg)


def _tools(figures: Figures) -> Table:
    rows = tuple(
        (
            plain_name(tool["tool"]), f"{tool['fields']:,}", f"{tool['area_ac']:,.0f}", f"{tool['field_time_h']:,.1f}",
            or_dash(tool["effective_ac_h"], ".1f"), percent_text(tool["field_efficiency"]),
            percent_text(tool["overlap_m2"] / tool["area_m2"] if tool["area_m2"] else None),
        )
        for tool in figures["tools"]
    )  # fmt: skip
    head = ("tool", "fields", "ac", "hours", "ac/h", "eff.", "worked twice")
    return Table(caption="Tools, over the fields they can be laid on", head=head, rows=rows)
