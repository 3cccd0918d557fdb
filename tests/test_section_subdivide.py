"""Sections divided: worked numbers, what must always hold, and how sure the area is."""

import itertools
from math import cos, radians, tan

import numpy as np
import pyproj
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldgeo.frame import Frame
from fieldgeo.outline.section.aliquot import Aliquot
from fieldgeo.outline.section.subdivide import (
    CORNERS,
    area_sd_m2,
    centre,
    part_area,
    pieces_of,
    quarters,
    ring_area,
    with_quarter_corners,
)
from fieldgeo.outline.section.township import (
    CHAIN_M,
    lot_acres,
    lots_of_the_north_m2,
    lots_of_the_west_m2,
    remaining_chains,
)
from fieldgeo.units import ACRE_M2, FOOT_M, MILE_M

# P18. Rule: BLM, Manual of Surveying Instructions, 2009, 3-114, and 1973, 3-74 to 3-76; GLO circular, paragraphs 203 to
# 205 (published). Numbers derived from it. Feet.
WORKED_FT = {
    "SW": (0.0, 0.0), "S": (2641.5, -3.2), "SE": (5284.0, 1.5), "E": (5281.2, 2642.0), "NE": (5277.6, 5283.1),
    "N": (2638.3, 5279.0), "NW": (-2.4, 5276.8), "W": (-1.0, 2637.9),
}  # fmt: skip
QUARTERS = ("NW", "NE", "SE", "SW")


def ring_of(corners):
    return with_quarter_corners({name: np.array(place) for name, place in corners.items()})


def part(*steps):
    return Aliquot(steps=steps)


@st.composite
def sections(draw, *, eight=True):
    """A mile square with every corner moved by up to 300 ft; metres."""
    half = MILE_M / 2
    spots = dict(zip(CORNERS, [(-1, 1), (0, 1), (1, 1), (1, 0), (1, -1), (0, -1), (-1, -1), (-1, 0)], strict=True))
    shift = st.floats(-90.0, 90.0)
    names = CORNERS if eight else QUARTERS
    return {
        name: np.array([spots[name][0] * half + draw(shift), spots[name][1] * half + draw(shift)]) for name in names
    }


def test_centre_and_quarters_p18_rule_published_blm_manual_2009_3_114_numbers_derived():
    ring = ring_of(WORKED_FT)
    assert centre(ring) == pytest.approx([2639.8988, 2639.9498], abs=0.002)
    assert np.hypot(*(centre(ring) - [2639.8, 2640.35])) > 0.4  # the mean of the corners is the wrong answer
    acres = {name: float(part_area(ring, part(name))) / 43560 for name in QUARTERS}
    assert acres == pytest.approx({"NE": 160.023, "NW": 159.9864, "SW": 160.1045, "SE": 160.226}, abs=0.0002)
    assert float(ring_area(ring)) / 43560 == pytest.approx(640.3399, abs=0.0002)
    assert sum(acres.values()) == pytest.approx(float(ring_area(ring)) / 43560, abs=1e-9)


def test_square_mile_derived():
    # 5280 ft square: every part measures what it is called.
    square = {"NW": (0.0, 5280.0), "NE": (5280.0, 5280.0), "SE": (5280.0, 0.0), "SW": (0.0, 0.0)}
    ring = ring_of(square)
    assert ring.tolist()[1] == [2640.0, 5280.0]
    for steps in (("N",), ("W", "NW"), ("SE", "SE", "SE"), ("E", "W"), ("N", "N", "N", "W"), ()):
        assert float(part_area(ring, part(*steps))) * FOOT_M**2 == pytest.approx(part(*steps).nominal_m2, rel=1e-12)
    (piece,) = pieces_of(ring, part("SE", "NW").rectangle)
    assert piece[[0, 2, 4, 6]].tolist() == [[1320, 3960], [2640, 3960], [2640, 2640], [1320, 2640]]


def test_half_of_half_runs_through_the_middles_of_the_quarters_sides():
    ring = ring_of(WORKED_FT)
    strip = shapely.union_all([shapely.Polygon(piece) for piece in pieces_of(ring, part("N", "N").rectangle)])
    both = [shapely.Polygon(piece) for wind in ("NW", "NE") for piece in pieces_of(ring, part("N", wind).rectangle)]
    assert strip.symmetric_difference(shapely.union_all(both)).area == pytest.approx(0, abs=1e-6)
    middle = (np.array(WORKED_FT["N"]) + centre(ring)) / 2
    assert strip.boundary.distance(shapely.Point(middle)) < 1e-9


