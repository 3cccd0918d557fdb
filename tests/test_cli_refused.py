"""What the command line refuses: one clear message, the right exit code, and nothing written."""

import os
from pathlib import Path
from typing import Any

import pytest
from command import PLAIN_TOOL, PLANTER, SHED, SQUARE, geojson, message, polygon, run

# Wrong usage


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        ([], "no tool. Give --width"),
        (["--width", "0ft"], "width: got '0ft'"),
        (["--width", "-30ft"], "width: got '-30ft'"),
        (["--width", "40"], "must be a number with its unit, such as 40ft"),
        (["--width", "nan ft"], "width: got 'nan ft'"),
        (["--width", "9**9**9ft"], "must be a number with its unit"),
        (["--width", "40mph"], "width: got '40mph'"),
        (["--width", "30ft", "--width", "40ft"], "more than one tool"),
        (["--width", "40ft", "--tool", "16-row planter", "--shed", SHED], "more than one tool"),
        (["--tool", "16-row planter"], "--tool needs --shed"),
        (["--shed", SHED], "--shed needs --tool"),
        ([*PLANTER, "--kind", "planter"], "--kind goes with --width"),
        ([*PLANTER, "--speed", "0mph"], "speed: got '0mph'"),
        (["--rows", "16"], "row_spacing: missing"),
        (["--row-spacing", "30in"], "rows: missing"),
        (["--rows", "0", "--row-spacing", "30in"], "rows: got 0"),
        (["--width", "40ft", "--kind", "cultivator"], "kind: got 'cultivator'"),
        (["--width", "40ft", "--sections", "0"], "sections: got 0"),
        (["--width", "40ft", "--sections", "rows"], "has no rows"),
        (["--width", "40ft", "--sections", "many"], "must be rows, or a whole number"),
        (["--width", "40ft", "--lap", "20ft"], "lap: got '20ft'"),
        (["--width", "40ft", "--turn-radius", "0ft"], "turn_radius: got '0ft'"),
        (["--width", "40ft", "--direction", "400"], "got 400 degrees"),
        (["--width", "40ft", "--direction", "-5"], "got -5 degrees"),
        (["--width", "40ft", "--direction", "nan"], "got 'nan'"),
        (["--width", "40ft", "--direction", "north"], "got 'north'"),
        (["--width", "40ft", "--headland", "-1"], "got '-1'"),
        (["--width", "40ft", "--headland", "1.5"], "got '1.5'"),
        (["--width", "40ft", "--headland", "99"], "whole number of rounds from 0 to 50"),
        (["--width", "40ft", "--finish", "neat"], "'neat' is not one of"),
        (["--width", "40ft", "--entrance", "-94"], "longitude and latitude with a comma"),
        (["--width", "40ft", "--entrance", "x,y"], "longitude and latitude with a comma"),
        (["--width", "40ft", "--entrance", "42.5,-94.4"], "Longitude comes first"),
        (["--width", "40ft", "--out", "field.dwg"], "must end in .geojson"),
        (["--width", "40ft", "--map", "field.gif"], "must end in .svg"),
    ],
)
def test_wrong_usage_of_lay_is_exit_2(tmp_path: Path, arguments: list[str], says: str) -> None:
    out = tmp_path / "out.geojson"
    files = [] if "--out" in arguments else ["--out", str(out)]
    assert says in message(run("lay", SQUARE, *arguments, *files), 2)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["compare", SQUARE, "--width", "30ft"], "one tool only"),
        (["compare", SQUARE, "--width", "30ft", "--width", "30ft"], "given more than once"),
        (
            ["compare", SQUARE, "--rows", "8", "--row-spacing", "30in", "--width", "1ft", "--width", "2ft"],
            "beside rows",
        ),
        (["compare", SQUARE, "--paying-width", *(word for n in "123" for word in ("--width", f"{n}0ft"))], "two tools"),
        (["compare", "--width", "30ft", "--width", "40ft"], "Missing argument 'OUTLINE...'"),
        (["direction", SQUARE, "--width", "40ft", "--hour-cost", "100"], "go with a search by cost"),
        (["direction", SQUARE, "--width", "40ft", "--by", "cost"], "needs an hour cost"),
        (["direction", SQUARE, "--width", "40ft", "--by", "cost", "--hour-cost", "-1"], "must not be below zero"),
        (["direction", SQUARE, "--width", "40ft", "--by", "cost", "--hour-cost", "inf"], "must be a number"),
        (["direction", SQUARE, "--width", "40ft", "--count", "0"], "0 is not in the range"),
        (["outline"], "Missing argument 'SRC...'"),
        (["harrow", SQUARE], "No such command 'harrow'"),
        (["lay", SQUARE, "--widht", "40ft"], "No such option"),
    ],
)
def test_wrong_usage_of_other_verbs_is_exit_2(arguments: list[str], says: str) -> None:
    assert says in message(run(*arguments), 2)


# Inputs that cannot be used

LINE = {"type": "LineString", "coordinates": [[-94, 42], [-93.9, 42]]}
POINTS = {"type": "FeatureCollection", "features": [
    {"type": "Feature", "properties": {}, "geometry": {"type": "Point", "coordinates": [-94, 42]}}]}  # fmt: skip
BOW_TIE = polygon((-94.0, 42.0), (-93.99, 42.01), (-93.99, 42.0), (-94.0, 42.01))


