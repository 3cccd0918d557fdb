"""What a tractor can pull: the chain of powers by hand, pairings that work in practice, and what cannot be."""

from dataclasses import replace
from typing import Any

import pytest
from command import SHED
from hypothesis import given
from hypothesis import strategies as st

from fieldgeo.analysis.pull_figures import pull_figures, pull_row, pull_shed
from fieldgeo.errors import InputError
from fieldgeo.machinery import kinds
from fieldgeo.machinery.needs import Needs, needs_of
from fieldgeo.machinery.pull import FASTEST_M_S, PullRules, pull_of
from fieldgeo.machinery.shed import read_shed
from fieldgeo.machinery.tables import machine_of
from fieldgeo.machinery.tool import Tool
from fieldgeo.machinery.tool_entry import tool_of
from fieldgeo.machinery.traction import Ground
from fieldgeo.machinery.tractor import Tractor
from fieldgeo.report.pull_text import pull_lines, pull_notes
from fieldgeo.units import FOOT_M, HORSEPOWER_W, MPH_M_S, parse_draft_n_m, to_horsepower, to_mph, to_pounds_force


def tool(kind: str, **values: Any) -> Tool:
    return tool_of({"name": "it", "kind": kind} | values)[0]


def tractor(hp: float, kind: str = "front-wheel assist", **values: Any) -> Tractor:
    return Tractor(name="t", power_w=hp * HORSEPOWER_W, kind=kind, **values)


PLOW = tool("plow", width="12ft", speed="4.5mph", hitch="pulled")
PLANTER = tool("row-crop planter", rows=16, row_spacing="30in", hitch="pulled")
CULTIVATOR = tool("row cultivator", rows=8, row_spacing="30in")
HARROW = tool("roller harrow", width="30ft", hitch="pulled")
NO_TILL = tool("no-till planter", rows=23, row_spacing="15in", hitch="pulled")
GRAIN_HEAD = tool("combine", width="20ft")
CORN_HEAD = tool("combine", rows=6, row_spacing="30in")


# Pairings that work in practice: common practice, no source ----------------------------------------------------------


@pytest.mark.parametrize("share", [1.0, 1 / 3])
@pytest.mark.parametrize(
    ("tool", "word", "hp", "kind", "speeds_mph"),
    [
        (PLANTER, "", 161, "front-wheel assist", (4.5, 5, 5.5, 6)),
        (CULTIVATOR, "", 95, "two-wheel drive", (4, 5, 6)),
        (HARROW, "", 350, "four-wheel drive", (5, 6, 7)),
        (NO_TILL, "no-till planter", 170, "front-wheel assist", (4, 4.5, 5, 5.5)),
    ],
    ids=["16-row planter", "8-row cultivator", "30 ft roller harrow", "23-row no-till planter"],
)
def test_common_practice_pairings_fit_and_do_not_with_a_third_of_the_power(
    tool: Tool, word: str, hp: float, kind: str, speeds_mph: tuple[float, ...], share: float
) -> None:
    needs = needs_of(tool, word=word)
    # The harrow's 350 hp hold for either meaning: at the power take-off here, of the engine with a tenth less.
    for power_hp in (hp, 0.9 * hp) if tool is HARROW else (hp,):
        for speed_mph in speeds_mph:
            pull = pull_of(tool, needs, tractor(power_hp * share, kind), speed_m_s=speed_mph * MPH_M_S)
            assert pull.fits == (share == 1.0), (power_hp, speed_mph, pull.load_share)


@pytest.mark.parametrize("head", [GRAIN_HEAD, CORN_HEAD], ids=["20 ft grain head", "6-row corn head"])
@pytest.mark.parametrize("share", [1.0, 1 / 3])
def test_common_practice_170_hp_combine_drives_either_head_and_not_with_a_third(head: Tool, share: float) -> None:
    needs = needs_of(head, given={"engine_w": 170 * HORSEPOWER_W * share, "mass_kg": 11_000.0})
    for speed_mph in (2.5, 3, 3.5, 4):
        assert pull_of(head, needs, speed_m_s=speed_mph * MPH_M_S).fits == (share == 1.0)


