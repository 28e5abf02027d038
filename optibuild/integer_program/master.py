"""The integer program over the loops at hand: rows, variables, and its solution through PuLP with HiGHS.

Rows are named after what they protect: cover_T, owned_I, available_I, budget, loops, worth; and what
strengthens them: cut_K, count_K.
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
from optibuild.integer_program.problem import Floats, LoopProblem

COSTLY = ("mip_allow_restart", "mip_heuristic_run_root_reduced_cost")
"""Ways of HiGHS that take most of a short time here and bring little."""


@dataclass(frozen=True)
class Row:
    """A named row: `low` <= sum <= `high`."""

    name: str
    low: float
    high: float


@dataclass(frozen=True)
class Variable:
    """A named variable with its cost, its bounds 0 and `high`, and its entries by row name."""

    name: str
    cost: float
    high: float
    entries: tuple[tuple[str, float], ...]


@dataclass(frozen=True)
class Count:
    """A total over the loops run that is whole in every plan, from `low` to `high`: `weight` [B] of each
    build's loops."""

    weight: Floats
    low: float
    high: float


@dataclass(frozen=True)
class Extras:
    """Rows beside the problem's own: cuts that every plan keeps, counts that a branch of the search fixes."""

    cuts: tuple[Cut, ...] = ()
    counts: tuple[Count, ...] = ()


def rows(problem: LoopProblem, extras: Extras = Extras()) -> list[Row]:
    """Every row of the program, in order."""
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
    made += [Row(f"cut_{k}", -inf, 1.0) for k in range(len(extras.cuts))]
    return made + [Row(f"count_{k}", count.low, count.high) for k, count in enumerate(extras.counts)]


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


def loop_variable(problem: LoopProblem, number: int, one: Column, extras: Extras = Extras()) -> Variable:
    """A loop as a variable: how many trucks run it."""
    entries = [(f"cover_{t}", amount) for t, amount in one.covers]
    units = problem.uses[one.build]
    entries += [(f"owned_{i}", float(units[i])) for i in np.flatnonzero(problem.held & (units > 0))]
    entries += [(f"available_{i}", float(units[i])) for i in np.flatnonzero(problem.scarce & (units > 0))]
    if np.isfinite(problem.budget_usd) and one.price_usd:
        entries.append(("budget", one.price_usd))
    if np.isfinite(problem.most_loops):
        entries.append(("loops", 1.0))
    entries += [(f"cut_{k}", part) for k, cut in enumerate(extras.cuts)
                if (part := coefficient(cut, one.covers))]
    entries += [(f"count_{k}", part) for k, count in enumerate(extras.counts)
                if (part := float(count.weight[one.build]))]
    return Variable(f"use_{number}", one.cost_usd, float("inf"), tuple(entries))


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
    """A HiGHS that prints nothing and runs on one thread (repeatable).

    The scheduler is shared by the process; where someone else ran it on more threads, ours would not start.
    """
    silence_banner()
    highspy.Highs.resetGlobalScheduler(True)
    highs = highspy.Highs()
    highs.setOptionValue("output_flag", False)
    highs.setOptionValue("threads", 1)
    return highs


@dataclass(frozen=True)
class Chosen:
    """The integer program's answer over the loops at hand: how many of each, works missed, items `bought` and
    `owned_used` [I], and the `objective` [USD]."""

    times: tuple[tuple[Column, int], ...]
    missed: tuple[int, ...]
    bought: Floats
    owned_used: Floats
    objective: float


class _Solver(pulp.HiGHS):
    """HiGHS through PuLP (3.3 and 4 alike): one thread, quiet, the outcome is read from HiGHS itself.

    No plan is given to begin from: HiGHS 1.16 then reported wrong optima on our programs.
    """

    def createAndConfigureSolver(self, lp: Any) -> None:
        silence_banner()
        highspy.Highs.resetGlobalScheduler(True)
        super().createAndConfigureSolver(lp)

    def callSolver(self, lp: Any) -> None:
        lp.solverModel.setOptionValue("output_flag", False)
        lp.solverModel.setOptionValue("threads", 1)
        for costly in COSTLY:
            lp.solverModel.setOptionValue(costly, False)
        lp.solverModel.run()


