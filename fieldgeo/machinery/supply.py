"""`Supply`: what a tool carries into the field or out of it, how much the ground takes or gives, and what a stop takes.

A planter, spreader or sprayer starts full and is filled when it runs low; a combine starts empty and is unloaded when
it runs full. Both are the same arithmetic: ground x rate, held against what the tank takes.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite
from typing import TYPE_CHECKING, Any, Final, Literal, Protocol, TypeAlias

import numpy as np

from fieldgeo.errors import InputError
from fieldgeo.machinery.amounts import (
    Amount,
    Holding,
    Kind,
    converted,
    parse_amount,
    parse_flow,
    parse_holding,
    parse_rate,
)
from fieldgeo.units import parse_time_s

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

Job: TypeAlias = Literal["fill", "unload"]
JOBS: Final[tuple[Job, ...]] = ("fill", "unload")
# Keys of a supply as a person writes them: rate for what is filled in, yield for what is cut.
SUPPLY_KEYS: Final = ("tank", "rate", "yield", "holds", "stop_setup", "stop_flow")
MOST_STOP_S: Final = 4 * 3600.0  # own choice: a longer stop is a slip of the unit


class RateMap(Protocol):
    """A rate that differs from place to place."""

    def amounts(self, grounds: NDArray[np.object_]) -> NDArray[np.float64]:
        """Return what each ground takes or gives, shape (G,).

        Parameters
        ----------
        grounds : ndarray of shape (G,)
            Polygons in the frame. [m]
        """
        ...  # pragma: no cover


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Supply:
    """What a tool carries, for one job on one field.

    Parameters
    ----------
    job : {"fill", "unload"}
        Whether the ground takes it (seed, fertilizer, spray) or gives it (grain).
    kind : {"bu", "m3", "kg", "seeds", "bags"}
        Unit of every amount below.
    capacity : float
        What the tank or all hoppers together hold, > 0. [kind]
    rate_m2 : float or RateMap
        What a square metre takes or gives, > 0. [kind/m2]
    hoppers : int
        Number of hoppers that the capacity is the sum of, >= 1. They are taken to run low alike. [-]
    setup_s : float
        Time of a stop beside the flow itself: pulling up, swinging out, signing off, >= 0. [s]
    flow_s : float, optional
        What flows in or out in a second, > 0; without it the flow takes no time of its own. [kind/s]
    bushel_kg : float, optional
        Mass of a bushel, where bushels are to be told as a mass too, > 0. [kg]

    Raises
    ------
    InputError
        If a value is outside its range.
    """

    job: Job
    kind: Kind
    capacity: float
    rate_m2: float | RateMap
    hoppers: int = 1
    setup_s: float = 0.0
    flow_s: float | None = None
    bushel_kg: float | None = None

    def __post_init__(self) -> None:
        if self.job not in JOBS:
            raise InputError(f"supply: job is {self.job!r}. It must be one of {', '.join(JOBS)}.")
        for name in ("capacity", "rate_m2", "flow_s", "bushel_kg"):
            value = getattr(self, name)
            if isinstance(value, float | int) and not (isfinite(value) and value > 0):
                raise InputError(f"supply: {name} is {value:g}. It must be a finite number above zero.")
        if not 0 <= self.setup_s <= MOST_STOP_S:
            raise InputError(f"supply: setup_s is {self.setup_s:g}. It must be from 0 to {MOST_STOP_S:g}.")
        if self.hoppers < 1:
            raise InputError(f"supply: hoppers is {self.hoppers}. It must be 1 or more.")

    def amounts(self, grounds: NDArray[np.object_], area_m2: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return what each ground takes or gives, shape (G,). [kind]

        Parameters
        ----------
        grounds : ndarray of shape (G,)
            Polygons in the frame. [m]
        area_m2 : ndarray of shape (G,)
            Their areas. [m2]
        """
        if isinstance(self.rate_m2, float | int):
            return area_m2 * self.rate_m2
        return self.rate_m2.amounts(grounds)

    def stop_s(self, amount: float) -> float:
        """Return the time of a stop at which an amount flows in or out: set-up, and amount / flow. [s]

        Derived.
        """
        return self.setup_s + (amount / self.flow_s if self.flow_s else 0.0)

    def load_m2(self) -> float | None:
        """Return the ground that one load does; None where the rate differs from place to place. [m2]

        Hopper: acres = seed carried / seed per acre; grain tank: acres = tank / yield (derived).

        Examples
        --------
        >>> from fieldgeo.machinery.supply import supply_of
        >>> round(supply_of({"tank": "30bu", "rate": "0.43bu/ac"}).load_m2() / 4046.8564224)
        70
        """
        return self.capacity / self.rate_m2 if isinstance(self.rate_m2, float | int) else None

    def load_run_m(self, width_m: float) -> float | None:
        """Return how far one load lasts at a working width; None where the rate differs from place to place. [m]

        Run = ground of one load / width (derived).
        """
        load_m2 = self.load_m2()
        return None if load_m2 is None else load_m2 / width_m


