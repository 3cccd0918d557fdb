"""Tables of positions: columns by their names, delimiters, decimal commas, times."""

import io
from contextlib import suppress
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from walks import HERE, as_walk, evidence_of, ground_of

from fieldgeo.errors import FieldgeoError, OutlineError
from fieldgeo.outline.rules import WalkRules
from fieldgeo.outline.walk.fixes import Fixes, Tally
from fieldgeo.outline.walk.read import read_walk
from fieldgeo.outline.walk.table import table_batches


def read(text: str) -> tuple[Fixes, Tally]:
    tally = Tally()
    batches = list(table_batches(io.BytesIO(text.encode("utf-8-sig")), tally, lambda: None, source="a.csv"))
    assert len(batches) == 1
    return batches[0], tally


@pytest.mark.parametrize(
    "header",
    [
        "lat,lon",
        "Latitude,Longitude",
        "LAT (deg),LNG [deg]",
        "y,x",
        "latitude_deg,longitude_deg",
        '"lat","long"',
        "lat,lon,y",
    ],
)
def test_columns_are_found_by_name(header: str) -> None:
    fixes, _ = read(f"{header}\n42.1,-93.5\n")
    assert (fixes.lat_deg.tolist(), fixes.lon_deg.tolist()) == ([42.1], [-93.5])


def test_columns_may_stand_in_any_order_with_others_between() -> None:
    fixes, _ = read("note,lon,hdop,lat,fix\nhere,-93.5,1.5,42.1,rtk fixed\n")
    assert (fixes.lat_deg[0], fixes.lon_deg[0], fixes.hdop[0], fixes.quality[0]) == (42.1, -93.5, 1.5, 4)


@pytest.mark.parametrize(
    "text", ["lat;lon\n42,1;-93,5\n", "lat\tlon\n42,1\t-93,5\n", "lat;lon\r\n42.1;-93.5\r\n", "lat;lon\r42.1;-93.5"]
)
def test_delimiters_and_decimal_commas(text: str) -> None:
    fixes, _ = read(text)
    assert (fixes.lat_deg.tolist(), fixes.lon_deg.tolist()) == ([42.1], [-93.5])


@pytest.mark.parametrize(
    ("header", "message"),
    [
        ("a,b,c", "columns found: 'a', 'b', 'c'"),
        ("lat,height", "columns found: 'lat', 'height'"),
        ("lat,latitude,lon", "latitude could be 'lat' or 'latitude'"),
        ("lat,lon,time,timestamp", "time could be 'time' or 'timestamp'"),
        ("", "columns found: ''|columns found: none"),
        ("42.1,-93.5", "columns found: '42.1', '-93.5'"),
    ],
)
def test_missing_and_doubtful_columns_are_refused_with_their_names(header: str, message: str) -> None:
    with pytest.raises(OutlineError, match=message):
        read(header + "\n42.1,-93.5,0,0\n")


@pytest.mark.parametrize(
    ("header", "cells"),
    [
        ("time", ["10", "12.5"]),
        ("timestamp", ["2026-05-01T12:00:00Z", "2026-05-01T12:00:02.5Z"]),
        ("utc", ["1777636800000", "1777636802500"]),  # milliseconds: as seconds it would be the year 58301
        ("time", ["12:00:00", "12:00:02.5"]),
        ("time", ["23:59:58", "00:00:00.5"]),
        ("date,time", ["2026-05-31,23:59:58", "2026-06-01,00:00:00.5"]),
    ],
)
def test_times_in_all_forms_are_2_5_s_apart(header: str, cells: list[str]) -> None:
    fixes, tally = read(f"lat,lon,{header}\n42.1,-93.5,{cells[0]}\n42.1,-93.5,{cells[1]}\n")
    assert np.diff(fixes.time_s) == pytest.approx([2.5])
    assert tally.bad_times == 0


def test_segments_and_tracks_begin_where_their_columns_change() -> None:
    rows = ["a,1", "a,1", "a,2", "b,2", "b,2"]
    fixes, tally = read("lat,lon,track,segment\n" + "".join(f"42.1,-93.5,{row}\n" for row in rows))
    assert fixes.segment.tolist() == [0, 0, 1, 2, 2]
    assert fixes.track.tolist() == [0, 0, 0, 1, 1]
    assert tally.track_names == ["a", "b"]


def test_rows_that_cannot_be_read_are_counted_and_shown() -> None:
    fixes, tally = read("lat,lon,fix\n42.1,-93.5,1\nnorth,-93.5,1\n42.1,-93.5,excellent\n1_0,-93.5,1\n\n,,\n42.1\n")
    assert tally.unreadable == 3
    assert tally.first_unreadable == "line 3: north,-93.5,1"
    assert fixes.quality.tolist() == [1, 0]  # the short row has no longitude: void


def test_corners_alone_make_a_field_derived(tmp_path: Path) -> None:
    """Derived: four corners, 400 m x 300 m, no times: long sides are no spikes. 12 ha."""
    lon, lat = HERE.to_lonlat([0, 400, 400, 0], [0, 0, 300, 300])
    path = tmp_path / "corners.csv"
    path.write_text(
        "lat;lon\n" + "".join(f"{b:.9f};{a:.9f}\n" for a, b in zip(lon, lat, strict=True)), encoding="utf-8"
    )
    reading = as_walk(path)
    assert ground_of(reading).area == pytest.approx(120_000, rel=1e-6)
    _, report, _ = evidence_of(reading)
    assert report.duration_s is None
    assert report.closure_m == pytest.approx(300, abs=0.01)


cells = st.sampled_from(
    ["", "42.1", "-93.5", "42,1", "nan", "inf", "1e400", "9" * 400, '"', "12:00:00", "2026-05-01", "4"]
) | st.text(max_size=5)


@given(st.lists(st.lists(cells, max_size=6).map(",".join), max_size=10), st.sampled_from([",", ";", "\t"]))
def test_whatever_the_table_holds_only_own_errors_come_out(
    tmp_path_factory: pytest.TempPathFactory, rows: list[str], delimiter: str
) -> None:
    path = tmp_path_factory.getbasetemp() / "fuzz.csv"
    text = "\n".join([delimiter.join(["lat", "lon", "time", "fix", "hdop", "segment"]), *rows])
    path.write_bytes(text.encode("utf-8", "surrogatepass"))
    with suppress(FieldgeoError):
        read_walk(path, "csv", WalkRules())


@given(st.binary(max_size=300))
def test_whatever_bytes_come_only_own_errors_come_out(tmp_path_factory: pytest.TempPathFactory, content: bytes) -> None:
    path = tmp_path_factory.getbasetemp() / "fuzz.csv"
    path.write_bytes(content)
    with pytest.raises(FieldgeoError):
        read_walk(path, "csv", WalkRules())
