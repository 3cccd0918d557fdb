"""A one-way plow on a field: the lands it is plowed in, beside the formula's, and beside a two-way plow."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal, NamedTuple

from fieldgeo.analysis.direction import best_direction
from fieldgeo.analysis.land_choice import FormulaWidth, formula_width, nearest_lands, ranked_lands, share_lands
from fieldgeo.analysis.plan import (
    Plan,
    check_fits,
    check_rules,
    checked_direction_deg,
    checked_rounds,
    lay_inside,
    plan_layout,
)
from fieldgeo.analysis.score import score_plan
from fieldgeo.errors import InputError
from fieldgeo.layout.axes import Floats
from fieldgeo.layout.furrows import Furrow, find_furrows
from fieldgeo.layout.headland import lay_rounds
from fieldgeo.layout.lands import (
    STEP_WIDTHS,
    Land,
    LandPattern,
    find_chains,
    furrow_counts,
    lay_lands,
)
from fieldgeo.layout.model import Layout
from fieldgeo.layout.strips import Finish, Ints
from fieldgeo.machinery.tool import Tool
from fieldgeo.outline.field import Field
from fieldgeo.travel.land_route import plan_land_route
from fieldgeo.travel.timeline import time_route
from fieldgeo.travel.works import RunTurns, run_turns
from fieldgeo.units import parse_length_m, to_feet

AskedLands = Literal["auto"] | int | float  # a number of lands, or a width in metres
# Numbers of lands of the longest chain that are planned exactly: those with the least time by the estimate, and for
# fewer dead furrows the best of each, as many.
EXACT_TRIES: Final = 4
FEWER_TRIES: Final = 8
# A dead furrow more must save this share of the field time. Own choice: nobody leaves one for half a minute.
WORTH_SHARE: Final = 0.002
# Directions that lands are laid in, the best back and forth.
MOST_DIRECTIONS: Final = 4


class LandTry(NamedTuple):
    """Lands laid on a field, and what comes of them."""

    counts: tuple[int, ...]  # lands of each chain
    lands: tuple[Land, ...]
    furrows: tuple[Furrow, ...]
    plan: Plan

    def furrow_count(self, kind: str) -> int:
        """Return how many furrows there are of a kind."""
        return sum(furrow.kind == kind for furrow in self.furrows)

    def furrow_m(self, kind: str) -> float:
        """Return the length of the furrows of a kind. [m]"""
        return float(sum(furrow.length_m for furrow in self.furrows if furrow.kind == kind))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LandPlan:
    """A field plowed in lands, beside other ways to plow it."""

    asked: AskedLands
    chosen: LandTry  # as asked; for "auto" the fewest dead furrows of those that take next to the least field time
    least: LandTry  # the least field time of those tried
    by_formula: LandTry  # as many lands as come nearest to the formula's width
    gathered: LandTry  # as many lands as chosen, none of them cast
    two_way: Plan  # the same layout by a two-way plow, back and forth
    formula: FormulaWidth  # on the chain with the most passes
    chains: tuple[Ints, ...]
    tried: tuple[LandTry, ...]  # planned exactly
    estimated: int  # numbers of lands estimated, all chains together
    directions: int  # directions tried

    @property
    def plan(self) -> Plan:
        """The plan of the lands chosen."""
        return self.chosen.plan

    def choices(self) -> list[LandTry]:
        """Return the lands tried that nothing tried beats in both field time and dead furrows, fewest furrows first."""
        kept: list[LandTry] = []
        for one in sorted(self.tried, key=lambda its: (its.furrow_count("dead"), its.plan.field_time_s)):
            if not kept or one.plan.field_time_s < kept[-1].plan.field_time_s - 0.5:
                kept.append(one)
        return kept


def read_lands(text: str) -> AskedLands:
    """Return "auto", a number of lands, or a width of land in metres, from text.

    Raises
    ------
    InputError
        If it is none of these.

    Examples
    --------
    >>> read_lands("6"), read_lands("auto"), round(float(read_lands("150ft")), 2)
    (6, 'auto', 45.72)
    """
    typed = text.strip().lower()
    if typed == "auto":
        return "auto"
    if typed.isascii() and typed.isdigit():
        if not 1 <= int(typed[:9]) <= 1000 or len(typed) > 9:
            raise InputError(
                f"lands: got {text!r}. It must be auto, a number of lands from 1 to 1000, or a width, as 150ft."
            )
        return int(typed)
    try:
        width_m = parse_length_m(text, what="land width")
    except InputError as error:
        raise InputError(f"{error} Or give auto, or a number of lands.") from error
    if not width_m > 0:
        raise InputError(f"lands: got {text!r}. A land must be wider than nothing.")
    return width_m


def check_plow(tool: Tool, asked: AskedLands) -> None:
    """Check that a tool is plowed with in lands, and that lands of a width hold a round of it.

    Raises
    ------
    InputError
        If it is not a one-way plow, or the width is less than a round.
    """
    if tool.throws == "both":
        raise InputError(
            f"lands: tool {tool.name!r} is a two-way plow. It goes back and forth beside its own furrow and needs no "
            "lands; leave lands out."
        )
    if tool.throws is None:
        raise InputError(
            f"lands: tool {tool.name!r} throws the soil to no side. Lands are for a one-way plow: give it the kind "
            'moldboard plow, or throws = "right" in the shed file.'
        )
    if isinstance(asked, float) and asked < 2 * tool.pitch_m:
        raise InputError(
            f"lands: got a width of {to_feet(asked):.4g} ft. A land must hold a round of {tool.name!r}, "
            f"{to_feet(2 * tool.pitch_m):.4g} ft."
        )


def lay_plow(
    field: Field,
    tool: Tool,
    *,
    lands: AskedLands = "auto",
    direction_deg: float | Literal["best"] = "best",
    headland: int | Literal["auto"] = "auto",
    finish: Finish = "cover",
    entrance_xy: Floats | None = None,
) -> LandPlan:
    """Return a field laid out in lands for a one-way plow; its headland goes all round and is plowed last.

    Parameters
    ----------
    field : Field
        The field.
    tool : Tool
        A plow that throws to the right.
    lands : "auto", int or float
        The number of lands with the least field time of those tried, or with fewer dead furrows where those take next
        to no more (`WORTH_SHARE`); a number of lands; or their width, to the nearest whole number of lands. [m]
    direction_deg : float or "best"
        Azimuth of the passes; ``"best"`` takes the best of those that are good back and forth. [deg]
    headland : int or "auto"
        Number of headland rounds.
    finish : {"cover", "clean", "half"}
        Finish rule.
    entrance_xy : ndarray of shape (2,), optional
        Where the plow enters and leaves the field, in the frame. [m]

    Raises
    ------
    InputError
        If a value is outside its range.
    LayoutError
        If the tool is wider than the field is long, or nothing is left inside the headland.
    """
    check_plow(tool, lands)
    check_fits(field, tool)
    layouts = _layouts(field, tool, direction_deg, headland, finish)
    # Plowed all round, the headland is the same whatever the direction.
    known = run_turns(layouts[0].headland, tool, field.shape)
    first = [_least_estimated(layout, entrance_xy, known) for layout in layouts]
    best = min(range(len(layouts)), key=lambda row: score_plan(first[row].plan, "time"))
    return _beside(layouts[best], first[best], lands, entrance_xy, known, directions=len(layouts))


def _layouts(
    field: Field, tool: Tool, direction_deg: float | Literal["best"], headland: int | Literal["auto"], finish: Finish
) -> list[Layout]:
    """Return the layouts that lands are tried on: one, or one for each of the best directions."""
    if direction_deg == "best":
        search = best_direction(field, tool, headland=headland, sides="all", finish=finish, order="back-and-forth")
        layouts = [
            candidate.plan.layout for candidate in (*search.candidates[: MOST_DIRECTIONS - 1], search.longest_side)
        ]
    else:
        check_rules("all", finish)
        laid = lay_rounds(field.shape, tool, finish, rounds=checked_rounds(headland, tool), chains=None)
        layouts = [lay_inside(field, tool, checked_direction_deg(direction_deg), laid, finish)]
    found = {round(layout.direction_deg, 6): layout for layout in layouts if len(layout.passes)}
    if not found:
        raise InputError(
            f"lands: {tool.name!r} has no passes inside the headland of field {field.name!r}. Lay it with fewer "
            "headland rounds, or plow it all as headland."
        )
    return list(found.values())


def _chains(layout: Layout) -> list[Ints]:
    return find_chains(layout.passes, step_m=STEP_WIDTHS * layout.tool.width_m)


def _try(
    layout: Layout, chains: list[Ints], counts: list[int], entrance_xy: Floats | None, known: RunTurns,
    pattern: LandPattern = "alternate",
) -> LandTry:  # fmt: skip
    lands = lay_lands(layout.passes, chains, counts, pattern)
    route = plan_land_route(layout, lands, entrance_xy=entrance_xy, known=known)
    plan = Plan(layout=layout, route=route, timeline=time_route(route))
    return LandTry(tuple(counts), tuple(lands), tuple(find_furrows(layout.passes, lands)), plan)


def _least_estimated(layout: Layout, entrance_xy: Floats | None, known: RunTurns) -> LandTry:
    chains = _chains(layout)
    counts = [ranked_lands(layout.passes, chain, layout.tool)[0][1] for chain in chains]
    return _try(layout, chains, counts, entrance_xy, known)


def _worth_trying(ranked: list[tuple[float, int]]) -> list[int]:
    """Return the numbers of lands with the least time, and the best of each lesser number of dead furrows."""
    counts = [count for _, count in ranked]
    fewer: dict[int, int] = {}
    for count in counts:
        fewer.setdefault(furrow_counts(count, "alternate")[1], count)
    dead = furrow_counts(counts[0], "alternate")[1]
    below = sorted((its for its in fewer if its < dead), reverse=True)
    # Evenly spread, where there are many.
    spread = below[:: max(1, -(-len(below) // FEWER_TRIES))]
    return list(dict.fromkeys([*counts[:EXACT_TRIES], *(fewer[its] for its in spread)]))


def _beside(
    layout: Layout, first: LandTry, asked: AskedLands, entrance_xy: Floats | None, known: RunTurns, *, directions: int
) -> LandPlan:
    """Return the lands asked for beside the formula's, those all gathered, and a two-way plow."""
    passes, tool, chains = layout.passes, layout.tool, _chains(layout)
    formulas = [formula_width(passes, chain, tool) for chain in chains]
    ranked = [ranked_lands(passes, chain, tool) for chain in chains]
    longest = max(range(len(chains)), key=lambda row: len(chains[row]))
    tries = {first.counts: first}

    def tried(counts: list[int]) -> LandTry:
        if tuple(counts) not in tries:
            tries[tuple(counts)] = _try(layout, chains, counts, entrance_xy, known)
        return tries[tuple(counts)]

    for count in _worth_trying(ranked[longest]):
        tried([count if row == longest else its for row, its in enumerate(first.counts)])
    by_formula = tried([formula.lands for formula in formulas])
    chosen = None
    if isinstance(asked, int):
        chosen = tried(share_lands(asked, chains))
    elif isinstance(asked, float):
        chosen = tried([nearest_lands(len(chain), pitch_m=tool.pitch_m, land_m=asked) for chain in chains])
    least = min(tries.values(), key=lambda one: (round(one.plan.field_time_s, 1), one.furrow_count("dead")))
    near_s = least.plan.field_time_s * (1 + WORTH_SHARE)
    near = [one for one in tries.values() if one.plan.field_time_s <= near_s]
    chosen = chosen or min(near, key=lambda one: (one.furrow_count("dead"), one.plan.field_time_s))
    return LandPlan(
        asked=asked,
        chosen=chosen,
        least=least,
        by_formula=by_formula,
        gathered=_try(layout, chains, list(chosen.counts), entrance_xy, known, "gather"),
        two_way=plan_layout(layout, entrance_xy=entrance_xy, order="back-and-forth", known=known),
        formula=formulas[longest],
        chains=tuple(chains),
        tried=tuple(sorted(tries.values(), key=lambda one: sum(one.counts))),
        estimated=sum(len(each) for each in ranked),
        directions=directions,
    )