# The chain by hand ---------------------------------------------------------------------------------------------------


def test_derived_chain_of_powers_of_a_plow() -> None:
    # D = 0.7 x (652 + 5.1 x 7.242048^2) x 3.6576 m x 20.32 cm = 47,838 N (D497 Table 1, recalled).
    speed_km_h = 4.5 * 1.609344
    draft_n = 0.7 * (652 + 5.1 * speed_km_h**2) * 3.6576 * 20.32
    pull = pull_of(PLOW, needs_of(PLOW), tractor(330, "four-wheel drive"))
    assert pull.powers.draft_n == pytest.approx(draft_n, rel=1e-9)
    assert pull.powers.draft_n == pytest.approx(47_838, rel=1e-4)
    # Drawbar = 47.838 kN x 7.242 km/h / 3.6 = 96.24 kW; / 0.75 on tilled ground = 128.3 kW at the PTO;
    # axle = x 0.96 = 123.2 kW; engine = / 0.9 = 142.6 kW.
    assert pull.powers.drawbar_w / 1000 == pytest.approx(96.236, abs=0.01)
    assert pull.powers.pto_w / 1000 == pytest.approx(128.31, abs=0.02)
    assert pull.powers.axle_w / 1000 == pytest.approx(123.18, abs=0.02)
    assert pull.engine_w / 1000 == pytest.approx(142.57, abs=0.02)
    # The published range of a plow is 40 % either way.
    assert (pull.low.draft_n, pull.high.draft_n) == pytest.approx((0.6 * draft_n, 1.4 * draft_n))
    assert pull.load_share == pytest.approx(128.31 / (330 * 0.745699872), abs=1e-4)
    assert pull.fits
    assert pull.fits_in_hard_ground


def test_published_drawbar_power_textbook_2007() -> None:
    # Introduction to Agricultural Engineering Technology, 3rd ed., 2007: 1500 lb at 5.5 mph is 22 hp (the printed
    # answer was garbled; computed by its formula, lb x mph / 375).
    rig = tool("plow", width="10ft", hitch="pulled", speed="5.5mph")
    needs = Needs(own_draft_n_m=parse_draft_n_m("150lbf/ft"))
    assert to_horsepower(pull_of(rig, needs, tractor(100)).powers.drawbar_w) == pytest.approx(22.0, abs=0.05)


def test_published_tandem_disk_iowa_state_a3_26() -> None:
    # Iowa State University Extension, Ag Decision Maker A3-26, 2007: 24 ft at 6 mph and 200 lb a foot, soil factor 1.5
    # (PTO over drawbar power, firm soil), 115 PTO hp.
    disk = tool("disk", width="24ft", speed="6mph", hitch="pulled")
    pull = pull_of(disk, Needs(own_draft_n_m=parse_draft_n_m("200lbf/ft")), tractor(150))
    assert 1.5 * to_horsepower(pull.powers.drawbar_w) == pytest.approx(115, abs=0.5)
    # Our table's ratios lie about the printed factor: 1 / 0.73 = 1.37 with front-wheel assist on tilled ground.
    assert to_horsepower(pull.powers.pto_w) == pytest.approx(76.8 / 0.73, abs=0.05)


def test_published_altitude_guide_to_machinery_costs_2015() -> None:
    # Guide to Machinery Costs 2015/16, South African Department of Agriculture: 40 kW needed where an engine has 80 %
    # of its power left takes 50 kW rated.
    rules = PullRules(load_limit=1.0, altitude_share=0.8)
    needs = Needs(own_draft_n_m=40_000 * 0.73 / 2 / PLOW.width_m)  # 40 kW at the PTO at 2 m/s, tilled ground
    just, less = (Tractor(name="t", power_w=w, kind="front-wheel assist") for w in (50_000 + 0.1, 49_900))
    assert pull_of(PLOW, needs, just, speed_m_s=2.0, rules=rules).fits
    assert not pull_of(PLOW, needs, less, speed_m_s=2.0, rules=rules).fits


