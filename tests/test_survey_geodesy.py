"""Worked checks of geodesy: areas on the ellipsoid, what planes make of them, and the two feet.

The oracle is geographiclib, which shares no code with PROJ. Values of systems: EPSG dataset v11.022 through PROJ 9.5.1.
"""

import numpy as np
import pytest
import shapely
from geographiclib.geodesic import Geodesic
from pyproj import CRS, Geod, Proj, Transformer

from fieldgeo.frame import LONLAT, azimuth_deg, crs_to_lonlat, frame_for, parse_crs, shape_to_frame
from fieldgeo.outline.files.layer import ground_size
from fieldgeo.outline.raw import RawOutline, RawPart
from fieldgeo.outline.read import read_outline
from fieldgeo.units import ACRE_M2, FOOT_M, to_acres, to_hectares
from fieldgeo.zones import unit_of

# Derived (geodesics on the WGS 84 ellipsoid): ring, area, perimeter, hectares, acres, and for each plane its area and
# by how much it is off. [m2, m, ha, ac, m2, %]
IOWA = (
    [(-93.6, 42.0), (-93.59, 42.0), (-93.59, 42.01), (-93.6, 42.01)], 920179.372, 3878.353, 92.017937, 227.381275,
    {
        "EPSG:26915": (919498.33, -0.074), "EPSG:3857": (1667643.03, 81.2302), "EPSG:26975": (920201.03, 0.0024),
        "EPSG:5070": (920179.37, 0.0),
    },
)  # fmt: skip
KENTUCKY = (
    [(-87.5, 37.8), (-87.49, 37.8), (-87.49, 37.81), (-87.5, 37.81)], 977452.733, 3981.146, 97.745273, 241.53383,
    {
        "EPSG:26916": (976716.63, -0.0753), "EPSG:3857": (1568409.72, 60.4589), "EPSG:2205": (977508.25, 0.0057),
        "EPSG:26980": (977411.87, -0.0042), "EPSG:3088": (977268.43, -0.0189), "EPSG:5070": (977452.73, 0.0),
    },
)  # fmt: skip
INDIANA = (
    [(-86.2, 40.4), (-86.19, 40.4), (-86.19, 40.405), (-86.195, 40.405), (-86.195, 40.41), (-86.2, 40.41)],
    706959.744, 3918.624, 70.695974, 174.693557,
    {"EPSG:26916": (706475.44, -0.0685), "EPSG:3857": (1220502.89, 72.6411), "EPSG:26973": (706947.62, -0.0017)},
)  # fmt: skip
FIELDS = [
    pytest.param(*IOWA, id="G05-Iowa"),
    pytest.param(*KENTUCKY, id="G07-Kentucky"),
    pytest.param(*INDIANA, id="G09-L"),
]
PLANES = [
    pytest.param(field[0], field[1], code, area, percent, id=f"{name}-{code}")
    for name, field in (("G05", IOWA), ("G07", KENTUCKY), ("G09", INDIANA))
    for code, (area, percent) in field[5].items()
]


def geodesic(ring):
    """Return signed area and perimeter by geographiclib. [m2, m]"""
    polygon = Geodesic.WGS84.Polygon()
    for lon, lat in ring:
        polygon.AddPoint(lat, lon)
    _, perimeter_m, area_m2 = polygon.Compute(False, True)
    return area_m2, perimeter_m


def outline(*rings):
    closed = tuple(np.array([*ring, ring[0]], dtype=float) for ring in rings)
    return RawOutline(name="", parts=(RawPart(where="", rings=closed),))


