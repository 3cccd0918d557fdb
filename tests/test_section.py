"""A section file read: the outline, its evidence, everything that is refused, and nothing but our own errors."""

import re
from pathlib import Path

import numpy as np
import pyproj
import pytest
from geographiclib.geodesic import Geodesic
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fieldgeo.errors import CrsError, FieldgeoError, FileError, OutlineError
from fieldgeo.frame import Frame
from fieldgeo.outline.clean import clean_outline
from fieldgeo.outline.rules import SectionRules
from fieldgeo.outline.section.read import read_section
from fieldgeo.outline.section.source import parse_section
from fieldgeo.outline.section.subdivide import CORNERS as NAMES
from fieldgeo.outline.sniff import sniff
from fieldgeo.units import ACRE_M2

SAMPLES = Path(__file__).parents[1] / "sample_fields"
EIGHT = SAMPLES / "section_eight_corners.txt"
FOUR = SAMPLES / "section_four_corners.txt"
CORNERS = {
    "NW": "-93.0097355, 42.0072359",
    "NE": "-92.9902461, 42.0072455",
    "SE": "-92.9902980, 41.9927331",
    "SW": "-93.0097149, 41.9927427",
}
QUARTERS = ("NW", "NE", "SE", "SW")


def lines(**changed: str | None) -> str:
    entries = {"section": "Sec. 16", "part": "W1/2 NW1/4", **CORNERS, **changed}
    return "\n".join(f"{key}: {value}" for key, value in entries.items() if value is not None)


@pytest.fixture
def read(tmp_path):
    def read_text(text, rules=SectionRules()):  # noqa: B008
        path = tmp_path / "home.txt"
        path.write_text(text, encoding="utf-8")
        return read_section(path, rules)

    return read_text


def faults(read, text, rules=None) -> str:
    with pytest.raises(OutlineError) as caught:
        read(text, rules or SectionRules())
    assert str(caught.value).isprintable() or "\n" in str(caught.value)
    return "\n".join(caught.value.problems)


def geodesic_m2(reading) -> float:
    """Area by an independent library; sides are geodesics."""
    total = 0.0
    for part in reading.parts:
        for number, ring in enumerate(part.rings):
            polygon = Geodesic.WGS84.Polygon()
            for lon, lat in ring[:-1]:
                polygon.AddPoint(lat, lon)
            total += abs(polygon.Compute()[2]) * (1 if number == 0 else -1)
    return total


@pytest.mark.parametrize("file", [EIGHT, FOUR], ids=["eight", "four"])
def test_sample_is_what_it_says(file):
    assert sniff(file).kind == "section"
    assert "invented" in file.read_text(encoding="utf-8").splitlines()[0]
    reading = read_section(file, SectionRules())
    report = reading.evidence.report
    datum = "its datum is North American Datum 1983, not WGS 84: places may be off by some metres, sizes are not"
    assert reading.problems == {EIGHT: (), FOUR: (datum,)}[file]
    assert reading.evidence.kind == "section"
    assert reading.evidence.is_placed
    assert report.corners_given == {EIGHT: 8, FOUR: 4}[file]
    assert sum(piece.nominal_m2 for piece in report.pieces) == report.nominal_m2
    assert report.nominal_m2 / ACRE_M2 == pytest.approx({EIGHT: 80, FOUR: 120}[file])
    measured = sum(piece.measured_m2 for piece in report.pieces)
    assert geodesic_m2(reading) == pytest.approx(measured, rel=1e-8)
    cleaned = clean_outline(reading.parts)
    assert (*cleaned.faults, *cleaned.changes, *cleaned.notes) == ()
    assert cleaned.shape.area == pytest.approx(measured, rel=1e-8)
    assert f"{measured / ACRE_M2:.2f} acres measured" in (SAMPLES / "README.md").read_text(encoding="utf-8").replace(
        "\n", " "
    )


