"""What curved passes follow, as a person asks for it: read from text, and brought to a field."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import numpy as np

from fieldgeo.analysis.asked import read_lonlat
from fieldgeo.analysis.curved.follow import Follow, follow_circle, follow_edges, follow_line
from fieldgeo.errors import InputError

if TYPE_CHECKING:
    from fieldgeo.outline.field import Field


@dataclass(frozen=True, slots=True, kw_only=True)
class AskedFollow:
    """What is to be followed, before the field is known."""

    kind: Literal["edge", "line", "circle", "contour"]
    edges: tuple[int, ...] = ()
    centre_lonlat: tuple[float, float] | None = None  # [deg]
    path: str = ""


def read_follow(text: str) -> AskedFollow:
    """Return what is to be followed, from text.

    Parameters
    ----------
    text : str
        ``edge:N``, several edges as ``edge:2-4`` or ``edge:2,3``, ``circle``, ``circle:LON,LAT``, ``contour``, or the
        name of a file with a line.

    Raises
    ------
    InputError
        If it is none of them.

    Examples
    --------
    >>> read_follow("edge:2-4").edges
    (2, 3, 4)
    >>> read_follow("circle").kind
    'circle'
    """
    word, _, rest = text.strip().partition(":")
    if word.lower() == "edge":
        return AskedFollow(kind="edge", edges=_numbers(text, rest))
    if word.lower() == "contour" and not rest:
        return AskedFollow(kind="contour")
    if word.lower() == "circle":
        return AskedFollow(kind="circle", centre_lonlat=read_lonlat(rest) if rest else None)
    if not text.strip() or (not Path(text).suffix and not Path(text).exists()):
        raise InputError(
            f"got {text!r}. It must be edge:N (an edge of the field by number; edge:0 lists them), circle, "
            "circle:LON,LAT, contour, or a file with a line in it."
        )
    return AskedFollow(kind="line", path=text)


def _numbers(text: str, listed: str) -> tuple[int, ...]:
    numbers: list[int] = []
    for entry in listed.split(","):
        match = re.fullmatch(r"\s*([0-9]{1,4})(?:\s*-\s*([0-9]{1,4}))?\s*", entry)
        if match is None:
            raise InputError(
                f"got {text!r}. Edges are given by number, such as edge:4, edge:2-4 or edge:8,1; edge:0 lists them."
            )
        first, last = int(match[1]), int(match[2] or match[1])
        if last < first:
            raise InputError(f"got {text!r}. A range of edges runs upward, such as edge:{last}-{first}.")
        numbers += range(first, last + 1)
    return tuple(dict.fromkeys(numbers))


def follow_on(field: Field, asked: AskedFollow, *, crs: str | None = None) -> Follow:
    """Return what is to be followed on a field.

    Parameters
    ----------
    field : Field
        The field.
    asked : AskedFollow
        From `read_follow`.
    crs : str, optional
        Coordinate system of the file with the line.

    Raises
    ------
    InputError
        If the field has no such edge, or line or centre lie off it; or a place on Earth is given for a field without.
    FileError
        If the file cannot be read.
    OutlineError
        If there is not one line in it.
    CrsError
        If its coordinate system is missing, unknown or unfit.
    """
    if asked.kind == "edge":
        return follow_edges(field, asked.edges)
    if asked.kind == "circle" and asked.centre_lonlat is None:
        return follow_circle(field)
    if not field.is_placed:
        raise InputError(
            f"follow: field {field.name!r} has no place on Earth, so nothing can be followed that is given by "
            "longitude and latitude. Follow an edge, or circle."
        )
    if asked.centre_lonlat is not None:
        return follow_circle(field, np.array(field.frame.to_frame(*asked.centre_lonlat), dtype=float))
    from fieldgeo.outline.files.lines import read_line

    lon_deg, lat_deg = read_line(asked.path, crs=crs).T
    return follow_line(field, np.column_stack(field.frame.to_frame(lon_deg, lat_deg)))
