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
    wheel_track = "120in"       # between the middles of the wheels that run among the rows
    tire = "15in"               # width of their tires
    bottoms = 8                 # of a plow: bottoms and bottom_width, or else width
    bottom_width = "18in"
    throws = "right"            # a plow that throws one way; both: a two-way plow

    [[tractor]]
    name = "row-crop tractor"
    kind = "front-wheel assist"
    power = "161hp"             # at the power take-off

Only a name and a width must be given for a tool. Without sections the whole width lifts at once, and without lap there
is none; whatever else is left out is assumed, and the notes say so.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final

from fieldgeo.errors import InputError, ShedError
from fieldgeo.machinery.entries import TEXT_LIMIT, Entry, check_keys, read_entries, shown
from fieldgeo.machinery.needs import NEED_KEYS, Needs, read_needs
from fieldgeo.machinery.owning import OWN_KEYS, Ownership, read_ownership
from fieldgeo.machinery.supply import SUPPLY_KEYS, read_supply_values, supply_of
from fieldgeo.machinery.toml_file import read_toml
from fieldgeo.machinery.tool import Tool
from fieldgeo.machinery.tool_entry import TOOL_KEYS, read_tool
from fieldgeo.machinery.tractor import TRACTOR_KEYS, Tractor, read_tractor

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

SIZE_LIMIT_BYTES: Final = 100_000  # some 300 tools; a larger file is not a shed


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
    needs: Mapping[str, Needs] = field(default_factory=dict)  # what tools ask of a tractor, by name
    owned: Mapping[str, Ownership] = field(default_factory=dict)  # price, age and use, by name; none without a price
    measured: Mapping[str, tuple[str, ...]] = field(default_factory=dict)  # keys of tools that come from a log, by name

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

    def tractor(self, name: str) -> Tractor:
        """Return the tractor of that name.

        Raises
        ------
        InputError
            If no tractor has that name; the message lists those there are.
        """
        for tractor in self.tractors:
            if tractor.name == name:
                return tractor
        names = ", ".join(repr(tractor.name) for tractor in self.tractors) or "none"
        raise InputError(f"tractor: got {name!r}. It must be one of the shed's tractors: {names}.")

    def notes_on(self, name: str) -> tuple[str, ...]:
        """Return what is noted about the tool or tractor of that name; nothing if there is nothing to note."""
        return tuple(note.text for note in self.notes if note.about == name)


_KEYS_OF_ENTRY: Final = (*TOOL_KEYS, *SUPPLY_KEYS, *NEED_KEYS, *OWN_KEYS, "measured")
_TOP_KEYS: Final = ("farm", "tool", "tractor")


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
    content = read_toml(
        path, kind="shed", holds="lists tools and tractors", limit_bytes=SIZE_LIMIT_BYTES, error=ShedError
    )
    faults: list[str] = []
    check_keys(content, _TOP_KEYS, "shed", faults)
    farm = Entry(where="shed", values=content, faults=faults).text("farm") if "farm" in content else ""
    tool_entries = read_entries(content, "tool", _KEYS_OF_ENTRY, faults)
    tractor_entries = read_entries(content, "tractor", (*TRACTOR_KEYS, *OWN_KEYS), faults)
    noted = [read_tool(entry) for entry in tool_entries]
    loads = {_name(entry): _load(entry) for entry in tool_entries}
    needs = {
        _name(entry): read_needs(entry, each[0] if each else None)
        for entry, each in zip(tool_entries, noted, strict=True)
    }
    tractors = [read_tractor(entry) for entry in tractor_entries]
    owned = {_name(entry): read_ownership(entry) for entry in (*tool_entries, *tractor_entries)}
    measured = {_name(entry): _measured(entry) for entry in tool_entries if "measured" in entry.values}
    if content.get("tool", []) == []:
        faults.append("tool: missing. A shed needs at least one [[tool]] entry.")
    faults.extend(_repeated_names([*tool_entries, *tractor_entries]))
    if faults:
        raise ShedError(f"shed file {str(path)!r} cannot be used. Correct these and read it again:", faults)
    return Shed(
        tools=tuple(each[0] for each in noted if each is not None),
        tractors=tuple(tractor for tractor in tractors if tractor is not None),
        notes=tuple(Note(about=each[0].name, text=text) for each in noted if each is not None for text in each[1]),
        farm=farm or "",
        loads={name: load for name, load in loads.items() if load},
        needs={name: need for name, need in needs.items() if need is not None},
        owned={name: own for name, own in owned.items() if own is not None},
        measured=measured,
    )


def _name(entry: Entry) -> str:
    return str(entry.values.get("name")).strip()


def _measured(entry: Entry) -> tuple[str, ...]:
    """Return the keys whose figures come from a log of work; a key that is not there is put down."""
    keys = entry.values["measured"]
    if not isinstance(keys, list) or not all(isinstance(key, str) for key in keys):
        entry.fault("measured", f'got {shown(keys)}. It must be keys of this entry in brackets, such as ["speed"].')
        return ()
    for key in keys:
        if key not in _KEYS_OF_ENTRY or key not in entry.values:
            entry.fault("measured", f"got {shown(key)}. It must be a key that this entry gives.")
    return tuple(keys)


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


def _repeated_names(entries: Sequence[Entry]) -> list[str]:
    names = Counter(entry.values["name"].strip() for entry in entries if isinstance(entry.values.get("name"), str))
    return [
        f"name: {shown(name)} is given {n} times. Each name must be given once." for name, n in names.items() if n > 1
    ]
