"""The compiled functions made ready before the clock of a search runs.

On a machine's first run they are compiled, which takes longer than many a search, and later loaded from their
cache, which takes a second.
"""

from functools import cache

import numpy as np

from optibuild.integer_program.envelopes import grow
from optibuild.integer_program.labelling import EXISTS
from optibuild.integer_program.pricer import Duals, Pricer
from optibuild.integer_program.problem import EndRound, LoopProblem
from optibuild.integer_program.runs import run
from optibuild.integer_program.spreading import spread


@cache
def ready(with_end: bool) -> None:
    """Run each compiled function once, for problems with or without an end round of their own, on the
    smallest problem there is; its arrays have the types and the order in memory of every other's."""
    problem = _smallest(with_end)
    one, none = np.ones(1), np.zeros(0)
    duals = Duals(one, one, np.zeros(1), (), none, none, 0.0, 1.0, 0.0)
    leaf, = grow(problem)
    view = Pricer(problem, lambda: False).view(leaf, 0, duals, EXISTS, 0.0)
    if view is not None:
        # columns of a table of one row would lie in memory as no others do
        run(view, EXISTS, 0.0, most_labels=2)
    spread(problem, [(0,)], leaf.builds, duals, 0.0)


def _smallest(with_end: bool) -> LoopProblem:
    """One build, one clock and one stop, which takes no time and costs nothing."""
    one, pair, cube, none = np.ones(1), np.zeros((1, 1)), np.zeros((1, 1, 1)), np.zeros(0)
    ways, depot = np.zeros((2, 2)), np.zeros(1, np.int64)
    return LoopProblem(
        cycle_limit_min=one, minutes=cube, stop_limit_min=one, deadline_min=np.full(1, np.inf),
        place=np.ones(1, np.int64), amount=np.ones((1, 1)), need=one, travel_min=ways, distance_m=ways,
        start=depot, end=depot, fixed_usd=one, drive_usd_per_min=pair, drive_usd_per_m=pair, stop_usd=cube,
        material_kg=np.zeros(1), fill_kg=one, reload_min=one, may_reload=True, group=depot, missed_usd=one,
        uses=np.zeros((1, 0)), price_usd=none, annual_usd=none, owned=none, upkeep_usd=none, available=none,
        end_round=EndRound(cube, one, one, np.zeros(1, bool), pair, pair) if with_end else None)