def test_pieces_fill_the_section_and_no_two_overlap(read):
    text = EIGHT.read_text(encoding="utf-8")
    pieces = ", ".join(f"{small}1/4 {large}1/4" for large in QUARTERS for small in QUARTERS)
    reading = read(text, SectionRules(part=pieces))
    report = reading.evidence.report
    assert len(report.pieces) == 16
    assert sum(piece.measured_m2 for piece in report.pieces) == pytest.approx(report.section_m2, rel=1e-9)
    assert len(reading.parts) == 1  # touching parts are joined, without a hole
    assert len(reading.parts[0].rings) == 1
    assert geodesic_m2(reading) == pytest.approx(report.section_m2, rel=1e-8)
    whole = read(text, SectionRules(part="all"))
    assert whole.evidence.report.section_m2 == report.section_m2
    assert geodesic_m2(whole) == pytest.approx(report.section_m2, rel=1e-8)
    assert len(whole.parts[0].rings[0]) == 9


def test_pieces_that_touch_are_one_part_and_others_are_not(read):
    assert len(read(lines(part="S1/2 NW1/4 and NE1/4 SW1/4")).parts) == 1
    assert len(read(lines(part="NW1/4 NW1/4 and SE1/4 SE1/4")).parts) == 2
    at_a_corner = read(lines(part="NW1/4 and SE1/4"))
    assert len(at_a_corner.parts) == 2
    assert len(clean_outline(at_a_corner.parts).shape.geoms) == 2


def test_outline_has_the_corners_of_the_parts_and_no_more(read):
    (half,) = read(lines(part="N1/2")).parts
    assert len(half.rings[0]) == 5  # no quarter corner off the line, so a side is straight
    ring = half.rings[0]
    assert any(np.allclose(place, [-93.0097355, 42.0072359], atol=1e-9) for place in ring)


def test_except_leaves_a_hole_or_a_notch(read):
    reading = read(lines(part="all of Section 16 except the NE1/4 SW1/4"))
    assert [len(part.rings) for part in reading.parts] == [2] or len(reading.parts[0].rings) == 1
    report = reading.evidence.report
    assert [piece.text for piece in report.pieces] == ["all of the section", "except NE1/4 SW1/4"]
    assert report.nominal_m2 / ACRE_M2 == pytest.approx(600)
    assert geodesic_m2(reading) == pytest.approx(sum(piece.measured_m2 for piece in report.pieces), rel=1e-8)
    inside = read(lines(part="all except SE1/4 NW1/4 SE1/4"))
    assert len(inside.parts[0].rings) == 2
    assert geodesic_m2(inside) == pytest.approx(sum(p.measured_m2 for p in inside.evidence.report.pieces), rel=1e-8)


def test_state_plane_in_survey_feet_is_the_same_ground(read):
    # Derived: the same corners through another system; to_crs by the same library in the other direction.
    to_plane = pyproj.Transformer.from_crs("OGC:CRS84", "EPSG:3417", always_xy=True)
    plane = {
        name: "{:.4f} {:.4f}".format(*to_plane.transform(*map(float, place.split(","))))
        for name, place in CORNERS.items()
    }
    assert min(float(place.split()[0]) for place in plane.values()) > 4e6  # feet
    there, here = read(lines(crs="EPSG:3417", **plane)), read(lines())
    assert there.source_crs == "EPSG:3417"
    assert there.parts[0].rings[0] == pytest.approx(here.parts[0].rings[0], abs=2e-9)
    assert there.evidence.report.section_m2 == pytest.approx(here.evidence.report.section_m2, rel=1e-7)


def test_uncertainty_is_from_the_rules_then_from_the_file(read):
    text = lines(accuracy="2 ft")
    of_file, asked = read(text).evidence, read(text, SectionRules(accuracy_m=0.6096 * 3)).evidence
    assert asked.area_uncertainty_m2 == pytest.approx(3 * of_file.area_uncertainty_m2)
    assert "as the file says" in of_file.uncertainty_from
    assert "N, E, S and W stand from the middle" in of_file.uncertainty_from
    unknown = read(lines()).evidence
    assert unknown.area_uncertainty_m2 is None
    assert "not said how well" in unknown.uncertainty_from


