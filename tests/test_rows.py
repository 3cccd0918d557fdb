"""Row matching: guess rows straddled, periods, tolerances, wheels among rows."""

from math import gcd, lcm

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fieldgeo.errors import InputError
from fieldgeo.layout.rows import (
    guess_rows_within,
    period_m,
    row_pattern,
    rows_off_m,
    spacing_off_m,
    straddled_from_sides,
    way_round,
)
from fieldgeo.layout.wheels import wheels_among_rows
from fieldgeo.machinery.tool import row_width_m

INCH_M = 0.0254
FOOT_M = 0.3048
ROWS = st.integers(1, 48)


def test_widths_of_row_tools_derived() -> None:
    # Derived: rows x spacing; 16 x 30 in = 480 in = 40 ft, 23 x 15 in = 345 in = 28.75 ft.
    assert row_width_m(16, 30 * INCH_M) / FOOT_M == pytest.approx(40.0, abs=1e-12)
    assert row_width_m(23, 15 * INCH_M) / FOOT_M == pytest.approx(28.75, abs=1e-12)


def test_six_rows_in_sixteen_derived() -> None:
    # Derived: passes end after rows 6, 12, 18, 24, 30, 36, 42, 48; guess rows lie after 16, 32 and 48. 16 is within
    # pass 3 (rows 13 to 18), 32 within pass 6 (31 to 36), and 48 is the end of pass 8.
    pattern = row_pattern(16, 6)
    assert pattern.straddling == (3, 6)
    assert pattern.rows_of(3) == (13, 18)
    assert (pattern.period_rows, pattern.passes, pattern.most_guess_rows) == (48, 8, 1)
    assert not pattern.is_clear


def test_eight_rows_in_sixteen_common_practice_no_source() -> None:
    assert row_pattern(16, 8).is_clear
    assert row_pattern(16, 8).period_rows == 16


def test_sixteen_rows_in_eight_derived() -> None:
    # Derived: 16 rows hold two planter passes of 8, and so the guess row after row 8, on every pass.
    pattern = row_pattern(8, 16)
    assert (pattern.straddling, pattern.passes, pattern.most_guess_rows) == ((1,), 1, 1)
    assert row_pattern(8, 24).most_guess_rows == 2


@given(planter=ROWS, tool=ROWS)
def test_the_pattern_is_that_of_each_row_looked_at_alone(planter: int, tool: int) -> None:
    pattern = row_pattern(planter, tool)
    planter_pass = np.arange(pattern.period_rows) // planter  # that lays each row
    by_pass = planter_pass.reshape(-1, tool)
    assert pattern.straddling == tuple((np.flatnonzero(np.ptp(by_pass, axis=1)) + 1).tolist())
    assert pattern.most_guess_rows == int(np.ptp(by_pass, axis=1).max())
    assert pattern.is_clear == (planter % tool == 0)
    assert pattern.period_rows == planter * tool // gcd(planter, tool)


@given(planter=ROWS, tool=ROWS, whole=st.integers(1, 12))
def test_both_sides_are_alike_where_planter_passes_are_whole(planter: int, tool: int, whole: int) -> None:
    began, other = straddled_from_sides(planter, tool, planter * whole)
    assert (began.passes, began.straddling, began.first) == (other.passes, other.straddling, other.first)


def test_a_short_last_planter_pass_tells_the_sides_apart_derived() -> None:
    # Derived: 16, 16 and 4 rows. From the first side 8-row passes end after 8, 16, 24, 32 (and 36): none
    # straddles. From the other side guess rows lie after 4, 20: within rows 1 to 8 and 17 to 24; passes 1 and 3 of 5.
    began, other = straddled_from_sides(16, 8, 36)
    assert (began.passes, began.straddling, began.first) == (5, 0, None)
    assert (other.passes, other.straddling, other.first) == (5, 2, 1)


def test_way_round_derived() -> None:
    # Derived: 16 rows in passes of 6, 6 and 4: 3 passes where 16 / 6 = 2.667 full ones would do, 12.5 % more.
    found = way_round(16, 6)
    assert found is not None
    assert (found.passes, found.last_rows, found.extra_share) == (3, 4, pytest.approx(0.125))
    assert way_round(8, 16) is None
    whole = way_round(16, 8)
    assert whole is not None
    assert (whole.passes, whole.last_rows, whole.extra_share) == (2, 8, 0.0)


def test_guess_rows_that_are_off_derived() -> None:
    # Derived: one guess row 2 in off, steered to the middle: 1 in on either side; two of them: 2 in.
    assert rows_off_m(1, 2 * INCH_M) == pytest.approx(INCH_M)
    assert rows_off_m(2, 2 * INCH_M) == pytest.approx(2 * INCH_M)
    assert rows_off_m(0, 2 * INCH_M) == 0.0


def test_spacings_of_30_in_and_76_cm_derived() -> None:
    # Derived: 76.2 less 76 cm is 2 mm; the outer of 8 rows lies 3.5 spacings from the middle, 7 mm off.
    assert spacing_off_m(8, 30 * INCH_M, 0.76) == pytest.approx(0.007)
    assert spacing_off_m(1, 30 * INCH_M, 0.76) == 0.0


