"""A one-way plow on a field: how many lands, what stands beside them, the shed, the command line, the files."""

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from command import SAMPLES, SHED, SQUARE, answer, message, run
from hypothesis import given
from hypothesis import strategies as st
from sheds import problems_of, shed_of
from test_identities import hold_identities

from fieldgeo.analysis.land_choice import nearest_lands, ranked_lands, share_lands
from fieldgeo.analysis.plow import WORTH_SHARE, LandPlan, check_plow, lay_plow, read_lands
from fieldgeo.analysis.plow_figures import land_figures
from fieldgeo.errors import InputError
from fieldgeo.export.frames import route_from_geodataframe, to_geodataframe
from fieldgeo.machinery.shed import read_shed
from fieldgeo.machinery.tool import Tool
from fieldgeo.outline.field import field_from_shape
from fieldgeo.outline.read import read_outline
from fieldgeo.report.map import plot_plan
from fieldgeo.report.plow_text import land_lines, land_notes
from fieldgeo.travel.land_route import plan_land_route

PLOW = ["--tool", "8-bottom plow", "--shed", SHED]


def plow(**values: Any) -> Tool:
    usual: dict[str, Any] = {"name": "plow", "width_m": 4.0, "throws": "right", "hitch": "pulled", "turn_radius_m": 6.0}
    return Tool(**(usual | values))


def box_plan(wide_m: float, long_m: float, **values: Any) -> LandPlan:
    field = field_from_shape(shapely.MultiPolygon([shapely.box(0, 0, wide_m, long_m)]))
    return lay_plow(field, plow(), **({"direction_deg": 0.0, "headland": 0} | values))


@pytest.fixture(scope="module")
def square() -> LandPlan:
    return lay_plow(read_outline(SQUARE), read_shed(SHED).tool("8-bottom plow"))


# How many lands


def test_lands_of_sixty_metres_on_a_field_published_definitions() -> None:
    # PL06 once more, asked for as a width: 360 m in lands of 60 m are 6 lands, all gathered 6 back furrows and 5 dead.
    plowed = box_plan(360.0, 500.0, lands=60.0)
    assert plowed.chosen.counts == (6,)
    assert (plowed.gathered.furrow_count("back"), plowed.gathered.furrow_count("dead")) == (6, 5)
    # Gathered and cast by turns the last two are gathered: 4 back furrows, 3 dead.
    assert (plowed.chosen.furrow_count("back"), plowed.chosen.furrow_count("dead")) == (4, 3)


def test_the_formula_is_taken_for_the_run_of_the_passes_derived() -> None:
    # B = 4, L = 500, R = 6: sqrt(2 x 4 x 500 + 16 x 36) = sqrt(4576) = 67.646 m; 360 / 67.646 = 5.32, so 5 lands.
    plowed = box_plan(360.0, 500.0)
    assert plowed.formula.width_m == pytest.approx(67.646, abs=0.001)
    assert plowed.formula.lands == 5
    assert plowed.by_formula.counts == (5,)


def test_least_time_is_the_least_of_all_numbers_of_lands() -> None:
    plowed = box_plan(100.0, 300.0)
    times = {count: box_plan(100.0, 300.0, lands=count).plan.field_time_s for count in range(1, 13)}
    assert plowed.least.plan.field_time_s == pytest.approx(min(times.values()), abs=0.11)
    assert plowed.plan.field_time_s <= plowed.least.plan.field_time_s * (1 + WORTH_SHARE)
    assert plowed.chosen.furrow_count("dead") <= plowed.least.furrow_count("dead")
    assert plowed.least.plan.field_time_s <= plowed.by_formula.plan.field_time_s


def test_estimates_are_the_times_of_the_routes_where_turns_have_room() -> None:
    plowed = box_plan(100.0, 300.0, lands=5)
    layout = plowed.plan.layout
    estimate = {count: spent for spent, count in ranked_lands(layout.passes, plowed.chains[0], layout.tool)}
    turns_s = sum(turn.time_s for turn in plowed.plan.route.turns())
    assert plowed.plan.route.length_m("travel") == 0
    assert estimate[5] == pytest.approx(turns_s, rel=1e-6)


