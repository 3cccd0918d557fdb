"""Slope of the ground from elevation rasters: the weighted difference, any system and unit, smoothing, rims."""

from pathlib import Path

import numpy as np
import pytest
from conftest import DATA
from hypothesis import given
from hypothesis import strategies as st
from terrain import FOOT_M, FRAME, UTM, cone, plane, raster_of, square, write_raster

from fieldgeo.errors import InputError
from fieldgeo.frame import Frame
from fieldgeo.outline.field import Field
from fieldgeo.terrain import raster as reading
from fieldgeo.terrain.asked import height_unit_m, read_grade
from fieldgeo.terrain.ground import Terrain, box_weights, gradients, read_terrain
from fieldgeo.terrain.measure import field_points


def slope_of_window(window: list[list[float]], cell_x_m: float, cell_y_m: float) -> tuple[float, float]:
    """Return the gradient in the middle of a 3 x 3 window, north up: eastward, northward."""
    columns, rows = np.meshgrid(np.arange(3) * cell_x_m, -np.arange(3) * cell_y_m)
    east, north = gradients(np.array(window, dtype=float), columns, rows)
    assert np.isnan(np.delete(east.ravel(), 4)).all()
    return float(east[1, 1]), float(north[1, 1])


def test_worked_window_recalled_and_recomputed() -> None:
    # Recalled: worked window of a general GIS help page for the 3 x 3 weighted difference (Hill shading and the
    # reflectance map, Proceedings of the IEEE 69, 1981); recomputed. It prints 75.25762 degrees, by a rounded factor;
    # 75.25766 is exact.
    east, north = slope_of_window([[50, 45, 50], [30, 30, 30], [8, 10, 10]], 5, 5)
    assert east == pytest.approx(0.05, abs=1e-7)
    assert north == pytest.approx(3.8, abs=1e-7)  # southward -3.8
    assert 100 * np.hypot(east, north) == pytest.approx(380.032893, abs=1e-4)
    assert np.degrees(np.arctan(np.hypot(east, north))) == pytest.approx(75.257658, abs=1e-4)
    assert np.degrees(np.arctan2(-east, -north)) % 360 == pytest.approx(180.7538, abs=0.01)


def test_plane_rising_5_per_cent_to_the_east_derived() -> None:
    east, north = slope_of_window([[99.5, 100.0, 100.5]] * 3, 10, 10)
    assert (east, north) == pytest.approx((0.05, 0.0), abs=1e-7)


def test_cells_of_a_third_of_an_arc_second_are_not_square_derived() -> None:
    # Derived: cells of 7.906839 by 10.280984 m at latitude 40. Taken as 10 m squares the slope would be 7.38 %.
    window = [[281.2, 281.6, 282.1], [280.7, 281.0, 281.5], [280.1, 280.3, 280.9]]
    east, north = slope_of_window(window, 7.906839, 10.280984)
    assert (east, north) == pytest.approx((0.05217003, 0.05957601), abs=1e-7)
    assert 100 * np.hypot(east, north) == pytest.approx(7.918973, abs=1e-4)
    assert np.degrees(np.arctan2(-east, -north)) % 360 == pytest.approx(221.2083, abs=0.01)


def test_gradients_are_those_of_an_independent_filter() -> None:
    # The weighted difference is Sobel's filter over eight cells; scipy has one of its own.
    from scipy.ndimage import sobel

    height = np.random.default_rng(5).uniform(290, 310, (30, 40))
    columns, rows = np.meshgrid(np.arange(40) * 7.9, -np.arange(30) * 10.3)
    east, north = gradients(height, columns, rows)
    assert east[1:-1, 1:-1] == pytest.approx(sobel(height, axis=1)[1:-1, 1:-1] / 8 / 7.9, abs=1e-12)
    assert north[1:-1, 1:-1] == pytest.approx(-sobel(height, axis=0)[1:-1, 1:-1] / 8 / 10.3, abs=1e-12)


