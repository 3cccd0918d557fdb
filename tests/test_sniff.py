"""Sources are told by their content, whatever they are called."""

from pathlib import Path

import pytest

from fieldgeo.errors import FileError, OutlineError
from fieldgeo.outline.sniff import FORM_NAMES, KIND_OF, sniff

RING = "-93 42, -93 42.01, -93.01 42.01, -93 42"
TEXTS = {
    "geojson": '\ufeff  {"type": "Polygon", "coordinates": []}',
    "kml": '<?xml version="1.0"?>\n<!-- drawn -->\n<kml xmlns="http://www.opengis.net/kml/2.2"></kml>',
    "gpx": '<?xml version="1.0"?><gpx version="1.1" creator="x"></gpx>',
    "wkt": f"POLYGON(({RING}))",
    "nmea": "$GNGGA,130000.00,4200.0000,N,09300.0000,W,1,8,1.0,300.0,M,-30.0,M,,*5C\r\n",
    "csv": "time;Latitude;Longitude\n2026-04-01T13:00:00Z;42,0;-93,0\n",
    "calls": "Beginning at a stone; thence N 45 E 10 poles to an oak",
    "corners": "part: W1/2 NW1/4\nNE: -93.0, 42.0\nNW: -93.02, 42.0\n",
}
HEADS = {
    "geopackage": b"SQLite format 3\0" + b"\0" * 100,
    "shapefile": b"\x00\x00\x27\x0a" + b"\0" * 96,
    "zip": b"PK\x03\x04" + b"\0" * 30,
    "flatgeobuf": b"fgb\x03fgb\x01",
    "geoparquet": b"PAR1" + b"\0" * 20,
}


def test_every_form_has_a_name_and_a_kind() -> None:
    assert set(FORM_NAMES) == set(KIND_OF) == set(TEXTS) | set(HEADS)


@pytest.mark.parametrize("suffix", [".txt", ".geojson", ".shp", ""])
@pytest.mark.parametrize("form", [*TEXTS, *HEADS])
def test_content_tells_and_the_name_does_not(tmp_path: Path, form: str, suffix: str) -> None:
    path = tmp_path / f"source{suffix}"
    path.write_bytes(HEADS[form] if form in HEADS else TEXTS[form].encode())
    assert sniff(path).form == form
    assert sniff(path).kind == KIND_OF[form]


@pytest.mark.parametrize(
    ("text", "form"),
    [
        (f'id,wkt\n1,"POLYGON(({RING}))"\n', "wkt"),
        (f'SRID=4326;POLYGON(({RING}))', "wkt"),
        ("# made by hand\nlat,lon\n42,-93\n", "csv"),
        ("lat\tlng\n42\t-93\n", "csv"),
        ("2026-04-01 13:00:00 $GPRMC,130000,A,4200.0,N,09300.0,W,1.0,0.0,010426,,*1A\n", "nmea"),
        ("North 330 feet\nEast 330 feet\n", "calls"),
        ("N45E 10 ch\nS45E 10 ch\n", "calls"),
        ("name: Home\ncorner 1: -93.1, 42.0\nN 45 E 10 ch\n", "calls"),
        ("section: 12\nNE: -93.0 42.0\n", "corners"),
    ],
)  # fmt: skip
def test_texts_of_each_kind(tmp_path: Path, text: str, form: str) -> None:
    path = tmp_path / "source.txt"
    path.write_text(text, encoding="utf-8")
    assert sniff(path).form == form


def test_asked_for_as_a_kind(tmp_path: Path) -> None:
    path = tmp_path / "source.txt"
    path.write_text("ten rods up the creek", encoding="utf-8")
    assert sniff(path, kind="deed").form == "calls"
    assert sniff(path, kind="section").form == "corners"
    assert sniff(path, kind="walk").form == "csv"
    path.write_text(TEXTS["geojson"], encoding="utf-8")
    with pytest.raises(OutlineError, match="cannot be read as a walk: by its content it is GeoJSON"):
        sniff(path, kind="walk")


@pytest.mark.parametrize(
    ("name", "content", "fault"),
    [
        ("empty.gpx", b" \r\n", "it is empty"),
        ("noise", bytes(range(1, 256)) * 9, "of no kind that is known"),
        ("page.html", b"<html><body>N 45 E</body></html>", "it is XML, but neither GPX nor KML"),
        ("notes.txt", "N 45 E 10 ch".encode("utf-16"), "save it as UTF-8"),
        ("parcels.dbf", b"\x03\x7a\x01\x01", "it is the table of a shapefile"),
        ("parcels.shx", b"\x00\x00\x27\x0a" + b"\0" * 96, "it is the index of a shapefile"),
        ("words.txt", b"the quick brown fox", "of no kind that is known"),
    ],
)  # fmt: skip
def test_what_is_no_source_is_refused(tmp_path: Path, name: str, content: bytes, fault: str) -> None:
    path = tmp_path / name
    path.write_bytes(content)
    with pytest.raises(OutlineError) as refused:
        sniff(path)
    assert fault in refused.value.problems[0]


def test_missing_files_and_folders(tmp_path: Path) -> None:
    with pytest.raises(FileError, match="there is no such file"):
        sniff(tmp_path / "nothing.gpx")
    with pytest.raises(FileError, match="is not a plain file"):
        sniff(tmp_path)
    with pytest.raises(FileError):
        sniff("a\0b")
