"""Several sources of one field side by side: areas, ground in one only, edges, and where the largest patch lies."""

import json
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldgeo.analysis.agree import agree, agreement_figures
from fieldgeo.errors import InputError
from fieldgeo.frame import Frame, shape_to_frame, shape_to_lonlat
from fieldgeo.outline import read_outline
from fieldgeo.outline.evidence import Evidence
from fieldgeo.outline.field import field_from_shape
from fieldgeo.report.agreement import agreement_lines, agreement_notes

SAMPLES = Path(__file__).parents[1] / "sample_fields"
SIDE = 400.0
SQUARE = shapely.box(-SIDE / 2, -SIDE / 2, SIDE / 2, SIDE / 2)


def field(shape, *, name="home", uncertainty_m2=None, is_placed=True, frame=None, kind="file"):
    evidence = Evidence(kind=kind, area_uncertainty_m2=uncertainty_m2, uncertainty_from="as said", is_placed=is_placed)
    return replace(field_from_shape(shape, name=name, frame=frame), evidence=evidence)


def pair_of(first, second):
    (pair,) = agree([first, second]).pairs
    return pair


def overlay_of(first, second):
    overlay = pair_of(field(first), field(second)).overlay
    assert overlay is not None
    return overlay


def box(x0, y0, x1, y1):
    return shapely.box(*np.array([x0, y0, x1, y1]) * SIDE / 2)


def test_the_same_outline_twice():
    overlay = overlay_of(SQUARE, SQUARE)
    assert overlay.differing_m2 == 0
    assert overlay.largest is None
    assert overlay.shared_m2 == pytest.approx(SIDE**2)
    assert (overlay.edge_median_m, overlay.edge_p95_m, overlay.apart_m) == (0, 0, 0)


def test_a_strip_along_the_north_edge_derived():
    # 20 m more along 400 m: 8000 m2, 20 m wide. Middle of the strip 210 m north.
    overlay = overlay_of(SQUARE, shapely.union(SQUARE, shapely.box(-200, 200, 200, 220)))
    assert overlay.only_first.area == 0
    assert overlay.only_second.area == overlay.differing_m2 == pytest.approx(8000)
    patch = overlay.largest
    assert patch is not None
    assert not patch.is_in_first
    assert patch.area_m2 == pytest.approx(8000)
    assert patch.width_m == pytest.approx(20, abs=0.4)
    assert patch.side == "north edge"
    assert (patch.x_m, patch.y_m) == pytest.approx((0, 210), abs=1e-6)
    # Derived: 210 m north of 42 N; 1 degree there is 111,076 m (radius along the meridian 6,364,194 m).
    assert (patch.lon_deg, patch.lat_deg) == pytest.approx((-93.0, 42 + 210 / 111_076), abs=1e-7)
    # Of 1600 + 1640 m of edge, 400 + 400 m are 20 m from the other, 40 m between 0 and 20 m; the rest lies on it.
    assert overlay.edge_median_m == pytest.approx(0, abs=1e-9)
    assert overlay.edge_p95_m == pytest.approx(20, abs=1e-9)


@pytest.mark.parametrize(
    ("patch", "side"),
    [
        (box(-0.2, 1, 0.2, 1.2), "north edge"),
        (box(0.3, 1, 0.6, 1.2), "north edge"),
        (box(0.8, 0.8, 1.1, 1.1), "north-east corner"),
        (box(1, -0.2, 1.2, 0.2), "east edge"),
        (box(0.8, -1.1, 1.1, -0.8), "south-east corner"),
        (box(-0.3, -1.2, 0.3, -1), "south edge"),
        (box(-1.2, -1.2, -0.9, -0.9), "south-west corner"),
        (box(-1.1, -1, -1, 1), "west edge"),
        (box(-1.1, 0.9, -0.9, 1.1), "north-west corner"),
    ],
)
@pytest.mark.parametrize("stretch", [1.0, 8.0])
def test_side_of_ground_added_outside(patch, side, stretch):
    # A long field has edges and corners as a square one has.
    square, added = (shapely.affinity.scale(each, stretch, 1, origin=(0, 0)) for each in (SQUARE, patch))
    more = overlay_of(square, shapely.union(square, added)).largest
    assert more is not None
    assert (more.side, more.is_in_first) == (side, False)
    less = overlay_of(shapely.union(square, added), square).largest
    assert less is not None
    assert (less.side, less.is_in_first) == (side, True)


