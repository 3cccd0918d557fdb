"""The words of a deed: bearings and distances in all their forms, whole deeds in prose, and what is refused."""

import math

import pytest
from deeds import CHECKS, FOOT_M

from fieldgeo.errors import InputError
from fieldgeo.outline.deed.calls import read_calls
from fieldgeo.outline.deed.header import split_header
from fieldgeo.outline.deed.model import DeedCalls
from fieldgeo.outline.deed.units import area_unit_m2, length_words, unit_m
from fieldgeo.outline.deed.values import LengthRules, number_value


def read(text: str, unit: str | None = None, vara_m: float | None = None) -> DeedCalls:
    return read_calls(split_header(text)[1], LengthRules(unit=unit, vara_m=vara_m))


def one(text: str, unit: str | None = None, vara_m: float | None = None) -> tuple[float, float]:
    """Return azimuth [deg] and length [ft] of the one call of a text."""
    deed = read(text, unit, vara_m)
    assert (deed.faults, len(deed.calls)) == ((), 1), (text, deed)
    call = deed.calls[0]
    assert call.bearing is not None
    assert call.distance is not None
    return call.bearing.azimuth_deg, call.distance.length_m / FOOT_M


# Derived, as the file says; B03 is a call of an 1845 county survey (Smithsonian transcription, Prince George County).
@pytest.mark.parametrize("number", ["B01", "B02", "B03", "B05", "B07", "B08"])
def test_calls_of_the_grammar_checks_derived(number: str) -> None:
    check = CHECKS[number]
    azimuth_deg, length_ft = one(check["inputs"]["text"])
    expected, tolerance = check["expected"], check["tolerance"]
    assert azimuth_deg == pytest.approx(expected["azimuth_deg"], abs=tolerance["azimuth_deg"])
    assert length_ft == pytest.approx(expected["distance_ft"], abs=tolerance["distance_ft"])
    latitude_ft, departure_ft = (length_ft * f(math.radians(azimuth_deg)) for f in (math.cos, math.sin))
    assert latitude_ft == pytest.approx(expected["latitude_ft"], abs=tolerance["latitude_ft"])
    assert departure_ft == pytest.approx(expected["departure_ft"], abs=tolerance["departure_ft"])


@pytest.mark.parametrize(
    ("number", "words"), [("B10", "it must be 90 at most"), ("B11", "minutes are 75"), ("B13", "without a distance")]
)
def test_calls_that_the_grammar_checks_refuse(number: str, words: str) -> None:
    deed = read(CHECKS[number]["inputs"]["text"])
    assert len(deed.faults) == 1
    assert words in deed.faults[0]
    assert deed.calls == ()


# Derived: the same angle of 45.504166... degrees, or what is written, in every form.
@pytest.mark.parametrize(
    ("bearing", "azimuth_deg"),
    [
        ("N 45°30'15\" E", 45 + 30 / 60 + 15 / 3600),
        ("N45°30\u201915\u201dE", 45 + 30 / 60 + 15 / 3600),
        ("N. 45º 30\u2032 15\u2033 E.", 45 + 30 / 60 + 15 / 3600),
        ("N 45˚30'15'' E", 45 + 30 / 60 + 15 / 3600),
        ("N 45-30-15 E", 45 + 30 / 60 + 15 / 3600),
        ("N-45-30-15-E", 45 + 30 / 60 + 15 / 3600),
        ("N 45 30 15 E", 45 + 30 / 60 + 15 / 3600),
        ("North 45 degrees 30 minutes 15 seconds East", 45 + 30 / 60 + 15 / 3600),
        ("NORTH 45 DEG. 30 MIN. AND 15 SEC. EAST", 45 + 30 / 60 + 15 / 3600),
        ("North 45 degrees, 30 minutes and 15 seconds East", 45 + 30 / 60 + 15 / 3600),
        ("N 45.5 E", 45.5),
        ("N 45 30 E", 45.5),
        ("N 45 1/2 E", 45.5),
        ("N 45½° E", 45.5),
        ("N 45-1/2 E", 45.5),
        ("N 45° 30 1/2' E", 45 + 30.5 / 60),
        ('N 45° 15" E', 45 + 15 / 3600),
        ("S 45 3/4 W", 225.75),
        ("S 1/2° E", 179.5),
        ("S 10 W", 190.0),
        ("N 10 W", 350.0),
        ("N 90 W", 270.0),
        ("due North", 0.0),
        ("DUE WEST", 270.0),
        ("South", 180.0),
        ("S.", 180.0),
        ("Az 123°15'", 123.25),
        ("Azimuth 123.25", 123.25),
        ("az. of 123-15-00", 123.25),
        ("azimuth 360", 0.0),
    ],
)
@pytest.mark.parametrize("lead", ["", "thence ", "3. "])
def test_bearings_in_every_form(bearing: str, azimuth_deg: float, lead: str) -> None:
    assert one(f"{lead}{bearing}, 330.00 feet") == pytest.approx((azimuth_deg, 330.0), abs=1e-9)
    assert one(f"{lead}{bearing} a distance of\n5 1/2 poles to a stone") == pytest.approx(
        (azimuth_deg, 90.75), abs=1e-9
    )


