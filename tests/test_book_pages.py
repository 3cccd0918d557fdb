"""The pages of a book: what they say stands in both forms, whatever the texts hold; pictures are where they belong."""

import html
import io
import re
from itertools import pairwise
from xml.etree import ElementTree

import numpy as np
import pytest
import shapely
from pypdf import PdfReader

from fieldgeo.errors import InputError
from fieldgeo.outline.field import field_from_shape
from fieldgeo.report.book.html import book_html
from fieldgeo.report.book.model import Book, Chapter, Facts, Heading, Picture, Points, Table, Text
from fieldgeo.report.book.pdf import PAGE, book_pdf
from fieldgeo.report.book.pictures import Drawn, data_address, draw_picture, thin_svg
from fieldgeo.report.outline_map import plot_field
from fieldgeo.report.sheet import sheet_size

ODD = "<script>alert('1')</script> & \"Süd\" \U0001f33d \u202e back"
FIELD = field_from_shape(shapely.box(0, 0, 400, 300), name="Home forty")


def book(title="Home forty"):
    picture = Picture(draw=lambda: plot_field(FIELD), says="Map of Home forty.", caption="North is up.", is_map=True)
    blocks = (
        picture,
        Heading(text="How to work it"),
        Text(text="Begin at the south side."),
        Facts(rows=(("passes", "31"), (title, title))),
        Points(items=("Keep clear of overhead lines.",), are_cautions=True),
        Table(caption="Tools", head=("tool", "passes", "h"), rows=(("planter", "31", "3.28"), (title, "12", "1.00")),
              total=("all", "43", "4.28")),
    )  # fmt: skip
    return Book(title=title, below="An invented farm", chapters=(Chapter(title=title, blocks=blocks, below="30 ac"),))


def drawn(of):
    return {
        id(block): draw_picture(block) for each in of.chapters for block in each.blocks if isinstance(block, Picture)
    }


@pytest.fixture(scope="module")
def home():
    made = book()
    return made, drawn(made)


def pdf_text(data):
    return "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(data)).pages)


def test_every_text_is_in_both_forms(home):
    made, pictures = home
    page, paper = html.unescape(book_html(made, pictures)), pdf_text(book_pdf(made, pictures))
    for words in ("Home forty", "An invented farm", "How to work it", "Begin at the south side.", "planter", "3.28",
                  "all", "4.28", "Keep clear of overhead lines.", "North is up.", "30 ac"):  # fmt: skip
        assert words in page
        assert words in paper


def test_texts_from_strangers_stay_texts():
    made = book(ODD)
    page = book_html(made, drawn(made))
    assert "<script" not in page
    assert html.escape(ODD, quote=False).split("'")[0] in page.replace("&#39;", "'")
    paper = pdf_text(book_pdf(made, drawn(made)))
    assert "alert" in paper
    assert "\U0001f33d" not in paper  # no font of ours has it: a box stands for it


def test_the_page_needs_nothing_beside_it(home):
    page = book_html(*home)
    assert not re.findall(r"""(?:src|href)=["'](?!data:|#)""", page)
    assert "url(" not in re.sub(r'src="[^"]*"', "", page)
    assert "default-src &#39;none&#39;" in page
    assert not re.search(r"<(script|link|iframe|object|embed|form)\b", page)


def test_every_picture_says_in_words_what_it_shows(home):
    page = book_html(*home)
    assert re.findall(r'<img alt="([^"]*)"', page) == ["Map of Home forty."]


