"""Open field-boundary columns: both versions of their names, the unit of area by the shape, facts told to a person.

Names, units and values: fiboa core specification 0.2.0 and 0.3.0.
"""

import json

import geopandas
import pandas as pd
import pyarrow.parquet
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from fieldgeo.errors import OutlineError
from fieldgeo.frame import LONLAT
from fieldgeo.outline.files.boundary import boundary_facts, follows_specification
from fieldgeo.outline.read import read_outline, read_outlines
from fieldgeo.outline.rules import FileRules

# Derived (geodesics on the WGS 84 ellipsoid): 920,179.372 m2 and 3,878.353 m.
FIELD = shapely.box(-93.6, 42.0, -93.59, 42.01)
AREA_M2, PERIMETER_M = 920179.372, 3878.353
OLD = {"area": "area", "perimeter": "perimeter", "method": "determination_method", "time": "determination_datetime",
       "details": "determination_details"}  # fmt: skip
NEW = {"area": "metrics:area", "perimeter": "metrics:perimeter", "method": "determination:method",
       "time": "determination:datetime", "details": "determination:details"}  # fmt: skip


def write(path, names, **values):
    columns = {names[key]: pd.Series([value]) for key, value in values.items()}
    frame = geopandas.GeoDataFrame({"id": ["7"], **columns}, geometry=[FIELD], crs=LONLAT)
    if path.suffix == ".parquet":
        frame.to_parquet(path)
    else:
        frame.to_file(path)
    return path


@pytest.mark.parametrize("suffix", ["parquet", "gpkg", "geojson"])
@pytest.mark.parametrize(
    ("names", "area"), [(OLD, AREA_M2 / 1e4), (NEW, AREA_M2 / 1e4), (NEW, AREA_M2), (OLD, AREA_M2)]
)
def test_either_names_and_either_unit_are_read(tmp_path, suffix, names, area):
    path = write(
        tmp_path / f"a.{suffix}", names, area=area, perimeter=PERIMETER_M, method="driven",
        time=pd.Timestamp("2023-05-01T12:30:00Z"), details="phone",
    )  # fmt: skip
    field = read_outline(path)
    assert field.name == "7"
    assert not any("stated" in problem for problem in field.problems)
    assert field.evidence.weak_points == (
        "boundary driven or walked with a positioning device, 2023-05-01",
        "boundary: phone",
    )


@pytest.mark.parametrize(
    ("area", "words"),
    [
        (93.0, r"stated area is 229\.81 ac \(93 hectares\), 1\.1% more than the 227\.38 ac"),
        (900_000.0, r"\(900000 square metres\), 2\.2% less than"),
        (227.38, "fits the shape neither in hectares .* nor in square metres"),  # acres are in neither version
    ],
)
def test_stated_area_that_disagrees_is_told(tmp_path, area, words):
    field = read_outline(write(tmp_path / "a.parquet", OLD, area=area, method="manual"))
    (problem,) = [problem for problem in field.problems if "stated" in problem]
    with pytest.raises(AssertionError, match=words):
        raise AssertionError(problem)
    assert field.area_m2 == pytest.approx(AREA_M2, rel=1e-7)  # the shape wins


def test_small_differences_are_not_worth_a_word():
    for share in (0.991, 1.0, 1.009):
        about, problems = boundary_facts(
            {"metrics:area": AREA_M2 * share, "metrics:perimeter": PERIMETER_M * share}, None,
            area_m2=AREA_M2, perimeter_m=PERIMETER_M,
        )  # fmt: skip
        assert (about, problems) == ((), ())
    _, problems = boundary_facts({"perimeter": 4000.0}, None, area_m2=AREA_M2, perimeter_m=PERIMETER_M)
    assert problems == ("its stated perimeter is 4000.0 m, and that of the shape 3878.4 m, which was followed",)


@given(area_m2=st.floats(100, 1e9), share=st.floats(0.7, 1.4), is_in_hectares=st.booleans())
def test_unit_is_told_by_the_shape_whatever_the_size(area_m2, share, is_in_hectares):
    stated = area_m2 * share / (1e4 if is_in_hectares else 1.0)
    _, problems = boundary_facts({"area": stated}, None, area_m2=area_m2, perimeter_m=1.0)
    assert all(("hectares)" if is_in_hectares else "square metres)") in problem for problem in problems)
    assert bool(problems) == (abs(share - 1) > 0.01) or abs(abs(share - 1) - 0.01) < 1e-9


def test_column_of_another_file_called_area_is_left_alone(tmp_path):
    field = read_outline(write(tmp_path / "a.gpkg", OLD, area=5.0, perimeter=1.0))
    assert field.problems == ()
    assert field.evidence.weak_points == ()
    assert not follows_specification(["area", "perimeter", "id"], None)
    assert follows_specification(["area"], {"fiboa_version": "0.2.0"})


@pytest.mark.parametrize("key", [b"fiboa", b"collection"])
def test_what_is_said_once_for_all_is_read(tmp_path, key):
    path = write(tmp_path / "a.parquet", OLD, area=93.0)
    table = pyarrow.parquet.read_table(path)
    facts = {"fiboa_version": "0.2.0", "determination_method": "auto-imagery"}
    metadata = {**table.schema.metadata, key: json.dumps(facts).encode()}
    pyarrow.parquet.write_table(table.replace_schema_metadata(metadata), path)
    field = read_outline(path)
    assert field.evidence.weak_points == ("boundary worked out from imagery",)
    assert any("1.1% more" in problem for problem in field.problems)


def test_each_field_has_its_own_facts(tmp_path):
    frame = geopandas.GeoDataFrame(
        {"id": ["a", "b", "c"], "determination_method": ["manual", "surveyed", None], "area": [92.0, None, None]},
        geometry=[FIELD] * 3, crs=LONLAT,
    )  # fmt: skip
    frame.to_parquet(tmp_path / "a.parquet")
    fields = read_outlines(tmp_path / "a.parquet")
    assert [field.evidence.weak_points for field in fields] == [
        ("boundary drawn by hand",), ("boundary surveyed",), (),
    ]  # fmt: skip
    with pytest.raises(OutlineError, match="not clear which"):
        read_outline(tmp_path / "a.parquet")  # ids are fields of their own here
    chosen = read_outline(tmp_path / "a.parquet", rules=FileRules(where="id = 'b'"))
    assert chosen.evidence.weak_points == ("boundary surveyed",)


@pytest.mark.parametrize("value", ["x" * 500, "<b>\x1b[2J", "", None, 5, float("nan"), True])
def test_odd_values_do_no_harm(value):
    attributes = {"determination_method": value, "area": value, "perimeter": value, "determination_datetime": value}
    about, problems = boundary_facts(attributes, None, area_m2=AREA_M2, perimeter_m=PERIMETER_M)
    assert all(text.isprintable() and len(text) < 200 for text in (*about, *problems))
