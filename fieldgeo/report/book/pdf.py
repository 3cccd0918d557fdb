"""A book as a PDF for letter paper: text and tables set here, pictures laid in as the vector drawings they are."""

from __future__ import annotations

import io
import re
from functools import cache
from math import ceil
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, NamedTuple, cast
from xml.sax.saxutils import escape

from fieldgeo.report.book.model import Book, Facts, Heading, Picture, Points, Table, Text
from fieldgeo.report.sheet import short_text

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from fieldgeo.report.book.model import Chapter
    from fieldgeo.report.book.pictures import Drawn

# Letter paper, in points.
PAGE: Final = (612.0, 792.0)
_MARGIN: Final = 46.0
_FOOT: Final = 34.0
_FOOT_ROOM: Final = 4.0  # above the lower margin
_ROOM: Final = PAGE[0] - 2 * _MARGIN  # across
_INK: Final = "#1a1a1a"
_FAINT: Final = "#4d4d4d"
_RULE: Final = "#d8d4c8"
_TINT: Final = "#f6f4ec"
_SERIF, _BOLD, _ITALIC = "Book-Serif", "Book-Serif-Bold", "Book-Serif-Italic"
_FILES: Final = {_SERIF: "DejaVuSerif.ttf", _BOLD: "DejaVuSerif-Bold.ttf", _ITALIC: "DejaVuSerif-Italic.ttf"}
# Heights of a map, from which the greatest is taken with which the chapter stands on one page.
_MAP_HEIGHTS: Final = (340.0, 310.0, 285.0, 260.0, 240.0)
_USUAL_MAP: Final = 300.0  # where it does not, whatever the map
_MOST_PICTURE: Final = 300.0
_BESIDE: Final = 306.0  # of the room across that a map takes, what it says of the way to begin beside it
_GUTTER: Final = 12.0
_TABLE: Final = 7.6  # letters of tables
_LABELS: Final = 130.0  # width of the labels of facts across the page
_LABELS_BESIDE: Final = 52.0
_CONTENTS_COLUMNS: Final = 3
_ENDLESS: Final = re.compile(r"\S{30}(?=\S)")  # is broken there, else it would run off the page


class _Spot(NamedTuple):
    """Where a picture goes once the pages are set."""

    page: int  # from 0
    left: float
    low: float
    scale: float
    pdf: bytes


def book_pdf(book: Book, drawn: Mapping[int, Drawn]) -> bytes:
    """Return a book as a PDF on letter paper.

    Parameters
    ----------
    book : Book
        What it says.
    drawn : mapping of int to Drawn
        Its pictures, by the `id` of each `Picture`.
    """
    from reportlab.platypus import BaseDocTemplate, Frame, PageBreak, PageTemplate

    _register_fonts()
    spots: list[_Spot] = []
    styles = _styles()
    story: list[Any] = [_paragraph(book.title, styles["title"]), _paragraph(book.below, styles["below"])]
    story.append(_contents(book, styles))
    for number, chapter in enumerate(book.chapters, start=1):
        if number > 1:  # the first stands below the contents
            story.append(PageBreak())
        room = PAGE[1] - 2 * _MARGIN - _FOOT_ROOM - (_height(story) if number == 1 else 0.0)
        story += _chapter(number, chapter, drawn, spots, styles, room)
    text = io.BytesIO()
    document = BaseDocTemplate(
        text, pagesize=PAGE, title=_shown(book.title), author="", creator="fieldgeo", invariant=1, lang="en",
    )  # fmt: skip

    def foot(canvas: Any, _document: Any) -> None:
        canvas.saveState()
        canvas.setFont(_ITALIC, 8)
        canvas.setFillColor(_FAINT)
        canvas.drawString(_MARGIN, _FOOT, short_text(_shown(book.title), 80))
        canvas.drawRightString(PAGE[0] - _MARGIN, _FOOT, f"page {canvas.getPageNumber()}")
        canvas.restoreState()

    frame = Frame(_MARGIN, _MARGIN + _FOOT_ROOM, _ROOM, PAGE[1] - 2 * _MARGIN - _FOOT_ROOM, 0, 0, 0, 0)
    document.addPageTemplates([PageTemplate(frames=[frame], onPage=foot)])
    document.build(story)
    return _with_pictures(text.getvalue(), spots)


