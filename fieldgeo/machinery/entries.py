"""Entries of a file that a person wrote: each value read and checked, and every fault put down, not only the first."""

from __future__ import annotations

from dataclasses import dataclass
from difflib import get_close_matches
from typing import TYPE_CHECKING, Any, Final

from fieldgeo.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

TEXT_LIMIT: Final = 100  # characters in a name or a value; a longer one is a slip, and would spoil every message


@dataclass(frozen=True, slots=True, kw_only=True)
class Measure:
    """How a value with a unit is read, and the range beyond which it must be a slip: common practice, no source."""

    attribute: str  # name of the value in the object that is built
    parse: Callable[..., float]  # one of fieldgeo.units
    least: str
    most: str

    def read(self, text: str, *, what: str) -> float:
        """Return the value in the SI unit of `parse`.

        Raises
        ------
        InputError
            If the text is not a number with a unit of the right kind, or the value is out of range.
        """
        value = self.parse(text, what=what)
        if not self.parse(self.least) <= value <= self.parse(self.most):
            raise InputError(f"{what}: got {text!r}. It must be from {self.least} to {self.most}.")
        return value


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One entry of the file; what cannot be read comes back as None, and is put down in `faults`."""

    where: str  # for messages, such as "tool 3 ('planter')"
    values: Mapping[str, Any]
    faults: list[str]  # of the whole file

    def fault(self, key: str, text: str) -> None:
        """Put a fault down."""
        self.faults.append(f"{self.where}: {key}: {text}")

    def text(self, key: str) -> str | None:
        """Return a short printable text."""
        value = self.values.get(key)
        if value is None:
            self.fault(key, "missing. It must be given.")
        elif not isinstance(value, str) or not value.isprintable() or not 0 < len(value.strip()) <= TEXT_LIMIT:
            self.fault(key, f"got {shown(value)}. It must be text of 1 to {TEXT_LIMIT} printable characters in quotes.")
        else:
            return value.strip()
        return None

    def choice(self, key: str, choices: Sequence[str]) -> str | None:
        """Return one of several words."""
        value = self.text(key)
        if value is None or value in choices:
            return value
        self.fault(key, f"got {value!r}. It must be one of {', '.join(choices)}.")
        return None

    def whole(self, key: str, most: int) -> int | None:
        """Return a whole number from 1 up."""
        value = self.values[key]
        if isinstance(value, int) and not isinstance(value, bool) and 1 <= value <= most:
            return value
        self.fault(key, f"got {shown(value)}. It must be a whole number from 1 to {most}, without quotes.")
        return None

    def measure(self, key: str, measure: Measure) -> float | None:
        """Return a value with its unit, in SI."""
        value = self.values[key]
        # What is not text cannot carry a unit: the parser refuses it, and says what it wants.
        text = value if isinstance(value, str) and len(value) <= TEXT_LIMIT else shown(value)
        try:
            return measure.read(text, what=key)
        except InputError as error:
            self.faults.append(f"{self.where}: {error}")
            return None


def read_entries(content: Mapping[str, Any], section: str, keys: Sequence[str], faults: list[str]) -> list[Entry]:
    """Return the entries of one section of a file, such as every ``[[tool]]``.

    Parameters
    ----------
    content : mapping
        The whole file.
    section : str
        Name of the section.
    keys : sequence of str
        Keys that an entry may have.
    faults : list of str
        Where faults are put down.
    """
    raw = content.get(section, [])
    if not isinstance(raw, list):
        faults.append(f"{section}: got one table or value. Write [[{section}]], with two brackets, above each entry.")
        return []
    entries = []
    for number, values in enumerate(raw, start=1):
        where = f"{section} {number}"
        if not isinstance(values, dict):
            faults.append(f"{where}: got {shown(values)}. Write [[{section}]] above the keys of each entry.")
            continue
        if isinstance(values.get("name"), str):
            where += f" ({shown(values['name'])})"
        check_keys(values, keys, where, faults)
        entries.append(Entry(where=where, values=values, faults=faults))
    return entries


def check_keys(values: Mapping[str, Any], known: Sequence[str], where: str, faults: list[str]) -> None:
    """Put down every key that is not known, with the nearest that is."""
    for key in values:
        if key not in known:
            near = get_close_matches(key[:TEXT_LIMIT], known, n=1)
            hint = f"Did you mean {near[0]}?" if near else f"Known keys: {', '.join(known)}."
            faults.append(f"{where}: {shown(key)} is not a key of this program. {hint}")


def shown(value: object) -> str:
    """Return a value as it stands in a message: never longer than a line."""
    try:
        text = repr(value)
    except (ValueError, RecursionError):  # a whole number of thousands of digits, brackets without end
        return "a value too long to show"
    return text if len(text) <= TEXT_LIMIT else f"{text[: TEXT_LIMIT - 3]}..."
