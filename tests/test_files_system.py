"""Coordinate systems of files: followed, asked for, told apart by unit factors, and refused when they cannot be."""

import json
import sqlite3
import warnings

import geopandas
import numpy as np
import pyarrow.parquet
import pytest
import shapely
from pyproj import CRS, Transformer

from fieldgeo.errors import CrsError, OutlineError
from fieldgeo.frame import LONLAT
from fieldgeo.outline.read import read_outline
from fieldgeo.outline.rules import FileRules

FIELD = shapely.box(-88.30, 40.00, -88.29, 40.0075)  # where Illinois East is made for
# The text that other programs write for EPSG:3435, with the unit factor left open.
FOOT_US = (
    'PROJCS["NAD_1983_StatePlane_Illinois_East_FIPS_1201_Feet",GEOGCS["GCS_North_American_1983",'
    'DATUM["D_North_American_1983",SPHEROID["GRS_1980",6378137.0,298.257222101]],PRIMEM["Greenwich",0.0],'
    'UNIT["Degree",0.0174532925199433]],PROJECTION["Transverse_Mercator"],PARAMETER["False_Easting",984250.0],'
    'PARAMETER["False_Northing",0.0],PARAMETER["Central_Meridian",-88.33333333333333],'
    'PARAMETER["Scale_Factor",0.999975],PARAMETER["Latitude_Of_Origin",36.66666666666666],UNIT["Foot_US",{}]]'
)


def write(path, crs, shape=FIELD, **options):
    frame = geopandas.GeoDataFrame({"n": [1]}, geometry=[shape], crs=LONLAT)
    frame = frame if crs is None else frame.to_crs(crs)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        if path.suffix == ".parquet":
            frame.to_parquet(path)
        elif path.suffix == ".csv":
            frame.assign(wkt=frame.geometry.to_wkt(rounding_precision=9)).drop(columns="geometry").to_csv(path)
        else:
            frame.to_file(path, **options)
    return path


def off_m(field, shape_lonlat=FIELD):
    expected = shapely.transform(shape_lonlat, lambda lonlat: np.column_stack(field.frame.to_frame(*lonlat.T)))
    return shapely.hausdorff_distance(shapely.boundary(field.shape), shapely.boundary(expected))


def without_system(tmp_path, suffix, crs):
    path = write(tmp_path / f"a.{suffix}", crs)
    if suffix == "shp":
        path.with_suffix(".prj").unlink()
    elif suffix == "gpkg":
        with sqlite3.connect(path) as database:
            for trigger in database.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
                database.execute(f'DROP TRIGGER "{trigger[0]}"')
            for name in ("gpkg_contents", "gpkg_geometry_columns"):
                database.execute(f"UPDATE {name} SET srs_id = {-1 if crs == 'EPSG:3435' else 0}")
        database.close()
    elif suffix == "parquet":
        table = pyarrow.parquet.read_table(path)
        geo = json.loads(table.schema.metadata[b"geo"])
        geo["columns"]["geometry"]["crs"] = None
        pyarrow.parquet.write_table(table.replace_schema_metadata({b"geo": json.dumps(geo)}), path)
    elif suffix == "fgb":
        frame = geopandas.read_file(path).set_crs(None, allow_override=True)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            frame.to_file(path)
    return path


@pytest.mark.parametrize("suffix", ["shp", "gpkg", "fgb", "parquet", "csv"])
@pytest.mark.parametrize(("crs", "looks"), [("EPSG:3435", "metres or feet"), (LONLAT, "degrees")])
def test_missing_system_is_asked_for_and_never_assumed(tmp_path, suffix, crs, looks):
    path = without_system(tmp_path, suffix, crs)
    for rules in (FileRules(), FileRules(at_lonlat=(-88.295, 40.003))):
        with pytest.raises(CrsError, match=r"system is not known: .*look like .*Name it with --crs") as caught:
            read_outline(path, rules=rules)
        assert f"look like {looks}" in str(caught.value)
        assert str(path) in str(caught.value)
    assert off_m(read_outline(path, crs=crs)) < 1e-3