@pytest.mark.parametrize(("ring", "area_m2", "perimeter_m", "hectares", "acres", "planes"), FIELDS)
def test_field_areas_derived_on_the_ellipsoid(tmp_path, ring, area_m2, perimeter_m, hectares, acres, planes):
    assert geodesic(ring) == (pytest.approx(area_m2, abs=0.01), pytest.approx(perimeter_m, abs=0.001))
    measured_m2, measured_m = ground_size(outline(ring), None)
    assert measured_m2 == pytest.approx(area_m2, abs=0.01)
    assert measured_m == pytest.approx(perimeter_m, abs=0.001)
    path = tmp_path / "field.wkt"
    path.write_text(shapely.Polygon(ring).wkt)
    field = read_outline(path, crs=LONLAT)
    # The frame is said to be good to 1e-7 of an area.
    assert field.area_m2 == pytest.approx(area_m2, rel=1e-7)
    assert field.perimeter_m == pytest.approx(perimeter_m, abs=0.001)
    assert to_hectares(area_m2) == pytest.approx(hectares, abs=1e-6)
    assert to_acres(area_m2) == pytest.approx(acres, abs=1e-6)
    assert planes


@pytest.mark.parametrize(("ring", "area_m2", "code", "plane_m2", "percent"), PLANES)
def test_planes_make_something_else_of_it_and_we_do_not_derived(tmp_path, ring, area_m2, code, plane_m2, percent):
    to_plane = Transformer.from_crs(LONLAT, code, always_xy=True)
    in_plane = shapely.Polygon(np.column_stack(to_plane.transform(*np.array(ring).T)))
    assert in_plane.area == pytest.approx(plane_m2, rel=1e-6)
    assert (in_plane.area / area_m2 - 1) * 100 == pytest.approx(percent, abs=0.0005)
    path = tmp_path / "field.wkt"
    path.write_text(shapely.to_wkt(in_plane, rounding_precision=-1))
    assert read_outline(path, crs=code).area_m2 == pytest.approx(area_m2, rel=2e-7)


def test_g01_continent_published_pyproj_documentation():
    # Published: pyproj documentation, Geod.polygon_area_perimeter, example. A figure of this size goes by the sign.
    lons = [-74, -102, -102, -131, -163, 163, 172, 140, 113, 88, 59, 25, -4, -14, -33, -46, -61]
    lats = [-72.9, -71.9, -74.9, -74.3, -77.5, -77.4, -71.7, -65.9, -65.7, -66.6, -66.9, -69.8, -70.0, -71.0]
    lats += [-77.3, -77.9, -74.7]
    ring = list(zip(lons, lats, strict=True))
    for area_m2, perimeter_m in (geodesic(ring), ground_size(outline(ring), None)):
        assert area_m2 == pytest.approx(13376856682207.4, abs=1.0)
        assert perimeter_m == pytest.approx(14710425.4, abs=0.1)


def test_g03_direct_problem_recalled_and_recomputed():
    # Recalled from "Algorithms for geodesics", Journal of Geodesy 87, 2013, worked direct problem; recomputed.
    ahead = Geodesic.WGS84.Direct(40, 0, 30, 10_000_000)
    lon, lat, back = Geod(ellps="WGS84").fwd(0, 40, 30, 10_000_000)
    for found in ((ahead["lat2"], ahead["lon2"], ahead["azi2"]), (lat, lon, back % 360 - 180)):
        assert found == pytest.approx((41.79331020506, 137.84490004377, 149.09016931807), abs=1e-9)


def test_g04_grid_square_recalled_and_recomputed():
    # Recalled from the manual of a geodesic planimeter, grid square 18SWK; recomputed. The ground is 0.0739 % larger
    # than the 10,000 km2 of the grid.
    corners = [(500_000, 4_400_000), (600_000, 4_400_000), (600_000, 4_500_000), (500_000, 4_500_000)]
    system = parse_crs("EPSG:32618")
    ring = list(zip(*(axis.tolist() for axis in crs_to_lonlat(*np.array(corners).T, system)), strict=True))
    for area_m2, perimeter_m in (geodesic(ring), ground_size(outline(corners), system)):
        assert area_m2 == pytest.approx(10007388597.1913, abs=0.01)
        assert perimeter_m == pytest.approx(400139.5329586, abs=1e-4)


