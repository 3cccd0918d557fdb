"""Speed, as ratios in one run: fieldgeo against the plain textbook way, and how its cost grows.

Run it as ``.venv/bin/python scripts/bench.py`` on a quiet machine. Nothing here is a test; times are the least of several
tries. The textbook way is written as a careful programmer would write it first: one heading at a time, the field turned,
headland and swaths by buffering, passes by clipping strip after strip, coverage by union.
"""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from math import acos, ceil, hypot, pi
from pathlib import Path

import numpy as np
import shapely
from shapely import affinity

from fieldgeo import best_direction, field_from_shape, lay, read_outline, read_shed
from fieldgeo.machinery.turning import headland_rounds

ROOT = Path(__file__).resolve().parent.parent
FIELDS = ("square_forty", "ell", "crooked_quarter", "creek", "waterway")
TEXTBOOK_HEADINGS = 24  # laid out of the 1800 that a search to a tenth of a degree takes; the rest is in proportion


def textbook_layout(shape, tool, direction_deg, rounds, lows=None):
    """Lay one heading the plain way; returns the figures. Strips start at the low side, or where they are told to."""
    width, radius = tool.width_m, tool.turn_radius_m
    turned = affinity.rotate(shape, direction_deg - 90, origin=(0, 0))  # passes along x
    body = turned.buffer(-rounds * width, join_style="mitre")
    headland = turned.difference(body)
    _, low, _, high = body.bounds
    if lows is None:
        lows = [low + number * width for number in range(ceil((high - low - 0.01) / width))]
    swaths, ends = [], []
    for bottom in lows:
        strip = shapely.box(-1e5, bottom, 1e5, bottom + width)
        runs = sorted(part.bounds[::2] for part in shapely.get_parts(body.intersection(strip)) if part.area > 0)
        merged = []
        for start, end in runs:
            if merged and start <= merged[-1][1]:
                merged[-1] = (merged[-1][0], max(end, merged[-1][1]))
            else:
                merged.append((start, end))
        for start, end in merged:
            centre = bottom + width / 2
            line = shapely.LineString([(start, centre), (end, centre)])
            swaths.append(line.buffer(width / 2, cap_style="flat"))
            ends.append((start, end, centre))
    swept = sum(swath.area for swath in swaths) + headland.area
    worked = shapely.unary_union([*swaths, headland]).intersection(turned).area
    inside = sum(swath.intersection(turned).area for swath in swaths) + headland.area
    driven = sum(end - start for start, end, _ in ends)
    turning = 0.0
    for number, (one, two) in enumerate(zip(ends[:-1], ends[1:], strict=True)):
        apart, along = abs(two[2] - one[2]), abs(two[number % 2] - one[number % 2])
        if apart >= 2 * radius:
            turning += pi * radius + hypot(apart - 2 * radius, along)
        else:
            turning += radius * (pi + 4 * acos((2 * radius + apart) / (4 * radius))) + along
    time_s = (driven + headland.area / width) / tool.speed_m_s + turning / tool.turn_speed_m_s
    return {
        "passes": len(ends), "swept": swept, "worked": worked, "overlap": inside - worked, "spill": swept - inside,
        "time_s": time_s,
    }  # fmt: skip


def least_s(job: Callable[[], object], tries: int = 5) -> float:
    """Return the least time of several tries. [s]"""
    best = float("inf")
    for _ in range(tries):
        begin = time.perf_counter()
        job()
        best = min(best, time.perf_counter() - begin)
    return best


def same_figures(field, tool) -> float:
    """Return the greatest difference between the two ways' areas, as a share of the field, strips being the same."""
    worst = 0.0
    for direction in (0.0, 33.3, 90.0, 151.7):
        plan = lay(field, tool, direction_deg=direction, headland=0)
        lows = np.unique(plan.layout.passes.low_m)
        # Across runs to the left of the passes in both: the textbook's y after turning is our v.
        plain = textbook_layout(field.shape, tool, direction, 0, lows=lows.tolist())
        ours = {
            "swept": plan.coverage.swept_m2, "worked": plan.coverage.worked_m2,
            "overlap": plan.coverage.overlap_m2, "spill": plan.coverage.spill_m2,
        }  # fmt: skip
        worst = max(worst, *(abs(ours[key] - plain[key]) / field.area_m2 for key in ours))
    return worst


