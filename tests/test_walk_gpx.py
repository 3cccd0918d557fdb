"""GPX: both versions, what is in a point, routes, and files that are broken or mean harm."""

import io
from contextlib import suppress
from math import isnan
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from walks import GPX_11, SQUARE, as_walk, evidence_of, ground_of, walked, write_gpx

from fieldgeo.errors import FieldgeoError, OutlineError
from fieldgeo.outline.rules import WalkRules
from fieldgeo.outline.walk.fixes import Fixes, Tally
from fieldgeo.outline.walk.gpx import gpx_batches, time_of_text
from fieldgeo.outline.walk.read import read_walk

GPX_10 = "http://www.topografix.com/GPX/1/0"


def read(body: str, *, namespace: str = f' xmlns="{GPX_11}"', version: str = "1.1") -> tuple[Fixes, Tally]:
    tally = Tally()
    text = f'<?xml version="1.0" encoding="UTF-8"?><gpx version="{version}" creator="test"{namespace}>{body}</gpx>'
    batches = list(gpx_batches(io.BytesIO(text.encode()), tally, lambda: None, source="a.gpx"))
    assert len(batches) == 1
    return batches[0], tally


def point(children: str = "", lat: str = "42.1", lon: str = "-93.5", tag: str = "trkpt") -> str:
    return f'<{tag} lat="{lat}" lon="{lon}">{children}</{tag}>'


@pytest.mark.parametrize(
    ("namespace", "version"), [(f' xmlns="{GPX_11}"', "1.1"), (f' xmlns="{GPX_10}"', "1.0"), ("", "1.1")]
)
def test_points_of_both_versions(namespace: str, version: str) -> None:
    inside = "<ele>300</ele><time>1970-01-02T00:00:01Z</time><fix>dgps</fix><sat>9</sat><hdop>1.5</hdop>"
    fixes, tally = read(f"<trk><trkseg>{point(inside)}</trkseg></trk>", namespace=namespace, version=version)
    assert (fixes.lat_deg[0], fixes.lon_deg[0], fixes.time_s[0], fixes.hdop[0]) == (42.1, -93.5, 86_401.0, 1.5)
    assert fixes.quality.tolist() == [2]
    assert tally.unreadable == 0


def test_a_prefix_makes_no_difference() -> None:
    body = '<g:trk><g:trkseg><g:trkpt lat="42.1" lon="-93.5"/></g:trkseg></g:trk>'
    text = f'<g:gpx xmlns:g="{GPX_11}" version="1.1">{body}</g:gpx>'
    (fixes,) = gpx_batches(io.BytesIO(text.encode()), Tally(), lambda: None, source="a.gpx")
    assert len(fixes) == 1


@pytest.mark.parametrize(
    ("word", "quality"), [("none", 0), ("2d", 1), ("3d", 1), ("dgps", 2), ("pps", 3), ("", -1), ("rtk float", 5)]
)
def test_words_of_fix(word: str, quality: int) -> None:
    assert read(f"<trk><trkseg>{point(f'<fix>{word}</fix>')}</trkseg></trk>")[0].quality.tolist() == [quality]


def test_a_point_without_children_has_nothing_but_its_place() -> None:
    fixes, _ = read(f"<trk><trkseg>{point()}</trkseg></trk>")
    assert isnan(fixes.time_s[0])
    assert isnan(fixes.hdop[0])
    assert fixes.quality.tolist() == [-1]


def test_what_extensions_hold_is_passed_over() -> None:
    inside = '<trkpt xmlns="urn:x" lat="1" lon="1"/><time xmlns="urn:x">1999-01-01T00:00:00Z</time>'
    other = f"<extensions>{inside}</extensions>"
    fixes, _ = read(f"<trk><trkseg>{point('<time>1970-01-01T00:00:05Z</time>' + other)}</trkseg></trk>")
    assert fixes.time_s.tolist() == [5]
    assert fixes.lat_deg.tolist() == [42.1]


def test_tracks_and_segments_are_counted_and_named() -> None:
    segment = f"<trkseg>{point()}</trkseg>"
    fixes, tally = read(f"<name>Home place</name><trk><name>edge</name>{segment}{segment}</trk><trk>{segment}</trk>")
    assert fixes.track.tolist() == [0, 0, 1]
    assert fixes.segment.tolist() == [0, 1, 2]
    assert (tally.name, tally.track_names) == ("Home place", ["edge", ""])


def test_a_route_is_read_where_there_is_no_track(tmp_path: Path) -> None:
    corners = [("42.1", "-93.5"), ("42.1", "-93.498"), ("42.102", "-93.498"), ("42.102", "-93.5")]
    body = "".join(point(lat=lat, lon=lon, tag="rtept") for lat, lon in corners)
    path = tmp_path / "route.gpx"
    path.write_text(f'<gpx version="1.1" xmlns="{GPX_11}"><rte>{body}</rte></gpx>', encoding="utf-8")
    evidence, report, _ = evidence_of(as_walk(path))
    assert report.points_kept == 4
    assert any("route" in told for told in evidence.weak_points)


