"""Simulated walks through the whole way from file to outline: the stated range holds the true area at its stated rate.

True fields are a square, an L and the Minnesota outline of tests/data (its source stands there). A walker makes a step
of 1.2 m a second; the receiver's error is new at every point, or drifts with a memory given as a share of the time the
walk takes. Seeds are fixed. At the memory that is worst for the area the true rate is 95 %, so that 400 walks show 92.8
to 97.2 %; everywhere else it is higher.
"""

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import shapely
from walks import SQUARE, as_walk, drifting, evidence_of, ground_of, walked, write_table

from fieldgeo.outline.field import Field

ELL = shapely.Polygon([(0, 0), (400, 0), (400, 200), (200, 200), (200, 400), (0, 400)])
WORST = (0.1, 0.2, 0.5)  # memories that come near the worst on all three fields
OTHER = (0.0, 0.005, 0.03, 2.0)


def walks(
    path: Path, polygon: shapely.Polygon, *, number: int, sd_m: float, memory_share: float
) -> Iterator[tuple[float, float]]:
    """Give how far off the area of each walk is, and half of the range that is stated."""
    points = walked(polygon)
    generator = np.random.default_rng([int(sd_m), int(1000 * memory_share), len(points)])
    for error in drifting(generator, number, len(points), sd_m, memory_share * len(points)):
        reading = as_walk(write_table(path, points + error), accuracy_m=sd_m)
        yield ground_of(reading).area - polygon.area, evidence_of(reading)[2]


def middle(polygon: shapely.Polygon) -> shapely.Polygon:
    """The outer ring of a polygon round the origin."""
    return shapely.Polygon(shapely.get_coordinates(polygon.exterior) - shapely.get_coordinates(polygon.centroid))


@pytest.mark.parametrize("memory_share", [0.0, 0.2])
def test_some_walks_of_3_m_error(tmp_path: Path, memory_share: float) -> None:
    found = list(walks(tmp_path / "a.csv", SQUARE, number=40, sd_m=3.0, memory_share=memory_share))
    off, half = np.array(found).T
    assert np.mean(np.abs(off) <= half) >= 0.875  # 5 of 40 outside would be more than two in a thousand such tests
    assert np.all(half < 0.05 * SQUARE.area)


@pytest.mark.slow
@pytest.mark.parametrize("field", ["square", "ell", "minnesota"])
def test_the_range_holds_the_true_area_at_its_rate(tmp_path: Path, field: str, minnesota: Field) -> None:
    """At 1, 3 and 5 m: 400 walks at each memory near the worst, 60 at others; some minutes a field."""
    polygon = {"square": SQUARE, "ell": middle(ELL)}.get(field) or middle(max(minnesota.shape.geoms, key=shapely.area))
    path = tmp_path / "a.csv"
    worst_rates, widths = [], []
    for sd_m in (1.0, 3.0, 5.0):
        for memory_share in OTHER:
            off, half = np.array(list(walks(path, polygon, number=60, sd_m=sd_m, memory_share=memory_share))).T
            assert np.mean(np.abs(off) <= half) >= 0.94, (sd_m, memory_share)
            assert abs(np.mean(off)) < 4 * np.std(off) / np.sqrt(len(off)), "the mends have shifted the area"
        narrowest = []
        for memory_share in WORST:
            off, half = np.array(list(walks(path, polygon, number=400, sd_m=sd_m, memory_share=memory_share))).T
            worst_rates.append(np.mean(np.abs(off) <= half))
            narrowest.append(np.mean(half) / (1.96 * np.std(off)))
            assert abs(np.mean(off)) < 4 * np.std(off) / np.sqrt(len(off)), "the mends have shifted the area"
        widths.append(min(narrowest))
    assert np.mean(worst_rates) >= 0.94
    assert min(worst_rates) >= 0.915  # three standard errors of 400 below 95 %
    assert max(widths) < 1.15  # no wider than the worst memory needs
