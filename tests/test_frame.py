"""The frame: areas and azimuths against the ellipsoid, every way in, and what is refused."""

import numpy as np
import pytest
import shapely
from geographiclib.geodesic import Geodesic
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import Geod, Transformer

from fieldgeo.errors import CrsError
from fieldgeo.frame import (
    Frame,
    azimuth_deg,
    crs_to_lonlat,
    frame_for,
    parse_crs,
    shape_to_frame,
    shape_to_lonlat,
    unwrap_lon_deg,
)


def geodesic_area_m2(shape_lonlat):
    """Area by geographiclib, independent of PROJ: outer rings less holes, whichever way they run."""
    total = 0.0
    for part in shapely.get_parts(shape_lonlat):
        for ring, sign in [(part.exterior, 1), *((hole, -1) for hole in part.interiors)]:
            polygon = Geodesic.WGS84.Polygon()
            for lon, lat in ring.coords[:-1]:
                polygon.AddPoint(lat, lon)
            total += sign * abs(polygon.Compute(False, True)[2])
    return total


def test_references_agree_on_published_area():
    # Published: pyproj documentation, Geod.polygon_area_perimeter example (continent-size polygon).
    lons = [-74, -102, -102, -131, -163, 163, 172, 140, 113, 88, 59, 25, -4, -14, -33, -46, -61]
    lats = [-72.9, -71.9, -74.9, -74.3, -77.5, -77.4, -71.7, -65.9, -65.7, -66.6, -66.9, -69.8, -70.0, -71.0, -77.3]
    lats += [-77.9, -74.7]
    area_m2, perimeter_m = Geod(ellps="WGS84").polygon_area_perimeter(lons, lats)
    assert area_m2 == pytest.approx(13376856682207.4, abs=1.0)
    assert perimeter_m == pytest.approx(14710425.4, abs=0.1)
    polygon = Geodesic.WGS84.Polygon()
    for lon, lat in zip(lons, lats, strict=True):
        polygon.AddPoint(lat, lon)
    assert polygon.Compute(False, True)[2] == pytest.approx(13376856682207.4, abs=1.0)


# Derived (geodesics on the WGS 84 ellipsoid): three fields, their area and perimeter.
ELLIPSOID_FIELDS = [
    pytest.param([(-93.6, 42.0), (-93.59, 42.0), (-93.59, 42.01), (-93.6, 42.01)], 920179.372, 3878.353, id="Iowa"),
    pytest.param([(-87.5, 37.8), (-87.49, 37.8), (-87.49, 37.81), (-87.5, 37.81)], 977452.733, 3981.146, id="Kentucky"),
    pytest.param(
        [(-86.2, 40.4), (-86.19, 40.4), (-86.19, 40.405), (-86.195, 40.405), (-86.195, 40.41), (-86.2, 40.41)],
        706959.744,
        3918.624,
        id="Indiana-L",
    ),
]


@pytest.mark.parametrize(("ring", "area_m2", "perimeter_m"), ELLIPSOID_FIELDS)
@pytest.mark.parametrize("turned", [False, True])
def test_area_and_perimeter_are_those_of_the_ellipsoid_derived(ring, area_m2, perimeter_m, turned):
    shape = shapely.Polygon(ring[::-1] if turned else ring)  # the winding changes nothing
    plane = shape_to_frame(shape, frame_for(shape))
    assert plane.area == pytest.approx(area_m2, abs=0.01)
    assert plane.length == pytest.approx(perimeter_m, abs=0.001)
    assert geodesic_area_m2(shape) == pytest.approx(area_m2, abs=0.001)


def test_utm_grid_square_has_its_true_area_recalled():
    # From memory, recomputed: the 100 km grid square 18SWK has 10007388597.1913 m2 on the ellipsoid, 0.0739 % more than
    # its grid area. A frame is for fields, so one of its corner kilometres is measured: the same sign, smaller figures.
    x, y = [500000, 501000, 501000, 500000], [4400000, 4400000, 4401000, 4401000]
    lon, lat = crs_to_lonlat(x, y, parse_crs("EPSG:32618"))
    shape = shapely.Polygon(np.column_stack([lon, lat]))
    area_m2 = shape_to_frame(shape, frame_for(shape)).area
    # Derived: scale at the central meridian is 0.9996, so area is 1e6 / 0.9996^2 = 1000800.48 m2, and a little less at
    # 1 km from it (1e6 * (1000 / 6.37e6)^2 / 3 = 0.008).
    assert area_m2 == pytest.approx(1000800.48, abs=0.02)
    assert area_m2 == pytest.approx(geodesic_area_m2(shape), rel=1e-8)


