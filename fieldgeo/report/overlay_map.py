"""The picture of several sources of one field laid over each other: every outline, and the ground they differ on."""

from __future__ import annotations

from itertools import cycle
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np
import shapely

from fieldgeo.errors import InputError
from fieldgeo.layout.axes import ring_edges
from fieldgeo.layout.overlay import difference, intersection, union
from fieldgeo.report import sheet as paper
from fieldgeo.report.lines import area_text, length_text
from fieldgeo.units import to_acres

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes
    from numpy.typing import NDArray

    from fieldgeo.analysis.agree import Agreement, Pair, Source
    from fieldgeo.analysis.patch import Patch
    from fieldgeo.export.files import PathLike
    from fieldgeo.layout.axes import Floats
    from fieldgeo.report.sheet import Sheet

# Outlines are black; width and dashes tell them apart. A thin whole line lies lowest, so that each is still seen where
# outlines are the same, and none is so wide that it hides the ground between two of them.
_LINES: Final[tuple[dict[str, Any], ...]] = (
    {"linewidth": 0.6},
    {"linewidth": 1.1, "dashes": (6.0, 4.0)},
    {"linewidth": 1.5, "dashes": (1.0, 2.6)},
    {"linewidth": 1.0, "dashes": (10, 3, 1.6, 3)},
    {"linewidth": 1.8, "core": 0.8},
    {"linewidth": 1.0, "dashes": (1.6, 2, 1.6, 2, 1.6, 8)},
)
_DIFFER_STYLE: Final[dict[str, Any]] = {"hatch": r"\\\\\\", "colour": paper.DIFFER}
_COLUMNS: Final = 1  # of the legend: names are long
_MOST_NAME: Final = 40  # letters of a source in the legend
_LETTER_SIZE: Final = 9.0
_LETTER_OFF: Final = 8.0  # from the outline to the middle of its letter [points]
_LETTER_ROOM: Final = 60.0  # that letters keep from each other, if they can [points]
_LETTER_CLEAR: Final = 14.0  # from other outlines; more is no better [points]
_PLACES: Final = 120  # tried for each letter
_LABEL_OFF: Final = 46.0  # from the largest patch to its label [points]
_LABEL_HALF: Final = (62.0, 13.0)  # half the size of the label, across and up [points]


def save_overlay(agreement: Agreement, path: PathLike, *, force: bool = False) -> None:
    """Save the picture of several sources laid over each other, whole or not at all.

    Parameters
    ----------
    agreement : Agreement
        Several sources of one field.
    path : str or path
        ``.svg``, ``.png`` or ``.pdf``.
    force : bool
        Whether an existing file may be replaced.

    Raises
    ------
    InputError
        If the suffix is of another format, or no source has a place on Earth.
    FileError
        If the file exists and `force` is not set, or it cannot be written.
    """
    _check(agreement)
    paper.save_sheet(lambda: plot_overlay(agreement), path, force=force)


def plot_overlay(agreement: Agreement, *, ax: Axes | None = None) -> Axes:
    """Draw several sources laid over each other, north up. Nothing is shown or saved.

    Parameters
    ----------
    agreement : Agreement
        Several sources of one field.
    ax : Axes, optional
        Where to draw; without it on a figure of its own.

    Returns
    -------
    Axes
        In metres of the agreement's frame, with equal scales.

    Raises
    ------
    InputError
        If no source has a place on Earth.
    """
    _check(agreement)
    drawn = _drawn(agreement)
    differing = _differing(drawn)
    lines = _title_lines(agreement)
    with paper.drawing_style():
        handles = _handles(drawn, differing)
        bounds = shapely.total_bounds([outline.shape for outline in drawn])
        sheet = paper.new_sheet(tuple(bounds.tolist()), axes=ax, title_lines=len(lines), legend_rows=len(handles))
        _draw_ground(sheet, drawn, differing)
        _draw_outlines(sheet, drawn)
        labels: list[Floats] = []
        worst = agreement.worst
        if worst is not None and worst.overlay is not None and worst.overlay.largest is not None:
            labels.append(_draw_patch(sheet, worst, worst.overlay.largest))
        _draw_letters(sheet, drawn, labels)
        names = {source.name for source in agreement.sources}
        name = names.pop() if len(names) == 1 else "One field, several sources"
        paper.draw_furniture(sheet, name, lines, handles, _COLUMNS)
    return sheet.axes