def _chapter(
    number: int, chapter: Chapter, drawn: Mapping[int, Drawn], spots: list[_Spot], styles: Mapping[str, Any],
    room: float,
) -> list[Any]:  # fmt: skip
    """Return a chapter with its map as large as leaves it on one page; of usual size where nothing does."""
    for most in _MAP_HEIGHTS:
        story = _story(number, chapter, drawn, spots, styles, most)
        if _height(story) <= room:
            return story
    return _story(number, chapter, drawn, spots, styles, _USUAL_MAP)


def _height(story: Sequence[Any]) -> float:
    """Return the height of flowables set one below the other. [points]"""
    height = after = 0.0
    for each in story:
        height += max(after, each.getSpaceBefore()) + each.wrap(_ROOM, PAGE[1])[1]
        after = each.getSpaceAfter()
    return height


def _story(
    number: int, chapter: Chapter, drawn: Mapping[int, Drawn], spots: list[_Spot], styles: Mapping[str, Any],
    most: float,
) -> list[Any]:  # fmt: skip
    """Return a chapter; how to begin stands beside the map where one follows the other."""
    story: list[Any] = [_titled(chapter.title, f"chapter-{number}", styles)]
    if chapter.below:
        story.append(_paragraph(chapter.below, styles["below"]))
    blocks = list(chapter.blocks)
    while blocks:
        block = blocks.pop(0)
        if not isinstance(block, Picture):
            story += _flowables(block, styles)
        else:
            picture = _picture(block, drawn[id(block)], spots, styles, most if block.is_map else _MOST_PICTURE)
            if [type(each) for each in blocks[:2]] == [Heading, Facts]:
                heading, facts = blocks.pop(0), cast("Facts", blocks.pop(0))
                beside = [
                    *_flowables(cast("Heading", heading), styles),
                    _facts(facts, styles, _ROOM - _BESIDE - _GUTTER),
                ]
                picture = [_side_by_side(picture, beside)]
            story += picture
    return story


def _side_by_side(left: list[Any], right: list[Any]) -> Any:
    from reportlab.platypus import Table as Grid

    grid = Grid([[left, right]], colWidths=[_BESIDE, _ROOM - _BESIDE])
    grid.setStyle([
        ("VALIGN", (0, 0), (-1, -1), "TOP"), ("LEFTPADDING", (0, 0), (0, 0), 0),
        ("LEFTPADDING", (1, 0), (1, 0), _GUTTER), ("RIGHTPADDING", (0, 0), (-1, -1), 0),
        ("TOPPADDING", (0, 0), (-1, -1), 0), ("BOTTOMPADDING", (0, 0), (-1, -1), 0),
    ])  # fmt: skip
    return grid


def _with_pictures(text: bytes, spots: Sequence[_Spot]) -> bytes:
    """Return pages with each picture laid in as it is, unread: a form that its page draws."""
    from pypdf import PdfReader, PdfWriter
    from pypdf.generic import ArrayObject, DictionaryObject, FloatObject, NameObject, StreamObject

    writer = PdfWriter(clone_from=PdfReader(io.BytesIO(text)))
    for number, spot in enumerate(spots):
        picture: Any = PdfReader(io.BytesIO(spot.pdf)).pages[0]
        page = writer.pages[spot.page]
        form, frame, draws = StreamObject(), StreamObject(), StreamObject()
        form.update({
            NameObject("/Type"): NameObject("/XObject"), NameObject("/Subtype"): NameObject("/Form"),
            NameObject("/BBox"): ArrayObject(FloatObject(value) for value in picture.mediabox),
            NameObject("/Resources"): picture["/Resources"].get_object().clone(writer),
        })  # fmt: skip
        form.set_data(picture["/Contents"].get_object().get_data())
        # Between them, what the text leaves set (colour, width of lines) does not reach the picture.
        frame.set_data(b"q\n")
        place = f"{spot.scale:.6f} 0 0 {spot.scale:.6f} {spot.left:.3f} {spot.low:.3f}"
        draws.set_data(f"\nQ q {place} cm /Map{number} Do Q\n".encode())
        held: Any = page["/Resources"].get_object()
        if "/XObject" not in held:
            held[NameObject("/XObject")] = DictionaryObject()
        held["/XObject"].get_object()[NameObject(f"/Map{number}")] = writer._add_object(form.flate_encode())
        parts = page.raw_get("/Contents")
        parts = list(parts) if isinstance(parts, ArrayObject) else [parts]
        page[NameObject("/Contents")] = ArrayObject([writer._add_object(frame), *parts, writer._add_object(draws)])
    laid = io.BytesIO()
    writer.write(laid)
    return laid.getvalue()