@pytest.mark.parametrize(
    "text",
    ["2026-05-01T12:00:00Z", "2026-05-01T12:00:00+00:00", "2026-05-01T14:00:00+02:00", "2026-05-01T12:00:00.000"],
)
def test_times_with_and_without_a_zone_are_the_same_moment(text: str) -> None:
    assert time_of_text(text) == time_of_text("2026-05-01 12:00:00Z")


def test_unreadable_points_are_counted_and_shown() -> None:
    bad = point(lat="north") + point("<fix>good</fix>") + "<trkpt/>"
    fixes, tally = read(f"<trk><trkseg>{point()}{bad}</trkseg></trk>")
    assert len(fixes) == 1
    assert tally.unreadable == 3
    assert tally.first_unreadable == "point 2: lat north, lon -93.5, fix -"


def test_unreadable_times_are_counted() -> None:
    fixes, tally = read(f"<trk><trkseg>{point('<time>noon</time>')}</trkseg></trk>")
    assert len(fixes) == 1
    assert tally.bad_times == 1


BOMB = """<?xml version="1.0"?><!DOCTYPE gpx [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">
<!ENTITY c "&b;&b;&b;&b;&b;&b;&b;&b;">]><gpx version="1.1"><name>&c;</name></gpx>"""
OUTSIDE = '<!DOCTYPE gpx [<!ENTITY a SYSTEM "file:///etc/hostname">]><gpx><name>&a;</name></gpx>'


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (BOMB.encode(), "declares XML entities"),
        (OUTSIDE.encode(), "declares XML entities"),
        (b"", "no whole XML file"),
        (b"<gpx><trk><trkseg><trkpt lat='42' lon='-93'/>", "1 track points were read before it"),
        (b"<kml></kml>", "its first element is 'kml'"),
        (b"<gpx></gpx>", "there is no position in it"),
        (b"\x00\x01\x02", "no whole XML file"),
        (b'<?xml version="1.0" encoding="klingon"?><gpx/>', "cannot be used"),
        (b"<gpx>" + b"<a>" * 200 + b"</a>" * 200 + b"</gpx>", "more than 100 deep"),
        (b"<gpx>" + b"<trk></trk>" * 1001 + b"</gpx>", "more than 1000 tracks"),
    ],
)
def test_bad_files_are_refused_with_one_message(tmp_path: Path, content: bytes, message: str) -> None:
    path = tmp_path / "a.gpx"
    path.write_bytes(content)
    with pytest.raises(OutlineError, match=message) as caught:
        as_walk(path)
    assert str(path) in str(caught.value)


def test_a_comment_without_an_end_does_not_fill_the_memory(tmp_path: Path) -> None:
    path = tmp_path / "a.gpx"
    path.write_bytes(b"<gpx><!--" + b"x" * 6_000_000)
    with pytest.raises(OutlineError, match="one piece of it is longer than 4 MB"):
        as_walk(path)


def test_a_truncated_file_says_where(tmp_path: Path) -> None:
    path = write_gpx(tmp_path / "a.gpx", [[walked(SQUARE)]])
    path.write_bytes(path.read_bytes()[:-500])
    with pytest.raises(OutlineError, match=r"line \d+, column \d+: .*; 66\d track points were read"):
        as_walk(path)


def test_progress_runs_from_0_to_1(tmp_path: Path) -> None:
    path = write_gpx(tmp_path / "a.gpx", [[walked(SQUARE, 0.1)]])
    seen: list[float] = []
    reading = read_walk(path, "gpx", WalkRules(thin_m=0), progress=seen.append)
    assert len(seen) > 3
    assert np.all(np.diff(seen) >= 0)
    assert seen[-1] == 1
    assert ground_of(reading).area == pytest.approx(SQUARE.area, rel=1e-4)


tags = st.sampled_from(["gpx", "trk", "trkseg", "trkpt", "time", "fix", "hdop", "name", "wpt", "rte", "rtept", "type"])
pieces = st.one_of(
    tags.map(lambda tag: f"<{tag}>"),
    tags.map(lambda tag: f"</{tag}>"),
    st.builds(lambda lat, lon: f'<trkpt lat="{lat}" lon="{lon}"/>', st.floats(), st.floats()),
    st.text(max_size=8),
)


@given(st.lists(pieces, max_size=20), st.booleans())
def test_whatever_the_file_holds_only_own_errors_come_out(
    tmp_path_factory: pytest.TempPathFactory, parts: list[str], is_closed: bool
) -> None:
    path = tmp_path_factory.getbasetemp() / "fuzz.gpx"
    text = "<gpx><trk><trkseg>" + "".join(parts) + ("</trkseg></trk></gpx>" if is_closed else "")
    path.write_bytes(text.encode("utf-8", "surrogatepass"))
    with suppress(FieldgeoError):
        read_walk(path, "gpx", WalkRules())
