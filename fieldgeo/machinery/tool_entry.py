"""A [[tool]] entry of the shed file: its keys, what is assumed where one is left out, and the `Tool` it makes."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final, cast

from fieldgeo.errors import InputError, ShedError
from fieldgeo.machinery.entries import Entry, Measure, check_keys, shown
from fieldgeo.machinery.published import published_efficiency
from fieldgeo.machinery.tool import HITCHES, THROWS, Hitch, Throws, Tool, row_width_m
from fieldgeo.units import INCH_M, parse_length_m, parse_speed_m_s, parse_time_s, to_feet, to_mph

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

STATED_WIDTH_TOLERANCE: Final = 0.005  # share of the width by which what a tool is called may be rounded; own choice

TOOL_MEASURES: Final = {
    "width": Measure(attribute="width_m", parse=parse_length_m, least="1ft", most="300ft"),
    "row_spacing": Measure(attribute="row_spacing_m", parse=parse_length_m, least="2in", most="20ft"),
    "bottom_width": Measure(attribute="bottom_width_m", parse=parse_length_m, least="4in", most="4ft"),
    "stated_width": Measure(attribute="", parse=parse_length_m, least="1ft", most="300ft"),
    "lap": Measure(attribute="lap_m", parse=parse_length_m, least="0ft", most="100ft"),
    "speed": Measure(attribute="speed_m_s", parse=parse_speed_m_s, least="0.1mph", most="40mph"),
    "turn_speed": Measure(attribute="turn_speed_m_s", parse=parse_speed_m_s, least="0.1mph", most="40mph"),
    "turn_radius": Measure(attribute="turn_radius_m", parse=parse_length_m, least="1ft", most="300ft"),
    "turn_radius_left": Measure(attribute="turn_radius_left_m", parse=parse_length_m, least="1ft", most="300ft"),
    "turn_radius_right": Measure(attribute="turn_radius_right_m", parse=parse_length_m, least="1ft", most="300ft"),
    "pull_out": Measure(attribute="pull_out_m", parse=parse_length_m, least="0ft", most="300ft"),
    "raise": Measure(attribute="raise_s", parse=parse_time_s, least="0s", most="10min"),
    "lower": Measure(attribute="lower_s", parse=parse_time_s, least="0s", most="10min"),
    "reverse": Measure(attribute="reverse_m", parse=parse_length_m, least="0ft", most="300ft"),
    "reverse_speed": Measure(attribute="reverse_speed_m_s", parse=parse_speed_m_s, least="0.1mph", most="40mph"),
    "shift": Measure(attribute="shift_s", parse=parse_time_s, least="0s", most="10min"),
    "tail": Measure(attribute="tail_m", parse=parse_length_m, least="0ft", most="300ft"),
    "wheel_track": Measure(attribute="wheel_track_m", parse=parse_length_m, least="2ft", most="40ft"),
    "tire": Measure(attribute="tire_m", parse=parse_length_m, least="1in", most="6ft"),
}

_CHANGEABLE: Final = (
    "lap", "speed", "turn_speed", "turn_radius", "turn_radius_left", "turn_radius_right", "pull_out", "raise", "lower",
    "reverse", "reverse_speed", "shift", "tail",
)  # fmt: skip
TOOL_KEYS: Final = ("name", "kind", "rows", "bottoms", "sections", "hitch", "throws", *TOOL_MEASURES)
_PLOW: Final = "moldboard plow"

# Left out of the file, these are assumed, and how they are shown; not at all where nothing comes of them.
_ASSUMED: Final[Mapping[str, Callable[[Tool], str]]] = {
    "speed": lambda tool: f"{to_mph(tool.speed_m_s):.3g} mph{_speed_source(tool)}",
    "turn_speed": lambda tool: f"{to_mph(tool.turn_speed_m_s):.3g} mph",
    "turn_radius": lambda tool: f"{to_feet(tool.turn_radius_m):.3g} ft",
    "pull_out": lambda tool: f"{to_feet(tool.pull_out_m):.3g} ft",
    "raise": lambda tool: f"{tool.raise_s:g} s",
    "lower": lambda tool: f"{tool.lower_s:g} s",
    "hitch": lambda tool: tool.hitch,
    "throws": lambda tool: f"{tool.throws}, a one-way plow" if tool.throws else "",
    "reverse_speed": lambda tool: f"{to_mph(tool.reverse_speed_m_s):.3g} mph" if tool.can_reverse else "",
    "shift": lambda tool: f"{tool.shift_s:g} s" if tool.can_reverse else "",
}


def tool_of(values: Mapping[str, Any]) -> tuple[Tool, tuple[str, ...]]:
    """Return a tool and what is noted about it, from values as a [[tool]] entry has them.

    Parameters
    ----------
    values : mapping
        Keys and texts of a [[tool]] entry.

    Raises
    ------
    ShedError
        If no tool can be made of them; every fault is in `.problems`.

    Examples
    --------
    >>> tool, notes = tool_of({"name": "planter", "rows": 23, "row_spacing": "15in", "stated_width": "30ft"})
    >>> notes[0]
    'called 30 ft wide, but 23 rows at 15 in work 28.75 ft; 28.75 ft is used'
    """
    entry = Entry(where="tool", values=values, faults=[])
    check_keys(values, TOOL_KEYS, entry.where, entry.faults)
    noted = read_tool(entry)
    if noted is None or entry.faults:
        raise ShedError("the tool cannot be used:", entry.faults)
    return noted


def changed_tool(tool: Tool, values: Mapping[str, Any]) -> Tool:
    """Return a tool with some values in place of its own, the width and the kind left as they are.

    Parameters
    ----------
    tool : Tool
        The tool.
    values : mapping
        Keys and texts of a [[tool]] entry: lap, speeds, turn radius, pull-out, reverse, tail, times and sections. A
        turn radius given alone holds for both sides.

    Raises
    ------
    ShedError
        If a value cannot be used; every fault is in `.problems`.
    """
    entry = Entry(where=f"tool {shown(tool.name)}", values=values, faults=[])
    check_keys(values, ("sections", *_CHANGEABLE), entry.where, entry.faults)
    given: dict[str, Any] = {
        TOOL_MEASURES[key].attribute: entry.measure(key, TOOL_MEASURES[key]) for key in _CHANGEABLE if key in values
    }
    if "turn_radius" in values:
        given = {"turn_radius_left_m": None, "turn_radius_right_m": None} | given
    given |= {"sections": entry.whole("sections", 300)} if "sections" in values else {}
    _check_parts(entry, {"width_m": tool.width_m, "rows": tool.rows} | given)
    if entry.faults:
        raise ShedError("the tool cannot be used:", entry.faults)
    return replace(tool, **given)


def read_tool(entry: Entry) -> tuple[Tool, tuple[str, ...]] | None:
    """Return the tool of an entry and what is noted about it; None where there is a fault, which is put down.

    Parameters
    ----------
    entry : Entry
        A [[tool]] entry.
    """
    faults_before = len(entry.faults)
    given: dict[str, Any] = {}
    name = entry.text("name")
    for key, measure in TOOL_MEASURES.items():
        if key in entry.values:
            given[measure.attribute] = entry.measure(key, measure)
    stated_width_m = given.pop("", None)
    for key, most in (("rows", 100), ("bottoms", 30), ("sections", 300)):
        if key in entry.values:
            given[key] = entry.whole(key, most)
    if "hitch" in entry.values:
        given["hitch"] = cast("Hitch | None", entry.choice("hitch", HITCHES))
    if "throws" in entry.values:
        given["throws"] = cast("Throws | None", entry.choice("throws", THROWS))
    if "kind" in entry.values:
        given |= _from_kind(entry, given)
    _settle_width(entry, given)
    _check_parts(entry, given)
    if name is None or len(entry.faults) > faults_before:
        return None
    tool = Tool(name=name, **given)
    return tool, tuple(_notes(entry, tool, stated_width_m))


def _from_kind(entry: Entry, given: Mapping[str, Any]) -> dict[str, Any]:
    """Return the machine of the published table, and what it says about values that were not given."""
    kind = entry.text("kind")
    if kind is None:
        return {}
    try:
        published = published_efficiency(kind)
    except InputError as error:
        entry.faults.append(f"{entry.where}: {error}")
        return {}
    if published is None:
        return {}
    found: dict[str, Any] = {"kind": published.machine}
    if "speed_m_s" not in given and published.speed_typical_m_s is not None:
        found["speed_m_s"] = published.speed_typical_m_s
    if "hitch" not in given and published.machine.endswith("self-propelled"):
        found["hitch"] = "self-propelled"
    if "throws" not in given and published.machine.startswith(_PLOW):
        found["throws"] = "right"
    return found


def _settle_width(entry: Entry, given: dict[str, Any]) -> None:
    """Put the width down from rows or bottoms and what each is wide, or see that it is there."""
    pairs = [pair for pair in (("rows", "row_spacing"), ("bottoms", "bottom_width")) if set(pair) & set(entry.values)]
    for pair in pairs:
        for key, other in (pair, pair[::-1]):
            if key in entry.values and other not in entry.values:
                entry.fault(other, f"missing. {key} needs it beside.")
        if "width" in entry.values:
            entry.fault(
                "width",
                f"given beside {pair[0]} or {pair[1]}. Give one of the two; {pair[0]} x {pair[1]} is the width.",
            )
    if len(pairs) > 1:
        entry.fault("bottoms", "given beside rows. A tool has one or the other.")
    bottom_m = given.pop("bottom_width_m", None)
    rows, row_spacing_m, bottoms = (given.get(key) for key in ("rows", "row_spacing_m", "bottoms"))
    if rows and row_spacing_m:
        given["width_m"] = row_width_m(rows, row_spacing_m)
    elif bottoms and bottom_m:
        given["width_m"] = bottoms * bottom_m
    if pairs and given.get("width_m", 0.0) > parse_length_m(TOOL_MEASURES["width"].most):
        entry.fault(
            pairs[0][0], f"work {to_feet(given['width_m']):.4g} ft. It must be {TOOL_MEASURES['width'].most} or less."
        )
    if not pairs and "width" not in entry.values:
        entry.fault("width", "missing. Give width, or rows and row_spacing, or bottoms and bottom_width.")


def _check_parts(entry: Entry, given: Mapping[str, Any]) -> None:
    width_m, lap_m = given.get("width_m"), given.get("lap_m")
    if width_m and lap_m and lap_m >= width_m / 2:
        entry.fault(
            "lap", f"got {entry.values['lap']!r}. It must be less than half the width, {to_feet(width_m):.4g} ft."
        )
    rows, sections = given.get("rows"), given.get("sections")
    if rows and sections and sections > rows:
        entry.fault("sections", f"got {sections}. It must not be more than the {rows} rows.")
    tire_m, track_m = given.get("tire_m"), given.get("wheel_track_m")
    if tire_m and tire_m >= (track_m or 0.0):
        entry.fault("tire", f"got {entry.values['tire']!r}. It needs a wheel_track beside it, and must be less.")


def _notes(entry: Entry, tool: Tool, stated_width_m: float | None) -> list[str]:
    notes = []
    if stated_width_m and abs(stated_width_m - tool.width_m) > STATED_WIDTH_TOLERANCE * tool.width_m:
        made_of = (
            f"{tool.rows} rows at {(tool.row_spacing_m or 0) / INCH_M:.4g} in work" if tool.rows else "its width is"
        )
        width = f"{to_feet(tool.width_m):.4g} ft"
        notes.append(f"called {to_feet(stated_width_m):.4g} ft wide, but {made_of} {width}; {width} is used")
    if not tool.kind:
        notes.append("no kind given: no published field efficiency to set beside the answer")
    assumed = [f"{key} {show(tool)}" for key, show in _ASSUMED.items() if key not in entry.values and show(tool)]
    if assumed:
        notes.append(f"assumed, not given: {', '.join(assumed)}")
    return notes


def _speed_source(tool: Tool) -> str:
    published = published_efficiency(tool.kind)
    if published is None or published.speed_typical_m_s is None:
        return ""
    return f" (typical in the published table, {'recalled' if published.is_recalled else 'read'})"
