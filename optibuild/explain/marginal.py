"""What a plan would save without one of its sites: below that price a site is better declined."""

from collections.abc import Callable, Collection, Sequence
from dataclasses import replace
from itertools import chain

import numpy as np

from optibuild.pipeline import (
    LoopProblem,
    Progress,
    Stages,
    earlier_loops,
    least_cost_at,
    planned_stages,
    solve,
)
from optibuild.records import Case, ChosenLoop, Marginal, Plan

Tell = Callable[[Progress], None] | None


def marginal_costs(case: Case, plan: Plan, without: Collection[str] = (),
                   progress: Tell = None) -> tuple[Marginal, ...]:
    """For every site that a plan serves its share of the cost, and what the best plan without it could save
    at most, as the plan's own duals prove; for those of `without` what a plan found without it saves.

    Marginal costs do not sum to the plan's cost: what several sites need together is saved by none alone.
    """
    made = planned_stages(case) if without else None
    known = tuple(chain(*earlier_loops(made, plan))) if made else ()
    found = []
    for n, site in enumerate(plan.sites):
        if site.cost_usd is None:
            continue
        row = Marginal(site.id, site.cost_usd, site.marginal_most_usd, None)
        found.append(_solved(made, plan, n, row, known, progress) if made and site.id in without else row)
    return tuple(found)


def _solved(made: Stages, plan: Plan, n: int, row: Marginal, known: Sequence[ChosenLoop],
            progress: Tell) -> Marginal:
    """The row with the site left out for nothing, solved from the plan in hand: it never costs more."""
    value = made.case.question == "value"
    whole = plan.outcome.cost_usd if value else plan.outcome.objective_usd
    left_out = tuple(k for k, site in enumerate(plan.sites) if not site.served)
    problem = _without(least_cost_at(made.problem, left_out) if value else made.problem, n)
    found = solve(replace(made.case, question="cover") if value else made.case, problem, progress, known)
    if whole is None or found.objective is None:
        return row
    most = [usd for usd in (row.most_usd, max(0.0, whole - found.bound)) if usd is not None]
    return replace(row, most_usd=min(most), saved_usd=max(0.0, whole - found.objective))


def _without(problem: LoopProblem, n: int) -> LoopProblem:
    """The program in which a site may be left out for nothing, whatever else is limited."""
    missed, worth = problem.missed_usd.copy(), problem.worth.copy()
    missed[n] = worth[n] = 0.0
    return replace(problem, missed_usd=missed, worth=np.asarray(worth))
