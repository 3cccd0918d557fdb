"""What an operation costs: remaining value, repairs, sums by hand, break-even areas, and everything that is missing."""

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
import shapely
from command import SAMPLES, SHED, answer, message, run
from hypothesis import given
from hypothesis import strategies as st

from fieldgeo.analysis.cost_figures import cost_figures
from fieldgeo.analysis.lay import lay
from fieldgeo.analysis.operation import AskedOperation, WorkAsked, asked_operation
from fieldgeo.errors import FaultyInputError, InputError
from fieldgeo.machinery.cost import CostRules, Operation, break_even, operation_cost
from fieldgeo.machinery.owning import Ownership, capital_recovery_factor, yearly_cost
from fieldgeo.machinery.shed import Shed, read_shed
from fieldgeo.machinery.timeliness import Delay, daily_losses, timeliness_cost
from fieldgeo.machinery.tool import Tool
from fieldgeo.machinery.tool_entry import tool_of
from fieldgeo.machinery.tractor import Tractor
from fieldgeo.machinery.worth import remaining_value_of, remaining_value_table, repair_of, repair_table
from fieldgeo.outline.field import field_from_shape
from fieldgeo.report.cost_text import cost_lines, cost_notes
from fieldgeo.units import ACRE_M2, GALLON_L, HECTARE_M2, HORSEPOWER_W

PLANTER = tool_of({"name": "planter", "kind": "planter", "rows": 16, "row_spacing": "30in", "hitch": "pulled"})[0]
TRACTOR = Tractor(name="tractor", power_w=161 * HORSEPOWER_W, kind="front-wheel assist")
M2_S = ACRE_M2 / 3600  # 1 ac/h


# Remaining value and repairs -----------------------------------------------------------------------------------------


def test_published_remaining_value_iowa_state_a3_29() -> None:
    # Iowa State University Extension, Ag Decision Maker A3-29: 23 % for a 180 hp tractor of 15 years and 400 h a year;
    # (0.9756 - 0.1187 sqrt(15) - 0.0019 sqrt(400))2 = 22.84 %, coefficients of D497 recalled.
    large = remaining_value_of(Tractor(name="t", power_w=180 * HORSEPOWER_W))
    assert large.share(age_years=15, use_h_yr=400) == pytest.approx(0.23, abs=0.005)


@pytest.mark.parametrize(
    ("machines", "age", "use", "share"),
    [
        ("combine", 5, 300, 0.3908),  # 1.1318 - 0.1654 x 2.23607 - 0.0079 x 17.32051 = 0.62512
        ("combine", 10, 300, 0.2227),  # 1.1318 - 0.1654 x 3.16228 - 0.13683 = 0.47193
        ("planter", 6, 100, 0.4764),  # 0.883 - 0.0787 x 2.44949 = 0.69023
        ("planter", 0, 100, 1.0),  # new
    ],
)
def test_derived_remaining_value_d497_recalled(machines: str, age: float, use: float, share: float) -> None:
    row = remaining_value_table()[machines]
    assert row.share(age_years=age, use_h_yr=use) == pytest.approx(share, abs=5e-5)
    assert row.source.is_recalled


@given(age=st.floats(0, 100), use=st.floats(0, 5000))
def test_remaining_value_lies_between_nothing_and_the_price(age: float, use: float) -> None:
    for row in remaining_value_table().values():
        assert 0 <= row.share(age_years=age, use_h_yr=use) <= 1
        assert row.share(age_years=age + 1, use_h_yr=use) <= row.share(age_years=age, use_h_yr=use)


@pytest.mark.parametrize(
    ("machine", "end_h", "share"),
    [
        ("row-crop planter", 1500, 0.7498),  # 0.32 x 1.5^2.1
        ("row-crop planter", 500, 0.07464),  # 0.32 x 0.5^2.1
        ("moldboard plow", 2000, 1.0098),  # 0.29 x 2^1.8
        ("moldboard plow", 1000, 0.29),
    ],
)
def test_derived_repairs_d497_table_3_recalled(machine: str, end_h: float, share: float) -> None:
    row = repair_table()[machine]
    assert row.share(end_h=end_h) == pytest.approx(share, abs=5e-5)
    half = row.share(end_h=end_h / 2)
    assert row.share(start_h=end_h / 2, end_h=end_h) == pytest.approx(share - half, abs=5e-5)


