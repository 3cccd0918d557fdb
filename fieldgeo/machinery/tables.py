"""Published tables beside this module, and how well each row of them is known.

Every row names its source and a status: ``read`` only where the number was seen in the named document. Much of
ASABE D497 is recalled, for its tables could not be opened; whatever rests on such a row has to say so.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from importlib import resources
from types import MappingProxyType
from typing import TYPE_CHECKING, Final, Literal, TypeAlias, cast

if TYPE_CHECKING:
    from collections.abc import Mapping

Status: TypeAlias = Literal["read", "read_derived", "memory", "memory_checked", "memory_derived", "memory_low"]

HOW_KNOWN: Final[Mapping[Status, str]] = MappingProxyType(
    {
        "read": "read in the source",
        "read_derived": "one step of arithmetic from figures read in the source",
        "memory": "recalled from memory, not read",
        "memory_checked": "recalled from memory, not read; agrees with itself",
        "memory_derived": "derived from figures recalled from memory, not read",
        "memory_low": "recalled from memory with real doubt",
    }
)


# Machines that the efficiency table has a second row for -> the name that the other tables know them by.
_FIRST_ROW: Final[Mapping[str, str]] = MappingProxyType(
    {
        "moldboard plow (up to 8 bottoms)": "moldboard plow",
        "chisel plow": "chisel plow (incl. coulter-chisel)",
        "row-crop planter (6 to 36 rows)": "row-crop planter",
        "fertilizer spreader, dry": "fertilizer spreader",
    }
)


def machine_of(kind: str) -> str:
    """Return the name by which the tables of draft, repair, worth and fuel know a machine of the efficiency table.

    Parameters
    ----------
    kind : str
        Machine of the efficiency table.

    Examples
    --------
    >>> machine_of("chisel plow")
    'chisel plow (incl. coulter-chisel)'
    """
    return _FIRST_ROW.get(kind, kind)


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """Where a figure comes from, and how well it is known."""

    text: str  # body, number, title, year, table
    status: Status
    note: str = ""  # doubts and conditions

    @property
    def is_recalled(self) -> bool:
        """Whether the figure was not read in the source."""
        return not self.status.startswith("read")

    @property
    def citation(self) -> str:
        """Source, with a warning where the figure was not read there."""
        return f"{self.text}; {HOW_KNOWN[self.status]}" if self.is_recalled else self.text


@cache
def table_rows(name: str, package: str = "fieldgeo.machinery") -> tuple[Mapping[str, str], ...]:
    """Return the rows of a published table, as text.

    Parameters
    ----------
    name : str
        File of the table, such as ``"draft.csv"``.
    package : str
        Package that the file lies in.
    """
    text = resources.files(package).joinpath(name).read_text(encoding="utf-8")
    return tuple(MappingProxyType(row) for row in csv.DictReader(text.splitlines()))


def source_of(row: Mapping[str, str]) -> Source:
    """Return where a row comes from.

    Parameters
    ----------
    row : mapping
        Row of a table, with the columns source, status and note.
    """
    return Source(text=row["source"], status=cast("Status", row["status"]), note=row["note"])
