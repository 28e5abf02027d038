"""What a plan says of itself: how good it is, and which assumptions it rests on."""

from collections.abc import Iterator
from dataclasses import fields

from optibuild.plan.recheck_margins import Margin, at_most, claim, same
from optibuild.plan.recheck_roads import circuity
from optibuild.records import Case, Outcome, Plan

PROVED_GAP = 1e-6
LEAST_MONEY_USD = 0.01


def bound_margins(plan: Plan) -> Iterator[Margin]:
    """The bound does not lie above the objective [USD]."""
    objective, bound = plan.outcome.objective_usd, plan.outcome.bound_usd
    if objective is not None and bound is not None:
        yield at_most(bound, objective, "bound", 1e-6 * max(LEAST_MONEY_USD, abs(objective)))


def gap_margins(plan: Plan) -> Iterator[Margin]:
    """The gap is that of objective and bound; without a bound there is none."""
    outcome = plan.outcome
    if outcome.objective_usd is None or outcome.bound_usd is None:
        yield same(outcome.gap, None, "gap")
    else:
        gap = (outcome.objective_usd - outcome.bound_usd) / max(abs(outcome.objective_usd), LEAST_MONEY_USD)
        yield same(outcome.gap, gap, "gap", 2.0 * PROVED_GAP)


def proof_margins(plan: Plan, case: Case) -> Iterator[Margin]:
    """The proof claimed is the one that the gap bears, at the gap that was asked; why the search ended goes
    with it, and nothing is said to be missing."""
    outcome = plan.outcome
    yield claim(outcome.proof == _proof(outcome, case), "proof")
    yield claim(outcome.asked_gap == case.solve.gap, "asked gap")
    bears = {"proved": ("proved best",), "gap reached": ("proved best", "within the asked gap"),
             "no plan exists": ()}
    yield claim(outcome.proof in bears.get(outcome.stopped, (outcome.proof,)), "stopped")
    yield claim(plan.shortfall is None, "shortfall")


def _proof(outcome: Outcome, case: Case) -> str:
    if outcome.gap is None or outcome.gap < 0.0:
        return "best found"
    if outcome.gap <= PROVED_GAP:
        return "proved best"
    return "within the asked gap" if outcome.gap <= case.solve.gap else "best found"


def nothing_margins(plan: Plan) -> Iterator[Margin]:
    """A plan without money has no trucks, items and sites, and its outcome says that none exists."""
    outcome = plan.outcome
    yield claim(not plan.trucks and not plan.items and not plan.sites, "trucks, items and sites")
    yield claim((outcome.proof, outcome.stopped) == ("none", "no plan exists"), "outcome")
    told = (outcome.objective_usd, outcome.bound_usd, outcome.gap, outcome.cost_usd)
    yield claim(told == (None,) * 4, "figures of the outcome")


def assumption_margins(plan: Plan, case: Case) -> Iterator[Margin]:
    """Every default figure is told once, in its unit, as the case has it, and whether the user changed it;
    a circuity fitted to the travel table is told as fitted."""
    figures = {field.name: getattr(case.assumptions, field.name) for field in fields(case.assumptions)
               if field.name != "overridden"}
    told = [f"{row.name}_{row.unit.replace('/', '_per_')}".rstrip("_") for row in plan.assumptions]
    yield claim(sorted(told) == sorted(figures), "list of assumptions")
    changed = set(case.assumptions.overridden)
    if case.storm.fit_circuity:
        figures["circuity"] = circuity(case)
        changed.add("circuity")
    for name, row in zip(told, plan.assumptions, strict=True):
        yield claim(row.overridden == (row.name in changed), f"{row.name}, changed by the user")
        if name in figures:
            yield same(row.value, float(figures[name]), row.name)
