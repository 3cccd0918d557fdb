"""Seed, supplies and published losses as a season file asks for them."""

import json
import re
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from click.testing import CliRunner

from fieldgeo.analysis.lay import lay
from fieldgeo.analysis.plan import Plan
from fieldgeo.cli import main
from fieldgeo.errors import SeasonError
from fieldgeo.season.model import Season, SeasonOperation
from fieldgeo.season.read import read_season
from fieldgeo.season.season_supplies import grounds_of, is_harvest, season_supplies
from fieldgeo.season.supplies import GroundWorked
from fieldgeo.season.supplies_figures import supplies_figures
from fieldgeo.units import ACRE_M2

SAMPLES = Path(__file__).parent.parent / "sample_fields"
FILE = """
farm = "Invented"
shed = "bare_shed.toml"
farmstead = "-94.3440,42.4462"
hours_a_day = "10h"
soil = "medium"
[weather]
region = "Illinois"
[[crop]]
name = "corn"
yield = "190bu/ac"
price = "4.30/bu"
[[crop]]
name = "soybeans"
[[field]]
outline = ["{folder}/square_forty.geojson"]
crop = "corn"
[[field]]
outline = ["{folder}/creek.geojson"]
crop = "{second}"
[[operation]]
name = "plant"
{crop}
tool = "16-row planter"
from = 2027-04-15
to = 2027-05-31
{plant}
[[operation]]
name = "combine"
{crop}
tool = "combine, 6-row corn head"
surface = "firm"
from = 2027-09-20
to = 2027-10-25
{combine}
"""
# What the tools of the sample shed carry: here the operations say it.
CARRIED = re.compile(r"^(tank|rate|yield|holds|stop_setup|stop_flow) = .*\n", re.MULTILINE)
SEED = 'rate = "32000seeds/ac"\nproduct = "corn seed"\npackage = "80000seeds/bag"'


def read(folder: Path, plant: str = SEED, combine: str = "", *, second: str = "corn", crop: str = "") -> Season:
    path = folder / "season.toml"
    text = FILE.format(folder=SAMPLES.as_posix(), plant=plant, combine=combine, second=second, crop=crop)
    path.write_text(text, encoding="utf-8")
    shed = (SAMPLES / "shed.toml").read_text(encoding="utf-8")
    (folder / "bare_shed.toml").write_text(CARRIED.sub("", shed), encoding="utf-8")
    return read_season(path)


def grounds(season: Season, acres: float = 40.0, lap: float = 1.05) -> dict[tuple[str, str], tuple[str, GroundWorked]]:
    return {
        (operation.name, field): (
            operation.tools[0],
            GroundWorked(
                field=field, area_m2=acres * ACRE_M2, worked_m2=acres * ACRE_M2, swept_m2=acres * lap * ACRE_M2
            ),
        )
        for operation in season.operations
        for field in operation.fields
    }


def test_bags_and_bushels_of_a_season_by_hand(tmp_path: Path) -> None:
    # derived: two fields of 40 ac, swept 42 each: 84 x 32,000 / 80,000 = 33.6 bags; 40 ac x 190 bu = 7,600, 9 loads of
    # 900 bu (8.4) from each field
    season = read(tmp_path)
    supplies = season_supplies(season, grounds(season))
    figures = supplies_figures(supplies)
    (seed,) = figures["products"]
    assert (seed["product"], seed["buy"]) == ("corn seed", "34 bags of 80,000 seeds")
    assert seed["overlap_share"] == pytest.approx(0.05)
    assert [one["bu"] for one in figures["grain"]] == [pytest.approx(7600)] * 2
    assert [one["loads"] for one in figures["grain"]] == [9, 9]
    assert figures["notes"] == []


def test_seed_follows_the_swaths_of_the_plans(tmp_path: Path) -> None:
    season = read(tmp_path)

    def plan_of(_operation: SeasonOperation, name: str, tool: str) -> Plan:
        return lay(season.field_of(name).field, season.shed.tool(tool), direction_deg=0.0)

    found = grounds_of(season, plan_of, {})
    assert set(found) == {
        (operation, name) for operation in ("plant", "combine") for name in season.operations[0].fields
    }
    supplies = season_supplies(season, found)
    swept = sum(ground.swept_m2 for (operation, _), (_, ground) in found.items() if operation == "plant")
    assert supplies.products[0].amount == pytest.approx(swept / ACRE_M2 * 32_000)
    worked = sum(ground.worked_m2 for (operation, _), (_, ground) in found.items() if operation == "combine")
    assert sum(one.amount_bu for one in supplies.grain) == pytest.approx(worked / ACRE_M2 * 190)


