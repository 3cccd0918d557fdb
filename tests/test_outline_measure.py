"""Measures of outlines against closed forms. Azimuths are clockwise from north here; some references give headings
counter-clockwise from east: azimuth = 90 - heading, modulo 180.
"""

import json
from dataclasses import asdict
from math import ceil, pi, sqrt
from pathlib import Path

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.affinity import rotate, scale, translate

from fieldgeo.outline import measure, read_outline, read_outlines
from fieldgeo.outline.field import field_from_shape
from fieldgeo.outline.measure import (
    convexity,
    corners,
    extent_across_m,
    holes,
    isoperimetric,
    longest_side,
    mean_pass_length_m,
    min_width,
    rectangularity,
)

DATA = Path(__file__).parent / "data"
TRIANGLE = shapely.Polygon([(0, 0), (400, 0), (0, 300)])
# Built so that the longest side is the wrong one to follow.
BOWED = shapely.Polygon([(0, 0), (300, -10), (600, 0), (600, 350), (300, 360), (0, 350)])


def turned(heading_deg):
    return (90 - heading_deg) % 180


def test_min_width_of_triangle_derived():
    # 2 x area / hypotenuse = 120000 / 500 = 240 m; the hypotenuse heads 143.1301 degrees counter-clockwise from east.
    width_m, direction_deg = min_width(TRIANGLE)
    assert width_m == pytest.approx(240.0, abs=1e-9)
    assert direction_deg == pytest.approx(turned(143.1301), abs=1e-4)
    assert ceil(round(width_m / 12, 9)) == 20  # passes of a 12 m tool: an exact fit


def test_longest_side_is_the_wrong_direction_derived():
    length_m, direction_deg = longest_side(BOWED)
    assert (length_m, direction_deg) == pytest.approx((350.0, turned(90.0)), abs=1e-9)
    assert ceil(extent_across_m(BOWED, direction_deg) / 12) == 50
    width_m, best_deg = min_width(BOWED)
    assert width_m == pytest.approx(369.7946, abs=1e-4)
    assert ceil(width_m / 12) == 31
    assert extent_across_m(BOWED, best_deg) == pytest.approx(width_m)


def test_min_width_of_equilateral_triangle_derived():
    shape = shapely.Polygon([(0, 0), (200, 0), (100, 100 * sqrt(3))])
    assert min_width(shape)[0] == pytest.approx(173.2051, abs=1e-4)


def test_min_width_of_rectangle_derived():
    shape = shapely.box(0, 0, 805, 402.3)
    assert min_width(shape) == pytest.approx((402.3, 90.0))
    passes = ceil(402.3 / 12.192)
    assert passes == 33
    assert passes * 12.192 - 402.3 == pytest.approx(0.036, abs=1e-6)


# Derived: 4 pi A / P^2, A / smallest rectangle, A / hull.
SHAPES = [
    pytest.param(shapely.box(0, 0, 400, 400), 0.7854, 1.0, 1.0, id="square"),
    pytest.param(shapely.box(0, 0, 800, 400), 0.69813, 1.0, 1.0, id="rectangle-2-1"),
    pytest.param(TRIANGLE, 0.5236, 0.5, 1.0, id="right-triangle"),
    # L of three 100 m squares: A 30000, P 800, hull 35000, smallest rectangle 40000.
    pytest.param(
        shapely.Polygon([(0, 0), (200, 0), (200, 100), (100, 100), (100, 200), (0, 200)]),
        4 * pi * 30000 / 800**2,
        0.75,
        30000 / 35000,
        id="L",
    ),
]


@pytest.mark.parametrize(("shape", "round_index", "rectangle_index", "hull_index"), SHAPES)
def test_shape_indices_derived(shape, round_index, rectangle_index, hull_index):
    assert isoperimetric(shape) == pytest.approx(round_index, abs=1e-4)
    assert rectangularity(shape) == pytest.approx(rectangle_index, abs=1e-9)
    assert convexity(shape) == pytest.approx(hull_index, abs=1e-9)
    # The square index P / (4 sqrt A) of the same reference follows from the isoperimetric one.
    assert shape.length / (4 * sqrt(shape.area)) == pytest.approx(sqrt(pi / 4 / isoperimetric(shape)))


