"""From points to an edge: knots, dead ends, the join, laps, figures of eight, gaps, corners that stay corners."""

from pathlib import Path

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from walks import SQUARE, as_walk, drifting, evidence_of, ground_of, walked, write_gpx, write_table

from fieldgeo.errors import OutlineError
from fieldgeo.frame import FloatArray
from fieldgeo.outline.walk.knots import signed_area_m2, unknotted
from fieldgeo.outline.walk.lap import first_lap

QUARTER_MILE_M = 804.672


def free_of_knots(points: FloatArray, noise_m: float = 1.0) -> shapely.Polygon:
    return shapely.Polygon(unknotted(points, np.arange(float(len(points))), noise_m=noise_m).points_m)


def with_loop(loop: FloatArray, at: int = 200) -> FloatArray:
    points = walked(SQUARE)
    return np.vstack([points[: at + 1], points[at] + loop, points[at:]])


def circle(radius_m: float, number: int = 24) -> FloatArray:
    turn = np.linspace(0, 2 * np.pi, number)[1:-1]
    return radius_m * np.column_stack([np.sin(turn), 1 - np.cos(turn)])


def test_a_small_loop_is_cut_out_and_the_rest_is_as_it_was() -> None:
    points = with_loop(circle(1.5) + np.array([0.3, 0]))
    found = unknotted(points, np.arange(float(len(points))), noise_m=1.0)
    assert found.knots >= 1
    assert shapely.Polygon(found.points_m).is_valid
    assert abs(signed_area_m2(found.points_m)) == pytest.approx(SQUARE.area, abs=1.0)


def test_a_loop_larger_than_the_noise_is_left() -> None:
    points = with_loop(circle(20.0))
    found = unknotted(points, np.arange(float(len(points))), noise_m=1.0)
    assert found.knots == 0


def test_a_knot_at_the_beginning_is_seen_too() -> None:
    points = np.roll(with_loop(circle(1.5) + np.array([0.3, 0])), -205, axis=0)
    assert free_of_knots(points).is_valid


def test_a_ring_without_crossings_is_as_it_was() -> None:
    points = walked(SQUARE)
    found = unknotted(points, np.arange(float(len(points))), noise_m=1.0)
    assert found.points_m.tolist() == points.tolist()
    assert found.station.tolist() == list(range(len(points)))


def test_a_dead_end_is_cut_off_and_told_apart() -> None:
    away = np.column_stack([np.linspace(1, 80, 70), np.linspace(0, 3, 70)])
    back = away[::-1] + np.column_stack([np.zeros(70), np.full(70, 0.4)])
    points = with_loop(np.vstack([away, back]), at=40)
    found = unknotted(points, np.arange(float(len(points))), noise_m=1.0)
    assert found.dead_ends >= 1
    assert found.dead_ends_m == pytest.approx(160, abs=15)
    assert abs(signed_area_m2(found.points_m)) == pytest.approx(SQUARE.area, abs=5)


@given(st.integers(0, 10_000), st.sampled_from([0.5, 1.0, 3.0, 5.0]), st.sampled_from([0, 2, 20, 200]))
def test_noise_leaves_a_simple_ring_whatever_its_memory(seed: int, sd_m: float, memory: int) -> None:
    points = walked(SQUARE, 1.5)
    (error,) = drifting(np.random.default_rng(seed), 1, len(points), sd_m, memory)
    found = unknotted(points + error, np.arange(float(len(points))), noise_m=sd_m)
    ring = shapely.Polygon(found.points_m)
    assert ring.is_valid
    assert np.all(np.diff(found.station) >= 0)
    # Every point of it is a point of the walk or lies on its line.
    line = shapely.LineString(np.vstack([points + error, (points + error)[:1]]))
    assert shapely.distance(shapely.points(found.points_m), line).max() < 1e-6


def test_cutting_knots_does_not_shift_the_area() -> None:
    """Simulation: 200 walks round 4 ha, new errors of 3 m at every point: the mean change is lost in its error."""
    points = walked(SQUARE)
    errors = drifting(np.random.default_rng(3), 200, len(points), 3.0, 0)
    changes = [
        abs(signed_area_m2(unknotted(points + error, np.arange(float(len(points))), noise_m=3.0).points_m))
        - abs(signed_area_m2(points + error))
        for error in errors
    ]
    assert abs(np.mean(changes)) < 3 * np.std(changes) / np.sqrt(len(changes))
    assert abs(np.mean(changes)) < 0.0005 * SQUARE.area


