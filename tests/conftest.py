"""What all tests share: hypothesis settings, tools, and real and sample fields."""

import os
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

from fieldgeo.machinery.tool import Tool
from fieldgeo.outline.field import Field
from fieldgeo.outline.read import read_outline, read_outlines

FOOT_M = 0.3048
ACRE_M2 = 4046.8564224
DATA = Path(__file__).parent / "data"
SAMPLES = Path(__file__).parent.parent / "sample_fields"

# No deadline: a slow machine is no fault. On a build server the same examples run every time.
settings.register_profile("here", deadline=None, max_examples=30, suppress_health_check=[HealthCheck.too_slow])
settings.register_profile("build", parent=settings.get_profile("here"), derandomize=True)
settings.load_profile("build" if os.environ.get("CI") else "here")


@pytest.fixture(scope="session")
def parcels() -> list[Field]:
    """All French parcels."""
    return read_outlines(DATA / "parcels_fr.geojson")


@pytest.fixture(scope="session")
def minnesota() -> Field:
    """The outline swept by a combine in Minnesota."""
    return read_outline(DATA / "mn_corn_2011_outline.geojson")


@pytest.fixture(scope="session")
def samples() -> list[Field]:
    """All sample fields."""
    return [read_outline(path) for path in sorted(SAMPLES.glob("*.geojson"))]


@pytest.fixture
def forty_foot() -> Tool:
    """A 40 ft tool with no sections and no lap."""
    return Tool(name="40 ft tool", width_m=40 * FOOT_M, turn_radius_m=6.0)
