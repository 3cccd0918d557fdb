"""The work of a farm: every tool on every field in one direction, how the work begins, totals; its map and its book."""

import json
from itertools import pairwise
from pathlib import Path

import pytest
import shapely
from pypdf import PdfReader
from pyproj import Geod

from fieldgeo.analysis.farm_figures import farm_figures
from fieldgeo.analysis.farm_work import FieldJob, work_field, work_fields
from fieldgeo.errors import FileError, InputError
from fieldgeo.frame import Frame
from fieldgeo.machinery.shed import read_shed
from fieldgeo.machinery.tool import Tool
from fieldgeo.outline.farm import read_farm
from fieldgeo.outline.field import Field, field_from_shape
from fieldgeo.outline.read import read_outline
from fieldgeo.report.book.make import BookOrder, make_book, save_book
from fieldgeo.report.book.model import Points, Table
from fieldgeo.report.farm_map import can_draw_farm, plot_farm
from tests.command import run

SAMPLES = Path(__file__).parents[1] / "sample_fields"
PLANTER = Tool(name="planter", kind="row-crop planter", width_m=12.192, rows=16, row_spacing_m=0.762)
HARROW = Tool(name="harrow", kind="roller harrow", width_m=9.144)
WIDE = Tool(name="boom", width_m=120.0)
SEED = {"tank": "4bags", "rate": "32000seeds/ac", "holds": ["80000seeds/bag"]}


def rectangle(name="Long Eighty", width_m=400.0, height_m=800.0):
    return field_from_shape(shapely.box(0, 0, width_m, height_m), name=name, frame=Frame(lon_deg=-93.5, lat_deg=42.0))


@pytest.fixture(scope="module")
def works():
    tools = (HARROW, PLANTER)
    jobs = [
        FieldJob(field=rectangle(), tools=tools, carries=({}, SEED)),
        FieldJob(field=rectangle("Strip", 60.0, 900.0), tools=(*tools, WIDE), carries=({}, SEED, {})),
    ]
    return work_fields(jobs, processes=1)


def test_all_tools_on_a_field_run_in_the_direction_of_the_one_that_lays_rows(works):
    for work in works:
        assert work.lead_work.tool == PLANTER  # though it does not stand first
        assert {plan.layout.direction_deg for plan in work.plans} == {work.lead_work.plan.layout.direction_deg}
        assert not work.is_given
    assert works[0].lead_work.plan.layout.direction_deg == pytest.approx(0.0)  # along the long side (derived)


def test_stops_are_planned_where_the_tool_says_what_it_carries(works):
    # 79 acres (400 m x 800 m) at 32,000 seeds take 31.6 bags of 80,000: seven fills of 4 bags after the first (derived:
    # 31.6 / 4 = 7.9), at least.
    loaded = works[0].works[1].loaded
    assert len(loaded.stops.stops) >= 7
    assert works[0].works[0].loaded is None
    assert works[0].plans[1].field_time_s > works[0].works[1].plan.field_time_s


def test_what_cannot_be_laid_is_told_and_the_rest_is_done():
    strip = rectangle("Strip", 60.0, 100.0)
    too_little = {"tank": "1bu", "rate": "500bu/ac"}
    work = work_field(FieldJob(field=strip, tools=(HARROW, WIDE), carries=(too_little, {})))
    assert work.works[1].plan is None
    assert "must be narrower" in work.works[1].refusal
    assert work.works[0].plan is not None
    assert work.works[0].loaded is None
    assert "tank" in work.works[0].refusal
    figures = farm_figures([work])
    assert figures["tools"][1] == figures["tools"][1] | {"tool": "boom", "fields": 0, "effective_ac_h": None}
    assert json.dumps(figures, allow_nan=False)


def test_a_given_direction_and_a_gate_are_kept():
    field = rectangle()
    gate = tuple(float(value) for value in field.frame.to_lonlat(0.0, 0.0))
    work = work_field(FieldJob(field=field, tools=(PLANTER,), direction_deg=90.0, gate=gate))
    assert work.is_given
    assert work.lead_work.plan.layout.direction_deg == 90.0
    assert work.lead_work.plan.route.legs[0].points()[0] == pytest.approx([0.0, 0.0], abs=1e-3)


