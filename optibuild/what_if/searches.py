"""The searches of a frontier: most contract value, least capital or fewest trucks for it, its least cost."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import chain
from math import inf

import numpy as np

from optibuild.errors import RecheckFailed
from optibuild.pipeline import (
    LoopOutcome,
    LoopProblem,
    Progress,
    Stages,
    assemble,
    earlier_loops,
    least_cost_at,
    measured,
    recheck,
    solve,
)
from optibuild.records import Plan

NOISE = 1e-9
SHARE = 0.25
"""Share of the case's time limit that one search may take."""


class Enough(Exception):
    """So many searches were made as may be."""


@dataclass
class Searches:
    """Asks programs one after another, each from the loops of a plan at hand, and counts them."""

    most: int
    progress: Callable[[Progress], None] | None
    made: int = 0

    def ask(self, made: Stages, problem: LoopProblem, start: Plan | None,
            share: float = SHARE) -> LoopOutcome:
        """The program's answer at gap 0. Enough where no more may be asked."""
        if self.made >= self.most:
            raise Enough
        self.made += 1
        asked = replace(problem, gap=0.0, time_limit_s=share * made.case.solve.time_limit_s)
        return self._solved(made, asked, start)

    def _solved(self, made: Stages, problem: LoopProblem, start: Plan | None) -> LoopOutcome:
        loops = tuple(chain(*earlier_loops(made, start))) if start else ()
        # the case's own question would shape the money, which counts something else here
        found = solve(replace(made.case, question="cover"), problem, self.progress, loops)
        return replace(found, missed=_missed(problem, found))

    def least_cost(self, made: Stages, plan: Plan) -> Plan:
        """The plan of least cost that covers what a plan does, rechecked; not counted. KeyboardInterrupt
        where the user ended the search, RecheckFailed where a promise does not hold."""
        out = tuple(n for n, site in enumerate(plan.sites) if not site.served)
        asked = replace(least_cost_at(made.problem, out),
                        time_limit_s=SHARE * made.case.solve.time_limit_s)
        found = self._solved(made, asked, plan)
        if found.stopped == "interrupted":
            raise KeyboardInterrupt
        best = plan_of(made, found) if found.objective is not None else plan
        checked = recheck(best, made.case)
        if not checked.passed:
            broken = "; ".join(f"{row.name} ({row.where})" for row in checked.checks if not row.passed)
            raise RecheckFailed(f"a step was not written: its plan fails its recheck: {broken}")
        return replace(best, recheck=checked)


def _missed(problem: LoopProblem, found: LoopOutcome) -> tuple[int, ...]:
    """The groups that the loops leave out: a search in which it costs nothing may call others so."""
    if found.objective is None:
        return found.missed
    done = np.zeros(problem.need.size)
    for loop, times in found.loops:
        for work, amount in loop.covers:
            done[work] += times * amount
    short = problem.group[done < problem.need - NOISE]
    return tuple(int(n) for n in np.unique(short))


def plan_of(made: Stages, found: LoopOutcome) -> Plan:
    """The answer of whatever program as a plan of the case; nothing is claimed of how good it is.

    Stops at sites that are left out, which cost nothing in some programs, are dropped.
    """
    plan = _assembled(made, found)
    served = {site.id for site in plan.sites if site.served}
    trucks = [replace(truck, loop=replace(truck.loop, stops=tuple(
        stop for stop in truck.loop.stops if stop.site in served))) for truck in plan.trucks]
    needed = replace(plan, trucks=tuple(truck for truck in trucks if truck.loop.stops))
    if needed == plan:
        return plan
    loops = [same[0] for same in earlier_loops(made, needed) if same]
    if len(loops) < len(needed.trucks):
        return plan
    columns = measured(made.problem, loops)
    used = made.problem.uses[[one.build for one in columns]].sum(axis=0)
    owned = np.minimum(used, made.problem.owned)
    return _assembled(made, replace(found, loops=tuple((one, 1) for one in columns), bought=used - owned,
                                    owned_used=owned))


def _assembled(made: Stages, found: LoopOutcome) -> Plan:
    worth = made.problem.worth
    covered = float(worth.sum() - worth[list(found.missed)].sum())
    return assemble(made, replace(found, proof="best found", stopped="time limit", objective=-covered,
                                  bound=-inf, gap=None))


def most_value(problem: LoopProblem) -> LoopProblem:
    """The program for the most contract value: its objective is that value, less than nothing."""
    return replace(problem.without_money(), constant_usd=-float(problem.worth.sum()))


def least_capital(problem: LoopProblem, least_usd: float) -> LoopProblem:
    """The program for the least capital that covers so much contract value."""
    return replace(_for_nothing(problem, least_usd), annual_usd=problem.price_usd, budget_usd=inf)


def fewest_trucks(problem: LoopProblem, least_usd: float) -> LoopProblem:
    """The program for the fewest trucks that cover so much contract value."""
    return replace(_for_nothing(problem, least_usd), fixed_usd=np.ones_like(problem.fixed_usd),
                   most_loops=inf)


def _for_nothing(problem: LoopProblem, least_usd: float) -> LoopProblem:
    """The program in which nothing costs anything, so much contract value being covered."""
    out = float(problem.worth.sum()) - least_usd
    return replace(problem.without_money(), constant_usd=0.0,
                   missed_usd=np.where(np.isinf(problem.missed_usd), inf, 0.0),
                   most_missed_worth=out if least_usd > 0 else inf)

