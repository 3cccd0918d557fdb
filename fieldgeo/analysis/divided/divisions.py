"""Divisions: ground in parts with a direction each, estimated, and the tries that lead from one to the next."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely

from fieldgeo.analysis.divided.estimates import Estimates
from fieldgeo.layout.axes import Floats
from fieldgeo.layout.overlay import difference
from fieldgeo.layout.parts.cuts import LEAST_PIECE_M2, Cut, cuts_through, divide, joined, least_width_m
from fieldgeo.layout.parts.seams import Seam, find_seams, turning_parts
from fieldgeo.machinery.tool import Tool, travel_speed_m_s

# A part is not narrower than so many widths, unless the field is so narrow there. Common practice, no source.
LEAST_PASSES: Final = 3
# Directions of a part that are weighed against those of its neighbours, the quickest of those estimated.
MOST_DIRECTIONS: Final = 4
# What going on to another part is taken to cost: a share of the longer side of the field, driven with the tool up. Own
# choice; only the exact plans count.
TRAVEL_SHARE: Final = 0.25


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Cell:
    """Ground of one part."""

    ground: shapely.MultiPolygon  # in the frame [m]
    end_rows_deg: float | None = None  # direction of end rows that are all this part is for; None for any other [deg]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Division:
    """Ground in parts, with the direction of each."""

    cells: tuple[Cell, ...]
    directions_deg: tuple[float, ...]
    estimate_s: float  # time of the passes and of going on from part to part; the headland left out [s]

    @property
    def parts(self) -> int:
        """Number of parts, end rows at seams left out."""
        return sum(cell.end_rows_deg is None for cell in self.cells)


class Divider:
    """Makes divisions of one ground and estimates them."""

    def __init__(self, ground: shapely.MultiPolygon, tool: Tool, estimates: Estimates, *, rounds: int) -> None:
        """Look at ground.

        Parameters
        ----------
        ground : shapely.MultiPolygon
            What is to be divided, in the frame. [m]
        tool : Tool
            The tool.
        estimates : Estimates
            Estimated times.
        rounds : int
            Rounds of end rows at a seam on which passes of both parts end.
        """
        self.ground, self.tool, self.estimates = ground, tool, estimates
        self.end_rows_m = (rounds - 1) * tool.pitch_m + tool.width_m if rounds else 0.0
        low, high = np.array(ground.bounds).reshape(2, 2)
        self._going_on_s = TRAVEL_SHARE * float((high - low).max()) / travel_speed_m_s(tool)
        self.limit_s = np.inf  # divisions that are estimated to take longer are no longer looked at [s]
        self.tried = 0
        self._cuts: dict[bytes, list[list[Cell]]] = {}

    def whole(self) -> Division | None:
        """Return the ground with a part for each of its pieces; small pieces go with the large one next to them."""
        pieces = sorted(self.ground.geoms, key=lambda piece: -piece.area)
        large = [piece for piece in pieces if self._is_wide(shapely.MultiPolygon([piece]))] or pieces[:1]
        groups = [[piece] for piece in large]
        for piece in pieces:
            if piece not in large:
                min(groups, key=lambda group: shapely.distance(group[0], piece)).append(piece)
        return self._priced([Cell(ground=shapely.MultiPolygon(group)) for group in groups])

    def divided_once_more(self, division: Division) -> Iterator[Division]:
        """Yield the divisions that come of one more cut through one of the parts.

        Parameters
        ----------
        division : Division
            What to go on from.
        """
        for number, cell in enumerate(division.cells):
            if cell.end_rows_deg is not None:
                continue
            others = [other for place, other in enumerate(division.cells) if place != number]
            key = cell.ground.wkb
            if key not in self._cuts:
                self._cuts[key] = list(self._cut(cell))
            for cells in self._cuts[key]:
                priced = self._priced([*others, *cells])
                if priced is not None:
                    yield priced

    def merged_once(self, division: Division) -> Iterator[Division]:
        """Yield the divisions that come of joining two neighbouring parts.

        Parameters
        ----------
        division : Division
            What to go on from.
        """
        cells = division.cells
        for seam in self._seams_of(cells):
            one, two = cells[seam.first], cells[seam.second]
            if one.end_rows_deg is not None and two.end_rows_deg is not None:
                continue
            kept = [cell for cell in cells if cell is not one and cell is not two]
            priced = self._priced([*kept, Cell(ground=joined([*one.ground.geoms, *two.ground.geoms]))])
            if priced is not None:
                yield priced

    def _cut(self, cell: Cell) -> Iterator[list[Cell]]:
        """Yield the parts that one part falls into."""
        sides = self.estimates.sides_deg(cell.ground)
        good = sides[np.argsort(self.estimates.times_s(cell.ground, sides), kind="stable")[:2]]
        for cut in cuts_through(cell.ground, self.tool, good):
            right, left = divide(cell.ground, cut)
            yield from self._groups(cell, right, left)
            if self.end_rows_m:
                yield from self._with_end_rows(cell, cut)

    def _groups(
        self, cell: Cell, right: Sequence[shapely.Polygon], left: Sequence[shapely.Polygon]
    ) -> Iterator[list[Cell]]:
        """Yield the pieces on either side of a cut as parts: each by itself, or one of them against the rest."""
        pieces = [shapely.MultiPolygon([piece]) for piece in (*right, *left)]
        if len(pieces) < 2:
            return
        wide = [self._is_wide(piece) for piece in pieces]
        if all(wide):
            yield [Cell(ground=piece) for piece in pieces]
        if len(pieces) == 2:
            return
        for piece, is_wide in zip(pieces, wide, strict=True):
            if is_wide:
                rest = difference(cell.ground, piece)
                rest = shapely.MultiPolygon([part for part in rest.geoms if part.area > LEAST_PIECE_M2])
                if all(self._is_wide(shapely.MultiPolygon([part])) for part in rest.geoms):
                    yield [Cell(ground=piece), *(Cell(ground=shapely.MultiPolygon([part])) for part in rest.geoms)]

    def _with_end_rows(self, cell: Cell, cut: Cut) -> Iterator[list[Cell]]:
        """Yield the parts on either side of end rows along a cut."""
        low = -self.end_rows_m / 2
        right, beyond = divide(cell.ground, cut, aside_m=low)
        if len(right) != 1 or not beyond:
            return
        strip, left = divide(shapely.MultiPolygon(beyond), cut, aside_m=low + self.end_rows_m)
        parts = [shapely.MultiPolygon([piece]) for piece in (*right, *left)]
        if len(strip) == 1 and len(left) == 1 and all(self._is_wide(part) for part in parts):
            rows = Cell(ground=shapely.MultiPolygon(strip), end_rows_deg=round(cut.direction_deg, 6) % 180)
            yield [*(Cell(ground=part) for part in parts), rows]

    def _is_wide(self, ground: shapely.MultiPolygon) -> bool:
        return least_width_m(ground) >= LEAST_PASSES * self.tool.width_m

    def _priced(self, cells: Sequence[Cell]) -> Division | None:
        """Return parts with the directions that take least together; None where no directions go together."""
        self.tried += 1
        going_on_s = self._going_on_s * (len(cells) - 1)
        least_s = sum(self._least_s(cell) for cell in cells) + going_on_s
        if least_s > self.limit_s:
            return None
        seams = self._seams_of(cells)
        choices = [self._choices(cell, number, seams) for number, cell in enumerate(cells)]
        along = {
            (place, direction): seam.runs_along(direction, self.tool)
            for place, seam in enumerate(seams)
            for number in (seam.first, seam.second)
            for _, direction in choices[number]
        }
        times = np.array(0.0)
        for its in choices:
            times = times[..., None] + np.array([time for time, _ in its])
        for place in np.argsort(times, axis=None, kind="stable").tolist():
            if times.flat[place] + going_on_s > self.limit_s:
                return None
            chosen = np.unravel_index(place, times.shape)
            directions = tuple(its[row][1] for its, row in zip(choices, chosen, strict=True))
            if _is_served(cells, seams, directions, along) and turning_parts(seams, directions, self.tool) is not None:
                return Division(
                    cells=tuple(cells),
                    directions_deg=directions,
                    estimate_s=float(times.flat[place]) + going_on_s,
                )
        return None

    def _least_s(self, cell: Cell) -> float:
        """Return the least estimated time of a part by itself. [s]"""
        if cell.end_rows_deg is not None:
            return float(self.estimates.times_s(cell.ground, np.array([cell.end_rows_deg]))[0])
        return float(self.estimates.times_s(cell.ground, self.estimates.sides_deg(cell.ground)).min())

    def _choices(self, cell: Cell, number: int, seams: Sequence[Seam]) -> list[tuple[float, float]]:
        """Return times and directions of a part: the quickest few, and those of its seams."""
        if cell.end_rows_deg is not None:
            directions = np.array([cell.end_rows_deg])
            return [(float(self.estimates.times_s(cell.ground, directions)[0]), cell.end_rows_deg)]
        sides = self.estimates.sides_deg(cell.ground)
        times = self.estimates.times_s(cell.ground, sides)
        quick = sides[np.argsort(times, kind="stable")[:MOST_DIRECTIONS]]
        along = [_azimuth_deg(seam.chords) for seam in seams if number in (seam.first, seam.second)]
        directions = np.unique(np.concatenate([quick, along]))
        return list(zip(self.estimates.times_s(cell.ground, directions).tolist(), directions.tolist(), strict=True))

    def _seams_of(self, cells: Sequence[Cell]) -> tuple[Seam, ...]:
        return find_seams([cell.ground for cell in cells], self.tool)


def _is_served(
    cells: Sequence[Cell],
    seams: Sequence[Seam],
    directions: Sequence[float],
    along: Mapping[tuple[int, float], bool],
) -> bool:
    """Return whether every seam runs along passes of one side, and end rows lie only where passes end on them."""
    for number, seam in enumerate(seams):
        first, second = along[number, directions[seam.first]], along[number, directions[seam.second]]
        if not (first or second):
            return False
        if first and second and (cells[seam.first].end_rows_deg is None) != (cells[seam.second].end_rows_deg is None):
            return False
    return True


def _azimuth_deg(chords: Floats) -> float:
    """Return the direction of the longest of several steps. [deg]"""
    step = chords[int(np.argmax(np.hypot(*chords.T)))]
    return round(float(np.degrees(np.arctan2(step[0], step[1]))), 6) % 180.0
