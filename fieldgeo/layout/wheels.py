"""Wheels among rows: do they run on the rows or between, and how far to the side would they run clear?

Rows lie half a spacing from the edge of the planted ground, and a spacing apart; guess rows are taken as they should
be. Everything here is derived from that.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import floor
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fieldgeo.errors import InputError
from fieldgeo.layout.rows import LENGTH_GRAIN_M, period_m

_MOST_PASSES: Final = 2000  # own choice: more than any field takes; a pattern that repeats later is looked at so far


@dataclass(frozen=True, slots=True, kw_only=True)
class Wheels:
    """Where the wheels of a tool run among the rows, on the worst of its passes."""

    track_m: float  # between the middles of the wheels
    tire_m: float  # width of a tire; 0 where it is not known
    clearance_m: float  # from the edge of a tire to the nearest row, as the tool begins; < 0 is on the row
    shift_m: float  # by which all passes should be moved to the side, either way, for the most clearance
    best_clearance_m: float  # after that
    guess_rows: int  # most guess rows between the rows beside one wheel and those beside the other

    @property
    def is_clear(self) -> bool:
        """Whether the tires touch no row once the passes lie where they should."""
        return self.best_clearance_m > 0

    @property
    def is_clear_unmoved(self) -> bool:
        """Whether the tires touch no row when the first pass begins at the edge of the planted ground."""
        return self.clearance_m > 0


def wheels_among_rows(*, pitch_m: float, track_m: float, tire_m: float, spacing_m: float, planter_rows: int) -> Wheels:
    """Return where the wheels run when a tool is driven pass beside pass from the edge of the planted ground.

    Parameters
    ----------
    pitch_m : float
        Distance between the middles of neighbouring passes; the first lies half of it from the edge, > 0. [m]
    track_m : float
        Distance between the middles of the wheels, > 0. [m]
    tire_m : float
        Width of a tire, >= 0. [m]
    spacing_m : float
        Distance between rows, > 0. [m]
    planter_rows : int
        Rows that the planter lays at a time, >= 1. [-]

    Raises
    ------
    InputError
        If a value is outside its range.

    Notes
    -----
    The places of all wheels, taken modulo the row spacing, are points on a circle; a row is one more point on it. The
    row is clear of all wheels by half the widest gap between them, once the passes are moved so that it lies in the
    middle of that gap.
    """
    if not (pitch_m > 0 and track_m > 0 and tire_m >= 0 and spacing_m > 0 and planter_rows >= 1):
        raise InputError("wheels: pitch, track, row spacing and planter rows must be above zero, the tire not below.")
    repeat = period_m(pitch_m, planter_rows * spacing_m)
    passes = min(_MOST_PASSES, max(1, round(repeat / pitch_m)) if repeat else _MOST_PASSES)
    centres = (np.arange(passes) + 0.5) * pitch_m
    wheels = np.concatenate([centres - track_m / 2, centres + track_m / 2])
    clearance = float(_to_row(wheels, spacing_m).min())
    gap, middle = _widest_gap(wheels, spacing_m)
    shift = (spacing_m / 2 - middle + spacing_m / 2) % spacing_m - spacing_m / 2
    if clearance >= gap / 2 - LENGTH_GRAIN_M:  # as good as it gets
        shift = 0.0
    return Wheels(
        track_m=track_m,
        tire_m=tire_m,
        clearance_m=_clean(clearance - tire_m / 2),
        shift_m=_clean(abs(shift)),
        best_clearance_m=_clean(gap / 2 - tire_m / 2),
        guess_rows=_guess_rows_between((centres + shift).tolist(), track_m, spacing_m, planter_rows),
    )


def _to_row(places: NDArray[np.float64], spacing_m: float) -> NDArray[np.float64]:
    from_row = (places - spacing_m / 2) % spacing_m
    return np.asarray(np.minimum(from_row, spacing_m - from_row))


def _widest_gap(places: NDArray[np.float64], spacing_m: float) -> tuple[float, float]:
    """Return the widest gap between places modulo the spacing, and its middle."""
    around = np.sort(places % spacing_m)
    gaps = np.diff(around, append=around[0] + spacing_m)
    widest = int(np.argmax(gaps.round(7)))
    return float(gaps[widest]), float(around[widest] + gaps[widest] / 2)


def _guess_rows_between(centres: list[float], track_m: float, spacing_m: float, planter_rows: int) -> int:
    """Return the most guess rows between the rows left and right of both wheels, over the passes of one period."""
    most = 0
    for centre in centres:
        # Numbers of the rows on the outer sides of both wheels, the first row being 0.
        low = floor((centre - track_m / 2) / spacing_m - 0.5 + 1e-9)
        high = floor((centre + track_m / 2) / spacing_m - 0.5 + 1e-9) + 1
        most = max(most, high // planter_rows - max(low, 0) // planter_rows)
    return most


def _clean(length_m: float) -> float:
    """Return a length without the noise of floats."""
    return round(length_m, 7) + 0.0