def test_size_of_a_third_of_an_arc_second_at_latitude_40_derived(tmp_path: Path) -> None:
    # Derived on the ellipsoid GRS 80: 7.9068 by 10.2810 m.
    frame = Frame(lon_deg=-90.0, lat_deg=40.0)
    path = raster_of(tmp_path / "d.tif", plane(0.05, 90), crs="EPSG:4269", cell=1 / 10800, reach=0.01, frame=frame)
    ground = read_terrain(path, square(frame=frame), width_m=12.0)
    assert ground.heights.raster_cell_m == pytest.approx((7.9068, 10.2810), abs=1e-3)


def slopes_on(ground: Terrain, field: Field) -> tuple[np.ndarray, np.ndarray]:
    places = field_points(field)
    return ground.gradient(places[:, 0], places[:, 1])


@pytest.mark.parametrize(
    ("crs", "cell", "reach", "scale", "unit"),
    [
        (UTM, 10.0, 300.0, 1.0, None),
        (UTM, 1.0, 250.0, 1.0, "m"),
        ("EPSG:4269", 1 / 10800, 0.004, 1.0, "metre"),
        ("EPSG:4326", 1 / 10800, 0.004, FOOT_M, "ft"),  # degrees, with feet as heights
        ("EPSG:4326", 1 / 10800, 0.004, 1200 / 3937, "US survey foot"),
        ("EPSG:3418", 30.0, 1000.0, FOOT_M, "foot"),  # Iowa South, US survey feet
        ("EPSG:3857", 5.0, 400.0, 1.0, None),
        ("EPSG:6350", 5.0, 320.0, 1.0, "metre"),  # turned by 2 degrees against north here
    ],
)
def test_a_plane_is_the_same_plane_in_every_system_and_unit_derived(
    tmp_path: Path, crs: str, cell: float, reach: float, scale: float, unit: str | None
) -> None:
    # Derived: falling 6 % to the azimuth 150, the gradient is -0.06 sin 150 eastward and -0.06 cos 150 northward.
    path = raster_of(tmp_path / "plane.tif", plane(0.06, 150), crs=crs, cell=cell, reach=reach, scale=scale, unit=unit)
    ground = read_terrain(path, square(), width_m=12.192)
    east, north = slopes_on(ground, square())
    assert np.isfinite(east).all()
    assert east == pytest.approx(-0.06 * np.sin(np.radians(150)), abs=2e-6)
    assert north == pytest.approx(-0.06 * np.cos(np.radians(150)), abs=2e-6)
    assert ground.heights.is_unit_assumed is (unit is None)


def test_a_unit_that_is_given_goes_before_the_one_stated(tmp_path: Path) -> None:
    path = raster_of(tmp_path / "plane.tif", plane(0.06, 150), unit="m")
    east, north = slopes_on(read_terrain(path, square(), width_m=12.0, unit_m=FOOT_M), square())
    assert np.hypot(east, north) == pytest.approx(0.06 * FOOT_M, abs=1e-6)


def test_the_unit_of_a_compound_system_is_read(tmp_path: Path) -> None:
    # EPSG:6360 is the height above NAVD88 in US survey feet, stated by the system.
    path = raster_of(tmp_path / "plane.tif", plane(0.06, 150), scale=1200 / 3937, crs=UTM)
    import rasterio

    with rasterio.open(path, "r+") as file:
        file.crs = rasterio.crs.CRS.from_string("EPSG:26915+6360")
    ground = read_terrain(path, square(), width_m=12.0)
    assert not ground.heights.is_unit_assumed
    assert ground.heights.unit_m == pytest.approx(1200 / 3937)
    assert np.hypot(*slopes_on(ground, square())) == pytest.approx(0.06, abs=1e-6)


