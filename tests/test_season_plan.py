"""From a season file to its schedule: figures, what an hour more is worth, what if, the verb and its files."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from fieldgeo.errors import InputError
from fieldgeo.export.season_table import season_geodataframe
from fieldgeo.report.lines import COLUMNS
from fieldgeo.report.schedule_text import schedule_lines, schedule_notes
from fieldgeo.season.bottleneck import hours_worth, quickened
from fieldgeo.season.figures import season_figures
from fieldgeo.season.model import Operator
from fieldgeo.season.plan import SeasonPlan, machines_used, operations_done, plan_season
from fieldgeo.season.read import read_season
from fieldgeo.season.solve import Effort, solve_season
from fieldgeo.season.what_if import enlarged, read_change, try_change, with_another
from fieldgeo.units import ACRE_M2
from tests.command import SAMPLES, answer, message, run
from tests.seasons import mode, problem, task, times

LITTLE = Effort(work=0.1)
SEASON = f"""
farm = "Invented farm"
shed = "{SAMPLES}/shed.toml"
farmstead = "-94.3700,42.4600"
hours_a_day = "10h"
road_speed = "15mph"
hitching = "30min"
soil = "medium"
[weather]
share = [{{ from = 2027-04-01, to = 2027-06-30, fit = "50%" }}]
[[crop]]
name = "corn"
yield = "200bu/ac"
price = "4.00/bu"
[[field]]
outline = ["{SAMPLES}/square_forty.geojson", "{SAMPLES}/half_mile.geojson"]
crop = "corn"
direction = "0deg"
[[operator]]
name = "only operator"
[[operation]]
name = "cultivate"
tool = "30 ft field cultivator"
from = 2027-04-20
to = 2027-05-20
[[operation]]
name = "plant"
tool = "16-row planter"
tractor = "planting tractor"
from = 2027-04-20
to = 2027-05-20
late_from = 2027-04-20
daily_loss = "1%"
"""


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("season") / "season.toml"
    path.write_text(SEASON, encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def plan(file: Path) -> SeasonPlan:
    return plan_season(read_season(file), effort=LITTLE)


def test_field_times_are_those_of_the_layouts_and_losses_of_the_crop(plan: SeasonPlan) -> None:
    of = plan.problem
    assert len(of.tasks) == 4
    for each in of.tasks:
        for way in each.modes:
            assert way.hours == plan.plans.plans[each.field, way.tool].field_time_s / 3600
            assert way.fuel_l > 0
    assert plan.plans.direction_deg == {"Square Forty": 0.0, "Half Mile": 0.0}
    planted = next(each for each in of.tasks if each.operation == "plant")
    # 1 % a day of 40 ac x 200 bu x 4.00 = 320 a day, 80 bu (derived).
    assert planted.loss[1] == pytest.approx(320, rel=1e-3)
    assert planted.loss_bu[2] == pytest.approx(160, rel=1e-3)
    assert of.fit_h == pytest.approx(np.full(31, 5.0))


def test_figures_add_up(plan: SeasonPlan) -> None:
    figures = season_figures(plan)
    done = operations_done(plan.problem, plan.schedule)
    assert figures["is_complete"]
    assert figures["field_h"] == pytest.approx(sum(each["field_h"] for each in figures["operations"]))
    assert figures["loss"] == pytest.approx(sum(each.loss for each in done))
    assert figures["fuel_L"] == pytest.approx(sum(each["fuel_L"] for each in figures["operations"]))
    uses = machines_used(plan.problem, plan.schedule.placed)
    for kind in ("carrier", "operator", "tool"):
        assert sum(use.field_h for use in uses if use.kind == kind) == pytest.approx(figures["field_h"])
    assert figures["finish"]["plant"]["finished_on"] == figures["finished_on"]
    assert figures["finish"]["plant"]["days_to_spare"] >= 0


def test_the_answer_fits_a_page_of_80_columns(plan: SeasonPlan) -> None:
    change = read_change("+2h", plan.season)
    worth = hours_worth(plan.problem, plan.schedule, effort=LITTLE)
    figures = season_figures(plan, worth=worth, variants=[try_change(plan, change, effort=LITTLE)])
    lines = list(schedule_lines(figures))
    assert lines[0].startswith("Invented farm: everything is done by ")
    assert max(map(len, lines)) <= COLUMNS
    assert "bottleneck" in "\n".join(lines)
    assert any("+2h" in note for note in schedule_notes(figures))


def test_what_ifs_gain_what_they_should(plan: SeasonPlan) -> None:
    found = {
        text: try_change(plan, read_change(text, plan.season), effort=LITTLE)
        for text in ("+5h", "+80ac", "another only operator", "40 ft field cultivator for 30 ft field cultivator")
    }
    base = plan.schedule.loss
    assert found["+5h"].schedule.loss < base
    # 80 acres on 80 acres: every field twice as large (derived).
    doubled = found["+80ac"].problem
    for one, other in zip(plan.problem.tasks, doubled.tasks, strict=True):
        assert other.modes[0].hours == pytest.approx(2 * one.modes[0].hours, rel=1e-3)
        assert other.area_m2 == pytest.approx(2 * one.area_m2, rel=1e-3)
    assert found["+80ac"].schedule.loss > base
    assert found["another only operator"].schedule.loss <= base + 0.01
    wide = found["40 ft field cultivator for 30 ft field cultivator"]
    assert {way.tool for each in wide.problem.tasks for way in each.modes} == {
        "40 ft field cultivator", "16-row planter",
    }  # fmt: skip
    assert wide.schedule.loss <= base + 0.01


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        ("+0h", "above zero"), ("+20h", "more than a day has"), ("another mule", "Another of what?"),
        ("spade for 30 ft field cultivator", "Tools of the shed"), ("wider", "It must be"),
        ("90 ft sprayer for 8-bottom plow", "No operation of this season uses"),
    ],
)  # fmt: skip
def test_what_ifs_that_cannot_be(plan: SeasonPlan, text: str, fault: str) -> None:
    with pytest.raises(InputError, match=fault.replace("?", r"\?")):
        read_change(text, plan.season)


def test_the_table_has_a_row_for_each_task_with_its_outline(plan: SeasonPlan) -> None:
    table = season_geodataframe(plan)
    assert len(table) == 4
    assert set(table["status"]) == {"done"}
    assert table.crs == "EPSG:4326"
    area = table.to_crs("EPSG:5070").area.sum() / ACRE_M2
    assert area == pytest.approx(160, rel=0.01)


def test_the_verb_answers_and_writes(file: Path, tmp_path: Path) -> None:
    out = tmp_path / "season.csv"
    figures = answer("season", str(file), "--effort", "0.1", "--seasons", "50", "--out", str(out))
    assert {"operations", "finish", "bottleneck", "chance_of_finishing"} <= figures.keys()
    assert figures["drawn_seasons"]["seasons"] == 50
    assert figures["chance_of_finishing"].keys() == figures["finish"].keys()
    rows = out.read_text(encoding="utf-8").splitlines()
    assert rows[0].startswith("operation,field,crop,status,begins_on,finished_on")
    assert len(rows) == 5
    assert "exists" in message(run("season", str(file), "--out", str(out)), 1)


def test_a_season_that_cannot_be_done_says_what_is_short(plan: SeasonPlan) -> None:
    short = replace(plan.problem, fit_h=np.full(31, 0.25))
    found = replace(plan, problem=short, schedule=solve_season(short, effort=LITTLE))
    figures = season_figures(found, worth=hours_worth(short, found.schedule, effort=LITTLE))
    assert not figures["is_complete"]
    assert figures["finished_on"] is None
    text = "\n".join([*schedule_lines(figures), *schedule_notes(figures)])
    assert "it cannot all be done" in text
    assert "short by" in text
    assert figures["left_h"] + figures["field_h"] == pytest.approx(
        sum(min(way.hours for way in each.modes) for each in short.tasks)
    )
    assert {row["status"] for _, row in season_geodataframe(found).iterrows()} == {"done", "left"}


def test_an_hour_more_of_the_bottleneck_derived() -> None:
    # Two fields of 10 h on one planter, 3 and 1 lost for each day, as in the schedule solved by hand: 1 is lost. With
    # 11 h a day the dear field takes 9.09 h, the other runs from 9.09 to 18.18: 0.91 h on day 0, 8.18 h on day 1, so
    # 0.9 is lost and 0.1 saved. The sprayer holds nothing up.
    fields = [task(name, mode(10), loss=[rate * day for day in range(6)]) for name, rate in (("a", 1), ("b", 3))]
    spray = task("c", mode(2, "sprayer", "sprayer"), operation="spray")
    of = problem(*fields, spray)
    worth = hours_worth(of, solve_season(of))
    by_name = {each.name: each for each in worth}
    assert by_name["planter"].loss_less == pytest.approx(0.1, abs=1e-6)
    assert by_name["sprayer"].loss_less == pytest.approx(0)
    assert worth[0].name in {"planter", "tractor", "one", "two", "three"}
    assert quickened(of, ("tool", "planter"), 0.5).tasks[0].modes[0].hours == 5


def test_one_more_of_a_machine_with_its_heads() -> None:
    # A combine with two heads; two of them halve the time (derived).
    fields = [task("a", mode(8, "grain head", "combine")), task("b", mode(8, "corn head", "combine"))]
    more = [task("c", mode(8, "grain head", "combine")), task("d", mode(8, "corn head", "combine"))]
    of = problem(*fields, *more, operators=[Operator(name="one"), Operator(name="two")])
    assert max(end for _, end in times(solve_season(of)).values()) == 32
    twin = with_another(of, "combine", {"grain head", "corn head"})
    assert max(end for _, end in times(solve_season(twin)).values()) == 16
    assert enlarged(of, 2.0).tasks[0].modes[0].hours == 16
