"""By how much less works must be worth for loops to pay no more, where a sweep found few that pay."""

import numpy as np

from optibuild.integer_program.columns import Column
from optibuild.integer_program.problem import Floats


def lowered(loops: list[Column], reduced: list[float], works: Floats) -> Floats:
    """By how much less each work must be worth [T] for these loops to have no negative reduced cost: the
    works that most of them do pay."""
    shared = np.zeros(works.size)
    for one in loops:
        for work, _ in one.covers:
            shared[work] += 1
    less = np.zeros(works.size)
    for missing, one in sorted(zip(reduced, loops, strict=True), key=lambda row: (row[0], row[1].key)):
        missing += sum(amount * less[work] for work, amount in one.covers)
        for work, amount in sorted(one.covers, key=lambda row: (-shared[row[0]], row[0])):
            if missing < 0:
                part = min(-missing / amount, works[work] - less[work])
                less[work] += part
                missing += part * amount
    return less