@given(sections())
def test_the_sixteen_quarter_quarters_fill_the_section(corners):
    ring = with_quarter_corners(corners)
    parts = [part(small, large) for large in QUARTERS for small in QUARTERS]
    areas = [float(part_area(ring, each)) for each in parts]
    whole = float(ring_area(ring))
    assert min(areas) > 0
    assert sum(areas) == pytest.approx(whole, rel=1e-9)
    polygons = [shapely.Polygon(piece) for each in parts for piece in pieces_of(ring, each.rectangle)]
    assert len(polygons) == 16
    assert all(polygon.is_valid for polygon in polygons)
    for one, other in itertools.combinations(polygons, 2):
        assert one.intersection(other).area < 1e-6
    assert shapely.union_all(polygons, grid_size=1e-6).area == pytest.approx(whole, rel=1e-9)


@given(sections(), st.floats(-180, 180), st.floats(-1e5, 1e5), st.floats(-1e5, 1e5))
def test_turning_and_moving_changes_no_area(corners, turn_deg, east_m, north_m):
    sine, cosine = np.sin(np.radians(turn_deg)), np.cos(np.radians(turn_deg))
    turn = np.array([[cosine, sine], [-sine, cosine]])
    moved = {name: turn @ place + [east_m, north_m] for name, place in corners.items()}
    for steps in (("W", "NW"), ("SE", "SW"), ("N", "N"), ()):
        before = float(part_area(with_quarter_corners(corners), part(*steps)))
        assert float(part_area(with_quarter_corners(moved), part(*steps))) == pytest.approx(before, rel=1e-9)
    expected = turn @ centre(with_quarter_corners(corners)) + [east_m, north_m]
    assert centre(with_quarter_corners(moved)) == pytest.approx(expected, abs=1e-6)


@given(sections(eight=False))
def test_missing_quarter_corners_stand_in_the_middle(corners):
    ring = with_quarter_corners(corners)
    assert ring[1] == pytest.approx((corners["NW"] + corners["NE"]) / 2)
    assert ring[7] == pytest.approx((corners["NW"] + corners["SW"]) / 2)
    quarter = quarters(ring)["SE"]
    assert quarter[0] == pytest.approx(centre(ring))
    assert quarter[3] == pytest.approx((quarter[2] + quarter[4]) / 2)


def test_many_sections_at_once_are_the_same_as_one_by_one():
    one = ring_of(WORKED_FT)
    other = ring_of({name: (1.01 * east, 0.98 * north) for name, (east, north) in WORKED_FT.items()})
    both = part_area(np.stack([one, other]), part("E", "W", "NE"))
    assert both.tolist() == [float(part_area(one, part("E", "W", "NE"))), float(part_area(other, part("E", "W", "NE")))]


@pytest.mark.parametrize(("latitude_deg", "expected_m"), [(42.0, 0.046), (49.0, 0.058)])
def test_straight_and_constant_bearing_part_by_centimetres_derived(latitude_deg, expected_m):
    # One mile along a parallel, a line of constant bearing. Its middle lies off the straight line of the frame by
    # L^2 tan(latitude) / (8 R), R the radius of the Earth across the meridian: derived.
    frame = Frame(lon_deg=-93.0, lat_deg=latitude_deg)
    half_deg = np.degrees(MILE_M / 2 / (6378137.0 * cos(radians(latitude_deg))))
    x_m, y_m = frame.to_frame([-93.0 - half_deg, -93.0, -93.0 + half_deg], [latitude_deg] * 3)
    off_m = (y_m[0] + y_m[2]) / 2 - y_m[1]
    assert off_m == pytest.approx(MILE_M**2 * tan(radians(latitude_deg)) / (8 * 6.389e6), rel=0.01)
    assert off_m == pytest.approx(expected_m, abs=0.001)
    geod = pyproj.Geod(ellps="WGS84")
    lon, lat = frame.to_lonlat(x_m, y_m)
    on_geodesic = geod.npts(lon[0], lat[0], lon[2], lat[2], 1)[0]
    assert frame.to_frame(*on_geodesic)[1] == pytest.approx((y_m[0] + y_m[2]) / 2, abs=1e-3)


