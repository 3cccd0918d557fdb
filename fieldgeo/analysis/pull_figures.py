"""Every tool of a shed behind every tractor, as figures."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from fieldgeo.analysis.work_fuel import fuel_assumed, is_no_till, published_fuel_figures, within_spread
from fieldgeo.errors import InputError
from fieldgeo.machinery.fuel import DEFAULT_FUEL_RULES, FuelRules, fuel_equation, published_fuel
from fieldgeo.machinery.needs import PRACTICE, Assumed, needs_of
from fieldgeo.machinery.operation_fuel import fuel_rates, fuel_without_field
from fieldgeo.machinery.published import published_efficiency
from fieldgeo.machinery.pull import DEFAULT_PULL_RULES, LEVEL, Pull, PullRules, pull_of
from fieldgeo.machinery.traction import drawbar_per_pto, slip_range
from fieldgeo.units import (
    ACRE_M2,
    GALLON_L,
    HECTARE_M2,
    to_feet,
    to_horsepower,
    to_inches,
    to_mph,
    to_pounds_force,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fieldgeo.machinery.shed import Shed
    from fieldgeo.machinery.tables import Source
    from fieldgeo.machinery.traction import Ground

Figures = dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class ShedPull:
    """What each tractor of a shed can pull."""

    pulls: tuple[Pull, ...]
    left_out: tuple[str, ...]  # tools that nothing can be said of, and why


def pull_shed(
    shed: Shed,
    *,
    tools: Sequence[str] = (),
    tractors: Sequence[str] = (),
    ground: Ground = LEVEL,
    speed_m_s: float | None = None,
    depth_m: float | None = None,
    rules: PullRules = DEFAULT_PULL_RULES,
) -> ShedPull:
    """Return each tool of a shed behind each of its tractors, and each machine that drives itself.

    Parameters
    ----------
    shed : Shed
        The shed.
    tools, tractors : sequence of str
        Names; none are all of them. A tool named that nothing can be said of is an error, not left out.
    ground : Ground
        Soil, surface and slope.
    speed_m_s : float, optional
        Speed for every tool, > 0; left out, its own. [m/s]
    depth_m : float, optional
        Depth for every tool whose draft goes by depth, > 0; left out, its own. [m]
    rules : PullRules
        What is held against the power needed.

    Raises
    ------
    InputError
        If a name is not in the shed, a value is out of range, or a tool asked for by name has no figures.
    """
    chosen = [shed.tool(name) for name in tools] or list(shed.tools)
    drawing = [shed.tractor(name) for name in tractors] or list(shed.tractors)
    pulls: list[Pull] = []
    left_out: list[str] = []
    for tool in chosen:
        needs = shed.needs.get(tool.name) or needs_of(tool)
        if depth_m is not None and needs.draft is not None and needs.draft.is_by_depth:
            needs = replace(needs, depth_m=depth_m, assumed=tuple(a for a in needs.assumed if a.what != "depth"))
        own = tool.hitch == "self-propelled"
        try:
            pulls += [
                pull_of(tool, needs, each, ground=ground, speed_m_s=speed_m_s, rules=rules)
                for each in ([None] if own else drawing)
            ]
        except InputError as error:
            if tools:
                raise
            left_out.append(str(error))
        if not own and not drawing:
            left_out.append(f"tool {tool.name!r}: the shed has no tractor to draw it.")
    return ShedPull(pulls=tuple(pulls), left_out=tuple(left_out))


def pull_figures(pulled: ShedPull, *, farm: str = "", rules: FuelRules = DEFAULT_FUEL_RULES) -> Figures:
    """Return every figure of what a shed's tractors can pull.

    Parameters
    ----------
    pulled : ShedPull
        Tools behind tractors.
    farm : str
        Name of the farm.
    rules : FuelRules
        How fuel is worked out.

    Returns
    -------
    dict
        `rows` has one entry for each pairing, SI and farm units both; `left_out` says of which tools nothing is known.
        `fuel_L_h` is for an hour at work; `fuel_gal_ac` is for an acre with the turns that a typical field efficiency
        leaves time for.
    """
    ground = pulled.pulls[0].ground if pulled.pulls else LEVEL
    return {
        "farm": farm or None,
        "soil": ground.soil,
        "surface": ground.surface,
        "slope_pct": 100 * ground.slope,
        "rows": [pull_row(pull, rules=rules) for pull in pulled.pulls],
        "left_out": list(pulled.left_out),
        "assumed": [each.figures() for each in (*_rules_assumed(pulled), *fuel_assumed(rules))],
    }


def _rules_assumed(pulled: ShedPull) -> list[Assumed]:
    """Return what is held against the power needed, where nobody gave it."""
    if not pulled.pulls:
        return []
    rules, usual = pulled.pulls[0].rules, DEFAULT_PULL_RULES
    shares = {
        "load_limit": "load of a tractor up to",
        "own_engine_limit": "of its own engine up to",
        "overpowered_below": "low below",
    }
    return [
        Assumed(what=what, value=f"{100 * getattr(usual, name):g} %", source=PRACTICE)
        for name, what in shares.items()
        if getattr(rules, name) == getattr(usual, name)
    ]


def pull_row(pull: Pull, *, rules: FuelRules = DEFAULT_FUEL_RULES) -> Figures:
    """Return every figure of one tool behind one tractor.

    Parameters
    ----------
    pull : Pull
        Tool and tractor.
    rules : FuelRules
        How fuel is worked out.
    """
    powers, needs = pull.powers, pull.needs
    return {
        "tractor": pull.name_of_power,
        "tool": pull.tool.name,
        "width_m": pull.tool.width_m,
        "width_ft": to_feet(pull.tool.width_m),
        "depth_m": needs.depth_m,
        "depth_in": None if needs.depth_m is None else to_inches(needs.depth_m),
        **_speed("speed", pull.speed_m_s),
        **_speed("normal_low", needs.speed_low_m_s),
        **_speed("normal_high", needs.speed_high_m_s),
        **_force("draft", powers.draft_n),
        **_force("draft_low", pull.low.draft_n),
        **_force("draft_high", pull.high.draft_n),
        **_force("slope", powers.slope_n),
        **_force("rolling", powers.rolling_n),
        **_power("drawbar", powers.drawbar_w),
        **_power("axle", powers.axle_w),
        **_power("rotary", powers.rotary_w),
        "pto_kW_needed": powers.pto_w / 1000,
        "pto_hp_needed": to_horsepower(powers.pto_w),
        "pto_kW_needed_low": pull.low.pto_w / 1000,
        "pto_hp_needed_low": to_horsepower(pull.low.pto_w),
        "pto_kW_needed_high": pull.high.pto_w / 1000,
        "pto_hp_needed_high": to_horsepower(pull.high.pto_w),
        "engine_kW_needed": pull.engine_w / 1000,
        "engine_hp_needed": to_horsepower(pull.engine_w),
        "pto_kW_available": pull.available_w / 1000,
        "pto_hp_available": to_horsepower(pull.available_w),
        "load_share": pull.load_share,
        "load_limit": pull.limit,
        "fits": pull.fits,
        "fits_in_hard_ground": pull.fits_in_hard_ground,
        "overpowered": pull.is_overpowered,
        **_speed("fastest", pull.fastest_m_s),
        **_fuel(pull, rules),
        "draft_figures": None if needs.draft is None else {"as": needs.draft.tool, **_source(needs.draft.source)},
        "rotary_figures": None
        if needs.rotary is None
        else {"as": needs.rotary.machine, **_source(needs.rotary.source)},
        "traction": _traction(pull),
        "assumed": [each.figures() for each in pull.assumed],
    }


def _fuel(pull: Pull, rules: FuelRules) -> Figures:
    rates = fuel_rates(pull, rules=rules)
    published = published_efficiency(pull.tool.kind)
    gal_ac: float | None = None
    if published is not None and published.typical is not None:
        fuel = fuel_without_field(pull, area_m2=ACRE_M2, efficiency=published.typical, rules=rules)
        gal_ac = fuel.total / GALLON_L
    beside = published_fuel(pull.tool.kind, no_till=is_no_till(pull))
    equation = fuel_equation("diesel" if pull.tractor is None else pull.tractor.fuel, rules.form)
    return {
        "fuel_L_h": rates.working,
        "fuel_gal_h": rates.working / GALLON_L,
        "fuel_gal_ac": gal_ac,
        "fuel_L_ha": None if gal_ac is None else gal_ac * GALLON_L / ACRE_M2 * HECTARE_M2,
        "fuel_efficiency_assumed": None if published is None else published.typical,
        "fuel_equation": {"form": equation.form, **_source(equation.source)},
        "published_fuel": published_fuel_figures(beside),
        "within_spread": None if gal_ac is None else within_spread(gal_ac, beside),
    }


def _traction(pull: Pull) -> Figures | None:
    if pull.tractor is None:
        return None
    ratio = drawbar_per_pto(pull.tractor.drive, pull.ground.surface)
    low, high = slip_range(pull.ground.surface)
    return {"drive": pull.tractor.drive, "drawbar_per_pto": ratio.value, "slip_low": low, "slip_high": high,
            **_source(ratio.source)}  # fmt: skip


def _source(source: Source) -> Figures:
    return {"source": source.text, "status": source.status, "note": source.note}


def _speed(name: str, speed_m_s: float | None) -> Figures:
    return {f"{name}_m_s": speed_m_s, f"{name}_mph": None if speed_m_s is None else to_mph(speed_m_s)}


def _force(name: str, force_n: float) -> Figures:
    return {f"{name}_N": force_n, f"{name}_lbf": to_pounds_force(force_n)}


def _power(name: str, power_w: float) -> Figures:
    return {f"{name}_kW": power_w / 1000, f"{name}_hp": to_horsepower(power_w)}
