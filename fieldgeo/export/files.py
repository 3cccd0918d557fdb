"""Files written whole or not at all, and never over an existing file unless that is asked for."""

from __future__ import annotations

import os
import tempfile
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, TypeAlias

from fieldgeo.errors import FileError, InputError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fieldgeo.outline.field import Field

PathLike: TypeAlias = str | os.PathLike[str]


def write_whole(path: PathLike, content: str | bytes, *, force: bool = False) -> None:
    """Write a file whole or not at all.

    Parameters
    ----------
    path : str or path
        The file; its folder must exist.
    content : str or bytes
        What to write; text is written as UTF-8 with the line ends it has.
    force : bool
        Whether an existing file may be replaced.

    Raises
    ------
    FileError
        If the file exists and `force` is not set, or it cannot be written. Nothing is left behind then, and an existing
        file is as it was.
    """
    data = content.encode("utf-8") if isinstance(content, str) else content
    with whole_file(path, force=force) as temporary:
        temporary.write_bytes(data)


@contextmanager
def whole_file(path: PathLike, *, force: bool = False) -> Iterator[Path]:
    """Give a temporary path for a library to write to, and put the file in its place once that went well.

    The temporary path has the name of the target, in a new folder beside it: libraries that choose a format by suffix,
    or lay side files next to their own, find what they expect. The folder is removed in every case.

    Parameters
    ----------
    path : str or path
        The file; its folder must exist.
    force : bool
        Whether an existing file may be replaced.

    Yields
    ------
    Path
        Where to write. There is no file there yet.

    Raises
    ------
    FileError
        If the file exists and `force` is not set, or it cannot be written. Nothing is left behind then, and an existing
        file is as it was.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     with whole_file(f"{folder}/passes.txt") as temporary:
    ...         _ = temporary.write_text("31 passes")
    ...     print(Path(folder, "passes.txt").read_text())
    31 passes
    """
    target = Path(path)
    check_target(target, force=force)
    try:
        with tempfile.TemporaryDirectory(prefix=".writing-", dir=target.parent) as folder:
            temporary = Path(folder, target.name)
            yield temporary
            _to_disk(temporary)
            check_target(target, force=force)  # it may have come to be in the meantime
            temporary.replace(target)
    except FileError:
        raise
    except OSError as error:
        raise FileError(
            f"{target} cannot be written: {error.strerror or error}. Check the folder and its space."
        ) from error


def check_target(path: PathLike, *, force: bool = False) -> None:
    """Check, before any work is done, that a file may be written at a path.

    Parameters
    ----------
    path : str or path
        The file; its folder must exist.
    force : bool
        Whether an existing file may be replaced.

    Raises
    ------
    FileError
        If the file exists and `force` is not set, it is no plain file, or the folder is not there or cannot be
        written in.
    """
    target = Path(path)
    if "\0" in str(target):
        raise FileError(f"{str(target)!r}: this name cannot be used. Give another.")
    try:
        is_there, is_plain = os.path.lexists(target), target.is_file()
    except OSError as error:
        raise FileError(f"{target!s:.200} cannot be written: {error.strerror or error}. Give another name.") from error
    if not target.parent.is_dir():
        raise FileError(f"{target} cannot be written: there is no folder {target.parent}. Make it first.")
    if not os.access(target.parent, os.W_OK):
        raise FileError(f"{target} cannot be written: no right to write in {target.parent}. Choose another folder.")
    # A device or a folder must not be replaced, whatever the user says.
    if is_there and not is_plain:
        raise FileError(f"{target} is not a plain file and is left alone. Give another name.")
    if is_there and not force:
        raise FileError(f"{target} exists and is left alone. Give another name, or --force to replace it.")


def check_placed(field: Field, path: PathLike) -> None:
    """Check that a field has a place on Earth, before longitudes and latitudes are written.

    Parameters
    ----------
    field : Field
        The field.
    path : str or path
        The file to be written, for the message.

    Raises
    ------
    InputError
        If only its shape is known.
    """
    if not field.is_placed:
        raise InputError(
            f"{path}: the place of {field.name!r} on Earth is not known, only its shape, so it cannot be written. "
            "Place it by one of its corners first (--corner N=LON,LAT)."
        )


def _to_disk(file: Path) -> None:
    # Without this a power cut could leave the new name with nothing in it.
    with file.open("rb") as handle:
        os.fsync(handle.fileno())
