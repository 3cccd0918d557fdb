"""`read_deed`: whole files, closure rules, placement, what is told, and bad input."""

from pathlib import Path

import numpy as np
import pyproj
import pytest
import shapely
from deeds import CHECKS, FOOT_M
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldgeo.errors import FieldgeoError, FileError, OutlineError
from fieldgeo.frame import Frame, azimuth_deg
from fieldgeo.outline.clean import clean_outline
from fieldgeo.outline.deed.read import MOST_BYTES, read_deed, read_deed_text
from fieldgeo.outline.evidence import DeedReport
from fieldgeo.outline.raw import Reading
from fieldgeo.outline.rules import DeedRules

SAMPLES = Path(__file__).parents[1] / "sample_fields"
ACRE_M2 = 4046.8564224
SQUARE = "N 0 E 1320 ft\nN 90 E 1320 ft\nS 0 E 1320 ft\nS 90 W 1320 ft"
T01 = "N 26 10 E 285.1 ft\nS 75 25 E 610.45 ft\nS 15 30 W 720.48 ft\nN 1 42 W 203.0 ft\nN 53 06 W 647.02 ft"
T06 = "unit: poles\n" + "\n".join(f"{call['bearing']} {call['distance']}" for call in CHECKS["T06"]["inputs"]["calls"])
GEOD = pyproj.Geod(ellps="WGS84")


def report(reading: Reading) -> DeedReport:
    assert isinstance(reading.evidence.report, DeedReport)
    return reading.evidence.report


def ring(reading: Reading) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    (part,) = reading.parts
    (points,) = part.rings
    return points


def area_m2(reading: Reading) -> float:
    """Return the area of the cleaned outline, after asking the ellipsoid as well."""
    cleaned = clean_outline(reading.parts)
    assert cleaned.shape is not None, cleaned.faults
    lon, lat = ring(reading).T
    assert abs(GEOD.polygon_area_perimeter(lon, lat)[0]) == pytest.approx(cleaned.shape.area, rel=1e-7)
    return float(cleaned.shape.area)


# Derived: 1320 x 1320 ft are 40 acres.
@pytest.mark.parametrize("corners", [(), ((1, -93.5, 42.03),), ((3, 12.0, -33.0),)])
def test_a_forty_closes_exactly_derived(corners: tuple[tuple[int, float, float], ...]) -> None:
    reading = read_deed_text(SQUARE, DeedRules(corners=corners))
    found = report(reading)
    assert (found.misclosure_m, found.precision, found.misclosure_azimuth_deg) == (0.0, None, None)
    assert (found.is_adjusted, reading.changes) == (False, ())
    assert area_m2(reading) == pytest.approx(40 * ACRE_M2, rel=1e-9)
    assert found.area_raw_m2 == pytest.approx(40 * ACRE_M2, rel=1e-12)
    assert reading.evidence.is_placed == bool(corners)
    assert (found.closing_m, found.closing_azimuth_deg) == pytest.approx((1320 * FOOT_M, 270.0))


def test_adjusted_and_raw_area_stand_beside_each_other() -> None:
    expected = CHECKS["T01"]["expected"]
    reading = read_deed_text(T01, DeedRules())
    found = report(reading)
    assert found.area_adjusted_m2 / FOOT_M**2 == pytest.approx(expected["area_adjusted"], rel=1e-5)
    assert found.area_raw_m2 / FOOT_M**2 == pytest.approx(expected["area_raw_closed_by_straight_line"], rel=1e-5)
    assert found.is_adjusted
    assert area_m2(reading) == pytest.approx(found.area_adjusted_m2, rel=1e-8)
    (change,) = reading.changes
    assert change.area_change_m2 == pytest.approx(found.area_adjusted_m2 - found.area_raw_m2)
    assert "worse than 1:5,000" in reading.evidence.weak_points[0]
    raw = read_deed_text(T01, DeedRules(is_adjusted=False))
    assert area_m2(raw) == pytest.approx(report(raw).area_raw_m2, rel=1e-8)
    assert not report(raw).is_adjusted
    assert "nothing adjusted" in raw.changes[0].what
    assert raw.evidence.area_uncertainty_m2 is not None
    assert reading.evidence.area_uncertainty_m2 is not None
    widened = reading.evidence.area_uncertainty_m2 + abs(change.area_change_m2)
    assert raw.evidence.area_uncertainty_m2 == pytest.approx(widened)
    assert not report(read_deed_text(f"adjust: no\n{T01}", DeedRules())).is_adjusted


