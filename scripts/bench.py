"""Speed, as ratios in one run: fieldgeo against the plain textbook way, and how its cost grows.

Run it as ``.venv/bin/python scripts/bench.py`` on a quiet machine. Nothing here is a test; times are the least of
several tries. The textbook way is written as a careful programmer would write it first: one heading at a time, the
field turned, headland and swaths by buffering, passes by clipping strip after strip, coverage by union. It lays its
strips from the low side; "shifted" tries the seven sideways placings that fieldgeo chooses from, which it must to
give the same passes. It still leaves out what a layout here holds besides: sides and corners of the headland, blocks,
the way between them, lifting, and the causes of overlap.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from itertools import pairwise
from math import acos, asin, atan2, ceil, cos, hypot, pi, sin, sqrt
from pathlib import Path

import numpy as np
import shapely
from shapely import affinity

from fieldgeo import Field, Plan, Tool, best_direction, field_from_shape, lay, read_outline, read_shed
from fieldgeo.analysis.pass_order import order_figures
from fieldgeo.analysis.plan import plan_layout
from fieldgeo.machinery.turning import headland_rounds
from fieldgeo.travel.turns import turn_times_s

ROOT = Path(__file__).resolve().parent.parent
SAMPLES = ROOT / "sample_fields"
FIELDS = ("square_forty", "ell", "crooked_quarter", "creek", "waterway")
HEADINGS = (
    24  # laid the textbook way out of the 1800 that a search to a tenth of a degree takes; the rest in proportion
)
SHIFTS = (0.0, 0.0, 0.25, 0.5, 0.75, 1.0, 1.0)  # as many as fieldgeo tries


def strips_from(low: float, high: float, width: float, share: float) -> list[float]:
    """Return the low sides of strips that fill an extent, what sticks out shared between the two sides."""
    count = ceil((high - low - 0.01) / width)
    return [low - share * (count * width - (high - low)) + number * width for number in range(count)]


def textbook_passes(body: shapely.Geometry, lows: Sequence[float], width: float) -> list[tuple[float, float, float]]:
    """Return start, end and centre of the passes over strips, by clipping the body to each."""
    passes = []
    for bottom in lows:
        strip = shapely.box(-1e5, bottom, 1e5, bottom + width)
        runs = sorted(part.bounds[::2] for part in shapely.get_parts(body.intersection(strip)) if part.area > 0)
        merged: list[tuple[float, float]] = []
        for start, end in runs:
            if merged and start <= merged[-1][1]:
                merged[-1] = (merged[-1][0], max(end, merged[-1][1]))
            else:
                merged.append((start, end))
        passes += [(start, end, bottom + width / 2) for start, end in merged]
    return passes


def turning_m(passes: Sequence[tuple[float, float, float]], radius: float) -> float:
    """Return the length of the turns between passes in the order given, back and forth."""
    total = 0.0
    for number, (one, two) in enumerate(pairwise(passes)):
        apart, along = abs(two[2] - one[2]), abs(two[1 - number % 2] - one[1 - number % 2])
        if apart >= 2 * radius:
            total += pi * radius + hypot(apart - 2 * radius, along)
        else:
            total += radius * (pi + 4 * acos((2 * radius + apart) / (4 * radius))) + along
    return total


def textbook_layout(
    shape: shapely.Geometry, tool: Tool, direction_deg: float, rounds: int, choices: Sequence[Sequence[float] | float]
) -> dict[str, float]:
    """Lay one heading the plain way, the best of some sideways placings (shares, or the strips themselves)."""
    width = tool.width_m
    turned = affinity.rotate(shape, direction_deg - 90, origin=(0, 0))  # passes along x
    body = turned.buffer(-rounds * width, join_style="mitre")
    headland = turned.difference(body)
    _, low, _, high = body.bounds
    best: list[tuple[float, float, float]] = []
    best_s = float("inf")
    for choice in choices:
        lows = strips_from(low, high, width, choice) if isinstance(choice, float) else choice
        passes = textbook_passes(body, lows, width)
        driven = sum(end - start for start, end, _ in passes) / tool.speed_m_s
        time_s = driven + turning_m(passes, tool.turn_radius_m) / tool.turn_speed_m_s
        if time_s < best_s:
            best, best_s = passes, time_s
    lines = [shapely.LineString([(start, centre), (end, centre)]) for start, end, centre in best]
    swaths = [line.buffer(width / 2, cap_style="flat") for line in lines]
    swept = sum(swath.area for swath in swaths) + headland.area
    worked = shapely.unary_union([*swaths, headland]).intersection(turned).area
    inside = sum(swath.intersection(turned).area for swath in swaths) + headland.area
    return {
        "passes": len(best), "swept_m2": swept, "worked_m2": worked, "overlap_m2": inside - worked,
        "spill_m2": swept - inside, "time_s": best_s + headland.area / width / tool.speed_m_s,
    }  # fmt: skip


def ours(field: Field, tool: Tool, direction_deg: float) -> Plan:
    """Lay one heading with everything a plan holds, coverage too."""
    plan = lay(field, tool, direction_deg=direction_deg, sides="all")
    assert plan.coverage.worked_m2 > 0
    return plan


def least_s(job: Callable[[], object], tries: int = 5) -> float:
    """Return the least time of several tries. [s]"""
    spent = []
    for _ in range(tries):
        begin = time.perf_counter()
        job()
        spent.append(time.perf_counter() - begin)
    return min(spent)


def areas_differ(field: Field, tool: Tool) -> float:
    """Return the greatest difference between the two ways' areas, as a share of the field, strips being the same."""
    worst = 0.0
    for direction in (0.0, 33.3, 90.0, 151.7):
        plan = lay(field, tool, direction_deg=direction, headland=0)
        lows = np.unique(plan.layout.passes.low_m).tolist()
        plain = textbook_layout(field.shape, tool, direction, 0, [lows])
        for key in ("swept_m2", "worked_m2", "overlap_m2", "spill_m2"):
            worst = max(worst, abs(getattr(plan.coverage, key) - plain[key]) / field.area_m2)
    return worst


