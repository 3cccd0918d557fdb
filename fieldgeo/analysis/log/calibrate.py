"""What a log teaches of a tool: speed, turns, lifting, width really used, stops, each with its spread and its number.

The plan's own model of a turn (`fieldgeo.machinery.turning`) is kept, and the turning speed set so that a turn onto the
next pass takes the seconds that were measured: the way driven is often not in the log, the time always is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from fieldgeo.analysis.log.measure import DayWork
from fieldgeo.analysis.log.record import Log
from fieldgeo.errors import LogError
from fieldgeo.machinery.tool import Tool
from fieldgeo.machinery.turning import turn_length_m
from fieldgeo.outline.files.geojson import plain_name
from fieldgeo.units import INCH_M, to_feet, to_mph

# Fewer passes or turns teach nothing (own choice).
LEAST_OBSERVED: Final = 3
_AS_BEFORE: Final = "as before"  # of a figure that the log does not tell
# The shed file takes no slower and no faster turning (machinery/tool_entry.py).
_LEAST_TURN_SPEED_M_S, _MOST_TURN_SPEED_M_S = 0.05, 17.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """A figure with its spread and the number of observations."""

    mean: float
    sd: float  # standard deviation of one observation
    n: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Calibration:
    """What a log teaches of a tool."""

    width_m: float  # full width of the log [m]
    speed_m_s: Measured  # one observation a pass [m/s]
    spacing_m: Measured | None  # one a place where two neighbouring passes were measured [m]
    turn_s: Measured | None  # turns back, tool up to tool down, without stops [s]
    turn_s_by_kind: dict[str, Measured]  # [s]
    lifting_s: Measured | None  # stood at the ends of a turn, where the log shows it [s]
    lift_s_per_pass: Measured  # lifted in the middle of a pass: waterways and such [s]
    stop_share: float  # time in stops / time at work [-]
    stops: int


def calibrate(work: DayWork) -> Calibration:
    """Return what a log teaches of its tool.

    Parameters
    ----------
    work : DayWork
        A log measured, or a part of one (`split_log`).

    Raises
    ------
    LogError
        If it has fewer than three passes.
    """
    passes = work.of_role("pass")
    if len(passes) < LEAST_OBSERVED:
        raise LogError(
            f"{work.log.name!r} has {len(passes)} {'pass' if len(passes) == 1 else 'passes'}; a tool can be calibrated "
            f"from {LEAST_OBSERVED} or more. Give a longer log."
        )
    timing = work.timing
    turns = [turn for turn in timing.turns if turn.kind != "corner"]
    kinds = sorted({turn.kind for turn in timing.turns})
    by_kind = {kind: _measured([turn.duration_s for turn in timing.turns if turn.kind == kind]) for kind in kinds}
    lifting = [turn.lifting_s for turn in turns if turn.lifting_s]
    # Stops on passes are counted as stops, not as lifting.
    on_passes = [stop for stop in timing.stops if stop.during == "pass"]
    lifts = [
        trip.end_s - trip.start_s - trip.work_s
        - sum(stop.duration_s for stop in on_passes if trip.start_s <= stop.start_s <= trip.end_s)
        for trip in passes
    ]  # fmt: skip
    work_s = sum(timing.by_state_s[state] for state in ("passes", "headland_rounds"))
    speed = _measured([trip.length_m / trip.work_s for trip in passes if trip.work_s > 0])
    assert speed is not None  # there are passes, and each took time
    lift = _measured([max(0.0, seconds) for seconds in lifts]) or Measured(mean=0.0, sd=0.0, n=len(passes))
    # The mean that gives the whole time: length over time, not the mean of speeds.
    speed = replace(speed, mean=work.work_speed_m_s)
    return Calibration(
        width_m=work.log.width_m, speed_m_s=speed, spacing_m=_measured(work.pattern.spacing_m.tolist()),
        turn_s=_measured([turn.duration_s for turn in turns]),
        turn_s_by_kind={kind: each for kind, each in by_kind.items() if each is not None},
        lifting_s=_measured([float(each) for each in lifting]) if len(lifting) >= LEAST_OBSERVED else None,
        lift_s_per_pass=lift, stop_share=timing.by_state_s["stops"] / work_s if work_s > 0 else 0.0,
        stops=len(timing.stops),
    )  # fmt: skip


def _measured(values: Sequence[float]) -> Measured | None:
    if not len(values):
        return None
    return Measured(mean=float(np.mean(values)), sd=float(np.std(values)), n=len(values))


def calibrated_tool(tool: Tool, calibration: Calibration) -> Tool:
    """Return a tool with the figures of a log in place of its own.

    Parameters
    ----------
    tool : Tool
        The tool; its width and its turning radius stay.
    calibration : Calibration
        What was measured.

    Raises
    ------
    LogError
        If the tool is not as wide as that of the log, to a tenth.

    Notes
    -----
    Speed is the mean while working. Lap is width less mean spacing where that is above zero by two standard errors.
    Raising and lowering are the standing at the ends of turns, half each, where it was seen; where it was not, they
    stay as long as they leave time to turn. Turning speed is the model's way onto the next pass over the time that is
    left. (Derived.)
    """
    if abs(tool.width_m / calibration.width_m - 1) > 0.1:
        raise LogError(
            f"tool {tool.name!r} works {to_feet(tool.width_m):.4g} ft, and that of the log "
            f"{to_feet(calibration.width_m):.4g} ft. Name the tool that made the log, or give its --width."
        )
    changed = replace(tool, speed_m_s=calibration.speed_m_s.mean)
    if calibration.spacing_m is not None and calibration.spacing_m.n >= LEAST_OBSERVED:
        changed = replace(changed, lap_m=_lap_m(tool, calibration.spacing_m))
    if calibration.lifting_s is not None:
        changed = replace(changed, raise_s=calibration.lifting_s.mean / 2, lower_s=calibration.lifting_s.mean / 2)
    turn_s = calibration.turn_s
    if turn_s is None or turn_s.n < LEAST_OBSERVED:
        return changed
    if changed.raise_s + changed.lower_s >= 0.7 * turn_s.mean:
        changed = replace(changed, raise_s=0.0, lower_s=0.0)
    way_m = turn_length_m(changed.pitch_m, changed.turn_radius_m) + 2 * changed.pull_out_m
    speed_m_s = way_m / (turn_s.mean - changed.raise_s - changed.lower_s)
    return replace(changed, turn_speed_m_s=min(max(speed_m_s, _LEAST_TURN_SPEED_M_S), _MOST_TURN_SPEED_M_S))


def _lap_m(tool: Tool, spacing: Measured) -> float:
    lap_m = tool.width_m - spacing.mean
    return lap_m if lap_m > 2 * spacing.sd / np.sqrt(spacing.n) else 0.0


def split_log(work: DayWork) -> tuple[Log, Log]:
    """Return the two halves of the passes of a log; headland rounds before or after them belong to neither.

    Parameters
    ----------
    work : DayWork
        The whole log, measured.

    Raises
    ------
    LogError
        If it has fewer than six passes.
    """
    passes = work.of_role("pass")
    if len(passes) < 2 * LEAST_OBSERVED:
        raise LogError(
            f"{work.log.name!r} has {len(passes)} passes; it takes {2 * LEAST_OBSERVED} to part it in two. "
            "Give a longer log."
        )
    start, cut = passes[0].stretches[0].first, passes[len(passes) // 2].stretches[0].first
    end = passes[-1].stretches[-1].last + 1
    return _rows(work.log, slice(start, cut), "first half"), _rows(work.log, slice(cut, end), "second half")


def _rows(log: Log, rows: slice, what: str) -> Log:
    is_cut = log.is_cut[rows].copy()
    is_cut[0] = False
    return replace(
        log, name=f"{log.name}, {what}", time_s=log.time_s[rows] - log.time_s[rows][0], xy=log.xy[rows], is_cut=is_cut,
        columns={name: values[rows] for name, values in log.columns.items()}, notes=(),
    )  # fmt: skip


def shed_text(tool: Tool, calibration: Calibration, *, source: str, shed: str | None = None) -> str:
    """Return a shed file with a calibrated tool, spread and number of observations beside each figure.

    Parameters
    ----------
    tool : Tool
        The tool, calibrated.
    calibration : Calibration
        Where its figures come from.
    source : str
        Name of the log.
    shed : str, optional
        Text of the shed file that lists the tool: everything else in it is kept as it is, comments too. Without it the
        file has this tool alone.

    Raises
    ------
    LogError
        If the shed does not list the tool.
    """
    import tomlkit

    document = tomlkit.parse(shed) if shed is not None else tomlkit.document()
    if shed is None:
        entry = tomlkit.table()
        entry.update(_plain_entry(tool))
        tools = tomlkit.aot()
        tools.append(entry)
        document.append("tool", tools)
    else:
        listed = [each for each in document.get("tool", []) if str(each.get("name", "")).strip() == tool.name]
        if not listed:
            raise LogError(f"tool {tool.name!r} is not in the shed. Name a tool that it lists.")
        entry = listed[0]
    measured = [str(key) for key in entry.get("measured", [])]
    for key, value, about in _measured_entries(tool, calibration):
        item = tomlkit.item(value)
        item.comment(about)
        entry[key] = item
        if not about.startswith(_AS_BEFORE) and key not in measured:
            measured.append(key)
    entry["measured"] = measured
    lift = calibration.lift_s_per_pass
    about_all = (
        f"{plain_name(tool.name)}: calibrated from the log {plain_name(source)}. Lifted on the pass {lift.mean:.1f} s "
        f"a pass (sd {lift.sd:.1f} s, {lift.n} passes); stops {60 * calibration.stop_share:.1f} min for each hour of "
        f"work ({calibration.stops} stops)."
    )
    return f"# {about_all}\n" + tomlkit.dumps(document)


def _plain_entry(tool: Tool) -> dict[str, object]:
    """Return what a tool is in the keys of a shed file, without what a log can tell."""
    entry: dict[str, object] = {"name": plain_name(tool.name)}
    if tool.kind:
        entry["kind"] = tool.kind
    if tool.rows is not None and tool.row_spacing_m is not None:
        entry |= {"rows": tool.rows, "row_spacing": f"{tool.row_spacing_m / INCH_M:.6g}in"}
    else:
        entry["width"] = f"{to_feet(tool.width_m):.6g}ft"
    if tool.sections > 1:
        entry["sections"] = tool.sections
    return entry | {
        "turn_radius": f"{to_feet(tool.turn_radius_m):.6g}ft", "pull_out": f"{to_feet(tool.pull_out_m):.6g}ft",
        "hitch": tool.hitch,
    }  # fmt: skip


def _measured_entries(tool: Tool, calibration: Calibration) -> list[tuple[str, str, str]]:
    """Return key, value and comment of each figure that a log can tell; what was not told stands as it was."""
    spacing, turn, lifting, speed = (
        calibration.spacing_m, calibration.turn_s, calibration.lifting_s, calibration.speed_m_s,
    )  # fmt: skip
    turn_about = f"{_AS_BEFORE}: too few turns"
    if turn is not None and turn.n >= LEAST_OBSERVED:
        turn_about = f"so that a turn takes {turn.mean:.1f} s as measured; sd {turn.sd:.1f} s, {turn.n} turns"
    lap_about = f"{_AS_BEFORE}: too few neighbouring passes"
    if spacing is not None and spacing.n >= LEAST_OBSERVED:
        lap_about = f"passes {to_feet(spacing.mean):.2f} ft apart; sd {spacing.sd / INCH_M:.1f} in, {spacing.n} pairs"
    lift_about = f"{_AS_BEFORE}: the log shows no standing at the ends of turns"
    if lifting is not None:
        lift_about = f"half of {lifting.mean:.1f} s stood at a turn; sd {lifting.sd:.1f} s, {lifting.n} turns"
    speed_about = f"mean while working; sd {to_mph(speed.sd):.2g} mph between {speed.n} passes"
    return [
        ("lap", f"{tool.lap_m / INCH_M:.4g}in", lap_about),
        ("speed", f"{to_mph(tool.speed_m_s):.5g}mph", speed_about),
        ("turn_speed", f"{to_mph(tool.turn_speed_m_s):.5g}mph", turn_about),
        ("raise", f"{tool.raise_s:.3g}s", lift_about),
        ("lower", f"{tool.lower_s:.3g}s", lift_about),
    ]
