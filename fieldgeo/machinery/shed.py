"""The shed file: the tools and tractors of a farm, written down once in TOML with a unit on every value.

    [[tool]]
    name = "16-row planter"
    kind = "row-crop planter"   # a machine of the published table, or a grower's word for one
    rows = 16                   # rows and row_spacing, or else width
    row_spacing = "30in"
    stated_width = "40ft"       # what the tool is called; rows x spacing is what works
    sections = 16               # parts that lift or shut off by themselves
    lap = "0in"                 # kept on purpose between passes
    tank = "3x15bu"             # what the tank or all hoppers hold
    rate = "0.43bu/ac"          # of seed, fertilizer or spray; of grain it is yield = "180bu/ac"
    holds = "corn"              # or 56lb/bu, 80000seeds/bag: how much goes into what
    stop_setup = "4min"         # time of each stop to fill or unload, beside the flow
    stop_flow = "15bu/min"
    speed = "5mph"
    turn_speed = "4mph"
    turn_radius = "24ft"
    turn_radius_left = "27ft"   # and turn_radius_right: where a side differs
    pull_out = "15ft"           # straight run past the end before a turn can begin
    raise = "3s"
    lower = "3s"
    hitch = "pulled"            # mounted, pulled or self-propelled
    reverse = "30ft"            # how far it can be backed in one go; else any distance, and not at all when pulled
    reverse_speed = "2mph"
    shift = "4s"                # that each change between forward and reverse adds
    tail = "5ft"                # how far the rear reaches behind the point the tool pivots about

    [[tractor]]
    name = "row-crop tractor"
    kind = "front-wheel assist"
    power = "161hp"             # at the power take-off

Only a name and a width must be given for a tool. Without sections the whole width lifts at once, and without lap there
is none; whatever else is left out is assumed, and the notes say so.
"""

from __future__ import annotations

import tomllib
from collections import Counter
from dataclasses import dataclass, field, replace
from math import isfinite
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, cast

