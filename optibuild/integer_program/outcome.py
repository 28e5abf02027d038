"""What a solve returns: two separate facts about the plan, its loops, and the duals for explanations."""

from dataclasses import dataclass
from typing import Literal

from optibuild.integer_program.columns import Column
from optibuild.integer_program.problem import Floats

Proof = Literal["proved best", "within the asked gap", "best found", "none"]
Stopped = Literal["proved", "gap reached", "time limit", "interrupted", "no plan exists"]

PROVED_GAP = 1e-6
"""A relative gap up to this is called proved best and reported as 0."""


@dataclass(frozen=True)
class LoopOutcome:
    """The best loops found and what is proved of them.

    `proof` says what is known of the plan, `stopped` why the search ended. `loops` with how many trucks run
    each; `missed` groups; `bought`, `owned_used` [I]. `objective` and `bound` in USD, `gap` relative.
    `work_duals` [T] and `item_duals` [I] (lifted to a year's cost and the budget's price of the item where
    nobody owns it) come from the relaxation. `columns` is how many loops were generated.
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
    columns: int
    seconds: float


def relative_gap(objective: float, bound: float) -> float:
    """(objective - bound) over the objective's size, never negative; up to PROVED_GAP it is 0."""
    gap = max(0.0, objective - bound) / max(abs(objective), 0.01)
    return 0.0 if gap <= PROVED_GAP else gap
