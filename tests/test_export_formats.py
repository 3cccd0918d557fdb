"""Plans in the formats that other programs take, each read back by a reader that is not ours."""

import csv
import sqlite3
import zipfile
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pyogrio
import pyproj
import pytest
import shapely
from pyproj import Geod

from fieldgeo.analysis.lay import lay
from fieldgeo.export.formats import SUFFIXES
from fieldgeo.export.layers import LAYERS, plan_layers
from fieldgeo.export.shapefile import MOST_TEXT_BYTES, short_names
from fieldgeo.export.styles import STYLES, qgis_style, sld_style
from fieldgeo.export.write import write_field, write_plan
from fieldgeo.frame import Frame, shape_to_lonlat
from fieldgeo.machinery.tool import Tool
from fieldgeo.outline import read_outline
from fieldgeo.outline.field import Field, field_from_shape
from fieldgeo.outline.read import read_outlines

SAMPLES = Path(__file__).parents[1] / "sample_fields"
TOOL = Tool(name="12 m tool", width_m=12.0, lap_m=0.15)
# Nine decimals of a degree of latitude are 0.11 mm (derived: 1e-9 x 111 km); half of it each way, and a bit.
CLOSE_M = 0.001
GPX = "{http://www.topografix.com/GPX/1/1}"
KML = "{http://www.opengis.net/kml/2.2}"


@pytest.fixture(scope="module")
def plan():
    return lay(read_outline(SAMPLES / "waterway.geojson"), TOOL, direction_deg=30.0)


@pytest.fixture(scope="module")
def layers(plan):
    return plan_layers(plan)


def in_frame(shape, frame):
    return shapely.transform(shape, lambda lonlat: np.column_stack(frame.to_frame(*lonlat.T)))


def check_same(places, shapes, frame):
    """Every shape is read where it was; only a sliver may have no place, one thinner than the decimals written."""
    for place, shape in zip(places, shapes, strict=True):
        if place is None:
            assert shapely.area(shape) < CLOSE_M * shapely.length(shape)
        else:
            assert shapely.hausdorff_distance(in_frame(shapely.force_2d(place), frame), shape) < CLOSE_M


def test_every_line_of_guidance_is_a_pass_with_its_ends_in_degrees(plan, layers):
    passes = [shape for shape, _ in layers["passes"]]
    pieces = {properties["piece"] for _, properties in layers["passes"]}
    assert [properties["number"] for _, properties in layers["guidance"]] == list(range(1, len(pieces) + 1))
    assert sum(properties["passes"] for _, properties in layers["guidance"]) == len(passes)
    for line, properties in layers["guidance"]:
        assert any(shapely.equals_exact(line, each, 0) for each in passes)
        assert properties["spacing_m"] == pytest.approx(11.85)  # derived: 12 m less a lap of 0.15 m
        ends = [[properties[f"{end}_{axis}_deg"] for axis in ("lon", "lat")] for end in ("start", "end")]
        assert in_frame(shapely.LineString(ends), plan.field.frame).hausdorff_distance(line) < CLOSE_M
        # The geodesic from end to end is as long as the pass, and sets off in its direction (pyproj's own geodesic; the
        # frame is true to a millionth, and meridians lean by up to 0.01 degrees over a field).
        azimuth, _, length = Geod(ellps="WGS84").inv(*ends[0], *ends[1])
        assert length == pytest.approx(line.length, rel=1e-5)
        assert azimuth % 360 == pytest.approx(properties["azimuth_deg"], abs=0.01)


def test_passes_beside_a_line_of_guidance_lie_at_whole_multiples_of_its_spacing(layers):
    line, about = layers["guidance"][0]
    for shape, properties in layers["passes"]:
        if properties["piece"] == about["piece"] and not properties["is_pulled"]:
            (x1, y1), (x2, y2) = line.coords
            x, y = shape.coords[0]
            across_m = ((x2 - x1) * (y - y1) - (y2 - y1) * (x - x1)) / line.length
            assert across_m / about["spacing_m"] == pytest.approx(round(across_m / about["spacing_m"]), abs=1e-6)