def test_the_page_of_a_field_says_where_it_stops_and_that_the_hours_count_it(works):
    made, figures = make_book(BookOrder(farm="f", shed=read_shed(SAMPLES / "shed.toml"), works=works))
    tools, stops = (block for block in made.chapters[2].blocks if isinstance(block, Table))
    assert tools.caption == "Tools on this field; their hours count the stops"
    planter = next(row for row in figures["fields"][1]["tools"] if row["tool"] == "planter")
    # 60 m x 900 m at 32,000 seeds an acre (13.3 ac) take 5.3 bags: 4 in the tank and one stop (derived).
    row = next(row for row in tools.rows if row[0] == "planter")
    assert row[6] == f"{planter['field_time_h']:.2f}"
    assert row[9:11] == ("10 ac", "1")  # 4 bags x 80,000 / 32,000 = 10 ac
    assert [cells[:2] for cells in stops.rows] == [("planter", "1")]
    cautions = [block for block in made.chapters[2].blocks if isinstance(block, Points) and block.are_cautions]
    assert made.chapters[2].blocks.index(cautions[0]) < made.chapters[2].blocks.index(stops)
    assert not any("m2" in item for item in cautions[0].items)


def test_totals_are_the_sums_of_the_fields(works):
    figures = farm_figures(works)
    assert figures["area_m2"] == pytest.approx(400 * 800 + 60 * 900)
    assert figures["field_time_h"] == pytest.approx(
        sum(plan.field_time_s for work in works for plan in work.plans) / 3600
    )
    planter = next(tool for tool in figures["tools"] if tool["tool"] == "planter")
    rows = [row for field in figures["fields"] for row in field["tools"] if row["tool"] == "planter"]
    assert planter["passes"] == sum(row["passes"] for row in rows)
    assert planter["effective_ac_h"] == pytest.approx(figures["area_ac"] / sum(row["field_time_h"] for row in rows))
    # Field efficiency of a total is area / (width x speed) / field time, as for one field.
    capacity_m2_h = PLANTER.theoretical_m2_s * 3600
    assert planter["field_efficiency"] == pytest.approx(figures["area_m2"] / capacity_m2_h / planter["field_time_h"])


def test_the_first_pass_is_where_the_figures_say(works):
    start = farm_figures(works)["fields"][0]["lead"]
    line = start["first_pass"]
    azimuth, _, length = Geod(ellps="WGS84").inv(
        line["start"]["lon"], line["start"]["lat"], line["end"]["lon"], line["end"]["lat"]
    )
    assert length == pytest.approx(line["length_m"], rel=1e-5)
    assert (azimuth - line["azimuth_deg"] + 180) % 360 - 180 == pytest.approx(0.0, abs=0.01)
    assert start["longest_pass"]["length_m"] >= line["length_m"]
    assert start["begins"]["corner"] in {"southwest", "southeast", "northwest", "northeast"}
    assert start["end_rows"] == "first"
    plan = works[0].lead_work.plan
    assert start["passes"] == len(plan.layout.passes)


def test_the_same_work_on_one_process_and_on_two():
    jobs = [FieldJob(field=rectangle(name), tools=(PLANTER,), direction_deg=0.0) for name in ("One", "Two", "Three")]
    done: list[int] = []
    many = work_fields(jobs, processes=2, progress=lambda: done.append(1))
    assert farm_figures(many) == farm_figures(work_fields(jobs, processes=1))
    assert len(done) == 3


def test_a_load_for_every_tool_or_none():
    with pytest.raises(InputError, match="1 loads for 2 tools"):
        FieldJob(field=rectangle(), tools=(HARROW, PLANTER), carries=(SEED,))


def test_no_process_at_all_is_refused():
    with pytest.raises(InputError, match="1 or more"):
        work_fields([], processes=0)


def test_a_map_of_the_farm_holds_every_field_at_its_size():
    fields = [read_outline(SAMPLES / f"{name}.geojson") for name in ("ell", "pivot", "creek")]
    assert can_draw_farm(fields)
    axes = plot_farm(fields)
    drawn = [abs(shapely.Polygon(patch.get_path().to_polygons()[0]).area) for patch in axes.patches[:3]]
    outer = [sum(shapely.Polygon(part.exterior).area for part in field.shape.geoms) for field in fields]
    assert drawn == pytest.approx(outer, rel=1e-6)


def test_fields_far_apart_or_without_a_place_are_not_drawn_together():
    near = rectangle()
    far = field_from_shape(shapely.box(0, 0, 100, 100), frame=Frame(lon_deg=-80.0, lat_deg=42.0))
    assert not can_draw_farm([near, far])
    assert not can_draw_farm([near])


def test_a_book_without_a_field_is_refused():
    with pytest.raises(InputError, match="no field"):
        BookOrder(farm="f", shed=read_shed(SAMPLES / "shed.toml"), works=())


def test_an_odd_field_does_not_stop_the_book(tmp_path):
    speck = Field(
        name="Speck", shape=shapely.MultiPolygon([shapely.box(0, 0, 8, 8)]), frame=Frame(lon_deg=0.0, lat_deg=0.0)
    )
    work = work_field(FieldJob(field=speck, tools=(PLANTER,)))
    made, figures = make_book(BookOrder(farm="", shed=read_shed(SAMPLES / "shed.toml"), works=(work,)))
    assert figures["fields"][0]["lead"] is None
    save_book(made, [tmp_path / "a.html", tmp_path / "a.pdf"], processes=1)
    assert "What cannot be done here" in (tmp_path / "a.html").read_text()


