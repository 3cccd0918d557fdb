"""The option --parts as a user meets it."""

from pathlib import Path

import geopandas
import pytest
from command import LAY_KEYS, RAILROAD, answer, geojson, message, polygon, run

TOOL = ["--width", "12m", "--speed", "10km/h", "--turn-radius", "6m", "--headland", "0"]
# A thin L, its legs about 60 m wide and 600 m long (a degree is 111 km north and 82.6 km east here).
LEG_LAT, LEG_LON = 0.00054, 0.00072
CORNERS = (
    (-93.0, 42.0), (-92.9927, 42.0), (-92.9927, 42.0 + LEG_LAT), (-93.0 + LEG_LON, 42.0 + LEG_LAT),
    (-93.0 + LEG_LON, 42.0054), (-93.0, 42.0054),
)  # fmt: skip


@pytest.fixture
def ell(tmp_path: Path) -> str:
    return geojson(tmp_path, polygon(*CORNERS, name="L"))


def test_answer_has_all_keys_of_lay_and_the_parts(ell: str) -> None:
    figures = answer("lay", ell, *TOOL, "--parts", "auto", "--list")
    assert set(figures) >= LAY_KEYS
    assert [part["passes"] for part in figures["parts"]] == [5, 5]
    assert sum(part["passes"] for part in figures["parts"]) == figures["passes"] == len(figures["pass_list"])
    assert sum(part["area_m2"] for part in figures["parts"]) == pytest.approx(figures["area_m2"], rel=1e-9)
    assert figures["field_time_h"] == pytest.approx(sum(figures["time_h"].values()))
    assert figures["saved_h"] == pytest.approx(figures["undivided"]["field_time_h"] - figures["field_time_h"])
    assert figures["field_time_h"] > figures["time_bound_h"]
    first, second = figures["parts"]
    assert first["turns_on"] == [second["number"]] or second["turns_on"] == [first["number"]]


def test_text_says_what_is_saved_and_how_far_it_was_searched(ell: str) -> None:
    result = run("lay", ell, *TOOL, "--parts", "2")
    assert result.exit_code == 0, result.stderr
    assert "divisions tried" in result.stdout
    assert "% of" in result.stdout
    assert "optimal" not in result.stdout
    assert max(map(len, result.stdout.splitlines())) <= 80


def test_a_field_without_inward_corners_is_left_whole() -> None:
    result = run("lay", RAILROAD, "--width", "40ft", "--parts", "auto")
    assert result.exit_code == 0, result.stderr
    assert "left undivided" in result.stdout
    assert answer("lay", RAILROAD, "--width", "40ft", "--parts", "auto")["parts"] == []


def test_files_hold_the_parts(ell: str, tmp_path: Path) -> None:
    out, picture, times = tmp_path / "plan.gpkg", tmp_path / "plan.svg", tmp_path / "times.csv"
    result = run(
        "lay", ell, *TOOL, "--parts", "auto", "--out", str(out), "--map", str(picture), "--times", str(times)
    )  # fmt: skip
    assert result.exit_code == 0, result.stderr
    parts, passes, seams = (geopandas.read_file(out, layer=name) for name in ("parts", "passes", "seams"))
    assert sorted(parts["body_part"]) == [1, 2]
    assert passes["body_part"].value_counts().to_dict() == {1: 5, 2: 5}
    assert len(seams) == 1
    assert picture.stat().st_size > 1000
    assert times.read_text(encoding="utf-8").count("\n") > 100


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["--parts", "0"], "from 1 (undivided) to 4"),
        (["--parts", "many"], "It must be auto"),
        (["--parts", "2", "--direction", "90"], "--direction does not go with --parts"),
        (["--parts", "2", "--tank", "10bu", "--rate", "1bu/ac"], "--tank does not go with --parts"),
        (["--parts", "auto", "--lands", "auto"], "--lands does not go with --parts"),
        (["--parts", "auto", "--follow", "edge:1"], "--follow does not go with --parts"),
    ],
)  # fmt: skip
def test_what_does_not_go_with_parts_is_refused(ell: str, arguments: list[str], says: str) -> None:
    assert says in " ".join(message(run("lay", ell, *TOOL, *arguments), 2).split())
