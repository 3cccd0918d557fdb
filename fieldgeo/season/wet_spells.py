"""Fit and unfit days that follow each other: a chain of two states, its seasons drawn, and what is known of it exactly.

A fit day is more likely after a fit day. The chain keeps the share of fit days of every day as it is given, and makes
neighbours correlate by the persistence. What can be had in closed form or by exact sums is here too: it answers
without drawing, and the drawn seasons are held against it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from fieldgeo.errors import InputError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from fieldgeo.frame import FloatArray

# Correlation of a day's fitness with that of the day before. No publication at hand prints one. Derived from the range
# of 31 years of central Illinois, 9.2 to 31.7 of 41 days, average 20 (University of Illinois farmdoc, FEFO 10-11,
# 2010, read): 31 draws of a normal spread over 4.11 standard deviations, so one is 5.47 days where independent days
# would have 3.20; a chain with 0.50 has 5.45. It holds what makes one spring wetter than another as well.
USUAL_PERSISTENCE: Final = 0.5
PERSISTENCE_SOURCE: Final = (
    "derived from the least and the greatest count of 31 springs of central Illinois (University of Illinois farmdoc, "
    "FEFO 10-11, 2010)"
)
MOST_PERSISTENCE: Final = 0.95  # own choice: spells of twenty days and more are climate, not weather


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Chain:
    """Chances of a fit day after a fit and after an unfit one."""

    share: FloatArray  # of fit days, shape (D,) [-]
    after_fit: FloatArray  # chance that a day is fit after a fit one; on the first day its share, shape (D,) [-]
    after_unfit: FloatArray  # the same after an unfit one, shape (D,) [-]
    correlation: FloatArray  # of each day with the day before; 0 on the first, shape (D,) [-]
    persistence: float  # asked for [-]

    @property
    def weakened_days(self) -> int:
        """Days whose share differs so much from the day before that the persistence cannot be as asked for."""
        return int(np.sum(self.correlation[1:] < self.persistence - 1e-9))


def chain_of(share: ArrayLike, persistence: float) -> Chain:
    """Return the chain with given shares of fit days and a persistence.

    Parameters
    ----------
    share : array_like of shape (D,)
        Share of fit days on each day, 0 to 1. [-]
    persistence : float
        Correlation of a day with the day before, from 0 (independent days) to `MOST_PERSISTENCE`. [-]

    Raises
    ------
    InputError
        If a value is out of range, or there is no day.

    Notes
    -----
    P(fit | fit) = p' + c (1 - p) and P(fit | unfit) = p' - c p keep the share p' after p whatever c is, and the
    correlation is c sqrt(p (1 - p) / (p' (1 - p'))); with even shares c is the correlation itself (derived). Where the
    share jumps, c is no more than keeps both chances within 0 and 1.
    """
    shares = np.asarray(share, dtype=float)
    check_persistence(persistence)
    if shares.ndim != 1 or not shares.size or not np.all((shares >= 0) & (shares <= 1)):
        raise InputError("fit days: shares of fit days must be a list of numbers from 0 to 1, one for each day.")
    before, after = shares[:-1], shares[1:]
    spread = np.sqrt(before * (1 - before))
    spread_after = np.sqrt(after * (1 - after))
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        pull = np.where(spread > 0, persistence * spread_after / spread, 0.0)
        most = np.minimum(
            np.where(before < 1, (1 - after) / (1 - before), np.inf), np.where(before > 0, after / before, np.inf)
        )
        pull = np.minimum(pull, most)
        correlation = np.where(spread_after > 0, pull * spread / spread_after, 0.0)
    return Chain(
        share=shares,
        after_fit=np.concatenate([shares[:1], np.clip(after + pull * (1 - before), 0, 1)]),
        after_unfit=np.concatenate([shares[:1], np.clip(after - pull * before, 0, 1)]),
        correlation=np.concatenate([[0.0], correlation]),
        persistence=persistence,
    )


def check_persistence(persistence: float) -> None:
    """Refuse a persistence that cannot be used.

    Raises
    ------
    InputError
        If it is not a number from 0 to `MOST_PERSISTENCE`.
    """
    if not 0 <= persistence <= MOST_PERSISTENCE:
        raise InputError(
            f"fit days: persistence is {persistence:g}. It must be from 0, days independent of each other, to "
            f"{MOST_PERSISTENCE:g}."
        )


def draw_seasons(chain: Chain, seasons: int, *, seed: int) -> NDArray[np.bool_]:
    """Return drawn seasons, shape (S, D): whether each day is fit.

    Parameters
    ----------
    chain : Chain
        Chances of each day.
    seasons : int
        Number of seasons S, >= 1.
    seed : int
        The same seed draws the same seasons, >= 0; more seasons begin with the same ones.

    Raises
    ------
    InputError
        If the number of seasons or the seed cannot be used.
    """
    if seasons < 1 or seed < 0:
        raise InputError(f"seasons: got {seasons} with seed {seed}. Give one season or more, and a seed from 0.")
    drawn = np.random.default_rng(seed).random((seasons, chain.share.size))
    fit = np.empty(drawn.shape, dtype=bool)
    fit[:, 0] = drawn[:, 0] < chain.share[0]
    for day in range(1, chain.share.size):
        fit[:, day] = drawn[:, day] < np.where(fit[:, day - 1], chain.after_fit[day], chain.after_unfit[day])
    return fit


def count_mean(chain: Chain) -> float:
    """Return the mean number of fit days: the sum of the shares (derived). [days]"""
    return float(chain.share.sum())


def count_variance(chain: Chain) -> float:
    """Return the variance of the number of fit days. [days2]

    Notes
    -----
    Of days a and b, a < b, the covariance is sqrt(p_a q_a p_b q_b) times the product of the correlations between, as
    the chain forgets all but the day before. With even shares p and persistence r this is
    p q (n (1 + r) / (1 - r) - 2 r (1 - r^n) / (1 - r)^2), and without persistence n p q, the binomial (derived).
    """
    spread = np.sqrt(chain.share * (1 - chain.share))
    total, tail = 0.0, 0.0  # tail: covariance of a day with all before it, over the day's own spread
    for day in range(chain.share.size):
        tail = chain.correlation[day] * (tail + (spread[day - 1] if day else 0.0))
        total += spread[day] * (spread[day] + 2 * tail)
    return float(total)


def even_count_variance(share: float, persistence: float, days: int) -> float:
    """Return the variance of the number of fit days in a span with even shares, in closed form. [days2]

    Parameters
    ----------
    share : float
        Share of fit days, 0 to 1. [-]
    persistence : float
        Correlation of a day with the day before, 0 <= value < 1. [-]
    days : int
        Days of the span, >= 1.

    Notes
    -----
    The formula of `count_variance`; derived.

    Examples
    --------
    >>> round(even_count_variance(0.5, 0.0, 40), 6)
    10.0
    """
    r = persistence
    return share * (1 - share) * (days * (1 + r) / (1 - r) - 2 * r * (1 - r**days) / (1 - r) ** 2)


def count_chances(chain: Chain) -> FloatArray:
    """Return the chance of each number of fit days up to each day, shape (D, D + 1): row by day, column by number.

    Exact sums over both states of each day; without persistence the rows are binomial (derived).
    """
    days = chain.share.size
    chances = np.zeros((days, days + 1))
    fit, unfit = np.zeros(days + 1), np.zeros(days + 1)
    fit[1], unfit[0] = chain.share[0], 1 - chain.share[0]
    chances[0] = fit + unfit
    for day in range(1, days):
        gone = chain.after_fit[day] * fit + chain.after_unfit[day] * unfit
        unfit = fit + unfit - gone
        fit = np.concatenate([[0.0], gone[:-1]])
        chances[day] = fit + unfit
    return chances


def chance_at_least(chain: Chain, days: int) -> float:
    """Return the chance of so many fit days or more in the whole span. [-]

    Parameters
    ----------
    chain : Chain
        The span.
    days : int
        Fit days.
    """
    return float(count_chances(chain)[-1, max(days, 0) :].sum()) if days <= chain.share.size else 0.0


def counts_at_level(chain: Chain, level: float) -> FloatArray:
    """Return how many fit days there are up to each day, or more, with a given chance, shape (D,). [days]

    Parameters
    ----------
    chain : Chain
        The span.
    level : float
        The chance, 0 < level < 1; such as 0.8 for four years in five. [-]

    Raises
    ------
    InputError
        If the level is out of range.

    Notes
    -----
    Between whole numbers the chance is taken along a straight line, so that the count grows by less than a day at a
    time rather than by leaps; k days or more are put at k - 1/2, as in any smooth count of whole numbers, so that the
    middle of an even spread is its mean.
    """
    if not 0 < level < 1:
        raise InputError(f"fit days: the chance asked for is {level:g}. It must be above 0 and below 1, such as 0.8.")
    chances = count_chances(chain)
    at_least = np.cumsum(chances[:, ::-1], axis=1)[:, ::-1]  # column k: chance of k days or more
    found = np.empty(chain.share.size)
    for day, row in enumerate(at_least):
        last = int(np.sum(row >= level - 1e-12)) - 1  # the greatest number that is as likely as asked for
        beyond = row[last + 1] if last + 1 < row.size else 0.0
        part = (row[last] - level) / (row[last] - beyond) if row[last] > beyond else 0.0
        found[day] = min(max(last + max(part, 0.0) - 0.5, 0.0), day + 1.0)
    return found