class _Outline(NamedTuple):
    """A source as it is drawn."""

    source: Source
    shape: shapely.MultiPolygon
    style: dict[str, Any]


def _check(agreement: Agreement) -> None:
    if agreement.frame is None:
        raise InputError(
            "overlay picture: no source has a place on Earth. Place a deed by one corner and a rotation, or by two."
        )


def _drawn(agreement: Agreement) -> list[_Outline]:
    placed = [source for source in agreement.sources if source.shape is not None]
    return [
        _Outline(source, source.shape, style)
        for source, style in zip(placed, cycle(_LINES), strict=False)
        if source.shape is not None
    ]


def _differing(drawn: Sequence[_Outline]) -> shapely.MultiPolygon:
    """Return the ground that some sources have and others have not."""
    shared = drawn[0].shape
    for outline in drawn[1:]:
        shared = intersection(shared, outline.shape)
    return difference(union([outline.shape for outline in drawn]), shared)


def _title_lines(agreement: Agreement) -> list[str]:
    areas_m2 = [source.area_m2 for source in agreement.sources]
    low, high = min(areas_m2), max(areas_m2)
    lines = [f"{to_acres(low):,.2f} to {to_acres(high):,.2f} ac, {area_text(high - low)} apart"]
    unplaced = [source for source in agreement.sources if source.shape is None]
    if unplaced:
        told = ", ".join(f"{source.letter} {to_acres(source.area_m2):,.2f} ac" for source in unplaced[:4])
        more = ", ..." if len(unplaced) > 4 else ""
        lines.append(f"not drawn, without a place on Earth: {told}{more}")
    return lines


def _handles(drawn: Sequence[_Outline], differing: shapely.MultiPolygon) -> list[Any]:
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch as Box

    handles: list[Any] = [
        Line2D([], [], **_line_style(outline.style), label=_label(outline.source)) for outline in drawn
    ]
    if len(drawn) > 1:
        handles.append(Box(**paper.hatched(**_DIFFER_STYLE), label=f"not in all of them: {area_text(differing.area)}"))
    return handles


def _label(source: Source) -> str:
    unsure = source.area_uncertainty_m2
    area = f"{to_acres(source.area_m2):,.2f} ac" + ("" if unsure is None else f" ± {to_acres(unsure):,.2f}")
    kind = f", {source.kind}" if source.kind else ""
    # The name comes last: one in a script that runs from right to left would carry figures after it away.
    return f"{source.letter}  {area}{kind}: {paper.short_text(source.name, _MOST_NAME)}"


def _line_style(style: dict[str, Any]) -> dict[str, Any]:
    from matplotlib.patheffects import Normal, Stroke

    look: dict[str, Any] = {
        "color": paper.OUTLINE,
        "linewidth": style["linewidth"],
        "linestyle": (0, style["dashes"]) if "dashes" in style else "solid",
    }
    if "core" in style:
        look["path_effects"] = [Normal(), Stroke(linewidth=style["core"], foreground="white")]
    return look


def _draw_ground(sheet: Sheet, drawn: Sequence[_Outline], differing: shapely.MultiPolygon) -> None:
    from matplotlib.patches import PathPatch

    ground = union([outline.shape for outline in drawn])
    sheet.axes.add_patch(PathPatch(paper.shape_path(ground), facecolor=paper.GROUND, linewidth=0, zorder=1))
    if not differing.is_empty:
        sheet.axes.add_patch(PathPatch(paper.shape_path(differing), **paper.hatched(**_DIFFER_STYLE), zorder=2))


def _draw_outlines(sheet: Sheet, drawn: Sequence[_Outline]) -> None:
    for number, outline in enumerate(drawn):
        for ring in shapely.get_rings(shapely.get_parts(outline.shape)).tolist():
            x, y = shapely.get_coordinates(ring).T
            sheet.axes.plot(x, y, **_line_style(outline.style), solid_joinstyle="miter", zorder=3 + 0.1 * number)


