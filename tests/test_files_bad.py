"""Polygon files that are damaged, odd or hostile: one clear message each, nothing written, nothing let through."""

import re
import shutil
import sqlite3
import struct
import warnings
import zipfile
from contextlib import suppress
from pathlib import Path

import geopandas
import numpy as np
import pyarrow
import pyarrow.parquet
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldgeo.errors import CrsError, FieldgeoError, FileError, OutlineError
from fieldgeo.frame import LONLAT
from fieldgeo.outline.files import archive, kinds, vector
from fieldgeo.outline.files.condition import rows_that_meet
from fieldgeo.outline.files.damage import damage
from fieldgeo.outline.files.read import read_file
from fieldgeo.outline.files.vector import read_vector
from fieldgeo.outline.read import read_outline, read_outlines
from fieldgeo.outline.rules import FileRules

FIELD = shapely.box(-88.30, 40.00, -88.29, 40.0075)
RING = "-88.3,40 -88.29,40 -88.29,40.01 -88.3,40.01 -88.3,40"
KML = (
    '<?xml version="1.0"?>{0}<kml xmlns="http://www.opengis.net/kml/2.2"><Document><Placemark><name>{1}</name><Polygon>'
    "<outerBoundaryIs><LinearRing><coordinates>{2}</coordinates></LinearRing></outerBoundaryIs></Polygon></Placemark>"
    "</Document></kml>"
)
FORMATS = ["gpkg", "shp", "fgb", "kml", "parquet", "csv", "zip"]


def write(path, shapes=(FIELD,) * 3, crs=LONLAT, **options):
    frame = geopandas.GeoDataFrame({"n": range(len(shapes))}, geometry=list(shapes), crs=crs)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        if path.suffix == ".parquet":
            frame.to_parquet(path)
        elif path.suffix == ".csv":
            frame.assign(wkt=frame.geometry.to_wkt()).drop(columns="geometry").to_csv(path, index=False)
        elif path.suffix == ".zip":
            write(path.with_suffix(".shp"), shapes, crs)
            with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as packed:
                for end in (".shp", ".shx", ".dbf", ".prj"):
                    packed.write(path.with_suffix(end), f"a{end}")
        else:
            frame.to_file(path, **({"driver": "KML"} if path.suffix == ".kml" else {}), **options)
    return path


def listing(folder):
    return {file: file.read_bytes() for file in folder.iterdir()}


# ---------------------------------------------------------------- damaged files


@pytest.mark.parametrize("suffix", FORMATS)
@pytest.mark.parametrize("share", [0.0, 0.02, 0.3, 0.6, 0.9, 0.999])
def test_truncated_files_are_refused(tmp_path, suffix, share, capfd, recwarn):
    path = write(tmp_path / f"a.{suffix}")
    content = path.read_bytes()
    path.write_bytes(content[: min(int(len(content) * share), len(content) - 3)])
    before = listing(tmp_path)
    for rules in (FileRules(where="n = 0"), FileRules()):
        with pytest.raises(FieldgeoError) as caught:
            read_outlines(path, crs=LONLAT, rules=rules)
    assert str(path) in str(caught.value)
    assert "source." not in str(caught.value)  # no name of ours
    assert listing(tmp_path) == before
    assert capfd.readouterr() == ("", "")
    assert not recwarn.list


@pytest.mark.parametrize("end", [".shx", ".dbf"])
def test_truncated_side_files_are_refused(tmp_path, end):
    path = write(tmp_path / "a.shp")
    side = path.with_suffix(end)
    side.write_bytes(side.read_bytes()[:-20])
    with pytest.raises(OutlineError, match="this shapefile is damaged") as caught:
        read_outlines(path)
    assert f"{end} ends early" in caught.value.problems[0]


@settings(max_examples=30)
@given(data=st.data())
def test_any_changed_bytes_give_fields_or_our_own_errors(tmp_path_factory, data):
    suffix = data.draw(st.sampled_from(["gpkg", "shp", "fgb", "parquet", "zip", "kml"]))
    folder = tmp_path_factory.mktemp("changed")
    path = write(folder / f"a.{suffix}")
    content = bytearray(path.read_bytes())
    for _ in range(data.draw(st.integers(1, 6))):
        content[data.draw(st.integers(0, len(content) - 1))] = data.draw(st.integers(0, 255))
    path.write_bytes(content)
    kind = kinds.SUFFIXES[path.suffix]
    for rules in (FileRules(), FileRules(where="n = 1"), FileRules(at_lonlat=(-88.295, 40.003))):
        with suppress(FieldgeoError):
            read_file(path, kind, rules, crs=LONLAT)


