"""[[operation]] entries of a season file: what is done with what, when, and after what."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from graphlib import CycleError, TopologicalSorter
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Final, cast

from fieldgeo.errors import InputError
from fieldgeo.machinery.entries import Entry, check_keys, shown
from fieldgeo.machinery.supply import read_supply_values
from fieldgeo.machinery.traction import SURFACES, Ground
from fieldgeo.season.dated_loss import loss_curve
from fieldgeo.season.model import USUAL_PRIORITY, SeasonOperation
from fieldgeo.season.power import pullers
from fieldgeo.season.products import PRODUCT_KEYS, product_of, product_values
from fieldgeo.season.values import check_known, checked_date, checked_share, date_value, days_value, name_list

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from fieldgeo.machinery.shed import Shed
    from fieldgeo.machinery.traction import Surface
    from fieldgeo.season.model import Crop, SeasonField

OWN_SUPPLIES: Final = ("rate", "yield", "holds", "tank")
OPERATION_KEYS: Final = (
    "name", "crop", "fields", "tool", "tractor", "from", "to", "after", "wait", "priority", "surface", "late_from",
    "daily_loss", "losses", *OWN_SUPPLIES, *PRODUCT_KEYS,
)  # fmt: skip
_LAST_PRIORITY: Final = 9
_MOST_WAIT_D: Final = 365
_MOST_DAILY_LOSS: Final = 0.2  # own choice: a crop is not lost within five days


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """What the operations of a file may name."""

    shed: Shed
    crops: Mapping[str, Crop]
    fields: Mapping[str, SeasonField]
    is_whole: bool = True  # False where crops or fields have faults of their own: what follows from those is not told


def read_operations(entries: Sequence[Entry], known: Known, faults: list[str]) -> tuple[SeasonOperation, ...]:
    """Return the operations in the order of the file; what cannot be used is put down.

    Parameters
    ----------
    entries : sequence of Entry
        The [[operation]] entries.
    known : Known
        Shed, crops and fields.
    faults : list of str
        Where faults of several operations together are put down.
    """
    fields_of = [_fields(entry, known) for entry in entries]
    names = [str(entry.values.get("name", "")).strip() for entry in entries]
    afters = [_after(entry, at, names, fields_of) for at, entry in enumerate(entries)]
    operations: list[SeasonOperation | None] = []
    for entry, fields, after in zip(entries, fields_of, afters, strict=True):
        operations.append(_operation(entry, known, fields, after))
        if names.count(names[len(operations) - 1]) > 1:
            entry.fault("name", "given more than once. Give each operation a name of its own.")
    read = tuple(each for each in operations if each is not None)
    if len(set(names)) == len(names):  # otherwise it is not known which of a name is meant
        _check_order(read, faults)
    return read


def _fields(entry: Entry, known: Known) -> tuple[str, ...]:
    """Return the fields that an operation is done on: those named, or those of its crops, in the order of the file."""
    if "crop" in entry.values and "fields" in entry.values:
        entry.fault("fields", "given beside crop. Give one of the two.")
    if "fields" in entry.values:
        names = name_list(entry, "fields")
        if names and check_known(entry, "fields", names, known.fields, "a field of this season"):
            return tuple(name for name in known.fields if name in names)
        return ()
    crops = name_list(entry, "crop")
    if crops and not check_known(entry, "crop", crops, known.crops, "a crop of this season"):
        return ()
    found = tuple(name for name, field in known.fields.items() if not crops or field.crop in crops)
    if not found and crops and known.is_whole:
        entry.fault("crop", f"got {shown(entry.values['crop'])}. No field of this season has it.")
    return found


def _after(
    entry: Entry, at: int, names: Sequence[str], fields_of: Sequence[tuple[str, ...]]
) -> tuple[tuple[str, int], ...]:
    """Return what comes before: what is named, or else every operation above it that is done on one of its fields."""
    wait = days_value(entry, "wait", most=_MOST_WAIT_D) if "wait" in entry.values else 0
    if "after" in entry.values:
        given = [] if entry.values["after"] == [] else name_list(entry, "after") or ()
        others = {name: None for number, name in enumerate(names) if number != at}
        if not check_known(entry, "after", tuple(given), others, "another operation of this season"):
            return ()
        for name in given:
            if (
                fields_of[at]
                and fields_of[names.index(name)]
                and not set(fields_of[at]) & set(fields_of[names.index(name)])
            ):
                entry.fault("after", f"got {shown(name)}, which is done on none of its fields.")
    else:
        given = [
            name for name, fields in zip(names[:at], fields_of[:at], strict=True) if set(fields) & set(fields_of[at])
        ]
    if "wait" in entry.values and not given:
        entry.fault("wait", "given for an operation that comes after no other.")
    return tuple((name, wait or 0) for name in given)


def _operation(
    entry: Entry, known: Known, fields: tuple[str, ...], after: tuple[tuple[str, int], ...]
) -> SeasonOperation | None:
    before = len(entry.faults)
    name = entry.text("name")
    first, last = date_value(entry, "from"), date_value(entry, "to")
    if first is not None and last is not None and first > last:
        entry.fault("to", f"got {last}, before from, {first}. Dates must be in order.")
    surface = entry.choice("surface", SURFACES) if "surface" in entry.values else "tilled"
    tools, tractors = _machines(entry, known, fields, cast("Surface", surface))
    priority = entry.whole("priority", _LAST_PRIORITY) if "priority" in entry.values else USUAL_PRIORITY
    losses, losses_source = _losses(entry, known, fields)
    supplies = _supplies(entry)
    product = _product(entry, known, tools, supplies)
    if len(entry.faults) > before or name is None or first is None or last is None or priority is None:
        return None
    return SeasonOperation(
        name=name, fields=fields, tools=tools, tractors=tractors, first=first, last=last, after=after,
        surface=cast("Surface", surface), priority=priority, losses=losses, supplies=supplies,
        product=product, losses_source=losses_source,
    )  # fmt: skip


def _machines(
    entry: Entry, known: Known, fields: tuple[str, ...], surface: Surface | None
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return tools and tractors; a tool that no tractor can pull is put down with what is short."""
    shed = known.shed
    tools, tractors = name_list(entry, "tool") or (), name_list(entry, "tractor") or ()
    if "tool" not in entry.values:
        entry.fault("tool", "missing. Name a tool of the shed, or several in brackets, any of which may do it.")
    has_tools = check_known(entry, "tool", tools, {tool.name: tool for tool in shed.tools}, "a tool of the shed")
    has_tractors = check_known(
        entry, "tractor", tractors, {tractor.name: tractor for tractor in shed.tractors}, "a tractor of the shed"
    )
    if not has_tools or not has_tractors:
        return (), ()
    for soil in dict.fromkeys(known.fields[name].soil for name in fields):
        for name in tools:
            try:
                found = pullers(shed, shed.tool(name), tractors, Ground(soil=soil, surface=surface or "tilled"))
            except InputError as error:
                entry.fault("tool", str(error))
                continue
            if not found.fitting:
                among = "none of the tractors named" if tractors else "no tractor of the shed"
                own = shed.tool(name).hitch == "self-propelled"
                among = "its own engine does not" if own else f"{among} can"
                entry.fault("tool", f"{shown(name)}: {among} hold its speed: {found.short_text()}.")
    return tools, tractors


