"""The list of passes as CSV: one row a pass, in the order they are driven."""

from __future__ import annotations

import csv
import io
from typing import TYPE_CHECKING

from fieldgeo.analysis.pass_order import PASS_COLUMNS, pass_list
from fieldgeo.export.files import write_whole

if TYPE_CHECKING:
    from fieldgeo.export.files import PathLike
    from fieldgeo.travel.route import Route

# Decimals that are written: a centimetre, a hundredth of a second, a hundredth of a degree.
_DECIMALS = 2


def pass_list_csv(route: Route) -> str:
    """Return the list of passes as comma-separated values (RFC 4180), columns named as in `pass_list`.

    Parameters
    ----------
    route : Route
        Work in order.
    """
    text = io.StringIO()
    writer = csv.DictWriter(text, fieldnames=PASS_COLUMNS)
    writer.writeheader()
    for row in pass_list(route):
        writer.writerow(
            {name: f"{value:.{_DECIMALS}f}" if isinstance(value, float) else value for name, value in row.items()}
        )
    return text.getvalue()


def write_pass_list(route: Route, path: PathLike, *, force: bool = False) -> None:
    """Write the list of passes as a CSV file.

    Parameters
    ----------
    route : Route
        Work in order.
    path : str or path
        The file; its folder must exist.
    force : bool
        Whether an existing file may be replaced.

    Raises
    ------
    FileError
        If the file exists and `force` is not set, or it cannot be written.
    """
    write_whole(path, pass_list_csv(route), force=force)
