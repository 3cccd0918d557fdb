"""Filling and unloading as lines for a terminal of 80 columns: answer first, from the dictionary of `load_figures`."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from fieldgeo.report.lines import count_text, labelled, labelled_figure, percent_text, table, wrap

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from fieldgeo.analysis.figures import Figures

_MOST_NAMED: Final = 8  # stops named in the first sentence
_LITTLE: Final = 0.05  # share of a tank; a fill of less is worth saying: own choice
_MOST_ROWS: Final = 12  # stops listed; the figures have them all


def amount_text(amount: dict[str, float]) -> str:
    """Return an amount in the farm's unit.

    Examples
    --------
    >>> amount_text({"bu": 29.0909}), amount_text({"gal": 1000.0, "L": 3785.4}), amount_text({"seeds": 90000.0})
    ('29.1 bu', '1,000 gal', '90,000 seeds')
    """
    unit, value = next(iter(amount.items()))
    return f"{value:,.0f} {unit}" if abs(value) >= 100 or unit == "seeds" else f"{value:,.3g} {unit}"


def load_lines(figures: Figures) -> Iterator[str]:
    """Yield the answer of filling or unloading from `load_figures`."""
    yield from wrap(answer_text(figures), indent=2)
    yield from _load_lines(figures)
    if figures["cart"]:
        yield from _cart_lines(figures["cart"])
    if figures["stops"]:
        yield labelled_figure("stops take", f"{figures['stop_h']:.2f} h", _stop_time_text(figures))
    if figures["material_h"]:
        rates = [
            f"{value:,.{'0f' if value >= 100 else '3g'}} {unit.removesuffix('_h')}/h"
            for unit, value in figures["material_h"].items()
            if unit != "kg_h"
        ]
        yield labelled("through the tool", ", ".join(rates))
    for stand in figures["stands"]:
        place = _lonlat_text(stand, 6)
        taken = f"{count_text(stand['stops'], 'stop')}, {amount_text(stand['amount'])}"
        yield labelled(f"stand {stand['stand']}", f"{place}  {taken}")
    if figures["habit"]:
        yield from wrap(_habit_text(figures["habit"]), indent=4)
    yield from _stop_table(figures)


def load_notes(figures: Figures) -> Iterator[str]:
    """Yield what a grower should know beside the answer of filling or unloading, from `load_figures`."""
    for caution in figures["cautions"]:
        yield f"caution: {caution}."
    if figures["job"] == "fill" and figures["stops"]:
        last = figures["stop_list"][-1]["amount"]
        if next(iter(last.values())) < _LITTLE * next(iter(figures["tank"].values())):
            yield f"note: the last fill is only {amount_text(last)}; carrying or applying a little else saves the stop."
    if figures["auxiliary_share"] is not None and figures["published_shares"]:
        published = figures["published_shares"][0]
        yield (
            f"note: {percent_text(figures['auxiliary_share'])} of the stops is not the flow itself; published "
            f"{100 * published['share']:.0f} %: {published['source']}."
        )
    if figures["job"] == "unload":
        yield "caution: never enter a bin or tank with grain flowing."
    else:
        yield "caution: for anything applied, the label and local codes rule."


def answer_text(figures: Figures) -> str:
    """Return the whole answer of filling or unloading in one sentence, from `load_figures`."""
    total = amount_text(figures["total"])
    if figures["cart"]:
        return f"unload on the go: {total} in {count_text(figures['cart']['loads'], 'cart load')}"
    if figures["job"] == "unload":
        return f"unload {_times(figures['stops'])}{_after(figures)}; {total} in all"
    if not figures["stops"]:
        return f"no filling on the way: bring {amount_text(figures['bring'])}"
    left = figures["at_end"]
    rest = f", {amount_text(left)} left over" if next(iter(left.values())) > 0 else ""
    return f"fill {_times(figures['stops'])}{_after(figures)}; bring {amount_text(figures['bring'])}{rest}"


def _times(count: int) -> str:
    return "once" if count == 1 else f"{count:,} times"


def _after(figures: Figures) -> str:
    """Return after which passes the stops come, and at which end; nothing where there are too many to name."""
    stops: Sequence[Figures] = figures["stop_list"]
    if not 0 < len(stops) <= _MOST_NAMED:
        return ""
    ends = {stop["end"] for stop in stops}
    if len(ends) == 1 and all(stop["after_pass"] and not stop["on_pass"] for stop in stops):
        word = "pass" if len(stops) == 1 else "passes"
        return f", after {word} {_and([str(stop['after_pass']) for stop in stops])}, at the {ends.pop()} end"
    if stops[0]["end"] is None:
        named = [f"{work_text(stop)} ({place_text(stop)})" for stop in stops[1:]]
        return ", before the first pass" + (f", after {_and(named)}" if named else "")
    return ", after " + _and([f"{work_text(stop)} ({place_text(stop)})" for stop in stops])


def _and(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def _load_lines(figures: Figures) -> Iterator[str]:
    tank = amount_text(figures["tank"])
    if figures["hoppers"] > 1:
        tank += f" in {figures['hoppers']} hoppers"
    fits = {True: ", out and back", False: ", not out and back", None: ""}[figures["round_fits"]]
    passes = figures["passes_per_load"]
    lasts = "" if passes is None else (f"{count_text(passes, 'pass')}{fits}" if passes else "less than a pass")
    if figures["load_ac"] is None:
        by_place = f": {'at least' if passes else 'in places'} {lasts}" if lasts else ""
        yield labelled("one tank", f"{tank}{by_place}")
        return
    run = f"{figures['load_run_ft']:,.0f} ft ({figures['load_run_m']:,.0f} m)"
    yield labelled("one tank", f"{tank}: {figures['load_ac']:,.3g} ac, a run of {run}")
    if lasts:
        yield labelled("", lasts)


def _cart_lines(cart: Figures) -> Iterator[str]:
    if cart["minutes_for_each"] is None:
        return
    holds = f" of {amount_text(cart['capacity'])}" if cart["capacity"] else " the size of the tank"
    yield labelled("cart", f"{count_text(cart['loads'], 'load')}{holds}, {cart['minutes_for_each']:.1f} min for each")


def _stop_time_text(figures: Figures) -> str:
    return f"standing {figures['standing_h']:.2f} h, driving {figures['detour_h']:.2f} h"


def _habit_text(habit: Figures) -> str:
    place = _lonlat_text(habit, 6)
    if habit["saving_h"] is None:
        return f"  from the place of habit, {place}, the tank does not last"
    share = "" if habit["saving_share"] is None else f" ({habit['saving_share']:.0%} of the stops)"
    return (
        f"  saves {habit['saving_h']:.2f} h{share} against the place of habit, {place}: {habit['stop_h']:.2f} h in "
        f"{count_text(habit['stops'], 'stop')}"
    )


def _stop_table(figures: Figures) -> Iterator[str]:
    stops = figures["stop_list"]
    if not stops:
        return
    flow = "in" if figures["job"] == "fill" else "out"
    head = ["", "after", f"from {figures['counted_from']}", "at", "lon,lat", flow, "left"]
    rows = [_stop_row(stop) for stop in stops[:_MOST_ROWS]]
    yield from table(head, rows, left=5)
    if len(stops) > _MOST_ROWS:
        yield f"  and {len(stops) - _MOST_ROWS:,} more"


def work_text(stop: Figures) -> str:
    """Return the work that a stop comes after, or lies on, from an entry of `stop_list`."""
    if stop["after_pass"]:
        return f"pass {stop['after_pass']}"
    return f"end row {stop['after_headland_run']}" if stop["after_headland_run"] else "start"


def place_text(stop: Figures) -> str:
    """Return where a stop is: an end, a stand, or so far on along the pass."""
    if stop["on_pass"]:
        return f"{stop['along_ft']:,.0f} ft on"
    if stop["stand"]:
        return f"stand {stop['stand']}"
    return f"{stop['end']} end" if stop["end"] else "first pass"


def _lonlat_text(figures: Figures, digits: int) -> str:
    if figures["lon"] is None:
        return "no place"
    return f"{figures['lon']:.{digits}f},{figures['lat']:.{digits}f}"


def _stop_row(stop: Figures) -> list[str]:
    return [
        f"{stop['number']}",
        work_text(stop),
        f"{stop['strip']}" if stop["strip"] else "",
        place_text(stop),
        _lonlat_text(stop, 5),
        amount_text(stop["amount"]),
        amount_text(stop["left"]),
    ]