from fieldgeo.errors import FileError, InputError, ShedError
from fieldgeo.machinery.entries import TEXT_LIMIT, Entry, Measure, check_keys, read_entries, shown
from fieldgeo.machinery.published import published_efficiency
from fieldgeo.machinery.supply import SUPPLY_KEYS, read_supply_values, supply_of
from fieldgeo.machinery.tool import HITCHES, Hitch, Tool, row_width_m
from fieldgeo.units import (
    INCH_M,
    parse_length_m,
    parse_power_w,
    parse_speed_m_s,
    parse_time_s,
    to_feet,
    to_mph,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

TRACTOR_KINDS: Final = ("two-wheel drive", "front-wheel assist", "four-wheel drive", "tracks")

SIZE_LIMIT_BYTES: Final = 100_000  # some 300 tools; a larger file is not a shed
STATED_WIDTH_TOLERANCE: Final = 0.005  # share of the width by which what a tool is called may be rounded; own choice


@dataclass(frozen=True, slots=True, kw_only=True)
class Tractor:
    """A tractor, by kind and power.

    Raises
    ------
    InputError
        If the power is not a finite number above zero, or the kind is not one of `TRACTOR_KINDS` or empty.
    """

    name: str
    power_w: float  # at the power take-off [W]
    kind: str = ""  # one of TRACTOR_KINDS, or ""

    def __post_init__(self) -> None:
        if not (isfinite(self.power_w) and self.power_w > 0):
            raise InputError(f"tractor {self.name!r}: power_w is {self.power_w:g}. It must be a number above zero.")
        if self.kind not in ("", *TRACTOR_KINDS):
            kinds = ", ".join(TRACTOR_KINDS)
            raise InputError(f"tractor {self.name!r}: kind is {self.kind!r}. It must be one of {kinds}, or empty.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """Something the grower should know about one entry of a shed: what was assumed, or does not agree."""

    about: str  # name of the tool or tractor
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Shed:
    """The tools and tractors of a farm, in the order of the file."""

    tools: tuple[Tool, ...]
    tractors: tuple[Tractor, ...] = ()
    notes: tuple[Note, ...] = ()
    farm: str = ""
    loads: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)  # what tools carry, by name, as it is written

    def tool(self, name: str) -> Tool:
        """Return the tool of that name.

        Raises
        ------
        InputError
            If no tool has that name; the message lists those there are.
        """
        for tool in self.tools:
            if tool.name == name:
                return tool
        names = ", ".join(repr(tool.name) for tool in self.tools)
        raise InputError(f"tool: got {name!r}. It must be one of the shed's tools: {names}.")

    def notes_on(self, name: str) -> tuple[str, ...]:
        """Return what is noted about the tool or tractor of that name; nothing if there is nothing to note."""
        return tuple(note.text for note in self.notes if note.about == name)


_MEASURES: Final = {
    "width": Measure(attribute="width_m", parse=parse_length_m, least="1ft", most="300ft"),
    "row_spacing": Measure(attribute="row_spacing_m", parse=parse_length_m, least="2in", most="20ft"),
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
}
_POWER: Final = Measure(attribute="power_w", parse=parse_power_w, least="1hp", most="2000hp")

_CHANGEABLE: Final = (
    "lap", "speed", "turn_speed", "turn_radius", "turn_radius_left", "turn_radius_right", "pull_out", "raise", "lower",
    "reverse", "reverse_speed", "shift", "tail",
)  # fmt: skip
_TOOL_KEYS: Final = ("name", "kind", "rows", "sections", "hitch", *_MEASURES)
_KEYS_OF_ENTRY: Final = (*_TOOL_KEYS, *SUPPLY_KEYS)
_TRACTOR_KEYS: Final = ("name", "kind", "power")
_TOP_KEYS: Final = ("farm", "tool", "tractor")

# Left out of the file, these are assumed, and how they are shown; not at all where nothing comes of them.
_ASSUMED: Final[Mapping[str, Callable[[Tool], str]]] = {
    "speed": lambda tool: f"{to_mph(tool.speed_m_s):.3g} mph{_speed_source(tool)}",
    "turn_speed": lambda tool: f"{to_mph(tool.turn_speed_m_s):.3g} mph",
    "turn_radius": lambda tool: f"{to_feet(tool.turn_radius_m):.3g} ft",
    "pull_out": lambda tool: f"{to_feet(tool.pull_out_m):.3g} ft",
    "raise": lambda tool: f"{tool.raise_s:g} s",
    "lower": lambda tool: f"{tool.lower_s:g} s",
    "hitch": lambda tool: tool.hitch,
    "reverse_speed": lambda tool: f"{to_mph(tool.reverse_speed_m_s):.3g} mph" if tool.can_reverse else "",
    "shift": lambda tool: f"{tool.shift_s:g} s" if tool.can_reverse else "",
}


def read_shed(path: str | Path) -> Shed:
    """Return the shed written down in a TOML file.

    Parameters
    ----------
    path : str or Path
        The file; its keys are those of this module's example.

    Returns
    -------
    Shed
        Tools, tractors, and notes on what was assumed or does not agree.

    Raises
    ------
    FileError
        If there is no such file, it cannot be read, or it is larger than a shed can be.
    ShedError
        If it is not TOML in UTF-8, or has faults; every fault is in `.problems` with its entry and key.
    """
    content = _parse(_read_text(Path(path)), path)
    faults: list[str] = []
    notes: list[Note] = []
    check_keys(content, _TOP_KEYS, "shed", faults)
    farm = Entry(where="shed", values=content, faults=faults).text("farm") if "farm" in content else ""
    tool_entries = read_entries(content, "tool", _KEYS_OF_ENTRY, faults)
    tractor_entries = read_entries(content, "tractor", _TRACTOR_KEYS, faults)
    tools = [_tool(entry, notes) for entry in tool_entries]
    loads = {str(entry.values.get("name")).strip(): _load(entry) for entry in tool_entries}
    tractors = [_tractor(entry) for entry in tractor_entries]
    if content.get("tool", []) == []:
        faults.append("tool: missing. A shed needs at least one [[tool]] entry.")
    faults.extend(_repeated_names([*tool_entries, *tractor_entries]))
    if faults:
        raise ShedError(f"shed file {str(path)!r} cannot be used. Correct these and read it again:", faults)
    return Shed(
        tools=tuple(tool for tool in tools if tool is not None),
        tractors=tuple(tractor for tractor in tractors if tractor is not None),
        notes=tuple(notes),
        farm=farm or "",
        loads={name: load for name, load in loads.items() if load},
    )


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
    notes: list[Note] = []
    check_keys(values, _TOOL_KEYS, entry.where, entry.faults)
    tool = _tool(entry, notes)
    if tool is None or entry.faults:
        raise ShedError("the tool cannot be used:", entry.faults)
    return tool, tuple(note.text for note in notes)


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
        _MEASURES[key].attribute: entry.measure(key, _MEASURES[key]) for key in _CHANGEABLE if key in values
    }
    if "turn_radius" in values:
        given = {"turn_radius_left_m": None, "turn_radius_right_m": None} | given
    given |= {"sections": entry.whole("sections", 300)} if "sections" in values else {}
    _check_parts(entry, {"width_m": tool.width_m, "rows": tool.rows} | given)
    if entry.faults:
        raise ShedError("the tool cannot be used:", entry.faults)
    return replace(tool, **given)


def _read_text(path: Path) -> str:
    try:
        if not path.is_file():
            what = "this is not a plain file" if path.exists() else "there is no such file"
            raise FileError(f"shed file {str(path)!r}: {what}. Give the path of a shed in TOML.")
        with path.open("rb") as file:
            content = file.read(SIZE_LIMIT_BYTES + 1)
    except FileError:
        raise
    except (OSError, ValueError) as error:  # ValueError: a NUL byte in the path
        raise FileError(f"shed file {str(path)!r} cannot be read: {error}. Check its name and rights.") from error
    if len(content) > SIZE_LIMIT_BYTES:
        raise FileError(
            f"shed file {str(path)!r}: larger than {SIZE_LIMIT_BYTES:,} bytes, so it is no shed. Give the TOML file "
            "that lists tools and tractors."
        )
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise ShedError(
            f"shed file {str(path)!r}: byte {error.start} is not UTF-8 text. Save the file as UTF-8."
        ) from error


def _parse(text: str, path: str | Path) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except (ValueError, RecursionError) as error:  # RecursionError: brackets nested without end
        reason = "it is nested too deeply" if isinstance(error, RecursionError) else str(error)
        raise ShedError(
            f"shed file {str(path)!r} is not TOML: {reason}. Correct that line and read it again."
        ) from error


def _tool(entry: Entry, notes: list[Note]) -> Tool | None:
    faults_before = len(entry.faults)
    given: dict[str, Any] = {}
    name = entry.text("name")
    for key, measure in _MEASURES.items():
        if key in entry.values:
            given[measure.attribute] = entry.measure(key, measure)
    stated_width_m = given.pop("", None)
    for key, most in (("rows", 100), ("sections", 300)):
        if key in entry.values:
            given[key] = entry.whole(key, most)
    if "hitch" in entry.values:
        given["hitch"] = cast("Hitch | None", entry.choice("hitch", HITCHES))
    if "kind" in entry.values:
        given |= _from_kind(entry, given)
    _settle_width(entry, given)
    _check_parts(entry, given)
    if name is None or len(entry.faults) > faults_before:
        return None
    tool = Tool(name=name, **given)
    notes.extend(Note(about=name, text=text) for text in _notes(entry, tool, stated_width_m))
    return tool


def _load(entry: Entry) -> dict[str, Any]:
    """Return what the tool carries, as it is written; what cannot be used is put down."""
    values = {key: entry.values[key] for key in SUPPLY_KEYS if key in entry.values}
    faults = []
    for key, value in values.items():
        each = value if isinstance(value, list) else [value]
        if not each or not all(isinstance(text, str) and len(text) <= TEXT_LIMIT for text in each):
            faults.append(f"{key}: got {shown(value)}. It must be text with a number and its unit.")
            continue
        try:
            read_supply_values({key: value})
        except InputError as error:
            faults.append(str(error))
    if not faults and "tank" in values and ("rate" in values or "yield" in values):
        try:
            supply_of(values)
        except InputError as error:
            faults.append(str(error))
    entry.faults.extend(f"{entry.where}: {fault}" for fault in faults)
    return values


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
    return found


def _settle_width(entry: Entry, given: dict[str, Any]) -> None:
    """Put the width down from rows and their spacing, or see that it is there."""
    for key in ("rows", "row_spacing"):
        other = "row_spacing" if key == "rows" else "rows"
        if key in entry.values and other not in entry.values:
            entry.fault(other, f"missing. {key} needs it beside.")
    if "rows" in entry.values or "row_spacing" in entry.values:
        if "width" in entry.values:
            entry.fault(
                "width", "given beside rows or row_spacing. Give one of the two; rows x row_spacing is the width."
            )
        rows, row_spacing_m = given.get("rows"), given.get("row_spacing_m")
        if rows and row_spacing_m:
            given["width_m"] = row_width_m(rows, row_spacing_m)
            if given["width_m"] > parse_length_m(_MEASURES["width"].most):
                entry.fault(
                    "rows", f"work {to_feet(given['width_m']):.4g} ft. It must be {_MEASURES['width'].most} or less."
                )
    elif "width" not in entry.values:
        entry.fault("width", "missing. Give width, or rows and row_spacing.")


def _check_parts(entry: Entry, given: Mapping[str, Any]) -> None:
    width_m, lap_m = given.get("width_m"), given.get("lap_m")
    if width_m and lap_m and lap_m >= width_m / 2:
        entry.fault(
            "lap", f"got {entry.values['lap']!r}. It must be less than half the width, {to_feet(width_m):.4g} ft."
        )
    rows, sections = given.get("rows"), given.get("sections")
    if rows and sections and sections > rows:
        entry.fault("sections", f"got {sections}. It must not be more than the {rows} rows.")


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


def _tractor(entry: Entry) -> Tractor | None:
    faults_before = len(entry.faults)
    name = entry.text("name")
    kind = entry.choice("kind", TRACTOR_KINDS) if "kind" in entry.values else ""
    if "power" in entry.values:
        power_w = entry.measure("power", _POWER)
    else:
        power_w = None
        entry.fault("power", 'missing. Give the power at the power take-off, such as "161hp".')
    if name is None or power_w is None or kind is None or len(entry.faults) > faults_before:
        return None
    return Tractor(name=name, power_w=power_w, kind=kind)


def _repeated_names(entries: Sequence[Entry]) -> list[str]:
    names = Counter(entry.values["name"].strip() for entry in entries if isinstance(entry.values.get("name"), str))
    return [
        f"name: {shown(name)} is given {n} times. Each name must be given once." for name, n in names.items() if n > 1
    ]
