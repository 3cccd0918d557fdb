"""A GPS log as a machine would have written it on a plan: a place each second, with noise, with or without a switch."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from fieldgeo.analysis.plan import Plan
from fieldgeo.layout.axes import distances_along

Floats = NDArray[np.float64]


def places_of_plan(plan: Plan, *, step_s: float = 1.0) -> tuple[Floats, Floats, NDArray[np.bool_]]:
    """Return times, places and whether the tool is down, at even steps of a plan's time line."""
    line = plan.timeline
    times = np.arange(0.0, line.field_time_s, step_s)
    row = np.clip(np.searchsorted(line.start_s, times, side="right") - 1, 0, len(line.state) - 1)
    xy = np.empty((len(times), 2))
    for number in np.unique(row).tolist():
        mine = np.flatnonzero(row == number)
        points = line.route.legs[line.leg[number]].points()
        if line.state[number] == "lifting":
            end = 0 if number == 0 or line.leg[number - 1] != line.leg[number] or number + 1 < len(line.state) else -1
            xy[mine] = points[end]
            continue
        along = distances_along(points)
        share = (times[mine] - line.start_s[number]) / max(float(line.duration_s[number]), 1e-12)
        for axis in (0, 1):
            xy[mine, axis] = np.interp(share * along[-1], along, points[:, axis])
    is_down = np.isin(np.array(line.state), ["passes", "headland_rounds"])[row]
    return times, xy, is_down


def write_log_of_plan(
    plan: Plan, path: Path, *, noise_m: float = 0.0, with_switch: bool = True, step_s: float = 1.0, seed: int = 1
) -> Path:
    """Write the log of a plan as a table; the width stands in it."""
    times, xy, is_down = places_of_plan(plan, step_s=step_s)
    xy = xy + np.random.default_rng(seed).normal(0.0, noise_m, xy.shape) if noise_m else xy
    lon, lat = plan.field.frame.to_lonlat(xy[:, 0], xy[:, 1])
    head = "time_s,lon,lat,width_m" + (",working" if with_switch else "")
    rows = [head]
    for row in range(len(times)):
        cells = f"{times[row]:.2f},{lon[row]:.9f},{lat[row]:.9f},{plan.tool.width_m:.4f}"
        rows.append(cells + (f",{int(is_down[row])}" if with_switch else ""))
    path.write_text("\n".join(rows) + "\n", encoding="utf-8")
    return path