def test_a_field_beyond_180_degrees(tmp_path: Path) -> None:
    frame = Frame(lon_deg=180.0, lat_deg=-17.0)
    path = raster_of(tmp_path / "d.tif", plane(0.05, 90), crs="EPSG:4326", cell=1 / 10800, reach=0.004, frame=frame)
    east, _ = slopes_on(read_terrain(path, square(frame=frame), width_m=12.0), square(frame=frame))
    assert east == pytest.approx(-0.05, abs=2e-6)


def test_longitudes_that_run_to_360(tmp_path: Path) -> None:
    import rasterio
    from rasterio.transform import Affine

    path = raster_of(tmp_path / "d.tif", plane(0.05, 90), crs="EPSG:4326", cell=1 / 10800, reach=0.004)
    with rasterio.open(path) as file:
        height = file.read(1)
    cell = 1 / 10800
    moved = write_raster(
        tmp_path / "m.tif", height, crs="EPSG:4326",
        transform=Affine(cell, 0, FRAME.lon_deg + 360 - 0.004, 0, -cell, FRAME.lat_deg + 0.004),
    )  # fmt: skip
    east, _ = slopes_on(read_terrain(moved, square(), width_m=12.0), square())
    assert east == pytest.approx(-0.05, abs=1e-4)


def test_a_cone_has_the_same_slope_all_round_derived(tmp_path: Path) -> None:
    # Derived: the gradient of a cone points to its top and is its grade everywhere; a cell of 2 m, 40 m and more from
    # the top, sees it bend by (2 / 40)^2 / 8, less than a thousandth of it. Places lie up to 1.4 m from the middle of
    # their cell, which turns the gradient by 1.4 / 40 at the most.
    path = raster_of(tmp_path / "cone.tif", cone(0.08), cell=2.0)
    ground = read_terrain(path, square(), width_m=2.0)
    places = field_points(square())
    away = np.hypot(*places.T)
    places, away = places[away > 40], away[away > 40]
    east, north = ground.gradient(*places.T)
    assert np.hypot(east, north) == pytest.approx(0.08, rel=1e-3)
    outward = (east * places[:, 0] + north * places[:, 1]) / away
    assert outward == pytest.approx(-0.08, rel=1e-3)


def test_a_raster_that_is_turned_and_one_upside_down(tmp_path: Path) -> None:
    from rasterio.transform import Affine

    # Derived: heights written for each cell's own place, so the plane is the same however the cells are turned.
    to_utm = __import__("pyproj").Transformer.from_crs("OGC:CRS84", UTM, always_xy=True)
    x0, y0 = to_utm.transform(FRAME.lon_deg, FRAME.lat_deg)
    for name, turn in (
        ("turned", Affine.translation(x0, y0) @ Affine.rotation(33.0) @ Affine.scale(8.0, -8.0)),
        ("upside", Affine.translation(x0, y0) @ Affine.scale(8.0, 8.0)),
    ):
        transform = turn @ Affine.translation(-50, -50)
        columns, rows = np.meshgrid(np.arange(100) + 0.5, np.arange(100) + 0.5)
        x = transform.a * columns + transform.b * rows + transform.c
        y = transform.d * columns + transform.e * rows + transform.f
        lon, lat = to_utm.transform(x, y, direction="INVERSE")
        east, north = FRAME.to_frame(lon.ravel(), lat.ravel())
        height = plane(0.06, 150)(east, north).reshape(x.shape)
        path = write_raster(tmp_path / f"{name}.tif", height, transform=transform)
        found = slopes_on(read_terrain(path, square(), width_m=12.0), square())
        assert found[0] == pytest.approx(-0.06 * np.sin(np.radians(150)), abs=2e-6)
        assert found[1] == pytest.approx(-0.06 * np.cos(np.radians(150)), abs=2e-6)


