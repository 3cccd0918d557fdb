"""Worked checks of deed arithmetic, and random deeds."""

import json
from pathlib import Path
from typing import Any, Final

import numpy as np

FOOT_M: Final = 0.3048
CHECKS: Final[dict[str, dict[str, Any]]] = {
    check["id"]: check
    for check in json.loads((Path(__file__).parent / "data/deed_checks.json").read_text(encoding="utf-8"))["checks"]
}

Row = list[str]  # quadrant, degrees, minutes, seconds, length, unit; "" for what is not written


def random_deed(rng: np.random.Generator, *, share: float, is_old: bool = False) -> list[Row]:
    """Return the calls of a random star of 4 to 12 corners.

    Each step is off by an error of its own that makes the whole close about 1 in `share`; written to the second and
    0.01 ft, or, of an old deed, to the quarter degree and 0.1 pole.
    """
    corners = int(rng.integers(4, 13))
    while True:
        angles = np.sort(rng.uniform(0, 2 * np.pi, corners))
        gaps = np.diff(np.append(angles, angles[0] + 2 * np.pi))
        if gaps.max() < 2.6 and gaps.min() > 0.15:
            break
    reach_ft = rng.uniform(0.5, 1.0, corners) * rng.uniform(400, 2000)
    points = np.column_stack([reach_ft * np.cos(angles), reach_ft * np.sin(angles)])
    steps = np.roll(points, -1, axis=0) - points
    lengths = np.hypot(*steps.T)
    steps += rng.normal(0, 1, steps.shape) * np.sqrt(lengths * lengths.sum())[:, np.newaxis] / share / 1.6
    return [_row(step, is_old=is_old) for step in steps]


def _row(step_ft: np.ndarray[Any, Any], *, is_old: bool) -> Row:
    length_ft, azimuth_deg = float(np.hypot(*step_ft)), float(np.degrees(np.arctan2(*step_ft)) % 360)
    quadrant = ("NE", "SE", "SW", "NW")[int(azimuth_deg // 90) % 4]
    angle = {"NE": azimuth_deg, "SE": 180 - azimuth_deg, "SW": azimuth_deg - 180, "NW": 360 - azimuth_deg}[quadrant]
    if is_old:
        return [quadrant, f"{round(angle * 4) / 4:g}", "", "", f"{length_ft / 16.5:.1f}", "poles"]
    seconds = round(angle * 3600)
    parts = f"{seconds // 3600:02d}", f"{seconds // 60 % 60:02d}", f"{seconds % 60:02d}"
    return [quadrant, *parts, f"{length_ft:.2f}", "feet"]


def deed_text(rows: list[Row]) -> str:
    """Return calls as a list, one to a line."""
    return "\n".join(f"{row[0][0]} {' '.join(row[1:4])} {row[0][1]} {row[4]} {row[5]}" for row in rows)
