"""Corners of headland rounds: the two bars laid out by hand, and what they leave, work twice and spill."""

from math import cos, pi, radians, sin, tan

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from fieldgeo.layout.corners import (
    RUN_ON_RAD,
    SLIGHT_RAD,
    STEERED_SHARE,
    corner_reach,
    sharp_corners,
    turn_angles,
    turns_at_scale,
)
from fieldgeo.layout.strips import Finish

LONG = 400.0
# The overlay engine loses shapes that share edges up to float noise; on a fine grid it does not.
GRID_M = 1e-9


def corner(turn: float, width: float, finish: Finish) -> tuple[shapely.Polygon, shapely.Polygon, shapely.Polygon]:
    """Return the first bar, the next bar and the ground at a corner of the outer edge in the origin.

    The outer edge comes along +x and turns by an angle; the field is on its left. The path runs half a width inside.
    """
    along = np.array([cos(turn), sin(turn)])
    left = np.array([-sin(turn), cos(turn)])
    path_corner = np.array([-np.sign(turn) * width / 2 * tan(abs(turn) / 2), width / 2])
    reach = corner_reach(turn, width, finish)
    end = path_corner[0] + reach.first_end_m
    first = shapely.box(-LONG, 0, end, width)
    start = path_corner + reach.next_start_m * along
    far = path_corner + LONG * along
    half = left * width / 2
    following = shapely.Polygon([start - half, far - half, far + half, start + half])
    back = np.array([-1.0, 0.0])
    wedge = shapely.Polygon(1200.0 * np.array([[0, 0], along, along + back, back]))
    ground = wedge if turn > 0 else shapely.difference(shapely.box(-1200, -1200, 1200, 1200), wedge, grid_size=GRID_M)
    return first, following, ground


def strip(turn: float, width: float) -> shapely.Geometry:
    """Return the ground within a width of the outer edge near the corner, where sides meet (mitred round a notch)."""
    reach = 6 * width
    along = np.array([cos(turn), sin(turn)])
    edge = shapely.LineString([(-reach, 0), (0, 0), reach * along])
    return shapely.buffer(edge, width, cap_style="flat", join_style="mitre", mitre_limit=50.0, single_sided=True)


@given(degrees=st.floats(3, 150), width=st.floats(2, 20))
def test_cover_leaves_no_ground_at_a_corner_that_points_out(degrees: float, width: float) -> None:
    turn = radians(degrees)
    first, following, ground = corner(turn, width, "cover")
    wedge = shapely.intersection(strip(turn, width), ground, grid_size=GRID_M)
    left = shapely.difference(
        wedge, shapely.union(first, following, grid_size=GRID_M).buffer(1e-7, join_style="mitre"), grid_size=GRID_M
    )
    assert left.area == pytest.approx(0.0, abs=1e-6)


@given(degrees=st.floats(3, 90), width=st.floats(2, 20))
def test_cover_leaves_no_ground_at_a_notch(degrees: float, width: float) -> None:
    # Up to a right angle; beyond it what is left goes to the body (tested with whole headlands).
    turn = -radians(degrees)
    first, following, _ = corner(turn, width, "cover")
    left = shapely.difference(
        strip(turn, width),
        shapely.union(first, following, grid_size=GRID_M).buffer(1e-7, join_style="mitre"),
        grid_size=GRID_M,
    )
    assert left.area == pytest.approx(0.0, abs=1e-6)


@given(degrees=st.floats(3, 150), width=st.floats(2, 20), sign=st.sampled_from([1, -1]))
def test_clean_works_no_ground_twice_and_none_outside(degrees: float, width: float, sign: int) -> None:
    first, following, ground = corner(sign * radians(degrees), width, "clean")
    assert shapely.intersection(first, following, grid_size=GRID_M).area == pytest.approx(0.0, abs=1e-6)
    # On the far side the bars may stick out of the wedge drawn here, so look near the corner only.
    near = shapely.Point(0, 0).buffer(5 * width)
    outside = shapely.difference(
        shapely.intersection(shapely.union(first, following, grid_size=GRID_M), near, grid_size=GRID_M),
        ground.buffer(1e-9),
        grid_size=GRID_M,
    )
    assert outside.area == pytest.approx(0.0, abs=1e-6)


