"""The objects of a divided layout: parts with passes of their own inside headland rounds that they share."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely

from fieldgeo.layout.axes import Floats
from fieldgeo.layout.model import Headland, Layout, Passes
from fieldgeo.layout.parts.seams import Seam
from fieldgeo.layout.strips import Finish, Ints
from fieldgeo.machinery.tool import Tool
from fieldgeo.outline.field import Field


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Part:
    """Ground with passes of one direction."""

    body: shapely.MultiPolygon  # in the frame; no part lies on another, and together they are the body [m]
    passes: Passes
    is_end_rows: bool = False  # laid only so that passes on either side of it can turn

    @property
    def direction_deg(self) -> float:
        """Azimuth of its passes, clockwise from north, 0 <= d < 180. [deg]"""
        return self.passes.direction_deg


@dataclass(frozen=True, kw_only=True, eq=False)
class PartPasses:
    """The passes of all parts, numbered through, part after part."""

    of_parts: tuple[Passes, ...]

    def __len__(self) -> int:
        """Return the number of passes."""
        return sum(len(passes) for passes in self.of_parts)

    @cached_property
    def first_number(self) -> tuple[int, ...]:
        """Number of the first pass of each part."""
        return tuple(np.cumsum([0, *(len(passes) for passes in self.of_parts[:-1])]).tolist())

    @cached_property
    def part(self) -> Ints:
        """Part that each pass belongs to, from 0, shape (N,)."""
        return np.repeat(np.arange(len(self.of_parts)), [len(passes) for passes in self.of_parts])

    @cached_property
    def piece(self) -> Ints:
        """Piece of the body that each pass lies in, numbered through all parts, shape (N,)."""
        counts = [int(passes.piece.max(initial=-1)) + 1 for passes in self.of_parts]
        first = np.cumsum([0, *counts[:-1]])
        return np.concatenate([passes.piece + one for passes, one in zip(self.of_parts, first, strict=True)])

    @cached_property
    def strip(self) -> Ints:
        """Strip that each pass lies in, shape (N,)."""
        return np.concatenate([passes.strip for passes in self.of_parts])

    @cached_property
    def is_pulled(self) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
        """Whether the strip was pulled in over its neighbour, shape (N,)."""
        return np.concatenate([passes.is_pulled for passes in self.of_parts])

    @cached_property
    def length_m(self) -> Floats:
        """Length of each pass, shape (N,). [m]"""
        return np.concatenate([passes.length_m for passes in self.of_parts])

    def row_of(self, number: int) -> tuple[int, int]:
        """Return the part of a pass, and its row in the passes of that part.

        Parameters
        ----------
        number : int
            Number of the pass, counted through all parts from 0.
        """
        part = int(self.part[number])
        return part, number - self.first_number[part]

    def lines(self) -> list[shapely.LineString]:
        """Return the centre lines in the frame. [m]"""
        return [line for passes in self.of_parts for line in passes.lines()]

    def swaths(self) -> list[shapely.Polygon]:
        """Return the ground that each box works, as polygons in the frame. [m]"""
        return [swath for passes in self.of_parts for swath in passes.swaths()]

    @property
    def swept_m2(self) -> float:
        """Sum of the areas of all swaths. [m2]"""
        return sum(passes.swept_m2 for passes in self.of_parts)


@dataclass(frozen=True, kw_only=True, eq=False)
class DividedLayout:
    """Headland rounds, and parts of the body inside them with passes each."""

    field: Field
    tool: Tool
    finish: Finish
    headland: Headland
    body: shapely.MultiPolygon  # what is left of the field inside the headlands, in the frame [m]
    parts: tuple[Part, ...]
    seams: tuple[Seam, ...]  # where the parts meet
    turns_on: tuple[tuple[int, int], ...]  # pairs of parts: passes of the first end on the second and turn on it
    is_opened_first: bool = False  # ground that is turned on is worked before what turns on it, as a crop is cut

    @cached_property
    def passes(self) -> PartPasses:
        """The passes of all parts."""
        return PartPasses(of_parts=tuple(part.passes for part in self.parts))

    @property
    def waits(self) -> tuple[tuple[int, int], ...]:
        """Pairs of parts: the first is worked before the second."""
        return tuple((two, one) for one, two in self.turns_on) if self.is_opened_first else self.turns_on

    @property
    def direction_deg(self) -> float:
        """Azimuth of the passes of the largest part, clockwise from north, 0 <= d < 180. [deg]"""
        return max(self.parts, key=lambda part: part.body.area).direction_deg

    @property
    def swept_m2(self) -> float:
        """Sum over all swaths of their area. [m2]"""
        return self.headland.swept_m2 + self.passes.swept_m2

    def layout_of(self, part: Part, headland: Headland) -> Layout:
        """Return one part as a layout of its own on the whole field.

        Parameters
        ----------
        part : Part
            One of the parts.
        headland : Headland
            What counts as headland beside it.
        """
        return Layout(
            field=self.field, tool=self.tool, direction_deg=part.direction_deg, finish=self.finish,
            headland=headland, body=part.body, passes=part.passes,
        )  # fmt: skip


def no_passes(direction_deg: float) -> Passes:
    """Return a table of passes without a pass.

    Parameters
    ----------
    direction_deg : float
        Azimuth of +u. [deg]
    """
    whole, numbers = np.empty(0, dtype=np.int64), np.empty(0)
    return Passes(
        direction_deg=direction_deg, piece=whole, strip=whole, start_m=numbers, end_m=numbers, low_m=numbers,
        high_m=numbers, is_pulled=np.empty(0, dtype=bool), boxes=np.empty((0, 4)), box_pass=whole,
    )  # fmt: skip