def test_kml_read_by_gdal_holds_every_layer(plan, layers, tmp_path):
    path = tmp_path / "plan.kml"
    assert write_plan(plan, path) == ()
    assert [name for name, _ in pyogrio.list_layers(path)] == list(layers)
    for name, members in layers.items():
        table = pyogrio.read_dataframe(path, layer=name)
        assert len(table) == len(members)
        check_same(table.geometry, [shape for shape, _ in members], plan.field.frame)
        for column, kind in LAYERS[name].columns.items():
            if kind == "float64":
                read = [float(value) for value in table[column]]
                assert read == pytest.approx([properties[column] for _, properties in members])
    styles = {f"#{style.get('id')}" for style in ElementTree.parse(path).getroot().iter(f"{KML}Style")}
    assert {url.text for url in ElementTree.parse(path).getroot().iter(f"{KML}styleUrl")} <= styles


def test_gpx_read_by_gdal_holds_what_is_driven_and_says_what_is_not_held(plan, layers, tmp_path):
    path = tmp_path / "plan.gpx"
    notes = write_plan(plan, path)
    assert any(f"overlap ({len(layers['overlap'])})" in note for note in notes)
    assert any(f"skip ({len(layers['skip'])})" in note for note in notes)
    routes = pyogrio.read_dataframe(path, layer="routes")
    followed = [shape for name in ("guidance", "headland_rounds", "passes") for shape, _ in layers[name]]
    assert len(routes) == len(followed)
    for route, shape in zip(routes.geometry, followed, strict=True):
        assert shapely.hausdorff_distance(in_frame(route, plan.field.frame), shape) < CLOSE_M
    tracks = pyogrio.read_dataframe(path, layer="tracks")
    assert len(tracks) == len(layers["turns"]) + 1
    edge = in_frame(tracks.geometry[0], plan.field.frame)
    assert shapely.hausdorff_distance(edge, shapely.boundary(plan.field.shape)) < CLOSE_M


def test_gpx_keeps_the_order_of_its_schema(plan, tmp_path):
    path = tmp_path / "plan.gpx"
    write_plan(plan, path)
    tags = [child.tag.removeprefix(GPX) for child in ElementTree.parse(path).getroot()]
    assert tags == sorted(tags, key=["wpt", "rte", "trk"].index)


def test_shapefiles_read_by_gdal_hold_every_layer(plan, layers, tmp_path):
    path = tmp_path / "plan.zip"
    notes = write_plan(plan, path)
    assert "perimeter_m is perimeter" in notes[0]
    for name, members in layers.items():
        table = pyogrio.read_dataframe(f"/vsizip/{path}/{name}.shp")
        assert table.crs == "EPSG:4326"
        expected = [shape_to_lonlat(shape, plan.field.frame) for shape, _ in members]
        for read, shape in zip(table.geometry, expected, strict=True):
            assert shapely.equals_exact(shapely.normalize(read), shapely.normalize(_as(read, shape)), tolerance=1e-12)
        brief = short_names(LAYERS[name].columns)
        for column, kind in LAYERS[name].columns.items():
            values = [properties[column] for _, properties in members]
            read = table[brief[column]].tolist()
            assert read == (pytest.approx(values, rel=1e-9) if kind == "float64" else values)


def _as(read, shape):
    """A shapefile knows no difference between one polygon and several."""
    return shape.geoms[0] if read.geom_type == "Polygon" and shape.geom_type == "MultiPolygon" else shape


def test_the_projection_beside_a_shapefile_is_wgs_84(plan, tmp_path):
    path = tmp_path / "plan.zip"
    write_plan(plan, path)
    with zipfile.ZipFile(path) as archive:
        system = pyproj.CRS.from_wkt(archive.read("passes.prj").decode())
        assert archive.read("passes.cpg").decode().strip().upper().replace("-", "") == "UTF8"
    assert system.equals(pyproj.CRS("EPSG:4326"), ignore_axis_order=True)


