"""Filling and unloading as asked for, as figures, and as lines; the options of a verb."""

import json
from typing import Any

import click
import numpy as np
import pytest
import shapely
from click.testing import CliRunner

from fieldgeo.analysis.asked_loads import asked_load, load_on, read_adjusting, read_place, read_road
from fieldgeo.analysis.lay import lay
from fieldgeo.analysis.loaded import LoadedPlan, load_plan
from fieldgeo.analysis.plan import Plan
from fieldgeo.analysis.stops_figures import load_figures
from fieldgeo.cli_loads import asked_for, load_options
from fieldgeo.errors import InputError
from fieldgeo.machinery.tool import Tool
from fieldgeo.outline.field import field_from_shape
from fieldgeo.report.stops_text import load_lines, load_notes
from fieldgeo.travel.timeline import Adjusting

FOOT_M, ACRE_M2, POUND_KG = 0.3048, 4046.8564224, 0.45359237
# The numbers of LG01 and LG02: half a mile of 40 ft is 2.42424 ac; 45 passes.
STRIPS = shapely.box(0, 0, 45 * 40 * FOOT_M, 2640 * FOOT_M)


def plan_on(shape: shapely.Geometry = STRIPS, *, width_ft: float = 40.0, headland: int = 0) -> Plan:
    tool = Tool(name="t", width_m=width_ft * FOOT_M)
    return lay(field_from_shape(shape), tool, direction_deg=0.0, headland=headland, sides="all")


def loaded(plan: Plan, options: dict[str, Any], *, own: dict[str, Any] | None = None) -> LoadedPlan:
    asked = asked_load(options, own=own)
    assert asked is not None
    return load_plan(plan, load_on(plan.field, asked))


def lines_of(plan: Plan, options: dict[str, Any]) -> tuple[dict[str, Any], list[str]]:
    figures = load_figures(loaded(plan, options))
    json.dumps(figures, allow_nan=False)
    lines = list(load_lines(figures))
    assert all(len(line) <= 80 for line in lines)
    assert list(load_notes(figures))
    return figures, lines


# As asked for --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "place"),
    [("edge", "edge"), (" Best2 ", "best2"), ("SOUTHWEST", "southwest"), ("-94.3,42.4", (-94.3, 42.4)), ("go", "go")],
)
def test_places(text: str, place: Any) -> None:
    assert read_place(text) == place


@pytest.mark.parametrize("text", ["", "barn", "-94", "200,10", "nan,1"])
def test_places_that_cannot_be_are_refused(text: str) -> None:
    with pytest.raises(InputError, match="got"):
        read_place(text)


@pytest.mark.parametrize("text", ["", "up", "-94.3,42.4", "-94.3,42.4 95,x"])
def test_roads_that_cannot_be_are_refused(text: str) -> None:
    with pytest.raises(InputError, match="got"):
        read_road(text)


def test_allowances_derived() -> None:
    assert read_adjusting("6min/h") == Adjusting(per_work=0.1)
    assert read_adjusting("10s/ac").per_area_s_m2 == pytest.approx(10 / ACRE_M2)
    assert read_adjusting("25 s / ha").per_area_s_m2 == pytest.approx(0.0025)


@pytest.mark.parametrize("text", ["", "6min", "6/h", "6min/day", "6m/h", "-1min/h"])
def test_allowances_that_cannot_be_are_refused(text: str) -> None:
    with pytest.raises(InputError):
        read_adjusting(text)


def test_nothing_asked_is_nothing() -> None:
    assert asked_load({}) is None
    assert asked_load({"tank": None, "holds": (), "fill_at": (), "starts_empty": False}) is None


