"""`season_direction`: one direction for the tools that share rows, each other tool in its own best.

Row tools (planter, row cultivator, sprayer, corn head) share direction, rows and headland; tillage need not. What is
least is the score of the whole season: each tool as often as it is run. Beside it stands each tool's own best, and
their sum, which no direction shared by all can beat.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final, Literal

from fieldgeo.analysis.direction import Candidate, best_direction
from fieldgeo.analysis.match import MatchRules, lays_rows, match_rows, runs_among_rows
from fieldgeo.analysis.score import Prices
from fieldgeo.analysis.shared_rows import Judged, RowsLaid, SharedHeadland, SharedRows, shared_headland
from fieldgeo.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping, Sequence

    from fieldgeo.analysis.direction import DirectionSearch
    from fieldgeo.analysis.match import RowMatch
    from fieldgeo.analysis.plan import Plan
    from fieldgeo.analysis.score import By
    from fieldgeo.layout.axes import Floats
    from fieldgeo.layout.headland import Sides
    from fieldgeo.layout.strips import Finish
    from fieldgeo.machinery.tool import Tool
    from fieldgeo.outline.field import Field

MOST_TIMES: Final = 20  # own choice: a tool that is run more often in a season is a slip of the pen
# Words in the kinds of tools that put something on the ground, for which seed, fertilizer or chemical is counted.
_PUTS_DOWN: Final = ("planter", "drill", "seeder", "sprayer", "spreader", "applicator")


@dataclass(frozen=True, slots=True, kw_only=True)
class SeasonTool:
    """A tool of the season.

    Raises
    ------
    InputError
        If it is run less than once, or more than `MOST_TIMES`.
    """

    tool: Tool
    times: int = 1  # how often it is run over the field
    is_on_rows: bool = False  # whether it shares direction and rows with the others

    def __post_init__(self) -> None:
        if not 1 <= self.times <= MOST_TIMES:
            raise InputError(f"times: got {self.times} for {self.tool.name!r}. It must be from 1 to {MOST_TIMES}.")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ToolInSeason:
    """A tool in the direction that it has in the season, beside its own best."""

    tool: Tool
    times: int
    is_on_rows: bool
    plan: Plan  # of one run
    score: float  # of one run
    search: DirectionSearch  # of the tool by itself
    own: Candidate  # its own best: the least score of its search and of every plan that was laid out for it
    straddling: int | None  # passes over a guess row; None for a tool that shares no rows, or lays some itself
    match: RowMatch | None  # beside the tool that lays the rows; None for a tool that lays some itself

    @property
    def loss(self) -> float:
        """What it loses over the season against its own best, >= 0. [s, passes, m2 or money]"""
        return self.times * (self.score - self.own.score)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SeasonDirection:
    """The directions of all tools over a season."""

    by: By
    tools: tuple[ToolInSeason, ...]  # in the order given
    choices: tuple[RowsLaid, ...]  # of the row tools, best first; empty where no tool is on rows
    layer: str | None  # name of the tool that lays the rows
    headland: SharedHeadland | None  # of the tools on rows, where there are two or more

    @property
    def direction_deg(self) -> float | None:
        """Direction of the rows; None where no tool is on rows. [deg]"""
        return self.choices[0].direction_deg if self.choices else None

    @property
    def score(self) -> float:
        """What is least: the score of the season. [s, passes, m2 or money]"""
        return sum(each.times * each.score for each in self.tools)

    @property
    def own_score(self) -> float:
        """Sum of each tool's own best: no shared direction that was laid out is below it. [s, passes, m2 or money]"""
        return sum(each.times * each.own.score for each in self.tools)


