"""Files that end too early or do harm: found from their own headers before any library opens them.

Header fields: SQLite file format (page size at offset 16, page count at 28); shapefile specification of 1998 (length in
16-bit words at offset 24); dBASE table (records at 4, header and record length at 8 and 10); Parquet format ("PAR1" at
both ends).
"""

from __future__ import annotations

import struct
from pathlib import Path
from typing import TYPE_CHECKING

from fieldgeo.errors import FileError

if TYPE_CHECKING:
    from fieldgeo.outline.files.kinds import FileKind


def damage(path: Path, kind: FileKind) -> str:
    """Return what is wrong with a file as a whole, or "" if nothing is seen.

    Parameters
    ----------
    path : Path
        The file.
    kind : str
        Its format.

    Raises
    ------
    FileError
        If it cannot be read.
    """
    checks = {"geopackage": _database, "shapefile": _shapefile, "geoparquet": _parquet, "kml": _xml}
    try:
        return checks[kind](path) if kind in checks else ""
    except OSError as error:
        raise FileError(f"{path} cannot be read: {error}. Check that it may be opened.") from error


def _head(path: Path, length: int = 100) -> bytes:
    with path.open("rb") as file:
        return file.read(length).ljust(length, b"\0")


def _ends_early(what: str, path: Path, stated: int) -> str:
    size = path.stat().st_size
    return f"{what} ends early: it has {size:,} bytes and says it has {stated:,}" if size < stated else ""


def _database(path: Path) -> str:
    head = _head(path)
    page_bytes, pages = struct.unpack(">H", head[16:18])[0], struct.unpack(">I", head[28:32])[0]
    # The count is only right where the change counter stands beside it too (offsets 24 and 92).
    if head[24:28] != head[92:96]:
        return ""
    return _ends_early("it", path, pages * (65_536 if page_bytes == 1 else page_bytes))


def _shapefile(path: Path) -> str:
    for end in (".shp", ".shx"):
        for file in (path if end == ".shp" else path.with_suffix(end), path.with_suffix(end.upper())):
            if file.is_file() and (
                fault := _ends_early(file.suffix, file, 2 * struct.unpack(">i", _head(file)[24:28])[0])
            ):
                return fault
    for table in (path.with_suffix(".dbf"), path.with_suffix(".DBF")):
        if table.is_file():
            records, header, length = struct.unpack("<IHH", _head(table)[4:12])
            return _ends_early(".dbf", table, header + records * length)
    return ""


def _parquet(path: Path) -> str:
    with path.open("rb") as file:
        size = file.seek(0, 2)
        file.seek(max(size - 4, 0))
        return "" if size >= 12 and file.read(4) == b"PAR1" else "it ends early: the mark of its end is not there"


def _xml(path: Path) -> str:
    from xml.etree.ElementTree import ParseError

    from defusedxml import DefusedXmlException
    from defusedxml.ElementTree import iterparse

    try:
        for _, element in iterparse(path, forbid_dtd=False, forbid_entities=True, forbid_external=True):
            element.clear()
    except DefusedXmlException:
        return "it declares XML entities of its own, which can do harm; a plain KML file has none"
    except (ParseError, ValueError, LookupError, RecursionError) as error:
        return f"it is no well-formed XML: {error}"
    return ""
