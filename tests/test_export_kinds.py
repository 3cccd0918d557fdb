"""Every kind of plan in every open format, read back by a library that is not ours; lines of guidance to drive by."""

from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import geopandas
import numpy as np
import pyogrio
import pytest
import shapely

from fieldgeo import (
    Tool,
    field_from_shape,
    follow_circle,
    follow_line,
    lay,
    lay_curved,
    lay_parts,
    lay_plow,
    read_back,
    read_log,
    read_outline,
    write_field,
    write_fields,
    write_log,
    write_plan,
)
from fieldgeo.analysis.asked_loads import asked_load, load_on
from fieldgeo.analysis.loaded import load_plan
from fieldgeo.errors import InputError, OutlineError
from fieldgeo.export.formats import SUFFIXES, write_layers
from fieldgeo.export.layers import LAYERS
from fieldgeo.export.log_layers import LOG_LAYERS, log_layers
from fieldgeo.export.season_table import OPERATIONS, SEASON_SUFFIXES, season_geodataframe, write_season
from fieldgeo.export.shapefile import short_names
from fieldgeo.export.stops import STOP_LAYERS
from fieldgeo.export.styles import STYLES, qgis_style
from fieldgeo.export.write import layers_of
from fieldgeo.frame import Frame
from fieldgeo.outline.evidence import Evidence
from fieldgeo.outline.field import Field
from fieldgeo.outline.read import read_outlines
from fieldgeo.outline.rules import FileRules
from fieldgeo.season.plan import plan_season
from fieldgeo.season.read import read_season
from fieldgeo.season.solve import Effort
from tests.test_season_plan import SEASON

SAMPLES = Path(__file__).parents[1] / "sample_fields"
TOOL = Tool(name="12 m tool", width_m=12.0, lap_m=0.15)
PLOW = Tool(name="plow", width_m=4.0, throws="right", hitch="pulled", turn_radius_m=6.0)
# Nine decimals of a degree of latitude are 0.11 mm (derived: 1e-9 x 111 km); half of it each way, and a bit.
CLOSE_M = 0.001
GPX_ROUTES = ("guidance", "headland_rounds", "passes")


def stops() -> Any:
    field = read_outline(SAMPLES / "half_mile.geojson")
    asked = asked_load({"tank": "300bu", "yield": "180bu/ac", "unload_at": ("best2",)})
    assert asked is not None
    return load_plan(lay(field, Tool(name="t", width_m=9.144), direction_deg=0.0), load_on(field, asked))


def bend() -> Any:
    field = field_from_shape(shapely.box(0, 0, 400, 300), name="bend")
    x = np.linspace(-20, 420, 40)
    line = np.column_stack([x, 150 + 30 * np.sin(x / 120)])
    return lay_curved(field, TOOL, follow_line(field, line))


def circle() -> Any:
    field = field_from_shape(shapely.Point(0, 0).buffer(150), name="circle")
    return lay_curved(field, TOOL, follow_circle(field))


PLANS: dict[str, Callable[[], Any]] = {
    "straight": lambda: lay(read_outline(SAMPLES / "waterway.geojson"), TOOL, direction_deg=30.0),
    "parts": lambda: lay_parts(read_outline(SAMPLES / "ell.geojson"), TOOL, parts=2).best,
    "bend": bend,
    "circle": circle,
    "lands": lambda: lay_plow(
        field_from_shape(shapely.box(0, 0, 120, 200), name="l"), PLOW, direction_deg=0.0, lands=2
    ),
    "stops": stops,
}


@cache
def plan_of(kind: str) -> Any:
    return PLANS[kind]()


@cache
def held(kind: str) -> Any:
    """Return the layers of a kind of plan, what they hold, their frame, and how they are written."""
    if kind == "log":
        work = day()
        layers, kinds, frame = log_layers(work), LOG_LAYERS, work.log.frame
    else:
        plan = plan_of(kind)
        field = plan.plan.field if kind in {"lands", "stops"} else plan.field
        (layers, kinds), frame = layers_of(plan), field.frame
    return layers, kinds, frame, lambda path: write_layers(layers, kinds, frame, path)


@cache
def day() -> Any:
    return read_back(read_log(SAMPLES / "planter_day.csv"))


@pytest.mark.parametrize("kind", [*PLANS, "log"])
def test_a_kind_is_written_with_all_its_layers(kind: str, tmp_path: Path) -> None:
    one, other = tmp_path / "one.geojson", tmp_path / "other.geojson"
    _, _, _, write = held(kind)
    write(one)
    if kind == "log":
        write_log(day(), other)
    else:
        write_plan(plan_of(kind), other)
    assert one.read_bytes() == other.read_bytes()


