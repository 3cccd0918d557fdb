"""What a season costs, and its two pictures, held against the schedule's own numbers."""

from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest

from fieldgeo.errors import InputError
from fieldgeo.machinery.cost import CostRules
from fieldgeo.machinery.shed import read_shed
from fieldgeo.outline.read import read_outline
from fieldgeo.report.cost_plot import plot_costs, save_cost_plot
from fieldgeo.report.season_plot import place_on_scale, plot_season, save_season_plot, work_stretches
from fieldgeo.season.costs import season_costs
from fieldgeo.season.costs_figures import costs_figures
from fieldgeo.season.model import (
    Crop,
    Mode,
    Operator,
    Placed,
    Regime,
    Schedule,
    Season,
    SeasonField,
    SeasonProblem,
    Task,
)
from fieldgeo.season.plan import SeasonPlan
from fieldgeo.season.problem import FieldPlans
from fieldgeo.season.weather import climate_for, weather_on
from fieldgeo.units import ACRE_M2

SAMPLES = Path(__file__).parents[1] / "sample_fields"
FIRST = date(2027, 4, 20)
DAYS = tuple(FIRST + timedelta(days=number) for number in range(180))


def task(operation, first, last, hours=8.0, tool="16-row planter", carrier="planting tractor", late=0.0, fuel=100.0):
    loss = late * np.arange(len(DAYS), dtype=float)
    return Task(operation=operation, field="Ell", place=1, area_m2=50 * ACRE_M2,
                modes=(Mode(tool=tool, carrier=carrier, hours=hours, fuel_l=fuel),), first=first, last=last, loss=loss,
                loss_bu=loss / 4)  # fmt: skip


@pytest.fixture(scope="module")
def plan():
    field = read_outline(SAMPLES / "ell.geojson")
    shed = read_shed(SAMPLES / "shed.toml")
    tasks = (
        task("plant", 0, 20, hours=8.0, late=10.0),
        task("plant", 0, 20, hours=12.0),
        task("harvest", 150, 170, hours=20.0, tool="combine, 6-row corn head", carrier="combine, 6-row corn head"),
    )
    problem = SeasonProblem(
        days=DAYS, fit_h=np.full(len(DAYS), 8.0), hours_a_day=8.0, tasks=tasks, places=("farmstead", "Ell"),
        travel_h=np.zeros((2, 2)), hitch_h=0.0, operators=(Operator(name="one"),),
    )  # fmt: skip
    placed = tuple(
        Placed(task=at, mode=tasks[at].modes[0], operator="one", start_h=start, end_h=start + tasks[at].modes[0].hours)
        for at, start in ((0, 0.0), (1, 12.0), (2, 8.0 * 155))
    )
    season = Season(
        farm="Invented", shed=shed, fields=(SeasonField(field=field, crop="corn"),), crops={"corn": Crop(name="corn")},
        operations=(), operators=problem.operators, machines={}, regime=Regime(region="Illinois"), hours_a_day=8.0,
        days_off=(), road_speed_m_s=6.0, hitch_s=0.0, roads_m={}, road_factor=1.3, farmstead=(-94.3, 42.4),
    )  # fmt: skip
    weather = weather_on(climate_for(season.regime), DAYS)
    schedule = Schedule(placed=placed, left=(), loss=40.0, bound=0.0, is_proven=False)
    return SeasonPlan(season=season, plans=FieldPlans(), weather=weather, problem=problem, schedule=schedule)


def test_costs_of_a_season_by_hand(plan):
    # Fuel (derived): 200 L for planting at 1.00 a litre; lubrication 15 % of it; labor 20 h x 1.1 x 20 = 440, of the
    # machine that drives itself 20 h x 1.2 x 20 = 480.
    rules = CostRules(fuel_price_l=1.0, wage_h=20.0)
    plant, harvest = season_costs(plan, rules=rules).costs
    assert plant.entries["fuel"] == pytest.approx(200.0)
    assert plant.entries["lubrication"] == pytest.approx(30.0)
    assert plant.entries["labor"] == pytest.approx(440.0)
    assert harvest.entries["labor"] == pytest.approx(480.0)
    # Lateness (derived): the first task is worked on day 0, when nothing is lost yet, the second loses nothing ever.
    assert plant.entries["timeliness"] == pytest.approx(0.0)
    assert plant.area_m2 == pytest.approx(100 * ACRE_M2)
    assert plant.total == pytest.approx(sum(plant.entries.values()))


