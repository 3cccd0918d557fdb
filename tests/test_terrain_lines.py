"""Slope along and across lines and passes, steepest stretches, erosion factors: planes and cones derived by hand."""

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from terrain import cone, plane, raster_of, square

from fieldgeo.analysis.lay import lay
from fieldgeo.errors import InputError
from fieldgeo.machinery.tool import Tool
from fieldgeo.terrain.erosion import (
    off_contour_factor,
    practice_factor,
    practice_table,
    slope_factor,
    standard_row_grade,
    table_row,
)
from fieldgeo.terrain.ground import Terrain, read_terrain
from fieldgeo.terrain.lines import DrivenLine, line_slopes, steepest_stretch, weighted_quantile
from fieldgeo.terrain.measure import FieldSlopes, SlopeRules, field_points, measure_slopes

TOOL = Tool(name="tool", width_m=12.192, turn_radius_m=6.0)


def slopes_of(path: str, direction_deg: float, rules: SlopeRules | None = None) -> FieldSlopes:
    field = square()
    plan = lay(field, TOOL, direction_deg=direction_deg, headland=2, sides="all")
    return measure_slopes(plan, read_terrain(path, field, width_m=TOOL.width_m), rules)


@pytest.fixture(scope="module")
def tilted(tmp_path_factory: pytest.TempPathFactory) -> str:
    """A plane that falls 6 % to the azimuth 120."""
    return raster_of(tmp_path_factory.mktemp("plane") / "plane.tif", plane(0.06, 120))


@pytest.fixture(scope="module")
def ground(tilted: str) -> Terrain:
    return read_terrain(tilted, square(), width_m=12.0)


def test_plane_of_6_per_cent_30_degrees_off_the_fall_line_derived(tilted: str) -> None:
    # Derived: along is the grade times cos 30 = 5.196152 %, across times sin 30 = 3 %.
    found = slopes_of(tilted, 90.0)
    for share in (0.1, 0.5, 0.9):
        assert found.grade_quantile("along", share) == pytest.approx(0.05196152, abs=1e-6)
        assert found.grade_quantile("across", share) == pytest.approx(0.03, abs=1e-6)
    assert (found.median, found.p90, found.greatest) == pytest.approx((0.06, 0.06, 0.06), abs=1e-6)
    assert found.covered == 1.0


@pytest.mark.parametrize(("direction_deg", "along"), [(120.0, 0.06), (30.0, 0.0), (44.47751, 0.0149997)])
def test_directions_on_a_plane_derived(tilted: str, direction_deg: float, along: float) -> None:
    # Derived: straight down; on the contour; and 14.47751 degrees off it, where 6 sin 14.47751 = 1.5 %.
    found = slopes_of(tilted, direction_deg)
    assert found.grade_quantile("along", 0.9) == pytest.approx(along, abs=2e-6)
    assert found.grade_quantile("across", 0.9) == pytest.approx(np.sqrt(0.06**2 - along**2), abs=2e-6)


def test_signs_follow_the_way_that_is_driven_derived(ground: Terrain) -> None:
    # Derived: driven down the fall line it falls ahead and lies level to the side; on the contour with the hill to the
    # left it rises to the left.
    sine, cosine = np.sin(np.radians(120)), np.cos(np.radians(120))
    down = DrivenLine(kind="pass", number=1, line=np.array([[0.0, 0.0], [100 * sine, 100 * cosine]]))
    # Facing azimuth 210 the left hand points to azimuth 120, downhill.
    beside = DrivenLine(kind="pass", number=2, line=np.array([[0.0, 0.0], [100 * cosine, -100 * sine]]))
    first, second = line_slopes(ground, [down, beside])
    assert first.along == pytest.approx(-0.06, abs=1e-6)
    assert first.across == pytest.approx(0.0, abs=1e-6)
    assert second.along == pytest.approx(0.0, abs=1e-6)
    assert second.across == pytest.approx(-0.06, abs=1e-6)


@given(turn_deg=st.floats(0, 360), length_m=st.floats(0.5, 150))
def test_along_and_across_make_up_the_slope(ground: Terrain, turn_deg: float, length_m: float) -> None:
    end = length_m * np.array([np.sin(np.radians(turn_deg)), np.cos(np.radians(turn_deg))])
    (found,) = line_slopes(ground, [DrivenLine(kind="pass", number=1, line=np.array([[0.0, 0.0], end]))])
    assert found.steepness == pytest.approx(0.06, abs=1e-6)
    assert found.step_m * len(found.along) == pytest.approx(length_m)
    # Derived: the azimuth of the line less that of the fall line.
    assert found.along == pytest.approx(-0.06 * np.cos(np.radians(turn_deg - 120)), abs=1e-6)