def test_text_too_long_for_a_shapefile_is_cut_and_said(tmp_path):
    field = Field(
        name="ä" * 200,
        shape=shapely.MultiPolygon([shapely.box(0, 0, 100, 100)]),
        frame=Frame(lon_deg=-93.0, lat_deg=42.0),
    )
    notes = write_field(field, tmp_path / "field.zip")
    assert any("1 longer ones are cut" in note for note in notes)
    table = pyogrio.read_dataframe(f"/vsizip/{tmp_path / 'field.zip'}/outline.shp")
    assert table["name"][0] == "ä" * (MOST_TEXT_BYTES // 2)


def test_a_table_with_well_known_text_read_by_gdal(plan, layers, tmp_path):
    path = tmp_path / "plan.csv"
    assert write_plan(plan, path) == ()
    with path.open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert [row["layer"] for row in rows] == [name for name, members in layers.items() for _ in members]
    table = pyogrio.read_dataframe(path, GEOM_POSSIBLE_NAMES="wkt")
    shapes = [shape for members in layers.values() for shape, _ in members]
    check_same(table.geometry, shapes, plan.field.frame)


def test_a_geopackage_has_a_style_for_each_layer(plan, layers, tmp_path):
    path = tmp_path / "plan.gpkg"
    assert write_plan(plan, path) == ()
    with sqlite3.connect(path) as database:
        rows = database.execute("SELECT f_table_name, styleQML, styleSLD, useAsDefault FROM layer_styles").fetchall()
        listed = {name for (name,) in database.execute("SELECT table_name FROM gpkg_contents")}
    assert [row[0] for row in rows] == list(layers)
    assert all(row[3] for row in rows)
    assert listed == {*layers, "layer_styles"}
    for name, qgis, sld, _ in rows:
        assert ElementTree.fromstring(qgis).find(".//symbol") is not None
        assert STYLES[name].colour in sld


@pytest.mark.parametrize("geometry", ["Point", "LineString", "Polygon", "MultiPolygon"])
@pytest.mark.parametrize("name", [*STYLES, "a layer of no style"])
def test_every_style_is_well_formed(name, geometry):
    for text in (qgis_style(name, geometry), sld_style(name, geometry)):
        ElementTree.fromstring(text)


@pytest.mark.parametrize("suffix", SUFFIXES)
def test_a_field_across_180_degrees_and_a_name_of_markup_do_no_harm(suffix, tmp_path):
    frame = Frame(lon_deg=179.9995, lat_deg=-16.5)
    name = '<b>Oak & "Elm"</b>\ud800\x00\x0b'
    field = Field(name=name, shape=shapely.MultiPolygon([shapely.box(-100, -50, 100, 50)]), frame=frame)
    path = tmp_path / f"field{suffix}"
    write_field(field, path)
    source = f"/vsizip/{path}/outline.shp" if suffix == ".zip" else path
    options = {"GEOM_POSSIBLE_NAMES": "wkt"} if suffix == ".csv" else {}
    layer = {".gpx": "tracks", ".gpkg": "outline"}.get(suffix)
    table = pyogrio.read_dataframe(source, layer=layer, **options)
    column = next(each for each in ("name", "Name") if each in table.columns)
    assert 'Oak & "Elm"' in table[column][0]
    bounds = table.total_bounds
    if suffix not in {".gpkg", ".zip"}:  # those keep shapes whole, beyond 180
        assert bounds[0] >= -180
        assert bounds[2] <= 180


@pytest.mark.parametrize("suffix", [suffix for suffix in SUFFIXES if suffix != ".gpkg"])  # it holds when it was made
def test_the_same_plan_gives_the_same_file(plan, suffix, tmp_path):
    first, second = tmp_path / f"first{suffix}", tmp_path / f"second{suffix}"
    write_plan(plan, first)
    write_plan(plan, second)
    assert first.read_bytes() == second.read_bytes()


@pytest.mark.parametrize("suffix", [".geojson", ".kml", ".gpkg", ".zip"])
def test_our_own_reader_takes_an_outline_that_was_written(suffix, tmp_path):
    field = read_outline(SAMPLES / "waterway.geojson")
    path = tmp_path / f"field{suffix}"
    write_field(field, path)
    again = read_outlines(path)[0]
    assert again.area_m2 == pytest.approx(field.area_m2, rel=1e-7)


def test_short_names_are_ten_letters_and_all_different():
    names = [name for kind in LAYERS.values() for name in kind.columns] + ["perimeter_ft", "perimetes_m", "perimeteq_m"]
    short = short_names(dict.fromkeys(names))
    assert len(set(short.values())) == len(set(names))
    assert max(map(len, short.values())) <= 10


def test_an_empty_layer_is_still_there(tmp_path):
    # 120 m take ten passes of 12 m, straight through: no headland (derived).
    plan = lay(field_from_shape(shapely.box(0, 0, 120, 300)), Tool(name="12 m", width_m=12.0), direction_deg=0.0,
               headland=0)  # fmt: skip
    path = tmp_path / "plan.zip"
    write_plan(plan, path)
    assert len(pyogrio.read_dataframe(f"/vsizip/{path}/headland_rounds.shp")) == 0
    assert len(pyogrio.read_dataframe(f"/vsizip/{path}/passes.shp")) == 10
