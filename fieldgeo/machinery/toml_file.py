"""Files in TOML that a person writes: read within a limit, and every way to fail told in one message."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fieldgeo.errors import FileError

if TYPE_CHECKING:
    from fieldgeo.errors import FaultyInputError


def read_toml(
    path: str | Path, *, kind: str, holds: str, limit_bytes: int, error: type[FaultyInputError]
) -> dict[str, Any]:
    """Return what a file in TOML says.

    Parameters
    ----------
    path : str or Path
        The file.
    kind : str
        What it is, for messages: "shed".
    holds : str
        What a right one holds, for messages: "lists tools and tractors".
    limit_bytes : int
        Size beyond which it cannot be one, > 0.
    error : type
        What is raised where the content cannot be used.

    Raises
    ------
    FileError
        If there is no such file, it cannot be read, or it is larger than the limit.
    FaultyInputError
        As `error`, if it is not TOML in UTF-8.
    """
    text = _read_text(Path(path), kind=kind, holds=holds, limit_bytes=limit_bytes, error=error)
    try:
        return tomllib.loads(text)
    except (ValueError, RecursionError) as fault:  # RecursionError: brackets nested without end
        reason = "it is nested too deeply" if isinstance(fault, RecursionError) else str(fault)
        raise error(f"{kind} file {str(path)!r} is not TOML: {reason}. Correct that line and read it again.") from fault


def _read_text(path: Path, *, kind: str, holds: str, limit_bytes: int, error: type[FaultyInputError]) -> str:
    try:
        if not path.is_file():
            what = "this is not a plain file" if path.exists() else "there is no such file"
            raise FileError(f"{kind} file {str(path)!r}: {what}. Give the path of a {kind} in TOML.")
        with path.open("rb") as file:
            content = file.read(limit_bytes + 1)
    except FileError:
        raise
    except (OSError, ValueError) as fault:  # ValueError: a NUL byte in the path
        raise FileError(f"{kind} file {str(path)!r} cannot be read: {fault}. Check its name and rights.") from fault
    if len(content) > limit_bytes:
        raise FileError(
            f"{kind} file {str(path)!r}: larger than {limit_bytes:,} bytes, so it is no {kind}. Give the TOML file "
            f"that {holds}."
        )
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        raise error(f"{kind} file {str(path)!r}: byte {fault.start} is not UTF-8 text. Save the file as UTF-8.") from (
            fault
        )