def season_tools(
    tools: Sequence[Tool],
    *,
    times: Mapping[str, int] | None = None,
    free: Collection[str] = (),
    on_rows: Collection[str] = (),
) -> tuple[SeasonTool, ...]:
    """Return the tools of a season, and which of them share rows.

    On rows are tools that have rows, sprayers, and tools with a wheel track, unless said otherwise.

    Parameters
    ----------
    tools : sequence of Tool
        The tools, their names all different.
    times : mapping of str to int, optional
        How often a tool is run over the field, by its name; once where it is not named.
    free : collection of str
        Names of tools that take their own direction.
    on_rows : collection of str
        Names of tools that share the rows although nothing about them says so.

    Raises
    ------
    InputError
        If a name is none of the tools, stands in both lists, or a number of times is out of range.
    """
    times = times or {}
    names = [tool.name for tool in tools]
    for what, given in (("times", times), ("free", free), ("on rows", on_rows)):
        unknown = [name for name in given if name not in names]
        if unknown:
            raise InputError(f"{what}: {unknown[0]!r} is none of the tools. They are {', '.join(map(repr, names))}.")
    both = [name for name in free if name in on_rows]
    if both:
        raise InputError(f"tool {both[0]!r} is named both free and on rows. Give one of the two.")
    return tuple(
        SeasonTool(
            tool=tool,
            times=times.get(tool.name, 1),
            is_on_rows=tool.name in on_rows
            or (tool.name not in free and (tool.rows is not None or runs_among_rows(tool))),
        )
        for tool in tools
    )


def season_direction(
    field: Field,
    tools: Sequence[SeasonTool],
    *,
    headland: int | Literal["auto"] = "auto",
    sides: Sides = "auto",
    finish: Finish = "cover",
    entrance_xy: Floats | None = None,
    by: By | Prices = "time",
    also_deg: Sequence[float] = (),
) -> SeasonDirection:
    """Return the one direction for the tools on rows, and the own best of every other tool.

    Parameters
    ----------
    field : Field
        The field.
    tools : sequence of SeasonTool
        The tools, from `season_tools`. Rows are laid by the first planter, drill or seeder among those on rows; without
        one, by the first that has rows, else by the first.
    headland : int or "auto"
        Headland rounds: of the tool that lays the rows for all tools on rows, and of each other tool.
    sides : {"auto", "ends", "all"}
        As in `lay`.
    finish : {"cover", "clean", "half"}
        Finish rule, as in `lay`.
    entrance_xy : ndarray of shape (2,), optional
        Where the tools enter and leave the field, in the frame. [m]
    by : {"time", "passes", "overlap"} or Prices
        What is least over the season. Of prices, what seed or chemical costs is counted for the tools that put it down.
    also_deg : sequence of float
        Directions of the rows that are laid out whatever their estimates say, such as those across a slope. [deg]

    Raises
    ------
    InputError
        If there is no tool, or a value is outside its range.
    LayoutError
        If a tool is wider than the field is long.
    """
    if not tools:
        raise InputError("season: no tool. Give one or more.")
    searches = [
        best_direction(
            field, each.tool, headland=headland, sides=sides, finish=finish, entrance_xy=entrance_xy,
            by=_prices_of(each.tool, by),
        )
        for each in tools
    ]  # fmt: skip
    criterion: By = "cost" if isinstance(by, Prices) else by
    judged = [_judged(each, by) for each in tools]
    ranks, layer = _on_rows(tools), layer_of(tools)
    choices: list[RowsLaid] = []
    if len(ranks) == 1:
        # A tool alone on its rows has its own best.
        choices = [
            RowsLaid(each.direction_deg, (each.plan,), (each.score,), (0,), judged[ranks[0]].times * each.score)
            for each in searches[ranks[0]].candidates
        ]
    elif ranks:
        rows = SharedRows(field, [judged[rank] for rank in ranks], headland=headland, sides=sides, finish=finish)
        choices = rows.search([*(searches[rank].best.direction_deg for rank in ranks), *also_deg], entrance_xy)
    return SeasonDirection(
        by=criterion,
        tools=_in_season(tools, searches, ranks, choices),
        choices=tuple(choices),
        layer=None if layer is None else layer.name,
        headland=shared_headland([tools[rank].tool for rank in ranks], headland) if len(ranks) > 1 else None,
    )


