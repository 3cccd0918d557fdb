"""What a shed says of draft, power, price and age: read, refused, listed; the verbs pull and shed."""

from pathlib import Path
from typing import Any

import pytest
from command import SHED, answer, message, run
from sheds import problems_of, shed_of

from fieldgeo.analysis.log.calibrate import Calibration, Measured, shed_text
from fieldgeo.analysis.shed_figures import shed_figures
from fieldgeo.machinery.amounts import POUND_KG
from fieldgeo.report.pull_text import shed_lines, shed_notes
from fieldgeo.units import HORSEPOWER_W, to_mph

TOOL = '[[tool]]\nname = "it"\nkind = "field cultivator"\nwidth = "30ft"\nhitch = "pulled"\n'
TRACTOR = '[[tractor]]\nname = "t"\npower = "200hp"\n'


def test_everything_given_is_read(tmp_path: Path) -> None:
    shed = shed_of(
        tmp_path,
        TOOL + 'depth = "4in"\nsoil_units = 50\ndraft_as = "field cultivator, primary"\nmass = "9000lb"\n'
        'pto_power = "5hp"\nleast_speed = "5mph"\nmost_speed = "8mph"\nprice = 60000\npaid = 55000\nage = "3yr"\n'
        'hours = "400h"\nuse = "120h/yr"\nkeep = "7yr"\nspeed = "6mph"\nmeasured = ["speed"]\n'
        '[[tractor]]\nname = "t"\nengine_power = "350hp"\nkind = "tracks"\nmass = "20ton"\nfuel = "diesel"\n'
        'price = 300000\nuse = "400h/yr"\n',
    )  # fmt: skip
    needs, own = shed.needs["it"], shed.owned["it"]
    assert needs.draft is not None
    assert needs.draft.tool == "field cultivator, primary"
    assert (needs.count, needs.assumed) == (50, ())
    assert needs.depth_m == pytest.approx(0.1016)
    assert needs.mass_kg == pytest.approx(9000 * POUND_KG)
    assert needs.pto_power_w == pytest.approx(5 * HORSEPOWER_W)
    assert (to_mph(needs.speed_low_m_s or 0), to_mph(needs.speed_high_m_s or 0)) == pytest.approx((5, 8))
    assert (own.price, own.paid, own.age_years, own.hours, own.use_h_yr, own.keep_years) == (6e4, 55e3, 3, 400, 120, 7)
    assert shed.measured == {"it": ("speed",)}
    # The power take-off has 0.9 of the engine's power (University of Arizona, read).
    assert shed.tractor("t").power_w == pytest.approx(0.9 * 350 * HORSEPOWER_W)
    assert shed.tractor("t").mass_kg == pytest.approx(40_000 * POUND_KG)


def test_own_draft_holds_over_the_table(tmp_path: Path) -> None:
    needs = shed_of(tmp_path, TOOL + 'draft = "200lbf/ft"\n').needs["it"]
    assert needs.draft is None
    assert needs.own_draft_n_m == pytest.approx(2918.78, abs=0.01)


def test_yield_of_the_load_is_what_the_combine_threshes(tmp_path: Path) -> None:
    text = '[[tool]]\nname = "c"\nkind = "combine"\nwidth = "20ft"\nengine_power = "170hp"\n'
    needs = shed_of(tmp_path, text + 'tank = "200bu"\nyield = "60bu/ac"\nholds = "soybeans"\n').needs["c"]
    assert needs.crop_kg_m2 == pytest.approx(60 * 60 * POUND_KG / 4046.8564224)
    assert needs.assumed == ()
    usual = shed_of(tmp_path, text).needs["c"]
    assert usual.crop_kg_m2 == pytest.approx(50 * 60 * POUND_KG / 4046.8564224)  # common practice, no source
    assert [each.what for each in usual.assumed] == ["yield"]


