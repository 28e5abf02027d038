"""Limits that are too tight whatever cycle limits and sites: items that run out, drivers, the budget.

In this order: what is short is raised before the next is looked at, so that all together suffice.
"""

from dataclasses import dataclass, replace
from math import inf, isfinite
from typing import Any

import numpy as np

from optibuild.explain.asking import NOISE, SECONDS, confirmed, counting, least_whole, planned, solved
from optibuild.pipeline import LoopOutcome, LoopProblem, drivers_a_truck
from optibuild.records import Case, LeastBudget, Looser
from optibuild.records.shortfall import Way


@dataclass(frozen=True)
class Limits:
    """What the limits would have to be together: rows of items and drivers, the least budget."""

    least_budget: LeastBudget | None
    looser: tuple[Looser, ...]


def limits_needed(case: Case, problem: LoopProblem) -> Limits:
    """What is short of items that run out, whatever budget and drivers; of drivers, whatever the budget; and
    the least budget, None where there is no budget or none is enough."""
    free = replace(problem, budget_usd=inf, most_loops=inf)
    items, last = _items_short(case, free)
    problem, raised = raised_by(problem, items), with_items(case, problem, items)
    drivers, counted = _drivers_short(case, problem)
    if drivers:
        most = drivers.needed / drivers_a_truck(case)
        problem = replace(problem, most_loops=max(most, problem.most_loops))
        raised = replace(raised, crew=replace(case.crew, drivers=drivers.needed))
    least, cheapest = _least_budget(case, problem)
    rows = (*_item_rows(case, problem, items, "limits", _proved(last)), *((drivers,) if drivers else ()))
    if least and cheapest and least.usd is not None and least.usd > case.money.budget_usd + NOISE:
        raised = replace(raised, money=replace(case.money, budget_usd=least.usd))
        least = _costed(raised, least, cheapest)
        sure = least.confirmed
    else:
        sure = bool(rows) and confirmed(raised, cheapest or counted or last)
    return Limits(least, tuple(replace(row, confirmed=sure) for row in rows))


def drivers_instead(case: Case, problem: LoopProblem) -> tuple[Looser, ...]:
    """The drivers that would do with budget and items as they are; none where that does not help."""
    if not isfinite(problem.most_loops):
        return ()
    found = solved(case, _one_a_loop(case, problem))
    if found.objective is None or found.objective <= problem.most_loops:
        return ()
    row = replace(_drivers_row(case, round(found.objective), least_whole(found)), way="drivers")
    changed = replace(case, crew=replace(case.crew, drivers=row.needed))
    return (replace(row, confirmed=confirmed(changed, found)),)


def items_instead(case: Case, problem: LoopProblem) -> tuple[Looser, ...]:
    """The further units of items that run out which would do with budget and drivers as they are, for a case
    that is proved to have no plan; none where that does not help. Under a budget they are proved least only
    where they are a single one."""
    runs_out = _run_out(problem)
    if not runs_out.any():
        return ()
    if isfinite(problem.budget_usd):
        # every unit bought counts: those that can be had are not told from further ones, which cost alike
        free = counting(case, problem)
        found = solved(case, replace(free, annual_usd=np.where(runs_out, 1.0, 0.0),
                                     available=np.where(runs_out, inf, problem.available)))
        extra = _beyond(problem, found)
        proved = extra.sum() == 1
    else:
        found = solved(case, _one_a_unit(case, problem))
        extra, proved = _extra(problem, found), _proved(found)
    if not extra.any():
        return ()
    sure = confirmed(with_items(case, problem, extra), found)
    return tuple(replace(row, confirmed=sure) for row in _item_rows(case, problem, extra, "items", proved))


def with_items(case: Case, problem: LoopProblem, extra: np.ndarray) -> Case:
    """The case in which so many more of each item [I] can be had."""
    more = {item.id: float(n) for item, n in zip(case.items, extra, strict=True) if n}
    if not more:
        return case
    tables: dict[str, Any] = {
        table: tuple(replace(item, available=item.available + more[item.id]) if item.id in more else item
                     for item in getattr(case, table))
        for table in ("trucks", "plows", "spreaders", "ballast")}
    return replace(case, **tables)


def raised_by(problem: LoopProblem, extra: np.ndarray) -> LoopProblem:
    """The program in which so many more of each item [I] can be had."""
    return replace(problem, available=problem.available + extra) if extra.any() else problem


# ---- items


def _run_out(problem: LoopProblem) -> np.ndarray:
    """Items that some build uses and of which only so many can be had [I]."""
    return np.asarray(np.isfinite(problem.available) & (problem.uses > 0).any(axis=0))


