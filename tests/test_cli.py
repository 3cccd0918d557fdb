"""The command line: its answers and their keys, the files it writes, how it ends, and its help."""

import json
import os
import re
import signal
import subprocess
import sys
from pathlib import Path
from typing import Any

import click
import pytest
from command import LAY_KEYS, PLAIN_TOOL, PLANTER, RAILROAD, SAMPLES, SQUARE, answer, geojson, polygon, run

import fieldgeo.outline.read
from fieldgeo.cli import INTERRUPTED, PIPE_CLOSED, main

# Answers


def test_derived_lay_of_a_square_forty_straight_through() -> None:
    # 1320 ft / 40 ft = 33 passes and 32 turns between them, nothing twice, nothing missed
    figures = answer("lay", SQUARE, *PLAIN_TOOL)
    assert set(figures) >= LAY_KEYS
    assert (figures["passes"], figures["turns"], figures["headland_rounds"]) == (33, 32, 0)
    assert figures["area_ac"] == pytest.approx(40, abs=0.005)
    assert figures["overlap_pct"] == pytest.approx(0, abs=0.01)
    assert figures["skip_pct"] == pytest.approx(0, abs=0.01)


def test_lay_prints_the_answer_in_farm_units_and_the_notes_apart() -> None:
    result = run("lay", SQUARE, *PLANTER, "--direction", "0")
    lines = result.stdout.splitlines()
    assert result.exit_code == 0
    assert lines[0] == "Square Forty: 40.00 ac (16.19 ha)"
    assert lines[1] == "16-row planter: 40 ft (12.19 m), 16 rows at 30 in, 5 mph (8.05 km/h)"
    assert len(lines) <= 16
    for unit in ("deg", " ac ", " ha)", " h", " ac/h", " %"):
        assert unit in result.stdout
    assert "recalled from memory" in re.sub(r"\s+", " ", result.stderr)
    assert "legal survey" in result.stderr
    assert "overhead lines" in result.stderr
    assert "caution" not in result.stdout


@pytest.mark.parametrize(
    "arguments",
    [
        ("outline", str(SAMPLES / "creek.geojson")),
        ("lay", str(SAMPLES / "creek.geojson"), *PLANTER, "--direction", "0"),
        ("direction", RAILROAD, *PLANTER),
        ("direction", RAILROAD, *PLANTER, "--tool", "90 ft sprayer"),
        ("compare", RAILROAD, SQUARE, *PLANTER, "--tool", "90 ft sprayer", "--direction", "0"),
    ],
)
def test_text_fits_a_terminal_of_80_columns(arguments: tuple[str, ...]) -> None:
    result = run(*arguments)
    assert result.exit_code == 0, result.stderr
    assert max(map(len, (result.stdout + result.stderr).splitlines())) <= 80


def test_outline_answers_with_the_keys_that_others_lean_on() -> None:
    expected = {
        "name",
        "area_m2",
        "area_ac",
        "perimeter_m",
        "corners",
        "parts",
        "holes",
        "source_crs",
        "changes",
        "problems",
    }
    figures = answer("outline", SQUARE)
    assert set(figures) >= expected
    assert (figures["name"], figures["corners"], figures["parts"], figures["holes"]) == ("Square Forty", 4, 1, 0)
    assert run("outline", SQUARE).stdout.splitlines()[0] == "Square Forty: 40.00 ac (16.19 ha)"


def test_outline_says_what_it_mended(tmp_path: Path) -> None:
    doubled = polygon((-94.0, 42.0), (-93.99, 42.0), (-93.99, 42.0), (-93.99, 42.01), (-94.0, 42.01))
    result = run("outline", geojson(tmp_path, doubled))
    assert result.exit_code == 0
    assert "note: Bow: " in result.stderr
    assert "1 change" in result.stdout


def test_direction_ranks_and_prices_the_habit_of_the_longest_side() -> None:
    figures = answer("direction", RAILROAD, *PLANTER, "--count", "2")
    assert figures["best_deg"] == figures["candidates"][0]["direction_deg"]
    assert 1 <= len(figures["candidates"]) <= 2
    for candidate in figures["candidates"]:
        assert set(candidate) >= {"direction_deg", "passes", "turns", "overlap_m2", "skip_m2", "field_time_h"}
    assert "along the longest side" in run("direction", RAILROAD, *PLANTER).stdout


def test_direction_for_several_tools_shares_one() -> None:
    figures = answer("direction", RAILROAD, *PLANTER, "--tool", "8-row row cultivator")
    assert figures["tools"] == ["16-row planter", "8-row row cultivator"]
    assert {"best_deg", "candidates", "by_tool"} <= set(figures)


