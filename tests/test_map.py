"""The plain picture: drawn for every kind of field, safe with any name, saved whole or not at all."""

from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
import shapely
from matplotlib.figure import Figure
from PIL import Image

from fieldgeo.analysis.lay import lay
from fieldgeo.analysis.loaded import Load, load_plan
from fieldgeo.errors import FileError, InputError
from fieldgeo.machinery.supply import supply_of
from fieldgeo.machinery.tool import Tool
from fieldgeo.outline import read_outline
from fieldgeo.outline.evidence import Gap, WalkReport
from fieldgeo.outline.field import field_from_shape
from fieldgeo.report.map import plot_plan, save_map
from fieldgeo.report.outline_map import plot_field
from fieldgeo.report.sheet import round_length, short_text
from fieldgeo.travel.stop_rules import StopRules

SAMPLES = Path(__file__).parents[1] / "sample_fields"
TOOL = Tool(name="12 m tool", width_m=12.0)


def sample(name):
    return read_outline(SAMPLES / f"{name}.geojson")


@pytest.fixture(scope="module")
def plan():
    return lay(sample("ell"), TOOL, direction_deg=20.0)


def texts(axes):
    return [text.get_text() for text in axes.texts]


def legend(axes):
    return [text.get_text() for text in axes.get_legend().get_texts()]


@pytest.mark.parametrize("name", ["narrow_strip", "creek", "across_the_road", "waterway"])
def test_every_kind_of_field_is_drawn_north_up_at_one_scale(name):
    plan = lay(sample(name), TOOL, direction_deg=12.0)
    axes = plot_plan(plan)
    axes.figure.canvas.draw()
    assert axes.get_aspect() == 1.0
    box = axes.get_window_extent()
    low, high = np.array(axes.get_xlim()), np.array(axes.get_ylim())
    assert np.ptp(low) / box.width == pytest.approx(np.ptp(high) / box.height)
    west, south, east, north = plan.field.shape.bounds
    assert low[0] < west < east < low[1]
    assert high[0] < south < north < high[1]
    assert "N" in texts(axes)


def test_nothing_on_the_page_runs_off_it_or_onto_the_field(plan):
    strip = lay(sample("narrow_strip"), TOOL, direction_deg=12.0)
    for axes, field in (
        (plot_plan(plan), plan.field),
        (plot_field(plan.field), plan.field),
        (plot_plan(strip), strip.field),
    ):
        axes.figure.canvas.draw()
        page, key = axes.figure.bbox, axes.get_legend().get_window_extent()
        words = {text.get_text(): text.get_window_extent() for text in axes.texts}
        for part in [*words.values(), key]:
            assert page.x0 <= part.x0 < part.x1 <= page.x1
            assert page.y0 <= part.y0 < part.y1 <= page.y1
        foot = axes.transData.transform((0, field.shape.bounds[1]))[1]
        for word, part in words.items():
            if word == "N" or word.endswith((" ft", " m")):
                assert key.y1 <= part.y0 < part.y1 < foot


def test_the_figures_stand_beside_the_colours(plan):
    words = legend(plot_plan(plan))
    assert f"{len(plan.layout.passes)} passes, numbered as driven" in words
    assert f"{len(plan.route.turns())} turns" in words
    share = 100 * plan.coverage.overlap_m2 / plan.coverage.area_m2
    assert any(word.startswith("overlap") and word.endswith(f"{share:.1f} %") for word in words)
    assert any(word.startswith("skip") for word in words)
    assert legend(plot_field(sample("waterway"))) == ["outline", "1 hole, not worked"]
    assert legend(plot_field(sample("across_the_road"))) == ["outline, 2 parts"]


def test_passes_are_numbered_as_far_as_there_is_room():
    few = lay(field_from_shape(shapely.box(0, 0, 120, 100)), TOOL, direction_deg=0.0)
    many = lay(field_from_shape(shapely.box(0, 0, 1200, 1000)), TOOL, direction_deg=0.0)
    numbers = {int(text) for text in texts(plot_plan(few)) if text.isdigit()}
    assert numbers == set(range(len(few.layout.passes) + 1))  # the nought is that of the scale bar
    numbers = {int(text) for text in texts(plot_plan(many)) if text.isdigit()}
    assert {1, len(many.layout.passes)} < numbers
    assert len(numbers) < 30


def test_scale_bar_has_feet_and_metres(plan):
    words = texts(plot_plan(plan))
    assert any(word.endswith(" ft") for word in words)
    assert any(word.endswith(" m") for word in words)


