"""Coverage as a raster of counts: read back by rasterio, held to the exact areas."""

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pyproj
import pytest
import rasterio
import shapely
from command import SAMPLES, answer, message, run
from hypothesis import given, settings
from hypothesis import strategies as st
from rasterio.features import rasterize
from rasterio.transform import Affine
from terrain import FRAME, UTM, plane, raster_of, square

import fieldgeo
from fieldgeo.errors import FileError, InputError
from fieldgeo.export import count_raster
from fieldgeo.export.count_raster import grid_like, own_grid, write_count_raster
from fieldgeo.frame import Frame
from fieldgeo.outline.evidence import Evidence
from fieldgeo.outline.field import field_from_shape
from fieldgeo.terrain.cell_grounds import counts_on, shares_on, sides_of
from fieldgeo.terrain.place import Placing

DATA = Path(__file__).parent / "data"
TOOL = fieldgeo.Tool(name="tool", width_m=12.0)
WATERWAY = str(SAMPLES / "waterway.geojson")


def written(plan: fieldgeo.Plan, path: Path, **more: Any) -> tuple[Any, Any, Any]:
    """Return the cells that have a value, their sizes as the file says [m2], and the profile."""
    write_count_raster(plan, path, more.pop("grid", None) or own_grid(plan.field), **more)
    with rasterio.open(path) as file:
        cells = file.read(1, masked=True)
        a, _, _, _, e, _ = tuple(file.transform)[:6]
        return cells, abs(a * e), dict(file.profile)


def test_a_square_in_whole_passes_is_worked_once_everywhere_derived(tmp_path: Path) -> None:
    # 240 m in 20 passes of 12 m, straight through: every cell once. UTM on the central meridian is 0.9996 of the
    # ground, so 240 m are 239.904 m of the map, 479.8 cells of 0.5 m.
    plan = fieldgeo.lay(square(240.0), TOOL, direction_deg=0.0, headland=0)
    cells, cell_m2, profile = written(plan, tmp_path / "count.tif")
    assert set(np.unique(cells.compressed()).tolist()) == {1}
    assert cells.count() * cell_m2 == pytest.approx(240.0**2 * 0.9996**2, rel=0.005)
    assert profile["crs"].to_epsg() == 32615
    assert profile["dtype"] == "uint8"
    assert profile["nodata"] == 255


@pytest.mark.parametrize("finish", ["cover", "clean", "half"])
def test_areas_are_those_of_the_exact_coverage(tmp_path: Path, finish: Any) -> None:
    # A middle that lies on the wrong side of an edge costs a cell: half a cell along all edges is far more than that
    # comes to, since it falls to both sides alike.
    field = fieldgeo.read_outline(WATERWAY)
    plan = fieldgeo.lay(field, TOOL, direction_deg=77.0, headland=1, finish=finish)
    exact = plan.coverage
    cells, cell_m2, _ = written(plan, tmp_path / "count.tif")
    ground_m2 = cell_m2 / 0.9996**2  # within the zone the scale of the map is known to some ten-thousandths
    edge_m = field.shape.length + sum(swath.length for swath in plan.layout.passes.swaths())
    error_m2 = 0.5 * 0.5 * edge_m * 0.1
    counts = cells.compressed().astype(float)
    assert cells.count() * ground_m2 == pytest.approx(exact.area_m2, rel=1e-3)
    for cells_m2, exact_m2 in (
        (counts.sum() * ground_m2, exact.swept_m2 - exact.spill_m2),
        ((counts > 0).sum() * ground_m2, exact.worked_m2),
        (np.maximum(counts - 1, 0).sum() * ground_m2, exact.overlap_m2),
        ((counts == 0).sum() * ground_m2, exact.skip_m2),
    ):
        assert cells_m2 == pytest.approx(exact_m2, rel=1e-3, abs=error_m2)


def test_sums_of_means_are_exact_even_in_large_cells(tmp_path: Path) -> None:
    # Derived: the mean over a cell times its ground within the outline is the swath area there.
    field = fieldgeo.read_outline(DATA / "mn_corn_2011_outline.geojson")
    plan = fieldgeo.lay(field, TOOL, direction_deg=30.0, headland=2)
    grid = grid_like(DATA / "mn_corn_2011_elev_10m.asc", field)
    raster = write_count_raster(plan, tmp_path / "mean.tif", grid, count_as="mean")
    exact = plan.coverage
    assert raster.swept_m2 == pytest.approx(exact.swept_m2 - exact.spill_m2, rel=1e-6)
    assert raster.swept_m2 - raster.overlap_m2 + raster.skip_m2 == pytest.approx(exact.area_m2, rel=1e-6)
    with rasterio.open(tmp_path / "mean.tif") as file:
        assert file.dtypes == ("float32",)
        assert file.nodata == -9999.0
        assert file.read(1, masked=True).min() >= 0