# Derived from the definitions: 66 ft to the chain, 100 links to the chain, 16.5 ft to the pole, 33 1/3 in to the Texas
# vara; 1200/3937 m to the survey foot (NIST, revised conversion factors, 85 FR 62698, 2020).
@pytest.mark.parametrize(
    ("distance", "length_ft"),
    [
        ("1,320.50 ft.", 1320.5),
        ("1320.50'", 1320.5),
        ("100' 6\"", 100.5),
        ("100 feet 6 inches", 100.5),
        ("100 in.", 100 / 12),
        ("three hundred thirty (330) feet", 330.0),
        ("110 yards", 330.0),
        ("100 m", 100 / 0.3048),
        ("0.5 km", 500 / 0.3048),
        ("5 poles and 6 links", 82.5 + 3.96),
        ("5 poles, 6 links", 82.5 + 3.96),
        ("14 chains 52 links", 1452 * 0.66),
        ("14 ch. 52 lks.", 1452 * 0.66),
        ("14.52 chs", 1452 * 0.66),
        ("10 Gunter's chains", 660.0),
        ("10 engineer's chains", 1000.0),
        ("10 two-pole chains", 330.0),
        ("20 perches", 330.0),
        ("20 rods", 330.0),
        ("1/2 mile", 2640.0),
        ("2 furlongs", 1320.0),
        ("100 Texas varas", 100 * 100 / 36),
        ("100 varas", 100 * 2.75),
        ("1000 US survey feet", 1000 * 1200 / 3937 / 0.3048),
        ("1000 U.S. Survey Feet", 1000 * 1200 / 3937 / 0.3048),
    ],
)
def test_distances_in_every_unit(distance: str, length_ft: float) -> None:
    azimuth_and_length = one(f"N 45 E {distance} to a stone", vara_m=2.75 * FOOT_M)
    assert azimuth_and_length == pytest.approx((45.0, length_ft), rel=1e-12)


# NIST Office of Weights and Measures, revised unit conversion factors: published.
@pytest.mark.parametrize(
    ("number", "unit"),
    [("U01", "ft"), ("U02", "survey_feet"), ("U03", "chains"), ("U05", "links"), ("U06", "poles"), ("U06", "rods"),
     ("U06", "perches"), ("U08", "miles"), ("U14", "furlongs")],
)  # fmt: skip
def test_units_of_length_published_nist(number: str, unit: str) -> None:
    check = CHECKS[number]
    assert unit_m(unit) == pytest.approx(check["expected"]["value"], rel=0, abs=check["tolerance"]["abs"])


# The printed row of the square rod (U15) has m for m2, a misprint. U17: Federal Register 85 FR 62698, 2020.
# U19, U21, U22, U24: general land-unit lists; U22 is printed rounded (177.14).
def test_units_of_area_and_pairs_of_units_published_nist_and_unit_lists() -> None:
    def expect(number: str, value: float) -> None:
        check = CHECKS[number]
        assert value == pytest.approx(check["expected"]["value"], rel=0, abs=check["tolerance"]["abs"])

    survey = unit_m("survey_feet")
    expect("U09", 5280 * survey)
    expect("U10", area_unit_m2("acres"))
    expect("U11", 43560 * survey**2)
    expect("U13", (5280 * survey) ** 2)
    expect("U15", area_unit_m2("square_poles"))
    expect("U16", 10 * area_unit_m2("square_chains") / area_unit_m2("acres"))
    expect("U17", survey / unit_m("feet"))
    expect("U19", one("N 45 E 5 ch 43 lk")[1])
    stated = read("N 45 E 5 ch; containing 87 acres, 112 poles").stated
    assert stated is not None
    expect("U21", stated.area_m2 / area_unit_m2("acres"))
    expect("U22", 1e6 * area_unit_m2("square_texas_varas") / area_unit_m2("acres"))
    expect("U24", unit_m("chains") / unit_m("texas_varas"))


