"""Which sites to leave out where not all can be served: those of least contract value."""

from dataclasses import replace

import numpy as np

from optibuild.explain.asking import NOISE, confirmed, counting, optional, solved
from optibuild.pipeline import LoopProblem
from optibuild.records import Case, LostValue


def least_left_out(case: Case, problem: LoopProblem) -> tuple[tuple[str, ...], LostValue | None]:
    """The must-serve sites of least contract value to leave out, budget, drivers and items being as they are,
    and that value; nothing where all can be served or the search found no answer.

    Cost does not count, nor does the value of sites that may be left out anyway. A site without contract
    value counts 1 USD.
    """
    must = np.isinf(problem.missed_usd)
    lost = np.where(must, np.where(problem.worth > 0, problem.worth, 1.0), 0.0)
    found = solved(case, replace(counting(case, problem), missed_usd=lost))
    out = tuple(case.sites[n].id for n in found.missed if must[n])
    if found.objective is None or not out:
        return (), None
    ones = tuple(site.id for n, site in enumerate(case.sites) if must[n] and problem.worth[n] <= 0)
    proved = found.proof == "proved best"
    bound = found.objective if proved else max(0.0, found.bound)
    return out, LostValue(found.objective, bound, proved, ones, confirmed(optional(case, out), found))


def surely_lost(lost: LostValue | None) -> bool:
    """Whether some contract value is proved to be lost: then no plan serves every site that must be."""
    return lost is not None and lost.bound_usd > NOISE
