"""Strip, rose, capacity and small maps: what is drawn has the sizes of the figures it stands for."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely
from click.testing import CliRunner
from matplotlib.figure import Figure
from PIL import Image

from fieldgeo.analysis.compare import compare, paying_width
from fieldgeo.analysis.direction import best_direction
from fieldgeo.analysis.direction_curve import direction_curve
from fieldgeo.analysis.figures import compare_figures, paying_figures
from fieldgeo.analysis.lay import lay
from fieldgeo.analysis.loaded import Load, load_plan
from fieldgeo.cli import main
from fieldgeo.errors import InputError
from fieldgeo.machinery.supply import supply_of
from fieldgeo.machinery.tool import Tool
from fieldgeo.outline import read_outline
from fieldgeo.outline.field import field_from_shape
from fieldgeo.report.capacity_plot import plot_capacity, plot_efficiency, save_capacity
from fieldgeo.report.map import plot_plan
from fieldgeo.report.multiples import plot_multiples, save_multiples
from fieldgeo.report.rose import dial_hours, plot_rose, save_rose
from fieldgeo.report.row_map import plot_rows, row_offsets_m
from fieldgeo.report.strip import plot_strip, save_strip
from fieldgeo.travel.stop_rules import StopRules
from fieldgeo.units import FOOT_M, HOUR_S

SAMPLES = Path(__file__).parents[1] / "sample_fields"
NARROW = Tool(name="narrow", width_m=9.0, raise_s=3.0, lower_s=3.0)
WIDE = Tool(name="wide", width_m=15.0)
ELL = str(SAMPLES / "ell.geojson")


@pytest.fixture(scope="module")
def ell():
    return read_outline(ELL)


@pytest.fixture(scope="module")
def plans(ell):
    return [lay(ell, tool, direction_deg=0.0) for tool in (NARROW, WIDE)]


@pytest.fixture(scope="module")
def search(ell):
    return best_direction(ell, WIDE)


@pytest.fixture(scope="module")
def compared():
    fields = [field_from_shape(shapely.box(0, 0, 400, 300), name="one"), read_outline(SAMPLES / "narrow_strip.geojson")]
    figures = compare_figures(compare(fields, [NARROW, WIDE], direction_deg=90.0))
    return figures | {"paying_width": paying_figures(paying_width(fields, NARROW, WIDE, direction_deg=90.0))}


def texts(axes):
    return [text.get_text() for text in axes.texts]


def legend(axes):
    return [text.get_text() for text in axes.get_legend().get_texts()]


def boxes(axes):
    """Return state, left, right, foot and top of every box of a strip, as it is drawn."""
    found = []
    for collection in axes.collections:
        for path in collection.get_paths():
            (left, low), (right, high) = path.vertices.min(axis=0), path.vertices.max(axis=0)
            found.append((collection.get_label(), left, right, low, high))
    return found


def lines_of(axes, label):
    return [line for line in axes.lines if line.get_label() == label]


def test_boxes_of_the_strip_are_the_time_line_in_its_order(plans):
    axes = plot_strip(plans[:1])
    line = plans[0].timeline
    by_height = {}
    for state, left, right, low, _ in boxes(axes):
        by_height.setdefault(low, []).append((left, right, state))
    driven, gathered = (sorted(by_height[low]) for low in sorted(by_height, reverse=True))
    assert [state for _, _, state in driven] == list(line.state)
    assert np.allclose([left * HOUR_S for left, _, _ in driven], line.start_s)
    assert np.allclose([(right - left) * HOUR_S for left, right, _ in driven], line.duration_s)
    assert sum(right - left for left, right, _ in gathered) * HOUR_S == pytest.approx(plans[0].field_time_s)
    spent = {state: seconds for state, seconds in line.by_state_s().items() if seconds > 0}
    assert {state: pytest.approx((right - left) * HOUR_S) for left, right, state in gathered} == spent


def test_bars_of_several_tools_have_one_scale_and_their_figures_at_the_end(plans):
    axes = plot_strip(plans)
    for plan in plans:
        hours = plan.field_time_s / HOUR_S
        assert f"{hours:.2f} h" in texts(axes)
        assert f"{plan.field.area_m2 / 4046.8564224 / hours:.1f} ac/h" in texts(axes)
    assert max(right for _, _, right, _, _ in boxes(axes)) * HOUR_S == pytest.approx(plans[0].field_time_s)
    states = [plan.timeline.by_state_s()["passes"] / HOUR_S for plan in plans]
    assert f"passes {states[0]:.2f}, {states[1]:.2f} h" in legend(axes)


def test_plans_of_one_tool_on_two_fields_make_one_bar(plans):
    other = lay(field_from_shape(shapely.box(0, 0, 300, 200), name="other"), NARROW, direction_deg=90.0)
    axes = plot_strip([plans[0], other])
    total = plans[0].field_time_s + other.field_time_s
    assert texts(axes).count("narrow") == 1
    assert max(right for _, _, right, _, _ in boxes(axes)) * HOUR_S == pytest.approx(total)
    assert f"{total / HOUR_S:.2f} h" in texts(axes)


def test_stops_stand_out_above_the_strip(plans):
    supply = supply_of({"tank": "10bu", "rate": "2bu/ac", "stop_setup": "2min"})
    loaded = load_plan(plans[1], Load(supply=supply, rules=StopRules()))
    axes = plot_strip([loaded.plan])
    tops = {}
    for state, _, _, _, high in boxes(axes):
        tops[state] = max(high, tops.get(state, -1e9))
    assert tops["filling"] > tops["passes"] > tops["turning"]
    assert any(label.startswith("filling") for label in legend(axes))


def test_a_strip_of_nothing_is_refused():
    with pytest.raises(InputError, match="no plan"):
        plot_strip([])


def test_points_of_the_rose_stand_at_direction_and_field_time(search, ell):
    curve = direction_curve(ell, WIDE)
    axes = plot_rose(search, curve, count=4)
    assert axes.get_theta_direction() == -1
    assert axes.get_theta_offset() == pytest.approx(np.pi / 2)
    for number, candidate in enumerate(search.candidates[:4], start=1):
        at = [(float(line.get_xdata()[0]), float(line.get_ydata()[0])) for line in lines_of(axes, f"_exact {number}")]
        degrees = sorted(float(np.degrees(angle)) for angle, _ in at)
        assert degrees == pytest.approx([candidate.direction_deg, candidate.direction_deg + 180])
        assert [hours for _, hours in at] == pytest.approx([candidate.plan.field_time_s / HOUR_S] * 2)
    (line,) = lines_of(axes, "estimate")
    assert np.allclose(line.get_ydata()[: len(curve.field_time_s)] * HOUR_S, curve.field_time_s)
    assert axes.get_rorigin() == pytest.approx(axes.get_ylim()[0])


def test_the_rose_says_where_its_radius_begins(search, ell):
    axes = plot_rose(search, direction_curve(ell, WIDE))
    low = axes.get_ylim()[0]
    said = "zero hours" if low == 0 else f"centre: {low:.4g} hours, not zero"
    assert any(said in text for text in texts(axes))
    assert any("longest side" in text and "deg" in text for text in legend(axes))


def test_points_keep_their_distance_from_the_centre_on_paper(search, ell):
    axes = plot_rose(search, direction_curve(ell, WIDE), count=3)
    axes.figure.canvas.draw()
    low, rim = axes.get_ylim()
    centre = axes.transData.transform((0.0, low))
    radius = np.hypot(*(axes.transData.transform((0.0, rim)) - centre))
    for candidate in search.candidates[:3]:
        hours = candidate.plan.field_time_s / HOUR_S
        out = axes.transData.transform((np.radians(candidate.direction_deg), hours)) - centre
        assert np.hypot(*out) / radius == pytest.approx((hours - low) / (rim - low))
        assert np.degrees(np.arctan2(out[0], out[1])) % 360 == pytest.approx(candidate.direction_deg % 360, abs=1e-6)


@pytest.mark.parametrize(("hours", "centre"), [([1.0, 3.0], 0.0), ([5.0, 5.02], None), ([0.1, 0.11], None)])
def test_a_dial_holds_all_its_hours(hours, centre):
    begin, rings = dial_hours(hours)
    assert begin < min(hours) <= max(hours) <= rings[-1] + 1e-12
    assert begin >= 0
    assert 2 <= len(rings) <= 12
    assert (begin == 0) is (centre == 0)


def test_the_rose_needs_polar_axes(search, ell):
    with pytest.raises(InputError, match="polar"):
        plot_rose(search, direction_curve(ell, WIDE), ax=Figure().add_subplot())


def test_the_curve_is_as_low_as_the_estimates_of_the_search_and_never_repeats_a_direction(ell):
    curve = direction_curve(ell, WIDE)
    assert len(np.unique(curve.direction_deg)) == len(curve.direction_deg) >= 360
    assert (np.diff(curve.direction_deg) > 0).all()
    assert np.isfinite(curve.field_time_s).all()
    assert (curve.field_time_s >= 0.5 * ell.area_m2 / WIDE.theoretical_m2_s).all()


def test_points_of_capacity_are_the_figures_of_compare(compared):
    axes = plot_capacity(compared)
    for name in ("theoretical", "effective"):
        (line,) = lines_of(axes, name)
        assert list(line.get_ydata()) == [total[f"{name}_ac_h"] for total in compared["totals"]]
        assert list(line.get_xdata()) == pytest.approx([9 / FOOT_M, 15 / FOOT_M])
        (between,) = lines_of(axes, f"{name}, widths between")
        # The ends of the line are the tools themselves. The narrow one lifts, which the wide one does not.
        assert between.get_ydata()[0] == pytest.approx(line.get_ydata()[0])
        assert between.get_ydata()[-1] == pytest.approx(line.get_ydata()[-1])
        assert between.get_xdata()[0] == pytest.approx(9 / FOOT_M)
    assert axes.get_ylim()[0] == 0
    (line,) = lines_of(plot_efficiency(compared), "field efficiency")
    assert list(line.get_ydata()) == pytest.approx([100 * total["field_efficiency"] for total in compared["totals"]])


def test_hectares_stand_beside_acres_and_metres_over_feet(compared):
    axes = plot_capacity(compared)
    axes.figure.draw_without_rendering()
    beside, above = axes.child_axes
    assert beside.get_ylim()[1] / axes.get_ylim()[1] == pytest.approx(0.40468564224)  # derived: hectares in an acre
    assert above.get_xlim()[1] / axes.get_xlim()[1] == pytest.approx(0.3048)


def test_without_widths_between_only_the_tools_are_drawn(compared):
    figures = {key: value for key, value in compared.items() if key != "paying_width"}
    assert not [line for line in plot_capacity(figures).lines if "between" in line.get_label()]


def test_small_maps_have_one_scale(plans):
    strip = lay(read_outline(SAMPLES / "narrow_strip.geojson"), WIDE, direction_deg=12.0)
    panels = plot_multiples([*plans, strip])
    scales = []
    for panel in panels:
        box = panel.get_window_extent()
        scales += [np.ptp(panel.get_xlim()) / box.width, np.ptp(panel.get_ylim()) / box.height]
    assert scales == pytest.approx([scales[0]] * 6)
    for panel, plan in zip(panels, [*plans, strip], strict=True):
        west, south, east, north = plan.field.shape.bounds
        assert panel.get_xlim()[0] < west < east < panel.get_xlim()[1]
        assert panel.get_ylim()[0] < south < north < panel.get_ylim()[1]
        assert any(f"{plan.field_time_s / HOUR_S:.2f} h" in text for text in texts(panel))


def bar_lengths_px(axes):
    """Return the length on paper of each scale of a bar by its label: "500 ft" and the like."""
    ends = {text.get_text(): text.get_position()[0] for text in axes.texts if text.get_text()[-2:] in {"ft", " m"}}
    start = next(text.get_position()[0] for text in axes.texts if text.get_text() == "0")
    return {label: float(axes.transData.transform((at, 0))[0] - axes.transData.transform((start, 0))[0])
            for label, at in ends.items()}  # fmt: skip


@pytest.mark.parametrize("kind", ["map", "small maps"])
def test_scale_bar_is_as_long_as_it_says(kind, plans):
    if kind == "map":
        axes = bar = plot_plan(plans[0])
    else:
        axes = plot_multiples(plans)[0]
        bar = axes.figure.axes[-1]
    axes.figure.canvas.draw()
    west, _, east, _ = plans[0].field.shape.bounds
    px_per_m = float(axes.transData.transform((east, 0))[0] - axes.transData.transform((west, 0))[0]) / (east - west)
    lengths = bar_lengths_px(bar)
    assert {label.split()[-1] for label in lengths} == {"ft", "m"}
    for label, length in lengths.items():
        number, unit = label.replace(",", "").split()
        assert length == pytest.approx(float(number) * (FOOT_M if unit == "ft" else 1.0) * px_per_m, rel=1e-6)


def test_ground_on_the_map_has_the_areas_of_the_plan(plans):
    axes = plot_plan(plans[0])
    areas = []
    for patch in axes.patches:
        path = patch.get_path()
        if len(path.vertices) > 3:
            areas.append(abs(sum(signed(ring) for ring in path.to_polygons(closed_only=True))))
    assert min(abs(area - plans[0].field.area_m2) for area in areas) < 1e-6 * plans[0].field.area_m2
    shapes = plans[0].shapes()
    overlap_m2 = sum(each.polygon.area for each in shapes.overlap)
    assert overlap_m2 == pytest.approx(plans[0].coverage.overlap_m2, rel=1e-6)
    assert min(abs(area - overlap_m2) for area in areas) < 1e-6 * overlap_m2


def signed(ring):
    x, y = ring[:, 0] - ring[0, 0], ring[:, 1] - ring[0, 1]
    return float(np.dot(x[:-1], y[1:]) - np.dot(x[1:], y[:-1])) / 2


def test_arrows_point_the_way_the_passes_are_driven(plans):
    axes = plot_plan(plans[1])
    (arrows,) = [each for each in axes.collections if each.get_label() == "arrows"]
    legs = [leg for leg in plans[1].route.legs if leg.state == "pass"]
    heads = [path.vertices for path in arrows.get_paths()]
    assert len(heads) == len(legs)
    for leg, head in zip(legs, heads, strict=True):
        driven, shown = leg.points()[-1] - leg.points()[0], head[0] - (head[1] + head[2]) / 2
        assert np.dot(driven, shown) == pytest.approx(np.hypot(*driven) * np.hypot(*shown))


def test_an_entrance_is_marked_where_it_is(ell):
    without = plot_plan(lay(ell, WIDE, direction_deg=0.0))
    assert "entrance" not in legend(without)
    gate = np.array(ell.shape.geoms[0].exterior.coords[2])
    axes = plot_plan(lay(ell, WIDE, direction_deg=0.0, entrance_xy=gate))
    assert "entrance" in legend(axes)
    marks = [line.get_xydata()[0] for line in axes.lines if line.get_marker() == "D"]
    assert np.allclose(marks, [gate])


def test_given_axes_are_drawn_on(plans, search, ell, compared):
    first, second = Figure(figsize=(9, 4)).subplots(1, 2)
    assert plot_multiples(plans, axes=[first, second]) == [first, second]
    assert plot_strip(plans, ax=Figure().add_subplot()).figure is not None
    polar = Figure().add_subplot(projection="polar")
    assert plot_rose(search, direction_curve(ell, WIDE), ax=polar) is polar
    one = Figure().add_subplot()
    assert plot_capacity(compared, ax=one) is one


def test_small_maps_say_what_does_not_fit(plans):
    with pytest.raises(InputError, match="one to 12"):
        plot_multiples([plans[0]] * 13)
    with pytest.raises(InputError, match="as many of both"):
        plot_multiples(plans, names=["one"])


@pytest.mark.parametrize("suffix", ["svg", "png", "pdf"])
def test_pictures_are_saved_and_the_same_again(suffix, plans, search, ell, compared, tmp_path):
    odd = [replace_name(plan, "$x^2$ <b>\n玉米") for plan in plans]
    for name, save in (
        ("strip", lambda path: save_strip(odd, path)),
        ("rose", lambda path: save_rose(search, direction_curve(ell, WIDE), path)),
        ("capacity", lambda path: save_capacity(compared, path)),
        ("maps", lambda path: save_multiples(odd, path)),
    ):
        first, second = tmp_path / f"{name}1.{suffix}", tmp_path / f"{name}2.{suffix}"
        save(first)
        save(second)
        assert first.read_bytes() == second.read_bytes()
        assert first.stat().st_size < 2_000_000
        if suffix == "png":
            with Image.open(first) as image:
                assert image.width == 1600


def replace_name(plan, name):
    return replace(plan, layout=replace(plan.layout, tool=replace(plan.tool, name=name)))


def run(*arguments):
    return CliRunner().invoke(main, list(arguments))


def test_pictures_from_the_command_line(tmp_path):
    names = {name: str(tmp_path / f"{name}.svg") for name in ("strip", "plot", "map")}
    asked = [word for name, path in names.items() for word in (f"--{name}", path)]
    result = run("compare", ELL, "--width", "30ft", "--width", "60ft", "--width", "80ft", "--direction", "0", *asked)
    assert result.exit_code == 0, result.output
    for path in names.values():
        assert path in "".join(result.stderr.split())
        Path(path).unlink()
    assert run("lay", ELL, "--width", "60ft", "--direction", "0", "--strip", names["strip"]).exit_code == 0
    again = run("lay", ELL, "--width", "60ft", "--direction", "0", "--strip", names["strip"])
    assert again.exit_code == 1
    assert "exists" in again.stderr
    result = run("direction", ELL, "--width", "60ft", "--plot", names["plot"], "--map", names["map"])
    assert result.exit_code == 0, result.output
    assert Path(names["plot"]).exists()
    assert Path(names["map"]).exists()
    assert run("direction", ELL, "--width", "60ft", "--plot", "rose.bmp").exit_code == 2


def test_many_fields_are_shown_in_part_and_that_is_said(tmp_path):
    outlines = [str(SAMPLES / f"{name}.geojson") for name in ("ell", "half_mile", "narrow_strip", "square_forty")]
    widths = [word for width in (40, 60, 80, 90, 100) for word in ("--width", f"{width}ft")]
    result = run("compare", *outlines, *widths, "--direction", "0", "--map", str(tmp_path / "maps.svg"))
    assert result.exit_code == 0, result.output
    assert "the first 2 of 4 fields" in " ".join(result.stderr.split())


def test_rows_of_the_close_up_lie_a_spacing_apart(ell):
    tool = Tool(name="8 rows", width_m=8 * 0.762, rows=8, row_spacing_m=0.762)
    plan = lay(ell, tool, direction_deg=0.0)
    axes = plot_rows(plan)
    passes = [each for each in axes.collections if each.get_label() == "rows" and each.get_edgecolor()[0][2] > 0.5]
    lines = [line for each in passes for line in each.get_segments()]
    places = np.unique(np.round([line[0, 0] for line in lines], 6))
    assert len(places) >= 24
    # derived: passes side by side without a lap, so that a guess row is as wide as any other
    assert np.median(np.diff(places)) == pytest.approx(0.762, abs=1e-4)
    longest = max((leg for leg in plan.route.legs if leg.state == "pass"), key=lambda leg: leg.length_m)
    x, y = longest.points()[-1]
    assert axes.get_xlim()[0] < x < axes.get_xlim()[1]
    assert axes.get_ylim()[0] < y < axes.get_ylim()[1]
    assert row_offsets_m(8, 0.762).sum() == pytest.approx(0.0)


def test_a_close_up_needs_rows(plans, tmp_path):
    with pytest.raises(InputError, match="lays no rows"):
        plot_rows(plans[0])
    target = str(tmp_path / "rows.svg")
    refused = run("lay", ELL, "--width", "40ft", "--close-up", target)
    assert refused.exit_code == 2
    assert "--row-spacing" in refused.stderr
    done = run("lay", ELL, "--rows", "16", "--row-spacing", "30in", "--direction", "0", "--close-up", target)
    assert done.exit_code == 0, done.output
    assert Path(target).exists()