def test_headings_step_down_one_at_a_time_and_ids_are_single(home):
    page = book_html(*home)
    levels = [int(level) for level in re.findall(r"<h([1-6])", page)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(below - above <= 1 for above, below in pairwise(levels))
    ids = re.findall(r' id="([^"]*)"', page)
    assert len(ids) == len(set(ids))


def test_the_style_keeps_its_letters(home):
    # An escaped ">" or quote would silently switch rules off.
    style = re.search(r"<style>(.*?)</style>", book_html(*home), re.DOTALL).group(1)
    assert "&" not in style
    assert "tfoot > tr > *" in style


def test_a_thinned_picture_is_the_same_to_a_hundredth_of_a_point():
    svg = '<?xml version="1.0"?>\n<svg>\n<metadata>x</metadata>\n<g transform="scale(0.085 -0.085)">\n'
    thin = thin_svg(svg + '<path d="M 33.123987 73.088791 \nL -396.5 454.7"/></g></svg>')
    assert "scale(0.085 -0.085)" in thin
    assert 'd="M33.12 73.09 -396.50 454.70"' in thin
    assert "metadata" not in thin
    ElementTree.fromstring(thin)


def test_a_thinned_path_keeps_its_shape():
    # An arc of radius 10 by steps of half a degree, and a triangle that is closed, in one path.
    turns = np.radians(np.arange(0, 181, 0.5))
    arc = np.column_stack([50 + 10 * np.cos(turns), 50 + 10 * np.sin(turns)])
    drawn = "M " + "\nL ".join(f"{x:.6f} {y:.6f}" for x, y in arc) + "\nM 1 1 \nL 5 1 \nL 5 4 \nz\n"
    thin = thin_svg(f'<svg><path d="{drawn}"/></svg>')
    (path,) = re.findall(r'd="([^"]*)"', thin)
    first, second = path.split("M")[1:]
    numbers = np.array(first.split(), dtype=float).reshape(-1, 2)
    assert len(numbers) < len(arc) / 5
    assert shapely.hausdorff_distance(shapely.LineString(numbers), shapely.LineString(arc)) < 0.05
    assert second.strip() == "1.00 1.00 5.00 1.00 5.00 4.00z"


def test_a_path_with_curves_keeps_its_commands():
    thin = thin_svg('<svg><path d="M 1.23456 2 Q 3.98765 4 5 6"/></svg>')
    assert 'd="M 1.23 2 Q 3.98 4 5 6"' in thin


def test_an_address_holds_any_picture():
    from urllib.parse import unquote

    svg = '<svg><text>50 % of #1 & "that" ü</text></svg>'
    address = data_address(svg)
    assert address.startswith("data:image/svg+xml,")
    assert not set(address) & set('"#\n')
    assert unquote(address.partition(",")[2]) == svg.replace('"', "'")


def test_pictures_lie_in_the_pdf_as_drawings_on_their_page(home):
    made, pictures = home
    (page,) = PdfReader(io.BytesIO(book_pdf(made, pictures))).pages  # the first chapter stands below the contents
    assert not page.images  # drawn, not a photograph of it
    assert (float(page.mediabox.width), float(page.mediabox.height)) == PAGE
    (form,) = (held.get_object() for held in page["/Resources"]["/XObject"].get_object().values())
    assert form["/Subtype"] == "/Form"
    assert len(form.get_data()) > 500
    # The page draws it, and first gives back what its text has set: line widths and colours begin anew for a drawing.
    assert re.search(rb"Q q [\d. ]+ cm /Map0 Do Q\s*$", page.get_contents().get_data())


def test_how_to_begin_stands_beside_the_map(home):
    made, pictures = home
    heading, facts = Heading(text="To begin"), Facts(rows=(("begin", "at the southwest"),))
    table = made.chapters[0].blocks[-1]
    chapter = Chapter(title="c", blocks=(made.chapters[0].blocks[0], heading, facts, table))
    (page,) = PdfReader(io.BytesIO(book_pdf(Book(title="t", below="b", chapters=(chapter,)), pictures))).pages
    at = {}
    page.extract_text(visitor_text=lambda text, cm, tm, *_: at.setdefault(text.strip(), (cm[4] + tm[4], cm[5] + tm[5])))
    assert at["To begin"][0] > PAGE[0] / 2 > at["planter"][0]
    assert at["To begin"][1] > at["planter"][1] + 200  # the map lies between, at its left


def test_a_map_gives_way_to_what_must_stand_on_its_page(home):
    made, pictures = home
    picture = made.chapters[0].blocks[0]
    for rows, pages in ((14, 1), (20, 1), (90, 3)):
        table = Table(caption="Tools", head=("tool", "h"), rows=tuple((f"tool {row}", "1") for row in range(rows)))
        long = Book(title="t", below="b", chapters=(Chapter(title="c", blocks=(picture, table)),))
        assert len(PdfReader(io.BytesIO(book_pdf(long, pictures))).pages) == pages


def test_a_long_table_goes_on_with_its_head_on_the_next_page():
    rows = tuple((f"field {number}", f"{number}") for number in range(120))
    long = Book(title="t", below="b", chapters=(Chapter(title="c", blocks=(
        Table(caption="Long", head=("field", "acres"), rows=rows),)),))  # fmt: skip
    pages = PdfReader(io.BytesIO(book_pdf(long, {}))).pages
    texts = [text for page in pages if "field" in (text := page.extract_text())]
    assert len(texts) > 2
    assert all("acres" in text for text in texts)
    found = [int(number) for text in texts for number in re.findall(r"field (\d+)", text)]
    assert found == list(range(120))


def test_the_same_book_gives_the_same_files(home):
    made, pictures = home
    assert book_html(made, pictures) == book_html(made, pictures)
    again = drawn(made)
    assert next(iter(again.values())).svg == next(iter(pictures.values())).svg


def test_a_table_with_a_cell_too_few_is_refused():
    with pytest.raises(InputError, match="2 cells, the head 3"):
        Table(caption="Tools", head=("tool", "passes", "h"), rows=(("planter", "31"),))


def test_the_look_of_a_wide_table_stays_on_the_page():
    head = tuple(f"column {number}" for number in range(14))
    wide = Table(caption="Wide", head=head, rows=(tuple("1,234.56 ac" for _ in head),))
    made = Book(title="t", below="b", chapters=(Chapter(title="c", blocks=(wide,)),))
    assert "1,234.56" in pdf_text(book_pdf(made, {})).replace("\n", "")


def test_a_name_without_an_end_stays_on_the_paper():
    name = "N" * 200
    table = Table(caption="Fields", head=("field", "ac", "h"), rows=((name, "1,234.56", "12.34"),))
    made = Book(title=name, below="b", chapters=(Chapter(title=name, blocks=(table,)),))
    (page,) = PdfReader(io.BytesIO(book_pdf(made, {}))).pages
    assert page["/Annots"]  # the contents lead to the chapter
    assert "1,234.56" in page.extract_text()  # the figures are not squeezed to a letter a line
    lines = [line.strip() for line in page.extract_text().splitlines()]
    assert max(len(word) for line in lines for word in line.split() if set(word) == {"N"}) <= 30


def test_a_drawn_picture_has_the_size_of_its_sheet(home):
    _, pictures = home
    picture: Drawn = next(iter(pictures.values()))
    box = PdfReader(io.BytesIO(picture.pdf)).pages[0].mediabox
    assert float(box.width) == pytest.approx(picture.width, abs=0.5)
    assert float(box.height) == pytest.approx(picture.height, abs=0.5)
    root = ElementTree.fromstring(picture.svg)
    assert float(root.get("width").removesuffix("pt")) == pytest.approx(picture.width, abs=0.01)


def test_a_sheet_of_another_size_has_letters_as_large():
    with sheet_size(width=300.0, most_map_height=100.0):
        small = plot_field(FIELD)
    usual = plot_field(FIELD)
    assert small.figure.get_size_inches()[0] * 72 == pytest.approx(300)
    assert usual.figure.get_size_inches()[0] * 72 == pytest.approx(396)
    assert small.figure.get_size_inches()[1] < usual.figure.get_size_inches()[1]
    assert {text.get_fontsize() for text in small.texts} == {text.get_fontsize() for text in usual.texts}