def test_given_axes_are_drawn_on(plan):
    left, right = Figure(figsize=(8, 4)).subplots(1, 2)
    assert plot_plan(plan, ax=left) is left
    assert plot_field(plan.field, ax=right) is right


def test_a_field_without_any_pass_is_drawn():
    field = field_from_shape(shapely.box(0, 0, 30, 30))
    plan = lay(field, Tool(name="as long as the field", width_m=29.0), direction_deg=0.0, headland=1, finish="clean")
    assert "outline" in legend(plot_plan(plan))


@pytest.mark.parametrize("suffix", ["svg", "png", "pdf"])
def test_picture_is_saved_and_the_same_again(plan, suffix, tmp_path):
    first, second = tmp_path / f"first.{suffix}", tmp_path / f"second.{suffix}"
    save_map(plan, first)
    save_map(plan, second)
    assert first.read_bytes() == second.read_bytes()
    if suffix == "svg":
        ElementTree.parse(first)
    elif suffix == "png":
        with Image.open(first) as image:
            assert image.width == 1600
    with pytest.raises(FileError, match="exists and is left alone"):
        save_map(plan, first)


def test_unknown_picture_is_refused_with_those_there_are(plan, tmp_path):
    with pytest.raises(InputError, match=r"\.svg, \.png, \.pdf"):
        save_map(plan, tmp_path / "map.bmp")
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize(
    "name",
    ["$x^2$ \\frac{", "<b>bold</b> & <script>", "corn \U0001f33d\n\tnew\x00 line \ud800", "", "W" * 300, "عربى 玉米"],
)
@pytest.mark.parametrize("suffix", ["svg", "png"])
def test_odd_names_do_no_harm(name, suffix, tmp_path):
    field = field_from_shape(shapely.box(0, 0, 200, 150), name=name)
    path = tmp_path / f"map.{suffix}"
    save_map(lay(field, Tool(name=name, width_m=12.0), direction_deg=0.0), path)
    assert path.stat().st_size > 1000
    if suffix == "svg":
        assert "<b>" not in path.read_text()
        ElementTree.parse(path)


def test_names_are_shown_as_they_are_where_the_font_can():
    assert short_text("$x^2$ <b>", 40) == "$x^2$ <b>"
    assert short_text("a\nb\x00c", 40) == "a b c"
    assert short_text("\U0001f33d corn", 40) == "□ corn"


@pytest.mark.parametrize(
    ("most", "expected"), [(1.0, 1), (1.99, 1), (2.0, 2), (730.0, 500), (0.034, 0.02), (99_999, 50_000)]
)
def test_scale_bar_has_a_round_length_derived(most, expected):
    assert round_length(most) == pytest.approx(expected)


# Outlines of other sources


def test_a_deed_is_drawn_with_its_corners_and_calls():
    axes = plot_field(read_outline(SAMPLES / "mill_lane_deed.txt"))
    assert [text for text in texts(axes) if text.isdigit()][:6] == ["1", "2", "3", "4", "5", "6"]
    assert "N 0°42' E  1,322.5 ft" in texts(axes)
    assert "R 420.0 ft, arc 455.8 ft" in texts(axes)
    assert any("no corner's place is known" in text for text in texts(axes))
    placed = plot_field(read_outline(SAMPLES / "ell_deed.txt"))
    assert not any("no corner's place is known" in text for text in texts(placed))


def test_gaps_of_a_walk_are_marked():
    walk = read_outline(SAMPLES / "walk_ell.gpx")
    assert walk.evidence is not None
    assert isinstance(walk.evidence.report, WalkReport)
    gap = Gap(length_m=30.48, lon_deg=walk.frame.lon_deg, lat_deg=walk.frame.lat_deg)
    evidence = replace(walk.evidence, report=replace(walk.evidence.report, gaps=(gap,)))
    assert legend(plot_field(walk)) == ["outline"]
    assert legend(plot_field(replace(walk, evidence=evidence))) == ["outline", "not walked: 1, 100 ft (30 m) in all"]


def test_stops_are_marked_where_the_tool_stands():
    plan = lay(sample("half_mile"), TOOL, direction_deg=88.0)
    load = Load(supply=supply_of({"tank": "10bu", "rate": "1bu/ac"}), rules=StopRules())
    loaded = load_plan(plan, load)
    axes = plot_plan(loaded.without, stops=loaded.stops)
    count = len(loaded.stops.stops)
    assert count >= 3
    assert f"{count} stops to fill, numbered" in legend(axes)
    marked = " ".join(text.get_text() for text in axes.texts if text.get_bbox_patch() is not None).split()
    assert sorted(map(int, marked)) == list(range(1, count + 1))
