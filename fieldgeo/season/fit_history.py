"""A grower's own record of days: dates with fit or not, or hours; the share of fit days by week and how days cling.

What comes of it stands with its counts, so that a share from four days looks like one.
"""

from __future__ import annotations

import csv
from collections import defaultdict
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import TYPE_CHECKING, Final

from fieldgeo.errors import FaultyInputError, FileError
from fieldgeo.machinery.tables import Source
from fieldgeo.outline.files.geojson import plain_name
from fieldgeo.season.fit_days import FitPeriod, YearDay
from fieldgeo.season.wet_spells import MOST_PERSISTENCE

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

DATE_NAMES: Final = ("date", "day")
FIT_NAMES: Final = ("fit", "suitable", "workable", "fit_day")
HOURS_NAMES: Final = ("hours", "hours_h", "fit_hours", "field_hours")
_YES: Final = frozenset({"yes", "y", "true", "1", "fit"})
_NO: Final = frozenset({"no", "n", "false", "0", "unfit"})
# A day is fit when work is possible a major part of it (USDA NASS, quoted by Kansas State University): here half of ten
# hours, own choice.
FIT_FROM_H: Final = 5.0
FEW_YEARS: Final = 5  # own choice: below it the share of a week rests on 35 days at the most
FEW_PAIRS: Final = 200  # own choice: the persistence is then known to about 0.07
_MOST_BYTES: Final = 20_000_000
_MOST_FAULTS: Final = 20
_DAYS_OF_WEEK: Final = 7


@dataclass(frozen=True, slots=True, kw_only=True)
class WeekCount:
    """Days on record in one week of the year, over all years."""

    first: YearDay
    last: YearDay
    days: int
    fit: int

    @property
    def share(self) -> float:
        """Share of fit days. [-]"""
        return self.fit / self.days


@dataclass(frozen=True, slots=True, kw_only=True)
class FitHistory:
    """Days on record, by week, and how far days that follow each other are alike."""

    name: str
    years: tuple[int, ...]
    weeks: tuple[WeekCount, ...]
    after_fit: tuple[int, int]  # days after a fit one: all, and those fit
    after_unfit: tuple[int, int]  # days after an unfit one: all, and those fit
    correlation: float | None  # of neighbours beyond what their weeks explain; None where no two days follow [-]
    notes: tuple[str, ...]

    @property
    def days(self) -> int:
        """Days on record."""
        return sum(week.days for week in self.weeks)

    @property
    def pairs(self) -> int:
        """Days on record whose day before is on record too."""
        return self.after_fit[0] + self.after_unfit[0]

    @property
    def persistence(self) -> float | None:
        """The correlation as a chain can have it: not below 0. [-]"""
        return None if self.correlation is None else min(max(self.correlation, 0.0), MOST_PERSISTENCE)

    @property
    def source(self) -> Source:
        """Where figures come from that rest on it."""
        one = len(self.years) == 1
        years = f"1 year, {self.years[0]}" if one else f"{len(self.years)} years, {self.years[0]} to {self.years[-1]}"
        return Source(text=f"{self.name}: {self.days:,} days of {years}", status="read")

    def periods(self) -> tuple[FitPeriod, ...]:
        """Return each week as a period with its share of fit days."""
        return tuple(
            FitPeriod(first=week.first, last=week.last, share=week.share, source=self.source) for week in self.weeks
        )


def read_history(
    path: Path,
    *,
    date_column: str | None = None,
    fit_column: str | None = None,
    hours_column: str | None = None,
    fit_from_h: float = FIT_FROM_H,
) -> FitHistory:
    """Return what a file of days says about days fit for work.

    Parameters
    ----------
    path : Path
        Comma-separated values with a row of names: a date (2024-04-17), and fit (yes or no) or hours.
    date_column, fit_column, hours_column : str, optional
        Names of the columns; without them the first of `DATE_NAMES`, `FIT_NAMES` or `HOURS_NAMES` that is there.
    fit_from_h : float
        Hours from which a day is fit. [h]

    Raises
    ------
    FileError
        If the file cannot be read.
    FaultyInputError
        If it cannot be used; every fault is in `.problems`.
    """
    try:
        if path.stat().st_size > _MOST_BYTES:
            raise FaultyInputError(f"{path.name}: larger than {_MOST_BYTES / 1e6:g} MB, which no record of days is.")
        rows = list(csv.DictReader(path.read_text(encoding="utf-8-sig").splitlines()))
    except OSError as error:
        raise FileError(f"{path}: the record of days cannot be read: {error.strerror}. Correct its name.") from error
    except (UnicodeDecodeError, csv.Error) as error:
        raise FileError(f"{path}: cannot be read as comma-separated text: {error}") from error
    columns = [name for name in (rows[0] if rows else {}) if isinstance(name, str)]
    faults: list[str] = []
    day_name = _column(columns, date_column, DATE_NAMES, "a date", faults)
    use_hours = fit_column is None and (
        hours_column is not None or not any(name.strip().lower() in FIT_NAMES for name in columns)
    )
    value_name = (
        _column(columns, hours_column, HOURS_NAMES, "hours, or fit (yes or no)", faults)
        if use_hours
        else _column(columns, fit_column, FIT_NAMES, "fit (yes or no)", faults)
    )
    fit = {} if day_name is None or value_name is None else _days(
        rows, day_name, value_name, fit_from_h if use_hours else None, faults
    )  # fmt: skip
    if not fit and not faults:
        faults.append("it has no rows")
    if faults:
        more = [f"and {len(faults) - _MOST_FAULTS} more"] if len(faults) > _MOST_FAULTS else []
        raise FaultyInputError(f"{path.name}: the record of days cannot be used:", faults[:_MOST_FAULTS] + more)
    notes = [f"a day is fit from {fit_from_h:g} h up"] if use_hours else []
    return history_of(fit, name=plain_name(path.name), notes=notes)


