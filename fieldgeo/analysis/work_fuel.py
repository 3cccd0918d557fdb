"""Fuel of an operation on one field, from the times of its plan, beside what extension tables print for an acre."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from fieldgeo.errors import InputError
from fieldgeo.machinery.fuel import DEFAULT_FUEL_RULES, PER_ACRE_SPREAD, FuelRules, published_fuel
from fieldgeo.machinery.needs import PRACTICE, Assumed
from fieldgeo.machinery.operation_fuel import OperationFuel, operation_fuel
from fieldgeo.machinery.tables import machine_of
from fieldgeo.travel.timeline import TIME_STATES
from fieldgeo.units import ACRE_M2, GALLON_L, HECTARE_M2, HOUR_S

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fieldgeo.analysis.plan import Plan
    from fieldgeo.machinery.fuel import FuelPerAcre
    from fieldgeo.machinery.pull import Pull

Figures = dict[str, Any]

WORKING: Final = ("passes", "headland_rounds")
TURNING: Final = ("turning", "travel")  # the tool up, the tractor on its way


def plan_fuel(plan: Plan, pull: Pull, *, rules: FuelRules = DEFAULT_FUEL_RULES) -> OperationFuel:
    """Return the fuel of a plan: passes and rounds at the tool's load, turns and travel light, idling while it stands.

    Parameters
    ----------
    plan : Plan
        One tool on one field, with its stops if it has any.
    pull : Pull
        The same tool and what draws it.
    rules : FuelRules
        Equation and shares.

    Raises
    ------
    InputError
        If plan and pull are of different tools or speeds.
    """
    tool = pull.tool
    if tool.width_m != plan.tool.width_m or pull.speed_m_s != plan.tool.speed_m_s:
        raise InputError(
            f"fuel: the plan is for {plan.tool.name!r}, {plan.tool.width_m:.2f} m at {plan.tool.speed_m_s:.2f} m/s, "
            f"and the pull for {tool.name!r}, {tool.width_m:.2f} m at {pull.speed_m_s:.2f} m/s. Give the same tool and "
            "speed."
        )
    states = plan.timeline.by_state_s()
    standing = [state for state in TIME_STATES if state not in {*WORKING, *TURNING}]
    return operation_fuel(
        pull,
        working_s=sum(states[state] for state in WORKING),
        turning_s=sum(states[state] for state in TURNING),
        standing_s=sum(states[state] for state in standing),
        rules=rules,
    )


def fuel_assumed(rules: FuelRules) -> list[Assumed]:
    """Return the shares that fuel rests on where nobody gave others; those that were given are left out.

    Parameters
    ----------
    rules : FuelRules
        Equation and shares.
    """
    usual = DEFAULT_FUEL_RULES
    assumed = []
    if rules.turning_load == usual.turning_load:
        value = f"{100 * usual.turning_load:g} % of the power"
        assumed.append(Assumed(what="turning takes", value=value, source=PRACTICE))
    if rules.form == "newer" and rules.idle_speed_share == usual.idle_speed_share:
        value = f"{100 * usual.idle_speed_share:g} % of full engine speed"
        assumed.append(Assumed(what="idling at", value=value, source=PRACTICE))
    return assumed


def is_no_till(pull: Pull) -> bool | None:
    """Return whether a planter works no-till ground, by its row of the draft table; None for any other tool.

    Parameters
    ----------
    pull : Pull
        The tool and its tractor.
    """
    draft = pull.needs.draft
    if draft is None or machine_of(pull.tool.kind) != "row-crop planter":
        return None
    return "no-till" in draft.tool


def fuel_figures(fuel: OperationFuel, *, area_m2: float, kind: str, no_till: bool | None = None) -> Figures:
    """Return the figures of an operation's fuel, and the table's beside it.

    Parameters
    ----------
    fuel : OperationFuel
        Fuel of an operation.
    area_m2 : float
        Area of the field, > 0. [m2]
    kind : str
        Machine of the efficiency table; ``""`` sets nothing beside.
    no_till : bool, optional
        Whether the work is no-till, for the rows of the extension tables.

    Returns
    -------
    dict
        Litres and gallons, for each hour and acre, and by what they were burned for; `published_fuel` has the rows of
        the extension tables, `within_spread` whether the figure lies within 35 % of any of them.
    """
    gal_ac = fuel.total / GALLON_L / (area_m2 / ACRE_M2)
    beside = published_fuel(kind, no_till=no_till)
    return {
        "fuel_L": fuel.total,
        "fuel_gal": fuel.total / GALLON_L,
        "fuel_L_h": fuel.mean_l_h,
        "fuel_gal_h": fuel.mean_l_h / GALLON_L,
        "fuel_L_ha": fuel.total / (area_m2 / HECTARE_M2),
        "fuel_gal_ac": gal_ac,
        "time_h": fuel.time_s / HOUR_S,
        "by_state_L": {"working": fuel.working, "turning": fuel.turning, "standing": fuel.standing},
        "rates_L_h": {
            "working": fuel.rates.working, "turning": fuel.rates.turning, "standing": fuel.rates.standing,
        },
        "published_fuel": published_fuel_figures(beside),
        "within_spread": within_spread(gal_ac, beside),
    }  # fmt: skip


def published_fuel_figures(rows: Sequence[FuelPerAcre]) -> list[Figures]:
    """Return the rows of extension tables as figures.

    Parameters
    ----------
    rows : sequence of FuelPerAcre
        Rows.
    """
    return [
        {"work": row.work, "gal_ac": row.gal_ac, "L_ha": row.litres_m2 * HECTARE_M2, "source": row.source.text,
         "status": row.source.status, "note": row.source.note}
        for row in rows
    ]  # fmt: skip


def within_spread(gal_ac: float, rows: Sequence[FuelPerAcre]) -> bool | None:
    """Return whether a figure lies within the spread that the tables themselves give; None where there is no row.

    Parameters
    ----------
    gal_ac : float
        Fuel for an acre. [gal/ac]
    rows : sequence of FuelPerAcre
        Rows of the tables.
    """
    if not rows:
        return None
    low = min(row.gal_ac for row in rows) * (1 - PER_ACRE_SPREAD)
    high = max(row.gal_ac for row in rows) * (1 + PER_ACRE_SPREAD)
    return low <= gal_ac <= high
