"""Running the command line in tests: its answer, its one message when it refuses, and outlines to give it."""

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from fieldgeo.cli import main

SAMPLES = Path(__file__).parent.parent / "sample_fields"
SQUARE = str(SAMPLES / "square_forty.geojson")
RAILROAD = str(SAMPLES / "railroad.geojson")
SHED = str(SAMPLES / "shed.toml")
PLANTER = ["--tool", "16-row planter", "--shed", SHED]
PLAIN_TOOL = ["--width", "40ft", "--direction", "0", "--headland", "0"]

LAY_KEYS = {
    "area_m2", "direction_deg", "passes", "headland_rounds", "swept_m2", "worked_m2", "overlap_m2", "skip_m2",
    "spill_m2", "turns", "turns_by_kind", "work_m", "travel_m", "field_time_h", "time_h", "theoretical_ha_h",
    "effective_ha_h", "effective_ac_h", "field_efficiency", "published_efficiency",
}  # fmt: skip


def run(*arguments: str) -> Result:
    return CliRunner().invoke(main, arguments, prog_name="fieldgeo")


def answer(*arguments: str) -> dict[str, Any]:
    result = run(*arguments, "--json")
    assert result.exit_code == 0, result.stderr
    figures: dict[str, Any] = json.loads(result.stdout, parse_constant=lambda text: pytest.fail(f"{text} in JSON"))
    return figures


def message(result: Result, code: int) -> str:
    """Return the one message of a run that was refused."""
    assert result.exit_code == code, result.stderr
    assert isinstance(result.exception, SystemExit)
    assert result.stdout == ""
    assert "Traceback" not in result.stderr
    assert result.stderr.count("Error: ") == 1
    assert result.stderr.startswith("Error: " if code == 1 else "Usage: ")
    return result.stderr.split("Error: ")[1]


def geojson(folder: Path, content: Any, name: str = "field.geojson") -> str:
    file = folder / name
    file.write_text(content if isinstance(content, str) else json.dumps(content), encoding="utf-8")
    return str(file)


def polygon(*corners: tuple[float, float], name: str = "Bow") -> dict[str, Any]:
    ring = [list(corner) for corner in (*corners, corners[0])]
    return {"type": "Feature", "properties": {"name": name}, "geometry": {"type": "Polygon", "coordinates": [ring]}}
