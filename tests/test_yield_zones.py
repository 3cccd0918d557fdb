"""A rate or yield by place, from polygons and from rasters: nothing lost or made; one message for what cannot be."""

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import geopandas
import numpy as np
import pytest
import rasterio
import shapely
from command import answer, message, run
from hypothesis import given, settings
from hypothesis import strategies as st
from rasterio.transform import Affine
from terrain import FRAME, UTM, Floats, raster_of, write_raster

from fieldgeo.analysis.asked_loads import asked_load, load_on
from fieldgeo.analysis.asked_zones import AskedZones, column_unit
from fieldgeo.analysis.lay import lay
from fieldgeo.analysis.loaded import LoadedPlan, load_plan
from fieldgeo.errors import InputError
from fieldgeo.frame import shape_to_lonlat
from fieldgeo.machinery.tool import Tool
from fieldgeo.outline.field import Field, field_from_shape
from fieldgeo.terrain.cell_grounds import cell_areas_m2, cells_on
from fieldgeo.terrain.place import Placing
from fieldgeo.terrain.rate_grid import RateGrid
from fieldgeo.terrain.rate_raster import read_rates
from fieldgeo.travel.ground import cut_ground, swept_ground
from fieldgeo.travel.zones import Zones

ACRE_M2, FOOT_M = 4046.8564224, 0.3048
HALF_MILE_M, PASS_M = 2640 * FOOT_M, 40 * FOOT_M
# Ten passes of 40 ft and half a mile, 2.424242 ac each, side by side.
TEN = shapely.box(-5 * PASS_M, -HALF_MILE_M / 2, 5 * PASS_M, HALF_MILE_M / 2)
WEST, EAST = (shapely.box(low, -500, high, 500) for low, high in ((-100, 0), (0, 100)))
TOOL = ["--width", "40ft", "--direction", "0", "--headland", "0", "--speed", "5mph"]
GRAIN = ["--tank", "1000bu", "--unload-at", "edge"]


def field_of(shape: shapely.Polygon) -> Field:
    return field_from_shape(shape, name="Ten", frame=FRAME)


def write(path: Path, shapes: Sequence[shapely.Geometry], rows: list[dict[str, Any]]) -> str:
    """Write shapes of the frame as GeoJSON, with properties."""
    features = [
        {
            "type": "Feature",
            "properties": row,
            "geometry": json.loads(shapely.to_geojson(shape_to_lonlat(shape, FRAME))),
        }
        for shape, row in zip(shapes, rows, strict=True)
    ]
    path.write_text(json.dumps({"type": "FeatureCollection", "features": features}))
    return str(path)


def halves(folder: Path, west: Any = 100, east: Any = 200, column: str = "yield_bu_ac") -> str:
    return write(folder / "zones.geojson", [WEST, EAST], [{column: west}, {column: east}])


@pytest.fixture(scope="module")
def outline(tmp_path_factory: pytest.TempPathFactory) -> str:
    return write(tmp_path_factory.mktemp("field") / "ten.geojson", [TEN], [{"name": "Ten"}])


def loaded_on(field: Field, *, width_m: float = PASS_M, headland: int = 0, **options: Any) -> LoadedPlan:
    plan = lay(field, Tool(name="t", width_m=width_m), direction_deg=0.0, headland=headland, sides="all")
    asked = asked_load(options)
    assert asked is not None
    assert asked.zones is not None
    return load_plan(plan, load_on(field, asked, rates=read_rates(asked.zones, field)))


def asked_of(path: str, **more: Any) -> AskedZones:
    values: dict[str, Any] = {"job": "unload", "kind": "bu", "unit": "bu/ac", "unit_m2": 1 / ACRE_M2}
    return AskedZones(path=path, **values | more)


# Polygons ----------------------------------------------------------------------------------------------------------


