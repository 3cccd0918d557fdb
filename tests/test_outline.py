"""Reading outlines: what is mended and told, what is refused and why, all faults at once."""

import json
from pathlib import Path

import numpy as np
import pytest
import shapely
from pyproj import Transformer

from fieldgeo.errors import CrsError, FileError, OutlineError
from fieldgeo.frame import crs_to_lonlat, frame_for, parse_crs, shape_to_frame
from fieldgeo.outline import Change, read_outline, read_outlines
from fieldgeo.outline.files.kinds import LARGEST_TEXT_BYTES

DATA = Path(__file__).parent / "data"
# About 832 m by 1111 m at latitude 42, in the order of RFC 7946: longitude first, counter-clockwise, closed.
SQUARE = [[-93.60, 42.00], [-93.59, 42.00], [-93.59, 42.01], [-93.60, 42.01], [-93.60, 42.00]]
HOLE = [[-93.598, 42.002], [-93.598, 42.004], [-93.596, 42.004], [-93.596, 42.002], [-93.598, 42.002]]


def moved(ring, east=0.0, north=0.0):
    return [[lon + east, lat + north] for lon, lat in ring]


def polygon(*rings):
    return {"type": "Polygon", "coordinates": list(rings)}


def multi(*polygons):
    return {"type": "MultiPolygon", "coordinates": [list(rings) for rings in polygons]}


def feature(geometry, **properties):
    return {"type": "Feature", "properties": properties, "geometry": geometry}


def collection(*features, **members):
    return {"type": "FeatureCollection", "features": list(features), **members}


@pytest.fixture
def save(tmp_path):
    def write(document, name="north forty.geojson"):
        path = tmp_path / name
        path.write_text(document if isinstance(document, str) else json.dumps(document))
        return path

    return write


@pytest.fixture
def faults_of(save):
    def read(document, **options):
        with pytest.raises(OutlineError, match="cannot be used") as caught:
            read_outline(save(document), **options)
        return caught.value.problems

    return read


def naive_area_m2(field, *polygons):
    """Area of rings as drawn, closed by a straight side: outer rings less holes, each by the shoelace formula."""
    total = 0.0
    for rings in polygons:
        for number, ring in enumerate(rings):
            x, y = field.frame.to_frame(*np.array(ring, dtype=float)[:, :2].T)
            area_m2 = abs(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)) / 2
            total += -area_m2 if number else area_m2
    return total


# ---------------------------------------------------------------- what is read


@pytest.mark.parametrize(
    "document",
    [
        polygon(SQUARE),
        multi([SQUARE]),
        feature(polygon(SQUARE)),
        collection(feature(multi([SQUARE]))),
        {"type": "GeometryCollection", "geometries": [polygon(SQUARE)]},
    ],
    ids=["polygon", "multipolygon", "feature", "collection", "geometry-collection"],
)
def test_every_kind_of_geojson_gives_the_same_field(save, document):
    field = read_outline(save(document))
    # Derived (geodesics on WGS 84): 920179.372 m2, 3878.353 m.
    assert field.area_m2 == pytest.approx(920179.372, abs=0.01)
    assert field.perimeter_m == pytest.approx(3878.353, abs=0.001)
    assert (field.name, field.source_crs, field.changes, field.problems) == ("north forty", "OGC:CRS84", (), ())


def test_graticule_cell_has_its_area_on_the_ellipsoid_derived(save):
    # Derived: the cell between parallels 42 and 42.01, 0.01 degree wide, has 920179.37 m2 = 227.3813 acres.
    field = read_outline(save(polygon(SQUARE)))
    assert field.area_m2 == pytest.approx(920179.37, abs=5)
    assert field.area_m2 / 4046.8564224 == pytest.approx(227.3813, abs=0.002)


def test_hole_is_taken_off(save):
    field = read_outline(save(polygon(SQUARE, HOLE)))
    hole = shapely.Polygon(HOLE)
    hole_m2 = shape_to_frame(hole, frame_for(hole)).area
    assert field.area_m2 == pytest.approx(920179.372 - hole_m2, abs=0.01)
    assert field.changes == ()
    part = field.shape.geoms[0]
    assert part.exterior.is_ccw
    assert not part.interiors[0].is_ccw


