"""Tools as a person asks for them: a width or rows typed in, or a tool of the shed with some values changed."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any, Literal, NamedTuple

from fieldgeo.errors import InputError
from fieldgeo.machinery.needs import NEED_MEASURES
from fieldgeo.machinery.shed import Shed
from fieldgeo.machinery.tool import Tool
from fieldgeo.machinery.tool_entry import TOOL_MEASURES, changed_tool, tool_of

Values = Mapping[str, Any]


class Noted(NamedTuple):
    """A tool, and what its user should know about it."""

    tool: Tool
    notes: tuple[str, ...]


def typed_tools(
    widths: Sequence[str],
    *,
    rows: int | None = None,
    row_spacing: str | None = None,
    kind: str | None = None,
    values: Values,
) -> list[Noted]:
    """Return tools made from widths, or one made from rows and their spacing.

    Parameters
    ----------
    widths : sequence of str
        Widths with their units. Beside rows there may be one: what the tool is called; rows x spacing is its width.
    rows : int, optional
        Number of rows.
    row_spacing : str, optional
        Distance between rows with its unit.
    kind : str, optional
        Machine of the published table, or a grower's word for one.
    values : mapping
        Other keys of a [[tool]] entry for every tool; `sections` may be ``"rows"``.

    Raises
    ------
    InputError
        If a value cannot be used.
    """
    of_kind = {"kind": kind} if kind else {}
    if rows is None and row_spacing is None:
        typed: list[dict[str, Any]] = [
            {"name": f"{_spaced(width)} {kind or 'tool'}", "width": width} for width in widths
        ]
    elif len(widths) > 1:
        raise InputError(f"width: got {len(widths)} beside rows. Rows x row spacing is the width: give one tool.")
    else:
        spaced = {"rows": rows, "row_spacing": row_spacing, "stated_width": widths[0] if widths else None}
        typed = [{key: value for key, value in spaced.items() if value is not None}]
        typed[0]["name"] = f"{rows}-row {_spaced(row_spacing or '')} {kind or 'tool'}"
    return [Noted(*tool_of(each | of_kind | _counted(values, rows, "the tool"))) for each in typed]


def shed_tools(shed: Shed, names: Sequence[str], *, values: Values) -> list[Noted]:
    """Return tools of a shed, with some values in place of their own.

    Parameters
    ----------
    shed : Shed
        The shed.
    names : sequence of str
        Names of tools that stand in it.
    values : mapping
        Keys of a [[tool]] entry that hold for every tool; `sections` may be ``"rows"``.

    Raises
    ------
    InputError
        If no tool has such a name, or a value cannot be used.
    """
    instead = ", ".join(f"{key.replace('_', ' ')} {value}" for key, value in values.items())
    changed = (f"in place of what the shed file says: {instead}",) if values else ()
    tools = [shed.tool(name) for name in names]
    return [
        Noted(changed_tool(tool, _counted(values, tool.rows, repr(tool.name))), (*shed.notes_on(tool.name), *changed))
        for tool in tools
    ]


def read_sections(text: str) -> int | Literal["rows"]:
    """Return a number of sections from text, or "rows".

    Raises
    ------
    InputError
        If it is neither.
    """
    if text.strip().lower() == "rows":
        return "rows"
    if not re.fullmatch(r"[0-9]{1,9}", text.strip()):
        raise InputError(f"got {text!r}. It must be rows, or a whole number from 1 up.")
    return int(text)


def _counted(values: Values, rows: int | None, whose: str) -> dict[str, Any]:
    """Return values with sections as a number."""
    if values.get("sections") != "rows":
        return dict(values)
    if rows is None:
        raise InputError(f"sections: got 'rows', but {whose} has no rows. Give rows and row spacing, or a number.")
    return {**values, "sections": rows}


def _spaced(text: str) -> str:
    return re.sub(r"(?<=[\d.])(?=[A-Za-z])", " ", text.strip())


def speed_asked(text: str) -> float:
    """Return a working speed, held to the range that a tool of a shed is. [m/s]

    Parameters
    ----------
    text : str
        Number and unit.

    Raises
    ------
    InputError
        If it is not a speed, or out of range.
    """
    return TOOL_MEASURES["speed"].read(text, what="speed")


def depth_asked(text: str) -> float:
    """Return a working depth, held to the range that a tool of a shed is. [m]

    Parameters
    ----------
    text : str
        Number and unit.

    Raises
    ------
    InputError
        If it is not a length, or out of range.
    """
    return NEED_MEASURES["depth"].read(text, what="depth")