def test_tank_fills_faster_in_the_rich_half_derived(outline: str, tmp_path: Path) -> None:
    # 2.424242 ac a pass: 242.42 bu in the west half, 484.85 in the east. A tank of 1,000 bu takes four passes in the
    # west (969.7) and two in the east (969.7); 3,636.4 bu in all are at least 4 tanks. From the west: pass 5 and one
    # more in the east are 727.3, so that the last stops are after 6, 8 and 10, and the first after 3 or 4; from the
    # east after 2 and 4 and then, 484.8 + 2 x 242.4 being 969.7, after 5, 6 or 7, and after 10.
    load = answer("lay", outline, *TOOL, *GRAIN, "--yield-zones", halves(tmp_path), "--zone-column", "yield_bu_ac")[
        "load"
    ]
    assert load["total"]["bu"] == pytest.approx(5 * 2.4242424242 * 300, rel=1e-7)
    stops, is_west_first = [stop["after_pass"] for stop in load["stop_list"]], load["stop_list"][0]["lon"] < -93
    assert len(stops) == 4
    assert stops[1:] == [6, 8, 10] if is_west_first else (stops[:2], stops[3]) == ([2, 4], 10)
    assert stops[0] in {3, 4} if is_west_first else stops[2] in {5, 6, 7}
    assert sum(stop["amount"]["bu"] for stop in load["stop_list"]) == pytest.approx(load["total"]["bu"])
    assert load["rate"] is None


def test_seed_used_is_swath_times_rate_and_beyond_the_outline_the_plain_rate_derived(tmp_path: Path) -> None:
    # 12 passes of 10 m north to an edge that rises 1 in 2: each runs on until its whole width is out, a triangle of
    # 10 x 5 / 2 = 25 m2 beyond the outline, where no zone lies: there the plain rate. West of 60 m lie
    # 60 x 400 + 60 x 30 / 2 = 24,900 m2, east of it 60 x 430 + 900 = 26,700.
    west, east = (
        shapely.Polygon([(low, 0), (high, 0), (high, 400 + high / 2), (low, 400 + low / 2)])
        for low, high in ((0, 60), (60, 120))
    )
    zones = write(tmp_path / "z.geojson", [west, east], [{"r": 2}, {"r": 3}])
    load = loaded_on(
        field_of(shapely.Polygon([(0, 0), (120, 0), (120, 460), (0, 400)])),
        width_m=10.0, tank="5bu", rate="1bu/ac", rate_zones=zones, zone_column="r", zone_unit="bu/ha",
    )  # fmt: skip
    expected = (2 * 24_900 + 3 * 26_700) / 10_000 + 12 * 25 / ACRE_M2
    assert load.stops.total == pytest.approx(expected, rel=1e-7)


def test_values_by_mass_and_a_tank_in_bushels_derived(outline: str, tmp_path: Path) -> None:
    # 56 lb = 25.40117272 kg a bushel of corn; 6,000 and 12,000 kg/ha on 12.121212 ac = 4.905320 ha each.
    zones = halves(tmp_path, 6000, 12000, "yield_kg_ha")
    load = answer(
        "lay", outline, *TOOL, *GRAIN, "--holds", "corn", "--yield-zones", zones, "--zone-column", "yield_kg_ha"
    )["load"]
    hectares = 5 * PASS_M * HALF_MILE_M / 1e4
    assert load["total"]["bu"] == pytest.approx(hectares * 18_000 / 25.40117272, rel=1e-7)


def test_the_rest_takes_the_plain_number_told_with_its_acres_derived(outline: str, tmp_path: Path) -> None:
    zones = write(tmp_path / "z.geojson", [WEST, EAST], [{"t": 100}, {"t": None}])
    result = run("lay", outline, *TOOL, *GRAIN, "--yield-zones", zones, "--zone-column", "t", "--yield", "150bu/ac")
    said = " ".join(result.stderr.split())
    assert "12.12 ac of the field have no value there and take 150bu/ac" in said
    assert "values of z.geojson are taken as bu/ac, the unit of the yield you give" in said
    assert f"{12.121212 * 250:,.0f} bu in all" in " ".join(result.stdout.split())


@pytest.mark.parametrize(
    ("tank", "said"), [("1000bu", "1,000 bu: at least 2 passes"), ("300bu", "in places less than a pass")]
)
def test_what_a_tank_does_is_told_for_the_richest_passes_derived(
    outline: str, tmp_path: Path, tank: str, said: str
) -> None:
    # 242.4 and 484.8 bu a pass.
    more = ["--tank", tank, "--unload-at", "edge", "--zone-column", "yield_bu_ac"]
    result = run("lay", outline, *TOOL, *more, "--yield-zones", halves(tmp_path))
    assert said in " ".join(result.stdout.split())


