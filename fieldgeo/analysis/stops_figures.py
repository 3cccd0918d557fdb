"""The dictionary of filling and unloading: every stop, what to bring, what the stops take, what is left of an hour.

Amounts are small dictionaries by unit, the farm's first: ``{"bu": 29.1, "kg": 739.2}``. A mass of bushels is there
once the weight of a bushel is known.
"""

from __future__ import annotations

from itertools import pairwise
from math import ceil, floor
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from fieldgeo.analysis.figures import place_figures
from fieldgeo.machinery.amounts import TON_KG, amount_by_unit
from fieldgeo.travel.choose import FULL_TOLERANCE
from fieldgeo.travel.stations import wind
from fieldgeo.units import ACRE_M2, HECTARE_M2, HOUR_S, to_acres, to_feet

if TYPE_CHECKING:
    from fieldgeo.analysis.figures import Figures
    from fieldgeo.analysis.loaded import LoadedPlan
    from fieldgeo.machinery.supply import Supply
    from fieldgeo.outline.field import Field
    from fieldgeo.travel.stops import Stop

# Published beside ours, never put into it.
PUBLISHED_SHARES: Final = (
    {
        "what": "share of an unloading stop at the end of the field that is not the flow itself",
        "share": 0.63,
        "source": "Study on the process of unloading grain harvesters at the end of the field, Agricultural Science "
        "and Technology (Bulgaria), 2017",
    },
    {
        "what": "productivity lost by unloading at the edge against unloading at a standstill in the field",
        "share": 0.11,
        "source": "Grain combines productivity according to various unloading methods, Trakia University, 2016",
    },
)


def amount_figures(amount: float, supply: Supply) -> dict[str, float]:
    """Return an amount by unit, the farm's first.

    Parameters
    ----------
    amount : float
        The amount. [kind of the supply]
    supply : Supply
        Gives the kind, and the mass of a bushel where it is known.
    """
    return amount_by_unit(amount, supply.kind, bushel_kg=supply.bushel_kg)


def load_figures(loaded: LoadedPlan) -> Figures:
    """Return every figure of filling and unloading.

    Parameters
    ----------
    loaded : LoadedPlan
        A plan with its stops.

    Returns
    -------
    dict
        `bring` is all that must be there, the first filling counted; `stop_list` has each stop with the pass it comes
        after, in the order driven and counted from one side. `stop_h` is the time that stops add, standing and
        driving; `auxiliary_share` is what of it is not the flow itself.
    """
    stops, supply = loaded.stops, loaded.stops.supply
    layout, capacity = loaded.plan.layout, stops.supply.capacity
    by_pass = _used_by_pass(loaded)
    is_fill = supply.job == "fill"
    standing_s = sum(stop.seconds for stop in stops.stops)
    flow_s = standing_s - supply.setup_s * len(stops.stops)
    return {
        "job": supply.job,
        "where": stops.rules.where,
        "tank": amount_figures(capacity, supply),
        "hoppers": supply.hoppers,
        "rate": _rate_figures(supply),
        **_run_figures(supply, layout.tool.width_m),
        "passes_per_load": floor(capacity / by_pass.max() * (1 + FULL_TOLERANCE)) if len(by_pass) else None,
        "round_fits": _round_fits(by_pass, capacity),
        "stops": len(stops.stops),
        "least_loads": _least_loads(stops.total, capacity),
        "total": amount_figures(stops.total, supply),
        "at_start": amount_figures(stops.at_start, supply),
        "bring": amount_figures(stops.at_start + sum(stop.amount for stop in stops.stops), supply) if is_fill else None,
        "at_end": amount_figures(stops.at_end, supply),
        "counted_from": wind(layout.direction_deg + 90),
        "pieces": len(layout.body.geoms),
        "stop_list": [
            _stop_figures(number, stop, supply, layout.field) for number, stop in enumerate(stops.stops, start=1)
        ],
        "stop_h": stops.added_s / HOUR_S,
        "standing_h": standing_s / HOUR_S,
        "detour_h": (stops.added_s - standing_s) / HOUR_S,
        "auxiliary_share": None if stops.added_s <= 0 or not supply.flow_s else 1 - flow_s / stops.added_s,
        "stands": _stand_figures(loaded),
        "cart": _cart_figures(loaded),
        "habit": _habit_figures(loaded),
        "material_h": _material_figures(loaded),
        "time_share": _time_shares(loaded),
        "field_time_without_stops_h": loaded.without.field_time_s / HOUR_S,
        "published_shares": [dict(each) for each in PUBLISHED_SHARES] if not is_fill else [],
        "cautions": list(stops.cautions),
    }


def _used_by_pass(loaded: LoadedPlan) -> Any:
    works = [leg.state for leg in loaded.without.route.legs if leg.is_work]
    return loaded.stops.used_by_work[np.array([state == "pass" for state in works], dtype=bool)]


def _round_fits(by_pass: Any, capacity: float) -> bool | None:
    """Return whether every two passes driven one after the other, out and back, fit into one tank."""
    if len(by_pass) < 2:
        return None
    return bool(max(one + other for one, other in pairwise(by_pass.tolist())) <= capacity * (1 + FULL_TOLERANCE))