def test_side_of_ground_cut_off():
    corner = shapely.Polygon([(200, 200), (200, 100), (100, 200)])
    patch = overlay_of(SQUARE, shapely.difference(SQUARE, corner)).largest
    assert patch is not None
    assert (patch.side, patch.is_in_first) == ("north-east corner", True)
    slanted = shapely.Polygon([(-200, -200), (200, -200), (-200, 200)])
    shorter = shapely.Polygon([(-200, -200), (160, -200), (-200, 160)])
    patch = overlay_of(slanted, shorter).largest
    assert patch is not None
    assert patch.side == "north-east edge"  # along the long side of a triangle


def test_a_hole_of_one_only_is_inside():
    pond = shapely.Point(50, 60).buffer(30)
    patch = overlay_of(SQUARE, shapely.difference(SQUARE, pond)).largest
    assert patch is not None
    assert patch.side == "inside"
    assert (patch.x_m, patch.y_m) == pytest.approx((50, 60), abs=1e-6)
    assert patch.width_m == pytest.approx(60, rel=0.02)


def test_a_strip_all_round_lies_on_several_sides_and_is_told_where_it_is_widest():
    wider = shapely.union(SQUARE.buffer(2, join_style="mitre"), shapely.box(-60, 190, 0, 240))
    patch = overlay_of(SQUARE, wider).largest
    assert patch is not None
    assert patch.side == "several sides"
    assert patch.width_m == pytest.approx(40, rel=0.05)
    assert shapely.Point(patch.x_m, patch.y_m).distance(shapely.box(-60, 200, 0, 240)) == 0


def test_middle_of_a_crooked_patch_lies_on_it():
    hook = shapely.union_all([shapely.box(-200, 200, 200, 206), shapely.box(200, -100, 206, 206)])
    patch = overlay_of(SQUARE, shapely.union(SQUARE, hook)).largest
    assert patch is not None
    assert shapely.Point(patch.x_m, patch.y_m).distance(patch.shape) < 1e-6


def test_uncertainties_together_derived():
    # 8000 m2 apart. Root of 3000 and 4000 squared is 5000: beyond. Of 6000 and 8000 it is 10000: within.
    larger = shapely.box(-200, -200, 200, 220)
    beyond = pair_of(field(SQUARE, uncertainty_m2=3000), field(larger, uncertainty_m2=4000))
    assert beyond.area_difference_m2 == pytest.approx(8000)
    assert beyond.uncertainty_m2 == pytest.approx(5000)
    assert beyond.is_beyond_uncertainty is True
    within = pair_of(field(SQUARE, uncertainty_m2=6000), field(larger, uncertainty_m2=8000))
    assert within.is_beyond_uncertainty is False
    unknown = pair_of(field(SQUARE, uncertainty_m2=6000), field(larger))
    assert unknown.uncertainty_m2 is None
    assert unknown.is_beyond_uncertainty is None
    bare = pair_of(field(SQUARE, uncertainty_m2=6000), field_from_shape(larger))
    assert bare.is_beyond_uncertainty is None


def test_a_source_without_a_place_takes_part_with_its_area_only():
    agreement = agree([field(SQUARE, is_placed=False), field(SQUARE, name="walk"), field(box(-1, -1, 1, 1.1))])
    assert [pair.overlay is None for pair in agreement.pairs] == [True, True, False]
    assert agreement.pairs[1].area_difference_m2 == pytest.approx(8000)
    assert agreement.frame == field(SQUARE).frame
    figures = agreement_figures(agreement)
    assert "A has no place on Earth: its area takes part, its edges do not" in figures["notes"]
    nowhere = agree([field(SQUARE, is_placed=False), field(SQUARE, is_placed=False)])
    assert nowhere.frame is None
    assert nowhere.worst is None
    assert agreement_figures(nowhere)["worst"] is None
    assert "cannot be laid over" in "\n".join(agreement_lines(agreement_figures(nowhere)))


