"""Several sources of one field side by side: how far their areas and edges agree, and where they differ most.

All shapes are brought into the frame of the first source that has a place on Earth. A source without one (a deed that
is not tied to the ground) takes part with its area only. Nothing is averaged and no source is preferred: which of them
is right, only the ground can say.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from math import hypot
from typing import TYPE_CHECKING, Final

import numpy as np
import pyproj
import shapely

from fieldgeo.analysis.figures import area_figures, length_figures
from fieldgeo.analysis.patch import Patch, largest_patch
from fieldgeo.errors import InputError
from fieldgeo.frame import Frame, shape_to_frame, shape_to_lonlat
from fieldgeo.layout.axes import ring_edges
from fieldgeo.layout.overlay import difference, polygons_of
from fieldgeo.outline.files.geojson import plain_name

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from fieldgeo.analysis.figures import Figures
    from fieldgeo.frame import FloatArray
    from fieldgeo.outline.evidence import SourceKind
    from fieldgeo.outline.field import Field

_FAR_M: Final = 100_000.0  # between two outlines; own choice
_EDGE_STEP_M: Final = 1.0  # between places on an edge whose distance to the other edge is taken
_LEAST_EDGE_PLACES: Final = 400  # on one edge
_MOST_EDGE_PLACES: Final = 5000


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """One source of the field, under a letter."""

    letter: str  # "A", "B", ...
    name: str
    kind: SourceKind | None  # None: nobody said where it comes from
    area_m2: float
    area_uncertainty_m2: float | None  # half of the range that holds the true area 95 times in 100; None: not known
    uncertainty_from: str
    shape: shapely.MultiPolygon | None  # in the frame of the agreement [m]; None: it has no place on Earth


@dataclass(frozen=True, slots=True, kw_only=True)
class Overlay:
    """Two sources laid over each other."""

    shared_m2: float
    only_first: shapely.MultiPolygon  # ground in the first source only [m]
    only_second: shapely.MultiPolygon
    largest: Patch | None  # of the ground in one only; None where there is no such ground, or none in both
    edge_median_m: float  # distance from one edge to the other, over places on both
    edge_p95_m: float
    apart_m: float  # between two sources that have no ground in common; 0 for others

    @property
    def differing_m2(self) -> float:
        """Ground in one of the two only. [m2]"""
        return float(self.only_first.area + self.only_second.area)


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """Two sources beside each other."""

    first: Source
    second: Source
    overlay: Overlay | None  # None: one of them has no place on Earth

    @property
    def area_difference_m2(self) -> float:
        """Area of the second less that of the first. [m2]"""
        return self.second.area_m2 - self.first.area_m2

    @property
    def uncertainty_m2(self) -> float | None:
        """Uncertainty of the difference, of two sources that are off each by itself; None: one is not known. [m2]

        Derived: root of the sum of squares.
        """
        one, other = self.first.area_uncertainty_m2, self.second.area_uncertainty_m2
        return None if one is None or other is None else hypot(one, other)

    @property
    def is_beyond_uncertainty(self) -> bool | None:
        """Whether the areas differ by more than their uncertainties together; None: one of these is not known."""
        return None if self.uncertainty_m2 is None else abs(self.area_difference_m2) > self.uncertainty_m2


@dataclass(frozen=True, slots=True, kw_only=True)
class Agreement:
    """Several sources of one field, each beside each other."""

    sources: tuple[Source, ...]
    pairs: tuple[Pair, ...]  # in the order of the sources
    frame: Frame | None  # of all shapes; None: no source has a place on Earth

    @property
    def worst(self) -> Pair | None:
        """The pair with most ground in one source only; None where none could be laid over each other."""
        laid = [pair for pair in self.pairs if pair.overlay is not None]
        return max(laid, key=lambda pair: pair.overlay.differing_m2 if pair.overlay else 0.0, default=None)


def agree(fields: Sequence[Field]) -> Agreement:
    """Return how far several sources of one field agree.

    Parameters
    ----------
    fields : sequence of Field
        Two or more, each with its `evidence` where its uncertainty is known.

    Returns
    -------
    Agreement
        Areas, uncertainties and, for those with a place on Earth, the ground in which they differ.

    Raises
    ------
    InputError
        If there are fewer than two fields, or two of them lie more than 100 km apart.
    """
    if len(fields) < 2:
        raise InputError(
            f"agree: got {len(fields)} outline. Give two or more outlines of one field to lay side by side."
        )
    placed = [field for field in fields if field.is_placed]
    frame = placed[0].frame if placed else None
    for field in placed[1:]:
        _check_near(placed[0], field)
    sources = tuple(_source(number, field, frame) for number, field in enumerate(fields))
    pairs = tuple(
        Pair(first=one, second=other, overlay=_overlay(one.shape, other.shape, frame))
        for one, other in combinations(sources, 2)
    )
    return Agreement(sources=sources, pairs=pairs, frame=frame)


def agreement_figures(agreement: Agreement) -> Figures:
    """Return every figure of an agreement.

    Parameters
    ----------
    agreement : Agreement
        Several sources of one field.

    Returns
    -------
    dict
        `sources` with their areas; `pairs` with `area_difference` (second less first), `is_beyond_uncertainty` (None:
        not known), `overlay` (None: one has no place on Earth) and its `largest` piece; `worst` names the pair that
        differs most; `notes` is what a person should know.
    """
    areas_m2 = [source.area_m2 for source in agreement.sources]
    worst = agreement.worst
    return {
        "sources": [_source_figures(source) for source in agreement.sources],
        **area_figures("least_area", min(areas_m2)),
        **area_figures("most_area", max(areas_m2)),
        "pairs": [_pair_figures(pair) for pair in agreement.pairs],
        "worst": None if worst is None else [worst.first.letter, worst.second.letter],
        "notes": list(_notes(agreement)),
    }


def _check_near(first: Field, other: Field) -> None:
    """Raise InputError if two fields are so far apart that no plane holds both."""
    one, two = first.frame, other.frame
    _, _, apart_m = pyproj.Geod(ellps="WGS84").inv(one.lon_deg, one.lat_deg, two.lon_deg, two.lat_deg)
    if apart_m > _FAR_M:
        raise InputError(
            f"agree: {plain_name(first.name)!r} and {plain_name(other.name)!r} lie {apart_m / 1000:,.0f} km apart. "
            f"Outlines of one field lie within {_FAR_M / 1000:g} km: check the coordinate system of each."
        )


def _source(number: int, field: Field, frame: Frame | None) -> Source:
    evidence = field.evidence
    is_placed = frame is not None and field.is_placed
    return Source(
        letter=chr(ord("A") + number % 26) + (str(number // 26) if number >= 26 else ""),
        name=field.name,
        kind=None if evidence is None else evidence.kind,
        area_m2=field.area_m2,
        area_uncertainty_m2=None if evidence is None else evidence.area_uncertainty_m2,
        uncertainty_from="nothing is known of the source" if evidence is None else evidence.uncertainty_from,
        shape=_moved(field, frame) if is_placed and frame is not None else None,
    )


def _moved(field: Field, frame: Frame) -> shapely.MultiPolygon:
    if field.frame == frame:
        return field.shape
    moved = shape_to_frame(shape_to_lonlat(field.shape, field.frame), frame)
    # A hole that touches the edge in a point may come out across it by a nanometre.
    return moved if moved.is_valid else polygons_of(shapely.make_valid(moved, method="structure", keep_collapsed=False))


def _overlay(
    first: shapely.MultiPolygon | None, second: shapely.MultiPolygon | None, frame: Frame | None
) -> Overlay | None:
    if first is None or second is None or frame is None:
        return None
    only_first, only_second = difference(first, second), difference(second, first)
    shared_m2 = max(float(first.area - only_first.area), 0.0)
    apart_m = float(shapely.distance(first, second))
    distances_m = np.concatenate([_edge_distances_m(first, second), _edge_distances_m(second, first)])
    median_m, p95_m = np.percentile(distances_m, [50, 95]).tolist()
    return Overlay(
        shared_m2=shared_m2,
        only_first=only_first,
        only_second=only_second,
        largest=None if apart_m > 0 else largest_patch(first, second, (only_first, only_second), frame),
        edge_median_m=median_m,
        edge_p95_m=p95_m,
        apart_m=apart_m,
    )


def _edge_distances_m(shape: shapely.MultiPolygon, other: shapely.MultiPolygon) -> FloatArray:
    """Return the distance to the edge of another shape, holes included, from places along the edge of a shape. [m]"""
    start_x, start_y, end_x, end_y = ring_edges(shape).T
    lengths_m = np.hypot(end_x - start_x, end_y - start_y)
    along_m = np.concatenate([[0.0], np.cumsum(lengths_m)])
    count = int(np.clip(along_m[-1] / _EDGE_STEP_M, _LEAST_EDGE_PLACES, _MOST_EDGE_PLACES))
    at_m = (np.arange(count) + 0.5) * along_m[-1] / count
    side = np.clip(np.searchsorted(along_m, at_m, side="right") - 1, 0, len(lengths_m) - 1)
    share = (at_m - along_m[side]) / lengths_m[side]
    places = shapely.points(
        start_x[side] + share * (end_x - start_x)[side], start_y[side] + share * (end_y - start_y)[side]
    )
    edges = np.asarray(shapely.linestrings(ring_edges(other).reshape(-1, 2, 2)), dtype=object)
    _, distances_m = shapely.STRtree(edges).query_nearest(places, return_distance=True, all_matches=False)
    return np.asarray(distances_m, dtype=np.float64)


def _source_figures(source: Source) -> Figures:
    return {
        "letter": source.letter,
        "name": source.name,
        "kind": source.kind,
        **area_figures("area", source.area_m2),
        **_area_or_none("area_uncertainty", source.area_uncertainty_m2),
        "uncertainty_from": source.uncertainty_from,
        "is_placed": source.shape is not None,
    }


def _pair_figures(pair: Pair) -> Figures:
    return {
        "first": pair.first.letter,
        "second": pair.second.letter,
        **area_figures("area_difference", pair.area_difference_m2),
        "area_difference_pct": 100 * pair.area_difference_m2 / pair.first.area_m2,
        **_area_or_none("uncertainty", pair.uncertainty_m2),
        "is_beyond_uncertainty": pair.is_beyond_uncertainty,
        "overlay": None if pair.overlay is None else _overlay_figures(pair, pair.overlay),
    }


def _overlay_figures(pair: Pair, overlay: Overlay) -> Figures:
    return {
        **area_figures("shared", overlay.shared_m2),
        **area_figures("only_first", overlay.only_first.area),
        **area_figures("only_second", overlay.only_second.area),
        **area_figures("differing", overlay.differing_m2),
        **length_figures("edge_median", overlay.edge_median_m),
        **length_figures("edge_p95", overlay.edge_p95_m),
        **length_figures("apart", overlay.apart_m),
        "largest": None if overlay.largest is None else _patch_figures(pair, overlay.largest),
    }


def _patch_figures(pair: Pair, patch: Patch) -> Figures:
    return {
        **area_figures("area", patch.area_m2),
        **length_figures("width", patch.width_m),
        "only_in": pair.first.letter if patch.is_in_first else pair.second.letter,
        "side": patch.side,
        "lon_deg": patch.lon_deg,
        "lat_deg": patch.lat_deg,
    }


def _area_or_none(name: str, area_m2: float | None) -> dict[str, float | None]:
    if area_m2 is None:
        return dict.fromkeys(area_figures(name, 0.0))
    return {**area_figures(name, area_m2)}


def _notes(agreement: Agreement) -> Iterator[str]:
    for source in agreement.sources:
        if source.area_uncertainty_m2 is None:
            yield f"{source.letter}: the uncertainty of its area is not known: {source.uncertainty_from}"
        if source.shape is None:
            yield f"{source.letter} has no place on Earth: its area takes part, its edges do not"
    for pair in agreement.pairs:
        if pair.overlay is not None and pair.overlay.apart_m > 0:
            yield (
                f"{pair.first.letter} and {pair.second.letter} have no ground in common, they are "
                f"{pair.overlay.apart_m:,.0f} m apart: are they of one field?"
            )
