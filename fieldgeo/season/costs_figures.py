"""The dictionary of what a season costs: every operation by the acre, entry by entry, and the whole."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from fieldgeo.analysis.figures import area_figures
from fieldgeo.units import ACRE_M2, GALLON_L, HECTARE_M2

if TYPE_CHECKING:
    from fieldgeo.season.costs import SeasonCost, SeasonCosts
    from fieldgeo.season.plan import SeasonPlan

Figures = dict[str, Any]


def costs_figures(costs: SeasonCosts, plan: SeasonPlan) -> Figures:
    """Return what a season costs.

    Parameters
    ----------
    costs : SeasonCosts
        Its costs.
    plan : SeasonPlan
        The season.

    Returns
    -------
    dict
        `operations` in order, money in the farm's own; `per_ac` is all of it over the area of the fields. `prices` are
        those that were reckoned with.
    """
    area_m2 = sum(each.field.area_m2 for each in plan.season.fields)
    rules = costs.rules
    return {
        "farm": plan.season.farm or None,
        **area_figures("area", area_m2),
        "total": costs.total,
        "per_ac": costs.total / area_m2 * ACRE_M2,
        "per_ha": costs.total / area_m2 * HECTARE_M2,
        "operations": [_operation(each) for each in costs.costs],
        "left_out": list(costs.left_out),
        "prices": {
            "fuel_per_L": rules.fuel_price_l,
            "fuel_per_gal": rules.fuel_price_l * GALLON_L,
            "wage_h": rules.wage_h,
            "interest_pct": 100 * rules.interest,
            "taxes_insurance_housing_pct": 100 * rules.taxes_insurance_housing,
            "lubrication_pct_of_fuel": 100 * rules.lubrication_share,
        },
    }


def _operation(each: SeasonCost) -> Figures:
    return {
        "operation": each.operation,
        **area_figures("area", each.area_m2),
        "field_h": each.field_h,
        "total": each.total,
        "per_h": each.total / each.field_h,
        "per_ac": each.per_m2 * ACRE_M2,
        "per_ha": each.per_m2 * HECTARE_M2,
        "entries_per_ac": {name: money / each.area_m2 * ACRE_M2 for name, money in each.entries.items()},
        "entries_per_ha": {name: money / each.area_m2 * HECTARE_M2 for name, money in each.entries.items()},
    }