def test_smallest_rectangle_may_lie_askew_derived():
    # A thin rhombus with diagonals of 400 and 100 m: area 20000. The upright box has twice that; the box flush with a
    # side is smaller, here by projecting the four corners.
    shape = shapely.Polygon([(-200, 0), (0, -50), (200, 0), (0, 50)])
    along = np.array([200, 50]) / np.hypot(200, 50)
    points = shapely.get_coordinates(shape)
    box_m2 = np.ptp(points @ along) * np.ptp(points @ np.array([-along[1], along[0]]))
    assert rectangularity(shape) == pytest.approx(20000 / box_m2)
    assert box_m2 < 400 * 100


def test_measures_of_a_field_with_a_hole_derived():
    field = field_from_shape(shapely.box(0, 0, 800, 400).difference(shapely.box(100, 100, 200, 150)))
    result = measure(field)
    assert result.area_m2 == 800 * 400 - 100 * 50
    assert result.perimeter_m == 2400 + 300
    assert (result.corners, result.parts, result.holes) == (8, 1, 1)
    assert result.convexity == pytest.approx(315 / 320)
    assert (result.longest_side_m, result.longest_side_direction_deg) == (800, 90)
    assert (result.min_width_m, result.min_width_direction_deg) == (400, 90)
    assert result.mean_pass_length_m == pytest.approx(315_000 / 400)
    assert measure(field.shape) == result


def test_parts_are_counted_and_spanned_together_derived():
    field = field_from_shape(shapely.MultiPolygon([shapely.box(0, 0, 100, 400), shapely.box(120, 0, 300, 400)]))
    result = measure(field)
    assert (result.corners, result.parts, result.holes) == (8, 2, 0)
    assert (result.min_width_m, result.min_width_direction_deg) == (300, 0)
    assert result.convexity == pytest.approx(280 / 300)


@pytest.mark.parametrize("direction_deg", [0, 30, 90, 135, 179.9])
def test_mean_pass_length_of_triangle_derived(direction_deg):
    # Lines across a triangle: the mean is half of the longest for every direction that has a side flush, and
    # area / extent for all.
    azimuth = np.radians(direction_deg)
    across = shapely.get_coordinates(TRIANGLE) @ [np.cos(azimuth), -np.sin(azimuth)]
    offsets = np.linspace(across.min(), across.max(), 4001)[1:-1]
    middle = np.outer(offsets, [np.cos(azimuth), -np.sin(azimuth)])
    ahead = np.array([np.sin(azimuth), np.cos(azimuth)]) * 1000
    lines = shapely.linestrings(np.stack([middle - ahead, middle + ahead], axis=1))
    lengths_m = shapely.length(shapely.intersection(lines, TRIANGLE))
    assert mean_pass_length_m(TRIANGLE, direction_deg) == pytest.approx(lengths_m.mean(), rel=1e-3)


def test_points_on_a_straight_side_are_no_corners_derived():
    square = shapely.segmentize(shapely.box(0, 0, 400, 400), 7.0)
    assert corners(square) == 4
    assert longest_side(square) == pytest.approx((400.0, 0.0))
    rng = np.random.default_rng(3)
    points = shapely.get_coordinates(square)[:-1]
    shaky = shapely.Polygon(points + rng.uniform(-0.004, 0.004, points.shape))
    assert corners(shaky) == 4  # positions rounded to 7 decimals of a degree


def test_ring_may_begin_in_the_middle_of_a_side_derived():
    ring = [(200, 0), (400, 0), (400, 300), (0, 300), (0, 0)]
    assert corners(shapely.Polygon(ring)) == 4
    assert longest_side(shapely.Polygon(ring)) == pytest.approx((400.0, 90.0))


def test_curves_keep_their_corners_derived():
    # A circle of 400 m radius with 64 points: each point is 0.48 m off the line between its neighbours.
    circle = shapely.Point(0, 0).buffer(400, quad_segs=16)
    assert corners(circle) == 64
    # With 10000 points the curve is followed to 2 cm. A chord of length c lies r - sqrt(r^2 - c^2 / 4) = 2 cm inside
    # for c = 8 m, so the fewest corners would be 314; the method takes halves, between 314 and 628.
    dense = shapely.Point(0, 0).buffer(400, quad_segs=2500)
    assert 314 <= corners(dense) <= 628
    assert isoperimetric(dense) == pytest.approx(1.0, abs=1e-6)
    assert min_width(dense)[0] == pytest.approx(800.0, rel=1e-6)