@settings(max_examples=100)
@given(text=st.text(alphabet='POLYGON((1 2,3.5);\n",wkt-eMULTIZE\0é', max_size=80))
def test_any_text_as_well_known_text_gives_our_own_errors(tmp_path_factory, text):
    path = tmp_path_factory.mktemp("text") / "a.wkt"
    path.write_text(text, encoding="utf-8")
    with suppress(FieldgeoError):
        read_file(path, "wkt", FileRules())


@settings(max_examples=60)
@given(where=st.text(max_size=30))
def test_any_condition_gives_rows_or_our_own_errors(where):
    with suppress(OutlineError):
        assert set(rows_that_meet([{"PIN": "1", "n": 1.5}, {"PIN": None}], where, "a file")) <= {0, 1}


def test_files_that_are_not_there_or_no_files(tmp_path):
    for kind in ("geopackage", "shapefile", "zip", "geoparquet", "wkt", "geojson"):
        with pytest.raises(FileError, match="no such file"):
            read_file(tmp_path / "none", kind, FileRules())
        with pytest.raises(FileError, match="not a plain file"):
            read_file(tmp_path, kind, FileRules())
    with pytest.raises(FileError, match=r"no such file|cannot be read"):
        read_file(Path("a\0b"), "zip", FileRules())


@pytest.mark.parametrize("suffix", [*FORMATS, "geojson"])
def test_huge_files_are_refused_unread(tmp_path, suffix):
    path = tmp_path / f"huge.{suffix}"
    kind = kinds.SUFFIXES[path.suffix]
    with path.open("wb") as file:
        file.truncate(kinds.largest_bytes(kind) + 1)  # no disk is used
    with pytest.raises(OutlineError, match="MB at most"):
        read_file(path, kind, FileRules())


@pytest.mark.parametrize("suffix", ["gpkg", "shp", "fgb", "parquet", "csv"])
def test_too_many_features_or_corners_are_refused(tmp_path, suffix, monkeypatch):
    path = write(tmp_path / f"a.{suffix}")
    for module in (vector, "fieldgeo.outline.files.parquet", "fieldgeo.outline.files.wkt"):
        target = module if isinstance(module, str) else module.__name__
        monkeypatch.setattr(f"{target}.MOST_FEATURES", 2)
    with pytest.raises(OutlineError, match=r"too many features|are the most"):
        read_outlines(path, crs=LONLAT)
    if suffix != "csv":
        assert len(read_outlines(path, rules=FileRules(where="n < 2"))) == 2


def test_features_are_read_in_pieces(tmp_path, monkeypatch):
    monkeypatch.setattr(vector, "_AT_ONCE", 2)
    for suffix in ("gpkg", "shp", "fgb", "kml"):
        fields = read_outlines(write(tmp_path / f"a.{suffix}", [FIELD] * 5))
        assert len(fields) == 5
        assert len({field.name for field in fields}) == 5


# ---------------------------------------------------------------- the wrong thing inside


def test_shapefile_under_another_name(tmp_path):
    path = write(tmp_path / "a.shp").rename(tmp_path / "b.geojson")
    with pytest.raises(OutlineError, match="it is a shapefile, which is several files of one name") as caught:
        read_outline(path)
    assert "b.shx is not beside it" in caught.value.problems[0]
    for end in (".shx", ".dbf", ".prj"):
        (tmp_path / f"a{end}").rename(tmp_path / f"b{end.upper()}")
    assert len(read_outlines(path)) == 3


def test_shapefile_without_its_table_still_has_its_shapes(tmp_path):
    path = write(tmp_path / "a.shp", [FIELD])
    path.with_suffix(".dbf").unlink()
    assert read_outline(path).name == "a"


