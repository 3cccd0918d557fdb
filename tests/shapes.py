"""Random field outlines for the property tests: round, concave, with holes, in parts, slivers, at any rotation."""

import numpy as np
import shapely
import shapely.affinity
from hypothesis import strategies as st
from numpy.typing import NDArray

from fieldgeo.layout.axes import ring_edges, turn_matrix

Floats = NDArray[np.float64]
KINDS = ("star", "smooth", "ell", "slot", "dumbbell", "comb", "hole", "holes", "parts", "sliver", "triangle", "square")


def star(rng: np.random.Generator, corners: int, *, low: float = 0.35, radius_m: float = 220.0) -> shapely.Polygon:
    """Return a star-shaped polygon: corners at sorted angles, each at a random distance from the middle."""
    angles = (np.arange(corners) + rng.uniform(0.05, 0.95, corners)) * 2 * np.pi / corners
    radii = radius_m * rng.uniform(low, 1.0, corners)
    return shapely.Polygon(np.column_stack([radii * np.cos(angles), radii * np.sin(angles)]))


def _ell(rng: np.random.Generator) -> shapely.Polygon:
    a, b = rng.uniform(80, 400, 2)
    return shapely.Polygon([(0, 0), (a, 0), (a, b * 0.4), (a * 0.3, b * 0.4), (a * 0.3, b), (0, b)])


def _slot(rng: np.random.Generator) -> shapely.Polygon:
    width, depth = rng.uniform(10, 150), rng.uniform(30, 250)
    return shapely.Polygon(
        [(0, 0), (300, 0), (300, 300), (150 + width / 2, 300), (150, 300 - depth), (150 - width / 2, 300), (0, 300)]
    )


def _dumbbell(rng: np.random.Generator) -> shapely.Polygon:
    neck, long = rng.uniform(3, 40), rng.uniform(20, 120)
    shape = shapely.union_all(
        [
            shapely.box(0, 0, 150, 120),
            shapely.box(149, 60 - neck / 2, 151 + long, 60 + neck / 2),
            shapely.box(150 + long, 0, 290 + long, 110),
        ]
    )
    assert isinstance(shape, shapely.Polygon)
    return shape


def _comb(rng: np.random.Generator) -> shapely.Polygon:
    teeth = int(rng.integers(2, 6))
    x = np.concatenate([[0.0], np.cumsum(rng.uniform(15, 60, 2 * teeth + 1))])
    y = np.where(np.arange(len(x) - 1) % 2 == 0, rng.uniform(120, 250), 60.0)
    top = np.column_stack([np.repeat(x, 2)[1:-1], np.repeat(y, 2)])[::-1]
    return shapely.Polygon(np.vstack([[[0, 0], [x[-1], 0]], top]))


def _smooth(rng: np.random.Generator) -> shapely.Polygon:
    angles = np.linspace(0, 2 * np.pi, 60, endpoint=False)
    waves = range(2, 7)
    wave = sum(rng.uniform(0, 0.25) / k * np.cos(k * angles + rng.uniform(0, 2 * np.pi)) for k in waves)
    radii = rng.uniform(100, 300) * (1 + wave)
    return shapely.Polygon(np.column_stack([radii * np.cos(angles), radii * np.sin(angles)]))


def make_shape(kind: str, seed: int, corners: int, turn_deg: float) -> shapely.MultiPolygon:
    """Return the outline that a kind, a seed, a number of corners and a rotation stand for. [m]"""
    rng = np.random.default_rng(seed)
    shape: shapely.Geometry = star(rng, corners)
    if kind == "smooth":
        shape = _smooth(rng)
    elif kind in {"ell", "slot", "dumbbell", "comb"}:
        shape = {"ell": _ell, "slot": _slot, "dumbbell": _dumbbell, "comb": _comb}[kind](rng)
    elif kind == "hole":
        shape = shapely.difference(star(rng, corners, low=0.7), star(rng, 5, radius_m=rng.uniform(5, 60)))
    elif kind == "holes":
        pond = shapely.affinity.translate(star(rng, 7, radius_m=25.0), rng.uniform(-60, 60), 70)
        pole = shapely.box(-1, -61, 1, -59)
        shape = shapely.difference(star(rng, corners, low=0.8), shapely.union(pond, pole))
    elif kind == "parts":
        shape = shapely.MultiPolygon([star(rng, corners), shapely.affinity.translate(star(rng, 5), 470, 20)])
    elif kind == "sliver":
        shape = shapely.Polygon([(0, 0), (rng.uniform(150, 500), 0), (rng.uniform(0, 200), rng.uniform(8, 30))])
    elif kind == "triangle":
        shape = star(rng, 3, low=0.6)
    elif kind == "square":
        shape = shapely.box(0, 0, *rng.uniform(60, 400, 2))
    turned = shapely.affinity.rotate(shape, turn_deg, origin=(0, 0))
    parts = shapely.get_parts(turned)
    return shapely.MultiPolygon(list(parts[shapely.area(parts) > 1.0]))


def outlines(kinds: tuple[str, ...] = KINDS) -> st.SearchStrategy[shapely.MultiPolygon]:
    """Return a strategy of outlines in metres."""
    return st.builds(
        make_shape,
        kind=st.sampled_from(kinds),
        seed=st.integers(0, 9999),
        corners=st.integers(4, 14),
        turn_deg=st.one_of(st.sampled_from([0.0, 90.0, 37.0]), st.floats(0, 360)),
    )


def work_edges(shape: shapely.Geometry, direction_deg: float) -> Floats:
    """Return the edges of a shape turned to work coordinates, shape (E, 4), as the strip engine wants them. [m]"""
    edges = ring_edges(shape).reshape(-1, 2) @ turn_matrix(direction_deg)
    return np.asarray(edges.reshape(-1, 4))


def to_work_shape(shape: shapely.Geometry, direction_deg: float) -> shapely.Geometry:
    """Return a shape turned to work coordinates. [m]"""
    return shapely.transform(shape, lambda xy: xy @ turn_matrix(direction_deg))