def in_frame(shape: shapely.Geometry, frame: Frame) -> shapely.Geometry:
    return shapely.transform(shapely.force_2d(shape), lambda lonlat: np.column_stack(frame.to_frame(*lonlat.T)))


def check_same(table: geopandas.GeoDataFrame, shapes: list[shapely.Geometry], frame: Frame) -> None:
    """Every shape is read where it was; only slivers thinner than what is written may be torn, or have no place."""
    for place, shape in zip(table.geometry, shapes, strict=True):
        if shapely.get_dimensions(shape) == 2 and shapely.area(shape) < CLOSE_M * shapely.length(shape):
            apart = 0.0 if place is None else abs(shapely.area(in_frame(place, frame)) - shapely.area(shape))
            assert apart < CLOSE_M * shapely.length(shape)
        else:
            read = in_frame(place, frame)
            if not shapely.equals_exact(shapely.normalize(read), shapely.normalize(shape), CLOSE_M / 2):
                assert shapely.hausdorff_distance(read, shape) < CLOSE_M


def check_values(table: geopandas.GeoDataFrame, names: dict[str, str], members: Any, kinds: Any) -> None:
    for column, name in names.items():
        values = [properties[column] for _, properties in members]
        if kinds.columns[column] == "float64":
            read = [float(value) if value not in {None, ""} else np.nan for value in table[name]]
            assert read == pytest.approx(values, rel=1e-9, nan_ok=True)
        elif kinds.columns[column] == "int64":
            assert [int(value) for value in table[name]] == values


def columns_of(kind: Any) -> dict[str, str]:
    return {name: name for name in kind.columns}


def by_layer(suffix: str, path: Path, layer: str) -> geopandas.GeoDataFrame:
    """Return one layer of a file as GDAL reads it."""
    if suffix == ".zip":
        return pyogrio.read_dataframe(f"/vsizip/{path}/{layer}.shp")
    if suffix in {".gpkg", ".kml"}:
        return pyogrio.read_dataframe(path, layer=layer)
    options = {"GEOM_POSSIBLE_NAMES": "wkt"} if suffix == ".csv" else {}
    table = pyogrio.read_dataframe(path, **options)
    return table[table["layer"] == layer]


@pytest.mark.parametrize("suffix", [suffix for suffix in SUFFIXES if suffix != ".gpx"])
@pytest.mark.parametrize("kind", [*PLANS, "log"])
def test_every_kind_is_read_back_from_every_format(kind: str, suffix: str, tmp_path: Path) -> None:
    layers, kinds, frame, write = held(kind)
    path = tmp_path / f"plan{suffix}"
    notes = write(path)
    assert isinstance(notes, tuple)
    for name, members in layers.items():
        if not members and suffix not in {".zip", ".gpkg", ".kml"}:
            continue  # a file without layers has no empty one
        table = by_layer(suffix, path, name)
        check_same(table, [shape for shape, _ in members], frame)
        names = short_names(kinds[name].columns) if suffix == ".zip" else columns_of(kinds[name])
        if members:
            check_values(table, names, members, kinds[name])
        for long, brief in names.items():
            assert long == brief or f"{long} is {brief}" in notes[0]


@pytest.mark.parametrize("kind", [*PLANS, "log"])
def test_every_kind_is_read_back_from_gpx_which_says_what_it_leaves_out(kind: str, tmp_path: Path) -> None:
    layers, kinds, frame, write = held(kind)
    path = tmp_path / "plan.gpx"
    notes = " ".join(write(path))
    lines = [name for name in layers if kinds[name].geometry == "LineString"]
    routes = [shape for name in GPX_ROUTES if name in layers for shape, _ in layers[name]]
    tracks = [shape for name in lines if name not in GPX_ROUTES for shape, _ in layers[name]]
    edges = [shapely.boundary(shape) for shape, _ in layers["outline"]]
    points = [shape for name in layers if kinds[name].geometry == "Point" for shape, _ in layers[name]]
    check_same(pyogrio.read_dataframe(path, layer="routes"), routes, frame)
    read = pyogrio.read_dataframe(path, layer="tracks")
    assert len(read) == len(tracks) + len(edges)
    for place, shape in zip(read.geometry, [*edges, *tracks], strict=True):
        assert shapely.hausdorff_distance(in_frame(place, frame), shape) < CLOSE_M
    check_same(pyogrio.read_dataframe(path, layer="waypoints"), points, frame)
    for name in layers:
        if name != "outline" and layers[name] and "Polygon" in kinds[name].geometry:
            assert f"{name} ({len(layers[name])}) is left out" in notes


