"""Which tools of a shed fit whose rows: on the sample shed, in JSON, as text, and every way it is refused."""

from pathlib import Path
from typing import Any

import pytest
from command import SHED, answer, message, run

from fieldgeo.analysis.match import MatchRules, match_rows, match_shed
from fieldgeo.analysis.match_figures import match_figures
from fieldgeo.errors import InputError
from fieldgeo.machinery import Shed
from fieldgeo.machinery.tool import Tool

INCH_M = 0.0254
RULES = MatchRules()


def row_tool(name: str, rows: int, spacing_in: float = 30.0, **given: Any) -> Tool:
    spacing_m = spacing_in * INCH_M
    return Tool(name=name, rows=rows, row_spacing_m=spacing_m, width_m=rows * spacing_m, **given)


def planter(rows: int, spacing_in: float = 30.0) -> Tool:
    return row_tool(f"{rows}-row planter", rows, spacing_in, kind="row-crop planter")


def reasons(first: Tool, second: Tool, rules: MatchRules = RULES) -> str:
    (pair,) = match_figures(match_shed(Shed(tools=(first, second)), rules))["pairs"]
    return str(pair["why"])


# Common practice, no source: what the trade holds of guess rows.


def test_an_8_row_cultivator_fits_a_16_row_planter_common_practice_no_source() -> None:
    assert match_rows(planter(16), row_tool("cultivator", 8), RULES).fits


def test_a_6_row_head_in_16_row_planting_straddles_common_practice_no_source() -> None:
    pair = match_rows(planter(16), row_tool("head", 6), RULES)
    assert not pair.fits
    assert pair.pattern is not None
    assert pair.pattern.straddling


def test_15_inch_rows_fit_no_30_inch_head_common_practice_no_source() -> None:
    for rows in range(1, 25):
        assert not match_rows(planter(23, 15.0), row_tool("head", rows), RULES).fits


def test_every_pair_of_the_sample_shed() -> None:
    figures = answer("match", SHED)
    fits = {(pair["first"], pair["second"]): pair["fits"] for pair in figures["pairs"]}
    corn, beans = "16-row planter", "23-row no-till planter"
    assert fits == {
        (corn, "8-row row cultivator"): True,
        (corn, "90 ft sprayer"): True,
        (corn, "combine, 6-row corn head"): False,
        (beans, "8-row row cultivator"): False,
        (beans, "90 ft sprayer"): False,
        (beans, "combine, 6-row corn head"): False,
    }
    assert set(figures["pairs"][0]) >= {"first", "second", "fits", "why", "period_m"}
    head = figures["pairs"][2]
    # Derived: see test_rows; 48 rows of 30 in are 120 ft = 36.576 m.
    assert head["guess_rows"]["rows_of_that_pass"] == [13, 18]
    assert head["guess_rows"]["period_rows"] == 48
    assert head["period_m"] == pytest.approx(36.576)
    assert head["way_round"] == {"passes": 3, "last_rows": 4, "extra_pct": pytest.approx(12.5)}
    assert "8-bottom plow" in figures["untied"]


def test_every_second_row_shut_off_derived() -> None:
    # Derived: of 23 rows the odd ones are 12, 30 in apart; 6 divides 12, 8 does not.
    for rows, fits in ((6, True), (8, False)):
        pair = match_rows(planter(23, 15.0), row_tool("head", rows), RULES)
        assert pair.alternate is not None
        assert (pair.alternate.planter_rows, pair.alternate.is_clear) == (12, fits)


def test_a_guess_row_that_is_off_derived() -> None:
    # Derived: one guess row within a pass, off by e, puts the rows e / 2 off.
    tools = planter(16), row_tool("head", 6)
    for error_in, fits in ((3.9, True), (4.0, True), (4.1, False)):
        rules = MatchRules(tolerance_m=2 * INCH_M, guess_error_m=error_in * INCH_M)
        pair = match_rows(*tools, rules)
        assert pair.fits is fits
        assert pair.rows_off_m == pytest.approx(error_in / 2 * INCH_M)
    assert "off by more than 4 in" in reasons(*tools)
    assert "put its rows up to 1.5 in off, within the 2 in allowed" in reasons(
        *tools, MatchRules(guess_error_m=3 * INCH_M)
    )


def test_spacing_that_mixes_inches_and_centimetres_is_told() -> None:
    # Derived: 7 mm, 0.28 in, for 8 rows; within 2 in, so it fits, and the note asks to write one spacing.
    first, second = planter(16), row_tool("cultivator", 8, 76 / 2.54)
    assert match_rows(first, second, RULES).fits
    assert match_rows(first, second, RULES).spacing_off_m == pytest.approx(0.007)
    assert not match_rows(first, second, MatchRules(tolerance_m=0.005)).fits
    (note,) = match_figures(match_shed(Shed(tools=(first, second)), RULES))["notes"]
    assert "30 in (76.2 cm)" in note
    assert "29.92 in (76 cm)" in note
    assert "write it the same way for both" in note


def test_mixed_spacing_in_a_shed_file(tmp_path: Path) -> None:
    shed = tmp_path / "shed.toml"
    shed.write_text(
        '[[tool]]\nname = "planter"\nkind = "planter"\nrows = 16\nrow_spacing = "30in"\n'
        '[[tool]]\nname = "cultivator"\nrows = 8\nrow_spacing = "76cm"\n'
    )
    result = run("match", str(shed))
    assert result.exit_code == 0
    assert result.stderr.replace("\n  ", " ").count("write it the same way for both") == 1