def test_worse_than_one_in_a_thousand_is_asked_for() -> None:
    with pytest.raises(OutlineError, match=r"close 1:73, off by 53.90 m .*--any-closure") as caught:
        read_deed_text(T06, DeedRules())
    assert any("if a call was left out" in problem for problem in caught.value.problems)
    reading = read_deed_text(T06, DeedRules(is_any_closure=True))
    assert "worse than 1:1,000" in reading.evidence.weak_points[0]
    assert report(reading).area_raw_m2 / ACRE_M2 == pytest.approx(139.96, abs=0.005)
    assert report(reading).area_adjusted_m2 / ACRE_M2 == pytest.approx(137.79, abs=0.005)


def test_a_suspected_blunder_is_never_adjusted_away() -> None:
    wrong = T01.replace("S 75 25 E", "S 75 25 W")
    with pytest.raises(OutlineError) as caught:
        read_deed_text(wrong, DeedRules())
    assert any("call 2 looks wrong: read S 75°25' E" in problem for problem in caught.value.problems)
    wrong = T01.replace("285.1 ft", "258.1 ft")
    reading = read_deed_text(wrong, DeedRules(is_any_closure=True))
    assert report(reading).suspects[0].number == 1
    assert not report(reading).is_adjusted
    assert area_m2(reading) == pytest.approx(report(reading).area_raw_m2, rel=1e-8)
    assert reading.evidence.area_uncertainty_m2 is None
    assert "a blunder is suspected (call 1" in reading.evidence.weak_points[0]


def test_a_last_call_without_a_length_cannot_be_checked_and_says_so() -> None:
    reading = read_deed_text(
        "thence N 0 E 1320 ft; thence N 90 E 1320 ft; thence S 0 E 1320 ft; thence West to the beginning", DeedRules()
    )
    found = report(reading)
    assert (found.misclosure_m, found.precision) == (None, None)
    assert area_m2(reading) == pytest.approx(40 * ACRE_M2, rel=1e-9)
    assert reading.evidence.area_uncertainty_m2 is None
    assert "gives no length" in reading.evidence.weak_points[0]
    assert any("call 4 gives no length" in problem and "0 degrees off" in problem for problem in reading.problems)


def test_the_stated_area_is_compared() -> None:
    text = f"{SQUARE}\ncontaining {{}} acres more or less"
    right, wrong = (read_deed_text(text.format(acres), DeedRules()) for acres in ("40", "44.00"))
    assert report(right).stated_area_m2 == pytest.approx(40 * ACRE_M2)
    assert not any("the deed says" in point for point in right.evidence.weak_points)
    assert any("the deed says 44.00 ac, its calls make 40.00 ac" in point for point in wrong.evidence.weak_points)


# The parcel of T20 (Open Access Surveying Library, traverse area problem 2) does not cross itself; the same corners in
# the order of a crossing loop are refused.
def test_calls_that_cross_are_named() -> None:
    points = np.array(CHECKS["T20"]["inputs"]["points_NE"])[:, ::-1]

    def deed(order: list[int]) -> str:
        steps = np.roll(points[order], -1, axis=0) - points[order]
        return "\n".join(f"Az {float(azimuth_deg(*step)):.6f} {np.hypot(*step):.3f} ft" for step in steps)

    plain = read_deed_text(deed([0, 1, 2, 3]), DeedRules())
    assert area_m2(plain) / FOOT_M**2 == pytest.approx(CHECKS["T20"]["expected"]["area"], rel=1e-5)
    with pytest.raises(OutlineError, match="cross each other") as caught:
        read_deed_text(deed([0, 2, 1, 3]), DeedRules())
    assert caught.value.problems in (("call 1 crosses call 3",), ("call 2 crosses call 4",))