def search_the_textbook_way(field: Field, tool: Tool, choices: Sequence[float]) -> float:
    """Return the time of laying every tenth of a degree one by one, from a sample of the headings. [s]"""
    begin = time.perf_counter()
    for heading in np.linspace(0, 180, HEADINGS, endpoint=False).tolist():
        textbook_layout(field.shape, tool, heading, headland_rounds(tool), choices)
    return (time.perf_counter() - begin) * 1800 / HEADINGS


def against_textbook(tool: Tool) -> None:
    print(f"Against the textbook way: {tool.width_m:.2f} m tool, all round; ms, times faster in brackets")
    print(f"{'':18}{'':>9}  {'one layout':^40}  {'search to 0.1 degree':^44}  {'areas':>8}")
    print(
        f"{'field':18}{'corners':>9}  {'ours':>8}{'plain':>16}{'shifted':>16}  "
        f"{'ours':>8}{'plain':>18}{'shifted':>18}  {'differ':>8}"
    )
    for name in FIELDS:
        field = read_outline(SAMPLES / f"{name}.geojson")
        one = partial(textbook_layout, field.shape, tool, 20.0, headland_rounds(tool))
        ours_one = 1e3 * least_s(partial(ours, field, tool, 20.0))
        plain_one, shifted_one = 1e3 * least_s(partial(one, SHIFTS[:1])), 1e3 * least_s(partial(one, SHIFTS))
        ours_all = 1e3 * least_s(partial(best_direction, field, tool), 3)
        plain_all = 1e3 * search_the_textbook_way(field, tool, SHIFTS[:1])
        shifted_all = 1e3 * search_the_textbook_way(field, tool, SHIFTS)
        print(
            f"{field.name:18}{shapely.get_num_coordinates(field.shape):9}  {ours_one:8.1f}"
            f"{plain_one:9.1f} ({plain_one / ours_one:3.1f}x){shifted_one:9.1f} ({shifted_one / ours_one:3.1f}x)  "
            f"{ours_all:8.0f}{plain_all:11.0f} ({plain_all / ours_all:3.0f}x){shifted_all:11.0f} "
            f"({shifted_all / ours_all:3.0f}x)  {areas_differ(field, tool):8.1e}"
        )


def growth(tool: Tool) -> None:
    print("\nGrowth with corners: a 65 ha round field with a wavy edge, one layout at a given direction")
    print(f"{'corners':>8}{'ms':>9}{'ms a corner':>13}")
    for corners in (10, 100, 1000, 10_000):
        angle = np.linspace(0, 2 * pi, corners, endpoint=False)
        reach = 455 + 5 * np.sin(7 * angle)
        field = field_from_shape(shapely.Polygon(np.column_stack([reach * np.cos(angle), reach * np.sin(angle)])))
        spent = least_s(partial(ours, field, tool, 20.0), 3)
        print(f"{corners:8}{1e3 * spent:9.1f}{1e3 * spent / corners:13.4f}")
    print("\nGrowth with passes: Crooked Quarter with ever narrower tools, three rounds, at a given direction")
    print(f"{'width, m':>8}{'passes':>8}{'ms':>9}{'ms a pass':>11}")
    field = read_outline(SAMPLES / "crooked_quarter.geojson")
    for share in (1, 4, 16):
        narrow = replace(tool, name="narrow", width_m=tool.width_m / share)
        job = partial(lay, field, narrow, direction_deg=20.0, sides="all", headland=3)
        spent, count = least_s(job, 3), len(job().layout.passes)
        print(f"{narrow.width_m:8.2f}{count:8}{1e3 * spent:9.1f}{1e3 * spent / count:11.4f}")


