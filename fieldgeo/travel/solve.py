"""The best order of the passes of one block: exact for a few, searched and bounded for many.

A block of K passes is worked as a chain: along one pass, a turn at its end onto another, along that the other way, and
so on. So the turns fall on upper and lower ends in turn, and the order that takes least time is a shortest chain
through all passes, over the real times of all turns between them. For a few passes a dynamic programme over sets of
passes finds it (Held and Karp's, Journal of the Society for Industrial and Applied Mathematics 10, 1962; from memory).
For many a general-purpose library searches (OR-tools: guided local search, then constraint programming, which may show
that nothing is better).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, Final, NamedTuple

import numpy as np

from fieldgeo.layout.axes import Floats
from fieldgeo.layout.strips import Ints

# Blocks up to so many passes are solved by the dynamic programme, whose work doubles with each pass.
EXACT_PASSES: Final = 12
# Times go to the solver as whole numbers of this many a second.
TICKS_A_SECOND: Final = 10_000
# Work that the solver may do on one field: about so many seconds of one core.
DEFAULT_EFFORT_S: Final = 1.0
# A clock stops the search where it takes so many times longer than its measure of work says.
_CLOCK_ALLOWANCE: Final = 20.0
# Orders that local search takes up in a second are about so many, over the square of the passes.
_STEPS_A_SECOND: Final = 160_000
_LEAST_STEPS, _MOST_STEPS = 5, 100
# Constraint programming counts its work in seconds of its own, so many of them to one of a core; with more turns than
# these to choose from it does not get far in its time.
_COUNTED_A_SECOND: Final = 0.6
_MOST_JOINS: Final = 5000
# Its strategies take turns on one thread, so that the same input gives the same order; and on several threads at once
# its release 9.15 ends the whole process where one of them shows there is nothing to find while another still starts.
_WORKERS: Final = 1
_SEED: Final = 4
_NO_WAY_S: Final = 1e6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BlockProblem:
    """What an order of one block costs: turns, and the way to its first pass and from its last."""

    turn_s: Floats  # (2, K, K) at lower and upper ends, infinity where there is no way [s]
    entry_s: Floats  # (2, K) to the start of a pass driven backward, and driven forward [s]
    exit_s: Floats  # (2, K) from the end of a pass driven backward, and driven forward [s]

    def __len__(self) -> int:
        """Return the number of passes."""
        return len(self.entry_s[0])


class Chain(NamedTuple):
    """The passes of a block in an order."""

    positions: Ints  # (K,) places across the block, in driving order
    is_first_forward: bool  # the first pass is driven along the direction, so that its turn falls on the upper end


class Solved(NamedTuple):
    """An order, and how good it can be shown to be."""

    chain: Chain
    total_s: float  # turns, and the way there and from there [s]
    bound_s: float  # no order takes less [s]
    is_proven: bool  # no order takes less than this one does, to a tick of the solver a turn


def chain_s(problem: BlockProblem, chain: Chain) -> float:
    """Return the time of an order: its turns, and the way to its first pass and from its last. [s]

    Parameters
    ----------
    problem : BlockProblem
        Times of the block.
    chain : Chain
        The order.
    """
    at, count = chain.positions, len(chain.positions)
    ends = (np.arange(count) + chain.is_first_forward) % 2  # 1 where a pass is driven forward, to its upper end
    turns = problem.turn_s[ends[:-1], at[:-1], at[1:]].sum()
    return float(problem.entry_s[ends[0], at[0]] + turns + problem.exit_s[ends[-1], at[-1]])


def best_chain(problem: BlockProblem, starts: Sequence[Chain], *, effort_s: float = DEFAULT_EFFORT_S) -> Solved:
    """Return the best order found, which is never worse than those to start from.

    Parameters
    ----------
    problem : BlockProblem
        Times of the block.
    starts : sequence of Chain
        Orders, such as those of patterns; the first is kept where none is better.
    effort_s : float
        Work allowed beyond `EXACT_PASSES`, in about seconds of one core, >= 0. It is counted in steps and not by the
        clock, so the same input gives the same order; only where the clock runs away from the count by
        `_CLOCK_ALLOWANCE` does it stop the search, and then the order may differ from run to run. [s]
    """
    found = min(starts, key=lambda chain: chain_s(problem, chain))
    if len(problem) <= EXACT_PASSES:
        found = _better(problem, found, exact_chain(problem))
        total = chain_s(problem, found)
        return Solved(found, total, total, True)
    bound = nearest_bound_s(problem)
    is_proven = _is_met(chain_s(problem, found), bound)
    if effort_s > 0 and not is_proven:
        found = _better(problem, found, _local_search(problem, found, effort_s, steps=0))
    for share in (1.0, 0.3):
        before_s = chain_s(problem, found)
        is_proven = _is_met(before_s, bound)
        if effort_s <= 0 or is_proven:
            break
        # What is proven needs no more search, and a better start proves sooner.
        other, proven_s = _constraint_search(problem, found, share * effort_s)
        found, bound = _better(problem, found, other), max(bound, proven_s)
        is_proven = chain_s(problem, found) <= bound + (len(problem) + 1) / TICKS_A_SECOND
        if is_proven:
            break
        steps = round(min(_MOST_STEPS, max(_LEAST_STEPS, effort_s * _STEPS_A_SECOND / len(problem) ** 2)))
        found = _better(problem, found, _local_search(problem, found, effort_s, steps=steps))
        if chain_s(problem, found) >= before_s - 1e-6:
            break
    total = chain_s(problem, found)
    return Solved(found, total, min(bound, total), is_proven)


def exact_chain(problem: BlockProblem) -> Chain:
    """Return the order that takes least time of all: K! x 2 orders in 2^K x K^2 steps.

    Parameters
    ----------
    problem : BlockProblem
        Times of a block; memory and time grow as 2^K.
    """
    count = len(problem)
    masks = np.arange(1 << count)
    size = ((masks[:, None] >> np.arange(count)) & 1).sum(axis=1)
    layers = [masks[size == number] for number in range(count + 1)]
    best: tuple[float, Chain] | None = None
    for first in (1, 0):
        # least[mask, last]: time of the passes of a mask, worked so that `last` is the last of them.
        least = np.full((1 << count, count), np.inf)
        came = np.zeros((1 << count, count), dtype=np.int64)
        least[1 << np.arange(count), np.arange(count)] = problem.entry_s[first]
        for number in range(1, count):
            turn = problem.turn_s[(number - 1 + first) % 2]
            for last in range(count):
                before = layers[number][(layers[number] >> last) & 1 == 0]
                through = least[before] + turn[:, last]
                choice = through.argmin(axis=1)
                least[before | (1 << last), last] = through[np.arange(len(before)), choice]
                came[before | (1 << last), last] = choice
        whole = least[-1] + problem.exit_s[(count - 1 + first) % 2]
        last = int(whole.argmin())
        if best is None or whole[last] < best[0]:
            best = float(whole[last]), Chain(_walk_back(came, last), bool(first))
    assert best is not None  # two tries were made
    return best[1]


def _walk_back(came: Ints, last: int) -> Ints:
    mask = len(came) - 1
    order = [last]
    while mask != 1 << order[-1]:
        one = order[-1]
        order.append(int(came[mask, one]))
        mask ^= 1 << one
    return np.array(order[::-1], dtype=np.int64)


def nearest_bound_s(problem: BlockProblem) -> float:
    """Return a time that no order can beat: every end turned by half of its cheapest turn.

    Parameters
    ----------
    problem : BlockProblem
        Times of a block.

    Returns
    -------
    float
        Derived. A turn joins two ends and takes at least half the cheapest turn of each. All ends are turned at but
        two: with an even number of passes both are lower or both upper ends, with an odd number one of each; the
        dearest are left out. The cheapest way there and back is added. Never less than (K - 1) times the cheapest
        turn. [s]
    """
    half = _half_cheapest(problem)
    if len(problem) == 1:
        return float((problem.entry_s + problem.exit_s).min())
    dear = np.sort(half, axis=1)[:, ::-1]
    free = dear[:, 0].sum() if len(problem) % 2 == 1 else dear[:, :2].sum(axis=1).max()
    return float(half.sum() - free + problem.entry_s.min() + problem.exit_s.min())


def _half_cheapest(problem: BlockProblem) -> Floats:
    """Return half of the cheapest turn at each end, in either direction, shape (2, K). [s]"""
    return np.asarray(np.minimum(problem.turn_s.min(axis=1), problem.turn_s.min(axis=2)) / 2)


def _is_met(total_s: float, bound_s: float) -> bool:
    return total_s <= bound_s + 1e-9 * max(1.0, total_s)


def _better(problem: BlockProblem, one: Chain, other: Chain | None) -> Chain:
    return one if other is None or chain_s(problem, other) >= chain_s(problem, one) - 1e-9 else other


def _ticks(seconds: Floats) -> Ints:
    return np.asarray(np.rint(np.minimum(seconds, _NO_WAY_S) * TICKS_A_SECOND), dtype=np.int64)


def _local_search(problem: BlockProblem, start: Chain, effort_s: float, *, steps: int) -> Chain | None:
    """Return the best order that a guided local search meets in some steps; with none it only goes downhill.

    Each pass is two places, its ends, joined at no cost; the turns join ends of the same side.
    """
    from ortools.constraint_solver import pywrapcp, routing_enums_pb2

    count = len(problem)
    base = 2 * count
    lower, upper = np.arange(count) * 2, np.arange(count) * 2 + 1
    cost = np.full((base + 1, base + 1), round(_NO_WAY_S * TICKS_A_SECOND), dtype=np.int64)
    cost[np.ix_(lower, lower)], cost[np.ix_(upper, upper)] = _ticks(problem.turn_s[0]), _ticks(problem.turn_s[1])
    cost[lower, upper] = cost[upper, lower] = 0
    cost[base, upper], cost[base, lower] = _ticks(problem.entry_s)
    cost[lower, base], cost[upper, base] = _ticks(problem.exit_s)
    manager = pywrapcp.RoutingIndexManager(base + 1, 1, base)
    routing = pywrapcp.RoutingModel(manager)
    routing.SetArcCostEvaluatorOfAllVehicles(routing.RegisterTransitMatrix(cost.tolist()))
    parameters = pywrapcp.DefaultRoutingSearchParameters()
    kinds = routing_enums_pb2.LocalSearchMetaheuristic
    parameters.local_search_metaheuristic = kinds.GUIDED_LOCAL_SEARCH if steps else kinds.GREEDY_DESCENT
    if steps:
        parameters.solution_limit = steps
    parameters.time_limit.FromMilliseconds(round(1000 * effort_s * _CLOCK_ALLOWANCE))
    routing.CloseModelWithParameters(parameters)
    forward = (np.arange(count) + start.is_first_forward) % 2
    ends = np.column_stack([2 * start.positions + 1 - forward, 2 * start.positions + forward])
    given = routing.ReadAssignmentFromRoutes([ends.ravel().tolist()], True)
    found = None if given is None else routing.SolveFromAssignmentWithParameters(given, parameters)
    if found is None:
        return None
    places = []
    index = routing.Start(0)
    while not routing.IsEnd(index := found.Value(routing.NextVar(index))):
        places.append(manager.IndexToNode(index))
    return _chain_of_ends(np.array(places))


def _chain_of_ends(places: Ints) -> Chain | None:
    """Return the order of a walk from end to end, or None where it does not run along every pass."""
    passes = places.reshape(-1, 2) // 2
    if (passes[:, 0] != passes[:, 1]).any():
        return None
    return Chain(passes[:, 0], bool(places[0] % 2 == 0))


def _constraint_search(problem: BlockProblem, start: Chain, effort_s: float) -> tuple[Chain | None, float]:
    """Return the best order that constraint programming finds, and the time that it shows no order to beat.

    A turn so dear that an order with it could not beat the start, whatever the rest costs, is left out: what it takes
    beyond half of the cheapest turn at either end is more than the start takes beyond the bound that is the sum of such
    halves. (A bound proven since will not do: it holds what orders take beyond that sum.) That leaves few.
    """
    from ortools.sat.python import cp_model

    count, base = len(problem), 2 * len(problem)
    bound_s = nearest_bound_s(problem)
    spare = chain_s(problem, start) - bound_s
    half = _half_cheapest(problem)
    model = cp_model.CpModel()
    # Place 2 i is pass i driven backward, 2 i + 1 driven forward; one of the two is passed by. The base is outside.
    is_forward = [model.new_bool_var("") for _ in range(count)]
    arcs: list[tuple[int, int, Any]] = []
    for one, forward in enumerate(is_forward):
        arcs += [(2 * one, 2 * one, forward), (2 * one + 1, 2 * one + 1, ~forward)]
    joins = {}
    for end in (0, 1):
        extra = problem.turn_s[end] - half[end][:, None] - half[end]
        for one, two in np.argwhere(extra <= spare + 1e-6).tolist():
            joins[2 * one + end, 2 * two + 1 - end] = problem.turn_s[end, one, two]
        for one in range(count):
            joins[base, 2 * one + end] = problem.entry_s[end, one]
            joins[2 * one + end, base] = problem.exit_s[end, one]
    taken = {join: model.new_bool_var("") for join in joins}
    if len(joins) > _MOST_JOINS:
        return None, bound_s
    model.add_circuit([*arcs, *((*join, variable) for join, variable in taken.items())])
    ticks = _ticks(np.array(list(joins.values()))).tolist()
    model.minimize(cp_model.LinearExpr.weighted_sum(list(taken.values()), ticks))
    forward_now = (np.arange(count) + start.is_first_forward) % 2
    walk = [base, *(2 * start.positions + forward_now).tolist(), base]
    told = set(pairwise(walk))
    for join, variable in taken.items():
        model.add_hint(variable, join in told)
    for one, told_forward in zip(start.positions.tolist(), forward_now.tolist(), strict=True):
        model.add_hint(is_forward[one], bool(told_forward))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = _WORKERS
    solver.parameters.interleave_search = True
    solver.parameters.random_seed = _SEED
    solver.parameters.max_deterministic_time = effort_s * _COUNTED_A_SECOND
    solver.parameters.max_time_in_seconds = effort_s * _CLOCK_ALLOWANCE
    status = solver.solve(model)
    # Rounding to ticks can lift each turn, and the way there and back, by half a tick.
    shown_s = (solver.best_objective_bound - (count + 1) / 2) / TICKS_A_SECOND
    if status not in {cp_model.OPTIMAL, cp_model.FEASIBLE}:
        return None, shown_s
    after = {one: two for (one, two), variable in taken.items() if solver.value(variable)}
    places = [after[base]]
    while (place := after[places[-1]]) != base:
        places.append(place)
    return Chain(np.array(places) // 2, bool(places[0] % 2)), shown_s