@pytest.mark.parametrize("kind", ["gpkg", "shp"])
def test_other_formats_and_systems_give_the_same_regression(outline: str, tmp_path: Path, kind: str) -> None:
    plain = answer("lay", outline, *TOOL, *GRAIN, "--yield-zones", halves(tmp_path), "--zone-column", "yield_bu_ac")
    file = tmp_path / f"zones.{kind}"
    frame = geopandas.GeoDataFrame(
        {"y_bu_ac": [100.5, 199.5]}, geometry=[shape_to_lonlat(half, FRAME) for half in (WEST, EAST)], crs="EPSG:4326"
    )
    frame.to_crs(UTM).to_file(file)
    load = answer("lay", outline, *TOOL, *GRAIN, "--yield-zones", str(file), "--zone-column", "y_bu_ac")["load"]
    assert load["total"]["bu"] == pytest.approx(plain["load"]["total"]["bu"], rel=1e-6)


def test_a_crossed_ring_is_mended_and_told(outline: str, tmp_path: Path) -> None:
    # A bow tie: half of its box is ground. The rest takes the plain number.
    bow = shapely.Polygon([(-50, -100), (50, 100), (50, -100), (-50, 100)])
    zones = write(tmp_path / "bow.geojson", [bow], [{"y": 100}])
    result = run("lay", outline, *TOOL, *GRAIN, "--yield-zones", zones, "--zone-column", "y", "--yield", "150bu/ac")
    assert result.exit_code == 0, result.stderr
    assert "feature 1 was mended" in result.stderr


def test_zones_are_of_one_value_and_text_that_is_a_number_counts(tmp_path: Path) -> None:
    # Four strips with two values: two zones.
    strips = [shapely.box(low, -500, low + 50, 500) for low in (-100, -50, 0, 50)]
    zones = write(tmp_path / "z.geojson", strips, [{"y": "100"}, {"y": 200}, {"y": 100.0}, {"y": "200"}])
    rates = read_rates(asked_of(zones, column="y"), field_of(TEN)).rates
    assert isinstance(rates, Zones)
    assert (rates.rates_m2 * ACRE_M2).tolist() == pytest.approx([100.0, 200.0])


@pytest.mark.parametrize(
    ("column", "unit"),
    [
        ("yield_bu_ac", "bu/ac"), ("N_kg_per_ha", "kg/ha"), ("seeds ac", "seeds/ac"), ("bu_ac", "bu/ac"),
        ("yield", None), ("bu", None), ("wet_T_ha", None), ("field_no", None),
    ],
)  # fmt: skip
def test_unit_at_the_end_of_a_column_s_name(column: str, unit: str | None) -> None:
    assert column_unit(column) == unit


# Rasters -----------------------------------------------------------------------------------------------------------


def overlaps(low: float, high: float, first: float, cell: float, count: int) -> Floats:
    """Return how much of each cell along an axis lies between two places."""
    edges = first + cell * np.arange(count + 1)
    return np.asarray(np.clip(np.minimum(edges[1:], high) - np.maximum(edges[:-1], low), 0, None))


@pytest.mark.parametrize("headland", [0, 1])
def test_grain_is_the_sum_over_worked_ground_of_yield_derived(tmp_path: Path, headland: int) -> None:
    # Cells of 10 m in the frame's own system, aslant to nothing but off by 3.7 and 1.3 m: the share of each cell on
    # the rectangle is a product of two lengths, with no geometry at all.
    yields = np.random.default_rng(4).uniform(40, 260, (60, 40))
    raster = write_raster(
        tmp_path / "y.tif", yields, transform=Affine(10, 0, -203.7, 0, -10, 301.3), crs=FRAME.crs().to_wkt()
    )
    load = loaded_on(field_of(shapely.box(-150, -250, 150, 250)), width_m=10.0, headland=headland, tank="300bu",
                     yield_zones=raster, zone_unit="bu/ac")  # fmt: skip
    across, down = overlaps(-150, 150, -203.7, 10, 40), overlaps(-250, 250, -298.7, 10, 60)[::-1]
    expected = float(down @ yields @ across) / ACRE_M2
    assert load.stops.total == pytest.approx(expected, rel=1e-7)
    assert sum(stop.amount for stop in load.stops.stops) == pytest.approx(expected, rel=1e-7)


