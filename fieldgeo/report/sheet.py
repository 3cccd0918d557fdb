"""The sheet a map is drawn on: palette, size, scale bar, north arrow, and text that no name can upset.

Lengths on the sheet are in points (1/72 inch), those on the ground in metres.
"""

from __future__ import annotations

from contextlib import contextmanager
from contextvars import ContextVar
from functools import cache
from math import floor, log10
from pathlib import Path as FilePath
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np
import shapely

from fieldgeo.errors import InputError
from fieldgeo.export import palette
from fieldgeo.export.files import PathLike, whole_file
from fieldgeo.units import FOOT_M

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from matplotlib.axes import Axes
    from matplotlib.path import Path

# Each has one meaning on every picture.
OUTLINE: Final = palette.OUTLINE
GROUND: Final = palette.GROUND
HOLE: Final = palette.HOLE
HEADLAND: Final = palette.HEADLAND
PASS: Final = palette.PASS
TURN: Final = palette.TURN
OVERLAP: Final = palette.OVERLAP
SKIP: Final = palette.SKIP
DIFFER: Final = palette.DIFFER
RIDGE: Final = palette.RIDGE
STOP: Final = palette.STOP

FONT: Final = "DejaVu Sans"  # comes with matplotlib, so that a picture is the same on every machine
_STYLE: Final[Any] = {
    "font.family": FONT,
    "text.usetex": False,
    "hatch.linewidth": 0.6,
    "svg.fonttype": "path",
    "svg.hashsalt": "fieldgeo",
}

_DOTS_PER_INCH: Final = 1600 / 5.5  # a picture of 1600 dots across
_FORMATS: Final[dict[str, dict[str, Any]]] = {
    # Without dates, the same picture gives the same file.
    ".svg": {"metadata": {"Date": None}},
    ".png": {"dpi": _DOTS_PER_INCH},
    ".pdf": {"metadata": {"CreationDate": None}},
}

# Sizes in points. The page is small and the type large, so that it can be read on a telephone.
_PAGE_WIDTH: Final = 396.0
_MARGIN: Final = 12.0
_LEAST_MAP_HEIGHT: Final = 130.0
_MOST_MAP_HEIGHT: Final = 430.0
_size: ContextVar[tuple[float, float]] = ContextVar("_size", default=(_PAGE_WIDTH, _MOST_MAP_HEIGHT))
_BAND: Final = 46.0  # below the field, for scale bar and north arrow
_ROOM: Final = 5.0  # round the field
_TITLE: Final = 14.0
_SUBTITLE: Final = 8.5
_LEGEND: Final = 8.0
_LINE: Final = 1.35  # line height / type size
_MOST_NAME: Final = 46  # letters of a title
_BAR_SHARE: Final = 0.3  # of the width of the map that the scale bar may take


class Sheet(NamedTuple):
    """An axes whose ground fits its size, with room for scale bar and north arrow below."""

    axes: Axes
    metres_per_point: float
    low_xy: tuple[float, float]  # lower left corner of the axes [m]
    high_xy: tuple[float, float]  # upper right corner [m]


@contextmanager
def drawing_style() -> Iterator[None]:
    """Draw in our own style, whatever the user's settings are."""
    import matplotlib

    with matplotlib.rc_context(_STYLE):
        yield


@contextmanager
def sheet_size(*, width: float, most_map_height: float) -> Iterator[None]:
    """Draw figures of another size, with letters as large as ever.

    Parameters
    ----------
    width : float
        Width of the figure. [points]
    most_map_height : float
        The most that the ground itself may take of its height. [points]
    """
    before = _size.set((width, most_map_height))
    try:
        yield
    finally:
        _size.reset(before)


def save_sheet(draw: Callable[[], Axes], path: PathLike, *, force: bool) -> None:
    """Save a picture, whole or not at all.

    Parameters
    ----------
    draw : callable
        Draws it on a figure of its own.
    path : str or path
        ``.svg``, ``.png`` or ``.pdf``.
    force : bool
        Whether an existing file may be replaced.

    Raises
    ------
    InputError
        If the suffix is of another format.
    FileError
        If the file exists and `force` is not set, or it cannot be written.
    """
    suffix = FilePath(path).suffix
    if suffix.lower() not in _FORMATS:
        raise InputError(
            f"{path}: the suffix {suffix!r} tells no picture that can be drawn. "
            f"Give a name that ends in {', '.join(_FORMATS)}."
        )
    with whole_file(path, force=force) as temporary, drawing_style():
        figure: Any = draw().figure  # a whole figure, not a part of one: it was made here
        figure.savefig(temporary, format=suffix.lower()[1:], **_FORMATS[suffix.lower()])


