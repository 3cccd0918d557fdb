"""What kind of source a file is, told by its content and never by its name alone."""

from __future__ import annotations

import os
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Final, Literal, TypeAlias

from fieldgeo.errors import FileError, OutlineError
from fieldgeo.outline.evidence import SourceKind

PathLike: TypeAlias = str | os.PathLike[str]
Form: TypeAlias = Literal[
    "geojson", "geopackage", "shapefile", "zip", "flatgeobuf", "kml", "geoparquet", "wkt",
    "gpx", "nmea", "csv", "calls", "corners",
]  # fmt: skip

_HEAD_BYTES: Final = 65_536
_MAGIC: Final[tuple[tuple[bytes, Form], ...]] = (
    (b"SQLite format 3\0", "geopackage"),
    (b"fgb\x03fgb", "flatgeobuf"),  # format README: the fourth byte is the major version
    (b"PAR1", "geoparquet"),
    (b"PK\x03\x04", "zip"),
    (b"PK\x05\x06", "zip"),  # an empty one
    (b"\x00\x00\x27\x0a", "shapefile"),  # file code 9994, the vendor specification of 1998
)
_SIDE_FILES: Final = {".shx": "the index", ".dbf": "the table", ".prj": "the coordinate system"}
FORM_NAMES: Final[dict[Form, str]] = {
    "geojson": "GeoJSON",
    "geopackage": "a GeoPackage",
    "shapefile": "a shapefile",
    "zip": "a zip file",
    "flatgeobuf": "FlatGeobuf",
    "kml": "KML",
    "geoparquet": "GeoParquet",
    "wkt": "well-known text",
    "gpx": "GPX",
    "nmea": "an NMEA 0183 log",
    "csv": "a table of positions",
    "calls": "the calls of a deed",
    "corners": "the corners of a section",
}
KIND_OF: Final[dict[Form, SourceKind]] = {
    **dict.fromkeys(FORM_NAMES, "file"),
    "gpx": "walk",
    "nmea": "walk",
    "csv": "walk",
    "calls": "deed",
    "corners": "section",
}
KNOWN: Final = (
    "Give GeoJSON, GeoPackage, a shapefile (also zipped), FlatGeobuf, KML, GeoParquet, well-known text, GPX, an NMEA "
    "0183 log, a table with latitude and longitude, the calls of a deed, or the corners of a section"
)
_LATITUDE: Final = re.compile(r"lat(itude)?(_?(deg|dd|wgs84))?", re.IGNORECASE)
_LONGITUDE: Final = re.compile(r"(lon|lng|long)(itude)?(_?(deg|dd|wgs84))?", re.IGNORECASE)
_WKT_COLUMN: Final = re.compile(r"wkt|geom|geometry|the_geom|wkt_geom|shape", re.IGNORECASE)
_WKT: Final = re.compile(
    r"\s*\"?(SRID\s*=\s*\d+\s*;)?\s*(MULTI)?(POINT|LINESTRING|POLYGON|SURFACE|CURVE)|\s*\"?GEOMETRYCOLLECTION",
    re.IGNORECASE,
)
_SENTENCE: Final = re.compile(r"^[^\n]{0,40}\$[A-Z]{5},", re.MULTILINE)
_SECTION_CORNER: Final = re.compile(
    r"^\s*(NE|NW|SE|SW|N|E|S|W)\s*:\s*[-+]?\d+(\.\d*)?\s*[,;\s]\s*[-+]?\d", re.IGNORECASE | re.MULTILINE
)
_SECTION_WORD: Final = re.compile(r"^\s*(section|part)\s*:", re.IGNORECASE | re.MULTILINE)
_BEARING: Final = re.compile(
    r"\bthence\b|\bbeginning\b|\b(N|S|north|south|due|azimuth|az\.?)\b[^\n]*\d|\b[NS]\s*\d", re.IGNORECASE
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """What a file turned out to be."""

    path: Path
    form: Form
    kind: SourceKind


def sniff(path: PathLike, *, kind: SourceKind | None = None) -> Source:
    """Return what kind of source a file is, from its first 64 kB.

    Parameters
    ----------
    path : str or path
        The file.
    kind : {"file", "walk", "deed", "section"}, optional
        What it must be read as. Text without anything that tells it is then believed to be that.

    Returns
    -------
    Source
        Form and kind.

    Raises
    ------
    FileError
        If the file is missing, is a folder, or cannot be opened.
    OutlineError
        If it is empty, of a form that is not known, or of another kind than asked for.

    Notes
    -----
    Marks of binary files: the format descriptions of SQLite, FlatGeobuf 3, Parquet, zip, and the shapefile
    specification of 1998. Names of columns and words of deeds: common practice, no source.
    """
    file = Path(path)
    form = _form(file, _head(file), kind)
    found = KIND_OF[form]
    if kind is not None and found != kind:
        raise OutlineError(
            f"{file} cannot be read as a {kind}: by its content it is {FORM_NAMES[form]}, which is read as a {found}."
        )
    return Source(path=file, form=form, kind=found)


def _head(file: Path) -> bytes:
    try:
        if not file.exists():
            raise FileError(f"{file}: there is no such file. Check the name and the folder.")
        if not file.is_file():
            raise FileError(f"{file} is not a plain file. Give one file with an outline in it.")
        with file.open("rb") as opened:
            return opened.read(_HEAD_BYTES)
    except (OSError, ValueError) as error:  # ValueError: a NUL byte in the path
        if isinstance(error, FileError):
            raise
        raise FileError(f"{str(file)!r} cannot be read: {error}. Check that it may be opened.") from error


def _form(file: Path, head: bytes, kind: SourceKind | None) -> Form:
    if not head.strip(b"\xef\xbb\xbf \t\r\n"):
        raise _unusable(file, "it is empty")
    suffix = file.suffix.lower()
    for magic, form in _MAGIC:
        if head.startswith(magic) and not (form == "shapefile" and suffix == ".shx"):
            return form
    if suffix in _SIDE_FILES:
        raise _unusable(file, f"it is {_SIDE_FILES[suffix]} of a shapefile; give the .shp file beside it")
    if head.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise _unusable(file, "it is text in UTF-16; save it as UTF-8")
    text = head.decode("utf-8-sig", errors="replace").lstrip()
    if text.startswith(("{", "[")):
        return "geojson"
    if text.startswith("<"):
        return _xml_form(file, text)
    if _SENTENCE.search(text):
        return "nmea"
    return _text_form(file, text, kind)


def _unusable(file: Path, fault: str) -> OutlineError:
    return OutlineError(f"{file} cannot be used. {KNOWN}.", [fault])


def _xml_form(file: Path, text: str) -> Form:
    root = re.search(r"<(?:\w+:)?(gpx|kml)[\s>/]", text, re.IGNORECASE)
    if root is None:
        raise _unusable(file, "it is XML, but neither GPX nor KML")
    return "gpx" if root[1].lower() == "gpx" else "kml"


def _text_form(file: Path, text: str, kind: SourceKind | None) -> Form:
    lines = (line.strip() for line in text.splitlines())
    header = next((line for line in lines if line and not line.startswith("#")), "")
    columns = [column.strip().strip("\"'") for column in re.split(r"[,;\t|]", header)]
    corners = {match[1].upper() for match in _SECTION_CORNER.finditer(text)}
    has_places = any(map(_LATITUDE.fullmatch, columns)) and any(map(_LONGITUDE.fullmatch, columns))
    tests: tuple[tuple[bool, Form], ...] = (
        (_WKT.match(text) is not None, "wkt"),
        (len(columns) > 1 and any(map(_WKT_COLUMN.fullmatch, columns)), "wkt"),
        (has_places, "csv"),
        (len(corners) > 1 or bool(corners and _SECTION_WORD.search(text)), "corners"),
        (kind == "section", "corners"),
        (kind == "walk", "csv"),
        (kind == "deed" or ("\0" not in text and _BEARING.search(text) is not None), "calls"),
        # Which it is not, but its reader says best where it goes wrong.
        (file.suffix.lower() in (".geojson", ".json"), "geojson"),
    )
    form = next((form for is_it, form in tests if is_it), None)
    if form is None:
        raise _unusable(file, "its content is of no kind that is known")
    return form
