"""NMEA 0183: published sentences, pairing, midnight, and whatever else stands in a log."""

import io
import json
from math import isnan
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from walks import HERE, SQUARE, as_walk, evidence_of, gga, sentence, walked

from fieldgeo.errors import FieldgeoError
from fieldgeo.outline.rules import WalkRules
from fieldgeo.outline.walk.fixes import Fixes, Tally
from fieldgeo.outline.walk.nmea import checksum, nmea_batches
from fieldgeo.outline.walk.read import read_walk

CHECKS = {check["id"]: check for check in json.loads((Path(__file__).parent / "data" / "walk_checks.json").read_text())}


def read(*lines: str | bytes) -> tuple[Fixes, Tally]:
    tally = Tally()
    content = b"\r\n".join(line.encode() if isinstance(line, str) else line for line in lines)
    batches = list(nmea_batches(io.BytesIO(content), tally, lambda: None))
    assert len(batches) <= 1
    return (batches[0] if batches else EMPTY), tally


EMPTY = Fixes(
    lon_deg=np.empty(0), lat_deg=np.empty(0), time_s=np.empty(0), quality=np.empty(0, np.int8), hdop=np.empty(0),
    track=np.empty(0, np.int64), segment=np.empty(0, np.int64),
)  # fmt: skip


@pytest.mark.parametrize("number", ["N01", "N04"])
def test_gga_sentences_published(number: str) -> None:
    """Published: N01 University of Hohenheim, exercise page on NMEA strings; N04 a receiver manual, no geoid."""
    check = CHECKS[number]
    text = check["inputs"]["sentence"]
    expected = check["expected"]
    assert f"{checksum(text[1:-3].encode()):02X}" == expected["checksum_computed"]
    fixes, tally = read(text)
    assert tally.bad_checksums == tally.unreadable == 0
    assert fixes.lat_deg[0] == pytest.approx(expected["lat"], abs=1e-7)
    assert fixes.lon_deg[0] == pytest.approx(expected["lon"], abs=1e-7)
    assert fixes.quality[0] == expected["fix_quality"]
    assert fixes.hdop[0] == expected["hdop"]


def test_rmc_sentence_published_n02() -> None:
    """Published: the common reference sentence of receiver manuals (N02), 23 March 1994, 12:35:19 UTC."""
    check = CHECKS["N02"]
    fixes, tally = read(check["inputs"]["sentence"])
    assert tally.bad_checksums == tally.unreadable == 0
    assert fixes.lat_deg[0] == pytest.approx(check["expected"]["lat"], abs=1e-7)
    assert fixes.lon_deg[0] == pytest.approx(check["expected"]["lon"], abs=1e-7)
    days, seconds = divmod(fixes.time_s[0], 86_400)
    assert np.datetime64("0000-12-31") + np.timedelta64(int(days), "D") == np.datetime64(check["expected"]["date"])
    assert seconds == 12 * 3600 + 35 * 60 + 19


def test_a_false_checksum_is_dropped_and_counted_published_n05() -> None:
    """Published: a public code note whose writer added spaces (N05): the checksum fails."""
    text = CHECKS["N05"]["inputs"]["sentence"]
    assert f"{checksum(text[1:-3].encode()):02X}" == CHECKS["N05"]["expected"]["checksum_computed"]
    fixes, tally = read(text)
    assert len(fixes) == 0
    assert tally.bad_checksums == 1


def test_a_good_checksum_without_a_position_is_void_derived_n07() -> None:
    """Derived (N07): every field empty, quality 0."""
    fixes, tally = read(CHECKS["N07"]["inputs"]["sentence"])
    assert tally.bad_checksums == 0
    assert fixes.quality.tolist() == [0]
    assert isnan(fixes.lat_deg[0])


def test_minutes_are_no_decimal_degrees_derived() -> None:
    """Derived: 4230.0000 is 42 degrees and 30 minutes, 42.5; south and west are negative."""
    fixes, _ = read(sentence("GPGGA,120000,4230.0000,S,09315.0000,W,1,8,1.0,,M,,M,,"))
    assert (fixes.lat_deg[0], fixes.lon_deg[0]) == (-42.5, -93.25)


