"""The cycle limits a loop may hold, and the snow that falls in one."""

import numpy as np

from optibuild.records.build import Floats
from optibuild.records.case import Case

SAME_MIN = 1e-6


def clocks(case: Case) -> Floats:
    """Every cycle limit a loop may hold [K, min], ascending: those of the works asked, and a grid below them.

    A step of the grid within 1e-6 min of an asked limit is left out, so that limits stay exactly as asked.
    Where all works wait for the last round, the time that it may take stands for one.
    """
    asked = sorted({limit for site in case.sites for limit in site.cycle_limits_min}
                   or {site.end_within_min for site in case.sites})
    step = case.assumptions.tau_step_min
    grid = [step * n for n in range(1, int(asked[-1] / step + SAME_MIN) + 1)]
    new = [clock for clock in grid if min(abs(clock - limit) for limit in asked) > SAME_MIN]
    return np.array(sorted(asked + new))


def design_depth_m(case: Case, clock_min: Floats) -> Floats:
    """Snow a loop of this cycle limit meets in the design storm [m]: rate x time, or the least depth."""
    return np.maximum(case.storm.snowfall_rate_m_per_min * clock_min, case.assumptions.least_depth_m)