def test_smoothing_takes_out_what_is_narrower_than_the_tool(tmp_path: Path) -> None:
    # Derived: ridges 1 m high and 8 m apart on cells of 2 m, seen through 8 m: every mean holds one whole ridge.
    def ridges(east: np.ndarray, north: np.ndarray) -> np.ndarray:
        return np.asarray(300 + 0.5 * np.sin(2 * np.pi * east / 8) + 0.02 * north)

    path = raster_of(tmp_path / "ridges.tif", ridges, cell=2.0)
    rough, smooth = (read_terrain(path, square(), width_m=width) for width in (2.0, 8.0))
    assert np.median(np.abs(slopes_on(rough, square())[0])) > 0.1
    east, north = slopes_on(smooth, square())
    assert np.abs(east).max() < 2e-3
    assert north == pytest.approx(0.02, abs=1e-4)


@given(cells=st.floats(0.01, 40))
def test_box_weights_sum_to_the_width(cells: float) -> None:
    weights = box_weights(cells)
    assert weights.sum() == pytest.approx(max(cells, 1.0), abs=1e-8)
    assert (weights == weights[::-1]).all()
    assert (weights > 0).all()


def test_a_raster_that_ends_at_the_field_keeps_its_plane(tmp_path: Path) -> None:
    # Derived: no height is made up, gradients of the cells beside are taken; those of a plane are all the same.
    path = raster_of(tmp_path / "plane.tif", plane(0.06, 150), reach=200.0, cell=10.0)
    for width_m in (12.0, 40.0):
        ground = read_terrain(path, square(), width_m=width_m)
        east, north = slopes_on(ground, square())
        assert np.isfinite(east).all()
        assert np.hypot(east, north) == pytest.approx(0.06, abs=1e-5)
    places = field_points(square())
    # Derived: of 40 x 40 cells 156 lie at the rim, 9.75 %; places are 4 m apart, cells 10 m.
    assert read_terrain(path, square(), width_m=12.0).is_at_rim(*places.T).mean() == pytest.approx(0.0975, abs=0.025)


def test_gaps_are_left_out_and_their_neighbours_are_right(tmp_path: Path) -> None:
    # Derived: a pond without heights leaves a plane about it as it is; no slope is known in it.
    def pond(east: np.ndarray, north: np.ndarray) -> np.ndarray:
        return np.where(np.hypot(east, north) < 50, -999999.0, plane(0.06, 150)(east, north))

    for nodata in (-999999.0, None):  # marked, and not marked but lower than any ground
        path = raster_of(tmp_path / f"pond{nodata}.tif", pond, cell=5.0, nodata=nodata)
        ground = read_terrain(path, square(), width_m=12.0)
        slope = np.hypot(*slopes_on(ground, square()))
        away = np.hypot(*field_points(square()).T)
        assert np.isnan(slope[away < 45]).all()
        assert slope[away > 55] == pytest.approx(0.06, abs=1e-5)
        assert (ground.heights.out_of_range > 0) is (nodata is None)