def test_part_asked_for_goes_before_the_one_in_the_file(read):
    reading = read(lines(), SectionRules(part="E1/2"))
    assert [piece.text for piece in reading.evidence.report.pieces] == ["E1/2"]
    assert "as asked; the file says 'W1/2 NW1/4'" in reading.problems[0]
    assert read(lines(part=None), SectionRules(part="E1/2")).problems == ()


def test_missing_quarter_corners_are_a_weak_point(read):
    eight = read(EIGHT.read_text(encoding="utf-8")).evidence.weak_points
    assert not any("not given" in point for point in eight)
    seven = "\n".join(line for line in EIGHT.read_text(encoding="utf-8").splitlines() if not line.startswith("W:"))
    points = read(seven).evidence.weak_points
    assert points[0].startswith("quarter corner W not given")
    assert read(seven).evidence.report.corners_given == 7
    assert read(lines()).evidence.weak_points[0].startswith("quarter corners N, E, S and W not given")


def test_weak_points_only_where_they_apply(read):
    def points(**changed):
        return "\n".join(read(lines(**changed)).evidence.weak_points)

    assert "drawn" in "\n".join(read_section(EIGHT, SectionRules()).evidence.weak_points)
    assert "not said where the corners come from" in points()
    assert "aliquot acres are nominal: 80.00 by name, 80." in points()
    assert "half of a half" in points(part="N1/2 N1/2")
    assert "half of a half" not in points()
    for section, side in (("3", "north"), ("6", "north"), ("6", "west"), ("18", "west"), ("31", "west")):
        assert f"section {section} lies on the {side} side" in points(section=section)
    assert "lots" not in points(section="16")
    assert "lots" not in points(section="3", part="S1/2")
    assert "lots" not in points(section="18", part="E1/2")
    assert "no number" in points(section=None)
    assert "no number" not in points(section=None, part="SE1/4")


def test_section_number_of_the_description_is_enough(read):
    reading = read(lines(section=None, part="NE1/4 Sec. 4"))
    assert reading.evidence.report.section == "Section 4"
    assert "section 4 lies on the north side" in "\n".join(reading.evidence.weak_points)


def test_text_of_a_section_without_a_number_is_told(read):
    assert read(lines(section="the home section")).problems == ("no section number is found in 'the home section'",)


@pytest.mark.parametrize(
    ("changed", "expected"),
    [
        ({"part": None}, "no part is named"),
        ({"part": "Lot 3"}, "part 'Lot 3': 'Lot': a government lot"),
        ({"part": "NE1/4 Sec. 12"}, "section 16 and 12 are both named"),
        ({"part": "S1/2 Sec. 16, N1/2 Sec. 21"}, "section 16 and 21"),
        ({"section": "Sec. 16, T83N R24W", "part": "NE1/4 Sec. 16, T84N R24W"}, "township 83N and 84N"),
        ({"section": "Section 40"}, "1 to 36"),
        ({"NW": None, "SE": None}, "corners missing: NW, SE"),
        ({"NW": "-93.0097355"}, "line 3: NW is '-93.0097355'; it must be two numbers"),
        ({"NW": "-93.0097355, 42.0072359, 280"}, "two numbers"),
        ({"NW": "93 00 35 W, 42 00 26 N"}, "two numbers"),
        ({"NW": "1e999, 42"}, "two numbers"),
        ({"NW": "nan, 42"}, "two numbers"),
        ({"NWW": "-93, 42"}, "'NWW' is no key of a section file"),
        ({"accuracy": "2"}, "accuracy"),
        ({"accuracy": "-2 ft"}, "0 or more"),
        ({"accuracy": "2 acres"}, "accuracy"),
        ({"W": "-93.0097436, 41.9952"}, "W stands 1,7.. ft from the middle of its line"),
        ({"NE": "-92.9802461, 42.0072455"}, "the angle at NE is 6. degrees"),
        ({"NE": "-92.9702461, 42.01", "SE": "-92.9702980, 41.99"}, "the N side is 10,7.. ft; a section is"),
        ({"NE": "-93.0022, 42.0072455", "SE": "-93.0022, 41.9927331"}, "the S side is 2,0.. ft"),
        ({"NE": "-83.9902461, 42.0072455"}, "NE lies [67]\\d\\d.. km from the middle of the others"),
        ({"NE": CORNERS["NW"], "NW": CORNERS["NE"], "SE": CORNERS["SW"], "SW": CORNERS["SE"]}, "the wrong way round"),
        (dict(zip(("NE", "SE", "SW", "NW"), map(CORNERS.get, ("SE", "SW", "NW", "NE")), strict=True)), "NE lies at 13"),
        ({"NE": CORNERS["NW"], "NW": CORNERS["NE"]}, "round|belongs"),
    ],
)  # fmt: skip
def test_refused_with_a_reason(read, changed, expected):
    assert re.search(expected, faults(read, lines(**changed)))


