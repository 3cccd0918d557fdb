"""A field book made: fields laid out, chapters written, pictures drawn, and both forms saved."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Final

from fieldgeo.analysis.farm_figures import farm_figures
from fieldgeo.analysis.farm_work import each_of
from fieldgeo.analysis.match import MatchRules, match_shed
from fieldgeo.analysis.match_figures import match_figures
from fieldgeo.analysis.pull_figures import pull_figures, pull_shed
from fieldgeo.analysis.shed_figures import shed_figures
from fieldgeo.errors import InputError
from fieldgeo.export.files import PathLike, check_target, write_whole
from fieldgeo.machinery.tables import HOW_KNOWN
from fieldgeo.outline.files.geojson import plain_name
from fieldgeo.report.book.field_page import field_chapter
from fieldgeo.report.book.html import book_html
from fieldgeo.report.book.machines import machines_chapter, sources_chapter
from fieldgeo.report.book.model import Book
from fieldgeo.report.book.pdf import book_pdf
from fieldgeo.report.book.pictures import draw_picture
from fieldgeo.report.book.summary import summary_chapter
from fieldgeo.report.lines import count_text
from fieldgeo.report.pull_text import assumed_text

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence

    from fieldgeo.analysis.farm_work import FieldWork
    from fieldgeo.analysis.figures import Figures
    from fieldgeo.machinery.shed import Shed
    from fieldgeo.report.book.model import Chapter

SUFFIXES: Final = (".html", ".pdf")
_NOTES: Final = (
    "Passes are laid on each outline for each tool's own width, headland by headland, and driven turn by turn; field "
    "time is the sum of that drive, and field efficiency comes out of it.",
    "All tools on a field run in one direction: the one with the least field time for the tool that lays the rows, or "
    "that which was given. Tillage may run another way.",
    "Field time counts stops to fill and unload only where the tool's tank and rate are known; otherwise it leaves out "
    "filling, unloading and adjusting, which published field efficiencies count.",
    "Bearings are clockwise from true north; places are longitude and latitude, WGS 84, six decimals (0.1 m).",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class BookOrder:
    """What a book is to hold.

    Parameters
    ----------
    farm : str
        Name of the farm.
    shed : Shed
        Its tools and tractors.
    works : tuple of FieldWork
        Fields, with the tools laid on each.
    crops : mapping of str to str
        Crop of each field, by name.
    chapters : tuple of Chapter
        Chapters to stand between the fields and the machines: the season.
    sources : tuple of str
        Sources that these chapters rest on.
    assumed : mapping of str to tuple of str
        What these chapters assume, by what it is about.

    Raises
    ------
    InputError
        If there is no field.
    """

    farm: str
    shed: Shed
    works: tuple[FieldWork, ...]
    crops: Mapping[str, str] = field(default_factory=dict)
    chapters: tuple[Chapter, ...] = ()
    sources: tuple[str, ...] = ()
    assumed: Mapping[str, tuple[str, ...]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        if not self.works:
            raise InputError("book: there is no field. Give one outline at least.")


def make_book(order: BookOrder) -> tuple[Book, Figures]:
    """Return a book and the figures that it shows.

    Parameters
    ----------
    order : BookOrder
        What it is to hold.
    """
    works = order.works
    figures = farm_figures(works)
    shed, pull = shed_figures(order.shed), pull_figures(pull_shed(order.shed))
    match = match_figures(match_shed(order.shed, MatchRules()))
    figures |= {"farm": order.farm, "shed": shed, "pull": pull, "match": match}
    farm = plain_name(order.farm) or "The farm"
    chapters = [
        summary_chapter([work.field for work in works], figures, farm=farm, crops=order.crops),
        *_field_chapters(works, figures, order.crops),
        *order.chapters,
        machines_chapter(shed, pull, match),
        sources_chapter(
            _assumed(shed) | dict(order.assumed), [*_sources(figures), *order.sources], _NOTES
        ),
    ]  # fmt: skip
    return Book(title=farm, below=f"Field book, {count_text(len(works), 'field')}", chapters=tuple(chapters)), figures


def _field_chapters(works: Sequence[FieldWork], figures: Figures, crops: Mapping[str, str]) -> Iterator[Chapter]:
    for work, its in zip(works, figures["fields"], strict=True):
        yield field_chapter(work, its, crop=crops.get(work.field.name, ""))


def _assumed(shed: Figures) -> dict[str, tuple[str, ...]]:
    """Return what was assumed of each machine; a name that a tool and a tractor share stands once."""
    found: dict[str, tuple[str, ...]] = {}
    for machine in (*shed["tools"], *shed["tractors"]):
        said = (assumed_text(machine["assumed"]),) if machine["assumed"] else ()
        found[machine["name"]] = (*found.get(machine["name"], ()), *said, *machine["notes"])
    return found


def _sources(figures: Figures) -> Iterator[str]:
    for each in figures["fields"]:
        for row in each["tools"]:
            published = row.get("published_efficiency")
            if published and published["source"]:
                yield f"Field efficiency, {published['machine']}: {published['source']}"
    for row in figures["pull"]["rows"]:
        for what, found in (("Draft", row["draft_figures"]), ("Rotary power", row["rotary_figures"])):
            if found:
                yield f"{what}, {found['as']}: {found['source']} ({HOW_KNOWN.get(found['status'], found['status'])})"
        if row["traction"]:
            found = row["traction"]
            known = HOW_KNOWN.get(found["status"], found["status"])
            yield f"Tractive ratio, {found['drive']}: {found['source']} ({known})"
        equation = row["fuel_equation"]
        yield f"Fuel: {equation['source']} ({HOW_KNOWN.get(equation['status'], equation['status'])})"


def save_book(
    book: Book, paths: Sequence[PathLike], *, force: bool = False, processes: int | None = None,
    progress: Callable[[], None] | None = None,
) -> None:  # fmt: skip
    """Save a book as HTML, as PDF or as both; each file whole or not at all.

    Parameters
    ----------
    book : Book
        The book.
    paths : sequence of str or path
        Files, ``.html`` or ``.pdf``.
    force : bool
        Whether existing files may be replaced.
    processes : int, optional
        Processes to draw pictures with; without it one for each core.
    progress : callable, optional
        Called once for each picture.

    Raises
    ------
    InputError
        If the suffix is of another format.
    FileError
        If a file exists and `force` is not set, or it cannot be written.
    """
    for path in paths:
        if Path(path).suffix.lower() not in SUFFIXES:
            raise InputError(f"{path}: a book is written as {' or '.join(SUFFIXES)}. Give a name that ends so.")
        check_target(path, force=force)
    drawings = each_of(draw_picture, book.pictures, processes=processes, progress=progress)
    drawn = {id(picture): drawing for picture, drawing in zip(book.pictures, drawings, strict=True)}
    for path in paths:
        content = book_html(book, drawn) if Path(path).suffix.lower() == ".html" else book_pdf(book, drawn)
        write_whole(path, content, force=force)
