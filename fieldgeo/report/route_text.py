"""The order of the passes in words, and the list of passes as a table."""

from __future__ import annotations

from collections import Counter
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Final

from fieldgeo.report.lines import count_text, labelled_wrapped, length_text, or_dash, percent_text, table

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

# Stretches of a list that are spelled out; the rest is in the list of passes.
_STRETCHES: Final = 4
_ORDINALS: Final = {1: "st", 2: "nd", 3: "rd"}


def order_lines(figures: Mapping[str, Any]) -> list[str]:
    """Return how the passes are taken, in words, and how near that is to the best there can be.

    Parameters
    ----------
    figures : mapping
        From `fieldgeo.analysis.pass_order.order_figures`.
    """
    orders: Sequence[Mapping[str, Any]] = figures["orders"]
    if not orders:
        return []
    lines = []
    if len(orders) == 1:
        lines += labelled_wrapped("order", f"{rule_text(orders[0])} (counted from the {figures['counted_from']})")
    else:
        kinds = Counter(pattern_text(order) for order in orders)
        told = ", ".join(f"{count_text(many, 'block')} {kind}" for kind, many in kinds.items())
        lines += labelled_wrapped("order", f"{told}; passes counted from the {figures['counted_from']}, part by part")
        longest = max(orders, key=lambda order: len(order["passes"]))
        lines += labelled_wrapped("", f"block {longest['block']}: {rule_text(longest)}")
    return [*lines, *labelled_wrapped("turns between", _bound_text(figures))]


def _bound_text(figures: Mapping[str, Any]) -> str:
    spent = f"{figures['order_s'] / 60:,.1f} min"
    if figures["order_proven"]:
        return f"{spent}; no order of these passes takes less (proven)"
    return f"{spent}; no order takes less than {figures['order_bound_s'] / 60:,.1f} min ({_gap_text(figures)})"


def _gap_text(figures: Mapping[str, Any]) -> str:
    return f"this one {percent_text(figures['order_gap'])} more"


def pattern_text(order: Mapping[str, Any]) -> str:
    """Return the pattern of a block in plain words.

    Parameters
    ----------
    order : mapping
        An entry of `orders`.
    """
    if order["pattern"] == "skip":
        return f"every {ordinal(order['step'])} pass, then those between"
    if order["pattern"] == "blocks":
        return f"in groups of {order['step']}"
    return "by the list" if order["pattern"] == "best" else str(order["pattern"]).replace("-", " ")


def rule_text(order: Mapping[str, Any]) -> str:
    """Return the rule of a block in words, with the passes it begins with.

    Parameters
    ----------
    order : mapping
        An entry of `orders`.

    Examples
    --------
    >>> rule_text({"pattern": "skip", "step": 3, "passes": [1, 4, 7, 10, 8, 5, 2, 3, 6, 9]})
    'take every 3rd pass, then fill in: 1, 4, 7, 10, then 8, 5, 2, then 3, 6, 9'
    >>> rule_text({"pattern": "blocks", "step": 5, "passes": [1, 3, 5, 2, 4, 6, 8, 10, 7, 9]})
    'in groups of 5: 1, 3, 5, 2, 4, then 6, 8, 10, 7, 9'
    """
    passes: Sequence[int] = order["passes"]
    if order["pattern"] == "skip":
        return f"take every {ordinal(order['step'])} pass, then fill in: {_stretches_text(_straight(passes))}"
    if order["pattern"] == "blocks":
        size = order["step"]
        groups = _groups(passes, size)
        return f"in groups of {size}: {_stretches_text(groups)}"
    if order["pattern"] == "round-and-round":
        return f"round and round: {_stretches_text([passes], most=8)}"
    if order["pattern"] == "best":
        return f"by the list: {_stretches_text(_straight(passes))}"
    return f"back and forth, one after the other: {_stretches_text([passes])}"


def ordinal(number: int) -> str:
    """Return a number as a place in a row.

    Examples
    --------
    >>> ordinal(2), ordinal(3), ordinal(11), ordinal(22)
    ('2nd', '3rd', '11th', '22nd')
    """
    ending = "th" if number % 100 in {11, 12, 13} else _ORDINALS.get(number % 10, "th")
    return f"{number}{ending}"


def _straight(passes: Sequence[int]) -> list[list[int]]:
    """Return passes cut where the step across the block changes."""
    place = {number: at for at, number in enumerate(sorted(passes))}
    stretches: list[list[int]] = []
    step = 0
    for number in passes:
        ahead = place[number] - place[stretches[-1][-1]] if stretches else 0
        if stretches and (len(stretches[-1]) == 1 or ahead == step):
            stretches[-1].append(number)
        else:
            stretches.append([number])
        step = ahead
    return stretches


def _groups(passes: Sequence[int], size: int) -> list[Sequence[int]]:
    """Return passes cut into groups that lie side by side."""
    place = {number: at for at, number in enumerate(sorted(passes))}
    cuts = [0]
    for end in range(size, len(passes)):
        within = [place[number] for number in passes[cuts[-1] : end]]
        if len(within) >= size and max(within) - min(within) == len(within) - 1:
            cuts.append(end)
    return [passes[one:two] for one, two in pairwise([*cuts, len(passes)])]


def _stretches_text(stretches: Sequence[Sequence[int]], *, most: int = 5) -> str:
    shown = []
    for stretch in stretches[:_STRETCHES]:
        told = [str(number) for number in stretch]
        if len(told) > most + 1:
            told = [*told[: most - 2], "...", told[-1]]
        shown.append(", ".join(told).replace(", ...,", " ..."))
    rest = [", and so on"] if len(stretches) > _STRETCHES else []
    return ", then ".join(shown) + "".join(rest)


def pass_list_lines(rows: Sequence[Mapping[str, Any]]) -> Iterator[str]:
    """Yield the list of passes as a table: number in order, pass, way it is driven, length, and turn to the next.

    Parameters
    ----------
    rows : sequence of mapping
        From `fieldgeo.analysis.pass_order.pass_list`.
    """
    head = ("no.", "pass", "heading", "length", "to the next", "s")
    cells = [
        (
            str(row["number"]),
            str(row["pass"]),
            f"{row['azimuth_deg']:.0f} deg {row['heading']}",
            length_text(row["length_m"]),
            row["to_next"] or "-",
            or_dash(row["to_next_s"] if row["to_next"] else None, ".0f"),
        )
        for row in rows
    ]
    yield from table(head, cells, left=0)
