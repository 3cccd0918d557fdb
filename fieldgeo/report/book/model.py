"""What a book is made of: chapters of headings, texts, facts, tables and pictures, without a word on how they look."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any, TypeAlias

from fieldgeo.errors import InputError


@dataclass(frozen=True, slots=True, kw_only=True)
class Heading:
    """A heading within a chapter."""

    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Text:
    """A paragraph."""

    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Points:
    """A list of short texts; cautions stand out."""

    items: tuple[str, ...]
    are_cautions: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """Labels, each with what it says."""

    rows: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A table.

    Parameters
    ----------
    caption : str
        What it shows.
    head : tuple of str
        Names of the columns.
    rows : tuple of tuple of str
        Cells, a row each.
    left : int
        So many columns stand to the left, the others, which are figures, to the right.
    total : tuple of str
        The last row, set off from the others; empty for none.

    Raises
    ------
    InputError
        If a row has not as many cells as the head.
    """

    caption: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    left: int = 1
    total: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        for row in (*self.rows, *((self.total,) if self.total else ())):
            if len(row) != len(self.head):
                raise InputError(
                    f"table {self.caption!r}: a row has {len(row)} cells, the head {len(self.head)}. Give as many."
                )


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A picture drawn on a figure of its own.

    Parameters
    ----------
    draw : callable
        Returns the axes it has drawn on, alone on their figure (see `fieldgeo.report.sheet`).
    says : str
        What it shows, in words, for who cannot see it.
    caption : str
        What stands below it.
    is_map : bool
        Whether it may take most of a page.
    """

    draw: Callable[[], Any]
    says: str
    caption: str = ""
    is_map: bool = False


Block: TypeAlias = Heading | Text | Points | Facts | Table | Picture


@dataclass(frozen=True, slots=True, kw_only=True)
class Chapter:
    """A part of the book that begins on a new page."""

    title: str
    blocks: Sequence[Block]
    below: str = ""  # a line under the title


@dataclass(frozen=True, slots=True, kw_only=True)
class Book:
    """A whole book."""

    title: str
    below: str
    chapters: Sequence[Chapter] = field(default_factory=tuple)

    @property
    def pictures(self) -> tuple[Picture, ...]:
        """Every picture of the book, in order."""
        return tuple(block for chapter in self.chapters for block in chapter.blocks if isinstance(block, Picture))