def test_cells_coincide_with_the_elevation_grid(tmp_path: Path) -> None:
    field = fieldgeo.read_outline(DATA / "mn_corn_2011_outline.geojson")
    plan = fieldgeo.lay(field, TOOL, direction_deg=0.0)
    dem = DATA / "mn_corn_2011_elev_10m.asc"
    write_count_raster(plan, tmp_path / "count.tif", grid_like(dem, field))
    with rasterio.open(dem) as heights, rasterio.open(tmp_path / "count.tif") as counts:
        assert counts.crs.to_epsg() == heights.crs.to_epsg() == 26915
        assert counts.res == heights.res
        for mine, its in ((counts.transform.c, heights.transform.c), (counts.transform.f, heights.transform.f)):
            assert (mine - its) / 10 == pytest.approx(round((mine - its) / 10), abs=1e-9)
        # A window of it, one cell beyond where the field is larger.
        assert counts.height <= heights.height + 2
        assert counts.width <= heights.width + 2


@pytest.mark.parametrize(
    "turn",
    [Affine.identity(), Affine.rotation(30), Affine.scale(1, -1), Affine.rotation(-75) @ Affine.scale(0.4, 1)],
    ids=["plain", "turned", "upside down", "oblong and turned"],
)
def test_turned_grids_count_the_same(tmp_path: Path, turn: Affine) -> None:
    plan = fieldgeo.lay(square(300.0), TOOL, direction_deg=25.0, headland=1)
    x0, y0 = 500000.0, 4649776.0
    dem = tmp_path / "heights.tif"
    transform = Affine.translation(x0, y0) @ turn @ Affine.translation(-400, 400) @ Affine.scale(2, -2)
    with rasterio.open(dem, "w", driver="GTiff", width=400, height=400, count=1, dtype="float32", crs=UTM,
                       transform=transform) as file:  # fmt: skip
        file.write(np.ones((1, 400, 400), dtype=np.float32))
    raster = write_count_raster(plan, tmp_path / "count.tif", grid_like(dem, plan.field))
    exact = plan.coverage
    assert raster.swept_m2 == pytest.approx(exact.swept_m2 - exact.spill_m2, rel=3e-3)
    assert sum(raster.times_m2.values()) == pytest.approx(exact.area_m2, rel=3e-3)


@given(data=st.data())
@settings(deadline=None, max_examples=25)
def test_counts_are_those_of_an_independent_rasterizer(data: st.DataObject) -> None:
    # rasterio's rasterizer takes a cell when its middle lies within; grounds are added up one by one.
    place = Placing(frame=FRAME, crs=pyproj.CRS(UTM), transform=(3.0, 0, 499900.0, 0, -3.0, 4649876.0))
    low = data.draw(st.lists(st.tuples(*[st.floats(-80, 20)] * 2, *[st.floats(7, 60)] * 3), min_size=1, max_size=6))
    grounds = [shapely.affinity.rotate(shapely.box(x, y, x + wide, y + high), turn) for x, y, wide, high, turn in low]
    counted = counts_on(sides_of(np.array(grounds, dtype=object), place), 70, 70)
    rows_columns = [
        shapely.transform(each, lambda xy: np.column_stack(place.cells(xy[:, 0], xy[:, 1])[::-1])) for each in grounds
    ]
    expected = sum(rasterize([each], out_shape=(70, 70), transform=Affine.identity()) for each in rows_columns)
    assert (counted != expected).sum() <= 2 * len(grounds)  # middles that lie on an edge, to float noise
    shares = shares_on(sides_of(np.array(grounds, dtype=object), place), 70, 70)
    assert np.abs(shares - counted).max() <= len(grounds)
    assert shares.sum() == pytest.approx(sum(each.area for each in rows_columns), abs=1e-6 * 70 * 70)