def against_textbook(tool) -> None:
    print(f"Against the textbook way: {tool.width_m:.2f} m tool, headland all round")
    print(f"{'field':18}{'ha':>6}{'corners':>9}  {'one layout, ms':^22}  {'search to 0.1 deg, ms':^26}  {'areas differ':>12}")
    print(f"{'':18}{'':6}{'':9}  {'plain':>7}{'ours':>7}{'ratio':>8}  {'plain':>10}{'ours':>7}{'ratio':>9}")
    for name in FIELDS:
        field = read_outline(ROOT / "sample_fields" / f"{name}.geojson")
        rounds = headland_rounds(tool)
        plain_one = least_s(lambda: textbook_layout(field.shape, tool, 20.0, rounds))
        ours_one = least_s(lambda: lay(field, tool, direction_deg=20.0, sides="all"))
        headings = np.linspace(0, 180, TEXTBOOK_HEADINGS, endpoint=False)
        plain_all = least_s(lambda: [textbook_layout(field.shape, tool, float(d), rounds) for d in headings], 1)
        plain_all *= 1800 / TEXTBOOK_HEADINGS
        ours_all = least_s(lambda: best_direction(field, tool), 3)
        print(
            f"{field.name:18}{field.area_m2 / 1e4:6.1f}{shapely.get_num_coordinates(field.shape):9}  "
            f"{1e3 * plain_one:7.1f}{1e3 * ours_one:7.1f}{plain_one / ours_one:7.1f}x  "
            f"{1e3 * plain_all:10.0f}{1e3 * ours_all:7.0f}{plain_all / ours_all:8.0f}x  {same_figures(field, tool):12.1e}"
        )


def growth(tool) -> None:
    print("\nGrowth with corners: a 65 ha round field with a wavy edge, one layout at a given direction")
    print(f"{'corners':>8}{'ms':>9}{'ms a corner':>13}")
    for corners in (10, 100, 1000, 10_000):
        angle = np.linspace(0, 2 * pi, corners, endpoint=False)
        reach = 455 + 5 * np.sin(7 * angle)
        field = field_from_shape(shapely.Polygon(np.column_stack([reach * np.cos(angle), reach * np.sin(angle)])))
        spent = least_s(lambda: lay(field, tool, direction_deg=20.0, sides="all"), 3)
        print(f"{corners:8}{1e3 * spent:9.1f}{1e3 * spent / corners:13.4f}")
    print("\nGrowth with passes: Crooked Quarter with ever narrower tools, one layout at a given direction")
    print(f"{'width, m':>8}{'passes':>8}{'ms':>9}{'ms a pass':>11}")
    field = read_outline(ROOT / "sample_fields" / "crooked_quarter.geojson")
    for share in (1, 4, 16):
        narrow = replace(tool, name="narrow", width_m=tool.width_m / share, lap_m=0.0)
        plan = lay(field, narrow, direction_deg=20.0, sides="all", headland=3)
        spent = least_s(lambda: lay(field, narrow, direction_deg=20.0, sides="all", headland=3), 3)
        count = len(plan.layout.passes)
        print(f"{narrow.width_m:8.2f}{count:8}{1e3 * spent:9.1f}{1e3 * spent / count:11.4f}")


def cold_commands() -> None:
    print("\nCold commands, wall time")
    sample = str(ROOT / "sample_fields" / "crooked_quarter.geojson")
    for words in (["--help"], ["lay", sample, "--width", "40ft", "--direction", "20"], ["lay", sample, "--width", "40ft"]):
        command = [sys.executable, "-m", "fieldgeo", *words]
        spent = least_s(lambda: subprocess.run(command, check=True, capture_output=True), 3)
        print(f"  {spent:5.2f} s  fieldgeo {' '.join(words).replace(sample, 'crooked_quarter.geojson')}")


def main() -> None:
    shed = read_shed(ROOT / "sample_fields" / "shed.toml")
    tool = replace(shed.tool("40 ft field cultivator"), lap_m=0.0)
    against_textbook(tool)
    growth(tool)
    cold_commands()


if __name__ == "__main__":
    main()