def test_a_bent_line_is_followed(ground: Terrain) -> None:
    # Derived: 60 m along x, then 40 m along y: falls 6 % x sin 120, then rises by 6 % x cos 60.
    bent = DrivenLine(kind="headland", number=1, line=np.array([[0.0, 0.0], [60.0, 0.0], [60.0, 40.0]]))
    (found,) = line_slopes(ground, [bent])
    rise = float((found.along * found.step_m).sum())
    assert rise == pytest.approx(60 * -0.06 * np.sin(np.radians(120)) + 40 * 0.03, abs=0.06)
    assert found.place_m[-1] == pytest.approx([60.0, 40.0 - found.step_m / 2], abs=1e-9)


def test_no_lines_no_slopes(ground: Terrain) -> None:
    assert line_slopes(ground, []) == []
    assert steepest_stretch([], "along") is None
    assert weighted_quantile(np.array([np.nan]), np.array([1.0]), 0.5) is None


def test_the_steepest_stretch_is_on_the_bank_derived(tmp_path: Path) -> None:
    # Derived: level but for a bank from x = 50 to x = 90 that rises 10 %; passes go east and west across it.
    def bank(east: np.ndarray, _: np.ndarray) -> np.ndarray:
        return np.asarray(300 + 0.1 * np.clip(east - 50, 0, 40))

    path = raster_of(tmp_path / "bank.tif", bank, cell=2.0)
    field = square()
    slopes = measure_slopes(
        lay(field, TOOL, direction_deg=90.0, headland=0), read_terrain(path, field, width_m=2.0), SlopeRules()
    )
    stretch = slopes.steepest("along")
    assert stretch is not None
    assert stretch.grade == pytest.approx(0.1, abs=1e-3)
    assert stretch.length_m == pytest.approx(30.48, abs=1.0)
    assert 65 <= stretch.middle_m[0] <= 75
    # Derived: 40 m of every 400 m are on it, give or take the cells at its ends.
    assert slopes.share_over("along", 0.02) == pytest.approx(0.1, abs=0.012)
    assert slopes.median == 0.0
    assert slopes.steepest("across").grade == pytest.approx(0.0, abs=1e-6)  # type: ignore[union-attr]


def test_a_cone_driven_past_its_top_derived(tmp_path: Path) -> None:
    # Derived: on a line x = 100 past a cone of 8 %, at y the gradient points to the top: along 8 % y / r, across
    # 8 % 100 / r, with r^2 = 100^2 + y^2.
    path = raster_of(tmp_path / "cone.tif", cone(0.08), cell=2.0)
    ground = read_terrain(path, square(), width_m=2.0)
    line = DrivenLine(kind="pass", number=1, line=np.array([[100.0, -150.0], [100.0, 150.0]]))
    (found,) = line_slopes(ground, [line])
    north = found.place_m[:, 1]
    away = np.hypot(100.0, north)
    assert found.along == pytest.approx(-0.08 * north / away, abs=1.2e-3)
    assert found.across == pytest.approx(0.08 * 100 / away, abs=1.2e-3)


def test_row_grades_of_the_contour_farming_standard_published() -> None:
    # Published: NRCS Conservation Practice Standard 330, Contour Farming: 2 %, or half the slope.
    for slope_pct, most_pct in ((2, 1.0), (3, 1.5), (4, 2.0), (6, 2.0), (10, 2.0)):
        assert 100 * standard_row_grade(slope_pct / 100) == pytest.approx(most_pct, abs=1e-9)


def test_rows_within_14_48_degrees_of_the_contour_keep_2_per_cent_on_8_derived() -> None:
    # Derived: 8 % x |cos 75.522| = 2 %, so rows may lie 14.478 degrees off the contour.
    assert np.degrees(np.arccos(0.02 / 0.08)) == pytest.approx(75.522, abs=1e-3)
    assert np.degrees(np.arcsin(standard_row_grade(0.08) / 0.08)) == pytest.approx(14.478, abs=1e-3)


def test_contour_factors_recalled() -> None:
    # Recalled: USDA Agriculture Handbook 537, 1978, table of contour P values; the table was not read.
    classes = {(1, 2): 0.6, (3, 5): 0.5, (6, 8): 0.5, (9, 12): 0.6, (13, 16): 0.7, (17, 20): 0.8, (21, 25): 0.9}
    lengths = [400, 300, 200, 120, 80, 60, 50]
    for ((low, high), factor), length in zip(classes.items(), lengths, strict=True):
        assert practice_factor("contour", [low / 100, high / 100]).tolist() == [factor, factor]
        row = table_row("contour", low / 100)
        assert row is not None
        assert row.most_length_ft == length
        assert row.is_recalled
    assert practice_factor("contour", [0.0, 0.3]).tolist() == [1.0, 1.0]
    assert practice_factor("contour strips", 0.07) == pytest.approx(0.25)
    assert table_row("contour", 0.4) is None