def test_one_corner_and_a_rotation_derived() -> None:
    # Derived: the ellipsoid itself tells the way along the first call from the corner.
    text = "corner 1: -93.5, 42.03\nrotation: 2.5\nN 10 E 1320 ft\nN 90 E 1320 ft\nS 10 W 1320 ft\nN 90 W 1320 ft"
    reading = read_deed_text(text, DeedRules())
    (lon, lat), (lon_next, lat_next) = ring(reading)[:2]
    assert (lon, lat) == pytest.approx((-93.5, 42.03), abs=1e-10)
    azimuth, _, length_m = GEOD.inv(lon, lat, lon_next, lat_next)
    assert azimuth == pytest.approx(12.5, abs=1e-3)  # seen 0.0005 degree off along 400 m: convergence of the middle
    assert length_m == pytest.approx(1320 * FOOT_M, rel=1e-7)
    assert not any("rotation" in point for point in reading.evidence.weak_points)
    over = read_deed_text(text, DeedRules(rotation_deg=0.0, corners=((2, -90.0, 40.0),)))
    assert ring(over)[1] == pytest.approx((-90.0, 40.0), abs=1e-10)
    untold = read_deed_text(text.replace("rotation: 2.5\n", "north: magnetic\n"), DeedRules())
    assert any("magnetic north" in point for point in untold.evidence.weak_points)
    assert any("counted from true north" in problem for problem in untold.problems)


def test_two_and_more_corners_turn_the_figure_and_stretch_nothing() -> None:
    frame = Frame(lon_deg=-93.5, lat_deg=42.03)
    turn = np.radians(-7.0)  # the whole deed turned 7 degrees anticlockwise
    corners_m = np.array([[0, 0], [0, 402.336], [402.336, 402.336], [402.336, 0]])
    turned = corners_m @ np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    lonlat = np.column_stack(frame.to_lonlat(*turned.T))
    for numbers in ((1, 3), (1, 2, 3, 4)):
        known = tuple((number, *map(float, lonlat[number - 1])) for number in numbers)
        reading = read_deed_text(SQUARE, DeedRules(corners=known))  # type: ignore[arg-type]
        assert ring(reading)[:4] == pytest.approx(lonlat, abs=1e-9)  # 0.1 mm
        assert reading.evidence.is_placed
        assert any("turned -7.0" in problem for problem in reading.problems)
        assert area_m2(reading) == pytest.approx(40 * ACRE_M2, rel=1e-9)
    off = turned.copy()
    off[2] *= 1.005
    lon, lat = frame.to_lonlat(*off.T)
    reading = read_deed_text(SQUARE, DeedRules(corners=((1, lon[0], lat[0]), (3, lon[2], lat[2]))))
    assert any("(+0.500%); the figure is not stretched" in problem for problem in reading.problems)
    off[2] *= 1.01
    lon, lat = frame.to_lonlat(*off.T)
    with pytest.raises(OutlineError, match="more than 1%"):
        read_deed_text(SQUARE, DeedRules(corners=((1, lon[0], lat[0]), (3, lon[2], lat[2]))))


