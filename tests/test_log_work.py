"""What was done, out of a log: against logs of our own time line, with noise, with and without a switch."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from log_of_plan import places_of_plan, write_log_of_plan

from fieldgeo import LogError, Tool, field_from_shape, lay, read_back, read_log
from fieldgeo.analysis.log.calibrate import calibrate, calibrated_tool, shed_text, split_log
from fieldgeo.analysis.log.figures import log_figures
from fieldgeo.analysis.log.measure import DayWork
from fieldgeo.analysis.plan import Plan
from fieldgeo.errors import InputError
from fieldgeo.machinery.shed import read_shed
from fieldgeo.outline.field import Field

TOOL = Tool(
    name="drill", width_m=9.0, speed_m_s=2.5, turn_speed_m_s=1.8, turn_radius_m=6.0, raise_s=3.0, lower_s=3.0,
    pull_out_m=4.0,
)  # fmt: skip


def plan_of(field: Field, *, headland: int = 0, direction_deg: float = 0.0, tool: Tool = TOOL) -> Plan:
    return lay(field, tool, direction_deg=direction_deg, headland=headland, sides="all", order="back-and-forth")


def back_of(plan: Plan, folder: Path, *, noise_m: float = 0.0, with_switch: bool = True, **options: float) -> DayWork:
    file = write_log_of_plan(plan, folder / "day.csv", noise_m=noise_m, with_switch=with_switch)
    return read_back(read_log(file), outline=plan.field, **options)  # type: ignore[arg-type]


def rectangle() -> Field:
    return field_from_shape(shapely.box(-72, -100, 72, 100), name="Plain")


def hold_identities(work: DayWork) -> None:
    swept, figures = work.swept, log_figures(work)
    area = swept.outline.area_m2
    assert swept.worked_m2 + swept.skip_m2 == pytest.approx(area, rel=1e-9)
    assert swept.swept_m2 == pytest.approx(swept.worked_m2 + swept.overlap_m2 + swept.spill_m2, abs=1e-3)
    assert figures["field_time_h"] == pytest.approx(sum(figures["time_h"].values()), rel=1e-12)
    assert figures["effective_ha_h"] * figures["field_time_h"] == pytest.approx(figures["worked_ha"], rel=1e-9)
    assert figures["field_efficiency"] == pytest.approx(figures["effective_ha_h"] / figures["theoretical_ha_h"])


# A plain field: everything is known by hand


@pytest.mark.parametrize(
    ("noise_m", "with_switch"), [(0.0, True), (0.3, True), (2.0, True), (0.0, False), (0.3, False)]
)
def test_a_plain_field_is_read_back_derived(tmp_path: Path, noise_m: float, with_switch: bool) -> None:
    # 144 / 9 = 16 passes of 200 m; 15 turns. Each pass 200 / 2.5 = 80 s.
    plan = plan_of(rectangle())
    work = back_of(plan, tmp_path, noise_m=noise_m, with_switch=with_switch)
    figures = log_figures(work)
    assert figures["evidence"] == ("switch" if with_switch else "motion")
    assert (figures["passes"], figures["strips"], figures["turns"], figures["pieces"]) == (16, 16, 15, 0)
    assert abs((figures["direction_deg"] + 90) % 180 - 90) < 0.2
    assert figures["pass_spacing_m"] == pytest.approx(float(np.median(np.diff(plan.layout.passes.centre_m))), abs=0.15)
    assert figures["pass_length_m"]["median"] == pytest.approx(200, abs=3 if noise_m < 1 and with_switch else 8)
    turn_s = np.array([turn.length_m for turn in plan.route.turns()]) / TOOL.turn_speed_m_s + 6.0
    # without a switch and with noise the short straight run out of each pass cannot be told from it
    assert figures["turn_s_median"] == pytest.approx(float(np.median(turn_s)), abs=2.0 if with_switch else 10.0)
    assert figures["field_time_h"] == pytest.approx((plan.field_time_s - 6.0) / 3600, abs=4 / 3600)
    assert figures["time_h"]["passes"] == pytest.approx(16 * 80 / 3600, rel=0.015 if with_switch else 0.06)
    if noise_m < 1:
        assert figures["worked_m2"] == pytest.approx(plan.coverage.worked_m2, rel=0.02)
    hold_identities(work)


def test_rough_places_without_a_switch_cannot_tell_the_ends_of_passes(tmp_path: Path) -> None:
    # The straight runs before and after each turn are then taken for work: passes count, their lengths are too long.
    plan = plan_of(rectangle())
    figures = log_figures(back_of(plan, tmp_path, noise_m=2.0, with_switch=False))
    assert (figures["passes"], figures["turns"]) == (16, 15)
    assert figures["pass_spacing_m"] == pytest.approx(float(np.median(np.diff(plan.layout.passes.centre_m))), abs=0.3)
    assert figures["pass_length_m"]["median"] == pytest.approx(210, abs=25)
    assert figures["field_time_h"] == pytest.approx(plan.field_time_s / 3600, rel=0.01)


def test_headland_rounds_are_no_passes(tmp_path: Path) -> None:
    plan = plan_of(rectangle(), headland=2)
    for with_switch in (True, False):
        work = back_of(plan, tmp_path, noise_m=0.1, with_switch=with_switch)
        assert len(work.pass_lengths_m) == len(plan.layout.passes)
        assert work.pattern.headland_rounds == 2
        states, planned = work.timing.by_state_s, plan.timeline.by_state_s()
        assert states["headland_rounds"] == pytest.approx(planned["headland_rounds"], rel=0.05)


def test_a_height_tells_down_from_up(tmp_path: Path) -> None:
    plan = plan_of(rectangle())
    file = write_log_of_plan(plan, tmp_path / "day.csv")
    text = file.read_text(encoding="utf-8").splitlines()
    lines = [text[0].replace("working", "head_height_cm")]
    lines += [line[:-1] + ("12" if line.endswith("1") else "95") for line in text[1:]]
    file.write_text("\n".join(lines), encoding="utf-8")
    work = read_back(read_log(file))
    assert work.stretches.evidence == "height"
    assert len(work.pass_lengths_m) == 16


def test_a_log_written_only_while_working_has_its_turns_in_its_gaps(tmp_path: Path) -> None:
    plan = plan_of(rectangle())
    file = write_log_of_plan(plan, tmp_path / "day.csv")
    lines = file.read_text(encoding="utf-8").splitlines()
    file.write_text("\n".join([lines[0], *(line for line in lines[1:] if line.endswith("1"))]), encoding="utf-8")
    figures = log_figures(read_back(read_log(file)))
    assert figures["evidence"] == "records"
    assert (figures["passes"], figures["turns"]) == (16, 15)
    assert set(figures["turns_by_kind"]) == {"unrecorded"}
    turn_s = np.array([turn.length_m for turn in plan.route.turns()]) / TOOL.turn_speed_m_s + 6.0
    assert figures["turn_s_median"] == pytest.approx(float(np.median(turn_s)), abs=1.5)


def test_turns_have_the_kind_of_their_path(tmp_path: Path) -> None:
    # radius 6 and 9 m apart: a loop; radius 3: a flat turn of two quarter circles with 3 m between
    loops = back_of(plan_of(rectangle()), tmp_path)
    assert {turn.kind for turn in loops.timing.turns} == {"loop"}
    small = back_of(plan_of(rectangle(), tool=replace(TOOL, turn_radius_m=3.0)), tmp_path)
    assert {turn.kind for turn in small.timing.turns} <= {"half-circle", "flat"}
    assert {turn.passes_over for turn in loops.timing.turns} == {1}


# Stops, breaks, gaps


def with_stop(plan: Plan, folder: Path, *, at_s: float, seconds: int, is_silent: bool = False) -> Path:
    times, xy, is_down = places_of_plan(plan)
    row = int(at_s)
    lon, lat = plan.field.frame.to_lonlat(xy[:, 0], xy[:, 1])
    order = list(range(row)) + ([] if is_silent else [row] * seconds) + list(range(row, len(times)))
    clock = list(range(row)) + ([] if is_silent else list(range(row, row + seconds)))
    clock += [second + seconds for second in range(row, len(times))]
    lines = ["t_s,lon,lat,width_m,working"]
    lines += [f"{t},{lon[r]:.9f},{lat[r]:.9f},9,{int(is_down[r])}" for t, r in zip(clock, order, strict=True)]
    file = folder / "stop.csv"
    file.write_text("\n".join(lines), encoding="utf-8")
    return file


@pytest.mark.parametrize("is_silent", [False, True])
@pytest.mark.parametrize(("at_s", "during"), [(40.0, "pass"), (95.0, "turn")])
def test_a_stop_is_a_stop_and_no_more_derived(tmp_path: Path, is_silent: bool, at_s: float, during: str) -> None:
    # the first pass takes 80 s after lowering (3 s): 40 s is on it, 95 s in the turn after it
    plan = plan_of(rectangle())
    plain = read_back(read_log(write_log_of_plan(plan, tmp_path / "plain.csv")))
    work = read_back(read_log(with_stop(plan, tmp_path, at_s=at_s, seconds=240, is_silent=is_silent)))
    assert [stop.during for stop in work.timing.stops] == [during]
    assert work.timing.by_state_s["stops"] == pytest.approx(240, abs=16)
    assert work.field_time_s == pytest.approx(plain.field_time_s + 240, abs=1.5)
    assert len(work.pass_lengths_m) == 16
    assert len(work.timing.turns) == 15


def test_a_long_stop_is_a_break_and_told(tmp_path: Path) -> None:
    plan = plan_of(rectangle())
    file = with_stop(plan, tmp_path, at_s=40.0, seconds=2400)
    work = read_back(read_log(file))
    plain = read_back(read_log(write_log_of_plan(plan, tmp_path / "plain.csv")))
    assert work.field_time_s == pytest.approx(plain.field_time_s, abs=3)
    assert any("1 stop of 30 min or more (0.67 h)" in note for note in work.notes)
    counted = read_back(read_log(file), break_s=3600.0)
    assert counted.field_time_s == pytest.approx(plain.field_time_s + 2400, abs=3)
    with pytest.raises(InputError, match="must be above zero"):
        read_back(read_log(file), break_s=0.0)


def test_travel_to_and_from_the_field_does_not_count(tmp_path: Path) -> None:
    plan = plan_of(rectangle())
    file = write_log_of_plan(plan, tmp_path / "day.csv")
    head, *lines = file.read_text(encoding="utf-8").splitlines()
    first, last = lines[0].split(","), lines[-1].split(",")
    before = [f"{second - 120},{first[1]},{float(first[2]) - (120 - second) * 2e-5:.9f},9,0" for second in range(120)]
    end_s = float(last[0])
    after = [f"{end_s + second},{last[1]},{float(last[2]) + second * 2e-5:.9f},9,0" for second in range(1, 120)]
    file.write_text("\n".join([head, *before, *lines, *after]), encoding="utf-8")
    plain = read_back(read_log(write_log_of_plan(plan, tmp_path / "plain.csv")))
    assert read_back(read_log(file)).field_time_s == pytest.approx(plain.field_time_s, abs=1.5)


def test_lifting_over_a_waterway_is_one_pass_derived(tmp_path: Path) -> None:
    # the middle 12 m of the field are driven with the tool up: 16 passes still, lifted 16 times
    plan = plan_of(rectangle())
    times, xy, is_down = places_of_plan(plan)
    is_down = is_down & (np.abs(xy[:, 1]) > 6)
    lon, lat = plan.field.frame.to_lonlat(xy[:, 0], xy[:, 1])
    lines = ["t_s,lon,lat,width_m,working"]
    lines += [f"{t},{lon[r]:.9f},{lat[r]:.9f},9,{int(is_down[r])}" for r, t in enumerate(times)]
    (tmp_path / "day.csv").write_text("\n".join(lines), encoding="utf-8")
    work = read_back(read_log(tmp_path / "day.csv"))
    assert len(work.pass_lengths_m) == 16
    assert work.timing.lifted == 16
    assert work.timing.lifted_m == pytest.approx(16 * 12, rel=0.15)
    assert len(work.timing.turns) == 15


# Curved passes


def test_curved_passes_are_passes(tmp_path: Path) -> None:
    # side by side on a bow: y = 40 sin(x / 60), ten passes 9 m apart, turned at the ends
    x = np.arange(-150.0, 150.0, 2.0)
    line = np.column_stack([x, 40 * np.sin(x / 60)])
    places, down = [], []
    for number in range(10):
        shifted = line + np.array([0.0, 9.0 * number])
        ahead = shifted if number % 2 == 0 else shifted[::-1]
        angle = np.linspace(0, np.pi, 9)[1:-1]
        side = 1 if number % 2 == 0 else -1
        turn = ahead[-1] + np.column_stack([side * 4.5 * np.sin(angle), 4.5 - 4.5 * np.cos(angle)])
        places += [ahead, turn]
        down += [np.ones(len(ahead)), np.zeros(len(turn))]
    xy, is_down = np.concatenate(places), np.concatenate(down)
    lon, lat = field_from_shape(shapely.box(0, 0, 1, 1)).frame.to_lonlat(xy[:, 0], xy[:, 1])
    for head, cells in (("t_s,lon,lat,working", is_down), ("t_s,lon,lat", None)):
        lines = [head]
        for row in range(len(xy)):
            lines.append(f"{row},{lon[row]:.9f},{lat[row]:.9f}" + ("" if cells is None else f",{int(cells[row])}"))
        (tmp_path / "bow.csv").write_text("\n".join(lines), encoding="utf-8")
        work = read_back(read_log(tmp_path / "bow.csv", width_m=9.0))
        assert len(work.pass_lengths_m) == 10
        assert len(work.timing.turns) == 9


# Sample fields, with everything that is odd about them


@pytest.mark.parametrize("name", ["Square Forty", "Ell", "Railroad", "Half Mile"])
@pytest.mark.parametrize(("noise_m", "with_switch"), [(0.3, True), (0.3, False)])
def test_sample_fields_are_read_back(
    tmp_path: Path, samples: list[Field], name: str, noise_m: float, with_switch: bool
) -> None:
    chosen = next(field for field in samples if field.name == name)
    plan = plan_of(chosen, headland=2, tool=replace(TOOL, width_m=12.192, turn_radius_m=7.0))
    work = back_of(plan, tmp_path, noise_m=noise_m, with_switch=with_switch)
    trips, planned = len(work.works), len(plan.layout.passes) + len(plan.layout.headland.runs)
    assert trips == pytest.approx(planned, rel=0.06)
    assert work.field_time_s == pytest.approx(plan.field_time_s, rel=0.012)
    assert float(np.median(work.pattern.spacing_m)) == pytest.approx(12.192, abs=0.1)
    states, ours = work.timing.by_state_s, plan.timeline.by_state_s()
    worked = states["passes"] + states["headland_rounds"]
    assert worked == pytest.approx(ours["passes"] + ours["headland_rounds"], rel=0.02 if with_switch else 0.05)
    hold_identities(work)


@settings(max_examples=12, suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture])
@given(
    strips=st.integers(10, 24), along=st.floats(150, 300), slant=st.floats(-60, 60), turned=st.floats(0, 180),
    noise_m=st.sampled_from([0.0, 0.1, 0.3]), with_switch=st.booleans(), seed=st.integers(0, 99),
)  # fmt: skip
def test_any_slanted_field_is_read_back(
    tmp_path: Path, strips: int, along: float, slant: float, turned: float, noise_m: float, with_switch: bool, seed: int
) -> None:
    across = 9.0 * strips  # else the last pass lies on its neighbour, which without a switch looks like driving over
    corners = [(0, 0), (across, slant), (across, along + slant / 2), (0, along)]
    shape = shapely.affinity.rotate(shapely.Polygon(corners), -turned, origin=(0, 0))
    plan = plan_of(field_from_shape(shape), direction_deg=turned % 180)
    file = write_log_of_plan(plan, tmp_path / "any.csv", noise_m=noise_m, with_switch=with_switch, seed=seed)
    work = read_back(read_log(file), outline=plan.field)
    passes = len(work.pass_lengths_m) + len(work.of_role("piece"))
    assert passes == len(plan.layout.passes)
    assert len(work.timing.turns) == len(plan.route.turns())
    off = (work.pattern.direction_deg - turned + 90) % 180 - 90
    assert abs(off) < 0.5
    assert work.field_time_s == pytest.approx(plan.field_time_s - 6, abs=6)
    assert work.work_m == pytest.approx(plan.route.length_m("pass"), rel=0.015 if with_switch else 0.06)
    hold_identities(work)


# Outlines


def test_an_outline_of_another_field_is_refused(tmp_path: Path) -> None:
    plan = plan_of(rectangle())
    file = write_log_of_plan(plan, tmp_path / "day.csv")
    other = field_from_shape(shapely.box(2000, 2000, 2300, 2300), name="Elsewhere")
    with pytest.raises(LogError, match=r"only 0 % of the ground worked.*'Elsewhere'"):
        read_back(read_log(file), outline=other)


def test_without_an_outline_one_is_drawn_round_the_work(tmp_path: Path) -> None:
    plan = plan_of(rectangle())
    work = read_back(read_log(write_log_of_plan(plan, tmp_path / "day.csv")))
    assert work.swept.outline.area_m2 == pytest.approx(plan.coverage.swept_m2, rel=0.01)
    hold_identities(work)


def test_no_work_is_told(tmp_path: Path) -> None:
    rng = np.random.default_rng(1)
    walk = np.cumsum(rng.normal(0, 1.0, (300, 2)), axis=0)
    lines = ["t_s,lon,lat", *(f"{row},{-93 + x * 1e-5:.8f},{42 + y * 1e-5:.8f}" for row, (x, y) in enumerate(walk))]
    (tmp_path / "walk.csv").write_text("\n".join(lines), encoding="utf-8")
    with pytest.raises(LogError, match="no work can be seen"):
        read_back(read_log(tmp_path / "walk.csv", width_m=9.0))


# Calibration


def test_a_tool_is_found_again_in_its_own_log_derived(tmp_path: Path) -> None:
    # The plan's own figures: 2.5 m/s, 3 + 3 s standing at each turn, and a turning speed that gives back the same time.
    plan = plan_of(rectangle())
    calibration = calibrate(back_of(plan, tmp_path))
    assert calibration.speed_m_s.mean == pytest.approx(2.5, rel=0.005)
    assert (calibration.speed_m_s.n, calibration.turn_s.n if calibration.turn_s else 0) == (16, 15)
    assert calibration.lifting_s is not None
    found = calibrated_tool(replace(TOOL, speed_m_s=1.0, turn_speed_m_s=1.0, raise_s=0.0, lower_s=0.0), calibration)
    again = plan_of(rectangle(), tool=replace(found, lap_m=0.0))
    assert again.field_time_s == pytest.approx(plan.field_time_s, rel=0.01)


def test_halves_part_between_passes(tmp_path: Path) -> None:
    work = back_of(plan_of(rectangle()), tmp_path)
    one, two = split_log(work)
    assert len(work.log) - 60 < len(one) + len(two) <= len(work.log)  # less the ends, where it stood
    assert [len(read_back(half).pass_lengths_m) for half in (one, two)] == [8, 8]


def test_the_calibrated_shed_is_read_back(tmp_path: Path) -> None:
    calibration = calibrate(back_of(plan_of(rectangle()), tmp_path))
    found = calibrated_tool(TOOL, calibration)
    file = tmp_path / "mine.toml"
    file.write_text(shed_text(found, calibration, source="day"), encoding="utf-8")
    read = read_shed(file).tool("drill")
    for name in ("width_m", "speed_m_s", "turn_speed_m_s", "turn_radius_m", "pull_out_m", "raise_s", "lower_s"):
        assert getattr(read, name) == pytest.approx(getattr(found, name), rel=2e-3, abs=1e-3)
    assert "16 passes" in file.read_text(encoding="utf-8")
    kept = '# ours\n[[tool]]\nname = "drill" # old\nwidth = "9m"\ntank = "30bu"\n\n[[tool]]\nname = "plow"\n'
    kept += 'width = "12ft"\n'
    file.write_text(shed_text(found, calibration, source="day", shed=kept), encoding="utf-8")
    assert {tool.name for tool in read_shed(file).tools} == {"drill", "plow"}
    for text in ("# ours", "# old", 'tank = "30bu"'):
        assert text in file.read_text(encoding="utf-8")
    with pytest.raises(LogError, match="not in the shed"):
        shed_text(replace(found, name="other"), calibration, source="day", shed=kept)


def test_another_width_is_no_tool_of_this_log(tmp_path: Path) -> None:
    calibration = calibrate(back_of(plan_of(rectangle()), tmp_path))
    with pytest.raises(LogError, match=r"tool 'drill' works 39.37 ft"):
        calibrated_tool(replace(TOOL, width_m=12.0), calibration)


def test_too_few_passes_teach_nothing(tmp_path: Path) -> None:
    two = plan_of(field_from_shape(shapely.box(0, 0, 18, 300)))
    work = back_of(two, tmp_path)
    with pytest.raises(LogError, match="has 2 passes"):
        calibrate(work)
    with pytest.raises(LogError, match="has 2 passes"):
        split_log(work)
