"""Plans in open formats: what is in each layer, and that files come whole or not at all."""

import json
from pathlib import Path

import numpy as np
import pyogrio
import pytest
import shapely

from fieldgeo.analysis.lay import lay
from fieldgeo.errors import FileError, InputError
from fieldgeo.export.layers import LAYERS, plan_layers
from fieldgeo.export.write import write_field, write_plan
from fieldgeo.frame import Frame, shape_to_lonlat
from fieldgeo.machinery.tool import Tool
from fieldgeo.outline import read_outline
from fieldgeo.outline.field import field_from_shape

SAMPLES = Path(__file__).parents[1] / "sample_fields"
TOOL = Tool(name="12 m tool", width_m=12.0)


@pytest.fixture(scope="module")
def plan():
    return lay(read_outline(SAMPLES / "waterway.geojson"), TOOL, direction_deg=30.0)


@pytest.fixture(scope="module")
def layers(plan):
    return plan_layers(plan)


def test_layers_have_the_columns_that_are_promised(layers):
    assert list(layers) == list(LAYERS)
    for name, members in layers.items():
        assert members
        for shape, properties in members:
            assert shape.geom_type == LAYERS[name].geometry
            assert list(properties) == list(LAYERS[name].columns)


def test_layers_add_up_to_the_figures_of_the_plan(plan, layers):
    def total(layer, column):
        return sum(properties[column] for _, properties in layers[layer])

    close = 1e-6 * plan.field.area_m2
    assert total("outline", "area_m2") == pytest.approx(plan.coverage.area_m2)
    assert total("skip", "area_m2") == pytest.approx(plan.coverage.skip_m2, abs=close)
    assert total("overlap", "overlap_m2") == pytest.approx(plan.coverage.overlap_m2, abs=close)
    assert len(layers["passes"]) == len(plan.layout.passes)
    assert total("passes", "length_m") == pytest.approx(plan.route.length_m("pass"))
    assert total("headland_rounds", "length_m") == pytest.approx(plan.route.length_m("headland"))
    assert total("turns", "length_m") == pytest.approx(plan.route.length_m("turn"))
    assert len(layers["turns"]) == len(plan.route.turns())


def test_passes_are_numbered_and_drawn_as_they_are_driven(plan, layers):
    assert [properties["number"] for _, properties in layers["passes"]] == list(range(1, len(plan.layout.passes) + 1))
    steps = [properties["step"] for name in ("headland_rounds", "passes", "turns") for _, properties in layers[name]]
    assert len(set(steps)) == len(steps)
    for line, properties in layers["passes"]:
        (x1, y1), (x2, y2) = line.coords
        assert np.degrees(np.arctan2(x2 - x1, y2 - y1)) % 360 == pytest.approx(properties["azimuth_deg"])
        assert properties["azimuth_deg"] % 180 == pytest.approx(30.0)
        assert line.length == pytest.approx(properties["length_m"])


def test_geojson_holds_every_layer_in_one_collection(plan, layers, tmp_path):
    path = tmp_path / "plan.geojson"
    write_plan(plan, path)
    features = json.loads(path.read_text())["features"]
    for name, members in layers.items():
        assert sum(feature["properties"]["layer"] == name for feature in features) == len(members)


def test_geopackage_holds_the_same_layers(plan, layers, tmp_path):
    path = tmp_path / "plan.gpkg"
    write_plan(plan, path)
    listed = [tuple(row) for row in pyogrio.list_layers(path)]
    assert listed == [*((name, kind.geometry) for name, kind in LAYERS.items()), ("layer_styles", None)]
    for name, members in layers.items():
        table = pyogrio.read_dataframe(path, layer=name)
        assert table.crs == "EPSG:4326"
        assert list(table.columns) == [*LAYERS[name].columns, "geometry"]
        expected = [shape_to_lonlat(shape, plan.field.frame) for shape, _ in members]
        assert shapely.equals_exact(table.geometry.to_numpy(), expected, tolerance=1e-12).all()
        for column in LAYERS[name].columns:
            assert table[column].tolist() == [properties[column] for _, properties in members]
    assert [file.name for file in tmp_path.iterdir()] == ["plan.gpkg"]  # nothing is left beside it


def test_empty_layers_keep_their_columns(tmp_path):
    # 120 m take ten passes of 12 m: nothing is worked twice or missed, and there is no headland.
    plan = lay(field_from_shape(shapely.box(0, 0, 120, 300)), TOOL, direction_deg=0.0, headland=0)
    path = tmp_path / "plan.gpkg"
    write_plan(plan, path)
    for name in ("headland_rounds", "overlap", "skip"):
        table = pyogrio.read_dataframe(path, layer=name)
        assert len(table) == 0
        assert list(table.columns) == [*LAYERS[name].columns, "geometry"]
        types = pyogrio.read_info(path, layer=name)["dtypes"].tolist()
        assert types == ["object" if kind == "str" else kind for kind in LAYERS[name].columns.values()]


@pytest.mark.parametrize("name", ["field.geojson", "field.json", "field.GPKG"])
def test_a_bare_outline_is_written_and_read_back(name, tmp_path):
    field = read_outline(SAMPLES / "across_the_road.geojson")
    path = tmp_path / name
    write_field(field, path)
    if path.suffix == ".GPKG":
        table = pyogrio.read_dataframe(path, layer="outline")
        assert table["name"].tolist() == [field.name]
        assert table["area_m2"].tolist() == [field.area_m2]
    else:
        again = read_outline(path)
        assert again.name == field.name
        assert again.area_m2 == pytest.approx(field.area_m2, rel=1e-8)
        assert not again.changes


@pytest.mark.parametrize("suffix", ["geojson", "gpkg"])
def test_an_existing_file_is_left_alone_unless_forced(plan, suffix, tmp_path):
    path = tmp_path / f"plan.{suffix}"
    path.write_text("mine")
    with pytest.raises(FileError, match="exists and is left alone"):
        write_plan(plan, path)
    assert path.read_text() == "mine"
    write_plan(plan, path, force=True)
    assert path.stat().st_size > 1000
    assert len(list(tmp_path.iterdir())) == 1


@pytest.mark.parametrize("name", ["plan.shp", "plan", "plan.geojson.gz"])
def test_an_unknown_suffix_is_refused_with_those_there_are(plan, name, tmp_path):
    with pytest.raises(InputError, match=r"\.geojson, \.json, \.gpkg"):
        write_plan(plan, tmp_path / name)
    with pytest.raises(InputError, match=r"\.geojson, \.json, \.gpkg"):
        write_field(plan.field, tmp_path / name)
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("suffix", ["geojson", "gpkg"])
def test_odd_names_do_no_harm(suffix, tmp_path):
    name = "<b>\u2028'; DROP TABLE outline;-- \U0001f33d \ud800"
    path = tmp_path / f"field.{suffix}"
    write_field(field_from_shape(shapely.box(0, 0, 100, 100), name=name), path)
    layer = "outline" if suffix == "gpkg" else None
    assert pyogrio.read_dataframe(path, layer=layer)["name"].tolist() == [name.replace("\ud800", "?")]


def test_a_field_across_180_degrees_is_whole_in_a_geopackage(tmp_path):
    field = field_from_shape(shapely.box(-200, 0, 200, 300), frame=Frame(lon_deg=180.0, lat_deg=-17.0))
    path = tmp_path / "field.gpkg"
    write_field(field, path)
    west, _, east, _ = pyogrio.read_dataframe(path, layer="outline").total_bounds
    assert east - west < 0.01
