"""Published efficiencies, and capacities worked from them.

`data/field_capacity_rows.csv` holds 31 rows printed by Iowa State University Extension: PM 696, "Estimating Field
Capacity of Farm Machines" (April 2001), and Ag Decision Maker A3-24, "Estimating the Field Capacity of Farm Machines"
(later revision). The 30 in spacing of knives in its rows for ammonia applicators is inferred.
"""

import csv
from dataclasses import FrozenInstanceError
from pathlib import Path

import pytest

from fieldgeo.errors import InputError
from fieldgeo.machinery import (
    effective_capacity_m2_s,
    kinds,
    published_efficiency,
    theoretical_capacity_m2_s,
)
from fieldgeo.machinery.published import GROWERS_WORDS, PublishedEfficiency
from fieldgeo.units import ACRE_M2, FOOT_M, HECTARE_M2, HOUR_S, MPH_M_S

PRINTED = (Path(__file__).parent / "data/field_capacity_rows.csv").read_text(encoding="utf-8")
PRINTED_ROWS = list(csv.DictReader(PRINTED.splitlines()))
D497 = "ASAE/ASABE D497"


def acres_per_hour(width_ft: float, speed_mph: float, efficiency: float) -> float:
    capacity = effective_capacity_m2_s(width_m=width_ft * FOOT_M, speed_m_s=speed_mph * MPH_M_S, efficiency=efficiency)
    return capacity * HOUR_S / ACRE_M2


def published(kind: str) -> PublishedEfficiency:
    found = published_efficiency(kind)
    assert found is not None
    return found


@pytest.mark.parametrize(
    "row", PRINTED_ROWS, ids=[f"{row['machine']} {row['size_as_printed']}" for row in PRINTED_ROWS]
)
def test_published_capacity_iowa_state_pm_696_and_a3_24(row: dict[str, str]) -> None:
    acres = acres_per_hour(float(row["width_ft"]), float(row["speed_mph"]), float(row["field_efficiency_pct"]) / 100)
    assert acres == pytest.approx(float(row["published_efc_ac_h"]), abs=0.05)  # printed to one decimal


def test_every_printed_row_is_there() -> None:
    assert len(PRINTED_ROWS) == 31
    assert {row["status"] for row in PRINTED_ROWS} == {"read"}


@pytest.mark.parametrize(
    ("width_ft", "speed_mph", "efficiency", "acres"),
    [
        (10 * 18 / 12, 5, 0.83, 7.5),  # ten 18 in bottoms, PM 696
        (7 * 30 / 12, 5, 0.83, 8.8),  # seven shanks at 30 in, PM 696
        (13.75, 5.5, 0.85, 7.8),  # chisel plow of 13 ft 9 in, PM 696
        (15 * 30 / 12, 6, 0.65, 17.7),  # fifteen knives, A3-24; spacing of 30 in inferred
        (80, 12, 0.68, 79.1),  # spreader, A3-24
    ],
)
def test_published_worked_examples_iowa_state(
    width_ft: float, speed_mph: float, efficiency: float, acres: float
) -> None:
    assert acres_per_hour(width_ft, speed_mph, efficiency) == pytest.approx(acres, abs=0.05)


def test_derived_16_row_planter_with_inputs_of_illinois_fefo_04_05() -> None:
    # Speed and efficiency published: University of Illinois farmdoc, FEFO 04-05, "Planter Costs for Alternative Farm
    # Sizes", 2004. Rows of 30 in assumed: 40 ft x 6 mph / 8.25 x 0.70 = 20.3636 ac/h.
    assert acres_per_hour(40, 6, 0.70) == pytest.approx(20.3636, abs=5e-4)


def test_derived_subsoiler_day_with_formula_of_south_african_guide_2015_16() -> None:
    # "Guide to Machinery Costs 2015/16": hectares in a 10 h day = km/h x m x efficiency = 5 x 2 x 0.83 = 8.3.
    capacity = effective_capacity_m2_s(width_m=2.0, speed_m_s=5 / 3.6, efficiency=0.83)
    assert capacity * 10 * HOUR_S / HECTARE_M2 == pytest.approx(8.3, rel=1e-12)


def test_derived_acre_hours_divide_by_8_25() -> None:
    # 43,560 ft2 in an acre / 5,280 ft in a mile = 8.25.
    acres = theoretical_capacity_m2_s(width_m=33 * FOOT_M, speed_m_s=5 * MPH_M_S) * HOUR_S / ACRE_M2
    assert acres == pytest.approx(33 * 5 / 8.25, rel=1e-12)


