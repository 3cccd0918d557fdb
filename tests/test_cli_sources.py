"""Every source of an outline on the command line: what it answers, writes, draws and refuses."""

from pathlib import Path

import numpy as np
import pytest
import shapely
from command import SAMPLES, SQUARE, answer, message, run

from fieldgeo.outline.read import read_outline

WALK = str(SAMPLES / "walk_ell.gpx")
DRIVE = str(SAMPLES / "drive_railroad.nmea")
DEED = str(SAMPLES / "mill_lane_deed.txt")
OLD_DEED = str(SAMPLES / "stone_ridge_deed.txt")
SECTION = str(SAMPLES / "section_eight_corners.txt")
ELL = str(SAMPLES / "ell.geojson")
KEYS = {
    "name", "area_m2", "area_ac", "perimeter_m", "corners", "parts", "holes", "source_crs", "changes", "problems",
    "source", "area_uncertainty_m2", "uncertainty_from", "weak_points", "is_placed",
}  # fmt: skip

# Answers


@pytest.mark.parametrize(
    ("path", "source", "own_keys"),
    [
        (SQUARE, "file", set()),
        (WALK, "walk", {"closure_m", "closure_pct", "walk"}),
        (DRIVE, "walk", {"closure_m", "closure_pct", "walk"}),
        (DEED, "deed", {"misclosure_m", "precision", "area_raw_m2", "area_adjusted_m2", "deed"}),
        (SECTION, "section", {"nominal_m2", "nominal_ac", "section"}),
    ],
)
def test_keys_of_each_kind(path: str, source: str, own_keys: set[str]) -> None:
    figures = answer("outline", path)
    assert set(figures) >= KEYS | own_keys
    assert figures["source"] == source
    if source != "file":
        assert figures["area_uncertainty_m2"] > 0


@pytest.mark.parametrize("path", [SQUARE, WALK, DRIVE, DEED, SECTION])
def test_acres_come_first_and_the_lines_fit_the_terminal(path: str) -> None:
    result = run("outline", path)
    lines = result.stdout.splitlines()
    assert " ac (" in lines[0]
    assert max(map(len, lines + result.stderr.splitlines())) <= 80
    assert "not a legal survey" in " ".join(result.stderr.split())


def test_the_uncertainty_and_the_weak_points_are_printed() -> None:
    figures, text = answer("outline", WALK), run("outline", WALK).stdout
    assert (
        f"+/- {figures['area_uncertainty_ac']:.2f} ac ({figures['area_uncertainty_pct']:.1f} %)" in text.splitlines()[0]
    )
    assert " ".join(figures["weak_points"][0].split()) in " ".join(text.split())


def test_a_better_receiver_makes_the_acres_surer() -> None:
    halves = [answer("outline", WALK, "--accuracy", text)["area_uncertainty_m2"] for text in ("1m", "3m", "5m")]
    assert halves == sorted(halves)
    assert halves[2] > 2 * halves[0]
    # A file has an uncertainty once its accuracy is known. Derived: four corners of a square of side a, each off by s:
    # s/2 sqrt(4 x 2a^2) = s a sqrt(2); 402.336 m and 1 m: 568.99 m2 and a little of the second order, x 1.96
    square = answer("outline", SQUARE, "--accuracy", "1m")["area_uncertainty_m2"]
    assert square == pytest.approx(1.959964 * np.hypot(402.336 * np.sqrt(2), np.sqrt(2)), rel=1e-3)


def test_the_courses_of_a_deed_are_listed() -> None:
    lines = run("outline", DEED, "--courses").stdout.splitlines()
    head = next(number for number, line in enumerate(lines) if line.split()[:2] == ["call", "azimuth"])
    assert len(lines) - head - 1 == answer("outline", DEED)["deed"]["courses"][-1]["number"]
    assert "courses goes with a deed" in message(run("outline", SQUARE, "--courses"), 2)


def test_a_section_part_as_asked() -> None:
    east = answer("outline", SECTION, "--part", "E1/2 NE1/4")
    assert east["nominal_ac"] == pytest.approx(80)
    assert east["section"]["text"] == "E1/2 NE1/4"
    assert east["centre_lon_deg"] > answer("outline", SECTION)["centre_lon_deg"]


@pytest.mark.parametrize("path", [WALK, DEED, SECTION])
def test_every_source_can_be_laid(path: str) -> None:
    figures = answer("lay", path, "--width", "40ft", "--direction", "0")
    assert figures["area_m2"] == pytest.approx(answer("outline", path)["area_m2"])
    assert figures["passes"] > 10


# Files


@pytest.mark.parametrize("suffix", [".geojson", ".gpkg"])
@pytest.mark.parametrize("path", [WALK, SECTION, ELL])
def test_round_trips_keep_places_to_a_millimetre(tmp_path: Path, path: str, suffix: str) -> None:
    file = tmp_path / f"out{suffix}"
    assert run("outline", path, "--out", str(file)).exit_code == 0
    field, again = read_outline(path), read_outline(file)
    there = shapely.transform(
        again.shape, lambda xy: np.column_stack(field.frame.to_frame(*again.frame.to_lonlat(*xy.T)))
    )
    assert shapely.hausdorff_distance(there, field.shape) < 0.001
    assert len(shapely.get_coordinates(there)) == len(shapely.get_coordinates(field.shape))


