"""The dictionary of `match`: each pair of tools, whether it fits, and why, in a person's words."""

from __future__ import annotations

from math import floor
from typing import TYPE_CHECKING

from fieldgeo.analysis.match import NOISE_M, TOLERANCE_M
from fieldgeo.units import INCH_M, to_feet

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fieldgeo.analysis.figures import Figures
    from fieldgeo.analysis.match import RowMatch, ShedMatch
    from fieldgeo.layout.rows import RowPattern, SideCount
    from fieldgeo.layout.wheels import Wheels
    from fieldgeo.machinery.tool import Tool


def match_figures(match: ShedMatch) -> Figures:
    """Return every figure of the pairs of a shed.

    Parameters
    ----------
    match : ShedMatch
        Every pair of a shed.
    """
    rules = match.rules
    return {
        "farm": match.shed.farm or None,
        "tolerance_m": rules.tolerance_m,
        "tolerance_in": rules.tolerance_m / INCH_M,
        "is_tolerance_assumed": rules.tolerance_m == TOLERANCE_M,
        "guess_error_m": rules.guess_error_m,
        "guess_error_in": _inches(rules.guess_error_m),
        "field_rows": rules.field_rows,
        "pairs": [pair_figures(pair, match) for pair in match.pairs],
        "untied": [tool.name for tool in match.untied],
        "notes": list(_notes(match)),
    }


def pair_figures(pair: RowMatch, match: ShedMatch) -> Figures:
    """Return the figures of one pair.

    Parameters
    ----------
    pair : RowMatch
        A tool that lays rows, and one that follows them.
    match : ShedMatch
        The shed it is of.
    """
    reasons = list(_why(pair, match))
    return {
        "first": pair.first.name,
        "second": pair.second.name,
        "fits": pair.fits,
        "why": "; ".join(reasons),
        "reasons": reasons,
        "period_m": pair.period_m,
        "period_ft": None if pair.period_m is None else to_feet(pair.period_m),
        **_tool_rows("first", pair.first),
        **_tool_rows("second", pair.second),
        "meeting": pair.meeting,
        "guess_rows": None if pair.pattern is None else _pattern_figures(pair.pattern),
        "way_round": None if pair.way_round is None else {
            "passes": pair.way_round.passes,
            "last_rows": pair.way_round.last_rows,
            "extra_pct": 100 * pair.way_round.extra_share,
        },
        "sides": None if pair.sides is None else {
            name: _side_figures(side) for name, side in zip(("planter_began", "other"), pair.sides, strict=True)
        },
        "rows_off_m": pair.rows_off_m,
        "rows_off_in": _inches(pair.rows_off_m),
        "every_second_row": None if pair.alternate is None else {
            "rows": pair.alternate.planter_rows, "fits": pair.alternate.is_clear,
        },
        "wheels": None if pair.wheels is None else _wheel_figures(pair.wheels, is_judged=pair.are_wheels_judged),
        "boom_rows": pair.boom_rows,
    }  # fmt: skip


def _pattern_figures(pattern: RowPattern) -> Figures:
    first = pattern.straddling[0] if pattern.straddling else None
    return {
        "period_rows": pattern.period_rows,
        "passes": pattern.passes,
        "straddling_passes": list(pattern.straddling),
        "first_straddling_pass": first,
        "rows_of_that_pass": None if first is None else list(pattern.rows_of(first)),
        "most_in_a_pass": pattern.most_guess_rows,
    }


def _side_figures(side: SideCount) -> Figures:
    return {"passes": side.passes, "straddling": side.straddling, "first": side.first}


def _wheel_figures(wheels: Wheels, *, is_judged: bool) -> Figures:
    return {
        "track_m": wheels.track_m,
        "track_in": wheels.track_m / INCH_M,
        "tire_m": wheels.tire_m,
        "are_on_rows": not wheels.is_clear_unmoved,
        "clearance_m": wheels.clearance_m,
        "clearance_in": wheels.clearance_m / INCH_M,
        "shift_m": wheels.shift_m,
        "shift_in": wheels.shift_m / INCH_M,
        "best_clearance_m": wheels.best_clearance_m,
        "best_clearance_in": wheels.best_clearance_m / INCH_M,
        "guess_rows_between": wheels.guess_rows,
        "is_judged": is_judged,
    }