def test_periods_derived() -> None:
    # Derived: multiples of 40 ft and of 90 ft first meet at 360 ft; of 345 in and 180 in at 4140 in = 345 ft.
    assert period_m(40 * FOOT_M, 90 * FOOT_M) == pytest.approx(360 * FOOT_M, abs=1e-9)
    assert period_m(345 * INCH_M, 180 * INCH_M) == pytest.approx(345 * FOOT_M, abs=1e-9)
    assert period_m(12.1920001, 27.4320003) is None


@given(planter=ROWS, tool=ROWS)
def test_periods_of_lengths_are_those_of_rows(planter: int, tool: int) -> None:
    assert period_m(planter * 0.762, tool * 0.762) == pytest.approx(lcm(planter, tool) * 0.762, abs=1e-6)


def test_guess_rows_at_the_ends_are_not_within() -> None:
    assert [guess_rows_within(low, high, 8) for low, high in ((0, 8), (8, 16), (7, 9), (0, 24), (9, 15))] == [
        0, 0, 1, 2, 0,
    ]  # fmt: skip


@pytest.mark.parametrize(("planter", "tool"), [(0, 6), (16, 0), (-8, 8)])
def test_no_rows_are_refused(planter: int, tool: int) -> None:
    with pytest.raises(InputError, match="must be 1 or more"):
        row_pattern(planter, tool)


def test_too_many_rows_of_a_field_are_refused() -> None:
    with pytest.raises(InputError, match="rows of the field: got 0"):
        straddled_from_sides(16, 8, 0)
    with pytest.raises(InputError, match="must be from 1 to 100000"):
        straddled_from_sides(16, 8, 100_001)


def wheels(boom_ft: float, track_in: float, *, tire_in: float = 15.0, spacing_in: float = 30.0):  # type: ignore[no-untyped-def]
    return wheels_among_rows(
        pitch_m=boom_ft * FOOT_M,
        track_m=track_in * INCH_M,
        tire_m=tire_in * INCH_M,
        spacing_m=spacing_in * INCH_M,
        planter_rows=16,
    )


def test_wheels_between_rows_derived() -> None:
    # Derived: 90 ft is 36 rows, so the middle of each pass lies between rows; wheels 60 in off it do too. Half a
    # spacing less half a tire: 15 - 7.5 = 7.5 in.
    found = wheels(90, 120)
    assert found.clearance_m == pytest.approx(7.5 * INCH_M)
    assert found.shift_m == 0.0
    assert found.is_clear
    assert found.is_clear_unmoved


def test_wheels_on_rows_run_between_when_begun_half_a_row_off_derived() -> None:
    # Derived: wheels 45 in off the middle stand on rows: 0 - 7.5 in; half a spacing to the side they are clear
    # by 7.5 in.
    found = wheels(90, 90)
    assert found.clearance_m == pytest.approx(-7.5 * INCH_M)
    assert found.shift_m == pytest.approx(15 * INCH_M)
    assert found.best_clearance_m == pytest.approx(7.5 * INCH_M)
    assert not found.is_clear_unmoved
    assert found.is_clear


def test_a_track_that_is_no_whole_number_of_rows_derived() -> None:
    # Derived: 100 in is 3 rows and 10 in; at best each wheel is 5 in off the middle between rows:
    # 15 - 5 - 7.5 = 2.5 in.
    assert wheels(90, 100).best_clearance_m == pytest.approx(2.5 * INCH_M)


def test_a_boom_of_no_whole_number_of_rows_runs_on_rows_somewhere_derived() -> None:
    # Derived: 92.5 ft is 37 rows; 92 ft is 36.8 rows, so passes step by 0.2 row = 6 in, and the widest gap between
    # wheel places is 6 in: 3 - 7.5 = -4.5 in.
    assert wheels(92.5, 60).is_clear
    assert wheels(92, 60).best_clearance_m == pytest.approx(-4.5 * INCH_M)


@given(
    track_in=st.integers(40, 160), boom_rows=st.integers(6, 60), tire_in=st.integers(0, 20), shift_in=st.floats(-15, 15)
)
def test_no_shift_is_better_than_the_best(track_in: int, boom_rows: int, tire_in: int, shift_in: float) -> None:
    found = wheels(boom_rows * 2.5, track_in, tire_in=tire_in)
    middle_in = boom_rows * 15 + shift_in
    off_in = [abs((middle_in + side * track_in / 2) % 30 - 15) for side in (-1, 1)]
    assert found.best_clearance_m / INCH_M >= min(off_in) - tire_in / 2 - 1e-4
    assert found.best_clearance_m >= found.clearance_m - 1e-6


def test_a_wheel_in_a_guess_row_has_one_between_the_rows_beside_it_derived() -> None:
    # Derived: one pass of 20 rows, wheels 4 rows apart about row 10: from row 8 to row 13 no guess row; at 32 rows the
    # wheels lie about row 16, where a planter pass ends.
    assert wheels(50, 120).guess_rows == 1  # some pass of a period meets one
    assert wheels(40, 120).guess_rows == 0  # 16 rows: every pass lies in the middle of a planter pass


def test_wheels_need_sizes() -> None:
    with pytest.raises(InputError, match="must be above zero"):
        wheels(90, 0)
