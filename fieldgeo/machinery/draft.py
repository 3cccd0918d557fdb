"""Draft: the force it takes to draw a tool through the ground, by tool, depth, soil texture and speed."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from math import isfinite
from typing import TYPE_CHECKING, Final, Literal, TypeAlias, cast

from fieldgeo.errors import InputError
from fieldgeo.machinery.tables import Source, source_of, table_rows

if TYPE_CHECKING:
    from collections.abc import Mapping

Soil: TypeAlias = Literal["fine", "medium", "coarse"]
SOILS: Final[tuple[Soil, ...]] = ("fine", "medium", "coarse")
Per: TypeAlias = Literal["m", "tool", "row"]

_MOST_NAMED: Final = 10  # tools in a message
_KM_H: Final = 3.6  # km/h in 1 m/s
_CM: Final = 100.0  # cm in 1 m


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft:
    """Draft figures of one tool, as the published table has them."""

    tool: str  # name in the table
    per: Per  # what the force is counted by: metre of width, tool on the bar (shank, coulter), or row
    is_by_depth: bool  # whether it grows with depth; otherwise it holds for the usual depth
    a: float  # [N per unit of width, and per cm of depth]
    b: float  # the same for each km/h
    c: float  # the same for each km/h squared
    soil_factors: Mapping[Soil, float]
    spread: float  # the published range is draft x (1 - spread) to draft x (1 + spread) [-]
    source: Source

    def force_n(self, *, count: float, speed_m_s: float, soil: Soil = "medium", depth_m: float | None = None) -> float:
        """Return the typical draft of the tool on level ground. [N]

        Parameters
        ----------
        count : float
            Metres of width, tools on the bar, or rows, as `per` says, > 0.
        speed_m_s : float
            Speed while working, >= 0. [m/s]
        soil : {"fine", "medium", "coarse"}
            Texture: fine is clay and the like, medium loam, coarse sand.
        depth_m : float, optional
            Depth of the work, > 0; left out where `is_by_depth` is false. [m]

        Raises
        ------
        InputError
            If a value is out of range, the soil is not known, or a depth is missing or given where there is none.

        Notes
        -----
        D = F (A + B S + C S2) W T with S in km/h and T in cm [1]_; T is 1 for light tillage tools and seeding machines.
        The form was read [2]_, the coefficients and soil factors are recalled.

        References
        ----------
        .. [1] ASAE/ASABE D497, Agricultural Machinery Management Data, clause on draft and Table 1.
        .. [2] Introduction to Agricultural Engineering Technology: A Problem Solving Approach, 3rd ed., 2007.
        """
        check_soil(soil)
        _check("number of units", count, above=True)
        _check("speed_m_s", speed_m_s, above=False)
        if self.is_by_depth != (depth_m is not None):
            rule = "needs a depth" if self.is_by_depth else "has no depth in the table"
            raise InputError(f"depth: the draft of {self.tool!r} {rule}.")
        depth_cm = 1.0
        if depth_m is not None:
            _check("depth_m", depth_m, above=True)
            depth_cm = depth_m * _CM
        speed_km_h = speed_m_s * _KM_H
        unit_n = self.a + self.b * speed_km_h + self.c * speed_km_h**2
        return self.soil_factors[soil] * unit_n * count * depth_cm


def check_soil(soil: str) -> None:
    """Check that a soil texture is known.

    Raises
    ------
    InputError
        If it is not one of `SOILS`.
    """
    if soil not in SOILS:
        raise InputError(f"soil: got {soil!r}. It must be one of {', '.join(SOILS)}.")


@cache
def draft_table() -> Mapping[str, Draft]:
    """Return the published draft figures by the table's name for the tool."""
    return {row["tool"]: _row(row) for row in table_rows("draft.csv")}


def draft_of(name: str) -> Draft:
    """Return the published draft figures of a tool.

    Parameters
    ----------
    name : str
        The table's name for the tool, or the beginning of one that no other begins with; case does not matter.

    Raises
    ------
    InputError
        If no tool, or more than one, goes by that name; the message names those that are near.

    Examples
    --------
    >>> draft_of("moldboard plow").source.status
    'memory_checked'
    """
    table = draft_table()
    plain = name.strip().casefold()
    found = [row for tool, row in table.items() if tool.casefold() == plain]
    found = found or [row for tool, row in table.items() if plain and tool.casefold().startswith(plain)]
    if len(found) == 1:
        return found[0]
    near = found or [row for tool, row in table.items() if any(word in tool.casefold() for word in plain.split())]
    named = [row.tool for row in near or table.values()]
    names = "; ".join(named[:_MOST_NAMED]) + (f"; and {len(named) - _MOST_NAMED} more" * (len(named) > _MOST_NAMED))
    what = "several tools of the draft table begin so" if found else "no tool of the draft table goes by that name"
    raise InputError(f"draft_as: got {name!r}, but {what}. Give one of: {names}.")


def _row(row: Mapping[str, str]) -> Draft:
    return Draft(
        tool=row["tool"],
        per=cast("Per", row["width_unit_si"]),
        is_by_depth=row["depth_term"] == "yes",
        a=float(row["a_si"]), b=float(row["b_si"]), c=float(row["c_si"]),
        soil_factors={
            "fine": float(row["f1_fine"]), "medium": float(row["f2_medium"]), "coarse": float(row["f3_coarse"]),
        },
        spread=float(row["range_pct_plus_minus"]) / 100,
        source=source_of(row),
    )  # fmt: skip


def _check(what: str, value: float, *, above: bool) -> None:
    if not isfinite(value) or value < 0 or (above and value == 0):
        raise InputError(f"{what}: got {value:g}. It must be a finite number {'above' if above else 'not below'} zero.")