def test_every_word_for_a_unit_is_read_in_a_call() -> None:
    for word in length_words():
        text = f"N 45 E 3 {word.replace('_', ' ')}, to a stone"
        assert one(text, vara_m=0.84)[1] == pytest.approx(3 * unit_m(word, 0.84) / FOOT_M), word


@pytest.mark.parametrize("word", ["bogus", "acres", "9**9**9", "__class__", ""])
def test_units_that_are_not_known_are_refused(word: str) -> None:
    with pytest.raises(InputError, match="is not known here"):
        unit_m(word)


def test_numbers_as_written_and_their_last_digit() -> None:
    assert number_value("1,320.50") == (1320.5, 0.01)
    assert number_value("5 1/2") == number_value("5-1/2") == (5.5, 0.5)
    assert number_value("3/4") == (0.75, 0.25)
    with pytest.raises(InputError, match="zero below the line"):
        number_value("1/0")


def test_a_vara_and_a_bare_distance_are_asked_for() -> None:
    (fault,) = read("N 45 E 100 varas").faults
    assert "--vara" in fault
    (fault,) = read("N 45 E 330 to a stone").faults
    assert "--unit" in fault
    assert fault.startswith("line 1")
    assert one("N 45 E 330 to a stone", unit="poles")[1] == pytest.approx(330 * 16.5)
    (fault,) = read("N 45 E 330 yrds", unit="poles").faults  # not taken for poles
    assert "'yrds' is not known" in fault


PROSE = """Beginning at a stone, 40 rods North of the corner of Section 12, T5N, R3W; thence N 45°30'15" E along the
line of Smith's Lot 5, 330.00 feet (100.58 meters) to a 5/8" iron pin; thence North, by the right-of-way, 3 ch. 5 lks to
the North line of the NW 1/4 of Section 12; thence N 10 E crossing the creek at 20 poles, 40 poles to a 12 inch oak set
in 1845; thence S 5 W, passing a pin at 100.00 feet, for a total distance of 330.00 feet; thence South 20 rods to the
point of beginning, containing 140 acres and 36 poles, more or less, and being 7 feet from the barn."""


def test_prose_is_read_call_by_call_and_the_rest_passed_over() -> None:
    deed = read(PROSE)
    assert deed.faults == ()
    lengths_ft = [call.distance.length_m / FOOT_M for call in deed.calls if call.distance]
    assert lengths_ft == pytest.approx([330.0, 201.3, 660.0, 330.0, 330.0])  # derived: 3.05 x 66, 40 x 16.5, 20 x 16.5
    assert [call.line for call in deed.calls] == [1, 2, 3, 4, 4]
    assert deed.calls[-1].is_home
    assert not any(call.is_home for call in deed.calls[:-1])
    assert deed.stated is not None
    assert deed.stated.area_m2 / area_unit_m2("acres") == pytest.approx(140 + 36 / 160)
    told = "\n".join(deed.notes)
    for words in ("'40 rods' stands before", "'20 poles' is passed on the way", "'100.00 feet' is passed on the way"):
        assert words in told
    assert "100.58" not in told  # the same told in another unit


# Derived from the units: 43,560 ft2 to the acre, 160 square poles, 4 roods, 10 square chains.
@pytest.mark.parametrize(
    ("words", "acres", "last_digit"),
    [
        ("containing 40 acres, more or less", 40.0, 1.0),
        ("containing 40.00 acres (1,742,400 square feet)", 40.0, 0.01),
        ("containing by estimation 39 1/2 A.", 39.5, 0.5),
        ("containing 10 acres, 3 roods and 20 perches", 10.875, 1 / 160),
        ("contains 1,742,400 sq. ft. of land", 40.0, 1 / 43560),
        ("containing 400 square chains", 40.0, 0.1),
        ("containing 16.19 hectares", 16.19e4 / 4046.8564224, 100 / 4046.8564224),
    ],
)
def test_stated_areas(words: str, acres: float, last_digit: float) -> None:
    stated = read(f"N 45 E 330 ft to the beginning, {words}").stated
    assert stated is not None
    assert (stated.area_m2, stated.last_digit_m2) == pytest.approx((acres * 4046.8564224, last_digit * 4046.8564224))


def test_an_area_in_words_is_told() -> None:
    deed = read("N 45 E 330 ft to the beginning, containing forty acres")
    assert deed.stated is None
    assert "not in figures" in deed.notes[0]


def test_old_prose_with_only_one_thence() -> None:
    deed = read(
        "Beginning at a white oak and running N 10 E 40 poles, S 80 E 50 poles, thence S 10 W 40 poles to a stake"
    )
    assert [call.bearing.azimuth_deg for call in deed.calls if call.bearing] == [10.0, 100.0, 190.0]


