"""A book as one HTML file: no network, no scripts; for a screen of any width, and for the printer."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from fieldgeo.report.book.model import Book, Facts, Heading, Picture, Points, Table, Text
from fieldgeo.report.book.pictures import data_address

if TYPE_CHECKING:
    from collections.abc import Mapping

    from fieldgeo.report.book.pictures import Drawn

_KINDS: Final = {Heading: "heading", Text: "text", Points: "points", Facts: "facts", Table: "table", Picture: "picture"}
_POLICY: Final = "default-src 'none'; img-src data:; style-src 'unsafe-inline'"

_PAGE: Final = """<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="only light">
<meta http-equiv="Content-Security-Policy" content="{{ policy }}">
<title>{{ book.title }}</title>
<style>{{ style | safe }}</style>
</head>
<body>
<a class="skip" href="#first">To the first page</a>
<header>
<h1>{{ book.title }}</h1>
<p class="below">{{ book.below }}</p>
<nav id="contents" aria-label="Contents"><ol>
{% for chapter in book.chapters %}<li><a href="#chapter-{{ loop.index }}">{{ chapter.title }}</a></li>
{% endfor %}</ol></nav>
</header>
<main id="first">
{% for chapter in book.chapters %}
<section id="chapter-{{ loop.index }}" aria-labelledby="title-{{ loop.index }}">
<h2 id="title-{{ loop.index }}">{{ chapter.title }}</h2>
{% if chapter.below %}<p class="below">{{ chapter.below }}</p>{% endif %}
{% for block in chapter.blocks %}
{% set kind = kinds[block.__class__] %}
{% if kind == "heading" %}<h3>{{ block.text }}</h3>
{% elif kind == "text" %}<p>{{ block.text }}</p>
{% elif kind == "points" %}<ul{% if block.are_cautions %} class="cautions"{% endif %}>
{% for item in block["items"] %}<li>{{ item }}</li>
{% endfor %}</ul>
{% elif kind == "facts" %}<dl>
{% for label, value in block.rows %}<div><dt>{{ label }}</dt><dd>{{ value }}</dd></div>
{% endfor %}</dl>
{% elif kind == "table" %}<div class="wide" role="region" tabindex="0" aria-label="{{ block.caption }}"><table>
<caption><span>{{ block.caption }}</span></caption>
<thead><tr>{% for cell in block.head %}<th scope="col"{% if loop.index0 >= block.left %} class="figure"{% endif %}>
{{- cell }}</th>{% endfor %}</tr></thead>
<tbody>
{% for row in block.rows %}<tr>{{ cells(row, block.left) }}</tr>
{% endfor %}</tbody>
{% if block.total %}<tfoot><tr>{{ cells(block.total, block.left) }}</tr></tfoot>
{% endif %}</table></div>
{% else %}<figure{% if block.is_map %} class="map"{% endif %}>
<img alt="{{ block.says }}" src="{{ address(block) }}" width="{{ width(block) }}" height="{{ height(block) }}">
{% if block.caption %}<figcaption>{{ block.caption }}</figcaption>{% endif %}
</figure>
{% endif %}
{% endfor %}
<p class="back"><a href="#contents">Contents</a></p>
</section>
{% endfor %}
</main>
</body>
</html>
"""
_CELLS: Final = """{% macro cells(row, left) %}{% for cell in row %}
{%- if loop.first %}<th scope="row">{{ cell }}</th>
{%- else %}<td{% if loop.index0 >= left %} class="figure"{% endif %}>{{ cell }}</td>{% endif %}
{%- endfor %}{% endmacro %}"""

# Ink on paper: black serif text, thin rules, one accent that is the colour of the outline itself. The maps are drawn on
# white, so the page stays white where a phone asks for dark colours.
_STYLE: Final = """
:root { color-scheme: only light; color: #1a1a1a; background: #fff;
  font: 17px/1.5 Georgia, "DejaVu Serif", "Times New Roman", serif; }