def _losses(entry: Entry, known: Known, fields: tuple[str, ...]) -> tuple[tuple[tuple[date, float], ...], str]:
    """Return what lateness costs, as shares of the crop lost by dates, and where it is published."""
    losses: tuple[tuple[date, float], ...] = ()
    source = ""
    if "losses" in entry.values:
        if "late_from" in entry.values or "daily_loss" in entry.values:
            entry.fault("losses", "given beside late_from and daily_loss. Give one of the two.")
        if isinstance(entry.values["losses"], str):
            losses, source = _published(entry, known, fields)
        else:
            losses = _dated(entry)
    elif "late_from" in entry.values and "daily_loss" in entry.values:
        start = date_value(entry, "late_from")
        daily = checked_share(entry, "daily_loss", entry.values["daily_loss"], most=_MOST_DAILY_LOSS)
        if start is not None and daily is not None:
            losses = ((start, 0.0), (start + timedelta(days=1), daily))
    elif "late_from" in entry.values or "daily_loss" in entry.values:
        entry.fault("daily_loss", "late_from and daily_loss go together: from which day on, and how much each day.")
    if losses and known.is_whole:
        for crop in dict.fromkeys(known.fields[name].crop for name in fields):
            found = known.crops.get(crop)
            if found is not None and (found.yield_bu_m2 is None or found.price_bu is None):
                entry.fault("losses", f"lateness costs a share of crop {shown(crop)}, which has no yield and price.")
    return losses, source