@pytest.mark.parametrize("kind", [*PLANS, "log"])
def test_the_outline_lies_below_ground_below_lines_below_points(kind: str, tmp_path: Path) -> None:
    layers, _, _, write = held(kind)
    path = tmp_path / "plan.gpkg"
    write(path)
    found = [(name, shapes) for name, shapes in pyogrio.list_layers(path) if shapes is not None]
    assert found[0][0] == "outline"
    order = [["MultiPolygon", "Polygon", "LineString", "Point"].index(shapes) for _, shapes in found]
    assert order == sorted(order)
    assert {name for name, _ in found} == set(layers)


def across_m(points: np.ndarray[Any, Any], line: np.ndarray[Any, Any]) -> np.ndarray[Any, Any]:
    """Return how far points lie from a line, to its left above zero: the nearest of its sides tells. [m]"""
    whole = shapely.LineString(line)
    places = shapely.points(points)
    along = shapely.line_locate_point(whole, places)
    ends = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])
    side = np.clip(np.searchsorted(ends, along, side="right") - 1, 0, len(line) - 2)
    ahead, away = np.diff(line, axis=0)[side], points - line[side]
    return np.copysign(shapely.distance(places, whole), ahead[:, 0] * away[:, 1] - ahead[:, 1] * away[:, 0])


@pytest.mark.parametrize("kind", list(PLANS))
def test_all_passes_of_a_piece_are_found_again_from_its_line_of_guidance_alone(kind: str, tmp_path: Path) -> None:
    """What is in the file is enough to drive by: a line, a spacing, how many to the left and right, the pulled in."""
    _, _, frame, write = held(kind)
    path = tmp_path / "plan.gpkg"
    write(path)
    guidance = pyogrio.read_dataframe(path, layer="guidance")
    passes = pyogrio.read_dataframe(path, layer="passes")
    assert (guidance["form"] == {"bend": "curve", "circle": "circle"}.get(kind, "straight")).all()
    assert sorted(guidance["piece"]) == sorted(set(passes["piece"]))
    for _, guide in guidance.iterrows():
        line = shapely.get_coordinates(in_frame(guide.geometry, frame))
        if guide["form"] == "straight":  # the two ends are all that there is
            line = np.column_stack(
                frame.to_frame(
                    guide[["start_lon_deg", "end_lon_deg"]].tolist(), guide[["start_lat_deg", "end_lat_deg"]].tolist()
                )
            )
        wanted = [step * guide["spacing_m"] for step in range(-guide["right"], guide["left"] + 1)]
        wanted += [guide["pulled_left_m"]] * bool(guide["pulled_left_m"])
        wanted += [-guide["pulled_right_m"]] * bool(guide["pulled_right_m"])
        its = passes[passes["piece"] == guide["piece"]]
        assert len(its) == guide["passes"]
        used = set()
        for shape in its.geometry:
            points = shapely.get_coordinates(in_frame(shape, frame))
            if guide["form"] == "straight":
                ahead = (line[1] - line[0]) / np.hypot(*(line[1] - line[0]))
                apart = ahead[0] * (points - line[0])[:, 1] - ahead[1] * (points - line[0])[:, 0]
            elif guide["form"] == "circle":
                centre = np.array(frame.to_frame(guide["centre_lon_deg"], guide["centre_lat_deg"]))
                apart = guide["radius_m"] - np.hypot(*(points - centre).T)
            else:
                apart = across_m(points, line)
            nearest = int(np.argmin(np.abs(np.array(wanted) - np.median(apart))))
            # Chords about a circle reach 1e-5 of its radius beyond it (derived: 1 / cos 0.25 deg - 1); a curve is
            # written as a chain of chords true to a few millimetres.
            assert np.abs(apart - wanted[nearest]).max() < (0.001 if guide["form"] == "straight" else 0.02)
            used.add(nearest)
        assert used == set(range(len(wanted)))


def test_each_part_has_a_line_of_guidance_of_its_own() -> None:
    layers, _, _, _ = held("parts")
    parts = {properties["body_part"]: properties for _, properties in layers["parts"]}
    guides = [properties for _, properties in layers["guidance"]]
    assert {each["body_part"] for each in guides} == set(parts)
    assert len(parts) > 1
    for guide in guides:
        turned = abs(guide["azimuth_deg"] - parts[guide["body_part"]]["direction_deg"]) % 180
        assert min(turned, 180 - turned) < 1e-6


