"""The shed file: what it gives, what it assumes, and every way it can be wrong."""

from pathlib import Path

import pytest
from sheds import problems_of, shed_of

from fieldgeo.errors import FileError, InputError, ShedError
from fieldgeo.machinery import Tractor, read_shed
from fieldgeo.machinery.shed import SIZE_LIMIT_BYTES
from fieldgeo.machinery.tool_entry import changed_tool
from fieldgeo.units import FOOT_M, parse_power_w

SAMPLE_SHED = Path(__file__).parent.parent / "sample_fields/shed.toml"

WHOLE = """
farm = "Test Farm"
[[tool]]
name = "16-row planter"
kind = "row-crop planter"
rows = 16
row_spacing = "30in"
stated_width = "40ft"
sections = 16
lap = "0in"
speed = "5mph"
turn_speed = "4mph"
turn_radius = "24ft"
pull_out = "15ft"
raise = "3s"
lower = "3s"
hitch = "pulled"
turn_radius_left = "27ft"
turn_radius_right = "22ft"
reverse = "30ft"
reverse_speed = "2mph"
shift = "3s"
tail = "5ft"

[[tractor]]
name = "row-crop tractor"
kind = "front-wheel assist"
power = "161hp"
"""

TOOL = '[[tool]]\nname = "harrow"\nwidth = "30ft"\n'


def test_everything_given_is_everything_read(tmp_path: Path) -> None:
    shed = shed_of(tmp_path, WHOLE)
    tool = shed.tool("16-row planter")
    assert tool.width_m == pytest.approx(12.192, rel=1e-12)
    assert (tool.rows, tool.sections, tool.hitch, tool.kind) == (16, 16, "pulled", "row-crop planter")
    assert tool.row_spacing_m == pytest.approx(0.762)
    assert tool.speed_m_s == pytest.approx(2.2352)
    assert tool.turn_speed_m_s == pytest.approx(1.78816)
    assert tool.turn_radius_m == pytest.approx(7.3152)
    assert tool.pull_out_m == pytest.approx(4.572)
    assert (tool.raise_s, tool.lower_s, tool.lap_m) == (3.0, 3.0, 0.0)
    assert (tool.left_radius_m, tool.right_radius_m) == pytest.approx((27 * FOOT_M, 22 * FOOT_M))
    assert (tool.reverse_limit_m, tool.tail_m) == pytest.approx((30 * FOOT_M, 5 * FOOT_M))
    assert (tool.reverse_speed_m_s, tool.shift_s) == pytest.approx((0.89408, 3.0))
    assert shed.farm == "Test Farm"
    assert shed.notes == ()
    # hp is 550 ft lbf/s = 745.699872 W (derived: 550 x 0.3048 x 4.4482216152605); 161 of them.
    (tractor,) = shed.tractors
    assert (tractor.name, tractor.kind) == ("row-crop tractor", "front-wheel assist")
    assert tractor.power_w == pytest.approx(161 * 745.6998715823, rel=1e-9)


@pytest.mark.parametrize(
    ("rows", "spacing", "width_ft"), [(16, "30in", 40), (8, "30in", 20), (6, "30in", 15), (23, "15in", 28.75)]
)
def test_common_practice_no_source_rows_by_spacing(tmp_path: Path, rows: int, spacing: str, width_ft: float) -> None:
    shed = shed_of(tmp_path, f'[[tool]]\nname = "it"\nrows = {rows}\nrow_spacing = "{spacing}"\n')
    assert shed.tools[0].width_m == pytest.approx(width_ft * FOOT_M, rel=1e-9)


def test_23_rows_called_30_ft_work_28_75_ft_and_it_is_noted(tmp_path: Path) -> None:
    text = '[[tool]]\nname = "no-till"\nrows = 23\nrow_spacing = "15in"\nstated_width = "30ft"\n'
    shed = shed_of(tmp_path, text)
    assert shed.tools[0].width_m == pytest.approx(28.75 * FOOT_M, rel=1e-9)
    note = "called 30 ft wide, but 23 rows at 15 in work 28.75 ft; 28.75 ft is used"
    assert note in shed.notes_on("no-till")


@pytest.mark.parametrize("stated", ["40ft", "12.2m", "12.192m"])
def test_a_stated_width_that_agrees_is_not_noted(tmp_path: Path, stated: str) -> None:
    shed = shed_of(tmp_path, WHOLE.replace('stated_width = "40ft"', f'stated_width = "{stated}"'))
    assert shed.notes == ()


def test_stated_width_of_a_plain_tool(tmp_path: Path) -> None:
    shed = shed_of(tmp_path, TOOL + 'stated_width = "32ft"\n')
    assert "called 32 ft wide, but its width is 30 ft; 30 ft is used" in shed.notes_on("harrow")