@pytest.mark.parametrize(
    ("corners", "words"),
    [
        (((5, -93.0, 42.0),), "the deed has corners 1 to 4"),
        (((0, -93.0, 42.0),), "the deed has corners 1 to 4"),
        (((1, 42.0, -93.0),), "longitude comes first"),
        (((1, -93.0, 42.0), (1, -93.0, 42.1)), "corner 1 is given twice"),
        (((1, -93.0, 42.0), (2, -93.0, 42.0)), "lie in one place"),
    ],
)
def test_known_corners_that_cannot_be_are_refused(corners: tuple[tuple[int, float, float], ...], words: str) -> None:
    with pytest.raises(OutlineError, match=words):
        read_deed_text(SQUARE, DeedRules(corners=corners))


def test_the_header_is_read_and_its_faults_told_at_once() -> None:
    reading = read_deed_text("# a remark\nName: North forty\nUNIT: rods\n\n" + SQUARE.replace(" ft", ""), DeedRules())
    assert reading.name == "North forty"
    assert report(reading).courses[0].length_m == pytest.approx(1320 * 5.0292)
    with pytest.raises(OutlineError) as caught:
        read_deed_text(
            f"unit: bogus\nvara: 3 miles\nrotation: much\nnorth: up\ncorner: 1\nunnit: ft\nname: a\nname: b\n{SQUARE}",
            DeedRules(),
        )
    assert [problem.split(":")[0] for problem in caught.value.problems] == [f"line {n}" for n in (1, 2, 3, 4, 5, 6, 8)]


def test_the_vara_of_the_header() -> None:
    text = "vara: 33 1/3 in\n" + SQUARE.replace("1320 ft", "100 varas")
    assert report(read_deed_text(text, DeedRules())).perimeter_m == pytest.approx(400 * 100 / 3 * 0.0254)  # derived
    reading = read_deed_text(text, DeedRules(vara_m=0.84))
    assert report(reading).perimeter_m == pytest.approx(400 * 0.84)
    with pytest.raises(OutlineError, match="about 33 inches"):
        read_deed_text(text, DeedRules(vara_m=8.4))
    with pytest.raises(OutlineError, match="unit of distances without one"):
        read_deed_text(SQUARE, DeedRules(unit="bogus"))


# Invented samples; areas are regression.
def test_the_modern_sample_reads_without_a_word() -> None:
    reading = read_deed(SAMPLES / "mill_lane_deed.txt", DeedRules())
    found = report(reading)
    assert reading.name == "Mill Lane"
    assert [course.kind for course in found.courses] == ["line", "line", "curve", "line", "line", "line"]
    assert found.precision is not None
    assert found.precision > 100_000
    assert area_m2(reading) / ACRE_M2 == pytest.approx(42.22, abs=0.01)
    assert reading.evidence.weak_points == (
        "no corner is known, so its place on Earth is made up: give one with --corner",
    )


