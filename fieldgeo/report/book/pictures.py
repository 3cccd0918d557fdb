"""Pictures of a book as vector files in memory: SVG for the page, PDF for the printer."""

from __future__ import annotations

import io
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final
from urllib.parse import quote

from fieldgeo.report.sheet import drawing_style

if TYPE_CHECKING:
    from fieldgeo.report.book.model import Picture

# Hundredths of a point are finer than any printer; matplotlib writes six decimals. Only of points along paths: the
# factor that letters are scaled by needs all of its own.
_POINTS: Final = re.compile(r'(?<= d=")[^"]+')
_LONG_NUMBER: Final = re.compile(r"(\d+\.\d\d)\d+")
_METADATA: Final = re.compile(r"<metadata>.*?</metadata>\s*", re.DOTALL)
_DRAWN_SPACE: Final = re.compile(r"\s*\n\s*")
# What must be quoted in a data address that stands between double quotes of HTML; the rest may stay as it is.
_SAFE: Final = " !$&'()*+,-./:;=?@[]^_`{|}~<>"


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """A picture drawn."""

    svg: str
    pdf: bytes
    width: float  # [points]
    height: float  # [points]


def draw_picture(picture: Picture) -> Drawn:
    """Return a picture as SVG and as PDF, of the same size.

    Parameters
    ----------
    picture : Picture
        What to draw.
    """
    with drawing_style():
        figure: Any = picture.draw().figure
        width, height = (72 * inches for inches in figure.get_size_inches())
        page, sheet = io.StringIO(), io.BytesIO()
        figure.savefig(page, format="svg", metadata={"Date": None})
        figure.savefig(sheet, format="pdf", metadata={"CreationDate": None})
    return Drawn(svg=thin_svg(page.getvalue()), pdf=sheet.getvalue(), width=width, height=height)


def thin_svg(svg: str) -> str:
    """Return an SVG of matplotlib without what nobody sees: decimals below 0.01 points, metadata, line ends.

    Parameters
    ----------
    svg : str
        The file as it was written.
    """
    text = svg[svg.index("<svg") :]
    text = _METADATA.sub("", text)
    text = _POINTS.sub(lambda points: _LONG_NUMBER.sub(r"\1", points.group()), text)
    return _DRAWN_SPACE.sub(" ", text)


def data_address(svg: str) -> str:
    """Return an address that holds an SVG itself, for the src of an image: shown alone, without scripts or network.

    Parameters
    ----------
    svg : str
        The picture.
    """
    return "data:image/svg+xml," + quote(svg.replace('"', "'"), safe=_SAFE)
