"""The one direction for all tools that follow the same rows."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from fieldgeo.analysis.direction import APART_DEG
from fieldgeo.analysis.lay import lay

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fieldgeo.analysis.direction import DirectionSearch
    from fieldgeo.analysis.plan import Plan
    from fieldgeo.layout.axes import Floats
    from fieldgeo.layout.headland import Sides
    from fieldgeo.layout.strips import Finish

_SAME_DEG = 1e-6  # directions closer than this are one


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SharedDirection:
    """One direction with the exact plan of every tool in it."""

    direction_deg: float  # azimuth of the passes [deg]
    plans: tuple[Plan, ...]  # one for each tool

    @property
    def field_time_s(self) -> float:
        """Field time of all tools together. [s]"""
        return sum(plan.field_time_s for plan in self.plans)


def shared_directions(
    searches: Sequence[DirectionSearch],
    *,
    headland: int | Literal["auto"] = "auto",
    sides: Sides = "auto",
    finish: Finish = "cover",
    entrance_xy: Floats | None = None,
) -> tuple[SharedDirection, ...]:
    """Return the directions that several tools could share on one field, the least field time of all together first.

    Looked at are the candidates of every tool's own search: where a direction is good for all of them, it is among the
    best of one. (Common practice, no source.) Of directions nearer than `APART_DEG` only
    the best is returned.

    Parameters
    ----------
    searches : sequence of DirectionSearch
        One for each tool, all on the same field.
    headland, sides, finish, entrance_xy
        As for `fieldgeo.analysis.plan.lay`, and as in the searches.
    """
    found = sorted(candidate.direction_deg for search in searches for candidate in search.candidates)
    directions = [at for at, before in zip(found, [-1.0, *found], strict=False) if at - before > _SAME_DEG]
    shared = []
    for direction_deg in directions:
        plans = tuple(
            lay(
                search.best.plan.field, search.best.plan.tool, direction_deg=direction_deg,
                headland=headland, sides=sides, finish=finish, entrance_xy=entrance_xy,
            )
            for search in searches
        )  # fmt: skip
        shared.append(SharedDirection(direction_deg=direction_deg, plans=plans))
    apart: list[SharedDirection] = []
    for each in sorted(shared, key=lambda each: each.field_time_s):
        if all(_between_deg(each.direction_deg, other.direction_deg) >= APART_DEG for other in apart):
            apart.append(each)
    return tuple(apart)


def _between_deg(first_deg: float, second_deg: float) -> float:
    """Return the angle between two directions of passes, 0 to 90. [deg]"""
    return abs((first_deg - second_deg + 90) % 180 - 90)