def test_polygon_features_of_one_file_are_parts_of_one_field(save):
    document = collection(feature(polygon(SQUARE), name="Home"), feature(polygon(moved(SQUARE, 0.02)), name="Home"))
    field = read_outline(save(document))
    assert (field.name, len(field.shape.geoms)) == ("Home", 2)
    assert field.problems == ("2 features read as parts of one field",)


def test_features_can_be_fields_of_their_own(save):
    document = collection(
        feature(polygon(SQUARE), name="Home"),
        feature(polygon(SQUARE), FIELD="Back <b>forty</b>"),
        feature(polygon(SQUARE), id=7),
        feature(polygon(SQUARE), name=""),
        feature(polygon(SQUARE), name=True),
    )
    names = [field.name for field in read_outlines(save(document))]
    assert names == ["Home", "Back <b>forty</b>", "7", "north forty 4", "north forty 5"]
    assert [field.name for field in read_outlines(save(polygon(SQUARE)))] == ["north forty"]


def test_names_cannot_steer_a_terminal(save):
    field = read_outline(save(feature(polygon(SQUARE), name="a\x1b[2J\nb\ud800" + "x" * 500)))
    assert field.name.startswith("a\ufffd[2J\ufffdb\ufffdx")
    assert len(field.name) == 200
    field.name.encode("utf-8")


def test_byte_order_mark_is_no_fault(tmp_path):
    path = tmp_path / "bom.geojson"
    path.write_bytes(b"\xef\xbb\xbf" + json.dumps(polygon(SQUARE)).encode())
    assert read_outline(path).changes == ()


def test_field_across_180_degrees_uncut_and_cut(save):
    uncut = [[179.99, -16.9], [-179.98, -16.9], [-179.98, -16.89], [179.99, -16.89], [179.99, -16.9]]
    west = [[179.99, -16.9], [180, -16.9], [180, -16.89], [179.99, -16.89], [179.99, -16.9]]
    east = [[-180, -16.9], [-179.98, -16.9], [-179.98, -16.89], [-180, -16.89], [-180, -16.9]]
    plain = moved([[9.99, -16.9], [10.02, -16.9], [10.02, -16.89], [9.99, -16.89], [9.99, -16.9]])
    area_m2 = read_outline(save(polygon(plain))).area_m2
    assert read_outline(save(polygon(uncut))).area_m2 == pytest.approx(area_m2, rel=1e-9)
    joined = read_outline(save(multi([west], [east])))
    # The cut leaves two points on parallels, which lie off the geodesic: 0.01 degree x 0.02 degree, some 5 cm x 2 km.
    assert joined.area_m2 == pytest.approx(area_m2, rel=1e-6)
    assert len(joined.shape.geoms) == 1
    assert joined.changes == (Change(what="parts that share a side joined", area_change_m2=pytest.approx(0, abs=1e-6)),)


# ---------------------------------------------------------------- coordinate systems


def in_system(crs, ring):
    x, y = Transformer.from_crs("OGC:CRS84", crs, always_xy=True).transform(*np.array(ring).T)
    return np.column_stack([x, y]).tolist()


# UTM, state plane in metres and in survey feet, a geographic system, and the web's map plane.
@pytest.mark.parametrize("crs", ["EPSG:32615", "EPSG:26915", "EPSG:26975", "EPSG:3417", "EPSG:4269", "EPSG:3857"])
def test_any_system_gives_the_area_on_the_ellipsoid(save, crs):
    field = read_outline(save(polygon(in_system(crs, SQUARE))), crs=crs)
    assert field.area_m2 == pytest.approx(920179.372, rel=1e-7)
    assert field.source_crs == crs
    assert field.frame.lon_deg == pytest.approx(-93.595, abs=1e-4)


def test_wrong_foot_would_move_the_field():
    # Derived: 984250 ft of false easting in the wrong foot is 984250 x 0.3048 x 2e-6 = 0.6 m.
    survey, _ = crs_to_lonlat([984_250.0], [1e6], parse_crs("EPSG:3435"))
    assert survey[0] == pytest.approx(-88.3333333, abs=1e-7)


@pytest.mark.parametrize(
    "name",
    [
        "EPSG:26915",
        "urn:ogc:def:crs:EPSG::26915",
        "urn:ogc:def:crs:EPSG:9.9:26915",
        "epsg:26915",
        "http://www.opengis.net/def/crs/EPSG/0/26915",
    ],
)
def test_crs_member_is_followed_with_a_note(save, name):
    document = collection(
        feature(polygon(in_system("EPSG:26915", SQUARE))), crs={"type": "name", "properties": {"name": name}}
    )
    field = read_outline(save(document))
    assert field.area_m2 == pytest.approx(920179.372, rel=1e-7)
    assert field.source_crs == "EPSG:26915"
    assert any("crs member was followed: EPSG:26915" in problem for problem in field.problems)
    assert any("not WGS 84" in problem for problem in field.problems)