def _tool_rows(which: str, tool: Tool) -> Figures:
    return {
        f"{which}_rows": tool.rows,
        f"{which}_row_spacing_m": tool.row_spacing_m,
        f"{which}_row_spacing_in": _inches(tool.row_spacing_m),
        f"{which}_pass_m": tool.pitch_m,
        f"{which}_pass_ft": to_feet(tool.pitch_m),
    }


def _why(pair: RowMatch, match: ShedMatch) -> Iterator[str]:
    if pair.meeting == "other spacing":
        yield from _why_other_spacing(pair)
    elif pair.meeting == "boom":
        yield from _why_boom(pair)
    elif pair.pattern is not None:
        yield _why_rows(pair.pattern)
        if pair.sides is not None:
            yield _why_sides(pair.sides, pair.first)
        yield from _why_off(pair, match)
        if pair.way_round is not None:
            way = pair.way_round
            taken = "+".join([str(pair.pattern.tool_rows)] * (way.passes - 1) + [str(way.last_rows)])
            yield (
                f"{way.passes} passes of {taken} rows to each planter pass keep off them, "
                f"{100 * way.extra_share:.3g} % more passes"
            )
    if pair.wheels is not None:
        yield from _why_wheels(pair, pair.wheels, match)


def _why_rows(pattern: RowPattern) -> str:
    planter, tool = pattern.planter_rows, pattern.tool_rows
    if pattern.is_clear:
        if tool == planter:
            return "takes just the rows of one planter pass"
        return f"{tool} divides {planter}: {planter // tool} passes to each planter pass, begun at either edge of it"
    if tool > planter:
        return f"takes {tool} rows where {planter} are laid at a time: straddles a guess row on every pass"
    low, high = pattern.rows_of(pattern.straddling[0])
    return (
        f"straddles a guess row first on pass {pattern.straddling[0]} (rows {low} to {high}), and on "
        f"{len(pattern.straddling)} of every {pattern.passes} passes"
    )


def _why_sides(sides: tuple[SideCount, SideCount], planter: Tool) -> str:
    began, other = sides
    text = (
        f"begun where {planter.name} began, {began.straddling} of {began.passes} passes straddle a guess row; "
        f"from the other side {other.straddling}"
    )
    if began.straddling == other.straddling:
        return f"{text}: either side is as good"
    return f"{text}: begin {'where it began' if began.straddling < other.straddling else 'at the other side'}"


def _why_off(pair: RowMatch, match: ShedMatch) -> Iterator[str]:
    pattern, tolerance_m = pair.pattern, match.rules.tolerance_m
    if pattern is None:
        return
    if pair.spacing_off_m:
        yield (
            f"rows {_inch_text(pair.first.row_spacing_m)} and {_inch_text(pair.second.row_spacing_m)} apart put its "
            f"outer rows {_inch_text(pair.spacing_off_m)} off"
        )
    if pattern.is_clear:
        if pair.spacing_off_m > tolerance_m:
            yield f"more than the {_inch_text(tolerance_m)} allowed"
        return
    error_m = match.rules.guess_error_m
    if error_m is None or pair.rows_off_m is None:
        spare_m = max(tolerance_m - pair.spacing_off_m, 0.0)
        most = _inch_text(2 * spare_m / pattern.most_guess_rows)
        yield f"rows run {_inch_text(tolerance_m)} off at most only where no guess row is off by more than {most}"
        return
    verdict = "within" if pair.rows_off_m <= tolerance_m + NOISE_M else "more than"
    yield (
        f"guess rows off by {_inch_text(error_m)} put its rows up to {_inch_text(pair.rows_off_m)} off, {verdict} the "
        f"{_inch_text(tolerance_m)} allowed"
    )


