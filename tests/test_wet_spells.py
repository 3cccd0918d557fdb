"""Wet and dry spells: drawn seasons against closed forms, exact sums and published spreads."""

from math import comb, sqrt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldgeo.errors import InputError
from fieldgeo.season.wet_spells import (
    USUAL_PERSISTENCE,
    chain_of,
    chance_at_least,
    count_chances,
    count_mean,
    count_variance,
    counts_at_level,
    draw_seasons,
    even_count_variance,
)

SHARES = st.lists(st.floats(0, 1), min_size=1, max_size=25)
PERSISTENCE = st.floats(0, 0.95)


def test_independent_days_are_binomial() -> None:
    """Derived: 14 days at 0.6, 8 or more needed: the binomial tail is 0.692452."""
    chain = chain_of([0.6] * 14, 0.0)
    tail = sum(comb(14, k) * 0.6**k * 0.4 ** (14 - k) for k in range(8, 15))
    assert chance_at_least(chain, 8) == pytest.approx(tail)
    assert tail == pytest.approx(0.692452, abs=1e-6)
    assert count_variance(chain) == pytest.approx(14 * 0.6 * 0.4)
    assert chance_at_least(chain, 0) == pytest.approx(1)
    assert chance_at_least(chain, 15) == 0


@pytest.mark.parametrize("persistence", [0.0, 0.3, 0.5, 0.9])
def test_variance_of_an_even_chain_is_the_closed_form(persistence: float) -> None:
    chain = chain_of([0.488] * 41, persistence)
    assert count_variance(chain) == pytest.approx(even_count_variance(0.488, persistence, 41))


def test_variance_of_two_days_by_hand() -> None:
    # derived: p q (2 + 2 r) = 0.25 x 3 with r = 0.5
    assert even_count_variance(0.5, 0.5, 2) == pytest.approx(0.75)


@given(SHARES, PERSISTENCE)
def test_exact_sums_agree_with_mean_and_variance(shares: list[float], persistence: float) -> None:
    chain = chain_of(shares, persistence)
    chances = count_chances(chain)
    days = np.arange(len(shares) + 1)
    assert chances.sum(axis=1) == pytest.approx(np.ones(len(shares)))
    mean = chances[-1] @ days
    assert mean == pytest.approx(count_mean(chain), abs=1e-9)
    assert chances[-1] @ (days - mean) ** 2 == pytest.approx(count_variance(chain), abs=1e-6)


@given(SHARES, PERSISTENCE)
def test_chain_keeps_the_share_of_every_day(shares: list[float], persistence: float) -> None:
    chain = chain_of(shares, persistence)
    before, after = chain.share[:-1], chain.share[1:]
    kept = before * chain.after_fit[1:] + (1 - before) * chain.after_unfit[1:]
    assert kept == pytest.approx(after, abs=1e-9)
    assert (chain.after_fit >= chain.after_unfit - 1e-12).all()
    assert (chain.correlation <= persistence + 1e-9).all()


@given(SHARES, PERSISTENCE, st.floats(0.05, 0.95))
def test_counts_at_a_chance_grow_by_a_day_at_the_most(shares: list[float], persistence: float, level: float) -> None:
    grown = np.diff(counts_at_level(chain_of(shares, persistence), level), prepend=0.0)
    assert (grown >= -1e-9).all()
    assert (grown <= 1 + 1e-9).all()


@settings(max_examples=30)
@given(SHARES, PERSISTENCE, st.floats(0.1, 0.5), st.floats(0.5, 0.9))
def test_a_surer_count_is_never_more(shares: list[float], persistence: float, low: float, high: float) -> None:
    chain = chain_of(shares, persistence)
    assert (counts_at_level(chain, high) <= counts_at_level(chain, low) + 1e-9).all()


def test_drawn_seasons_have_the_mean_the_spread_and_the_persistence() -> None:
    share = np.linspace(0.3, 0.7, 60)
    chain = chain_of(share, 0.5)
    fit = draw_seasons(chain, 20_000, seed=3)
    counts = fit.sum(axis=1)
    assert counts.mean() == pytest.approx(count_mean(chain), abs=4 * sqrt(count_variance(chain) / 20_000))
    assert counts.var() == pytest.approx(count_variance(chain), rel=0.05)
    assert fit.mean(axis=0) == pytest.approx(share, abs=0.02)
    neighbours = [np.corrcoef(fit[:, day], fit[:, day + 1])[0, 1] for day in range(0, 59, 10)]
    assert neighbours == pytest.approx([0.5] * 6, abs=0.03)
    exact = count_chances(chain)[-1]
    drawn = np.bincount(counts, minlength=61) / 20_000
    assert np.abs(np.cumsum(drawn) - np.cumsum(exact)).max() < 0.015


