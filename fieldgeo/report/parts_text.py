"""A field divided into parts as lines: what is saved, each part, which part is worked before which."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fieldgeo.report.lines import (
    area_text,
    count_text,
    direction_text,
    labelled,
    labelled_figure,
    labelled_wrapped,
    length_text,
    table,
)

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from typing import Any


# Read: Jiangsu University, "Coverage Path Planning Based on Region Segmentation and Path Orientation Optimization",
# Agriculture 15:1479, 2025.
_PUBLISHED = (
    "Published for dividing one other field into 4 blocks: turns -70.42 % and distance -23.17 %, each at the most "
    "(Jiangsu University, Agriculture 15:1479, 2025)."
)


def parts_lines(figures: Mapping[str, Any]) -> Iterator[str]:
    """Yield the parts of a field and what they save, from `parts_figures`.

    Parameters
    ----------
    figures : mapping
        From `fieldgeo.analysis.divided.figures.parts_figures`.
    """
    undivided, parts = figures["undivided"], figures["parts"]
    tried = f"best of {count_text(figures['divisions_tried'], 'division')} tried"
    if not parts:
        yield labelled("parts", f"left undivided: {_none_text(figures['divisions_tried'])}")
        return
    ground = sum(not part["is_end_rows"] for part in parts)
    yield labelled_figure("parts", f"{ground}", f"{tried}, {figures['divisions_laid']} laid out")
    head = ["part", "area", "direction", "passes", "undivided"]
    yield from table(head, [_row(part) for part in parts], left=0)
    yield labelled_figure(
        "saved", f"{figures['saved_h']:.2f} h", f"{figures['saved_pct']:.1f} % of {undivided['field_time_h']:.2f} h, "
        f"undivided {direction_text(undivided['direction_deg'])}",
    )  # fmt: skip
    yield f"    {_change(undivided['passes'] - figures['passes'], 'pass', 'passes')}, " + (
        f"{_change(figures['saved_turns'], 'turn', 'turns')}, {_driving_text(figures['saved_travel_m'])}"
    )
    if waiting := _waiting(parts):
        yield from labelled_wrapped("order of parts", "; ".join(waiting))
    yield labelled_figure(
        "least time", f"{figures['time_bound_h']:.2f} h", "the area at width x speed: no plan takes less"
    )


def _none_text(tried: int) -> str:
    if not tried:
        return "it bends nowhere, so there is nothing to divide at"
    return f"none of {count_text(tried, 'division')} tried saves time"


def _row(part: Mapping[str, Any]) -> list[str]:
    number = f"{part['number']}" + (" (end rows)" if part["is_end_rows"] else "")
    return [
        number,
        area_text(part["area_m2"]),
        direction_text(part["direction_deg"]),
        f"{part['passes']:,}",
        f"{part['undivided_passes']:,}",
    ]


def _change(saved: int, one: str, many: str) -> str:
    return f"{abs(saved):,} {one if abs(saved) == 1 else many} {'fewer' if saved >= 0 else 'more'}"


def _driving_text(saved_m: float) -> str:
    return f"{length_text(abs(saved_m))} {'less' if saved_m >= 0 else 'more'} with the tool up"


def _waiting(parts: Sequence[Mapping[str, Any]]) -> list[str]:
    """Return in words which parts are worked before which."""
    told = []
    for part in parts:
        if part["waits_for"]:
            is_opened_first = part["number"] not in parts[part["waits_for"][0] - 1]["turns_on"]
            if is_opened_first:
                why = f"so that {part['number']} has cut ground to turn on"
            else:
                why = f"on which {'it turns' if len(part['waits_for']) == 1 else 'they turn'}"
            told.append(f"{_listed(part['waits_for'])} before {part['number']}, {why}")
    return told


def _listed(numbers: Sequence[int]) -> str:
    return " and ".join(map(str, numbers)) if len(numbers) < 3 else ", ".join(map(str, numbers))


def _change_text(figures: Mapping[str, Any]) -> str:
    """Return the change of turns and of the way driven, in per cent."""
    undivided = figures["undivided"]
    ways = [each["work_m"] + each["travel_m"] for each in (figures, undivided)]
    turns = f"turns {100 * (figures['turns'] / undivided['turns'] - 1):+.0f} %, " if undivided["turns"] else ""
    return f"{turns}distance {100 * (ways[0] / ways[1] - 1):+.0f} %"


def parts_notes(figures: Mapping[str, Any]) -> Iterator[str]:
    """Yield what a grower should know beside it, from `parts_figures`.

    Parameters
    ----------
    figures : mapping
        From `fieldgeo.analysis.divided.figures.parts_figures`.
    """
    if figures["parts"]:
        yield f"note: against the undivided field: {_change_text(figures)}. {_PUBLISHED}"
        yield "note: column undivided: passes of the undivided field that cross the part."
        yield "note: rows of other tools must lie in the same parts; lay each of them before you decide."