def test_stripes_give_the_same_as_one_piece(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    plan = fieldgeo.lay(square(400.0), TOOL, direction_deg=33.0, headland=1)
    whole, _, _ = written(plan, tmp_path / "whole.tif")
    monkeypatch.setattr(count_raster, "_STRIPE_CELLS", 1)  # 256 rows at a time
    striped, _, _ = written(plan, tmp_path / "striped.tif")
    assert (whole.filled() == striped.filled()).all()
    assert (whole.mask == striped.mask).all()


def test_a_large_field_gets_larger_cells(monkeypatch: pytest.MonkeyPatch) -> None:
    field = square(400.0)
    assert own_grid(field).cell_m[0] == pytest.approx(0.5 / 0.9996, rel=1e-6)
    monkeypatch.setattr(count_raster, "MOST_CELLS", 200_000)
    assert own_grid(field).cell_m[0] == pytest.approx(1.0 / 0.9996, rel=1e-6)
    monkeypatch.setattr(count_raster, "MOST_CELLS", 100)
    with pytest.raises(InputError, match="at most 100 are written"):
        own_grid(field)


@pytest.mark.parametrize(("lon", "lat", "code"), [(-93.0, 42.0, 32615), (179.999, -40.0, 32760), (-180.0, 10.0, 32601)])
def test_zone_of_the_field_derived(lon: float, lat: float, code: int) -> None:
    # Zones are 6 degrees wide and counted eastward from 180 W; 326xx is north of the equator, 327xx south.
    field = square(100.0, Frame(lon_deg=lon, lat_deg=lat))
    assert own_grid(field).placing.crs.to_epsg() == code


def test_beyond_the_zones() -> None:
    with pytest.raises(InputError, match="beyond the UTM zones"):
        own_grid(square(100.0, Frame(lon_deg=0.0, lat_deg=84.5)))


def test_a_field_without_a_place_is_refused(tmp_path: Path) -> None:
    field = field_from_shape(shapely.box(0, 0, 200, 200), name="Nowhere", frame=FRAME)
    field = replace(field, evidence=Evidence(kind="deed", is_placed=False))
    plan = fieldgeo.lay(field, TOOL, direction_deg=0.0)
    with pytest.raises(InputError, match="place of 'Nowhere' on Earth is not known"):
        write_count_raster(plan, tmp_path / "count.tif", own_grid(field))


def test_what_is_refused(tmp_path: Path) -> None:
    plan = fieldgeo.lay(square(200.0), TOOL, direction_deg=0.0)
    grid = own_grid(plan.field)
    with pytest.raises(InputError, match=r"ends in \.tif"):
        write_count_raster(plan, tmp_path / "count.png", grid)
    with pytest.raises(InputError, match="one of middle, mean"):
        write_count_raster(plan, tmp_path / "count.tif", grid, count_as="all")  # type: ignore[arg-type]
    write_count_raster(plan, tmp_path / "count.tif", grid)
    with pytest.raises(FileError, match="exists"):
        write_count_raster(plan, tmp_path / "count.tif", grid)
    far = raster_of(tmp_path / "far.tif", plane(0.05, 0.0), frame=Frame(lon_deg=-92.9, lat_deg=42.0))
    with pytest.raises(InputError, match="misses field 'Square'"):
        grid_like(far, plan.field)


def test_the_verb_writes_it_and_says_what_it_holds(tmp_path: Path) -> None:
    target = tmp_path / "count.tif"
    figures = answer("lay", WATERWAY, "--width", "40ft", "--direction", "0", "--count-raster", str(target))
    count = figures["count_raster"]
    assert count["overlap_m2"] == pytest.approx(count["exact_overlap_m2"], rel=0.05)
    assert count["exact_overlap_m2"] == figures["overlap_m2"]
    with rasterio.open(target) as file:
        assert (file.height, file.width) == (count["rows"], count["columns"])
    said = run("lay", WATERWAY, "--width", "40ft", "--direction", "0", "--count-raster", str(target))
    assert "exists" in message(said, 1)


@pytest.mark.parametrize(
    ("more", "says"),
    [
        (["--count-as", "mean"], "--count-as goes with --count-raster"),
        (["--count-raster", "count.png"], "must end in .tif, .tiff"),
        (["--dem-crs", "EPSG:26915"], "--dem-crs needs --dem"),
    ],
)
def test_wrong_usage(more: list[str], says: str) -> None:
    assert says in message(run("lay", WATERWAY, "--width", "40ft", *more), 2)
