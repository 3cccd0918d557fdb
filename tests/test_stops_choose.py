"""The best choice of stops: against every choice there is, and the places where a tank runs full on a pass."""

from itertools import combinations, pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fieldgeo.travel.choose import choose_stops, too_long_stretches
from fieldgeo.travel.midway import full_places

AMOUNTS = st.lists(st.integers(0, 5), min_size=1, max_size=8)


@given(amounts=AMOUNTS, spare=st.integers(0, 6), seed=st.integers(0, 999), first=st.sampled_from(["stops", "time"]))
def test_no_choice_is_better_derived(amounts: list[int], spare: int, seed: int, first: str) -> None:
    # Every choice of stops, by hand; small whole numbers, so that times can be equal.
    rng = np.random.default_rng(seed)
    used = np.concatenate([[0.0], np.cumsum(amounts)])
    capacity = float(max(1, *amounts) + spare)
    end = len(used) - 1
    stop_s, last_s = rng.integers(0, 4, end + 1).astype(float), rng.integers(0, 3, end + 1).astype(float)
    last_s[0] = 0.0

    def cost(choice: tuple[int, ...] | list[int]) -> tuple[float, float] | None:
        places = [0, *choice, end]
        if any(used[other] - used[one] > capacity + 1e-9 for one, other in pairwise(places)):
            return None
        seconds = float(stop_s[list(choice)].sum() + last_s[places[-2]])
        return (len(choice), seconds) if first == "stops" else (seconds, len(choice))

    chosen = choose_stops(used, stop_s, capacity, first=first, last_s=last_s)  # type: ignore[arg-type]
    every = [cost(choice) for count in range(end + 1) for choice in combinations(range(1, end), count)]
    assert cost(chosen) == min(each for each in every if each is not None)


def test_equal_choices_stop_as_late_as_they_can_derived() -> None:
    # 44 passes of one unit each, twelve to a tank: after 12, 24 and 36.
    used = np.arange(45.0)
    assert choose_stops(used, np.zeros(45), 12.0) == [12, 24, 36]


def test_float_noise_does_not_add_a_stop() -> None:
    used = np.concatenate([[0.0], np.cumsum(np.full(30, 0.1))])
    assert choose_stops(used, np.zeros(31), 0.1 * 10) == [10, 20]


def test_no_stop_where_one_tank_lasts() -> None:
    assert choose_stops(np.array([0.0, 3.0, 5.0]), np.zeros(3), 5.0) == []


def test_least_time_may_take_more_stops_derived() -> None:
    # Four units, two or three to a stop: one stop in the middle takes 10 s, two beside it 1 s each.
    used, stop_s = np.array([0.0, 1.0, 2.0, 3.0, 4.0]), np.array([0.0, 1.0, 10.0, 1.0, 0.0])
    assert choose_stops(used, stop_s, 2.0, first="stops") == [2]
    assert choose_stops(used, stop_s, 2.0, first="time") == [1, 3]


def test_stretches_that_a_tank_does_not_last() -> None:
    assert too_long_stretches(np.array([0.0, 1.0, 3.5, 4.0]), 2.0) == [1]
    assert too_long_stretches(np.array([0.0, 1.0, 3.0]), 2.0) == []


def test_tank_runs_full_again_and_again_derived() -> None:
    # One work of 10 with a tank of 3, from its begin: 3, 6 and 9; another work, of 2, is no longer than the tank.
    used = np.array([0.0, 10.0, 12.0])
    assert full_places(used, np.array([0.0, 10.0, 12.0]), 3.0) == pytest.approx([3.0, 6.0, 9.0])
    # Where one stops at 1 first, also at 4 and 7; and 10 is the end of the work, where one can stop anyhow.
    assert full_places(used, np.array([0.0, 1.0]), 3.0) == pytest.approx([3.0, 4.0, 6.0, 7.0, 9.0])
