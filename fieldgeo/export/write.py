"""Plans of every kind, and outlines, written to an open format that the suffix of the file tells."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeAlias

from fieldgeo.analysis.curved.plan import CurvedPlan
from fieldgeo.analysis.divided.plan import DividedPlan
from fieldgeo.analysis.loaded import LoadedPlan
from fieldgeo.analysis.plan import Plan
from fieldgeo.analysis.plow import LandPlan
from fieldgeo.errors import InputError
from fieldgeo.export.curved import CURVED_LAYERS, curved_layers
from fieldgeo.export.files import PathLike, check_placed
from fieldgeo.export.formats import into_frame, write_layers
from fieldgeo.export.furrows import FURROW_LAYERS, furrow_layers
from fieldgeo.export.layers import LAYERS, outline_row, plan_layers
from fieldgeo.export.parts import PART_LAYERS, part_layers
from fieldgeo.export.stops import STOP_LAYERS, stop_layers

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fieldgeo.export.kinds import Kinds, Layers
    from fieldgeo.outline.field import Field

AnyPlan: TypeAlias = Plan | DividedPlan | CurvedPlan | LandPlan | LoadedPlan


def layers_of(plan: AnyPlan) -> tuple[Layers, Kinds]:
    """Return a plan of any kind as layers of shapes in the frame, and what each layer holds.

    Parameters
    ----------
    plan : Plan, DividedPlan, CurvedPlan, LandPlan or LoadedPlan
        One tool on one field: straight through, in parts, along bent lines, in lands, or with its stops. With stops
        every pass is in one piece, and the stops are points beside it.
    """
    if isinstance(plan, CurvedPlan):
        return curved_layers(plan), CURVED_LAYERS
    if isinstance(plan, DividedPlan):
        return part_layers(plan), PART_LAYERS
    if isinstance(plan, LandPlan):
        return plan_layers(plan.plan) | furrow_layers(plan), {**LAYERS, **FURROW_LAYERS}
    if isinstance(plan, LoadedPlan):
        return plan_layers(plan.without) | stop_layers(plan), {**LAYERS, **STOP_LAYERS}
    return plan_layers(plan), LAYERS


def write_plan(plan: AnyPlan, path: PathLike, *, force: bool = False) -> tuple[str, ...]:
    """Write a plan of any kind to a file, whole or not at all, and say what its format does not hold.

    Parameters
    ----------
    plan : Plan, DividedPlan, CurvedPlan, LandPlan or LoadedPlan
        One tool on one field.
    path : str or path
        ``.geojson``, ``.json``, ``.gpkg``, ``.kml``, ``.gpx``, ``.zip`` (shapefiles) or ``.csv``, as
        `fieldgeo.export.formats.write_layers`.
    force : bool
        Whether an existing file may be replaced.

    Returns
    -------
    tuple of str
        What the format cannot hold and how it was dealt with.

    Raises
    ------
    InputError
        If the suffix is of another format, or the place of the field is not known.
    FileError
        If the file exists and `force` is not set, or it cannot be written.
    """
    field = plan.plan.field if isinstance(plan, LandPlan | LoadedPlan) else plan.field
    check_placed(field, path)
    layers, kinds = layers_of(plan)
    return write_layers(layers, kinds, field.frame, path, force=force)


def write_field(field: Field, path: PathLike, *, force: bool = False) -> tuple[str, ...]:
    """Write the outline of a field to a file, whole or not at all, and say what its format does not hold.

    Parameters
    ----------
    field : Field
        The field.
    path : str or path
        As for `write_plan`.
    force : bool
        Whether an existing file may be replaced.

    Returns
    -------
    tuple of str
        What the format cannot hold and how it was dealt with.

    Raises
    ------
    InputError
        If the suffix is of another format, or the place of the field is not known.
    FileError
        If the file exists and `force` is not set, or it cannot be written.
    """
    return write_fields([field], path, force=force)


def write_fields(fields: Sequence[Field], path: PathLike, *, force: bool = False) -> tuple[str, ...]:
    """Write the outlines of several fields to one file, whole or not at all, and say what its format does not hold.

    Parameters
    ----------
    fields : sequence of Field
        One or more fields, each with its own name, not all of them near each other.
    path : str or path
        As for `write_plan`.
    force : bool
        Whether an existing file may be replaced.

    Returns
    -------
    tuple of str
        What the format cannot hold and how it was dealt with.

    Raises
    ------
    InputError
        If there is no field, the suffix is of another format, or the place of a field is not known.
    FileError
        If the file exists and `force` is not set, or it cannot be written.
    """
    if not fields:
        raise InputError(f"{path}: there is no field to write. Give one or more.")
    for field in fields:
        check_placed(field, path)
    frame = fields[0].frame
    rows = [(into_frame(shape, field.frame, frame), about) for field in fields for shape, about in [outline_row(field)]]
    return write_layers({"outline": rows}, LAYERS, frame, path, force=force)