def test_long_sides_with_points_between_keep_an_honest_corner_count(tmp_path):
    path = tmp_path / "long.geojson"
    ring = [[-93.1, 42.0], [-93.0, 42.0], [-93.0, 42.03], [-93.1, 42.03], [-93.1, 42.0]]
    path.write_text(json.dumps({"type": "Polygon", "coordinates": [ring]}))
    field = read_outline(path)
    assert shapely.get_num_coordinates(field.shape) > 5
    assert corners(field.shape) == 4
    # 0.1 degree of longitude at latitude 42 is 8285 m (from the length of a degree, 82850.762 m, derived).
    assert longest_side(field.shape)[0] == pytest.approx(8285.08, abs=0.05)


def test_measures_can_be_written_as_json():
    assert json.loads(json.dumps(asdict(measure(TRIANGLE)), allow_nan=False))["corners"] == 3


POINTS = st.lists(st.tuples(st.integers(-60, 60), st.integers(-60, 60)), min_size=3, max_size=25)


@settings(max_examples=150, deadline=None)
@given(points=POINTS)
def test_boxes_equal_projecting_every_corner_on_every_side(points):
    hull = shapely.MultiPoint(points).convex_hull
    if not isinstance(hull, shapely.Polygon):
        return
    ring = shapely.get_coordinates(hull)
    across, areas = [], []
    for side in np.diff(ring, axis=0):
        along = side / np.hypot(*side)
        across.append(np.ptp(ring @ np.array([-along[1], along[0]])))
        areas.append(across[-1] * np.ptp(ring @ along))
    assert min_width(hull)[0] == pytest.approx(min(across))
    assert rectangularity(hull) == pytest.approx(hull.area / min(areas))
    # No direction at all is narrower.
    assert all(extent_across_m(hull, azimuth) >= min_width(hull)[0] - 1e-9 for azimuth in np.arange(0, 180, 7.3))


@settings(max_examples=50, deadline=None)
@given(points=POINTS, turn_deg=st.floats(0, 360), east_m=st.floats(-500, 500))
def test_turning_moving_and_mirroring_change_no_figure(points, turn_deg, east_m):
    hull = shapely.MultiPoint(points).convex_hull
    if not isinstance(hull, shapely.Polygon):
        return
    shape = scale(hull, 10, 10, origin=(0, 0))
    before = measure(shape)
    for moved in (translate(rotate(shape, turn_deg, origin=(0, 0)), east_m, 3), scale(shape, -1, 1, origin=(0, 0))):
        after = measure(moved)
        for name in ("area_m2", "perimeter_m", "convexity", "isoperimetric", "rectangularity", "min_width_m"):
            assert getattr(after, name) == pytest.approx(getattr(before, name), rel=1e-7)
        assert after.longest_side_m == pytest.approx(before.longest_side_m, rel=1e-7)
        assert after.corners == before.corners


def test_directions_are_within_0_and_180():
    shape = shapely.box(0, 0, 100, 1000)
    for turn_deg in (0, 1e-12, -1e-12, 180, 90, 45):
        for direction_deg in (longest_side(rotate(shape, turn_deg))[1], min_width(rotate(shape, turn_deg))[1]):
            assert 0 <= direction_deg < 180
    assert min_width(rotate(shape, 1e-12))[1] == 0.0


def test_real_parcels_are_measured_and_sixteen_are_concave():
    # Published with the data: 129 parcels, 4 to 46 corners, 16 of them with less than 0.8 of the area of their hull.
    fields = read_outlines(DATA / "parcels_fr.geojson")
    results = [measure(field) for field in fields]
    assert len(results) == 129
    assert sum(result.convexity < 0.8 for result in results) == 16
    assert all(3 <= result.corners <= 46 and result.holes == 0 for result in results)
    assert all(result.min_width_m * result.mean_pass_length_m == pytest.approx(result.area_m2) for result in results)


def test_cost_of_measuring_grows_gently_with_corners():
    # Not timed: ten thousand corners against each other would need 800 MB, and this runs within the memory of a test.
    circle = shapely.Point(0, 0).buffer(400, quad_segs=10_000)
    assert holes(circle) == 0
    assert min_width(circle)[0] == pytest.approx(800.0, rel=1e-6)