@pytest.mark.parametrize("suffix", ["gpkg", "shp", "fgb", "parquet"])
def test_empty_layers_are_refused(tmp_path, suffix):
    path = tmp_path / f"a.{suffix}"
    frame = geopandas.GeoDataFrame({"n": np.array([], dtype=int)}, geometry=[], crs=LONLAT)
    if suffix == "parquet":
        frame.to_parquet(path)
    else:
        frame.to_file(path, geometry_type="Polygon")
    with pytest.raises(OutlineError, match="there is no feature in it"):
        read_outline(path)


@pytest.mark.parametrize("suffix", ["gpkg", "fgb", "parquet"])
def test_null_empty_and_other_shapes_are_left_out_with_a_word(tmp_path, suffix):
    shapes = [FIELD, None, shapely.Point(-88.3, 40), shapely.Polygon(), shapely.LineString([(0, 0), (1, 1)])]
    path = write(tmp_path / f"a.{suffix}", shapes, **({} if suffix == "parquet" else {"SPATIAL_INDEX": "NO"}))
    changes = [change.what for change in read_outline(path, rules=FileRules(where="1 = 1")).changes]
    for words in ("has no geometry (null)", "is a Point", "is a LineString"):
        assert any(words in change and "left out" in change for change in changes), (words, changes)
    with pytest.raises(OutlineError, match="faults"):
        read_outlines(path)


@pytest.mark.parametrize("suffix", ["gpkg", "shp", "fgb", "parquet", "csv", "kml"])
@pytest.mark.parametrize("shape", [shapely.Point(-88.3, 40), shapely.LineString([(-88.3, 40), (-88.2, 40)])])
def test_points_and_lines_alone_are_refused(tmp_path, suffix, shape):
    with pytest.raises(OutlineError, match=r"Point|Line|no layer in it has polygons"):
        read_outline(write(tmp_path / f"a.{suffix}", [shape]), crs=LONLAT)


@pytest.mark.parametrize("suffix", ["gpkg", "shp", "fgb", "parquet", "csv", "kml"])
def test_heights_are_left_out_with_a_word(tmp_path, suffix):
    path = write(tmp_path / f"a.{suffix}", [shapely.force_3d(FIELD, 250.0)])
    field = read_outline(path, crs=LONLAT)
    assert any("heights of 5 points left out" in change.what for change in field.changes)
    assert field.area_m2 == pytest.approx(read_outline(write(tmp_path / "b.fgb", [FIELD])).area_m2, rel=1e-9)


def test_measures_are_left_out_with_a_word(tmp_path):
    path = tmp_path / "a.wkt"
    path.write_text("POLYGON M ((-88.3 40 1, -88.29 40 2, -88.29 40.01 3, -88.3 40.01 4, -88.3 40 1))")
    assert any("measures of 5 points" in change.what for change in read_outline(path, crs=LONLAT).changes)


def with_shape(path, shape, *, srs=26916):
    """Put bytes of a shape into the one feature of a GeoPackage."""
    with sqlite3.connect(path) as database:
        for trigger in database.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            database.execute(f'DROP TRIGGER "{trigger[0]}"')
        database.execute("UPDATE a SET geom = ?", (b"GP\0\x01" + struct.pack("<i", srs) + shape,))
    database.close()
    return path


def test_curves_are_drawn_as_straight_sides_and_told(tmp_path):
    path = write(tmp_path / "a.gpkg", [shapely.box(500000, 4600000, 500100, 4600100)], "EPSG:26916")
    x, y, radius_m = 500_000.0, 4_600_000.0, 200.0
    points = [(x - radius_m, y), (x, y + radius_m), (x + radius_m, y), (x, y - radius_m), (x - radius_m, y)]
    arc = struct.pack("<BII", 1, 8, 5) + b"".join(struct.pack("<dd", *point) for point in points)
    field = read_outline(with_shape(path, struct.pack("<BII", 1, 10, 1) + arc))
    assert any("curves drawn as straight sides, one each 0.5 degrees" in change.what for change in field.changes)
    # Derived: a circle cut in steps of d loses 1 - sin(d)/d of its area, 1.3e-5 for half a degree; the UTM plane is
    # 0.9996 long there, so that the ground is 1/0.9996^2 larger.
    step = np.radians(0.5)
    area_m2 = np.pi * radius_m**2 * np.sin(step) / step / 0.9996**2
    assert field.area_m2 == pytest.approx(area_m2, rel=2e-6)
    wkt = tmp_path / "a.wkt"
    wkt.write_text("CURVEPOLYGON(CIRCULARSTRING(0 0, 4 0, 4 4, 0 4, 0 0))")
    with pytest.raises(OutlineError, match="has curves"):
        read_outline(wkt, crs=LONLAT)


