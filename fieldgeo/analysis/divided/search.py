"""`lay_parts`: the search for a division that saves field time.

Divisions are estimated by the hundred, the best of them laid out exactly, and only exact plans are compared. The
undivided plan is among the tries, so that the answer is never slower than it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final, Literal, NamedTuple

import numpy as np
import shapely

from fieldgeo.analysis.divided.divisions import Divider, Division
from fieldgeo.analysis.divided.estimates import Estimates
from fieldgeo.analysis.divided.plan import DividedPlan, plan_parts
from fieldgeo.analysis.lay import lay
from fieldgeo.analysis.many_directions import tidy_deg
from fieldgeo.analysis.plan import Plan, checked_rounds, typical_turn_s
from fieldgeo.analysis.score import score_plan
from fieldgeo.errors import InputError
from fieldgeo.layout.axes import Floats
from fieldgeo.layout.headland import Rounds, Sides, body_inside, lay_rounds
from fieldgeo.layout.overlay import difference, intersection, polygons_of, union
from fieldgeo.layout.parts.model import DividedLayout, Part
from fieldgeo.layout.parts.seams import find_seams, turning_parts
from fieldgeo.layout.passes import lay_passes
from fieldgeo.layout.sides import along_flags, end_chains, outline_sides, worth_leaving
from fieldgeo.layout.strips import Finish
from fieldgeo.machinery.published import published_efficiency
from fieldgeo.machinery.tool import Tool
from fieldgeo.outline.field import Field
from fieldgeo.travel.order import EXACT_STINTS
from fieldgeo.travel.part_route import plan_part_route
from fieldgeo.travel.patterns import Order
from fieldgeo.travel.timeline import time_route

MOST_PARTS: Final = 4
# Divisions that are gone on from at every step, the best by estimate. Own choice, measured on the sample fields.
KEPT: Final = 2
# Divisions whose parts have the same directions, and areas that are the same to this part of the whole, are one.
ALIKE_AREA: Final = 100
# Divisions laid out exactly: the best by estimate, if they come within a share of the undivided estimate, which is how
# far estimates of ground cut differently can be off against each other. Own choice, measured on the sample fields.
LAID_OUT: Final = 10
NEAR_SHARE: Final = 0.03
# ... but no more than so many where these take longer than the undivided plan by more than that share. Own choice.
SURE_LAID_OUT: Final = 2
# Of the best few each part is also laid out in so many other directions, those of sides and some near its own:
# estimates of directions near each other say little of how the last pass falls. Own choice; the share is what turning
# a part or two can save.
TURNED: Final = 2
TURNED_SHARE: Final = 0.01
TURNED_DIVISIONS: Final = 2
TURNED_DEG: Final = np.array([-1.0, -0.5, 0.5, 1.0])
# Plans whose order of rounds and blocks is mended, the quickest. Own choice.
MENDED: Final = 2
# A division must save this share of the field time, or nobody would drive a seam for it. Common practice, no source.
WORTH_SHARE: Final = 0.005


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PartSearch:
    """What came of a search for a division."""

    best: Plan | DividedPlan
    undivided: Plan  # with the best direction; not slower than that of `fieldgeo.analysis.lay.lay`
    tried: int  # divisions estimated, the undivided field not counted
    laid: int  # of these laid out exactly


def lay_parts(
    field: Field,
    tool: Tool,
    *,
    parts: int | Literal["auto"] = "auto",
    headland: int | Literal["auto"] = "auto",
    sides: Sides = "auto",
    finish: Finish = "cover",
    entrance_xy: Floats | None = None,
    order: Order = "auto",
) -> PartSearch:
    """Return the best plan of one tool on one field that was found, divided into parts where that saves field time.

    Parameters
    ----------
    field : Field
        The field.
    tool : Tool
        The tool.
    parts : int or "auto"
        Most parts to divide the field into; ``"auto"`` is `MOST_PARTS`, 1 leaves it undivided. End rows at a seam are
        not counted.
    headland : int or "auto"
        Number of headland rounds, as in `fieldgeo.analysis.lay.lay`.
    sides : {"auto", "ends", "all"}
        Where they lie, as there.
    finish : {"cover", "clean", "half"}
        Finish rule, as there.
    entrance_xy : ndarray of shape (2,), optional
        Where the tool enters and leaves the field, in the frame. [m]
    order : str
        Order of the passes, as there.

    Returns
    -------
    PartSearch
        Its best plan is never slower than the undivided one with the best direction.

    Raises
    ------
    InputError
        If a value is outside its range.
    LayoutError
        If the tool is wider than the field is long.
    """
    most = _checked_parts(parts)
    undivided = lay(field, tool, headland=headland, sides=sides, finish=finish, entrance_xy=entrance_xy, order=order)
    if most == 1:
        return PartSearch(best=undivided, undivided=undivided, tried=0, laid=0)
    undivided = min(undivided, _reordered(undivided, entrance_xy, order), key=_score)
    search = _Search(field, tool, checked_rounds(headland, tool), sides, finish, "auto" if order == "best" else order)
    plans, tried = search.plans(most, undivided, entrance_xy)
    laid = len({id(plan.layout) for plan in plans})
    best: Plan | DividedPlan = undivided
    if plans:
        quickest = plans[0]
        if order == "best":
            quickest = plan_parts(quickest.layout, entrance_xy=entrance_xy, order=order)
        if _score(quickest) < _score(undivided) * (1 - WORTH_SHARE):
            best = quickest
    return PartSearch(best=best, undivided=undivided, tried=tried, laid=laid)


def _reordered(plan: Plan, entrance_xy: Floats | None, order: Order) -> Plan:
    """Return an undivided plan with rounds and blocks in the order that a divided one would have them in.

    Else what a better order saves would pass for what dividing saves.
    """
    laid = plan.layout
    if len(plan.route.orders) < EXACT_STINTS:
        return plan  # the best order of so few is known already
    part = Part(body=laid.body, passes=laid.passes)
    whole = DividedLayout(
        field=laid.field, tool=laid.tool, finish=laid.finish, headland=laid.headland, body=laid.body,
        parts=(part,), seams=(), turns_on=(),
    )  # fmt: skip
    route = replace(plan_part_route(whole, entrance_xy=entrance_xy, order=order), layout=laid)
    return Plan(layout=laid, route=route, timeline=time_route(route))


def _cuts_crop(tool: Tool) -> bool:
    """Return whether a tool cuts a standing crop, on which it cannot turn."""
    published = published_efficiency(tool.kind)
    return published is not None and published.work == "harvest"


def _checked_parts(parts: int | Literal["auto"]) -> int:
    if parts == "auto":
        return MOST_PARTS
    if isinstance(parts, bool) or not isinstance(parts, int) or not 1 <= parts <= MOST_PARTS:
        raise InputError(f"parts: got {parts!r}. It must be auto, or a whole number from 1 to {MOST_PARTS}.")
    return parts


class _Laid(NamedTuple):
    """A division laid out exactly."""

    plan: DividedPlan
    division: Division
    all_round: bool
    score: float


class _Search:
    """One field and tool, with what all divisions share."""

    def __init__(self, field: Field, tool: Tool, rounds: int, sides: Sides, finish: Finish, order: Order) -> None:
        self.field, self.tool, self.rounds, self.sides, self.finish = field, tool, rounds, sides, finish
        self.order = order
        self._outline_sides = outline_sides(field.shape, tool) if rounds else ()
        self._rounds: dict[bytes, Rounds] = {}

    def plans(self, most: int, undivided: Plan, entrance_xy: Floats | None) -> tuple[list[DividedPlan], int]:
        """Return the exact plans of the divisions that look best, the quickest first, and how many were estimated."""
        also = (undivided.layout.direction_deg,)
        estimates = Estimates(self.field.shape, self.tool, self.finish, self.order, also_deg=also)
        limit_s = _score(undivided) * (1 + NEAR_SHARE)
        turned_s = _score(undivided) * (1 + TURNED_SHARE)
        laid: list[_Laid] = []
        tried = 0
        for all_round in self._headlands():
            ground = self.field.shape
            if all_round and self.rounds:
                ground = body_inside(ground, self.tool, rounds=self.rounds, chains=None)
            if ground.is_empty:
                continue
            divider = Divider(ground, self.tool, estimates, rounds=self.rounds)
            mine: list[_Laid] = []
            for place, division in enumerate(_likely(divider, most)):
                if place >= SURE_LAID_OUT and min((one.score for one in mine), default=0.0) > limit_s:
                    break
                mine += self._lay(division, entrance_xy, all_round=all_round)
            laid += mine
            tried += divider.tried - 1  # the first is the undivided ground
        for best in sorted(laid, key=lambda one: one.score)[:TURNED_DIVISIONS]:
            for division in _turned(best.division, estimates) if best.score < turned_s else []:
                laid += self._lay(division, entrance_xy, all_round=best.all_round)
                tried += 1
        ranked = sorted(laid, key=lambda one: one.score)
        mended = [
            plan_parts(one.plan.layout, entrance_xy=entrance_xy, order=self.order)
            for one in ranked[:MENDED]
            if one.score < limit_s
        ]
        return sorted([*mended, *(one.plan for one in ranked)], key=_score), tried

    def _lay(self, division: Division, entrance_xy: Floats | None, *, all_round: bool) -> list[_Laid]:
        """Return the exact plan of a division, its order not mended; nothing where it has none."""
        layout = self._layout(division, all_round=all_round)
        if layout is None:
            return []
        plan = plan_parts(layout, entrance_xy=entrance_xy, order=self.order, is_mended=False)
        return [_Laid(plan, division, all_round, _score(plan))]

    def _headlands(self) -> tuple[bool, ...]:
        """Return which headlands to lay: on all sides (True), at the ends only, or both."""
        if not self.rounds or self.sides == "all":
            return (True,)
        return (False,) if self.sides == "ends" else (True, False)

    def _layout(self, division: Division, *, all_round: bool) -> DividedLayout | None:
        """Return the exact layout of a division; None where its parts would have no ground to turn on."""
        rounds = self._rounds_for(division, all_round=all_round)
        if rounds is None:
            return None
        grounds = _shared_out(rounds.body, [cell.ground for cell in division.cells])
        parts = []
        for cell, ground, direction in zip(division.cells, grounds, division.directions_deg, strict=True):
            if ground.is_empty:
                continue
            passes = lay_passes(ground, direction, self.tool, self.finish, turn_s=typical_turn_s(self.tool))
            parts.append(Part(body=ground, passes=passes, is_end_rows=cell.end_rows_deg is not None))
        if len(parts) < 2:
            return None
        seams = find_seams([part.body for part in parts], self.tool)
        turns_on = turning_parts(seams, [part.direction_deg for part in parts], self.tool)
        if turns_on is None:
            return None
        return DividedLayout(
            field=self.field, tool=self.tool, finish=self.finish, headland=rounds.headland, body=rounds.body,
            parts=tuple(parts), seams=seams, turns_on=turns_on,
            is_opened_first=_cuts_crop(self.tool),
        )  # fmt: skip

    def _rounds_for(self, division: Division, *, all_round: bool) -> Rounds | None:
        """Return the headland of a division; at the ends only, None where every side is an end."""
        key, chains = b"", None
        if not all_round:
            flags = self._sides_along(division)
            if not flags.any() or (self.sides == "auto" and not worth_leaving(self._outline_sides, flags[None])[0]):
                return None
            key, chains = flags.tobytes(), end_chains(self._outline_sides, flags)
        if key not in self._rounds:
            self._rounds[key] = lay_rounds(self.field.shape, self.tool, self.finish, rounds=self.rounds, chains=chains)
        return self._rounds[key]

    def _sides_along(self, division: Division) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
        """Return which sides of the outline run along the passes of every part that lies on them."""
        flags = along_flags(self._outline_sides, np.array(division.directions_deg), self.tool)
        lines = [
            shapely.LineString(np.roll(ring.line, -first, axis=0)[: (after - first) % len(ring.line) + 1])
            if (after - first) % len(ring.line) + 1 <= len(ring.line)
            else shapely.LinearRing(ring.line)
            for ring in self._outline_sides
            for first, after in zip(ring.first.tolist(), np.roll(ring.first, -1).tolist(), strict=True)
        ]
        least_m = self.tool.width_m / 2
        for row, cell in enumerate(division.cells):
            near = shapely.buffer(cell.ground, self.tool.width_m / 4)
            on_it = shapely.length(shapely.intersection(np.array(lines, dtype=object), near)) > least_m
            flags[row] |= ~on_it
        return np.asarray(flags.all(axis=0))


def _likely(divider: Divider, most: int) -> list[Division]:
    """Return the divisions of a ground that are worth an exact layout, the best estimate first."""
    whole = divider.whole()
    if whole is None:
        return []
    seen: dict[tuple[tuple[float, int], ...], Division] = {}

    def note(found: list[Division]) -> list[Division]:
        new = []
        for division in found:
            if division.parts <= most and (key := _signature(division)) not in seen:
                seen[key] = division
                new.append(division)
        return new

    note([whole])
    best_s = whole.estimate_s
    divider.limit_s = whole.estimate_s * (1 + NEAR_SHARE)
    begun = [whole]
    for _ in range(most - 1):
        onward = [division for one in begun for division in divider.divided_once_more(one)]
        new = note(onward)
        new += note([merged for one in sorted(new, key=_by_estimate)[:KEPT] for merged in divider.merged_once(one)])
        begun = [one for one in sorted(new, key=_by_estimate)[:KEPT] if one.parts < most]
        if not begun or begun[0].estimate_s >= best_s:
            break
        best_s = begun[0].estimate_s
    ranked = sorted(seen.values(), key=_by_estimate)
    return [division for division in ranked if len(division.cells) > 1][:LAID_OUT]


def _turned(division: Division, estimates: Estimates) -> list[Division]:
    """Return the same division with another direction in one of its parts, the quickest few of each by estimate."""
    found = []
    for number, (cell, direction) in enumerate(zip(division.cells, division.directions_deg, strict=True)):
        if cell.end_rows_deg is not None:
            continue
        near = tidy_deg(np.append(estimates.sides_deg(cell.ground), direction + TURNED_DEG))
        ranked = near[np.argsort(estimates.times_s(cell.ground, near), kind="stable")]
        for other in [each for each in ranked.tolist() if each != round(direction, 6)][:TURNED]:
            directions = (*division.directions_deg[:number], other, *division.directions_deg[number + 1 :])
            found.append(replace(division, directions_deg=directions))
    return found


def _score(plan: Plan | DividedPlan) -> float:
    return score_plan(plan, "time")


def _by_estimate(division: Division) -> float:
    return division.estimate_s


def _signature(division: Division) -> tuple[tuple[float, int], ...]:
    """Return what tells a division from another: direction of its parts, and area to a hundredth of the whole."""
    fine_m2 = sum(cell.ground.area for cell in division.cells) / ALIKE_AREA
    pairs = zip(division.cells, division.directions_deg, strict=True)
    return tuple(sorted((round(direction, 1), round(cell.ground.area / fine_m2)) for cell, direction in pairs))


def _shared_out(body: shapely.MultiPolygon, grounds: list[shapely.MultiPolygon]) -> list[shapely.MultiPolygon]:
    """Return a body shared out among grounds; what lies in none of them goes to the nearest."""
    shares = [intersection(body, ground) for ground in grounds]
    rest = difference(body, union(grounds))
    for piece in rest.geoms:
        nearest = min(range(len(grounds)), key=lambda number: shapely.distance(grounds[number], piece))
        shares[nearest] = union([shares[nearest], piece])
    return [polygons_of(share) for share in shares]
