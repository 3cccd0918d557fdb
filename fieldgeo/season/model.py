"""The season in plain data: what a season file says, and the problem of days, machines and tasks that comes of it.

A season runs on *fit hours*: the hours of the days in which machines can work, one after the other. On this scale a
night or a week of rain takes no time, a task is one stretch without a gap, and a machine is in one place at a time. A
calendar of fit hours for each day turns the scale into dates: hour 25 falls on the third day when the days have 10.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from math import ceil, isfinite
from typing import TYPE_CHECKING, Any, Final, Literal

import numpy as np

from fieldgeo.errors import InputError
from fieldgeo.frame import FloatArray

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from fieldgeo.machinery.draft import Soil
    from fieldgeo.machinery.shed import Shed
    from fieldgeo.machinery.traction import Surface
    from fieldgeo.outline.field import Field

FARMSTEAD: Final = "farmstead"  # the place where every machine begins, and where tools are changed
USUAL_PRIORITY: Final = 5  # of 1 (first) to 9 (last)


@dataclass(frozen=True, slots=True, kw_only=True)
class Regime:
    """Where the fit hours of a day come from: one of a region of the tables, shares of one's own, or a history.

    Parameters
    ----------
    region : str
        Region of the published days fit for work.
    shares : tuple of (date, date, float)
        First and last day, both counted, and the share of days that are fit, 0 to 1; days in none have the share of
        the nearest. [-]
    history : str
        File of the user's own days fit for work.
    chance : float, optional
        How sure the fit hours are: 0.8 plans with the days that 8 years of 10 have or more, 0 < chance < 1; None plans
        with the mean. [-]
    persistence : float, optional
        Correlation of a day with the day before; None for the usual one. [-]
    """

    region: str = ""
    shares: tuple[tuple[date, date, float], ...] = ()
    history: str = ""
    chance: float | None = None
    persistence: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Crop:
    """A crop, and what it is worth."""

    name: str
    yield_bu_m2: float | None = None  # yield when everything is done in time [bu/m2]
    price_bu: float | None = None  # money for a bushel [1/bu]


@dataclass(frozen=True, slots=True, kw_only=True)
class SeasonField:
    """A field of the season."""

    field: Field
    crop: str
    soil: Soil = "medium"
    gate: tuple[float, float] | None = None  # longitude and latitude of the entrance [deg]
    direction_deg: float | None = None  # of all passes; None: the best of each tool [deg]

    @property
    def name(self) -> str:
        """Name of the field."""
        return self.field.name


@dataclass(frozen=True, slots=True, kw_only=True)
class SeasonOperation:
    """One kind of work on the fields of some crops, or on some fields.

    Parameters
    ----------
    name : str
        What the grower calls it.
    fields : tuple of str
        Names of the fields it is done on, in the order of the file.
    tools : tuple of str
        Tools of the shed that can do it, any of them.
    tractors : tuple of str
        Tractors that may draw them; empty: any that holds the tool's speed.
    first, last : date
        Its window, both days counted.
    after : tuple of (str, int)
        Operations that must be done before on the same field, and the least days between.
    surface : str
        What the wheels run on, a word of `fieldgeo.machinery.traction.SURFACES`.
    priority : int
        1 (first) to 9 (last).
    losses : tuple of (date, float)
        Share of the crop that is lost by the day the work is done, rising, straight lines between; it goes on as it
        ended. Empty: lateness costs nothing. [-]
    supplies : mapping
        What the tool carries here, in place of what the shed says: rate, yield, holds.
    product : mapping
        How what is put on the ground is bought, as it is written: keys of `fieldgeo.season.products.PRODUCT_KEYS`.
    losses_source : str
        Where published losses come from, and how well they are known; empty where they are given.
    """

    name: str
    fields: tuple[str, ...]
    tools: tuple[str, ...]
    tractors: tuple[str, ...]
    first: date
    last: date
    after: tuple[tuple[str, int], ...] = ()
    surface: Surface = "tilled"
    priority: int = USUAL_PRIORITY
    losses: tuple[tuple[date, float], ...] = ()
    supplies: Mapping[str, Any] = field(default_factory=dict)
    product: Mapping[str, Any] = field(default_factory=dict)
    losses_source: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Operator:
    """Somebody who drives: tools and tractors by name; empty for all of them."""

    name: str
    drives: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Season:
    """What a season file says, read and checked against its shed and its fields."""

    farm: str
    shed: Shed
    fields: tuple[SeasonField, ...]
    crops: Mapping[str, Crop]
    operations: tuple[SeasonOperation, ...]
    operators: tuple[Operator, ...]
    machines: Mapping[str, str]  # tool that drives itself -> the machine it is a head of, or itself
    regime: Regime
    hours_a_day: float  # of a fit day [h]
    days_off: tuple[int, ...]  # days of the week without work, Monday is 0
    road_speed_m_s: float  # machines on the road [m/s]
    hitch_s: float  # to leave one tool and take another [s]
    roads_m: Mapping[tuple[str, str], float]  # road between two places; both ways [m]
    road_factor: float  # road / straight distance where no road is given [-]
    farmstead: tuple[float, float]  # longitude and latitude [deg]
    assumed: tuple[str, ...] = ()  # what nobody gave, in words

    def field_of(self, name: str) -> SeasonField:
        """Return the field of that name."""
        return next(each for each in self.fields if each.name == name)


@dataclass(frozen=True, slots=True, kw_only=True)
class Mode:
    """One way to do a task: which tool, what carries it, how long it takes."""

    tool: str
    carrier: str  # tractor, or the machine that drives itself
    hours: float  # field time, stops counted [h]
    fuel_l: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Task:
    """One operation on one field.

    Parameters
    ----------
    operation, field : str
        What is done where.
    place : int
        Place of the field in `SeasonProblem.places`.
    area_m2 : float
        Area of the field. [m2]
    modes : tuple of Mode
        Ways to do it, one at least.
    first, last : int
        Days of the problem that its window runs over, both counted.
    after : tuple of (int, int)
        Tasks that must be done before, and the least whole days from the day they end to the day this begins.
    priority : int
        1 (first) to 9 (last).
    loss : ndarray of shape (D,)
        Money lost when all of it is done on that day; the work is spread over days by its hours. Not falling. [money]
    loss_bu : ndarray of shape (D,)
        The same in bushels. [bu]
    """

    operation: str
    field: str
    place: int
    area_m2: float
    modes: tuple[Mode, ...]
    first: int
    last: int
    after: tuple[tuple[int, int], ...] = ()
    priority: int = USUAL_PRIORITY
    loss: FloatArray
    loss_bu: FloatArray

    @property
    def name(self) -> str:
        """Operation and field."""
        return f"{self.operation}, {self.field}"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SeasonProblem:
    """Everything a schedule needs, without any geometry.

    Parameters
    ----------
    days : tuple of date
        Days of the season in a row.
    fit_h : ndarray of shape (D,)
        Fit hours that are planned with on each day. [h]
    hours_a_day : float
        Hours of a whole fit day. [h]
    tasks : tuple of Task
        Tasks; each comes after those that its `after` names.
    places : tuple of str
        The farmstead first, then fields.
    travel_h : ndarray of shape (P, P)
        Time on the road between two places; symmetric, no way round is quicker. [h]
    hitch_h : float
        Time to leave one tool and take another at the farmstead. [h]
    operators : tuple of Operator
        Who can drive; each task takes one.

    Raises
    ------
    InputError
        If shapes do not go together or a value is out of range.
    """

    days: tuple[date, ...]
    fit_h: FloatArray
    hours_a_day: float
    tasks: tuple[Task, ...]
    places: tuple[str, ...]
    travel_h: FloatArray
    hitch_h: float
    operators: tuple[Operator, ...]

    def __post_init__(self) -> None:
        if self.fit_h.shape != (len(self.days),) or self.travel_h.shape != (len(self.places),) * 2:
            raise InputError("season: fit hours must be one for each day, and travel times one for each two places.")
        if not (np.isfinite(self.fit_h).all() and (self.fit_h >= 0).all()):
            raise InputError("season: fit hours must be finite numbers, not below zero.")
        if not (isfinite(self.hitch_h) and self.hitch_h >= 0 and self.operators and self.tasks):
            raise InputError("season: it needs an operator and a task, and a hitching time that is not below zero.")

    @property
    def start_h(self) -> FloatArray:
        """Fit hours before each day, and at last all of them; shape (D + 1,). [h]"""
        return np.concatenate([[0.0], np.cumsum(self.fit_h)])

    def gap_h(self, one: tuple[int, Mode], other: tuple[int, Mode]) -> float:
        """Return the hours from the end of one task to the start of another on the same tool or carrier.

        The same tool behind the same tractor is driven from field to field. Otherwise the way leads over the farmstead,
        where the tool is changed.
        """
        here, there = self.tasks[one[0]].place, self.tasks[other[0]].place
        if one[1].tool == other[1].tool and one[1].carrier == other[1].carrier:
            return float(self.travel_h[here, there])
        return float(self.travel_h[here, 0] + self.hitch_h + self.travel_h[0, there])

    def lost(self, by_day: FloatArray, start_h: float, end_h: float) -> float:
        """Return what a task loses that is worked from one hour to another: the mean over its hours.

        Parameters
        ----------
        by_day : ndarray of shape (D,)
            Lost when all of it is done on that day: `Task.loss` or `Task.loss_bu`.
        start_h, end_h : float
            Place on the scale of fit hours, start < end. [h]
        """
        summed = np.concatenate([[0.0], np.cumsum(by_day * self.fit_h)])
        low, high = np.interp([start_h, end_h], self.start_h, summed)
        return float((high - low) / (end_h - start_h))


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """A task in a schedule, on the scale of fit hours."""

    task: int
    mode: Mode
    operator: str
    start_h: float
    end_h: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Schedule:
    """A schedule: tasks in the order in which they begin, and those that are left undone.

    Parameters
    ----------
    placed : tuple of Placed
        Tasks that are done, by their start.
    left : tuple of int
        Tasks that are not.
    loss : float
        What lateness costs, of the tasks that are done. [money]
    bound : float
        What lateness costs at least in any schedule with these tasks done, as the solver shows. [money]
    is_proven : bool
        Whether the solver shows that no schedule does better: by hours left, then by loss.
    """

    placed: tuple[Placed, ...]
    left: tuple[int, ...]
    loss: float
    bound: float
    is_proven: bool

    @property
    def order(self) -> tuple[Placed, ...]:
        """Tasks in the order that `fieldgeo.season.dispatch` takes them in."""
        return self.placed


def day_of(start_h: FloatArray, hour: float, *, is_end: bool) -> int:
    """Return the day on which a task begins or ends.

    Parameters
    ----------
    start_h : ndarray of shape (D + 1,)
        Fit hours before each day, from `SeasonProblem.start_h`. [h]
    hour : float
        Place on the scale of fit hours. [h]
    is_end : bool
        An end on the last hour of a day falls on that day, a beginning there on the next fit day.
    """
    side: Literal["left", "right"] = "left" if is_end else "right"
    shift = -1e-9 if is_end else 1e-9
    return int(np.clip(np.searchsorted(start_h, hour + shift, side=side) - 1, 0, len(start_h) - 2))


def whole_days(hours: float, hours_a_day: float) -> int:
    """Return the days that work takes: area / (capacity x hours a day), rounded up.

    Parameters
    ----------
    hours : float
        Hours of field time, >= 0. [h]
    hours_a_day : float
        Hours of a day, > 0. [h]

    Examples
    --------
    >>> whole_days(1600 / 15, 12)
    9
    """
    return ceil(hours / hours_a_day - 1e-9)


def loss_share(losses: Sequence[tuple[date, float]], days: Sequence[date]) -> FloatArray:
    """Return the share of a crop lost by the day on which the work is done, shape (D,). [-]

    Parameters
    ----------
    losses : sequence of (date, float)
        Dates and shares, both rising; straight lines between. Before the first date nothing more than its share is
        lost, after the last the share goes on as it rose last. [-]
    days : sequence of date
        Days.

    Notes
    -----
    Daily rates as published (such as K3 of ASAE D497, or bushels a day between two dates) are slopes of this line.
    """
    if not losses:
        return np.zeros(len(days))
    at = np.array([day.toordinal() for day, _ in losses], dtype=float)
    share = np.array([value for _, value in losses])
    asked = np.array([day.toordinal() for day in days], dtype=float)
    slope = (share[-1] - share[-2]) / (at[-1] - at[-2]) if len(at) > 1 else 0.0
    beyond = np.maximum(asked - at[-1], 0.0)
    return np.asarray(np.minimum(np.interp(asked, at, share) + beyond * slope, 1.0))
