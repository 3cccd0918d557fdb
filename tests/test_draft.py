"""Draft, traction and rotary power: the published equations by hand, and the tables they come from."""

import csv
from math import atan, sin
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

import fieldgeo.machinery
from fieldgeo.errors import InputError
from fieldgeo.machinery.draft import SOILS, draft_of, draft_table
from fieldgeo.machinery.rotary import rotary_table
from fieldgeo.machinery.tables import HOW_KNOWN, source_of, table_rows
from fieldgeo.machinery.traction import (
    SURFACES,
    Ground,
    drawbar_per_pto,
    grade_force_n,
    motion_resistance_ratio,
    pto_per_engine,
    slip_range,
    transmission_share,
    usual_slip,
)
from fieldgeo.machinery.tractor import TRACTOR_KINDS
from fieldgeo.units import FOOT_M, INCH_M, MPH_M_S, POUND_FORCE_N, parse_draft_n_m, to_horsepower, to_pounds_force

TABLES = (
    "draft",
    "tractive",
    "rotary_power",
    "repair",
    "remaining_value",
    "fuel_equations",
    "fuel_per_acre",
    "timeliness",
)
KM_H = 1 / 3.6
NO_TILL = "row-crop planter no-till, seed+fertilizer+herbicide, one fluted coulter per row"
PLOW, CHISEL = "moldboard plow", "chisel plow, 5 cm straight point"


@pytest.mark.parametrize("name", TABLES)
def test_every_row_of_a_table_has_a_source_and_says_how_well_it_is_known(name: str) -> None:
    rows = table_rows(f"{name}.csv")
    assert rows
    for row in rows:
        source = source_of(row)
        assert len(source.text) > 10
        assert source.status in HOW_KNOWN
        # What is recalled says so wherever it is shown.
        assert source.is_recalled != source.status.startswith("read")
        assert ("not read" in source.citation or "doubt" in source.citation) == source.is_recalled


def test_the_tables_lie_beside_the_modules() -> None:
    folder = Path(fieldgeo.machinery.__file__).parent
    assert {f"{name}.csv" for name in TABLES} <= {file.name for file in folder.glob("*.csv")}


def test_none_of_the_draft_rows_was_read_and_those_of_the_tillage_tools_agree_with_themselves() -> None:
    assert len(draft_table()) == 43  # 42 of the table, and one derived from two of them
    assert all(row.source.is_recalled for row in draft_table().values())


# D497 draft, coefficients recalled (D497 Table 1): worked by hand -----------------------------------------------------


@pytest.mark.parametrize(
    ("tool", "soil", "count", "depth_cm", "speed_km_h", "newtons"),
    [
        # Built check: 0.7 x (652 + 5.1 x 49) x 1.8 x 20 = 0.7 x 901.9 x 36
        (PLOW, "medium", 1.8, 20, 7, 22727.88),
        # 1.0 x (652 + 5.1 x 25) x 2 x 25 = 779.5 x 50
        (PLOW, "fine", 2.0, 25, 5, 38975.0),
        # 0.85 x (91 + 5.4 x 8) x 10 x 20 = 0.85 x 134.2 x 200
        (CHISEL, "medium", 10, 20, 8, 22814.0),
        # 0.65 x (91 + 5.4 x 6) x 7 x 15 = 0.65 x 123.4 x 105
        (CHISEL, "coarse", 7, 15, 6, 8422.05),
        # T = 1 and no speed: 0.96 x 1820 x 12
        (NO_TILL, "medium", 12, None, 8, 20966.4),
        # 2600 x 9.144
        ("roller-harrow", "fine", 9.144, None, 9, 23774.4),
    ],
)  # fmt: skip
def test_derived_draft_d497_table_1_recalled(
    tool: str, soil: Any, count: float, depth_cm: float | None, speed_km_h: float, newtons: float
) -> None:
    depth_m = None if depth_cm is None else depth_cm / 100
    force = draft_of(tool).force_n(count=count, speed_m_s=speed_km_h * KM_H, soil=soil, depth_m=depth_m)
    assert force == pytest.approx(newtons, rel=1e-9)


def test_published_chisel_coefficients_textbook_2007() -> None:
    # Introduction to Agricultural Engineering Technology, 2007, prints A = 91 and B = 5.4; its soil factor for medium
    # soil is 0.7, where the recalled standard has 0.85: the row keeps the recalled one and says so.
    chisel = draft_of(CHISEL)
    assert (chisel.a, chisel.b, chisel.c) == (91, 5.4, 0)
    assert chisel.soil_factors["medium"] == 0.85
    assert "0.7" in chisel.source.note


