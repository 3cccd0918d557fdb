"""Several sources of one field as text: areas first, then each pair, then where each pair differs most."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from fieldgeo.report.lines import area_text, count_text, length_text, table, wrap

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from fieldgeo.analysis.figures import Figures

_KINDS: Final = {"file": "file", "walk": "GPS walk", "deed": "deed", "section": "section part", None: "not said"}
_MOST_NAME: Final = 30  # letters
_MOST_TOLD: Final = 3  # pairs whose largest piece is told; --json has all
_BEYOND: Final = {True: "yes", False: "no", None: "-"}
_SIDES: Final = {"inside": "inside the field", "several sides": "on several sides, widest"}


def agreement_lines(figures: Figures) -> Iterator[str]:
    """Yield the answer from `agreement_figures`."""
    sources = figures["sources"]
    apart = figures["most_area_m2"] - figures["least_area_m2"]
    yield (
        f"{count_text(len(sources), 'source')}: {figures['least_area_ac']:,.2f} to {figures['most_area_ac']:,.2f} ac, "
        f"{area_text(apart)} apart"
    )
    rows = [
        [
            source["letter"],
            _short(source["name"]),
            _KINDS[source["kind"]],
            f"{source['area_ac']:,.2f} ac",
            "not known" if source["area_uncertainty_ac"] is None else f"+/- {source['area_uncertainty_ac']:,.2f} ac",
        ]
        for source in sources
    ]
    yield from table(["", "source", "kind", "area", "95 % sure"], rows, left=3)
    yield from wrap(f"  {_verdict(figures['pairs'])}", indent=4)
    head = ["", "areas differ", "unsure by", "beyond", "only first", "only second", "edges apart"]
    yield from table(head, [_pair_row(pair) for pair in figures["pairs"]], left=1)
    for pair in _most_differing(figures["pairs"]):
        yield from wrap(f"  {_largest_text(pair)}", indent=4)
    if figures["worst"] is None:
        yield "  they cannot be laid over each other: fewer than two have a place on Earth"


def agreement_notes(figures: Figures) -> Iterator[str]:
    """Yield what a person should know beside the answer, from `agreement_figures`."""
    for note in figures["notes"]:
        yield from wrap(f"note: {note}", indent=2)
    yield from wrap(
        "note: edges apart: half of all places on the two edges are nearer to the other than the first figure, 95 of "
        "100 than the second.",
        indent=2,
    )
    yield from wrap("caution: which source is right only the ground can say.", indent=2)


def _verdict(pairs: Sequence[Figures]) -> str:
    """Return which areas differ by more than they are unsure, as a sentence."""
    known = [pair for pair in pairs if pair["is_beyond_uncertainty"] is not None]
    beyond = [f"{pair['first']} and {pair['second']}" for pair in known if pair["is_beyond_uncertainty"]]
    if not known:
        return "whether the areas differ by more than they are unsure is not known"
    of_known = "" if len(known) == len(pairs) else f", of {count_text(len(known), 'pair')} whose uncertainty is known"
    if not beyond:
        return f"no two areas differ by more than their uncertainties together{of_known}"
    return f"areas differ by more than their uncertainties together: {', '.join(beyond)}{of_known}"


def _most_differing(pairs: Sequence[Figures]) -> list[Figures]:
    """Return the pairs with most ground in one only."""
    laid = [pair for pair in pairs if pair["overlay"] is not None]
    return sorted(laid, key=lambda pair: -pair["overlay"]["differing_m2"])[:_MOST_TOLD]


def _pair_row(pair: Figures) -> list[str]:
    overlay = pair["overlay"]
    row = [
        f"{pair['first']} and {pair['second']}",
        f"{pair['area_difference_ac']:+,.2f} ac",
        "-" if pair["uncertainty_ac"] is None else f"{pair['uncertainty_ac']:,.2f} ac",
        _BEYOND[pair["is_beyond_uncertainty"]],
    ]
    if overlay is None:
        return [*row, "-", "-", "-"]
    return [
        *row,
        f"{overlay['only_first_ac']:,.2f} ac",
        f"{overlay['only_second_ac']:,.2f} ac",
        f"{overlay['edge_median_ft']:,.0f}, {overlay['edge_p95_ft']:,.0f} ft",
    ]


def _largest_text(pair: Figures) -> str:
    """Return where a pair differs most, as a sentence."""
    first, second, overlay = pair["first"], pair["second"], pair["overlay"]
    largest = overlay["largest"]
    if largest is None:
        if overlay["apart_m"] > 0:
            return f"{first} and {second}: no ground in common, {length_text(overlay['apart_m'])} apart"
        return f"{first} and {second}: no ground is in one only"
    has, has_not = (first, second) if largest["only_in"] == first else (second, first)
    where = _SIDES.get(largest["side"], f"at the {largest['side']}")
    return (
        f"{first} and {second}: {has} has {area_text(largest['area_m2'])} that {has_not} has not, up to "
        f"{length_text(largest['width_m'])} wide, {where}, {_place_text(largest['lon_deg'], largest['lat_deg'])}"
    )


def _place_text(lon_deg: float, lat_deg: float) -> str:
    return f"near {lat_deg:.5f}, {lon_deg:.5f} (latitude, longitude)"


def _short(name: str) -> str:
    shown = " ".join("".join(letter if letter.isprintable() else " " for letter in name).split())
    return shown if len(shown) <= _MOST_NAME else f"{shown[: _MOST_NAME - 3]}..."
