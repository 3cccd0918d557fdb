"""What the direction of the rows does to erosion: the support practice factor of the soil loss equation.

The factor is the soil lost with a practice over what is lost with rows straight up and down the slope. The tables lie
in `practice_factor.csv`, each row with its source and whether it was read there; all of it is recalled, and what is
printed says so.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from fieldgeo.frame import FloatArray

Practice = Literal["up and down", "contour", "contour strips"]
PRACTICES: Final[tuple[Practice, ...]] = ("up and down", "contour", "contour strips")

MOST_ROW_GRADE: Final = 0.02  # NRCS Conservation Practice Standard 330, Contour Farming (read): 2 %, or half the slope
ROW_GRADE_SHARE: Final = 0.5  # of the slope, the same standard (read)
# Above this row crops lose more soil than is tolerable, whatever the tillage: Iowa State University extension (read).
MOST_ROW_CROP_SLOPE: Final = 0.18
PUBLISHED_FROM_PCT: Final = 1  # below and above these slopes the table has no factor, and none is credited
PUBLISHED_TO_PCT: Final = 25
SOURCES: Final = (
    "USDA Agriculture Handbooks 537 (1978) and 703 (1997)"  # of the factors; in full in the table and below
)


@dataclass(frozen=True, slots=True, kw_only=True)
class PracticeFactor:
    """A row of the table."""

    practice: str
    slope_from_pct: int
    slope_to_pct: int
    factor: float  # [-]
    most_length_ft: float | None  # longest slope on which contour rows hold
    source: str
    is_recalled: bool  # known from memory, not read in the source
    note: str


@cache
def practice_table() -> tuple[PracticeFactor, ...]:
    """Return the rows of the table of practice factors."""
    text = resources.files("fieldgeo.terrain").joinpath("practice_factor.csv").read_text(encoding="utf-8")
    return tuple(
        PracticeFactor(
            practice=row["practice"],
            slope_from_pct=int(row["slope_from_pct"]),
            slope_to_pct=int(row["slope_to_pct"]),
            factor=float(row["factor"]),
            most_length_ft=float(row["most_length_ft"]) if row["most_length_ft"] else None,
            source=row["source"],
            is_recalled=row["status"] == "memory",
            note=row["note"],
        )
        for row in csv.DictReader(text.splitlines())
    )


def table_row(practice: Practice, slope: float) -> PracticeFactor | None:
    """Return the row of the table for a practice on a slope; None where the table has none.

    Parameters
    ----------
    practice : {"up and down", "contour", "contour strips"}
        How the rows lie.
    slope : float
        Rise over run, >= 0; the class is that of the nearest whole per cent. [-]
    """
    per_cent = round(100 * slope)
    for row in practice_table():
        if row.practice == practice and row.slope_from_pct <= per_cent <= row.slope_to_pct:
            return row
    return None


def practice_factor(practice: Practice, slope: ArrayLike) -> FloatArray:
    """Return the support practice factor of rows that lie just as the practice says. [-]

    Parameters
    ----------
    practice : {"up and down", "contour", "contour strips"}
        How the rows lie.
    slope : float or ndarray of shape (N,)
        Rise over run, >= 0. [-]

    Returns
    -------
    ndarray of shape (N,)
        By the nearest whole per cent; 1 where the table has no class. Recalled: USDA Agriculture Handbook 537, 1978.

    Examples
    --------
    >>> practice_factor("contour", [0.02, 0.07, 0.15]).tolist()
    [0.6, 0.5, 0.7]
    """
    per_cent = np.round(100 * np.asarray(slope, dtype=float))
    factor = np.ones(per_cent.shape)
    for row in practice_table():
        if row.practice == practice:
            factor[(per_cent >= row.slope_from_pct) & (per_cent <= row.slope_to_pct)] = row.factor
    return factor


def off_contour_factor(contour_factor: ArrayLike, row_grade: ArrayLike, slope: ArrayLike) -> FloatArray:
    """Return the support practice factor of rows that run at a grade instead of on the contour. [-]

    Parameters
    ----------
    contour_factor : float or ndarray of shape (N,)
        Factor of rows on the contour, 0 to 1. [-]
    row_grade : float or ndarray of shape (N,)
        Grade of the rows, without sign. [-]
    slope : float or ndarray of shape (N,)
        Slope of the ground, >= 0; where there is none the factor is 1. [-]

    Notes
    -----
    P = Po + (1 - Po) sqrt(row grade / slope). Recalled: USDA Agriculture Handbook 703, Predicting Soil Erosion by
    Water, 1997.

    Examples
    --------
    >>> off_contour_factor(0.5, [0.0, 0.02, 0.08], 0.08).tolist()
    [0.5, 0.75, 1.0]
    """
    contour, grade, steepness = (np.asarray(each, dtype=float) for each in (contour_factor, row_grade, slope))
    share = np.where(steepness > 0, grade / np.where(steepness > 0, steepness, 1.0), 1.0)
    return np.asarray(contour + (1 - contour) * np.sqrt(np.clip(share, 0.0, 1.0)))


def slope_factor(slope: ArrayLike) -> FloatArray:
    """Return the slope steepness factor of the soil loss equation: how much more a steeper slope loses. [-]

    Parameters
    ----------
    slope : float or ndarray of shape (N,)
        Rise over run, >= 0. [-]

    Notes
    -----
    10.8 sin + 0.03 below 9 %, 16.8 sin - 0.50 from 9 %. Recalled: USDA Agriculture Handbook 703, Predicting Soil
    Erosion by Water, 1997.

    Examples
    --------
    >>> slope_factor([0.03, 0.06, 0.12]).round(4).tolist()
    [0.3539, 0.6768, 1.5016]
    """
    rise = np.asarray(slope, dtype=float)
    sine = rise / np.hypot(1.0, rise)
    return np.asarray(np.where(rise < 0.09, 10.8 * sine + 0.03, 16.8 * sine - 0.50))


def standard_row_grade(slope: float) -> float:
    """Return the greatest row grade that the contour farming standard allows on a slope. [-]

    Parameters
    ----------
    slope : float
        Rise over run of the hill, >= 0. [-]

    Notes
    -----
    2 %, or half the slope where that is less: NRCS Conservation Practice Standard 330, Contour Farming (read). It
    allows 3 % within 150 ft of an outlet; where outlets are is not known here.

    Examples
    --------
    >>> [standard_row_grade(each) for each in (0.02, 0.03, 0.10)]
    [0.01, 0.015, 0.02]
    """
    return min(MOST_ROW_GRADE, ROW_GRADE_SHARE * slope)
