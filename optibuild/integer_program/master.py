"""The integer program over the loops at hand, in PuLP; and its relaxation, kept warm in HiGHS for the duals.

Both hold the same rows and columns (a test compares them). Rows are named after what they protect:
cover_T, owned_I, available_I, budget, loops, worth.
"""

import os
from dataclasses import dataclass
from functools import cache
from typing import Any

import highspy
import numpy as np
import pulp

from optibuild.integer_program.columns import Column
from optibuild.integer_program.cuts import Cut, coefficient
from optibuild.integer_program.envelopes import Duals
from optibuild.integer_program.problem import Floats, LoopProblem


@dataclass(frozen=True)
class Row:
    """A named row: `low` <= sum <= `high`."""

    name: str
    low: float
    high: float


@dataclass(frozen=True)
class Variable:
    """A named variable with its cost, bounds and entries by row name."""

    name: str
    cost: float
    high: float
    entries: tuple[tuple[str, float], ...]
    whole: bool = True


def rows(problem: LoopProblem, cuts: tuple[Cut, ...] = ()) -> list[Row]:
    """Every row of the program, in order; subset-row cuts last."""
    inf = float("inf")
    made = [Row(f"cover_{t}", float(need), inf) for t, need in enumerate(problem.need)]
    made += [Row(f"owned_{i}", -inf, 0.0) for i in np.flatnonzero(problem.held)]
    made += [Row(f"available_{i}", -inf, float(problem.available[i])) for i in np.flatnonzero(problem.scarce)]
    if np.isfinite(problem.budget_usd):
        made.append(Row("budget", -inf, problem.budget_usd))
    if np.isfinite(problem.most_loops):
        made.append(Row("loops", -inf, problem.most_loops))
    if np.isfinite(problem.most_missed_worth):
        made.append(Row("worth", -inf, problem.most_missed_worth))
    return made + [Row(f"cut_{k}", -inf, 1.0) for k in range(len(cuts))]


def fixed_variables(problem: LoopProblem) -> list[Variable]:
    """Variables that are there from the start: sites missed, items bought and owned ones used."""
    made = []
    for g in np.flatnonzero(np.isfinite(problem.missed_usd)):
        entries = [(f"cover_{t}", float(problem.need[t])) for t in np.flatnonzero(problem.group == g)]
        if np.isfinite(problem.most_missed_worth):
            entries.append(("worth", float(problem.worth[g])))
        made.append(Variable(f"missed_{g}", float(problem.missed_usd[g]), 1.0, tuple(entries)))
    for i in np.flatnonzero(problem.held):
        bought = [(f"owned_{i}", -1.0)]
        if np.isfinite(problem.budget_usd):
            bought.append(("budget", float(problem.price_usd[i])))
        made.append(Variable(f"bought_{i}", float(problem.annual_usd[i]), float(problem.available[i]),
                             tuple(bought)))
        made.append(Variable(f"owned_used_{i}", float(problem.upkeep_usd[i]), float(problem.owned[i]),
                             ((f"owned_{i}", -1.0),)))
    return made


def loop_variable(problem: LoopProblem, number: int, one: Column, cuts: tuple[Cut, ...] = ()) -> Variable:
    """A loop as a variable: how many trucks run it."""
    entries = [(f"cover_{t}", amount) for t, amount in one.covers]
    units = problem.uses[one.build]
    entries += [(f"owned_{i}", float(units[i])) for i in np.flatnonzero(problem.held & (units > 0))]
    entries += [(f"available_{i}", float(units[i])) for i in np.flatnonzero(problem.scarce & (units > 0))]
    if np.isfinite(problem.budget_usd) and one.price_usd:
        entries.append(("budget", one.price_usd))
    if np.isfinite(problem.most_loops):
        entries.append(("loops", 1.0))
    entries += [(f"cut_{k}", count) for k, cut in enumerate(cuts) if (count := coefficient(cut, one.covers))]
    return Variable(f"use_{number}", one.cost_usd, float("inf"), tuple(entries))


