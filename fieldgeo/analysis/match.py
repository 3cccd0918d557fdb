"""`match_shed`: which tools of a shed fit whose rows, and why."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

from fieldgeo.errors import InputError
from fieldgeo.layout.rows import (
    RowPattern,
    SideCount,
    WayRound,
    period_m,
    row_pattern,
    rows_off_m,
    spacing_off_m,
    straddled_from_sides,
    way_round,
)
from fieldgeo.layout.wheels import Wheels, wheels_among_rows
from fieldgeo.units import INCH_M, to_inches

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fieldgeo.machinery.shed import Shed
    from fieldgeo.machinery.tool import Tool

# Words in the kinds of the published table.
_LAYS_ROWS: Final = ("planter", "drill", "seeder")
_HARVESTS: Final = ("combine", "corn picker")
_AMONG_ROWS: Final = ("sprayer",)  # a tool without rows of its own whose wheels run among them

MOST_OFF_M: Final = 40 * INCH_M  # own choice: beyond the widest common spacing a row is not off, it is another row
TOLERANCE_M: Final = 2 * INCH_M  # that a unit may run off its row: common practice, no source
SAME_SPACING_SHARE: Final = 0.02  # own choice: 75 cm (29.5 in) and 76 cm are a way to say 30 in, 28 in is not
NOISE_M: Final = 1e-6  # of floats
_WHOLE_ROWS: Final = 1e-4  # of a row, by which a boom may miss a whole number of rows


Meeting = Literal["rows", "other spacing", "boom"]


@dataclass(frozen=True, slots=True, kw_only=True)
class MatchRules:
    """What the fits are judged by.

    Parameters
    ----------
    tolerance_m : float
        How far a unit may run off its row, >= 0. [m]
    guess_error_m : float, optional
        How far a guess row is off, too wide or too narrow, >= 0; None: not known, and no guess row is straddled. [m]
    field_rows : int, optional
        Rows across the field, where the last planter pass may lay fewer. [-]

    Raises
    ------
    InputError
        If a length is below zero, or above `MOST_OFF_M`.
    """

    tolerance_m: float = TOLERANCE_M
    guess_error_m: float | None = None
    field_rows: int | None = None

    def __post_init__(self) -> None:
        for name, length_m in (("tolerance", self.tolerance_m), ("guess error", self.guess_error_m)):
            if length_m is not None and not length_m >= 0:
                raise InputError(f"{name}: got {length_m:g} m. It must not be below zero.")
            if length_m is not None and length_m > MOST_OFF_M:
                raise InputError(
                    f"{name}: got {length_m:g} m ({to_inches(length_m):g} in). It must not be above "
                    f"{to_inches(MOST_OFF_M):g} in, the distance between wide rows."
                )


@dataclass(frozen=True, slots=True, kw_only=True)
class RowMatch:
    """A tool that lays rows, and one that follows them."""

    first: Tool
    second: Tool
    meeting: Meeting  # rows as far apart as those planted, rows that are not, or a boom without rows of its own
    fits: bool
    period_m: float | None  # distance across the rows after which the pattern begins anew [m]
    pattern: RowPattern | None = None  # of a tool with rows that far apart
    way_round: WayRound | None = None
    sides: tuple[SideCount, SideCount] | None = None  # where the rows of the field are given
    rows_off_m: float | None = None  # most that a unit runs off its row; None where the guess error is not known [m]
    spacing_off_m: float = 0.0  # the part of it that comes from spacings that are not the same [m]
    alternate: RowPattern | None = None  # the same with every second row of the planter shut off
    wheels: Wheels | None = None
    are_wheels_judged: bool = False  # whether wheels on rows keep it from fitting; not at harvest
    boom_rows: float | None = None  # width of a pass in rows


@dataclass(frozen=True, slots=True, kw_only=True)
class ShedMatch:
    """Every pair of a shed, and the tools that are tied to no rows."""

    shed: Shed
    rules: MatchRules
    pairs: tuple[RowMatch, ...]
    untied: tuple[Tool, ...]


def match_shed(shed: Shed, rules: MatchRules, *, planters: Sequence[str] = ()) -> ShedMatch:
    """Return which tools of a shed fit whose rows.

    Rows are laid by every planter, drill or seeder that has rows. They are followed by every other tool that has rows,
    by sprayers, and by any tool with a wheel track.

    Parameters
    ----------
    shed : Shed
        The shed.
    rules : MatchRules
        What the fits are judged by.
    planters : sequence of str
        Names of the tools that lay the rows, instead of those whose kind says so.

    Raises
    ------
    InputError
        If a name is not in the shed or has no rows, or no tool lays rows.
    """
    firsts = [shed.tool(name) for name in dict.fromkeys(planters)] or [tool for tool in shed.tools if lays_rows(tool)]
    for tool in firsts:
        if tool.rows is None:
            raise InputError(f"planter: {tool.name!r} has no rows. Give rows and row_spacing in the shed file.")
    if not firsts:
        raise InputError(
            "rows: no tool of the shed lays rows. Give one with rows, row_spacing and the kind planter or drill, or "
            "say which it is with --planter NAME."
        )
    others = [tool for tool in shed.tools if tool not in firsts and not lays_rows(tool)]
    followers = [tool for tool in others if tool.rows is not None or runs_among_rows(tool)]
    return ShedMatch(
        shed=shed,
        rules=rules,
        pairs=tuple(match_rows(first, second, rules) for first in firsts for second in followers),
        untied=tuple(tool for tool in others if tool not in followers),
    )


def match_rows(first: Tool, second: Tool, rules: MatchRules) -> RowMatch:
    """Return whether one tool fits the rows that another lays.

    Parameters
    ----------
    first : Tool
        The tool that lays the rows; it has rows.
    second : Tool
        The tool that follows them.
    rules : MatchRules
        What the fit is judged by.

    Raises
    ------
    InputError
        If the first has no rows.
    """
    if first.rows is None or first.row_spacing_m is None:
        raise InputError(f"tool {first.name!r} lays no rows. Give rows and row_spacing.")
    if second.rows is None or second.row_spacing_m is None:
        return _match_boom(first, second, rules, first.row_spacing_m)
    spacing_m, other_m = first.row_spacing_m, second.row_spacing_m
    if abs(spacing_m - other_m) > SAME_SPACING_SHARE * spacing_m:
        planted = -(-first.rows // 2)
        is_double = abs(2 * spacing_m - other_m) <= SAME_SPACING_SHARE * other_m
        return RowMatch(
            first=first,
            second=second,
            meeting="other spacing",
            fits=False,
            period_m=period_m(first.pitch_m, second.pitch_m),
            alternate=row_pattern(planted, second.rows) if is_double else None,
        )
    return _match_same_spacing(first, second, rules, (first.rows, second.rows, spacing_m, other_m))


def _match_same_spacing(first: Tool, second: Tool, rules: MatchRules, given: tuple[int, int, float, float]) -> RowMatch:
    planter_rows, tool_rows, spacing_m, other_m = given
    pattern = row_pattern(planter_rows, tool_rows)
    drift_m = spacing_off_m(tool_rows, spacing_m, other_m)
    drift_m = drift_m if drift_m > NOISE_M else 0.0
    off_m = None
    if pattern.is_clear or rules.guess_error_m is not None:
        off_m = drift_m + rows_off_m(pattern.most_guess_rows, rules.guess_error_m or 0.0)
    wheels = _wheels(second, tool_rows * spacing_m, spacing_m, planter_rows)
    is_judged = wheels is not None and not second.kind.startswith(_HARVESTS)
    fits = off_m is not None and off_m <= rules.tolerance_m + NOISE_M
    if is_judged and wheels is not None:
        fits = fits and wheels.is_clear_unmoved
    sides = None
    if rules.field_rows is not None:
        sides = straddled_from_sides(planter_rows, tool_rows, rules.field_rows)
    return RowMatch(
        first=first,
        second=second,
        meeting="rows",
        fits=fits,
        period_m=pattern.period_rows * spacing_m,
        pattern=pattern,
        way_round=None if pattern.is_clear else way_round(planter_rows, tool_rows),
        sides=sides,
        rows_off_m=off_m,
        spacing_off_m=drift_m,
        wheels=wheels,
        are_wheels_judged=is_judged,
    )


def _match_boom(first: Tool, second: Tool, rules: MatchRules, spacing_m: float) -> RowMatch:
    boom_rows = second.pitch_m / spacing_m
    wheels = _wheels(second, second.pitch_m, spacing_m, first.rows or 1)
    if wheels is None:
        fits = abs(boom_rows - round(boom_rows)) <= _WHOLE_ROWS
    else:
        fits = wheels.best_clearance_m > rows_off_m(wheels.guess_rows, rules.guess_error_m or 0.0)
    return RowMatch(
        first=first,
        second=second,
        meeting="boom",
        fits=fits,
        period_m=period_m((first.rows or 1) * spacing_m, second.pitch_m),
        wheels=wheels,
        are_wheels_judged=wheels is not None,
        boom_rows=boom_rows,
    )


def _wheels(tool: Tool, pitch_m: float, spacing_m: float, planter_rows: int) -> Wheels | None:
    if tool.wheel_track_m is None:
        return None
    return wheels_among_rows(
        pitch_m=pitch_m,
        track_m=tool.wheel_track_m,
        tire_m=tool.tire_m or 0.0,
        spacing_m=spacing_m,
        planter_rows=planter_rows,
    )


def lays_rows(tool: Tool) -> bool:
    """Return whether a tool lays rows: its kind says planter, drill or seeder, and it has rows."""
    return tool.rows is not None and any(word in tool.kind for word in _LAYS_ROWS)


def runs_among_rows(tool: Tool) -> bool:
    """Return whether a tool without rows of its own runs among them: a sprayer, or one with a wheel track."""
    return tool.wheel_track_m is not None or any(word in tool.kind for word in _AMONG_ROWS)
