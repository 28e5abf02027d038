"""Every loop within a reduced cost: a plan that uses none outside the list is in the list's program, and any
other plan costs at least the bound plus that reduced cost."""

from dataclasses import dataclass, replace
from itertools import islice

import numpy as np

from optibuild.integer_program.columns import Column, column, keep_undominated
from optibuild.integer_program.envelopes import Node
from optibuild.integer_program.pricer import AT_ONCE, Duals, Pricer
from optibuild.integer_program.problem import Floats, LoopProblem
from optibuild.integer_program.runs import Found


@dataclass(frozen=True)
class Room:
    """How long a list may grow: loops in the end, labels on the way."""

    loops: int
    labels: int


def list_loops(
    problem: LoopProblem, pricer: Pricer, duals: Duals, within: float, room: Room
) -> tuple[list[Column], bool]:
    """Undominated loops with a reduced cost of at most `within`, and whether none is missing."""
    found: list[tuple[Node, int, Found]] = []
    labels, total = room.labels, 0
    pairs = pricer.promising(lambda: duals, within)
    while batch := list(islice(pairs, AT_ONCE)):
        for (node, clock), part in zip(batch, pricer.listed(batch, duals, within, labels), strict=True):
            if part is None:
                continue
            labels -= part.at_stop.size
            total += part.ends.size
            if not part.complete or labels <= 0 or total > 20 * room.loops:
                return [], False
            if part.ends.size:
                found.append((node, clock, _cheapest_of_each_set(part)))
    kept = _best_across_builds(problem, duals, found)
    if len(kept) > room.loops:
        return [], False
    columns = []
    for f, k in kept:
        node, clock, part = found[f]
        columns.append(column(problem, int(node.builds[0]), clock, *part.loop(k)))
    return keep_undominated(problem, columns), True


def _cheapest_of_each_set(part: Found) -> Found:
    """Of the orders of one set of stops, the first (they come best first)."""
    _, first = np.unique(part.keys, return_index=True)
    return replace(part, reduced=part.reduced[first], keys=part.keys[first], ends=part.ends[first])


def _best_across_builds(
    problem: LoopProblem, duals: Duals, found: list[tuple[Node, int, Found]]
) -> list[tuple[int, int]]:
    """Places (run, position) of the loops that no other with the same stops and scarce items beats in cost
    and, under a budget, in price; best reduced cost first.

    Sets are told apart by a 64-bit key; two of a million sets share one by chance once in 10^8 lists.
    """
    if not found:
        return []
    sizes = [part.ends.size for _, _, part in found]
    run_of = np.repeat(np.arange(len(found)), sizes)
    position = np.concatenate([np.arange(n) for n in sizes])
    keys = np.concatenate([part.keys for _, _, part in found])
    reduced = np.concatenate([part.reduced for _, _, part in found])
    build = np.array([int(node.builds[0]) for node, _, _ in found])[run_of]
    rowed = problem.uses[:, problem.held | problem.scarce]
    signature = np.unique(rowed, axis=0, return_inverse=True)[1].ravel()[build]
    budgeted = np.isfinite(problem.budget_usd)
    price = problem.own_price_usd[build] if budgeted else np.zeros(build.size)
    cost = reduced + duals.budget * price  # the budget's dual is at most 0
    order = np.lexsort((price, np.round(cost, 9), signature, keys))
    keep = _no_cheaper_before(keys[order], signature[order], price[order])
    chosen = order[keep]
    chosen = chosen[np.argsort(reduced[chosen], kind="stable")]
    return [(int(run_of[k]), int(position[k])) for k in chosen]


def _no_cheaper_before(keys: np.ndarray, signature: np.ndarray, price: Floats) -> np.ndarray:
    """In rows sorted by group and cost: those whose price is below every earlier one of their group."""
    keep = np.ones(keys.size, bool)
    least, last = np.inf, None
    for k, group in enumerate(zip(keys.tolist(), signature.tolist(), strict=True)):
        if group != last:
            least, last = np.inf, group
        keep[k] = price[k] < least
        least = min(least, price[k])
    return keep