@pytest.mark.parametrize("row", repair_table().values(), ids=repair_table())
def test_repairs_over_a_life_agree_with_the_total_the_table_states(row: Any) -> None:
    stated = {"fertilizer spreader": 80, "row-crop planter": 75, "moldboard plow": 100, "combine, self-propelled": 40}
    if row.machine in stated:
        assert 100 * row.share(end_h=row.life_h) == pytest.approx(stated[row.machine], abs=1.5)
    assert row.share(end_h=row.life_h) > row.share(end_h=row.life_h / 2) > 0


def test_rows_of_kinds() -> None:
    assert repair_of(TRACTOR).machine.startswith("tractor, two-wheel")
    assert repair_of(replace(TRACTOR, kind="tracks")).machine.startswith("tractor, four-wheel")
    assert repair_of(tool_of({"name": "s", "kind": "subsoiler", "width": "10ft"})[0]).machine.startswith("chisel plow")
    assert [remaining_value_of(replace(TRACTOR, power_w=w)).machines for w in (50e3, 100e3, 150e3)] == [
        "tractor < 60 kW (80 hp)", "tractor 60-112 kW (80-150 hp)", "tractor > 112 kW (150 hp)",
    ]  # fmt: skip
    with pytest.raises(InputError, match=r"no repair costs are published for its kind, 'none given'"):
        repair_of(Tool(name="x", width_m=3.0))


# A machine in a year -------------------------------------------------------------------------------------------------


def test_derived_capital_recovery() -> None:
    # 0.08 / (1 - 1.08^-10) = 0.149029; without interest a tenth.
    assert capital_recovery_factor(0.08, 10) == pytest.approx(0.149029, abs=1e-6)
    assert capital_recovery_factor(0.0, 10) == 0.1
    with pytest.raises(InputError, match="interest: got 5 over 10 years"):
        capital_recovery_factor(5.0, 10)


def test_derived_year_of_a_new_planter() -> None:
    # Price 100,000, kept 10 years, 100 h a year, 5 %, 1.5 %.
    # End: (0.883 - 0.0787 sqrt(10))2 = 0.634128^2 = 0.402119 -> 40,211.9.
    # Depreciation (100,000 - 40,211.9) / 10 = 5,978.81. Recovery 59,788.1 x 0.129505 + 40,211.9 x 0.05 = 9,753.43;
    # interest 3,774.62. Taxes and so on 0.015 x 70,105.95 = 1,051.59. Repairs 0.32 x 1^2.1 / 10 = 3,200.
    year = yearly_cost(PLANTER, Ownership(price=1e5), use_h_yr=100, interest=0.05, taxes_insurance_housing=0.015)
    assert year.value_now == 1e5
    assert year.value_at_end == pytest.approx(40_211.9, abs=1)
    assert year.depreciation == pytest.approx(5_978.81, abs=0.2)
    assert year.interest == pytest.approx(3_774.62, abs=0.5)
    assert year.taxes_insurance_housing == pytest.approx(1_051.59, abs=0.1)
    assert year.repairs == pytest.approx(3_200)
    assert year.total == pytest.approx(5_978.81 + 3_774.62 + 1_051.59 + 3_200, abs=1)
    assert year.fixed + year.repairs == pytest.approx(year.total)
    assert year.per_hour == pytest.approx(year.total / 100)


def test_derived_year_of_a_used_planter_goes_by_its_age_and_hours() -> None:
    own = Ownership(price=1e5, age_years=6, keep_years=4, hours=900)
    year = yearly_cost(PLANTER, own, use_h_yr=100, interest=0.0, taxes_insurance_housing=0.0)
    # Worth now 0.476411, at 10 years 0.402119; repairs 0.32 x (1.3^2.1 - 0.9^2.1) / 4 = 0.32 x 0.933512 / 4
    assert year.value_now == pytest.approx(47_641, abs=1)
    assert year.depreciation == pytest.approx((47_641 - 40_212) / 4, abs=1)
    assert year.repairs == pytest.approx(0.32 * (1.3**2.1 - 0.9**2.1) / 4 * 1e5)
    assert year.interest == pytest.approx(0)
    assert yearly_cost(
        PLANTER, replace(own, hours=None), use_h_yr=150, interest=0.0, taxes_insurance_housing=0.0
    ).repairs == pytest.approx(0.32 * (1.5**2.1 - 0.9**2.1) / 4 * 1e5)  # 6 x 150 = 900 h so far


