"""What is missing when no plan exists: which work no build can do, else how much money, how many drivers."""

from dataclasses import replace
from math import ceil, inf, isfinite

import numpy as np

from optibuild.pipeline import (
    LoopOutcome,
    LoopProblem,
    Stages,
    drivers_a_truck,
    planned_stages,
    solve,
    unreachable,
)
from optibuild.records import Case, LeastBudget, Looser, Shortfall

SECONDS = 30.0
"""Longest search for each of the least budget and the least number of loops."""
NOISE = 1e-6


def shortfall(case: Case, made: Stages | None = None) -> Shortfall:
    """Works of must-serve sites that no build can do; where there are none, what the limits would have to be.

    `made` saves computing the stages again. The least budget is that of serving every must-serve site; it is
    None where no budget is given or none would be enough.
    """
    made = made or planned_stages(case)
    away = unreachable(case, made.times)
    if away:
        return Shortfall(away, None, (), ())
    drivers = _drivers(case, made.problem)
    return Shortfall((), _least_budget(case, made.problem, bool(drivers)), (), drivers)


def shows_no_plan(case: Case, found: Shortfall) -> bool:
    """Whether a shortfall proves that no plan exists: a work out of reach, or a limit too tight."""
    least = found.least_budget
    return bool(found.unreachable or found.looser) or (
        least is not None and least.bound_usd > case.money.budget_usd * (1.0 + NOISE) + NOISE)


def _least_budget(case: Case, problem: LoopProblem, any_drivers: bool) -> LeastBudget | None:
    """The least capital that serves every must-serve site: the same program with capital for its cost."""
    if not isfinite(case.money.budget_usd):
        return None
    asked = replace(_counting(case, problem), annual_usd=problem.price_usd, budget_usd=inf,
                    most_loops=inf if any_drivers else problem.most_loops)
    found = _solved(case, asked)
    if found.objective is None and not isfinite(found.bound):
        return None
    proved = found.proof == "proved best"
    bound = found.objective if proved and found.objective is not None else max(0.0, found.bound)
    return LeastBudget(found.objective, bound, proved)


def _drivers(case: Case, problem: LoopProblem) -> tuple[Looser, ...]:
    """The drivers that the least number of loops takes, where they are proved to be more than there are."""
    if not isfinite(problem.most_loops):
        return ()
    asked = replace(_counting(case, problem), fixed_usd=np.ones_like(problem.fixed_usd), budget_usd=inf,
                    most_loops=inf)
    found = _solved(case, asked)
    needed = ceil(found.bound - NOISE) if isfinite(found.bound) else 0
    if needed <= problem.most_loops:
        return ()
    return (Looser("drivers", case.crew.drivers, needed * drivers_a_truck(case), "drivers"),)


def _counting(case: Case, problem: LoopProblem) -> LoopProblem:
    """The program with nothing costing anything, sites that may be left out left out for nothing."""
    return replace(
        problem.without_money(), missed_usd=np.where(np.isinf(problem.missed_usd), inf, 0.0),
        constant_usd=0.0, gap=0.0, time_limit_s=min(case.solve.time_limit_s, SECONDS))


def _solved(case: Case, problem: LoopProblem) -> LoopOutcome:
    # `value` and `profit` shape the money, which is replaced here
    return solve(replace(case, question="cover"), problem)
