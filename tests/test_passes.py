"""Passes: how many strips, where they lie, and that no pass leaves the body by more than its finish rule says."""

from math import ceil

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapes import outlines, to_work_shape

from fieldgeo.layout.model import Passes
from fieldgeo.layout.overlay import difference
from fieldgeo.layout.passes import lay_passes, placings, strip_count
from fieldgeo.layout.strips import FIT_TOLERANCE_M, NOISE_M, Finish
from fieldgeo.machinery.tool import Tool

FOOT_M = 0.3048
FINISHES: tuple[Finish, ...] = ("cover", "clean", "half")


def tool(width: float, lap: float = 0.0, sections: int = 1) -> Tool:
    return Tool(name="t", width_m=width, lap_m=lap, sections=sections)


def passes_on(shape: shapely.Geometry, direction: float, made: Tool, finish: Finish = "cover") -> Passes:
    parts = shapely.get_parts(shapely.orient_polygons(shape))
    return lay_passes(shapely.MultiPolygon(list(parts)), direction, made, finish, turn_s=20.0)


@pytest.mark.parametrize(
    ("extent", "width", "lap", "cover", "clean", "half"),
    [
        (100.0, 10.0, 0.0, 10, 10, 10),  # fits
        (104.0, 10.0, 0.0, 11, 10, 10),  # 4 m over: half leaves less than half a width
        (106.0, 10.0, 0.0, 11, 10, 11),
        (100.0, 10.0, 1.0, 11, 11, 11),  # 10 x 9 + 10 = 100
        (101.0, 10.0, 1.0, 12, 11, 11),
        (8.0, 10.0, 0.0, 1, 1, 1),
        (100.009, 10.0, 0.0, 10, 10, 10),  # nine millimetres are no reason for a pass
        (99.991, 10.0, 0.0, 10, 10, 10),
        (100.02, 10.0, 0.0, 11, 10, 10),
        (99.98, 10.0, 0.0, 10, 9, 10),
    ],
)
def test_strip_count_derived(extent: float, width: float, lap: float, cover: int, clean: int, half: int) -> None:
    made = tool(width, lap)
    assert [strip_count(extent, made, finish) for finish in FINISHES] == [cover, clean, half]


@given(extent=st.floats(1, 2000), width=st.floats(1, 40), lap_share=st.floats(0, 0.45))
def test_strips_fill_as_the_finish_rule_says(extent: float, width: float, lap_share: float) -> None:
    made = tool(width, lap_share * width)
    for finish in FINISHES:
        count = strip_count(extent, made, finish)
        reach = (count - 1) * made.pitch_m + width
        if finish == "cover":
            assert reach >= extent - FIT_TOLERANCE_M * 1.001
            assert count == 1 or reach - made.pitch_m < extent - FIT_TOLERANCE_M * 0.999
        elif finish == "clean" and count > 1:
            assert reach <= extent + FIT_TOLERANCE_M * 1.001


@given(low=st.floats(-500, 500), extent=st.floats(5, 500), width=st.floats(2, 30), lap_share=st.floats(0, 0.4))
def test_placings_hold_to_the_extent(low: float, extent: float, width: float, lap_share: float) -> None:
    made, high = tool(width, lap_share * width), low + extent
    for finish in FINISHES:
        for placing in placings(low, high, made, finish):
            lows = placing.lows
            assert len(lows) == strip_count(extent, made, finish)
            steps = np.diff(lows)
            if finish == "cover":
                # No gap: neighbours never further apart than the width, both edges reached.
                assert (steps <= made.pitch_m + 1e-9).all()
                assert lows[0] <= low + FIT_TOLERANCE_M
                assert lows[-1] + width >= high - FIT_TOLERANCE_M
            if finish == "clean" and len(lows) > 1:
                assert lows[0] >= low - FIT_TOLERANCE_M
                assert lows[-1] + width <= high + FIT_TOLERANCE_M
            if placing.pulled >= 0:
                assert placing.pulled in (0, len(lows) - 1)
                assert lows[0] >= low - 1e-9
                assert lows[-1] + width <= high + 1e-9
            else:
                assert steps == pytest.approx(made.pitch_m, abs=1e-9)


