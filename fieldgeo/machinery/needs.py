"""`Needs`: what a tool asks of the tractor that draws it, as the shed says or as is usual of its kind."""

from __future__ import annotations

from dataclasses import dataclass
from math import floor, isfinite
from typing import TYPE_CHECKING, Any, Final

from fieldgeo.errors import InputError
from fieldgeo.machinery.amounts import BUSHEL_LB, POUND_KG, converted
from fieldgeo.machinery.draft import Draft, draft_of
from fieldgeo.machinery.entries import Entry, Measure
from fieldgeo.machinery.published import published_efficiency
from fieldgeo.machinery.rotary import Rotary, rotary_table
from fieldgeo.machinery.supply import read_supply_values
from fieldgeo.machinery.tables import machine_of
from fieldgeo.units import (
    ACRE_M2,
    INCH_M,
    parse_draft_n_m,
    parse_length_m,
    parse_mass_kg,
    parse_power_w,
    parse_speed_m_s,
    to_inches,
    to_mph,
)

if TYPE_CHECKING:
    from collections.abc import Mapping

    from fieldgeo.machinery.tool import Tool

PRACTICE: Final = "common practice, no source"

NEED_MEASURES: Final = {
    "depth": Measure(attribute="depth_m", parse=parse_length_m, least="0.5in", most="40in"),
    "draft": Measure(attribute="own_draft_n_m", parse=parse_draft_n_m, least="1lbf/ft", most="20000lbf/ft"),
    "mass": Measure(attribute="mass_kg", parse=parse_mass_kg, least="50lb", most="200000lb"),
    "pto_power": Measure(attribute="pto_power_w", parse=parse_power_w, least="0hp", most="1000hp"),
    "engine_power": Measure(attribute="engine_w", parse=parse_power_w, least="1hp", most="2000hp"),
    "least_speed": Measure(attribute="speed_low_m_s", parse=parse_speed_m_s, least="0.1mph", most="40mph"),
    "most_speed": Measure(attribute="speed_high_m_s", parse=parse_speed_m_s, least="0.1mph", most="40mph"),
}
NEED_KEYS: Final = (*NEED_MEASURES, "soil_units", "draft_as")
MOST_SOIL_UNITS: Final = 500  # own choice: no bar carries more

# Grain taken from an acre where the shed gives no yield (common practice, no source). [bu/ac]
USUAL_YIELD_BU_AC: Final[Mapping[str, float]] = {"corn": 180.0, "soybeans": 50.0}


@dataclass(frozen=True, slots=True, kw_only=True)
class Usual:
    """How a kind of tool is usually set, where the shed does not say: common practice, no source."""

    draft: str  # row of the draft table
    depth_in: float | None = None  # [in]
    spacing_in: float | None = None  # of shanks, sweeps or rows on the bar [in]


