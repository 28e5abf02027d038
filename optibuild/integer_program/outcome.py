"""What a solve returns: two separate facts about the plan, its loops, and the duals for explanations."""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from optibuild.integer_program.columns import Column
from optibuild.integer_program.problem import Floats, LoopProblem

Proof = Literal["proved best", "within the asked gap", "best found", "none"]
Stopped = Literal["proved", "gap reached", "time limit", "interrupted", "no plan exists"]

PROVED_GAP = 1e-6
"""A relative gap up to this is called proved best and reported as 0."""


@dataclass(frozen=True)
class Progress:
    """Where the search stands, for whoever watches: columns, bound and best cost so far."""

    columns: int
    bound: float
    best: float
    seconds: float


@dataclass(frozen=True)
class LoopOutcome:
    """The best loops found and what is proved of them.

    `proof` says what is known of the plan, `stopped` why the search ended. `loops` with how many trucks run
    each; `missed` groups; `bought`, `owned_used` [I]. `objective` and `bound` in USD, `gap` relative.
    `work_duals` [T] and `item_duals` [I] (lifted to a year's cost and the budget's price of the item where
    nobody owns it) come from the relaxation before it was split or cut, and `dual_bound` is what they prove
    (-inf where the search ended before). `columns` is how many loops were generated, `near` those of them
    that another search of a like problem may begin with.
    """

    proof: Proof
    stopped: Stopped
    objective: float | None
    bound: float
    gap: float | None
    loops: tuple[tuple[Column, int], ...]
    missed: tuple[int, ...]
    bought: Floats
    owned_used: Floats
    work_duals: Floats
    item_duals: Floats
    dual_bound: float
    columns: int
    seconds: float
    near: tuple[Column, ...] = ()


def proof(plan: object | None, gap: float | None, asked: float) -> Proof:
    """What is known of a plan (None: there is none) with this gap (None: no bound) to the one `asked`."""
    if plan is None:
        return "none"
    if gap == 0.0:
        return "proved best"
    return "best found" if gap is None or gap > asked else "within the asked gap"


def relative_gap(objective: float, bound: float) -> float:
    """(objective - bound) over the objective's size, never negative; up to PROVED_GAP it is 0."""
    gap = max(0.0, objective - bound) / max(abs(objective), 0.01)
    return 0.0 if gap <= PROVED_GAP else gap


def most_saved_usd(problem: LoopProblem, found: LoopOutcome) -> Floats:
    """At most how much less the best plan without a group of works could cost than the plan found, for each
    of the G groups [G, USD].

    Without the group its rows are gone, and the duals of the others still prove the dual bound less what they
    gave for the group: objective - dual bound + need x duals of its works. inf where the search ended before
    it had duals. ValueError where no plan was found.
    """
    if found.objective is None:
        raise ValueError("no plan was found")
    given = np.bincount(problem.group, found.work_duals * problem.need, problem.missed_usd.size)
    return np.maximum(0.0, found.objective - found.dual_bound + given)