@pytest.mark.parametrize("direction", [0.0, 90.0])
def test_rectangle_that_fits_derived(direction: float) -> None:
    # 120 x 80 m, 10 m tool: 8 passes of 120 m east-west, 12 of 80 m north-south.
    passes = passes_on(shapely.box(0, 0, 120, 80), direction, tool(10.0))
    count, length = (8, 120.0) if direction == 90 else (12, 80.0)
    assert len(passes) == count
    assert passes.length_m == pytest.approx(length, abs=1e-9)
    assert passes.strip.tolist() == list(range(count))
    assert not passes.is_pulled.any()
    starts, ends = passes.ends_xy()
    along = (ends - starts) / length
    assert along == pytest.approx(
        np.tile([np.sin(np.radians(direction)), np.cos(np.radians(direction))], (count, 1)), abs=1e-9
    )


def test_centre_lines_derived() -> None:
    # Going north, across to the left is west: strips from the right are those from x = 120 down to 0.
    passes = passes_on(shapely.box(0, 0, 120, 80), 0.0, tool(40.0))
    lines = sorted(shapely.get_coordinates(line).round(9).tolist() for line in passes.lines())
    assert lines == [[[20, 0], [20, 80]], [[60, 0], [60, 80]], [[100, 0], [100, 80]]]
    assert [swath.bounds for swath in passes.swaths()] == [
        pytest.approx((80, 0, 120, 80)), pytest.approx((40, 0, 80, 80)), pytest.approx((0, 0, 40, 80)),
    ]  # fmt: skip


def test_last_pass_is_pulled_in_derived() -> None:
    # 76 m, 10 m tool: the eighth pass works 6 m of new ground and 4 m of its neighbour's.
    passes = passes_on(shapely.box(0, 0, 120, 76), 90.0, tool(10.0))
    assert len(passes) == 8
    assert passes.is_pulled.sum() == 1
    assert passes.swept_m2 == pytest.approx(8 * 1200.0)
    assert (passes.low_m.min(), passes.high_m.max()) == pytest.approx((0.0, 76.0), abs=1e-9)


def test_sections_of_a_pulled_pass_shut_off_derived() -> None:
    # The same with ten sections of 1 m: the four over the neighbour's ground stay shut.
    passes = passes_on(shapely.box(0, 0, 120, 76), 90.0, tool(10.0, sections=10))
    assert len(passes) == 8
    assert passes.swept_m2 == pytest.approx(120 * 76.0)


@pytest.mark.parametrize(("finish", "swept"), [("cover", 8 * 10), ("clean", 7 * 10), ("half", 8 * 10)])
def test_extent_that_does_not_fit_by_finish_derived(finish: Finish, swept: float) -> None:
    # 76 m: cover and half lay eight strips (6 m over is more than half a width), clean seven.
    assert passes_on(shapely.box(0, 0, 120, 76), 90.0, tool(10.0), finish).swept_m2 == pytest.approx(120 * swept)


# PS06 and OV10, derived: sides in ft, tools in ft, passes. OV06: with a foot of lap ceil((2640 - 1) / 29) = 91 for 88.
@pytest.mark.parametrize(
    ("side_ft", "width_ft", "lap_ft", "count"),
    [
        (1320, 15, 0, 88), (1320, 30, 0, 44), (1320, 40, 0, 33), (1320, 60, 0, 22), (1320, 35, 0, 38),
        (1320, 45, 0, 30), (2640, 30, 0, 88), (2640, 30, 1, 91),
    ],
)  # fmt: skip
def test_passes_on_a_square_derived(side_ft: float, width_ft: float, lap_ft: float, count: int) -> None:
    shape = shapely.box(0, 0, side_ft * FOOT_M, side_ft * FOOT_M)
    for direction in (0.0, 90.0):
        assert len(passes_on(shape, direction, tool(width_ft * FOOT_M, lap_ft * FOOT_M))) == count
    # OV10, derived: what passes reach beyond the side is worked twice: 10 ft with a 35 ft tool, 30 ft with 45 ft.
    swept_ft = passes_on(shape, 0.0, tool(width_ft * FOOT_M, lap_ft * FOOT_M)).swept_m2 / FOOT_M**2 / side_ft
    assert swept_ft == pytest.approx(count * width_ft, abs=1e-6)


