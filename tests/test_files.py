"""Polygon files of every format: round trips to a millimetre, the choice of features, and what is told of it."""

import json
import warnings
import zipfile
from pathlib import Path

import geopandas
import numpy as np
import pytest
import shapely
from pyproj import Transformer

from fieldgeo.analysis.lay import lay
from fieldgeo.errors import CrsError, FileError, OutlineError
from fieldgeo.export.write import write_field, write_plan
from fieldgeo.frame import LONLAT, crs_to_lonlat, parse_crs
from fieldgeo.outline.farm import read_farm
from fieldgeo.outline.files.kinds import SUFFIXES
from fieldgeo.outline.read import read_outline, read_outlines
from fieldgeo.outline.rules import FileRules
from fieldgeo.outline.sniff import sniff

DATA = Path(__file__).parent / "data"
SUFFIX_OF = {"gpkg": "GPKG", "shp": None, "fgb": "FlatGeobuf", "kml": "KML", "geojson": "GeoJSON"}
FORMATS = [*SUFFIX_OF, "parquet", "csv", "wkt", "zip"]
SYSTEMS = ["OGC:CRS84", "EPSG:26916", "EPSG:3435", "EPSG:2251"]
# An invented field with a bend and a hole, some 800 m across, where Illinois East is made for; and one in Michigan.
FIELD = shapely.Polygon(
    [(-88.30, 40.00), (-88.29, 40.0003), (-88.2907, 40.0081), (-88.2953, 40.0061), (-88.30, 40.0072)],
    [[(-88.298, 40.002), (-88.298, 40.004), (-88.296, 40.0043), (-88.2957, 40.002)]],
)
MICHIGAN = shapely.transform(FIELD, lambda lonlat: lonlat + np.array([1.3, 6.0]))
SMALL = shapely.box(-88.28, 40.0, -88.279, 40.001)


def place_of(crs):
    return MICHIGAN if crs == "EPSG:2251" else FIELD


def table(shapes, crs="OGC:CRS84", **columns):
    return geopandas.GeoDataFrame(columns or {"n": range(len(shapes))}, geometry=list(shapes), crs=LONLAT).to_crs(crs)


def write(frame, path, **options):
    """Write a table with the library that people write such files with, its warnings being no matter of ours."""
    suffix = path.suffix[1:]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        if suffix == "parquet":
            frame.to_parquet(path)
        elif suffix == "csv":
            rows = frame.drop(columns="geometry").assign(
                wkt=shapely.to_wkt(frame.geometry.values, rounding_precision=-1)
            )
            rows.to_csv(path, index=False)
        elif suffix == "wkt":
            path.write_text("\n".join(shapely.to_wkt(frame.geometry.values, rounding_precision=-1)))
        elif suffix == "zip":
            inner = path.parent / "inside" / "parcels.shp"
            inner.parent.mkdir(exist_ok=True)
            frame.to_file(inner)
            with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
                for file in inner.parent.iterdir():
                    archive.write(file, f"county/{file.name}")
        elif suffix == "kml":
            frame.to_crs("EPSG:4326").to_file(path, driver="KML", **options)
        elif suffix == "geojson":
            frame.to_file(path, COORDINATE_PRECISION=12, **options)
        else:
            frame.to_file(path, driver=SUFFIX_OF[suffix], **options)
    return path


def crs_to_say(suffix, crs="OGC:CRS84"):
    return crs if suffix in ("csv", "wkt") else None


def off_m(field, shape_lonlat):
    """Return how far the outline lies from a shape at most. [m]"""
    expected = shapely.transform(shape_lonlat, lambda lonlat: np.column_stack(field.frame.to_frame(*lonlat.T)))
    return shapely.hausdorff_distance(shapely.boundary(field.shape), shapely.boundary(expected))


# ---------------------------------------------------------------- round trips