def test_what_was_paid_for_a_new_machine_is_what_it_loses_from() -> None:
    shares: dict[str, float] = {"use_h_yr": 100, "interest": 0.0, "taxes_insurance_housing": 0.0}
    paid = yearly_cost(PLANTER, Ownership(price=1e5, paid=9e4), **shares)
    assert paid.depreciation == pytest.approx((90_000 - 40_212) / 10, abs=1)
    cheap = yearly_cost(PLANTER, Ownership(price=1e5, paid=3e4), **shares)
    assert cheap.depreciation == 0  # no machine gains by age


# An operation --------------------------------------------------------------------------------------------------------

OWN = Ownership(price=1e5)
TRACTOR_OWN = Ownership(price=2e5, age_years=5, use_h_yr=400)
RULES = CostRules(interest=0.05, taxes_insurance_housing=0.01, fuel_price_l=1.0, wage_h=20.0)
WORK = Operation(
    tool=PLANTER, tool_owned=OWN, tractor=TRACTOR, tractor_owned=TRACTOR_OWN, capacity_m2_s=16 * M2_S, fuel_l_h=25.0
)


def test_derived_operation_sums_to_its_entries() -> None:
    # 800 ac at 16 ac/h are 50 h: fuel 50 x 25 x 1.00 = 1,250; lubrication 15 % = 187.50; labor 50 x 1.1 x 20 = 1,100.
    cost = operation_cost(WORK, area_m2=800 * ACRE_M2, rules=RULES)
    assert cost.field_h == pytest.approx(50)
    assert (cost.fuel, cost.lubrication, cost.labor) == pytest.approx((1250, 187.5, 1100))
    assert cost.timeliness == 0
    shares = {"interest": 0.05, "taxes_insurance_housing": 0.01}
    tool = yearly_cost(PLANTER, OWN, use_h_yr=50, **shares)
    tractor = yearly_cost(TRACTOR, TRACTOR_OWN, use_h_yr=400, **shares)
    assert cost.total == pytest.approx(tool.total + 50 / 400 * tractor.total + 1250 + 187.5 + 1100)
    assert sum(cost.entries().values()) == pytest.approx(cost.total)
    assert cost.per_hour * 50 == pytest.approx(cost.total)
    assert cost.per_m2 * 800 * ACRE_M2 == pytest.approx(cost.total)


def test_a_machine_that_drives_itself_takes_more_labor() -> None:
    alone = replace(WORK, tractor=None, tractor_owned=None)
    assert operation_cost(alone, area_m2=800 * ACRE_M2, rules=RULES).labor == pytest.approx(50 * 1.2 * 20)


def test_a_tool_with_other_work_beside_costs_its_share_of_hours() -> None:
    shared = replace(WORK, tool_owned=replace(OWN, use_h_yr=200.0))
    cost = operation_cost(shared, area_m2=800 * ACRE_M2, rules=RULES)
    tool = yearly_cost(PLANTER, OWN, use_h_yr=200, interest=0.05, taxes_insurance_housing=0.01)
    assert cost.tool == tool
    assert cost.repairs < operation_cost(WORK, area_m2=800 * ACRE_M2, rules=RULES).repairs + tool.repairs


@given(acres=st.floats(10, 5000), capacity=st.floats(1, 60), price=st.floats(1e3, 1e6))
def test_every_entry_is_above_zero_and_an_hour_times_hours_is_a_year(
    acres: float, capacity: float, price: float
) -> None:
    delay = Delay(loss=0.005, value_m2=0.2)
    work = replace(WORK, capacity_m2_s=capacity * M2_S, tool_owned=Ownership(price=price), delay=delay)
    cost = operation_cost(work, area_m2=acres * ACRE_M2, rules=RULES)
    assert min(cost.entries().values()) >= 0
    assert cost.per_hour * cost.field_h == pytest.approx(cost.total)


# Timeliness ----------------------------------------------------------------------------------------------------------