@pytest.mark.parametrize("turn_deg", [0.0, 17.0, 90.0, 251.7])
def test_passes_turn_with_the_field(turn_deg: float) -> None:
    shape = shapely.Polygon([(0, 0), (300, 0), (300, 200), (180, 130), (90, 240), (0, 200)])
    turned = shapely.affinity.rotate(shape, -turn_deg, origin=(3, 7))  # clockwise
    for finish in FINISHES:
        one = passes_on(shape, 20.0, tool(9.0), finish)
        other = passes_on(turned, (20.0 + turn_deg) % 180, tool(9.0), finish)
        assert len(one) == len(other)
        assert np.sort(one.length_m) == pytest.approx(np.sort(other.length_m), abs=1e-4)


@given(
    shape=outlines(),
    direction_deg=st.one_of(st.sampled_from([0.0, 90.0]), st.floats(0, 180)),
    sections=st.sampled_from([1, 3]),
    lap=st.sampled_from([0.0, 1.0]),
)
def test_no_pass_leaves_the_body_beyond_its_finish_rule(
    shape: shapely.MultiPolygon, direction_deg: float, sections: int, lap: float
) -> None:
    width = 8.0
    work = to_work_shape(shape, direction_deg)
    grown = work.buffer(1e-5, join_style="mitre")
    for finish in FINISHES:
        passes = passes_on(shape, direction_deg, tool(width, lap, sections), finish)
        for u_low, v_low, u_high, v_high in passes.boxes[:: max(1, len(passes.boxes) // 12)]:
            if finish == "cover":
                # Every line across the box touches the body: what the body casts on the box's length is all of it.
                part = shapely.intersection(work, shapely.box(u_low - 1e-6, v_low - 1e-6, u_high + 1e-6, v_high + 1e-6))
                spans = shapely.bounds([p for p in shapely.get_parts(part) if p.area > 0])[:, [0, 2]]
                reached = u_low
                for start, end in sorted(spans.tolist()):
                    assert start <= reached + 1e-3
                    reached = max(reached, end)
                assert reached >= u_high - 1e-3
            elif finish == "clean":
                # The box less half the tolerance at either side lies in the body.
                edge = FIT_TOLERANCE_M / 2 + NOISE_M
                assert grown.covers(shapely.box(u_low, v_low + edge, u_high, v_high - edge))
            else:
                centre = (v_low + v_high) / 2
                assert grown.covers(shapely.LineString([(u_low, centre), (u_high, centre)]))


@given(shape=outlines(), direction_deg=st.floats(0, 180), width=st.floats(3, 20), sections=st.sampled_from([1, 2, 5]))
def test_cover_works_all_of_the_body(
    shape: shapely.MultiPolygon, direction_deg: float, width: float, sections: int
) -> None:
    passes = passes_on(shape, direction_deg, tool(width, sections=sections))
    swaths = shapely.union_all(np.array(passes.swaths()), grid_size=1e-9)
    # Strips are not added for a centimetre, along at most the whole outline.
    assert difference(shape, swaths).area <= FIT_TOLERANCE_M * shape.length


@given(
    shape=outlines(),
    direction_deg=st.floats(0, 180),
    sections=st.sampled_from([1, 4]),
    finish=st.sampled_from(FINISHES),
)
def test_passes_are_well_formed(
    shape: shapely.MultiPolygon, direction_deg: float, sections: int, finish: Finish
) -> None:
    made = tool(7.5, sections=sections)
    passes = passes_on(shape, direction_deg, made, finish)
    assert (passes.end_m >= passes.start_m).all()
    assert passes.high_m - passes.low_m == pytest.approx(made.width_m)
    key = list(zip(passes.piece.tolist(), passes.strip.tolist(), passes.start_m.tolist(), strict=True))
    assert key == sorted(key)
    owner = passes.box_pass
    assert set(owner.tolist()) <= set(range(len(passes)))
    # Boxes lie within the strip and the length of their pass.
    assert (passes.boxes[:, 0] >= passes.start_m[owner] - 1e-9).all()
    assert (passes.boxes[:, 2] <= passes.end_m[owner] + 1e-9).all()
    assert (passes.boxes[:, 1] >= passes.low_m[owner] - 1e-9).all()
    assert (passes.boxes[:, 3] <= passes.high_m[owner] + 1e-9).all()
    if finish == "cover":
        across = to_work_shape(shape, direction_deg)
        least = sum(
            ceil((part.bounds[3] - part.bounds[1] - FIT_TOLERANCE_M) / made.width_m - 1e-9) for part in across.geoms
        )
        assert len(np.unique(np.column_stack([passes.piece, passes.strip]), axis=0)) == least