def new_sheet(
    bounds: tuple[float, float, float, float], *, axes: Axes | None, title_lines: int, legend_rows: int
) -> Sheet:
    """Return a sheet for ground within bounds, on given axes or on a figure of its own.

    Parameters
    ----------
    bounds : tuple of float
        ``x_low, y_low, x_high, y_high`` of all that is drawn. [m]
    axes : Axes or None
        Axes to draw on; None makes a figure without any window.
    title_lines, legend_rows : int
        Lines below the name, and rows of the legend, to leave room for. [-]
    """
    width_m, height_m = max(bounds[2] - bounds[0], 1e-3), max(bounds[3] - bounds[1], 1e-3)
    if axes is None:
        axes = _new_axes(height_m / width_m, title_lines, legend_rows)
    size, dots_per_point = axes.get_window_extent(), axes.figure.dpi / 72
    width, height = size.width / dots_per_point, size.height / dots_per_point
    # Axes too small for the band still get a picture.
    room_across, room_up = max(width - 2 * _ROOM, 10.0), max(height - 2 * _ROOM - _BAND, 10.0)
    scale = max(width_m / room_across, height_m / room_up)
    middle_x, middle_y = (bounds[0] + bounds[2]) / 2, (bounds[1] + bounds[3]) / 2 - scale * _BAND / 2
    low = (middle_x - scale * width / 2, middle_y - scale * height / 2)
    high = (middle_x + scale * width / 2, middle_y + scale * height / 2)
    axes.set_xlim(low[0], high[0])
    axes.set_ylim(low[1], high[1])
    axes.set_aspect("equal")
    axes.set_axis_off()
    return Sheet(axes, scale, low, high)


def _new_axes(aspect: float, title_lines: int, legend_rows: int) -> Axes:
    from matplotlib.figure import Figure

    page_width, most_map_height = _size.get()
    width = page_width - 2 * _MARGIN
    map_height = min(max(width * aspect, _LEAST_MAP_HEIGHT), most_map_height) + _BAND + 2 * _ROOM
    above = _MARGIN + _LINE * (_TITLE + title_lines * _SUBTITLE)
    below = _MARGIN + _LINE * _LEGEND * legend_rows * 1.15
    page = above + map_height + below
    figure = Figure(figsize=(page_width / 72, page / 72), facecolor="white")
    return figure.add_axes((_MARGIN / page_width, below / page, width / page_width, map_height / page))


def shape_path(shape: shapely.Polygon | shapely.MultiPolygon) -> Path:
    """Return polygons with their holes as one path to fill."""
    from matplotlib.path import Path

    rings = [
        shapely.get_coordinates(ring)
        for part in shapely.get_parts(shapely.orient_polygons(shape)).tolist()
        for ring in (part.exterior, *part.interiors)
    ]
    if not rings:
        return Path(np.empty((0, 2)))
    codes = [
        np.array([Path.MOVETO, *[Path.LINETO] * (len(ring) - 2), Path.CLOSEPOLY], dtype=np.uint8) for ring in rings
    ]
    return Path(np.concatenate(rings), np.concatenate(codes))


def hatched(hatch: str, colour: str) -> dict[str, Any]:
    """Return the look of hatched ground: no edge, which would make a sliver look like ground."""
    from matplotlib.colors import to_rgb

    # Mixed with white, not see-through: an SVG shows the hatch through the same pane as the ground, and it drowns.
    light = tuple(0.3 * part + 0.7 for part in to_rgb(colour))
    return {"facecolor": light, "edgecolor": colour, "hatch": hatch, "linewidth": 0.0}


def draw_furniture(sheet: Sheet, name: str, lines: Sequence[str], handles: Sequence[Any], columns: int) -> None:
    """Write the title and the legend, and draw scale bar and north arrow."""
    draw_title(sheet, name, lines)
    draw_scale_bar(sheet)
    draw_north_arrow(sheet)
    draw_legend(sheet, handles, columns)


def draw_title(sheet: Sheet, name: str, lines: Sequence[str]) -> None:
    """Write a name and the lines under it above the map."""
    write_title(sheet.axes, name, lines)


