"""`read_deed`: from the words of a deed to an outline, with how it closes and how sure its area is.

The file is plain text: the deed as it is written ("Beginning at a stone; thence N 45°30'15" E 330.00 feet to an iron
pin; thence ... to the point of beginning, containing 40 acres, more or less"), or a bare list with one call to a line.
A few lines of the form ``key: value`` may stand at its top, see `header`; the rules given by the caller go before them.

Lengths of a deed are taken as horizontal distances on the ground, and laid into a plane that is true to areas on the
ellipsoid. At 300 m above the sea the ground has 0.009 % more area; nothing is mended for that.

Closure, common practice, no source: better than 1:5,000 passes; down to 1:1,000 it is told; worse is refused unless the
rules allow any closure. A blunder that is suspected is never adjusted away: the figure is then the raw one.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

from fieldgeo.errors import FileError, InputError, OutlineError
from fieldgeo.frame import LONLAT
from fieldgeo.outline.deed.blunders import bearing_text, calls_along_gap, missing_call
from fieldgeo.outline.deed.calls import read_calls
from fieldgeo.outline.deed.closure import POOR_PRECISION
from fieldgeo.outline.deed.courses import LaidCall, lay_calls, lengths_m
from fieldgeo.outline.deed.figure import Figure, crossing_calls, draw_figure, is_poor
from fieldgeo.outline.deed.header import Header, split_header
from fieldgeo.outline.deed.place import place_figure
from fieldgeo.outline.deed.units import plain_unit, unit_m
from fieldgeo.outline.deed.values import LengthRules
from fieldgeo.outline.deed.weak import weak_points
from fieldgeo.outline.evidence import Evidence
from fieldgeo.outline.field import Change
from fieldgeo.outline.files.geojson import plain_name
from fieldgeo.outline.raw import RawPart, Reading

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from fieldgeo.outline.rules import DeedRules

MOST_BYTES: Final = 256_000  # of a deed file: a hundred pages
MOST_AROUND_M: Final = 200_000.0  # far more than round the widest field that is read
_MOST_FAULTS: Final = 50  # that a message lists
_MEND: Final = "Mend the lines told of and read it again."


def read_deed(path: Path, rules: DeedRules) -> Reading:
    """Return the outline that a deed describes.

    Parameters
    ----------
    path : Path
        Text file of the deed.
    rules : DeedRules
        How its calls are read and laid down; they go before what the file itself says.

    Returns
    -------
    Reading
        With a `DeedReport` as its evidence. Without a known corner its place is made up.

    Raises
    ------
    FileError
        If the file is missing or cannot be read.
    OutlineError
        If calls cannot be read or laid down (all of them are listed), the calls cross each other, or they close worse
        than 1:1,000 and the rules do not allow any closure.
    """
    return read_deed_text(_read_text(path), rules, source=str(path), stem=path.stem)


def read_deed_text(text: str, rules: DeedRules, *, source: str = "the deed", stem: str = "deed") -> Reading:
    """Return the outline that the words of a deed describe.

    Parameters
    ----------
    text : str
        The whole file.
    rules : DeedRules
        As for `read_deed`.
    source : str
        What messages call it.
    stem : str
        Name of the field where the text gives none.

    Raises
    ------
    OutlineError
        As `read_deed`.
    """
    header, body = split_header(text)
    faults = list(header.faults)
    lengths = _length_rules(header, rules, faults)
    read = read_calls(body, lengths)
    laid = lay_calls(read.calls)
    faults.extend([*read.faults, *laid.faults])
    if not faults:
        faults.extend(_size_faults(laid.calls))
    if faults:
        raise _refusal(source, faults, read.notes)
    figure = draw_figure(
        laid.calls,
        is_adjusted=rules.is_adjusted and header.is_adjusted is not False,
        stated=read.stated,
        vara_m=lengths.vara_m,
    )
    _check_closure(source, laid.calls, figure, read.notes, is_any_closure=rules.is_any_closure)
    _check_crossings(source, figure)
    rotation_deg = header.rotation_deg if rules.rotation_deg is None else rules.rotation_deg
    known = rules.corners or header.corners
    placed = place_figure(figure.ring_m, figure.corners_m, known, rotation_deg)
    corners = place_figure(figure.corners_m, figure.corners_m, known, rotation_deg).lonlat_deg.tolist()
    evidence = Evidence(
        kind="deed",
        weak_points=weak_points(laid.calls, figure, placed, north=header.north, has_rotation=rotation_deg is not None),
        area_uncertainty_m2=figure.area_uncertainty_m2,
        uncertainty_from=figure.uncertainty_from,
        report=replace(figure.report, corners_lonlat=tuple((lon_deg, lat_deg) for lon_deg, lat_deg in corners)),
        is_placed=placed.is_placed,
    )
    return Reading(
        name=header.name or plain_name(stem),
        parts=(RawPart(where="", rings=(placed.lonlat_deg,)),),
        source_crs=LONLAT,
        evidence=evidence,
        changes=_changes(laid.calls, figure),
        problems=(*read.notes, *laid.notes, *_closure_notes(laid.calls, figure), *placed.notes),
    )


def _read_text(path: Path) -> str:
    try:
        with path.open("rb") as file:
            data = file.read(MOST_BYTES + 1)
    except OSError as error:
        raise FileError(f"{path}: cannot be read ({error.strerror or error}). Check its name and place.") from error
    if len(data) > MOST_BYTES:
        raise OutlineError(
            f"{path}: has more than {MOST_BYTES // 1000} kB; a deed is a few pages of plain text. Give the calls alone."
        )
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return data.decode("utf-16", errors="replace")
    if b"\0" in data:
        raise OutlineError(f"{path}: is no plain text. Save the deed as a text file.")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("cp1252", errors="replace")  # the code page of old word processors: degree signs and quotes


def _length_rules(header: Header, rules: DeedRules, faults: list[str]) -> LengthRules:
    vara_m = header.vara_m if rules.vara_m is None else rules.vara_m
    if vara_m is not None and not 0.5 < vara_m < 1.2:
        faults.append(f"the vara is given as {vara_m:g} m; it is about 33 inches (0.84 m)")
        vara_m = None
    unit = plain_unit(rules.unit) if rules.unit is not None else header.unit
    if unit is not None:
        try:
            unit_m(unit, vara_m)
        except InputError as error:
            faults.append(f"unit of distances without one: {error}")
            unit = "feet"  # so that the calls are looked through all the same
    return LengthRules(unit=unit, vara_m=vara_m)


def _size_faults(calls: Sequence[LaidCall]) -> Iterator[str]:
    if len(calls) < 3 and not (len(calls) == 2 and any(one.curve for one in calls)):
        count = "1 call" if len(calls) == 1 else f"{len(calls)} calls"
        yield f"it has {count}; an outline needs three, or two with a curve"
    around_m = float(lengths_m(calls).sum())
    if around_m > MOST_AROUND_M:
        rule = f"{MOST_AROUND_M / 1000:g} km is the most for one field"
        yield f"its calls are {around_m / 1000:,.0f} km long together; {rule}: check the unit"


def _refusal(source: str, faults: Sequence[str], notes: Sequence[str]) -> OutlineError:
    count = "1 fault" if len(faults) == 1 else f"{len(faults)} faults"
    more = len(faults) - _MOST_FAULTS
    told = [*faults[:_MOST_FAULTS], *([f"and {more} more faults"] if more > 0 else [])]
    return OutlineError(
        f"{source} cannot be used as a deed: {count}. {_MEND}", [*told, *(f"seen beside: {note}" for note in notes)]
    )


def _check_closure(
    source: str, laid: Sequence[LaidCall], figure: Figure, notes: Sequence[str], *, is_any_closure: bool
) -> None:
    if figure.is_closing_computed or is_any_closure or not is_poor(figure, POOR_PRECISION):
        return
    report = figure.report
    clues = [f"call {suspect.number} looks wrong: {suspect.change}" for suspect in report.suspects]
    if not clues:
        clues.extend(_hints(laid, figure))
    raise OutlineError(
        f"{source}: the calls {closure_text(figure)}; worse than 1:{POOR_PRECISION:,.0f} is not gone on with unasked. "
        "Compare the calls with the deed, or go on all the same with --any-closure.",
        [*clues, *(f"seen beside: {note}" for note in notes)],
    )


def _hints(laid: Sequence[LaidCall], figure: Figure) -> list[str]:
    """Return where to look when no single change closes the figure."""
    along = [str(number) for number in calls_along_gap(laid, figure.closed)]
    calls = f"call{'s' if len(along) > 1 else ''} {' and '.join(along)}"
    first = [f"the gap runs along {calls}: look at that length first"] if along else []
    return [*first, missing_call(laid, figure.closed)]


def _check_crossings(source: str, figure: Figure) -> None:
    pairs = crossing_calls(figure)
    if not pairs:
        return
    told = [
        f"call {one} crosses call {other}" if one != other else f"call {one} crosses itself" for one, other in pairs
    ]
    raise OutlineError(
        f"{source}: the calls cross each other, so they go round no one piece of ground. Compare these calls with the "
        "deed; calls that lead to the land, and are no side of it, must be taken out.",
        told,
    )


def closure_text(figure: Figure) -> str:
    """Return in words how the calls close.

    Parameters
    ----------
    figure : Figure
        The figure.
    """
    closed = figure.closed
    if figure.is_closing_computed:
        return "cannot be checked: the last one gives no length"
    if closed.precision is None:
        return "close exactly"
    azimuth = bearing_text(closed.azimuth_deg or 0.0)
    return f"close 1:{closed.precision:,.0f}, off by {closed.misclosure_m:.2f} m {azimuth}"


def _changes(laid: Sequence[LaidCall], figure: Figure) -> tuple[Change, ...]:
    report, closed = figure.report, figure.closed
    if closed.is_exact or figure.is_closing_computed:
        return ()
    if report.is_adjusted:
        what = f"misclosure of {closed.misclosure_m:.3f} m spread over {len(laid)} calls by the compass rule"
        return (Change(what=what, area_change_m2=report.area_adjusted_m2 - report.area_raw_m2),)
    what = (
        f"last call drawn straight to the beginning, {closed.misclosure_m:.3f} m from where it ends; nothing adjusted"
    )
    return (Change(what=what, area_change_m2=0.0),)


def _closure_notes(laid: Sequence[LaidCall], figure: Figure) -> list[str]:
    """Return what is to be told of how the calls close, beside the figures of the report."""
    report = figure.report
    if figure.is_closing_computed or not is_poor(figure):
        return []
    notes = [
        f"call {one.number} looks wrong: {one.change} (closes to {one.misclosure_m:.2f} m)" for one in report.suspects
    ]
    if not report.suspects and is_poor(figure, POOR_PRECISION):
        notes.extend(_hints(laid, figure))
    last = laid[-1]
    notes.append(
        f"call {len(laid)}, which returns to the beginning, is written {last.course.length_m:.2f} m; from where it "
        f"begins straight to the beginning it is {bearing_text(report.closing_azimuth_deg)}, {report.closing_m:.2f} m"
    )
    return notes