def test_what_is_left_out_is_assumed_and_noted(tmp_path: Path) -> None:
    shed = shed_of(tmp_path, TOOL)
    assert shed.notes_on("harrow") == (
        "no kind given: no published field efficiency to set beside the answer",
        "assumed, not given: speed 5 mph, turn_speed 3.91 mph, turn_radius 19.7 ft, pull_out 0 ft, raise 0 s, "
        "lower 0 s, hitch mounted, reverse_speed 2.24 mph, shift 4 s",
    )


def test_reverse_speed_and_shift_are_assumed_only_where_the_tool_is_backed(tmp_path: Path) -> None:
    pulled = shed_of(tmp_path, TOOL + 'hitch = "pulled"\n').notes_on("harrow")[1]
    assert "shift" not in pulled
    assert "reverse" not in pulled
    backed = shed_of(tmp_path, TOOL + 'hitch = "pulled"\nreverse = "20ft"\n').notes_on("harrow")[1]
    assert backed.endswith("lower 0 s, reverse_speed 2.24 mph, shift 4 s")


def test_a_radius_typed_in_holds_for_both_sides(tmp_path: Path) -> None:
    tool = shed_of(tmp_path, WHOLE).tools[0]
    both = changed_tool(tool, {"turn_radius": "25ft"})
    assert (both.left_radius_m, both.right_radius_m) == pytest.approx((25 * FOOT_M, 25 * FOOT_M))
    one = changed_tool(tool, {"turn_radius": "25ft", "turn_radius_left": "30ft", "reverse": "0ft"})
    assert (one.left_radius_m, one.right_radius_m) == pytest.approx((30 * FOOT_M, 25 * FOOT_M))
    assert not one.can_reverse


def test_speed_left_out_is_the_typical_one_of_the_kind_and_says_how_well_it_is_known(tmp_path: Path) -> None:
    shed = shed_of(tmp_path, TOOL + 'kind = "rotary hoe"\n')
    assert shed.tools[0].speed_m_s == pytest.approx(12 * 0.44704)
    assert "speed 12 mph (typical in the published table, recalled)" in shed.notes_on("harrow")[0]
    shed = shed_of(tmp_path, TOOL + 'kind = "subsoiler"\n')
    assert "speed 5 mph (typical in the published table, read)" in shed.notes_on("harrow")[0]


def test_a_combine_drives_itself_unless_told_otherwise(tmp_path: Path) -> None:
    assert shed_of(tmp_path, TOOL + 'kind = "combine"\n').tools[0].hitch == "self-propelled"
    assert shed_of(tmp_path, TOOL + 'kind = "planter"\n').tools[0].hitch == "mounted"


def test_a_word_of_the_grower_becomes_the_machine_of_the_table(tmp_path: Path) -> None:
    assert shed_of(tmp_path, TOOL + 'kind = "roller harrow"\n').tools[0].kind == "mulcher-packer (roller-harrow)"


def test_unknown_tool_lists_those_there_are(tmp_path: Path) -> None:
    shed = shed_of(tmp_path, WHOLE + TOOL)
    with pytest.raises(InputError, match=r"tool: got 'plow'.*'16-row planter', 'harrow'"):
        shed.tool("plow")