@pytest.mark.parametrize("crs", [UTM, "EPSG:4269", "EPSG:3418"])
def test_a_level_yield_is_yield_times_area_in_any_system_derived(tmp_path: Path, crs: str) -> None:
    cell, reach = {UTM: (10.0, 500.0), "EPSG:4269": (1e-4, 0.008), "EPSG:3418": (30.0, 1800.0)}[crs]
    raster = raster_of(tmp_path / "y.tif", lambda x, _: np.full(x.shape, 180.0), crs=crs, cell=cell, reach=reach)
    field = field_of(
        shapely.Polygon([(-200, -300), (250, -280), (180, 310), (-220, 200)], [[(0, 0), (50, 9), (9, 50)]])
    )
    # The plain number differs, so that the sizes of the cells count.
    rates = read_rates(asked_of(raster, rest="1bu/ac", rest_m2=1 / ACRE_M2), field).rates
    assert rates.amounts(np.array([field.shape])).item() == pytest.approx(180 / ACRE_M2 * field.area_m2, rel=1e-7)


def test_raster_and_polygons_of_its_cells_agree(tmp_path: Path) -> None:
    raster = raster_of(tmp_path / "y.tif", lambda x, y: (100 + x / 10 - y / 20).round(), cell=25.0, reach=500.0)
    field = field_of(shapely.Polygon([(-200, -300), (250, -280), (180, 310), (-220, 200)]))
    grid = read_rates(asked_of(raster), field).rates
    assert isinstance(grid, RateGrid)
    rows, columns = (each.ravel() for each in np.meshgrid(*map(np.arange, grid.rates_m2.shape), indexing="ij"))
    corners = [grid.placing.places(rows + down, columns + on) for down, on in ((0, 0), (0, 1), (1, 1), (1, 0))]
    quads = np.asarray(shapely.polygons(np.stack([np.column_stack(corner) for corner in corners], axis=1)))
    is_known = np.isfinite(grid.rates_m2.ravel())
    zones = Zones(shapes=quads[is_known], rates_m2=grid.rates_m2.ravel()[is_known], rest_m2=grid.rest_m2)
    plan = lay(field, Tool(name="t", width_m=12.0), direction_deg=20.0, headland=1, sides="all")
    for ground in (cut_ground(plan.route).shapes, swept_ground(plan.route).shapes):
        np.testing.assert_allclose(grid.amounts(ground), zones.amounts(ground), rtol=1e-7)


@settings(max_examples=60, deadline=None)
@given(
    seed=st.integers(0, 2**31), corners=st.integers(3, 30), turn=st.floats(0, 6.28), is_flipped=st.booleans(),
    has_hole=st.booleans(),
)  # fmt: skip
def test_sums_over_cells_are_those_of_cut_polygons(
    seed: int, corners: int, turn: float, is_flipped: bool, has_hole: bool
) -> None:
    # A frame for its own system, turned: cells are true rectangles. Ground partly beyond them.
    rng = np.random.default_rng(seed)
    angles = np.sort(rng.uniform(0, 2 * np.pi, corners))
    angles += np.linspace(0, 1e-3, corners)
    radii = rng.uniform(20, 90, corners)
    shape = shapely.make_valid(shapely.Polygon(np.column_stack([radii * np.cos(angles), radii * np.sin(angles)])))
    if has_hole:
        shape = shape.difference(shapely.Point(rng.uniform(-20, 20, 2)).buffer(9))
    cos, sin, flip = np.cos(turn), np.sin(turn), -1 if is_flipped else 1
    x, y = rng.uniform(-70, -50, 2)
    transform = (7 * cos, -9 * sin * flip, x * cos - y * sin, 7 * sin, 9 * cos * flip, x * sin + y * cos)
    placing = Placing(frame=FRAME, crs=FRAME.crs(), transform=transform)
    values = rng.uniform(0, 3, (12, 15))
    rows, columns = (each.ravel() for each in np.meshgrid(np.arange(12), np.arange(15), indexing="ij"))
    corner = [placing.places(rows + down, columns + on) for down, on in ((0, 0), (0, 1), (1, 1), (1, 0))]
    quads = shapely.polygons(np.stack([np.column_stack(each) for each in corner], axis=1))
    shared_m2 = shapely.area(shapely.intersection(quads, shape))
    grid = RateGrid(rates_m2=values, placing=placing, rest_m2=0.0)
    total = grid.amounts(np.array([shape, shapely.Polygon()]))
    assert total == pytest.approx([float(shared_m2 @ values.ravel()), 0.0], abs=1e-3)
    shares = cells_on(shape, 12, 15, placing) * cell_areas_m2(12, 15, placing)
    np.testing.assert_allclose(shares.ravel(), shared_m2, atol=1e-4)