@pytest.mark.parametrize(
    ("options", "match"),
    [
        ({"cart": 3.0}, "cart: goes with filling or unloading"),
        ({"tank": "30bu"}, "give a rate .* or a yield"),
        ({"fill_at": ("edge",)}, "give a rate"),
        ({"tank": "30bu", "rate": "1bu/ac", "unload_at": ("edge",)}, "fill at goes with a rate"),
        ({"tank": "30bu", "yield": "1bu/ac", "fill_at": ("edge",)}, "unload at with a yield"),
        ({"tank": "30bu", "rate": "1bu/ac", "fill_at": ("go",)}, "go: goes with unloading"),
        ({"tank": "30bu", "rate": "1bu/ac", "fill_at": ("edge", (0.0, 0.0))}, "Only stands .* may be several"),
        ({"tank": "30bu", "rate": "1bu/ac", "fill_at": ("road",)}, "road: asked for but not given"),
        ({"tank": "30bu", "rate": "1bu/ac", "fill_at": ("edge",), "road": "south"}, "does not go with edge"),
        ({"tank": "30bu", "yield": "9bu/ac", "cart": 3.0}, "cart: goes with unloading on the go"),
        ({"tank": "30bu", "yield": "9bu/ac", "starts_empty": True}, "starts empty: goes with filling"),
    ],
)
def test_what_does_not_go_together_is_told(options: dict[str, Any], match: str) -> None:
    with pytest.raises(InputError, match=match):
        asked_load(options)


def test_what_is_assumed_is_told_and_what_is_given_is_not() -> None:
    asked = asked_load({"tank": "300bu", "yield": "180bu/ac"})
    assert asked is not None
    assert asked.notes == (
        "assumed, not given: 1min of set-up at each stop, 3bu/s of flow (common practice, no source)",
    )
    assert (asked.supply.setup_s, asked.supply.flow_s) == (60.0, 3.0)
    whole = asked_load({"tank": "300bu", "yield": "180bu/ac", "stop_setup": "2min", "stop_flow": "4bu/s"})
    assert whole is not None
    assert whole.notes == ()


def test_typed_values_hold_over_those_of_the_shed() -> None:
    own = {"tank": "45bu", "rate": "1bu/ac", "stop_setup": "4min"}
    asked = asked_load({"fill_at": ("edge",), "rate": "0.5bu/ac"}, own=own)
    assert asked is not None
    assert asked.supply.load_m2() == pytest.approx(90 * ACRE_M2)
    assert asked.supply.setup_s == 240.0
    grain = asked_load({"yield": "180bu/ac"}, own=own)
    assert grain is not None
    assert grain.supply.job == "unload"


def test_places_on_the_field() -> None:
    field = field_from_shape(STRIPS)
    base: dict[str, Any] = {"tank": "30bu", "rate": "1bu/ac"}

    def rules(**more: Any) -> Any:
        asked = asked_load(base | more)
        assert asked is not None
        return load_on(field, asked)

    assert rules().rules.where == "edge"
    assert rules(fill_at=("south",)).rules.where == "side"
    assert rules(road="south").rules.side.length == pytest.approx(45 * 40 * FOOT_M)
    assert rules(fill_at=("best",), road="south").search_stands == 1
    lon, lat = (float(value) for value in field.frame.to_lonlat(100.0, -20.0))
    assert rules(fill_at=((lon, lat),)).rules.stands_xy == pytest.approx(np.array([[100.0, -20.0]]), abs=1e-6)
    edge = [tuple(map(float, field.frame.to_lonlat(x, -5.0))) for x in (-10.0, 600.0)]
    assert rules(fill_at=("road",), road=tuple(edge)).rules.side.length > 500
    with pytest.raises(InputError, match="stand 1 lies"):
        rules(fill_at=((lon + 1, lat),))


# Figures and lines ---------------------------------------------------------------------------------------------------


def test_answer_names_passes_end_and_what_to_bring_derived_lg02() -> None:
    # LG02: ten passes to a fill at one end: after 10, 20, 30 and 40; in all 45 x 2.42424 = 109.09 bu.
    figures, lines = lines_of(
        plan_on(), {"tank": "28bu", "rate": "1bu/ac", "fill_at": ("south",), "stop_setup": "5min"}
    )
    assert lines[0] == "fill 4 times, after passes 10, 20, 30 and 40, at the south end; bring 109 bu"
    assert figures["bring"] == pytest.approx({"bu": 109.0909}, abs=1e-3)
    assert figures["passes_per_load"] == 11
    assert figures["round_fits"] is True
    assert figures["load_ac"] == pytest.approx(28.0)
    assert figures["load_run_ft"] == pytest.approx(28 * 43560 / 40)
    assert figures["standing_h"] == pytest.approx(4 / 12)
    first = figures["stop_list"][0]
    assert (first["after_pass"], first["end"], first["on_pass"]) == (10, "south", False)
    assert first["amount"]["bu"] == pytest.approx(24.2424, abs=1e-3)
    assert abs(first["lat"] - figures["stop_list"][1]["lat"]) < 1e-6


