"""GeoJSON out: what RFC 7946 asks for, round trips, and files written whole or not at all."""

import json
import os
from pathlib import Path

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldgeo.errors import FileError, InputError
from fieldgeo.export.files import whole_file, write_whole
from fieldgeo.export.geojson import DECIMALS, feature_collection, write_geojson
from fieldgeo.frame import Frame
from fieldgeo.outline import read_outline, read_outlines
from fieldgeo.outline.field import field_from_shape

DATA = Path(__file__).parent / "data"
FRAME = Frame(lon_deg=-93.0, lat_deg=42.0)
FIELD = shapely.Polygon(
    [(-400, -300), (400, -310), (420, 300), (-390, 280)], [[(-50, -50), (-50, 60), (70, 60), (70, -50)]]
)


def geometry_of(shape, frame=FRAME):
    (feature,) = feature_collection([(shape, {})], frame=frame)["features"]
    return feature["geometry"]


def read_back(tmp_path, shape, frame=FRAME, name="field"):
    path = tmp_path / "out.geojson"
    write_geojson(path, [(shape, {"name": name})], frame=frame, force=True)
    return read_outline(path)


def test_collection_is_as_rfc_7946_asks(tmp_path):
    path = tmp_path / "out.geojson"
    clockwise = shapely.orient_polygons(FIELD, exterior_cw=True)
    write_geojson(path, [(clockwise, {"name": "Home"})], frame=FRAME)
    document = json.loads(path.read_text())
    assert document.keys() == {"type", "features"}  # no crs member (section 4)
    (feature,) = document["features"]
    assert feature.keys() == {"type", "properties", "geometry"}
    assert (feature["type"], feature["properties"]) == ("Feature", {"name": "Home"})
    rings = feature["geometry"]["coordinates"]
    assert all(ring[0] == ring[-1] and len(ring) >= 4 for ring in rings)
    assert [shapely.is_ccw(shapely.LinearRing(ring)) for ring in rings] == [True, False]  # section 3.1.6
    lon, lat = np.array(rings[0]).T
    assert np.abs(lon + 93).max() < 0.01  # longitude first
    assert np.abs(lat - 42).max() < 0.01


def test_positions_have_nine_decimals_at_most(tmp_path):
    path = tmp_path / "out.geojson"
    write_geojson(path, [(FIELD, {})], frame=FRAME)
    numbers = [
        word for word in path.read_text().replace("[", " ").replace("]", " ").replace(",", " ").split() if "." in word
    ]
    assert max(len(number.split(".")[1]) for number in numbers) == DECIMALS


def test_round_trip_keeps_coordinates_to_a_tenth_of_a_millimetre(tmp_path):
    field = read_back(tmp_path, FIELD)
    shape = shapely.transform(FIELD, lambda xy: np.column_stack(field.frame.to_frame(*FRAME.to_lonlat(*xy.T))))
    assert shapely.hausdorff_distance(field.shape, shape) < 1e-4
    assert field.area_m2 == pytest.approx(FIELD.area, rel=1e-7)
    assert field.changes == ()


def test_real_parcels_come_back_the_same(tmp_path):
    for number, field in enumerate(read_outlines(DATA / "parcels_fr.geojson")):
        path = tmp_path / f"{number}.geojson"
        write_geojson(path, [(field.shape, {"name": field.name})], frame=field.frame)
        again = read_outline(path)
        assert again.frame == field.frame
        assert again.shape.equals_exact(field.shape, 1e-9)  # their source has 8 decimals: not a digit is lost
        assert (again.name, again.changes, again.problems) == (field.name, (), ())


@settings(max_examples=40, deadline=None)
@given(
    lon=st.floats(-180, 180),
    lat=st.floats(-79, 84),
    sides=st.integers(3, 12),
    size_m=st.floats(20, 1000),
)
def test_round_trip_anywhere(tmp_path_factory, lon, lat, sides, size_m):
    frame = Frame(lon_deg=lon, lat_deg=lat)
    angle = np.linspace(0, 2 * np.pi, sides, endpoint=False)
    radius_m = size_m * (1 + 0.4 * np.cos(3 * angle))
    shape = shapely.Polygon(np.column_stack([radius_m * np.cos(angle), radius_m * np.sin(angle)]))
    field = read_back(tmp_path_factory.mktemp("anywhere"), shape, frame)
    # Nine decimals move a corner by 0.06 mm at most: area by less than perimeter x 0.1 mm.
    assert field.area_m2 == pytest.approx(shape.area, abs=shape.length * 1e-4 + shape.area * 5e-8)
    assert len(field.shape.geoms) == 1


