"""Direction: the search for the best direction of the passes, judged by exact layouts."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from fieldgeo.analysis.plan import Plan
from fieldgeo.layout.axes import Floats
from fieldgeo.layout.headland import Sides
from fieldgeo.layout.strips import Finish
from fieldgeo.machinery.tool import Tool
from fieldgeo.outline.field import Field

By = Literal["time", "passes", "overlap", "cost"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Prices:
    """What an hour and a worked acre cost, for judging by cost."""

    hour: float = 0.0  # tractor, tool and driver for an hour of field time [currency/h]
    input_m2: float = 0.0  # seed, fertilizer or chemical on a square metre of swept ground [currency/m2]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Candidate:
    """One direction with its exact plan."""

    plan: Plan
    score: float  # what the search judges by: seconds, passes, square metres or money; less is better
    reasons: tuple[str, ...]  # why it ranks where it does, in a grower's words

    @property
    def direction_deg(self) -> float:
        """Azimuth of the passes. [deg]"""
        return self.plan.layout.direction_deg


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DirectionSearch:
    """The finalists of a search, best first, and what the habit of following the longest side would give."""

    candidates: tuple[Candidate, ...]
    longest_side: Candidate

    @property
    def best(self) -> Candidate:
        """The best direction found."""
        return self.candidates[0]


def best_direction(
    field: Field, tool: Tool, *, headland: int | Literal["auto"] = "auto", sides: Sides = "ends", finish: Finish = "cover",
    entrance_xy: Floats | None = None, by: By = "time", prices: Prices | None = None, count: int = 8,
    progress: Callable[[float], None] | None = None,
) -> DirectionSearch:  # fmt: skip
    """Return the best directions for one tool on one field."""
    raise NotImplementedError