def test_ends_that_differ_are_named_one_by_one() -> None:
    _, lines = lines_of(plan_on(), {"tank": "28bu", "rate": "1bu/ac"})
    text = " ".join(lines[:3])
    assert "pass 11 (" in text
    assert "pass 44 (" in text


def test_first_filling_in_the_field_and_a_little_last_one_are_said() -> None:
    # 45 passes of 2.42424 bu: 22 to a tank of 54.2, and again 22; the last pass needs 0.69 bu beyond two tanks.
    options = {"tank": "54.2bu", "rate": "1bu/ac", "fill_at": ("edge",), "starts_empty": True}
    figures, lines = lines_of(plan_on(), options)
    assert lines[0].startswith("fill 3 times, before the first pass, after pass 22 (")
    assert figures["stop_list"][-1]["amount"]["bu"] < 0.05 * 54.2
    assert any("the last fill is only" in note for note in load_notes(figures))


def test_no_filling_on_the_way() -> None:
    figures, lines = lines_of(plan_on(), {"tank": "3x50bu", "rate": "1bu/ac"})
    assert lines[0] == "no filling on the way: bring 109 bu"
    assert "3 hoppers" in lines[1]
    assert figures["stop_list"] == []


def test_grain_full_on_the_pass_is_named_with_its_place_derived_lg03() -> None:
    # LG03: full after 2541 ft of the first pass.
    plan = plan_on(shapely.box(0, 0, 20 * 30 * FOOT_M, 2640 * FOOT_M), width_ft=30.0)
    figures, lines = lines_of(plan, {"tank": "350bu", "yield": "200bu/ac", "holds": ("corn",)})
    assert figures["stop_list"][0]["along_ft"] == pytest.approx(2541.0)
    assert figures["passes_per_load"] == 0
    assert figures["round_fits"] is False
    assert any("2,541 ft on" in line for line in lines)
    assert any("less than a pass" in line for line in lines)
    assert any("never enter a bin" in note for note in load_notes(figures))


def test_material_capacity_is_area_capacity_times_yield_derived() -> None:
    # 200 bu/ac of corn at 56 lb: bushels an hour, and tonnes and tons.
    plan = plan_on(shapely.box(0, 0, 20 * 30 * FOOT_M, 2640 * FOOT_M), width_ft=30.0)
    result = loaded(plan, {"tank": "350bu", "yield": "200bu/ac", "holds": ("corn",)})
    material = load_figures(result)["material_h"]
    acres_h = plan.field.area_m2 / ACRE_M2 / (result.plan.field_time_s / 3600)
    assert material["bu_h"] == pytest.approx(200 * acres_h)
    assert material["t_h"] == pytest.approx(200 * acres_h * 56 * POUND_KG / 1000)
    assert material["ton_h"] == pytest.approx(200 * acres_h * 56 / 2000)


def test_share_that_is_not_flow_stands_beside_the_published_one_lg06() -> None:
    # LG06, published: 63 % of an unloading stop is not the flow: Study on the process of unloading grain harvesters at
    # the end of the field, Agricultural Science and Technology (Bulgaria), 2017. Derived: stops of 350 bu at 3 bu/s
    # are 116.7 s of flow; with 198.6 s of set-up they have that share.
    plan = plan_on(shapely.box(0, 0, 88 * 30 * FOOT_M, 2640 * FOOT_M), width_ft=30.0)
    options = {"tank": "350bu", "yield": "200bu/ac", "stop_setup": "200s", "stop_flow": "3bu/s"}
    figures, _ = lines_of(plan, options)
    seconds = 92 * 200 + 32_000 / 3
    assert figures["auxiliary_share"] == pytest.approx(1 - 32_000 / 3 / seconds)
    assert figures["auxiliary_share"] == pytest.approx(0.63, abs=0.005)
    assert figures["published_shares"][0]["share"] == 0.63
    assert figures["least_loads"] == figures["stops"] == 92


