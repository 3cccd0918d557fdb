"""The dictionary of a log: every answer as plain numbers under fixed names, in SI and in farm units."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fieldgeo.analysis.figures import Figures, area_figures
from fieldgeo.units import HOUR_S, to_acres, to_feet, to_hectares, to_mph

if TYPE_CHECKING:
    from fieldgeo.analysis.log.against import Against
    from fieldgeo.analysis.log.calibrate import Calibration, Measured
    from fieldgeo.analysis.log.measure import DayWork
    from fieldgeo.analysis.log.timing import Stop, TurnSeen

_AREAS = ("swept", "worked", "overlap", "skip", "spill")


def log_figures(work: DayWork) -> Figures:
    """Return every figure of a log.

    Parameters
    ----------
    work : DayWork
        A log measured.

    Returns
    -------
    dict
        `time_h` holds the hours of each state and sums to `field_time_h`. `turns` counts turns back and corners; a
        turn lasts from the tool up to the tool down, without stops. Figures that cannot be known are None.
    """
    log, pattern, swept, timing = work.log, work.pattern, work.swept, work.timing
    lengths, spacing = work.pass_lengths_m, pattern.spacing_m
    turn_s = np.array([turn.duration_s for turn in timing.turns if turn.kind != "corner"])
    area_m2 = swept.outline.area_m2
    return {
        "log": log.name,
        "records": len(log),
        "records_read": log.records_read,
        "evidence": work.stretches.evidence,
        "width_m": log.width_m,
        "width_ft": to_feet(log.width_m),
        "is_width_given": log.is_width_given,
        **area_figures("area", area_m2),
        "is_outline_given": swept.is_outline_given,
        "direction_deg": round(float(pattern.direction_deg), 6) % 180,
        "direction_spread_deg": float(pattern.spread_deg),
        "passes": len(lengths),
        "pieces": len(work.of_role("piece")),
        "strips": pattern.strips,
        "pass_spacing_m": _median(spacing),
        "pass_spacing_ft": None if len(spacing) == 0 else to_feet(float(np.median(spacing))),
        "pass_spacing_sd_m": float(np.std(spacing)) if len(spacing) else None,
        "pass_length_m": _spread(lengths),
        "headland_rounds": pattern.headland_rounds,
        "headland_runs": len(work.of_role("headland")),
        "turns": len(timing.turns),
        "turns_by_kind": _by(timing.turns, "kind"),
        "turns_by_passes_over": _by([turn for turn in timing.turns if turn.passes_over], "passes_over"),
        "turn_s_median": _median(turn_s),
        "turn_s_mean": float(turn_s.mean()) if len(turn_s) else None,
        "turn_s_sd": float(turn_s.std()) if len(turn_s) else None,
        **{
            key: value
            for name in _AREAS
            for key, value in {
                **area_figures(name, getattr(swept, f"{name}_m2")),
                f"{name}_pct": 100 * getattr(swept, f"{name}_m2") / area_m2,
            }.items()
        },
        "work_m": float(work.work_m),
        **_speed("speed", work.work_speed_m_s),
        "speed_median_m_s": float(np.median(work.motion.speed_m_s[work.stretches.is_down])),
        "field_time_h": work.field_time_s / HOUR_S,
        "time_h": {state: seconds / HOUR_S for state, seconds in timing.by_state_s.items()},
        "lifted": {"count": timing.lifted, "seconds": timing.lifted_s, "over_m": timing.lifted_m},
        "stops": {
            "count": len(timing.stops),
            "seconds": sum(stop.duration_s for stop in timing.stops),
            "longest_s": max((stop.duration_s for stop in timing.stops), default=0.0),
            "places": [_stop(stop, work) for stop in timing.stops],
        },
        "breaks": [_stop(stop, work) for stop in timing.breaks],
        "gaps": int(work.motion.run[-1]),
        **_capacity("theoretical", work.theoretical_m2_s),
        **_capacity("effective", work.effective_m2_s),
        "field_efficiency": float(work.field_efficiency),
        "grain": _grain(work),
        "noise_m": work.motion.noise_m,
        "fields": [
            {"number": number, "hours": found.time_s / HOUR_S, "lon_deg": found.lonlat[0], "lat_deg": found.lonlat[1]}
            for number, found in enumerate(log.fields, start=1)
        ],
        "notes": list(work.notes),
    }  # fmt: skip


def against_figures(against: Against) -> Figures:
    """Return a plan beside the log of the same work.

    Parameters
    ----------
    against : Against
        The two.

    Returns
    -------
    dict
        `rows` of name, plan, log and the difference in per cent of the log (None where the log has none).
    """
    return {
        "tool": against.plan.tool.name,
        "is_calibrated": against.calibration is not None,
        "rows": [
            {"what": what, "plan": plan, "log": logged, "difference_pct": 100 * (plan / logged - 1) if logged else None}
            for what, plan, logged in against.rows()
        ],
        "field_time_error_pct": 100 * against.field_time_error,
        "length_error_pct": 100 * against.length_error,
        "passes_error": against.strips_error,
    }


def calibration_figures(calibration: Calibration) -> Figures:
    """Return what a log teaches of a tool, each figure with its spread and the number of observations.

    Parameters
    ----------
    calibration : Calibration
        What was measured.
    """
    return {
        "speed_m_s": _measured(calibration.speed_m_s),
        "spacing_m": _measured(calibration.spacing_m),
        "turn_s": _measured(calibration.turn_s),
        "turn_s_by_kind": {kind: _measured(measured) for kind, measured in calibration.turn_s_by_kind.items()},
        "lifting_s": _measured(calibration.lifting_s),
        "lift_s_per_pass": _measured(calibration.lift_s_per_pass),
        "stop_s_per_work_h": calibration.stop_share * HOUR_S,
        "stops": calibration.stops,
    }


def _median(values: np.ndarray) -> float | None:
    return float(np.median(values)) if len(values) else None


def _spread(values: np.ndarray) -> Figures:
    if len(values) == 0:
        return {"total": 0.0, "median": None, "least": None, "most": None}
    return {
        "total": float(values.sum()), "median": float(np.median(values)), "least": float(values.min()),
        "most": float(values.max()),
    }  # fmt: skip


def _by(turns: tuple[TurnSeen, ...] | list[TurnSeen], what: str) -> Figures:
    groups: dict[str, list[float]] = {}
    for turn in turns:
        groups.setdefault(str(getattr(turn, what)), []).append(turn.duration_s)
    return {
        name: {"count": len(seconds), "median_s": float(np.median(seconds)), "sd_s": float(np.std(seconds))}
        for name, seconds in sorted(groups.items())
    }


def _stop(stop: Stop, work: DayWork) -> Figures:
    lon, lat = work.log.frame.to_lonlat(stop.xy[0], stop.xy[1])
    return {
        "start_s": stop.start_s, "seconds": stop.duration_s, "during": stop.during, "lon_deg": float(lon),
        "lat_deg": float(lat),
    }  # fmt: skip


def _speed(what: str, speed_m_s: float) -> Figures:
    return {
        f"{what}_m_s": float(speed_m_s), f"{what}_km_h": float(speed_m_s) * 3.6, f"{what}_mph": to_mph(speed_m_s)
    }  # fmt: skip


def _capacity(what: str, m2_s: float) -> Figures:
    return {f"{what}_ha_h": to_hectares(m2_s * HOUR_S), f"{what}_ac_h": to_acres(m2_s * HOUR_S)}


def _grain(work: DayWork) -> Figures | None:
    grain = work.grain
    if grain is None:
        return None
    return {
        "wet_kg": grain.wet_kg, "dry_bushels": grain.bushels, "moisture_pct": grain.moisture_pct,
        "metered_m2": grain.metered_m2, "metered_ac": to_acres(grain.metered_m2), "bushels_ac": grain.bushels_ac,
        "bushels_h": grain.bushels / (work.field_time_s / HOUR_S),
    }  # fmt: skip


def _measured(measured: Measured | None) -> Figures | None:
    if measured is None:
        return None
    return {"mean": measured.mean, "sd": measured.sd, "n": measured.n}
