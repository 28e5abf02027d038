"""Every loop within a reduced cost: any plan that uses none outside the list is in the list's program, and any
other plan costs at least the root bound plus that reduced cost."""

from collections.abc import Callable

import numpy as np

from optibuild.integer_program.columns import Column, column, keep_undominated
from optibuild.integer_program.envelopes import Duals, Node, Pricer
from optibuild.integer_program.labelling import LIST, Found, run
from optibuild.integer_program.problem import Floats, LoopProblem


def list_loops(
    problem: LoopProblem, pricer: Pricer, duals: Duals, within: float, most: int,
    out_of_time: Callable[[], bool],
) -> tuple[list[Column], bool]:
    """Undominated loops with a reduced cost of at most `within`, and whether none is missing."""
    found: list[tuple[Node, int, Found]] = []
    total, complete = 0, True
    for node, clock in pricer.promising(duals, within, LIST):
        if out_of_time() or total > 10 * most or not complete:
            complete = False
            break
        view = pricer.view(node, clock, duals, LIST)
        if view is None:
            continue
        part = run(view, LIST, within, most_labels=20 * most)
        complete &= part.complete
        if part.ends.size:
            found.append((node, clock, _cheapest_of_each_set(part)))
            total += found[-1][2].ends.size
    kept = _best_across_builds(problem, duals, found)
    complete &= len(kept) <= most
    columns = [column(problem, int(found[f][0].builds[0]), found[f][1], *found[f][2].loop(k))
               for f, k in kept[:most]]
    return keep_undominated(problem, columns), complete


def _cheapest_of_each_set(part: Found) -> Found:
    """Of the orders of one set of stops, the first (they come best first)."""
    _, first = np.unique(part.keys, return_index=True)
    return Found(part.reduced[first], part.keys[first], part.complete, part.stops, part.ends[first],
                 part.at_stop, part.parent, part.via)


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