@pytest.mark.parametrize("verb", ["outline", "lay", "direction", "compare"])
@pytest.mark.parametrize(
    ("content", "says"),
    [
        (None, "field.geojson"),
        ("this is no JSON", "JSON"),
        ("", "JSON"),
        ({"type": "FeatureCollection", "features": []}, "cannot be used"),
        (POINTS, "Point"),
        (LINE, "LineString"),
        (BOW_TIE, "cannot be used"),
        ({"type": "Polygon", "coordinates": []}, "cannot be used"),
        ({"hello": "world"}, "cannot be used"),
    ],
)
def test_an_outline_that_cannot_be_used_is_exit_1(tmp_path: Path, verb: str, content: Any, says: str) -> None:
    path = str(tmp_path / "field.geojson") if content is None else geojson(tmp_path, content)
    before = sorted(tmp_path.iterdir())
    tools = {"outline": [], "compare": ["--width", "30ft", "--width", "40ft"]}.get(verb, ["--width", "40ft"])
    files = (
        ["--out", str(tmp_path / "out.gpkg"), "--map", str(tmp_path / "map.svg")] if verb in {"outline", "lay"} else []
    )
    assert says in message(run(verb, path, *tools, *files), 1)
    assert sorted(tmp_path.iterdir()) == before


@pytest.mark.parametrize("verb", ["outline", "lay", "direction"])
def test_a_folder_is_no_outline(tmp_path: Path, verb: str) -> None:
    tools = [] if verb == "outline" else ["--width", "40ft"]
    assert str(tmp_path) in message(run(verb, str(tmp_path), *tools), 1)


def test_a_folder_without_outlines_cannot_be_compared(tmp_path: Path) -> None:
    assert "holds no outline" in message(run("compare", str(tmp_path), "--width", "3ft", "--width", "4ft"), 1)


def test_a_tool_wider_than_the_field_is_refused(tmp_path: Path) -> None:
    small = polygon((-94.0, 42.0), (-93.9998, 42.0), (-93.9998, 42.0001), (-94.0, 42.0001), name="Garden")
    assert "narrower than the field" in message(run("lay", geojson(tmp_path, small), "--width", "90ft"), 1)


def test_a_tool_that_is_not_in_the_shed_is_refused_with_those_that_are() -> None:
    said = message(run("lay", SQUARE, "--tool", "disk", "--shed", SHED), 1)
    assert "got 'disk'" in said
    assert "'16-row planter'" in said


@pytest.mark.parametrize("content", [None, "this is = = no TOML", "[[tool]]\nname = 'x'\n"])
def test_a_shed_that_cannot_be_used_is_refused(tmp_path: Path, content: str | None) -> None:
    shed = tmp_path / "shed.toml"
    if content is not None:
        shed.write_text(content, encoding="utf-8")
    assert "shed file" in message(run("lay", SQUARE, "--tool", "x", "--shed", str(shed)), 1)


def test_an_unknown_coordinate_system_is_refused() -> None:
    assert "EPSG:99999999" in message(run("lay", SQUARE, *PLAIN_TOOL, "--crs", "EPSG:99999999"), 1)


def test_an_entrance_far_from_the_field_is_refused() -> None:
    said = message(run("lay", SQUARE, *PLAIN_TOOL, "--entrance", "42.457,-84.365"), 1)
    assert "longitude comes first" in said


# Files


@pytest.mark.parametrize("option", ["--out", "--map"])
@pytest.mark.parametrize("verb", ["outline", "lay"])
def test_an_existing_file_is_left_alone_without_force(tmp_path: Path, verb: str, option: str) -> None:
    suffix = ".geojson" if option == "--out" else ".svg"
    there, other = tmp_path / f"there{suffix}", tmp_path / ("other.svg" if option == "--out" else "other.geojson")
    there.write_text("mine", encoding="utf-8")
    arguments = [verb, SQUARE, *(PLAIN_TOOL if verb == "lay" else []), option, str(there)]
    both = [*arguments, "--map" if option == "--out" else "--out", str(other)]
    assert "exists and is left alone" in message(run(*both), 1)
    assert there.read_text(encoding="utf-8") == "mine"
    assert list(tmp_path.iterdir()) == [there]
    assert run(*arguments, "--force").exit_code == 0
    assert there.read_text(encoding="utf-8") != "mine"


@pytest.mark.parametrize("option", ["--out", "--map"])
def test_a_folder_that_is_not_there_is_told_before_the_work(tmp_path: Path, option: str) -> None:
    name = "plan.gpkg" if option == "--out" else "plan.png"
    target = tmp_path / "no folder" / name
    assert "there is no folder" in message(run("lay", SQUARE, *PLAIN_TOOL, option, str(target)), 1)
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_cannot_be_written_is_told_before_the_work(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # The rights of a folder do not bind every user that tests run as, so the answer of the system is set here.
    locked = tmp_path / "locked"
    locked.mkdir()
    monkeypatch.setattr(os, "access", lambda path, _mode: Path(path) != locked)
    files = ["--out", str(tmp_path / "plan.gpkg"), "--map", str(locked / "plan.svg")]
    assert "no right to write" in message(run("lay", SQUARE, *PLAIN_TOOL, *files), 1)
    assert list(tmp_path.rglob("*")) == [locked]


def test_names_from_strangers_do_not_steer_the_terminal(tmp_path: Path) -> None:
    evil = polygon((-94.0, 42.0), (-93.99, 42.0), (-93.99, 42.01), (-94.0, 42.01), name="\x1b[31mred\x07\u202e")
    result = run("outline", geojson(tmp_path, evil))
    assert result.exit_code == 0
    assert not {"\x1b", "\x07", "\u202e"} & set(result.stdout + result.stderr)
