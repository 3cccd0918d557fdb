"""The field book in a real browser, headless Chromium: what it loads, what it says, how it fits, how it prints."""

import io
import os
import re
import shutil
from pathlib import Path

import pytest
from pypdf import PdfReader

from fieldgeo.analysis.farm_work import FieldJob, work_fields
from fieldgeo.machinery.shed import read_shed
from fieldgeo.outline.read import read_outline
from fieldgeo.report.book.html import book_html
from fieldgeo.report.book.make import BookOrder, make_book, save_book
from fieldgeo.report.book.model import Book, Chapter, Facts, Heading, Points, Table

sync_api = pytest.importorskip("playwright.sync_api")
SAMPLES = Path(__file__).parents[1] / "sample_fields"
BROWSER = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)
# Where every check is to run, a browser that is missing is a fault and no excuse.
pytestmark = pytest.mark.skipif(BROWSER is None and "CI" not in os.environ, reason="no Chromium is installed")
ODD = '<img src=x onerror=alert(1)> & "Süd"'
PHONE, DESK = {"width": 360, "height": 740}, {"width": 1280, "height": 900}


@pytest.fixture(scope="module")
def book(tmp_path_factory):
    shed = read_shed(SAMPLES / "shed.toml")
    names = ("16-row planter", "8-row row cultivator", "combine, 6-row corn head")
    tools = tuple(shed.tool(name) for name in names)
    fields = [read_outline(SAMPLES / f"{name}.geojson") for name in ("ell", "across_the_road")]
    carries = (
        {"tank": "8bags", "rate": "32000seeds/ac", "holds": ["80000seeds/bag"]},
        {},
        {"tank": "240bu", "yield": "180bu/ac"},
    )
    jobs = [FieldJob(field=field, tools=tools, carries=carries, direction_deg=90.0) for field in fields]
    made, figures = make_book(BookOrder(farm=ODD, shed=shed, works=work_fields(jobs, processes=1)))
    path = tmp_path_factory.mktemp("book") / "field_book.html"
    save_book(made, [path], processes=1)
    return path, figures


@pytest.fixture(scope="module")
def browser():
    with sync_api.sync_playwright() as engine:
        running = engine.chromium.launch(executable_path=BROWSER, args=["--no-sandbox"])
        yield running
        running.close()


@pytest.fixture
def open_book(book, browser):
    contexts = []

    def opened(size, **how):
        context = browser.new_context(viewport=size, is_mobile=size is PHONE, **how)
        contexts.append(context)
        page = context.new_page()
        seen = {"requests": [], "faults": []}
        page.on("request", lambda request: seen["requests"].append(request.url))
        page.on("console", lambda message: seen["faults"].append(message.text))
        page.on("pageerror", lambda error: seen["faults"].append(str(error)))
        page.goto(book[0].as_uri())
        return page, seen

    yield opened
    for context in contexts:
        context.close()


@pytest.mark.parametrize("size", [PHONE, DESK])
def test_it_opens_without_a_fault_and_asks_for_nothing(open_book, size):
    page, seen = open_book(size)
    assert seen["faults"] == []
    assert [url for url in seen["requests"] if not url.startswith(("file:", "data:"))] == []
    broken = page.evaluate("[...document.images].filter(i => !i.complete || !i.naturalWidth).length")
    assert broken == 0


@pytest.mark.parametrize("size", [PHONE, DESK])
def test_nothing_but_wide_tables_runs_off_the_screen(open_book, size):
    page, _ = open_book(size)
    assert page.evaluate("document.documentElement.scrollWidth") <= size["width"]


@pytest.mark.parametrize("size", [PHONE, DESK])
def test_headings_of_tables_stay_in_sight(open_book, size):
    page, _ = open_book(size)
    for caption in page.locator("caption span").all():
        box = caption.bounding_box()
        assert box["x"] + box["width"] <= size["width"]


def test_a_table_moved_aside_keeps_the_names_of_its_rows(open_book):
    page, _ = open_book(PHONE)
    tools = page.get_by_role("region", name=re.compile("Tools on this field")).first
    name = tools.locator("tbody th").first
    before = name.bounding_box()["x"]
    tools.evaluate("region => { region.scrollLeft = 200; }")
    assert tools.evaluate("region => region.scrollLeft") > 100
    assert name.bounding_box()["x"] == before


def test_the_paper_stays_white_where_dark_colours_are_asked_for(open_book):
    page, _ = open_book(PHONE, color_scheme="dark")
    assert page.evaluate("getComputedStyle(document.documentElement).backgroundColor") == "rgb(255, 255, 255)"
    # Said in so many words, since browsers of telephones else turn colours round by themselves, but not those of maps.
    assert page.evaluate("getComputedStyle(document.documentElement).colorScheme") == "light only"
    assert page.locator("meta[name=color-scheme]").get_attribute("content") == "only light"


