"""What a season file's operations take and give on the ground that their plans sweep."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from fieldgeo.errors import InputError
from fieldgeo.machinery.amounts import converted, parse_holding, parse_rate
from fieldgeo.machinery.published import published_efficiency
from fieldgeo.season.products import product_of
from fieldgeo.season.supplies import USUAL_LOAD_BU, SeasonSupplies, grain_expected, product_needs
from fieldgeo.season.values import crop_holdings

if TYPE_CHECKING:
    from collections.abc import Mapping

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
            carried = season.shed.loads.get(tool, {})
            values = {**carried, **operation.supplies, **operation.product}
            product = product_of(values, default_name=operation.name, tool=season.shed.tool(tool))
            if product is not None:
                asked.append((operation.name, product, each))
        if is_harvest(season, operation):
            for tool, each in by_tool.items():
                grain += _grain(season, operation, tool, each, notes, load_bu)
    return SeasonSupplies(products=product_needs(asked), grain=tuple(grain), load_bu=load_bu, notes=tuple(notes))


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
        carried = season.shed.loads.get(tool, {})
        yield_bu_m2 = _yield(operation.supplies, crop)
        if yield_bu_m2 is None:
            known = season.crops.get(crop)
            yield_bu_m2 = None if known is None else known.yield_bu_m2
        if yield_bu_m2 is None:
            yield_bu_m2 = _yield(carried, crop)
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