def integer_program(
    problem: LoopProblem, columns: list[Column], extras: Extras = Extras()
) -> tuple[pulp.LpProblem, dict[str, Any]]:
    """The program over these loops, with its variables by name."""
    program = pulp.LpProblem("loops", pulp.LpMinimize)
    variables: dict[str, Any] = {}
    terms: dict[str, list[Any]] = {row.name: [] for row in rows(problem, extras)}
    cost = []
    loops = [loop_variable(problem, k, one, extras) for k, one in enumerate(columns)]
    for variable in [*fixed_variables(problem), *loops]:
        high = None if np.isinf(variable.high) else variable.high
        made = program.add_variable(variable.name, lowBound=0, upBound=high, cat=pulp.LpInteger)
        variables[variable.name] = made
        cost.append(variable.cost * made)
        for name, value in variable.entries:
            terms[name].append(value * made)
    program += pulp.lpSum(cost)
    for row in rows(problem, extras):
        total = pulp.lpSum(terms[row.name])
        if np.isfinite(row.low):
            program += total >= row.low, row.name
        if np.isfinite(row.high):
            program += total <= row.high, f"{row.name}_most" if np.isfinite(row.low) else row.name
    return program, variables


def choose(
    problem: LoopProblem, columns: list[Column], extras: Extras, seconds: float, gap: float = 0.0
) -> tuple[Chosen | None, float]:
    """Solve the program over these loops, to a relative gap: the best choice found, and the proven bound of
    this restricted program (inf where it has no solution).

    The solver's word is checked: where its objective is not that of its own integers, or it calls optimal
    what its bound does not reach, the program is solved again without presolve.
    """
    best, bound = None, -np.inf
    for presolve in ("choose", "off"):
        program, variables = integer_program(problem, columns, extras)
        program.solve(_Solver(msg=False, timeLimit=max(0.1, seconds), gapRel=gap, gapAbs=1e-7,
                              random_seed=problem.seed, presolve=presolve))
        found, bound, agrees = _outcome(problem, columns, variables, program.solverModel, gap)
        if found and (best is None or found.objective < best.objective):
            best = found
        if agrees:
            return best, bound
    return best, bound


def _outcome(
    problem: LoopProblem, columns: list[Column], variables: dict[str, Any], model: highspy.Highs, gap: float
) -> tuple[Chosen | None, float, bool]:
    """What HiGHS found, its bound, and whether its figures agree with each other."""
    status, info = model.getModelStatus(), model.getInfo()
    if status in (highspy.HighsModelStatus.kInfeasible, highspy.HighsModelStatus.kUnboundedOrInfeasible):
        return None, np.inf, True
    bound = float(info.mip_dual_bound) if np.isfinite(info.mip_dual_bound) else -np.inf
    if info.primal_solution_status != highspy.SolutionStatus.kSolutionStatusFeasible:
        return None, bound, True
    found = read(problem, columns, variables)
    slack = 1e-6 * max(1.0, abs(found.objective))
    if abs(found.objective - info.objective_function_value) > slack:
        return found, -np.inf, False
    short = status == highspy.HighsModelStatus.kOptimal and bound < found.objective * (1.0 - gap) - slack
    return found, bound, not short


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
    return Chosen(times, missed, bought, owned_used, objective)


def program_text(problem: LoopProblem, columns: list[Column], legend: dict[str, str], path: str) -> None:
    """Write the program as text: MPS where the path ends in .mps, else LP. The legend (generated name to the
    user's words) goes before it as comments."""
    program, _ = integer_program(problem, columns)
    write, mark = (program.writeMPS, "*") if path.lower().endswith(".mps") else (program.writeLP, "\\")
    write(path)
    with open(path, encoding="utf-8") as file:
        body = file.read()
    with open(path, "w", encoding="utf-8") as file:
        file.writelines(f"{mark} {name}: {words}\n" for name, words in legend.items())
        file.write(body)