def swept_again(turn: float, width: float) -> tuple[float, float]:
    """Return overlap and spill of `cover` at a corner that points out, in closed form.

    Derived. Up to 60 degrees both sides reach the corner of the outer edge: the kite between their ends is worked
    twice, w^2 tan(t/2). Above, the first side runs on (t < 90) or both ends lean (t > 90): one triangle of legs w and
    w |cot t| is worked twice and one like it lies outside.
    """
    if turn <= RUN_ON_RAD:
        return width**2 * tan(turn / 2), 0.0
    triangle = width**2 * abs(cos(turn) / sin(turn)) / 2
    return triangle, triangle


@pytest.mark.parametrize("degrees", [10, 30, 45, 59.9, 60.1, 72, 80, 90, 91, 100, 120, 135])
def test_cover_at_a_corner_that_points_out_derived(degrees: float) -> None:
    width = 9.144
    first, following, ground = corner(radians(degrees), width, "cover")
    overlap, spill = swept_again(radians(degrees), width)
    assert shapely.intersection(
        shapely.intersection(first, following, grid_size=GRID_M), ground, grid_size=GRID_M
    ).area == pytest.approx(overlap, abs=1e-6)
    outside = (
        shapely.difference(first, ground, grid_size=GRID_M).area
        + shapely.difference(following, ground, grid_size=GRID_M).area
    )
    assert outside == pytest.approx(spill, abs=1e-6)


@pytest.mark.parametrize("degrees", [10, 30, 60, 80, 90])
def test_clean_at_a_corner_that_points_out_derived(degrees: float) -> None:
    # Left: the right triangle between the end of the first side and the start of the next, legs w sin t and w cos t,
    # and the one between the inner edges, legs w (1 - cos t) and w (sin t - tan(t/2)).
    turn, width = radians(degrees), 9.144
    first, following, ground = corner(turn, width, "clean")
    left = shapely.difference(
        shapely.intersection(strip(turn, width), ground, grid_size=GRID_M),
        shapely.union(first, following, grid_size=GRID_M),
        grid_size=GRID_M,
    ).area
    expected = sin(turn) * cos(turn) + (1 - cos(turn)) * (sin(turn) - tan(turn / 2))
    assert left == pytest.approx(width**2 * expected / 2, abs=1e-6)


def test_square_corners_fit_without_overlap_or_skip_derived() -> None:
    for turn in (pi / 2, -pi / 2):
        first, following, _ = corner(turn, 10.0, "cover")
        assert shapely.intersection(first, following, grid_size=GRID_M).area == pytest.approx(0.0, abs=1e-9)


def test_a_right_angle_a_hair_off_changes_nothing() -> None:
    for turn in (pi / 2 - 1e-9, pi / 2, pi / 2 + 1e-9):
        reach = corner_reach(turn, 10.0, "cover")
        assert reach == pytest.approx((5.0, 5.0), abs=1e-6)


@given(degrees=st.floats(-150, 150).filter(lambda t: abs(t) > 3), width=st.floats(2, 20))
def test_half_stands_half_way(degrees: float, width: float) -> None:
    cover, clean, half = (corner_reach(radians(degrees), width, rule) for rule in ("cover", "clean", "half"))
    assert half.first_end_m == pytest.approx((cover.first_end_m + clean.first_end_m) / 2)
    assert half.next_start_m == pytest.approx((cover.next_start_m + clean.next_start_m) / 2)
    # The path's own corner is half a width from the outer edge: clean never lies beyond cover.
    assert clean.first_end_m <= cover.first_end_m + 1e-9