@pytest.mark.parametrize("crs", SYSTEMS)
@pytest.mark.parametrize("suffix", FORMATS)
def test_field_with_a_hole_comes_back_to_a_millimetre(tmp_path, suffix, crs, recwarn, capfd):
    path = write(table([place_of(crs)], crs, name=["North forty"]), tmp_path / f"parcels.{suffix}")
    before = sorted(tmp_path.iterdir())
    field = read_outline(path, crs=crs_to_say(suffix, crs))
    assert off_m(field, place_of(crs)) < 1e-3
    assert len(field.shape.geoms[0].interiors) == 1
    assert field.name == ("North forty" if suffix != "wkt" else "parcels")
    if suffix != "geojson":  # which says how rings must run
        assert field.changes == ()
    assert sorted(tmp_path.iterdir()) == before  # nothing is written beside the source
    assert not recwarn.list
    assert capfd.readouterr() == ("", "")


@pytest.mark.parametrize("suffix", ["gpkg", "shp", "fgb", "parquet"])
@pytest.mark.parametrize(("crs", "foot_m"), [("EPSG:3435", 1200 / 3937), ("EPSG:2251", 0.3048)])
def test_feet_are_told_apart_by_the_system(tmp_path, suffix, crs, foot_m):
    # Derived: side of a square of 1000 of the zone's own feet, times point scale over the field (within 1e-4 of 1).
    system = parse_crs(crs)
    assert system.axis_info[0].unit_conversion_factor == pytest.approx(foot_m, rel=1e-12)
    x, y = Transformer.from_crs(LONLAT, system, always_xy=True).transform(*place_of(crs).centroid.coords[0])
    square = shapely.box(x, y, x + 1000, y + 1000)
    frame = geopandas.GeoDataFrame({"n": [1]}, geometry=[square], crs=crs)
    field = read_outline(write(frame, tmp_path / f"square.{suffix}"))
    lon, lat = crs_to_lonlat(*shapely.get_coordinates(square).T, system)
    assert off_m(field, shapely.Polygon(np.column_stack([lon, lat]))) < 1e-3
    assert field.area_m2 == pytest.approx((1000 * foot_m) ** 2, rel=3e-4)
    assert field.source_crs == crs


def test_geojson_and_geopackage_of_our_own_come_back(tmp_path):
    field = read_outline(write(table([FIELD], name=["Home"]), tmp_path / "home.fgb"))
    for suffix in ("geojson", "gpkg"):
        write_field(field, tmp_path / f"again.{suffix}")
        again = read_outline(tmp_path / f"again.{suffix}")
        assert off_m(again, FIELD) < 1e-3
        assert again.name == "Home"


@pytest.mark.parametrize("suffix", ["geojson", "gpkg"])
def test_outline_of_a_plan_written_by_us_is_found_among_its_layers(tmp_path, forty_foot, suffix):
    field = read_outline(write(table([FIELD], name=["Home"]), tmp_path / "home.fgb"))
    write_plan(lay(field, forty_foot, direction_deg=0.0), tmp_path / f"plan.{suffix}")
    again = read_outline(tmp_path / f"plan.{suffix}")
    assert off_m(again, FIELD) < 1e-3
    assert again.area_m2 == pytest.approx(field.area_m2, rel=1e-8)
    assert any("layer 'outline' was read" in problem and "left out" in problem for problem in again.problems)
    assert [found.name for found in read_outlines(tmp_path / f"plan.{suffix}")] == ["Home"]
    with pytest.raises(OutlineError, match="is a LineString"):
        read_outline(tmp_path / f"plan.{suffix}", rules=FileRules(layer="passes"))


def test_suffix_is_no_matter(tmp_path):
    for suffix in ("gpkg", "fgb", "kml", "parquet"):
        path = write(table([FIELD]), tmp_path / f"a.{suffix}")
        odd = path.rename(tmp_path / f"https:__x!y.zip?z {suffix}.dat")
        assert off_m(read_outline(odd), FIELD) < 1e-3


