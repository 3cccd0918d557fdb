"""What a tool carries: amounts with their units, what one load does and a stop takes, and the keys of the shed file."""

from pathlib import Path

import pytest

from fieldgeo.errors import InputError, ShedError
from fieldgeo.machinery.amounts import (
    BUSHEL_LB,
    Holding,
    amount_text,
    converted,
    parse_amount,
    parse_flow,
    parse_holding,
    parse_rate,
)
from fieldgeo.machinery.shed import read_shed
from fieldgeo.machinery.supply import Supply, read_supply_values, supply_of

FOOT_M, ACRE_M2, HECTARE_M2 = 0.3048, 4046.8564224, 10_000.0
POUND_KG, GALLON_M3 = 0.45359237, 0.003785411784


@pytest.mark.parametrize(
    ("text", "value", "kind", "parts"),
    [
        ("30bu", 30.0, "bu", 1),
        ("30 bushels", 30.0, "bu", 1),
        ("3x15bu", 45.0, "bu", 3),
        ("3 X 15 bu", 45.0, "bu", 3),
        ("1000gal", 1000 * GALLON_M3, "m3", 1),
        ("1,000 gallons", 1000 * GALLON_M3, "m3", 1),
        ("600L", 0.6, "m3", 1),
        ("2.5m3", 2.5, "m3", 1),
        ("200lb", 200 * POUND_KG, "kg", 1),
        ("8ton", 16_000 * POUND_KG, "kg", 1),
        ("8t", 8000.0, "kg", 1),
        ("1e3kg", 1000.0, "kg", 1),
        ("50bags", 50.0, "bags", 1),
        ("4,000,000seeds", 4e6, "seeds", 1),
    ],
)
def test_amounts_by_the_definition_of_their_unit(text: str, value: float, kind: str, parts: int) -> None:
    # Derived: gallon of 231 cubic inches, pound of 0.45359237 kg, ton of 2,000 lb, tonne of 1,000 kg.
    amount = parse_amount(text)
    assert (amount.kind, amount.parts) == (kind, parts)
    assert amount.value == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "value", "kind"),
    [
        ("0.43bu/ac", 0.43 / ACRE_M2, "bu"),
        ("20 gal/acre", 20 * GALLON_M3 / ACRE_M2, "m3"),
        ("150kg/ha", 150 / HECTARE_M2, "kg"),
        ("32,000 seeds per acre", 32_000 / ACRE_M2, "seeds"),
        ("8t/ha", 8000 / HECTARE_M2, "kg"),
    ],
)
def test_rates_by_the_definition_of_their_units(text: str, value: float, kind: str) -> None:
    rate = parse_rate(text)
    assert rate.kind == kind
    assert rate.value == pytest.approx(value, rel=1e-12)


def test_unit_factors_of_rates_derived() -> None:
    # 1 lb/ac = 1.12085 kg/ha and 1 gal/ac = 9.3540 L/ha, as unit tables print them.
    assert parse_rate("1lb/ac").value * HECTARE_M2 == pytest.approx(1.12085, abs=5e-6)
    assert parse_rate("1gal/ac").value * HECTARE_M2 * 1000 == pytest.approx(9.3540, abs=5e-5)


def test_flow_is_by_the_second() -> None:
    assert parse_flow("90bu/min").value == pytest.approx(1.5)
    assert parse_flow("36m3/h").value == pytest.approx(0.01)


@pytest.mark.parametrize(
    "text",
    ["", "30", "bu", "30 acres", "0bu", "-3bu", "1e999bu", "30bu/ac", "8T", "8mt", "0x15bu", "1,00bu", "x", "9**9bu"],
)
def test_amounts_that_cannot_be_are_refused_with_what_came_and_the_rule(text: str) -> None:
    with pytest.raises(InputError, match=r"tank: got .*such as 30bu"):
        parse_amount(text)


@pytest.mark.parametrize("text", ["0.43bu", "0.43/ac", "0bu/ac", "-1bu/ac", "1bu/mi", "1bu/ac/h", "1bu/", "8T/ha"])
def test_rates_that_cannot_be_are_refused(text: str) -> None:
    with pytest.raises(InputError, match=r"rate: got .*such as 0\.43bu/ac"):
        parse_rate(text)


def test_a_long_text_is_not_shown_whole() -> None:
    with pytest.raises(InputError) as caught:
        parse_amount("9" * 5000)
    assert len(str(caught.value)) < 300


def test_weight_of_a_bushel_read() -> None:
    # Corn 56 lb, soybeans 60 lb: extension publications; 1 bu/ac = 62.77 kg/ha corn and 67.25 kg/ha soybeans.
    assert BUSHEL_LB == {"corn": 56.0, "soybeans": 60.0}
    for crop, kg_ha in (("corn", 62.77), ("soybean", 67.25)):
        holding = parse_holding(crop)
        in_kg = converted(1 / ACRE_M2 * HECTARE_M2, "bu", "kg", [holding], what="")
        assert in_kg == pytest.approx(kg_ha, abs=0.006)


