"""`measure_slopes`: the slope of a field, along and across every pass of a plan, and what it does to erosion."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
import shapely

from fieldgeo.errors import InputError
from fieldgeo.terrain.erosion import (
    MOST_ROW_CROP_SLOPE,
    PRACTICES,
    off_contour_factor,
    practice_factor,
    slope_factor,
    standard_row_grade,
)
from fieldgeo.terrain.lines import (
    LineSlopes,
    Stretch,
    driven_lines,
    line_slopes,
    steepest_stretch,
    weighted_quantile,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fieldgeo.analysis.plan import PlanFigures
    from fieldgeo.frame import FloatArray
    from fieldgeo.outline.field import Field
    from fieldgeo.terrain.ground import Terrain

LEAST_COVER: Final = 0.9  # own choice: share of the field whose slope must be known to speak of the field
_FIELD_POINTS: Final = 10_000  # in the box about the field, on which its slope is taken; own choice


@dataclass(frozen=True, slots=True, kw_only=True)
class SlopeRules:
    """What slopes are held against.

    Parameters
    ----------
    row_grade : float, optional
        Greatest grade of rows, > 0; None takes the contour farming standard at the field's median slope. [-]
    side_limit : float, optional
        Greatest side slope by the operator's manual, > 0; nothing is assumed. [-]
    is_any_cover : bool
        Whether to go on where the slope of much of the field is not known.

    Raises
    ------
    InputError
        If a grade is not above zero.
    """

    row_grade: float | None = None
    side_limit: float | None = None
    is_any_cover: bool = False

    def __post_init__(self) -> None:
        for name, grade in (("row grade", self.row_grade), ("side limit", self.side_limit)):
            if grade is not None and not grade > 0:
                raise InputError(f"{name}: got {grade:g}. It must be above zero.")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FieldSlopes:
    """Slope of the field and of what is driven on it."""

    plan: PlanFigures
    ground: Terrain
    rules: SlopeRules
    covered: float  # share of the field whose slope is known [-]
    rim: float  # share of the field whose slope is that of the cell beside, since the data end there [-]
    median: float  # slope of the ground over the field [-]
    p90: float
    greatest: float
    too_steep: float  # share of the field above `erosion.MOST_ROW_CROP_SLOPE` [-]
    lines: tuple[LineSlopes, ...]  # passes and headland runs in driving order
    row_grade: float  # that rows are held against [-]
    practice: dict[str, float]  # support practice factor of the whole field by each practice [-]
    p_factor: float | None  # that of these passes; None where no slope along them is known [-]

    @property
    def passes(self) -> list[LineSlopes]:
        """Slopes of the passes."""
        return [each for each in self.lines if each.driven.kind == "pass"]

    def grade_quantile(self, which: str, share: float, *, kind: str = "pass") -> float | None:
        """Return the slope along or across that so large a share of the length does not exceed. [-]

        Parameters
        ----------
        which : {"along", "across"}
            The slope, without sign.
        share : float
            0 to 1. [-]
        kind : {"pass", "headland"}
            Lines it is taken over.
        """
        grades, lengths = _grades(self._of(kind), which)
        return weighted_quantile(grades, lengths, share)

    def share_over(self, which: str, grade: float, *, kind: str = "pass") -> float | None:
        """Return the share of the length on which a slope, without sign, is above a grade; None without any known. [-]

        Parameters
        ----------
        which : {"along", "across"}
            The slope.
        grade : float
            The grade. [-]
        kind : {"pass", "headland"}
            Lines it is taken over.
        """
        return share_over(self._of(kind), which, grade)

    def steepest(self, which: str) -> Stretch | None:
        """Return the stretch of all lines on which the slope along or across is greatest.

        Parameters
        ----------
        which : {"along", "across"}
            The slope.
        """
        return steepest_stretch(self.lines, "along" if which == "along" else "across")

    def _of(self, kind: str) -> list[LineSlopes]:
        return [each for each in self.lines if each.driven.kind == kind]


def measure_slopes(plan: PlanFigures, ground: Terrain, rules: SlopeRules | None = None) -> FieldSlopes:
    """Return the slope of a field and of every pass and headland run of a plan on it.

    Parameters
    ----------
    plan : PlanFigures
        One tool on the field, its passes straight or not.
    ground : Terrain
        Slope of the ground about it.
    rules : SlopeRules, optional
        What slopes are held against.

    Raises
    ------
    InputError
        If the slope of less than `LEAST_COVER` of the field is known, and the rules do not ask to go on; or of none.

    Notes
    -----
    The practice factor of the field is the soil lost with these rows over what is lost with rows straight up and down,
    on the same ground: the factors of all stations along the passes, each weighted with its length and its slope
    steepness factor, by which the soil loss equation multiplies it (derived).
    """
    rules = rules or SlopeRules()
    places = field_points(plan.field)
    slope = np.hypot(*ground.gradient(places[:, 0], places[:, 1]))
    is_known = np.isfinite(slope)
    covered = float(is_known.mean())
    _check_cover(plan.field, covered, rules)
    known = slope[is_known]
    lines = line_slopes(ground, driven_lines(plan.route))
    median = float(np.median(known))
    weights = slope_factor(known)
    return FieldSlopes(
        plan=plan,
        ground=ground,
        rules=rules,
        covered=covered,
        rim=float(ground.is_at_rim(places[:, 0], places[:, 1]).mean()),
        median=median,
        p90=float(np.quantile(known, 0.9)),
        greatest=float(known.max()),
        too_steep=float((known > MOST_ROW_CROP_SLOPE).mean()),
        lines=tuple(lines),
        row_grade=rules.row_grade if rules.row_grade is not None else standard_row_grade(median),
        practice={each: float(np.average(practice_factor(each, known), weights=weights)) for each in PRACTICES},
        p_factor=rows_factor([each for each in lines if each.driven.kind == "pass"]),
    )


def rows_factor(slopes: Sequence[LineSlopes]) -> float | None:
    """Return the support practice factor of rows along lines; None where no slope is known. [-]

    Parameters
    ----------
    slopes : sequence of LineSlopes
        Slopes along the rows. See `measure_slopes` for how they are weighed up.
    """
    along, lengths = _grades(slopes, "along")
    across, _ = _grades(slopes, "across")
    is_known = np.isfinite(along)
    if not is_known.any():
        return None
    grade, steepness = along[is_known], np.hypot(along, across)[is_known]
    factor = off_contour_factor(practice_factor("contour", steepness), grade, steepness)
    return float(np.average(factor, weights=lengths[is_known] * slope_factor(steepness)))


def share_over(slopes: Sequence[LineSlopes], which: str, grade: float) -> float | None:
    """Return the share of the length of lines on which a slope, without sign, is above a grade. [-]

    Parameters
    ----------
    slopes : sequence of LineSlopes
        Slopes of the lines.
    which : {"along", "across"}
        The slope.
    grade : float
        The grade. [-]

    Returns
    -------
    float or None
        None where no slope is known.
    """
    grades, lengths = _grades(slopes, which)
    is_known = np.isfinite(grades)
    if not is_known.any():
        return None
    return float(lengths[is_known & (grades > grade + 1e-9)].sum() / lengths[is_known].sum())


def field_points(field: Field) -> FloatArray:
    """Return places spread evenly over a field, shape (N, 2); never none. [m]

    Parameters
    ----------
    field : Field
        The field.
    """
    x_low, y_low, x_high, y_high = field.shape.bounds
    step = (field.area_m2 / _FIELD_POINTS) ** 0.5
    # A long field on a slant fills little of its box; a hundred places at most are looked at for each that is kept.
    step = max(step, ((x_high - x_low) * (y_high - y_low) / (100 * _FIELD_POINTS)) ** 0.5)
    x, y = np.arange(x_low + step / 2, x_high, step), np.arange(y_low + step / 2, y_high, step)
    box = np.column_stack([each.ravel() for each in np.meshgrid(x, y)])
    shapely.prepare(field.shape)
    within = box[shapely.contains_xy(field.shape, box[:, 0], box[:, 1])]
    return within if len(within) else shapely.get_coordinates(field.shape.representative_point())


def _grades(slopes: Sequence[LineSlopes], which: str) -> tuple[FloatArray, FloatArray]:
    """Return slopes without sign at all stations, and the lengths they stand for."""
    if not slopes:
        return np.empty(0), np.empty(0)
    grades = np.concatenate([np.abs(each.along if which == "along" else each.across) for each in slopes])
    return grades, np.concatenate([np.full(len(each.along), each.step_m) for each in slopes])


def _check_cover(field: Field, covered: float, rules: SlopeRules) -> None:
    if covered == 0:
        raise InputError(
            f"elevation raster: it gives no slope anywhere on field {field.name!r}. It takes three cells by three with "
            "heights; give a raster that covers the field."
        )
    if covered < LEAST_COVER and not rules.is_any_cover:
        raise InputError(
            f"elevation raster: it covers {covered:.0%} of field {field.name!r}. It must cover {LEAST_COVER:.0%}; give "
            "one of the whole field, or --any-cover to go on with the part that it covers."
        )
