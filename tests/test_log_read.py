"""Reading a log file: columns by name and unit, times and clocks, bad fixes, several fields, and what is refused."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fieldgeo import LogError, read_log
from fieldgeo.analysis.log.clock import set_clock
from fieldgeo.analysis.log.columns import QUANTITIES, find_columns
from fieldgeo.analysis.log.places import find_fields, without_jumps
from fieldgeo.analysis.log.record import Log
from fieldgeo.errors import FieldgeoError, FileError

STEP_DEG = 2.0 / 111_320  # about 2 m of latitude


def rows(count: int = 40, *, first_s: float = 0.0, lat: float = 42.0, lon: float = -93.0) -> list[list[object]]:
    """Return time, longitude and latitude of a straight drive north at 2 m/s."""
    return [[first_s + row, lon, round(lat + row * STEP_DEG, 9)] for row in range(count)]


def written(folder: Path, table: list[list[object]], head: str = "t_s,lon,lat", name: str = "day.csv") -> Path:
    file = folder / name
    file.write_text("\n".join([head, *(",".join(map(str, row)) for row in table)]) + "\n", encoding="utf-8")
    return file


def log_of(folder: Path, table: list[list[object]], head: str = "t_s,lon,lat", **options: object) -> Log:
    return read_log(written(folder, table, head), **({"width_m": 9.0} | options))  # type: ignore[arg-type]


# Columns


@pytest.mark.parametrize(
    ("name", "quantity", "scale"),
    [
        ("swath_in", "width", 0.0254),
        ("Width (ft)", "width", 0.3048),
        ("flow_lb_s", "flow", 0.45359237),
        ("Mass Flow [kg/s]", "flow", 1.0),
        ("moisture_pct", "moisture", 1.0),
        ("dist_in", "distance", 0.0254),
        ("cycle_s", "cycle", 1.0),
        ("elev_ft", "elevation", 0.3048),
        ("Speed(mph)", "speed", 1609.344 / 3600),
        ("speed_km_h", "speed", 1 / 3.6),
        ("Ground Speed m/s", "speed", 1.0),
        ("GPS time", "time", 1.0),
    ],
)
def test_columns_are_told_by_name_and_unit_derived(name: str, quantity: str, scale: float) -> None:
    # derived: SI of one unit, from the exact foot, inch, pound and mile
    columns, _ = find_columns(["lon", "lat", name], None, source="day.csv")
    assert columns[quantity].place == 2
    assert columns[quantity].scale == pytest.approx(scale, rel=1e-12)


def test_columns_of_other_names_are_mapped() -> None:
    names = ["Obj", "X1", "Y1", "Swth", "When"]
    asked = {"lon": "X1", "lat": "Y1", "width": "Swth:ft", "time": "When"}
    columns, _ = find_columns(names, asked, source="day.csv")
    assert {quantity: column.place for quantity, column in columns.items()} == {
        "lon": 1,
        "lat": 2,
        "width": 3,
        "time": 4,
    }
    assert columns["width"].scale == 0.3048


def test_a_column_without_a_unit_is_left_and_told() -> None:
    columns, notes = find_columns(["lon", "lat", "width"], None, source="day.csv")
    assert "width" not in columns
    assert "width=width:UNIT" in notes[0]


def test_faults_of_columns_are_all_told_at_once() -> None:
    with pytest.raises(LogError) as caught:
        find_columns(["a", "b"], {"lat": "c", "speed": "a", "colour": "b"}, source="day.csv")
    assert len(caught.value.problems) == 4
    for says in ("no such column", "unit of 'a' is not known", "'colour'", "columns found: 'a', 'b'"):
        assert says in str(caught.value)


def test_two_columns_that_could_be_meant_are_refused() -> None:
    with pytest.raises(LogError, match="width could be 'width_ft' or 'swath_in'"):
        find_columns(["lon", "lat", "width_ft", "swath_in"], None, source="day.csv")


# Tables


def test_a_table_with_semicolons_and_decimal_commas(tmp_path: Path) -> None:
    lines = ["time;lat;lon;width_m", *(f"{row},5;42,{1000 + row};-93,0;9,1" for row in range(30))]
    file = tmp_path / "day.csv"
    file.write_text("\n".join(lines), encoding="utf-8")
    log = read_log(file)
    assert len(log) == 30
    assert log.width_m == pytest.approx(9.1)


def test_rows_of_another_length_and_cells_that_are_no_number_are_counted(tmp_path: Path) -> None:
    table: list[list[object]] = [[*row, "2.0"] for row in rows()]
    table[5][3] = "fast"
    table.insert(7, ["7.5", "-93.0"])
    log = log_of(tmp_path, table, "t_s,lon,lat,speed_m_s")
    assert len(log) == 40
    assert any("1 cells hold no number" in note for note in log.notes)
    assert any("1 rows with more or fewer cells" in note for note in log.notes)


@pytest.mark.parametrize(("word", "down"), [("on", 1), ("OFF", 0), ("1", 1), ("0", 0), ("down", 1), ("raised", 0)])
def test_words_of_a_switch(tmp_path: Path, word: str, down: int) -> None:
    table = [[*row, word] for row in rows()]
    assert set(log_of(tmp_path, table, "t_s,lon,lat,working").columns["switch"].tolist()) == {down}


def test_latin_letters_do_no_harm(tmp_path: Path) -> None:
    file = tmp_path / "day.csv"
    head = b"t_s,lon,lat,width_m,F\xe4hrte\n"
    file.write_bytes(head + b"".join(b"%d,-93.0,%.7f,9,\xfcber\n" % (row, 42 + row * 2e-5) for row in range(20)))
    assert len(read_log(file)) == 20


def test_gpx_and_nmea_are_read(tmp_path: Path) -> None:
    points = "".join(
        f'<trkpt lat="{42 + row * STEP_DEG:.8f}" lon="-93.0"><time>2026-05-01T12:00:{row:02d}Z</time></trkpt>'
        for row in range(40)
    )
    gpx = tmp_path / "day.gpx"
    gpx.write_text(
        '<gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1" creator="x"><trk><trkseg>'
        f"{points}</trkseg></trk></gpx>",
        encoding="utf-8",
    )
    nmea = tmp_path / "day.nmea"
    lines = []
    for row in range(40):
        body = f"GPGGA,1200{row:02d}.00,42{60 * row * STEP_DEG:09.6f},N,09300.000000,W,4,12,0.7,300.0,M,,M,,"
        total = 0
        for letter in body.encode():
            total ^= letter
        lines.append(f"${body}*{total:02X}\r\n")
    nmea.write_text("".join(lines), encoding="ascii")
    for file in (gpx, nmea):
        log = read_log(file, width_m=9.0)
        assert len(log) == 40
        assert log.time_s[-1] == pytest.approx(39.0)
        assert np.ptp(log.xy[:, 1]) == pytest.approx(78.0, rel=0.01)
        with pytest.raises(LogError, match="no table"):
            read_log(file, columns={"width": "w:ft"})


# Times and clocks


def times(values: list[str]) -> list[list[object]]:
    return [[value, *row[1:]] for value, row in zip(values, rows(len(values)), strict=True)]


def test_iso_times_with_and_without_a_zone(tmp_path: Path) -> None:
    for form in (
        "2026-05-01T12:00:{:02d}Z",
        "2026-05-01 12:00:{:02d}",
        "2026-05-01T12:00:{:02d}-05:00",
        "12:00:{:02d}",
    ):
        log = log_of(tmp_path, times([form.format(second) for second in range(30)]), "time,lon,lat")
        assert log.time_s[-1] == 29.0


def test_two_zones_are_taken_to_utc_and_told_derived(tmp_path: Path) -> None:
    # 12:00:00-05:00 is 17:00:00Z: the second half goes on a second after the first ends
    first = [f"2026-05-01T17:00:{second:02d}Z" for second in range(20)]
    second = [f"2026-05-01T12:00:{second:02d}-05:00" for second in range(20, 40)]
    log = log_of(tmp_path, times(first + second), "time,lon,lat")
    assert np.diff(log.time_s).tolist() == [1.0] * 39
    assert any("2 time zones (+00:00, -05:00)" in note for note in log.notes)


def test_zones_on_some_times_only_are_refused(tmp_path: Path) -> None:
    mixed = [f"2026-05-01T12:00:{second:02d}" + ("Z" if second % 2 else "") for second in range(30)]
    with pytest.raises(LogError, match=r"two forms.*\n.*15 times name a zone"):
        log_of(tmp_path, times(mixed), "time,lon,lat")


def test_a_clock_that_goes_back_is_cut_and_told_derived(tmp_path: Path) -> None:
    # 20 s, then back an hour, 20 s more: 39 s in all at a second a record
    table = rows(20) + [[row[0] - 3600, *row[1:]] for row in rows(40)[20:]]  # type: ignore[operator]
    log = log_of(tmp_path, table)
    assert log.time_s[-1] == pytest.approx(39.0)
    assert log.is_cut.tolist() == [row == 20 for row in range(40)]
    assert any("went back 1 time, by up to 3,599 s" in note for note in log.notes)


def test_a_clock_set_to_another_zone_is_called_that() -> None:
    time = np.concatenate([np.arange(0.0, 50.0), np.arange(50.0, 100.0) - 3601.0])
    assert "change of time zone" in set_clock(time).notes[0]


def test_repeated_times_are_left_out_or_spread_derived() -> None:
    once = set_clock(np.array([0.0, 1, 2, 2, 3, 4, 5, 6, 7, 8, 9]))
    assert once.time_s.tolist() == list(range(10))
    assert "1 records with the time of the one before" in once.notes[0]
    # five a second with whole seconds: 0.2 s apart
    coarse = set_clock(np.repeat(np.arange(10.0), 5))
    assert np.diff(coarse.time_s) == pytest.approx([0.2] * 49)
    assert "spread" in coarse.notes[0]


def test_records_out_of_order_are_sorted() -> None:
    shuffled = np.random.default_rng(1).permutation(100).astype(float)
    clock = set_clock(shuffled)
    assert clock.time_s.tolist() == list(range(100))
    assert "out of order" in clock.notes[0]


@given(st.lists(st.one_of(st.floats(0, 1e6), st.just(float("nan"))), max_size=60))
def test_a_set_clock_never_runs_back(values: list[float]) -> None:
    clock = set_clock(np.array(values, dtype=float))
    assert np.isfinite(clock.time_s).all()
    assert (np.diff(clock.time_s) >= 0).all()
    assert len(clock.order) == len(clock.time_s) == len(clock.is_cut)


# Places


def test_bad_fixes_are_left_out_and_told(tmp_path: Path) -> None:
    table = rows(60)
    for row in (10, 30, 31, 32):
        table[row][2] = 42.01  # a kilometre off
    table[40][1] = table[40][2] = 0.0
    log = log_of(tmp_path, table)
    assert len(log) == 55
    assert any("4 bad fixes" in note for note in log.notes)
    assert any("1 records without a place" in note for note in log.notes)


def test_a_drive_to_another_field_is_no_bad_fix() -> None:
    # 100 s at 2 m/s, 100 s at 12 m/s, 100 s at 2 m/s: nothing is dropped
    x = np.cumsum(np.concatenate([np.full(300, 2.0), np.full(100, 12.0), np.full(300, 2.0)]))
    assert without_jumps(np.column_stack([x, np.zeros(700)]), np.arange(700.0)).all()


def two_fields() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return places and times of back and forth work on two fields, the second half as long, a mile of road between."""
    east, north = [], []
    for at_m, passes in ((0.0, 20), (1800.0, 10)):
        for number in range(passes):
            along = np.arange(0.0, 300.0, 2.0)
            north.append(along if number % 2 == 0 else along[::-1])
            east.append(np.full(len(along), at_m + 9.0 * number))
        if at_m == 0.0:
            road = np.arange(200.0, 1790.0, 12.0)
            east.append(road)
            north.append(np.full(len(road), -10.0))
    x, y = np.concatenate(east), np.concatenate(north)
    return -93 + x / (111_320 * np.cos(np.radians(42))), 42 + y / 111_320, np.arange(float(len(x)))