def test_derived_own_draft_holds_over_the_table_and_shafts_are_added() -> None:
    needs = needs_of(PLOW, given={"own_draft_n_m": 10_000.0, "pto_power_w": 5_000.0})
    assert needs.draft is None
    pull = pull_of(PLOW, needs, tractor(200), speed_m_s=2.0, ground=Ground(surface="firm"))
    assert pull.powers.draft_n == pytest.approx(36_576)
    assert pull.powers.pto_w == pytest.approx(36_576 * 2 / 0.77 + 5_000)
    assert pull.low == pull.high == pull.powers  # nothing is published about it


def test_derived_climbing_adds_tractor_and_tool_and_fuel_goes_by_the_level() -> None:
    needs = needs_of(PLOW, given={"mass_kg": 2_000.0})
    rig = tractor(330, "four-wheel drive", mass_kg=14_000.0)
    up = pull_of(PLOW, needs, rig, ground=Ground(slope=0.05))
    # 16,000 kg x g x sin(atan 0.05) = 7,835.5 N
    assert up.powers.slope_n == pytest.approx(7835.5, abs=0.5)
    assert up.powers.drawbar_w == pytest.approx((up.powers.draft_n + 7835.5) * PLOW.speed_m_s, rel=1e-5)
    assert up.level == pull_of(PLOW, needs, rig).powers


def test_derived_combine_power() -> None:
    needs = needs_of(CORN_HEAD, given={"engine_w": 130_000.0, "mass_kg": 12_000.0, "crop_kg_m2": 1.0})
    pull = pull_of(CORN_HEAD, needs, speed_m_s=1.5, ground=Ground(surface="firm"))
    # 4.572 m x 1.5 m/s x 1 kg/m2 = 6.858 kg/s = 24.689 t/h: 35 + 1.6 x 24.689 = 74.502 kW.
    assert pull.powers.rotary_w == pytest.approx(74_502, abs=1)
    # Rolling 0.0642500 x 12,000 x g = 7,560.9 N; x 1.5 / (1 - 0.09) = 12,463 W at the axles, / 0.8 = 15,579 W.
    assert pull.powers.rolling_n == pytest.approx(7560.9, abs=1)
    assert pull.powers.axle_w == pytest.approx(12_463, abs=2)
    assert pull.powers.pto_w == pytest.approx(74_502 + 15_579, abs=3)
    assert pull.available_w == pytest.approx(0.9 * 130_000)
    assert (pull.powers.draft_n, pull.powers.drawbar_w) == (0, 0)


# The fastest speed ---------------------------------------------------------------------------------------------------


@given(hp=st.floats(30, 600), soil=st.sampled_from(["fine", "medium", "coarse"]), slope=st.floats(0, 0.2))
def test_the_fastest_speed_takes_just_the_power_that_may_be_used(hp: float, soil: Any, slope: float) -> None:
    needs = needs_of(PLOW)
    ground = Ground(soil=soil, slope=slope)
    pull = pull_of(PLOW, needs, tractor(hp), ground=ground)
    assert pull.fastest_m_s is not None
    at = pull_of(PLOW, needs, tractor(hp), ground=ground, speed_m_s=pull.fastest_m_s)
    if pull.fastest_m_s < FASTEST_M_S:
        assert at.load_share == pytest.approx(0.8, abs=1e-4)
    assert at.fits
    assert pull.fits == (PLOW.speed_m_s <= pull.fastest_m_s)


def test_a_tool_that_takes_more_than_there_is_standing_has_no_speed() -> None:
    needs = replace(needs_of(PLOW), pto_power_w=200_000.0)
    pull = pull_of(PLOW, needs, tractor(100))
    assert pull.fastest_m_s is None
    assert not pull.fits


def test_more_than_asked_for_is_told_as_well_as_less() -> None:
    assert pull_of(HARROW, needs_of(HARROW), tractor(350, "four-wheel drive")).is_overpowered
    assert not pull_of(PLOW, needs_of(PLOW), tractor(330, "four-wheel drive")).is_overpowered