class Relaxation:
    """The linear relaxation in HiGHS with a warm basis. Works not covered pay `penalty` each."""

    def __init__(self, problem: LoopProblem, penalty: float) -> None:
        self.problem = problem
        self.rows = rows(problem)
        self.row_of = {row.name: k for k, row in enumerate(self.rows)}
        self.columns: list[Column] = []
        self.keys: set[Any] = set()
        self.costs: list[float] = []
        self.penalty = penalty
        self.weight = 1.0
        self.cuts: tuple[Cut, ...] = ()
        self.highs = quiet_highs()
        for row in self.rows:
            self.highs.addRow(row.low, row.high, 0, [], [])
        self.fixed = fixed_variables(problem)
        for variable in self.fixed:
            self._add(variable)
        self.first_gap = len(self.costs)
        for t in range(problem.need.size):
            self._add(Variable(f"uncovered_{t}", penalty, float("inf"), ((f"cover_{t}", 1.0),)))
        self.first_loop = len(self.costs)

    def _add(self, variable: Variable) -> None:
        index = np.array([self.row_of[name] for name, _ in variable.entries], np.int32)
        entries = np.array([value for _, value in variable.entries])
        cost = self.weight * variable.cost
        self.highs.addCol(cost, 0.0, min(variable.high, highspy.kHighsInf), index.size, index, entries)
        self.costs.append(variable.cost)

    def add(self, found: list[Column]) -> int:
        """Take in columns not yet there; returns how many were new."""
        new = 0
        for one in found:
            if one.key not in self.keys:
                self.keys.add(one.key)
                self._add(loop_variable(self.problem, len(self.columns), one, self.cuts))
                self.columns.append(one)
                new += 1
        return new

    def cut(self, found: list[Cut]) -> None:
        """Take in subset-row cuts."""
        for cut in found:
            name = f"cut_{len(self.cuts)}"
            self.row_of[name] = len(self.rows)
            self.rows.append(Row(name, -float("inf"), 1.0))
            counts = [(self.first_loop + k, coefficient(cut, one.covers)) for k, one in enumerate(self.columns)]
            counted = [(k, count) for k, count in counts if count]
            self.highs.addRow(-highspy.kHighsInf, 1.0, len(counted), np.array([k for k, _ in counted], np.int32),
                              np.array([count for _, count in counted]))
            self.cuts = (*self.cuts, cut)

    def weigh(self, weight: float) -> None:
        """Scale money: 1 for cost, 0 to ask only whether everything can be covered at all."""
        self.weight = weight
        for k, cost in enumerate(self.costs):
            uncovered = self.first_gap <= k < self.first_loop
            self.highs.changeColCost(k, (self.penalty if weight else 1.0) if uncovered else weight * cost)

    def forbid(self, bad: list[Column]) -> None:
        """Take columns out of the relaxation."""
        for one in bad:
            self.highs.changeColBounds(self.first_loop + self.columns.index(one), 0.0, 0.0)

    def raise_penalty(self, penalty: float) -> None:
        """Make leaving a work uncovered dearer."""
        self.penalty = penalty
        self.costs[self.first_gap:self.first_loop] = [penalty] * (self.first_loop - self.first_gap)
        self.weigh(self.weight)

    def solve(self) -> None:
        """Solve from the last basis."""
        self.highs.run()
        status = self.highs.getModelStatus()
        if status != highspy.HighsModelStatus.kOptimal:
            raise RuntimeError(f"the relaxation ended with {status}")
        solution = self.highs.getSolution()
        self.values = np.array(solution.col_value)
        self.row_duals = np.array(solution.row_dual)

    @property
    def uncovered(self) -> float:
        """How much work the solution leaves uncovered."""
        return float(self.values[self.first_gap:self.first_loop].sum())

    def loops_used(self) -> list[tuple[Column, float]]:
        """Columns with a positive value."""
        values = self.values[self.first_loop:]
        return [(self.columns[k], float(values[k])) for k in np.flatnonzero(values > 1e-9)]

    def duals(self) -> Duals:
        """Row duals with the signs that make every reduced cost a bound (rounding noise cut off)."""
        dual = np.where([np.isfinite(row.low) for row in self.rows],
                        np.maximum(self.row_duals, 0.0), np.minimum(self.row_duals, 0.0))
        items = np.zeros(self.problem.price_usd.size)
        for i in np.flatnonzero(self.problem.held):
            items[i] = dual[self.row_of[f"owned_{i}"]]
        for i in np.flatnonzero(self.problem.scarce):
            items[i] = dual[self.row_of[f"available_{i}"]]
        one = {name: float(dual[self.row_of[name]]) if name in self.row_of else 0.0
               for name in ("budget", "loops", "worth")}
        self.worth_dual = one["worth"]
        cuts = dual[len(dual) - len(self.cuts):]
        return Duals(dual[: self.problem.need.size], items, one["budget"], one["loops"], self.weight, self.cuts, cuts)

    def dual_bound(self, duals: Duals) -> float:
        """What the duals prove, given that no loop has a negative reduced cost: b'y plus what bounded
        variables can still gain. Computed afresh from the duals, so solver tolerances do not enter."""
        dual = {row.name: 0.0 for row in self.rows}
        dual |= {f"cover_{t}": float(y) for t, y in enumerate(duals.works)}
        for i, y in enumerate(duals.items):
            for name in (f"owned_{i}", f"available_{i}"):
                if name in dual:
                    dual[name] = float(y)
        dual |= {f"cut_{k}": float(y) for k, y in enumerate(duals.cut_duals)}
        for name, y in (("budget", duals.budget), ("loops", duals.loops), ("worth", self.worth_dual)):
            if name in dual:
                dual[name] = y
        total = sum(dual[row.name] * (row.low if np.isfinite(row.low) else row.high)
                    for row in self.rows if dual[row.name])
        for variable in self.fixed:
            reduced = self.weight * variable.cost - sum(dual[name] * v for name, v in variable.entries)
            if reduced < 0:
                total += reduced * variable.high if np.isfinite(variable.high) else (
                    0.0 if reduced > -1e-6 * max(1.0, variable.cost) else -np.inf)
        return float(total)