def test_given_twice_and_no_key_are_told_with_their_line(read):
    told = faults(read, lines() + "\nNE: -92.99, 42.00\npart: all\nthis is a section")
    assert "line 7: 'NE' is given twice" in told
    assert "line 8: 'part' is given twice" in told
    assert "line 9: 'this is a section' is no 'key: value'" in told


def test_all_faults_are_told_at_once(read):
    told = faults(read, lines(part="Lot 3 and E 3/4", section="77", NW=None, SE="x", size="9"))
    for fault in ("'Lot'", "'3/4'", "section 77", "missing: NW", "SE is 'x'", "'size' is no key"):
        assert fault in told


def test_latitude_first_is_seen(read):
    swapped = {name: ", ".join(reversed(place.split(", "))) for name, place in CORNERS.items()}
    assert "latitude seems to come first (42.0072, -93.0097): write longitude, then latitude" in faults(
        read, lines(**swapped)
    )


def test_north_first_in_a_plane_is_seen(read):
    text = FOUR.read_text(encoding="utf-8")
    swapped = []
    for line in text.splitlines():
        key, _, value = line.partition(": ")
        swapped.append(f"{key}: {', '.join(reversed(value.split(', ')))}" if key in QUARTERS else line)
    assert "wrong way round" in faults(read, "\n".join(swapped))


def test_plane_coordinates_without_their_system_are_seen(read):
    text = FOUR.read_text(encoding="utf-8").replace("crs: EPSG:3417\n", "")
    assert "cannot be longitude and latitude (5.04087e+06, 3.47693e+06): name their system" in faults(read, text)


def test_metres_taken_for_feet_are_seen(read):
    # The same numbers in the metre system of the zone: over three miles to a side.
    text = FOUR.read_text(encoding="utf-8").replace("EPSG:3417", "EPSG:26975")
    assert "check" in faults(read, text)


def test_zone_may_be_named_and_its_foot_follows_from_the_place(read):
    text = FOUR.read_text(encoding="utf-8")
    by_code, by_name = read(text), read(text.replace("EPSG:3417", "Iowa North"))
    assert by_name.parts[0].rings[0].tolist() == by_code.parts[0].rings[0].tolist()
    assert any("US survey feet" in problem for problem in by_name.problems)


def test_degrees_in_a_plane_are_refused(read):
    with pytest.raises(CrsError, match="look like degrees"):
        read(lines(crs="EPSG:3417"))


def test_unknown_system_is_refused(read):
    with pytest.raises(CrsError, match="EPSG:99999"):
        read(lines(crs="EPSG:99999"))


def test_unusual_corners_are_told(read):
    long = read(lines(NE="-92.9896, 42.0072455", SE="-92.9896, 41.9927331"))
    assert any("the N side is 5,4" in problem for problem in long.problems)
    off = read(lines(W="-93.0097436, 41.9997"))
    assert any("W stands" in problem for problem in off.problems)