# What a tool needs, where the shed does not say ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("kind", "values", "word", "row"),
    [
        ("planter", {"rows": 8, "row_spacing": "30in", "hitch": "mounted"}, "", "mounted, seeding only"),
        ("planter", {"rows": 8, "row_spacing": "30in", "hitch": "pulled"}, "", "drawn, seeding only"),
        ("no-till planter", {"width": "20ft"}, "no-till planter", "no-till, seeding only"),
        ("drill", {"width": "7ft"}, "", "< 2.4 m"),
        ("drill", {"width": "10ft"}, "", "2.4-3.7 m"),
        ("drill", {"width": "30ft"}, "", "> 3.7 m"),
        ("no-till drill", {"width": "15ft"}, "no-till drill", "grain drill no-till"),
    ],
)
def test_common_practice_draft_row_of_a_kind(kind: str, values: dict[str, Any], word: str, row: str) -> None:
    needs = needs_of(tool(kind, **values), word=word)
    assert needs.draft is not None
    assert row in needs.draft.tool
    assert needs.assumed[0].what == "draft as of"


# Machines of the efficiency table of which nothing is published on draft, or which no tractor draws.
NO_DRAFT = {
    "rotary tiller", "corn picker-sheller", "combine, pull-type", "combine, self-propelled", "fertilizer spreader",
    "boom-type sprayer", "stalk chopper (listed with beet topper)", "forage harvester, pull-type",
    "forage harvester, self-propelled", "anhydrous ammonia applicator", "manure spreader",
    "tillage or other tool without in-field tending", "planter/applicator/harvester with in-field tending",
}  # fmt: skip


@pytest.mark.parametrize("kind", kinds())
def test_every_kind_of_tool_has_its_draft_or_is_known_to_have_none(kind: str) -> None:
    each = tool(kind, width="20ft", hitch="pulled")
    assert needs_of(each).knows_draft == (machine_of(each.kind) not in NO_DRAFT)


def test_derived_number_of_sweeps_is_the_whole_number_that_fits() -> None:
    # 40 ft = 480 in; / 7 in = 68.57: 68 sweeps (floor, as a 2007 textbook counts); 30 in shanks on 10 ft: 4.
    assert needs_of(tool("field cultivator", width="40ft")).count == 68
    assert needs_of(tool("subsoiler", width="10ft")).count == 4
    assert needs_of(tool("subsoiler", width="10ft"), given={"soil_units": 5}).count == 5


def test_speed_range_is_the_table_s_where_none_is_given() -> None:
    needs = needs_of(PLANTER)
    assert to_mph(needs.speed_low_m_s or 0) == pytest.approx(4)
    assert to_mph(needs.speed_high_m_s or 0) == pytest.approx(7)
    own = needs_of(PLANTER, given={"speed_low_m_s": 8 * MPH_M_S})  # above the table's upper end
    assert own.speed_high_m_s is None


# Refused -------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("call", "match"),
    [
        (lambda: pull_of(PLOW, needs_of(PLOW)), "it needs a tractor"),
        (lambda: pull_of(CORN_HEAD, needs_of(CORN_HEAD), tractor(100)), "drives itself; tractor 't' cannot draw it"),
        (lambda: pull_of(CORN_HEAD, needs_of(CORN_HEAD)), "engine_power is missing"),
        (lambda: pull_of(PLOW, Needs(), tractor(100)), "no draft is published for its kind"),
        (lambda: pull_of(PLOW, needs_of(PLOW), tractor(100), speed_m_s=0.0), "speed: got 0 m/s"),
        (lambda: pull_of(PLOW, needs_of(PLOW), tractor(100), speed_m_s=float("nan")), "speed: got nan"),
        (lambda: pull_of(PLOW, needs_of(PLOW), tractor(100), speed_m_s=30.0), "at most 25 mph"),
        (lambda: PullRules(load_limit=0.0), "load_limit: got 0"),
        (lambda: PullRules(load_limit=80.0), r"at most 1 \(80 % is 0.8\)"),
        (lambda: PullRules(overpowered_below=1.0), "overpowered_below: got 1"),
        (lambda: PullRules(own_mass_kg_w=-1.0), "own_mass_kg_w: got -1"),
        (lambda: Needs(depth_m=-1.0), "depth_m is -1"),
        (lambda: Needs(pto_power_w=-1.0), "pto_power_w is -1"),
        (lambda: Needs(speed_low_m_s=3.0, speed_high_m_s=2.0), "the least speed, 6.71 mph, is above the most"),
        (
            lambda: needs_of(tool("stalk chopper", width="10ft"), given={"draft_as": "coulter, smooth"}),
            "depth: missing",
        ),
        (
            lambda: needs_of(tool("stalk chopper", width="9ft"), given={"draft_as": "coulter, smooth", "depth_m": 0.1}),
            "soil_units: missing",
        ),
    ],
)
def test_what_cannot_be_is_refused(call: Any, match: str) -> None:
    with pytest.raises(InputError, match=match):
        call()


