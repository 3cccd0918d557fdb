"""The rows of a season on sloping ground: which directions to lay out too, and what the rows do on the slope in each.

The rows are those of the tool that lays them; the others drive along the same rows. Time and soil stand side by side
and never in one score; a row grade to keep is a limit, and the least season within it is then taken.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from fieldgeo.analysis.season_direction import with_choice
from fieldgeo.terrain.measure import SlopeRules, measure_slopes, rows_factor
from fieldgeo.terrain.trade import KEPT_SHARE, trade_slope

if TYPE_CHECKING:
    from fieldgeo.analysis.many_directions import ManyDirections
    from fieldgeo.analysis.season_direction import SeasonDirection
    from fieldgeo.frame import FloatArray
    from fieldgeo.terrain.ground import Terrain
    from fieldgeo.terrain.measure import FieldSlopes

MOST_POINTED: Final = 8  # directions that the ground points at, laid out for all tools; own choice
_NOISE: Final = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SeasonOnSlope:
    """A season with the slopes along its rows."""

    season: SeasonDirection  # the direction chosen stands first among its choices
    slopes: tuple[FieldSlopes, ...]  # of the tool that lays the rows, for each of the choices
    most_grade: float | None  # row grade asked for [-]
    is_kept: bool | None  # whether the chosen direction keeps it; None where none is asked for

    def soil(self, number: int) -> float:
        """Return soil lost on the rows of a choice over what is lost with rows straight up and down. [-]

        Parameters
        ----------
        number : int
            Place among the choices, from 0.
        """
        loss = rows_factor(self.slopes[number].lines)
        return 1.0 if loss is None else loss


def pointed_directions(
    many: ManyDirections,
    ground: Terrain,
    *,
    most_grade: float | None = None,
    entrance_xy: FloatArray | None = None,
    is_any_cover: bool = False,
) -> list[float]:
    """Return the directions that the ground points at for one tool: those that no other beats in time and soil. [deg]

    Parameters
    ----------
    many : ManyDirections
        The field, and the tool that lays the rows.
    ground : Terrain
        Slope of the ground about the field.
    most_grade, entrance_xy, is_any_cover
        As in `fieldgeo.terrain.trade.trade_slope`; with a grade the fastest that keep it come first.

    Raises
    ------
    InputError
        As in `fieldgeo.terrain.trade.trade_slope`.
    """
    trade = trade_slope(many, ground, most_grade=most_grade, entrance_xy=entrance_xy, is_any_cover=is_any_cover)
    keeping = [] if most_grade is None else [each for each in trade.choices if each.keeps(most_grade)]
    if most_grade is not None and not keeping:
        keeping = [trade.nearest_keeping(most_grade)]
    pointed = [each.direction_deg for each in (*keeping[: MOST_POINTED // 2], trade.kindest, *trade.unbeaten)]
    return list(dict.fromkeys(pointed))[:MOST_POINTED]


def season_on_slope(
    season: SeasonDirection, ground: Terrain, *, most_grade: float | None = None, is_any_cover: bool = False
) -> SeasonOnSlope:
    """Return a season with the slopes along its rows, in the direction of least score that keeps a row grade.

    Parameters
    ----------
    season : SeasonDirection
        Directions of all tools, some on rows; laid out with `pointed_directions` among them.
    ground : Terrain
        Slope of the ground about the field.
    most_grade : float, optional
        Greatest row grade, on `KEPT_SHARE` of the length of the rows; where no direction keeps it, the one with least
        of its length above it is taken. Without it the least score is. [-]
    is_any_cover : bool
        Whether to go on where the slope of much of the field is not known.

    Raises
    ------
    InputError
        If the slope of too little of the field is known, or `most_grade` is not above zero.
    """
    rules = SlopeRules(row_grade=most_grade, is_any_cover=is_any_cover)
    slopes = [measure_slopes(choice.plans[0], ground, rules) for choice in season.choices]
    if most_grade is None or not slopes:
        return SeasonOnSlope(season=season, slopes=tuple(slopes), most_grade=most_grade, is_kept=None)
    grades = [each.grade_quantile("along", KEPT_SHARE) for each in slopes]
    keeping = [number for number, grade in enumerate(grades) if grade is not None and grade <= most_grade + _NOISE]
    over = [each.share_over("along", most_grade) or 0.0 for each in slopes]
    # Choices stand by their score, the least first.
    at = keeping[0] if keeping else over.index(min(over))
    return SeasonOnSlope(
        season=with_choice(season, at),
        slopes=(slopes[at], *slopes[:at], *slopes[at + 1 :]),
        most_grade=most_grade,
        is_kept=bool(keeping),
    )