@pytest.mark.parametrize(("north_miles", "narrowing_ft"), [(6, 37.42), (24, 149.7)])
def test_convergence_of_range_lines_p20_derived(north_miles, narrowing_ft):
    # Derived: width times distance north times tan(latitude) over the radius across the meridian, latitude 38; here
    # measured on the ellipsoid between two meridians six miles apart. 1 %, as the formula is of first order.
    geod = pyproj.Geod(ellps="WGS84")
    half = 6 * MILE_M / 2
    lon, _, _ = geod.fwd(-95.0, 38.0, 90.0, half)
    _, lat, _ = geod.fwd(-95.0, 38.0, 0.0, north_miles * MILE_M)
    widths = []
    for latitude in (38.0, lat):
        frame = Frame(lon_deg=-95.0, lat_deg=latitude)
        x_m, _ = frame.to_frame([-95.0 - (lon + 95.0), lon], [latitude, latitude])
        widths.append(x_m[1] - x_m[0])
    assert (widths[0] - widths[1]) / FOOT_M == pytest.approx(narrowing_ft, rel=0.01)


def test_lot_acres_p14_p15_published_the_american_surveyor_january_2008():
    # "GLO Surveying: Fractional Sections and the Relationship of Chains to Acres"; the numbers of the second derived.
    assert lot_acres(side_a_chains=20.0, side_b_chains=20.0, depth_chains=20.0) == pytest.approx(40.0, abs=1e-9)
    assert lot_acres(side_a_chains=18.35, side_b_chains=18.5, depth_chains=20.0) == pytest.approx(36.85, abs=1e-6)


def test_north_lot_p17_rule_published_university_ce_331_notes_numbers_derived():
    # "Subdivision of Sections": the error is thrown to the northerly 20 chains. 80.40 - 60 = 20.40; 20.40 x 20 / 10.
    assert remaining_chains(80.4) == pytest.approx(20.4, abs=1e-6)
    assert lot_acres(side_a_chains=20.4, side_b_chains=20.4, depth_chains=20.0) == pytest.approx(40.8, abs=1e-6)
    tall = 80.4 * CHAIN_M
    wide = 80.0 * CHAIN_M
    ring = ring_of({"NW": (0.0, tall), "NE": (wide, tall), "SE": (wide, 0.0), "SW": (0.0, 0.0)})
    assert [lot / ACRE_M2 for lot in lots_of_the_north_m2(ring)] == pytest.approx([40.8] * 4, abs=1e-6)
    assert [lot / ACRE_M2 for lot in lots_of_the_west_m2(ring)] == pytest.approx(
        [40.2] * 4, abs=1e-6
    )  # 20 x 20.10 / 10


def test_chains_ps04_derived():
    # 80 chains = 5280 ft.
    assert [chains * CHAIN_M / FOOT_M for chains in (1, 20, 40, 80)] == pytest.approx([66, 1320, 2640, 5280])


def test_standard_error_of_four_corners_gp02_derived():
    # A square of side a, corners off by s along each axis: s_A = a s sqrt(2); a = 804.672 m, s = 3 m: 3413.93.
    side = 804.672
    corners = {"NW": (0.0, side), "NE": (side, side), "SE": (side, 0.0), "SW": (0.0, 0.0)}
    places = {name: np.array(place) for name, place in corners.items()}
    assert area_sd_m2(places, [part()], [], accuracy_m=3.0) == pytest.approx(3413.93, abs=0.05)


@settings(max_examples=10, deadline=None)
@given(sections(), st.integers(0, 2**31))
def test_standard_error_is_that_of_simulated_corners(corners, seed):
    # Derived: 20,000 draws of eight corners; the spread of so many is itself sure to 0.5 % (one standard error).
    parts, less = [part("W", "NW"), part("SE")], [part("SW", "SE")]
    rng = np.random.default_rng(seed)
    ring = with_quarter_corners(corners)
    drawn = ring + rng.normal(0.0, 2.0, (20_000, 8, 2))
    areas = sum(part_area(drawn, each) for each in parts) - part_area(drawn, less[0])
    assert area_sd_m2(corners, parts, less, accuracy_m=2.0) == pytest.approx(float(np.std(areas)), rel=0.025)


@settings(max_examples=5, deadline=None)
@given(sections(eight=False), st.integers(0, 2**31))
def test_standard_error_with_four_corners_is_that_of_simulated_corners(corners, seed):
    rng = np.random.default_rng(seed)
    drawn = {name: place + rng.normal(0.0, 2.0, (20_000, 2)) for name, place in corners.items()}
    areas = part_area(with_quarter_corners(drawn), part("NE", "SW"))
    assert area_sd_m2(corners, [part("NE", "SW")], [], accuracy_m=2.0) == pytest.approx(float(np.std(areas)), rel=0.025)