@cache
def silence_banner() -> None:
    """Let the first HiGHS of the process print its banner to nowhere.

    It prints two lines on the process's standard output, below Python and whatever its options say.
    """
    try:
        kept = os.dup(1)
    except OSError:  # no standard output, so nothing to spoil
        return
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 1)
        highspy.Highs()
    finally:
        os.dup2(kept, 1)
        os.close(kept)
        os.close(nowhere)


def quiet_highs() -> highspy.Highs:
    """A HiGHS that prints nothing and runs on one thread (repeatable)."""
    silence_banner()
    highs = highspy.Highs()
    highs.setOptionValue("output_flag", False)
    highs.setOptionValue("threads", 1)
    return highs


@dataclass(frozen=True)
class Chosen:
    """The integer program's answer over the loops at hand."""

    times: tuple[tuple[Column, int], ...]
    missed: tuple[int, ...]
    bought: Floats
    owned_used: Floats
    objective: float
    bound: float


class _Solver(pulp.HiGHS):  # type: ignore[misc]
    """HiGHS through PuLP (3.3 and 4 alike): one thread, quiet, with the outcome read from HiGHS itself."""

    def createAndConfigureSolver(self, lp: Any) -> None:  # noqa: N802 (PuLP's name)
        silence_banner()
        super().createAndConfigureSolver(lp)

    def callSolver(self, lp: Any) -> None:  # noqa: N802 (PuLP's name)
        lp.solverModel.setOptionValue("output_flag", False)
        lp.solverModel.setOptionValue("threads", 1)
        lp.solverModel.run()


