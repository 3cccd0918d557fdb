"""The dictionary of `shutoffs`: every number of sections on every field, what it saves, and what it pays."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fieldgeo.analysis.figures import area_figures, length_figures, tool_figures
from fieldgeo.machinery.amounts import amount_by_unit

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fieldgeo.analysis.figures import Figures
    from fieldgeo.analysis.shutoffs import Applied, FarmShutoffs, FieldShutoffs, WithSections


def shutoff_figures(farm: FarmShutoffs) -> Figures:
    """Return what shut-offs save on every field, and on all of them together.

    Parameters
    ----------
    farm : FarmShutoffs
        From `farm_shutoffs`.

    Returns
    -------
    dict
        `fields` has one entry a field, `farm` the sums; each with `choices`, one for each number of `sections`, the
        whole tool first. `doubled` is ground worked again and swath beyond the outline, `missed` ground not worked,
        `saved` ground less that is put down on than with the whole tool. `saved_amount` is what that ground would have
        taken, by unit, `saved_bought` the same in the unit it is bought in. `payback_yr` is the price of the shut-offs
        over what they save in a year, None where a price is missing or nothing is saved.
    """
    return {
        **tool_figures(farm.tool),
        "applied": None if farm.applied is None else _applied(farm.applied),
        "sections_tried": list(farm.sections),
        "fields": [_field(field, farm) for field in farm.fields],
        "farm": _farm(farm),
    }


def _field(field: FieldShutoffs, farm: FarmShutoffs) -> Figures:
    return {
        "field": field.field_name,
        **area_figures("area", field.area_m2),
        "direction_deg": float(field.direction_deg),
        "choices": [
            _choice([choice], field.area_m2, field.saved_m2(choice), farm)
            | {"doubled_by_cause_m2": _causes(choice)}
            for choice in field.choices
        ],
    }  # fmt: skip


def _farm(farm: FarmShutoffs) -> Figures:
    area_m2 = sum(field.area_m2 for field in farm.fields)
    choices = []
    for at, sections in enumerate(farm.sections):
        summed = _choice([field.choices[at] for field in farm.fields], area_m2, farm.saved_m2(sections), farm)
        choices.append(summed | {
            "price": (farm.price_of or {}).get(sections),
            "payback_yr": farm.payback_years(sections),
        })  # fmt: skip
    return {**area_figures("area", area_m2), "choices": choices}


def _choice(each: Sequence[WithSections], area_m2: float, saved_m2: float, farm: FarmShutoffs) -> Figures:
    """Return the figures of one number of sections, over one field or many."""
    doubled_m2 = sum(one.doubled_m2 for one in each)
    sections = each[0].sections
    return {
        "sections": sections,
        "is_every_row": sections > 1 and sections == farm.tool.rows,
        **length_figures("section_width", farm.tool.width_m / sections),
        **area_figures("doubled", doubled_m2),
        "doubled_pct": 100 * doubled_m2 / area_m2,
        **area_figures("missed", sum(one.coverage.skip_m2 for one in each)),
        **area_figures("saved", saved_m2),
        **_saved(saved_m2, farm.applied),
    }


def _saved(saved_m2: float, applied: Applied | None) -> Figures:
    if applied is None:
        return {"saved_amount": None, "saved_bought": None, "saved_money": None}
    return {
        "saved_amount": amount_by_unit(saved_m2 * applied.rate_m2, applied.kind),
        "saved_bought": amount_by_unit(saved_m2 * applied.bought_m2, applied.bought),
        "saved_money": None if applied.price is None else saved_m2 * applied.bought_m2 * applied.price,
    }


def _causes(choice: WithSections) -> dict[str, float]:
    causes = {cause: float(area) for cause, area in choice.coverage.overlap_by_cause_m2.items()}
    return causes | {"beyond_outline": float(choice.coverage.spill_m2)}


def _applied(applied: Applied) -> Figures:
    return {
        "rate_m2": applied.rate_m2,
        "kind": applied.kind,
        "bought_m2": applied.bought_m2,
        "bought": applied.bought,
        "price": applied.price,
    }
