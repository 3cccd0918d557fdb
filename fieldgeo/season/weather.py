"""What weather to reckon with: shares of fit days and their persistence, and the fit hours of each day from them."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np

from fieldgeo.errors import InputError
from fieldgeo.machinery.tables import HOW_KNOWN, Source
from fieldgeo.season.fit_days import FitPeriod, FitShares, YearDay, shares_on
from fieldgeo.season.fit_history import FitHistory, read_history
from fieldgeo.season.wet_spells import (
    PERSISTENCE_SOURCE,
    USUAL_PERSISTENCE,
    Chain,
    chain_of,
    check_persistence,
    count_mean,
    count_variance,
    counts_at_level,
)
from fieldgeo.season.working_days import published_periods

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from datetime import date

    from numpy.typing import ArrayLike

    from fieldgeo.frame import FloatArray
    from fieldgeo.season.model import Regime

_GIVEN: Final = Source(text="shares as given", status="read")


@dataclass(frozen=True, slots=True, kw_only=True)
class Climate:
    """Shares of fit days through the year, and how days cling together.

    Raises
    ------
    InputError
        If there is no period, or the persistence is out of range.
    """

    periods: tuple[FitPeriod, ...]  # where two hold a day, the first of them counts
    persistence: float  # correlation of a day with the day before [-]
    persistence_source: str
    is_persistence_assumed: bool = False  # neither given nor from the grower's own record
    between: bool = True  # shares between two periods run straight from the one to the other
    beyond: bool = False  # days before and after all periods have the share of the nearest
    history: FitHistory | None = None  # the grower's own record, where there is one

    def __post_init__(self) -> None:
        check_persistence(self.persistence)
        if not self.periods:
            raise InputError("fit days: no period. Give a region, your own history, or a share of fit days.")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Weather:
    """A climate on the days of one season."""

    climate: Climate
    shares: FitShares
    chain: Chain

    @property
    def days(self) -> tuple[date, ...]:
        """The days, in order and without a gap."""
        return self.shares.days

    @property
    def mean_days(self) -> float:
        """Mean number of fit days. [days]"""
        return count_mean(self.chain)

    @property
    def deviation_days(self) -> float:
        """Standard deviation of the number of fit days. [days]"""
        return float(np.sqrt(count_variance(self.chain)))

    def notes(self) -> list[str]:
        """Return what a reader should know: figures recalled or assumed, days between periods, thin records."""
        history = self.climate.history
        said = [] if history is None else [f"fit days: {note}" for note in history.notes]
        recalled = [one for one in self.shares.used if one.source.is_recalled]
        if recalled:
            doubt = f" ({recalled[0].source.note})" if recalled[0].source.note else ""
            said.append(
                f"fit days: {len(recalled)} of {len(self.shares.used)} periods are "
                f"{HOW_KNOWN[recalled[0].source.status]}{doubt}"
            )
        if self.shares.between_days:
            said.append(
                f"fit days: {self.shares.between_days} of {len(self.days)} days lie between two periods; their share "
                "runs straight from the one to the other"
            )
        if self.shares.beyond_days:
            said.append(
                f"fit days: {self.shares.beyond_days} of {len(self.days)} days lie before or after all periods and "
                "have the share of the nearest"
            )
        if self.climate.is_persistence_assumed:
            said.append(
                f"fit days: persistence {self.climate.persistence:g} is assumed, {self.climate.persistence_source}; "
                "your own record of days would give your own"
            )
        if self.chain.weakened_days:
            said.append(
                f"fit days: on {self.chain.weakened_days} days the share changes too much for the persistence, which "
                "is less there"
            )
        return said


def climate_of(
    *,
    region: str | None = None,
    kind: str | None = None,
    history: FitHistory | None = None,
    periods: Iterable[FitPeriod] = (),
    share: float | None = None,
    persistence: float | None = None,
    between: bool = True,
    beyond: bool = False,
) -> Climate:
    """Return a climate from what is known; the nearer to the farm, the sooner it counts.

    Parameters
    ----------
    region : str, optional
        Region of the published table.
    kind : str, optional
        Kind of its rows.
    history : FitHistory, optional
        The grower's own record, which counts before the region.
    periods : iterable of FitPeriod
        Periods as given, which count before both.
    share : float, optional
        One share for every day that nothing else holds. [-]
    persistence : float, optional
        As given; without it that of the record, and without a record `USUAL_PERSISTENCE`. [-]
    between : bool
        Whether days between two periods may be had from both.
    beyond : bool
        Whether days before and after all periods may be had from the nearest.

    Raises
    ------
    InputError
        If nothing is known, or a value cannot be used.

    Examples
    --------
    >>> climate_of(region="Illinois").persistence
    0.5
    """
    known = [*periods]
    if history is not None:
        known += history.periods()
    if region is not None:
        known += published_periods(region, kind=kind)
    if share is not None:
        known.append(FitPeriod(first=YearDay(1, 1), last=YearDay(12, 31), share=share, source=_GIVEN))
    recorded = None if history is None else history.persistence
    if persistence is not None:
        value, source = persistence, "given"
    elif history is not None and recorded is not None:
        value, source = recorded, f"from {history.pairs:,} pairs of days of {history.name}"
    else:
        value, source = USUAL_PERSISTENCE, PERSISTENCE_SOURCE
    return Climate(
        periods=tuple(known), persistence=value, persistence_source=source,
        is_persistence_assumed=persistence is None and recorded is None, between=between, beyond=beyond,
        history=history,
    )  # fmt: skip


def climate_for(regime: Regime, *, folder: Path | None = None) -> Climate:
    """Return the climate that a season file asks for.

    Parameters
    ----------
    regime : Regime
        Region, shares or history; what is given of them counts in the order shares, history, region.
    folder : Path, optional
        Folder that the history's name is relative to.

    Raises
    ------
    FileError
        If the history cannot be read.
    InputError
        If nothing is given, or a value cannot be used.
    """
    periods = [
        FitPeriod(first=YearDay(first.month, first.day), last=YearDay(last.month, last.day), share=share, source=_GIVEN)
        for first, last, share in regime.shares
    ]
    history = read_history((folder or Path()) / regime.history) if regime.history else None
    return climate_of(
        region=regime.region or None, history=history, periods=periods, persistence=regime.persistence,
        beyond=bool(regime.shares),
    )  # fmt: skip


def weather_on(climate: Climate, days: Sequence[date]) -> Weather:
    """Return the weather to reckon with on the days of a season.

    Parameters
    ----------
    climate : Climate
        Shares and persistence.
    days : sequence of date
        One after the other, without a gap.

    Raises
    ------
    InputError
        If a day is left out, or no share is known for one.
    """
    if not days or any((other - one).days != 1 for one, other in pairwise(days)):
        raise InputError("fit days: the days of a season must follow each other, one by one.")
    shares = shares_on(climate.periods, days, between=climate.between, beyond=climate.beyond)
    return Weather(climate=climate, shares=shares, chain=chain_of(shares.share, climate.persistence))


def fit_hours(
    weather: Weather,
    hours_a_day: ArrayLike,
    *,
    level: float | None = None,
    begins: Iterable[date] = (),
) -> FloatArray:
    """Return the fit hours to reckon with on each day, shape (D,). [h]

    Parameters
    ----------
    weather : Weather
        The season.
    hours_a_day : array_like
        Hours that are worked on a fit day, one number or shape (D,); 0 on days off. [h]
    level : float, optional
        The chance that there are so many fit days or more up to each day, 0 < level < 1; such as 0.8 for a season as
        dry as four in five are. Without it the mean of each day. [-]
    begins : iterable of date
        Days on which the count begins anew, such as the first day of harvest: otherwise a wet spring and a dry fall
        make up for each other.

    Raises
    ------
    InputError
        If hours or level are out of range, or a day of `begins` is not in the season.
    """
    hours = np.broadcast_to(np.asarray(hours_a_day, dtype=float), (len(weather.days),))
    if not np.all((hours >= 0) & (hours <= 24)):
        raise InputError("fit hours: hours a day must be from 0 to 24.")
    if level is None:
        return np.asarray(weather.shares.share * hours)
    starts = {0}
    for day in begins:
        if day not in weather.days:
            raise InputError(f"fit hours: the count is to begin anew on {day}, which is not a day of the season.")
        starts.add(weather.days.index(day))
    edges = [*sorted(starts), len(weather.days)]
    parts = []
    for start, stop in pairwise(edges):
        stretch = chain_of(weather.shares.share[start:stop], weather.climate.persistence)
        parts.append(np.diff(counts_at_level(stretch, level), prepend=0.0))
    return np.asarray(np.concatenate(parts) * hours)