@cache
def _register_fonts() -> None:
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    for name, file in _FILES.items():
        pdfmetrics.registerFont(TTFont(name, str(_font_folder() / file)))


def _font_folder() -> Path:
    from matplotlib import get_data_path

    return Path(get_data_path(), "fonts", "ttf")


def _styles() -> dict[str, Any]:
    from reportlab.lib.colors import HexColor
    from reportlab.lib.enums import TA_RIGHT
    from reportlab.lib.styles import ParagraphStyle

    ink, faint = HexColor(_INK), HexColor(_FAINT)

    def style(name: str, font: str, size: float, **more: Any) -> ParagraphStyle:
        return ParagraphStyle(name, fontName=font, fontSize=size, leading=size * 1.32, textColor=ink, **more)

    return {
        "title": style("title", _BOLD, 22, spaceAfter=2),
        "chapter": style("chapter", _BOLD, 15.5, spaceAfter=1, keepWithNext=1),
        "heading": style("heading", _BOLD, 10, spaceBefore=7, spaceAfter=2, keepWithNext=1),
        "long": style("long", _BOLD, 10, spaceBefore=7, spaceAfter=2),
        "text": style("text", _SERIF, 9, spaceAfter=4),
        "point": style("point", _SERIF, 7.8),
        "item": style("item", _SERIF, 8, leftIndent=11, bulletIndent=1, bulletFontName=_SERIF, spaceAfter=3),
        "cell": style("cell", _SERIF, _TABLE),
        "figure": style("figure", _SERIF, _TABLE, alignment=TA_RIGHT),
        "head": style("head", _ITALIC, _TABLE),
        "figure head": style("figure head", _ITALIC, _TABLE, alignment=TA_RIGHT),
        "total": style("total", _BOLD, _TABLE),
        "figure total": style("figure total", _BOLD, _TABLE, alignment=TA_RIGHT),
        "label": ParagraphStyle("label", fontName=_SERIF, fontSize=8, leading=10.6, textColor=faint),
        "below": ParagraphStyle("below", fontName=_ITALIC, fontSize=9, leading=12, textColor=faint, spaceAfter=6),
        "caption": ParagraphStyle("caption", fontName=_ITALIC, fontSize=8, leading=10.6, textColor=faint),
    }


def _shown(text: str) -> str:
    """Return a text with a box for what the font cannot show, spaces for what is no letter, and no endless word."""
    letters = (letter if letter.isprintable() else " " for letter in text)
    held = "".join(letter if ord(letter) in _letters() else "\u25a1" for letter in letters)
    return _ENDLESS.sub(r"\g<0> ", held)


@cache
def _letters() -> frozenset[int]:
    from matplotlib.font_manager import get_font

    held = [frozenset(get_font(str(_font_folder() / file)).get_charmap()) for file in _FILES.values()]
    return frozenset.intersection(*held)


def _paragraph(text: str, style: Any) -> Any:
    from reportlab.platypus import Paragraph

    return Paragraph(escape(_shown(text)), style)