def test_book_on_the_command_line(tmp_path):
    page, paper = tmp_path / "farm.html", tmp_path / "farm.pdf"
    arguments = ["book", str(SAMPLES / "half_mile.geojson"), "--shed", str(SAMPLES / "shed.toml"), "--tool",
                 "16-row planter", "--direction", "0", "--out", str(page), "--out", str(paper)]  # fmt: skip
    answer = run(*arguments, "--json")
    assert answer.exit_code == 0
    figures = json.loads(answer.stdout)
    assert figures["fields"][0]["field"] == "Half Mile"
    assert paper.read_bytes().startswith(b"%PDF")
    assert "Half Mile" in page.read_text()
    again = run(*arguments)
    assert again.exit_code == 1
    assert "exists and is left alone" in again.stderr


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ([], "no shed"),
        (["--shed", str(SAMPLES / "shed.toml"), "--out", "a.doc"], "must end in .html or .pdf"),
        (["--shed", str(SAMPLES / "shed.toml"), "--direction", "361"], "361"),
    ],
)
def test_wrong_usage_of_book_is_told(arguments, words):
    answer = run("book", str(SAMPLES / "ell.geojson"), *arguments)
    assert answer.exit_code == 2
    assert words in answer.stderr


def test_a_file_named_twice_is_written_once(tmp_path):
    page = tmp_path / "farm.html"
    answer = run("book", str(SAMPLES / "half_mile.geojson"), "--shed", str(SAMPLES / "shed.toml"), "--tool",
                 "16-row planter", "--direction", "0", "--out", str(page), "--out", str(page))  # fmt: skip
    assert answer.exit_code == 0
    assert answer.stderr.count("written:") == 1


def test_no_two_fields_of_a_farm_have_one_name(tmp_path):
    shape = shapely.to_geojson(shapely.box(-94.0, 42.0, -93.99, 42.01))
    names = ("Same", "Same", "Same (2)", "Same")
    features = ",".join(
        f'{{"type": "Feature", "properties": {{"name": "{name}"}}, "geometry": {shape}}}' for name in names
    )
    path = tmp_path / "farm.geojson"
    path.write_text(f'{{"type": "FeatureCollection", "features": [{features}]}}')
    assert [field.name for field in read_farm([path])] == ["Same", "Same (2)", "Same (2) (2)", "Same (3)"]


@pytest.mark.slow
def test_each_sample_field_has_its_page(tmp_path):
    # One letter page for a usual field: map, how to begin, tools, cautions; Crooked Quarter has many stops overleaf.
    shed = read_shed(SAMPLES / "shed.toml")
    carries = tuple(shed.loads.get(tool.name, {}) for tool in shed.tools)
    fields = read_farm(sorted(SAMPLES.glob("*.geojson")))
    jobs = [FieldJob(field=field, tools=shed.tools, carries=carries, direction_deg=0.0) for field in fields]
    made, _ = make_book(BookOrder(farm="f", shed=shed, works=work_fields(jobs, processes=1)))
    save_book(made, [tmp_path / "a.pdf"], processes=1)
    reader = PdfReader(tmp_path / "a.pdf")
    begins = [reader.get_destination_page_number(entry) for entry in reader.outline]
    pages = [after - at for at, after in pairwise(begins[1:-1])]
    assert len(pages) == len(fields)
    assert max(pages) <= 2
    assert sum(pages) <= len(fields) + 2


def test_a_book_of_another_format_is_not_begun(tmp_path):
    work = work_field(FieldJob(field=rectangle(), tools=(PLANTER,), direction_deg=0.0))
    made, _ = make_book(BookOrder(farm="f", shed=read_shed(SAMPLES / "shed.toml"), works=(work,)))
    with pytest.raises(InputError, match=r"\.html or \.pdf"):
        save_book(made, [tmp_path / "book.txt"])
    (tmp_path / "book.html").write_text("mine")
    with pytest.raises(FileError, match="exists"):
        save_book(made, [tmp_path / "book.html"])


def test_a_one_way_plow_in_the_book_is_told_to_be_worked_in_lands():
    plow = Tool(name="plow", kind="moldboard plow", width_m=3.6, throws="right")
    work = work_field(FieldJob(field=rectangle(width_m=200.0, height_m=200.0), tools=(plow,), direction_deg=0.0))
    made, _ = make_book(BookOrder(farm="f", shed=read_shed(SAMPLES / "shed.toml"), works=(work,)))
    said = [item for block in made.chapters[1].blocks if isinstance(block, Points) for item in block.items]
    assert any("plow throws one way" in item for item in said)