@settings(max_examples=60, deadline=None)
@given(
    lon=st.floats(-180, 180),
    lat=st.floats(-84, 84),
    size_m=st.floats(50, 10_000),
    turn=st.floats(0, 360),
    slim=st.floats(0.1, 1),
)
def test_area_equals_geodesic_area_to_1e_7_up_to_10_km(lon, lat, size_m, turn, slim):
    """A rectangle `size_m` long and `slim` times as wide, anywhere and turned anyhow, off the centre of its plane."""
    frame = Frame(lon_deg=lon, lat_deg=lat)
    angle = np.radians(turn)
    corners = np.array([[0, 0], [1, 0], [1, slim], [0, slim]]) * size_m
    x, y = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]]) @ corners.T
    shape = shape_to_lonlat(shapely.Polygon(np.column_stack([x, y])), frame)
    own = frame_for(shape)
    area_m2 = shape_to_frame(shape, own).area
    # The references themselves are good to some hundredths of a square metre at field size.
    assert area_m2 == pytest.approx(geodesic_area_m2(shape), rel=1e-7, abs=0.02)
    reference, _ = Geod(ellps="WGS84").geometry_area_perimeter(shapely.orient_polygons(shape))
    assert area_m2 == pytest.approx(reference, rel=1e-7, abs=0.02)


def test_long_sides_get_points_and_short_ones_none():
    frame = Frame(lon_deg=-93.0, lat_deg=42.0)
    long_field = shape_to_lonlat(shapely.box(-4990, -400, 4990, 400), frame)
    assert len(shape_to_frame(long_field, frame).exterior.coords) == 5 + 2 * 4  # 10 km in five pieces, twice
    short_field = shape_to_lonlat(shapely.box(-990, -400, 990, 400), frame)
    assert len(shape_to_frame(short_field, frame).exterior.coords) == 5
    both = shapely.MultiPolygon([long_field, short_field])
    assert shapely.get_num_coordinates(shape_to_frame(both, frame)) == 18


def test_long_sides_need_points_for_1e_7():
    # Without them a 10 km square is off by 2e-7: the reason for having them (measured).
    frame = Frame(lon_deg=-93.0, lat_deg=42.0)
    shape = shape_to_lonlat(shapely.box(-5000, -5000, 5000, 5000), frame)
    plain = shapely.transform(shape, lambda lonlat: np.column_stack(frame.to_frame(*lonlat.T)))
    reference = geodesic_area_m2(shape)
    assert abs(plain.area / reference - 1) > 2e-7
    assert abs(shape_to_frame(shape, frame).area / reference - 1) < 2e-8


@settings(max_examples=60, deadline=None)
@given(lon=st.floats(-180, 180), lat=st.floats(-85, 85), x_m=st.floats(-15000, 15000), y_m=st.floats(-15000, 15000))
def test_way_there_and_back_is_exact_to_micrometres(lon, lat, x_m, y_m):
    frame = Frame(lon_deg=lon, lat_deg=lat)
    x_back_m, y_back_m = frame.to_frame(*frame.to_lonlat(x_m, y_m))
    assert abs(x_back_m - x_m) < 1e-8
    assert abs(y_back_m - y_m) < 2e-5  # at the equator; 1e-8 at latitude 42


def test_degree_lengths_at_42_derived():
    # Derived (radii of curvature of WGS 84 at latitude 42): 111073.284 m per degree north, 82850.762 m per degree east.
    frame = Frame(lon_deg=-93.0, lat_deg=42.0)
    x_m, _ = frame.to_frame([-93.0005, -92.9995], [42.0, 42.0])
    _, y_m = frame.to_frame([-93.0, -93.0], [41.9995, 42.0005])
    assert np.ptp(x_m) * 1000 == pytest.approx(82850.762, abs=0.01)
    assert np.ptp(y_m) * 1000 == pytest.approx(111073.284, abs=0.01)