def _contents(book: Book, styles: Mapping[str, Any]) -> Any:
    """Return the chapters in columns, read down and then across, each leading to its page."""
    from reportlab.platypus import Paragraph
    from reportlab.platypus import Table as Grid

    entries = [
        Paragraph(f'<a href="#chapter-{number}">{number}.&nbsp; {escape(_shown(chapter.title))}</a>', styles["text"])
        for number, chapter in enumerate(book.chapters, start=1)
    ]
    high = max(1, ceil(len(entries) / _CONTENTS_COLUMNS))
    columns = [entries[at * high : (at + 1) * high] for at in range(_CONTENTS_COLUMNS)]
    rows = [[column[row] if row < len(column) else "" for column in columns] for row in range(high)]
    grid = Grid(rows, colWidths=[_ROOM / _CONTENTS_COLUMNS] * _CONTENTS_COLUMNS, hAlign="LEFT")
    grid.setStyle([
        ("LEFTPADDING", (0, 0), (-1, -1), 0), ("TOPPADDING", (0, 0), (-1, -1), 0),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 0), ("VALIGN", (0, 0), (-1, -1), "TOP"),
    ])  # fmt: skip
    grid.spaceAfter = 14
    return grid


def _titled(title: str, anchor: str, styles: Mapping[str, Any]) -> Any:
    """Return the title of a chapter under a double rule, where the contents and the reader's outline lead to."""
    from reportlab.platypus import Flowable

    text = _paragraph(title, styles["chapter"])

    class Title(Flowable):
        keepWithNext = True  # noqa: N815 - the library's own name

        def wrap(self, width: float, height: float) -> tuple[float, float]:
            self.width, self.height = text.wrap(width, height)
            self.height += 8
            return self.width, self.height

        def draw(self) -> None:
            canvas = self.canv
            canvas.bookmarkPage(anchor)
            canvas.addOutlineEntry(_shown(title), anchor, level=0)
            canvas.setStrokeColor(_INK)
            for up, width in ((0.0, 1.1), (2.6, 0.5)):
                canvas.setLineWidth(width)
                canvas.line(0, self.height - up, self.width, self.height - up)
            text.drawOn(canvas, 0, 0)

    return Title()


def _flowables(block: Heading | Text | Points | Facts | Table, styles: Mapping[str, Any]) -> list[Any]:
    if isinstance(block, Heading):
        return [_paragraph(block.text, styles["heading"])]
    if isinstance(block, Text):
        return [_paragraph(block.text, styles["text"])]
    if isinstance(block, Points):
        return _points(block, styles)
    if isinstance(block, Facts):
        return [_facts(block, styles, _ROOM)]
    return _table(block, styles)


def _points(block: Points, styles: Mapping[str, Any]) -> list[Any]:
    from reportlab.platypus import Paragraph
    from reportlab.platypus import Table as Grid

    if not block.items:
        return []
    if not block.are_cautions:
        return [Paragraph(escape(_shown(item)), styles["item"], bulletText="\u2022") for item in block.items]
    rows = [[_paragraph(item, styles["point"])] for item in block.items]
    grid = Grid(rows, colWidths=[_ROOM], hAlign="LEFT", spaceBefore=4, spaceAfter=4)
    grid.setStyle([
        ("TOPPADDING", (0, 0), (-1, -1), 1), ("BOTTOMPADDING", (0, 0), (-1, -1), 1.5),
        ("BACKGROUND", (0, 0), (-1, -1), _TINT), ("LINEBEFORE", (0, 0), (0, -1), 3, _INK),
    ])  # fmt: skip
    return [grid]


def _facts(block: Facts, styles: Mapping[str, Any], room: float) -> Any:
    from reportlab.platypus import Table as Grid

    labels, style = (_LABELS, "text") if room == _ROOM else (_LABELS_BESIDE, "cell")
    rows = [[_paragraph(label, styles["label"]), _paragraph(value, styles[style])] for label, value in block.rows]
    grid = Grid(rows, colWidths=[labels, room - labels], hAlign="LEFT", spaceBefore=2, spaceAfter=4)
    grid.setStyle([
        ("VALIGN", (0, 0), (-1, -1), "TOP"), ("LEFTPADDING", (0, 0), (-1, -1), 0),
        ("RIGHTPADDING", (0, 0), (-1, -1), 0),
        ("TOPPADDING", (0, 0), (-1, -1), 1.5), ("BOTTOMPADDING", (0, 0), (-1, -1), 1.5),
        ("LINEBELOW", (0, 0), (-1, -1), 0.4, _RULE),
    ])  # fmt: skip
    return grid


