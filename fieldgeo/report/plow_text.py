"""Plow lands as lines, and what a grower should know beside them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from fieldgeo.report.lines import count_text, labelled_figure, labelled_wrapped, length_text, table

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fieldgeo.analysis.figures import Figures

_MOST_CHOICES: Final = 5
_POINT_ROWS: Final = 0.5  # a land has point rows where its shortest run is less than this share of its longest


def land_lines(lands: Figures) -> Iterator[str]:
    """Yield the lands, their furrows, and what stands beside them, from `land_figures`.

    Parameters
    ----------
    lands : dict
        From `fieldgeo.analysis.plow_figures.land_figures`.
    """
    yield labelled_figure("lands", f"{lands['lands']:,}", f"{_kinds_text(lands)}; {_widths_text(lands)} wide")
    yield labelled_figure("back furrows", f"{lands['back_furrows']:,}", f"{_length(lands, 'back_furrow')} of ridge")
    yield labelled_figure(
        "dead furrows", f"{lands['dead_furrows']:,}", f"{_length(lands, 'dead_furrow')} of ground left uneven"
    )
    yield from labelled_wrapped("rounds", _strips_text(lands))
    rows = [_row("these lands", lands), _row("lands by the formula", lands["formula"])]
    if lands["least"]["lands"] != lands["lands"]:
        rows.append(_row("least time tried", lands["least"]))
    rows.append(_row("as many, all gathered", lands["gathered"]))
    two_way = lands["two_way"]
    time = [f"{two_way['turns']:,}", f"{two_way['field_time_h']:.2f} h", _extra(two_way)]
    rows.append(["two-way plow", "-", "-", "0", "0", *time])
    yield from table(["", "lands", "width", "back", "dead", "turns", "field time", ""], rows, left=1)
    yield from labelled_wrapped("formula", _formula_text(lands["formula"]))
    yield from labelled_wrapped("fewer furrows", _choices_text(lands)) if _choices_text(lands) else ()


def land_notes(lands: Figures) -> Iterator[str]:
    """Yield what a grower should know beside the lands, from `land_figures`.

    Parameters
    ----------
    lands : dict
        From `fieldgeo.analysis.plow_figures.land_figures`.
    """
    headland = lands["headland"]
    rule = (
        f"; the rule of thumb for its bottoms gives {_length(headland, 'depth_by_rule')}"
        if headland["depth_by_rule_m"]
        else ""
    )
    if headland["depth_m"]:
        yield (
            f"note: the headland, {_length(headland, 'depth')} deep{rule}, is plowed last, round by round from the "
            "inside out with the field on the right: its soil fills the furrows that the lands leave open there."
        )
    yield (
        f"note: land width by the formula: {lands['formula']['source']}. It counts an idle run for each land, which is "
        "not driven where a land begins at the end at which the last one was left."
    )
    chosen = "; of those within 0.2 % of it the one with the fewest dead furrows" if lands["asked"] == "auto" else ""
    yield (
        f"note: the least time is that of {lands['tried']} numbers of lands planned, {lands['estimated']} estimated, "
        f"in {count_text(lands['directions_tried'], 'direction')}{chosen}; no proof that no other takes less."
    )
    yield "note: the two-way plow is reckoned with the same width, speed and turns; it goes back and forth."
    if lands["taken_up_again"]:
        times = count_text(lands["taken_up_again"], "time")
        yield (
            "note: where passes end beside each other at a ditch or bay on a slant, a land is left unfinished and "
            f"taken up again later ({times}), so that no furrow is left on the wrong side."
        )
    yield (
        "note: next time lay back furrows where dead furrows are now, and none down a slope (common practice, no "
        "source)."
    )


def furrow_cautions(figures: Figures, *, throws: str | None) -> list[str]:
    """Return what is to be said where a plow would not find its furrow in the order of a plan; nothing for other tools.

    Parameters
    ----------
    figures : dict
        From `fieldgeo.analysis.figures.plan_figures` and `fieldgeo.analysis.pass_order.order_figures`.
    throws : {"right", "both"} or None
        Which way the tool throws the soil.
    """
    name = figures["tool"]
    if throws == "right":
        return [
            f"caution: {name} throws the soil one way and cannot go back beside its own furrow: these passes cannot be "
            "driven in this order. --lands auto lays lands, with their dead furrows and field time, and a two-way plow "
            "beside them."
        ]
    if throws == "both" and any(order["pattern"] != "back-and-forth" for order in figures["orders"]):
        return [f"caution: {name} finds its own furrow only back and forth: lay it with --order back-and-forth."]
    return []


def _row(name: str, one: Figures) -> list[str]:
    return [
        name,
        f"{one['lands']:,}",
        f"{one['width_ft']:,.0f} ft",
        f"{one['back_furrows']:,}",
        f"{one['dead_furrows']:,}",
        f"{one['turns']:,}",
        f"{one['field_time_h']:.2f} h",
        _extra(one),
    ]


def _extra(one: Figures) -> str:
    return f"{one['extra_time_h']:+.2f} h" if abs(one["extra_time_h"]) >= 0.005 else ""


def _length(figures: Figures, name: str) -> str:
    return length_text(figures[f"{name}_m"])


def _widths_text(lands: Figures) -> str:
    least, greatest = f"{lands['least_width_ft']:,.0f}", f"{lands['greatest_width_ft']:,.0f}"
    if least == greatest:
        return f"{greatest} ft ({lands['greatest_width_m']:.1f} m)"
    return f"{least} to {greatest} ft"


def _kinds_text(lands: Figures) -> str:
    if not lands["cast_lands"]:
        return "gathered"
    return f"{lands['gathered_lands']} gathered, {lands['cast_lands']} cast"


def _strips_text(lands: Figures) -> str:
    told = [f"{count_text(sum(land['rounds'] for land in lands['list']), 'whole round')}"]
    if lands["odd_passes"]:
        told.append(f"{count_text(lands['odd_passes'], 'odd pass')} at the outside of an outer land")
    if lands["narrow_passes"]:
        told.append(
            f"{count_text(lands['narrow_passes'], 'narrow last pass')} of {lands['narrowest_pass_ft']:.1f} ft "
            f"({lands['narrowest_pass_m']:.2f} m) at the edge, the rest of it worked twice"
        )
    if lands["chains"] > 1:
        told.append(f"corners, bays or holes part the passes into {lands['chains']}, each with lands of its own")
    slanted = [land for land in lands["list"] if land["shortest_run_m"] < _POINT_ROWS * land["longest_run_m"]]
    if slanted:
        worst = min(slanted, key=lambda land: land["shortest_run_m"] / land["longest_run_m"])
        told.append(
            f"point rows in {count_text(len(slanted), 'land')}, runs of {worst['shortest_run_ft']:,.0f} to "
            f"{worst['longest_run_ft']:,.0f} ft in land {worst['land']}"
        )
    return "; ".join(told)


def _formula_text(formula: Figures) -> str:
    return (
        f"{formula['width_ft']:.0f} ft ({formula['width_m']:.1f} m) for runs of {formula['run_ft']:,.0f} ft, a plow of "
        f"{formula['plow_ft']:.4g} ft and a radius of {formula['radius_ft']:.3g} ft (recalled)"
    )


def _choices_text(lands: Figures) -> str:
    fewer = [one for one in lands["choices"] if one["dead_furrows"] < lands["dead_furrows"]]
    step = max(1, -(-len(fewer) // _MOST_CHOICES))
    shown = fewer[::-1][::step]
    return ", ".join(
        f"{one['dead_furrows']} dead in {count_text(one['lands'], 'land')} {one['extra_time_h']:+.2f} h"
        for one in shown
    )
