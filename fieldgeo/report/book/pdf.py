"""A book as a PDF for letter paper: text and tables set here, pictures laid in as the vector drawings they are."""

from __future__ import annotations

import io
from functools import cache
from math import ceil
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, NamedTuple
from xml.sax.saxutils import escape

from fieldgeo.report.book.model import Book, Facts, Heading, Picture, Points, Table, Text

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from fieldgeo.report.book.model import Block
    from fieldgeo.report.book.pictures import Drawn

# Letter paper, in points.
PAGE: Final = (612.0, 792.0)
_MARGIN: Final = 50.0
_FOOT: Final = 40.0
_INK: Final = "#1a1a1a"
_FAINT: Final = "#4d4d4d"
_RULE: Final = "#d8d4c8"
_TINT: Final = "#f6f4ec"
_SERIF, _BOLD, _ITALIC = "Book-Serif", "Book-Serif-Bold", "Book-Serif-Italic"
_FILES: Final = {_SERIF: "DejaVuSerif.ttf", _BOLD: "DejaVuSerif-Bold.ttf", _ITALIC: "DejaVuSerif-Italic.ttf"}
_MOST_MAP: Final = 292.0  # height of a map, so that what it says of the tools stands on the same page
_MOST_PICTURE: Final = 300.0
_CONTENTS_COLUMNS: Final = 3


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
    from reportlab.platypus import PageBreak, SimpleDocTemplate

    _register_fonts()
    spots: list[_Spot] = []
    styles = _styles()
    story: list[Any] = [_paragraph(book.title, styles["title"]), _paragraph(book.below, styles["below"])]
    story.append(_contents(book, styles))
    for number, chapter in enumerate(book.chapters, start=1):
        if number > 1:  # the first stands below the contents
            story.append(PageBreak())
        story.append(_titled(chapter.title, f"chapter-{number}", styles))
        if chapter.below:
            story.append(_paragraph(chapter.below, styles["below"]))
        for block in chapter.blocks:
            story += _flowables(block, drawn, spots, styles)
    text = io.BytesIO()
    document = SimpleDocTemplate(
        text, pagesize=PAGE, leftMargin=_MARGIN, rightMargin=_MARGIN, topMargin=_MARGIN, bottomMargin=_MARGIN + 10,
        title=_shown(book.title), author="", creator="fieldgeo", invariant=1, lang="en",
    )  # fmt: skip

    def foot(canvas: Any, _document: Any) -> None:
        canvas.saveState()
        canvas.setFont(_ITALIC, 8)
        canvas.setFillColor(_FAINT)
        canvas.drawString(_MARGIN, _FOOT, _shown(book.title)[:80])
        canvas.drawRightString(PAGE[0] - _MARGIN, _FOOT, f"page {canvas.getPageNumber()}")
        canvas.restoreState()

    document.build(story, onFirstPage=foot, onLaterPages=foot)
    return _with_pictures(text.getvalue(), spots)


def _with_pictures(text: bytes, spots: Sequence[_Spot]) -> bytes:
    from pypdf import PdfReader, PdfWriter, Transformation

    writer = PdfWriter(clone_from=PdfReader(io.BytesIO(text)))
    for spot in spots:
        picture = PdfReader(io.BytesIO(spot.pdf)).pages[0]
        place = Transformation().scale(spot.scale).translate(spot.left, spot.low)
        writer.pages[spot.page].merge_transformed_page(picture, place)
    for page in writer.pages:
        page.compress_content_streams()
    writer.compress_identical_objects()
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
        "heading": style("heading", _BOLD, 10.5, spaceBefore=9, spaceAfter=3, keepWithNext=1),
        "text": style("text", _SERIF, 9, spaceAfter=4),
        "point": style("point", _SERIF, 8.2, spaceAfter=2),
        "cell": style("cell", _SERIF, 8),
        "figure": style("figure", _SERIF, 8, alignment=TA_RIGHT),
        "head": style("head", _ITALIC, 8),
        "figure head": style("figure head", _ITALIC, 8, alignment=TA_RIGHT),
        "total": style("total", _BOLD, 8),
        "figure total": style("figure total", _BOLD, 8, alignment=TA_RIGHT),
        "label": ParagraphStyle("label", fontName=_SERIF, fontSize=8.5, leading=11.4, textColor=faint),
        "below": ParagraphStyle("below", fontName=_ITALIC, fontSize=9, leading=12, textColor=faint, spaceAfter=6),
        "caption": ParagraphStyle("caption", fontName=_ITALIC, fontSize=8, leading=10.6, textColor=faint),
    }


def _shown(text: str) -> str:
    """Return a text with a box for what the font cannot show, and spaces for what is no letter at all."""
    letters = (letter if letter.isprintable() else " " for letter in text)
    return "".join(letter if ord(letter) in _letters() else "\u25a1" for letter in letters)


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
    grid = Grid(rows, colWidths=[(PAGE[0] - 2 * _MARGIN) / _CONTENTS_COLUMNS] * _CONTENTS_COLUMNS, hAlign="LEFT")
    grid.setStyle([
        ("LEFTPADDING", (0, 0), (-1, -1), 0), ("TOPPADDING", (0, 0), (-1, -1), 0),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 0), ("VALIGN", (0, 0), (-1, -1), "TOP"),
    ])  # fmt: skip
    grid.spaceAfter = 14
    return grid