def test_several_fields_are_told_apart(tmp_path: Path) -> None:
    lon, lat, time = two_fields()
    found = find_fields(lon, lat, time)
    assert len(found) == 2
    assert found[0].time_s == pytest.approx(3000, rel=0.05)
    assert found[1].time_s == pytest.approx(1500, rel=0.05)
    table = [[t, f"{x:.8f}", f"{y:.8f}"] for t, x, y in zip(time, lon, lat, strict=True)]
    log = log_of(tmp_path, table)
    assert any("2 fields in the file" in note for note in log.notes)
    other = log_of(tmp_path, table, field_number=2)
    assert len(log) > 1.8 * len(other)
    with pytest.raises(LogError, match=r"field 3 was asked for. It must be from 1 to 2"):
        log_of(tmp_path, table, field_number=3)


# Refusals: one clear message each


@pytest.mark.parametrize(
    ("head", "table", "options", "says"),
    [
        ("t_s,lon,lat", rows(1), {}, "holds 1 record with time and place"),
        ("t_s,lon,lat", [], {}, "holds no records"),
        ("n,lon,lat", rows(), {}, "has no times"),
        ("t_s,lon,lat", rows(), {"width_m": None}, "does not say how wide the tool is"),
        ("t_s,lon,lat", rows(), {"width_m": 500.0}, "must be from 1 ft to 300 ft"),
        ("t_s,u,v", rows(), {}, "no column of lat and lon was found"),
        ("time,lon,lat", times(["soon"] * 30), {}, "such as 'soon'"),
        ("t_s,lon,lat", [[row, 0, 0] for row in range(40)], {}, "holds 0 records"),
    ],
)
def test_what_cannot_be_read_is_told(
    tmp_path: Path, head: str, table: list[list[object]], options: dict[str, object], says: str
) -> None:
    with pytest.raises(LogError) as caught:
        log_of(tmp_path, table, head, **options)
    assert says in str(caught.value)