def test_formats_that_have_a_system_of_their_own_are_not_asked(tmp_path):
    path = write(tmp_path / "a.parquet", LONLAT)
    table = pyarrow.parquet.read_table(path)
    geo = json.loads(table.schema.metadata[b"geo"])
    geo["columns"]["geometry"].pop("crs", None)  # GeoParquet 1.1: without the key it is OGC:CRS84
    pyarrow.parquet.write_table(table.replace_schema_metadata({b"geo": json.dumps(geo)}), path)
    assert off_m(read_outline(path)) < 1e-3
    assert off_m(read_outline(write(tmp_path / "a.kml", "EPSG:4326", driver="KML"))) < 1e-3


@pytest.mark.parametrize(
    ("factor", "code", "note"),
    [
        ("0.3048006096012192", "EPSG:3435", False),
        ("0.304800609601219", "EPSG:3435", False),
        ("0.3048", None, True),
    ],
)
def test_foot_of_a_prj_file_is_read_by_its_factor(tmp_path, factor, code, note):
    system = CRS.from_wkt(FOOT_US.format(factor))
    path = write(tmp_path / "a.shp", system)
    path.with_suffix(".prj").write_text(FOOT_US.format(factor))
    field = read_outline(path)
    assert off_m(field) < 1e-3  # derived: the wrong foot would be 0.6 m off in the false easting alone
    assert field.source_crs == (code or system.name)
    assert any("followed" in problem and "international feet" in problem for problem in field.problems) is note


def test_wrong_foot_moves_the_field_derived(tmp_path):
    # Derived: 984,250 x (1200/3937 - 0.3048) m = 0.6 m in the easting; the northing of 1,215,000 ft 0.74 m more.
    path = write(tmp_path / "a.shp", "EPSG:3435")
    path.with_suffix(".prj").write_text(FOOT_US.format("0.3048"))
    assert 0.5 < off_m(read_outline(path)) < 1.2
    assert off_m(read_outline(path, crs="EPSG:3435")) < 1e-3


@pytest.mark.parametrize("crs", ["EPSG:26971", "EPSG:3435"])
def test_zone_without_its_unit_is_told_by_the_places(tmp_path, crs):
    path = write(tmp_path / "a.csv", crs)
    for rules in (FileRules(), FileRules(at_lonlat=(-88.295, 40.003))):
        field = read_outline(path, crs="Illinois East", rules=rules)
        assert off_m(field) < 1e-3
        assert field.source_crs == crs
        assert any(f"'Illinois East' was read as {crs}" in problem for problem in field.problems)


def test_zone_that_the_places_do_not_tell_is_asked_for(tmp_path):
    path = write(tmp_path / "a.csv", "EPSG:26915")
    with pytest.raises(CrsError, match=r"more than one unit.*EPSG:26971.*EPSG:3435"):
        read_outline(path, crs="Illinois East")


@pytest.mark.parametrize("crs", ["EPSG:26915", "EPSG:3435", "Illinois East ftUS"])
def test_degrees_in_a_system_of_metres_are_refused_by_name(tmp_path, crs):
    for path in (write(tmp_path / "a.geojson", LONLAT), write(tmp_path / "a.gpkg", LONLAT)):
        with pytest.raises(CrsError, match=r"look like degrees, but .* counts in (metres|US survey feet)") as caught:
            read_outline(path, crs=crs)
        assert crs in str(caught.value)


def test_metres_in_a_system_of_degrees_are_refused(tmp_path):
    path = write(tmp_path / "a.csv", "EPSG:26916")
    with pytest.raises(OutlineError, match="1 fault"):
        read_outline(path, crs=LONLAT)