@pytest.mark.parametrize(
    ("lines", "problem"),
    [
        ('width = "30"', "tool 1 ('it'): width: got '30'. width must be a number with its unit"),
        ("width = 30", "tool 1 ('it'): width: got '30'. width must be a number with its unit"),
        ('width = "30mph"', "width: got '30mph'"),
        ('width = "30 parsnips"', "width: got '30 parsnips'"),
        ('width = "0ft"', "width: got '0ft'. It must be from 1ft to 300ft"),
        ('width = "-30ft"', "width: got '-30ft'. It must be from"),
        ('width = "4000ft"', "width: got '4000ft'. It must be from"),
        ('width = "1e400ft"', "width: got '1e400ft'"),
        ('width = ""', "width: got ''"),
        ("width = [30]", "width: got '[30]'"),
        ("width = nan", "width: got 'nan'"),
        ("width = 2026-05-01", "width: got 'datetime.date"),
        (f'width = "{"9" * 300}ft"', "width: got"),
        ('width = "30ft"\nspeed = "5ft"', "speed: got '5ft'. speed must be a number with its unit, such as 5mph"),
        ('width = "30ft"\nspeed = "90mph"', "speed: got '90mph'. It must be from 0.1mph to 40mph"),
        ('width = "30ft"\nturn_speed = "0mph"', "turn_speed: got '0mph'"),
        ('width = "30ft"\nturn_radius = "0m"', "turn_radius: got '0m'"),
        ('width = "30ft"\npull_out = "-1ft"', "pull_out: got '-1ft'"),
        ('width = "30ft"\nturn_radius_left = "400ft"', "turn_radius_left: got '400ft'. It must be from 1ft to 300ft"),
        ('width = "30ft"\nturn_radius_right = "6"', "turn_radius_right: got '6'"),
        ('width = "30ft"\nreverse = "yes"', "reverse: got 'yes'. reverse must be a number with its unit"),
        ('width = "30ft"\nreverse_speed = "0mph"', "reverse_speed: got '0mph'. It must be from 0.1mph to 40mph"),
        ('width = "30ft"\nshift = "-1s"', "shift: got '-1s'"),
        ('width = "30ft"\ntail = "-1ft"', "tail: got '-1ft'"),
        ('width = "30ft"\nraise = "3"', "raise: got '3'. raise must be a number with its unit, such as 4s"),
        ('width = "30ft"\nlower = "-3s"', "lower: got '-3s'"),
        ('width = "30ft"\nlap = "15ft"', "lap: got '15ft'. It must be less than half the width, 30 ft"),
        ('width = "30ft"\nhitch = "towed"', "hitch: got 'towed'. It must be one of mounted, pulled, self-propelled"),
        ('width = "30ft"\nsections = 0', "sections: got 0. It must be a whole number from 1 to 300"),
        ('width = "30ft"\nsections = true', "sections: got True"),
        ('width = "30ft"\nsections = "9"', "sections: got '9'"),
        ('width = "30ft"\nkind = "plantr"', "kind: got 'plantr'. It must be a machine of the published table"),
        ('width = "30ft"\nkind = 3', "kind: got 3. It must be text"),
        ('width = "30ft"\nturn_radus = "20ft"', "'turn_radus' is not a key of this program. Did you mean turn_radius?"),
        ('width = "30ft"\nzzz = 1', "'zzz' is not a key of this program. Known keys: name, kind"),
        ('width = "30ft"\nrows = 12\nrow_spacing = "30in"', "width: given beside rows or row_spacing"),
        ("rows = 12", "row_spacing: missing. rows needs it beside"),
        ('row_spacing = "30in"', "rows: missing. row_spacing needs it beside"),
        ('rows = 12.0\nrow_spacing = "30in"', "rows: got 12.0. It must be a whole number from 1 to 100"),
        ('rows = 1000\nrow_spacing = "30in"', "rows: got 1000"),
        (f'rows = 0x{"f" * 9000}\nrow_spacing = "30in"', "rows: got a value too long to show"),
        ('rows = 100\nrow_spacing = "10ft"', "rows: work 1000 ft. It must be 300ft or less"),
        ('width = "90ft"\ntire = "15in"', "tire: got '15in'. It needs a wheel_track beside it"),
        ('width = "90ft"\nwheel_track = "1ft"', "wheel_track: got '1ft'"),
        ('rows = 6\nrow_spacing = "30in"\nsections = 12', "sections: got 12. It must not be more than the 6 rows"),
        ('speed = "5mph"', "width: missing. Give width, or rows and row_spacing"),
    ],
)
def test_a_fault_of_a_tool_names_entry_key_value_and_rule(tmp_path: Path, lines: str, problem: str) -> None:
    problems = problems_of(tmp_path, f'[[tool]]\nname = "it"\n{lines}\n')
    assert len(problems) == 1
    assert problems[0].startswith("tool 1 ('it'): ")
    assert problem in problems[0]
    assert len(problems[0]) < 1000


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("", "tool: missing. A shed needs at least one [[tool]] entry"),
        ("tool = []", "tool: missing"),
        ('[tool]\nname = "it"', "Write [[tool]], with two brackets"),
        ("tool = 3", "Write [[tool]], with two brackets"),
        ("tool = [3]", "tool 1: got 3. Write [[tool]] above"),
        (TOOL + '[[tools]]\nname = "x"', "shed: 'tools' is not a key of this program. Did you mean tool?"),
        ("farm = 3\n" + TOOL, "shed: farm: got 3. It must be text"),
        (TOOL + TOOL, "name: 'harrow' is given 2 times"),
        (TOOL + '[[tractor]]\nname = "harrow"\npower = "90hp"', "name: 'harrow' is given 2 times"),
        (TOOL + '[[tractor]]\nname = "t"', "tractor 1 ('t'): power: missing"),
        (TOOL + '[[tractor]]\npower = "90hp"', "tractor 1: name: missing"),
        (TOOL + '[[tractor]]\nname = "t"\npower = "90ft"', "power: got '90ft'. power must be a number with its unit"),
        (TOOL + '[[tractor]]\nname = "t"\npower = "0hp"', "power: got '0hp'. It must be from 1hp to 2000hp"),
        (
            TOOL + '[[tractor]]\nname = "t"\npower = "90hp"\nkind = "mule"',
            "kind: got 'mule'. It must be one of two-wheel",
        ),
        ('[[tool]]\nname = ""\nwidth = "30ft"', "tool 1 (''): name: got ''. It must be text of 1 to 100"),
        ('[[tool]]\nname = "a\\u001b[31m"\nwidth = "30ft"', "printable characters"),
        ('[[tool]]\nwidth = "30ft"', "tool 1: name: missing"),
    ],
)
def test_a_fault_of_the_file_as_a_whole(tmp_path: Path, text: str, problem: str) -> None:
    problems = problems_of(tmp_path, text)
    assert problem in problems[0]
    assert all(line.isprintable() for line in problems)