def test_open_and_broken_rings_are_told(tmp_path):
    path = write(tmp_path / "a.gpkg", [FIELD])
    points = shapely.get_coordinates(FIELD)[:4]
    ring = struct.pack("<BIII", 1, 3, 1, 4) + points.astype("<f8").tobytes()
    field = read_outline(with_shape(path, ring, srs=4326))
    assert any("rings that were open are closed" in change.what for change in field.changes)
    with pytest.raises(OutlineError, match="geometry is broken"):
        read_outline(with_shape(path, struct.pack("<BIII", 1, 3, 1, 1) + b"\0" * 16, srs=4326))
    bad = np.vstack([points, points[:1]])
    bad[1, 0] = np.nan
    with pytest.raises(OutlineError, match="points that are not finite"):
        read_outline(with_shape(path, struct.pack("<BIII", 1, 3, 1, 5) + bad.astype("<f8").tobytes(), srs=4326))


def test_geopackage_is_left_as_it_is(tmp_path):
    path = write(tmp_path / "a.gpkg", [FIELD])
    database = sqlite3.connect(path)
    assert database.execute("PRAGMA journal_mode = WAL").fetchone() == ("wal",)
    database.execute("DELETE FROM gpkg_ogr_contents")
    database.commit()
    open_files = listing(tmp_path)  # with the write-ahead log beside it, still in use
    assert len(open_files) == 3
    assert read_outline(path).area_m2 > 1e5
    assert listing(tmp_path) == open_files
    database.close()
    alone = tmp_path / "alone"
    alone.mkdir()
    shutil.copy(path, alone)
    assert read_outline(alone / "a.gpkg").area_m2 > 1e5
    assert [file.name for file in alone.iterdir()] == ["a.gpkg"]


def test_query_in_a_geopackage_is_not_run(tmp_path):
    path = write(tmp_path / "a.gpkg", [FIELD])
    with sqlite3.connect(path) as database:  # one that never ends
        database.execute(
            "CREATE VIEW evil AS WITH RECURSIVE r(n) AS (SELECT 1 UNION ALL SELECT n + 1 FROM r) "
            "SELECT n AS fid, geom FROM a, r"
        )
        database.execute(
            "INSERT INTO gpkg_contents (table_name, data_type, identifier, srs_id) "
            "VALUES ('evil', 'features', 'evil', 4326)"
        )
        database.execute("INSERT INTO gpkg_geometry_columns VALUES ('evil', 'geom', 'POLYGON', 4326, 0, 0)")
    database.close()
    assert "layer 'a' was read; 1 other layer left out" in read_outline(path).problems
    with pytest.raises(OutlineError, match="is a query and is not run"):
        read_outline(path, rules=FileRules(layer="evil"))


def test_database_that_is_no_geopackage(tmp_path):
    path = tmp_path / "a.gpkg"
    with sqlite3.connect(path) as database:
        database.execute("CREATE TABLE t (x INTEGER)")
    database.close()
    with pytest.raises(OutlineError, match=r"cannot be used|no layer"):
        read_outline(path)


def test_parquet_without_shapes(tmp_path):
    path = tmp_path / "a.parquet"
    table = pyarrow.table({"n": [1]})
    pyarrow.parquet.write_table(table, path)
    with pytest.raises(OutlineError, match="a Parquet table without shapes"):
        read_outline(path)
    for geo in (b"null", b"[", b'{"primary_column": "geometry", "columns": {"geometry": {}}}', b"[" * 100_000):
        pyarrow.parquet.write_table(table.replace_schema_metadata({b"geo": geo}), path)
        with pytest.raises(OutlineError, match="cannot be used"):
            read_outline(path)


