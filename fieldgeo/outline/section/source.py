"""The section file: plain text, one "key: value" to a line.

    # An invented section, for trying things out.
    name: home quarter
    section: Sec. 12, T83N R24W
    part: W1/2 NW1/4
    crs: EPSG:3418
    corners from: county survey office, measured in 2019
    accuracy: 0.5 ft
    NW: 4970312.1, 3487655.0
    NE: 4975601.7, 3487661.3
    SE: 4975588.9, 3482377.2
    SW: 4970310.4, 3482371.8

`section`, `part` and the four corners are what it needs, and `part` may be given beside the file instead. The quarter
corners `N`, `E`, `S` and `W` stand in the middle of the section lines where they are not given. Without `crs` corners
are longitude, latitude on WGS 84; with it east, north, in the unit of that system. `accuracy` is the standard error of
a corner along each axis, with its unit. Keys may be in any case and any order; what follows `#` is a comment.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from math import isfinite
from typing import TYPE_CHECKING, Final

from fieldgeo.errors import FileError, InputError, OutlineError
from fieldgeo.outline.files.geojson import plain_name
from fieldgeo.outline.section.subdivide import CORNERS
from fieldgeo.units import parse_length_m

if TYPE_CHECKING:
    from pathlib import Path

LARGEST_FILE_BYTES: Final = 100_000
MOST_FAULTS: Final = 20  # that are told of a file
_TEXT_KEYS: Final = ("name", "section", "part", "crs", "corners from", "accuracy")
_NUMBER: Final = r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?"
_PAIR: Final = re.compile(rf"({_NUMBER})\s*(?:[,;]\s*|\s)\s*({_NUMBER})")


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionFile:
    """A section file taken apart: nothing checked but that the values are of their kind."""

    texts: dict[str, str] = field(default_factory=dict)  # by key: name, section, part, crs, corners from
    corners: dict[str, tuple[float, float]] = field(default_factory=dict)  # by name: east and north in the file's CRS
    accuracy_m: float | None = None
    faults: tuple[str, ...] = ()


def load_section(path: Path) -> SectionFile:
    """Return what a section file says.

    Parameters
    ----------
    path : Path
        The file.

    Returns
    -------
    SectionFile
        With every fault of form in `faults`.

    Raises
    ------
    FileError
        If the file is missing, not a plain file, or cannot be read.
    OutlineError
        If it is larger than 100 kB or not text in UTF-8.
    """
    try:
        if not path.is_file():
            raise FileError(f"{path}: there is no such file, or it is not a plain one. Check the name and the folder.")
        with path.open("rb") as opened:
            content = opened.read(LARGEST_FILE_BYTES + 1)
    except (OSError, ValueError) as error:  # ValueError: a NUL byte in the path
        if isinstance(error, FileError):
            raise
        raise FileError(f"{str(path)!r} cannot be read: {error}. Check that it may be opened.") from error
    if len(content) > LARGEST_FILE_BYTES:
        raise OutlineError(f"{path} cannot be used: it is over {LARGEST_FILE_BYTES // 1000} kB, no section file.")
    try:
        return parse_section(content.decode("utf-8-sig"))
    except UnicodeDecodeError as error:
        raise OutlineError(
            f"{path} cannot be used: byte {error.start + 1} is not UTF-8. Save the text as UTF-8."
        ) from error


def parse_section(text: str) -> SectionFile:
    """Return what the text of a section file says.

    Parameters
    ----------
    text : str
        Lines of "key: value", as at the head of this module.

    Returns
    -------
    SectionFile
        With every fault of form in `faults`.
    """
    texts: dict[str, str] = {}
    corners: dict[str, tuple[float, float]] = {}
    faults = []
    for number, line in enumerate(text.splitlines(), start=1):
        entry = line.split("#", 1)[0].strip()
        if not entry:
            continue
        key, colon, value = (each.strip() for each in entry.partition(":"))
        name, corner = " ".join(key.lower().split()), key.upper()
        if not colon:
            faults.append(f"line {number}: {_shown(entry)} is no 'key: value'")
        elif name in texts or corner in corners:
            faults.append(f"line {number}: {_shown(key)} is given twice")
        elif name in _TEXT_KEYS:
            texts[name] = value
        elif corner in CORNERS:
            place = _pair(value)
            corners[corner] = place or (0.0, 0.0)
            if place is None:
                faults.append(f"line {number}: {corner} is {_shown(value)}; it must be two numbers, east and north")
        else:
            known = f"{', '.join(_TEXT_KEYS)}, or a corner: {', '.join(CORNERS)}"
            faults.append(f"line {number}: {_shown(key)} is no key of a section file; those are {known}")
    accuracy_m = _accuracy_m(texts.pop("accuracy", None), faults)
    more = len(faults) - MOST_FAULTS
    told = [*faults[:MOST_FAULTS], f"and {more} more faults"] if more > 0 else faults
    return SectionFile(
        texts={name: value for name, value in texts.items() if value},
        corners=corners,
        accuracy_m=accuracy_m,
        faults=tuple(told),
    )


def _pair(value: str) -> tuple[float, float] | None:
    match = _PAIR.fullmatch(value)
    if match is None:
        return None
    east, north = float(match[1]), float(match[2])
    return (east, north) if isfinite(east) and isfinite(north) else None


def _accuracy_m(value: str | None, faults: list[str]) -> float | None:
    if not value:
        return None
    try:
        accuracy_m = parse_length_m(value, what="accuracy")
    except InputError as error:
        faults.append(str(error))
        return None
    if accuracy_m < 0:
        faults.append(f"accuracy: got {_shown(value)}. It must be 0 or more")
        return None
    return accuracy_m


def _shown(text: str) -> str:
    shown = plain_name(text)
    return repr(shown if len(shown) <= 60 else f"{shown[:57]}...")
