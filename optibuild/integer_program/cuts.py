"""Subset-row cuts: of three works, each done once, at most one loop does two or more.

Valid where every work of the three is needed once, and of any two stops that do it one does all that the
other does: then leaving out that other stop costs nothing (drives obey the triangle inequality and no cost is
negative), so the works are done exactly once. Source: Jepsen, Petersen, Spoorendonk, Pisinger 2008,
Operations Research 56:497-511.
"""

from collections import defaultdict
from itertools import combinations

import numpy as np

from optibuild.integer_program.columns import Column
from optibuild.integer_program.problem import Floats, Ints, LoopProblem
from optibuild.integer_program.runs import CutTable

Cut = tuple[int, int, int]
LEAST_VIOLATION = 0.02


def eligible(problem: LoopProblem) -> Ints:
    """Works that cuts may be made of, by number [T]: of each two stops that do one, the works of the one are
    among those of the other, and all are needed once."""
    if not problem.triangle or problem.may_cost_less_than_nothing:
        return np.zeros(0, np.int64)
    does = problem.amount > 0
    whole = ((problem.amount == 1) & (problem.need == 1) | ~does).all(axis=1)
    common = does.astype(np.int64) @ does.T
    smaller = np.minimum.outer(np.diag(common), np.diag(common))
    one, other = np.nonzero((common > 0) & (common < smaller))
    mixed = does[~whole].any(axis=0) | (does[one] & does[other]).any(axis=0)
    return np.flatnonzero((problem.need == 1) & ~mixed)


def coefficient(cut: Cut, covers: tuple[tuple[int, float], ...]) -> float:
    """How much a loop counts in a cut: half of what it `covers` of the three works, rounded down."""
    return float(sum(amount for work, amount in covers if work in cut) // 2)


def violated(works: Ints, used: list[tuple[Column, float]], known: set[Cut], most: int) -> list[Cut]:
    """The cuts most broken by a fractional solution, in which loops are `used` by so much; at most `most`.
    They are of the `works` [T] given."""
    allowed = set(works.tolist())
    pairs: dict[tuple[int, int], float] = defaultdict(float)
    triples: dict[Cut, float] = defaultdict(float)
    for one, value in used:
        inside = sorted(work for work, _ in one.covers if work in allowed)
        for pair in combinations(inside, 2):
            pairs[pair] += value
        for triple in combinations(inside, 3):
            triples[triple] += value
    neighbors: dict[int, set[int]] = {}
    for a, b in pairs:
        neighbors.setdefault(a, set()).add(b)
        neighbors.setdefault(b, set()).add(a)
    found = {}
    for (a, b) in pairs:
        for c in neighbors[a] | neighbors[b]:
            if c in (a, b):
                continue
            x, y, z = sorted((a, b, c))
            cut = (x, y, z)
            if cut not in found and cut not in known:
                pair_sum = sum(pairs.get(pair, 0.0) for pair in ((x, y), (x, z), (y, z)))
                both = pair_sum - 2 * triples.get(cut, 0.0)
                found[cut] = both - 1.0
    broken = [(excess, cut) for cut, excess in found.items() if excess > LEAST_VIOLATION]
    return [cut for _, cut in sorted(broken, key=lambda row: (-round(row[0], 9), row[1]))[:most]]


def table(problem: LoopProblem, cuts: tuple[Cut, ...], duals: Floats, stops: Ints) -> CutTable:
    """The cuts with a price (`duals`, one for each), by stop, for the kernel, of the `stops` [S] given."""
    priced = np.flatnonzero(duals < 0)
    if not priced.size:  # the most usual case by far
        none = np.zeros(0, np.int64)
        return CutTable(np.zeros(stops.size + 1, np.int64), none, none, np.zeros(0))
    counts = np.zeros((stops.size, priced.size), np.int64)
    for column, k in enumerate(priced):
        counts[:, column] = problem.amount[stops][:, list(cuts[k])].sum(axis=1).astype(np.int64)
    stop, which = np.nonzero(counts)
    first = np.searchsorted(stop, np.arange(stops.size + 1))
    return CutTable(first.astype(np.int64), which.astype(np.int64), counts[stop, which], -duals[priced])
