"""Published field efficiencies and working speeds of machines, each with its source, and how well we know it.

The rows lie in `field_efficiency.csv`. Their status is ``read`` (the number was seen in the text of the named document)
or ``memory`` (recalled; the document's table could not be opened). Every row of ASAE/ASABE D497, Table 3, is recalled:
a figure shown to a person must say so, and `PublishedEfficiency.describe` does.
"""

from __future__ import annotations

import csv
import re
from dataclasses import dataclass
from difflib import get_close_matches
from functools import cache
from importlib import resources
from types import MappingProxyType
from typing import TYPE_CHECKING, Final, Literal, cast

from fieldgeo.errors import InputError
from fieldgeo.units import MPH_M_S

if TYPE_CHECKING:
    from collections.abc import Mapping

Status = Literal["read", "memory"]

# Words of a grower -> machine of the table. Trade usage: common practice, no source. A word that could mean two
# machines ("cultivator") is left out on purpose, so that the grower is asked.
GROWERS_WORDS: Final[Mapping[str, str]] = MappingProxyType(
    {
        "plow": "moldboard plow",
        "plough": "moldboard plow",
        "mouldboard plough": "moldboard plow",
        "ripper": "subsoiler",
        "coulter-chisel plow": "chisel plow (incl. coulter-chisel)",
        "heavy disk": "heavy-duty disk",
        "disk": "tandem disk harrow",
        "tandem disk": "tandem disk harrow",
        "disk harrow": "tandem disk harrow",
        "harrow": "spring-tooth harrow",
        "roller harrow": "mulcher-packer (roller-harrow)",
        "mulcher-packer": "mulcher-packer (roller-harrow)",
        "packer": "roller-packer",
        "row cultivator": "row-crop cultivator",
        "tiller": "rotary tiller",
        "planter": "row-crop planter",
        "row planter": "row-crop planter",
        "corn planter": "row-crop planter",
        "no-till planter": "row-crop planter",
        "drill": "grain drill",
        "no-till drill": "grain drill",
        "air seeder": "air seeder measured on many plots (large-scale research)",
        "combine": "combine, self-propelled",
        "pull-type combine": "combine, pull-type",
        "corn picker": "corn picker-sheller",
        "sprayer": "boom-type sprayer",
        "boom sprayer": "boom-type sprayer",
        "spreader": "fertilizer spreader",
        "dry spreader": "fertilizer spreader, dry",
        "ammonia applicator": "anhydrous ammonia applicator",
        "anhydrous applicator": "anhydrous ammonia applicator",
        "stalk chopper": "stalk chopper (listed with beet topper)",
    }
)


@dataclass(frozen=True, slots=True, kw_only=True)
class PublishedEfficiency:
    """Field efficiency and working speed of one machine as a publication gives them; None where it gives none."""

    machine: str  # name in the table
    work: str  # class of work, such as "planting"
    low: float | None  # least field efficiency [-]
    high: float | None  # greatest field efficiency [-]
    typical: float | None  # typical field efficiency [-]
    speed_low_m_s: float | None
    speed_high_m_s: float | None
    speed_typical_m_s: float | None
    source: str  # body, number, title, table
    status: Status
    note: str  # doubts and conditions, or ""

    @property
    def is_recalled(self) -> bool:
        """Whether the figures are recalled from memory, and were not read in the source."""
        return self.status == "memory"

    @property
    def citation(self) -> str:
        """Source, with a warning when the figures were not read there."""
        return f"{self.source}; recalled from memory, not read" if self.is_recalled else self.source

    def describe(self) -> str:
        """Return range, typical value and source in one line for a person.

        Examples
        --------
        >>> published_efficiency("subsoiler").describe()[:37]
        'subsoiler: typically 85 % (Estimating'
        """
        figures = []
        if self.low is not None and self.high is not None:
            figures.append(f"{100 * self.low:g} to {100 * self.high:g} %")
        if self.typical is not None:
            figures.append(f"typically {100 * self.typical:g} %")
        return f"{self.machine}: {', '.join(figures)} ({self.citation})"


def published_efficiency(kind: str) -> PublishedEfficiency | None:
    """Return what is published about the field efficiency and speed of a kind of machine.

    Parameters
    ----------
    kind : str
        Machine of the table, or a grower's word for one, such as ``"planter"``; case, spaces and hyphens do not matter.

    Returns
    -------
    PublishedEfficiency or None
        The published figures, or None when `kind` is empty.

    Raises
    ------
    InputError
        If no machine of the table goes by that name.

    Notes
    -----
    Speeds come from the table's miles an hour. Its kilometres an hour are rounded for metric use, and for combines
    their upper limit is doubtful.

    Examples
    --------
    >>> planter = published_efficiency("no-till planter")
    >>> planter.machine, planter.low, planter.high, planter.typical, planter.status
    ('row-crop planter', 0.5, 0.75, 0.65, 'memory')
    """
    if not kind.strip():
        return None
    found = _by_word().get(_plain(kind))
    if found is None:
        raise InputError(
            f"kind: got {kind!r}. It must be a machine of the published table or a grower's word for one: "
            f"{', '.join(_near(kind))}."
        )
    return found


def kinds() -> tuple[str, ...]:
    """Return every name that `published_efficiency` knows: machines of the table, then the words of a grower."""
    return (*_table(), *GROWERS_WORDS)


def _plain(kind: str) -> str:
    return re.sub(r"[\s-]+", " ", kind).strip().casefold()


def _near(kind: str) -> list[str]:
    # A name that holds the word ("cultivator") is a better guess than one that is spelled alike.
    plain = _plain(kind)
    by_plain = {_plain(known): known for known in kinds()}
    holding = [known for name, known in by_plain.items() if plain in name]
    alike = [by_plain[name] for name in get_close_matches(plain, by_plain, n=4, cutoff=0.6)]
    return list(dict.fromkeys([*holding, *alike])) or list(GROWERS_WORDS)


@cache
def _by_word() -> dict[str, PublishedEfficiency]:
    table = _table()
    words = {_plain(word): table[machine] for word, machine in GROWERS_WORDS.items()}
    return words | {_plain(machine): row for machine, row in table.items()}


@cache
def _table() -> dict[str, PublishedEfficiency]:
    text = resources.files(__package__).joinpath("field_efficiency.csv").read_text(encoding="utf-8")
    return {row["machine"]: _row(row) for row in csv.DictReader(text.splitlines())}


def _row(row: Mapping[str, str]) -> PublishedEfficiency:
    def share(column: str) -> float | None:
        return float(row[column]) / 100 if row[column] else None

    def speed(column: str) -> float | None:
        return float(row[column]) * MPH_M_S if row[column] else None

    return PublishedEfficiency(
        machine=row["machine"],
        work=row["operation_class"],
        low=share("fe_low_pct"),
        high=share("fe_high_pct"),
        typical=share("fe_typ_pct"),
        speed_low_m_s=speed("speed_low_mph"),
        speed_high_m_s=speed("speed_high_mph"),
        speed_typical_m_s=speed("speed_typ_mph"),
        source=row["source"],
        status=cast("Status", row["status"]),
        note=row["note"],
    )
