"""The answer of `log` as lines: what was done, and the plan beside it, from the dictionaries of figures."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from fieldgeo.report.lines import (
    STATE_WORDS,
    area_text,
    count_text,
    direction_text,
    labelled,
    labelled_figure,
    percent_text,
    table,
    wrap,
)
from fieldgeo.units import ACRE_M2, FOOT_M

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fieldgeo.analysis.figures import Figures

_ROWS: Final = {
    "passes": ("passes", ",.0f", 1.0),
    "strips": ("strips", ",.0f", 1.0),
    "worked_length_m": ("worked length, ft", ",.0f", 1 / FOOT_M),
    "turns": ("turns", ",.0f", 1.0),
    "turn_s_median": ("turn, median s", ".1f", 1.0),
    "swept_m2": ("swept, ac", ".2f", 1 / ACRE_M2),
    "overlap_m2": ("worked twice, ac", ".2f", 1 / ACRE_M2),
    "skip_m2": ("missed, ac", ".2f", 1 / ACRE_M2),
    "work_h": ("working, h", ".2f", 1.0),
    "turning_h": ("turns, h", ".2f", 1.0),
    "travel_h": ("travel and lifts, h", ".2f", 1.0),
    "stops_h": ("stops, h", ".2f", 1.0),
    "field_time_h": ("field time, h", ".2f", 1.0),
}


def log_lines(figures: Figures) -> Iterator[str]:
    """Yield the answer of `log` from `log_figures`."""
    outline = "outline given" if figures["is_outline_given"] else "outline drawn round it"
    yield f"{figures['log']}: {area_text(figures['area_m2'])}, {outline}"
    yield (
        f"{figures['records']:,} records, {figures['width_ft']:.4g} ft ({figures['width_m']:.4g} m) wide, "
        f"{figures['speed_mph']:.3g} mph ({figures['speed_km_h']:.3g} km/h) at work"
    )
    yield labelled("direction", direction_text(figures["direction_deg"]))
    yield labelled_figure("passes", f"{figures['passes']:,}", _passes_text(figures))
    yield labelled_figure("turns", f"{figures['turns']:,}", _turns_text(figures))
    for label, what in (("worked", "worked"), ("worked twice", "overlap"), ("missed", "skip")):
        share = f"({figures[f'{what}_ha']:.2f} ha)  {figures[f'{what}_pct']:.1f} % of the field"
        yield labelled_figure(label, f"{figures[f'{what}_ac']:.2f} ac", share)
    yield labelled_figure("field time", f"{figures['field_time_h']:.2f} h")
    yield f"    {_time_text(figures)} h"
    stops = figures["stops"]
    if stops["count"]:
        longest = f"{stops['seconds'] / 60:.1f} min in all, longest {stops['longest_s'] / 60:.1f} min"
        yield labelled_figure("stops", f"{stops['count']:,}", longest)
    theoretical = f"theoretical {figures['theoretical_ac_h']:.1f} ac/h ({figures['theoretical_ha_h']:.1f} ha/h)"
    yield labelled_figure(
        "capacity", f"{figures['effective_ac_h']:.1f} ac/h", f"({figures['effective_ha_h']:.1f} ha/h)  {theoretical}"
    )
    yield labelled_figure("field efficiency", percent_text(figures["field_efficiency"]))
    grain = figures["grain"]
    if grain is not None:
        moisture = "" if grain["moisture_pct"] is None else f", {grain['moisture_pct']:.1f} % moisture"
        about = f"{grain['dry_bushels']:,.0f} bu of dry corn, {grain['metered_ac']:,.1f} ac{moisture}"
        yield labelled_figure("yield", f"{grain['bushels_ac']:.0f} bu/ac", about)


def log_notes(figures: Figures) -> Iterator[str]:
    """Yield what a grower should know beside the answer of `log`, from `log_figures`."""
    for note in figures["notes"]:
        yield f"note: {note}."


def against_lines(figures: Figures, *, head: str) -> Iterator[str]:
    """Yield a plan beside the log, from `against_figures`.

    Parameters
    ----------
    figures : dict
        From `against_figures`.
    head : str
        What the plan was laid with.
    """
    yield from wrap(head, indent=2)
    rows = []
    for row in figures["rows"]:
        name, form, scale = _ROWS[row["what"]]
        logged = format(row["log"] * scale, form)
        is_nothing = row["difference_pct"] is None or float(logged.replace(",", "")) == 0
        off = "" if is_nothing else f"{row['difference_pct']:+.1f} %"
        rows.append([name, format(row["plan"] * scale, form), logged, off])
    yield from table(["", "plan", "log", "plan off by"], rows, left=1)


def at_log_speed_line(figures: Figures) -> str:
    """Return how far off the plan is with the log's own working speed, from `against_figures`."""
    return f"at the log's own working speed the plan's field time is off by {figures['field_time_error_pct']:+.1f} %"


def halves_lines(figures: list[Figures]) -> Iterator[str]:
    """Yield how a plan calibrated on one half of a log foresees the other, both ways.

    Parameters
    ----------
    figures : list of dict
        Of `against_figures`, one each way.
    """
    for each, (one, other) in zip(figures, (("first", "second"), ("second", "first")), strict=True):
        yield from wrap(
            f"calibrated on the {one} half, judged on the {other}: field time {each['field_time_error_pct']:+.1f} %, "
            f"length {each['length_error_pct']:+.1f} %, strips {each['passes_error']:+d}",
            indent=2,
        )


def _passes_text(figures: Figures) -> str:
    parts = [f"on {count_text(figures['strips'], 'strip')}"]
    if figures["pass_spacing_ft"] is not None:
        parts[0] += f" {figures['pass_spacing_ft']:.2f} ft apart"
    if figures["pieces"]:
        parts.append(count_text(figures["pieces"], "short piece"))
    if figures["headland_rounds"]:
        parts.append(count_text(figures["headland_rounds"], "headland round"))
    return ", ".join(parts)


def _turns_text(figures: Figures) -> str:
    if figures["turn_s_median"] is None:
        return ""
    return f"median {figures['turn_s_median']:.0f} s, mean {figures['turn_s_mean']:.1f} s"


def _time_text(figures: Figures) -> str:
    times = figures["time_h"].items()
    return ", ".join(f"{STATE_WORDS[state]} {hours:.2f}" for state, hours in times if hours >= 0.005)