def _titled(title: str, anchor: str, styles: Mapping[str, Any]) -> Any:
    """Return the title of a chapter under a double rule, where the contents and the reader's outline lead to."""
    from reportlab.platypus import Flowable, Paragraph

    text = Paragraph(f'<a name="{anchor}"/>{escape(_shown(title))}', styles["chapter"])

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


def _flowables(block: Block, drawn: Mapping[int, Drawn], spots: list[_Spot], styles: Mapping[str, Any]) -> list[Any]:
    if isinstance(block, Heading):
        return [_paragraph(block.text, styles["heading"])]
    if isinstance(block, Text):
        return [_paragraph(block.text, styles["text"])]
    if isinstance(block, Points):
        return _points(block, styles)
    if isinstance(block, Facts):
        return [_facts(block, styles)]
    if isinstance(block, Table):
        return _table(block, styles)
    return _picture(block, drawn[id(block)], spots, styles)


def _points(block: Points, styles: Mapping[str, Any]) -> list[Any]:
    from reportlab.platypus import Table as Grid

    if not block.items:
        return []
    rows = [[_paragraph(("" if block.are_cautions else "\u2022  ") + item, styles["point"])] for item in block.items]
    grid = Grid(rows, colWidths=[PAGE[0] - 2 * _MARGIN - 12], hAlign="LEFT", spaceBefore=4, spaceAfter=4)
    look: list[Any] = [("TOPPADDING", (0, 0), (-1, -1), 1), ("BOTTOMPADDING", (0, 0), (-1, -1), 1)]
    if block.are_cautions:
        look += [("BACKGROUND", (0, 0), (-1, -1), _TINT), ("LINEBEFORE", (0, 0), (0, -1), 3, _INK)]
    grid.setStyle(look)
    return [grid]


def _facts(block: Facts, styles: Mapping[str, Any]) -> Any:
    from reportlab.platypus import Table as Grid

    rows = [[_paragraph(label, styles["label"]), _paragraph(value, styles["text"])] for label, value in block.rows]
    grid = Grid(rows, colWidths=[130, PAGE[0] - 2 * _MARGIN - 130], hAlign="LEFT", spaceBefore=2, spaceAfter=4)
    grid.setStyle([
        ("VALIGN", (0, 0), (-1, -1), "TOP"), ("LEFTPADDING", (0, 0), (-1, -1), 0),
        ("TOPPADDING", (0, 0), (-1, -1), 1.5), ("BOTTOMPADDING", (0, 0), (-1, -1), 0),
        ("LINEBELOW", (0, 0), (-1, -1), 0.4, _RULE),
    ])  # fmt: skip
    return grid


def _table(block: Table, styles: Mapping[str, Any]) -> list[Any]:
    from reportlab.platypus import KeepTogether
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
        ("TOPPADDING", (0, 0), (-1, -1), 2), ("BOTTOMPADDING", (0, 0), (-1, -1), 2),
        ("LINEBELOW", (0, 0), (-1, 0), 0.9, _INK), ("LINEBELOW", (0, 1), (-1, -2), 0.3, _RULE),
    ]  # fmt: skip
    if block.total:
        rows.append(row(block.total, "total", "figure total"))
        look.append(("LINEABOVE", (0, -1), (-1, -1), 0.9, _INK))
    grid = Grid(rows, colWidths=_column_widths(block), repeatRows=1, hAlign="LEFT", spaceAfter=8)
    grid.setStyle(look)
    caption = _paragraph(block.caption, styles["heading"])
    # A short table stays in one piece; a long one goes on with its head on the next page.
    return [KeepTogether([caption, grid])] if len(rows) <= _WHOLE_ROWS else [caption, grid]


_WHOLE_ROWS: Final = 22


def _column_widths(block: Table) -> list[float]:
    """Return widths of columns that share the page as their widest words ask, figures never broken."""
    from reportlab.pdfbase.pdfmetrics import stringWidth

    room = PAGE[0] - 2 * _MARGIN
    rows = [*block.rows, *((block.total,) if block.total else ())]

    def widest(at: int, *, whole: bool) -> float:
        texts = [row[at] for row in rows]
        words = texts if whole else [word for text in texts for word in text.split()]
        words = [*words, *block.head[at].split()]
        return max((stringWidth(_shown(word), _BOLD, 8) for word in words), default=0.0) + 7

    least = [widest(at, whole=at >= block.left) for at in range(len(block.head))]
    wanted = [widest(at, whole=True) for at in range(len(block.head))]
    if sum(least) >= room:
        return [width * room / sum(least) for width in least]
    spare = room - sum(least)
    asked = [want - have for want, have in zip(wanted, least, strict=True)]
    if sum(asked) <= spare:
        return [want * room / sum(wanted) for want in wanted]
    return [have + spare * ask / sum(asked) for have, ask in zip(least, asked, strict=True)]


def _picture(block: Picture, drawn: Drawn, spots: list[_Spot], styles: Mapping[str, Any]) -> list[Any]:
    from reportlab.platypus import Flowable, KeepTogether

    most = _MOST_MAP if block.is_map else _MOST_PICTURE

    class Place(Flowable):
        def wrap(self, width: float, _height: float) -> tuple[float, float]:
            self.room = width
            self.scale = min(width / drawn.width, most / drawn.height)
            return width, self.scale * drawn.height + 6

        def draw(self) -> None:
            left, low = self.canv.absolutePosition((self.room - self.scale * drawn.width) / 2, 3)
            spots.append(_Spot(self.canv.getPageNumber() - 1, left, low, self.scale, drawn.pdf))

    return [KeepTogether([Place(), *([_paragraph(block.caption, styles["caption"])] if block.caption else [])])]
