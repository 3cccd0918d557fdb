"""Draw the sample log: a planter's day on Square Forty as a GPS receiver would have written it. All of it is invented.

Run it as ``python scripts/make_sample_log.py``; it writes sample_fields/planter_day.csv, the same to the last digit. A
place every 2 s with 0.2 m of noise and a switch, two stops to fill, and 2 % less speed than the shed says.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from fieldgeo import lay, read_outline, read_shed
from fieldgeo.layout.axes import distances_along

SAMPLES = Path(__file__).resolve().parent.parent / "sample_fields"
STEP_S = 2.0
NOISE_M = 0.2
STOPS = ((1510.0, 420.0), (4230.0, 510.0))  # after so many seconds, for so many [s]


def main() -> None:
    field = read_outline(SAMPLES / "square_forty.geojson")
    tool = read_shed(SAMPLES / "shed.toml").tool("16-row planter")
    slower = replace(tool, speed_m_s=0.98 * tool.speed_m_s, sections=1)
    line = lay(field, slower, direction_deg=0.0, headland=2, sides="ends").timeline
    times = np.arange(0.0, line.field_time_s, STEP_S)
    row = np.clip(np.searchsorted(line.start_s, times, side="right") - 1, 0, len(line.state) - 1)
    places = np.empty((len(times), 2))
    for at, (time_s, number) in enumerate(zip(times.tolist(), row.tolist(), strict=True)):
        points = line.route.legs[line.leg[number]].points()
        along = distances_along(points)
        share = (time_s - line.start_s[number]) / max(float(line.duration_s[number]), 1e-9)
        if line.state[number] == "lifting":
            share = 0.0 if number == 0 or number + 1 < len(line.state) else 1.0
        places[at] = [np.interp(share * along[-1], along, points[:, axis]) for axis in (0, 1)]
    is_down = np.isin(np.array(line.state), ["passes", "headland_rounds"])[row]
    order = np.arange(len(times))
    for after_s, for_s in reversed(STOPS):
        at = int(after_s / STEP_S)
        order = np.insert(order, at, np.full(int(for_s / STEP_S), order[at]))
    noise = np.random.default_rng(7).normal(0.0, NOISE_M, (len(order), 2))
    xy = places[order] + noise
    lon, lat = field.frame.to_lonlat(xy[:, 0], xy[:, 1])
    start = np.datetime64("2026-05-04T13:00:00")
    rows = ["time,lon,lat,width_ft,working"]
    for number, source in enumerate(order.tolist()):
        moment = np.datetime_as_string(start + np.timedelta64(int(number * STEP_S), "s"))
        rows.append(f"{moment}Z,{lon[number]:.7f},{lat[number]:.7f},40,{int(is_down[source])}")
    (SAMPLES / "planter_day.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
