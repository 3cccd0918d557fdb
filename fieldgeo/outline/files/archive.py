"""Zip files: looked over before anything is unpacked, and only what is needed is, into a folder that goes again.

Limits are our own. The list in the file is checked first: number of entries, sizes, ratio of compression, names that
lead out of the folder, archives within. It may lie, so what is unpacked is counted once more on the way.
"""

from __future__ import annotations

import lzma
import tempfile
import zipfile
import zlib
from contextlib import contextmanager
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING, Final, NamedTuple

from fieldgeo.errors import FileError, OutlineError
from fieldgeo.outline.files.geojson import plain_name
from fieldgeo.outline.files.kinds import OWN_OUTLINE, SUFFIXES, FileKind, largest_bytes

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fieldgeo.outline.files.layer import Given

MOST_ENTRIES: Final = 1_000
MOST_RATIO: Final = 200.0  # text compresses 5 to 20 times, sparse tables 100 times; a bomb 1000 times
_SMALL_BYTES: Final = 10_000_000  # below which no ratio matters
_AT_ONCE: Final = 1_000_000
_SIDES: Final = (".shx", ".dbf", ".prj", ".cpg")
_UNSURE: Final = frozenset({".csv", ".json", ".wkt"})
_MOST_TOLD: Final = 20


class Unpacked(NamedTuple):
    """A polygon file out of a zip file."""

    path: Path
    kind: FileKind  # by its suffix
    name: str  # in the zip file
    notes: tuple[str, ...]  # why it was chosen, where nobody chose it


@contextmanager
def unpacked(given: Given, layer: str | None) -> Iterator[Unpacked]:
    """Yield the polygon file of a zip file, unpacked into a folder that is taken away afterwards.

    Parameters
    ----------
    given : Given
        The zip file.
    layer : str, optional
        Which one, by its name without suffix, where there are several.

    Yields
    ------
    Unpacked
        The file, its format by its suffix, its name in the zip file, and what there is to tell of the choice.

    Raises
    ------
    FileError
        If the zip file cannot be opened or there is no room.
    OutlineError
        If it is damaged or breaks a limit, has no polygon file, or has several and none is chosen.
    """
    with tempfile.TemporaryDirectory(prefix="fieldgeo-") as folder:
        try:
            with zipfile.ZipFile(given.path) as archive:
                chosen = _unpack_chosen(archive, given, layer, Path(folder))
        except (zipfile.BadZipFile, zlib.error, lzma.LZMAError, EOFError, NotImplementedError, ValueError) as error:
            if isinstance(error, OutlineError):
                raise
            raise OutlineError(
                f"{given.name} cannot be used: this zip file is damaged or of a kind not known. Get it anew.",
                [plain_name(str(error)) or type(error).__name__],
            ) from error
        except (OSError, RuntimeError) as error:
            raise FileError(
                f"{given.name} cannot be read: {error}. Check its rights and the space on the disk."
            ) from error
        yield chosen


def _unpack_chosen(archive: zipfile.ZipFile, given: Given, layer: str | None, folder: Path) -> Unpacked:
    entries = [entry for entry in archive.infolist() if not entry.is_dir()]
    if faults := _faults(entries):
        raise OutlineError(f"{given.name} cannot be used: it is not safe to unpack. Unpack it by hand.", faults)
    entry, notes = _chosen(given, entries, layer)
    chosen = PurePosixPath(entry.filename)
    kind = SUFFIXES[chosen.suffix.lower()]
    target = folder / chosen.name.replace("\\", "_")
    for entry in entries:
        name = PurePosixPath(entry.filename)
        is_side = kind == "shapefile" and name.suffix.lower() in _SIDES
        is_of_it = str(name.with_suffix("")).lower() == str(chosen.with_suffix("")).lower()
        if name == chosen:
            _unpack(archive, entry, target, given)
        elif is_side and is_of_it:
            _unpack(archive, entry, target.with_suffix(name.suffix.lower()), given)
    return Unpacked(target, kind, plain_name(str(chosen)), notes)


def _faults(entries: list[zipfile.ZipInfo]) -> list[str]:
    faults = []
    if len(entries) > MOST_ENTRIES:
        faults.append(f"it has {len(entries):,} entries; {MOST_ENTRIES:,} are the most")
    total = sum(entry.file_size for entry in entries)
    if total > largest_bytes("zip"):
        faults.append(
            f"unpacked it would have {total / 1e6:,.0f} MB; {largest_bytes('zip') / 1e6:,.0f} MB are the most"
        )
    for entry in entries:
        ratio = entry.file_size / max(entry.compress_size, 1)
        name = PurePosixPath(entry.filename.replace("\\", "/"))
        if entry.file_size > _SMALL_BYTES and ratio > MOST_RATIO:
            faults.append(f"{plain_name(entry.filename)} grows {ratio:,.0f} times; {MOST_RATIO:g} times is the most")
        if name.is_absolute() or ".." in name.parts or ":" in entry.filename:
            faults.append(f"the name {plain_name(entry.filename)!r} leads out of its folder")
    return faults[:_MOST_TOLD]


def _chosen(given: Given, entries: list[zipfile.ZipInfo], layer: str | None) -> tuple[zipfile.ZipInfo, tuple[str, ...]]:
    found = [entry for entry in entries if _is_candidate(entry)]
    # A table or plain JSON beside them is more likely to be about the data than the data.
    sure = [entry for entry in found if PurePosixPath(entry.filename).suffix.lower() not in _UNSURE]
    found = sure or found
    named = [entry for entry in found if layer is not None and PurePosixPath(entry.filename).stem == layer]
    if len(named) == 1:
        return named[0], ()
    if len(found) == 1:
        return found[0], ()
    own = [entry for entry in found if PurePosixPath(entry.filename).stem == OWN_OUTLINE]
    if len(own) == 1 and layer is None:
        left = sorted(PurePosixPath(entry.filename).stem for entry in found if entry is not own[0])
        names = ", ".join(map(plain_name, left[:_MOST_TOLD]))
        return own[0], (f"layer {OWN_OUTLINE!r} was read; {len(left)} others left out ({names})",)
    listed = [plain_name(entry.filename) for entry in found or entries][:_MOST_TOLD]
    if found:
        stem = PurePosixPath(found[0].filename).stem
        raise OutlineError(
            f"{given.name}: it has several polygon files. Choose one with --layer, by its name without suffix, such as "
            f"--layer {plain_name(stem)!r}.",
            listed,
        )
    raise OutlineError(f"{given.name} cannot be used: there is no polygon file in it.", listed or ["it is empty"])


def _is_candidate(entry: zipfile.ZipInfo) -> bool:
    name = PurePosixPath(entry.filename)
    is_hidden = any(part.startswith((".", "__MACOSX")) for part in name.parts)
    return not is_hidden and SUFFIXES.get(name.suffix.lower(), "zip") != "zip"


def _unpack(archive: zipfile.ZipFile, entry: zipfile.ZipInfo, target: Path, given: Given) -> None:
    if entry.flag_bits & 0x1:
        raise OutlineError(f"{given.name} cannot be used: {plain_name(entry.filename)} is locked by a password.")
    left = entry.file_size
    with archive.open(entry) as packed, target.open("wb") as file:
        while chunk := packed.read(min(_AT_ONCE, left + 1)):
            left -= len(chunk)
            if left < 0:
                raise OutlineError(
                    f"{given.name} cannot be used: it is not safe to unpack. Unpack it by hand.",
                    [f"{plain_name(entry.filename)} is larger than it says"],
                )
            file.write(chunk)