def _draw_letters(sheet: Sheet, drawn: Sequence[_Outline], labels: Sequence[Floats]) -> None:
    """Write the letter of each outline beside it, where it runs by itself and no label nor other letter stands."""
    from matplotlib.patheffects import withStroke

    step = sheet.metres_per_point
    taken: list[Floats] = []
    for outline in drawn:
        others = shapely.MultiLineString(
            [
                shapely.get_coordinates(ring)
                for other in drawn
                if other is not outline
                for ring in shapely.get_rings(shapely.get_parts(other.shape)).tolist()
            ]
        )
        edge, letter = _letter_places(outline.shape, _LETTER_OFF * step)
        clear = np.minimum(shapely.distance(shapely.points(letter), others) / step, _LETTER_CLEAR) / _LETTER_CLEAR
        own = np.minimum(shapely.distance(shapely.points(edge), others) / step, _LETTER_CLEAR) / _LETTER_CLEAR
        if others.is_empty:
            clear = own = np.ones(len(letter))
        apart = np.min([np.hypot(*(letter - at).T) / step for at in taken] or [np.full(len(letter), np.inf)], axis=0)
        score = clear + own + np.minimum(apart / _LETTER_ROOM, 1.0) - 9.0 * _is_taken(sheet, letter, labels)
        best = int(np.argmax(score))
        taken.append(letter[best])
        x_m, y_m = letter[best].tolist()
        sheet.axes.text(
            x_m, y_m, outline.source.letter, fontsize=_LETTER_SIZE, fontweight="bold", ha="center", va="center",
            zorder=7, path_effects=[withStroke(linewidth=2.6, foreground="white")],
        )  # fmt: skip


def _is_taken(sheet: Sheet, places: Floats, labels: Sequence[Floats]) -> NDArray[np.bool_]:
    """Return which places for a letter run off the sheet or lie on a label or its arrow, shape (N,)."""
    step = sheet.metres_per_point
    half = _LETTER_SIZE / 2 * step
    is_taken = ((places < np.array(sheet.low_xy) + half) | (places > np.array(sheet.high_xy) - half)).any(axis=1)
    for arrow in labels:
        is_taken |= (np.abs(places - arrow[0]) < np.array(_LABEL_HALF) * step + half).all(axis=1)
        is_taken |= shapely.distance(shapely.points(places), shapely.linestrings(arrow)) < 2 * half
    return np.asarray(is_taken)


def _letter_places(shape: shapely.MultiPolygon, off_m: float) -> tuple[Floats, Floats]:
    """Return places along the edge of a shape, and beside each the places outside and inside of it."""
    edges = ring_edges(shape)
    steps = edges[:, 2:] - edges[:, :2]
    lengths = np.hypot(*steps.T)
    along = np.concatenate([[0.0], np.cumsum(lengths)])
    at = (np.arange(_PLACES) + 0.5) * along[-1] / _PLACES
    side = np.clip(np.searchsorted(along, at, side="right") - 1, 0, len(lengths) - 1)
    way = steps[side] / lengths[side, np.newaxis]
    places = edges[side, :2] + way * (at - along[side])[:, np.newaxis]
    outward = np.column_stack([way[:, 1], -way[:, 0]])  # the ground lies on the left
    return np.concatenate([places, places]), np.concatenate([places + off_m * outward, places - off_m * outward])


def _draw_patch(sheet: Sheet, pair: Pair, patch: Patch) -> Floats:
    """Point at the largest patch on which the pair that differs most differs; return its arrow, shape (2, 2)."""
    from matplotlib.patheffects import withStroke

    has, has_not = (pair.first, pair.second) if patch.is_in_first else (pair.second, pair.first)
    text = f"{has.letter}, not {has_not.letter}: {to_acres(patch.area_m2):,.2f} ac\n{length_text(patch.width_m)} wide"
    step = sheet.metres_per_point
    low = np.array(sheet.low_xy) + np.array(_LABEL_HALF) * step
    high = np.array(sheet.high_xy) - np.array(_LABEL_HALF) * step
    place = np.array([patch.x_m, patch.y_m])
    middle = (low + high) / 2
    way = middle - place
    length = float(np.hypot(*way))
    way = way / length if length > step else np.array([0.0, 1.0])
    at = np.clip(place + way * (_LABEL_OFF * step + patch.width_m / 2), low, high)
    sheet.axes.annotate(
        text, tuple(place.tolist()), xytext=tuple(at.tolist()), fontsize=7.5, ha="center", va="center", zorder=8,
        bbox={"boxstyle": "round,pad=0.3", "facecolor": "white", "edgecolor": paper.DIFFER, "linewidth": 0.8},
        arrowprops={
            "arrowstyle": "-|>,head_length=0.45,head_width=0.22", "color": paper.OUTLINE, "linewidth": 1.0,
            "shrinkA": 0, "shrinkB": 0, "path_effects": [withStroke(linewidth=2.4, foreground="white")],
        },
        annotation_clip=False,
    )  # fmt: skip
    return np.array([at, place])