def test_fields_apart_are_asked_about():
    far = shapely.affinity.translate(SQUARE, 1000, 0)
    agreement = agree([field(SQUARE), field(far)])
    (pair,) = agreement.pairs
    assert pair.overlay is not None
    assert pair.overlay.apart_m == pytest.approx(600)
    assert pair.overlay.largest is None
    assert pair.overlay.shared_m2 == 0
    assert any("600 m apart: are they of one field?" in note for note in agreement_figures(agreement)["notes"])


@pytest.mark.parametrize(("lon", "lat"), [(-92.99, 42.01), (-92.2, 41.5), (-93.0, 42.8)])
def test_fields_of_other_frames_come_into_the_first(lon, lat):
    (pair,) = agree([field(SQUARE), field(SQUARE, frame=Frame(lon_deg=lon, lat_deg=lat))]).pairs
    assert pair.overlay is not None
    assert pair.overlay.apart_m > 500
    assert pair.second.shape is not None
    assert pair.second.shape.area == pytest.approx(SIDE**2, rel=1e-6)


@pytest.mark.parametrize(("lon", "lat", "km"), [(-95.0, 42.0, "166"), (87.0, -42.0, "20,004"), (93.0, 42.0, "10,")])
def test_fields_at_the_other_end_of_the_earth_are_refused(lon, lat, km):
    with pytest.raises(InputError, match=f"'home' and 'far' lie {km}.*check the coordinate system"):
        agree([field(SQUARE), field(SQUARE, name="far", frame=Frame(lon_deg=lon, lat_deg=lat))])


def test_fields_on_both_sides_of_180_degrees():
    one = field(SQUARE, frame=Frame(lon_deg=179.9995, lat_deg=-17.0))
    other = field(SQUARE, frame=Frame(lon_deg=-179.9995, lat_deg=-17.0))
    (pair,) = agree([one, other]).pairs
    assert pair.overlay is not None
    # Derived: 0.001 degree of longitude at 17 S is 106.5 m; so much of the square is in one only.
    assert pair.overlay.only_first.area == pytest.approx(106.5 * SIDE, rel=1e-3)


def test_one_outline_is_too_few():
    with pytest.raises(InputError, match="got 1 outline"):
        agree([field(SQUARE)])


def test_the_pair_that_differs_most_is_the_worst():
    agreement = agree([field(SQUARE), field(box(-1, -1, 1, 1.1)), field(box(-1, -1, 1, 1.15))])
    assert agreement.worst is agreement.pairs[1]
    assert agreement_figures(agreement)["worst"] == ["A", "C"]


def wobbly(seed, corners):
    rng = np.random.default_rng(seed)
    turn = np.sort(rng.uniform(0, 2 * math.pi, corners))
    reach = rng.uniform(120, 260, corners)
    return shapely.Polygon(np.column_stack([reach * np.cos(turn), reach * np.sin(turn)])).buffer(0)


@settings(max_examples=40, deadline=None)
@given(
    st.integers(0, 2**31), st.integers(0, 2**31), st.integers(5, 40), st.floats(0, 360), st.sampled_from([-96.0, -88.2])
)
def test_areas_add_up_whatever_the_order_and_the_place(seed, other_seed, corners, turn_deg, lon_deg):
    one, other = wobbly(seed, corners), wobbly(other_seed, 17)
    if not (isinstance(one, shapely.Polygon) and isinstance(other, shapely.Polygon)):
        return
    here, back = overlay_of(one, other), overlay_of(other, one)
    assert here.shared_m2 + here.only_first.area == pytest.approx(one.area, rel=1e-9)
    assert here.shared_m2 + here.only_second.area == pytest.approx(other.area, rel=1e-7)
    assert back.only_first.area == pytest.approx(here.only_second.area, rel=1e-7, abs=1e-3)
    assert back.edge_median_m == pytest.approx(here.edge_median_m)
    assert 0 <= here.edge_median_m <= here.edge_p95_m
    if here.largest is not None:
        assert here.largest.area_m2 <= here.differing_m2
        assert back.largest is not None
        assert back.largest.area_m2 == pytest.approx(here.largest.area_m2, rel=1e-6)
    turned, turned_other = (shapely.affinity.rotate(each, turn_deg, origin=(0, 0)) for each in (one, other))
    frame = Frame(lon_deg=lon_deg, lat_deg=39.0)
    pair = pair_of(field(turned, frame=frame), field(turned_other, frame=frame))
    assert pair.overlay is not None
    assert pair.overlay.differing_m2 == pytest.approx(here.differing_m2, rel=1e-6, abs=1e-3)
    assert pair.overlay.edge_p95_m == pytest.approx(here.edge_p95_m, rel=0.01, abs=0.01)