NAMES = {
    "markup": '<b>Oak & "Elm"</b> <script>alert(1)</script>',
    "emoji": "Feld 🚜 \u202eklE\u202c",
    "right to left": "حقل القمح",
    "half a letter": "half \ud800 letter",
    "long": "x" * 10_000,
    "two lines": "one\ntwo\r\nthree\x00\x0b",
    "none": "",
}


@pytest.mark.parametrize("suffix", SUFFIXES)
@pytest.mark.parametrize("name", list(NAMES))
def test_odd_names_do_no_harm(name: str, suffix: str, tmp_path: Path) -> None:
    shape = shapely.MultiPolygon([shapely.box(0, 0, 100, 100)])
    field = Field(name=NAMES[name], shape=shape, frame=Frame(lon_deg=-93.0, lat_deg=42.0))
    path = tmp_path / f"field{suffix}"
    notes = write_field(field, path)
    layer = {".gpx": "tracks"}.get(suffix, "outline")
    table = pyogrio.read_dataframe(path, layer=layer) if suffix == ".gpx" else by_layer(suffix, path, layer)
    assert len(table) == 1
    told = str(table["name" if suffix != ".kml" else "Name"].iloc[0])
    plain = NAMES[name].replace("\ud800", "?").replace("\x00", "").replace("\x0b", "")
    if suffix == ".zip" and name == "long":
        assert "1 longer ones are cut" in notes[-1]
        assert told == "x" * 254
    elif name not in {"none", "two lines"}:
        assert told == plain
    elif name == "two lines":
        assert told.split() == plain.split()


@pytest.mark.parametrize("suffix", SUFFIXES)
def test_a_field_without_a_place_is_refused_in_one_message(suffix: str, tmp_path: Path) -> None:
    # A deed without a corner that is known has a shape and no place.
    deed = Evidence(kind="deed", uncertainty_from="the calls", is_placed=False)
    field = replace(field_from_shape(shapely.box(0, 0, 100, 100), name="deed"), evidence=deed)
    plan = lay(field, TOOL, direction_deg=0.0, sides="all")
    for write in (lambda path: write_field(field, path), lambda path: write_plan(plan, path)):
        with pytest.raises(InputError, match=r"place of .* on Earth is not known"):
            write(tmp_path / f"deed{suffix}")
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("suffix", [suffix for suffix in SUFFIXES if suffix != ".gpx"])
@pytest.mark.parametrize("kind", ["straight", "parts", "bend", "circle"])
def test_our_own_reader_takes_the_outline_out_of_a_plan_and_says_so(kind: str, suffix: str, tmp_path: Path) -> None:
    plan = plan_of(kind)
    path = tmp_path / f"plan{suffix}"
    write_plan(plan, path)
    for again in (read_outline(path), *read_outlines(path)):
        assert again.name == plan.field.name
        # Every corner is off by less than 0.1 mm each way, and the area by that along its edge (derived).
        assert again.area_m2 == pytest.approx(plan.field.area_m2, abs=1e-4 * plan.field.perimeter_m)
        assert any(text.startswith("layer 'outline' was read") for text in again.problems)


@pytest.mark.parametrize("suffix", SUFFIXES)
def test_several_fields_in_one_file(suffix: str, tmp_path: Path) -> None:
    fields = [read_outline(SAMPLES / f"{name}.geojson") for name in ("ell", "square_forty", "half_mile")]
    path = tmp_path / f"farm{suffix}"
    write_fields(fields, path)
    layer = {".gpx": "tracks"}.get(suffix, "outline")
    table = pyogrio.read_dataframe(path, layer=layer) if suffix == ".gpx" else by_layer(suffix, path, layer)
    for place, field in zip(table.geometry, fields, strict=True):
        shape = field.shape if suffix != ".gpx" else shapely.boundary(field.shape)
        assert shapely.hausdorff_distance(in_frame(place, field.frame), shape) < CLOSE_M
    if suffix != ".gpx":
        assert [field.name for field in read_outlines(path)] == [field.name for field in fields]


def test_no_field_is_no_file(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="there is no field to write"):
        write_fields([], tmp_path / "none.kml")


@pytest.mark.parametrize("suffix", SUFFIXES)
def test_a_plan_across_180_degrees(suffix: str, tmp_path: Path) -> None:
    frame = Frame(lon_deg=180.0, lat_deg=-16.5)
    shape = shapely.MultiPolygon([shapely.box(-150, -100, 150, 100)])
    plan = lay(Field(name="seam", shape=shape, frame=frame), TOOL, direction_deg=90.0)
    path = tmp_path / f"plan{suffix}"
    write_plan(plan, path)
    if suffix == ".gpx":
        table = pyogrio.read_dataframe(path, layer="routes")
        total = sum(in_frame_either(line, frame).length for line in table.geometry)
        rows = layers_of(plan)[0]
        wanted = sum(shapely.length(line) for name in GPX_ROUTES for line, _ in rows[name])
    else:
        table = by_layer(suffix, path, "passes")
        total = sum(in_frame_either(line, frame).length for line in table.geometry)
        wanted = plan.route.length_m("pass")
    assert total == pytest.approx(wanted, rel=1e-5)