def test_field_across_180_degrees_is_cut_and_comes_back_whole(tmp_path):
    for lon_deg in (179.999, -179.999, 180.0, -180.0):
        frame = Frame(lon_deg=lon_deg, lat_deg=-16.9)
        geometry = geometry_of(FIELD, frame)
        assert geometry["type"] == "MultiPolygon"  # section 3.1.9
        west, east = (np.array(part[0])[:, 0] for part in geometry["coordinates"])
        assert west.max() == 180.0
        assert west.min() > 179
        assert east.min() == -180.0
        assert east.max() < -179
        field = read_back(tmp_path, FIELD, frame)
        assert len(field.shape.geoms) == 1
        assert len(field.shape.geoms[0].interiors) == 1
        assert field.area_m2 == pytest.approx(FIELD.area, rel=2e-7)


def test_lines_and_points_across_180_degrees():
    frame = Frame(lon_deg=180.0, lat_deg=-16.9)
    line = geometry_of(shapely.LineString([(-400, 0), (400, 0)]), frame)
    assert line["type"] == "MultiLineString"
    assert [part[-1][0] for part in line["coordinates"]][:1] in ([180.0], [-180.0])
    points = geometry_of(shapely.MultiPoint([(-400, 0), (400, 0)]), frame)
    assert sorted(np.sign(position[0]) for position in points["coordinates"]) == [-1, 1]
    assert all(abs(position[0]) <= 180 for position in points["coordinates"])
    # What lies on one side alone is not cut and keeps its kind.
    for middle_deg in (180.0, -180.0):
        east = geometry_of(shapely.Point(400, 0), Frame(lon_deg=middle_deg, lat_deg=-16.9))
        west = geometry_of(shapely.Point(-400, 0), Frame(lon_deg=middle_deg, lat_deg=-16.9))
        assert (east["type"], west["type"]) == ("Point", "Point")
        assert east["coordinates"][0] == pytest.approx(-west["coordinates"][0])
        assert -180 < east["coordinates"][0] < -179
    assert geometry_of(shapely.box(-400, 0, -300, 50), frame)["type"] == "Polygon"
    assert geometry_of(shapely.box(300, 0, 400, 50), frame)["type"] == "Polygon"


@pytest.mark.parametrize(
    "shape",
    [
        shapely.Point(1, 2),
        shapely.LineString([(0, 0), (5, 5), (9, 0)]),
        shapely.MultiLineString([[(0, 0), (5, 5)], [(9, 0), (9, 9)]]),
        shapely.MultiPolygon([shapely.box(0, 0, 10, 10), shapely.box(20, 0, 30, 10)]),
        shapely.box(0, 0, 10, 10),
    ],
    ids=lambda shape: shape.geom_type,
)
def test_every_kind_of_shape_keeps_its_kind(shape):
    geometry = geometry_of(shape)
    assert geometry["type"] == shape.geom_type
    assert shapely.from_geojson(json.dumps(geometry)).is_valid


def test_what_vanishes_at_nine_decimals_is_left_out():
    assert geometry_of(shapely.Polygon()) is None
    assert geometry_of(shapely.box(0, 0, 1e-6, 1e-6)) is None
    assert geometry_of(shapely.LineString([(0, 0), (1e-7, 0)])) is None
    both = shapely.MultiPolygon([shapely.box(0, 0, 10, 10), shapely.box(20, 0, 20 + 1e-7, 10)])
    assert len(geometry_of(both)["coordinates"]) == 1
    pricked = shapely.box(0, 0, 10, 10).difference(shapely.box(5, 5, 5 + 1e-6, 5 + 1e-6))
    assert len(geometry_of(pricked)["coordinates"]) == 1


@settings(max_examples=60, deadline=None)
@given(
    offsets=st.lists(st.floats(-2e-4, 2e-4), min_size=8, max_size=8),
    turn=st.floats(0, 3),
)
def test_thin_shapes_stay_valid_at_nine_decimals(offsets, turn):
    """Strips of a fraction of a millimetre, as overlaps between passes can be."""
    x = np.array([0, 10, 20, 30, 30, 20, 10, 0], dtype=float)
    y = np.abs(offsets) * np.repeat([-1, 1], 4)
    points = np.column_stack([x * np.cos(turn) - y * np.sin(turn), x * np.sin(turn) + y * np.cos(turn)])
    shape = shapely.make_valid(shapely.Polygon(points))
    if not isinstance(shape, shapely.Polygon):
        return
    geometry = geometry_of(shape)
    if geometry is not None:
        assert shapely.from_geojson(json.dumps(geometry)).is_valid