USUAL: Final[Mapping[str, Usual]] = {
    "moldboard plow": Usual(draft="moldboard plow", depth_in=8),
    "heavy-duty disk": Usual(draft="disk harrow tandem, primary", depth_in=6),
    "tandem disk harrow": Usual(draft="disk harrow tandem, secondary", depth_in=4),
    "chisel plow (incl. coulter-chisel)": Usual(
        draft="chisel plow, 7.5 cm shovel / 35 cm sweep", depth_in=8, spacing_in=12
    ),
    "subsoiler": Usual(draft="subsoiler / manure injector, narrow point", depth_in=16, spacing_in=30),
    "field cultivator": Usual(draft="field cultivator, secondary", depth_in=3, spacing_in=7),
    "spring-tooth harrow": Usual(draft="spring-tooth harrow"),
    "roller-packer": Usual(draft="roller-packer"),
    "mulcher-packer (roller-harrow)": Usual(draft="roller-harrow"),
    "rotary hoe": Usual(draft="rotary hoe"),
    "row-crop cultivator": Usual(draft="row-crop cultivator, C-shank", depth_in=2, spacing_in=30),
    "row-crop planter": Usual(
        draft="row-crop planter prepared seedbed, drawn, seeding only", spacing_in=30
    ),
    "grain drill": Usual(draft="grain drill with press wheels, > 3.7 m", spacing_in=7.5),
    "air seeder measured on many plots (large-scale research)": Usual(draft="pneumatic drill"),
}  # fmt: skip
_MOUNTED_PLANTER: Final = "row-crop planter prepared seedbed, mounted, seeding only"
_NO_TILL: Final[Mapping[str, str]] = {
    "row-crop planter": "row-crop planter no-till, seeding only, one fluted coulter per row",
    "grain drill": "grain drill no-till, one fluted coulter per row",
}
# Widths of the drills of the draft table. [m]
_DRILLS: Final = (
    (2.4, "grain drill with press wheels, < 2.4 m"), (3.7, "grain drill with press wheels, 2.4-3.7 m"),
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Assumed:
    """A figure that nobody gave: what it stands for, its value as it is shown, and where it comes from."""

    what: str
    value: str
    source: str

    def figures(self) -> dict[str, str]:
        """Return the three by name."""
        return {"what": self.what, "value": self.value, "source": self.source}


@dataclass(frozen=True, slots=True, kw_only=True)
class Needs:
    """What a tool asks of its tractor, or of its own engine.

    Parameters
    ----------
    draft : Draft, optional
        Published draft figures; None where none fit and the grower gives his own, or where nothing is drawn.
    count : float
        Metres of width, tools on the bar or rows, as `draft` counts, >= 0. [-]
    depth_m : float, optional
        Depth of the work, > 0. [m]
    own_draft_n_m : float, optional
        Draft for each metre of width as the grower knows it; it holds over the published figures, > 0. [N/m]
    mass_kg : float, optional
        Mass of the tool, filled, or of the whole machine where it drives itself, > 0. [kg]
    rotary : Rotary, optional
        What its shafts take.
    crop_kg_m2 : float
        Crop that goes through it, >= 0. [kg/m2]
    pto_power_w : float
        Power taken beside the draft by shaft or hydraulics, >= 0. [W]
    engine_w : float, optional
        Net power of its own engine, > 0; None for a tool that a tractor draws. [W]
    speed_low_m_s, speed_high_m_s : float, optional
        Range of speeds in which the tool does good work, > 0. [m/s]
    assumed : tuple of Assumed
        What nobody gave.

    Raises
    ------
    InputError
        If a value is out of range, or the range of speeds is upside down.
    """

    draft: Draft | None = None
    count: float = 0.0
    depth_m: float | None = None
    own_draft_n_m: float | None = None
    mass_kg: float | None = None
    rotary: Rotary | None = None
    crop_kg_m2: float = 0.0
    pto_power_w: float = 0.0
    engine_w: float | None = None
    speed_low_m_s: float | None = None
    speed_high_m_s: float | None = None
    assumed: tuple[Assumed, ...] = ()

    def __post_init__(self) -> None:
        for name in ("depth_m", "own_draft_n_m", "mass_kg", "engine_w", "speed_low_m_s", "speed_high_m_s"):
            value = getattr(self, name)
            if value is not None and not (isfinite(value) and value > 0):
                raise InputError(f"needs: {name} is {value:g}. It must be a finite number above zero.")
        for name in ("count", "crop_kg_m2", "pto_power_w"):
            value = getattr(self, name)
            if not (isfinite(value) and value >= 0):
                raise InputError(f"needs: {name} is {value:g}. It must be a finite number, not below zero.")
        if self.speed_low_m_s and self.speed_high_m_s and self.speed_low_m_s > self.speed_high_m_s:
            raise InputError(
                f"needs: the least speed, {to_mph(self.speed_low_m_s):.3g} mph, is above the most, "
                f"{to_mph(self.speed_high_m_s):.3g} mph."
            )

    @property
    def knows_draft(self) -> bool:
        """Whether there is a figure for its draft."""
        return self.draft is not None or self.own_draft_n_m is not None


def needs_of(tool: Tool, *, word: str = "", given: Mapping[str, Any] | None = None) -> Needs:
    """Return what a tool asks of its tractor: what is given, and what is usual of its kind for the rest.

    Parameters
    ----------
    tool : Tool
        The tool.
    word : str
        The kind in the grower's word, where it tells more than the kind of the tool: "no-till planter".
    given : mapping, optional
        Fields of `Needs` that are known, and `soil_units`, `draft_as` (row of the draft table) and `grain`: crop and
        kilograms on a square metre.

    Raises
    ------
    InputError
        If a value is out of range, or no row of the draft table goes by the name.
    """
    known = dict(given or {})
    soil_units, draft_as, grain = (known.pop(key, None) for key in ("soil_units", "draft_as", "grain"))
    assumed: list[Assumed] = []
    known |= _speeds(tool, known)
    if tool.hitch == "self-propelled":
        return Needs(**known, **_own_engine(tool, known, grain, assumed), assumed=tuple(assumed))
    usual = USUAL.get(machine_of(tool.kind))
    draft = None if known.get("own_draft_n_m") else _draft(tool, word, draft_as, usual, assumed)
    known["draft"] = draft
    if draft is None:
        return Needs(**known, assumed=tuple(assumed))
    if draft.is_by_depth and known.get("depth_m") is None and usual is not None and usual.depth_in is not None:
        known["depth_m"] = usual.depth_in * INCH_M
        assumed.append(Assumed(what="depth", value=f"{usual.depth_in:g} in", source=PRACTICE))
    if draft.is_by_depth and known.get("depth_m") is None:
        raise InputError(f"depth: missing. The draft of {draft.tool!r} goes by depth.")
    if not draft.is_by_depth:
        known["depth_m"] = None
    known["count"] = _count(tool, draft, soil_units, usual, assumed)
    return Needs(**known, assumed=tuple(assumed))


def read_needs(entry: Entry, tool: Tool | None) -> Needs | None:
    """Return what the entry of a shed says that its tool needs; None where there is a fault, which is put down.

    Parameters
    ----------
    entry : Entry
        A [[tool]] entry.
    tool : Tool, optional
        The tool made of it; None where it has faults of its own, and the rest is still looked over.
    """
    before = len(entry.faults)
    given = _read_given(entry)
    if "draft" in entry.values and "draft_as" in entry.values:
        entry.fault("draft_as", "given beside draft. Give one of the two.")
    if tool is not None:
        _check_hitch(entry, tool)
    if tool is None or len(entry.faults) > before:
        return None
    try:
        given["grain"] = _grain(entry.values)
        return needs_of(tool, word=str(entry.values.get("kind", "")), given=given)
    except InputError as error:
        entry.faults.append(f"{entry.where}: {error}")
        return None


def _read_given(entry: Entry) -> dict[str, Any]:
    given: dict[str, Any] = {
        measure.attribute: entry.measure(key, measure) for key, measure in NEED_MEASURES.items() if key in entry.values
    }
    if "soil_units" in entry.values:
        given["soil_units"] = entry.whole("soil_units", MOST_SOIL_UNITS)
    if "draft_as" in entry.values:
        name = given["draft_as"] = entry.text("draft_as")
        try:
            draft_of(name or "")
        except InputError as error:
            if name is not None:
                entry.faults.append(f"{entry.where}: {error}")
    return given


def _check_hitch(entry: Entry, tool: Tool) -> None:
    """Put down what does not go with the way the tool is carried."""
    if tool.hitch != "self-propelled":
        if "engine_power" in entry.values:
            entry.fault(
                "engine_power", f'given for a tool that is {tool.hitch}. It goes with hitch = "self-propelled".'
            )
        return
    for key in ("draft", "draft_as", "soil_units"):
        if key in entry.values:
            entry.fault(key, "given for a self-propelled machine, which no tractor draws.")


def _grain(values: Mapping[str, Any]) -> tuple[str, float] | None:
    """Return the crop of an entry and its mass on a square metre; None where there is no yield."""
    try:
        read = read_supply_values({key: values[key] for key in ("yield", "holds") if key in values})
        if "yield" not in read:
            return None
        holdings = read.get("holds", [])
        words = [values["holds"]] if isinstance(values.get("holds"), str) else values.get("holds", [])
        crop = next((word for word in words if word in BUSHEL_LB), "")
        return crop, converted(read["yield"].value, read["yield"].kind, "kg", holdings, what="yield and a mass")
    except InputError:
        return None  # a fault of the supply is told there; bushels of no known mass say nothing here


def _speeds(tool: Tool, known: Mapping[str, Any]) -> dict[str, float]:
    published = published_efficiency(tool.kind)
    if published is None:
        return {}
    table = {"speed_low_m_s": published.speed_low_m_s, "speed_high_m_s": published.speed_high_m_s}
    found = {key: value for key, value in table.items() if value is not None and key not in known}
    low = known.get("speed_low_m_s", found.get("speed_low_m_s"))
    high = known.get("speed_high_m_s", found.get("speed_high_m_s"))
    # One end given beyond the other end of the table: the table's end says nothing about this tool.
    return found if low is None or high is None or low <= high else {}


def _own_engine(
    tool: Tool, known: Mapping[str, Any], grain: tuple[str, float] | None, assumed: list[Assumed]
) -> dict[str, Any]:
    if not tool.kind.startswith("combine"):
        return {}
    head = "corn" if tool.rows else "soybeans"
    crop, crop_kg_m2 = grain or ("", 0.0)
    crop = crop or head
    if grain is None and "crop_kg_m2" not in known:
        bushels = USUAL_YIELD_BU_AC[crop]
        crop_kg_m2 = bushels * BUSHEL_LB[crop] * POUND_KG / ACRE_M2
        assumed.append(Assumed(what="yield", value=f"{bushels:g} bu/ac of {crop}", source=PRACTICE))
    rotary = rotary_table()["combine, corn" if crop == "corn" else "combine, small grains"]
    return {"rotary": rotary} | ({} if "crop_kg_m2" in known else {"crop_kg_m2": crop_kg_m2})


def _draft(tool: Tool, word: str, draft_as: str | None, usual: Usual | None, assumed: list[Assumed]) -> Draft | None:
    if draft_as is not None:
        return draft_of(draft_as)
    if usual is None:
        return None
    name, machine = usual.draft, machine_of(tool.kind)
    if "no" in word.casefold().replace("-", " ").split() and "till" in word.casefold():
        name = _NO_TILL.get(machine, name)
    elif machine == "row-crop planter" and tool.hitch == "mounted":
        name = _MOUNTED_PLANTER
    elif machine == "grain drill":
        name = next((drill for width_m, drill in _DRILLS if tool.width_m < width_m), name)
    draft = draft_of(name)
    assumed.append(Assumed(what="draft as of", value=draft.tool, source=PRACTICE))
    return draft


def _count(tool: Tool, draft: Draft, soil_units: int | None, usual: Usual | None, assumed: list[Assumed]) -> float:
    """Return how many of its units the tool has. Tools on a bar: floor(width / spacing), as a 2007 textbook counts."""
    if draft.per == "m":
        return tool.width_m
    if draft.per == "row" and tool.rows is not None:
        return float(tool.rows)
    if soil_units is not None:
        return float(soil_units)
    if usual is None or usual.spacing_in is None:
        raise InputError(
            f"soil_units: missing. The draft of {draft.tool!r} goes by the number of shanks, sweeps or rows."
        )
    count = max(1, floor(tool.width_m / (usual.spacing_in * INCH_M) + 1e-9))
    assumed.append(
        Assumed(
            what="soil units",
            value=f"{count}, {usual.spacing_in:g} in apart on {to_inches(tool.width_m):.0f} in",
            source=PRACTICE,
        )
    )
    return float(count)