def test_cells_without_data_take_the_plain_number_derived(outline: str, tmp_path: Path) -> None:
    # Data to the west of the middle only: 24.2424 ac, half at 100, half at the plain 150.
    def west_only(x: Floats, _: Floats) -> Floats:
        return np.where(x < 0, 100.0, -9999.0)

    raster = raster_of(tmp_path / "half.tif", west_only, crs=FRAME.crs().to_wkt(), reach=500.0, nodata=-9999)
    result = run("lay", outline, *TOOL, *GRAIN, "--yield-zones", raster, "--yield", "150bu/ac", "--json")
    assert "12.12 ac of the field have no value there and take 150bu/ac" in " ".join(result.stderr.split())
    assert json.loads(result.stdout)["load"]["total"]["bu"] == pytest.approx(12.121212 * 250, rel=1e-6)
    text = " ".join(
        message(run("lay", outline, *TOOL, *GRAIN, "--yield-zones", raster, "--zone-unit", "bu/ac"), 1).split()
    )
    assert "12.12 of 24.24 ac of field 'Ten' have no value there. Give a plain yield too, such as 100bu/ac" in text


# Refused -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("row", "more", "match"),
    [
        ([{"y": 1}, {"y": 2}], [], "Say with zone column which of its columns holds the values: y."),
        ([{"y": 1}, {"y": 2}], ["--zone-column", "z"], "it has no column 'z'. Its columns are: y."),
        ([{"y": "good"}, {"y": 2}], ["--zone-column", "y"], "must be numbers from 0 to 1,000 bu/ac. Mend them, or"),
        ([{"y": "good"}, {"y": True}], ["--zone-column", "y"], "- feature 1: 'good' - feature 2: 'True'"),
        ([{"y": 1}, {"y": -2}], ["--zone-column", "y"], "feature 2: '-2'"),
        ([{"y": 1}, {"y": 18000}], ["--zone-column", "y"], "feature 2: '18000'"),
        ([{"y": None}, {"y": ""}], ["--zone-column", "y"], "no value lies on field 'Ten'"),
        ([{"y": 0}, {"y": 0}], ["--zone-column", "y"], "all are zero"),
    ],
)
def test_polygons_that_cannot_be_used(
    outline: str, tmp_path: Path, row: list[dict[str, Any]], more: list[str], match: str
) -> None:
    zones = write(tmp_path / "zones.geojson", [WEST, EAST], row)
    result = run("lay", outline, *TOOL, *GRAIN, "--yield-zones", zones, "--zone-unit", "bu/ac", *more)
    assert match in " ".join(message(result, 1).split())


def test_zones_that_overlap_or_lie_elsewhere(outline: str, tmp_path: Path) -> None:
    more = ["--zone-column", "y_bu_ac"]
    over = write(tmp_path / "over.geojson", [WEST, TEN], [{"y_bu_ac": 1}, {"y_bu_ac": 2}])
    assert "overlap on" in message(run("lay", outline, *TOOL, *GRAIN, "--yield-zones", over, *more), 1)
    away = write(tmp_path / "away.geojson", [shapely.box(5000, 0, 5100, 100)], [{"y_bu_ac": 1}])
    assert "no value lies on field" in message(run("lay", outline, *TOOL, *GRAIN, "--yield-zones", away, *more), 1)


