"""The season file: what it says, and every fault of it told at once."""

from datetime import date
from pathlib import Path

import pytest

from fieldgeo.errors import FileError, SeasonError
from fieldgeo.season.model import Season, loss_share, whole_days
from fieldgeo.season.places import distances_m
from fieldgeo.season.read import read_season
from fieldgeo.units import ACRE_M2, MILE_M
from tests.command import SAMPLES

TOP = f"""
shed = "{SAMPLES}/shed.toml"
farmstead = "-94.3440,42.4462"
hours_a_day = "10h"
[weather]
region = "Illinois"
[[crop]]
name = "corn"
yield = "200bu/ac"
price = "4.00/bu"
[[field]]
outline = "{SAMPLES}/square_forty.geojson"
crop = "corn"
"""
PLANT = """
[[operation]]
name = "plant"
tool = "16-row planter"
from = 2027-04-20
to = 2027-05-20
"""
DISK = """
[[operation]]
name = "disk"
tool = "30 ft roller harrow"
from = 2027-04-10
to = 2027-05-10
"""


def season_of(folder: Path, text: str) -> Season:
    file = folder / "season.toml"
    file.write_text(text, encoding="utf-8")
    return read_season(file)


def problems_of(folder: Path, text: str) -> tuple[str, ...]:
    with pytest.raises(SeasonError) as caught:
        season_of(folder, text)
    return caught.value.problems


def test_the_sample_season_is_read() -> None:
    season = read_season(SAMPLES / "season.toml")
    assert len(season.fields) == 8
    assert season.machines["combine, 6-row corn head"] == season.machines["combine, 20 ft grain head"] == "combine"
    by_name = {each.name: each for each in season.operations}
    assert [name for name, _ in by_name["plant corn"].after] == ["field cultivate"]
    assert by_name["row cultivate"].after == (("plant corn", 21),)
    assert season.days_off == (6,)


def test_values_come_in_si(tmp_path: Path) -> None:
    text = TOP + PLANT + 'late_from = 2027-05-01\ndaily_loss = "0.6%"\n'
    season = season_of(tmp_path, 'hitching = "30min"\nroad_speed = "18mph"\n' + text)
    assert season.hitch_s == 1800
    assert season.road_speed_m_s == pytest.approx(18 * 0.44704)
    assert season.crops["corn"].yield_bu_m2 == pytest.approx(200 / ACRE_M2)
    assert season.operations[0].losses == ((date(2027, 5, 1), 0.0), (date(2027, 5, 2), pytest.approx(0.006)))
    assert season.assumed == (
        "roads 1.27 times the straight distance where none is given", 'soil "medium" where a field has none',
        "one operator",
    )  # fmt: skip


def test_a_price_of_a_tonne_is_that_of_its_bushels_derived(tmp_path: Path) -> None:
    # 56 lb of corn in a bushel: 0.0254012 t, so 157.47 for a tonne is 4.00 for a bushel.
    season = season_of(tmp_path, TOP.replace("4.00/bu", "157.47/t").replace("200bu/ac", "12.55t/ha") + PLANT)
    assert season.crops["corn"].price_bu == pytest.approx(4.00, abs=0.001)
    assert season.crops["corn"].yield_bu_m2 == pytest.approx(200 / ACRE_M2, rel=0.001)