def _why_other_spacing(pair: RowMatch) -> Iterator[str]:
    first, second = pair.first, pair.second
    planted, taken = _inch_text(first.row_spacing_m), _inch_text(second.row_spacing_m)
    yield f"rows are {planted} apart, and it takes rows {taken} apart"
    if pair.alternate is not None:
        rows, does = pair.alternate.planter_rows, "fits" if pair.alternate.is_clear else "straddles guess rows"
        yield (
            f"with every second row shut off {first.name} lays {rows} rows {taken} apart, and if its passes are "
            f"{to_feet(rows * (second.row_spacing_m or 0.0)):.4g} ft apart then it {does}"
        )


def _why_boom(pair: RowMatch) -> Iterator[str]:
    rows = pair.boom_rows or 0.0
    planter_passes = pair.second.pitch_m / pair.first.pitch_m
    whole = abs(rows - round(rows)) < 1e-4
    width = f"a pass is {to_feet(pair.second.pitch_m):.4g} ft, "
    width += f"{round(rows)} rows" if whole else f"{rows:.2f} rows: it begins at another place among them each time"
    yield f"{width}, {planter_passes:.4g} planter passes"
    spacing_m = pair.first.row_spacing_m or pair.second.width_m
    whole_rows = floor(pair.second.width_m / spacing_m + 1e-6)
    if not whole and whole_rows:
        lap = _inch_text(pair.second.width_m - whole_rows * spacing_m)
        yield f"with a lap of {lap} a pass would be {whole_rows} rows"
    if pair.wheels is None:
        yield "its wheel track is not given, so whether wheels run on rows is not known"


def _why_wheels(pair: RowMatch, wheels: Wheels, match: ShedMatch) -> Iterator[str]:
    tire = "tires" if wheels.tire_m else "the middles of the tires"
    track = f"wheels {_inch_text(wheels.track_m)} apart"
    if not pair.are_wheels_judged:
        yield f"{track} run {'between the rows' if wheels.is_clear_unmoved else 'on rows, after they are cut'}"
        return
    if wheels.is_clear_unmoved and not wheels.shift_m:
        yield f"{track} run between the rows, {tire} {_inch_text(wheels.clearance_m)} clear of them"
    elif not wheels.is_clear or pair.boom_rows is None:
        yield f"{track} run on rows" + ("" if wheels.is_clear else ", wherever it begins")
    else:
        runs = "run close to rows" if wheels.is_clear_unmoved else "run on rows"
        yield (
            f"{track} {runs} when begun at the edge; begun {_inch_text(wheels.shift_m)} to the side they run between, "
            f"{tire} {_inch_text(wheels.best_clearance_m)} clear"
        )
    error_m = match.rules.guess_error_m
    if error_m and wheels.guess_rows and wheels.is_clear:
        off = _inch_text(wheels.guess_rows * error_m / 2)
        yield f"guess rows off by {_inch_text(error_m)} take up to {off} of that"


def _notes(match: ShedMatch) -> Iterator[str]:
    for pair in match.pairs:
        if pair.spacing_off_m:
            yield (
                f"{pair.first.name} has rows {_both_units(pair.first.row_spacing_m)} apart, {pair.second.name} "
                f"{_both_units(pair.second.row_spacing_m)}, and they are taken as they stand; if one spacing is meant, "
                "write it the same way for both"
            )
    if not match.pairs:
        yield "no other tool of the shed has rows, or wheels that run among them"
    if match.untied:
        yield f"tied to no rows: {', '.join(tool.name for tool in match.untied)}"
    if any(pair.meeting == "boom" and pair.wheels is None for pair in match.pairs):
        yield "give wheel_track and tire in the shed file to see whether wheels run on rows"


def _inches(length_m: float | None) -> float | None:
    return None if length_m is None else length_m / INCH_M


def _inch_text(length_m: float | None) -> str:
    return f"{round((length_m or 0.0) / INCH_M, 2):.4g} in"


def _both_units(length_m: float | None) -> str:
    return f"{_inch_text(length_m)} ({100 * (length_m or 0.0):.4g} cm)"