def test_g10_winding_gives_the_sign_and_never_the_field_derived(tmp_path):
    ring = [(-93.6, 42.0), (-93.6, 42.01), (-93.59, 42.01), (-93.59, 42.0)]
    assert Geod(ellps="WGS84").polygon_area_perimeter(*zip(*ring, strict=True))[0] == pytest.approx(
        -920179.372, abs=0.01
    )
    assert geodesic(ring)[0] == pytest.approx(-920179.372, abs=0.01)
    assert ground_size(outline(ring), None)[0] == pytest.approx(920179.372, abs=0.01)
    path = tmp_path / "field.wkt"
    path.write_text(shapely.Polygon(ring).wkt)
    assert read_outline(path, crs=LONLAT).area_m2 == pytest.approx(920179.372, abs=0.1)


def test_holes_are_taken_off_whichever_way_they_run():
    ring, hole = IOWA[0], [(-93.598, 42.002), (-93.598, 42.004), (-93.596, 42.004), (-93.596, 42.002)]
    expected = abs(geodesic(ring)[0]) - abs(geodesic(hole)[0])
    for inner in (hole, hole[::-1]):
        for outer in (ring, ring[::-1]):
            assert ground_size(outline(outer, inner), None)[0] == pytest.approx(expected, abs=1e-3)


@pytest.mark.parametrize(
    ("lat_deg", "sphere", "ellipsoid", "east_west"),
    [
        pytest.param(37.5, 1.588791, 1.591572, 1.258908, id="G12"),
        pytest.param(40.0, 1.704088, 1.706096, 1.303601, id="G13"),
        pytest.param(43.5, 1.900534, 1.901223, 1.37641, id="G15"),
    ],
)
def test_web_map_plane_swells_areas_derived(lat_deg, sphere, ellipsoid, east_west):
    assert 1 / np.cos(np.radians(lat_deg)) ** 2 == pytest.approx(sphere, abs=2e-6)  # the rule of thumb
    # A cell of a thousandth of a degree: its middle line and its area by geographiclib, and in the web map plane. (The
    # factors that PROJ states for that plane are those of a sphere.)
    cell = shapely.box(-93.0, lat_deg - 0.0005, -92.999, lat_deg + 0.0005)
    area_m2 = abs(geodesic(list(cell.exterior.coords)[:-1])[0])
    to_plane = Transformer.from_crs(LONLAT, "EPSG:3857", always_xy=True)
    (west, east), _ = to_plane.transform([-93.0, -92.999], [lat_deg, lat_deg])
    length_m = Geodesic.WGS84.Inverse(lat_deg, -93.0, lat_deg, -92.999)["s12"]
    assert (east - west) / length_m == pytest.approx(east_west, abs=2e-6)
    in_plane = shapely.Polygon(np.column_stack(to_plane.transform(*shapely.get_coordinates(cell).T)))
    assert in_plane.area / area_m2 == pytest.approx(ellipsoid, abs=2e-6)
    # The frame keeps it.
    assert shape_to_frame(cell, frame_for(cell)).area == pytest.approx(area_m2, rel=1e-8)


@pytest.mark.parametrize(
    ("offset_deg", "scale", "area", "percent", "convergence_deg"),
    [
        pytest.param(0.0, 0.9996, 0.99920016, -0.08, 0.0, id="G16"),
        pytest.param(1.0, 0.9996897, 0.99937949, -0.0621, 0.64283, id="G17"),
        pytest.param(3.0, 1.0004075, 1.00081516, 0.0815, 1.92941, id="G19"),
    ],
)
def test_utm_factors_derived(offset_deg, scale, area, percent, convergence_deg):
    factors = Proj("EPSG:26916").get_factors(-87.0 + offset_deg, 40.0)
    assert factors.meridional_scale == pytest.approx(scale, abs=2e-8)
    assert factors.areal_scale == pytest.approx(area, abs=3e-8)
    assert (factors.areal_scale - 1) * 100 == pytest.approx(percent, abs=0.00005)
    assert abs(factors.meridian_convergence) == pytest.approx(convergence_deg, abs=2e-5)
    # The same from the plane itself: a step to the north, read through our own way out of a system.
    x, y = Transformer.from_crs(LONLAT, "EPSG:26916", always_xy=True).transform(-87.0 + offset_deg, 40.0)
    lon, lat = crs_to_lonlat([x, x], [y - 50.0, y + 50.0], parse_crs("EPSG:26916"))
    step = Geodesic.WGS84.Inverse(lat[0], lon[0], lat[1], lon[1])
    assert 100.0 / step["s12"] == pytest.approx(scale, abs=1e-7)
    assert step["azi1"] == pytest.approx(convergence_deg, abs=1e-3)