def test_operations_come_in_the_order_of_the_file_on_the_same_field(tmp_path: Path) -> None:
    season = season_of(tmp_path, TOP + DISK + PLANT)
    assert season.operations[1].after == (("disk", 0),)
    free = season_of(tmp_path, TOP + DISK + PLANT + "after = []\n")
    assert free.operations[1].after == ()


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        (TOP.replace('crop = "corn"', 'crop = "rye"') + PLANT, "got 'rye'. It must be a crop of this season: 'corn'"),
        (TOP + PLANT + 'fields = ["Moon"]\n', "got 'Moon'. It must be a field of this season: 'Square Forty'"),
        (TOP + PLANT.replace("16-row planter", "12-row planter"), "got '12-row planter'. It must be a tool"),
        (TOP + PLANT + 'tractor = "mule"\n', "got 'mule'. It must be a tractor of the shed"),
        (TOP + PLANT.replace("2027-05-20", "2027-04-01"), "got 2027-04-01, before from, 2027-04-20"),
        (TOP.replace("4.00/bu", "-4.00/bu") + PLANT, "A price must not be below zero"),
        (TOP.replace("4.00/bu", "4.00") + PLANT, "such as \"4.30/bu\""),
        ('soil = "chalk"\n' + TOP + PLANT, "got 'chalk'. It must be one of fine, medium, coarse"),
        (TOP + 'soil = "gravel"\n' + PLANT, "field 1: soil: got 'gravel'. It must be one of fine, medium, coarse"),
        (TOP + PLANT.replace("2027-04-20", '"Apr 20"'), "got 'Apr 20'. It must be a date without quotes"),
        (TOP + DISK + PLANT.replace("2027-05-20", "2027-05-20\nwait = \"60d\""), "Dates must be in order"),
        (TOP + DISK + PLANT + 'after = ["plow"]\n', "got 'plow'. It must be another operation of this season: 'disk'"),
        (TOP + PLANT + PLANT, "given more than once"),
        (TOP + PLANT + 'daily_loss = "0.6%"\n', "late_from and daily_loss go together"),
        (TOP + PLANT + "late_from = 2027-05-01\ndaily_loss = 0.6\n", "per cent in quotes"),
        (TOP.replace('price = "4.00/bu"\n', "") + PLANT + 'late_from = 2027-05-01\ndaily_loss = "1%"\n', "no yield"),
        (TOP.replace("square_forty", "no_such_field") + PLANT, "there is no such file"),
        (TOP.replace("shed.toml", "no_shed.toml") + PLANT, "shed: shed file"),
        (TOP.replace('region = "Illinois"', "") + PLANT, "Give region, history or share"),
        (TOP.replace("-94.3440,42.4462", "42.4462,-94.3440") + PLANT, "Longitude comes first"),
        (TOP.replace('"10h"', "10") + PLANT, "hours_a_day: got '10'"),
        (TOP + PLANT + "colour = 3\n", "'colour' is not a key of this program"),
        (TOP + '[[road]]\nfrom = "farmstead"\nto = "Mars"\ndistance = "1mi"\n' + PLANT, "got 'Mars'. It must be"),
        (TOP + '[[operator]]\nname = "x"\ndrives = ["combine"]\n' + PLANT, "got 'combine'. It must be a tool, tractor"),
        (TOP + '[[operator]]\nname = "x"\ndrives = ["90 ft sprayer"]\n' + PLANT, "no operator drives '16-row planter'"),
        (TOP + '[[machine]]\nname = "m"\ntools = ["16-row planter"]\n' + PLANT, "a tool of the shed that drives"),
        (TOP, "operation: missing"),
        (TOP.replace("-94.3440,42.4462", "94.3440,42.4462") + PLANT, "km from field 'Square Forty'; at most 800 km"),
    ],
)  # fmt: skip
def test_a_fault_is_told(tmp_path: Path, text: str, fault: str) -> None:
    problems = problems_of(tmp_path, text)
    assert any(fault in problem for problem in problems), problems


def test_a_tool_that_fits_no_tractor_says_how_much_is_short(tmp_path: Path) -> None:
    plow = PLANT.replace("plant", "plow", 1).replace("16-row planter", "8-bottom plow")
    (problem,) = problems_of(tmp_path, TOP + plow + 'tractor = "old two-wheel drive"\n')
    assert "'old two-wheel drive' comes nearest and is short by" in problem
    assert " kW (" in problem
    assert " hp) at 4.5 mph on medium soil, loaded to 80 %" in problem


def test_a_ring_of_operations_is_told_in_their_order(tmp_path: Path) -> None:
    (problem,) = problems_of(tmp_path, TOP + DISK + 'after = ["plant"]\n' + PLANT + 'after = ["disk"]\n')
    assert problem.startswith("operations come after each other in a ring: ")
    assert problem.count("'plant'") + problem.count("'disk'") == 3


def test_all_faults_come_at_once(tmp_path: Path) -> None:
    text = TOP.replace("4.00/bu", "-1/bu") + 'soil = "chalk"\n' + PLANT.replace("2027-05-20", "2027-04-01")
    problems = problems_of(tmp_path, text.replace("16-row planter", "spade"))
    assert len(problems) == 4
    assert all(word in "\n".join(problems) for word in ("below zero", "'chalk'", "before from", "'spade'"))