# ---------------------------------------------------------------- the choice


@pytest.fixture(scope="module")
def parcels(tmp_path_factory):
    """The real parcels in every format, with an invented parcel number."""
    folder = tmp_path_factory.mktemp("parcels")
    frame = geopandas.read_file(DATA / "parcels_fr.geojson")
    frame["PIN"] = [f"{number:03d}-{number % 7}" for number in range(len(frame))]
    return frame, {suffix: write(frame, folder / f"county.{suffix}") for suffix in FORMATS if suffix != "wkt"}


SOME = ["gpkg", "shp", "fgb", "kml", "parquet", "csv", "geojson", "zip"]


@pytest.mark.parametrize("suffix", SOME)
def test_parcel_is_chosen_by_attribute_and_by_point(parcels, suffix):
    frame, paths = parcels
    (number,) = np.flatnonzero(frame["PIN"] == "012-5")
    shape = frame.geometry[number]
    inside = shape.representative_point().coords[0]
    rules = [
        FileRules(where="PIN = '012-5'"),
        FileRules(at_lonlat=inside),
        FileRules(where="crop_code IS NOT NULL AND PIN LIKE '012%'", at_lonlat=inside),
    ]
    for rule in rules:
        field = read_outline(paths[suffix], rules=rule, crs=crs_to_say(suffix))
        assert off_m(field, shape) < 1e-3
        (only,) = read_outlines(paths[suffix], rules=rule, crs=crs_to_say(suffix))
        assert only.shape.equals(field.shape)


@pytest.mark.parametrize("suffix", SOME)
def test_real_parcels_have_their_declared_area_published_rpg(parcels, suffix):
    # Published with the data: `declared_ha` is the flat area in EPSG:2154 to its rounding of 0.005 ha; derived: the
    # area on the ellipsoid is 0.174 % larger in sum.
    frame, paths = parcels
    fields = read_outlines(paths[suffix], crs=crs_to_say(suffix))
    assert len(fields) == 129
    ours_ha = sum(field.area_m2 for field in fields) / 1e4
    flat_ha = frame.to_crs(2154).area.sum() / 1e4
    assert ours_ha / flat_ha - 1 == pytest.approx(0.00174, abs=0.00001)
    assert np.abs(frame.to_crs(2154).area / 1e4 - frame["declared_ha"]).max() < 0.0051


@pytest.mark.parametrize("suffix", SOME)
def test_parcel_file_is_not_taken_for_one_field(parcels, suffix):
    _, paths = parcels
    with pytest.raises(OutlineError, match="not clear which") as caught:
        read_outline(paths[suffix], crs=crs_to_say(suffix))
    problems = caught.value.problems
    assert problems[0] == "it has 129 features; 25 are the most that are taken for parts of one field"
    assert "PIN" in problems[1]
    assert "crop_code" in problems[1]
    assert sum(problem.startswith("feature ") and " ac; " in problem for problem in problems) == 10
    assert "and 119 more" in problems
    assert "--where" in problems[-1]
    assert "--at" in problems[-1]


