"""Which catalog items a build takes."""

import numpy as np

from optibuild.records.build import NONE, Builds, Floats, Ints
from optibuild.records.case import Case


def item_uses(case: Case, builds: Builds, chosen: Ints) -> Floats:
    """How many of each of the case's items each chosen build takes [C, I]."""
    uses = np.zeros((len(chosen), len(case.items)))
    first = 0
    for index, count, size in ((builds.truck, 1, len(case.trucks)), (builds.plow, 1, len(case.plows)),
                               (builds.spreader, 1, len(case.spreaders)),
                               (builds.kit, builds.units, len(case.ballast))):
        taken = index[chosen]
        counts = np.broadcast_to(count, index.shape)[chosen]
        there = np.flatnonzero(taken != NONE)
        uses[there, first + taken[there]] = counts[there]
        first += size
    return uses
