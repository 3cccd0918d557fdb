"""Directions on sloping ground: time against soil, on planes derived by hand, and what is refused."""

from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import shapely
from command import SAMPLES, answer, message, run
from terrain import FRAME, cone, plane, raster_of, square

import fieldgeo
from fieldgeo.analysis.many_directions import ManyDirections
from fieldgeo.outline.field import Field, field_from_shape
from fieldgeo.terrain.trade import KEPT_SHARE, WORTH_SOIL, SlopeTrade, trade_slope

CREEK = [str(SAMPLES / "creek.geojson"), "--width", "40ft", "--dem", str(SAMPLES / "creek_heights.tif")]
PLANTER = fieldgeo.Tool(name="planter", width_m=12.0)


def oblong() -> Field:
    return field_from_shape(shapely.box(-250, -150, 250, 150), name="Oblong", frame=FRAME)


def traded(
    tmp_path: Path, surface: object, *, field: Field | None = None, most_grade: float | None = None
) -> SlopeTrade:
    field = field or square(400.0)
    raster = raster_of(tmp_path / "heights.tif", surface, reach=400.0)  # type: ignore[arg-type]
    ground = fieldgeo.read_terrain(raster, field, width_m=12.0)
    # Straight through, edge to edge: all rows are passes.
    return trade_slope(ManyDirections(field, PLANTER, headland=0), ground, most_grade=most_grade)


def test_row_grade_and_factor_of_every_direction_on_a_plane_derived(tmp_path: Path) -> None:
    # On a plane of 8 % that falls to 30 degrees, rows at azimuth d run at 8 % x |cos(d - 30)|, everywhere. Contour rows
    # have a factor of 0.5 on 6 to 8 %, so that P = 0.5 + 0.5 sqrt(|cos(d - 30)|): derived; factor and rule recalled,
    # USDA Agriculture Handbooks 537 (1978) and 703 (1997).
    trade = traded(tmp_path, plane(0.08, 30.0))
    assert len(trade.choices) >= 6
    for choice in trade.choices:
        share = abs(np.cos(np.radians(choice.direction_deg - 30.0)))
        for quantile in (0.5, KEPT_SHARE):
            assert choice.slopes.grade_quantile("along", quantile) == pytest.approx(0.08 * share, abs=1e-5)
        assert choice.soil == pytest.approx(0.5 + 0.5 * np.sqrt(share), abs=1e-3)
        assert choice.soil == pytest.approx(choice.slopes.p_factor)
        # NRCS Conservation Practice Standard 330 allows 2 % on 8 %: within 14.48 degrees of the contour (derived).
        is_near = abs((choice.direction_deg - 120.0 + 90) % 180 - 90) < 14.47
        assert choice.slopes.share_over("along", 0.02) == (0.0 if is_near else 1.0)


def test_the_contour_is_found_on_a_plane_derived(tmp_path: Path) -> None:
    trade = traded(tmp_path, plane(0.06, 30.0))
    assert trade.across_deg == pytest.approx(120.0)
    assert trade.kindest.soil == pytest.approx(0.5, abs=WORTH_SOIL)  # the table's factor on the contour, recalled
    assert any("across the mean slope" in choice.why for choice in trade.choices)
    # On a square the passes are no longer one way than the other: the fastest lie along a side.
    assert trade.fastest.direction_deg in {0.0, 90.0}


def test_slopes_that_face_each_other_do_not_cancel_derived(tmp_path: Path) -> None:
    # A roof with its ridge along azimuth 90: the mean gradient is zero, and the contours run along the ridge.
    trade = traded(tmp_path, lambda _east, north: 300.0 - 0.06 * np.abs(north))
    assert trade.across_deg == pytest.approx(90.0)


def test_level_ground_points_nowhere_and_time_alone_decides(tmp_path: Path) -> None:
    trade = traded(tmp_path, plane(0.0, 0.0), field=oblong())
    assert trade.across_deg is None
    assert trade.kindest is trade.fastest
    assert trade.unbeaten == [trade.fastest]


def test_a_cone_has_no_better_direction_derived(tmp_path: Path) -> None:
    # Straight rows over a cone cross every slope that there is, whatever their direction.
    trade = traded(tmp_path, cone(0.06))
    assert max(each.soil for each in trade.choices) - min(each.soil for each in trade.choices) < 0.03


def test_time_grows_and_soil_falls_along_the_unbeaten(tmp_path: Path) -> None:
    trade = traded(tmp_path, plane(0.05, 20.0), field=oblong())
    assert len(trade.unbeaten) >= 3
    for one, next_one in pairwise(trade.unbeaten):
        assert next_one.time_s >= one.time_s
        assert next_one.soil < one.soil - WORTH_SOIL
    for choice in trade.choices:
        if choice.is_beaten:
            assert any(
                each.time_s <= choice.time_s and each.soil <= choice.soil + WORTH_SOIL for each in trade.unbeaten
            )


def test_the_least_time_among_those_that_keep_a_grade_derived(tmp_path: Path) -> None:
    # Within asin(2 / 8) = 14.48 degrees of the contour rows keep 2 % on a plane of 8 %; the contour runs at 120, and on
    # an oblong that lies east and west, the nearer to 90 the fewer passes: so the fastest is near 105.52.
    trade = traded(tmp_path, plane(0.08, 30.0), field=oblong(), most_grade=0.02)
    best = trade.fastest_keeping(0.02)
    assert best is not None
    assert best.keeps(0.02)
    assert 105.52 <= best.direction_deg <= 134.48
    assert best.direction_deg == pytest.approx(105.52, abs=3.0)
    assert not trade.fastest.keeps(0.02)


