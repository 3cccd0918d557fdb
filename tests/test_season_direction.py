"""One direction for the season: tools on the same rows, the headland they share, and each against its own best."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
import shapely
from command import message, run
from hypothesis import given, settings
from hypothesis import strategies as st
from shapes import star
from terrain import FRAME, plane, raster_of

from fieldgeo import InputError, Prices, Tool, field_from_shape, lay, read_outline, read_shed, read_terrain
from fieldgeo.analysis.asked_season import read_times
from fieldgeo.analysis.many_directions import ManyDirections
from fieldgeo.analysis.season_direction import layer_of, season_direction, season_tools
from fieldgeo.analysis.season_figures import season_direction_figures
from fieldgeo.analysis.shared_rows import Judged, SharedRows, shared_headland
from fieldgeo.machinery.turning import headland_depth_m
from fieldgeo.outline.field import Field
from fieldgeo.report.season_text import season_lines, season_notes
from fieldgeo.terrain.season_slope import pointed_directions, season_on_slope
from fieldgeo.terrain.season_slope_figures import season_slope_figures

SAMPLES = Path(__file__).parent.parent / "sample_fields"
SHED = SAMPLES / "shed.toml"
BAR = 1.005
ROW_TOOLS = ("16-row planter", "8-row row cultivator", "combine, 6-row corn head", "90 ft sprayer")


# Four slanted sides, some 4 ha: a search takes a second.
SLANTED = field_from_shape(shapely.Polygon([(0, 0), (230, 0), (260, 150), (0, 190)]), name="Slanted")


def sample(name: str) -> Field:
    return read_outline(SAMPLES / f"{name}.geojson")


def shed_tools(*names: str) -> list[Tool]:
    shed = read_shed(SHED)
    return [shed.tool(name) for name in names]


def row_tool(rows: int, **values: float) -> Tool:
    return Tool(name=f"{rows} rows", width_m=rows * 0.75, rows=rows, row_spacing_m=0.75, **values)  # type: ignore[arg-type]


def hull_directions(field: Field) -> np.ndarray:
    steps = np.diff(shapely.get_coordinates(field.shape.convex_hull), axis=0)
    return np.degrees(np.arctan2(steps[:, 0], steps[:, 1])) % 180.0


def exhaustive(field: Field, tools: list[Tool], step_deg: float) -> float:
    """Least season over every step of direction and every edge of the hull, all tools laid exactly on the rows."""
    rows = SharedRows(field, [Judged(tool=tool) for tool in tools])
    tried = np.concatenate([np.arange(0.0, 180.0, step_deg), hull_directions(field)])
    return min(rows.lay(float(direction)).score for direction in tried)


@pytest.mark.parametrize(("name", "step_deg"), [("ell", 15.0), ("square_forty", 15.0)])
def test_shared_direction_is_within_half_a_per_cent_of_a_coarse_exhaustive_search(name: str, step_deg: float) -> None:
    # derived: the bar, against our own exact layouts one by one
    field, tools = sample(name), shed_tools(*ROW_TOOLS[:2])
    assert season_direction(field, season_tools(tools)).score <= BAR * exhaustive(field, tools, step_deg)


@pytest.mark.slow
@pytest.mark.parametrize("path", sorted(SAMPLES.glob("*.geojson")), ids=lambda path: path.stem)
def test_shared_direction_is_within_half_a_per_cent_of_every_degree_on_sample_fields(path: Path) -> None:
    field, tools = read_outline(path), shed_tools(*ROW_TOOLS)
    assert season_direction(field, season_tools(tools)).score <= BAR * exhaustive(field, tools, 1.0)


def test_row_tools_share_rows_and_tillage_does_not() -> None:
    tools = shed_tools(*ROW_TOOLS, "8-bottom plow", "combine, 20 ft grain head")
    assert [each.is_on_rows for each in season_tools(tools)] == [True] * 4 + [False] * 2
    freed = season_tools(tools, free=["90 ft sprayer"], on_rows=["combine, 20 ft grain head"])
    assert [each.is_on_rows for each in freed] == [True] * 3 + [False, False, True]


def test_rectangle_of_whole_passes_derived() -> None:
    # derived: inside one round of 16 rows (12 m) 240 x 600 m leave 216 x 576 m: 18 passes of 16 rows, 36 of 8. The
    # headland is 12 m deep for both: two rounds of 8 rows.
    field = field_from_shape(shapely.box(0, 0, 240, 600))
    tools = [row_tool(8, turn_radius_m=3.0), row_tool(16, turn_radius_m=3.0)]
    planter = Tool(name="planter", kind="planter", width_m=12.0, rows=16, row_spacing_m=0.75, turn_radius_m=3.0)
    season = season_direction(field, season_tools([tools[0], planter]), headland=1, sides="all")
    assert season.layer == "planter"
    assert season.direction_deg == pytest.approx(0.0)
    assert season.headland is not None
    assert (season.headland.rounds, season.headland.depth_m) == (1, 12.0)
    narrow, wide = (each.plan.layout for each in season.tools)
    assert (len(wide.passes), len(narrow.passes)) == (18, 36)
    assert (wide.headland.rounds, narrow.headland.rounds) == (1, 2)
    assert wide.body.equals_exact(narrow.body, 1e-6)
    # the cultivator's passes lie on the planter's rows
    assert np.sort(narrow.passes.low_m)[::2] == pytest.approx(np.sort(wide.passes.low_m))
    assert season.tools[0].straddling == 0
    assert season.tools[0].match is not None
    assert season.tools[0].match.fits


def test_widest_need_decides_the_headland_derived() -> None:
    # derived: depth needed is the greatest of headland_depth_m, in whole rounds of the tool that lays the rows
    planter, long = row_tool(8, turn_radius_m=3.0), row_tool(6, turn_radius_m=9.0, pull_out_m=20.0)
    shared = shared_headland([planter, long], "auto")
    needed = headland_depth_m(long)
    assert needed > headland_depth_m(planter)
    assert (shared.needed_by, shared.needed_m) == ("6 rows", needed)
    assert shared.depth_m >= needed > shared.depth_m - planter.width_m
    assert shared.rounds == round(shared.depth_m / planter.width_m)


def test_tool_run_twice_counts_twice() -> None:
    field, tools = SLANTED, shed_tools(*ROW_TOOLS[:2])
    rows = SharedRows(field, [Judged(tool=tools[0]), Judged(tool=tools[1], times=2)])
    laid = rows.lay(90.0)
    assert laid.score == pytest.approx(laid.plans[0].field_time_s + 2 * laid.plans[1].field_time_s)
    season = season_direction(field, season_tools(tools, times={tools[1].name: 2}))
    first, second = season.tools
    assert season.score == pytest.approx(first.plan.field_time_s + 2 * second.plan.field_time_s, rel=1e-9)
    assert second.loss == pytest.approx(2 * (second.score - second.own.score))


def test_free_tool_has_its_own_best() -> None:
    field, tools = SLANTED, shed_tools("16-row planter", "40 ft field cultivator")
    season = season_direction(field, season_tools(tools))
    for each in season.tools:
        assert each.score == each.search.best.score
        assert each.loss == 0
    assert season.headland is None
    assert season.layer == "16-row planter"
    assert season.score == season.own_score


def test_no_tool_on_rows() -> None:
    season = season_direction(SLANTED, season_tools(shed_tools("8-bottom plow")))
    assert (season.direction_deg, season.layer, season.choices) == (None, None, ())
    figures = season_direction_figures(season)
    assert figures["best_deg"] is None
    assert "--on-rows NAME ties tools" in " ".join(season_notes(figures))
    assert "no tool is on rows" in "\n".join(season_lines(figures))


def test_without_a_planter_rows_are_laid_as_the_first_row_tool_goes() -> None:
    tools = [row_tool(8, turn_radius_m=4.0), row_tool(4, turn_radius_m=4.0)]
    season = season_direction(field_from_shape(shapely.box(0, 0, 90, 200)), season_tools(tools), headland=0)
    figures = season_direction_figures(season)
    assert (figures["rows_laid_by"], figures["is_layer_assumed"]) == ("8 rows", True)
    assert "rows are taken to be laid as 8 rows goes" in " ".join(season_notes(figures))
    assert figures["headland"]["rounds"] == 0
    assert "straight through, no end rows" in " ".join(season_lines(figures))
    # derived: 90 m are 15 passes of 6 m and 30 of 3 m
    assert [each["run"]["passes"] for each in figures["season"]] == [15, 30]


def test_seed_costs_nothing_to_a_tool_that_puts_none_down() -> None:
    field, tools = SLANTED, shed_tools("16-row planter", "8-row row cultivator")
    season = season_direction(field, season_tools(tools), by=Prices(hour=200.0, input_m2=0.03))
    planter, cultivator = season.tools
    assert planter.score > planter.plan.field_time_s / 3600 * 200
    assert cultivator.score == pytest.approx(cultivator.plan.field_time_s / 3600 * 200)


@pytest.mark.parametrize("by", ["passes", "overlap"])
def test_other_measures_are_least_where_they_are_asked_for(by: str) -> None:
    field, tools = SLANTED, shed_tools(*ROW_TOOLS[:2])
    season = season_direction(field, season_tools(tools), by=by)  # type: ignore[arg-type]
    assert season.score == min(choice.score for choice in season.choices)
    if by == "passes":
        assert season.score == sum(len(each.plan.layout.passes) for each in season.tools)


@settings(max_examples=2, deadline=None)
@given(seed=st.integers(0, 2**32 - 1), rows=st.integers(2, 12), follows=st.integers(2, 12))
def test_shared_total_is_never_less_than_the_sum_of_own_bests(seed: int, rows: int, follows: int) -> None:
    field = field_from_shape(star(np.random.default_rng(seed), 7, radius_m=120.0))
    planter = Tool(name="planter", kind="planter", width_m=1.5 * rows, rows=rows, row_spacing_m=1.5, turn_radius_m=5.0)
    other = Tool(name="other", width_m=1.5 * follows, rows=follows, row_spacing_m=1.5, turn_radius_m=4.0)
    season = season_direction(field, season_tools([planter, other]))
    assert season.score >= season.own_score
    assert all(each.loss >= 0 for each in season.tools)
    assert {each.plan.layout.direction_deg for each in season.tools} == {season.direction_deg}
    # the whole field is worked by every tool, as with each by itself
    for each in season.tools:
        alone = lay(field, each.tool, direction_deg=float(season.direction_deg or 0.0))
        assert each.plan.coverage.skip_m2 <= alone.coverage.skip_m2 + 2e-3 * field.area_m2


def test_season_figures_and_lines() -> None:
    tools = shed_tools("16-row planter", "combine, 6-row corn head", "23-row no-till planter")
    season = season_direction(SLANTED, season_tools(tools, times={"16-row planter": 2}))
    figures = season_direction_figures(season)
    json.dumps(figures, allow_nan=False)
    planter, head, other = figures["season"]
    assert planter["field_time_h"] == pytest.approx(2 * planter["run"]["field_time_h"])
    assert figures["score"] == pytest.approx(sum(each["score"] for each in figures["season"]))
    assert figures["gap"] == pytest.approx(sum(each["loss"] for each in figures["season"]))
    assert figures["candidates"][0]["field_time_h"] == pytest.approx(figures["field_time_h"])
    assert (planter["fits_rows"], head["fits_rows"], other["fits_rows"]) == (True, False, None)
    assert "do not divide 16" in head["misfit"]
    assert other["misfit"] == "it lays rows of its own"
    lines = list(season_lines(figures))
    assert max(map(len, lines)) <= 80
    assert "6 rows do not divide 16" in " ".join(" ".join(lines).split())


@pytest.mark.parametrize(
    ("values", "message"),
    [
        ({"times": {"plough": 2}}, "times: 'plough' is none of the tools"),
        ({"free": ["plough"]}, "free: 'plough' is none of the tools"),
        ({"free": ["90 ft sprayer"], "on_rows": ["90 ft sprayer"]}, "both free and on rows"),
        ({"times": {"90 ft sprayer": 0}}, "must be from 1 to 20"),
    ],
)
def test_what_cannot_be_asked_is_refused(values: dict[str, object], message: str) -> None:
    with pytest.raises(InputError, match=message):
        season_tools(shed_tools("90 ft sprayer"), **values)  # type: ignore[arg-type]


@pytest.mark.parametrize("text", ["planter", "=2", "planter=two", "planter=-1", "planter=1.5", "planter=99999"])
def test_times_that_cannot_be_read(text: str) -> None:
    with pytest.raises(InputError, match="NAME=N"):
        read_times(text)


def test_command_of_a_season() -> None:
    words = ["direction", str(SAMPLES / "square_forty.geojson"), "--shed", str(SHED)]
    words += ["--tool", "16-row planter", "--tool", "8-row row cultivator", "--tool", "8-bottom plow"]
    result = run(*words, "--times", "8-row row cultivator=2", "--json")
    figures = json.loads(result.stdout)
    assert [each["times"] for each in figures["season"]] == [1, 2, 1]
    assert [each["is_on_rows"] for each in figures["season"]] == [True, True, False]
    assert "free of the rows: 8-bottom plow" in " ".join(result.stderr.split())


def test_season_options_want_several_tools() -> None:
    result = run("direction", str(SAMPLES / "ell.geojson"), "--width", "30ft", "--free", "x")
    assert "--free goes with several tools" in message(result, 2)


def test_rows_of_a_season_on_a_slope(tmp_path: Path) -> None:
    # derived: on a plane that falls 4 in 100 northward rows due east lie level, and nothing loses less soil than they;
    # the field is longest from north to south, so that time alone would plant up and down
    field = field_from_shape(shapely.box(-100, -250, 100, 250), frame=FRAME)
    ground = read_terrain(raster_of(tmp_path / "plane.tif", plane(0.04, 0.0), reach=400.0), field, width_m=6.0)
    tools = season_tools([row_tool(8, turn_radius_m=4.0), row_tool(4, turn_radius_m=4.0)])
    layer = layer_of(tools)
    assert layer is not None
    many = ManyDirections(field, layer)
    pointed = pointed_directions(many, ground, most_grade=0.01)
    season = season_direction(field, tools, also_deg=pointed)
    assert season.direction_deg == pytest.approx(0.0, abs=0.5)
    on_slope = season_on_slope(season, ground, most_grade=0.01)
    assert on_slope.is_kept
    chosen = on_slope.season
    across = abs((float(chosen.direction_deg or 0.0) - 90.0 + 90.0) % 180.0 - 90.0)
    assert across <= np.degrees(np.arcsin(0.01 / 0.04)) + 0.01  # a grade of 1 in 100 is kept this far off the contour
    assert chosen.score > season.score
    assert {each.plan.layout.direction_deg for each in chosen.tools} == {chosen.direction_deg}
    figures = season_slope_figures(on_slope)
    json.dumps(figures, allow_nan=False)
    assert figures["keeps_most_grade"] is True
    assert figures["candidates"][0]["row_grade_pct_p90"] <= 1.0 + 1e-6
    assert figures["candidates"][0]["soil_pct"] < max(each["soil_pct"] for each in figures["candidates"])
    text = " ".join(" ".join(season_lines(figures)).split())
    assert "it keeps rows to 1 % on nine tenths of their length" in text
    unlimited = season_on_slope(season, ground)
    assert unlimited.is_kept is None
    assert unlimited.season is season