@pytest.mark.parametrize("suffix", SOME)
def test_choice_that_finds_nothing_is_told(parcels, suffix):
    _, paths = parcels
    options = {"crs": crs_to_say(suffix)}
    with pytest.raises(OutlineError, match="no feature meets the condition") as caught:
        read_outline(paths[suffix], rules=FileRules(where="PIN = 'none'"), **options)
    assert "PIN" in caught.value.problems[0]
    for wrong in ("NOPE = 1", "PIN ==== '", "1 = 1); DROP TABLE x; --", "PIN ="):
        with pytest.raises(OutlineError, match="cannot be used") as caught:
            read_outline(paths[suffix], rules=FileRules(where=wrong), **options)
        assert any("columns:" in problem and "PIN" in problem for problem in caught.value.problems)
    with pytest.raises(OutlineError, match="no feature holds the point") as caught:
        read_outline(paths[suffix], rules=FileRules(at_lonlat=(5.05, 45.70)), **options)
    assert "the nearest is feature" in caught.value.problems[0]
    assert "8.3 km away" in caught.value.problems[0]  # derived: GeoPandas distance in EPSG:2154 is 8,291 m
    with pytest.raises(OutlineError, match="no feature holds the point") as caught:
        read_outline(paths[suffix], rules=FileRules(at_lonlat=(45.70, 5.05)), **options)
    assert caught.value.problems
    with pytest.raises(CrsError, match="latitude is 100"):
        read_outline(paths[suffix], rules=FileRules(at_lonlat=(5.0, 100.0)), **options)


def test_nearest_distance_of_the_test_above(parcels):
    frame, _ = parcels
    point = geopandas.GeoSeries.from_xy([5.05], [45.70], crs=4326).to_crs(2154)[0]
    assert frame.to_crs(2154).distance(point).min() == pytest.approx(8291, rel=0.005)


def test_point_in_a_hole_is_not_in_the_field(tmp_path):
    path = write(table([FIELD, SMALL]), tmp_path / "a.gpkg")
    hole = shapely.Polygon(FIELD.interiors[0]).representative_point().coords[0]
    with pytest.raises(OutlineError, match="no feature holds"):
        read_outline(path, rules=FileRules(at_lonlat=hole))


def test_point_is_looked_up_in_any_system(tmp_path):
    frame = table([FIELD, SMALL], "EPSG:3435", PIN=["1", "2"])
    for suffix in ("gpkg", "shp", "fgb", "parquet"):
        field = read_outline(write(frame, tmp_path / f"a.{suffix}"), rules=FileRules(at_lonlat=(-88.2795, 40.0005)))
        assert off_m(field, SMALL) < 1e-3
    path = write(frame, tmp_path / "a.csv")
    with pytest.raises(CrsError, match="its coordinate system is not known"):
        read_outline(path, rules=FileRules(at_lonlat=(-88.2795, 40.0005)))
    field = read_outline(path, rules=FileRules(at_lonlat=(-88.2795, 40.0005)), crs="Illinois East ftUS")
    assert off_m(field, SMALL) < 1e-3


def test_parts_of_one_field_are_joined(tmp_path):
    for suffix in ("gpkg", "shp", "fgb", "parquet"):
        field = read_outline(write(table([FIELD, SMALL], note=["a", "b"]), tmp_path / f"two.{suffix}"))
        assert len(field.shape.geoms) == 2
        assert "2 features read as parts of one field" in field.problems
    named = write(table([FIELD, SMALL], name=["North", "South"]), tmp_path / "two.geojson")
    field = read_outline(named)
    assert "2 features read as parts of one field, although their names differ: North, South" in field.problems


@pytest.mark.parametrize("column", ["name", "FIELD", "Parcel_ID", "PIN", "apn"])
def test_features_of_different_names_are_fields_of_their_own(tmp_path, column):
    path = write(table([FIELD, SMALL], **{column: ["1-2", "O'Dell"]}), tmp_path / "two.gpkg")
    with pytest.raises(OutlineError, match="not clear which") as caught:
        read_outline(path)
    assert f"its features differ in {column!r}" in caught.value.problems[0]
    assert f"--where \"{column} = '1-2'\"" in caught.value.problems[-1]
    joined = read_outline(path, rules=FileRules(where="1 = 1"))
    assert len(joined.shape.geoms) == 2
    quoted = read_outline(path, rules=FileRules(where=f"{column} = 'O''Dell'"))
    assert off_m(quoted, SMALL) < 1e-3


