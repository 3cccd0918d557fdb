"""The dictionaries of figures: the keys that others lean on, plain types, and values worked out by hand."""

import json
from typing import Any

import pytest
import shapely

from fieldgeo.analysis.compare import compare, paying_width
from fieldgeo.analysis.direction import best_direction
from fieldgeo.analysis.figures import (
    compare_figures,
    direction_figures,
    paying_figures,
    plan_figures,
)
from fieldgeo.analysis.lay import lay
from fieldgeo.analysis.outline_figures import field_figures
from fieldgeo.analysis.plan import Plan
from fieldgeo.analysis.score import Prices
from fieldgeo.machinery import Tool
from fieldgeo.outline.field import Change, Field, field_from_shape
from fieldgeo.units import ACRE_M2, MPH_M_S

LAY_KEYS = {
    "area_m2", "direction_deg", "passes", "headland_rounds", "swept_m2", "worked_m2", "overlap_m2", "skip_m2",
    "spill_m2", "turns", "turns_by_kind", "work_m", "travel_m", "field_time_h", "time_h", "theoretical_ha_h",
    "effective_ha_h", "effective_ac_h", "field_efficiency", "published_efficiency",
}  # fmt: skip
CANDIDATE_KEYS = {"direction_deg", "passes", "turns", "overlap_m2", "skip_m2", "field_time_h"}

TRIANGLE = shapely.Polygon([(0, 0), (400, 0), (100, 300)])


def tool_of(width_m: float = 10.0, **values: Any) -> Tool:
    return Tool(**({"name": f"{width_m:g} m tool", "width_m": width_m, "speed_m_s": 2.5} | values))


def rectangle(name: str = "rectangle") -> Field:
    return field_from_shape(shapely.box(0, 0, 400, 100), name=name)


def straight_plan(**values: Any) -> Plan:
    return lay(rectangle(), tool_of(**values), direction_deg=90.0, headland=0)


def assert_plain(value: object) -> None:
    """Fail on any type but those of JSON, and on numbers that are not finite."""
    if isinstance(value, dict):
        assert all(type(key) is str for key in value)
        value = list(value.values())
    if isinstance(value, list):
        for item in value:
            assert_plain(item)
    else:
        assert type(value) in {str, int, float, bool, type(None)}, f"{value!r} is a {type(value)}"
        json.dumps(value, allow_nan=False)


def test_plan_figures_have_the_keys_that_others_lean_on() -> None:
    figures = plan_figures(straight_plan())
    assert set(figures) >= LAY_KEYS
    assert set(figures["published_efficiency"]) >= {"low", "high", "typical", "source"}
    assert_plain(figures)


def test_derived_figures_of_a_rectangle_laid_straight_through() -> None:
    # 400 m x 100 m, 10 m wide, passes along the length: 10 passes of 400 m, nothing twice, nothing missed.
    figures = plan_figures(straight_plan())
    assert (figures["passes"], figures["headland_rounds"], figures["turns"]) == (10, 0, 9)
    assert figures["area_m2"] == pytest.approx(40_000)
    assert figures["area_ha"] == pytest.approx(4)
    assert figures["area_ac"] == pytest.approx(40_000 / ACRE_M2)
    assert figures["work_m"] == pytest.approx(4000)
    assert figures["time_h"]["passes"] == pytest.approx(4000 / 2.5 / 3600)
    for key in ("overlap_m2", "skip_m2", "spill_m2", "overlap_pct", "skip_pct"):
        assert figures[key] == pytest.approx(0, abs=1e-6)
    # 10 m x 2.5 m/s = 25 m2/s = 90 000 m2/h = 9 ha/h
    assert figures["theoretical_ha_h"] == pytest.approx(9)
    assert figures["theoretical_ac_h"] == pytest.approx(90_000 / ACRE_M2)
    assert figures["speed_mph"] == pytest.approx(2.5 / MPH_M_S)
    assert figures["speed_km_h"] == pytest.approx(9)
    assert figures["width_ft"] == pytest.approx(10 / 0.3048)


def test_derived_figures_agree_with_each_other() -> None:
    tool = tool_of(raise_s=3.0, lower_s=3.0, lap_m=0.3)
    figures = plan_figures(lay(field_from_shape(TRIANGLE), tool, direction_deg=30.0))
    assert sum(figures["time_h"].values()) == pytest.approx(figures["field_time_h"])
    assert sum(figures["turns_by_kind"].values()) == figures["turns"]
    assert sum(figures["overlap_by_cause_m2"].values()) == pytest.approx(figures["overlap_m2"])
    assert figures["worked_m2"] + figures["skip_m2"] == pytest.approx(figures["area_m2"], rel=1e-9)
    assert figures["worked_m2"] + figures["overlap_m2"] + figures["spill_m2"] == pytest.approx(
        figures["swept_m2"], rel=1e-9
    )
    assert figures["effective_ha_h"] == pytest.approx(figures["area_ha"] / figures["field_time_h"])
    assert figures["field_efficiency"] == pytest.approx(figures["effective_ha_h"] / figures["theoretical_ha_h"])
    # Everything that field time holds beyond area / theoretical capacity has a cause.
    beyond_h = figures["field_time_h"] - figures["area_ha"] / figures["theoretical_ha_h"]
    assert sum(figures["losses_h"].values()) == pytest.approx(beyond_h, abs=1e-9)
    assert figures["work_mi"] * 1609.344 == pytest.approx(figures["work_m"])