def test_none_keeps_a_grade_on_a_cone(tmp_path: Path) -> None:
    trade = traded(tmp_path, cone(0.08), most_grade=0.01)
    assert trade.fastest_keeping(0.01) is None
    nearest = trade.nearest_keeping(0.01)
    share = nearest.slopes.share_over("along", 0.01)
    assert share == min(each.slopes.share_over("along", 0.01) or 0.0 for each in trade.choices)


def test_answer_of_direction_on_the_creek(tmp_path: Path) -> None:
    figures = answer("direction", *CREEK, "--plot", str(tmp_path / "trade.svg"))
    best = figures["candidates"][0]
    assert figures["best_deg"] == best["direction_deg"] == figures["fastest_deg"]
    assert {"direction_deg", "passes", "turns", "overlap_m2", "skip_m2", "field_time_h"} <= set(best)
    assert best["lost_time_h"] == 0
    assert best["soil_change_pct"] == 0
    plain = answer("direction", *CREEK[:3])
    assert best["field_time_h"] <= plain["candidates"][0]["field_time_h"] + 1e-9
    kindest = min(figures["candidates"], key=lambda each: each["soil_pct"])
    assert kindest["soil_change_pct"] == pytest.approx(100 * (kindest["soil_pct"] / best["soil_pct"] - 1))
    assert kindest["lost_time_h"] == pytest.approx(kindest["field_time_h"] - best["field_time_h"], abs=1e-6)
    assert len(figures["tried"]) == figures["laid_out"]
    assert (tmp_path / "trade.svg").read_text(encoding="utf-8").startswith("<?xml")


def test_by_erosion_the_least_soil_comes_first() -> None:
    figures = answer("direction", *CREEK, "--by", "erosion")
    soil = [each["soil_pct"] for each in figures["candidates"]]
    assert soil == sorted(soil)
    assert figures["by"] == "erosion"
    assert figures["candidates"][0]["score"] == pytest.approx(soil[0] / 100)


def test_a_grade_that_none_keeps_is_said() -> None:
    result = run("direction", *CREEK, "--most-grade", "0.5%")
    assert result.exit_code == 0
    assert "no direction of the" in result.stdout
    assert "keeps rows to 0.5 %" in " ".join(result.stdout.split())
    figures = answer("direction", *CREEK, "--most-grade", "5%")
    assert figures["keeps_most_grade"] is True
    assert figures["candidates"][0]["row_grade_pct_p90"] <= 5.0


def test_lines_fit_a_terminal_and_what_is_recalled_is_said() -> None:
    result = run("direction", *CREEK, "--most-grade", "2%")
    assert max(map(len, result.stdout.splitlines())) <= 80
    assert "recalled, not read" in result.stderr
    assert "laid out exactly" in result.stderr


def test_rough_heights_are_told() -> None:
    # The heights of the Minnesota field come from a receiver on north-south passes, and differ from pass to pass: by
    # narrow strips the least soil lies along them, by wide ones across the slope of the field (regression).
    data = Path(__file__).parent / "data"
    more = ["--width", "30ft", "--dem", str(data / "mn_corn_2011_elev_10m.asc")]
    result = run("direction", str(data / "mn_corn_2011_outline.geojson"), *more)
    assert "caution: smoothed to 300 ft instead of 30 ft" in " ".join(result.stderr.split())
    assert "caution: smoothed" not in run("direction", *CREEK).stderr


def test_count_limits_the_list() -> None:
    assert len(answer("direction", *CREEK, "--count", "1")["candidates"]) == 1


@pytest.mark.parametrize(
    ("more", "says"),
    [
        (["--width", "40ft", "--by", "erosion"], "--by erosion needs --dem"),
        (["--width", "40ft", "--most-grade", "2%"], "--most-grade needs --dem"),
        (["--width", "40ft", "--plot", "trade.bmp"], "must end in .svg, .png, .pdf"),
        ([*CREEK[1:], "--by", "passes"], "not with --by passes"),
        ([*CREEK[1:], "--width", "30ft"], "--dem: no tool is on rows"),
        ([*CREEK[1:], "--by", "erosion", "--most-grade", "2%"], "does not go with --by erosion"),
        ([*CREEK[1:], "--most-grade", "2"], "with its unit"),
        ([*CREEK[1:], "--smooth", "0ft"], "above zero"),
    ],
)
def test_wrong_usage(more: list[str], says: str) -> None:
    assert says in message(run("direction", CREEK[0], *more), 2)


def test_a_picture_is_not_drawn_over_a_file(tmp_path: Path) -> None:
    target = tmp_path / "trade.svg"
    target.write_text("mine", encoding="utf-8")
    assert "exists" in message(run("direction", *CREEK, "--plot", str(target)), 1)
    assert target.read_text(encoding="utf-8") == "mine"


def test_a_raster_elsewhere_is_refused(tmp_path: Path) -> None:
    raster = raster_of(tmp_path / "far.tif", plane(0.05, 0.0), reach=300.0)
    assert "misses field" in message(run("direction", *CREEK[:3], "--dem", raster), 1)