def plain_turn_m(x: float, y: float, heading: float, radius: float) -> float:
    """Return the length of the shortest forward path from the origin, heading along x: circles beside both."""
    lengths = []
    for first in (1, -1):
        for last in (1, -1):
            across = x - last * radius * sin(heading), y + (last * cos(heading) - first) * radius
            apart, bearing = hypot(*across), atan2(across[1], across[0])
            if first == last or apart >= 2 * radius:
                gap = 0.0 if first == last else 2 * radius
                along = bearing + (first * asin(gap / apart) if gap else 0.0)
                arcs = (first * along) % (2 * pi) + (last * (heading - along)) % (2 * pi)
                lengths.append(radius * arcs + sqrt(apart**2 - gap**2))
            if first == last and apart <= 4 * radius:
                for lean in (1, -1):
                    rise = lean * acos(apart / (4 * radius))
                    one = bearing + rise + first * pi / 2
                    two = bearing + pi - rise + first * pi / 2
                    arcs = (first * one) % (2 * pi) + (-first * (two - one)) % (2 * pi)
                    lengths.append(radius * (arcs + (first * (heading - two)) % (2 * pi)))
    return min(lengths)


def plain_turns_m(across: list[list[float]], radius: float) -> list[float]:
    """Return the lengths of turns onto passes the other way, one by one."""
    return [plain_turn_m(x, y, pi, radius) for x, y in across]


def turn_tables(tool: Tool) -> None:
    print("\nTurns between all pairs of 200 passes at both ends, 80,000 in one call; one by one in plain Python")
    print(f"{'edge, tool':22}{'s':>8}{'us a turn':>12}{'one by one, us':>16}{'times faster':>14}{'differ, m':>12}")
    one, two = (place.ravel() for place in np.meshgrid(np.arange(200), np.arange(200), indexing="ij"))
    one, two = np.concatenate([one, one]), np.concatenate([two, two])
    zero, back = np.zeros(len(one)), np.full(len(one), pi)
    edges = {"crooked": np.random.default_rng(1).uniform(-20, 20, 200), "straight": 0.3 * tool.pitch_m * np.arange(200)}
    few = slice(0, 80_000, 40)
    for edge, along in edges.items():
        ends = np.column_stack([along, np.arange(200) * tool.pitch_m])
        start, end = ends[one], ends[two]
        across = (end - start)[few].tolist()
        lengths = np.array(plain_turns_m(across, tool.turn_radius_m))
        for hitch in ("pulled", "mounted"):
            hitched = replace(tool, hitch=hitch, pull_out_m=0.0)
            spent = least_s(partial(turn_times_s, start, zero, end, back, tool=hitched), 3) / len(one)
            plain = least_s(partial(plain_turns_m, across, tool.turn_radius_m), 3) / len(across)
            ours = turn_times_s(start[few], zero[few], end[few], back[few], tool=hitched) * tool.turn_speed_m_s
            # A mounted tool may be backed, which the plain way does not know.
            differ = f"{np.abs(ours - lengths).max():12.0e}" if hitch == "pulled" else ""
            print(
                f"{f'{edge}, {hitch}':22}{spent * len(one):8.2f}{1e6 * spent:12.2f}{1e6 * plain:16.1f}"
                f"{plain / spent:14.1f}{differ}"
            )