@pytest.mark.parametrize(
    ("lines", "problem"),
    [
        ('depth = "4"', "depth: got '4'. depth must be a number with its unit"),
        ('depth = "0in"', "depth: got '0in'. It must be from 0.5in to 40in"),
        ("soil_units = 0", "soil_units: got 0. It must be a whole number from 1 to 500"),
        ('draft_as = "spade"', "draft_as: got 'spade', but no tool of the draft table goes by that name"),
        ('draft = "200lbf"', "draft: got '200lbf'. draft must be a number with its unit, such as 200lbf/ft"),
        ('draft = "200lbf/ft"\ndraft_as = "roller-harrow"', "draft_as: given beside draft"),
        ('mass = "9ft"', "mass: got '9ft'"),
        ('pto_power = "-1hp"', "pto_power: got '-1hp'"),
        ('engine_power = "100hp"', "engine_power: given for a tool that is pulled"),
        ('least_speed = "9mph"\nmost_speed = "8mph"', "the least speed, 9 mph, is above the most, 8 mph"),
        ("price = -1", "price: got -1. It must be a number above zero without quotes"),
        ("price = 0", "price: got 0"),
        ("price = nan", "price: got nan"),
        ("price = true", "price: got True"),
        ('price = "60000"', "price: got '60000'. It must be a number above zero without quotes"),
        ("paid = 5", "price: missing. paid needs it beside"),
        ('age = "-2yr"', "age: got '-2yr'. It must be from 0yr to 80yr"),
        ("age = 5", "age: got '5'. age must be a number with its unit, such as 8yr"),
        ('use = "120h"', "use: got '120h'. use must be a number with its unit, such as 300h/yr"),
        ('hours = "-1h"', "hours: got '-1h'"),
        ('keep = "0yr"', "keep: got '0yr'. It must be from 1yr to 50yr"),
        ('measured = "speed"', "measured: got 'speed'. It must be keys of this entry in brackets"),
        ('measured = ["lap"]', "measured: got 'lap'. It must be a key that this entry gives"),
    ],
)
def test_a_fault_names_entry_key_value_and_rule(tmp_path: Path, lines: str, problem: str) -> None:
    problems = problems_of(tmp_path, f"{TOOL}{lines}\n")
    assert len(problems) == 1
    assert problems[0].startswith("tool 1 ('it'): ")
    assert problem in problems[0]


@pytest.mark.parametrize(
    ("lines", "problem"),
    [
        ('power = "90hp"\nengine_power = "99hp"', "engine_power: given beside power"),
        ("", "power: missing. Give the power at the power take-off"),
        ('power = "90hp"\nfuel = "coal"', "fuel: got 'coal'. It must be one of diesel, gasoline"),
        ('power = "90hp"\nmass = "1lb"', "mass: got '1lb'. It must be from 500lb"),
        ('power = "90hp"\nprice = -5', "price: got -5"),
    ],
)
def test_a_fault_of_a_tractor(tmp_path: Path, lines: str, problem: str) -> None:
    problems = problems_of(tmp_path, f'{TOOL}[[tractor]]\nname = "t"\n{lines}\n')
    assert len(problems) == 1
    assert problem in problems[0]


def test_a_self_propelled_machine_is_not_drawn(tmp_path: Path) -> None:
    text = TOOL.replace("pulled", "self-propelled")
    problems = problems_of(tmp_path, text + 'draft = "200lbf/ft"\nsoil_units = 9\n')
    assert len(problems) == 2
    assert all("which no tractor draws" in problem for problem in problems)


def test_all_faults_at_once(tmp_path: Path) -> None:
    bad = TOOL.replace("30ft", "30") + 'depth = "4"\nprice = -1\nage = "x"\ndraft_as = "spade"\nmeasured = ["lap"]\n'
    problems = problems_of(tmp_path, bad + TRACTOR + 'fuel = "coal"\nuse = "9"\n')
    keys = ("width", "depth", "price", "age", "draft_as", "measured", "fuel", "use")
    for key in keys:
        assert sum(f": {key}: " in problem for problem in problems) == 1, key
    assert len(problems) == len(keys)


# Listed --------------------------------------------------------------------------------------------------------------


