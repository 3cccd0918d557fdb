"""The dictionary of figures: every answer as plain numbers under fixed names, in SI and in farm units.

The command line, the writers and the pages print these dictionaries and nothing else, so that one figure has one name
and one value everywhere. They hold plain Python types only; what cannot be worked out is None, never NaN.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, TypeAlias

from fieldgeo.machinery.published import published_efficiency
from fieldgeo.units import HOUR_S, MILE_M, to_acres, to_feet, to_hectares, to_mph

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from fieldgeo.analysis.compare import Comparison, PayingWidth, ToolTotal
    from fieldgeo.analysis.direction import Candidate, DirectionSearch
    from fieldgeo.analysis.plan import PlanFigures
    from fieldgeo.analysis.score import By
    from fieldgeo.machinery.tool import Tool
    from fieldgeo.outline.field import Field

Figures: TypeAlias = dict[str, Any]

OUTSIDE_WORTH_SAYING_M = 0.1  # of a turn; own choice: less is noise of the outline
_AREAS = ("swept", "worked", "overlap", "skip", "spill")
_OF_A_CANDIDATE = (
    "direction_deg", "passes", "headland_rounds", "turns", "turns_by_kind", "swept_m2", "overlap_m2", "overlap_ac",
    "overlap_pct", "skip_m2", "skip_ac", "skip_pct", "spill_m2", "spill_ac", "field_time_h", "effective_ha_h",
    "effective_ac_h", "field_efficiency",
)  # fmt: skip


def tool_figures(tool: Tool) -> Figures:
    """Return what a tool is, in SI and farm units."""
    return {
        "tool": tool.name,
        "kind": tool.kind or None,
        "width_m": tool.width_m,
        "width_ft": to_feet(tool.width_m),
        "rows": tool.rows,
        "row_spacing_m": tool.row_spacing_m,
        "sections": tool.sections,
        "lap_m": tool.lap_m,
        "lap_ft": to_feet(tool.lap_m),
        "turn_radius_m": tool.turn_radius_m,
        "turn_radius_ft": to_feet(tool.turn_radius_m),
        "pull_out_m": tool.pull_out_m,
        "raise_s": tool.raise_s,
        "lower_s": tool.lower_s,
        "hitch": tool.hitch,
        **_speed("speed", tool.speed_m_s),
        **_speed("turn_speed", tool.turn_speed_m_s),
    }


def plan_figures(plan: PlanFigures) -> Figures:
    """Return every figure of a plan.

    Parameters
    ----------
    plan : PlanFigures
        One tool on one field, divided or not.

    Returns
    -------
    dict
        `turns` counts the turns of all kinds. `work_m` is driven with the tool down, passes and headland rounds
        together; `travel_m` with the tool up, turns and travel together. `time_h` holds the hours of each state of the
        time line, and sums to `field_time_h`. `losses_h` holds the hours beyond area / theoretical capacity by cause.

    Raises
    ------
    InputError
        If the tool's kind is no machine of the published table.
    """
    coverage, headland, turns = plan.coverage, plan.layout.headland, plan.route.turns_by_kind()
    work_m, travel_m = plan.route.length_m("pass", "headland"), plan.route.length_m("turn", "travel")
    shares = {name: 100 * getattr(coverage, f"{name}_m2") / coverage.area_m2 for name in ("overlap", "skip", "spill")}
    return {
        "field": plan.field.name,
        **tool_figures(plan.tool),
        **area_figures("area", coverage.area_m2),
        "direction_deg": float(plan.layout.direction_deg),
        "finish": plan.layout.finish,
        "sides": "all" if headland.all_round else "ends",
        "passes": len(plan.layout.passes),
        "headland_rounds": headland.rounds,
        "headland": {
            "rounds": headland.rounds,
            "all_round": headland.all_round,
            "runs": len(headland.runs),
            **area_figures("area", headland.ground.area),
            "driven_m": plan.route.length_m("headland"),
        },
        **_areas(coverage, _AREAS),
        **{f"{name}_pct": float(share) for name, share in shares.items()},
        "overlap_by_cause_m2": _floats(coverage.overlap_by_cause_m2),
        "turns": sum(turns.values()),
        "turns_by_kind": {kind: int(count) for kind, count in sorted(turns.items())},
        **_outside(plan),
        "work_m": work_m,
        "work_mi": work_m / MILE_M,
        "travel_m": travel_m,
        "travel_mi": travel_m / MILE_M,
        "field_time_h": plan.field_time_s / HOUR_S,
        "time_h": _hours(plan.timeline.by_state_s()),
        "losses_h": _hours(plan.losses_s()),
        **_capacity("theoretical", plan.theoretical_m2_s),
        **_capacity("effective", plan.effective_m2_s),
        "field_efficiency": None if plan.field_efficiency is None else float(plan.field_efficiency),
        "published_efficiency": _published(plan.tool.kind),
    }  # fmt: skip


def direction_figures(search: DirectionSearch, *, by: By = "time") -> Figures:
    """Return the ranked directions of a search, and what following the longest side would cost.

    Parameters
    ----------
    search : DirectionSearch
        Search for one tool on one field.
    by : {"time", "passes", "overlap", "cost"}
        What the search was judged by.

    Returns
    -------
    dict
        `candidates` has the best first, each with `score` (what the search judges by: seconds, passes, square metres or
        money), `extra_score` and `extra_time_h` beyond the best, and its `reasons`; `longest_side` is such a candidate
        too, with `extra_passes`.
    """
    best = search.best
    longest = _candidate(search.longest_side, best)
    longest["extra_passes"] = longest["passes"] - len(best.plan.layout.passes)
    return {
        "field": best.plan.field.name,
        **tool_figures(best.plan.tool),
        **area_figures("area", best.plan.field.area_m2),
        "by": by,
        "best_deg": float(best.direction_deg),
        "candidates": [_candidate(candidate, best) for candidate in search.candidates],
        "longest_side": longest,
    }


def compare_figures(comparison: Comparison) -> Figures:
    """Return the figures of several tools on several fields, side by side, and the totals of each tool.

    Parameters
    ----------
    comparison : Comparison
        Fields outer, tools inner.

    Returns
    -------
    dict
        `tools` and `fields` are names; `rows` has one entry for each field and tool with every key of `plan_figures`;
        `totals` has one for each tool.
    """
    rows = [plan_figures(row.plan) for row in comparison.rows]
    return {
        "tools": list(dict.fromkeys(row.tool_name for row in comparison.rows)),
        "fields": list(dict.fromkeys(row.field_name for row in comparison.rows)),
        "rows": rows,
        "totals": [_total(total) for total in comparison.totals],
    }


def paying_figures(paying: PayingWidth, *, extra_cost_share: float = 0.0) -> Figures:
    """Return the least added width that pays; None where even the widest does not.

    Parameters
    ----------
    paying : PayingWidth
        Widths tried between two tools, with the farm's field time at each.
    extra_cost_share : float
        Share by which an hour of the wider tool costs more than one of the narrow, > -1. [-]

    Raises
    ------
    InputError
        If the share is -1 or below.
    """
    least_m = paying.least_difference_m(extra_cost_share)
    tried = zip(
        (paying.narrow_width_m, *paying.tried_width_m),
        (paying.narrow_time_s, *paying.field_time_s),
        (paying.narrow_theoretical_m2_s, *paying.theoretical_m2_s),
        strict=True,
    )
    widths = [_tried_width(width, time, theoretical, area_m2=paying.area_m2) for width, time, theoretical in tried]
    return {
        "narrow_width_m": float(paying.narrow_width_m),
        "narrow_width_ft": to_feet(paying.narrow_width_m),
        "narrow_time_h": paying.narrow_time_s / HOUR_S,
        "wide_width_m": float(paying.wide_width_m),
        "wide_width_ft": to_feet(paying.wide_width_m),
        "extra_cost_pct": 100.0 * extra_cost_share,
        "least_difference_m": None if least_m is None else float(least_m),
        "least_difference_ft": None if least_m is None else to_feet(least_m),
        "narrow": widths[0],
        "tried": widths[1:],
    }


def _tried_width(width_m: float, time_s: float, theoretical_m2_s: float, *, area_m2: float) -> Figures:
    effective = area_m2 / time_s if time_s > 0 else None
    return {
        "width_m": float(width_m),
        "width_ft": to_feet(width_m),
        "field_time_h": time_s / HOUR_S,
        **_capacity("theoretical", theoretical_m2_s),
        **_capacity("effective", effective),
        "field_efficiency": None if effective is None else effective / theoretical_m2_s,
    }


def _candidate(candidate: Candidate, best: Candidate) -> Figures:
    figures = plan_figures(candidate.plan)
    return {
        **{key: figures[key] for key in _OF_A_CANDIDATE},
        "score": float(candidate.score),
        "extra_score": float(candidate.score - best.score),
        "extra_time_h": (candidate.plan.field_time_s - best.plan.field_time_s) / HOUR_S,
        "reasons": list(candidate.reasons),
    }


def _total(total: ToolTotal) -> Figures:
    return {
        "tool": total.tool_name,
        **area_figures("area", total.area_m2),
        **_areas(total, _AREAS),
        "passes": int(total.passes),
        "turns": int(total.turns),
        "field_time_h": total.field_time_s / HOUR_S,
        **_capacity("theoretical", total.theoretical_m2_s),
        **_capacity("effective", total.effective_m2_s),
        "field_efficiency": None if total.field_efficiency is None else float(total.field_efficiency),
    }


def _outside(plan: PlanFigures) -> Figures:
    outside = plan.route.turns_outside_m()
    return {
        "outside_m": float(outside.sum()),
        "outside_ft": to_feet(float(outside.sum())),
        "turns_outside": int((outside > OUTSIDE_WORTH_SAYING_M).sum()),
    }


def length_figures(name: str, length_m: float | None) -> dict[str, float | None]:
    """Return a length in metres and feet, under a name with each unit; None stays None.

    Parameters
    ----------
    name : str
        Name without a unit, such as ``"closure"``.
    length_m : float or None
        The length. [m]
    """
    if length_m is None:
        return {f"{name}_m": None, f"{name}_ft": None}
    return {f"{name}_m": float(length_m), f"{name}_ft": to_feet(float(length_m))}


def place_figures(field: Field, xy: tuple[float, float]) -> dict[str, float | None]:
    """Return a place in the frame as longitude and latitude; None both where the field has no place on Earth. [deg]

    Parameters
    ----------
    field : Field
        The field.
    xy : tuple of float
        Place in its frame. [m]
    """
    if not field.is_placed:
        return {"lon": None, "lat": None}
    lon, lat = field.frame.to_lonlat(*xy)
    return {"lon": float(lon), "lat": float(lat)}


def area_figures(name: str, area_m2: float) -> dict[str, float]:
    """Return an area in square metres, hectares and acres, under a name with each unit.

    Parameters
    ----------
    name : str
        Name without a unit, such as ``"overlap"``.
    area_m2 : float
        The area. [m2]
    """
    area = float(area_m2)
    return {f"{name}_m2": area, f"{name}_ha": to_hectares(area), f"{name}_ac": to_acres(area)}


def _areas(source: object, names: Iterable[str]) -> dict[str, float]:
    """Return the areas that an object has under these names, each in three units."""
    return {key: value for name in names for key, value in area_figures(name, getattr(source, f"{name}_m2")).items()}


def _speed(name: str, speed_m_s: float) -> dict[str, float]:
    return {f"{name}_m_s": speed_m_s, f"{name}_km_h": speed_m_s * HOUR_S / 1000, f"{name}_mph": to_mph(speed_m_s)}


def _capacity(name: str, capacity_m2_s: float | None) -> dict[str, float | None]:
    if capacity_m2_s is None:
        return {f"{name}_ha_h": None, f"{name}_ac_h": None}
    hourly = float(capacity_m2_s) * HOUR_S
    return {f"{name}_ha_h": to_hectares(hourly), f"{name}_ac_h": to_acres(hourly)}


def _floats(values: Mapping[str, float]) -> dict[str, float]:
    return {name: float(value) for name, value in values.items()}


def _hours(values_s: Mapping[str, float]) -> dict[str, float]:
    return {name: float(value) / HOUR_S for name, value in values_s.items()}


def _published(kind: str) -> Figures:
    """Return what is published for a kind of machine; every value None for a tool of no kind."""
    published = published_efficiency(kind)
    if published is None:
        return dict.fromkeys(("machine", "low", "high", "typical", "source", "is_recalled"))
    return {
        "machine": published.machine,
        "low": published.low,
        "high": published.high,
        "typical": published.typical,
        "source": published.citation,
        "is_recalled": published.is_recalled,
    }