def test_crs_member_for_longitude_and_latitude_is_no_news(save):
    for name in ("urn:ogc:def:crs:OGC:1.3:CRS84", "EPSG:4326"):
        document = collection(feature(polygon(SQUARE)), crs={"type": "name", "properties": {"name": name}})
        assert read_outline(save(document)).problems == ()


def test_system_asked_for_goes_before_the_crs_member(save):
    member = {"type": "name", "properties": {"name": "EPSG:26916"}}
    document = collection(feature(polygon(in_system("EPSG:26915", SQUARE))), crs=member)
    field = read_outline(save(document), crs="EPSG:26915")
    assert field.area_m2 == pytest.approx(920179.372, rel=1e-7)
    assert "read as EPSG:26915, as asked, although its crs member says EPSG:26916" in field.problems


def test_place_outside_the_area_of_a_system_is_noted(save):
    field = read_outline(save(polygon(in_system("EPSG:3435", SQUARE))), crs="EPSG:3435")  # Illinois, for an Iowa field
    assert any("outside the area" in problem for problem in field.problems)


@pytest.mark.parametrize(
    "member", [{"type": "link", "properties": {"href": "x"}}, "EPSG:4326", {"properties": {"name": "+proj=utm"}}, 5]
)
def test_crs_member_that_is_no_code_is_refused(faults_of, member):
    assert any(
        "crs member names no system" in fault for fault in faults_of(collection(feature(polygon(SQUARE)), crs=member))
    )


def test_unknown_systems_are_refused(save):
    with pytest.raises(CrsError, match="names no known system"):
        read_outline(save(polygon(SQUARE)), crs="EPSG:99999999")
    member = {"type": "name", "properties": {"name": "FILE:ETC"}}
    with pytest.raises(CrsError, match="names no known system"):
        read_outline(save(collection(feature(polygon(SQUARE)), crs=member)))


def test_places_beyond_a_system_are_refused(faults_of):
    faults = faults_of(polygon([[1e30, 1], [2e30, 1], [2e30, 2], [1e30, 1]]), crs="EPSG:26915")
    assert "outside what their coordinate system can show" in faults[0]


# ---------------------------------------------------------------- what is mended, and told


def test_area_changes_add_up(save):
    """For every mend: area after = area as drawn + the sum of the changes told."""
    spike = [[-93.60, 42.00], [-93.59, 42.00], [-93.59, 42.005], [-93.585, 42.005], [-93.59, 42.005], [-93.59, 42.01]]
    thin_spike = [*SQUARE[:3], [-93.595, 42.01], [-93.595, 42.012], [-93.59500001, 42.01], *SQUARE[3:]]
    sliver = [[-93.58, 42.0], [-93.57, 42.0], [-93.57, 42.0000003], [-93.58, 42.0000003], [-93.58, 42.0]]
    crack = [[-93.598, 42.006], [-93.592, 42.006], [-93.592, 42.0060003], [-93.598, 42.0060003], [-93.598, 42.006]]
    tiny_lobe = [
        [-93.60, 42.0],
        [-93.59, 42.0],
        [-93.59, 42.01],
        [-93.60, 42.01],
        [-93.60, 42.000002],
        [-93.599998, 42.0],
    ]
    cases = {
        "open": [[SQUARE[:-1]]],
        "repeated": [[[*SQUARE[:2], SQUARE[1], SQUARE[1], *SQUARE[2:]]]],
        "nearly repeated": [[[*SQUARE[:2], [-93.590000001, 42.0], *SQUARE[2:]]]],
        "clockwise": [[SQUARE[::-1]]],
        "hole counter-clockwise": [[SQUARE, HOLE[::-1]]],
        "spike": [[spike]],
        "thin spike": [[thin_spike]],
        "sliver part": [[SQUARE], [sliver]],
        "crack": [[SQUARE, crack]],
        "lobe": [[tiny_lobe]],
        "holes side by side": [[SQUARE, HOLE, moved(HOLE, 0.002)]],
        "hole on the edge": [[SQUARE, moved(HOLE, -0.002)]],
        "parts side by side": [[SQUARE], [moved(SQUARE, 0.01)]],
    }
    for name, polygons in cases.items():
        field = read_outline(save(multi(*polygons)))
        assert field.changes, name
        told_m2 = sum(change.area_change_m2 for change in field.changes)
        assert field.area_m2 == pytest.approx(naive_area_m2(field, *polygons) + told_m2, abs=1e-3), name