def _published(entry: Entry, known: Known, fields: tuple[str, ...]) -> tuple[tuple[tuple[date, float], ...], str]:
    """Return the published losses by date of planting in a region, and their source."""
    crops = {known.fields[name].crop for name in fields}
    first, last = entry.values.get("from"), entry.values.get("to")
    if len(crops) != 1 or not isinstance(first, date) or not isinstance(last, date) or first > last:
        if len(crops) > 1:
            entry.fault("losses", "losses of a region are those of one crop. Give each crop an operation of its own.")
        return (), ""
    try:
        curve = loss_curve("planting", crops.pop(), entry.text("losses") or "")
    except InputError as error:
        entry.faults.append(f"{entry.where}: {error}")
        return (), ""
    window = [first + timedelta(days=number) for number in range((last - first).days + 1)]
    return curve.dated(first.year), "; ".join(curve.notes(window))


def _dated(entry: Entry) -> tuple[tuple[date, float], ...]:
    rows = entry.values["losses"]
    rule = 'It must be dates with shares: [{ on = 2027-05-10, lost = "4%" }, ...].'
    if not isinstance(rows, list) or not rows or not all(isinstance(row, dict) for row in rows):
        entry.fault("losses", f"got {shown(rows)}. {rule}")
        return ()
    found: list[tuple[date, float]] = []
    for row in rows:
        check_keys(row, ("on", "lost"), f"{entry.where}: losses", entry.faults)
        on, lost = checked_date(entry, "losses", row.get("on")), checked_share(entry, "losses", row.get("lost"))
        if on is not None and lost is not None:
            found.append((on, lost))
    ordered = all(one[0] < other[0] and one[1] <= other[1] for one, other in pairwise(found))
    if not ordered:
        entry.fault("losses", "dates out of order, or a loss that falls. Both must rise from one to the next.")
    return tuple(found)


def _supplies(entry: Entry) -> dict[str, Any]:
    values = {key: entry.values[key] for key in OWN_SUPPLIES if key in entry.values}
    try:
        read_supply_values(values)
    except InputError as error:
        entry.faults.append(f"{entry.where}: {error}")
    return values


def _product(entry: Entry, known: Known, tools: tuple[str, ...], supplies: Mapping[str, Any]) -> dict[str, Any]:
    """Return how what is put on the ground is bought, as it is written; what cannot be used is put down."""
    values = {key: entry.values[key] for key in PRODUCT_KEYS if key in entry.values}
    for tool in tools if values else ():
        try:
            carried = known.shed.loads.get(tool, {})
            merged = product_values(carried, supplies, values)
            product_of(merged, default_name=entry.where, tool=known.shed.tool(tool))
        except InputError as error:
            entry.faults.append(f"{entry.where}: {error}")
            break
    return values


def _check_order(operations: Sequence[SeasonOperation], faults: list[str]) -> None:
    """Put down operations that come after each other in a ring, and windows that do not go with the order."""
    by_name = {each.name: each for each in operations}
    try:
        TopologicalSorter({each.name: [name for name, _ in each.after] for each in operations}).prepare()
    except CycleError as error:
        ring = " after ".join(repr(name) for name in reversed(error.args[1]))
        faults.append(f"operations come after each other in a ring: {ring}. Correct after in one of them.")
        return
    for each in operations:
        for name, wait in each.after:
            earlier = by_name.get(name)
            if earlier is not None and each.last < earlier.first + timedelta(days=wait):
                faults.append(
                    f"operation {each.name!r} ends on {each.last}, before {name!r}, which it comes after, can be done "
                    f"(from {earlier.first}{f', and {wait} days between' if wait else ''}). Dates must be in order."
                )