def test_parquet_of_nested_lists_is_read(tmp_path):
    path = tmp_path / "a.parquet"
    geopandas.GeoDataFrame({"name": ["Home"]}, geometry=[FIELD], crs=LONLAT).to_parquet(
        path, geometry_encoding="geoarrow", schema_version="1.1.0"
    )
    field = read_outline(path)
    assert field.name == "Home"
    assert field.area_m2 == pytest.approx(read_outline(write(tmp_path / "a.fgb", [FIELD])).area_m2, rel=1e-9)


def raise_faults(path):
    """Raise what is wrong with a file of well-known text, of the file or of a feature."""
    faults = [fault for outline in read_file(path, "wkt", FileRules()).outlines for fault in outline.faults]
    raise OutlineError("faults", faults)


def test_text_that_is_no_table_of_shapes(tmp_path):
    path = tmp_path / "a.csv"
    for content, words in [
        ("a,b\n1,2\n", "no column holds shapes"),
        ("a,wkt\n", "a heading and no rows"),
        ('a,wkt\n1,"POLYGON((\n', "no table of separated values"),
        ("a,wkt\n1,nothing\n2,\n", "is no well-known text"),
        ("wkt,n\nPOLYGON((0 0),1\n", "cannot be read"),
    ]:
        path.write_text(content)
        with pytest.raises(OutlineError, match=words):
            raise_faults(path)
    path.write_bytes(b"wkt\n\xff\xfe")
    with pytest.raises(OutlineError, match="no text in UTF-8"):
        read_file(path, "wkt", FileRules())


# ---------------------------------------------------------------- files that do harm


def test_entities_of_kml_are_refused(tmp_path):
    path = tmp_path / "a.kml"
    lines = ['<!ENTITY a0 "ha">'] + [f'<!ENTITY a{n} "{f"&a{n - 1};" * 10}">' for n in range(1, 10)]
    for doctype, name in [
        (f"<!DOCTYPE kml [{''.join(lines)}]>", "&a9;"),
        ('<!DOCTYPE kml [<!ENTITY x SYSTEM "file:///etc/passwd">]>', "&x;"),
        ('<!DOCTYPE kml [<!ENTITY x "y">]>', "x"),
    ]:
        path.write_text(KML.format(doctype, name, RING))
        with pytest.raises(OutlineError, match="this KML is damaged") as caught:
            read_outline(path)
        assert "declares XML entities" in caught.value.problems[0]
    path.write_text(KML.format("", "Home &amp; away", RING))
    assert read_outline(path).name == "Home & away"


def test_links_of_kml_are_not_followed(tmp_path):
    inner = tmp_path / "inner.kml"
    inner.write_text(KML.format("", "secret", RING))
    link = f"<NetworkLink><Link><href>{inner.as_uri()}</href></Link></NetworkLink>"
    path = tmp_path / "a.kml"
    path.write_text(f'<kml xmlns="http://www.opengis.net/kml/2.2"><Document>{link}</Document></kml>')
    with pytest.raises(OutlineError):
        read_outline(path)


def test_markup_and_control_codes_in_attributes_are_only_text(tmp_path):
    name = "<script>alert(1)</script>\x1b[2J\n\u202ex"
    frame = geopandas.GeoDataFrame({"PIN": [name, "2"]}, geometry=[FIELD, FIELD], crs=LONLAT)
    frame.to_file(tmp_path / "a.gpkg")
    with pytest.raises(OutlineError) as caught:
        read_outline(tmp_path / "a.gpkg")
    assert not re.search("[\x00-\x09\x0b-\x1f\u202e]", str(caught.value))
    frame.rename(columns={"PIN": "name"}).iloc[:1].to_file(tmp_path / "b.gpkg")
    assert not re.search("[\x00-\x1f\u202e]", read_outline(tmp_path / "b.gpkg").name)


def packed(path, *entries, method=zipfile.ZIP_DEFLATED):
    with zipfile.ZipFile(path, "w", method) as made, warnings.catch_warnings():
        warnings.simplefilter("ignore")  # names that come twice
        for name, content in entries:
            made.writestr(name, content)
    return path


def refused(path, words):
    with pytest.raises(OutlineError, match="cannot be used") as caught:
        read_outline(path)
    assert words in str(caught.value)


