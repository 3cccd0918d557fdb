"""Rows that must match: which rows a tool takes at a time, and whether it ever straddles a guess row.

A planter lays P rows at a time. The gap between two of its passes is a guess row: it is as wide as the driver or the
guidance made it, while the gaps within a pass are as wide as the row units are apart. A tool of T rows that is driven
pass beside pass from the edge at which the planter began takes rows (k-1)T+1 to kT on pass k. It straddles a guess row
when a multiple of P lies strictly between (k-1)T and kT; it never does if, and only if, T divides P.

All of it is arithmetic of whole rows (derived); that a tool should keep off guess rows is common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, lcm
from typing import Final

from fieldgeo.errors import InputError

LENGTH_GRAIN_M: Final = 1e-7  # to which lengths are taken as whole numbers: 1/16 in is 1.5875 mm
LONGEST_PERIOD_M: Final = 10_000.0  # own choice: what repeats only beyond this repeats on no field
MOST_ROWS: Final = 100_000  # across a field; own choice, 30 in rows over 76 km


@dataclass(frozen=True, slots=True, kw_only=True)
class RowPattern:
    """Which passes of a tool straddle guess rows, over one period of both."""

    planter_rows: int
    tool_rows: int
    period_rows: int  # after so many rows the pattern begins anew
    passes: int  # of the tool in a period
    straddling: tuple[int, ...]  # numbers of the passes that straddle a guess row, from 1
    most_guess_rows: int  # most guess rows that lie within one pass

    @property
    def is_clear(self) -> bool:
        """Whether no pass ever straddles a guess row."""
        return not self.straddling

    def rows_of(self, number: int) -> tuple[int, int]:
        """Return the first and the last row that a pass of that number takes, from 1."""
        return (number - 1) * self.tool_rows + 1, number * self.tool_rows


def row_pattern(planter_rows: int, tool_rows: int) -> RowPattern:
    """Return which passes of a tool straddle guess rows, over one period.

    Parameters
    ----------
    planter_rows : int
        Rows that the planter lays at a time, >= 1. [-]
    tool_rows : int
        Rows that the tool takes at a time, >= 1. [-]

    Returns
    -------
    RowPattern
        Derived: see the head of this module.

    Raises
    ------
    InputError
        If either has no row.

    Examples
    --------
    >>> pattern = row_pattern(16, 6)
    >>> pattern.straddling, pattern.rows_of(3), pattern.period_rows
    ((3, 6), (13, 18), 48)
    """
    _check_rows(planter_rows, tool_rows)
    period = lcm(planter_rows, tool_rows)
    passes = period // tool_rows
    within = [guess_rows_within((n - 1) * tool_rows, n * tool_rows, planter_rows) for n in range(1, passes + 1)]
    return RowPattern(
        planter_rows=planter_rows,
        tool_rows=tool_rows,
        period_rows=period,
        passes=passes,
        straddling=tuple(n for n, count in enumerate(within, start=1) if count),
        most_guess_rows=max(within),
    )


def guess_rows_within(low: int, high: int, planter_rows: int) -> int:
    """Return how many guess rows lie strictly between two counts of rows.

    Parameters
    ----------
    low, high : int
        Rows before the first and up to the last that are taken, 0 <= low < high. [-]
    planter_rows : int
        Rows that the planter lays at a time, >= 1. [-]

    Examples
    --------
    >>> guess_rows_within(12, 18, 16), guess_rows_within(8, 16, 16)
    (1, 0)
    """
    return (high - 1) // planter_rows - low // planter_rows


@dataclass(frozen=True, slots=True, kw_only=True)
class SideCount:
    """What straddling there is over all the rows of a field, begun at one side."""

    passes: int  # the last one may take fewer rows
    straddling: int
    first: int | None  # number of the first pass that straddles, from 1


def straddled_from_sides(planter_rows: int, tool_rows: int, field_rows: int) -> tuple[SideCount, SideCount]:
    """Return what straddles on a field where the last planter pass may lay fewer rows, from each side.

    Begun at the other side the tool meets the short planter pass first. So the sides differ only where the rows of the
    field are no whole number of planter passes.

    Parameters
    ----------
    planter_rows : int
        Rows that the planter lays at a time, >= 1. [-]
    tool_rows : int
        Rows that the tool takes at a time, >= 1. [-]
    field_rows : int
        Rows across the field, 1 to `MOST_ROWS`. [-]

    Returns
    -------
    tuple of SideCount
        Begun where the planter began, and begun at the other side.

    Raises
    ------
    InputError
        If a number of rows is below 1, or the field has more than `MOST_ROWS`.
    """
    _check_rows(planter_rows, tool_rows)
    if not 1 <= field_rows <= MOST_ROWS:
        raise InputError(f"rows of the field: got {field_rows}. They must be from 1 to {MOST_ROWS}.")
    passes = ceil(field_rows / tool_rows)
    counts = []
    for is_other_side in (False, True):
        within = []
        for number in range(passes):
            low, high = number * tool_rows, min((number + 1) * tool_rows, field_rows)
            if is_other_side:
                low, high = field_rows - high, field_rows - low
            within.append(guess_rows_within(low, high, planter_rows))
        straddling = [number for number, count in enumerate(within, start=1) if count]
        counts.append(SideCount(passes=passes, straddling=len(straddling), first=straddling[0] if straddling else None))
    return counts[0], counts[1]


@dataclass(frozen=True, slots=True, kw_only=True)
class WayRound:
    """How a tool that takes fewer rows than the planter keeps off guess rows: some passes with rows left empty."""

    passes: int  # to each planter pass
    last_rows: int  # that the last of them takes
    extra_share: float  # passes more than full ones, as a share of these [-]


def way_round(planter_rows: int, tool_rows: int) -> WayRound | None:
    """Return how a tool keeps off guess rows by taking fewer rows on its last pass in each planter pass.

    Parameters
    ----------
    planter_rows : int
        Rows that the planter lays at a time, >= 1. [-]
    tool_rows : int
        Rows that the tool takes at a time, >= 1. [-]

    Returns
    -------
    WayRound or None
        Derived: ceil(P / T) passes for each P rows, where full passes would be P / T. None for a tool that takes more
        rows than the planter lays: it straddles however it is driven.

    Examples
    --------
    >>> way_round(16, 6)
    WayRound(passes=3, last_rows=4, extra_share=0.125)
    """
    _check_rows(planter_rows, tool_rows)
    if tool_rows > planter_rows:
        return None
    passes = ceil(planter_rows / tool_rows)
    return WayRound(
        passes=passes,
        last_rows=planter_rows - (passes - 1) * tool_rows,
        extra_share=passes * tool_rows / planter_rows - 1,
    )


def rows_off_m(guess_rows: int, guess_error_m: float) -> float:
    """Return how far off its row a unit can run at most, on a pass with guess rows within it. [m]

    Derived: m guess rows that are each off by e put the outer planter passes m e apart from where they should be; a
    tool steered to the middle of that has half of it on either side.

    Parameters
    ----------
    guess_rows : int
        Guess rows within the pass, >= 0. [-]
    guess_error_m : float
        How far a guess row is off, too wide or too narrow, >= 0. [m]
    """
    return guess_rows * guess_error_m / 2


def spacing_off_m(rows: int, first_spacing_m: float, second_spacing_m: float) -> float:
    """Return how far off its row the outer unit runs when two spacings are nearly the same. [m]

    Derived: centred on its rows, the outer unit lies (n - 1) / 2 spacings from the middle.

    Parameters
    ----------
    rows : int
        Rows that are taken at a time, >= 1. [-]
    first_spacing_m, second_spacing_m : float
        Spacing of the rows, and of the units that follow them, > 0. [m]
    """
    return (rows - 1) / 2 * abs(first_spacing_m - second_spacing_m)


def period_m(first_m: float, second_m: float) -> float | None:
    """Return after what distance across the rows two widths of pass begin at the same place again. [m]

    Parameters
    ----------
    first_m, second_m : float
        Widths of a pass, > 0. [m]

    Returns
    -------
    float or None
        Least common multiple, lengths taken to `LENGTH_GRAIN_M`; None where it is beyond `LONGEST_PERIOD_M`.

    Examples
    --------
    >>> period_m(12.0, 27.0)
    108.0
    """
    grains = lcm(round(first_m / LENGTH_GRAIN_M), round(second_m / LENGTH_GRAIN_M))
    period = float(f"{grains * LENGTH_GRAIN_M:.12g}")
    return period if 0 < period <= LONGEST_PERIOD_M else None


def _check_rows(planter_rows: int, tool_rows: int) -> None:
    for what, rows in (("planter", planter_rows), ("tool", tool_rows)):
        if rows < 1:
            raise InputError(f"rows of the {what}: got {rows}. They must be 1 or more.")
