"""Several tracks and waypoints: holes, parts, and what does not fit; the offset of a machine's antenna."""

from pathlib import Path

import numpy as np
import pytest
import shapely
from walks import SQUARE, as_walk, evidence_of, ground_of, walked, waypoint, write_gpx

from fieldgeo.errors import OutlineError

QUARTER_MILE_M = 804.672
POND = shapely.Point(10, 20).buffer(25)


def test_a_track_inside_another_is_a_hole_derived(tmp_path: Path) -> None:
    ground = ground_of(as_walk(write_gpx(tmp_path / "a.gpx", [[walked(POND)], [walked(SQUARE)]])))
    assert len(ground.geoms) == 1
    assert len(ground.geoms[0].interiors) == 1
    assert ground.area == pytest.approx(SQUARE.area - POND.area, rel=1e-3)


def test_a_track_inside_a_hole_is_ground_again(tmp_path: Path) -> None:
    island = shapely.box(0, 10, 20, 30)
    ground = ground_of(as_walk(write_gpx(tmp_path / "a.gpx", [[walked(part)] for part in (SQUARE, POND, island)])))
    assert len(ground.geoms) == 2
    assert ground.area == pytest.approx(SQUARE.area - POND.area + 400, rel=1e-3)


def test_a_track_outside_is_a_further_part(tmp_path: Path) -> None:
    ground = ground_of(
        as_walk(write_gpx(tmp_path / "a.gpx", [[walked(SQUARE)], [walked(shapely.box(150, 0, 250, 90))]]))
    )
    assert len(ground.geoms) == 2
    assert ground.area == pytest.approx(49_000, rel=1e-3)


def test_a_track_that_crosses_another_is_refused(tmp_path: Path) -> None:
    across = shapely.Point(100, 0).buffer(20)
    with pytest.raises(OutlineError, match=r"track 2 crosses track 1: 62\d m2 lie in both, at lon"):
        as_walk(write_gpx(tmp_path / "a.gpx", [[walked(SQUARE)], [walked(across)]]))


def test_tracks_that_are_all_open_are_pieces_of_one_edge(tmp_path: Path) -> None:
    points = walked(SQUARE)
    reading = as_walk(write_gpx(tmp_path / "a.gpx", [[points[:300]], [points[300:]]]))
    assert ground_of(reading).area == pytest.approx(SQUARE.area, rel=1e-3)
    assert reading.problems == ("none of its 2 tracks is closed: they are read as pieces of one edge, in order",)


def test_a_track_of_two_points_is_left_out_and_told(tmp_path: Path) -> None:
    reading = as_walk(write_gpx(tmp_path / "a.gpx", [[walked(SQUARE)], [walked(SQUARE)[:2]]]))
    assert any("track 2 has 2 points" in change.what and "left out" in change.what for change in reading.changes)
    assert ground_of(reading).area == pytest.approx(SQUARE.area, rel=1e-3)


def marks(word: str, kind: str = "") -> str:
    ring = shapely.get_coordinates(shapely.box(0, 0, 10, 10))[:4]
    return "".join(waypoint(f"{word} {number}", x, y, kind) for number, (x, y) in enumerate(ring.tolist(), start=1))


@pytest.mark.parametrize(("word", "kind"), [("pole", ""), ("Trees", ""), ("001", "pond"), ("wet hole", "")])
def test_three_waypoints_of_a_word_for_holes_are_one(tmp_path: Path, word: str, kind: str) -> None:
    reading = as_walk(write_gpx(tmp_path / "a.gpx", [[walked(SQUARE)]], marks(word, kind)))
    assert ground_of(reading).area == pytest.approx(SQUARE.area - 100, abs=1)
    assert any("hole of waypoints" in change.what and change.area_change_m2 < -99 for change in reading.changes)