body { margin: 0 auto; max-width: 46rem; padding: 1.2rem 1rem 4rem; overflow-wrap: anywhere; }
h1 { font-size: 2rem; line-height: 1.15; margin: 1.2rem 0 .3rem; }
h2 { font-size: 1.5rem; line-height: 1.2; margin: 0 0 .2rem; padding-top: .7rem; border-top: 3px double #1a1a1a; }
h3 { font-size: 1.08rem; margin: 1.5rem 0 .4rem; }
p { margin: .5rem 0; }
.below { color: #4d4d4d; font-style: italic; margin-top: 0; }
section { margin-top: 3rem; }
nav ol { columns: 15rem; padding-left: 1.6rem; margin: 1rem 0; }
nav li { margin: .15rem 0; break-inside: avoid; }
a { color: #00507a; }
a:focus-visible, .wide:focus-visible { outline: 3px solid #00507a; outline-offset: 2px; }
.skip { position: absolute; left: -99rem; }
.skip:focus { left: 1rem; background: #fff; padding: .4rem; }
dl { margin: .6rem 0; }
dl div { display: flex; gap: 1rem; padding: .22rem 0; border-bottom: 1px solid #d8d4c8; }
dt { flex: 0 0 11.5rem; color: #4d4d4d; }
dd { margin: 0; }
.wide { overflow-x: auto; margin: .8rem 0; }
table { border-collapse: collapse; width: 100%; font-size: .88rem; line-height: 1.35;
  font-variant-numeric: lining-nums tabular-nums; }
caption { text-align: left; font-weight: bold; padding: .3rem 0; }
caption span { display: block; position: sticky; left: 0; max-width: calc(100vw - 2rem); }
tbody th, tfoot th { position: sticky; left: 0; background: #fff; }
thead th { overflow-wrap: normal; }
th, td { text-align: left; vertical-align: top; padding: .22rem .6rem .22rem 0; font-weight: normal; }
th.figure, td.figure { text-align: right; padding: .22rem 0 .22rem .6rem; }
td.figure { white-space: nowrap; }
thead th { border-bottom: 1.5px solid #1a1a1a; vertical-align: bottom; font-style: italic; }
tbody tr + tr > * { border-top: 1px solid #e4e0d4; }
tfoot > tr > * { border-top: 1.5px solid #1a1a1a; font-weight: bold; }
figure { margin: 1rem 0; }
img { max-width: 100%; height: auto; display: block; }
figure.map img { width: 100%; max-width: 34rem; margin: 0 auto; }
.back { text-align: right; }
figcaption { color: #4d4d4d; font-style: italic; font-size: .92rem; margin-top: .3rem; }
ul { padding-left: 1.3rem; margin: .5rem 0; }
.cautions { list-style: none; padding: .5rem .9rem; border-left: 5px solid #1a1a1a; background: #f6f4ec; }
.cautions li { margin: .25rem 0; }
@media (max-width: 34rem) {
  :root { font-size: 16px; }
  dl div { display: block; }
  dt { font-size: .9rem; }
  th[scope="row"] { min-width: 8rem; padding-right: .4rem; }
}
@media print {
  @page { margin: 16mm 15mm; }
  :root { font-size: 10.5pt; }
  body { max-width: none; padding: 0; }
  nav, .skip, .back { display: none; }
  section { break-before: page; margin: 0; }
  h2, h3, caption, thead { break-after: avoid; }
  tr, figure, dl div, li { break-inside: avoid; }
  .wide { overflow: visible; }
  table { font-size: 7.6pt; }
  td.figure { white-space: normal; }
  figure.map img { max-height: 105mm; width: auto; }
  thead { display: table-header-group; }
  tfoot { display: table-row-group; }
}
"""


def book_html(book: Book, drawn: Mapping[int, Drawn]) -> str:
    """Return a book as one HTML document that needs nothing beside it.

    Parameters
    ----------
    book : Book
        What it says. Every text is escaped.
    drawn : mapping of int to Drawn
        Its pictures, by the `id` of each `Picture`.
    """
    from jinja2 import BaseLoader, Environment

    env = Environment(loader=BaseLoader(), autoescape=True, trim_blocks=True, lstrip_blocks=True)
    cells: Any = env.from_string(_CELLS).module
    values = {
        "book": book, "kinds": _KINDS, "style": _STYLE, "policy": _POLICY, "cells": cells.cells,
        "address": lambda picture: data_address(drawn[id(picture)].svg),
        "width": lambda picture: round(drawn[id(picture)].width),
        "height": lambda picture: round(drawn[id(picture)].height),
    }  # fmt: skip
    return env.from_string(_PAGE).render(values)