def integer_program(
    problem: LoopProblem, columns: list[Column], cuts: tuple[Cut, ...] = ()
) -> tuple[pulp.LpProblem, dict[str, Any]]:
    """The program over these loops, with its variables by name."""
    program = pulp.LpProblem("loops", pulp.LpMinimize)
    variables: dict[str, Any] = {}
    terms: dict[str, list[Any]] = {row.name: [] for row in rows(problem, cuts)}
    cost = []
    loops = [loop_variable(problem, k, one, cuts) for k, one in enumerate(columns)]
    for variable in [*fixed_variables(problem), *loops]:
        high = None if np.isinf(variable.high) else variable.high
        made = program.add_variable(variable.name, lowBound=0, upBound=high, cat=pulp.LpInteger)
        variables[variable.name] = made
        cost.append(variable.cost * made)
        for name, value in variable.entries:
            terms[name].append(value * made)
    program += pulp.lpSum(cost)
    for row in rows(problem, cuts):
        total = pulp.lpSum(terms[row.name])
        program += (total >= row.low if np.isfinite(row.low) else total <= row.high), row.name
    return program, variables


def choose(
    problem: LoopProblem, columns: list[Column], cuts: tuple[Cut, ...], seconds: float
) -> tuple[Chosen | None, float]:
    """Solve the program over these loops: the best choice found, and the proven bound of this restricted
    program (inf where it has no solution)."""
    program, variables = integer_program(problem, columns, cuts)
    program.solve(_Solver(msg=False, timeLimit=max(0.1, seconds), gapRel=0.0, gapAbs=1e-7,
                          random_seed=problem.seed))
    model = program.solverModel
    status, info = model.getModelStatus(), model.getInfo()
    if status in (highspy.HighsModelStatus.kInfeasible, highspy.HighsModelStatus.kUnboundedOrInfeasible):
        return None, np.inf
    found = info.primal_solution_status == highspy.SolutionStatus.kSolutionStatusFeasible
    bound = info.mip_dual_bound if np.isfinite(info.mip_dual_bound) else -np.inf
    if not found:
        return None, float(bound)
    return read(problem, columns, variables), float(bound)


def read(problem: LoopProblem, columns: list[Column], variables: dict[str, Any]) -> Chosen:
    """Round the solver's integers and recompute the money exactly from them."""
    def count(name: str) -> int:
        return round(variables[name].varValue or 0.0)

    times = tuple((one, n) for k, one in enumerate(columns) if (n := count(f"use_{k}")))
    missed = tuple(int(g) for g in np.flatnonzero(np.isfinite(problem.missed_usd)) if count(f"missed_{g}"))
    return tally(problem, times, missed)


def tally(problem: LoopProblem, times: tuple[tuple[Column, int], ...], missed: tuple[int, ...]) -> Chosen:
    """The items and the objective that follow from the loops run and the groups missed."""
    used = np.zeros(problem.price_usd.size)
    for one, n in times:
        used += n * problem.uses[one.build]
    owned_used = np.minimum(used, problem.owned)
    bought = used - owned_used
    objective = (
        sum(n * one.cost_usd for one, n in times)
        + float(np.where(problem.held, bought * problem.annual_usd, 0.0).sum())
        + float((owned_used * problem.upkeep_usd).sum())
        + float(sum(problem.missed_usd[g] for g in missed))
    )
    return Chosen(times, missed, bought, owned_used, objective, -np.inf)


def program_text(problem: LoopProblem, columns: list[Column], legend: dict[str, str], path: str) -> None:
    """Write the program as LP text, with the legend (generated name to the user's words) as comments."""
    program, _ = integer_program(problem, columns)
    program.writeLP(path)
    with open(path) as file:
        body = file.read()
    with open(path, "w") as file:
        file.writelines(f"\\ {name}: {words}\n" for name, words in legend.items())
        file.write(body)