def _items_short(case: Case, problem: LoopProblem) -> tuple[np.ndarray, LoopOutcome | None]:
    """The least further units of items [I] with which a plan exists, and the plan."""
    if not _run_out(problem).any():
        return np.zeros(problem.available.size), None
    found = solved(case, _one_a_unit(case, problem))
    return _extra(problem, found), found


def _one_a_unit(case: Case, problem: LoopProblem) -> LoopProblem:
    """The program, without budget, that counts units beyond those owned and available: these are as owned,
    and further ones are bought at 1 each."""
    few = _run_out(problem)
    free = counting(case, replace(problem, budget_usd=inf))
    return replace(free, owned=np.where(few, problem.owned + problem.available, problem.owned),
                   annual_usd=np.where(few, 1.0, 0.0), available=np.where(few, inf, problem.available))


def _extra(problem: LoopProblem, found: LoopOutcome) -> np.ndarray:
    """Units beyond those owned and available [I] in an answer of `_one_a_unit`."""
    if found.objective is None:
        return np.zeros(problem.available.size)
    return np.where(_run_out(problem), np.rint(found.bought), 0.0)


def _beyond(problem: LoopProblem, found: LoopOutcome) -> np.ndarray:
    """Units bought beyond those available [I]."""
    if found.objective is None:
        return np.zeros(problem.available.size)
    return np.maximum(0.0, np.rint(found.bought) - np.where(_run_out(problem), problem.available, inf))


def _proved(found: LoopOutcome | None) -> bool:
    return found is not None and found.proof == "proved best"


def _item_rows(case: Case, problem: LoopProblem, extra: np.ndarray, way: Way,
               proved: bool) -> tuple[Looser, ...]:
    """A row for every item of which more is needed, in what can be bought."""
    return tuple(
        Looser("available", item.available, item.available + n, "units", of=item.id, way=way,
               not_enough=item.available + n - 1 if proved else None)
        for item, n in zip(case.items, extra.tolist(), strict=True) if n)


# ---- drivers


def _drivers_short(case: Case, problem: LoopProblem) -> tuple[Looser | None, LoopOutcome | None]:
    """The drivers that it takes whatever the budget, where they are proved to be more than there are, and the
    plan of fewest trucks."""
    if not isfinite(problem.most_loops):
        return None, None
    found = solved(case, _one_a_loop(case, replace(problem, budget_usd=inf)))
    least = least_whole(found)
    if least is None or least <= problem.most_loops:
        return None, found if found.objective is not None else None
    if found.objective is None:
        return _drivers_row(case, least, least), None
    return _drivers_row(case, round(found.objective), least), found


def _one_a_loop(case: Case, problem: LoopProblem) -> LoopProblem:
    """The program that counts loops, as many as there may be."""
    return replace(counting(case, problem), fixed_usd=np.ones_like(problem.fixed_usd), most_loops=inf)


def _drivers_row(case: Case, trucks: int, least: int | None) -> Looser:
    each = drivers_a_truck(case)
    return Looser("drivers", case.crew.drivers, float(trucks * each), "drivers",
                  not_enough=float(least * each - 1) if least else None)


# ---- the budget


def _least_budget(case: Case, problem: LoopProblem) -> tuple[LeastBudget | None, LoopOutcome | None]:
    """The least capital that serves every site that must be served, the program with capital for its cost."""
    if not isfinite(case.money.budget_usd):
        return None, None
    found = solved(case, replace(counting(case, problem), annual_usd=problem.price_usd, budget_usd=inf))
    if found.objective is None and not isfinite(found.bound):
        return None, None
    proved = found.proof == "proved best"
    bound = found.objective if proved and found.objective is not None else max(0.0, found.bound)
    return LeastBudget(found.objective, bound, proved), found if found.objective is not None else None


def _costed(case: Case, least: LeastBudget, found: LoopOutcome) -> LeastBudget:
    """The least budget with the season cost of the case that has it, in which sites that may be left out are
    worth nothing."""
    sites = tuple(site if site.must_serve else replace(site, pay_by=None, pay_usd=0.0) for site in case.sites)
    plan = planned(replace(case, sites=sites), found, case.solve.gap, SECONDS)
    if plan is None:
        return least
    outcome = plan.outcome
    return replace(least, cost_usd=outcome.cost_usd, cost_bound_usd=outcome.bound_usd,
                   cost_proved=outcome.proof == "proved best", confirmed=True)
