"""Periods of the year with the share of their days that are fit for work, and the share on any day from them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from fieldgeo.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from fieldgeo.frame import FloatArray
    from fieldgeo.machinery.tables import Source

MONTHS: Final = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_MOST_DAYS: Final = 366  # of a season


class YearDay(NamedTuple):
    """A day of any year."""

    month: int
    day: int

    @property
    def number(self) -> int:
        """Place in a year of 365 days, from 1; the 29th of February stands with the 28th."""
        return date(2001, self.month, min(self.day, 28) if self.month == 2 else self.day).timetuple().tm_yday

    def __str__(self) -> str:
        """Return such as "Apr 10"."""
        return f"{MONTHS[self.month - 1]} {self.day}"


@dataclass(frozen=True, slots=True, kw_only=True)
class FitPeriod:
    """Part of the year in which one share of the days is fit.

    Raises
    ------
    InputError
        If it ends before it begins, or the share is not from 0 to 1.
    """

    first: YearDay
    last: YearDay  # counted too
    share: float  # 0 to 1 [-]
    source: Source

    def __post_init__(self) -> None:
        if self.first.number > self.last.number:
            raise InputError(
                f"fit days: a period runs from {self.first} to {self.last}. It must end within the year it begins in; "
                "give two periods."
            )
        if not 0 <= self.share <= 1:
            raise InputError(
                f"fit days: {self.first} to {self.last}: the share is {self.share:g}. It must be from 0 to 1."
            )

    def __str__(self) -> str:
        """Return such as "Apr 10 to May 20: 49 %"."""
        return f"{self.first} to {self.last}: {100 * self.share:.0f} %"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FitShares:
    """Share of fit days on each day of a season, and where each comes from."""

    days: tuple[date, ...]
    share: FloatArray  # shape (D,) [-]
    period: tuple[int, ...]  # number of the period of each day; -1 outside all of them
    periods: tuple[FitPeriod, ...]

    @property
    def between_days(self) -> int:
        """Days between two periods, where the share runs straight from the one to the other."""
        return self._outside(beyond=False)

    @property
    def beyond_days(self) -> int:
        """Days before or after all periods, which have the share of the nearest."""
        return self._outside(beyond=True)

    @property
    def used(self) -> tuple[FitPeriod, ...]:
        """Periods that a day lies in, and those next to days outside."""
        used = {number for number in self.period if number >= 0}
        order = sorted(range(len(self.periods)), key=lambda place: self.periods[place].first.number)
        for day in (day for day, number in zip(self.days, self.period, strict=True) if number < 0):
            at = YearDay(day.month, day.day).number
            used.add(next((place for place in reversed(order) if self.periods[place].last.number < at), order[0]))
            used.add(next((place for place in order if self.periods[place].first.number > at), order[-1]))
        return tuple(self.periods[number] for number in sorted(used))

    def _outside(self, *, beyond: bool) -> int:
        least = min(one.first.number for one in self.periods)
        most = max(one.last.number for one in self.periods)
        return sum(
            number < 0 and (not least < YearDay(day.month, day.day).number < most) == beyond
            for day, number in zip(self.days, self.period, strict=True)
        )


def read_year_day(text: str, *, what: str = "day") -> YearDay:
    """Return a day of the year from text such as ``"Apr 10"``, ``"10 April"``, ``"04-10"`` or ``"2026-04-10"``.

    Parameters
    ----------
    text : str
        The day; a year is left aside.
    what : str
        Name of the value, for messages.

    Raises
    ------
    InputError
        If it is no day of a year.

    Examples
    --------
    >>> read_year_day("April 10"), read_year_day("2026-04-10")
    (YearDay(month=4, day=10), YearDay(month=4, day=10))
    """
    words = text.replace("-", " ").replace(",", " ").split()
    numbers = [word for word in words if word.isdecimal() and len(word) <= 2]
    names = [word for word in words if word[:3].title() in MONTHS]
    try:
        if len(names) == len(numbers) == 1 and len(words) == 2:
            found = YearDay(MONTHS.index(names[0][:3].title()) + 1, int(numbers[0]))
        elif not names and len(numbers) == 2 and len(words) in (2, 3):
            found = YearDay(int(numbers[0]), int(numbers[1]))
        else:
            raise ValueError
        date(2000, found.month, found.day)
    except ValueError as error:
        raise InputError(f"{what}: got {text[:60]!r}. It must be a day such as Apr 10 or 04-10.") from error
    return found


def season_days(first: date, last: date) -> tuple[date, ...]:
    """Return every day from the first to the last.

    Parameters
    ----------
    first, last : date
        The last is counted too.

    Raises
    ------
    InputError
        If the last day is before the first, or more than a year after it.
    """
    count = (last - first).days + 1
    if not 1 <= count <= _MOST_DAYS:
        raise InputError(f"season: from {first} to {last} is {count} days. It must be from 1 to {_MOST_DAYS} days.")
    return tuple(first + timedelta(days=number) for number in range(count))


def shares_on(
    periods: Iterable[FitPeriod], days: Sequence[date], *, between: bool = True, beyond: bool = False
) -> FitShares:
    """Return the share of fit days on each day.

    Parameters
    ----------
    periods : iterable of FitPeriod
        Where two hold the same day, the first of them is taken.
    days : sequence of date
        Days of the season, in order.
    between : bool
        On a day between two periods the share runs straight from the end of the one to the beginning of the other;
        otherwise such a day is refused.
    beyond : bool
        A day before all periods has the share of the first, a day after them that of the last; otherwise such a day is
        refused.

    Raises
    ------
    InputError
        If a day has no share; all such days are told at once.
    """
    known = tuple(periods)
    numbers = np.asarray([YearDay(day.month, day.day).number for day in days])
    share, period = np.full(len(days), np.nan), np.full(len(days), -1)
    for place in reversed(range(len(known))):
        one = known[place]
        inside = (numbers >= one.first.number) & (numbers <= one.last.number)
        share[inside], period[inside] = one.share, place
    if between and known:
        bare = np.isnan(share)
        ordered = sorted(known, key=lambda one: one.first.number)
        for one, other in pairwise(ordered):
            gap = bare & (numbers > one.last.number) & (numbers < other.first.number)
            share[gap] = np.interp(numbers[gap], [one.last.number, other.first.number], [one.share, other.share])
    if beyond and known:
        first, last = min(known, key=lambda one: one.first.number), max(known, key=lambda one: one.last.number)
        share[numbers < first.first.number], share[numbers > last.last.number] = first.share, last.share
    bare = np.isnan(share)
    if bare.any():
        given = "; ".join(str(one) for one in known) or "none"
        raise InputError(
            f"fit days: no share is known for {int(bare.sum())} of {len(days)} days, "
            f"{', '.join(_stretches(days, bare))}. Periods known: {given}. Give the share of the days left out "
            "yourself, or another region or your own history."
        )
    return FitShares(days=tuple(days), share=share, period=tuple(int(one) for one in period), periods=known)


def _stretches(days: Sequence[date], chosen: np.ndarray[tuple[int, ...], np.dtype[np.bool_]]) -> list[str]:
    edges = np.flatnonzero(np.diff(np.concatenate([[False], chosen, [False]])))
    said = []
    for start, stop in edges.reshape(-1, 2):
        first, last = (YearDay(days[at].month, days[at].day) for at in (start, stop - 1))
        said.append(f"{first} to {last}")
    return said