def history_of(fit: Mapping[date, bool], *, name: str = "own record", notes: Sequence[str] = ()) -> FitHistory:
    """Return what days on record say.

    Parameters
    ----------
    fit : mapping
        Whether each day was fit; at least one day.
    name : str
        Name of the record, for sources.
    notes : sequence of str
        What was assumed in reading it.

    Notes
    -----
    Weeks are counted from the 1st of January, seven days each, the last one eight; the 29th of February stands with the
    28th. The correlation is that of what is left of each day when the share of its week is taken away: the sum of the
    products of neighbours over the sum of the products of their spreads (derived). Taking the weeks' own shares away
    makes it a little too low where years are few.
    """
    counts: dict[int, list[int]] = defaultdict(lambda: [0, 0])
    for day, is_fit in fit.items():
        counts[_week(day)][0] += 1
        counts[_week(day)][1] += is_fit
    share = {week: number_fit / number for week, (number, number_fit) in counts.items()}
    after = {True: [0, 0], False: [0, 0]}
    product = spread = 0.0
    for day, is_fit in fit.items():
        before = day - timedelta(days=1)
        if before not in fit:
            continue
        after[fit[before]][0] += 1
        after[fit[before]][1] += is_fit
        one, other = share[_week(before)], share[_week(day)]
        product += (fit[before] - one) * (is_fit - other)
        spread += (one * (1 - one) * other * (1 - other)) ** 0.5
    years = tuple(sorted({day.year for day in fit}))
    history = FitHistory(
        name=name, years=years, weeks=tuple(_week_count(week, *counts[week]) for week in sorted(counts)),
        after_fit=(after[True][0], after[True][1]), after_unfit=(after[False][0], after[False][1]),
        correlation=product / spread if spread > 0 else None, notes=tuple(notes),
    )  # fmt: skip
    return replace(history, notes=(*notes, *_cautions(history)))


def _cautions(history: FitHistory) -> list[str]:
    said = []
    if len(history.years) < FEW_YEARS:
        said.append(
            f"{history.name} has {len(history.years)} {'year' if len(history.years) == 1 else 'years'}; the share of a "
            f"week swings widely below {FEW_YEARS}"
        )
    thin = [week for week in history.weeks if week.days < _DAYS_OF_WEEK * min(FEW_YEARS, len(history.years)) / 2]
    if thin:
        said.append(
            f"{len(thin)} of {len(history.weeks)} weeks have few days on record, the least {min(w.days for w in thin)} "
            f"in the week from {min(thin, key=lambda week: week.days).first}"
        )
    if history.pairs < FEW_PAIRS:
        said.append(f"the persistence rests on {history.pairs} pairs of days; {FEW_PAIRS} or more would hold it")
    if history.correlation is not None and history.correlation < 0:
        said.append(f"neighbouring days correlate by {history.correlation:.2f}; days are taken as independent")
    return said


def _week(day: date) -> int:
    return min((YearDay(day.month, day.day).number - 1) // _DAYS_OF_WEEK, 51)


def _week_count(week: int, days: int, fit: int) -> WeekCount:
    first = date(2001, 1, 1) + timedelta(days=_DAYS_OF_WEEK * week)
    last = date(2001, 12, 31) if week == 51 else first + timedelta(days=_DAYS_OF_WEEK - 1)
    return WeekCount(first=YearDay(first.month, first.day), last=YearDay(last.month, last.day), days=days, fit=fit)


def _column(
    columns: Sequence[str], asked: str | None, names: Sequence[str], what: str, faults: list[str]
) -> str | None:
    for column in columns:
        plain = column.strip().lower()
        if plain == asked.strip().lower() if asked is not None else plain in names:
            return column
    have = ", ".join(repr(column[:40]) for column in columns[:12]) or "none"
    wanted = f"a column {asked[:40]!r}" if asked is not None else f"a column of {what}, named {' or '.join(names)}"
    faults.append(f"it has no {wanted.removeprefix('a ')}. Its columns: {have}.")
    return None


def _days(
    rows: Sequence[Mapping[str, str]], day_name: str, value_name: str, fit_from_h: float | None, faults: list[str]
) -> dict[date, bool]:
    fit: dict[date, bool] = {}
    for number, row in enumerate(rows, start=2):
        text, value = (row.get(day_name) or "").strip(), (row.get(value_name) or "").strip()
        try:
            day = date.fromisoformat(text)
        except ValueError:
            faults.append(f"line {number}: got date {text[:40]!r}. It must be such as 2024-04-17.")
            continue
        is_fit = _is_fit(value, fit_from_h)
        if is_fit is None:
            rule = "yes or no" if fit_from_h is None else "a number of hours from 0 to 24"
            faults.append(f"line {number}: got {value_name.strip()[:40]} {value[:40]!r}. It must be {rule}.")
        elif day in fit:
            faults.append(f"line {number}: {day} is there twice.")
        else:
            fit[day] = is_fit
    return fit


def _is_fit(value: str, fit_from_h: float | None) -> bool | None:
    """Return whether a day is fit by its value; None where the value cannot be read."""
    if fit_from_h is None:
        word = value.lower()
        return True if word in _YES else False if word in _NO else None
    try:
        hours = float(value)
    except ValueError:
        return None
    return hours >= fit_from_h if 0 <= hours <= 24 else None