def test_the_layers_of_a_plan_read_back_as_the_outline(tmp_path: Path) -> None:
    for suffix in (".geojson", ".gpkg"):
        file = str(tmp_path / f"plan{suffix}")
        assert run("lay", ELL, "--width", "40ft", "--direction", "0", "--out", file).exit_code == 0
        assert answer("outline", file)["area_m2"] == pytest.approx(answer("outline", ELL)["area_m2"], rel=1e-6)


@pytest.mark.parametrize("path", [WALK, DEED, SECTION])
def test_maps_are_drawn(tmp_path: Path, path: str) -> None:
    file = tmp_path / "map.svg"
    assert run("outline", path, "--map", str(file)).exit_code == 0
    assert file.read_text(encoding="utf-8").startswith("<?xml")


def test_a_deed_without_a_place_is_not_written(tmp_path: Path) -> None:
    file = tmp_path / "deed.geojson"
    assert "place" in message(run("outline", DEED, "--out", str(file)), 1)
    assert "place" in message(run("lay", DEED, "--width", "40ft", "--direction", "0", "--out", str(file)), 1)
    tank = ["--width", "40ft", "--direction", "0", "--tank", "5bu", "--rate", "1bu/ac"]
    assert "place" in message(run("lay", DEED, *tank, "--out", str(file)), 1)
    assert "place" in message(run("lay", DEED, *tank, "--times", str(tmp_path / "times.csv")), 1)
    assert not list(tmp_path.iterdir())
    assert {stop["lon"] for stop in answer("lay", DEED, *tank)["load"]["stop_list"]} == {None}
    assert "no place" in run("lay", DEED, *tank).stdout
    assert answer("outline", DEED)["centre_lon_deg"] is None
    assert run("outline", DEED, "--corner", "1=-93.5,42", "--out", str(file)).exit_code == 0
    assert answer("outline", str(file))["centre_lon_deg"] == pytest.approx(-93.5, abs=0.01)


# Several sources


def test_sources_side_by_side(tmp_path: Path) -> None:
    file = tmp_path / "both.svg"
    result = run("outline", ELL, WALK, "--accuracy", "3m", "--map", str(file))
    assert result.exit_code == 0, result.stderr
    assert file.exists()
    assert result.stdout.startswith("2 sources: ")
    assert max(map(len, result.stdout.splitlines() + result.stderr.splitlines())) <= 80
    assert "not a legal survey" in " ".join(result.stderr.split())
    figures = answer("outline", ELL, WALK, DEED, "--accuracy", "3m")
    assert [source["kind"] for source in figures["sources"]] == ["file", "walk", "deed"]
    assert [source["is_placed"] for source in figures["sources"]] == [True, True, False]


def test_sources_of_one_name_are_told_apart_by_their_files() -> None:
    names = [source["name"] for source in answer("outline", ELL, ELL)["sources"]]
    assert names == ["Ell (ell.geojson)"] * 2


def test_what_one_source_alone_can_have(tmp_path: Path) -> None:
    assert "--out goes with one source" in message(run("outline", ELL, WALK, "--out", str(tmp_path / "a.gpkg")), 2)
    assert "--courses goes with one source" in message(run("outline", ELL, DEED, "--courses"), 2)


# Wrong usage and bad input


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        ([SQUARE, "--thin", "1m"], "--thin goes with a walk; square_forty.geojson is a file"),
        ([WALK, "--where", "a = 1"], "--where goes with a file; walk_ell.gpx is a walk"),
        ([WALK, "--part", "NW1/4"], "--part goes with a section"),
        ([SECTION, "--any-closure"], "--any-closure goes with a deed"),
        ([SQUARE, "--raw"], "--raw goes with a deed"),
        ([WALK, "--offset", "10ft"], "must be a length and which way"),
        ([WALK, "--offset", "-10ft out"], "must not be below zero"),
        ([DEED, "--corner", "0=-93,42"], "N=LON,LAT"),
        ([DEED, "--corner", "one=-93,42"], "N=LON,LAT"),
        ([DEED, "--corner", "1=-93"], "N=LON,LAT"),
        ([WALK, "--accuracy", "3"], "must be a number with its unit"),
        ([WALK, "--as", "plat"], "Invalid value for '--as'"),
    ],
)
def test_wrong_usage_is_exit_2(arguments: list[str], says: str) -> None:
    assert says in message(run("outline", *arguments), 2)


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        ([OLD_DEED], "--any-closure"),
        ([WALK, "--crs", "EPSG:26915"], "got the coordinate system 'EPSG:26915' for a walk"),
        ([SQUARE, "--as", "walk"], "cannot be read as a walk"),
        ([WALK, "--as", "file"], "cannot be read as a file"),
        ([SECTION, "--part", "Lot 3"], "plat"),
        ([SQUARE, "--where", "acres > 10"], "acres"),
        ([SQUARE, "--at", "0,0"], "holds the point"),
    ],
)
def test_bad_input_is_exit_1(arguments: list[str], says: str) -> None:
    assert says in message(run("outline", *arguments), 1)


def test_an_offset_moves_the_edge_out_and_in() -> None:
    inside, on, outside = (
        answer("outline", WALK, *offset)["area_m2"]
        for offset in (["--offset", "10ft in"], [], ["--offset", "10ft out"])
    )
    assert inside < on < outside
    # Derived: about the perimeter, 5,280 ft for this L, times the offset.
    assert outside - on == pytest.approx(1609.3 * 3.048, rel=0.1)
    assert on - inside == pytest.approx(1609.3 * 3.048, rel=0.1)