def test_mends_are_told_in_words(save):
    def changes(*polygons):
        return [change.what for change in read_outline(save(multi(*polygons))).changes]

    assert changes([SQUARE[:-1]]) == ["outer ring: not closed; closed by a side of 1110.73 m"]
    assert changes([[*SQUARE[:2], *SQUARE[1:]]]) == ["outer ring: 1 repeated point removed"]
    assert changes([SQUARE[::-1], HOLE[::-1]]) == [
        "outer ring: turned to run counter-clockwise",
        "hole 1: turned to run clockwise",
    ]
    spiked = [*SQUARE[:3], [-93.595, 42.01], [-93.595, 42.02], [-93.595, 42.01], *SQUARE[3:]]
    assert changes([spiked]) == ["outer ring: spike at lon -93.5950000, lat 42.0200000 removed"]
    assert changes([SQUARE], [moved(SQUARE, 0.01)]) == ["parts that share a side joined"]
    assert changes([SQUARE, HOLE, moved(HOLE, 0.002)]) == ["holes touch each other or the outer ring; cut out together"]


def test_hole_that_touches_in_a_point_is_no_fault(save):
    touching = [[-93.6, 42.005], [-93.598, 42.006], [-93.598, 42.004], [-93.6, 42.005]]
    outer = [*SQUARE[:4], [-93.6, 42.005], SQUARE[0]]
    field = read_outline(save(polygon(outer, touching)))
    assert len(field.shape.geoms[0].interiors) == 1
    assert field.changes == ()


def test_spike_of_many_points_goes_whole(save):
    out = [[-93.595, 42.01 + step * 1e-4] for step in range(1, 20)]
    ring = [*SQUARE[:3], [-93.595, 42.01], *out, *out[-2::-1], [-93.595, 42.01], *SQUARE[3:]]
    field = read_outline(save(polygon(ring)))
    plain = [*SQUARE[:3], [-93.595, 42.01], *SQUARE[3:]]
    assert field.area_m2 == pytest.approx(read_outline(save(polygon(plain))).area_m2, abs=1e-3)
    assert len(field.changes) == 1


def test_ring_that_touches_itself_is_parted(save):
    # A pond joined to the outer ring by a line walked there and back, as older files draw a hole.
    keyhole = [*SQUARE[:1], *HOLE, *SQUARE]
    field = read_outline(save(polygon(keyhole)))
    assert len(field.shape.geoms[0].interiors) == 1
    assert field.area_m2 == pytest.approx(read_outline(save(polygon(SQUARE, HOLE))).area_m2, abs=0.01)
    assert "touches or crosses itself" in field.changes[0].what
    assert field.changes[0].area_change_m2 == pytest.approx(0, abs=1e-6)
    # Two squares that share one corner, drawn as one ring.
    eight = [[-93.6, 42.0], [-93.59, 42.0], [-93.59, 42.01], [-93.58, 42.01], [-93.58, 42.02], [-93.59, 42.02]]
    eight += [[-93.59, 42.01], [-93.6, 42.01], [-93.6, 42.0]]
    assert len(read_outline(save(polygon(eight))).shape.geoms) == 2


def test_heights_are_left_out_with_a_word(save):
    ring = [[*point, 301.5] for point in SQUARE]
    field = read_outline(save(polygon(ring)))
    assert field.area_m2 == pytest.approx(920179.372, abs=0.01)
    assert field.changes == (Change(what="heights of 5 points left out", area_change_m2=0.0),)


def test_what_is_no_polygon_is_left_out_with_a_word(save):
    document = collection(
        feature(polygon(SQUARE)),
        feature({"type": "Point", "coordinates": [-93.6, 42.0]}),
        feature(None),
        feature({"type": "Polygon", "coordinates": []}),
    )
    assert [change.what for change in read_outline(save(document)).changes] == [
        "feature 2 geometry is a Point; a Polygon or MultiPolygon is needed; left out",
        "feature 3 has no geometry (null); a polygon is needed; left out",
        "feature 4 geometry is an empty Polygon; a polygon is needed; left out",
    ]