def test_wheels_of_a_row_tool_are_judged_but_not_at_harvest() -> None:
    # Derived: 8 rows, their middle between rows; wheels 45 in off it stand on rows, wheels 60 in off it do not.
    for track_in, fits in ((90.0, False), (120.0, True)):
        second = row_tool("cultivator", 8, wheel_track_m=track_in * INCH_M, tire_m=15 * INCH_M)
        assert match_rows(planter(16), second, RULES).fits is fits
    head = row_tool("head", 8, kind="combine, self-propelled", wheel_track_m=90 * INCH_M)
    assert match_rows(planter(16), head, RULES).fits
    assert "after they are cut" in reasons(planter(16), head)


def test_wheels_on_rows_do_not_change_what_is_said_of_guess_rows() -> None:
    # Derived: 3 in put its rows 1.5 in off, just what is allowed; what keeps it from fitting is its wheels.
    bar = row_tool("bar", 24, wheel_track_m=90 * INCH_M)
    rules = MatchRules(tolerance_m=1.5 * INCH_M, guess_error_m=3 * INCH_M)
    assert not match_rows(planter(16), bar, rules).fits
    text = reasons(planter(16), bar, rules)
    assert "up to 1.5 in off, within the 1.5 in allowed" in text
    assert "wheels 90 in apart run on rows" in text


def test_a_lap_that_would_make_whole_rows_derived() -> None:
    # Derived: 92 ft is 1104 in, 36 rows of 30 in and 24 in over.
    odd = Tool(name="sprayer", width_m=92 * 0.3048, kind="boom-type sprayer")
    assert "with a lap of 24 in a pass would be 36 rows" in reasons(planter(16), odd)


def test_sprayers() -> None:
    sprayer = {"width_m": 90 * 0.3048, "kind": "boom-type sprayer"}
    assert match_rows(planter(16), Tool(name="sprayer", **sprayer), RULES).fits
    assert "wheel track is not given" in reasons(planter(16), Tool(name="sprayer", **sprayer))
    on_rows = Tool(name="sprayer", wheel_track_m=90 * INCH_M, tire_m=15 * INCH_M, **sprayer)
    assert "begun 15 in to the side they run between" in reasons(planter(16), on_rows)
    assert match_rows(planter(16), on_rows, RULES).fits
    # Derived: 7.5 in are left; a guess row 20 in off between the wheels takes 10 of them.
    assert not match_rows(planter(16), on_rows, MatchRules(guess_error_m=20 * INCH_M)).fits
    odd = Tool(name="sprayer", width_m=92 * 0.3048, kind="boom-type sprayer")
    assert not match_rows(planter(16), odd, RULES).fits
    assert "36.80 rows" in reasons(planter(16), odd)


def test_sides_of_a_field_with_a_short_planter_pass() -> None:
    figures = answer("match", SHED, "--field-rows", "36", "--planter", "16-row planter")
    cultivator = figures["pairs"][0]
    assert cultivator["sides"]["planter_began"]["straddling"] == 0
    assert cultivator["sides"]["other"]["straddling"] == 2
    assert "begin where it began" in cultivator["why"]


def test_lines_fit_a_terminal() -> None:
    for more in ([], ["--guess-error", "2in", "--field-rows", "100"]):
        result = run("match", SHED, *more)
        assert result.exit_code == 0
        assert max(map(len, (result.stdout + result.stderr).splitlines())) <= 80
    result = run("match", SHED)
    assert "no fit  combine, 6-row corn head, repeats every 120 ft (36.576 m)" in result.stdout


def test_the_picture_is_drawn_and_not_over_a_file(tmp_path: Path) -> None:
    for name in ("rows.svg", "rows.png"):
        target = tmp_path / name
        assert run("match", SHED, "--map", str(target)).exit_code == 0
        assert target.stat().st_size > 5000
        assert "exists and is left alone" in message(run("match", SHED, "--map", str(target)), 1)
        assert run("match", SHED, "--map", str(target), "--force").exit_code == 0


def shed_file(folder: Path, text: str) -> str:
    file = folder / "shed.toml"
    file.write_text(text)
    return str(file)


def test_a_shed_without_a_planter_is_refused(tmp_path: Path) -> None:
    plain = shed_file(tmp_path, '[[tool]]\nname = "head"\nrows = 6\nrow_spacing = "30in"\n')
    assert "no tool of the shed lays rows" in message(run("match", plain), 1)
    alone = run("match", plain, "--planter", "head", "--planter", "head", "--map", str(tmp_path / "alone.svg"))
    assert alone.exit_code == 0
    assert "no other tool of the shed has rows" in alone.stderr


@pytest.mark.parametrize(
    ("arguments", "says", "code"),
    [
        (["--planter", "harrow"], "tool: got 'harrow'. It must be one of the shed's tools", 1),
        (["--planter", "8-bottom plow"], "'8-bottom plow' has no rows", 1),
        (["--tolerance", "2"], "must be a number with its unit", 2),
        (["--tolerance", "-2in"], "tolerance: got -0.0508 m. It must not be below zero", 2),
        (["--guess-error", "-1in"], "guess error: got -0.0254 m. It must not be below zero", 2),
        (["--field-rows", "0"], "0 is not in the range", 2),
        (["--field-rows", "200000"], "must be from 1 to 100000", 1),
        (["--map", "rows.gif"], "must end in .svg", 2),
    ],
)
def test_what_is_refused(arguments: list[str], says: str, code: int) -> None:
    assert says in message(run("match", SHED, *arguments), code)


def test_a_missing_shed_is_refused(tmp_path: Path) -> None:
    assert "there is no such file" in message(run("match", str(tmp_path / "none.toml")), 1)


def test_a_tool_without_rows_lays_none() -> None:
    with pytest.raises(InputError, match="lays no rows"):
        match_rows(Tool(name="harrow", width_m=9.0), planter(16), RULES)
