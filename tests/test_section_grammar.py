"""Section descriptions taken apart: what they say, what is refused and why, and that nothing else comes out."""

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldgeo.outline.section.aliquot import SECTION_M2, Aliquot
from fieldgeo.outline.section.grammar import LONGEST_TEXT, parse_description
from fieldgeo.outline.section.township import place_in_township
from fieldgeo.units import ACRE_M2, FOOT_M

WINDS = ("N", "S", "E", "W", "NE", "NW", "SE", "SW")


def parts(text: str) -> list[str]:
    found = parse_description(text)
    assert found.faults == (), found.faults
    return [part.text for part in found.parts]


def acres(text: str) -> float:
    return sum(part.nominal_m2 for part in parse_description(text).parts) / ACRE_M2


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        # Published: Clinton County (Illinois) county history, land-survey page; BLM, Manual of Surveying Instructions,
        # 1973, 3-75.
        ("NE1/4", 160),
        ("SE1/4 SE1/4", 40),
        ("N1/2 NE1/4", 80),
        # Derived: halving 640 acres. Parts between commas add up.
        ("SE1/4 SE1/4 SE1/4", 10),
        ("NW1/4 SE1/4, S1/2 SW1/4", 120),
        ("E1/2 NE1/4", 80),
        ("NE1/4 SW1/4", 40),
        ("S1/2 NW1/4 NE1/4", 20),
        ("E1/2 SE1/4", 80),
        ("W1/2", 320),
        ("N1/2 N1/2", 160),
        ("NW1/4 NW1/4 NW1/4", 10),
        ("all", 640),
    ],
)
def test_nominal_acres_published_blm_manual_1973_and_derived(text: str, expected: float) -> None:
    assert acres(text) == pytest.approx(expected, abs=1e-9)


def test_township_and_section_published_blm_manual_1973_3_75() -> None:
    section_m2 = Aliquot(steps=()).nominal_m2
    assert section_m2 == pytest.approx(SECTION_M2)
    assert 36 * section_m2 / ACRE_M2 == pytest.approx(23040, abs=1e-9)
    assert section_m2 / ACRE_M2 == 640
    # Derived: 640 acres by the international foot, and 10.36 m2 more by the US survey foot of 1200/3937 m.
    assert section_m2 == pytest.approx(2589988.11, abs=0.01)
    assert section_m2 * (1200 / 3937 / FOOT_M) ** 2 - section_m2 == pytest.approx(10.36, abs=0.01)


def test_numbering_of_a_township_published_university_ce_331_notes() -> None:
    # "Subdivision of Sections"; BLM, Module 2, Public Land Survey System study guide.
    corners = {1: (6, 1), 6: (1, 1), 7: (1, 2), 12: (6, 2), 31: (1, 6), 36: (6, 6)}
    assert {section: place_in_township(section) for section in corners} == corners
    assert place_in_township(22) == (4, 4)  # derived
    assert len({place_in_township(section) for section in range(1, 37)}) == 36


WAYS = {
    "W1/2 NW1/4": [
        "W1/2 NW1/4", "W½ of the NW¼", "W½NW¼", "the West Half of the Northwest Quarter of Section 12", "W2NW4",
        "W/2 NW/4", "w1/2nw1/4", "West one-half of the north west one-quarter", "W 1/2 of NW 1/4 Sec. 12",
        "W. 1/2 N.W. 1/4", "W½NW¼ Sec. 12-T83N-R24W",
        "Sec. 12: W1/2NW1/4", "T83N R24W Sec. 12, W2NW", "W2NW 12-83-24", "W1/2 NW1/4 in said Section No. 12.",
        "the West Half (W1/2) of the Northwest Quarter (NW 1/4) of Section 12",
        "the West Half of the Northwest Quarter (W1/2 NW1/4), Sec. 12, Twp. 83 North, Range 24 West of the 5th P.M.",
        "all of the W1/2 of the NW1/4 of Sec 12, T-83-N, R-24-W, Third Principal Meridian",
    ],
    "SE1/4 SE1/4 SE1/4": ["SE1/4SE1/4SE1/4", "SESESE", "SE4SE4SE4", "SE/4 of the SE/4 of the SE/4", "SE¼SE¼SE¼"],
    "all of the section": ["all", "all of Section 12", "Section 12", "the whole of section 12, T83N", "entire Sec. 12"],
}  # fmt: skip


@pytest.mark.parametrize(("expected", "text"), [(part, text) for part, texts in WAYS.items() for text in texts])
def test_ways_to_write_a_part(expected: str, text: str) -> None:
    assert parts(text) == [expected]
    assert parse_description(text).sections in {(12,), ()}


@pytest.mark.parametrize("joint", [", ", "; ", " and ", ", and ", " & ", " and the "])
def test_parts_beside_each_other(joint: str) -> None:
    assert parts(f"S1/2 SW1/4{joint}NW1/4 SE1/4 Sec. 12") == ["S1/2 SW1/4", "NW1/4 SE1/4"]


def test_place_is_read() -> None:
    found = parse_description("NW1/4 of Section 7, Township 83 North, Range 24 West")
    assert (found.sections, found.townships, found.ranges) == ((7,), ("83N",), ("24W",))
    assert parse_description("NW1/4 T. 083 N., R. 24 W.").townships == ("83N",)