def test_several_holdings_lead_from_bags_to_bushels_derived() -> None:
    # 10 bags of 80,000 seeds at 1,600 seeds a pound are 500 lb; at 56 lb a bushel 8.929 bu.
    holdings = [parse_holding(text) for text in ("56lb/bu", "80000seeds/bag", "1600 seeds per lb")]
    assert converted(10, "bags", "bu", holdings, what="") == pytest.approx(500 / 56)
    assert converted(500 / 56, "bu", "bags", holdings, what="") == pytest.approx(10)


def test_seeds_of_a_rate_by_weight_published() -> None:
    # Agronomy 212 calculations: seed needed, Iowa State University, 2003: 60 lb/ac are 132,000 seeds at 2,200 a pound
    # and 180,000 at 3,000.
    for seeds, printed in (("2200 seeds per lb", 132_000), ("3000 seeds per lb", 180_000)):
        in_kg = parse_rate("60lb/ac").value * ACRE_M2
        assert converted(in_kg, "kg", "seeds", [parse_holding(seeds)], what="") == pytest.approx(printed)


def test_a_planter_load_constructed() -> None:
    # Constructed: 32 units of 80,000 seeds at 32,000 an acre plant 80 ac, 87,120 ft of 40 ft.
    supply = supply_of({"tank": "32bags", "rate": "32000seeds/ac", "holds": "80000seeds/bag"})
    load_m2 = supply.load_m2()
    assert load_m2 is not None
    assert load_m2 / ACRE_M2 == pytest.approx(80)
    assert load_m2 / (40 * FOOT_M) / FOOT_M == pytest.approx(87_120)


@pytest.mark.parametrize("text", ["wheat", "80000seeds", "1000L/gal", "0seeds/bag", "-5lb/bu", "80000seeds/ac"])
def test_holdings_that_cannot_be_are_refused(text: str) -> None:
    with pytest.raises(InputError, match="holds: got"):
        parse_holding(text)


def test_holding_of_one_kind_in_itself_is_refused() -> None:
    with pytest.raises(InputError, match="another kind"):
        Holding(size=3.0, small="kg", large="kg")


@pytest.mark.parametrize(
    ("value", "kind", "text"),
    [(4.5, "kg", "9.92 lb"), (0.05, "m3", "13.2 gal"), (12345.6, "bu", "12,346 bu"), (2.0, "bags", "2 bags")],
)
def test_amounts_as_a_farmer_reads_them(value: float, kind: str, text: str) -> None:
    assert amount_text(value, kind) == text  # type: ignore[arg-type]


# What one load does ------------------------------------------------------------------------------------------------


def test_thirty_bushels_of_corn_plant_seventy_acres_common_practice_no_source() -> None:
    load_m2 = supply_of({"tank": "30bu", "rate": "0.43bu/ac"}).load_m2()
    assert load_m2 is not None
    assert load_m2 / ACRE_M2 == pytest.approx(70, abs=0.3)  # 69.77: the rate is rounded


def test_three_hoppers_of_soybeans_plant_forty_five_acres_common_practice_no_source() -> None:
    supply = supply_of({"tank": "3x15bu", "rate": "1bu/ac"})
    assert (supply.capacity, supply.hoppers) == (45.0, 3)
    assert supply.load_m2() == pytest.approx(45 * ACRE_M2)


@pytest.mark.parametrize(
    ("tank_bu", "yield_bu_ac", "head_ft", "acres", "run_ft"),
    [
        (180, 180, 15, 1.0, 2904.0),  # common practice, no source; derived: 43,560 / 15
        (350, 200, 30, 1.75, 2541.0),  # LG03, derived: 350 x 43,560 / (200 x 30)
        (300, 200, 20, 1.5, 3267.0),  # D-TANK1, derived
    ],
)
def test_run_on_one_grain_tank(tank_bu: float, yield_bu_ac: float, head_ft: float, acres: float, run_ft: float) -> None:
    supply = supply_of({"tank": f"{tank_bu}bu", "yield": f"{yield_bu_ac}bu/ac"})
    load_m2, run_m = supply.load_m2(), supply.load_run_m(head_ft * FOOT_M)
    assert load_m2 is not None
    assert run_m is not None
    assert load_m2 / ACRE_M2 == pytest.approx(acres)
    assert run_m / FOOT_M == pytest.approx(run_ft, abs=1e-6)


def test_units_of_tank_and_rate_meet_in_that_of_the_tank() -> None:
    by_seed = supply_of({"tank": "50bags", "rate": "32000seeds/ac", "holds": "80000seeds/bag"})
    assert by_seed.kind == "bags"
    assert by_seed.load_m2() == pytest.approx(125 * ACRE_M2)  # derived: 50 x 80,000 / 32,000
    by_weight = supply_of({"tank": "30bu", "rate": "24lb/ac", "holds": ["corn"]})
    assert by_weight.load_m2() == pytest.approx(70 * ACRE_M2)  # derived: 30 x 56 / 24
    assert by_weight.bushel_kg == pytest.approx(56 * POUND_KG)


