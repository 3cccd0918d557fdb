"""A plan beside the log of the same work: laid on the log's outline, with its width, direction and headland."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from fieldgeo.analysis.lay import lay
from fieldgeo.analysis.log.calibrate import LEAST_OBSERVED, Calibration, calibrate, calibrated_tool, split_log
from fieldgeo.analysis.log.measure import DayWork, read_back
from fieldgeo.analysis.plan import Plan
from fieldgeo.machinery.tool import Tool
from fieldgeo.units import HOUR_S

Row = tuple[str, float, float]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Against:
    """A plan and a log of the same work."""

    plan: Plan
    work: DayWork
    calibration: Calibration | None = None  # what the plan's tool was calibrated from; it foresees lifts and stops

    @property
    def plan_strips(self) -> int:
        """Places across the field that the plan's passes lie on."""
        passes = self.plan.layout.passes
        return len(set(zip(passes.piece.tolist(), passes.strip.tolist(), strict=True)))

    @property
    def lifts_s(self) -> float:
        """Foreseen time of lifting in the middle of passes; 0 without a calibration. [s]"""
        return 0.0 if self.calibration is None else self.calibration.lift_s_per_pass.mean * self.plan_strips

    @property
    def stops_s(self) -> float:
        """Foreseen time of stops; 0 without a calibration. [s]"""
        return 0.0 if self.calibration is None else self.calibration.stop_share * self._plan_work_s

    @property
    def _plan_work_s(self) -> float:
        states = self.plan.timeline.by_state_s()
        return states["passes"] + states["headland_rounds"]

    @property
    def foreseen_s(self) -> float:
        """Field time of the plan, with the lifts and stops that the calibration foresees. [s]"""
        return self.plan.field_time_s + self.lifts_s + self.stops_s

    @property
    def field_time_error(self) -> float:
        """Foreseen over logged field time, less one. [-]"""
        return self.foreseen_s / self.work.field_time_s - 1

    @property
    def length_error(self) -> float:
        """Length that the plan works over that of the log, less one. [-]"""
        return self.plan.route.length_m("pass", "headland") / self.work.work_m - 1

    @property
    def strips_error(self) -> int:
        """Strips of the plan less those of the log."""
        return self.plan_strips - self.work.pattern.strips

    def rows(self) -> list[Row]:
        """Return name, plan and log of each figure that both have."""
        plan, work = self.plan, self.work
        ours, theirs = plan.timeline.by_state_s(), work.timing.by_state_s
        turns = [turn.duration_s for turn in work.timing.turns if turn.kind != "corner"]
        planned = [
            leg.length_m / plan.tool.turn_speed_m_s + plan.tool.raise_s + plan.tool.lower_s
            for leg in plan.route.legs
            if leg.turn is not None and leg.turn.kind != "corner"
        ]
        return [
            ("passes", len(plan.layout.passes), len(work.pass_lengths_m)),
            ("strips", self.plan_strips, work.pattern.strips),
            ("worked_length_m", plan.route.length_m("pass", "headland"), work.work_m),
            ("turns", len(plan.route.turns()), len(work.timing.turns)),
            ("turn_s_median", _median(planned), _median(turns)),
            ("swept_m2", plan.coverage.swept_m2, work.swept.swept_m2),
            ("overlap_m2", plan.coverage.overlap_m2, work.swept.overlap_m2),
            ("skip_m2", plan.coverage.skip_m2, work.swept.skip_m2),
            ("work_h", self._plan_work_s / HOUR_S, (theirs["passes"] + theirs["headland_rounds"]) / HOUR_S),
            ("turning_h", _turning_h(ours), _turning_h(theirs)),
            ("travel_h", (ours["travel"] + self.lifts_s) / HOUR_S, theirs["travel"] / HOUR_S),
            ("stops_h", self._plan_stops_h(ours), theirs["stops"] / HOUR_S),
            ("field_time_h", self.foreseen_s / HOUR_S, work.field_time_s / HOUR_S),
        ]  # fmt: skip

    def _plan_stops_h(self, states: dict[str, float]) -> float:
        standing = sum(states.get(state, 0.0) for state in ("filling", "unloading", "adjusting"))
        return (standing + self.stops_s) / HOUR_S


def _turning_h(states: dict[str, float]) -> float:
    return (states["turning"] + states["lifting"]) / HOUR_S


def _median(values: list[float]) -> float:
    return float(np.median(values)) if values else 0.0


def lay_against(work: DayWork, tool: Tool, *, calibration: Calibration | None = None) -> Against:
    """Return a plan laid as the log was worked, beside it.

    Parameters
    ----------
    work : DayWork
        A log measured.
    tool : Tool
        The tool; the width of the log is used.
    calibration : Calibration, optional
        What another part of the log teaches of the tool; the plan is then laid with that, and foresees its lifts and
        stops.

    Raises
    ------
    LogError
        If the tool is not as wide as that of the log.
    LayoutError
        If the tool is wider than the field is long.

    Notes
    -----
    The plan covers the outline of the log in the log's direction, with as many headland rounds as were driven, whole
    strips lifted half way out: so a row end cut on a slant is as long as it was driven, on the mean.
    """
    same_width = tool if tool.rows and abs(tool.width_m - work.log.width_m) < 1e-6 else _with_width(tool, work)
    used = same_width if calibration is None else calibrated_tool(same_width, calibration)
    plan = lay(
        work.swept.outline, used, direction_deg=work.pattern.direction_deg, headland=work.pattern.headland_rounds,
        finish="half",
    )  # fmt: skip
    return Against(plan=plan, work=work, calibration=calibration)


def halves_against(work: DayWork, tool: Tool) -> tuple[Against, ...]:
    """Return the plan of each half of a log, calibrated on the other, beside it; none where the log is too short.

    Parameters
    ----------
    work : DayWork
        A log measured.
    tool : Tool
        The tool.

    Returns
    -------
    tuple of Against
        The second half foreseen from the first, and the first from the second; empty below six passes.
    """
    if len(work.of_role("pass")) < 2 * LEAST_OBSERVED:
        return ()
    one, two = (read_back(half, break_s=work.break_s) for half in split_log(work))
    return tuple(
        lay_against(judged, tool, calibration=calibrate(learnt)) for learnt, judged in ((one, two), (two, one))
    )


def _with_width(tool: Tool, work: DayWork) -> Tool:
    width_m = work.log.width_m
    return replace(tool, width_m=width_m, rows=None, row_spacing_m=None, lap_m=min(tool.lap_m, 0.49 * width_m))