@pytest.mark.parametrize(("laps", "count"), [(0.999, 1), (1.05, 1), (1.3, 1), (1.9, 2), (2.0, 2), (3.0, 3)])
def test_the_first_time_round_is_found_derived(laps: float, count: int) -> None:
    points = walked(SQUARE, laps=laps) + np.random.default_rng(2).normal(scale=0.3, size=(1, 2))
    lap = first_lap(points, noise_m=1.0)
    assert lap.laps == count
    assert lap.end == pytest.approx(min(667, len(points) - 1), abs=2)
    assert lap.overlap_m == pytest.approx(max(0.0, laps - 1) * 800, abs=4)


@pytest.mark.parametrize("is_at_the_end", [False, True])
def test_the_way_to_the_edge_is_left_out_and_told(tmp_path: Path, is_at_the_end: bool) -> None:
    from_the_truck = np.column_stack([np.linspace(60, 100, 34), np.linspace(-70, -100, 34)])
    points = np.vstack([from_the_truck[:-1], walked(SQUARE)])
    points = points[::-1] if is_at_the_end else points
    lap = first_lap(points, noise_m=1.0)
    assert (lap.start, lap.end) == ((0, 666) if is_at_the_end else (33, len(points) - 1))
    reading = as_walk(write_gpx(tmp_path / "a.gpx", [[points]]))
    assert ground_of(reading).area == pytest.approx(SQUARE.area, abs=5)
    assert any("50.0 m walked to the edge, or from it" in change.what for change in reading.changes)


def test_a_strip_that_passes_its_start_on_the_other_side_is_left_whole() -> None:
    points = np.roll(walked(shapely.box(0, 0, 8, 300)), 120, axis=0)
    assert first_lap(points, noise_m=3.0).end == len(points) - 1


def test_two_rounds_are_told_and_the_first_is_used(tmp_path: Path) -> None:
    points = walked(SQUARE, laps=2.0)
    points = points + np.random.default_rng(1).normal(scale=0.4, size=points.shape)
    reading = as_walk(write_gpx(tmp_path / "a.gpx", [[points]]))
    evidence, report, _ = evidence_of(reading)
    assert report.laps == 2
    assert ground_of(reading).area == pytest.approx(SQUARE.area, rel=0.005)
    assert any("goes round 2 times" in change.what for change in reading.changes)
    assert any("goes round 2 times" in point for point in evidence.weak_points)


def test_an_overlap_at_the_join_is_left_out_with_its_area(tmp_path: Path) -> None:
    points = walked(SQUARE, laps=1.04) * 1.0
    points[-26:] += (0.8, 0.8)
    reading = as_walk(write_gpx(tmp_path / "a.gpx", [[points]]))
    _, report, _ = evidence_of(reading)
    assert report.overlap_m == pytest.approx(32, abs=2)
    assert report.closure_m < 2
    assert ground_of(reading).area == pytest.approx(SQUARE.area, abs=15)
    assert any("beyond the join" in change.what for change in reading.changes)


def test_a_figure_eight_is_refused_with_its_place_and_its_pieces(tmp_path: Path) -> None:
    eight = shapely.LineString([(0, 0), (200, 200), (200, 0), (0, 200), (0, 0)])
    points = shapely.get_coordinates(shapely.line_interpolate_point(eight, np.arange(0, eight.length, 1.2)))
    with pytest.raises(OutlineError, match=r"crosses itself at lon -93\.49879.*2 pieces of ground.*figure eight"):
        as_walk(write_gpx(tmp_path / "a.gpx", [[points]]))


def test_a_lap_with_a_loop_at_a_corner_is_refused(tmp_path: Path) -> None:
    loop = circle(25.0, 130)
    with pytest.raises(OutlineError, match="figure eight"):
        as_walk(write_gpx(tmp_path / "a.gpx", [[with_loop(-loop)]]))


def test_a_side_that_was_not_walked_is_refused_with_its_ends(tmp_path: Path) -> None:
    with pytest.raises(OutlineError, match=r"it is not closed: its ends lie 20[01] m apart"):
        as_walk(write_gpx(tmp_path / "a.gpx", [[walked(SQUARE)[:500]]]))