def test_the_old_sample_needs_leave_to_go_on() -> None:
    path = SAMPLES / "stone_ridge_deed.txt"
    with pytest.raises(OutlineError, match=r"close 1:297.*--any-closure"):
        read_deed(path, DeedRules())
    reading = read_deed(path, DeedRules(is_any_closure=True))
    assert area_m2(reading) / ACRE_M2 == pytest.approx(39.18, abs=0.01)
    assert report(reading).suspects == ()
    assert any("chain or pole" in point for point in reading.evidence.weak_points)


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    with pytest.raises(FileError, match="cannot be read"):
        read_deed(tmp_path / "missing.txt", DeedRules())
    for data, words in (
        (b"N 45 E 1 ft\n" * (MOST_BYTES // 10), "more than 256 kB"),
        (b"\0\1\2", "no plain text"),
        (b"", "no call was found"),
        (b"N 5 E 29 km\nN 5 W 29 km\n" * 4, "232 km long together"),
        (b"N 5 E 10 ft\n", "it has 1 call; an outline needs three"),
    ):
        path = tmp_path / "deed.txt"
        path.write_bytes(data)
        with pytest.raises(OutlineError, match=words):
            read_deed(path, DeedRules())
    for encoding in ("utf-8-sig", "utf-16", "cp1252"):
        path.write_bytes(SQUARE.replace("N 0 E", "N 0°00'00\u201d E").encode(encoding))
        assert report(read_deed(path, DeedRules())).misclosure_m == 0.0


def test_the_largest_file_is_read_in_bounded_time(tmp_path: Path) -> None:
    path = tmp_path / "long.txt"
    path.write_text("thence N 45 E 330 feet to a stone; " * 7000, encoding="utf-8")
    with pytest.raises(OutlineError, match="there are 7000 calls; 2000 is the most"):
        read_deed(path, DeedRules())


@pytest.mark.parametrize(
    "piece",
    ["1 ", "N ", "N 45 E 10 ft ", "N,", "45° ", "the ", "R= ", "concave ", "containing ", "9", "(", "'", "½", "\n"],
)
def test_no_text_takes_long(piece: str) -> None:
    for text in (piece * 4000, f"{piece * 4000} thence N 5 E 10 ft", f"curve {piece * 4000}"):
        with pytest.raises(OutlineError):
            read_deed_text(text, DeedRules())


WORD_LINES = """thence N S E W North due 45 45° 30' 15" 3/4 1/0 330 0 1,320.5 feet poles and links + R= delta chord
bears curve right left radial center concave northerly non-tangent arc tangent D= over 180 ; . , ( ) = containing acres
40 square - ½ running Az azimuth in vara except # at total R 99999999999 chains NE then of along ' " T5N 5 1/2"""
WORDS = WORD_LINES.split()
CALLS = [
    "N 45 E 330 ft",
    "S 10 W 40 poles",
    "curve right radius 100 ft delta 90°",
    "N 80 W 100 ft",
    "S 80 E 250 ft",
    "curve left R 100 ft chord bearing N 45 E chord 50 ft",
    "Az 200 300 ft",
    "thence to the point of beginning",
    "non-tangent curve left radius 300 ft, chord bears S 45 W 200 feet",
    "due East 10 chains",
    "S 45 W 400 ft",
]
LINES = ["point of beginning", "\n", "unit: feet\n", "corner 1: -93, 42\n"]
TEXTS = st.one_of(
    st.lists(st.sampled_from([*WORDS, *LINES]), max_size=40).map(" ".join),
    st.lists(st.sampled_from(CALLS), max_size=9).map("\n".join),
    st.text(max_size=80),
)


@settings(max_examples=300)
@given(text=TEXTS, is_any=st.booleans(), unit=st.sampled_from([None, "feet"]))
def test_only_our_own_errors_come_out(text: str, unit: str | None, *, is_any: bool) -> None:
    try:
        reading = read_deed_text(text, DeedRules(is_any_closure=is_any, unit=unit))
    except FieldgeoError:
        return
    assert np.isfinite(ring(reading)).all()
    assert shapely.Polygon(ring(reading)).area > 0 or clean_outline(reading.parts).faults


@settings(max_examples=60)
@given(azimuth=st.floats(0, 359), corners=st.integers(3, 9), seed=st.integers(0, 1000))
def test_turning_a_deed_changes_no_figure(azimuth: float, corners: int, seed: int) -> None:
    rng = np.random.default_rng(seed)
    angles = (np.arange(corners) + rng.uniform(0, 0.8, corners)) * 2 * np.pi / corners
    points = np.column_stack([np.cos(angles), np.sin(angles)]) * 300
    steps = np.roll(points, -1, axis=0) - points

    def measured(turn: float) -> DeedReport:
        lines = [f"Az {(float(azimuth_deg(*step)) + turn) % 360:.9f} {np.hypot(*step):.4f} m" for step in steps]
        return report(read_deed_text("\n".join(lines), DeedRules()))

    one, other = measured(0.0), measured(azimuth)
    assert one.area_raw_m2 == pytest.approx(other.area_raw_m2, rel=1e-7)
    assert one.perimeter_m == pytest.approx(other.perimeter_m, rel=1e-12)
