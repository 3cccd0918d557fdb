"""What a season file's operations take and give on the ground that their plans sweep."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from fieldgeo.errors import InputError
from fieldgeo.machinery.amounts import converted, parse_holding, parse_rate
from fieldgeo.machinery.published import published_efficiency
from fieldgeo.season.products import product_of, product_values
from fieldgeo.season.supplies import USUAL_LOAD_BU, SeasonSupplies, grain_expected, ground_of, product_needs
from fieldgeo.season.values import crop_holdings

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from fieldgeo.analysis.plan import Plan
    from fieldgeo.season.model import Season, SeasonOperation
    from fieldgeo.season.products import Product
    from fieldgeo.season.supplies import GrainExpected, GroundWorked


def season_supplies(
    season: Season,
    grounds: Mapping[tuple[str, str], tuple[str, GroundWorked]],
    *,
    load_bu: float = USUAL_LOAD_BU,
) -> SeasonSupplies:
    """Return what a season takes of seed and supplies, and the grain to expect.

    Parameters
    ----------
    season : Season
        Operations, what they carry and how it is bought.
    grounds : mapping of (operation, field) to (tool, GroundWorked)
        Ground under the plan of each operation on each field, and the tool of the plan.
    load_bu : float
        What a truck or wagon holds, > 0. [bu]

    Raises
    ------
    InputError
        If a product cannot be used, or products of one name are bought in different ways.

    Notes
    -----
    Grain comes off under harvest machines, and where an operation has a yield. It is that of the operation,
    or else of the crop, or else what the shed says of the tool.
    """
    asked: list[tuple[str, Product, list[GroundWorked]]] = []
    grain: list[GrainExpected] = []
    notes: list[str] = []
    for operation in season.operations:
        by_tool: dict[str, list[GroundWorked]] = {}
        for field in operation.fields:
            if (operation.name, field) in grounds:
                tool, ground = grounds[operation.name, field]
                by_tool.setdefault(tool, []).append(ground)
            else:
                notes.append(f"{operation.name} on {field} has no plan and is left out")
        for tool, each in by_tool.items():
            values = product_values(season.shed.loads.get(tool, {}), operation.supplies, operation.product)
            product = product_of(values, default_name=operation.name, tool=season.shed.tool(tool))
            if product is not None:
                asked.append((operation.name, product, each))
        if is_harvest(season, operation):
            for tool, each in by_tool.items():
                grain += _grain(season, operation, tool, each, notes, load_bu)
    return SeasonSupplies(products=product_needs(asked), grain=tuple(grain), load_bu=load_bu, notes=tuple(notes))


def grounds_of(
    season: Season,
    plan_of: Callable[[SeasonOperation, str, str], Plan | None],
    tools: Mapping[tuple[str, str], str],
) -> dict[tuple[str, str], tuple[str, GroundWorked]]:
    """Return the ground under each operation on each field, by its plan.

    Parameters
    ----------
    season : Season
        Operations and fields.
    plan_of : callable
        Gives the plan of an operation on a field, by its name, with a tool, by its name; None where there is none. What
        shut-offs of a tool leave out is not swept there.
    tools : mapping of (operation, field) to str
        Tools that do it, as scheduled; where there is none the first that the operation names.
    """
    found = {}
    for operation in season.operations:
        for field in operation.fields:
            tool = tools.get((operation.name, field), operation.tools[0])
            plan = plan_of(operation, field, tool)
            if plan is not None:
                found[operation.name, field] = (tool, ground_of(field, plan.coverage))
    return found


def is_harvest(season: Season, operation: SeasonOperation) -> bool:
    """Return whether an operation takes grain off.

    Parameters
    ----------
    season : Season
        Its shed.
    operation : SeasonOperation
        The operation.
    """
    if "yield" in operation.supplies:
        return True
    for name in operation.tools:
        published = published_efficiency(season.shed.tool(name).kind)
        if "yield" in season.shed.loads.get(name, {}) or (published is not None and published.work == "harvest"):
            return True
    return False


def _grain(
    season: Season, operation: SeasonOperation, tool: str, grounds: list[GroundWorked], notes: list[str],
    load_bu: float,
) -> list[GrainExpected]:  # fmt: skip
    found: list[GrainExpected] = []
    for ground in grounds:
        crop = season.field_of(ground.field).crop
        yield_bu_m2 = _yield(operation.supplies, crop)
        if yield_bu_m2 is None:
            known = season.crops.get(crop)
            yield_bu_m2 = None if known is None else known.yield_bu_m2
        if yield_bu_m2 is None:
            yield_bu_m2 = _yield(season.shed.loads.get(tool, {}), crop)
        if yield_bu_m2 is None:
            notes.append(f"no yield in bushels is known of {crop} on {ground.field}; its grain is left out")
        else:
            found += grain_expected(operation.name, crop, yield_bu_m2, [ground], load_bu=load_bu)
    return found


def _yield(values: Mapping[str, Any], crop: str) -> float | None:
    """Return a yield as it is written in bushels; None where there is none, or it is in no unit of grain. [bu/m2]"""
    if "yield" not in values:
        return None
    given = values.get("holds", ())
    holdings = [parse_holding(text) for text in ([given] if isinstance(given, str) else given)]
    try:
        rate = parse_rate(values["yield"], what="yield")
        return converted(rate.value, rate.kind, "bu", [*holdings, *crop_holdings(crop)], what="yield and bushels")
    except InputError:
        return None