def test_the_list_says_what_was_measured_and_what_is_assumed(tmp_path: Path) -> None:
    shed = shed_of(tmp_path, TOOL + 'speed = "6mph"\nmeasured = ["speed"]\nprice = 60000\n' + TRACTOR)
    figures = shed_figures(shed)
    tool = figures["tools"][0]
    assert tool["measured"] == ["speed"]
    assert [each["what"] for each in tool["assumed"]] == ["draft as of", "depth", "soil units"]
    assert tool["owned"]["price"] == 60000
    assert [each["what"] for each in figures["tractors"][0]["assumed"]] == ["drive", "mass"]
    text = " ".join(" ".join(shed_lines(figures)).split())
    assert "measured, from a log: speed" in text
    assert "assumed: depth 3 in, soil units 51, 7 in apart on 360 in (common practice, no source)" in text
    assert any("recalled" in note for note in shed_notes(figures))


def test_shed_on_the_command_line() -> None:
    figures = answer("shed", SHED)
    assert (len(figures["tools"]), len(figures["tractors"])) == (10, 4)
    planter = next(tool for tool in figures["tools"] if tool["name"] == "16-row planter")
    assert planter["width_ft"] == pytest.approx(planter["width_m"] / 0.3048)
    assert planter["row_spacing_in"] == pytest.approx(30)
    result = run("shed", SHED)
    assert result.exit_code == 0
    assert max(map(len, result.output.splitlines())) <= 80


def test_a_shed_that_cannot_be_read_is_one_message(tmp_path: Path) -> None:
    assert "no such file" in message(run("shed", str(tmp_path / "none.toml")), 1)
    bad = tmp_path / "bad.toml"
    bad.write_text(TOOL + 'depth = "4"\nprice = -1\n', encoding="utf-8")
    text = message(run("pull", str(bad)), 1)
    assert "depth: got '4'" in text
    assert "price: got -1" in text


def test_figures_calibrated_from_a_log_are_named_in_the_shed_they_are_written_to(tmp_path: Path) -> None:
    some, few = Measured(mean=2.5, sd=0.1, n=9), Measured(mean=9.0, sd=0.1, n=2)
    calibration = Calibration(
        width_m=9.144, speed_m_s=some, spacing_m=None, turn_s=few, turn_s_by_kind={}, lifting_s=some,
        lift_s_per_pass=some, stop_share=0.0, stops=0,
    )  # fmt: skip
    shed = TOOL + 'lap = "6in"\nturn_speed = "4mph"\nmeasured = ["lap"]\n'
    tool = shed_of(tmp_path, shed).tool("it")
    again = shed_of(tmp_path, shed_text(tool, calibration, source="day", shed=shed))
    # The lap stays one that an earlier log told; too few turns tell no turning speed.
    assert again.measured["it"] == ("lap", "speed", "raise", "lower")
    assert any("measured, from a log: lap, speed" in line for line in shed_lines(shed_figures(again)))


# The verb pull -------------------------------------------------------------------------------------------------------


def test_pull_on_the_command_line_has_the_keys_and_both_units() -> None:
    figures = answer("pull", SHED, "--soil", "fine", "--surface", "firm", "--slope", "2", "--load-limit", "90")
    keys = {"tractor", "tool", "draft_N", "drawbar_kW", "pto_kW_needed", "fits", "fuel_L_h", "fuel_gal_ac"}
    assert all(keys <= set(row) for row in figures["rows"])
    assert (figures["soil"], figures["surface"], figures["slope_pct"]) == ("fine", "firm", 2)
    assert {row["load_limit"] for row in figures["rows"]} == {0.9, 1.0}
    assert all(row["fits"] == (row["load_share"] <= row["load_limit"]) for row in figures["rows"])


def test_one_pairing_is_told_in_full() -> None:
    result = run("pull", SHED, "--tool", "8-bottom plow", "--tractor", "old two-wheel drive")
    assert result.exit_code == 0
    assert "8-bottom plow behind old two-wheel drive: short at 4.5 mph, holds 2.3 mph" in result.stdout
    assert "published range" in result.stdout
    assert "table: 1.68 gal/ac" in result.stdout
    assert "depth 8 in" in " ".join(result.stderr.split())
    assert max(map(len, result.output.splitlines())) <= 80


def test_less_throttle_takes_less_fuel() -> None:
    arguments = ("pull", SHED, "--tool", "16-row planter", "--tractor", "row-crop tractor")
    full, back = answer(*arguments)["rows"][0], answer(*arguments, "--throttle", "70")["rows"][0]
    assert back["fuel_L_h"] < full["fuel_L_h"]