def test_seeds_by_spacing_take_the_rows_of_the_planter(tmp_path: Path) -> None:
    # derived: 6,272,640 / (30 x 6.534) = 32,000 seeds an acre
    season = read(tmp_path, plant='seed_spacing = "6.534in"\npackage = "80000seeds/bag"')
    (seed,) = season_supplies(season, grounds(season)).products
    assert seed.product.name == "plant"
    assert seed.amount == pytest.approx(84 * 32_000)


def test_spacing_of_an_operation_counts_before_the_rate_of_the_shed(tmp_path: Path) -> None:
    season = read(tmp_path, plant='seed_spacing = "6.534in"')
    loads = {"16-row planter": {"tank": "24bags", "rate": "20000seeds/ac", "holds": ("80000seeds/bag",)}}
    season = replace(season, shed=replace(season.shed, loads=loads))
    assert season_supplies(season, grounds(season)).products[0].amount == pytest.approx(84 * 32_000)


def test_yield_of_the_operation_counts_before_that_of_the_crop(tmp_path: Path) -> None:
    season = read(tmp_path, combine='yield = "100bu/ac"')
    assert [is_harvest(season, operation) for operation in season.operations] == [False, True]
    assert season_supplies(season, grounds(season)).grain[0].amount_bu == pytest.approx(4000)


def test_what_is_not_known_is_left_out_and_told(tmp_path: Path) -> None:
    season = read(tmp_path, plant="", second="soybeans")
    some = grounds(season)
    del some["plant", season.fields[0].name]
    supplies = season_supplies(season, some)
    assert supplies.products == ()
    assert len(supplies.grain) == 1
    assert any("has no plan and is left out" in note for note in supplies.notes)
    assert any("no yield in bushels is known of soybeans" in note for note in supplies.notes)


def test_published_losses_by_date_of_planting(tmp_path: Path) -> None:
    """Published: Another Look at Corn Planting Date Response, University of Illinois, trials 2007 to 2013."""
    season = read(tmp_path, plant='losses = "northern/central Illinois"')
    plant = season.operations[0]
    assert plant.losses == (
        (date(2027, 4, 20), 0.0), (date(2027, 4, 30), 0.01), (date(2027, 5, 10), 0.04), (date(2027, 5, 20), 0.08),
        (date(2027, 5, 30), 0.14), (date(2027, 6, 10), 0.22),
    )  # fmt: skip
    assert "Another Look at Corn Planting Date Response" in plant.losses_source
    assert "after its last row" not in plant.losses_source


def test_faults_of_products_and_losses_are_told_at_once(tmp_path: Path) -> None:
    with pytest.raises(SeasonError) as error:
        read(
            tmp_path, plant='package = "many"\nlosses = "Ohio"', combine='losses = "Illinois"', second="soybeans",
            crop="",
        )  # fmt: skip
    text = "\n".join(error.value.problems)
    assert "package: got 'many'" in text
    assert "losses of a region are those of one crop" in text
    with pytest.raises(SeasonError, match=r"got 'planting' of 'corn' in 'Ohio'. The table has"):
        read(tmp_path, plant='losses = "Ohio"')
    with pytest.raises(SeasonError, match=r"rate: missing\. A product needs a rate"):
        read(tmp_path, plant='product = "seed"')


@pytest.mark.slow
def test_the_verb_tells_what_to_buy_and_what_comes_off(tmp_path: Path) -> None:
    read(tmp_path, plant=SEED + '\nlosses = "northern/central Illinois"')
    asked = ["season", str(tmp_path / "season.toml"), "--seasons", "20", "--effort", "0.1"]
    told = CliRunner().invoke(main, [*asked, "--supplies", "--truckload", "500bu"])
    assert told.exit_code == 0, told.output
    assert "bags of 80,000 seeds" in told.stdout
    assert "Grain to expect, in loads of 500 bu" in told.stdout
    assert "Another Look at Corn Planting Date Response" in " ".join(told.stderr.split())
    figures = json.loads(CliRunner().invoke(main, [*asked, "--json"]).stdout)
    assert figures["supplies"]["products"][0]["product"] == "corn seed"
    assert figures["supplies"]["load_bu"] == 900
    refused = CliRunner().invoke(main, [*asked, "--truckload", "20t"])
    assert refused.exit_code == 2
    assert "It must be in bushels" in refused.stderr