# Derived (PROJ factors): what flat areas in other systems get wrong, as a factor on the true area.
FLAT_FACTORS = [
    pytest.param("EPSG:3857", -93.0, 37.5, 1.591572, 2e-6, id="web-mercator-37.5"),
    pytest.param("EPSG:3857", -93.0, 40.0, 1.706096, 2e-6, id="web-mercator-40"),
    pytest.param("EPSG:3857", -93.0, 43.5, 1.901223, 2e-6, id="web-mercator-43.5"),
    pytest.param("EPSG:26916", -87.0, 40.0, 0.99920016, 3e-8, id="utm-centre"),
    pytest.param("EPSG:26916", -86.0, 40.0, 0.99937949, 3e-8, id="utm-1-degree"),
    pytest.param("EPSG:26916", -84.0, 40.0, 1.00081516, 3e-8, id="utm-3-degrees"),
    pytest.param("EPSG:26971", -88.3333333333, 40.0, 1 - 0.005e-2, 2e-6, id="illinois-east"),
    pytest.param("EPSG:26975", -93.5, 42.67, 1 - 0.0109e-2, 2e-6, id="iowa-north"),
    pytest.param("EPSG:3088", -85.75, 37.5, 1 - 0.0147e-2, 2e-6, id="kentucky"),
]


@pytest.mark.parametrize(("crs", "lon", "lat", "factor", "tolerance"), FLAT_FACTORS)
def test_fields_from_any_system_have_their_true_area_derived(crs, lon, lat, factor, tolerance):
    system = parse_crs(crs)
    x, y = Transformer.from_crs("OGC:CRS84", system, always_xy=True).transform(lon, lat)
    square = np.add([[-50, -50], [50, -50], [50, 50], [-50, 50]], [x, y])
    shape = shapely.Polygon(np.column_stack(crs_to_lonlat(*square.T, system)))
    area_m2 = shape_to_frame(shape, frame_for(shape)).area
    # The factor is that of the middle: over 100 m it changes with the square of the distance, below 1e-9.
    assert 10_000 / area_m2 == pytest.approx(factor, abs=tolerance)


def test_feet_are_read_from_the_system():
    # Illinois East in survey feet (EPSG:3435) and in metres (EPSG:26971) are one system: 1 ftUS = 1200/3937 m.
    feet = crs_to_lonlat([984_250.0], [1_000_000.0], parse_crs("EPSG:3435"))
    metres = crs_to_lonlat([984_250.0 * 1200 / 3937], [1e6 * 1200 / 3937], parse_crs("EPSG:26971"))
    assert np.allclose(feet, metres, rtol=0, atol=1e-11)
    # Michigan South has international feet (EPSG:2253) and metres (EPSG:26990).
    feet = crs_to_lonlat([13_123_359.58], [1000.0], parse_crs("EPSG:2253"))
    metres = crs_to_lonlat([13_123_359.58 * 0.3048], [304.8], parse_crs("EPSG:26990"))
    assert np.allclose(feet, metres, rtol=0, atol=1e-9)  # its false easting is rounded to 16 micrometres
    # The wrong foot would move the Illinois point by 984250 ft x 2e-6 = 0.6 m.
    wrong = crs_to_lonlat([984_250.0 * 0.3048], [1e6 * 0.3048], parse_crs("EPSG:26971"))
    frame = Frame(lon_deg=-88.33, lat_deg=39.4)
    moved_m = np.subtract(
        frame.to_frame(*wrong), frame.to_frame(*crs_to_lonlat([984_250.0], [1e6], parse_crs("EPSG:3435")))
    )
    assert moved_m[0, 0] == pytest.approx(-0.6, abs=0.01)


def test_longitude_comes_first_even_where_the_system_says_latitude():
    lon, lat = crs_to_lonlat([-93.0], [42.0], parse_crs("EPSG:4269"))
    assert (lon[0], lat[0]) == pytest.approx((-93.0, 42.0), abs=1e-4)


def test_heights_of_compound_and_3d_systems_are_left_out():
    assert parse_crs("EPSG:4979").name == "WGS 84"
    assert parse_crs("EPSG:6349").is_geographic
    assert len(parse_crs("EPSG:6349").axis_info) == 2


@pytest.mark.parametrize("text", ["", "nonsense", "EPSG:999999", "EPSG:4978", "EPSG:5703", "+proj=", "\x00"])
def test_systems_that_cannot_be_used_are_refused(text):
    with pytest.raises(CrsError, match="coordinate system: got"):
        parse_crs(text)


def test_azimuth_is_clockwise_from_north():
    assert azimuth_deg([0, 1, 1, 0, -1, -1e-20], [1, 1, 0, -1, 0, 1]).tolist() == [0, 45, 90, 180, 270, 0]
    assert float(azimuth_deg(3.0, 4.0)) == pytest.approx(36.86989764584402)


def test_convergence_derived():
    frame = Frame(lon_deg=-93.0, lat_deg=42.0)
    # Derived: meridians lean by tan(latitude) / radius a metre eastward: 5000 m x tan(42) / 6388.6 km = 0.0403 degree.
    assert float(frame.convergence_deg(5000.0, 0.0)) == pytest.approx(-0.0403, abs=1e-4)
    assert float(frame.convergence_deg(0.0, 3000.0)) == pytest.approx(0.0, abs=1e-9)
    assert frame.convergence_deg([5000, -5000], [0, 0]).sum() == pytest.approx(0.0, abs=1e-9)