def test_derived_timeliness_ep496_recalled() -> None:
    # Built check: 0.005 x 200^2 ha2 x 3.5 t/ha x 350 / (4 x 10 h x 6 ha/h x 0.5) = 2,041.67 a year.
    delay = Delay(loss=0.005, value_m2=3.5 * 350 / HECTARE_M2, hours_a_day=10, fit_share=0.5)
    area, capacity = 200 * HECTARE_M2, 6 * HECTARE_M2 / 3600
    assert timeliness_cost(delay, area_m2=area, capacity_m2_s=capacity) == pytest.approx(2041.67, abs=0.01)
    # Work that starts at the best date, Z = 2: twice as much; twice the area: four times.
    assert timeliness_cost(replace(delay, both_sides=False), area_m2=area, capacity_m2_s=capacity) == pytest.approx(
        4083.33, abs=0.01
    )
    assert timeliness_cost(delay, area_m2=2 * area, capacity_m2_s=capacity) == pytest.approx(8166.67, abs=0.01)


def test_the_table_of_daily_losses() -> None:
    losses = {(row.operation, row.crop): row for row in daily_losses()}
    assert losses["harvest", "soybean"].middle == pytest.approx(0.008)  # 0.006 to 0.010
    assert losses["harvest", "shelled corn"].low == losses["harvest", "shelled corn"].high == 0.003
    assert all(row.source.is_recalled for row in daily_losses())
    assert len(daily_losses()) == 13


# Break-even ----------------------------------------------------------------------------------------------------------


def test_derived_break_even_by_hand() -> None:
    # 5,000 + 3 a against 8,000 + 2 a: equal at 3,000; against 1 a squared / 1000 ... twice.
    found = break_even(lambda a: 5000 + 3 * a, lambda a: 8000 + 2 * a, least_m2=1, most_m2=1e5)
    assert found.areas_m2 == pytest.approx((3000,), rel=1e-8)
    assert found.first_is_cheaper == (True, False)
    # 10 a against 1,000 + a2 / 100: a2 - 1000 a + 100,000 = 0, a = 500 -+ sqrt(150,000) = 112.70 and 887.30.
    twice = break_even(lambda a: 10 * a, lambda a: 1000 + a * a / 100, least_m2=1, most_m2=1e5)
    assert twice.areas_m2 == pytest.approx((112.7017, 887.2983), rel=1e-6)
    assert twice.first_is_cheaper == (True, False, True)


def test_no_break_even_is_told_as_such() -> None:
    found = break_even(lambda a: a, lambda a: 2 * a, least_m2=1, most_m2=10)
    assert (found.areas_m2, found.first_is_cheaper) == ((), (True,))
    with pytest.raises(InputError, match="range of areas"):
        break_even(lambda a: a, lambda a: a, least_m2=10, most_m2=1)


def asked(name: str = "16-row planter", tractor: str | None = "row-crop tractor", **values: Any) -> AskedOperation:
    return asked_operation(read_shed(SHED), name, tractor, WorkAsked(**values))


def test_own_and_hired_cost_the_same_at_the_break_even_area() -> None:
    operation = asked()
    figures = cost_figures(operation, area_m2=800 * ACRE_M2, hire_m2=18 / ACRE_M2)
    acres = figures["hired"]["areas_ac"][0]
    # Hours beyond the planter's life make repairs dear: on very much ground hiring is cheaper again.
    assert figures["hired"]["cheaper"] == ["hired", "own", "hired"]
    at = cost_figures(operation, area_m2=acres * ACRE_M2)
    assert at["total"]["acre"] == pytest.approx(18, rel=1e-6)
    assert figures["hired"]["year"] == pytest.approx(800 * 18)


def test_a_wider_tool_and_the_narrow_one_cost_the_same_at_the_break_even_area() -> None:
    narrow, wide = asked("30 ft field cultivator"), asked("40 ft field cultivator")
    figures = cost_figures(narrow, area_m2=900 * ACRE_M2, against=wide)
    (acres,) = figures["break_even"]["areas_ac"]
    assert figures["break_even"]["cheaper"] == ["30 ft field cultivator", "40 ft field cultivator"]
    at = cost_figures(narrow, area_m2=acres * ACRE_M2, against=wide)
    assert at["against"]["saving_year"] == pytest.approx(0, abs=0.01)
    assert figures["against"]["saving_year"] > 0


# From the shed and from fields ---------------------------------------------------------------------------------------


def test_capacity_and_fuel_come_from_fields_where_there_are_some() -> None:
    field = field_from_shape(shapely.box(0, 0, 400, 800), name="box")
    operation = asked("30 ft field cultivator", fields=(field,))
    plan = lay(field, operation.operation.tool)
    assert operation.operation.capacity_m2_s == pytest.approx(field.area_m2 / plan.field_time_s)
    assert operation.efficiency == pytest.approx(plan.field_efficiency)
    assert operation.fields_m2 == pytest.approx(field.area_m2)