def test_the_same_seed_draws_the_same_seasons_and_more_of_them_begin_alike() -> None:
    chain = chain_of([0.5] * 30, 0.5)
    few, many = draw_seasons(chain, 3, seed=7), draw_seasons(chain, 9, seed=7)
    assert (few == many[:3]).all()
    assert (few != draw_seasons(chain, 3, seed=8)).any()


@given(st.floats(0, 1), st.floats(0, 1), PERSISTENCE, st.integers(0, 2**31))
def test_a_drier_climate_keeps_every_fit_day_of_the_same_draw(
    one: float, other: float, persistence: float, seed: int
) -> None:
    wet, dry = (draw_seasons(chain_of([share] * 30, persistence), 20, seed=seed) for share in sorted((one, other)))
    assert (dry >= wet).all()


def test_spread_of_31_springs_of_central_illinois_fefo_10_11() -> None:
    """Published: Working Field Days in Illinois, University of Illinois farmdoc, FEFO 10-11, 2010: 20 of 41 days in the
    mean of 1980 to 2010, 9.2 the least and 31.7 the greatest. Independent days cannot be so far apart."""
    spans = {}
    for persistence in (0.0, USUAL_PERSISTENCE):
        counts = draw_seasons(chain_of([20 / 41] * 41, persistence), 31 * 400, seed=1).sum(axis=1).reshape(400, 31)
        spans[persistence] = (counts.min(axis=1).mean(), counts.max(axis=1).mean())
    least, greatest = spans[USUAL_PERSISTENCE]
    assert least == pytest.approx(9.2, abs=1.0)
    assert greatest == pytest.approx(31.7, abs=1.0)
    assert spans[0.0][1] - spans[0.0][0] < 0.65 * (31.7 - 9.2)


def test_chance_of_35_days_of_missouri_g362_lies_near_a_chain_with_half_its_days_fit() -> None:
    """Published: Days Suitable for Fieldwork in Missouri, University of Missouri Extension G362: 35 days or more in 0.3
    of years from Apr 1 to May 31 (2016), 0.6 to Jun 10 (data 2005 to 2024). No share of its days is at hand; with half
    of them fit, as in Illinois beside it, a chain with the usual persistence comes near both; independent days miss the
    first."""
    assert chance_at_least(chain_of([0.5] * 61, USUAL_PERSISTENCE), 35) == pytest.approx(0.3, abs=0.05)
    assert chance_at_least(chain_of([0.5] * 71, USUAL_PERSISTENCE), 35) == pytest.approx(0.6, abs=0.05)
    assert chance_at_least(chain_of([0.5] * 61, 0.0), 35) < 0.16


def test_persistence_gives_way_where_the_share_jumps() -> None:
    # derived: from 0.9 to 0.1 a fit day after a fit one is no likelier than 0.1 / 0.9
    chain = chain_of([0.9, 0.1], 0.9)
    assert chain.after_fit[1] == pytest.approx(0.1 / 0.9)
    assert chain.after_unfit[1] == pytest.approx(0, abs=1e-12)
    assert chain.weakened_days == 1
    assert chain_of([0.5, 0.5], 0.9).weakened_days == 0


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(InputError, match="persistence is 1"):
        chain_of([0.5], 1.0)
    with pytest.raises(InputError, match="persistence is nan"):
        chain_of([0.5], float("nan"))
    with pytest.raises(InputError, match="numbers from 0 to 1"):
        chain_of([0.5, 1.5], 0.5)
    with pytest.raises(InputError, match="numbers from 0 to 1"):
        chain_of([], 0.5)
    with pytest.raises(InputError, match="one season or more"):
        draw_seasons(chain_of([0.5], 0.5), 0, seed=1)
    with pytest.raises(InputError, match="above 0 and below 1"):
        counts_at_level(chain_of([0.5], 0.5), 0.0)