def test_far_apart_features_are_no_parts_of_one_field(tmp_path):
    path = write(table([FIELD, shapely.transform(FIELD, lambda xy: xy + 0.5)]), tmp_path / "two.geojson")
    with pytest.raises(OutlineError, match="not clear which") as caught:
        read_outline(path)
    assert "km across" in caught.value.problems[0]
    assert len(read_outlines(path)) == 2


def test_layers_are_listed_and_chosen(tmp_path):
    path = write(table([FIELD]), tmp_path / "two.gpkg", layer="parcels")
    write(table([SMALL]), path, layer="soils")
    write(geopandas.GeoDataFrame({"n": [1]}, geometry=[shapely.Point(-88.3, 40)], crs=LONLAT), path, layer="wells")
    with pytest.raises(OutlineError, match="several layers") as caught:
        read_outline(path)
    assert set(caught.value.problems) == {"layer 'parcels': Polygon", "layer 'soils': Polygon", "layer 'wells': Point"}
    assert off_m(read_outline(path, rules=FileRules(layer="soils")), SMALL) < 1e-3
    with pytest.raises(OutlineError, match="no layer 'roads'"):
        read_outline(path, rules=FileRules(layer="roads"))
    with pytest.raises(OutlineError, match="is a Point"):
        read_outline(path, rules=FileRules(layer="wells"))
    for suffix in ("csv", "parquet"):
        with pytest.raises(OutlineError, match="has no layers"):
            read_outline(write(table([FIELD]), tmp_path / f"a.{suffix}"), rules=FileRules(layer="x"))


def test_one_layer_with_polygons_is_found_and_told(tmp_path):
    path = write(table([FIELD]), tmp_path / "two.gpkg", layer="parcels")
    write(geopandas.GeoDataFrame({"n": [1]}, geometry=[shapely.Point(-88.3, 40)], crs=LONLAT), path, layer="wells")
    field = read_outline(path)
    assert "layer 'parcels' was read; 1 other layer left out" in field.problems


def test_folders_of_kml_are_layers(tmp_path):
    ring = "-88.3,40 -88.29,40 -88.29,40.01 -88.3,40.01 -88.3,40"
    mark = (
        "<Placemark><name>{0}</name><Polygon><outerBoundaryIs><LinearRing><coordinates>"
        + ring
        + "</coordinates></LinearRing></outerBoundaryIs></Polygon></Placemark>"
    )
    pin = "<Placemark><name>gate</name><Point><coordinates>-88.3,40</coordinates></Point></Placemark>"
    path = tmp_path / "a.kml"
    head, tail = '<kml xmlns="http://www.opengis.net/kml/2.2"><Document><name>farm</name>', "</Document></kml>"
    path.write_text(
        f"{head}<Folder><name>f</name>{mark.format('East')}</Folder><Folder><name>p</name>{pin}</Folder>{tail}"
    )
    assert read_outline(path).name == "East"
    path.write_text(head + "".join(f"<Folder><name>{n}</name>{mark.format(n)}</Folder>" for n in ("a", "b")) + tail)
    with pytest.raises(OutlineError, match="several layers"):
        read_outline(path)
    assert read_outline(path, rules=FileRules(layer="b")).name == "b"
    kmz = tmp_path / "a.kmz"
    with zipfile.ZipFile(kmz, "w") as archive:
        archive.write(path, "doc.kml")
    assert read_outline(kmz, rules=FileRules(layer="b")).name == "b"


def test_geojson_features_are_chosen_by_typed_attributes(tmp_path):
    features = [
        {"type": "Feature", "properties": properties, "geometry": shapely.geometry.mapping(shape)}
        for shape, properties in [
            (FIELD, {"acres": 12, "who": None, "is_ours": True, "tags": ["x"], "ACRES": 1}),
            (SMALL, {"acres": 7.5, "who": "B", "is_ours": False, "fid": 3, "": 1}),
        ]
    ]
    path = tmp_path / "a.geojson"
    path.write_text(json.dumps({"type": "FeatureCollection", "features": features}))
    for where, shape in [
        ("acres > 10", FIELD), ("acres < 10", SMALL), ("who IS NULL", FIELD), ("is_ours", FIELD), ("fid = 3", SMALL),
        ("tags LIKE '%x%'", FIELD),
    ]:  # fmt: skip
        assert off_m(read_outline(path, rules=FileRules(where=where)), shape) < 1e-3, where