def test_typical_efficiency_is_used_without_fields_and_said_to_be_recalled() -> None:
    assert asked().efficiency == 0.65
    assert "recalled" in asked().efficiency_from
    assert (asked(efficiency=0.7).efficiency, asked(efficiency=0.7).efficiency_from) == (0.7, "given")


def test_the_smallest_tractor_that_holds_the_speed_is_taken_and_a_short_one_is_told() -> None:
    least = asked("8-bottom plow", None)
    assert least.pull.name_of_power == "big four-wheel drive"
    assert "smallest that holds its speed" in least.notes[0]
    assert "short at its speed" in asked("8-bottom plow", "old two-wheel drive").notes[0]


def test_figures_add_up_in_every_unit_and_list_what_nobody_gave() -> None:
    figures = cost_figures(asked(), area_m2=800 * ACRE_M2, rules=CostRules(wage_h=25.0), given={"wage_h"})
    for way in ("year", "hour", "acre", "hectare"):
        assert sum(entry[way] for entry in figures["entries"].values()) == pytest.approx(figures["total"][way])
    total = figures["total"]
    assert total["hour"] * figures["field_h"] == pytest.approx(total["year"])
    assert total["acre"] * 800 == pytest.approx(total["year"])
    assert total["acre"] == pytest.approx(total["hectare"] * 0.40468564)
    assert figures["effective_ac_h"] == pytest.approx(figures["effective_ha_h"] / 0.40468564)
    assert figures["fuel_L_h"] == pytest.approx(figures["fuel_gal_h"] * GALLON_L)
    assumed = {each["what"] for each in figures["assumed"]}
    assert {"interest", "fuel", "taxes, insurance and housing", "lubrication", "kept"} <= assumed
    assert [each["value"] for each in figures["assumed"] if each["what"] == "labor"] == [
        "1.1 h for an hour of field time"
    ]
    assert max(map(len, cost_lines(figures))) <= 80
    assert any("recalled" in note for note in cost_notes(figures))


def test_a_machine_kept_beyond_its_published_life_is_told() -> None:
    assert not [note for note in cost_notes(cost_figures(asked(), area_m2=800 * ACRE_M2)) if "published life" in note]
    # 2,000 ac at 15.7576 ac/h are 126.92 h a year; 6 + 10 years of them, 2,030.8 h.
    notes = list(cost_notes(cost_figures(asked(), area_m2=2000 * ACRE_M2)))
    worn = "16-row planter has 2,031 h after 10 years, more than its published life of 1,500 h"
    assert any(worn in note for note in notes)


def shed_of(folder: Path, text: str) -> Shed:
    file = folder / "shed.toml"
    file.write_text(text, encoding="utf-8")
    return read_shed(file)


def test_everything_that_is_missing_is_told_at_once(tmp_path: Path) -> None:
    text = '[[tool]]\nname = "cart"\nwidth = "20ft"\nhitch = "pulled"\ndraft = "50lbf/ft"\n'
    shed = shed_of(tmp_path, text + '[[tractor]]\nname = "t"\npower = "200hp"\n')
    with pytest.raises(FaultyInputError) as caught:
        asked_operation(shed, "cart", "t", WorkAsked())
    starts = [
        "tool 'cart': price: missing", "tool 'cart': no repair costs are published",
        "tractor 't': price: missing", "tool 'cart': no field efficiency is published",
    ]  # fmt: skip
    assert len(caught.value.problems) == len(starts)
    for problem, start in zip(caught.value.problems, starts, strict=True):
        assert problem.startswith(start)