def test_choices_give_up_time_for_fewer_dead_furrows(square: LandPlan) -> None:
    choices = square.choices()
    dead = [one.furrow_count("dead") for one in choices]
    times = [one.plan.field_time_s for one in choices]
    assert dead == sorted(set(dead))
    assert times == sorted(times, reverse=True)
    assert min(times) == square.least.plan.field_time_s


@given(count=st.integers(1, 300), land_m=st.floats(1, 500))
def test_nearest_number_of_lands(count: int, land_m: float) -> None:
    lands = nearest_lands(count, pitch_m=3.6576, land_m=land_m)
    assert 1 <= lands <= max(1, count // 2)
    if 1 < lands < count // 2:
        assert abs(count * 3.6576 / land_m - lands) <= 0.5 + 1e-9


def test_lands_are_shared_by_width_derived() -> None:
    # 60, 30 and 10 passes, 10 lands: 6, 3 and 1.
    chains = [np.arange(60), np.arange(60, 90), np.arange(90, 100)]
    assert share_lands(10, chains) == [6, 3, 1]
    for lands in (2, 51):
        with pytest.raises(InputError, match="3 to 50 lands"):
            share_lands(lands, chains)


def test_the_two_way_plow_has_no_dead_furrow_and_the_same_passes(square: LandPlan) -> None:
    figures = land_figures(square)
    assert figures["two_way"]["dead_furrows"] == 0
    assert square.two_way.layout is square.plan.layout
    assert {each.pattern for each in square.two_way.route.orders} == {"back-and-forth"}


@pytest.mark.parametrize(
    "name",
    [
        "ell",
        "across_the_road",
        *(pytest.param(name, marks=pytest.mark.slow) for name in ("creek", "waterway", "railroad")),
    ],
)
def test_identities_hold_on_sample_fields(name: str) -> None:
    field = read_outline(str(SAMPLES / f"{name}.geojson"))
    plowed = lay_plow(field, read_shed(SHED).tool("8-bottom plow"), direction_deg=20.0)
    hold_identities(plowed.plan)
    passed = [leg.number for leg in plowed.plan.route.legs if leg.state == "pass"]
    assert sorted(passed) == list(range(len(plowed.plan.layout.passes)))
    figures = land_figures(plowed)
    json.dumps(figures, allow_nan=False)
    assert sum(land["passes"] for land in figures["list"]) == len(passed)
    assert [line for line in land_lines(figures) if len(line) > 80] == []


def test_figures_of_the_square_forty_regression(square: LandPlan) -> None:
    figures = land_figures(square)
    assert (figures["lands"], figures["back_furrows"], figures["dead_furrows"]) == (15, 8, 7)
    assert figures["formula"]["width_ft"] == pytest.approx(188.2, abs=0.5)
    assert figures["formula"]["extra_time_h"] == pytest.approx(0.20, abs=0.02)
    # Derived: a dead furrow as long as a pass each, 1320 ft less 16 headland rounds of 12 ft.
    assert figures["dead_furrow_ft"] == pytest.approx(7 * (1320 - 16 * 12), abs=1.0)


def test_text_names_both_widths_and_their_difference(square: LandPlan) -> None:
    text = "\n".join(land_lines(land_figures(square)))
    assert "lands by the formula" in text
    assert "+0.20 h" in text
    assert "188 ft" in text
    assert "two-way plow" in text
    notes = " ".join(land_notes(land_figures(square)))
    assert "from memory" in notes
    assert "no proof" in notes


# Asked for, and refused


@pytest.mark.parametrize("text", ["0", "-3", "several", "12", "150 ft", "", "1e400ft", "nanft", "0ft", "\u0663"])
def test_lands_as_typed(text: str) -> None:
    if text in {"12", "150 ft"}:
        assert read_lands(text) == (12 if text == "12" else pytest.approx(45.72))
        return
    with pytest.raises(InputError):
        read_lands(text)


def test_tools_without_lands_are_refused() -> None:
    with pytest.raises(InputError, match="two-way plow"):
        check_plow(plow(throws="both"), "auto")
    with pytest.raises(InputError, match="throws the soil to no side"):
        check_plow(plow(throws=None), "auto")
    with pytest.raises(InputError, match="must hold a round"):
        check_plow(plow(), 7.9)
    check_plow(plow(), 8.0)


def test_a_field_that_is_all_headland_is_refused() -> None:
    with pytest.raises(InputError, match="no passes inside the headland"):
        box_plan(40.0, 60.0, headland=6)


# The shed

ENTRY = '[[tool]]\nname = "plow"\nkind = "moldboard plow"\n'


def test_bottoms_make_the_width_derived(tmp_path: Path) -> None:
    # 8 x 18 in = 144 in = 3.6576 m.
    tool = shed_of(tmp_path, ENTRY + 'bottoms = 8\nbottom_width = "18in"\nthrows = "both"\n').tool("plow")
    assert tool.width_m == pytest.approx(3.6576)
    assert (tool.bottoms, tool.throws) == (8, "both")


def test_a_moldboard_plow_is_taken_as_one_way_and_it_is_said(tmp_path: Path) -> None:
    shed = shed_of(tmp_path, ENTRY + 'width = "12ft"\n')
    assert shed.tool("plow").throws == "right"
    assert any("throws right, a one-way plow" in note for note in shed.notes_on("plow"))
    other = shed_of(tmp_path, '[[tool]]\nname = "plow"\nkind = "chisel plow"\nwidth = "12ft"\n')
    assert other.tool("plow").throws is None
    assert not any("throws" in note for note in other.notes_on("plow"))


@pytest.mark.parametrize(
    ("keys", "said"),
    [
        ('bottoms = 0\nbottom_width = "18in"\n', "bottoms: got 0. It must be a whole number from 1 to 30"),
        ('bottoms = -2\nbottom_width = "18in"\n', "bottoms: got -2"),
        ('bottoms = 8\nbottom_width = "0in"\n', "bottom_width"),
        ("bottoms = 8\n", "bottom_width: missing. bottoms needs it beside."),
        ('bottom_width = "18in"\n', "bottoms: missing. bottom_width needs it beside."),
        ('bottoms = 8\nbottom_width = "18in"\nwidth = "12ft"\n', "bottoms x bottom_width is the width"),
        ('bottoms = 8\nbottom_width = "18in"\nrows = 4\nrow_spacing = "30in"\n', "A tool has one or the other"),
        ('width = "12ft"\nthrows = "left"\n', "It must be one of right, both"),
    ],
)
def test_plows_that_cannot_be_are_refused(tmp_path: Path, keys: str, said: str) -> None:
    problems = problems_of(tmp_path, ENTRY + keys)
    assert any(said in problem for problem in problems), problems


def test_a_tool_without_bottoms_is_refused() -> None:
    with pytest.raises(InputError, match="bottoms is 0"):
        plow(bottoms=0)
    with pytest.raises(InputError, match="throws is 'left'"):
        plow(throws="left")


# The command line


def test_lay_with_lands_answers_in_full() -> None:
    figures = answer("lay", SQUARE, *PLOW, "--lands", "auto", "--direction", "0")
    lands = figures["lands"]
    assert lands["asked"] == "auto"
    assert lands["lands"] == len(lands["list"])
    assert lands["formula"]["lands"] == 6
    assert figures["field_time_h"] == lands["field_time_h"]
    assert lands["headland"]["depth_by_rule_m"] == 11.0  # 6 m and 5 more for the 4th to the 8th bottom


def test_lands_of_a_number_and_of_a_width() -> None:
    for asked, count in (("188ft", 6), ("94", None), ("24ft", 47)):
        result = run("lay", SQUARE, *PLOW, "--lands", asked, "--direction", "0", "--json")
        if count is None:
            assert "1 to 47 lands" in message(result, 1)
        else:
            assert json.loads(result.stdout)["lands"]["lands"] == count


@pytest.mark.parametrize(
    ("more", "said"),
    [
        (["--lands", "none"], "auto"),
        (["--lands", "20ft"], "A land must hold a round"),
        (["--lands", "6", "--order", "skip"], "--order does not go with --lands"),
        (["--lands", "6", "--sides", "ends"], "--sides ends does not go with --lands"),
    ],
)
def test_wrong_usage_is_said(more: list[str], said: str) -> None:
    assert said in message(run("lay", SQUARE, *PLOW, *more), 2)


def test_lands_are_refused_for_a_planter() -> None:
    result = run("lay", SQUARE, "--tool", "16-row planter", "--shed", SHED, "--lands", "auto")
    assert "throws the soil to no side" in message(result, 2)


def test_a_one_way_plow_without_lands_is_cautioned() -> None:
    result = run("lay", SQUARE, *PLOW, "--direction", "0")
    assert result.exit_code == 0
    assert "cannot go back beside" in " ".join(result.stderr.split())
    assert "--lands auto" in " ".join(result.stderr.split())
    assert "furrow" not in run("lay", SQUARE, "--width", "40ft", "--direction", "0").stderr


def test_a_two_way_plow_goes_back_and_forth(tmp_path: Path) -> None:
    shed = tmp_path / "shed.toml"
    shed.write_text(ENTRY + 'width = "12ft"\nthrows = "both"\nturn_radius = "22ft"\n', encoding="utf-8")
    tool = ["--tool", "plow", "--shed", str(shed), "--direction", "0"]
    figures = answer("lay", SQUARE, *tool)
    assert {each["pattern"] for each in figures["orders"]} == {"back-and-forth"}
    assert "finds its own furrow" not in run("lay", SQUARE, *tool).stderr
    assert "finds its own furrow" in run("lay", SQUARE, *tool, "--order", "skip").stderr


def test_furrows_are_written_as_lines(tmp_path: Path) -> None:
    file = tmp_path / "lands.geojson"
    result = run("lay", SQUARE, *PLOW, "--lands", "5", "--direction", "0", "--out", str(file))
    assert result.exit_code == 0, result.stderr
    features = json.loads(file.read_text(encoding="utf-8"))["features"]
    layers = [each["properties"]["layer"] for each in features]
    # Derived: gathered and cast by turns, 3 of 5 lands are gathered.
    assert (layers.count("back_furrows"), layers.count("dead_furrows")) == (3, 2)
    line = next(each for each in features if each["properties"]["layer"] == "dead_furrows")
    assert line["geometry"]["type"] == "LineString"
    assert line["properties"]["length_ft"] == pytest.approx(1320 - 16 * 12, abs=0.2)


def test_turns_between_headland_runs_told_beforehand_change_nothing(square: LandPlan) -> None:
    # derived: the same poses, whatever lands lie inside
    for one in (*square.tried, square.gathered):
        anew = plan_land_route(one.plan.layout, list(one.lands))
        assert [leg.length_m for leg in one.plan.route.legs] == pytest.approx([leg.length_m for leg in anew.legs])


def test_lands_left_unfinished_are_told() -> None:
    # A ditch on a slant between passes that reach past each other: see the lands that wait for each other.
    ditch = [(20, 100), (100, 260), (100, 290), (20, 130)]
    shape = shapely.Polygon([(0, 0), (120, 0), (120, 400), (0, 400)], [ditch])
    field = field_from_shape(shapely.MultiPolygon([shape]))
    plowed = lay_plow(field, plow(width_m=10.0), lands=4, direction_deg=0.0, headland=0)
    figures = land_figures(plowed)
    assert figures["taken_up_again"] == 1
    assert any("taken up again later (1 time)," in note for note in land_notes(figures))
    whole = land_figures(box_plan(120.0, 400.0))
    assert whole["taken_up_again"] == 0
    assert not any("taken up again" in note for note in land_notes(whole))


def test_the_map_has_furrows_of_both_kinds(square: LandPlan) -> None:
    axes = plot_plan(square.plan, lands=square)
    legend = axes.get_legend()
    assert legend is not None
    labels = {text.get_text() for text in legend.get_texts()}
    assert {"8 back furrows", "7 dead furrows"} <= labels


def test_a_route_over_lands_goes_through_a_table(square: LandPlan) -> None:
    route = square.plan.route
    again = route_from_geodataframe(to_geodataframe(route), square.plan.layout)
    assert [order.pattern for order in again.orders] == [order.pattern for order in route.orders]
    assert again.length_m("turn") == pytest.approx(route.length_m("turn"))