def _least_loads(total: float, capacity: float) -> int:
    return ceil(total / capacity - 1e-6)


def _rate_figures(supply: Supply) -> Figures | None:
    if not isinstance(supply.rate_m2, float | int):
        return None
    by_acre = amount_figures(supply.rate_m2 * ACRE_M2, supply)
    by_hectare = amount_figures(supply.rate_m2 * HECTARE_M2, supply)
    return {f"{unit}_ac": value for unit, value in by_acre.items()} | {
        f"{unit}_ha": value for unit, value in by_hectare.items()
    }


def _run_figures(supply: Supply, width_m: float) -> Figures:
    """Return what one load does: ground, and the run at the tool's width; None where the rate differs."""
    ground_m2, run_m = supply.load_m2(), supply.load_run_m(width_m)
    if ground_m2 is None or run_m is None:
        return dict.fromkeys(("load_m2", "load_ac", "load_run_m", "load_run_ft"))
    return {
        "load_m2": ground_m2,
        "load_ac": to_acres(ground_m2),
        "load_run_m": run_m,
        "load_run_ft": to_feet(run_m),
    }


def _stop_figures(number: int, stop: Stop, supply: Supply, field: Field) -> Figures:
    after = stop.after
    is_pass = after is not None and after.state == "pass"
    return {
        "number": number,
        "job": stop.job,
        "after_pass": after.number if after and is_pass else None,
        "strip": after.across if after and is_pass else None,
        "after_headland_run": after.number if after and not is_pass else None,
        "end": after.end if after else None,
        "on_pass": stop.along_m is not None,
        "along_m": stop.along_m,
        "along_ft": None if stop.along_m is None else to_feet(stop.along_m),
        "stand": stop.stand + 1 if stop.stand >= 0 else None,
        "x_m": stop.xy[0],
        "y_m": stop.xy[1],
        **place_figures(field, stop.xy),
        "amount": amount_figures(stop.amount, supply),
        "before": amount_figures(stop.before, supply),
        "left": amount_figures(stop.left, supply),
        "seconds": stop.seconds,
        "detour_s": stop.detour_s,
    }


def _stand_figures(loaded: LoadedPlan) -> list[Figures]:
    stands_xy = loaded.stops.rules.stands_xy
    if loaded.stops.rules.where != "stands" or stands_xy is None:
        return []
    found = []
    for number, (x_m, y_m) in enumerate(np.asarray(stands_xy, dtype=float).reshape(-1, 2).tolist()):
        here = [stop.amount for stop in loaded.stops.stops if stop.stand == number]
        found.append(
            {
                "stand": number + 1,
                "x_m": x_m,
                "y_m": y_m,
                **place_figures(loaded.plan.field, (x_m, y_m)),
                "stops": len(here),
                "amount": amount_figures(sum(here), loaded.stops.supply),
            }
        )
    return found


def _cart_figures(loaded: LoadedPlan) -> Figures | None:
    """Return how often a cart must go: its loads, and the time that it has for each."""
    capacity, total = loaded.stops.rules.cart_capacity, loaded.stops.total
    if loaded.stops.rules.where != "go":
        return None
    load = min(capacity or loaded.stops.supply.capacity, total)
    loads = _least_loads(total, load) if total > 0 else 0
    return {
        "capacity": None if capacity is None else amount_figures(capacity, loaded.stops.supply),
        "loads": loads,
        "minutes_for_each": loaded.plan.field_time_s / 60 * load / total if total > 0 else None,
        "tank_minutes": loaded.plan.field_time_s / 60 * loaded.stops.supply.capacity / total if total > 0 else None,
    }


def _habit_figures(loaded: LoadedPlan) -> Figures | None:
    """Return what the stands that were searched for save against standing at the entrance or the nearest corner."""
    if loaded.search is None:
        return None
    habit, saving_s = loaded.search.habit_plan, loaded.search.saving_s
    return {
        **place_figures(loaded.plan.field, tuple(loaded.search.habit_xy.tolist())),
        "stops": None if habit is None else len(habit.stops),
        "stop_h": None if habit is None else habit.added_s / HOUR_S,
        "saving_h": None if saving_s is None else saving_s / HOUR_S,
        "saving_share": None if saving_s is None or not habit or habit.added_s <= 0 else saving_s / habit.added_s,
    }


def _material_figures(loaded: LoadedPlan) -> Figures | None:
    """Return material capacity: what goes through the tool in an hour of field time."""
    if loaded.plan.field_time_s <= 0:
        return None
    hourly = amount_figures(loaded.stops.total / loaded.plan.field_time_s * HOUR_S, loaded.stops.supply)
    masses = {"t_h": hourly["kg"] / 1000, "ton_h": hourly["kg"] / TON_KG} if "kg" in hourly else {}
    return {f"{unit}_h": value for unit, value in hourly.items()} | masses


def _time_shares(loaded: LoadedPlan) -> dict[str, float]:
    total_s = loaded.plan.field_time_s
    return {
        state: seconds / total_s if total_s > 0 else 0.0 for state, seconds in loaded.plan.timeline.by_state_s().items()
    }