def write_title(axes: Axes, name: str, lines: Sequence[str]) -> None:
    """Write a name and the lines under it above axes of any kind."""
    above = len(lines) * _SUBTITLE * _LINE
    for text, size, weight, up in (
        (short_text(name, _MOST_NAME), _TITLE, "bold", above),
        *((line, _SUBTITLE, "normal", above - (row + 1) * _SUBTITLE * _LINE) for row, line in enumerate(lines)),
    ):
        axes.annotate(
            text, (0, 1), xycoords="axes fraction", xytext=(0, up + 3), textcoords="offset points",
            va="bottom", fontsize=size, fontweight=weight, parse_math=False, annotation_clip=False,
        )  # fmt: skip


def draw_legend(sheet: Sheet, handles: Sequence[Any], columns: int) -> None:
    """Explain what is drawn, below the map."""
    sheet.axes.legend(
        handles=handles, loc="upper left", bbox_to_anchor=(0, 0), borderaxespad=0, borderpad=0, ncols=columns,
        frameon=False, fontsize=_LEGEND, handlelength=2.6, handleheight=1.1, columnspacing=1.4, labelspacing=0.35,
    )  # fmt: skip


def draw_scale_bar(sheet: Sheet) -> None:
    """Draw a bar with feet above and metres below, lower left."""
    most_m = (sheet.high_xy[0] - sheet.low_xy[0]) * _BAR_SHARE
    step = sheet.metres_per_point
    left, base = sheet.low_xy[0] + _ROOM * step, sheet.low_xy[1] + 22 * step
    line: dict[str, Any] = {"color": OUTLINE, "linewidth": 1.0, "solid_capstyle": "butt"}
    ends = []
    for unit_m, unit, side in ((FOOT_M, "ft", 1), (1.0, "m", -1)):
        length = round_length(most_m / unit_m)
        end = left + length * unit_m
        ends.append(end)
        for at in (left, end):
            sheet.axes.plot([at, at], [base, base + side * 5 * step], **line)
        sheet.axes.text(
            end, base + side * 7 * step, f"{length:,.6g} {unit}", fontsize=7.5, ha="center",
            va="bottom" if side > 0 else "top",
        )  # fmt: skip
    sheet.axes.text(left, base + 7 * step, "0", fontsize=7.5, ha="center", va="bottom")
    sheet.axes.plot([left, max(ends)], [base, base], **(line | {"linewidth": 1.4}))


def draw_north_arrow(sheet: Sheet) -> None:
    """Draw an arrow that points north, lower right; north is up."""
    from matplotlib.patches import Polygon

    step = sheet.metres_per_point
    middle, base = sheet.high_xy[0] - 12 * step, sheet.low_xy[1] + 5 * step
    tip, notch = (middle, base + 24 * step), (middle, base + 6 * step)
    for side, fill in ((-1, OUTLINE), (1, "white")):
        half = [tip, notch, (middle + side * 7 * step, base)]
        sheet.axes.add_patch(Polygon(half, closed=True, facecolor=fill, edgecolor=OUTLINE, linewidth=0.8))
    sheet.axes.text(middle, base + 25 * step, "N", fontsize=9, fontweight="bold", ha="center", va="bottom")


def round_length(most: float) -> float:
    """Return the greatest of 1, 2 and 5 times a power of ten that is not above a length, > 0.

    Examples
    --------
    >>> round_length(730), round_length(0.21)
    (500.0, 0.2)
    """
    power = 10.0 ** floor(log10(most))
    return float(max(step * power for step in (1, 2, 5) if step * power <= most * (1 + 1e-9)))


def short_text(text: str, most: int) -> str:
    r"""Return a text in one line of at most so many letters, with a box for what the font cannot show.

    Examples
    --------
    >>> short_text("Home\n forty", 40), short_text("x" * 9, 5)
    ('Home forty', 'xxxx…')
    """
    shown = "".join(letter if letter.isprintable() else " " for letter in text)
    shown = " ".join(shown.split())
    shown = "".join(letter if _is_in_font(letter) else "□" for letter in shown)
    return shown if len(shown) <= most else shown[: most - 1] + "…"


def _is_in_font(letter: str) -> bool:
    return all(font.get_char_index(ord(letter)) for font in _fonts())


@cache
def _fonts() -> tuple[Any, ...]:
    from matplotlib.font_manager import FontProperties, findfont, get_font

    return tuple(get_font(findfont(FontProperties(family=FONT, weight=weight))) for weight in ("normal", "bold"))
