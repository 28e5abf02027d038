"""Solves a case and its variations, and again those whose difference from the base is not sure."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from math import inf

from optibuild.records import Case, Plan, PlannedCase, Variant
from optibuild.records.comparison import Comparison
from optibuild.what_if.compare import compare, objective_range
from optibuild.what_if.workers import Lost

FURTHER = ((0.5, 2.0), (0.0, 4.0), (0.0, 8.0))
"""How often, and how far, is solved further: the asked gap and time limit times these."""
Solve = Callable[[Sequence[Case]], Sequence[Plan | None]]
"""The plans of cases, of which the first is the base; None where a search ended without one."""


@dataclass(frozen=True)
class Varied:
    """A comparison, and the plans behind it in the order of its rows (None: no plan was found)."""

    comparison: Comparison
    plans: tuple[Plan | None, ...]


def vary(variants: Sequence[Variant], solve: Solve, settle: bool = False) -> Varied:
    """The variants, base first, solved and compared. Solved are the cases without their name and the files
    they were read from, so that a result stays good when something else in these changes; each plan tells
    them.

    With `settle`, cases whose difference from the base is undecided, the base with them, and cells of two-way
    sweeps whose plan is not proved best are solved further until all is decided, at most as often as
    `FURTHER` has entries; a plan takes the place of an earlier one where it leaves less of a gap. An
    interruption ends that with what is known. Lost names variations whose process is lost again and again.
    """
    cases = [replace(row.case, name="", given_as="", inputs=()) for row in variants]
    plans = list(_solved(solve, cases, variants))
    rounds = 0
    found = compare(variants, plans)
    try:
        for gap, time in FURTHER if settle else ():
            open_rows = _open_rows(found, plans)
            if not open_rows:
                break
            asked = [_further(cases[n], gap, time) if n in open_rows else cases[n] for n in range(len(cases))]
            chosen = sorted({0, *open_rows})
            for n, plan in zip(chosen, _solved(solve, [asked[n] for n in chosen],
                                            [variants[n] for n in chosen]), strict=True):
                plans[n] = _better(plans[n], plan)
            rounds += 1
            found = compare(variants, plans, rounds)
    except KeyboardInterrupt:
        found = replace(found, interrupted=True)
    return Varied(found, tuple(None if plan is None else _told(plan, row, bool(n))
                               for n, (plan, row) in enumerate(zip(plans, variants, strict=True))))


def _solved(solve: Solve, cases: Sequence[Case], variants: Sequence[Variant]) -> Sequence[Plan | None]:
    """The plans of cases, whose variants are named where they are lost."""
    try:
        return solve(cases)
    except Lost as lost:
        raise Lost({n: variants[n].name for n in lost.numbers}, lost.often) from None


def _open_rows(found: Comparison, plans: Sequence[Plan | None]) -> set[int]:
    """The cases to solve further: what is undecided, the base with it, save what is proved already."""
    number = {row.name: n for n, row in enumerate(found.rows)}
    asked = {number[name] for name in found.undecided}
    if asked:
        asked.add(0)
    asked |= {number[cell.name] for one in found.maps for cell in one.cells if not cell.decided}
    return {n for n in asked if not _is_settled(plans[n])}


def _is_settled(plan: Plan | None) -> bool:
    return plan is not None and (plan.outcome.proof == "proved best" or plan.money is None)


def _further(case: Case, gap: float, time: float) -> Case:
    """The case with its gap and its time limit times these."""
    settings = case.solve
    return replace(case, solve=replace(settings, gap=gap * settings.gap,
                                       time_limit_s=time * settings.time_limit_s))


def _better(before: Plan | None, after: Plan | None) -> Plan | None:
    """The one that says more: none exists, or the less gap."""
    if before is None or after is None:
        return after or before
    return after if after.money is None or _left(after) <= _left(before) else before


def _left(plan: Plan) -> tuple[float, float]:
    least, most = objective_range(plan)
    return (most - least if least > -inf else inf, most)


def _told(plan: Plan, variant: Variant, varied: bool) -> Plan:
    """The plan with the case that it was made for."""
    case = variant.case
    return replace(plan, case=PlannedCase(case.name, case.question, case.given_as, dict(case.inputs),
                                          variant.name if varied else None))
