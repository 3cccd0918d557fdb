"""Every figure of the verbs on machines and seasons in both kinds of units, and the two the same."""

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.command import SAMPLES, SHED, SQUARE, answer, message, run

# Published: the exact factors of NIST SP 811 (2008), Appendix B: foot, acre of that foot, pound, pound-force,
# gallon; the mechanical horsepower is 550 ft lbf/s.
FOOT_M, ACRE_M2, POUND_KG, POUND_FORCE_N, GALLON_L, HORSEPOWER_KW = (
    0.3048, 4046.8564224, 0.45359237, 4.4482216152605, 3.785411784, 0.74569987158227,
)  # fmt: skip
MPH_M_S = 0.44704
HECTARE_ACRES = 10_000 / ACRE_M2
# Unit in the name of a key, the names of the other side, and what one of the first is in the other.
PAIRS: dict[str, dict[str, float]] = {
    "N_m": {"lbf_ft": FOOT_M / POUND_FORCE_N},
    "m_s": {"mph": 1 / MPH_M_S},
    "L_ha": {"gal_ac": 1 / GALLON_L / HECTARE_ACRES},
    "L_h": {"gal_h": 1 / GALLON_L},
    "ha_h": {"ac_h": HECTARE_ACRES},
    "per_L": {"per_gal": GALLON_L},
    "per_ha": {"per_ac": 1 / HECTARE_ACRES},
    "hectare": {"acre": 1 / HECTARE_ACRES},
    "kW": {"hp": 1 / HORSEPOWER_KW},
    "m2": {"ac": 1 / ACRE_M2},
    "ha": {"ac": HECTARE_ACRES},
    "kg": {"lb": 1 / POUND_KG},
    "N": {"lbf": 1 / POUND_FORCE_N},
    "L": {"gal": 1 / GALLON_L},
    "m": {"ft": 1 / FOOT_M, "in": 12 / FOOT_M},
}
FARM = {
    "per_gal",
    "lbf_ft",
    "mph",
    "gal_ac",
    "gal_h",
    "ac_h",
    "per_ac",
    "acre",
    "hp",
    "ac",
    "lb",
    "lbf",
    "gal",
    "ft",
    "in",
}


def unit_of(key: str, units: Iterator[str] | list[str]) -> str | None:
    """Return the unit in the name of a key, the longest that is there."""
    found = [unit for unit in units if re.search(rf"(^|_){unit}(_|$)", key)]
    return max(found, key=len, default=None)


def other_names(key: str) -> dict[str, float]:
    """Return the keys that may stand beside one in SI, and what one of it is in each."""
    unit = unit_of(key, list(PAIRS))
    if unit is None:
        return {}
    return {re.sub(rf"(^|_){unit}(_|$)", rf"\g<1>{farm}\g<2>", key): size for farm, size in PAIRS[unit].items()}


def tables(figures: Any, where: str = "") -> Iterator[tuple[str, dict[str, Any]]]:
    """Yield every object in a JSON answer, and where it stands."""
    if isinstance(figures, dict):
        yield where, figures
        for key, value in figures.items():
            yield from tables(value, f"{where}.{key}")
    elif isinstance(figures, list):
        for number, value in enumerate(figures):
            yield from tables(value, f"{where}[{number}]")


def faults_of(figures: Any) -> list[str]:
    """Return the figures that stand in one kind of units alone, or differ between the two."""
    faults = []
    for where, table in tables(figures):
        answered: set[str] = set()
        for key, value in table.items():
            beside = {name: size for name, size in other_names(key).items() if name in table}
            answered |= beside.keys()
            if isinstance(value, dict | str | bool) or not other_names(key):
                continue
            if key == "kg" and "bu" in table:  # published: pounds a bushel of the U.S. standards, corn 56, soybeans 60
                pounds = value / table["bu"] / POUND_KG
                faults += [] if min(abs(pounds - 56), abs(pounds - 60)) < 1e-6 else [f"{where}: {pounds} lb a bushel"]
                continue
            if not beside:
                faults.append(f"{where}.{key} stands alone")
            for name, size in beside.items():
                ours = value if isinstance(value, list) else [value]
                theirs = table[name] if isinstance(value, list) else [table[name]]
                pairs = zip(ours, theirs, strict=True)
                if any((one is None) != (two is None) or (one is not None and two != pytest.approx(one * size))
                       for one, two in pairs):  # fmt: skip
                    faults.append(f"{where}: {key} is {value}, {name} {table[name]}")
        alone = [key for key in table if unit_of(key, list(FARM)) and key not in answered]
        faults += [f"{where}.{key} stands alone" for key in alone if not isinstance(table[key], str | bool)]
    return sorted({re.sub(r"\[\d+\]", "[]", fault) for fault in faults})


PLANTER = ["--tool", "16-row planter"]


@pytest.mark.parametrize(
    "arguments",
    [
        ["shed", SHED],
        ["pull", SHED],
        ["pull", SHED, *PLANTER, "--field", SQUARE],
        ["cost", SHED, *PLANTER, "--field", SQUARE],
        ["cost", SHED, "--tool", "30 ft field cultivator", "--against", "40 ft field cultivator", "--acres", "800",
         "--hire", "12", "--crop-value", "700", "--daily-loss", "0.5"],
    ],
)  # fmt: skip
def test_every_figure_of_machines_stands_in_both_units(arguments: list[str]) -> None:
    assert faults_of(answer(*arguments)) == []


def test_every_figure_of_a_season_stands_in_both_units(tmp_path: Path) -> None:
    text = (SAMPLES / "season.toml").read_text(encoding="utf-8")
    text = re.sub(r'outline = \["crooked.*\]', f'outline = "{SAMPLES}/slant_road.geojson"', text)
    text = re.sub(r'outline = \["pivot.*\]', f'outline = "{SQUARE}"', text)
    text = text.replace('"shed.toml"', f'"{SHED}"').replace('to = "Crooked Quarter"', 'to = "Slant Road"')
    file = tmp_path / "season.toml"
    file.write_text(text, encoding="utf-8")
    figures = answer(
        "season",
        str(file),
        "--seasons",
        "20",
        "--effort",
        "0.05",
        "--supplies",
        "--what-if",
        "+2h",
        "--what-if",
        "+80ac",
    )
    assert not faults_of(figures)


def test_a_figure_in_one_unit_alone_would_be_found() -> None:
    assert faults_of({"rows": [{"speed_m_s": 2.0}]}) == [".rows[].speed_m_s stands alone"]
    assert faults_of({"fuel_gal": 2.0}) == [".fuel_gal stands alone"]
    assert faults_of({"area_m2": 4046.8564224, "area_ac": 1.0}) == []
    assert faults_of({"area_m2": 4046.0, "area_ac": 1.0}) != []


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["pull", SHED, "--speed", "0mph"], "got '0mph'. It must be from 0.1mph to 40mph"),
        (["pull", SHED, "--depth", "-3in"], "got '-3in'. It must be from 0.5in to 40in"),
        (["pull", SHED, "--slope", "nan"], "It must be a finite number"),
        (["cost", SHED, *PLANTER, "--acres", "nan"], "It must be a finite number"),
        (["cost", SHED, *PLANTER, "--acres", "80", "--hire", "inf"], "It must be a finite number"),
        (["cost", SHED, *PLANTER, "--acres", "80", "--wage", "nan"], "It must be a finite number"),
    ],
)
def test_numbers_that_are_none_are_wrong_usage(arguments: list[str], said: str) -> None:
    assert said in message(run(*arguments), 2)
