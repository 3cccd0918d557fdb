"""The shipped sample walks: written the same again, and read to the acres of the fields they go round."""

import subprocess
import sys
from pathlib import Path

import pytest
from conftest import ACRE_M2, SAMPLES
from walks import as_walk, evidence_of, ground_of

SCRIPT = Path(__file__).parent.parent / "scripts" / "make_sample_walks.py"


def test_the_script_writes_them_again(tmp_path: Path) -> None:
    subprocess.run([sys.executable, SCRIPT, tmp_path], check=True, timeout=60)
    for name in ("walk_ell.gpx", "drive_railroad.nmea"):
        assert (tmp_path / name).read_bytes() == (SAMPLES / name).read_bytes()


def test_ell_on_foot_is_30_acres_within_its_range() -> None:
    """Derived from the drawing in feet: 40 acres less a quarter of it."""
    reading = as_walk(SAMPLES / "walk_ell.gpx")
    _, report, half_m2 = evidence_of(reading)
    assert reading.name == "Ell on foot"
    assert abs(ground_of(reading).area - 30 * ACRE_M2) < half_m2
    dropped = {step.what.split(":")[0]: step.dropped for step in report.steps}
    assert dropped["spikes"] == 1
    assert dropped["points nearer than 0.5 m to the one before"] == 12
    assert report.overlap_m == pytest.approx(17, abs=6)


def test_railroad_by_machine_is_its_acres_with_the_offset() -> None:
    """Derived from the drawing in feet: 2050 x 1500 / 2, 43,560 ft2 to the acre; the antenna ran 1.5 m inside."""
    reading = as_walk(SAMPLES / "drive_railroad.nmea", offset_m=1.5)
    _, report, half_m2 = evidence_of(reading)
    area_m2 = ground_of(reading).area
    assert abs(area_m2 - 2050 * 1500 / 2 / 43_560 * ACRE_M2) < half_m2
    assert half_m2 < 0.01 * area_m2
    assert report.steps[0].dropped == 1  # the garbled line
    assert report.steps[3].dropped == 2  # void
    inside_m2 = ground_of(as_walk(SAMPLES / "drive_railroad.nmea")).area
    assert area_m2 - inside_m2 == pytest.approx(report.offset_area_change_m2, abs=1)