def test_hole_without_area_is_left_out_with_a_word(save):
    flat = [[-93.598, 42.002], [-93.596, 42.002], [-93.597, 42.002], [-93.598, 42.002]]
    field = read_outline(save(polygon(SQUARE, flat)))
    assert field.area_m2 == pytest.approx(920179.372, abs=0.01)
    (change,) = field.changes
    assert change.what == "hole 1: has no area: its points lie on one line; left out"
    # Points on a parallel lie off the geodesic: 165 m x 0.5 mm x 2 / 3 of ground between them (0.04 m2 measured).
    assert 0 <= change.area_change_m2 < 0.1


def test_what_is_seen_and_left_is_noted(save):
    shed = [[-93.58, 42.0], [-93.57998, 42.0], [-93.57998, 42.00002], [-93.58, 42.00002], [-93.58, 42.0]]
    assert any("a part of only" in note for note in read_outline(save(multi([SQUARE], [shed]))).problems)
    near = read_outline(save(multi([SQUARE], [moved(SQUARE, 0.010005)])))
    assert "part 1 and part 2 are only 0.41 m apart; they are laid as separate parts" in near.problems
    sharp = [[-93.6, 42.0], [-93.59, 42.0], [-93.6, 42.00008], [-93.6, 42.0]]
    assert any("sharper than 1 degree" in note for note in read_outline(save(polygon(sharp))).problems)


# ---------------------------------------------------------------- what is refused


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        ("not json at all", "line 1, column 1"),
        ('{"type": "Polygon", "coordinates": [[[1, 2', "line 1, column"),
        ("", "it is empty"),
        ("[" * 200_000, "nested too deeply"),
        ('{"type":"Polygon","coordinates":' + "[" * 100_000 + "]" * 100_000 + "}", "nested too deeply"),
        ('{"a": ' + "9" * 5000 + "}", "cannot be parsed"),
    ],
    ids=["words", "cut-short", "empty", "brackets", "deep-coordinates", "endless-number"],
)
def test_what_is_not_json_is_refused(faults_of, text, fault):
    assert any(fault in problem for problem in faults_of(text))


def test_bytes_that_are_no_text_are_refused(tmp_path):
    path = tmp_path / "outline.geojson"
    path.write_bytes(b"\x89PNG\r\n\x1a\n")
    with pytest.raises(OutlineError, match="not UTF-8"):
        read_outline(path)


@pytest.mark.parametrize("document", [[], 5, None, "x", {}, {"type": "Topology"}, {"type": ["Polygon"]}, {"type": {}}])
def test_what_is_not_geojson_is_refused(save, document):
    with pytest.raises(OutlineError, match="it is JSON but not GeoJSON"):
        read_outline(save(json.dumps(document)))