def test_all_of_the_width_and_time_gives_the_theoretical_capacity() -> None:
    assert effective_capacity_m2_s(width_m=12.0, speed_m_s=2.5, efficiency=1.0) == 30.0


@pytest.mark.parametrize("efficiency", [0.0, -0.1, 1.01, 70.0, float("nan"), float("inf")])
def test_efficiency_out_of_range_is_refused(efficiency: float) -> None:
    with pytest.raises(InputError, match=r"efficiency: got .* above 0 and at most 1"):
        effective_capacity_m2_s(width_m=12.0, speed_m_s=2.5, efficiency=efficiency)


@pytest.mark.parametrize("value", [0.0, -1.0, float("nan"), float("inf")])
def test_width_and_speed_must_be_above_zero(value: float) -> None:
    with pytest.raises(InputError, match="width_m: got"):
        theoretical_capacity_m2_s(width_m=value, speed_m_s=2.0)
    with pytest.raises(InputError, match="speed_m_s: got"):
        effective_capacity_m2_s(width_m=2.0, speed_m_s=value, efficiency=0.5)


def test_planter_range_recalled_from_d497_table_3() -> None:
    # Recalled: the table itself was not read, so this is no proof of D497, only that the row arrives whole.
    planter = published("row-crop planter")
    assert (planter.low, planter.typical, planter.high) == (0.50, 0.65, 0.75)
    assert planter.speed_typical_m_s == pytest.approx(5.5 * 0.44704, rel=1e-12)
    assert planter.source.startswith(D497)
    assert planter.is_recalled


def test_a_recalled_figure_says_so() -> None:
    planter = published("planter")
    assert "recalled from memory, not read" in planter.citation
    assert planter.describe().startswith("row-crop planter: 50 to 75 %, typically 65 % (ASAE/ASABE D497")
    assert planter.describe().endswith("recalled from memory, not read)")


def test_published_subsoiler_iowa_state_pm_696_was_read() -> None:
    subsoiler = published("subsoiler")
    assert (subsoiler.low, subsoiler.typical, subsoiler.high) == (None, 0.85, None)
    assert subsoiler.status == "read"
    assert subsoiler.citation == subsoiler.source
    assert "memory" not in subsoiler.describe()
    assert "typically 85 %" in subsoiler.describe()


def test_every_row_has_source_status_and_a_sensible_order() -> None:
    rows = [published(kind) for kind in kinds()]
    assert len({row.machine for row in rows}) == 31
    for row in rows:
        assert row.source
        assert row.status in ("read", "memory")
        assert row.is_recalled == row.source.startswith(D497)
        efficiencies = [value for value in (row.low, row.typical, row.high) if value is not None]
        assert efficiencies == sorted(efficiencies)
        assert all(0 < value <= 1 for value in efficiencies)
        speeds = [v for v in (row.speed_low_m_s, row.speed_typical_m_s, row.speed_high_m_s) if v is not None]
        assert speeds == sorted(speeds)
        assert all(0.4 < value < 10 for value in speeds)


def test_doubts_are_kept() -> None:
    assert "doubtful" in published("combine").note
    assert "older boom sprayers" in published("sprayer").note


@pytest.mark.parametrize(("word", "machine"), GROWERS_WORDS.items())
def test_growers_words_lead_to_a_machine_of_the_table(word: str, machine: str) -> None:
    assert published(word).machine == machine


@pytest.mark.parametrize("kind", ["No-Till Planter", "no till planter", "  NO-TILL   PLANTER "])
def test_case_spaces_and_hyphens_do_not_matter(kind: str) -> None:
    assert published(kind).machine == "row-crop planter"


def test_words_never_hide_a_machine_of_the_table() -> None:
    assert not set(GROWERS_WORDS) & {published(kind).machine for kind in kinds()}
    assert len(set(kinds())) == len(kinds())


def test_no_kind_no_figure() -> None:
    assert published_efficiency("") is None
    assert published_efficiency("  ") is None


@pytest.mark.parametrize(
    ("kind", "near"),
    [
        ("cultivator", "field cultivator, row-crop cultivator, row cultivator"),  # could be either: the grower is asked
        ("plantr", "planter"),
        ("moldbord plow", "moldboard plow"),
        ("spaceship", "plow, plough"),  # nothing near: all the words
    ],
)
def test_unknown_kind_names_the_near_ones(kind: str, near: str) -> None:
    with pytest.raises(InputError, match=rf"kind: got '{kind}'.*{near}"):
        published_efficiency(kind)


def test_a_row_cannot_be_altered() -> None:
    with pytest.raises(FrozenInstanceError):
        published("planter").low = 0.1  # type: ignore[misc]
