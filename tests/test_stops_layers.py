"""Stops and stands as layers: written beside the plan, every pass in one piece, read back by another library."""

import json
from pathlib import Path

import pytest
import shapely

from fieldgeo.analysis.asked_loads import asked_load, load_on
from fieldgeo.analysis.lay import lay
from fieldgeo.analysis.loaded import LoadedPlan, load_plan
from fieldgeo.export.stops import STOP_LAYERS, stop_layers
from fieldgeo.export.write import write_plan
from fieldgeo.machinery.tool import Tool
from fieldgeo.outline.read import read_outline

SAMPLE = Path(__file__).parent.parent / "sample_fields" / "half_mile.geojson"


def loaded(**options: object) -> LoadedPlan:
    field = read_outline(SAMPLE)
    plan = lay(field, Tool(name="t", width_m=9.144), direction_deg=0.0)
    asked = asked_load(options)
    assert asked is not None
    return load_plan(plan, load_on(field, asked))


def test_attributes_are_those_of_the_layer() -> None:
    layers = stop_layers(loaded(tank="300bu", **{"yield": "180bu/ac"}, unload_at=("best2",)))
    assert tuple(layers) == tuple(STOP_LAYERS)
    for name, rows in layers.items():
        assert rows
        for shape, row in rows:
            assert isinstance(shape, shapely.Point)
            assert tuple(row) == tuple(STOP_LAYERS[name].columns)
    assert any(row["on_pass"] for _, row in layers["stops"])
    assert {row["stand"] for _, row in layers["stands"]} == {1, 2}


def test_stops_are_written_beside_the_plan(tmp_path: Path) -> None:
    result = loaded(tank="6bu", rate="0.43bu/ac")
    path = tmp_path / "plan.geojson"
    write_plan(result, path)
    features = json.loads(path.read_text(encoding="utf-8"))["features"]
    stops = [each for each in features if each["properties"]["layer"] == "stops"]
    assert len(stops) == len(result.stops.stops)
    lon, lat = stops[0]["geometry"]["coordinates"]
    assert (lon, lat) == pytest.approx(
        tuple(float(value) for value in result.plan.field.frame.to_lonlat(*result.stops.stops[0].xy)), abs=1e-8
    )
    passes = [each for each in features if each["properties"]["layer"] == "passes"]
    assert len(passes) == len(result.plan.layout.passes)


def test_passes_with_stops_on_them_stay_in_one_piece_in_a_geopackage(tmp_path: Path) -> None:
    import geopandas

    result = loaded(tank="180bu", **{"yield": "180bu/ac"})
    assert any(stop.along_m is not None for stop in result.stops.stops)
    path = tmp_path / "plan.gpkg"
    write_plan(result, path)
    assert len(geopandas.read_file(path, layer="headland_rounds")) == len(result.plan.layout.headland.runs)
    stops = geopandas.read_file(path, layer="stops")
    assert len(stops) == len(result.stops.stops)
    assert stops["amount"].sum() == pytest.approx(result.stops.total)
    assert (stops["unit"] == "bu").all()
