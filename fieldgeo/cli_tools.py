"""The tools and the work that options ask for."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from fieldgeo.errors import FaultyInputError, InputError

if TYPE_CHECKING:
    from collections.abc import Callable

    from fieldgeo.machinery.tool import Tool
    from fieldgeo.outline.field import Field


def read_tools(options: dict[str, Any]) -> tuple[list[Tool], list[str]]:
    """Return the tools that the options ask for, and what is noted about them."""
    from fieldgeo.machinery.asked import shed_tools, typed_tools
    from fieldgeo.machinery.shed import read_shed

    keys = ("speed", "turn_speed", "turn_radius", "lap", "sections")
    values = {key: options[key] for key in keys if options[key] is not None}
    widths, rows, row_spacing, kind = (options[key] for key in ("widths", "rows", "row_spacing", "kind"))
    is_typed = bool(widths) or rows is not None or row_spacing is not None
    _check_tool_usage(options, is_typed=is_typed)
    noted = []
    if is_typed:
        noted += usage(typed_tools, widths, rows=rows, row_spacing=row_spacing, kind=kind, values=values)
    if options["names"]:
        shed = read_shed(options["shed"])
        named = shed_tools(shed, options["names"], values={})  # a name that is not in the shed is no wrong usage
        noted += usage(shed_tools, shed, options["names"], values=values) if values else named
    names = [each.tool.name for each in noted]
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        raise click.UsageError(f"a tool is given more than once: {', '.join(map(repr, twice))}. Give each once.")
    notes = [f"note: {each.tool.name}: {note.replace('_', ' ')}." for each in noted for note in each.notes]
    return [each.tool for each in noted], notes


def _check_tool_usage(options: dict[str, Any], *, is_typed: bool) -> None:
    if options["names"] and not options["shed"]:
        raise click.UsageError("--tool needs --shed FILE, the shed file that lists the tool.")
    if options["shed"] and not options["names"]:
        raise click.UsageError("--shed needs --tool NAME, a tool that it lists.")
    if not options["names"] and not is_typed:
        raise click.UsageError("no tool. Give --width, or --rows with --row-spacing, or --tool with --shed.")
    if options["kind"] and not is_typed:
        raise click.UsageError("--kind goes with --width or --rows; a tool of the shed has its kind there.")


def read_one_tool(options: dict[str, Any]) -> tuple[Tool, list[str]]:
    """Return the one tool that the options ask for, and what is noted about it."""
    if len(options["widths"]) + len(options["names"]) > 1 or (options["names"] and options["rows"]):
        raise click.UsageError("more than one tool. Give one --width, or --rows with --row-spacing, or one --tool.")
    tools, notes = read_tools(options)
    return tools[0], notes


def usage(read: Callable[..., Any], *values: Any, **named: Any) -> Any:
    """Call a reader of options; what it refuses is wrong usage."""
    try:
        return read(*values, **named)
    except FaultyInputError as error:
        raise click.UsageError(error.problems[0] if len(error.problems) == 1 else str(error)) from error
    except InputError as error:
        raise click.UsageError(str(error)) from error


def work_on(field: Field, options: dict[str, Any]) -> dict[str, Any]:
    """Return how the work is done on a field, under the names that the library has for it."""
    from fieldgeo.analysis.asked import entrance_xy

    place = options["entrance"]
    entrance = None if place is None else entrance_xy(field, place)
    return {key: options[key] for key in ("headland", "sides", "finish")} | {"entrance_xy": entrance}


def carried(options: dict[str, Any], tool: Tool) -> dict[str, Any] | None:
    """Return what the shed says that a tool carries."""
    if not options["names"]:
        return None
    from fieldgeo.machinery.shed import read_shed

    return dict(read_shed(options["shed"]).loads.get(tool.name, {}))