def test_letters_of_twice_the_size_leave_the_page_in_one_column(open_book):
    # Web Content Accessibility Guidelines 2.1, success criteria 1.4.4 and 1.4.10, W3C, 2018: 200 % on a desk screen is
    # half its width.
    page, _ = open_book({"width": DESK["width"] // 2, "height": DESK["height"] // 2})
    assert page.evaluate("document.documentElement.scrollWidth") <= DESK["width"] // 2


def test_a_name_without_an_end_stays_on_the_screen(browser, tmp_path):
    name = "N" * 200
    table = Table(caption=name, head=("field", "ac"), rows=((name, "1,234.56"),), total=(name, "1"))
    blocks = (table, Heading(text=name), Facts(rows=((name, name),)), Points(items=(name,)))
    path = tmp_path / "long.html"
    book = Book(title=name, below=name, chapters=(Chapter(title=name, below=name, blocks=blocks),))
    path.write_text(book_html(book, {}))
    page = browser.new_page(viewport=PHONE)
    page.goto(path.as_uri())
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
    page.close()


def test_what_the_keyboard_stands_on_is_seen(open_book):
    page, _ = open_book(DESK)
    seen = set()
    for _ in range(12):
        page.keyboard.press("Tab")
        tag, style, width = page.evaluate(
            """() => { const e = document.activeElement, look = getComputedStyle(e);
              return [e.tagName, look.outlineStyle, look.outlineWidth]; }"""
        )
        seen.add(tag)
        assert style == "solid"
        assert float(width.removesuffix("px")) >= 2
    assert seen == {"A", "DIV"}  # links, and tables that can be moved aside


def test_every_chapter_leads_back_to_the_contents(open_book):
    page, _ = open_book(PHONE)
    chapters = page.locator("main section").count()
    assert page.locator("main section a[href='#contents']").count() == chapters
    page.locator("main section a[href='#contents']").last.click()
    assert page.url.endswith("#contents")


def test_landmarks_and_language_are_told(open_book):
    page, _ = open_book(DESK)
    assert page.locator("html").get_attribute("lang") == "en"
    for role in ("banner", "navigation", "main"):
        assert page.get_by_role(role).count() == 1
    assert all(cell.inner_text().strip() for cell in page.locator("thead th").all())


def test_no_table_is_cut_at_the_edge_of_the_paper(open_book):
    # Letter paper of 8.5 inches less margins of 15 mm at each side: 186 mm, 702 dots of 1/96 inch (derived).
    page, _ = open_book({"width": 702, "height": 900})
    page.emulate_media(media="print")
    assert page.locator("table").count() > 5
    for table in page.locator("table").all():
        assert table.evaluate("table => table.scrollWidth <= table.parentElement.clientWidth")


def test_names_from_strangers_are_shown_and_do_nothing(open_book):
    page, _ = open_book(DESK)
    assert page.locator("h1").inner_text() == ODD
    assert page.locator("img[onerror]").count() == 0


def test_the_first_key_leads_past_the_contents(open_book):
    page, _ = open_book(DESK)
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.getAttribute('href')") == "#first"
    page.keyboard.press("Enter")
    assert page.url.endswith("#first")


def test_every_table_can_be_reached_and_read(open_book):
    page, _ = open_book(PHONE)
    for table in page.locator("table").all():
        assert table.locator("caption").inner_text().strip()
        assert table.locator("thead th[scope=col]").count() == table.locator("tbody tr").first.locator("th,td").count()
        assert table.locator("tbody tr").first.locator("th[scope=row]").count() == 1
        region = table.locator("xpath=..")
        assert region.get_attribute("tabindex") == "0"
        assert region.get_attribute("aria-label")


def test_every_picture_has_words_and_every_link_a_goal(open_book):
    page, _ = open_book(DESK)
    assert all(len(image.get_attribute("alt")) > 20 for image in page.locator("img").all())
    for link in page.locator("a").all():
        assert page.locator(link.get_attribute("href")).count() == 1


def test_letters_stand_out_from_the_paper(open_book):
    # Web Content Accessibility Guidelines 2.1, success criterion 1.4.3, W3C, 2018: a contrast of 4.5 to 1 and more, by
    # the relative luminance that they define.
    page, _ = open_book(DESK)
    worst = page.evaluate(
        """() => {
          const light = c => { const [r, g, b] = c.map(v => { v /= 255;
              return v <= 0.03928 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4; });
            return 0.2126 * r + 0.7152 * g + 0.0722 * b; };
          const parse = s => s.match(/[\\d.]+/g).map(Number);
          const ground = e => { for (; e; e = e.parentElement) {
              const c = parse(getComputedStyle(e).backgroundColor);
              if (c.length < 4 || c[3] > 0) return c.slice(0, 3); }
            return [255, 255, 255]; };
          let worst = 99;
          for (const e of document.querySelectorAll('h1,h2,h3,p,li,dt,dd,th,td,caption,figcaption,a')) {
            const ink = light(parse(getComputedStyle(e).color).slice(0, 3)), paper = light(ground(e));
            worst = Math.min(worst, (Math.max(ink, paper) + 0.05) / (Math.min(ink, paper) + 0.05)); }
          return worst; }"""
    )
    assert worst >= 4.5


def test_the_page_says_the_figures(open_book, book):
    page, _ = open_book(DESK)
    text = page.locator("body").inner_text()
    for field in book[1]["fields"]:
        for row in field["tools"]:
            assert f"{row['passes']:,}" in text
            assert f"{row['field_time_h']:.2f}" in text


def test_it_prints_with_every_chapter_on_a_page_of_its_own_and_no_row_cut(open_book, book):
    page, _ = open_book(DESK)
    pages = [each.extract_text() for each in PdfReader(io.BytesIO(page.pdf(format="Letter"))).pages]
    titles = [title.inner_text() for title in page.locator("h2").all()]
    begins = [next(at for at, text in enumerate(pages) if re.search(rf"^{re.escape(title)}\b", text, re.MULTILINE))
              for title in titles]  # fmt: skip
    assert len(set(begins)) == len(titles)
    assert begins == sorted(begins)
    for title, at in list(zip(titles, begins, strict=True))[1:]:  # the first stands below the name of the farm
        assert pages[at].lstrip().startswith(title)
    flat = [" ".join(text.split()) for text in pages]
    for row in (row for field in book[1]["fields"] for row in field["tools"]):
        # A row is whole where its cells stand one after the other on one page.
        cells = f"{row['width_ft']:.4g} {row['passes']:,} {row['turns']:,} {row['overlap_ac']:.2f}"
        assert any(cells in text for text in flat)