@pytest.mark.parametrize(
    ("code", "name", "lon_deg", "lat_deg", "scale", "percent"),
    [
        pytest.param(26971, "Illinois East m", -88.3333333333, 40.0, 0.999975, -0.005, id="G20"),
        pytest.param(26975, "Iowa North m", -93.5, 42.67, 0.99994537, -0.0109, id="G22"),
        pytest.param(3088, "Kentucky Single Zone m", -85.75, 37.5, 0.9999264, -0.0147, id="G23"),
    ],
)
def test_state_plane_factors_derived(code, name, lon_deg, lat_deg, scale, percent):
    assert parse_crs(name).to_epsg() == code
    factors = Proj(CRS.from_epsg(code)).get_factors(lon_deg, lat_deg)
    assert factors.meridional_scale == pytest.approx(scale, abs=2e-8)
    assert (factors.areal_scale - 1) * 100 == pytest.approx(percent, abs=0.0002)


# ---------------------------------------------------------------- feet


def test_feet_of_systems_published_nist_2020():
    # Published: NIST Office of Weights and Measures, "U.S. Survey Foot: Revised Unit Conversion Factors": U01 foot,
    # exact; U02 survey foot, 1200/3937 m. U17, derived from both (85 FR 62698, 5 October 2020): their ratio.
    international = parse_crs("EPSG:2251").axis_info[0].unit_conversion_factor
    survey = parse_crs("EPSG:3435").axis_info[0].unit_conversion_factor
    assert international == pytest.approx(0.3048, abs=1e-15)
    assert pytest.approx(0.3048, abs=1e-15) == FOOT_M
    assert survey == pytest.approx(0.304800609601, abs=5e-13)
    assert survey / international == pytest.approx(1.000002000004, abs=5e-13)
    # U09, U11, U13: mile, acre and square mile of survey feet.
    assert 5280 * survey == pytest.approx(1609.347218694, abs=5e-10)
    assert 43560 * survey**2 == pytest.approx(4046.872609874, abs=5e-10)
    assert (5280 * survey) ** 2 == pytest.approx(2589998.470319521, abs=5e-8)
    assert pytest.approx(4046.8564224, abs=1e-9) == 43560 * FOOT_M**2  # U10
    assert pytest.approx(4046.8564224, abs=1e-9) == ACRE_M2
    assert to_acres(10_000.0) == pytest.approx(2.471053815, abs=1e-8)  # U28


def test_u26_easting_read_in_the_wrong_foot_derived():
    # Derived: EPSG:3435 has a false easting of 984,250 survey feet; read as international feet it moves by 0.6 m.
    system = parse_crs("Illinois East ftUS")
    assert unit_of(system) == "US survey feet"
    false_easting = next(value for value in system.coordinate_operation.params if value.name == "False easting")
    assert false_easting.value == pytest.approx(984_250.0)
    error_m = 984_250.0 * (1200 / 3937 - 0.3048)
    assert error_m == pytest.approx(0.6, abs=1e-4)
    assert error_m / 0.3048 == pytest.approx(1.968504, abs=1e-4)
    right, _ = crs_to_lonlat([984_250.0], [1e6], system)
    wrong, _ = crs_to_lonlat([984_250.0 * 0.3048 / (1200 / 3937)], [1e6], system)
    lat = crs_to_lonlat([984_250.0], [1e6], system)[1][0]
    moved = Geodesic.WGS84.Inverse(lat, right[0], lat, wrong[0])
    assert moved["s12"] == pytest.approx(0.6 / 0.999975, abs=1e-4)  # the scale on the central meridian
    assert azimuth_deg(-1, 0) == pytest.approx(moved["azi1"] % 360, abs=1e-3)
