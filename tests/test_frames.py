"""Objects written to GeoDataFrames and read back without any loss."""

from dataclasses import fields
from pathlib import Path

import geopandas
import numpy as np
import pytest
import shapely

from fieldgeo.analysis.lay import lay
from fieldgeo.errors import InputError
from fieldgeo.export.frames import (
    field_from_geodataframe,
    layout_from_geodataframe,
    route_from_geodataframe,
    timeline_from_geodataframe,
    to_geodataframe,
)
from fieldgeo.frame import Frame, shape_to_lonlat
from fieldgeo.machinery.tool import Tool
from fieldgeo.outline import read_outline
from fieldgeo.outline.evidence import (
    Course,
    DeedReport,
    Evidence,
    Gap,
    Piece,
    SectionReport,
    Step,
    Suspect,
    WalkReport,
)
from fieldgeo.outline.field import Change, Field, field_from_shape

SAMPLES = Path(__file__).parents[1] / "sample_fields"
TOOL = Tool(name="4 sections", width_m=12.0, sections=4, pull_out_m=3.0, raise_s=2.0, lower_s=3.0)


@pytest.fixture(scope="module", params=["waterway", "across_the_road"])
def plan(request):
    return lay(read_outline(SAMPLES / f"{request.param}.geojson"), TOOL, direction_deg=15.0)


def assert_same(one, other):
    """Compare frozen objects part by part, to the last digit."""
    assert type(one) is type(other)
    if isinstance(one, np.ndarray):
        assert one.dtype == other.dtype
        np.testing.assert_array_equal(one, other)
    elif isinstance(one, shapely.Geometry):
        assert shapely.equals_exact(one, other)
    elif isinstance(one, tuple):
        assert len(one) == len(other)
        for mine, its in zip(one, other, strict=True):
            assert_same(mine, its)
    elif hasattr(one, "__dataclass_fields__"):
        for field in fields(one):
            assert_same(getattr(one, field.name), getattr(other, field.name))
    else:
        assert one == other


WALK = WalkReport(
    points_read=900, points_kept=811, steps=(Step(what="no fix", dropped=3), Step(what="spikes", dropped=0)),
    gaps=(Gap(length_m=31.5, lon_deg=-93.1, lat_deg=42.0),), closure_m=2.5, closure_share=0.001, duration_s=None,
    accuracy_m=3.0, accuracy_from="as given", bound_m2=6000.0, offset_m=-1.5, offset_area_change_m2=-3000.0,
    thin_m=0.2, thinned=300, thin_area_change_m2=-1.5,
)  # fmt: skip
DEED = DeedReport(
    courses=(
        Course(number=1, text="N 10 E 5 ch", kind="line", azimuth_deg=10.0, length_m=100.584, latitude_m=99.06,
               departure_m=17.47),
    ),
    perimeter_m=400.0, misclosure_m=None, misclosure_azimuth_deg=None, precision=None, is_adjusted=False,
    closing_m=100.5, closing_azimuth_deg=190.0,
    area_raw_m2=10_000.0, area_adjusted_m2=10_000.0,
    suspects=(Suspect(number=1, change="read S 10 E for N 10 E", misclosure_m=0.01),), stated_area_m2=None,
)  # fmt: skip
SECTION = SectionReport(
    text="W1/2 NW1/4", section="", nominal_m2=323748.5, section_m2=2_600_000.0, corners_given=4,
    pieces=(Piece(text="W1/2 NW1/4", nominal_m2=323748.5, measured_m2=325000.25),),
)  # fmt: skip
SOURCES = [
    None,
    Evidence(kind="file", uncertainty_from="the file does not say"),
    Evidence(kind="walk", weak_points=("a", "b"), area_uncertainty_m2=120.5, report=WALK),
    Evidence(kind="deed", report=DEED, is_placed=False),
    Evidence(kind="section", report=SECTION),
]


@pytest.mark.parametrize("evidence", SOURCES, ids=["none", "file", "walk", "deed", "section"])
def test_field_comes_back_the_same(evidence: Evidence | None):
    field = Field(
        name="Odd <name> \U0001f33d",
        shape=read_outline(SAMPLES / "waterway.geojson").shape,
        frame=Frame(lon_deg=-93.123456, lat_deg=42.0),
        source_crs="EPSG:26915",
        changes=(Change(what="a point taken out", area_change_m2=-0.1),),
        problems=("one", "two"),
        evidence=evidence,
    )
    assert_same(field_from_geodataframe(to_geodataframe(field)), field)


def test_layout_comes_back_the_same(plan):
    assert_same(layout_from_geodataframe(to_geodataframe(plan.layout)), plan.layout)


def test_layout_without_headland_or_passes_comes_back_the_same():
    tool = Tool(name="wide", width_m=29.0)
    layout = lay(
        field_from_shape(shapely.box(0, 0, 20, 30)), tool, direction_deg=0.0, headland=0, finish="clean"
    ).layout
    assert len(layout.passes) == 0
    assert_same(layout_from_geodataframe(to_geodataframe(layout)), layout)


def test_route_and_time_line_come_back_the_same(plan):
    route = route_from_geodataframe(to_geodataframe(plan.route), plan.layout)
    assert_same(route, plan.route)
    timeline = timeline_from_geodataframe(to_geodataframe(plan.timeline), route)
    assert_same(timeline, plan.timeline)


def test_empty_route_comes_back_the_same():
    tool = Tool(name="wide", width_m=29.0)
    plan = lay(field_from_shape(shapely.box(0, 0, 20, 30)), tool, direction_deg=0.0, headland=0, finish="clean")
    table = to_geodataframe(plan.route)
    assert len(table) == 0
    assert_same(route_from_geodataframe(table, plan.layout), plan.route)


def test_table_survives_a_file(plan, tmp_path):
    path = tmp_path / "layout.gpkg"
    to_geodataframe(plan.layout).to_file(path)
    again = layout_from_geodataframe(geopandas.read_file(path))
    assert_same(again.passes, plan.layout.passes)
    assert_same(again.tool, plan.layout.tool)
    assert_same(again.headland.runs, plan.layout.headland.runs)


def test_table_lies_where_the_field_lies(plan):
    # The coordinate system of the table against our own way to longitude and latitude, to 1e-9 degree (0.1 mm).
    table = to_geodataframe(plan.field).to_crs("OGC:CRS84")
    expected = shape_to_lonlat(plan.field.shape, plan.field.frame)
    assert shapely.equals_exact(table.geometry.iloc[0], expected, tolerance=1e-9)


def test_a_table_of_something_else_is_refused():
    with pytest.raises(InputError, match=r"no column role.*made by to_geodataframe"):
        layout_from_geodataframe(to_geodataframe(field_from_shape(shapely.box(0, 0, 1, 1))))