def with_choice(season: SeasonDirection, number: int) -> SeasonDirection:
    """Return a season with another of its directions of the rows, which then stands first.

    Parameters
    ----------
    season : SeasonDirection
        Directions of all tools.
    number : int
        Place among its choices, from 0.
    """
    chosen = season.choices[number]
    rest = (*season.choices[:number], *season.choices[number + 1 :])
    places = {plan.tool.name: at for at, plan in enumerate(chosen.plans)}
    tools = [
        _in_direction(each, chosen, places[each.tool.name]) if each.tool.name in places else each
        for each in season.tools
    ]
    return replace(season, choices=(chosen, *rest), tools=tuple(tools))


def _in_direction(each: ToolInSeason, choice: RowsLaid, at: int) -> ToolInSeason:
    """Return a tool on rows in another direction of them."""
    straddling = None if each.straddling is None else choice.straddling[at]
    return replace(each, plan=choice.plans[at], score=choice.scores[at], straddling=straddling)


def _in_season(
    tools: Sequence[SeasonTool],
    searches: Sequence[DirectionSearch],
    ranks: Sequence[int],
    choices: Sequence[RowsLaid],
) -> tuple[ToolInSeason, ...]:
    found = []
    for rank, (each, search) in enumerate(zip(tools, searches, strict=True)):
        alone = ToolInSeason(
            tool=each.tool,
            times=each.times,
            is_on_rows=each.is_on_rows,
            plan=search.best.plan,
            score=search.best.score,
            search=search,
            own=search.best,
            straddling=None,
            match=None,
        )
        if not each.is_on_rows or len(ranks) < 2:
            found.append(alone)
            continue
        at = ranks.index(rank)
        laid = [Candidate(plan=choice.plans[at], score=choice.scores[at]) for choice in choices]
        own = min([search.best, *laid], key=lambda candidate: candidate.score)
        follows = at > 0 and not lays_rows(each.tool)
        match = _match(tools[ranks[0]].tool, each.tool) if follows else None
        on_rows = replace(alone, own=own, straddling=0 if follows else None, match=match)
        found.append(_in_direction(on_rows, choices[0], at))
    return tuple(found)


def layer_of(tools: Sequence[SeasonTool]) -> Tool | None:
    """Return the tool that lays the rows; None where no tool is on rows.

    Parameters
    ----------
    tools : sequence of SeasonTool
        The tools, from `season_tools`.
    """
    ranks = _on_rows(tools)
    return tools[ranks[0]].tool if ranks else None


def _on_rows(tools: Sequence[SeasonTool]) -> list[int]:
    """Return the places of the tools on rows, the one that lays them first."""
    ranks = [rank for rank, each in enumerate(tools) if each.is_on_rows]
    return sorted(ranks, key=lambda rank: (not lays_rows(tools[rank].tool), tools[rank].tool.rows is None))


def _match(layer: Tool, tool: Tool) -> RowMatch | None:
    """Return whether a tool fits the rows; None where nobody lays any."""
    return None if layer.rows is None else match_rows(layer, tool, MatchRules())


def _judged(each: SeasonTool, by: By | Prices) -> Judged:
    of_tool = _prices_of(each.tool, by)
    if isinstance(of_tool, Prices):
        return Judged(tool=each.tool, times=each.times, by="cost", prices=of_tool)
    return Judged(tool=each.tool, times=each.times, by=of_tool)


def _prices_of(tool: Tool, by: By | Prices) -> By | Prices:
    """Return what a tool is judged by: seed and chemical cost nothing to a tool that puts none down."""
    if isinstance(by, Prices) and tool.kind and not any(word in tool.kind for word in _PUTS_DOWN):
        return Prices(hour=by.hour)
    return by