@pytest.mark.parametrize(
    "body",
    [
        "GPGGA,120000,4260.0000,N,09315.0000,W,1,8,1.0,,M,,M,,",  # 60 minutes
        "GPGGA,120000,423.0000,N,09315.0000,W,1,8,1.0,,M,,M,,",  # degrees cut off
        "GPGGA,120000,4230.0000,,09315.0000,W,1,8,1.0,,M,,M,,",  # neither north nor south
        "GPGGA,120000,4230.0000,N,,,1,8,1.0,,M,,M,,",  # half a position
        "GPGGA,120000,9130.0000,N,09315.0000,W,1,8,1.0,,M,,M,,",
        "GPGGA,120000,42nan,N,09315.0000,W,1,8,1.0,,M,,M,,",
        "GPGGA,120000",
        "GPRMC,120000,A,4230.0000,N,09315.0000,W,1,1,320526,,",  # 32 May
    ],
)
def test_sentences_that_break_the_rules_are_counted_and_shown(body: str) -> None:
    fixes, tally = read(sentence(body))
    assert len(fixes) == 0
    assert tally.unreadable == 1
    assert tally.first_unreadable == body[:80]


def test_gga_and_rmc_of_one_moment_are_one_position_whichever_comes_first() -> None:
    def rmc(tod: str, status: str = "A") -> str:
        return sentence(f"GNRMC,{tod},{status},4206.0000,N,09330.0000,W,2.0,90.0,010526,,,R")

    fixes, tally = read(
        gga("120000", 42.1, -93.5), rmc("120000"), rmc("120001"), gga("120001", 42.1, -93.5),
        gga("120002", 42.1, -93.5), gga("120003", 42.1, -93.5), rmc("120002"), rmc("120003", "V"),
    )  # fmt: skip
    assert tally.repeated == 0
    assert np.diff(fixes.time_s).tolist() == [1, 1, 1]
    assert fixes.quality.tolist() == [4, 4, 4, 0]  # GGA tells the quality, RMC that the last is void
    assert fixes.hdop.tolist() == [0.8] * 4


def test_only_rmc_takes_the_quality_from_its_mode() -> None:
    bodies = [f"GPRMC,12000{n},A,4206.0,N,09330.0,W,2.0,90.0,010526,,,{mode}" for n, mode in enumerate("ADRFEMSN")]
    fixes, _ = read(*map(sentence, bodies), sentence("GPRMC,120009,A,4206.0,N,09330.0,W,2.0,90.0,010526,003.1,W"))
    assert fixes.quality.tolist() == [1, 2, 4, 5, 6, 7, 8, 0, -1]


def test_a_second_talker_of_the_same_moment_is_counted_and_left_out() -> None:
    fixes, tally = read(gga("120000", 42.1, -93.5, talker="GP"), gga("120000", 42.1, -93.5, talker="GL", quality=1))
    assert fixes.quality.tolist() == [4]
    assert tally.repeated == 1


def test_a_clock_that_prints_whole_seconds_loses_no_position() -> None:
    fixes, tally = read(*[gga("120000", 42.1 + 1e-5 * n, -93.5) for n in range(10)])
    assert len(fixes) == 10
    assert tally.repeated == 0


@pytest.mark.parametrize("talker", ["GP", "GN", "GL", "GA", "GB", "GQ"])
def test_all_talkers_are_read(talker: str) -> None:
    assert len(read(gga("120000", 42.1, -93.5, talker=talker))[0]) == 1


@pytest.mark.parametrize("has_date", [True, False])
def test_time_runs_on_past_midnight_derived(has_date: bool) -> None:
    """Derived: 23:59:59 and 00:00:01 are 2 s apart, with the dates of RMC as without."""
    lines = [gga("235959", 42.1, -93.5), gga("000001", 42.1, -93.5)]
    if has_date:
        lines[1:1] = [sentence("GNRMC,235959,A,4206.0,N,09330.0,W,,,310526,,")]
        lines += [sentence("GNRMC,000001,A,4206.0,N,09330.0,W,,,010626,,")]
    assert np.diff(read(*lines)[0].time_s).tolist() == [2]