@settings(max_examples=40, deadline=None)
@given(lat=st.floats(-80, 80), x_m=st.floats(-5000, 5000), y_m=st.floats(-5000, 5000), turn=st.floats(0, 359))
def test_true_azimuth_is_frame_azimuth_less_convergence(lat, x_m, y_m, turn):
    """Against the geodesic's azimuth by geographiclib, for a step of 10 m anywhere in the frame."""
    frame = Frame(lon_deg=10.0, lat_deg=lat)
    dx_m, dy_m = 10 * np.sin(np.radians(turn)), 10 * np.cos(np.radians(turn))
    lon, lat_there = frame.to_lonlat([x_m, x_m + dx_m], [y_m, y_m + dy_m])
    line = Geodesic.WGS84.Inverse(lat_there[0], lon[0], lat_there[1], lon[1])
    ours = azimuth_deg(dx_m, dy_m) - frame.convergence_deg(x_m, y_m)
    off = (ours - line["azi1"] + 180) % 360 - 180
    # An equal-area plane bends angles by (distance to the parallel it touches / radius)^2 / 2: 2e-5 degree at 5 km; at
    # the equator that parallel is 2 km away.
    assert abs(off) < 1e-4


def test_frame_is_centred_and_survives_small_rounding():
    shape = shapely.box(-93.6, 42.0, -93.59, 42.01)
    assert frame_for(shape) == Frame(lon_deg=-93.595, lat_deg=42.005)
    assert frame_for(shapely.transform(shape, lambda lonlat: lonlat + 1e-9)) == frame_for(shape)


def test_fields_across_180_degrees():
    ring = [(179.99, -16.9), (-179.98, -16.9), (-179.98, -16.89), (179.99, -16.89)]
    frame = frame_for(shapely.Polygon(ring))
    assert frame.lon_deg == pytest.approx(-179.995)
    plane = shape_to_frame(shapely.Polygon(ring), frame)
    same = shapely.box(9.99, -16.9, 10.02, -16.89)  # the same outline at another longitude
    assert plane.area == pytest.approx(shape_to_frame(same, frame_for(same)).area, rel=1e-9)
    back = shapely.get_coordinates(shape_to_lonlat(plane, frame))
    assert back[:, 0].min() == pytest.approx(-180.01)  # runs on without a jump
    assert frame.to_lonlat(-1000.0, 0.0)[0] == pytest.approx(179.9956, abs=1e-4)  # single places stay within 180
    assert frame_for(shapely.box(179.99, 0, 180, 0.01)).lon_deg == pytest.approx(179.995)


def test_unwrapped_longitudes():
    assert unwrap_lon_deg([-93.6, -93.5]).tolist() == [-93.6, -93.5]
    assert unwrap_lon_deg([179.0, -179.0]).tolist() == [179.0, 181.0]
    assert unwrap_lon_deg([]).size == 0


@pytest.mark.parametrize(("lon", "lat"), [(0, 85.1), (0, -86), (181, 0), (float("nan"), 0), (0, float("inf"))])
def test_frames_that_are_no_place_for_a_field_are_refused(lon, lat):
    with pytest.raises(CrsError, match=r"frame: (latitude|longitude) is"):
        Frame(lon_deg=lon, lat_deg=lat)


def test_empty_shape_has_no_frame():
    with pytest.raises(CrsError, match="empty"):
        frame_for(shapely.Polygon())


def test_arrays_equal_a_loop_of_scalars():
    frame = Frame(lon_deg=-93.0, lat_deg=42.0)
    lon, lat = np.linspace(-93.1, -92.9, 7), np.linspace(41.9, 42.1, 7)
    one_by_one = np.array([frame.to_frame(a, b) for a, b in zip(lon, lat, strict=True)]).T
    assert np.array_equal(np.array(frame.to_frame(lon, lat)), one_by_one)


def test_points_and_lines_keep_their_kind():
    frame = Frame(lon_deg=-93.0, lat_deg=42.0)
    for shape in (shapely.Point(-93, 42), shapely.LineString([(-93.2, 42), (-92.8, 42)]), shapely.Polygon()):
        assert shape_to_frame(shape, frame).geom_type == shape.geom_type
        assert shape_to_lonlat(shape_to_frame(shape, frame), frame).equals_exact(shape, 1e-9)
