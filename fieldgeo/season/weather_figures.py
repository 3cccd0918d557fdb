"""The dictionaries of days fit for work and of many seasons."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from datetime import date

    from fieldgeo.season.fit_history import FitHistory
    from fieldgeo.season.simulate import HourMore, Mean, OperationChance, Simulation
    from fieldgeo.season.weather import Weather


def weather_figures(weather: Weather) -> dict[str, Any]:
    """Return the days fit for work that a season reckons with, and where they come from.

    Parameters
    ----------
    weather : Weather
        The season's.
    """
    climate, shares = weather.climate, weather.shares
    return {
        "first": weather.days[0].isoformat(),
        "last": weather.days[-1].isoformat(),
        "days": len(weather.days),
        "fit_days_mean": weather.mean_days,
        "fit_days_deviation": weather.deviation_days,
        "periods": [
            {
                "first": str(one.first),
                "last": str(one.last),
                "share": one.share,
                "source": one.source.text,
                "status": one.source.status,
                "note": one.source.note,
            }
            for one in shares.used
        ],
        "days_between_periods": shares.between_days,
        "days_beyond_periods": shares.beyond_days,
        "persistence": climate.persistence,
        "persistence_source": climate.persistence_source,
        "persistence_assumed": climate.is_persistence_assumed,
        "history": None if climate.history is None else _history(climate.history),
        "notes": weather.notes(),
    }


def simulation_figures(simulation: Simulation) -> dict[str, Any]:
    """Return what many seasons show, as plain values.

    Parameters
    ----------
    simulation : Simulation
        From `fieldgeo.season.simulate.simulate`.
    """
    bottleneck = simulation.bottleneck
    return {
        "seasons": simulation.seasons,
        "seed": simulation.seed,
        "fit_days": _mean(simulation.fit_days),
        "operations": [_operation(each) for each in simulation.operations],
        "chance_all": simulation.all_in_time / simulation.seasons,
        "unfinished_share": simulation.unfinished / simulation.seasons,
        "loss": _mean(simulation.loss),
        "loss_bu": _mean(simulation.loss_bu),
        "hours_more": [_hour_more(each) for each in simulation.hours_more],
        "bottleneck": None if bottleneck is None else _hour_more(bottleneck),
    }


def _history(history: FitHistory) -> dict[str, Any]:
    return {
        "name": history.name,
        "years": list(history.years),
        "days": history.days,
        "pairs": history.pairs,
        "after_fit": {"days": history.after_fit[0], "fit": history.after_fit[1]},
        "after_unfit": {"days": history.after_unfit[0], "fit": history.after_unfit[1]},
        "correlation": history.correlation,
        "weeks": [
            {"first": str(week.first), "last": str(week.last), "days": week.days, "fit": week.fit}
            for week in history.weeks
        ],
    }


def _operation(each: OperationChance) -> dict[str, Any]:
    return {
        "operation": each.operation,
        "last": each.last.isoformat(),
        "chance": each.chance,
        "chance_error": each.chance_error,
        "finish_early": _date(each.early),
        "finish_median": _date(each.median),
        "finish_late": _date(each.late),
    }


def _hour_more(each: HourMore) -> dict[str, Any]:
    return {
        "kind": each.kind,
        "name": each.name,
        "beside": each.beside or None,
        "tasks": each.tasks,
        "worth": _mean(each.worth),
        "worth_bu": _mean(each.worth_bu),
        "days_sooner": _mean(each.days_sooner),
    }


def _mean(mean: Mean) -> dict[str, float]:
    return {"mean": mean.value, "error": mean.error}


def _date(day: date | None) -> str | None:
    return None if day is None else day.isoformat()