@pytest.mark.parametrize(
    ("document", "fault"),
    [
        (collection(), "the collection is empty"),
        ({"type": "FeatureCollection"}, "'features' is not a list"),
        (collection(5), "feature 1 is not a Feature: 5"),
        (collection(polygon(SQUARE)), "feature 1 is not a Feature: an object with 2 members"),
        (feature(None), "has no geometry (null)"),
        ({"type": "Feature"}, "has no geometry (null)"),
        (feature(5), "geometry is not a GeoJSON geometry: 5"),
        (feature({"type": "Circle"}), "geometry is not a GeoJSON geometry"),
        ({"type": "Point", "coordinates": [-93, 42]}, "geometry is a Point; a Polygon or MultiPolygon is needed"),
        ({"type": "LineString", "coordinates": SQUARE}, "geometry is a LineString"),
        ({"type": "Polygon"}, "has no list of coordinates"),
        ({"type": "Polygon", "coordinates": []}, "is an empty Polygon"),
        ({"type": "GeometryCollection", "geometries": []}, "no polygon"),
        ({"type": "MultiPolygon", "coordinates": [5]}, "polygon is not a list of rings: 5"),
        (polygon([]), "outer ring: has no points"),
        (polygon(5), "outer ring: is not a list of points: 5"),
        (polygon([1, 2, 3]), "outer ring: point 1 is not a pair of numbers: 1"),
        (polygon([[1], [2]]), "outer ring: point 1 is not a pair of numbers: [1]"),
        (polygon([["a", 1], *SQUARE]), "outer ring: point 1 must be finite numbers: ['a', 1]"),
        (polygon([["1", "2"], *SQUARE]), "outer ring: point 1 must be finite numbers"),
        (polygon([[True, 1], *SQUARE]), "outer ring: point 1 must be finite numbers: [True, 1]"),
        (polygon([[None, 1], *SQUARE]), "outer ring: point 1 must be finite numbers"),
        (polygon([[float("nan"), 1], *SQUARE]), "outer ring: point 1 must be finite numbers: [nan, 1]"),
        (polygon([[float("inf"), 1], *SQUARE]), "outer ring: point 1 must be finite numbers"),
        (polygon([[10**400, 1], *SQUARE]), "outer ring: point 1 must be finite numbers"),
        (polygon(SQUARE[:2]), "outer ring has 2 different points"),
        (polygon([SQUARE[0]] * 4), "outer ring has 1 different point;"),
        (polygon([SQUARE[0]]), "outer ring has 1 different point;"),
        (polygon([[-93.6, 42.0], [-93.6, 42.01], [-93.6, 42.02], [-93.6, 42.0]]), "its points lie on one line"),
        (polygon([[-93.6, 42.0], [-93.6, 42.00001], [-93.59999, 42.0], [-93.6, 42.0]]), "a field has 100 m2 or more"),
        (polygon([[-93.6, 42], [-93.5, 42], [-93.5, 42.0000003], [-93.6, 42.0000003]]), "the outline is a sliver"),
        (polygon([[-95, 40], [-90, 40], [-90, 44], [-95, 44]]), "km across"),
        (multi([SQUARE], [moved(SQUARE, 1.0)]), "km across"),
        (polygon([[42, -93.6], [42, -93.59], [42.01, -93.59], [42.01, -93.6]]), "latitude seems to come first"),
        (polygon([[38, -87.5], [38, -87.49], [38.01, -87.49], [38.01, -87.5]]), "latitude seems to come first"),
        (polygon([[450000, 4650000], [451000, 4650000], [451000, 4651000]]), "positions cannot be degrees"),
        (polygon([[10, 86], [10.1, 86], [10.1, 86.1]]), "latitude reaches 86.1"),
        (polygon([SQUARE[0], SQUARE[2], SQUARE[1], SQUARE[3]]), "crosses itself at lon -93.595"),
        (polygon(SQUARE, moved(HOLE, 0.02)), "hole 1 lies outside the outer ring"),
        (polygon(SQUARE, moved(HOLE, -0.003)), "hole 1 crosses the outer ring"),
        (polygon(SQUARE, HOLE, moved(HOLE, 0.001)), "hole 1 and hole 2 overlap"),
        (polygon(SQUARE, SQUARE), "no ground is left"),
        (multi([SQUARE], [moved(SQUARE, 0.005)]), "part 1 and part 2 overlap"),
        (multi([SQUARE], [SQUARE]), "part 1 and part 2 overlap: 920179 m2"),
        (feature({**polygon(SQUARE), "coordinates": {"a": 1}}), "has no list of coordinates"),
        (collection({**feature(polygon(SQUARE)), "crs": {"x": 1}}), "a coordinate system of its own"),
    ],
)
def test_faults_are_named(faults_of, document, fault):
    faults = faults_of(document)
    assert any(fault in problem for problem in faults), faults


def test_all_faults_are_told_at_once(faults_of):
    bow_tie = [SQUARE[0], SQUARE[2], SQUARE[1], SQUARE[3], SQUARE[0]]
    document = collection(
        feature(polygon(bow_tie)),
        feature(polygon(moved(SQUARE, 0.02), moved(HOLE, 0.06), moved(HOLE, 0.021), moved(HOLE, 0.0215))),
        feature(polygon([["a", 1], [None, 2], *SQUARE])),
        feature({"type": "Point", "coordinates": [1, 2]}),
        feature(polygon(moved(SQUARE, 0.04)[:2])),
        7,
    )
    faults = faults_of(document)
    for number, words in enumerate(
        [
            "feature 6 is not a Feature",
            "feature 3 outer ring: point 1",
            "feature 3 outer ring: point 2",
            "feature 4 geometry is a Point",
            "feature 1 outer ring crosses itself",
            "feature 2 hole 1 lies outside",
            "feature 2 hole 2 and feature 2 hole 3 overlap",
            "feature 5 outer ring has 2 different points",
        ]
    ):
        assert any(words in fault for fault in faults), (number, words, faults)
    assert len(faults) == 8


