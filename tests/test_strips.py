"""The strip engine against an independent oracle: bands cut out of the shape one by one with shapely."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapes import Floats, outlines, to_work_shape, work_edges

from fieldgeo.layout.strips import (
    FIT_TOLERANCE_M,
    NOISE_M,
    RUNS_BY_FINISH,
    Runs,
    areas_in_boxes,
    centre_runs,
    clean_runs,
    cover_runs,
)

# Where shapely lays a point of a cut: float noise of a few hundred metres with room to spare.
CLOSE_M = 1e-6
SQUARE = np.array([[0.0, 0, 100, 0], [100, 0, 100, 60], [100, 60, 0, 60], [0, 60, 0, 0]])


def stretches(runs: Runs, band: int) -> Floats:
    chosen = runs.band == band
    return np.column_stack([runs.start_m[chosen], runs.end_m[chosen]])


def merged(intervals: Floats, gap: float = 2 * NOISE_M) -> Floats:
    """Return intervals sorted and joined where they touch."""
    joined: list[list[float]] = []
    for start, end in sorted(intervals.tolist()):
        if joined and start <= joined[-1][1] + gap:
            joined[-1][1] = max(joined[-1][1], end)
        else:
            joined.append([start, end])
    return np.array(joined).reshape(-1, 2)


def shadows(shape: shapely.Geometry) -> Floats:
    """Return the extent along u of every polygon or line in a shape, merged."""
    parts = shapely.get_parts(shape)
    parts = parts[shapely.get_dimensions(parts) == shapely.get_dimensions(shape)]
    bounds = shapely.bounds(parts).reshape(-1, 4)
    return merged(bounds[:, [0, 2]])


def oracle_cover(shape: shapely.Geometry, low: float, high: float) -> Floats:
    strip = shapely.box(-2000, low + NOISE_M, 2000, high - NOISE_M)
    return shadows(shapely.MultiPolygon(polygons(shapely.intersection(shape, strip, grid_size=1e-9))))


def oracle_clean(shape: shapely.Geometry, low: float, high: float) -> Floats:
    margin = FIT_TOLERANCE_M / 2
    strip = shapely.box(-2000, low + margin, 2000, high - margin)
    off = shadows(shapely.MultiPolygon(polygons(shapely.difference(strip, shape, grid_size=1e-9))))
    return np.column_stack([off[:-1, 1], off[1:, 0]])


def oracle_centre(shape: shapely.Geometry, low: float, high: float, shift: float = 0.0) -> Floats:
    centre = (low + high) / 2 + shift
    line = shapely.LineString([(-2000, centre), (2000, centre)])
    return merged(
        np.array([part.coords[i][0] for part in lines(shape.intersection(line)) for i in (0, -1)]).reshape(-1, 2)
    )


def lines(shape: shapely.Geometry) -> list[shapely.LineString]:
    return [part for part in shapely.get_parts(shape) if isinstance(part, shapely.LineString) and part.length > 0]


def polygons(shape: shapely.Geometry) -> list[shapely.Polygon]:
    return [part for part in shapely.get_parts(shape) if isinstance(part, shapely.Polygon) and part.area > 0]


ORACLES = {"cover": oracle_cover, "clean": oracle_clean, "half": oracle_centre}


def long_enough(intervals: Floats) -> Floats:
    """Return the stretches longer than the noise in which the two ways may differ."""
    return intervals[intervals[:, 1] - intervals[:, 0] > 10 * CLOSE_M]


@pytest.mark.parametrize("finish", ["cover", "clean", "half"])
@settings(max_examples=60)
@given(
    shape=outlines(),
    direction_deg=st.one_of(st.sampled_from([0.0, 90.0, 37.0]), st.floats(0, 180)),
    height=st.floats(1.0, 40.0),
    pitch_share=st.floats(0.4, 1.0),
    start=st.floats(-1.0, 0.0),
)
def test_runs_equal_strip_by_strip_oracle(
    finish: str, shape: shapely.MultiPolygon, direction_deg: float, height: float, pitch_share: float, start: float
) -> None:
    work = to_work_shape(shape, direction_deg)
    bottom, top = work.bounds[1], work.bounds[3]
    height = max(height, (top - bottom) / 15)
    lows = np.arange(bottom + start * height, top, height * pitch_share)
    runs = RUNS_BY_FINISH[finish](work_edges(shape, direction_deg), lows, lows + height)
    assert (np.diff(runs.band) >= 0).all()
    for band, low in enumerate(lows.tolist()):
        ours = long_enough(stretches(runs, band))
        theirs = long_enough(ORACLES[finish](work, low, low + height))
        if finish == "half" and (len(ours) != len(theirs) or not np.allclose(ours, theirs, atol=1e-4)):
            # A centre line along an edge may be taken as either side of it.
            sides = [long_enough(oracle_centre(work, low, low + height, shift)) for shift in (-1e-9, 1e-9)]
            theirs = next(
                (side for side in sides if len(side) == len(ours) and np.allclose(side, ours, atol=1e-4)), theirs
            )
        # A stretch that only grazes the band may show up a hair longer than the noise on one side alone.
        assert len(ours) == len(theirs), (band, ours, theirs)
        # On a slope of one in a million the strip's limits, moved by the noise, move the ends; nothing is that flat
        # here.
        assert ours == pytest.approx(theirs, abs=1e-4), (band, ours, theirs)


@given(shape=outlines(), direction_deg=st.floats(0, 180), seed=st.integers(0, 999))
def test_areas_in_boxes_equal_clipped_areas(shape: shapely.MultiPolygon, direction_deg: float, seed: int) -> None:
    work = to_work_shape(shape, direction_deg)
    rng = np.random.default_rng(seed)
    low_u, low_v, high_u, high_v = work.bounds
    # Boxes of every height on every other, some far outside, some sharing a band.
    u = np.sort(rng.uniform(low_u - 30, high_u + 30, (40, 2)), axis=1)
    v = np.sort(rng.uniform(low_v - 30, high_v + 30, (40, 2)), axis=1)
    v[20:] = v[:20]
    boxes = np.column_stack([u[:, 0], v[:, 0], u[:, 1], v[:, 1]])
    expected = shapely.area(shapely.intersection(work, shapely.box(*boxes.T)))
    assert areas_in_boxes(work_edges(shape, direction_deg), boxes) == pytest.approx(expected, abs=1e-6)


@given(shape=outlines(), direction_deg=st.floats(0, 180))
def test_area_in_one_box_round_all_is_the_area(shape: shapely.MultiPolygon, direction_deg: float) -> None:
    box = np.array([[-3000.0, -3000, 3000, 3000]])
    area = areas_in_boxes(work_edges(shape, direction_deg), box)
    assert area[0] == pytest.approx(shape.area, rel=1e-12)


def test_area_in_boxes_of_rectangle_derived() -> None:
    # 100 x 60 ground: a box half out, a box on the lower edge, a box inside, a box outside, one of no height.
    boxes = np.array([[50.0, 10, 150, 20], [0, -5, 100, 5], [10, 10, 20, 20], [200, 0, 300, 60], [0, 10, 100, 10]])
    assert areas_in_boxes(SQUARE, boxes).tolist() == [500.0, 500.0, 100.0, 0.0, 0.0]


def test_no_boxes_and_no_edges_have_no_area() -> None:
    assert areas_in_boxes(SQUARE, np.empty((0, 4))).shape == (0,)
    assert areas_in_boxes(np.empty((0, 4)), np.array([[0.0, 0, 1, 1]])).tolist() == [0.0]


@pytest.mark.parametrize("finish", ["cover", "clean", "half"])
def test_exact_fit_horizontal_edges_on_band_limits_derived(finish: str) -> None:
    # Six bands of 10 m fill the 60 m exactly: each runs from 0 to 100.
    lows = np.arange(6) * 10.0
    runs = RUNS_BY_FINISH[finish](SQUARE, lows, lows + 10.0)
    assert runs.band.tolist() == list(range(6))
    assert runs.start_m.tolist() == [0.0] * 6
    assert runs.end_m.tolist() == [100.0] * 6


@pytest.mark.parametrize("finish", ["cover", "clean", "half"])
def test_bands_beside_the_ground_are_empty(finish: str) -> None:
    lows = np.array([-10.0, 60.0])
    assert len(RUNS_BY_FINISH[finish](SQUARE, lows, lows + 10.0).band) == 0


def test_step_on_band_limit_does_not_leak_into_the_next_band() -> None:
    # An L: 100 wide up to v = 20, then 40 wide. The step lies on the limit of the second and third bands.
    shape = shapely.Polygon([(0, 0), (100, 0), (100, 20), (40, 20), (40, 60), (0, 60)])
    lows = np.arange(6) * 10.0
    for runs_of in (cover_runs, clean_runs, centre_runs):
        runs = runs_of(work_edges(shape, 90.0), lows, lows + 10.0)  # direction 90: u is x, v is y
        assert runs.end_m == pytest.approx([100, 100, 40, 40, 40, 40], abs=1e-9)


def test_step_inside_a_band_tells_the_rules_apart_derived() -> None:
    # The step at v = 25 lies in the band 20..30: cover runs the longer, clean the shorter, half by the centre at 25.
    shape = shapely.Polygon([(0, 0), (100, 0), (100, 25.5), (40, 25.5), (40, 60), (0, 60)])
    edges, low, high = work_edges(shape, 90.0), np.array([20.0]), np.array([30.0])
    assert cover_runs(edges, low, high).end_m == pytest.approx([100.0], abs=1e-9)
    assert clean_runs(edges, low, high).end_m == pytest.approx([40.0], abs=1e-9)
    assert centre_runs(edges, low, high).end_m == pytest.approx([100.0], abs=1e-9)


def test_slant_end_derived() -> None:
    # Right end on x = 100 + y: the band 0..10 is partly on from 100 to 110, its centre ends at 105.
    shape = shapely.Polygon([(0, 0), (100, 0), (160, 60), (0, 60)])
    edges, low, high = work_edges(shape, 90.0), np.array([0.0]), np.array([10.0])
    assert cover_runs(edges, low, high).end_m == pytest.approx([110.0], abs=1e-6)
    assert clean_runs(edges, low, high).end_m == pytest.approx([100.0 + FIT_TOLERANCE_M / 2], abs=1e-9)
    assert centre_runs(edges, low, high).end_m == pytest.approx([105.0], abs=1e-9)


def test_clean_passes_over_what_no_driver_can_hold_derived() -> None:
    # A dent of 4 mm in the lower edge is under half of the tolerance of 10 mm, one of 6 mm is not.
    for depth, expected in ((0.004, 1), (0.006, 2)):
        shape = shapely.Polygon([(0, 0), (49, 0), (50, depth), (51, 0), (100, 0), (100, 60), (0, 60)])
        runs = clean_runs(work_edges(shape, 90.0), np.array([0.0]), np.array([10.0]))
        assert len(runs.band) == expected


def test_edge_all_but_level_is_level() -> None:
    # A rise of less than float noise squared must not overflow; the ground is the 100 x 60 rectangle.
    edges = SQUARE + np.array([[0, 0, 0, 1e-309], [0, 1e-309, 0, 0], [0] * 4, [0] * 4])
    lows = np.array([0.0])
    assert cover_runs(edges, lows, lows + 10.0).end_m.tolist() == [100.0]
    assert areas_in_boxes(edges, np.array([[0.0, 0, 50, 10]])).tolist() == [500.0]


def test_hole_parts_a_band_derived() -> None:
    pond = shapely.Polygon(shapely.box(0, 0, 100, 60).exterior, [shapely.box(40, 12, 60, 18).exterior])
    edges = work_edges(pond, 90.0)
    lows = np.arange(6) * 10.0
    # The pond fills part of the band's height: cover goes through, clean and half stop beside it.
    assert np.bincount(cover_runs(edges, lows, lows + 10).band).tolist() == [1] * 6
    assert np.bincount(clean_runs(edges, lows, lows + 10).band).tolist() == [1, 2, 1, 1, 1, 1]
    assert np.bincount(centre_runs(edges, lows, lows + 10).band).tolist() == [1, 2, 1, 1, 1, 1]
    # A pond through the whole height parts the band whatever the rule.
    through = shapely.Polygon(shapely.box(0, 0, 100, 60).exterior, [shapely.box(40, 5, 60, 25).exterior])
    for runs_of in (cover_runs, clean_runs, centre_runs):
        assert stretches(runs_of(work_edges(through, 90.0), lows, lows + 10), 1) == pytest.approx(
            np.array([[0, 40], [60, 100]]), abs=1e-9
        )


@given(shape=outlines(), direction_deg=st.floats(0, 180), height=st.floats(2.0, 30.0))
def test_clean_lies_within_half_within_cover(shape: shapely.MultiPolygon, direction_deg: float, height: float) -> None:
    work = to_work_shape(shape, direction_deg)
    lows = np.arange(work.bounds[1], work.bounds[3], height)
    edges = work_edges(shape, direction_deg)
    clean, half, cover = (RUNS_BY_FINISH[rule](edges, lows, lows + height) for rule in ("clean", "half", "cover"))
    for inner, outer in ((clean, half), (half, cover)):
        for band in range(len(lows)):
            around = stretches(outer, band)
            for start, end in long_enough(stretches(inner, band)):
                assert any(low - 1e-6 <= start and end <= high + 1e-6 for low, high in around)
