"""A log as layers with plain names: what was driven, turns, stops, and the ground missed."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import numpy as np
import shapely

from fieldgeo.analysis.log.measure import DayWork
from fieldgeo.export.files import PathLike
from fieldgeo.export.formats import write_layers
from fieldgeo.export.kinds import LayerKind, Layers
from fieldgeo.export.layers import LAYERS, outline_row
from fieldgeo.frame import azimuth_deg
from fieldgeo.layout import overlay
from fieldgeo.units import to_acres, to_feet

# Detail of a track left out of the files: far less than its places are sure (own choice).
_THIN_M: Final = 0.05
_LEAST_SKIP_M2: Final = 1.0

_DRIVEN: Final = LayerKind(
    "LineString",
    {
        "number": "int64", "role": "str", "stretch": "int64", "start_s": "float64", "seconds": "float64",
        "azimuth_deg": "float64", "length_m": "float64", "length_ft": "float64", "width_m": "float64",
        "speed_m_s": "float64",
    },
)  # fmt: skip
LOG_LAYERS: Final[Mapping[str, LayerKind]] = {
    "outline": LAYERS["outline"],
    "passes": _DRIVEN,
    "headland_rounds": _DRIVEN,
    "travel": _DRIVEN,
    "turns": LayerKind(
        "LineString",
        {
            "number": "int64", "kind": "str", "is_recorded": "bool", "passes_over": "int64", "start_s": "float64",
            "seconds": "float64", "length_m": "float64", "length_ft": "float64",
        },
    ),
    "stops": LayerKind(
        "Point",
        {"number": "int64", "during": "str", "is_break": "bool", "start_s": "float64", "seconds": "float64"},
    ),
    "skip": LAYERS["skip"],
}  # fmt: skip


def log_layers(work: DayWork) -> Layers:
    """Return a log as layers of shapes in its frame with their attributes.

    Parameters
    ----------
    work : DayWork
        A log measured.

    Returns
    -------
    dict of str to list of (shapely.Geometry, dict)
        The layers of `LOG_LAYERS`. Trips are numbered in the order driven, from 1, and hold a line for each stretch;
        short pieces stand among the passes and have that as their `role`. Turns whose way was not recorded are straight
        lines. Times are in seconds from the first record.
    """
    missed = overlay.difference(work.swept.outline.shape, work.swept.ground)
    return {
        "outline": [outline_row(work.swept.outline)],
        "passes": _trips(work, "pass", "piece"),
        "headland_rounds": _trips(work, "headland"),
        "travel": _trips(work, "travel"),
        "turns": _turns(work),
        "stops": [
            (
                shapely.Point(stop.xy),
                {
                    "number": number, "during": stop.during, "is_break": stop in work.timing.breaks,
                    "start_s": stop.start_s, "seconds": stop.duration_s,
                },
            )
            for number, stop in enumerate([*work.timing.stops, *work.timing.breaks], start=1)
        ],
        "skip": [
            (part, {"area_m2": float(part.area), "area_ac": to_acres(float(part.area))})
            for part in missed.geoms
            if part.area >= _LEAST_SKIP_M2
        ],
    }  # fmt: skip


def write_log(work: DayWork, path: PathLike, *, force: bool = False) -> tuple[str, ...]:
    """Write a log as layers to a file, whole or not at all, and say what its format does not hold.

    Parameters
    ----------
    work : DayWork
        A log measured.
    path : str or path
        As for `fieldgeo.export.formats.write_layers`.
    force : bool
        Whether an existing file may be replaced.

    Returns
    -------
    tuple of str
        What the format cannot hold and how it was dealt with.

    Raises
    ------
    InputError
        If the suffix is of another format.
    FileError
        If the file exists and `force` is not set, or it cannot be written.
    """
    return write_layers(log_layers(work), LOG_LAYERS, work.log.frame, path, force=force)


def _trips(work: DayWork, *roles: str) -> list[tuple[shapely.Geometry, dict[str, object]]]:
    rows: list[tuple[shapely.Geometry, dict[str, object]]] = []
    for number, (trip, role) in enumerate(zip(work.trips, work.pattern.roles, strict=True), start=1):
        if role not in roles:
            continue
        for stretch_number, stretch in enumerate(trip.stretches, start=1):
            step = stretch.line[-1] - stretch.line[0]
            length_m = stretch.length_m
            about: dict[str, object] = {
                "number": number, "role": role, "stretch": stretch_number, "start_s": stretch.start_s,
                "seconds": stretch.duration_s,
                "azimuth_deg": float(azimuth_deg(*step)) if np.hypot(*step) > 0 else 0.0,
                "length_m": length_m, "length_ft": to_feet(length_m), "width_m": stretch.width_m,
                "speed_m_s": length_m / stretch.duration_s if stretch.duration_s > 0 else float("nan"),
            }  # fmt: skip
            rows.append((shapely.simplify(shapely.LineString(stretch.line), _THIN_M), about))
    return rows


def _turns(work: DayWork) -> list[tuple[shapely.Geometry, dict[str, object]]]:
    rows: list[tuple[shapely.Geometry, dict[str, object]]] = []
    for number, turn in enumerate(work.timing.turns, start=1):
        line = shapely.LineString(turn.line)
        about: dict[str, object] = {
            "number": number, "kind": turn.kind, "is_recorded": turn.length_m is not None,
            "passes_over": turn.passes_over, "start_s": turn.start_s, "seconds": turn.duration_s,
            "length_m": float(line.length), "length_ft": to_feet(float(line.length)),
        }  # fmt: skip
        rows.append((shapely.simplify(line, _THIN_M), about))
    return rows
