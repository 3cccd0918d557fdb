"""Errors of corners carried through the area: published and derived figures, and the sum over pairs done in full."""

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from walks import SQUARE, drifting, walked

from fieldgeo.errors import InputError
from fieldgeo.frame import FloatArray
from fieldgeo.outline.uncertainty import SURE_95, WalkedRing, independent_area_sd_m2, walk_area_spread
from fieldgeo.units import to_acres

QUARTER_MILE_M = 804.672  # side of a quarter section


def ring_of(points_m: FloatArray, step_s: float = 1.0, sign: float = 1.0) -> WalkedRing:
    return WalkedRing(points_m=points_m, station=step_s * np.arange(len(points_m)), sign=sign)


def first_order_m2(shape: shapely.Polygon, accuracy_m: float) -> float:
    """The standard error without the second-order term: what GP01 and GP02 print."""
    points = len(shapely.get_coordinates(shape)) - 1
    return float(np.sqrt(independent_area_sd_m2(shape, accuracy_m=accuracy_m) ** 2 - points * accuracy_m**4 / 2))


def test_square_of_200_m_gp01_published_formula() -> None:
    """Derived (check GP01): sd = s L sqrt 2; formula class of the Journal of the Japanese Forest Society 100, 2018."""
    sd_m2 = first_order_m2(shapely.box(0, 0, 200, 200), 3.0)
    assert sd_m2 == pytest.approx(848.528, abs=0.01)
    assert 100 * sd_m2 / 200**2 == pytest.approx(2.1213, abs=0.001)


def test_quarter_section_gp02_published_formula() -> None:
    """Derived (check GP02): the same for 804.672 m."""
    sd_m2 = first_order_m2(shapely.box(0, 0, QUARTER_MILE_M, QUARTER_MILE_M), 3.0)
    assert sd_m2 == pytest.approx(3413.93, abs=0.05)
    assert to_acres(sd_m2) == pytest.approx(0.8436, abs=0.001)


def test_eighty_points_gp03_with_the_second_order_term() -> None:
    """Derived (check GP03): 80 points evenly along a 200 m square; Monte Carlo of 20,000 walks gave 271 m2."""
    square = shapely.Polygon(walked(shapely.box(0, 0, 200, 200), 10.0))
    assert first_order_m2(square, 3.0) == pytest.approx(264.953, abs=0.01)
    assert independent_area_sd_m2(square, accuracy_m=3.0) == pytest.approx(270.998, abs=0.01)


def test_holes_add_to_the_variance_derived() -> None:
    """Derived: corners of different rings are independent, so variances add: sd^2 = 2 s^2 (L1^2 + L2^2) + 8 s^4 / 2."""
    shape = shapely.Polygon(shapely.box(0, 0, 200, 200).exterior, [shapely.box(50, 50, 80, 80).exterior])
    expected = np.sqrt(2 * 9.0 * (200**2 + 30**2) + 8 * 81 / 2)
    assert independent_area_sd_m2(shapely.MultiPolygon([shape]), accuracy_m=3.0) == pytest.approx(expected, rel=1e-12)


def test_without_errors_an_area_is_sure() -> None:
    assert independent_area_sd_m2(SQUARE, accuracy_m=0.0) == 0
    spread = walk_area_spread([ring_of(walked(SQUARE))], accuracy_m=0.0)
    assert spread.worst_sd_m2 == spread.independent_sd_m2 == 0


@pytest.mark.parametrize("accuracy_m", [-1.0, float("nan"), float("inf")])
def test_accuracy_out_of_range_is_refused(accuracy_m: float) -> None:
    with pytest.raises(InputError, match="accuracy: got"):
        independent_area_sd_m2(SQUARE, accuracy_m=accuracy_m)


def full_variance(points_m: FloatArray, sd_m: float, memory: float) -> float:
    """The sum over all pairs of points, as the head of the module writes it."""
    across = (np.roll(points_m, -1, axis=0) - np.roll(points_m, 1, axis=0)) / 2
    turned = across[:, ::-1] * (1, -1)
    apart = np.abs(np.subtract.outer(np.arange(len(points_m)), np.arange(len(points_m))))
    first = float(np.sum((turned @ turned.T) * np.exp(-apart / memory)))
    steps = np.append(np.ones(len(points_m) - 1), len(points_m) - 1)
    second = float(np.sum(1 - np.exp(-2 * steps / memory))) / 2
    return sd_m**2 * first + sd_m**4 * second