def supply_of(values: Mapping[str, str | Sequence[str]]) -> Supply:
    """Return a supply from text as a person writes it.

    Parameters
    ----------
    values : mapping
        Keys of `SUPPLY_KEYS`. `tank` such as ``"30bu"`` or ``"3x15bu"``; `rate` such as ``"0.43bu/ac"``, or `yield`
        such as ``"180bu/ac"``; `holds`, one or several, such as ``"80000seeds/bag"``, ``"56lb/bu"`` or ``"corn"``;
        `stop_setup` such as ``"4min"``; `stop_flow` such as ``"10bu/min"``.

    Raises
    ------
    InputError
        If a value cannot be used, one that is needed is not there, or units do not go together.

    Notes
    -----
    The rate's kind of unit is that of the tank, where it can be brought to it; in bushels their mass is known once
    `holds` says it.
    """
    if ("rate" in values) == ("yield" in values):
        raise InputError("supply: give a rate for what is filled in, or a yield for what is cut, and not both.")
    if "tank" not in values:
        raise InputError("tank: missing. Give what the tank or the hoppers hold, such as 30bu, 1000gal or 3x15bu.")
    read = read_supply_values(values)
    holdings: list[Holding] = read.get("holds", [])
    tank: Amount = read["tank"]
    name = "rate" if "rate" in read else "yield"
    rate: Amount = read[name]
    flow: Amount | None = read.get("stop_flow")
    return Supply(
        job="fill" if name == "rate" else "unload",
        kind=tank.kind,
        capacity=tank.value,
        hoppers=tank.parts,
        rate_m2=converted(rate.value, rate.kind, tank.kind, holdings, what=f"tank and {name}"),
        setup_s=read.get("stop_setup", 0.0),
        flow_s=None
        if flow is None
        else converted(flow.value, flow.kind, tank.kind, holdings, what="tank and flow of a stop"),
        bushel_kg=_bushel_kg(holdings),
    )


def read_supply_values(values: Mapping[str, str | Sequence[str]]) -> dict[str, Any]:
    """Return each value of a supply read by itself: amounts, holdings, and seconds.

    Parameters
    ----------
    values : mapping
        Keys of `SUPPLY_KEYS` with their texts.

    Raises
    ------
    InputError
        If a value cannot be read, or a key is unknown.
    """
    read: dict[str, Any] = {}
    for key, text in values.items():
        if key not in SUPPLY_KEYS:
            raise InputError(f"supply: {key!r} is not known. It must be one of {', '.join(SUPPLY_KEYS)}.")
        if key == "holds":
            read[key] = [parse_holding(each) for each in ([text] if isinstance(text, str) else text)]
        elif not isinstance(text, str):
            raise InputError(f"{key}: got {text!r}. It must be text with a number and its unit.")
        elif key == "tank":
            read[key] = parse_amount(text, what="tank")
        elif key == "rate":
            read[key] = parse_rate(text)
        elif key == "yield":
            read[key] = parse_rate(text, what="yield", example="180bu/ac or 9t/ha")
        elif key == "stop_flow":
            read[key] = parse_flow(text, what="flow of a stop")
        else:
            read[key] = read_setup_s(text)
    return read


def read_setup_s(text: str) -> float:
    """Return the set-up time of a stop from text such as ``"4min"``. [s]

    Raises
    ------
    InputError
        If it is not a time from zero up to `MOST_STOP_S`.
    """
    value = parse_time_s(text, what="set-up of a stop")
    if not 0 <= value <= MOST_STOP_S:
        raise InputError(f"set-up of a stop: got {text!r}. It must be from 0s to {MOST_STOP_S / 3600:g}h.")
    return value


def _bushel_kg(holdings: Sequence[Holding]) -> float | None:
    try:
        return converted(1.0, "bu", "kg", holdings, what="bushels and a mass")
    except InputError:
        return None
