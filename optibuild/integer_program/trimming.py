"""Plans as they are kept: nothing is done more often than it must be."""

import numpy as np

from optibuild.integer_program.columns import Column, column
from optibuild.integer_program.master import Chosen, tally
from optibuild.integer_program.parts import Times, covered
from optibuild.integer_program.problem import Ints, LoopProblem

NOISE = 1e-9


def plan_of(problem: LoopProblem, loops: list[Column]) -> Chosen | None:
    """The plan that runs these loops, missing what they do not do; None where that breaks a limit."""
    times = merged(tuple((one, 1) for one in loops))
    missed = undone(problem, times)
    if np.isinf(problem.missed_usd[missed]).any() or len(loops) > problem.most_loops:
        return None
    if problem.worth.size and problem.worth[missed].sum() > problem.most_missed_worth + NOISE:
        return None
    plan = tally(problem, times, tuple(missed.tolist()))
    too_many = (plan.bought > problem.available + NOISE).any()
    too_dear = float((plan.bought * problem.price_usd).sum()) > problem.budget_usd + NOISE
    return None if too_many or too_dear else plan


def undone(problem: LoopProblem, times: Times) -> Ints:
    """Groups of works that these loops leave undone, G of them [G]."""
    return np.unique(problem.group[covered(problem, times) < problem.need - NOISE])


def merged(times: Times) -> Times:
    """The same loops with each one once."""
    total: dict[object, tuple[Column, int]] = {}
    for one, n in times:
        total[one.key] = one, total.get(one.key, (one, 0))[1] + n
    return tuple(total.values())


def trimmed(problem: LoopProblem, plan: Chosen) -> Chosen:
    """The plan without the stops that do again what other loops do, the dearest ones left out first.

    Where drives obey the triangle inequality, a loop without one of its stops is as possible as before.
    """
    while problem.triangle:
        spare = covered(problem, plan.times) - problem.need
        best: tuple[float, Column, tuple[Column, ...]] | None = None
        for one, _ in plan.times if (spare > NOISE).any() else ():
            for k, stop in enumerate(one.stops):
                if (problem.amount[stop] <= spare + NOISE).all():
                    rest = _without(problem, one, k)
                    saved = one.cost_usd - sum(other.cost_usd for other in rest)
                    if saved > NOISE and (best is None or saved > best[0]):
                        best = saved, one, rest
        if best is None:
            return plan
        _, gone, instead = best
        times = tuple((one, n - (one is gone)) for one, n in plan.times) + tuple((one, 1) for one in instead)
        plan = tally(problem, merged(tuple((one, n) for one, n in times if n)), plan.missed)
    return plan


def _without(problem: LoopProblem, one: Column, k: int) -> tuple[Column, ...]:
    """A loop without its k-th stop; nothing where that was the only one. A reload before it is made before
    the next."""
    if len(one.stops) == 1:
        return ()

    def flags(before: tuple[bool, ...]) -> tuple[bool, ...]:
        kept = list(before)
        if kept and k + 1 < len(kept):
            kept[k + 1] = kept[k + 1] or kept[k]
        return tuple(kept[:k] + kept[k + 1:])

    return (column(problem, one.build, one.clock, one.stops[:k] + one.stops[k + 1:],
                   flags(one.reload_before), flags(one.end_reload_before)),)
