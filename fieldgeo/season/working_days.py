"""Published days fit for work: shares by region and period, and counts that a simulation can be held against.

The rows lie in `working_days.csv`, each with its source and how well it is known. Those of one region are recalled
from memory with real doubt; whatever rests on them says so.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache
from typing import TYPE_CHECKING, Final

from fieldgeo.errors import InputError
from fieldgeo.machinery.tables import Source, source_of, table_rows
from fieldgeo.season.fit_days import FitPeriod, read_year_day

if TYPE_CHECKING:
    from collections.abc import Mapping

TABLE: Final = "working_days.csv"
# Kinds of rows that a share of fit days can be had from.
SHARE_KINDS: Final = ("probability", "days_in_period", "days_per_week", "probability_recalled")


@dataclass(frozen=True, slots=True, kw_only=True)
class Exceedance:
    """How likely a span has so many fit days or more."""

    region: str
    first: str
    last: str
    days: int  # of the span
    at_least: int  # fit days
    chance: float  # [-]
    source: Source


@cache
def working_days() -> tuple[Mapping[str, str], ...]:
    """Return the rows of the table, as text."""
    return table_rows(TABLE, "fieldgeo.season")


def regions() -> tuple[str, ...]:
    """Return the regions that the table has shares of fit days for."""
    return tuple(dict.fromkeys(row["region"] for row in working_days() if _share(row) is not None))


def published_periods(region: str, *, kind: str | None = None) -> tuple[FitPeriod, ...]:
    """Return the periods of a region with their published shares of fit days.

    Parameters
    ----------
    region : str
        Region of the table; case does not matter.
    kind : str, optional
        Kind of the rows, one of `SHARE_KINDS`; all of them if not given.

    Raises
    ------
    InputError
        If the table has no such region, or none of the kind.

    Examples
    --------
    >>> print(published_periods("Illinois")[0])
    Apr 1 to May 31: 50 %
    """
    wanted = " ".join(region.split()).casefold()
    rows = [row for row in working_days() if row["region"].casefold() == wanted and _share(row) is not None]
    if not rows:
        others = sorted({row["region"] for row in working_days() if row["region"].casefold() == wanted})
        beside = " The table has other figures of it, but no share of fit days." if others else ""
        raise InputError(
            f"fit days: got region {region[:60]!r}. The table has {', '.join(regions())}.{beside} Choose one of them, "
            "or give the share of fit days or your own history."
        )
    if kind is not None and kind not in {row["kind"] for row in rows}:
        raise InputError(
            f"fit days: {rows[0]['region']} has no rows of kind {kind[:60]!r}. It has "
            f"{', '.join(dict.fromkeys(row['kind'] for row in rows))}."
        )
    return tuple(_period(row) for row in rows if kind in (None, row["kind"]))


def published_exceedances() -> tuple[Exceedance, ...]:
    """Return the published chances of so many fit days or more."""
    return tuple(
        Exceedance(
            region=row["region"], first=row["period_start"], last=row["period_end"], days=int(row["calendar_days"]),
            at_least=int(row["unit"].split(" of ")[1].split()[0]), chance=float(row["value"]), source=source_of(row),
        )
        for row in working_days()
        if row["kind"] == "exceedance"
    )  # fmt: skip


def _share(row: Mapping[str, str]) -> float | None:
    """Return the share of fit days that a row tells; None where it tells another thing, or a single year."""
    if row["kind"] not in SHARE_KINDS:
        return None
    value = float(row["value"])
    if row["kind"].startswith("probability"):
        return value
    typical = row["kind"] == "days_per_week" or "average" in row["unit"] or "trend-line" in row["unit"]
    return value / int(row["calendar_days"]) if typical else None


def _period(row: Mapping[str, str]) -> FitPeriod:
    share = _share(row)
    assert share is not None
    source = source_of(row)
    if not row["kind"].startswith("probability"):  # a number of days over the days of the span: one step
        source = replace(source, status="read_derived")
    return FitPeriod(
        first=read_year_day(row["period_start"]), last=read_year_day(row["period_end"]), share=share, source=source
    )
