"""Questions where no plan exists: a program whose cost only counts something, a changed case solved anew."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from importlib.metadata import version
from itertools import chain
from math import inf, isfinite

import numpy as np

from optibuild.errors import RecheckFailed, StoppedWithoutPlan, TooLarge
from optibuild.pipeline import (
    Answer,
    LoopOutcome,
    LoopProblem,
    Progress,
    answer,
    earlier_loops,
    planned_stages,
    solve,
    unreachable,
)
from optibuild.records import Case, ChosenLoop, Plan
from optibuild.records.provenance import OfPlan

Tell = Callable[[Progress], None] | None
SECONDS = 30.0
"""Longest search for each of the answers."""
NOISE = 1e-6


def counting(case: Case, problem: LoopProblem, seconds: float = SECONDS) -> LoopProblem:
    """The program with nothing costing anything, sites that may be left out left out for nothing."""
    return replace(
        problem.without_money(), missed_usd=np.where(np.isinf(problem.missed_usd), inf, 0.0),
        constant_usd=0.0, gap=0.0, time_limit_s=min(case.solve.time_limit_s, seconds))


def solved(case: Case, problem: LoopProblem) -> LoopOutcome:
    """The program's answer. KeyboardInterrupt where the user ended the search."""
    # `value` and `profit` shape the money, which counts something else here
    found = solve(replace(case, question="cover"), problem)
    if found.stopped == "interrupted":
        raise KeyboardInterrupt
    return found


def least_whole(found: LoopOutcome) -> int | None:
    """The least that a program which counts whole things is proved to come to; None where nothing is."""
    return int(np.ceil(found.bound - NOISE)) if np.isfinite(found.bound) else None


@dataclass(frozen=True)
class Tried:
    """A changed case and whether it has a plan: None where the search ended before it was known."""

    case: Case
    possible: bool | None
    found: LoopOutcome | None = None


def tried(case: Case, seconds: float) -> Tried:
    """Whether a changed case has a plan that serves every site that must be served.

    Where there is a budget, the least capital is asked for instead: that more than the budget is needed is
    sooner proved so than that nothing is within it.
    """
    try:
        made = planned_stages(case)
    except TooLarge:
        return Tried(case, None)
    if unreachable(case, made.times):
        return Tried(case, False)
    asked, most_usd = counting(case, made.problem, seconds), case.money.budget_usd
    if isfinite(most_usd):
        asked = replace(asked, annual_usd=made.problem.price_usd, budget_usd=inf)
    found = solved(case, asked)
    if found.objective is not None and found.objective <= most_usd + NOISE:
        return Tried(case, True, found)
    return Tried(case, False if found.bound > most_usd * (1.0 + NOISE) + NOISE or
                 found.stopped == "no plan exists" else None)


def confirmed(case: Case, found: LoopOutcome | None) -> bool:
    """Whether the loops that a program found are a plan of the case, solved as any and rechecked."""
    return found is not None and planned(case, found, 1.0, 1.0) is not None


def planned(case: Case, found: LoopOutcome, gap: float, seconds: float) -> Plan | None:
    """The plan of a case, its search begun with the loops that a program found; None where there is none.
    KeyboardInterrupt where the user ended the search."""
    settings = replace(case.solve, gap=gap, time_limit_s=min(case.solve.time_limit_s, seconds))
    asked = replace(case, question="cover", solve=settings)
    loops = [ChosenLoop(one.build, one.clock, one.stops, one.reload_before, one.end_reload_before)
             for one, count in found.loops for _ in range(count)]
    try:
        plan = answer(asked, None, lambda _: loops).plan
    except RecheckFailed:
        return None
    except StoppedWithoutPlan as stopped:
        if stopped.interrupted:
            raise KeyboardInterrupt from None
        return None
    if plan.outcome.stopped == "interrupted":
        raise KeyboardInterrupt
    return plan if plan.money is not None else None


def solved_again(case: Case, plan: Plan, progress: Tell = None) -> Answer | None:
    """A changed case solved to the end from a plan in hand; None where the search ended before any plan.
    KeyboardInterrupt where the user ended it, in whichever of its parts."""
    interrupted = False

    def tell(at: Progress) -> None:
        nonlocal interrupted
        try:
            if progress:
                progress(at)
        except KeyboardInterrupt:
            interrupted = True
            raise

    try:
        found = answer(case, tell, lambda made: chain(*earlier_loops(made, plan)))
    except StoppedWithoutPlan as stopped:
        if stopped.interrupted:
            raise KeyboardInterrupt from None
        return None
    if interrupted or found.plan.outcome.stopped == "interrupted":
        raise KeyboardInterrupt
    return found


def of_plan(plan: Plan) -> OfPlan:
    """Which plan something is told of, and by which version of this program."""
    return OfPlan(version("optibuild"), plan.case, plan.outcome)


def optional(case: Case, sites: Iterable[str]) -> Case:
    """The case in which these sites may be left out."""
    chosen = set(sites)
    return replace(case, sites=tuple(replace(site, must_serve=False) if site.id in chosen else site
                                     for site in case.sites))