def test_all_faults_are_reported_at_once(tmp_path: Path) -> None:
    text = """
    colour = "red"
    [[tool]]
    name = "one"
    width = "30"
    speed = "5 furlongs"
    colour = "green"
    [[tool]]
    kind = "spade"
    rows = 3
    [[tool]]
    name = "one"
    width = "20ft"
    [[tool]]
    name = "one"
    width = "20ft"
    [[tractor]]
    name = "mule"
    """
    problems = problems_of(tmp_path, text)
    starts = [
        "shed: 'colour'",
        "tool 1 ('one'): 'colour'",
        "tool 1 ('one'): width:",
        "tool 1 ('one'): speed:",
        "tool 2: name:",
        "tool 2: kind:",
        "tool 2: row_spacing:",
        "tractor 1 ('mule'): power:",
        "name: 'one' is given 3 times",
    ]
    for start in starts:
        assert sum(problem.startswith(start) for problem in problems) == 1, start
    assert len(problems) == len(starts)


@pytest.mark.parametrize("text", ["[[tool]\n", "name = ", "a = 1\na = 2\n", "x = " + "9" * 5000, "x = " + "[" * 20000])
def test_what_is_not_toml_is_refused(tmp_path: Path, text: str) -> None:
    with pytest.raises(ShedError, match="is not TOML"):
        shed_of(tmp_path, text)


def test_wrong_encoding_is_refused_and_a_byte_order_mark_is_not(tmp_path: Path) -> None:
    file = tmp_path / "shed.toml"
    file.write_bytes(TOOL.encode("utf-16"))
    with pytest.raises(ShedError, match=r"is not UTF-8 text\. Save the file as UTF-8"):
        read_shed(file)
    file.write_bytes(TOOL.encode("utf-8-sig"))
    assert read_shed(file).tools[0].name == "harrow"


def test_missing_folder_huge_and_unnameable_files_are_refused(tmp_path: Path) -> None:
    with pytest.raises(FileError, match="there is no such file"):
        read_shed(tmp_path / "none.toml")
    with pytest.raises(FileError, match="not a plain file"):
        read_shed(tmp_path)
    with pytest.raises(FileError, match=r"no such file|cannot be read"):
        read_shed("a\0b")
    huge = tmp_path / "huge.toml"
    huge.write_text("#" * (SIZE_LIMIT_BYTES + 1), encoding="utf-8")
    with pytest.raises(FileError, match="it is no shed"):
        read_shed(huge)


@pytest.mark.parametrize("power_w", [0.0, -1.0, float("nan"), float("inf")])
def test_tractor_power_must_be_above_zero(power_w: float) -> None:
    with pytest.raises(InputError, match="power_w is"):
        Tractor(name="t", power_w=power_w)


def test_tractor_kind_must_be_known() -> None:
    with pytest.raises(InputError, match="kind is 'mule'"):
        Tractor(name="t", power_w=1e5, kind="mule")


def test_derived_power_of_a_horse() -> None:
    # 550 ft lbf/s x 0.3048 m/ft x 4.4482216152605 N/lbf = 745.6998716 W
    assert parse_power_w("1hp") == pytest.approx(745.6998716, rel=1e-9)
    with pytest.raises(InputError, match="such as 161hp or 120kW"):
        parse_power_w("161")


def test_sample_shed_is_read_and_only_the_misnamed_planter_is_noted() -> None:
    shed = read_shed(SAMPLE_SHED)
    assert len(shed.tools) == 10
    assert len(shed.tractors) == 4
    assert [note.about for note in shed.notes] == ["23-row no-till planter"]
    assert "invented" in shed.farm
    widths_ft = {tool.name: round(tool.width_m / FOOT_M, 6) for tool in shed.tools}
    assert widths_ft["16-row planter"] == 40
    assert widths_ft["23-row no-till planter"] == 28.75
    assert widths_ft["8-row row cultivator"] == 20
    assert widths_ft["combine, 6-row corn head"] == 15
    assert widths_ft["30 ft field cultivator"] == 30
    assert widths_ft["40 ft field cultivator"] == 40
    assert all(tool.kind for tool in shed.tools)