LATE = 'late_from = 2027-05-01\ndaily_loss = "1%"\n'


@pytest.mark.parametrize(
    ("text", "count"),
    [
        (TOP.replace("4.00/bu", "-1/bu") + PLANT + LATE, 1),  # no word of a crop without a price
        (TOP.replace("square_forty", "no_such_field") + PLANT, 1),  # none of a crop that no field has
        (TOP[: TOP.index("[[field]]")] + PLANT + 'crop = "corn"\n', 1),
        (TOP + PLANT + PLANT, 2),  # each of the two, and no ring of a name with itself
    ],
)
def test_what_follows_from_a_fault_is_no_fault_of_its_own(tmp_path: Path, text: str, count: int) -> None:
    problems = problems_of(tmp_path, text)
    assert len(problems) == count, problems


@pytest.mark.parametrize("text", ["shed = ", "[[field]", "x" * 400_000, "a = " + "[" * 5000])
def test_what_is_no_season_is_refused(tmp_path: Path, text: str) -> None:
    with pytest.raises((SeasonError, FileError)):
        season_of(tmp_path, text)


@pytest.mark.parametrize(
    "text", ["field = 3", "[field]\nname = 1", "operation = [1, 2]", "weather = []", 'crop = ["x"]']
)
def test_sections_of_another_form_are_faults(tmp_path: Path, text: str) -> None:
    assert problems_of(tmp_path, text + "\n")


def test_roads_that_are_given_and_roads_that_are_not() -> None:
    # Two given roads of a mile; the third way is straight x 1.27 or over the middle place, whichever is less (derived).
    places = [(-94.0, 42.0), (-94.01, 42.0), (-94.02, 42.0)]
    roads = {("a", "b"): MILE_M, ("b", "a"): MILE_M, ("b", "c"): MILE_M, ("c", "b"): MILE_M}
    way, given = distances_m("abc", places, roads, 1.27)
    assert given == 2
    assert way[0, 1] == way[1, 2] == MILE_M
    # A degree of longitude at latitude 42 is 82.85 km (derived from WGS 84), 0.02 of it 1657 m.
    assert way[0, 2] == pytest.approx(1.27 * 1657, rel=0.001)


def test_loss_by_dates_adds_daily_rates_published() -> None:
    # Another Look at Corn Planting Date Response, University of Illinois: 2 bu lost by Apr 30, then 0.6 bu a day to
    # May 10, 0.9 to May 20, 1.2 to May 30: 8, 17 and 29 bu of 216, printed.
    losses = [(date(2027, 4, 30), 2 / 216), (date(2027, 5, 10), 8 / 216), (date(2027, 5, 20), 17 / 216)]
    days = [date(2027, 5, 10), date(2027, 5, 15), date(2027, 5, 30)]
    bushels = 216 * loss_share(losses, days)
    assert bushels[0] == pytest.approx(8)
    assert bushels[1] == pytest.approx(8 + 5 * 0.9)
    assert bushels[2] == pytest.approx(17 + 10 * 0.9)  # it goes on as it rose last
    assert loss_share(losses, [date(2027, 4, 1)])[0] == pytest.approx(2 / 216)


def test_days_that_work_takes_derived() -> None:
    # Season plan arithmetic: 1600 ac at 15 ac/h, 12 h a day: 8.89 days, so 9.
    assert whole_days(1600 / 15, 12) == 9
    assert whole_days(24, 12) == 2


def test_the_days_that_there_are_just_do_published() -> None:
    # Fieldwork Days in Iowa, Iowa State University, Ag Decision Maker A3-25, 2014: of Apr 30 to May 13 4.0 + 4.3 days
    # are fit; 1600 ac in them ask for 192.8 ac a day, 13.8 ac/h at 14 h. At that capacity, rounded up, the hours fit.
    assert 1600 / 13.8 <= 14 * (4.0 + 4.3)
    assert whole_days(1600 / 13.8, 14) == 9
    assert whole_days(1600 / 13.6, 14 * (4.0 + 4.3)) == 2  # a little less, and it does not fit