@pytest.mark.parametrize(
    "word", ["except", "less", "less and except", "excepting", "except therefrom", "save and except"]
)
def test_what_is_left_out(word: str) -> None:
    found = parse_description(f"NW1/4, {word} the NE1/4 NW1/4 and S1/2 SW1/4 NW1/4")
    assert not found.faults
    assert [part.text for part in found.parts] == ["NW1/4"]
    assert [part.text for part in found.less] == ["NE1/4 NW1/4", "S1/2 SW1/4 NW1/4"]


def test_what_is_left_out_may_lie_in_two_parts() -> None:
    assert parse_description("NW1/4 and NE1/4 except N1/2 N1/2").faults == ()


def test_half_that_stands_by_itself_is_told() -> None:
    (note,) = parse_description("N1/2 and SE1/4 of SW1/4").notes
    assert "N1/2 stands by itself" in note
    assert parse_description("NE1/4 NW1/4, SE1/4").notes == ()


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("Lot 3", "plat"),
        ("Gov't Lot 2 and SE1/4 NW1/4", "plat"),
        ("Government Lots 1 & 2", "plat"),
        ("Fractional NW1/4", "plat"),
        ("N 20 acres of NE1/4", "'20 acres'.*deed"),
        ("W1/2 NW1/4, 80 acres more or less", "leave acres out"),
        ("the north 660 ft of NE1/4", "'660 ft'"),
        ("E 3/4", "halves.*quarters"),
        ("E 2/3 of NE1/4", "'2/3'.*halves"),
        ("E/3", "halves"),
        ("the west ¾", "halves"),
        ("the north third of NE1/4", "'third'.*halves"),
        ("part of the NW1/4", "sides of its own"),
        ("undivided 1/2 interest in NE1/4", "ownership"),
        ("NE1/4 N1/2", "quarter of a half"),
        ("N1/2, NE1/4", "N1/2 and NE1/4: the same ground is named twice"),
        ("NE1/4 and NE1/4", "twice"),
        ("NW1/4 except SE1/4", "does not lie within"),
        ("N1/2 except NE1/4 and NW1/4", "nothing is left"),
        ("NW1/4 except", "no part"),
        ("Section 37", "1 to 36"),
        ("NW1/4 Sec. 0", "1 to 36"),
        ("W1/2, of the NW1/4", "'of NW1/4' begins"),
        ("West Half (E1/2)", "E1/2 in brackets"),
        ("NW1/4 Section 12 NE1/4", "no comma"),
        ("N1/2" * 7, "6 are the most"),
        ("", "no part is named"),
        (" , ;", "no part is named"),
        ("T83N R24W", "no part is named"),
        ("N1/2 of", "'of' is not understood after 'N1/2"),
        ("the back forty", "'back forty' is not understood"),
        ("NE2", "'2' is not understood after 'NE'"),
        ("N", "not understood"),
        ("E 1/2\x1b[2J", "not understood"),
        ("NW1/4 " * 100, "500 are the most"),
    ],
)
def test_refused_with_a_reason(text: str, reason: str) -> None:
    found = parse_description(text)
    assert re.search(reason, "\n".join(found.faults))
    assert "\x1b" not in "".join(found.faults)


def test_all_reasons_are_told_at_once() -> None:
    assert len(parse_description("Lot 3, N 20 acres and E 3/4 of SE1/4").faults) == 3


def test_a_third_principal_meridian_is_no_fraction() -> None:
    assert parts("SW1/4 of Section 3 of the Third Principal Meridian") == ["SW1/4"]


@given(st.lists(st.sampled_from(WINDS), min_size=1, max_size=6))
def test_every_part_is_read_back_from_its_own_text(steps: list[str]) -> None:
    part = Aliquot(steps=tuple(steps))
    found = parse_description(part.text)
    assert found.parts == (part,)
    assert bool(found.faults) == part.is_quarter_of_half


@given(st.lists(st.sampled_from(WINDS), max_size=6), st.lists(st.sampled_from(WINDS), max_size=6))
def test_shares_are_halves_of_halves(steps: list[str], others: list[str]) -> None:
    one, other = Aliquot(steps=tuple(steps)).rectangle, Aliquot(steps=tuple(others)).rectangle
    assert 1 / one.share == 2 ** sum(map(len, steps))
    assert one.shared(other) == other.shared(one) <= min(one.share, other.share)
    # Right to left: whatever comes before lies within what follows.
    assert Aliquot(steps=("N", *steps)).rectangle.shared(one) * 2 == one.share


WORDS = st.sampled_from(
    [*WINDS, "N1/2", "NE1/4", "½", "of", "the", ",", "and", "except", "less", "(", ")", "Section 12", "Sec. 99", "all",
     "T83N", "R24W", "5th P.M.", "Lot", "acres", "20", "/", "1/2", "2", "4", "half", "quarter", "-", ".", "&", ":"]
)  # fmt: skip


@settings(max_examples=300)
@given(
    st.one_of(
        st.text(max_size=80), st.lists(WORDS, max_size=30).map("".join), st.lists(WORDS, max_size=30).map(" ".join)
    )
)
def test_any_text_gives_parts_or_faults(text: str) -> None:
    found = parse_description(text)
    assert found.faults or found.parts
    for message in (*found.faults, *found.notes):
        assert message.isprintable()
        assert len(message) < 1000


@pytest.mark.parametrize("piece", ["(", "N1/2 ", ",", "and ", "Sec. 1 ", "NW", "/", "1", " ", "one-"])
def test_time_is_bounded(piece: str) -> None:
    assert parse_description(piece * 100_000).faults
    assert parse_description((piece * LONGEST_TEXT)[:LONGEST_TEXT]).faults