@pytest.mark.parametrize("row", table_rows("draft.csv"), ids=lambda row: row["tool"])
def test_both_unit_systems_of_the_draft_table_agree(row: dict[str, str]) -> None:
    """SI form (N, km/h, cm, m) against the US form (lbf, mph, in, ft), at the middle of farm speeds: within 8 %."""
    speed_mph, depth_in = 5.0, 6.0
    draft = draft_of(row["tool"])
    per_m = 1 / FOOT_M if draft.per == "m" else 1.0
    a, b, c = (float(row[name]) for name in ("a_us", "b_us", "c_us"))
    us_lbf = float(row["f1_fine"]) * (a + b * speed_mph + c * speed_mph**2) * (depth_in if draft.is_by_depth else 1)
    depth_m = depth_in * INCH_M if draft.is_by_depth else None
    si_n = draft.force_n(count=1 / per_m, speed_m_s=speed_mph * MPH_M_S, soil="fine", depth_m=depth_m)
    assert to_pounds_force(si_n) == pytest.approx(us_lbf, rel=0.08)


def test_derived_no_till_row_is_the_difference_of_two_rows() -> None:
    drawn = draft_of("row-crop planter prepared seedbed, drawn, seeding only").a
    attached = draft_of("row-crop planter prepared seedbed, drawn, seed+fertilizer+herbicide").a
    no_till = draft_of(NO_TILL).a
    derived = draft_of("row-crop planter no-till, seeding only, one fluted coulter per row")
    assert derived.a == drawn + (no_till - attached) == 1170
    assert derived.source.status == "memory_derived"


@given(
    tool=st.sampled_from(sorted(draft_table())),
    speed_m_s=st.floats(0.5, 6),
    count=st.floats(0.5, 60),
    depth_m=st.floats(0.02, 0.6),
)
def test_draft_grows_with_speed_depth_and_count_and_lessens_from_fine_to_coarse(
    tool: str, speed_m_s: float, count: float, depth_m: float
) -> None:
    draft = draft_of(tool)
    depth = depth_m if draft.is_by_depth else None
    deeper = 2 * depth_m if draft.is_by_depth else None
    forces = [draft.force_n(count=count, speed_m_s=speed_m_s, soil=soil, depth_m=depth) for soil in SOILS]
    assert forces == sorted(forces, reverse=True)
    assert draft.force_n(count=count, speed_m_s=2 * speed_m_s, depth_m=depth) >= forces[1]
    assert draft.force_n(count=2 * count, speed_m_s=speed_m_s, depth_m=depth) == pytest.approx(2 * forces[1])
    if deeper is not None:
        assert draft.force_n(count=count, speed_m_s=speed_m_s, depth_m=deeper) == pytest.approx(2 * forces[1])


@pytest.mark.parametrize(
    ("given_values", "match"),
    [
        ({"soil": "muck"}, r"soil: got 'muck'\. It must be one of fine, medium, coarse"),
        ({"count": 0.0}, "number of units: got 0. It must be a finite number above zero"),
        ({"speed_m_s": -1.0}, "speed_m_s: got -1"),
        ({"speed_m_s": float("nan")}, "speed_m_s: got nan"),
        ({"depth_m": None}, "depth: the draft of 'moldboard plow' needs a depth"),
        ({"depth_m": -0.1}, "depth_m: got -0.1"),
    ],
)
def test_draft_values_that_cannot_be_are_refused(given_values: dict[str, Any], match: str) -> None:
    values: dict[str, Any] = {"count": 2.0, "speed_m_s": 2.0, "depth_m": 0.2} | given_values
    with pytest.raises(InputError, match=match):
        draft_of(PLOW).force_n(**values)


def test_a_depth_where_the_table_has_none_is_refused() -> None:
    with pytest.raises(InputError, match="has no depth in the table"):
        draft_of("roller-harrow").force_n(count=9, speed_m_s=2, depth_m=0.1)


def test_names_of_the_draft_table() -> None:
    assert draft_of("  Moldboard Plow ").tool == PLOW
    assert draft_of("row-crop cultivator, S").tool == "row-crop cultivator, S-tine"
    with pytest.raises(InputError, match=r"several tools .* begin so.*C-shank; row-crop cultivator, no-till"):
        draft_of("row-crop cultivator")
    with pytest.raises(InputError, match=r"no tool of the draft table goes by that name.*grain drill"):
        draft_of("drill")
    with pytest.raises(InputError, match="and 33 more") as caught:
        draft_of("spade")
    assert len(str(caught.value)) < 1000


# Traction -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("drive", "shares"),
    [
        ("two-wheel drive", (0.87, 0.72, 0.67, 0.55)),
        ("front-wheel assist", (0.87, 0.77, 0.73, 0.65)),
        ("four-wheel drive", (0.88, 0.78, 0.75, 0.70)),
        # The source prints 0.79 for tracks on firm soil, below tilled soil: likely a misprint, 0.82 is recalled.
        ("tracks", (0.88, 0.82, 0.80, 0.78)),
    ],
)
def test_published_tractive_ratios_university_of_arizona(drive: str, shares: tuple[float, ...]) -> None:
    assert tuple(drawbar_per_pto(drive, surface).value for surface in SURFACES) == shares


