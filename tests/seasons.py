"""Small seasons made in tests: tasks by name, on days with even fit hours."""

from collections.abc import Sequence
from datetime import date, timedelta
from typing import Any

import numpy as np

from fieldgeo.season.model import Mode, Operator, Schedule, SeasonProblem, Task

FIRST = date(2027, 5, 1)


def mode(hours: float, tool: str = "planter", carrier: str = "tractor") -> Mode:
    return Mode(tool=tool, carrier=carrier, hours=hours)


def task(name: str, *modes: Mode, days: tuple[int, int] = (0, 9), loss: Sequence[float] = (0.0,), **more: Any) -> Task:
    """Return a task; `loss` is money lost by the day, the last value goes on."""
    padded = np.array([*loss, *[loss[-1]] * 400])
    values: dict[str, Any] = {
        "operation": "plant", "field": name, "place": 0, "area_m2": 1.0, "loss_bu": padded,
    } | more  # fmt: skip
    return Task(modes=modes, first=days[0], last=days[1], loss=padded, **values)


def problem(
    *tasks: Task,
    fit_h: Sequence[float] = (10.0,) * 10,
    travel_h: Any = ((0.0,),),
    hitch_h: float = 0.0,
    operators: Sequence[Operator] = (Operator(name="one"), Operator(name="two"), Operator(name="three")),
) -> SeasonProblem:
    days = len(fit_h)
    cut = [
        Task(**{name: getattr(each, name) for name in each.__dataclass_fields__}
             | {"loss": each.loss[:days], "loss_bu": each.loss_bu[:days]})
        for each in tasks
    ]  # fmt: skip
    return SeasonProblem(
        days=tuple(FIRST + timedelta(days=number) for number in range(days)), fit_h=np.array(fit_h, dtype=float),
        hours_a_day=10.0, tasks=tuple(cut), places=tuple(str(number) for number in range(len(travel_h))),
        travel_h=np.array(travel_h, dtype=float), hitch_h=hitch_h, operators=tuple(operators),
    )  # fmt: skip


def times(schedule: Schedule) -> dict[int, tuple[float, float]]:
    return {each.task: (round(each.start_h, 6), round(each.end_h, 6)) for each in schedule.placed}
