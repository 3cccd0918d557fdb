"""Days fit for work and many seasons as lines."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Any, Final

from fieldgeo.outline.files.geojson import plain_name
from fieldgeo.report.lines import count_text, labelled_wrapped, table
from fieldgeo.season.fit_days import YearDay

if TYPE_CHECKING:
    from collections.abc import Iterator

Figures = dict[str, Any]

_SHOWN_HOURS: Final = 4  # tools, tractors and operators told
_LEAST_WORTH: Final = 0.5  # money a season that is told
_LEAST_DAYS: Final = 0.05  # days a season that are told


def weather_lines(figures: Figures) -> Iterator[str]:
    """Yield the days fit for work that a season reckons with.

    Parameters
    ----------
    figures : dict
        From `fieldgeo.season.weather_figures.weather_figures`.
    """
    low, high = (figures["fit_days_mean"] + sign * 1.28 * figures["fit_days_deviation"] for sign in (-1, 1))
    yield from labelled_wrapped(
        "fit days",
        f"{figures['fit_days_mean']:.0f} of {figures['days']} in the mean, {_day(figures['first'])} to "
        f"{_day(figures['last'])}; {max(low, 0):.0f} to {min(high, figures['days']):.0f} in 8 years of 10",
    )

    history = figures["history"]
    if history is not None:
        after = [
            f"{100 * each['fit'] / each['days']:.0f} % of {each['days']:,}" if each["days"] else "none known"
            for each in (history["after_fit"], history["after_unfit"])
        ]
        yield from labelled_wrapped(
            "own record",
            f"{history['days']:,} days of {count_text(len(history['years']), 'year')}, {_years(history['years'])}; fit "
            f"after a fit day {after[0]}, after an unfit one {after[1]}; persistence {figures['persistence']:.2f}",
        )


def weather_notes(figures: Figures) -> Iterator[str]:
    """Yield where the days fit for work come from and what is assumed.

    Parameters
    ----------
    figures : dict
        From `fieldgeo.season.weather_figures.weather_figures`.
    """
    for source in dict.fromkeys(one["source"] for one in figures["periods"]):
        yield f"note: fit days from {plain_name(source)}."
    yield from (f"note: {note}." for note in figures["notes"])


def simulation_lines(figures: Figures) -> Iterator[str]:
    """Yield what many seasons show: chances, dates, what lateness costs, the bottleneck.

    Parameters
    ----------
    figures : dict
        From `fieldgeo.season.weather_figures.simulation_figures`.
    """
    everything = f"everything in time in {_chance(figures['chance_all'], figures['seasons'])} of them"
    yield f"{figures['seasons']:,} seasons drawn (seed {figures['seed']}): {everything}"
    rows = [
        (
            plain_name(each["operation"]), _day(each["last"]), _chance(each["chance"], figures["seasons"]),
            _day(each["finish_early"]), _day(each["finish_median"]), _day(each["finish_late"]),
        )
        for each in figures["operations"]
    ]  # fmt: skip
    yield from table(("operation", "window to", "in time", "10 % by", "50 % by", "90 % by"), rows, left=1)
    loss, bushels = figures["loss"], figures["loss_bu"]
    if loss["mean"] > 0 or bushels["mean"] > 0:
        yield from labelled_wrapped(
            "lateness costs",
            f"{loss['mean']:,.0f} a season in the mean (standard error {loss['error']:,.0f}), "
            f"{bushels['mean']:,.0f} bu",
        )
    yield from labelled_wrapped("an hour more", hour_more_text(figures))


def simulation_notes(figures: Figures) -> Iterator[str]:
    """Yield what the figures of many seasons leave out.

    Parameters
    ----------
    figures : dict
        From `fieldgeo.season.weather_figures.simulation_figures`.
    """
    if figures["unfinished_share"] > 0:
        yield (
            f"caution: in {_chance(figures['unfinished_share'], figures['seasons'])} of the seasons something is not "
            "done when the season ends; it is counted as done on the last day, so lateness costs more than is told."
        )


def _years(years: list[int]) -> str:
    return f"{years[0]} to {years[-1]}" if len(years) > 1 else str(years[0])


def hour_more_text(figures: Figures) -> str:
    """Return what an hour more a day is worth of those who hold the work up most."""
    paid = [each for each in figures["hours_more"] if each["worth"]["mean"] >= _LEAST_WORTH]
    if paid:
        said = [
            f"{_name(each)} {each['worth']['mean']:,.0f} (standard error {each['worth']['error']:,.0f})"
            for each in paid[:_SHOWN_HOURS]
        ]
        return f"a day is worth, a season: {', '.join(said)}"
    late = [each for each in figures["hours_more"] if each["days_sooner"]["mean"] >= _LEAST_DAYS]
    said = [f"{_name(each)} {each['days_sooner']['mean']:.1f} days" for each in late[:_SHOWN_HOURS]]
    return f"a day makes work less late by: {', '.join(said)}" if late else "a day of any one gains nothing"


def _name(each: Figures) -> str:
    return plain_name(each["name"]) + (f" with {plain_name(each['beside'])}" if each["beside"] else "")


def _chance(share: float, seasons: int) -> str:
    """Return a share of drawn seasons; never 0 or 100 % that only rounding made."""
    percent = 100 * share
    if 0 < share < 0.005 or 0.995 < share < 1:
        return f"{percent:.1f} %" if seasons <= 1000 else f"{percent:.2f} %"
    return f"{percent:.0f} %"


def _day(text: str | None) -> str:
    if text is None:
        return "not done"
    day = date.fromisoformat(text)
    return str(YearDay(day.month, day.day))
