"""Shut-offs on point rows: closed forms, what always holds, and what a person asks for."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely
from command import message, run
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from shapes import outlines

from fieldgeo import InputError, Tool, field_from_shape, lay, read_outline, read_shed
from fieldgeo.analysis.asked_shutoffs import applied_of, read_price, read_shutoff_price
from fieldgeo.analysis.shutoff_figures import shutoff_figures
from fieldgeo.analysis.shutoffs import farm_shutoffs, sections_to_try, shutoffs_on
from fieldgeo.outline.field import Field
from fieldgeo.report.shutoff_text import shutoff_lines, shutoff_notes

SAMPLES = Path(__file__).parent.parent / "sample_fields"
SHED = SAMPLES / "shed.toml"
ACRE_M2 = 4046.8564224
SIDE_M = 2640 * 0.3048
TWELVE_ROWS = Tool(name="12 rows", width_m=12 * 30 * 0.0254, rows=12, row_spacing_m=30 * 0.0254)
HALVES = tuple(
    field_from_shape(shapely.Polygon(corners), name=name)
    for name, corners in (
        ("south", [(0, 0), (SIDE_M, 0), (0, SIDE_M)]),
        ("north", [(SIDE_M, 0), (SIDE_M, SIDE_M), (0, SIDE_M)]),
    )
)
TRIANGLE = shapely.Polygon([(0, 0), (400, 0), (0, 300)])


def test_quarter_section_cut_by_a_diagonal_published_north_dakota_state_university_2010() -> None:
    # OV02 and OV03. North Dakota State University, "Producers May Want to Consider Section and Row Control", release of
    # 24 May 2010: a quarter section cut by a diagonal, 12-row planter: nearly two acres. Closed form (derived): edges
    # of length B met at angle th give B w cos(th) / 2 on either side, 1.8182 ac, and n sections an nth of it.
    farm = farm_shutoffs(HALVES, TWELVE_ROWS, (1, 2, 3, 4, 12), direction_deg=90.0, headland=0)
    doubled = [sum(field.choices[at].doubled_m2 for field in farm.fields) / ACRE_M2 for at in range(5)]
    assert doubled == pytest.approx([1.8182, 0.9091, 0.6061, 0.4545, 0.1515], abs=1e-3)
    assert doubled[0] == pytest.approx(1.8182, abs=0.002)
    edge_m, width_m = 2**0.5 * SIDE_M, TWELVE_ROWS.width_m
    closed = [2 * edge_m * width_m * 0.5**0.5 / 2 / n / ACRE_M2 for n in (1, 2, 3, 4, 12)]
    assert doubled == pytest.approx(closed, abs=1e-4)
    assert farm.saved_m2(12) / ACRE_M2 == pytest.approx(1.8182 * 11 / 12, abs=2e-3)


@pytest.mark.parametrize(
    ("direction_deg", "spill_m2"), [((90.0 - 143.1301023542) % 180.0, 3000.0), (90.0, 2400.0)], ids=["OV04", "OV13"]
)
def test_triangle_derived_ov04_ov13(direction_deg: float, spill_m2: float) -> None:
    # OV04 along the hypotenuse: (w / 2)(300 x 0.6 + 400 x 0.8) = 3000 m2, 5.0 %. OV13 along the 400 m leg: 25 passes,
    # 62,400 m2 swept of 60,000, 4.0 %. Four sections leave a quarter.
    field = field_from_shape(TRIANGLE)
    found = shutoffs_on(field, Tool(name="t", width_m=12.0), (1, 4), direction_deg=direction_deg, headland=0)
    assert [choice.doubled_m2 for choice in found.choices] == pytest.approx([spill_m2, spill_m2 / 4], abs=0.5)
    assert found.saved_m2(found.choices[1]) == pytest.approx(0.75 * spill_m2, abs=0.5)


def test_point_rows_into_a_headland_derived() -> None:
    # derived: the same triangle with end rows all round: what ran beyond the slanted side now lies on them. On a
    # parallelogram of 45 degrees and 8 passes of 10 m each end of each pass is 10 x 10 / 2 m2, a fifth with 5 sections.
    shape = shapely.Polygon([(0, 0), (300, 0), (400, 100), (100, 100)])
    tool = Tool(name="t", width_m=10.0, turn_radius_m=6.0)
    found = shutoffs_on(field_from_shape(shape), tool, (1, 5), direction_deg=90.0, headland=1, sides="all")
    rows = [choice.coverage.overlap_by_cause_m2["point_rows"] for choice in found.choices]
    assert rows == pytest.approx([8 * 2 * 50.0, 8 * 2 * 10.0], abs=1e-3)
    corners = [choice.coverage.overlap_by_cause_m2["headland_corners"] for choice in found.choices]
    assert corners[0] == corners[1]


def test_pulled_in_pass_shuts_off_what_is_done_derived() -> None:
    # derived: 100 m are three passes of 30 m and one pulled in over 20 m of the third; three sections of 10 m leave
    # none of it.
    field = field_from_shape(shapely.box(0, 0, 400, 100))
    found = shutoffs_on(field, Tool(name="t", width_m=30.0), (1, 3), direction_deg=90.0, headland=0)
    assert [choice.coverage.overlap_m2 + choice.coverage.spill_m2 for choice in found.choices] == pytest.approx(
        [20 * 400.0, 0.0], abs=1e-3
    )


def test_whole_tool_is_the_plan_of_lay() -> None:
    field, tool = read_outline(SAMPLES / "slant_road.geojson"), Tool(name="t", width_m=12.0, turn_radius_m=6.0)
    found = shutoffs_on(field, replace(tool, sections=6), (1, 6))
    plan = lay(field, tool)
    assert found.direction_deg == plan.layout.direction_deg
    assert found.choices[0].coverage == plan.coverage


@settings(max_examples=25, deadline=None)
@given(
    shape=outlines(("star", "smooth", "triangle", "ell", "hole")),
    direction_deg=st.floats(0, 180),
    headland=st.integers(0, 2),
)
def test_sections_of_sections_never_double_more_ground(
    shape: shapely.MultiPolygon, direction_deg: float, headland: int
) -> None:
    # Parts of parts only ever stop earlier, on the same lines: a property, for numbers that divide one another.
    tool = Tool(name="t", width_m=12.0, turn_radius_m=6.0)
    field = field_from_shape(shape)
    assume(field.area_m2 > 2000)
    found = shutoffs_on(field, tool, (1, 2, 4, 16), direction_deg=direction_deg, headland=headland)
    swept = np.array([choice.coverage.swept_m2 for choice in found.choices])
    doubled = np.array([choice.doubled_m2 for choice in found.choices])
    little = 1e-6 * field.area_m2
    assert (np.diff(swept) <= little).all()
    assert (np.diff(doubled) <= little).all()
    assert all(found.saved_m2(choice) >= -little for choice in found.choices)


def test_published_range_and_ours_are_of_one_size() -> None:
    # published: 0.1 to 15.5 % planted twice on 52 fields (University of Tennessee, The Economics of Automatic Section
    # Control for Planters, Computers and Electronics in Agriculture 95:1-10, 2013). Other fields than these, so that
    # only the size is held: slanted fields of the samples come within it, the square one has none.
    planter = read_shed(SHED).tool("16-row planter")
    shares = []
    for name in ("slant_road", "railroad", "square_forty"):
        found = shutoffs_on(read_outline(SAMPLES / f"{name}.geojson"), planter, (1, 16))
        shares.append(100 * found.choices[0].doubled_m2 / found.area_m2)
    assert all(0.1 <= share <= 15.5 for share in shares[:2])
    assert shares[2] < 0.1


@pytest.mark.parametrize(
    ("rows", "asked", "expected"),
    [
        (16, (), (1, 2, 4, 16)),
        (23, (), (1, 23)),  # 2 and 4 do not divide 23
        (None, (), (1, 2, 4)),
        (16, (8, "rows"), (1, 8, 16)),
        (None, (3,), (1, 3)),
    ],
)
def test_sections_to_try(rows: int | None, asked: tuple[int, ...], expected: tuple[int, ...]) -> None:
    tool = Tool(name="t", width_m=(rows or 12) * 1.0, rows=rows, row_spacing_m=None if rows is None else 1.0)
    assert sections_to_try(tool, asked) == expected


def farm_of(field: Field, **values: object) -> dict[str, object]:
    farm = farm_shutoffs([field], TWELVE_ROWS, (1, 2, 12), direction_deg=90.0, headland=0)
    return shutoff_figures(replace(farm, **values))  # type: ignore[arg-type]


def test_seed_money_and_payback_derived() -> None:
    # derived: half the field of OV02 doubles 0.90909 ac; every row saves 11/12 of it, 0.83333 ac. At 32,000 seeds/ac
    # 26,667 seeds, at 80,000 seeds a bag a third of a bag, at 300 a bag 100 a year; 1,000 is paid in 10 years.
    applied = applied_of("32000seeds/ac", ["80000seeds/bag"], (300.0, "bag"))
    figures = farm_of(HALVES[0], applied=applied, price_of={12: 1000.0})
    every = figures["farm"]["choices"][-1]  # type: ignore[index]
    assert every["saved_ac"] == pytest.approx(0.83333, abs=1e-3)
    assert every["saved_amount"]["seeds"] == pytest.approx(26_667, abs=30)
    assert every["saved_bought"]["bags"] == pytest.approx(1 / 3, abs=1e-3)
    assert every["saved_money"] == pytest.approx(100.0, abs=0.1)
    assert every["payback_yr"] == pytest.approx(10.0, abs=0.01)
    assert every["is_every_row"] is True
    lines = list(shutoff_lines(figures))
    assert max(map(len, lines)) <= 80
    assert any("every row at 1,000: pay for themselves in 10.0 years" in line for line in lines)
    assert "15.5 %" in " ".join(shutoff_notes(figures))
    json.dumps(figures, allow_nan=False)


def test_spray_without_a_price_derived() -> None:
    # derived: 0.83333 ac at 15 gal/ac are 12.5 gal, 47.3 L
    figures = farm_of(HALVES[0], applied=applied_of("15gal/ac"), price_of={12: 1000.0})
    every = figures["farm"]["choices"][-1]  # type: ignore[index]
    assert every["saved_amount"]["gal"] == pytest.approx(12.5, abs=0.02)
    assert every["saved_amount"]["L"] == pytest.approx(47.3, abs=0.1)
    assert every["saved_money"] is None
    assert every["payback_yr"] is None
    assert any("give --rate and --price" in " ".join(line.split()) for line in shutoff_lines(figures))


def test_lines_fit_with_and_without_a_rate_and_a_price() -> None:
    # Without a rate there is no amount to show, without a price no money.
    farm = farm_shutoffs(HALVES, TWELVE_ROWS, (1, 4, 12), direction_deg=90.0, headland=0)
    bare = list(shutoff_lines(shutoff_figures(farm)))
    assert bare[-3:] == [
        "  whole tool  1.82 ac  1.1 %",
        "  4 sections  0.45 ac  0.3 %  1.36 ac",
        "  every row   0.15 ac  0.1 %  1.67 ac",
    ]
    for price in (None, (250.0, "bag")):
        applied = applied_of("34000seeds/ac", ["80000seeds/bag"], price)
        lines = list(shutoff_lines(shutoff_figures(replace(farm, applied=applied))))
        assert max(map(len, lines)) <= 80
        assert ("a year" in lines[-4]) == (price is not None)


def test_field_without_point_rows_pays_nothing() -> None:
    applied = applied_of("32000seeds/ac", ["80000seeds/bag"], (300.0, "bag"))
    square = field_from_shape(shapely.box(0, 0, 10 * TWELVE_ROWS.width_m, 400))
    farm = farm_shutoffs([square], TWELVE_ROWS, (1, 12), direction_deg=0.0, headland=0)
    figures = shutoff_figures(replace(farm, applied=applied, price_of={12: 500.0}))
    assert figures["farm"]["choices"][1]["saved_m2"] == pytest.approx(0.0, abs=1e-3)
    text = " ".join(" ".join(shutoff_lines(figures)).split())
    assert "save nothing here" in text or "over 99 years" in text


@pytest.mark.parametrize("text", ["2500", "four=2500", "4=", "4=-1", "rows=dear"])
def test_shutoff_prices_that_cannot_be_read(text: str) -> None:
    with pytest.raises(InputError, match="must"):
        read_shutoff_price(text)


@pytest.mark.parametrize("text", ["300", "bag", "300/acre", "-3/bag", "300 bag"])
def test_prices_that_cannot_be_read(text: str) -> None:
    with pytest.raises(InputError, match="such as 300/bag"):
        read_price(text)


def test_prices_and_rates_that_do_not_go_together() -> None:
    with pytest.raises(InputError, match="do not go together"):
        applied_of("32000seeds/ac", (), (300.0, "bag"))


@pytest.mark.parametrize(
    ("asked", "message_"), [((17,), "from 1 to 16, the rows of"), ((0,), "from 1 to 16")], ids=["more", "none"]
)
def test_sections_that_cannot_be(asked: tuple[int, ...], message_: str) -> None:
    with pytest.raises(InputError, match=message_):
        sections_to_try(Tool(name="t", width_m=16.0, rows=16, row_spacing_m=1.0), asked)
    with pytest.raises(InputError, match="has no rows"):
        sections_to_try(Tool(name="t", width_m=16.0), ("rows",))


def test_command_on_two_fields() -> None:
    words = ["shutoffs", *(str(SAMPLES / f"{name}.geojson") for name in ("slant_road", "square_forty"))]
    words += ["--shed", str(SHED), "--tool", "16-row planter", "--rate", "34000seeds/ac", "--holds", "80000seeds/bag"]
    result = run(*words, "--price", "300/bag", "--shutoff-price", "rows=9600", "--direction", "90")
    assert result.exit_code == 0, result.stderr
    assert "every row at 9,600" in result.stdout
    assert max(map(len, result.stdout.splitlines())) <= 80
    assert "Slant Road" in result.stdout
    figures = json.loads(run(*words, "--direction", "90", "--json").stdout)
    assert figures["sections_tried"] == [1, 2, 4, 16]
    assert len(figures["fields"]) == 2
    total = sum(field["choices"][0]["doubled_m2"] for field in figures["fields"])
    assert figures["farm"]["choices"][0]["doubled_m2"] == pytest.approx(total)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--width", "30ft", "--price", "3/gal"], "need --rate"),
        (["--width", "30ft", "--shutoff-price", "rows=3"], "has no rows"),
        (["--width", "30ft", "--width", "40ft"], "more than one tool"),
        (["--rows", "8", "--row-spacing", "30in", "--try", "9"], "the rows of"),
        (["--rows", "8", "--row-spacing", "30in", "--shutoff-price", "9=5"], "the rows of"),
    ],
)
def test_wrong_usage(words: list[str], said: str) -> None:
    assert said in message(run("shutoffs", str(SAMPLES / "square_forty.geojson"), *words), 2)