def test_a_missing_or_empty_file_is_told(tmp_path: Path) -> None:
    with pytest.raises(FileError, match="no such file"):
        read_log(tmp_path / "none.csv")
    (tmp_path / "empty.csv").write_bytes(b"\xef\xbb\xbf \n")
    with pytest.raises(LogError, match="is empty"):
        read_log(tmp_path / "empty.csv")


def test_times_are_summed_from_cycles_and_told(tmp_path: Path) -> None:
    table = [[2, *row[1:]] for row in rows()]
    log = log_of(tmp_path, table, "cycle_s,lon,lat")
    assert log.time_s[-1] == 78.0
    assert any("no times" in note for note in log.notes)


CELLS = st.one_of(
    st.floats(-200, 200).map(str), st.sampled_from(["", "nan", "inf", '"', "1e400", "2026-05-01T00:00:00Z", "x", "-93"])
)


@given(st.lists(st.lists(CELLS, min_size=3, max_size=5), max_size=30), st.sampled_from(["t_s,lon,lat", "time;lat;lon"]))
def test_any_table_is_read_or_refused(
    tmp_path_factory: pytest.TempPathFactory, table: list[list[str]], head: str
) -> None:
    file = tmp_path_factory.mktemp("fuzz") / "day.csv"
    file.write_text("\n".join([head, *(",".join(row) for row in table)]), encoding="utf-8")
    try:
        log = read_log(file, width_m=9.0)
    except FieldgeoError:
        return
    assert np.isfinite(log.xy).all()
    assert (np.diff(log.time_s) >= 0).all()


@given(st.binary(max_size=400))
def test_any_bytes_are_read_or_refused(tmp_path_factory: pytest.TempPathFactory, content: bytes) -> None:
    file = tmp_path_factory.mktemp("fuzz") / "day.csv"
    file.write_bytes(content)
    with pytest.raises(FieldgeoError):
        read_log(file, width_m=9.0)


def test_quantities_are_those_of_the_help() -> None:
    from fieldgeo.cli import main

    option = next(each for each in main.commands["log"].params if each.name == "columns")
    told = getattr(option, "help", "").partition("Quantities: ")[2].rstrip(".").split(", ")
    assert set(told) == set(QUANTITIES) - {"quality"}
