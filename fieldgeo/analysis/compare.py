"""Compare: two or more tools on one field or many, side by side."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

from fieldgeo.analysis.lay import lay
from fieldgeo.analysis.plan import Plan
from fieldgeo.errors import InputError
from fieldgeo.layout.headland import Sides
from fieldgeo.layout.strips import Finish
from fieldgeo.machinery.tool import Tool
from fieldgeo.outline.field import Field


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Row:
    """One tool on one field."""

    field_name: str
    tool_name: str
    plan: Plan


@dataclass(frozen=True, slots=True, kw_only=True)
class ToolTotal:
    """One tool over all fields."""

    tool_name: str
    area_m2: float
    passes: int
    turns: int
    field_time_s: float
    swept_m2: float
    worked_m2: float
    overlap_m2: float
    skip_m2: float
    spill_m2: float
    theoretical_m2_s: float

    @property
    def effective_m2_s(self) -> float | None:
        """Effective capacity over the farm, area / field time; None where nothing can be worked. [m2/s]"""
        return self.area_m2 / self.field_time_s if self.field_time_s > 0 else None

    @property
    def field_efficiency(self) -> float | None:
        """Effective / theoretical capacity; None where nothing can be worked. [-]"""
        effective = self.effective_m2_s
        return None if effective is None else effective / self.theoretical_m2_s


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Comparison:
    """Every tool on every field, fields in the order given and the tools of a field together."""

    rows: tuple[Row, ...]
    totals: tuple[ToolTotal, ...]  # one a tool, in the order given

    def plan(self, field_name: str, tool_name: str) -> Plan:
        """Return the plan of one tool on one field.

        Parameters
        ----------
        field_name, tool_name : str
            Names as in the rows.

        Raises
        ------
        InputError
            If there is no such row.
        """
        for row in self.rows:
            if row.field_name == field_name and row.tool_name == tool_name:
                return row.plan
        raise InputError(f"comparison: no row for field {field_name!r} and tool {tool_name!r}.")


def compare(
    fields: Sequence[Field],
    tools: Sequence[Tool],
    *,
    direction_deg: float | Literal["best"] = "best",
    headland: int | Literal["auto"] = "auto",
    sides: Sides = "auto",
    finish: Finish = "cover",
    progress: Callable[[], None] | None = None,
) -> Comparison:
    """Return every tool laid out on every field.

    Parameters
    ----------
    fields : sequence of Field
        One or more fields, their names all different.
    tools : sequence of Tool
        Two or more tools, their names all different.
    direction_deg, headland, sides, finish
        As in `lay`; ``"best"`` gives each tool its own best direction on each field.
    progress : callable, optional
        Called after each field and tool is laid.

    Raises
    ------
    InputError
        If there is no field, fewer than two tools, or a name stands twice.
    LayoutError
        If a tool is wider than a field is long.
    """
    _check_names("field", [field.name for field in fields], 1)
    _check_names("tool", [tool.name for tool in tools], 2)
    rows = []
    for field in fields:
        for tool in tools:
            plan = lay(field, tool, direction_deg=direction_deg, headland=headland, sides=sides, finish=finish)
            rows.append(Row(field_name=field.name, tool_name=tool.name, plan=plan))
            if progress is not None:
                progress()
    totals = [_total([row.plan for row in rows if row.tool_name == tool.name]) for tool in tools]
    return Comparison(rows=tuple(rows), totals=tuple(totals))


def _check_names(what: str, names: list[str], least: int) -> None:
    if len(names) < least:
        raise InputError(f"compare: got {len(names)} {what}s. Give {least} or more.")
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        raise InputError(f"compare: the {what} name {twice[0]!r} stands twice. Every {what} needs a name of its own.")


def _total(plans: list[Plan]) -> ToolTotal:
    return ToolTotal(
        tool_name=plans[0].tool.name,
        area_m2=sum(plan.field.area_m2 for plan in plans),
        passes=sum(len(plan.layout.passes) for plan in plans),
        turns=sum(len(plan.route.turns()) for plan in plans),
        field_time_s=sum(plan.field_time_s for plan in plans),
        swept_m2=sum(plan.coverage.swept_m2 for plan in plans),
        worked_m2=sum(plan.coverage.worked_m2 for plan in plans),
        overlap_m2=sum(plan.coverage.overlap_m2 for plan in plans),
        skip_m2=sum(plan.coverage.skip_m2 for plan in plans),
        spill_m2=sum(plan.coverage.spill_m2 for plan in plans),
        theoretical_m2_s=plans[0].theoretical_m2_s,
    )


# Widths are tried in steps of this share of the difference between the two tools. Derived: fine enough that the step
# shows as a width, coarse enough that a farm is laid a couple of dozen times.
PAYING_STEPS = 20


@dataclass(frozen=True, slots=True, kw_only=True)
class PayingWidth:
    """How much wider than the narrow tool the wide one must be for its hours to come out less."""

    narrow_width_m: float
    wide_width_m: float
    tried_width_m: tuple[float, ...]  # widths between the two, ascending [m]
    field_time_s: tuple[float, ...]  # farm total at each [s]
    narrow_time_s: float  # farm total of the narrow tool [s]
    area_m2: float  # of all fields [m2]
    narrow_theoretical_m2_s: float  # theoretical capacity of the narrow tool [m2/s]
    theoretical_m2_s: tuple[float, ...]  # theoretical capacity at each width tried [m2/s]

    def least_difference_m(self, extra_cost_share: float = 0.0) -> float | None:
        """Return the smallest added width from which on every wider one tried pays; None where none does. [m]

        Parameters
        ----------
        extra_cost_share : float
            Share by which an hour of the wider tool costs more than one of the narrow, > -1; 0 compares hours. [-]

        Raises
        ------
        InputError
            If the share is -1 or below.
        """
        if extra_cost_share <= -1:
            raise InputError(f"paying width: extra cost share is {extra_cost_share:g}. It must be above -1.")
        paying = [time * (1 + extra_cost_share) < self.narrow_time_s for time in self.field_time_s]
        least = None
        for width, pays in zip(reversed(self.tried_width_m), reversed(paying), strict=True):
            if not pays:
                break
            least = width - self.narrow_width_m
        return least


def paying_width(
    fields: Sequence[Field],
    narrow: Tool,
    wide: Tool,
    *,
    direction_deg: float | Literal["best"] = "best",
    headland: int | Literal["auto"] = "auto",
    sides: Sides = "auto",
    finish: Finish = "cover",
    progress: Callable[[], None] | None = None,
) -> PayingWidth:
    """Return the smallest difference in width that pays on these fields, between two tools.

    Tools of widths in between are laid on every field; all else about them (radius, speeds, pull-out, times) goes over
    from the narrow tool to the wide one in proportion. Derived.

    Parameters
    ----------
    fields : sequence of Field
        One or more fields.
    narrow, wide : Tool
        The two tools; the second must be wider.
    direction_deg, headland, sides, finish
        As in `lay`.
    progress : callable, optional
        Called after each width is laid on all fields.

    Raises
    ------
    InputError
        If `wide` is not wider than `narrow`.
    """
    if wide.width_m <= narrow.width_m:
        raise InputError(
            f"paying width: {wide.name!r} works {wide.width_m:g} m, {narrow.name!r} {narrow.width_m:g} m. "
            "The second tool must be the wider one."
        )

    def farm_time_s(tool: Tool) -> float:
        total = 0.0
        for field in fields:
            plan = lay(field, tool, direction_deg=direction_deg, headland=headland, sides=sides, finish=finish)
            total += plan.field_time_s
        if progress is not None:
            progress()
        return total

    shares = [step / PAYING_STEPS for step in range(1, PAYING_STEPS + 1)]
    tools = [_between(narrow, wide, share) for share in shares]
    return PayingWidth(
        narrow_width_m=narrow.width_m,
        wide_width_m=wide.width_m,
        tried_width_m=tuple(tool.width_m for tool in tools),
        field_time_s=tuple(farm_time_s(tool) for tool in tools),
        narrow_time_s=farm_time_s(_plain_width(narrow)),
        area_m2=sum(field.area_m2 for field in fields),
        narrow_theoretical_m2_s=narrow.theoretical_m2_s,
        theoretical_m2_s=tuple(tool.theoretical_m2_s for tool in tools),
    )


def _plain_width(tool: Tool) -> Tool:
    """Return the tool with its width alone, so that widths between whole rows can be tried."""
    return replace(tool, rows=None, row_spacing_m=None)


def _between(narrow: Tool, wide: Tool, share: float) -> Tool:
    def mixed(name: str) -> float:
        return float((1 - share) * getattr(narrow, name) + share * getattr(wide, name))

    names = (
        "width_m", "lap_m", "speed_m_s", "turn_speed_m_s", "turn_radius_m", "pull_out_m", "raise_s", "lower_s",
        "reverse_speed_m_s", "shift_s", "tail_m",
    )  # fmt: skip
    values: dict[str, Any] = {name: mixed(name) for name in names}
    values |= {"turn_radius_left_m": mixed("left_radius_m"), "turn_radius_right_m": mixed("right_radius_m")}
    return replace(_plain_width(narrow), name=f"{narrow.name} at {share:.0%}", **values)
