"""The dictionary of a season: finish, machines, what is left, the bottleneck, what if."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from fieldgeo.analysis.figures import area_figures
from fieldgeo.season.model import day_of, whole_days
from fieldgeo.season.plan import machines_used, operations_done
from fieldgeo.season.weather_figures import weather_figures
from fieldgeo.units import GALLON_L

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence
    from datetime import date

    from fieldgeo.season.bottleneck import HourWorth
    from fieldgeo.season.model import Schedule, SeasonProblem
    from fieldgeo.season.plan import MachineUse, OperationDone, SeasonPlan
    from fieldgeo.season.what_if import Variant

Figures = dict[str, Any]


def season_figures(plan: SeasonPlan, *, worth: Sequence[HourWorth] = (), variants: Sequence[Variant] = ()) -> Figures:
    """Return the figures of a season: when each operation is finished, hours by machine, losses, the bottleneck.

    Parameters
    ----------
    plan : SeasonPlan
        The season with its schedule.
    worth : sequence of HourWorth
        What an hour a day more of each machine is worth, the most first.
    variants : sequence of Variant
        The season with changes.

    Returns
    -------
    dict
        `operations` has every task in order, `finish` the operations, `machines` tools, tractors and operators.
        `bottleneck` is the one of them an hour more of which is worth most; None where none is worth anything.
    """
    season, problem, schedule = plan.season, plan.problem, plan.schedule
    done = operations_done(problem, schedule)
    best = next(iter(worth), None)
    tractors = {tractor.name for tractor in season.shed.tractors}
    return {
        "farm": season.farm,
        "fields": len(season.fields),
        **area_figures("area", sum(each.field.area_m2 for each in season.fields)),
        "first_day": problem.days[0].isoformat(),
        "last_day": problem.days[-1].isoformat(),
        "hours_a_day": problem.hours_a_day,
        "fit_hours": float(problem.fit_h.sum()),
        **_sums(problem, schedule, done),
        "finish": {each.operation: _finish(each, problem) for each in done},
        "operations": _tasks(plan),
        "left": _left(problem, schedule),
        "machines": [_machine(use, tractors) for use in machines_used(problem, schedule.placed)],
        "bottleneck": None if best is None or not any(value > 0 for value in best.rank) else _worth(best, tractors),
        "hour_more": [_worth(each, tractors) for each in worth],
        "what_if": [_variant(each) for each in variants],
        "directions_deg": dict(plan.plans.direction_deg),
        "weather": weather_figures(plan.weather),
        "chance": season.regime.chance,
        "assumed": list(season.assumed),
        "notes": list(dict.fromkeys(plan.plans.notes)),
    }


def _sums(problem: SeasonProblem, schedule: Schedule, done: Sequence[OperationDone]) -> Figures:
    fuel_l = sum(each.fuel_l for each in done)
    left_h = sum(each.left_h for each in done)
    ends = [each.last_day for each in done if each.last_day is not None]
    return {
        "is_complete": not schedule.left,
        "tasks": len(problem.tasks),
        "tasks_done": len(schedule.placed),
        "field_h": sum(each.hours for each in done),
        "left_h": left_h,
        "finished_on": max(ends).isoformat() if ends and not schedule.left else None,
        "fuel_L": fuel_l,
        "fuel_gal": fuel_l / GALLON_L,
        "loss": schedule.loss,
        "loss_bu": sum(each.loss_bu for each in done),
        "loss_at_least": schedule.bound,
        "is_proven_least": schedule.is_proven,
    }


def _finish(each: OperationDone, problem: SeasonProblem) -> Figures:
    return {
        "begins_on": _iso(each.first_day),
        "finished_on": None if each.left else _iso(each.last_day),
        "done_until": _iso(each.last_day),
        "window_to": each.window_last.isoformat(),
        "days_to_spare": None if each.left or each.last_day is None else (each.window_last - each.last_day).days,
        "field_h": each.hours,
        "needed_h": each.needed_h,
        "needed_days": whole_days(each.needed_h, problem.hours_a_day),
        "window_fit_h": each.window_h,
        "left_h": each.left_h,
        "left": list(each.left),
        **area_figures("area", each.area_m2),
        "fuel_L": each.fuel_l,
        "fuel_gal": each.fuel_l / GALLON_L,
        "loss": each.loss,
        "loss_bu": each.loss_bu,
    }


def _tasks(plan: SeasonPlan) -> list[Figures]:
    problem = plan.problem
    before = problem.start_h
    rows = []
    for each in plan.schedule.placed:
        task = problem.tasks[each.task]
        rows.append(
            {
                "operation": task.operation,
                "field": task.field,
                "crop": plan.season.field_of(task.field).crop,
                "tool": each.mode.tool,
                "carrier": each.mode.carrier,
                "operator": each.operator,
                "begins_on": problem.days[day_of(before, each.start_h, is_end=False)].isoformat(),
                "finished_on": problem.days[day_of(before, each.end_h, is_end=True)].isoformat(),
                "window_to": problem.days[task.last].isoformat(),
                "field_h": each.mode.hours,
                **area_figures("area", task.area_m2),
                "fuel_L": each.mode.fuel_l,
                "fuel_gal": each.mode.fuel_l / GALLON_L,
                "loss": problem.lost(task.loss, each.start_h, each.end_h),
                "loss_bu": problem.lost(task.loss_bu, each.start_h, each.end_h),
            }
        )
    return rows


def _left(problem: SeasonProblem, schedule: Schedule) -> list[Figures]:
    left = set(schedule.left)
    return [
        {
            "operation": problem.tasks[at].operation,
            "field": problem.tasks[at].field,
            "field_h": min(mode.hours for mode in problem.tasks[at].modes),
            "window_to": problem.days[problem.tasks[at].last].isoformat(),
            "waits_for": [problem.tasks[other].operation for other, _ in problem.tasks[at].after if other in left],
        }
        for at in schedule.left
    ]


def _machine(use: MachineUse, tractors: Collection[str]) -> Figures:
    return {
        "kind": _kind(use.kind, use.name, tractors),
        "name": use.name,
        "tasks": use.tasks,
        "field_h": use.field_h,
        "road_and_hitching_h": use.road_h,
        "hours": use.field_h + use.road_h,
    }


def _worth(each: HourWorth, tractors: Collection[str]) -> Figures:
    return {
        "kind": _kind(each.kind, each.name, tractors),
        "name": each.name,
        "loss_less": each.loss_less,
        "left_h_less": each.left_h_less,
        "days_sooner": each.days_sooner,
        "operation": each.operation or None,
        "searched_again": each.is_searched,
    }


def _kind(kind: str, name: str, tractors: Collection[str]) -> str:
    """Return the word for a kind: what carries a tool is a tractor, or a machine with heads."""
    if kind != "carrier":
        return kind
    return "tractor" if name in tractors else "machine"


def _variant(each: Variant) -> Figures:
    done = operations_done(each.problem, each.schedule)
    return {
        "what_if": each.change.text,
        "how": each.change.how,
        **_sums(each.problem, each.schedule, done),
        "finish": {one.operation: None if one.left else _iso(one.last_day) for one in done},
    }


def _iso(day: date | None) -> str | None:
    return None if day is None else day.isoformat()
