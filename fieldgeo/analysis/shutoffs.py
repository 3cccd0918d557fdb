"""`shutoffs_on`: what row or section shut-offs would save on a field, one and the same plan worked with each.

Where passes run on a slant into the end rows a tool that lifts as a whole works a triangle again on every pass; parts
that shut off by themselves work smaller ones. On a straight edge of length B met at an angle th a width w works
B w cos(th) / 2 again, and n equal parts an nth of it (derived). Direction, headland and the lines of the passes are
those of the plan with whole-tool lift, so that nothing differs but the shut-offs.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final, Literal

from fieldgeo.analysis.coverage import measure_coverage
from fieldgeo.analysis.lay import lay
from fieldgeo.analysis.plan import typical_turn_s
from fieldgeo.errors import InputError
from fieldgeo.layout.passes import best_placings, lay_passes

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from fieldgeo.analysis.coverage import Coverage
    from fieldgeo.layout.headland import Sides
    from fieldgeo.layout.strips import Finish
    from fieldgeo.machinery.amounts import Kind
    from fieldgeo.machinery.tool import Tool
    from fieldgeo.outline.field import Field

MOST_SECTIONS: Final = 300
_USUAL_SECTIONS: Final = (2, 4)  # looked at beside the whole tool, its own and every row; own choice


@dataclass(frozen=True, slots=True, kw_only=True)
class WithSections:
    """One field worked with so many parts that shut off by themselves."""

    sections: int  # 1 is the whole tool at once
    coverage: Coverage

    @property
    def doubled_m2(self) -> float:
        """Ground worked again, and swath beyond the outline: what is put down in excess. [m2]"""
        return self.coverage.overlap_m2 + self.coverage.spill_m2


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldShutoffs:
    """One field with every number of sections looked at."""

    field_name: str
    area_m2: float
    direction_deg: float  # of the passes [deg]
    choices: tuple[WithSections, ...]  # by number of sections, the whole tool first

    def saved_m2(self, choice: WithSections) -> float:
        """Return the ground less that is put down on than with whole-tool lift. [m2]"""
        return self.choices[0].coverage.swept_m2 - choice.coverage.swept_m2


@dataclass(frozen=True, slots=True, kw_only=True)
class Applied:
    """What the tool puts down: seed, fertilizer or spray."""

    rate_m2: float  # put down on a square metre, > 0 [kind/m2]
    kind: Kind
    bought_m2: float  # the same in the unit it is bought in, > 0 [bought/m2]
    bought: Kind
    price: float | None = None  # of one of `bought`, >= 0 [money]


@dataclass(frozen=True, slots=True, kw_only=True)
class FarmShutoffs:
    """All fields of a farm, what shut-offs save there, and what they cost."""

    tool: Tool
    fields: tuple[FieldShutoffs, ...]
    applied: Applied | None = None
    price_of: dict[int, float] | None = None  # price of shut-offs by number of sections [money]

    @property
    def sections(self) -> tuple[int, ...]:
        """Numbers of sections looked at, the whole tool first."""
        return tuple(choice.sections for choice in self.fields[0].choices)

    def saved_m2(self, sections: int) -> float:
        """Return the ground less that is put down on over all fields. [m2]"""
        at = self.sections.index(sections)
        return sum(field.saved_m2(field.choices[at]) for field in self.fields)

    def saved_money(self, sections: int) -> float | None:
        """Return what is saved in seed or spray, every field worked once; None where no price is known. [money]"""
        if self.applied is None or self.applied.price is None:
            return None
        return self.saved_m2(sections) * self.applied.bought_m2 * self.applied.price

    def payback_years(self, sections: int) -> float | None:
        """Return price / money saved in a year; None where either is not known, or nothing is saved. [yr]

        Simple payback: no interest, no repairs, nothing for yield lost where plants stand twice as thick.
        """
        price, saved = (self.price_of or {}).get(sections), self.saved_money(sections)
        return price / saved if price is not None and saved is not None and saved > 0 else None


def sections_to_try(tool: Tool, asked: Sequence[int | Literal["rows"]] = ()) -> tuple[int, ...]:
    """Return the numbers of sections to look at, ascending, the whole tool first.

    Parameters
    ----------
    tool : Tool
        Gives its own sections, and its rows.
    asked : sequence of int or "rows"
        Numbers asked for; without any two, four, the tool's own, and every row. For a tool with rows two and four are
        left out where they do not divide them.

    Raises
    ------
    InputError
        If a number is below 1, above `MOST_SECTIONS` or above the rows, or rows are asked for and there are none.
    """
    if "rows" in asked and tool.rows is None:
        raise InputError(f"sections: got 'rows', but tool {tool.name!r} has no rows. Give rows and row spacing.")
    most = MOST_SECTIONS if tool.rows is None else tool.rows
    numbers = {tool.rows or 1 if each == "rows" else each for each in asked}
    beyond = sorted(number for number in numbers if not 1 <= number <= most)
    if beyond:
        rows = "" if tool.rows is None else f", the rows of {tool.name!r}"
        raise InputError(f"sections: got {beyond[0]}. They must be from 1 to {most}{rows}.")
    if not asked:
        numbers = {each for each in _USUAL_SECTIONS if tool.rows is None or tool.rows % each == 0}
        numbers |= {tool.rows or 1}
    return tuple(sorted({1, tool.sections, *numbers}))


def shutoffs_on(
    field: Field,
    tool: Tool,
    sections: Sequence[int],
    *,
    direction_deg: float | Literal["best"] = "best",
    headland: int | Literal["auto"] = "auto",
    sides: Sides = "auto",
    finish: Finish = "cover",
) -> FieldShutoffs:
    """Return one field worked with each number of sections, all else the same.

    Parameters
    ----------
    field : Field
        The field.
    tool : Tool
        The tool; its own number of sections does not matter.
    sections : sequence of int
        Numbers of equal parts that shut off by themselves, the first 1: the whole tool.
    direction_deg : float or "best"
        Azimuth of the passes, or the best for the whole tool. [deg]
    headland : int or "auto"
        Number of headland rounds, as in `lay`.
    sides : {"auto", "ends", "all"}
        As in `lay`.
    finish : {"cover", "clean", "half"}
        Finish rule, which every part follows by itself.

    Raises
    ------
    InputError
        If the sections do not begin with 1, or a value is outside its range.
    LayoutError
        If the tool is wider than the field is long.
    """
    if not sections or sections[0] != 1:
        raise InputError("sections: the first must be 1, the whole tool, to compare with.")
    whole = replace(tool, sections=1)
    layout = lay(field, whole, direction_deg=direction_deg, headland=headland, sides=sides, finish=finish).layout
    turn_s = typical_turn_s(whole)
    among = [[way] for way in best_placings(layout.body, layout.direction_deg, whole, finish, turn_s=turn_s)]
    choices = []
    for number in sections:
        its = replace(tool, sections=number)
        passes = lay_passes(layout.body, layout.direction_deg, its, finish, turn_s=turn_s, among=among)
        coverage = measure_coverage(replace(layout, tool=its, passes=passes))
        choices.append(WithSections(sections=number, coverage=coverage))
    return FieldShutoffs(
        field_name=field.name,
        area_m2=field.area_m2,
        direction_deg=layout.direction_deg,
        choices=tuple(choices),
    )


def farm_shutoffs(
    fields: Sequence[Field],
    tool: Tool,
    sections: Sequence[int],
    *,
    direction_deg: float | Literal["best"] = "best",
    headland: int | Literal["auto"] = "auto",
    sides: Sides = "auto",
    finish: Finish = "cover",
    progress: Callable[[], None] | None = None,
) -> FarmShutoffs:
    """Return every field of a farm worked with each number of sections; `replace` puts in what is put down and prices.

    Parameters
    ----------
    fields : sequence of Field
        One or more fields.
    tool, sections, direction_deg, headland, sides, finish
        As in `shutoffs_on`.
    progress : callable, optional
        Called after each field.

    Raises
    ------
    InputError
        If there is no field, or as in `shutoffs_on`.
    """
    if not fields:
        raise InputError("shut-offs: no field. Give one or more.")
    found = []
    for field in fields:
        found.append(
            shutoffs_on(
                field, tool, sections, direction_deg=direction_deg, headland=headland, sides=sides, finish=finish
            )
        )
        if progress is not None:
            progress()
    return FarmShutoffs(tool=tool, fields=tuple(found))
