"""The command line along edges, lines and circles: answers, files of lines, files written, refusals."""

import json
from pathlib import Path
from typing import Any

import geopandas
import numpy as np
import pytest
import shapely
from command import LAY_KEYS, SAMPLES, answer, message, run

from fieldgeo.analysis.curved.asked import read_follow
from fieldgeo.errors import InputError, OutlineError
from fieldgeo.outline.files.lines import read_line
from fieldgeo.outline.read import read_outline

SLANT = str(SAMPLES / "slant_road.geojson")
PIVOT = str(SAMPLES / "pivot.geojson")
TOOL = ["--width", "60ft", "--turn-radius", "24ft"]


def bent(shift_m: float = 0.0) -> shapely.LineString:
    """Return a bent line over the slant road field, in longitude and latitude."""
    frame = read_outline(SLANT).frame
    x = np.linspace(-330, 330, 30)
    return shapely.LineString(np.column_stack(frame.to_lonlat(x + shift_m, 40 * np.sin(x / 90))))


def line_file(path: Path, line: shapely.LineString) -> str:
    path.write_text(shapely.to_geojson(line), encoding="utf-8")
    return str(path)


def test_the_keys_of_lay_are_there_and_those_of_follow(tmp_path: Path) -> None:
    figures = answer("lay", SLANT, *TOOL, "--follow", line_file(tmp_path / "line.geojson", bent()))
    assert set(figures) >= LAY_KEYS
    follow = figures["follow"]
    assert follow["kind"] == "line"
    assert follow["length_m"] == pytest.approx(695, abs=1)
    assert follow["least_radius_m"] == pytest.approx(9.154)
    assert follow["deviation_m"] < 0.1
    assert follow["straight"]["field_time_h"] == pytest.approx(figures["field_time_h"] - follow["extra_time_h"])
    assert figures["worked_m2"] + figures["skip_m2"] == pytest.approx(figures["area_m2"])


def test_the_answer_names_what_is_followed() -> None:
    result = run("lay", PIVOT, *TOOL, "--follow", "circle")
    assert result.exit_code == 0, result.stderr
    lines = result.stdout.splitlines()
    assert lines[2].startswith("  follows           circles about -94.33")
    assert max(map(len, lines)) <= 80
    assert any(line.startswith("  beside straight") for line in lines)
    assert "direction" not in result.stdout


@pytest.mark.parametrize("suffix", [".gpkg", ".shp", ".fgb", ".kml", ".wkt"])
def test_lines_are_read_from_every_format(tmp_path: Path, suffix: str) -> None:
    path = tmp_path / f"line{suffix}"
    if suffix == ".wkt":
        path.write_text(f"SRID=4326;{bent().wkt}", encoding="utf-8")
    else:
        frame = geopandas.GeoDataFrame(geometry=[bent()], crs=4326)
        driver = "KML" if suffix == ".kml" else None
        (frame.to_crs(26915) if suffix in {".gpkg", ".shp"} else frame).to_file(path, driver=driver)
    assert read_line(path) == pytest.approx(shapely.get_coordinates(bent()), abs=1e-7)


@pytest.mark.parametrize(
    ("document", "words"),
    [
        ({"type": "Point", "coordinates": [1, 2]}, "no line in it"),
        ({"type": "MultiLineString", "coordinates": [[[0, 0], [1, 1]], [[2, 2], [3, 3]]]}, "it has 2 lines"),
        ({"type": "LineString", "coordinates": [[0, 0], ["a", 1]]}, "no GeoJSON that can be read"),
    ],
)
def test_files_without_one_line_are_refused(tmp_path: Path, document: dict[str, Any], words: str) -> None:
    path = tmp_path / "line.geojson"
    path.write_text(json.dumps(document), encoding="utf-8")
    with pytest.raises(OutlineError, match=words):
        read_line(path)


def test_a_map_and_layers_are_written(tmp_path: Path) -> None:
    out, drawn = tmp_path / "plan.gpkg", tmp_path / "plan.svg"
    result = run("lay", SLANT, *TOOL, "--follow", "edge:2", "--out", str(out), "--map", str(drawn), "--list")
    assert result.exit_code == 0, result.stderr
    passes = geopandas.read_file(out, layer="passes")
    swaths = geopandas.read_file(out, layer="swaths")
    assert set(passes.geom_type) == {"LineString"}
    assert sorted(swaths["number"]) == sorted(passes["number"])
    assert (swaths["area_m2"] / passes.set_index("number").loc[swaths["number"], "length_m"].to_numpy()).to_numpy() == (
        pytest.approx(60 * 0.3048)
    )
    assert len(geopandas.read_file(out, layer="key_line")) == 1
    assert "along edge 2" in drawn.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("options", "words", "code"),
    [
        (["--follow", "edge:9"], "has no edge 9. It must be from 1 to 4", 1),
        (["--follow", "edge:x"], "Edges are given by number", 2),
        (["--follow", "nothing"], "It must be edge:N", 2),
        (["--follow", "gone.geojson"], "there is no such file", 1),
        (["--follow", "circle:10,10"], "the centre lies", 1),
        (["--follow", "edge:1", "--least-radius", "10ft"], "works on no less than 9.15 m", 1),
        (["--follow", "edge:1", "--direction", "10"], "--direction does not go with --follow", 2),
        (["--follow", "edge:1", "--order", "skip"], "--order skip does not go with --follow", 2),
        (["--follow", "edge:1", "--tank", "10bu", "--rate", "1bu/ac"], "not worked out for curved passes", 2),
        (["--follow", "edge:1", "--lands", "auto"], "--follow does not go with --lands", 2),
        (["--least-radius", "60ft"], "--least-radius goes with --follow", 2),
    ],
)
def test_what_cannot_be_laid_is_refused(options: list[str], words: str, code: int) -> None:
    assert words in message(run("lay", SLANT, *TOOL, *options), code)


def test_a_line_off_the_field_is_refused_with_the_distance(tmp_path: Path) -> None:
    path = line_file(tmp_path / "line.geojson", bent(shift_m=2000.0))
    said = message(run("lay", SLANT, *TOOL, "--follow", path), 1)
    assert "the line lies outside field 'Slant Road', 1,3" in said


def test_what_is_followed_is_read_from_text() -> None:
    assert read_follow("edge:8,1").edges == (8, 1)
    assert read_follow("edge:2-4,4").edges == (2, 3, 4)
    assert read_follow("circle:-94.5,42.5").centre_lonlat == (-94.5, 42.5)
    assert read_follow("a.geojson").path == "a.geojson"
    with pytest.raises(InputError, match="runs upward"):
        read_follow("edge:4-2")