def orders(tool: Tool) -> None:
    print(
        "\nOrder of the passes on a rectangle: turning as a share of back and forth, and of a bound; time of planning"
    )
    print(f"{'passes':>8}{'auto':>8}{'best':>8}{'above bound':>13}{'proven':>8}{'s, plain':>10}{'auto':>7}{'best':>7}")
    narrow = replace(tool, name="narrow", width_m=8.0, turn_radius_m=8.0, pull_out_m=0.0, hitch="pulled")
    for passes in (12, 60, 100, 200):
        field = field_from_shape(shapely.box(0, 0, passes * narrow.pitch_m, 400))
        layout = lay(field, narrow, direction_deg=0.0, headland=0).layout
        plans, spent = {}, {}
        for order in ("back-and-forth", "auto", "best"):
            begin = time.perf_counter()
            plans[order] = plan_layout(layout, order=order)
            spent[order] = time.perf_counter() - begin
        habit_s, auto_s, best_s = (plan.timeline.by_state_s()["turning"] for plan in plans.values())
        figures = order_figures(plans["best"].route)
        print(
            f"{passes:8}{auto_s / habit_s:8.2f}{best_s / habit_s:8.2f}{100 * figures['order_gap']:11.2f} %"
            f"{'yes' if figures['order_proven'] else 'no':>8}{spent['back-and-forth']:10.3f}{spent['auto']:7.2f}"
            f"{spent['best']:7.2f}"
        )


def cold_commands() -> None:
    print("\nCold commands, wall time")
    sample = str(SAMPLES / "crooked_quarter.geojson")
    at_20 = ["lay", sample, "--width", "40ft", "--direction", "20"]
    for words in (["--help"], at_20, at_20[:4]):
        command = [sys.executable, "-m", "fieldgeo", *words]
        spent = least_s(partial(subprocess.run, command, check=True, capture_output=True, cwd=ROOT), 3)
        print(f"  {spent:5.2f} s  fieldgeo {' '.join(words).replace(sample, 'crooked_quarter.geojson')}")


def write_log(path: Path, count: int, *, with_switch: bool) -> None:
    """Write a log of back and forth work, a place a second with 5 cm of noise: passes of 1600 m, 12 m apart."""
    spacing, length, speed = 12.0, 1600.0, 2.0
    along, angle = np.arange(0.0, length, speed), np.linspace(0, pi, 11)[1:-1]
    parts, down = [], []
    for number in range(ceil(count / (len(along) + len(angle)))):
        is_north, x = number % 2 == 0, number * spacing
        side, end = (1, length) if is_north else (-1, 0.0)
        parts.append(np.column_stack([np.full(len(along), x), along if is_north else length - along]))
        bow = np.column_stack([-np.cos(angle), side * np.sin(angle)])
        parts.append(np.array([x + spacing / 2, end]) + spacing / 2 * bow)
        down += [np.ones(len(along), dtype=int), np.zeros(len(angle), dtype=int)]
    noise = np.random.default_rng(1).normal(0, 0.05, (count, 2))
    xy = np.concatenate(parts)[:count] + noise
    columns = [np.arange(count), -93 + xy[:, 0] / 82_700, 42 + xy[:, 1] / 111_080, np.full(count, spacing)]
    head, form = "t_s,lon,lat,width_m", ["%d", "%.8f", "%.8f", "%.2f"]
    if with_switch:
        columns.append(np.concatenate(down)[:count])
        head, form = f"{head},working", [*form, "%d"]
    np.savetxt(path, np.column_stack(columns), fmt=form, delimiter=",", header=head, comments="")


def logs() -> None:
    print("\nA log read back, each in a process of its own: seconds to read and to measure it, and most memory")
    print(f"{'records':>9}{'':>11}{'read':>8}{'measure':>9}{'us a record':>13}{'MB':>7}")
    job = (
        "import sys, time, resource; from fieldgeo import read_log, read_back; begin = time.perf_counter(); "
        "log = read_log(sys.argv[1]); middle = time.perf_counter(); work = read_back(log); end = time.perf_counter(); "
        "print(middle - begin, end - middle, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)"
    )
    with tempfile.TemporaryDirectory() as folder:
        for count in (10_000, 100_000, 1_000_000):
            for with_switch in (True, False):
                path = Path(folder, "log.csv")
                write_log(path, count, with_switch=with_switch)
                done = subprocess.run(
                    [sys.executable, "-c", job, str(path)], check=True, capture_output=True, text=True, cwd=ROOT
                )
                read_s, measure_s, memory_mb = map(float, done.stdout.split())
                print(
                    f"{count:9,}{'switch' if with_switch else 'no switch':>11}{read_s:8.2f}{measure_s:9.2f}"
                    f"{1e6 * (read_s + measure_s) / count:13.1f}{memory_mb:7.0f}"
                )


def main() -> None:
    shed = read_shed(SAMPLES / "shed.toml")
    tool = replace(shed.tool("40 ft field cultivator"), lap_m=0.0)
    against_textbook(tool)
    growth(tool)
    turn_tables(tool)
    orders(tool)
    logs()
    cold_commands()


if __name__ == "__main__":
    main()
