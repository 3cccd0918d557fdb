"""Ground that was swept: a swath along every stretch, what they share, and the outline of it all.

Exact polygons: each stretch is the strip of its own width along its smoothed line, and the union is taken as everywhere
in this package. Lines are thinned first by less than the places are sure.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from fieldgeo.analysis.log.passes import Pattern
from fieldgeo.analysis.log.record import Log
from fieldgeo.analysis.log.trips import Trip
from fieldgeo.errors import LogError
from fieldgeo.frame import Frame, shape_to_frame, shape_to_lonlat
from fieldgeo.layout import overlay
from fieldgeo.outline.field import Field
from fieldgeo.outline.files.geojson import plain_name

# Corners of a line nearer to it than this are left out: 5 cm, 0.5 % of the width of a wide tool, and so many times the
# scatter that smoothing leaves, as finer bends are noise (own choice). Of a large log nothing finer than this is kept:
# the overlays of edges that cross at every bend would take minutes.
_THIN_M: Final = 0.05
_THIN_SHARE: Final = 0.005
_THIN_SCATTERS: Final = 2.5
_THIN_LARGE_M: Final = 0.25
_LARGE: Final = 25_000
# Ground is closed over gaps up to 1.2 widths: a missed pass and what lies between two row ends (own choice).
_CLOSED_SHARE: Final = 0.6
# Holes and parts smaller than so many squares of the width are none (own choice).
_LEAST_HOLE_SQUARES: Final = 4.0
_LEAST_PART_SQUARES: Final = 9.0
# An outline that less of the ground worked lies in is of another field (own choice).
_LEAST_INSIDE: Final = 0.1
_OUTLINE_THIN_M: Final = 0.25
_MOST_AT_ONCE: Final = 60  # shapes that one union takes; then unions are united


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Swept:
    """What was swept, and what is worked, worked twice, missed and outside of the outline."""

    swaths: tuple[BaseGeometry, ...]  # one a stretch [m]
    ground: shapely.MultiPolygon  # swept at least once [m]
    outline: Field  # given, or drawn round the ground
    is_outline_given: bool
    swept_m2: float  # sum over all swaths [m2]
    worked_m2: float  # of the outline, at least once [m2]
    overlap_m2: float  # swept again, once for each time [m2]
    skip_m2: float  # of the outline, never [m2]
    spill_m2: float  # outside the outline [m2]


def sweep_log(trips: list[Trip], pattern: Pattern, log: Log, outline: Field | None, *, scatter_m: float = 0.0) -> Swept:
    """Return what the trips swept.

    Parameters
    ----------
    trips : list of Trip
        In the order of time.
    pattern : Pattern
        What each trip is; travel sweeps nothing.
    log : Log
        The log they come from.
    outline : Field or None
        The field; None draws an outline round the ground swept.
    scatter_m : float
        Scatter of the smoothed places; bends of a few times that are left out. [m]

    Raises
    ------
    LogError
        If the outline is not of this field: less than a tenth of the ground worked lies in it, or its place on Earth is
        not known.

    Notes
    -----
    swept = worked + overlap + spill, and worked + skip = area of the outline, as for a layout. With an outline that was
    drawn, skip is what it closes over: gaps between passes and between row ends.
    """
    stretches = [
        stretch
        for trip, role in zip(trips, pattern.roles, strict=True)
        if role != "travel"
        for stretch in trip.stretches
    ]
    thin = max(_THIN_M, _THIN_SHARE * log.width_m, _THIN_SCATTERS * scatter_m, _THIN_LARGE_M * (len(log) > _LARGE))
    lines = shapely.simplify(np.array([shapely.LineString(stretch.line) for stretch in stretches], dtype=object), thin)
    widths = np.array([stretch.width_m for stretch in stretches])
    swaths = shapely.buffer(lines, widths / 2, cap_style="flat", join_style="round", quad_segs=4)
    swept_m2 = float(shapely.area(swaths).sum())
    ground = _united(list(swaths))
    field = _drawn(ground, log) if outline is None else in_frame(outline, log.frame)
    worked_m2 = float(overlay.intersection(ground, field.shape).area)
    if worked_m2 < _LEAST_INSIDE * ground.area:
        raise LogError(
            f"only {100 * worked_m2 / max(ground.area, 1e-9):.0f} % of the ground worked in {log.name!r} lies in the "
            f"outline {plain_name(field.name)!r}. Give the outline of the field that was worked, or leave it out."
        )
    spill_m2 = _spilt_m2(swaths, overlay.difference(ground, field.shape))
    return Swept(
        swaths=tuple(swaths.tolist()), ground=ground, outline=field, is_outline_given=outline is not None,
        swept_m2=swept_m2, worked_m2=worked_m2, overlap_m2=max(0.0, swept_m2 - spill_m2 - worked_m2),
        skip_m2=max(0.0, field.area_m2 - worked_m2), spill_m2=spill_m2,
    )  # fmt: skip


def _spilt_m2(swaths: NDArray[np.object_], outside: shapely.MultiPolygon) -> float:
    """Return the area of swaths on the ground outside, each swath by itself."""
    tree = shapely.STRtree(swaths)
    spilt_m2 = 0.0
    for part in outside.geoms:
        over = tree.query(part, predicate="intersects")
        spilt_m2 += float(shapely.area(overlay.intersections(swaths[over], part)).sum()) if len(over) else 0.0
    return spilt_m2


def in_frame(field: Field, frame: Frame) -> Field:
    """Return a field in another frame.

    Parameters
    ----------
    field : Field
        The field.
    frame : Frame
        The frame wanted.

    Raises
    ------
    LogError
        If the place of the field on Earth is not known.
    """
    if not field.is_placed:
        raise LogError(
            f"the place of the outline {plain_name(field.name)!r} on Earth is not known, so no log can be laid on it. "
            "Place it by one of its corners first."
        )
    if field.frame == frame:
        return field
    return replace(field, shape=shape_to_frame(shape_to_lonlat(field.shape, field.frame), frame), frame=frame)


def _united(shapes: Sequence[BaseGeometry]) -> shapely.MultiPolygon:
    """Return the union, taken of neighbours in time first: they lie side by side, and all at once is slow."""
    while len(shapes) > _MOST_AT_ONCE:
        shapes = [overlay.union(shapes[at : at + _MOST_AT_ONCE]) for at in range(0, len(shapes), _MOST_AT_ONCE)]
    return overlay.union(shapes)


def _drawn(ground: shapely.MultiPolygon, log: Log) -> Field:
    """Return the field whose outline is drawn round the ground swept, closed to the row ends."""
    reach, square_m2 = _CLOSED_SHARE * log.width_m, log.width_m**2
    grown = shapely.buffer(ground, reach, join_style="mitre", mitre_limit=2.0)
    closed = overlay.union([overlay.mitred_inset(grown, reach, 2.0), ground])
    parts = []
    for part in closed.geoms:
        holes = [ring for ring in part.interiors if shapely.Polygon(ring).area > _LEAST_HOLE_SQUARES * square_m2]
        parts.append(shapely.Polygon(part.exterior, holes))
    parts.sort(key=lambda part: -part.area)
    kept = [part for part in parts if part.area > _LEAST_PART_SQUARES * square_m2] or parts[:1]
    thinned = shapely.make_valid(shapely.simplify(shapely.MultiPolygon(kept), _OUTLINE_THIN_M))
    shape = shapely.orient_polygons(overlay.polygons_of(thinned, least_m2=1.0))
    return Field(name=log.name, shape=shape, frame=log.frame)
