"""Stops to fill and unload as a layer of points, beside the layers of their plan."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import shapely

from fieldgeo.analysis.stops_figures import load_figures
from fieldgeo.export.kinds import LayerKind

if TYPE_CHECKING:
    from collections.abc import Mapping

    from fieldgeo.analysis.loaded import LoadedPlan
    from fieldgeo.export.kinds import Layers

STOP_LAYERS: Final[Mapping[str, LayerKind]] = {
    "stops": LayerKind(
        "Point",
        {
            "number": "int64", "job": "str", "after_pass": "int64", "strip": "int64", "after_headland_run": "int64",
            "end": "str", "on_pass": "bool", "along_m": "float64", "along_ft": "float64", "stand": "int64",
            "unit": "str", "amount": "float64", "left": "float64", "seconds": "float64",
        },
    ),
    "stands": LayerKind("Point", {"stand": "int64", "stops": "int64", "unit": "str", "amount": "float64"}),
}  # fmt: skip


def stop_layers(loaded: LoadedPlan) -> Layers:
    """Return the stops of a plan, and the stands, as layers of points in the frame with their attributes.

    Parameters
    ----------
    loaded : LoadedPlan
        A plan with its stops.

    Returns
    -------
    dict of str to list of (shapely.Geometry, dict)
        The layers of `STOP_LAYERS`. What there is not (a stand, a pass before the first) is 0 or empty; `along_m` is
        0 at the end of a pass. Amounts are in the farm's unit, which `unit` names.
    """
    figures = load_figures(loaded)
    return {
        "stops": [(shapely.Point(stop["x_m"], stop["y_m"]), _stop_row(stop)) for stop in figures["stop_list"]],
        "stands": [
            (shapely.Point(stand["x_m"], stand["y_m"]), {"stand": stand["stand"], "stops": stand["stops"]}
             | _amount(stand["amount"]))
            for stand in figures["stands"]
        ],
    }  # fmt: skip


def _stop_row(stop: dict[str, Any]) -> dict[str, Any]:
    return {
        "number": stop["number"],
        "job": stop["job"],
        "after_pass": stop["after_pass"] or 0,
        "strip": stop["strip"] or 0,
        "after_headland_run": stop["after_headland_run"] or 0,
        "end": stop["end"] or "",
        "on_pass": stop["on_pass"],
        "along_m": stop["along_m"] or 0.0,
        "along_ft": stop["along_ft"] or 0.0,
        "stand": stop["stand"] or 0,
        **_amount(stop["amount"]),
        "left": next(iter(stop["left"].values())),
        "seconds": stop["seconds"],
    }


def _amount(amount: dict[str, float]) -> dict[str, Any]:
    unit, value = next(iter(amount.items()))
    return {"unit": unit, "amount": float(value)}