@pytest.mark.parametrize(
    ("call", "match"),
    [
        (lambda: Ownership(price=-1.0), "price is -1"),
        (lambda: Ownership(price=1.0, age_years=-1.0), "age_years is -1"),
        (lambda: Ownership(price=1.0, keep_years=0.0), "keep_years is 0"),
        (lambda: CostRules(wage_h=-1.0), "wage_h: got -1"),
        (lambda: CostRules(labor_factor=0.5), "labor_factor: got 0.5"),
        (lambda: Delay(loss=-0.1, value_m2=1.0), "loss is -0.1"),
        (lambda: Delay(loss=0.1, value_m2=1.0, fit_share=0.0), "fit_share is 0"),
        (lambda: Delay(loss=0.1, value_m2=1.0, hours_a_day=30.0), "hours_a_day is 30"),
        (lambda: replace(WORK, capacity_m2_s=0.0), "capacity_m2_s is 0"),
        (lambda: replace(WORK, fuel_l_h=-1.0), "fuel_l_h is -1"),
        (lambda: replace(WORK, tractor_owned=None), "a tractor and what it cost go together"),
        (lambda: operation_cost(WORK, area_m2=0.0), "area_m2: got 0"),
        (lambda: timeliness_cost(Delay(loss=0.1, value_m2=1.0), area_m2=-1.0, capacity_m2_s=1.0), "timeliness: got"),
        (lambda: repair_table()["wagon"].share(start_h=2.0, end_h=1.0), "must not run backwards"),
        (lambda: remaining_value_table()["plow"].share(age_years=-1.0, use_h_yr=1.0), "age_years: got -1"),
        (lambda: asked("16-row planter", "mule"), r"tractor: got 'mule'\. It must be one of"),
        (lambda: asked("combine, 20 ft grain head", "row-crop tractor"), "drives itself; leave the tractor out"),
    ],
)
def test_what_cannot_be_is_refused(call: Any, match: str) -> None:
    with pytest.raises(InputError, match=match):
        call()


# On the command line -------------------------------------------------------------------------------------------------


def test_cost_on_the_command_line() -> None:
    figures = answer("cost", SHED, "--tool", "16-row planter", "--acres", "800", "--wage", "30", "--fuel-price", "4",
                     "--hire", "20", "--crop-value", "800", "--daily-loss", "1")  # fmt: skip
    assert figures["entries"]["labor"]["hour"] == pytest.approx(33)
    assert figures["entries"]["fuel"]["hour"] == pytest.approx(4 * figures["fuel_gal_h"])
    assert figures["entries"]["timeliness"]["year"] > 0
    text = run("cost", SHED, "--tool", "16-row planter", "--acres", "800", "--hire", "20")
    assert text.exit_code == 0
    assert max(map(len, text.output.splitlines())) <= 80
    assert "placeholder" in text.stderr


def test_cost_of_fields_takes_their_area_once() -> None:
    field = str(SAMPLES / "square_forty.geojson")
    figures = answer("cost", SHED, "--tool", "combine, 20 ft grain head", "--field", field)
    assert figures["area_ac"] == pytest.approx(40, abs=0.01)
    assert figures["tractor"] == "its own engine"


@pytest.mark.parametrize(
    ("arguments", "text"),
    [
        (("--tool", "16-row planter"), "no area. Give --acres, or --field"),
        (("--tool", "16-row planter", "--acres", "0"), "--acres"),
        (("--tool", "16-row planter", "--acres", "9", "--against-tractor", "x"), "--against-tractor needs --against"),
        (("--tool", "16-row planter", "--acres", "9", "--crop-value", "5"), "go together"),
        (("--tool", "16-row planter", "--field", "x", "--efficiency", "70"), "does not go with --field"),
        (("--acres", "9"), "--tool"),
    ],
)
def test_wrong_usage_of_cost(arguments: tuple[str, ...], text: str) -> None:
    assert text in message(run("cost", SHED, *arguments), 2)


def test_a_tool_that_is_not_there_is_told() -> None:
    assert "tool: got 'plough'. It must be one of" in message(run("cost", SHED, "--tool", "plough", "--acres", "9"), 1)


def test_every_figure_nobody_gave_is_listed_and_can_be_given() -> None:
    arguments = ("cost", SHED, "--tool", "8-bottom plow", "--acres", "300", "--crop-value", "700", "--daily-loss", "1")
    plain = {each["what"] for each in answer(*arguments)["assumed"]}
    assert plain == {
        "interest", "fuel", "labor", "taxes, insurance and housing", "lubrication", "kept", "field hours", "fit days",
        "turning takes", "idling at",
    }  # fmt: skip
    options = (
        "--interest", "4", "--fuel-price", "3", "--wage", "25", "--labor-hours", "1.2", "--taxes", "1",
        "--lubrication", "10", "--hours-a-day", "12", "--fit-days", "40", "--turning-load", "30", "--idle-speed", "50",
    )  # fmt: skip
    # How long a machine is kept stands in the shed file.
    assert {each["what"] for each in answer(*arguments, *options)["assumed"]} == {"kept"}