def test_contour_classes_meet_at_the_nearest_per_cent_derived() -> None:
    assert practice_factor("contour", [0.0249, 0.0251, 0.0849, 0.0851]).tolist() == [0.6, 0.5, 0.5, 0.6]


def test_every_row_of_the_table_names_its_source() -> None:
    for row in practice_table():
        assert "Handbook 537" in row.source
        assert 0 < row.factor <= 1


def test_rows_off_the_contour_recalled() -> None:
    # Recalled: USDA Agriculture Handbook 703, 1997: P = Po + (1 - Po) sqrt(row grade / slope).
    assert off_contour_factor(0.5, [0.0, 0.02, 0.08], 0.08) == pytest.approx([0.5, 0.75, 1.0], abs=1e-6)
    assert off_contour_factor(0.5, 0.0, 0.0) == 1.0
    assert off_contour_factor(0.5, 0.2, 0.1) == 1.0  # noise may make a grade steeper than its ground


def test_slope_factors_recalled() -> None:
    # Recalled: USDA Agriculture Handbook 703, 1997.
    assert slope_factor([0.03, 0.06, 0.12]) == pytest.approx([0.3539, 0.6768, 1.5016], abs=1e-3)


def test_factor_of_a_whole_field_on_a_plane_derived(tilted: str) -> None:
    # Derived: on 6 % Po is 0.5; straight down 1; on the contour 0.5; 30 degrees off the fall line
    # 0.5 + 0.5 sqrt(cos 30) = 0.965302.
    for direction_deg, factor in ((120.0, 1.0), (30.0, 0.5), (90.0, 0.965302)):
        found = slopes_of(tilted, direction_deg)
        assert found.p_factor == pytest.approx(factor, abs=1e-3)
        assert found.practice == pytest.approx({"up and down": 1.0, "contour": 0.5, "contour strips": 0.25})


def test_steep_ground_weighs_more_in_the_factor_derived(tmp_path: Path) -> None:
    # Derived: the north half falls 2 % to the south, the south half 8 %. On the contour the field has
    # (0.6 S(2 %) + 0.5 S(8 %)) / (S(2 %) + S(8 %)), with S 0.2460 and 0.8912: 0.5216, where the plain mean is 0.55.
    def halves(_: np.ndarray, north: np.ndarray) -> np.ndarray:
        return np.where(north > 0, 300 + 0.02 * north, 300 + 0.08 * north)

    path = raster_of(tmp_path / "halves.tif", halves, cell=2.0)
    field = square()
    slopes = measure_slopes(
        lay(field, TOOL, direction_deg=90.0, headland=0), read_terrain(path, field, width_m=2.0), SlopeRules()
    )
    assert slopes.practice["contour"] == pytest.approx(0.5216, abs=2e-3)
    assert slopes.p_factor == pytest.approx(0.5216, abs=2e-3)  # rows lie on the contour


def test_side_limit_is_an_input_and_nothing_is_assumed(tilted: str) -> None:
    assert SlopeRules().side_limit is None
    found = slopes_of(tilted, 30.0, SlopeRules(side_limit=0.05))
    assert found.share_over("across", 0.05) == pytest.approx(1.0)
    assert found.share_over("across", 0.07) == 0.0


def test_rules_refuse_what_is_no_grade() -> None:
    for rules in ({"row_grade": 0.0}, {"side_limit": -0.1}):
        with pytest.raises(InputError, match="must be above zero"):
            SlopeRules(**rules)


def test_half_a_field_is_refused_and_measured_when_asked(tmp_path: Path) -> None:
    def west(east: np.ndarray, north: np.ndarray) -> np.ndarray:
        return np.where(east > 0, np.nan, plane(0.06, 120)(east, north))

    path = raster_of(tmp_path / "half.tif", west)
    with pytest.raises(InputError, match=r"covers (49|50|51)% of field 'Square'.*--any-cover"):
        slopes_of(path, 90.0)
    found = slopes_of(path, 90.0, SlopeRules(is_any_cover=True))
    assert found.covered == pytest.approx(0.5, abs=0.02)
    assert found.grade_quantile("along", 0.5) == pytest.approx(0.05196152, abs=1e-6)


def test_points_of_a_field_are_spread_over_it() -> None:
    places = field_points(square())
    assert len(places) == pytest.approx(10_000, rel=0.03)
    assert places.mean(axis=0) == pytest.approx([0.0, 0.0], abs=2.1)


@given(values=st.lists(st.floats(0, 10), min_size=1, max_size=30), share=st.floats(0, 1), weight=st.floats(0.1, 5))
def test_even_weights_give_the_plain_quantile(values: list[float], share: float, weight: float) -> None:
    found = weighted_quantile(np.array(values), np.full(len(values), weight), share)
    assert found == np.quantile(values, share, method="inverted_cdf") or share < 1e-9