def test_where_the_table_conflicts_the_source_of_the_figure_is_told() -> None:
    assert drawbar_per_pto("tracks", "firm").source.status == "memory"
    assert drawbar_per_pto("tracks", "tilled").source.status == "read"
    assert "conflict" in drawbar_per_pto("tracks", "firm").source.note


def test_published_pto_of_flywheel_and_slip_university_of_arizona() -> None:
    assert pto_per_engine().value == 0.9
    assert transmission_share().value == 0.96  # EP496, recalled
    assert transmission_share().source.is_recalled
    ranges = [(0.04, 0.08), (0.08, 0.10), (0.11, 0.13), (0.14, 0.16)]
    assert [slip_range(surface) for surface in SURFACES] == ranges
    assert usual_slip("tilled") == pytest.approx(0.12)


def test_derived_motion_resistance_d497_recalled() -> None:
    # firm: 1/55 + 0.04 + 0.5 x 0.09 / sqrt(55) = 0.018182 + 0.04 + 0.006068
    assert motion_resistance_ratio("firm").value == pytest.approx(0.064250, abs=1e-6)
    # soft: 1/20 + 0.04 + 0.5 x 0.15 / sqrt(20) = 0.05 + 0.04 + 0.016771
    assert motion_resistance_ratio("soft").value == pytest.approx(0.106771, abs=1e-6)
    assert motion_resistance_ratio("soft").source.is_recalled


def test_derived_grade_force_is_about_one_per_cent_of_weight_for_each_per_cent() -> None:
    assert grade_force_n(10_000, 0.01) == pytest.approx(0.01 * 10_000 * 9.80665, rel=1e-4)
    assert grade_force_n(10_000, 0.3) == pytest.approx(98066.5 * sin(atan(0.3)))
    assert grade_force_n(10_000, 0.0) == 0


@pytest.mark.parametrize(
    ("values", "match"),
    [
        ({"soil": "muck"}, "soil: got 'muck'"),
        ({"surface": "ice"}, "surface: got 'ice'. It must be one of concrete, firm"),
        ({"slope": 0.9}, "slope: got 0.9"),
        ({"slope": float("nan")}, "slope: got nan"),
        ({"slope": -0.1}, "slope: got -0.1"),
    ],
)
def test_ground_that_cannot_be_is_refused(values: dict[str, Any], match: str) -> None:
    with pytest.raises(InputError, match=match):
        Ground(**values)


def test_an_unknown_drive_is_refused() -> None:
    with pytest.raises(InputError, match="drive: got 'mule'"):
        drawbar_per_pto("mule", "firm")
    assert all(drawbar_per_pto(kind, "firm").value > 0.5 for kind in TRACTOR_KINDS)


# Rotary power -------------------------------------------------------------------------------------------------------


def test_derived_rotary_power_d497_table_2_recalled() -> None:
    corn, grain = rotary_table()["combine, corn"], rotary_table()["combine, small grains"]
    # 35 + 1.6 x 30 t/h; 30 t/h is 8.3333 kg/s
    assert corn.power_w(width_m=4.57, feed_kg_s=30 / 3.6) == pytest.approx(83_000)
    # 20 + 3.6 x 12 t/h
    assert grain.power_w(width_m=6.1, feed_kg_s=12 / 3.6) == pytest.approx(63_200)
    assert grain.power_w(width_m=6.1, feed_kg_s=0) == pytest.approx(20_000)
    assert corn.source.is_recalled
    with pytest.raises(InputError, match="rotary power: got a width of 0 m"):
        corn.power_w(width_m=0, feed_kg_s=1)


# Units both ways ----------------------------------------------------------------------------------------------------


def test_derived_units_of_force_and_power() -> None:
    # 1 lbf = 4.4482216 N, 1 lbf/ft = 14.593903 N/m; 1 hp = 745.69987 W
    assert pytest.approx(4.4482216152605, rel=1e-12) == POUND_FORCE_N
    assert parse_draft_n_m("1lbf/ft") == pytest.approx(14.593903, abs=1e-6)
    assert parse_draft_n_m("200lbf/ft") == pytest.approx(parse_draft_n_m("2.91878kN/m"), rel=1e-6)
    assert to_pounds_force(1000 * POUND_FORCE_N) == pytest.approx(1000)
    assert to_horsepower(745.699872) == pytest.approx(1, abs=1e-9)


def test_the_table_of_drafts_is_plain_csv() -> None:
    folder = Path(fieldgeo.machinery.__file__).parent
    rows = list(csv.DictReader((folder / "draft.csv").read_text(encoding="utf-8").splitlines()))
    assert {row["status"] for row in rows} == {"memory_checked", "memory_low", "memory_derived"}
