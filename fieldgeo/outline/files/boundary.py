"""Open field-boundary columns: area, perimeter and how the boundary was found, held against the shape itself.

Format: the fiboa core specification 0.2.0 (area in hectares, perimeter in metres) and 0.3.0, which renames its columns
and leaves the unit of area unsaid. So the unit is never believed: the shape decides. A column called only `area` is
read where the file is known to follow the specification, and nowhere else.
"""

from __future__ import annotations

from collections import ChainMap
from typing import TYPE_CHECKING, Any, Final

from fieldgeo.outline.files.layer import is_said, shown
from fieldgeo.units import HECTARE_M2, to_acres

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping

_AREA: Final = ("metrics:area", "area")
_PERIMETER: Final = ("metrics:perimeter", "perimeter")
_METHOD: Final = ("determination:method", "determination_method")
_TIME: Final = ("determination:datetime", "determination_datetime")
_DETAILS: Final = ("determination:details", "determination_details")
_MARKS: Final = frozenset({*_METHOD, *_TIME, *_DETAILS, _AREA[0], _PERIMETER[0]})
# Words for the values of determination_method, fiboa core specification 0.2.0.
_METHODS: Final = {
    "manual": "boundary drawn by hand",
    "surveyed": "boundary surveyed",
    "driven": "boundary driven or walked with a positioning device",
    "auto-operation": "boundary worked out from the track of a machine",
    "auto-imagery": "boundary worked out from imagery",
    "unknown": "how the boundary was found is unknown",
}
_MOST_OFF: Final = 0.01  # share by which a stated size may differ before it is told
_SAME_UNIT: Final = 1.5  # a stated area within this factor is in that unit; the next unit is 10,000 times off


def follows_specification(columns: Collection[str], facts: Mapping[str, Any] | None) -> bool:
    """Return whether a file follows the field-boundary specification, by its columns or its metadata.

    Parameters
    ----------
    columns : collection of str
        Names of the columns.
    facts : mapping, optional
        What the file says of all its features together.
    """
    names = {*columns, *(facts or {})}
    return bool(_MARKS & names) or "fiboa_version" in names


def boundary_facts(
    attributes: Mapping[str, Any], facts: Mapping[str, Any] | None, *, area_m2: float, perimeter_m: float
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return what a feature says of its boundary, and where its stated sizes differ from its shape.

    Parameters
    ----------
    attributes : mapping
        Attributes of the feature.
    facts : mapping, optional
        What the file says of all its features together; a feature's own word goes before it.
    area_m2 : float
        Area of its shape on the ellipsoid. [m2]
    perimeter_m : float
        Length of all its rings on the ellipsoid. [m]

    Returns
    -------
    tuple of tuple of str
        Facts for a person, and problems.
    """
    said = ChainMap({key: value for key, value in attributes.items() if is_said(value)}, dict(facts or {}))
    about = []
    method, time, details = (_first(said, names) for names in (_METHOD, _TIME, _DETAILS))
    if method is not None or time is not None:
        how = _METHODS.get(str(method), f"boundary found by {shown(method)}") if method is not None else "boundary"
        about.append(f"{how}, {shown(str(time)[:10])}" if time is not None else how)
    if details is not None:
        about.append(f"boundary: {shown(details)}")
    problems = [_area_problem(_first(said, _AREA), area_m2), _length_problem(_first(said, _PERIMETER), perimeter_m)]
    return tuple(about), tuple(problem for problem in problems if problem)


def _first(said: Mapping[str, Any], names: tuple[str, ...]) -> Any:
    return next((said[name] for name in names if is_said(said.get(name))), None)


def _number(value: object) -> float | None:
    return float(value) if isinstance(value, int | float) and not isinstance(value, bool) and value > 0 else None


def _area_problem(stated: object, area_m2: float) -> str:
    value = _number(stated)
    if value is None or not area_m2 > 0:
        return ""
    units = [(HECTARE_M2, "hectares"), (1.0, "square metres")]
    unit_m2, unit = next(
        ((size, name) for size, name in units if 1 / _SAME_UNIT < value * size / area_m2 < _SAME_UNIT), (0.0, "")
    )
    if not unit:
        return (
            f"its stated area {value:g} fits the shape neither in hectares ({area_m2 / HECTARE_M2:.4g}) nor in square "
            f"metres ({area_m2:.6g}); the shape was followed"
        )
    off = value * unit_m2 / area_m2 - 1
    if abs(off) <= _MOST_OFF:
        return ""
    stated_ac, shape_ac = to_acres(value * unit_m2), to_acres(area_m2)
    return (
        f"its stated area is {stated_ac:.2f} ac ({value:g} {unit}), {abs(off):.1%} {'more' if off > 0 else 'less'} "
        f"than the {shape_ac:.2f} ac of the shape, which was followed"
    )


def _length_problem(stated: object, perimeter_m: float) -> str:
    value = _number(stated)
    if value is None or not perimeter_m > 0 or abs(value / perimeter_m - 1) <= _MOST_OFF:
        return ""
    return f"its stated perimeter is {value:.1f} m, and that of the shape {perimeter_m:.1f} m, which was followed"
