"""Grain of a log with flow: wet mass, dry bushels, yield."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from fieldgeo.analysis.log.columns import POUND_KG
from fieldgeo.analysis.log.record import Log
from fieldgeo.analysis.log.stretches import Stretches
from fieldgeo.units import ACRE_M2, INCH_M

# Dry bushels = lb/s x s x (100 - moisture) / 84.5 / 56, and acres = in x in / 6,272,640: help page of the Minnesota
# corn yield-monitor set in the R package agridat 1.27. Corn at 15.5 % moisture, 56 lb a bushel.
CORN_MOISTURE_PCT: Final = 15.5
CORN_BUSHEL_LB: Final = 56.0
SQUARE_INCHES: Final = 6_272_640.0  # in an acre


@dataclass(frozen=True, slots=True, kw_only=True)
class Grain:
    """What the flow adds up to, as corn."""

    wet_kg: float
    bushels: float  # at the dry moisture
    moisture_pct: float | None  # mean over the grain; None where the log has none, and then the grain is taken as dry
    metered_m2: float  # distance x width of the records [m2]
    bushels_ac: float  # bushels over the metered area [bu/ac]


def weigh(log: Log, stretches: Stretches) -> Grain | None:
    """Return the grain that a log metered, None where it has no flow.

    Parameters
    ----------
    log : Log
        Records of one field; flow in kg/s, moisture in per cent.
    stretches : Stretches
        The work. Flow counts wherever it runs, area only under work.

    Notes
    -----
    A record stands for the time before it. Where the log has the distance and width of each record, the area is theirs.
    """
    flow = log.columns.get("flow")
    if flow is None:
        return None
    step_s = np.diff(log.time_s, prepend=log.time_s[0] - log.interval_s)
    cycle = log.columns.get("cycle")
    seconds = np.minimum(step_s, 2 * log.interval_s) if cycle is None else np.nan_to_num(cycle)
    wet_kg = np.nan_to_num(flow) * seconds
    moisture = log.columns.get("moisture")
    mean_moisture = None
    bushels = wet_kg / POUND_KG / CORN_BUSHEL_LB
    if moisture is not None:
        typical = float(np.nanmedian(moisture))
        known = np.where(np.isfinite(moisture), moisture, typical)
        bushels = bushels * (100 - known) / (100 - CORN_MOISTURE_PCT)
        total = wet_kg.sum()
        mean_moisture = float((known * wet_kg).sum() / total) if total > 0 else typical
    area_m2 = _metered_m2(log, stretches)
    total_bushels = float(bushels.sum())
    return Grain(
        wet_kg=float(wet_kg.sum()), bushels=total_bushels, moisture_pct=mean_moisture, metered_m2=area_m2,
        bushels_ac=total_bushels / (area_m2 / ACRE_M2) if area_m2 > 0 else 0.0,
    )  # fmt: skip


def _metered_m2(log: Log, stretches: Stretches) -> float:
    distance, width = log.columns.get("distance"), log.columns.get("width")
    if distance is not None:
        swath = np.full(len(log), log.width_m) if width is None else np.nan_to_num(width)
        square_m = np.nan_to_num(distance)[stretches.is_down] @ swath[stretches.is_down]
        return float(square_m / INCH_M**2 / SQUARE_INCHES * ACRE_M2)
    return sum(stretch.length_m * stretch.width_m for stretch in stretches.members)
