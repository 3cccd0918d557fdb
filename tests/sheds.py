"""Shed files made in tests, and the faults that they are refused for."""

from pathlib import Path

import pytest

from fieldgeo.errors import ShedError
from fieldgeo.machinery.shed import Shed, read_shed


def shed_of(folder: Path, text: str) -> Shed:
    file = folder / "shed.toml"
    file.write_text(text, encoding="utf-8")
    return read_shed(file)


def problems_of(folder: Path, text: str) -> tuple[str, ...]:
    with pytest.raises(ShedError) as caught:
        shed_of(folder, text)
    return caught.value.problems
