"""A plan out of the relaxation: loops that it nearly runs whole are run, and what they leave is priced anew
at what it is worth then, until so little is left that it can be planned well as a problem of its own.

Diving with column generation: Sadykov, Vanderbeck, Pessoa, Tahiri, Uchoa 2019, INFORMS J. Comput. 31:251-267.
"""

from math import ceil, floor

from optibuild.integer_program.cycles import elementary
from optibuild.integer_program.generation import Generation
from optibuild.integer_program.parts import Times, covered
from optibuild.integer_program.relaxation import Relaxation

NEARLY, HALF, AT_ONCE = 0.8, 0.5, 0.08
"""Parts of a loop from which it is run whole; from which it is while such are this share of those left."""
NOISE = 1e-6

Counts = dict[int, int]
"""Columns by number with how often each is run."""


def dive(generation: Generation, little: float) -> Times:
    """Loops to run, until they leave at most `little` of all works; fewer where rows of items or money allow
    no more, or time ends. The relaxation holds the loops met on the way, and is as free as before."""
    relaxation = generation.relaxation
    run: Counts = {}
    barred: set[int] = set()
    try:
        while not generation.out_of_time() and _left(generation, run) > little:
            more = _nearest(generation, run, barred)
            if not more:
                break
            first = dict(list(more.items())[:1])
            if _runs(relaxation, run, more) or _runs(relaxation, run, first):
                _price(generation, run)
            else:
                barred |= first.keys()
    finally:
        relaxation.run_at_least(dict.fromkeys(run, 0))
    return _times(relaxation, run)


def _times(relaxation: Relaxation, run: Counts) -> Times:
    return tuple((relaxation.columns[k], n) for k, n in run.items())


def _left(generation: Generation, run: Counts) -> float:
    """How much of all works these loops leave."""
    left = generation.problem.need - covered(generation.problem, _times(generation.relaxation, run))
    return float(left[left > 0].sum())


def _nearest(generation: Generation, run: Counts, barred: set[int]) -> Counts:
    """Loops to run besides, and how often more: those that the relaxation runs whole, and of the others
    those nearest to it, one at the least. Loops that come back to a place are none of a plan."""
    relaxation = generation.relaxation
    parts = []
    for one, value in relaxation.loops_used():
        k = relaxation.number[one.key]
        more = value - run.get(k, 0)
        if more > NOISE and k not in barred and elementary(generation.problem, one):
            parts.append((more - floor(more + NOISE), k, floor(more + NOISE)))
    chosen: Counts = {}
    enough = AT_ONCE * sum(part + whole for part, _, whole in parts)
    for part, k, whole in sorted(parts, key=lambda row: (-row[0], row[1])):
        if part >= NEARLY or part > HALF and len(chosen) < enough or not chosen:
            whole += ceil(part - NOISE)
        if whole > 0:
            chosen[k] = whole
    return chosen


def _runs(relaxation: Relaxation, run: Counts, more: Counts) -> bool:
    """Whether the relaxation can run these loops too; if so they are of the run ones from now on."""
    relaxation.run_at_least({k: run.get(k, 0) + n for k, n in more.items()})
    try:
        relaxation.solve()
    except RuntimeError:  # the rows of items or money allow no more
        relaxation.run_at_least({k: run.get(k, 0) for k in more})
        return False
    run.update({k: run.get(k, 0) + n for k, n in more.items()})
    return True


def _price(generation: Generation, run: Counts) -> None:
    """Loops anew for what is left, of the builds and clocks that the relaxation runs in part."""
    relaxation = generation.relaxation
    pairs = {(one.build, one.clock) for one, value in relaxation.loops_used()
             if value > run.get(relaxation.number[one.key], 0) + NOISE}
    leaves = generation.pricer.leaves
    nodes = [(leaves[build], clock) for build, clock in sorted(pairs) if build in leaves]
    if generation.price(nodes, relaxation.duals(), proving=False):
        relaxation.solve()
