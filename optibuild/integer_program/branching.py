"""Branches of the search, and where one is split: at totals that are whole in every plan."""

from dataclasses import dataclass, field
from math import ceil, floor, inf

import numpy as np

from optibuild.integer_program.pricer import Duals
from optibuild.integer_program.problem import Floats, LoopProblem
from optibuild.integer_program.relaxation import Fixed, Relaxation

WHOLE = 1e-5
"""How far from whole a total may be that counts as whole."""


@dataclass(order=True)
class Branch:
    """A part of the search: the `bound` [USD] known of it, and the counts it fixes; `fresh` where no way to a
    better plan was tried yet; the `duals` that prove the bound, once it has converged."""

    bound: float
    number: int
    fixed: Fixed = field(compare=False, default=())
    fresh: bool = field(compare=False, default=False)
    duals: Duals | None = field(compare=False, default=None)


def totals(problem: LoopProblem) -> list[Floats]:
    """Totals over the B builds that are whole in every plan, each [B]: loops, then uses of each item, the
    dearest first."""
    order = np.argsort(-problem.annual_usd, kind="stable")
    return [np.ones(problem.start.size), *(problem.uses[:, i] for i in order)]


def split(branch: Branch, relaxation: Relaxation, by: list[Floats], number: int, fresh: bool) -> list[Branch]:
    """The two sides of a converged branch at the first of the totals `by` [B], over the B builds, that is not
    whole, numbered from `number`; none where all are. The nearer side comes first; of `fresh` ones the other,
    which may be closed at once."""
    used = relaxation.loops_used()
    for weight in by:
        total = sum(float(weight[one.build]) * value for one, value in used)
        if abs(total - round(total)) > WHOLE:
            k = relaxation.count(weight)
            sides = [(-inf, float(floor(total))), (float(ceil(total)), inf)]
            fewer_nearer = total - floor(total) < 0.5
            return [Branch(branch.bound, number + n, (*branch.fixed, (k, low, high)), fresh)
                    for n, (low, high) in enumerate(sides if fewer_nearer != fresh else sides[::-1])]
    return []