def test_a_planter_that_plants_more_costs_less_an_acre(plan):
    # Interest, taxes and most of depreciation are spread over twice the acres.
    half = replace(plan, schedule=replace(plan.schedule, placed=(plan.schedule.placed[0], plan.schedule.placed[2])))
    assert season_costs(plan).costs[0].per_m2 < season_costs(half).costs[0].per_m2
    # The planter has no hours of its own in the shed, so its whole year is here, however many acres.
    whole, part = (season_costs(each).costs[0].entries["interest"] for each in (plan, half))
    tractor = 12 / 350  # of the year of the tractor, 350 h, 12 h less
    assert whole - part == pytest.approx(tractor * _tractor_interest(plan), rel=1e-6)


def _tractor_interest(plan):
    from fieldgeo.machinery.owning import yearly_cost

    shed = plan.season.shed
    tractor = shed.tractor("planting tractor")
    return yearly_cost(
        tractor, shed.owned[tractor.name], use_h_yr=350, interest=0.05, taxes_insurance_housing=0
    ).interest


def test_a_machine_without_a_price_is_left_out_and_told(plan):
    shed = replace(plan.season.shed, owned={k: v for k, v in plan.season.shed.owned.items() if "corn head" not in k})
    costs = season_costs(replace(plan, season=replace(plan.season, shed=shed)))
    assert [cost.operation for cost in costs.costs] == ["plant"]
    assert "no price in the shed" in costs.left_out[0]


def test_bars_of_costs_are_as_long_as_the_costs(plan):
    figures = costs_figures(season_costs(plan), plan)
    axes = plot_costs(figures)
    for at, row in enumerate(figures["operations"]):
        bars = [patch for patch in axes.patches if abs(patch.get_y() + patch.get_height() / 2 - at) < 1e-9]
        assert sum(bar.get_width() for bar in bars) == pytest.approx(row["per_ac"])
    assert figures["total"] == pytest.approx(sum(row["total"] for row in figures["operations"]))


def test_bars_of_the_season_lie_on_the_days_of_the_schedule(plan):
    axes = plot_season(plan)
    bars = sorted(
        (bar.get_x(), bar.get_width()) for bar in axes.patches if bar.get_width() > 0 and bar.get_height() < 1
    )
    # Derived: work begins 2 days into the scale; task 0 fills day 0, task 1 runs from the middle of day 1 to the end of
    # day 2. The scale breaks after day 2 + 2 days of room: 7 days, 5 of break, 2 of room; task 2 takes 2.5 days.
    assert bars == [pytest.approx((2.0, 1.0)), pytest.approx((3.5, 1.5)), pytest.approx((14.0, 2.5))]
    assert [label.get_text() for label in axes.get_yticklabels()] == [
        "planting tractor",
        "combine, 6-row corn head"[:21] + "…",
    ]


def test_every_hour_has_its_place_in_order(plan):
    placed = plan.schedule.placed
    spans = [(DAYS[int(each.start_h // 8)], DAYS[int((each.end_h - 1e-9) // 8)]) for each in placed]
    stretches = work_stretches(spans)
    hours = [each.start_h + share * (each.end_h - each.start_h) for each in placed for share in (0.01, 0.5, 1.0)]
    places = [place_on_scale(plan.problem, stretches, hour) for hour in hours]
    assert places == sorted(places)


def test_nothing_to_draw_is_refused(plan):
    with pytest.raises(InputError, match="nothing is scheduled"):
        plot_season(replace(plan, schedule=replace(plan.schedule, placed=())))
    with pytest.raises(InputError, match="nothing to draw"):
        plot_costs({"operations": []})


@pytest.mark.parametrize("suffix", ["svg", "png", "pdf"])
def test_pictures_are_saved_in_every_format(plan, suffix, tmp_path):
    save_season_plot(plan, tmp_path / f"season.{suffix}")
    save_cost_plot(costs_figures(season_costs(plan), plan), tmp_path / f"costs.{suffix}")
    assert all(file.stat().st_size > 1000 for file in tmp_path.iterdir())