# ---------------------------------------------------------------- well-known text


def test_well_known_text_in_its_forms(tmp_path):
    path = tmp_path / "a.wkt"
    plane = shapely.transform(FIELD, lambda xy: np.column_stack(
        Transformer.from_crs(LONLAT, "EPSG:26916", always_xy=True).transform(*xy.T)))  # fmt: skip
    path.write_text(f"SRID=26916;{plane.wkt}")
    assert off_m(read_outline(path), FIELD) < 1e-3
    path.write_text(f"\ufeff{FIELD.wkt}\r\n{SMALL.wkt};\n", encoding="utf-8")
    assert len(read_outline(path, crs=LONLAT).shape.geoms) == 2
    path.write_text(f"GEOMETRYCOLLECTION({FIELD.wkt},\n {SMALL.wkt}, POINT(1 2))")
    field = read_outline(path, crs=LONLAT)
    assert len(field.shape.geoms) == 2
    assert any("is a Point" in change.what for change in field.changes)
    path.write_text("POLYGON((-88.3 40, -88.29 40,\n -88.29 40.01,\n -88.3 40.01, -88.3 40))")
    assert len(read_outline(path, crs=LONLAT).shape.geoms) == 1


def test_table_with_a_column_for_its_system(tmp_path):
    path = tmp_path / "a.csv"
    plane = table([FIELD], "EPSG:3435").geometry[0]
    for heading, value in (("srid", "3435"), ("EPSG", "3435"), ("crs", "EPSG:3435"), ("crs", "Illinois East ftUS")):
        path.write_text(f"name;the_geom;{heading}\nHome;{plane.wkt};{value}\n")
        field = read_outline(path)
        assert off_m(field, FIELD) < 1e-3
        assert field.name == "Home"
    path.write_text(f"the_geom\tsrid\n{plane.wkt}\t3435\n{plane.wkt}\t26916\n")
    with pytest.raises(OutlineError, match="several coordinate systems"):
        read_outlines(path)


# ---------------------------------------------------------------- farms


def test_folder_of_every_format(tmp_path):
    for suffix in ("gpkg", "fgb", "kml", "parquet", "geojson", "shp"):
        write(table([FIELD], name=[suffix]), tmp_path / f"of_{suffix}.{suffix}")
    (tmp_path / "prices.csv").write_text("crop,price\ncorn,4.10\n")
    (tmp_path / "empty.csv").write_text("")
    (tmp_path / "notes.txt").write_text("x")
    fields = read_farm([tmp_path])
    assert sorted(field.name for field in fields) == ["fgb", "geojson", "gpkg", "kml", "parquet", "shp"]
    empty = tmp_path / "none"
    empty.mkdir()
    with pytest.raises(FileError, match=r"holds no outline .*\.gpkg"):
        read_farm([empty])


def test_every_suffix_is_a_kind_that_content_can_tell(parcels):
    _, paths = parcels
    for suffix, path in paths.items():
        assert sniff(path).form == SUFFIXES[f".{suffix}"]


def test_layer_of_a_file_of_one_is_its_name(tmp_path):
    for suffix in ("shp", "fgb"):
        path = write(table([FIELD]), tmp_path / f"home place.{suffix}")
        assert off_m(read_outline(path, rules=FileRules(layer="home place")), FIELD) < 1e-3
        with pytest.raises(OutlineError, match="no layer 'x'") as caught:
            read_outline(path, rules=FileRules(layer="x"))
        assert "home place" in caught.value.problems[0]
