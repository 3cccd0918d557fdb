"""`read_season`: the season file, in TOML, with a unit on every value.

farm = "Thistle Corner Farm"
shed = "shed.toml"                  # its own tools and tractors; paths start from the folder of this file
farmstead = "-94.344,42.446"        # longitude, latitude: where machines begin and tools are changed
hours_a_day = "10h"                 # field hours of a day that is fit
days_off = ["Sunday"]
road_speed = "15mph"
hitching = "20min"
road_factor = 1.27                  # road over straight distance, where no road is given
soil = "medium"                     # fine, medium or coarse; a field may have its own

[weather]
region = "Illinois"                 # of the published days fit for work
chance = "80%"                      # plan with the days that 8 years of 10 have; left out: with the mean
history = "fit_days.csv"            # in place of a region: your own days
share = [{ from = 2027-04-01, to = 2027-05-31, fit = "50%" }]   # or shares as you know them
persistence = 0.5                   # how far a day is like the day before

[[crop]]
name = "corn"
yield = "190bu/ac"                  # when everything is done in time
price = "4.30/bu"

[[field]]
outline = "creek.geojson"           # or several in brackets
crop = "corn"
name = "Creek"                      # else as in its file
soil = "fine"
gate = "-94.361,42.457"             # where machines enter it
direction = "90deg"                 # of all passes; else the best of each tool

[[road]]
from = "farmstead"
to = "Creek"
distance = "1.4mi"

[[operator]]
name = "the elder"
drives = ["combine"]                # tools, tractors or machines; left out: everything

[[machine]]                         # tools of the shed that are heads of one machine
name = "combine"
tools = ["combine, 20 ft grain head", "combine, 6-row corn head"]

[[operation]]
name = "plant corn"
crop = "corn"                       # on its fields; or fields = ["Creek"]; left out: on all
tool = "16-row planter"             # or several in brackets, any of which may do it
tractor = "planting tractor"        # or several; left out: any that holds the tool's speed
from = 2027-04-18
to = 2027-05-31                     # the last day that it may be done on
after = ["disk"]                    # left out: what stands above it and is done on the same field
wait = "2d"                         # least days between
priority = 2                        # 1 first, 9 last
surface = "tilled"                  # under the wheels: concrete, firm, tilled or soft
late_from = 2027-05-05
daily_loss = "0.6%"                 # of the crop, for each day of delay
losses = [{ on = 2027-05-10, lost = "4%" }]   # or shares of the crop lost by dates; or a region of the published
                                    # losses by date of planting, such as "northern/central Illinois"
rate = "32000seeds/ac"              # in place of what the shed says: rate, yield, holds, tank
product = "corn seed"               # what is bought; of one name all operations together
package = "80000seeds/bag"          # how it is bought; or "50lb/bag", "265gal/tote", "ton"
seed_spacing = "6.5in"              # in place of a rate: seeds by it and the rows of the tool
allowance = "3%"                    # bought beyond what the ground takes
on_hand = "4bags"                   # there already
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from fieldgeo.errors import FieldgeoError, SeasonError
from fieldgeo.machinery.entries import Entry, Measure, check_keys, read_entries, shown
from fieldgeo.machinery.shed import Shed, read_shed
from fieldgeo.machinery.toml_file import read_toml
from fieldgeo.season.field_entry import CROP_KEYS, FIELD_KEYS, read_crops, read_season_fields, read_soil
from fieldgeo.season.model import Operator, Regime, Season, SeasonOperation
from fieldgeo.season.operation_entry import OPERATION_KEYS, Known, read_operations
from fieldgeo.season.places import ROAD_KEYS, USUAL_ROAD_FACTOR, check_farmstead, read_roads
from fieldgeo.season.values import check_known, checked_date, checked_share, name_list, place_value, share_value
from fieldgeo.units import parse_hours, parse_speed_m_s, parse_time_s

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from datetime import date

SIZE_LIMIT_BYTES: Final = 300_000  # some thousand fields; a larger file is no season
MOST_DAYS: Final = 366
WEEK: Final = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
USUAL_HOURS_A_DAY: Final = "10h"  # common practice, no source
USUAL_ROAD_SPEED: Final = "15mph"  # common practice, no source
USUAL_HITCHING: Final = "20min"  # common practice, no source
_MEASURES: Final = {
    "hours_a_day": Measure(attribute="hours_a_day", parse=parse_hours, least="0.5h", most="24h"),
    "road_speed": Measure(attribute="road_speed_m_s", parse=parse_speed_m_s, least="2mph", most="60mph"),
    "hitching": Measure(attribute="hitch_s", parse=parse_time_s, least="0min", most="480min"),
}
_USUAL: Final = {"hours_a_day": USUAL_HOURS_A_DAY, "road_speed": USUAL_ROAD_SPEED, "hitching": USUAL_HITCHING}
_ENTRY_KEYS: Final = {
    "crop": CROP_KEYS, "field": FIELD_KEYS, "road": ROAD_KEYS, "operator": ("name", "drives"),
    "machine": ("name", "tools"), "operation": OPERATION_KEYS,
}  # fmt: skip
_TOP_KEYS: Final = (
    "farm", "shed", "farmstead", *_MEASURES, "days_off", "road_factor", "soil", "weather", *_ENTRY_KEYS,
)  # fmt: skip
_WEATHER_KEYS: Final = ("region", "chance", "history", "share", "persistence")


def read_season(path: str | Path) -> Season:
    """Return the season that a TOML file says, checked against its shed and its fields.

    Parameters
    ----------
    path : str or Path
        The file; its keys are those of this module's example.

    Raises
    ------
    FileError
        If there is no such file, it cannot be read, or it is larger than a season can be.
    SeasonError
        If it is not TOML in UTF-8, or has faults; every fault is in `.problems` with its entry and key, those of its
        shed and its outlines too.
    """
    content = read_toml(
        path, kind="season", holds="lists fields and operations", limit_bytes=SIZE_LIMIT_BYTES, error=SeasonError
    )
    faults: list[str] = []
    folder = Path(path).parent
    check_keys(content, _TOP_KEYS, "season", faults)
    top = Entry(where="season", values=content, faults=faults)
    sections = {name: read_entries(content, name, keys, faults) for name, keys in _ENTRY_KEYS.items()}
    assumed: list[str] = []
    figures = _figures(top, assumed)
    shed = _shed(top, folder)
    faults_before = len(faults)
    crops = read_crops(sections["crop"])
    soil = (read_soil(top) if "soil" in content else None) or "medium"
    fields = read_season_fields(sections["field"], crops, folder=folder, soil=soil)
    is_whole = len(faults) == faults_before and bool(fields)
    roads = read_roads(sections["road"], fields)
    regime = _regime(content, folder, faults)
    days_off = _days_off(top)
    farmstead = place_value(top, "farmstead")
    check_farmstead(top, farmstead, fields)
    operations: tuple[SeasonOperation, ...] = ()
    machines: dict[str, str] = {}
    operators: tuple[Operator, ...] = ()
    if shed is not None:
        known = Known(shed=shed, crops=crops, fields=fields, is_whole=is_whole)
        operations = read_operations(sections["operation"], known, faults)
        machines = _machines(sections["machine"], shed)
        operators = _operators(sections["operator"], shed, machines, operations, faults)
    for name in ("crop", "field", "operation"):
        if not sections[name] and not content.get(name):
            faults.append(f"{name}: missing. A season needs at least one [[{name}]] entry.")
    _check_span(operations, faults)
    if "soil" not in content and any("soil" not in entry.values for entry in sections["field"]):
        assumed.append('soil "medium" where a field has none')
    if not sections["operator"]:
        assumed.append("one operator")
    if faults:
        faults = list(dict.fromkeys(faults))
        raise SeasonError(f"season file {str(path)!r} cannot be used. Correct these and read it again:", faults)
    assert shed is not None  # its faults were put down
    assert farmstead is not None
    return Season(
        farm=(top.text("farm") if "farm" in content else "") or shed.farm, shed=shed, fields=tuple(fields.values()),
        crops=crops, operations=operations, operators=operators, machines=machines, regime=regime, days_off=days_off,
        roads_m=roads, farmstead=farmstead, assumed=tuple(assumed), **figures,
    )  # fmt: skip


def _figures(top: Entry, assumed: list[str]) -> dict[str, Any]:
    """Return hours a day, speed, hitching time and road factor; what is not given is assumed and put down as such."""
    figures: dict[str, Any] = {}
    for key, measure in _MEASURES.items():
        if key in top.values:
            figures[measure.attribute] = top.measure(key, measure)
        else:
            figures[measure.attribute] = measure.read(_USUAL[key], what=key)
            assumed.append(f"{key.replace('_', ' ')} {_USUAL[key]}")
    factor = top.values.get("road_factor", USUAL_ROAD_FACTOR)
    if isinstance(factor, bool) or not isinstance(factor, int | float) or not 1 <= factor <= 10:
        top.fault("road_factor", f"got {shown(factor)}. It must be a number from 1 to 10 without quotes.")
    if "road_factor" not in top.values:
        assumed.append(f"roads {USUAL_ROAD_FACTOR:g} times the straight distance where none is given")
    return figures | {"road_factor": factor}


def _shed(top: Entry, folder: Path) -> Shed | None:
    path = top.text("shed")
    if path is None:
        return None
    try:
        return read_shed(folder / path)
    except FieldgeoError as error:
        top.fault("shed", str(error))
    return None


def _days_off(top: Entry) -> tuple[int, ...]:
    names = name_list(top, "days_off") or ()
    if not check_known(top, "days_off", names, dict.fromkeys(WEEK), "a day of the week"):
        return ()
    if len(names) == len(WEEK):
        top.fault("days_off", "all seven days of the week. One at least must be left to work on.")
    return tuple(WEEK.index(name) for name in names)


def _regime(content: Mapping[str, Any], folder: Path, faults: list[str]) -> Regime:
    values = content.get("weather")
    if not isinstance(values, dict):
        faults.append("weather: missing. Write [weather] with region, history or share: where fit days come from.")
        return Regime()
    entry = Entry(where="weather", values=values, faults=faults)
    check_keys(values, _WEATHER_KEYS, "weather", faults)
    if not {"region", "history", "share"} & set(values):
        entry.fault("region", "missing. Give region, history or share: where fit days come from.")
    chance = share_value(entry, "chance") if "chance" in values else None
    if chance is not None and not 0 < chance < 1:
        entry.fault("chance", f"got {shown(values['chance'])}. It must be above 0 and below 100 per cent.")
    persistence = values.get("persistence")
    if persistence is not None and (
        isinstance(persistence, bool) or not isinstance(persistence, int | float) or not 0 <= persistence < 1
    ):
        entry.fault("persistence", f"got {shown(persistence)}. It must be a number from 0 to below 1 without quotes.")
        persistence = None
    history = entry.text("history") if "history" in values else None
    return Regime(
        region=(entry.text("region") if "region" in values else "") or "",
        shares=_shares(entry) if "share" in values else (),
        history=str(folder / history) if history else "",
        chance=chance,
        persistence=persistence,
    )


def _shares(entry: Entry) -> tuple[tuple[date, date, float], ...]:
    rows = entry.values["share"]
    if not isinstance(rows, list) or not rows or not all(isinstance(row, dict) for row in rows):
        rule = 'It must be spans with shares: [{ from = 2027-04-01, to = 2027-05-31, fit = "50%" }, ...].'
        entry.fault("share", f"got {shown(rows)}. {rule}")
        return ()
    found = []
    for row in rows:
        check_keys(row, ("from", "to", "fit"), f"{entry.where}: share", entry.faults)
        first, last = checked_date(entry, "share", row.get("from")), checked_date(entry, "share", row.get("to"))
        share = checked_share(entry, "share", row.get("fit"))
        if first is None or last is None or share is None:
            continue
        if first > last:
            entry.fault("share", f"{first} to {last}: dates must be in order.")
        found.append((first, last, share))
    return tuple(found)


def _machines(entries: Sequence[Entry], shed: Shed) -> dict[str, str]:
    """Return the machine that each tool which drives itself is a head of; by itself it is its own machine."""
    own = {tool.name: tool for tool in shed.tools if tool.hitch == "self-propelled"}
    machines = {name: name for name in own}
    taken = {tractor.name for tractor in shed.tractors}
    for entry in entries:
        name = entry.text("name")
        tools = name_list(entry, "tools")
        if tools == ():
            entry.fault("tools", "missing. Name the tools of the shed that are heads of this machine.")
        if not tools or not check_known(entry, "tools", tools, own, "a tool of the shed that drives itself"):
            continue
        if name in taken:
            entry.fault("name", f"{shown(name)} is taken by another machine or a tractor.")
        taken.add(name or "")
        for tool in tools:
            if machines[tool] != tool:
                entry.fault("tools", f"{shown(tool)} is a head of {shown(machines[tool])} already.")
            machines[tool] = name or tool
    return machines


def _operators(
    entries: Sequence[Entry],
    shed: Shed,
    machines: Mapping[str, str],
    operations: Sequence[SeasonOperation],
    faults: list[str],
) -> tuple[Operator, ...]:
    known = dict.fromkeys([tool.name for tool in shed.tools])
    known |= dict.fromkeys([*(tractor.name for tractor in shed.tractors), *machines.values()])
    operators: list[Operator] = []
    for entry in entries:
        name = entry.text("name")
        drives = name_list(entry, "drives")
        if drives:
            check_known(entry, "drives", drives, known, "a tool, tractor or machine of this season")
        if name is not None and name in [each.name for each in operators]:
            entry.fault("name", f"{shown(name)} is given twice. Each operator must be given once.")
        operators.append(Operator(name=name or "", drives=drives or ()))
    if not entries:
        return (Operator(name="operator"),)
    for operation in operations:
        for tool in operation.tools:
            if not any(_can_drive(each, tool, operation, machines, shed) for each in operators):
                faults.append(f"operation {operation.name!r}: no operator drives {tool!r} or what carries it.")
    return tuple(operators)


def _can_drive(
    operator: Operator, tool: str, operation: SeasonOperation, machines: Mapping[str, str], shed: Shed
) -> bool:
    carriers = (
        {machines[tool]} if tool in machines else set(operation.tractors or [each.name for each in shed.tractors])
    )
    return not operator.drives or tool in operator.drives or bool(carriers & set(operator.drives))


def _check_span(operations: Sequence[SeasonOperation], faults: list[str]) -> None:
    if not operations:
        return
    first, last = min(each.first for each in operations), max(each.last for each in operations)
    if (last - first).days + 1 > MOST_DAYS:
        faults.append(
            f"operations run from {first} to {last}. A season is at most {MOST_DAYS} days; correct the years."
        )