def _table(block: Table, styles: Mapping[str, Any]) -> list[Any]:
    from reportlab.platypus import CondPageBreak
    from reportlab.platypus import Table as Grid

    def row(cells: Sequence[str], left_style: str, figure_style: str) -> list[Any]:
        return [
            _paragraph(cell, styles[left_style if at < block.left else figure_style]) for at, cell in enumerate(cells)
        ]

    rows = [row(block.head, "head", "figure head"), *(row(cells, "cell", "figure") for cells in block.rows)]
    look: list[Any] = [
        ("VALIGN", (0, 0), (-1, -1), "TOP"), ("VALIGN", (0, 0), (-1, 0), "BOTTOM"),
        ("LEFTPADDING", (0, 0), (0, -1), 0), ("LEFTPADDING", (1, 0), (-1, -1), 5),
        ("RIGHTPADDING", (0, 0), (-1, -1), 0),
        ("TOPPADDING", (0, 0), (-1, -1), 1.1), ("BOTTOMPADDING", (0, 0), (-1, -1), 1.6),
        ("LINEBELOW", (0, 0), (-1, 0), 0.9, _INK), ("LINEBELOW", (0, 1), (-1, -2), 0.3, _RULE),
    ]  # fmt: skip
    if block.total:
        rows.append(row(block.total, "total", "figure total"))
        look.append(("LINEABOVE", (0, -1), (-1, -1), 0.9, _INK))
    grid = Grid(rows, colWidths=_column_widths(block), repeatRows=1, hAlign="LEFT", spaceAfter=8)
    grid.setStyle(look)
    # A short table stays in one piece; a long one begins where there is room, and goes on with its head over the page.
    if len(rows) <= _WHOLE_ROWS:
        return [_paragraph(block.caption, styles["heading"]), grid]
    return [CondPageBreak(_LEAST_ROOM), _paragraph(block.caption, styles["long"]), grid]


_WHOLE_ROWS: Final = 22
_LEAST_ROOM: Final = 90.0  # at the foot of a page, for a long table or list to begin there [points]


def _column_widths(block: Table) -> list[float]:
    """Return widths of columns that share the page as their widest words ask, figures never broken."""
    from reportlab.pdfbase.pdfmetrics import stringWidth

    room = _ROOM
    rows = [*block.rows, *((block.total,) if block.total else ())]

    def widest(at: int, *, whole: bool) -> float:
        texts = [row[at] for row in rows]
        words = texts if whole else [word for text in texts for word in _shown(text).split()]
        words = [*words, *block.head[at].split()]
        return max((stringWidth(_shown(word), _BOLD, _TABLE) for word in words), default=0.0) + 7

    least = [widest(at, whole=at >= block.left) for at in range(len(block.head))]
    wanted = [widest(at, whole=True) for at in range(len(block.head))]
    if sum(least) >= room:
        return [width * room / sum(least) for width in least]
    spare = room - sum(least)
    asked = [want - have for want, have in zip(wanted, least, strict=True)]
    if sum(asked) <= spare:
        return [want * room / sum(wanted) for want in wanted]
    return [have + spare * ask / sum(asked) for have, ask in zip(least, asked, strict=True)]


def _picture(block: Picture, drawn: Drawn, spots: list[_Spot], styles: Mapping[str, Any], most: float) -> list[Any]:
    from reportlab.platypus import Flowable

    class Place(Flowable):
        def wrap(self, width: float, _height: float) -> tuple[float, float]:
            self.room = width
            self.scale = min(width / drawn.width, most / drawn.height)
            return width, self.scale * drawn.height + 6

        def draw(self) -> None:
            left, low = self.canv.absolutePosition((self.room - self.scale * drawn.width) / 2, 3)
            spots.append(_Spot(self.canv.getPageNumber() - 1, left, low, self.scale, drawn.pdf))

    place = Place()
    place.keepWithNext = bool(block.caption)
    return [place, *([_paragraph(block.caption, styles["caption"])] if block.caption else [])]
