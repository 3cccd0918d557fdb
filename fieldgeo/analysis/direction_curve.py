"""Field time at every direction, estimated: the curve that the search for the best direction goes by."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from fieldgeo.analysis.many_directions import PLACINGS, ManyDirections, side_directions
from fieldgeo.layout.axes import Floats
from fieldgeo.layout.headland import Sides
from fieldgeo.layout.strips import Finish
from fieldgeo.machinery.tool import Tool
from fieldgeo.outline.field import Field

STEP_DEG = 0.5  # as the first sweep of the search


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DirectionCurve:
    """Estimated field time at directions all round."""

    direction_deg: Floats  # (H,) azimuths of the passes, ascending, 0 <= d < 180 [deg]
    field_time_s: Floats  # (H,) estimate at each [s]


def direction_curve(
    field: Field,
    tool: Tool,
    *,
    headland: int | Literal["auto"] = "auto",
    sides: Sides = "auto",
    finish: Finish = "cover",
) -> DirectionCurve:
    """Return the estimated field time at every half degree, and along every side longer than the width.

    An estimate knows nothing of the order of the work or of the driving between blocks, so that the exact time of a
    layout may lie some per cent above it or below.

    Parameters
    ----------
    field : Field
        The field.
    tool : Tool
        The tool.
    headland : int or "auto"
        Number of headland rounds, as in `lay`.
    sides : {"auto", "ends", "all"}
        Where they lie, as in `lay`.
    finish : {"cover", "clean", "half"}
        Finish rule, as in `lay`.

    Raises
    ------
    InputError
        If a rule is unknown, or the number of rounds is out of range.
    LayoutError
        If the tool is wider than the field is long.
    """
    many = ManyDirections(field, tool, headland=headland, sides=sides, finish=finish)
    grid, along = np.arange(0, 180, STEP_DEG), side_directions(field, tool)
    along = along[~np.isin(along, grid)]
    on_grid, on_sides = many.estimate(grid, PLACINGS, "time"), many.estimate(along, PLACINGS, "time")
    many.lay_likely_headlands(on_grid + on_sides, "time")
    directions = np.concatenate([grid, along])
    times = np.concatenate([many.scores(on_grid, len(grid), "time"), many.scores(on_sides, len(along), "time")])
    order = np.argsort(directions, kind="stable")
    return DirectionCurve(direction_deg=directions[order], field_time_s=times[order])