def test_properties_are_plain_json(tmp_path):
    path = tmp_path / "out.geojson"
    properties = {
        "name": "<b>Süd \ud800</b>",
        "passes": np.int64(31),
        "area_m2": np.float64(1.5),
        "none": float("nan"),
        "endless": float("-inf"),
        "is_ok": np.bool_(True),
        "kinds": {"loop": (1, 2, float("inf"))},
        3: None,
    }
    write_geojson(path, [(FIELD, properties)], frame=FRAME)
    text = path.read_text(encoding="utf-8")
    assert "NaN" not in text
    assert "Infinity" not in text
    assert json.loads(text)["features"][0]["properties"] == {
        "name": "<b>Süd ?</b>",
        "passes": 31,
        "area_m2": 1.5,
        "none": None,
        "endless": None,
        "is_ok": True,
        "kinds": {"loop": [1, 2, None]},
        "3": None,
    }


def test_what_cannot_be_written_is_refused_and_leaves_nothing(tmp_path):
    path = tmp_path / "out.geojson"
    with pytest.raises(InputError, match="property 'when' is a object"):
        write_geojson(path, [(FIELD, {"when": object()})], frame=FRAME)
    with pytest.raises(InputError, match="not finite"):
        write_geojson(path, [(shapely.Point(float("nan"), 0), {})], frame=FRAME)
    assert list(tmp_path.iterdir()) == []


def test_no_features_make_an_empty_collection(tmp_path):
    path = tmp_path / "out.geojson"
    write_geojson(path, [], frame=FRAME)
    assert json.loads(path.read_text()) == {"type": "FeatureCollection", "features": []}


def test_written_field_measures_the_same(tmp_path):
    field = field_from_shape(FIELD, name="Home & away")
    again = read_back(tmp_path, field.shape, field.frame, field.name)
    assert again.name == "Home & away"
    assert again.perimeter_m == pytest.approx(field.perimeter_m, rel=1e-6)


# ---------------------------------------------------------------- files


def test_existing_files_are_left_alone_unless_forced(tmp_path):
    path = tmp_path / "notes.txt"
    write_whole(path, "first")
    with pytest.raises(FileError, match="exists and is left alone"):
        write_whole(path, "second")
    assert path.read_text() == "first"
    write_whole(path, b"second", force=True)
    assert path.read_text() == "second"
    assert list(tmp_path.iterdir()) == [path]


def test_failure_leaves_the_old_file_and_nothing_else(tmp_path):
    path = tmp_path / "out.gpkg"
    path.write_text("old")

    def fail():
        with whole_file(path, force=True) as temporary:
            temporary.write_text("half")
            temporary.with_name("out.gpkg-journal").write_text("side file")
            raise RuntimeError("no more")

    with pytest.raises(RuntimeError, match="no more"):
        fail()
    assert path.read_text() == "old"
    assert list(tmp_path.iterdir()) == [path]


def test_temporary_path_has_the_name_and_suffix_of_the_target(tmp_path):
    with whole_file(tmp_path / "field.gpkg") as temporary:
        assert temporary.name == "field.gpkg"
        assert temporary.parent.parent == tmp_path
        assert not temporary.exists()
        temporary.write_text("x")
    assert (tmp_path / "field.gpkg").read_text() == "x"


def test_file_that_came_to_be_in_the_meantime_is_left_alone(tmp_path):
    path = tmp_path / "out.txt"

    def race():
        with whole_file(path) as temporary:
            temporary.write_text("ours")
            path.write_text("theirs")

    with pytest.raises(FileError, match="exists"):
        race()
    assert path.read_text() == "theirs"
    assert list(tmp_path.iterdir()) == [path]


def test_library_that_wrote_nothing_is_told(tmp_path):
    with pytest.raises(FileError, match="cannot be written"), whole_file(tmp_path / "out.txt"):
        pass
    assert list(tmp_path.iterdir()) == []


def test_places_that_cannot_be_written_are_refused(tmp_path):
    with pytest.raises(FileError, match="there is no folder"):
        write_whole(tmp_path / "none" / "out.txt", "x")
    with pytest.raises(FileError, match="not a plain file"):
        write_whole(tmp_path, "x", force=True)
    with pytest.raises(FileError, match="not a plain file"):
        write_whole(os.devnull, "x", force=True)
    with pytest.raises(FileError, match=r"cannot be (used|written)"):
        write_whole(tmp_path / "a\x00b", "x")
    with pytest.raises(FileError, match=r"cannot be (used|written)"):
        write_whole(tmp_path / ("x" * 300), "x")


def test_new_files_have_the_usual_permissions(tmp_path):
    plain = tmp_path / "plain.txt"
    plain.write_text("x")
    write_whole(tmp_path / "ours.txt", "x")
    assert (tmp_path / "ours.txt").stat().st_mode == plain.stat().st_mode
