"""The linear relaxation over the loops generated so far, kept warm in HiGHS, and what its duals prove.

It holds the same rows and columns as the integer program in PuLP (a test compares them), and slack at a
penalty for each work and each count that a branch fixes (`uncovered`), so that it always has a solution: what
the loops generated so far cannot do, others may.
"""

from collections.abc import Callable
from typing import Any

import highspy
import numpy as np

from optibuild.integer_program.columns import Column
from optibuild.integer_program.cuts import Cut, coefficient
from optibuild.integer_program.master import (
    Count,
    Extras,
    Row,
    Variable,
    fixed_variables,
    loop_variable,
    quiet_highs,
    rows,
)
from optibuild.integer_program.pricer import Duals
from optibuild.integer_program.problem import Floats, LoopProblem

COUNTED, STIFFER = 0.4, 4.0
"""Slack of a count costs this share of that of a work at first, about as much as a loop, for a branch that is
too dear is told so the sooner the less the duals change; and so many times more where that does not tell."""
Fixed = tuple[tuple[int, float, float], ...]
"""Counts that a branch fixes: (number of the count, low, high)."""


class Relaxation:
    """The relaxation of a problem. `weigh` scales money, `cut` and `count` add rows, `fix` sets a branch."""

    def __init__(self, problem: LoopProblem, penalty: float) -> None:
        self.problem = problem
        self.columns: list[Column] = []
        self.number: dict[Any, int] = {}
        self.extras = Extras()
        self.costs: list[float] = []
        self.penalty = penalty
        self.weight = 1.0
        self.counted = COUNTED
        self.highs = quiet_highs()
        self.rows: list[Row] = []
        self.row_of: dict[str, int] = {}
        for row in rows(problem):
            self._add_row(row, [])
        self.fixed = fixed_variables(problem)
        for variable in self.fixed:
            self._add(variable)
        self.loop_at: list[int] = []
        self.slack_at = [self._add(Variable(f"uncovered_{t}", penalty, float("inf"), ((f"cover_{t}", 1.0),)))
                         for t in range(problem.need.size)]

    def _add(self, variable: Variable) -> int:
        """A variable, and its number."""
        index = np.array([self.row_of[name] for name, _ in variable.entries], np.int32)
        entries = np.array([value for _, value in variable.entries])
        self.highs.addCol(self.weight * variable.cost, 0.0, min(variable.high, highspy.kHighsInf),
                          index.size, index, entries)
        self.costs.append(variable.cost)
        return len(self.costs) - 1

    def _add_row(self, row: Row, entries: list[tuple[int, float]]) -> None:
        self.row_of[row.name] = len(self.rows)
        self.rows.append(row)
        self.highs.addRow(row.low, row.high, len(entries), np.array([k for k, _ in entries], np.int32),
                          np.array([value for _, value in entries]))

    def add(self, found: list[Column]) -> int:
        """Take in columns not yet there; returns how many were new."""
        new = [one for one in found if one.key not in self.number]
        for one in new:
            self.number[one.key] = len(self.columns)
            self.loop_at.append(self._add(loop_variable(self.problem, len(self.columns), one, self.extras)))
            self.columns.append(one)
        return len(new)

    def _extend(self, row: Row, part: Callable[[Column], float]) -> None:
        """A further row over the columns there are, each with its part."""
        parts = [(self.loop_at[k], part(one)) for k, one in enumerate(self.columns)]
        self._add_row(row, [entry for entry in parts if entry[1]])

    def cut(self, found: list[Cut]) -> None:
        """Take in subset-row cuts."""
        for cut in found:
            self.extras = Extras((*self.extras.cuts, cut), self.extras.counts)
            self._extend(Row(f"cut_{len(self.extras.cuts) - 1}", -float("inf"), 1.0),
                         lambda one, cut=cut: coefficient(cut, one.covers))  # type: ignore[misc]

    def count(self, weight: Floats) -> int:
        """The number of the count with this `weight` [B], taken in (free) if it is new."""
        for k, one in enumerate(self.extras.counts):
            if np.array_equal(one.weight, weight):
                return k
        free = Count(weight, -float("inf"), float("inf"))
        self.extras = Extras(self.extras.cuts, (*self.extras.counts, free))
        k = len(self.extras.counts) - 1
        self._extend(Row(f"count_{k}", free.low, free.high), lambda one: float(weight[one.build]))
        for name, part in (("short", 1.0), ("over", -1.0)):
            self.slack_at.append(self._add(Variable(
                f"{name}_{k}", self.counted * self.penalty, float("inf"), ((f"count_{k}", part),))))
        return k

    def fix(self, fixed: Fixed) -> None:
        """Set the bounds of every count: those of a branch, all others free."""
        self.counted = COUNTED
        self.weigh(self.weight)
        bounds = {k: (-float("inf"), float("inf")) for k in range(len(self.extras.counts))}
        for k, low, high in fixed:
            bounds[k] = max(bounds[k][0], low), min(bounds[k][1], high)
        self.extras = Extras(self.extras.cuts, tuple(
            Count(one.weight, *bounds[k]) for k, one in enumerate(self.extras.counts)))
        for k, (low, high) in bounds.items():
            row = self.row_of[f"count_{k}"]
            self.rows[row] = Row(f"count_{k}", low, high)
            self.highs.changeRowBounds(row, low, high)

    def forbid(self, bad: list[Column]) -> None:
        """Take columns out of the relaxation, those of them that are in it."""
        for one in bad:
            if one.key in self.number:
                self.highs.changeColBounds(self.loop_at[self.number[one.key]], 0.0, 0.0)

    def run_at_least(self, times: dict[int, int]) -> None:
        """Run columns, by number, at least so often."""
        for k, low in times.items():
            self.highs.changeColBounds(self.loop_at[k], float(low), highspy.kHighsInf)

    def weigh(self, weight: float) -> None:
        """Scale money: 1 for cost, 0 to ask only whether everything can be covered at all."""
        self.weight = weight
        for k, cost in enumerate(self.costs):
            self.highs.changeColCost(k, weight * cost)
        for n, k in enumerate(self.slack_at):
            share = 1.0 if n < self.problem.need.size else self.counted
            self.highs.changeColCost(k, share * self.penalty if weight else 1.0)

    def raise_penalty(self, penalty: float) -> None:
        """Make slack dearer."""
        self.penalty = penalty
        self.weigh(self.weight)

    def stiffen(self) -> bool:
        """Make slack of counts dearer, up to that of works; whether some is in use that it may drive out."""
        if self.counted >= 1.0 or float(self.values[self.slack_at[self.problem.need.size:]].sum()) <= 1e-7:
            return False
        self.counted = min(1.0, STIFFER * self.counted)
        self.weigh(self.weight)
        return True

    def limit_worth(self, most: Floats) -> None:
        """Let no work be worth more than `most` [T]."""
        for k, usd in zip(self.slack_at, most.tolist(), strict=False):
            self.highs.changeColCost(k, usd)

    def solve(self) -> None:
        """Solve from the last basis. RuntimeError where the solver finds no optimum."""
        self.highs.run()
        status = self.highs.getModelStatus()
        if status != highspy.HighsModelStatus.kOptimal:
            raise RuntimeError(f"the relaxation ended with {status}")
        solution = self.highs.getSolution()
        self.values = np.array(solution.col_value)
        self.row_duals = np.array(solution.row_dual)
        self.reduced = np.array(solution.col_dual)

    @property
    def uncovered(self) -> float:
        """How much the solution leaves undone of what works and counts ask."""
        return float(self.values[self.slack_at].sum())

    def loops_used(self) -> list[tuple[Column, float]]:
        """Columns with a positive value in the last solution."""
        values = self.values[[at for at in self.loop_at if at < self.values.size]]
        return [(self.columns[k], float(values[k])) for k in np.flatnonzero(values > 1e-9)]

    def best_orders(self, most: int) -> list[tuple[int, ...]]:
        """The orders of stops of the loops of least reduced cost and those added since, at most so many."""
        solved = np.array(self.loop_at)
        there = np.minimum(solved, self.reduced.size - 1)
        reduced = np.where(solved == there, self.reduced[there], -np.inf)
        orders: dict[tuple[int, ...], None] = {}
        for k in np.argsort(reduced, kind="stable"):
            orders[self.columns[k].stops] = None
            if len(orders) == most:
                break
        return list(orders)

    def dual(self, name: str) -> float:
        """What a row is worth [USD], with the sign that makes it a bound."""
        k = self.row_of[name]
        y = float(self.row_duals[k])
        return 0.0 if np.isinf(self.rows[k].low if y > 0 else self.rows[k].high) else y

    def duals(self, shrink: float = 0.0, less: Floats | None = None) -> Duals:
        """Row duals with the signs that make every reduced cost a bound (rounding noise cut off), those of
        the works less by a share `shrink` and then by `less` [T]."""
        problem, dual = self.problem, {row.name: self.dual(row.name) for row in self.rows}
        for t in range(problem.need.size):
            lowered = dual[f"cover_{t}"] * (1.0 - shrink) - (0.0 if less is None else less[t])
            dual[f"cover_{t}"] = max(0.0, lowered)
        own = self.weight * problem.own_cost_usd - dual.get("loops", 0.0)
        own = own - dual.get("budget", 0.0) * problem.own_price_usd
        items = np.zeros(problem.price_usd.size)
        for kind, mask in (("owned", problem.held), ("available", problem.scarce)):
            for i in np.flatnonzero(mask):
                items[i] = dual[f"{kind}_{i}"]
        own = own - problem.uses @ items
        for k, count in enumerate(self.extras.counts):
            own = own - dual[f"count_{k}"] * count.weight
        cuts = np.array([dual[f"cut_{k}"] for k in range(len(self.extras.cuts))])
        works = np.array([dual[f"cover_{t}"] for t in range(problem.need.size)])
        return Duals(works, problem.amount @ works, own, self.extras.cuts, cuts, items,
                     dual.get("budget", 0.0), self.weight, self._bound(dual))

    def _bound(self, dual: dict[str, float]) -> float:
        """What the duals prove, given that no loop has a negative reduced cost: b'y plus what bounded
        variables can still gain. Computed afresh from the duals, so solver tolerances do not enter."""
        total = sum(y * (row.low if y > 0 else row.high) for row in self.rows if (y := dual[row.name]))
        for variable in self.fixed:
            reduced = self.weight * variable.cost - sum(dual[name] * v for name, v in variable.entries)
            if reduced < 0:
                total += reduced * variable.high if np.isfinite(variable.high) else (
                    0.0 if reduced > -1e-6 * max(1.0, variable.cost) else -np.inf)
        return float(total)
