"""Filling and unloading as a person asks for them: places, carts and allowances read from text."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final, Literal, NamedTuple, TypeAlias

import numpy as np
import shapely

from fieldgeo.analysis.asked import read_lonlat
from fieldgeo.analysis.asked_zones import AskedZones, PlacedRates, asked_zones
from fieldgeo.analysis.loaded import Load
from fieldgeo.errors import InputError
from fieldgeo.machinery.amounts import Amount, converted, parse_amount, parse_holding
from fieldgeo.machinery.supply import SUPPLY_KEYS, Job, Supply, supply_of
from fieldgeo.travel.stations import WINDS, checked_stands, side_along, side_facing
from fieldgeo.travel.stop_rules import StopRules
from fieldgeo.travel.timeline import Adjusting
from fieldgeo.units import ACRE_M2, HECTARE_M2, HOUR_S, parse_time_s

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from fieldgeo.layout.axes import Floats
    from fieldgeo.outline.field import Field

Place: TypeAlias = tuple[float, float] | str  # longitude and latitude, or a word
Road: TypeAlias = str | tuple[tuple[float, float], ...]  # a wind, or points along it

_WORDS: Final = ("edge", "road", "best", "best2", "go", *WINDS)
_SEARCHED: Final = {"best": 1, "best2": 2}
# Time of a stop where none is given: common practice, no source.
ASSUMED_SETUP: Final = {"fill": "5min", "unload": "1min"}
ASSUMED_FLOW: Final = "3bu/s"  # of a combine's auger; only where the tank is in bushels
_ZONE_KEYS: Final = ("zone_column", "zone_unit", "zone_crs")
_ZONE_JOBS: Final[tuple[tuple[Job, str, str], ...]] = (("fill", "rate", "yield"), ("unload", "yield", "rate"))
_PER_TIME: Final = {"h": HOUR_S, "hr": HOUR_S, "hour": HOUR_S}
_PER_AREA: Final = {"ac": ACRE_M2, "acre": ACRE_M2, "ha": HECTARE_M2}


class AskedLoad(NamedTuple):
    """What was asked for, as read from text; nothing that needs the field yet."""

    supply: Supply  # with a rate of its own, or 1 where all of it comes from zones
    places: tuple[Place, ...] = ()
    road: Road | None = None
    cart: Amount | None = None
    holds: tuple[str, ...] = ()
    first: Literal["stops", "time"] = "stops"
    last_fill: Literal["needed", "full"] = "needed"
    starts_empty: bool = False
    adjusting: Adjusting = Adjusting()
    notes: tuple[str, ...] = ()
    zones: AskedZones | None = None


def read_place(text: str) -> Place:
    """Return where to stop: a word, or longitude and latitude. [deg]

    Raises
    ------
    InputError
        If it is neither.

    Examples
    --------
    >>> read_place("South"), read_place("-94.365,42.457")
    ('south', (-94.365, 42.457))
    """
    word = text.strip().lower()
    if word in _WORDS:
        return word
    if "," in text:
        return read_lonlat(text)
    raise InputError(f"got {text!r}. It must be one of {', '.join(_WORDS)}, or longitude,latitude of a stand.")


def read_road(text: str) -> Road:
    """Return the side by the road: a wind, or two and more places along it with spaces between. [deg]

    Raises
    ------
    InputError
        If it is neither.

    Examples
    --------
    >>> read_road("-94.365,42.457 -94.355,42.457")
    ((-94.365, 42.457), (-94.355, 42.457))
    """
    word = text.strip().lower()
    if word in WINDS:
        return word
    points = tuple(read_lonlat(part) for part in text.split())
    if len(points) < 2:
        raise InputError(
            f"got {text!r}. It must be a side, one of {', '.join(WINDS)}, or two and more places along the road with "
            "spaces between, such as '-94.365,42.457 -94.355,42.457'."
        )
    return points


def read_adjusting(text: str) -> Adjusting:
    """Return an allowance for adjusting from text: time for each hour of work, or for each acre or hectare swept.

    Raises
    ------
    InputError
        If it is neither.

    Examples
    --------
    >>> read_adjusting("3min/h")
    Adjusting(per_work=0.05, per_area_s_m2=0.0)
    """
    match = re.fullmatch(r"\s*(?P<time>[^/]+)/\s*(?P<per>[A-Za-z]+)\s*", text)
    per = match["per"].lower() if match else ""
    if match is None or per not in {*_PER_TIME, *_PER_AREA}:
        raise InputError(f"got {text!r}. It must be a time for each hour or acre, such as 3min/h or 10s/ac.")
    seconds = parse_time_s(match["time"], what="adjusting")
    if per in _PER_TIME:
        return Adjusting(per_work=seconds / _PER_TIME[per])
    return Adjusting(per_area_s_m2=seconds / _PER_AREA[per])


def asked_load(options: Mapping[str, Any], *, own: Mapping[str, Any] | None = None) -> AskedLoad | None:
    """Return what options ask of filling and unloading; None where they ask for neither.

    Parameters
    ----------
    options : mapping
        `tank`, `rate`, `yield`, `holds`, `stop_setup`, `stop_flow` as texts; `fill_at`, `unload_at` as tuples of
        places, `road`, `cart` and `adjust` as read; `stops_first`, `last_fill`, `starts_empty`; `rate_zones`,
        `yield_zones`, `zone_column`, `zone_unit`, `zone_crs` as texts. All may be left out.
    own : mapping, optional
        What the shed says that the tool carries, by the keys of `fieldgeo.machinery.supply.SUPPLY_KEYS`.

    Raises
    ------
    InputError
        If something is missing, or options do not go together.
    """
    given = {key: value for key, value in options.items() if value not in (None, (), False)}
    if not {"tank", "rate", "yield", "fill_at", "unload_at", "rate_zones", "yield_zones"} & given.keys():
        for key in ("cart", "road", "holds", "stop_setup", "stop_flow", "starts_empty", *_ZONE_KEYS):
            if key in given:
                name = key.replace("_", " ")
                raise InputError(f"{name}: goes with filling or unloading. Give tank and rate, or tank and yield, too.")
        return None
    values, notes = _supply_values(given, own or {})
    zones = asked_zones(given, values, _job(given, values))
    word = "rate" if zones is None else zones.word
    supply = supply_of(values if zones is None or word in values else {**values, word: f"1{zones.unit}"})
    is_fill = supply.job == "fill"
    places = tuple(given.get("fill_at" if is_fill else "unload_at", ()))
    if ("unload_at" if is_fill else "fill_at") in given:
        raise InputError(
            "fill at goes with a rate, unload at with a yield. Give the one that belongs to what the tool carries."
        )
    _check_places(places, given, is_fill=is_fill)
    return AskedLoad(
        supply=supply,
        places=places,
        road=given.get("road"),
        cart=given.get("cart"),
        holds=tuple(values.get("holds", ())),
        first=given.get("stops_first", "stops"),
        last_fill=given.get("last_fill", "needed"),
        starts_empty=bool(given.get("starts_empty", False)),
        adjusting=given.get("adjust", Adjusting()),
        notes=tuple(notes),
        zones=zones,
    )


def load_on(field: Field, asked: AskedLoad, *, rates: PlacedRates | None = None) -> Load:
    """Return what was asked for on one field: places in its frame, sides as lines.

    Parameters
    ----------
    field : Field
        The field.
    asked : AskedLoad
        From `asked_load`.
    rates : PlacedRates, optional
        Rate or yield by place, read for the field from `asked.zones`; needed where that is not None.

    Raises
    ------
    InputError
        If zones were asked for and are not given, a stand lies too far from the field, or no edge of it faces a side
        or lies by a road.
    """
    if asked.zones is not None and rates is None:
        raise InputError("zones: asked for but not read. Read them for the field with fieldgeo.terrain's read_rates.")
    supply = asked.supply if rates is None else replace(asked.supply, rate_m2=rates.rates)
    side = None if asked.road is None else _side(field, asked.road)
    rules = StopRules(first=asked.first, last_fill=asked.last_fill, starts_empty=asked.starts_empty)
    words = [place for place in asked.places if isinstance(place, str)]
    word = words[0] if words else ""
    if not words and asked.places:
        rules = replace(rules, where="stands", stands_xy=_stands(field, asked.places))
    elif word == "go":
        cart = None
        if asked.cart is not None:
            holdings = [parse_holding(text) for text in asked.holds]
            cart = converted(asked.cart.value, asked.cart.kind, asked.supply.kind, holdings, what="tank and cart")
        rules = replace(rules, where="go", cart_capacity=cart)
    elif word in WINDS:
        rules = replace(rules, where="side", side=side_facing(field.shape, word))
    elif word == "road" or (not asked.places and side is not None):
        rules = replace(rules, where="side", side=side)
    return Load(
        supply=supply, rules=rules, search_stands=_SEARCHED.get(word, 0), along=side, adjusting=asked.adjusting,
        notes=asked.notes if rates is None else (*asked.notes, *rates.notes),
    )  # fmt: skip


def edge_load(field: Field, own: Mapping[str, Any], *, job: Job) -> Load:
    """Return what the shed says that a tool carries, with stops at the edge of the field, wherever the tank lasts to.

    Parameters
    ----------
    field : Field
        The field.
    own : mapping
        By the keys of `fieldgeo.machinery.supply.SUPPLY_KEYS`, a rate or a yield among them.
    job : {"fill", "unload"}
        Which of the two.

    Raises
    ------
    InputError
        If what it carries cannot be used.
    """
    asked = asked_load({f"{job}_at": ("edge",)}, own=own)
    assert asked is not None  # something was asked
    return load_on(field, asked)


def _supply_values(given: Mapping[str, Any], own: Mapping[str, Any]) -> tuple[dict[str, Any], list[str]]:
    """Return the values of the supply, typed ones before those of the shed, and what was assumed."""
    typed = {key: given[key] for key in SUPPLY_KEYS if key in given}
    values = dict(own)
    zoned = _zoned(given)
    if zoned is not None:
        values.pop("yield" if zoned == "fill" else "rate", None)
    elif "rate" in typed or "yield" in typed:
        values = {key: value for key, value in values.items() if key not in {"rate", "yield"}}
    elif "fill_at" in given and "rate" in values:
        values.pop("yield", None)
    elif "unload_at" in given and "yield" in values:
        values.pop("rate", None)
    values |= typed
    job = _job(given, values)
    assumed = []
    if "stop_setup" not in values:
        values["stop_setup"] = ASSUMED_SETUP[job]
        assumed.append(f"{ASSUMED_SETUP[job]} of set-up at each stop")
    if "stop_flow" not in values and job == "unload" and str(values.get("tank", "")).strip().endswith("bu"):
        values["stop_flow"] = ASSUMED_FLOW
        assumed.append(f"{ASSUMED_FLOW} of flow")
    return values, [f"assumed, not given: {', '.join(assumed)} (common practice, no source)"] if assumed else []


def _zoned(given: Mapping[str, Any]) -> Job | None:
    """Return what zones are for; None where there are none."""
    if "rate_zones" in given and "yield_zones" in given:
        raise InputError("rate zones go with filling, yield zones with unloading. Give one of them.")
    for job, word, other in _ZONE_JOBS:
        if f"{word}_zones" in given:
            if other in given:
                raise InputError(f"{word} zones go with a {word}, not with a {other}. Give one or the other.")
            return job
    return None


def _job(given: Mapping[str, Any], values: Mapping[str, Any]) -> Job:
    return _zoned(given) or ("unload" if "yield" in values else "fill")


def _check_places(places: Sequence[Place], given: Mapping[str, Any], *, is_fill: bool) -> None:
    words = [place for place in places if isinstance(place, str)]
    if words and len(places) > 1:
        raise InputError(f"got {len(places)} places, {words[0]} among them. Only stands by their place may be several.")
    word = words[0] if words else ""
    if word == "go" and is_fill:
        raise InputError("go: goes with unloading. A tool that is filled must stop: give another place.")
    if "cart" in given and word != "go":
        raise InputError("cart: goes with unloading on the go. Unload at: go.")
    if word == "road" and "road" not in given:
        raise InputError("road: asked for but not given. Say where it is: a side, or places along it.")
    if "road" in given and word not in {"", "road", *_SEARCHED}:
        raise InputError(f"road: does not go with {word}. Stop at the road, or search for the best stand along it.")
    for key in ("starts_empty", "last_fill"):
        if key in given and not is_fill:
            raise InputError(f"{key.replace('_', ' ')}: goes with filling, and this is unloading.")


def _side(field: Field, road: Road) -> shapely.MultiLineString:
    if isinstance(road, str):
        return side_facing(field.shape, road)
    lon, lat = np.array(road).T
    return side_along(field.shape, shapely.LineString(np.column_stack(field.frame.to_frame(lon, lat))))


def _stands(field: Field, places: Sequence[Place]) -> Floats:
    lon, lat = np.array([place for place in places if not isinstance(place, str)]).T
    return checked_stands(np.column_stack(field.frame.to_frame(lon, lat)), field.shape)


def read_cart(text: str) -> Amount:
    """Return what a cart takes, from text such as ``"1000bu"``.

    Raises
    ------
    InputError
        If it is not an amount above zero.
    """
    return parse_amount(text, what="cart", example="1000bu")
