"""The dictionary of `direction` on sloping ground: time against soil, direction by direction."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final, Literal

from fieldgeo.analysis.direction import Candidate
from fieldgeo.analysis.figures import direction_figures
from fieldgeo.terrain.erosion import SOURCES, table_row
from fieldgeo.terrain.trade import KEPT_SHARE
from fieldgeo.units import HOUR_S, to_feet

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fieldgeo.analysis.figures import Figures
    from fieldgeo.terrain.trade import SlopeChoice, SlopeTrade

ROUGH_DEG: Final = 15.0  # own choice: farther apart is another direction to a grower
TradeBy = Literal["time", "erosion"]
_HELD_AGAINST: Final = "NRCS Conservation Practice Standard 330, Contour Farming"


def trade_figures(trade: SlopeTrade, *, by: TradeBy = "time", most_grade: float | None = None) -> Figures:
    """Return the directions worth listing, the chosen one first.

    Parameters
    ----------
    trade : SlopeTrade
        Directions of one tool on one field.
    by : {"time", "erosion"}
        What the list is ranked by.
    most_grade : float, optional
        Row grade to keep: the fastest direction that keeps it comes first. [-]

    Returns
    -------
    dict
        As `fieldgeo.analysis.figures.direction_figures`, and for each candidate row grades, `p_factor`,
        `soil_pct` (soil lost on passes and end rows, all rows straight up and down = 100), `soil_change_pct` and
        `lost_time_h` against the fastest, and `is_beaten`. Listed are the directions that no other beats in time and
        soil, and those that the sides or the ground point at; `tried` has every direction laid out, for a plot.
    """
    listed = [each for each in trade.choices if not each.is_beaten or each.why]
    if by == "erosion":
        listed.sort(key=lambda each: (each.soil, each.time_s))
    chosen = listed[0]
    keeps: bool | None = None
    if most_grade is not None:
        found = trade.fastest_keeping(most_grade)
        keeps = found is not None
        chosen = trade.nearest_keeping(most_grade) if found is None else found
        listed = [chosen, *(each for each in listed if each is not chosen)]
    ranked = tuple(
        Candidate(plan=each.plan, score=each.soil if by == "erosion" else each.time_s, reasons=each.why)
        for each in listed
    )
    figures = direction_figures(replace(trade.search, candidates=ranked, by="time"))
    candidates = zip(figures["candidates"], listed, strict=True)
    kindest = choice_figures(trade.kindest, trade)
    return figures | {
        "candidates": [candidate | choice_figures(choice, trade) for candidate, choice in candidates],
        "by": by,
        "most_grade_pct": None if most_grade is None else 100 * most_grade,
        "keeps_most_grade": keeps,
        "fastest_deg": float(trade.fastest.direction_deg),
        "least_soil_deg": float(trade.kindest.direction_deg),
        "least_soil": {name: kindest[name] for name in ("soil_pct", "soil_change_pct", "lost_time_h", "lost_time_pct")},
        "across_deg": trade.across_deg,
        "laid_out": len(trade.choices),
        "least_soil_when_smoothed": smoothed_figures(trade),
        "slope": ground_figures(trade.fastest),
        "tried": [
            {
                "direction_deg": float(each.direction_deg),
                "field_time_h": each.plan.field_time_s / HOUR_S,
                "soil_pct": 100 * each.soil,
                "is_beaten": each.is_beaten,
            }
            for each in trade.choices
        ],
    }


def smoothed_figures(trade: SlopeTrade) -> list[Figures]:
    """Return the direction of least soil by the estimate, for each width that heights are smoothed to.

    Parameters
    ----------
    trade : SlopeTrade
        Directions of one tool on one field.
    """
    return [
        {"smoothed_m": width_m, "smoothed_ft": to_feet(width_m), "direction_deg": direction}
        for width_m, direction in trade.least_soil_deg.items()
    ]


def rough_notes(smoothed: list[Figures]) -> Iterator[str]:
    """Yield what is to be said where the direction of least soil hangs on how much heights are smoothed.

    Parameters
    ----------
    smoothed : list of dict
        From `smoothed_figures`.
    """
    if not smoothed:
        return
    first, last = smoothed[0], smoothed[-1]
    apart = abs((first["direction_deg"] - last["direction_deg"] + 90) % 180 - 90)
    if apart >= ROUGH_DEG:
        yield (
            f"caution: smoothed to {last['smoothed_ft']:,.0f} ft instead of {first['smoothed_ft']:,.0f} ft, the "
            f"heights put the least soil at {last['direction_deg']:.0f} and not at {first['direction_deg']:.0f} deg. "
            "Small ridges, or noise of the heights, decide here; look at the ground, and set the width with --smooth."
        )


def choice_figures(choice: SlopeChoice, trade: SlopeTrade) -> Figures:
    """Return what a direction does on the slope, beside the fastest.

    Parameters
    ----------
    choice : SlopeChoice
        One direction.
    trade : SlopeTrade
        All of them.
    """
    slopes, fastest = choice.slopes, trade.fastest
    return {
        "row_grade_pct_median": _per_cent(slopes.grade_quantile("along", 0.5)),
        "row_grade_pct_p90": _per_cent(slopes.grade_quantile("along", KEPT_SHARE)),
        "over_row_grade_pct": _per_cent(slopes.share_over("along", slopes.row_grade)),
        "p_factor": slopes.p_factor,
        "soil_pct": 100 * choice.soil,
        "soil_change_pct": 100 * (choice.soil / fastest.soil - 1) if fastest.soil > 0 else None,
        "lost_time_h": (choice.time_s - fastest.time_s) / HOUR_S,
        "lost_time_pct": 100 * (choice.time_s / fastest.time_s - 1) if fastest.time_s > 0 else None,
        "is_beaten": choice.is_beaten,
    }


def ground_figures(choice: SlopeChoice) -> Figures:
    """Return what holds for every direction: the slope of the field, the limit, the factors and their sources.

    Parameters
    ----------
    choice : SlopeChoice
        Any direction.
    """
    slopes = choice.slopes
    row = table_row("contour", slopes.median)
    return {
        "slope_pct_median": 100 * slopes.median,
        "slope_pct_p90": 100 * slopes.p90,
        "row_grade_limit_pct": 100 * slopes.row_grade,
        "is_row_grade_given": slopes.rules.row_grade is not None,
        "row_grade_source": _HELD_AGAINST,
        "p_contour": slopes.practice["contour"],
        "p_up_and_down": slopes.practice["up and down"],
        "p_source": SOURCES,
        "is_p_recalled": row is None or row.is_recalled,
        "covered_pct": 100 * slopes.covered,
        "smoothed_m": slopes.ground.width_m,
    }


def trade_notes(figures: Figures) -> Iterator[str]:
    """Yield what should be known of the figures, from `trade_figures`.

    Parameters
    ----------
    figures : dict
        From `trade_figures`.
    """
    slope = figures["slope"]
    yield (
        "note: soil is what is lost on passes and end rows, where the same rows straight up and down lose 100: the "
        f"support practice factor ({slope['p_source']}{', recalled, not read' if slope['is_p_recalled'] else ''}), "
        "each stretch weighed by its steepness. How long the slope is, crop and cover do not go into it."
    )
    held = (
        "the grade you gave"
        if slope["is_row_grade_given"]
        else f"2 % or half the median slope ({slope['row_grade_source']})"
    )
    yield (
        f"note: > {slope['row_grade_limit_pct']:.2g} % is the share of the row length that is steeper, {held}; median "
        "and 9 in 10 are the grades that half and nine tenths of it do not exceed."
    )
    yield from rough_notes(figures["least_soil_when_smoothed"])
    if slope["covered_pct"] < 99.5:
        yield f"note: the slope of {100 - slope['covered_pct']:.1f} % of the field is not known, and left out."
    yield (
        f"note: {figures['laid_out']} directions were laid out exactly; one between them may be a little better still."
    )


def _per_cent(share: float | None) -> float | None:
    return None if share is None else 100 * share