@pytest.mark.parametrize(
    "polygon", [SQUARE, shapely.Polygon([(0, 0), (400, 0), (400, 60), (90, 60), (90, 300), (0, 300)])]
)
def test_the_worst_memory_is_that_of_the_full_sum_over_pairs(polygon: shapely.Polygon) -> None:
    """Derived: the sum over pairs done in full, at 60 memories."""
    points = walked(polygon, 5.0)
    spread = walk_area_spread([ring_of(points)], accuracy_m=3.0)
    full = [full_variance(points, 3.0, memory) for memory in np.geomspace(1, 1e4, 60)]
    assert spread.worst_sd_m2**2 == pytest.approx(max(full), rel=5e-3)
    assert full_variance(points, 3.0, spread.worst_memory) == pytest.approx(spread.worst_sd_m2**2, rel=1e-9)


def test_many_points_are_taken_in_groups_with_the_same_result() -> None:
    # At 1 cm the second-order term, which does depend on the number of points, is nothing.
    coarse = walk_area_spread([ring_of(walked(SQUARE, 1.0))], accuracy_m=0.01)
    fine = walk_area_spread([ring_of(walked(SQUARE, 0.05), 0.05)], accuracy_m=0.01)
    assert fine.worst_sd_m2 == pytest.approx(coarse.worst_sd_m2, rel=0.01)
    assert fine.worst_memory == pytest.approx(coarse.worst_memory, rel=0.3)


@given(turn_deg=st.floats(0, 360), east_m=st.floats(-1e4, 1e4), is_mirrored=st.booleans(), is_backwards=st.booleans())
def test_moving_turning_and_mirroring_change_nothing(
    turn_deg: float, east_m: float, is_mirrored: bool, is_backwards: bool
) -> None:
    points = walked(shapely.Polygon([(0, 0), (300, 20), (250, 200), (40, 150)]), 5.0)
    turn = np.radians(turn_deg)
    moved = points @ np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]]) + (east_m, 0)
    moved = moved * (-1, 1) if is_mirrored else moved
    moved = moved[::-1] if is_backwards else moved
    one, other = (walk_area_spread([ring_of(way)], accuracy_m=2.0) for way in (points, moved))
    assert other.worst_sd_m2 == pytest.approx(one.worst_sd_m2, rel=1e-6)
    assert other.independent_sd_m2 == pytest.approx(one.independent_sd_m2, rel=1e-6)


def test_a_hole_walked_at_once_takes_part_of_the_error_away() -> None:
    """Derived: an error that drifts slowly moves a ring and a ring inside it alike, and their areas cancel in part."""
    outer, inner = walked(SQUARE, 1.0), walked(shapely.box(-95, -95, 95, 95), 1.0)
    alone = walk_area_spread([ring_of(outer)], accuracy_m=3.0)
    later = WalkedRing(points_m=inner, station=len(outer) + np.arange(len(inner), dtype=float), sign=-1.0)
    both = walk_area_spread([ring_of(outer), later], accuracy_m=3.0)
    assert both.independent_sd_m2 > alone.independent_sd_m2
    assert both.worst_memory < alone.worst_memory * 10


@pytest.mark.parametrize("memory", [0, 10, 130, 700])
def test_simulated_errors_are_covered_and_no_more_than_needed_at_the_worst(memory: int) -> None:
    """Simulation: 5,000 walks round 4 ha with errors of 3 m; the bound holds at every memory, and is reached at 130."""
    points = walked(SQUARE, 3.0)
    half_m2 = SURE_95 * walk_area_spread([ring_of(points, 2.5)], accuracy_m=3.0).worst_sd_m2
    errors = drifting(np.random.default_rng(5 + memory), 5_000, len(points), 3.0, memory / 2.5)
    x, y = (points + errors).transpose(2, 0, 1)
    off_m2 = np.sum(x * np.roll(y, -1, axis=1) - np.roll(x, -1, axis=1) * y, axis=1) / 2 - SQUARE.area
    assert np.mean(np.abs(off_m2) <= half_m2) >= 0.945
    if memory == 130:
        assert half_m2 == pytest.approx(SURE_95 * np.std(off_m2), rel=0.04)