@pytest.mark.parametrize(
    "costs", [("--hour-cost", "150"), ("--input-cost", "120"), ("--hour-cost", "9", "--input-cost", "8")]
)
def test_direction_by_cost(costs: tuple[str, ...]) -> None:
    arguments = ("direction", RAILROAD, "--width", "60ft", "--by", "cost", *costs)
    best = answer(*arguments)["candidates"][0]
    assert best["score"] > 0
    text = run(*arguments).stdout
    assert ", by cost" in text
    assert f"{best['score']:,.2f}" in text


def test_compare_files_and_folders(tmp_path: Path) -> None:
    for name in ("square_forty", "railroad"):
        content = (SAMPLES / f"{name}.geojson").read_text(encoding="utf-8")
        (tmp_path / f"{name}.geojson").write_text(content, encoding="utf-8")
    (tmp_path / "readme.txt").write_text("no outline", encoding="utf-8")
    figures = answer("compare", str(tmp_path), SQUARE, "--width", "30ft", "--width", "40ft", "--direction", "0")
    assert figures["fields"] == ["Railroad", "Square Forty", "Square Forty (2)"]
    assert figures["tools"] == ["30 ft tool", "40 ft tool"]
    assert len(figures["rows"]) == 6
    for row in figures["rows"]:
        assert set(row) >= LAY_KEYS | {"field", "tool"}
    text = run("compare", str(tmp_path), "--width", "30ft", "--width", "40ft", "--direction", "0").stdout
    assert "all fields" in text
    assert "B saves" in text


def test_compare_finds_the_width_that_pays() -> None:
    arguments = ("compare", SQUARE, "--width", "20ft", "--width", "40ft", "--direction", "0", "--headland", "0")
    assert answer(*arguments, "--paying-width")["paying_width"]["least_difference_ft"] > 0
    dear = answer(*arguments, "--paying-width", "--extra-cost", "900")
    assert dear["paying_width"]["least_difference_ft"] is None
    assert "pays" in run(*arguments, "--paying-width").stdout


# Tools


def test_rows_times_spacing_is_the_width_and_a_stated_width_that_disagrees_is_told() -> None:
    # common practice, no source: 23 rows at 15 in work 28.75 ft
    arguments = ("lay", SQUARE, "--rows", "23", "--row-spacing", "15in", "--width", "30ft", "--direction", "0")
    figures = answer(*arguments, "--sections", "rows", "--kind", "planter")
    assert figures["width_ft"] == pytest.approx(28.75)
    assert figures["sections"] == 23
    said = re.sub(r"\s+", " ", run(*arguments).stderr)
    assert "called 30 ft wide, but 23 rows at 15 in work 28.75 ft; 28.75 ft is used" in said


def test_what_is_assumed_is_told() -> None:
    said = re.sub(r"\s+", " ", run("lay", SQUARE, *PLAIN_TOOL).stderr)
    assert "assumed, not given: speed 5 mph" in said
    assert "turn radius" in said


def test_values_given_hold_over_those_of_the_shed() -> None:
    result = run("lay", SQUARE, *PLANTER, "--direction", "0", "--speed", "6mph", "--lap", "6in", "--json")
    figures = json.loads(result.stdout)
    assert (figures["speed_mph"], figures["lap_ft"]) == (pytest.approx(6), pytest.approx(0.5))
    assert "in place of what the shed file says: speed 6mph, lap 6in" in re.sub(r"\s+", " ", result.stderr)


def test_entrance_adds_the_way_in_and_out() -> None:
    centre = answer("outline", SQUARE)
    entrance = f"{centre['centre_lon_deg']},{centre['centre_lat_deg']}"
    figures = answer("lay", SQUARE, *PLAIN_TOOL, "--entrance", entrance)
    assert figures["travel_m"] > answer("lay", SQUARE, *PLAIN_TOOL)["travel_m"]


# Files


@pytest.mark.parametrize("suffix", [".geojson", ".gpkg"])
def test_lay_writes_layers_and_a_map(tmp_path: Path, suffix: str) -> None:
    out, picture = tmp_path / f"plan{suffix}", tmp_path / "plan.svg"
    result = run("lay", SQUARE, *PLAIN_TOOL, "--out", str(out), "--map", str(picture))
    assert result.exit_code == 0, result.stderr
    assert sorted(tmp_path.iterdir()) == sorted([out, picture])
    assert "<svg" in picture.read_text(encoding="utf-8")
    assert out.stat().st_size > 0
    assert result.stderr.count("written:") == 2


def test_outline_written_reads_back_with_the_same_area(tmp_path: Path) -> None:
    out = tmp_path / "field.geojson"
    before = answer("outline", RAILROAD, "--out", str(out), "--map", str(tmp_path / "field.png"))
    assert answer("outline", str(out))["area_m2"] == pytest.approx(before["area_m2"], rel=1e-7)


# The program as it is run


def python(*arguments: str, **more: Any) -> subprocess.CompletedProcess[str]:
    return subprocess.run([sys.executable, *arguments], capture_output=True, text=True, check=False, timeout=60, **more)