@pytest.mark.parametrize(
    ("arguments", "text", "code"),
    [
        (("--soil", "muck"), "--soil", 2),
        (("--slope", "90"), "--slope", 2),
        (("--speed", "5"), "speed must be a number with its unit", 2),
        (("--depth", "9"), "depth must be a number with its unit", 2),
        (("--tool", "plough"), "tool: got 'plough'", 1),
        (("--tractor", "mule"), "tractor: got 'mule'", 1),
        (("--speed", "30mph"), "at most 25 mph", 1),
    ],
)
def test_what_cannot_be_is_told_in_one_message(arguments: tuple[str, ...], text: str, code: int) -> None:
    tool = () if "--tool" in arguments else ("--tool", "8-bottom plow")
    assert text in message(run("pull", SHED, *tool, *arguments), code)


def test_a_tool_named_that_nothing_is_known_of_is_an_error_and_left_out_with_others(tmp_path: Path) -> None:
    file = tmp_path / "shed.toml"
    file.write_text(TOOL + '[[tool]]\nname = "cart"\nwidth = "20ft"\nhitch = "pulled"\n' + TRACTOR, encoding="utf-8")
    assert "no draft is published for its kind" in message(run("pull", str(file), "--tool", "cart"), 1)
    figures: dict[str, Any] = answer("pull", str(file))
    assert {row["tool"] for row in figures["rows"]} == {"it"}
    assert len(figures["left_out"]) == 1
    file.write_text(TOOL, encoding="utf-8")
    assert "no tractor to draw it" in run("pull", str(file)).stderr


def test_what_the_answer_rests_on_is_listed_until_it_is_given() -> None:
    arguments = ("pull", SHED, "--tool", "16-row planter", "--tractor", "row-crop tractor")
    plain = {each["what"] for each in answer(*arguments)["assumed"]}
    assert plain == {
        "load of a tractor up to", "of its own engine up to", "low below", "turning takes", "idling at",
    }  # fmt: skip
    options = ("--load-limit", "85", "--turning-load", "30", "--idle-speed", "50")
    asked = {each["what"] for each in answer(*arguments, *options)["assumed"]}
    assert asked == {"of its own engine up to", "low below"}


def test_machines_that_drive_themselves_and_many_tractors_make_tables_too(tmp_path: Path) -> None:
    file = tmp_path / "shed.toml"
    combine = '[[tool]]\nname = "{}"\nkind = "combine"\nwidth = "20ft"\nengine_power = "170hp"\n'
    file.write_text(combine.format("one") + combine.format("two"), encoding="utf-8")
    assert run("pull", str(file)).stdout.count("%") >= 2
    tractors = "".join(f'[[tractor]]\nname = "t{n}"\npower = "{100 + n}hp"\n' for n in range(6))
    file.write_text(TOOL + TOOL.replace('"it"', '"at"') + combine.format("one") + tractors, encoding="utf-8")
    lines = run("pull", str(file)).stdout.splitlines()
    assert max(map(len, lines)) <= 80
    assert sum(line.startswith("  one") for line in lines) == 1
    assert sum(line.startswith("  it") for line in lines) == 2
    file.write_text('[[tool]]\nname = "cart"\nwidth = "20ft"\nhitch = "pulled"\n' + tractors, encoding="utf-8")
    assert "nothing is known" in run("pull", str(file)).stdout


def test_conflicts_between_sources_are_told_with_the_answer(tmp_path: Path) -> None:
    file = tmp_path / "shed.toml"
    chisel = '[[tool]]\nname = "c"\nwidth = "12ft"\nhitch = "pulled"\nkind = "chisel plow"\n'
    chisel += 'draft_as = "chisel plow, 5 cm straight point"\n'
    file.write_text(chisel + TRACTOR + 'kind = "tracks"\n', encoding="utf-8")
    said = " ".join(run("pull", str(file), "--surface", "firm").stderr.split())
    assert "that example uses 0.7 for medium soil, not 0.85: conflict" in said
    assert "tractive ratio of tracks: conflict: the University of Arizona prints 0.79" in said