def test_fine_cells_are_read_as_blocks_within_bounded_memory(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = raster_of(tmp_path / "fine.tif", plane(0.06, 150), cell=0.5, reach=240.0, tiled=True)
    monkeypatch.setattr(reading, "_PIECE_CELLS", 20_000)
    pieces = []
    read_piece = reading._read_piece
    monkeypatch.setattr(
        reading, "_read_piece", lambda raster, piece, unit: pieces.append(piece) or read_piece(raster, piece, unit)
    )
    ground = read_terrain(path, square(), width_m=12.0)
    assert max(piece.rows * piece.columns for piece in pieces) <= 20_000
    assert len(pieces) > 20
    # Derived: a quarter of 12 m is 3 m; a cell is 0.5002 m on the ground here, and five of them are not more than that.
    assert ground.heights.cell_m == pytest.approx((2.5, 2.5), rel=1e-3)
    assert np.hypot(*slopes_on(ground, square())) == pytest.approx(0.06, abs=1e-5)


def test_more_cells_than_are_kept_are_taken_together(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = raster_of(tmp_path / "fine.tif", plane(0.06, 150), cell=2.0, reach=260.0)
    monkeypatch.setattr(reading, "MOST_CELLS", 5_000)
    ground = read_terrain(path, square(), width_m=2.0)
    assert ground.east.size <= 5_000
    assert np.hypot(*slopes_on(ground, square())) == pytest.approx(0.06, abs=1e-5)
    monkeypatch.setattr(reading, "MOST_READ", 1_000)
    with pytest.raises(InputError, match=r"at most 1,000 are read"):
        read_terrain(path, square(), width_m=2.0)


def test_scale_and_offset_of_a_band_are_used(tmp_path: Path) -> None:
    import rasterio

    # Derived: centimetres above 250 m in whole numbers.
    def centimetres(east: np.ndarray, north: np.ndarray) -> np.ndarray:
        return np.round((plane(0.06, 150)(east, north) - 250) * 100)

    path = raster_of(tmp_path / "scaled.tif", centimetres, dtype="int32")
    with rasterio.open(path, "r+") as file:
        file.scales, file.offsets = (0.01,), (250.0,)
    ground = read_terrain(path, square(), width_m=12.0)
    assert np.nanmean(ground.heights.height_m) == pytest.approx(300.0, abs=0.5)
    assert np.hypot(*slopes_on(ground, square())) == pytest.approx(0.06, abs=5e-4)
    assert not ground.heights.holds_whole_units


def test_only_the_window_about_the_field_is_read(tmp_path: Path) -> None:
    path = raster_of(tmp_path / "wide.tif", plane(0.06, 150), reach=3000.0)
    # Derived: 400 m and a rim of 6.1 m and two cells: 41 to 47 cells of 600.
    assert max(read_terrain(path, square(), width_m=12.192).east.shape) <= 47


def test_c_slope_soil_is_the_steepest_of_the_minnesota_field(minnesota: Field) -> None:
    # Published: soil survey (SSURGO) MN013, 2014, map unit 105C; that C is the class of 6 to 12 % is recalled.
    import geopandas
    import shapely

    units = geopandas.read_file(DATA / "mn_corn_2011_soil_units.geojson").dissolve("map_unit").geometry
    places = field_points(minnesota)
    lon, lat = minnesota.frame.to_lonlat(*places.T)
    for width_m in (9.144, 30.0, 60.0):
        ground = read_terrain(DATA / "mn_corn_2011_elev_10m.asc", minnesota, width_m=width_m)
        slope = np.hypot(*ground.gradient(*places.T))
        medians = {
            unit: float(np.nanmedian(slope[shapely.contains_xy(shape, lon, lat)])) for unit, shape in units.items()
        }
        assert max(medians, key=medians.__getitem__) == "105C"
        assert sorted(medians.values())[-2] < 0.7 * medians["105C"]
        if width_m < 10:
            assert 0.06 <= medians["105C"] <= 0.12


@pytest.mark.parametrize(
    ("text", "unit_m"),
    [("m", 1.0), ("Metre", 1.0), ("ft", 0.3048), ("US survey foot", 1200 / 3937), ("ftUS", 1200 / 3937), ("cm", 0.01)],
)
def test_units_of_height(text: str, unit_m: float) -> None:
    assert height_unit_m(text) == unit_m


def test_grades_15_per_cent_is_8_53_degrees_derived() -> None:
    # Derived: atan 0.15 = 8.53077 degrees.
    assert np.degrees(np.arctan(read_grade("15%"))) == pytest.approx(8.53077, abs=1e-4)
    assert read_grade("8.53077 deg") == pytest.approx(0.15, abs=1e-6)


@pytest.mark.parametrize("text", ["15", "-2%", "0%", "90deg", "250%", "steep", "1e3%", "nan%", "15 % deg"])
def test_grades_that_are_none(text: str) -> None:
    with pytest.raises(InputError, match="grade must be"):
        read_grade(text)