def test_the_way_to_the_point_of_beginning_is_no_side_of_the_land() -> None:
    text = """Commencing at the corner; thence South 330 feet to the true point of beginning; thence East 100 feet;
    thence North 100 feet; thence West 100 feet; thence South 100 feet to the point of beginning"""
    deed = read(text)
    assert [call.bearing.quadrant for call in deed.calls if call.bearing] == ["E", "N", "W", "S"]
    assert any("1 call leads from where the deed commences" in note for note in deed.notes)


def test_a_tie_before_the_first_thence_is_told_and_left_out() -> None:
    deed = read("Beginning at a stone which bears N 45 E 20 poles from the mill; thence East 100 feet")
    assert len(deed.calls) == 1
    assert any("it is no call" in note for note in deed.notes)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("thence with the creek as it meanders; thence N 5 E 10 ch", "without bearing and distance"),
        ("thence North three hundred feet; thence N 5 E 10 ch", "without a distance"),
        ("thence northwesterly 330 feet along the road; thence N 5 E 10 ch", "without a bearing"),
        ("N 45°30' 330 feet", "no E or W closes"),
        ("N 45 30 330 feet", "no E or W closes"),
        ("45°30' 330 feet", "without compass letters"),
        ("thence N 5 E 45°30' 330 feet", "without compass letters"),
        ("thence E 5 S 20 poles", "write it from north or south"),
        ("thence 45°30' 330 feet", "without compass letters"),
        ("N 45 E 100 ft\n330 ft\nS 5 W 20 ft", "line 2: '330 ft': a call without a bearing"),
        ("N 45 60 E 100 ft", "minutes are 60"),
        ("N 45 30 60 E 100 ft", "seconds are 60"),
        ("N 45.5 30 E 100 ft", "only the last"),
        ("azimuth 361 100 ft", "it must be 360 at most"),
        ("N 1/0 E 100 ft", "zero below the line"),
        ("N 45 E 0 ft", "longer than nothing"),
        ("N 45 E 40 miles", "30 km at most"),
        ("N 45 E " + "9" * 400 + " ft", "too large"),
        ("N 45 E 10 ft to the point of beginning; thence S 5 E 10 ft", "more calls follow"),
        (
            "thence N 5 E 9 ft to the beginning of a curve having a radius of 9 ft; thence S 5 E 9 ft",
            "no call along it",
        ),
        ("thence along a curve to the left and to the right, radius 10 ft, delta 9°", "right and left"),
        ("thence along a curve to the left, radius 10 ft, N 45 E", "must say of what it is"),
        ("thence along a curve to the left, radius 10 ft, radius 20 ft", "a second radius"),
        ("nothing of the kind", "no call was found"),
        ("", "no call was found"),
    ],
)
def test_what_looks_like_a_call_and_is_none_is_a_fault_with_its_line(text: str, words: str) -> None:
    faults = read(text).faults
    assert any(words in fault for fault in faults), faults
    assert all(fault.startswith("line ") for fault in faults if "no call was found" not in fault)


def test_all_faults_are_told_at_once() -> None:
    assert len(read("N 95 E 10 ft\nN 45 75 E 10 ft\nN 45 E\nS 5 E 10 yrds").faults) == 4


def test_excepted_ground_is_told() -> None:
    assert any("is not cut out" in note for note in read("N 45 E 10 ft, less and except the church lot").notes)


def test_curves_take_their_words_from_the_call_and_from_the_one_before() -> None:
    deed = read(
        "thence N 5 E 330 feet to the beginning of a tangent curve concave to the west having a radius of 100 feet; "
        "thence northerly along said curve, through a central angle of 30°; thence along a non-tangent curve to the "
        "left, CB=N 45 E, CH=100.00', D=4°30'; thence 50.00 feet along a 160.00 foot radius curve to the right"
    )
    assert deed.faults == ()
    _, first, second, third = (call.curve for call in deed.calls)
    assert first is not None
    assert second is not None
    assert third is not None
    assert first.radius is not None
    assert first.radius.length_m == pytest.approx(30.48)
    assert first.concave_deg == 270.0
    assert first.delta is not None
    assert first.delta.deg == 30.0
    assert second.is_non_tangent
    assert second.turn == "left"
    assert second.chord is not None
    assert second.degree is not None
    assert third.arc is not None
    assert third.radius is not None
    assert third.turn == "right"
    assert third.arc.length_m == pytest.approx(15.24)
    assert third.radius.length_m == pytest.approx(48.768)
