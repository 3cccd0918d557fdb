"""Pictures of a book as vector files in memory: SVG for the page, PDF for the printer."""

from __future__ import annotations

import io
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final
from urllib.parse import quote

import numpy as np
import shapely

from fieldgeo.report.sheet import drawing_style

if TYPE_CHECKING:
    from fieldgeo.report.book.model import Picture

# Of a point; finer than any printer. Only points along paths are thinned: the factor that letters are scaled by needs
# all of its decimals.
_TOLERANCE: Final = 0.04
_DECIMALS: Final = 2
_POINTS: Final = re.compile(r'(?<= d=")[^"]+')
_STRAIGHT: Final = re.compile(r"[MLz\d\s.+-]+")  # a path without a curve
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
    """Return an SVG of matplotlib without what nobody sees: points of lines that are straight to 0.04 points, metadata.

    Parameters
    ----------
    svg : str
        The file as it was written.
    """
    text = svg[svg.index("<svg") :]
    text = _METADATA.sub("", text)
    text = _POINTS.sub(lambda points: _thin_path(points.group()), text)
    return _DRAWN_SPACE.sub(" ", text)


def _thin_path(path: str) -> str:
    """Return the points of a path with what is straight left out, and few decimals."""
    if not _STRAIGHT.fullmatch(path):
        return _LONG_NUMBER.sub(r"\1", path)
    pieces = []
    for piece in path.split("M")[1:]:
        numbers = np.array(re.findall(r"-?[\d.]+", piece), dtype=float).reshape(-1, 2)
        if len(numbers) > 2:
            numbers = shapely.get_coordinates(shapely.simplify(shapely.LineString(numbers), _TOLERANCE))
        drawn = " ".join(f"{x:.{_DECIMALS}f} {y:.{_DECIMALS}f}" for x, y in numbers.tolist())
        pieces.append(f"M{drawn}{'z' if 'z' in piece else ''}")
    return "".join(pieces)


def data_address(svg: str) -> str:
    """Return an address that holds an SVG itself, for the src of an image: shown alone, without scripts or network.

    Parameters
    ----------
    svg : str
        The picture.
    """
    return "data:image/svg+xml," + quote(svg.replace('"', "'"), safe=_SAFE)
