"""A time line as a table in a file of comma-separated values (RFC 4180), to be drawn, moved along, or counted up."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from fieldgeo.export.files import check_placed, check_target, write_whole
from fieldgeo.travel.table import TimelineTable, timeline_table

if TYPE_CHECKING:
    from fieldgeo.export.files import PathLike
    from fieldgeo.travel.timeline import Timeline

# Columns of the file, each with the form of its values: a tenth of a second, a centimetre, and degrees to a centimetre.
COLUMNS: Final = {
    "time_s": ".1f", "x_m": ".2f", "y_m": ".2f", "lon": ".7f", "lat": ".7f", "state": "", "pass": "d",
    "driven_m": ".2f",
}  # fmt: skip


def write_timeline(timeline: Timeline, path: PathLike, *, step_s: float = 1.0, force: bool = False) -> int:
    """Write a time line as a table and return the number of its rows.

    Parameters
    ----------
    timeline : Timeline
        The time line.
    path : str or path
        The file; its folder must exist.
    step_s : float
        Time between rows, > 0. [s]
    force : bool
        Whether an existing file may be replaced.

    Raises
    ------
    FileError
        If the file exists and `force` is not set, or it cannot be written.
    InputError
        If the step cannot be used, or the place of the field is not known.
    """
    check_placed(timeline.route.layout.field, path)
    check_target(path, force=force)
    table = timeline_table(timeline, step_s)
    write_whole(path, timeline_csv(table), force=force)
    return len(table.time_s)


def timeline_csv(table: TimelineTable) -> str:
    """Return a table as comma-separated values with a head; `pass` is 0 where no pass is driven."""
    row = ",".join(f"{{:{form}}}" for form in COLUMNS.values())
    columns = [column.tolist() for column in table]
    lines = [row.format(*values) for values in zip(*columns, strict=True)]
    return "\r\n".join([",".join(COLUMNS), *lines, ""])