def test_what_cannot_be_read_is_told(tmp_path):
    with pytest.raises(FileError, match="no such file"):
        read_section(tmp_path / "none.txt", SectionRules())
    with pytest.raises(FileError, match="not a plain one"):
        read_section(tmp_path, SectionRules())
    big = tmp_path / "big.txt"
    big.write_text("# x\n" * 50_000, encoding="utf-8")
    with pytest.raises(OutlineError, match="100 kB"):
        read_section(big, SectionRules())
    latin = tmp_path / "latin.txt"
    latin.write_bytes(lines(part="W½ NW¼").encode("cp1252"))
    with pytest.raises(OutlineError, match="not UTF-8"):
        read_section(latin, SectionRules())
    latin.write_text(lines(part="W½ NW¼"), encoding="utf-8-sig")
    assert read_section(latin, SectionRules()).evidence.report.pieces[0].text == "W1/2 NW1/4"


def test_names_from_strangers_are_made_fit_to_print(read):
    reading = read(lines(name="home\x1b[2J", section="Sec. 16 \x1b", **{"corners from": "a\x07b"}))
    assert reading.name.isprintable()
    assert reading.evidence.report.section.isprintable()
    assert all(point.isprintable() for point in reading.evidence.weak_points)


KEYS = st.sampled_from(
    [*CORNERS, "N", "E", "S", "W", "part", "section", "crs", "name", "accuracy", "corners from", "x", ""]
)
NUMBERS = st.one_of(
    st.floats().map(repr), st.floats(-93.02, -92.98).map(repr), st.floats(41.98, 42.02).map(repr), st.text(max_size=4)
)
VALUES = st.one_of(
    st.text(max_size=20),
    st.builds("{}, {}".format, NUMBERS, NUMBERS),
    st.sampled_from(["W1/2 NW1/4", "all", "Sec. 12", "12", "EPSG:3417", "EPSG:4326", "1 ft", *CORNERS.values()]),
)


@settings(max_examples=200, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    entries=st.lists(st.builds("{}: {}".format, KEYS, VALUES), max_size=12).map("\n".join),
    base=st.booleans(),
    part=st.none() | st.text(max_size=20),
)
def test_any_text_gives_a_section_or_our_own_error(tmp_path, entries, base, part):
    path = tmp_path / "any.txt"
    path.write_text(f"{lines()}\n{entries}" if base else entries, encoding="utf-8", errors="surrogatepass")
    try:
        reading = read_section(path, SectionRules(part=part))
    except FieldgeoError as error:
        told = str(error)
    else:
        told = reading.evidence.report.text
        assert reading.evidence.report.section_m2 > 0
    assert 0 < len(told) < 20_000


@settings(max_examples=150, deadline=None)
@given(
    st.dictionaries(st.sampled_from([*CORNERS, "N", "E", "S", "W"]), st.tuples(*[st.floats(-600, 600)] * 2), max_size=8)
)
def test_any_corners_near_a_section_give_ground_or_a_reason(tmp_path_factory, shifts):
    # Shifts in metres of the corners of an invented section; what is accepted has a valid outline of the right area.
    frame = Frame(lon_deg=-93.0, lat_deg=42.0)
    spots = dict(zip(NAMES, [(-1, 1), (0, 1), (1, 1), (1, 0), (1, -1), (0, -1), (-1, -1), (-1, 0)], strict=True))
    entries = {}
    for name, (east, north) in spots.items():
        if name in shifts or name in QUARTERS:
            shift = shifts.get(name, (0.0, 0.0))
            lon, lat = frame.to_lonlat(east * 804.672 + shift[0], north * 804.672 + shift[1])
            entries[name] = f"{float(lon)!r}, {float(lat)!r}"
    path = tmp_path_factory.mktemp("near") / "near.txt"
    path.write_text(lines(part="W1/2 NW1/4 and SE1/4", **entries), encoding="utf-8")
    try:
        reading = read_section(path, SectionRules())
    except OutlineError:
        return
    shape = clean_outline(reading.parts).shape
    assert shape is not None
    measured = sum(piece.measured_m2 for piece in reading.evidence.report.pieces)
    assert shape.area == pytest.approx(measured, rel=1e-6)


@given(st.text(max_size=300))
def test_any_text_is_taken_apart(text):
    found = parse_section(text)
    assert len(found.faults) <= 21
    assert all(fault.isprintable() for fault in found.faults)