def test_time_shares_sum_to_one() -> None:
    figures, _ = lines_of(plan_on(), {"tank": "28bu", "rate": "1bu/ac", "adjust": Adjusting(per_work=0.05)})
    assert sum(figures["time_share"].values()) == pytest.approx(1.0)
    assert figures["time_share"]["adjusting"] > 0


def test_cart_loads_derived() -> None:
    # 160 ac at 200 bu/ac are 32,000 bu: 32 loads of a cart of 1,000 bu.
    from fieldgeo.analysis.asked_loads import read_cart

    plan = plan_on(shapely.box(0, 0, 88 * 30 * FOOT_M, 2640 * FOOT_M), width_ft=30.0)
    options = {"tank": "350bu", "yield": "200bu/ac", "unload_at": ("go",), "cart": read_cart("1000bu")}
    figures, lines = lines_of(plan, options)
    assert lines[0] == "unload on the go: 32,000 bu in 32 cart loads"
    assert figures["cart"]["minutes_for_each"] == pytest.approx(plan.field_time_s / 60 / 32)
    assert figures["stops"] == 0
    # Derived, LG07: by the tank alone it is 92 loads.
    alone, _ = lines_of(plan, {"tank": "350bu", "yield": "200bu/ac", "unload_at": ("go",)})
    assert alone["cart"]["loads"] == 92


def test_best_stands_are_named_with_what_they_save() -> None:
    options = {"tank": "28bu", "rate": "1bu/ac", "fill_at": ("best",), "road": "south"}
    figures, lines = lines_of(plan_on(), options)
    assert len(figures["stands"]) == 1
    assert figures["stands"][0]["stops"] == figures["stops"]
    assert figures["habit"]["saving_h"] > 0
    assert any(line.strip().startswith("saves ") for line in lines)


def test_many_stops_are_not_all_listed() -> None:
    figures, lines = lines_of(plan_on(), {"tank": "5bu", "rate": "1bu/ac"})
    assert figures["stops"] > 12
    assert lines[-1].strip() == f"and {figures['stops'] - 12} more"


def test_losses_and_states_still_sum() -> None:
    result = loaded(plan_on(headland=1), {"tank": "28bu", "rate": "1bu/ac", "fill_at": ("south",),
                                          "adjust": Adjusting(per_work=0.05)})  # fmt: skip
    plan = result.plan
    area_s = plan.field.area_m2 / plan.theoretical_m2_s
    assert sum(plan.losses_s().values()) == pytest.approx(plan.field_time_s - area_s, rel=1e-9)
    assert plan.losses_s()["filling"] > 0
    assert plan.coverage == result.without.coverage


# Options -------------------------------------------------------------------------------------------------------------


@click.command()
@load_options
def verb(**options: Any) -> None:
    asked = asked_for(options)
    click.echo("nothing" if asked is None else f"{asked.supply.capacity:g} {asked.supply.kind} {asked.places}")


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ([], "nothing"),
        (["--tank", "3x15bu", "--rate", "1bu/ac"], "45 bu ()"),
        (["--tank", "30bu", "--rate", "1bu/ac", "--fill-at", "-94.3,42.4", "--fill-at", "-94.2,42.4"],
         "30 bu ((-94.3, 42.4), (-94.2, 42.4))"),
        (["--tank", "300bu", "--yield", "180bu/ac", "--unload-at", "go", "--cart", "1000bu"], "300 bu ('go',)"),
    ],
)  # fmt: skip
def test_options_of_a_verb(arguments: list[str], said: str) -> None:
    result = CliRunner().invoke(verb, arguments)
    assert result.exit_code == 0
    assert result.output.strip() == said


@pytest.mark.parametrize(
    "arguments", [["--fill-at", "barn"], ["--road", "up"], ["--adjust", "3min"], ["--cart", "0bu"]]
)
def test_options_that_cannot_be_read_are_wrong_usage(arguments: list[str]) -> None:
    result = CliRunner().invoke(verb, arguments)
    assert result.exit_code == 2
    assert "got '" in result.output
