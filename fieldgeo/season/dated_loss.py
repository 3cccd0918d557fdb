"""Yield lost by the date of the work, where a trial has told it: closer to the truth than one share for each day late.

The rows are those of `timeliness.csv` with dates. A curve takes the loss against the best date of its own rows; early
work is not charged.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cache
from itertools import groupby
from typing import TYPE_CHECKING, Final

import numpy as np

from fieldgeo.errors import InputError
from fieldgeo.machinery.tables import Source, source_of, table_rows
from fieldgeo.season.fit_days import YearDay, read_year_day

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from fieldgeo.frame import FloatArray

# Best dates of the curves of losses, as the rows beside them print them: the first in the unit, the second in a note.
_BEST: Final = re.compile(r"(?:max near|best date) (\w{3} \d{1,2})")


@dataclass(frozen=True, slots=True, kw_only=True)
class LossCurve:
    """Share of the best yield that is lost by the date of one operation."""

    operation: str
    crop: str
    region: str
    numbers: tuple[float, ...]  # places in the year, ascending [days]
    losses: tuple[float, ...]  # at each of them [-]
    first_known: float  # from here on the rows tell the loss; before, it is carried back to nothing [days]
    source: Source

    @property
    def name(self) -> str:
        """Return such as "planting corn, Pennsylvania"."""
        return f"{self.operation} {self.crop}, {self.region}"

    def loss(self, days: Sequence[date]) -> FloatArray:
        """Return the share lost on each day, shape (D,). [-]

        Parameters
        ----------
        days : sequence of date
            Days of the work.

        Notes
        -----
        Straight between the dates of the rows, and beyond the last of them at the pace of the last two, up to 1.
        """
        numbers = np.asarray([YearDay(day.month, day.day).number for day in days], dtype=float)
        known, lost = np.asarray(self.numbers), np.asarray(self.losses)
        pace = (lost[-1] - lost[-2]) / (known[-1] - known[-2])
        beyond = lost[-1] + pace * (numbers - known[-1])
        found = np.where(numbers > known[-1], beyond, np.interp(numbers, known, lost))
        return np.asarray(np.clip(found, 0.0, 1.0))

    def dated(self, year: int) -> tuple[tuple[date, float], ...]:
        """Return the curve as dates of a year with shares lost, rising; a date between two days is the earlier one.

        Parameters
        ----------
        year : int
            The year.
        """
        start = date(year, 1, 1)
        leap = 1 if (date(year, 3, 1) - start).days == 60 else 0
        return tuple(
            (start + timedelta(days=int(number) - 1 + (leap if number > 59 else 0)), loss)
            for number, loss in zip(self.numbers, self.losses, strict=True)
        )

    def notes(self, days: Sequence[date]) -> list[str]:
        """Return what to know about the losses on these days: how well they are known, days beyond the rows."""
        numbers = [YearDay(day.month, day.day).number for day in days]
        late = sum(number > self.numbers[-1] for number in numbers)
        early = sum(self.numbers[0] < number < self.first_known for number in numbers)
        said = [f"loss by date of {self.name}: {self.source.citation}"]
        if late:
            said.append(f"{late} days after its last row go on at the pace of its last two")
        if early:
            said.append(f"{early} days before its first row are carried back to no loss at the pace of its first two")
        return said


@cache
def loss_curves() -> tuple[LossCurve, ...]:
    """Return every curve that the table has."""
    rows = [row for row in table_rows("timeliness.csv") if _loss(row) is not None]
    found = []
    for _, group in groupby(rows, key=lambda row: (row["operation"], row["crop"], row["region_or_condition"])):
        found.append(_curve(list(group)))
    return tuple(found)


def loss_curve(operation: str, crop: str, region: str) -> LossCurve:
    """Return the curve of an operation, a crop and a region.

    Parameters
    ----------
    operation, crop, region : str
        As the table has them; case does not matter, and a region may be given by its beginning.

    Raises
    ------
    InputError
        If the table has no such curve.

    Examples
    --------
    >>> curve = loss_curve("planting", "corn", "northern/central Illinois")
    >>> from datetime import date
    >>> [round(float(x), 3) for x in curve.loss([date(2026, 4, 20), date(2026, 5, 20), date(2026, 5, 25)])]
    [0.0, 0.08, 0.11]
    """
    asked = (operation.strip().casefold(), crop.strip().casefold().removesuffix("s"))
    near = region.strip().casefold()
    same = [one for one in loss_curves() if (one.operation, one.crop) == asked]
    for curve in same:
        if curve.region.casefold() == near:
            return curve
    begins = [curve for curve in same if near and curve.region.casefold().startswith(near)]
    if begins:
        return begins[0]
    have = "; ".join(curve.name for curve in loss_curves())
    raise InputError(
        f"loss by date: got {operation[:40]!r} of {crop[:40]!r} in {region[:60]!r}. The table has {have}. Choose one, "
        "or give a share for each day late."
    )


def _loss(row: Mapping[str, str]) -> float | None:
    """Return the share lost that a row with dates tells; None for a row of another kind."""
    if row["kind"] in ("loss_at_date", "window") and row["unit"].startswith("%"):
        return float(row["value"]) / 100
    return 1 - float(row["value"]) / 100 if row["kind"] == "relative_yield" else None


def _number(row: Mapping[str, str]) -> float:
    """Return the place in the year that a row holds for; the middle of a span."""
    if row["kind"] == "window":  # the loss is the most within it: at its end
        return read_year_day(row["period_end"]).number
    text, _, end = row["period_start"].partition("-")
    first = read_year_day(text)
    if not end:
        return first.number
    last = read_year_day(end) if " " in end else YearDay(first.month, int(end))
    return (first.number + last.number) / 2


def _curve(rows: Sequence[Mapping[str, str]]) -> LossCurve:
    numbers = [_number(row) for row in rows]
    raw = [_loss(row) or 0.0 for row in rows]
    first = rows[0]
    if first["kind"] == "relative_yield":  # against the best of its own rows, other plant densities aside
        best = max(1 - loss for loss in raw)
        losses = [1 - (1 - loss) / best for loss in raw]
    else:
        losses = raw
    first_known = numbers[0]
    start = _best_number(rows)
    if losses[0] > 0:
        if start is None:  # carried back at the pace of the first two
            start = numbers[0] - losses[0] * (numbers[1] - numbers[0]) / (losses[1] - losses[0])
        numbers, losses = [start, *numbers], [0.0, *losses]
    return LossCurve(
        operation=first["operation"], crop=first["crop"], region=first["region_or_condition"],
        numbers=tuple(numbers), losses=tuple(losses), first_known=first_known, source=source_of(first),
    )  # fmt: skip


def _best_number(rows: Sequence[Mapping[str, str]]) -> float | None:
    own = {(row["operation"], row["crop"], row["region_or_condition"]) for row in rows}
    for row in table_rows("timeliness.csv"):
        if (row["operation"], row["crop"], row["region_or_condition"]) in own:
            match = _BEST.search(row["unit"] + " " + row["note"])
            if match:
                return read_year_day(match[1]).number
    return None
