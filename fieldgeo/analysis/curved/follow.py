"""What curved passes follow: edges of the field, a drawn line, or circles about a centre."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely

from fieldgeo.errors import InputError
from fieldgeo.layout.axes import Floats
from fieldgeo.layout.curved.edges import FieldEdge, field_edges, joined_edges, without_hooks
from fieldgeo.outline.field import Field
from fieldgeo.units import to_feet

_WINDS = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Follow:
    """What the passes follow."""

    kind: Literal["edge", "line", "circle"]
    line: Floats  # (K, 2) edge with the field on its left, or line as drawn; for circles the centre alone [m]
    edges: tuple[int, ...] = ()  # numbers of the edges


def follow_edges(field: Field, numbers: tuple[int, ...]) -> Follow:
    """Return edges of a field as what passes follow.

    Parameters
    ----------
    field : Field
        The field.
    numbers : tuple of int
        Numbers of edges that lie one after the other, from 1.

    Raises
    ------
    InputError
        If there is no such edge, the edges do not lie one after the other, or they close a ring.
    """
    edges = field_edges(field.shape)
    wrong = [number for number in numbers if not 1 <= number <= len(edges)]
    if wrong or not numbers:
        raise InputError(
            f"follow: field {field.name!r} has no edge {', '.join(map(str, wrong))}. It must be from 1 to "
            f"{len(edges)}, counted clockwise from the north-west:{_listed(edges)}"
        )
    if any(edges[number - 1].is_closed for number in numbers):
        raise InputError(
            f"follow: edge {numbers[0]} of field {field.name!r} goes all round without a corner, and has no end to "
            "begin at. Follow circle, another edge, or a line of your own."
        )
    line = joined_edges(edges, numbers)
    if line is None:
        raise InputError(
            f"follow: edges {', '.join(map(str, numbers))} of field {field.name!r} do not make one line. They must lie "
            f"one after the other and not all round:{_listed(edges)}"
        )
    return Follow(kind="edge", line=without_hooks(line), edges=tuple(sorted(numbers)))


def follow_line(field: Field, line_xy: Floats) -> Follow:
    """Return a drawn line as what passes follow.

    Parameters
    ----------
    field : Field
        The field.
    line_xy : ndarray of shape (K, 2)
        The line in the frame. [m]

    Raises
    ------
    InputError
        If it lies outside the field.
    """
    line = np.asarray(line_xy, dtype=float).reshape(-1, 2)
    drawn = shapely.LineString(line) if len(line) > 1 else shapely.Point(line[0])
    away_m = float(drawn.distance(field.shape))
    if away_m > 0:
        raise InputError(
            f"follow: the line lies outside field {field.name!r}, {_distance(away_m)} away at the nearest. It must "
            "touch the field; check its coordinate system, and that it belongs to this field."
        )
    return Follow(kind="line", line=line)


def follow_circle(field: Field, centre_xy: Floats | None = None) -> Follow:
    """Return circles about a centre as what passes follow.

    Parameters
    ----------
    field : Field
        The field.
    centre_xy : ndarray of shape (2,), optional
        The centre in the frame; without it the middle of the least circle round the largest part. [m]

    Raises
    ------
    InputError
        If the centre lies farther from the field than the field is long.
    """
    largest = max(field.shape.geoms, key=lambda part: part.area)
    if centre_xy is None:
        centre = shapely.get_coordinates(shapely.minimum_bounding_circle(largest).centroid)
        return Follow(kind="circle", line=np.asarray(centre))
    away_m = float(shapely.Point(centre_xy).distance(field.shape))
    long_m = 2 * float(shapely.minimum_bounding_radius(field.shape))
    if away_m > long_m:
        raise InputError(
            f"follow: the centre lies {_distance(away_m)} from field {field.name!r}, which is {_distance(long_m)} "
            "long. It must lie in it, or no farther off than that; check that longitude comes first."
        )
    return Follow(kind="circle", line=np.asarray(centre_xy, dtype=float).reshape(1, 2))


def numbers_text(numbers: Sequence[int]) -> str:
    """Return numbers of edges in words.

    Parameters
    ----------
    numbers : sequence of int
        Numbers in ascending order.

    Examples
    --------
    >>> numbers_text([2, 3, 4]), numbers_text([1, 8])
    ('2 to 4', '1, 8')
    """
    is_range = list(numbers) == list(range(numbers[0], numbers[-1] + 1))
    return f"{numbers[0]} to {numbers[-1]}" if is_range and len(numbers) > 2 else ", ".join(map(str, numbers))


def edge_lines(field: Field) -> list[str]:
    """Return the edges of a field as lines of text: number, side, length and azimuth.

    Parameters
    ----------
    field : Field
        The field.
    """
    return _edge_lines(field_edges(field.shape))


def _edge_lines(edges: tuple[FieldEdge, ...]) -> list[str]:
    return [
        f"edge {edge.number}: {_where(edge, edges)}, {to_feet(edge.length_m):,.0f} ft ({edge.length_m:,.0f} m)"
        + ("" if edge.is_closed else f", azimuth {edge.azimuth_deg:.0f} deg")
        for edge in edges
    ]


def _listed(edges: tuple[FieldEdge, ...]) -> str:
    return "".join(f"\n  {line}" for line in _edge_lines(edges))


def _where(edge: FieldEdge, edges: tuple[FieldEdge, ...]) -> str:
    """Return where an edge lies on its part of the field: the wind from the part's middle to its own."""
    if edge.is_hole:
        return "of a hole, all round" if edge.is_closed else "of a hole"
    if edge.is_closed:
        return "all round"
    outer = [other.line for other in edges if other.part == edge.part and not other.is_hole]
    bounds = shapely.total_bounds([shapely.LineString(line) for line in outer])
    middle = shapely.get_coordinates(
        shapely.line_interpolate_point(shapely.LineString(edge.line), 0.5, normalized=True)
    )
    span = np.maximum(bounds[2:] - bounds[:2], 1e-9)
    x, y = ((middle[0] - (bounds[2:] + bounds[:2]) / 2) / span).tolist()
    part = f"part {edge.part + 1}, " if len({other.part for other in edges}) > 1 else ""
    return part + _WINDS[round(float(np.degrees(np.arctan2(x, y))) / 45.0) % 8]


def _distance(away_m: float) -> str:
    return f"{away_m / 1000:,.1f} km" if away_m >= 10_000 else f"{away_m:,.0f} m ({to_feet(away_m):,.0f} ft)"