def test_zones_without_a_coordinate_system(outline: str, tmp_path: Path) -> None:
    raster = raster_of(tmp_path / "deg.tif", lambda x, _: x * 0 + 180, crs="EPSG:4326", cell=1e-4, reach=0.008)
    with rasterio.open(raster) as file:
        values, transform = file.read(1), file.transform
    bare = write_raster(tmp_path / "bare.tif", values, transform=transform, crs=None)
    unit = ["--zone-unit", "bu/ac"]
    text = message(run("lay", outline, *TOOL, *GRAIN, "--yield-zones", bare, *unit), 1)
    assert "it names no coordinate system. Give it with --zone-crs" in " ".join(text.split())
    assert run("lay", outline, *TOOL, *GRAIN, "--yield-zones", bare, *unit, "--zone-crs", "EPSG:4326").exit_code == 0
    shapes = geopandas.GeoDataFrame({"y": [1.0]}, geometry=[shape_to_lonlat(TEN, FRAME)])
    with pytest.warns(UserWarning, match="crs"):
        shapes.to_file(tmp_path / "bare.shp")
    shapefile = ["--yield-zones", str(tmp_path / "bare.shp"), "--zone-column", "y", *unit]
    text = " ".join(message(run("lay", outline, *TOOL, *GRAIN, *shapefile), 1).split())
    assert "its coordinate system is not known" in text
    assert "--zone-crs" in text
    assert run("lay", outline, *TOOL, *GRAIN, *shapefile, "--zone-crs", "OGC:CRS84").exit_code == 0


@pytest.mark.parametrize(
    ("value", "more", "match"),
    [
        (-1.0, {}, "are outside 0 to 1,000 bu/ac; they go from -1 to -1"),
        (5000.0, {}, "they go from 5,000 to 5,000"),
        (0.0, {}, "all its values on the field are zero"),
        (-9999.0, {"nodata": -9999}, "no value lies on field 'Ten'"),
        (100.0, {"shift_m": 3000.0}, "it misses field 'Ten'"),
    ],
)
def test_rasters_that_cannot_be_used(tmp_path: Path, value: float, more: dict[str, Any], match: str) -> None:
    shift_m = more.pop("shift_m", 0.0)
    transform = Affine(10, 0, -500 + shift_m, 0, -10, 500)
    raster = write_raster(
        tmp_path / "y.tif", np.full((100, 100), value), transform=transform, crs=FRAME.crs().to_wkt(), **more
    )
    with pytest.raises(InputError, match=match):
        read_rates(asked_of(raster), field_of(TEN))


@pytest.mark.parametrize(
    ("options", "match"),
    [
        (["--yield-zones", "z.tif", "--tank", "9bu"], "zone unit: missing"),
        (["--yield-zones", "z.tif", "--tank", "9bu", "--zone-unit", "bushels"], "zone unit: got 'bushels'"),
        (["--yield-zones", "z.tif", "--zone-unit", "bu/ac"], "tank: missing"),
        (["--yield-zones", "z.tif", "--zone-unit", "kg/ha", "--tank", "9bu"], "tank and yield do not go together"),
        (["--yield-zones", "z.tif", "--rate-zones", "z.tif", "--tank", "9bu"], "Give one of them"),
        (
            ["--yield-zones", "z.tif", "--rate", "1bu/ac", "--tank", "9bu"],
            "yield zones go with a yield, not with a rate",
        ),
        (["--zone-column", "y"], "zone column: goes with filling or unloading"),
        (
            ["--zone-column", "y", "--tank", "9bu", "--yield", "1bu/ac"],
            "zone column: goes with rate zones or yield zones",
        ),
        (
            ["--yield-zones", "z.tif", "--tank", "9bu", "--yield", "9bu/ac", "--fill-at", "edge"],
            "unload at with a yield",
        ),
    ],
)
def test_options_that_do_not_go_together(outline: str, options: list[str], match: str) -> None:
    assert match in " ".join(message(run("lay", outline, *TOOL, *options), 2).split())


def test_files_that_are_no_zones(outline: str, tmp_path: Path) -> None:
    def refused(file: str, *more: str) -> str:
        result = run("lay", outline, *TOOL, *GRAIN, "--yield-zones", file, "--zone-unit", "bu/ac", *more)
        return " ".join(message(result, 1).split())

    level = raster_of(tmp_path / "y.tif", lambda x, _: x * 0 + 180)
    assert "a raster has no columns" in refused(level, "--zone-column", "y")
    assert "there is no such file" in refused(str(tmp_path / "none.tif"))
    assert "no such file" in refused(str(tmp_path / "none.geojson"), "--zone-column", "y")
    (tmp_path / "broken.tif").write_bytes(b"II*\0 and then nothing")
    assert "yield by place 'broken.tif' cannot be read" in refused(str(tmp_path / "broken.tif"))
    (tmp_path / "plain.txt").write_text("hello")
    assert "plain.txt" in refused(str(tmp_path / "plain.txt"), "--zone-column", "y")