def test_system_asked_for_goes_before_the_one_of_the_file(tmp_path):
    path = write(tmp_path / "a.gpkg", "EPSG:26916")
    field = read_outline(path, crs="EPSG:32616")
    assert field.source_crs == "EPSG:32616"
    assert "read as EPSG:32616, as asked, although the file says EPSG:26916" in field.problems
    assert "read as EPSG:26916" not in " ".join(read_outline(path, crs="EPSG:26916").problems)
    with sqlite3.connect(path) as database:  # the file's own word need not be readable then
        database.execute("UPDATE gpkg_spatial_ref_sys SET definition = 'PROJCS[nonsense', organization = 'x'")
    database.close()
    assert off_m(read_outline(path, crs="EPSG:26916")) < 1e-3


def test_broken_prj_is_told(tmp_path):
    path = write(tmp_path / "a.shp", "EPSG:3435")
    path.with_suffix(".prj").write_text('PROJCS["half a')
    with pytest.raises(CrsError, match="names no known system"):
        read_outline(path)
    assert off_m(read_outline(path, crs="EPSG:3435")) < 1e-3
    path.with_suffix(".prj").write_text("/etc/passwd")
    with pytest.raises(CrsError, match="is not known"):
        read_outline(path)


def test_old_datum_and_other_zones_are_noted(tmp_path):
    field = read_outline(write(tmp_path / "a.gpkg", "EPSG:3435"))
    assert any("North American Datum 1983" in problem for problem in field.problems)
    far = shapely.transform(FIELD, lambda lonlat: lonlat - np.array([5.0, 0.0]))
    field = read_outline(write(tmp_path / "b.gpkg", "EPSG:3435", far))
    assert any("outside the area" in problem for problem in field.problems)


def test_latitude_first_is_seen(tmp_path):
    path = tmp_path / "a.wkt"
    path.write_text(shapely.transform(FIELD, lambda lonlat: lonlat[:, ::-1]).wkt)
    with pytest.raises(OutlineError, match="latitude"):
        read_outline(path, crs=LONLAT)


def test_axis_order_of_a_definition_changes_nothing(tmp_path):
    # OGC GeoPackage and GeoParquet: the first number is always the east one, whatever order a system itself states.
    north_first = "EPSG:2193"  # stated north first
    shape = shapely.box(172.0, -43.5, 172.01, -43.49)
    for suffix in ("gpkg", "fgb", "parquet", "shp"):
        assert off_m(read_outline(write(tmp_path / f"a.{suffix}", north_first, shape)), shape) < 1e-3
    assert Transformer.from_crs(LONLAT, north_first).transform(172.0, -43.5)[0] > 5e6


def test_code_that_does_not_fit_its_definition_is_not_believed(tmp_path):
    # A definition that calls itself EPSG:3435 and counts in international feet: the definition is followed.
    path = write(tmp_path / "a.parquet", "EPSG:3435")
    table = pyarrow.parquet.read_table(path)
    geo = json.loads(table.schema.metadata[b"geo"])
    system = geo["columns"]["geometry"]["crs"]
    assert (system["id"]["authority"], int(system["id"]["code"])) == ("EPSG", 3435)
    for axis in system["coordinate_system"]["axis"]:
        axis["unit"]["conversion_factor"] = 0.3048
    pyarrow.parquet.write_table(table.replace_schema_metadata({b"geo": json.dumps(geo)}), path)
    field = read_outline(path)
    assert field.source_crs != "EPSG:3435"
    # Derived: the false easting stays in survey feet, 300,000.6 m, and is counted off in the shorter foot: the field
    # lies 2e-6 of its coordinates off.
    assert 0.5 < off_m(field) < 2.0


def test_bounds_that_a_file_states_wrongly_do_not_matter(tmp_path):
    path = write(tmp_path / "a.gpkg", "EPSG:3435")
    with sqlite3.connect(path) as database:
        database.execute("UPDATE gpkg_contents SET min_x = 0, min_y = 0, max_x = 0, max_y = 0")
    database.close()
    assert off_m(read_outline(path, rules=FileRules(at_lonlat=(-88.295, 40.003)))) < 1e-3
