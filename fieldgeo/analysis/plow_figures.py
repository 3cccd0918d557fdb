"""The dictionary of plow lands: what is laid, what it leaves uneven, and what stands beside it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np

from fieldgeo.analysis.figures import length_figures
from fieldgeo.layout.lands import idle_per_width
from fieldgeo.machinery.turning import headland_depth_m, plow_headland_m
from fieldgeo.units import HOUR_S, to_feet

if TYPE_CHECKING:
    from fieldgeo.analysis.figures import Figures
    from fieldgeo.analysis.plan import Plan
    from fieldgeo.analysis.plow import LandPlan, LandTry
    from fieldgeo.layout.lands import Land
    from fieldgeo.layout.model import Passes

FORMULA_SOURCE: Final = (
    "textbook form C = sqrt(2 B L + 16 R^2), from memory; it is the least of C / 2B + (L + 8 R^2 / B) / C (derived)"
)


def land_figures(plowed: LandPlan) -> Figures:
    """Return what is known of a field plowed in lands.

    Parameters
    ----------
    plowed : LandPlan
        Lands of one plow on one field.

    Returns
    -------
    dict
        `lands` is their number on the whole field, `asked` what was asked for. `dead_furrows` counts those between
        passes, `dead_furrow_m` is their length, which is ground left uneven; `edge_furrow_m` is what lies open towards
        the headland until that is plowed. `formula` holds the width by the formula, with what goes into it, and the
        field plowed in lands of about that width; `least` the least field time of those tried, `gathered` as many lands
        as here, all gathered, `two_way` the same passes by a two-way plow; each with its field time, and `extra_time_h`
        beyond the lands chosen. `taken_up_again` counts how often a land left unfinished is gone on with, where lands
        wait for each other's furrows. `choices` are the lands tried that none beats in both time and dead furrows.
        `list` has each land, from the right looking along the direction.
    """
    chosen, formula, tool = plowed.chosen, plowed.formula, plowed.plan.tool
    widths = [len(land.members) * tool.pitch_m for land in chosen.lands]
    layout = plowed.plan.layout
    narrow = _narrow_widths_m(layout.passes)
    return {
        "asked": "auto" if plowed.asked == "auto" else float(plowed.asked),
        **_of_try(chosen, chosen),
        **length_figures("least_width", min(widths)),
        **length_figures("greatest_width", max(widths)),
        **length_figures("edge_furrow", chosen.furrow_m("edge")),
        "chains": len(plowed.chains),
        "taken_up_again": len(chosen.plan.route.orders) - len(chosen.lands),
        "odd_passes": sum(len(land.members) % 2 for land in chosen.lands),
        "narrow_passes": len(narrow),
        **length_figures("narrowest_pass", min(narrow) if narrow else None),
        "formula": {
            **length_figures("width", formula.width_m),
            **length_figures("run", formula.run_m),
            **length_figures("plow", formula.plow_m),
            **length_figures("radius", formula.radius_m),
            "idle_per_width": idle_per_width(
                land_m=formula.width_m, run_m=formula.run_m, plow_m=formula.plow_m, radius_m=formula.radius_m
            ),
            "lands_on_longest_chain": formula.lands,
            "source": FORMULA_SOURCE,
            **_of_try(plowed.by_formula, chosen),
        },
        "least": _of_try(plowed.least, chosen),
        "gathered": _of_try(plowed.gathered, chosen),
        "two_way": {
            **_of_plan(plowed.two_way, chosen),
            "back_furrows": 0,
            "dead_furrows": 0,
            "extra_idle_pct": 100 * (_idle_m(plowed.two_way) / max(_idle_m(chosen.plan), 1.0) - 1),
        },
        "headland": {
            "plowed": "last, soil thrown inward, from the inside out",
            **length_figures("depth", layout.headland.rounds * tool.pitch_m),
            **length_figures("depth_needed", headland_depth_m(tool)),
            **length_figures("depth_by_rule", None if tool.bottoms is None else plow_headland_m(tool.bottoms)),
        },
        "choices": [_of_try(one, chosen) for one in plowed.choices()],
        "tried": len(plowed.tried),
        "estimated": plowed.estimated,
        "directions_tried": plowed.directions,
        "list": [_land(land, plowed) for land in chosen.lands],
    }  # fmt: skip


def _narrow_widths_m(passes: Passes) -> list[float]:
    """Return what is left to plow in each strip that was pulled in over its neighbour. [m]"""
    found: dict[tuple[int, int], float] = {}
    for row in np.flatnonzero(passes.is_pulled).tolist():
        piece, strip = int(passes.piece[row]), int(passes.strip[row])
        beside = np.flatnonzero((passes.piece == piece) & (np.abs(passes.strip - strip) == 1))
        if len(beside):
            found[piece, strip] = float(np.abs(passes.centre_m[beside] - passes.centre_m[row]).min())
    return list(found.values())


def _of_try(one: LandTry, chosen: LandTry) -> Figures:
    members = sum(len(land.members) for land in one.lands)
    return {
        "lands": len(one.lands),
        **length_figures("width", members * one.plan.tool.pitch_m / len(one.lands)),
        "gathered_lands": sum(land.kind == "gather" for land in one.lands),
        "cast_lands": sum(land.kind == "cast" for land in one.lands),
        "back_furrows": one.furrow_count("back"),
        **length_figures("back_furrow", one.furrow_m("back")),
        "dead_furrows": one.furrow_count("dead"),
        **length_figures("dead_furrow", one.furrow_m("dead")),
        **_of_plan(one.plan, chosen),
    }


def _of_plan(plan: Plan, chosen: LandTry) -> Figures:
    return {
        "turns": len(plan.route.turns()),
        **length_figures("idle", _idle_m(plan)),
        "field_time_h": plan.field_time_s / HOUR_S,
        "extra_time_h": (plan.field_time_s - chosen.plan.field_time_s) / HOUR_S,
    }


def _idle_m(plan: Plan) -> float:
    return plan.route.length_m("turn", "travel")


def _land(land: Land, plowed: LandPlan) -> dict[str, Any]:
    lengths = plowed.plan.layout.passes.length_m[land.members]
    width_m = len(land.members) * plowed.plan.tool.pitch_m
    return {
        "land": land.number,
        "chain": land.block + 1,
        "kind": land.kind,
        "passes": len(land.members),
        "rounds": land.rounds,
        "width_m": width_m,
        "width_ft": to_feet(width_m),
        **length_figures("shortest_run", float(lengths.min())),
        **length_figures("longest_run", float(lengths.max())),
    }