def test_a_wide_opening_is_closed_and_told_as_a_weak_point(tmp_path: Path) -> None:
    reading = as_walk(write_gpx(tmp_path / "a.gpx", [[walked(SQUARE)[:600]]]))
    evidence, report, _ = evidence_of(reading)
    assert report.closure_m == pytest.approx(80, abs=2)
    assert report.closure_share == pytest.approx(0.1, abs=0.005)
    assert "closes with a straight side of 8" in evidence.weak_points[0]


def test_segments_are_joined_by_gaps_with_their_lengths_and_places(tmp_path: Path) -> None:
    points = walked(SQUARE)
    reading = as_walk(write_gpx(tmp_path / "a.gpx", [[points[:200], points[250:400], points[401:]]]))
    evidence, report, _ = evidence_of(reading)
    assert [gap.length_m for gap in report.gaps] == pytest.approx([51 * 1.2, 2 * 1.2], abs=0.1)
    assert "2 gaps of 64 m in all, 8% of the perimeter" in evidence.weak_points[0]
    assert ground_of(reading).area == pytest.approx(SQUARE.area, rel=1e-3)


def test_a_hole_in_the_recording_is_a_gap_too(tmp_path: Path) -> None:
    points = walked(SQUARE)
    _, report, _ = evidence_of(as_walk(write_table(tmp_path / "a.csv", np.vstack([points[:100], points[150:]]))))
    assert [gap.length_m for gap in report.gaps] == pytest.approx([51 * 1.2], abs=0.1)


def test_a_scribble_is_refused_and_takes_no_memory(tmp_path: Path) -> None:
    """Thousands of segments that nearly all cross each other."""
    points = np.random.default_rng(0).uniform(-7, 7, (12_000, 2))
    path = write_table(tmp_path / "a.csv", points)
    with pytest.raises(OutlineError, match=r"it is a scribble|encloses nothing|crosses itself"):
        as_walk(path, accuracy_m=0.1)


def test_corners_stay_corners(tmp_path: Path) -> None:
    """Derived: nothing smooths: the corners of a square walk lie within the tolerance and the step of true ones."""
    ground = ground_of(as_walk(write_gpx(tmp_path / "a.gpx", [[walked(SQUARE, 1.0)]])))
    corners = shapely.points(shapely.get_coordinates(SQUARE)[:4])
    outline = shapely.get_coordinates(ground) - shapely.get_coordinates(ground.envelope.centroid)
    assert shapely.distance(corners, shapely.LineString(outline)).max() < 0.25


def test_no_times_is_told(tmp_path: Path) -> None:
    path = write_table(tmp_path / "a.csv", walked(SQUARE))
    path.write_text(path.read_text().replace("time", "number"), encoding="utf-8")
    evidence, report, _ = evidence_of(as_walk(path))
    assert report.duration_s is None
    assert any("no times" in point for point in evidence.weak_points)


def test_a_walk_out_and_back_along_one_line_is_refused(tmp_path: Path) -> None:
    line = walked(SQUARE)[:160]
    with pytest.raises(OutlineError, match=r"encloses nothing|does not leave"):
        as_walk(write_gpx(tmp_path / "a.gpx", [[np.vstack([line, line[::-1]])]]))


@settings(max_examples=10)
@given(st.integers(0, 1000), st.sampled_from([0.1, 0.2, 1.0]))
def test_thinning_changes_the_area_by_less_than_tolerance_times_perimeter_gp09(
    tmp_path_factory: pytest.TempPathFactory, seed: int, thin_m: float
) -> None:
    """Derived (check GP09): a quarter section, 3218.688 m round: at most 3218.688 m2, 0.4971 %, at 1 m."""
    quarter = shapely.box(0, 0, QUARTER_MILE_M, QUARTER_MILE_M)
    assert 100 * 1.0 * quarter.length / quarter.area == pytest.approx(0.4971, abs=0.001)
    points = walked(quarter, 4.0)
    (error,) = drifting(np.random.default_rng(seed), 1, len(points), 0.5, 30)
    path = write_table(tmp_path_factory.getbasetemp() / "thin.csv", points + error)
    reading = as_walk(path, accuracy_m=0.5, thin_m=thin_m)
    _, report, half_m2 = evidence_of(reading)
    assert abs(report.thin_area_change_m2) <= thin_m * quarter.length
    assert report.thinned > 0
    assert half_m2 >= abs(report.thin_area_change_m2)
    plain = ground_of(as_walk(path, accuracy_m=0.5, thin_m=0.0)).area
    assert ground_of(reading).area - plain == pytest.approx(report.thin_area_change_m2, abs=0.01)