def in_frame_either(shape: shapely.Geometry, frame: Frame) -> Any:
    """Return a shape in the frame that may be cut at 180 degrees: the halves lie beside each other there."""
    return shapely.MultiLineString([in_frame(part, frame) for part in shapely.get_parts(shape)])


def test_a_number_that_is_none_is_empty_everywhere(tmp_path: Path) -> None:
    kinds = {"passes": LOG_LAYERS["passes"]}
    about: dict[str, Any] = dict.fromkeys(kinds["passes"].columns, 1) | {"role": "pass", "speed_m_s": float("nan")}
    layers: Any = {"passes": [(shapely.LineString([(0, 0), (9, 9)]), about)]}
    for suffix in SUFFIXES:
        path = tmp_path / f"log{suffix}"
        write_layers(layers, kinds, Frame(lon_deg=-93.0, lat_deg=42.0), path)
        if suffix not in {".gpkg", ".zip"}:
            assert "nan" not in path.read_text(encoding="utf-8").lower()
        if suffix != ".gpx":
            value = by_layer(suffix, path, "passes")["speed_m_s"].iloc[0]
            assert value in {None, ""} or np.isnan(value)


@pytest.mark.parametrize("suffix", SEASON_SUFFIXES)
def test_a_season_is_read_back_with_the_outlines_of_its_fields(suffix: str, season: Any, tmp_path: Path) -> None:
    path = tmp_path / f"season{suffix}"
    notes = write_season(season, path)
    if suffix == ".csv":
        assert "no outlines" in notes[0]
        table = pyogrio.read_dataframe(path)
    else:
        table = by_layer(suffix, path, "operations")
    expected = season_geodataframe(season)
    assert len(table) == len(expected) > 0
    for column in ("operation", "field", "status", "begins_on"):
        # A date is read as a date from GeoJSON: the day is what was written.
        assert [str(value or "")[:10] for value in table[column]] == [value[:10] for value in expected[column]]
    assert [float(value) for value in table["field_h"]] == pytest.approx(expected["field_h"].tolist(), nan_ok=True)
    if suffix != ".csv":
        frame = season.season.fields[0].field.frame
        for read, shape in zip(table.geometry, expected.geometry, strict=True):
            assert shapely.hausdorff_distance(in_frame(read, frame), in_frame(shape, frame)) < CLOSE_M


@pytest.mark.parametrize("name", ["season.gpx", "season.shp", "season"])
def test_a_season_in_another_format_is_refused(name: str, season: Any, tmp_path: Path) -> None:
    with pytest.raises(InputError, match="tells no format that a season can be written in"):
        write_season(season, tmp_path / name)


@pytest.fixture(scope="module")
def season(tmp_path_factory: pytest.TempPathFactory) -> Any:
    path = tmp_path_factory.mktemp("season") / "season.toml"
    path.write_text(SEASON, encoding="utf-8")
    return plan_season(read_season(path), effort=Effort(work=0.05))


def test_another_layer_of_a_table_or_an_archive_is_read_when_it_is_asked_for(tmp_path: Path) -> None:
    for suffix in (".csv", ".zip", ".geojson"):
        path = tmp_path / f"plan{suffix}"
        write_plan(plan_of("parts"), path)
        parts = layers_of(plan_of("parts"))[0]["parts"]
        found = read_outline(path, rules=FileRules(layer="parts"))
        total = sum(shapely.area(shape) for shape, _ in parts)
        assert found.area_m2 == pytest.approx(total, rel=1e-6)
        with pytest.raises(OutlineError, match=r"roads|several"):
            read_outline(path, rules=FileRules(layer="roads"))


@pytest.mark.parametrize("name", [name for name, style in STYLES.items() if style.label])
def test_labels_are_attributes_that_the_layer_has(name: str) -> None:
    kinds = {**LAYERS, **STOP_LAYERS, **LOG_LAYERS, "operations": OPERATIONS}
    assert STYLES[name].label in kinds[name].columns
    geometry = kinds[name].geometry
    root = ElementTree.fromstring(qgis_style(name, geometry))
    assert root.get("labelsEnabled") == "1"
    style = root.find("labeling/settings/text-style")
    assert style is not None
    assert style.get("fieldName") == STYLES[name].label