def test_a_sample_seen_from_another_frame_is_the_same_field():
    here = read_outline(SAMPLES / "waterway.geojson")
    frame = Frame(lon_deg=here.frame.lon_deg + 0.005, lat_deg=here.frame.lat_deg - 0.003)
    moved = replace(here, shape=shape_to_frame(shape_to_lonlat(here.shape, here.frame), frame), frame=frame)
    (pair,) = agree([here, moved]).pairs
    assert pair.overlay is not None
    assert pair.overlay.differing_m2 < 0.01
    assert pair.overlay.edge_p95_m < 1e-5
    assert pair.overlay.largest is None


def test_figures_are_plain_numbers_in_both_units():
    agreement = agree([field(SQUARE, uncertainty_m2=500), field(box(-1, -1, 1, 1.1)), field(SQUARE, is_placed=False)])
    figures = agreement_figures(agreement)
    assert json.loads(json.dumps(figures, allow_nan=False)) == figures
    first, second = figures["sources"][:2]
    assert (first["letter"], first["kind"], first["is_placed"]) == ("A", "file", True)
    assert first["area_uncertainty_ac"] == pytest.approx(500 / 4046.8564224)
    assert second["area_uncertainty_m2"] is second["area_uncertainty_ha"] is None
    pair = figures["pairs"][0]
    assert (pair["first"], pair["second"], pair["is_beyond_uncertainty"]) == ("A", "B", None)
    assert pair["area_difference_m2"] == pytest.approx(8000)
    assert pair["area_difference_pct"] == pytest.approx(5.0)
    overlay = pair["overlay"]
    assert overlay["only_second_ac"] == pytest.approx(8000 / 4046.8564224)
    assert overlay["largest"]["only_in"] == "B"
    assert overlay["largest"]["width_ft"] == pytest.approx(overlay["largest"]["width_m"] / 0.3048)
    assert figures["pairs"][1]["overlay"] is None
    assert figures["most_area_m2"] - figures["least_area_m2"] == pytest.approx(8000)


def test_lines_say_the_answer_first_and_fit_the_terminal():
    long = "Home forty behind the creek and beyond the railroad, north of the road"
    agreement = agree(
        [
            field(SQUARE, name=long, uncertainty_m2=900.0),
            field(box(-1, -1, 1, 1.1), kind="walk", uncertainty_m2=500.0),
            field(box(-1.01, -1, 1, 1), kind="deed", uncertainty_m2=5000.0),
            field(SQUARE, kind="section", is_placed=False),
        ]
    )
    lines = list(agreement_lines(agreement_figures(agreement)))
    assert max(map(len, lines)) <= 80
    assert lines[0].startswith("4 sources: 39.54 to 41.51 ac")
    text = " ".join(" ".join(lines).split())
    assert "areas differ by more than their uncertainties together: A and B, B and C, of 3 pairs" in text
    assert "B has 1.98 ac (0.80 ha) that A has not, up to 66 ft (20 m) wide, at the north edge" in text
    notes = list(agreement_notes(agreement_figures(agreement)))
    assert max(map(len, notes)) <= 80
    assert any("D has no place on Earth" in note for note in notes)
    assert any("only the ground can say" in note for note in notes)


def test_lines_of_sources_that_agree():
    text = "\n".join(agreement_lines(agreement_figures(agree([field(SQUARE), field(SQUARE)]))))
    assert "no ground is in one only" in text
    assert "by more than they are unsure is not known" in text
    sure = [field(SQUARE, uncertainty_m2=900.0), field(SQUARE, uncertainty_m2=0.0)]
    assert "  no two areas differ by more than their uncertainties together\n" in "\n".join(
        agreement_lines(agreement_figures(agree(sure)))
    )


def test_names_from_strangers_stay_on_their_line():
    figures = agreement_figures(agree([field(SQUARE, name="a\nb\x1b[2J"), field(SQUARE)]))
    assert all(line.isprintable() for line in agreement_lines(figures))