def test_faults_of_every_field_of_a_file_are_told(save):
    document = collection(feature(polygon(SQUARE[:2]), name="A"), feature(polygon(SQUARE)), feature(None, name="C"))
    with pytest.raises(OutlineError, match="2 faults") as caught:
        read_outlines(save(document))
    assert len(caught.value.problems) == 2


def test_places_of_a_crossing_are_right(faults_of):
    # Both crossings of a ring that crosses itself twice, to 7 decimals; derived: the crossing of straight lines.
    ring = [[0, 0], [0.01, 0], [0.01, 0.01], [0.004, -0.002], [0.002, -0.002], [0, 0.01]]
    (fault,) = faults_of(polygon(ring))
    assert "crosses itself at lon 0.0050000, lat 0.0000000; lon 0.0016667, lat -0.0000000" in fault or (
        "crosses itself at lon 0.0050000, lat 0.0000000; lon 0.0016667, lat 0.0000000" in fault
    ), fault


def test_scribble_is_refused_without_working_it_out(faults_of):
    rng = np.random.default_rng(1)
    scribble = np.round(rng.uniform([-93.6, 42.0], [-93.59, 42.01], (8_000, 2)), 7).tolist()
    assert "more than 1000 places" in faults_of(polygon(scribble))[0]


def test_many_copies_of_a_part_are_refused_in_little_memory(faults_of):
    faults = faults_of(multi(*([[SQUARE]] * 1000)))
    assert len(faults) == 21
    assert faults[-1] == "there are more overlaps than these"


def test_long_lists_of_faults_are_cut(faults_of):
    faults = faults_of(collection(*range(500)))
    assert len(faults) == 101
    assert faults[-1] == "and 400 more faults"
    faults = faults_of(polygon([["x", 1]] * 500))
    assert faults[-1] == "outer ring: and 497 more points like that"


def test_files_that_cannot_be_read_are_refused(tmp_path):
    with pytest.raises(FileError, match="there is no such file"):
        read_outline(tmp_path / "nothing.geojson")
    with pytest.raises(FileError, match="not a plain file"):
        read_outline(tmp_path)
    with pytest.raises(FileError, match="not a plain file"):
        read_outline("/dev/zero")
    with pytest.raises(FileError, match=r"no such file|cannot be read"):
        read_outline("a\x00b")


def test_huge_files_are_refused_unread(tmp_path):
    path = tmp_path / "huge.geojson"
    with path.open("wb") as file:
        file.truncate(LARGEST_TEXT_BYTES + 1)  # no disk is used
    with pytest.raises(OutlineError, match="100 MB at most"):
        read_outline(path)


# ---------------------------------------------------------------- real fields


def test_real_parcels_have_their_area_on_the_ellipsoid():
    """Published with the data: the register's hectares are flat areas in EPSG:2154, 0.174 % short."""
    fields = read_outlines(DATA / "parcels_fr.geojson")
    assert len(fields) == 129
    features = json.loads((DATA / "parcels_fr.geojson").read_text())["features"]
    declared_ha = np.array([feature["properties"]["declared_ha"] for feature in features])
    ours_ha = np.array([field.area_m2 for field in fields]) / 1e4
    to_flat = Transformer.from_crs("OGC:CRS84", "EPSG:2154", always_xy=True)
    flat_ha = (
        np.array(
            [
                shapely.Polygon(
                    np.column_stack(to_flat.transform(*np.array(feature["geometry"]["coordinates"][0]).T))
                ).area
                for feature in features
            ]
        )
        / 1e4
    )
    assert np.abs(flat_ha - declared_ha).max() < 0.0051
    assert ours_ha.sum() / flat_ha.sum() - 1 == pytest.approx(0.00174, abs=0.00001)
    assert ours_ha.sum() - declared_ha.sum() > 0.5  # the gap is far beyond rounding
    assert all(field.changes == () and field.problems == () for field in fields)


def test_real_harvested_outline_is_read_as_it_is():
    field = read_outline(DATA / "mn_corn_2011_outline.geojson")
    shape = shapely.from_geojson((DATA / "mn_corn_2011_outline.geojson").read_text()).geoms[0]
    assert field.area_m2 == pytest.approx(shape_to_frame(shape, frame_for(shape)).area, rel=1e-9)
    assert (field.changes, field.problems) == ((), ())
