"""The outlines of a farm: every field of several files and folders, each with a name of its own."""

from __future__ import annotations

from dataclasses import replace
from itertools import chain, count
from pathlib import Path
from typing import TYPE_CHECKING, Final

from fieldgeo.errors import FileError, OutlineError
from fieldgeo.outline.files.kinds import SUFFIXES
from fieldgeo.outline.read import PathLike, read_outlines
from fieldgeo.outline.sniff import sniff

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from fieldgeo.outline.field import Field
    from fieldgeo.outline.rules import FileRules

OUTLINE_SUFFIXES: Final = tuple(SUFFIXES)


def read_farm(paths: Sequence[PathLike], *, crs: str | None = None, rules: FileRules | None = None) -> list[Field]:
    """Return every field of files and folders, one for each feature; a name that comes again gets a number.

    Parameters
    ----------
    paths : sequence of str or path
        Sources of outlines, or folders of polygon files (`OUTLINE_SUFFIXES`); a table in a folder is read only where it
        has a column of shapes, and folders within a folder are not looked into.
    crs : str, optional
        Coordinate system of the files, as for `read_outline`.
    rules : FileRules, optional
        Which of their features are fields; all sources are then files of polygons.

    Raises
    ------
    FileError
        If a file is missing or cannot be read, or a folder holds no outline.
    OutlineError
        If any of the outlines has faults that cannot be mended without doubt.
    CrsError
        If the coordinate system is unknown or unfit.
    """
    fields: list[Field] = []
    given: set[str] = set()
    for file in _files(paths):
        for field in read_outlines(file, crs=crs, rules=rules):
            numbered = (f"{field.name} ({number})" for number in count(2))
            name = next(name for name in chain((field.name,), numbered) if name not in given)
            given.add(name)
            fields.append(field if name == field.name else replace(field, name=name))
    return fields


def _files(paths: Sequence[PathLike]) -> Iterator[Path]:
    for path in map(Path, paths):
        try:
            is_folder = path.is_dir()
            inside = sorted(path.iterdir()) if is_folder else []
        except (OSError, ValueError) as error:  # ValueError: a NUL byte in the path
            raise FileError(f"{str(path)!r} cannot be read: {error}. Check its name and rights.") from error
        outlines = [file for file in inside if _is_outline(file)]
        if is_folder and not outlines:
            raise FileError(f"{path}: this folder holds no outline ({', '.join(OUTLINE_SUFFIXES)}). Give another.")
        yield from outlines if is_folder else [path]


def _is_outline(file: Path) -> bool:
    suffix = file.suffix.lower()
    if suffix not in OUTLINE_SUFFIXES or not file.is_file():
        return False
    try:
        return suffix != ".csv" or sniff(file).form == "wkt"
    except OutlineError:
        return False