# Figures and lines ---------------------------------------------------------------------------------------------------


def test_a_row_has_every_key_and_both_units_agree() -> None:
    row = pull_row(pull_of(PLOW, needs_of(PLOW), tractor(330, "four-wheel drive")))
    keys = {"tractor", "tool", "draft_N", "drawbar_kW", "pto_kW_needed", "fits", "fuel_L_h", "fuel_gal_ac"}
    assert keys <= set(row)
    assert row["draft_N"] == pytest.approx(row["draft_lbf"] * 4.4482216152605)
    for name in ("drawbar", "axle", "rotary"):
        assert row[f"{name}_kW"] == pytest.approx(row[f"{name}_hp"] * 0.745699872, abs=1e-6)
    for name in ("pto", "engine"):
        assert row[f"{name}_kW_needed"] == pytest.approx(row[f"{name}_hp_needed"] * 0.745699872, rel=1e-6)
    assert row["pto_kW_available"] == pytest.approx(330 * 0.745699872, rel=1e-6)
    for name in ("speed", "fastest", "normal_low", "normal_high"):
        assert row[f"{name}_m_s"] == pytest.approx(row[f"{name}_mph"] * 0.44704)
    assert (row["width_m"], row["depth_m"]) == pytest.approx((12 * FOOT_M, 8 * 0.0254))
    assert (row["width_ft"], row["depth_in"]) == pytest.approx((12, 8))
    assert row["fuel_L_h"] == pytest.approx(row["fuel_gal_h"] * 3.785411784)
    # 1 gal/ac = 9.35396 L/ha
    assert row["fuel_L_ha"] == pytest.approx(row["fuel_gal_ac"] * 9.35396, rel=1e-5)
    assert to_pounds_force(row["draft_N"]) == pytest.approx(row["draft_lbf"])
    assert row["draft_figures"]["status"] == "memory_checked"
    assert row["traction"]["status"] == "read"


def test_the_sample_shed_as_a_whole() -> None:
    shed = read_shed(SHED)
    pulled = pull_shed(shed)
    drawn = [each for each in shed.tools if each.hitch != "self-propelled"]
    assert len(pulled.pulls) == len(drawn) * len(shed.tractors) + (len(shed.tools) - len(drawn))
    figures = pull_figures(pulled, farm=shed.farm)
    lines = list(pull_lines(figures))
    assert max(map(len, lines)) <= 80
    assert sum("recalled" in note for note in pull_notes(figures)) >= 2
    # Every tool is drawn by some tractor of the farm, or by itself.
    for each in shed.tools:
        assert any(row["fits"] for row in figures["rows"] if row["tool"] == each.name), each.name


def test_a_depth_for_all_tools_reaches_those_that_go_by_depth() -> None:
    shed = read_shed(SHED)
    names = ["8-bottom plow", "30 ft roller harrow"]
    deep = pull_shed(shed, tools=names, tractors=["big four-wheel drive"], depth_m=0.3048).pulls
    plain = pull_shed(shed, tools=names, tractors=["big four-wheel drive"]).pulls
    assert deep[0].powers.draft_n == pytest.approx(12 / 8 * plain[0].powers.draft_n)
    assert deep[1].powers.draft_n == plain[1].powers.draft_n
    assert all(each.what != "depth" for each in deep[0].assumed)
