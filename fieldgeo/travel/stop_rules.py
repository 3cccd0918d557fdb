"""Where and how a tool may stop, and what a driver calls the works of a route."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal, NamedTuple, TypeAlias

import numpy as np
import shapely

from fieldgeo.errors import InputError
from fieldgeo.layout.axes import Floats
from fieldgeo.travel.choose import First
from fieldgeo.travel.route import Route
from fieldgeo.travel.stations import wind

Where: TypeAlias = Literal["edge", "side", "stands", "go"]
WHERE: Final[tuple[Where, ...]] = ("edge", "side", "stands", "go")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StopRules:
    """Where and how a tool stops.

    Parameters
    ----------
    where : {"edge", "side", "stands", "go"}
        At any pass end by the outer edge of the field, where the tender comes to the tool; only at those on a side; at
        stands, to which the tool drives; or nowhere, as a cart takes the grain on the go.
    side : shapely.MultiLineString, optional
        Edges of the field by the road, for ``"side"``; see `fieldgeo.travel.stations.side_facing` and `side_along`. [m]
    stands_xy : ndarray of shape (S, 2), optional
        Where tender, wagon or truck stand, for ``"stands"``. [m]
    first : {"stops", "time"}
        What comes first: the fewest stops, or the least time.
    last_fill : {"needed", "full"}
        The last fill is as much as the work still needs, or a whole one.
    starts_empty : bool
        The first fill is a stop in the field, before the first pass; else the tool comes with what it holds.
    cart_capacity : float, optional
        What a cart takes, for ``"go"``, > 0. [kind of the supply]

    Raises
    ------
    InputError
        If a value is unknown, or one that is needed is not there.
    """

    where: Where = "edge"
    side: shapely.MultiLineString | None = None
    stands_xy: Floats | None = None
    first: First = "stops"
    last_fill: Literal["needed", "full"] = "needed"
    starts_empty: bool = False
    cart_capacity: float | None = None

    def __post_init__(self) -> None:
        for name, choices in (("where", WHERE), ("first", ("stops", "time")), ("last_fill", ("needed", "full"))):
            if getattr(self, name) not in choices:
                raise InputError(f"stops: {name} is {getattr(self, name)!r}. It must be one of {', '.join(choices)}.")
        if self.where == "side" and self.side is None:
            raise InputError("stops: a side is asked for but not given. Give the side, such as south, or the road.")
        if self.where == "stands" and self.stands_xy is None:
            raise InputError("stops: stands are asked for but not given. Give one or more places.")
        if self.cart_capacity is not None and not (np.isfinite(self.cart_capacity) and self.cart_capacity > 0):
            raise InputError(f"cart: its capacity is {self.cart_capacity:g}. It must be a finite number above zero.")


class WorkName(NamedTuple):
    """What a driver calls one work of a route."""

    state: str  # "pass" or "headland"
    number: int  # of passes, or of headland runs, in the order driven, from 1
    across: int  # strip of a pass counted from the right of the direction, from 1; 0 for a headland run
    end: str  # the end of the field that it ends at, as a wind


def name_works(route: Route) -> list[WorkName]:
    """Return what a driver calls each work of a route, in driving order."""
    layout = route.layout
    middle = layout.field.shape.centroid
    names, counts = [], {"pass": 0, "headland": 0}
    for leg in route.legs:
        if not leg.is_work:
            continue
        counts[leg.state] += 1
        line = leg.points()
        is_pass = leg.state == "pass"
        ahead = line[-1] - (line[0] if is_pass else np.array([middle.x, middle.y]))
        names.append(
            WorkName(
                state=leg.state,
                number=counts[leg.state],
                across=int(layout.passes.strip[leg.number]) + 1 if is_pass else 0,
                end=wind(float(np.degrees(np.arctan2(ahead[0], ahead[1])))),
            )
        )
    return names


def work_text(name: WorkName) -> str:
    """Return what a driver calls a work: its number in the order driven."""
    return f"{'pass' if name.state == 'pass' else 'headland run'} {name.number}"
