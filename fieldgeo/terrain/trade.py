"""`trade_slope`: what each direction of the rows costs in time and in soil, side by side and never in one score.

Time and soil are estimated at every half degree; the directions that no other beats in both are laid out exactly, with
those of the search for time and those that the ground itself points at, and measured on the ground.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from fieldgeo.analysis.direction import DirectionSearch, best_direction
from fieldgeo.analysis.many_directions import PLACINGS, Laid, side_directions, tidy_deg
from fieldgeo.terrain.erosion import off_contour_factor, practice_factor, slope_factor
from fieldgeo.terrain.ground import slope_terrain
from fieldgeo.terrain.lines import weighted_quantile
from fieldgeo.terrain.measure import FieldSlopes, SlopeRules, field_points, measure_slopes, rows_factor

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from fieldgeo.analysis.many_directions import ManyDirections
    from fieldgeo.analysis.plan import Plan
    from fieldgeo.frame import FloatArray
    from fieldgeo.outline.field import Field
    from fieldgeo.terrain.ground import Terrain

STEP_DEG: Final = 0.5  # between directions that are estimated; own choice
APART_DEG: Final = 1.5  # directions nearer than this are one choice to a grower; own choice
MOST_BETWEEN: Final = 24  # directions laid out of those that no other beats by the estimates; own choice
WORTH_SOIL: Final = 0.01  # of the loss up and down the slope; own choice: the factors' table has no finer steps
KEPT_SHARE: Final = 0.9  # a direction keeps a grade if this share of the row length does; own choice
_NEAR_GRADE: Final = 1.15  # estimates so far above a grade are laid out too: rows do not lie evenly on the field
WIDER: Final = (3.0, 10.0)  # how much wider heights are smoothed to see whether the least soil still lies there
_LEVEL: Final = 1e-4  # mean slope below which the ground points nowhere


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SlopeChoice:
    """One direction with its exact plan, measured on the ground."""

    plan: Plan  # the exact plan
    slopes: FieldSlopes
    time_s: float  # field time; ground left unworked counts as twice its time [s]
    soil: float  # soil lost on passes and end rows over what is lost with all rows straight up and down [-]
    why: tuple[str, ...]  # what points at this direction, in a grower's words
    is_beaten: bool  # another is no slower and loses as little soil, to `WORTH_SOIL`

    @property
    def direction_deg(self) -> float:
        """Azimuth of the passes. [deg]"""
        return self.plan.layout.direction_deg

    def keeps(self, grade: float) -> bool:
        """Return whether `KEPT_SHARE` of the row length keeps a grade.

        Parameters
        ----------
        grade : float
            Rise over run, > 0. [-]
        """
        most = self.slopes.grade_quantile("along", KEPT_SHARE)
        return most is not None and most <= grade + 1e-9


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SlopeTrade:
    """Directions of one tool on one field: time against soil."""

    choices: tuple[SlopeChoice, ...]  # all that were laid out, least time first
    search: DirectionSearch  # the search for time alone
    across_deg: float | None  # across the mean slope; None on level ground [deg]
    least_soil_deg: dict[float, float]  # by an estimate, for the width smoothed to and wider ones [m]: [deg]

    @property
    def fastest(self) -> SlopeChoice:
        """The direction of least time."""
        return self.choices[0]

    @property
    def kindest(self) -> SlopeChoice:
        """The direction that loses least soil; of those that lose `WORTH_SOIL` more at the most, the fastest."""
        return self.unbeaten[-1]

    @property
    def unbeaten(self) -> list[SlopeChoice]:
        """The directions that no other beats in time and soil, least time first."""
        return [each for each in self.choices if not each.is_beaten]

    def fastest_keeping(self, grade: float) -> SlopeChoice | None:
        """Return the direction of least time among those that keep a row grade; None if none does.

        Parameters
        ----------
        grade : float
            Rise over run, > 0. [-]
        """
        return next((each for each in self.choices if each.keeps(grade)), None)

    def nearest_keeping(self, grade: float) -> SlopeChoice:
        """Return the direction with the least of its row length above a grade.

        Parameters
        ----------
        grade : float
            Rise over run, > 0. [-]
        """
        return min(self.choices, key=lambda each: each.slopes.share_over("along", grade) or 0.0)


def trade_slope(
    many: ManyDirections,
    ground: Terrain,
    *,
    most_grade: float | None = None,
    entrance_xy: FloatArray | None = None,
    is_any_cover: bool = False,
) -> SlopeTrade:
    """Return directions of one tool on one field with what each takes in time and loses in soil.

    Parameters
    ----------
    many : ManyDirections
        The field and the tool.
    ground : Terrain
        Slope of the ground about the field.
    most_grade : float, optional
        Greatest row grade, > 0; directions that may keep it are laid out too, and rows are held against it. Without it
        that of the contour farming standard. [-]
    entrance_xy : ndarray of shape (2,), optional
        Where the tool enters and leaves the field, in the frame. [m]
    is_any_cover : bool
        Whether to go on where the slope of much of the field is not known.

    Raises
    ------
    InputError
        If the slope of too little of the field is known, or `most_grade` is not above zero.
    LayoutError
        If the tool is wider than the field is long.

    Notes
    -----
    The estimate of soil takes rows as if they lay evenly over the field: the factors of places spread over it, weighed
    as in `fieldgeo.terrain.measure.measure_slopes` (derived). What is returned is measured along the exact passes.
    """
    rules = SlopeRules(row_grade=most_grade, is_any_cover=is_any_cover)
    search = best_direction(
        many.field, many.tool, headland=many.rounds, sides=many.sides, finish=many.finish, entrance_xy=entrance_xy,
        order=many.order,
    )  # fmt: skip
    sample = _sample(many.field, ground)
    first = measure_slopes(search.best.plan, ground, rules)  # refuses ground that is not known well enough
    across = sample.across_deg()
    tried = _tried(many, sample, across, most_grade)
    plans = {each.direction_deg: Laid(each.plan, each.score) for each in (*search.candidates, search.longest_side)}
    for direction in tried:
        if direction not in plans:
            plans[direction] = many.lay_exactly(direction, entrance_xy, "time")
    measured = {
        direction: first if plan is search.best.plan else measure_slopes(plan, ground, rules)
        for direction, (plan, _) in plans.items()
    }
    return SlopeTrade(
        choices=_judged(measured, plans, {} if across is None else {across: "across the mean slope"}, search),
        search=search,
        across_deg=across,
        least_soil_deg=_least_soil_deg(many.field, ground, sample),
    )


def _least_soil_deg(field: Field, ground: Terrain, sample: _Sample) -> dict[float, float]:
    """Return the direction that loses least soil by the estimate, for heights smoothed to wider strips too. [deg]

    Where they differ much, it is noise of the heights that a narrow strip follows.
    """
    samples = {ground.width_m: sample}
    for widths in WIDER:
        width_m = widths * ground.width_m
        samples[width_m] = _sample(field, slope_terrain(ground.heights, width_m=width_m))
    directions = np.arange(0.0, 180.0, 2 * STEP_DEG)
    return {
        width_m: float(directions[int(np.argmin([each.soil(direction) for direction in directions]))])
        for width_m, each in samples.items()
        if len(each.east)
    }


def _judged(
    measured: dict[float, FieldSlopes], plans: dict[float, Laid], pointed: dict[float, str], search: DirectionSearch
) -> tuple[SlopeChoice, ...]:
    """Return the directions as choices, least time first, each with what points at it."""
    soil = {each: rows_factor(slopes.lines) for each, slopes in measured.items()}
    known = {each: 1.0 if loss is None else loss for each, loss in soil.items()}
    ranked = sorted(measured, key=lambda each: (plans[each].score, known[each]))
    unbeaten = _unbeaten(ranked, known)
    why: dict[float, list[str]] = {each: [] for each in ranked}
    why[ranked[0]].append("least field time")
    why[unbeaten[-1]].append("least soil lost")
    why[search.longest_side.direction_deg].append("along the longest side")
    for direction, reason in pointed.items():
        why[direction].append(reason)
    return tuple(
        SlopeChoice(
            plan=plans[each].plan,
            slopes=measured[each],
            time_s=plans[each].score,
            soil=known[each],
            why=tuple(why[each]),
            is_beaten=each not in unbeaten,
        )
        for each in ranked
    )


def _unbeaten(ranked: Sequence[float], soil: dict[float, float]) -> list[float]:
    """Return the directions, least time first, each of which loses less soil than all that are faster."""
    kept = [ranked[0]]
    for each in ranked[1:]:
        if soil[each] < soil[kept[-1]] - WORTH_SOIL:
            kept.append(each)
    return kept


class _Sample(NamedTuple):
    """The slope at places spread over a field."""

    east: FloatArray  # (N,) rise over run eastward [-]
    north: FloatArray  # (N,) northward [-]
    contour: FloatArray  # (N,) factor of rows on the contour [-]
    weight: FloatArray  # (N,) slope steepness factor [-]

    def along(self, direction_deg: float) -> FloatArray:
        """Return the grade of rows without sign. [-]"""
        azimuth = np.radians(direction_deg)
        return np.asarray(np.abs(self.east * np.sin(azimuth) + self.north * np.cos(azimuth)))

    def soil(self, direction_deg: float) -> float:
        steepness = np.hypot(self.east, self.north)
        return float(
            np.average(off_contour_factor(self.contour, self.along(direction_deg), steepness), weights=self.weight)
        )

    def grade(self, direction_deg: float) -> float:
        """Return the grade that `KEPT_SHARE` of the field does not exceed. [-]"""
        along = self.along(direction_deg)
        return weighted_quantile(along, np.ones(len(along)), KEPT_SHARE) or 0.0

    def across_deg(self) -> float | None:
        """Return the direction with the least sum of squared grades; None on level ground. [deg]

        Derived: it is across the main axis of the slopes' second moments. Slopes that face each other, as in a
        swale, do not cancel out.
        """
        moments = np.array(
            [
                [np.mean(self.east**2), np.mean(self.east * self.north)],
                [np.mean(self.east * self.north), np.mean(self.north**2)],
            ]
        )
        if np.sqrt(np.trace(moments)) < _LEVEL:
            return None
        _, axes = np.linalg.eigh(moments)  # least first
        return float(tidy_deg(np.round([np.degrees(np.arctan2(axes[0, 0], axes[1, 0]))], 1))[0])


def _sample(field: Field, ground: Terrain) -> _Sample:
    places = field_points(field)
    east, north = ground.gradient(places[:, 0], places[:, 1])
    is_known = np.isfinite(east)
    east, north = east[is_known], north[is_known]
    steepness = np.hypot(east, north)
    return _Sample(east, north, practice_factor("contour", steepness), slope_factor(steepness))


def _tried(many: ManyDirections, sample: _Sample, across: float | None, most_grade: float | None) -> list[float]:
    """Return the directions to lay out beside those of the search for time."""
    if len(sample.east) == 0:
        return []
    directions = np.concatenate([np.arange(0, 180, STEP_DEG), side_directions(many.field, many.tool)])
    estimates = many.estimate(directions, PLACINGS, "time")
    many.lay_likely_headlands(estimates, "time")
    times = many.scores(estimates, len(directions), "time")
    soil = np.array([sample.soil(each) for each in directions])
    chosen = [float(directions[int(np.argmin(soil))])]
    if across is not None:
        chosen.append(across)
    chosen += _spread(directions, _front(times, soil))
    if most_grade is not None:
        grades = np.array([sample.grade(each) for each in directions])
        chosen.append(float(directions[int(np.argmin(grades))]))
        may_keep = np.flatnonzero(grades <= most_grade * _NEAR_GRADE)
        by_time = may_keep[np.argsort(times[may_keep], kind="stable")]
        chosen += _apart(directions[by_time], MOST_BETWEEN // 2)
    return list(dict.fromkeys(chosen))


def _front(times: FloatArray, soil: FloatArray) -> list[int]:
    """Return the places of what nothing beats in both, least time first."""
    front, least = [], np.inf
    for place in np.lexsort((soil, times)).tolist():
        if soil[place] < least - 1e-9:
            front.append(place)
            least = soil[place]
    return front


def _spread(directions: FloatArray, front: list[int]) -> list[float]:
    """Return directions of a front that lie apart, no more than `MOST_BETWEEN`, spread over it."""
    apart = _apart(directions[front], len(front))
    if len(apart) <= MOST_BETWEEN:
        return apart
    return [apart[place] for place in np.linspace(0, len(apart) - 1, MOST_BETWEEN).round().astype(int).tolist()]


def _apart(directions: Iterable[float], most: int) -> list[float]:
    """Return the first so many of directions that lie `APART_DEG` apart."""
    kept: list[float] = []
    for each in directions:
        if len(kept) < most and all(abs((each - other + 90) % 180 - 90) >= APART_DEG for other in kept):
            kept.append(float(each))
    return kept