def test_the_program_answers_and_refuses() -> None:
    done = python("-m", "fieldgeo", "lay", SQUARE, *PLAIN_TOOL, "--json")
    assert done.returncode == 0
    assert json.loads(done.stdout)["passes"] == 33
    refused = python("-m", "fieldgeo", "lay", "nowhere.geojson", *PLAIN_TOOL)
    assert (refused.returncode, refused.stdout) == (1, "")
    assert "nowhere.geojson" in refused.stderr
    assert "Traceback" not in refused.stderr
    assert python("-m", "fieldgeo", "lay", SQUARE, "--width", "0ft").returncode == 2


def test_help_loads_nothing_heavy() -> None:
    heavy = "{'numpy', 'shapely', 'pyproj', 'pint', 'geopandas', 'matplotlib', 'pandas'}"
    code = f"import sys, fieldgeo.cli; print(sorted({heavy} & set(sys.modules)))"
    assert python("-c", code).stdout.strip() == "[]"


@pytest.mark.skipif(os.name != "posix", reason="pipes of POSIX")
def test_a_reader_that_has_had_enough_is_no_fault() -> None:
    read_end, write_end = os.pipe()
    os.close(read_end)
    command = [sys.executable, "-m", "fieldgeo", "outline", SQUARE, "--json"]
    done = subprocess.run(command, stdout=write_end, stderr=subprocess.PIPE, text=True, check=False, timeout=60)
    os.close(write_end)
    assert done.returncode == PIPE_CLOSED == 128 + signal.SIGPIPE
    assert done.stderr == ""


def test_interrupted_is_told_in_a_word(monkeypatch: pytest.MonkeyPatch) -> None:
    def interrupt(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(fieldgeo.outline.read, "read_outline", interrupt)
    result = run("outline", SQUARE)
    assert result.exit_code == INTERRUPTED
    assert result.stderr == "stopped\n"


@pytest.mark.skipif(os.name != "posix", reason="terminals of POSIX")
def test_long_work_draws_a_bar_on_a_terminal_only() -> None:
    import pty

    arguments = ["compare", SQUARE, "--width", "30ft", "--width", "40ft", "--direction", "0", "--json"]
    leader, follower = pty.openpty()
    command = [sys.executable, "-m", "fieldgeo", *arguments]
    done = subprocess.run(command, stdout=subprocess.PIPE, stderr=follower, text=True, check=False, timeout=60)
    os.close(follower)
    drawn = os.read(leader, 100_000).decode()
    os.close(leader)
    assert json.loads(done.stdout)["fields"] == ["Square Forty"]
    assert "laying" in drawn
    assert "100%" in drawn
    assert "laying" not in run(*arguments).stderr


def test_the_passes_are_listed_as_they_are_driven() -> None:
    lines = run("lay", SQUARE, *PLAIN_TOOL, "--order", "back-and-forth", "--list").stdout.splitlines()
    head = next(number for number, line in enumerate(lines) if line.split()[:2] == ["no.", "pass"])
    rows = [line.split() for line in lines[head + 1 :]]
    assert [int(row[0]) for row in rows] == list(range(1, 34))
    assert sorted(int(row[1]) for row in rows) == list(range(1, 34))
    listed = answer("lay", SQUARE, *PLAIN_TOOL, "--list")["pass_list"]
    assert [row["number"] for row in listed] == list(range(1, 34))
    assert "pass_list" not in answer("lay", SQUARE, *PLAIN_TOOL)


# Help


def every_command() -> list[tuple[str, click.Command]]:
    return [("", main), *main.commands.items()]


@pytest.mark.parametrize(
    ("verb", "command"), every_command(), ids=lambda value: value if isinstance(value, str) else ""
)
def test_every_option_is_documented_in_help(verb: str, command: click.Command) -> None:
    text = run(*([verb] if verb else []), "--help").stdout
    assert command.help
    assert max(map(len, text.splitlines())) <= 80
    for option in (parameter for parameter in command.params if isinstance(parameter, click.Option)):
        assert option.help, option.name
        assert option.help[0].isupper(), option.help
        assert option.help.endswith("."), option.help
        assert all(name in text for name in option.opts)
        assert re.sub(r"\s+", "", option.help) in re.sub(r"\s+", "", text)
    if verb:
        assert "--json" in text
        assert f"fieldgeo {verb} " in (command.epilog or "")


def test_the_verbs() -> None:
    assert sorted(main.commands) == [
        "book",
        "compare",
        "cost",
        "direction",
        "lay",
        "log",
        "match",
        "outline",
        "pull",
        "season",
        "shed",
        "shutoffs",
        "slope",
    ]


def test_version() -> None:
    result = run("--version")
    assert result.exit_code == 0
    assert result.stdout.startswith("fieldgeo")