@pytest.mark.parametrize(
    ("values", "match"),
    [
        ({"tank": "30bu", "rate": "20gal/ac"}, "tank and rate do not go together: a volume beside bushels"),
        ({"tank": "50bags", "rate": "32000seeds/ac"}, "seeds beside bags.*80000seeds/bag"),
        ({"tank": "300bu", "yield": "9t/ha"}, "tank and yield do not go together"),
        ({"tank": "300bu", "yield": "180bu/ac", "stop_flow": "9kg/s"}, "tank and flow of a stop do not go together"),
        ({"tank": "30bu"}, "give a rate .* or a yield"),
        ({"tank": "30bu", "rate": "1bu/ac", "yield": "9bu/ac"}, "not both"),
        ({"rate": "1bu/ac"}, "tank: missing"),
        ({"tank": "0bu", "rate": "1bu/ac"}, "tank: got '0bu'"),
        ({"tank": "30bu", "rate": "1bu/ac", "stop_setup": "-1min"}, "set-up of a stop: got '-1min'"),
        ({"tank": "30bu", "rate": "1bu/ac", "stop_setup": "9h"}, "from 0s to 4h"),
        ({"tank": "30bu", "rate": "1bu/ac", "hopper": "9bu"}, "'hopper' is not known"),
    ],
)
def test_supplies_that_cannot_be_are_refused(values: dict[str, str], match: str) -> None:
    with pytest.raises(InputError, match=match):
        supply_of(values)


@pytest.mark.parametrize("change", [{"capacity": 0.0}, {"rate_m2": -1.0}, {"setup_s": -1.0}, {"hoppers": 0},
                                    {"capacity": float("nan")}, {"flow_s": 0.0}, {"job": "lend"}])  # fmt: skip
def test_numbers_out_of_range_are_refused(change: dict[str, object]) -> None:
    good: dict[str, object] = {"job": "fill", "kind": "bu", "capacity": 30.0, "rate_m2": 1e-4}
    with pytest.raises(InputError, match=f"supply: {next(iter(change))} is"):
        Supply(**good | change)  # type: ignore[arg-type]


def test_time_of_a_stop_is_setup_and_flow_derived() -> None:
    # 4 min and 24 bu at 12 bu/min: 6 min.
    supply = supply_of({"tank": "30bu", "rate": "1bu/ac", "stop_setup": "4min", "stop_flow": "12bu/min"})
    assert supply.stop_s(24.0) == pytest.approx(360.0)
    assert supply_of({"tank": "30bu", "rate": "1bu/ac"}).stop_s(24.0) == 0.0


def test_values_are_read_one_by_one() -> None:
    assert read_supply_values({"stop_setup": "4min"}) == {"stop_setup": 240.0}
    with pytest.raises(InputError, match="tank: got 3"):
        read_supply_values({"tank": 3})  # type: ignore[dict-item]


# The shed file -----------------------------------------------------------------------------------------------------


def shed_text(*lines: str) -> str:
    return "\n".join(["[[tool]]", 'name = "planter"', "rows = 16", 'row_spacing = "30in"', *lines])


def test_shed_says_what_a_tool_carries(tmp_path: Path) -> None:
    path = tmp_path / "shed.toml"
    path.write_text(shed_text('tank = "3x15bu"', 'rate = "24lb/ac"', 'holds = ["corn"]', 'stop_setup = "4min"'))
    load = read_shed(path).loads["planter"]
    supply = supply_of(load)
    assert (supply.capacity, supply.hoppers, supply.setup_s) == (45.0, 3, 240.0)


def test_shed_without_loads_has_none(tmp_path: Path) -> None:
    path = tmp_path / "shed.toml"
    path.write_text(shed_text())
    assert read_shed(path).loads == {}


def test_faults_of_a_load_are_all_told(tmp_path: Path) -> None:
    path = tmp_path / "shed.toml"
    path.write_text(shed_text('tank = "0bu"', "rate = 3", 'holds = "wheat"'))
    with pytest.raises(ShedError) as caught:
        read_shed(path)
    problems = caught.value.problems
    assert len(problems) == 3
    assert all(problem.startswith("tool 1 ('planter'): ") for problem in problems)
    assert ["tank" in problems[0], "rate" in problems[1], "holds" in problems[2]] == [True] * 3


def test_units_in_the_shed_that_do_not_go_together_are_told(tmp_path: Path) -> None:
    path = tmp_path / "shed.toml"
    path.write_text(shed_text('tank = "30bu"', 'rate = "20gal/ac"'))
    with pytest.raises(ShedError, match="do not go together"):
        read_shed(path)