@given(degrees=st.floats(-150, 150).filter(lambda t: abs(t) > 3), width=st.floats(2, 20))
def test_reach_grows_with_the_width(degrees: float, width: float) -> None:
    one, many = corner_reach(radians(degrees), 1.0, "cover"), corner_reach(radians(degrees), width, "cover")
    assert np.array(many) == pytest.approx(width * np.array(one), rel=1e-9, abs=1e-9)


@pytest.mark.parametrize("finish", ["cover", "clean", "half"])
@pytest.mark.parametrize("turn", [pi, pi - 1e-12, 3.1, -3.1, 1e-12 - pi])
def test_path_turned_back_on_itself_reaches_no_further_than_some_widths(turn: float, finish: Finish) -> None:
    reach = corner_reach(turn, 10.0, finish)
    assert np.abs(reach).max() <= 100.0 + 1e-9


def regular(corners: int, radius: float) -> np.ndarray:
    at = np.arange(corners) * 2 * pi / corners
    return np.column_stack([radius * np.cos(at), radius * np.sin(at)])


@pytest.mark.parametrize("corners", [3, 4, 5, 6, 12, 100])
def test_turns_of_a_regular_polygon_derived(corners: int) -> None:
    ring = regular(corners, 200.0)
    assert turn_angles(ring) == pytest.approx(2 * pi / corners, abs=1e-9)
    assert turn_angles(ring[::-1]) == pytest.approx(-2 * pi / corners, abs=1e-9)
    # Chords to a quarter of a side before and after a corner turn by the corner's own angle.
    assert turns_at_scale(ring, np.hypot(*(ring[1] - ring[0])) / 4) == pytest.approx(2 * pi / corners, abs=1e-9)


def test_corner_is_steered_when_the_arc_cuts_little_derived() -> None:
    # r (1 / cos(t/2) - 1) at 30 degrees is 0.0353 r: below 0.05 x 9.144 = 0.457 m for r = 12, above for r = 14.
    ring, width = regular(12, 300.0), 9.144
    assert 12 * (1 / cos(pi / 12) - 1) < STEERED_SHARE * width < 14 * (1 / cos(pi / 12) - 1)
    assert len(sharp_corners(ring, 12.0, width)) == 0
    assert sharp_corners(ring, 14.0, width).tolist() == list(range(12))


def test_corner_whose_arc_does_not_fit_into_its_sides_is_sharp_derived() -> None:
    # Tangent of the arc: r tan(t/2) = 12 x 0.268 = 3.2 m; sides of 6 m have only 3 m for it. But the wiggle must show
    # at one and a half widths, so a lone pair of bends 6 m apart turns by 60 degrees there.
    ring = np.array([[0, 0], [200, 0], [200 + 6 * cos(pi / 6), 3], [303, 180.0], [0, 300]])
    assert {1, 2} & set(sharp_corners(ring, 12.0, 9.144).tolist())


def test_creek_bends_are_no_corners() -> None:
    # A saw-tooth of 0.5 m on a side: each tooth turns by 53 degrees, none shows at one and a half widths.
    x = np.arange(0, 200.0, 2.0)
    creek = np.column_stack([x, np.where(np.arange(len(x)) % 2 == 0, 0.0, 0.5)])
    ring = np.vstack([creek, [[200, 0], [200, 150], [0, 150]]])
    sharp = sharp_corners(ring, 6.0, 9.144)
    assert len(sharp) == 4
    assert (np.abs(turn_angles(ring))[1:99] > SLIGHT_RAD).all()


def test_of_corners_within_a_width_the_sharpest_counts() -> None:
    # A blunted corner: turns of 60 and 30 degrees 4 m apart, a width of 9 m.
    ring = np.array([[0, 0], [200, 0], [202, 2 * 3**0.5], [202, 200.0], [0, 200]])
    assert sharp_corners(ring, 6.0, 9.144).tolist() == [0, 1, 3, 4]