def test_zip_bombs_are_refused_by_their_list(tmp_path):
    path = tmp_path / "a.zip"
    refused(packed(path, ("a.kml", b"0" * 30_000_000)), "a.kml grows 1,0")
    refused(packed(path, *((f"{number}.txt", b"") for number in range(1001))), "1,001 entries")
    refused(packed(path, ("../a.kml", b"x")), "leads out of its folder")
    refused(packed(path, ("/etc/a.kml", b"x")), "leads out of its folder")
    refused(packed(path, ("..\\a.kml", b"x")), "leads out of its folder")
    refused(packed(path, ("c:/a.kml", b"x")), "leads out of its folder")
    refused(packed(path, ("inner.zip", b"PK\x05\x06" + b"\0" * 18)), "no polygon file in it")
    refused(packed(path), "it is empty")


def test_zip_that_lies_about_a_size_is_stopped(tmp_path, monkeypatch):
    path = packed(tmp_path / "a.zip", ("a.kml", b"0" * 5_000_000))
    content = path.read_bytes()
    size = struct.pack("<I", 5_000_000)
    assert content.count(size) == 2  # in the entry and in the list
    path.write_bytes(content.replace(size, struct.pack("<I", 1000)))
    written = []
    put = Path.open

    def watched(self, mode="r", *more, **options):
        if "w" in mode:
            written.append(self)
        return put(self, mode, *more, **options)

    monkeypatch.setattr(Path, "open", watched)
    with pytest.raises(OutlineError, match="cannot be used"):
        read_outline(path)
    assert written
    assert not written[0].exists()  # the folder has gone again


def test_zip_total_is_limited(tmp_path, monkeypatch):
    path = packed(tmp_path / "a.zip", ("a.kml", b"x" * 2000), ("b.txt", b"x" * 2000))
    monkeypatch.setattr(archive, "largest_bytes", lambda _: 3000)
    refused(path, "unpacked it would have")


def test_zip_with_several_files_lists_them(tmp_path):
    kml = KML.format("", "Home", RING).encode()
    path = packed(tmp_path / "a.zip", ("x/one.kml", kml), ("two.KML", kml), ("read.me", b""), (".hidden.kml", kml))
    with pytest.raises(OutlineError, match="several polygon files") as caught:
        read_outline(path)
    assert caught.value.problems == ("x/one.kml", "two.KML")
    assert read_outline(path, rules=FileRules(layer="one")).name == "Home"
    packed(path, ("one.kml", kml), ("about.csv", b"a,b"), ("about.json", b"{}"))
    assert read_outline(path).name == "Home"


def test_locked_and_damaged_zip_files(tmp_path):
    path = packed(tmp_path / "a.zip", ("a.kml", KML.format("", "Home", RING)), method=zipfile.ZIP_STORED)
    content = path.read_bytes()
    path.write_bytes(content.replace(b"Home", b"Hole"))  # the check sum no longer fits
    refused(path, "damaged")
    where = content.index(b"PK\x01\x02") + 8
    path.write_bytes(content[:where] + b"\x01" + content[where + 1 :])
    refused(path, "locked by a password")


def test_zip_shapefile_takes_its_own_side_files(tmp_path):
    path = write(tmp_path / "a.zip", [FIELD])
    with zipfile.ZipFile(path, "a") as archive_:
        archive_.writestr("other/a.prj", "nonsense")
        archive_.writestr("a.shp.xml", "<x/>")
    assert read_outline(path).source_crs == LONLAT


def test_virtual_files_of_the_library_are_not_reached():
    # A path that the shape library would take for an address is a name of a file like any other.
    for name in ("/vsizip/a.zip", "zip://a.zip", "https://localhost/a.gpkg"):
        with pytest.raises(FileError, match="no such file"):
            read_outline(name)


def test_damage_is_silent_about_whole_files(tmp_path):
    for suffix in ("gpkg", "shp", "fgb", "kml", "parquet"):
        path = write(tmp_path / f"a.{suffix}")
        assert damage(path, kinds.SUFFIXES[path.suffix]) == ""


def test_unknown_layer_and_system_are_told_before_anything_is_read(tmp_path):
    path = write(tmp_path / "a.gpkg")
    with pytest.raises(CrsError, match="names no known system"):
        read_outlines(path, crs="EPSG:1")
    from fieldgeo.outline.files.layer import Given

    layer = read_vector(Given(path=path, name="a"), "geopackage", FileRules(layer="a"), None)
    assert layer.columns == ("n",)