@pytest.mark.parametrize(
    ("waypoints", "told"),
    [
        (waypoint("pole 3", 0, 0), "1 waypoint 'pole 3' left out: a hole needs a size"),
        (marks("WPT"), "4 waypoints 'WPT 1' left out: their name is no word"),
        (
            waypoint("pole 1", 500, 0) + waypoint("pole 2", 510, 0) + waypoint("pole 3", 510, 9),
            "do not lie inside the field",
        ),
        ("".join(waypoint("tree", x, y) for x, y in [(0, 0), (9, 9), (9, 0), (0, 9)]), "cross each other"),
        ('<wpt lat="north" lon="1"/>', "1 waypoints without a place"),
    ],
)
def test_other_waypoints_are_left_out_with_the_next_step(tmp_path: Path, waypoints: str, told: str) -> None:
    reading = as_walk(write_gpx(tmp_path / "a.gpx", [[walked(SQUARE)]], waypoints))
    assert any(told in problem for problem in reading.problems)
    assert ground_of(reading).area == pytest.approx(SQUARE.area, rel=1e-3)


@pytest.mark.parametrize(("offset_m", "sign"), [(0.5, 1), (-0.5, -1)])
def test_an_offset_with_mitred_corners_gp04(tmp_path: Path, offset_m: float, sign: int) -> None:
    """Derived (check GP04): a quarter section walked half a metre off: dA = P o + 4 o^2 = 1610.344 m2, 0.2487 %."""
    quarter = shapely.box(0, 0, QUARTER_MILE_M, QUARTER_MILE_M)
    corners = walked(quarter, QUARTER_MILE_M / 400)
    path = write_gpx(tmp_path / "a.gpx", [[corners]])
    reading = as_walk(path, offset_m=offset_m, accuracy_m=0.02)
    _, report, _ = evidence_of(reading)
    expected = quarter.length * offset_m + 4 * offset_m**2
    if sign > 0:
        assert expected == pytest.approx(1610.344, abs=0.001)
        assert 100 * report.offset_area_change_m2 / quarter.area == pytest.approx(0.2487, abs=0.001)
    assert report.offset_area_change_m2 == pytest.approx(expected, abs=0.01)
    assert ground_of(reading).area == pytest.approx(quarter.area + expected, rel=1e-6)
    assert len(shapely.get_coordinates(ground_of(reading))) == 5


def test_holes_go_the_other_way_derived(tmp_path: Path) -> None:
    """Derived: the machine drove on the field's side of both: a hole of 30 m x 40 m is 24 m x 34 m, the field grows."""
    hole = shapely.box(0, 0, 30, 40)
    path = write_gpx(tmp_path / "a.gpx", [[walked(SQUARE)], [walked(hole)]])
    ground = ground_of(as_walk(path, offset_m=3.0, thin_m=0.0))
    assert shapely.Polygon(ground.geoms[0].interiors[0]).area == pytest.approx(24 * 34, abs=3)
    assert shapely.Polygon(ground.geoms[0].exterior).area == pytest.approx(206**2, abs=10)


@pytest.mark.parametrize(
    ("offset_m", "message"), [(-100.0, "leaves nothing of track 1"), (30.0, "leaves 0 of 1 holes")]
)
def test_an_offset_that_destroys_a_ring_is_refused(tmp_path: Path, offset_m: float, message: str) -> None:
    path = write_gpx(tmp_path / "a.gpx", [[walked(SQUARE)], [walked(POND)]])
    with pytest.raises(OutlineError, match=message):
        as_walk(path, offset_m=offset_m)


def test_an_offset_that_breaks_a_ring_is_refused(tmp_path: Path) -> None:
    bone = shapely.union_all([shapely.box(0, 0, 80, 80), shapely.box(80, 35, 140, 45), shapely.box(140, 0, 220, 80)])
    with pytest.raises(OutlineError, match="breaks the track into 2 pieces"):
        as_walk(write_gpx(tmp_path / "a.gpx", [[walked(bone)]]), offset_m=-6.0)


def test_all_faults_are_told_at_once(tmp_path: Path) -> None:
    eight = shapely.LineString([(500, 0), (700, 200), (700, 0), (500, 200), (500, 0)])
    crossed = shapely.get_coordinates(shapely.line_interpolate_point(eight, np.arange(0, eight.length, 1.2)))
    open_track = walked(shapely.box(0, 300, 200, 500))[:400]
    with pytest.raises(OutlineError) as caught:
        as_walk(write_gpx(tmp_path / "a.gpx", [[crossed], [open_track], [walked(SQUARE)]]))
    assert len(caught.value.problems) == 2
    assert caught.value.problems[0].startswith("track 1 crosses itself")
    assert caught.value.problems[1].startswith("track 2 is not closed")
