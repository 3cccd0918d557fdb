"""The dictionary of seed and supplies: by product with its fields, and grain by field."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from fieldgeo.analysis.figures import area_figures
from fieldgeo.machinery.amounts import amount_by_unit
from fieldgeo.season.supplies import LOAD_SOURCE, USUAL_LOAD_BU, package_size, package_text
from fieldgeo.season.values import crop_holdings
from fieldgeo.units import ACRE_M2, HECTARE_M2

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fieldgeo.season.supplies import FieldNeed, GrainExpected, ProductNeed, SeasonSupplies


def supplies_figures(supplies: SeasonSupplies) -> dict[str, Any]:
    """Return what a season takes and gives, as plain values.

    Parameters
    ----------
    supplies : SeasonSupplies
        Products and grain.
    """
    crops = dict.fromkeys(one.crop for one in supplies.grain)
    return {
        "products": [_product(need) for need in supplies.products],
        "grain": [_grain(one) for one in supplies.grain],
        "grain_total": [_total(crop, [one for one in supplies.grain if one.crop == crop]) for crop in crops],
        "load_bu": supplies.load_bu,
        "load_source": LOAD_SOURCE if supplies.load_bu == USUAL_LOAD_BU else "given",
        "notes": list(supplies.notes),
    }


def _product(need: ProductNeed) -> dict[str, Any]:
    product, kind = need.product, need.product.kind
    package = product.package
    return {
        "product": product.name,
        "rate_ac": amount_by_unit(product.rate.value * ACRE_M2, product.rate.kind),
        "rate_ha": amount_by_unit(product.rate.value * HECTARE_M2, product.rate.kind),
        "fields": [_field(each, need) for each in need.needs],
        "amount": amount_by_unit(need.amount, kind),
        "worked_once": amount_by_unit(need.once, kind),
        "overlap_share": need.amount / need.once - 1 if need.once > 0 else None,
        "allowance_share": product.allowance,
        "on_hand": amount_by_unit(product.on_hand_amount(), kind),
        "package": None if package is None else {"word": package.word, "size": amount_by_unit(package.size, kind)},
        "packages": need.packages,
        "buy": package_text(need),
        "bought": amount_by_unit(need.bought, kind),
        "left_over": amount_by_unit(need.left, kind),
    }


def _field(each: FieldNeed, need: ProductNeed) -> dict[str, Any]:
    ground, kind = each.ground, need.product.kind
    return {
        "operation": each.operation,
        "field": ground.field,
        **area_figures("area", ground.area_m2),
        **area_figures("swept", ground.swept_m2),
        **area_figures("saved", ground.saved_m2),
        **area_figures("worked", ground.worked_m2),
        "amount": amount_by_unit(each.amount, kind),
        "packages": each.amount / package_size(need.product),
        "worked_once": amount_by_unit(each.once, kind),
    }


def _grain(one: GrainExpected) -> dict[str, Any]:
    return {
        "operation": one.operation,
        "field": one.field,
        "crop": one.crop,
        **area_figures("worked", one.worked_m2),
        **_bushels(one.crop, one.amount_bu),
        "loads": one.loads,
    }


def _total(crop: str, grain: Sequence[GrainExpected]) -> dict[str, Any]:
    return {
        "crop": crop,
        "fields": len(grain),
        **area_figures("worked", sum(one.worked_m2 for one in grain)),
        **_bushels(crop, sum(one.amount_bu for one in grain)),
        "loads": sum(one.loads for one in grain),
    }


def _bushels(crop: str, amount_bu: float) -> dict[str, float]:
    bushel_kg = next((holding.size for holding in crop_holdings(crop)), None)
    return amount_by_unit(amount_bu, "bu", bushel_kg=bushel_kg)