def test_what_loggers_put_round_a_sentence_does_not_matter() -> None:
    good = gga("120000", 42.1, -93.5).encode()
    later = gga("120001", 42.1, -93.5).encode()
    fixes, tally = read(
        b"2026-05-01 12:00:00.123 COM3 > " + good, b"\xff\xfe\x00 rubbish", b"", b"$GPGSV,3,1,11,03,03,111,00*00",
        b"$GNGGA,1200" + later, b"!AIVDM,1,1*7F", b"$" + b"A" * 5000, b"$",
    )  # fmt: skip
    assert len(fixes) == 2  # the second sentence ran into the first half of another
    assert tally.bad_checksums == 3  # GSV, the long line, the lone dollar


def test_checksums_in_small_letters_and_missing_ones() -> None:
    text = sentence("GPGGA,120000,4206.0,N,09330.0,W,1,8,1.0,,M,,M,,9")
    assert len(read(text[:-2] + text[-2:].lower())[0]) == 1
    fixes, tally = read(text[:-3])
    assert len(fixes) == 0
    assert tally.bad_checksums == 1


def test_another_datum_is_a_weak_point(tmp_path: Path) -> None:
    path = write_log(tmp_path / "a.nmea")
    path.write_text(sentence("GPDTM,999,,0.0,N,0.0,E,0.0,W84") + "\n" + path.read_text(), encoding="ascii")
    evidence, _, _ = evidence_of(as_walk(path))
    assert any("datum" in point for point in evidence.weak_points)


def write_log(path: Path) -> Path:
    lon, lat = HERE.to_lonlat(*walked(SQUARE).T)
    lines = [
        gga(f"12{t // 60:02d}{t % 60:02d}", b, a)
        for t, (a, b) in enumerate(zip(lon.tolist(), lat.tolist(), strict=True))
    ]
    path.write_text("\n".join(lines) + "\n", encoding="ascii")
    return path


def test_a_log_without_a_fix_is_refused_with_its_counts(tmp_path: Path) -> None:
    path = tmp_path / "a.nmea"
    path.write_text("\n".join([CHECKS["N07"]["inputs"]["sentence"]] * 5), encoding="ascii")
    with pytest.raises(FieldgeoError, match=r"none of its 5 positions can be used\n  - 5 of 5 dropped: void"):
        as_walk(path)


fields = st.lists(
    st.sampled_from(["", "GPGGA", "GNRMC", "120000", "4206.0000", "N", "09330.0000", "W", "1", "A", "010526", "9" * 30,
                     "-1", "nan", "1e9", ".", "٣"]) | st.text(max_size=6),
    max_size=18,
)  # fmt: skip


@given(st.lists(st.binary(max_size=80) | fields.map(lambda row: sentence(",".join(row)).encode("utf-8")), max_size=12))
def test_whatever_the_log_holds_only_own_errors_come_out(
    tmp_path_factory: pytest.TempPathFactory, lines: list[bytes]
) -> None:
    path = tmp_path_factory.getbasetemp() / "fuzz.nmea"
    path.write_bytes(b"\n".join(lines))
    with pytest.raises(FieldgeoError):  # so few points make no field
        read_walk(path, "nmea", WalkRules())


@given(st.data())
def test_a_damaged_log_is_read_or_refused(tmp_path_factory: pytest.TempPathFactory, data: st.DataObject) -> None:
    path = write_log(tmp_path_factory.getbasetemp() / "damaged.nmea")
    content = bytearray(path.read_bytes())
    for _ in range(data.draw(st.integers(1, 40))):
        content[data.draw(st.integers(0, len(content) - 1))] = data.draw(st.integers(0, 255))
    path.write_bytes(content)
    try:
        _, report, _ = evidence_of(read_walk(path, "nmea", WalkRules()))
    except FieldgeoError:
        return
    assert report.points_read + report.steps[0].dropped + report.steps[1].dropped >= 600