def test_published_efficiency_says_that_it_is_recalled() -> None:
    published = plan_figures(straight_plan(kind="row-crop planter"))["published_efficiency"]
    assert (published["low"], published["high"], published["typical"]) == (0.5, 0.75, 0.65)
    assert published["is_recalled"] is True
    assert "recalled from memory" in published["source"]


def test_a_tool_of_no_kind_has_no_published_efficiency() -> None:
    assert set(plan_figures(straight_plan())["published_efficiency"].values()) == {None}


def test_where_nothing_can_be_worked_there_is_no_capacity() -> None:
    # A strip of 10 m is wider than this triangle is high: with the clean finish nothing is worked.
    small = field_from_shape(shapely.Polygon([(0, 0), (12, 0), (6, 9)]))
    figures = plan_figures(lay(small, tool_of(), direction_deg=90.0, headland=0, finish="clean"))
    assert figures["field_time_h"] == 0
    assert figures["effective_ha_h"] is None
    assert figures["effective_ac_h"] is None
    assert figures["field_efficiency"] is None
    assert_plain(figures)


def test_field_figures() -> None:
    shape = shapely.MultiPolygon([shapely.box(0, 0, 400, 100).difference(shapely.box(100, 40, 120, 60))])
    change = Change(what="closed the ring", area_change_m2=2.5)
    plain = field_from_shape(shape, name="pond")
    field = Field(name="pond", shape=plain.shape, frame=plain.frame, changes=(change,), problems=("seen",))
    figures = field_figures(field)
    expected = {
        "name",
        "area_m2",
        "area_ac",
        "perimeter_m",
        "corners",
        "parts",
        "holes",
        "source_crs",
        "changes",
        "problems",
    }
    assert set(figures) >= expected
    # 40 000 m2 less 400 m2; 1000 m round and 80 m round the pond; 4 corners each
    assert figures["area_m2"] == pytest.approx(39_600)
    assert figures["perimeter_m"] == pytest.approx(1080)
    assert figures["perimeter_ft"] == pytest.approx(1080 / 0.3048)
    assert (figures["corners"], figures["parts"], figures["holes"]) == (8, 1, 1)
    assert figures["changes"] == [{"what": "closed the ring", "area_change_m2": 2.5}]
    assert figures["problems"] == ["seen"]
    assert_plain(figures)


def test_direction_figures() -> None:
    search = best_direction(field_from_shape(TRIANGLE), tool_of())
    figures = direction_figures(search)
    assert set(figures) >= {"best_deg", "candidates", "longest_side"}
    assert figures["best_deg"] == figures["candidates"][0]["direction_deg"]
    assert len(figures["candidates"]) == len(search.candidates)
    for candidate in [*figures["candidates"], figures["longest_side"]]:
        assert set(candidate) >= CANDIDATE_KEYS
    assert figures["candidates"][0]["extra_time_h"] == 0
    longest = figures["longest_side"]
    assert longest["extra_passes"] == longest["passes"] - figures["candidates"][0]["passes"]
    assert_plain(figures)


def test_compare_figures() -> None:
    tools = [tool_of(5.0), tool_of(10.0)]
    fields = [rectangle("one"), rectangle("two")]
    figures = compare_figures(compare(fields, tools, direction_deg=90.0, headland=0))
    assert figures["tools"] == ["5 m tool", "10 m tool"]
    assert figures["fields"] == ["one", "two"]
    assert [(row["field"], row["tool"]) for row in figures["rows"]] == [
        ("one", "5 m tool"), ("one", "10 m tool"), ("two", "5 m tool"), ("two", "10 m tool"),
    ]  # fmt: skip
    for row in figures["rows"]:
        assert set(row) >= LAY_KEYS
    # 100 m / 5 m = 20 passes and 100 m / 10 m = 10 passes on each of two fields
    assert [total["passes"] for total in figures["totals"]] == [40, 20]
    assert [total["area_m2"] for total in figures["totals"]] == pytest.approx([80_000, 80_000])
    for total in figures["totals"]:
        hours = [row["field_time_h"] for row in figures["rows"] if row["tool"] == total["tool"]]
        assert total["field_time_h"] == pytest.approx(sum(hours))
    assert_plain(figures)


@pytest.mark.parametrize(("extra_cost", "pays"), [(0.0, True), (9.0, False)])
def test_paying_figures(extra_cost: float, pays: bool) -> None:
    # Twice the width halves the passes; at ten times the price of an hour it does not pay.
    paying = paying_width([rectangle()], tool_of(5.0), tool_of(10.0), direction_deg=90.0, headland=0)
    figures = paying_figures(paying, extra_cost_share=extra_cost)
    assert (figures["least_difference_m"] is not None) is pays
    assert (figures["least_difference_ft"] is not None) is pays
    assert figures["extra_cost_pct"] == 100 * extra_cost
    assert len(figures["tried"]) == len(paying.tried_width_m)
    assert_plain(figures)


def test_direction_figures_by_cost_say_what_the_longest_side_costs_more() -> None:
    prices = Prices(hour=150.0, input_m2=0.03)
    search = best_direction(field_from_shape(TRIANGLE), tool_of(), by=prices)
    figures = direction_figures(search, by="cost")
    longest = figures["longest_side"]
    assert figures["by"] == "cost"
    assert longest["extra_score"] == pytest.approx(longest["score"] - figures["candidates"][0]["score"])
    assert longest["extra_score"] >= -1e-9
