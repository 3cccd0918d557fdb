"""`Pull`: whether a tractor can pull a tool: draft, drawbar, axle, shaft and engine power, and the fastest speed.

The chain of powers is that of ASAE EP496 (recalled): drawbar power / tractive ratio + rotary power is what the power
take-off would have to give; the ratio by drive and surface is a published table.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite
from typing import TYPE_CHECKING, Final

from fieldgeo.errors import InputError
from fieldgeo.machinery.needs import PRACTICE, Assumed
from fieldgeo.machinery.traction import (
    Ground,
    drawbar_per_pto,
    grade_force_n,
    motion_resistance_ratio,
    pto_per_engine,
    transmission_share,
    usual_slip,
)
from fieldgeo.units import GRAVITY_M_S2, MPH_M_S, to_tons

if TYPE_CHECKING:
    from collections.abc import Callable

    from fieldgeo.machinery.needs import Needs
    from fieldgeo.machinery.tool import Tool
    from fieldgeo.machinery.tractor import Tractor

FASTEST_M_S: Final = 25 * MPH_M_S  # own choice: no tool that is drawn through the ground goes faster
_SLOWEST_M_S: Final = 0.1 * MPH_M_S


@dataclass(frozen=True, slots=True, kw_only=True)
class PullRules:
    """What is held against the power a tool needs. All of it common practice without a source, and changeable.

    Parameters
    ----------
    load_limit : float
        Share of the power at the power take-off that a tractor may be loaded to, 0 < limit <= 1: the rest is for hard
        places. [-]
    own_engine_limit : float
        The same for a machine that drives itself: its driver slows down in a hard place. [-]
    overpowered_below : float
        Powers below which a tractor is more than the tool asks for, 0 <= share < 1. [-]
    own_mass_kg_w : float
        Mass of a self-propelled machine for each watt of its engine, where none is given, > 0. [kg/W]
    own_drive_share : float
        Power at the wheels of a self-propelled machine as a share of what its drive takes, 0 < share <= 1. [-]
    altitude_share : float
        Power that an engine has left at this altitude, 0 < share <= 1; 0.8 for one without a turbocharger on the South
        African Highveld (Guide to Machinery Costs 2015/16, South African Department of Agriculture). [-]

    Raises
    ------
    InputError
        If a value is out of range.
    """

    load_limit: float = 0.8
    own_engine_limit: float = 1.0
    overpowered_below: float = 0.4
    own_mass_kg_w: float = 0.09
    own_drive_share: float = 0.8
    altitude_share: float = 1.0

    def __post_init__(self) -> None:
        for name in ("load_limit", "own_engine_limit", "own_drive_share", "altitude_share"):
            value = getattr(self, name)
            if not 0 < value <= 1:
                raise InputError(f"{name}: got {value:g}. It must be above 0 and at most 1 (80 % is 0.8).")
        if not 0 <= self.overpowered_below < 1:
            raise InputError(f"overpowered_below: got {self.overpowered_below:g}. It must be at least 0 and below 1.")
        if not (isfinite(self.own_mass_kg_w) and self.own_mass_kg_w > 0):
            raise InputError(f"own_mass_kg_w: got {self.own_mass_kg_w:g}. It must be a finite number above zero.")


DEFAULT_PULL_RULES: Final = PullRules()
LEVEL: Final = Ground()


@dataclass(frozen=True, slots=True, kw_only=True)
class Powers:
    """Forces and powers at one speed; powers as the power take-off would have to give them."""

    draft_n: float  # typical draft of the tool on the level [N]
    slope_n: float  # climbing, tractor and tool [N]
    rolling_n: float  # rolling of a self-propelled machine; that of a tractor is in its tractive ratio [N]
    drawbar_w: float  # draft and climbing x speed; nothing for a self-propelled machine [W]
    axle_w: float  # at the axles [W]
    rotary_w: float  # taken by shafts and hydraulics [W]
    pto_w: float  # altogether [W]


@dataclass(frozen=True, slots=True, kw_only=True)
class Pull:
    """One tool behind one tractor, or a machine that drives itself."""

    tool: Tool
    tractor: Tractor | None  # None for a self-propelled machine
    needs: Needs
    ground: Ground
    speed_m_s: float  # that is asked for [m/s]
    powers: Powers  # at that speed, with the typical draft
    low: Powers  # the same at the low end of the published range of draft and rotary power
    high: Powers  # and at its high end
    level: Powers  # typical, on the level: the mean of up and down
    available_w: float  # at the power take-off [W]
    limit: float  # share of it that may be used [-]
    fastest_m_s: float | None  # fastest speed that can be held; None if none [m/s]
    rules: PullRules
    assumed: tuple[Assumed, ...]

    @property
    def load_share(self) -> float:
        """Power needed / power there is. [-]"""
        return self.powers.pto_w / self.available_w

    @property
    def fits(self) -> bool:
        """Whether the speed asked for can be held with the typical draft."""
        return self.load_share <= self.limit

    @property
    def fits_in_hard_ground(self) -> bool:
        """Whether all of the power holds that speed at the high end of the published range."""
        return self.high.pto_w <= self.available_w

    @property
    def is_overpowered(self) -> bool:
        """Whether the tractor is more than the tool asks for."""
        return self.load_share < self.rules.overpowered_below

    @property
    def engine_w(self) -> float:
        """Net flywheel power that the load takes. [W]"""
        return self.powers.pto_w / pto_per_engine().value

    @property
    def name_of_power(self) -> str:
        """Name of the tractor, or "its own engine"."""
        return "its own engine" if self.tractor is None else self.tractor.name


def pull_of(
    tool: Tool,
    needs: Needs,
    tractor: Tractor | None = None,
    *,
    ground: Ground = LEVEL,
    speed_m_s: float | None = None,
    rules: PullRules = DEFAULT_PULL_RULES,
) -> Pull:
    """Return how a tractor, or a machine's own engine, does with a tool.

    Parameters
    ----------
    tool : Tool
        The tool.
    needs : Needs
        What it asks for, from `fieldgeo.machinery.needs.needs_of` or the shed.
    tractor : Tractor, optional
        What draws it; None for a self-propelled machine.
    ground : Ground
        Soil, surface and slope.
    speed_m_s : float, optional
        Speed asked for, > 0; left out, the tool's own. [m/s]
    rules : PullRules
        What is held against the power needed.

    Raises
    ------
    InputError
        If the draft or the engine of the machine is not known, tractor and hitch do not go together, or the speed is
        out of range.

    Notes
    -----
    Uphill counts for what fits; up and down together take what the level takes, which is what fuel is counted by.
    """
    speed = tool.speed_m_s if speed_m_s is None else speed_m_s
    if not (isfinite(speed) and 0 < speed <= FASTEST_M_S):
        raise InputError(f"speed: got {speed:g} m/s. It must be above zero and at most 25 mph ({FASTEST_M_S:.2f} m/s).")
    _check_parties(tool, needs, tractor)
    if tractor is not None:
        available_w, limit = tractor.power_w, rules.load_limit
    else:
        available_w, limit = (needs.engine_w or 0.0) * pto_per_engine().value, rules.own_engine_limit

    available_w *= rules.altitude_share

    def at(speed_m_s: float, *, spread: float = 0.0, level: bool = False) -> Powers:
        return _powers(tool, needs, tractor, Ground(soil=ground.soil, surface=ground.surface) if level else ground,
                     speed_m_s=speed_m_s, spread=spread, rules=rules)  # fmt: skip

    return Pull(
        tool=tool, tractor=tractor, needs=needs, ground=ground, speed_m_s=speed, powers=at(speed),
        low=at(speed, spread=-1.0), high=at(speed, spread=1.0), level=at(speed, level=True), available_w=available_w,
        limit=limit, fastest_m_s=_fastest(lambda v: at(v).pto_w, limit * available_w), rules=rules,
        assumed=(*needs.assumed, *_assumed(needs, tractor, ground, rules)),
    )  # fmt: skip


def _check_parties(tool: Tool, needs: Needs, tractor: Tractor | None) -> None:
    drives_itself = tool.hitch == "self-propelled"
    if drives_itself and tractor is not None:
        raise InputError(f"tool {tool.name!r} drives itself; tractor {tractor.name!r} cannot draw it.")
    if not drives_itself and tractor is None:
        raise InputError(f"tool {tool.name!r} is {tool.hitch}; it needs a tractor.")
    if drives_itself and needs.engine_w is None:
        raise InputError(f"tool {tool.name!r}: engine_power is missing. Give the net power of its engine.")
    if not drives_itself and not needs.knows_draft:
        raise InputError(
            f"tool {tool.name!r}: no draft is published for its kind, {tool.kind or 'none given'!r}. Give draft, such "
            'as "200lbf/ft", or draft_as, a row of the draft table.'
        )


def _powers(
    tool: Tool,
    needs: Needs,
    tractor: Tractor | None,
    ground: Ground,
    *,
    speed_m_s: float,
    spread: float,
    rules: PullRules,
) -> Powers:
    """Return forces and powers; `spread` is the place in the published range, -1 its low end and 1 its high end."""
    rotary_w = needs.pto_power_w
    if needs.rotary is not None:
        feed_kg_s = needs.crop_kg_m2 * tool.width_m * speed_m_s
        shaft_w = needs.rotary.power_w(width_m=tool.width_m, feed_kg_s=feed_kg_s)
        rotary_w += shaft_w * (1 + spread * needs.rotary.spread)
    if tractor is None:
        mass_kg = needs.mass_kg or (needs.engine_w or 0.0) * rules.own_mass_kg_w
        rolling_n = motion_resistance_ratio(ground.surface).value * mass_kg * GRAVITY_M_S2
        slope_n = grade_force_n(mass_kg, ground.slope)
        axle_w = (rolling_n + slope_n) * speed_m_s / (1 - usual_slip(ground.surface))
        pto_w = axle_w / rules.own_drive_share + rotary_w
        return Powers(
            draft_n=0.0, slope_n=slope_n, rolling_n=rolling_n, drawbar_w=0.0, axle_w=axle_w, rotary_w=rotary_w,
            pto_w=pto_w,
        )  # fmt: skip
    draft_n = _draft_n(tool, needs, ground, speed_m_s) * (1 + spread * (needs.draft.spread if needs.draft else 0.0))
    slope_n = grade_force_n(tractor.moved_kg + (needs.mass_kg or 0.0), ground.slope)
    drawbar_w = (draft_n + slope_n) * speed_m_s
    through_wheels_w = drawbar_w / drawbar_per_pto(tractor.drive, ground.surface).value
    return Powers(
        draft_n=draft_n, slope_n=slope_n, rolling_n=0.0, drawbar_w=drawbar_w,
        axle_w=through_wheels_w * transmission_share().value, rotary_w=rotary_w, pto_w=through_wheels_w + rotary_w,
    )  # fmt: skip


def _draft_n(tool: Tool, needs: Needs, ground: Ground, speed_m_s: float) -> float:
    if needs.own_draft_n_m is not None:
        return needs.own_draft_n_m * tool.width_m
    assert needs.draft is not None  # checked before
    return needs.draft.force_n(count=needs.count, speed_m_s=speed_m_s, soil=ground.soil, depth_m=needs.depth_m)


def _fastest(power_w: Callable[[float], float], most_w: float) -> float | None:
    """Return the fastest speed whose power is there; power grows with speed, so halving finds it to 1e-6 m/s."""
    low, high = _SLOWEST_M_S, FASTEST_M_S
    if power_w(low) > most_w:
        return None
    if power_w(high) <= most_w:
        return high
    while high - low > 1e-6:
        middle = (low + high) / 2
        low, high = (middle, high) if power_w(middle) <= most_w else (low, middle)
    return low


def _assumed(needs: Needs, tractor: Tractor | None, ground: Ground, rules: PullRules) -> list[Assumed]:
    """Return what this pairing rests on beside what the tool's needs do."""
    assumed = []
    if tractor is None:
        if needs.mass_kg is None:
            mass_kg = (needs.engine_w or 0.0) * rules.own_mass_kg_w
            assumed.append(Assumed(what="mass", value=f"{to_tons(mass_kg):.3g} ton", source=PRACTICE))
        assumed.append(Assumed(what="drive", value=f"{100 * rules.own_drive_share:g} % efficient", source=PRACTICE))
        return assumed
    if not tractor.kind:
        assumed.append(Assumed(what="drive", value=tractor.drive, source="the kind that pulls least"))
    if ground.slope > 0:
        if tractor.mass_kg is None:
            mass = f"{to_tons(tractor.moved_kg):.3g} ton"
            assumed.append(Assumed(what=f"mass of {tractor.name}", value=mass, source=PRACTICE))
        if needs.mass_kg is None:
            assumed.append(Assumed(what="climbing of the tool", value="left out", source="its mass is not given"))
    return assumed
